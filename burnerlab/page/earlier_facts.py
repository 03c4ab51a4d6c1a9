"""Readings in whose place a later one stands: on the papers of a unit, and before another is saved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from burnerlab.bench.earlier_readings import (
    MENDED,
    MENDED_MISSING,
    EarlierReading,
    earlier_readings,
    read_before,
)
from burnerlab.bench.reading_plan import NET_OF
from burnerlab.bench.record import BenchTest, Record, TestRecord, UnitStops, history
from burnerlab.bench.record.entry import now
from burnerlab.page.bench_state import Bench, saved_before
from burnerlab.page.form import Form
from burnerlab.page.result_text import UID_SHOWN, LabelledText, basis_of, figure, moment, unended
from burnerlab.page.unit_coverage import plans_of_unit
from burnerlab.quantity import System
from burnerlab.report.plan_report import earlier_done, earlier_words
from burnerlab.report.sheet.wording import clean

LAST_ENTRIES = 200  # of a unit
READ_BEFORE = "read_before"  # field of the page that has shown them: the entries, with blanks between
MEANWHILE = "Read meanwhile: {readings}. Save once more: both readings stay on the papers of the unit"


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierFacts:
    """Readings of a unit in whose place another stands."""

    outside: tuple[LabelledText, ...] = ()
    twice: tuple[LabelledText, ...] = ()  # not outside, and read again without a repair between


def earlier_facts(
    bench: Bench, entries: tuple[TestRecord, ...], past: UnitStops, system: System
) -> EarlierFacts:
    """Every reading of a unit that was outside and read again or corrected, and those read twice."""
    found = earlier_readings(entries, past, plans_of_unit(bench, entries).plans)
    by_uid = {one.uid: one.test for one in entries}
    facts = [(each, _fact(bench, each, by_uid[each.entry], system, is_done=True)) for each in found]
    return EarlierFacts(
        outside=tuple(fact for each, fact in facts if each.is_outside),
        twice=tuple(fact for each, fact in facts if not each.is_outside),
    )


def _fact(
    bench: Bench, reading: EarlierReading, test: BenchTest, system: System, *, is_done: bool
) -> LabelledText:
    basis = basis_of(test, bench.bases)
    words, done = earlier_words(reading, basis.word), earlier_done(reading) if is_done else ""
    share = basis.of_gross if reading.quantity in NET_OF else 1.0
    value = figure(reading.quantity, share * reading.value, system)
    place = f"{value}, outside its band" if reading.is_outside else value
    later = f"; in its place entry {reading.by_entry[:UID_SHOWN]}" if reading.by_entry else ""
    return LabelledText(
        label=f"{words[:1].upper()}{words[1:]}",
        value=f"{place}. {done[:1].upper()}{unended(done[1:])}." if done else f"{place}.",
        note=f"entry {reading.entry[:UID_SHOWN]}, {moment(reading.tested_at)}, {clean(reading.tester)}{later}",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadBefore:
    """What the record holds of the places that a test reads, before it is saved."""

    outside: tuple[LabelledText, ...] = ()  # the page then has a field for what was mended since
    meanwhile: tuple[LabelledText, ...] = ()  # recorded since this test began
    uids: tuple[str, ...] = ()  # of those

    def missing(self, form: Form) -> str:
        """Why the test is not saved without a word on what was mended."""
        return MENDED_MISSING if self.outside and not form.get(MENDED) else ""

    def unseen(self, form: Form) -> str:
        """What was recorded after the page was made that is saved now: whoever saves it has not seen it."""
        if set(self.uids) <= set(form.get(READ_BEFORE).split()):
            return ""
        return MEANWHILE.format(
            readings=unended(
                "; ".join(f"{one.label}: {unended(one.value)}, {one.note}" for one in self.meanwhile)
            )
        )


NOTHING_BEFORE = ReadBefore()


def before_saving(bench: Bench, record: Record, form: Form, test: BenchTest) -> ReadBefore:
    """Readings of the record in whose place a test would stand; none of a correction, or of a test saved already."""
    once = form.get("once")
    own = {uid for (known, *_), (_, uid) in bench.saved.items() if once and known == once.casefold()}
    if form.get("corrects") or saved_before(record, test, once):
        return NOTHING_BEFORE
    entries = tuple(one for one in history(record, test.serial, LAST_ENTRIES) if one.uid not in own)
    plan = bench.plan_of(form)
    made = TestRecord(number=0, uid="", recorded_at=now(), test=test)
    found = read_before(entries, made, () if plan is None else (plan,))
    by_uid = {one.uid: one for one in entries}
    began = once.rpartition(".")[0]
    late = [one for one in found if began and by_uid[one.entry].recorded_at > began]

    def facts(readings: Sequence[EarlierReading]) -> tuple[LabelledText, ...]:
        return tuple(
            _fact(bench, one, by_uid[one.entry].test, form.system, is_done=False) for one in readings
        )

    return ReadBefore(
        outside=facts([one for one in found if one.is_outside]),
        meanwhile=facts(late),
        uids=tuple(dict.fromkeys(one.entry[:UID_SHOWN] for one in late)),
    )
