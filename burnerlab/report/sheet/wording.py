"""The words of a sheet: cautions that no option removes, and what a user wrote made fit to print."""

from __future__ import annotations

from dataclasses import dataclass

from burnerlab.appliance.conversion.result import Conversion
from burnerlab.tables.cautions import Caution, cautions_on
from burnerlab.tables.phrase import Phrase, applied
from burnerlab.tables.verdict import Verdict

LONGEST_NAME = 80

STATEMENT = Phrase(
    "Calculated values for a qualified person to check. The appliance must be tested and accepted under the rules "
    "of the place of use before it is operated."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class CautionLabels:
    """What stands round the cautions of a paper, and over its notes."""

    in_full: str = Phrase("What to heed stands in full under Cautions, worst first.")
    in_brief: str = Phrase("Cautions in brief")
    cautions: str = Phrase("Cautions")
    notes: str = Phrase("Notes")


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLabels:
    """What stands on a sheet besides its sections."""

    kind: str = Phrase("Conversion sheet")
    verdicts: str = Phrase("Checks by verdict")
    in_brief: str = Phrase("Cautions in brief")
    cautions: str = Phrase("The other warnings stand on the job card, all cautions in full at the end.")
    open: str = Phrase("What was not evaluated needs a test.")
    explained: str = Phrase("Explained")
    handbook: str = Phrase("handbook")
    annex: str = Phrase("Annex")
    contents: str = Phrase("Contents")
    signature: str = Phrase("place to sign")
    not_drawn: str = Phrase("Not drawn: the plotting library is not installed.")
    without_pictures: str = Phrase(
        "This page was made without its pictures, the plotting library is not installed."
    )


SHEET = "sheet"


def lines_of_sheet(c: Conversion) -> tuple[Caution, ...]:
    """Those whose lines stand on page one, worst first: the first above the orifices, the others below them."""
    return cautions_on(SHEET, *c.occasions)


# printed word, and the shape that stands beside it: meaning is never carried by colour
SHAPES: dict[Verdict, str] = {
    Verdict.WITHIN: "disc",
    Verdict.NEAR: "half",
    Verdict.OUTSIDE: "triangle",
    Verdict.NOT_EVALUATED: "dash",
}


def clean(text: str, longest: int | None = None) -> str:
    """Text as it may be printed: one line, no control or direction characters, cut at ``longest``.

    >>> clean("a\\tb\\x00c\\u202ed"), clean("x" * 90, longest=5)
    ('a b?c?d', 'xxxx…')
    """
    if isinstance(text, Phrase):
        return applied(lambda part: clean(part, longest), text)
    line = text
    if not text.isprintable():
        line = "".join(c if c.isprintable() else " " if c.isspace() else "?" for c in text)
    line = " ".join(line.split())
    cut = line if longest is None or len(line) <= longest else line[: longest - 1].rstrip() + "…"
    return text if cut == text else cut  # which keeps the quantities that it quotes


def name(text: str) -> str:
    """A name a user chose, as printed: at most 80 characters."""
    return clean(text, LONGEST_NAME)
