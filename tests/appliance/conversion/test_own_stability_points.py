"""Stability points from a table of the project file: read, checked, placed, drawn."""

from __future__ import annotations

from pathlib import Path

import pytest

from burnerlab.appliance.conversion.flame_stability import stability_diagram
from burnerlab.appliance.conversion.own_stability_points import own_observations
from burnerlab.appliance.project.project_file import read_appliance
from burnerlab.quantity import UserError

CART = """\
[appliance]
name = "cart"
rating = "gross"
[supply]
gas = "natural-gas-typical"
pressure = "7 in w.c."
[tables]
stability_points = "points.csv"
[[burner]]
name = "tube"
kind = "tube"
rate = "12.5 kBtu/h"
turndown = "1:3"
orifice = { drill = "#54", shape = "tapered" }
ports = { diameter = "1.6 mm", count = 180, depth = "3 mm" }
throat = "15.5 mm"
shutter = { opening = "60 %", area = "155 mm2" }
"""
HEAD = "burner,gas,rate_percent,opening_percent,aeration_percent,flame,source,note\n"


def cart(folder: Path, rows: str, head: str = HEAD) -> Path:
    (folder / "points.csv").write_text("# seen at the bench\n" + head + rows, encoding="utf-8")
    file = folder / "cart.toml"
    file.write_text(CART, encoding="utf-8")
    return file


def test_points_are_read_placed_and_drawn(tmp_path: Path) -> None:
    rows = (
        "tube,,100,60,,sits,photograph 12,\n"
        "Tube,natural-gas-typical,100,100,,lifts,photograph 13,every third port\n"
        "tube,propane,100,60,,yellow tips,noted,\n"
        "tube,,33,100,72.5,sits,,\n"
    )
    appliance = read_appliance(cart(tmp_path, rows))
    sits, lifts, yellow, low = own_observations(appliance)
    assert (sits.opening, lifts.opening, low.load, low.aeration) == (0.6, 1.0, 0.33, 0.725)
    assert (lifts.source, low.source, yellow.gas) == ("photograph 13", "points.csv", "propane")
    diagram = stability_diagram(appliance, None, "tube")
    assert diagram is not None
    assert [point.flame for point in diagram.observations] == ["sits", "lifts", "sits"]  # on this gas
    assert {point.gas for point in diagram.observations} == {"natural-gas-typical"}
    assert diagram.observations[1].side == "beyond"


def test_without_a_table_there_are_no_points(tmp_path: Path) -> None:
    file = tmp_path / "cart.toml"
    file.write_text(CART.replace('[tables]\nstability_points = "points.csv"\n', ""), encoding="utf-8")
    appliance = read_appliance(file)
    assert own_observations(appliance) == ()


@pytest.mark.parametrize(
    ("rows", "line", "words"),
    [
        ("tube,,100,60,,lift,noted,\n", 3, "did you mean lifts?"),
        ("tube,,all,60,,sits,noted,\n", 3, "is not a number"),
        ("tube,,,60,,sits,noted,\n", 3, "is empty"),
        ("tube,,0,60,,sits,noted,\n", 3, "must be above 0"),
        ("tube,,100,60,,sits,noted,\ntube,,100,60,,sits,again,\n", 4, "is given twice"),
    ],
)
def test_what_is_wrong_in_a_table_is_said_where_the_file_is_opened(
    rows: str, line: int, words: str, tmp_path: Path
) -> None:
    with pytest.raises(UserError) as error:
        read_appliance(cart(tmp_path, rows))
    (problem,) = error.value.problems
    assert (problem.file, problem.line) == ("points.csv", line)
    assert words in f"{problem.what} {problem.fix}"


@pytest.mark.parametrize(
    "column", ["burner", "gas", "rate_percent", "opening_percent", "aeration_percent", "flame"]
)
def test_a_missing_column_is_named(column: str, tmp_path: Path) -> None:
    names = HEAD.strip().split(",")
    at = names.index(column)
    head = ",".join(names[:at] + names[at + 1 :]) + "\n"
    cells = ["tube", "", "100", "60", "", "sits", "noted", ""]
    rows = ",".join(cells[:at] + cells[at + 1 :]) + "\n"
    with pytest.raises(UserError) as error:
        read_appliance(cart(tmp_path, rows, head))
    assert [(p.value, p.line) for p in error.value.problems if "lacks a column" in p.what] == [(column, 2)]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("tub,,100,60,,sits,noted,\n", "is not a burner of this appliance"),
        ("tube,,120,60,,sits,noted,\n", "is more than all of it"),
        ("tube,,100,160,,sits,noted,\n", "is more than all of it"),
    ],
)
def test_a_burner_or_a_setting_that_cannot_be_is_refused(rows: str, words: str, tmp_path: Path) -> None:
    appliance = read_appliance(cart(tmp_path, rows))
    with pytest.raises(UserError, match=words) as error:
        own_observations(appliance)
    assert error.value.problems[0].line == 3


def test_a_head_without_rows_is_a_table_without_points(tmp_path: Path) -> None:
    assert own_observations(read_appliance(cart(tmp_path, ""))) == ()
