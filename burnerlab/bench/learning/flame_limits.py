"""Where a burner lifts, lights back or tips yellow, learned from sightings.

A sighting is one-sided: it says only on which side of the threshold the burner stood. With x = log of the margin the
model gives, turned so that it is large within the limit, and theta the log of the factor on the limit, the event is
seen with the chance Phi(-(x + B u - theta)/s): half the sightings at the threshold, fewer beyond it. B u is what the
primary air behind the margins may be wrong by, the same for all units. Of the scatter s a share stays with a unit
through its tests and is integrated over. The posterior of theta, s and u: its top by Newton, then weighted draws from
Student's t about it, so that a one-sided answer stays one-sided.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from burnerlab.bench.learning.discharge_coefficient import narrowed, not_narrowed
from burnerlab.bench.learning.primary_air import (
    TABLE,
    PrimaryAirFit,
    SharedErrors,
    aerations,
    batches,
    usable,
)
from burnerlab.bench.learning.samples import (
    FULL,
    WATCHED,
    CalibrationSetup,
    ModelConstant,
    Sample,
    by_burner_and_gas,
    column,
    geometry_of,
    normal_quantile,
    rules,
    surroundings_of,
)
from burnerlab.burner.burner import EvaluationOptions
from burnerlab.burner.coefficients import Array, coefficients
from burnerlab.burner.evaluation import evaluate
from burnerlab.burner.state import BurnerState

# Where a burner lifts, lights back or tips yellow, from what was seen and not seen: a threshold with a
# scatter.

NODES = 5  # of the quadrature over what stays with a unit
DRAWS, FREEDOM, SEED = 1000, 5, 20_261_125
WIDER = 1.15  # of the draws against the top's own width
ROUNDS, STEP, SETTLED = 25, 1e-3, 1e-3
LONGEST_STEP = 1.5  # prior standard deviations
FLATTEST = 0.3  # curvature a draw is made with, in that of the prior
SMALLEST = 1e-300  # chance below which a number underflows
FAINT = 3e-3  # standard deviation of a margin's error below which it is left out


@dataclass(frozen=True, slots=True, kw_only=True)
class Sightings:
    """Margins, large within the limit, what was seen there, and on which unit."""

    log_margin: Array
    seen: NDArray[np.bool_]
    unit: NDArray[np.intp]
    shared: Array  # error of each margin with each independent shared error of one standard deviation

    def of(self, selection: NDArray[np.bool_] | NDArray[np.intp]) -> Sightings:
        return replace(
            self,
            log_margin=self.log_margin[selection],
            seen=self.seen[selection],
            unit=self.unit[selection],
            shared=self.shared[selection],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Threshold:
    """The posterior of the log factor on a limit."""

    median: float
    low: float
    high: float
    deviation: float
    scatter: float
    outliers: NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class _SightingCase:
    """Sightings sorted by unit, and the scales of the parameters, which are standard normal before."""

    sightings: Sightings
    shared: Array  # the directions of the shared errors that matter
    starts: NDArray[np.intp]
    mean: float
    deviation: float

    @property
    def size(self) -> int:
        """Parameters: factor, scatter, shared errors."""
        return 2 + int(self.shared.shape[1])

    def factor(self, at: Array) -> Array:
        values: Array = self.mean + self.deviation * at[:, 0]
        return values

    def scatter(self, at: Array) -> Array:
        middle, factor = rules()["flame scatter"], rules()["flame scatter factor"]
        wide = np.log(factor) / normal_quantile(rules()["spread level"])
        values: Array = middle * np.exp(wide * at[:, 1])
        return values

    def turned(self, at: Array) -> Array:
        """Margins in standard deviations of the scatter, negative where the event is expected; axes draw, sighting."""
        sign = np.where(self.sightings.seen, -1.0, 1.0)
        margin = self.sightings.log_margin + at[:, 2:] @ self.shared.T - self.factor(at)[:, None]
        values: Array = sign * margin / self.scatter(at)[:, None]
        return values


@cache
def _nodes() -> tuple[Array, Array]:
    """Gauss-Hermite nodes and weights of a standard normal variable."""
    at, weight = np.polynomial.hermite_e.hermegauss(NODES)
    return at, weight / weight.sum()


def _case(sightings: Sightings, mean: float, deviation: float) -> _SightingCase:
    order = np.argsort(sightings.unit, kind="stable")
    ordered = sightings.of(order)
    directions, size, _ = np.linalg.svd(ordered.shared, full_matrices=False)
    strong = size > FAINT * np.sqrt(ordered.unit.size)
    starts = np.flatnonzero(np.diff(ordered.unit, prepend=ordered.unit[0] - 1))
    return _SightingCase(ordered, directions[:, strong] * size[strong], starts, mean, deviation)


def _chances(case: _SightingCase, at: Array) -> Array:
    """Chance of each unit's sightings; axes draw, unit."""
    from scipy.special import ndtr

    share, (nodes, weight) = rules()["unit share"], _nodes()
    turned, sign = case.turned(at), np.where(case.sightings.seen, -1.0, 1.0)
    total = np.zeros((at.shape[0], case.starts.size))
    for node, part in zip(nodes, weight, strict=True):
        each = ndtr((turned + sign * (np.sqrt(share) * node)) / np.sqrt(1.0 - share))
        total += part * np.multiply.reduceat(each, case.starts, axis=1)
    return np.asarray(np.maximum(total, SMALLEST), dtype=np.float64)


def _height(case: _SightingCase, at: Array) -> Array:
    """Log of the posterior, but for a constant."""
    height: Array = np.log(_chances(case, at)).sum(axis=1) - 0.5 * (at**2).sum(axis=1)
    return height


def _curved(case: _SightingCase, at: Array) -> tuple[Array, Array]:
    """Gradient and the curvature downwards at a point, by differences."""
    n = case.size
    steps = STEP * np.eye(n)
    pairs = [(i, j) for i in range(n) for j in range(i + 1)]
    points = [at + a * steps[i] + b * steps[j] for i, j in pairs for a in (1, -1) for b in (1, -1)]
    heights = _height(case, np.array(points)).reshape(-1, 4)
    curve = np.empty((n, n))
    for (i, j), (pp, pm, mp, mm) in zip(pairs, heights, strict=True):
        curve[i, j] = curve[j, i] = -(pp - pm - mp + mm) / (4.0 * STEP**2)
    ends = _height(case, np.concatenate([at + steps, at - steps]))
    return (ends[:n] - ends[n:]) / (2.0 * STEP), curve


def _bounded_curvature(curve: Array) -> Array:
    """The curvature with none of its directions flatter than FLATTEST."""
    size, axes = np.linalg.eigh(curve)
    curvature: Array = (axes * np.maximum(size, FLATTEST)) @ axes.T
    return curvature


def _top(case: _SightingCase) -> tuple[Array, Array]:
    """The top of the posterior and its curvature there."""
    at = np.zeros(case.size)
    for _ in range(ROUNDS):
        gradient, curve = _curved(case, at)
        curvature = _bounded_curvature(curve)
        step = np.linalg.solve(curvature, gradient)
        step *= min(1.0, LONGEST_STEP / max(float(np.abs(step).max()), SMALLEST))
        tries = np.array([at + step * 0.5**k for k in range(6)])
        at = tries[int(np.argmax(_height(case, tries)))]
        if np.abs(step).max() < SETTLED:
            break
    return at, _bounded_curvature(_curved(case, at)[1])


@dataclass(frozen=True, slots=True)
class _Draws:
    at: Array
    weight: Array  # sums to one
    chance: Array  # of each unit's sightings at each draw


def _posterior_draws(case: _SightingCase) -> _Draws:
    """Draws from the posterior with weights; the same every time."""
    top, curve = _top(case)
    random = np.random.default_rng(SEED)
    half = DRAWS // 2
    normal = random.standard_normal((half, case.size))
    stretch = np.sqrt(FREEDOM / random.chisquare(FREEDOM, half))[:, None] * WIDER
    unit = np.concatenate([normal * stretch, -normal * stretch])
    at = top + np.linalg.solve(np.linalg.cholesky(curve).T, unit.T).T
    chance = _chances(case, at)
    height = np.log(chance).sum(axis=1) - 0.5 * (at**2).sum(axis=1)
    squares = (unit**2).sum(axis=1) / WIDER**2
    proposed = -0.5 * (FREEDOM + case.size) * np.log1p(squares / FREEDOM)
    weight = np.exp(height - proposed - (height - proposed).max())
    return _Draws(at, weight / weight.sum(), chance)


def _odd_unit(case: _SightingCase, draws: _Draws) -> NDArray[np.intp]:
    """The unit with a sighting the others make least likely, if that is less likely than the rule allows."""
    from scipy.special import ndtr

    without = draws.weight[:, None] / draws.chance  # what the other units say
    without /= without.sum(axis=0)
    place = np.searchsorted(case.starts, np.arange(case.sightings.unit.size), side="right") - 1
    alone = np.sum(ndtr(case.turned(draws.at)) * without[:, place], axis=0)
    least = int(np.argmin(alone))
    is_odd = alone[least] < rules()["outlier level"] / alone.size
    return case.sightings.unit[least : least + 1] if is_odd else np.zeros(0, dtype=np.intp)


def threshold(sightings: Sightings, mean: float, deviation: float) -> Threshold:
    """The posterior of the log factor on a limit.

    mean, deviation : of its normal prior
    A unit is left out, the worst first, when one of its sightings has a smaller chance, by what the others say, than
    the rule ``outlier level`` over the number of sightings.
    """
    odd = np.zeros(0, dtype=np.intp)
    most = int(rules()["most outliers"] * np.unique(sightings.unit).size)
    while True:
        case = _case(sightings.of(~np.isin(sightings.unit, odd)), mean, deviation)
        draws = _posterior_draws(case)
        worst = _odd_unit(case, draws)
        if worst.size == 0 or odd.size >= most:
            return _summary(case, draws, odd)
        odd = np.concatenate([odd, worst])


def _summary(case: _SightingCase, draws: _Draws, odd: NDArray[np.intp]) -> Threshold:
    factor, level = case.factor(draws.at), rules()["stated level"]
    order = np.argsort(factor)
    grown = np.cumsum(draws.weight[order]) - draws.weight[order] / 2.0
    low, median, high = np.interp([(1 - level) / 2, 0.5, (1 + level) / 2], grown, factor[order])
    mean = float(draws.weight @ factor)
    return Threshold(
        median=float(median),
        low=float(low),
        high=float(high),
        deviation=float(np.sqrt(draws.weight @ (factor - mean) ** 2)),
        scatter=float(np.exp(draws.weight @ np.log(case.scatter(draws.at)))),
        outliers=odd,
    )


# Where a burner lifts, lights back or tips yellow: factors on the flame's limits from what was seen and not
# seen.

LIFT, BACK, YELLOW = "lift scale", "light-back factor", "yellow tip scale"
BY_LOAD: Mapping[str, float] = {"lift": -1.0, "light-back": 1.0, "yellow tips": 0.0}
"""Power with which each margin goes with the flow through the ports."""
NUDGE = 1e-3  # relative change of the primary air, for a slope
RAISES: Mapping[str, float] = {LIFT: 1.0, BACK: -1.0, YELLOW: -1.0}
"""Sign with which a larger factor moves the margin: a higher lift limit is better, the others worse."""


@dataclass(frozen=True, slots=True)
class Sighting:
    """One thing looked for at one margin."""

    sample: Sample
    name: str  # of the observation
    row: str  # of the table of coefficients
    margin: float  # above 1 within the limit, with the table in use and what the record gave before
    shared: Array  # what the margin's log is wrong by with each independent shared error of one standard deviation
    seen: bool


def limit_constants(
    samples: Sequence[Sample], setup: CalibrationSetup, air: PrimaryAirFit, only: frozenset[str]
) -> tuple[list[ModelConstant], list[str]]:
    """Factors on the limits of the flame, and why sightings were left out.

    air : what is known of the primary air by now; only : names to learn, all when empty
    """
    events, notes = sightings(samples, setup, air)
    constants: list[ModelConstant] = []
    for row in (LIFT, BACK, YELLOW):
        of_row = [sighting for sighting in events if sighting.row == row]
        if of_row and (not only or row in only):
            constants.append(_constant(row, of_row, setup))
    return constants, notes


def sightings(
    samples: Sequence[Sample], setup: CalibrationSetup, air_fit: PrimaryAirFit
) -> tuple[list[Sighting], list[str]]:
    """Every observation with the margin of the model at its state.

    The primary air is the calculated one, also where a sample was taken: a single reading's error would pass for
    scatter of the flame and pull the limit towards it.
    """
    watched = [s for s in usable(samples) if s.seen and not s.burner.kind.traits.is_radiant]
    events: list[Sighting] = []
    lost: dict[str, int] = {}
    if watched:
        each = batches(watched, setup)
        air, shared = aerations(each, air_fit.moved), air_fit.shared(each)
        for places in by_burner_and_gas(watched).values():
            part = _Kind([watched[k] for k in places], air[places], shared.at(places), setup, {})
            for name in WATCHED:
                if any(name in s.seen for s in part.samples):
                    events += _of_burner_kind(name, part, lost)
    unseen = sum(1 for s in samples if s.seen) - len(watched)
    if unseen:
        lost["observations of tiles, or of burners without ports, throat or a gas composition"] = unseen
    return events, [f"{why}: {count} left out" for why, count in lost.items()]


@dataclass(frozen=True, slots=True)
class _Kind:
    """Samples of one kind of burner on one gas, with what is known of their air; each state is evaluated once."""

    samples: Sequence[Sample]
    aeration: Array
    shared: SharedErrors
    setup: CalibrationSetup
    cache: dict[tuple[float, float], BurnerState]

    def state(self, load: float, factor: float) -> BurnerState:
        """The state at a load with the primary air times a factor."""
        if (load, factor) not in self.cache:
            self.cache[load, factor] = evaluate(
                geometry_of(self.samples, self.setup),
                self.setup.fuel_of(self.samples[0]),
                column(self.samples, lambda s: s.gauge_pressure_Pa),
                surroundings_of(self.samples),
                EvaluationOptions(load=load, aeration=self.aeration * factor, own=self.setup.own),
            )
        return self.cache[load, factor]

    def log_margin(self, name: str, load: float, factor: float = 1.0) -> Array:
        margins: Array = np.log(_margins(name, self.state(load, factor), len(self.samples))[0])
        return margins

    def slopes(self, name: str, load: float) -> Array:
        """Change of the log margin with the log of the air; the flatter side where the law breaks."""
        margin = self.log_margin(name, load)
        below = (margin - self.log_margin(name, load, float(np.exp(-NUDGE)))) / NUDGE
        above = (self.log_margin(name, load, float(np.exp(NUDGE))) - margin) / NUDGE
        slope: Array = np.nan_to_num(np.where(np.abs(below) < np.abs(above), below, above))
        return slope


def _of_burner_kind(name: str, part: _Kind, lost: dict[str, int]) -> Iterator[Sighting]:
    """One observation of samples of one kind of burner on one gas."""
    (limit, rate), burner = WATCHED[name], part.samples[0].burner
    load = 1.0 if rate == FULL else burner.turndown
    if load is None:
        why = f"{name}: the smallest rate of {burner.name} is not given"
        lost[why] = sum(name in s.seen for s in part.samples)
        return
    margins, rows = _margins(name, part.state(load, 1.0), len(part.samples))
    errors = BY_LOAD[limit] * part.shared.of_jet
    if np.any(part.shared.of_air):
        errors = errors + part.slopes(name, load)[:, None] * part.shared.of_air
    for sample, margin, error, row in zip(part.samples, margins, errors, rows, strict=True):
        if name not in sample.seen:
            continue
        if not (np.isfinite(margin) and margin > 0.0):
            why = f"{name} of {burner.name}: the limit is not known at this state"
            lost[why] = lost.get(why, 0) + 1
            continue
        yield Sighting(sample, name, row, float(margin), error, sample.seen[name])


def _margins(name: str, state: BurnerState, count: int) -> tuple[Array, list[str]]:
    """Margins of an observation, and the row its limit rests on."""
    if name.startswith("lift"):
        margin = np.where(state.at.lift.is_more_than, np.nan, state.lift_margin)
        return np.broadcast_to(margin, (count,)), [LIFT] * count
    if name == "light-back":
        bound = np.broadcast_to(state.at.light_back_is_bound, (count,))
        margin = np.where(bound, np.nan, state.light_back_margin)
        return np.broadcast_to(margin, (count,)), [BACK] * count
    return np.broadcast_to(state.yellow_tip_margin, (count,)), [YELLOW] * count


def _constant(row: str, sightings: Sequence[Sighting], setup: CalibrationSetup) -> ModelConstant:
    prior, used, sign = setup.prior(row), coefficients(setup.own)[row].value, RAISES[row]
    serials = list(dict.fromkeys(sighting.sample.serial for sighting in sightings))
    units = len(serials)
    constant = ModelConstant(
        name=row,
        table=TABLE,
        row=row,
        unit="-",
        prior=prior.value,
        prior_low=prior.low,
        prior_high=prior.high,
        value=used,
        low=coefficients(setup.own)[row].low,
        high=coefficients(setup.own)[row].high,
        units=units,
        readings=len(sightings),
        spread=None,
        outliers=(),
        is_learned=False,
        is_in_table=False,
        why=f"too few units to show their spread: {units}",
    )
    if units < rules()["fewest units"]:
        return constant
    result = _threshold(sightings, serials, sign, float(np.log(prior.value / used)), prior.log_deviation)
    outliers = tuple(serials[k] for k in result.outliers)
    uncertainties = result.deviation, prior.log_deviation
    positives = sum(sighting.seen for sighting in sightings)
    sides = f"seen {positives} times of {len(sightings)}"
    constant = replace(
        constant, outliers=outliers, units=units - len(outliers), spread=result.scatter,
        why=f"{sides}; {not_narrowed(*uncertainties)}",
    )  # fmt: skip
    if result.deviation / prior.log_deviation > rules()["told ratio"]:
        return constant
    value, low, high = (float(used * np.exp(x)) for x in (result.median, result.low, result.high))
    return replace(
        constant,
        value=value,
        low=low,
        high=high,
        is_learned=True,
        is_in_table=True,
        why=f"{sides}; {narrowed(*uncertainties)}",
    )


def _threshold(
    events: Sequence[Sighting], serials: Sequence[str], sign: float, mean: float, deviation: float
) -> Threshold:
    """The log factor; a factor that raises the margin counts with its sign turned, and is turned back."""
    data = Sightings(
        log_margin=np.log([sighting.margin for sighting in events]),
        seen=np.array([sighting.seen for sighting in events]),
        unit=np.array([serials.index(sighting.sample.serial) for sighting in events], dtype=np.intp),
        shared=np.array([sighting.shared for sighting in events]),
    )
    posterior = threshold(data, -sign * mean, deviation)
    if sign < 0.0:
        return posterior
    return replace(posterior, median=-posterior.median, low=-posterior.high, high=-posterior.low)
