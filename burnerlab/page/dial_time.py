"""How long one turn of the dial takes with a burner at its rating: beside the timings, as on the job card."""

from __future__ import annotations

from burnerlab.bench.decision_rule import decision_rule
from burnerlab.bench.reading.manifold import expected_input
from burnerlab.bench.reading.meter import Dial, MeterReading, metered_heat_J_per_m3, turn_time_s, usual_dial
from burnerlab.bench.unit import heat_of, rating_of, turndown_of, with_file_pressures
from burnerlab.page.form import Form, fields
from burnerlab.page.heat_input_test import Model
from burnerlab.page.result_text import unit_words
from burnerlab.quantity import Kind, System, in_unit
from burnerlab.report.sheet.job_card import between, seconds_text
from burnerlab.tables.problem import UserError

LOW = "low"  # state of a plan's row


def turn_words(model: Model, form: Form) -> str:
    """The dial, and the time of one turn: expected, and in the band of the rating; "" where it cannot be said.

    The dial is the one of the form, else that usual in the region of the model. Conditions are those of the file, as
    the reading takes them where they are not entered.
    """
    try:
        burner = model.burner(form.get("burner"))
        name = None if burner is None else burner.name
        is_low = form.get("plan_state") == LOW or form.get("low_rate") == "yes"
        dial = _dial(model, form)
        reading = with_file_pressures(MeterReading(dial_m3=dial.volume_m3, times_s=()), model.appliance)
        heat = heat_of(model.appliance)
        metered = metered_heat_J_per_m3(reading, heat)
        rating = rating_of(model.appliance, name, decision_rule(), low=is_low)
        expected = expected_input(model.appliance, name)
        shares = [turndown_of(one) if is_low else 1.0 for one in expected.burners]
    except UserError:
        return ""
    to_gross = 1.0 if rating.basis == "gross" else 1.0 / heat.net_to_gross
    ends = (rating.tolerance.low, rating.tolerance.high)
    slow, fast = (
        turn_time_s(dial.volume_m3, metered, rating.heat_input_W * to_gross * (1.0 + end)) for end in ends
    )
    calculated = turn_time_s(dial.volume_m3, metered, float(expected.each_W @ shares))
    size, time, band = _size(dial, form.system), seconds_text(calculated), between(fast, slow)
    if is_low:
        return (
            f"One turn of {size} ({dial.words}) at the low rate is calculated to take {time}; "
            f"in the band of the rating {band}."
        )
    return (
        f"One turn of {size} ({dial.words}) is calculated to take {time}; in the band of the rating {band}."
    )


def _dial(model: Model, form: Form) -> Dial:
    text = form.get("dial")
    if not text:
        return usual_dial(model.appliance.region)
    return Dial(volume_m3=float(fields()["dial"].read(text, form.system)), words="as entered")


def _size(dial: Dial, system: System) -> str:
    unit = "ft3" if system == "US" else "L"
    return f"{float(in_unit(dial.volume_m3, Kind.VOLUME, unit)):.4g} {unit_words(unit)}"
