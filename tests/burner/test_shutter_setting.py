"""The search for a shutter setting, and the data of the stability diagram."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from burnerlab.burner.burner import EvaluationOptions, Surroundings, burner_fuel
from burnerlab.burner.evaluation import evaluate
from burnerlab.burner.shutter_setting import (
    OPENINGS,
    RULES,
    GasCase,
    OrificeOption,
    shutter_window,
    shutter_windows,
)
from burnerlab.burner.stability_diagram import DiagramRate, OnGas, diagram_of
from burnerlab.gas import load

NATURAL, PROPANE = 1.42e-3, 0.92e-3


def case(fuel, pressure, *bores, **more) -> GasCase:
    drills = tuple(OrificeOption(name=f"{1e3 * bore:.2f} mm", diameter_m=bore) for bore in bores)
    return GasCase(
        title=fuel.gas.name or "methane",
        fuel=fuel,
        gauge_pressure_Pa=pressure,
        orifices=drills,
        surroundings=Surroundings(),
        **more,
    )


def test_one_setting_serves_both_gases_and_holds_every_limit(ring, methane, propane) -> None:
    found = shutter_window(ring, [case(methane, 1000.0, NATURAL), case(propane, 2740.0, PROPANE)])
    assert found.exists
    assert 0 < found.low < found.high <= 1
    for fuel, bore, pressure in ((methane, NATURAL, 1000.0), (propane, PROPANE, 2740.0)):
        for opening in (found.low, found.middle, found.high):
            state = evaluate(replace(ring, orifice_diameter_m=bore, shutter_opening=opening), fuel, pressure)
            assert float(state.lift_margin_where_it_binds) >= 1.0
            assert float(state.yellow_tip_margin) >= 1.0
            assert float(state.light_back_margin) >= 1.5
    assert "within the limits" in found.words


def test_several_burners_in_one_call_are_the_same_one_by_one(ring, methane, propane) -> None:
    """With drills of different number, a part left out, and a burner without a shutter among them."""
    burners = [
        (ring, [case(methane, 1000.0, NATURAL), case(propane, 2740.0, PROPANE, 0.9e-3, turndown=0.5)]),
        (
            replace(ring, throat_m=0.9 * ring.throat_m),
            [case(methane, 1100.0, NATURAL, high_gauge_pressure_Pa=1300.0)],
        ),
        (replace(ring, shutter_area_m2=None), [case(methane, 1000.0, NATURAL)]),
        (replace(ring, port_depth_m=None), [case(methane, 1000.0, NATURAL), case(propane, 2740.0, PROPANE)]),
    ]
    together = shutter_windows(burners)
    assert together == [shutter_window(*burner) for burner in burners]
    assert [found.low is None for found in together].count(False) >= 1


def test_just_outside_its_ends_a_stretch_breaks_the_limit_it_names(ring, propane) -> None:
    (stretch,) = shutter_window(ring, [case(propane, 2740.0, PROPANE)]).stretches
    step = OPENINGS[1] - OPENINGS[0]
    tried = replace(ring, orifice_diameter_m=PROPANE)
    low = evaluate(replace(tried, shutter_opening=stretch.low - step), propane, 2740.0)
    assert "yellow tipping" in stretch.binding
    assert float(low.yellow_tip_margin) < 1.0
    if stretch.high < 1.0:
        high = evaluate(replace(tried, shutter_opening=stretch.high + step), propane, 2740.0)
        assert "lift" in stretch.binding
        assert float(high.lift_margin) < 1.0


def test_a_starved_burner_has_no_setting_and_the_limit_that_binds_is_named(ring, propane) -> None:
    narrow = replace(ring, throat_m=5e-3, tube_loss=8.0)
    found = shutter_window(narrow, [case(propane, 2740.0, PROPANE)])
    assert not found.exists
    assert found.stretches[0].binding == ("yellow tipping",)
    assert "yellow tipping at every opening" in found.words


def test_limits_that_leave_nothing_between_them_are_both_named(tmp_path, ring, methane) -> None:
    strict = tmp_path / "rules.csv"
    strict.write_text(
        "name,group,low,high,near_low,near_high,unit,source,place,provenance,note\n"
        "lift margin,any,200,,200,,-,burner-judgement,bench,measured here,\n"
        "yellow-tip margin,any,2,,2,,-,burner-judgement,bench,measured here,\n"
    )
    found = shutter_window(ring, [case(methane, 1000.0, NATURAL)], strict)
    assert not found.exists
    assert {"lift", "yellow tipping"} <= set(found.stretches[0].binding)
    assert "leave none between them" in found.words


def test_gases_that_each_have_a_setting_may_share_none(tmp_path, ring, methane, propane) -> None:
    narrow = tmp_path / "rules.csv"
    narrow.write_text(
        "name,group,low,high,near_low,near_high,unit,source,place,provenance,note\n"
        "lift margin,natural gas,8,,8,,-,burner-judgement,bench,measured here,\n"
        "yellow-tip margin,propane and butane,1.4,,1.4,,-,burner-judgement,bench,measured here,\n"
    )
    cases = [case(methane, 1000.0, NATURAL), case(propane, 2740.0, PROPANE)]
    found = shutter_window(ring, cases, narrow)
    assert all(stretch.low is not None for stretch in found.stretches)
    assert not found.exists
    assert "no one opening of the shutter serves all gases" in found.words


def test_the_drill_is_chosen_that_leaves_most_room(ring, propane) -> None:
    found = shutter_window(ring, [case(propane, 2740.0, 0.90e-3, 0.92e-3, 1.05e-3)])
    assert len(found.all_stretches) == 3
    assert found.stretches[0].width == pytest.approx(max(stretch.width for stretch in found.all_stretches))


def test_light_back_is_judged_at_turndown(ring, methane) -> None:
    wide_open = replace(ring, shutter_area_m2=3000e-6, throat_m=20e-3)
    full = shutter_window(wide_open, [case(methane, 1000.0, NATURAL)])
    low = shutter_window(wide_open, [case(methane, 1000.0, NATURAL, turndown=0.3)])
    assert (low.high or 0.0) <= (full.high or 0.0)
    tried = replace(wide_open, orifice_diameter_m=NATURAL, shutter_opening=OPENINGS)
    turned = evaluate(tried, methane, 1000.0, options=EvaluationOptions(load=0.3))
    held = turned.light_back_margin >= 1.5
    assert held.any()
    assert low.high is None or held[round(low.high * OPENINGS.size) - 1]


def test_openings_are_told_to_the_step_they_were_searched_with(ring, methane, propane) -> None:
    found = shutter_window(ring, [case(methane, 1000.0, NATURAL), case(propane, 2740.0, PROPANE)])
    assert f"{100 * found.low:g} to {100 * found.high:g} %" in found.words
    assert "estimate" in found.words


def test_an_opening_at_which_a_limit_is_not_known_is_not_told_to_hold_it(ring, methane) -> None:
    """Leaner than the table of burning velocities nothing is known of lift or light-back."""
    airy = replace(ring, shutter_area_m2=3000e-6, throat_m=22e-3, port_count=400)
    (stretch,) = shutter_window(airy, [case(methane, 1000.0, 0.9e-3)]).stretches
    tried = replace(airy, orifice_diameter_m=0.9e-3, shutter_opening=OPENINGS)
    unknown = np.isnan(evaluate(tried, methane, 1000.0).light_back_margin)
    assert unknown.any()
    if stretch.high is not None:
        assert not unknown[(stretch.low <= OPENINGS) & (stretch.high >= OPENINGS)].any()


def test_openings_at_which_the_air_at_turndown_is_too_faint_are_named(ring, methane, propane) -> None:
    """Where the ports take less than 0.3 Pa, turndown is not evaluated, and light-back with it."""
    gas = case(methane, 1000.0, NATURAL, turndown=0.28)
    tried = replace(ring, orifice_diameter_m=NATURAL, shutter_opening=OPENINGS)
    turned = evaluate(tried, methane, 1000.0, options=EvaluationOptions(load=gas.turndown))
    known = OPENINGS[~np.isnan(turned.primary_aeration)]
    assert 0.0 < known.size < OPENINGS.size
    found = shutter_window(ring, [gas])
    (stretch,) = found.stretches
    assert stretch.low is not None
    assert stretch.evaluated_low == pytest.approx(max(known.min(), stretch.low))
    assert stretch.evaluated_high == pytest.approx(min(known.max(), stretch.high))
    assert stretch.low < stretch.evaluated_low < stretch.high  # this case has both
    assert (
        f"light-back evaluated from {100 * stretch.evaluated_low:g} to {100 * stretch.evaluated_high:g} %"
        in found.words
    )
    assert "too faint" in found.words
    assert found.is_evaluated_at(stretch.evaluated_low)
    assert not found.is_evaluated_at(stretch.low)
    beside = shutter_window(ring, [gas, case(propane, 2740.0, PROPANE)])
    assert beside.is_evaluated_at(beside.low)  # what the gases share is evaluated whole
    assert "too faint" not in beside.words


def test_without_a_shutter_area_there_is_no_search(ring, methane) -> None:
    found = shutter_window(replace(ring, shutter_area_m2=None), [case(methane, 1000.0, NATURAL)])
    assert not found.exists
    assert "area of the air shutter" in found.words


def test_a_gas_without_flame_table_is_judged_by_what_is_left(ring) -> None:
    blind = burner_fuel(load("propane"))  # type: ignore[arg-type]
    found = shutter_window(ring, [case(blind, 2740.0, PROPANE)])
    assert set(found.stretches[0].not_evaluated) == {"lift", "light-back"}
    assert "not evaluated: lift, light-back" in found.words
    assert set(RULES) == {"yellow tipping", "lift", "light-back"}


# the diagram


def both(ring, methane, propane):
    rates = (
        DiagramRate(label="full rate", gauge_pressure_Pa=1000.0),
        DiagramRate(label="turndown", gauge_pressure_Pa=1000.0, load=0.3),
    )
    on_propane = tuple(replace(rate, gauge_pressure_Pa=2740.0) for rate in rates)
    natural = OnGas(
        title="natural",
        geometry=replace(ring, orifice_diameter_m=NATURAL),
        fuel=methane,
        surroundings=Surroundings(),
        rates=rates,
    )
    bored = replace(ring, orifice_diameter_m=PROPANE)
    return [natural, replace(natural, title="propane", geometry=bored, fuel=propane, rates=on_propane)]


def test_the_diagram_shows_points_and_the_arrow_of_the_conversion(ring, methane, propane) -> None:
    found = diagram_of("ring", both(ring, methane, propane))
    assert [(point.gas, point.label) for point in found.points] == [
        ("natural", "full rate"), ("natural", "turndown"), ("propane", "full rate"), ("propane", "turndown"),
    ]  # fmt: skip
    assert found.arrow is not None
    assert (found.arrow.start.gas, found.arrow.end.gas) == ("natural", "propane")
    assert found.arrow.start.label == found.arrow.end.label == "full rate"
    full, low = found.points[0], found.points[1]
    assert low.loading_W_per_mm2 == pytest.approx(0.3 * full.loading_W_per_mm2)
    assert full.aeration_low < full.aeration < full.aeration_high
    assert [line.gas for line in found.yellow_tips] == ["natural", "propane"]


def test_a_point_on_a_limit_curve_has_a_margin_of_one(ring, methane, propane) -> None:
    """Curve and operating point are two ways to the same margin."""
    cases = both(ring, methane, propane)
    found = diagram_of("ring", cases)
    assert found.curves
    for curve in found.curves:
        case_of = next(case for case in cases if case.title == curve.gas)
        for k in (0, len(curve.aeration) // 2, -1):
            asked = EvaluationOptions(aeration=float(curve.aeration[k]))
            full = evaluate(case_of.geometry, case_of.fuel, case_of.rates[0].gauge_pressure_Pa, options=asked)
            load = float(curve.loading_W_per_mm2[k] / full.port_loading_W_per_mm2)
            there = evaluate(
                case_of.geometry,
                case_of.fuel,
                case_of.rates[0].gauge_pressure_Pa,
                options=replace(asked, load=load),
            )
            margin = there.lift_margin if curve.limit == "lift" else there.light_back_margin
            if not bool(there.at.wall.turbulent):
                assert float(margin) == pytest.approx(1.0, rel=1e-6)


def test_curves_have_bands_and_lift_is_one_piece_that_ends_at_forty_percent_air(
    ring, methane, propane
) -> None:
    found = diagram_of("ring", both(ring, methane, propane))
    (lift,) = [curve for curve in found.curves if curve.limit == "lift" and curve.gas == "natural"]
    assert lift.provisional
    assert lift.aeration.min() == pytest.approx(0.4)
    assert (np.diff(lift.loading_W_per_mm2) < 0.0).all()
    assert (lift.loading_W_per_mm2[:-1] / lift.loading_W_per_mm2[1:]).max() < 1.1  # for 0.5 % of air: no step
    for curve in found.curves:
        assert (curve.low_W_per_mm2 <= curve.loading_W_per_mm2).all()
        assert (curve.loading_W_per_mm2 <= curve.high_W_per_mm2).all()
        assert np.isfinite(curve.high_W_per_mm2).all()


def test_what_the_diagram_cannot_show_is_listed(ring, methane) -> None:
    blind = burner_fuel(load("hydrogen"))  # type: ignore[arg-type]
    bare = replace(ring, throat_m=None)
    rates = (DiagramRate(label="full rate", gauge_pressure_Pa=1000.0),)
    cases = [OnGas(title="hydrogen", geometry=bare, fuel=blind, surroundings=Surroundings(), rates=rates)]
    found = diagram_of("ring", cases)
    assert found.curves == ()
    assert found.points == ()
    assert found.arrow is None
    said = "; ".join(found.missing)
    for word in ("lift", "light-back", "yellow tipping", "operating points"):
        assert word in said


def test_a_hot_burner_needs_more_opening_against_yellow_tips(ring, propane) -> None:
    ends = [
        shutter_window(ring, [case(propane, 2740.0, PROPANE, hot_shares=(share, share))]).low
        for share in (1.0, 0.95, 0.90)
    ]
    assert None not in ends
    assert ends == sorted(ends)
    assert ends[0] < ends[-1]
    state = evaluate(replace(ring, orifice_diameter_m=PROPANE, shutter_opening=ends[-1]), propane, 2740.0)
    assert 0.90 * float(state.yellow_tip_margin) >= 1.0
