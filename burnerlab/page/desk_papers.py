"""The papers of one market, made when they are opened."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, NamedTuple

from burnerlab.appliance.conversion.markets import MarketTarget
from burnerlab.appliance.project.model import Appliance
from burnerlab.appliance.study.injector_table import injectors
from burnerlab.appliance.study.plate_fields import rating_plate
from burnerlab.bench.kit_list import kit_list
from burnerlab.page.download import attachment
from burnerlab.page.form import RefusedError
from burnerlab.report.injector_paper import injector_paper
from burnerlab.report.kit_paper import kit_paper
from burnerlab.report.paper_size import paper_size
from burnerlab.report.paper_units import PaperUnits
from burnerlab.report.plate_paper import plate_paper
from burnerlab.report.study_paper import StudyPaper, paper_for, write_paper
from burnerlab.report.write import SheetFiles, SheetOptions, stem, write_sheet
from burnerlab.tables.phrase import Phrase, joined
from burnerlab.tables.problem import UserError

if TYPE_CHECKING:
    from starlette.responses import Response

    from burnerlab.appliance.conversion.result import Conversion

PAPER_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox"


@dataclass(frozen=True, slots=True)
class Paper:
    """A paper that can be opened: its words on the page, the format that makes it, and the end of its file's name."""

    words: str
    format: str
    ending: str
    media: str
    is_shown: bool = True  # in the browser; others are kept as files


PAPERS: dict[str, Paper] = {
    "card": Paper(words="job card", format="card", ending="-card.html", media="text/html; charset=utf-8"),
    "card-pdf": Paper(words="job card, PDF", format="card", ending="-card.pdf", media="application/pdf"),
    "sheet": Paper(words="sheet", format="html", ending=".html", media="text/html; charset=utf-8"),
    "sheet-pdf": Paper(words="sheet, PDF", format="pdf", ending=".pdf", media="application/pdf"),
    "workbook": Paper(
        words="workbook",
        format="xlsx",
        ending=".xlsx",
        media="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        is_shown=False,
    ),
    "plan": Paper(words="test plan", format="plan", ending="-plan.html", media="text/html; charset=utf-8"),
    "plan-pdf": Paper(words="test plan, PDF", format="plan", ending="-plan.pdf", media="application/pdf"),
    "plan-json": Paper(
        words="test plan for the bench",
        format="plan",
        ending="-plan.json",
        media="application/json",
        is_shown=False,
    ),
    "csv": Paper(
        words="table (CSV)", format="csv", ending=".csv", media="text/csv; charset=utf-8", is_shown=False
    ),
    "json": Paper(
        words="data (JSON)", format="json", ending=".json", media="application/json", is_shown=False
    ),
}
"""By the last part of their address, in the order of the page."""

WORKBOOK = PAPERS["workbook"].media


class StudyFormat(NamedTuple):
    """A format of a paper of a whole market: its words, the end of its file's name, its media type."""

    words: str
    ending: str
    media: str


STUDY_FORMATS = {
    "": StudyFormat(words="page", ending=".html", media="text/html; charset=utf-8"),
    "-pdf": StudyFormat(words="PDF", ending=".pdf", media="application/pdf"),
    "-workbook": StudyFormat(words="workbook", ending=".xlsx", media=WORKBOOK),
    "-csv": StudyFormat(words="CSV", ending=".csv", media="text/csv; charset=utf-8"),
}
"""By the end of their address."""


def _injectors(appliance: Appliance, markets: Sequence[MarketTarget], made_for: MadeFor) -> StudyPaper:
    return injector_paper(injectors(appliance, (), markets=markets), made_for.sha256, made_for.units)


def _plate(appliance: Appliance, markets: Sequence[MarketTarget], made_for: MadeFor) -> StudyPaper:
    return plate_paper(rating_plate(appliance, [one.letter for one in markets]), made_for.sha256)


def _kit(appliance: Appliance, markets: Sequence[MarketTarget], made_for: MadeFor) -> StudyPaper:
    found = kit_list(appliance, [one.letter for one in markets])
    return kit_paper(found, made_for.sha256, made_for.units)


@dataclass(frozen=True, slots=True)
class StudyKind:
    """A paper of a whole market, as the command of its name writes it."""

    words: str
    make: Callable[[Appliance, Sequence[MarketTarget], MadeFor], StudyPaper]
    has_units: bool = False  # whether it is made in units of its own, as a plate in those of its region

    def paper(self, appliance: Appliance, markets: Sequence[MarketTarget], made_for: MadeFor) -> StudyPaper:
        """In the words, the units and the language of its reader."""
        made = as_draft(self.make(appliance, markets, made_for), made_for)
        languages = {one.appliance.language: one.appliance.reader_language for one in markets}
        language = languages.popitem()[1] if len(languages) == 1 else appliance.reader_language
        regions = {one.appliance.region for one in markets}
        system = None if self.has_units else made_for.units.of(*regions)
        return paper_for(made, system, regions.pop() if len(regions) == 1 else "", language=language)


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeFor:
    """What a paper is made for: its units, the text it is of, the size of paper that the user has chosen."""

    units: PaperUnits
    sha256: str
    is_draft: bool  # whether no file has its text
    size: str = ""


def as_draft(paper: StudyPaper, made_for: MadeFor) -> StudyPaper:
    """A paper that says of a text which no file has that it is a draft; any other as it is."""
    if not made_for.is_draft:
        return paper
    draft = Phrase("draft, not saved")
    return replace(paper, subtitle=joined("; ", (draft, paper.subtitle)), notes=(draft, *paper.notes))


STUDIES: dict[str, StudyKind] = {
    "injectors": StudyKind("injector table of the manual", _injectors),
    "plate": StudyKind("rating plate fields", _plate, has_units=True),
    "kit": StudyKind("kit list", _kit),
}
"""Papers of a whole market with all its gases, by the first part of their address."""


class PaperLink(NamedTuple):
    """How a paper is opened: the last part of its address, what is read out before its words, its words."""

    kind: str
    of: str
    words: str


def gas_papers() -> Iterator[PaperLink]:
    """The papers of one gas of a market.

    >>> next(gas_papers())
    PaperLink(kind='card', of='', words='job card')
    """
    return (PaperLink(kind, "", paper.words) for kind, paper in PAPERS.items())


def study_papers(name: str) -> Iterator[PaperLink]:
    """The formats of a paper of a whole market.

    >>> [one.kind for one in study_papers("plate")]
    ['plate', 'plate-pdf', 'plate-workbook', 'plate-csv']
    """
    return (PaperLink(f"{name}{end}", STUDIES[name].words, one.words) for end, one in STUDY_FORMATS.items())


def study_of(
    appliance: Appliance, markets: Sequence[MarketTarget], kind: str, made_for: MadeFor
) -> Response | None:
    """A paper of some markets of an appliance; None for a kind that there is not."""
    name, dash, end = kind.partition("-")
    study, format_ = STUDIES.get(name), STUDY_FORMATS.get(f"{dash}{end}")
    if study is None or format_ is None:
        return None
    regions = {one.appliance.region for one in markets}
    found = study_response(lambda: study.paper(appliance, markets, made_for), format_, made_for, regions)
    own = stem(" ".join([appliance.name[:48], *(one.name[:24] for one in markets[:1]), name]))
    if len(markets) == 1 and "content-disposition" in found.headers:
        found.headers["content-disposition"] = attachment(f"{own}{format_.ending}")
    return found


def study_response(
    make: Callable[[], StudyPaper], format_: StudyFormat, made_for: MadeFor, regions: Iterable[str]
) -> Response:
    """A paper of tables in one of its formats; regions : of its markets. Raises RefusedError without any."""
    with TemporaryDirectory() as folder:
        try:
            written = write_paper(make(), folder, size=paper_size(made_for.units.of(*regions), made_for.size))
        except UserError as error:
            raise refused(error) from None
        is_inline = format_.ending in (".html", ".pdf")
        return _response(written, format_.ending, format_.media, is_inline=is_inline)


def refused(error: UserError) -> RefusedError:
    """The answer in place of a paper that cannot be made."""
    return RefusedError(422, "; ".join(problem.text() for problem in error.problems))


def paper_of(conversion: Conversion, kind: str, made_for: MadeFor, market: str = "") -> Response:
    """A paper of a conversion, with market and day. Raises RefusedError for a kind that there is not."""
    paper = PAPERS.get(kind)
    if paper is None:
        every = ", ".join((*PAPERS, *(f"{name}{end}" for name in STUDIES for end in STUDY_FORMATS)))
        raise RefusedError(404, f"There is no such paper. There are: {every}.")
    options = SheetOptions(
        system=made_for.units.of(conversion.region),
        paper=made_for.size,
        market=market,
        date=date.today().isoformat(),
        is_draft=made_for.is_draft,
    )
    with TemporaryDirectory() as folder:
        try:
            written = write_sheet(conversion, folder, [paper.format], options)
        except UserError as error:
            raise refused(error) from None
        return _response(written, paper.ending, paper.media, is_inline=paper.is_shown)


def _response(written: SheetFiles, ending: str, media: str, *, is_inline: bool) -> Response:
    """One of the files written: in the browser, or kept as a file."""
    from starlette.responses import Response

    path = next((Path(one) for one in written.files if str(one).endswith(ending)), None)
    if path is None:
        raise RefusedError(503, " ".join(written.missing))
    headers = {"content-security-policy": PAPER_POLICY}
    if not is_inline:
        headers["content-disposition"] = attachment(path.name)
    return Response(path.read_bytes(), media_type=media, headers=headers)
