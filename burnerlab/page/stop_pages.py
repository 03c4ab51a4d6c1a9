"""STOP: the page that takes the place of every step, the record of it, an entry that was wrong, the release."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator
from dataclasses import replace

from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from burnerlab.appliance.project.model import Appliance
from burnerlab.bench.bench_air import OF_WEATHER_REPORT
from burnerlab.bench.record import (
    OpenStop,
    Record,
    entry,
    history,
    notices,
    open_record,
    open_stops,
    release,
    sights,
)
from burnerlab.bench.record.checks import NEVER_A_SLIP, words_problem
from burnerlab.bench.record.leak_stop import leak_of_release, recorded_working_Pa
from burnerlab.bench.record.release_statements import (
    NOT_KNOWN,
    OF_LEAK,
    dial_of,
    is_cylinder_supply,
    leak_words,
    statement_problems,
    watch_minutes,
)
from burnerlab.bench.record.store import minutes_since
from burnerlab.bench.stop import StopNotice, stop_notice, stop_rows
from burnerlab.bench.unit import working_pressure_on_Pa, working_pressure_Pa
from burnerlab.page.bench_state import Bench, new_once
from burnerlab.page.form import (
    BARE,
    HELD_SHUT,
    LONGEST_REASON,
    LONGEST_SLIPS,
    LONGEST_TEXT,
    MANIFOLD_FIELD,
    MOVES,
    NOT_LIT,
    NOTHING,
    OTHER_PLACE,
    OTHER_SUPPLY,
    RELEASED,
    ROOMS,
    SEEN,
    SLIP,
    UNIT_OF,
    YES,
    Field,
    Form,
    FormValues,
    RefusedError,
    Step,
    fields,
    gas_title,
    input_words,
    pairs_of,
    release_fields,
    slips_of,
    words,
)
from burnerlab.page.heat_input_test import HeatInputTest, low_rate_note
from burnerlab.page.orifice_marks import MARK_DIFFERS, MARK_FIELDS
from burnerlab.page.other_place import at_other_place, place_errors
from burnerlab.page.progress import (
    CONFLICT,
    METER_TURNS,
    NOT_KEPT,
    OVERPRESSURE,
    STOP_KEYS,
    UNUSABLE,
    common,
    is_seen,
    posted,
    sight_answer,
    stop_keys,
)
from burnerlab.page.render import page
from burnerlab.page.result_text import in_units, record_line
from burnerlab.page.stop_names import room_stops, standing_stops
from burnerlab.report.sheet.blocks import pressure
from burnerlab.report.sheet.wording import clean
from burnerlab.tables.problem import UserError

EVERY: tuple[Step, ...] = ("unit", "measure", "flame")
AT_FLAME = ("co-high",)
NO_SLIP = "Does not name the slip: write what was wrong, such as read the line below"
NO_STOP = "No stop of this entry stands."


def halted(
    bench: Bench, form: Form, *steps: Step, status: int = 200, elsewhere: FormValues | None = None
) -> HTMLResponse | None:
    """The page of STOP, when a stop stands or the entries of these steps raise one; None when the step may be shown.

    A stop that was shown stands although the entries raise it no longer: its own form is shown again.
    A correction lights nothing: only what it raises itself stops it.
    """
    raised = bench.raised(form, *steps)
    earlier = bench.unrecorded.worst(form, raised)
    if earlier is not None and not earlier.is_of(form):
        elsewhere = elsewhere or FormValues(form, {}, {})
    if earlier is not None:
        form, raised = earlier.form, bench.raised(earlier.form, *EVERY)
    if not raised and not _standing(bench, form):
        return None
    return _stop_page(bench, form, raised, status=status, elsewhere=elsewhere)


def _standing(bench: Bench, form: Form) -> tuple[OpenStop, ...]:
    return () if form.get("corrects") else bench.standing(form)


def _stop_page(
    bench: Bench,
    form: Form,
    raised: tuple[StopNotice, ...],
    values: FormValues | None = None,
    trouble: str = "",
    status: int = 200,
    elsewhere: FormValues | None = None,
) -> HTMLResponse:
    stood, serial = _standing(bench, form), form.get("serial").casefold()
    own = {stop.notice.id for stop in stood if stop.serial.casefold() == serial}
    is_new = not {stop.id for stop in raised} <= own
    displayed = raised if is_new else notices(stood)
    form = form if form.get("once") else form.having(once=new_once())
    if is_new:
        bench.unrecorded.add(form, raised)
    has_model = form.get("model") in bench.models
    measured = bench.figures(bench.read(form, "unit", "measure"), "measure")[0]
    errors = {} if values is None else values.errors
    needed = [fields()[name] for name in ("serial", "tester") if name in errors or not form.get(name)]
    context = common(bench, form, "/stop") | {
        **({} if is_new else _stopped_burner(bench, stood, form)),
        "notices": displayed,
        "is_new": is_new,
        "slips": () if measured is None else tuple(_likely_slips(measured)),
        "other_plan": _other_plan_words(bench, form, displayed),
        "can_be_wrong": is_new and not any(stop.id in NEVER_A_SLIP for stop in raised),
        "corrected": _corrected_address(bench, form, raised) if is_new else "",
        "stood": standing_stops(stood),
        "is_elsewhere": elsewhere is not None,
        "other_place": OTHER_PLACE,
        "other_supply": OTHER_SUPPLY,
        "held_shut": HELD_SHUT,
        "rooms": ROOMS,
        "is_room_held": bool(room_stops(bench, form)),
        "place_errors": {} if elsewhere is None else elsewhere.errors,
        "place_form": Form(tuple((elsewhere.values if elsewhere else {}).items()), form.system),
        "place_typed": {} if elsewhere is None else elsewhere.values,
        "bench_wide": any(stop.scope == "bench" for stop in displayed),
        "token": bench.gate.token,
        "errors": errors,
        "needed": needed,
        "models": () if has_model else bench.models.values(),
        "trouble": trouble,
        "hidden": [(name, text) for name, text in form.texts if has_model or name != "model"],
        "stop_keys": stop_keys(),
        "is_stop": True,
    }
    return HTMLResponse(page("stop", **context), status)


OTHER_PLAN = (
    "Plan {number} of this bench is for {model} on {gas} with the same orifices: to test on this gas, a qualified "
    "person fits the regulator of that plan and sets {pressure}. No orifice is changed."
)


def _other_plan_words(bench: Bench, form: Form, displayed: tuple[StopNotice, ...]) -> str:
    """The plan for the gas that a label names, where the orifices are its own: another gas of a couple; "" for none."""
    model = bench.models.get(form.get("model"))
    own = None if model is None else model.plan_of(form)
    if own is None or all(notice.id != "other-gas" for notice in displayed):
        return ""
    for plan in bench.plans.values():
        is_of_couple = (plan.model, plan.change.orifices) == (own.model, own.change.orifices)
        if plan.gas == form.get("supply_label") != own.gas and is_of_couple and not plan.refusal:
            at_Pa = plan.change.gauge_pressure_Pa
            words = pressure(at_Pa).inline(at_Pa, form.system)
            return OTHER_PLAN.format(
                number=plan.number, model=plan.model, gas=gas_title(plan.gas), pressure=words
            )
    return ""


def _likely_slips(measured: HeatInputTest) -> Iterator[str]:
    """Entries that would raise the stop of a unit in order, next to the way back to them."""
    note = low_rate_note(measured)
    if note:
        yield f"{note[:1].upper()}{note[1:]}."
    if measured.air.is_like_weather_report:
        yield OF_WEATHER_REPORT


def _corrected_address(bench: Bench, form: Form, raised: tuple[StopNotice, ...]) -> str:
    """The entry that was wrong, made again with its reason and left before it was saved; "" for none."""
    ids = {notice.id for notice in raised}
    for stop in bench.unrecorded.every():
        if (
            stop.corrected is not None
            and stop.notice.id in ids
            and input_words(stop.form) == input_words(form)
        ):
            return f"{_where(raised, form)}?{stop.corrected.query()}" if stop.is_of(form) else ""
    return ""


def _stopped_burner(bench: Bench, stood: tuple[OpenStop, ...], form: Form) -> dict[str, str]:
    """What a stop of the record was read of, where a form names its unit and no burner yet."""
    own = [stop for stop in stood if stop.serial.casefold() == form.get("serial").casefold()]
    if form.get("burner") or not own:
        return {}
    with bench.read_record() as record:
        return {"burner_words": record_line(entry(record, own[0].entry), form.system).burner}


def another_place(bench: Bench, request: Request) -> Response:
    """Work at a place on another gas supply: without the name of that supply, every stop of the bench stands.

    While gas may be in the room of a stop, the place is stated to be apart from it, in the record of every test there.
    Extraction and alarm are answered anew at it.
    """
    pairs = pairs_of(request.scope["query_string"].decode("latin-1"))
    form = Form.of({name: text for name, text in pairs.items() if name == "units"}, bench.system)
    rooms = [stop.place for stop in room_stops(bench, form)]
    held = [*rooms, *(stop.place for stop in bench.standing(form))]
    errors = place_errors(pairs, held, is_room=bool(rooms))
    if errors:
        typed = FormValues(form, dict(pairs), errors)
        if bench.standing(form):
            return _stop_page(bench, form, (), status=UNUSABLE, elsewhere=typed)
        stopped = halted(bench, form, status=UNUSABLE, elsewhere=typed)
        return stopped or RedirectResponse(f"/?{form.query()}", 303)
    there = at_other_place(form, pairs, rooms)
    bench.forget_air(there.get("place"))
    return RedirectResponse(f"/?{there.query()}", 303)


def stop(bench: Bench, request: Request) -> Response:
    """What was seen, heard or smelled at any step: what to do now, and the button that records it."""
    pairs = pairs_of(request.scope["query_string"].decode("latin-1"))
    form = Form.of(pairs, bench.system)
    if pairs.get("stop") == METER_TURNS:
        form = form.having(meter_at_rest=MOVES)
    elif pairs.get("stop") == OVERPRESSURE:
        form = form.having(pressure_above=YES)
    elif pairs.get("stop") in STOP_KEYS:
        form = form.having(**sight_answer(pairs["stop"], form))
        if (
            pairs.get("from") == "unit" and form.get("plan_state") != "hot"
        ):  # else it burns from the row before
            form = form.having(**{NOT_LIT: YES})
    return halted(bench, form, *EVERY) or RedirectResponse(f"/?{form.query()}", 303)


def keep_stop(bench: Bench, body: str) -> Response:
    """Record the test as stopped, with everything that was read."""
    form = Form.of(posted(bench, body), bench.system)
    raised = bench.raised(form, *EVERY)
    if not raised:
        return RedirectResponse(f"/stop?{form.query()}", 303)
    values = bench.read(_cut(form), *EVERY, "save", "stop")
    wrong: dict[str, str] = {
        name: values.errors[name] for name in ("model", "serial", "tester", "reason") if name in values.errors
    }
    if wrong:
        values.errors = wrong
        return _stop_page(bench, form, raised, values, status=UNUSABLE)
    test, flue = bench.figures(values, *EVERY)
    try:
        uid = bench.save(values, test, flue)
    except UserError as error:
        said = "; ".join(words(problem) for problem in error.problems)
        status = CONFLICT if any(problem.key == "corrects" for problem in error.problems) else NOT_KEPT
        return _stop_page(bench, form, raised, values, said, status)
    bench.unrecorded.recorded(form, [notice.id for notice in raised])
    return RedirectResponse(f"/entry?uid={uid}&stopped=yes&{form.kept().query()}", 303)


def _cut(form: Form) -> Form:
    """The form with no text longer than the record takes: a stop is not refused for its note."""
    by_name, identity = fields(), ("serial", "tester", "reason")
    cut = {name: text[: by_name[name].longest] for name, text in form.texts if name not in identity}
    names = [name.strip()[:LONGEST_TEXT] for name in form.get("instruments").split(",")]
    return form.having(**cut | {"instruments": ", ".join(names)[: by_name["instruments"].longest]})


def wrong_entry(bench: Bench, request: Request) -> Response:
    """Why the entry that raised a stop was wrong; then the entry again. What was entered first stays."""
    pairs = pairs_of(request.scope["query_string"].decode("latin-1"))
    form = Form.of(pairs, bench.system).having(slip="")
    raised = bench.raised(form, *EVERY)
    if not raised:
        return RedirectResponse(f"/measure?{form.query()}", 303)
    if any(notice.id in NEVER_A_SLIP for notice in raised):
        return _stop_page(bench, form, raised, status=UNUSABLE)
    bench.unrecorded.add(form, raised)
    reason, errors = pairs.get("slip"), {}
    if reason:
        after = _corrected(form, raised, reason)
        if nothing_said := slip_problem(reason):
            errors["slip"] = nothing_said
        elif len(reason) > LONGEST_REASON:
            errors["slip"] = f"Is longer than {LONGEST_REASON} characters"
        elif len(after.get("slips")) > LONGEST_SLIPS:
            errors["slip"] = "Too many entries were wrong: record the test as stopped"
        else:
            bench.unrecorded.add(form, raised, corrected=after)
            return RedirectResponse(f"{_where(raised, form)}?{after.query()}", 303)
    elif reason is not None:
        errors["slip"] = "Is missing"
    model = bench.models.get(form.get("model"))
    context = common(bench, form, "/wrong") | {
        "notices": raised,
        "model_name": "" if model is None else model.name,  # one of these may be the slip
        "model_gas": "" if model is None else gas_title(model.appliance.supply.gas.name),
        "read": input_words(form),
        "errors": errors,
        "reason": Form((("slip", reason or ""),), form.system),
    }
    return HTMLResponse(page("wrong", **context), UNUSABLE if errors else 200)


def slip_problem(reason: str) -> str:
    """Why a reason does not name the slip; "" for one that does, in words or with the figures.

    >>> slip_problem("x"), slip_problem("thumb slipped"), slip_problem("161 not 1610")
    ('Does not name the slip: write what was wrong, such as read the line below', '', '')
    """
    has_figures = sum(letter.isdigit() for letter in reason) > 1
    return "" if has_figures or not words_problem(reason, "cause") else NO_SLIP


def _corrected(form: Form, raised: tuple[StopNotice, ...], reason: str) -> Form:
    """The form with the slip beside it, and without the answers that raised a stop by being seen or read."""
    before = [[item[name] for name in SLIP] for item in slips_of(form)]
    read = input_words(form)
    more = [
        [item.id, clean(f"{item.heading} {item.why}", LONGEST_REASON + 200), read, reason] for item in raised
    ]
    ids, by_name = {item.id for item in raised}, sights()
    gone = {
        name: ""
        for name, _ in form.texts
        if name.startswith(SEEN) and by_name[name.removeprefix(SEEN)].stop in ids
    }
    if "other-gas" in ids:
        gone["supply_label"] = ""
    if MARK_DIFFERS in ids:
        gone |= dict.fromkeys(MARK_FIELDS, "")
    if METER_TURNS in ids:
        gone["meter_at_rest"] = ""
    if OVERPRESSURE in ids:
        gone["pressure_above"] = ""
    return form.having(slips=json.dumps([*before, *more], ensure_ascii=False), **gone)


def _where(raised: tuple[StopNotice, ...], form: Form) -> str:
    """The step at which the entry that was wrong is made again."""
    ids = {notice.id for notice in raised}
    if NOTHING.fullmatch(form.get(MANIFOLD_FIELD)):
        return "/measure"
    if ids & {"other-gas", MARK_DIFFERS}:
        return "/"
    return "/flame" if all(is_seen(notice) or notice in AT_FLAME for notice in ids) else "/measure"


def release_page(bench: Bench, request: Request) -> Response:
    """What a qualified person says to end the stops of an entry."""
    pairs = pairs_of(request.scope["query_string"].decode("latin-1"))
    return _release_page(bench, pairs, {})


def _release_page(
    bench: Bench, pairs: dict[str, str], errors: dict[str, str], trouble: str = "", status: int = 200
) -> HTMLResponse:
    form = Form.of(pairs, bench.system)
    with bench.read_record() as record:
        stood = tuple(item for item in open_stops(record) if item.entry == pairs.get("entry"))
    if not stood:
        raise RefusedError(404, NO_STOP)
    kinds = {item.notice.id for item in stood}
    fields_of = release_fields(kinds)
    typed = {item.name: _statement(item, pairs, form) for item in fields_of.values()}
    if "meter_dial" in fields_of and METER_DIAL not in pairs:
        typed[METER_DIAL] = _dial_of_unit(bench, stood[0].entry, form)
    statements = tuple(_release_fields(bench, stood, form, typed.get(METER_DIAL, "")))
    context = common(bench, form, "/release") | {
        "stood": stood,
        "notices": notices(stood),
        "shown": standing_stops(stood),
        "uid": stood[0].entry,
        "statements": statements,
        "leak": stop_notice("odour"),
        "of_leak": [RELEASED + name for name in ("gas_at_joints", "meter_moved")],
        "typed": Form(tuple((name, text) for name, text in typed.items() if text), form.system),
        "errors": errors,
        "names": {item.name: item for item in statements},
        "trouble": trouble,
        "token": bench.gate.token,
        "other_system": f"/release?entry={stood[0].entry}&{form.query()}",
    }
    return HTMLResponse(page("release", **context), status)


def _release_fields(bench: Bench, stood: tuple[OpenStop, ...], form: Form, dial: str) -> Iterator[Field]:
    """What a release states; the hints of its leak test with the pressure of the supply and the minutes of a dial."""
    kinds = {item.notice.id for item in stood}
    working_Pa = _working_Pa(bench, stood[0].entry, kinds) if not OF_LEAK.isdisjoint(kinds) else None
    dial_m3 = dial_of(dial)
    with bench.read_record() as record:
        since_min = _minutes_since(record, stood[0].entry)
    for field in release_fields(kinds).values():
        hint = in_units(field.hint, form.system)
        if field.name == f"{RELEASED}test_pressure_start" and working_Pa is not None:
            hint = WORKING.format(pressure=pressure(working_Pa).inline(working_Pa, form.system))
        elif field.name == f"{RELEASED}stop_began":
            hint = f"{RECORDED.format(minutes=f'{since_min:.0f}')} {hint}"
        elif field.name == f"{RELEASED}meter_minutes" and dial_m3 is not None:
            hint = WATCHED.format(minutes=watch_minutes(dial_m3, bench.release_limits), dial=dial)
        yield replace(field, hint=hint, hint_US="")


def _minutes_since(record: Record, uid: str) -> float:
    """From the newest open stop of an entry, as it was recorded, until now [min]."""
    return min(minutes_since(record, item.uid) for item in open_stops(record) if item.entry == uid)


def _dial_of_unit(bench: Bench, uid: str, form: Form) -> str:
    """The dial as it was read at this bench, else at the tests of a stopped unit; "" where none was."""
    if form.get("dial"):
        return fields()["dial"].spelled(form.get("dial"), form.system)
    with bench.read_record() as record:
        tests = [one.test for one in history(record, entry(record, uid).serial, LAST_ENTRIES)]
    return next((one.text for test in tests for one in test.inputs if one.name == "dial"), "")


def _statement(field: Field, pairs: dict[str, str], form: Form) -> str:
    """A statement of a release as typed, a bare figure with the unit chosen beside its field."""
    typed = pairs.get(field.name, "")
    unit = pairs.get(field.name + UNIT_OF, "")
    if typed and unit in field.units(form.system) and BARE.fullmatch(typed):
        return f"{typed} {unit}"
    return field.spelled(typed, form.system)


def _working_Pa(bench: Bench, uid: str, kinds: Collection[str]) -> float | None:
    """Working pressure of the supply that a leak test covers, gauge: of the unit; of the bench for a stop of it [Pa].

    Where the model is not on this bench, that of its record; None where that has none either.
    """
    with bench.read_record() as record:
        test, read_Pa = entry(record, uid).test, recorded_working_Pa(record, uid)
    own = bench.model_of(test)
    models = [] if own is None else [own]
    if any(stop_rows()[kind]["scope"] == "bench" for kind in kinds if kind in stop_rows()):
        models += [one for one in bench.models.values() if one.appliance.supply.gas.name == test.gas]
    works = (_working_on_Pa(one.appliance, test.gas) for one in models)
    return max((one for one in works if one is not None), default=read_Pa)


def _working_on_Pa(appliance: Appliance, gas: str) -> float | None:
    """Working pressure of a model on the gas of a test; of a model on another gas that of its markets [Pa]."""
    is_own = gas in ("", appliance.supply.gas.name)
    return working_pressure_Pa(appliance) if is_own else working_pressure_on_Pa(appliance, gas)


METER_DIAL = f"{RELEASED}meter_dial"
LAST_ENTRIES = 200  # of a unit, among which its dial is looked for
WATCHED = (
    "Supply open, after the repair: {minutes} at least with a dial of {dial}, recalled; the code comes first."
)
RECORDED = "This stop was recorded {minutes} min ago."
WORKING = (
    "After the repair, by the local code, shut off behind the regulator, no lower than the working pressure, "
    "here {pressure}"
)
START_WITH_FILE = "Start the bench with the file of the unit"


def keep_release(bench: Bench, body: str) -> Response:
    """End the stops of an entry: what was typed is recorded, and cannot be checked."""
    pairs = posted(bench, body)
    with bench.read_record() as record:
        kinds = {item.notice.id for item in open_stops(record) if item.entry == pairs.get("entry")}
    needed = release_fields(kinds)
    form = Form.of(pairs, bench.system)
    statements = {kind: _statement(item, pairs, form) for kind, item in needed.items()}
    if kinds and leak_words(statements):
        with bench.saving, open_record(bench.file) as record:
            uid = leak_of_release(record, pairs["entry"], statements)
        bench.keep_state()
        return RedirectResponse(f"/entry?uid={uid}&stopped=yes&{form.kept().query()}", 303)
    limits = bench.release_limits
    if kinds:
        uid = pairs.get("entry", "")
        with bench.read_record() as record:
            gas, since_min = entry(record, uid).test.gas, _minutes_since(record, uid)
        limits = replace(
            limits,
            working_Pa=_working_Pa(bench, uid, kinds),
            may_lack_meter=is_cylinder_supply([gas]),
            since_min=since_min,
        )
    wrong = statement_problems(statements, kinds, limits) if kinds else {}
    if limits.working_Pa is None and not OF_LEAK.isdisjoint(kinds):
        wrong.setdefault("test_pressure_start", f"{NOT_KNOWN}. {START_WITH_FILE}")
    if wrong:
        errors = {needed[kind].name: in_units(why, form.system) for kind, why in wrong.items()}
        return _release_page(bench, pairs, errors, status=UNUSABLE)
    try:
        with bench.saving, open_record(bench.file) as record:
            stops = [item.uid for item in open_stops(record) if item.entry == pairs.get("entry")]
            if not stops:
                raise RefusedError(404, NO_STOP)
            release(record, stops, limits=limits, **statements)
    except UserError as error:
        said = "; ".join(words(problem) for problem in error.problems)
        return _release_page(bench, pairs, {}, said, NOT_KEPT)
    return RedirectResponse(f"/entry?uid={pairs['entry']}&released=yes&{form.kept().query()}", 303)
