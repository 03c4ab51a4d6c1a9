"""What all pages share: the models on the bench, the record, what was computed a moment ago."""

from __future__ import annotations

import secrets
from collections import OrderedDict
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from pathlib import Path
from threading import Lock

from burnerlab.bench.flue import FlueAnalysis
from burnerlab.bench.record import (
    BenchTest,
    ChartAsked,
    OpenStop,
    Record,
    UnitChart,
    add_test,
    correct,
    history,
    open_record,
    open_stops,
    unit_chart,
)
from burnerlab.bench.record.door import checked_test
from burnerlab.bench.record.vocabulary import now
from burnerlab.bench.stop import StopNotice
from burnerlab.page.fields import NO, YES, Step, fields, group
from burnerlab.page.forms import Form, FormValues, form_values, words
from burnerlab.page.heat_input_test import HeatInputTest, Model, flue_of, heat_input_test
from burnerlab.page.lighting import lighting_errors
from burnerlab.page.record_entry import bench_test, raised_stops
from burnerlab.page.restart import read_state, state_text, write_state
from burnerlab.page.security import Gate
from burnerlab.page.unrecorded import Unrecorded
from burnerlab.quantity import System
from burnerlab.tables.problem import Problem, UserError

REMEMBERED = 256  # tests computed a moment ago: an address that is loaded again is not computed again
DRAWINGS = 16
MOST_PLACES = 1000
LAST_ENTRIES = 20  # of a unit, among which a test that arrives again is looked for
CHOICE = ("model", "burner", "method")  # of the first step, what changes the figures
Saved = tuple[tuple[tuple[str, str], ...], str]  # what a form said, and the uid of its entry
LAST_SAVED = 1000  # forms whose second arrival is known as such


@dataclass(slots=True)
class Bench:
    """The bench as it was started."""

    file: Path  # of the record
    models: dict[str, Model]
    gate: Gate
    system: System = "metric"
    saved: OrderedDict[tuple[str, ...], Saved] = field(default_factory=OrderedDict)  # test -> entry it became
    air: dict[str, str] = field(init=False)  # place -> day on which extraction and alarm were on
    unrecorded: Unrecorded = field(default_factory=Unrecorded)  # stops that were shown
    kept_state: str | None = None  # as it stands in its file
    keeping: Lock = field(default_factory=Lock)
    saving: Lock = field(default_factory=Lock)
    drawing: Lock = field(default_factory=Lock)  # the plotting library takes one at a time
    exporting: Lock = field(default_factory=Lock)
    find: Callable[[Form], HeatInputTest] = field(init=False)
    draw: Callable[[UnitChart, System, bool], str] = field(init=False)

    def __post_init__(self) -> None:
        self.find = lru_cache(REMEMBERED)(self._find)
        self.draw = lru_cache(DRAWINGS)(self._draw)
        self.air, stops = read_state(self.file)
        self.unrecorded.shown.update((stop.key, stop) for stop in stops)
        self.unrecorded.changed = self.keep_state

    def read_record(self) -> Record:
        return open_record(self.file, readonly=True)

    def is_aired(self, place: str) -> bool:
        """Whether extraction and alarm were answered as on for this place today; no place is never remembered."""
        return bool(place) and self.air.get(place.casefold()) == date.today().isoformat()

    def remember_air(self, values: FormValues) -> None:
        """Keep a yes for the place and the day; a no ends it, and the question is asked again."""
        place = values.form.get("place")
        if values.form.get("air") == NO:
            self.air.pop(place.casefold(), None)
        if place and values.form.get("air") == YES and not values.errors:
            if len(self.air) >= MOST_PLACES:
                self.air.clear()
            self.air[place.casefold()] = date.today().isoformat()
        self.keep_state()

    def keep_state(self) -> None:
        """Put what survives a restart beside the record; a page shows its stop whether or not the disk takes it."""
        today = date.today().isoformat()
        with self.keeping, suppress(UserError, OSError):
            air = {place: day for place, day in self.air.items() if day == today}
            text = state_text(air, self.unrecorded.every())
            if text != self.kept_state:
                write_state(self.file, text)
                self.kept_state = text

    def read(self, form: Form, *steps: Step) -> FormValues:
        """Read some steps of a form; a model and a burner must be of those on the bench."""
        if "unit" in steps and not form.get("air") and self.is_aired(form.get("place")):
            form = form.having(air=YES)
        found = form_values(form, steps)
        if "unit" not in steps:
            return found
        model = self.models.get(form.get("model"))
        gas = "" if model is None else model.appliance.supply.gas.name
        before = lighting_errors(form, gas)
        found.errors |= {name: text for name, text in before.items() if name not in found.errors}
        if "model" in found.errors:
            return found
        if model is None:
            found.errors["model"] = "Is not one of the models this bench was started with"
            return found
        try:
            model.burner(form.get("burner"))
        except UserError as error:
            found.errors["burner"] = "; ".join(words(problem) for problem in error.problems)
        return found

    def model(self, form: Form) -> Model:
        return self.models[form.get("model")]

    def _find(self, form: Form) -> HeatInputTest:
        return heat_input_test(self.model(form), self.read(form, "unit", "measure"))

    def test_of(self, values: FormValues) -> HeatInputTest | None:
        """What the readings say; None when they cannot be used, and then why is among the errors."""
        form = values.form
        known = figure_fields()
        figures = tuple((n, t) for n, t in form.texts if n in known)
        try:
            return self.find(Form(figures, form.system))
        except UserError as error:
            _complain(values, error)
            return None

    def flue_of(self, values: FormValues) -> FlueAnalysis | None:
        """What the analyser found; None when nothing was read or it cannot be, and then why is among the errors."""
        try:
            return flue_of(self.model(values.form), values)
        except UserError as error:
            _complain(values, error)
            return None

    def standing(self, form: Form) -> tuple[OpenStop, ...]:
        """Stops in the record that no release has ended: of this unit, and of the whole bench at this place."""
        with self.read_record() as record:
            return open_stops(record, serial=form.get("serial"), place=form.get("place"))

    def figures(self, values: FormValues, *steps: Step) -> tuple[HeatInputTest | None, FlueAnalysis | None]:
        """What the readings and the analyser say, as far as their entries can be used."""
        found = flue = None
        if values.form.get("model") in self.models:
            if "measure" in steps and not values.errors.keys() & figure_fields():
                found = self.test_of(values)
            if "flame" in steps and not values.errors.keys() & {field.name for field in group("flue")}:
                flue = self.flue_of(values)
        return found, flue

    def raised(self, form: Form, *steps: Step) -> tuple[StopNotice, ...]:
        """Stops that what was seen and the entries of some steps raise."""
        values = self.read(form, "unit", "measure", "flame")
        model = self.models.get(form.get("model")) if "unit" in steps else None
        return raised_stops(values, model, *self.figures(values, *steps))

    def save(self, values: FormValues, found: HeatInputTest | None, flue: FlueAnalysis | None) -> str:
        """Record the test, or that it was stopped; returns its uid. The same test arriving twice is recorded once.

        A test that was saved and is then stopped is an entry more.
        Raises UserError with the key ``once`` for a test that was saved already and differs now.
        """
        form = values.form
        stopped = raised_stops(values, self.model(form), found, flue)
        known_by = [form.get(name).casefold() for name in ("once", "serial", "burner", "corrects")]
        key = (*known_by, *(one.id for one in stopped))
        with self.saving:
            known = self.saved.get(key) if form.get("once") else None
            if known is not None and known[0] == form.texts:
                return known[1]
            if known is not None:
                raise UserError(
                    Problem(f"was saved already, as entry {known[1]}", value=known[1], key="once")
                )
            with open_record(self.file) as record:
                uid = self._write(record, values, found, flue)
            self.saved[key] = (form.texts, uid)
            while len(self.saved) > LAST_SAVED:
                self.saved.popitem(last=False)
            return uid

    def _write(
        self, record: Record, values: FormValues, found: HeatInputTest | None, flue: FlueAnalysis | None
    ) -> str:
        form = values.form
        test = bench_test(values, self.model(form), record, found, flue)
        corrects = form.get("corrects")
        if corrects:
            return correct(record, corrects, test, form.get("reason")).uid
        return saved_before(record, test, form.get("once")) or add_test(record, test).uid

    def chart(self, record: Record, model: str, burner: str, last: int) -> UnitChart:
        return unit_chart(record, ChartAsked(model=model, burner=burner, last=last))

    def _draw(self, chart: UnitChart, system: System, narrow: bool) -> str:
        from burnerlab.report.chart_figure import NARROW, WIDE, chart_svg

        with self.drawing:
            return chart_svg(chart, system, NARROW if narrow else WIDE)


def figure_fields() -> set[str]:
    """The fields that change what the readings say."""
    readings = {
        name for name, field in fields().items() if field.step == "measure" and field.keeper == "input"
    }
    return readings | set(CHOICE)


def _complain(values: FormValues, error: UserError) -> None:
    for problem in error.problems:
        name = problem.key or "time1"
        said = words(problem)
        values.errors[name] = f"{values.errors[name]}; {said}" if name in values.errors else said


def new_once() -> str:
    """A word by which a test is known when it arrives twice, with the moment at which its readings began."""
    return f"{now()}.{secrets.token_urlsafe(9)}"


def saved_before(record: Record, test: BenchTest, once: str) -> str:
    """The entry that the same test became after its readings began, as after a restart of the bench; "" if none."""
    began, test = once.rpartition(".")[0], checked_test(test)

    def content(one: BenchTest) -> tuple[object, ...]:
        return (one.readings, one.inputs, one.observations, one.before_lighting, one.tester, one.note)

    for one in history(record, test.serial, LAST_ENTRIES) if began else ():
        if one.recorded_at > began and content(one.test) == content(test):
            return one.uid
    return ""
