"""Pressure lost in pipes: equations against each other, their limits, and what is refused."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.supply.pipe import (
    LAMINAR,
    TRANSITION,
    TURBULENT,
    CUBIC_FOOT_PER_HOUR_m3_per_s,
    FOOT_m,
    INCH_m,
    INCH_OF_WATER_Pa,
    Line,
    Pipe,
    capacity_kg_per_s,
    colebrook,
    expanding_drop_Pa,
    fitting,
    friction_factor,
    low_pressure_flows,
    pipe_flow,
    pressure_drop_Pa,
    reynolds,
    roughness,
    size_named,
)
from burnerlab.supply.regulator import valve_drop_Pa, valve_of_bore, valve_of_Cv, valve_of_Kv
from burnerlab.supply.root_search import rising_root, rising_root_by_slope
from burnerlab.tables.problem import UserError

HOSE = Pipe(length_m=3.0, diameter_m=0.0127, roughness_m=1e-5, name="hose")
few = settings(max_examples=40)


def test_colebrook_is_solved_to_the_last_digits() -> None:
    re, rough = np.meshgrid(np.logspace(3.6, 8, 60), [0.0, 1e-6, 1e-4, 1e-2, 0.05])
    root = 1.0 / np.sqrt(colebrook(re, rough))
    residual = root + 2.0 * np.log10(rough / 3.7 + 2.51 * root / re)
    assert np.max(np.abs(residual)) < 1e-12


def test_laminar_flow_is_poiseuilles() -> None:
    flow, mu, rho = 2e-5, 1.1e-5, 0.74
    assert float(reynolds(flow, HOSE.diameter_m, mu)) < 2000
    exact = 128 * mu * HOSE.length_m * (flow / rho) / (math.pi * HOSE.diameter_m**4)
    drop = pressure_drop_Pa(flow, HOSE.length_m, HOSE.diameter_m, HOSE.roughness_m, rho, mu)
    assert float(drop) == pytest.approx(exact, rel=1e-12)


@pytest.mark.parametrize("bound", [2000.0, 4000.0])
def test_the_friction_factor_is_continuous_where_the_regime_changes(bound: float) -> None:
    below, above = friction_factor(np.array([bound * (1 - 1e-9), bound * (1 + 1e-9)]), 1e-3)
    assert below == pytest.approx(above, rel=1e-7)


@few
@given(st.floats(1e-6, 0.02), st.floats(1.0001, 3.0))
def test_more_flow_loses_more(flow: float, factor: float) -> None:
    drops = pressure_drop_Pa(np.array([flow, flow * factor]), 3.0, 0.0127, 1e-5, 0.74, 1.1e-5, 2.0)
    assert drops[1] > drops[0] > 0.0


@few
@given(st.floats(5.0, 15000.0), st.floats(0.004, 0.06), st.floats(0.0, 20.0))
def test_capacity_undoes_the_drop(drop: float, bore: float, loss: float) -> None:
    pipe = Pipe(length_m=4.0, diameter_m=bore, roughness_m=4.6e-5, loss_coefficient=loss)
    flow = float(capacity_kg_per_s(pipe, drop, 104e3, 0.75, 1.1e-5))
    constant = pressure_drop_Pa(flow, 4.0, bore, 4.6e-5, 0.75, 1.1e-5, loss)
    assert float(expanding_drop_Pa(constant, 104e3)) == pytest.approx(drop, rel=1e-9)


def test_the_expansion_is_the_isothermal_equation_integrated() -> None:
    p, per_length, steps = 120e3, 0.01 * 120e3 * 1.0, 20000  # dp/dx = -const/p over a unit length
    for _ in range(steps):
        half = p - 0.5 * per_length * 120e3 / p / steps
        p -= per_length * 120e3 / half / steps
    assert 120e3 - p == pytest.approx(float(expanding_drop_Pa(per_length, 120e3)), rel=1e-8)


def test_fittings_add_their_velocity_heads() -> None:
    flow, rho = 5e-4, 0.74
    plain = pipe_flow(HOSE, flow, 103e3, rho, 1.1e-5)
    fitted = pipe_flow(
        Pipe(length_m=3.0, diameter_m=0.0127, roughness_m=1e-5, loss_coefficient=4.0),
        flow,
        103e3,
        rho,
        1.1e-5,
    )
    heads = 4.0 * rho * plain.velocity_m_per_s**2 / 2
    assert fitted.drop_Pa - plain.drop_Pa == pytest.approx(heads, rel=2e-3)


@pytest.mark.parametrize(("flow", "regime"), [(1e-4, LAMINAR), (3.2e-4, TRANSITION), (8e-4, TURBULENT)])
def test_the_regime_is_named_and_the_transition_said(flow: float, regime: str) -> None:
    found = pipe_flow(HOSE, flow, 103e3, 0.74, 1.1e-5)
    assert found.regime == regime
    assert bool(found.notes) == (regime == TRANSITION)
    if regime == TRANSITION:
        assert "30 %" in found.notes[0]


def test_a_drop_beyond_the_model_is_refused() -> None:
    thin = Pipe(length_m=20.0, diameter_m=0.004, roughness_m=1e-5, name="hose")
    with pytest.raises(UserError, match=r"hose: loses .* at most 20 %"):
        pipe_flow(thin, 2e-3, 104e3, 1.9, 8e-6)
    with pytest.raises(UserError, match="20 %"):
        capacity_kg_per_s(thin, 40e3, 104e3, 1.9, 8e-6)


def test_a_pipe_that_is_none_is_refused_with_every_problem() -> None:
    with pytest.raises(UserError) as caught:
        pipe_flow(
            Pipe(length_m=0.0, diameter_m=-1.0, roughness_m=1.0, loss_coefficient=-1.0), 1e-4, 1e5, 0.7, 1e-5
        )
    assert {problem.key for problem in caught.value.problems} == {"length", "bore", "roughness", "fittings"}


def test_sizes_fittings_and_walls_have_their_source() -> None:
    assert size_named("1/2 in sch 40").bore_m == pytest.approx(0.622 * INCH_m, rel=1e-4)
    assert fitting("elbow").low < fitting("elbow").value < fitting("elbow").high
    assert roughness("Steel").provenance == "memory"
    for wrong in (
        lambda: size_named("1/2 in schedul 40"),
        lambda: fitting("elbo"),
        lambda: roughness("steal"),
    ):
        with pytest.raises(UserError, match="did you mean"):
            wrong()


def test_a_table_of_ones_own_goes_before(tmp_path: Path) -> None:
    own = tmp_path / "own.csv"
    own.write_text("name,value,low,high\nlaminar end,2300,2300,2300\n", encoding="utf-8")
    flow = 2100 * math.pi * HOSE.diameter_m * 1.1e-5 / 4
    assert pipe_flow(HOSE, flow, 103e3, 0.74, 1.1e-5).regime == TRANSITION
    assert pipe_flow(HOSE, flow, 103e3, 0.74, 1.1e-5, own).regime == LAMINAR


def test_the_formulas_bracket_darcy_on_a_half_inch_pipe() -> None:
    line = Line(length_m=10 * FOOT_m, diameter_m=0.622 * INCH_m, relative_density=0.6, viscosity_Pa_s=1.2e-5)
    flows = low_pressure_flows(line, 0.5 * INCH_OF_WATER_Pa, 1744.0).flows_m3_per_s
    pipe = Pipe(length_m=10 * FOOT_m, diameter_m=0.622 * INCH_m, roughness_m=4.6e-5)
    darcy = float(capacity_kg_per_s(pipe, 0.5 * INCH_OF_WATER_Pa, 102e3, 0.734, 1.1e-5)) / 0.734
    assert flows["Spitzglass"] < darcy < flows["Mueller"]
    assert darcy == pytest.approx(flows["code"], rel=0.015)
    assert flows["code"] / CUBIC_FOOT_PER_HOUR_m3_per_s == pytest.approx(173.0, abs=0.1)
    with pytest.raises(UserError, match="high-pressure"):
        low_pressure_flows(line, 100.0, 11e3)


def test_valves_by_kv_cv_and_bore_are_the_same_valve() -> None:
    by_kv = valve_of_Kv(0.865)
    assert valve_of_Cv(1.0).effective_area_m2 == pytest.approx(by_kv.effective_area_m2, rel=1e-12)
    bore = math.sqrt(4 / math.pi * by_kv.effective_area_m2 / 0.7)
    assert valve_of_bore(bore).effective_area_m2 == pytest.approx(by_kv.effective_area_m2, rel=1e-12)
    water = 0.865 / 3600 * 1000  # kg/s of water: a Kv of 0.865 m3/h loses 1 bar, far below 1e9 Pa absolute
    assert float(valve_drop_Pa(water, by_kv.effective_area_m2, 1000.0, 1e9)) == pytest.approx(1e5, rel=1e-4)
    with pytest.raises(UserError, match="opening"):
        valve_of_Kv(0.0).check()


@few
@given(st.floats(-5.0, 5.0), st.floats(0.2, 9.0))
def test_a_root_is_found_or_the_bound_hit_is_said(centre: float, power: float) -> None:
    def rising(x: np.ndarray) -> np.ndarray:
        return np.sign(x - centre) * np.abs(x - centre) ** power

    found = rising_root(rising, np.array([-3.0]), np.array([3.0]))
    expected = min(max(centre, -3.0), 3.0)
    assert float(found.value[0]) == pytest.approx(expected, abs=1e-6)
    assert bool(found.at_low[0]) == (centre < -3.0)
    assert bool(found.at_high[0]) == (centre > 3.0)


@pytest.mark.parametrize(
    "function",
    [
        pytest.param(lambda gap, end: gap ** (2 * np.rint(4.0 * end) + 1), id="powers up to the ninth"),
        pytest.param(
            lambda gap, end: np.expm1(gap * (16.0 * end - 8.0)) * np.sign(end - 0.5), id="decades up to 21"
        ),
    ],
)
def test_a_short_step_on_a_flat_or_steep_function_is_no_root(
    function: Callable[[np.ndarray, np.ndarray], np.ndarray],
) -> None:
    """Ended by a short step alone, 200 of these 4000 searches are up to 2.3 of a bracket of 6 away from their root."""
    chance = np.random.default_rng(7)
    centre, end = chance.uniform(-2.9, 2.9, 4000), chance.uniform(0.0, 1.0, 4000)
    found = rising_root(lambda x: function(x - centre, end), np.full(4000, -3.0), 3.0)
    assert np.abs(found.value - centre).max() < 1e-8


def test_a_root_met_to_the_last_digit_ends_the_search() -> None:
    """The proposal then falls on an end of the bracket; halving from the far side would take ten steps more."""
    asked = []

    def rising(x: np.ndarray) -> np.ndarray:
        asked.append(x)
        return 5.67e-13 * x**4 + x / 5e3 - np.linspace(0.5, 3.0, 17)

    found = rising_root(rising, np.full(17, 288.15), 3000.0, 1e-9)
    assert len(asked) <= 22
    assert np.abs(rising(found.value)).max() < 1e-12


@settings(max_examples=30)
@given(centre=st.floats(0.5, 9.5), power=st.integers(1, 5), off=st.floats(0.8, 1.25))
def test_newton_in_a_bracket_finds_the_root_with_a_rough_slope(centre: float, power: int, off: float) -> None:
    roots = np.array([centre, 0.5 * centre])
    found = rising_root_by_slope(
        lambda x: x**power - roots**power, lambda x: off * power * x ** (power - 1) + 1e-12, 0.0, 10.0
    )
    assert found.value == pytest.approx(roots, abs=1e-6)
    assert not found.at_low.any()
    assert not found.at_high.any()


def test_newton_in_a_bracket_says_which_bound_was_hit() -> None:
    found = rising_root_by_slope(
        lambda x: x - np.array([-1.0, 5.0, 11.0]), lambda x: np.ones_like(x), 0.0, 10.0
    )
    assert found.at_low.tolist() == [True, False, False]
    assert found.at_high.tolist() == [False, False, True]
    assert found.value == pytest.approx([0.0, 5.0, 10.0], abs=1e-8)
