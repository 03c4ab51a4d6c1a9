"""What an explanation says: readings that contradict, every burner read, the basis, and what settles a cause."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from click.testing import CliRunner

from burnerlab.appliance import demonstration, demonstration_path
from burnerlab.bench.decision_rule import bench_limit
from burnerlab.bench.faults.explanation import explain
from burnerlab.bench.faults.fault_study import shop_for
from burnerlab.bench.faults.scenarios import NONE, figure_layout, fit_of, hypotheses
from burnerlab.bench.faults.simulation import simulate
from burnerlab.bench.reading.readings import Reading
from burnerlab.bench.unit import unit_under_test
from burnerlab.cli import main

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
    assert f"{LEFT}, rated 3.66 kW (12.5 kBtu/h) gross, may really fire at" in said
    net = text("--burner", RING, "--measured", "9.5 kW net")
    assert "kW gross" in net
    assert not re.search(r"\d kW(?! gross| \()", net)
    certain = text("--measured", "60 kW gross", "--burner", RING)
    assert "e+02" not in certain


def test_the_percentage_of_the_stop_is_that_of_the_reading() -> None:
    line = ["clock", DEMO, "--burner", LEFT, "--volume", "1 ft3", "--time", "240 s", "--json"]
    told = json.loads(CliRunner().invoke(main, line).stdout)
    assert f"about {told['deviation_percent']:.0f} % above rating" in told["stop"]["heading"]
