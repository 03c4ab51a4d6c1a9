"""Write into a record. What these functions return is on the disk."""

from __future__ import annotations

import sqlite3
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from datetime import datetime
from math import inf

from burnerlab.bench.figure_stops import analyser_stops
from burnerlab.bench.record.checks import checked_kit, checked_release, checked_test
from burnerlab.bench.record.database import Record, in_words, transaction
from burnerlab.bench.record.document import (
    NEWER_TEXTS,
    as_document,
    chained,
    kit_as_document,
    release_as_document,
    sha256_of,
)
from burnerlab.bench.record.entry import (
    PARTS,
    BeforeLighting,
    BenchInstrument,
    BenchTest,
    EntryReader,
    InputText,
    KitCheck,
    KitRecord,
    Release,
    ReleaseRecord,
    TestRecord,
    now,
)
from burnerlab.bench.record.open_stops import (
    ENDED_STOPS,
    RELEASE_COLUMNS,
    STOP_COLUMNS,
    BenchPlace,
    alike,
    open_stops,
    stop_number,
)
from burnerlab.bench.record.release_statements import (
    ReleaseLimits,
    kept_statements,
    release_limits,
    statement_problems,
)
from burnerlab.bench.record.serial import CURRENT, OF_UNIT
from burnerlab.bench.record.slip import standing_after
from burnerlab.bench.stop import StopNotice, worst_first
from burnerlab.bench.stop_rules import entry_stops
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.verdict import Verdict

UID_LENGTH = 32


def add_test(record: Record, test: BenchTest) -> TestRecord:
    """Record a test, with the stops that its own observations, answers and figures raise.

    While a stop stands for this unit or bench, raised here or before, every verdict is ``not evaluated``.
    Returns it as it stands in the record, once it is on the disk.
    Raises UserError for what the record does not take, a full disk, a file that may not be written, a busy record.
    """
    return _write(
        record, TestRecord(number=0, uid=uuid.uuid4().hex, recorded_at=now(), test=checked_test(test))
    )


def correct(
    record: Record, uid: str, test: BenchTest, reason: str, *, before: TestRecord | None = None
) -> TestRecord:
    """Record ``test`` in place of the entry ``uid``, which stays readable with the reason beside it.

    A stop of the superseded entry stands until its release; one that typed figures alone raised ends where the
    correction is that of a slip (``bench/record/slip.py``).

    uid : of the entry to supersede, or its first characters
    before : that entry, where ``test`` holds every stop that its figures raise by the file of the unit; else none ends
    Returns the new entry. Raises UserError for an unknown entry, or one that is superseded already.
    """
    reader = EntryReader([])
    why = reader.text(reason, "reason", needed=True)
    reader.close()
    record_of_test = TestRecord(
        number=0, uid=uuid.uuid4().hex, recorded_at=now(), test=checked_test(test), corrects=uid, reason=why
    )
    return _write(record, record_of_test, before)


def add_kit_check(record: Record, check: KitCheck) -> KitRecord:
    """Record the weighing of a kit; a kit weighed again is another entry."""
    made = KitRecord(number=0, uid=uuid.uuid4().hex, recorded_at=now(), check=checked_kit(check))
    with in_words(record.path), transaction(record.connection):
        return insert_kit(record.connection, made)


def release(
    record: Record,
    stop: str | Sequence[str],
    *,
    name: str,
    qualification: str,
    cause: str,
    repair: str,
    limits: ReleaseLimits | None = None,
    **more: str,
) -> ReleaseRecord:
    """End stops: a named qualified person found and corrected the cause and tested for leaks.

    stop : uid of one stop or of several, or its first characters; the same stop of the same unit, raised again by a
    correction of its entry, ends with it
    name, qualification : of who releases, as typed: the program cannot check it
    limits : of the answers, by a user's own table; None for the shipped ones
    more : the leak test after the repair: ``joints_searched`` and ``gas_at_joints``; where gas escaped
    ``test_pressure_start``, ``test_pressure_end``, ``test_minutes``, ``meter_dial``, ``meter_minutes`` and
    ``meter_moved`` too, and ``stop_began`` where they take longer than the stop is
    recorded; where people breathed carbon monoxide, ``carbon_monoxide`` and ``carbon_monoxide_where``;
    ``leak_test``, a remark
    Raises UserError for what is missing or says nothing, an unknown stop, or one that is released already.
    """
    ids = (stop,) if isinstance(stop, str) else tuple(stop)
    statements = {
        "name": name,
        "qualification": qualification,
        "cause": cause,
        "repair": repair,
        **more,
    }
    kinds = {uid: _kind_of_stop(record, uid) for uid in ids}
    since_min = min((minutes_since(record, uid) for uid in ids), default=inf)
    limits = replace(limits or release_limits(), since_min=since_min)
    wrong = statement_problems(statements, set(kinds.values()), limits)
    if wrong:
        raise UserError(
            [
                Problem(
                    why[:1].lower() + why[1:],
                    key=kind.replace("_", " "),
                    value=statements.get(kind, "").strip(),
                )
                for kind, why in wrong.items()
            ]
        )
    checked = checked_release(Release(stops=ids, **kept_statements(statements)))
    with in_words(record.path), transaction(record.connection):
        every = [uid for one in checked.stops for uid in alike(record.connection, one)]
        entry = ReleaseRecord(
            number=0,
            uid=uuid.uuid4().hex,
            recorded_at=now(),
            release=replace(checked, stops=tuple(dict.fromkeys(every))),
        )
        return insert_release(record.connection, entry)


def _kind_of_stop(record: Record, uid: str) -> str:
    """The id in table ``stops`` of the open stop whose uid starts so."""
    with in_words(record.path):
        number = stop_number(record.connection, uid)
        (kind,) = record.connection.execute("SELECT stop FROM stops WHERE id = ?", (number,)).fetchone()
    return str(kind)


def minutes_since(record: Record, uid: str) -> float:
    """From the test that raised the open stop whose uid starts so until now [min]."""
    with in_words(record.path):
        number = stop_number(record.connection, uid)
        ask = "SELECT t.tested_at FROM stops s JOIN tests t ON t.id = s.test_id WHERE s.id = ?"
        (tested_at,) = record.connection.execute(ask, (number,)).fetchone()
    return (datetime.fromisoformat(now()) - datetime.fromisoformat(tested_at)).total_seconds() / 60.0


def raised_by(test: BenchTest) -> tuple[StopNotice, ...]:
    """Every stop of a test: those that it holds, and those that its observations, answers and figures raise."""
    return worst_first((*test.stops, *entry_stops(test), *analyser_stops(test)))


def _write(record: Record, entry: TestRecord, before: TestRecord | None = None) -> TestRecord:
    raised = raised_by(entry.test)
    own = tuple(one for one in entry.test.inputs if one.name != ENDED_STOPS)  # written here alone
    entry = replace(entry, test=replace(entry.test, inputs=own))
    with in_words(record.path), transaction(record.connection):
        ended = () if before is None else _ended_by(record, before, entry, raised)
        stood = open_stops(record, serial=entry.serial, place=BenchPlace.of(entry))
        stands = raised or [one for one in stood if one.uid not in ended]
        serial = _known_serial(record.connection, entry)
        if ended:
            entry = replace(
                entry,
                test=replace(entry.test, inputs=(*own, InputText(name=ENDED_STOPS, text=" ".join(ended)))),
            )
        test = replace(entry.test, stops=raised, serial=serial)
        entry = replace(entry, test=_not_evaluated(test) if stands else test)
        return insert_test(record.connection, entry)


def _ended_by(
    record: Record, before: TestRecord, entry: TestRecord, raised: Sequence[StopNotice]
) -> tuple[str, ...]:
    """The open stops that a correction ends, raised by typed figures of the entry before; as a release names them."""
    if not before.uid.startswith(entry.corrects.strip().lower()):
        return ()
    standing = standing_after(before, entry.test, raised, entry.reason, entry.recorded_at)
    opened = {one.uid for one in open_stops(record)}
    names = [f"{before.uid}-{id}" for id, why in standing.items() if not why]
    return tuple(
        dict.fromkeys(one for name in names if name in opened for one in alike(record.connection, name))
    )


def _known_serial(connection: sqlite3.Connection, entry: TestRecord) -> str:
    """The serial number as the current entries of the unit have it: a phone begins with a small or a capital letter.

    Of an entry that is corrected as typed, where the unit has no other.
    """
    corrected = (entry.corrects.lower(), entry.corrects.lower() + "g") if entry.corrects else ("", "")
    ask = (
        f"SELECT t.serial FROM tests t WHERE {OF_UNIT} AND {CURRENT} AND NOT (t.uid >= ? AND t.uid < ?) "
        "ORDER BY t.id LIMIT 1"
    )
    row = connection.execute(ask, (entry.serial.strip(), *corrected)).fetchone()
    return entry.serial if row is None else str(row[0])


def _not_evaluated(test: BenchTest) -> BenchTest:
    """The test with no verdict on any of its results."""
    results = (
        replace(result, verdict=Verdict.NOT_EVALUATED) if result.verdict else result
        for result in test.results
    )
    return replace(test, results=tuple(results))


def entry_number(connection: sqlite3.Connection, uid: str, key: str = "entry") -> int:
    """The number of the test whose uid starts so. Raises UserError when there is none, or more than one."""
    text = uid.strip().lower()
    rows = []
    if text and not set(text) - set("0123456789abcdef"):
        ends = (text, text + "g" * (UID_LENGTH + 1))
        rows = connection.execute("SELECT id FROM tests WHERE uid >= ? AND uid < ? LIMIT 2", ends).fetchall()
    if len(rows) != 1:
        what = "fits more than one entry" if rows else "there is no such entry"
        raise UserError(
            Problem(what, value=uid, key=key, fix="burnerlab record show SERIAL lists the entries")
        )
    return int(rows[0][0])


def _last_chain(connection: sqlite3.Connection, table: str) -> str:
    row = connection.execute(f"SELECT chain FROM {table} ORDER BY id DESC LIMIT 1").fetchone()
    return str(row[0]) if row else ""


def _superseded(connection: sqlite3.Connection, entry: TestRecord) -> tuple[TestRecord, int | None]:
    """The entry with the full uid of the one it corrects, and the number of that one."""
    if not entry.corrects:
        return entry, None
    number = entry_number(connection, entry.corrects, "corrects")
    uid, by = connection.execute(
        "SELECT t.uid, c.uid FROM tests t LEFT JOIN tests c ON c.corrects = t.id WHERE t.id = ?", (number,)
    ).fetchone()
    if by is not None:
        fix = f"correct the newer entry {by[:8]}"
        raise UserError(Problem("is superseded already", value=uid[:8], key="corrects", fix=fix))
    return replace(entry, corrects=uid), number


def searched(entry: TestRecord) -> str:
    """What a search looks through, without the difference of small and capital letters."""
    test = entry.test
    texts = (test.serial, test.model, test.gas, test.tester, test.note, entry.reason, entry.uid)
    return "\n".join(texts).casefold()


def insert_test(connection: sqlite3.Connection, entry: TestRecord) -> TestRecord:
    """Insert one checked test with its parts; the transaction is the caller's."""
    entry, corrects = _superseded(connection, entry)
    entry = replace(entry, sha256=sha256_of(as_document(entry)))
    test = entry.test
    head: dict[str, object] = {
        "uid": entry.uid,
        "serial": test.serial,
        "model": test.model,
        "model_sha256": test.model_sha256,
        "gas": test.gas,
        "tester": test.tester,
        "tested_at": test.tested_at,
        "recorded_at": entry.recorded_at,
        "note": test.note,
        "corrects": corrects,
        "reason": entry.reason,
        "sha256": entry.sha256,
        "chain": chained(_last_chain(connection, "tests"), entry.sha256),
        "words": searched(entry),
    }
    head |= {name: getattr(test, name) for name in NEWER_TEXTS if getattr(test, name)}
    number = _insert(connection, "tests", head)
    for instrument in test.instruments:
        link = {"test_id": number, "instrument_id": _instrument_number(connection, instrument)}
        _insert(connection, "test_instruments", link)
    for name, kind in PARTS.items():
        _insert_parts(connection, name, kind, number, getattr(test, name))
    before = () if test.before_lighting is None else (test.before_lighting,)
    _insert_parts(connection, "before_lighting", BeforeLighting, number, before)
    return replace(entry, number=number)


def insert_release(connection: sqlite3.Connection, entry: ReleaseRecord) -> ReleaseRecord:
    """Insert one checked release with the stops it ends; the transaction is the caller's."""
    numbers = [stop_number(connection, uid, is_open=False) for uid in entry.release.stops]
    entry = replace(entry, sha256=sha256_of(release_as_document(entry)))
    head = {name: getattr(entry.release, name) for name in RELEASE_COLUMNS}
    head |= {"uid": entry.uid, "recorded_at": entry.recorded_at, "sha256": entry.sha256}
    head["chain"] = chained(_last_chain(connection, "releases"), entry.sha256)
    number = _insert(connection, "releases", head)
    for each in numbers:
        _insert(connection, "released_stops", {"release_id": number, "stop_id": each})
    return replace(entry, number=number)


def insert_kit(connection: sqlite3.Connection, entry: KitRecord) -> KitRecord:
    """Insert one checked weighing with its scans; the transaction is the caller's."""
    entry = replace(entry, sha256=sha256_of(kit_as_document(entry)))
    check = entry.check
    head = {field.name: getattr(check, field.name) for field in fields(check) if field.name != "scans"}
    head |= {"uid": entry.uid, "recorded_at": entry.recorded_at, "sha256": entry.sha256}
    head["chain"] = chained(_last_chain(connection, "kit_checks"), entry.sha256)
    number = _insert(connection, "kit_checks", head)
    for scan in check.scans:
        _insert(connection, "kit_scans", {"kit_check_id": number, "part": scan.part, "reading": scan.reading})
    return replace(entry, number=number)


def _insert(connection: sqlite3.Connection, table: str, values: Mapping[str, object]) -> int:
    """One row; names of tables and columns are ours, values are always parameters."""
    marks = ", ".join("?" * len(values))
    done = connection.execute(
        f"INSERT INTO {table} ({', '.join(values)}) VALUES ({marks})", tuple(values.values())
    )
    assert done.lastrowid is not None
    return done.lastrowid


def _insert_parts(
    connection: sqlite3.Connection, table: str, kind: type, number: int, parts: tuple[object, ...]
) -> None:
    if not parts:
        return
    names = [field.name for field in fields(kind)]
    columns = [STOP_COLUMNS.get(name, name) for name in names]
    marks = ", ".join("?" * (len(columns) + 1))
    rows = [(number, *(getattr(part, name) for name in names)) for part in parts]
    connection.executemany(f"INSERT INTO {table} (test_id, {', '.join(columns)}) VALUES ({marks})", rows)


def _instrument_number(connection: sqlite3.Connection, instrument: BenchInstrument) -> int:
    """The row of this instrument with this calibration; a new calibration is a new row."""
    values = (instrument.name, instrument.kind, instrument.calibrated_on, instrument.due_on)
    row = connection.execute(
        "SELECT id FROM instruments WHERE name = ? AND kind = ? AND calibrated_on = ? AND due_on = ?", values
    ).fetchone()
    if row:
        return int(row[0])
    return _insert(
        connection, "instruments", dict(zip(("name", "kind", "calibrated_on", "due_on"), values, strict=True))
    )
