"""Stops of a unit and the releases that ended them: what its papers say of both, whatever was recorded since.

A release ends a stop; it measures nothing. What the stop asks to be read again is a column of the table ``stops``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from burnerlab.bench.record.connect import Record
from burnerlab.bench.record.entry import (
    BenchReading,
    BenchTest,
    Observation,
    ReleaseRecord,
    Result,
    TestRecord,
)
from burnerlab.bench.record.open_stops import all_releases
from burnerlab.bench.record.query import history
from burnerlab.bench.record.vocabulary import observation_words, quantity_words, sights
from burnerlab.bench.record.words import in_words
from burnerlab.bench.stop import StopNotice, stop_rows

LEAK_TEST = "leak_test"  # among what a stop asks to be read again: the answer before lighting
STOPPED_SERIALS = "SELECT DISTINCT t.serial FROM stops s JOIN tests t ON t.id = s.test_id"
STOPPED, RELEASED = "stopped", "stopped, released"


@dataclass(frozen=True, slots=True, kw_only=True)
class PastStop:
    """A stop that an entry of a unit raised, and the release that ended it."""

    notice: StopNotice
    entry: TestRecord
    release: ReleaseRecord | None  # None: it stands

    @property
    def burner(self) -> str:
        """The burner that was tested; "" for all together, and when it is not recorded."""
        test = self.entry.test
        parts: list[Result | BenchReading | Observation] = [*test.results, *test.readings, *test.observations]
        return next((one.burner for one in parts if one.burner), "")


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitStops:
    """All stops of a unit, the newest first, beside all of its entries, the newest first."""

    stops: tuple[PastStop, ...] = ()
    entries: tuple[TestRecord, ...] = ()

    @property
    def mark(self) -> str:
        """``stopped``, ``stopped, released``, or "" for a unit that was never stopped."""
        if not self.stops:
            return ""
        return RELEASED if all(one.release is not None for one in self.stops) else STOPPED

    def unread(self, upto: TestRecord | None = None, test: BenchTest | None = None) -> tuple[str, ...]:
        """What the released stops ask for and no test since the release has read, a sentence for each stop.

        upto : the entry whose paper it stands on, and only those before it count; none for one before the release
        test : one that is about to be recorded
        """
        newest: dict[tuple[str, str], PastStop] = {}
        for one in self.stops:
            newest.setdefault((one.notice.id, one.burner), one)
        told = []
        for one in newest.values():
            if one.release is None or not (upto is None or self._is_after(upto, one.release)):
                continue
            since = [
                each.test
                for each in self.entries
                if each.is_current
                and (upto is None or each.number <= upto.number)
                and self._is_after(each, one.release)
            ]
            since += [] if test is None else [test]
            names = read_after_release(one.notice.id)
            names = tuple(name for name in names if not any(_read(each, name, one.burner) for each in since))
            if names:
                told.append(_sentence(one, names))
        return tuple(told)

    def _is_after(self, entry: TestRecord, release: ReleaseRecord) -> bool:
        """Whether this was tested after the release; a correction was tested when the entry it corrects was."""
        by_uid = {one.uid: one for one in self.entries}
        first, seen = entry, {entry.uid}
        while first.corrects in by_uid and first.corrects not in seen:
            first = by_uid[first.corrects]
            seen.add(first.uid)
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
    told = [(one.quantity, one.burner) for one in figures]
    told += [(one.name, one.burner) for one in test.observations if one.answer != "not seen"]
    return any(one == name and (not burner or at in ("", burner)) for one, at in told)


def _sentence(one: PastStop, names: Sequence[str]) -> str:
    whose = f"{one.burner}: " if one.burner else ""
    told = [
        "leak test"
        if name == LEAK_TEST
        else observation_words(name)
        if name in sights()
        else quantity_words(name)
        for name in names
    ]
    return f"{whose}not read since the release of {one.notice.heading.rstrip('.')}: {', '.join(told)}"


def unit_stops(record: Record, serial: str) -> UnitStops:
    """The stops of one unit, however its serial number is spelled."""
    return stops_of_units(record, [serial]).get(serial.strip().casefold(), UnitStops())


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
    ended = {uid: one for one in all_releases(record) for uid in one.release.stops} if spelled else {}
    found = {}
    for folded, names in spelled.items():
        entries = [one for name in names for one in history(record, name)]
        entries.sort(key=lambda one: one.number, reverse=True)
        stops = tuple(
            PastStop(notice=notice, entry=one, release=ended.get(f"{one.uid}-{notice.id}"))
            for one in entries
            for notice in one.test.stops
        )
        if stops:
            found[folded] = UnitStops(stops=stops, entries=tuple(entries))
    return found
