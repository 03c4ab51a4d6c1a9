"""Viscosity and thermal diffusivity of gas and primary air mixed, near ambient pressure.

Gas and air are each mixed from their components once; the two are then mixed for every aeration, so that a
hundred thousand aerations of one gas cost as much as two components.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from burnerlab import tables
from burnerlab.burner.arrays import Array, Numbers, array
from burnerlab.burner.coefficients import coefficients
from burnerlab.gas.component import component_table
from burnerlab.gas.heat_capacity import GAS_CONSTANT, heat_capacity_over_R, polynomials

AIR = (("nitrogen", "oxygen", "argon"), (0.7809, 0.2095, 0.0096))  # table gas_air, carbon dioxide with argon


@dataclass(frozen=True, slots=True, kw_only=True)
class Transport:
    """What one gas brings into a mixture at a temperature; arrays over the cases."""

    viscosity_Pa_s: Array
    conductivity_W_per_mK: Array
    molar_mass_kg_per_mol: Array
    heat_capacity_J_per_molK: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class PrimaryMixture:
    """Gas and primary air as they leave the ports; arrays over the cases."""

    kinematic_viscosity_m2_per_s: Array
    thermal_diffusivity_m2_per_s: Array
    density_kg_per_m3: Array


def _wilke(viscosity: Array, mass: Array) -> Array:
    """Wilke's weights phi_ij, [..., i, j]."""
    mu_i, mu_j = viscosity[..., :, None], viscosity[..., None, :]
    m_i, m_j = mass[:, None], mass[None, :]
    return (1.0 + np.sqrt(mu_i / mu_j) * (m_j / m_i) ** 0.25) ** 2 / np.sqrt(8.0 * (1.0 + m_i / m_j))


@cache
def _viscosity_rows() -> dict[str, tuple[float, float, float, float]]:
    return {
        row["name"]: (float(row["A"]), float(row["B"]), float(row["C"]), float(row["D"]))
        for row in tables.rows("viscosity")
    }


def nearest_known(name: str) -> str:
    """The component itself, or the one of nearest molar mass whose viscosity is known.

    >>> nearest_known("methane"), nearest_known("neopentane")
    ('methane', 'n-pentane')
    """
    known, table = _viscosity_rows(), component_table()
    if name in known:
        return name
    mass = table.molar_mass_kg_per_mol
    return min(known, key=lambda other: abs(mass[table.index[other]] - mass[table.index[name]]))


def pure_viscosities_Pa_s(names: Sequence[str], temperature_K: Numbers) -> Array:
    """Viscosity of each component at low pressure, mu = A T^B/(1 + C/T + D/T^2) [Pa s], [..., component].

    temperature_K : [K]. Source: viscosity-perry.

    >>> float(pure_viscosities_Pa_s(["methane"], 288.15)[0]) * 1e6
    10.87
    """
    t = array(temperature_K)[..., None]
    a, b, c, d = np.array([_viscosity_rows()[nearest_known(name)] for name in names]).T
    found: Array = a * t**b / (1.0 + c / t + d / t**2)
    return found


def transport(
    names: Sequence[str], fractions: Sequence[float] | Array, temperature_K: Numbers, own: Path | None = None
) -> Transport:
    """Viscosity, conductivity, molar mass and heat capacity of a gas mixture.

    Conductivity of a component k = (mu/M)(1.32 cv + 1.77 R); mixtures by Wilke's weights for both.

    fractions : mole fractions, [component]; temperature_K : [K], any shape.
    Error of the diffusivity of fuel and air against a kinetic-theory calculation at 298 K: 2 % methane and
    carbon monoxide, 1 % propane, 6 % hydrogen. Source: viscosity-wilke, eucken.
    """
    table, x = component_table(), array(fractions)
    mass = table.molar_mass_kg_per_mol[table.take(names)]
    mu = pure_viscosities_Pa_s(names, temperature_K)
    heat = GAS_CONSTANT * heat_capacity_over_R(polynomials("component").at(names), temperature_K)
    table_of = coefficients(own)
    factor, constant = table_of["Eucken factor"].value, table_of["Eucken constant"].value
    k = mu / mass * (factor * (heat - GAS_CONSTANT) + constant * GAS_CONSTANT)
    weight = np.einsum("...ij,j->...i", _wilke(mu, mass), x)
    return Transport(
        viscosity_Pa_s=np.sum(x * mu / weight, axis=-1),
        conductivity_W_per_mK=np.sum(x * k / weight, axis=-1),
        molar_mass_kg_per_mol=array(x @ mass),
        heat_capacity_J_per_molK=np.sum(x * heat, axis=-1),
    )


def primary_mixture(
    names: Sequence[str],
    fractions: Sequence[float] | Array,
    air_per_gas: Numbers,
    temperature_K: Numbers,
    pressure_Pa: Numbers = 101325.0,
    own: Path | None = None,
) -> PrimaryMixture:
    """Viscosity, thermal diffusivity and density of gas mixed with air.

    nu = mu/rho, alpha = k/(rho cp)

    fractions : mole fractions of the gas, [component]; air_per_gas : [mol/mol]
    temperature_K : [K]; pressure_Pa : absolute [Pa]; all but the fractions of any shape.
    Source: viscosity-wilke, eucken; see ``transport`` for the error.

    >>> float(primary_mixture(["propane"], [1.0], 23.87, 298.15).thermal_diffusivity_m2_per_s) * 1e5
    2.06
    """
    fuel, air = transport(names, fractions, temperature_K, own), transport(*AIR, temperature_K, own)
    return mixed_with_air(fuel, air, air_per_gas, temperature_K, pressure_Pa)


def mixed_with_air(
    fuel: Transport, air: Transport, air_per_gas: Numbers, temperature_K: Numbers, pressure_Pa: Numbers
) -> PrimaryMixture:
    """The same as ``primary_mixture`` with what gas and air bring in already known at that temperature."""
    r = array(air_per_gas)
    x_fuel, x_air = 1.0 / (1.0 + r), r / (1.0 + r)
    of_fuel, of_air = _weight(fuel, air, x_fuel, x_air), _weight(air, fuel, x_air, x_fuel)

    def mixed(a: Array, b: Array) -> Array:
        return x_fuel * a / of_fuel + x_air * b / of_air

    mass = x_fuel * fuel.molar_mass_kg_per_mol + x_air * air.molar_mass_kg_per_mol
    heat = x_fuel * fuel.heat_capacity_J_per_molK + x_air * air.heat_capacity_J_per_molK
    molar = array(pressure_Pa) / (GAS_CONSTANT * np.asarray(temperature_K))
    return PrimaryMixture(
        kinematic_viscosity_m2_per_s=mixed(fuel.viscosity_Pa_s, air.viscosity_Pa_s) / (molar * mass),
        thermal_diffusivity_m2_per_s=mixed(fuel.conductivity_W_per_mK, air.conductivity_W_per_mK)
        / (molar * heat),
        density_kg_per_m3=molar * mass,
    )


def _weight(one: Transport, other: Transport, x_one: Array, x_other: Array) -> Array:
    """Wilke's denominator of one of two gases."""
    ratio = one.viscosity_Pa_s / other.viscosity_Pa_s
    masses = one.molar_mass_kg_per_mol / other.molar_mass_kg_per_mol
    phi = (1.0 + np.sqrt(ratio) * masses**-0.25) ** 2 / np.sqrt(8.0 * (1.0 + masses))
    weight: Array = x_one + x_other * phi
    return weight
