"""What a section of a sheet is made of: rows of printed figures with their units."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Any, Literal, get_args

from burnerlab.appliance.conversion.gas_facts import GasUsed
from burnerlab.appliance.conversion.result import Conversion, WorkedStep
from burnerlab.quantity import Kind, System, in_unit
from burnerlab.quantity.outputs import Column, Output, columns
from burnerlab.quantity.show import BORE_PLACES, PAPER_DIGITS, display_unit, grouped
from burnerlab.tables.cautions import Caution
from burnerlab.tables.handbook_link import handbook_of
from burnerlab.tables.phrase import Phrase, joined

# Heat inputs on the basis on which the appliance is rated, so that a rating reads as its plate does.


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """The word of the rating, and what turns a gross heat input into one on it [-]."""

    word: str  # gross or net
    present: float  # of the present gas
    new: float


def basis_of(c: Conversion) -> Basis:
    """The basis of the file's ratings."""
    if c.rating_basis != "net":
        return Basis(word=Phrase("gross"), present=1.0, new=1.0)
    return Basis(word=Phrase("net"), present=_net_to_gross(c.from_gas), new=_net_to_gross(c.to_gas))


def _net_to_gross(gas: GasUsed) -> float:
    return gas.net_heating_value_J_per_kg / gas.gross_heating_value_J_per_kg


# A value in SI printed in the unit of its reader.

PLAIN = (1e-9, 1e12)  # sizes printed in full; beyond them in powers of ten, as no figure of an appliance is
MOST_MARGIN = 20.0  # beyond it a margin says no more than that the limit is far away
SYSTEMS: tuple[System, ...] = get_args(System)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A printed value or word, and what else is said of it below."""

    text: str
    also: str = ""
    value: float | None = None  # in ``unit``
    unit: str = ""
    verdict: str = ""
    is_taken: bool = False  # its row is that of the drill taken
    explained: str = (
        ""  # page and heading of the handbook, on a page in the browser alone: paper has no room for it
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintScale:
    """A unit of the door's table and how finely a value in it is printed: significant digits or places."""

    kind: Kind
    unit: str
    significant: int = 0
    places: int = 0

    def of(self, value: float) -> float:
        return float(in_unit(value, self.kind, self.unit))

    def text(self, value: float) -> str:
        """The value with its unit.

        >>> PrintScale(kind=Kind.DIAMETER, unit="mm", places=3).text(0.0013970)
        '1.397 mm'
        """
        here = self.of(value)
        return (
            f"{digits(here, self.significant) if self.significant else fixed(here, self.places)} {self.unit}"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """A kind of quantity with its unit in each system."""

    metric: PrintScale
    US: PrintScale

    def scale(self, system: System) -> PrintScale:
        return self.metric if system == "metric" else self.US

    def show(self, value: float | None, system: System, missing: str = "not evaluated") -> Cell:
        """The value in the units of the reader."""
        if value is None:
            return Cell(text=missing)
        scale = self.scale(system)
        return Cell(text=scale.text(value), value=scale.of(value), unit=scale.unit)

    def inline(self, value: float | None, system: System) -> str:
        """``4.10 kW``, for a running sentence."""
        return self.show(value, system).text


def digits(value: float, significant: int) -> str:
    """A number rounded to significant digits, thousands apart from 10 000, in powers of ten outside ``PLAIN``.

    >>> digits(13990.2, 3), digits(4.0963, 3), digits(9.996, 3), digits(0.0, 3), digits(-0.012345, 2)
    ('14 000', '4.10', '10.0', '0', '-0.012')
    """
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot be printed")
    if value == 0.0:
        return "0"
    if not PLAIN[0] <= abs(value) <= PLAIN[1]:
        return f"{value:.{significant}g}"
    rounded = float(f"{value:.{significant - 1}e}")
    return fixed(rounded, max(significant - 1 - math.floor(math.log10(abs(rounded))), 0))


def fixed(value: float, places: int) -> str:
    """A number with fixed places; never a negative zero, never "nan".

    >>> fixed(-0.00001, 2), fixed(15.04, 1), fixed(-12345.0, 0)
    ('0.00', '15.0', '-12 345')
    """
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot be printed")
    if abs(value) > PLAIN[1]:
        return f"{value:.4g}"
    text = f"{value:.{places}f}"
    if float(text) == 0.0:
        return text.lstrip("-")
    return grouped(value, places)


def times(value: float | None, factor: float) -> float | None:
    """A value in another basis or unit; None stays None."""
    return None if value is None else value * factor


def percent(ratio: float, places: int = 1) -> str:
    """A deviation with its sign.

    >>> percent(0.0123), percent(-0.00001), percent(-0.0462), percent(100.05)
    ('+1.2 %', '0.0 %', '-4.6 %', '+10 005.0 %')
    """
    value = 100 * ratio
    if math.isfinite(ratio) and not math.isfinite(value):
        return f"{ratio:+.4g} x 100 %"
    text = fixed(value, places)
    return f"{text} %" if text.startswith("-") or not text.strip("0.") else f"+{text} %"


ROUNDING = 1e-9  # of a percent that is computed
LEAST_TRAVEL = 0.02  # of a shutter's opening: a narrower stretch cannot be set


def opening_text(low: float, high: float) -> str:
    """A stretch of shutter openings; of one that is narrower than can be set only where it lies.

    >>> opening_text(0.395, 0.485), opening_text(0.404, 0.412)
    ('40 to 48 %', 'about 41 % open, narrower than can be set')
    """
    if high - low < LEAST_TRAVEL:
        return Phrase("about {share} open, narrower than can be set", share=f"{50.0 * (low + high):.0f} %")
    return joined(" ", (opening_ends(low, high), "%"))


def opening_ends(low: float, high: float) -> str:
    """Both ends of a stretch of openings, in percent, rounded into it."""
    first, last = whole_percents(low, high)
    return Phrase("{low} to {high}", low=f"{first}", high=f"{last}")


def whole_percents(low: float, high: float) -> tuple[int, int]:
    """The first and the last whole percent within a stretch of openings.

    >>> whole_percents(0.305, 0.335), whole_percents(0.29, 0.57)
    ((31, 33), (29, 57))
    """
    return math.ceil(100.0 * low - ROUNDING), math.floor(100.0 * high + ROUNDING)


def _measure(kind: Kind, metric: str, US: str, significant: int) -> Measure:
    return Measure(
        metric=PrintScale(kind=kind, unit=metric, significant=significant),
        US=PrintScale(kind=kind, unit=US, significant=significant),
    )


POWER = _measure(Kind.POWER, "kW", "Btu/h", PAPER_DIGITS)
BORE = Measure(
    metric=PrintScale(kind=Kind.DIAMETER, unit="mm", places=BORE_PLACES["mm"]),
    US=PrintScale(kind=Kind.DIAMETER, unit="in", places=BORE_PLACES["in"]),
)
LOW_PRESSURE = _measure(Kind.GAUGE_PRESSURE, "mbar", "in w.c.", PAPER_DIGITS)
HIGH_PRESSURE = Measure(
    metric=PrintScale(kind=Kind.GAUGE_PRESSURE, unit="mbar", significant=4),
    US=PrintScale(kind=Kind.GAUGE_PRESSURE, unit="psi", significant=3),
)
AMBIENT = _measure(Kind.ABSOLUTE_PRESSURE, "kPa", "psia", 4)
BAROMETER = _measure(Kind.ABSOLUTE_PRESSURE, "kPa", "inHg", 4)  # as it is read at the bench
VOLUME_FLOW = _measure(Kind.REFERENCE_VOLUME_FLOW, "m3/h", "ft3/h", 3)
MASS_FLOW = _measure(Kind.MASS_FLOW, "kg/h", "lb/h", 3)
PER_VOLUME = _measure(Kind.HEATING_VALUE_VOLUME, "MJ/m3", "Btu/ft3", 4)
PER_MASS = _measure(Kind.HEATING_VALUE_MASS, "MJ/kg", "Btu/lb", 4)
DENSITY = _measure(Kind.DENSITY, "kg/m3", "lb/ft3", 4)
TEMPERATURE = Measure(
    metric=PrintScale(kind=Kind.TEMPERATURE, unit="°C", places=1),
    US=PrintScale(kind=Kind.TEMPERATURE, unit="°F", places=1),
)
FLAME_TEMPERATURE = Measure(
    metric=PrintScale(kind=Kind.TEMPERATURE, unit="°C", places=0),
    US=PrintScale(kind=Kind.TEMPERATURE, unit="°F", places=0),
)
ALTITUDE = Measure(
    metric=PrintScale(kind=Kind.LENGTH, unit="m", places=0),
    US=PrintScale(kind=Kind.LENGTH, unit="ft", places=0),
)
LENGTH = Measure(
    metric=PrintScale(kind=Kind.LENGTH, unit="mm", places=0),
    US=PrintScale(kind=Kind.LENGTH, unit="in", places=2),
)
LOADING = _measure(Kind.HEAT_FLUX, "W/mm2", "Btu/h/in2", 3)
FLUX = _measure(Kind.HEAT_FLUX, "kW/m2", "Btu/h/in2", 3)
AREA_INPUT = _measure(Kind.HEAT_FLUX, "kW/m2", "Btu/h/in2", 2)
GAP = Measure(
    metric=PrintScale(kind=Kind.LENGTH, unit="mm", places=1),
    US=PrintScale(kind=Kind.LENGTH, unit="in", places=2),
)
MEASURES: dict[Kind, Measure] = {
    Kind.POWER: POWER,
    Kind.DIAMETER: BORE,
    Kind.ABSOLUTE_PRESSURE: AMBIENT,
    Kind.REFERENCE_VOLUME_FLOW: VOLUME_FLOW,
    Kind.MASS_FLOW: MASS_FLOW,
    Kind.HEATING_VALUE_VOLUME: PER_VOLUME,
    Kind.HEATING_VALUE_MASS: PER_MASS,
    Kind.DENSITY: DENSITY,
    Kind.TEMPERATURE: FLAME_TEMPERATURE,
    Kind.LENGTH: LENGTH,
}


def pressure(value_Pa: float) -> Measure:
    """The measure a gauge pressure is printed in: inches of water up to where table ``display_units`` has psi."""
    unit, _ = display_unit(value_Pa, Kind.GAUGE_PRESSURE, "US")
    return HIGH_PRESSURE if unit == HIGH_PRESSURE.US.unit else LOW_PRESSURE


def head(column: Column, *, basis: bool = False) -> str:
    """The label of a declared figure as a head; its basis too, where none stands over the table."""
    label = column.label if basis else column.declared.label
    return label[:1].upper() + label[1:]


def declared_cell(column: Column, result: Any, system: System) -> Cell:
    """A declared figure as the sheet prints its kind, in the units of the reader.

    >>> from burnerlab.appliance import convert, demonstration
    >>> from burnerlab.quantity.outputs import columns
    >>> gas = convert(demonstration(), "propane", 2740.0).to_gas
    >>> [declared_cell(c, gas, "metric").text for c in columns(type(gas)) if c.name in ("density_kg_per_m3", "source")]
    ['1.899 kg/m3', 'pure component']
    """
    value, declared = column.of(result), column.declared
    if value is None:
        return Cell(text="not evaluated")
    measure = None if column.ends else _measure_of(declared, value)
    if measure is not None:
        return measure.show(value, system)
    if declared.kind is Kind.FRACTION and not (column.ends or declared.is_change or declared.unit):
        return Cell(text=f"{100 * value:.2f} %", value=100 * value, unit="%")
    if isinstance(value, float) and declared.kind is None:
        return Cell(text=f"{digits(value, 4)} {declared.unit}".strip(), value=value, unit=declared.unit)
    return Cell(text=column.text(result, system))


def _measure_of(declared: Output, value: Any) -> Measure | None:
    """The measure of a figure's kind, in metric units the one that files have where its declaration names one."""
    if declared.kind is None:
        return None
    measure = pressure(value) if declared.kind is Kind.GAUGE_PRESSURE else MEASURES.get(declared.kind)
    if measure is None or declared.unit in ("", measure.metric.unit):
        return measure
    if declared.kind is Kind.LENGTH and declared.unit == ALTITUDE.metric.unit:
        return ALTITUDE
    return replace(measure, metric=PrintScale(kind=declared.kind, unit=declared.unit, significant=4))


def margin_text(margin: float, significant: int = 3) -> str:
    """A margin to a limit; a large one only says that its limit is far away.

    >>> margin_text(2.157), margin_text(340.0)
    ('2.16', 'over 20')
    """
    if margin > MOST_MARGIN:
        return Phrase("over {limit}", limit=f"{MOST_MARGIN:.0f}")
    return digits(margin, significant)


# What a section of a sheet is made of.


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """A name and what it is, with a remark."""

    label: str
    cell: Cell
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    rows: tuple[Fact, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockColumn:
    title: str
    side: Literal["left", "right"] = "left"
    wide: bool = False  # running text: takes the room that is left


def column_of(result: type, figure: str, *, basis: bool = False) -> BlockColumn:
    """The column of a declared figure of a result, headed by its label, with its basis where no caption says it."""
    declared = next(one for one in columns(result) if one.name == figure)
    return BlockColumn(title=head(declared, basis=basis), side="right")


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows under column heads; the first column names the row."""

    caption: str
    columns: tuple[BlockColumn, ...]
    rows: tuple[tuple[Cell, ...], ...]
    total: tuple[Cell, ...] = ()
    grouped: bool = False  # a first cell that repeats the one above is not shown again
    dense: bool = False  # many short rows: never stacked on a narrow screen
    stacked: bool = False  # on a narrow screen a row is a block of labelled lines
    lines: bool = False  # on a narrow screen a row is a line or two of text; its cells need no label


@dataclass(frozen=True, slots=True, kw_only=True)
class Points:
    items: tuple[str, ...]
    signed: bool = False  # steps in the order of the work: numbered, each with a line to sign on


@dataclass(frozen=True, slots=True, kw_only=True)
class Cautions:
    """Cautions in full, or by their lines alone."""

    items: tuple[Caution, ...]
    short: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A figure by name; ``description`` says in words what it shows."""

    key: str
    title: str
    caption: str
    description: str
    handbook: str = field(init=False, default="")  # page and heading that explain it

    def __post_init__(self) -> None:
        object.__setattr__(self, "handbook", handbook_of(self.key, "picture"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    rows: tuple[WorkedStep, ...]


Block = Facts | Table | Points | Cautions | Picture | Steps


Place = Literal["answer", "air", "supply", "annex"]
"""Where a section stands: on one of the three pages behind the job card, or in the annex."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    key: str
    title: str
    lead: str
    blocks: tuple[Block, ...]
    place: Place = "annex"
    handbook: str = field(init=False, default="")  # page and heading that explain its figures

    def __post_init__(self) -> None:
        object.__setattr__(self, "handbook", handbook_of(self.key, "section"))
