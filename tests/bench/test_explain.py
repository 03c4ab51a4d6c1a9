"""Explaining a reading that is off: shares, dangers, the next measurement, and simulated faults."""

from __future__ import annotations

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
from burnerlab.bench import Reading, explain, manifold_check, simulate_faults
from burnerlab.bench.causes import causes
from burnerlab.bench.explain import NONE
from burnerlab.bench.hypotheses import by_cause, hypotheses, log_shares, normalised
from burnerlab.bench.unit import bench_of, other_supplies
from burnerlab.cli import main
from burnerlab.gas import load
from burnerlab.quantity import UserError

answer = partial(command_runs.answer, "explain")

CART = demonstration()
RING = "stock-pot ring"
H = hypotheses(bench_of(CART, RING))


def on_propane() -> Appliance:
    return changed(CART, ConversionTarget(gas=load("propane"), gauge_pressure_Pa=2740.0))


@settings(max_examples=30)
@given(st.floats(0.05, 20.0), st.floats(0.01, 0.2))
def test_shares_add_up_whatever_was_read(ratio: float, scatter: float) -> None:
    shares = by_cause(H, normalised(log_shares(H, np.log(ratio), scatter)))
    assert shares.sum() == pytest.approx(1.0)
    assert shares.min() >= 0.0


def test_priors_add_up_and_every_possibility_is_finite() -> None:
    assert np.exp(H.log_prior).sum() == pytest.approx(1.0)
    assert np.isfinite(H.log_reading).all()
    assert sum(cause.prior for cause in causes()) == pytest.approx(1.0)


def test_a_sound_reading_is_as_it_should_be() -> None:
    found = explain(CART, Reading(ratio=1.0), RING)
    assert found.causes[0].cause == "as it should be"
    assert found.fits


@pytest.mark.parametrize(
    ("ratio", "burner", "among"),
    [
        (0.503, RING, "other gas's orifice in one burner"),
        (1.253, RING, "regulator of the other gas"),
        (2.0, RING, "dial misread"),
        (0.80, RING, "part blockage"),
        (0.617, None, "other gas connected"),
        (0.511, None, "other gas's orifice in all burners"),
        (3.2, RING, "other appliance"),
    ],
)
def test_a_cause_explains_the_reading_it_predicts(ratio: float, burner: str | None, among: str) -> None:
    first = [one.cause for one in explain(CART, Reading(ratio=ratio), burner).causes[:3]]
    assert among in first


def test_a_reading_that_nothing_predicts_fits_none() -> None:
    found = explain(CART, Reading(ratio=8.0), RING)
    assert not found.fits
    assert found.causes[0].cause == NONE


def test_dangerous_causes_are_listed_whatever_their_share() -> None:
    found = explain(CART, Reading(ratio=0.4), RING)
    dangerous = {one.cause for one in found.overfire}
    assert {"no regulator", "regulator of the other gas", "other gas connected"} <= dangerous
    assert min(one.share for one in found.overfire) < 1e-6
    hot = explain(CART, Reading(ratio=1.6, pressure_ratio=2.6), RING)
    assert hot.overfire_share > 0.9
    assert any("overfired" in note for note in hot.notes)


def test_natural_orifices_overfire_on_propane() -> None:
    """An LP unit with the orifices of natural gas left in burns about twice its input."""
    found = explain(on_propane(), Reading(ratio=1.96), RING, method="scale")
    wrong = next(one for one in found.causes if one.cause == "other gas's orifice in one burner")
    assert found.causes[0] is wrong
    assert wrong.overfire
    assert wrong.hottest == pytest.approx(wrong.predicted_ratio)
    assert other_supplies(on_propane())[0].gas.gas.name == "natural-gas-typical"


def test_a_pressure_that_was_read_counts_as_evidence() -> None:
    """1.25 of the expected: with the pressure of the other gas it is the regulator, at nominal pressure it is not."""
    regulator = "regulator of the other gas"

    def share(pressure: float | None) -> float:
        found = explain(CART, Reading(ratio=1.25, pressure_ratio=pressure), RING)
        return next(one.share for one in found.causes if one.cause == regulator)

    assert share(1.57) > share(None) > share(1.0)
    assert share(1.0) < 0.01
    found = explain(CART, Reading(ratio=1.25, pressure_ratio=1.57), RING)
    assert "manifold pressure" not in {one.measurement for one in found.measurements}
    assert found.manifold is not None
    assert found.manifold.ratio == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize(
    ("ratio", "burner", "next_one"),
    [(0.7, RING, "clock again"), (2.0, RING, "dial plate"), (0.617, None, "gas label")],
)
def test_the_next_measurement_separates_the_rivals(ratio: float, burner: str | None, next_one: str) -> None:
    found = explain(CART, Reading(ratio=ratio), burner)
    best = found.next_measurement
    assert best is not None
    assert best.measurement == next_one
    assert 0.0 < best.information_bit <= found.uncertain_bit + 1e-9
    most = max(one.information_bit for one in found.measurements)
    assert best.information_bit >= 0.5 * most  # worth its time ...
    worth = [one.hazard for one in found.measurements if one.information_bit >= 0.5 * most]
    assert worth == sorted(
        worth, key=("none", "burning", "opened").index
    )  # ... and a gas part is opened last


def test_a_measurement_that_cannot_differ_tells_nothing() -> None:
    told = {
        one.measurement: one.information_bit for one in explain(CART, Reading(ratio=2.0), RING).measurements
    }
    assert told["gas label"] < 0.02  # all rivals have the right gas
    assert "scale" not in told  # natural gas does not come from a cylinder
    assert "one burner at a time" not in told  # one burner is on


def test_by_scale_there_is_no_meter_to_misread() -> None:
    names = {one.cause for one in explain(on_propane(), Reading(ratio=0.5), RING, method="scale").causes}
    assert not names & {"dial misread", "other appliance", "meter pressure forgotten"}


@pytest.mark.parametrize("burner", [RING, None])
def test_simulated_faults_are_named(burner: str | None) -> None:
    found = simulate_faults(CART, burner)
    assert sum(row.faults for row in found.rows) == found.faults == 1000
    assert found.told_apart > 150
    assert found.told_apart_in_first_three >= 0.95
    assert found.in_first_three > 0.6
    for row in found.rows:
        assert sum(row.named) == row.faults
        assert row.told_apart_in_first_three <= min(row.told_apart, row.in_first_three)


def test_a_study_is_repeatable_and_noise_costs() -> None:
    first, again = (simulate_faults(CART, RING, faults=300, seed=5) for _ in range(2))
    assert first.rows == again.rows
    noisy = simulate_faults(CART, RING, faults=300, seed=5, reading_uncertainty=0.2)
    assert noisy.told_apart < first.told_apart


def test_priors_can_be_replaced(tmp_path: Path) -> None:
    own = tmp_path / "causes.csv"
    head = "cause,title,prior,low,high,unit,method,needs,source,place,provenance,note\n"
    own.write_text(head + "as it should be,fine,1,,,,any,,shop,count,measured here,\n")
    assert [one.cause for one in explain(CART, Reading(ratio=0.5), RING, own_causes=own).causes] == [
        "as it should be"
    ]
    own.write_text(head + "gremlins,bad,1,,,,any,,shop,count,measured here,\n")
    with pytest.raises(UserError, match="no prediction"):
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


def test_command() -> None:
    found = answer(str(demonstration_path()), "--burner", RING, "--measured", "15.4 kBtu/h gross")
    first = found["causes"][0]
    assert {"cause", "predicted_ratio", "share", "next_measurement"} <= set(first)
    assert first["cause"] == "other gas's orifice in one burner"
    assert first["predicted_ratio"] == pytest.approx(0.503, abs=0.005)
    assert found["next_measurement"]["information_bit"] > 0
    assert "no regulator" in found["overfire_causes"]
    text = (
        CliRunner().invoke(main, ["explain", str(demonstration_path()), "--measured", "60 kBtu/h net"]).stdout
    )
    assert "measure next" in text
    assert "overfire" in text


def test_the_command_prints_the_confusion_table() -> None:
    found = answer("--study", "--burner", RING, "--faults", "280")
    assert found["told_apart_in_first_three_percent"] >= 95.0
    assert len(found["confusion"][0]["named"]) == len(found["causes"])
    text = CliRunner().invoke(main, ["explain", "--study", "--burner", RING, "--faults", "140"]).stdout
    assert "true cause, named first as" in text


@pytest.mark.parametrize(
    ("args", "words"),
    [
        ((), "--measured"),
        (("--measured", "18 kBtu/h"), "gross or net"),
        (("--measured", "18 kBtu/h gross", "--burner", "stockpot"), "stock-pot ring"),
        (("--measured", "18 kBtu/h gross", "--other-gas", "propane"), "give both"),
        (("--measured", "18 kBtu/h gross", "--uncertainty", "0 %"), "accepted range"),
        (("--study", "--faults", "0"), "number of faults"),
    ],
)
def test_bad_questions_are_refused(args: tuple[str, ...], words: str) -> None:
    result = CliRunner().invoke(main, ["explain", str(demonstration_path()), *args])
    assert (result.exit_code, result.stdout) == (2, "")
    assert words in result.stderr


def test_the_other_supply_as_a_whole_stops_the_test_though_it_reads_low() -> None:
    """Propane with its own regulator on a natural-gas unit: 0.77 by a meter set for natural gas, 1.9 in truth."""
    found = explain(CART, Reading(ratio=0.77), RING)
    assert found.causes[0].cause == "other supply as a whole"
    assert found.causes[0].hottest == pytest.approx(1.93, abs=0.02)
    assert [one.id for one in found.stops] == ["wrong-gas", "overfire"]
    assert found.stop is not None
    assert "propane" in found.stop.heading
    assert "17.3 kW" in found.stop.do_first
    shown = {row["measurement"]: row for row in tables.rows("next_measurements")}
    assert found.measurements
    assert all(shown[one.measurement]["gas"] == "off" for one in found.measurements)
    assert all(shown[one.next_measurement]["gas"] == "off" for one in found.causes if one.next_measurement)


def test_the_stop_stands_first_in_the_terminal_and_in_json() -> None:
    asked = (str(demonstration_path()), "--burner", RING, "--measured", "6.9 kW gross")
    text = CliRunner().invoke(main, ["explain", *asked]).stdout
    assert text.startswith("WARNING: STOP. Wrong gas suspected: propane.")
    found = answer(*asked)
    assert found["stop"]["id"] == found["stops"][0]["id"] == "wrong-gas"
    assert answer(str(demonstration_path()), "--burner", RING, "--measured", "8.9 kW gross")["stop"] is None


@pytest.mark.parametrize("burner", [RING, None])
@pytest.mark.parametrize("ratio", [0.95, 1.0, 1.05])
def test_a_unit_near_its_expected_input_is_not_stopped(ratio: float, burner: str | None) -> None:
    assert explain(CART, Reading(ratio=ratio), burner).stops == ()
