"""DEVELOPERS.md leads to files that exist, and its map names every room."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "burnerlab"
TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
HOMES = (ROOT, PACKAGE, PACKAGE / "tables" / "data")
NOT_OURS = (".venv/", "checks.html")  # made by a command of the page
SUFFIXES = ("py", "pyi", "csv", "toml", "md", "html", "txt", "js", "css")
NO_ROOM = {"__pycache__", "data", "sources", "templates"}


def paths_of(text: str) -> Iterator[str]:
    """Words in backticks that name a file or a folder; what stands for a name is a star."""
    for quoted in re.findall(r"`([^`\n]+)`", text):
        for word in re.sub(r"<\w+>", "*", quoted).split():
            is_file = word.rpartition(".")[2] in SUFFIXES
            is_folder = re.fullmatch(r"\.?\w+(/\w+)*/?", word) and "/" in word
            if (is_file or is_folder) and not word.startswith(NOT_OURS):
                yield word


def exists(path: str) -> bool:
    """From the top, from the package or among its tables; a bare name may stand in any room."""
    homes = HOMES if "/" in path else (*HOMES, *(one for one in PACKAGE.rglob("*") if one.is_dir()))
    return any(True for home in homes for _ in home.glob(path.rstrip("/")))


def test_the_walk_sees_what_is_gone() -> None:
    said = (
        "`tests/golden`, `lost.csv`, `verify/<room>.py`, `.venv/bin/python -m pytest tests/orifice`, `n/a b`"
    )
    assert list(paths_of(said)) == ["tests/golden", "lost.csv", "verify/*.py", "tests/orifice", "n/a"]
    assert not exists("tests/golden")
    assert not exists("lost.csv")
    assert exists("verify/*.py")


@pytest.mark.parametrize("path", sorted(set(paths_of(TEXT))))
def test_a_path_in_backticks_exists(path: str) -> None:
    assert exists(path)


def test_the_map_names_every_room() -> None:
    block = TEXT.partition("```\n")[2].partition("```")[0]
    found, top = set(), ""
    for indent, name in re.findall(r"(?m)^( *)(\w+)/ ", block):
        top = top if indent else name
        found.add(f"{top}/{name}" if indent else name)
    folders = {path.relative_to(PACKAGE).as_posix() for path in PACKAGE.rglob("*") if path.is_dir()}
    rooms = {folder for folder in folders if not NO_ROOM & set(folder.split("/"))}
    assert found == rooms


def test_a_change_and_its_heading_are_listed_once() -> None:
    """Two copies of a section come together where two people write the page at once."""
    text = (PACKAGE / "handbook" / "changes.md").read_text(encoding="utf-8")
    lines = [" ".join(one.split()) for one in re.split(r"\n(?=- |\n|#|\| )", text)]
    lines = [
        one for one in lines if one.startswith(("- ", "#")) or re.match(r"\| (?!figure|name|where|---)", one)
    ]
    assert sorted({one for one in lines if lines.count(one) > 1}) == []
    assert len(lines) > 400
