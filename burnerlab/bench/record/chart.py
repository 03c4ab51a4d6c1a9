"""Does the shop hold: individuals with moving ranges, drift by stated rules, capability with its interval."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.quantity.outputs import output
from burnerlab.tables.problem import Problem, UserError

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
Kind = Literal["beyond", "trend", "alternate"]


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
    kind: Kind
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
    level: float = field(metadata=output("level"))


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
    found, factor = np.asarray(values, dtype=float), factors(own)
    if found.size < factor["fewest"]:
        accepted = f"{factor['fewest']:.0f} or more"
        raise UserError(Problem("too few units for limits", str(found.size), "units", accepted=accepted))
    mean_range = float(np.mean(moving_ranges(found)))
    centre, sigma = float(np.mean(found)), mean_range / factor["d2"]
    reach = factor["sigmas"] * sigma
    return ControlLimits(
        count=int(found.size),
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
    found: BoolArray = flags & (summed >= count)
    return found


def _completes(values: FloatArray, rule: DriftRule, centre: float, sigma: float) -> BoolArray:
    if rule.kind == "beyond":
        above = values > centre + rule.sigma * sigma
        below = values < centre - rule.sigma * sigma
        return _runs(above, rule.count, rule.window) | _runs(below, rule.count, rule.window)
    steps = np.sign(np.diff(values))
    none = np.zeros(values.size, dtype=bool)
    if rule.kind == "trend":
        need, told = rule.count - 1, [steps > 0, steps < 0]
    else:
        need, told = rule.count - 2, [steps[1:] * steps[:-1] < 0]
    found = none.copy()
    for flags in told:
        hit = _runs(flags, need, need)
        found[values.size - hit.size :] |= hit
    return found


def drift(values: ArrayLike, centre: float, sigma: float, rules: Sequence[DriftRule]) -> tuple[RuleHit, ...]:
    """Which values complete a rule, in the order of the values.

    values : figures in the order of production
    centre, sigma : of the chart, in the unit of the values; nothing is told when sigma is 0

    >>> [hit.index for hit in drift([0.1, -0.2, 0.0, 3.5], 0.0, 1.0, drift_rules())]
    [3]
    """
    found = np.asarray(values, dtype=float)
    if not sigma > 0.0:
        return ()
    hits = [
        RuleHit(rule=rule, index=int(index))
        for rule in rules
        if found.size >= rule.window
        for index in np.flatnonzero(_completes(found, rule, centre, sigma))
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
    found = np.asarray(values, dtype=float)
    if low is None and high is None:
        raise UserError(Problem("no band to hold the units against", key="low, high"))
    if low is not None and high is not None and not low < high:
        raise UserError(Problem("the lower end comes first", f"{low:g} to {high:g}", "low, high"))
    sigma = float(np.std(found, ddof=1)) if found.size > 1 else 0.0
    if not sigma > 0.0:
        raise UserError(Problem("capability needs units that differ", str(found.size), "units"))
    mean, n = float(np.mean(found)), int(found.size)
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
