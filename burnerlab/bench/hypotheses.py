"""Everything that may be the case, in arrays that one reading or thousands are held against."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.appliance.model import Appliance
from burnerlab.appliance.spreads import DIVISOR, default_spreads
from burnerlab.bench.causes import Cause, causes, possibilities
from burnerlab.bench.unit import Bench
from burnerlab.bench.worlds import Variant, Worlds, joined

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hypotheses:
    """Every possibility of every cause, in arrays that one reading or thousands are held against."""

    bench: Bench
    causes: tuple[Cause, ...]
    variants: tuple[Variant, ...]
    cause_of: NDArray[np.int64]  # [possibility]
    variant_of: NDArray[np.int64]
    log_prior: Array
    log_reading: Array  # logarithm of the predicted ratio
    worlds: Worlds
    unit_scatter: float  # relative standard deviation from unit to unit [-]

    @property
    def told_of(self) -> NDArray[np.int64]:
        """What a measurement is to tell: the cause and, where none is known, appliance or reading [possibility]."""
        found: NDArray[np.int64] = np.where(self.worlds.slip != 1.0, len(self.causes), self.cause_of)
        return found

    @property
    def priors(self) -> Array:
        """Of the causes that apply here, adding up to one [-]."""
        total = sum(cause.prior for cause in self.causes)
        return np.array([cause.prior / total for cause in self.causes])


def hypotheses(bench: Bench, own_causes: Path | None = None) -> Hypotheses:
    """The causes that apply at this bench with all their possibilities."""
    found = [(cause, possibilities(bench, cause)) for cause in causes(own_causes)]
    kept = [(cause, variants) for cause, variants in found if variants]
    total = sum(cause.prior for cause, _ in kept)
    every: list[Variant] = []
    cause_of, variant_of, log_prior = [], [], []
    for i, (cause, variants) in enumerate(kept):
        weight = sum(variant.weight for variant in variants)
        for variant in variants:
            n = len(variant.worlds)
            share = cause.prior / total * variant.weight / weight / n
            cause_of.append(np.full(n, i))
            variant_of.append(np.full(n, len(every)))
            log_prior.append(np.full(n, math.log(share)))
            every.append(variant)
    together = joined([variant.worlds for variant in every])
    return Hypotheses(
        bench=bench,
        causes=tuple(cause for cause, _ in kept),
        variants=tuple(every),
        cause_of=np.concatenate(cause_of),
        variant_of=np.concatenate(variant_of),
        log_prior=np.concatenate(log_prior),
        log_reading=np.log(together.reading(bench.weights)),
        worlds=together,
        unit_scatter=unit_scatter(bench.appliance),
    )


def unit_scatter(appliance: Appliance) -> float:
    """Relative standard deviation of heat inputs of sound units: pressure, coefficient, gas [-].

    >>> from burnerlab.appliance import demonstration
    >>> unit_scatter(demonstration())
    0.0218
    """
    used = {**default_spreads(), **appliance.spreads}
    powers = {"pressure": 0.5, "coefficient": 1.0, "wobbe": 1.0}
    deviations = (
        power * used[cause].half_width / DIVISOR[used[cause].shape] for cause, power in powers.items()
    )
    return math.sqrt(sum(u * u for u in deviations))


def log_shares(found: Hypotheses, log_ratio: ArrayLike, scatter: float) -> Array:
    """Logarithm of prior times likelihood of every possibility, for one reading or many [reading, possibility].

    The logarithm of a reading scatters normally about that of the predicted ratio with ``scatter`` [-].
    """
    off = (np.atleast_1d(np.asarray(log_ratio, dtype=float))[:, None] - found.log_reading) / scatter
    shares: Array = found.log_prior - 0.5 * off * off
    return shares


def by_cause(found: Hypotheses, weights: Array) -> Array:
    """Weights of possibilities summed over each cause and scaled to one [reading, cause]."""
    n = len(found.causes)
    sums = np.stack([weights[:, found.cause_of == i].sum(axis=1) for i in range(n)], axis=1)
    total: Array = sums / sums.sum(axis=1, keepdims=True)
    return total


def normalised(log_weights: Array) -> Array:
    """Weights that add up to one along the last axis, from their logarithms."""
    weights: Array = np.exp(log_weights - log_weights.max(axis=-1, keepdims=True))
    weights /= weights.sum(axis=-1, keepdims=True)
    return weights
