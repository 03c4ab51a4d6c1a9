"""The record as CSV, as a workbook and as JSON."""

from __future__ import annotations

import csv
import datetime
import io
import json
from collections.abc import Callable, Iterator
from typing import Any

from burnerlab.bench.record.connect import Record, schema_of
from burnerlab.bench.record.document import Document, as_document, kit_as_document, release_as_document
from burnerlab.bench.record.open_stops import all_releases
from burnerlab.bench.record.query import all_kit_checks, all_tests
from burnerlab.bench.record.rows import BEFORE, SHEETS, defused, rows_of
from burnerlab.bench.record.words import in_words

FORMAT = "burnerlab bench record"
GET_WORKBOOKS = 'pip install "burnerlab[sheet]"'
COLUMNS = ("row", *dict.fromkeys(column for columns in SHEETS.values() for column in columns))
MADE = datetime.datetime(2000, 1, 1)  # fixed, so that the same record gives the same file
SHEET_NAMES = {kind: f"{kind.capitalize()}{'' if kind == BEFORE else 's'}" for kind in SHEETS}
"""Kind of row to the sheet of a workbook that holds it."""


def every_test(record: Record) -> Iterator[Document]:
    """Every test as plain data with its SHA-256, in the order it was recorded."""
    return (as_document(each) | {"sha256": each.sha256} for each in all_tests(record))


def every_kit(record: Record) -> Iterator[Document]:
    """Every weighing as plain data with its SHA-256, in the order it was recorded."""
    return (kit_as_document(each) | {"sha256": each.sha256} for each in all_kit_checks(record))


def every_release(record: Record) -> Iterator[Document]:
    """Every release as plain data with its SHA-256, in the order it was recorded."""
    return (release_as_document(each) | {"sha256": each.sha256} for each in all_releases(record))


def _rows(record: Record) -> Iterator[tuple[str, dict[str, Any]]]:
    return rows_of(every_test(record), every_kit(record), every_release(record))


def json_bytes(record: Record) -> bytes:
    """The whole record as one JSON object; figures in SI."""
    whole = {
        "format": FORMAT,
        "schema": schema_of(record.connection),
        "tests": list(every_test(record)),
        "kit_checks": list(every_kit(record)),
        "releases": list(every_release(record)),
    }
    return (json.dumps(whole, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode("utf-8")


def _cell(value: Any) -> Any:
    return "" if value is None else repr(value) if isinstance(value, float) else defused(str(value))


def csv_bytes(record: Record) -> bytes:
    """The whole record as one CSV (RFC 4180): the first column says what a row is; no cell can become a formula."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for kind, cells in _rows(record):
        writer.writerow([kind, *(_cell(cells.get(column)) for column in COLUMNS[1:])])
    return stream.getvalue().encode("utf-8-sig")


def xlsx_bytes(record: Record) -> bytes:
    """The whole record as a workbook with a sheet for each kind of row; text stays text. Needs xlsxwriter."""
    import xlsxwriter

    stream = io.BytesIO()
    options = dict.fromkeys(("strings_to_formulas", "strings_to_urls", "strings_to_numbers"), False)
    book = xlsxwriter.Workbook(stream, {"in_memory": True, **options})
    book.set_properties({"title": "Bench record", "author": "burnerlab", "created": MADE})
    bold = book.add_format({"bold": True, "bottom": 1})
    sheets, filled = {}, dict.fromkeys(SHEETS, 0)
    for kind, columns in SHEETS.items():
        sheets[kind] = sheet = book.add_worksheet(SHEET_NAMES[kind])
        sheet.freeze_panes(1, 2)
        sheet.set_column(0, len(columns) - 1, 16)
        for place, column in enumerate(columns):
            sheet.write_string(0, place, column, bold)
    for kind, cells in _rows(record):
        filled[kind] += 1
        for place, column in enumerate(SHEETS[kind]):
            value = cells.get(column)
            if isinstance(value, float):
                sheets[kind].write_number(filled[kind], place, value)
            elif value:
                sheets[kind].write_string(filled[kind], place, defused(str(value)))
    book.close()
    return stream.getvalue()


FORMATS: dict[str, Callable[[Record], bytes]] = {"csv": csv_bytes, "json": json_bytes, "xlsx": xlsx_bytes}


def exported(record: Record, ending: str) -> bytes:
    """The whole record in one of ``FORMATS``, from one state of the file, whoever writes meanwhile."""
    with in_words(record.path):
        record.connection.execute("BEGIN")
        try:
            return FORMATS[ending](record)
        finally:
            record.connection.execute("ROLLBACK")
