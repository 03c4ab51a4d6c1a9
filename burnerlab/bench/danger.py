"""What a reading may hide: another gas, a burner above its rating, a pressure above its range, as notices to stop.

A notice rests on the probability of what would be burning, never on the rank of a cause: a low reading may come from
a burner that fires at twice its rating.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.bench.decision_rule import bench_limit
from burnerlab.bench.faults.scenarios import Hypotheses
from burnerlab.bench.manifold import ManifoldCheck, pressure_stops
from burnerlab.bench.reading import Reading
from burnerlab.bench.stop import (
    StopNotice,
    power_words,
    pressure_words,
    share_words,
    stop_notice,
    worst_first,
)
from burnerlab.bench.unit import FiringState

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Danger:
    """What may be burning, after the readings."""

    other_gas: float  # probability that another gas than that of the file flows [-]
    sound: float  # that the unit is as drawn [-]
    overfire: float  # probability that a burner burns more than a tenth above its expected input [-]
    highest_reading: float | None  # largest at full over expected, or beyond a low rate's own limit [-]
    highest_W: float  # of that reading, gross, beside its rating and expected input; 0 where there is none
    rated_W: float
    expected_W: float
    burner: str  # that was on then, "" for all
    read: str  # the reading it rests on, in words
    moves: bool = False  # the meter moves with every burner off

    @property
    def stops_gas(self) -> bool:
        """Whether another gas is likely enough to stop the test, and likelier than a unit as drawn."""
        return bool(gas_stops(self.other_gas, self.sound))

    @property
    def reads_above(self) -> bool:
        """Whether a reading itself is more than a tenth above what is expected."""
        return self.highest_reading is not None and self.highest_reading > bench_limit("overfire").high

    @property
    def stops_overfire(self) -> bool:
        """Whether a burner may well be above its rating, by the reading or by what may hide behind it."""
        return self.reads_above or bool(self.overfire > bench_limit("stop_overfire").high)


def gas_stops(other_gas: ArrayLike, sound: ArrayLike) -> Any:
    """Whether these probabilities of another gas and of a unit as drawn stop a test; one case or many."""
    return np.greater(other_gas, bench_limit("stop_wrong_gas").high) & np.greater(other_gas, sound)


def danger_of(h: Hypotheses, weights: Array, readings: Sequence[Reading]) -> Danger:
    """Probabilities of what stops a test; weights of the possibilities add up to one."""
    w, beyond = h.scenarios, bench_limit("overfire").high
    read_W = [
        (one.ratio, one.ratio * firing.expected_W, firing)
        for one, firing in zip(readings, h.unit.firings, strict=True)
        if one.ratio is not None
    ]
    at_low = bench_limit("overfire at low").high
    heats = [one for one in read_W if not one[2].low or one[0] > at_low]
    highest = max(heats, key=lambda one: one[0], default=None)
    shown = highest[1] if highest is not None and highest[0] > beyond else read_W[0][1] if read_W else None
    pressures = [
        one.pressure_ratio * firing.expected.manifold_Pa
        for one, firing in zip(readings, h.unit.firings, strict=True)
        if one.pressure_ratio is not None
    ]
    nominal = h.unit.conditions.gauge_pressure_Pa
    read = power_words(shown) if shown is not None else pressure_words(max(pressures, default=nominal))
    return Danger(
        other_gas=float(weights[w.other_gas > 1.0].sum()),
        sound=float(weights[h.is_sound].sum()),
        overfire=float(weights[w.hottest > beyond].sum()),
        highest_reading=None if highest is None else highest[0],
        highest_W=0.0 if highest is None else highest[1],
        rated_W=0.0 if highest is None else _rated_W(h, highest[2]),
        expected_W=0.0 if highest is None else highest[2].expected_W,
        burner="" if highest is None else highest[2].burner,
        read=read,
        moves=any(one.at_rest == "moves" for one in readings),
    )


def _rated_W(h: Hypotheses, firing: FiringState) -> float:
    """Rated heat input of what was on in a reading, gross, at its rate."""
    return float(firing.weights * np.sum(h.unit.expected_W) / h.unit.expected_W @ h.unit.rated_gross_W)


def stops_of(
    h: Hypotheses, weights: Array, danger: Danger, check: ManifoldCheck | None
) -> tuple[StopNotice, ...]:
    """The notices that readings raise, worst first."""
    found = []
    if danger.moves:
        why = "the meter moves with every burner off: a leak until another load is found"
        found.append(stop_notice("odour", why=why))
    if danger.stops_gas:
        found.append(_other_gas(h, weights, danger))
    if danger.stops_overfire:
        found.append(_overfire(h, weights, danger))
    if check is not None:
        found += pressure_stops(check)
    return worst_first(found)


def _likeliest(h: Hypotheses, weights: Array, among: NDArray[np.bool_]) -> int:
    places = np.flatnonzero(among)
    return int(places[np.argmax(weights[places])])


def _other_gas(h: Hypotheses, weights: Array, danger: Danger) -> StopNotice:
    here = _likeliest(h, weights, h.scenarios.other_gas > 1.0)
    true_W = float(h.scenarios.burner_flow[here] @ h.unit.expected_W)
    over = true_W / float(np.sum(h.unit.rated_gross_W)) - 1.0
    return stop_notice(
        "wrong-gas",
        gas=h.variants[int(h.variant_of[here])].gas,
        read=danger.read,
        true=power_words(true_W),
        percent=f"{100 * abs(over):.0f} % {'above' if over >= 0.0 else 'below'}",
        why=f"{h.words_of(here)}, probability {share_words(danger.other_gas)}",
    )


def _overfire(h: Hypotheses, weights: Array, danger: Danger) -> StopNotice:
    w = h.scenarios
    here = _likeliest(h, weights, w.hottest > bench_limit("overfire").high)
    place = int(np.argmax(w.burner_flow[here]))
    true_W = float(w.burner_flow[here, place] * h.unit.expected_W[place])
    rated_W, expected_W = float(h.unit.rated_gross_W[place]), float(h.unit.expected_W[place])
    against, over = _above(true_W, rated_W, expected_W)
    burner = f"{h.unit.burners[place].name}, rated {power_words(rated_W)},"
    true = f"{power_words(true_W)} ({h.words_of(here)})"
    why = f"probability {share_words(danger.overfire)} that a burner is over its rating"
    if danger.reads_above:
        read_against, read = _above(danger.highest_W, danger.rated_W, danger.expected_W)
        why = f"the reading is {100 * read:.0f} % above the {read_against}"
        if read > over:  # the reading itself is the worst that is known
            against, over, true = read_against, read, f"{danger.read}, as read"
            burner = danger.burner or "all burners together"
    return stop_notice(
        "overfire",
        percent=f"{100 * over:.0f} %",
        against=against,
        read=danger.read,
        burner=burner,
        true=true,
        why=why,
    )


def _above(value_W: float, rated_W: float, expected_W: float) -> tuple[str, float]:
    """What a heat input is held against, the smaller of rating and expected input, and the share it is above it."""
    held = min(("rating", rated_W), ("expected input", expected_W), key=lambda one: one[1])
    return held[0], value_W / held[1] - 1.0


def danger_first(
    probability: ArrayLike, danger: ArrayLike, *, likeliest_first: bool = True
) -> NDArray[np.int64]:
    """Places by falling probability, those that endanger before the rest of the list but not before its first.

    probability : along the last axis [..., cause]; danger : the part of it that endangers [..., cause]
    likeliest_first : False where what endangers goes before even that one
    What endangers is moved up when that part is above the limit ``said_first``.

    >>> danger_first([0.5, 0.3, 0.15, 0.05], [0.0, 0.0, 0.0, 0.05]).tolist()
    [0, 3, 1, 2]
    """
    p = np.asarray(probability, dtype=float)
    raised = np.asarray(danger) > bench_limit("said_first").high
    likeliest = p == p.max(axis=-1, keepdims=True)
    found: NDArray[np.int64] = np.argsort(
        -(p + np.where(raised, 1.0, 0.0) + np.where(likeliest & likeliest_first, 4.0, 0.0)), axis=-1
    )
    return found
