"""The sheet: a conversion as ordered sections of printed rows. Every format renders this one model."""

from __future__ import annotations

from dataclasses import dataclass

from burnerlab.appliance.result import Conversion
from burnerlab.quantity import System
from burnerlab.report import sections
from burnerlab.report.parts import Fact, Picture, Section
from burnerlab.report.wording import STATEMENT, clean, lines_of_sheet
from burnerlab.tables.cautions import Caution
from burnerlab.tables.verdict import Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What every format shows, in order."""

    title: str
    change: str  # from which gas and pressure to which
    date: str
    statement: str
    first: Caution  # its line stands above the orifices
    headline: tuple[Fact, ...]
    verdicts: tuple[tuple[Verdict, int], ...]
    sections: tuple[Section, ...]
    footer: str

    def section(self, key: str) -> Section:
        return next(section for section in self.sections if section.key == key)

    def pictures(self) -> tuple[Picture, ...]:
        return tuple(b for section in self.sections for b in section.blocks if isinstance(b, Picture))


def build_sheet(conversion: Conversion, *, date: str = "", system: System = "metric") -> Sheet:
    """The sheet of a conversion.

    date : printed in the header as given; nothing else on the sheet depends on when it was made.
    system : whose units stand first; the headline values carry both.
    """
    counts: dict[Verdict, int] = dict.fromkeys((Verdict.OUTSIDE, Verdict.NEAR), 0)
    for finding in conversion.findings:
        if finding.verdict != Verdict.WITHIN:  # no count of what is within: it would read as a score
            counts[finding.verdict] = counts.get(finding.verdict, 0) + 1
    counts[Verdict.NOT_EVALUATED] = counts.get(Verdict.NOT_EVALUATED, 0) + len(conversion.not_evaluated)
    return Sheet(
        title=sections.title(conversion),
        change=sections.change(conversion, system),
        date=clean(date, 40),
        statement=STATEMENT,
        first=lines_of_sheet(conversion)[0],
        headline=sections.headline(conversion, system),
        verdicts=tuple(counts.items()),
        sections=sections.build(conversion, system),
        footer=f"burnerlab {conversion.version}, input {conversion.file_sha256[:12]}",
    )
