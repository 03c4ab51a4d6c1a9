"""``burnerlab clock``: heat input by gas meter and watch."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.asked import GasAsked, ambient_pressure_Pa, together
from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.measured import by_option, measured_text, status_of
from burnerlab.cli.measured_options import (
    BasisAsked,
    ModelAsked,
    RatingAsked,
    basis_options,
    model_options,
    rating_options,
)
from burnerlab.cli.options import gas_options, json_option
from burnerlab.cli.output import print_json, print_notes
from burnerlab.cli.stops import print_stops, stops_json
from burnerlab.quantity.error import Problem, UserError
from burnerlab.quantity.outputs import row

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.bench.clock import MeterReading
    from burnerlab.bench.heat import HeatContent, InputMeasured
    from burnerlab.bench.timing import TimingPlan


@click.command(short_help="Heat input by gas meter and watch, with its uncertainty.")
@model_options
@gas_options
@click.option("--volume", metavar="V", required=True, help='Of one revolution of the dial: "2 ft3", "10 L".')
@click.option("--time", metavar="T", required=True, help='Of the whole revolutions: "18 s".')
@click.option(
    "--repeat", metavar="T", multiple=True, help="Another timing of the same; give it again for more."
)
@click.option("--revolutions", metavar="N", type=int, default=1, show_default=True, help="Whole ones timed.")
@click.option("--meter-pressure", metavar="P", help='Gauge, at the meter: "7 inH2O", "5 psig".')
@click.option("--barometer", metavar="P", help='Station pressure, absolute: "14.35 psia".')
@click.option("--altitude", metavar="H", help='Instead of the barometer: "1500 m".')
@click.option("--gas-temperature", metavar="T", help='Of the gas in the meter: "45 F".')
@click.option("--compensated", is_flag=True, help="The meter compensates for temperature.")
@click.option("--meter-base", metavar="T", help="Base temperature of a compensated meter.")
@click.option("--meter-factor", metavar="F", help='Of its certificate, true over counted volume: "1.012".')
@click.option("--meter-factor-uncertainty", metavar="SHARE", help='Of that factor, expanded (95 %): "0.4 %".')
@click.option("--wet", is_flag=True, help="The gas in the meter is saturated with water.")
@click.option("--other-load", metavar="RATE", help='Pilot or other load meanwhile: "1 kBtu/h gross".')
@click.option("--wanted", metavar="SHARE", help='Expanded uncertainty wanted: "2 %". Says how long to time.')
@basis_options
@rating_options
@json_option
def command(
    model: ModelAsked, gas: GasAsked, basis: BasisAsked, rated: RatingAsked, as_json: bool, **given: Any
) -> int:
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

    appliance = model.read()
    heat, reading, rating, state, wanted = together(
        lambda: basis.heat(gas, appliance),
        lambda: _reading(given, appliance),
        lambda: rated.read(appliance, model.burner, low=model.low),
        lambda: rated.state(appliance),
        lambda: wanted_of(given["wanted"]),
    )
    reading = with_other_load(reading, given["other_load"], heat)
    found = by_option(lambda: clock(reading, heat, rating, state, own=basis.own()))
    plan = None if wanted is None else _plan(found, reading, wanted)
    found = model.held(found, appliance)
    stops = model.stops(found, appliance, state)
    if stops:
        found = found.withheld()
    if as_json:
        print_json(stops_json(stops) | row(found), reading=reading, timing=plan)
        return status_of(found, stops)
    print_stops(stops)
    click.echo(measured_text(found, plan, _meter_pairs(reading), stops=stops))
    print_notes("Notes", found.notes)
    print_cautions(found.heat.gas)
    return status_of(found, stops)


def wanted_of(text: str | None) -> float | None:
    """The uncertainty that is wanted, expanded [-]."""
    from burnerlab.quantity import Kind, read

    return None if text is None else read(text, Kind.FRACTION, key="--wanted", low=1e-4, high=0.5)


def above_zero(text: str, kind: Any, key: str, high: float | None = None) -> float:
    """A quantity that must be above zero."""
    from burnerlab.quantity import read

    found = read(text, kind, key=key, high=high)
    if not found > 0.0:
        raise UserError(Problem("must be above 0", value=text, key=key))
    return found


def _reading(given: dict[str, Any], appliance: Appliance | None) -> MeterReading:
    from burnerlab.bench.clock import MeterReading
    from burnerlab.bench.model_file import with_file_pressures
    from burnerlab.quantity import Kind
    from burnerlab.quantity.ranges import read_within

    def optional(name: str, kind: Any) -> float | None:
        text, key = given[name], "--" + name.replace("_", "-")
        return None if text is None else read_within(text, kind, name, key=key)

    at = (given["altitude"], given["barometer"])
    dial, times, gauge, ambient, gas_K, base_K, factor = together(
        lambda: read_within(given["volume"], Kind.VOLUME, "dial", key="--volume"),
        lambda: _times(given),
        lambda: optional("meter_pressure", Kind.GAUGE_PRESSURE),
        lambda: None if at == (None, None) else ambient_pressure_Pa(*at),
        lambda: optional("gas_temperature", Kind.TEMPERATURE),
        lambda: optional("meter_base", Kind.TEMPERATURE),
        lambda: factor_of(given, "meter_factor"),
    )
    if base_K is not None and not given["compensated"]:
        raise UserError(Problem("has a meaning with --compensated only", given["meter_base"], "--meter-base"))
    reading = MeterReading(
        dial_m3=dial,
        times_s=tuple(times),
        revolutions=given["revolutions"],
        gas_temperature_K=gas_K,
        gauge_pressure_Pa=gauge,
        ambient_pressure_Pa=ambient,
        from_altitude=given["altitude"] is not None,
        compensated=given["compensated"],
        base_temperature_K=base_K,
        saturated=given["wet"],
        meter_factor=factor[0],
        meter_factor_uncertainty=factor[1],
    )
    return reading if appliance is None else with_file_pressures(reading, appliance)


def factor_of(given: dict[str, Any], name: str) -> tuple[float | None, float | None]:
    """The factor of a certificate and its relative standard uncertainty, each None where it is not given."""
    from burnerlab.bench.budget import COVERAGE, coverage_factor
    from burnerlab.quantity import Kind, read

    key = "--" + name.replace("_", "-")
    factor, expanded = given[name], given[f"{name}_uncertainty"]
    value, u = together(
        lambda: None if factor is None else read(factor, Kind.FRACTION, key=key),
        lambda: None if expanded is None else read(expanded, Kind.FRACTION, key=f"{key}-uncertainty"),
    )
    return value, None if u is None else u / float(coverage_factor(float("inf"), COVERAGE))


def _meter_pairs(reading: MeterReading) -> list[tuple[str, str]]:
    """The meter pressure that was used, and where it comes from."""
    from burnerlab.quantity import Kind, show

    if reading.gauge_pressure_Pa is None:
        return [("meter pressure", reading.gauge_pressure_source)]
    value = show(reading.gauge_pressure_Pa, Kind.GAUGE_PRESSURE)
    return [("meter pressure", f"{value} gauge, {reading.gauge_pressure_source}")]


def _times(given: dict[str, Any]) -> list[float]:
    from burnerlab.quantity import Kind

    return together(
        lambda: above_zero(given["time"], Kind.TIME, "--time"),
        *((lambda text=text: above_zero(text, Kind.TIME, "--repeat")) for text in given["repeat"]),
    )


def with_other_load(reading: Any, text: str | None, heat: HeatContent) -> Any:
    """The reading with the load that burned beside, on the gross basis."""
    from dataclasses import replace

    from burnerlab.quantity import read_rate, said_basis

    if text is None:
        return reading
    rate = read_rate(text, key="--other-load")
    basis = said_basis(rate.basis, text, key="--other-load")
    return replace(
        reading, other_load_gross_W=rate.power_W / (1.0 if basis == "gross" else heat.net_to_gross)
    )


def _plan(found: InputMeasured, reading: MeterReading, wanted: float) -> TimingPlan:
    from burnerlab.bench.timing import timing_for

    return timing_for(found.budget, found.time_s, reading.revolutions, wanted)
