"""Heat in the mixture and in its burned-out products, per kilogram of mixture: what a tile can take from a flame."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.gas.combustion_air import air_demand, atoms, composition_of, dry_air
from burnerlab.gas.component import air_fractions, component_table
from burnerlab.gas.heat_capacity import (
    GAS_CONSTANT,
    Polynomials,
    enthalpy_over_R,
    entropy_over_R,
    polynomials,
)
from burnerlab.supply.root_search import rising_root
from burnerlab.tables.problem import Problem, UserError

FloatArray = NDArray[np.float64]

BURNED = ("carbon dioxide", "water", "oxygen", "carbon monoxide", "hydrogen", "nitrogen", "argon")
AERATION_RANGE = (0.6, 2.5)  # below it soot and methane form; above it no flame stands
COLDEST_K, HOTTEST_K = 200.0, 3000.0  # bracket of gas temperatures, the range of the polynomials
NO_SHIFT = 1e-12  # oxygen left [mol per mole of gas] below which the products hold CO and hydrogen


@dataclass(frozen=True, slots=True, kw_only=True)
class TileMixture:
    """Gas with air: atoms per mole of gas, and what one kilogram of it brings. Arrays of one shape.

    Products are burned out: nothing dissociated, CO and hydrogen of a rich mixture in water-gas balance. Against a
    full equilibrium this moves no more than 1 % of the heat input below 2000 K.
    """

    names: tuple[str, ...]
    fractions: FloatArray
    aeration: FloatArray  # air over stoichiometric air [-]
    humidity: FloatArray  # water in the air [mol/mol dry air]
    air_mol_per_mol: FloatArray
    mass_kg_per_mol: FloatArray  # of mixture, per mole of gas
    gas_mass_share: FloatArray  # kg of gas per kg of mixture
    carbon: FloatArray
    hydrogen: FloatArray
    oxygen: FloatArray
    nitrogen: FloatArray
    argon: FloatArray


def mixture(gas: Any, aeration: ArrayLike, humidity: ArrayLike = 0.0) -> TileMixture:
    """A gas with air, one aeration or many.

    gas : a gas or composition; aeration : air over stoichiometric air [-], 0.6 to 2.5;
    humidity : water in the air [mol/mol dry air].
    Raises UserError outside the range and for a gas without composition or fuel.

    >>> from burnerlab.gas import mix
    >>> float(mixture(mix({"methane": 1.0}, per="mole"), 1.1).gas_mass_share)
    0.05010
    """
    names, x = composition_of(gas)
    share, moist = np.broadcast_arrays(np.asarray(aeration, dtype=float), np.asarray(humidity, dtype=float))
    low, high = AERATION_RANGE
    inside = (share >= low) & (share <= high)
    if not np.all(inside):
        accepted, fix = (
            f"{low:g} to {high:g}",
            "a tile takes all its air before the flame; write 110 % as 1.1",
        )
        bad = f"{share[~inside].flat[0]:g}"
        raise UserError(
            Problem("outside the range of a tile's flame", bad, key="aeration", accepted=accepted, fix=fix)
        )
    n, mix, table = atoms(names, x), dry_air(), component_table()
    air = air_demand(names, x) * share
    gas_mass = float(x @ table.molar_mass_kg_per_mol[table.take(names)])
    water_mass = float(table.molar_mass_kg_per_mol[table.index["water"]])
    mass = gas_mass + air * (mix.molar_mass_kg_per_mol + moist * water_mass)
    return TileMixture(
        names=names,
        fractions=x,
        aeration=share,
        humidity=moist,
        air_mol_per_mol=air,
        mass_kg_per_mol=mass,
        gas_mass_share=gas_mass / mass,
        carbon=n["C"] + n["S"] + mix.carbon_dioxide * air,  # a trace of sulphur is counted as carbon
        hydrogen=n["H"] + 2 * moist * air,
        oxygen=n["O"] + 2 * (mix.oxygen + mix.carbon_dioxide) * air + moist * air,
        nitrogen=n["N"] + 2 * mix.nitrogen * air,
        argon=n["Ar"] + n["He"] + mix.argon * air,
    )


def mixture_enthalpy_J_per_kg(mixed: TileMixture, temperature_K: ArrayLike) -> FloatArray:
    """Enthalpy of the unburnt mixture with heats of formation [J/kg mixture], ideal gases.

    temperature_K : of gas and air alike [K].
    """
    data = polynomials("component")
    fuel = enthalpy_over_R(data.at(mixed.names), temperature_K) @ mixed.fractions
    parts = dict(air_fractions())
    air = enthalpy_over_R(data.at(tuple(parts)), temperature_K) @ np.array(list(parts.values()))
    steam = enthalpy_over_R(data.at(("water",)), temperature_K)[..., 0]
    total = fuel + mixed.air_mol_per_mol * (air + mixed.humidity * steam)
    return np.asarray(total * GAS_CONSTANT / mixed.mass_kg_per_mol)


@cache
def _products() -> Polynomials:
    return polynomials("component").at(BURNED)


def _held(amounts: FloatArray, temperature_K: FloatArray) -> FloatArray:
    """Sum n H/R of the products [K]: one polynomial a state, for a million states."""
    data, T = _products(), temperature_K
    scale = np.array([1, 2, 3, 4, 5, 1])
    middle = float(data.middle_K[0])  # the same for all of them
    total = np.zeros(T.shape)
    for rows, chosen in ((data.low, T <= middle), (data.high, T > middle)):
        if np.any(chosen):
            c = np.moveaxis(amounts[chosen] @ (rows[:, :6] / scale), -1, 0)
            t = T[chosen]
            total[chosen] = c[5] + t * (c[0] + t * (c[1] + t * (c[2] + t * (c[3] + t * c[4]))))
    return total


def shift_constant(temperature_K: ArrayLike) -> FloatArray:
    """Constant of the water-gas balance, K = CO2 H2/(CO H2O) [-], at a temperature [K].

    >>> float(shift_constant(1100.0))
    0.987
    """
    T = np.asarray(temperature_K, dtype=float)
    data = polynomials("component").at(("carbon dioxide", "hydrogen", "carbon monoxide", "water"))
    gibbs = enthalpy_over_R(data, T) / T[..., None] - entropy_over_R(data, T)
    return np.asarray(np.exp(-gibbs @ [1.0, 1.0, -1.0, -1.0]))


def burned_amounts(mixed: TileMixture, temperature_K: ArrayLike) -> FloatArray:
    """Products per mole of gas [mol/mol], [..., product of BURNED], CO and hydrogen in water-gas balance."""
    T, c, h2, o, n2, argon = np.broadcast_arrays(
        np.asarray(temperature_K, dtype=float),
        mixed.carbon,
        mixed.hydrogen / 2,
        mixed.oxygen,
        mixed.nitrogen / 2,
        mixed.argon,
    )
    spare = o - 2 * c - h2
    rich = spare < -NO_SHIFT
    dioxide, water = np.array(c), np.array(h2)
    if np.any(rich):
        dioxide[rich] = _dioxide(shift_constant(T[rich]), c[rich], h2[rich], o[rich])
        water[rich] = o[rich] - c[rich] - dioxide[rich]
    oxygen = np.maximum(spare, 0.0) / 2
    return np.stack([dioxide, water, oxygen, c - dioxide, h2 - water, n2, argon], axis=-1)


def _dioxide(K: FloatArray, c: FloatArray, h2: FloatArray, o: FloatArray) -> FloatArray:
    """Moles x of CO2 in water-gas balance: K (c - x)(o - c - x) = x (h2 - o + c + x)."""
    a, b, d = K - 1.0, -(K * o + h2 - o + c), K * c * (o - c)
    return np.asarray(2 * d / (np.sqrt(np.maximum(b * b - 4 * a * d, 0.0)) - b))


def burned_enthalpy_J_per_kg(mixed: TileMixture, temperature_K: ArrayLike) -> FloatArray:
    """Enthalpy of the burned-out products with heats of formation [J/kg mixture], at a temperature [K]."""
    T = np.broadcast_to(
        np.asarray(temperature_K, dtype=float),
        np.broadcast_shapes(np.shape(temperature_K), mixed.carbon.shape),
    )
    return np.asarray(_held(burned_amounts(mixed, T), T) * GAS_CONSTANT / mixed.mass_kg_per_mol)


def burned_temperature_K(mixed: TileMixture, enthalpy_J_per_kg: ArrayLike) -> FloatArray:
    """Temperature of the burned-out products that hold an enthalpy [K].

    enthalpy_J_per_kg : with heats of formation [J/kg mixture].
    Raises UserError when it is held at no temperature between 200 and 3000 K.

    >>> from burnerlab.gas import mix
    >>> lean = mixture(mix({"methane": 1.0}, per="mole"), 1 / 0.9)
    >>> float(burned_temperature_K(lean, mixture_enthalpy_J_per_kg(lean, 298.15)))
    2175.6
    """
    wanted = np.asarray(enthalpy_J_per_kg, dtype=float)
    shape = np.broadcast_shapes(wanted.shape, mixed.carbon.shape)
    scale = np.abs(burned_enthalpy_J_per_kg(mixed, 1500.0))

    def gap(T: FloatArray) -> FloatArray:
        return np.asarray((burned_enthalpy_J_per_kg(mixed, T) - wanted) / scale)

    found = rising_root(gap, np.full(shape, COLDEST_K), HOTTEST_K, tolerance=1e-9)
    if np.any(found.at_low) or np.any(found.at_high):
        raise UserError(Problem("no temperature from 200 to 3000 K holds this heat", key="enthalpy"))
    return found.value
