"""What 0.1.0 made still opens, is read, corrected, charted and exported; what it never asked is not recorded."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from record_samples import a_test

from burnerlab.appliance import read_appliance
from burnerlab.bench.faults.explanation import explain
from burnerlab.bench.reading.readings import Reading
from burnerlab.bench.record import (
    ChartQuery,
    check,
    correct,
    entry,
    exported,
    import_file,
    kit_checks,
    open_record,
    open_stops,
    unit_chart,
)
from burnerlab.bench.record.document import chained
from burnerlab.bench.record.query import all_tests
from burnerlab.cli import main
from burnerlab.quantity import UserError

MADE = Path(__file__).with_name("made_by_0_1_0")
EXPECTED: dict[str, Any] = json.loads((MADE / "expected.json").read_text())
MODEL, BURNER = "Lantern Square 6", "griddle tube left"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return Path(shutil.copy(MADE / "record.sqlite", tmp_path / "bench.sqlite"))


def test_its_record_opens_as_it_was(path: Path) -> None:
    with pytest.raises(UserError, match="check --upgrade"):
        open_record(path, readonly=True)
    with open_record(path) as record:
        report = check(record)
        assert report.is_whole, report.faults
        assert (report.tests, report.kit_checks) == (EXPECTED["tests"], EXPECTED["kit_checks"])
        assert report.last_chain == EXPECTED["last_chain"]
        assert [[one.uid, one.serial, one.sha256] for one in all_tests(record)] == EXPECTED["entries"]
        assert [[one.uid, one.sha256] for one in kit_checks(record)] == EXPECTED["kits"]
        assert all(one.test.before_lighting is None and one.test.stops == () for one in all_tests(record))
        assert open_stops(record) == ()


def test_its_entries_are_corrected_and_charted(path: Path) -> None:
    with open_record(path) as record:
        chart = unit_chart(record, ChartQuery(model=MODEL, burner=BURNER))
        told = EXPECTED["chart"]
        assert [point.serial for point in chart.points] == told["serials"]
        assert [point.value for point in chart.points] == told["values"]
        assert chart.limits is not None
        assert chart.capability is not None
        found = (chart.limits.centre, chart.limits.low, chart.limits.high, chart.capability.cpk)
        assert found == pytest.approx([told[name] for name in ("centre", "low", "high", "cpk")], rel=1e-12)
        last = EXPECTED["entries"][1]
        made = correct(record, last[0], a_test(last[1]), "wrong dial")
        assert entry(record, last[0]).corrected_by == made.uid
        assert check(record).is_whole


@pytest.mark.parametrize("ending", ["csv", "json", "xlsx"])
def test_its_exports_are_taken_in_and_given_out(path: Path, tmp_path: Path, ending: str) -> None:
    """Two of its flames are a stop today: each is an entry of its own, after those that were taken in."""
    with open_record(tmp_path / "new.sqlite") as target, open_record(path) as source:
        done = import_file(target, MADE / f"record.{ending}")
        assert (done.tests, done.kit_checks, done.releases) == (EXPECTED["tests"], EXPECTED["kit_checks"], 0)
        taken_in, raised = list(all_tests(target))[: done.tests], list(all_tests(target))[done.tests :]
        assert taken_in == list(all_tests(source))
        chain = ""
        for one in taken_in:
            chain = chained(chain, one.sha256)
        assert chain == EXPECTED["last_chain"]
        assert [stop.id for one in raised for stop in one.test.stops] == ["odour", "yellow-tips"]
        assert [one.serial for one in raised] == ["C-0001", "C-0042"]
        assert check(target).is_whole
        assert kit_checks(target) == kit_checks(source)
        assert import_file(source, MADE / f"record.{ending}").tests == 0
        given_out = tmp_path / f"again.{ending}"
        given_out.write_bytes(exported(target, ending))
        with open_record(tmp_path / "again.sqlite") as again:
            assert import_file(again, given_out).stops_raised == 0
            assert exported(again, ending) == given_out.read_bytes()
            assert check(again).last_chain == check(target).last_chain


def test_its_entries_say_not_recorded(path: Path) -> None:
    def run(*args: str) -> str:
        done = CliRunner().invoke(main, ("record", *args, "--file", str(path)))
        assert done.exit_code == 0, done.stderr
        return done.output

    assert "no damage" in run("check", "--upgrade")
    shown = run("show", "C-0001")
    assert "before lighting  not recorded" in shown
    assert "STOP" not in shown
    assert json.loads(run("show", "C-0001", "--json"))["before_lighting"] is None
    assert "C-0042" in run("list")
    assert "C-0042" in run("search", "0042")
    assert "K-77" in run("kits")


def test_its_project_file_and_table_of_causes_are_read() -> None:
    told, cart = EXPECTED["appliance"], read_appliance(MADE / "range.toml")
    supply = cart.supply
    assert [cart.name, cart.model, cart.file_sha256] == [told["name"], told["model"], told["sha256"]]
    pressures = [supply.gauge_pressure_Pa, supply.low_gauge_pressure_Pa, supply.high_gauge_pressure_Pa]
    assert pressures == pytest.approx([told["pressure_Pa"], told["low_Pa"], told["high_Pa"]])
    for one, (name, count, rate, bore) in zip(cart.burners, told["burners"], strict=True):
        assert (one.name, one.count) == (name, count)
        assert [one.rate_W, one.orifice.diameter_m] == pytest.approx([rate, bore])
    found = explain(cart, Reading(ratio=0.82), BURNER, own_causes=MADE / "causes.csv")
    assert {one.cause for one in found.causes} <= {
        "as it should be", "neighbouring drill", "part blockage", "dial misread", "none of these",
    }  # fmt: skip
    assert found.causes[0].cause == "part blockage"
