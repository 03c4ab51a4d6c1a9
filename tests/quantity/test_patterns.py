"""Patterns of quantities against the strict reader: the same texts, but for the size of a value."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

from burnerlab.quantity.patterns import quantity_pattern
from burnerlab.quantity.units import Kind, spellings

BY_SIZE = {
    "overflow",
    "overflow-by-unit",
    "underflow",
    "below-absolute-zero",
    "zero-diameter",
    "negative-mass",
    "negative-time",
    "fraction-over-zero",
    "very-long",
}
"""Refused for what they amount to, or for their length: no pattern knows it."""


def rows(name: str) -> list[dict[str, str]]:
    lines = (Path(__file__).parent / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    found = csv.DictReader(line for line in lines if not line.startswith("#"))
    return [row for row in found if row["reader"] == "read" and row["kind"] in Kind.__members__]


@pytest.mark.parametrize("row", rows("accepted"), ids=lambda row: row["id"])
def test_what_the_reader_takes_matches(row: dict[str, str]) -> None:
    assert re.search(quantity_pattern(Kind[row["kind"]]), row["given"])


@pytest.mark.parametrize("row", rows("refused"), ids=lambda row: row["id"])
def test_what_the_reader_refuses_does_not_match(row: dict[str, str]) -> None:
    matches = bool(re.search(quantity_pattern(Kind[row["kind"]]), row["given"]))
    assert matches == (row["id"] in BY_SIZE)


@pytest.mark.parametrize("kind", [kind for kind in Kind if not kind.name.startswith("REFERENCE")])
def test_every_spelling_of_a_unit_matches_with_and_without_a_blank(kind: Kind) -> None:
    pattern = re.compile(quantity_pattern(kind))
    for spelling, unit in spellings(kind).exact.items():
        if not unit.counted_at_reference:
            assert pattern.search(f"1.5 {spelling}")
            assert pattern.search(f"12 500{spelling}")


@pytest.mark.parametrize("kind", Kind)
def test_a_pattern_is_of_the_part_that_all_engines_share(kind: Kind) -> None:
    pattern = quantity_pattern(kind)
    assert not re.search(r"\(\?(?![:=!<])|\(\?<(?![=!])|\\[dwbAZ]", pattern)
    assert pattern[0] == "^"
    assert pattern[-1] == "$"
