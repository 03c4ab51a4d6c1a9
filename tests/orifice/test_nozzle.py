"""Isentropic flow through a converging hole: exactness, the switch to choked flow, and independent codes."""

from __future__ import annotations

from decimal import Decimal, localcontext

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.orifice.nozzle import (
    BLOCK,
    SURELY_SUBCRITICAL,
    choked,
    critical_pressure_ratio,
    expansibility,
    flow_function_squared,
    mass_flow_kg_per_s,
    plate_expansibility,
    throat_velocity_m_per_s,
)
from burnerlab.tables.problem import UserError

SEA = 101325.0
exponents = st.floats(1.01, 1.67)
gauges = st.floats(1.0, 4e5)


def exact_flow_function_squared(x: float, k: float) -> float:
    """The equation as printed, in fifty digits."""
    with localcontext() as context:
        context.prec = 50
        tau, kappa = 1 - Decimal(x), Decimal(k)
        if kappa == 1:
            return float(-(tau**2) * tau.ln())
        both = (2 / kappa * tau.ln()).exp() * (1 - ((kappa - 1) / kappa * tau.ln()).exp())
        return float(both * kappa / (kappa - 1))


@pytest.mark.parametrize("k", [0.95, 1.0, 1.0 + 1e-12, 1.0 - 1e-9, 1.001, 1.07, 1.12, 1.31, 1.402, 1.67])
@pytest.mark.parametrize("x", [1e-14, 1e-9, 1e-6, 1e-3, 0.027, 0.1, 0.25, 0.31, 0.38])
def test_no_digit_is_lost_for_any_drop_or_exponent(x: float, k: float) -> None:
    assert float(flow_function_squared(x, k)) == pytest.approx(exact_flow_function_squared(x, k), rel=4e-15)


@pytest.mark.parametrize("k", [1.07, 1.13, 1.31, 1.4])
def test_expansibility_tends_to_one_along_its_series(k: float) -> None:
    """1 - eps = 3 x/(4 k) + ...: at a thousandth of a pascal the difference from 1 is still right to four digits."""
    for gauge in (1e-3, 1.0, 10.0):
        x = gauge / (SEA + gauge)
        loss = 1.0 - float(expansibility(gauge, SEA, k))
        assert loss == pytest.approx(0.75 * x / k, rel=2e-16 / x + 2.0 * x)


def test_expansibility_agrees_with_an_independent_nozzle() -> None:
    from fluids.flow_meter import nozzle_expansibility

    for k in (1.05, 1.0712, 1.1205, 1.136, 1.3076, 1.4016, 1.66):
        for ratio in np.linspace(float(critical_pressure_ratio(k)) + 1e-6, 0.999, 25):
            theirs = nozzle_expansibility(D=1.0, Do=1e-3, P1=SEA / ratio, P2=SEA, k=k)
            assert float(expansibility(SEA / ratio - SEA, SEA, k)) == pytest.approx(theirs, rel=1e-9)


def test_plate_expansibility_agrees_with_an_independent_plate() -> None:
    from fluids.flow_meter import orifice_expansibility

    for ratio in (0.76, 0.9, 0.97, 0.999):
        theirs = orifice_expansibility(D=1.0, Do=1e-3, P1=SEA / ratio, P2=SEA, k=1.12)
        assert float(plate_expansibility(SEA / ratio - SEA, SEA, 1.12)) == pytest.approx(theirs, rel=1e-9)
    with pytest.raises(UserError, match=r"0\.75 or more"):
        plate_expansibility(SEA / 0.74 - SEA, SEA, 1.12)


@given(exponents)
@settings(max_examples=40)
def test_flow_is_continuous_at_the_switch(k: float) -> None:
    """Upstream held, the outlet a millionth above and below the critical pressure: the flow is at its maximum."""
    upstream = 3e5
    outlet = float(critical_pressure_ratio(k)) * upstream * (1.0 + np.array([-1e-6, 0.0, 1e-6]))
    flow = mass_flow_kg_per_s(1e-3, upstream - outlet, outlet, 2.0, k)
    assert choked(upstream - outlet, outlet, k).tolist()[::2] == [True, False]
    assert np.ptp(flow) <= 1e-11 * flow[1]


@given(exponents, st.floats(0.0, 1.0))
@settings(max_examples=60)
def test_flow_stops_changing_past_the_critical_ratio(k: float, share: float) -> None:
    """Relation 5: upstream held, the outlet pressure lowered below the critical one, down to vacuum."""
    upstream = 3e5
    critical = float(critical_pressure_ratio(k)) * upstream
    outlet = share * critical
    at_switch = float(mass_flow_kg_per_s(1e-3, upstream - critical, critical, 2.0, k))
    below = float(mass_flow_kg_per_s(1e-3, upstream - outlet, outlet, 2.0, k))
    assert below == pytest.approx(at_switch, rel=1e-9)


@pytest.mark.parametrize(("k", "ratio", "gauge_kPa"), [(1.136, 0.5772, 74.2), (1.31, 0.5439, 85.0)])
def test_where_propane_and_methane_choke(k: float, ratio: float, gauge_kPa: float) -> None:
    assert float(critical_pressure_ratio(k)) == pytest.approx(ratio, abs=6e-5)
    gauge = SEA * (1.0 / float(critical_pressure_ratio(k)) - 1.0)
    assert gauge / 1000.0 == pytest.approx(gauge_kPa, abs=0.06)
    assert not choked(gauge - 1.0, SEA, k)
    assert choked(gauge + 1.0, SEA, k)


def test_incompressible_formula_is_far_off_when_choked() -> None:
    """Bad input 42: at 30 psi the plain formula is 82 % high with upstream and 4 % with downstream density."""
    gauge, k = 30 * 6894.757, 1.136
    ratio = float(expansibility(gauge, SEA, k))
    assert ratio == pytest.approx(0.549, abs=6e-4)
    assert ratio * ((SEA + gauge) / SEA) ** 0.5 == pytest.approx(0.957, abs=1e-3)


def test_the_speed_of_a_choked_jet_is_sonic() -> None:
    """w^2 = k p/rho in the throat, at the isentropic state there."""
    k, upstream, density = 1.3, 4e5, 3.0
    t = float(critical_pressure_ratio(k))
    speed = float(throat_velocity_m_per_s(upstream - SEA, SEA, density, k))
    assert speed**2 == pytest.approx(k * t * upstream / (density * t ** (1 / k)), rel=1e-12)
    flow = float(mass_flow_kg_per_s(1.0, upstream - SEA, SEA, density, k)) * 4 / np.pi
    assert flow == pytest.approx(density * t ** (1 / k) * speed, rel=1e-12)


def test_the_threshold_below_which_nothing_chokes_holds() -> None:
    k = np.linspace(0.65, 2.0, 1000)
    assert (1.0 - critical_pressure_ratio(k) > SURELY_SUBCRITICAL).all()


def test_a_million_cases_give_what_one_gives() -> None:
    """Blocks, broadcasting and single cases are one function; cases of all kinds, more than one block of them."""
    rng = np.random.default_rng(1)
    n = 2 * BLOCK + 17
    d, gauge, k = rng.uniform(3e-4, 5e-3, n), 10 ** rng.uniform(0, 6, n), rng.uniform(1.05, 1.67, n)
    rho, coefficient = rng.uniform(0.1, 6.0, n), rng.uniform(0.6, 1.0, n)
    many = mass_flow_kg_per_s(d, gauge, SEA, rho, k, coefficient, 3)
    for i in (0, 1, BLOCK - 1, BLOCK, n - 1, *rng.integers(0, n, 40)):
        one = mass_flow_kg_per_s(d[i], gauge[i], SEA, rho[i], k[i], coefficient[i], 3)
        assert float(one) == pytest.approx(many[i], rel=1e-14)
    table = mass_flow_kg_per_s(d[:5, None], gauge[:4], SEA, 1.9, 1.12)
    assert table.shape == (5, 4)
    assert float(table[3, 2]) == pytest.approx(
        float(mass_flow_kg_per_s(d[3], gauge[2], SEA, 1.9, 1.12)), rel=1e-14
    )
    assert mass_flow_kg_per_s(np.empty(0), 1000.0, SEA, 1.9, 1.12).shape == (0,)
    untouched = gauge.copy()
    mass_flow_kg_per_s(d, gauge, SEA, rho, k)
    np.testing.assert_array_equal(gauge, untouched)


@pytest.mark.parametrize("gauge", [0.0, -5.0, float("nan"), float("inf")])
def test_a_supply_that_pushes_nothing_is_refused(gauge: float) -> None:
    """Bad input 39, alone and hidden among good cases."""
    words = "above the outlet pressure" if gauge <= 0 else "finite"
    for given_gauge in (gauge, np.array([1000.0, gauge, 2000.0])):
        with pytest.raises(UserError, match=words):
            mass_flow_kg_per_s(1e-3, given_gauge, SEA, 1.0, 1.3)
    with pytest.raises(UserError, match=words):
        expansibility(gauge, SEA, 1.3)


@given(
    st.floats(3e-4, 6e-3), gauges, st.floats(0.1, 8.0), exponents, st.floats(0.1, 10.0), st.integers(1, 12)
)
@settings(max_examples=60)
def test_scaling_of_bore_density_and_count(
    d: float, gauge: float, rho: float, k: float, factor: float, n: int
) -> None:
    """Relations 2, 6 and 7."""
    base = float(mass_flow_kg_per_s(d, gauge, SEA, rho, k, 0.9))
    assert float(mass_flow_kg_per_s(factor * d, gauge, SEA, rho, k, 0.9)) == pytest.approx(
        factor**2 * base, rel=1e-12
    )
    denser = float(mass_flow_kg_per_s(d, gauge, SEA, factor * rho, k, 0.9))
    assert denser == pytest.approx(factor**0.5 * base, rel=1e-12)
    assert denser / (factor * rho) == pytest.approx(base / rho / factor**0.5, rel=1e-12)
    several = float(mass_flow_kg_per_s(d, gauge, SEA, rho, k, 0.9, n))
    assert several == pytest.approx(n * base, rel=1e-12)
    assert several == pytest.approx(float(mass_flow_kg_per_s(d * n**0.5, gauge, SEA, rho, k, 0.9)), rel=1e-12)


@given(gauges, exponents, st.floats(1.001, 2.0))
@settings(max_examples=60)
def test_more_pressure_gives_more_flow_at_the_same_upstream_gas(
    gauge: float, k: float, factor: float
) -> None:
    """Relation 31: the density of a real gas rises with the pressure, here as that of a perfect gas."""
    less, more = (
        float(mass_flow_kg_per_s(1e-3, p, SEA, 1.2 * (SEA + p) / SEA, k, 0.9))
        for p in (gauge, factor * gauge)
    )
    assert more > less
