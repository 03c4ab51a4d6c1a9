"""A regulator from no flow to wide open."""

from __future__ import annotations

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
    minimum_inlet_Pa=34e3,
)


def test_set_point_droop_and_lock_up() -> None:
    assert spring_pressure_Pa(STAND, np.array([0.0, 1e-9, 1e-3])).tolist() == pytest.approx(
        [3240.0, 2740.0, 2490.0]
    )
    assert STAND.lock_up_pressure_Pa == 3240.0


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
    assert first <= min(inlet, STAND.set_point_Pa)


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


def test_an_unknown_kind_is_met_with_the_nearest() -> None:
    with pytest.raises(UserError, match="did you mean lp second stage"):
        typical("LP secnd stage")
