"""Noise and departure of readings: the restricted likelihood against the density of contrasts."""

from __future__ import annotations

import numpy as np
import pytest

from burnerlab.layout.conduction import bell
from burnerlab.layout.model_error import restricted_likelihood


def test_the_restricted_likelihood_is_the_density_of_contrasts_free_of_the_constants() -> None:
    """Against scipy's normal density of contrasts orthogonal to the columns, at its best variance; three splits."""
    from scipy.linalg import null_space
    from scipy.stats import multivariate_normal

    rng = np.random.default_rng(7)
    at, beside = np.sort(rng.uniform(0, 1, 30)), rng.standard_normal((30, 4))
    columns, _ = np.linalg.qr(beside[:, 1:])
    residual, freedom = beside[:, 0], 27
    splits = np.stack(
        [share * bell(at, at, 0.2) + (1 - share) * np.diag(1 + at) for share in (0.0, 0.4, 0.98)]
    )
    likelihood, variance = restricted_likelihood(splits, columns, residual, freedom)
    contrasts = null_space(columns.T)
    for ours, best, V in zip(likelihood, variance, splits, strict=True):
        free = contrasts.T @ V @ contrasts
        density = [
            multivariate_normal(np.zeros(freedom), scale * best * free).logpdf(contrasts.T @ residual)
            for scale in (0.9, 1.0, 1.1)
        ]
        assert max(density) == density[1]
        assert ours == pytest.approx(density[1] + freedom / 2 * (1 + np.log(2 * np.pi)), abs=1e-8)
