"""Commands run as their user runs them, in this process."""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from click.testing import CliRunner, Result

from burnerlab.cli import main


def run(*args: str) -> Result:
    return CliRunner().invoke(main, args)


def instead(words: tuple[str, ...], *others: str) -> tuple[str, ...]:
    """Options with their values, those of ``others`` in place of those of the same name."""
    kept = [pair for pair in zip(words[::2], words[1::2], strict=True) if pair[0] not in others[::2]]
    return (*(word for pair in kept for word in pair), *others)


def answer(*args: str, status: int = 0) -> Any:
    """The JSON of a command that must answer, read by a parser that refuses NaN."""
    result = run(*args, "--json")
    assert result.exit_code == status, result.output
    assert not result.stderr

    def refuse(text: str) -> None:
        raise AssertionError(f"{text} is not JSON")

    return json.loads(result.stdout, parse_constant=refuse)


def complaint(*args: str) -> str:
    """What a command that must be refused says; it prints nothing else and traces nothing."""
    result = run(*args)
    assert result.exit_code == 2, result.output
    assert not result.stdout
    assert "Traceback" not in result.stderr
    return result.stderr


@dataclass(frozen=True)
class Demonstration:
    """What ``burnerlab demo`` printed and wrote."""

    printed: str
    kept: TemporaryDirectory[str]

    @property
    def folder(self) -> Path:
        return Path(self.kept.name) / "burnerlab-demo"


@cache
def demonstration_run() -> Demonstration:
    """The demonstration, run once for all tests that only look at it."""
    before, kept = Path.cwd(), TemporaryDirectory()
    try:
        os.chdir(kept.name)
        result = run("demo")
    finally:
        os.chdir(before)
    assert result.exit_code == 0, result.output
    return Demonstration(result.stdout, kept)
