"""Exchange of radiation between grey surfaces: a small linear system, one or many at once.

J = eps E + (1 - eps) F J; a re-radiating surface sends back what it receives, J = F J. The net flux is J - F J.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.tables.problem import Problem, UserError

FloatArray = NDArray[np.float64]

STEFAN_BOLTZMANN = 5.670374419e-8  # [W/(m2 K4)] SI 2019, from exact constants


@dataclass(frozen=True, slots=True, kw_only=True)
class RadiationExchange:
    """Radiosities and net fluxes of an enclosure; surfaces along the last axis."""

    radiosity_W_per_m2: FloatArray
    irradiation_W_per_m2: FloatArray

    @property
    def net_W_per_m2(self) -> FloatArray:
        """Flux that leaves each surface for good."""
        return np.asarray(self.radiosity_W_per_m2 - self.irradiation_W_per_m2)


def black_W_per_m2(temperature_K: ArrayLike) -> FloatArray:
    """Emissive power of a black surface, sigma T^4 [W/m2].

    >>> float(black_W_per_m2(1000.0))
    56703.7
    """
    return np.asarray(STEFAN_BOLTZMANN * np.asarray(temperature_K, dtype=np.float64) ** 4)


def exchange(
    view_factors: ArrayLike, emissivity: ArrayLike, temperature_K: ArrayLike, reradiating: ArrayLike = False
) -> RadiationExchange:
    """Radiosities of grey surfaces at given temperatures or re-radiating ones.

    view_factors : F [..., n, n], from the row's surface to the column's; rows that fall short of 1 see a cold outside
    emissivity : [..., n]; temperature_K : [..., n], not looked at where reradiating : [..., n]
    Raises UserError for view factors that cannot be.

    >>> found = exchange([[0, 1], [1, 0]], [0.8, 0.5], [1000.0, 500.0])
    >>> float(found.net_W_per_m2[0])
    23626.56
    """
    F = np.asarray(view_factors, dtype=np.float64)
    rows = F.sum(axis=-1)
    if not (np.all(F >= -1e-9) and np.all(rows <= 1.0 + 1e-6)):
        accepted = "0 to 1 each, at most 1 in a row"
        raise UserError(Problem("view factors that no enclosure has", f"{rows.max():g}", accepted=accepted))
    e, T = np.broadcast_arrays(
        np.asarray(emissivity, dtype=np.float64), np.asarray(temperature_K, dtype=np.float64)
    )
    e = np.where(np.asarray(reradiating, dtype=bool), 0.0, e)
    given = np.where(e > 0, e * black_W_per_m2(T), 0.0)
    matrix = np.eye(F.shape[-1]) - (1.0 - e)[..., None] * F
    J: FloatArray = np.asarray(np.linalg.solve(matrix, given[..., None])[..., 0], dtype=np.float64)
    return RadiationExchange(radiosity_W_per_m2=J, irradiation_W_per_m2=np.einsum("...ij,...j->...i", F, J))


def exchange_factors(view_factors: ArrayLike, emissivity: ArrayLike) -> FloatArray:
    """Share of what each surface emits that each absorbs, reflections counted: B = F eps + F (1 - eps) B [-].

    Gebhart's factors: rows of a closed enclosure add to 1, eps_i A_i B_ij = eps_j A_j B_ji. Source: layout-textbook.

    >>> exchange_factors([[0, 1], [1, 0]], [0.8, 0.5]).sum(axis=-1)
    array([1., 1.])
    """
    F, e = np.asarray(view_factors, dtype=np.float64), np.asarray(emissivity, dtype=np.float64)
    matrix = np.eye(F.shape[-1]) - F * (1.0 - e)[..., None, :]
    return np.asarray(np.linalg.solve(matrix, F * e[..., None, :]))


def between_plates_W_per_m2(
    hot_K: ArrayLike,
    cold_K: ArrayLike,
    hot_emissivity: ArrayLike,
    cold_emissivity: ArrayLike,
    shields: ArrayLike = (),
) -> FloatArray:
    """Flux between wide plates with thin shields in between, sigma (T1^4 - T2^4)/(1/e1 + 1/e2 - 1 + sum(2/es - 1)).

    shields : emissivity of each shield, alike on both faces. Source: layout-textbook.

    >>> float(between_plates_W_per_m2(1000.0, 500.0, 0.8, 0.5, [0.1]))
    2501.636
    """
    e1, e2 = np.asarray(hot_emissivity, dtype=np.float64), np.asarray(cold_emissivity, dtype=np.float64)
    between = (2.0 / np.asarray(shields, dtype=np.float64) - 1.0).sum() if np.size(shields) else 0.0
    return np.asarray((black_W_per_m2(hot_K) - black_W_per_m2(cold_K)) / (1 / e1 + 1 / e2 - 1 + between))
