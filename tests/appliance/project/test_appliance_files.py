"""Files that are not project files, and the line index of those that are."""

from __future__ import annotations

import os
import tomllib
from pathlib import Path

import pytest
from appliance_cases import SMALL
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.appliance import demonstration_path, read_appliance, read_appliance_text
from burnerlab.appliance.project.toml_lines import index, spell
from burnerlab.quantity import UserError


def refused(path: object) -> str:
    with pytest.raises(UserError) as caught:
        read_appliance(path)  # type: ignore[arg-type]
    return str(caught.value)


def test_a_folder_is_refused(tmp_path: Path) -> None:
    assert "not a regular file" in refused(tmp_path)


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    assert "there is no such file" in refused(tmp_path / "gone.toml")


def test_a_fifo_does_not_hang(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    assert "not a regular file" in refused(tmp_path / "pipe")


def test_a_device_is_refused() -> None:
    assert "not a regular file" in refused("/dev/zero")


@pytest.mark.parametrize("name", ["a\0b.toml", "x" * 305])
def test_a_name_no_file_can_have_is_refused(name: str) -> None:
    assert "file =" in refused(name)


def test_more_than_a_mebibyte_is_refused(tmp_path: Path) -> None:
    (tmp_path / "big.toml").write_text("# " + "x" * 2**20)
    assert "larger than 1 MiB" in refused(tmp_path / "big.toml")


def test_utf_16_is_named(tmp_path: Path) -> None:
    (tmp_path / "wide.toml").write_bytes(SMALL.encode("utf-16"))
    assert "UTF-16" in refused(tmp_path / "wide.toml")


def test_broken_utf_8_is_told_with_its_line(tmp_path: Path) -> None:
    (tmp_path / "bad.toml").write_bytes(b"a = 1\nb = '\xff'\n")
    assert "line 2: is not plain UTF-8" in refused(tmp_path / "bad.toml")


def test_a_byte_order_mark_is_taken(tmp_path: Path) -> None:
    (tmp_path / "mark.toml").write_bytes(b"\xef\xbb\xbf" + SMALL.encode())
    assert read_appliance(tmp_path / "mark.toml").name == "one ring"
    assert read_appliance_text("\ufeff" + SMALL).name == "one ring"


def test_a_file_that_may_not_be_read_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def forbidden(*_: object) -> int:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", forbidden)
    assert "may not be read" in refused(tmp_path / "secret.toml")


def every_path(data: object, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """Key paths of a parsed file that hold a value."""
    if isinstance(data, dict):
        return [p for key, value in data.items() for p in every_path(value, (*path, key))] or [path]
    if isinstance(data, list):
        return [p for i, value in enumerate(data) for p in every_path(value, (*path, i))] or [path]
    return [path]


def test_every_key_of_the_demonstration_is_on_the_line_that_names_it() -> None:
    text = demonstration_path().read_text(encoding="utf-8")
    found, lines = index(text), text.splitlines()
    assert not found.problems
    paths = every_path(tomllib.loads(text))
    assert len(paths) > 90
    for path in paths:
        name = next(part for part in reversed(path) if isinstance(part, str))
        assert path in found.lines, spell(path)
        assert name in lines[found.lines[path] - 1]


PUZZLES = {
    "nested arrays": ("a = [\n  1, {b = 2, c = [\n 3]},\n]\nd = 4", {("a", 1, "c", 0): 3, ("d",): 5}),
    "tables in arrays of tables": (
        "[[x]]\n[x.y]\nz = 1\n[[x]]\n[x.y]\nz = 2",
        {("x", 0, "y", "z"): 3, ("x", 1, "y", "z"): 6},
    ),
    "brackets in texts": ('a = "[{"\nb = \'}]\'\nc = """\n[x]\n"""\nd = 1', {("b",): 2, ("d",): 6}),
    "comments": ("# [a]\na = 1 # b = [\nc = 2", {("a",): 2, ("c",): 3}),
    "dotted and quoted keys": ('a.b.c = 1\n"a b".c = 2', {("a", "b", "c"): 1, ("a b", "c"): 2}),
    "values that look like keys": ("a = 1979-05-27T07:32:00Z\nb = 1.5\nc = -inf", {("b",): 2, ("c",): 3}),
}


@pytest.mark.parametrize("case", PUZZLES, ids=str)
def test_lines_of_odd_texts(case: str) -> None:
    text, expected = PUZZLES[case]
    found = index(text)
    assert not found.problems
    for path in every_path(tomllib.loads(text)):
        assert path in found.lines
    for path, line in expected.items():
        assert found.lines[path] == line


@given(st.text(st.sampled_from("ab=[]{}\"'\n,.#1 \\"), max_size=60))
@settings(max_examples=300)
def test_any_text_gives_an_appliance_or_a_clear_error(text: str) -> None:
    with pytest.raises(UserError):
        read_appliance_text(text)


@given(st.text(st.sampled_from("ab=[]{}\"'\n,.#1 "), max_size=40))
@settings(max_examples=300)
def test_no_valid_text_is_called_a_duplicate(text: str) -> None:
    try:
        tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError):
        return
    assert not index(text).problems
