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

from burnerlab.bench.decision import bench_limit
from burnerlab.bench.hypotheses import Hypotheses
from burnerlab.bench.manifold import ManifoldCheck, pressure_stops
from burnerlab.bench.reading import Reading
from burnerlab.bench.stop import StopNotice, power_words, pressure_words, stop_notice, worst_first

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Danger:
    """What may be burning, after the readings."""

    other_gas: float  # probability that another gas than that of the file flows [-]
    sound: float  # that the unit is as drawn [-]
    overfire: float  # probability that a burner burns more than a tenth above its expected input [-]
    highest_reading: float | None  # largest at full over expected, or beyond a low rate's own limit [-]
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
    w = h.worlds
    heats = [
        (one.ratio, one.ratio * shot.expected_W)
        for one, shot in zip(readings, h.bench.shots, strict=True)
        if one.ratio is not None and (not shot.low or one.ratio > bench_limit("overfire at low").high)
    ]
    any_heat = [
        one.ratio * shot.expected_W
        for one, shot in zip(readings, h.bench.shots, strict=True)
        if one.ratio is not None
    ]
    highest = max((ratio for ratio, _ in heats), default=None)
    shown = (
        max(heats)[1] if highest and highest > bench_limit("overfire").high else next(iter(any_heat), None)
    )
    pressures = [
        one.pressure_ratio * shot.expected.manifold_Pa
        for one, shot in zip(readings, h.bench.shots, strict=True)
        if one.pressure_ratio is not None
    ]
    nominal = h.bench.conditions.gauge_pressure_Pa
    read = power_words(shown) if shown is not None else pressure_words(max(pressures, default=nominal))
    return Danger(
        other_gas=float(weights[w.other_gas > 1.0].sum()),
        sound=float(weights[h.is_sound].sum()),
        overfire=float(weights[w.hottest > bench_limit("overfire").high].sum()),
        highest_reading=highest,
        read=read,
        moves=any(one.at_rest == "moves" for one in readings),
    )


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
    here = _likeliest(h, weights, h.worlds.other_gas > 1.0)
    true_W = float(h.worlds.burner_flow[here] @ h.bench.expected_W)
    over = true_W / float(np.sum(h.bench.rated_gross_W)) - 1.0
    return stop_notice(
        "wrong-gas",
        gas=h.variants[int(h.variant_of[here])].gas,
        read=danger.read,
        true=power_words(true_W),
        percent=f"{100 * abs(over):.0f} % {'above' if over >= 0.0 else 'below'}",
        why=f"{h.words_of(here)}, probability {100 * danger.other_gas:.2g} %",
    )


def _overfire(h: Hypotheses, weights: Array, danger: Danger) -> StopNotice:
    w = h.worlds
    hot = w.hottest > bench_limit("overfire").high
    here = _likeliest(h, weights, hot)
    burner = int(np.argmax(w.burner_flow[here]))
    true_W = float(w.burner_flow[here, burner] * h.bench.expected_W[burner])
    least_W = min(float(h.bench.rated_gross_W[burner]), float(h.bench.expected_W[burner]))
    over, shown = true_W / least_W - 1.0, power_words(true_W)
    words = f"{h.bench.burners[burner].name}: {h.words_of(here)}"
    reason = f"probability {100 * danger.overfire:.2g} % that a burner is over its rating"
    if danger.reads_above:
        read = (danger.highest_reading or 1.0) - 1.0
        reason = f"the reading is {100 * read:.0f} % above what is expected"
        if read > over:  # the reading itself is the worst that is known
            over, words, shown = read, "as read", danger.read
    return stop_notice(
        "overfire",
        percent=f"{100 * over:.0f} %",
        read=danger.read,
        true=f"{shown}, {words}",
        why=reason,
    )
