"""Is the record whole, and a copy of it while it is in use."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from burnerlab.bench.record.database import Record, in_words, schema_of, whole_file
from burnerlab.bench.record.document import (
    as_document,
    chained,
    kit_as_document,
    release_as_document,
    sha256_of,
)
from burnerlab.bench.record.entry import KitRecord, ReleaseRecord, TestRecord
from burnerlab.bench.record.migrations import MIGRATIONS
from burnerlab.bench.record.open_stops import all_releases
from burnerlab.bench.record.photographs import copy_photographs, missing, photograph_hashes
from burnerlab.bench.record.query import all_kit_checks, all_tests
from burnerlab.bench.record.stop_display import StopDisplay, copy_displays
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables.problem import Problem, UserError

MOST_FAULTS = 20  # told one by one
PAGES_AT_ONCE = 256  # of a copy, so that writers are not kept waiting


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckReport:
    """What a check of the whole file found."""

    record_schema: int = field(metadata=output("schema of the record"))
    tests: int = field(metadata=output("tests"))
    kit_checks: int = field(metadata=output("kit checks"))
    releases: int = field(metadata=output("releases"))
    last_chain: str = field(
        metadata=output("last link")
    )  # noted elsewhere, it shows when the last tests were taken
    faults: tuple[str, ...] = field(metadata=output("faults"))

    @property
    @computed_output("no damage found")
    def is_whole(self) -> bool:
        return not self.faults


@dataclass(frozen=True, slots=True, kw_only=True)
class BackupFile:
    """A copy of the record, checked after it was written."""

    path: Path
    size_bytes: int
    report: CheckReport
    stops: tuple[StopDisplay, ...] = ()  # shown and not recorded, beside the copy as beside the record


def expected_schema(version: int) -> dict[str, str]:
    """The statements of tables, indexes and triggers that a file of this version holds, by name."""
    fresh = sqlite3.connect(":memory:")
    try:
        for statements in MIGRATIONS[:version]:
            for statement in statements:
                fresh.execute(statement)
        return _statements(fresh)
    finally:
        fresh.close()


def _statements(connection: sqlite3.Connection) -> dict[str, str]:
    ask = "SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%'"
    return {name: " ".join(sql.split()) for name, sql in connection.execute(ask)}


def check(record: Record, *, photographs: bool = True) -> CheckReport:
    """Check pages, references, tables and triggers, every entry against its own SHA-256 and its chain, and photographs.

    photographs : whether those beside the record are looked at
    """
    with in_words(record.path):
        connection = record.connection
        connection.execute("BEGIN")  # one state of the file, whoever writes meanwhile
        try:
            faults = _faults_of_the_file(connection)
            tests = _Chain("test")
            kits = _Chain("kit check")
            releases = _Chain("release")
            if not any(fault.startswith("file: ") for fault in faults):
                tests.walk(connection, "tests", all_tests(record))
                kits.walk(connection, "kit_checks", all_kit_checks(record))
                releases.walk(connection, "releases", all_releases(record))
                lost = missing(record.path, photograph_hashes(record)) if photographs else ()
                faults += [
                    f"photograph {sha256[:8]} is not beside the record, or was changed" for sha256 in lost
                ]
        finally:
            connection.execute("ROLLBACK")
        schema = schema_of(connection)
    lines = [
        fault
        for part_faults in (tests.faults, kits.faults, releases.faults, faults)
        for fault in _few(part_faults)
    ]
    return CheckReport(
        record_schema=schema,
        tests=tests.count,
        kit_checks=kits.count,
        releases=releases.count,
        last_chain=tests.chain,
        faults=tuple(lines),
    )


def _faults_of_the_file(connection: sqlite3.Connection) -> list[str]:
    faults = []
    for (line,) in connection.execute(f"PRAGMA integrity_check({MOST_FAULTS})"):
        if line != "ok":
            faults.append(f"file: {line}")
    for table, row, parent, _ in connection.execute("PRAGMA foreign_key_check"):
        faults.append(f"references: row {row} of {table} names an entry of {parent} that is not there")
    expected, has = expected_schema(schema_of(connection)), _statements(connection)
    for word, names in (
        ("missing", expected.keys() - has.keys()),
        ("not of the record", has.keys() - expected.keys()),
        ("altered", {name for name in expected.keys() & has.keys() if expected[name] != has[name]}),
    ):
        if names:
            listed = sorted(names)
            more = f" and {len(listed) - 3} more" if len(listed) > 3 else ""
            faults.append(f"tables and triggers {word}: {', '.join(listed[:3])}{more}")
    return faults


def _few(faults: list[str]) -> list[str]:
    """The first faults, and how many more there are."""
    if len(faults) <= MOST_FAULTS:
        return faults
    return [*faults[:MOST_FAULTS], f"and {len(faults) - MOST_FAULTS} more of this kind"]


def _document(entry: TestRecord | KitRecord | ReleaseRecord) -> dict[str, Any]:
    if isinstance(entry, TestRecord):
        return as_document(entry)
    return kit_as_document(entry) if isinstance(entry, KitRecord) else release_as_document(entry)


class _Chain:
    """Walks the entries of one table."""

    def __init__(self, word: str) -> None:
        self.word, self.count, self.chain = word, 0, ""
        self.faults: list[str] = []

    def walk(
        self,
        connection: sqlite3.Connection,
        table: str,
        entries: Iterable[TestRecord | KitRecord | ReleaseRecord],
    ) -> None:
        chains = connection.execute(f"SELECT id, chain FROM {table} ORDER BY id")
        broken = False
        for entry, (number, chain) in zip(entries, chains, strict=False):
            if sha256_of(_document(entry)) != entry.sha256:
                self.faults.append(
                    f"{self.word} {entry.number} ({entry.uid[:8]}) was altered after it was recorded"
                )
            if not broken and (chained(self.chain, entry.sha256) != chain or number != entry.number):
                self.faults.append(f"{self.word} {entry.number}: an entry before it was taken out or put in")
                broken = True
            self.chain, self.count = chain, self.count + 1


def backup(record: Record, path: str | os.PathLike[str], overwrite: bool = False) -> BackupFile:
    """Copy the record into one file while it is in use, with photographs and shown stops beside it; check the copy.

    Raises UserError for a file that exists, a full disk, or a copy that is not whole.
    """
    target = Path(path)
    if target.exists() and record.path.exists() and target.samefile(record.path):
        raise UserError(Problem("is the record itself", file=str(target), fix="name another file"))
    with whole_file(target, overwrite) as handle:
        with in_words(target):
            copy = sqlite3.connect(handle, isolation_level=None)
            try:
                record.connection.backup(copy, pages=PAGES_AT_ONCE)
                copy.execute("PRAGMA journal_mode = DELETE")  # one file, without a log beside it
                report = check(Record(path=target, connection=copy, is_writable=False), photographs=False)
            finally:
                copy.close()
        if not report.is_whole:
            raise UserError(
                Problem(
                    f"the copy is not whole: {report.faults[0]}", file=str(target), fix="check the record"
                )
            )
        size = handle.stat().st_size
    copy_photographs(record.path, target, photograph_hashes(record))
    stops = copy_displays(record.path, target)
    return BackupFile(path=target, size_bytes=size, report=report, stops=stops)
