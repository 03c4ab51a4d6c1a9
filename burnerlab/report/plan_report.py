"""The test report of units by a plan as paper: side by side, what was read before and corrected, each by itself."""

from __future__ import annotations

import base64
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from burnerlab.appliance.project.basis import RatedBasis
from burnerlab.bench.earlier_readings import EarlierReading
from burnerlab.bench.plan_results import (
    AnswerFirst,
    CorrectedStop,
    PlanReport,
    ReadingBeside,
    RowResult,
    UnitResults,
    units_in_bands,
)
from burnerlab.bench.reading_plan import (
    NET_OF,
    STATE_WORDS,
    HOT_AFTER_min,
    Plan,
    PlanRow,
)
from burnerlab.bench.record.entry import ReleaseRecord
from burnerlab.bench.record.query import PastStop
from burnerlab.bench.record.stop_display import MINUTE
from burnerlab.bench.stop import StopNotice, stop_rows
from burnerlab.quantity import System
from burnerlab.quantity.prose import in_reader_units
from burnerlab.report.plan_paper import (
    ALL_TOGETHER,
    NOT_DONE,
    NOT_PREDICTED,
    PaperPhotograph,
    PaperTable,
    PlanPaper,
    band_text,
    paper_in_words,
    paper_of,
    place_words,
    plan_notes,
    reading_words,
    value_text,
)
from burnerlab.report.sheet.blocks import BAROMETER
from burnerlab.report.sheet.wording import clean
from burnerlab.report.unit_answers import (
    FIRST_CAPTION,
    FIRST_HEADS,
    FLAMES_CAPTION,
    FLAMES_HEADS,
    first_row,
    flame_row,
)
from burnerlab.tables.languages import ENGLISH_LANGUAGE, Language
from burnerlab.tables.phrase import Phrase, joined, phrase_among
from burnerlab.tables.verdict import Verdict

SHOWN_AIR_FREE = Phrase("air-free as the analyser shows it")
REPORT_HEADS = (
    Phrase("Row"), Phrase("Burner and state"), Phrase("Reading"), Phrase("Expected"), Phrase("Band"),
    Phrase("Measured"), Phrase("\u00b1 (95 %)"), Phrase("Verdict"), Phrase("By, with"),
)  # fmt: skip
MEASURED = 5  # column of ``REPORT_HEADS`` from which on they are of the unit
UNITS_ACROSS = 4
SIDE_BY_SIDE = Phrase("Units side by side: what was read, with the verdict where it is another than within")
UNIT_HEADS = (
    Phrase("Unit"), Phrase("Rows read"), Phrase("Not done"), Phrase("Within"), Phrase("Near"), Phrase("Outside"),
    Phrase("Not evaluated"),
)  # fmt: skip
RELEASED_CAPTION = Phrase("Stops that were released, as typed: burnerlab cannot check it")
CORRECTED_CAPTION = Phrase("Stops that were shown and then corrected, as typed: burnerlab cannot check it")
CORRECTED_HEADS = (
    Phrase("Unit"), Phrase("Stop"), Phrase("Entered first"), Phrase("Why it was wrong"), Phrase("By, entry"),
)  # fmt: skip
LONGEST_EVIDENCE = 2000
EARLIER_CAPTION = Phrase("Read before: outside the band, read twice or corrected; what was done is as typed")
EARLIER_HEADS = (
    Phrase("Unit"), Phrase("Reading"), Phrase("Measured"), Phrase("Verdict"), Phrase("By, entry"),
    Phrase("What was done"), Phrase("Entry in its place"),
)  # fmt: skip
NO_CAUSE = Phrase("no cause recorded")
READ_TWICE = Phrase("read again, no reason recorded")
BESIDE_CAPTION = Phrase("Read beside the rows of the plan")
BESIDE_HEADS = Phrase("Unit"), Phrase("Reading"), Phrase("Measured"), Phrase("Verdict"), Phrase("By, entry")
NO_FIGURE = Phrase("no figure")
RELEASED_HEADS = (
    Phrase("Unit"), Phrase("Stop"), Phrase("Recorded"), Phrase("Cause, repair, as typed"), Phrase("Released"),
)  # fmt: skip
PLACE_HEADS = (
    Phrase("Burner and state"), Phrase("Expected"), Phrase("Band"), Phrase("Least measured"),
    Phrase("Most measured"), Phrase("Readings"),
)  # fmt: skip
SHORTEST_RUN = 2  # rows that are named one by one
VERDICT_NOTE = Phrase(
    "The verdict is on the reading against the band of its row, over its stated uncertainty. While a stop is in force "
    "for a unit nothing of it is judged; one that another unit raised on the bench leaves what was recorded before it. "
    "A reading without a stated uncertainty is judged by its value alone."
)
SUBJECTS = {"flame": Phrase("flame"), "plate": Phrase("plate"), "gauge": Phrase("gauge")}


def _report_tables(report: PlanReport, system: System) -> list[PaperTable]:
    """The units side by side, what was read before and corrected, each unit's readings, and where the units lie."""
    tables = [
        PaperTable(
            caption=Phrase("Units"),
            heads=UNIT_HEADS,
            rows=tuple(_unit_row(report.plan, unit) for unit in report.units),
        )
    ]
    tables += _side_by_side(report, system)
    for unit in report.units:
        serial = clean(unit.serial, 48)
        caption: str = Phrase("Unit {serial}", serial=serial)
        if unit.is_stopped:
            caption = Phrase("Unit {serial}: a stop is in force, nothing is judged", serial=serial)
        if unit.held_by:
            caption = Phrase(
                "{unit}; the bench is held by a stop of unit {others}",
                unit=caption,
                others=clean(unit.held_by, 96),
            )
        caption = _with_part_test(caption, report.plan, unit)
        if not unit.results and not unit.is_stopped:
            continue  # its line among the units says that no row is read
        rows = tuple(_report_row(report.plan, row, unit.result_of(row), system) for row in report.plan.rows)
        tables.append(PaperTable(caption=caption, heads=REPORT_HEADS, rows=rows))
    plan = report.plan
    beside = tuple(beside_row(plan, unit, one, system) for unit in report.units for one in unit.beside)
    if beside:
        tables.insert(1, PaperTable(caption=BESIDE_CAPTION, heads=BESIDE_HEADS, rows=beside))
    flames = tuple(flame_row(unit, one) for unit in report.units for one in unit.flames_lit)
    if flames:
        tables.insert(1, PaperTable(caption=FLAMES_CAPTION, heads=FLAMES_HEADS, rows=flames))
    first = tuple(first_row(unit, one, _by_words(one)) for unit in report.units for one in unit.answers_first)
    if first:
        tables.insert(1, PaperTable(caption=FIRST_CAPTION, heads=FIRST_HEADS, rows=first))
    ended = [stop for stop in report.recorded_stops if stop.release is not None]
    if ended:
        tables.insert(1, _released(ended, system))
    if report.corrected_stops:
        tables.insert(1, _corrected(report.corrected_stops, system))
    before = [(unit, one) for unit in report.units for one in unit.earlier]
    before.sort(key=lambda each: not each[1].is_outside)
    earlier = tuple(earlier_row(plan.rated, unit.serial, one, system) for unit, one in before)
    if earlier:
        tables.insert(1, PaperTable(caption=EARLIER_CAPTION, heads=EARLIER_HEADS, rows=earlier))
    if len(report.units) > 1:
        tables.append(_places(report, system))
    return tables


def report_paper(
    report: PlanReport,
    date: str,
    system: System,
    pictures: Mapping[str, bytes] | None = None,
    language: Language = ENGLISH_LANGUAGE,
) -> PlanPaper:
    """The report: units side by side, each unit's readings, and where the units lie in the bands.

    pictures : JPEG of each photograph by its hash; language : in which it is read
    """
    tables = _report_tables(report, system)
    times = (words for unit in report.units for words in time_remarks(report.plan, unit))
    notes: tuple[str, ...] = (*times, VERDICT_NOTE, *plan_notes(report.plan, system))
    if not report.units:
        notes = (Phrase("No unit of this record has a test of this plan."), *notes)
    made = paper_of(
        Phrase("Test report"),
        report.plan,
        date,
        tuple(tables),
        notes=notes,
        sign=(_reviewed_by(report.units), Phrase("Date")),
        system=system,
    )
    shown = _stop_lines(report)
    made = replace(
        made,
        troubles=(*made.troubles, *(in_reader_units(text, system) for text in shown)),
        photographs=tuple(_photographs(report, pictures or {}, system)),
    )
    return paper_in_words(made, report.plan, language)


def early_hot_remark(minutes: float) -> str:
    """What stands beside a hot row that was recorded too soon to be one.

    >>> early_hot_remark(3.2)
    'recorded 3 min after the cold reading of the same burner, so perhaps not hot: hot is after 15 min'
    """
    return Phrase(
        "recorded {minutes} min after the cold reading of the same burner, so perhaps not hot: hot is after {time}",
        minutes=f"{minutes:.0f}",
        time=f"{HOT_AFTER_min} min",
    )


def early_hot_words(plan: Plan, unit: UnitResults) -> str:
    """Which hot rows of a unit were recorded before their burner can have been hot; "" for none."""
    early = dict(unit.early_hot)
    places = dict.fromkeys(
        f"{clean(row.place, 48) or ALL_TOGETHER} {early[row.id]:.0f} min"
        for row in plan.rows
        if row.id in early
    )
    if not places:
        return ""
    return Phrase(
        "Unit {unit}: recorded as hot sooner than {time} after the cold reading of the same burner, so perhaps "
        "not hot: {places}.",
        unit=clean(unit.serial, 48),
        time=f"{HOT_AFTER_min} min",
        places=", ".join(places),
    )


def close_run_words(unit: UnitResults) -> str:
    """Which tests of a unit were recorded in less time than their runs last; "" for none."""
    if not unit.close_runs:
        return ""
    places = [
        Phrase(
            "{burner} {since} s, runs {run} s",
            burner=clean(one.burner, 48) or ALL_TOGETHER,
            since=f"{one.since_s:.0f}",
            run=f"{one.run_s:.0f}",
        )
        for one in unit.close_runs
    ]
    return Phrase(
        "Unit {unit}: recorded sooner after the test before than the runs last, so read before that, or on another "
        "unit: {places}.",
        unit=clean(unit.serial, 48),
        places=joined(", ", places),
    )


def time_remarks(plan: Plan, unit: UnitResults) -> tuple[str, ...]:
    """What the times of a unit's tests leave in doubt: hot rows too soon, runs in less time than they last."""
    return tuple(filter(None, (early_hot_words(plan, unit), close_run_words(unit))))


def _with_part_test(unit_words: str, plan: Plan, unit: UnitResults) -> str:
    """What heads the readings of a unit, with how many rows of the plan are not read, and a missing leak test."""
    words = unit_words
    if unit.not_done:
        words = Phrase(
            "{unit}; part test: {left} of {all} rows not read",
            unit=words,
            left=len(unit.not_done),
            all=len(plan.rows),
        )
    if unit.flames_not_seen:
        words = Phrase(
            "{unit}; part test: flame not looked at: {flames}",
            unit=words,
            flames="; ".join(clean(one.place, 96) for one in unit.flames_not_seen),
        )
    if not unit.has_leak_test:
        words = Phrase("{unit}; part test: no leak test recorded", unit=words)
    return words


def _reviewed_by(units: Sequence[UnitResults]) -> str:
    """The line of signature; a unit with a row that is not read is signed as a part test alone."""
    parts = [clean(unit.serial, 48) for unit in units if unit.is_part]
    if not parts:
        return Phrase("Reviewed by")
    if len(parts) == len(units):
        return Phrase("Reviewed by, as a part test")
    return Phrase("Reviewed by; units {units} as a part test", units=", ".join(parts))


def _stop_lines(report: PlanReport) -> Iterator[str]:
    """Every stop that stands, recorded or only shown, the worst first."""
    order = {name: place for place, name in enumerate(stop_rows())}
    stops: list[tuple[StopNotice, str]] = [
        (one.notice, _recorded_words(one)) for one in report.recorded_stops if one.stands
    ]
    stops += [(one.notice, clean(one.words, 240)) for one in report.stops_not_recorded]
    for notice, text in sorted(stops, key=lambda stop: order.get(stop[0].id, -1)):
        yield joined("", (Phrase(notice.signal), ": ", _heading(notice), " ", text))


def _heading(notice: StopNotice) -> str:
    """That of a stop, in the words of the table."""
    return _heading_words(notice.heading)


def _heading_words(heading: str) -> str:
    return phrase_among(heading, [row["heading"] for row in stop_rows().values()])


def _moment(text: str) -> str:
    return f"{text[:MINUTE].replace('T', ' ')} UTC"


def _recorded_words(stop: PastStop) -> str:
    return Phrase(
        "Recorded for unit {serial}, {moment}, by {name}, entry {entry}; not released.",
        serial=clean(stop.record.serial, 48),
        moment=_moment(stop.record.recorded_at),
        name=clean(stop.record.test.tester, 48),
        entry=stop.entry[:8],
    )


def _released(stops: Sequence[PastStop], system: System) -> PaperTable:
    """Stops that were released, by whom and why, as typed."""
    rows = []
    for stop in stops:
        if stop.release is None:
            continue
        end, by = stop.release.release, _release_words(stop.release)
        done = Phrase("{cause}; repair: {repair}", cause=clean(end.cause, 240), repair=clean(end.repair, 240))
        rows.append(
            (
                clean(stop.record.serial, 48),
                in_reader_units(
                    joined("", (Phrase(stop.notice.signal), ": ", _heading(stop.notice))), system
                ),
                joined(", ", (_moment(stop.record.recorded_at), clean(stop.record.test.tester, 48))),
                done,
                by,
            )
        )
    return PaperTable(caption=RELEASED_CAPTION, heads=RELEASED_HEADS, rows=tuple(rows))


def _corrected(stops: Sequence[CorrectedStop], system: System) -> PaperTable:
    """Stops that a corrected entry took back, each with every figure as it was entered first."""
    rows = (
        (
            clean(one.serial, 48),
            in_reader_units(clean(one.stop.why, LONGEST_EVIDENCE), system),
            clean(one.stop.reading, LONGEST_EVIDENCE),
            clean(one.stop.reason, LONGEST_EVIDENCE),
            joined(", ", (_moment(one.recorded_at), clean(one.tester, 48), one.entry[:8])),
        )
        for one in stops
    )
    return PaperTable(caption=CORRECTED_CAPTION, heads=CORRECTED_HEADS, rows=tuple(rows))


def earlier_row(rated: RatedBasis, serial: str, reading: EarlierReading, system: System) -> tuple[str, ...]:
    """A reading in whose place another stands, under ``EARLIER_HEADS``; rated : on which heat inputs are shown"""
    return (
        clean(serial, 48),
        earlier_words(reading, rated.word),
        _measured_words(rated, reading.quantity, reading.value, system),
        Verdict.OUTSIDE.emphatic if reading.is_outside else Phrase("not outside"),
        _by_words(reading),
        earlier_done(reading),
        reading.by_entry[:8],
    )


def earlier_words(reading: EarlierReading, basis: str = "gross") -> str:
    """What was read, of which burner in which state; basis : of the rating, on which a heat input is shown"""
    burner: str = clean(reading.burner, 48) or ALL_TOGETHER
    if reading.which:
        burner = Phrase("{burner} number {which}", burner=burner, which=clean(reading.which, 8))
    state = next((words for state, words in STATE_WORDS.items() if state == reading.state), "")
    row = Phrase("row {id}", id=clean(reading.row, 16)) if reading.row else ""
    return joined(", ", [part for part in (row, burner, state, _words_on(reading.quantity, basis)) if part])


def _words_on(quantity: str, basis: str) -> str:
    """What was read, a heat input on the basis on which it is shown."""
    return reading_words(NET_OF.get(quantity, quantity) if basis == "net" else quantity)


def earlier_done(reading: EarlierReading) -> str:
    """What was recorded between it and the reading in its place."""
    words = clean(reading.done, LONGEST_EVIDENCE)
    if reading.way == "mended":
        return Phrase("mended: {words}", words=words)
    if reading.way == "corrected":
        return Phrase("entry corrected: {words}", words=words or Phrase("no reason recorded"))
    if reading.way == "released":
        cause = clean(reading.cause, LONGEST_EVIDENCE)
        return Phrase("STOP released; cause: {cause}; repair: {repair}", cause=cause, repair=words)
    return NO_CAUSE if reading.is_outside else READ_TWICE


def _measured_words(rated: RatedBasis, quantity: str, value: float, system: System) -> str:
    """A figure as the rows of a plan have it, a heat input on the basis of the rating."""
    share = rated.of_gross if quantity in NET_OF else 1.0
    return value_text(quantity, share * value, system)


def _by_words(reading: EarlierReading | ReadingBeside | AnswerFirst) -> str:
    return joined(", ", (_moment(reading.tested_at), clean(reading.tester, 48), reading.entry[:8]))


def beside_row(plan: Plan, unit: UnitResults, reading: ReadingBeside, system: System) -> tuple[str, ...]:
    """What a test of a unit holds that is no row of the plan, under ``BESIDE_HEADS``."""
    words: str = _words_on(reading.quantity, plan.rated.word) if reading.quantity else NO_FIGURE
    if reading.burner:
        words = joined(", ", (clean(reading.burner, 48), words))
    value = (
        "" if reading.value is None else _measured_words(plan.rated, reading.quantity, reading.value, system)
    )
    shown = next((each.emphatic for each in Verdict if each == reading.verdict), "")
    return clean(unit.serial, 48), words, value, shown, _by_words(reading)


def _release_words(record: ReleaseRecord) -> str:
    release = record.release
    return Phrase(
        "{moment}, {name}, {qualification}; leak test: {test}",
        moment=_moment(record.recorded_at),
        name=clean(release.name, 48),
        qualification=clean(release.qualification, 80),
        test=clean(release.leak_test, 300),
    )


def stop_facts(stop: PastStop) -> str:
    """A stop of the record in one line: of which unit, when it was recorded, and by whom it was released."""
    notice = joined("", (Phrase(stop.notice.signal), ": ", _heading(stop.notice)))
    if stop.ended_by and stop.release is None:
        return Phrase(
            "{stop} Recorded for unit {serial}, {moment}, by {name}, entry {entry}; a figure was a slip, ended by the "
            "corrected entry {by}.",
            stop=notice,
            serial=clean(stop.record.serial, 48),
            moment=_moment(stop.record.recorded_at),
            name=clean(stop.record.test.tester, 48),
            entry=stop.entry[:8],
            by=stop.ended_by[:8],
        )
    if stop.release is None:
        return joined(" ", (notice, _recorded_words(stop)))
    return Phrase(
        "{stop} Recorded for unit {serial}, {moment}, by {name}, entry {entry}; released {release}.",
        stop=notice,
        serial=clean(stop.record.serial, 48),
        moment=_moment(stop.record.recorded_at),
        name=clean(stop.record.test.tester, 48),
        entry=stop.entry[:8],
        release=_release_words(stop.release),
    )


def _photographs(
    report: PlanReport, pictures: Mapping[str, bytes], system: System
) -> Iterator[PaperPhotograph]:
    for unit in report.units:
        for one in unit.photographs:
            data = pictures.get(one.sha256)
            address = (
                "" if data is None else f"data:image/jpeg;base64,{base64.b64encode(data).decode('ascii')}"
            )
            caption: str = Phrase(
                "Unit {serial}, {burner}: {subject}",
                serial=clean(unit.serial, 48),
                burner=clean(one.place, 64) or ALL_TOGETHER,
                subject=SUBJECTS.get(one.subject, one.subject),
            )
            if one.stop:
                caption = joined(". ", (caption, in_reader_units(_heading_words(one.stop), system)))
            yield PaperPhotograph(caption=caption, sha256=one.sha256, address=address)


def _unit_row(plan: Plan, unit: UnitResults) -> tuple[str, ...]:
    words = [one.verdict.value for one in unit.results]
    counts = tuple(str(words.count(word)) for word in ("within", "near", "outside", "not evaluated"))
    done = Phrase("{some} of {all}", some=len(plan.rows) - len(unit.not_done), all=len(plan.rows))
    return (clean(unit.serial, 48), done, _rows_in_short(plan, unit.not_done) or Phrase("none"), *counts)


def _rows_in_short(plan: Plan, ids: Sequence[str]) -> str:
    """Rows of a plan, three and more that follow one another as their first and last."""
    order = {row.id: place for place, row in enumerate(plan.rows)}
    runs: list[list[str]] = []
    for id in ids:
        if runs and order[id] == order[runs[-1][-1]] + 1:
            runs[-1].append(id)
        else:
            runs.append([id])
    parts = (
        [Phrase("{low} to {high}", low=run[0], high=run[-1])] if len(run) > SHORTEST_RUN else run
        for run in runs
    )
    return joined(", ", (each for part in parts for each in part))


def _row_head(plan: Plan, row: PlanRow, system: System) -> tuple[str, ...]:
    """What a row asks for, with what is expected and its band; row : on the basis of the rating."""
    return (
        row.id,
        joined(", ", place_words(plan, row)),
        reading_words(row.quantity),
        value_text(row.quantity, row.predicted, system, NOT_PREDICTED),
        band_text(row, system, plan.highest_Pa),
    )


def _report_row(plan: Plan, row: PlanRow, result: RowResult | None, system: System) -> tuple[str, ...]:
    share, row = plan.rated_share(row), plan.rated_row(row)
    head = _row_head(plan, row if result is None else result.with_limit(row), system)
    if result is None:
        return (*head, NOT_DONE, "", "", "")
    wide = result.expanded_uncertainty
    spread = value_text(row.quantity, None if wide is None else share * wide, system, Phrase("not stated"))
    by: str = Phrase(
        "{tester}, {date}, {instruments}; entry {entry}",
        tester=clean(result.tester, 48),
        date=_moment(result.tested_at),
        instruments=clean(result.instruments) or Phrase("instruments not named"),
        entry=result.entry[:8],
    )
    if result.is_shown_air_free:
        by = joined("; ", (by, SHOWN_AIR_FREE))
    if result.ambient_Pa is not None:
        air = Phrase("barometer {pressure}", pressure=BAROMETER.inline(result.ambient_Pa, system))
        by = joined("; ", (by, air))
    return (
        *head,
        value_text(row.quantity, share * result.measured, system),
        spread,
        result.verdict.emphatic,
        by,
    )


def _side_by_side(report: PlanReport, system: System) -> Iterator[PaperTable]:
    """What was read of each row, a column a unit; several tables where the units are more than a paper is wide."""
    units = [unit for unit in report.units if unit.results]
    for start in range(0, len(units) if len(units) > 1 else 0, UNITS_ACROSS):
        across = units[start : start + UNITS_ACROSS]
        rows = tuple(
            (
                *_row_head(report.plan, report.plan.rated_row(row), system),
                *(_unit_cell(report.plan, row, unit.result_of(row), system) for unit in across),
            )
            for row in report.plan.rows
            if any(unit.result_of(row) for unit in across)
        )
        left = [row.id for row in report.plan.rows if not any(unit.result_of(row) for unit in across)]
        lead = Phrase("Not done on any of them: rows {rows}.", rows=_rows_in_short(report.plan, left))
        heads = (*REPORT_HEADS[:MEASURED], *(clean(unit.serial, 48) for unit in across))
        yield PaperTable(caption=SIDE_BY_SIDE, lead=lead if left else "", heads=heads, rows=rows)


def _unit_cell(plan: Plan, row: PlanRow, result: RowResult | None, system: System) -> str:
    """What was read of a row of a unit, with its verdict where that is another than within."""
    if result is None:
        return NOT_DONE
    words = value_text(row.quantity, plan.rated_share(row) * result.measured, system)
    is_within = result.verdict is Verdict.WITHIN
    return words if is_within else joined(", ", (words, result.verdict.emphatic))


def _places(report: PlanReport, system: System) -> PaperTable:
    rows = []
    of_inputs = [
        one for one in report.plan.rows if one.quantity.endswith("heat_input_gross") and one.which < 2
    ]
    for place, own in zip(units_in_bands(report), of_inputs, strict=True):
        row = replace(own, which=0)
        share, row = report.plan.rated_share(row), report.plan.rated_row(row)
        measured = [share * one for one in place.measured_gross_W]
        ends = (min(measured), max(measured)) if measured else (None, None)
        least, most = (value_text(row.quantity, end, system, NOT_DONE) for end in ends)
        expected = value_text(row.quantity, row.predicted, system)
        rows.append(
            (
                joined(", ", place_words(report.plan, row)),
                expected,
                band_text(row, system),
                least,
                most,
                str(len(place.serials)),
            )
        )
    captions = {
        "gross": Phrase("Heat input, gross: where the units lie"),
        "net": Phrase("Heat input, net: where the units lie"),
    }
    return PaperTable(caption=captions[report.plan.rated.word], heads=PLACE_HEADS, rows=tuple(rows))
