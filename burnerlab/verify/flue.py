"""Measures of flue gas: excess air, air-free carbon monoxide, losses."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from burnerlab import tables
from burnerlab.bench.flue import FlueReading, air_free_by_oxygen, analyse_flue, siegert_loss
from burnerlab.gas import Gas, load, mix
from burnerlab.gas.combustion_air import combustion_air

ROOM_F = 70.0  # air of the tables of combustion efficiency


def _gas(given: Mapping[str, Any]) -> Gas:
    found = mix(given["mix"], per="mole") if "mix" in given else load(given["gas"])
    assert isinstance(found, Gas)
    return found


def _kelvin(fahrenheit: float) -> float:
    return (fahrenheit + 459.67) / 1.8


def air_free(given: Mapping[str, Any]) -> float:
    """Carbon monoxide free of air, by oxygen."""
    return float(air_free_by_oxygen(given["carbon_monoxide_ppm"], given["oxygen_percent"] / 100.0))


def excess_air(given: Mapping[str, Any]) -> float:
    """Excess air, long form."""
    return 100.0 * analyse_flue(_gas(given), FlueReading(oxygen=given["oxygen_percent"] / 100.0)).excess_air


def efficiency(given: Mapping[str, Any]) -> float:
    """Combustion efficiency on the gross heating value."""
    reading = FlueReading(
        oxygen=given["oxygen_percent"] / 100.0,
        flue_temperature_K=_kelvin(ROOM_F + given["rise_F"]),
        air_temperature_K=_kelvin(ROOM_F),
        relative_humidity=0.0,
    )
    loss = analyse_flue(_gas(given), reading).flue_loss_gross
    assert loss is not None
    return 100.0 * (1.0 - loss)


def siegert(given: Mapping[str, Any]) -> float:
    """Flue loss of the Siegert formula, net basis."""
    row = next(row for row in tables.rows("siegert") if row["fuel"] == given["fuel"])
    flue_K, air_K = given["flue_C"] + 273.15, given["air_C"] + 273.15
    return 100.0 * siegert_loss(
        flue_K, air_K, given["oxygen_percent"] / 100.0, float(row["A2"]), float(row["B"])
    )


def net_loss(given: Mapping[str, Any]) -> float:
    """Flue loss of the heat balance, net basis."""
    reading = FlueReading(
        oxygen=given["oxygen_percent"] / 100.0,
        flue_temperature_K=given["flue_C"] + 273.15,
        air_temperature_K=given["air_C"] + 273.15,
        relative_humidity=0.0,
    )
    loss = analyse_flue(_gas(given), reading).flue_loss_net
    assert loss is not None
    return 100.0 * loss


def dry_oxygen(given: Mapping[str, Any]) -> float:
    """Oxygen in the dry flue gas."""
    return 100.0 * combustion_air(_gas(given), given["air_ratio"]).dry_O2


def dry_carbon_dioxide(given: Mapping[str, Any]) -> float:
    """Carbon dioxide in the dry flue gas."""
    return 100.0 * combustion_air(_gas(given), given["air_ratio"]).dry_CO2


def wet_flue_gas(given: Mapping[str, Any]) -> float:
    """Share of the wet flue gas."""
    burnt = combustion_air(_gas(given), 1.0 + given["excess_percent"] / 100.0)
    return 100.0 * burnt.wet_composition[given["component"]]


MEASURES: dict[str, Callable[[Mapping[str, Any]], float]] = {
    "air-free CO by oxygen": air_free,
    "excess air": excess_air,
    "combustion efficiency gross": efficiency,
    "siegert loss": siegert,
    "flue loss net": net_loss,
    "dry O2": dry_oxygen,
    "dry CO2": dry_carbon_dioxide,
    "wet flue gas": wet_flue_gas,
}
