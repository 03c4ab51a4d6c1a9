"""A table of the user's own in place of a shipped one is checked before it is used."""

from __future__ import annotations

from pathlib import Path

import pytest

from burnerlab.orifice import drill_list, policy_factor, shapes, tolerance_band
from burnerlab.tables.problem import UserError

HEAD = "up_to_mm,oversize_mm,undersize_mm,source,place,provenance\n"


def test_a_missing_column_is_named(tmp_path: Path) -> None:
    path = tmp_path / "ours.csv"
    path.write_text("policy,title\ntown,3 %\n", encoding="utf-8")
    with pytest.raises(UserError, match=r"ours\.csv, line 1: .*from_ft.*the table lacks a column"):
        policy_factor("town", 0.0, path)


def test_every_word_in_the_place_of_a_number_is_told(tmp_path: Path) -> None:
    path = tmp_path / "ours.csv"
    path.write_text(HEAD + "3,tight,nan,shop,gauge,measured here\n", encoding="utf-8")
    with pytest.raises(UserError) as caught:
        tolerance_band(drill_list("number")[0], path)
    assert [(p.line, p.key) for p in caught.value.problems] == [(2, "oversize_mm"), (2, "undersize_mm")]


@pytest.mark.parametrize("content", [None, b"", b"\xff\xfe\x00"])
def test_what_is_no_table_is_refused(tmp_path: Path, content: bytes | None) -> None:
    path = tmp_path / "ours.csv"
    if content is None:
        path.mkdir()
    else:
        path.write_bytes(content)
    with pytest.raises(UserError):
        shapes(path)
