"""Which library calculates what is declared: every function that calls one has its row in ``method_engines``."""

from __future__ import annotations

import ast
from collections.abc import Iterator

from syntax_trees import syntax_tree

from burnerlab import tables
from burnerlab.quantity.outputs import ENGINES
from burnerlab.tables import package_dir

OF_NO_ANSWER = {
    "burner/tile_flame_solver.py": "makes a table that is shipped",
    "flame/making/counterflow.py": "makes a table that is shipped",
    "flame/equilibrium.py": "judges the kernel in a test",
    "gas/heat_capacity.py": "makes a table that is shipped",
    "quantity/units.py": "sizes a unit that no table has",
}
"""Files whose calls calculate no figure of an answer, and why."""


def calls(node: ast.AST, words: tuple[str, ...] = ()) -> Iterator[tuple[str, str]]:
    """The functions below a node that import an engine, numpy apart, which every room does, and that engine."""
    for child in ast.iter_child_nodes(node):
        is_named = isinstance(child, ast.FunctionDef | ast.ClassDef)
        names = [one.name for one in child.names] if isinstance(child, ast.Import) else []
        if isinstance(child, ast.ImportFrom):
            names = [child.module or ""]
        for engine in {name.split(".")[0] for name in names} & {*ENGINES} - {"numpy"}:
            yield ".".join(words), engine
        yield from calls(child, (*words, child.name) if is_named else words)


def test_every_function_that_calls_a_library_is_declared_and_no_other() -> None:
    found = {
        (f"{file} {name}", engine)
        for path in sorted(package_dir().rglob("*.py"))
        if (file := path.relative_to(package_dir()).as_posix()) not in OF_NO_ANSWER
        for name, engine in calls(syntax_tree(path))
    }
    declared = {(row["place"], row["engine"]) for row in tables.rows("method_engines")}
    assert len(found) > 30
    assert {one for one in declared if one[1] != "numpy"} == found
    assert all(any(calls(syntax_tree(package_dir() / file))) and why for file, why in OF_NO_ANSWER.items())
    assert not [place for place, engine in declared if engine == "numpy" and not _of_a_room(place)]


def _of_a_room(place: str) -> bool:
    """Whether a place names a room before what it calculates."""
    return (package_dir() / place.partition(":")[0]).is_dir()
