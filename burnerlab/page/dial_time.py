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
    turn_band_s,
    turn_time_s,
    usual_dial,
)
from burnerlab.bench.unit import rating_of, turndown_of
from burnerlab.page.form import Form, FormValues, form_values
from burnerlab.page.heat_input_test import Model, heat_content_of, meter_reading
from burnerlab.page.result_text import unit_words
from burnerlab.quantity import Kind, System, in_unit
from burnerlab.report.sheet.blocks import AMBIENT, TEMPERATURE, pressure
from burnerlab.report.sheet.job_card import between, seconds_text
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

    The dial is the one of the form, else that usual in the region of the model. Pressure, temperature and barometer
    are those of the form, else those of the file. Where neither has the pressure at the meter, the times are those in
    the band both at 0 gauge and at the supply pressure: none is that of an overfired burner.
    """
    try:
        values = form_values(form, ("measure",))
        if any(name in values.errors for name in OWN if form.get(name)):
            return ""
        return _turn_words(model, values)
    except UserError:
        return ""


def _turn_words(model: Model, values: FormValues) -> str:
    form = values.form
    burner = model.burner(form.get("burner"))
    name = None if burner is None else burner.name
    is_low = form.get("plan_state") == LOW or form.get("low_rate") == "yes"
    usual = usual_dial(model.appliance.region)
    dial_m3, dial_words = (
        values.get("dial") or usual.volume_m3,
        "as entered" if form.get("dial") else usual.words,
    )
    heat = heat_content_of(model, values)
    readings = _at_pressures(model, replace(meter_reading(model, values, heat), dial_m3=dial_m3))
    metered = [metered_heat_J_per_m3(each, heat) * (each.meter_factor or 1.0) for each in readings]
    rating = rating_of(model.appliance, name, decision_rule(), low=is_low)
    expected = expected_input(model.appliance, name)
    shares = [turndown_of(one) if is_low else 1.0 for one in expected.burners]
    to_gross = 1.0 if rating.basis == "gross" else 1.0 / heat.net_to_gross
    other_W = readings[0].other_load_gross_W
    low_W, high_W = (
        rating.heat_input_W * to_gross * (1.0 + end) + other_W
        for end in (rating.tolerance.low, rating.tolerance.high)
    )
    window = turn_band_s(dial_m3, metered, low_W, high_W)
    band = (
        "no time is within the band of the rating at every such pressure: read the pressure at the meter"
        if window is None
        else f"in the band of the rating {between(*window)}"
    )
    calculated_W = float(expected.each_W @ shares) + other_W
    ends = [seconds_text(turn_time_s(dial_m3, each, calculated_W)) for each in metered]
    time = ends[0] if ends[0] == ends[-1] else " to ".join(ends)
    low = " at the low rate" if is_low else ""
    return (
        f"One turn of {_size(dial_m3, form.system)} ({dial_words}){low} is calculated to take {time}; {band}. "
        f"{_state_words(readings, heat, form.system)}"
    )


def _at_pressures(model: Model, reading: MeterReading) -> list[MeterReading]:
    """The reading at each pressure the meter may have: one where it is known, else 0 gauge and that of the supply."""
    if reading.gauge_pressure_Pa is not None:
        return [reading]
    return [
        replace(reading, gauge_pressure_Pa=each) for each in (0.0, model.appliance.supply.gauge_pressure_Pa)
    ]


def _state_words(readings: list[MeterReading], heat: HeatContent, system: System) -> str:
    """For which state of the gas in the meter the times hold."""
    first, last = readings[0], readings[-1]
    supply = last.gauge_pressure_Pa or 0.0
    gauge = pressure(supply).inline(supply, system)
    warm = first.gas_temperature_K or heat.reference.metering_temperature_K
    ambient = first.ambient_pressure_Pa or SEA_LEVEL_Pa
    at = ", ".join((TEMPERATURE.inline(warm, system), AMBIENT.inline(ambient, system)))
    if len(readings) > 1:
        return f"For any meter pressure of 0 to {gauge}, which is not entered, at {at}: enter it for its own times."
    return f"For {gauge} at the meter, {at}."


def _size(volume_m3: float, system: System) -> str:
    unit = "ft3" if system == "US" else "L"
    return f"{float(in_unit(volume_m3, Kind.VOLUME, unit)):.4g} {unit_words(unit)}"
