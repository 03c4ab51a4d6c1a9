"""Units, reference pressures and drill sizes beside the published figures."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from burnerlab.quantity import PRESETS, Kind, read, read_bore


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


MEASURES: dict[str, Callable[[Mapping[str, Any]], float]] = {
    "unit_size": unit_size,
    "heating_value_units": heating_value_units,
    "reference_pressure": reference_pressure,
    "drill_diameter": drill_diameter,
}
