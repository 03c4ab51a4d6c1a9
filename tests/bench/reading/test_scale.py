"""Weighing a cylinder: mass over time, its budget, and the command."""

from __future__ import annotations

import json
import math

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.appliance import read_tolerance
from burnerlab.bench.decision_rule import Rating, decision_rule
from burnerlab.bench.reading.heat_input import heat_content
from burnerlab.bench.reading.scale import WeighReading, weigh
from burnerlab.cli import main
from burnerlab.gas import load
from burnerlab.quantity import PRESETS, UserError

PROPANE = heat_content(load("propane"), PRESETS["ISO_15_15"])


@settings(max_examples=20)
@given(st.floats(0.05, 2.0), st.floats(300.0, 7200.0))
def test_heat_input_is_mass_over_time_times_heating_value(mass: float, time: float) -> None:
    found = weigh(WeighReading(mass_losses_kg=(mass,), times_s=(time,)), PROPANE, draws=0)
    assert found.heat_input_gross_W == pytest.approx(mass / time * PROPANE.gross_J_per_kg, rel=1e-12)
    assert found.mass_flow_kg_per_s == pytest.approx(mass / time, rel=1e-12)


def test_resolution_and_drift_are_in_the_budget() -> None:
    reading = WeighReading(mass_losses_kg=(0.25,), times_s=(1800.0,), resolution_kg=0.005, drift_kg=0.003)
    parts = {one.quantity.name: one for one in weigh(reading, PROPANE, draws=0).budget.contributions}
    whole = weigh(reading, PROPANE, draws=0).heat_input_gross_W
    assert parts["first reading"].contribution / whole == pytest.approx(
        0.0025 / math.sqrt(3) / 0.25, rel=1e-3
    )
    assert parts["drift"].contribution / whole == pytest.approx(0.003 / math.sqrt(3) / 0.25, rel=1e-3)
    finer = WeighReading(mass_losses_kg=(0.25,), times_s=(1800.0,), resolution_kg=0.0001)
    assert (
        weigh(finer, PROPANE, draws=0).budget.relative
        < 0.3 * weigh(reading, PROPANE, draws=0).budget.relative
    )


def test_repeats_are_averaged_as_rates() -> None:
    reading = WeighReading(mass_losses_kg=(0.25, 0.52), times_s=(1800.0, 3600.0))
    found = weigh(reading, PROPANE, draws=0)
    assert found.mass_flow_kg_per_s == pytest.approx((0.25 / 1800 + 0.52 / 3600) / 2)
    assert any("repeats differ" in note for note in found.notes)


def test_an_absurd_weighing_is_refused_with_the_likely_slip() -> None:
    double = WeighReading(mass_losses_kg=(0.25, 0.5), times_s=(1800.0, 1800.0))
    with pytest.raises(UserError, match="one timing may hold twice the mass"):
        weigh(double, PROPANE, draws=0)
    coarse = WeighReading(mass_losses_kg=(0.002,), times_s=(600.0,), resolution_kg=0.01)
    with pytest.raises(UserError, match="uncertainty is as large as the reading"):
        weigh(coarse, PROPANE, draws=0)
    ounces = WeighReading(mass_losses_kg=(250 * 0.0283495,), times_s=(1800.0,))  # 250 g typed as 250 oz
    rating = Rating(heat_input_W=7e3, basis="gross", tolerance=read_tolerance("5 %"), rule=decision_rule())
    assert "likely slip: grams entered as ounces" in weigh(ounces, PROPANE, rating, draws=0).notes


def test_a_loss_of_few_digits_is_said() -> None:
    reading = WeighReading(mass_losses_kg=(0.05,), times_s=(600.0,), resolution_kg=0.01)
    assert any("digits of the scale" in note for note in weigh(reading, PROPANE, draws=0).notes)


@pytest.mark.parametrize(("mass", "time"), [(0.0, 60.0), (-0.1, 60.0), (0.1, 0.0), (math.nan, 60.0)])
def test_what_no_scale_reads_is_refused(mass: float, time: float) -> None:
    with pytest.raises(UserError):
        weigh(WeighReading(mass_losses_kg=(mass,), times_s=(time,)), PROPANE)


def run(*args: str) -> tuple[int, str, str]:
    result = CliRunner().invoke(main, ["weigh", "--gas", "propane", *args])
    return result.exit_code, result.stdout, result.stderr


def test_command() -> None:
    status, out, _ = run(
        "--from", "18.412 kg", "--to", "18.160 kg", "--time", "30 min", "--repeat", "250 g in 30 min",
        "--resolution", "1 g", "--rating", "24 kBtu/h gross", "--json",
    )  # fmt: skip
    assert status == 0
    found = json.loads(out)
    assert found["mass_flow_kg_per_h"] == pytest.approx(0.502)
    assert found["verdict"] == "within"
    assert found["cautions"]
    status, out, _ = run("--mass-loss", "250 g", "--time", "30 min", "--wanted", "1 %")
    assert status == 0
    assert "how long to time" in out
    assert "type B only" in " ".join(out.split())


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("--time", "30 min"), "give the loss"),
        (("--time", "30 min", "--from", "18 kg", "--to", "19 kg"), "must have lost mass"),
        (("--time", "30 min", "--mass-loss", "0 g"), "must be above 0"),
        (("--time", "30 min", "--mass-loss", "250 g", "--repeat", "250 g"), "in 30 min"),
        (("--time", "30 min", "--mass-loss", "250 g", "--from", "18 kg", "--to", "17 kg"), "give the loss"),
    ],
)
def test_bad_readings_are_refused(args: tuple[str, ...], words: str) -> None:
    status, out, error = run(*args)
    assert (status, out) == (2, "")
    assert words in error


def test_a_scale_factor_multiplies_the_loss() -> None:
    plain = WeighReading(mass_losses_kg=(0.25,), times_s=(1800.0,))
    proof = WeighReading(mass_losses_kg=(0.25,), times_s=(1800.0,), scale_factor=1.004)
    ratio = (
        weigh(proof, PROPANE, draws=0).heat_input_gross_W / weigh(plain, PROPANE, draws=0).heat_input_gross_W
    )
    assert ratio == pytest.approx(1.004, rel=1e-12)
    status, out, _ = run("--mass-loss", "250 g", "--time", "30 min", "--scale-factor", "1.004")
    assert status == 0
    assert "scale factor 1.004" in out


def test_a_coarse_scale_is_seen_in_the_last_digit_that_was_written() -> None:
    """35.0 lb less 34.4 lb shows tenths of a pound: 0.6 lb is six digits, not 272 of one gram."""
    _, pounds, _ = run("--from", "35.0 lb", "--to", "34.4 lb", "--time", "30 min", "--json")
    _, grams, _ = run("--from", "15876 g", "--to", "15604 g", "--time", "30 min", "--json")
    _, stated, _ = run(
        "--from", "35.0 lb", "--to", "34.4 lb", "--time", "30 min", "--resolution", "1 g", "--json"
    )
    coarse, fine, own = (json.loads(text)["expanded_uncertainty_percent"] for text in (pounds, grams, stated))
    assert coarse > 10.0 * fine  # half a digit at each reading, as squares: 45.4 g against 1 g
    assert own == pytest.approx(fine, rel=0.01)
    assert "taken as 45.4 g, the last digit of the readings" in pounds
