"""Density and isentropic exponent upstream of an orifice: relations, range, and the standard they are anchored to."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.gas import Gas, dew_point, properties, real_gas
from burnerlab.gas.component import component_names
from burnerlab.gas.composition import Composition
from burnerlab.gas.heat_capacity import GAS_CONSTANT
from burnerlab.quantity import ReferenceState
from burnerlab.tables.problem import UserError

NAMES = component_names()
GASES = {
    "natural gas": {"methane": 0.93, "ethane": 0.035, "propane": 0.01, "N2": 0.015, "CO2": 0.01},
    "propane": {"propane": 1.0},
    "butanes": {"n-butane": 0.5, "isobutane": 0.5},
    "hydrogen": {"hydrogen": 1.0},
    "propane-air": {"propane": 0.6, "air": 0.4},
    "town gas": {"hydrogen": 0.5, "CO": 0.1, "methane": 0.25, "N2": 0.1, "CO2": 0.05},
}
few = settings(max_examples=25)
vapours = st.sampled_from(sorted(GASES))


def parts(name: str) -> tuple[tuple[str, ...], tuple[float, ...]]:
    gas = Composition.of(GASES[name], per="mole")
    return gas.names, gas.fractions


@few
@given(st.lists(st.floats(0.01, 1.0), min_size=len(NAMES), max_size=len(NAMES)))
def test_at_15_C_and_one_atmosphere_it_is_the_standard(weights: list[float]) -> None:
    gas = Composition.of(dict(zip(NAMES, weights, strict=True)), per="mole", normalize=True)
    thing = Gas(name="any", title="any", composition=gas, source="", provenance="computed")
    standard = properties(thing, ReferenceState.read("15C/15C"))
    ours = real_gas.density_kg_per_m3(gas.names, gas.fractions, 288.15, 101325.0)
    assert float(ours) == pytest.approx(standard.density_kg_per_m3, rel=1e-9)
    if float(dew_point.dew_pressure_Pa(gas.names, gas.fractions, 288.15)) >= 101325.0:
        assert float(thing.density_kg_per_m3(288.15, 101325.0)) == pytest.approx(float(ours), rel=1e-12)


@few
@given(vapours, st.floats(1e3, 3e3))
def test_thin_gas_is_ideal(name: str, pressure: float) -> None:
    names, x = parts(name)
    assert float(real_gas.compression_factor(names, x, 288.15, pressure)) == pytest.approx(1.0, abs=1.2e-3)
    cp = real_gas._ideal_cp_over_R(names, x, 288.15)
    kappa = float(real_gas.isentropic_exponent(names, x, 288.15, pressure))
    assert kappa == pytest.approx(float(cp / (cp - 1)), rel=2e-3)


@few
@given(vapours, st.floats(275.0, 330.0), st.floats(9e4, 1.4e5))
def test_exponent_is_the_slope_of_an_isentropic_path(name: str, temperature: float, pressure: float) -> None:
    # along dT/dp at constant entropy, T (dv/dT)_p / cp, with every derivative taken from the density alone
    names, x = parts(name)
    mass = 1.0 / float(real_gas.density_kg_per_m3(names, x, temperature, pressure))

    def volume(t: float, p: float) -> float:
        return 1.0 / float(real_gas.density_kg_per_m3(names, x, t, p)) / mass

    step_T, step_p = 0.5, 200.0
    by_T = (volume(temperature + step_T, pressure) - volume(temperature - step_T, pressure)) / (2 * step_T)
    by_p = (volume(temperature, pressure + step_p) - volume(temperature, pressure - step_p)) / (2 * step_p)
    factor = float(real_gas.compression_factor(names, x, temperature, pressure))
    molar_volume = factor * GAS_CONSTANT * temperature / pressure
    cp = GAS_CONSTANT * float(real_gas._ideal_cp_over_R(names, x, temperature))
    # cp - cp0 = -T int (d2v/dT2) dp, from the same density: the integrand at half pressure, times p
    curve = volume(temperature + 5, pressure / 2) - 2 * volume(temperature, pressure / 2)
    curve = (curve + volume(temperature - 5, pressure / 2)) / 25.0
    cp -= temperature * curve * pressure * molar_volume
    slope = by_p + temperature * by_T**2 * molar_volume / cp
    assert float(real_gas.isentropic_exponent(names, x, temperature, pressure)) == pytest.approx(
        -1.0 / (pressure * slope), rel=1e-3
    )


@few
@given(vapours, st.floats(273.15, 330.0), st.floats(8e4, 1.3e5))
def test_density_rises_with_pressure_and_falls_with_temperature(
    name: str, temperature: float, pressure: float
) -> None:
    names, x = parts(name)
    here = float(real_gas.density_kg_per_m3(names, x, temperature, pressure))
    assert float(real_gas.density_kg_per_m3(names, x, temperature, pressure * 1.01)) > here * 1.01 * (
        1 - 2e-3
    )
    assert float(real_gas.density_kg_per_m3(names, x, temperature * 1.01, pressure)) < here


def test_many_states_and_mixtures_in_one_call_equal_each_alone() -> None:
    rng = np.random.default_rng(2)
    x = rng.dirichlet(np.ones(6), size=40)
    names = ("methane", "ethane", "propane", "nitrogen", "carbon dioxide", "hydrogen")
    temperature, pressure = rng.uniform(260, 320, 40), rng.uniform(9e4, 2e5, 40)
    for function in (real_gas.density_kg_per_m3, real_gas.isentropic_exponent):
        together = function(names, x, temperature, pressure)
        alone = [float(function(names, x[i], temperature[i], pressure[i])) for i in range(40)]
        np.testing.assert_allclose(together, alone, rtol=1e-12)
    grid = real_gas.density_kg_per_m3(names, x[0], temperature[:, None], pressure)
    assert grid.shape == (40, 40)
    assert grid[3, 5] == pytest.approx(
        float(real_gas.density_kg_per_m3(names, x[0], temperature[3], pressure[5])), rel=1e-12
    )


@few
@given(st.permutations(range(5)))
def test_order_of_components_and_zero_parts_do_not_matter(order: list[int]) -> None:
    names = ("methane", "ethane", "n-butane", "nitrogen", "hydrogen")
    x = np.array([0.7, 0.1, 0.1, 0.1, 0.0])
    plain = real_gas.isentropic_exponent(names[:4], x[:4], 280.0, 1.2e5)
    mixed = real_gas.isentropic_exponent([names[i] for i in order], x[order], 280.0, 1.2e5)
    assert float(mixed) == pytest.approx(float(plain), rel=1e-12)


@pytest.mark.parametrize(
    ("temperature", "pressure", "says"),
    [
        (150.0, 1e5, "-53 to 107 C"),
        (float("nan"), 1e5, "-53 to 107 C"),
        (288.15, 0.0, "1 to 1100 kPa"),
        (288.15, float("inf"), "1 to 1100 kPa"),
    ],
)
def test_outside_the_range_is_refused(temperature: float, pressure: float, says: str) -> None:
    with pytest.raises(UserError, match=says):
        real_gas.density_kg_per_m3(["methane"], [1.0], temperature, pressure)


def test_a_state_far_inside_the_liquid_has_no_density() -> None:
    with pytest.raises(UserError, match="too near its liquid"):
        real_gas.density_kg_per_m3(["n-hexane"], [1.0], 250.0, 1e6)
