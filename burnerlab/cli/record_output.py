"""What the commands of the record share: its options, and entries as text."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from burnerlab.cli.common_inputs import own_table
from burnerlab.cli.output import facts, note_region_of_file, note_system_of_file, reader_system, table
from burnerlab.quantity import Kind, System, show
from burnerlab.quantity.inputs import Input, as_written
from burnerlab.quantity.outputs import output
from burnerlab.quantity.show import display_unit, timing_text
from burnerlab.tables.verdict import Verdict

if TYPE_CHECKING:
    from burnerlab.appliance.project.basis import RatedBasis
    from burnerlab.bench.earlier_readings import EarlierReading
    from burnerlab.bench.reading_plan import Plan
    from burnerlab.bench.record import (
        BeforeLighting,
        BenchTest,
        KitRecord,
        Observation,
        OpenStop,
        PastStop,
        Record,
        ReleaseRecord,
        Result,
        TestRecord,
        UnitStops,
    )
    from burnerlab.bench.record.stop_display import StopDisplay
    from burnerlab.bench.stop import StopNotice

# Inputs that the commands of the bench record share.


def text_input(name: str, metavar: str, help: str, **more: Any) -> Input:
    """An option that is taken as it is written."""
    return Input(name=name, reader=as_written, metavar=metavar, help=help, **more)


def day(text: str, key: str) -> str:
    """A day in ISO 8601; "" for every day."""
    from burnerlab.bench.record.entry import read_date

    return read_date(text, key) if text else ""


RECORD = text_input("file", "FILE", "The record.", default="bench.sqlite")
OUT = text_input("out", "FILE", "The file to write.", is_needed=True)
OVERWRITE = Input(name="overwrite", is_flag=True, help="Replace FILE when it exists.")
RELEASE_LIMITS = own_table(
    "release_limits",
    "Own limits of the answers of a release, stricter than those of release_limits.",
)
LIMIT = Input(name="limit", of="lines", default="50", help="Most lines.")


def to_read(file: str) -> Record:
    """A record that is there, only to be read."""
    from burnerlab.bench.record import open_record

    return open_record(Path(file), readonly=True)


def to_write(file: str, create: bool = False) -> Record:
    """A record to write into."""
    from burnerlab.bench.record import open_record

    return open_record(Path(file), create=create)


def answer_in_region_of(entries: Iterable[TestRecord]) -> None:
    """Answer in the words and units of the region of some entries; one without a region has no say.

    What people wrote keeps its words.
    """
    from burnerlab.appliance.project.model import system_of_region

    for entry in entries:
        if entry.test.region:
            note_system_of_file(system_of_region(entry.test.region))
            note_region_of_file(entry.test.region, _own_words(entry.test))


def _own_words(test: BenchTest) -> Iterator[str]:
    yield from (test.serial, test.model, test.tester, test.note, test.gas)
    yield from (one.burner for part in (test.readings, test.results, test.observations) for one in part)
    yield from (one.name for one in test.instruments)
    yield from (one.text for one in test.inputs)


def plans_of(entries: Iterable[TestRecord], file: str) -> tuple[Plan, ...]:
    """The plans whose rows entries read, of those in this folder and beside the record."""
    from burnerlab.bench.plan_file import plans_below

    digests = {row.plan for one in entries for row in one.test.plan_entries}
    folders = dict.fromkeys((Path(), Path(file).parent)) if digests else ()
    found = {plan.digest: plan for folder in folders for plan in plans_below(folder)}
    return tuple(plan for digest, plan in found.items() if digest in digests)


def times_in_doubt(
    plans: Iterable[Plan], serial: str, entries: Iterable[TestRecord], past: UnitStops
) -> Mapping[str, tuple[str, ...]]:
    """Of each plan of a unit the hot rows recorded too soon, and the runs in less time than they last, in words."""
    from burnerlab.bench.plan_results import unit_results
    from burnerlab.report.plan_report import close_run_words, early_hot_words

    current = [one for one in entries if one.is_current]
    units = [(plan, unit_results(plan, serial.strip(), current, past=past)) for plan in plans]
    found = {
        "hot_too_soon": (early_hot_words(plan, unit) for plan, unit in units),
        "runs_too_close": (close_run_words(unit) for _, unit in units),
    }
    return {key: tuple(dict.fromkeys(str(one) for one in words if one)) for key, words in found.items()}


# How an entry of the bench record is shown: as text for a person, and as one JSON object.

NOT_RECORDED = "not recorded"
HELD = "held"
UID_SHOWN = 8
TIME_SHOWN = 16  # characters of an ISO 8601 moment: to the minute


def moment(text: str) -> str:
    """A moment to the minute.

    >>> moment("2026-11-25T14:05:10.000Z")
    '2026-11-25 14:05'
    """
    return text[:TIME_SHOWN].replace("T", " ")


def figure(quantity: str, value: float | None, beside: float | None = None) -> str:
    """A figure of the record with its unit, that of the figure ``beside`` it in a row."""
    from burnerlab.bench.record import quantities

    if value is None:
        return "-"
    known = quantities().get(quantity)
    if known is None:
        return f"{value:g}"
    if known.kind is Kind.FRACTION:
        if known.display_unit == "ppm":
            return f"{1e6 * value:.0f} ppm"
        return f"{100 * value:.2f} %" if known.display_unit else f"{value:g}"
    if known.kind is Kind.TIME:
        return timing_text(value)
    if quantity == "ambient_pressure" and reader_system() == "US":  # as a barometer is read
        return show(value, known.kind, unit="inHg")
    kind = Kind.VOLUME_FLOW if known.kind is Kind.REFERENCE_VOLUME_FLOW else known.kind
    system = reader_system()
    unit = None if beside is None else display_unit(beside, kind, system)[0]
    return show(value, kind, unit=unit, system=system)


def band_text(result: Result) -> str:
    """A verdict with the band that it is of, in the unit of the value; "-" where none was given.

    >>> from burnerlab.bench.record import Result
    >>> band_text(Result(quantity="deviation", value=-0.021, low=-0.05, high=0.05, verdict="within"))
    'within the band of -5 to +5 %'
    """
    if not result.verdict or (result.low is None and result.high is None):
        return result.verdict or "-"
    of, ends = "" if None in (result.low, result.high) else "the band of ", _ends(result)
    if result.verdict == Verdict.NOT_EVALUATED:
        return f"{result.verdict} ({of.removeprefix('the ')}{ends})"
    join = " " if of else ", "
    return f"{result.verdict}{join}{of}{ends}{'' if result.is_conclusive else ', not proven'}"


def _ends(result: Result) -> str:
    """Both ends of a band, or the one it has; of pressures as card, plan and pages print them."""
    from burnerlab.bench.reading.manifold import pressure_span
    from burnerlab.bench.record import quantities

    known = quantities().get(result.quantity)
    if known is not None and known.kind is Kind.GAUGE_PRESSURE:
        return pressure_span(result.low, result.high, reader_system())
    low, high = (
        "-"
        if end is None
        else f"{100 * end:+.3g} %"
        if result.quantity.endswith("deviation")
        else figure(result.quantity, end, result.value)
        for end in (result.low, result.high)
    )
    if result.low is None or result.high is None:
        return f"at most {high}" if result.low is None else f"at least {low}"
    unit = f" {high.rpartition(' ')[2]}"
    return f"{low.removesuffix(unit)} to {high}"


def stop_state(
    record: TestRecord,
    stops: Sequence[OpenStop],
    past: Mapping[str, UnitStops] | None = None,
    displays: Sequence[StopDisplay] = (),
) -> str:
    """``stopped`` while a stop of this entry, or of its unit when it is the unit's current one, has no release.

    ``held`` for the current entry of a unit that a stop holds which the bench only showed,
    ``released`` for an entry whose stops have one, ``stopped, released`` for the current entry of a unit whose
    earlier one was, "" for one without; past : what was ever stopped of units, by serial number in lower case
    """
    from burnerlab.bench.record.open_stops import BenchPlace

    serial = record.serial.casefold()
    if any(
        one.entry == record.uid or (record.is_current and one.serial.casefold() == serial) for one in stops
    ):
        return "stopped"
    if record.is_current and any(one.stands_for(record.serial, BenchPlace.of(record)) for one in displays):
        return HELD
    unit_stops = (past or {}).get(serial)
    if record.is_current and unit_stops is not None and unit_stops.mark:
        return unit_stops.mark
    return "released" if record.test.stops else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryAnswer:
    """An entry with what wants a second look, and what was ever stopped of its unit; figures in SI."""

    record: TestRecord = field(metadata=output("entry", is_part=True))
    entry_stops: tuple[StopNotice, ...] = field(metadata=output("stops of this entry"))
    state: str = field(metadata=output("state"))
    unit_stops: tuple[PastStop, ...] = field(metadata=output("stops of the unit"))
    not_read_since_release: tuple[str, ...] = field(metadata=output("not read since the release"))
    instruments_overdue: tuple[str, ...] = field(metadata=output("calibration was due"))
    instruments_without_calibration: tuple[str, ...] = field(metadata=output("no calibration date"))
    not_as_wanted: tuple[Observation, ...] = field(metadata=output("not as required"))


def entry_answer(
    record: TestRecord,
    stops: Sequence[OpenStop],
    past: Mapping[str, UnitStops] | None = None,
    displays: Sequence[StopDisplay] = (),
) -> EntryAnswer:
    """What a command says of an entry.

    stops : those of the record that stand; past : what was ever stopped of units, by serial number in lower case
    displays : stops that the bench showed and nobody recorded
    """
    from burnerlab.bench.record import UnitStops, adverse_observations

    unit_stops = (past or {}).get(record.serial.casefold(), UnitStops())
    instruments = record.test.instruments
    return EntryAnswer(
        record=record,
        entry_stops=record.test.stops,
        state=stop_state(record, stops, past, displays),
        unit_stops=unit_stops.stops,
        not_read_since_release=unit_stops.unread(record),
        instruments_overdue=tuple(one.name for one in record.overdue),
        instruments_without_calibration=tuple(one.name for one in instruments if not one.calibrated_on),
        not_as_wanted=adverse_observations(record.test),
    )


def attention(record: TestRecord, past: UnitStops) -> list[str]:
    """What of an entry wants a second look: first what the released stops of its unit ask for."""
    from burnerlab.bench.decision_rule import NOT_SHOWN
    from burnerlab.bench.record import adverse_observations
    from burnerlab.bench.record.entry import observation_words

    lines = list(past.unread(record))
    lines += [
        f"{one.burner or 'unit'}: {observation_words(one.name)}: {one.answer}"
        for one in adverse_observations(record.test)
    ]
    lines += [
        f"{one.burner or 'unit'}: {one.quantity} {figure(one.quantity, one.value)} is {band_text(one)}"
        for one in record.test.results
        if one.verdict in (Verdict.OUTSIDE, Verdict.NEAR)
    ]
    lines += [
        f"{one.burner or 'unit'}: {one.quantity}: {NOT_SHOWN}"
        for one in record.test.results
        if one.verdict in (Verdict.WITHIN, Verdict.NEAR) and not one.is_conclusive
    ]
    lines += [f"{one.name}: calibration was due {one.due_on}" for one in record.overdue]
    lines += [f"{one.name}: no calibration date" for one in record.test.instruments if not one.calibrated_on]
    return lines


def earlier_line(reading: EarlierReading, system: System, rated: RatedBasis | None = None) -> str:
    """A reading in whose place another stands, with what was done in between, as the papers of the unit have it.

    rated : on which heat inputs are shown; None: as they are recorded, gross
    """
    from burnerlab.appliance.project.basis import GROSS_RATED
    from burnerlab.report.plan_report import earlier_row

    _, words, value, verdict, by, done, later = earlier_row(rated or GROSS_RATED, "", reading, system)
    return f"{words}: {value}, {verdict}; {by}; {done}; now entry {later}"


def earlier_place(reading: EarlierReading, system: System) -> str:
    """What was read before in a place, when and by whom; a heat input gross, as it is recorded."""
    from burnerlab.appliance.project.basis import GROSS_RATED
    from burnerlab.report.plan_report import earlier_row

    _, words, value, _, by, *_ = earlier_row(GROSS_RATED, "", reading, system)
    return f"{words}: {value}; {by}"


def _before_lighting(answers: BeforeLighting | None) -> str:
    """What was answered before lighting, in a sentence; each answer that is missing is not recorded."""
    if answers is None:
        return NOT_RECORDED
    leak: str = answers.leak_test
    leak += f" by {answers.leak_test_method}" if answers.leak_test_method else ""
    if answers.leak_test_by or answers.leak_test_when:
        leak += f" (by {answers.leak_test_by}, {answers.leak_test_when})"
    lines = (
        ("supply label", answers.supply_label),
        ("leak test", leak),
        ("extraction", answers.extraction),
        ("CO alarm", answers.co_alarm),
        ("place", answers.place),
    )
    return "; ".join(f"{name}: {value or NOT_RECORDED}" for name, value in lines)


def entry_text(
    record: TestRecord, stops: Sequence[OpenStop], past: UnitStops, displays: Sequence[StopDisplay] = ()
) -> str:
    """An entry in full; ``stops``: those of the record that stand; ``displays``: those that were only shown."""
    test = record.test
    pairs = [
        ("unit", f"{test.serial}, {test.model}"),
        ("entry", f"{record.uid[:UID_SHOWN]}, number {record.number}"),
        ("tested", f"{moment(test.tested_at)} UTC by {test.tester}"),
        ("gas", test.gas or "not recorded"),
        ("model file", f"SHA-256 {test.model_sha256[:16]}…" if test.model_sha256 else "none named"),
    ]
    pairs += [("rating", test.rating_basis)] if test.rating_basis else []
    pairs += [("which of them", one.text) for one in test.inputs if one.name == "which"]
    pairs.append(("before lighting", _before_lighting(test.before_lighting)))
    state = stop_state(record, stops, {record.serial.casefold(): past} if past.stops else None, displays)
    pairs += [("state", state)] if state else []
    for stop in past.stops:
        one_stop = stop.notice
        why = f" Because: {one_stop.why}." if one_stop.why else ""
        code = f"{stop.entry[:UID_SHOWN]}-{one_stop.id}"
        pairs.append(("stop", f"{code}: {one_stop.signal}: {one_stop.heading}{why}"))
        pairs += [("released", _released(stop.release))] if stop.release is not None else []
        pairs += (
            [("slip", f"ended by the corrected entry {stop.ended_by[:UID_SHOWN]}")] if stop.ended_by else []
        )
    pairs += [
        ("earlier stop", f"{one.stop}: read {one.reading}; {one.why}; {one.reason}")
        for one in test.earlier_stops
    ]
    if record.corrects:
        pairs.append(("corrects", f"{record.corrects[:UID_SHOWN]}: {record.reason}"))
    if record.corrected_by:
        pairs.append(("superseded by", record.corrected_by[:UID_SHOWN]))
    for one in test.instruments:
        dates = f"calibrated {one.calibrated_on or 'not recorded'}, due {one.due_on or 'not recorded'}"
        pairs.append(("instrument", f"{one.name}{', ' + one.kind if one.kind else ''}: {dates}"))
    if test.note:
        pairs.append(("note", " / ".join(test.note.splitlines())))
    return "\n\n".join(part for part in (facts(pairs), *_parts(record)) if part)


def _released(release: ReleaseRecord) -> str:
    end = release.release
    return (
        f"{moment(release.recorded_at)} UTC by {end.name}, {end.qualification}, as typed; cause: {end.cause}; "
        f"repair: {end.repair}; leak test: {end.leak_test}"
    )


def _parts(record: TestRecord) -> list[str]:
    from burnerlab.bench.record.entry import observation_words

    test = record.test
    readings = [
        (
            one.burner or "unit",
            one.quantity.replace("_", " "),
            figure(one.quantity, one.value),
            _uncertainty(one.quantity, one.standard_uncertainty, one.value),
            one.instrument or "-",
        )
        for one in test.readings
    ]
    results = [
        (
            one.burner or "unit",
            one.quantity.replace("_", " "),
            figure(one.quantity, one.value),
            _uncertainty(one.quantity, one.expanded_uncertainty, one.value),
            band_text(one),
            one.version,
        )
        for one in test.results
    ]
    written = [(one.name.replace("_", " "), one.text) for one in test.inputs]
    seen = [(one.burner or "unit", observation_words(one.name), one.answer) for one in test.observations]
    return [
        _table(("burner", "reading", "value", "standard uncertainty", "with"), readings),
        _table(("burner", "result", "value", "expanded uncertainty", "band", "version"), results),
        _table(("burner", "looked for", "seen"), seen),
        _table(("input", "as entered in the form"), written),
    ]


def _uncertainty(quantity: str, value: float | None, of: float) -> str:
    """An uncertainty in the unit of its figure ``of``: a difference, so temperatures are in kelvin."""
    from burnerlab.bench.record import quantities

    known = quantities().get(quantity)
    if value is not None and known is not None and known.kind is Kind.TEMPERATURE:
        return f"{value:.2g} K"
    return figure(quantity, value, of)


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    return table(heads, rows, left_columns=2) if rows else ""


def counted(count: int, noun: str) -> str:
    """A count with its noun.

    >>> counted(1, "test"), counted(2, "kit check")
    ('1 test', '2 kit checks')
    """
    return f"{count} {noun}{'' if count == 1 else 's'}"


def lines_text(
    entries: Sequence[TestRecord],
    stops: Sequence[OpenStop],
    past: Mapping[str, UnitStops] | None = None,
    displays: Sequence[StopDisplay] = (),
) -> str:
    """Entries as one line each, with how many things of each ``record show`` lists as not as required.

    stops : those of the record that stand; past : all of the stopped units; displays : those that were only shown
    """
    from burnerlab.bench.record import UnitStops

    rows = [
        (
            record.test.serial,
            moment(record.test.tested_at),
            record.uid[:UID_SHOWN],
            record.test.tester,
            _worst(record),
            str(len(attention(record, (past or {}).get(record.serial.casefold(), UnitStops()))) or "-"),
            f"{stop_state(record, stops, past, displays)} {_standing(record)}".strip() or "-",
            record.test.model,
            record.test.gas or "-",
        )
        for record in entries
    ]
    heads = (
        "unit",
        "tested, UTC",
        "entry",
        "tester",
        "worst input",
        "not as required",
        "state",
        "model",
        "gas",
    )
    return table(heads, rows, left_columns=4)


def _standing(record: TestRecord) -> str:
    return "superseded" if record.corrected_by else "correction" if record.corrects else ""


def _worst(record: TestRecord) -> str:
    off = [one.value for one in record.test.results if one.quantity == "deviation"]
    return f"{100 * max(off, key=abs):+.1f} %" if off else "-"


def kits_text(weighings: Sequence[KitRecord]) -> str:
    """Weighings as one line each."""
    rows = [
        (
            record.check.kit,
            record.check.title,
            moment(record.check.weighed_at),
            record.check.tester,
            record.check.serial or "-",
            f"{1e3 * record.check.mass_kg:.2f}",
            record.check.verdict,
            str(len(record.check.scans)),
        )
        for record in weighings
    ]
    return table(
        ("kit", "parts list", "weighed, UTC", "by", "for unit", "g", "window", "scans"), rows, left_columns=5
    )
