"""The test plan beside the steps of a test: what is wrong with it, which rows this test reads, which row is next."""

from __future__ import annotations

from dataclasses import dataclass

from burnerlab.bench.plan_results import (
    UnitResults,
    next_row,
    outside_result,
    plan_report,
    plans_of_other_gases,
)
from burnerlab.bench.reading.manifold import highest_pressure_Pa
from burnerlab.bench.reading_plan import (
    CARBON_MONOXIDE,
    MANIFOLD,
    NO_TURNDOWN,
    STATES,
    HOT_AFTER_min,
    Plan,
    PlanRow,
    State,
)
from burnerlab.bench.record.entry import now, quantity_words
from burnerlab.page.bench_state import Bench, plans_words, refusal_words
from burnerlab.page.form import FLAME_METHOD, MANOMETER, Form
from burnerlab.page.heat_input_test import ALL_BURNERS, Model, rows_of_test, which_needed
from burnerlab.page.result_text import burner_words, figure
from burnerlab.quantity import System
from burnerlab.report.plan_paper import band_text, value_text
from burnerlab.tables.problem import UserError

ALTERED = (
    "The file of plan {number} was changed after it was made: its paper has another digest. Make a new plan."
)
WITHOUT_PLAN = (
    "No plan is named; this bench has plan {plans} for this model. What is read now counts for no row of it, and "
    "the test sheet of the unit is a part test until its rows are read."
)

WHICH = "Each of the {count} alike has its rows: write which is read"
ROW_OF_ALL = (
    "This plan has one row for the {count} alike, which the first reading ticks: read each, or make it anew"
)
OTHER_GAS = "{gas} by plan {number}"
FLAME_LEFT = "{place}: look at the flame"
TOO_EARLY = (
    "Not hot yet, unless it burned before: its cold reading was recorded {minutes} min ago. Hot is after {after} min "
    "at full rate"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanView:
    """What the pages of a test show of its plan."""

    number: str
    troubles: tuple[str, ...]  # said at the top
    here: tuple[str, ...] = ()  # rows that this test reads
    serial: str = ""  # of the unit; "" before it is entered
    next_label: str = "Next"  # or that it is read again
    next_words: str = ""
    next_query: str = ""  # the form with the burner and state of the next row
    cause_words: str = ""  # of a reading outside its band: its cause comes before any other row
    cause_entry: str = ""  # uid
    repeats: int = 0  # rows read before a repair
    done: int = 0
    rows: int = 0
    other_gases: tuple[str, ...] = ()  # gases that the same orifices burn, each with its plan


def plan_view(bench: Bench, form: Form) -> PlanView | None:
    """What a form's plan asks of its unit; None for a form without a plan, where none is for its model."""
    number, model = form.get("plan"), bench.models.get(form.get("model"))
    if not number:
        return _without_plan(model, form)
    plan = bench.plan_of(form)
    if plan is None:
        return PlanView(number=number, troubles=(bench.unknown_plan(number),))
    troubles = [ALTERED.format(number=plan.number)] if plan.is_altered else []
    if plan.refusal:
        return PlanView(number=plan.number, troubles=(f"{refusal_words(plan)}.", *troubles))
    if model is not None and (other := bench.other_plan(form, model)):
        return PlanView(number=plan.number, troubles=(*troubles, other))
    serial = form.get("serial").strip()
    results = _results(bench, plan, serial)
    following = next_row(plan, results)
    outside = None if results is None else outside_result(results)
    is_repeat = results is not None and following is not None and following.id not in results.not_done
    is_repeat = is_repeat or (
        results is not None and following is not None and following.id in results.repeats
    )
    burner = "" if form.get("burner") == ALL_BURNERS else form.get("burner")
    state = form.get("plan_state") or STATES[0]
    rows = rows_of_test(plan, burner, state, form.get("which"))
    highest_Pa = plan.highest_Pa
    if highest_Pa is None and model is not None:  # of a plan made before plans named it
        highest_Pa = highest_pressure_Pa(model.appliance)
    here = tuple(row_words(plan.rated_row(row), form.system, highest_Pa) for row in rows)
    if which_needed(plan, burner, form.get("which")):
        here = (WHICH.format(count=plan.count_of(burner)),)
    elif plan.count_of(burner) == 1 and model is not None and _count_of(model, burner) > 1:
        here = (*here, ROW_OF_ALL.format(count=_count_of(model, burner)))
    if state == "hot" and results is not None and rows:
        minutes = results.minutes_cold(rows[0], now())
        if minutes is not None and minutes < HOT_AFTER_min:
            here = (TOO_EARLY.format(minutes=f"{minutes:.0f}", after=HOT_AFTER_min), *here)
    if state == "low" and burner in plan.without_turndown:
        here = (f"{NO_TURNDOWN}; no heat input is expected of it", *here)
    return PlanView(
        number=plan.number,
        troubles=tuple(troubles),
        here=here,
        serial=serial,
        next_label="Read again" if is_repeat else "Next",
        cause_words="" if outside is None else _test_words(plan, outside.row),
        cause_entry="" if outside is None else outside.entry,
        repeats=0 if results is None else len(results.repeats),
        **_next_test(bench, form, plan, results, following),
        done=0 if results is None else len(plan.rows) - len(results.not_done),
        rows=len(plan.rows),
        other_gases=tuple(
            OTHER_GAS.format(gas=one.gas, number=one.number)
            for one in plans_of_other_gases(plan, bench.plans.values())
        ),
    )


def _next_test(
    bench: Bench, form: Form, plan: Plan, results: UnitResults | None, following: PlanRow | None
) -> dict[str, str]:
    """What is tested next, in words and as a form: a row, or once every row is read a flame nobody looked at."""
    if following is not None:
        method = bench.heat_methods.get(form.get("model"), "")
        query = form_for(form, following, plan, results, method).query()
        return {"next_words": _test_words(plan, following), "next_query": query}
    if results is None or not results.flames_not_seen:
        return {"next_words": "", "next_query": ""}
    flame = results.flames_not_seen[0]
    state: State = "low" if flame.rate == "low" else "hot"
    row = next(iter(plan.rows_of(flame.burner, state, flame.which)), None)
    row = row or next(one for one in plan.rows if (one.burner, one.which) == (flame.burner, flame.which))
    own = form.having(
        burner=flame.burner,
        which=row.which_words,
        plan_state=row.state,
        low_rate="yes" if row.state == "low" else "",
        method=FLAME_METHOD,
    )
    return {"next_words": FLAME_LEFT.format(place=flame.place), "next_query": own.query()}


def _without_plan(model: Model | None, form: Form) -> PlanView | None:
    """What it means that the plan of a model is not named for a unit; None where the model has none."""
    if model is None or not model.plans or not form.get("serial"):
        return None
    words = WITHOUT_PLAN.format(plans=plans_words(model.plans))
    return PlanView(number="", troubles=(words,))


def _count_of(model: Model, burner: str) -> int:
    """How many burners of this name the model has."""
    return sum(each.count for each in model.appliance.burners if each.name == burner)


def _results(bench: Bench, plan: Plan, serial: str) -> UnitResults | None:
    if not serial:
        return None
    try:
        with bench.read_record() as record:
            return plan_report(record, plan, (serial,)).units[0]
    except UserError:
        return None  # the page says by itself that the record cannot be read


def form_for(
    form: Form, row: PlanRow, plan: Plan, results: UnitResults | None, heat_method: str = ""
) -> Form:
    """The form set to the burner and state of a row, and to the least that is left to read of them.

    Without a heat input that is the manometer; without a pressure, flame and flue gas alone.
    heat_method : meter or scale, as a heat input of the model was measured last
    """
    low = "yes" if row.state == "low" else ""
    of_test = plan.rows_of(row.burner, row.state, row.which)
    every = {one.quantity for one in of_test}
    left = {
        one.quantity
        for one in of_test
        if results is None or one.id in results.not_done or one.id == row.id  # read again: outside its band
    } or every
    method = (
        heat_method if form.method in (MANOMETER, FLAME_METHOD) or not form.get("method") else form.method
    )
    if left <= {CARBON_MONOXIDE}:
        method = FLAME_METHOD
    elif left <= {MANIFOLD, CARBON_MONOXIDE}:
        method = MANOMETER
    burner = row.burner or ALL_BURNERS
    return form.having(
        burner=burner, which=row.which_words, plan_state=row.state, low_rate=low, method=method
    )


def _test_words(plan: Plan, row: PlanRow) -> str:
    return f"{burner_words(row.place)}, {plan.state_words(row)}"


def row_words(row: PlanRow, system: System, highest_Pa: float | None = None) -> str:
    """A row as one line: what is read, what is expected, and its band.

    >>> row_words(PlanRow(id="04", order=4, burner="ring", state="hot", quantity="heat_input_gross",
    ...     predicted=3634.0, low=3480.0, high=3847.0, source="file"), "metric")
    'row 04, heat input, gross: expected 3.63 kW, 3.48 kW to 3.85 kW'
    """
    expected = (
        "not predicted"
        if row.predicted is None
        else f"expected {(value_text if row.quantity == MANIFOLD else figure)(row.quantity, row.predicted, system)}"
    )
    return f"row {row.id}, {quantity_words(row.quantity)}: {expected}, {band_words(row, system, highest_Pa)}"


def band_words(row: PlanRow, system: System, highest_Pa: float | None = None) -> str:
    """The band of a row in words; highest_Pa : of the supply, beside a manifold pressure."""
    if row.quantity == MANIFOLD or (row.quantity == CARBON_MONOXIDE and row.high is None):
        return band_text(row, system, highest_Pa)
    low, high = (None if end is None else figure(row.quantity, end, system) for end in (row.low, row.high))
    if low and high:
        return f"{low} to {high}"
    if high:
        return f"at most {high} ({row.source})"
    return f"at least {low}" if low else row.source
