"""Measures of flames: equilibrium, flue gas, vapour pressures, burning velocities."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from burnerlab.flame.burning_velocity import FlameStates, flame_states
from burnerlab.flame.equilibrium import AdiabaticFlame, adiabatic_flame_temperature_K
from burnerlab.gas import combustion_air, dew_point, real_gas
from burnerlab.gas.composition import Composition
from burnerlab.verify import Measure

# Flames, flue gas, vapour pressures and the gas upstream of an orifice against printed figures.

Inputs = Mapping[str, Any]
PEAK_GRID = np.arange(0.9, 1.4, 0.005)  # equivalence ratios searched for the hottest flame


def _gas(inputs: Inputs) -> Composition:
    return Composition.of(inputs["mix"], per="mole")


def _flame(inputs: Inputs) -> AdiabaticFlame:
    rest = {key: value for key, value in inputs.items() if key not in ("mix", "species")}
    return adiabatic_flame_temperature_K(_gas(inputs), **rest)


def flame_temperature_K(inputs: Inputs) -> float:
    """Adiabatic flame temperature"""
    return float(_flame(inputs).temperature_K)


def hottest_equivalence_ratio(inputs: Inputs) -> float:
    """Equivalence ratio of the hottest flame"""
    flame = adiabatic_flame_temperature_K(_gas(inputs), PEAK_GRID)
    return float(PEAK_GRID[np.argmax(flame.temperature_K)])


def stoichiometric_air(inputs: Inputs) -> float:
    """Stoichiometric dry air, volume per volume"""
    return combustion_air.combustion_air(_gas(inputs)).stoichiometric_air_mol_per_mol


def stoichiometric_air_mass(inputs: Inputs) -> float:
    """Stoichiometric dry air, mass per mass"""
    return combustion_air.combustion_air(_gas(inputs)).stoichiometric_air_kg_per_kg


def dry_flue_gas(inputs: Inputs) -> float:
    """Dry stoichiometric flue gas, volume per volume"""
    return combustion_air.combustion_air(_gas(inputs)).dry_products_mol_per_mol


def ultimate_CO2_percent(inputs: Inputs) -> float:
    """Ultimate carbon dioxide of the dry flue gas"""
    return 100.0 * combustion_air.combustion_air(_gas(inputs)).ultimate_CO2


def excess_air_percent(inputs: Inputs) -> float:
    """Excess air from oxygen in the dry flue gas"""
    gas = _gas(inputs)
    return 100.0 * float(combustion_air.air_ratio_from_O2(gas.names, gas.fractions, inputs["dry_O2"])) - 100.0


def flue_O2_percent(inputs: Inputs) -> float:
    """Oxygen in the dry flue gas"""
    return 100.0 * combustion_air.combustion_air(_gas(inputs), inputs["air_ratio"]).dry_O2


def flue_CO2_percent(inputs: Inputs) -> float:
    """Carbon dioxide in the dry flue gas"""
    return 100.0 * combustion_air.combustion_air(_gas(inputs), inputs["air_ratio"]).dry_CO2


def wet_flue_percent(inputs: Inputs) -> float:
    """One constituent of the wet flue gas"""
    flue = combustion_air.combustion_air(_gas(inputs), inputs["air_ratio"], inputs.get("humidity", 0.0))
    return 100.0 * sum(flue.wet_composition[name] for name in inputs["constituents"])


def flue_dew_point_C(inputs: Inputs) -> float:
    """Water dew point of the flue gas"""
    gas = _gas(inputs)
    dew = combustion_air.dew_point_K(
        gas.names, gas.fractions, inputs["air_ratio"], inputs.get("humidity", 0.0)
    )
    return float(dew) - 273.15


def water_pressure_Pa(inputs: Inputs) -> float:
    """Saturation pressure of water or ice"""
    return float(dew_point.water_saturation_pressure_Pa(inputs["temperature_K"]))


def water_temperature_K(inputs: Inputs) -> float:
    """Saturation temperature of water"""
    return float(dew_point.water_dew_point_K(inputs["pressure_Pa"]))


def component_vapour_pressure_Pa(inputs: Inputs) -> float:
    """Vapour pressure of a fuel component"""
    return float(dew_point.vapour_pressure_Pa([inputs["component"]], inputs["temperature_K"])[0])


def upstream_density(inputs: Inputs) -> float:
    """Density of the gas at supply temperature and pressure"""
    gas, state = _gas(inputs), (inputs["temperature_K"], inputs["pressure_Pa"])
    return float(real_gas.density_kg_per_m3(gas.names, gas.fractions, *state))


def upstream_isentropic_exponent(inputs: Inputs) -> float:
    """Isentropic exponent of the gas at supply temperature and pressure"""
    gas, state = _gas(inputs), (inputs["temperature_K"], inputs["pressure_Pa"])
    return float(real_gas.isentropic_exponent(gas.names, gas.fractions, *state))


_FLAME: dict[str, Measure] = {
    "flame temperature": flame_temperature_K,
    "hottest equivalence ratio": hottest_equivalence_ratio,
    "stoichiometric air": stoichiometric_air,
    "stoichiometric air by mass": stoichiometric_air_mass,
    "dry flue gas": dry_flue_gas,
    "ultimate CO2": ultimate_CO2_percent,
    "excess air from flue oxygen": excess_air_percent,
    "flue O2": flue_O2_percent,
    "flue CO2": flue_CO2_percent,
    "wet flue share": wet_flue_percent,
    "flue dew point": flue_dew_point_C,
    "water saturation pressure": water_pressure_Pa,
    "water saturation temperature": water_temperature_K,
    "vapour pressure": component_vapour_pressure_Pa,
    "upstream density": upstream_density,
    "upstream isentropic exponent": upstream_isentropic_exponent,
}


# Burning velocities from the flame tables against measured ones.

SPEED_PEAK_GRID = np.arange(0.8, 2.2, 0.01)  # equivalence ratios searched for the fastest flame


def _states(inputs: Inputs, equivalence_ratio: Any) -> FlameStates:
    gas = Composition.of(inputs["mix"], per="mole")
    temperature_K, pressure_Pa = (
        inputs.get("unburnt_temperature_K", 298.15),
        inputs.get("pressure_Pa", 101325.0),
    )
    return flame_states(gas, equivalence_ratio, temperature_K, pressure_Pa)


def burning_velocity_cm_per_s(inputs: Inputs) -> float:
    """Burning velocity"""
    return 100.0 * float(_states(inputs, inputs["equivalence_ratio"]).burning_velocity_m_per_s)


def deviation_from_set_percent(inputs: Inputs) -> float:
    """Mean deviation of the burning velocity from a measured set"""
    ratio, measured_cm_per_s = np.array(inputs["points"], dtype=float).T
    ours = 100.0 * _states(inputs, ratio).burning_velocity_m_per_s
    return float(100.0 * np.mean(ours / measured_cm_per_s - 1.0))


def fastest_cm_per_s(inputs: Inputs) -> float:
    """Largest burning velocity over the equivalence ratio"""
    return float(100.0 * np.nanmax(_states(inputs, SPEED_PEAK_GRID).burning_velocity_m_per_s))


def fastest_at(inputs: Inputs) -> float:
    """Equivalence ratio of the largest burning velocity"""
    return float(SPEED_PEAK_GRID[np.nanargmax(_states(inputs, SPEED_PEAK_GRID).burning_velocity_m_per_s)])


def fastest_fuel_percent(inputs: Inputs) -> float:
    """Share of the gas in the mixture of the largest burning velocity"""
    air = combustion_air.stoichiometric_air(Composition.of(inputs["mix"], per="mole")) / fastest_at(inputs)
    return 100.0 / (1.0 + air)


def change_with_temperature(inputs: Inputs) -> float:
    """Burning velocity at a higher unburnt temperature over that at a lower one"""
    low, high = (
        float(
            _states(
                {**inputs, "unburnt_temperature_K": value}, inputs["equivalence_ratio"]
            ).burning_velocity_m_per_s
        )
        for value in inputs["temperatures_K"]
    )
    return high / low


FLAME_SPEED_MEASURES: dict[str, Measure] = {
    "burning velocity": burning_velocity_cm_per_s,
    "burning velocity against a set": deviation_from_set_percent,
    "largest burning velocity": fastest_cm_per_s,
    "place of the largest burning velocity": fastest_at,
    "fuel share of the largest burning velocity": fastest_fuel_percent,
    "burning velocity with temperature": change_with_temperature,
}

MEASURES = _FLAME | FLAME_SPEED_MEASURES
