"""What is printed and written says nothing forbidden: every help, and the demonstration in every format."""

from __future__ import annotations

import re

import click
import pytest
from command_runs import demonstration_run, run
from forbidden_words import claims

from burnerlab.cli import COMMANDS, main

STYLE = re.compile(r"<(style|svg).*?</\1>", re.DOTALL)
TAG = re.compile(r"<[^>]*>")


def lines() -> list[tuple[str, ...]]:
    """Every command, and those of a group."""
    found: list[tuple[str, ...]] = [()]
    context = click.Context(main)
    for name in COMMANDS:
        command = main.get_command(context, name)
        inner = command.list_commands(context) if isinstance(command, click.Group) else []
        found += [(name,), *((name, one) for one in inner)]
    return found


@pytest.mark.parametrize("line", lines(), ids=" ".join)
def test_no_help_claims_or_endangers(line: tuple[str, ...]) -> None:
    text = run(*line, "--help").stdout
    assert text
    assert not claims(text)
    assert all(len(each) <= 80 for each in text.splitlines()), "a line that a terminal breaks"


@pytest.mark.slow
def test_the_demonstration_claims_nothing_in_any_format() -> None:
    from openpyxl import load_workbook

    demonstration = demonstration_run()
    assert not claims(demonstration.printed)
    seen = set()
    for path in demonstration.folder.iterdir():
        seen.add(path.suffix)
        if path.suffix == ".xlsx":
            cells = (cell.value for sheet in load_workbook(path) for row in sheet.iter_rows() for cell in row)
            texts = [value for value in cells if isinstance(value, str) and not value.startswith("=")]
        elif path.suffix == ".pdf":
            continue  # the same model and words as the HTML, by a template that tests/house reads
        else:
            text = path.read_text(encoding="utf-8")
            texts = TAG.split(STYLE.sub(" ", text)) if path.suffix == ".html" else text.splitlines()
        for text in texts:
            assert not claims(text), path.suffix
    assert seen >= {".html", ".csv", ".json", ".xlsx", ".toml", ".pdf"}
