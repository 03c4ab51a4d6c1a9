"""Random edits on the desk in Chromium: after each Save the page is its file converted afresh, no comment lost."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from desk_client import served, written
from desk_edits import Edit, page_differences, run, text_differences

from burnerlab.appliance import demonstration_path
from burnerlab.appliance.project.project_text import ProjectText

pytestmark = pytest.mark.browser
EDITS = 6


@pytest.fixture(scope="module")
def stove(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    path = written(tmp_path_factory.mktemp("stove"))
    yield from ((address, path) for address in served(path))


def test_a_page_is_its_saved_file_converted_afresh(visit: Any, stove: tuple[str, Path]) -> None:
    """``desk_edits.py`` makes dozens of such edits of the demonstration."""
    page, path = visit("desk").page, stove[1]
    found = list(run(page, stove[0], path, EDITS, 1))
    assert len(found) == EDITS
    assert [(one, words) for one, words in found if words] == []
    html = page.content()
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('rate     = "', 'rate     = "1', 1), encoding="utf-8")  # of a burner
    assert any(line.startswith("orifice-") for line in page_differences(html, path))


def test_a_lost_comment_and_another_value_are_differences() -> None:
    text = ProjectText(demonstration_path().read_text(encoding="utf-8"))
    one = Edit("burner[1].rate", "11 kBtu/h")
    edited = text.with_values({one.key: one.value})
    assert list(text_differences(text, edited, one)) == []
    assert list(text_differences(text, edited.with_values({"burner[2].rate": "11 kBtu/h"}), one))
    at = text.text.index("# ")
    bare = ProjectText(edited.text.replace(text.text[at : text.text.index("\n", at)], "", 1))
    assert [line for line in text_differences(text, bare, one) if line.startswith("comments")]
