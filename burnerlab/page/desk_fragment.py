"""What every piece of the desk's answer is: an element with an address in the page, whose figures may change.

A fragment is a view model: texts in the reader's units and verdicts, no calculation left. Its template turns it into
one HTML element of the same id; each of its figures is an element in it with an id of its own, so that a page can mark
what changed without reading HTML.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Protocol

from burnerlab.page.result_text import minus
from burnerlab.report.sheet.wording import clean
from burnerlab.tables.phrase import applied
from burnerlab.tables.verdict import Verdict

if TYPE_CHECKING:
    from burnerlab.appliance.conversion.result import Conversion
    from burnerlab.appliance.conversion.target import ConversionTarget
    from burnerlab.appliance.project.model import Appliance

MARKS: dict[Verdict, str] = {
    Verdict.WITHIN: "ring",
    Verdict.NEAR: "half",
    Verdict.OUTSIDE: "triangle",
    Verdict.NOT_EVALUATED: "bar",
}
"""The shape that stands beside each word: open ring, half ring, triangle, dash. None is told by colour."""
MOST_NAME = 40  # characters of a market in a sentence


class DeskMarket(Protocol):
    """A market as the project file names it: where an appliance is sold, and what it then burns."""

    @property
    def letter(self) -> str:
        """A, B, C ... in the order of the file."""

    @property
    def name(self) -> str:
        """As the file gives it."""

    @property
    def appliance(self) -> Appliance:
        """Of the market's region."""

    @property
    def targets(self) -> tuple[ConversionTarget, ...]:
        """Gas, pressure and place; of several gases one orifice serves all and is sized on the first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MarketConversion:
    """The appliance on one market: a conversion for each of its gases, the one that the orifices are sized on first.

    None where the market cannot be calculated, for the reasons beside it.
    """

    letter: str
    name: str
    conversions: tuple[Conversion, ...]
    problems: tuple[str, ...] = ()

    @property
    def conversion(self) -> Conversion | None:
        """On the gas that the orifices are sized on; None where the market cannot be calculated."""
        return self.conversions[0] if self.conversions else None

    @property
    def by_gas(self) -> Iterator[tuple[str, Conversion]]:
        """Each gas by the letter of the market, numbered where there are several."""
        several = len(self.conversions) > 1
        for number, conversion in enumerate(self.conversions, start=1):
            yield f"{self.letter}{number if several else ''}", conversion

    @property
    def title(self) -> str:
        """Letter and name, as a sentence names a market.

        >>> MarketConversion(letter="A", name="continental", conversions=()).title
        'A (continental)'
        """
        called = clean(self.name, MOST_NAME)
        return f"{self.letter} ({called})" if called else self.letter


@dataclass(frozen=True, slots=True, kw_only=True)
class DeskFigure:
    """A text of the page with its own address; a verdict where it is a mark."""

    id: str
    text: str
    verdict: Verdict | None = None

    @property
    def shape(self) -> str:
        """Of the mark; "" where it is none."""
        return "" if self.verdict is None else MARKS[self.verdict]


def desk_figure(id: str, text: str) -> DeskFigure:
    """A figure with true minus signs, on one line.

    >>> desk_figure("orifice-1-A-deviation", "-1.3 %").text
    '−1.3 %'
    """
    return DeskFigure(id=id, text=applied(minus, clean(text)))


def desk_mark(id: str, verdict: Verdict) -> DeskFigure:
    """A verdict by its word and its shape."""
    return DeskFigure(id=id, text=verdict.value, verdict=verdict)


@dataclass(frozen=True, slots=True, kw_only=True)
class DeskPart:
    """A part of a fragment that holds figures: a row, a line, a panel."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fragment:
    """One element of the page. A kind of fragment names its template; its figures are among its fields."""

    template: ClassVar[str]

    id: str

    @property
    def figures(self) -> tuple[DeskFigure, ...]:
        """Every text of it with an address, in the order of its fields."""
        return tuple(_figures_in(self))

    @property
    def titles(self) -> tuple[str, ...]:
        """What it says of its pictures to whoever does not see them."""
        return ()


def _figures_in(value: object) -> Iterator[DeskFigure]:
    """The figures of a view model, however deep they stand."""
    if isinstance(value, DeskFigure):
        yield value
    elif isinstance(value, tuple):
        for part in value:
            yield from _figures_in(part)
    elif isinstance(value, DeskPart | Fragment):
        for name in value.__dataclass_fields__:
            part = getattr(value, name)
            if isinstance(part, DeskFigure):  # most: without a generator of its own
                yield part
            elif isinstance(part, tuple | DeskPart | Fragment):
                yield from _figures_in(part)
