"""An invented language: every letter of a translation is another than in English, so that what is left is seen."""

from __future__ import annotations

import csv
import html
import io
import re
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path

from burnerlab.tables.catalogue import text_table
from burnerlab.tables.phrase import PLACE

TAG = "qaa"  # of the range that ISO 639-2 reserves for local use
LATIN = "abcdefghijklmnopqrstuvwxyz"
LETTERS = str.maketrans(
    LATIN + LATIN.upper(), "абцдефгхийклмнопярстувщызж" + "абцдефгхийклмнопярстувщызж".upper()
)
TRANSLATOR = "A. Person"
KEYS = f'[appliance]\nlanguage = "{TAG}"\n'
TABLE = '\n[tables]\ntexts = "texts.csv"\n'
UNITS = frozenset(
    ("mm", "kW", "Btu", "mbar", "kPa", "in", "psi", "psia", "kg", "lb", "ft", "ppm", "min", "Pa", "MJ", "mol")
)
WORD = re.compile(r"[A-Za-z]{2,}")


def invented(english: str) -> str:
    """A template in the language, its places as they are.

    >>> invented("set {pressure} at")
    'сет {pressure} ат'
    """
    made, at = "", 0
    for hit in PLACE.finditer(english):
        made, at = made + english[at : hit.start()].translate(LETTERS) + hit[0], hit.end()
    return made + english[at:].translate(LETTERS)


@cache
def _filled_in() -> tuple[dict[str, str], ...]:
    rows = csv.DictReader(io.StringIO(text_table(TAG).csv))
    return tuple(row | {"translation": invented(row["english"]), "translator": TRANSLATOR} for row in rows)


def rows_of_texts() -> list[dict[str, str]]:
    """The catalogue, filled in."""
    return [dict(row) for row in _filled_in()]


def write_texts(folder: Path, rows: Iterable[dict[str, str]], separator: str = ",") -> Path:
    """A table of texts as a spreadsheet leaves it."""
    kept, path = list(rows), folder / "texts.csv"
    with path.open("w", encoding="utf-8-sig", newline="") as stream:
        writer = csv.DictWriter(stream, list(kept[0]), delimiter=separator)
        writer.writeheader()
        writer.writerows(kept)
    return path


def write_project(folder: Path, english: str) -> Path:
    """A project file whose papers are read in the language, beside its texts."""
    write_texts(folder, rows_of_texts())
    path = folder / "range.toml"
    path.write_text(english.replace("[appliance]\n", KEYS, 1) + TABLE, encoding="utf-8")
    return path


DIGEST = re.compile(r"\b(?=[a-f]*\d)[0-9a-f]{12}\b")  # of a file as a paper has it: its letters are no word


def english_left(page: str, names: Iterable[str]) -> Iterator[str]:
    """Lines of an HTML page that hold a word of Latin letters which is neither a unit nor one of the names.

    names : of the user, of gases, drills and publications, longest first or not
    """
    page = re.sub(r"<(style|svg)\b.*?</\1>", "", page, flags=re.DOTALL)
    spoken = re.findall(r'(?:aria-label|alt|data-label)="([^"]*)"', page)
    lines = [html.unescape(line) for line in (*re.sub(r"<[^>]+>", "\n", page).splitlines(), *spoken)]
    whole = "\n".join(lines)
    kept = sorted((name for name in names if name in whole), key=len, reverse=True)
    for line in lines:
        left = DIGEST.sub("", line)
        for name in kept if WORD.search(line) else ():
            left = left.replace(name, "")
        if any(word not in UNITS for word in WORD.findall(left)):
            yield line.strip()
