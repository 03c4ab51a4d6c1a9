"""One range of each input at every door of the bench: table ``inputs``, the commands and the readings of a notebook."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from command_runs import complaint

from burnerlab.bench.reading.heat_input import factor_problems
from burnerlab.bench.reading.meter import MeterReading
from burnerlab.bench.reading.scale import WeighReading
from burnerlab.cli import command_of
from burnerlab.cli.options import Declared
from burnerlab.quantity import UserError
from burnerlab.quantity.inputs import input_row

METER = MeterReading(dial_m3=0.010, times_s=(61.2,))
SCALE = WeighReading(mass_losses_kg=(0.25,), times_s=(1800.0,))
CLOCK = ("clock", "--gas", "propane", "--volume", "10 L", "--time", "61.2 s")
WEIGH = ("weigh", "--gas", "propane", "--mass-loss", "250 g", "--time", "30 min")
FLUE = ("flue", "--gas", "propane", "--oxygen", "5 %")
EXPLAIN = ("explain", "--study")


@pytest.mark.parametrize(
    ("row", "line", "option", "beyond"),
    [
        ("dial", CLOCK, "--volume", "100.1 m3"),
        ("timing", CLOCK, "--time", "36001 s"),
        ("timing", CLOCK, "--repeat", "36001 s"),
        ("revolutions", CLOCK, "--revolutions", "1001"),
        ("meter_pressure", CLOCK, "--meter-pressure", "1000.1 kPa"),
        ("barometer", CLOCK, "--barometer", "110.1 kPa"),
        ("altitude", CLOCK, "--altitude", "5501 m"),
        ("gas_temperature", CLOCK, "--gas-temperature", "81 C"),
        ("meter_base", CLOCK, "--meter-base", "41 C"),
        ("meter_factor", CLOCK, "--meter-factor", "1.26"),
        ("mass_loss", WEIGH, "--mass-loss", "1001 kg"),
        ("weighing_time", WEIGH, "--time", "360001 s"),
        ("scale_digit", WEIGH, "--resolution", "10.1 kg"),
        ("scale_drift", WEIGH, "--drift", "1001 kg"),
        ("scale_factor", WEIGH, "--scale-factor", "1.26"),
        ("oxygen", FLUE, "--oxygen", "20.86 %"),
        ("carbon_dioxide", FLUE, "--carbon-dioxide", "25.1 %"),
        ("carbon_monoxide", FLUE, "--carbon-monoxide", "10.1 %"),
        ("flue_temperature", FLUE, "--flue-temperature", "2001 K"),
        ("air_temperature", FLUE, "--air-temperature", "81 C"),
        ("relative_humidity", FLUE, "--relative-humidity", "101 %"),
        ("barometer", FLUE, "--barometer", "110.1 kPa"),
        ("altitude", FLUE, "--altitude", "5501 m"),
        ("study_units", EXPLAIN, "--faults", "100001"),
    ],
)
def test_a_command_refuses_what_the_table_does_not_accept(
    row: str, line: tuple[str, ...], option: str, beyond: str
) -> None:
    with pytest.raises(UserError) as refused:
        input_row(row).read(beyond, option)
    kept = list(line)
    if option in kept:
        place = kept.index(option)
        del kept[place : place + 2]
    assert refused.value.problems[0].text() in complaint(*kept, option, beyond)


# a temperature is refused in the unit that is written, not in kelvin
IN_CELSIUS = {"gas_temperature": "-40 C to 80 C", "meter_base": "-10 C to 40 C"}


@pytest.mark.parametrize(
    ("row", "reading", "field", "beyond"),
    [
        ("dial", METER, "dial_m3", 100.1),
        ("timing", METER, "times_s", (36_001.0,)),
        ("revolutions", METER, "revolutions", 0),
        ("meter_pressure", METER, "gauge_pressure_Pa", 1.001e6),
        ("barometer", METER, "ambient_pressure_Pa", 40e3),
        ("gas_temperature", METER, "gas_temperature_K", 500.0),
        ("meter_base", METER, "base_temperature_K", 400.0),
        ("mass_loss", SCALE, "mass_losses_kg", (0.0,)),
        ("weighing_time", SCALE, "times_s", (360_001.0,)),
        ("scale_digit", SCALE, "resolution_kg", -0.001),
        ("scale_drift", SCALE, "drift_kg", -1.0),
    ],
)
def test_a_reading_of_a_notebook_keeps_to_the_same_range(
    row: str, reading: Any, field: str, beyond: Any
) -> None:
    reading.check()
    accepted = IN_CELSIUS.get(row, input_row(row).span)
    with pytest.raises(UserError) as refused:
        replace(reading, **{field: beyond}).check()
    assert accepted in [problem.accepted for problem in refused.value.problems]


@pytest.mark.parametrize("instrument", ["meter", "scale"])
def test_a_factor_of_a_notebook_keeps_to_the_same_range(instrument: str) -> None:
    row = input_row(f"{instrument}_factor")
    for factor in (row.low, 1.0, row.high):
        assert factor_problems(f"{instrument} factor", factor, None) == []
    for factor in (0.99 * row.low, 1.01 * row.high):
        assert factor_problems(f"{instrument} factor", factor, None)[0].accepted == row.span


@pytest.mark.parametrize("name", ["clock", "weigh", "flue", "explain"])
def test_a_command_of_the_bench_declares_all_it_takes(name: str) -> None:
    """Every option but those of all commands is an input: nothing is read by hand."""
    params = command_of(name).params
    by_hand = [one.name for one in params if not isinstance(one, Declared)]
    assert sorted(by_hand) == ["all_cautions", "as_json", "cite", "quiet", "units", "verbose"]
