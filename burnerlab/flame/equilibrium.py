"""Products at equilibrium and adiabatic flame temperature, and the same by Cantera.

One gas or a million states in one call; the fast kernel is checked against ``equilibrium_by_cantera``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.flame.equilibrium_kernel import SPECIES, Charge, equilibrium
from burnerlab.gas.combustion_air import SEA_LEVEL_Pa, air_demand, atoms, composition_of, dry_air
from burnerlab.gas.component import air_fractions, component_table
from burnerlab.gas.heat_capacity import (
    GAS_CONSTANT,
    cantera_species,
    enthalpy_over_R,
    entropy_over_R,
    polynomials,
)
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import output
from burnerlab.tables import rows
from burnerlab.tables.problem import Problem, UserError

# Adiabatic flame temperature and equilibrium products of a gas with air.

FloatArray = NDArray[np.float64]

STANDARD_K = 298.15  # 25 C, the temperature published flame temperatures start from
RANGES = {
    "equivalence ratio": (0.2, 2.5, ""),
    "fuel temperature": (220.0, 900.0, " K"),
    "air temperature": (220.0, 900.0, " K"),
    "pressure": (2e4, 1e6, " Pa absolute"),
    "humidity": (0.0, 0.2, " mol water per mol dry air"),
}
"""Where the kernel was held against the full mechanism; above 2.5 methane and soot form, not in it."""
RICH = 1.3  # equivalence ratio above which sulphur leaves SO2 for other products
LARGEST_SULPHUR = {
    "lean": 4e-3,
    "rich": 1e-4,
}  # atoms per atom of C and H; costs 0.1 K, 0.6 K
TOO_HOT_FOR_METHANE_K = 1700.0  # below a millionth of the products there, even at 1 MPa
LARGEST_METHANE = 2e-5  # mole fraction the products could still form: costs up to 0.25 K

GRI_FUELS = {
    "methane": "CH4",
    "ethane": "C2H6",
    "propane": "C3H8",
    "ethylene": "C2H4",
    "acetylene": "C2H2",
    "hydrogen": "H2",
    "carbon monoxide": "CO",
    "carbon dioxide": "CO2",
    "nitrogen": "N2",
    "oxygen": "O2",
    "argon": "Ar",
    "water": "H2O",
}
"""Components whose data GRI-Mech 3.0 holds; the others (C3 and heavier but propane, H2S, He) take NASA's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AdiabaticFlame:
    """Equilibrium products at constant enthalpy and pressure, with what they were computed from.

    Arrays have the shape of the broadcast inputs; ``mole_fractions`` has one more axis, over ``species``.
    """

    temperature_K: FloatArray = field(metadata=output("adiabatic flame temperature", Kind.TEMPERATURE))
    mole_fractions: FloatArray
    species: tuple[str, ...]
    products_per_mole_gas: FloatArray = field(metadata=output("products of a mole"))  # [mol/mol]
    equivalence_ratio: FloatArray = field(metadata=output("equivalence ratio"))
    fuel_temperature_K: FloatArray = field(metadata=output("fuel", Kind.TEMPERATURE))
    air_temperature_K: FloatArray = field(metadata=output("air", Kind.TEMPERATURE))
    pressure_Pa: FloatArray = field(metadata=output("pressure", Kind.ABSOLUTE_PRESSURE))
    humidity: FloatArray = field(metadata=output("water in the air"))  # water in the air [mol/mol dry air]
    element_residual: float  # largest relative error of a balance of atoms [-]
    enthalpy_residual_J_per_kg: float  # largest error of the enthalpy balance
    iterations: int
    source: str = "chemical equilibrium of ideal gases, data of GRI-Mech 3.0 (other fuels: NASA TM-4513)"
    notes: tuple[str, ...] = ()

    def fraction(self, species: str) -> FloatArray:
        """Mole fraction of one species in the wet products [-]."""
        share: FloatArray = self.mole_fractions[..., self.species.index(species)]
        return share


def adiabatic_flame_temperature_K(
    gas: Any,
    equivalence_ratio: ArrayLike = 1.0,
    fuel_temperature_K: ArrayLike = STANDARD_K,
    air_temperature_K: ArrayLike = STANDARD_K,
    pressure_Pa: ArrayLike = SEA_LEVEL_Pa,
    humidity: ArrayLike = 0.0,
) -> AdiabaticFlame:
    """Adiabatic flame temperature of a gas in air at constant pressure, with dissociation.

    gas : a gas or composition; equivalence_ratio : fuel over what the air can burn [-], 0.2 to 2.5;
    fuel_temperature_K, air_temperature_K : [K], 220 to 900; pressure_Pa : absolute [Pa], 20 kPa to 1 MPa;
    humidity : water in the air [mol/mol dry air].
    Within 0.01 K of the full mechanism (k = 2) from 0.4 to 2.5, at most 0.02 K off to 2.0 and 0.1 K to 2.5. Sulphur
    becomes SO2, refused above 2 % of C and H atoms.
    Raises UserError outside these ranges and for a gas without composition or fuel. Source: gri-mech-3.0.

    >>> from burnerlab.gas import Composition
    >>> methane = Composition(names=("methane",), fractions=(1.0,))
    >>> float(adiabatic_flame_temperature_K(methane).temperature_K)
    2224.9
    """
    names, fractions = composition_of(gas)
    return flame_arrays(
        names, fractions, equivalence_ratio, fuel_temperature_K, air_temperature_K, pressure_Pa, humidity
    )


def flame_arrays(
    names: Sequence[str],
    fractions: ArrayLike,
    equivalence_ratio: ArrayLike = 1.0,
    fuel_temperature_K: ArrayLike = STANDARD_K,
    air_temperature_K: ArrayLike = STANDARD_K,
    pressure_Pa: ArrayLike = SEA_LEVEL_Pa,
    humidity: ArrayLike = 0.0,
) -> AdiabaticFlame:
    """The same for many compositions: fractions [..., component], all inputs broadcast together.

    >>> flame_arrays(["methane", "propane"], [[1, 0], [0, 1]]).temperature_K.round(1)
    array([2224.9, 2266. ])
    """
    states = (equivalence_ratio, fuel_temperature_K, air_temperature_K, pressure_Pa, humidity)
    phi, fuel_T, air_T, pressure, water = _checked(states)
    x = np.asarray(fractions, dtype=float)
    _refuse_sulphur(names, x, phi)
    shape = np.broadcast_shapes(
        phi.shape, fuel_T.shape, air_T.shape, pressure.shape, water.shape, x.shape[:-1]
    )
    charge, mass = _charge(names, x, (phi, fuel_T, air_T, pressure, water), shape)
    found = equilibrium(charge)
    if not found.converged.all():
        worst = int(np.argmin(found.converged))
        what = f"no equilibrium between 250 and 4000 K (state {worst} of {found.converged.size})"
        raise UserError(Problem(what, key="gas", fix="give a gas that burns in air"))
    total = found.amounts.sum(axis=0)
    mole_fractions = np.moveaxis((found.amounts / total).reshape(-1, *shape), 0, -1)
    temperature = found.temperature_K.reshape(shape)
    _refuse_methane(mole_fractions, temperature, pressure, phi)
    sulphur = atoms(names, x)["S"].max() > 0.0
    return AdiabaticFlame(
        temperature_K=temperature,
        mole_fractions=mole_fractions,
        species=SPECIES,
        products_per_mole_gas=total.reshape(shape),
        equivalence_ratio=phi,
        fuel_temperature_K=fuel_T,
        air_temperature_K=air_T,
        pressure_Pa=pressure,
        humidity=water,
        element_residual=_element_residual(charge, found.amounts),
        enthalpy_residual_J_per_kg=_enthalpy_residual(charge, found.amounts, found.temperature_K, mass),
        iterations=found.iterations,
        notes=("all sulphur is taken to become SO2",) if sulphur else (),
    )


def _checked(states: Sequence[ArrayLike]) -> list[FloatArray]:
    """The inputs as arrays, each inside its range; every problem at once."""
    arrays = [np.asarray(value, dtype=float) for value in states]
    problems = []
    for array, (key, (low, high, unit)) in zip(arrays, RANGES.items(), strict=True):
        inside = (array >= low) & (array <= high)
        if not np.all(inside):
            value, accepted = f"{array[~inside].flat[0]:g}", f"{low:g} to {high:g}{unit}"
            problems.append(
                Problem("outside the range of the flame temperature", value, key=key, accepted=accepted)
            )
    if problems:
        raise UserError(problems)
    return arrays


def _refuse_sulphur(names: Sequence[str], fractions: FloatArray, phi: FloatArray) -> None:
    """All sulphur is taken to become SO2: right for lean flames, in rich ones only for traces."""
    n = atoms(names, fractions)
    share = float(np.max(n["S"] / np.maximum(n["C"] + n["H"], 1e-300)))
    limit = LARGEST_SULPHUR["rich" if np.max(phi) > RICH else "lean"]
    if share > limit:
        what = "too much hydrogen sulphide: not all of its sulphur becomes SO2"
        accepted = f"up to {limit:g} atoms of sulphur per atom of carbon and hydrogen at this richness"
        raise UserError(
            Problem(what, f"{share:.3g}", key="gas", accepted=accepted, fix="take less sulphur or more air")
        )


def _refuse_methane(x: FloatArray, temperature: FloatArray, pressure: FloatArray, phi: FloatArray) -> None:
    """Refuse cool rich states that would form methane, which the kernel leaves out: CO + 3 H2 = CH4 + H2O."""
    cool = (phi > RICH) & (temperature < TOO_HOT_FOR_METHANE_K)
    if not np.any(cool):
        return
    T = temperature[cool]
    data = polynomials("gri").at(["CH4", "H2O", "CO", "H2"])
    gibbs = enthalpy_over_R(data, T) / T[:, None] - entropy_over_R(data, T)
    constant = np.exp(gibbs @ [-1.0, -1.0, 1.0, 3.0])
    co, hydrogen, water = (x[cool][:, SPECIES.index(name)] for name in ("CO", "H2", "H2O"))
    atmospheres = np.broadcast_to(pressure, cool.shape)[cool] / SEA_LEVEL_Pa
    share = constant * co * hydrogen**3 * atmospheres**2 / np.maximum(water, 1e-300)
    if share.max() > LARGEST_METHANE:
        what = f"so rich and cool ({T[np.argmax(share)]:.0f} K) that methane and soot form: not computed"
        raise UserError(Problem(what, key="equivalence ratio", fix="give more air or warmer air"))


@cache
def _heat_rows(names: tuple[str, ...]) -> FloatArray:
    """Enthalpy over R of components as coefficients of (T, T^2, T^3, T^4, T^5, 1), the range below 1000 K."""
    gri, other = polynomials("gri"), polynomials("component")
    low = [gri.at([GRI_FUELS[n]]).low[0] if n in GRI_FUELS else other.at([n]).low[0] for n in names]
    a = np.array(low)
    return np.hstack([a[:, :5] / [1, 2, 3, 4, 5], a[:, 5:6]])


def _enthalpy(coefficients: FloatArray, temperature: FloatArray) -> FloatArray:
    c = np.moveaxis(coefficients, -1, 0)
    t = temperature
    value: FloatArray = c[5] + t * (c[0] + t * (c[1] + t * (c[2] + t * (c[3] + t * c[4]))))
    return value


def _charge(
    names: Sequence[str], x: FloatArray, states: Sequence[FloatArray], shape: tuple[int, ...]
) -> tuple[Charge, FloatArray]:
    """Atoms and enthalpy of gas and air per mole of gas, flat arrays; and their mass [kg]."""
    phi, fuel_T, air_T, pressure, water = states
    mix, n, table = dry_air(), atoms(names, x), component_table()
    air = air_demand(names, x) / phi
    steam = air * water
    parts = dict(air_fractions())
    air_rows = np.array(list(parts.values())) @ _heat_rows(tuple(parts))
    enthalpy = _enthalpy(x @ _heat_rows(tuple(names)), fuel_T) + air * _enthalpy(air_rows, air_T)
    enthalpy = enthalpy + steam * _enthalpy(_heat_rows(("water",))[0], air_T)
    water_mass = float(table.molar_mass_kg_per_mol[table.index["water"]])
    mass = (
        x @ table.molar_mass_kg_per_mol[table.take(names)]
        + air * mix.molar_mass_kg_per_mol
        + steam * water_mass
    )

    def flat(value: FloatArray) -> FloatArray:
        return np.ascontiguousarray(np.broadcast_to(value, shape)).reshape(-1)

    charge = Charge(
        carbon=flat(n["C"] + mix.carbon_dioxide * air),
        hydrogen=flat(n["H"] + 2 * steam),
        oxygen=flat(n["O"] + 2 * (mix.oxygen + mix.carbon_dioxide) * air + steam),
        nitrogen=flat(n["N"] + 2 * mix.nitrogen * air),
        argon=flat(n["Ar"] + n["He"] + mix.argon * air),
        sulphur=flat(n["S"]),
        enthalpy_over_R=flat(enthalpy),
        pressure_Pa=flat(pressure),
    )
    return charge, flat(mass)


def _product_data() -> tuple[FloatArray, FloatArray, FloatArray]:
    """Atoms, and low and high enthalpy coefficients, of the kernel's species."""
    gri, other = polynomials("gri").at(SPECIES[:-1]), polynomials("flame").at(["SO2"])
    scale = [1, 2, 3, 4, 5, 1]
    low, high = (
        np.vstack([gri.low, other.low])[:, :6] / scale,
        np.vstack([gri.high, other.high])[:, :6] / scale,
    )
    return np.vstack([gri.atoms, other.atoms]), low, high


def _element_residual(charge: Charge, amounts: FloatArray) -> float:
    counts = _product_data()[0].T @ amounts  # elements C H N O S Ar He
    want = np.stack(
        [charge.carbon, charge.hydrogen, charge.nitrogen, charge.oxygen, charge.sulphur, charge.argon]
    )
    return float(np.max(np.abs(counts[:6] - want) / np.maximum(want.max(axis=0), 1e-300), initial=0.0))


def _enthalpy_residual(
    charge: Charge, amounts: FloatArray, temperature: FloatArray, mass: FloatArray
) -> float:
    _, low, high = _product_data()
    held = np.where(
        temperature < 1000.0,
        _enthalpy(amounts.T @ low, temperature),
        _enthalpy(amounts.T @ high, temperature),
    )
    return float(np.max(np.abs(held - charge.enthalpy_over_R) * GAS_CONSTANT / mass, initial=0.0))


# The judge of the fast kernel: the same flame by Cantera with every species of GRI-Mech 3.0.

SULPHUR_PRODUCTS = ("SO2", "SO", "SO3", "H2S", "SH", "S", "S2", "COS")


@cache
def _reference_phase(extra: tuple[str, ...]) -> Any:
    """GRI-Mech 3.0's 53 species, with NASA's data for the fuels it lacks and for the products of sulphur."""
    import cantera

    if not extra:
        return cantera.Solution("gri30.yaml")
    place = {row["name"]: row for row in rows("nasa_polynomials") if row["set"] == "component"}
    wanted = {(place[name]["file"], place[name]["species"]) for name in extra}
    if "hydrogen sulphide" in extra:
        wanted |= {("nasa", name) for name in SULPHUR_PRODUCTS}
    found = [cantera_species(file)[name] for file, name in sorted(wanted)]
    return cantera.Solution(thermo="ideal-gas", species=cantera.Species.list_from_file("gri30.yaml") + found)


def equilibrium_by_cantera(
    gas: Any,
    equivalence_ratio: float = 1.0,
    fuel_temperature_K: float = STANDARD_K,
    air_temperature_K: float = STANDARD_K,
    pressure_Pa: float = SEA_LEVEL_Pa,
    humidity: float = 0.0,
) -> float:
    """Adiabatic flame temperature by Cantera with all 53 species of GRI-Mech 3.0 [K]: the kernel's judge.

    Fuels that GRI-Mech lacks join with NASA's data, hydrogen sulphide with eight products of sulphur.
    Arguments as ``adiabatic_flame_temperature_K``. Needs cantera.
    """
    import cantera

    names, x = composition_of(gas)
    extra = tuple(name for name in names if name not in GRI_FUELS)
    phase = _reference_phase(extra)
    place = {row["name"]: row["species"] for row in rows("nasa_polynomials") if row["set"] == "component"}
    known = {name: place[name] for name in extra} | GRI_FUELS | {"argon": "AR"}

    def stream(parts: dict[str, float], temperature: float, moles: float) -> Any:
        phase.TPX = temperature, pressure_Pa, parts
        return cantera.Quantity(phase, moles=moles / 1000, constant="HP")

    air = float(air_demand(names, x)) / equivalence_ratio
    fuel = stream({known[n]: float(v) for n, v in zip(names, x, strict=True)}, fuel_temperature_K, 1.0)
    moist = {known[name]: part for name, part in air_fractions()} | {"H2O": humidity}
    both = fuel + stream(moist, air_temperature_K, air * (1 + humidity))
    both.equilibrate("HP")
    return float(both.T)
