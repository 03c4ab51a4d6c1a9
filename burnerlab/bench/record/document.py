"""An entry as plain data and as rows of cells, and back."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any

from burnerlab.bench.record import entry
from burnerlab.bench.record.entry import (
    PARTS,
    BeforeLighting,
    BenchInstrument,
    BenchTest,
    KitCheck,
    KitRecord,
    Release,
    ReleaseRecord,
    Scan,
    TestRecord,
    quantities,
)
from burnerlab.tables.problem import Problem, UserError

# An entry as plain data, and back: what is hashed, exported and imported is this and nothing else.

Document = dict[str, Any]
LISTS: dict[str, type] = {"instruments": BenchInstrument, **PARTS, "scans": Scan}
NEWER_TEXTS = ("rating_basis", "region")
"""Texts of a test of newer schemas; a row of an older export has no column for them."""
NEWER = (*NEWER_TEXTS, "before_lighting", "stops", "earlier_stops", "inputs", "plan_entries", "photographs")
"""Of newer schemas, left out of an entry that has none of them: one made before them keeps its SHA-256."""
FIGURES = frozenset(
    [
        "value",
        "standard_uncertainty",
        "expanded_uncertainty",
        "low",
        "high",
        "mass_kg",
        "window_low_kg",
        "window_high_kg",
    ]
)
OF_A_TEST = ("uid", "recorded_at", "corrects", "reason")
OF_A_KIT = ("uid", "recorded_at")


@cache
def _names(kind: type) -> tuple[str, ...]:
    return tuple(field.name for field in fields(kind))


def _plain(value: Any) -> Any:
    """A frozen object as a mapping, tuples as lists; quicker than ``dataclasses.asdict``, which copies every leaf."""
    if isinstance(value, tuple):
        return [_plain(each) for each in value]
    kind: type = type(value)
    if is_dataclass(kind):
        return {name: _plain(getattr(value, name)) for name in _names(kind)}
    return value


def as_document(record: TestRecord) -> Document:
    """A test as it is hashed and exported; who corrected it later is not part of it."""
    document: Document = {key: getattr(record, key) for key in OF_A_TEST} | _plain(record.test)
    for name in NEWER:
        if not document[name]:
            del document[name]
    return document


def kit_as_document(record: KitRecord) -> Document:
    """A weighing as it is hashed and exported."""
    document: Document = {key: getattr(record, key) for key in OF_A_KIT} | _plain(record.check)
    return document


def release_as_document(record: ReleaseRecord) -> Document:
    """A release as it is hashed and exported."""
    document: Document = {key: getattr(record, key) for key in OF_A_KIT} | _plain(record.release)
    return document


def sha256_of(document: Mapping[str, Any]) -> str:
    """The SHA-256 of an entry: of its data in JSON with sorted keys.

    >>> sha256_of({"a": 1})[:8]
    '015abd7f'
    """
    text = json.dumps(document, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False)
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def chained(before: str, sha256: str) -> str:
    """The link of an entry to the one before it: an entry taken out or put between breaks the chain.

    >>> chained("", "0")[:8]
    '5feceb66'
    """
    return hashlib.sha256((before + sha256).encode("ascii")).hexdigest()


def import_error(what: str, key: str = "", value: str = "") -> UserError:
    """What an export that nobody altered does not hold."""
    return UserError(Problem(what, key=key, value=value, fix="import a file as burnerlab wrote it"))


def _instance(kind: type, data: Any, where: str) -> Any:
    """A frozen thing from a mapping of exactly its fields."""
    if not isinstance(data, Mapping):
        raise import_error("must be a table of values", where)
    names = {field.name for field in fields(kind)}
    for name in data:
        if name not in names:
            raise import_error("unknown key", f"{where}.{name}"[:100])
    newer = set(NEWER) if kind is BenchTest else set()
    for name in names - set(data) - newer:
        raise import_error("is missing", f"{where}.{name}")
    values: dict[str, Any] = {}
    for name, value in data.items():
        if name == "before_lighting":
            values[name] = _instance(BeforeLighting, value, f"{where}.{name}")
        elif name == "stops" and kind is Release:
            values[name] = _uids(value, f"{where}.{name}")
        elif name in LISTS:
            if not isinstance(value, list | tuple):
                raise import_error("must be a list", f"{where}.{name}")
            values[name] = tuple(_instance(LISTS[name], each, f"{where}.{name}") for each in value)
        elif name in FIGURES:
            if value is not None and (isinstance(value, bool) or not isinstance(value, int | float)):
                raise import_error("must be a number", f"{where}.{name}", str(value))
            values[name] = value if value is None else float(value)
        else:
            if not isinstance(value, str):
                raise import_error("must be a text", f"{where}.{name}", str(value))
            values[name] = value
    return kind(**values)


def _uids(value: Any, where: str) -> tuple[str, ...]:
    if not isinstance(value, list | tuple) or not all(isinstance(each, str) for each in value):
        raise import_error("must be a list of texts", where)
    return tuple(value)


def _split(
    document: Mapping[str, Any], keys: tuple[str, ...], where: str
) -> tuple[dict[str, str], dict[str, Any]]:
    """What the record itself adds to an entry, and the rest."""
    head = {key: document.get(key, "") for key in (*keys, "sha256")}
    for key, value in head.items():
        if not isinstance(value, str):
            raise import_error("must be a text", f"{where}.{key}", str(value))
    return head, {key: value for key, value in document.items() if key not in head}


def read_test(document: Mapping[str, Any], where: str = "test") -> TestRecord:
    """The test a document describes. Raises UserError for anything that is not one."""
    head, parts = _split(document, OF_A_TEST, where)
    return TestRecord(number=0, test=_instance(BenchTest, parts, where), **head)


def read_kit(document: Mapping[str, Any], where: str = "kit check") -> KitRecord:
    """The weighing a document describes. Raises UserError for anything that is not one."""
    head, parts = _split(document, OF_A_KIT, where)
    return KitRecord(number=0, check=_instance(KitCheck, parts, where), **head)


def read_release(document: Mapping[str, Any], where: str = "release") -> ReleaseRecord:
    """The release a document describes. Raises UserError for anything that is not one."""
    head, parts = _split(document, OF_A_KIT, where)
    return ReleaseRecord(number=0, release=_instance(Release, parts, where), **head)


# Entries as rows of cells, and back: one form for CSV and for the sheets of a workbook.

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
    "rating_basis",
    "region",
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
SINGULAR = {"plan_entries": "plan entry"}
ROW_PARTS: dict[str, tuple[str, list[str]]] = {
    SINGULAR.get(name, name.removesuffix("s").replace("_", " ")): (
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
NEWER_ROWS = ("stop", "earlier stop", BEFORE, "release", "input", "plan entry", "photograph")
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
    yield "test", {key: test.get(key, "") if key in NEWER_TEXTS else test[key] for key in TEST}
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
            tests[str(cells.get("uid"))] = _row_document(cells, TEST, number) | {
                m: [] for m, _ in ROW_PARTS.values()
            }
        elif kind == "kit check":
            kits[str(cells.get("uid"))] = _row_document(cells, KIT, number) | {"scans": []}
        elif kind == "release":
            cells_of_release = _row_document(cells, RELEASE, number)
            releases.append(cells_of_release | {"stops": cells_of_release["stops"].split()})
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
            owner["before_lighting"] = _row_document(cells, BEFORE_LIGHTING, number)
            continue
        many, columns = ("scans", SCAN) if kind == "scan" else ROW_PARTS[kind]
        owner[many].append(_row_document(cells, columns, number))
    return list(tests.values()), list(kits.values()), releases


def _row_document(cells: Mapping[str, Any], columns: Iterable[str], number: int) -> Document:
    """The cells of a row under their columns: figures as floats, texts as they were."""
    document: Document = {}
    for column in columns:
        if column not in cells and column in NEWER_TEXTS:
            document[column] = ""
            continue
        if column not in cells:
            raise UserError(Problem(f"has no column {column}", key=f"row {number}"))
        cell = cells[column]
        if column in FIGURES:
            document[column] = _figure(cell, column, number)
        else:
            document[column] = "" if cell is None else restored(str(cell))
    return document


def _figure(cell: object, column: str, number: int) -> float | None:
    if cell is None or cell == "":
        return None
    try:
        return float(cell)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        key = f"row {number}, {column}"
        raise UserError(Problem("must be a number", value=str(cell), key=key)) from None
