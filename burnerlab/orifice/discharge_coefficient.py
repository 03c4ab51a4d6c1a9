"""Discharge coefficient: a number, or a law of bore and Reynolds number by the shape of the hole.

spread.

The Reynolds number is that of the ideal jet in the hole, d rho1 eps sqrt(2 dp/rho1)/mu: it does not depend
on the coefficient looked for.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Protocol, overload

from burnerlab import tables
from burnerlab.orifice.nozzle import Array
from burnerlab.quantity import Problem, UserError, first_outside
from burnerlab.quantity.inputs import input_row
from burnerlab.tables.figure import Evidence, evidence_of

# The discharge coefficient: a number, or a law of bore and Reynolds number, and the range it can have.

COEFFICIENT_ENDS = ("coefficient_low", "coefficient_high")
"""Keys of a project file for the interval of a coefficient of one's own."""
DEFAULT_SHAPE = "tapered"  # row of the table discharge for a hole whose shape nobody says
HANDBOOK_COEFFICIENT: float = next(
    float(row["coefficient"]) for row in tables.rows("discharge") if row["shape"] == DEFAULT_SHAPE
)
LOWEST_COEFFICIENT, HIGHEST_COEFFICIENT = input_row("coefficient").low, input_row("coefficient").high


class CoefficientLaw(Protocol):
    """A discharge coefficient that depends on the bore and on the Reynolds number of the ideal jet."""

    def __call__(self, diameter_m: float, reynolds: float) -> float:
        """The coefficient [-]; raises UserError outside the range of its source."""

    def unchecked(self, diameter_m: float, reynolds: float) -> float:
        """The same without the check of range, for a search that passes through bores it does not return."""


Coefficient = float | CoefficientLaw
"""A discharge coefficient [-], or the law of one."""


@overload
def check_coefficient(coefficient: float, key: str = "coefficient") -> float: ...
@overload
def check_coefficient(coefficient: Array, key: str = "coefficient") -> Array: ...
def check_coefficient(coefficient: float | Array, key: str = "coefficient") -> float | Array:
    """The coefficient, or an array of them, when a discharge coefficient can have that value.

    Raises UserError outside 0.5 to 1.0.

    >>> check_coefficient(0.9)
    0.9
    """
    wrong = first_outside(coefficient, LOWEST_COEFFICIENT, HIGHEST_COEFFICIENT)
    if wrong is not None:
        raise UserError(
            Problem(
                f"a discharge coefficient must lie in {input_row('coefficient').span}",
                value=f"{wrong:g}",
                key=key,
                accepted=input_row("coefficient").span,
                fix=f"{HANDBOOK_COEFFICIENT:.2f} is the handbook value of a {DEFAULT_SHAPE} orifice",
            )
        )
    return coefficient


# Discharge coefficient by the shape of the hole: one function per correlation, one row per shape with its

USER = "the user's own value"
BENCH_RECORD = (
    "bench record"  # begins the source of a row that is learned from one; its place names the burners
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ValidityRange:
    """A range of validity; an open end is infinite."""

    low: float
    high: float

    def holds(self, value: float) -> bool:
        return self.low <= value <= self.high

    def words(self) -> str:
        """The range in words.

        >>> ValidityRange(low=2.0, high=10.0).words(), ValidityRange(low=1000.0, high=math.inf).words()
        ('2 to 10', 'above 1000')
        """
        return f"above {self.low:g}" if math.isinf(self.high) else f"{self.low:g} to {self.high:g}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A shape of hole as the table ``discharge`` describes it."""

    name: str
    title: str
    coefficient: float
    low: float
    high: float
    length_over_diameter: ValidityRange
    reynolds: ValidityRange
    correlation: str  # key of CORRELATIONS, "" for a constant
    source: str
    place: str
    provenance: str
    note: str

    @property
    def evidence(self) -> Evidence:
        """What its coefficient rests on."""
        return evidence_of(self.provenance, has_interval=self.low < self.high)

    def around(self, coefficient: float, notes: tuple[str, ...] = (), *, in_range: bool = True) -> Discharge:
        """A coefficient of this shape [-] with the spread of the row."""
        return Discharge(
            shape=self.name,
            coefficient=coefficient,
            low=min(self.low, coefficient),
            high=max(self.high, coefficient),
            source=self.source,
            place=self.place,
            provenance=self.provenance,
            in_range=in_range,
            notes=(*notes, self.note) if self.note else notes,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Discharge:
    """A discharge coefficient, its spread, and what it rests on."""

    shape: str
    coefficient: float
    low: float
    high: float
    source: str
    place: str
    provenance: str
    in_range: bool
    notes: tuple[str, ...] = ()

    @property
    def measured_on(self) -> tuple[str, ...]:
        """The burners whose heat inputs a table of ``calibrate`` was learned from; empty of any other.

        >>> own_coefficient(0.88).measured_on
        ()
        """
        burners, _, rest = self.place.rpartition(" on ")
        return tuple(burners.split(", ")) if rest and self.source.startswith(BENCH_RECORD) else ()

    @property
    def evidence(self) -> Evidence:
        """What it rests on; outside the range of its source an estimate, measured without an interval only entered."""
        return (
            evidence_of(self.provenance, has_interval=self.low < self.high)
            if self.in_range
            else Evidence.ESTIMATE
        )


def channel_coefficient(reynolds: float, length_over_diameter: float) -> float:
    """Coefficient of a straight drilled channel after Lichtarowicz, Duggins and Markland.

    1/K = 1/Ku + (20/Re)(1 + 2.25 l/d) - 0.005 (l/d)/(1 + 7.5 (log10(0.00015 Re))^2), Ku = 0.827 - 0.0085 l/d

    reynolds : of the ideal jet [-]; length_over_diameter : l/d [-]
    Returns K [-]. Range: 2 <= l/d <= 10. Source: discharge-lichtarowicz, recalled.

    >>> channel_coefficient(10000.0, 2.0), channel_coefficient(10000.0, 4.0)
    (0.808, 0.790)
    """
    ultimate = 0.827 - 0.0085 * length_over_diameter
    viscous = 20.0 / reynolds * (1.0 + 2.25 * length_over_diameter)
    bump = 0.005 * length_over_diameter / (1.0 + 7.5 * math.log10(0.00015 * reynolds) ** 2)
    return 1.0 / (1.0 / ultimate + viscous - bump)


def thin_plate_coefficient(reynolds: float, length_over_diameter: float = 0.0) -> float:
    """Coefficient of a thin plate in a wide chamber: Reader-Harris/Gallagher with beta -> 0 and a small pipe.

    K = 0.5961 + 0.000521 (1e6/Re)^0.7 + 0.011 x 0.75 x 2.8

    reynolds : in the hole [-]; length_over_diameter : of a thin plate, not used
    Returns K [-]. Outside the limits of ISO 5167-2 for bore and pipe: an estimate. Source:
    discharge-iso5167-2.

    >>> thin_plate_coefficient(5000.0), thin_plate_coefficient(18000.0)
    (0.640, 0.628)
    """
    return float(0.5961 + 0.000521 * (1e6 / reynolds) ** 0.7 + 0.011 * 0.75 * 2.8)


def long_radius_nozzle_coefficient(reynolds: float, length_over_diameter: float = 0.0) -> float:
    """Coefficient of a long-radius nozzle: K = 0.9965 - 0.00653 sqrt(1e6/Re).

    reynolds : in the hole [-]; length_over_diameter : set by the shape, not used
    Returns K [-]. Outside the limits of ISO 5167-3 for bore and pipe: an estimate. Source:
    discharge-iso5167-3.

    >>> long_radius_nozzle_coefficient(5000.0), long_radius_nozzle_coefficient(18000.0)
    (0.904, 0.948)
    """
    return 0.9965 - 0.00653 * math.sqrt(1e6 / reynolds)


def shapes(own: Path | None = None) -> dict[str, Shape]:
    """All shapes by name, from the table or from the user's CSV of the same columns.

    >>> list(shapes())[0]
    'tapered'
    """
    return {row["shape"]: _shape(row) for row in tables.read("discharge", own)}


def _shape(row: tables.Row) -> Shape:
    def end(text: str, otherwise: float) -> float:
        return float(text) if text else otherwise

    return Shape(
        name=row["shape"],
        title=row["title"],
        coefficient=float(row["coefficient"]),
        low=float(row["low"]),
        high=float(row["high"]),
        length_over_diameter=ValidityRange(
            low=end(row["l_over_d_low"], 0.0), high=end(row["l_over_d_high"], math.inf)
        ),
        reynolds=ValidityRange(low=end(row["reynolds_low"], 0.0), high=end(row["reynolds_high"], math.inf)),
        correlation=row["correlation"],
        source=row["source"],
        place=row["place"],
        provenance=row["provenance"],
        note=row["note"],
    )


@tables.cache_by_file
def shape_named(name: str, own: Path | None = None) -> Shape:
    """One shape. Raises UserError, with the nearest names, for one the table has not.

    >>> shape_named("tapered").coefficient
    0.9
    """
    known = {row["shape"]: row for row in tables.read("discharge", own)}
    wanted = " ".join(name.replace("-", " ").replace("_", " ").casefold().split())
    spelled = {shape.replace("-", " ").casefold(): shape for shape in known}
    if wanted in spelled:
        return _shape(known[spelled[wanted]])
    near = difflib.get_close_matches(wanted, spelled, n=1)
    fix = f"did you mean {spelled[near[0]]}?" if near else ""
    raise UserError(Problem("no orifice shape of that name", value=name, accepted=", ".join(known), fix=fix))


def own_coefficient(
    coefficient: float, source: str = USER, interval: tuple[float, float] | None = None
) -> Discharge:
    """A coefficient of the user's own. Raises UserError outside 0.5 to 1.0.

    interval : its low and high end [-], None for one without

    >>> own_coefficient(0.88).coefficient, own_coefficient(0.88, interval=(0.86, 0.9)).low
    (0.880, 0.860)
    """
    k = check_coefficient(coefficient)
    low, high = (k, k) if interval is None else (check_coefficient(end) for end in interval)
    return Discharge(
        shape="",
        coefficient=k,
        low=min(low, k),
        high=max(high, k),
        source=source,
        place="",
        provenance="measured here",
        in_range=True,
    )


def coefficient_for(
    shape: str | Shape,
    *,
    reynolds: float | None = None,
    length_over_diameter: float | None = None,
    extrapolate: bool = False,
    own: Path | None = None,
) -> Discharge:
    """Discharge coefficient of a shape at a Reynolds number and a length.

    A constant outside its range is flagged; a correlation outside its range is withheld unless
    ``extrapolate``.

    shape : name or row; reynolds : of the ideal jet [-]; length_over_diameter : l/d [-]
    extrapolate : use a correlation beyond its range, flagged; own : CSV in place of the table
    Returns a Discharge. Raises UserError for an unknown shape, and for a correlation outside its range or
    without the numbers it needs. Source: the row.

    >>> coefficient_for("tapered").coefficient
    0.9
    >>> coefficient_for("drilled channel", reynolds=10000, length_over_diameter=4).coefficient
    0.790
    """
    row = shape_named(shape, own) if isinstance(shape, str) else shape
    notes = _outside(row, reynolds, length_over_diameter)
    value = row.coefficient
    if row.correlation:
        if notes and not extrapolate:
            raise UserError([Problem(note, key="discharge coefficient", fix=WITHHELD) for note in notes])
        value = _correlated(row, reynolds, length_over_diameter)
    return row.around(value, notes, in_range=not notes)


WITHHELD = "no result without extrapolation; or enter a coefficient of your own"


def _outside(row: Shape, reynolds: float | None, length_over_diameter: float | None) -> tuple[str, ...]:
    source = tables.sources()[row.source].cite() if row.source in tables.sources() else row.source
    found = []
    for what, value, span in (
        ("Reynolds number", reynolds, row.reynolds),
        ("length over bore", length_over_diameter, row.length_over_diameter),
    ):
        if value is not None and not span.holds(value):
            found.append(f"{what} {value:.4g} is outside the range {span.words()} of {source}")
    return tuple(found)


def _correlated(row: Shape, reynolds: float | None, length_over_diameter: float | None) -> float:
    correlation = CORRELATIONS.get(row.correlation)
    if correlation is None:
        known = ", ".join(CORRELATIONS)
        raise UserError(Problem("no correlation of that name", row.correlation, row.name, accepted=known))
    if reynolds is None:
        raise UserError(Problem(f"the coefficient of a {row.title} needs a Reynolds number", key="reynolds"))
    if length_over_diameter is None and correlation is channel_coefficient:
        raise UserError(
            Problem(
                f"the coefficient of a {row.title} needs its length",
                key="length",
                fix="give length over bore",
            )
        )
    return correlation(reynolds, length_over_diameter or 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShapeLaw:
    """The coefficient of a shape as a law of bore and Reynolds number, for ``flow`` and ``size``."""

    shape: Shape
    length_m: float | None = None
    extrapolate: bool = False

    def at(self, diameter_m: float, reynolds: float) -> Discharge:
        """The coefficient with its spread and notes."""
        ratio = None if self.length_m is None else self.length_m / diameter_m
        return coefficient_for(
            self.shape, reynolds=reynolds, length_over_diameter=ratio, extrapolate=self.extrapolate
        )

    def __call__(self, diameter_m: float, reynolds: float) -> float:
        """The coefficient [-]; raises UserError outside the range of its source unless extrapolating."""
        return self.at(diameter_m, reynolds).coefficient

    def unchecked(self, diameter_m: float, reynolds: float) -> float:
        """The coefficient without the check of range."""
        return replace(self, extrapolate=True)(diameter_m, reynolds)


def law(
    shape: str, length_m: float | None = None, *, extrapolate: bool = False, own: Path | None = None
) -> ShapeLaw:
    """The coefficient of a shape for ``flow`` and ``size``, which know bore and Reynolds number.

    shape : name; length_m : of the straight part of the hole [m], needed by a drilled channel

    >>> law("drilled channel", 4e-3)(1e-3, 10000.0)
    0.790
    """
    return ShapeLaw(shape=shape_named(shape, own), length_m=length_m, extrapolate=extrapolate)


CORRELATIONS: dict[str, Callable[[float, float], float]] = {
    "drilled channel": channel_coefficient,
    "thin plate": thin_plate_coefficient,
    "long-radius nozzle": long_radius_nozzle_coefficient,
}

DISCHARGE: tuple[str, ...] = tuple(shapes())
"""Names of the shapes of the shipped table."""
