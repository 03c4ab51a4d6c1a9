"""The public names: they stand once, are what their room holds, and type checkers see them as they are."""

from __future__ import annotations

import ast
import inspect
import os
import subprocess
import sys
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

import pytest
from syntax_trees import syntax_nodes

import burnerlab as bl

ROOT = Path(__file__).parents[2]
STUB = ROOT / "burnerlab" / "__init__.pyi"
ROOMS = {
    alias.name: str(line.module)
    for line in ast.parse(STUB.read_text(encoding="utf-8")).body
    if isinstance(line, ast.ImportFrom)
    for alias in line.names
}
CLIENT = """
from typing import assert_type

import numpy as np
import numpy.typing as npt
import pint

import burnerlab as bl
from burnerlab.appliance import Conversion

Array = npt.NDArray[np.float64]
propane = bl.load("propane")
supply = bl.Conditions(gauge_pressure_Pa=pint.Quantity(27.4, "mbar"), gas_temperature_K="15 C")
assert_type(bl.convert(bl.demonstration(), "propane", "11 in w.c.", altitude_m="5000 ft"), Conversion)
assert_type(supply.gauge_pressure_Pa, float)
assert_type(bl.flow(propane, "#54", supply).heat_input_gross_W, float)
assert_type(bl.flow(propane, np.array([1e-3, 2e-3]), supply).heat_input_gross_W, Array)
assert_type(bl.flow(propane, 1e-3, bl.Conditions(gauge_pressure_Pa=np.array([1e3, 2e3]))).reynolds, Array)
assert_type(bl.size(propane, "12 kBtu/h", "gross", supply).diameter_m, float)
assert_type(bl.pressure_at_altitude_Pa("1500 m"), float)
bl.nonsense
bl.flow(propane, None, supply)
bl.Conditions(gauge="11 in w.c.")
"""
UNTYPED = """
[[tool.mypy.overrides]]
module = ["IPython.*", "click.*", "dask.*", "distributed.*", "markdown_it.*", "matplotlib.*", "rich.*"]
follow_imports = "skip"
"""
"""Libraries that no public name has in its types: half of what the checker would read."""
REFUSED = ("nonsense", 'No overload variant of "flow"', 'keyword argument "gauge"')


def _wrong_front(name: str) -> Iterator[str]:
    public = getattr(bl, name)
    if public is not getattr(import_module(ROOMS[name]), name) or public.__name__ != name:
        yield "is not what its room holds"
    if ">>>" not in (inspect.getdoc(public) or ""):
        yield "does not show its use"
    if inspect.isfunction(public) and "return" not in public.__annotations__:
        yield "does not say what it returns"


def test_a_public_name_is_what_its_room_holds_with_a_doctest() -> None:
    assert len(ROOMS) > 30
    assert not [f"{name} {what}" for name in ROOMS for what in _wrong_front(name)]


def test_the_names_are_listed_and_others_refused() -> None:
    assert dir(bl) == sorted(["__version__", *ROOMS])
    assert bl.__version__ == "0.2.0"
    with pytest.raises(AttributeError, match="nonsense"):
        bl.nonsense  # type: ignore[attr-defined]  # noqa: B018


def test_a_strict_type_checker_sees_the_types(tmp_path: Path) -> None:
    client = tmp_path / "client.py"
    client.write_text(CLIENT, encoding="utf-8")
    config = tmp_path / "pyproject.toml"
    config.write_text((ROOT / "pyproject.toml").read_text(encoding="utf-8") + UNTYPED, encoding="utf-8")
    options = (
        *("--config-file", str(config)),
        *("--cache-dir", os.devnull),
        "--follow-imports=silent",  # bodies are the lint's
    )
    command = [sys.executable, "-m", "mypy", *options, str(client)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    wrong = [line for line in done.stdout.splitlines() if ": error:" in line]
    assert len(wrong) == len(REFUSED), done.stdout
    for line, words in zip(wrong, REFUSED, strict=True):
        assert words in line


def _typed_inits() -> list[tuple[str, ast.ClassDef, ast.FunctionDef]]:
    """Classes whose ``__init__`` is written out for type checkers, since their fields take texts too."""
    return [
        (f"{path.stem}.{each.name}", each, function)
        for path in sorted((ROOT / "burnerlab").rglob("*.py"))
        for each in syntax_nodes(path)
        if isinstance(each, ast.ClassDef)
        for block in each.body
        if isinstance(block, ast.If) and ast.unparse(block.test) == "TYPE_CHECKING"
        for function in block.body
        if isinstance(function, ast.FunctionDef) and function.name == "__init__" and function.args.kwonlyargs
    ]


def _parameters(init: ast.FunctionDef) -> list[tuple[str, bool]]:
    """Keyword of an ``__init__``, and whether it has a default."""
    taken = zip(init.args.kwonlyargs, init.args.kw_defaults, strict=True)
    return [(argument.arg, default is not None) for argument, default in taken]


def _fields(made: ast.ClassDef) -> list[tuple[str, bool]]:
    """Fields of a dataclass, and whether each has a default."""
    return [
        (
            ast.unparse(field.target),
            field.value is not None
            and not (
                isinstance(field.value, ast.Call)
                and not any("default" in str(k.arg) for k in field.value.keywords)
            ),
        )
        for field in made.body
        if isinstance(field, ast.AnnAssign)
    ]


def test_an_init_for_type_checkers_has_the_fields() -> None:
    inits = _typed_inits()
    assert len(inits) > 5
    assert not [name for name, made, init in inits if _parameters(init) != _fields(made)]


def test_the_package_imports_at_once() -> None:
    """Best of five in processor time, whatever else the machine does: the names of the stub read, no room loaded."""
    code = "import time; t = time.process_time(); import burnerlab; dir(burnerlab); print(time.process_time() - t)"
    command = [sys.executable, "-c", code]
    times = [
        float(subprocess.run(command, capture_output=True, text=True, check=True).stdout) for _ in range(5)
    ]
    assert min(times) < 0.15
