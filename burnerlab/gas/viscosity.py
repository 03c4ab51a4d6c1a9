"""Viscosity of a fuel gas near room temperature, good enough for a Reynolds number.

Pure gases from one published correlation, mixtures by Wilke's rule. A gas known only by heating value and
density is given the viscosity of the alkane of its molar mass, marked as an estimate.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from burnerlab import tables
from burnerlab.gas.component import component_table
from burnerlab.gas.composition import Composition
from burnerlab.tables.problem import UserError


class Dense(Protocol):
    """Anything with a density at a state."""

    def density_kg_per_m3(self, temperature_K: float, absolute_pressure_Pa: float) -> float | Array: ...


Array = NDArray[np.float64]

MOLAR_GAS_CONSTANT = 8.314462618  # J/(mol K), exact by the SI definition of 2019
ALKANE_LINE = ("methane", "ethane", "propane", "n-butane", "n-pentane")
MIXTURE = "Wilke's rule on the pure gases of the table"
ESTIMATE = "estimate: the alkane of the same molar mass"


@dataclass(frozen=True, slots=True, kw_only=True)
class Viscosity:
    """Dynamic viscosity and how it was come by."""

    value_Pa_s: float
    method: str

    @property
    def estimated(self) -> bool:
        return self.method == ESTIMATE


@cache
def _correlations() -> dict[str, tuple[float, float, float, float]]:
    return {
        row["name"]: (float(row["A"]), float(row["B"]), float(row["C"]), float(row["D"]))
        for row in tables.rows("viscosity")
    }


def pure_viscosity_Pa_s(name: str, temperature_K: float) -> float:
    """Viscosity of a pure gas at low pressure: mu = A T^B/(1 + C/T + D/T^2).

    name : component as the component table names it; temperature_K : [K]
    Returns [Pa s]. Source: viscosity-perry. Range: the table's columns T_low_K, T_high_K.

    >>> pure_viscosity_Pa_s("methane", 288.15) * 1e6
    10.87
    """
    a, b, c, d = _correlations()[name]
    return float(a * temperature_K**b / (1.0 + c / temperature_K + d / temperature_K**2))


def mixture_viscosity_Pa_s(
    fractions: NDArray[np.float64], viscosities_Pa_s: NDArray[np.float64], molar_masses: NDArray[np.float64]
) -> float:
    """Viscosity of a gas mixture by Wilke: sum of x_i mu_i / sum_j x_j phi_ij.

    fractions : mole [-]; viscosities_Pa_s : of the pure gases [Pa s]; molar_masses : in any one unit
    Returns [Pa s]. Source: viscosity-wilke.

    >>> mixture_viscosity_Pa_s(np.array([0.5, 0.5]), np.array([1e-5, 1e-5]), np.array([16.0, 16.0]))
    1e-05
    """
    mu, m = viscosities_Pa_s, molar_masses
    phi = (1.0 + np.sqrt(mu[:, None] / mu) * (m / m[:, None]) ** 0.25) ** 2 / np.sqrt(
        8.0 * (1.0 + m[:, None] / m)
    )
    return float(np.sum(fractions * mu / (phi @ fractions)))


def viscosity(gas: Dense, temperature_K: float) -> Viscosity:
    """Viscosity of a gas at a temperature and ordinary pressure.

    gas : of the library, a file, or declared by heating value and density; temperature_K : [K]
    Returns the value [Pa s] and the method. Range: below about 10 bar; a Reynolds number needs no more than
    5 %.
    """
    composition = _composition(gas)
    known = _correlations()
    if composition is None or any(name not in known for name in composition.names):
        return Viscosity(value_Pa_s=_on_alkane_line(gas, temperature_K), method=ESTIMATE)
    names = composition.names
    components = component_table()
    mu = np.array([pure_viscosity_Pa_s(name, temperature_K) for name in names])
    mass = np.array([components.molar_mass_kg_per_mol[components.index[name]] for name in names])
    return Viscosity(
        value_Pa_s=mixture_viscosity_Pa_s(np.array(composition.fractions), mu, mass), method=MIXTURE
    )


def _composition(gas: Dense) -> Composition | None:
    """Of anything that has one; a declared gas refuses to tell."""
    try:
        found = getattr(gas, "composition", None)
    except UserError:
        return None
    return found if isinstance(found, Composition) else None


def _on_alkane_line(gas: Dense, temperature_K: float) -> float:
    pressure = 101325.0  # any low pressure gives the same molar mass within a per cent
    molar_mass = (
        gas.density_kg_per_m3(temperature_K, pressure) * MOLAR_GAS_CONSTANT * temperature_K / pressure
    )
    components = component_table()
    masses = [components.molar_mass_kg_per_mol[components.index[name]] for name in ALKANE_LINE]
    values = [pure_viscosity_Pa_s(name, temperature_K) for name in ALKANE_LINE]
    return float(np.interp(molar_mass, masses, values))
