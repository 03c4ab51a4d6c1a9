"""What a reading may hide: another gas, a burner above its rating, a pressure above its range, as notices to stop.

A notice rests on the probability of what would be burning, never on the rank of a cause: a low reading may come from
a burner that fires at twice its rating.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from burnerlab.bench.decision import bench_limit
from burnerlab.bench.hypotheses import Hypotheses
from burnerlab.bench.manifold import ManifoldCheck
from burnerlab.bench.stop import StopNotice, stop_notice, worst_first
from burnerlab.bench.stop_rules import power_words, pressure_stops

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Danger:
    """What may be burning, after the readings."""

    other_gas: float  # probability that another gas than that of the file flows [-]
    overfire: float  # probability that a burner burns more than a tenth above its expected input [-]
    highest_reading: float  # largest heat input read over expected [-]

    @property
    def stops_gas(self) -> bool:
        """Whether another gas is likely enough to stop the test."""
        return self.other_gas > bench_limit("stop_wrong_gas").high

    @property
    def stops_overfire(self) -> bool:
        """Whether a burner may well be above its rating, by the reading or by what may hide behind it."""
        above = self.highest_reading > bench_limit("overfire").high
        return above or self.overfire > bench_limit("stop_overfire").high


def danger_of(h: Hypotheses, weights: Array, highest_reading: float) -> Danger:
    """Probabilities of what stops a test; weights of the possibilities add up to one."""
    w = h.worlds
    return Danger(
        other_gas=float(weights[w.other_gas > 1.0].sum()),
        overfire=float(weights[w.hottest > bench_limit("overfire").high].sum()),
        highest_reading=highest_reading,
    )


def stops_of(
    h: Hypotheses, weights: Array, danger: Danger, check: ManifoldCheck | None
) -> tuple[StopNotice, ...]:
    """The notices that readings raise, worst first."""
    found = []
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


def _read_words(h: Hypotheses, danger: Danger) -> str:
    return power_words(danger.highest_reading * float(np.sum(h.bench.expected_W)))


def _other_gas(h: Hypotheses, weights: Array, danger: Danger) -> StopNotice:
    here = _likeliest(h, weights, h.worlds.other_gas > 1.0)
    true_W = float(h.worlds.burner_flow[here] @ h.bench.expected_W)
    over = true_W / float(np.sum(h.bench.rated_gross_W)) - 1.0
    variant = h.variants[int(h.variant_of[here])]
    return stop_notice(
        "wrong-gas",
        gas=variant.gas,
        read=_read_words(h, danger),
        true=power_words(true_W),
        percent=f"{100 * abs(over):.0f} % {'above' if over >= 0.0 else 'below'}",
        why=f"{variant.words}, probability {100 * danger.other_gas:.0f} %",
    )


def _overfire(h: Hypotheses, weights: Array, danger: Danger) -> StopNotice:
    limit, w = bench_limit("overfire").high, h.worlds
    above = danger.highest_reading > limit
    hot = w.hottest > limit
    if above and not weights[hot].sum() > 0.0:
        hot = np.ones(len(w), dtype=bool)
    here = _likeliest(h, weights, hot)
    burner = int(np.argmax(w.burner_flow[here]))
    name, rated_W = h.bench.burners[burner].name, h.bench.rated_gross_W[burner]
    true_W = float(w.burner_flow[here, burner] * h.bench.expected_W[burner])
    if true_W <= rated_W:  # nothing known drives it so far: the reading itself is what is known
        true_W, rated_W = (
            danger.highest_reading * float(np.sum(h.bench.expected_W)),
            float(np.sum(h.bench.rated_gross_W)),
        )
        name = "as read"
    why = (
        f"the reading is {100 * (danger.highest_reading - 1.0):.0f} % above what is expected"
        if above
        else f"probability {100 * danger.overfire:.0f} % that a burner is over its rating"
    )
    return stop_notice(
        "overfire",
        percent=f"{100 * (true_W / rated_W - 1.0):.0f} %",
        read=_read_words(h, danger),
        true=f"{power_words(true_W)}, {name}",
        why=why,
    )
