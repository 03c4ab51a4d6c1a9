"""A test plan filled: what was expected, what the units of a record measured, and which rows are not done."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from burnerlab.bench.earlier_readings import EarlierReading, earlier_readings
from burnerlab.bench.flame_seen import FlameSeen, flames_of, rate_of
from burnerlab.bench.reading_plan import (
    CARBON_MONOXIDE,
    LOCK_UP,
    LOW_RATE_INPUT,
    MANIFOLD,
    HOT_AFTER_min,
    Plan,
    PlanRow,
)
from burnerlab.bench.record.database import Record
from burnerlab.bench.record.entry import EarlierStop, Result, TestRecord, unit_of
from burnerlab.bench.record.open_stops import BenchPlace, OpenStop, open_stops
from burnerlab.bench.record.query import (
    PastStop,
    UnitStops,
    all_stops,
    histories,
    plan_serials,
    stops_of_units,
)
from burnerlab.bench.record.stop_display import StopDisplay, stops_not_recorded
from burnerlab.bench.repairs import is_before_repair, places_before_repair
from burnerlab.bench.row_verdict import expanded_of, figure_of, row_verdict
from burnerlab.bench.run_times import CloseRun, close_runs
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables.phrase import Phrase
from burnerlab.tables.verdict import Verdict

LEAK_TESTED = ("none found", "not done here")  # the second names who did it and when


@dataclass(frozen=True, slots=True, kw_only=True)
class RowResult:
    """One row of the plan as one unit measured it."""

    row: PlanRow = field(metadata=output("row of the plan", is_part=True))
    measured: float = field(metadata=output("measured"))  # SI
    expanded_uncertainty: float | None = field(
        metadata=output("expanded uncertainty")
    )  # k = 2; None: not stated
    verdict: Verdict = field(metadata=output("verdict"))
    tester: str = field(metadata=output("tested by"))
    tested_at: str = field(metadata=output("tested at"))
    instruments: str = field(metadata=output("instruments"))
    entry: str = field(metadata=output("entry"))  # uid
    limit_of_test: float | None = field(
        default=None, metadata=output("limit at the test")
    )  # of carbon monoxide free of air, where the plan names none
    ambient_Pa: float | None = field(
        default=None, metadata=output("barometer at the test", Kind.ABSOLUTE_PRESSURE)
    )  # None where neither barometer nor altitude of the bench was read

    def with_limit(self, row: PlanRow) -> PlanRow:
        """A row as this reading was judged: with the limit in force at the test where the plan names none."""
        return row if self.limit_of_test is None else replace(row, high=self.limit_of_test)

    is_shown_air_free: bool = field(
        default=False, metadata=output("carbon monoxide shown air-free")
    )  # by the analyser itself

    @property
    @computed_output("against expected", Kind.FRACTION, is_change=True)
    def deviation(self) -> float | None:
        """Measured over expected, less one; None where nothing is expected."""
        return None if not self.row.predicted else self.measured / self.row.predicted - 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitPhotograph:
    """A photograph of a unit, with the burner under test and what stopped that test."""

    sha256: str = field(metadata=output("SHA-256 of the picture"))
    subject: str = field(metadata=output("what it shows"))
    place: str = field(default="", metadata=output("burner"))  # "" for all together
    stop: str = field(default="", metadata=output("stop of the test"))  # its heading, "" for none


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingBeside:
    """What a test of a unit holds that is no row of a plan, such as a pressure with every burner off."""

    quantity: str = field(metadata=output("quantity"))  # "" of a test without a figure
    burner: str = field(metadata=output("burner"))
    value: float | None = field(metadata=output("value"))  # SI
    verdict: str = field(metadata=output("verdict"))
    tester: str = field(metadata=output("tested by"))
    tested_at: str = field(metadata=output("tested at"))
    entry: str = field(metadata=output("entry"))  # uid

    @property
    @computed_output("unit")
    def unit(self) -> str:
        """SI unit of its quantity."""
        return unit_of(self.quantity)


ORIFICE_MARKS, NO_MANIFOLD, LEAK_TEST = "orifice_marks", "no_manifold", "leak_test"
"""What an entry answers: the orifice marks, why no manifold pressure was read, and the leak test of the unit."""
LEAK_TEST_WORDS: Mapping[str, str] = {
    "none found": Phrase("none found"),
    "leak found": Phrase("a leak was found"),
    "not done here": Phrase("not done here"),
}
MARK_WORDS: Mapping[str, str] = {
    "as printed": Phrase("as printed"),
    "another": Phrase("another mark"),
    "no mark": Phrase("no mark can be read"),
    "not looked at": Phrase("not looked at"),
}
NO_PRESSURE_WORDS: Mapping[str, str] = {
    "no tap": Phrase("no pressure tap on this unit"),
    "no gauge": Phrase("no gauge at hand"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerFirst:
    """What was answered of a unit before its readings: its orifice marks, or why no manifold pressure was read."""

    question: str = field(metadata=output("question"))  # orifice_marks, leak_test or no_manifold
    burner: str = field(metadata=output("burner"))  # "" of the whole unit
    answer: str = field(metadata=output("answer"))  # as recorded
    tester: str = field(metadata=output("tested by"))
    tested_at: str = field(metadata=output("tested at"))
    entry: str = field(metadata=output("entry"))  # uid


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitResults:
    """What one unit measured of a plan."""

    serial: str = field(metadata=output("unit"))
    is_stopped: bool = field(
        metadata=output("a stop is in force")
    )  # its own, or one of the bench before all its tests
    results: tuple[RowResult, ...] = field(metadata=output("readings"))
    not_done: tuple[str, ...] = field(
        metadata=output("rows not done")
    )  # ids; one that a stopped test alone has read is read again
    repeats: tuple[str, ...] = field(
        default=(), metadata=output("rows to read again")
    )  # ids of those not done that were read before a repair
    photographs: tuple[UnitPhotograph, ...] = field(default=(), metadata=output("photographs"))
    held_by: str = field(default="", metadata=output("the bench is held by"))  # stops of other units
    has_leak_test: bool = field(default=False, metadata=output("leak test recorded"))  # of the unit
    earlier: tuple[EarlierReading, ...] = field(
        default=(), metadata=output("readings before")
    )  # outside their band and read again, or read twice
    beside: tuple[ReadingBeside, ...] = field(
        default=(), metadata=output("readings beside the plan")
    )  # of its tests that read no row of a plan
    answers_first: tuple[AnswerFirst, ...] = field(default=(), metadata=output("answers before the readings"))
    flames: tuple[FlameSeen, ...] = field(default=(), metadata=output("flames"))
    close_runs: tuple[CloseRun, ...] = field(
        default=(), metadata=output("runs too close")
    )  # recorded in less time than they last

    @property
    @computed_output("part test")
    def is_part(self) -> bool:
        """Whether a row, a flame or the leak test of the unit is not recorded: it is signed as a part test alone."""
        return bool(self.not_done or self.flames_not_seen) or not self.has_leak_test

    @property
    def flames_lit(self) -> tuple[FlameSeen, ...]:
        """The flames of burners and rates of which a row is read."""
        read = {(one.row.burner, one.row.which, rate_of(one.row)) for one in self.results}
        return tuple(one for one in self.flames if (one.burner, one.which, one.rate) in read)

    @property
    def flames_not_seen(self) -> tuple[FlameSeen, ...]:
        """Those of which something needed is not looked at."""
        return tuple(one for one in self.flames_lit if one.open)

    @property
    def early_hot(self) -> tuple[tuple[str, float], ...]:
        """Hot rows recorded sooner after the cold ones of the same burner than it takes to be hot: ids, and minutes."""
        early = []
        for one in self.results:
            minutes = self.minutes_cold(one.row, one.tested_at) if one.row.state == "hot" else None
            if minutes is not None and minutes < HOT_AFTER_min:
                early.append((one.row.id, minutes))
        return tuple(early)

    def minutes_cold(self, row: PlanRow, moment: str) -> float | None:
        """From the last cold reading of the burners of a row before a moment (ISO 8601) to it; None without one."""
        of_place = (one for one in self.results if one.row.state == "cold" and one.row.place == row.place)
        since = [_minutes_between(one.tested_at, moment) for one in of_place]
        return min((minutes for minutes in since if minutes >= 0.0), default=None)

    def result_of(self, row: PlanRow) -> RowResult | None:
        """The reading of a row; None when it is not done."""
        return next((one for one in self.results if one.row == row), None)

    @property
    @computed_output("outside")
    def outside(self) -> int:
        """How many readings lie outside."""
        return sum(one.verdict is Verdict.OUTSIDE for one in self.results)


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectedStop:
    """A stop that was shown and then taken back by a corrected entry, with the figures that raised it."""

    serial: str = field(metadata=output("unit"))
    stop: EarlierStop = field(metadata=output("stop", is_part=True))
    tester: str = field(metadata=output("tested by"))
    recorded_at: str = field(metadata=output("recorded at"))
    entry: str = field(metadata=output("entry"))  # uid


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanReport:
    """A plan and what the units of a record measured of it."""

    plan: Plan = field(metadata=output("plan", is_part=True))
    is_altered: bool = field(metadata=output("plan changed after it was made"))
    units: tuple[UnitResults, ...] = field(metadata=output("units"))  # by serial number
    stops_not_recorded: tuple[StopDisplay, ...] = field(
        default=(), metadata=output("stops displays, not recorded")
    )
    recorded_stops: tuple[PastStop, ...] = field(
        default=(), metadata=output("stops of the record")
    )  # the worst first; with the release of each that was released
    corrected_stops: tuple[CorrectedStop, ...] = field(
        default=(), metadata=output("stops shown and then corrected")
    )


def plan_report(record: Record, plan: Plan, serials: Sequence[str] = ()) -> PlanReport:
    """What the units of a record measured of a plan, the newest current reading of each row.

    A row is judged by its own band, of one upper limit for all of the manifold pressure: outside when the value is,
    within when the whole interval is inside, near when the interval crosses; without a stated uncertainty near is the
    last fifth of the band. While a stop of its own stands for a unit, in its test, in the record or shown and not
    recorded, nothing of it is judged. A stop of the bench that another unit raised holds the bench: what was recorded
    before it keeps its verdict, what was recorded since has none.
    serials : units to report; empty: all that have a test of the plan
    """
    named = [serial.strip() for serial in serials]
    names = named or plan_serials(record, plan.digest, plan.model, plan.gas)
    units: dict[str, tuple[TestRecord, ...]] = {
        **dict.fromkeys(named, ()),
        **histories(record, names),
    }
    own = {serial.casefold() for serial in units}
    read = {serial.casefold() for serial, entries in units.items() if entries}
    units = {serial: each for serial, each in units.items() if each or serial.casefold() not in read}
    displays, past = stops_not_recorded(record.path), stops_of_units(record, units)
    listed = tuple(
        one for one in displays if one.notice.scope == "bench" or one.serial.strip().casefold() in own | {""}
    )
    return PlanReport(
        plan=plan,
        is_altered=plan.is_altered,
        units=tuple(
            _results_of_unit(record, plan, serial, every, displays, past.get(serial.casefold(), UnitStops()))
            for serial, every in sorted(units.items())
        ),
        stops_not_recorded=listed if serials else tuple(_of_model(record, plan, displays, own)),
        recorded_stops=tuple(
            stop for stop in all_stops(record) if _is_of_report(stop, plan, own if serials else None)
        ),
        corrected_stops=tuple(
            CorrectedStop(
                serial=serial,
                stop=stop,
                tester=entry.test.tester,
                recorded_at=entry.recorded_at,
                entry=entry.uid,
            )
            for serial, every in sorted(units.items())
            for entry in _of_plan(plan, every)
            for stop in entry.test.earlier_stops
        ),
    )


def _of_plan(plan: Plan, every: Sequence[TestRecord]) -> tuple[TestRecord, ...]:
    """The current entries of a unit that read rows of a plan."""
    return tuple(
        entry
        for entry in every
        if entry.is_current and any(one.plan == plan.digest for one in entry.test.plan_entries)
    )


def _results_of_unit(
    record: Record,
    plan: Plan,
    serial: str,
    every: Sequence[TestRecord],
    displays: Sequence[StopDisplay],
    past: UnitStops,
) -> UnitResults:
    """What a unit measured of a plan, what stood in the place of its readings before, and what it has beside them."""
    entries = _of_plan(plan, every)
    of_model = [one for one in every if (one.test.model, one.test.gas) == (plan.model, plan.gas)]
    others = [one for one in of_model if one.is_current and not one.test.plan_entries]
    made = unit_results(plan, serial, entries, _in_force(record, serial, [*entries, *others], displays), past)
    return replace(
        made,
        earlier=earlier_readings(of_model, past, (plan,)),
        beside=tuple(one for entry in others for one in _beside(entry)),
        has_leak_test=made.has_leak_test or _has_leak_test(others),
        flames=flames_of(plan, [one for one in of_model if one.is_current], past),
        answers_first=tuple(_answers_first([one for one in of_model if one.is_current])),
    )


def _answers_first(current: Sequence[TestRecord]) -> Iterator[AnswerFirst]:
    """The newest answer of the orifice marks, and where the newest reading of a place has no pressure, why.

    current : entries of a unit, the newest first
    """
    typed = {entry.uid: {one.name: one.text for one in entry.test.inputs} for entry in current}
    marks = next((entry for entry in current if ORIFICE_MARKS in typed[entry.uid]), None)
    if marks is not None:
        yield _answer(marks, ORIFICE_MARKS, "", typed[marks.uid][ORIFICE_MARKS])
    yield from _leak_test_answer(current)
    seen: set[tuple[str, ...]] = set()
    for entry in current:
        own = typed[entry.uid]
        burner = next((one.burner for one in entry.test.results if one.quantity in FIGURES_BESIDE), None)
        place = (burner or "", own.get("which", ""), own.get("plan_state", ""))
        if burner is not None and place not in seen and NO_MANIFOLD in own:
            yield _answer(entry, NO_MANIFOLD, " ".join(filter(None, place[:2])), own[NO_MANIFOLD])
        seen |= set() if burner is None else {place}


def _leak_test_answer(current: Sequence[TestRecord]) -> Iterator[AnswerFirst]:
    """The newest leak test of a unit, with its method, or by whom and when it was done elsewhere."""
    for entry in current:
        before = entry.test.before_lighting
        if before is not None and before.leak_test:
            facts = (before.leak_test_method, before.leak_test_by, before.leak_test_when)
            answer = ": ".join(filter(None, (before.leak_test, ", ".join(filter(None, facts)))))
            yield _answer(entry, LEAK_TEST, "", answer)
            return


def _answer(entry: TestRecord, question: str, burner: str, answer: str) -> AnswerFirst:
    test = entry.test
    return AnswerFirst(
        question=question,
        burner=burner,
        answer=answer,
        tester=test.tester,
        tested_at=test.tested_at,
        entry=entry.uid,
    )


FIGURES_BESIDE = ("heat_input_gross", LOW_RATE_INPUT, MANIFOLD, LOCK_UP, CARBON_MONOXIDE)


def _beside(entry: TestRecord) -> Iterator[ReadingBeside]:
    """The figures of a test, or that it holds none."""
    figures = [one for one in entry.test.results if one.quantity in FIGURES_BESIDE]
    or_none: list[Result | None] = [*figures] or [None]
    for one in or_none:
        yield ReadingBeside(
            quantity="" if one is None else one.quantity,
            burner="" if one is None else one.burner,
            value=None if one is None else one.value,
            verdict="" if one is None else one.verdict,
            tester=entry.test.tester,
            tested_at=entry.test.tested_at,
            entry=entry.uid,
        )


def _has_leak_test(entries: Sequence[TestRecord]) -> bool:
    return any(
        entry.test.before_lighting is not None and entry.test.before_lighting.leak_test in LEAK_TESTED
        for entry in entries
    )


def _of_model(
    record: Record, plan: Plan, displays: Sequence[StopDisplay], own: set[str]
) -> Iterator[StopDisplay]:
    """Of the stops that were shown those of a plan's units, and those that hold the bench or are of nobody.

    A unit without a plan that the record does not know may be of this model: its stop stays.
    """
    entries = histories(record, [one.serial for one in displays if one.serial])
    models = {serial.casefold(): each[0].test.model for serial, each in entries.items()}
    for one in displays:
        key, number = one.serial.strip().casefold(), one.plan.strip().casefold()
        is_of_plan = plan.digest.startswith(number) if number else models.get(key, plan.model) == plan.model
        if one.notice.scope == "bench" or key in own | {""} or is_of_plan:
            yield one


def _is_of_report(stop: PastStop, plan: Plan, serials: set[str] | None) -> bool:
    """Whether a report says a stop: one of its units or model, and every one that holds the bench."""
    if stop.stands and stop.notice.scope == "bench":
        return True
    test = stop.record.test
    is_of_unit = serials is None or test.serial.strip().casefold() in serials
    return is_of_unit and (serials is not None or test.model == plan.model)


@dataclass(frozen=True, slots=True, kw_only=True)
class StopInForce:
    """A stop that stands for a unit: on which unit it was raised or shown, and since when."""

    serial: str  # "" where the bench showed it before a unit was entered
    since: str  # "" where an earlier version of the bench showed it
    held: frozenset[str]  # uids of the entries that were made where it stands

    def is_of(self, serial: str) -> bool:
        """Whether the unit itself raised it; one of nobody may be of any unit."""
        return self.serial.strip().casefold() in ("", serial.strip().casefold())

    def withholds(self, serial: str, entry: TestRecord) -> bool:
        """Whether what an entry of a unit says is not judged."""
        if self.is_of(serial):
            return True
        return entry.uid in self.held and (not self.since or entry.recorded_at >= self.since)


def _in_force(
    record: Record, serial: str, entries: Sequence[TestRecord], displays: Sequence[StopDisplay]
) -> tuple[StopInForce, ...]:
    """Stops that stand for a unit, or where one of its tests was made, by what was stated of that place."""
    places = {entry.uid: BenchPlace.of(entry) for entry in entries} or {"": BenchPlace()}
    stops: list[tuple[StopDisplay | OpenStop, str, str]] = [
        (one, one.serial, one.shown_at) for one in displays
    ]
    stops += [(one, one.serial, one.recorded_at) for one in open_stops(record)]
    found = (
        StopInForce(
            serial=stopped,
            since=since,
            held=frozenset(uid for uid, place in places.items() if one.stands_for(serial, place)),
        )
        for one, stopped, since in stops
    )
    return tuple(dict.fromkeys(stop for stop in found if stop.held))


def unit_results(
    plan: Plan,
    serial: str,
    entries: Sequence[TestRecord],
    stops: Sequence[StopInForce] = (),
    past: UnitStops | None = None,
) -> UnitResults:
    """Readings of one unit by the rows of the plan; one of its state before a repair is to be read again.

    entries : its current tests of the plan, newest first; stops : those that stand for it
    past : every stop of the unit, with the releases; None for none
    """
    withheld = {entry.uid for entry in entries if any(stop.withholds(serial, entry) for stop in stops)}
    done: dict[str, RowResult] = {}
    repeats: set[str] = set()
    rows = {row.id: row for row in plan.rows}
    stopped = {entry.uid for entry in entries if entry.test.stops}
    places = places_before_repair(entries, past or UnitStops())
    retyped = {entry.uid for entry in entries if has_retyped_CO(entry)}
    for entry in entries:
        for one in entry.test.plan_entries:
            row = rows.get(one.plan_row)
            if (
                row is None
                or one.plan != plan.digest
                or (row.id in done and done[row.id].entry not in stopped)
            ):
                continue
            is_stale = is_before_repair(places[entry.uid], row.burner, row.which)
            is_stale |= row.quantity == CARBON_MONOXIDE and entry.uid in retyped
            is_stopped = is_stale or entry.uid in withheld
            result = _row_result(row, entry, plan.band_of(row), is_stopped=is_stopped)
            if result is not None and (row.id not in done or not (is_stale or entry.uid in stopped)):
                repeats |= {row.id} if is_stale else set()
                done[row.id] = result
    return UnitResults(
        serial=serial,
        close_runs=close_runs(entries),
        is_stopped=any(stop.is_of(serial) for stop in stops) or 0 < len(entries) == len(withheld),
        held_by=", ".join(dict.fromkeys(stop.serial for stop in stops if not stop.is_of(serial))),
        results=tuple(done[row.id] for row in plan.rows if row.id in done),
        not_done=tuple(
            row.id
            for row in plan.rows
            if row.id not in done or row.id in repeats or done[row.id].entry in stopped
        ),
        repeats=tuple(row.id for row in plan.rows if row.id in repeats),
        photographs=tuple(dict.fromkeys(one for entry in entries for one in _photographs(entry, rows))),
        has_leak_test=_has_leak_test(entries),
        flames=flames_of(plan, entries, past),
    )


def _minutes_between(first: str, then: str) -> float:
    return (datetime.fromisoformat(then) - datetime.fromisoformat(first)).total_seconds() / 60.0


def has_retyped_CO(entry: TestRecord) -> bool:
    """Whether its carbon monoxide is a figure typed in place of one above the limit: it is read anew."""
    return any(one.stop == "co-high" for one in entry.test.earlier_stops)


def _photographs(entry: TestRecord, rows: Mapping[str, PlanRow]) -> Iterator[UnitPhotograph]:
    """Those of a test, with its burner by the plan and the heading of its worst stop."""
    known = (rows[one.plan_row] for one in entry.test.plan_entries if one.plan_row in rows)
    place = next((row.place for row in known), "")
    stop = next((one.heading for one in entry.test.stops), "")
    for one in entry.test.photographs:
        yield UnitPhotograph(sha256=one.sha256, subject=one.subject, place=place, stop=stop)


def _row_result(row: PlanRow, entry: TestRecord, band: PlanRow, *, is_stopped: bool) -> RowResult | None:
    figure = figure_of(entry, row)
    if figure is None:
        return None
    expanded = expanded_of(figure)
    is_judged = not is_stopped and not entry.test.stops
    limit = None
    if row.quantity == CARBON_MONOXIDE and band.high is None and isinstance(figure, Result):
        limit = figure.high
    band = band if limit is None else replace(band, high=limit)
    return RowResult(
        row=row,
        measured=figure.value,
        expanded_uncertainty=expanded,
        verdict=row_verdict(band, figure.value, expanded) if is_judged else Verdict.NOT_EVALUATED,
        tester=entry.test.tester,
        tested_at=entry.test.tested_at,
        instruments=", ".join(_instruments(entry)),
        entry=entry.uid,
        limit_of_test=limit,
        is_shown_air_free=row.quantity == CARBON_MONOXIDE
        and any(one.quantity == CARBON_MONOXIDE for one in entry.test.readings),
        ambient_Pa=next(
            (one.value for one in entry.test.readings if one.quantity == "ambient_pressure"), None
        ),
    )


def _instruments(entry: TestRecord) -> list[str]:
    late = set(entry.overdue)
    return [
        f"{one.name} (calibration overdue)" if one in late else one.name for one in entry.test.instruments
    ]


def plans_of_other_gases(plan: Plan, known: Iterable[Plan]) -> tuple[Plan, ...]:
    """The plans by which the same orifices are tested on another gas: of a pressure couple, from one file."""
    return tuple(
        one
        for one in known
        if (one.model, one.file_sha256) == (plan.model, plan.file_sha256)
        and one.gas != plan.gas
        and plan.change.orifices
        and one.change.orifices == plan.change.orifices
    )


def next_row(plan: Plan, results: UnitResults | None) -> PlanRow | None:
    """The row that a unit reads next; None when all are read.

    First one outside its band, read again once its cause is mended; then those read before a repair; then the others,
    that of a stopped test among them.
    """
    if results is None:
        return plan.rows[0] if plan.rows else None
    first = outside_result(results)
    ids = (*(() if first is None else (first.row.id,)), *results.repeats, *results.not_done)
    return next((row for id in ids for row in plan.rows if row.id == id), None)


def outside_result(results: UnitResults) -> RowResult | None:
    """The first reading of a unit that is outside its band: what comes next is its cause. None for none."""
    return next((one for one in results.results if one.verdict is Verdict.OUTSIDE), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitsInBand:
    """Where the measured units lie in the band of one burner: for a picture of a model with its calculation.

    Of several burners alike each is a reading of its own, its number behind the serial number.
    """

    burner: str = field(metadata=output("burner"))
    state: str = field(metadata=output("state"))
    predicted_gross_W: float | None = field(metadata=output("expected", Kind.POWER, basis="gross"))
    low_gross_W: float | None = field(metadata=output("low end of the band", Kind.POWER, basis="gross"))
    high_gross_W: float | None = field(metadata=output("high end of the band", Kind.POWER, basis="gross"))
    serials: tuple[str, ...] = field(metadata=output("units"))  # of each reading
    measured_gross_W: tuple[float, ...] = field(
        metadata=output("measured", Kind.POWER, basis="gross")
    )  # in the order of ``serials``
    expanded_uncertainties_W: tuple[float | None, ...] = field(
        metadata=output("expanded uncertainties", Kind.POWER)
    )


def _has_verdict(plan: Plan, result: RowResult) -> bool:
    """Whether a reading has its verdict; one whose row has no band never has."""
    band = plan.band_of(result.row)
    return result.verdict is not Verdict.NOT_EVALUATED or (band.low is None and band.high is None)


INPUTS_OF_PLAN = ("heat_input_gross", LOW_RATE_INPUT)


def units_in_bands(report: PlanReport) -> tuple[UnitsInBand, ...]:
    """Expected band and measured heat inputs of every burner and state of a plan, gross [W], in the plan's order.

    A reading that a stop or a repair withholds from judgement is no measured unit of the model.
    """
    alike: dict[tuple[str, str, str], list[PlanRow]] = {}
    for row in report.plan.rows:
        if row.quantity in INPUTS_OF_PLAN:
            alike.setdefault((row.burner, row.state, row.quantity), []).append(row)
    places = []
    for rows in alike.values():
        row = rows[0]
        found = [
            (", ".join(filter(None, (unit.serial, each.which_words))), result)
            for unit in report.units
            for each in rows
            if (result := unit.result_of(each)) is not None and _has_verdict(report.plan, result)
        ]
        places.append(
            UnitsInBand(
                burner=row.burner,
                state=row.state,
                predicted_gross_W=row.predicted,
                low_gross_W=row.low,
                high_gross_W=row.high,
                serials=tuple(serial for serial, _ in found),
                measured_gross_W=tuple(one.measured for _, one in found),
                expanded_uncertainties_W=tuple(one.expanded_uncertainty for _, one in found),
            )
        )
    return tuple(places)
