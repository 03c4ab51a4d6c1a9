"""A regulator from no flow to wide open."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab import tables
from burnerlab.supply.regulator import (
    Regulator,
    outlet_pressure_Pa,
    spring_pressure_Pa,
    typical,
    typical_names,
    wide_open_pressure_Pa,
)
from burnerlab.tables.problem import UserError

STAND = Regulator(
    set_point_Pa=2740.0,
    droop_Pa=250.0,
    lock_up_Pa=500.0,
    rated_flow_kg_per_s=1e-3,
    flow_limit_kg_per_s=1.2e-3,
    lock_up_zone=0.05,
    stated_inlet_Pa=70e3,
    minimum_inlet_Pa=34e3,
)


def test_set_point_droop_and_lock_up() -> None:
    """Lock-up at no flow, the droop line from the end of the lock-up zone on."""
    found = spring_pressure_Pa(STAND, np.array([0.0, 5e-5, 5e-4, 1e-3]))
    assert found.tolist() == pytest.approx([3240.0, 2727.5, 2615.0, 2490.0])
    assert STAND.lock_up_pressure_Pa == 3240.0


def test_the_outlet_reaches_lock_up_without_a_step() -> None:
    flows = np.linspace(0.0, 2e-4, 20001)
    found = spring_pressure_Pa(STAND, flows)
    assert np.all(np.diff(found) < 0.0)
    assert np.max(-np.diff(found)) < 0.25  # Pa in 1e-8 kg/s: 2 L/(m_z) of the parabola, 0.2
    slopes = np.diff(found) / np.diff(flows)
    assert np.max(np.abs(np.diff(slopes))) < 1e-3 * np.max(np.abs(slopes))  # nor a kink


regulators = st.builds(
    Regulator,
    set_point_Pa=st.floats(500.0, 2e5),
    droop_Pa=st.floats(0.0, 400.0),
    lock_up_Pa=st.floats(0.0, 5e3),
    rated_flow_kg_per_s=st.floats(1e-5, 1e-2),
    flow_limit_kg_per_s=st.floats(1e-2, 1e-1),
    lock_up_zone=st.one_of(st.just(0.0), st.floats(1e-3, 0.3)),
    inlet_effect=st.floats(-0.05, 0.05),
    stated_inlet_Pa=st.floats(2e5, 1e6),
)


@settings(max_examples=60)
@given(regulators, st.floats(0.0, 2.0), st.floats(0.0, 2.0), st.floats(5e3, 2e6))
def test_no_flow_gives_the_highest_outlet(
    regulator: Regulator, share: float, more: float, inlet: float
) -> None:
    flows = np.array([0.0, share, share + more]) * regulator.rated_flow_kg_per_s
    none, first, second = outlet_pressure_Pa(regulator, flows, inlet)
    assert none >= first - 1e-9
    assert first >= second - 1e-9
    assert none <= inlet + 1e-6


@settings(max_examples=60)
@given(regulators, st.floats(0.0, 1.0), st.floats(1.0, 3.0))
def test_the_inlet_moves_the_outlet_by_the_sign_of_its_effect(
    regulator: Regulator, share: float, factor: float
) -> None:
    """Linear in the inlet, nothing at the inlet that the set point is stated at."""
    flow = share * regulator.rated_flow_kg_per_s
    stated = regulator.stated_inlet_Pa
    assert stated is not None
    at, above = (float(spring_pressure_Pa(regulator, flow, inlet)) for inlet in (stated, factor * stated))
    assert at == float(spring_pressure_Pa(regulator, flow))
    assert above == pytest.approx(max(at + regulator.inlet_effect * (factor - 1.0) * stated, 0.0), abs=1e-6)


def test_a_wide_open_valve_passes_more_from_a_higher_inlet() -> None:
    """Mass flow of an opening by p1^2 - p2^2: as much more as the inlet's square has grown."""
    for inlet in (50e3, 70e3, 140e3):
        flow = 1.2e-3 * np.sqrt(
            ((inlet + 101325.0) ** 2 - 103765.0**2)
            / ((70e3 + 101325.0) ** 2 - (float(spring_pressure_Pa(STAND, 1.2e-3)) + 101325.0) ** 2)
        )
        assert float(wide_open_pressure_Pa(STAND, flow, inlet, 101325.0)) == pytest.approx(2440.0, abs=1e-3)


def test_the_wide_open_valve_takes_over_at_the_limit_without_a_step() -> None:
    inlet = 70e3
    below, above = outlet_pressure_Pa(STAND, np.array([1.2e-3 * (1 - 1e-9), 1.2e-3 * (1 + 1e-9)]), inlet)
    assert below == pytest.approx(above, abs=1e-3)
    assert (
        float(outlet_pressure_Pa(STAND, 1.25e-3, inlet)) < float(spring_pressure_Pa(STAND, 1.25e-3)) - 1000.0
    )


@settings(max_examples=40)
@given(st.floats(1e-6, 3e-3), st.floats(1.0, 2.0), st.floats(5e3, 5e5))
def test_more_flow_never_raises_the_outlet(flow: float, factor: float, inlet: float) -> None:
    first, second = outlet_pressure_Pa(STAND, np.array([flow, flow * factor]), inlet)
    assert second <= first + 1e-9
    assert first <= min(inlet, STAND.lock_up_pressure_Pa)


def test_an_inlet_below_the_set_point_is_all_there_is() -> None:
    endless = Regulator(set_point_Pa=2740.0)
    assert float(outlet_pressure_Pa(endless, 1e-3, 2000.0)) == pytest.approx(2000.0)
    assert float(wide_open_pressure_Pa(endless, 1e-3, 2000.0, 101325.0)) == pytest.approx(2000.0)


def test_a_regulator_that_is_none_is_refused_with_every_problem() -> None:
    wrong = Regulator(set_point_Pa=-1.0, droop_Pa=5.0, lock_up_Pa=-1.0, rated_flow_kg_per_s=0.0)
    with pytest.raises(UserError) as caught:
        wrong.check()
    assert len(caught.value.problems) == 4
    STAND.check()


@pytest.mark.parametrize("name", typical_names())
def test_typical_regulators_are_complete_with_spread_and_source(name: str) -> None:
    found = typical(name)
    for figure in (found.set_point_Pa, found.droop, found.lock_up, found.minimum_inlet_Pa):
        assert figure.low <= figure.value <= figure.high
        assert figure.source in tables.sources()
    assert found.minimum_inlet_Pa.value > found.set_point_Pa.value
    effect = found.inlet_effect
    assert effect is not None
    assert effect.low <= effect.value <= effect.high
    assert -0.1 < effect.low
    assert effect.high < 0.1


def test_a_table_of_regulators_made_for_0_1_0_has_no_inlet_effect(tmp_path: Path) -> None:
    own = tmp_path / "regulators.csv"
    rows = (
        "set point,2740,2240,3487\ndroop,0.1,0,0.2\nlock up,0.2,0.05,0.5\nminimum inlet,34474,13790,68948\n"
    )
    lines = "".join(f"stall,{row}\n" for row in rows.splitlines())
    own.write_text(f"regulator,quantity,value,low,high\n{lines}", encoding="utf-8")
    assert typical("stall", own).inlet_effect is None


def test_an_unknown_kind_is_met_with_the_nearest() -> None:
    with pytest.raises(UserError, match="did you mean lp second stage"):
        typical("LP secnd stage")
