"""The way through a test, and what every page shows of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from starlette.requests import Request

from burnerlab.appliance.project.model import Appliance
from burnerlab.bench.reading_plan import Plan
from burnerlab.bench.record import sights
from burnerlab.bench.stop import StopNotice, stop_notice, stop_rows
from burnerlab.bench.stop_rules import meter_at_rest_stop, seen_pressure_stop
from burnerlab.bench.unit import is_cylinder_gas
from burnerlab.gas import Gas
from burnerlab.page.bench_state import Bench
from burnerlab.page.form import SEEN, Form, RefusedError, fields, pairs_of
from burnerlab.page.heat_input_test import Model
from burnerlab.page.plan_rows import plan_view
from burnerlab.page.reader_language import Reader
from burnerlab.page.result_text import ALL_OFF, AT_LOW_RATE, burner_words
from burnerlab.page.stop_names import open_stops_for, room_stops
from burnerlab.tables.cautions import SPECIAL_GAS, is_special_gas
from burnerlab.tables.languages import ENGLISH_LANGUAGE, Language, language
from burnerlab.tables.problem import UserError

UNUSABLE, CONFLICT, NOT_KEPT = 422, 409, 503
METER_TURNS = "leak-suspected"
OVERPRESSURE = "pressure"
STOP_KEYS = tuple(
    id
    for id in stop_rows()
    if id in (METER_TURNS, OVERPRESSURE) or any(sight.stop == id for sight in sights().values())
)
"""Under the STOP of every step: whatever somebody sees, hears or smells."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WayStep:
    """A step of the test as the way through it shows it."""

    name: str
    path: str
    title: str
    now: str  # what to do, in one sentence


WAY = (
    WayStep(
        name="unit",
        path="/",
        title="Unit",
        now="Enter the serial number and choose the burner you will light.",
    ),
    WayStep(
        name="measure",
        path="/measure",
        title="Readings",
        now="Everything else off, this burner on full: read the manifold pressure, then time the gas.",
    ),
    WayStep(
        name="finding", path="/finding", title="Finding", now="Read the finding, then look at the flame."
    ),
    WayStep(
        name="flame",
        path="/flame",
        title="Flame",
        now="Watch the flame and answer what you looked at; leave the rest.",
    ),
    WayStep(name="save", path="/save", title="Save", now="Check it once more, then save it to the record."),
)


def way_of(form: Form) -> tuple[WayStep, ...]:
    """The steps of a test: where flame and flue gas alone are read, nothing is measured before them."""
    return tuple(step for step in WAY if not form.is_of_flame or step.name not in ("measure", "finding"))


def form_of(bench: Bench, request: Request) -> Form:
    """The form in the address."""
    return Form.of(pairs_of(request.scope["query_string"].decode("latin-1")), bench.system)


def common(bench: Bench, form: Form, path: str, where: str = "") -> dict[str, Any]:
    """What every page shows: the way, the other system of units, the form so far."""
    system = form.system
    in_system = form.in_system("US" if system == "metric" else "metric")
    open_stops = open_stops_for(bench, form) if form.get("corrects") and where else ()
    rooms = () if open_stops else room_stops(bench, form)
    return {
        "form": form,
        "reader": reader_of(bench, form.get("model"), plan=bench.plan_of(form)),
        "names": bench_names(bench),
        "system": system,
        "query": form.query(),
        "here": path,
        "other_system": f"{path}?{in_system.query()}",
        "way": way_of(form) if where else (),
        "where": where,
        "now": next((step.now for step in WAY if step.name == where), ""),
        "fields": fields(),
        "errors": {},
        "stopped_by_others": (),  # on pages of the record: the bench is stopped, and by which unit
        "recorded": "",  # entry of a finding that is read alone
        "room_stops": rooms,  # at the head of every page, whatever place it is of
        "open_stops": open_stops,  # of an entry that is corrected: nothing of its pages leads to lighting
        "burner_words": ALL_OFF
        if form.is_lock_up
        else burner_words(form.get("burner"), form.get("which")) + (AT_LOW_RATE if form.is_low else ""),
        "key": bench.gate.key,
        "caution_occasions": caution_occasions(bench.models.values()),
        "stop_keys": stop_keys() if where else (),
        "is_stop": False,
        "plan": plan_view(bench, form) if where and not open_stops else None,
    }


def caution_occasions(models: Iterable[Model]) -> frozenset[str]:
    """Occasions of the cautions of a test of some models: the test, and their gases."""
    occasions = {"bench", "clock", "explain"}
    for model in models:
        gas = model.appliance.supply.gas
        occasions |= {"weigh"} if is_cylinder_gas(model.appliance) else set()
        if not isinstance(gas, Gas) or is_special_gas(
            gas.composition.as_dict()
        ):  # not known: as of a special gas
            occasions.add(SPECIAL_GAS)
    return frozenset(occasions)


def reader_of(bench: Bench, model: str = "", name: str = "", plan: Plan | None = None) -> Reader:
    """Whose words a page has: of the model's file, by key or name; without one, of all models where they agree.

    plan : a plan in a language of its own, such as that of its market, goes before the file
    """
    known = [one for key, one in bench.models.items() if key == model or (name and one.name == name)]
    files = [one.appliance for one in known or bench.models.values()]
    of_plan = "" if plan is None else plan.language
    regions, languages = {one.region for one in files}, [_language_of(one, of_plan) for one in files]
    return Reader(
        region=regions.pop() if len(regions) == 1 else "",
        language=languages[0]
        if languages and all(one == languages[0] for one in languages)
        else ENGLISH_LANGUAGE,
    )


def _language_of(appliance: Appliance, of_plan: str = "") -> Language:
    """English where the table cannot be read any more: a page of STOP appears whatever happens to it."""
    try:
        return language(of_plan or appliance.language, appliance.tables.texts)
    except UserError:
        return ENGLISH_LANGUAGE


def bench_names(bench: Bench) -> tuple[str, ...]:
    """What the files of the bench call their models and burners."""
    every = (one.appliance for one in bench.models.values())
    return tuple(
        name for one in every for name in (one.name, one.model, *(each.name for each in one.burners))
    )


def posted(bench: Bench, body: str) -> dict[str, str]:
    """Names and values of a form that a page of this bench made. Raises RefusedError for any other."""
    pairs = pairs_of(body)
    if not bench.gate.is_token(pairs.get("token", "")):
        sentence = (
            "This page was made before the bench was started again. Nothing was saved: go back, load the page "
            "again and save."
        )
        raise RefusedError(403, sentence)
    return pairs


@dataclass(frozen=True, slots=True, kw_only=True)
class StopKey:
    """What can be said by two taps, whatever the step."""

    id: str
    words: str
    notice: StopNotice


def stop_keys() -> tuple[StopKey, ...]:
    """The reasons to stop that somebody sees, hears or smells."""
    rows = stop_rows()
    read = {
        METER_TURNS: ("all burners off and the meter still turns", meter_at_rest_stop),
        OVERPRESSURE: ("manifold pressure above its limit", seen_pressure_stop),
    }
    return tuple(
        StopKey(id=id, words=read[id][0], notice=read[id][1]())
        if id in read
        else StopKey(id=id, words=rows[id]["trigger"], notice=stop_notice(id))
        for id in STOP_KEYS
    )


def is_seen(stop: str) -> bool:
    """Whether an observation raises a stop of this id."""
    return any(sight.stop == stop for sight in sights().values())


def sight_answer(stop: str, form: Form) -> dict[str, str]:
    """What the key of a stop answers: the first observation that raises it, where none of the form does so already."""
    seen = [sight for sight in sights().values() if sight.stop == stop]
    if not seen or any(form.get(SEEN + one.name) == one.adverse for one in seen):
        return {}
    return {SEEN + seen[0].name: seen[0].adverse}
