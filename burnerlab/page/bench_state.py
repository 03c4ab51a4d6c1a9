"""What all pages share: the models on the bench, the record, what was answered and computed a moment ago.

The label of the supply is answered anew for every test. The leak test of a unit is known by its serial number for the
day, for all its burners, until a stop of the unit or of the bench or a new start of the bench: gas work may lie
between.
"""

from __future__ import annotations

import secrets
from collections import OrderedDict
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date
from functools import lru_cache
from pathlib import Path
from threading import Lock

from burnerlab.appliance.project.basis import rated_basis
from burnerlab.appliance.project.model import Appliance
from burnerlab.bench.plan_results import ORIFICE_MARKS
from burnerlab.bench.reading.flue import APPLIANCE_KIND, FlueAnalysis, kind_named
from burnerlab.bench.reading_plan import (
    FEWEST_DIGITS,
    LOW_RATE_INPUT,
    STATES,
    CarbonMonoxideLimit,
    Plan,
    limit_of_papers,
)
from burnerlab.bench.record import (
    BenchTest,
    ChartQuery,
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
from burnerlab.bench.record.checks import checked_test
from burnerlab.bench.record.entry import now
from burnerlab.bench.record.other_unit import PLATE, PLATE_ANSWERS, another_words, tested_as_another
from burnerlab.bench.record.photographs import missing, photographs_of
from burnerlab.bench.record.release_statements import ReleaseLimits, release_limits
from burnerlab.bench.stop import StopNotice
from burnerlab.page.form import (
    FLAME_METHOD,
    LEAK,
    LEAK_TESTS,
    MANIFOLD_FIELD,
    MANOMETER,
    NO,
    NO_TAP,
    SCALE_METHOD,
    YES,
    Form,
    FormValues,
    Step,
    fields,
    form_values,
    gas_title,
    group,
    words,
)
from burnerlab.page.heat_input_test import (
    ALL_BURNERS,
    HeatInputTest,
    Model,
    flue_of,
    heat_input_test,
    plans_of,
    which_error,
    which_needed,
)
from burnerlab.page.lighting import lighting_errors
from burnerlab.page.orifice_marks import ANEW, MARK_FIELDS, OrificeMarks, marks_errors, orifice_marks
from burnerlab.page.other_place import place_of
from burnerlab.page.pressure_test import PressureTest, pressure_errors, pressure_test
from burnerlab.page.record_entry import (
    bench_test,
    burner_name,
    corrected_entry,
    inputs_of,
    plan_entries,
    raised_stops,
    with_slips,
)
from burnerlab.page.result_text import Bases, named_burner
from burnerlab.page.security import Gate
from burnerlab.page.stop_memory import Answers, Unrecorded, read_state, serial_of, state_text, write_state
from burnerlab.quantity import System
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.verdict import Verdict

REFUSED = "STOP. No unit of plan {number} ({model} on {gas}) is lit: {reason}. An engineer decides first"
UNKNOWN_PLAN = (
    "Plan {number} is not on this bench, which has plan {plans}. No unit is read by it: have the bench started with "
    "the plan of the paper in hand, or take the paper of a plan that it has."
)
WITHOUT_PLANS = (
    "Plan {number} is not on this bench, which has no plan. No unit is read by it: have the bench started with it "
    "(burnerlab bench, option --plan)."
)
ANOTHER_MODEL = (
    "Plan {plan} is for {model} on {gas}; the model chosen is {chosen} on {own}. Nothing is read by it: choose the "
    "model of the plan in hand."
)
PLAN_OF_ANOTHER = (
    "Plan {plan} is not that of the model chosen, which has plan {plans}. Nothing is read by it: choose the model of "
    "the plan in hand."
)
REMEMBERED = 256  # tests computed a moment ago: an address that is loaded again is not computed again
DRAWINGS = 16
MOST_PLACES = MOST_UNITS = 1000
LEAK_TEST_FIELDS = ("leak_test", "leak_test_by", "leak_test_when")
LAST_ENTRIES = 20  # of a unit, among which a test that arrives again is looked for
CHOICE = ("model", "burner", "method")  # of the first step, what changes the figures
Saved = tuple[tuple[tuple[str, str], ...], str]  # what a form said, and the uid of its entry
MODEL_FILE = "model file"  # whose orifice marks a unit without a plan has
LAST_SAVED = 1000  # forms whose second arrival is known as such


def refusal_words(plan: Plan) -> str:
    """That no unit of a plan is lit, in one line, and why."""
    return REFUSED.format(number=plan.number, model=plan.model, gas=plan.gas, reason=plan.refusal)


def _is_of(plan: Plan, model: Model) -> bool:
    return (plan.model, plan.gas) == (model.name, model.appliance.supply.gas.name)


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitAnswer:
    """What was answered of a unit before it was lit, such as how it was leak tested, and on which day."""

    day: str
    answers: Answers


@dataclass(slots=True)
class Bench:
    """The bench as it was started."""

    file: Path  # of the record
    models: dict[str, Model]
    gate: Gate
    system: System = "metric"
    plans: Mapping[str, Plan] = field(default_factory=dict)  # by number
    plan_troubles: Mapping[str, str] = field(default_factory=dict)  # why one is not of its file, by number
    release_limits: ReleaseLimits = field(default_factory=release_limits)  # of the answers of a release
    saved: OrderedDict[tuple[str, ...], Saved] = field(default_factory=OrderedDict)  # test -> entry it became
    air: dict[str, str] = field(init=False)  # place -> day on which extraction and alarm were on
    leak_tests: dict[str, UnitAnswer] = field(default_factory=dict)  # by serial number, in lower case
    no_tap: dict[str, str] = field(default_factory=dict)  # the same -> day on which it had no pressure tap
    marks: dict[tuple[str, str], UnitAnswer] = field(default_factory=dict)  # the same, and number of the plan
    heat_methods: dict[str, str] = field(default_factory=dict)  # model -> meter or scale, as read last
    unrecorded: Unrecorded = field(default_factory=Unrecorded)  # stops that were shown
    state_in_file: str | None = None  # as it stands in its file
    keeping: Lock = field(default_factory=Lock)
    saving: Lock = field(default_factory=Lock)
    drawing: Lock = field(default_factory=Lock)  # the plotting library takes one at a time
    exporting: Lock = field(default_factory=Lock)
    bases: Bases = field(init=False)  # on which each model is rated
    find: Callable[[Form], HeatInputTest] = field(init=False)
    draw: Callable[[UnitChart, System, bool], str] = field(init=False)

    def __post_init__(self) -> None:
        self.take_plans(self.plans, self.plan_troubles)
        self.find = lru_cache(REMEMBERED)(self._find)
        self.draw = lru_cache(DRAWINGS)(self._draw)
        self.bases = {
            (model.name, model.appliance.supply.gas.name): rated_basis(model.appliance)
            for model in self.models.values()
        }
        self.air, stops = read_state(self.file)
        self.unrecorded.stops.update((stop.key, stop) for stop in stops)
        self.unrecorded.changed = self.keep_state

    def take_plans(
        self,
        plans: Mapping[str, Plan],
        troubles: Mapping[str, str],
        built: Mapping[str, Appliance] | None = None,
    ) -> None:
        """The plans of the bench by number, with what is wrong with some; its models take their manifold pressure.

        built : the appliance of the bench that the units of a plan are, by its number
        """
        self.plans, self.plan_troubles = dict(plans), dict(troubles)
        self.models = {
            key: replace(model, plans=plans_of(model, plans.values(), built))
            for key, model in self.models.items()
        }

    def read_record(self) -> Record:
        return open_record(self.file, readonly=True)

    def is_aired(self, place: str) -> bool:
        """Whether extraction and alarm were answered as on for this place today; no place is never remembered."""
        return bool(place) and self.air.get(place.casefold()) == date.today().isoformat()

    def leak_test_of(self, form: Form) -> Answers:
        """How the unit of a form was leak tested today, by the fields of the form; empty where it is not known."""
        known = self.leak_tests.get(serial_of(form))
        return known.answers if known is not None and known.day == date.today().isoformat() else {}

    def is_read_again(self, form: Form) -> bool:
        """Whether the newest reading of a form's burner was outside its band: what was mended comes before lighting."""
        serial, burner = form.get("serial").strip(), form.get("burner")
        if not serial or not burner or form.get("corrects"):
            return False
        with self.read_record() as record:
            entries = [one for one in history(record, serial, LAST_ENTRIES) if one.is_current]
        own = "" if burner == ALL_BURNERS else burner
        newest = next((one.test for one in entries if named_burner(one.test) == own), None)
        return newest is not None and not newest.stops and asks_for_repair(newest)

    def tested_as_another(self, form: Form) -> str:
        """That the record has a form's unit as another model or on another gas; "" where it has not, or corrects it."""
        model, serial = self.models.get(form.get("model")), form.get("serial").strip()
        if model is None or not serial or form.get("corrects"):
            return ""
        with self.read_record() as record:
            entries = history(record, serial, LAST_ENTRIES)
        before = tested_as_another(entries, model.name, model.appliance.supply.gas.name)
        return "" if before is None else another_words(before, gas_title(before.gas))

    def remember_leak_test(self, values: FormValues) -> None:
        """Keep the leak test of a unit for its serial number and the day; any other answer ends it."""
        form, serial = values.form, serial_of(values.form)
        if form.get("leak_test") not in LEAK_TESTS or form.get("leak_test") == LEAK:
            self.leak_tests.pop(serial, None)
        elif serial and not values.errors and not form.get("corrects"):
            if len(self.leak_tests) >= MOST_UNITS:
                self.leak_tests.clear()
            answers = {name: form.get(name) for name in LEAK_TEST_FIELDS}
            self.leak_tests[serial] = UnitAnswer(day=date.today().isoformat(), answers=answers)

    def orifice_marks(self, form: Form) -> OrificeMarks | None:
        """The orifice marks that are asked of a unit: by the plan of the form, else as its model has them."""
        models = tuple(self.models.values())
        model = models[0] if len(models) == 1 else self.models.get(form.get("model"))
        return orifice_marks(model, form, self.plan_of(form))

    def marks_of(self, form: Form) -> Answers:
        """What was answered today of the orifice marks of a form's unit; empty where it is not known."""
        known = self.marks.get(self._unit_of_marks(form))
        return known.answers if known is not None and known.day == date.today().isoformat() else {}

    def _unit_of_marks(self, form: Form) -> tuple[str, str]:
        """Serial number, and the plan or the model whose marks were read."""
        marks = self.orifice_marks(form)
        return serial_of(form), "" if marks is None else marks.plan or MODEL_FILE

    def remember_marks(self, values: FormValues) -> None:
        """Keep the orifice marks of a unit for its serial number, its plan or model, and the day."""
        form = values.form
        is_asked = self.orifice_marks(form) is not None
        if not is_asked or not serial_of(form) or values.errors or form.get("corrects"):
            return
        if len(self.marks) >= MOST_UNITS:
            self.marks.clear()
        answers = {name: form.get(name) for name in MARK_FIELDS}
        self.marks[self._unit_of_marks(form)] = UnitAnswer(day=date.today().isoformat(), answers=answers)

    def forget_marks(self, form: Form) -> None:
        """The orifice marks of a form's unit are asked anew."""
        self.marks.pop(self._unit_of_marks(form), None)

    def has_no_tap(self, form: Form) -> bool:
        """Whether the unit of a form was answered today to have no pressure tap."""
        return self.no_tap.get(serial_of(form)) == date.today().isoformat()

    def remember_tap(self, form: Form) -> None:
        """Keep for the day that a unit has no pressure tap; a pressure that is read ends it."""
        if form.get(MANIFOLD_FIELD):
            self.no_tap.pop(serial_of(form), None)
        elif form.get("no_manifold") == NO_TAP and not form.get("corrects"):
            if len(self.no_tap) >= MOST_UNITS:
                self.no_tap.clear()
            self.no_tap[serial_of(form)] = date.today().isoformat()

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

    def forget_air(self, place: str) -> None:
        """Extraction and alarm of a place are answered anew."""
        if self.air.pop(place.casefold(), None) is not None:
            self.keep_state()

    def keep_state(self) -> None:
        """Put what survives a restart beside the record; a page shows its stop whether or not the disk takes it.

        A stop ends what is known of leak test and orifice marks of its unit, one of the whole bench of every unit.
        """
        for stop in self.unrecorded.every():
            if stop.notice.scope == "bench" or not serial_of(stop.form):
                self.leak_tests.clear()
                self.marks.clear()
            self.leak_tests.pop(serial_of(stop.form), None)
            for key in [key for key in self.marks if key[0] == serial_of(stop.form)]:
                del self.marks[key]
        today = date.today().isoformat()
        with self.keeping, suppress(UserError, OSError):
            air = {place: day for place, day in self.air.items() if day == today}
            text = state_text(air, self.unrecorded.every())
            if text != self.state_in_file:
                write_state(self.file, text)
                self.state_in_file = text

    def as_planned(self, form: Form) -> Form:
        """The form as the state of its plan has it: turned low, of flame and flue gas alone where no heat input is.

        A burner that was ticked as turned low reads the rows of its lowest rate, whatever state was chosen.
        """
        plan = self.plan_of(form)
        if plan is None or form.get("corrects"):
            return form
        burner = "" if form.get("burner") == ALL_BURNERS else form.get("burner")
        rows = plan.rows_of(burner, "low")
        is_timed = any(row.quantity == LOW_RATE_INPUT for row in rows)
        if form.get("plan_state") != "low":
            is_low = form.is_low and (is_timed or form.is_of_flame)
            state = "low" if is_low else form.get("plan_state") or STATES[0]
            return form.having(plan_state=state)
        method = form.method if is_timed or not rows else FLAME_METHOD
        return form.having(low_rate=YES, method=method)

    def read(self, form: Form, *steps: Step) -> FormValues:
        """Read some steps of a form; a model and a burner must be of those on the bench."""
        if "unit" in steps:
            form = self.as_planned(form)
        if "unit" in steps and not form.get("air") and self.is_aired(form.get("place")):
            form = form.having(air=YES)
        if "unit" in steps and not form.get("leak_test"):
            form = form.having(**self.leak_test_of(form))
        if "unit" in steps and form.get(ORIFICE_MARKS) == ANEW:
            form = form.having(**dict.fromkeys(MARK_FIELDS, ""))
        elif "unit" in steps and not form.get(ORIFICE_MARKS):
            form = form.having(**self.marks_of(form))
        if "flame" in steps:
            form = self.with_kind(form)
        if form.get(MANIFOLD_FIELD) and form.get("no_manifold"):  # it was read after all
            form = form.having(no_manifold="")
        values = form_values(form, steps)
        taken = photographs_of(form.get("photographs"))
        if "flame" in steps and missing(self.file, (one.sha256 for one in taken)):
            values.errors["photographs"] = "A photograph of this test is no longer with the record"
        if "unit" not in steps:
            return values
        model = self.models.get(form.get("model"))
        gas = "" if model is None else model.appliance.supply.gas.name
        before = lighting_errors(form, gas) | marks_errors(form, self.orifice_marks(form))
        values.errors |= {name: text for name, text in before.items() if name not in values.errors}
        if "model" in values.errors:
            return values
        if model is None:
            values.errors["model"] = "Is not one of the models this bench was started with"
            return values
        if form.get(PLATE) not in PLATE_ANSWERS and (another := self.tested_as_another(form)):
            values.errors[PLATE] = another
        if "measure" in steps:
            values.errors |= pressure_errors(model, form)
            for stop in self.unrecorded.every():
                values.errors |= stop.left_out(form)
        opens_entry = bool(form.get("corrects")) and steps == (
            "unit",
        )  # its readings are shown before all else
        if form.method == SCALE_METHOD and model.no_weighing and not opens_entry:
            values.errors["method"] = model.no_weighing
        if refused := self.refused_plan(form):
            values.errors["plan"] = refusal_words(refused)
        elif other := self.other_plan(form, model):
            values.errors["plan"] = other
        try:
            burner = model.burner(form.get("burner"))
            count = sum(one.count for one in model.appliance.burners if burner and one.name == burner.name)
            if form.get("which"):
                values.errors |= which_error(count, form.get("which"))
            elif burner and (why := which_needed(self.plan_of(form), burner.name, form.get("which"))):
                values.errors["which"] = why
        except UserError as error:
            values.errors["burner"] = "; ".join(words(problem) for problem in error.problems)
        return values

    def refused_plan(self, form: Form) -> Plan | None:
        """The plan for which no unit is lit: that of the form, or without one any of its model on its gas.

        Without plan and model, that of the last model where every model of the bench has one.
        """
        if form.get("corrects"):
            return None
        model, of_form = self.models.get(form.get("model")), self.plan_of(form)
        if of_form is not None:
            is_its_own = model is None or _is_of(of_form, model)
            return of_form if of_form.refusal and is_its_own else None
        models = self.models.values() if model is None else (model,)
        found = [next((one for one in self.refused_plans if _is_of(one, each)), None) for each in models]
        return found[-1] if found and None not in found else None

    @property
    def refused_plans(self) -> tuple[Plan, ...]:
        """Plans of the bench of which no unit is lit."""
        return tuple(plan for plan in self.plans.values() if plan.refusal)

    def other_plan(self, form: Form, model: Model) -> str:
        """Why no unit of a model is read by the plan that a form names: the bench has another; "" where it may be."""
        number, plan = form.get("plan"), self.plan_of(form)
        if not number or form.get("corrects") or plan in model.plans:
            return ""
        if plan is None:
            return self.unknown_plan(number)
        if trouble := self.plan_troubles.get(plan.number, ""):
            return trouble[:1].upper() + trouble[1:]
        if model.plans:
            return PLAN_OF_ANOTHER.format(plan=plan_words(plan), plans=plans_words(model.plans))
        own = model.appliance.supply.gas.name
        return ANOTHER_MODEL.format(
            plan=plan_words(plan), model=plan.model, gas=plan.gas, chosen=model.name, own=own
        )

    def unknown_plan(self, number: str) -> str:
        """That no plan of this bench has a number, which it has, and what to do."""
        if self.plans:
            return UNKNOWN_PLAN.format(number=number, plans=plans_words(self.plans.values()))
        return WITHOUT_PLANS.format(number=number)

    def with_kind(self, form: Form) -> Form:
        """The form with the kind of appliance that the plan or the model's file names, where none is chosen."""
        if form.get(APPLIANCE_KIND):
            return form
        limit, model = self.carbon_monoxide_of(form), self.models.get(form.get("model"))
        kind = kind_named("" if limit is None else limit.scope) or (
            "" if model is None else model.appliance.kind
        )
        return form.having(**{APPLIANCE_KIND: kind})

    def carbon_monoxide_of(self, form: Form) -> CarbonMonoxideLimit | None:
        """The limit of carbon monoxide of a form: the stricter of its plan and of the kind in the model's file."""
        plan, model = self.plan_of(form), self.models.get(form.get("model"))
        own = None if plan is None else plan.carbon_monoxide
        if model is None:
            return limit_of_papers("", own)
        return limit_of_papers(model.appliance.kind, own, model.appliance.region)

    def plan_of(self, form: Form) -> Plan | None:
        """The plan that a form names by its number, or the first digits of it; None when this bench has no such one."""
        number = form.get("plan").lower()
        fitting = [plan for known, plan in self.plans.items() if known.startswith(number)]
        return fitting[0] if len(number) >= FEWEST_DIGITS and len(fitting) == 1 else None

    def with_model_of_plan(self, form: Form) -> Form:
        """A form with the model that the plan named is for: the paper in hand chooses, before any list.

        As it is where the plan is of no model here or of more than one, and of a correction.
        """
        plan = self.plan_of(form)
        keys = [key for key, model in self.models.items() if plan is not None and plan in model.plans]
        is_its_own = form.get("model") in keys or form.get("corrects")
        return form if len(keys) != 1 or is_its_own else form.having(model=keys[0])

    def plan_behind(self, test: BenchTest) -> Plan | None:
        """The plan whose rows a test read; None for one without a plan, or of a plan this bench does not have."""
        digests = {row.plan for row in test.plan_entries}
        return next((plan for plan in self.plans.values() if plan.digest in digests), None)

    def model_of(self, test: BenchTest) -> Model | None:
        """The model of a test: of several of its name that of its plan, else on its gas, else the first; or None."""
        named = [model for model in self.models.values() if model.name == test.model]
        on_its_gas = [model for model in named if model.appliance.supply.gas.name == test.gas]
        by_plan = [model for model in on_its_gas if self.plan_behind(test) in model.plans]
        return next(iter((*by_plan, *on_its_gas, *named)), None)

    def model(self, form: Form) -> Model:
        return self.models[form.get("model")]

    def _find(self, form: Form) -> HeatInputTest:
        return heat_input_test(self.model(form), self.read(form, "unit", "measure"))

    def test_of(self, values: FormValues) -> HeatInputTest | None:
        """What the readings say; None when they cannot be used, and then why is among the errors.

        None also for a test by the manometer, or of flame and flue gas, alone.
        """
        form = values.form
        if (
            form.method in (MANOMETER, FLAME_METHOD) or values.get(MANIFOLD_FIELD) == 0.0
        ):  # without gas nothing was measured
            return None
        fields_of_figures = figure_fields()
        figures = tuple((n, t) for n, t in form.texts if n in fields_of_figures)
        try:
            return self.find(Form(figures, form.system))
        except UserError as error:
            _complain(values, error)
            return None

    def pressure_of(self, values: FormValues) -> PressureTest | None:
        """What the manometer alone says; None for any other test, and where the errors say why it cannot."""
        if values.form.method != MANOMETER:
            return None
        try:
            return pressure_test(self.model(values.form), values)
        except UserError as error:
            _complain(values, error)
            return None

    def flue_of(self, values: FormValues) -> FlueAnalysis | None:
        """What the analyser found; None when nothing was read or it cannot be, and then why is among the errors."""
        try:
            return flue_of(self.model(values.form), values, self.carbon_monoxide_of(values.form))
        except UserError as error:
            _complain(values, error)
            return None

    def standing(self, form: Form) -> tuple[OpenStop, ...]:
        """Stops in the record that no release has ended: of this unit, and of the whole bench at this place."""
        serial, place = form.get("serial"), place_of(form)
        return tuple(stop for stop in self.every_standing() if stop.stands_for(serial, place))

    def every_standing(self) -> tuple[OpenStop, ...]:
        """Stops in the record that no release has ended, of every unit and place, the worst first."""
        with self.read_record() as record:
            return open_stops(record)

    def entry_of(self, form: Form) -> str:
        """The entry that the readings of a form became after they began; "" where they are not recorded."""
        began, read = form.get("once").rpartition(".")[0], self.read(form, "unit", "measure")
        if not began or read.errors:
            return ""
        inputs = set(inputs_of(read))
        with self.read_record() as record:
            for entry in history(record, form.get("serial"), LAST_ENTRIES):
                if entry.recorded_at > began and inputs <= set(entry.test.inputs):
                    return entry.uid
        return ""

    def figures(self, values: FormValues, *steps: Step) -> tuple[HeatInputTest | None, FlueAnalysis | None]:
        """What the readings and the analyser say, as far as their entries can be used."""
        test = flue = None
        if values.form.get("model") in self.models:
            if "measure" in steps and not values.errors.keys() & figure_fields():
                test = self.test_of(values)
            if "flame" in steps and not values.errors.keys() & {field.name for field in group("flue")}:
                flue = self.flue_of(values)
        return test, flue

    def raised(self, form: Form, *steps: Step) -> tuple[StopNotice, ...]:
        """Stops that what was seen and the entries of some steps raise."""
        values = self.read(form, "unit", "measure", "flame")
        model = self.models.get(form.get("model")) if "unit" in steps else None
        return raised_stops(values, model, *self.figures(values, *steps), steps=steps)

    def save(self, values: FormValues, test: HeatInputTest | None, flue: FlueAnalysis | None) -> str:
        """Record the test, or that it was stopped; returns its uid. The same test arriving twice is recorded once.

        A test that was saved and is then stopped is an entry more.
        Raises UserError with the key ``once`` for a test that was saved already and differs now.
        """
        form = values.form
        if test is not None:
            self.heat_methods[form.get("model")] = form.method
        stopped = raised_stops(values, self.model(form), test, flue)
        identity = [form.get(name).casefold() for name in ("once", "serial", "burner", "corrects")]
        key = (*identity, *(notice.id for notice in stopped))
        with self.saving:
            entry = self.saved.get(key) if form.get("once") else None
            if entry is not None and entry[0] == form.texts:
                return entry[1]
            if entry is not None:
                raise UserError(
                    Problem(f"was saved already, as entry {entry[1]}", value=entry[1], key="once")
                )
            with open_record(self.file) as record:
                uid = self._write(record, values, test, flue)
            self.saved[key] = (form.texts, uid)
            while len(self.saved) > LAST_SAVED:
                self.saved.popitem(last=False)
            return uid

    def _write(
        self, record: Record, values: FormValues, measured: HeatInputTest | None, flue: FlueAnalysis | None
    ) -> str:
        form = values.form
        test = bench_test(values, self.model(form), record, measured, flue)
        burner = burner_name(values, self.model(form))
        plan = self.plan_of(form)
        own = plan if plan in self.model(form).plans else None
        test = replace(test, plan_entries=plan_entries(test, own, form, burner))
        corrects = form.get("corrects")
        if corrects:
            before = corrected_entry(form, record)
            test = test if before is None else with_slips(record, before, test, form)
            return correct(record, corrects, test, form.get("reason"), before=before).uid
        if asks_for_repair(
            test
        ):  # which may open a gas part: leak test and marks of before say nothing after it
            self.leak_tests.pop(serial_of(form), None)
            self.forget_marks(form)
        return saved_before(record, test, form.get("once")) or add_test(record, test).uid

    def chart(self, record: Record, model: str, burner: str, last: int) -> UnitChart:
        return unit_chart(record, ChartQuery(model=model, burner=burner, last=last))

    def _draw(self, chart: UnitChart, system: System, narrow: bool) -> str:
        from burnerlab.report.figures.control_chart import NARROW, WIDE, chart_svg

        with self.drawing:
            return chart_svg(chart, system, NARROW if narrow else WIDE)


def asks_for_repair(test: BenchTest) -> bool:
    """Whether a reading of a test is outside its band or stopped it."""
    return bool(test.stops) or any(one.verdict == Verdict.OUTSIDE for one in test.results)


def plan_words(plan: Plan) -> str:
    """The number of a plan, with the market that it is made for and its gas."""
    if not plan.change.market:
        return plan.number
    return f"{plan.number} for market {plan.change.market}, {plan.gas}"


def plans_words(plans: Iterable[Plan]) -> str:
    """The numbers of plans, each with its market."""
    return " and ".join(map(plan_words, plans))


def figure_fields() -> set[str]:
    """The fields that change what the readings say."""
    readings = {
        name for name, field in fields().items() if field.step == "measure" and field.keeper == "input"
    }
    return readings - {"no_manifold"} | set(CHOICE)


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

    def content(bench_test: BenchTest) -> tuple[object, ...]:
        return (
            bench_test.readings,
            bench_test.inputs,
            bench_test.observations,
            bench_test.before_lighting,
            bench_test.tester,
            bench_test.note,
        )

    for earlier in history(record, test.serial, LAST_ENTRIES) if began else ():
        if earlier.recorded_at > began and content(earlier.test) == content(test):
            return earlier.uid
    return ""
