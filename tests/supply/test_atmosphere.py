"""The standard atmosphere and the barometer."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.supply.atmosphere import (
    HIGHEST_m,
    LOWEST_m,
    air_density_at_altitude_kg_per_m3,
    altitude_at_pressure_m,
    ambient,
    pressure_at_altitude_Pa,
    standard_atmosphere,
    temperature_at_altitude_K,
)
from burnerlab.tables.problem import UserError

heights = st.floats(LOWEST_m, HIGHEST_m)


@given(heights)
@settings(max_examples=50)
def test_altitude_and_pressure_are_inverse(height: float) -> None:
    assert altitude_at_pressure_m(pressure_at_altitude_Pa(height)) == pytest.approx(height, abs=1e-7)


@given(heights, heights)
@settings(max_examples=50)
def test_pressure_falls_with_height(one: float, other: float) -> None:
    low, high = sorted((one, other))
    if high - low > 1e-6:
        assert pressure_at_altitude_Pa(high) < pressure_at_altitude_Pa(low)


def test_air_is_hydrostatic() -> None:
    """dp/dh = -rho g: pressure and density come from one atmosphere."""
    height, step = 1800.0, 0.5
    slope = (pressure_at_altitude_Pa(height + step) - pressure_at_altitude_Pa(height - step)) / (2 * step)
    weight = air_density_at_altitude_kg_per_m3(height) * standard_atmosphere().gravity_m_per_s2
    assert slope == pytest.approx(-weight, rel=1e-8)


def test_an_array_gives_what_each_height_gives() -> None:
    many = np.linspace(-500.0, 5000.0, 7)
    for function in (pressure_at_altitude_Pa, temperature_at_altitude_K, air_density_at_altitude_kg_per_m3):
        np.testing.assert_allclose(function(many), [function(float(height)) for height in many], rtol=1e-15)
    assert isinstance(pressure_at_altitude_Pa(100.0), float)


@pytest.mark.parametrize("height", [float("nan"), float("inf"), -1001.0, 11001.0])
def test_a_height_outside_the_layer_is_refused(height: float) -> None:
    with pytest.raises(UserError, match="-1000 to 11000 m"):
        pressure_at_altitude_Pa(height)


@pytest.mark.parametrize("pressure", [float("nan"), 0.0, 1e4, 2e5])
def test_a_pressure_of_no_height_is_refused(pressure: float) -> None:
    with pytest.raises(UserError, match="no altitude"):
        altitude_at_pressure_m(pressure)


def test_the_barometer_of_the_place_goes_before_the_standard() -> None:
    assert ambient(1500.0, 83900.0).pressure_Pa == 83900.0
    assert ambient(1500.0).pressure_Pa == pressure_at_altitude_Pa(1500.0)
    assert ambient().pressure_Pa == 101325.0


def test_a_weather_report_is_not_a_station_barometer() -> None:
    """A forecast's 1013 hPa at 1500 m is reduced to sea level; taken as it is it would be a fifth too high."""
    with pytest.raises(UserError, match="reduced to sea level"):
        ambient(1500.0, 101325.0)
