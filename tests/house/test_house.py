"""The house rules a machine can check: rooms, sizes, sources, words."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from collections.abc import Collection, Iterator, Mapping
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest
from syntax_trees import syntax_nodes, syntax_tree

from burnerlab import tables, verify

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "burnerlab"
ROOMS = [
    "tables",
    "quantity",
    "gas",
    "supply",
    "orifice",
    "flame",
    "burner",
    "appliance",
    "layout",
    "bench",
    "verify",
    "report",
    "handbook",
    "page",
    "cli",
]
FILES = sorted(PACKAGE.rglob("*.py"))
LONGEST_FUNCTION, MOST_ARGUMENTS = 60, 7


def room_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports(path: Path) -> list[str]:
    """Rooms that a file imports, at its top or inside a function."""
    found = []
    for node in syntax_nodes(path):
        names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
        if isinstance(node, ast.ImportFrom) and node.module:
            names = (
                [f"burnerlab.{alias.name}" for alias in node.names]
                if node.module == "burnerlab"
                else [node.module]
            )
        found += [name.split(".")[1] for name in names if name.startswith("burnerlab.")]
    return found


def test_a_room_imports_only_rooms_above_it() -> None:
    assert sorted({room_of(path) for path in FILES} - {"__init__", "__main__"}) == sorted(ROOMS)
    below = [
        f"{path.relative_to(PACKAGE)}: {name}"
        for path in FILES
        if room_of(path) in ROOMS
        for name in imports(path)
        if name in ROOMS and ROOMS.index(name) > ROOMS.index(room_of(path))
    ]
    assert not below, "reaches down into a room below it"


def test_imports_form_no_circle() -> None:
    """Every import counts: at the top, for types only, and inside a function, where a circle would only be hidden.

    A type that two modules need stands in a module that both import.
    """
    files = {_module(path): path for path in FILES}
    graph = {
        module: {name for name in _modules_imported(path, files) if name != module}
        for module, path in files.items()
    }
    assert len(graph) == len(FILES)
    assert "burnerlab.quantity.read" in graph["burnerlab.quantity"]  # by a relative import
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        pytest.fail("imports in a circle: " + " imports ".join(reversed(error.args[1])))


def _module(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def _modules_imported(path: Path, known: Collection[str]) -> Iterator[str]:
    """Modules of the package that a file imports; a name of a package is its module where it is one."""
    for node in syntax_nodes(path):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name in known)
        elif isinstance(node, ast.ImportFrom):
            above = (_module(path) + ".__init__" * (path.stem == "__init__")).split(".")[: -node.level]
            module = ".".join([*above, *filter(None, [node.module])]) if node.level else node.module
            if module in known:
                for alias in node.names:
                    inner = f"{module}.{alias.name}"
                    yield inner if inner in known else module


ROLES = {"checks", "evaluation", "result"}
NAMED_AFTER_OTHERS = ("cli", "verify", "report/sheet", "report/figures", "bench/learning")
"""Rooms whose files have the name of what they command, compare, print, draw or learn."""
NO_NOUNS = {
    *(
        "asked",
        "chosen",
        "door",
        "doors",
        "drawn",
        "found",
        "given",
        "held",
        "judge",
        "judged",
        "mine",
        "one",
    ),
    *("others", "said", "shown", "taken", "things", "told", "wanted", "who", "whose", "world", "worlds"),
}
NOUNS = {"burning", "cooking", "learning", "lighting", "making", "reading", "setting", "wording"}


def _base_names() -> dict[str, list[str]]:
    names: dict[str, list[str]] = {}
    for path in FILES:
        folder = path.parent.relative_to(PACKAGE).as_posix()
        if not path.stem.startswith("__") and folder not in NAMED_AFTER_OTHERS:
            names.setdefault(path.stem, []).append(folder)
    return names


def test_a_file_has_a_noun_of_its_own() -> None:
    names = _base_names()
    assert len(names) > 100
    assert not {name: places for name, places in names.items() if len(places) > 1 and name not in ROLES}
    words = {word: path for path in FILES for word in path.stem.split("_")}
    riddles = [word for word in words if re.search("..(ed|ing)$", word) and word not in NOUNS]
    assert not riddles, "participles"
    assert not NO_NOUNS & set(words)


def _declared_names(path: Path) -> Iterator[str]:
    """Every class, function and parameter of a file."""
    for node in syntax_nodes(path):
        if isinstance(node, ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            yield node.name
        elif isinstance(node, ast.arg):
            yield node.arg


def _name_words(name: str) -> set[str]:
    return set(re.sub("([a-z0-9])([A-Z])", r"\1_\2", name).lower().split("_"))


def test_classes_functions_and_parameters_have_names_of_the_trade() -> None:
    names = {name: path.relative_to(PACKAGE).as_posix() for path in FILES for name in _declared_names(path)}
    assert len(names) > 2000
    riddles = {name: place for name, place in names.items() if NO_NOUNS & _name_words(name)}
    assert riddles == {}


def test_a_class_has_a_name_of_its_own() -> None:
    places: dict[str, list[str]] = {}
    for path in FILES:
        for node in syntax_tree(path).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                places.setdefault(node.name, []).append(str(path.relative_to(PACKAGE)))
    assert len(places) > 300
    assert not {name: where for name, where in places.items() if len(where) > 1}


def _too_long_or_wide(node: ast.FunctionDef | ast.AsyncFunctionDef) -> Iterator[str]:
    body = node.body[1:] if ast.get_docstring(node) and len(node.body) > 1 else node.body
    if (body[-1].end_lineno or body[-1].lineno) - body[0].lineno >= LONGEST_FUNCTION:
        yield "is too long to see whole"
    taken = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
    counted = [argument for argument in taken if argument.arg not in ("self", "cls")]
    is_command = any("command" in ast.dump(decorator) for decorator in node.decorator_list)
    only_types = all(ast.unparse(line) == "..." for line in body)  # the fields of a dataclass once more
    if len(counted) > MOST_ARGUMENTS and not is_command and not only_types:
        yield "takes too many arguments"


def test_a_reader_sees_a_function_whole() -> None:
    functions = [
        (f"{path.relative_to(PACKAGE)}: {node.name}", node)
        for path in FILES
        for node in syntax_nodes(path)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    ]
    assert len(functions) > 1000
    assert not [f"{name} {what}" for name, node in functions for what in _too_long_or_wide(node)]


def _without_source(row: Mapping[str, str]) -> Iterator[str]:
    if None in row:
        yield "has a cell too many"
    if row.get("source") not in tables.sources():
        yield f"source {row.get('source')!r} is not described"
    if not row.get("place"):
        yield "names no place in its source"
    if row.get("provenance") not in tables.PROVENANCES:
        yield f"provenance {row.get('provenance')!r}"


def test_every_row_says_where_it_is_from() -> None:
    assert len(tables.names()) > 50
    assert not [name for name in tables.names() if not tables.rows(name)]
    assert not [
        f"{name} row {number}: {what}"
        for name in tables.names()
        for number, row in enumerate(tables.rows(name), start=1)
        for what in _without_source(row)
    ]


def test_every_publication_has_one_id() -> None:
    titles = [one.cite() for one in tables.sources().values()]
    assert sorted(set(titles)) == sorted(titles)


def test_every_source_is_cited() -> None:
    cited = {row["source"] for name in tables.names() for row in tables.rows(name)}
    text = "\n".join(path.read_text(encoding="utf-8") for path in (ROOT / "fuels").glob("*.toml"))
    text += "\n".join(path.read_text(encoding="utf-8") for path in FILES)
    cited |= {check.source for check in verify.checks()}
    assert not [
        key
        for key, source in tables.sources().items()
        if key not in cited and source.title not in cited and key not in text
    ]


def test_top_level_holds_what_was_agreed() -> None:
    agreed = [
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "pyproject.toml",
        "burnerlab",
        "tests",
        "fuels",
        "notebooks",
        "shared",
    ]
    tracked = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout
    top = {line.split("/")[0] for line in tracked.splitlines()}
    assert not [name for name in top if name not in agreed and not name.startswith(".")]


def test_import_is_light() -> None:
    code = "import sys, burnerlab; print(*[m for m in ('numpy', 'pint', 'cantera', 'scipy') if m in sys.modules])"
    assert (
        subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True
        ).stdout.split()
        == []
    )


def test_core_stays_light() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    core = {re.split(r"[<>=!~ \[]", name)[0] for name in project["dependencies"]}
    assert {"cantera", "numpy", "scipy", "pint"} <= core
    assert not core & {"matplotlib", "typst", "xlsxwriter", "dask", "pandas", "starlette"}
