"""Every finding, picture, cause and stop has its heading in the handbook; a finding's topic is the title of one."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from typing import Any, get_args

import pytest
from command_runs import answer, run

from burnerlab import tables
from burnerlab.appliance import demonstration_path
from burnerlab.handbook.contents import pages
from burnerlab.report.sheet.layout import MAP_KEY
from burnerlab.tables import package_dir
from burnerlab.tables.handbook_link import LOOK_UP, Explained, handbook_of

ROOMS = ("appliance/conversion", "appliance/operation", "burner")
CHECKS = {"check", "_check", "_missing"}


def stem(topic: str) -> str:
    """A topic as a heading prints it: without tile, occasion and gas.

    >>> stem("tile: light-back, plenum side at turndown"), stem("lift at highest pressure")
    ('light-back, plenum side', 'lift')
    """
    short = re.sub(r" at (turndown|highest pressure|lowest pressure).*|, (new|present) gas$|, plausibility$", "",
                   topic.removeprefix("tile: "))  # fmt: skip
    return "flame at turndown" if topic.startswith("flame at turndown") else short


def titles() -> set[str]:
    return {one.title.lower() for page in pages() if not page.made_by for one in page.headings}


def entries(value: Any) -> Iterator[dict[str, Any]]:
    """Of a document: findings and what was not evaluated."""
    if isinstance(value, dict):
        if "topic" in value:
            yield value
        for entry in value.values():
            yield from entries(entry)
    elif isinstance(value, list):
        for entry in value:
            yield from entries(entry)


def topics(document: Any) -> Iterator[str]:
    yield from (entry["topic"] for entry in entries(document))


def written(room: str) -> Iterator[str]:
    """Topics that the code of a room writes as a plain text."""
    for path in sorted((package_dir() / room).glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            found: list[ast.expr | None] = []
            if isinstance(node, ast.Call):
                found += [keyword.value for keyword in node.keywords if keyword.arg == "topic"]
                if isinstance(node.func, ast.Name) and node.func.id in CHECKS:
                    found += node.args[:1]
            elif isinstance(node, ast.Dict):
                found += [value for key, value in zip(node.keys, node.values, strict=True)
                          if isinstance(key, ast.Constant) and key.value == "topic"]  # fmt: skip
            yield from (
                each.value for each in found if isinstance(each, ast.Constant) and isinstance(each.value, str)
            )


@cache
def demonstration() -> Any:
    """The document of the demonstration's conversion to propane."""
    return answer("convert", str(demonstration_path()), "--to", "propane", "--pressure", "11 inH2O")


def test_every_finding_of_the_demonstration_has_a_heading() -> None:
    found = set(topics(demonstration()))
    assert len(found) > 40
    assert not {stem(topic) for topic in found} - titles()


def test_every_row_of_the_table_of_links_leads_to_a_heading() -> None:
    addresses = {f"{page.topic}#{one.anchor}" for page in pages() for one in page.headings if one.level > 1}
    addresses |= {page.topic for page in pages()}
    assert not {row["topic"]: row["handbook"] for row in tables.rows("handbook_links")
                if row["handbook"] not in addresses}  # fmt: skip
    assert {row["of"] for row in tables.rows("handbook_links")} == set(get_args(Explained))


def rows_of(of: str) -> set[str]:
    return {row["topic"] for row in tables.rows("handbook_links") if row["of"] == of}


def calls(room: str, function: str) -> Iterator[ast.Call]:
    """Calls of a function by its plain name in the files of a room."""
    for path in sorted((package_dir() / room).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == function:
                yield node


def keys_of(call: ast.Call) -> Iterator[str]:
    """Its argument ``key``, where that is a plain text."""
    yield from (
        one.value.value
        for one in call.keywords
        if one.arg == "key" and isinstance(one.value, ast.Constant) and isinstance(one.value.value, str)
    )


BY_THEIR_LIST = {"prompts", "sources"}  # sections of plain points, whose key is an argument
WITHOUT_FIGURES = {
    "job",
    "basis",
    "version",
    "figures",
    "heat_map",
}  # the user's own entries, or pictures alone


def test_every_section_of_a_sheet_has_a_row_and_no_other() -> None:
    keys = {key for call in calls("report/sheet", "Section") for key in keys_of(call)}
    assert len(keys) > 20
    assert rows_of("section") == (keys | BY_THEIR_LIST) - WITHOUT_FIGURES


def drawn_ids() -> Iterator[str]:
    """Keys of the pictures that the reports place or write, as their code has them."""
    for path in sorted((package_dir() / "report").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                keys = [one.value for one in node.keywords if one.arg == "key"]
                if node.func.id == "svg_of":
                    keys = node.args[1:2]
                elif node.func.id not in ("Picture", "replace"):
                    continue
                yield from (one.value for one in keys if isinstance(one, ast.Constant))
    yield MAP_KEY


@pytest.mark.parametrize(("of", "ids"), [
    ("cause", {row["cause"] for row in tables.rows("causes")}),
    ("stop", {row["id"] for row in tables.rows("stops")}),
])  # fmt: skip
def test_every_cause_and_stop_has_a_row_and_no_other(of: str, ids: set[str]) -> None:
    assert rows_of(of) == ids


def test_every_picture_that_a_report_draws_has_a_row() -> None:
    drawn = set(drawn_ids())
    assert len(drawn) > 7
    assert not drawn - rows_of("picture")


def test_findings_of_a_tile_carry_their_address() -> None:
    tile = (
        "tile",
        "--gas",
        "propane",
        "--rate",
        "2.4 kW gross",
        "--area",
        "150 mm x 100 mm",
        "--aeration",
        "1.1",
    )
    found = {one["topic"]: one["handbook"] for one in answer(*tile)["findings"]}
    assert found["lift"] == "tile#lift"
    assert all(found.values())
    assert f"Explained: {LOOK_UP}tile#" in run(*tile).stdout
    assert LOOK_UP not in run(*tile, "--quiet").stdout


def test_every_finding_and_question_of_the_demonstration_carries_its_address() -> None:
    found = [one for one in entries(demonstration()) if "verdict" in one or "why" in one]
    assert len(found) > 100
    assert not {one["topic"] for one in found if not one.get("handbook")}
    lift = {one["handbook"] for one in found if one["topic"].startswith("lift")}
    assert lift == {"burner#lift"}


@pytest.mark.parametrize("room", ROOMS)
def test_every_finding_that_a_room_writes_has_an_address(room: str) -> None:
    assert not [topic for topic in written(room) if not handbook_of(topic)]


@pytest.mark.parametrize("room", ROOMS)
def test_every_finding_that_a_room_writes_has_a_heading(room: str) -> None:
    found = {stem(topic) for topic in written(room)}
    assert found
    assert not found - titles()
