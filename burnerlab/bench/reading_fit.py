"""Fit a model to figures read on several units: normal priors, errors shared by all readings, a spread between units.

The readings are logarithms, y = f(p) + e. Each parameter has a normal prior; an error that all readings share, of a
meter or a drill, is a parameter with a prior about its own mean. The rest, e, has one standard deviation that is
found with the parameters; a share of its variance stays with a unit. Gauss-Newton from the prior, the posterior taken
as normal at its top (Laplace), the interval widened by Student's t for the spread being estimated.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from burnerlab.bench.constants import rules
from burnerlab.burner.arrays import Array

MOST_ROUNDS = 30
SETTLED = 1e-7  # change of a parameter, in its prior standard deviations
NUDGE = 1e-5  # step of a derivative

Model = Callable[[Array], Array]


@dataclass(frozen=True, slots=True, kw_only=True)
class LogReadings:
    """Logarithms of figures and the unit each was read on."""

    log_value: Array
    unit: NDArray[np.intp]

    def without(self, units: NDArray[np.intp]) -> tuple[LogReadings, NDArray[np.bool_]]:
        """The readings of other units, and which they are."""
        kept = ~np.isin(self.unit, units)
        return LogReadings(log_value=self.log_value[kept], unit=self.unit[kept]), kept


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """The posterior of the parameters."""

    value: Array
    covariance: Array
    scatter: float  # standard deviation of one reading about the model
    freedom: float  # degrees of freedom of the scatter
    residual: Array

    @property
    def deviation(self) -> Array:
        found: Array = np.sqrt(np.diag(self.covariance))
        return found

    def quantile(self, level: float) -> float:
        """Half width of the interval at a level, in standard deviations."""
        from scipy.special import stdtrit

        return float(stdtrit(self.freedom, (1.0 + level) / 2.0))


def _blocks(unit: NDArray[np.intp]) -> tuple[NDArray[np.intp], Array]:
    _, place, size = np.unique(unit, return_inverse=True, return_counts=True)
    return place, size.astype(np.float64)


def whitened(values: Array, unit: NDArray[np.intp]) -> Array:
    """LogReadings (along the first axis) made independent: the part a unit keeps is scaled down.

    For a unit with m readings, of variance s and s/(1-s) split by the rule ``unit share`` s:
    (y - mean)/sqrt(1 - s) + mean/sqrt(1 - s + s m).

    >>> whitened(np.array([1.0, 1.0, 4.0]), np.array([0, 0, 1]))
    array([0.8165, 0.8165, 4.    ])
    """
    place, size = _blocks(unit)
    share = rules()["unit share"]
    total = np.zeros((size.size, *values.shape[1:]))
    np.add.at(total, place, values)
    each = size.reshape(-1, *([1] * (values.ndim - 1)))
    mean = total / each
    kept = mean / np.sqrt(1.0 - share + share * each)
    found: Array = (values - mean[place]) / np.sqrt(1.0 - share) + kept[place]
    return found


def slopes_of(model: Model, at: Array, base: Array) -> Array:
    """Change of every reading with every parameter."""
    columns = []
    for k in range(at.size):
        moved = at.copy()
        moved[k] += NUDGE
        columns.append((model(moved) - base) / NUDGE)
    return np.stack(columns, axis=1)


def fit(model: Model, readings: LogReadings, mean: Array, deviation: Array, first_scatter: float) -> Fit:
    """The posterior of the parameters of ``model``.

    mean, deviation : of the normal priors; first_scatter : guess of the spread, which counts for a few readings
    """
    weight, count = rules()["scatter weight"], readings.log_value.size
    precision = np.diag(1.0 / deviation**2)
    at, scatter = mean.astype(np.float64).copy(), first_scatter
    for _ in range(MOST_ROUNDS):
        told = model(at)
        slopes = whitened(slopes_of(model, at, told), readings.unit)
        off = whitened(readings.log_value - told, readings.unit)
        held = slopes.T @ slopes / scatter**2
        covariance: Array = np.linalg.inv(held + precision).astype(np.float64)
        step = covariance @ (slopes.T @ off / scatter**2 - precision @ (at - mean))
        used = float(np.trace(covariance @ held))
        freedom = max(count - used, 0.0) + weight
        left = off - slopes @ step
        at = at + step
        before, scatter = scatter, float(np.sqrt((left @ left + weight * first_scatter**2) / freedom))
        if np.all(np.abs(step) < SETTLED * deviation) and abs(scatter - before) < SETTLED * scatter:
            break
    return Fit(
        value=at,
        covariance=covariance,
        scatter=scatter,
        freedom=freedom,
        residual=readings.log_value - model(at),
    )


def outlying(residual: Array, unit: NDArray[np.intp], level: float | None = None) -> NDArray[np.intp]:
    """Units that stand apart from the others: generalised extreme studentised deviates of the units' mean residuals.

    level : chance to name any unit of a shop in order, the rule ``outlier level`` unless given; no more than the
    rule ``most outliers`` are named. Source: rosner-1983.

    >>> outlying(np.array([0.01, -0.01, 0.0, 0.02, -0.02, 0.3, 0.01]), np.arange(7))
    array([5])
    """
    from scipy.special import stdtrit

    chance = rules()["outlier level"] if level is None else level
    place, size = _blocks(unit)
    means = np.bincount(place, residual) / size
    left, order, named = np.arange(means.size), [], 0
    count = means.size
    for step in range(1, int(rules()["most outliers"] * count) + 1):
        values = means[left]
        spread = float(values.std(ddof=1))
        if left.size < 4 or spread == 0.0:
            break
        far = int(np.argmax(np.abs(values - values.mean())))
        reach = abs(values[far] - values.mean()) / spread
        order.append(int(left[far]))
        freedom = count - step - 1
        quantile = float(stdtrit(freedom, 1.0 - chance / (2.0 * (count - step + 1))))
        limit = (count - step) * quantile / np.sqrt((freedom + quantile**2) * (count - step + 1))
        named = step if reach > limit else named
        left = np.delete(left, far)
    return np.unique(unit)[np.array(order[:named], dtype=np.intp)]
