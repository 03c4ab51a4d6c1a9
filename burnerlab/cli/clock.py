"""``burnerlab clock``: heat input by gas meter and watch."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.bench_inputs import (
    BASIS,
    ReadingBasis,
    factor_inputs,
    gross_W,
    other_load_input,
    wanted_input,
)
from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.common_inputs import ALTITUDE, BAROMETER, ONE_PLACE
from burnerlab.cli.common_inputs import ambient_pressure_Pa as pressure_of_place
from burnerlab.cli.options import json_option
from burnerlab.cli.output import print_json, print_notes
from burnerlab.cli.reading_output import by_option, measured_text, status_of
from burnerlab.cli.stops import print_stops, stops_json
from burnerlab.cli.takes import takes
from burnerlab.quantity.inputs import Group, Input
from burnerlab.quantity.outputs import row
from burnerlab.tables.problem import Problem

if TYPE_CHECKING:
    from burnerlab.bench.clock import MeterReading
    from burnerlab.quantity import Rate


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """What was read at the meter, and what else burned meanwhile."""

    reading: MeterReading
    other_load: Rate | None

    def on(self, basis: ReadingBasis) -> MeterReading:
        """The reading with the other load, gross, and the pressures of the file where they were not read."""
        from burnerlab.bench.model_file import with_file_pressures

        reading = replace(self.reading, other_load_gross_W=gross_W(self.other_load, basis.heat))
        appliance = basis.unit.appliance
        return reading if appliance is None else with_file_pressures(reading, appliance)


def _timing(
    volume: float,
    time: float,
    repeat: tuple[float, ...],
    altitude: float | None,
    barometer: float | None,
    other_load: Rate | None,
    **figures: Any,
) -> Timing:
    from burnerlab.bench.clock import MeterReading

    has_place = altitude is not None or barometer is not None
    reading = MeterReading(
        dial_m3=volume,
        times_s=(time, *repeat),
        ambient_pressure_Pa=pressure_of_place(altitude, barometer) if has_place else None,
        from_altitude=altitude is not None,
        revolutions=figures["revolutions"],
        gas_temperature_K=figures["gas_temperature"],
        gauge_pressure_Pa=figures["meter_pressure"],
        compensated=figures["compensated"],
        base_temperature_K=figures["meter_base"],
        saturated=figures["wet"],
        meter_factor=figures["meter_factor"],
        meter_factor_uncertainty=figures["meter_factor_uncertainty"],
    )
    return Timing(reading=reading, other_load=other_load)


def _base_of_a_compensated_meter(written: Mapping[str, Any]) -> Iterator[Problem]:
    if "meter_base" in written and not written.get("compensated"):
        yield Problem("has a meaning with --compensated only", written["meter_base"], "--meter-base")


TIMING = Group(
    make=_timing,
    inputs=(
        Input(
            name="volume",
            of="dial",
            metavar="V",
            is_needed=True,
            help='Of one revolution of the dial: "2 ft3", "10 L".',
        ),
        Input(
            name="time", of="timing", metavar="T", is_needed=True, help='Of the whole revolutions: "18 s".'
        ),
        Input(
            name="repeat",
            of="timing",
            metavar="T",
            is_many=True,
            help="Another timing of the same; give it again for more.",
        ),
        Input(name="revolutions", metavar="N", default="1", help="Whole ones timed."),
        Input(name="meter_pressure", metavar="P", help='Gauge, at the meter: "7 inH2O", "5 psig".'),
        replace(BAROMETER, help='Station pressure, absolute: "14.35 psia".'),
        replace(ALTITUDE, help='Instead of the barometer: "1500 m".'),
        Input(name="gas_temperature", metavar="T", help='Of the gas in the meter: "45 F".'),
        Input(name="compensated", is_flag=True, help="The meter compensates for temperature."),
        Input(name="meter_base", metavar="T", help="Base temperature of a compensated meter."),
        *factor_inputs("meter", 'Of its certificate, true over counted volume: "1.012".', "0.4 %"),
        Input(name="wet", is_flag=True, help="The gas in the meter is saturated with water."),
        other_load_input('Pilot or other load meanwhile: "1 kBtu/h gross".'),
    ),
    not_both=ONE_PLACE,
    rules=_base_of_a_compensated_meter,
)
"""What was read at the meter: ``Timing``."""


@click.command(short_help="Heat input by gas meter and watch, with its uncertainty.")
@takes(
    basis=BASIS,
    timing=TIMING,
    wanted=wanted_input('Expanded uncertainty wanted: "2 %". Says how long to time.'),
)
@json_option
def clock_command(basis: ReadingBasis, timing: Timing, wanted: float | None, as_json: bool) -> int:
    """Heat input by gas meter and watch, with its uncertainty and where it stands against the rating.

    Time whole revolutions of a dial with everything else off. The volume is brought to the state of the heating
    value through moles of dry gas; what was not read is taken as at that state and said so in the uncertainty.
    FILE is the project file of the unit: its gas, rating, band and inlet pressure hold where no option says another.

    Exit status: 1 where the reading is outside the band of the rating or a stop is raised, 0 where it is not
    or no rating is given, 2 for wrong input.

    \b
    Examples:
      burnerlab clock --heating-value "1037 Btu/ft3 gross at 60F" --volume "2 ft3" --time "18 s" \\
          --meter-pressure "5 psig" --barometer "14.35 psia" --gas-temperature "60 F"
      burnerlab clock --gas natural-gas-typical --volume "10 L" --time "61.2 s" --repeat "61.5 s" \\
          --rating "6.2 kW gross" --rule guard --wanted "2 %"
      burnerlab clock range.toml --burner "stock-pot ring" --volume "50 L" --time "214 s"
    """
    from burnerlab.bench.clock import clock
    from burnerlab.bench.timing import timing_for

    reading, state = timing.on(basis), basis.state
    measured = by_option(lambda: clock(reading, basis.heat, basis.rating, state, own=basis.instruments))
    plan = None
    if wanted is not None:
        plan = timing_for(measured.budget, measured.time_s, reading.revolutions, wanted)
    measured = basis.unit.compared(measured)
    stops = basis.unit.stops(measured, state)
    if stops:
        measured = measured.withheld()
    if as_json:
        print_json(stops_json(stops) | row(measured), reading=reading, timing=plan)
        return status_of(measured, stops)
    print_stops(stops)
    click.echo(measured_text(measured, plan, _meter_pressure(reading), stops=stops))
    print_notes("Notes", measured.notes)
    print_cautions(measured.heat.gas)
    return status_of(measured, stops)


def _meter_pressure(reading: MeterReading) -> list[tuple[str, str]]:
    """The meter pressure that was used, and where it comes from."""
    from burnerlab.quantity import Kind, show

    if reading.gauge_pressure_Pa is None:
        return [("meter pressure", reading.gauge_pressure_source)]
    value = show(reading.gauge_pressure_Pa, Kind.GAUGE_PRESSURE)
    return [("meter pressure", f"{value} gauge, {reading.gauge_pressure_source}")]
