"""The record out as CSV, workbook and JSON, and entries in from an export."""

from __future__ import annotations

import csv
import datetime
import io
import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from burnerlab.bench.figure_stops import analyser_stops, figures_of
from burnerlab.bench.record.checks import checked_kit, checked_release, checked_test
from burnerlab.bench.record.database import Record, in_words, schema_of, transaction
from burnerlab.bench.record.document import (
    BEFORE,
    NEWER_ROWS,
    SHEETS,
    Document,
    Documents,
    as_document,
    defused,
    documents_of,
    import_error,
    kit_as_document,
    read_kit,
    read_release,
    read_test,
    release_as_document,
    rows_of,
    sha256_of,
)
from burnerlab.bench.record.entry import KitRecord, ReleaseRecord, TestRecord, read_time
from burnerlab.bench.record.migrations import VERSION
from burnerlab.bench.record.open_stops import STATEMENTS, all_releases
from burnerlab.bench.record.query import all_kit_checks, all_tests, entry, history, spellings
from burnerlab.bench.record.store import UID_LENGTH, add_test, insert_kit, insert_release, insert_test
from burnerlab.bench.stop import worst_first
from burnerlab.bench.stop_rules import entry_stops
from burnerlab.quantity.outputs import output
from burnerlab.tables.cautions import Signal
from burnerlab.tables.problem import Problem, UserError

# The record as CSV, as a workbook and as JSON.

FORMAT = "burnerlab bench record"
GET_WORKBOOKS = 'pip install "burnerlab[sheet]"'
COLUMNS = ("row", *dict.fromkeys(column for columns in SHEETS.values() for column in columns))
MADE = datetime.datetime(2000, 1, 1)  # fixed, so that the same record gives the same file
SHEET_NAMES = {
    kind: "Plan entries" if kind == "plan entry" else f"{kind.capitalize()}{'' if kind == BEFORE else 's'}"
    for kind in SHEETS
}
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


# Take entries in from an exported file: all of them or none, and none twice.

TAKEN_IN = "Raised by the figures of entry {uid}, tested {moment}, which was taken in without this stop."
ONE_UNIT = (
    "{serial} is the unit {known} of the record: small and capital letters are the same, its history is one"
)
UID_SHOWN = 8
OF_FIGURES = (
    "readings", "results", "observations", "instruments", "photographs", "plan_entries", "earlier_stops",
)  # fmt: skip
LAST_ENTRIES = 200  # of a unit, among which a later test of a burner is looked for
LARGEST_BYTES = 512 * 1024 * 1024
HEXADECIMAL = set("0123456789abcdef")


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """What an import did."""

    tests: int = field(metadata=output("tests"))
    kit_checks: int = field(metadata=output("kit checks"))
    releases: int = field(metadata=output("releases"))
    already_there: int = field(metadata=output("already there"))
    stops_raised: int = field(default=0, metadata=output("stops raised"))  # by figures that had none
    spellings: tuple[str, ...] = field(
        default=(), metadata=output("one unit, spelled in two ways")
    )  # a sentence on each unit whose serial number the record has in other letters


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportedEntries:
    """The entries of an exported file, each known to be what was exported."""

    tests: tuple[TestRecord, ...]
    kit_checks: tuple[KitRecord, ...]
    releases: tuple[ReleaseRecord, ...]


def read_export(path: Path) -> ExportedEntries:
    """Every entry of a JSON, CSV or XLSX file as burnerlab exported it; no record is touched.

    Raises UserError for a file of another kind or an entry that was altered since its export.
    """
    ending = path.suffix.lower().lstrip(".")
    readers = {"json": _from_json, "csv": _from_csv, "xlsx": _from_xlsx}
    if ending not in readers:
        accepted = ", ".join(f".{name}" for name in readers)
        raise UserError(Problem("cannot be imported", file=str(path), accepted=accepted))
    try:
        return checked_entries(*readers[ending](_read(path)))
    except UserError as error:
        raise UserError([p if p.file else replace(p, file=path.name) for p in error.problems]) from None


def import_file(record: Record, path: Path) -> Imported:
    """Take in every entry of a JSON, CSV or XLSX file as burnerlab exported it.

    Entries keep their uid, times and versions. One that is there already is left alone.
    Raises UserError, and takes nothing, for a file of another kind or an entry that was altered since its export.
    """
    entries = read_export(path)
    try:
        return import_entries(record, entries)
    except UserError as error:
        raise UserError([p if p.file else replace(p, file=path.name) for p in error.problems]) from None


def _read(path: Path) -> bytes:
    if "\0" in str(path) or not path.exists():
        raise UserError(Problem("there is no such file", value=str(path), fix="check the name"))
    if not path.is_file():
        raise UserError(Problem("is not a regular file", fix="name an exported file"))
    if path.stat().st_size > LARGEST_BYTES:
        raise UserError(Problem(f"is larger than {LARGEST_BYTES >> 20} MiB", fix="import a backup instead"))
    return path.read_bytes()


def _text(data: bytes) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise import_error("is not plain UTF-8 text") from None


def _from_json(data: bytes) -> Documents:
    try:
        whole = json.loads(_text(data))
    except (ValueError, RecursionError):
        raise import_error("is not JSON") from None
    if not isinstance(whole, dict) or whole.get("format") != FORMAT:
        raise import_error("is not an exported bench record")
    if not isinstance(whole.get("schema"), int) or whole["schema"] > VERSION:
        what = f"was exported by a newer burnerlab (schema {whole.get('schema')}, this one knows {VERSION})"
        raise UserError(Problem(what, fix="use that burnerlab, or a newer one"))
    parts = (whole.get("tests"), whole.get("kit_checks"), whole.get("releases", []))
    if not all(isinstance(part, list) and all(isinstance(each, dict) for each in part) for part in parts):
        raise import_error("holds no list of entries", "tests, kit_checks, releases")
    return parts  # type: ignore[return-value]


def _from_csv(data: bytes) -> Documents:
    lines = csv.DictReader(io.StringIO(_text(data), newline=""), strict=True)
    try:
        if "row" not in (lines.fieldnames or ()):
            raise import_error("is not an exported bench record")
        rows = [(line.get("row") or "", line) for line in lines]
    except csv.Error as error:
        raise import_error(f"is not CSV: {error}") from None
    return documents_of(rows)


def _from_xlsx(data: bytes) -> Documents:
    try:
        import openpyxl  # type: ignore[import-untyped]
    except ImportError:
        what = "reading a workbook needs openpyxl"
        raise UserError(Problem(what, fix="pip install openpyxl, or import JSON or CSV")) from None
    try:
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    except Exception:  # it raises whatever its parts meet in a file that is no workbook
        raise import_error("is not a workbook") from None
    try:
        return documents_of(_sheet_rows(book))
    finally:
        book.close()


def _sheet_rows(book: Any) -> Iterator[tuple[str, Mapping[str, Any]]]:
    for kind, name in SHEET_NAMES.items():
        if name not in book.sheetnames:
            if kind in NEWER_ROWS:
                continue
            raise import_error("a sheet is missing", value=name)
        lines = book[name].iter_rows(values_only=True)
        heads = next(lines, ())
        for line in lines:
            yield kind, dict(zip(heads, line, strict=False))


def checked_entries(
    tests: Iterable[Document], kits: Iterable[Document], releases: Iterable[Document] = ()
) -> ExportedEntries:
    """Entries given as plain data. Raises UserError for one that was altered since its export."""
    return ExportedEntries(
        tests=tuple(
            _checked(read_test(each, f"test {n}"), f"test {n}") for n, each in enumerate(tests, start=1)
        ),
        kit_checks=tuple(
            _checked_kit(read_kit(each, f"kit check {n}"), f"kit check {n}")
            for n, each in enumerate(kits, start=1)
        ),
        releases=tuple(
            _checked_release(read_release(each, f"release {n}"), f"release {n}")
            for n, each in enumerate(releases, start=1)
        ),
    )


def import_entries(record: Record, entries: ExportedEntries) -> Imported:
    """Take in the entries of an exported file, in one transaction, then record the stops that their figures raise.

    An entry stays as it was exported: a stop that it has not is an entry of its own.
    """
    with in_words(record.path), transaction(record.connection):
        tests = [each for each in entries.tests if not _is_recorded(record, "tests", each)]
        kits = [each for each in entries.kit_checks if not _is_recorded(record, "kit_checks", each)]
        releases = [each for each in entries.releases if not _is_recorded(record, "releases", each)]
        for test in tests:
            insert_test(record.connection, test)
        for kit in kits:
            insert_kit(record.connection, kit)
        for release in releases:
            insert_release(record.connection, release)
    count = len(tests) + len(kits) + len(releases)
    every = len(entries.tests) + len(entries.kit_checks) + len(entries.releases)
    return Imported(
        tests=len(tests),
        kit_checks=len(kits),
        releases=len(releases),
        already_there=every - count,
        stops_raised=sum(_raise_stops(record, test) for test in tests),
        spellings=_respelled(record, tests),
    )


def _respelled(record: Record, imported: Sequence[TestRecord]) -> tuple[str, ...]:
    """What to say of each unit whose serial number was taken in, in other small and capital letters than before."""
    serials = dict.fromkeys(test.serial for test in imported)
    known = {serial: spellings(record, serial) for serial in serials}
    return tuple(
        ONE_UNIT.format(serial=serial, known=first)
        for serial, (first, *_) in known.items()
        if first != serial
    )


def _raise_stops(record: Record, imported: TestRecord) -> int:
    """Record what the figures of an entry raise today and its recorder did not know; how many stops.

    None of an entry that a correction superseded, whose burner was tested again since, or whose stops were raised
    where the file comes from; none below a WARNING.
    """
    test = imported.test
    known = {one.id for one in test.stops}
    raised = worst_first((*entry_stops(test), *analyser_stops(test)))
    missing = tuple(one for one in raised if one.id not in known and one.signal != Signal.CAUTION)
    note = TAKEN_IN.format(uid=imported.uid[:UID_SHOWN], moment=test.tested_at)
    if not missing or not entry(record, imported.uid).is_current or _is_followed(record, imported, note):
        return 0
    kept = tuple(one for one in test.inputs if one.name in STATEMENTS)
    bare: dict[str, Any] = dict.fromkeys(OF_FIGURES, ())
    add_test(record, replace(test, **bare, note=note, stops=missing, inputs=kept))
    return len(missing)


def _is_followed(record: Record, before: TestRecord, note: str) -> bool:
    """Whether an entry of the unit raised the stops of this one, or a later current one has figures of its burner."""
    burners = {burner for burner, _ in figures_of(before.test)}
    return any(
        one.test.note == note
        or (one.is_current and one.uid != before.uid and one.recorded_at > before.recorded_at
            and burners & {burner for burner, _ in figures_of(one.test)})
        for one in history(record, before.serial, LAST_ENTRIES)
    )  # fmt: skip


def _is_recorded(record: Record, table: str, entry: TestRecord | KitRecord | ReleaseRecord) -> bool:
    row = record.connection.execute(f"SELECT sha256 FROM {table} WHERE uid = ?", (entry.uid,)).fetchone()
    if row and row[0] != entry.sha256:
        what = "is in the record already, with another content"
        raise UserError(Problem(what, key="uid", value=entry.uid, fix="find out which of the two is right"))
    return row is not None


def _check_head(uid: str, recorded_at: str, where: str) -> None:
    if len(uid) != UID_LENGTH or set(uid) - HEXADECIMAL:
        raise import_error("is not the uid of an entry", f"{where}.uid", uid)
    if read_time(recorded_at, f"{where}.recorded_at") != recorded_at:
        raise import_error("is not a time as the record writes it", f"{where}.recorded_at", recorded_at)


def _checked(entry: TestRecord, where: str) -> TestRecord:
    """The same test, known to be what was exported."""
    _check_head(entry.uid, entry.recorded_at, where)
    if bool(entry.corrects) != bool(entry.reason):
        raise import_error("a correction needs both the entry it corrects and a reason", where)
    if checked_test(entry.test) != entry.test or entry.sha256 != sha256_of(as_document(entry)):
        raise import_error("was altered since it was exported", where, entry.uid[:8])
    return entry


def _checked_kit(entry: KitRecord, where: str) -> KitRecord:
    _check_head(entry.uid, entry.recorded_at, where)
    if checked_kit(entry.check) != entry.check or entry.sha256 != sha256_of(kit_as_document(entry)):
        raise import_error("was altered since it was exported", where, entry.uid[:8])
    return entry


def _checked_release(entry: ReleaseRecord, where: str) -> ReleaseRecord:
    _check_head(entry.uid, entry.recorded_at, where)
    if checked_release(entry.release) != entry.release or entry.sha256 != sha256_of(
        release_as_document(entry)
    ):
        raise import_error("was altered since it was exported", where, entry.uid[:8])
    return entry
