"""One orifice and its gas: heat inputs, what is carried in the result, and what is refused."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.gas import load, properties
from burnerlab.gas.real_gas import ESTIMATE
from burnerlab.orifice import Conditions, Viscosity, flow, law, own_coefficient, viscosity
from burnerlab.orifice.flow import CHOKED, ESTIMATED_VISCOSITY, SUBCRITICAL
from burnerlab.orifice.nozzle import mass_flow_kg_per_s
from burnerlab.quantity import PRESETS, UserError
from burnerlab.supply.atmosphere import pressure_at_altitude_Pa

PROPANE, NATURAL, TRADE = load("propane"), load("natural-gas-typical"), load("trade-propane-2516")
DOMESTIC = Conditions(gauge_pressure_Pa=2740.0)
bores, pressures, coefficients = st.floats(3e-4, 6e-3), st.floats(50.0, 2.5e5), st.floats(0.5, 0.98)


def test_the_result_obeys_its_own_equation() -> None:
    """m = n K eps A sqrt(2 rho1 dp) with the figures the result shows, subcritical and choked; heat = m H."""
    for gauge in (2740.0, 2.0e5):
        stream = flow(PROPANE, 1.2e-3, Conditions(gauge_pressure_Pa=gauge), 0.87, 3)
        shown = 3 * 0.87 * stream.expansibility * stream.area_m2
        shown *= math.sqrt(2.0 * stream.upstream_density_kg_per_m3 * gauge)
        assert stream.mass_flow_kg_per_s == pytest.approx(shown, rel=1e-13)
        for basis in ("gross", "net"):
            heat = stream.mass_flow_kg_per_s * PROPANE.heating_value_J_per_kg(basis)
            assert stream.heat_input_W(basis) == pytest.approx(heat, rel=1e-14)
        assert stream.heat_input_gross_W > stream.heat_input_net_W


def test_the_branch_is_said() -> None:
    assert SUBCRITICAL in flow(PROPANE, 1e-3, DOMESTIC).notes
    choked = flow(PROPANE, 1e-3, Conditions(gauge_pressure_Pa=2e5))
    assert CHOKED in choked.notes
    assert choked.choked


def test_choked_flow_of_a_real_gas_ignores_the_weather() -> None:
    """Same absolute supply pressure at sea level and at 3000 m."""
    one, other = (
        flow(PROPANE, 1e-3, Conditions(gauge_pressure_Pa=4e5 - ambient, ambient_pressure_Pa=ambient))
        for ambient in (101325.0, pressure_at_altitude_Pa(3000.0))
    )
    assert one.mass_flow_kg_per_s == pytest.approx(other.mass_flow_kg_per_s, rel=1e-12)


def test_jet_is_the_kernel_on_one_case() -> None:
    stream = flow(NATURAL, 1.4e-3, DOMESTIC, 0.9)
    kernel = mass_flow_kg_per_s(
        1.4e-3, 2740.0, 101325.0, stream.upstream_density_kg_per_m3, stream.isentropic_exponent, 0.9
    )
    assert stream.mass_flow_kg_per_s == pytest.approx(float(kernel), rel=1e-14)


@pytest.mark.parametrize("altitude_m", [500.0, 1500.0, 3000.0])
def test_altitude_lowers_heat_with_the_density_and_not_the_heating_value(altitude_m: float) -> None:
    """Relation 30."""
    low = flow(PROPANE, 1e-3, DOMESTIC)
    ambient = pressure_at_altitude_Pa(altitude_m)
    high = flow(PROPANE, 1e-3, Conditions(gauge_pressure_Pa=2740.0, ambient_pressure_Pa=ambient))
    density = (high.upstream_density_kg_per_m3 / low.upstream_density_kg_per_m3) ** 0.5
    ratio = high.heat_input_gross_W / low.heat_input_gross_W
    assert ratio == pytest.approx(density * high.expansibility / low.expansibility, rel=1e-12)
    assert ratio == pytest.approx((ambient / 101325.0) ** 0.5, rel=0.01)
    per_kg = [flow.heat_input_gross_W / flow.mass_flow_kg_per_s for flow in (low, high)]
    assert per_kg[0] == pytest.approx(per_kg[1], rel=1e-14)


@given(bores, pressures, coefficients, st.floats(1.01, 1.5))
@settings(max_examples=40)
def test_heat_rises_with_bore_pressure_and_coefficient(d: float, p: float, k: float, more: float) -> None:
    """Relation 31, with the real gas."""
    base = flow(PROPANE, d, Conditions(gauge_pressure_Pa=p), k).heat_input_gross_W
    assert flow(PROPANE, d * more, Conditions(gauge_pressure_Pa=p), k).heat_input_gross_W > base
    assert flow(PROPANE, d, Conditions(gauge_pressure_Pa=p * more), k).heat_input_gross_W > base
    assert flow(PROPANE, d, Conditions(gauge_pressure_Pa=p), min(1.0, k * more)).heat_input_gross_W > base


def test_volume_flow_is_mass_flow_over_the_density_of_the_state() -> None:
    stream = flow(NATURAL, 1.4e-3, DOMESTIC)
    for reference in (PRESETS["ISO_15_15"], PRESETS["DIN_25_0"]):
        volume = stream.volume_flow_m3_per_s(reference)
        assert volume * NATURAL.standard_density_kg_per_m3(reference) == pytest.approx(
            stream.mass_flow_kg_per_s
        )


@pytest.mark.parametrize("name", ["natural-gas-typical", "propane", "hydrogen"])
@pytest.mark.parametrize("reference", PRESETS)
def test_volume_times_heating_value_is_the_heat_input(name: str, reference: str) -> None:
    """A saturated volume holds less gas, and its heating value counts that."""
    at = PRESETS[reference]
    gas = load(name)
    stream = flow(gas, 1.4e-3, DOMESTIC, combustion_temperature_K=at.combustion_temperature_K)
    heating_value = properties(gas, at).gross_heating_value_J_per_m3
    assert stream.volume_flow_m3_per_s(at) * heating_value == pytest.approx(
        stream.heat_input_gross_W, rel=1e-9
    )


def test_a_gas_known_by_its_plate_flows_too() -> None:
    stream = flow(TRADE, 1.397e-3, DOMESTIC)
    assert stream.heat_input_gross_W == pytest.approx(
        flow(PROPANE, 1.397e-3, DOMESTIC).heat_input_gross_W, rel=0.02
    )
    assert ESTIMATED_VISCOSITY in stream.notes
    assert viscosity(TRADE, 288.15).method == ESTIMATE


def test_the_reynolds_number_does_not_know_the_coefficient() -> None:
    one, other = flow(PROPANE, 1e-3, DOMESTIC, 0.6), flow(PROPANE, 1e-3, DOMESTIC, 0.95, 4)
    assert one.reynolds == other.reynolds
    mass = one.mass_flow_kg_per_s / 0.6
    assert one.reynolds == pytest.approx(4 * mass / (math.pi * 1e-3 * one.viscosity_Pa_s), rel=1e-12)


def test_a_law_of_the_coefficient_is_asked_at_this_bore_and_reynolds_number() -> None:
    channel = law("drilled channel", 3e-3)
    stream = flow(PROPANE, 1e-3, DOMESTIC, channel)
    assert stream.coefficient == channel(1e-3, stream.reynolds)
    assert 0.77 < stream.coefficient < 0.82
    assert own_coefficient(0.81).coefficient == 0.81


@pytest.mark.parametrize("coefficient", [0.0, 0.49, 1.01, 1.4, float("nan"), -0.9])
def test_a_coefficient_no_hole_has_is_refused(coefficient: float) -> None:
    """Bad input 41."""
    with pytest.raises(UserError, match=r"must lie in 0\.5 to 1 "):
        flow(PROPANE, 1e-3, DOMESTIC, coefficient)


@pytest.mark.parametrize("gauge", [0.0, -100.0])
def test_pressure_must_be_above_the_outlet(gauge: float) -> None:
    """Bad input 39."""
    with pytest.raises(UserError, match="supply pressure must be above the outlet pressure"):
        flow(PROPANE, 1e-3, Conditions(gauge_pressure_Pa=gauge))


def test_all_that_is_wrong_is_told_at_once() -> None:
    with pytest.raises(UserError) as caught:
        flow(
            PROPANE,
            1e-3,
            Conditions(gauge_pressure_Pa=-1.0, ambient_pressure_Pa=0.0, gas_temperature_K=math.nan),
        )
    assert len(caught.value.problems) == 3
    with pytest.raises(UserError) as caught:
        flow(PROPANE, 0.0, DOMESTIC, count=0)
    assert len(caught.value.problems) == 2


def test_results_are_frozen() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        flow(PROPANE, 1e-3, DOMESTIC).coefficient = 1.0  # type: ignore[misc]


@pytest.mark.parametrize(
    ("name", "fluid"),
    [("propane", "Propane"), ("G20", "Methane"), ("hydrogen", "Hydrogen"), ("butane-n", "n-Butane")],
)
def test_viscosity_agrees_with_reference_correlations(name: str, fluid: str) -> None:
    from CoolProp.CoolProp import PropsSI

    found: Viscosity = viscosity(load(name), 288.15)
    assert found.value_Pa_s == pytest.approx(PropsSI("V", "T", 288.15, "P", 101325.0, fluid), rel=0.03)


def test_viscosity_of_a_mixture_lies_where_kinetic_theory_puts_it() -> None:
    """Natural gas lies near methane; hydrogen added to methane raises it little although it is the thinner gas."""
    methane = viscosity(load("G20"), 288.15).value_Pa_s
    assert viscosity(NATURAL, 288.15).value_Pa_s == pytest.approx(methane, rel=0.05)
    assert viscosity(load("hydrogen-blend-20"), 288.15).value_Pa_s == pytest.approx(methane, rel=0.05)
    assert np.all(np.diff([viscosity(PROPANE, t).value_Pa_s for t in (260.0, 290.0, 320.0)]) > 0)
