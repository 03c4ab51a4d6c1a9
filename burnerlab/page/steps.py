"""The steps of a test, from the serial number to the saved record."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from burnerlab.bench.decision_rule import act_first, bench_limit
from burnerlab.bench.earlier_readings import MENDED, NOTHING_MENDED
from burnerlab.bench.plan_results import MARK_WORDS, ORIFICE_MARKS
from burnerlab.bench.reading_plan import BY_PLAN, LONGEST_SCOPE, CarbonMonoxideLimit, Plan
from burnerlab.bench.record import UnitStops, sights, unit_stops
from burnerlab.bench.record.other_unit import PLATE, PLATE_ANSWERS
from burnerlab.bench.stop import stop_notice
from burnerlab.bench.unit import wait_note
from burnerlab.page.bench_state import Bench, new_once, plan_words, plans_words, refusal_words
from burnerlab.page.dial_time import loss_words, turn_words
from burnerlab.page.earlier_facts import ReadBefore, before_saving
from burnerlab.page.first_cause import first_cause
from burnerlab.page.form import (
    ANOTHER,
    APART,
    KIND_OF_APPLIANCE,
    MANIFOLD_FIELD,
    MANOMETER,
    NO,
    NO_TAP,
    NOTE,
    OF_FLAME,
    PHOTOGRAPHS,
    SCALE_METHOD,
    SEEN,
    SHOWN_AIR_FREE,
    TILE_GLOW,
    UNREAD,
    WHY_NO_PRESSURE,
    Form,
    FormValues,
    RefusedError,
    fields,
    group,
    slips_of,
    words,
)
from burnerlab.page.heat_input_test import ALL_BURNERS, HeatInputTest, Model, low_rate_note
from burnerlab.page.lighting import LEAK_WORDS, refusals
from burnerlab.page.manifold_pressure import (
    FOUND_NO_BAND,
    NOT_TO_FIRE,
    check_act,
    limits_words,
    lock_up_words,
    no_band_act,
    pressure_alerts,
    pressure_sizes,
    pressure_values,
    too_narrow,
    too_narrow_before,
)
from burnerlab.page.orifice_marks import ANEW, MARK_DIFFERS, WORDS_FOR_ALL, marked_burners, marks_words
from burnerlab.page.pressure_test import asks_for_pressure
from burnerlab.page.progress import CONFLICT, NOT_KEPT, UNUSABLE, WAY, common, form_of, posted, stop_keys
from burnerlab.page.record_entry import bench_test, corrected_entry, stops_of_slip
from burnerlab.page.render import page
from burnerlab.page.result_text import (
    LOW_LOCK_UP,
    STOPPED,
    CauseLists,
    air_words,
    band_drawing,
    cause_lists,
    entry_facts,
    figure,
    next_measurement,
    not_as_required,
    place_of_reading,
    power,
    power_pair,
    range_place,
    second_look,
)
from burnerlab.page.security import BODY_SECONDS, LARGEST_BODY
from burnerlab.page.stop_names import (
    is_stopped_by_other_units_only,
    open_stops_for,
    stopped_sentence,
    stops_of_other_units,
)
from burnerlab.page.stop_pages import halted
from burnerlab.page.unit_explanation import unit_explanation
from burnerlab.quantity import Kind, in_unit
from burnerlab.report.sheet.blocks import pressure
from burnerlab.report.sheet.wording import clean
from burnerlab.tables.cautions import caution, cautions
from burnerlab.tables.problem import UserError
from burnerlab.tables.verdict import Verdict

NOW_PRESSURE = (
    "Read the manifold pressure, with the burners on that the row of the plan or the job card names."
)
ALONE_LABEL = "Manifold pressure"
NOW_LOW = "Everything else off, this burner turned low: time the gas."
NOW_WEIGH = "Everything else off, this burner on full: read the manifold pressure, then weigh the cylinder."
NOW_WEIGH_LOW = "Everything else off, this burner turned low: weigh the cylinder."
NOW_WEIGH_TOGETHER = "Every burner on full: read the manifold pressure, then weigh the cylinder."
LOW_LABEL = "Manifold pressure, burner turned low"
NOW_TOGETHER = "Every burner on full: read the manifold pressure, then time the gas."
FLAME_LOW = (
    "Burner on the lowest setting of its valve: watch the flame, answer what you looked at, then read the carbon "
    "monoxide."
)
ALL_LOW = (
    "Every burner on the lowest setting of its valve: watch the flame, answer what you looked at, then read the "
    "carbon monoxide."
)
NOTHING_READ = "Nothing was looked at or read: answer what you saw of the flame, or read the carbon monoxide"
LABEL_FIRST = (
    "Burner off. Read the label of the supply at this unit again. Only when it names {gas}: light, watch the flame and "
    "answer what you looked at."
)
FOUND_LOCK_UP = "Read the pressure with every burner off against the highest of the supply, then save it."
GAS_IN_DOUBT = (
    "Burner off: read the label of the supply again. Look at the flame once it names the gas of the model."
)
FOUND_PRESSURE = "Read the pressure against its band, then look at the flame."
MODEL_ON_GAS = "{model}, on {gas}"
BY_PLAN_OF = "{model}, plan {plans}"
REASON_TO_COME = "as typed below"  # of a correction, before it is typed
AT_ONCE = "At any time: an answer of yes stops the test at once"
AT = {"full": "On full", "low": "Turned low", "when turned off": "When turned off"}


def _step_page(bench: Bench, values: FormValues, step: str, status: int = 200) -> HTMLResponse:
    """A page with a form, its errors beside their fields."""
    refused = bench.refused_plan(values.form) if step == "unit" else None
    if refused is not None:
        return _refused_page(bench, values.form, refused, status)
    current = next(item for item in WAY if item.name == step)
    shown = (PLATE, MENDED) if step == "unit" and bench.is_read_again(values.form) else ()
    of_flame = _of_flame_page(values.form) if step == "flame" else ()
    context = common(bench, values.form, current.path, step) | {
        "errors": values.errors,
        "hidden": [
            (name, text)
            for name, text in values.form.texts
            if (
                name not in (*of_flame, *shown)
                and (fields()[name].step != step or name.startswith(APART) or name == PHOTOGRAPHS.name)
            )
            or (step == "measure" and _is_of_other_rows(name, values.form.method))
        ],
    }
    context |= {"unit": _unit, "measure": _measure, "flame": _flame}[step](bench, values)
    context["now"] = _now(values.form, step) or context["now"]
    if step in ("unit", "measure") and (cause := first_cause(bench, values.form)):
        context["now"] = cause
    if step == "flame" and _is_low(bench.test_of(values)):
        context["now"] = LABEL_FIRST.format(gas=_gas(bench.model(values.form)))
    return HTMLResponse(page(step, **context), status)


def _is_of_other_rows(name: str, method: str) -> bool:
    """Whether a reading of the bench has no field on the page of a way of measuring: it stays for the next row."""
    field = fields()[name]
    is_shown = field.is_of(method) and (method != MANOMETER or name == "instruments")
    return field.step == "measure" and field.is_kept and not is_shown


def _now(form: Form, step: str) -> str:
    """What to do at a step, where that depends on the burner, its rate and what is read; "" for what the way says."""
    is_all = form.get("burner") == ALL_BURNERS
    if step == "measure":
        if form.method == MANOMETER:
            return NOW_PRESSURE
        if form.method == SCALE_METHOD:
            return (
                NOW_WEIGH_LOW if form.is_low and not is_all else NOW_WEIGH_TOGETHER if is_all else NOW_WEIGH
            )
        return NOW_LOW if form.is_low and not is_all else NOW_TOGETHER if is_all else ""
    if step == "flame" and form.is_of_flame and form.is_low:
        return ALL_LOW if is_all else FLAME_LOW
    return ""


def _of_flame_page(form: Form) -> tuple[str, ...]:
    """Readings that the page of the flame needs, where no page of readings stands before it."""
    if not form.is_of_flame:
        return ()
    return tuple(
        name for name in OF_FLAME if name == "instruments" or (name == "low_rate" and not form.get("plan"))
    )


def _refused_page(bench: Bench, form: Form, plan: Plan, status: int) -> HTMLResponse:
    """That no unit of a plan is lit, in the place of its form: before anything is filled in, and nothing else to do."""
    context = common(bench, form, "/") | {"stop_keys": stop_keys()}
    context |= {
        "refused_plan": plan,
        "burners": [name for name, _ in plan.change.refused],
        "others": list(_other_tests(bench, form)),
    }
    return HTMLResponse(page("refused", **context), status)


def _other_tests(bench: Bench, form: Form) -> Iterator[tuple[str, str, str, str]]:
    """What may be tested in the place of a refused plan: address, model, gas, and the number of its plan."""
    for key, model in bench.models.items():
        plans = [plan.number for plan in model.plans if not plan.refusal]
        for number in plans or [""]:
            other = form.kept().having(model=key, burner="", plan=number)
            if bench.refused_plan(other) is None:
                yield f"/?{other.query()}", model.name, _gas(model), number


def _unit(bench: Bench, values: FormValues) -> dict[str, Any]:
    """The answers before lighting are asked anew whenever this page is come to, but not lost by an error on it."""
    form, marks = values.form, bench.orifice_marks(values.form)
    gases = {model.appliance.supply.gas.name: _gas(model) for model in bench.models.values()}
    return {
        "models": bench.models.values(),
        "model_words": _model_words(bench),
        "plan_choices": _plan_choices(bench, form),
        "alike": _names_of_several(bench),
        "gases": list(dict.fromkeys(_gas(model) for model in bench.models.values())),
        "weighed": [model.name for model in bench.models.values() if not model.no_weighing],
        "several": any(one.count > 1 for model in bench.models.values() for one in model.appliance.burners),
        "labels": gases | {ANOTHER: "another gas", UNREAD: "it cannot be read"},
        "leak_tests": LEAK_WORDS,
        "is_read_again": bench.is_read_again(form),
        "tested_as_another": bench.tested_as_another(form),
        "plates": PLATE_ANSWERS,
        "answers": dict(form.texts) if values.errors else {},
        "leak_tested": _leak_test_words(bench.leak_test_of(form)),
        "aired": bench.is_aired(form.get("place")) and form.get("air") != NO,
        "marked": () if marks is None else marked_burners(form, marks),
        "marks_by_plan": marks is not None and bool(marks.plan),
        "marks_known": "" if marks is None else marks_words(Form.of(bench.marks_of(form)), marks),
        "mark_words": MARK_WORDS,
        "mark_answers": WORDS_FOR_ALL,
        "mark_stop": stop_notice(MARK_DIFFERS),
        "refused": refusals(values.errors),
        "not_lit": [refusal_words(plan) for plan in bench.refused_plans if not form.get("model")],
        "odour": stop_notice("odour"),
        "warnings": (caution("gas-leak"), caution("overfire")),
    }


def _names_of_several(bench: Bench) -> set[str]:
    """Names of burners that more than one model has: each stands with its model."""
    names = Counter(burner.name for model in bench.models.values() for burner in model.appliance.burners)
    return {name for name, count in names.items() if count > 1}


def _leak_test_words(answers: Mapping[str, str]) -> str:
    """How a unit was leak tested today; "" where it is not known."""
    if not answers:
        return ""
    by, when = answers["leak_test_by"], answers["leak_test_when"]
    return ", ".join(part for part in (LEAK_WORDS[answers["leak_test"]], by, when) if part)


NO_PLAN = "none: what is read counts for no row"
PLAN_CHOICE = "{number}, {model} on {gas}"
PLAN_CHOICE_OF_MARKET = "{number}, {model} on {gas}, market {market}"


def _plan_choices(bench: Bench, form: Form) -> list[tuple[str, str, bool]]:
    """The plans of the bench to choose from: number, words, whether the form names it; none where it has none.

    A number that is of none of them stays, so that the page can say so.
    """
    if not bench.plans:
        return []
    own, typed = bench.plan_of(form), form.get("plan")
    choices = [("", NO_PLAN, not typed)]
    for number, plan in bench.plans.items():
        words = PLAN_CHOICE_OF_MARKET if plan.change.market else PLAN_CHOICE
        made = words.format(number=number, model=plan.model, gas=plan.gas, market=plan.change.market)
        choices.append((number, made, plan == own))
    return choices if own is not None or not typed else [*choices, (typed, typed, True)]


def _model_words(bench: Bench) -> dict[str, str]:
    """Each model by its key, with its gas where another one has its name: a model may be on the bench on two gases.

    Where the gas is one as well, the plan that each is built by.
    """
    names = [model.name for model in bench.models.values()]
    on_gas = [(model.name, _gas(model)) for model in bench.models.values()]
    words: dict[str, str] = {}
    for key, model in bench.models.items():
        is_twice = names.count(model.name) > 1
        words[key] = MODEL_ON_GAS.format(model=model.name, gas=_gas(model)) if is_twice else model.name
        if model.plans and on_gas.count((model.name, _gas(model))) > 1:
            words[key] = BY_PLAN_OF.format(model=words[key], plans=plans_words(model.plans))
    return words


def _gas(model: Model) -> str:
    gas = model.appliance.supply.gas
    return str(getattr(gas, "title", "") or gas.name)


def _measure(bench: Bench, values: FormValues) -> dict[str, Any]:
    form, method = values.form, values.form.method
    model = bench.model(form) if form.get("model") in bench.models else None
    is_asked = model is not None and asks_for_pressure(model, form)
    manifold = fields()[MANIFOLD_FIELD]
    if method == MANOMETER or form.is_low:
        manifold = replace(manifold, label=LOW_LABEL if form.is_low else ALONE_LABEL)
    return {
        "warnings": (caution("overfire"), caution("flame"), caution("carbon-monoxide")),
        "manifold": replace(manifold, needs_answer=is_asked),
        "why_no_pressure": WHY_NO_PRESSURE if is_asked else None,
        "times": group("time"),
        "least_s": bench_limit("hand timing").low,
        "scale": group("scale"),
        "state": [
            field
            for field in group("bench")
            if field.is_of(method) and (method != MANOMETER or field.name == "instruments")
        ],
        "model": model,
        "turn": "" if model is None or method != "meter" else turn_words(model, form),
        "loss": "" if model is None or method != SCALE_METHOD else loss_words(model, form),
        "steady": "" if model is None else wait_note(model.appliance, form.get("burner") or None),
        "limits": "" if model is None else limits_words(model, form.having(lock_up="")),
        "pressure_alerts": () if model is None else pressure_alerts(model, form),
        "pressure_sizes": pressure_sizes(form.system),
        "lock_up": "" if model is None else lock_up_words(model, form.system),
        "too_narrow": "" if model is None else too_narrow_before(model, form.having(lock_up="")),
    }


def _flame(bench: Bench, values: FormValues) -> dict[str, Any]:
    form = values.form
    model = bench.models.get(form.get("model"))
    burners = model.appliance.burners if model is not None else ()
    tile = any(
        burner.kind.traits.is_radiant and form.get("burner") in ("", burner.name) for burner in burners
    )
    kinds = [sight for sight in sights().values() if tile or sight.name != TILE_GLOW]
    stops = {sight.stop: stop_notice(sight.stop) for sight in kinds if sight.stop}
    at_once = [sight for sight in kinds if sight.stop and stops[sight.stop].scope == "bench"]
    at_low = form.is_of_flame and form.is_low  # what is looked at now stands first
    groups = [
        (title, [sight for sight in kinds if sight.at == at and sight not in at_once])
        for at, title in sorted(AT.items(), key=lambda item: at_low and item[0] != "low")
    ]
    warnings = (caution("flame"), caution("carbon-monoxide"))
    return {
        "groups": [(AT_ONCE, at_once), *groups],  # gas and carbon monoxide in the room before all else
        "stops": stops,
        "at_once": at_once,
        "flue": group("flue"),
        "kind": KIND_OF_APPLIANCE,
        "shown_air_free": SHOWN_AIR_FREE,
        "own_limit": _own_limit(bench.carbon_monoxide_of(form)),
        "own": [fields()[name] for name in _of_flame_page(form)],
        "note": NOTE,
        "see": SEEN,
        "warnings": warnings,
    }


def _own_limit(own: CarbonMonoxideLimit | None) -> str:
    """The limit of carbon monoxide of plan and model file; "" where they name none."""
    if own is None:
        return ""
    return (
        f"The limit is {1e6 * own.limit:.0f} ppm free of air ({clean(own.scope, LONGEST_SCOPE)}), as on job card and "
        "plan; the lower of it and the one of the kind chosen here holds."
    )


def unit(bench: Bench, request: Request) -> Response:
    """Which unit, which burner, who, and what is answered before lighting."""
    form = _with_plan(bench, form_of(bench, request))
    return halted(bench, form) or _step_page(bench, FormValues(form, {}, {}), "unit")


def _with_plan(bench: Bench, form: Form) -> Form:
    """The form of a new unit with the plan that the bench was started with; whoever tests without it clears the field.

    Of several plans it is that of the model named; where more than one fits, none is chosen. A plan that is named
    chooses its model where none is.
    """
    if form.get("plan") and not form.get("model"):
        return bench.with_model_of_plan(form)
    if form.get("serial") or form.get("plan"):
        return form
    model = bench.models.get(form.get("model"))
    fitting = tuple(bench.plans.values()) if model is None else model.plans
    return form.having(plan=fitting[0].number) if len(fitting) == 1 else form


MODEL_OF_PLAN = (
    "Plan {plan} is for {model} on {gas}, which is chosen now: look at unit and label, or change the plan"
)


def _model_of_plan_words(bench: Bench, form: Form) -> str:
    """That the plan has chosen its model in the place of the one that was."""
    plan = bench.plan_of(form)
    assert plan is not None  # it chose
    return MODEL_OF_PLAN.format(plan=plan_words(plan), model=plan.model, gas=plan.gas)


def _without_label_of_plan(bench: Bench, form: Form) -> Form:
    """The form without its label, where that names the gas of a plan that is not of the model chosen.

    The label is then no fault of the supply: model or plan is a slip. Nothing is read, and nobody lights, until the two
    belong together.
    """
    model, plan = bench.models.get(form.get("model")), bench.plan_of(form)
    if model is None or plan is None or form.get("supply_label") != plan.gas:
        return form
    is_slip = bool(bench.other_plan(form, model)) and {one.id for one in bench.raised(form, "unit")} == {
        "other-gas"
    }
    return form.having(supply_label="") if is_slip else form


def measure(bench: Bench, request: Request) -> Response:
    """What meter or scale and watch read."""
    form = form_of(bench, request)
    chosen = bench.with_model_of_plan(form)
    is_other, form = bool(form.get("model")) and chosen != form, chosen
    stopped = halted(bench, _without_label_of_plan(bench, form), "unit")
    if stopped is not None:
        return stopped
    if form.get(ORIFICE_MARKS) == ANEW:
        bench.forget_marks(form)
    values = bench.read(form if form.get("once") else form.having(once=new_once()), "unit")
    bench.remember_air(values)
    bench.remember_leak_test(values)
    bench.remember_marks(values)
    if is_other:
        values.errors["model"] = _model_of_plan_words(bench, values.form)
    if values.errors:
        return _step_page(bench, values, "unit", UNUSABLE)
    if values.form.is_of_flame:
        return RedirectResponse(f"/flame?{values.form.query()}", 303)
    if bench.has_no_tap(values.form) and not values.form.get(MANIFOLD_FIELD):
        values.form = values.form.having(no_manifold=NO_TAP)
    values.form = _with_dial_of_plan(bench, values.form)
    return _step_page(bench, values, "measure")


def _with_dial_of_plan(bench: Bench, form: Form) -> Form:
    """The form with the dial that the papers of its plan time, where none is entered yet."""
    plan = bench.plan_of(form)
    if plan is None or plan.dial_m3 is None or form.method != "meter" or form.get("dial"):
        return form
    unit = fields()["dial"].units(form.system)[0]
    return form.having(dial=f"{float(in_unit(plan.dial_m3, Kind.VOLUME, unit)):.6g}")


def _is_usable(bench: Bench, values: FormValues) -> bool:
    """Whether the readings say something, a heat input or a pressure alone; else why not is among the errors."""
    if values.errors:
        return False
    if values.form.is_of_flame:
        return True
    read = bench.pressure_of if values.form.method == MANOMETER else bench.test_of
    return read(values) is not None


def _measured(bench: Bench, request: Request) -> FormValues | Response:
    """The readings of a request; the page that takes their place where a stop stands or they say nothing."""
    form = form_of(bench, request)
    stopped = halted(bench, form, "unit", "measure")
    if stopped is not None:
        return stopped
    values = bench.read(form, "unit", "measure")
    if not _is_usable(bench, values):
        return _step_page(bench, values, values.wrong_step("measure") or "measure", UNUSABLE)
    bench.remember_tap(values.form)
    return values


def finding(bench: Bench, request: Request) -> Response:
    """The heat input against the rating, and what may be wrong."""
    values = _measured(bench, request)
    if isinstance(values, Response):
        return _recorded_finding(bench, form_of(bench, request)) or values
    if values.form.is_of_flame:
        return RedirectResponse(f"/flame?{values.form.query()}", 303)
    test = bench.test_of(values)
    if test is None:
        context = common(bench, values.form, "/finding", "finding") | pressure_values(bench, values)
        is_lock_up = values.form.is_lock_up
        act = "" if is_lock_up else check_act(context["check"])
        no_band = "" if is_lock_up else no_band_act(bench.model(values.form), values.form)
        off = LOW_LOCK_UP if context["is_low"] else FOUND_LOCK_UP
        now = act or no_band or (off if is_lock_up else FOUND_PRESSURE)
        to_save = bool(act) or is_lock_up or no_band == NOT_TO_FIRE
        return HTMLResponse(page("pressure", **context | {"now": now, "to_save": to_save}))
    context = common(bench, values.form, "/finding", "finding") | finding_values(test, values.form)
    context |= _place(bench, values.form, test) | _together(bench, values.form, test)
    act = check_act(test.manifold)
    if test.comparison.verdict == Verdict.OUTSIDE:
        context["now"] = act_first(test.comparison.deviation, test.comparison.rating.tolerance)
    elif act := act or no_band_act(test.model, values.form):
        context["now"] = act
    may_be_other = test.explanation is not None and test.explanation.may_be_other_gas
    if may_be_other and not act and test.comparison.verdict != Verdict.OUTSIDE:
        context["now"] = GAS_IN_DOUBT
    context["label_gas"] = _gas(test.model) if _is_low(test) or may_be_other else ""
    is_off = test.comparison.verdict == Verdict.OUTSIDE  # a burner that is turned off has no flame to look at
    context["to_save"] = is_off or (bool(act) and act != FOUND_NO_BAND)
    return HTMLResponse(page("finding", **context))


def _together(bench: Bench, form: Form, test: HeatInputTest) -> dict[str, Any]:
    """The causes of a test by all readings of its unit, where one of the list gives them; its warnings stay its own."""
    found = unit_explanation(bench, form, test)
    if found is None:
        return {}
    context: dict[str, Any] = {"others": ", ".join(found.others), "others_fit": found.fits}
    if found.fits:
        is_off = test.comparison.verdict == Verdict.OUTSIDE or bool(check_act(test.manifold))
        to_basis = test.measured.heat.net_to_gross if test.comparison.rating.basis == "net" else 1.0
        lists = cause_lists(found.explanation, form.system, to_basis, is_off=is_off)
        context |= {"ranked": found.explanation, "causes": lists.likely, "rare": lists.rare}
        context["next_step"] = next_measurement(found.explanation, is_off=is_off)
    return context


def _is_low(test: HeatInputTest | None) -> bool:
    """Whether a reading is below its band: the gas is confirmed by the label of the supply before anything is lit."""
    if test is None or test.comparison.verdict != Verdict.OUTSIDE:
        return False
    return test.comparison.deviation < test.comparison.rating.tolerance.low


def _recorded_finding(bench: Bench, form: Form) -> Response | None:
    """The finding of a test that is in the record, to read alone, where other units stop the bench; else None.

    A stop of the bench blocks what is lit next. What was found and recorded before it lights nothing.
    """
    uid = bench.entry_of(form)
    stops = stops_of_other_units(bench, form) if uid else ()
    if not stops or not is_stopped_by_other_units_only(bench, form, "unit", "measure"):
        return None
    values = bench.read(form, "unit", "measure")
    test = bench.test_of(values)
    context = common(bench, form, "/finding") | {
        "stopped_by_others": stops,
        "recorded": uid,
        "stop_keys": stop_keys(),
        "now": f"Unit {form.get('serial')}, as recorded",
    }
    if test is None:
        return HTMLResponse(page("pressure", **context | pressure_values(bench, values, is_recorded=True)))
    found = finding_values(test, form)
    found |= {"place": place_of_reading(test.comparison, test.comparison.verdict), "stopped_words": ""}
    return HTMLResponse(page("finding", **context | found | {"label_gas": "", "to_save": False}))


def _place(bench: Bench, form: Form, test: HeatInputTest) -> dict[str, Any]:
    """The headline of the heat input; no verdict while a stop stands for the unit, as when its entry is corrected."""
    stops = open_stops_for(bench, form)
    return {
        "place": place_of_reading(test.comparison, STOPPED if stops else test.comparison.verdict),
        "stopped_words": stopped_sentence(stops, form.get("serial"), "band"),
    }


def finding_values(test: HeatInputTest, form: Form) -> dict[str, Any]:
    """A finding for the page."""
    system, comparison, measured = form.system, test.comparison, test.measured
    check, explained = test.manifold, test.explanation
    at = test.expected_Pa
    is_off = comparison.verdict == Verdict.OUTSIDE or bool(check_act(check))
    to_basis = measured.heat.net_to_gross if comparison.rating.basis == "net" else 1.0
    notes = (*measured.notes, *filter(None, [low_rate_note(test)]))
    lists = CauseLists() if explained is None else cause_lists(explained, system, to_basis, is_off=is_off)
    budget = [
        contribution
        for contribution in measured.budget.contributions
        if contribution.variance_fraction >= 0.02
    ]
    return {
        "heat_test": test,
        "comparison": comparison,
        "measured": power_pair(comparison.value_W, comparison.expanded_W, system),
        "rating": power(comparison.rating.heat_input_W, system),
        "air_words": air_words(test.air, comparison.value_W, comparison.rating.heat_input_W, system),
        "gross": figure("heat_input_gross", measured.heat_input_gross_W, system),
        "net": figure("heat_input_net", measured.heat_input_net_W, system),
        "expected": figure("expected_heat_input_gross", test.expected_gross_W * to_basis, system),
        "drawing": band_drawing(comparison),
        "budget": budget,
        "notes": tuple(note for note in dict.fromkeys(notes) if note not in comparison.notes),
        "check": check,
        "by_plan": BY_PLAN,
        "range": None if check is None else range_place(check.pressure_verdict),
        "limits": "" if check is None else limits_words(test.model, form),
        "too_narrow": "" if check is None else too_narrow(check, system),
        "check_read": ""
        if check is None
        else pressure(check.measured_pressure_Pa).inline(check.measured_pressure_Pa, system),
        "expected_pressure": "" if test.is_low else pressure(at).inline(at, system),
        "explained": explained,
        "ranked": explained,
        "others": "",
        "causes": lists.likely,
        "rare": lists.rare,
        "next_step": "" if explained is None else next_measurement(explained, is_off=is_off),
        "cautions": cautions(),
    }


def flame(bench: Bench, request: Request) -> Response:
    """What the flame looks like, and what the analyser reads."""
    values = _measured(bench, request)
    if isinstance(values, Response):
        return values
    return _step_page(bench, values, "flame")


def save(bench: Bench, request: Request) -> Response:
    """Everything once more, and the button that saves it."""
    form = form_of(bench, request)
    stopped = halted(bench, form, "unit", "measure", "flame")
    if stopped is not None:
        return stopped
    values = bench.read(
        form if form.get("once") else form.having(once=new_once()), "unit", "measure", "flame"
    )
    usable = _is_usable(bench, values)
    test = bench.test_of(values) if usable else None
    flue = bench.flue_of(values) if usable else None
    _require_something_read(values)
    if not usable or values.errors:
        return _step_page(bench, values, values.wrong_step("flame") or "measure", UNUSABLE)
    return _save_page(bench, values, test, flue)


def _require_something_read(values: FormValues) -> None:
    """A complaint where a test of flame and flue gas alone holds neither."""
    if values.form.is_of_flame and not values.errors:
        names = [*(SEEN + name for name in sights()), *(field.name for field in group("flue"))]
        if all(values.get(name) in (None, "") for name in names):
            values.errors["carbon_monoxide"] = NOTHING_READ


def _save_page(
    bench: Bench,
    values: FormValues,
    measured: HeatInputTest | None,
    flue: Any,
    status: int = 200,
    trouble: str = "",
) -> HTMLResponse:
    form = values.form
    if form.is_of_flame:
        result: dict[str, Any] = {"heat_test": None, "check": None, "cautions": cautions()}
    elif measured is None:
        result = pressure_values(bench, values)
    else:
        result = finding_values(measured, form) | _place(bench, form, measured)
    context = common(bench, form, "/save", "save") | result
    with bench.read_record() as record:
        test = bench_test(values, bench.model(form), record, measured, flue)
        past = UnitStops() if form.get("corrects") else unit_stops(record, test.serial)
        before = before_saving(bench, record, form, test)
        corrected = corrected_entry(form, record)
        ends = (
            ()
            if corrected is None
            else stops_of_slip(record, corrected, test, form.get("reason") or REASON_TO_COME)
        )
    context |= {
        "ends": ends,
        "errors": values.errors,
        "test": test,
        "readings": entry_facts(test, form.system)[0],
        "flue": flue,
        "flue_facts": [] if flue is None else _flue_facts(flue, form),
        "look": second_look(measured, test, past, form.system),
        "adverse": len(not_as_required(test, past, form.system)),
        "answered": len(test.observations),
        "every": form.without("save"),
        "token": bench.gate.token,
        "slips": slips_of(form),
        "before": before,
        "trouble": trouble,
    }
    return HTMLResponse(page("save", **context), status)


def _flue_facts(flue: Any, form: Form) -> list[tuple[str, str]]:
    context = [
        ("excess_air", "Excess air", flue.excess_air),
        ("air_free_carbon_monoxide", "Carbon monoxide, air-free", flue.air_free_CO),
        ("flue_loss_gross", "Flue loss, gross basis", flue.flue_loss_gross),
    ]
    facts = [(label, figure(name, value, form.system)) for name, label, value in context]
    if flue.in_force is None or flue.air_free_CO is None:
        return facts
    limit = flue.in_force
    words = (
        f"{figure('air_free_carbon_monoxide', limit.limit, form.system)} ({limit.words}, {limit.known_by})"
    )
    facts.insert(2, ("Limit of it in force", f"{words}: {limit.verdict}"))
    return facts


async def body_of(request: Request, largest: int = LARGEST_BODY) -> str:
    """The body of a form, never more than is allowed, never waited for without end."""
    try:
        return (await bytes_of(request, largest, BODY_SECONDS)).decode("ascii")
    except UnicodeDecodeError:
        raise RefusedError(400, "The form is not encoded as a form.") from None


async def bytes_of(request: Request, largest: int, seconds: float) -> bytes:
    """A body as it comes, at most so many bytes in so many seconds."""
    import anyio

    parts = bytearray()
    try:
        with anyio.fail_after(seconds):
            async for part in request.stream():
                parts += part
                if len(parts) > largest:
                    raise RefusedError(
                        413, f"The form is larger than {largest // 1024} kB. Nothing was saved."
                    )
    except TimeoutError:
        raise RefusedError(408, "The form took too long to arrive. Nothing was saved.") from None
    except ClientDisconnect:
        raise RefusedError(400, "The form did not arrive whole. Nothing was saved.") from None
    return bytes(parts)


def keep(bench: Bench, body: str) -> Response:
    """Save the test that a form holds, and lead to its entry."""
    pairs = posted(bench, body)
    form = Form.of(pairs | ({MENDED: NOTHING_MENDED} if pairs.get("nothing") else {}), bench.system)
    stopped = halted(bench, form, "unit", "measure", "flame", status=CONFLICT)
    if stopped is not None:
        return stopped
    values = bench.read(form, "unit", "measure", "flame", "save", "stop")
    form, wrong = values.form, values.wrong_step("flame")
    test = None if wrong else bench.test_of(values)
    pressure = None if wrong or test is not None else bench.pressure_of(values)
    is_read = test is not None or pressure is not None or (form.is_of_flame and not wrong)
    flue = bench.flue_of(values) if is_read else None
    _require_something_read(values)
    if not is_read or values.wrong_step("flame"):
        return _step_page(bench, values, values.wrong_step("flame") or "measure", UNUSABLE)
    before = _before(bench, values, test, flue)
    if missing := before.missing(form):
        values.errors[MENDED] = missing
    if values.errors:
        return _save_page(bench, values, test, flue, UNUSABLE)
    if unseen := before.unseen(form):
        return _save_page(bench, values, test, flue, CONFLICT, unseen)
    try:
        uid = bench.save(values, test, flue)
    except UserError as error:
        return _not_saved(bench, values, test, flue, error)
    bench.unrecorded.recorded(form)
    address = f"/entry?uid={uid}&saved=yes&{form.kept().query()}"
    return RedirectResponse(address, 303)


def _before(bench: Bench, values: FormValues, measured: HeatInputTest | None, flue: Any) -> ReadBefore:
    with bench.read_record() as record:
        test = bench_test(values, bench.model(values.form), record, measured, flue)
        return before_saving(bench, record, values.form, test)


def _not_saved(
    bench: Bench, values: FormValues, test: HeatInputTest | None, flue: Any, error: UserError
) -> Response:
    """The page still holds everything; a test that was saved before and differs now becomes its correction."""
    before = next((problem.value for problem in error.problems if problem.key == "once"), "")
    if before:
        values.form = values.form.having(corrects=before)
    said = "; ".join(words(problem) for problem in error.problems)
    conflict = before or any(problem.key == "corrects" for problem in error.problems)
    return _save_page(bench, values, test, flue, CONFLICT if conflict else NOT_KEPT, said)
