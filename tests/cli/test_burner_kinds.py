"""Every kind of burner through every command that takes an appliance file; what finds out a kind that is left out."""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Iterable, Iterator
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from mypy import api
from syntax_trees import syntax_nodes

from burnerlab.appliance import Burner, BurnerKind, Orifice, demonstration_path, read_appliance
from burnerlab.appliance.project import burner_kind
from burnerlab.cli import COMMANDS, command_of, main
from burnerlab.layout import search
from burnerlab.layout.carry_over import carry_over
from burnerlab.tables.problem import UserError

PACKAGE = Path(__file__).parents[2] / "burnerlab"
NAME = "griddle tube middle"
ON = ("--burner", NAME)
LINES: dict[str, tuple[str, ...]] = {
    "convert": ("--to", "propane", "--pressure", "11 in w.c."),
    "injectors": ("--supply", "propane@11 inH2O"),
    "plate": (),
    "tolerance": ("--to", "propane", "--pressure", "11 in w.c."),
    "sweep": ("--workers", "1"),
    "supply": (),
    "regulator": ("--setting", "7 inH2O"),
    "burner": (),
    "ports": ("--burner", "griddle tube left"),  # of open round ports alone; another kind stands beside it
    "clock": (*ON, "--volume", "2 ft3", "--time", "515 s"),
    "weigh": (*ON, "--market", "bottled propane", "--mass-loss", "100 g", "--time", "20 min"),
    "cylinder": ("--market", "bottled propane", "--size", "20 lb", "--air-temperature", "0 C"),
    "explain": (*ON, "--measured", "13 kBtu/h gross"),
    "layout": ("--grid", "12x10"),
    "optimise": ("--tubes", "2", "--inputs", "100 %"),
    "carryover": (),
    "skins": (),
}
"""The rest of a line of each command that takes an appliance file."""
STUDY = """
[study]
appliance = "cart.toml"
to = "propane"
design = "list"
outputs = ["burner.griddle tube middle.deviation"]
[[vary]]
parameter = "target.pressure"
values = ["11 in w.c."]
"""
NAMING = {
    "convert",
    "injectors",
    "tolerance",
    "supply",
    "burner",
    "layout",
    "carryover",
}  # each burner by its name


@pytest.fixture(scope="module")
def carts(tmp_path_factory: pytest.TempPathFactory) -> dict[BurnerKind, Path]:
    """The demonstration with its middle tube made a burner of each kind, at a place of every size."""
    text = demonstration_path().read_text(encoding="utf-8")
    head, name, rest = text.partition(f'name     = "{NAME}"\nkind     = "tube"')
    assert name
    at = 'length = "400 mm", height = "90 mm" }'
    carts = {}
    for kind in BurnerKind:
        sizes = {"ring": 'diameter = "100 mm"'}.get(kind.traits.form, 'length = "200 mm", width = "40 mm"')
        own = rest.replace(at, sizes + ', height = "90 mm" }', 1)
        path = tmp_path_factory.mktemp(kind) / "cart.toml"
        path.write_text(head + name.replace('tube"', f'{kind}"') + own, encoding="utf-8")
        path.with_name("study.toml").write_text(STUDY, encoding="utf-8")
        carts[kind] = path
    return carts


def test_every_command_that_takes_an_appliance_file_is_tried() -> None:
    taking = set()
    for name in COMMANDS:
        params = command_of(name).params
        names = [one.human_readable_name for one in params if isinstance(one, click.Argument)]
        taking |= {name} if {"FILE", "[FILE]", "FILE...", "[FILE...]"} & set(names) else set()
    # calibrate reads the record of the units; the desk serves until it is stopped; a line is of several models
    assert taking - {"calibrate", "desk", "line"} == set(LINES)


@pytest.mark.parametrize("command", LINES)
@pytest.mark.parametrize("kind", BurnerKind)
def test_every_kind_passes_every_command(
    kind: BurnerKind, command: str, carts: dict[BurnerKind, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(search, "GENERATIONS", 1)  # how good its designs are is asked in tests/layout
    monkeypatch.setattr(search, "LOCAL_EVALUATIONS", 5)
    path = carts[kind].with_name("study.toml") if command == "sweep" else carts[kind]
    result = CliRunner().invoke(main, [command, str(path), *LINES[command], "--json"])
    assert result.exit_code == 0, result.stderr
    answer = json.dumps(json.loads(result.stdout))
    assert command not in NAMING or NAME in answer
    assert command not in ("convert", "burner") or f'"kind": "{kind}"' in answer


@pytest.mark.parametrize("kind", BurnerKind)
def test_carry_over_knows_the_flame_of_every_kind_that_has_an_open_one(
    kind: BurnerKind, carts: dict[BurnerKind, Path]
) -> None:
    found = carry_over(read_appliance(carts[kind]))
    heights = [flame.height_at_most_m for flame in found.flames if flame.burner == NAME]
    assert heights
    assert all((height is None) == kind.traits.is_radiant for height in heights)


def test_a_burner_made_in_a_notebook_takes_the_word_and_refuses_one_that_is_none() -> None:
    made = Burner(name="mine", kind="tile", rate_W=4000.0, orifice=Orifice(diameter_m=1e-3))  # type: ignore[arg-type]
    assert made.kind is BurnerKind.TILE
    with pytest.raises(UserError, match=r"is not a kind of burner.*did you mean tile") as refused:
        BurnerKind("tiel")
    assert refused.value.problems[0].accepted == ", ".join(BurnerKind)


def test_the_type_checker_refuses_a_kind_that_does_not_say_what_it_is(tmp_path: Path) -> None:
    source = Path(burner_kind.__file__).read_text(encoding="utf-8")
    alone = ("--strict", "--follow-imports=skip", "--ignore-missing-imports", "--cache-dir", str(tmp_path))
    paths = {"as_it_is": source, "with_one_more": with_one_more(source)}
    for name, text in paths.items():
        (tmp_path / f"{name}.py").write_text(text, encoding="utf-8")
    printed = api.run([*alone, *(str(tmp_path / f"{name}.py") for name in paths)])[0]
    assert re.search(r"with_one_more\.py:.*assert_never.*BurnerKind.COIL", printed)
    assert "as_it_is.py:" not in printed
    assert "checked 2 source files" in printed


def with_one_more(source: str) -> str:
    last = '    REAR = "rear"\n'
    assert last in source
    return source.replace(last, last + '    COIL = "coil"\n')


def compared_with_a_word(nodes: Iterable[ast.AST]) -> Iterator[int]:
    """Lines that compare something called kind with the word of a kind of burner."""
    words = set(BurnerKind)
    for node in nodes:
        if isinstance(node, ast.Compare):
            sides = [node.left, *node.comparators]
            texts = {
                inner.value for side in sides for inner in ast.walk(side) if isinstance(inner, ast.Constant)
            }
            if texts & words and any(map(is_a_kind, sides)):
                yield node.lineno


def is_a_kind(node: ast.expr) -> bool:
    match node:
        case (
            ast.Name(id="kind") | ast.Attribute(attr="kind") | ast.Subscript(slice=ast.Constant(value="kind"))
        ):
            return True
        case ast.Attribute(value=inner, attr="value"):
            return is_a_kind(inner)
    return False


def test_no_module_compares_a_kind_of_burner_with_a_word() -> None:
    caught = (
        'a.kind == "tile"',
        'kind in ("tube", "rear")',
        'burner["kind"] != "box"',
        '"ring" == b[0].kind.value',
    )
    assert all(list(compared_with_a_word(ast.walk(ast.parse(line)))) for line in caught)
    other = 'kind.traits.form == "ring" and surface.kind == "plate"'
    assert not list(compared_with_a_word(ast.walk(ast.parse(other))))
    found = {
        f"{path.relative_to(PACKAGE)}:{line}"
        for path in PACKAGE.rglob("*.py")
        for line in compared_with_a_word(syntax_nodes(path))
    }
    templates = [
        path.name
        for path in PACKAGE.rglob("*.j2")
        if re.search(rf"kind *(==|!=|in)[ (]*\"({'|'.join(BurnerKind)})", path.read_text(encoding="utf-8"))
    ]
    assert not found
    assert not templates
