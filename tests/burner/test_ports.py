"""Ports: loading, velocity and gradient, where the flow turns turbulent, cone, quenching, secondary air."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.burner import ports
from burnerlab.burner.ports import primary_mixture, transport
from burnerlab.gas.real_gas import viscosity

few = settings(max_examples=60)


def test_velocity_grows_with_port_temperature_and_altitude() -> None:
    cold = ports.mixture_velocity_m_per_s(10.0, 37.63e6, 5.25)
    hot = ports.mixture_velocity_m_per_s(10.0, 37.63e6, 5.25, 2 * 288.15)
    high = ports.mixture_velocity_m_per_s(10.0, 37.63e6, 5.25, pressure_Pa=101325.0 / 2)
    assert float(hot) == pytest.approx(2 * float(cold))
    assert float(high) == pytest.approx(2 * float(cold))


def test_a_slot_has_three_quarters_of_the_gradient_of_a_round_port_of_its_width() -> None:
    both = ports.laminar_gradient_per_s(1.0, 1e-3, slot=np.array([False, True]))
    assert both.tolist() == [8000.0, 6000.0]


def test_the_flow_turns_turbulent_at_the_laminar_limit_and_never_falls() -> None:
    velocity, nu = np.linspace(0.5, 40, 4000), 1.6e-5
    found = ports.wall_gradient(velocity, 3e-3, nu)
    assert (found.turbulent == (found.reynolds > 2300)).all()
    assert found.turbulent.any()
    assert not found.turbulent.all()
    assert (np.diff(found.gradient_per_s) > 0).all()


def test_turbulent_friction_is_that_of_the_blasius_law() -> None:
    """At Re 10 000 f = 0.00791, so that the wall shear is f rho V^2/2."""
    velocity = 10_000 * 1.6e-5 / 5e-3
    gradient = float(ports.turbulent_gradient_per_s(velocity, 5e-3, 1.6e-5))
    assert gradient * 1.6e-5 / (velocity**2 / 2) == pytest.approx(0.00791, rel=1e-6)


def test_a_shorter_port_is_steeper_to_one_diameter_and_an_unknown_depth_the_least() -> None:
    depth = np.array([0.5e-3, 1.6e-3, 2.5e-3, 6e-3, 10e-3, 100e-3])
    found = ports.wall_gradient(1.7, 1.6e-3, 1.6e-5, depth_m=depth)
    unknown = ports.wall_gradient(1.7, 1.6e-3, 1.6e-5)
    assert found.gradient_per_s[0] == found.gradient_per_s[1]
    assert (np.diff(found.gradient_per_s[1:]) < 0).all()
    assert float(found.gradient_per_s[-1]) == float(unknown.gradient_per_s) == 8 * 1.7 / 1.6e-3
    assert found.is_least.tolist() == [True, *[False] * 5]
    assert bool(unknown.is_least)


def test_the_gradient_has_no_step() -> None:
    """From creeping to turbulent: at most 5 % for each percent of the Reynolds number."""
    reynolds = np.exp(np.arange(np.log(5.0), np.log(2e4), np.log(1.01)))
    for slot in (False, True):
        for depth in (None, 0.5e-3, 3e-3, 30e-3):
            velocity = reynolds * 1.6e-5 / (3.2e-3 if slot else 1.6e-3)
            found = ports.wall_gradient(velocity, 1.6e-3, 1.6e-5, slot=slot, depth_m=depth)
            step = found.gradient_per_s[1:] / found.gradient_per_s[:-1]
            assert 1.0 < step.min()
            assert step.max() < 1.05


depths = st.none() | st.floats(0.2e-3, 40e-3)


@few
@given(st.floats(0.1, 60.0), st.floats(0.5e-3, 5e-3), st.booleans(), depths)
def test_velocity_and_gradient_go_both_ways(
    velocity: float, width: float, slot: bool, depth: float | None
) -> None:
    gradient = ports.wall_gradient(velocity, width, 1.6e-5, slot=slot, depth_m=depth).gradient_per_s
    back = ports.velocity_at_gradient_m_per_s(gradient, width, 1.6e-5, slot=slot, depth_m=depth)
    assert float(back) == pytest.approx(velocity, rel=1e-9)


def test_loading_and_velocity_go_both_ways() -> None:
    q = np.array([2.0, 10.0, 30.0])
    v = ports.mixture_velocity_m_per_s(q, 37.63e6, 5.25, 400.0, pressure_Pa=80e3)
    back = ports.loading_at_velocity_W_per_mm2(v, 37.63e6, 5.25, 400.0, pressure_Pa=80e3)
    assert back == pytest.approx(q)


def test_the_cone_vanishes_when_the_flame_is_as_fast_as_the_flow() -> None:
    assert ports.inner_cone_height_m(np.array([0.4, 0.3]), 0.4, 2e-3).tolist() == [0.0, 0.0]
    assert np.isnan(ports.inner_cone_height_m(1.0, np.nan, 2e-3))


def test_quenching_needs_a_wider_round_port_than_a_slot() -> None:
    round_port = float(ports.quenching_width_m(2.2e-5, 0.38))
    slot = float(ports.quenching_width_m(2.2e-5, 0.38, slot=True))
    assert round_port == pytest.approx(1.5 * slot)
    assert 1.8e-3 < slot < 2.2e-3  # methane, not the 0.17 mm of the theory with cold diffusivity


def test_no_secondary_air_is_wanted_where_the_primary_is_enough() -> None:
    wanted = ports.secondary_air_m3_per_s(1e-4, 9.5, np.array([0.5, 1.5]), 0.4)
    assert wanted.tolist() == [pytest.approx(1e-4 * 9.5 * 0.9), 0.0]


def test_the_viscosity_is_that_of_the_room_of_gases() -> None:
    from burnerlab.gas import load

    gas = load("natural-gas-typical")
    ours = transport(gas.composition.names, gas.composition.fractions, 288.15)  # type: ignore[union-attr]
    assert float(ours.viscosity_Pa_s) == pytest.approx(viscosity(gas, 288.15).value_Pa_s, rel=1e-9)


def test_diffusivity_grows_with_temperature_and_falls_with_pressure() -> None:
    hot = primary_mixture(["methane"], [1.0], 9.5, np.array([288.15, 400.0, 500.0]))
    assert (np.diff(hot.thermal_diffusivity_m2_per_s) > 0).all()
    thin = primary_mixture(["methane"], [1.0], 9.5, 288.15, 101325.0 / 2)
    assert float(thin.thermal_diffusivity_m2_per_s) == pytest.approx(
        2 * float(hot.thermal_diffusivity_m2_per_s[0])
    )


def test_pure_air_and_pure_gas_are_the_ends_of_the_mixture() -> None:
    pure = transport(["propane"], [1.0], 300.0)
    none = primary_mixture(["propane"], [1.0], 0.0, 300.0)
    density = 101325.0 / (8.314462618 * 300.0) * float(pure.molar_mass_kg_per_mol)
    assert float(none.kinematic_viscosity_m2_per_s) == pytest.approx(float(pure.viscosity_Pa_s) / density)
    lots = primary_mixture(["propane"], [1.0], 1e6, 300.0)
    assert float(lots.kinematic_viscosity_m2_per_s) == pytest.approx(1.57e-5, rel=0.01)
