"""The commands of the record, as a technician types them."""

from __future__ import annotations

import json
import re
import sqlite3
import subprocess
import sys
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import command_runs
import pytest
from record_samples import a_test

from burnerlab.appliance import demonstration, demonstration_path, read_appliance
from burnerlab.appliance.conversion.markets import convert_market, market_named
from burnerlab.bench.reading.manifold import pressure_span
from burnerlab.bench.reading_plan import plan_of
from burnerlab.bench.record import Result, add_test, open_record
from burnerlab.bench.record.other_unit import PLATE_ANSWERS
from burnerlab.bench.record.stop_display import state_file
from burnerlab.bench.stop import stop_notice
from burnerlab.cli.record_entries import PLATES
from burnerlab.cli.record_output import band_text

run = partial(command_runs.run, "record")
told = partial(command_runs.answer, "record")

READING = "griddle: manifold pressure = 11 inH2O +- 0.2 inH2O with M3"
RESULT = "griddle: deviation = -2.1 % +- 1.5 % in -5 %..5 %"
SPAN = pressure_span(3795.0, 4285.0, "metric")  # "38.0 to 42.8 mbar"
INSTRUMENT = "M3, manometer, calibrated 2023-05-01, due 2024-05-01"


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path / "bench.sqlite"


def add(serial: str = "C-0412", *more: str, status: int = 0) -> Any:
    return told(
        "add", "--serial", serial, "--model", "market cart range", "--tester", "R. Quill", "--gas", "propane",
        "--instrument", INSTRUMENT, "--reading", READING, "--reading", "flue temperature = 180 C +- 4 C",
        "--result", RESULT, "--result", "griddle: heat input gross = 14 kBtu/h gross +- 2 %",
        "--seen", "griddle: lift = no", "--seen", "griddle: noise = yes", *more,
        status=status,
    )  # fmt: skip


def test_a_heat_input_entered_as_a_reading_is_a_result(file: Path) -> None:
    """There it is held against its limits, and counts in reports and constants; one in both places is refused."""
    heat = "griddle: heat_input_gross = 4 kW +- 1.5 % with G1"
    words = ("add", "--serial", "C-1", "--model", "cart", "--tester", "R. Quill", "--reading", heat)
    made = told(*words)
    assert made["readings"] == []
    (result,) = made["results"]
    assert (result["quantity"], result["burner"]) == ("heat_input_gross", "griddle")
    assert (result["value"], result["expanded_uncertainty"]) == pytest.approx((4000.0, 60.0))
    assert [one["name"] for one in made["instruments"]] == ["G1"]
    both = run(*words, "--result", "griddle: heat input gross = 4.1 kW")
    assert both.exit_code == 2
    assert "heat_input_gross stands as a reading and as a result" in " ".join(both.output.split())
    over = (
        "--appliance",
        str(demonstration_path()),
        "--reading",
        "griddle tube left: heat_input_gross = 9 kW",
    )
    assert run("add", "--serial", "C-2", "--tester", "R. Quill", *over).exit_code == 1


def test_the_plate_is_asked_where_the_record_has_the_unit_as_another(file: Path) -> None:
    """In another spelling of its number too; not of a test that is stopped, and once answered not again."""
    assert PLATES == tuple(PLATE_ANSWERS)
    add()
    words = ("add", "--serial", "c-0412", "--model", "PF-4LP", "--gas", "G20", "--tester", "R. Quill")
    asked = run(*words)
    assert asked.exit_code == 2
    assert "C-0412 was tested as market cart range on propane" in " ".join(asked.output.split())
    assert run(*words, "--seen", "griddle: odour = yes").exit_code == 1  # recorded as stopped
    made = told(*words[:2], "C-0413", *words[3:], status=1)  # the bench is stopped, the number is new
    assert made["serial"] == "C-0413"
    other = (*words[:2], "C-0413", *words[3:6], "propane", *words[7:])
    assert run(*other).exit_code == 2
    assert {"name": "plate", "text": "converted"} in told(*other, "--plate", "converted", status=1)["inputs"]
    told(*other, status=1)


def test_a_converted_unit_is_held_against_the_market_that_it_is_built_for(file: Path) -> None:
    """Its gas named alone is no word on its orifices; without a file nothing is held against anything: said."""
    unit = ("add", "--tester", "R. Quill", "--reading", "griddle tube left: manifold pressure = 10.9 inH2O")
    of_file = (*unit, "--appliance", str(demonstration_path()))
    made = told(*of_file, "--serial", "T-1", "--market", "A")
    assert (made["gas"], made["stop"], made["notes"]) == ("propane", None, [])
    plan = plan_of(convert_market(market_named(demonstration(), "A"))[0])
    alone = plan.pressure_row("griddle tube left")
    assert alone is not None
    assert alone.high is not None
    for number, pressure_Pa in enumerate(
        (alone.high - 5.0, alone.high + 5.0)
    ):  # to the band of its row, not further
        line = ("--reading", f"griddle tube left: manifold pressure = {pressure_Pa:.1f} Pa")
        at = ("--appliance", str(demonstration_path()), "--serial", f"T-1{number}", "--market", "A")
        found = told("add", "--tester", "R. Quill", *at, *line, status=number)
        assert (found["stop"] is None) == (number == 0)
    other = run(*of_file, "--serial", "T-5", "--market", "A", "--gas", "natural-gas-typical")
    assert other.exit_code == 2
    assert "is another gas than propane" in " ".join(other.output.split())
    for number, (label, status) in enumerate(
        (("propane", 0), ("Propane", 0), ("cannot be read", 0), ("G20", 1))
    ):
        at = ("--serial", f"T-2{number}", "--market", "A", "--supply-label", label)
        read = told(*of_file, *at, status=status)
        assert (read["stop"] is not None) == bool(status)
    assert (read["stop"]["id"], read["note"]) == ("other-gas", "label of the supply: G20")
    labelled = told(*of_file, "--serial", "T-6", "--market", "A", "--supply-label", "another gas", status=1)
    assert labelled["stop"]["id"] == "other-gas"
    unknown = run(*of_file, "--serial", "T-7", "--market", "A", "--supply-label", "bottled")
    assert (unknown.exit_code, "bottled" in unknown.output) == (2, True)
    stopped = told(*of_file, "--serial", "T-2", "--gas", "propane", status=1)
    assert stopped["stop"]["id"] == "pressure"
    assert "propane is not the gas of the file, natural-gas-typical" in stopped["notes"][0]
    bare = run(*unit, "--serial", "T-3", "--model", "Lantern Square 6", "--gas", "propane")
    assert "held against nothing" in " ".join(bare.output.split())
    alone = run(*unit, "--serial", "T-4", "--model", "Lantern Square 6", "--plan", "c7e4873dbca1")
    assert alone.exit_code == 2
    assert "add --appliance FILE" in alone.output


def test_stops_answer_in_the_units_of_the_unit_that_they_were_shown_for(file: Path) -> None:
    text = demonstration_path().read_text(encoding="utf-8").replace('# region = "us" ', 'region = "us" ', 1)
    own = file.with_name("us.toml")
    own.write_text(text.replace("#:schema", "#", 1), encoding="utf-8")
    told("add", "--serial", "C-0411", "--appliance", str(own), "--tester", "t")
    notice = stop_notice("pressure", read="12.2 mbar (4.90 in w.c.)", limit="12.1 mbar (4.84 in w.c.)")
    words = {
        name: getattr(notice, name)
        for name in ("id", "scope", "signal", "heading", "do_first", "then", "why")
    }
    held = {"notice": words, "form": {"serial": "C-0411", "tester": "R. Quill"}, "has_reason": False}
    state_file(file).write_text(json.dumps({"stops": [held]}), encoding="utf-8")
    assert "Manifold pressure 4.90 in w.c., highest allowed 4.84 in w.c." in " ".join(
        run("stops").output.split()
    )


def test_a_test_is_added_and_shown(file: Path) -> None:
    made = add()
    assert file.exists()
    pressure, flue = made["readings"]
    assert pressure["value"] == pytest.approx(2740.0, rel=1e-3)
    assert pressure["standard_uncertainty"] == pytest.approx(24.9, rel=1e-2)
    assert (pressure["unit"], pressure["instrument"]) == ("Pa", "M3")
    assert flue["value"] == pytest.approx(453.15)
    assert flue["standard_uncertainty"] == pytest.approx(2.0)
    deviation, heat = made["results"]
    assert (deviation["value"], deviation["low"], deviation["high"], deviation["verdict"]) == (
        -0.021,
        -0.05,
        0.05,
        "within",
    )
    assert heat["expanded_uncertainty"] == pytest.approx(0.02 * heat["value"])
    assert made["instruments_overdue"] == ["M3"]
    assert made["not_as_wanted"] == [{"burner": "griddle", "name": "noise", "answer": "yes"}]
    again = told("show", "C-0412")
    del made["notes"]  # of what was entered, no part of the entry
    assert again == made | {name: again[name] for name in ("schema", "engines")} | {
        "stops_not_recorded": [],
        "earlier": [],
        "hot_too_soon": [],
        "runs_too_close": [],
    }
    text = run("show", "C-0412").stdout
    for words in (
        "calibration was due 2024-05-01",
        "noise beyond that of the flame (full): yes",
        "qualified person",
        "27.40 mbar",
    ):
        assert words in text
    row = next(line for line in text.splitlines() if "heat input gross" in line)
    assert "4.103 kW" in row
    assert "0.08206 kW" in row


def test_the_project_file_gives_model_hash_and_gas(file: Path) -> None:
    cart = read_appliance(demonstration_path())
    made = told("add", "--serial", "1", "--appliance", str(demonstration_path()), "--tester", "t")
    assert made["model_sha256"] == cart.file_sha256
    assert made["model"] == (cart.model or cart.name)
    assert made["gas"] == cart.supply.gas.name


def test_a_bare_instrument_is_the_newest_of_the_record(file: Path) -> None:
    add()
    add("C-0413", "--instrument", "M4, analyser, calibrated 2024-10-01, due 2025-10-01")
    made = told(
        "add", "--serial", "2", "--model", "m", "--tester", "t", "--instrument", "M4", "--instrument", "Q9"
    )
    assert made["instruments"][0]["due_on"] == "2025-10-01"
    assert made["instruments_without_calibration"] == ["Q9"]


def test_a_correction_takes_over_what_is_not_given(file: Path) -> None:
    first = add()
    made = told(
        "correct",
        first["uid"][:8],
        "--reason",
        "wrong dial",
        "--result",
        "griddle: deviation = 6 % in -5 %..5 %",
    )
    assert made["corrects"] == first["uid"]
    assert {one["quantity"]: one["value"] for one in made["results"]}["deviation"] == 0.06
    assert made["readings"] == first["readings"]
    assert [one["quantity"] for one in made["results"]] == [
        "deviation"
    ]  # the heat input followed from the old one
    assert "outside the band of" in " ".join(run("show", "C-0412").stdout.split())
    lines = run("show", "C-0412", "--history").stdout
    assert "superseded" in lines
    assert "correction" in lines
    assert "superseded already" in run("correct", first["uid"][:8], "--reason", "again").stderr


def test_a_correction_keeps_what_does_not_follow_from_the_corrected_result(file: Path) -> None:
    """Another burner, another measurand, and what is given together with the deviation."""
    first = add("C-0412", "--result", "ring: heat input gross = 9 kW gross", "--result", "excess air = 40 %")
    new = ("--result", "griddle: deviation = 6 %", "--result", "griddle: heat input gross = 15 kBtu/h gross")
    made = told("correct", first["uid"][:8], "--reason", "wrong dial", *new)
    assert {(one["burner"], one["quantity"]) for one in made["results"]} == {
        ("griddle", "deviation"),
        ("griddle", "heat_input_gross"),
        ("ring", "heat_input_gross"),
        (None, "excess_air"),
    }


def test_a_corrected_pressure_leaves_no_verdict_on_the_one_before(file: Path) -> None:
    outside = ("--result", "griddle: manifold pressure = 19 mbar in 16 mbar..18 mbar")
    first = add("C-0412", "--reading", "griddle: manifold pressure = 19 mbar", *outside, status=1)
    assert {one["quantity"] for one in first["results"]} >= {"manifold_pressure"}
    read = ("--reading", "griddle: manifold pressure = 17 mbar")
    made = told("correct", first["uid"][:8], "--reason", "misread", *read, status=1)
    assert "manifold_pressure" not in {one["quantity"] for one in made["results"]}


def test_lists_and_searches(file: Path) -> None:
    for number in range(3):
        add(f"C-041{number}")
    listed = told("list", "--limit", "2")
    assert (listed["count"], listed["units"], listed["entries"]) == (2, 3, 3)
    assert told("list", "--since", "2099-01-01")["count"] == 0
    assert [one["serial"] for one in told("search", "0411", "quill")["tests"]] == ["C-0411"]
    assert "no entry matches" in run("search", "nothing of this").stdout
    assert re.search(
        r"worst +not as +state|worst input +not as +state|worst input +not as required +state",
        run("list").stdout,
    )


def test_a_list_says_what_is_held_and_how_much_of_it_is_not_as_required(file: Path) -> None:
    """As many things as ``show`` lists, and the stop that a bench showed of a unit and nobody recorded."""
    add("C-0411", "--result", "rear burner: deviation = -20 % in -5 %..5 %")
    shown = run("show", "C-0411").stdout.partition("Not as required")[2].partition("\n\n")[0]
    line = " ".join(re.findall(r"^C-0411 .*$", run("list").stdout, re.MULTILINE))
    assert f" {shown.count(chr(10) + '  - ')} " in f"{line} "
    notice = stop_notice("soot")
    words = {
        name: getattr(notice, name)
        for name in ("id", "scope", "signal", "heading", "do_first", "then", "why")
    }
    held = {"notice": words, "form": {"serial": "C-0411", "tester": "R. Quill"}, "has_reason": False}
    state_file(file).write_text(json.dumps({"stops": [held]}), encoding="utf-8")
    assert [told(*command)["tests"][0]["state"] for command in (("list",), ("search", "C-0411"))] == [
        "held"
    ] * 2
    assert re.search(r"^state +held$", run("show", "C-0411").stdout, re.MULTILINE)


def test_a_stop_of_another_spelling_of_the_unit_heads_its_list(file: Path, tmp_path: Path) -> None:
    other = str(tmp_path / "other.sqlite")
    stopped = ("--seen", "griddle: soot = yes", "--file", other)
    run("add", "--serial", "Rg5-1", "--model", "m", "--tester", "t", *stopped)
    run("export", "--out", "out.json", "--file", other)
    run("add", "--serial", "RG5-1", "--model", "m", "--tester", "t")
    taken = " ".join(run("import", "out.json").stdout.split())
    assert "One unit, spelled in two ways - Rg5-1 is the unit RG5-1 of the record" in taken
    assert "STOP. Soot" in run("list").stdout
    assert len(re.findall("^[Rr][Gg]5-1 ", run("list").stdout, re.MULTILINE)) == 1


@pytest.mark.parametrize("ending", ["csv", "json", "xlsx"])
def test_out_and_in_again(file: Path, tmp_path: Path, ending: str) -> None:
    add()
    out = tmp_path / f"out.{ending}"
    assert told("export", "--out", str(out))["tests"] == 1
    assert "will not overwrite" in run("export", "--out", str(out)).stderr
    assert '--out = "exp": has no ending that names the format' in run("export", "--out", "exp").stderr
    other = str(tmp_path / "other.sqlite")
    assert told("import", str(out), "--file", other)["tests"] == 1
    assert told("import", str(out), "--file", other)["already_there"] == 1
    assert told("show", "C-0412", "--file", other) == told("show", "C-0412")


def test_backup_and_check(file: Path, tmp_path: Path) -> None:
    add()
    made = told("backup", "--out", str(tmp_path / "copy.sqlite"))
    report = told("check")
    assert report["is_whole"]
    assert made["last_chain"] == report["last_chain"]
    with sqlite3.connect(file) as other:
        other.execute("DROP TRIGGER results_keep_update")
        other.execute("UPDATE results SET value = 0.0")
    other.close()
    wrong = run("check", "--json")
    assert wrong.exit_code == 1
    assert "was altered" in json.loads(wrong.stdout)["faults"][0]
    assert run("check", "--file", str(tmp_path / "copy.sqlite")).exit_code == 0


def test_the_chart_in_the_terminal_as_json_and_as_a_figure(file: Path, tmp_path: Path) -> None:
    import numpy as np

    with open_record(file) as record:
        for number, value in enumerate(0.01 * np.random.default_rng(1).normal(size=30)):
            deviation = float(value) + (0.06 if number == 20 else 0.0)
            add_test(
                record, a_test(f"C-{number:04d}", deviation, tested_at=f"2024-10-{number + 1:02d}T08:00Z")
            )
    args = ("chart", "--model", "market cart range", "--burner", "griddle")
    chart = told(*args)
    assert len(chart["points"]) == 30
    assert {"rule": "beyond the limits", "serial": "C-0020"}.items() <= next(
        hit for hit in chart["drift"] if hit["rule"] == "beyond the limits"
    ).items()
    assert chart["capability"]["cpk_interval"]["low"] < chart["capability"]["cpk"]
    text = run(*args).stdout
    line = next(line for line in text.splitlines() if line.startswith("C-0020"))
    assert "#" in line
    assert line.rstrip()[-1].isalpha()
    assert max(len(line) for line in text.splitlines() if line.startswith("C-")) <= 90
    figure = tmp_path / "chart.svg"
    pytest.importorskip("matplotlib")
    assert run(*args, "--svg", str(figure)).exit_code == 0
    assert figure.read_text(encoding="utf-8").startswith("<svg")
    assert "will not overwrite" in run(*args, "--svg", str(figure)).stderr
    assert "accepted: griddle" in run("chart", "--model", "market cart range", "--burner", "ring").stderr


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("--reading", "manifold pressure 11 inH2O"), "cannot be read"),
        (("--reading", "griddle: manifold presure = 11 inH2O"), "did you mean manifold_pressure"),
        (("--reading", "griddle: manifold pressure = 11"), "unit"),
        (("--reading", "manifold pressure = 11 inH2O in 1..2"), "a reading has no band"),
        (("--result", "heat input gross = 4 kW net"), "heat_input_gross is gross"),
        (("--result", "ring: heat input = 4 kW"), "did you mean heat_input_gross or heat_input_net"),
        (("--result", "deviation = 2 % in 5 %"), "no band"),
        (("--seen", "lift = perhaps"), "yes, no, not seen"),
        (("--instrument", "M3, due soon"), "not a date"),
        (("--tested-at", "noon"), "not a date and time"),
        (("--model", "  "), "--model: is missing"),
    ],
)
def test_bad_facts_make_no_file(file: Path, args: tuple[str, ...], words: str) -> None:
    model = () if "--model" in args else ("--model", "m")
    given = ("add", "--serial", "1", *model, "--tester", "t", *args)
    result = run(*given)
    assert result.exit_code == 2
    assert words in result.stderr
    assert "Traceback" not in result.stderr
    assert not file.exists() or not told("list")["entries"]


def test_what_is_not_there_is_said(file: Path, tmp_path: Path) -> None:
    missing = run("list")
    assert missing.exit_code == 2
    assert "no such record" in missing.stderr
    assert not file.exists()
    add()
    assert "no test of this unit" in run("show", "C-9999").stderr
    assert "no such entry" in run("correct", "ffff", "--reason", "r").stderr
    assert "folder" in run("list", "--file", str(tmp_path)).stderr
    assert json.loads(run("show", "C-9999", "--json").stderr)["error"]["status"] == 2


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys\nfrom burnerlab.cli import main\n"
        "try:\n    main(['record', 'add', '--help'])\nexcept SystemExit:\n    pass\n"
        "print([m for m in ('numpy', 'scipy', 'matplotlib', 'cantera') if m in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"
    for name in (
        "add",
        "correct",
        "list",
        "show",
        "search",
        "chart",
        "kits",
        "export",
        "import",
        "check",
        "backup",
    ):
        assert f"burnerlab record {name}" in run(name, "--help").output


def test_a_reading_again_says_what_was_mended_and_the_first_one_stays_on_show(file: Path) -> None:
    """As on the page: refused without a word, and *nothing, read again* is one."""
    off = "--result", "griddle: deviation = {} % in -5 %..5 %"
    ring = "--result", "ring: air free carbon monoxide = {} ppm in 0 ppm..400 ppm"

    def again(deviation: str, ppm: str, *more: str, status: int = 0) -> str:
        parts = (off[0], off[1].format(deviation), ring[0], ring[1].format(ppm), *more)
        done = run("add", "--serial", "C-0500", "--model", "m", "--tester", "J. Maes", *parts)
        assert done.exit_code == status, done.output
        return " ".join(done.stderr.split())

    again("-8", "80")
    refused = again("-3", "90", status=2)
    assert "--mended: say what was mended since: nothing, read again is an answer" in refused
    assert "griddle, heat input against the rating: -8.0 %" in refused
    assert "ring" not in refused  # which was within
    again("-3", "90", "--tested-at", "2020-01-01 10:00")  # before it: stands in no place of it
    again("-3", "90", "--mended", "orifice cleaned")
    again("-2", "90")
    (outside, *twice) = told("show", "c-0500")["earlier"]
    assert (outside["value"], outside["quantity"], outside["way"], outside["done"]) == (
        -0.08, "deviation", "mended", "orifice cleaned",
    )  # fmt: skip
    assert {one["is_outside"] for one in twice} == {False}
    text = " ".join(run("show", "C-0500").stdout.split())
    assert re.search(r"against the rating: -8.0 %, OUTSIDE; [^;]*; mended: orifice cleaned", text)
    assert "cold" not in text  # no state was recorded
    assert told("show", "C-0500", "--history")["earlier"][0] == outside


def test_a_stop_is_recorded_without_a_word_on_what_was_mended(file: Path) -> None:
    """Of a unit that was outside its band: neither a smell of gas nor an overfire waits for it."""
    for number, (first, then) in enumerate((("-8 %", "14 %"), ("-8 %", "-7 %"))):
        unit = ("--serial", f"C-051{number}", "--model", "m", "--tester", "t")
        assert run("add", *unit, "--result", f"ring: deviation = {first} in -5 %..5 %").exit_code == 0
        smell = ("--seen", "ring: odour = yes") if number == 1 else ()
        again = run("add", *unit, *smell, "--result", f"ring: deviation = {then} in -5 %..5 %")
        assert (again.exit_code, "STOP" in again.stdout) == (1, True), again.output


@pytest.mark.parametrize(
    ("quantity", "value", "low", "high", "words"),
    [
        ("manifold_pressure", 4000.0, 3795.0, 4285.0, f"within the band of {SPAN}"),
        ("lock_up_pressure", 4000.0, None, 4285.0, "within, at most 42.8 mbar"),
        ("air_free_carbon_monoxide", 87e-6, None, 8e-4, "within, at most 800 ppm"),
        ("heat_input_net", 4000.0, 3800.0, 4200.0, "within the band of 3.800 to 4.200 kW"),
    ],
)
def test_a_band_is_printed_as_card_and_plan_print_it(
    quantity: str, value: float, low: float | None, high: float, words: str
) -> None:
    """Its ends rounded into it, both or the one it has."""
    made = Result(quantity=quantity, value=value, low=low, high=high, verdict="within")
    assert band_text(made) == words
    assert band_text(replace(made, verdict="not evaluated")).startswith("not evaluated (")


def test_a_barometer_is_in_inches_of_mercury_for_a_reader_in_US_units(file: Path) -> None:
    add("C-0502", "--reading", "ambient pressure = 24.60 inHg")
    assert "24.60 inHg" in run("show", "C-0502", "--units", "us").stdout
    assert "inHg" not in run("show", "C-0502").stdout
