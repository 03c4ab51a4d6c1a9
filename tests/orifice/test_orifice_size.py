"""Bores for a heat input, the drills near them, and the rule of conversion."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.gas import load
from burnerlab.orifice import (
    Conditions,
    choices,
    choices_near,
    diameter_ratio,
    drill_list,
    flow,
    law,
    low_pressure_constant,
    low_pressure_volume_flow_m3_per_s,
    nearest_choice,
    no_drill_meets,
    size,
)
from burnerlab.tables.problem import UserError

PROPANE, NATURAL, BUTANE = load("propane"), load("natural-gas-typical"), load("butane-n")
DOMESTIC = Conditions(gauge_pressure_Pa=2740.0)
bores = st.floats(3e-4, 6e-3)
wobbes = st.floats(1e7, 1e8)


@given(
    bores, st.floats(100.0, 3e5), st.sampled_from(["gross", "net"]), st.floats(0.5, 1.0), st.integers(1, 9)
)
@settings(max_examples=40)
def test_sizing_gives_back_the_bore(d: float, p: float, basis: str, k: float, n: int) -> None:
    """Relation 8, subcritical and choked."""
    supply = Conditions(gauge_pressure_Pa=p)
    heat = flow(PROPANE, d, supply, k, n).heat_input_W(basis)  # type: ignore[arg-type]
    sized = size(PROPANE, heat, basis, supply, k, n)  # type: ignore[arg-type]
    assert sized.diameter_m == pytest.approx(d, rel=1e-12)
    assert sized.flow.heat_input_W(basis) == pytest.approx(heat, rel=1e-12)  # type: ignore[arg-type]


@given(st.floats(6e-4, 1.4e-3))
@settings(max_examples=25)
def test_sizing_with_a_coefficient_that_depends_on_the_bore(d: float) -> None:
    channel = law("drilled channel", 3e-3)
    heat = flow(PROPANE, d, DOMESTIC, channel).heat_input_gross_W
    assert size(PROPANE, heat, "gross", DOMESTIC, channel).diameter_m == pytest.approx(d, rel=1e-12)


def test_a_bore_outside_the_range_of_its_coefficient_is_withheld() -> None:
    """Bad input 43: 3 mm long and far shorter than twice the bore."""
    heat = flow(PROPANE, 3e-3, DOMESTIC, 0.8).heat_input_gross_W
    with pytest.raises(
        UserError, match=r"length over bore .* is outside the range 2 to 10 of .*Lichtarowicz"
    ):
        size(PROPANE, heat, "gross", DOMESTIC, law("drilled channel", 3e-3))
    bold = size(PROPANE, heat, "gross", DOMESTIC, law("drilled channel", 3e-3, extrapolate=True))
    assert bold.flow.heat_input_gross_W == pytest.approx(heat, rel=1e-12)


@pytest.mark.parametrize("heat", [0.0, -1.0, float("nan"), float("inf")])
def test_a_heat_input_must_be_one(heat: float) -> None:
    with pytest.raises(UserError, match="above 0"):
        size(PROPANE, heat, "gross", DOMESTIC)


def test_a_rating_needs_its_basis() -> None:
    with pytest.raises(UserError, match="gross or net"):
        size(PROPANE, 3500.0, "", DOMESTIC)  # type: ignore[arg-type]
    with pytest.raises(UserError, match=r"0\.5 to 1 "):
        size(PROPANE, 3500.0, "gross", DOMESTIC, 1.4)


def test_choices_stand_on_both_sides_and_say_what_they_give() -> None:
    heat = 3500.0
    sized = size(PROPANE, heat, "gross", DOMESTIC)
    below, above = choices(PROPANE, heat, "gross", DOMESTIC, 0.9, drill_list("number"))
    assert below.diameter_m < sized.diameter_m < above.diameter_m
    assert below.deviation < 0 < above.deviation
    for choice in (below, above):
        stream = flow(PROPANE, choice.diameter_m, DOMESTIC, 0.9)
        assert choice.heat_input_gross_W == pytest.approx(stream.heat_input_gross_W, rel=1e-14)
        assert choice.deviation == pytest.approx(stream.heat_input_gross_W / heat - 1, rel=1e-9)
        assert choice.drill_tolerance_low_gross_W < choice.heat_input_gross_W
        assert choice.drill_tolerance_low_gross_W / choice.heat_input_gross_W == pytest.approx(
            (choice.tolerance.low_m / choice.diameter_m) ** 2, rel=1e-12
        )
    assert (
        nearest_choice(sized, (below, above)).drill
        == min((below, above), key=lambda choice: abs(choice.diameter_m - sized.diameter_m)).drill
    )


def test_deviation_is_counted_on_the_basis_asked_for() -> None:
    net = choices(PROPANE, 3200.0, "net", DOMESTIC)[0]
    assert net.deviation == pytest.approx(net.heat_input_net_W / 3200.0 - 1.0, rel=1e-9)


def test_a_drill_that_fits_stands_alone() -> None:
    d = {drill.name: drill.diameter_m for drill in drill_list("number")}["#54"]
    sized = size(PROPANE, flow(PROPANE, d, DOMESTIC).heat_input_gross_W, "gross", DOMESTIC)
    exact = min(choices_near(sized), key=lambda choice: abs(choice.deviation))
    assert exact.drill == "#54"
    assert abs(exact.deviation) < 1e-12


def test_more_choices_on_each_side() -> None:
    near = choices_near(size(PROPANE, 3500.0, "gross", DOMESTIC), each_side=3)
    assert len(near) == 6
    assert [choice.diameter_m for choice in near] == sorted(choice.diameter_m for choice in near)


def test_the_step_no_drill_can_meet_is_said() -> None:
    """Between #56 and #55 the area grows by a quarter: the middle is out of reach of either."""
    names = {drill.name: drill for drill in drill_list("number")}
    middle = 0.5 * (names["#56"].diameter_m + names["#55"].diameter_m)
    sized = size(PROPANE, flow(PROPANE, middle, DOMESTIC).heat_input_gross_W, "gross", DOMESTIC)
    text = no_drill_meets(sized, drill_list("number"))
    assert text.startswith(
        "between #56 and #55 the area steps by 25.1 %: no number drill comes within 5 % of"
    )
    assert "1.25 mm of the metric list" in text
    assert no_drill_meets(sized, drill_list("number", "metric")) == ""
    assert no_drill_meets(sized, drill_list("number"), tolerance=0.2) == ""


def test_beyond_the_list_is_said() -> None:
    tiny = size(PROPANE, flow(PROPANE, 2.0e-4, DOMESTIC).heat_input_gross_W, "gross", DOMESTIC)
    huge = size(PROPANE, flow(PROPANE, 9.0e-3, DOMESTIC).heat_input_gross_W, "gross", DOMESTIC)
    assert "smaller than the smallest drill of the list, #80" in no_drill_meets(tiny)
    text = no_drill_meets(huge)
    assert "larger than the largest drill of the list, #1" in text
    assert "9.00 mm of the metric list" in text
    assert len(choices_near(huge)) == 1


def test_a_list_of_ones_own(tmp_path: Path) -> None:
    listed = drill_list(own=["1.00 mm", "#54", "1/16 in"])
    assert [drill.name for drill in listed] == ["1.00 mm", "#54", "1/16 in"]
    path = tmp_path / "bench.csv"
    path.write_text("# drills in the drawer\nsize,bin\n#54,A3\n\n1.00 mm,A4\n", encoding="utf-8")
    assert [drill.name for drill in drill_list(own=path)] == ["1.00 mm", "#54"]
    near = choices(PROPANE, 5000.0, "gross", DOMESTIC, 0.9, listed)
    assert [choice.drill for choice in near] == ["1.00 mm", "#54"]
    assert "no drill of the list" in no_drill_meets(size(PROPANE, 5000.0, "gross", DOMESTIC), listed)


@pytest.mark.parametrize("sizes", [["#54", "54"], ["banana"], []])
def test_a_list_that_cannot_be_read_is_refused(sizes: list[str]) -> None:
    with pytest.raises(UserError):
        drill_list(own=sizes)


def test_sizing_chain_of_gases_returns() -> None:
    """Relations 9 to 11 and 13 with the compressible engine: nothing is rounded on the way."""
    supplies = {"a": (NATURAL, 1743.0), "b": (PROPANE, 2740.0), "c": (BUTANE, 6.9e4)}
    heat = 4000.0

    def turned(diameter: float, frm: str, to: str) -> float:
        (gas, p), (other, q) = supplies[frm], supplies[to]
        kept = flow(gas, diameter, Conditions(gauge_pressure_Pa=p)).heat_input_gross_W
        return size(other, kept, "gross", Conditions(gauge_pressure_Pa=q)).diameter_m

    first = size(NATURAL, heat, "gross", Conditions(gauge_pressure_Pa=1743.0)).diameter_m
    assert turned(first, "a", "a") == pytest.approx(first, rel=1e-13)
    assert turned(turned(first, "a", "b"), "b", "a") == pytest.approx(first, rel=1e-10)
    assert turned(turned(first, "a", "b"), "b", "c") == pytest.approx(turned(first, "a", "c"), rel=1e-10)
    assert turned(first, "a", "b") / first == pytest.approx(first / turned(first, "b", "a"), rel=1e-10)


@given(wobbes, wobbes, wobbes, pressures := st.floats(500.0, 2e4), pressures, pressures)
@settings(max_examples=60)
def test_conversion_rule_composes(a: float, b: float, c: float, p: float, q: float, r: float) -> None:
    """Relations 9 to 13: A to A, there and back, by way of a third gas, swapped; d2/d1 = sqrt(W1/W2)(p1/p2)^(1/4)."""
    there = float(diameter_ratio(a, b, p, q))
    assert float(diameter_ratio(a, a, p, p)) == 1.0
    assert there * float(diameter_ratio(b, a, q, p)) == pytest.approx(1.0, rel=1e-12)
    assert there * float(diameter_ratio(b, c, q, r)) == pytest.approx(
        float(diameter_ratio(a, c, p, r)), rel=1e-12
    )
    assert there == pytest.approx((a / b) ** 0.5 * (p / q) ** 0.25, rel=1e-12)


@given(st.floats(0.4, 2.5), st.floats(0.4, 2.5), st.floats(100.0, 5000.0), bores)
@settings(max_examples=40)
def test_gases_of_one_wobbe_index_give_one_heat_input(s: float, t: float, p: float, d: float) -> None:
    """Relation 1, and 3 with it, on the incompressible equation."""
    constant, wobbe = low_pressure_constant(), 50e6
    heat = [
        float(low_pressure_volume_flow_m3_per_s(d, p, density, 0.9, constant)) * wobbe * density**0.5
        for density in (s, t)
    ]
    assert heat[0] == pytest.approx(heat[1], rel=1e-12)
    fourfold = float(low_pressure_volume_flow_m3_per_s(d, 4 * p, s, 0.9, constant)) * wobbe * s**0.5
    assert fourfold == pytest.approx(2 * heat[0], rel=1e-12)


def test_conversion_rule_is_near_the_engine_at_domestic_pressure() -> None:
    from burnerlab.gas import properties
    from burnerlab.quantity import PRESETS

    state = PRESETS["ISO_15_15"]
    wobbe = [properties(gas, state).gross_wobbe_J_per_m3 for gas in (NATURAL, PROPANE)]
    rule = float(diameter_ratio(*wobbe, 1743.0, 2740.0))
    bores = [
        size(gas, 4000.0, "gross", Conditions(gauge_pressure_Pa=p)).diameter_m
        for gas, p in ((NATURAL, 1743.0), (PROPANE, 2740.0))
    ]
    assert bores[1] / bores[0] == pytest.approx(rule, rel=0.004)
