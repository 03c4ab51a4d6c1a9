"""The chart of one figure over the last units of a model."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from burnerlab.bench.record.chart import (
    Capability,
    ControlLimits,
    RuleHit,
    capability,
    control_limits,
    drift,
    drift_rules,
    factors,
)
from burnerlab.bench.record.connect import Record
from burnerlab.bench.record.query import MOST_LINES, ChartPoint, Take, burners, models, series
from burnerlab.bench.record.stop_history import UnitStops, stops_of_units
from burnerlab.bench.record.vocabulary import quantity_named
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables.problem import Problem, UserError

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
class ChartAsked:
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


def unit_chart(record: Record, asked: ChartAsked) -> UnitChart:
    """The chart of one figure over the last units of a model.

    Raises UserError for a model, burner or quantity that the record does not hold.
    """
    quantity = quantity_named(asked.quantity)
    if not 1 <= asked.last <= MOST_LINES:
        raise UserError(Problem("cannot be shown", str(asked.last), "last", accepted=f"1 to {MOST_LINES}"))
    every = series(record, asked.model, asked.burner, quantity.name, asked.last, asked.take)
    points = tuple(point for point in every if _can_be_drawn(point))
    if not points:
        raise _nothing(record, asked, quantity.name)
    values = np.array([point.value for point in points])
    count = len(points) if asked.baseline is None else min(max(asked.baseline, 1), len(points))
    factor = factors(asked.own_factors)
    past = stops_of_units(record, (point.serial for point in points))
    stopped = tuple(past.get(point.serial.casefold(), UnitStops()).mark for point in points)
    sound = np.array([not mark for mark in stopped])
    base = values[:count][sound[:count]]
    limits = control_limits(base, asked.own_factors) if len(base) >= factor["fewest"] else None
    rules = drift_rules(asked.own_rules)
    low, high, band_note = _band(points, asked)
    can = (
        (low is not None or high is not None)
        and sound.sum() >= factor["fewest"]
        and np.ptp(values[sound]) > 0.0
    )
    held = capability(values[sound], low, high) if can else None
    return UnitChart(
        model=asked.model,
        burner=asked.burner,
        quantity=quantity.name,
        unit=quantity.unit,
        points=points,
        baseline=count,
        limits=limits,
        hits=tuple(hit for hit in drift(values, limits.centre, limits.sigma, rules) if not stopped[hit.index])
        if limits
        else (),
        capability=held,
        notes=(*_left_out(every), *_stopped(stopped), *_notes(points, limits, held, band_note, factor)),
        stopped=stopped,
    )


def _can_be_drawn(point: ChartPoint) -> bool:
    return max(abs(point.value), abs(point.expanded_uncertainty or 0.0)) < MOST_DRAWN


def _left_out(points: Sequence[ChartPoint]) -> tuple[str, ...]:
    """The entries whose figure no chart holds."""
    return tuple(
        f"entry {point.uid[:8]} is left out: it holds {point.value:.3g}; correct it"
        for point in points
        if not _can_be_drawn(point)
    )


def _stopped(marks: Sequence[str]) -> tuple[str, ...]:
    count = sum(map(bool, marks))
    return (
        (f"{count} of these units were stopped: marked, and left out of limits and capability",)
        if count
        else ()
    )


def _nothing(record: Record, asked: ChartAsked, quantity: str) -> UserError:
    known = models(record)
    if asked.model not in known:
        problem = Problem(
            "no unit of this model in the record", asked.model, "model", accepted=", ".join(known)
        )
    else:
        here = ", ".join(burner or "(whole unit)" for burner in burners(record, asked.model, quantity))
        what = f"no unit of this model has a result {quantity} for this burner"
        problem = Problem(what, asked.burner or "(whole unit)", "burner", accepted=here)
    return UserError(problem)


def _band(points: Sequence[ChartPoint], asked: ChartAsked) -> tuple[float | None, float | None, str]:
    """The band as asked, else the one that all results name."""
    if asked.low is not None or asked.high is not None:
        return asked.low, asked.high, ""
    bands = {(point.low, point.high) for point in points}
    if len(bands) == 1:
        low, high = bands.pop()
        missing = low is None and high is None
        return low, high, "capability: not evaluated, the results name no band" if missing else ""
    return None, None, "capability: not evaluated, the band changed among these units; give one"


def _notes(
    points: Sequence[ChartPoint],
    limits: ControlLimits | None,
    held: Capability | None,
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
    elif held is None:
        notes.append("capability: not evaluated, too few units or units that do not differ")
    else:
        notes.append("capability uses the scatter of all units shown and takes them as normally distributed")
    told = [point.expanded_uncertainty for point in points if point.expanded_uncertainty is not None]
    if told and limits is not None and limits.sigma > 0.0 and np.median(told) / 2.0 > limits.sigma / 2.0:
        share = np.median(told) / 2.0 / limits.sigma
        notes.append(
            f"the measurement's own standard uncertainty is {share:.1f} of the chart's sigma: part of this scatter is "
            "the bench's"
        )
    return tuple(notes)
