"""Every finding has its heading in the handbook: the topic without its occasion is the title of one."""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Iterator
from typing import Any

import pytest
from command_runs import demonstration_run

from burnerlab.handbook.contents import pages
from burnerlab.tables import package_dir

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


def topics(value: Any) -> Iterator[str]:
    """Of a document: of findings and of what was not evaluated."""
    if isinstance(value, dict):
        if "topic" in value:
            yield value["topic"]
        for entry in value.values():
            yield from topics(entry)
    elif isinstance(value, list):
        for entry in value:
            yield from topics(entry)


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


@pytest.mark.slow
def test_every_finding_of_the_demonstration_has_a_heading() -> None:
    (path,) = demonstration_run().folder.glob("*-to-propane.json")
    found = set(topics(json.loads(path.read_text(encoding="utf-8"))))
    assert len(found) > 40
    assert not {stem(topic) for topic in found} - titles()


@pytest.mark.parametrize("room", ROOMS)
def test_every_finding_that_a_room_writes_has_a_heading(room: str) -> None:
    found = {stem(topic) for topic in written(room)}
    assert found
    assert not found - titles()
