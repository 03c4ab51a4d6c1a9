"""Several readings at once: what must hold for every set of them."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.appliance import ConversionTarget, changed, demonstration
from burnerlab.bench import Explanation, Reading, explain
from burnerlab.bench.faults.causes import LOW_STOP
from burnerlab.bench.faults.scenarios import figure_layout, hypotheses, posterior
from burnerlab.bench.unit import unit_under_test
from burnerlab.gas import load
from burnerlab.quantity import UserError

CART = demonstration()
LP = changed(CART, ConversionTarget(gas=load("propane"), gauge_pressure_Pa=2740.0))
LEFT, RING = "griddle tube left", "stock-pot ring"
MIXED = (
    Reading(ratio=0.86, burner=LEFT, pressure_ratio=0.98),
    Reading(ratio=0.95, burner=LEFT, is_low_rate=True),
    Reading(ratio=1.01, burner=RING),
    Reading(at_rest="still"),
)


def shares(found: Explanation) -> dict[str, float]:
    return {one.cause: one.probability for one in found.causes}


def test_the_order_of_readings_changes_nothing() -> None:
    first = shares(explain(CART, MIXED))
    for order in list(permutations(MIXED))[::5]:
        assert shares(explain(CART, order)) == pytest.approx(first, abs=1e-9)


@settings(max_examples=15)
@given(st.floats(0.5, 1.5), st.floats(0.7, 1.3), st.floats(0.005, 0.05))
def test_a_sharper_pressure_never_widens_what_a_figure_leaves_open(
    ratio: float, pressure: float, u: float
) -> None:
    """The spread of figures that are held against a possibility: a sharper instrument, or a pressure at all."""
    blunt = Reading(ratio=ratio, pressure_ratio=pressure, pressure_uncertainty=u)
    sharp = replace(blunt, pressure_uncertainty=0.5 * u)
    bench = unit_under_test(CART, LEFT, readings=[blunt])

    def left(reading: Reading) -> float:
        """Standard deviation of the heat input that is left when the other figures are known."""
        return float(np.linalg.inv(figure_layout(bench, [reading]).covariance)[0, 0]) ** -0.5

    assert left(sharp) < left(blunt) < left(replace(blunt, pressure_ratio=None))


@pytest.mark.parametrize("ratio", [0.5, 0.7, 1.3, 1.8])
def test_a_low_rate_that_is_off_beside_a_full_rate_that_is_not_names_the_low_rate_stop(ratio: float) -> None:
    """Full and low rate have orifice, gas and pressure in common, and the stop of the valve has only the low one."""
    full, low = Reading(ratio=1.0, burner=LEFT), Reading(ratio=ratio, burner=LEFT, is_low_rate=True)
    together = explain(CART, (full, low))
    assert together.causes[0].cause == LOW_STOP
    assert shares(together)[LOW_STOP] > 0.9
    alone = explain(CART, low)
    assert "full rate" in [one.measurement for one in (*alone.measurements, *alone.after_release)]
    assert LOW_STOP not in shares(explain(CART, full))
    assert all(stop.id not in ("wrong-gas", "leak-suspected") for stop in together.stops)


@pytest.mark.parametrize("low", [0.6, 0.75, 0.85])
def test_a_pressure_read_off_its_nominal_names_the_pressure(low: float) -> None:
    found = explain(CART, Reading(ratio=low**0.5, pressure_ratio=low), RING)
    assert found.groups[0].group == "regulator"
    assert found.groups[0].probability > 0.9
    at_nominal = explain(CART, Reading(ratio=low**0.5, pressure_ratio=1.0), RING)
    assert all(one.probability < 0.05 for one in at_nominal.groups if one.group == "regulator")


def test_two_burners_low_alike_are_no_orifice() -> None:
    one = explain(CART, Reading(ratio=0.85, burner=LEFT))
    two = explain(CART, [Reading(ratio=0.85, burner=LEFT), Reading(ratio=0.85, burner=RING)])
    of_one, of_two = ({one.group: one.probability for one in found.groups} for found in (one, two))
    assert of_two["orifices"] < 0.1 * of_one["orifices"]
    only = explain(CART, [Reading(ratio=0.85, burner=LEFT), Reading(ratio=1.0, burner=RING)])
    assert {g.group: g.probability for g in only.groups}["orifices"] > 1.5 * of_one["orifices"]
    assert LEFT in only.causes[0].words


def test_a_low_rate_that_is_right_speaks_for_valve_or_hole() -> None:
    """Valve not fully open: full low, low rate right. Pressure: both low alike."""
    same = explain(CART, [Reading(ratio=0.7, burner=LEFT), Reading(ratio=0.7, burner=LEFT, is_low_rate=True)])
    right = explain(
        CART, [Reading(ratio=0.7, burner=LEFT), Reading(ratio=1.0, burner=LEFT, is_low_rate=True)]
    )
    assert shares(right)["burner not fully open"] > 5.0 * shares(same)["burner not fully open"]


def test_a_leak_weighs_more_at_the_low_rate() -> None:
    load_W = 0.15  # of the full input
    found = explain(
        CART,
        [
            Reading(ratio=1.0 + load_W, burner=RING),
            Reading(ratio=1.0 + load_W / 0.2, burner=RING, is_low_rate=True),
        ],
    )
    assert found.groups[0].group == "leak"
    assert found.groups[0].probability > 0.9


def test_meter_and_scale_together_tell_the_meter_from_the_burner() -> None:
    """Half by the meter and right by the scale: the dial; half by both: the burner."""
    dial = explain(LP, [Reading(ratio=0.5, method="meter"), Reading(ratio=1.0, method="scale")], RING)
    assert dial.causes[0].cause == "dial misread"
    assert dial.groups[0].probability > 0.9
    both = explain(LP, [Reading(ratio=0.5, method="meter"), Reading(ratio=0.5, method="scale")], RING)
    assert {one.group: one.probability for one in both.groups}["meter"] < 0.01


@pytest.mark.parametrize("appliance", [CART, LP])
def test_a_regulator_that_droops_shows_with_every_burner_on(appliance: object) -> None:
    alone, every = (
        Reading(ratio=1.0, burner=LEFT, pressure_ratio=1.0),
        Reading(ratio=0.85, burner="", pressure_ratio=0.72),
    )
    found = explain(appliance, [alone, every])  # type: ignore[arg-type]
    assert found.groups[0].group == "regulator"
    assert found.groups[0].probability > 0.95
    assert any(word in found.causes[0].words for word in ("droops", "starved", "partly closed"))


def test_the_same_reading_twice_narrows_by_less_than_another_instrument() -> None:
    h = hypotheses(unit_under_test(LP, RING, readings=[Reading(ratio=0.8)] * 2))
    once = figure_layout(h.unit, [Reading(ratio=0.8)]).covariance
    both = figure_layout(h.unit, [Reading(ratio=0.8)] * 2).covariance
    assert both[0, 0] == pytest.approx(once[0, 0])
    assert 0.0 < both[0, 1] < both[0, 0]
    log_weights, _ = posterior(h, [Reading(ratio=0.8)] * 2)
    assert np.isfinite(log_weights).all()


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        ([], "number of readings"),
        ([Reading()], "nothing was read"),
        ([Reading(ratio=1.0, burner="tile broiler", is_low_rate=True)], "low rate"),
        ([Reading(ratio=1.0, burner="stockpot")], "is not a burner"),
        ([Reading(ratio=1.0, pressure_ratio=-1.0), Reading(ratio=0.0)], "measured over expected"),
    ],
)
def test_readings_that_cannot_be_are_refused(readings: list[Reading], words: str) -> None:
    with pytest.raises(UserError, match=words):
        explain(CART, readings)
