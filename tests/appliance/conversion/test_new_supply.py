"""Which supply serves the new gas: the one described for it, the present one reset, or none; and it is said."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from appliance_texts import TWO_TUBES, behind_regulator
from click.testing import CliRunner

from burnerlab.appliance import changed, convert, demonstration_path, operate, read_appliance_text
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.markets import convert_market, targets_of
from burnerlab.appliance.conversion.target import ConversionTarget
from burnerlab.bench.reading_plan import plan_of
from burnerlab.cli import main
from burnerlab.gas import load
from burnerlab.report.sheet.job_card import TIE
from burnerlab.report.sheet.sections import build_card
from burnerlab.tables.problem import UserError

PROPANE_Pa = 2740.0
FILE = behind_regulator(
    "two tubes",
    TWO_TUBES,
    valve="5 mm",
    set="7.5 in w.c.",
    droop="0.6 in w.c.",
    lock_up="1 in w.c.",
    rated="27 kBtu/h",
)
CYLINDER = """
[new_supply]
gas      = "propane"
pressure = "11 in w.c."
inlet    = "60 psi"

[new_supply.regulator]
set      = "11 in w.c."
droop    = "2 in w.c."
lock_up  = "2 in w.c."
rated    = "60 kBtu/h"

[new_supply.hose]
bore     = "8 mm"
length   = "1.2 m"
"""
WITH_CYLINDER = FILE.replace("[[burner]]", CYLINDER + "\n[[burner]]", 1)


def found(text: str, **options: str) -> tuple[str, float, str]:
    """Which supply serves, the deviation of the first burner alone, and what it rests on."""
    done = evaluate_conversion(convert(read_appliance_text(text), "propane", PROPANE_Pa, **options))  # type: ignore[arg-type]
    head = done.burners[0].headline
    alone = head.deviation if head.deviation_alone is None else head.deviation_alone
    return done.supply_of_new_gas, alone, head.evidence


def test_the_present_train_serves_with_its_regulator_reset_and_says_so() -> None:
    words, _, evidence = found(FILE)
    assert words == (
        "calculated as if the file's own valves served it, its regulator reset to 27.4 mbar, inlet 54.8 mbar in"
        " proportion; a regulator made for propane has to be fitted by a qualified person"
    )
    assert evidence == "estimate"


def test_a_described_supply_serves_its_gas_and_pressure() -> None:
    words, alone, evidence = found(WITH_CYLINDER)
    assert words == "as the file describes it under [new_supply]"
    assert evidence == "estimate"  # the roughness of the hose is taken from a table
    appliance = read_appliance_text(WITH_CYLINDER)
    assert appliance.new_supply is not None
    train = appliance.new_supply.train
    assert train is not None
    assert [run.kind for run in train.runs] == ["hose"]
    assert train.valve == appliance.supply.train.valve  # type: ignore[union-attr]
    target = ConversionTarget(gas=load("propane"), gauge_pressure_Pa=PROPANE_Pa)
    solved = operate(changed(appliance, target))
    assert solved.elements[0].outlet_gauge_pressure_Pa == pytest.approx(
        train.regulator.set_point_Pa - 2 / 11 * PROPANE_Pa * solved.heat_input_gross_W / 17584.0,  # type: ignore[union-attr]
        rel=2e-3,
    )
    assert alone != pytest.approx(found(FILE)[1], abs=1e-3)


def test_the_choice_can_be_made_by_hand() -> None:
    assert found(WITH_CYLINDER, train="reset") == found(FILE)
    words, deviation, evidence = found(WITH_CYLINDER, train="none")
    assert words == "not taken into account: nominal pressure at the manifold"
    plain = convert(read_appliance_text(FILE), "propane", PROPANE_Pa).burners[0]
    assert deviation == plain.drill_deviation
    assert evidence == "recalled"


@pytest.mark.parametrize(
    ("text", "pressure_Pa", "what"),
    [(FILE, PROPANE_Pa, "has no [new_supply]"), (WITH_CYLINDER, 3700.0, "is for propane at 27.4 mbar")],
)
def test_a_supply_that_is_not_described_is_refused(text: str, pressure_Pa: float, what: str) -> None:
    with pytest.raises(UserError) as refused:
        convert(read_appliance_text(text), "propane", pressure_Pa, train="new")
    assert what in refused.value.problems[0].what
    assert "reset" in refused.value.problems[0].fix


def test_another_pressure_than_the_described_one_falls_back_and_says_so() -> None:
    done = convert(read_appliance_text(WITH_CYLINDER), "propane", 3700.0)
    assert "its regulator reset to 37.0 mbar" in done.supply_of_new_gas
    ignored = (
        "[new_supply] of the file is for propane at 27.4 mbar, not for propane at 37 mbar and is not used"
    )
    assert done.supply_of_new_gas.startswith(ignored)
    by_hand = convert(read_appliance_text(WITH_CYLINDER), "propane", 3700.0, train="reset")
    assert "is not used" not in by_hand.supply_of_new_gas


@pytest.mark.parametrize("kind", ['type = "natural appliance"\n', ""])
def test_a_regulator_is_not_reset_beyond_what_its_kind_is_made_for(kind: str) -> None:
    """UL 144: a single stage regulator sets at most 1 psi; 11 psi is that of no appliance regulator."""
    text = FILE.replace("[supply.regulator]\n", "[supply.regulator]\n" + kind)
    options: dict[str, Any] = {"allow_high_pressure": True}
    done = evaluate_conversion(convert(read_appliance_text(text), "propane", "11 psi", **options))
    assert done.supply_of_new_gas.startswith("not evaluated: the file's regulator")
    assert "8.7 to 69.0 mbar" in done.supply_of_new_gas
    assert done.burners[0].headline.deviation_case == "nominal pressure"
    assert "supply pressure drop, new gas" in {one.topic for one in done.not_evaluated}


def test_a_high_supply_is_warned_of_wherever_it_is_asked_for(tmp_path: Path) -> None:
    file = tmp_path / "two.toml"
    file.write_text(FILE)
    high = ("--pressure", "11 psi")
    lines = (
        ("convert", str(file), "--to", "propane", *high, "--allow-high-pressure"),
        ("supply", str(file), "--gas", "propane", *high),
        ("burner", str(file), "--gas", "propane", *high),
        ("flow", "--gas", "propane", *high, "--drill", "#70", "--coefficient", "0.9"),
        ("size", "--gas", "propane", *high, "--rate", "10 kBtu/h gross", "--coefficient", "0.9"),
    )
    for line in lines:
        text = CliRunner().invoke(main, list(line)).output
        assert "WARNING: High supply or a frozen vent can burst parts or overfire a burner." in text, line
    low = (
        CliRunner().invoke(main, ["flow", "--gas", "propane", "--pressure", "11 inH2O", *lines[3][5:]]).output
    )
    assert "WARNING" in low
    assert "High supply" not in low


def test_an_unchanged_gas_keeps_its_train() -> None:
    done = convert(read_appliance_text(FILE), "natural-gas-typical", 1743.62)
    assert done.supply_of_new_gas == "as the file describes it under [supply]"


def test_a_fault_of_the_new_supply_stands_at_its_own_key() -> None:
    text = WITH_CYLINDER.replace('"60 psi"', '"9 in w.c."').replace('"2 in w.c."', '"20 in w.c."', 1)
    with pytest.raises(UserError) as refused:
        read_appliance_text(text)
    keys = [problem.key for problem in refused.value.problems]
    assert keys == ["new_supply.inlet", "new_supply.regulator.droop"]


def test_supply_answers_for_the_converted_appliance(tmp_path: Path) -> None:
    file = tmp_path / "two.toml"
    file.write_text(WITH_CYLINDER)
    words = [str(file), "--to", "propane", "--pressure", "11 inH2O", "--json"]
    supply = json.loads(CliRunner().invoke(main, ["supply", *words]).stdout)
    converted = json.loads(CliRunner().invoke(main, ["convert", *words]).stdout)
    assert supply["supply_of_new_gas"] == converted["supply_of_new_gas"]
    for one, other in zip(supply["burners"], converted["burners"], strict=True):
        for key, mine in (
            ("deviation_all_on_percent", "deviation_percent"),
            ("deviation_alone_percent",) * 2,
        ):
            assert one[mine] == pytest.approx(other[key], abs=0.02)
    refused = CliRunner().invoke(main, ["supply", str(file), "--train", "reset"])
    assert refused.exit_code == 2


def test_the_demonstration_shows_the_keys_of_a_new_supply() -> None:
    """The lines that stand commented out in its file are read, and then serve propane."""
    lines = demonstration_path().read_text(encoding="utf-8").splitlines()
    start = lines.index("# [new_supply]")
    block = [line.removeprefix("# ") for line in lines[start : start + 6]]
    text = "\n".join([*lines[:start], *block, *lines[start + 6 :]])
    assert found(text)[0] == "as the file describes it under [new_supply]"


OF_COUPLE = "as the file describes it under [new_supply] for G30 at 30 mbar, a gas of the same couple"
RESET_FOR_37 = "[new_supply] of the file is for G30 at 30 mbar, a gas of the same couple: calculated as if"


@pytest.mark.parametrize(
    ("category", "second", "words"), [("I3B/P", "30 mbar", OF_COUPLE), ("I3+", "37 mbar", RESET_FOR_37)]
)
def test_a_supply_described_for_one_gas_of_a_couple_serves_the_other(
    category: str, second: str, words: str
) -> None:
    """Job card, test plan and line of each gas hold the pressure behind its hose and regulator."""
    market = f"""[[market]]
name     = "Nordland"
category = "{category}"
supply   = [{{ gas = "G30", pressure = "30 mbar" }}, {{ gas = "G31", pressure = "{second}" }}]
"""
    described = CYLINDER.replace('"propane"', '"G30"').replace('"11 in w.c."', '"30 mbar"')
    appliance = read_appliance_text(FILE.replace("[[burner]]", f"{described}\n{market}\n[[burner]]", 1))
    butane, propane = (evaluate_conversion(one) for one in convert_market(targets_of(appliance)[0]))
    assert butane.supply_of_new_gas == "as the file describes it under [new_supply]"
    assert propane.supply_of_new_gas.startswith(words)
    for done in (butane, propane):
        assert done.evaluation is not None
        solved = done.evaluation.pressures_of("new")
        assert solved is not None
        assert 0.9 * done.to_gauge_pressure_Pa < solved.manifold_gauge_pressure_Pa < done.to_gauge_pressure_Pa
        first = build_card(done).readings[0]
        assert first.expected.replace(TIE, " ") == f"{solved.manifold_gauge_pressure_Pa / 100:.1f} mbar"
        row = plan_of(done).pressure_row("")
        assert row is not None
        assert row.predicted == pytest.approx(
            solved.manifold_gauge_pressure_Pa, rel=1e-5
        )  # kept to six digits
