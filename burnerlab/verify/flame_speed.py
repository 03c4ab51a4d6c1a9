"""Burning velocities from the flame tables against measured ones."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from burnerlab.flame.speed import FlameStates, flame_states
from burnerlab.gas.composition import Composition
from burnerlab.verify import Measure

Inputs = Mapping[str, Any]
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


MEASURES: dict[str, Measure] = {
    "burning velocity": burning_velocity_cm_per_s,
    "burning velocity against a set": deviation_from_set_percent,
    "largest burning velocity": fastest_cm_per_s,
    "place of the largest burning velocity": fastest_at,
    "burning velocity with temperature": change_with_temperature,
}
