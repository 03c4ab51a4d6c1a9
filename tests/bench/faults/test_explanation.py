"""Explaining readings that are off: which cause they name, what stops the test, what is measured next."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from functools import partial
from pathlib import Path

import command_runs
import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab import tables
from burnerlab.appliance import Appliance, ConversionTarget, changed, demonstration, demonstration_path
from burnerlab.appliance.conversion.convert import built_for
from burnerlab.appliance.conversion.markets import convert_market, market_named, targets_of
from burnerlab.appliance.operation.supply_pressures import INCH_OF_WATER_PA
from burnerlab.appliance.project.project_file import read_appliance_text
from burnerlab.bench import Explanation, RankedCause, Reading, explain, manifold_check
from burnerlab.bench.bench_air import in_air_of
from burnerlab.bench.decision_rule import bench_limit
from burnerlab.bench.faults.causes import causes, groups
from burnerlab.bench.faults.explanation import gas_stops
from burnerlab.bench.faults.scenarios import NONE, by_cause, figure_layout, hypotheses, log_shares, normalised
from burnerlab.bench.reading.manifold import expected_input
from burnerlab.bench.reading.readings import MeterEntry
from burnerlab.bench.reading_plan import plan_of
from burnerlab.bench.stop import OF_OTHER_GAS
from burnerlab.bench.unit import substitute_supplies, unit_under_test
from burnerlab.cli import main
from burnerlab.cli.bench_inputs import standard_uncertainty
from burnerlab.gas import load
from burnerlab.quantity import UserError

answer = partial(command_runs.answer, "explain")

CART = demonstration()
RING, LEFT = "stock-pot ring", "griddle tube left"
H = hypotheses(unit_under_test(CART, RING))
LAYOUT = figure_layout(H.unit, [Reading(ratio=1.0)])
NOMINAL_IN = 7.0  # in w.c., of the demonstration
MEASUREMENTS = {row["measurement"]: row for row in tables.rows("next_measurements")}


def on_propane() -> Appliance:
    return changed(CART, ConversionTarget(gas=load("propane"), gauge_pressure_Pa=2740.0))


LP = on_propane()


def cause(found: Explanation, name: str) -> RankedCause:
    return next(one for one in found.causes if one.cause == name)


@settings(max_examples=30)
@given(st.floats(0.05, 20.0))
def test_shares_add_up_whatever_was_read(ratio: float) -> None:
    shares = by_cause(H, normalised(log_shares(H, LAYOUT, [np.log(ratio)])))
    assert shares.sum() == pytest.approx(1.0)
    assert shares.min() >= 0.0


def test_priors_add_up_and_say_that_they_are_a_judgement() -> None:
    assert np.exp(H.log_prior).sum() == pytest.approx(1.0)
    assert sum(one.prior for one in causes()) == pytest.approx(1.0)
    assert {row["provenance"] for row in tables.rows("causes")} == {"common practice"}
    assert {one.group for one in causes()} == set(groups())


def test_a_sound_reading_alone_indicates_no_fault() -> None:
    found = explain(CART, Reading(ratio=1.0), RING)
    assert found.causes[0].cause == "as it should be"
    assert found.causes[0].title == "this reading alone indicates no fault"
    assert found.groups[0].group == "none"
    assert found.fits


# heat input over the expected one by plain formulas: sqrt(dp/d) H for the flow, H(own)/H(other) for a meter,
# d(own)/d(other) more for a scale; propane 95.7 MJ/m3 and 1.55 of air, natural gas 39 and 0.58 (rounded, recalled)
OTHER_SUPPLY = [
    (CART, "meter", "other supply as a whole", 0.77, 1.93),
    (CART, "scale", "other supply as a whole", 2.08, 1.93),
    (CART, "meter", "other gas connected", 0.62, 1.54),
    (CART, "scale", "other gas connected", 1.66, 1.54),
    (CART, "meter", "converted in full", 0.40, 1.0),
    (CART, "meter", "other gas and its orifices", 0.32, 0.80),
    (CART, "meter", "other regulator and orifices", 0.63, 0.63),
    (CART, "meter", "regulator of the other gas", 1.25, 1.25),
    (LP, "meter", "other supply as a whole", 1.30, 0.52),
    (LP, "scale", "other supply as a whole", 0.49, 0.52),
    (LP, "meter", "other gas connected", 1.62, 0.65),
    (LP, "meter", "converted in full", 2.5, 1.0),
    (LP, "meter", "regulator of the other gas", 0.80, 0.80),
]


@pytest.mark.parametrize(("appliance", "method", "name", "read", "true"), OTHER_SUPPLY)
def test_every_mixture_of_the_other_supply_is_a_cause(
    appliance: Appliance, method: str, name: str, read: float, true: float
) -> None:
    found = cause(explain(appliance, Reading(ratio=read, method=method), RING), name)  # type: ignore[arg-type]
    assert found.predicted_ratio == pytest.approx(read, rel=0.06)
    assert found.true_input_ratio == pytest.approx(true, rel=0.06)


@pytest.mark.parametrize(
    ("appliance", "ratio", "gas"),
    [
        (CART, 0.77, "propane"),
        (CART, 0.62, "propane"),
        (CART, 0.40, "propane"),
        (LP, 1.3, "natural"),
        (LP, 2.5, "natural"),
    ],
)
@pytest.mark.parametrize("burner", [RING, LEFT, None])
def test_the_other_gas_stops_the_test_whatever_the_meter_shows(
    appliance: Appliance, ratio: float, gas: str, burner: str | None
) -> None:
    found = explain(appliance, Reading(ratio=ratio), burner)
    assert found.stop is not None
    assert found.stop.id == "wrong-gas"
    assert gas in found.stop.heading
    assert "gas" in [one.group for one in found.groups[:2]]


def test_the_other_supply_as_a_whole_is_headed_by_what_really_burns() -> None:
    """Propane with its own regulator on a natural-gas unit: 0.77 by a meter set for natural gas, 1.9 in truth."""
    found = explain(CART, Reading(ratio=0.77), RING)
    assert found.causes[0].cause == "other supply as a whole"
    assert [one.id for one in found.stops] == ["wrong-gas", "overfire"]
    assert found.stop is not None
    assert "17.0 kW" in found.stop.do_first
    assert "94 % above the rated heat input" in found.stop.do_first
    read = explain(CART, Reading(ratio=0.77, pressure_ratio=11 / NOMINAL_IN), RING)
    assert [one.id for one in read.stops] == ["pressure", "wrong-gas", "overfire"]  # what was measured first
    assert read.causes[0].probability > 0.99
    below = explain(LP, Reading(ratio=1.3), RING).stop
    assert below is not None
    assert "below the rated heat input" in below.do_first


@pytest.mark.parametrize(("ratio", "words"), [(0.85, "not ruled out"), (0.80, "suspected")])
def test_a_notice_says_suspected_from_one_in_twenty_on(ratio: float, words: str) -> None:
    """Propane through its own regulator reads 0.85 of a cold unit at times, and then burns twice its rating."""
    found = explain(CART, Reading(ratio=ratio), RING)
    assert (found.other_gas_probability > bench_limit("suspected gas").high) == (words == "suspected")
    stop = next(one for one in found.stops if "gas" in one.id)
    assert stop.heading == f"STOP. Wrong gas {words}: propane."
    assert stop.scope == ("bench" if words == "suspected" else "unit")  # an unlikely gas holds no other unit


def test_what_was_read_or_is_likely_stands_before_a_gas_that_is_only_not_ruled_out() -> None:
    """43 % above what is expected by the meter: a leak or the burner first, the gas of one in a hundred last."""
    found = explain(LP, Reading(ratio=1.43), RING)
    assert [one.id for one in found.stops] == ["leak-suspected", "overfire"]
    leak, overfire = found.stops  # with that gas it would be below its rating: one figure in the heading
    assert re.search("; computed for another gas instead: typical pipeline natural gas", overfire.why)
    assert "No flame, switch or ignition" in leak.do_first
    assert "close the supply" in leak.heading
    assert "leak" not in overfire.do_first
    assert (leak.scope, overfire.scope) == ("bench", "unit")
    assert found.other_gas_probability <= bench_limit("suspected gas").high


@pytest.mark.parametrize(("share", "stops"), [(0.0009, False), (0.0011, True)])
def test_another_gas_stops_above_one_in_a_thousand_unless_a_unit_as_drawn_is_likelier(
    share: float, stops: bool
) -> None:
    assert bool(gas_stops(share, 0.0)) is stops
    assert not gas_stops(share, 0.5)


def test_what_settles_a_leak_is_part_of_the_leak_test_before_a_release() -> None:
    """A meter at rest needs the supply open: no technician reads it while a stop is open, nor after a release."""
    found = explain(CART, Reading(ratio=1.34), RING)
    assert found.stop is not None
    assert found.stop.id == "leak-suspected"
    assert "the leak test before a release shows it" in found.stop.then
    assert {one.measurement: one.when for one in found.after_release} == {
        "meter at rest": "at release",
        "manifold pressure": "after release",
        "inlet pressure": "after release",
    }
    text = (
        CliRunner()
        .invoke(main, ["explain", str(demonstration_path()), "--burner", RING, "--measured", "11.8 kW gross"])
        .stdout
    )
    assert "at the release: meter at rest" in " ".join(text.split())
    assert "after a release: meter at rest" not in text


@pytest.mark.parametrize("reading", [Reading(ratio=0.77), Reading(ratio=1.3), Reading(ratio=2.0)])
@pytest.mark.parametrize("burner", [RING, None])
def test_nothing_is_measured_with_gas_while_a_stop_is_open(reading: Reading, burner: str | None) -> None:
    found = explain(CART, reading, burner)
    assert found.stops
    assert found.measurements
    for one in found.measurements:
        assert MEASUREMENTS[one.measurement]["gas"] == "off"
    for told in found.causes:
        assert not told.next_measurement or MEASUREMENTS[told.next_measurement]["gas"] == "off"
    later = {"manifold pressure", "inlet pressure", "meter at rest"}
    assert {one.measurement for one in found.after_release} <= later
    names = [one.measurement for one in found.measurements]
    assert {"gas label", "regulator marking", "orifice marking"} <= set(names)
    closed = [round(one.settles, 2) for one in found.measurements if one.hazard != "opened"]
    assert closed == sorted(closed, reverse=True)
    assert [one.hazard for one in found.measurements[len(closed) :]] == ["opened"] * (
        len(names) - len(closed)
    )


@pytest.mark.parametrize("burner", [RING, LEFT, "tile broiler", None])
@pytest.mark.parametrize("ratio", [0.95, 0.98, 1.0, 1.02, 1.05])
@pytest.mark.parametrize("appliance", [CART, LP])
def test_a_unit_near_its_expected_input_is_not_stopped(
    appliance: Appliance, ratio: float, burner: str | None
) -> None:
    found = explain(appliance, Reading(ratio=ratio), burner)
    assert found.stops == ()
    if burner is None and ratio >= 1.0:
        assert "clock each burner alone" in found.overfire_warning


def test_a_meter_that_moves_at_rest_is_called_a_leak() -> None:
    found = explain(CART, [Reading(ratio=1.08), Reading(at_rest="moves")], RING)
    assert found.stops[0].id == "odour"
    assert "leak" in found.stops[0].why
    assert found.groups[0].group == "leak"
    assert found.causes[0].cause == "leak"
    assert not found.measurements  # everybody out: nothing is read
    assert not found.after_release
    still = explain(CART, [Reading(ratio=1.08), Reading(at_rest="still")], RING)
    assert still.groups[0].group != "leak"
    assert cause(still, "other appliance").probability < 0.01
    assert "gas leaks" in cause(still, "leak").title


@pytest.mark.parametrize(
    ("ratio", "burner", "among"),
    [
        (0.503, RING, "other gas's orifice in one burner"),
        (1.253, RING, "regulator of the other gas"),
        (2.0, RING, "dial misread"),
        (0.25, RING, "dial misread"),
        (0.80, RING, "manifold pressure low"),
        (0.511, None, "other gas's orifice in all burners"),
        (3.2, RING, "other appliance"),
        (0.71, LEFT, "orifices interchanged"),
        (0.75, RING, "drill off by two or more"),
        (0.5, RING, "dial misread"),
        (1.2, RING, "manifold pressure high"),
        (1.15, LEFT, "neighbouring drill"),
        (1.15, RING, "leak"),
    ],
)
def test_a_cause_explains_the_reading_it_predicts(ratio: float, burner: str | None, among: str) -> None:
    first = [one.cause for one in explain(CART, Reading(ratio=ratio), burner).causes[:6]]
    assert among in first


def test_the_burner_that_got_the_larger_orifice_is_named_where_the_smaller_one_is_read() -> None:
    """Interchanged orifices: the reading is of one burner, the overfire of the other."""
    found = next(
        one for one in explain(CART, Reading(ratio=0.71), LEFT).causes if one.cause == "orifices interchanged"
    )
    assert found.true_input_ratio == pytest.approx(0.71, abs=0.05)
    assert found.hottest_burner_ratio == pytest.approx(1.0 / found.true_input_ratio, rel=1e-6)
    assert found.overfire
    other = found.words.partition(" and ")[2].partition(" interchanged")[0]
    over = 100.0 * (found.hottest_burner_ratio - 1.0)
    assert f"; {other} then burns about {over:.0f} % above its rate: do not light it" in found.words
    first, second = explain(CART, Reading(ratio=0.71, pressure_ratio=1.0), LEFT).warnings_first
    assert first.startswith("Reading low. Burner off.")
    assert second.startswith("Another burner may be above its rating (probability 38 %): ")
    assert second.endswith("above its rate: do not light it.")


def test_a_reading_that_nothing_predicts_fits_none() -> None:
    found = explain(CART, Reading(ratio=8.0), RING)
    assert not found.fits
    assert found.causes[0].cause == NONE


def test_dangerous_causes_are_listed_whatever_their_share() -> None:
    found = explain(CART, Reading(ratio=0.4), RING)
    dangerous = {one.cause for one in found.overfire}
    assert {"no regulator", "regulator of the other gas", "other gas connected"} <= dangerous
    assert min(one.probability for one in found.overfire) < 1e-6


def test_what_endangers_is_said_before_the_rest_but_for_the_likeliest() -> None:
    found = explain(CART, Reading(ratio=1.06), LEFT)
    assert "leak" in [one.group for one in found.groups[:3]]
    leak = cause(found, "leak")
    assert any(one.probability > leak.probability for one in found.causes[found.causes.index(leak) + 1 :])


def test_the_figure_that_was_read_of_one_burner_heads_its_overfire() -> None:
    """A drill size that would give more stands behind it; the reading is 12 % above by itself."""
    (notice,) = [one for one in explain(CART, Reading(ratio=1.12), LEFT).stops if one.id == "overfire"]
    assert "about 12 % above" in notice.heading
    assert "the reading is 12 % above" in notice.why


@pytest.mark.parametrize("over", [0.99, 1.04])
def test_a_pressure_overfires_a_burner_alone_as_with_all_on(over: float) -> None:
    """At one heat input of a burner the answer is one, though the supply gives it less with all on."""
    alone = expected_input(CART, LEFT)
    limit_W = max(1.10 * alone.gross_W, 1.05 * alone.burners[0].rate_W)
    stopped = []
    for burner in (LEFT, None):
        expected = expected_input(CART, burner)
        place = [one.name for one in expected.burners].index(LEFT)
        ratio = (over * limit_W / float(expected.each_W[place])) ** 2
        found = explain(CART, Reading(pressure_ratio=ratio), burner)
        stopped.append("overfire" in [one.id for one in found.stops])
    assert stopped == [over > 1.0] * 2


def test_natural_orifices_overfire_on_propane() -> None:
    """An LP unit with the orifices of natural gas left in burns about twice its input."""
    found = explain(LP, Reading(ratio=1.96), RING, method="scale")
    wrong = cause(found, "other gas's orifice in one burner")
    assert found.causes[0] is wrong
    assert wrong.overfire
    assert wrong.hottest_burner_ratio == pytest.approx(wrong.predicted_ratio)
    assert [one.id for one in found.stops] == ["overfire"]
    assert substitute_supplies(LP)[0].gas.gas.name == "natural-gas-typical"


TUBES = """
[appliance]
name = "tubes"
rating = "gross"
region = "us"
[supply]
gas = "propane-hd5"
pressure = "11 in w.c."
[[market]]
name = "Denver NG"
supply = { gas = "natural-gas-typical", pressure = "4 in w.c." }
altitude = "5280 ft"
altitude_policy = "4-percent-from-sea-level"
[[market]]
name = "Sea level NG"
supply = { gas = "natural-gas-typical", pressure = "4 in w.c." }
altitude = "0 ft"
[limits]
drills = ["number", "letter", "fraction", "metric"]
[[burner]]
name = "main tube"
rate = "12000 Btu/h"
count = 5
orifice = { drill = "#61" }
"""


def test_an_overfire_of_a_weighed_cylinder_is_no_gas_of_the_mains() -> None:
    """A reading of 1.6 with a coarse scale leaves pipeline gas a probability above that of a stop; in no cylinder."""
    unit = read_appliance_text(TUBES)
    found = explain(unit, Reading(ratio=1.62, relative_uncertainty=0.021), "main tube", method="scale")
    assert found.other_gas_probability > bench_limit("stop_wrong_gas").high
    assert found.stops[-1].id == "overfire"
    assert not {"wrong-gas", "gas-not-ruled-out"} & {one.id for one in found.stops}


@pytest.mark.parametrize(("more", "is_warned"), [((), True), (("--manifold-pressure", "4 in w.c."), False)])
def test_another_gas_behind_a_reading_in_its_band_stands_first(
    tmp_path: Path, more: tuple[str, ...], is_warned: bool
) -> None:
    """Propane at its own 11 in w.c. shows the meter of a natural gas unit nearly its flow, and burns at 2.5 of it."""
    file = tmp_path / "tubes.toml"
    file.write_text(TUBES, encoding="utf-8")
    read = ["--burner", "main tube", "--measured", "9.4 kBtu/h gross", *more]
    asked = ["explain", str(file), "--market", "Denver NG", *read]
    said = CliRunner().invoke(main, asked).output
    assert said.startswith("WARNING: Another gas may be connected") == is_warned
    assert ("what to do" in said) is not is_warned
    found = json.loads(CliRunner().invoke(main, [*asked, "--json"]).output)
    assert found["stops"] == []


METER = MeterEntry(revolutions=1, ambient_pressure_Pa=None, has_pressure=False, has_temperature=False)


@pytest.mark.parametrize(
    ("entry", "offered", "excluded"),
    [
        (METER, {"1 revolution taken, 2 passed: one less", "taken as 0 gauge"}, {"2 revolutions taken"}),
        (replace(METER, revolutions=20), {"20 revolutions taken, 19 passed: one more"}, {"9 revolutions"}),
        (replace(METER, ambient_pressure_Pa=100_900.0), set(), {"sea level", "barometer"}),
        # ISO 2533 at 1500 m: 845.56 hPa, of a unit whose file is for sea level
        (
            replace(METER, ambient_pressure_Pa=84_556.0),
            {"altitude than that of the barometer"},
            {"sea level"},
        ),
        (replace(METER, has_pressure=True), {"colder or warmer"}, {"taken as 0 gauge"}),
        (replace(METER, has_temperature=True), {"taken as 0 gauge"}, {"colder or warmer"}),
    ],
)
def test_causes_speak_of_what_was_entered(entry: MeterEntry, offered: set[str], excluded: set[str]) -> None:
    unit = unit_under_test(CART, RING, readings=[Reading(ratio=0.8, meter=entry)])
    words = "; ".join(variant.words for variant in hypotheses(unit).variants)
    assert [part for part in offered if part not in words] == []
    assert [part for part in excluded if part in words] == []


def possibilities(unit: Appliance) -> list[str]:
    """Words of every possibility that is weighed for a unit."""
    return [one for each in hypotheses(unit_under_test(unit)).variants for one in each.each or (each.words,)]


def test_an_orifice_of_the_other_gas_is_that_of_the_file() -> None:
    """In a unit as the file has it one of its market is fitted; in one built for the market one of the file is left."""
    present = replace(CART, region="us", limits=replace(CART.limits, drills=()))
    market = market_named(present, "A")
    built = built_for(market.appliance, market.target)
    for unit, other in ((present, built), (built, present)):
        words = "; ".join(possibilities(unit))
        for burner in other.burners:
            assert re.search(rf"orifices for [^;]*\b{burner.name} \({burner.orifice.drill}\)", words)


def test_the_gases_of_a_couple_have_no_orifices_of_their_own_to_be_left_in() -> None:
    """Those of both are the same holes: fitted they are no fault beside the right ones."""
    market = market_named(replace(CART, region="eu"), "B")
    words = " ".join(possibilities(built_for(market.appliance, market.target)))
    assert "G31 is connected" in words
    assert "orifices for G31" not in words
    assert "orifices for propane" in words


@pytest.mark.parametrize(
    ("options", "entry"),
    [
        (("--revolutions", "2"), MeterEntry(revolutions=2)),
        (("--barometer", "1009 mbar"), MeterEntry(ambient_pressure_Pa=100_900.0)),
        (("--altitude", "0 m"), MeterEntry(ambient_pressure_Pa=101_325.0)),
        (
            ("--meter-pressure", "25 mbar", "--gas-temperature", "18 C"),
            MeterEntry(has_pressure=True, gauge_pressure_Pa=2500.0, has_temperature=True),
        ),
    ],
)
def test_the_command_weighs_causes_by_what_stood_beside_the_timings(
    options: tuple[str, ...], entry: MeterEntry
) -> None:
    unit = in_air_of(CART, entry.ambient_pressure_Pa, RING).appliance
    expected_W, u = explain(unit, Reading(ratio=1.0), RING).expected_gross_W, standard_uncertainty("4 %", "")
    measured = f"{0.67e-3 * expected_W:.9f} kW gross"
    found = answer(str(demonstration_path()), "--burner", RING, "--measured", measured, *options)
    alike = explain(unit, Reading(ratio=0.67, relative_uncertainty=u, meter=entry), RING)
    shares = {one["cause"]: (one["words"], one["probability_percent"]) for one in found["causes"]}
    assert shares == {
        one.cause: (one.words, pytest.approx(100.0 * one.probability, abs=1e-3)) for one in alike.causes
    }
    without = explain(unit, Reading(ratio=0.67, relative_uncertainty=u), RING)
    assert [one.probability for one in without.causes] != [one.probability for one in alike.causes]


def test_causes_in_other_air_than_that_of_the_file_are_those_of_the_unit_in_it() -> None:
    """At 84.3 kPa a unit as it should be burns 0.91 of its rate at sea level, by the density of its gas."""
    unit = (str(demonstration_path()), "--burner", RING, "--measured")
    there = explain(CART, Reading(ratio=1.0), RING).expected_gross_W
    right = answer(*unit, f"{0.912e-3 * there} kW gross", "--barometer", "84.3 kPa", "--method", "scale")
    assert right["expected_gross_kW"] == pytest.approx(0.912e-3 * there, rel=3e-3)
    assert right["causes"][0]["cause"] == "as it should be"
    assert right["at_place"]["heat_input_gross_kW"] == pytest.approx(1e-3 * there, rel=3e-3)
    high = answer(*unit, f"{1e-3 * there} kW gross", "--barometer", "84.3 kPa")
    assert high["act_first"].startswith("Reading high")
    assert answer(*unit, f"{1e-3 * there} kW gross")["at_place"] is None


def test_a_unit_of_a_market_is_held_to_the_pressures_of_its_plan_and_the_regulator_of_the_file_may_be_left_in() -> (
    None
):
    demonstration = str(demonstration_path())
    unit = (demonstration, "--market", "A", "--burner", RING)
    row = plan_of(convert_market(market_named(CART, "A"))[0]).pressure_row(RING)
    assert row is not None
    assert row.high is not None
    above = answer(*unit, "--manifold-pressure", f"{1.01 * row.high} Pa")
    assert above["manifold"]["pressure_high_mbar"] == pytest.approx(row.high / 100.0)
    assert [one["id"] for one in above["stops"]] == ["pressure-band"]
    left = answer(*unit, "--manifold-pressure", "17.4 mbar", "--measured", "6.8 kW gross")
    assert left["causes"][0]["cause"] == "regulator of the other gas"


def test_a_reading_of_several_may_state_its_own_revolutions_and_a_scale_has_none() -> None:
    demonstration = str(demonstration_path())
    own = answer(demonstration, "--reading", f"{RING}: 15 kBtu/h gross, 1 revolution")
    of_all = answer(demonstration, "--reading", f"{RING}: 15 kBtu/h gross", "--revolutions", "1")
    assert own["causes"] == of_all["causes"]
    words = ("explain", demonstration, "--measured", "5 kW gross", "--method", "scale", "--revolutions", "2")
    refused = CliRunner().invoke(main, words)
    assert refused.exit_code == 2
    assert refused.stderr == 'error: --revolutions = "2": is of a reading by meter\n'


def test_a_drill_that_is_off_is_one_of_the_region() -> None:
    """In Europe the next sizes of 0.95 mm are 0.90 and 1.00 mm, every 0.05 mm (ISO 235, memory): no number drill."""
    bore = replace(CART.burners[3].orifice, drill="0.95 mm", diameter_m=0.95e-3)
    ring = replace(CART.burners[3], orifice=bore)
    here = replace(CART, region="eu", burners=(ring,), limits=replace(CART.limits, drills=()))
    words = [variant.words for variant in hypotheses(unit_under_test(here)).variants]
    off = [text for text in words if f"for 0.95 mm in {RING}" in text]
    assert {"0.90 mm", "1.00 mm"} <= {text.partition(" for")[0] for text in off}
    assert not [text for text in off if "#" in text]


def test_by_scale_there_is_no_meter_to_misread() -> None:
    names = {one.cause for one in explain(LP, Reading(ratio=0.5), RING, method="scale").causes}
    assert not names & {"dial misread", "revolutions miscounted", "meter error", "meter pressure forgotten"}


@pytest.mark.parametrize(
    ("ratio", "stop", "cause"),
    [(0.8, "pressure-low", "set low or worn"), (1.15, "pressure-band", "set high")],
)
def test_the_stop_of_a_pressure_outside_its_band_names_its_likeliest_cause(
    ratio: float, stop: str, cause: str
) -> None:
    """The page shows the stop alone: it says what the list of causes begins with."""
    found = explain(LP, Reading(pressure_ratio=ratio), RING)
    (why,) = (one.why for one in found.stops if one.id == stop)
    assert why.startswith("likeliest, probability ")
    assert cause in why
    assert max(found.causes, key=lambda one: one.probability).words in why


def test_a_cylinder_without_a_meter_is_weighed_again_as_long_as_its_scale_needs() -> None:
    """20 digits of 30 g at the rate of the ring; a scale of 1 g is read well within the half hour of the table."""
    minutes = []
    for digit_kg in (0.001, 0.03):
        found = explain(LP, Reading(ratio=0.95, scale_digit_kg=digit_kg), RING, method="scale")
        by_name = {one.measurement: one.time_min for one in found.measurements}
        assert "meter" not in " ".join(by_name)
        minutes.append(by_name["weigh again"])
    flow_kg_per_s = found.expected_gross_W / 50.0e6  # about, of propane
    assert minutes == [30.0, pytest.approx(20.0 * 0.03 / flow_kg_per_s / 60.0, rel=0.03)]


@pytest.mark.parametrize("row", tables.rows("next_measurements"), ids=lambda row: row["measurement"])
def test_a_step_that_opens_a_gas_part_says_how(row: tables.Row) -> None:
    if row["hazard"] == "opened":
        assert all(word in row["title"] for word in ("gas off", "cool", "qualified person", "leak test"))
        assert row["gas"] == "off"
    if "pressure" in row["measurement"]:
        assert all(word in row["title"] for word in ("gas off", "qualified person", "leak test"))


@pytest.mark.parametrize("ratio", [0.88, 0.9, 0.95, 1.08])
@pytest.mark.parametrize("burner", [LEFT, RING, None])
def test_of_the_steps_that_are_worth_it_a_gas_part_is_opened_last(ratio: float, burner: str | None) -> None:
    found = explain(CART, Reading(ratio=ratio), burner)
    assert not found.stops
    most = max(one.information_bit for one in found.measurements)
    worth = [one.hazard for one in found.measurements if one.information_bit >= 0.25 * most]
    assert worth == sorted(worth, key=lambda hazard: hazard == "opened")
    assert all(0.0 <= one.settles <= 1.0 + 1e-9 for one in found.measurements)


@pytest.mark.parametrize(
    ("ratio", "burner", "next_one"),
    [
        (0.9, RING, "manifold pressure"),
        (0.88, RING, "manifold pressure"),
        (1.08, LEFT, "meter at rest"),
        (0.77, RING, "gas label"),
    ],
)
def test_the_next_measurement_separates_the_rivals(ratio: float, burner: str | None, next_one: str) -> None:
    best = explain(CART, Reading(ratio=ratio), burner).next_measurement
    assert best is not None
    assert best.measurement == next_one


def test_turns_that_may_be_miscounted_are_counted_again_before_anything_is_looked_for() -> None:
    """Two turns entered as one read half; of a file without markets, whose orifices would read half as well."""
    meter = MeterEntry(revolutions=1, ambient_pressure_Pa=101325.0, has_pressure=True, has_temperature=True)
    alone = replace(CART, markets=())
    found = explain(alone, Reading(ratio=0.5, pressure_ratio=1.0, meter=meter), RING)
    by_name = {one.cause: one for one in found.causes}
    again = by_name["revolutions miscounted"].next_measurement
    assert again == "clock again"
    assert "counted aloud" in MEASUREMENTS[again]["title"]
    assert by_name["dial misread"].next_measurement == "dial plate"
    assert found.next_measurement is not None
    assert (found.next_measurement.measurement == again) is (
        found.causes[0].cause == "revolutions miscounted"
    )


def test_the_orifice_that_a_market_of_the_file_names_explains_its_own_reading() -> None:
    """1.55 mm of market A in the ring drilled #44: (1.55 / 2.184)^2 = 0.504, and no half of a dial plate."""
    found = explain(CART, Reading(ratio=0.504, pressure_ratio=1.0), RING)
    assert found.causes[0].cause == "other gas's orifice in one burner"
    assert "1.55 mm" in found.causes[0].words


def on_G20(market: str) -> Appliance:
    """A burner on G20 of a file with another market."""
    lines = (
        'appliance = { name = "a", rating = "net", region = "eu" }',
        'supply = { gas = "G20", pressure = "20 mbar" }',
        f'market = [{{ name = "other", supply = {market} }}]',
        'burner = [{ name = "tube", rate = "3.5 kW", orifice = { drill = "1.38 mm" } }]',
    )
    return read_appliance_text("\n".join(lines))


def test_a_gas_that_is_only_not_ruled_out_names_what_is_likelier() -> None:
    """The orifice of G30 left in reads 0.46: (0.94 / 1.38)^2."""
    found = explain(on_G20('{ gas = "G30", pressure = "30 mbar" }'), Reading(ratio=0.45), "tube")
    (stop,) = found.stops
    assert stop.id == "gas-not-ruled-out"
    assert "; likelier, probability 8" in stop.why
    assert stop.why.endswith(": orifices for G30 in tube (0.94 mm)")


@pytest.mark.parametrize(("pressure_ratio", "cause", "words"), [
    (1.0, "other gas's orifice in one burner", "orifices for G30 at 50.0 mbar (20.1 in w.c.) in tube (0.82 mm)"),
    (50 / 30, "regulator of the other gas", "regulator for G30 at 50.0 mbar (20.1 in w.c.)"),
])  # fmt: skip
def test_what_a_change_of_pressure_left_in_a_unit_is_among_its_causes(
    pressure_ratio: float, cause: str, words: str
) -> None:
    """Of a change from 50 to 30 mbar of one gas: the orifice of 50 mbar, or its regulator; never the gas."""
    made = "\n".join(
        (
            'appliance = { name = "a", rating = "net", region = "eu" }',
            'supply = { gas = "G30", pressure = "50 mbar" }',
            'market = [{ name = "NL", supply = { gas = "G30", pressure = "30 mbar" } }]',
            'burner = [{ name = "tube", rate = "3.5 kW", orifice = { drill = "0.82 mm" } }]',
        )
    )
    file = read_appliance_text(made)
    unit = built_for(file, targets_of(file)[0].target)
    left = (
        (0.82e-3 / unit.burners[0].orifice.diameter_m) ** 2 if pressure_ratio == 1.0 else pressure_ratio**0.5
    )
    found = explain(unit, Reading(ratio=left, pressure_ratio=pressure_ratio), "tube")
    assert found.other_gas_probability < 0.01
    assert words in {each.words for each in found.causes if each.cause == cause}
    assert found.causes[0].cause == cause


def test_a_reading_in_its_band_at_a_pressure_in_its_band_raises_no_other_gas() -> None:
    """G25 by G20's orifice reads 4 to 9 % low: within the band it is no stop, unless the pressure was not read."""
    unit = on_G20('{ gas = "G25", pressure = "20 mbar" }')
    for ratio in (0.953, 0.97, 1.0, 1.04):
        assert explain(unit, Reading(ratio=ratio, pressure_ratio=1.0), "tube").stops == ()


def test_a_measurement_that_cannot_differ_tells_nothing() -> None:
    told = {one.measurement: one.settles for one in explain(CART, Reading(ratio=0.9), RING).measurements}
    assert told["gas label"] < 0.02  # all rivals have the right gas
    assert "scale" not in told  # natural gas does not come from a cylinder
    assert "one burner at a time" not in told  # one burner is on
    assert "manifold pressure" in told
    read = explain(CART, Reading(ratio=0.9, pressure_ratio=1.0), RING)
    assert "manifold pressure" not in {one.measurement for one in read.measurements}


def test_an_own_table_of_causes_made_by_0_1_0_is_read(tmp_path: Path) -> None:
    own = tmp_path / "causes.csv"
    head = "cause,title,prior,low,high,unit,method,needs,source,place,provenance,note\n"
    own.write_text(
        head
        + "as it should be,fine,1,,,,any,,shop,count,measured here,\n"
        + "part blockage,an insect,1,0.3,0.95,of the flow,any,,shop,count,measured here,\n"
    )
    found = explain(CART, Reading(ratio=0.5), RING, own_causes=own)
    assert [one.cause for one in found.causes] == ["part blockage", "as it should be"]
    assert found.causes[0].group == "orifices"
    own.write_text(head + "gremlins,bad,1,,,,any,,shop,count,measured here,\n")
    with pytest.raises(UserError, match="gremlins"):
        explain(CART, Reading(ratio=0.5), RING, own_causes=own)


@pytest.mark.parametrize("ratio", [0.0, -1.0, float("nan"), float("inf"), 1e4])
def test_a_ratio_that_cannot_be_is_refused(ratio: float) -> None:
    with pytest.raises(UserError, match="cannot be"):
        explain(CART, Reading(ratio=ratio), RING)


def test_manifold_check_holds_pressure_and_input_together() -> None:
    nominal = CART.supply.gauge_pressure_Pa
    same = manifold_check(CART, nominal, RING)
    assert same.expected_gross_W == pytest.approx(same.nominal_gross_W)
    assert same.pressure_verdict == "within"
    low = manifold_check(CART, 0.25 * nominal, measured_gross_W=15_000.0)
    assert low.pressure_verdict == "outside"
    assert low.expected_gross_W == pytest.approx(0.5 * low.nominal_gross_W, rel=0.01)
    assert low.ratio == pytest.approx(15_000.0 / low.expected_gross_W)
    with pytest.raises(UserError, match="is not a burner"):
        manifold_check(CART, nominal, "stockpot")


@pytest.mark.parametrize(
    ("inches", "verdict", "said", "group"),
    [
        (
            5.4,
            "outside",
            "account for the reading",
            "regulator",
        ),  # 23 % under the nominal: it is the pressure
        (6.5, "near", "less than this pressure gives", "orifices"),  # 7 % under: it is not the pressure alone
        (7.0, "within", "less than this pressure gives", "orifices"),
    ],
)
def test_a_pressure_that_was_read_settles_what_it_settles(
    inches: float, verdict: str, said: str, group: str
) -> None:
    reading = Reading(ratio=3200.0 / 3661.0, pressure_ratio=inches / NOMINAL_IN)
    found = explain(CART, reading, LEFT)
    assert found.manifold is not None
    assert found.manifold.pressure_verdict == verdict
    assert said in found.manifold.text
    assert found.groups[0].group == group
    is_stopped = [one.id for one in found.stops] == ["pressure-low"]  # what needs gas comes after a release
    assert is_stopped is (verdict == "outside")
    best = max(found.after_release, key=lambda one: one.settles) if is_stopped else found.next_measurement
    assert best is not None
    assert best.settles > 0.1
    if group == "regulator":
        assert found.groups[0].probability > 0.95
        assert best.measurement == "inlet pressure"


LOW_PRESSURE = replace(
    CART, supply=replace(CART.supply, gauge_pressure_Pa=4.0 * INCH_OF_WATER_PA, train=None)
)  # a regulator's outlet of 4 in w.c., which no row of supply pressures has
# highest by hand: 10.5 and 13 in w.c. of the rows of the supply; none at 4 in: p ~ I^2, 1.1^2 x 4 = 4.84 in w.c.
HIGHEST_IN = {"CART": (CART, 10.5), "LP": (LP, 13.0), "LOW": (LOW_PRESSURE, 4.84)}


@pytest.mark.parametrize("ratio", [None, 0.3, 0.5, 0.67, 0.77, 0.9, 1.0, 1.3])  # no meter, low, within, high
@pytest.mark.parametrize(
    ("unit", "inches"),
    [("CART", 10.6), ("CART", 14.0), ("LP", 13.5), ("LOW", 4.9), ("LOW", 6.0), ("LOW", 11.0)],
)
def test_a_pressure_above_its_range_stops_the_test_whatever_the_meter_shows(
    unit: str, inches: float, ratio: float | None
) -> None:
    """A valve half open or a turn missed hides the other gas from the meter, not from the manometer."""
    appliance, highest = HIGHEST_IN[unit]
    inch = INCH_OF_WATER_PA / expected_input(appliance, LEFT).manifold_Pa
    found = explain(appliance, Reading(ratio=ratio, pressure_ratio=inches * inch), LEFT)
    assert found.manifold is not None
    assert found.manifold.highest_Pa == pytest.approx(highest * INCH_OF_WATER_PA, rel=1e-4)
    stops = [one.id for one in found.stops]
    assert "pressure" in stops
    assert {"wrong-gas", "gas-not-ruled-out"} & set(stops) or OF_OTHER_GAS in " ".join(
        one.why for one in found.stops
    )
    if ratio is None:
        below = explain(appliance, Reading(pressure_ratio=0.99 * highest * inch), LEFT)
        assert "pressure" not in [one.id for one in below.stops]


def test_command() -> None:
    found = answer(str(demonstration_path()), "--burner", RING, "--measured", "15.4 kBtu/h gross")
    first = found["causes"][0]
    assert {
        "cause",
        "group",
        "predicted_ratio",
        "true_input_ratio",
        "probability_percent",
        "next_measurement",
    } <= set(first)
    assert first["cause"] == "other gas's orifice in one burner"
    assert first["predicted_ratio"] == pytest.approx(0.503, abs=0.03)
    assert found["next_measurement"]["settles_percent"] > 0
    assert "no regulator" in found["overfire_causes"]


def test_a_unit_built_for_a_market_is_explained_with_its_orifices() -> None:
    """Market A is propane: 15.4 kBtu/h is near its rating, where the natural gas of the file has none of its parts."""
    first = demonstration().markets[0]
    built = changed(demonstration(), targets_of(demonstration())[0].target)
    words = (str(demonstration_path()), "--burner", RING, "--measured", "15.4 kBtu/h gross")
    found = answer(*words, "--market", first.name)
    own = explain(built, Reading(ratio=1.0), RING)
    assert found["expected_gross_kW"] == pytest.approx(own.expected_gross_W / 1e3, rel=1e-6)
    drill = next(one.orifice.drill for one in built.burners if one.name == RING)
    assert any(f"for {drill}" in one["words"] for one in found["causes"])


def test_the_stop_stands_first_in_the_terminal_and_in_json() -> None:
    asked = (str(demonstration_path()), "--burner", RING, "--measured", "6.9 kW gross")
    text = CliRunner().invoke(main, ["explain", *asked]).stdout
    assert text.startswith("WARNING: STOP. Wrong gas suspected: propane.")
    found = answer(*asked)
    assert found["stop"]["id"] == found["stops"][0]["id"] == "wrong-gas"
    assert found["after_release"]
    assert answer(str(demonstration_path()), "--burner", RING, "--measured", "8.9 kW gross")["stop"] is None


@pytest.mark.parametrize("rate", ["60 kBtu/h net", "6.9 kW gross", "95 kBtu/h gross", "120 kBtu/h gross"])
def test_the_text_speaks_to_a_technician(rate: str) -> None:
    text = CliRunner().invoke(main, ["explain", str(demonstration_path()), "--measured", rate]).stdout
    assert "would read" in text
    assert "true input" in text
    for word in (" bit", "predicts", "nothing is wrong", "relight", "light again", "..."):
        assert word not in text
    printed = " ".join(text.split())
    causes = answer(str(demonstration_path()), "--measured", rate)["causes"]
    for one in sorted(causes, key=lambda cause: -cause["probability_percent"])[:4]:
        assert one["probability_percent"] < 0.5 or f"if so: {one['words'].partition(' (')[0]}" in printed
    causes_alone = text[re.search(r"\ncause +would read", text).start() :].partition("\nNotes\n")[0]
    assert max(map(len, causes_alone.splitlines())) <= 80


def test_the_command_takes_several_readings_at_once() -> None:
    found = answer(
        str(demonstration_path()),
        "--reading", f"{LEFT}: 3.2 kW gross, 6.9 inH2O",
        "--reading", f"{LEFT}: 1.2 kW gross, low",
        "--reading", f"{RING}: 8.9 kW gross, meter",
        "--reading", "all: 6.8 inH2O",
        "--meter-at-rest", "still",
    )  # fmt: skip
    assert [one["burner"] for one in found["readings"]] == [LEFT, LEFT, RING, None, None]
    assert [one["is_low_rate"] for one in found["readings"]] == [False, True, False, False, False]
    assert found["groups"][0]["group"] == "orifices"
    assert LEFT in found["causes"][0]["words"]


@pytest.mark.parametrize(
    ("args", "words"),
    [
        ((), "--measured"),
        (("--measured", "18 kBtu/h"), "gross or net"),
        (("--measured", "18 kBtu/h gross", "--burner", "stockpot"), "stock-pot ring"),
        (("--measured", "18 kBtu/h gross", "--other-gas", "propane"), "give both"),
        (("--measured", "18 kBtu/h gross", "--uncertainty", "0 %"), "accepted range"),
        (("--reading", "18 kBtu/h gross"), "a colon"),
        (("--reading", "all: 18 kBtu/h gross, 20 kBtu/h gross"), "another --reading"),
        (("--reading", "stockpot: 18 kBtu/h gross"), "stock-pot ring"),
        (("--reading", "tile broiler: 1 kW gross, low"), "turndown"),
        (("--study", "--faults", "0"), "number of faults"),
    ],
)
def test_bad_questions_are_refused(args: tuple[str, ...], words: str) -> None:
    result = CliRunner().invoke(main, ["explain", str(demonstration_path()), *args])
    assert (result.exit_code, result.stdout) == (2, "")
    assert words in result.stderr


@pytest.mark.parametrize(("ratio", "stop"), [(0.77, "wrong-gas"), (1.3, "overfire")])
def test_a_stop_of_a_net_rating_gives_net_figures(ratio: float, stop: str) -> None:
    """The rating stands in the words as its file states it: 30 000 Btu/h, read net."""
    found = explain(replace(demonstration(), rating="net"), Reading(ratio=ratio), "stock-pot ring")
    notice = next(one for one in found.stops if one.id == stop)
    words = " ".join(notice.lines())
    assert ") net" in words
    assert "gross" not in words


def test_what_is_remembered_follows_the_files_it_came_from(tmp_path: Path) -> None:
    """The same unit and causes as long as nothing changes; a table changed on the disk is read anew."""
    own, stock = tmp_path / "causes.csv", tmp_path / "stock.csv"
    shipped = (tables.package_dir() / "tables" / "data" / "causes.csv").read_text(encoding="utf-8")
    own.write_text(shipped, encoding="utf-8")
    stock.write_text("part,size\nOR-54,#54\nOR-44,#44\n", encoding="utf-8")
    cart = replace(CART, tables=replace(CART.tables, stock=stock))
    unit = unit_under_test(cart, LEFT)
    before = hypotheses(unit, own)
    assert unit_under_test(cart, LEFT) is unit
    assert hypotheses(unit, own) is before
    assert {drill.name for drill in unit.drills} == {"#54", "#44"}

    stock.write_text("part,size\nOR-54,#54\nOR-44,#44\nOR-42,#42\n", encoding="utf-8")
    own.write_text(shipped.replace("no fault,0.2,", "no fault,0.45,"), encoding="utf-8")
    assert {drill.name for drill in unit_under_test(cart, LEFT).drills} == {"#54", "#44", "#42"}
    assert hypotheses(unit, own).priors[0] > before.priors[0]
    for other in (unit_under_test(cart, RING), unit_under_test(cart, LEFT, "scale")):
        assert other is not unit
    low = unit_under_test(cart, LEFT, readings=[Reading(ratio=1.0, is_low_rate=True)])
    assert low.firings[0].low


def test_another_gas_of_the_files_markets_is_suspected_with_its_own_regulator() -> None:
    """Butane at 29 mbar on orifices for propane at 50 mbar, both third family: only the file's market names it.

    The volume that passes follows Q = C (p/d)^(1/2); relative densities 2.075 of G30 and 1.550 of G31: EN 437, table 2
    (memory).
    """
    unit = changed(
        replace(CART, region="eu"), ConversionTarget(gas=load("G31"), gauge_pressure_Pa=5000.0, train="")
    )
    assert "G30 at 29.0 mbar (11.6 in w.c.)" in [one.words for one in substitute_supplies(unit)]
    share = 29.0 / 50.0
    read = Reading(ratio=(share * 1.550 / 2.075) ** 0.5, pressure_ratio=share)
    found = explain(unit, read, RING)
    assert found.causes[0].words == "G30 is connected with its own regulator"
    assert [one.id for one in found.stops] == ["wrong-gas", "pressure-low"]
    without = explain(replace(unit, markets=()), read, RING)
    assert without.other_gas_probability < 0.01
