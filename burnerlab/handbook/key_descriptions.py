"""What each key of an answer holds, its condition and when it is null, from ``key_descriptions.csv``.

A row has the key, the results it is of, and the description. A key that means one thing in every result stands once,
without results: in all others that have it.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from burnerlab.tables import package_dir, read_csv

DESCRIPTIONS = "key_descriptions.csv"


@cache
def descriptions() -> Mapping[tuple[str, str], str]:
    """What a key holds, by key and result; "" for the result where it is the same in all others that have it.

    >>> descriptions()["uid", ""], descriptions()["drop_mbar", "ElementDrop"]
    ('Entry of the record by its lasting number', '...; null: inlet of the regulator unknown')
    """
    rows = read_csv(package_dir() / "handbook" / DESCRIPTIONS)
    return {(row["key"], of): row["description"] for row in rows for of in row["of"].split() or ("",)}


def is_key(word: str) -> bool:
    """Whether a word is a key of an answer and, by its underscore, nothing else.

    >>> is_key("drop_mbar"), is_key("lift")
    (True, False)
    """
    return "_" in word and any(key == word for key, _ in descriptions())
