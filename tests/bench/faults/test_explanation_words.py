"""What an explanation says: readings that contradict, every burner read, the basis, and what settles a cause."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from click.testing import CliRunner

from burnerlab.appliance import convert, demonstration, demonstration_path
from burnerlab.bench.decision_rule import READING_HIGH, READING_LOW, bench_limit
from burnerlab.bench.faults.explanation import explain
from burnerlab.bench.faults.fault_study import shop_for
from burnerlab.bench.faults.scenarios import NONE, figure_layout, fit_of, hypotheses
from burnerlab.bench.faults.simulation import simulate
from burnerlab.bench.reading.readings import Reading
from burnerlab.bench.reading_plan import converted_for, plan_of
from burnerlab.bench.stop import share_words
from burnerlab.bench.unit import unit_under_test
from burnerlab.cli import main
from burnerlab.page.result_text import cause_lists

CART = demonstration()
DEMO = str(demonstration_path())
LEFT, RING = "griddle tube left", "stock-pot ring"
APART = ("--reading", f"{LEFT}: 3.2 kW gross, 5.4 inH2O", "--reading", f"{RING}: 8.9 kW gross")


def text(*args: str) -> str:
    done = CliRunner().invoke(main, ["explain", DEMO, *args])
    assert done.exit_code == 0, done.output
    return " ".join(done.stdout.split())


def answer(*args: str) -> dict[str, Any]:
    told: dict[str, Any] = json.loads(CliRunner().invoke(main, ["explain", DEMO, *args, "--json"]).stdout)
    return told


def test_readings_that_contradict_are_said_to_and_every_burner_is_named() -> None:
    """A low manifold pressure read at one burner starves the other as well, and that one read right."""
    said, told = text(*APART), answer(*APART)
    assert "these readings do not fit together" in said
    assert f"under test {LEFT}, {RING}" in said
    assert "look at" not in said.partition("cause if so")[0]
    assert told["burners"] == [LEFT, RING]
    assert (told["readings_fit_together"], told["fits"]) == (False, True)
    fitting = answer(*APART[:3], f"{RING}: 7.8 kW gross")
    assert fitting["readings_fit_together"]


def test_sets_of_readings_of_one_unit_fit_together() -> None:
    """Of units with any one fault, a burner clocked and its pressure read after: one in a hundred contradicts."""
    pair = [Reading(ratio=1.0), Reading(pressure_ratio=1.0)]
    h = hypotheses(unit_under_test(CART, LEFT, readings=pair))
    named = [cause.name for cause in h.causes if cause.name != NONE]
    units = simulate(shop_for(h, LEFT, 5), named * 8, 0.02)
    layout, apart = figure_layout(h.unit, pair), []
    for ratio, pressure in zip(units.ratio, units.pressure_ratio, strict=True):
        read = [Reading(ratio=float(ratio)), Reading(pressure_ratio=float(pressure))]
        apart.append(fit_of(h, layout, read) < bench_limit("readings together").low)
    assert len(apart) >= 200
    assert sum(apart) <= 0.01 * len(apart)


def test_two_readings_of_one_burner_a_fifth_apart_do_not_fit() -> None:
    twice = explain(CART, [Reading(ratio=0.8, burner=RING), Reading(ratio=1.0, burner=RING)])
    assert not twice.readings_fit_together
    assert explain(
        CART, [Reading(ratio=0.99, burner=RING), Reading(ratio=1.01, burner=RING)]
    ).readings_fit_together
    assert explain(CART, Reading(ratio=0.6), RING).fit_probability == 1.0


@pytest.mark.parametrize("ratio", [1.3, 0.77])
def test_a_leak_and_a_meter_error_are_not_settled_by_an_orifice(ratio: float) -> None:
    causes = explain(CART, Reading(ratio=ratio), RING).causes
    settle = {one.cause: one.next_measurement or f"later: {one.after_release}" for one in causes}
    assert settle["leak"] == "later: meter at rest"
    assert settle["meter error"] == "meter certificate"
    assert settle["drill off by two or more"] == "orifice marking"


def test_a_stop_names_the_burner_its_rating_and_its_basis() -> None:
    said = text("--measured", "32.2 kW gross")
    assert f"{RING}, rated 8.79 kW gross, would fire at" in said  # the one farthest above its limit
    net = text("--burner", RING, "--measured", "9.5 kW net")
    assert "kW gross" in net
    assert not re.search(r"\d kW(?! gross| \()", net)
    certain = text("--measured", "60 kW gross", "--burner", RING)
    assert "e+02" not in certain


def test_another_gas_and_an_overfire_of_one_reading_are_one_stop() -> None:
    """Natural gas at 7 in w.c. on a unit for propane at 11: below its rating, and above it with propane; one heading,
    and what the other figure is computed for."""
    propane = converted_for(CART, plan_of(convert(CART, "propane", 2740.0)))
    assert propane is not None
    stops = {
        one.id: one for one in explain(propane, Reading(ratio=1.27, pressure_ratio=7.0 / 11.0), RING).stops
    }
    assert list(stops) == ["wrong-gas", "pressure-low"]
    assert "below the rated heat input" in stops["wrong-gas"].do_first
    instead = (
        "the reading is 59 % above the heat input calculated at the pressure read"  # 1.27 / sqrt(7 / 11)
    )
    assert f"; computed for the gas of the unit instead: {instead}" in stops["wrong-gas"].why


def test_the_percentage_of_the_stop_is_that_of_the_reading() -> None:
    line = ["clock", DEMO, "--burner", LEFT, "--volume", "1 ft3", "--time", "240 s", "--json"]
    told = json.loads(CliRunner().invoke(main, line).stdout)
    assert f"about {told['deviation_percent']:.0f} % above the rated heat input" in told["stop"]["heading"]


def test_what_can_overfire_is_listed_however_unlikely() -> None:
    """Under a head of its own, after the likely causes: what endangers first, then by the true input it would mean."""
    given = Reading(ratio=1.03)
    found = explain(CART, given, RING)
    said = text("--burner", RING, "--measured", "9.1 kW gross")
    listed = said.partition("less likely, and dangerous: the worst first")[2].partition("would read, true")[0]
    unlikely = {one.cause for one in found.overfire if one.probability < 0.01}
    assert len(unlikely) > 3
    assert all(name in listed for name in unlikely)
    lists = cause_lists(found, "metric")
    ratios = {one.words: one.hottest_burner_ratio for one in found.overfire}
    assert {one.words for one in (*lists.likely, *lists.rare)} >= set(ratios)
    order = [ratios[one.words] for one in lists.rare]
    assert order == sorted(order, reverse=True)


def test_outside_its_band_the_command_says_first_what_the_bench_says() -> None:
    """5 % about the rating of 3.663 kW: 3.95 kW lies above, 3.80 kW within, 3.40 kW below."""
    above = text("--burner", LEFT, "--measured", "3.95 kW gross")
    assert above.startswith(f"WARNING: {READING_HIGH}")
    assert "cause this reading alone" not in above
    assert text("--burner", LEFT, "--measured", "3.40 kW gross").startswith(f"WARNING: {READING_LOW}")
    within = answer("--burner", LEFT, "--measured", "3.80 kW gross")
    assert (within["act_first"], within["causes"][0]["cause"]) == (None, "as it should be")
    stopped = text("--burner", LEFT, "--measured", "6.1 kW gross")
    assert stopped.startswith("WARNING: STOP.")
    assert READING_HIGH not in stopped


def test_a_little_over_in_the_sum_may_be_one_burner_far_over() -> None:
    """Of six burners one with a larger orifice: the sum moves by its part alone, so each is clocked alone."""
    warning = answer("--measured", "30 kW gross")["overfire_warning"]
    assert "clock each burner alone" in warning
    assert float(re.search(r"(\d\.\d\d) of what", warning)[1]) > 1.2  # type: ignore[index]
    head = "WARNING: One burner may fire well above its rating"
    assert head in text("--measured", "30 kW gross").partition("under test")[0]
    expected = text("--measured", "27.5 kW gross")
    assert head not in expected
    assert head.removeprefix("WARNING: ") in expected.partition("Notes")[2]


def test_a_rating_at_half_again_the_pressure_fits_no_cause() -> None:
    """Input goes with the root of the pressure: at 27.4 mbar for 17.4 the orifices give 1.25 of the rating."""
    at = ("--burner", LEFT, "--manifold-pressure", "27.4 mbar", "--measured")
    assert not answer(*at, "3.66 kW gross")["readings_fit_together"]
    assert "the probabilities hold among the causes of the list alone" in text(*at, "3.66 kW gross")
    assert answer(*at, "4.58 kW gross")["readings_fit_together"]


def test_the_table_stands_by_share_and_marks_what_endangers() -> None:
    table = (
        CliRunner().invoke(main, ["explain", DEMO, "--measured", "30 kW gross"]).stdout.partition("---\n")[2]
    )
    rows = [row for row in table.partition("\n\n")[0].splitlines() if not row.startswith(" ")]
    shares = [float(re.findall(r" \d+\.\d(?!\d)", row)[-1]) for row in rows]
    assert shares == sorted(shares, reverse=True)
    assert [row for row in rows if row.startswith("leak (!)")]
    assert not rows[0].startswith("as it should be")


def test_an_overfire_stop_names_a_leak_where_one_is_among_the_likeliest() -> None:
    """A meter that turns faster counts gas wherever it goes; one burner 17 % over by a drill is no leak first."""
    leak = "a leak downstream of the meter, or another load"
    first = answer("--burner", LEFT, "--measured", "6.1 kW gross")["stop"]
    assert first["id"] == "leak-suspected"
    assert leak in first["then"]
    pressed = ("--burner", LEFT, "--measured", "4.58 kW gross", "--manifold-pressure", "27.4 mbar")
    assert [one["id"] for one in answer(*pressed)["stops"] if "leak" in one["id"]] == []


def test_a_reading_of_many_times_the_rating_is_asked_for_before_any_input_is_named() -> None:
    """11 cubic feet for 11 litres is a factor of 28; two and a half times the rating is where a slip is likely."""
    slip = "each figure and its unit is entered right"
    far = answer("--burner", LEFT, "--measured", "65 kW gross")["stop"]
    assert far["id"] == "overfire"
    assert slip in far["do_first"]
    assert "would fire" not in far["do_first"]
    near = answer("--burner", LEFT, "--measured", "8 kW gross")["stop"]
    assert slip not in near["do_first"]


def test_of_all_burners_together_no_single_one_is_given_the_sum() -> None:
    stop = answer("--measured", "18 kW gross")["stop"]
    assert stop["id"] == "wrong-gas"
    assert "true heat input of all burners together is about" in stop["do_first"]
    assert (
        f"true heat input of {LEFT} is about"
        in answer("--burner", LEFT, "--measured", "2.4 kW gross")["stop"]["do_first"]
    )


def test_a_wrong_gas_has_the_probability_of_the_cause_it_names() -> None:
    """The pressure was read at its nominal one: the other gas at this regulator, not that of both ways together."""
    found = explain(CART, Reading(ratio=0.6, pressure_ratio=1.0), "stock-pot ring")
    stop = next(one for one in found.stops if one.id in ("wrong-gas", "gas-not-ruled-out"))
    cause = max((one for one in found.causes if "connected" in one.words), key=lambda one: one.probability)
    assert stop.why.startswith(f"{cause.words}, probability {share_words(cause.probability)}")


def test_an_overfire_at_the_low_rate_is_held_against_the_low_rate_and_names_its_stop() -> None:
    """1.6 of the low rate is half of the rating: the STOP says above what, and what is likelier than an orifice."""
    found = explain(CART, Reading(ratio=1.6, pressure_ratio=1.0, burner="stock-pot ring", is_low_rate=True))
    stop = next(one for one in found.stops if one.id == "overfire")
    assert "above the low rate" in stop.heading
    assert "rated heat input" not in stop.heading
    assert "the low-rate stop of stock-pot ring is out of adjustment" in stop.why
