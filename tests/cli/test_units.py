"""Text in the units of its reader alone: every command with a line of its own in both systems, no unit of the other.

What may stand in another unit is named below with its reason; JSON is the same in both.
"""

from __future__ import annotations

import json
import os
import re
import shlex
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from click.testing import CliRunner
from command_runs import complaint
from json_runs import LINES, NOT_HERE, commands_with_json, short_search
from wrong_lines import furnish

from burnerlab.appliance import demonstration_path
from burnerlab.cli import main
from burnerlab.quantity.prose import column_in, drill_names, in_reader_units
from burnerlab.quantity.quantity_text import millimetre, quantity_text, quoted
from burnerlab.quantity.units import Kind
from burnerlab.report.html import pretty
from burnerlab.tables.phrase import Phrase

AMOUNT = r"(?:(?<![\w./-])[-+±]?\d[\d .]*(?:/\d+)? ?)"
METRIC = re.compile(
    rf"{AMOUNT}(?:°C|C|K|kg|g|m|cm|mm|L|W|Pa)\b(?!/)|(?<![\w/])(?:mbar|kPa|kW|mm²?|cm²|MJ|m³|kJ|°C)(?![\w(])"
)
US = re.compile(rf"{AMOUNT}(?:in|ft|lb|oz|F)\b(?!/)|in w\.c\.|inH2O|inHg|psi[ag]?\b|k?Btu|°F|ft³|in²|lb/h")

# pattern, and why it may stand in a text of the other system; "" is every command
ALLOWED: tuple[tuple[str, str, str], ...] = (
    ("", r"\([\d.]+ °[CF] / [\d.]+ °[CF]\)", "the temperatures by which a reference state is called, after it"),
    ("", "|".join(map(re.escape, drill_names())), "a drill is called by its size in mm"),
    ("", r"\d+-\d+/\d+ mbar", "a pressure couple is called by its pressures in mbar"),
    ("", r"m³/m³|kg/kmol|mol/mol", "a ratio of volumes, and the molar mass, have no other unit in use"),
    ("", r"above 4500 ft: authority", "the words of a code"),
    ("injectors", r"(?<![\w/])\d+/\d+ in\b", "a drill is called by its fraction of an inch"),
    ("convert", r"G31 at 37 mbar|G30 at 29 mbar", "the pressures of a couple are its name"),
    ("interchange", r"(MJ/m³|Btu/ft³)", "an index and its limits are those of a publication"),
    ("fuels", r"\d+ Btu/ft³", "a gas of the library is called by its heating value"),
    ("kit check", r"[\d.]+ g\b", "what a scale in grams read, and what is held against it, stay in its unit"),
    ("kit window", r"[\d.]+ g\b", "the scale of the file reads grams"),
    ("cylinder", r"20 lb|cylinder pressures of 8 to 220 psig", "what a cylinder is called; words of a source"),
    ("skins", r"(below|above) 36 in|in the band|less 77\s+°F|to 60 °C, 5 s|\d+ K( and \d+ K)?|59 K is",
     "what a limit is called; a disagreement of sources in their own figures"),
)  # fmt: skip
OF_BOTH = {
    "plate": "a label is in the units of its market, whoever reads the list",
    "verify": "a published figure stands in the unit it was published in, ours beside it",
}
"""Commands whose text is not looked at for units of the other system."""
LEFT_OUT = {
    "demo demonstration": "what convert prints",
    "optimise cart.toml --tubes 2 --inputs '100 %'": "in one system",
    "schema": "prints JSON",
    "man": "the help of every command, whose examples are written in either",
}
WRITTEN = ("record export --out november.json", "record backup --out copy.sqlite")
"""Lines that write a file, which the second system writes again."""
TEXTS = [line for line in LINES if line not in LEFT_OUT]


@cache
def answers() -> dict[tuple[str, str], str]:
    """What each line printed, by line and system."""
    before = Path.cwd()
    with TemporaryDirectory() as folder, short_search():
        try:
            furnish(Path(folder) / "work")
            printed = {}
            for line in LINES:
                for system in ("metric", "us"):
                    if line in TEXTS or (line.startswith("optimise") and system == "us"):
                        again = ["--overwrite"] if line in WRITTEN and system == "us" else []
                        done = CliRunner().invoke(main, [*shlex.split(line), *again, "--units", system])
                        assert done.exit_code in (0, 1), (line, done.output)
                        printed[line, system] = done.output
            return printed
        finally:
            os.chdir(before)


def without_allowed(line: str, text: str) -> str:
    for command, pattern, _ in ALLOWED:
        if line.startswith(command):
            text = re.sub(pattern.replace(r"\ ", " ").replace(" ", r"\s+"), "", text)  # also over two lines
    return text


OPTIMISE = next(line for line in LINES if line.startswith("optimise"))


@pytest.mark.parametrize("line", [one for one in [*TEXTS, OPTIMISE] if one.split()[0] not in OF_BOTH])
def test_no_unit_of_the_other_system(line: str) -> None:
    for system, other in (("metric", US), ("us", METRIC)):
        if (line, system) == (OPTIMISE, "metric"):
            continue
        text = answers()[line, system]
        assert text
        rest = without_allowed(line, text)
        strange = [one for one in rest.splitlines() if other.search(one)]
        assert not strange, f"{system}: {line}\n" + "\n".join(strange)


@pytest.mark.parametrize("line", [one for one in TEXTS if not one.startswith("completion")])
def test_a_text_fits_a_terminal_of_80_columns(line: str) -> None:
    """A line that is wider is broken by the terminal amid a word; an error is one line, for whoever searches it."""
    for system in ("metric", "us"):
        wide = [
            one
            for one in answers()[line, system].splitlines()
            if len(one) > 80 and not one.startswith("error: ")
        ]
        assert not wide, "\n".join(wide)


def test_a_gas_pressure_is_printed_in_mbar() -> None:
    """Metric text has kPa of the air outside (50 to 110, absolute) and inside a cylinder alone."""
    for (line, system), text in answers().items():
        if system == "metric" and not line.startswith(("cylinder", "verify")):
            outside = re.sub(r"\b(?:[5-9]\d|10\d|110)(?:\.\d+)?\s+kPa", "", text)
            assert "kPa" not in outside, line


def test_powers_are_set_in_one_way() -> None:
    for (line, _), text in answers().items():
        assert not re.search(r"(?<![\w.])(m|cm|mm|ft|in)[23](?![\w.])", text), line
        assert not re.search(r"\d [CF]\b", text), line


def test_every_command_has_the_option() -> None:
    from wrong_lines import commands_of

    without = [
        " ".join(path)
        for path, command in commands_of(main)
        if " ".join(path) in commands_with_json()
        and not any("--units" in option.opts for option in command.params)
    ]
    assert not without
    tried = {line.split()[0] for line in (*TEXTS, *LEFT_OUT)}
    left = {words.split()[0] for words in commands_with_json()} - tried
    assert left <= {words.split()[0] for words in NOT_HERE} | {"settings"}


def test_the_reasons_are_needed() -> None:
    """An exception that excuses nothing any more is taken out."""
    for command, pattern, reason in ALLOWED:
        texts = [text for (line, _), text in answers().items() if line.startswith(command)]
        assert any(re.search(pattern, text) for text in texts), reason


def test_json_is_the_same_in_both() -> None:
    line = ["flow", "--gas", "propane", "--pressure", "11 inH2O", "--drill", "#54", "--json"]
    metric, us = (CliRunner().invoke(main, [*line, "--units", one]).stdout for one in ("metric", "us"))
    assert json.loads(metric) == json.loads(us)


def test_a_system_that_is_none() -> None:
    assert "accepted: metric, us" in complaint("fuels", "--units", "troy")


@pytest.mark.parametrize(
    ("text", "us"),
    [  # NIST SP 811, B.8: 1 in = 25.4 mm, 1 in w.c. (conventional) = 249.0889 Pa, 1 Btu (IT) = 1055.056 J
        ("25.4 mm", "1.00 in"),
        ("249.0889 Pa", "1.000000 in w.c."),
        ("2.49089 to 4.98178 kPa", "10.0000 to 20.0000 in w.c."),
        ("293.071 W", "1000.00 Btu/h"),
        ("100 °C (0 to 200 °C)", "212 °F (32.0 to 392 °F)"),
        ("warmer by 10 K", "warmer by 18.0 °F"),
        ("51.6 ±1.7 °C", "125 ±3.1 °F"),
        ("2.49089 ± 0.49818 kPa", "10.0000 ± 2.0000 in w.c."),
        ("drill 1.40 mm, ports 1.4 mm", "drill 1.40 mm, ports 0.0551 in"),
        ("at 15 °C / 15 °C, 101.325 kPa, dry", "at 59 °F / 59 °F, 14.696 psia, dry (15 °C / 15 °C)"),
        ("at 59 °F / 59 °F, 14.696 psia, dry (15 °C / 15 °C).", "at 59 °F / 59 °F, 14.696 psia, dry (15 °C / 15 °C)."),
        ("at 60 °F / 60 °F, 14.73 psia, dry", "at 60 °F / 60 °F, 14.73 psia, dry"),
        ("G31 at 37 mbar. Then", "G31 at 14.9 in w.c. Then"),
        ("101.325 kPa absolute", "14.6959 psia absolute"),
        ("17.4 mbar (7.00 in w.c.)", "7.00 in w.c."),
        ("1524 m (5000 ft)", "5000 ft"),
        ("Re 2902, 30 %", "Re 2902, 30 %"),
    ],
)  # fmt: skip
def test_a_sentence_in_US_units(text: str, us: str) -> None:
    assert in_reader_units(text, "US") == us


def test_a_value_comes_back_as_it_was_typed() -> None:
    """20 F, 60 kBtu/h and 7 in w.c. are no 19.4 °F, 59 990 Btu/h and 7.002 in w.c.: rounded once, from the value."""
    cylinder = ["cylinder", "--gas", "propane", "--size", "20 lb", "--air-temperature", "20 F"]
    runs = (
        ([*cylinder, "--rate", "60 kBtu/h gross"], ("20.0 °F", "60 000 Btu/h gross")),
        (["supply", str(demonstration_path())], ("7.000 in w.c. gauge", "rated 95 000 Btu/h")),
        (
            [
                *["injectors", "--drills", "#80", "--supply"],
                "natural-gas-typical@7 inH2O",
                str(demonstration_path()),
            ],
            ("at 7.00 in w.c.: no orifice fits",),
        ),
        (["layout", str(demonstration_path())], ("to 69.0 Btu/h/in²", "5.20 Btu/h/in²")),
    )
    for line, wanted in runs:
        text = CliRunner().invoke(main, [*line, "--units", "us"]).stdout
        assert not [one for one in wanted if one not in text], text


def test_a_column_without_a_unit_in_its_head_stays() -> None:
    assert column_in("US", "off rating", ["-1.6 %"]) == ("off rating", ["-1.6 %"])
    assert column_in("US", "°C", ["-40", "100 (rise)"]) == ("°F", ["-40.0", "212 (rise)"])


def test_a_column_has_one_number_of_decimals() -> None:
    bores, ports = ["0.950", "1.000", "25.400"], ["0.95", "1.00", "25.40"]
    assert column_in("US", "mm", bores) == (
        "in",
        ["0.0374", "0.0394", "1.0000"],
    )  # thousandths, as on every paper
    assert column_in("US", "mm", ports) == (
        "in",
        ["0.0374", "0.0394", "1.0000"],
    )  # no coarser than a hundredth
    exact = [
        quoted(one * 249.0889, Kind.GAUGE_PRESSURE, "mbar", ".2f", has_unit=False) for one in (7.0, 11.0)
    ]
    assert column_in("US", "at orifice, mbar", exact) == ("at orifice, in w.c.", ["7.000", "11.000"])
    assert column_in("metric", "at orifice, mbar", exact) == ("at orifice, mbar", ["17.44", "27.40"])


def test_a_range_in_a_column_is_exact() -> None:
    """0.8395 mm is 0.03305 in: of the printed 0.839 mm the paper of a line made 0.0330, the terminal 0.0331."""
    low, high = (millimetre(end, ".3f", has_unit=False) for end in (0.83948e-3, 0.881e-3))
    cell = Phrase("{low} to {high}", low=low, high=high)
    assert column_in("US", "Hole, mm", [cell]) == ("Hole, in", ["0.0331 to 0.0347"])
    assert column_in("US", "Hole, mm", [quantity_text("{} to {}", low, high)])[1] == ["0.0331 to 0.0347"]


def test_papers_set_powers_too() -> None:
    assert pretty("1.03 m3/h, 2 in2, key_m3") == "1.03 m³/h, 2 in², key_m3"


STOCK = "part;size\nK-089;0,89 mm\nK-092;0,92 mm\nK-095;0,95 mm\nK-097;0,97 mm\nK-131;1,31 mm\n"
METRIC_HOLES = """\
[appliance]
name = "terrace"
rating = "gross"
region = "eu"
[supply]
gas = "G20"
pressure = "20 mbar"
[tables]
stock = "stock.csv"
[[burner]]
name = "tube"
rate = "3.5 kW"
orifice = { drill = "1.31 mm" }
[[burner]]
name = "rear"
rate = "3.2 kW"
orifice = { drill = "1.25 mm" }
[[market]]
name = "mountain"
region = "us"
altitude = "5000 ft"
altitude_policy = "4-percent-from-sea-level"
supply = { gas = "propane", pressure = "11 in w.c." }
"""
SIZE = re.compile(r"\s*[\d.]+ in\s*")  # a column of sizes to compare has one unit
INCH_BORE = re.compile(r"(?<!\d)0\.0[3-9]\d+ in\b")


def test_a_metric_hole_keeps_its_name_for_every_reader_and_no_line_has_two_units_of_a_bore(
    tmp_path: Path,
) -> None:
    (tmp_path / "stock.csv").write_text(STOCK)
    (file := tmp_path / "terrace.toml").write_text(METRIC_HOLES)
    for command in ("convert", "injectors --market A", "kit list --market A", "plate --market A", "line"):
        name, *options = command.split(" --")
        line = (*name.split(), str(file), *shlex.split(" ".join(f"--{one}" for one in options)))
        done = CliRunner().invoke(main, [*line, "--units", "us", "--out", str(tmp_path / "out")])
        assert done.exit_code == 0, done.output
        pages = [path.read_text(encoding="utf-8") for path in (tmp_path / "out").rglob("*.html")]
        assert len(pages) >= 1
        for text in (done.output, *(re.sub(r"<[^>]+>", "\n", page) for page in pages)):
            mixed = [
                line for line in text.splitlines() if INCH_BORE.search(line) and not SIZE.fullmatch(line)
            ]
            assert not mixed, command
        if name not in ("convert", "line"):
            assert "0.92 mm (K-092), mark 92" in " ".join(done.output.split()), command
    (card,) = (tmp_path / "out").rglob("*-card.html")
    assert re.search(r"K-092, mark 92, 0\.920\smm", card.read_text(encoding="utf-8"))
