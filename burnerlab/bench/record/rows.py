"""Entries as rows of cells, and back: one form for CSV and for the sheets of a workbook."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields
from typing import Any

from burnerlab.bench.record import entry
from burnerlab.bench.record.document import FIGURES, Document
from burnerlab.bench.record.entry import BeforeLighting, BenchInstrument
from burnerlab.bench.record.vocabulary import quantities
from burnerlab.tables.problem import Problem, UserError

Cell = str | float | None
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
BLANKS = " \n\v\f\u00a0\ufeff"

COMMON = ("uid", "serial", "tested_at")  # beside every part, for whoever sorts a sheet by unit
TEST = [
    "uid",
    "serial",
    "model",
    "model_sha256",
    "gas",
    "tester",
    "tested_at",
    "recorded_at",
    "note",
    "corrects",
    "reason",
    "sha256",
]
KIT = [
    "uid",
    "kit",
    "serial",
    "title",
    "parts_sha256",
    "tester",
    "weighed_at",
    "recorded_at",
    "mass_kg",
    "window_low_kg",
    "window_high_kg",
    "verdict",
    "note",
    "version",
    "sha256",
]
ROW_PARTS: dict[str, tuple[str, list[str]]] = {
    name.removesuffix("s").replace("_", " "): (
        name,
        sorted((field.name for field in fields(kind)), key=lambda column: column != "burner"),
    )
    for name, kind in {"instruments": BenchInstrument, **entry.PARTS}.items()
}
"""Kind of row to the parts of a test that it holds, and its columns: those of the part, the burner first."""
BEFORE = "before lighting"
BEFORE_LIGHTING = [field.name for field in fields(BeforeLighting)]
SCAN = ["part", "reading"]
RELEASE = ["uid", "stops", "name", "qualification", "cause", "repair", "leak_test", "recorded_at", "sha256"]
NEWER_ROWS = ("stop", "earlier stop", BEFORE, "release", "input")
"""Kinds of row that a file of an older burnerlab has not."""
SHEETS: dict[str, list[str]] = {
    "test": TEST,
    **{
        kind: [*COMMON, *columns, *(["unit"] if "quantity" in columns else [])]
        for kind, (_, columns) in ROW_PARTS.items()
    },
    "kit check": KIT,
    "scan": ["uid", "kit", *SCAN],
    BEFORE: [*COMMON, *BEFORE_LIGHTING],
    "release": RELEASE,
}
"""Columns of each kind of row."""


def defused(text: str) -> str:
    """Text that no spreadsheet takes for a formula; ``restored`` gives it back.

    >>> defused("=1+1"), defused("'quoted"), defused("cart 7")
    ("'=1+1", "''quoted", 'cart 7')
    """
    return "'" + text if text.lstrip(BLANKS).startswith((*FORMULA_STARTS, "'")) else text


def restored(text: str) -> str:
    """The text before it was defused.

    >>> restored(defused("-2 %")), restored(defused("'x"))
    ('-2 %', "'x")
    """
    return text[1:] if text.startswith("'") else text


Documents = tuple[list[Document], list[Document], list[Document]]
"""Tests, weighings and releases."""


def rows_of(
    tests: Iterable[Document], kits: Iterable[Document], releases: Iterable[Document] = ()
) -> Iterator[tuple[str, dict[str, Cell]]]:
    """Rows of (kind, cells): an entry first, then its parts."""
    for test in tests:
        yield from _rows_of_a_test(test)
    for kit in kits:
        yield "kit check", {key: kit[key] for key in KIT}
        for scan in kit["scans"]:
            yield "scan", {"uid": kit["uid"], "kit": kit["kit"], **{key: scan[key] for key in SCAN}}
    for release in releases:
        yield "release", {key: release[key] for key in RELEASE} | {"stops": " ".join(release["stops"])}


def _rows_of_a_test(test: Document) -> Iterator[tuple[str, dict[str, Cell]]]:
    units = {name: quantity.unit for name, quantity in quantities().items()}
    yield "test", {key: test[key] for key in TEST}
    beside = {key: test[key] for key in COMMON}
    for kind, (many, columns) in ROW_PARTS.items():
        for part in test.get(many, ()):
            cells = beside | {key: part[key] for key in columns}
            if "quantity" in columns:
                cells["unit"] = units.get(part["quantity"], "")
            yield kind, cells
    if "before_lighting" in test:
        yield BEFORE, beside | {key: test["before_lighting"][key] for key in BEFORE_LIGHTING}


def documents_of(rows: Iterable[tuple[str, Mapping[str, Any]]]) -> Documents:
    """Tests, weighings and releases from rows in any order; a part goes to the entry of its uid.

    Raises UserError for a row of no known kind, a missing column, or a part without its entry.
    """
    tests: dict[str, Document] = {}
    kits: dict[str, Document] = {}
    releases: list[Document] = []
    parts: list[tuple[int, str, Mapping[str, Any]]] = []
    for number, (kind, cells) in enumerate(rows, start=1):
        if kind == "test":
            tests[str(cells.get("uid"))] = _taken(cells, TEST, number) | {
                m: [] for m, _ in ROW_PARTS.values()
            }
        elif kind == "kit check":
            kits[str(cells.get("uid"))] = _taken(cells, KIT, number) | {"scans": []}
        elif kind == "release":
            made = _taken(cells, RELEASE, number)
            releases.append(made | {"stops": made["stops"].split()})
        elif kind in SHEETS:
            parts.append((number, kind, cells))
        else:
            accepted = ", ".join(SHEETS)
            raise UserError(
                Problem("unknown kind of row", value=kind, key=f"row {number}", accepted=accepted)
            )
    for number, kind, cells in parts:
        owner = (kits if kind == "scan" else tests).get(str(cells.get("uid")))
        if owner is None:
            raise UserError(Problem("belongs to no entry of this file", key=f"row {number}", value=kind))
        if kind == BEFORE:
            owner["before_lighting"] = _taken(cells, BEFORE_LIGHTING, number)
            continue
        many, columns = ("scans", SCAN) if kind == "scan" else ROW_PARTS[kind]
        owner[many].append(_taken(cells, columns, number))
    return list(tests.values()), list(kits.values()), releases


def _taken(cells: Mapping[str, Any], columns: Iterable[str], number: int) -> Document:
    """The cells of a row under their columns: figures as floats, texts as they were."""
    taken: Document = {}
    for column in columns:
        if column not in cells:
            raise UserError(Problem(f"has no column {column}", key=f"row {number}"))
        cell = cells[column]
        if column in FIGURES:
            taken[column] = _figure(cell, column, number)
        else:
            taken[column] = "" if cell is None else restored(str(cell))
    return taken


def _figure(cell: object, column: str, number: int) -> float | None:
    if cell is None or cell == "":
        return None
    try:
        return float(cell)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        key = f"row {number}, {column}"
        raise UserError(Problem("must be a number", value=str(cell), key=key)) from None
