"""Keys of the project file: each is declared once, at the field that holds its value, with all that is said of it."""

from __future__ import annotations

import ast
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from burnerlab.appliance import read_appliance_text
from burnerlab.appliance.project.file_tables import ProjectFile
from burnerlab.appliance.project.geometry import Grate
from burnerlab.appliance.project.keys import KeyLine, every_key, key_name, table_keys
from burnerlab.appliance.project.model import NewSupply
from burnerlab.appliance.project.problems import written
from burnerlab.appliance.study.design import StudyFile
from burnerlab.bench.kit import Kit
from burnerlab.quantity import UserError
from burnerlab.quantity.inputs import input_rows
from burnerlab.tables import package_dir

SOURCES = sorted((package_dir() / "appliance").glob("**/*.py"))
KEYS = tuple(every_key(ProjectFile))
LEAVES = tuple(line for line in KEYS if not line.kind.startswith("table"))
FIGURES = tuple(line for line in LEAVES if line.source)
INSTEAD = {
    "orifice.diameter": {"drill": None},
    "hose.size": {"bore": None},
    "pipe.size": {"bore": None},
    "manifold.size": {"bore": None},
    "ports.width": {"diameter": None, "length": "8 mm"},
    "ports.length": {"diameter": None, "width": "0.6 mm"},
    "valve.Kv": {"bore": None},
    "valve.Cv": {"bore": None},
    "orifice.coefficient_low": {"coefficient": 0.8, "coefficient_high": 0.82},
    "orifice.coefficient_high": {"coefficient": 0.8, "coefficient_low": 0.78},
}
"""What else changes in the table of a key: None is left out."""


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.stem)
def test_no_class_copies_the_keys_of_another(path: Path) -> None:
    """A schema beside the things it describes would be a second declaration."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    modules = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    bases = {
        ast.unparse(base) for node in ast.walk(tree) if isinstance(node, ast.ClassDef) for base in node.bases
    }
    assert "pydantic" not in modules
    assert "BaseModel" not in bases


def test_the_key_of_a_field_is_its_name_without_the_unit() -> None:
    assert key_name("full_area_m2") == "full_area"
    assert key_name("Kv") == "Kv"


def test_no_key_that_a_file_may_hold_is_gone() -> None:
    """The paths were listed from the schema classes that these keys replaced."""
    known = (Path(__file__).parent / "project_keys.txt").read_text(encoding="utf-8").split()
    assert len(known) == len(set(known)) == 237
    assert set(known) <= {line.path for line in KEYS}
    assert len(KEYS) == len({line.path for line in KEYS})


def test_a_key_says_all_that_an_editor_or_a_handbook_needs() -> None:
    lines = (*KEYS, *every_key(Kit), *every_key(StudyFile))
    wanting = {
        line.path: [
            line.kind != "",
            line.accepted != "",
            line.help[:1].isupper(),
            "\n" not in line.help,
            len(line.help.split()) <= 20,
            line.source in {"", *input_rows()},
            line.example is not None or line.kind.startswith("table"),
        ]
        for line in lines
    }
    assert len(wanting) > len(KEYS) > 200
    assert not {path: asked for path, asked in wanting.items() if not all(asked)}


def whole(cls: type, example: Mapping[str, Any] | None) -> dict[str, Any]:
    """A table with the keys it must have, each as its example."""
    return _needed(cls) | dict(example or {})


def _needed(cls: type) -> dict[str, Any]:
    values = {}
    for name, one in table_keys(cls).items():
        if one.is_needed:
            table = one.key.table
            value = one.key.example if table is None else whole(table, one.key.example)
            values[name] = [value] if one.key.is_list else value
    return values


def file_with(path: str, value: Any) -> str:
    """The smallest project file that holds a key, with this value."""
    data = _needed(ProjectFile)
    data["burner"] += [data["burner"][0] | {"name": "burner 2"}]
    data["grate"] = [_needed(Grate) | {"name": "griddle"}]
    data["new_supply"] = _needed(NewSupply)
    for supply in ("supply", "new_supply"):
        data[supply] |= {"gas": "propane", "inlet": "1 bar", "pipe": {"bore": "20 mm", "length": "6 m"}}
    *tables, name = path.replace("[]", "").split(".")
    cls, place = ProjectFile, data
    for part in tables:
        key = table_keys(cls)[part].key
        assert key.table is not None
        if part == "sheet":  # the second: the innermost has no gap
            place[part] = [whole(key.table, key.example), whole(key.table, key.example) | {"gap": "20 mm"}]
        one = whole(key.table, key.example)
        entry = place.setdefault(part, [one] if key.is_list and not key.is_alone else one)
        cls, place = key.table, entry[-1 if part == "sheet" else 0] if isinstance(entry, list) else entry
    for other, instead in INSTEAD.get(".".join((*tables, name)[-2:]), {}).items():
        place.pop(other, None)
        place |= {} if instead is None else {other: instead}
    place[name] = value
    if path == "gas":
        del data["supply"]["gas"]
    return "\n".join(f"{table} = {written(values)}" for table, values in data.items())


@pytest.mark.parametrize("line", LEAVES, ids=lambda line: line.path)
def test_the_example_of_a_key_is_accepted(line: KeyLine) -> None:
    if line.kind == "file name":
        with pytest.raises(UserError, match="is not a regular file"):
            read_appliance_text(file_with(line.path, line.example))
    else:
        read_appliance_text(file_with(line.path, line.example))


NUMBER = re.compile(r"-?[0-9][0-9 ]*(?:\.[0-9]+)?(?:e-?[0-9]+)?")


@pytest.mark.parametrize("line", FIGURES, ids=lambda line: line.path)
def test_a_figure_beyond_its_range_is_refused_with_that_range(line: KeyLine) -> None:
    high = line.accepted.split(" to ")[1]
    top = NUMBER.match(high)
    assert top is not None
    beyond = 1.5 * float(top.group().replace(" ", "").replace(" ", ""))
    value: Any = f"{beyond:g}{high[top.end() :]}" if isinstance(line.example, str | list) else beyond
    with pytest.raises(UserError) as caught:
        read_appliance_text(file_with(line.path, value))
    key = line.path.replace("[]", "[1]").replace("sheet[1]", "sheet[2]")
    assert {problem.key: problem.accepted for problem in caught.value.problems}[key] == line.accepted


@pytest.mark.parametrize(
    ("table", "key", "home"),
    [
        ("burner", "shield", "[[shield]]"),
        ("supply", "tables", "[tables]"),
        ("limits", "rating", "[appliance]"),
    ],
)
def test_a_key_in_the_wrong_table_is_sent_to_its_own(table: str, key: str, home: str) -> None:
    with pytest.raises(UserError) as caught:
        read_appliance_text(file_with(f"{table}.{key}", "x"))
    assert home in caught.value.problems[0].fix


@pytest.mark.parametrize("line", [one for one in KEYS if one.kind == "tables"], ids=lambda line: line.path)
def test_a_list_says_how_many_tables_it_holds(line: KeyLine) -> None:
    most = int(line.accepted.split()[2])
    with pytest.raises(UserError) as caught:
        read_appliance_text(file_with(line.path, [{}] * (most + 1)))
    assert f"to {most} entries" in " ".join(problem.what for problem in caught.value.problems)
