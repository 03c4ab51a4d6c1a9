"""Constants learned from a bench record: covered on simulated shops, refused where the record does not tell."""

from __future__ import annotations

import csv
import json
import re
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from simulated_shop import Plan as BenchPlan
from simulated_shop import Truth, simulate_shop

from burnerlab.appliance import Appliance, convert, demonstration, read_appliance, read_appliance_text
from burnerlab.appliance.conversion.convert import convert_to
from burnerlab.appliance.conversion.flame_stability import burner_stability
from burnerlab.appliance.conversion.markets import targets_of
from burnerlab.appliance.conversion.result import Finding
from burnerlab.bench.learning.calibration import Calibration, RecordSource, calibrate, write_tables
from burnerlab.bench.learning.discharge_coefficient import LogReadings, fit, outlying, whitened
from burnerlab.bench.learning.flame_limits import Sightings, threshold
from burnerlab.bench.learning.known_orifices import built_by_plans
from burnerlab.bench.learning.samples import PART_IN_DOUBT, ModelConstant, gather, ideal_input_W
from burnerlab.bench.plan_file import plan_json
from burnerlab.bench.reading_plan import converted_for, plan_of
from burnerlab.bench.record import BenchReading, Observation, Result, add_test, open_record
from burnerlab.bench.record.entry import BenchTest, PlanEntry
from burnerlab.bench.stop import stop_notice
from burnerlab.burner.burner import BurnerFuel, burner_fuel
from burnerlab.burner.coefficients import coefficients
from burnerlab.cli import main
from burnerlab.gas import Gas
from burnerlab.orifice.discharge_coefficient import shapes
from burnerlab.report.sheet.burners import evidence_words
from burnerlab.tables import read_csv, rows
from burnerlab.tables.problem import UserError

TRIALS = 80
STOVE = """
[appliance]
name = "two-hole stove"
model = "Lantern 2"
rating = "gross"
[supply]
gas = "propane"
pressure = "11 inH2O"
pressure_low = "1.7 kPa"
[[burner]]
name = "griddle"
kind = "tube"
rate = "27 kBtu/h"
turndown = "1:4"
orifice = { drill = "#53", shape = "tapered" }
ports = { diameter = "1.6 mm", count = 210, depth = "2 mm" }
throat = "16.5 mm"
shutter = { opening = "60 %", area = "300 mm2" }
"""
WIDE = (
    STOVE.replace('gas = "propane"', 'gas = "G20"')
    .replace('"1.6 mm", count = 210', '"2.8 mm", count = 60')
    .replace("1:4", "1:15")
    .replace('"1.7 kPa"', '"0.5 kPa"\npressure_high = "5.1 kPa"')
    .replace("300 mm2", "500 mm2")
)
RATIOS = (0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.4, 1.6, 2.0)
SPEEDS = {  # burning velocities of the fuels at those ratios [m/s], apart from the shipped tables
    "G20": (0.1922, 0.2723, 0.3384, 0.3787, 0.3816, 0.3349, 0.2333, 0.1383, 0.084, 0.042),
    "propane": (0.2500, 0.3200, 0.3700, 0.3950, 0.4050, 0.3800, 0.3150, 0.2210, 0.095, 0.034),
}


class Points:
    """Burning velocity between the points; nan outside them."""

    def __init__(self, name: str) -> None:
        self.richest, self.speeds = RATIOS[-1], SPEEDS[name]

    def __call__(self, equivalence_ratio, unburnt_temperature_K, pressure_Pa):
        log = np.interp(np.asarray(equivalence_ratio), RATIOS, np.log(self.speeds), left=np.nan, right=np.nan)
        return np.exp(log) * (np.asarray(unburnt_temperature_K) / 298.15) ** 1.75

    def relative_error(self, equivalence_ratio, unburnt_temperature_K):
        return np.full(np.shape(equivalence_ratio), 0.1)


KNOWN: dict[str, BurnerFuel] = {}


def fuels_with(own: Path | None):
    """Fuels with the user's own limit of yellow tipping."""
    return lambda gas: burner_fuel(gas, Points("propane"), own=own)


def fuels(gas: Gas) -> BurnerFuel:
    name = "G20" if gas.name.upper() == "G20" else "propane"
    if name not in KNOWN:
        KNOWN[name] = burner_fuel(gas, Points(name))
    return KNOWN[name]


@pytest.fixture(scope="module")
def stove() -> Appliance:
    return read_appliance_text(STOVE)


def drawn_truth(random: np.random.Generator) -> Truth:
    """A shop whose constants are as likely as the shipped rows say: lognormal, 90 % between low and high."""

    def draw(value: float, low: float, high: float) -> float:
        wider = max(np.log(high / value), np.log(value / low)) / 1.6449
        return float(value * np.exp(wider * random.standard_normal()))

    table = coefficients()
    names = (
        "entrainment theory", "inlet loss", "throat loss", "port discharge, thin", "lift scale",
        "yellow tip scale", "light-back factor",
    )  # fmt: skip
    rows = {name: draw(table[name].value, table[name].low, table[name].high) for name in names}
    return Truth(discharge={"tapered": draw(0.90, 0.85, 0.95)}, coefficients=rows)


def true_value(constant: ModelConstant, truth: Truth) -> float:
    return (truth.discharge if constant.table == "discharge" else truth.coefficients)[constant.row]


def covered(appliance: Appliance, plan: BenchPlan, seed: int) -> tuple[Counter[str], Counter[str]]:
    """In how many shops each constant was told, and in how many of these its interval held the truth."""
    random = np.random.default_rng(seed)
    told: Counter[str] = Counter()
    held: Counter[str] = Counter()
    for _ in range(TRIALS):
        truth = drawn_truth(random)
        found = calibrate(simulate_shop(truth, appliance, plan, random, fuels), appliance, fuels=fuels)
        for constant in found.constants:
            if constant.is_learned:
                told[constant.row] += 1
                held[constant.row] += constant.low <= true_value(constant, truth) <= constant.high
    return told, held


# the promise: 95 % intervals hold the truth in 90 to 99 % of 80 simulated shops


@pytest.mark.slow
def test_intervals_of_orifice_tube_lift_and_yellow_tips_cover_the_truth(
    stove: Appliance, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = BenchPlan(
        units=12, gauge_pressures_Pa=(1740.0,), openings=(0.3, 0.6, 1.0), watched=("lift", "yellow-tips"),
        with_air=True,
    )  # fmt: skip
    told, held = covered(stove, plan, seed=3)
    with capsys.disabled():
        sys.stdout.write("\n" + ", ".join(f"{row}: {held[row]} of {told[row]}" for row in told) + " ")
    wanted = (
        "tapered",
        "entrainment theory",
        "inlet loss",
        "throat loss",
        "lift scale",
        "yellow tip scale",
    )
    for row in wanted:
        assert told[row] > TRIALS / 2, row
        assert 0.90 <= held[row] / told[row] <= 0.99, f"{row}: {held[row]} of {told[row]}"


@pytest.mark.slow
def test_the_interval_of_light_back_covers_the_truth(capsys: pytest.CaptureFixture[str]) -> None:
    plan = BenchPlan(
        units=12,
        gauge_pressures_Pa=(600.0, 1740.0),
        openings=(0.6, 1.0),
        watched=("light-back",),
        with_air=True,
    )
    told, held = covered(read_appliance_text(WIDE), plan, seed=4)
    with capsys.disabled():
        sys.stdout.write(f"\nlight-back factor: {held['light-back factor']} of {told['light-back factor']} ")
    assert told["light-back factor"] > TRIALS / 2
    assert 0.90 <= held["light-back factor"] / told["light-back factor"] <= 0.99


# one shop


SHOP = Truth(
    discharge={"tapered": 0.868},
    coefficients={
        "entrainment theory": 0.95, "inlet loss": 1.3, "yellow tip scale": 1.06, "lift scale": 0.75,
    },
)  # fmt: skip
RICH_PLAN = BenchPlan(
    units=20, gauge_pressures_Pa=(1740.0, 2740.0), openings=(0.3, 0.6, 1.0), watched=("lift", "yellow-tips"),
    with_air=True,
)  # fmt: skip


@pytest.fixture(scope="module")
def shop(stove: Appliance):
    return simulate_shop(SHOP, stove, RICH_PLAN, np.random.default_rng(11), fuels)


@pytest.fixture(scope="module")
def learned(stove: Appliance, shop) -> Calibration:
    return calibrate(shop, stove, fuels=fuels)


def named(found: Calibration, row: str) -> ModelConstant:
    return next(constant for constant in found.constants if constant.row == row)


def test_units_readings_and_their_spread_are_stated(learned: Calibration) -> None:
    jet = named(learned, "tapered")
    assert (learned.units, jet.units, jet.readings) == (20, 20, 120)
    assert jet.spread == pytest.approx(SHOP.input_scatter, rel=0.3)
    assert named(learned, "inlet loss").spread == pytest.approx(SHOP.air_scatter, rel=0.3)
    assert jet.low < jet.value < jet.high
    assert jet.high - jet.low < 0.5 * (jet.prior_high - jet.prior_low)


def test_each_step_of_a_coefficient_follows_from_the_figures_before_it(stove: Appliance) -> None:
    """From the words alone: average and hole, their uncertainty, the weights, the interval."""
    plan = BenchPlan(units=5, gauge_pressures_Pa=(2740.0,))
    shop = simulate_shop(SHOP, stove, plan, np.random.default_rng(8), fuels)
    shop = [replace(test, readings=tuple(map(_gauge, test.readings))) for test in shop]
    jet = named(calibrate(shop, stove, fuels=fuels), "tapered")
    read, hole, spreads, units, known, interval = (
        [float(figure) for figure in re.findall(r"[-+]?\d+(?:\.\d+)?", step)] for step in jet.steps
    )
    gathered = gather(shop, stove).samples
    one = [sample.heat_input_gross_W / float(ideal_input_W([sample])[0]) for sample in gathered]
    assert read == pytest.approx([np.exp(np.mean(np.log(one))), 5], abs=6e-4)
    assert hole[1] == pytest.approx(read[0] / (1.0 + hole[0] / 100.0), abs=6e-4)
    assert spreads[0] == pytest.approx(np.linalg.norm(spreads[1:]), abs=0.02)
    assert spreads[2] == pytest.approx(100 * 0.02 / 2.0, abs=0.006)  # half of the gauge's 2 %
    assert units[0] == pytest.approx(100 * np.std(np.log(one), ddof=1), abs=0.006)
    assert units[3] == pytest.approx(100 * jet.spread, abs=0.006)
    assert spreads[-1] == pytest.approx(units[3] / units[4] ** 0.5, abs=0.006)
    weight = spreads[0] ** 2 / (spreads[0] ** 2 + known[1] ** 2)
    assert known[2:] == pytest.approx([100 * weight, 100 * (1 - weight)], abs=0.6)
    value = np.exp(weight * np.log(known[0]) + (1 - weight) * np.log(hole[1]))
    assert jet.value == pytest.approx(value, abs=1e-3)
    after = spreads[0] / 100 * (1 - weight) ** 0.5
    assert float(re.findall(r"\d+\.\d+", jet.why)[0]) == pytest.approx(100 * after, abs=0.011)
    assert np.log(jet.high / jet.low) / 2.0 == pytest.approx(interval[0] * after, rel=0.01)


def _gauge(reading: BenchReading) -> BenchReading:
    """A manifold pressure with a standard uncertainty of 2 %."""
    is_pressure = reading.quantity == "manifold_pressure"
    return replace(reading, standard_uncertainty=0.02 * reading.value) if is_pressure else reading


def test_a_heat_input_among_the_readings_tells_the_same(stove: Appliance) -> None:
    """As older records have it; what a test lacks is named, with how it is entered."""
    shop = simulate_shop(SHOP, stove, BenchPlan(units=5), np.random.default_rng(8), fuels)

    def moved(result: Result) -> BenchReading:
        spread = result.expanded_uncertainty
        return BenchReading(
            quantity=result.quantity,
            value=result.value,
            burner=result.burner,
            standard_uncertainty=None if spread is None else spread / 2.0,
        )

    older = [replace(t, readings=(*t.readings, *map(moved, t.results)), results=()) for t in shop]
    assert calibrate(older, stove, fuels=fuels) == calibrate(shop, stove, fuels=fuels)
    bare = [replace(test, results=(), observations=()) for test in shop]
    (left,) = gather(bare, stove).left_out
    assert left.why.startswith("a manifold pressure without a heat input")
    other = [replace(t, results=tuple(replace(r, burner="of none") for r in t.results)) for t in shop]
    (left,) = gather([replace(test, observations=()) for test in other], stove).left_out
    assert "are not of the same burner" in left.why


def test_a_shared_error_of_the_meter_is_not_averaged_away(stove: Appliance) -> None:
    """A hundred units on one meter know the coefficient no better than the meter."""
    plan = BenchPlan(units=100)
    found = calibrate(simulate_shop(SHOP, stove, plan, np.random.default_rng(2), fuels), stove, fuels=fuels)
    jet = named(found, "tapered")
    assert np.log(jet.high / jet.low) / 3.92 > 0.95 * SHOP.meter


def test_a_wrong_unit_is_named_and_left_out(stove: Appliance, shop) -> None:
    def doubled(result: Result) -> Result:
        return replace(result, value=1.25 * result.value)

    bad = [replace(t, results=tuple(map(doubled, t.results))) if t.serial == "S-0007" else t for t in shop]
    found, clean = calibrate(bad, stove, fuels=fuels), calibrate(shop, stove, fuels=fuels)
    jet = named(found, "tapered")
    assert jet.outliers == ("S-0007",)
    assert jet.value == pytest.approx(named(clean, "tapered").value, rel=0.002)
    assert any("S-0007" in caution for caution in found.cautions)


def test_a_clean_shop_has_no_outlier(learned: Calibration) -> None:
    assert learned.constants
    assert not any(constant.outliers for constant in learned.constants)


def test_what_was_never_near_its_limit_is_not_told() -> None:
    """No light-back at margins far above one says nothing of where it would be."""
    wide = read_appliance_text(WIDE)
    plan = BenchPlan(
        units=20, gauge_pressures_Pa=(5000.0,), openings=(0.6,), watched=("light-back",), with_air=True
    )
    found = calibrate(simulate_shop(SHOP, wide, plan, np.random.default_rng(5), fuels), wide, fuels=fuels)
    back = named(found, "light-back factor")
    assert not back.is_learned
    assert not back.is_in_table
    assert back.value == coefficients()["light-back factor"].value
    assert "does not tell" in back.why


@pytest.mark.parametrize("units", [1, 2])
def test_too_few_units_tell_nothing(stove: Appliance, units: int, tmp_path: Path) -> None:
    plan = replace(RICH_PLAN, units=units)
    found = calibrate(simulate_shop(SHOP, stove, plan, np.random.default_rng(6), fuels), stove, fuels=fuels)
    assert found.constants
    assert not found.written
    with pytest.raises(UserError, match="no table is written"):
        write_tables(found, RecordSource(file="a.sqlite", sha256="0" * 64), stove.tables, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_an_uncertain_meter_tells_no_coefficient(stove: Appliance) -> None:
    truth = replace(SHOP, meter=0.08)
    found = calibrate(
        simulate_shop(truth, stove, BenchPlan(), np.random.default_rng(7), fuels), stove, fuels=fuels
    )
    assert not named(found, "tapered").is_learned


def test_a_test_without_pressure_is_left_out_and_counted(stove: Appliance, shop) -> None:
    blind = [
        replace(t, readings=tuple(r for r in t.readings if r.quantity != "manifold_pressure")) for t in shop
    ]
    found = calibrate(blind, stove, fuels=fuels)
    assert found.constants == ()
    missing = "no manifold pressure beside a heat input, a primary aeration or an observation; record correct"
    assert [one.split(" ENTRY")[0] for one in found.cautions] == [missing]
    assert found.left_out[0].tests == len(shop)


@pytest.mark.parametrize(
    ("stop", "left"),
    [
        ("overfire", True),
        ("wrong-gas", True),
        ("other-gas", True),
        ("mark-differs", True),
        ("pressure", True),
        ("pressure-band", True),
        ("light-back", False),
    ],
)
def test_a_test_of_unknown_gas_or_rate_is_left_out_and_counted(
    stove: Appliance, shop, stop: str, left: bool
) -> None:
    words = dict.fromkeys(
        ("percent", "against", "read", "burner", "true", "gas", "doubt", "high", "highest", "limit"), "?"
    )
    stopped = [replace(t, stops=(stop_notice(stop, **words),)) for t in shop]
    found = gather(stopped, stove)
    assert bool(found.samples) != left
    assert any(f"not known what flowed: {len(shop)} tests" in one.words for one in found.left_out) == left


def test_a_heat_input_outside_its_band_tells_of_the_coefficient_only_beside_a_bore_that_was_read(
    stove: Appliance, shop
) -> None:
    bore = BenchReading(
        quantity="orifice_diameter", value=1.5e-3, burner="griddle", standard_uncertainty=2e-6
    )
    off = Result(quantity="deviation", value=0.06, burner="griddle", low=-0.05, high=0.05, verdict="outside")
    outside = [replace(test, results=(*test.results, off)) for test in shop]
    found = gather(outside, stove)
    assert found.samples == ()
    assert [(one.why, one.tests) for one in found.left_out] == [(PART_IN_DOUBT, len(shop))]
    assert gather([replace(t, readings=(*t.readings, bore)) for t in outside], stove).samples
    within = [replace(t, results=(*t.results, replace(off, verdict="near"))) for t in shop]
    assert gather(within, stove).samples == gather(shop, stove).samples


def test_a_measured_bore_goes_before_the_drill(stove: Appliance, shop) -> None:
    bore = 1.02 * stove.burners[0].orifice.diameter_m
    reading = BenchReading(
        quantity="orifice_diameter", value=bore, burner="griddle", standard_uncertainty=2e-6
    )
    measured = [replace(t, readings=(*t.readings, reading)) for t in shop]
    ratio = named(calibrate(measured, stove, fuels=fuels), "tapered").value
    ratio /= named(calibrate(shop, stove, fuels=fuels), "tapered").value
    assert ratio == pytest.approx(1.02**-2, rel=0.012)


def test_not_seen_is_no_observation_and_no_is_one(stove: Appliance, shop) -> None:
    def blank(one: Observation) -> Observation:
        return replace(one, answer="not seen")

    blanked = [replace(t, observations=tuple(map(blank, t.observations))) for t in shop]
    assert not any(sample.seen for sample in gather(blanked, stove).samples)
    assert any(seen is False for sample in gather(shop, stove).samples for seen in sample.seen.values())


# orifices that are known


def on_gas(test: BenchTest, gas: str, pressure_Pa: float = 1740.0) -> BenchTest:
    """The test of a unit converted to another gas: through an orifice of twice the area."""
    readings = [
        replace(r, value=pressure_Pa) if r.quantity == "manifold_pressure" else r for r in test.readings
    ]
    results = [replace(r, value=2.0 * r.value) for r in test.results]
    return replace(test, serial=f"N{test.serial}", gas=gas, readings=tuple(readings), results=tuple(results))


def test_a_converted_unit_does_not_move_the_coefficient(
    stove: Appliance, shop: tuple[BenchTest, ...], learned: Calibration
) -> None:
    converted = [on_gas(test, "natural-gas-typical") for test in shop]
    earlier = [
        replace(test, serial=f"P{test.serial}", plan_entries=(PlanEntry(plan="0" * 64, plan_row="01"),))
        for test in shop[:1]
    ]
    found = calibrate([*shop, *converted, *on_another_pressure(shop), *earlier], stove, fuels=fuels)
    assert found.constants == learned.constants
    assert found.units == learned.units
    no_bore = "no bore read, so that the orifice is not known"
    at = "at a manifold pressure outside 17.0 mbar (6.82 in w.c.) to 30.1 mbar (12.1 in w.c.) of the present supply"
    assert {one.why: one.tests for one in found.left_out} == {
        f"on typical pipeline natural gas, where the file has its orifices for propane, {no_bore}": len(shop),
        f"{at}, {no_bore}": len(shop),
        f"by a plan that is not one of this file, {no_bore}": 1,
    }
    assert {one.words for one in found.left_out} <= set(found.cautions)


def on_another_pressure(shop: tuple[BenchTest, ...]) -> list[BenchTest]:
    """Units for 50 mbar."""
    return [on_gas(test, "propane", 5000.0) for test in shop]


def test_a_bore_read_in_the_test_is_an_orifice_that_is_known(
    stove: Appliance, shop: tuple[BenchTest, ...]
) -> None:
    bore = BenchReading(
        quantity="orifice_diameter", value=1.9e-3, burner="griddle", standard_uncertainty=2e-6
    )
    converted = [on_gas(test, "natural-gas-typical") for test in shop]
    found = gather([replace(t, readings=(*t.readings, bore)) for t in converted], stove)
    assert found.left_out == ()
    assert {one.burner.orifice.diameter_m for one in found.samples} == {bore.value}
    assert gather(converted, stove).samples == ()
    (burner,) = stove.burners
    of_no_drill = replace(burner, orifice=replace(burner.orifice, diameter_m=1.2e-3, is_calculated=True))
    without = replace(stove, burners=(of_no_drill,))
    assert gather(shop, without).samples == ()
    read = gather([replace(t, readings=(*t.readings, bore)) for t in shop], without)
    assert {one.burner.orifice.diameter_m for one in read.samples} == {bore.value}
    assert len(read.samples) == len(shop)


def test_a_plan_of_the_file_names_the_orifice(stove: Appliance, tmp_path: Path) -> None:
    """Units converted by a plan that lies beside the file tell the coefficient that the same shop has by it."""
    plan = plan_of(convert(stove, "natural-gas-typical", "7 inH2O"))
    built = converted_for(stove, plan)
    assert built is not None
    entry = PlanEntry(plan=plan.digest, plan_row="02")
    units = simulate_shop(SHOP, built, BenchPlan(), np.random.default_rng(12), fuels)
    tests = [replace(test, plan_entries=(entry,)) for test in units]
    assert built_by_plans(tests, stove) == {}
    (tmp_path / "papers").mkdir()
    (tmp_path / "papers" / "a-plan.json").write_text(plan_json(plan), encoding="utf-8")
    plans = built_by_plans(tests, stove, [tmp_path])
    assert list(plans) == [plan.digest]
    jet = named(calibrate(tests, stove, plans=plans, fuels=fuels), "tapered")
    assert jet.units == BenchPlan().units
    assert jet.low < SHOP.discharge["tapered"] < jet.high
    assert calibrate(tests, stove, fuels=fuels).constants == ()


def test_a_plan_of_a_market_of_the_file_needs_no_paper() -> None:
    cart = demonstration()
    market = targets_of(cart)[0]
    plan = plan_of(convert_to(market.appliance, market.targets[0]))
    test = BenchTest(serial="A", model=cart.model, tester="R. Quill", gas=plan.gas)
    built = built_by_plans([replace(test, plan_entries=(PlanEntry(plan=plan.digest, plan_row="01"),))], cart)
    changed = built[plan.digest]
    assert changed.supply.gas.name == plan.gas
    assert changed.burners[0].orifice.diameter_m < cart.burners[0].orifice.diameter_m


# the tables


@pytest.fixture
def written(stove: Appliance, learned: Calibration, tmp_path: Path) -> Path:
    (tmp_path / "stove.toml").write_text(STOVE + (
        '[tables]\ndischarge = "own/discharge.csv"\nburner_coefficients = "own/burner_coefficients.csv"\n'
    ))  # fmt: skip
    write_tables(
        learned, RecordSource(file="x/units.sqlite", sha256="abc" * 30), stove.tables, tmp_path / "own"
    )
    return tmp_path / "stove.toml"


def test_the_tables_have_the_shipped_columns_and_say_where_they_are_from(written: Path) -> None:
    for name in ("discharge", "burner_coefficients"):
        mine = read_csv(written.parent / "own" / f"{name}.csv")
        assert list(mine[0]) == list(rows(name)[0])
        told = [row for row in mine if row["provenance"] == "measured here"]
        assert told
        for row in told:
            assert row["source"].startswith("bench record units.sqlite, sha256 abcabc")
            assert "20 units of Lantern 2, 2026-11-25 to 2026-11-25, burnerlab " in row["source"]
    assert set(shapes(written.parent / "own" / "discharge.csv")) == set(shapes())


def test_a_burner_that_was_not_measured_is_named_beside_the_coefficient_of_another(written: Path) -> None:
    """Its interval is that of the others: notes and evidence say so, of no burner that was measured."""
    alone = convert(read_appliance(written), "natural-gas-typical", 1740.0)
    said = "discharge coefficient measured on griddle alone"
    assert not [one for one in (*alone.notes, *evidence_words(alone)) if said in one]
    text = written.read_text()
    second = '[[burner]]\nname = "ring"\nkind = "ring"\nrate = "9 kBtu/h"\norifice = { drill = "#65" }\n'
    written.write_text(text.replace("[tables]", second + "[tables]"))
    both = convert(read_appliance(written), "natural-gas-typical", 1740.0)
    assert f"ring: {said}" in both.notes
    assert f"ring: {said}" in evidence_words(both)


def test_commands_use_the_tables_and_the_evidence_is_measured_here(
    written: Path, stove: Appliance, learned: Calibration
) -> None:
    own = read_appliance(written)
    done = convert(own, "natural-gas-typical", 1740.0).burners[0]
    assert done.coefficient == pytest.approx(named(learned, "tapered").value, rel=1e-4)
    assert "bench record units.sqlite" in done.coefficient_source
    fuel = burner_fuel(own.supply.gas, Points("propane"), own=own.tables.burner_coefficients)
    found = {f.topic: f for f in burner_stability(own, own.burners[0], fuel=fuel).findings}
    for topic in ("yellow tipping", "lift", "primary aeration"):
        assert found[topic].evidence == "measured here", topic
    assert "bench record units.sqlite" in found["lift"].source
    assert "measured here" in found["lift"].source
    assert found["light-back" if "light-back" in found else "port loading"].evidence == "estimate"
    before = burner_stability(stove, stove.burners[0], fuel=fuels(stove.supply.gas)).findings
    assert not {f.evidence for f in before} & {"measured here", "entered"}


HEAT = ("heat input", "present heat input", "total heat input")


def heat_inputs(appliance: Appliance) -> dict[tuple[str, str], Finding]:
    done = convert(appliance, "natural-gas-typical", 1740.0)
    return {(f.topic, f.burner): f for f in done.findings if f.topic in HEAT}


def test_a_heat_input_rests_on_its_coefficient(written: Path, stove: Appliance, learned: Calibration) -> None:
    own, constant = read_appliance(written), named(learned, "tapered")
    assert {f.evidence for f in heat_inputs(stove).values()} == {"recalled"}
    found = heat_inputs(own)
    assert {topic: f.evidence for (topic, _), f in found.items()} == dict.fromkeys(HEAT, "measured here")
    words = f"measured here, {constant.value:.3f} ({constant.low:.3f} to {constant.high:.3f})"
    assert words in found["heat input", "griddle"].text

    first = own.burners[0]
    other = replace(
        first, name="other", orifice=replace(first.orifice, shape="sharp")
    )  # its row is not calibrated
    evidence = {key: f.evidence for key, f in heat_inputs(replace(own, burners=(first, other))).items()}
    assert evidence == {
        ("heat input", "griddle"): "measured here",
        ("present heat input", "griddle"): "measured here",
        ("heat input", "other"): "published",
        ("present heat input", "other"): "published",
        ("total heat input", ""): "published",
    }


def test_a_coefficient_without_an_interval_is_only_entered(written: Path, stove: Appliance) -> None:
    bare = replace(stove.burners[0], orifice=replace(stove.burners[0].orifice, coefficient=0.88))
    assert {f.evidence for f in heat_inputs(replace(stove, burners=(bare,))).values()} == {"entered"}
    table = written.parent / "own" / "discharge.csv"
    rows = read_csv(table)
    with table.open("w", newline="") as stream:
        writer = csv.DictWriter(stream, list(rows[0]))
        writer.writeheader()
        for row in rows:
            told = row["provenance"] == "measured here"
            writer.writerow(row | ({"low": row["coefficient"], "high": row["coefficient"]} if told else {}))
    assert {f.evidence for f in heat_inputs(read_appliance(written)).values()} == {"entered"}


def test_a_calibrated_tube_tells_nothing_of_the_change_of_air(written: Path, stove: Appliance) -> None:
    """Its coefficients move both gases alike: the ratio stays, and so does its evidence."""

    def change(appliance: Appliance) -> Finding:
        found = convert(appliance, "natural-gas-typical", 1740.0).findings
        return next(f for f in found if f.topic == "primary air")

    own = read_appliance(written)
    tube_only = replace(own, tables=replace(own.tables, discharge=None))
    air = [
        convert(one, "natural-gas-typical", 1740.0).burners[0].primary_aeration_before
        for one in (stove, tube_only)
    ]
    assert abs(air[1] / air[0] - 1) > 0.02  # type: ignore[operator]
    assert change(tube_only).value == pytest.approx(change(stove).value, rel=0.005)
    assert change(tube_only).evidence == change(own).evidence == "estimate"


def test_the_tables_give_the_primary_air_that_was_read(written: Path, shop) -> None:
    own = read_appliance(written)
    state = burner_stability(own, own.burners[0], fuel=fuels(own.supply.gas)).full
    read = [
        reading.value
        for test in shop
        for reading in test.readings
        if reading.quantity == "primary_aeration"
        and any(r.quantity == "shutter_open" and r.value == 0.6 for r in test.readings)
    ]
    assert float(state.primary_aeration) == pytest.approx(np.mean(read), rel=0.03)


def test_a_second_look_at_the_record_does_not_count_it_twice(
    written: Path, shop, learned: Calibration
) -> None:
    own = read_appliance(written)
    again = calibrate(shop, own, fuels=fuels_with(own.tables.burner_coefficients))
    assert learned.written
    for constant in learned.written:
        other = named(again, constant.row)
        assert other.value == pytest.approx(constant.value, rel=0.02)
        assert np.log(other.high / other.low) == pytest.approx(np.log(constant.high / constant.low), rel=0.1)


def test_a_table_is_not_overwritten_unasked(written: Path, stove: Appliance, learned: Calibration) -> None:
    record, folder = RecordSource(file="u.sqlite", sha256="d" * 64), written.parent / "own"
    with pytest.raises(UserError, match="exists, will not overwrite it"):
        write_tables(learned, record, stove.tables, folder)
    assert len(write_tables(learned, record, stove.tables, folder, overwrite=True)) == 2


# the statistics


def test_a_thousand_readings_of_one_unit_are_not_a_thousand_units() -> None:
    values, unit = np.ones(1000), np.zeros(1000, dtype=np.intp)
    assert float(np.sum(whitened(values, unit) ** 2)) == pytest.approx(2.0, rel=0.01)


def test_a_fit_without_a_prior_is_the_mean_with_its_student_interval() -> None:
    random = np.random.default_rng(8)
    values = random.normal(0.3, 0.1, 400)
    readings = LogReadings(log_value=values, unit=np.arange(400))
    found = fit(lambda p: p[..., :1] + np.zeros(400), readings, np.zeros(1), np.array([100.0]), 0.1)
    assert found.value[0] == pytest.approx(values.mean(), abs=1e-6)
    assert found.deviation[0] == pytest.approx(values.std(ddof=1) / 20.0, rel=0.01)
    assert found.quantile(0.95) == pytest.approx(1.966, abs=0.002)


def test_two_outliers_do_not_hide_each_other() -> None:
    values = np.concatenate([np.random.default_rng(9).normal(0.0, 0.01, 28), [0.2, 0.21]])
    assert list(outlying(values, np.arange(30))) == [29, 28]


def sighted(log_margin: np.ndarray, seen: np.ndarray, error: float = 0.0) -> Sightings:
    count = log_margin.size
    return Sightings(
        log_margin=log_margin, seen=seen, unit=np.arange(count), shared=np.full((count, 1), error)
    )


def test_a_threshold_lies_where_half_are_seen() -> None:
    margins = np.linspace(-0.6, 0.8, 141)
    chance = np.random.default_rng(10).standard_normal(141)
    found = threshold(sighted(margins, margins + 0.1 * chance < 0.15), 0.0, 0.5)
    assert found.median == pytest.approx(0.15, abs=0.04)
    assert found.scatter == pytest.approx(0.1, rel=0.5)
    assert found.outliers.size == 0


def test_only_not_seen_moves_one_end_alone() -> None:
    """Never seen down to the margin itself: the threshold lies below it, nobody knows how far."""
    found = threshold(sighted(np.zeros(40), np.zeros(40, dtype=bool)), 0.0, 0.3)
    assert found.high < 0.1
    assert found.low < -0.5


def test_a_shared_error_of_the_air_widens_the_interval() -> None:
    margins = np.linspace(-0.5, 0.5, 60)
    sure = threshold(sighted(margins, margins < 0.0), 0.0, 0.4)
    unsure = threshold(sighted(margins, margins < 0.0, error=0.2), 0.0, 0.4)
    expected = np.hypot(sure.deviation, 0.4 * 0.2 / np.hypot(0.4, 0.2))
    assert unsure.deviation == pytest.approx(expected, rel=0.15)


def test_a_flame_that_lifts_where_no_other_does_is_named() -> None:
    margins = np.concatenate([np.linspace(-0.3, 0.5, 40), [1.3]])
    found = threshold(sighted(margins, np.append(margins[:40] < 0.05, True)), 0.0, 0.4)
    assert list(found.outliers) == [40]


# the command


def test_the_command_shows_writes_and_refuses(shop, tmp_path: Path) -> None:
    model, file = tmp_path / "stove.toml", tmp_path / "units.sqlite"
    model.write_text(STOVE)
    with open_record(file, create=True) as record:
        for test in shop:
            add_test(record, test)
    ask = ["calibrate", str(model), "--file", str(file), "--json"]
    done = CliRunner().invoke(main, [*ask, "--out", str(tmp_path / "own")])
    assert done.exit_code == 0, done.output
    found = json.loads(done.stdout)
    assert {"constants", "files", "cautions"} <= set(found)
    first = found["constants"][0]
    assert {
        "name",
        "prior",
        "prior_low",
        "prior_high",
        "value",
        "low",
        "high",
        "units",
        "outliers",
        "is_learned",
    } <= set(first)
    assert [Path(name).name for name in found["files"]] == ["discharge.csv", "burner_coefficients.csv"]
    with Path(found["files"][0]).open(newline="") as stream:
        rows = list(csv.DictReader(line for line in stream if not line.startswith("#")))
    assert float(rows[0]["coefficient"]) == pytest.approx(first["value"], rel=1e-4)
    again = CliRunner().invoke(main, [*ask, "--out", str(tmp_path / "own")])
    assert again.exit_code == 2
    assert "exists, will not overwrite it" in again.output
    text = CliRunner().invoke(main, ask[:-1])
    assert text.exit_code == 0
    assert "discharge coefficient, tapered" in text.stdout
    wrong = CliRunner().invoke(main, [*ask[:-1], "--only", "flux capacity"])
    assert wrong.exit_code == 2
    assert "cannot be learned from a record" in wrong.output


def test_a_record_without_the_model_says_which_it_holds(shop, tmp_path: Path) -> None:
    model, file = tmp_path / "other.toml", tmp_path / "units.sqlite"
    model.write_text(STOVE.replace("Lantern 2", "Lantern 9"))
    with open_record(file, create=True) as record:
        add_test(record, shop[0])
    done = CliRunner().invoke(main, ["calibrate", str(model), "--file", str(file)])
    assert done.exit_code == 2
    assert "Lantern 2" in done.output
