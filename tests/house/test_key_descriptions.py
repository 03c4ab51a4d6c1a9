"""Each key of an answer has its row in ``burnerlab/handbook/key_descriptions.csv``: what it is, and when it is null."""

from __future__ import annotations

import re

from declared_results import declared_results

from burnerlab.handbook.key_descriptions import DESCRIPTIONS, descriptions
from burnerlab.handbook.output_chapter import annotation, description
from burnerlab.quantity.outputs import columns

SMALL = {"a", "an", "by", "for", "in", "its", "of", "the"}
LONGEST = 16  # words


def _words(text: str) -> set[str]:
    return {*re.findall(r"[a-z0-9]+", text.lower())}


def test_the_description_of_a_key_says_more_than_its_name_and_when_it_is_null() -> None:
    """A row for each output, of its result or of every one; no row without an output."""
    missing, null, long, without_use = [], [], [], set(descriptions())
    for made in declared_results():
        for column in columns(made):
            own, said = (column.key, made.__name__), description(made, column)
            without_use -= {own if own in descriptions() else (column.key, "")}
            if len(_words(said) - _words(column.key) - SMALL) < 2:
                missing.append(own)
            if len(said.split()) > LONGEST:
                long.append(own)
            if "None" in annotation(made, column.name) and "null" not in said:
                null.append(own)
    assert not missing, f"add a row key,result,description to {DESCRIPTIONS}"
    assert not null, f"None is null in JSON: say when in {DESCRIPTIONS}"
    assert not long
    assert not without_use, f"take the rows out of {DESCRIPTIONS}"
