"""Readings of a unit in whose place a later one stands: its papers name them, with what was done in between."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from burnerlab.bench.reading_plan import CARBON_MONOXIDE, LOCK_UP, LOW_RATE_INPUT, MANIFOLD, Plan, State
from burnerlab.bench.record.entry import Result, TestRecord, unit_of
from burnerlab.bench.record.query import UnitStops
from burnerlab.bench.repairs import is_before_repair, is_beyond, places_before_repair
from burnerlab.bench.row_verdict import expanded_of, figure_of, row_verdict
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables.verdict import Verdict

INPUT_OF = {"deviation": "heat_input_gross", "low_rate_deviation": LOW_RATE_INPUT}
"""Results that hold the band of a heat input, and that heat input."""
JUDGED = (*INPUT_OF, MANIFOLD, LOCK_UP, CARBON_MONOXIDE)
MENDED = "mended"  # input of an entry: what was mended since the reading that it takes the place of
NOTHING_MENDED = "nothing, read again"
MENDED_MISSING = "Say what was mended since: nothing, read again is an answer"
Way = Literal["", "mended", "corrected", "released"]
ANY_STATE = "off"  # of a pressure with every burner off


@dataclass(frozen=True, slots=True)
class ReadingPlace:
    """What was read of which burner in which state."""

    quantity: str
    burner: str
    which: str  # of several alike; "" where its entry does not say
    state: str

    def is_same(self, other: ReadingPlace) -> bool:
        """Whether one reading may stand in the place of the other.

        >>> place = ReadingPlace("heat_input_gross", "tube", "2", "cold")
        >>> place.is_same(replace(place, which="")), place.is_same(replace(place, which="3"))
        (True, False)
        """
        is_other = self.which and other.which and self.which != other.which
        return replace(self, which="") == replace(other, which="") and not is_other


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierReading:
    """A reading that does not count any more, and what was recorded of why."""

    quantity: str = field(metadata=output("quantity"))
    burner: str = field(metadata=output("burner"))
    which: str = field(metadata=output("which of several alike"))  # "" where it is not recorded
    state: str = field(metadata=output("state"))  # "" where it is not recorded
    row: str = field(metadata=output("row of the plan"))  # its id; "" of a reading by no plan
    value: float = field(metadata=output("value"))  # SI
    is_outside: bool = field(metadata=output("outside its band"))
    tester: str = field(metadata=output("tested by"))
    tested_at: str = field(metadata=output("tested at"))
    entry: str = field(metadata=output("entry"))  # uid
    by_entry: str = field(metadata=output("entry in its place"))  # uid
    way: Way = field(metadata=output("how it was replaced"))  # "" where nothing is recorded of it
    done: str = field(metadata=output("what was done"))  # as typed: mended, repaired, or why it was corrected
    cause: str = field(metadata=output("cause"))  # as typed in the release of its stop

    @property
    @computed_output("unit")
    def unit(self) -> str:
        """SI unit of its quantity."""
        return unit_of(self.quantity)


_Done = tuple[Way, str, str]
NOTHING_RECORDED: _Done = ("", "", "")


@dataclass(frozen=True, slots=True)
class _Figure:
    place: ReadingPlace
    quantity: str  # that of the place, or the deviation alone where no heat input of it is recorded
    value: float
    is_outside: bool
    has_state: bool  # recorded, not taken as the first of a plan
    row: str = ""


def earlier_readings(
    entries: Sequence[TestRecord], past: UnitStops, plans: Sequence[Plan] = ()
) -> tuple[EarlierReading, ...]:
    """Readings outside their band that were read again, those read twice without a repair, and corrected figures.

    entries : every one of a unit, superseded ones too, the newest first; past : the stops of the unit
    plans : by whose bands its rows are judged; a reading by none of them by the band that it was recorded with
    """
    before_repair = places_before_repair([one for one in entries if one.is_current], past)
    later: list[tuple[TestRecord, _Figure]] = []
    found: list[EarlierReading] = []
    by_uid = {entry.uid: entry for entry in entries}
    for entry in entries:
        for one in _figures(entry, plans):
            after = next(
                (each for each, newer in reversed(later) if _stands_for(each, newer, entry, one)), None
            )
            if not entry.is_current:
                if one.is_outside or _is_corrected(one, by_uid.get(entry.corrected_by), plans):
                    found.append(_earlier(entry, one, entry.corrected_by, _correction(entry, entries)))
                continue
            number = int(one.place.which) if one.place.which.isdecimal() else 0
            is_stale = is_before_repair(before_repair[entry.uid], one.place.burner, number)
            if after is not None and (one.is_outside or not (is_stale or entry.test.stops)):
                found.append(_earlier(entry, one, after.uid, _done(entry, after, past)))
            later.append((entry, one))
    return tuple(sorted(found, key=lambda reading: not reading.is_outside))


def _is_corrected(before: _Figure, by: TestRecord | None, plans: Sequence[Plan]) -> bool:
    """Whether the correction of an entry has another figure of a reading."""
    figures = () if by is None else tuple(_figures(by, plans))
    return any(one.place.is_same(before.place) and one.value != before.value for one in figures)


def read_before(
    entries: Sequence[TestRecord], test: TestRecord, plans: Sequence[Plan] = ()
) -> tuple[EarlierReading, ...]:
    """The newest current reading of each place that a test reads; one of a stop, which has its release, is not outside.

    entries : as of ``earlier_readings``; test : as it would be recorded
    """
    own = list(_figures(test, plans))
    newest: dict[ReadingPlace, EarlierReading] = {}
    for entry in entries:
        for one in _figures(entry, plans) if entry.is_current else ():
            for each in own:
                if each.place not in newest and _stands_for(test, each, entry, one):
                    made = _earlier(entry, one, test.uid, NOTHING_RECORDED)
                    newest[each.place] = replace(made, is_outside=made.is_outside and not entry.test.stops)
    return tuple(newest.values())


def _stands_for(after: TestRecord, newer: _Figure, before: TestRecord, older: _Figure) -> bool:
    """Whether a reading stands in the place of an earlier one: of the same model on the same gas."""
    is_alike = (after.test.model, after.test.gas) == (before.test.model, before.test.gas)
    return is_alike and newer.place.is_same(older.place)


def _figures(entry: TestRecord, plans: Sequence[Plan]) -> Iterator[_Figure]:
    """What a test read that has a band, each once; a row of the plan by the band of the row."""
    typed = {one.name: one.text for one in entry.test.inputs}
    is_low, number = typed.get("low_rate") == "yes", typed.get("which", "").partition(" ")[0]
    figures: dict[ReadingPlace, _Figure] = {}
    for one in entry.test.results:
        if one.quantity in JUDGED:
            usual: State = "hot" if one.quantity == CARBON_MONOXIDE else "cold"  # that of its row in a plan
            state = "low" if is_low else typed.get("plan_state") or usual
            state = ANY_STATE if one.quantity == LOCK_UP else state
            name = INPUT_OF.get(one.quantity, one.quantity)
            place = ReadingPlace(name, one.burner, number if one.burner else "", state)
            read = _read(entry, one, name)
            has_state = is_low or "plan_state" in typed
            figures[place] = _Figure(place, read.quantity, read.value, is_beyond(one), has_state)
    for place, made in _of_plans(entry, plans):
        before = figures.get(place)
        is_outside = made.is_outside or (before is not None and before.is_outside)
        figures[place] = replace(made, is_outside=is_outside)
    yield from figures.values()


def _read(entry: TestRecord, result: Result, name: str) -> Result:
    """The heat input of a deviation, where it is recorded; any other result as it is."""
    of_burner = (one for one in entry.test.results if (one.quantity, one.burner) == (name, result.burner))
    return next(of_burner, result)


def _of_plans(entry: TestRecord, plans: Sequence[Plan]) -> Iterator[tuple[ReadingPlace, _Figure]]:
    for one in entry.test.plan_entries:
        plan = next((each for each in plans if each.digest == one.plan), None)
        row = None if plan is None else next((each for each in plan.rows if each.id == one.plan_row), None)
        made = None if row is None else figure_of(entry, row)
        if plan is None or row is None or made is None:
            continue
        place = ReadingPlace(row.quantity, row.burner, str(row.which) if row.which else "", row.state)
        verdict = row_verdict(plan.band_of(row), made.value, expanded_of(made))
        is_outside = verdict is Verdict.OUTSIDE
        yield place, _Figure(place, row.quantity, made.value, is_outside, has_state=True, row=row.id)


def _earlier(entry: TestRecord, read: _Figure, by_entry: str, done: _Done) -> EarlierReading:
    place = read.place
    return EarlierReading(
        quantity=read.quantity,
        burner=place.burner,
        which=place.which,
        state=place.state if read.has_state else "",
        row=read.row,
        value=read.value,
        is_outside=read.is_outside,
        tester=entry.test.tester,
        tested_at=entry.test.tested_at,
        entry=entry.uid,
        by_entry=by_entry,
        way=done[0],
        done=done[1],
        cause=done[2],
    )


def _correction(entry: TestRecord, entries: Sequence[TestRecord]) -> _Done:
    """Why an entry was corrected, as typed."""
    reason = next((one.reason for one in entries if one.uid == entry.corrected_by), "")
    return "corrected", reason, ""


def _done(entry: TestRecord, after: TestRecord, past: UnitStops) -> _Done:
    """What was recorded between a reading and the next in its place: the release of its stop, or what was mended."""
    for stop in past.stops:
        if stop.entry == entry.uid and stop.release is not None:
            return "released", stop.release.release.repair, stop.release.release.cause
    mended = after.test.input_text(MENDED)
    return ("mended", mended, "") if mended else NOTHING_RECORDED
