"""Read from a record: units, tests, kits, figures of a chart, stops and their releases.

A release ends a stop; it measures nothing. What the stop asks to be read again is a column of the table ``stops``.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, fields
from itertools import pairwise
from typing import Any, Literal

from burnerlab.bench.record.database import Record, damaged, in_words
from burnerlab.bench.record.entry import (
    PARTS,
    BeforeLighting,
    BenchInstrument,
    BenchReading,
    BenchTest,
    KitCheck,
    KitRecord,
    Observation,
    ReleaseRecord,
    Result,
    Scan,
    TestRecord,
    observation_words,
    quantities,
    quantity_words,
    sights,
)
from burnerlab.bench.record.open_stops import ENDED_STOPS, STOP_COLUMNS, all_releases
from burnerlab.bench.record.serial import CURRENT, OF_UNIT, of_units
from burnerlab.bench.record.store import entry_number
from burnerlab.bench.stop import StopNotice, stop_rows
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables.problem import Problem, UserError

# Read from a record: units, tests, kits, and the figures of a chart.

MOST_LINES = 1000  # of one answer; ask for the next page with ``offset``
LONGEST_SEARCH = 100
BATCH = 500
MOMENT_LENGTH = 24  # of a moment as the record writes it
Take = Literal["first", "last"]
KINDS: dict[str, type] = {**PARTS, "before_lighting": BeforeLighting}
"""Tables that hold the parts of a test, and what a row of each is."""

TEST = (
    "SELECT t.id, t.uid, t.recorded_at, t.serial, t.model, t.tester, t.gas, t.model_sha256, t.tested_at, t.note, "
    "t.rating_basis, t.region, p.uid, t.reason, c.uid, t.sha256 FROM tests t "
    "LEFT JOIN tests p ON p.id = t.corrects LEFT JOIN tests c ON c.corrects = t.id "
)
HEAD = ("serial", "model", "tester", "gas", "model_sha256", "tested_at", "note", "rating_basis", "region")
"""Texts of a test among its columns."""
NEWEST = (
    f"{CURRENT} AND NOT EXISTS (SELECT 1 FROM tests n WHERE n.serial = t.serial COLLATE NOCASE "
    "AND (n.tested_at, n.id) > (t.tested_at, t.id) "
    "AND NOT EXISTS (SELECT 1 FROM tests c WHERE c.corrects = n.id))"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordSummary:
    """How much a record holds."""

    units: int
    tests: int
    corrections: int
    kit_checks: int
    first_tested_at: str
    last_tested_at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartPoint:
    """One unit's figure for a chart."""

    serial: str = field(metadata=output("serial number"))
    tested_at: str = field(metadata=output("tested"))
    uid: str = field(metadata=output("entry"))
    value: float = field(metadata=output("value"))
    expanded_uncertainty: float | None = field(metadata=output("expanded uncertainty"))
    low: float | None = field(metadata=output("lower end of the band"))
    high: float | None = field(metadata=output("upper end of the band"))


def summary(record: Record) -> RecordSummary:
    """Counts of units, tests, corrections and weighings, and the first and last test."""
    with in_words(record.path):
        scalar = record.connection.execute
        units, tests = scalar("SELECT count(DISTINCT serial COLLATE NOCASE), count(*) FROM tests").fetchone()
        corrections = scalar("SELECT count(*) FROM tests WHERE corrects IS NOT NULL").fetchone()[0]
        first = scalar("SELECT min(tested_at) FROM tests").fetchone()[0]  # alone, an index answers it at once
        last = scalar("SELECT max(tested_at) FROM tests").fetchone()[0]
        kits = scalar("SELECT count(*) FROM kit_checks").fetchone()[0]
    return RecordSummary(
        units=units,
        tests=tests,
        corrections=corrections,
        kit_checks=kits,
        first_tested_at=first or "",
        last_tested_at=last or "",
    )


def spellings(record: Record, serial: str) -> tuple[str, ...]:
    """A serial number as the entries of its unit have it, the first one first; none of a unit without an entry."""
    ask = f"SELECT t.serial FROM tests t WHERE {OF_UNIT} GROUP BY t.serial ORDER BY min(t.id)"
    with in_words(record.path):
        rows = record.connection.execute(ask, (serial.strip(),)).fetchall()
    return tuple(row[0] for row in rows)


def latest(record: Record, serial: str) -> TestRecord | None:
    """The newest current test of a unit; None when it was never tested."""
    where = f"WHERE {OF_UNIT} AND {CURRENT} ORDER BY t.tested_at DESC, t.id DESC LIMIT 1"
    entries = _tests(record, where, (serial.strip(),))
    return entries[0] if entries else None


def history(record: Record, serial: str, limit: int = MOST_LINES) -> tuple[TestRecord, ...]:
    """Every entry of a unit, superseded ones as well, newest first."""
    where = f"WHERE {OF_UNIT} ORDER BY t.tested_at DESC, t.id DESC LIMIT ?"
    return _tests(record, where, (serial.strip(), _limit(limit)))


def histories(record: Record, serials: Iterable[str]) -> dict[str, tuple[TestRecord, ...]]:
    """Every entry of several units, newest first, by the serial number as each has it first."""
    names = tuple(dict.fromkeys(serials))
    batches = (names[start : start + BATCH] for start in range(0, len(names), BATCH))
    entries = [each for batch in batches for each in _tests(record, f"WHERE {of_units(len(batch))}", batch)]
    units: dict[str, list[TestRecord]] = {}
    for entry in sorted(entries, key=lambda each: each.number):
        units.setdefault(entry.serial.casefold(), []).append(entry)
    return {
        own[0].serial: tuple(sorted(own, key=lambda each: (each.test.tested_at, each.number), reverse=True))
        for own in units.values()
    }


def entry(record: Record, uid: str) -> TestRecord:
    """The entry whose uid starts so. Raises UserError when there is none, or more than one."""
    with in_words(record.path):
        number = entry_number(record.connection, uid)
    return _tests(record, "WHERE t.id = ?", (number,))[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryPlace:
    """Where an entry stands in the order of a list, by time and number: the next page goes on from there.

    >>> EntryPlace.read("2026-11-25T13:05:00.000Z.412").number
    412
    """

    tested_at: str
    number: int

    @staticmethod
    def read(text: str) -> EntryPlace | None:
        """The place that a text spells; None for any other text."""
        moment, _, number = text.rpartition(".")
        is_place = len(moment) == MOMENT_LENGTH and number.isascii() and number.isdigit() and len(number) < 19
        return EntryPlace(tested_at=moment, number=int(number)) if is_place else None

    @staticmethod
    def of(entry: TestRecord) -> EntryPlace:
        """The place of an entry."""
        return EntryPlace(tested_at=entry.test.tested_at, number=entry.number)

    @property
    def text(self) -> str:
        return f"{self.tested_at}.{self.number}"


def units(
    record: Record,
    *,
    model: str = "",
    since: str = "",
    until: str = "",
    limit: int = 50,
    offset: int = 0,
) -> tuple[TestRecord, ...]:
    """The newest current test of each unit, newest first.

    model : only this one
    since, until : ISO 8601 moments or days in UTC; a day as ``until`` counts as a whole
    limit, offset : a page of the answer, at most 1000 at once; ``units_beside`` is quicker far back
    """
    clauses, values = [NEWEST], []
    for clause, value in (("t.model = ?", model), ("t.tested_at >= ?", since), ("t.tested_at < ?", until)):
        if value:
            clauses.append(clause)
            values.append(value + "~" if clause.startswith("t.tested_at <") else value)
    newest_first = "ORDER BY t.tested_at DESC, t.id DESC LIMIT ? OFFSET ?"
    ask = f"SELECT t.id FROM tests t WHERE {' AND '.join(clauses)} {newest_first}"
    return _numbered(record, ask, (*values, _limit(limit), max(0, int(offset))))


def units_beside(
    record: Record, place: EntryPlace | None, *, older: bool, limit: int = 50
) -> tuple[TestRecord, ...]:
    """The newest current test of each unit on one side of a place, newest first: nothing that lies before is counted.

    place : of the last entry seen; None for the newest units (older) or for the oldest ones
    older : towards the past, the nearest first
    """
    side, order = ("<", "DESC") if older else (">", "ASC")
    beside = "" if place is None else f"(t.tested_at, t.id) {side} (?, ?) AND "
    values = () if place is None else (place.tested_at, place.number)
    ask = (
        f"SELECT t.id FROM tests t WHERE {beside}{NEWEST} ORDER BY t.tested_at {order}, t.id {order} LIMIT ?"
    )
    return _numbered(record, ask, (*values, _limit(limit)))


def search(record: Record, text: str, limit: int = 50) -> tuple[TestRecord, ...]:
    """Entries in which every word of ``text`` stands: in serial, model, gas, tester, note, reason or uid; newest first.

    Small and capital letters are the same. Raises UserError for an empty or very long text.
    """
    words = text.casefold().split()
    if not words or len(text) > LONGEST_SEARCH:
        accepted = f"1 to {LONGEST_SEARCH} characters"
        raise UserError(Problem("nothing to search for", value=text, key="search", accepted=accepted))
    clauses = " AND ".join(["instr(words, ?) > 0"] * len(words))
    ask = f"SELECT id FROM tests INDEXED BY tests_by_words WHERE {clauses} ORDER BY tested_at DESC, id DESC LIMIT ?"
    return _numbered(record, ask, (*words, _limit(limit)))


def plan_serials(record: Record, digest: str, model: str, gas: str) -> tuple[str, ...]:
    """The units that read rows of a plan, or whose tests of its model and gas name it and read none."""
    of_rows = (
        "SELECT DISTINCT t.serial FROM plan_entries e CROSS JOIN tests t ON t.id = e.test_id "
        f"WHERE e.plan = ? AND {CURRENT}"
    )
    named = (
        "SELECT DISTINCT t.serial, i.text FROM tests t INDEXED BY tests_by_model "
        "CROSS JOIN inputs i ON i.test_id = t.id AND i.name = 'plan' "
        f"WHERE t.model = ? AND t.gas = ? AND {CURRENT}"
    )
    with in_words(record.path):
        serials = [row[0] for row in record.connection.execute(of_rows, (digest,))]
        typed = record.connection.execute(named, (model, gas)).fetchall()
    serials += [serial for serial, text in typed if text and digest.startswith(text.strip().lower())]
    return tuple(dict.fromkeys(serials))


def models(record: Record) -> tuple[str, ...]:
    """Every model in the record."""
    with in_words(record.path):
        rows = record.connection.execute("SELECT DISTINCT model FROM tests ORDER BY model").fetchall()
    return tuple(row[0] for row in rows)


def burners(record: Record, model: str, quantity: str) -> tuple[str, ...]:
    """Burners of a model with results of this quantity among its last tests."""
    ask = (
        "SELECT DISTINCT r.burner FROM (SELECT id FROM tests WHERE model = ? ORDER BY tested_at DESC LIMIT 200) t "
        "JOIN results r ON r.test_id = t.id AND r.quantity = ? ORDER BY r.burner"
    )
    with in_words(record.path):
        return tuple(row[0] for row in record.connection.execute(ask, (model, quantity)))


def instrument_named(record: Record, name: str) -> BenchInstrument | None:
    """The instrument of this name with its newest calibration."""
    ask = (
        "SELECT name, kind, calibrated_on, due_on FROM instruments WHERE name = ? "
        "ORDER BY calibrated_on DESC, id DESC LIMIT 1"
    )
    with in_words(record.path):
        row = record.connection.execute(ask, (name.strip(),)).fetchone()
    return BenchInstrument(name=row[0], kind=row[1], calibrated_on=row[2], due_on=row[3]) if row else None


def series(
    record: Record, model: str, burner: str, quantity: str, last: int = 50, take: Take = "last"
) -> tuple[ChartPoint, ...]:
    """One figure for each of the last units of a model, oldest first.

    take : of a unit tested more than once, its first or its last current test that has the figure
    """
    compare = ">" if take == "last" else "<"
    # CROSS JOIN and the unary plus keep SQLite to the order of tests and to the index by serial
    figure = "ON {r}.test_id = {t}.id AND {r}.quantity = :quantity AND {r}.burner = :burner"
    ask = (
        "SELECT t.serial, t.tested_at, t.uid, r.value, r.expanded_uncertainty, r.low, r.high "
        f"FROM tests t INDEXED BY tests_by_model CROSS JOIN results r {figure.format(r='r', t='t')} "
        f"WHERE t.model = :model AND {CURRENT} AND NOT EXISTS (SELECT 1 FROM tests n INDEXED BY tests_by_unit "
        f"CROSS JOIN results m {figure.format(r='m', t='n')} "
        "WHERE n.serial = t.serial COLLATE NOCASE AND +n.model = t.model "
        f"AND (n.tested_at, n.id) {compare} (t.tested_at, t.id) "
        "AND NOT EXISTS (SELECT 1 FROM tests c WHERE c.corrects = n.id)) "
        "ORDER BY t.tested_at DESC, t.id DESC LIMIT :last"
    )
    parameters = {"model": model, "burner": burner, "quantity": quantity, "last": _limit(last)}
    with in_words(record.path):
        rows = record.connection.execute(ask, parameters).fetchall()
    names = [field.name for field in fields(ChartPoint)]
    return tuple(ChartPoint(**dict(zip(names, row, strict=True))) for row in reversed(rows))


def kit_checks(record: Record, *, kit: str = "", serial: str = "", limit: int = 50) -> tuple[KitRecord, ...]:
    """Weighings, newest first; of one kit or for one unit when named."""
    clauses, values = [], []
    for column, value in (("kit", kit), ("serial", serial)):
        if value:
            clauses.append(f"{column} = ? COLLATE NOCASE" if column == "serial" else f"{column} = ?")
            values.append(value.strip())
    where = f"WHERE {' AND '.join(clauses)} " if clauses else ""
    return _kits(record, f"{where}ORDER BY weighed_at DESC, id DESC LIMIT ?", (*values, _limit(limit)))


def all_tests(record: Record) -> Iterator[TestRecord]:
    """Every entry in the order it was recorded."""
    number = 0
    while batch := _tests(record, "WHERE t.id > ? ORDER BY t.id LIMIT ?", (number, BATCH)):
        yield from batch
        number = _next(record, number, batch)


def all_kit_checks(record: Record) -> Iterator[KitRecord]:
    """Every weighing in the order it was recorded."""
    number = 0
    while batch := _kits(record, "WHERE id > ? ORDER BY id LIMIT ?", (number, BATCH)):
        yield from batch
        number = _next(record, number, batch)


def _next(record: Record, number: int, batch: Sequence[TestRecord | KitRecord]) -> int:
    """The number to go on from. Raises UserError where those of a damaged file do not rise: it would never end."""
    numbers = [number, *(each.number for each in batch)]
    if not all(before < after for before, after in pairwise(numbers)):
        raise UserError(damaged("its entries are not in order", record.path))
    return numbers[-1]


def adverse_observations(test: BenchTest) -> tuple[Observation, ...]:
    """Observations that differ from what a burner in order shows; "not seen" is no observation."""
    expected = sights()
    return tuple(
        observation
        for observation in test.observations
        if observation.answer != "not seen"
        and observation.name in expected
        and observation.answer != expected[observation.name].expected
    )


def _limit(limit: int) -> int:
    if not 1 <= limit <= MOST_LINES:
        raise UserError(
            Problem("cannot be shown", value=str(limit), key="limit", accepted=f"1 to {MOST_LINES}")
        )
    return int(limit)


def _tests(record: Record, where: str, values: Sequence[Any]) -> tuple[TestRecord, ...]:
    with in_words(record.path):
        rows = record.connection.execute(TEST + where, values).fetchall()
        parts = _parts(record.connection, [row[0] for row in rows])
    entries = []
    for row in rows:
        test = BenchTest(**dict(zip(HEAD, row[3:-4], strict=True)), **parts[row[0]])
        corrects, reason, corrected_by, sha256 = row[-4:]
        entries.append(
            TestRecord(
                number=row[0],
                uid=row[1],
                recorded_at=row[2],
                test=test,
                corrects=corrects or "",
                reason=reason,
                corrected_by=corrected_by or "",
                sha256=sha256,
            )
        )
    return tuple(entries)


def _numbered(record: Record, ask: str, values: Sequence[Any]) -> tuple[TestRecord, ...]:
    """The tests whose numbers ``ask`` finds, newest first."""
    with in_words(record.path):
        numbers = [row[0] for row in record.connection.execute(ask, values)]
    marks = ", ".join("?" * len(numbers))
    return _tests(record, f"WHERE t.id IN ({marks}) ORDER BY t.tested_at DESC, t.id DESC", numbers)


def _parts(connection: sqlite3.Connection, numbers: list[int]) -> dict[int, dict[str, Any]]:
    """Readings, results, observations and instruments of several tests, each in one question."""
    by_number: dict[int, dict[str, Any]] = {number: {} for number in numbers}
    marks = ", ".join("?" * len(numbers))
    ask = (
        "SELECT l.test_id, i.name, i.kind, i.calibrated_on, i.due_on FROM test_instruments l "
        f"JOIN instruments i ON i.id = l.instrument_id WHERE l.test_id IN ({marks}) ORDER BY l.id"
    )
    _collect(by_number, "instruments", BenchInstrument, connection.execute(ask, numbers))
    for name, kind in KINDS.items():
        columns = ", ".join(STOP_COLUMNS.get(field.name, field.name) for field in fields(kind))
        ask = f"SELECT test_id, {columns} FROM {name} WHERE test_id IN ({marks}) ORDER BY id"
        _collect(by_number, name, kind, connection.execute(ask, numbers))
    for parts in by_number.values():
        parts["before_lighting"] = next(iter(parts["before_lighting"]), None)
    return by_number


def _collect(
    by_number: dict[int, dict[str, Any]], name: str, kind: type[Any], rows: Iterator[tuple[Any, ...]]
) -> None:
    names = [field.name for field in fields(kind)]
    for parts in by_number.values():
        parts[name] = ()
    for row in rows:
        by_number[row[0]][name] += (kind(**dict(zip(names, row[1:], strict=True))),)


def _kits(record: Record, where: str, values: Sequence[Any]) -> tuple[KitRecord, ...]:
    names = [field.name for field in fields(KitCheck) if field.name != "scans"]
    entries = []
    with in_words(record.path):
        ask = f"SELECT id, uid, recorded_at, sha256, {', '.join(names)} FROM kit_checks {where}"
        for row in record.connection.execute(ask, values).fetchall():
            scans = record.connection.execute(
                "SELECT part, reading FROM kit_scans WHERE kit_check_id = ? ORDER BY id", (row[0],)
            )
            check = KitCheck(
                **dict(zip(names, row[4:], strict=True)),
                scans=tuple(Scan(part=part, reading=reading) for part, reading in scans),
            )
            entries.append(
                KitRecord(number=row[0], uid=row[1], recorded_at=row[2], check=check, sha256=row[3])
            )
    return tuple(entries)


# Stops of a unit and the releases that ended them: what its papers say of both, whatever was recorded
# since.

LEAK_TEST = "leak_test"  # among what a stop asks to be read again: the answer before lighting
STOPPED_SERIALS = "SELECT DISTINCT t.serial FROM stops s JOIN tests t ON t.id = s.test_id"
STOPPED, RELEASED, CORRECTED = "stopped", "stopped, released", "stopped, corrected"


@dataclass(frozen=True, slots=True, kw_only=True)
class PastStop:
    """A stop that an entry of a unit raised, and the release that ended it."""

    notice: StopNotice = field(metadata=output("notice", is_part=True))
    record: TestRecord
    release: ReleaseRecord | None = field(metadata=output("release"))
    ended_by: str = field(
        default="", metadata=output("ended by the corrected entry")
    )  # uid: a figure was a slip

    @property
    @computed_output("stands")
    def stands(self) -> bool:
        """Whether neither a release nor the correction of a slip has ended it."""
        return self.release is None and not self.ended_by

    @property
    @computed_output("entry")
    def entry(self) -> str:
        """The uid of the entry that raised it."""
        return self.record.uid

    @property
    @computed_output("raised on")
    def serial(self) -> str:
        """Serial number of the unit."""
        return self.record.serial

    @property
    @computed_output("tester")
    def tester(self) -> str:
        """Who tested."""
        return self.record.test.tester

    @property
    @computed_output("recorded at")
    def recorded_at(self) -> str:
        """When its entry was recorded, ISO 8601 in UTC."""
        return self.record.recorded_at

    @property
    def burner(self) -> str:
        """The burner that was tested; "" for all together, and when it is not recorded."""
        test = self.record.test
        parts: list[Result | BenchReading | Observation] = [*test.results, *test.readings, *test.observations]
        return next((part.burner for part in parts if part.burner), "")


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitStops:
    """All stops of a unit, the newest first, beside all of its entries, the newest first."""

    stops: tuple[PastStop, ...] = ()
    entries: tuple[TestRecord, ...] = ()

    @property
    def mark(self) -> str:
        """``stopped``, ``stopped, released``, ``stopped, corrected``, or "" for a unit that was never stopped."""
        if not self.stops:
            return ""
        if any(stop.stands for stop in self.stops):
            return STOPPED
        return RELEASED if any(stop.release is not None for stop in self.stops) else CORRECTED

    def unread(self, upto: TestRecord | None = None, test: BenchTest | None = None) -> tuple[str, ...]:
        """What the released stops ask for and no test since the release has read, a sentence for each stop.

        upto : the entry whose paper it stands on, and only those before it count; none for one before the release
        test : one that is about to be recorded
        """
        newest: dict[tuple[str, str], PastStop] = {}
        for stop in self.stops:
            newest.setdefault((stop.notice.id, stop.burner), stop)
        sentences = []
        for stop in newest.values():
            if stop.release is None or not (upto is None or self.is_after(upto, stop.release)):
                continue
            since = [
                each.test
                for each in self.entries
                if each.is_current
                and (upto is None or each.number <= upto.number)
                and self.is_after(each, stop.release)
            ]
            since += [] if test is None else [test]
            names = read_after_release(stop.notice.id)
            names = tuple(name for name in names if not any(_read(each, name, stop.burner) for each in since))
            if names:
                sentences.append(_sentence(stop, names))
        return tuple(sentences)

    def is_after(self, entry: TestRecord, release: ReleaseRecord) -> bool:
        """Whether this was tested after the release; a correction was tested when the entry it corrects was."""
        by_uid = {one.uid: one for one in self.entries}
        first, uids = entry, {entry.uid}
        while first.corrects in by_uid and first.corrects not in uids:
            first = by_uid[first.corrects]
            uids.add(first.uid)
        return first.recorded_at > release.recorded_at


def read_after_release(stop: str) -> tuple[str, ...]:
    """What a test after the release of this stop reads: quantities, observations, the leak test.

    >>> read_after_release("co-high"), read_after_release("soot"), read_after_release("odour")
    (('air_free_carbon_monoxide',), ('soot',), ('leak_test',))
    """
    row = stop_rows().get(stop)
    return () if row is None else tuple(row["after_release"].split())


def _read(test: BenchTest, name: str, burner: str) -> bool:
    """Whether this test read it, of this burner; a test of all together counts for each."""
    if name == LEAK_TEST:
        return test.before_lighting is not None and test.before_lighting.leak_test == "none found"
    figures: list[Result | BenchReading] = [*test.results, *test.readings]
    labels = [(figure.quantity, figure.burner) for figure in figures]
    labels += [(figure.name, figure.burner) for figure in test.observations if figure.answer != "not seen"]
    return any(figure == name and (not burner or at in ("", burner)) for figure, at in labels)


def _sentence(stop: PastStop, names: Sequence[str]) -> str:
    whose = f"{stop.burner}: " if stop.burner else ""
    sentences = [
        "leak test"
        if name == LEAK_TEST
        else observation_words(name)
        if name in sights()
        else quantity_words(_on_basis(name, stop.record.test))
        for name in names
    ]
    return f"{whose}not read since the release of {stop.notice.heading.rstrip('.')}: {', '.join(sentences)}"


def _on_basis(name: str, test: BenchTest) -> str:
    """A heat input on the basis on which the unit of a test is rated.

    >>> _on_basis("heat_input_gross", BenchTest(serial="1", model="m", tester="t", rating_basis="net"))
    'heat_input_net'
    """
    net = name.replace("_gross", "_net") if test.rating_basis == "net" else name
    return net if net in quantities() else name


def unit_stops(record: Record, serial: str) -> UnitStops:
    """The stops of one unit, however its serial number is spelled."""
    return stops_of_units(record, [serial]).get(serial.strip().casefold(), UnitStops())


def all_stops(record: Record) -> tuple[PastStop, ...]:
    """Every stop of a record with the release that ended it, the worst first, of one kind the newest first."""
    with in_words(record.path):
        serials = [serial for (serial,) in record.connection.execute(STOPPED_SERIALS).fetchall()]
    stops = [stop for unit in stops_of_units(record, serials).values() for stop in unit.stops]
    order = {name: place for place, name in enumerate(stop_rows())}
    return tuple(sorted(stops, key=lambda stop: (order.get(stop.notice.id, -1), -stop.record.number)))


def stops_of_units(record: Record, serials: Iterable[str]) -> dict[str, UnitStops]:
    """The stops of those units that ever were stopped, by serial number in lower case."""
    with in_words(record.path):
        rows = record.connection.execute(STOPPED_SERIALS).fetchall()
    stopped = {serial.casefold(): {serial} for (serial,) in rows}
    for (serial,) in rows:
        stopped[serial.casefold()].add(serial)
    spelled: dict[str, set[str]] = {}
    for serial in serials:
        folded = serial.strip().casefold()
        if folded in stopped:
            spelled.setdefault(folded, set(stopped[folded])).add(serial.strip())
    ended = {uid: entry for entry in all_releases(record) for uid in entry.release.stops} if spelled else {}
    by_unit = {}
    for folded, names in spelled.items():
        where = f"WHERE {of_units(len(names))} ORDER BY t.tested_at DESC, t.id DESC LIMIT ?"
        entries = list(_tests(record, where, (*names, MOST_LINES)))
        entries.sort(key=lambda entry: entry.number, reverse=True)
        corrected = {
            uid: entry.uid
            for entry in entries
            for one in entry.test.inputs
            if one.name == ENDED_STOPS and entry.corrects
            for uid in one.text.split()
        }
        stops = tuple(
            PastStop(
                notice=notice,
                record=entry,
                release=ended.get(f"{entry.uid}-{notice.id}"),
                ended_by=corrected.get(f"{entry.uid}-{notice.id}", ""),
            )
            for entry in entries
            for notice in entry.test.stops
        )
        if stops:
            by_unit[folded] = UnitStops(stops=stops, entries=tuple(entries))
    return by_unit
