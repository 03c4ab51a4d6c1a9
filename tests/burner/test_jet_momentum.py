"""The momentum of a gas jet to the speed of sound: gas dynamics, an equation of state, relations."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.burner.jet_momentum import (
    choked_jet_spread,
    jet_area_ratio,
    momentum_flux_Pa,
    throat_pressure_Pa,
)
from burnerlab.orifice.nozzle import critical_pressure_ratio

AIR_Pa = 101325.0
PSI_Pa = 6894.757


@pytest.mark.parametrize(
    ("k", "printed"),
    [
        # vacuum thrust coefficient F/(p_1 A_t) of a converging nozzle. k 1.4: NACA Report 1135, table of the subsonic
        # and sonic impulse, 1.2679 at M = 1 (memory); k 1.2 and 1.3: (k + 1) (2/(k + 1))^(k/(k - 1)) worked by hand
        (1.4, 1.2679),
        (1.3, 1.2552),
        (1.2, 1.2418),
    ],
)
def test_thrust_of_a_choked_nozzle_in_a_vacuum(k: float, printed: float) -> None:
    """F + p_a A over p_1 A does not depend on the ambient pressure, and is the thrust coefficient in a vacuum."""
    for gauge in (2e5, 1e6, 1e7):
        flux = float(momentum_flux_Pa(gauge, AIR_Pa, k)) + AIR_Pa
        assert flux / (gauge + AIR_Pa) == pytest.approx(printed, abs=6e-5)


@pytest.mark.parametrize(
    ("name", "psi"), [("propane", 20.0), ("propane", 30.0), ("methane", 20.0), ("methane", 30.0)]
)
def test_an_equation_of_state_gives_the_same_jet(name: str, psi: float) -> None:
    """CoolProp along the isentrope: largest mass flux, its speed and pressure, density of the gas in still air.

    Ours is an ideal gas with the exponent before the hole: within 1.5 % for methane and 5 % for propane, whose
    compressibility is 0.95 before the hole at 30 psi.
    """
    props = pytest.importorskip("CoolProp.CoolProp").PropsSI
    p1, T = psi * PSI_Pa + AIR_Pa, 288.15
    h1, s1 = props("H", "P", p1, "T", T, name), props("S", "P", p1, "T", T, name)
    pressures = np.linspace(0.45, 0.65, 201) * p1
    speed = np.sqrt(2.0 * (h1 - props("H", "P", pressures, "S", np.full_like(pressures, s1), name)))
    flux = speed * props("D", "P", pressures, "S", np.full_like(pressures, s1), name)
    at = int(np.argmax(flux))
    thrust = flux[at] * speed[at] + pressures[at] - AIR_Pa
    k = float(props("ISENTROPIC_EXPANSION_COEFFICIENT", "P", p1, "T", T, name))
    area = flux[at] ** 2 / (props("D", "P", AIR_Pa, "T", T, name) * thrust)
    assert float(momentum_flux_Pa(psi * PSI_Pa, AIR_Pa, k)) == pytest.approx(thrust, rel=0.01)
    assert float(jet_area_ratio(psi * PSI_Pa, AIR_Pa, k)) == pytest.approx(
        area, rel=0.05 if name == "propane" else 0.015
    )


def test_the_pseudo_source_of_a_choked_jet() -> None:
    """Birch, Hughes and Swaffield (1987), form recalled: V = V_t + (p_t - p_a)/(rho_t V_t).

    The area is then A/A_t = rho_t V_t/(rho_a V).
    """
    k, R, T, p1 = 1.3, 518.3, 288.15, 5e5
    pt, Tt = p1 * float(critical_pressure_ratio(k)), T * 2.0 / (k + 1.0)
    rho_t, V_t = pt / (R * Tt), math.sqrt(k * R * Tt)
    V = V_t + (pt - AIR_Pa) / (rho_t * V_t)
    area = rho_t * V_t / (AIR_Pa / (R * T) * V)
    assert float(jet_area_ratio(p1 - AIR_Pa, AIR_Pa, k)) == pytest.approx(area, rel=1e-12)


exponents = st.floats(1.05, 1.66)


@settings(max_examples=60)
@given(exponents, st.floats(1e-3, 1e6), st.floats(60e3, 110e3))
def test_nothing_steps_where_the_hole_chokes(k: float, gauge: float, ambient: float) -> None:
    chokes = ambient * (1.0 / float(critical_pressure_ratio(k)) - 1.0)
    for function in (momentum_flux_Pa, jet_area_ratio, throat_pressure_Pa):
        below, above = (float(function(chokes * f, ambient, k)) for f in (1 - 1e-9, 1 + 1e-9))
        assert below == pytest.approx(above, rel=1e-7)
    assert float(jet_area_ratio(chokes, ambient, k)) == pytest.approx((k + 1.0) / 2.0, rel=1e-9)
    more, less = (float(jet_area_ratio(gauge * f, ambient, k)) for f in (1.01, 1.0))
    assert more >= less * (1 - 1e-9)
    assert less >= 1.0  # the jet only ever widens with the pressure


def test_a_slow_jet_is_as_wide_as_its_hole_and_has_twice_the_pressure_as_momentum() -> None:
    """Bernoulli: F/A = rho w^2 = 2 dp."""
    assert float(momentum_flux_Pa(1e-3, AIR_Pa, 1.13)) == pytest.approx(2e-3, rel=1e-6)
    assert float(jet_area_ratio(1e-3, AIR_Pa, 1.13)) == pytest.approx(1.0, abs=1e-6)
    assert float(jet_area_ratio(2740.0, AIR_Pa, 1.13)) == pytest.approx(1.003, abs=5e-4)


def test_the_spread_opens_with_the_pressure_and_leaves_slow_jets_alone() -> None:
    pressures = np.array([2740.0, 60e3, 80e3, 120e3, 200e3, 400e3])
    low, high = (choked_jet_spread(pressures, AIR_Pa, 1.13, end) for end in ("low", "high"))
    assert low[0] == high[0] == 1.0
    assert np.all(np.diff(low) <= 0.0)
    assert np.all(np.diff(high) >= 0.0)
    assert (low[-1], high[-1]) == (0.8, 1.15)
    assert np.all(choked_jet_spread(pressures, AIR_Pa, 1.13) == 1.0)
