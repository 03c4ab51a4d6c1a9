"""Odd edits of the desk in random order end in pages and refusals, never in a defect."""

from __future__ import annotations

from pathlib import Path

import pytest
from desk_fuzz import run


@pytest.mark.parametrize("seed", [3, 11])
def test_odd_edits_end_in_no_defect(tmp_path: Path, seed: int) -> None:
    assert list(run(tmp_path, seed, 25)) == []


def test_a_defect_would_be_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("burnerlab.page.desk_pages.line_view", lambda *_: 1 / 0)
    assert any("500 after" in line for line in run(tmp_path, 3, 6))
