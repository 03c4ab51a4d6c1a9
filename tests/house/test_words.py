"""What the code, the tables, the documents and the notebooks say, held against the forbidden words."""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from forbidden_words import ON_GAS_PARTS, claims, unguarded
from syntax_trees import syntax_tree

from burnerlab import tables
from burnerlab.cli import COMMANDS, command_of
from burnerlab.handbook.contents import pages

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "burnerlab"
OF_THE_SOURCE = {"source", "place", "provenance"}
NUMBER = re.compile(r"[-+0-9.eE]*")
LONG = {
    "changes",
    "python",
    "cautions",
}  # a log; docstrings, read by programmers; cautions, whose words are agreed
MACHINE_WORDS = {"ok", "trust"}  # what SQLite answers; the name a column had in files of 0.1.0


def strings(tree: ast.Module) -> Iterator[str]:
    """Every text of a piece of code that is not a docstring."""
    nodes = list(ast.walk(tree))
    holders = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
    docs = {
        id(node.body[0].value)
        for node in nodes
        if isinstance(node, holders) and node.body and isinstance(node.body[0], ast.Expr)
    }
    for node in nodes:
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs:
            yield node.value


def test_no_text_of_the_code_claims_or_endangers() -> None:
    files = sorted(PACKAGE.rglob("*.py"))
    assert len(files) > 100
    where = {text: path.relative_to(PACKAGE) for path in files for text in strings(syntax_tree(path))}
    assert not [
        f"{path}: {text}" for text, path in where.items() if text not in MACHINE_WORDS and claims(text)
    ]


def test_no_template_claims_or_endangers() -> None:
    files = [path for ending in ("*.j2", "*.typ", "*.js") for path in sorted(PACKAGE.rglob(ending))]
    assert {path.suffix for path in files} == {".j2", ".typ", ".js"}
    assert not [path.name for path in files if claims(path.read_text(encoding="utf-8"))]


IDIOM = re.compile(
    r"\b(besides?|told|tells?|surely|go(es)? before|teach(es)?|shares?|recalled, not seen)\b", re.IGNORECASE
)
"""Words of the house that a reader of another language has to guess at."""
PLAIN_USES = re.compile(
    r"beside the (rating )?plate|~/\.local/share|share/man|by share or mapped|told apart|`[^`]*`",
    re.IGNORECASE,
)


def help_texts() -> Iterator[tuple[str, str]]:
    """Name and every text of the help of each command."""
    waiting = [(name, command_of(name)) for name in COMMANDS]
    for name, command in waiting:
        options = [
            getattr(one, "help", None) or getattr(getattr(one, "declared", None), "help", "")
            for one in command.params
        ]
        yield name, "\n".join(filter(None, (command.short_help, command.help, *options)))
        if isinstance(command, click.Group):
            waiting += [(f"{name} {inner}", one) for inner, one in command.commands.items()]


def test_no_help_and_no_page_speaks_in_riddles() -> None:
    texts = dict(help_texts()) | {page.topic: page.text for page in pages() if page.topic not in LONG}
    assert len(texts) > 80
    prose = {name: PLAIN_USES.sub("", " ".join(text.split())) for name, text in texts.items()}
    found = [
        f"{name}: {text[max(0, hit.start() - 40) : hit.end() + 40]}"
        for name, text in prose.items()
        for hit in IDIOM.finditer(text)
    ]
    assert not found


def test_no_table_claims_or_endangers() -> None:
    assert not [
        f"{name} row {number}, {column}: {text}"
        for name in tables.names()
        for number, row in enumerate(tables.rows(name), start=1)
        for column, text in row.items()
        if column not in OF_THE_SOURCE and not NUMBER.fullmatch(text or "") and claims(text or "")
    ]


def test_no_document_claims_or_endangers() -> None:
    paths = [ROOT / "README.md", ROOT / "DEVELOPERS.md", ROOT / "notebooks" / "README.md"]
    assert not [path.name for path in paths if claims(path.read_text(encoding="utf-8"))]


def test_no_notebook_claims_or_endangers() -> None:
    notebooks = sorted((ROOT / "notebooks").glob("*.ipynb"))
    assert notebooks
    assert not [
        f"{path.stem}: {text}"
        for path in notebooks
        for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]
        for source in ["".join(cell["source"])]
        for text in ([source] if cell["cell_type"] == "markdown" else strings(ast.parse(source)))
        if claims(text)
    ]


def instructions() -> Iterator[tuple[str, str]]:
    """What tells somebody to do something at the appliance: where it stands, and its words."""
    for name, column in (
        ("prompts", "text"),
        ("next_measurements", "title"),
        ("stops", "then"),
        ("cautions", "avoidance"),
    ):
        for row in tables.rows(name):
            yield f"{name}, {next(iter(row.values()))}", row[column]
    for path in sorted((ROOT / "notebooks").glob("*.ipynb")):
        for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
            if cell["cell_type"] == "markdown":
                for item in re.split(r"\n(?=\d\. |- |> )|\n\s*\n", "".join(cell["source"])):
                    yield path.stem, " ".join(item.split())


def test_what_opens_a_gas_part_says_gas_off_by_whom_and_the_test_after() -> None:
    found = list(instructions())
    assert sum(ON_GAS_PARTS.search(text) is not None for _, text in found) >= 5
    for place, text in found:
        assert not unguarded(text), f"{place}: {text}"
    for row in tables.rows("next_measurements"):
        if row["hazard"] == "opened":
            assert "cool" in row["title"]
            assert not unguarded(f"{row['title']}: fit the orifice")


@pytest.mark.parametrize(
    ("text", "kinds"),
    [
        ("This unit is approved.", ["approval"]),
        ("It is not approved by anybody.", []),
        ("No figure here is ever approved.", ["approval"]),  # the negation stands too far away
        ("never warm a cylinder with a flame: take a larger one, or draw from two", ["gas work"]),
        ("Carry it into a warm room and it works again.", ["cylinder"]),
        ("It regains pressure outdoors: never bring it indoors.", []),
        ("Never enlarge a fitted orifice.", []),
        ("Wait a minute, then relight the burner.", ["flame"]),
        ("Do not relight it.", []),
        ("soap solution on every joint", ["gas work"]),
        ("take the old marking off", ["gas work"]),
        ("nothing is wrong", ["result"]),
        ("153 within good", ["quality", "verdict"]),
        ("certified testing comes first", []),
    ],
)
def test_a_negation_excuses_only_what_it_stands_before(text: str, kinds: list[str]) -> None:
    assert [claim.partition(":")[0] for claim in claims(text)] == kinds
