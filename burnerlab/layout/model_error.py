"""How far a smooth model departs from readings: noise of one reading, and a departure that neighbours share.

Readings are model + departure + noise. The departure is a Gaussian process in proportion to the model's own size at a
place, with correlation exp(-(dx/lx)^2/2 - (dy/ly)^2/2). On a plate that conducts it is one of the heat, and readings of
temperature share what conduction leaves of it. Its figures are those of the greatest restricted likelihood of
the residuals of a fit. Intervals that count readings as independent while neighbours share an error are too narrow.
After Kennedy and O'Hagan (2001), and Patterson and Thompson (1971), both from memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from burnerlab.layout.conduction import Conduction, bell

FloatArray = NDArray[np.float64]
LENGTHS = (0.08, 0.16, 0.32, 0.8)  # of correlation that are tried, over the side of the readings
SHARES = (0.0, 0.15, 0.4, 0.7, 0.9, 0.98)  # of the variance in the departure
ALIKE = (
    1.0  # in log likelihood: of those that the residuals tell no better apart, the largest departure counts
)
LEAST = 1e-6  # noise over the scatter of the readings, below which it is not looked for
LARGE = 1e60  # beside any square of residuals over their variance
ROUNDING = 1e-6  # of the variance of the departure: what rounding leaves of a smooth covariance is not quite positive


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Where readings or targets lie, and how large the model is there over its root mean square at the readings."""

    at_m: FloatArray  # [n, 2]
    size: FloatArray  # [n]
    conduction: Conduction | None = None  # between n points of heat and the last of them that are read

    @property
    def read_at_m(self) -> FloatArray:
        """Where readings lie [readings, 2]."""
        return self.at_m if self.conduction is None else self.at_m[-len(self.conduction.of_cells) :]

    def evened(self, covariance: FloatArray) -> FloatArray:
        """What conduction leaves at the readings of each column [n, m] of heat."""
        return covariance if self.conduction is None else self.conduction(covariance)


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelError:
    """Noise and departure, in the unit of the readings, both where the model has its mean size; lengths in metres."""

    noise: float
    departure: float
    lengths_m: tuple[float, float]
    is_relative: bool = False  # noise in proportion to the model too

    def shared(self, first: Places, second: Places) -> FloatArray:
        """Covariance of the departure between places, after conduction where there is one [n, m]."""
        x, y = (
            (first.at_m[:, i, None] - second.at_m[:, i]) / length for i, length in enumerate(self.lengths_m)
        )
        size = self.departure * first.size[:, None] * (self.departure * second.size)
        return second.evened(first.evened(size * np.exp(-0.5 * (x * x + y * y))).T).T

    def root(self, places: Places) -> FloatArray:
        """Lower triangle whose square is the covariance of the readings."""
        noise = self.noise**2 * (noise_size(places) ** 2 if self.is_relative else 1.0)
        noise = noise + 1e-10 * self.departure**2
        return np.asarray(
            np.linalg.cholesky(self.of_readings(places) + noise * np.eye(len(places.read_at_m)))
        )

    def of_readings(self, places: Places) -> FloatArray:
        """Covariance of the departure between readings [n, n]."""
        if places.conduction is None:
            return self.shared(places, places)
        return self.departure**2 * places.conduction.covariance(places.at_m, places.size, self.lengths_m)


def noise_size(places: Places) -> FloatArray:
    """Size of a noise in proportion to the model, not below a third of its mean."""
    return np.maximum(places.size, 1 / 3)


def model_error(
    places: Places, residual: FloatArray, jacobian: FloatArray, scatter: float, is_relative: bool = False
) -> ModelError:
    """Noise and departure of the greatest restricted likelihood.

    residual : of a fit [n]; jacobian : of its constants [n, p]; is_relative : noise in proportion to the model
    scatter : of the readings, sets the least noise that is told from none
    Of splits that are as likely the one of the largest departure, so that the bands do not come out too narrow.

    >>> at = np.stack(np.meshgrid(np.linspace(0, 1, 6), np.linspace(0, 1, 6)), axis=-1).reshape(-1, 2)
    >>> noise = np.random.default_rng(1).standard_normal(36)
    >>> found = model_error(Places(at_m=at, size=np.ones(36)), noise, np.ones((36, 1)), 1.0)
    >>> bool(0.8 < np.hypot(found.noise, found.departure) < 1.2)
    True
    """
    sides = np.maximum(np.ptp(places.read_at_m, axis=0), 1e-6)
    U, s, _ = np.linalg.svd(jacobian, full_matrices=False)
    U = U[:, s > 1e-9 * max(float(s[0]), 1e-300)]
    freedom = max(len(residual) - U.shape[1], 1)
    own = np.diag(noise_size(places) ** 2) if is_relative else np.eye(len(residual))
    tried: list[tuple[float, float, ModelError]] = []
    for lengths, unit in _correlations(places, sides):
        left = left_by_conduction(places, unit)
        unit = unit / left
        shares = SHARES if not tried else SHARES[1:]
        part = np.array(shares)[:, None, None]
        each = restricted_likelihood(part * unit + (1.0 - part) * own, U, residual, freedom)
        for share, likelihood, variance in zip(shares, *(values.tolist() for values in each), strict=True):
            one = ModelError(
                noise=max(float(np.sqrt(variance * (1.0 - share))), LEAST * scatter),
                departure=float(np.sqrt(variance * share / left)),
                lengths_m=lengths,
                is_relative=is_relative,
            )
            tried.append((likelihood, variance * share, one))
    best = max(likelihood for likelihood, _, _ in tried)
    alike = [(read, one) for likelihood, read, one in tried if likelihood >= best - ALIKE]
    return max(alike, key=lambda pair: pair[0])[1]


def _correlations(places: Places, sides: FloatArray) -> Iterator[tuple[tuple[float, float], FloatArray]]:
    """Covariances of a departure of one, at the readings, for the lengths that are tried."""
    axes = [[(float(share * sides[i])) for share in LENGTHS] for i in (0, 1)]
    if places.conduction is not None:
        for across, along in product(*axes):
            lengths = (across, along)
            yield lengths, places.conduction.covariance(places.at_m, places.size, lengths)
        return
    sizes = places.size[:, None] * places.size
    pairs = [[(length, bell(at, at, length)) for length in axes[i]] for i, at in enumerate(places.at_m.T)]
    for (across, bell_x), (along, bell_y) in product(*pairs):
        yield (across, along), sizes * bell_x * bell_y


def left_by_conduction(places: Places, unit: FloatArray) -> float:
    """Share of the variance of a departure that conduction leaves at the readings [-]."""
    if places.conduction is None:
        return 1.0
    return float(np.diag(unit).mean() / np.mean(places.size[-len(unit) :] ** 2))


def restricted_likelihood(
    V: FloatArray, U: FloatArray, residual: FloatArray, freedom: int
) -> tuple[FloatArray, FloatArray]:
    """Restricted log likelihood without its constant, and the variance that goes with it, of each covariance V.

    With L L' = V the residuals and columns are wanted as L^-1 [residual, U]. The Cholesky factor of V bordered by them,
    [[V, B], [B', large]], holds them below L: one factor, and no solution of triangles, whose threads in scipy and
    those of numpy wait for each other, a hundred times as long.
    """
    B = np.column_stack([residual, U])
    n, m = B.shape
    bordered = np.zeros((len(V), n + m, n + m))
    bordered[:, :n, :n] = V
    bordered[:, n:, :n] = B.T
    places = np.arange(n + m)
    bordered[:, places, places] += np.where(places < n, 1e-12, LARGE)
    L = np.linalg.cholesky(bordered)  # of the lower triangles alone
    white, columns = L[:, n, :n], L[:, n + 1 :, :n]
    inner = columns @ columns.transpose(0, 2, 1)
    constants = np.linalg.solve(inner, columns @ white[:, :, None])
    left = white - (columns.transpose(0, 2, 1) @ constants)[:, :, 0]
    variance = np.maximum((left * left).sum(axis=1) / freedom, 1e-300)
    logs = 2.0 * np.log(L[:, places[:n], places[:n]]).sum(axis=1) + np.linalg.slogdet(inner)[1]
    return -0.5 * (freedom * np.log(variance) + logs), variance


@dataclass(frozen=True, slots=True, kw_only=True)
class Departures:
    """Draws of the departure at targets, either of a layout that was measured or of another."""

    error: ModelError
    places: Places  # of the readings
    targets: Places
    is_measured: bool  # the readings are of this layout, and say where the model departs

    def draws(self, residual: FloatArray, rng: np.random.Generator) -> FloatArray:
        """One draw [m] for each row of residuals [draws, n]."""
        count, points = len(residual), len(self.targets.size)
        if self.error.departure == 0.0:
            return np.zeros((count, points))
        covariance = self.error.shared(self.targets, self.targets)
        expected: FloatArray | float = 0.0
        if self.is_measured:
            across = self.error.shared(self.places, self.targets)
            root = self.error.root(self.places)
            inner = np.linalg.solve(root, across)
            expected = residual @ np.linalg.solve(root.T, inner)
            covariance = covariance - inner.T @ inner
        rounding = ROUNDING * self.error.departure**2 * float(self.targets.size.max()) ** 2
        around = np.linalg.cholesky(covariance + rounding * np.eye(points))
        free = self._patches()  # its variance is known from so many patches alone: Student's t
        student = np.sqrt(free / rng.chisquare(free, count))[:, None]
        return np.asarray(expected + student * (rng.standard_normal((count, points)) @ around.T))

    def _patches(self) -> float:
        """Independent patches of the departure among the readings, at least 4."""
        sides = np.ptp(self.places.read_at_m, axis=0) / (
            math.sqrt(2 * math.pi) * np.array(self.error.lengths_m)
        )
        return float(max(np.prod(np.maximum(sides, 1.0)), 4.0))
