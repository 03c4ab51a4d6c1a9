"""Expected information of the next measurement, and the order in which measurements are taken."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from burnerlab import tables
from burnerlab.bench.faults.scenarios import Hypotheses, deviations, normalised
from burnerlab.bench.reading.readings import Reading
from burnerlab.bench.reading.scale import least_weighing_min
from burnerlab.bench.unit import heat_of
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import output

Array = NDArray[np.float64]
STANDING, DRAWN, SEED = (
    1024,
    256,
    1,
)  # possibilities that stand for all, and those of them whose outcome is drawn
WEAK = 0.1  # how well a measurement must tell a cause from the others to be named for it
FAR = 7.0  # of a logarithm: possibilities a thousand times less likely than the likeliest are left out
OPENED = "opened"  # hazard of a measurement for which a gas part is opened
WORTHWHILE = 0.25  # of what the most telling measurement tells
SETTLED_BIT = 0.3  # of doubt about what to do: below it a measurement is to tell which way of a cause it is
NO_DOUBT_BIT = 0.01
LITTLE = 0.02  # of the doubt: what settles less is not worth its time
AT_RELEASE, AFTER_RELEASE = RELEASE = ("at release", "after release")  # by a qualified person alone
WHEN = ("gas off", *RELEASE)  # a measurement may be taken while a stop is open
SLIPS: Mapping[str, str] = {"revolutions miscounted": "clock again"}
"""Causes that another reading does not repeat, and the measurement that shows them, whatever else tells them apart."""
IDENTIFY = ("gas label", "regulator marking", "orifice marking")
BY_PRESSURE = ("manifold pressure", "inlet pressure")


@dataclass(frozen=True, slots=True, kw_only=True)
class NextMeasurement:
    """Something that can be found next, what it costs, and how much doubt it is expected to settle."""

    measurement: str = field(metadata=output("measurement"))
    title: str = field(metadata=output("title"))
    time_min: float = field(metadata=output("time", unit="min"))
    hazard: str = field(metadata=output("hazard"))  # none, burning, opened
    needs_gas: bool = field(metadata=output("needs gas"))
    information_bit: float = field(metadata=output("information", unit="bit"))
    settles: float = field(metadata=output("settles of the doubt", Kind.FRACTION))
    when: str = field(
        default="", metadata=output("with a stop open")
    )  # one of ``WHEN``; "" where it is not taken


def entropy_bit(shares: Array) -> Array:
    """Entropy of shares along the last axis [bit].

    >>> float(entropy_bit(np.array([0.5, 0.5])))
    1.0
    """
    safe = np.where(shares > 0.0, shares, 1.0)
    entropy: Array = -np.sum(shares * np.log2(safe), axis=-1)
    return entropy


OUTCOMES: Mapping[str, Callable[[Hypotheses], Array]] = {
    "gas label": lambda h: np.log(h.scenarios.other_gas)[:, None],
    "regulator marking": lambda h: np.log(h.scenarios.other_regulator)[:, None],
    "meter at rest": lambda h: np.log1p(h.scenarios.rest_load)[:, None],
    "dial plate": lambda h: np.log(h.scenarios.dial)[:, None],
    "meter certificate": lambda h: np.log(h.scenarios.meter)[:, None],
    "heating value": lambda h: np.where(h.scenarios.other_gas > 1.0, 0.0, np.log(h.scenarios.by_volume))[
        :, None
    ],
    "meter state": lambda h: np.log(h.scenarios.state)[:, None],
    "full position": lambda h: np.log(h.scenarios.opening)[:, None],
    "clock again": lambda h: _again(h),
    "full rate": lambda h: _at_full(h),
    "manifold pressure": lambda h: np.log(h.scenarios.pressure_share(h.unit.highest_load))[:, None],
    "inlet pressure": lambda h: np.log(h.scenarios.inlet_share(h.unit.highest_load))[:, None],
    "one burner at a time": lambda h: _each_alone(h),
    "orifice marking": lambda h: np.log(h.scenarios.mark_area),
    "drill gauge": lambda h: np.log(h.scenarios.hole_area),
    "scale": lambda h: _by_scale(h),
    "weigh again": lambda h: _again(h),
}
"""Logarithm of what each measurement would find, over what is taken to be [possibility, figure]."""


def _again(h: Hypotheses) -> Array:
    firing = h.unit.firings[0]
    return np.log(h.scenarios.repeated(firing.weights, firing.load, firing.method, low=firing.low))[:, None]


def _at_full(h: Hypotheses) -> Array:
    """A reading of the same burners at full rate."""
    firing = h.unit.firings[0]
    on = firing.weights > 0.0
    weights, load = np.where(on, h.unit.weights, 0.0), float(h.unit.expected_W[on].sum()) / h.unit.whole_W
    return np.log(h.scenarios.reading(weights, load, firing.method))[:, None]


def _each_alone(h: Hypotheses) -> Array:
    n, weights, method = len(h.unit.burners), h.unit.weights, h.unit.firings[0].method
    loads = h.unit.expected_W / h.unit.whole_W
    alone = [
        h.scenarios.reading(np.where(np.arange(n) == i, weights, 0.0), float(loads[i]), method)
        for i in range(n)
    ]
    log_flows: Array = np.log(np.stack(alone, axis=1))
    return log_flows


def _by_scale(h: Hypotheses) -> Array:
    firing = h.unit.firings[0]
    log_ratio: Array = np.log(h.scenarios.repeated(firing.weights, firing.load, "scale", low=firing.low))[
        :, None
    ]
    return log_ratio


def least_minutes(h: Hypotheses, readings: Sequence[Reading]) -> dict[str, float]:
    """Minutes that a measurement takes at least: a weighing, by the last digit of the scale."""
    firing, heat = h.unit.firings[0], heat_of(h.unit.appliance)
    if firing.method != "scale" or heat.gross_J_per_kg is None:
        return {}
    digits_kg = [one.scale_digit_kg for one in readings if one.scale_digit_kg is not None]
    return {
        "weigh again": least_weighing_min(
            firing.expected_W / heat.gross_J_per_kg, max(digits_kg, default=None)
        )
    }


def offered(h: Hypotheses, readings: Sequence[Reading], own: Path | None) -> Sequence[tables.Row]:
    """Measurements that can be made here and were not made yet, with what the shipped table says of each."""
    can = {"any", "", *h.unit.methods}
    single = {firing.burner for firing in h.unit.firings if firing.burner}
    if len({one.name for one in h.unit.burners} - single) > 1:
        can.add("several")
    if h.unit.is_LP:
        can.add("LP")
    if all(firing.low for firing in h.unit.firings):
        can.add("low")
    methods: set[str] = set(h.unit.methods)
    if any(one.at_rest for one in readings):
        methods.add("meter at rest")
    if any(one.pressure_ratio is not None for one in readings):
        methods.add("manifold pressure")
    if h.unit.firings[0].low:  # its knob was turned from full
        methods.add("full position")
    return [
        row
        for row in tables.read("next_measurements", own)
        if set(row["needs"].split(" ")) <= can
        and row["measurement"] in OUTCOMES
        and row["measurement"] not in methods
    ]


def scatter_of(h: Hypotheses, row: tables.Row) -> float:
    """Standard deviation of the logarithm that a measurement finds [-]; a pressure has that of the regulator too."""
    u = float(row["standard_uncertainty"])
    deviation = deviations(h.unit.appliance)["pressure"] if row["measurement"] in BY_PRESSURE else 0.0
    return float(np.hypot(u, deviation))


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """What a measurement is to settle: what to do or, where that is nearly settled, which way of a cause it is."""

    bit: float  # entropy of the probabilities of its classes
    standing: NDArray[np.int64]  # possibilities drawn by their weights that stand for all, class by class
    starts: NDArray[np.int64]  # where each class begins among them

    @property
    def class_of(self) -> NDArray[np.int64]:
        """The class of each of those possibilities, numbered as they stand."""
        numbers: NDArray[np.int64] = np.repeat(
            np.arange(len(self.starts)), np.diff(self.starts, append=len(self.standing))
        )
        return numbers

    def by_class(self, weights: Array) -> Array:
        """Weights of those possibilities summed over each class [set, class]."""
        sums: Array = np.add.reduceat(weights, self.starts, axis=-1)
        return sums


def doubt_of(h: Hypotheses, weights: Array, seed: int = SEED) -> Doubt:
    """The doubt that is left; what nobody listed counts as two: a fault of the appliance, a slip of the reading.

    weights : of the possibilities now, adding up to one [-]
    """

    def entropy_of(classes: NDArray[np.int64]) -> float:
        return float(entropy_bit(np.asarray(np.bincount(classes, weights), dtype=float)))

    classes, bit = h.question_of, entropy_of(h.question_of)
    if bit <= SETTLED_BIT:
        classes, bit = h.variant_of, entropy_of(h.variant_of)
    steps = (np.arange(STANDING) + np.random.default_rng(seed).random()) / STANDING
    places = np.minimum(np.searchsorted(np.cumsum(weights), steps), len(weights) - 1)
    standing = places[np.argsort(classes[places], kind="stable")]
    starts = np.flatnonzero(np.diff(classes[standing], prepend=-1))
    return Doubt(bit=bit, standing=standing, starts=starts)


def expected_information(doubt: Doubt, outcome: Array, scatter: float, seed: int = SEED) -> float:
    """What a measurement is expected to tell of the doubt: the mutual information of both [bit].

    outcome : predicted logarithms [possibility, figure]; scatter : standard deviation of the measured logarithm [-]
    Averaged over outcomes drawn from the possibilities that stand for all.
    """
    mu = outcome[doubt.standing] / scatter
    if not np.ptp(mu, axis=0).any():
        return 0.0
    some = mu[:: STANDING // DRAWN]
    figures = some + np.random.default_rng(seed).standard_normal(some.shape)
    now = doubt.by_class(np.full(STANDING, 1.0 / STANDING))
    after = _class_shares(doubt, mu, figures)
    information_bit = float(entropy_bit(now)) - float(np.mean(entropy_bit(after)))
    return max(information_bit, 0.0)


def _class_shares(doubt: Doubt, mu: Array, figures: Array) -> Array:
    """Probability of each class after each outcome [outcome, class].

    Possibilities of one class that find the same are weighed once, by their number: most measurements find one of a
    few figures.
    """
    order = np.lexsort((*mu.T, doubt.class_of))
    is_new = np.diff(doubt.class_of[order], prepend=-1) != 0
    is_new[1:] |= (mu[order[1:]] != mu[order[:-1]]).any(axis=1)
    firsts = np.flatnonzero(is_new)
    number = np.diff(firsts, append=len(order))
    kinds, classes = mu[order[firsts]], doubt.class_of[order[firsts]]
    log_weights = figures @ kinds.T
    log_weights += np.log(number) - 0.5 * (kinds**2).sum(axis=1)
    log_weights -= log_weights.max(axis=1, keepdims=True)
    sums = np.add.reduceat(
        np.exp(log_weights, out=log_weights), np.flatnonzero(np.diff(classes, prepend=-1)), axis=1
    )
    shares: Array = sums / sums.sum(axis=1, keepdims=True)
    return shares


def decisive_measurement(
    h: Hypotheses,
    log_weights: Array,
    cause: int,
    outcomes: Sequence[tuple[tables.Row, Array, float]],
    *,
    own_only: bool = False,
) -> str:
    """The measurement that best confirms or rules out one cause, no gas part opened where others do; "" for none.

    How well: 1 - exp(-d^2/8), averaged over all other possibilities; d is the distance of the predicted outcomes in
    standard deviations, from the likeliest possibility of the cause. Where the cause itself moves what some of them
    find, by more than its scatter, only those count: a leak is not settled by an orifice that is as drawn.
    own_only : "" where the cause moves none of them
    """
    members = h.cause_of == cause
    if members.all():
        return ""
    again = SLIPS.get(h.causes[cause].name, "")
    if any(row["measurement"] == again for row, _, _ in outcomes):
        return again
    best = np.flatnonzero(members)[np.argmax(log_weights[members])]
    alternatives = np.flatnonzero(~members)
    alternatives = alternatives[log_weights[alternatives] > log_weights[alternatives].max() - FAR]
    share = normalised(log_weights[alternatives])
    shows = [one for one in outcomes if np.abs(one[1][best]).max() > one[2]]  # what this cause itself moves
    powers = [
        (
            float(
                share
                @ -np.expm1(-(((outcome[alternatives] - outcome[best]) / scatter) ** 2).sum(axis=1) / 8.0)
            ),
            row,
        )
        for row, outcome, scatter in (shows if own_only else shows or outcomes)
    ]
    most = max((power for power, _ in powers), default=0.0)
    if not most > WEAK:
        return ""
    able = [row for power, row in powers if power >= 0.9 * most]
    return min(able, key=lambda row: (row["hazard"] == OPENED, float(row["minutes"])))["measurement"]


def settling_measurements(rows: Sequence[tables.Row]) -> list[tables.Row]:
    """What may settle a cause while a stop is open: read without gas or, after a release, with it."""
    return [row for row in rows if row["stop"] or (row["gas"] == "off" and row["hazard"] == "none")]


def settled_by(
    h: Hypotheses,
    log_weights: Array,
    cause: int,
    outcomes: Sequence[tuple[tables.Row, Array, float]],
    is_stopped: bool,
) -> tuple[str, str]:
    """What best settles a cause now, and what does only after a release; one of both, or both, is "".

    While a stop is open only what the cause itself moves is named.
    """
    if not is_stopped:
        return decisive_measurement(h, log_weights, cause, outcomes), ""
    without_gas = [outcome for outcome in outcomes if outcome[0]["gas"] == "off"]
    now = decisive_measurement(h, log_weights, cause, without_gas, own_only=True)
    return now, "" if now else decisive_measurement(h, log_weights, cause, outcomes, own_only=True)


def outcomes_of(h: Hypotheses, rows: Sequence[tables.Row]) -> list[tuple[tables.Row, Array, float]]:
    """Each measurement with what it would find and how that scatters."""
    return [(row, OUTCOMES[row["measurement"]](h), scatter_of(h, row)) for row in rows]


def measurements(
    outcomes: Sequence[tuple[tables.Row, Array, float]], doubt: Doubt, least_min: Mapping[str, float]
) -> tuple[NextMeasurement, ...]:
    """Every measurement with what it is expected to tell, in the order of the table.

    least_min : minutes of a measurement that here takes longer than the table says
    """
    steps = []
    for row, outcome, scatter in outcomes:
        information_bit = min(expected_information(doubt, outcome, scatter), doubt.bit)
        steps.append(
            NextMeasurement(
                measurement=row["measurement"],
                title=row["title"],
                time_min=max(float(row["minutes"]), least_min.get(row["measurement"], 0.0)),
                hazard=row["hazard"],
                needs_gas=row["gas"] != "off",
                information_bit=information_bit,
                settles=information_bit / doubt.bit if doubt.bit > NO_DOUBT_BIT else 0.0,
                when=row["stop"],
            )
        )
    return tuple(steps)


def ranked(steps: Sequence[NextMeasurement]) -> tuple[NextMeasurement, ...]:
    """Measurements in the order to take them, a gas part opened after all others that tell much; then the rest.

    Much is at least a quarter of what the most telling one tells; of those, what tells most in a minute comes first.
    """
    least = WORTHWHILE * max((one.information_bit for one in steps), default=0.0)

    def order(step: NextMeasurement) -> tuple[float, ...]:
        if step.information_bit < least:
            return (1, -round(step.information_bit, 3), step.time_min)
        return (0, step.hazard == OPENED, -step.information_bit / step.time_min)

    return tuple(sorted(steps, key=order))


def without_gas(steps: Sequence[NextMeasurement]) -> tuple[NextMeasurement, ...]:
    """What is read while a stop is open: gas label, marks and what settles something, the most telling first.

    What settles alike stands in the order of the table; a gas part is opened last.
    """
    kept = [step for step in steps if step.measurement in IDENTIFY or step.settles > LITTLE]
    return tuple(sorted(kept, key=lambda step: (step.hazard == OPENED, -round(step.settles, 2))))
