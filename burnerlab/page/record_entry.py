"""A test as the record keeps it: what was read, what was found, what was seen."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from burnerlab.appliance.project.basis import rated_basis
from burnerlab.bench.bench_air import stops_in_air
from burnerlab.bench.reading.flue import APPLIANCE_KIND, FlueAnalysis, limit_of_reading
from burnerlab.bench.reading.manifold import ManifoldCheck, highest_pressure_Pa, lock_up_low_Pa
from burnerlab.bench.reading.meter import MeterReading
from burnerlab.bench.reading_plan import CARBON_MONOXIDE, LOCK_UP, MANIFOLD, STATES, Plan, limit_of_papers
from burnerlab.bench.record import (
    BeforeLighting,
    BenchInstrument,
    BenchReading,
    BenchTest,
    EarlierStop,
    InputText,
    Observation,
    PlanEntry,
    Record,
    Result,
    TestRecord,
    entry,
    instrument_named,
    open_stops,
    quantities,
    sights,
)
from burnerlab.bench.record.entry import RECORD_REGIONS, now
from burnerlab.bench.record.open_stops import STATEMENTS
from burnerlab.bench.record.photographs import photographs_of, photographs_text
from burnerlab.bench.record.slip import standing_after
from burnerlab.bench.record.store import raised_by
from burnerlab.bench.stop import StopNotice, pressure_end_words, worst_first
from burnerlab.bench.stop_rules import (
    heat_inputs,
    lost_pressure_stop,
    meter_at_rest_stop,
    seen_pressure_stop,
    stops_of,
    undiluted_stops,
)
from burnerlab.page.form import (
    MANIFOLD_FIELD,
    MANOMETER,
    MOVES,
    NOT_LIT,
    SEEN,
    SHOWN_AIR_FREE,
    STEPS,
    YES,
    Field,
    Form,
    FormValues,
    Step,
    fields,
    input_words,
    slips_of,
)
from burnerlab.page.heat_input_test import HeatInputTest, Model, rows_of_test
from burnerlab.page.lighting import lighting
from burnerlab.page.orifice_marks import (
    MARK_FIELDS,
    mark_observations,
    mark_stops,
    marks_input,
    orifice_marks,
)
from burnerlab.page.pressure_test import PressureTest, pressure_test
from burnerlab.quantity import Kind, in_unit
from burnerlab.tables.problem import UserError


def observations(values: FormValues, burner: str) -> tuple[Observation, ...]:
    """What was looked for and answered; what was left open is no observation, of no burner before it may be lit."""
    begun = ("manifold", "time1", "first", "corrects")
    is_lit = values.form.get("air") == YES and bool(values.form.get("supply_label"))
    if values.form.get(NOT_LIT) or (not is_lit and not any(values.form.get(name) for name in begun)):
        burner = ""
    return tuple(
        Observation(name=name, answer=values.get(SEEN + name), burner=burner)
        for name in sights()
        if values.get(SEEN + name) in ("yes", "no")
    )


def instruments(values: FormValues, record: Record) -> tuple[BenchInstrument, ...]:
    """Instruments by name, with the calibration that the record knows."""
    names = dict.fromkeys(name.strip() for name in values.form.get("instruments").split(",") if name.strip())
    return tuple(instrument_named(record, name) or BenchInstrument(name=name) for name in names)


def bench_test(
    values: FormValues,
    model: Model,
    record: Record,
    measured: HeatInputTest | None = None,
    flue: FlueAnalysis | None = None,
) -> BenchTest:
    """The entry to record, with every stop it raises; its moment is the one of recording.

    found : None for a test that was stopped before its readings could be used; what was read is kept
    """
    values = _of_this_unit(values, measured)
    form, appliance = values.form, model.appliance
    burner, marks = burner_name(values, model), orifice_marks(model, form)
    corrected = corrected_entry(form, record)
    return BenchTest(
        serial=form.get("serial"),
        model=model.name,
        tester=form.get("tester"),
        gas=appliance.supply.gas.name,
        model_sha256=appliance.file_sha256,
        rating_basis=rated_basis(appliance).word,
        region=next((one for one in RECORD_REGIONS if one == appliance.region), ""),
        note=form.get("note"),
        instruments=instruments(values, record),
        readings=_readings(values, burner if measured is None else measured.burner, measured),
        results=(
            *(_flue_results(flue, burner) if measured is None else _results(measured, flue)),
            *_pressure_results(
                _manifold_check(values, model, measured),
                burner,
                is_lock_up=_is_lock_up(values),
                lock_up_low=lock_up_low_Pa(appliance),
            ),
        ),
        observations=(*observations(values, burner), *mark_observations(form, marks, burner)),
        before_lighting=_before_lighting(form, model, corrected),
        stops=raised_stops(values, model, measured, flue),
        earlier_stops=tuple(EarlierStop(**slip) for slip in slips_of(form)),
        inputs=(*inputs_of(values), *marks_input(form, marks, corrected)),
        photographs=photographs_of(form.get("photographs")),
    )


def _of_this_unit(values: FormValues, measured: HeatInputTest | None) -> FormValues:
    """Without dial, pressure and temperature of the unit before, where nothing of this one was read yet."""
    form, at_meter = values.form, [one for one in fields().values() if one.step == "measure"]
    is_read = any(form.get(one.name) for one in at_meter if one.keeper == "input" and not one.is_kept)
    if measured is not None or is_read or form.get("corrects") or form.is_of_flame:
        return values
    carried = {one.name for one in at_meter if one.is_kept}
    own = {name: value for name, value in values.values.items() if name not in carried}
    return FormValues(form.having(**dict.fromkeys(carried, "")), own, values.errors)


def plan_entries(test: BenchTest, plan: Plan | None, form: Form, burner: str) -> tuple[PlanEntry, ...]:
    """The rows of a plan that a test reads: those of its burner and state whose figure it holds.

    Of several burners alike those of the one whose number it names. None of a plan for another model or gas.
    """
    if plan is None or (plan.model, plan.gas) != (test.model, test.gas):
        return ()
    figures = {(one.quantity, one.burner) for one in test.results}
    figures |= {(one.quantity, one.burner) for one in test.readings}
    rows = rows_of_test(plan, burner, form.get("plan_state") or STATES[0], form.get("which"))
    return tuple(
        PlanEntry(plan=plan.digest, plan_row=row.id) for row in rows if (row.quantity, row.burner) in figures
    )


def corrected_entry(form: Form, record: Record) -> TestRecord | None:
    """The entry that a form corrects; None of any other form, and where it cannot be found."""
    if not form.get("corrects"):
        return None
    try:
        return entry(record, form.get("corrects"))
    except UserError:
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class StopOfSlip:
    """An open stop of an entry that is corrected, and why the correction does not end it; "" where it does."""

    notice: StopNotice
    stands: str


def stops_of_slip(record: Record, before: TestRecord, test: BenchTest, reason: str) -> tuple[StopOfSlip, ...]:
    """The open stops of an entry, and whether its correction as the slip of a figure ends each."""
    opened = {one.notice.id for one in open_stops(record) if one.entry == before.uid}
    standing = standing_after(before, test, raised_by(test), reason, now())
    return tuple(
        StopOfSlip(notice=one, stands=standing[one.id]) for one in before.test.stops if one.id in opened
    )


def with_slips(record: Record, before: TestRecord, test: BenchTest, form: Form) -> BenchTest:
    """A corrected entry beside the stops that it ends: what was typed first, and why that was wrong."""
    reason = form.get("reason")
    typed = input_words(refilled(before, form.get("model"), form))
    ended = tuple(
        EarlierStop(
            stop=one.notice.id, why=f"{one.notice.heading} {one.notice.why}", reading=typed, reason=reason
        )
        for one in stops_of_slip(record, before, test, reason)
        if not one.stands
    )
    return replace(test, earlier_stops=(*test.earlier_stops, *ended))


def _before_lighting(form: Form, model: Model, corrected: TestRecord | None) -> BeforeLighting | None:
    """The answers of this test, or of the entry that is corrected; what cannot be found is not recorded."""
    if not form.get("corrects"):
        return lighting(form, model)
    return None if corrected is None else corrected.test.before_lighting


def raised_stops(
    values: FormValues,
    model: Model | None,
    measured: HeatInputTest | None,
    flue: FlueAnalysis | None,
    *,
    steps: Collection[Step] = STEPS,
) -> tuple[StopNotice, ...]:
    """Every stop that what was entered raises, the worst first; answers before lighting only with their model.

    A pressure stops before anything is timed, and carbon monoxide above its limit without the oxygen beside it.
    steps : whose figures are held; an entry that was wrong is made again on a page that holds the steps before it
    """
    heat = manifold = explanation = before = None
    if measured is not None and not measured.is_low:
        heat = heat_inputs(measured.measured, measured.calculated)
    if measured is not None:
        manifold, explanation = measured.manifold, measured.explanation
    elif "measure" in steps and (pressure := _pressure(values, model)) is not None:
        manifold, explanation = pressure.check, pressure.explanation
    marks: tuple[StopNotice, ...] = ()
    if model is not None and not values.form.get("corrects"):
        before = lighting(values.form, model)
        marks = mark_stops(values.form, orifice_marks(model, values.form))
    stops = stops_of(
        observations=observations(values, values.form.get("burner")),
        before_lighting=before,
        heat=heat,
        flue=flue,
        manifold=manifold,
        explanation=explanation,
    )
    if measured is not None:
        stops = stops_in_air(stops, measured.air, measured.rating)
    at_rest = (meter_at_rest_stop(),) if values.form.get("meter_at_rest") == MOVES else ()
    seen = (_seen_pressure(model),) if values.form.get("pressure_above") == YES else ()
    is_lost = "measure" in steps and values.get(MANIFOLD_FIELD) == 0.0 and not _is_lock_up(values)
    lost = (lost_pressure_stop(),) if is_lost else ()
    undiluted = () if flue is not None or "flame" not in steps else _undiluted(values, model)
    return worst_first([*at_rest, *stops, *marks, *undiluted, *seen, *lost])


def _seen_pressure(model: Model | None) -> StopNotice:
    """The stop of a pressure that was seen above its limit; the limit is known with the model."""
    limit = "" if model is None else pressure_end_words(highest_pressure_Pa(model.appliance), "high")
    return seen_pressure_stop(limit)


def _undiluted(values: FormValues, model: Model | None) -> tuple[StopNotice, ...]:
    """The stop of carbon monoxide of which nothing but the figure itself could be used."""
    read, form = values.get("carbon_monoxide"), values.form
    if read is None:
        return ()
    plan = None if model is None or not form.get("plan") else model.plan_of(form)
    of_plan = None if plan is None else plan.carbon_monoxide
    kind, region = ("", "") if model is None else (model.appliance.kind, model.appliance.region)
    own = limit_of_papers(kind, of_plan, region)
    limit = limit_of_reading(
        read, form.get(APPLIANCE_KIND), of_plan=None if own is None else (own.limit, own.scope)
    )
    return undiluted_stops(read, limit)


def _pressure(values: FormValues, model: Model | None) -> PressureTest | None:
    """The manifold pressure by itself, also of a test in which nothing was timed yet; None where it cannot be used."""
    try:
        return None if model is None else pressure_test(model, values)
    except UserError:
        return None


def burner_name(values: FormValues, model: Model) -> str:
    """The burner under test by its name in the model file; "" for all, and for one the file does not know."""
    try:
        burner = model.burner(values.form.get("burner"))
    except UserError:
        return ""
    return "" if burner is None else burner.name


def inputs_of(values: FormValues) -> tuple[InputText, ...]:
    """Every input of the form that could be read, as it was written, a bare number with its unit."""
    form = values.form
    return tuple(
        InputText(name=field.name, text=field.spelled(form.get(field.name), form.system))
        for field in fields().values()
        if field.keeper == "input" and field.is_of(form.method) and values.get(field.name) is not None
    )


def _readings(values: FormValues, burner: str, measured: HeatInputTest | None) -> tuple[BenchReading, ...]:
    """What the form and its combinations say, under the quantities of the record [SI].

    What follows from several fields takes the place of what was entered in one.
    """
    combined = _combined(values) if measured is None else _computed(measured)
    figures = [(name, value) for name, value in combined.items() if value is not None]
    for field in fields().values():
        value = values.get(field.name) if field.is_of(values.form.method) else None
        if field.record and field.record not in combined and value is not None:
            figures.append((field.record, float(value)))
    if values.get(SHOWN_AIR_FREE.name):
        figures = [(CARBON_MONOXIDE if name == "carbon_monoxide" else name, value) for name, value in figures]
    if _is_lock_up(values):
        burner, figures = "", [(LOCK_UP if name == MANIFOLD else name, value) for name, value in figures]
    return tuple(BenchReading(quantity=name, value=value, burner=burner) for name, value in figures)


def _combined(values: FormValues) -> dict[str, float | None]:
    """Readings of several fields of a test that was stopped before they could be used."""
    dial = values.get("dial")
    turns = values.get("turns") or 1
    volume = None if dial is None else dial * turns
    return {"meter_volume": volume, "cylinder_loss": None, "other_load_gross": None}


def _computed(measured: HeatInputTest) -> dict[str, float | None]:
    """Readings that follow from several fields and from the model file."""
    reading = measured.reading
    gross = 1.0 if measured.rating.basis == "gross" else 1.0 / measured.heat.net_to_gross
    figures: dict[str, float | None] = {
        rate_of(measured) + "rating_gross": measured.rating.heat_input_W * gross,
        "other_load_gross": reading.other_load_gross_W or None,
        "heating_value_gross": measured.heat.gross_J_per_m3,
    }
    if isinstance(reading, MeterReading):
        pressure = None if reading.ambient_pressure_of_file else reading.ambient_pressure_Pa
        return figures | {"meter_volume": reading.volume_m3, "ambient_pressure": pressure}
    air = measured.air
    at_bench = {} if air.bench_Pa == air.place_Pa else {"ambient_pressure": air.bench_Pa}
    return figures | at_bench | {"cylinder_loss": reading.mass_losses_kg[0]}


def rate_of(measured: HeatInputTest) -> str:
    """What stands before the names of figures read at the low rate, so that nothing takes them for those at full."""
    return "low_rate_" if measured.is_low else ""


def _results(heat_test: HeatInputTest, flue: FlueAnalysis | None) -> tuple[Result, ...]:
    at, measured, comparison = rate_of(heat_test), heat_test.measured, heat_test.comparison
    air = heat_test.air
    gross, rated = measured.heat_input_gross_W, heat_test.rating.heat_input_W
    expanded = measured.budget.coverage_factor * measured.budget.standard_uncertainty
    deviation = Result(
        quantity=at + "deviation",
        value=comparison.deviation,
        burner=heat_test.burner,
        expanded_uncertainty=comparison.expanded_W / rated,
        low=heat_test.rating.tolerance.low,
        high=heat_test.rating.tolerance.high,
        verdict=comparison.verdict,
    )
    figures: list[tuple[str, float | None, float | None]] = [
        (at + "heat_input_gross", gross, expanded),
        (at + "heat_input_net", measured.heat_input_net_W, None),
        (at + "expected_heat_input_gross", heat_test.expected_gross_W, None),
        (at + "standard_volume_flow", measured.standard_volume_flow_m3_per_s, None),
        (at + "heat_input_gross_at_place", gross / air.share if air.is_other else None, expanded / air.share),
        (at + "mass_flow", measured.mass_flow_kg_per_s, None),
    ]
    plain = (
        Result(quantity=name, value=value, burner=heat_test.burner, expanded_uncertainty=spread)
        for name, value, spread in figures
        if value is not None
    )
    return (deviation, *plain, *_flue_results(flue, heat_test.burner))


def _manifold_check(values: FormValues, model: Model, measured: HeatInputTest | None) -> ManifoldCheck | None:
    if measured is not None:
        return measured.manifold
    pressure = _pressure(values, model)
    return None if pressure is None else pressure.check


def _is_lock_up(values: FormValues) -> bool:
    """Whether the manifold pressure was read with every burner off."""
    return values.form.method == MANOMETER and bool(values.get("lock_up"))


def _pressure_results(
    check: ManifoldCheck | None, burner: str, *, is_lock_up: bool, lock_up_low: float | None
) -> tuple[Result, ...]:
    """The manifold pressure beside the band that it was held against, so that what it asks for stays known.

    With every burner off it is a figure of its own, of no burner, beside the highest of the supply and the least that
    its regulator should hold.
    """
    if check is None:
        return ()
    result = Result(
        quantity=LOCK_UP if is_lock_up else MANIFOLD,
        value=check.measured_pressure_Pa,
        burner="" if is_lock_up else burner,
        expanded_uncertainty=check.pressure_uncertainty_Pa,
        low=lock_up_low if is_lock_up else check.pressure_low_Pa,
        high=check.pressure_high_Pa,
        verdict=check.pressure_verdict,
    )
    return (result,)


def _flue_results(flue: FlueAnalysis | None, burner: str) -> tuple[Result, ...]:
    """What the analyser found, of a test without a heat input as well."""
    if flue is None:
        return ()
    figures = {"excess_air": flue.excess_air, "flue_loss_gross": flue.flue_loss_gross}
    results = [
        Result(quantity=name, value=value, burner=burner)
        for name, value in figures.items()
        if value is not None
    ]
    if flue.air_free_CO is not None:
        limit = flue.in_force
        made = Result(
            quantity=CARBON_MONOXIDE,
            value=flue.air_free_CO,
            burner=burner,
            high=None if limit is None else limit.limit,
            verdict="" if limit is None else limit.verdict,
        )
        results.insert(1, made)
    return tuple(results)


FRACTION_UNITS = {"%": 100.0, "ppm": 1e6, "": 1.0}


def _as_written(field: Field, value: float, si_unit: str, form: Form) -> str:
    """A reading in the unit of its field; in SI where the field would not read it back to the last digit."""
    unit, kind = field.unit(form.system), field.kind
    if kind == "rate":
        return f"{value:.12g} {si_unit} gross"
    if not isinstance(kind, Kind):
        return f"{value:.12g}"
    number = value * FRACTION_UNITS[unit] if kind is Kind.FRACTION else float(in_unit(value, kind, unit))
    text = f"{number:.12g} {unit}".strip()
    try:
        if f"{field.read(text, form.system):.12g}" == f"{value:.12g}":
            return text
    except UserError:  # beyond the range of today: it is shown, and refused where it stands
        pass
    return f"{100.0 * value:.12g} %" if si_unit == "-" else f"{value:.12g} {si_unit}"


def _texts_of_readings(test: BenchTest, form: Form) -> dict[str, str]:
    """The fields of an entry that holds figures alone, as commands and burnerlab 0.1.0 made them."""
    figures = {
        name: [entry.value for entry in test.readings if entry.quantity == name] for name in quantities()
    }
    is_weighed = bool(figures["cylinder_loss"])
    texts = {"method": "scale", "last": "0 kg"} if is_weighed else {}
    for field in fields().values():
        if field.record and field.is_of("scale" if is_weighed else "meter") and figures[field.record]:
            unit = quantities()[field.record].unit
            texts[field.name] = _as_written(field, figures[field.record].pop(0), unit, form)
    burner = next((entry.burner for entry in test.results), "")
    return texts | ({"burner": burner} if burner else {})


def refilled(entry: TestRecord, model: str, form: Form) -> Form:
    """The form that an entry came from; the reason of a correction is asked at the end."""
    test = entry.test
    texts = {item.name: item.text for item in test.inputs if item.name not in MARK_FIELDS}
    if not texts.keys() - STATEMENTS:  # of the command line, which states at most where it was tested
        texts |= _texts_of_readings(test, form)
    texts |= {"model": model, "serial": test.serial, "tester": test.tester, "note": test.note}
    texts["photographs"] = photographs_text(test.photographs)
    texts["instruments"] = ", ".join(item.name for item in test.instruments)
    texts |= {SEEN + item.name: item.answer for item in test.observations}
    return Form.of(texts | {"corrects": entry.uid}, form.system)
