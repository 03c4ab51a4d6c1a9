"""Everything that may be the case of a unit under test, and how readings weigh it: one set of readings or thousands."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.appliance.memory import Memory, Same, file_key
from burnerlab.appliance.project.model import Appliance
from burnerlab.appliance.study.monte_carlo import DIVISOR, default_spreads
from burnerlab.bench.decision_rule import bench_limit
from burnerlab.bench.faults.cause import Cause, Scenarios, Variant, joined
from burnerlab.bench.faults.causes import causes, possibilities
from burnerlab.bench.reading.manifold import gauge_uncertainty_Pa, highest_pressure_Pa
from burnerlab.bench.reading.readings import Reading
from burnerlab.bench.unit import FiringState, UnitUnderTest

Array = NDArray[np.float64]
Places = NDArray[np.int64]
SOUND = "as it should be"
NONE = "none of these"
COMMON = 0.5  # of the variance of a heat input, shared by readings of one meter or scale: its error, the heating value
REST_U = 0.01  # of the expected heat input: what a meter at rest shows
REST_SLIP = 1e-3  # probability that a moving meter was taken for a still one, or the reverse


@dataclass(frozen=True, slots=True, kw_only=True)
class Hypotheses:
    """Every possibility of every cause of a unit under test."""

    unit: UnitUnderTest
    causes: tuple[Cause, ...]
    variants: tuple[Variant, ...]
    groups: tuple[str, ...]
    cause_of: Places  # [possibility]
    variant_of: Places
    group_of: Places
    number_of: Places  # within its variant
    log_prior: Array
    scenarios: Scenarios

    @property
    def is_sound(self) -> NDArray[np.bool_]:
        """Whether a possibility is that of a unit as drawn [possibility]."""
        sound = [i for i, cause in enumerate(self.causes) if cause.name == SOUND]
        flags: NDArray[np.bool_] = np.isin(self.cause_of, sound)
        return flags

    @property
    def overfires(self) -> NDArray[np.bool_]:
        """Whether a possibility drives a burner beyond its ``overfire_limit_W`` [possibility]."""
        share = self.scenarios.burner_flow * self.unit.expected_W / self.unit.overfire_limit_W
        flags: NDArray[np.bool_] = np.max(share, axis=1) > 1.0
        return flags

    @property
    def question_of(self) -> Places:
        """What a measurement is to tell: the group and, where none is known, appliance or reading [possibility]."""
        places: Places = np.where(self.scenarios.slip != 1.0, len(self.groups), self.group_of)
        return places

    @property
    def priors(self) -> Array:
        """Of the causes that apply here, adding up to one [-]."""
        return by_cause(self, np.exp(self.log_prior))

    def words_of(self, place: int) -> str:
        """A possibility in words."""
        return self.variants[int(self.variant_of[place])].words_of(int(self.number_of[place]))


HYPOTHESES = Memory(20)  # some 2 MB each
"""Those of the units under test that were used last."""


def hypotheses(unit: UnitUnderTest, own_causes: Path | None = None) -> Hypotheses:
    """The causes that apply at this bench with all their possibilities."""
    key = Same(unit), file_key(own_causes)
    return HYPOTHESES.recall(key, lambda: _new_hypotheses(unit, own_causes))


def _new_hypotheses(unit: UnitUnderTest, own_causes: Path | None) -> Hypotheses:
    members = [(cause, variants) for cause in causes(own_causes) if (variants := possibilities(unit, cause))]
    total = sum(cause.prior for cause, _ in members)
    names = tuple(
        dict.fromkeys(
            member_variant.group or cause.group for cause, variants in members for member_variant in variants
        )
    )
    every: list[Variant] = []
    sizes, cause_of, group_of, log_prior = [], [], [], []
    for i, (cause, variants) in enumerate(members):
        weight = sum(member_variant.weight for member_variant in variants)
        for member_variant in variants:
            n = len(member_variant.scenarios)
            sizes.append(n)
            cause_of.append(i)
            group_of.append(names.index(member_variant.group or cause.group))
            log_prior.append(
                math.log(cause.prior / total * member_variant.chance * member_variant.weight / weight / n)
            )
            every.append(member_variant)
    prior = np.repeat(log_prior, sizes)
    return Hypotheses(
        unit=unit,
        causes=tuple(cause for cause, _ in members),
        variants=tuple(every),
        groups=names,
        cause_of=np.repeat(cause_of, sizes),
        variant_of=np.repeat(np.arange(len(every)), sizes),
        group_of=np.repeat(group_of, sizes),
        number_of=np.concatenate([np.arange(n) for n in sizes]),
        log_prior=prior - math.log(float(np.exp(prior).sum())),
        scenarios=joined([member_variant.scenarios for member_variant in every]),
    )


def deviations(appliance: Appliance) -> dict[str, float]:
    """Relative standard deviations of sound units: manifold pressure, coefficient of one burner, gas [-].

    >>> from burnerlab.appliance import demonstration
    >>> round(deviations(demonstration())["pressure"], 4)
    0.0289
    """
    used = {**default_spreads(), **appliance.spreads}
    return {
        cause: used[cause].half_width / DIVISOR[used[cause].shape]
        for cause in ("pressure", "coefficient", "wobbe")
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureLayout:
    """Which figures a set of readings holds: logarithms, in this order, and how they scatter together."""

    heats: tuple[int, ...]  # numbers of the readings with a heat input
    pressures: tuple[int, ...]  # of those with a manifold pressure; their columns follow
    covariance: Array  # [figure, figure]

    @property
    def whitening(self) -> Array:
        """Turns figures into independent ones of unit scatter."""
        matrix: Array = np.linalg.inv(np.linalg.cholesky(self.covariance))
        return matrix

    @property
    def scatter(self) -> float:
        """Relative standard deviation of the first figure [-]."""
        return math.sqrt(float(self.covariance[0, 0])) if len(self.covariance) else 0.0


def figure_layout(unit: UnitUnderTest, readings: Sequence[Reading]) -> FigureLayout:
    """How readings scatter together: regulator and gas of the unit are one, so are meter and heating value.

    A manifold pressure that is off moves the heat input by half as much; each burner has its own coefficient; half
    the variance of a heat input is shared by the readings of one meter or scale.
    """
    heats = tuple(i for i, one in enumerate(readings) if one.ratio is not None)
    pressures = tuple(i for i, one in enumerate(readings) if _says_of_pressure(unit, unit.firings[i], one))
    n, spread = len(heats) + len(pressures), deviations(unit.appliance)
    low = bench_limit("low rate").high
    u = {i: readings[i].relative_uncertainty for i in heats}
    factors, own = [], np.zeros(n)
    factors.append([0.5 * spread["pressure"]] * len(heats) + [spread["pressure"]] * len(pressures))
    factors.append([spread["wobbe"]] * len(heats) + [0.0] * len(pressures))
    for burner in range(len(unit.burners)):
        shares = [unit.firings[i].weights[burner] / unit.firings[i].weights.sum() for i in heats]
        factors.append([spread["coefficient"] * share for share in shares] + [0.0] * len(pressures))
    for method in unit.methods:
        shared = [math.sqrt(COMMON) * u[i] * (unit.firings[i].method == method) for i in heats]
        factors.append([*shared, *([0.0] * len(pressures))])
    for place, i in enumerate(heats):
        own[place] = (1.0 - COMMON) * u[i] ** 2 + (low**2 if unit.firings[i].low else 0.0)
    for place, i in enumerate(pressures, len(heats)):
        own[place] = pressure_u(unit, unit.firings[i].expected.manifold_Pa, readings[i]) ** 2
    loadings = np.array(factors)
    return FigureLayout(heats=heats, pressures=pressures, covariance=loadings.T @ loadings + np.diag(own))


def _says_of_pressure(unit: UnitUnderTest, firing: FiringState, reading: Reading) -> bool:
    """Whether a manifold pressure speaks for or against a cause: turned low, a rise up to lock-up is no sign."""
    if reading.pressure_ratio is None:
        return False
    highest = highest_pressure_Pa(unit.appliance) / firing.expected.manifold_Pa
    return not (firing.low and 1.0 < reading.pressure_ratio <= highest)


def pressure_u(unit: UnitUnderTest, expected_Pa: float, reading: Reading) -> float:
    """Relative standard uncertainty of a manifold pressure that was read, beside the expected one [-]."""
    if reading.pressure_uncertainty is not None:
        return reading.pressure_uncertainty
    read_Pa = (reading.pressure_ratio or 1.0) * expected_Pa
    return 0.5 * gauge_uncertainty_Pa(unit.appliance) / read_Pa


def predicted(h: Hypotheses, layout: FigureLayout) -> Array:
    """Logarithm of every figure over what was expected [possibility, figure]."""
    w, firings = h.scenarios, h.unit.firings
    heats = [
        w.reading(firings[i].weights, firings[i].load, firings[i].method, low=firings[i].low)
        for i in layout.heats
    ]
    pressures = [w.pressure_share(firings[i].load) for i in layout.pressures]
    columns: list[Array] = [np.log(ratio) for ratio in (*heats, *pressures)]
    figures: Array = np.stack(columns, axis=1) if columns else np.zeros((len(w), 0))
    return figures


def observed(readings: Sequence[Reading], layout: FigureLayout) -> Array:
    """Logarithm of every figure read, over what was expected [figure]."""
    ratios = [readings[i].ratio for i in layout.heats] + [
        readings[i].pressure_ratio for i in layout.pressures
    ]
    figures: Array = np.log(np.array([ratio or 1.0 for ratio in ratios], dtype=float))
    return figures


def log_shares(h: Hypotheses, layout: FigureLayout, figures: ArrayLike) -> Array:
    """Logarithm of prior times likelihood of every possibility [set of figures, possibility].

    figures : logarithms, one set or many [set, figure]; they scatter normally about the predicted ones
    What all possibilities have in common is left out.
    """
    turn = layout.whitening
    whitened = np.atleast_2d(np.asarray(figures, dtype=float)) @ turn.T
    mean = predicted(h, layout) @ turn.T
    shares: Array = whitened @ mean.T
    shares += h.log_prior - 0.5 * (mean**2).sum(axis=1)
    return shares


def fit_of(h: Hypotheses, layout: FigureLayout, readings: Sequence[Reading]) -> float:
    """Probability that several readings scatter at least so far from the possibility that fits them best [-].

    Chi-square of the whitened distance, its degrees of freedom the figures; 1 for one figure. What nobody listed
    is left out: it fits anything.
    """
    figures = len(layout.covariance)
    if len(layout.heats) + len(layout.pressures) < 2:
        return 1.0
    from scipy.special import chdtrc

    listed = ~np.isin(h.cause_of, [i for i, cause in enumerate(h.causes) if cause.name == NONE])
    apart = (observed(readings, layout) - predicted(h, layout)[listed]) @ layout.whitening.T
    return float(chdtrc(figures, (apart**2).sum(axis=1).min()))


def log_rest(h: Hypotheses, readings: Sequence[Reading]) -> Array:
    """Logarithm of the likelihood of what a meter at rest showed [possibility]."""
    log_shares = np.zeros(len(h.log_prior))
    still = np.exp(-0.5 * (np.log1p(h.scenarios.rest_load) / REST_U) ** 2)
    for reading in readings:
        if reading.at_rest:
            log_shares += np.log(np.maximum(still if reading.at_rest == "still" else 1.0 - still, REST_SLIP))
    return log_shares


def posterior(h: Hypotheses, readings: Sequence[Reading]) -> tuple[Array, FigureLayout]:
    """Logarithm of the weights of all possibilities after all readings, and how those scatter."""
    layout = figure_layout(h.unit, readings)
    return log_shares(h, layout, observed(readings, layout))[0] + log_rest(h, readings), layout


def member(of: Places, count: int) -> Array:
    """One where a possibility is of a class, of ``count`` [possibility, class]."""
    matrix = np.zeros((len(of), count))
    matrix[np.arange(len(of)), of] = 1.0
    return matrix


def by_cause(h: Hypotheses, weights: Array) -> Array:
    """Probability of each cause [set, cause]."""
    shares: Array = weights @ member(h.cause_of, len(h.causes))
    return shares


def member_of_groups(h: Hypotheses) -> Array:
    """Groups of every possibility, then the same of those alone that endanger [possibility, 2 x group]."""
    of_groups = member(h.group_of, len(h.groups))
    danger = np.array([cause.danger for cause in h.causes])[h.cause_of]
    return np.concatenate([of_groups, of_groups * danger[:, None]], axis=1)


def normalised(log_weights: Array) -> Array:
    """Weights that add up to one along the last axis, from their logarithms."""
    weights: Array = np.exp(log_weights - log_weights.max(axis=-1, keepdims=True))
    weights /= weights.sum(axis=-1, keepdims=True)
    return weights
