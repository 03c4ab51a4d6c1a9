"""Burners of an appliance from a cold start: which way the hot side is known, and each limit where it bites."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from burnerlab.appliance import convert, demonstration
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.evaluation_result import WarmUp
from burnerlab.appliance.conversion.flame_stability import burner_stability, stabilities
from burnerlab.appliance.conversion.warm_up import body_of, box_around
from burnerlab.appliance.project.model import Appliance, Burner
from burnerlab.burner.burner import EvaluationOptions
from burnerlab.burner.tile_evaluation import Band
from burnerlab.report.sheet.blocks import Cell, Table
from burnerlab.report.sheet.sections import Sheet, build_sheet
from burnerlab.report.terminal import terminal_text
from burnerlab.tables.verdict import Verdict

CART = demonstration()
NAMES = [burner.name for burner in CART.burners if burner.kind != "tile"]


def _burner(name: str) -> Burner:
    return next(burner for burner in CART.burners if burner.name == name)


def _with(burner: Burner, appliance: Appliance = CART) -> Appliance:
    return replace(
        appliance, burners=tuple(burner if b.name == burner.name else b for b in appliance.burners)
    )


def _with_box(**changed: object) -> Appliance:
    assert CART.space is not None
    (box,) = CART.space.boxes
    return replace(CART, space=replace(CART.space, boxes=(replace(box, **changed),)))  # type: ignore[arg-type]


def _warm_up(appliance: Appliance, name: str, options: EvaluationOptions | None = None) -> WarmUp:
    (found,) = stabilities(appliance, names=[name], options=options)
    assert found.warm_up is not None
    return found.warm_up


@pytest.mark.parametrize("name", NAMES)
def test_a_hot_burner_draws_no_more_air_and_its_value_lies_in_the_band(name: str) -> None:
    warm = _warm_up(CART, name)
    assert warm.basis == "thermal model"
    cold, hot, low = (
        warm.cold_primary_aeration, warm.hot_primary_aeration, warm.hot_lowest_rate_primary_aeration
    )  # fmt: skip
    assert cold is not None
    assert hot is not None
    assert low is not None
    assert hot.value < cold.value
    for band in (cold, hot, low):
        assert band.low < band.value < band.high
    assert warm.hot_yellow_tip_margin is not None
    assert warm.cold_yellow_tip_margin is not None
    assert warm.hot_yellow_tip_margin.value < warm.cold_yellow_tip_margin.value


@pytest.mark.parametrize("name", NAMES)
def test_the_metal_warms_for_fifteen_minutes(name: str) -> None:
    warm = _warm_up(CART, name)
    heads = [
        warm.head_temperature_1_min_K, warm.head_temperature_5_min_K, warm.head_temperature_15_min_K
    ]  # fmt: skip
    values = [head.value for head in heads if head is not None]
    assert len(values) == 3
    assert values == sorted(values)
    assert warm.mixture_temperature_K is not None
    assert 288.15 < warm.mixture_temperature_K.value < values[-1]


def test_a_hotter_box_takes_more_air() -> None:
    airs = [
        _warm_up(_with_box(gas_temperature_K=gas + 273.15, wall_temperature_K=None), "griddle tube left")
        for gas in (50.0, 150.0, 250.0, 350.0)
    ]
    values = [one.hot_primary_aeration.value for one in airs if one.hot_primary_aeration is not None]
    assert len(values) == 4
    assert values == sorted(values, reverse=True)


def test_a_heavier_body_is_steady_later() -> None:
    tube = _burner("griddle tube left")
    assert tube.body is not None
    later = []
    for mass in (0.2, 0.4, 0.8, 1.6):
        warm = _warm_up(_with(replace(tube, body=replace(tube.body, mass_kg=mass))), tube.name)
        assert warm.steady_s is not None
        later.append(warm.steady_s)
    assert later == sorted(later)
    assert later[-1] > later[0]


def test_in_a_closed_box_of_unknown_gas_the_hot_side_is_not_evaluated_and_that_is_said_once() -> None:
    unknown = _with_box(gas_temperature_K=None, wall_temperature_K=None)
    for burner in ("griddle tube left", "rear burner"):
        warm = _warm_up(unknown, burner)
        assert warm.basis == "not evaluated"
        assert "gas_temperature" in warm.why_not
        assert warm.hot_primary_aeration is None
        assert warm.head_temperature_15_min_K is None
    assert _warm_up(unknown, "stock-pot ring").basis == "thermal model"  # stands beside the box
    done = evaluate_conversion(convert(unknown, "propane", 2740.0))
    assert len([one for one in done.not_evaluated if "lid is closed" in one.why]) == 1
    (text,) = {one.topic for one in done.not_evaluated if "lid is closed" in one.why}
    assert text == "hot burner"


def test_without_a_body_the_air_lies_between_85_and_100_percent_of_the_cold() -> None:
    bare = _with(replace(_burner("stock-pot ring"), body=None))
    warm = _warm_up(bare, "stock-pot ring")
    assert warm.basis == "no body in the file"
    cold, hot = warm.cold_primary_aeration, warm.hot_primary_aeration
    assert cold is not None
    assert hot is not None
    assert hot.value == pytest.approx(0.925 * cold.value)
    assert hot.low < 0.85 * cold.value < cold.value < hot.high
    assert warm.hot_light_back_margin is None  # no temperature of the ports
    (found,) = stabilities(bare, names=["stock-pot ring"])
    assert any("a hot box takes more" in note for note in found.notes)


def test_your_own_measured_ratio_goes_before_the_model(tmp_path: Path) -> None:
    warm = _warm_up(CART, "rear burner", EvaluationOptions(hot_ratio=0.63))
    assert warm.basis == "own measured ratio"
    cold, hot = warm.cold_primary_aeration, warm.hot_primary_aeration
    assert cold is not None
    assert hot is not None
    assert hot.value == pytest.approx(0.63 * cold.value)
    assert warm.head_temperature_15_min_K is not None  # the body still says how hot the ports are
    own = tmp_path / "own.csv"
    own.write_text("name,value,low,high,provenance\nhot factor,0.71,0.68,0.74,measured here\n")
    learned = _warm_up(replace(CART, tables=replace(CART.tables, burner_coefficients=own)), "rear burner")
    assert learned.basis == "own measured ratio"
    assert learned.hot_primary_aeration is not None
    assert learned.hot_primary_aeration.value == pytest.approx(0.71 * cold.value)


def test_no_ratio_of_another_burner_is_a_default() -> None:
    """0.63 was measured on one burner whose drawing was not seen (burner-hot-test)."""
    for name in NAMES:
        warm = _warm_up(CART, name)
        assert warm.primary_aeration_change is not None
        assert warm.primary_aeration_change > -0.2


def test_ports_of_a_stated_temperature_are_hot_on_the_hot_side_alone() -> None:
    ring = _burner("stock-pot ring")
    assert ring.ports is not None
    hot = _with(replace(ring, ports=replace(ring.ports, temperature_K=400.0)))
    warm, cold = _warm_up(hot, ring.name), _warm_up(CART, ring.name)
    assert warm.basis == "port temperature of the file"
    assert warm.cold_primary_aeration == cold.cold_primary_aeration
    assert warm.hot_primary_aeration is not None
    assert cold.cold_primary_aeration is not None
    assert warm.hot_primary_aeration.value < cold.cold_primary_aeration.value


def test_each_limit_is_judged_where_it_bites() -> None:
    """Lift cold at the highest pressure; yellow tips hot at the worse rate; light-back at the lowest rate."""
    supply = replace(CART.supply, high_gauge_pressure_Pa=2600.0)
    (found,) = stabilities(replace(CART, supply=supply), names=["stock-pot ring"])
    warm = found.warm_up
    assert warm is not None
    assert warm.lift_rate == "highest pressure"
    assert warm.lowest_rate == "turndown"
    state = found.at("highest pressure")
    assert state is not None
    assert warm.cold_lift_margin is not None
    assert warm.cold_lift_margin.value == pytest.approx(float(state.lift_margin))
    (yellow,) = [one for one in found.findings if one.topic == "yellow tipping"]
    rates = (warm.hot_yellow_tip_margin, warm.hot_lowest_rate_yellow_tip_margin)
    assert yellow.value == min(band.value for band in rates if band is not None)
    assert "15 min after a cold start" in yellow.text
    assert warm.nearest_margin is not None
    assert warm.nearest_margin.value == min(margin.band.value for margin in warm.margins)
    assert {margin.limit for margin in warm.margins} <= {"lift", "light-back", "yellow tips"}


def test_the_verdict_of_yellow_tips_is_that_of_the_hot_burner() -> None:
    """A burner just clear of its limit when cold is outside when a hot box takes its air."""
    tube = _burner("griddle tube left")
    assert tube.shutter is not None
    assert CART.space is not None
    (box,) = CART.space.boxes
    hot = _with_box(gas_temperature_K=box.gas_temperature_K, wall_temperature_K=None)
    propane = evaluate_conversion(convert(hot, "propane", 2740.0))
    flames = propane.evaluation.flames_of(tube.name) if propane.evaluation else None
    assert flames is not None
    warm = flames.warm_up("new")
    assert warm is not None
    (finding,) = [
        one
        for one in propane.findings
        if (one.burner, one.topic, one.which_gas) == (tube.name, "yellow tipping", "new")
    ]
    assert finding.verdict in (Verdict.NEAR, Verdict.OUTSIDE)
    assert finding.value is not None
    assert warm.cold_yellow_tip_margin is not None
    assert finding.value < warm.cold_yellow_tip_margin.value


def test_one_burner_alone_is_as_among_all() -> None:
    together = {found.name: found.warm_up for found in stabilities(CART)}
    for name in NAMES:
        alone = burner_stability(CART, _burner(name)).warm_up
        assert alone is not None
        assert together[name] is not None
        assert alone.hot_primary_aeration is not None
        assert together[name].hot_primary_aeration is not None  # type: ignore[union-attr]
        np.testing.assert_allclose(
            alone.hot_primary_aeration.value,
            together[name].hot_primary_aeration.value,
            rtol=1e-9,  # type: ignore[union-attr]
        )
    assert together["tile broiler"] is None


def test_the_body_is_that_of_the_drawing() -> None:
    tube, ring = (body_of(_burner(name)) for name in ("griddle tube left", "stock-pot ring"))
    assert tube is not None
    assert ring is not None
    # pi D L of the head; its length from its place, of a ring the circle; the ring weighed
    assert float(np.asarray(tube.head_area_m2)) == pytest.approx(np.pi * 0.030 * 0.400)
    assert float(np.asarray(ring.head_area_m2)) == pytest.approx(np.pi * 0.024 * np.pi * 0.220)
    assert float(np.asarray(ring.head_heat_capacity_J_per_K)) == pytest.approx(2.6 * 500.0)
    assert body_of(replace(_burner("stock-pot ring"), throat_m=None)) is None
    assert box_around(CART, _burner("rear burner")) is not None
    assert box_around(CART, _burner("stock-pot ring")) is None


def test_the_sheet_shows_cold_to_hot_and_when_it_is_steady() -> None:
    done = evaluate_conversion(convert(CART, "propane", 2740.0))
    blocks = build_sheet(done).section("cold_start").blocks
    (table,) = [block for block in blocks if getattr(block, "caption", "") == "From a cold start"]
    heads = [column.title for column in table.columns]  # type: ignore[union-attr]
    assert "Primary aeration, 15 min" in heads
    assert "Air within 2 % of its last value after" in heads


@pytest.mark.parametrize(
    ("gas_C", "wall_C", "least", "most"),
    [(None, None, 0.976, 0.985), (200.0, 250.0, 0.94, 0.96), (300.0, 400.0, 0.90, 0.94)],
)
def test_a_second_calculation_leaves_about_the_same_air(
    gas_C: float | None, wall_C: float | None, least: float, most: float
) -> None:
    """Computed, not measured: hot over cold air of a tube of 3.66 kW by a calculation of Nusselt number 20 and 4.

    Its body is stated in words alone; here it is the one that gives about the same temperatures.
    """
    tube = _burner("griddle tube left")
    assert tube.body is not None
    assert tube.shutter is not None
    body = replace(tube.body, wall_m=1.3e-3, diameter_m=0.025)
    shutter = replace(tube.shutter, opening=0.60)
    assert CART.space is not None
    if gas_C is None or wall_C is None:
        appliance = replace(CART, space=replace(CART.space, boxes=()))
    else:
        appliance = _with_box(gas_temperature_K=gas_C + 273.15, wall_temperature_K=wall_C + 273.15)
    warm = _warm_up(_with(replace(tube, body=body, shutter=shutter), appliance), tube.name)
    assert warm.primary_aeration_change is not None
    assert least < 1.0 + warm.primary_aeration_change < most


def test_a_bound_of_light_back_is_in_no_order_with_the_other_side() -> None:
    """Mixtures of the demonstration burn slower than any flame believed: both sides are lower bounds.

    The bound rises with temperature, for it rests on one velocity and a wall gradient that rises: hot stands above
    cold, where a true light-back margin falls with the temperature of the ports (hot-burner relation 5).
    """
    done = evaluate_conversion(convert(CART, "propane", 2740.0))
    assert done.evaluation is not None
    flames = done.evaluation.flames_of("griddle tube left")
    assert flames is not None
    warm = flames.warm_up("new")
    assert warm is not None
    assert warm.cold_light_back_is_at_least
    assert warm.light_back_is_at_least
    cold, hot = warm.cold_light_back_margin, warm.hot_light_back_margin
    assert cold is not None
    assert hot is not None
    assert hot.value > cold.value  # the wrong direction, which must not be read as one
    assert warm.light_back_order == "not comparable"
    assert any("light-back, cold to hot: not comparable" in note for note in flames.notes)
    assert "Light-back, cold to hot: not comparable" in terminal_text(done)
    (cell,) = {
        row[5].also for row in _margins(build_sheet(done)) if row[0].text.startswith("griddle tube left")
    }
    assert "cold to hot not comparable" in cell


def test_a_bound_is_not_the_worse_margin_of_a_larger_value() -> None:
    warm = _warm_up(CART, "griddle tube left")
    bound = replace(warm, hot_light_back_margin=Band(value=0.9, low=0.4, high=1.9))
    assert bound.light_back_is_at_least
    assert bound.nearest_limit == warm.nearest_limit
    assert bound.nearest_margin == warm.nearest_margin
    assert bound.nearest_against == "light-back at least 0.90 (turndown, hot metal): not comparable"
    known = replace(bound, light_back_is_at_least=False)  # of the same size, but a value
    assert known.nearest_limit == "light-back"
    assert known.nearest_against == ""
    assert known.light_back_order == "not comparable"  # the cold side is a bound still
    ordered = replace(known, cold_light_back_is_at_least=False)
    assert ordered.light_back_order == ""
    assert [one.moment for one in ordered.margins if one.limit == "light-back"] == ["turndown, hot metal"]


def _margins(sheet: Sheet) -> tuple[tuple[Cell, ...], ...]:
    (table,) = [
        block
        for block in sheet.section("flames").blocks
        if isinstance(block, Table) and block.caption.startswith("Margins")
    ]
    return table.rows


def test_the_hot_air_of_a_box_whose_gas_is_off_by_a_seventh_lies_in_the_band(tmp_path: Path) -> None:
    """The heat of the box, the metal and its wall move the band as the coefficients do."""
    room_K, name = 288.15, "griddle tube left"
    boxes = [
        _with_box(gas_temperature_K=room_K + share * 250.0, wall_temperature_K=room_K + share * 300.0)
        for share in (1.0, 0.85, 1.15)
    ]
    own = tmp_path / "own.csv"
    own.write_text(
        "name,value,low,high\n" + "".join(f"{row}\n" for row in ("body wall,1,1,1", "box rise,1,1,1")),
        encoding="utf-8",
    )
    known = replace(boxes[0], tables=replace(CART.tables, burner_coefficients=own))
    narrow, whole = (_warm_up(one, name).mixture_temperature_K for one in (known, boxes[0]))
    ends = [_warm_up(one, name).mixture_temperature_K for one in boxes[1:]]
    assert narrow is not None
    assert whole is not None
    assert narrow.value == pytest.approx(whole.value)
    for end in ends:
        assert end is not None
        assert whole.low < end.value < whole.high
    assert whole.high - whole.low > 1.05 * (narrow.high - narrow.low)


def _warm_gas(gas_K: float | None, name: str = "griddle tube left") -> WarmUp:
    burner = _burner(name)
    return _warm_up(
        _with(replace(burner, orifice=replace(burner.orifice, hot_gas_temperature_K=gas_K))), name
    )


@pytest.mark.parametrize("gas_C", [-5.0, 30.0, 45.0, 70.0])
def test_the_rate_goes_with_the_root_of_the_density_of_the_gas_at_the_orifice(gas_C: float) -> None:
    """Mass flow of an orifice at one pressure ~ sqrt(density) ~ 1/sqrt(T), ISO 5167; the real gas within 0.1 %."""
    cold_K, hot_K = CART.supply.gas_temperature_K, gas_C + 273.15
    warm = _warm_gas(hot_K)
    change = warm.heat_input_change
    assert change is not None
    assert 1.0 + change.value == pytest.approx((cold_K / hot_K) ** 0.5, rel=1e-3)
    ends = [(cold_K / (cold_K + share * (hot_K - cold_K))) ** 0.5 for share in (0.7, 1.3)]
    assert 1.0 + change.low == pytest.approx(min(ends), rel=1e-3)
    assert 1.0 + change.high == pytest.approx(max(ends), rel=1e-3)


def test_warm_gas_draws_more_air_and_its_spread_is_in_the_band() -> None:
    """Relation of the momentum balance: aeration rises with the temperature of the gas (hot-burner relation 2)."""
    unknown, cold, hot = _warm_gas(None), _warm_gas(CART.supply.gas_temperature_K), _warm_gas(330.0)
    assert unknown.heat_input_change is None
    airs = [one.hot_primary_aeration for one in (unknown, cold, hot)]
    assert airs[0] is not None
    assert airs[1] is not None
    assert airs[2] is not None
    assert airs[1] == airs[0]
    assert airs[2].value > airs[0].value
    assert airs[2].high / airs[2].low > airs[0].high / airs[0].low
