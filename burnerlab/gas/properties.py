"""Heating values, density, compression factor and Wobbe index at a reference state (ISO 6976:2016)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from burnerlab.gas.component import Array
from burnerlab.gas.composition import Composition
from burnerlab.gas.gas import Gas
from burnerlab.gas.state import constants_of, read_basis
from burnerlab.gas.summation import from_sums, no_fuel, sums
from burnerlab.gas.uncertainty import COVERAGE_FACTOR, relative_uncertainties
from burnerlab.quantity import Kind, ReferenceState
from burnerlab.quantity.outputs import computed_output, output

LOWEST_Z = 0.9  # iso6976-2016, clause 5: range of the summation method


@dataclass(frozen=True, slots=True, kw_only=True)
class GasProperties:
    """Properties of one gas at one reference state; plain names are real gas, ``ideal_`` ones ideal gas.

    At a saturated state volumes, moles and masses count the water vapour, heating values the dry gas in them.
    """

    reference: ReferenceState
    composition: Composition
    molar_mass_kg_per_mol: float
    compression_factor: float = field(metadata=output("compression factor"))
    molar_volume_m3_per_mol: float = field(metadata=output("molar volume", unit="m3/mol"))
    gross_heating_value_J_per_mol: float = field(
        metadata=output("heating value", Kind.HEATING_VALUE_MOLE, basis="gross")
    )
    net_heating_value_J_per_mol: float = field(
        metadata=output("heating value", Kind.HEATING_VALUE_MOLE, basis="net")
    )
    gross_heating_value_J_per_kg: float = field(
        metadata=output("heating value", Kind.HEATING_VALUE_MASS, basis="gross")
    )
    net_heating_value_J_per_kg: float = field(
        metadata=output("heating value", Kind.HEATING_VALUE_MASS, basis="net")
    )
    gross_heating_value_J_per_m3: float = field(
        metadata=output("heating value", Kind.HEATING_VALUE_VOLUME, basis="gross")
    )
    net_heating_value_J_per_m3: float = field(
        metadata=output("heating value", Kind.HEATING_VALUE_VOLUME, basis="net")
    )
    density_kg_per_m3: float = field(metadata=output("density", Kind.DENSITY))
    relative_density: float = field(metadata=output("relative density"))
    gross_wobbe_J_per_m3: float = field(
        metadata=output("Wobbe index", Kind.HEATING_VALUE_VOLUME, basis="gross")
    )
    net_wobbe_J_per_m3: float = field(metadata=output("Wobbe index", Kind.HEATING_VALUE_VOLUME, basis="net"))
    ideal_gross_heating_value_J_per_m3: float = field(
        metadata=output("heating value, ideal gas", Kind.HEATING_VALUE_VOLUME, basis="gross")
    )
    ideal_net_heating_value_J_per_m3: float = field(
        metadata=output("heating value, ideal gas", Kind.HEATING_VALUE_VOLUME, basis="net")
    )
    ideal_density_kg_per_m3: float = field(metadata=output("density, ideal gas", Kind.DENSITY))
    ideal_relative_density: float = field(metadata=output("relative density, ideal gas"))
    ideal_gross_wobbe_J_per_m3: float = field(
        metadata=output("Wobbe index, ideal gas", Kind.HEATING_VALUE_VOLUME, basis="gross")
    )
    ideal_net_wobbe_J_per_m3: float = field(
        metadata=output("Wobbe index, ideal gas", Kind.HEATING_VALUE_VOLUME, basis="net")
    )
    uncertainty: Mapping[str, float]  # relative standard uncertainty (k = 1) of each property by name
    uncertainty_covers: str  # what it covers: the property table, with the composition where its own is known
    notes: tuple[str, ...] = ()

    @property
    @computed_output("molar mass", unit="kg/kmol")
    def molar_mass_kg_per_kmol(self) -> float:
        """As tables print it."""
        return 1e3 * self.molar_mass_kg_per_mol

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


def properties(gas: Gas | Composition, reference: ReferenceState) -> GasProperties:
    """All properties of a gas at a reference state.

    Z = 1 - (p/p0) (sum x s)^2, V = Z R T / p, Hv = sum x Hc / V, d = M Z_air / (M_air Z), W = Hv / sqrt(d).
    Raises UserError outside the standard's range and for a gas without fuel. Source: iso6976-2016.

    >>> from burnerlab.quantity import Kind, ReferenceState
    >>> methane = Composition.of({"methane": 1.0}, per="mole")
    >>> properties(methane, ReferenceState.read("15C/15C")).gross_wobbe_J_per_m3 / 1e6
    50.73
    """
    composition = gas if isinstance(gas, Composition) else gas.composition
    state = constants_of(reference)
    mass, s, gross, net = sums(composition, state)
    if not gross > 0.0 or not net > 0.0:
        raise no_fuel(composition)
    found: dict[str, Any] = from_sums(mass, s, gross, net, state)
    notes = (
        ()
        if found["compression_factor"] > LOWEST_Z
        else (f"Z is below {LOWEST_Z}: outside the property standard",)
    )
    fraction_u = None if isinstance(gas, Composition) else gas.uncertainty
    found["uncertainty"] = relative_uncertainties(composition, reference, fraction_u)
    found["uncertainty_covers"] = "property table" + (" and composition" if fraction_u else "")
    return GasProperties(reference=reference, composition=composition, notes=notes, **found)
