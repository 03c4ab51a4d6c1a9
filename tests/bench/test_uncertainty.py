"""Uncertainty budgets and decisions: what must hold for every measurement."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.appliance import read_tolerance
from burnerlab.bench import analyse_flue, flue_uncertainty, instruments
from burnerlab.bench.decision_rule import Rating, compare, decision_rule, implausible
from burnerlab.bench.reading.flue import FlueReading, air_free_by_oxygen
from burnerlab.bench.uncertainty import (
    Quantity,
    budget,
    coverage_factor,
    draw,
    last_digit,
    monte_carlo,
    repeatability,
)
from burnerlab.gas import load
from burnerlab.quantity import UserError

FIVE = read_tolerance("5 %")


def powers(x: dict[str, float]) -> float:
    """A product of powers, the form of every heat input measured here."""
    return x["V"] / x["t"] * x["p"] ** 0.5 * x["H"] / x["T"]


def quantities(k: float = 1.0, shape: str = "normal") -> list[Quantity]:
    given = {"V": (2.0, 0.01), "t": (18.0, 0.15), "p": (1743.0, 20.0), "H": (38.0, 0.3), "T": (288.0, 1.0)}
    return [
        Quantity(name=name, words="", estimate=value, standard_uncertainty=k * u, unit="", shape=shape)
        for name, (value, u) in given.items()
    ]


@settings(max_examples=25)
@given(st.floats(0.05, 1.0))
def test_all_uncertainties_scaled_scale_the_result(k: float) -> None:
    one, scaled = budget(powers, quantities(), "W"), budget(powers, quantities(k), "W")
    assert scaled.standard_uncertainty == pytest.approx(k * one.standard_uncertainty, rel=0.01)


def test_no_uncertainty_in_none_out() -> None:
    found = budget(powers, quantities(0.0), "W")
    assert (found.standard_uncertainty, found.low, found.high) == (0.0, found.value, found.value)


def test_shares_add_up_and_are_those_of_the_powers() -> None:
    found = budget(powers, quantities(), "W")
    assert sum(one.variance_fraction for one in found.contributions) == pytest.approx(1.0)
    expected = {"V": 0.01 / 2, "t": 0.15 / 18, "p": 0.5 * 20 / 1743, "H": 0.3 / 38, "T": 1 / 288}
    for one in found.contributions:
        assert one.contribution / found.value == pytest.approx(expected[one.quantity.name], rel=2e-3)
    assert found.relative == pytest.approx(math.sqrt(sum(u * u for u in expected.values())), rel=1e-3)


@pytest.mark.parametrize("shape", ["normal", "triangular"])
def test_linear_budget_agrees_with_monte_carlo_on_a_product_of_powers(shape: str) -> None:
    linear = budget(powers, quantities(0.3, shape), "W")
    drawn = monte_carlo(powers, quantities(0.3, shape), linear, draws=400_000)
    assert drawn.standard_deviation == pytest.approx(linear.standard_uncertainty, rel=0.01)
    assert drawn.agrees, (drawn.low_difference, drawn.high_difference, drawn.tolerance)


def test_one_rectangle_does_not_agree_and_says_so() -> None:
    alone = [Quantity(name="x", words="", estimate=1.0, standard_uncertainty=0.1, unit="", shape="uniform")]
    linear = budget(lambda x: x["x"], alone, "-")
    drawn = monte_carlo(lambda x: x["x"], alone, linear)
    assert not drawn.agrees
    assert drawn.high == pytest.approx(1 + 0.95 * 0.1 * math.sqrt(3), rel=1e-3)  # 95 % of a rectangle


@pytest.mark.parametrize("shape", ["normal", "uniform", "triangular"])
def test_draws_have_the_deviation_they_were_asked_for(shape: str) -> None:
    q = Quantity(name="x", words="", estimate=5.0, standard_uncertainty=0.2, unit="", shape=shape)
    values = draw(q, 200_000, np.random.default_rng(0))
    assert (float(np.mean(values)), float(np.std(values))) == pytest.approx((5.0, 0.2), rel=0.01)


def test_one_reading_has_no_scatter() -> None:
    with pytest.raises(UserError, match="need n >= 2; Type B u required"):
        repeatability([18.0], "t", "", "s")
    assert repeatability([18.0, 18.2], "t", "", "s").degrees_of_freedom == 1.0


def test_few_readings_widen_the_interval() -> None:
    factors = [float(coverage_factor(nu)) for nu in (1.0, 2.0, 10.0, math.inf)]
    assert factors == sorted(factors, reverse=True)
    assert last_digit(0.0) == 0.0


def test_a_budget_at_the_edge_of_its_model_is_one_sided() -> None:
    """Oxygen read as nothing: the analyser's error can only go up."""
    found = flue_uncertainty(analyse_flue(load("propane"), FlueReading(oxygen=0.0, carbon_monoxide=1e-4)))
    assert found.air_free_CO is not None
    assert found.excess_air.standard_uncertainty > 0.0


def test_flue_uncertainty_is_that_of_the_air_free_formula() -> None:
    reading = FlueReading(oxygen=0.05, carbon_monoxide=87e-6)
    found = flue_uncertainty(analyse_flue(load("propane"), reading)).air_free_CO
    assert found is not None
    u_CO, u_O2 = 20e-6 / math.sqrt(3), 0.003 / math.sqrt(3)
    by_hand = found.value * math.hypot(u_CO / 87e-6, u_O2 / (0.209 - 0.05))
    assert found.value == pytest.approx(float(air_free_by_oxygen(87e-6, 0.05)))
    assert found.standard_uncertainty == pytest.approx(by_hand, rel=1e-3)


def rated(rule: str) -> Rating:
    return Rating(heat_input_W=10_000.0, basis="gross", tolerance=FIVE, rule=decision_rule(rule))


@pytest.mark.parametrize(
    ("value", "expanded", "rule", "verdict"),
    [
        (10_000.0, 300.0, "simple", "within"),
        (10_450.0, 300.0, "simple", "near"),
        (10_501.0, 300.0, "simple", "outside"),
        (10_100.0, 300.0, "guard", "within"),
        (10_201.0, 300.0, "guard", "near"),
        (9_499.0, 300.0, "guard", "outside"),
        (10_000.0, 501.0, "guard", "not evaluated"),
        (10_600.0, 501.0, "guard", "outside"),
    ],
)
def test_verdicts(value: float, expanded: float, rule: str, verdict: str) -> None:
    found = compare(value, expanded / 1.96, expanded, rated(rule))
    assert found.verdict == verdict
    assert ("beyond the band" in " ".join(found.notes)) == (
        abs(value - 10_000) <= 500 < abs(value - 10_000) + expanded
    )


@settings(max_examples=40)
@given(st.floats(9_000.0, 11_000.0), st.floats(10.0, 400.0))
def test_within_by_guard_band_is_nearly_all_inside(value: float, expanded: float) -> None:
    found = compare(value, expanded / 1.96, expanded, rated("guard"))
    if found.verdict == "within":
        assert found.probability_inside >= 0.9499  # 2.5 % beyond each limit at most
    simple = compare(value, expanded / 1.96, expanded, rated("simple"))
    assert (simple.verdict == "outside") == (found.verdict == "outside")


def test_a_reading_of_four_times_the_rating_is_doubted() -> None:
    rate = 45e3 * 1055.05585262 / 3600
    said = implausible(4 * rate, rate)
    assert said == (
        "measured 180 kBtu/h against a rating of 45.0 kBtu/h: check the volume of one revolution and the heating value"
    )
    assert implausible(1.5 * rate, rate) == ""
    assert "kW" in implausible(4 * rate, rate, unit="kW")


def test_unknown_rule_and_shape_are_refused(tmp_path: object) -> None:
    with pytest.raises(UserError, match="no rule of that name"):
        decision_rule("generous")
    from pathlib import Path

    own = Path(str(tmp_path)) / "own.csv"
    head = "name,half_width,unit,shape,words,source,place,provenance,note\n"
    own.write_text(
        head + "gas meter,0.005,relative,uniform,calibrated meter,own,certificate,measured here,\n"
    )
    assert instruments(own)["gas meter"].half_width == 0.005
    assert instruments(own)["watch"].half_width == instruments()["watch"].half_width
    own.write_text(head + "gas meter,0.005,relative,round,calibrated meter,own,certificate,measured here,\n")
    with pytest.raises(UserError, match="accepted: normal, uniform, triangular"):
        instruments(own)
    own.write_text(head + "gas meter,nan,relative,uniform,calibrated meter,own,certificate,measured here,\n")
    with pytest.raises(UserError, match="line 2: half_width"):
        instruments(own)
