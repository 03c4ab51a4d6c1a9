"""The reader of tables: every replaceable table against every way in which a user's own may be wrong."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from burnerlab import tables
from burnerlab.quantity import UserError

DATA = tables.package_dir() / "tables" / "data"
REPLACEABLE = sorted(name for name, contents in tables.CONTENTS.items() if not contents.columns)
WITH_NUMBERS = [name for name in REPLACEABLE if tables.CONTENTS[name].numbers]
WITH_NAMES = [name for name in REPLACEABLE if tables.CONTENTS[name].names]


def shipped(name: str) -> str:
    return (DATA / f"{name}.csv").read_text(encoding="utf-8")


def own(folder: Path, text: str | bytes, name: str = "own.csv") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return path


def cells(name: str) -> tuple[list[str], list[list[str]]]:
    """Head and rows of a shipped table, to be spoiled."""
    found = tables.rows(name)
    return list(found[0]), [list(row.values()) for row in found]


def written(head: list[str], body: list[list[str]]) -> str:
    def line(row: list[str]) -> str:
        return ",".join('"' + cell.replace('"', '""') + '"' for cell in row)

    return "# a table of one's own\n" + "\n".join(map(line, [head, *body])) + "\n"


def problem(name: str, path: Path):  # type: ignore[no-untyped-def]
    with pytest.raises(UserError) as told:
        tables.read(name, path)
    return told.value.problems[0]


@pytest.mark.parametrize("name", REPLACEABLE)
def test_ours_passes_the_check_that_a_users_table_must_pass(name: str, tmp_path: Path) -> None:
    copy = tables.read(name, own(tmp_path, shipped(name)))
    assert [dict(row) for row in copy] == [dict(row) for row in tables.rows(name)]


@pytest.mark.parametrize("name", REPLACEABLE)
def test_a_byte_order_mark_and_ends_of_lines_of_any_system_are_read(name: str, tmp_path: Path) -> None:
    text = shipped(name)
    for altered in ("\ufeff" + text, text.replace("\n", "\r\n")):
        copy = tables.read(name, own(tmp_path, altered))
        assert [dict(row) for row in copy] == [dict(row) for row in tables.rows(name)]


@pytest.mark.parametrize("name", REPLACEABLE)
def test_bytes_that_are_not_utf8_are_refused_with_their_line(name: str, tmp_path: Path) -> None:
    head, body = cells(name)
    text = written(head, body)
    latin = text.encode("utf-8") + b"\xe4\xf6\xfc\n"
    found = problem(name, own(tmp_path, latin))
    assert (found.file, found.line) == ("own.csv", text.count("\n") + 1)
    assert "UTF-8" in found.what
    assert problem(name, own(tmp_path, text.encode("utf-16"))).line == 1


@pytest.mark.parametrize("name", REPLACEABLE)
@pytest.mark.parametrize("text", ["", "# nothing\n\n", "\n\n"])
def test_an_empty_file_is_refused(name: str, text: str, tmp_path: Path) -> None:
    found = problem(name, own(tmp_path, text))
    assert (found.file, found.what) == ("own.csv", "is empty")


@pytest.mark.parametrize("name", REPLACEABLE)
def test_a_head_without_rows_is_a_table_without_rows(name: str, tmp_path: Path) -> None:
    """0.1.0 took them; what stands in for ours then changes nothing."""
    found = tables.read(name, own(tmp_path, written(cells(name)[0], [])))
    assert found == (tables.rows(name) if tables.CONTENTS[name].own == "stand in" else ())


@pytest.mark.parametrize("name", REPLACEABLE)
def test_every_column_that_counts_is_needed(name: str, tmp_path: Path) -> None:
    head, body = cells(name)
    origin = {"source", "place", "provenance", "note", "unit"} - set(tables.CONTENTS[name].key)
    for k, column in enumerate(head):
        if column in origin or column in tables.CONTENTS[name].spare:
            continue
        without = written(head[:k] + head[k + 1 :], [row[:k] + row[k + 1 :] for row in body])
        found = problem(name, own(tmp_path, without, f"{column}.csv"))
        assert (found.value, found.line) == (column, 2), column
        assert "lacks a column" in found.what


@pytest.mark.parametrize("name", REPLACEABLE)
def test_a_misspelt_column_is_refused_with_the_nearest(name: str, tmp_path: Path) -> None:
    head, body = cells(name)
    found = problem(name, own(tmp_path, written([head[0] + "x", *head[1:]], body)))
    assert (found.value, found.line, found.fix) == (head[0] + "x", 2, f"did you mean {head[0]}?")


@pytest.mark.parametrize("name", WITH_NAMES)
def test_a_misspelt_word_is_refused_with_its_line(name: str, tmp_path: Path) -> None:
    head, body = cells(name)
    for column in tables.CONTENTS[name].names:
        k = head.index(column)
        at = next(n for n, row in enumerate(body) if len(row[k]) > 4 or row[k])
        spoiled = [list(row) for row in body]
        spoiled[at][k] = spoiled[at][k] + "q"
        with pytest.raises(UserError) as told:
            tables.read(name, own(tmp_path, written(head, spoiled), f"{column}.csv"))
        named = [p for p in told.value.problems if p.key == column and p.line == at + 3]
        assert any("not a name of this table" in p.what for p in named), column


@pytest.mark.parametrize("name", WITH_NUMBERS)
@pytest.mark.parametrize("word", ["little", "nan", "inf", "1_000", "0,5", "1e999"])
def test_a_text_where_a_number_belongs_is_refused(name: str, word: str, tmp_path: Path) -> None:
    head, body = cells(name)
    for column in tables.CONTENTS[name].numbers:
        spoiled = [list(row) for row in body]
        spoiled[-1][head.index(column)] = word
        with pytest.raises(UserError) as told:
            tables.read(name, own(tmp_path, written(head, spoiled), f"{column}.csv"))
        (found,) = [p for p in told.value.problems if p.key == column and "not a number" in p.what]
        assert (found.line, found.value) == (len(body) + 2, word)
        if word == "0,5":
            assert found.fix == "write 0.5"


@pytest.mark.parametrize("name", REPLACEABLE)
def test_broken_quotes_are_refused(name: str, tmp_path: Path) -> None:
    text = written(*cells(name))
    count = text.count("\n")
    for broken, line in ((text + '"open,1\n', count + 1), (text + '"a"b,1\n', count + 1)):
        found = problem(name, own(tmp_path, broken))
        assert "quote" in found.what
        assert (found.file, found.line) == ("own.csv", line)


@pytest.mark.parametrize("name", REPLACEABLE)
def test_a_row_that_is_too_long_or_twice_there_is_refused(name: str, tmp_path: Path) -> None:
    head, body = cells(name)
    found = problem(name, own(tmp_path, written(head, [*body, [*body[-1], "more"]])))
    assert "cells under" in found.what
    assert found.line == len(body) + 3
    found = problem(name, own(tmp_path, written(head, [*body, body[0]]), "twice.csv"))
    assert found.what == "is given twice, first on line 3"
    assert found.line == len(body) + 3


def test_a_table_with_semicolons_says_so(tmp_path: Path) -> None:
    found = problem("fittings", own(tmp_path, "name;value;low;high\nelbow;0,9;0,5;1\n"))
    assert "semicolons" in found.what


def test_columns_of_origin_may_be_left_out_and_the_file_is_then_the_source(tmp_path: Path) -> None:
    path = own(tmp_path, "name,value,low,high\nlaminar end,2300,2300,2300\n", "shed.csv")
    found = tables.figure("supply_limits", "laminar end", path)
    assert (found.value, found.source, found.cite()) == (2300.0, "shed.csv", "shed.csv (entered)")
    assert found.unit == tables.figure("supply_limits", "laminar end").unit
    assert tables.figure("supply_limits", "turbulent start", path).value == 4000.0


def test_another_unit_than_ours_is_refused(tmp_path: Path) -> None:
    head = "name,value,low,high,unit,source,place,provenance,note\n"
    found = problem("tile_properties", own(tmp_path, head + "channel thickness,0.013,0.012,0.016,m,,,,\n"))
    assert (found.key, found.line, found.accepted) == ("unit", 2, "mm")


def test_a_range_out_of_order_is_refused(tmp_path: Path) -> None:
    head = "name,value,low,high\n"
    assert "out of order" in problem("tile_properties", own(tmp_path, head + "emissivity,0.4,0.5,0.6\n")).what


def test_a_misspelt_provenance_is_refused(tmp_path: Path) -> None:
    """ "measured her" would cost a factor its trust without a word."""
    head = "name,value,low,high,provenance\n"
    found = problem("burner_coefficients", own(tmp_path, head + "Reed factor,0.2,0.1,0.3,measured her\n"))
    assert found.fix == "did you mean measured here?"


HEADS_OF_0_1_0 = {
    "altitude_policies": "policy,title,from_ft,to_ft,counted_from_ft,per_1000ft,step,beyond,"
    "source,place,provenance,note",
    "flue_limits": "name,applies_to,air_free_CO_ppm,source,place,provenance,note",
    "input_tolerances": "name,title,low_percent,high_percent,source,place,provenance,note",
    "next_measurements": "measurement,title,standard_uncertainty,minutes,needs,source,place,provenance,note",
    "port_limits": "name,group,low,high,near_low,near_high,unit,trust,source,place,provenance,note",
}
"""Heads that have changed since; a user's table keeps the old one."""


@pytest.mark.parametrize("name", HEADS_OF_0_1_0)
def test_a_table_made_for_0_1_0_still_reads(name: str, tmp_path: Path) -> None:
    head = HEADS_OF_0_1_0[name].split(",")
    body = [[row.get(column, "indicative") for column in head] for row in tables.rows(name)]
    found = tables.read(name, own(tmp_path, written(head, body)))
    assert [{column: row.get(column) for column in head if column in row} for row in found] == [
        {column: row[column] for column in head if column in row} for row in tables.rows(name)
    ]


def test_a_next_measurement_of_0_1_0_says_whether_gas_is_on(tmp_path: Path) -> None:
    head = HEADS_OF_0_1_0["next_measurements"] + "\n"
    step = own(tmp_path, head + "gas label,read it,0.02,1,any,shop,habit,seen,\n", "next.csv")
    (row,) = tables.read("next_measurements", step)
    assert (row["gas"], row["title"]) == ("off", "read it")


def test_a_kind_of_regulator_needs_every_figure(tmp_path: Path) -> None:
    head = "regulator,quantity,value,low,high\n"
    found = problem("regulators", own(tmp_path, head + "mine,set point,2740,2600,2900\n"))
    assert found.what == "has no row droop"
    assert found.value == "mine"


def test_every_problem_is_told_at_once(tmp_path: Path) -> None:
    text = "name,value,low,high\nemisivity,0.4,0.3,0.5\narea factor,wide,1,2\nrecovery,0.3,0.5,0.6\n"
    with pytest.raises(UserError) as told:
        tables.read("tile_properties", own(tmp_path, text))
    assert [(p.line, p.key) for p in told.value.problems] == [(2, "name"), (3, "value"), (4, "value")]
    assert told.value.problems[0].fix == "did you mean emissivity?"


def test_a_changed_file_is_read_anew(tmp_path: Path) -> None:
    head = "name,value,low,high\n"
    path = own(tmp_path, head + "emissivity,0.4,0.3,0.5\n")
    assert tables.figure("tile_properties", "emissivity", path).value == 0.4
    own(tmp_path, head + "emissivity,0.5,0.3,0.6\n")
    os.utime(path, ns=(1, 2))
    assert tables.figure("tile_properties", "emissivity", path).value == 0.5
    path.unlink()
    with pytest.raises(UserError, match="cannot be read"):
        tables.figure("tile_properties", "emissivity", path)


@pytest.mark.parametrize("make", ["folder", "missing", "pipe"])
def test_what_is_no_file_is_refused(make: str, tmp_path: Path) -> None:
    path = tmp_path / "own.csv"
    if make == "folder":
        path.mkdir()
    elif make == "pipe":
        os.mkfifo(path)
    with pytest.raises(UserError):
        tables.read("fittings", path)


@pytest.mark.parametrize(
    "name", [n for n in tables.names() if {"value", "low", "high"} <= set(tables.rows(n)[0])]
)
def test_every_table_of_figures_is_declared(name: str) -> None:
    every = tables.figures(name)
    assert {row[tables.CONTENTS[name].key[-1]] for row in tables.rows(name)} == set(every)


def test_a_table_that_is_the_users_alone_is_empty_without_one() -> None:
    alone = [name for name, contents in tables.CONTENTS.items() if contents.columns]
    assert alone == ["stability_points", "stock", "texts"]
    assert [tables.read(name) for name in alone] == [(), (), ()]


def test_a_row_of_an_earlier_version_is_read_by_its_present_name(tmp_path: Path) -> None:
    text = "name,value,low,high\nrich lift spread,0.8,0.7,0.9\nReed exponent,6.4,6.4,6.4\n"
    found = tables.figures("burner_coefficients", own(tmp_path, text))
    assert found["lift scale"].value == 0.8
    assert set(found) == set(tables.figures("burner_coefficients"))


def test_a_users_table_is_read_by_nobody_else() -> None:
    """Rows of ours, or once checked: pages of the handbook, check values, a calibration and a workshop going on."""
    allowed = {
        "handbook/contents.py",
        "handbook/key_descriptions.py",
        "handbook/questions.py",
        "verify/__init__.py",
        "bench/learning/calibration.py",
        "flame/making/build.py",
    }
    package = tables.package_dir()
    reading = {
        str(path.relative_to(package))
        for path in package.rglob("*.py")
        if path.parent.name != "tables" and "read_csv(" in path.read_text(encoding="utf-8")
    }
    assert reading <= allowed
