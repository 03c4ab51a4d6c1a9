"""Words that a type stands for are never compared as text: its member is, so that a wrong word is an error of types."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

from syntax_trees import syntax_tree

import burnerlab
from burnerlab.appliance.project.burner_kind import BurnerKind, Form
from burnerlab.gas.gas_family import Family, GasGroup
from burnerlab.tables.cautions import Signal
from burnerlab.tables.figure import OF_PROVENANCE, Evidence
from burnerlab.tables.verdict import Verdict

PACKAGE = Path(burnerlab.__file__).parent
TYPES = (BurnerKind, Evidence, GasGroup, Signal, Verdict)  # the digits of families are too common to look for
WORDS = {member.value for of in TYPES for member in of} - set(
    get_args(Form)
)  # "ring" is a form of the layout as well
IN_TEMPLATE = re.compile(r'(?:[=!]=|\bin\b) *\(?"([^"]*)"')


def _texts(node: ast.expr) -> Iterator[str]:
    for one in node.elts if isinstance(node, ast.Tuple | ast.List | ast.Set) else (node,):
        if isinstance(one, ast.Constant) and isinstance(one.value, str):
            yield one.value


def _compared(tree: ast.AST) -> Iterator[tuple[int, str]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Compare):
            for side in (node.left, *node.comparators):
                yield from ((node.lineno, text) for text in _texts(side))
        elif isinstance(node, ast.MatchValue):
            yield from ((node.lineno, text) for text in _texts(node.value))


def test_no_word_of_a_type_is_compared_as_text() -> None:
    found = [
        f"{path.relative_to(PACKAGE)}:{line}: {text}"
        for path in sorted(PACKAGE.rglob("*.py"))
        for line, text in _compared(syntax_tree(path))
        if text in WORDS
    ]
    found += [
        f"{path.relative_to(PACKAGE)}: {text}"
        for path in sorted(PACKAGE.rglob("*.j2"))
        for text in IN_TEMPLATE.findall(path.read_text(encoding="utf-8"))
        if text in WORDS
    ]
    assert not found


def test_a_comparison_with_text_is_seen() -> None:
    seen = list(
        _compared(ast.parse('a.verdict == "near"\nb in ("outside", c)\nmatch d:\n case "within": pass'))
    )
    assert [text for _, text in seen] == ["near", "outside", "within"]
    assert IN_TEMPLATE.findall('{% if held.verdict == "within" %}') == ["within"]


def test_the_ranks_of_verdicts_are_all_different() -> None:
    assert sorted(verdict.rank for verdict in Verdict) == list(range(len(Verdict)))


def test_every_provenance_is_some_evidence() -> None:
    assert set(OF_PROVENANCE.values()) | {Evidence.ENTERED} == set(Evidence)


def test_families_are_those_of_the_table() -> None:
    from burnerlab.gas.gas_family import wobbe_groups

    assert {group.family for group in wobbe_groups()} == set(Family)
