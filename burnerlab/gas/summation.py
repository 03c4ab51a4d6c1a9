"""The sums over a composition and the property equations on them (ISO 6976:2016)."""

from __future__ import annotations

import math
from operator import mul

import numpy as np

from burnerlab.gas.component import Array, component_table
from burnerlab.gas.composition import Composition
from burnerlab.gas.state import StateConstants, constants_of, gross_J_per_mol, net_J_per_mol
from burnerlab.quantity import Problem, ReferenceState, UserError


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
