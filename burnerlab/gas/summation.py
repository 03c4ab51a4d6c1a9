"""Sums over a composition at a reference state, and the property equations on them (ISO 6976:2016)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from operator import mul

import numpy as np

from burnerlab.gas.component import Array, component_table, constant
from burnerlab.gas.composition import Composition
from burnerlab.gas.dew_point import water_saturation_pressure_Pa
from burnerlab.quantity import Problem, ReferenceState, UserError

# The constants a reference state brings into the property equations.

COLUMN_TEMPERATURES_K = {"0C": 273.15, "15C": 288.15, "15_55C": 288.70, "20C": 293.15, "25C": 298.15}
COLUMN_TOLERANCE_K = 0.007  # 60 °F reads the column that is printed for 15.55 °C, 0.006 K away
PRESSURE_RANGE_PA = (90e3, 110e3)  # iso6976-2016, clause 5: range of the summation method


@dataclass(frozen=True, slots=True)
class StateConstants:
    """What the equations need to know of a reference state."""

    combustion_column: str
    metering_column: str
    ideal_molar_volume_m3_per_mol: float
    pressure_ratio: float  # to 101.325 kPa
    Z_air: float
    M_air_kg_per_mol: float
    vaporisation_J_per_mol: float  # of water at the combustion temperature
    water: float  # mole fraction of water vapour in the metered gas


def combustion_column(temperature_K: float, key: str = "at") -> str:
    """The heating-value column of a combustion temperature [K]: 0, 15, 15.55 (60 F), 20 or 25 C."""
    return _column(temperature_K, tuple(COLUMN_TEMPERATURES_K), "combustion", key)


def metering_column(temperature_K: float, key: str = "at") -> str:
    """The summation-factor column of a metering temperature [K]: 0, 15, 15.55 (60 F) or 20 C."""
    return _column(temperature_K, tuple(component_table().summation_factor), "metering", key)


def _column(temperature_K: float, columns: tuple[str, ...], what: str, key: str) -> str:
    for column in columns:
        if abs(temperature_K - COLUMN_TEMPERATURES_K[column]) <= COLUMN_TOLERANCE_K:
            return column
    accepted = (
        ", ".join(f"{COLUMN_TEMPERATURES_K[c] - 273.15:g} C" for c in columns) + " (60 F is read as 15.55 C)"
    )
    problem = f"the property standard has no {what} temperature of {temperature_K - 273.15:.2f} C"
    raise UserError(Problem(problem, key=key, accepted=accepted, fix="choose one of these"))


@lru_cache(maxsize=64)
def constants_of(reference: ReferenceState) -> StateConstants:
    """The constants of a reference state; raises UserError outside the range of the property standard."""
    low, high = PRESSURE_RANGE_PA
    if not low <= reference.pressure_Pa <= high:
        problem = f"reference pressure {reference.pressure_Pa / 1e3:.4g} kPa is outside the property standard"
        raise UserError(
            Problem(problem, key="reference pressure", accepted="90 to 110 kPa", fix="use 101.325 kPa")
        )
    burning = combustion_column(reference.combustion_temperature_K)
    metering = metering_column(reference.metering_temperature_K)
    p_reference = constant("pressure_reference") * 1e3
    ratio = reference.pressure_Pa / p_reference
    wet = float(water_saturation_pressure_Pa(reference.metering_temperature_K)) / reference.pressure_Pa
    return StateConstants(
        combustion_column=burning,
        metering_column=metering,
        ideal_molar_volume_m3_per_mol=constant("R")
        * reference.metering_temperature_K
        / reference.pressure_Pa,
        pressure_ratio=ratio,
        Z_air=1.0 - ratio * (1.0 - constant(f"Z_air_{metering}")),
        M_air_kg_per_mol=constant("M_air") * 1e-3,
        vaporisation_J_per_mol=constant(f"L0_water_{burning}") * 1e3,
        water=wet if reference.saturated else 0.0,
    )


def dry_share(reference: ReferenceState) -> float:
    """Gas in a volume at a reference state, the rest being water vapour when it is saturated [-].

    >>> from burnerlab.quantity import PRESETS
    >>> dry_share(PRESETS["ISO_15_15"]), dry_share(PRESETS["US_60F_30inHg_sat"])
    (1.0, 0.98260)
    """
    return 1.0 - constants_of(reference).water


def gross_J_per_mol(column: str) -> Array:
    """Gross ideal-gas heating value of each component of the table [J/mol]."""
    return component_table().gross_J_per_mol[column]


def net_J_per_mol(column: str) -> Array:
    """Net heating value of each component: gross less the latent heat of its water [J/mol]."""
    table = component_table()
    water = table.atoms[:, 1] / 2.0
    net: Array = table.gross_J_per_mol[column] - water * constant(f"L0_water_{column}") * 1e3
    return net


def read_basis(text: str) -> str:
    """``gross`` or ``net``; anything else is refused, since the two differ by 8 to 16 %."""
    words = {
        "gross": "gross",
        "net": "net",
        "superior": "gross",
        "inferior": "net",
        "higher": "gross",
        "lower": "net",
    }
    if str(text).casefold() not in words:
        raise UserError(
            Problem(
                "rating basis missing: gross or net?", value=str(text), key="basis", accepted="gross, net"
            )
        )
    return words[str(text).casefold()]


# The sums over a composition and the property equations on them (ISO 6976:2016).


def standard_density_kg_per_m3(composition: Composition, reference: ReferenceState) -> float:
    """Real-gas density at a reference state, M/(Z R T/p), also of a gas without fuel [kg/m3].

    >>> from burnerlab.quantity import ReferenceState
    >>> standard_density_kg_per_m3(Composition.pure("air"), ReferenceState.read("15C/15C"))
    1.2255
    """
    state = constants_of(reference)
    return from_sums(*sums(composition, state), state)["density_kg_per_m3"]


def sums(composition: Composition, state: StateConstants) -> tuple[float, float, float, float]:
    """Molar mass, summation factor, gross and net heating value summed over a composition, in any order alike."""
    if state.water and "water" in composition.names:
        problem = "the composition holds water and the reference state is saturated: water would count twice"
        raise UserError(Problem(problem, key="at", fix="give the dry composition, or a dry reference state"))
    columns = property_columns(state)[component_table().take(composition.names)].T.tolist()
    mass, s, gross, net = (math.fsum(map(mul, composition.fractions, column)) for column in columns)
    return mass, s, gross, net


def no_fuel(composition: Composition) -> UserError:
    """The refusal of a gas without anything that burns."""
    listed = ", ".join(composition.names)
    return UserError(
        Problem("this gas has no fuel", value=listed, key="composition", fix="add a component that burns")
    )


def property_columns(state: StateConstants) -> Array:
    """Component by (molar mass, summation factor, gross, net)."""
    table = component_table()
    column = state.combustion_column
    parts = [table.molar_mass_kg_per_mol, table.summation_factor[state.metering_column]]
    return np.stack([*parts, gross_J_per_mol(column), net_J_per_mol(column)], axis=1)


def from_sums(mass: float, s: float, gross: float, net: float, state: StateConstants) -> dict[str, float]:
    """The property equations on the four sums over the composition."""
    table = component_table()
    dry = 1.0 - state.water
    water_mass = state.water * float(table.molar_mass_kg_per_mol[table.index["water"]])
    gross, net, mass = gross * dry, net * dry, mass * dry + water_mass
    Z = 1.0 - state.pressure_ratio * s * s
    ideal_volume = state.ideal_molar_volume_m3_per_mol
    volume = Z * ideal_volume
    ideal_d = mass / state.M_air_kg_per_mol
    d = ideal_d * state.Z_air / Z
    return {
        "molar_mass_kg_per_mol": mass,
        "compression_factor": Z,
        "molar_volume_m3_per_mol": volume,
        "gross_heating_value_J_per_mol": gross,
        "net_heating_value_J_per_mol": net,
        "gross_heating_value_J_per_kg": gross / mass,
        "net_heating_value_J_per_kg": net / mass,
        "gross_heating_value_J_per_m3": gross / volume,
        "net_heating_value_J_per_m3": net / volume,
        "density_kg_per_m3": mass / volume,
        "relative_density": d,
        "gross_wobbe_J_per_m3": gross / volume / math.sqrt(d),
        "net_wobbe_J_per_m3": net / volume / math.sqrt(d),
        "ideal_gross_heating_value_J_per_m3": gross / ideal_volume,
        "ideal_net_heating_value_J_per_m3": net / ideal_volume,
        "ideal_density_kg_per_m3": mass / ideal_volume,
        "ideal_relative_density": ideal_d,
        "ideal_gross_wobbe_J_per_m3": gross / ideal_volume / math.sqrt(ideal_d),
        "ideal_net_wobbe_J_per_m3": net / ideal_volume / math.sqrt(ideal_d),
    }
