"""Findings of a burner: verdicts at and about each limit, own rules, what was not evaluated."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from burnerlab.burner.burner import EvaluationOptions, burner_fuel
from burnerlab.burner.checks import burner_checks, fuel_factor, rule_for, rules
from burnerlab.burner.coefficients import coefficients
from burnerlab.burner.evaluation import evaluate, fuel_with_flame
from burnerlab.gas import load, mix
from burnerlab.quantity import UserError
from burnerlab.tables import sources


def by_topic(state, own=None):
    return {finding.topic: finding for finding in burner_checks(state, own)}


def test_verdicts_change_at_the_ends_of_a_rule() -> None:
    rule = rule_for("primary aeration", "natural gas")
    assert rule is not None
    wanted = {0.39: "outside", 0.41: "near", 0.55: "within", 0.64: "near", 0.66: "outside"}
    assert {value: rule.verdict(value) for value in wanted} == wanted
    assert rule.verdict(float("nan")) == "not evaluated"
    assert rule.verdict(0.55, 0.30, 0.60) == "near"  # within, but its band reaches outside


def test_a_common_burner_is_within_what_can_be_told(ring, methane) -> None:
    found = by_topic(
        evaluate(replace(ring, port_count=180), methane, 1000.0, options=EvaluationOptions(aeration=0.50))
    )
    assert found["yellow tipping"].verdict == "within"
    assert found["light-back"].verdict == "within"
    assert found["lift"].verdict == "within"
    assert {finding.evidence for finding in found.values()} <= {"recalled", "estimate", "entered", ""}


def test_the_lift_limit_says_why_it_is_an_estimate(ring, methane) -> None:
    text = by_topic(evaluate(ring, methane, 1000.0, options=EvaluationOptions(aeration=0.6)))["lift"].text
    assert "against lift at about 11 000 1/s (5400 to 27 000)" in text
    assert "no measured curve is behind it" in text


def test_the_fuel_factor_stands_beside_the_limit_and_is_not_in_it(ring, methane, propane) -> None:
    """Extinction strain of propane over methane about 1.3 at equal air; methane's own is 1 and not said."""
    options = EvaluationOptions(aeration=0.55)
    of_propane, of_methane = (evaluate(ring, fuel, 1000.0, options=options) for fuel in (propane, methane))
    factor = fuel_factor(of_propane)
    assert factor is not None
    assert 1.2 <= factor.value <= 1.45
    assert "not in this margin" in by_topic(of_propane)["lift"].text
    assert "beside it" not in by_topic(of_methane)["lift"].text
    assert fuel_factor(evaluate(ring, propane, 1000.0, options=EvaluationOptions(aeration=0.9))) is None


def test_below_forty_percent_air_lift_is_withheld_with_its_reason(ring, methane) -> None:
    finding = by_topic(evaluate(ring, methane, 1000.0, options=EvaluationOptions(aeration=0.39)))["lift"]
    assert finding.verdict == "not evaluated"
    assert finding.text == "less than 40 % primary air: lift is withheld, yellow tips come first"


def test_a_limit_above_its_cap_is_said_to_be_more_than_it(ring) -> None:
    hydrogen = fuel_with_flame(mix({"hydrogen": 1.0}, per="mole"))
    state = evaluate(ring, hydrogen, 1000.0, options=EvaluationOptions(aeration=0.5))
    assert "against lift at more than 100 000 1/s;" in by_topic(state)["lift"].text


def test_too_much_air_lifts_and_too_little_tips_yellow(ring, propane) -> None:
    airy = by_topic(evaluate(ring, propane, 2740.0, options=EvaluationOptions(aeration=0.95)))
    starved = by_topic(evaluate(ring, propane, 2740.0, options=EvaluationOptions(aeration=0.35)))
    assert airy["lift"].verdict == "outside"
    assert starved["yellow tipping"].verdict == "outside"


def test_turned_far_down_a_well_aerated_burner_lights_back(ring, methane) -> None:
    asked = EvaluationOptions(aeration=0.95, load=0.03)
    assert by_topic(evaluate(ring, methane, 1000.0, options=asked))["light-back"].verdict == "outside"


def test_what_is_missing_is_said_and_not_silent(ring) -> None:
    bare = replace(ring, throat_m=None, port_depth_m=None)
    found = by_topic(evaluate(bare, burner_fuel(load("hydrogen")), 1000.0))  # type: ignore[arg-type]
    for topic in ("primary aeration", "lift", "light-back", "yellow tipping", "port depth over diameter"):
        assert found[topic].verdict == "not evaluated"
        assert found[topic].text


def test_every_finding_against_a_rule_names_its_source(ring, methane) -> None:
    found = by_topic(evaluate(ring, methane, 1000.0))
    for topic in ("lift", "light-back", "yellow tipping", "primary aeration", "port loading", "mixing tube"):
        assert found[topic].source
    assert "recalled" in found["port loading"].source


def test_judging_many_at_once_is_refused(ring, methane) -> None:
    with pytest.raises(ValueError, match="one burner"):
        burner_checks(evaluate(ring, methane, np.array([1000.0, 2000.0])))


def test_turbulent_ports_are_outside_what_the_limits_were_made_for(ring, methane) -> None:
    wide = replace(ring, port_width_m=8e-3, port_count=2, port_depth_m=20e-3)
    assert (
        by_topic(evaluate(wide, methane, 1000.0, options=EvaluationOptions(aeration=0.6)))[
            "port flow"
        ].verdict
        == "outside"
    )


def test_own_rules_and_coefficients_stand_in_for_ours(tmp_path: Path, ring, methane) -> None:
    own_rules, own = tmp_path / "rules.csv", tmp_path / "coefficients.csv"
    own_rules.write_text(
        "name,group,low,high,near_low,near_high,unit,trust,source,place,provenance,note\n"  # as 0.1.0 wrote it
        "lift margin,any,9,,9,,-,indicative,burner-judgement,bench,measured here,\n"
    )
    own.write_text(
        "name,value,low,high,unit,source,place,provenance,note\n"
        "light-back factor,0.14,0.1,0.18,-,burner-judgement,bench,measured here,\n"
    )
    usual = evaluate(ring, methane, 1000.0, options=EvaluationOptions(aeration=0.8))
    mine = evaluate(ring, methane, 1000.0, options=EvaluationOptions(aeration=0.8, own=own))
    assert float(usual.light_back_margin / mine.light_back_margin) == pytest.approx(2.0)
    assert by_topic(usual, own_rules)["lift"].verdict == "outside"
    assert len(rules(own_rules)) == len(rules())


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("lift-back factor,1,1,1,-,burner-judgement,b,measured here,", "did you mean light-back factor"),
        ("light-back factor,1,2,3,-,burner-judgement,b,measured here,", "out of order"),
        ("light-back factor,nan,nan,nan,-,burner-judgement,b,measured here,", "is not a number"),
        (
            "light-back factor,x,2,3,-,burner-judgement,b,measured here,",
            'line 2: value = "x": is not a number',
        ),
        ("light-back factor,0,0,3,-,burner-judgement,b,measured here,", "must be above 0"),
    ],
)
def test_a_bad_row_of_the_users_is_refused_in_words(tmp_path: Path, row: str, words: str) -> None:
    own = tmp_path / "mine.csv"
    own.write_text(f"name,value,low,high,unit,source,place,provenance,note\n{row}\n")
    with pytest.raises(UserError, match=words):
        coefficients(own)


def test_every_coefficient_has_a_spread_in_order_and_a_known_source() -> None:
    for row in coefficients().values():
        assert 0 < row.low <= row.value <= row.high, row.name
        assert row.source in sources()


def test_ports_wider_than_the_flame_needs_at_shut_off_are_near(ring, methane) -> None:
    """Cold 2.0 mm ports stop a stoichiometric methane flame, 4 mm ports do not; a slot needs to be narrower."""
    narrow, wide, slot = (
        by_topic(evaluate(replace(ring, **ports), methane, 1000.0))["quenching"]
        for ports in (
            {"port_width_m": 2.0e-3},
            {"port_width_m": 4.0e-3},
            {"port_width_m": 2.0e-3, "slot_length_m": 10e-3},
        )
    )
    assert (narrow.verdict, wide.verdict, slot.verdict) == ("within", "near", "near")
    assert slot.value == pytest.approx(1.5 * narrow.value)
    assert "cold" in narrow.text
    assert narrow.evidence == "estimate"


def test_an_aeration_just_short_of_its_limit_does_not_read_as_equal_to_it(ring, propane) -> None:
    text = by_topic(evaluate(ring, propane, 2740.0, options=EvaluationOptions(aeration=0.4086)))[
        "yellow tipping"
    ].text
    assert "40.9 % against at least 41.1 %" in text


def test_without_primary_air_nothing_is_said_of_a_premixed_flame(ring, propane) -> None:
    state = evaluate(replace(ring, shutter_opening=0.0), propane, 2740.0)
    assert float(state.primary_aeration) == 0.0
    found = by_topic(state)
    for topic in ("lift", "light-back", "inner cone"):
        assert found[topic].verdict == "not evaluated"
        assert "primary air" in found[topic].text
    assert found["yellow tipping"].verdict == "outside"
    assert np.isnan(state.lift_margin)


def test_rows_of_0_1_0_that_are_no_more_are_taken_and_not_used(tmp_path: Path) -> None:
    own = tmp_path / "own.csv"
    own.write_text(
        "name,value,low,high\ndeep port,2.0,1.5,2.0\ndevelopment length,0.05,0.05,0.06\nthroat loss,0.4,0.3,0.5\n"
    )
    mine = coefficients(own)
    assert set(mine) == set(coefficients())
    assert mine["throat loss"].value == 0.4


def test_close_ports_and_many_rows_are_named_and_hold_the_yellow_tips_near(ring, methane) -> None:
    """Flames join below about 2.5 diameters, inner rows lack air beyond two: common practice, no source."""
    options = EvaluationOptions(aeration=0.6)

    def found(**place):
        return by_topic(evaluate(replace(ring, **place), methane, 1000.0, options=options))

    airy = found(port_pitch_m=4.0e-3, port_rows=2, row_pitch_m=5e-3)
    assert (airy["port pitch over diameter"].verdict, airy["port rows"].verdict) == ("within", "within")
    assert airy["yellow tipping"].verdict == "within"
    for crowded in (
        {"port_pitch_m": 3.9e-3, "port_rows": 1},
        {"port_pitch_m": 6e-3, "port_rows": 2, "row_pitch_m": 3.9e-3},
        {"port_pitch_m": 6e-3, "port_rows": 3},
    ):
        tips = found(**crowded)["yellow tipping"]
        assert tips.verdict == "near"
        assert "join" in tips.text or "inner" in tips.text
    assert (
        found(port_pitch_m=6e-3, port_rows=1, row_pitch_m=3e-3)["port pitch over diameter"].verdict
        == "within"
    )
    unknown = found()
    assert unknown["port pitch over diameter"].verdict == unknown["port rows"].verdict == "not evaluated"
    assert unknown["yellow tipping"].verdict == "within"


def test_a_burner_turned_so_low_that_its_ports_take_nothing_is_not_evaluated(ring, methane) -> None:
    low = by_topic(evaluate(ring, methane, 1000.0, options=EvaluationOptions(load=0.1)))
    for topic in ("primary aeration", "lift", "light-back", "yellow tipping"):
        assert low[topic].verdict == "not evaluated"
        assert "0.3 Pa" in low[topic].text
