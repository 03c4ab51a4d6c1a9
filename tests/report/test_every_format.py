"""A figure of a conversion is declared once and then stands in every format, by one key and one label."""

from __future__ import annotations

import ast
import csv
import io
import json
from collections.abc import Iterator
from dataclasses import dataclass, field, fields, replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

import burnerlab.report
from burnerlab.appliance import convert, demonstration
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.evaluation_result import TileAt
from burnerlab.appliance.conversion.result import BurnerConversion, Conversion
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import columns, ending, handy_units, output
from burnerlab.report import build_sheet
from burnerlab.report.data_frame import to_frame
from burnerlab.report.formats import burner_table, csv_text, figures, json_text, result_tables
from burnerlab.report.html import html_text
from burnerlab.report.sheet import burners
from burnerlab.report.sheet.blocks import Table
from burnerlab.report.terminal import terminal_text
from burnerlab.report.workbook import HEAD_ROW, KEY_ROW
from burnerlab.report.xlsx import xlsx_bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Throated(BurnerConversion):
    """A burner with one figure more: one line."""

    throat_m: float = field(default=0.0123, metadata=output("throat of the burner", Kind.DIAMETER))


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Metered(Conversion):
    """A conversion with one figure more."""

    meter_pressure_Pa: float = field(
        default=2150.0, metadata=output("meter pressure, gauge", Kind.GAUGE_PRESSURE)
    )


def with_type(thing: Any, wanted: type, **more: Any) -> Any:
    return wanted(**{one.name: getattr(thing, one.name) for one in fields(thing)} | more)


@cache
def evaluated() -> Conversion:
    return evaluate_conversion(convert(demonstration(), "propane", 2740.0))


@cache
def extended() -> Conversion:
    done = evaluated()
    burners = tuple(with_type(one, Throated) for one in done.burners)
    made: Conversion = with_type(done, Metered, burners=burners)
    return made


def pages(c: Conversion) -> Any:
    from openpyxl import load_workbook

    return load_workbook(io.BytesIO(xlsx_bytes(c, build_sheet(c))), data_only=True)


@cache
def evaluated_pages() -> Any:
    return pages(evaluated())


def test_a_figure_more_is_one_line_and_stands_in_every_format() -> None:
    c = extended()
    made = json.loads(json_text(c))
    assert made["burners"][0]["throat_mm"] == 12.3
    assert made["meter_pressure_mbar"] == 21.5
    (burner, *_) = csv.DictReader(io.StringIO(csv_text(c)))
    assert burner["throat_mm"] == "12.3"
    assert ["meter_pressure_mbar", "21.5"] in list(csv.reader(io.StringIO(csv_text(c))))
    assert to_frame(c)["throat_mm"][0] == pytest.approx(12.3)
    book = pages(c)
    keys = [cell.value for cell in book["Burners"][KEY_ROW + 1]]
    place = keys.index("throat_mm")
    assert book["Burners"][HEAD_ROW + 1][place].value == "Throat of the burner [mm]"
    assert book["Burners"][HEAD_ROW + 2][place].value == pytest.approx(12.3)
    assert ("meter_pressure_mbar", "meter pressure, gauge", 21.5, "mbar") in list(
        book["Every figure"].iter_rows(values_only=True)
    )
    page = html_text(build_sheet(c), {})
    said = " ".join(terminal_text(c).split())
    for text in ("Throat of the burner", "12.300 mm", "Meter pressure, gauge", "21.5 mbar"):
        assert text in page
        assert text in said


def test_every_figure_of_a_burner_has_one_key_in_all_files() -> None:
    c = evaluated()
    keys = [one.key for one in burner_table(c).figures()[0]]
    assert len(keys) == len(set(keys)) > 45
    (row, *_) = json.loads(json_text(c))["burners"]
    assert set(row) - {"choices"} == set(keys)
    assert next(csv.reader(io.StringIO(csv_text(c)))) == keys
    assert list(to_frame(c).columns) == keys
    assert [cell.value for cell in evaluated_pages()["Burners"][KEY_ROW + 1]] == keys


def test_every_table_of_the_workbook_stands_in_the_csv_with_the_same_keys_and_figures() -> None:
    c = evaluated()
    lines = list(csv.reader(io.StringIO(csv_text(c), newline="")))
    book = evaluated_pages()
    assert any(table.rows for table in result_tables(c))
    for table in result_tables(c):
        start = lines.index([table.title]) + 1
        keys = [cell.value for cell in book[table.name][KEY_ROW + 1]]
        assert lines[start] == keys
        for number, written in enumerate(lines[start + 1 : start + 1 + len(table.rows)]):
            shown = [cell.value for cell in book[table.name][HEAD_ROW + 2 + number]]
            for cell, text in zip(shown, written, strict=True):
                if isinstance(cell, float):
                    assert float(text) == pytest.approx(cell, rel=1e-11)


def test_the_figures_of_the_whole_are_those_of_json() -> None:
    c = evaluated()
    made = json.loads(json_text(c))
    assert any(isinstance(one.value, float) for one in figures(c))
    for one in figures(c):
        value: Any = made
        for word in ("from_gas", "to_gas", "headline", "exchange"):
            if one.key.startswith(f"{word}_") and one.key not in made:
                value, key = made[word], one.key.removeprefix(f"{word}_")
                break
        else:
            key = one.key
        if isinstance(one.value, float):
            assert value[key] == pytest.approx(one.value, rel=1e-11), one.key


@dataclass(frozen=True, slots=True, kw_only=True)
class Lit(BurnerConversion):
    """A burner with a figure that is not in the handy unit of its kind."""

    pilot_gross_W: float = field(
        default=1250.0, metadata=output("pilot", Kind.POWER, unit="W", basis="gross")
    )
    residue: float = field(default=2e-5, metadata=output("residue", Kind.FRACTION, unit="ppm"))


def test_a_unit_of_its_own_is_that_of_files_and_of_pages() -> None:
    done = evaluated()
    c = replace(done, burners=tuple(with_type(one, Lit) for one in done.burners))
    (row, *_) = json.loads(json_text(c))["burners"]
    assert (row["pilot_gross_W"], row["residue_ppm"]) == (1250.0, pytest.approx(20.0))
    (table,) = burners.of_burners(c, "metric")
    _, pilot, residue = table.rows[0]
    assert (pilot.value, pilot.unit, pilot.text, pilot.also) == (1250.0, "W", "1250 W", "")
    assert residue.text.split()[-1] == "ppm"
    said = " ".join(terminal_text(c).split())
    assert "griddle tube left 1250 W" in said
    assert "1.25 kW" not in said
    (US,) = burners.of_burners(c, "US")
    assert (US.rows[0][1].text, US.rows[0][1].also) == ("4270 Btu/h", "")


@pytest.mark.parametrize("result", burners.PLACED, ids=lambda result: result.__name__)
def test_what_has_a_place_is_declared(result: type) -> None:
    placed, alone = burners.PLACED[result], burners.FILES_ALONE[result]
    assert {one.name for one in columns(result)} >= placed | alone
    assert not placed & alone


def names_of(tree: ast.AST) -> Iterator[str]:
    """Figures that code reads or heads a column by, outside the two lists of names themselves."""
    if isinstance(tree, ast.AnnAssign) and ast.unparse(tree.target) in ("PLACED", "FILES_ALONE"):
        return
    if isinstance(tree, ast.Attribute):
        yield tree.attr
    elif isinstance(tree, ast.Constant) and isinstance(tree.value, str):
        yield tree.value
    for node in ast.iter_child_nodes(tree):
        yield from names_of(node)


@pytest.mark.parametrize("result", burners.PLACED, ids=lambda result: result.__name__)
def test_a_place_of_its_own_is_one_that_sheet_or_terminal_print(result: type) -> None:
    """A name in PLACED without a column would take the figure from every page."""
    assert "throat_m" not in set(names_of(ast.parse('PLACED: dict = {Burner: {"throat_m"}}')))
    files = [*(ROOM / "sheet").glob("*.py"), ROOM / "terminal.py"]
    printed = {name for path in files for name in names_of(ast.parse(path.read_text(encoding="utf-8")))}
    assert not burners.PLACED[result] - printed


def test_nothing_of_the_sheet_is_without_a_place() -> None:
    assert burners.lines(evaluated(), "metric") == ()
    captions = [
        block.caption
        for section in build_sheet(evaluated()).sections
        for block in section.blocks
        if isinstance(block, Table)
    ]
    assert not [caption for caption in captions if caption.startswith("Other figures")]


@dataclass(frozen=True, slots=True, kw_only=True)
class HotTile(TileAt):
    """A tile with one figure more."""

    rim_temperature_K: float = field(default=573.15, metadata=output("rim of the tile", Kind.TEMPERATURE))


def test_a_figure_of_a_part_reaches_every_format_too() -> None:
    done = evaluated()
    assert done.evaluation is not None
    tiles = tuple(with_type(one, HotTile) for one in done.evaluation.tiles)
    c = replace(done, evaluation=replace(done.evaluation, tiles=tiles))
    assert [one["rim_temperature_C"] for one in json.loads(json_text(c))["tiles"]] == [300.0, 300.0]
    lines = list(csv.reader(io.StringIO(csv_text(c))))
    start = lines.index(["Tile"]) + 1
    assert lines[start + 1][lines[start].index("rim_temperature_C")] == "300.0"
    heads = [cell.value for cell in pages(c)["Tile"][HEAD_ROW + 1]]
    assert "Rim of the tile [°C]" in heads
    page = html_text(build_sheet(c), {})
    assert "Rim of the tile" in page
    assert "300 °C" in page


def test_a_figure_without_a_value_is_nothing_in_files_and_a_word_for_people() -> None:
    done = extended()
    bare = replace(done, burners=tuple(replace(one, throat_m=None) for one in done.burners))  # type: ignore[call-arg]
    assert json.loads(json_text(bare))["burners"][0]["throat_mm"] is None
    assert next(csv.DictReader(io.StringIO(csv_text(bare))))["throat_mm"] == ""
    assert "griddle tube left not evaluated" in " ".join(terminal_text(bare).split())


# no copy by hand

ROOM = Path(burnerlab.report.__file__).parent
UNITS = tuple(
    sorted({ending(one.unit) for one in handy_units().values()} - {""} | {"_percent", "_Btu_per_h"})
)
FILES = sorted(ROOM.rglob("*.py"))


def by_hand(source: str) -> Iterator[str]:
    """Keys with a unit in a mapping whose values are worked out beside them."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Dict):
            for key, value in zip(node.keys, node.values, strict=True):
                name = key.value if isinstance(key, ast.Constant) else None
                if isinstance(name, str) and name.endswith(UNITS) and not isinstance(value, ast.Constant):
                    yield name


def test_the_search_finds_a_mapping_by_hand() -> None:
    assert list(by_hand('x = {"power_kW": 1.0 * y, "name": z, "bore_mm": "={d}{r}"}')) == ["power_kW"]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_no_report_copies_figures_into_a_mapping_by_hand(path: Path) -> None:
    assert not list(by_hand(path.read_text(encoding="utf-8")))
