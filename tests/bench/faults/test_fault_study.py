"""How often the part is said first: the study of simulated faults, and the limits that were fitted on it."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from command_runs import answer

from burnerlab.appliance import ConversionTarget, changed, demonstration
from burnerlab.bench import simulate_faults
from burnerlab.bench.decision_rule import bench_limit
from burnerlab.bench.faults import simulation as plain
from burnerlab.bench.faults.causes import LOW_STOP, PREDICTIONS
from burnerlab.bench.faults.fault_study import (
    FaultStudy,
    Sampling,
    UnitFindings,
    explain_units,
    shop_for,
)
from burnerlab.bench.faults.scenarios import NONE, SOUND, hypotheses
from burnerlab.bench.uncertainty import coverage_factor
from burnerlab.bench.unit import unit_under_test
from burnerlab.cli import main
from burnerlab.gas import load
from burnerlab.handbook.contents import handbook_dir

CART = demonstration()
LP = changed(CART, ConversionTarget(gas=load("propane"), gauge_pressure_Pa=2740.0))
LEFT, RING = "griddle tube left", "stock-pot ring"
FITTED, REPORTED = 11, 1  # seeds: of the units the limits were fitted on, and of those they are reported on
U = 0.02
GAS = (
    "other supply as a whole",
    "other gas connected",
    "converted in part",
    "converted in full",
    "other gas and its orifices",
)


@cache
def study(appliance: str, burner: str | None) -> FaultStudy:
    return simulate_faults(
        CART if appliance == "natural" else LP,
        burner,
        faults=1000,  # the command's own, quoted in the handbook
        reading_uncertainty=0.04 / float(coverage_factor(float("inf"))),  # that of the command
        seed=REPORTED,
    )


CASES = [(appliance, burner) for appliance in ("natural", "LP") for burner in (LEFT, RING, None)]


def test_the_units_are_made_by_formulas_of_their_own() -> None:
    """Nothing of explain is imported, every cause but the unknown one is built, and a sound unit reads 1."""
    rooms = {
        node.module
        for node in ast.walk(ast.parse(Path(plain.__file__).read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and node.module
    }
    assert not [name for name in rooms if name.startswith("burnerlab.bench")]
    assert not [name for name in rooms if name.startswith("burnerlab.orifice") and "drill" not in name]
    assert set(plain.FAULTS) == set(PREDICTIONS) - {NONE, LOW_STOP}  # the study reads at full rate
    shop = shop_for(hypotheses(unit_under_test(CART, LEFT)), LEFT, 1)
    sound = plain.simulate(shop, [SOUND] * 500, U)
    assert sound.ratio.mean() == pytest.approx(1.0, abs=0.005)
    assert sound.pressure_ratio.mean() == pytest.approx(1.0, abs=0.005)


def test_plain_formulas_give_the_published_sign_of_a_wrong_gas() -> None:
    """Propane with its own regulator through orifices of natural gas: about 1.9 of the input (sqrt(dp/d) H)."""
    shop = shop_for(hypotheses(unit_under_test(CART, LEFT)), LEFT, 1)
    found = plain.simulate(shop, ["other supply as a whole"] * 300, U)
    assert found.hottest.mean() == pytest.approx(1.94, abs=0.02)
    assert found.ratio.mean() == pytest.approx(0.78, abs=0.01)


@pytest.mark.parametrize(("appliance", "burner"), CASES)
def test_no_other_gas_goes_on_and_few_sound_units_are_stopped(appliance: str, burner: str | None) -> None:
    assert study(appliance, burner).stops
    for one in study(appliance, burner).stops:
        assert one.other_gas > 140
        assert one.other_gas_missed == 0
        assert one.sound_stopped - one.sound_by_band <= 0.01 * one.sound
        assert one.sound_by_band <= 0.03 * one.sound * one.pressure_read  # a setting or gauge at its end


@pytest.mark.parametrize(("appliance", "burner"), [case for case in CASES if case[1]])
def test_with_the_pressure_read_the_part_is_said_first(appliance: str, burner: str | None) -> None:
    """One burner on, causes drawn evenly, counted by groups that ask for one action."""
    found = study(appliance, burner).table("evenly", pressure_read=True)
    assert found.first >= 0.60
    assert found.in_first_three >= 0.90
    assert found.in_first_three > study(appliance, burner).table("evenly", pressure_read=False).in_first_three


@pytest.mark.parametrize(("appliance", "burner"), CASES)
def test_gas_leak_and_missing_regulator_are_among_the_first_three_or_stop(
    appliance: str, burner: str | None
) -> None:
    grave = [
        (row, one.sampling, one.pressure_read)
        for one in study(appliance, burner).tables
        for row in one.causes
        if row.cause in (*GAS, "no regulator", "leak")
    ]
    assert grave
    for row, *how in grave:
        assert row.three_or_stopped == row.units, (row, how)


@pytest.mark.parametrize("burner", [LEFT, None])
@pytest.mark.parametrize("drawn", ["by the priors", "evenly"])
def test_the_handbook_quotes_the_study(burner: str | None, drawn: Sampling) -> None:
    found = study("natural", burner)
    cells = [
        f"{100 * one.first:.0f} %, {100 * one.in_first_three:.0f} %"
        for one in (found.table(drawn, pressure_read=read) for read in (False, True))
    ]
    page = (handbook_dir() / "find-the-fault.md").read_text(encoding="utf-8")
    assert f"| {burner or 'all burners together'} | {drawn} | {' | '.join(cells)} |" in page
    missed = found.stops[1]
    if burner is None:
        assert f"{missed.overfired_missed} of {missed.overfired} units" in page


def test_a_study_is_repeatable_and_noise_costs() -> None:
    first, again = (simulate_faults(CART, RING, faults=150, seed=5) for _ in range(2))
    assert first == again
    noisy = simulate_faults(CART, RING, faults=150, seed=5, reading_uncertainty=0.2)
    quiet, loud = (one.table("evenly", pressure_read=True) for one in (first, noisy))
    assert loud.first < quiet.first
    for row in quiet.causes:
        assert sum(row.first_by_group) == row.units
        assert row.true_group_first <= row.in_first_three <= row.three_or_stopped <= row.units


def test_the_limits_of_the_stops_fit_units_of_another_seed() -> None:
    """Highest limit of other gas that misses none, lowest of overfire that stops 1 % of sound units, at most."""
    sound: list[UnitFindings] = []
    wrong: list[UnitFindings] = []
    for appliance, burner in ((CART, LEFT), (CART, None), (LP, RING), (LP, None)):
        h = hypotheses(unit_under_test(appliance, burner))
        shop = shop_for(h, burner, FITTED)
        names = [name for name in GAS if name in {cause.name for cause in h.causes}]
        units = plain.simulate(shop, [names[i % len(names)] for i in range(400)], U)
        as_drawn = plain.simulate(shop, [SOUND] * 400, U)
        for pressure_read in (False, True):
            wrong.append(explain_units(h, units, U, pressure_read))
            sound.append(explain_units(h, as_drawn, U, pressure_read))
    gas = min(float(one.other_gas.min()) for one in wrong)
    overfire = max(float(np.quantile(one.overfire, 0.99)) for one in sound)
    assert bench_limit("stop_wrong_gas").high <= gas
    assert bench_limit("stop_overfire").high >= overfire
    assert max(float(one.other_gas.max()) for one in sound) < bench_limit("stop_wrong_gas").high


def test_the_command_prints_both_tables() -> None:
    found = answer("explain", "--study", "--burner", RING, "--faults", "120")
    assert [one["sampling"] for one in found["tables"]] == ["by the priors", "evenly"] * 2
    assert {"first_percent", "in_first_three_percent", "causes"} <= set(found["tables"][0])
    text = CliRunner().invoke(main, ["explain", "--study", "--burner", RING, "--faults", "60"]).stdout
    assert "simulated units by the priors" in text
    assert "simulated units evenly" in text
    head = next(line for line in text.splitlines() if line.startswith("STOP"))
    assert "other gas, not" in head
