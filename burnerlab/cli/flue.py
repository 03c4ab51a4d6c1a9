"""``burnerlab flue``: what the analyser read, free of air."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.asked import GasAsked, ambient_pressure_Pa, own_file, together
from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.options import gas_options, json_option
from burnerlab.cli.output import facts, number, print_json, print_notes, table
from burnerlab.cli.stops import print_stops, stops_json
from burnerlab.cli.units import ZERO_C_K
from burnerlab.quantity.error import Problem, UserError
from burnerlab.quantity.outputs import row

if TYPE_CHECKING:
    from burnerlab.bench.budget import Budget
    from burnerlab.bench.flue import FlueAnalysis
    from burnerlab.bench.flue_budget import FlueUncertainty
    from burnerlab.gas import Gas

PPM, PERCENT = 1e6, 1e2


@click.command(short_help="Excess air, air-free CO and flue loss from analyser readings.")
@gas_options
@click.option("--oxygen", metavar="SHARE", help='In the dry flue gas: "5 %".')
@click.option("--carbon-dioxide", metavar="SHARE", help='In the dry flue gas: "9 %".')
@click.option("--carbon-monoxide", metavar="SHARE", help='In the dry flue gas: "87 ppm".')
@click.option("--flue-temperature", metavar="T", help='Of the flue gas: "180 C".')
@click.option(
    "--air-temperature", metavar="T", default="20 C", show_default=True, help="Of the combustion air."
)
@click.option(
    "--relative-humidity",
    metavar="SHARE",
    help="Of the combustion air; if not given, 50 % and anything from 0 to 100 % in the uncertainty.",
)
@click.option("--altitude", metavar="H", help='Of the test place: "1200 m".')
@click.option("--barometer", metavar="P", help='Station pressure instead: "90 kPa".')
@click.option(
    "--appliance-kind",
    metavar="KIND",
    default="",
    help="Whose limit of carbon monoxide is in force: outdoor-cooking, oven, vented, room-heater, one-burner, "
    "burners-together; without it the lowest for cooking.",
)
@click.option("--limits", metavar="FILE", help="CSV of your own with the columns of the table flue_limits.")
@json_option
def command(gas: GasAsked, appliance_kind: str, as_json: bool, **given: str | None) -> None:
    """Excess air, carbon monoxide free of air, flue loss and dew point from analyser readings.

    Fractions are of the dry flue gas. Give the oxygen or the carbon dioxide, or both for a check of one by the other.
    Carbon monoxide above the limit in force is headed by STOP; the exit status stays 0.
    Excess air is the long form from the composition of the gas; the gross flue loss counts the latent heat.

    \b
    Examples:
      burnerlab flue --gas propane --oxygen "5 %" --carbon-monoxide "87 ppm" --appliance-kind outdoor-cooking
      burnerlab flue --gas natural-gas-typical --oxygen "5 %" --flue-temperature "180 C" --air-temperature "20 C"
    """
    from burnerlab.bench.flue import FlueReading, analyse_flue
    from burnerlab.bench.flue_budget import flue_uncertainty
    from burnerlab.bench.stop_rules import stops_of

    found, reading, pressure_Pa, own = together(
        gas.read,
        lambda: _readings(given),
        lambda: ambient_pressure_Pa(given["altitude"], given["barometer"]),
        lambda: own_file(given["limits"], "--limits"),
    )
    _check_kind(appliance_kind, own)
    burnable = _burnable(found)
    analysis = analyse_flue(burnable, FlueReading(pressure_Pa=pressure_Pa, **reading), own, appliance_kind)
    stops = stops_of(flue=analysis)
    intervals = flue_uncertainty(analysis)
    if stops:
        analysis = analysis.withheld()
    if as_json:
        print_json(stops_json(stops) | row(analysis), intervals=intervals)
    else:
        print_stops(stops)
        click.echo(_text(analysis, intervals))
        print_notes("Notes", analysis.notes)
        print_cautions(found)


def _check_kind(kind: str, own: Path | None) -> None:
    """Refuse a kind that has no limit, whether carbon monoxide was read or not."""
    from burnerlab.bench.flue import limit_comparisons

    try:
        limit_comparisons(0.0, own, kind)
    except UserError as error:
        raise UserError(
            [replace(p, key="--appliance-kind") if p.key == "kind" else p for p in error.problems]
        ) from None


def _burnable(gas: Any) -> Gas:
    from burnerlab.gas.air import composition_of

    composition_of(gas)
    return gas  # type: ignore[no-any-return]


def _readings(given: dict[str, str | None]) -> dict[str, float]:
    from burnerlab.quantity import Kind
    from burnerlab.quantity.ranges import read_within

    kinds = {
        "oxygen": Kind.FRACTION,
        "carbon_dioxide": Kind.FRACTION,
        "carbon_monoxide": Kind.FRACTION,
        "flue_temperature": Kind.TEMPERATURE,
        "air_temperature": Kind.TEMPERATURE,
        "relative_humidity": Kind.FRACTION,
    }
    asked = {name: (text, kind) for name, kind in kinds.items() if (text := given[name]) is not None}
    if "oxygen" not in asked and "carbon_dioxide" not in asked:
        raise UserError(Problem("give at least one of them", key="--oxygen or --carbon-dioxide"))

    def reader(name: str, text: str, kind: Kind) -> Any:
        return lambda: read_within(text, kind, name, key="--" + name.replace("_", "-"))

    values = together(*(reader(name, *written) for name, written in asked.items()))
    found = dict(zip(asked, values, strict=True))
    if "flue_temperature" in found and found["flue_temperature"] < found["air_temperature"]:
        what, accepted = "is colder than the combustion air", f"above {given['air_temperature']}"
        raise UserError(
            Problem(what, value=given["flue_temperature"] or "", key="--flue-temperature", accepted=accepted)
        )
    names = (name + "_K" if name.endswith("temperature") else name for name in asked)
    return dict(zip(names, values, strict=True))


def _text(found: FlueAnalysis, sure: FlueUncertainty) -> str:
    def shown(figure: float | None, budget: Budget | None, scale: float, unit: str) -> str:
        if figure is None:
            return "not evaluated"
        margin = "" if budget is None else f" +-{number(scale * budget.expanded, 2)}"
        return f"{number(scale * figure)}{margin} {unit}"

    dew_point_C = None if found.dew_point_K is None else found.dew_point_K - ZERO_C_K
    most = f"% of at most {PERCENT * found.ultimate_CO2:.2f} %"
    pairs = [
        ("gas", f"{found.gas.title} ({found.gas.name})"),
        ("oxygen, dry", shown(found.oxygen, None, PERCENT, "%")),
        (
            "carbon dioxide, dry",
            shown(found.carbon_dioxide, None, PERCENT, most)
            if found.ultimate_CO2 > 0.0
            else "none: no carbon in this gas",
        ),
        ("excess air", shown(found.excess_air, sure.excess_air, PERCENT, "%")),
        ("CO, air-free by O2", shown(found.air_free_CO, sure.air_free_CO, PPM, "ppm")),
        ("CO, air-free by CO2", shown(found.air_free_CO_by_CO2, None, PPM, "ppm")),
        (
            "flue loss, gross basis",
            shown(found.flue_loss_gross, sure.flue_loss_gross, PERCENT, "%, latent heat counted"),
        ),
        (
            "flue loss, net basis",
            shown(found.flue_loss_net, sure.flue_loss_net, PERCENT, "%, sensible heat only"),
        ),
        ("dew point", shown(dew_point_C, sure.dew_point_K, 1.0, "C")),
    ]
    text = facts(pairs)
    if found.limits:
        rows = [(one.name, f"{PPM * one.limit:.0f}", one.verdict, one.known_by) for one in found.limits]
        text += "\n\n" + table(("published limit, air-free CO", "ppm", "reading is", "limit known by"), rows)
    return text
