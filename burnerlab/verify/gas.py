"""Measures of gases: properties, interchangeability, units and reference states.

Inputs: ``gas`` (a library name) or ``mix`` with ``per``; ``at`` (a reference state). For uncertainties also ``u``
(standard uncertainties of the mole fractions), ``correlation`` (``identity`` or ``normalised``) and ``field``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from burnerlab import tables
from burnerlab.gas import (
    Composition,
    DeclaredGas,
    Gas,
    GasProperties,
    interchangeability,
    load,
    mix,
    properties,
)
from burnerlab.gas.component import component_table
from burnerlab.gas.gas_family import wobbe_family
from burnerlab.gas.properties import normalised_correlation, relative_uncertainties
from burnerlab.quantity import PRESETS, Kind, ReferenceState, in_unit, read, read_bore

# Measures of gas properties: what a printed figure of a gas is held against.

Inputs = Mapping[str, Any]
Measure = Callable[[Inputs], float]


def _composition(inputs: Inputs) -> Composition:
    if "mix" in inputs:
        return Composition.of(inputs["mix"], per=inputs.get("per", "mole"))
    gas = load(inputs["gas"])
    assert isinstance(gas, Gas)
    return gas.composition


def _properties(inputs: Inputs) -> GasProperties:
    return properties(_composition(inputs), ReferenceState.read(inputs["at"]))


def _measure(words: str, field: str, scale: float = 1.0, kind: Kind | None = None, unit: str = "") -> Measure:
    """A measure that reads one property, scaled or in a unit of the alias table."""

    def measure(inputs: Inputs) -> float:
        value = getattr(_properties(inputs), field)
        return float(value * scale if kind is None else in_unit(value, kind, unit))

    measure.__doc__ = words
    return measure


def _summation_factor(inputs: Inputs) -> float:
    """Summation factor of a gas"""
    found = _properties(inputs)
    ratio = found.reference.pressure_Pa / 101325.0
    return float(((1.0 - found.compression_factor) / ratio) ** 0.5)


def _uncertainty(inputs: Inputs) -> float:
    """Standard uncertainty of a gas property"""
    composition, at = _composition(inputs), ReferenceState.read(inputs["at"])
    normalised = inputs.get("correlation", "identity") == "normalised"
    correlation = normalised_correlation(composition, inputs["u"]) if normalised else None
    relative = relative_uncertainties(composition, at, inputs.get("u"), correlation)[inputs["field"]]
    value = getattr(properties(composition, at), inputs["field"])
    return float(relative * value * inputs.get("scale", 1.0))


def _table_uncertainty_percent(inputs: Inputs) -> float:
    """Relative standard uncertainty that the property table alone brings"""
    at = ReferenceState.read(inputs["at"])
    return 100.0 * relative_uncertainties(_composition(inputs), at)[inputs["field"]]


def _gallon(inputs: Inputs) -> float:
    """Gross heating value of the vapour of one US gallon of liquid at 60 F"""
    found = _properties(inputs)
    density = next(row for row in tables.rows("gas_liquids") if row["name"] == found.composition.names[0])
    joule = found.gross_heating_value_J_per_mol * float(density["liquid_mol_per_m3"])
    gallon = 0.003785411784  # m3, 231 cubic inches exactly
    return float(in_unit(joule * gallon, Kind.ENERGY, "Btu"))


def _heat_of_combustion(inputs: Inputs) -> float:
    """Gross heating value of a mole of a component"""
    table = component_table()
    return float(table.gross_J_per_mol[inputs["column"]][table.index[inputs["component"]]] / 1e3)


def _family(inputs: Inputs) -> float:
    """Number of the gas family by Wobbe index"""
    found = wobbe_family(
        properties(_composition(inputs), ReferenceState.read("15C/15C")).gross_wobbe_J_per_m3
    )
    return float(found[0].family)


def _declared_wobbe(inputs: Inputs) -> float:
    """Gross Wobbe index of a declared gas on its own basis"""
    gas = load(inputs["gas"])
    assert isinstance(gas, DeclaredGas)
    return float(in_unit(gas.properties().gross_wobbe_J_per_m3, Kind.HEATING_VALUE_VOLUME, "Btu/ft3"))


_KILOWATT_HOUR = 1.0 / 3.6e6  # per joule, exact
_VOLUME, _MASS = Kind.HEATING_VALUE_VOLUME, Kind.HEATING_VALUE_MASS
_GROSS = "Gross heating value of a volume"
_GROSS_IDEAL = "Gross heating value of a volume, ideal gas"

_GAS: dict[str, Measure] = {
    "gas_molar_mass_kg_per_kmol": _measure("Molar mass", "molar_mass_kg_per_mol", 1e3),
    "gas_compression_factor": _measure("Compression factor", "compression_factor"),
    "gas_summation_factor": _summation_factor,
    "gas_molar_volume_m3_per_kmol": _measure("Molar volume, real gas", "molar_volume_m3_per_mol", 1e3),
    "gas_gross_kJ_per_mol": _measure("Gross heating value of a mole", "gross_heating_value_J_per_mol", 1e-3),
    "gas_gross_MJ_per_kg": _measure(
        "Gross heating value of a kilogram", "gross_heating_value_J_per_kg", 1e-6
    ),
    "gas_net_MJ_per_kg": _measure("Net heating value of a kilogram", "net_heating_value_J_per_kg", 1e-6),
    "gas_gross_MJ_per_m3": _measure(_GROSS, "gross_heating_value_J_per_m3", 1e-6),
    "gas_net_MJ_per_m3": _measure("Net heating value of a volume", "net_heating_value_J_per_m3", 1e-6),
    "gas_gross_wobbe_MJ_per_m3": _measure("Gross Wobbe index", "gross_wobbe_J_per_m3", 1e-6),
    "gas_net_wobbe_MJ_per_m3": _measure("Net Wobbe index", "net_wobbe_J_per_m3", 1e-6),
    "gas_density_kg_per_m3": _measure("Density", "density_kg_per_m3"),
    "gas_relative_density": _measure("Relative density", "relative_density"),
    "gas_ideal_relative_density": _measure("Relative density, ideal gas", "ideal_relative_density"),
    "gas_ideal_gross_MJ_per_m3": _measure(_GROSS_IDEAL, "ideal_gross_heating_value_J_per_m3", 1e-6),
    "gas_gross_Btu_per_ft3": _measure(_GROSS, "gross_heating_value_J_per_m3", 1.0, _VOLUME, "Btu/ft3"),
    "gas_ideal_gross_Btu_per_ft3": _measure(
        _GROSS_IDEAL,
        "ideal_gross_heating_value_J_per_m3",
        1.0,
        _VOLUME,
        "Btu/ft3",
    ),
    "gas_gross_wobbe_Btu_per_ft3": _measure(
        "Gross Wobbe index", "gross_wobbe_J_per_m3", 1.0, _VOLUME, "Btu/ft3"
    ),
    "gas_gross_Btu_per_lb": _measure(
        "Gross heating value of a pound", "gross_heating_value_J_per_kg", 1.0, _MASS, "Btu/lb"
    ),
    "gas_net_Btu_per_lb": _measure(
        "Net heating value of a pound", "net_heating_value_J_per_kg", 1.0, _MASS, "Btu/lb"
    ),
    "gas_gross_kWh_per_m3": _measure(_GROSS, "gross_heating_value_J_per_m3", _KILOWATT_HOUR),
    "gas_net_kWh_per_m3": _measure(
        "Net heating value of a volume", "net_heating_value_J_per_m3", _KILOWATT_HOUR
    ),
    "gas_gross_kWh_per_kg": _measure(
        "Gross heating value of a kilogram", "gross_heating_value_J_per_kg", _KILOWATT_HOUR
    ),
    "gas_net_kWh_per_kg": _measure(
        "Net heating value of a kilogram", "net_heating_value_J_per_kg", _KILOWATT_HOUR
    ),
    "gas_net_Btu_per_ft3": _measure(
        "Net heating value of a volume", "net_heating_value_J_per_m3", 1.0, _VOLUME, "Btu/ft3"
    ),
    "gas_gross_wobbe_kcal_per_m3": _measure(
        "Gross Wobbe index", "gross_wobbe_J_per_m3", 1.0, _VOLUME, "kcal/m3"
    ),
    "gas_net_wobbe_kcal_per_m3": _measure("Net Wobbe index", "net_wobbe_J_per_m3", 1.0, _VOLUME, "kcal/m3"),
    "gas_gross_Btu_per_gal": _gallon,
    "gas_uncertainty": _uncertainty,
    "gas_table_uncertainty_percent": _table_uncertainty_percent,
    "gas_heat_of_combustion_kJ_per_mol": _heat_of_combustion,
    "gas_family": _family,
    "gas_declared_wobbe_Btu_per_ft3": _declared_wobbe,
}


# Measures of interchangeability: the factors and indices of the published methods.


def _gas(parts: Mapping[str, float]) -> Gas:
    return mix(parts, per="mole", normalize=True)


def bulletin_factor(inputs: Mapping[str, Any]) -> float:
    """Factor of AGA Bulletin 36."""
    return float(getattr(interchangeability.bulletin_factors(_gas(inputs["gas"])), inputs["factor"]))


def weaver_factor(inputs: Mapping[str, Any]) -> float:
    """Factor of Weaver."""
    return float(getattr(interchangeability.weaver_factors(_gas(inputs["gas"])), inputs["factor"]))


def bulletin_index(inputs: Mapping[str, Any]) -> float:
    """Interchange index of AGA Bulletin 36."""
    return interchangeability.bulletin_indices(_gas(inputs["adjustment"]), _gas(inputs["substitute"]))[
        inputs["index"]
    ]


def weaver_index(inputs: Mapping[str, Any]) -> float:
    """Interchange index of Weaver."""
    return interchangeability.weaver_indices(_gas(inputs["adjustment"]), _gas(inputs["substitute"]))[
        inputs["index"]
    ]


def incomplete_combustion_factor(inputs: Mapping[str, Any]) -> float:
    """Dutton's incomplete combustion factor."""
    return interchangeability.incomplete_combustion_factor(inputs["wobbe_MJ_per_m3"], inputs["PN"])


def soot_index(inputs: Mapping[str, Any]) -> float:
    """Dutton's soot index."""
    return interchangeability.soot_index(inputs["propane_percent"], inputs["nitrogen_percent"])


INTERCHANGE_MEASURES: dict[str, Callable[[Mapping[str, Any]], float]] = {
    "bulletin factor": bulletin_factor,
    "weaver factor": weaver_factor,
    "bulletin index": bulletin_index,
    "weaver index": weaver_index,
    "incomplete combustion factor": incomplete_combustion_factor,
    "soot index": soot_index,
}


# Units, reference pressures and drill sizes beside the published figures.


def unit_size(inputs: Mapping[str, Any]) -> float:
    """One of a unit, in SI."""
    return read(inputs["text"], Kind[inputs["kind"]])


def heating_value_units(inputs: Mapping[str, Any]) -> float:
    """Btu per cubic foot in one MJ per cubic metre, of the same reference state."""
    return read("1 MJ/m3", Kind.HEATING_VALUE_VOLUME) / read("1 Btu/ft3", Kind.HEATING_VALUE_VOLUME)


def reference_pressure(inputs: Mapping[str, Any]) -> float:
    """Pressure of a reference state."""
    return PRESETS[inputs["preset"]].pressure_Pa


def drill_diameter(inputs: Mapping[str, Any]) -> float:
    """Diameter of a drill."""
    return read_bore(inputs["drill"]).diameter_m


QUANTITY_MEASURES: dict[str, Callable[[Mapping[str, Any]], float]] = {
    "unit_size": unit_size,
    "heating_value_units": heating_value_units,
    "reference_pressure": reference_pressure,
    "drill_diameter": drill_diameter,
}

MEASURES = _GAS | INTERCHANGE_MEASURES | QUANTITY_MEASURES
