"""Vapour over liquid petroleum gas: pressure and composition of what leaves the cylinder, and the heat it takes.

Pure components from fits to reference equations of state; mixtures by Raoult's law with each vapour's own second
virial coefficient: x_i p_i exp(B_i (p_i - p)/(R T)) = y_i p. Against reference mixture equations from -30 to 30 C
the pressure is within 1.2 % for mixtures of propane, propylene and butanes, within 2 % with 5 % of ethane.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.gas.component import component_table
from burnerlab.gas.real_gas import compression_factor
from burnerlab.supply.root_search import rising_root
from burnerlab.tables.problem import Problem, UserError

Array = NDArray[np.float64]

MOLAR_GAS_CONSTANT = 8.314462618  # J/(mol K), exact by the SI definition of 2019
VIRIAL_PRESSURE_Pa = 1e5  # any low pressure gives the same second virial coefficient
SWEEPS = 12  # of the vapour's correction; each divides the error by about ten
COLDEST_K, HOTTEST_K = 223.15, 343.15  # -50 to 70 C: inside every fit, and wider than any cylinder is used


@dataclass(frozen=True, slots=True, kw_only=True)
class Liquids:
    """Coefficients of the saturation line of some components, one row each."""

    names: tuple[str, ...]
    critical: Array  # temperature [K], pressure [Pa]
    pressure: Array  # a, b, c, d
    density: Array  # rc, r1, r2, r3 [mol/m3]
    evaporation: Array  # h1, h2, h3 [J/mol]
    heat_capacity: Array  # k0, k1, k2 [J/(mol K)]
    lowest_K: Array
    molar_mass_kg_per_mol: Array


def liquid_names() -> tuple[str, ...]:
    """Components whose liquid the tables know.

    >>> "propane" in liquid_names()
    True
    """
    return tuple(row["component"] for row in tables.rows("vapour_pressure"))


@cache
def liquids(names: tuple[str, ...]) -> Liquids:
    """Coefficients for these components; UserError for one that is no liquefied petroleum gas."""
    vapour = {row["component"]: row for row in tables.rows("vapour_pressure")}
    liquid = {row["component"]: row for row in tables.rows("lpg_liquid")}
    strange = [name for name in names if name not in vapour]
    if strange:
        what = f"{', '.join(strange)} does not stay liquid in an LP cylinder"
        fix = "name a liquefied gas such as propane, propane-hd5 or butane-commercial"
        raise UserError(Problem(what, key="gas", accepted=", ".join(vapour), fix=fix))

    def pick(table: dict[str, Any], columns: str) -> Array:
        return np.array([[float(table[name][column]) for column in columns.split()] for name in names])

    components = component_table()
    return Liquids(
        names=names,
        critical=pick(vapour, "critical_temperature_K critical_pressure_Pa"),
        pressure=pick(vapour, "a b c d"),
        density=pick(liquid, "rc r1 r2 r3"),
        evaporation=pick(liquid, "h1 h2 h3"),
        heat_capacity=pick(liquid, "k0 k1 k2"),
        lowest_K=pick(vapour, "T_low_K")[:, 0],
        molar_mass_kg_per_mol=np.array(
            [components.molar_mass_kg_per_mol[components.index[n]] for n in names]
        ),
    )


def _checked(temperature_K: ArrayLike) -> Array:
    temperature = np.asarray(temperature_K, dtype=np.float64)
    if not bool(np.all((temperature >= COLDEST_K) & (temperature <= HOTTEST_K))):
        wrong = temperature[~((temperature >= COLDEST_K) & (temperature <= HOTTEST_K))].flat[0]
        accepted = f"{COLDEST_K - 273.15:.0f} to {HOTTEST_K - 273.15:.0f} C"
        what = "is outside the range of the vapour pressures"
        raise UserError(Problem(what, f"{wrong - 273.15:.1f} C", "temperature", accepted=accepted))
    return temperature


def pure_vapour_pressures_Pa(names: Sequence[str], temperature_K: ArrayLike) -> Array:
    """Vapour pressure of each component: ln(p/pc) = (Tc/T)(a t + b t^1.5 + c t^2.5 + d t^5), t = 1 - T/Tc.

    temperature_K : [K]; above a critical temperature the line is carried on in 1/T from there
    Returns absolute [Pa], [..., component]. Raises UserError outside -50 to 70 C, or for a component that is
    no liquefied petroleum gas. Within 0.04 % of the reference equations of state.

    >>> pure_vapour_pressures_Pa(["propane", "n-butane"], 288.15) / 1e5
    array([7.315, 1.762])
    """
    substances = liquids(tuple(names))
    return _pure(substances, _checked(temperature_K))


def _pure(substances: Liquids, temperature_K: Array) -> Array:
    tc, pc = substances.critical.T
    a, b, c, d = substances.pressure.T
    t = temperature_K[..., None]
    tau = np.maximum(1.0 - t / tc, 0.0)
    inner = a * tau + b * tau**1.5 + c * tau**2.5 + d * tau**5
    above = np.minimum(1.0 - t / tc, 0.0) * a  # slope of the line at the critical point, in 1/T
    pressure: Array = pc * np.exp(tc / t * (inner + above))
    return pressure


@cache
def _virial_nodes(names: tuple[str, ...]) -> Array:
    """Second virial coefficient of each component at a few temperatures [m3/mol], as a cubic in 1/T."""
    nodes = np.linspace(COLDEST_K, HOTTEST_K, 9)
    columns = []
    for name in names:
        factor = compression_factor([name], [1.0], nodes, VIRIAL_PRESSURE_Pa)
        columns.append((factor - 1.0) * factor * MOLAR_GAS_CONSTANT * nodes / VIRIAL_PRESSURE_Pa)
    powers = np.vander(1000.0 / nodes, 5)
    return np.asarray(np.linalg.lstsq(powers, np.array(columns).T, rcond=None)[0], dtype=np.float64)


def _virials(names: tuple[str, ...], temperature_K: Array) -> Array:
    found: Array = np.power.outer(1000.0 / temperature_K, np.arange(4, -1, -1)) @ _virial_nodes(names)
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Vapour:
    """Vapour in equilibrium with a liquid mixture."""

    pressure_Pa: Array  # absolute
    fractions: Array  # mole fractions of the vapour [..., component]


def vapour_over(names: Sequence[str], liquid_fractions: ArrayLike, temperature_K: ArrayLike) -> Vapour:
    """Pressure and composition of the vapour over a liquid mixture.

    liquid_fractions : mole fractions of the liquid [-], [..., component]; temperature_K : [K]
    Returns absolute pressure [Pa] and vapour mole fractions [-]. Raises UserError outside -50 to 70 C.

    >>> over = vapour_over(["propane", "n-butane"], [0.5, 0.5], 293.15)
    >>> float(over.pressure_Pa) / 1e5, over.fractions
    (5.10, array([0.777, 0.223]))
    """
    return _over(
        liquids(tuple(names)), np.asarray(liquid_fractions, dtype=np.float64), _checked(temperature_K)
    )


def _over(substances: Liquids, x: Array, temperature_K: Array) -> Vapour:
    pure = _pure(substances, temperature_K)
    part = x * pure
    pressure = np.sum(part, axis=-1)
    if len(substances.names) > 1:
        load = _virials(substances.names, temperature_K) / (MOLAR_GAS_CONSTANT * temperature_K[..., None])
        for _ in range(SWEEPS):
            # Tsonopoulos' coefficient is for gases: beyond a component's own saturation it is only carried on
            part = x * pure * np.exp(load * (pure - pressure[..., None]))
            pressure = np.sum(part, axis=-1)
    return Vapour(pressure_Pa=pressure, fractions=part / pressure[..., None])


def temperature_of_pressure_K(
    names: Sequence[str], liquid_fractions: ArrayLike, pressure_Pa: ArrayLike
) -> Any:
    """Temperature at which the vapour over a liquid has a pressure, from a bracket of -50 to 70 C.

    liquid_fractions : mole fractions of the liquid [-], [..., component]; pressure_Pa : absolute [Pa]
    Returns [K], the end of the bracket where the pressure lies beyond it.

    >>> float(temperature_of_pressure_K(["propane"], [1.0], 156483.0))
    241.4
    """
    substances, x = liquids(tuple(names)), np.asarray(liquid_fractions, dtype=np.float64)
    wanted = np.log(np.asarray(pressure_Pa, dtype=np.float64))
    shape = np.broadcast_shapes(wanted.shape, x.shape[:-1])
    low, high = np.full(shape, COLDEST_K), np.full(shape, HOTTEST_K)

    def excess(temperature_K: Array) -> Array:
        gap: Array = np.log(_over(substances, x, temperature_K).pressure_Pa) - wanted
        return gap

    return rising_root(excess, low, high).value[()]


def liquid_density_mol_per_m3(
    names: Sequence[str], liquid_fractions: ArrayLike, temperature_K: ArrayLike
) -> Any:
    """Density of a liquid mixture whose volumes add: 1/rho = sum x_i/rho_i.

    liquid_fractions : mole [-], [..., component]; temperature_K : [K]
    Returns [mol/m3]. Range: -50 to 60 C.

    >>> float(liquid_density_mol_per_m3(["propane"], [1.0], 288.71)) * 0.0440956
    506.7
    """
    substances = liquids(tuple(names))
    tau = _reduced(substances, temperature_K)
    powers = np.stack([np.ones_like(tau), tau ** (1 / 3), tau ** (2 / 3), tau], axis=-1)
    pure = np.sum(substances.density * powers, axis=-1)
    return 1.0 / np.sum(np.asarray(liquid_fractions) / pure, axis=-1)


def _reduced(substances: Liquids, temperature_K: ArrayLike) -> Array:
    """1 - T/Tc, held where a component nears its critical point: it is then a gas dissolved in the others."""
    tau: Array = np.maximum(
        1.0 - np.asarray(temperature_K, dtype=np.float64)[..., None] / substances.critical[:, 0], 0.05
    )
    return tau


def evaporation_heat_J_per_mol(
    names: Sequence[str], vapour_fractions: ArrayLike, temperature_K: ArrayLike
) -> Any:
    """Heat that evaporates a mole of the vapour drawn: h = sum y_i h_i, h_i = h1 t^0.38 + h2 t + h3 t^2.

    vapour_fractions : mole [-], [..., component]; temperature_K : [K]
    Returns [J/mol]. Range: -50 to 60 C.

    >>> float(evaporation_heat_J_per_mol(["propane"], [1.0], 273.15)) / 0.0440956 / 1e3
    374.9
    """
    substances = liquids(tuple(names))
    tau = _reduced(substances, temperature_K)
    pure = np.sum(substances.evaporation * np.stack([tau**0.38, tau, tau * tau], axis=-1), axis=-1)
    return np.sum(np.asarray(vapour_fractions) * pure, axis=-1)


def liquid_heat_capacity_J_per_mol_K(
    names: Sequence[str], liquid_fractions: ArrayLike, temperature_K: ArrayLike
) -> Any:
    """Heat capacity of a liquid mixture: c = sum x_i c_i, c_i = k0 + k1 T + k2 T^2.

    liquid_fractions : mole [-], [..., component]; temperature_K : [K]
    Returns [J/(mol K)]. Range: -50 to 60 C, ethane to 10 C.

    >>> float(liquid_heat_capacity_J_per_mol_K(["propane"], [1.0], 273.15)) / 0.0440956
    2484.7
    """
    substances = liquids(tuple(names))
    t = np.minimum(np.asarray(temperature_K, dtype=np.float64)[..., None], 0.93 * substances.critical[:, 0])
    pure = np.sum(substances.heat_capacity * np.stack([np.ones_like(t), t, t * t], axis=-1), axis=-1)
    return np.sum(np.asarray(liquid_fractions) * pure, axis=-1)
