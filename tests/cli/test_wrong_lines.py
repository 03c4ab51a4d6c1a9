"""A few of the command lines that ``wrong_lines.py`` makes; as a program it runs tens of thousands of them."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from wrong_lines import SLOW_COMMANDS, Changer, Sandbox, commands_of, port_free, run_apart, run_here, wrongs

from burnerlab.cli import COMMANDS, main

LINES, PROCESSES = 80, 2


@pytest.fixture(scope="module")
def sandbox(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Sandbox]:
    here = Path.cwd()
    yield Sandbox(tmp_path_factory.mktemp("lines"))
    os.chdir(here)


def test_a_wrong_line_is_answered_or_refused_in_words(sandbox: Sandbox) -> None:
    changer, ran, found = Changer(seed=2026), 0, []
    while ran < LINES:
        line = changer.line()
        if line and line[0] not in SLOW_COMMANDS:
            ran += 1
            wrong, _ = run_here(line, sandbox)
            found += [(line, wrong)] if wrong else []
    assert not found


def test_a_wrong_line_as_a_process_of_its_own(sandbox: Sandbox) -> None:
    changer, ran = Changer(seed=2027), 0
    while ran < PROCESSES:
        line = changer.line()
        if line and line[0] not in SLOW_COMMANDS and port_free(line):
            ran += 1
            assert (line, run_apart(line, sandbox)) == (line, [])


def test_the_lines_come_from_every_command() -> None:
    changer = Changer(seed=1)
    called = {path[0] for path, _ in commands_of(main)}
    assert called == set(COMMANDS)
    assert {one.line[0] for one in changer.examples} == set(COMMANDS)
    assert Changer(seed=1).line() == changer.line()


def test_what_must_not_be_is_seen() -> None:
    assert wrongs(0, "", "", ["x"]) == wrongs(1, "outside", "", []) == wrongs(2, "", "error: x", []) == []
    assert wrongs(3, "", "internal error: x", []) == ["exit status 3", "says internal error"]
    assert len(wrongs(2, "x", "", ["x"])) == 3
