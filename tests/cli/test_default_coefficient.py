"""The default discharge coefficient is one row of the table ``discharge``; every door takes it from there."""

from __future__ import annotations

import ast
import json
import subprocess
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner
from syntax_trees import syntax_nodes

import burnerlab
from burnerlab import tables, verify
from burnerlab.appliance import Orifice
from burnerlab.burner.burner import BurnerGeometry
from burnerlab.cli import main
from burnerlab.gas import load
from burnerlab.orifice import Conditions, flow
from burnerlab.orifice.discharge_coefficient import DEFAULT_SHAPE, HANDBOOK_COEFFICIENT

PACKAGE = Path(burnerlab.__file__).parent


def test_every_door_takes_the_row() -> None:
    row = next(row for row in tables.rows("discharge") if row["shape"] == DEFAULT_SHAPE)
    assert float(row["coefficient"]) == HANDBOOK_COEFFICIENT
    hole = flow(load("propane"), 1.0e-3, Conditions(gauge_pressure_Pa=2740.0))
    assert hole.coefficient == HANDBOOK_COEFFICIENT
    bare = BurnerGeometry(port_width_m=1.5e-3, port_count=100, orifice_diameter_m=1e-3)
    assert bare.orifice_coefficient == HANDBOOK_COEFFICIENT
    assert Orifice(diameter_m=1e-3).shape == DEFAULT_SHAPE
    line = ["flow", "--gas", "propane", "--pressure", "11 inH2O", "--diameter", "1 mm"]
    assert (
        json.loads(CliRunner().invoke(main, [*line, "--json"]).stdout)["coefficient"] == HANDBOOK_COEFFICIENT
    )
    helped = " ".join(CliRunner().invoke(main, ["flow", "--help"]).stdout.split())
    assert f"that of a {DEFAULT_SHAPE} orifice without it and --shape" in helped


def test_no_module_holds_the_default_coefficient_or_the_name_of_its_shape() -> None:
    """Not as a default of a field, a parameter or a look-up of what is called coefficient, discharge or shape."""
    home = PACKAGE / "orifice" / "discharge_coefficient.py"
    for source in (
        f"class A:\n    discharge_coefficient: float = {HANDBOOK_COEFFICIENT}",
        f"def f(coefficient={HANDBOOK_COEFFICIENT}): ...",
        f"inputs.get('coefficient', {HANDBOOK_COEFFICIENT})",
        f"class A:\n    shape: str = {DEFAULT_SHAPE!r}",
    ):
        assert list(defaults_of(ast.walk(ast.parse(source)))), source
    found = {
        f"{path.relative_to(PACKAGE)}:{line}"
        for path in PACKAGE.rglob("*.py")
        if path != home
        for line in defaults_of(syntax_nodes(path))
    }
    assert not found


OTHER_DEFAULT = """
import json
from burnerlab import tables
read = tables.rows
def rows(name):
    changed = {"coefficient": "0.80"}
    return [row | changed if name == "discharge" and row["shape"] == SHAPE else row for row in read(name)]
tables.rows = rows
from burnerlab import verify
from burnerlab.orifice.discharge_coefficient import HANDBOOK_COEFFICIENT
assert HANDBOOK_COEFFICIENT == 0.80
print(json.dumps({one.check.id: one.ours for one in verify.run(TOPICS)}))
"""


def test_another_default_moves_no_comparison_with_a_printed_figure() -> None:
    """A published table states its own factor: each row says it, none takes ours."""
    wanted = (
        "conversion",
        "conversion_rule",
        "expansibility",
        "orifice_tables",
        "outside_orifice",
        "altitude",
    )
    code = OTHER_DEFAULT.replace("TOPICS", repr(wanted)).replace("SHAPE", repr(DEFAULT_SHAPE))
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    moved = json.loads(done.stdout)
    assert len(moved) > 200
    assert moved == pytest.approx({one.check.id: one.ours for one in verify.run(wanted)}, rel=1e-12)


def fallbacks(node: ast.AST) -> Iterator[tuple[ast.AST, ast.expr | None]]:
    """Fields, parameters and look-ups, with what they fall back on."""
    match node:
        case ast.AnnAssign(target=target, value=value):
            yield target, value
        case ast.arguments():
            positional = [*node.posonlyargs, *node.args]
            yield from zip(positional[len(positional) - len(node.defaults) :], node.defaults, strict=True)
            yield from zip(node.kwonlyargs, node.kw_defaults, strict=True)
        case ast.Call(func=ast.Attribute(attr="get"), args=[_, value]):
            yield node, value


def defaults_of(nodes: Iterable[ast.AST]) -> Iterator[int]:
    """Lines where what is called coefficient, discharge or shape falls back on a figure or a shape written out."""
    for node in nodes:
        for named, value in fallbacks(node):
            if isinstance(value, ast.Constant) and value.value in (HANDBOOK_COEFFICIENT, DEFAULT_SHAPE):
                name = named.arg if isinstance(named, ast.arg) else ast.unparse(named)
                if any(word in name for word in ("coefficient", "discharge", "shape")):
                    yield value.lineno
