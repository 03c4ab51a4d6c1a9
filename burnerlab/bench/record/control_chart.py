"""The control chart of one figure over the last units: limits, drift, capability."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.bench.record.database import Record
from burnerlab.bench.record.entry import quantity_named
from burnerlab.bench.record.query import (
    MOST_LINES,
    ChartPoint,
    Take,
    UnitStops,
    burners,
    models,
    series,
    stops_of_units,
)
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables.problem import Problem, UserError

# Does the shop hold: individuals with moving ranges, drift by stated rules, capability with its interval.

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
RuleKind = Literal["beyond", "trend", "alternate"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlLimits:
    """Centre and limits of a chart of individuals and of its moving ranges, in the unit of the values."""

    count: int = field(metadata=output("values they are from"))  # values they are from
    centre: float = field(metadata=output("centre"))
    sigma: float = field(metadata=output("sigma"))  # mean moving range over d2
    low: float = field(metadata=output("lower limit"))
    high: float = field(metadata=output("upper limit"))
    mean_range: float = field(metadata=output("mean range"))
    range_high: float = field(metadata=output("upper limit of the ranges"))


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftRule:
    """When a chart says that something changed."""

    name: str
    kind: RuleKind
    count: int
    window: int
    sigma: float
    words: str
    source: str
    provenance: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleHit:
    """A rule that a value completes; ``index`` is that of the value."""

    rule: DriftRule
    index: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """Two-sided confidence interval."""

    low: float = field(metadata=output("low"))
    high: float = field(metadata=output("high"))
    level: float = field(metadata=output("level", Kind.FRACTION))


@dataclass(frozen=True, slots=True, kw_only=True)
class Capability:
    """How the scatter of all units fits into the band: sigma is their sample standard deviation."""

    count: int = field(metadata=output("units"))
    mean: float = field(metadata=output("mean"))
    sigma: float = field(metadata=output("sigma"))
    low: float | None = field(metadata=output("lower end of the band"))
    high: float | None = field(metadata=output("upper end of the band"))
    cp: float | None = field(metadata=output("Cp"))
    cp_interval: Interval | None = field(metadata=output("interval of Cp"))
    cpk: float = field(metadata=output("Cpk"))
    cpk_interval: Interval = field(metadata=output("interval of Cpk"))


@tables.cache_by_file
def factors(own: Path | None = None) -> Mapping[str, float]:
    """Factors of the chart by name; ``own`` is a CSV of the same columns.

    >>> factors()["d2"]
    1.128
    """
    return {row["name"]: row.number("value") for row in tables.read("control_chart", own)}


def drift_rules(own: Path | None = None) -> tuple[DriftRule, ...]:
    """The rules of the table ``drift_rules``; ``own`` is a CSV of the same columns."""
    return tuple(
        DriftRule(
            name=row["name"],
            kind=row["kind"],  # type: ignore[arg-type]
            count=int(row["count"]),
            window=int(row["window"]),
            sigma=float(row["sigma"]),
            words=row["words"],
            source=tables.cite(row["source"]),
            provenance=row["provenance"],
        )
        for row in tables.read("drift_rules", own)
    )


def moving_ranges(values: ArrayLike) -> FloatArray:
    """Difference of each value from the one before, without sign [same unit].

    >>> moving_ranges([3.4, 3.7, 3.6])
    array([0.3, 0.1])
    """
    ranges: FloatArray = np.abs(np.diff(np.asarray(values, dtype=float)))
    return ranges


def control_limits(values: ArrayLike, own: Path | None = None) -> ControlLimits:
    """Limits of a chart of individuals, mean +- 3 MR/d2, and of its moving ranges, D4 MR [same unit].

    values : figures in the order of production
    Raises UserError for fewer than five.
    Source: nist-handbook section 6.3.2.2.

    >>> control_limits([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]).high
    55.8041
    """
    figures, factor = np.asarray(values, dtype=float), factors(own)
    if figures.size < factor["fewest"]:
        accepted = f"{factor['fewest']:.0f} or more"
        raise UserError(Problem("too few units for limits", str(figures.size), "units", accepted=accepted))
    mean_range = float(np.mean(moving_ranges(figures)))
    centre, sigma = float(np.mean(figures)), mean_range / factor["d2"]
    reach = factor["sigmas"] * sigma
    return ControlLimits(
        count=int(figures.size),
        centre=centre,
        sigma=sigma,
        low=centre - reach,
        high=centre + reach,
        mean_range=mean_range,
        range_high=factor["D4"] * mean_range,
    )


def _runs(flags: BoolArray, count: int, window: int) -> BoolArray:
    """Where a flagged value is at least the ``count``-th flagged one of the last ``window``."""
    summed = np.convolve(flags.astype(int), np.ones(window, dtype=int))[: flags.size]
    signals: BoolArray = flags & (summed >= count)
    return signals


def _completes(values: FloatArray, rule: DriftRule, centre: float, sigma: float) -> BoolArray:
    if rule.kind == "beyond":
        above = values > centre + rule.sigma * sigma
        below = values < centre - rule.sigma * sigma
        return _runs(above, rule.count, rule.window) | _runs(below, rule.count, rule.window)
    steps = np.sign(np.diff(values))
    none = np.zeros(values.size, dtype=bool)
    if rule.kind == "trend":
        need, sides = rule.count - 1, [steps > 0, steps < 0]
    else:
        need, sides = rule.count - 2, [steps[1:] * steps[:-1] < 0]
    signals = none.copy()
    for flags in sides:
        hit = _runs(flags, need, need)
        signals[values.size - hit.size :] |= hit
    return signals


def drift(values: ArrayLike, centre: float, sigma: float, rules: Sequence[DriftRule]) -> tuple[RuleHit, ...]:
    """Which values complete a rule, in the order of the values.

    values : figures in the order of production
    centre, sigma : of the chart, in the unit of the values; nothing is told when sigma is 0

    >>> [hit.index for hit in drift([0.1, -0.2, 0.0, 3.5], 0.0, 1.0, drift_rules())]
    [3]
    """
    figures = np.asarray(values, dtype=float)
    if not sigma > 0.0:
        return ()
    hits = [
        RuleHit(rule=rule, index=int(index))
        for rule in rules
        if figures.size >= rule.window
        for index in np.flatnonzero(_completes(figures, rule, centre, sigma))
    ]
    return tuple(sorted(hits, key=lambda hit: hit.index))


def cp_interval(cp: float, count: int, level: float = 0.95) -> Interval:
    """Confidence interval of Cp, Cp sqrt(chi2/(n - 1)) [-], from the sample standard deviation of n units.

    Exact for a normal process. Source: capability-intervals.

    >>> cp_interval(2.29, 20)
    Interval(low=1.568, high=3.011, level=0.95)
    """
    from scipy.special import chdtri

    free, tail = count - 1, (1.0 - level) / 2.0
    low, high = (float(chdtri(free, above)) for above in (1.0 - tail, tail))
    return Interval(low=cp * math.sqrt(low / free), high=cp * math.sqrt(high / free), level=level)


def cpk_interval(cpk: float, count: int, level: float = 0.95) -> Interval:
    """Confidence interval of Cpk, Cpk +- z sqrt(1/(9 n) + Cpk2/(2 (n - 1))) [-].

    An approximation for a normal process, good from about 30 units. Source: bissell-1990.

    >>> cpk_interval(1.33, 20)
    Interval(low=0.883, high=1.777, level=0.95)
    """
    from scipy.special import ndtri

    spread = math.sqrt(1.0 / (9.0 * count) + cpk**2 / (2.0 * (count - 1)))
    reach = float(ndtri((1.0 + level) / 2.0)) * spread
    return Interval(low=cpk - reach, high=cpk + reach, level=level)


def capability(values: ArrayLike, low: float | None, high: float | None, level: float = 0.95) -> Capability:
    """Cp = (high - low)/6s and Cpk = min(high - mean, mean - low)/3s of individual values [-].

    low, high : the band, in the unit of the values; with one end only there is no Cp
    level : confidence of the intervals
    Raises UserError without a band, for fewer than two values, or when they are all alike.

    >>> round(capability([14.0, 16.0, 18.0], 8.0, 20.0).cpk, 4)
    0.6667
    """
    figures = np.asarray(values, dtype=float)
    if low is None and high is None:
        raise UserError(Problem("no band to hold the units against", key="low, high"))
    if low is not None and high is not None and not low < high:
        raise UserError(Problem("the lower end comes first", f"{low:g} to {high:g}", "low, high"))
    sigma = float(np.std(figures, ddof=1)) if figures.size > 1 else 0.0
    if not sigma > 0.0:
        raise UserError(Problem("capability needs units that differ", str(figures.size), "units"))
    mean, n = float(np.mean(figures)), int(figures.size)
    sides = [(high - mean) if high is not None else None, (mean - low) if low is not None else None]
    cpk = min(side for side in sides if side is not None) / (3.0 * sigma)
    cp = None if low is None or high is None else (high - low) / (6.0 * sigma)
    return Capability(
        count=n,
        mean=mean,
        sigma=sigma,
        low=low,
        high=high,
        cp=cp,
        cp_interval=None if cp is None else cp_interval(cp, n, level),
        cpk=cpk,
        cpk_interval=cpk_interval(cpk, n, level),
    )


# The chart of one figure over the last units of a model.

MOST_DRAWN = 1e9  # in SI; no figure of an appliance is larger, and beyond it sums and squares of figures fail


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """A rule of drift that a unit completes."""

    rule: str = field(metadata=output("rule"))
    words: str = field(metadata=output("in words"))
    serial: str = field(metadata=output("serial number"))
    index: int = field(metadata=output("number of the point, from 0"))
    source: str = field(metadata=output("source"))
    provenance: str = field(metadata=output("provenance"))


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitChart:
    """A figure of the last units of a model, with limits, drift and capability; None where not evaluated."""

    model: str = field(metadata=output("model"))
    burner: str = field(metadata=output("burner"))
    quantity: str = field(metadata=output("quantity"))
    unit: str = field(metadata=output("unit"))
    points: tuple[ChartPoint, ...] = field(metadata=output("units"))
    baseline: int = field(metadata=output("units of the limits"))  # oldest points the limits are from
    limits: ControlLimits | None = field(metadata=output("limits"))
    hits: tuple[RuleHit, ...]
    capability: Capability | None = field(metadata=output("capability"))
    notes: tuple[str, ...] = field(metadata=output("notes"))
    stopped: tuple[
        str, ...
    ] = ()  # of each point: "stopped", "stopped, released", or "" of a unit never stopped

    @property
    @computed_output("drift")
    def drift(self) -> tuple[Drift, ...]:
        """Each rule that was met, with the unit that completed it."""
        return tuple(
            Drift(
                rule=hit.rule.name,
                words=hit.rule.words,
                serial=self.points[hit.index].serial,
                index=hit.index,
                source=hit.rule.source,
                provenance=hit.rule.provenance,
            )
            for hit in self.hits
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartQuery:
    """What a chart is of."""

    model: str
    burner: str = ""
    quantity: str = "deviation"
    last: int = 50
    baseline: int | None = None  # limits from so many of the oldest points; all when None
    take: Take = "last"
    low: float | None = None  # the band; from the results when neither end is given
    high: float | None = None
    own_rules: Path | None = None
    own_factors: Path | None = None


def unit_chart(record: Record, query: ChartQuery) -> UnitChart:
    """The chart of one figure over the last units of a model.

    Raises UserError for a model, burner or quantity that the record does not hold.
    """
    quantity = quantity_named(query.quantity)
    if not 1 <= query.last <= MOST_LINES:
        raise UserError(Problem("cannot be shown", str(query.last), "last", accepted=f"1 to {MOST_LINES}"))
    every = series(record, query.model, query.burner, quantity.name, query.last, query.take)
    points = tuple(point for point in every if _fits_chart(point))
    if not points:
        raise _no_chart(record, query, quantity.name)
    values = np.array([point.value for point in points])
    count = len(points) if query.baseline is None else min(max(query.baseline, 1), len(points))
    factor = factors(query.own_factors)
    past = stops_of_units(record, (point.serial for point in points))
    stopped = tuple(past.get(point.serial.casefold(), UnitStops()).mark for point in points)
    sound = np.array([not mark for mark in stopped])
    base = values[:count][sound[:count]]
    limits = control_limits(base, query.own_factors) if len(base) >= factor["fewest"] else None
    rules = drift_rules(query.own_rules)
    low, high, band_note = _band(points, query)
    can = (
        (low is not None or high is not None)
        and sound.sum() >= factor["fewest"]
        and np.ptp(values[sound]) > 0.0
    )
    index = capability(values[sound], low, high) if can else None
    return UnitChart(
        model=query.model,
        burner=query.burner,
        quantity=quantity.name,
        unit=quantity.unit,
        points=points,
        baseline=count,
        limits=limits,
        hits=tuple(hit for hit in drift(values, limits.centre, limits.sigma, rules) if not stopped[hit.index])
        if limits
        else (),
        capability=index,
        notes=(*_omissions(every), *_stopped(stopped), *_notes(points, limits, index, band_note, factor)),
        stopped=stopped,
    )


def _fits_chart(point: ChartPoint) -> bool:
    return max(abs(point.value), abs(point.expanded_uncertainty or 0.0)) < MOST_DRAWN


def _omissions(points: Sequence[ChartPoint]) -> tuple[str, ...]:
    """The entries whose figure no chart holds."""
    return tuple(
        f"entry {point.uid[:8]} is left out: it holds {point.value:.3g}; correct it"
        for point in points
        if not _fits_chart(point)
    )


def _stopped(marks: Sequence[str]) -> tuple[str, ...]:
    count = sum(map(bool, marks))
    were = "was" if count == 1 else "were"
    words = f"{count} of these units {were} stopped: marked, and left out of limits and capability"
    return (words,) if count else ()


def _no_chart(record: Record, query: ChartQuery, quantity: str) -> UserError:
    names = models(record)
    if query.model not in names:
        problem = Problem(
            "no unit of this model in the record", query.model, "model", accepted=", ".join(names)
        )
    else:
        burner_names = ", ".join(
            burner or "(whole unit)" for burner in burners(record, query.model, quantity)
        )
        what = f"no unit of this model has a result {quantity} for this burner"
        problem = Problem(what, query.burner or "(whole unit)", "burner", accepted=burner_names)
    return UserError(problem)


def _band(points: Sequence[ChartPoint], query: ChartQuery) -> tuple[float | None, float | None, str]:
    """The band as asked, else the one that all results name."""
    if query.low is not None or query.high is not None:
        return query.low, query.high, ""
    bands = {(point.low, point.high) for point in points}
    if len(bands) == 1:
        low, high = bands.pop()
        missing = low is None and high is None
        return low, high, "capability: not evaluated, the results name no band" if missing else ""
    return None, None, "capability: not evaluated, the band changed among these units; give one"


def _notes(
    points: Sequence[ChartPoint],
    limits: ControlLimits | None,
    index: Capability | None,
    band_note: str,
    factor: Mapping[str, float],
) -> tuple[str, ...]:
    notes = []
    if limits is None:
        notes.append(f"limits and drift: not evaluated, fewer than {factor['fewest']:.0f} units")
    elif not limits.sigma > 0.0:
        notes.append("drift: not evaluated, the units do not differ from one another")
    elif limits.count < factor["enough"]:
        notes.append(
            f"limits from {limits.count} units are indicative; {factor['enough']:.0f} or more are better"
        )
    if band_note:
        notes.append(band_note)
    elif index is None:
        notes.append("capability: not evaluated, too few units or units that do not differ")
    else:
        notes.append("capability uses the scatter of all units shown and takes them as normally distributed")
    uncertainties = [point.expanded_uncertainty for point in points if point.expanded_uncertainty is not None]
    if (
        uncertainties
        and limits is not None
        and limits.sigma > 0.0
        and np.median(uncertainties) / 2.0 > limits.sigma / 2.0
    ):
        share = np.median(uncertainties) / 2.0 / limits.sigma
        notes.append(
            f"the measurement's own standard uncertainty is {share:.1f} of the chart's sigma: part of this scatter is "
            "the bench's"
        )
    return tuple(notes)
