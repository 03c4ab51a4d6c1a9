"""The flame on a ceramic tile, and the gas behind it.

The gas knows the mass flux that burned it and hardly the surface that cooled it (4 K from a surface of 400 to one of
1200 K), so one table serves every tile.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.burner.burner import GasCases
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

    species: tuple[str, ...]  # of gas, dry air and steam
    moles: FloatArray  # of each before the flame, per mole of gas [..., species]
    aeration: FloatArray  # air over stoichiometric air [-]
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

    gas : a gas or composition, or the gases of cases; aeration : air over stoichiometric air [-], 0.6 to 2.5;
    humidity : water in the air [mol/mol dry air].
    Raises UserError outside the range and for a gas without composition or fuel.

    >>> from burnerlab.gas import mix
    >>> float(mixture(mix({"methane": 1.0}, per="mole"), 1.1).gas_mass_share)
    0.05010
    """
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
    gases, place = _gases_of(gas)
    mix, mole = dry_air(), _moles_of(gases)
    gas_mass, air = mole.mass_kg[place], mole.air_mol[place] * share
    carbon, hydrogen, oxygen, nitrogen, argon = mole.atoms[:, place]
    mass = gas_mass + air * (mix.molar_mass_kg_per_mol + moist * mole.water_kg_per_mol)
    return TileMixture(
        species=mole.species,
        moles=mole.parts[place] + air[..., None] * (mole.of_air + moist[..., None] * mole.steam),
        aeration=share,
        air_mol_per_mol=air,
        mass_kg_per_mol=mass,
        gas_mass_share=gas_mass / mass,
        carbon=carbon + mix.carbon_dioxide * air,
        hydrogen=hydrogen + 2 * moist * air,
        oxygen=oxygen + 2 * (mix.oxygen + mix.carbon_dioxide) * air + moist * air,
        nitrogen=nitrogen + 2 * mix.nitrogen * air,
        argon=argon + mix.argon * air,
    )


Parts = tuple[tuple[str, ...], tuple[float, ...]]  # names and mole fractions of a gas
ONE_GAS = np.zeros((), dtype=np.intp)  # its place among the gases of its cases


def _gases_of(gas: Any) -> tuple[tuple[Parts, ...], NDArray[np.intp]]:
    """Compositions of the gases of cases, or of one gas, and which of them each case burns."""
    each = [fuel.gas for fuel in gas.fuels] if isinstance(gas, GasCases) else [gas]
    place = gas.place if isinstance(gas, GasCases) else ONE_GAS
    return tuple((names, tuple(x.tolist())) for names, x in map(composition_of, each)), place


class _MolesOfGases(NamedTuple):
    """What mixtures need of one mole of each of some gases."""

    species: tuple[str, ...]  # of the gases, of dry air and of steam
    parts: FloatArray  # [gas, species]
    of_air: FloatArray  # [species]
    steam: FloatArray  # [species]
    atoms: FloatArray  # C, H, O, N and noble gases [element, gas]
    mass_kg: FloatArray  # [gas]
    air_mol: FloatArray  # stoichiometric [gas]
    water_kg_per_mol: float


@lru_cache(maxsize=256)
def _moles_of(gases: tuple[Parts, ...]) -> _MolesOfGases:
    table, air = component_table(), dict(air_fractions())
    mass = table.molar_mass_kg_per_mol
    species = tuple(dict.fromkeys([*(name for names, _ in gases for name in names), *air, "water"]))
    each = [(names, np.array(fractions)) for names, fractions in gases]
    atom = [atoms(names, x) for names, x in each]
    # a trace of sulphur is counted as carbon
    rows = [(n["C"] + n["S"], n["H"], n["O"], n["N"], n["Ar"] + n["He"]) for n in atom]
    return _MolesOfGases(
        species=species,
        parts=np.array([[dict(zip(*gas, strict=True)).get(name, 0.0) for name in species] for gas in gases]),
        of_air=np.array([air.get(name, 0.0) for name in species]),
        steam=np.array([float(name == "water") for name in species]),
        atoms=np.array(rows).T,
        mass_kg=np.array([float(x @ mass[table.take(names)]) for names, x in each]),
        air_mol=np.array([air_demand(names, x) for names, x in each]),
        water_kg_per_mol=float(mass[table.index["water"]]),
    )


def mixture_enthalpy_J_per_kg(mixed: TileMixture, temperature_K: ArrayLike) -> FloatArray:
    """Enthalpy of the unburnt mixture with heats of formation [J/kg mixture], ideal gases.

    temperature_K : of gas and air alike [K].
    """
    T = np.asarray(temperature_K, dtype=float)
    species = mixed.species
    each = _enthalpies_at(species, float(T)) if T.ndim == 0 else enthalpy_over_R(_species(species), T)
    return np.asarray((each * mixed.moles).sum(axis=-1) * GAS_CONSTANT / mixed.mass_kg_per_mol)


@lru_cache(maxsize=256)
def _enthalpies_at(species: tuple[str, ...], temperature_K: float) -> FloatArray:
    """Molar enthalpies over R at one temperature, found once [K]."""
    return enthalpy_over_R(_species(species), temperature_K)


@cache
def _species(names: tuple[str, ...]) -> Polynomials:
    return polynomials("component").at(names)


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
    c, h2, o = mixed.carbon, mixed.hydrogen / 2, mixed.oxygen
    shape = np.broadcast_shapes(np.shape(temperature_K), np.shape(c))
    spare = o - 2 * c - h2
    rich = spare < -NO_SHIFT
    amounts = np.zeros((*shape, len(BURNED)))
    amounts[..., 0], amounts[..., 1] = c, h2
    amounts[..., 2] = np.maximum(spare, 0.0) / 2
    amounts[..., 5], amounts[..., 6] = mixed.nitrogen / 2, mixed.argon
    if rich.any():
        is_rich, T = np.broadcast_to(rich, shape), np.asarray(temperature_K, dtype=float)
        hot, carbon, twin, oxygen = (np.broadcast_to(each, shape)[is_rich] for each in (T, c, h2, o))
        dioxide = _dioxide(shift_constant(hot), carbon, twin, oxygen)
        water = oxygen - carbon - dioxide
        amounts[is_rich, :2] = np.stack([dioxide, water], axis=-1)
        amounts[is_rich, 3:5] = np.stack([carbon - dioxide, twin - water], axis=-1)
    return amounts


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


class _Axis(NamedTuple):
    """Nodes of a table along one axis, with what Lagrange's weights of each stencil of neighbours share."""

    nodes: FloatArray
    stencils: FloatArray  # [first node, neighbour]
    spans: FloatArray  # products of the distances between each neighbour and the others

    @classmethod
    def of(cls, nodes: FloatArray) -> _Axis:
        count = min(STENCIL, nodes.size)
        near = nodes[np.arange(nodes.size - count + 1)[:, None] + np.arange(count)]
        between = near[:, :, None] - near[:, None, :] + np.eye(count)
        return cls(nodes, near, between.prod(axis=-1))

    def weights(self, x: FloatArray) -> tuple[NDArray[np.intp], FloatArray]:
        """First node and weights of four neighbours (fewer where there are fewer) [..., neighbour]."""
        last, count = self.stencils.shape[0] - 1, self.stencils.shape[1]
        first = np.minimum(np.maximum(np.searchsorted(self.nodes, x) - count // 2, 0), last)
        away = x[..., None] - self.stencils[first]
        return first, away[..., _complements(count)].prod(axis=-1) / self.spans[first]


@cache
def _complements(count: int) -> NDArray[np.intp]:
    """For each of so many neighbours the places of the others."""
    return np.array([[j for j in range(count) if j != i] for i in range(count)], dtype=np.intp)


class _Grid(NamedTuple):
    """The table for some gases, lean and rich: at an equivalence ratio of 1 the products change."""

    flux: _Axis  # logarithm
    lean: _Axis
    rich: _Axis
    inverse_lean: FloatArray  # 1/T of the burned gas [gas, equivalence ratio, mass flux]
    inverse_rich: FloatArray
    offset_K: FloatArray  # on the burned gas [gas]

    def inverse_K(self, gas: NDArray[np.intp], phi: FloatArray, flux: FloatArray) -> FloatArray:
        """1/T interpolated in phi and in the logarithm of the flux; gas : the place of each."""
        along, across = self.flux.weights(np.log(flux))
        is_rich = phi > 1.0
        if not is_rich.any():
            return _interpolated(self.lean, self.inverse_lean, (gas, phi), along, across)
        found, is_lean, gas = np.empty(phi.shape), ~is_rich, np.broadcast_to(gas, phi.shape)
        for side, axis, table in (
            (is_lean, self.lean, self.inverse_lean),
            (is_rich, self.rich, self.inverse_rich),
        ):
            found[side] = _interpolated(axis, table, (gas[side], phi[side]), along[side], across[side])
        return found


def _interpolated(
    axis: _Axis,
    table: FloatArray,
    at: tuple[NDArray[np.intp], FloatArray],
    along: NDArray[np.intp],
    across: FloatArray,
) -> FloatArray:
    """at : place of the gas, and equivalence ratio."""
    gas, phi = at
    start, weights = axis.weights(phi)
    rows = start[..., None] + np.arange(weights.shape[-1])
    columns = along[..., None] + np.arange(across.shape[-1])
    block = table[gas[..., None, None], rows[..., :, None], columns[..., None, :]]
    found: FloatArray = np.einsum("...i,...j,...ij->...", weights, across, block)
    return found


@lru_cache(maxsize=64)
def _grid_of(gases: tuple[FuelShares, ...]) -> _Grid:
    """Shares of net heat in 1/T at the same flux and equivalence ratio."""
    table = flame_table()
    methane, propane, with_hydrogen = (
        table.inverse_K[table.fuels.index(fuel)] for fuel in ("methane", "propane", WITH_HYDROGEN)
    )
    inverse = np.stack(
        [
            methane + each.propane * (propane - methane) + each.hydrogen * (with_hydrogen - methane)
            for each in gases
        ]
    )
    lean, rich = table.equivalence_ratios <= 1.0, table.equivalence_ratios >= 1.0
    return _Grid(
        flux=_Axis.of(np.log(table.mass_fluxes)),
        lean=_Axis.of(table.equivalence_ratios[lean]),
        rich=_Axis.of(table.equivalence_ratios[rich]),
        inverse_lean=inverse[:, lean],
        inverse_rich=inverse[:, rich],
        offset_K=np.array([each.offset_K for each in gases]),
    )


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
    (parts,), _ = _gases_of(gas)
    return _shares_of(*parts, own)


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


def burned_gas(
    gas: Any,
    aeration: ArrayLike,
    mass_flux_kg_per_m2s: ArrayLike,
    pressure_Pa: ArrayLike = SEA_LEVEL_Pa,
    own: Path | None = None,
) -> BurnedGas:
    """Burned-gas temperature of a flat flame held by a cooled surface, T_b(mass flux, aeration, fuel).

    gas : a gas or composition, or the gases of cases; aeration : air over stoichiometric air [-], 0.77 to 1.67;
    mass_flux_kg_per_m2s : of mixture through the face [kg/(m2 s)]; pressure_Pa : absolute [Pa];
    own : CSV of the columns of ``tile_properties``, for the exponent of the pressure.
    Away from sea level the flux is scaled by (p/p0)^n. Blends: shares of net heat, in 1/T at the same flux.
    nan outside the table. Source: tile-flat-flame.

    >>> from burnerlab.gas import mix
    >>> float(burned_gas(mix({"methane": 1.0}, per="mole"), 1 / 0.9, 0.0602).temperature_K)
    1690.2
    """
    phi, flux = 1.0 / np.asarray(aeration, dtype=float), np.asarray(mass_flux_kg_per_m2s, dtype=float)
    gases, place = _gases_of(gas)
    table, grid = flame_table(), _grid_of(tuple(_shares_of(*parts, own) for parts in gases))
    ends = table.equivalence_ratios[0] * (1 - 1e-9), table.equivalence_ratios[-1] * (1 + 1e-9)
    inside = reaches(flux, pressure_Pa, own) & (phi >= ends[0]) & (phi <= ends[1])
    at_phi = np.where(inside, phi, 1.0)
    at_flux = np.where(inside, flux / _flux_scale(pressure_Pa, own), table.mass_fluxes[0])
    inverse = grid.inverse_K(place, at_phi, at_flux)
    return BurnedGas(
        temperature_K=np.where(inside, 1.0 / inverse + grid.offset_K[place], np.nan),
        inside=np.asarray(inside),
    )


def _flux_scale(pressure_Pa: ArrayLike, own: Path | None) -> FloatArray:
    """Mass flux at a pressure over that at sea level with the same burned gas [-]."""
    exponent = figure("tile_properties", "pressure exponent", own).value
    return np.asarray((np.asarray(pressure_Pa, dtype=float) / SEA_LEVEL_Pa) ** exponent)


def flux_ends(
    pressure_Pa: ArrayLike = SEA_LEVEL_Pa, own: Path | None = None
) -> tuple[FloatArray, FloatArray]:
    """Least and greatest mass flux of the table of flames at a pressure [kg/(m2 s)].

    pressure_Pa : absolute [Pa]; own : as of ``burned_gas``

    >>> [float(end) for end in flux_ends()]
    [0.013, 0.6]
    """
    fluxes, scale = flame_table().mass_fluxes, _flux_scale(pressure_Pa, own)
    return fluxes[0] * scale, fluxes[-1] * scale


def reaches(
    mass_flux_kg_per_m2s: ArrayLike, pressure_Pa: ArrayLike, own: Path | None = None
) -> NDArray[np.bool_]:
    """Whether the table of flames holds a mass flux at a pressure, as ``burned_gas`` takes them."""
    flux, (low, high) = np.asarray(mass_flux_kg_per_m2s, dtype=float), flux_ends(pressure_Pa, own)
    return np.asarray((flux >= low * (1 - 1e-9)) & (flux <= high * (1 + 1e-9)))
