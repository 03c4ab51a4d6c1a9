"""The record: units, entries, test sheet, chart of recent units, a copy to take along."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from burnerlab.appliance.project.basis import rated_basis
from burnerlab.bench.reading_plan import MANIFOLD, STATE_WORDS
from burnerlab.bench.record import (
    BenchTest,
    EntryPlace,
    OpenStop,
    PastStop,
    Record,
    TestRecord,
    UnitStops,
    burners,
    entry,
    exported,
    history,
    models,
    notices,
    open_stops,
    search,
    sights,
    stops_of_units,
    summary,
    unit_stops,
    units_beside,
)
from burnerlab.bench.record.entry import observation_words
from burnerlab.bench.record.slip import HOURS, typed_quantities
from burnerlab.bench.record.stop_display import StopDisplay
from burnerlab.bench.stop import StopNotice, stop_rows
from burnerlab.page.bench_state import Bench
from burnerlab.page.earlier_facts import earlier_facts
from burnerlab.page.form import MANOMETER, TILE_GLOW, Form, RefusedError, pairs_of
from burnerlab.page.orifice_marks import marks_left
from burnerlab.page.other_place import place_of
from burnerlab.page.plan_rows import plan_view
from burnerlab.page.progress import caution_occasions, common, reader_of, stop_keys
from burnerlab.page.reader_language import Reader
from burnerlab.page.record_entry import refilled
from burnerlab.page.render import page
from burnerlab.page.result_text import (
    AT_LOW_RATE,
    UID_SHOWN,
    Bases,
    CauseLine,
    LabelledText,
    RecordLine,
    act_of_test,
    adverse_words,
    basis_note,
    basis_of,
    burner_words,
    cause_lists,
    entry_facts,
    figure,
    in_units,
    input_facts,
    moment,
    named_burner,
    range_act_of,
    record_line,
    record_lines,
    result_of,
    stopped_units,
    unended,
)
from burnerlab.page.security import DRAWING_POLICY
from burnerlab.page.stop_names import (
    NamedStop,
    open_stops_for,
    recorded_stops_of_other_units,
    standing_stops,
    stops_of_other_units,
)
from burnerlab.page.unit_coverage import (
    CarbonMonoxideRead,
    StateOfTest,
    UnitBurner,
    answers_of,
    burners_of_model,
    carbon_monoxide_of,
    carbon_monoxide_to_read_again,
    coverage,
    heat_inputs_of,
    part_tests,
    plans_of_unit,
    pressure_of,
    tested_burners,
    times_in_doubt,
    unit_findings,
    untested,
    why_no_pressure,
)
from burnerlab.page.unit_explanation import unit_explanation
from burnerlab.quantity import System
from burnerlab.report.sheet.wording import clean
from burnerlab.tables.cautions import Caution, cautions, cautions_on
from burnerlab.tables.problem import UserError

# How the stops of a unit and their releases are told on its papers, whatever was recorded since.


CORRECTED = "Shown, then taken back by a corrected entry: {name}"
ENDED_BY_SLIP = "A figure was typed wrong: ended by the corrected entry {entry}."
ENTERED_FIRST = "{why}. Entered first: {reading}. Why it was wrong, as typed: {reason}."


def corrected_facts(entries: Iterable[TestRecord], system: System) -> tuple[LabelledText, ...]:
    """Every stop that a corrected entry of a unit took back, with what was entered first and why it was wrong."""
    facts: dict[tuple[str, str], LabelledText] = {}
    for each in entries:
        for one in each.test.earlier_stops:
            why = f"{one.why[:1].upper()}{one.why[1:]}"
            text = ENTERED_FIRST.format(why=why, reading=one.reading, reason=unended(clean(one.reason)))
            facts[one.stop, one.reading] = LabelledText(
                label=CORRECTED.format(name=one.stop),
                value=in_units(text, system),
                note=f"entry {each.uid[:UID_SHOWN]}, {moment(each.recorded_at)}, {clean(each.test.tester)}",
            )
    return tuple(facts.values())


def past_facts(past: UnitStops, system: System) -> tuple[LabelledText, ...]:
    """Every stop of a unit, why, and the release that ended it, as typed."""
    facts = []
    for stop in past.stops:
        why = f"{stop.notice.why[:1].upper()}{stop.notice.why[1:]}. " if stop.notice.why else ""
        facts.append(
            LabelledText(
                label=in_units(f"{stop.notice.signal}: {stop.notice.heading}", system),
                value=in_units(why, system) + _ended(stop),
                note=f"entry {stop.record.uid[:UID_SHOWN]}, {moment(stop.record.recorded_at)}, "
                f"{clean(stop.record.test.tester)}",
            )
        )
    return tuple(facts)


def _ended(stop: PastStop) -> str:
    record = stop.release
    if record is None and stop.ended_by:
        return ENDED_BY_SLIP.format(entry=stop.ended_by[:UID_SHOWN])
    if record is None:
        return "Not released."
    release = record.release
    return (
        f"Released {moment(record.recorded_at)} by {clean(release.name)}, {clean(release.qualification)}, as typed: "
        f"burnerlab cannot check it. Cause: {unended(clean(release.cause))}. "
        f"Repair: {unended(clean(release.repair))}. Leak test: {unended(clean(release.leak_test))}."
    )


# The record: find a unit, its entries, its test sheet, the chart of recent units, a copy to take along.

NO_PRESSURE = "not read: {why}"
PER_PAGE = 50
LAST_UNITS = (25, 50, 100, 200)
UID_LENGTH = 32
TYPES = {
    "csv": "text/csv; charset=utf-8",
    "json": "application/json",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


def _pairs(request: Request) -> dict[str, str]:
    return pairs_of(request.scope["query_string"].decode("latin-1"))


def _number(text: str, low: int, high: int, otherwise: int) -> int:
    return (
        min(max(int(text), low), high) if text.isascii() and text.isdigit() and len(text) < 9 else otherwise
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordPlaces:
    """Where the pages beside one page of the record begin; "" where there is none."""

    newer: str = ""
    older: str = ""


def _page_of_units(record: Record, pairs: dict[str, str]) -> tuple[tuple[TestRecord, ...], RecordPlaces]:
    """A page of units from the place in its address, the newest without one."""
    older, newer = (EntryPlace.read(pairs.get(name, "")) for name in ("older", "newer"))
    is_back = newer is not None or pairs.get("oldest") == "yes"
    found = units_beside(record, newer if is_back else older, older=not is_back, limit=PER_PAGE + 1)
    has_more = len(found) > PER_PAGE
    shown = found[1:] if is_back and has_more else found[:PER_PAGE]
    if not shown:
        return (), RecordPlaces()
    first, last = EntryPlace.of(shown[0]).text, EntryPlace.of(shown[-1]).text
    if is_back:
        return shown, RecordPlaces(newer=first if has_more else "", older=last if newer is not None else "")
    return shown, RecordPlaces(newer=first if older is not None else "", older=last if has_more else "")


def _displays(bench: Bench, serial: str | None = None) -> tuple[StopDisplay, ...]:
    """Stops that were shown and not recorded, the worst first: of one unit with those of the bench, or every one."""
    order = {id: place for place, id in enumerate(stop_rows())}
    listed = (stop.listed for stop in bench.unrecorded.every())
    shown = (one for one in listed if serial is None or one.stands_for(serial) or one.serial == serial)
    return tuple(sorted(shown, key=lambda display: order.get(display.notice.id, -1)))


def show_record(bench: Bench, request: Request) -> Response:
    """The newest test of each unit, or the entries in which some words stand."""
    pairs = _pairs(request)
    form = Form.of(pairs, bench.system)
    query, trouble, around = pairs.get("q", ""), "", RecordPlaces()
    with bench.read_record() as record:
        counts, stood = summary(record), open_stops(record)
        try:
            if query:
                entries = search(record, query, PER_PAGE)
            else:
                entries, around = _page_of_units(record, pairs)
        except UserError as error:
            entries, trouble = (), "; ".join(problem.text() for problem in error.problems)
        past = stops_of_units(record, (entry.serial for entry in entries))
    context = common(bench, form, "/record") | {
        "stop_keys": stop_keys(),
        "search_text": query,
        "lines": record_lines(entries, form.system, stopped_units(stood), past, bench.bases),
        "shown": _displays(bench),
        "stood": standing_stops(stood),
        "counts": counts,
        "around": around,
        "trouble": trouble,
    }
    return HTMLResponse(page("record", **context), 422 if trouble else 200)


def show_unit(bench: Bench, request: Request) -> Response:
    """Every entry of a unit."""
    pairs = _pairs(request)
    form = Form.of(pairs, bench.system)
    serial = pairs.get("serial", "")
    with bench.read_record() as record:
        entries = history(record, serial, 200) if serial else ()
        stood = _own(record, serial)
        past = unit_stops(record, serial)
    serial = entries[0].serial if entries else serial
    context = common(bench, form, "/unit") | {
        "stop_keys": stop_keys(),
        "stop_query": form.kept().having(serial=serial).query(),
        "test_query": _test_of_unit(bench, form, entries).having(serial=serial).query(),
        "query": form.kept().query(),  # the address of each link names the unit itself
        "serial": serial,
        "lines": record_lines(
            entries, form.system, stopped_units(stood), {serial.casefold(): past}, bench.bases
        ),
        "bench_wide": bool(stops_of_other_units(bench, form.having(serial=serial))),
        "stopped_by_others": recorded_stops_of_other_units(bench, form.having(serial=serial)),
        "reader": _reader_of_test(bench, entries[0].test) if entries else reader_of(bench),
        "unit_stops": past,
        "entries": entries,
        "past": past_facts(past, form.system) + corrected_facts(entries, form.system),
        "earlier": earlier_facts(bench, entries, past, form.system),
        "unread": _unread(bench, entries, past, form.system),
        "findings": unit_findings(bench, entries, past, is_stopped=bool(stood)),
        "coverage": coverage(bench, entries),
        "part_tests": part_tests(bench, entries, past),
        "times_in_doubt": times_in_doubt(bench, entries, past),
        "stood": standing_stops(stood),
        "current": any(entry.is_current for entry in entries),
        "shown": _displays(bench, serial),
    }
    return HTMLResponse(page("unit_history", **context), 200 if entries else 404)


def _test_of_unit(bench: Bench, form: Form, entries: tuple[TestRecord, ...]) -> Form:
    """The form of another test of a unit, by the model and the plan whose rows its page counts."""
    newest = next((each.test for each in entries if each.is_current), None)
    model = None if newest is None else bench.model_of(newest)
    if model is None:
        return form.kept()
    plans = plans_of_unit(bench, entries).plans
    plan = plans[0].number if len(plans) == 1 else form.get("plan") if not plans else ""
    return form.kept().having(model=model.key, plan=plan, burner="")


def _unread(bench: Bench, entries: tuple[TestRecord, ...], past: UnitStops, system: System) -> list[str]:
    """What released and corrected stops of a unit ask for and nothing has read since, and orifice marks not known."""
    again = carbon_monoxide_to_read_again(bench, entries)
    return [*(in_units(one, system) for one in past.unread()), *again, *marks_left(entries)]


def _reader_of_test(bench: Bench, test: BenchTest) -> Reader:
    """Whose words a page of a test has: of the region of its entry, in the language of its plan, else of its model."""
    reader = reader_of(bench, name=test.model, plan=bench.plan_behind(test))
    return replace(reader, region=test.region) if test.region else reader


def _own(record: Record, serial: str) -> tuple[OpenStop, ...]:
    """Stops that stand of this unit, those of the bench it was on left out."""
    return tuple(stop for stop in open_stops(record) if stop.serial.casefold() == serial.casefold())


def _entry(bench: Bench, uid: str) -> TestRecord:
    if len(uid) != UID_LENGTH:
        raise RefusedError(404, "There is no such entry in the record.")
    try:
        with bench.read_record() as record:
            return entry(record, uid)
    except UserError as error:
        if any(problem.key == "entry" for problem in error.problems):
            raise RefusedError(404, "There is no such entry in the record.") from None
        raise


def show_entry(bench: Bench, request: Request) -> Response:
    """One entry in full, and where to go from it."""
    pairs = _pairs(request)
    form = Form.of(pairs, bench.system)
    entry = _entry(bench, pairs.get("uid", ""))
    test = entry.test
    model = bench.model_of(test)
    with bench.read_record() as record:
        stood = open_stops(record, serial=entry.serial, place=place_of(form))
        past, every = unit_stops(record, entry.serial), history(record, entry.serial, 200)
    own = tuple(item for item in stood if item.serial.casefold() == entry.serial.casefold())
    act = act_of_test(test)
    readings, results = entry_facts(test, form.system, bool(own), bench.bases)
    by_others = _beside(own, open_stops_for(bench, form.having(serial=entry.serial)))
    context = common(bench, form, "/entry") | {
        "entry": entry,
        "line": record_line(
            entry, form.system, stopped_units(own), {entry.serial.casefold(): past}, bench.bases
        ),
        "notices": notices(own),
        "cautions": cautions(),
        "stood": standing_stops(own),
        "bench_wide": any(item.holds_the_bench for item in by_others)
        or any(item.is_of_the_bench for item in own),
        "stopped_by_others": by_others,
        "reader": _reader_of_test(bench, test),
        "unit_stops": past,
        "past": past_facts(past, form.system),
        "moment": moment,
        "recorded": next((one for one in ("stopped", "released") if pairs.get(one) == "yes"), ""),
        "readings": readings,
        "results": results,
        "basis_note": basis_note(test, bench.bases),
        "written": input_facts(test),
        "seen": _sight_answers(entry),
        "odd": [
            *(in_units(one, form.system) for one in past.unread(entry)),
            *adverse_words(test, form.system),
        ],
        "saved": pairs.get("saved") == "yes",
        "act": act,
        "part_tests": part_tests(bench, every, past),
        "times_in_doubt": times_in_doubt(bench, every, past),
        "next_unit": _next_unit(form).query(),
        "again": "",
        "causes": (),
        "next_burners": [],
        "plan": None,
        "of_slip": _of_slip(own, entry),
        "hours": HOURS,
        "correction": ""
        if model is None or not entry.is_current
        else refilled(entry, model.key, form).query(),
        "watched": sights(),
        "stop_keys": stop_keys() if pairs.get("saved") == "yes" else (),
        "stop_query": _same_unit(bench, form, entry, "" if model is None else model.key).query(),
        "here": f"/entry?uid={entry.uid}&",
    }
    if not (stood or by_others):
        context |= _ways_on(bench, form, entry, act, is_released=pairs.get("released") == "yes")
    context["other_system"] = f"/entry?uid={entry.uid}&{form.in_system(_second_system(form)).query()}"
    return HTMLResponse(page("entry", **context))


def _of_slip(stood: Sequence[OpenStop], entry: TestRecord) -> list[StopNotice]:
    """Stops of a current entry that the correction of a figure typed wrong ends, each once."""
    typed = (one for one in stood if typed_quantities(one.notice.id) and entry.is_current)
    return list(notices(one for one in typed if one.entry == entry.uid))


def _next_unit(form: Form) -> Form:
    """The form of the next unit: by a plan from its first burner; without one the same burner of every unit."""
    kept = form.kept()
    return kept.having(burner="") if kept.get("plan") else kept


def _ways_on(bench: Bench, form: Form, entry: TestRecord, act: str, *, is_released: bool) -> dict[str, Any]:
    """Where an entry leads while no stop stands: to its cause where it asks for an act, else to what is read next."""
    model = bench.model_of(entry.test)
    same = _same_unit(bench, form, entry, "" if model is None else model.key)
    typed = {one.name: one.text for one in entry.test.inputs}
    alike = same.having(method=MANOMETER) if typed.get("method") == MANOMETER else same
    again = alike.query() if model is not None and (act or is_released) else ""
    if act:
        causes = () if model is None else _causes(bench, form, entry, model.key)
        return {"again": again, "causes": causes}
    return {
        "again": again,
        "next_burners": _next_burners(bench, form, entry),
        "plan": plan_view(bench, same),
    }


def _beside(own: tuple[OpenStop, ...], stops: tuple[NamedStop, ...]) -> tuple[NamedStop, ...]:
    """Stops that stand besides the recorded ones of the unit of an entry, which its page shows in full."""
    ids = {stop.entry for stop in own}
    return tuple(
        stop for stop in stops if not stop.is_recorded or not any(uid in stop.address for uid in ids)
    )


def _same_unit(bench: Bench, form: Form, entry: TestRecord, model: str) -> Form:
    """The form of another test of the unit and burner of an entry, by its plan."""
    burner = named_burner(entry.test) or ""
    plan = bench.plan_behind(entry.test)
    ids = {one.plan_row for one in entry.test.plan_entries}
    row = None if plan is None else next((one for one in plan.rows if one.id in ids), None)
    which = entry.test.input_text("which")
    return form.kept().having(
        serial=entry.serial,
        model=model,
        burner=burner,
        which=which,
        tester=entry.test.tester,
        plan=form.get("plan") or entry.test.input_text("plan") if plan is None else plan.number,
        plan_state="" if row is None else row.state,
    )


def _causes(bench: Bench, form: Form, entry: TestRecord, model: str) -> tuple[CauseLine, ...]:
    """The likeliest causes of a reading outside its band, as its finding had them; none where it says nothing now."""
    values = bench.read(refilled(entry, model, form), "unit", "measure")
    test = bench.test_of(values)
    pressure = None if test is not None else bench.pressure_of(values)
    found = test or pressure
    if found is None or found.explanation is None:
        return ()
    of_unit = None if test is None else unit_explanation(bench, values.form, test)
    explanation = of_unit.explanation if of_unit is not None and of_unit.fits else found.explanation
    basis = rated_basis(found.model.appliance)
    return cause_lists(explanation, form.system, basis.of_gross, is_off=True).likely


def _second_system(form: Form) -> Any:
    return "US" if form.system == "metric" else "metric"


def _sight_answers(entry: TestRecord) -> list[tuple[str, str, bool]]:
    by_name = sights()
    return [
        (
            observation_words(observation.name),
            observation.answer,
            observation.name in by_name and observation.answer == by_name[observation.name].expected,
        )
        for observation in entry.test.observations
    ]


def _next_burners(bench: Bench, form: Form, entry: TestRecord) -> list[tuple[str, str]]:
    """Burners of this unit that have no current entry, with the address that tests them."""
    model = bench.model_of(entry.test)
    if model is None:
        return []
    with bench.read_record() as record:
        missing = untested(bench, history(record, entry.serial, 200))
    start = _same_unit(bench, form, entry, model.key).having(plan_state="")
    return [
        (each.words, f"/?{start.having(burner=each.name, which=each.which_words).query()}")
        for each in missing
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRow:
    """One burner on the test sheet of a unit."""

    burner: str
    line: RecordLine
    rating: str
    measured: str
    band: str
    spread: str
    flue: tuple[str, ...]  # carbon monoxide at each rate with its limit
    manifold: str


def show_sheet(bench: Bench, request: Request) -> Response:
    """The test sheet of a unit, to print: the newest entry of every burner, what was not tested, the cautions."""
    pairs = _pairs(request)
    form = Form.of(pairs, bench.system)
    serial = pairs.get("serial", "")
    with bench.read_record() as record:
        every = history(record, serial, 200) if serial else ()
        stood = _own(record, serial)
        past = unit_stops(record, serial)
    serial = every[0].serial if every else serial
    done = tested_burners(every)
    if not done:
        raise RefusedError(404, "No current test at full of a unit of this serial number is in the record.")
    entries = [each for each in every if each.is_current]
    newest = next(iter(done.values())).test
    counts = burners_of_model(bench, every)
    names = list(counts)
    order = sorted(done, key=lambda at: (names.index(at[0]) if at[0] in names else len(names), at[1]))
    of_unit = [UnitBurner(name=name, which=which, count=counts.get(name, 1)) for name, which in order]
    seen = answers_of(every)
    of_flame = [
        *of_unit,
        *(UnitBurner(name=n, which=w, count=counts.get(n, 1)) for n, w in seen if (n, w) not in done),
    ]
    context = common(bench, form, "/sheet") | {
        "stop_keys": stop_keys(),
        "stop_query": form.kept().having(serial=serial).query(),
        "query": form.kept().query(),  # the address of each link names the unit itself
        "serial": serial,
        "newest": newest,
        "entries": entries,
        "rows": [
            row
            for each in of_unit
            for row in _sheet_rows(each, every, form.system, stopped_units(stood), bench.bases)
        ],
        "notices": notices(stood),
        "stopped_by_others": recorded_stops_of_other_units(bench, form.having(serial=serial)),
        "reader": _reader_of_test(bench, newest),
        "unit_stops": past,
        "basis": basis_of(newest, bench.bases).word,
        "basis_note": basis_note(newest, bench.bases),
        "rating_notes": _rating_notes(bench, newest),
        "shown": _displays(bench, serial),
        "past": past_facts(past, form.system) + corrected_facts(every, form.system),
        "earlier": earlier_facts(bench, every, past, form.system),
        "unread": _unread(bench, every, past, form.system),
        "findings": unit_findings(bench, every, past, is_stopped=bool(stood)),
        "part_tests": part_tests(bench, every, past),
        "times_in_doubt": times_in_doubt(bench, every, past),
        "missing": [each.words for each in untested(bench, every)],
        "coverage": coverage(bench, every),
        "acts": _range_acts(every),
        "seen": _seen_of(bench, newest, of_flame, seen),
        "instruments": list(dict.fromkeys(item for entry in entries for item in entry.test.instruments)),
        "cautions": _cautions_of(bench, [item.test for item in entries]),
        "moment": moment,
        "testers": ", ".join(dict.fromkeys(clean(item.test.tester) for item in entries)),
    }
    context["other_system"] = f"/sheet?{form.in_system(_second_system(form)).having(serial=serial).query()}"
    return HTMLResponse(page("sheet", **context))


def _rating_notes(bench: Bench, test: BenchTest) -> tuple[str, ...]:
    """What the ratings of a test are where they are not those of the file: at its altitude, on its gas."""
    model = bench.model_of(test)
    if model is None:
        return ()
    limits = model.appliance.limits
    altitude, couple = limits.rating_share, limits.couple_factor
    return (
        *(
            (f"Ratings at the altitude of the unit: {100 * altitude:.1f} % of those of the file.",)
            if altitude != 1.0
            else ()
        ),
        *(
            (
                f"Ratings on this gas, by the orifices of the first: {100 * couple:.1f} % of those of the file.",
            )
            if couple != 1.0
            else ()
        ),
    )


def _cautions_of(bench: Bench, tests: Sequence[BenchTest]) -> tuple[Caution, ...]:
    """The cautions of the paper of some tests, by their gases; all of them where the bench does not know a gas."""
    models = [(bench.model_of(test), test.gas) for test in tests]
    known = [model for model, gas in models if model is not None and model.appliance.supply.gas.name == gas]
    return cautions() if len(known) < len(models) else cautions_on("sheet", *caution_occasions(known))


def _range_acts(entries: Sequence[TestRecord]) -> list[tuple[str, str]]:
    """Burners whose newest manifold pressure is outside its band, each with what it asks for."""
    newest: dict[str, str] = {}
    for each in entries:
        if each.is_current and result_of(each.test, MANIFOLD) is not None:
            newest.setdefault(record_line(each, "metric").burner, range_act_of(each.test))
    return [(name, act) for name, act in newest.items() if act]


def _sheet_rows(
    tested: UnitBurner, entries: Sequence[TestRecord], system: System, stopped: frozenset[str], bases: Bases
) -> Iterator[SheetRow]:
    """A burner at full rate, cold and hot where its plan has both, and turned low; each carbon monoxide in its own row.

    entries : of the unit, the newest first
    """
    heat = heat_inputs_of(entries, tested.name, tested.which)
    flue = _flue_by_row(list(heat), carbon_monoxide_of(entries, tested.name, tested.which), system)
    for (state, rate), each in heat.items():
        pressure = pressure_of(entries, tested.name, tested.which, state)
        row = _sheet_row(tested, each, rate, system, stopped, bases)
        at = AT_LOW_RATE if rate else f", {STATE_WORDS[state]}" if state else ""
        unread = "-" if rate else "not read"  # turned low no row asks for it
        why = "" if rate else why_no_pressure(entries, tested.name, tested.which, state)
        unread = NO_PRESSURE.format(why=why) if why else unread
        manifold = unread if pressure is None else figure(MANIFOLD, pressure, system)
        yield replace(row, burner=tested.words + at, flue=flue.get((state, rate), ()), manifold=manifold)


def _flue_by_row(
    rows: Sequence[tuple[StateOfTest, str]], reads: Sequence[CarbonMonoxideRead], system: System
) -> dict[tuple[StateOfTest, str], tuple[str, ...]]:
    """The carbon monoxide of a burner in the row of its state, else of its rate, else in the first.

    rows : states of the sheet, with what stands before the names of their figures: nothing at full rate
    """
    by_row: dict[tuple[StateOfTest, str], tuple[str, ...]] = {}
    for read in reads:
        of_rate = [row for row in rows if (row[0] == "low" or bool(row[1])) == (read.rate == "low")]
        of_state = [row for row in of_rate if row[0] == read.state]
        for row in (*of_state, *of_rate, *rows)[:1]:
            by_row[row] = (*by_row.get(row, ()), read.words(system))
    return by_row or dict.fromkeys(rows[:1], ("not read",))


def _sheet_row(
    tested: UnitBurner, entry: TestRecord, rate: str, system: System, stopped: frozenset[str], bases: Bases
) -> SheetRow:
    """The heat input of an entry; rate : before the names of its figures."""
    name = tested.name
    by_quantity = {part.quantity: part for part in entry.test.results if part.burner == name}
    read = {part.quantity: part.value for part in entry.test.readings if part.burner == name}
    basis, heat = basis_of(entry.test, bases), by_quantity.get(f"{rate}heat_input_gross")

    def on_basis(quantity: str, value: float | None) -> str:
        return "not read" if value is None else figure(quantity, value * basis.of_gross, system)

    off = by_quantity.get(f"{rate}deviation")
    band = "not evaluated"
    if off is not None and off.low is not None and off.high is not None:
        band = f"{100 * off.low:+g} to {100 * off.high:+g} %".replace("-", "\N{MINUS SIGN}")
    spread = off.expanded_uncertainty if off is not None else None
    return SheetRow(
        burner=tested.words,
        line=record_line(entry, system, stopped),
        rating=on_basis("rating_gross", read.get(f"{rate}rating_gross")),
        measured="-" if heat is None else on_basis("heat_input_gross", heat.value),
        band=band,
        spread="" if spread is None else f"± {100 * spread:.1f} %",
        flue=(),
        manifold="",
    )


def _seen_of(
    bench: Bench,
    test: BenchTest,
    burners: Sequence[UnitBurner],
    seen: Mapping[tuple[str, int], Mapping[str, str]],
) -> list[tuple[str, dict[str, list[str]]]]:
    """What was seen of each burner of the model of a test."""
    model = bench.model_of(test)
    every = () if model is None else model.appliance.burners
    tileless = {one.name for one in every if not one.kind.traits.is_radiant}
    return [
        (each.words, _answers(seen.get((each.name, each.which), {}), each.name in tileless))
        for each in burners
    ]


def _answers(answers: Mapping[str, str], has_no_tile: bool) -> dict[str, list[str]]:
    """What was seen of a burner: as required, not as required, not looked at; of one without a tile no glow is."""
    by_kind: dict[str, list[str]] = {"odd": [], "wanted": [], "open": []}
    for name, sight in sights().items():
        answer = answers.get(name, "not seen")
        words = observation_words(name)
        if answer == "not seen" and has_no_tile and name == TILE_GLOW:
            continue
        if answer == "not seen":
            by_kind["open"].append(words)
        elif answer == sight.expected:
            by_kind["wanted"].append(f"{words}: {answer}")
        else:
            by_kind["odd"].append(f"{words}: {answer}")
    return by_kind


def show_chart(bench: Bench, request: Request) -> Response:
    """The chart of the last units of a model, and its figures as a table."""
    pairs = _pairs(request)
    form = Form.of(pairs, bench.system)
    last = _number(pairs.get("last", ""), 1, LAST_UNITS[-1], LAST_UNITS[1])
    trouble, chart, alt = "", None, ""
    with bench.read_record() as record:
        model_names = models(record)
        model = pairs.get("of") or (model_names[0] if model_names else "")
        burner_names = burners(record, model, "deviation") if model in model_names else ()
        burner = pairs.get("at") or (burner_names[0] if burner_names and "" not in burner_names else "")
        burner = "" if burner == burner_words("") else burner
        if model_names:
            try:
                chart = bench.chart(record, model, burner, last)
            except UserError as error:
                trouble = "; ".join(problem.text() for problem in error.problems)
    if chart is not None:
        from burnerlab.report.figures.control_chart import chart_unit, description

        alt = description(chart, chart_unit(chart, form.system))
    context = common(bench, form, "/chart") | {
        "stop_keys": stop_keys(),
        "stopped_by_others": open_stops_for(bench, form),
        "known": model_names,
        "chosen": model,
        "here": [burner_words(name) for name in burner_names],
        "burner": burner_words(burner),
        "last": last,
        "lasts": LAST_UNITS,
        "chart": chart,
        "alt": alt,
        "trouble": trouble,
        "figure": figure,
        "moment": moment,
    }
    return HTMLResponse(page("chart", **context), 422 if trouble else 200)


def show_drawing(bench: Bench, request: Request) -> Response:
    """The chart as an SVG."""
    pairs = _pairs(request)
    form = Form.of(pairs, bench.system)
    burner = pairs.get("at", "")
    last = _number(pairs.get("last", ""), 1, LAST_UNITS[-1], LAST_UNITS[1])
    try:
        with bench.read_record() as record:
            chart = bench.chart(
                record, pairs.get("of", ""), "" if burner == burner_words("") else burner, last
            )
    except UserError as error:
        raise RefusedError(404, "; ".join(problem.text() for problem in error.problems)) from None
    try:
        svg = bench.draw(chart, form.system, pairs.get("narrow") == "yes")
    except ImportError:
        raise RefusedError(
            404, 'A drawing needs the plotting library: pip install "burnerlab[sheet]"'
        ) from None
    return Response(svg, media_type="image/svg+xml", headers={"content-security-policy": DRAWING_POLICY})


def download(bench: Bench, request: Request) -> Response:
    """The whole record as a file."""
    ending = request.path_params["ending"]
    if ending not in TYPES:
        raise RefusedError(404, "The record leaves as CSV, XLSX or JSON.")
    if not bench.exporting.acquire(blocking=False):
        raise RefusedError(
            429, "The record is being copied already. Wait a moment, then ask for it once more."
        )
    try:
        with bench.read_record() as record:
            file = exported(record, ending)
    except ImportError:
        raise RefusedError(404, 'A workbook needs another library: pip install "burnerlab[sheet]"') from None
    finally:
        bench.exporting.release()
    headers = {"content-disposition": f'attachment; filename="bench-record.{ending}"'}
    return Response(file, media_type=TYPES[ending], headers=headers)
