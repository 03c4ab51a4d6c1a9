"""Keys of the project file: each is declared once, at the field that holds its value."""

from __future__ import annotations

import ast

import pytest

from burnerlab.appliance.keys import key_name
from burnerlab.tables import package_dir

SOURCES = sorted((package_dir() / "appliance").glob("**/*.py"))


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.stem)
def test_no_class_copies_the_keys_of_another(path: object) -> None:
    """A schema beside the things it describes would be a second declaration."""
    tree = ast.parse(path.read_text(encoding="utf-8"))  # type: ignore[attr-defined]
    imports = [
        node for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) and node.module == "pydantic"
    ]
    bases = [
        ast.unparse(base) for node in ast.walk(tree) if isinstance(node, ast.ClassDef) for base in node.bases
    ]
    assert not imports
    assert "BaseModel" not in bases


def test_the_key_of_a_field_is_its_name_without_the_unit() -> None:
    assert key_name("full_area_m2") == "full_area"
    assert key_name("Kv") == "Kv"
