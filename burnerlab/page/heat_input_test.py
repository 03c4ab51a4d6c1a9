"""What a test of a unit found: input against rating, causes, pressure check, flue gas, computed by the rooms above."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from burnerlab.appliance.project.model import Appliance, Burner
from burnerlab.bench.bench_air import UnitInAir, in_air_of, rating_in_air
from burnerlab.bench.decision_rule import Comparison, Rating, decision_rule
from burnerlab.bench.faults.explanation import Explanation, explain
from burnerlab.bench.reading.flue import (
    APPLIANCE_KIND,
    FlueAnalysis,
    FlueReading,
    analyse_flue,
    with_limit,
)
from burnerlab.bench.reading.heat_input import (
    HeatContent,
    InputMeasured,
    billed_heat_content,
    with_pressure_of_file,
)
from burnerlab.bench.reading.manifold import (
    CalculatedInput,
    ManifoldCheck,
    calculated_input,
    each_burner,
    expected_at,
    expected_input,
    limits_turned_low,
    manifold_check,
    manifold_range,
)
from burnerlab.bench.reading.meter import MeterReading, clock
from burnerlab.bench.reading.readings import ManifoldRange, Reading
from burnerlab.bench.reading.scale import WeighReading, weigh, written_digit_kg
from burnerlab.bench.reading_plan import CarbonMonoxideLimit, Plan, PlanRow
from burnerlab.bench.unit import (
    heat_of,
    is_cylinder_gas,
    near_low_rate,
    rating_of,
    turndown_of,
    with_file_pressures,
)
from burnerlab.gas import Gas
from burnerlab.page.form import SHOWN_AIR_FREE, Form, FormValues, group, words
from burnerlab.quantity import require_basis
from burnerlab.supply.atmosphere import pressure_at_altitude_Pa
from burnerlab.tables.problem import Problem, UserError

ALL_BURNERS = "all burners together"
NO_LOW_RATE = 'add turndown = "1:3" to the burner, or choose "flame and flue gas alone" on the first page'
FIELD_OF = {  # key of a complaint of the bench -> the field it stands below
    "volume": "dial",
    "revolutions": "turns",
    "time": "time1",
    "mass loss": "last",
    "heating value": "heating_value",
    "other load": "other_load",
    "meter pressure": "meter_pressure",
    "meter factor": "meter_factor",
    "scale factor": "scale_factor",
    "gas temperature": "gas_temperature",
    "manifold pressure": "manifold",
    "carbon dioxide": "carbon_dioxide",
    "--oxygen": "oxygen",
    "oxygen": "oxygen",
    "low rate": "low_rate",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Model:
    """A model that can be tested, by the word that stands for it in an address."""

    key: str
    appliance: Appliance
    plans: tuple[Plan, ...] = ()  # of this bench, for its gas

    def plan_of(self, form: Form) -> Plan | None:
        """The plan that a form names, else the only one there is; None of several."""
        number = form.get("plan").lower()
        named = [plan for plan in self.plans if number and plan.number.startswith(number)]
        fitting = named or self.plans
        return fitting[0] if len(fitting) == 1 else None

    def pressure_limits(self, form: Form) -> ManifoldRange:
        """The manifold pressures that a test is judged by: the band of its plan, else what the regulator should hold.

        A burner turned low may rise from there to the highest of the supply. Where the plan has no band for what is on,
        no pressure is within, and none is taken above the lowest upper end of the plan.
        """
        plan, held = self.plan_of(form), manifold_range(self.appliance)
        burner = "" if form.get("burner") == ALL_BURNERS else form.get("burner")
        limits = held if plan is None else plan.pressure_limits(held, burner)
        return limits_turned_low(self.appliance, limits) if form.is_low else limits

    @property
    def name(self) -> str:
        """As the record knows it."""
        return self.appliance.model or self.appliance.name

    @property
    def no_weighing(self) -> str:
        """Why no cylinder on a scale measures its heat input, and what does; "" where its gas is LP gas."""
        if is_cylinder_gas(self.appliance):
            return ""
        gas = self.appliance.supply.gas.name
        return (
            f"A cylinder on a scale does not measure this model: its gas, {gas}, is not LP gas. "
            "Choose the gas meter or the manometer; for LP gas, a model file whose gas is that of the cylinder"
        )

    def burner(self, name: str) -> Burner | None:
        """The burner of this name; None for all together. Raises UserError."""
        return None if not name or name == ALL_BURNERS else each_burner(self.appliance, name)[0]


def which_error(count: int, text: str) -> dict[str, str]:
    """Why a text names none of so many burners alike, below its field; empty where it does.

    >>> which_error(3, "2"), which_error(3, "2 of 3"), list(which_error(3, "4"))
    ({}, {}, ['which'])
    """
    match = re.fullmatch(r"(\d{1,3})(?: of (\d{1,3}))?", text)
    if match and 1 <= int(match[1]) <= count and int(match[2] or count) == count:
        return {}
    return {"which": "Not the number of a burner of the list, such as 1"}


def which_of(text: str) -> int:
    """The number of one of several burners alike; 0 where a text names none.

    >>> which_of("2 of 3"), which_of("2"), which_of("")
    (2, 2, 0)
    """
    match = re.match(r"\d{1,3}", text)
    return int(match[0]) if match else 0


def which_needed(plan: Plan | None, burner: str, which: str) -> str:
    """Why a test by a plan needs the number of a burner, below its field; "" where it does not, or has it."""
    count = 1 if plan is None else plan.count_of(burner)
    if count == 1 or which_of(which):
        return ""
    return f"Is missing: the plan has rows for each of the {count} alike, so write which is read, such as 1"


def rows_of_test(plan: Plan, burner: str, state: str, which: str) -> tuple[PlanRow, ...]:
    """The rows that a test of a burner reads; of several alike none before it is written which of them."""
    return tuple(row for row in plan.rows_of(burner, state) if row.which in (0, which_of(which)))


def plans_of(
    model: Model, plans: Iterable[Plan], built: Mapping[str, Appliance] | None = None
) -> tuple[Plan, ...]:
    """The plans of a model on its gas; of several for one model and gas those that it is built by.

    built : the appliance that the units of a plan are, by its number
    """
    own, by_plan = (model.name, model.appliance.supply.gas.name), built or {}
    of_gas = (plan for plan in plans if (plan.model, plan.gas) == own)
    return tuple(plan for plan in of_gas if by_plan.get(plan.number, model.appliance) is model.appliance)


def models_of(appliances: Sequence[Appliance]) -> dict[str, Model]:
    """Models by a short word made of their name.

    >>> from burnerlab.appliance import demonstration
    >>> list(models_of([demonstration(), demonstration()]))
    ['lantern-square-6', 'lantern-square-6-2']
    """
    models: dict[str, Model] = {}
    for appliance in appliances:
        word = re.sub(r"[^a-z0-9]+", "-", (appliance.model or appliance.name).lower()).strip("-") or "model"
        key, number = word, 2
        while key in models:
            key, number = f"{word}-{number}", number + 1
        models[key] = Model(key=key, appliance=appliance)
    return models


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatInputTest:
    """Everything found in one test of one burner, or of all together."""

    model: Model
    burner: str  # "" for all together
    heat: HeatContent
    reading: MeterReading | WeighReading
    rating: Rating
    measured: InputMeasured
    comparison: Comparison
    expected_gross_W: float  # by the orifice of the file, at the pressure read, else at that of the file
    expected_Pa: float  # manifold pressure by the supply of the file, with these burners on at full rate
    calculated: CalculatedInput  # what stops hold against
    manifold: ManifoldCheck | None
    explanation: Explanation | None
    not_explained: str  # why there is no explanation
    is_low: bool = False  # read at the low rate of the file
    air: UnitInAir  # of the bench: rating, expected heat inputs and causes are those of the unit in it


def heat_content_of(model: Model, values: FormValues) -> HeatContent:
    """What the gas of a test is worth: as entered, else by the file."""
    value = values.get("heating_value")
    if value is None:
        return heat_of(model.appliance)
    return billed_heat_content(value, own=model.appliance.tables.instrument_uncertainty)


def _ambient_Pa(values: FormValues) -> float | None:
    if values.get("barometer") is not None:
        return float(values.get("barometer"))
    altitude = values.get("altitude")
    return None if altitude is None else float(pressure_at_altitude_Pa(altitude))


def _other_load_W(values: FormValues, heat: HeatContent) -> float:
    rate = values.get("other_load")
    if rate is None:
        return 0.0
    basis = require_basis(rate.basis, values.form.get("other_load"), key="other load")
    return float(rate.power_W) / (1.0 if basis == "gross" else heat.net_to_gross)


def meter_reading(model: Model, values: FormValues, heat: HeatContent) -> MeterReading:
    """What was read at the meter, with the pressures of the file where they were not read; no timing is needed."""
    times = tuple(values.get(name) for name in ("time1", "time2", "time3") if values.get(name))
    reading = MeterReading(
        dial_m3=values.get("dial"),
        times_s=times,
        revolutions=values.get("turns") or 1,
        gas_temperature_K=values.get("gas_temperature"),
        gauge_pressure_Pa=values.get("meter_pressure"),
        ambient_pressure_Pa=_ambient_Pa(values),
        from_altitude=values.get("altitude") is not None,
        compensated=bool(values.get("compensated")),
        saturated=bool(values.get("wet")),
        other_load_gross_W=_other_load_W(values, heat),
        meter_factor=values.get("meter_factor"),
    )
    return with_file_pressures(reading, model.appliance)


def _scale(model: Model, values: FormValues, heat: HeatContent) -> WeighReading:
    if model.no_weighing:
        raise UserError(Problem(model.no_weighing, key="method"))
    loss = values.get("first") - values.get("last")
    if not loss > 0.0:
        what = "must be below the reading at the start"
        raise UserError(Problem(what, value=values.form.get("last"), key="last"))
    return WeighReading(
        mass_losses_kg=(loss,),
        times_s=(values.get("burned"),),
        resolution_kg=values.get("resolution"),
        written_digit_kg=written_digit_kg(
            (values.form.get(end), values.get(end)) for end in ("first", "last")
        ),
        scale_factor=values.get("scale_factor"),
        other_load_gross_W=_other_load_W(values, heat),
    )


def heat_input_test(model: Model, values: FormValues) -> HeatInputTest:
    """What the readings say. Raises UserError with the field in each key."""
    try:
        return _results_of(model, values)
    except UserError as error:
        problems = [replace(p, fix=NO_LOW_RATE) if p.key == "low rate" else p for p in error.problems]
        raise UserError([replace(p, key=FIELD_OF.get(p.key, p.key)) for p in problems]) from None


def air_of_bench(model: Model, values: FormValues, burner: str | None) -> UnitInAir:
    """The unit in the air that barometer or altitude of the bench give; in that of its file where neither was read."""
    return in_air_of(model.appliance, _ambient_Pa(values), burner)


def _measured(
    model: Model, values: FormValues, heat: HeatContent, rating: Rating
) -> tuple[MeterReading | WeighReading, InputMeasured]:
    """What was read of the meter or the scale, and the heat input of it."""
    own = model.appliance.tables.instrument_uncertainty
    if values.form.method == "meter":
        timed = meter_reading(model, values, heat)
        return timed, clock(timed, heat, rating, own=own, draws=0)
    weighed = _scale(model, values, heat)
    return weighed, weigh(weighed, heat, rating, own=own, draws=0)


def _results_of(model: Model, values: FormValues) -> HeatInputTest:
    burner = model.burner(values.form.get("burner"))
    heat = heat_content_of(model, values)
    rule = decision_rule(values.form.get("rule") or "simple")
    unit = "Btu/h" if values.form.system == "US" else "kW"
    name, is_low = None if burner is None else burner.name, bool(values.get("low_rate"))
    air = air_of_bench(model, values, name)
    rating = rating_in_air(rating_of(model.appliance, name, rule, unit, low=is_low), air, low=is_low)
    reading, measured = _measured(model, values, heat, rating)
    pressure = values.get("manifold")
    expected = expected_input(air.appliance, name)
    measured = with_pressure_of_file(measured, model.appliance.supply.gauge_pressure_Pa, pressure)
    assert measured.comparison is not None  # a rating was given
    rates = [turndown_of(burner_on) if is_low else 1.0 for burner_on in expected.burners]
    expected_W = float(expected.each_W @ rates)
    there = expected if pressure is None else expected_at(air.appliance, pressure, name)
    reading_of_causes = Reading(
        ratio=measured.heat_input_gross_W / expected_W,
        relative_uncertainty=measured.budget.relative,
        pressure_ratio=None if pressure is None else pressure / expected.manifold_Pa,
        is_low_rate=is_low,
        meter=measured.meter,
        scale_digit_kg=values.get("resolution"),
        limits=model.pressure_limits(values.form),
    )
    explanation, why = _explained(air.appliance, name, measured, reading_of_causes)
    check = None
    if pressure is not None:
        read_W, u = None if is_low else measured.heat_input_gross_W, measured.budget.relative
        check = manifold_check(
            air.appliance,
            pressure,
            name,
            read_W,
            measured_uncertainty=u,
            limits=model.pressure_limits(values.form),
        )
    return HeatInputTest(
        model=model,
        burner="" if burner is None else burner.name,
        heat=heat,
        reading=reading,
        rating=rating,
        measured=measured,
        comparison=measured.comparison,
        expected_gross_W=float(there.each_W @ rates),
        expected_Pa=expected.manifold_Pa,
        calculated=calculated_input(
            air.appliance, name, pressure, model.pressure_limits(values.form), low=is_low
        ),
        manifold=check,
        explanation=explanation,
        not_explained=why,
        is_low=is_low,
        air=air,
    )


def _explained(
    appliance: Appliance, name: str | None, measured: InputMeasured, reading: Reading
) -> tuple[Explanation | None, str]:
    try:
        method: Any = "meter" if measured.method == "meter" else "scale"
        return explain(appliance, reading, name, method=method), ""
    except UserError as error:
        return None, "; ".join(words(problem) for problem in error.problems)


def low_rate_note(test: HeatInputTest) -> str:
    """What to look at where a reading taken for one at full is near the low rate; "" for any other."""
    if test.is_low:
        return ""
    name, gross_W = test.burner or None, test.measured.heat_input_gross_W
    near = near_low_rate(test.model.appliance, name, gross_W)
    return f"{near} Then this entry was wrong: tick that the burner was turned low" if near else ""


def flue_of(model: Model, values: FormValues, own: CarbonMonoxideLimit | None = None) -> FlueAnalysis | None:
    """What the analyser found; None when nothing was read. Raises UserError with the field in each key.

    own : limit of carbon monoxide of plan and file, in force where it is lower than that of the kind of appliance
    """
    if not any(
        values.get(field.name) is not None for field in group("flue") if field.name != "air_temperature"
    ):
        return None
    gas = model.appliance.supply.gas
    if not isinstance(gas, Gas):
        what = "needs the composition of the gas, and the model file only declares its heating value"
        raise UserError(
            Problem(what, key="oxygen", fix="leave the flue readings out, or name a gas of the library")
        )
    inputs: dict[str, Any] = {
        "is_air_free": bool(values.get(SHOWN_AIR_FREE.name)),
        "oxygen": values.get("oxygen"),
        "carbon_dioxide": values.get("carbon_dioxide"),
        "carbon_monoxide": values.get("carbon_monoxide"),
        "flue_temperature_K": values.get("flue_temperature"),
    }
    if values.get("air_temperature") is not None:
        inputs["air_temperature_K"] = values.get("air_temperature")
    ambient = _ambient_Pa(values)
    if ambient is not None:
        inputs["pressure_Pa"] = ambient
    try:
        analysis = analyse_flue(gas, FlueReading(**inputs), kind=values.form.get(APPLIANCE_KIND))
    except UserError as error:
        fields = [replace(p, key=FIELD_OF.get(p.key, "oxygen")) for p in error.problems]
        raise UserError([replace(p, fix="") if p.key == "oxygen" else p for p in fields]) from None
    return analysis if own is None else with_limit(analysis, own.limit, own.scope)
