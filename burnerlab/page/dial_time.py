"""How long one turn of the dial takes with a burner at its rating: beside the timings, as on the job card."""

from __future__ import annotations

from dataclasses import replace

from burnerlab.bench.decision_rule import decision_rule
from burnerlab.bench.reading.heat_input import HeatContent
from burnerlab.bench.reading.manifold import expected_input
from burnerlab.bench.reading.meter import (
    MeterReading,
    SEA_LEVEL_Pa,
    metered_heat_J_per_m3,
    turn_time_s,
    usual_dial,
)
from burnerlab.bench.reading.scale import SMALL_LOSS, least_weighing_min
from burnerlab.bench.uncertainty import instruments
from burnerlab.bench.unit import rating_of, turndown_of
from burnerlab.page.form import Form, FormValues, form_values
from burnerlab.page.heat_input_test import Model, air_of_bench, heat_content_of, meter_reading
from burnerlab.page.result_text import unit_words
from burnerlab.quantity import Kind, System, in_unit
from burnerlab.report.sheet.blocks import AMBIENT, MASS_FLOW, TEMPERATURE, pressure
from burnerlab.report.sheet.turn_time import seconds_text, times_within
from burnerlab.tables.problem import UserError

LOW = "low"  # state of a plan's row
STATE = ("meter_pressure", "gas_temperature", "altitude", "barometer", "meter_factor")  # of a meter's volume
OWN = (
    *STATE,
    "dial",
    "heating_value",
    "other_load",
    "compensated",
    "wet",
)  # what a time of a turn depends on


def turn_words(model: Model, form: Form) -> str:
    """The dial, and the time of one turn: expected, and in the band of the rating; "" where it cannot be said.

    The dial is the one of the form, else that usual in the region of the model or by the reader's units. Pressure,
    temperature and barometer are those of the form, else those of the file; the pressure at the meter is else the
    nominal one, at which no time within is that of an overfired burner.
    """
    try:
        values = form_values(form, ("measure",))
        if any(name in values.errors for name in OWN if form.get(name)):
            return ""
        return _turn_words(model, values)
    except UserError:
        return ""


def loss_words(model: Model, form: Form) -> str:
    """What a cylinder loses with a burner on, and how long it is weighed at least; "" where it cannot be said.

    In the least time it loses ``SMALL_LOSS`` times the last digit of the scale, as entered, else of the table.
    """
    try:
        values = form_values(form, ("measure",))
        heat = heat_content_of(model, values)
        if model.no_weighing or heat.gross_J_per_kg is None or "resolution" in values.errors:
            return ""
        is_low, low_W, high_W, expected_W = _heat_inputs(model, values, heat, 0.0)
    except UserError:
        return ""
    low, high, expected = (one / heat.gross_J_per_kg for one in (low_W, high_W, expected_W))
    digit_kg = values.get("resolution") or instruments()["scale resolution"].half_width
    minutes = least_weighing_min(low, digit_kg)
    scale = MASS_FLOW.scale(form.system)
    low_words, high_words = scale.text(low).removesuffix(f" {scale.unit}"), scale.text(high)
    rate = AT_LOW if is_low else ""
    return LOSS.format(
        rate=rate,
        loss=scale.text(expected),
        band=f"{low_words} to {high_words}",
        minutes=minutes,
        digits=f"{SMALL_LOSS:.0f}",
        digit=_mass(digit_kg, form.system) + ("" if values.get("resolution") else ", as none is entered"),
    )


AT_LOW = " at the low rate"
LOSS = (
    "A cylinder{rate} is calculated to lose {loss}; in the band of the rating {band}. Weigh for {minutes} min at "
    "least: {digits} times the last digit of the scale, {digit}."
)


def _mass(mass_kg: float, system: System) -> str:
    unit, kind = ("lb", Kind.MASS) if system == "US" else ("g", Kind.MASS)
    return f"{float(in_unit(mass_kg, kind, unit)):.3g} {unit}"


def _heat_inputs(
    model: Model, values: FormValues, heat: HeatContent, other_W: float
) -> tuple[bool, float, float, float]:
    """Whether a burner is turned low; both ends of the band of its rating and what is calculated, gross [W].

    other_W : of another load, in all three
    """
    form = values.form
    burner = model.burner(form.get("burner"))
    name = None if burner is None else burner.name
    is_low = form.get("plan_state") == LOW or form.get("low_rate") == "yes"
    air = air_of_bench(model, values, name)
    rating = rating_of(air.appliance, name, decision_rule(), low=is_low)
    expected = expected_input(air.appliance, name)
    shares = [turndown_of(one) if is_low else 1.0 for one in expected.burners]
    to_gross = 1.0 if rating.basis == "gross" else 1.0 / heat.net_to_gross
    low_W, high_W = (
        rating.heat_input_W * to_gross * (1.0 + end) + other_W
        for end in (rating.tolerance.low, rating.tolerance.high)
    )
    return is_low, low_W, high_W, float(expected.each_W @ shares) + other_W


def _turn_words(model: Model, values: FormValues) -> str:
    form = values.form
    usual = usual_dial(model.appliance.region, form.system)
    dial_m3, dial_words = (
        values.get("dial") or usual.volume_m3,
        "as entered" if form.get("dial") else usual.words,
    )
    heat = heat_content_of(model, values)
    reading = replace(meter_reading(model, values, heat), dial_m3=dial_m3)
    metered = metered_heat_J_per_m3(reading, heat) * (reading.meter_factor or 1.0)
    is_low, low_W, high_W, expected_W = _heat_inputs(model, values, heat, reading.other_load_gross_W)
    fast, slow = (turn_time_s(dial_m3, metered, end_W) for end_W in (high_W, low_W))
    time = seconds_text(turn_time_s(dial_m3, metered, expected_W))
    low = AT_LOW if is_low else ""
    return (
        f"One turn of {_size(dial_m3, form.system)} ({dial_words}){low} is calculated to take {time}; "
        f"in the band of the rating {times_within(fast, slow)}. "
        f"{_state_words(reading, heat, form.system)}"
    )


def _state_words(reading: MeterReading, heat: HeatContent, system: System) -> str:
    """For which state of the gas in the meter the times hold."""
    at_meter = reading.gauge_pressure_Pa or 0.0
    gauge = pressure(at_meter).inline(at_meter, system)
    warm = reading.gas_temperature_K or heat.reference.metering_temperature_K
    ambient = reading.ambient_pressure_Pa or SEA_LEVEL_Pa
    at = ", ".join((TEMPERATURE.inline(warm, system), AMBIENT.inline(ambient, system)))
    if not reading.meter_pressure_is_nominal:
        return f"For {gauge} at the meter, {at}."
    return f"For {gauge} at the meter, the nominal pressure, as none is entered, at {at}: read and enter it."


def _size(volume_m3: float, system: System) -> str:
    unit = "ft3" if system == "US" else "L"
    return f"{float(in_unit(volume_m3, Kind.VOLUME, unit)):.4g} {unit_words(unit)}"
