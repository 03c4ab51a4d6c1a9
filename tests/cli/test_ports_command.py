"""``burnerlab ports`` as a user calls it."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from command_runs import run

from burnerlab.appliance import demonstration_path

CART = str(demonstration_path())
FILE_LINE = ("ports", CART, "--burner", "griddle tube left", "--gas", "propane@11 inH2O")
PLAIN_LINE = (
    "ports", "--rate", "9 kBtu/h gross", "--gas", "G20@20 mbar", "--gas", "G30@29 mbar", "--turndown", "33 %",
    "--length", "400 mm", "--rows", "2", "--port-depth", "3 mm", "--pressure-spread", "15 %",
)  # fmt: skip


def test_of_a_file_with_pictures(tmp_path: Path) -> None:
    folder = tmp_path / "study"
    done = run(*FILE_LINE, "--out", str(folder), "--json")
    assert done.exit_code == 0, done.output
    found = json.loads(done.stdout)
    assert 0.0 < found["corners_fraction_percent"] < found["nominal_fraction_percent"] < 100.0
    assert [gas["title"] for gas in found["gases"]] == ["typical pipeline natural gas", "propane"]
    assert found["present"]["port_count"] == 180
    assert all(one["holds"] for one in found["designs"])
    names = {Path(path).suffix: Path(path) for path in found["files"]}
    assert names[".png"].read_bytes().startswith(b"\x89PNG")
    assert "<title" in names[".svg"].read_text(encoding="utf-8")
    rows = list(csv.DictReader(names[".csv"].read_text(encoding="utf-8").splitlines()))
    assert len(rows) == round(found["corners_fraction_percent"] / 100 * found["count"])
    slacks = [float(row["corner_slack_percent"]) for row in rows]
    assert slacks == sorted(slacks, reverse=True)
    again = run(*FILE_LINE, "--out", str(folder))
    assert again.exit_code == 2


def test_the_gases_of_a_market_are_those_of_its_pressures() -> None:
    """Market A of the demonstration is propane at 11 in w.c.: the same region as with the gas on the line."""
    by_gas, by_market = (
        json.loads(run(*FILE_LINE[:4], *more, "--json").stdout)
        for more in (FILE_LINE[4:], ("--market", "bottled propane"))
    )
    for one in (by_gas, by_market):
        one.pop("files")
    assert by_market == by_gas


def test_both_gases_of_a_couple_have_the_orifice_of_the_first() -> None:
    found = json.loads(run(*FILE_LINE[:4], "--market", "B", "--json").stdout)
    assert [gas["title"] for gas in found["gases"]] == ["typical pipeline natural gas", "G30", "G31"]
    bores = [gas["orifice_diameter_mm"] for gas in found["gases"]]
    assert bores[1] == bores[2] < bores[0]


def test_an_orifice_that_no_stock_has_heads_the_answer(tmp_path: Path) -> None:
    """#54 of natural gas, 12.5 kBtu/h, on propane at 11 in w.c.: about twice the rating."""
    (tmp_path / "stock.csv").write_text("part,size,source\nA-54,#54,shelf\n", encoding="utf-8")
    file = tmp_path / "cart.toml"
    text = demonstration_path().read_text(encoding="utf-8")
    file.write_text(f'{text}\n[tables]\nstock = "stock.csv"\n', encoding="utf-8")
    line = ("ports", str(file), *FILE_LINE[2:])
    done = run(*line)
    assert done.stdout.startswith("OUTSIDE: heat input on propane +")
    assert "with #54, -5 to +5 %; possible overfire; the region is that of this orifice" in " ".join(
        done.stdout.split()
    )
    (words,) = json.loads(run(*line, "--json").stdout)["outside"]
    assert words.startswith("OUTSIDE: heat input on propane +9")
    assert json.loads(run(*FILE_LINE, "--json").stdout)["outside"] == []


def test_text_of_an_empty_region_says_what_binds_and_what_opens_it() -> None:
    done = run(*PLAIN_LINE)
    assert done.exit_code == 0, done.output
    assert "No variant holds at all corners. Nearest miss:" in done.stdout
    opens = " ".join(done.stdout.partition("opens the region: ")[2].partition("\n\n")[0].split())
    assert {"without G20", "without G30"} <= set(opens.split("; "))
    assert "needs a test of its flame" in " ".join(done.stdout.split())
    assert max(map(len, done.stdout.split("\n"))) <= 140


@pytest.mark.parametrize(
    ("line", "key"),
    [
        (("ports",), "--rate"),
        (("ports", "--rate", "9 kBtu/h gross"), "--gas"),
        (("ports", CART), "--burner"),
        (("ports", CART, "--burner", "nope"), "--burner"),
        ((*FILE_LINE, "--rate", "9 kBtu/h gross"), "--rate"),
        ((*PLAIN_LINE, "--burner", "x"), "--burner"),
        ((*PLAIN_LINE, "--market", "A"), "--market"),
        ((*FILE_LINE, "--market", "nowhere"), "--market"),
        ((*PLAIN_LINE, "--port-drills", "5 mm"), "--port-drills"),
        ((*PLAIN_LINE, "--port-spread", "2 m"), "--port-spread"),
    ],
)
def test_what_is_wrong_names_its_option(line: tuple[str, ...], key: str) -> None:
    done = run(*line)
    assert done.exit_code == 2
    assert key in done.stderr


def test_a_market_with_a_policy_beside_it_is_refused_once() -> None:
    """Not also because gas and pressure, which the market has, were not written."""
    done = run("convert", CART, "--market", "B", "--policy", "none")
    assert done.exit_code == 2
    assert [line.split(": ")[1] for line in done.stderr.splitlines()] == ["--market"]


def test_drills_go_with_a_market() -> None:
    done = run("convert", CART, "--market", "A", "--drills", "number", "--json")
    burners = json.loads(done.stdout)["markets"][0]["conversions"][0]["burners"]
    assert all(burner["drill"].startswith("#") for burner in burners)
