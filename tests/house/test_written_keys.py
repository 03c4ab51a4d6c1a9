"""A figure is named once, on its result: no module writes the keys of JSON, CSV or a frame by hand."""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from syntax_trees import syntax_nodes, syntax_tree

import burnerlab
from burnerlab.quantity.outputs import ending, handy_units

PACKAGE = Path(burnerlab.__file__).parent
UNITS = {ending(unit).lstrip("_") for pair in handy_units().values() for unit in pair if unit} - {"s", "m"}
US = {"Btu_per_h", "ft3_per_h", "Btu_per_ft3", "Btu_per_lb", "in", "lb", "ft3", "lb_per_ft3"}
KEY = re.compile(rf"[a-z][A-Za-z0-9_]*_({'|'.join(sorted(UNITS | US, key=len, reverse=True))})")
STILL = {
    "appliance": 9,
    "burner": 1,
    "flame": 7,
    "gas": 21,
    "layout": 3,
    "page": 3,
    "report": 4,
    "verify": 27,
}
"""Keys that a room still writes by hand: as many as counted here, and a number only shrinks."""


def written_keys(tree: ast.AST) -> Iterator[str]:
    """Keys with a unit in the dictionaries that a module writes."""
    for node in ast.walk(tree):
        keys: list[ast.expr | None] = []
        if isinstance(node, ast.Dict):
            keys = list(node.keys)
        elif isinstance(node, ast.Assign):
            keys = [target.slice for target in node.targets if isinstance(target, ast.Subscript)]
        for key in keys:
            if isinstance(key, ast.Constant) and isinstance(key.value, str) and KEY.fullmatch(key.value):
                yield key.value


def test_no_room_writes_more_keys_by_hand() -> None:
    found: Counter[str] = Counter()
    for path in sorted(PACKAGE.rglob("*.py")):
        keys = list(written_keys(syntax_tree(path)))
        found[path.relative_to(PACKAGE).parts[0]] += len(keys)
    assert +found == Counter(STILL), "more: declare these on the result; fewer: lower the number"


def test_no_command_writes_the_cautions_of_its_document() -> None:
    """``document`` adds them to every one."""
    found = [
        f"{path.name}:{node.lineno}"
        for path in sorted((PACKAGE / "cli").rglob("*.py"))
        for node in syntax_nodes(path)
        if isinstance(node, ast.Dict)
        for key in node.keys
        if isinstance(key, ast.Constant) and key.value == "cautions"
    ]
    assert found == []


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        ('{"heat_input_gross_kW": 1.0, "count": 2}', ["heat_input_gross_kW"]),
        ('row["pressure_mbar"] = 3.0', ["pressure_mbar"]),
        (
            '{"mass_flow_kg_per_h": x, "volume_flow_ft3_per_h": y}',
            ["mass_flow_kg_per_h", "volume_flow_ft3_per_h"],
        ),
        ('{"name": 1, **rest}', []),
    ],
)
def test_a_key_written_by_hand_is_seen(text: str, keys: list[str]) -> None:
    assert list(written_keys(ast.parse(text))) == keys
