"""Inputs are declared: commands read nothing by hand, and only the table of inputs states a range."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

from syntax_trees import syntax_nodes

from burnerlab.tables import package_dir

CLI = package_dir() / "cli"
MAKES_OPTIONS = ("options.py", "output.py", "verbosity.py", "__init__.py")
"""The one that makes options from inputs, and the switches of every command: --json, --quiet, --debug and so on."""
OF_CLICK = ("option", "argument", "IntRange", "FloatRange", "Choice")
READERS = ("read", "read_rate", "read_bore", "read_heating_value", "read_at_reference")


def calls(path: Path) -> Iterator[tuple[ast.Call, str]]:
    """Every call of a file, by the last word of what is called."""
    for one in syntax_nodes(path):
        if isinstance(one, ast.Call):
            yield one, getattr(one.func, "attr", getattr(one.func, "id", ""))


def test_no_command_makes_an_option_by_hand() -> None:
    by_hand = [
        f"{path.name}: {ast.unparse(call)[:60]}"
        for path in sorted(CLI.glob("*.py"))
        if path.name not in MAKES_OPTIONS
        for call, _ in calls(path)
        if ast.unparse(call.func) in {f"click.{name}" for name in OF_CLICK}
    ]
    assert not by_hand


def test_no_command_reads_a_text_by_hand() -> None:
    """A function that reads takes the key with the text: it serves as the reader of an input."""
    by_hand = [
        f"{path.name}: {ast.unparse(call)[:80]}"
        for path in sorted(CLI.glob("*.py"))
        for call, _ in calls(path)
        if ast.unparse(call.func) == "read" and any(_is_option(keyword) for keyword in call.keywords)
    ]
    assert not by_hand


def _is_option(keyword: ast.keyword) -> bool:
    return isinstance(keyword.value, ast.Constant) and str(keyword.value.value).startswith("--")


def test_only_the_table_of_inputs_states_a_range() -> None:
    stated = [
        f"{path.relative_to(package_dir())}: {ast.unparse(call)[:80]}"
        for path in sorted(package_dir().glob("**/*.py"))
        if path.parent.name != "quantity"
        for call, name in calls(path)
        if name in READERS and {"low", "high"} & {keyword.arg for keyword in call.keywords}
    ]
    assert not stated
