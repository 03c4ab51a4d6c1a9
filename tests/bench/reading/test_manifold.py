"""What burners should give by their file, its supply and altitude counted: a unit so made is not stopped."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from burnerlab.appliance import (
    Appliance,
    ConversionTarget,
    demonstration,
    demonstration_path,
    operate,
    read_appliance,
    supplied,
)
from burnerlab.appliance.conversion.convert import changed
from burnerlab.bench.faults.explanation import explain
from burnerlab.bench.reading.manifold import (
    conditions_of,
    each_burner,
    expected_at,
    expected_input,
    flow_of,
    manifold_check,
    manifold_range,
)
from burnerlab.bench.reading.readings import Reading
from burnerlab.cli import main
from burnerlab.tables.verdict import Verdict

DEMO = demonstration_path().read_text(encoding="utf-8")
RING, LEFT = "stock-pot ring", "griddle tube left"
NARROW = ('bore     = "6 mm"', 'bore     = "3 mm"')
DROOP = ('droop    = "0.3 in w.c."', 'droop    = "0.71 in w.c."')
HIGH = ('altitude        = "0 m"', 'altitude        = "2400 m"')
THIN_HOSE = ('size     = "1/2 in hose"', 'bore     = "6 mm"')
CARTS = {
    "as shipped": (),
    "narrow valves": (NARROW,),
    "droop of a tenth": (DROOP,),
    "altitude": (HIGH,),
    "valves and droop": (NARROW, DROOP),
    "thin hose": (THIN_HOSE,),
    "all of it": (NARROW, DROOP, HIGH),
}


def cart_file(folder: Path, cart: str) -> Path:
    text = DEMO
    for old, new in CARTS[cart]:
        assert old in text
        text = text.replace(old, new)
    file = folder / "cart.toml"
    file.write_text(text, encoding="utf-8")
    return file


def by_supply_W(appliance: Appliance, burner: str | None) -> float:
    return operate(appliance, on=None if burner is None else [burner]).heat_input_gross_W


@pytest.mark.parametrize("cart", CARTS)
@pytest.mark.parametrize("burner", [None, RING])
def test_a_unit_as_its_file_describes_it_is_what_supply_predicts_and_is_not_stopped(
    tmp_path: Path, cart: str, burner: str | None
) -> None:
    appliance = read_appliance(cart_file(tmp_path, cart))
    by_file = expected_input(appliance, burner)
    assert by_file.gross_W == pytest.approx(by_supply_W(appliance, burner), rel=1e-9)
    for share in (0.95, 1.05):
        reading = Reading(ratio=share * by_supply_W(appliance, burner) / by_file.gross_W)
        assert explain(appliance, reading, burner).stops == ()


def answer(*args: str) -> dict[str, Any]:
    done = CliRunner().invoke(main, [*args, "--json"])
    assert done.exit_code in (0, 1), done.output
    told: dict[str, Any] = json.loads(done.stdout)
    return told


@pytest.mark.parametrize("burner", [LEFT, RING])
def test_the_commands_hold_a_reading_against_the_supply_of_the_file(tmp_path: Path, burner: str) -> None:
    """Narrow valves and a droop leave the ring 14 % below its nominal; read so, nothing stops."""
    file = cart_file(tmp_path, "valves and droop")
    told = json.loads(CliRunner().invoke(main, ["supply", str(file), "--on", burner, "--json"]).stdout)
    gives_kW = told["heat_input_gross_kW"]
    found = answer("explain", str(file), "--burner", burner, "--measured", f"{gives_kW:.4f} kW gross")
    assert found["stops"] == []
    assert found["readings"][0]["ratio"] == pytest.approx(1.0, abs=1e-3)
    assert "by the supply in the file" in found["expected_from"]
    timed = ("--volume", "50 L", "--time", f"{50e-3 * 38.1e3 / gives_kW:.1f} s", "--meter-pressure", "0 Pa")
    clocked = answer("clock", str(file), "--burner", burner, *timed)
    assert clocked["heat_input_gross_kW"] == pytest.approx(gives_kW, rel=0.02)
    assert clocked["stops"] == []


def test_the_manifold_pressure_that_was_read_replaces_the_supply(tmp_path: Path) -> None:
    """Behind the supply counts the valve alone: p before the orifice over p in the manifold is what it was."""
    appliance = read_appliance(cart_file(tmp_path, "valves and droop"))
    by_file = expected_input(appliance, RING)
    read = expected_at(appliance, by_file.manifold_Pa, RING)
    assert read.gross_W == pytest.approx(by_file.gross_W, rel=1e-6)
    doubled = expected_at(appliance, 2.0 * by_file.manifold_Pa, RING)
    assert doubled.gross_W / read.gross_W == pytest.approx(2.0**0.5, rel=0.005)
    found = explain(appliance, Reading(ratio=1.0, pressure_ratio=1.0), RING)
    assert found.manifold is not None
    assert found.manifold.ratio == pytest.approx(1.0, abs=1e-6)


def test_a_regulator_holds_what_the_supply_gives_before_and_after_a_conversion() -> None:
    """The pressure that one burner finds by the file lies in the range of the regulator; that of the gas before not."""
    present = demonstration()
    propane = ConversionTarget(gas=supplied("propane", 2740.0).gas, gauge_pressure_Pa=2740.0)
    after = changed(present, propane)
    ranges = [manifold_range(each) for each in (present, after)]
    for appliance, held in zip((present, after), ranges, strict=True):
        assert held.low_Pa < expected_input(appliance, RING).manifold_Pa < held.high_Pa
        assert held.low_Pa < appliance.supply.gauge_pressure_Pa < held.high_Pa
    assert ranges[0].high_Pa < ranges[1].low_Pa
    at_present = present.supply.gauge_pressure_Pa
    assert manifold_check(after, at_present, RING).pressure_verdict == Verdict.OUTSIDE


def test_a_file_without_a_supply_expects_its_nominal_pressure_before_the_orifices(tmp_path: Path) -> None:
    file = tmp_path / "plain.toml"
    start, rest = DEMO.index("# What stands before the burners"), DEMO.index("[limits]")
    text = (DEMO[:start] + DEMO[rest:]).replace('inlet           = "10 in w.c."', "")
    file.write_text(text, encoding="utf-8")
    appliance = read_appliance(file)
    at = conditions_of(appliance)
    for burner in appliance.burners:
        plain = flow_of(appliance, each_burner(appliance, burner.name)[0], at).heat_input_gross_W
        assert expected_input(appliance, burner.name).gross_W == pytest.approx(plain, rel=1e-9)


def test_a_supply_that_gives_nothing_says_so_and_expects_the_nominal(tmp_path: Path) -> None:
    text = DEMO.replace('size     = "1/2 in hose"', 'bore     = "1 mm"').replace(
        'length   = "1.2 m"', 'length   = "90 m"'
    )
    file = tmp_path / "starved.toml"
    file.write_text(text, encoding="utf-8")
    appliance = read_appliance(file)
    found = expected_input(appliance)
    assert "gives these burners no pressure" in found.words
    assert found.gross_W == pytest.approx(expected_at(appliance, appliance.supply.gauge_pressure_Pa).gross_W)
