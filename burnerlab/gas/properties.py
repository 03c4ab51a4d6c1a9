"""Heating values, density, compression factor and Wobbe index at a reference state (ISO 6976:2016)."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from operator import mul
from typing import TYPE_CHECKING, Any

import numpy as np

from burnerlab.gas.components import Array, component_table
from burnerlab.gas.composition import Composition
from burnerlab.gas.state import StateConstants, constants_of, gross_J_per_mol, net_J_per_mol
from burnerlab.gas.uncertainty import COVERAGE_FACTOR, relative_uncertainties
from burnerlab.quantity import Problem, ReferenceState, UserError

if TYPE_CHECKING:
    from burnerlab.gas.gas import Gas

LOWEST_Z = 0.9  # iso6976-2016, clause 5: range of the summation method


@dataclass(frozen=True, slots=True, kw_only=True)
class GasProperties:
    """Properties of one gas at one reference state; plain names are real gas, ``ideal_`` ones ideal gas.

    At a saturated state volumes, moles and masses count the water vapour, heating values the dry gas in them.
    """

    reference: ReferenceState
    composition: Composition
    molar_mass_kg_per_mol: float
    compression_factor: float
    molar_volume_m3_per_mol: float
    gross_heating_value_J_per_mol: float
    net_heating_value_J_per_mol: float
    gross_heating_value_J_per_kg: float
    net_heating_value_J_per_kg: float
    gross_heating_value_J_per_m3: float
    net_heating_value_J_per_m3: float
    density_kg_per_m3: float
    relative_density: float
    gross_wobbe_J_per_m3: float
    net_wobbe_J_per_m3: float
    ideal_gross_heating_value_J_per_m3: float
    ideal_net_heating_value_J_per_m3: float
    ideal_density_kg_per_m3: float
    ideal_relative_density: float
    ideal_gross_wobbe_J_per_m3: float
    ideal_net_wobbe_J_per_m3: float
    uncertainty: Mapping[str, float]  # relative standard uncertainty (k = 1) of each property by name
    uncertainty_covers: str  # what it covers: the property table, with the composition where its own is known
    notes: tuple[str, ...] = ()

    def expanded_percent(self, name: str) -> float:
        """Expanded uncertainty (k = 2, about 95 %) of a property [% of its value]."""
        return 100.0 * COVERAGE_FACTOR * self.uncertainty[name]

    def heating_value_J_per_m3(self, basis: str) -> float:
        """Real-gas heating value of a cubic metre; basis is ``gross`` or ``net``."""
        return (
            self.gross_heating_value_J_per_m3
            if read_basis(basis) == "gross"
            else self.net_heating_value_J_per_m3
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class MixtureArrays:
    """Properties of many mixtures at one reference state, one array element per mixture."""

    reference: ReferenceState
    molar_mass_kg_per_mol: Array
    compression_factor: Array
    gross_heating_value_J_per_m3: Array
    net_heating_value_J_per_m3: Array
    density_kg_per_m3: Array
    relative_density: Array
    gross_wobbe_J_per_m3: Array
    net_wobbe_J_per_m3: Array

    @property
    def molar_volume_m3_per_mol(self) -> Array:
        """Real-gas molar volume."""
        return self.compression_factor * constants_of(self.reference).ideal_molar_volume_m3_per_mol

    @property
    def gross_heating_value_J_per_mol(self) -> Array:
        return self.gross_heating_value_J_per_m3 * self.molar_volume_m3_per_mol

    @property
    def net_heating_value_J_per_mol(self) -> Array:
        return self.net_heating_value_J_per_m3 * self.molar_volume_m3_per_mol

    @property
    def gross_heating_value_J_per_kg(self) -> Array:
        return self.gross_heating_value_J_per_m3 / self.density_kg_per_m3

    @property
    def net_heating_value_J_per_kg(self) -> Array:
        return self.net_heating_value_J_per_m3 / self.density_kg_per_m3


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


def properties(gas: Gas | Composition, reference: ReferenceState) -> GasProperties:
    """All properties of a gas at a reference state.

    Z = 1 - (p/p0) (sum x s)^2, V = Z R T / p, Hv = sum x Hc / V, d = M Z_air / (M_air Z), W = Hv / sqrt(d).
    Raises UserError outside the standard's range and for a gas without fuel. Source: iso6976-2016.

    >>> from burnerlab.quantity import ReferenceState
    >>> methane = Composition.of({"methane": 1.0}, per="mole")
    >>> properties(methane, ReferenceState.read("15C/15C")).gross_wobbe_J_per_m3 / 1e6
    50.73
    """
    composition = gas if isinstance(gas, Composition) else gas.composition
    state = constants_of(reference)
    mass, s, gross, net = _sums(composition, state)
    if not gross > 0.0 or not net > 0.0:
        raise no_fuel(composition)
    found: dict[str, Any] = _from_sums(mass, s, gross, net, state)
    notes = (
        ()
        if found["compression_factor"] > LOWEST_Z
        else (f"Z is below {LOWEST_Z}: outside the property standard",)
    )
    fraction_u = None if isinstance(gas, Composition) else gas.uncertainty
    found["uncertainty"] = relative_uncertainties(composition, reference, fraction_u)
    found["uncertainty_covers"] = "property table" + (" and composition" if fraction_u else "")
    return GasProperties(reference=reference, composition=composition, notes=notes, **found)


def standard_density_kg_per_m3(composition: Composition, reference: ReferenceState) -> float:
    """Real-gas density at a reference state, M/(Z R T/p), also of a gas without fuel [kg/m3].

    >>> from burnerlab.quantity import ReferenceState
    >>> standard_density_kg_per_m3(Composition.pure("air"), ReferenceState.read("15C/15C"))
    1.2255
    """
    state = constants_of(reference)
    return _from_sums(*_sums(composition, state), state)["density_kg_per_m3"]


def _sums(composition: Composition, state: StateConstants) -> tuple[float, float, float, float]:
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


def _from_sums(mass: float, s: float, gross: float, net: float, state: StateConstants) -> dict[str, float]:
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
