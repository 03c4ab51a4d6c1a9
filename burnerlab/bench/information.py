"""What a further measurement is expected to tell of the cause, in bits."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from burnerlab import tables
from burnerlab.bench.hypotheses import Hypotheses, normalised

Array = NDArray[np.float64]
DRAWN, SEED = 256, 1  # possibilities drawn to see what a measurement would tell
NEGLIGIBLE = 1e-9  # share of a possibility that no measurement is asked about


@dataclass(frozen=True, slots=True, kw_only=True)
class NextMeasurement:
    """Something that can be measured next, and how much it is expected to tell."""

    measurement: str
    title: str
    minutes: float
    hazard: str  # none, burning, opened
    information_bit: float


def entropy_bit(shares: Array) -> Array:
    """Entropy of shares along the last axis [bit].

    >>> float(entropy_bit(np.array([0.5, 0.5])))
    1.0
    """
    safe = np.where(shares > 0.0, shares, 1.0)
    found: Array = -np.sum(shares * np.log2(safe), axis=-1)
    return found


OUTCOMES: Mapping[str, Callable[[Hypotheses], Array]] = {
    "meter at rest": lambda h: np.log1p(h.worlds.other_load)[:, None],
    "dial plate": lambda h: np.log(h.worlds.dial)[:, None],
    "regulator marking": lambda h: np.log(h.worlds.other_regulator)[:, None],
    "gas label": lambda h: np.log(h.worlds.other_gas)[:, None],
    "heating value": lambda h: np.where(h.worlds.other_gas > 1.0, 0.0, np.log(h.worlds.worth))[:, None],
    "meter state": lambda h: np.log(h.worlds.state)[:, None],
    "clock again": lambda h: np.log(h.worlds.repeated(h.bench.weights))[:, None],
    "manifold pressure": lambda h: np.log(h.worlds.pressure)[:, None],
    "one burner at a time": lambda h: _each_alone(h),
    "orifice marking": lambda h: np.log(h.worlds.mark_area),
    "drill gauge": lambda h: np.log(h.worlds.hole_area),
    "scale": lambda h: _by_other_method(h),
    "meter": lambda h: _by_other_method(h),
}
"""Logarithm of what each measurement would find, over what is taken to be [possibility, figure]."""


def _each_alone(h: Hypotheses) -> Array:
    w = h.worlds
    alone = w.burner_flow + w.other_load[:, None] / h.bench.weights
    found: Array = np.log(alone * (w.dial * w.worth * w.state * w.slip)[:, None])
    return found


def _by_other_method(h: Hypotheses) -> Array:
    found: Array = np.log(h.worlds.burner_flow @ h.bench.weights * h.worlds.other_worth)[:, None]
    return found


def offered(h: Hypotheses, own: Path | None) -> Sequence[tables.Row]:
    """Measurements that can be made here."""
    can = {"any", "", h.bench.method}
    if len(h.bench.burners) > 1:
        can.add("several")
    if h.bench.is_LP:
        can.add("LP")
    rows = tables.read("next_measurements", own)
    return [row for row in rows if set(row["needs"].split(" ")) <= can and row["measurement"] in OUTCOMES]


def expected_information(
    h: Hypotheses, weights: Array, outcome: Array, scatter: float, seed: int = SEED
) -> float:
    """What a measurement is expected to tell of the cause: the mutual information of both [bit].

    A cause that is not in the list counts as two: a fault of the appliance, and a slip of the reading.

    weights : of the possibilities now, adding up to one [-]; outcome : predicted logarithms [possibility, figure]
    scatter : standard deviation of the measured logarithm [-]
    Averaged over outcomes drawn from the possibilities.
    """
    random = np.random.default_rng(seed)
    kept = np.flatnonzero(weights > NEGLIGIBLE)
    w, mu = weights[kept] / weights[kept].sum(), outcome[kept] / scatter
    steps = (np.arange(DRAWN) + random.random()) / DRAWN
    drawn = np.minimum(np.searchsorted(np.cumsum(w), steps), len(kept) - 1)
    seen = mu[drawn] + random.standard_normal((DRAWN, mu.shape[1]))
    square = (seen**2).sum(axis=1)[:, None] - 2.0 * seen @ mu.T + (mu**2).sum(axis=1)
    after = normalised(np.log(w) - 0.5 * square)
    member = np.zeros((len(kept), len(h.causes) + 1))
    member[np.arange(len(kept)), h.told_of[kept]] = 1.0
    told = float(entropy_bit(w @ member)) - float(np.mean(entropy_bit(after @ member)))
    return max(told, 0.0)


def power_against(h: Hypotheses, log_weights: Array, cause: int, outcome: Array, scatter: float) -> float:
    """How well a measurement tells one cause from all others: 1 - exp(-d^2/8), averaged over the others [-].

    d : distance of the predicted outcomes in standard deviations, from the likeliest possibility of the cause
    """
    mine = h.cause_of == cause
    best = np.flatnonzero(mine)[np.argmax(log_weights[mine])]
    if mine.all():
        return 0.0
    rest = normalised(log_weights[~mine])
    square = np.sum(((outcome[~mine] - outcome[best]) / scatter) ** 2, axis=1)
    return float(rest @ -np.expm1(-square / 8.0))


def most_telling(h: Hypotheses, log_weights: Array, cause: int, rows: Sequence[tables.Row]) -> str:
    """The measurement that best confirms or rules out one cause; the quicker of two that tell alike, "" for none."""
    powers = {
        row["measurement"]: power_against(
            h, log_weights, cause, OUTCOMES[row["measurement"]](h), float(row["standard_uncertainty"])
        )
        for row in rows
    }
    minutes = {row["measurement"]: float(row["minutes"]) for row in rows}
    best = max(powers, key=lambda name: (round(powers[name], 3), -minutes[name]), default="")
    return best if best and powers[best] > 0.0 else ""


HAZARDS = (
    "none",
    "burning",
    "opened",
)  # of a measurement: nothing, gas that burns, a gas part that is opened
WORTHWHILE = (
    0.5  # of what the most telling measurement tells: those above are taken in the order of their hazard
)


def ranked(h: Hypotheses, weights: Array, rows: Sequence[tables.Row]) -> tuple[NextMeasurement, ...]:
    """The measurements to take, in order: of those that tell much the harmless and quick first, then the rest.

    Much is at least half of what the most telling one tells.
    """
    found = [
        NextMeasurement(
            measurement=row["measurement"],
            title=row["title"],
            minutes=float(row["minutes"]),
            hazard=row["hazard"],
            information_bit=expected_information(
                h, weights, OUTCOMES[row["measurement"]](h), float(row["standard_uncertainty"])
            ),
        )
        for row in rows
    ]
    least = WORTHWHILE * max((one.information_bit for one in found), default=0.0)

    def order(one: NextMeasurement) -> tuple[float, ...]:
        if one.information_bit < least:
            return (1, -round(one.information_bit, 3), one.minutes)
        return (0, HAZARDS.index(one.hazard), one.minutes, -one.information_bit)

    return tuple(sorted(found, key=order))
