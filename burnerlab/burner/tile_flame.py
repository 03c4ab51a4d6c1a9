"""The flame on a ceramic tile, and the gas behind it.

The gas knows the mass flux that burned it and hardly the surface that cooled it (4 K from a surface of 400 to one of
1200 K), so one table serves every tile.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.gas.combustion_air import air_demand, atoms, composition_of, dry_air
from burnerlab.gas.component import air_fractions, component_table
from burnerlab.gas.heat_capacity import (
    GAS_CONSTANT,
    Polynomials,
    enthalpy_over_R,
    entropy_over_R,
    polynomials,
)
from burnerlab.gas.summation import net_J_per_mol
from burnerlab.supply.root_search import rising_root
from burnerlab.tables import figure, figures
from burnerlab.tables.problem import Problem, UserError

# Heat in the mixture and in its burned-out products, per kilogram of mixture: what a tile can take from a
# flame.

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
    fuel = enthalpy_over_R(_species(mixed.names), temperature_K) @ mixed.fractions
    names, shares = _air_parts()
    air = enthalpy_over_R(_species(names), temperature_K) @ shares
    steam = enthalpy_over_R(_species(("water",)), temperature_K)[..., 0]
    total = fuel + mixed.air_mol_per_mol * (air + mixed.humidity * steam)
    return np.asarray(total * GAS_CONSTANT / mixed.mass_kg_per_mol)


@cache
def _species(names: tuple[str, ...]) -> Polynomials:
    return polynomials("component").at(names)


@cache
def _air_parts() -> tuple[tuple[str, ...], FloatArray]:
    """Components of dry air and their mole fractions."""
    parts = dict(air_fractions())
    return tuple(parts), np.array(list(parts.values()))


@cache
def _products() -> tuple[float, FloatArray, FloatArray]:
    """Where the polynomials of the products change [K], and their coefficients of H/R below and above."""
    data, scale = _species(BURNED), np.array([1, 2, 3, 4, 5, 1])
    return float(data.middle_K[0]), data.low[:, :6] / scale, data.high[:, :6] / scale


class _ProductsEnthalpy:
    """Sum n H/R of the products [K]: one polynomial a state, for a million states at many temperatures."""

    def __init__(self, amounts: FloatArray) -> None:
        self.middle_K, low, high = _products()
        self.low, self.high = (np.moveaxis(amounts @ rows, -1, 0) for rows in (low, high))

    def __call__(self, temperature_K: FloatArray) -> FloatArray:
        T = temperature_K
        is_low = T <= self.middle_K
        count = np.count_nonzero(is_low)
        if count == 0:
            return _polynomial(self.high, T)
        if count == T.size:
            return _polynomial(self.low, T)
        return np.where(is_low, _polynomial(self.low, T), _polynomial(self.high, T))


def _polynomial(c: FloatArray, t: FloatArray) -> FloatArray:
    found: FloatArray = c[5] + t * (c[0] + t * (c[1] + t * (c[2] + t * (c[3] + t * c[4]))))
    return found


def shift_constant(temperature_K: ArrayLike) -> FloatArray:
    """Constant of the water-gas balance, K = CO2 H2/(CO H2O) [-], at a temperature [K].

    >>> float(shift_constant(1100.0))
    0.987
    """
    T = np.asarray(temperature_K, dtype=float)
    data = _species(("carbon dioxide", "hydrogen", "carbon monoxide", "water"))
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
    return burned_enthalpies(mixed)(np.asarray(temperature_K, dtype=float))


def burned_enthalpies(mixed: TileMixture) -> Callable[[FloatArray], FloatArray]:
    """``burned_enthalpy_J_per_kg`` of one mixture for many temperatures: what they share is found once."""
    if _is_rich(mixed).any():  # the water-gas balance moves with the temperature

        def in_balance(temperature_K: FloatArray) -> FloatArray:
            shape = np.broadcast_shapes(temperature_K.shape, mixed.carbon.shape)
            T = np.broadcast_to(temperature_K, shape)
            products = _ProductsEnthalpy(burned_amounts(mixed, T))
            return np.asarray(products(T) * GAS_CONSTANT / mixed.mass_kg_per_mol)

        return in_balance
    products = _ProductsEnthalpy(burned_amounts(mixed, 0.0))

    def burned_out(temperature_K: FloatArray) -> FloatArray:
        return np.asarray(products(temperature_K) * GAS_CONSTANT / mixed.mass_kg_per_mol)

    return burned_out


def _is_rich(mixed: TileMixture) -> NDArray[np.bool_]:
    """Whether a mixture lacks oxygen for its products."""
    spare = mixed.oxygen - 2 * mixed.carbon - mixed.hydrogen / 2
    return np.asarray(spare < -NO_SHIFT)


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


# Temperature of the gas a tile's flame leaves behind, from the table of flat flames on a cooled surface.

SEA_LEVEL_Pa = 101325.0  # ICAO standard atmosphere, where the table was solved
WITH_HYDROGEN = "methane 60 hydrogen 40"
HYDROGEN_OF_TABLE = 0.4  # mole fraction of hydrogen in that fuel
OFFSET = "offset "
LARGEST_SHARES = {"hydrogen": 0.45, "carbon monoxide": 0.02, "inert": 0.45}
"""Of the gas [mol/mol]; hydrogen and carbon monoxide are counted over the fuel alone."""
STENCIL = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class TileFlameTable:
    """Burned-gas temperatures of three fuels over equivalence ratio and mass flux."""

    fuels: tuple[str, ...]
    equivalence_ratios: FloatArray
    mass_fluxes: FloatArray  # [kg/(m2 s)]
    inverse_K: FloatArray  # [fuel, equivalence ratio, mass flux]


@tables.cache_by_file
def flame_table(own: Path | None = None) -> TileFlameTable:
    """The shipped table, or a CSV file of the same columns that covers the same rectangle.

    >>> flame_table().fuels
    ('methane', 'propane', 'methane 60 hydrogen 40')
    """
    rows = tables.read("tile_flame", own)
    fuels = tuple(dict.fromkeys(row["fuel"] for row in rows))
    ratios = np.array(sorted({float(row["equivalence_ratio"]) for row in rows}))
    fluxes = np.array(sorted({float(row["mass_flux_kg_per_m2s"]) for row in rows}))
    grid = np.full((len(fuels), ratios.size, fluxes.size), np.nan)
    for row in rows:
        place = (
            fuels.index(row["fuel"]),
            int(np.searchsorted(ratios, float(row["equivalence_ratio"]))),
            int(np.searchsorted(fluxes, float(row["mass_flux_kg_per_m2s"]))),
        )
        grid[place] = 1.0 / float(row["burned_gas_K"])
    if np.isnan(grid).any():
        what = "a point of the rectangle of equivalence ratios and mass fluxes is missing"
        raise UserError(Problem(what, file=str(own or "tile_flame")))
    return TileFlameTable(fuels=fuels, equivalence_ratios=ratios, mass_fluxes=fluxes, inverse_K=grid)


def _weights(nodes: FloatArray, x: FloatArray) -> tuple[NDArray[np.intp], FloatArray]:
    """First node and Lagrange weights of four neighbours (fewer where there are fewer) [..., neighbour]."""
    count = min(STENCIL, nodes.size)
    first = np.clip(np.searchsorted(nodes, x) - count // 2, 0, nodes.size - count)
    near = nodes[first[..., None] + np.arange(count)]
    weights = np.ones_like(near)
    for i in range(count):
        for j in range(count):
            if i != j:
                weights[..., i] *= (x - near[..., j]) / (near[..., i] - near[..., j])
    return first, weights


def _inverse_K(
    table: TileFlameTable, fuels: Sequence[str], phi: FloatArray, flux: FloatArray
) -> dict[str, FloatArray]:
    """1/T interpolated in phi, on its own side of 1 where the products change, and in the logarithm of the flux."""
    along, across = _weights(np.log(table.mass_fluxes), np.log(flux))
    found = {fuel: np.empty(phi.shape) for fuel in fuels}
    ratios = table.equivalence_ratios
    for side, nodes in ((phi <= 1.0, ratios <= 1.0), (phi > 1.0, ratios >= 1.0)):
        if not np.any(side):
            continue
        start, weights = _weights(ratios[nodes], phi[side])
        rows = start[..., None] + np.arange(weights.shape[-1]) + int(np.flatnonzero(nodes)[0])
        columns = along[side][..., None] + np.arange(across.shape[-1])
        for fuel in fuels:
            block = table.inverse_K[table.fuels.index(fuel)][rows[..., :, None], columns[..., None, :]]
            found[fuel][side] = np.einsum("...i,...j,...ij->...", weights, across[side], block)
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelShares:
    """A gas in the fuels of the table: shares of the light and heavy one by net heat, and how far to hydrogen."""

    methane: float
    propane: float
    hydrogen: float  # mole fraction in the fuel over that of the table's fuel
    offset_K: float  # of the other hydrocarbons against propane, by their shares of the net heat
    exact: bool  # whether the gas is one of the table's fuels


def fuel_shares(gas: Any, own: Path | None = None) -> FuelShares:
    """Shares of a gas in the fuels of the table; hydrocarbons from ethane up count as propane with an offset.

    Against direct solutions the rule costs up to the figure ``blend error`` of table ``tile_properties``.
    Raises UserError for more than 45 % hydrogen, 2 % carbon monoxide, 45 % inert gas.

    >>> from burnerlab.gas import load
    >>> fuel_shares(load("propane")).exact
    True
    """
    names, x = composition_of(gas)
    return _shares_of(names, tuple(x.tolist()), own)


@tables.cache_by_file
def _shares_of(names: tuple[str, ...], fractions: tuple[float, ...], own: Path | None) -> FuelShares:
    x = np.array(fractions)
    air_demand(names, x)
    table = component_table()
    heat = net_J_per_mol("25C")[table.take(names)] * x
    burns = heat > 0.0
    fuel = float(x[burns].sum())
    parts = dict(zip(names, x, strict=True))
    found = {
        "hydrogen": parts.get("hydrogen", 0.0) / fuel,
        "carbon monoxide": parts.get("carbon monoxide", 0.0) / fuel,
        "inert": 1.0 - fuel,
    }
    problems = [
        Problem(
            f"too much {name} for the table of tile flames",
            f"{100 * found[name]:.3g} %",
            key=f"{name} in the fuel",
            accepted=f"up to {100 * most:g} %",
        )
        for name, most in LARGEST_SHARES.items()
        if not found[name] <= most
    ]
    if problems:
        raise UserError(problems)
    carbon = np.array([name not in ("hydrogen", "carbon monoxide") for name in names]) & burns
    total = float(heat[carbon].sum())
    known = figures("tile_properties", own)
    share = {name: float(part) / total for name, part in zip(names, heat * carbon, strict=True) if total}
    light = share.get("methane", 0.0) if total else 1.0
    return FuelShares(
        methane=light,
        propane=1.0 - light,
        hydrogen=found["hydrogen"] / HYDROGEN_OF_TABLE,
        offset_K=sum(
            part * known[OFFSET + name].value for name, part in share.items() if OFFSET + name in known
        ),
        exact=names in (("methane",), ("propane",)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnedGas:
    """What a tile's flame leaves behind; arrays, nan outside the table."""

    temperature_K: FloatArray  # of the burned-out products
    inside: NDArray[np.bool_]  # the table holds this state
    mass_flux_low: FloatArray  # ends of the table at this pressure [kg/(m2 s)]
    mass_flux_high: FloatArray


def burned_gas(
    gas: Any,
    aeration: ArrayLike,
    mass_flux_kg_per_m2s: ArrayLike,
    pressure_Pa: ArrayLike = SEA_LEVEL_Pa,
    own: Path | None = None,
) -> BurnedGas:
    """Burned-gas temperature of a flat flame held by a cooled surface, T_b(mass flux, aeration, fuel).

    gas : a gas or composition; aeration : air over stoichiometric air [-], 0.77 to 1.67;
    mass_flux_kg_per_m2s : of mixture through the face [kg/(m2 s)]; pressure_Pa : absolute [Pa];
    own : CSV of the columns of ``tile_properties``, for the exponent of the pressure.
    Away from sea level the flux is scaled by (p/p0)^n. Blends: shares of net heat, in 1/T at the same flux.
    nan outside the table. Source: tile-flat-flame.

    >>> from burnerlab.gas import mix
    >>> float(burned_gas(mix({"methane": 1.0}, per="mole"), 1 / 0.9, 0.0602).temperature_K)
    1690.2
    """
    phi, flux, pressure = np.broadcast_arrays(
        1.0 / np.asarray(aeration, dtype=float),
        np.asarray(mass_flux_kg_per_m2s, dtype=float),
        np.asarray(pressure_Pa, dtype=float),
    )
    table, shares = flame_table(), fuel_shares(gas, own)
    scale = (pressure / SEA_LEVEL_Pa) ** figure("tile_properties", "pressure exponent", own).value
    low, high = table.mass_fluxes[0] * scale, table.mass_fluxes[-1] * scale
    ends = table.equivalence_ratios[0] * (1 - 1e-9), table.equivalence_ratios[-1] * (1 + 1e-9)
    inside = (flux >= low * (1 - 1e-9)) & (flux <= high * (1 + 1e-9)) & (phi >= ends[0]) & (phi <= ends[1])
    at_phi = np.where(inside, phi, 1.0)
    at_flux = np.where(inside, flux / scale, table.mass_fluxes[0])
    parts = {"propane": shares.propane, WITH_HYDROGEN: shares.hydrogen}
    fuels = ["methane", *(fuel for fuel, share in parts.items() if share)]
    found = _inverse_K(table, fuels, at_phi, at_flux)
    inverse = methane = found["methane"]
    for fuel in fuels[1:]:
        inverse = inverse + parts[fuel] * (found[fuel] - methane)
    return BurnedGas(
        temperature_K=np.where(inside, 1.0 / inverse + shares.offset_K, np.nan),
        inside=np.asarray(inside),
        mass_flux_low=np.asarray(low),
        mass_flux_high=np.asarray(high),
    )
