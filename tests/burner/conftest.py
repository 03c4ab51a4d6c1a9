"""Burning velocities for tests of the burner: a few computed points, kept apart from the shipped tables."""

from __future__ import annotations

import numpy as np
import pytest

from burnerlab.burner.burner import BurnerFuel, BurnerGeometry, burner_fuel
from burnerlab.gas import Gas, load, mix

# equivalence ratio and burning velocity [m/s] of flat flames at 298 K, 101.325 kPa
RATIOS = (0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.4, 1.6, 2.0)
SPEEDS = {
    "methane": (0.1922, 0.2723, 0.3384, 0.3787, 0.3816, 0.3349, 0.2333, 0.1383, 0.084, 0.042),
    "propane": (0.2500, 0.3200, 0.3700, 0.3950, 0.4050, 0.3800, 0.3150, 0.2210, 0.095, 0.034),
}


class TablePoints:
    """Burning velocity between the points, with a power law in temperature and pressure; nan outside them."""

    def __init__(self, fuel: str) -> None:
        self.ratios = np.array(RATIOS)
        self.richest = float(self.ratios[-1])
        self.speeds = np.array(SPEEDS[fuel])

    def __call__(self, equivalence_ratio, unburnt_temperature_K, pressure_Pa):
        ratio = np.asarray(equivalence_ratio, dtype=float)
        found = np.exp(np.interp(ratio, self.ratios, np.log(self.speeds), left=np.nan, right=np.nan))
        warmer = (np.asarray(unburnt_temperature_K) / 298.15) ** 1.75
        return found * warmer * (np.asarray(pressure_Pa) / 101325.0) ** -0.35

    def relative_error(self, equivalence_ratio, unburnt_temperature_K):
        return np.full(np.shape(equivalence_ratio), 0.1)


@pytest.fixture(scope="session")
def methane() -> BurnerFuel:
    return burner_fuel(mix({"methane": 1.0}, per="mole"), TablePoints("methane"))


@pytest.fixture(scope="session")
def propane() -> BurnerFuel:
    gas = load("propane")
    assert isinstance(gas, Gas)
    return burner_fuel(gas, TablePoints("propane"))


@pytest.fixture
def ring() -> BurnerGeometry:
    """A drilled ring of about 2.7 kW on natural gas at 1 kPa."""
    return BurnerGeometry(
        port_width_m=1.6e-3,
        port_count=130,
        port_depth_m=2.5e-3,
        orifice_diameter_m=1.60e-3,
        orifice_coefficient=0.85,
        throat_m=14.2e-3,
        shutter_area_m2=400e-6,
        shutter_opening=0.7,
    )
