"""``burnerlab flue``: what the analyser read, free of air."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.common_inputs import ALTITUDE, BAROMETER, GAS, SURROUNDINGS, read_own_table
from burnerlab.cli.options import json_option
from burnerlab.cli.output import facts, number, print_json, print_notes, table
from burnerlab.cli.stops import print_stops, stops_json
from burnerlab.cli.takes import takes, written
from burnerlab.quantity.inputs import Group, Input, as_written
from burnerlab.quantity.outputs import Column, columns, row
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.bench.flue import FlueAnalysis, FlueReading
    from burnerlab.bench.flue_budget import FlueUncertainty
    from burnerlab.gas import DeclaredGas, Gas

PPM = 1e6


def _reading(
    pressure: float,
    flue_temperature: float | None,
    air_temperature: float,
    **shares: float | None,
) -> FlueReading:
    from burnerlab.bench.flue import FlueReading

    if flue_temperature is not None and flue_temperature < air_temperature:
        what, accepted = "is colder than the combustion air", f"above {written('air_temperature') or AIR}"
        text = written("flue_temperature")
        raise UserError(Problem(what, value=text, key="--flue-temperature", accepted=accepted))
    return FlueReading(
        pressure_Pa=pressure,
        flue_temperature_K=flue_temperature,
        air_temperature_K=air_temperature,
        **shares,
    )


def _tells_the_air(written: Mapping[str, object]) -> Iterator[Problem]:
    if not {"oxygen", "carbon_dioxide"} & written.keys():
        yield Problem("give at least one of them", key="--oxygen or --carbon-dioxide")


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
        Input(name="oxygen", metavar="SHARE", help='In the dry flue gas: "5 %".'),
        Input(name="carbon_dioxide", metavar="SHARE", help='In the dry flue gas: "9 %".'),
        Input(name="carbon_monoxide", metavar="SHARE", help='In the dry flue gas: "87 ppm".'),
        Input(name="flue_temperature", metavar="T", help='Of the flue gas: "180 C".'),
        Input(name="air_temperature", metavar="T", default=AIR, help="Of the combustion air."),
        Input(
            name="relative_humidity",
            metavar="SHARE",
            help="Of the combustion air; if not given, 50 % and anything from 0 to 100 % in the uncertainty.",
        ),
    ),
    rules=_tells_the_air,
)
"""What analyser and thermometers read: ``FlueReading``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlueLimit:
    """Whose limit of carbon monoxide is in force, and the table it stands in."""

    kind: str
    own: Path | None


def _limit(appliance_kind: str, limits: Path | None) -> FlueLimit:
    """Refuse a kind that has no limit, whether carbon monoxide was read or not."""
    from burnerlab.bench.flue import limit_comparisons

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
        Input(
            name="limits",
            reader=read_own_table,
            metavar="FILE",
            help="CSV of your own with the columns of the table flue_limits.",
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
    Carbon monoxide above the limit in force is headed by STOP; the exit status stays 0.
    Excess air is the long form from the composition of the gas; the gross flue loss counts the latent heat.

    \b
    Examples:
      burnerlab flue --gas propane --oxygen "5 %" --carbon-monoxide "87 ppm" --appliance-kind outdoor-cooking
      burnerlab flue --gas natural-gas-typical --oxygen "5 %" --flue-temperature "180 C" --air-temperature "20 C"
    """
    from burnerlab.bench.flue import analyse_flue
    from burnerlab.bench.flue_budget import flue_uncertainty
    from burnerlab.bench.stop_rules import stops_of

    analysis = analyse_flue(_with_composition(gas), reading, limit.own, limit.kind)
    stops = stops_of(flue=analysis)
    intervals = flue_uncertainty(analysis)
    if stops:
        analysis = analysis.withheld()
    if as_json:
        print_json(stops_json(stops) | row(analysis), intervals=intervals)
        return
    print_stops(stops)
    click.echo(_text(analysis, intervals))
    print_notes("Notes", analysis.notes)
    print_cautions(gas)


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
    pairs = [("gas", f"{analysis.gas.title} ({analysis.gas.name})")]
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
    margin = "".join(f" +-{number((figures[high] - figures[low]) / 2.0, 2)}" for low, high in ends)
    return f"{number(value)}{margin} {column.unit}{REMARKS.get(column.name, '')}"
