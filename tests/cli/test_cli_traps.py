"""Wrong input at the command line: each is refused with what is wrong and what would be right."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from burnerlab.appliance import demonstration_path
from burnerlab.cli import main

CART = str(demonstration_path())
FLOW = {"--gas": "propane", "--pressure": "11 inH2O", "--drill": "#54"}
SIZE = {"--gas": "propane", "--pressure": "11 inH2O", "--rate": "12 kBtu/h gross"}
CONVERT = {"--to": "propane", "--pressure": "11 inH2O"}
FLUE = {"--gas": "propane", "--oxygen": "5 %"}

TRAPS = [
    ("flow", {"--pressure": "1,5 kPa"}, "use a point as decimal mark"),
    ("flow", {"--pressure": "11"}, "unit is missing"),
    ("flow", {"--pressure": "nan kPa"}, "--pressure"),
    ("flow", {"--pressure": "inf kPa"}, "--pressure"),
    ("flow", {"--pressure": "1_000 Pa"}, "--pressure"),
    ("flow", {"--pressure": "10**10**8 kPa"}, "--pressure"),
    ("flow", {"--pressure": "1 kPa; 2"}, "--pressure"),
    ("flow", {"--pressure": "28 mbar g"}, "gauge"),
    ("flow", {"--pressure": "10 ㎪"}, "--pressure"),
    ("flow", {"--pressure": "-11 inH2O"}, "must be above the outlet pressure"),
    ("flow", {"--pressure": "0 Pa"}, "must be above the outlet pressure"),
    ("flow", {"--drill": "54"}, "write #54 or 1.397 mm; an injector marked 54 is 0.54 mm"),
    ("flow", {"--drill": "54", "--units": "us"}, "write #54 or 0.05500 in\n"),
    (
        "flue",
        {"--oxygen": "5"},
        "the unit is missing (accepted: a figure with % or ppm); if the analyser shows %",
    ),
    ("flue", {"--oxygen": "0.05"}, "the unit is missing"),
    ("flue", {"--carbon-monoxide": "87"}, 'if the analyser shows ppm, write "87 ppm"'),
    ("flue", {"--oxygen": "30 %"}, "outside the accepted range (accepted: 0 % to 20.8"),
    (
        "flue",
        {"--relative-humidity": "50"},
        'this is 5000 % (accepted: 0 % to 100 %); if per cent, write "50 %"',
    ),
    ("size", {"--region": "uk"}, "us, eu"),
    ("flow", {"--drill": "#1000"}, "--drill"),
    ("flow", {"--diameter": "1.4 mm"}, "give one of them, not both"),
    ("flow", {"--drill": None}, "give one of them"),
    ("flow", {"--drill": None, "--diameter": "0 mm"}, "must be above zero"),
    ("flow", {"--drill": None, "--diameter": "1,40 mm"}, "use a point as decimal mark"),
    ("flow", {"--gas": "propan"}, "did you mean propane"),
    ("flow", {"--gas": None}, "the gas is missing"),
    ("flow", {"--mix": "methane=1"}, "more than one gas"),
    ("flow", {"--gas": None, "--mix": "methane=0.97"}, "off by 0.03"),
    ("flow", {"--gas": None, "--mix": "methane=94,ethane=0.03"}, "percent"),
    ("flow", {"--gas": None, "--mix": "methane=1.5,ethane=-0.5"}, "ethane is negative"),
    ("flow", {"--gas": None, "--mix": "methane=0.5,CH4=0.5"}, "methane given twice"),
    ("flow", {"--gas": None, "--mix": "methan=1"}, "methane"),
    ("flow", {"--gas": None, "--mix": "methane=1", "--per": "barrel"}, "accepted"),
    ("flow", {"--per": "mole"}, "with --mix only"),
    ("flow", {"--coefficient": "1.4"}, "0.5 to 1"),
    ("flow", {"--coefficient": "0"}, "0.5 to 1"),
    ("flow", {"--coefficient": "0.9", "--shape": "sharp"}, "not both"),
    ("flow", {"--shape": "taperd"}, "did you mean tapered?"),
    ("flow", {"--altitude": "5000 ft", "--barometer": "84 kPa"}, "not both"),
    ("flow", {"--altitude": "5000"}, "unit is missing"),
    ("flow", {"--gas-temperature": "15"}, "unit is missing"),
    ("flow", {"--count": "0"}, "--count"),
    ("flow", {"--at": "17C/15C"}, "accepted"),
    ("flow", {"--reference-pressure": "11 inH2O"}, "reference"),
    ("flow", {"--gas": None, "--heating-value": "1037 Btu/ft3 gross at 60F"}, "--relative-density"),
    ("flow", {"--relative-density": "0.6"}, "needs --heating-value"),
    ("size", {"--rate": "12 kBtu/h"}, "gross or net?"),
    ("size", {"--rate": "60 MBtu/h gross"}, "MMBtu/h"),
    ("size", {"--rate": "4,5 kW net"}, "use a point as decimal mark"),
    ("size", {"--rate": "0 kW net"}, "must be above zero"),
    ("size", {"--rate": "1 Nm3/h gross"}, "--rate"),
    ("size", {"--gas": "nitrogen"}, "this gas has no fuel"),
    ("size", {"--drills": "nummer"}, "number, letter, fraction, metric"),
    ("size", {"--drills": " , "}, "the drill list is missing"),
    ("size", {"--drills": "#54; 1,6; 1,8 mm"}, "write #54, 1.6 mm, 1.8 mm"),
    ("size", {"--drills": "missing.csv"}, "not a regular file"),
    ("convert", {"--pressure": "11 psi"}, "write 11 in w.c."),
    ("convert", {"--pressure": "28 kPa"}, "write 28 mbar"),
    ("convert", {"--pressure": None}, "pressure of the new gas is missing"),
    ("convert", {"--to": None}, "the gas is missing"),
    ("convert", {"--pressure-range": "35..25 mbar"}, "lower end comes first"),
    ("convert", {"--pressure-range": "25 mbar"}, "not a range"),
    ("convert", {"--tolerance": "5,5 %"}, "use a point as decimal mark"),
    ("convert", {"--policy": "4-percent"}, "did you mean 4-percent"),
    ("convert", {"--units": "roman"}, "metric, us"),
    ("convert", {"--formats": "docx", "--out": "x"}, "html, pdf, xlsx, csv, json, card"),
    ("convert", {"--overwrite": ""}, "--out"),
    ("convert", {"--presure": "x"}, "--pressure"),
]


@pytest.mark.parametrize(("command", "change", "says"), TRAPS, ids=lambda value: str(value)[:60])
def test_a_trap_is_refused_with_a_fix(
    command: str, change: dict[str, str | None], says: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    options = {"flow": FLOW, "size": SIZE, "convert": CONVERT, "flue": FLUE}[command] | change
    line = [command, *([CART] if command == "convert" else [])]
    for flag, text in options.items():
        line += [] if text is None else [flag, text] if text else [flag]
    result = CliRunner().invoke(main, line)
    assert result.exit_code == 2, result.output
    assert says in result.stderr
    assert not result.stdout
    assert "Traceback" not in result.stderr
    assert not list(tmp_path.iterdir())


def test_all_problems_are_told_at_once() -> None:
    line = [
        "size",
        "--gas",
        "propan",
        "--rate",
        "12 kBtu/h",
        "--pressure",
        "11",
        "--drills",
        "nummer",
        "--at",
        "x",
    ]
    lines = CliRunner().invoke(main, line).stderr.splitlines()
    assert [text.split()[1] for text in lines] == ["--gas", "--rate", "--pressure", "--drills", "--at"]


def test_an_unquoted_value_gets_a_hint() -> None:
    result = CliRunner().invoke(
        main, ["flow", "--gas", "propane", "--pressure", "11", "inH2O", "--drill", "#54"]
    )
    assert result.exit_code == 2
    assert 'needs quotes: --pressure "11 inH2O"' in result.stderr


def test_a_drill_lost_to_the_shell_gets_a_hint() -> None:
    result = CliRunner().invoke(main, ["flow", "--gas", "propane", "--pressure", "11 inH2O", "--drill"])
    assert "--drill '#54'" in result.stderr


@pytest.mark.parametrize("file", [".", "missing.toml"])
def test_a_file_that_is_none_is_refused(file: str) -> None:
    result = CliRunner().invoke(main, ["convert", file, "--to", "propane", "--pressure", "11 inH2O"])
    assert result.exit_code == 2
    assert "file" in result.stderr


def test_errors_of_the_appliance_file_name_line_and_key(tmp_path: Path) -> None:
    text = demonstration_path().read_text(encoding="utf-8")
    text = re.sub(r"(?m)^rate .*$", 'rate = "12,5 kBtu/h"', text, count=1)
    text = re.sub(r"(?m)^altitude ", "altitde ", text, count=1)
    file = tmp_path / "cart.toml"
    file.write_text(text, encoding="utf-8")
    result = CliRunner().invoke(main, ["convert", str(file), "--to", "propane", "--pressure", "11 inH2O"])
    lines = result.stderr.splitlines()
    assert result.exit_code == 2
    assert len(lines) == 2
    assert all(line.startswith(f"error: {file}, line ") for line in lines)
    assert "did you mean altitude?" in lines[0]
    assert "burner" in lines[1]
    assert "use a point as decimal mark" in lines[1]


@pytest.mark.parametrize(("region", "is_mark"), [("us", False), ("eu", True)])
def test_a_file_of_the_us_is_refused_in_its_units(tmp_path: Path, region: str, is_mark: bool) -> None:
    """A bare 54 is a drill there; in Europe it may be the mark of an injector, in hundredths of a millimetre."""
    text = demonstration_path().read_text(encoding="utf-8").replace('# region = "us"', f'region = "{region}"')
    file = tmp_path / "cart.toml"
    file.write_text(text.replace('drill = "#54"', 'drill = "54"', 1), encoding="utf-8")
    said = CliRunner().invoke(main, ["convert", str(file), "--market", "A"]).stderr
    assert ("an injector marked 54 is 0.54 mm" in said) == is_mark
    assert ("write #54 or 0.05500 in" in said) != is_mark


def test_the_desk_edits_no_standard_input() -> None:
    result = CliRunner().invoke(main, ["desk", "-"])
    assert result.exit_code == 2
    assert "the standard input is no file that the desk can save" in result.stderr


def test_the_demonstration_refuses_a_file_for_a_folder(tmp_path: Path) -> None:
    taken = tmp_path / "taken"
    taken.write_text("mine", encoding="utf-8")
    result = CliRunner().invoke(main, ["demo", str(taken)])
    assert result.exit_code == 2
    assert taken.read_text(encoding="utf-8") == "mine"


def test_json_mode_keeps_the_output_clean() -> None:
    result = CliRunner().invoke(
        main, ["size", "--gas", "propane", "--rate", "12 kW", "--pressure", "11 inH2O", "--json"]
    )
    assert result.exit_code == 2
    assert not result.stdout
    assert "error" in json.loads(result.stderr)


def test_a_pure_component_is_not_said_to_be_given_by_the_user() -> None:
    report = json.loads(CliRunner().invoke(main, ["gas", "CH4", "--json"]).output)
    assert (report["source"], report["provenance"]) == ("pure component", "definition")
    assert json.loads(CliRunner().invoke(main, ["gas", "C3H8", "--json"]).output)["gas"] == "propane"


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["gas", "--mix", "CH4 0.9"], "--mix = "),
        (["flow", "--gas", "mix:CH4 0.9", "--pressure", "20 mbar", "--drill", "#54"], "--gas = "),
        (
            ["gas", "--heating-value", "1037 Btu/ft3 gross", "--relative-density", "0.6"],
            'say it with the value: "1037 Btu/ft3 gross at 60F"',
        ),
    ],
)
def test_what_is_wrong_is_called_by_its_option(given: list[str], said: str) -> None:
    result = CliRunner().invoke(main, given)
    assert result.exit_code == 2
    assert said in result.output
