"""``clock``, ``weigh`` and ``flue``: readings of a meter, a scale and a flue-gas analyser."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.bench_inputs import (
    BASIS,
    ReadingBasis,
    factor_inputs,
    gross_W,
    other_load_input,
    uncertainty_input,
)
from burnerlab.cli.common_inputs import ALTITUDE, BAROMETER, ONE_PLACE, PLAIN, SURROUNDINGS, own_table
from burnerlab.cli.common_inputs import ambient_pressure_Pa as pressure_of_place
from burnerlab.cli.gas_inputs import GAS
from burnerlab.cli.options import json_option, takes, written
from burnerlab.cli.output import (
    amount,
    facts,
    gas_fact,
    number,
    print_cautions,
    print_json,
    print_notes,
    print_stops,
    stops_json,
    table,
)
from burnerlab.cli.reading_output import by_option, measured_text, print_act_first, status_of
from burnerlab.quantity import Kind, Rate
from burnerlab.quantity.inputs import Group, Input, as_written, input_row, together
from burnerlab.quantity.minutes import in_seconds
from burnerlab.quantity.outputs import Column, columns, row
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.bench.reading.flue import FlueAnalysis, FlueReading, FlueUncertainty
    from burnerlab.bench.reading.meter import MeterReading
    from burnerlab.bench.reading.scale import WeighReading
    from burnerlab.gas import DeclaredGas, Gas

PLACE_OF_BENCH = (
    replace(BAROMETER, help='Pressure of the air at the bench, absolute: "1009 hPa".'),
    replace(ALTITUDE, help='Altitude of the bench, where no barometer was read: "1500 m".'),
)
"""The air in which a heat input is measured."""

# ``burnerlab clock``: heat input by gas meter and watch.


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """What was read at the meter, and what else burned meanwhile."""

    reading: MeterReading
    other_load: Rate | None

    def on(self, basis: ReadingBasis) -> MeterReading:
        """The reading with the other load, gross, and the pressures of the file where they were not read."""
        from burnerlab.bench.unit import with_file_pressures

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
    from burnerlab.bench.reading.meter import MeterReading

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


def _watched(text: Any, key: str) -> float:
    """A timing of revolutions, as the watch shows it."""
    return float(input_row("timing").read(in_seconds(str(text), colon=True), key))


def _weighing_time(text: Any, key: str) -> float:
    """The time between two readings of a scale."""
    return float(input_row("weighing_time").read(in_seconds(str(text), colon=False), key))


TIMING = Group(
    make=_timing,
    inputs=(
        Input(
            name="volume",
            of="dial",
            metavar="V",
            is_needed=True,
            help='Gas of one revolution of the dial: "10 L", "2 ft3".',
        ),
        Input(
            name="time",
            of="timing",
            reader=_watched,
            metavar="T",
            is_needed=True,
            example="61.2 s",
            help='Time of the revolutions: "61.2 s", "3 min 41 s".',
        ),
        Input(
            name="repeat",
            of="timing",
            reader=_watched,
            metavar="T",
            is_many=True,
            help="Second timing of as many revolutions; repeatable.",
        ),
        Input(name="revolutions", metavar="N", default="1", help="Whole revolutions timed."),
        Input(name="meter_pressure", metavar="P", help='Gauge pressure at the meter: "25 mbar", "7 inH2O".'),
        *PLACE_OF_BENCH,
        Input(name="gas_temperature", metavar="T", help='Gas temperature in the meter: "18 C".'),
        Input(name="compensated", is_flag=True, help="The meter compensates for temperature."),
        Input(name="meter_base", metavar="T", help='Base temperature of a compensated meter: "15 C".'),
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
    uncertainty=uncertainty_input('Expanded uncertainty wanted: "2 %". Print how long to time.'),
)
@json_option
def clock_command(basis: ReadingBasis, timing: Timing, uncertainty: float | None, as_json: bool) -> int:
    """Heat input by gas meter and watch, with its uncertainty and where it stands against the rating.

    Time whole revolutions of a dial with everything else off. The volume read is converted to the reference state of
    the heating value. A pressure or temperature that was not read is taken from FILE, else from that state, and
    widens the uncertainty. FILE is the project file of the unit: its gas, rating, band and inlet pressure hold
    unless an option names another. In other air than that of FILE or plan (--barometer, --altitude) the unit is held
    against what it should burn in it, and the figure at its place is printed too.

    Exit status: 1 where the reading is outside the band of the rating or a stop is raised, 0 where it is not
    or no rating is given, 2 for wrong input.

    \b
    Examples:
      burnerlab clock range.toml --burner "stock-pot ring" --volume "50 L" \\
          --time "214 s" --repeat "214.6 s"
      burnerlab clock --gas natural-gas-typical --volume "10 L" --time "61.2 s" \\
          --rating "6.2 kW gross" \\
          --gas-temperature "18 C" --meter-pressure "25 mbar" \\
          --barometer "1009 hPa" --wanted "2 %"
      burnerlab clock --heating-value "1043 Btu/ft3 gross at 60F" \\
          --volume "2 ft3" --time "53 s" \\
          --meter-pressure "7 inH2O" --gas-temperature "64 F"
    """
    from burnerlab.bench.reading.meter import clock, timing_for

    basis = basis.in_air(timing.reading.ambient_pressure_Pa)
    reading, state = timing.on(basis), basis.state
    measured = by_option(lambda: clock(reading, basis.heat, basis.rating, state, own=basis.instruments))
    plan = None
    if uncertainty is not None:
        plan = timing_for(measured.budget, measured.time_s, reading.revolutions, uncertainty)
    measured = basis.unit.compared(measured, basis.manifold_gauge_Pa)
    stops = basis.stops(measured)
    at_place = basis.at_place(measured)
    if stops:
        measured = measured.withheld()
    if as_json:
        print_json(stops_json(stops) | row(measured), reading=reading, timing=plan, at_place=at_place)
        return status_of(measured, stops)
    print_stops(stops)
    print_act_first(measured, stops)
    click.echo(measured_text(measured, plan, basis.head(), _meter_pressure(reading), stops, at_place))
    print_notes("Notes", measured.notes)
    print_cautions(measured.heat.gas)
    return status_of(measured, stops)


def _meter_pressure(reading: MeterReading) -> list[tuple[str, str]]:
    """The meter pressure that was used, and where it comes from."""

    if reading.gauge_pressure_Pa is None:
        return [("meter pressure", reading.gauge_pressure_source)]
    value = amount(reading.gauge_pressure_Pa, Kind.GAUGE_PRESSURE)  # not converted again: 7 in w.c. stays 7
    return [("meter pressure", f"{value} gauge, {reading.gauge_pressure_source}")]


# ``burnerlab weigh``: heat input by scale and watch.

IN = re.compile(r"(?P<mass>.+?)\s+in\s+(?P<time>.+)", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """What scale and watch read, and what else burned meanwhile."""

    reading: WeighReading
    other_load: Rate | None
    ambient_Pa: float | None  # of the air at the bench; None where it was not read

    def on(self, basis: ReadingBasis) -> WeighReading:
        """The reading, with the other load on the gross basis."""
        return replace(self.reading, other_load_gross_W=gross_W(self.other_load, basis.heat))


def _weighing(
    mass_loss: float | None,
    first: float | None,
    last: float | None,
    time: float,
    repeat: tuple[tuple[float, float], ...],
    other_load: Rate | None,
    **figures: Any,
) -> Weighing:
    from burnerlab.bench.reading.scale import WeighReading, written_digit_kg

    read = {"first": first, "last": last, "mass_loss": mass_loss}
    if first is not None and last is not None:
        if not first > last:
            what = "the cylinder must have lost mass"
            raise UserError(Problem(what, written("last"), "--to", accepted="below --from"))
        mass_loss = first - last
    assert mass_loss is not None  # a rule of the inputs
    reading = WeighReading(
        mass_losses_kg=(mass_loss, *(mass for mass, _ in repeat)),
        times_s=(time, *(seconds for _, seconds in repeat)),
        resolution_kg=figures["resolution"],
        written_digit_kg=written_digit_kg((written(name), kg) for name, kg in read.items() if kg is not None),
        drift_kg=figures["drift"] or 0.0,
        scale_factor=figures["scale_factor"],
        scale_factor_uncertainty=figures["scale_factor_uncertainty"],
    )
    altitude, barometer = figures["altitude"], figures["barometer"]
    has_place = altitude is not None or barometer is not None
    ambient_Pa = pressure_of_place(altitude, barometer) if has_place else None
    return Weighing(reading=reading, other_load=other_load, ambient_Pa=ambient_Pa)


def _mass_loss(written: Mapping[str, Any]) -> Iterator[Problem]:
    """The loss, or both ends of it."""
    ends = len({"first", "last"} & written.keys())
    if ends != (0 if "mass_loss" in written else 2):
        what = "give the loss, or the first and the last reading"
        yield Problem(what, key="--mass-loss, or --from and --to")


def _another_weighing(text: str, key: str) -> tuple[float, float]:
    """Mass and time such as "248 g in 30 min"."""
    match = IN.fullmatch(text.strip())
    if match is None:
        fix = 'write it as "248 g in 30 min"'
        raise UserError(Problem("mass and time of another weighing", text, key, fix=fix))
    mass, time = together(
        lambda: input_row("mass_loss").read(match["mass"], key),
        lambda: _weighing_time(match["time"], key),
    )
    return mass, time


WEIGHING = Group(
    make=_weighing,
    inputs=(
        Input(name="mass_loss", metavar="M", help='Mass the cylinder lost: "250 g".'),
        Input(
            name="first",
            of="cylinder_mass",
            flags=("--from",),
            metavar="M",
            help="First reading of the scale, in place of --mass-loss.",
        ),
        Input(
            name="last", of="cylinder_mass", flags=("--to",), metavar="M", help="Last reading of the scale."
        ),
        Input(
            name="time",
            of="weighing_time",
            reader=_weighing_time,
            metavar="T",
            is_needed=True,
            example="30 min",
            help='Time between the two readings: "30 min".',
        ),
        Input(
            name="repeat",
            reader=_another_weighing,
            metavar="LIST",
            is_many=True,
            help='Second weighing, mass lost and time: "248 g in 30 min".',
        ),
        Input(name="resolution", of="scale_digit", metavar="M", help='Last digit of the scale: "1 g".'),
        Input(
            name="drift",
            of="scale_drift",
            metavar="M",
            help='Largest drift of the scale during the test: "2 g".',
        ),
        *PLACE_OF_BENCH,
        *factor_inputs("scale", 'Of its certificate, true over shown mass: "1.002".', "0.1 %"),
        other_load_input('Other load meanwhile: "1 kBtu/h gross".'),
    ),
    not_both=ONE_PLACE,
    rules=_mass_loss,
)
"""What scale and watch read: ``Weighing``."""


@click.command(short_help="Heat input by scale and watch, with its uncertainty.")
@takes(
    basis=BASIS,
    weighing=WEIGHING,
    uncertainty=uncertainty_input('Expanded uncertainty wanted: "2 %". Print how long to weigh.'),
)
@json_option
def weigh_command(basis: ReadingBasis, weighing: Weighing, uncertainty: float | None, as_json: bool) -> int:
    """Heat input by the mass a cylinder loses, with its uncertainty and where it stands against the rating.

    Support hose and regulator so that they neither pull nor push, and keep the wind off the scale.
    FILE is the project file of the unit: its gas, rating and band hold unless an option names another. A unit
    built for a gas that comes from no cylinder is refused. In other air than that of FILE or plan (--barometer,
    --altitude) the unit is held against what it should burn in it, and the figure at its place is printed too.

    Exit status: 1 where the reading is outside the band of the rating or a stop is raised, 0 where it is not
    or no rating is given, 2 for wrong input.

    \b
    Examples:
      burnerlab weigh --gas propane --from "18.412 kg" --to "18.160 kg" \\
          --time "30 min" --rating "7 kW gross"
      burnerlab weigh --gas propane --mass-loss "250 g" --time "30 min" \\
          --resolution "1 g" --wanted "3 %"
    """
    from burnerlab.bench.reading.meter import timing_for
    from burnerlab.bench.reading.scale import TIMED, weigh

    basis.require_cylinder_gas()
    basis = basis.in_air(weighing.ambient_Pa)
    reading, state = weighing.on(basis), basis.state
    measured = by_option(lambda: weigh(reading, basis.heat, basis.rating, state, own=basis.instruments))
    plan = None
    if uncertainty is not None:
        seconds = max(1, round(measured.time_s))
        plan = replace(
            timing_for(measured.budget, measured.time_s, seconds, uncertainty, TIMED), revolutions=None
        )
    measured = basis.unit.compared(measured, basis.manifold_gauge_Pa)
    stops = basis.stops(measured)
    at_place = basis.at_place(measured)
    if stops:
        measured = measured.withheld()
    if as_json:
        print_json(stops_json(stops) | row(measured), reading=reading, timing=plan, at_place=at_place)
        return status_of(measured, stops)
    print_stops(stops)
    print_act_first(measured, stops)
    click.echo(measured_text(measured, plan, basis.head(), stops=stops, at_place=at_place))
    print_notes("Notes", measured.notes)
    print_cautions(measured.heat.gas)
    return status_of(measured, stops)


# ``burnerlab flue``: what the analyser read, free of air.

PPM = 1e6


def _reading(
    pressure: float,
    flue_temperature: float | None,
    air_temperature: float,
    co_air_free: bool,
    **shares: float | None,
) -> FlueReading:
    from burnerlab.bench.reading.flue import FlueReading

    if flue_temperature is not None and flue_temperature < air_temperature:
        what, accepted = "is colder than the combustion air", f"above {written('air_temperature') or AIR}"
        text = written("flue_temperature")
        raise UserError(Problem(what, value=text, key="--flue-temperature", accepted=accepted))
    return FlueReading(
        pressure_Pa=pressure,
        flue_temperature_K=flue_temperature,
        air_temperature_K=air_temperature,
        is_air_free=co_air_free,
        **shares,
    )


def _air_measurand(written: Mapping[str, object]) -> Iterator[Problem]:
    if not {"oxygen", "carbon_dioxide", "carbon_monoxide"} & written.keys():
        yield Problem("give at least one of them", key="--oxygen or --carbon-dioxide")


def _analysed(name: str, symbol: str, example: str) -> Input:
    """What an analyser shows in per cent or ppm: a figure without its unit is refused, for it may be either.

    symbol : the second name of its option, as analysers print it
    """

    def read_share(text: Any, key: str) -> float:
        if PLAIN.fullmatch(str(text).strip()):
            unit = example.rpartition(" ")[2]
            accepted, fix = "a figure with % or ppm", f'if the analyser shows {unit}, write "{text} {unit}"'
            raise UserError(Problem("the unit is missing", str(text), key, accepted=accepted, fix=fix))
        share: float = input_row(name).read(text, key)
        return share

    about = f'In the dry flue gas, with its unit: "{example}".'
    flags = (f"--{name.replace('_', '-')}", symbol)
    return Input(name=name, flags=flags, reader=read_share, metavar="PERCENT", help=about, example=example)


AIR = "20 C"
READING = Group(
    make=_reading,
    parts={
        "pressure": replace(
            SURROUNDINGS,
            inputs=(
                replace(ALTITUDE, help='Of the test place: "1200 m".'),
                replace(BAROMETER, help='Station pressure instead: "90 kPa".'),
            ),
        )
    },
    inputs=(
        _analysed("oxygen", "--o2", "5 %"),
        _analysed("carbon_dioxide", "--co2", "9 %"),
        _analysed("carbon_monoxide", "--co", "87 ppm"),
        Input(name="co_air_free", is_flag=True, help="The analyser shows carbon monoxide air-free."),
        Input(name="flue_temperature", metavar="T", help='Of the flue gas: "180 C".'),
        Input(name="air_temperature", metavar="T", default=AIR, help="Of the combustion air."),
        Input(
            name="relative_humidity",
            metavar="PERCENT",
            help="Of the combustion air; if not given, 50 % and anything from 0 to 100 % in the uncertainty.",
        ),
    ),
    rules=_air_measurand,
)
"""What analyser and thermometers read: ``FlueReading``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlueLimit:
    """Whose limit of carbon monoxide is in force, and the table it stands in."""

    kind: str
    own: Path | None


def _limit(appliance_kind: str, limits: Path | None) -> FlueLimit:
    """Refuse a kind that has no limit, whether carbon monoxide was read or not."""
    from burnerlab.bench.reading.flue import limit_comparisons

    try:
        limit_comparisons(0.0, limits, appliance_kind)
    except UserError as error:
        raise UserError(
            [replace(p, key="--appliance-kind") if p.key == "kind" else p for p in error.problems]
        ) from None
    return FlueLimit(kind=appliance_kind, own=limits)


LIMIT = Group(
    make=_limit,
    inputs=(
        Input(
            name="appliance_kind",
            reader=as_written,
            metavar="KIND",
            default="",
            help="Whose limit of carbon monoxide is in force: outdoor-cooking, oven, vented, room-heater, "
            "one-burner, burners-together; without it the lowest for cooking.",
        ),
        own_table(
            "flue_limits",
            "CSV of your own with the columns of the table flue_limits, or LIBRARY:flue_limits.csv.",
        ),
    ),
)
"""The limit of carbon monoxide: ``FlueLimit``."""


@click.command(short_help="Excess air, air-free CO and flue loss from analyser readings.")
@takes(gas=GAS, reading=READING, limit=LIMIT)
@json_option
def flue_command(gas: Gas | DeclaredGas, reading: FlueReading, limit: FlueLimit, as_json: bool) -> None:
    """Excess air, carbon monoxide free of air, flue loss and dew point from analyser readings.

    Fractions are of the dry flue gas. Give the oxygen or the carbon dioxide, or both for a check of one by the other.
    Carbon monoxide above the limit in force is headed by STOP; the exit status stays 0. As read it stops by itself:
    free of air it is never less.
    Excess air is the long form from the composition of the gas; the gross flue loss counts the latent heat.

    \b
    Examples:
      burnerlab flue --gas propane --oxygen "5 %" --carbon-monoxide "87 ppm" \\
          --appliance-kind outdoor-cooking
      burnerlab flue --gas natural-gas-typical --oxygen "5 %" \\
          --flue-temperature "180 C" --air-temperature "20 C"
    """
    from burnerlab.bench.reading.flue import analyse_flue, flue_uncertainty
    from burnerlab.bench.stop_rules import stops_of

    try:
        analysis = analyse_flue(_with_composition(gas), reading, limit.own, limit.kind)
    except UserError:
        _print_undiluted(reading, limit, as_json)
        raise
    stops = stops_of(flue=analysis)
    intervals = flue_uncertainty(analysis)
    if stops:
        analysis = analysis.withheld()
    if as_json:
        print_json(stops_json(stops) | row(analysis), intervals=intervals)
        return
    print_stops(stops)
    click.echo(_text(analysis, intervals))
    kinds = ", ".join(one.kind for one in analysis.limits)
    unnamed = [] if limit.kind or not kinds else [f"--appliance-kind names whose limit is in force: {kinds}"]
    print_notes("Notes", (*analysis.notes, *unnamed))
    print_cautions(gas)


def _print_undiluted(reading: FlueReading, limit: FlueLimit, as_json: bool) -> None:
    """The STOP of carbon monoxide above its limit as read, before the refusal of what else cannot be used."""
    from burnerlab.bench.reading.flue import limit_of_reading
    from burnerlab.bench.stop_rules import undiluted_stops

    if reading.carbon_monoxide is None:
        return
    in_force = limit_of_reading(reading.carbon_monoxide, limit.kind, limit.own)
    stops = undiluted_stops(reading.carbon_monoxide, in_force)
    if stops and as_json:
        print_json(stops_json(stops) | {"reading": reading})
    elif stops:
        print_stops(stops)


def _with_composition(gas: Gas | DeclaredGas) -> Gas:
    from burnerlab.gas.combustion_air import composition_of

    composition_of(gas)
    return gas  # type: ignore[return-value]


SHOWN = (
    "oxygen",
    "carbon_dioxide",
    "excess_air",
    "air_free_CO",
    "air_free_CO_by_CO2",
    "flue_loss_gross",
    "flue_loss_net",
    "dew_point_K",
)
REMARKS = {"flue_loss_gross": ", latent heat counted", "flue_loss_net": ", sensible heat only"}


def _text(analysis: FlueAnalysis, intervals: FlueUncertainty) -> str:
    pairs = [("gas", gas_fact(analysis.gas))]
    by_name = {column.name: column for column in columns(type(analysis))}
    for name in SHOWN:
        column = by_name[name]
        pairs.append((column.label, _figure(column, analysis, intervals)))
    text = facts(pairs)
    if analysis.limits:
        rows = [(one.name, f"{PPM * one.limit:.0f}", one.verdict, one.known_by) for one in analysis.limits]
        text += "\n\n" + table(("published limit, air-free CO", "ppm", "reading is", "limit known by"), rows)
    return text


def _figure(column: Column, analysis: FlueAnalysis, intervals: FlueUncertainty) -> str:
    """A figure with its expanded uncertainty and its unit."""
    value = column.value(analysis)
    if value is None:
        return "not evaluated"
    if column.name == "carbon_dioxide":
        most = analysis.ultimate_CO2
        if not most > 0.0:
            return "none: no carbon in this gas"
        return f"{number(value)} % of at most {100.0 * most:.2f} %"
    ends = [one.ends for one in columns(type(intervals)) if one.name == column.name]
    figures = row(intervals)
    margin = "".join(f" ±{number((figures[high] - figures[low]) / 2.0, 2)}" for low, high in ends)
    return f"{number(value)}{margin} {column.unit}{REMARKS.get(column.name, '')}"
