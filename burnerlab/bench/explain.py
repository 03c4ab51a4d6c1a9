"""Which cause explains a reading: shares by Bayes' rule, and the measurement that would tell most."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from burnerlab import tables
from burnerlab.appliance.model import Appliance
from burnerlab.bench.danger import danger_of, stops_of
from burnerlab.bench.decision import bench_limit
from burnerlab.bench.hypotheses import Hypotheses, by_cause, hypotheses, log_shares, normalised
from burnerlab.bench.information import NextMeasurement, entropy_bit, most_telling, offered, ranked
from burnerlab.bench.manifold import ManifoldCheck, manifold_check
from burnerlab.bench.stop import StopNotice
from burnerlab.bench.unit import Method, OtherSupply, bench_of
from burnerlab.quantity.error import Problem, UserError

Array = NDArray[np.float64]
PRESSURE, PRESSURE_U = "manifold pressure", 0.03  # its relative standard uncertainty where its row is missing
READING_U = 0.02  # relative standard uncertainty of a reading of which none is told: an expanded one of 4 %
POSSIBLE_RATIO = (1e-3, 1e3)
NONE = "none of these"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What was read at the bench, over what was expected."""

    ratio: float  # measured over expected heat input [-]
    relative_uncertainty: float = READING_U  # standard [-]
    pressure_ratio: float | None = None  # manifold pressure over nominal, None when not read [-]

    def check(self) -> None:
        """Refuse a ratio that no reading gives, and an uncertainty that is none."""
        low, high = POSSIBLE_RATIO
        problems = []
        for key, value in (
            ("measured over expected", self.ratio),
            ("manifold pressure over nominal", self.pressure_ratio),
        ):
            if value is not None and not low <= value <= high:
                accepted = f"{low:g} to {high:g}"
                problems.append(Problem("cannot be: check the unit", f"{value:.3g}", key, accepted=accepted))
        if not 0.0 < self.relative_uncertainty <= 0.5:
            given = f"{100 * self.relative_uncertainty:g} %"
            problems.append(Problem("must be above 0 and at most 50 %", given, "uncertainty"))
        if problems:
            raise UserError(problems)


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """One cause and how well it explains the reading."""

    cause: str
    title: str
    words: str  # the likeliest way in which it shows itself
    predicted_ratio: float  # there, nearest to the reading [-]
    predicted_low: float  # over all its ways
    predicted_high: float
    prior: float
    share: float  # after the reading [-]
    overfire: bool  # whether it can drive a burner beyond what is expected
    hottest: float  # heat input of the hottest burner over its expected one, in that way [-]
    next_measurement: str  # that would best confirm or rule out this cause
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """Causes of a reading, likeliest first, and what to measure next."""

    appliance: str
    burner: str  # "" for all burners together
    method: Method
    reading: Reading
    expected_gross_W: float
    scatter: float  # relative standard deviation of reading and unit together [-]
    causes: tuple[Explained, ...]
    measurements: tuple[NextMeasurement, ...]  # most telling first
    uncertain_bit: float  # entropy of the shares
    fits: bool  # whether a cause of the list explains the reading
    overfire_share: float  # of the possibilities in which a burner burns more than a tenth above its own [-]
    other_gas_share: float  # of those in which another gas flows [-]
    stops: tuple[StopNotice, ...]  # worst first; while one is open nothing is measured with gas
    manifold: ManifoldCheck | None
    notes: tuple[str, ...]

    @property
    def stop(self) -> StopNotice | None:
        """The worst of the notices to stop; None when there is none."""
        return self.stops[0] if self.stops else None

    @property
    def next_measurement(self) -> NextMeasurement | None:
        """The one measurement that best separates the causes that remain."""
        return self.measurements[0] if self.measurements else None

    @property
    def overfire(self) -> tuple[Explained, ...]:
        """Causes that can overfire a burner, whatever their share."""
        return tuple(one for one in self.causes if one.overfire)


def explain(
    appliance: Appliance,
    reading: Reading,
    burner: str | None = None,
    *,
    method: Method = "meter",
    other: OtherSupply | None = None,
    own_causes: Path | None = None,
    own_measurements: Path | None = None,
) -> Explanation:
    """Rank the causes of a reading that is off, and name the measurement that separates them best.

    appliance : as its file describes it; reading : measured over expected, with its uncertainty
    burner : the one that was on, None for all; method : meter or scale; other : the other gas and its pressure
    own_causes, own_measurements : CSV files of the shipped tables' columns
    Share: prior times likelihood over all possibilities of a cause, Bayes' rule.
    Raises UserError for a burner the appliance has not, and a ratio that cannot be.

    >>> from burnerlab.appliance import demonstration
    >>> found = explain(demonstration(), Reading(ratio=0.36, pressure_ratio=1.0), "stock-pot ring")
    >>> found.causes[0].cause
    'part blockage'
    """
    reading.check()
    h = hypotheses(bench_of(appliance, burner, method, other), own_causes)
    scatter = math.hypot(reading.relative_uncertainty, h.unit_scatter)
    log_weights = log_shares(h, math.log(reading.ratio), scatter)[0]
    rows = offered(h, own_measurements)
    if reading.pressure_ratio is not None:
        u = next((float(r["standard_uncertainty"]) for r in rows if r["measurement"] == PRESSURE), PRESSURE_U)
        off = (math.log(reading.pressure_ratio) - np.log(h.worlds.pressure)) / u
        log_weights = log_weights - 0.5 * off * off
        rows = [row for row in rows if row["measurement"] != PRESSURE]
    weights = normalised(log_weights)
    shares = by_cause(h, weights[None, :])[0]
    expected = float(np.sum(h.bench.expected_W))
    danger = danger_of(h, weights, reading.ratio)
    check = _manifold(appliance, reading, burner, expected)
    stops = stops_of(h, weights, danger, check)
    if stops:
        rows = [row for row in rows if row["gas"] == "off"]
    listed = _explained(h, log_weights, shares, rows)
    return Explanation(
        appliance=appliance.name,
        burner=h.bench.burners[0].name if burner else "",
        method=method,
        reading=reading,
        expected_gross_W=expected,
        scatter=scatter,
        causes=listed,
        measurements=ranked(h, weights, rows),
        uncertain_bit=float(entropy_bit(shares)),
        fits=next((one.share for one in listed if one.cause == NONE), 0.0) <= bench_limit("none_fits").high,
        overfire_share=danger.overfire,
        other_gas_share=danger.other_gas,
        stops=stops,
        manifold=check,
        notes=_notes(h, scatter, danger.overfire),
    )


def _explained(
    h: Hypotheses, log_weights: Array, shares: Array, rows: Sequence[tables.Row]
) -> tuple[Explained, ...]:
    ratio, hottest, limit = np.exp(h.log_reading), h.worlds.hottest, bench_limit("overfire").high
    found = []
    for i, cause in enumerate(h.causes):
        mine = np.flatnonzero(h.cause_of == i)
        best = mine[np.argmax(log_weights[mine])]
        found.append(
            Explained(
                cause=cause.name,
                title=cause.title,
                words=h.variants[int(h.variant_of[best])].words,
                predicted_ratio=float(ratio[best]),
                predicted_low=float(ratio[mine].min()),
                predicted_high=float(ratio[mine].max()),
                prior=float(h.priors[i]),
                share=float(shares[i]),
                overfire=bool(hottest[mine].max() > limit),
                hottest=float(hottest[best]),
                next_measurement=most_telling(h, log_weights, i, rows),
                source=cause.source,
            )
        )
    return tuple(sorted(found, key=lambda one: -one.share))


def _manifold(
    appliance: Appliance, reading: Reading, burner: str | None, expected_W: float
) -> ManifoldCheck | None:
    if reading.pressure_ratio is None:
        return None
    pressure = reading.pressure_ratio * appliance.supply.gauge_pressure_Pa
    return manifold_check(appliance, pressure, burner, reading.ratio * expected_W)


def _notes(h: Hypotheses, scatter: float, hot: float) -> tuple[str, ...]:
    notes = []
    if hot > bench_limit("told_overfire").high:
        notes.append(
            f"a burner may be overfired (share {100 * hot:.0f} %): keep the appliance off until that is ruled out"
        )
    notes += [
        "shares follow from the prior shares of the table of causes, which are a judgement, not a count",
        f"readings and sound units are taken to scatter by {100 * scatter:.1f} % (one standard deviation)",
        "one cause at a time is looked at: two faults together can look like a third",
    ]
    if not h.bench.others:
        notes.append(
            "no other gas is known at a pressure of this region: its orifices and regulator are left out"
        )
    return tuple(notes)
