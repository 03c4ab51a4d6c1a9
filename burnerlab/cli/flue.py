"""``burnerlab flue``: what the analyser read, free of air."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.asked import GasAsked, ambient_pressure_Pa, own_file, together
from burnerlab.cli.cautions import cautions, print_cautions
from burnerlab.cli.options import gas_options, json_option
from burnerlab.cli.output import facts, number, print_json, print_notes, table
from burnerlab.cli.stops import print_stops, stops_json
from burnerlab.cli.units import ZERO_C_K
from burnerlab.quantity.error import Problem, UserError
from burnerlab.tables.verdict import Verdict

if TYPE_CHECKING:
    from burnerlab.bench.budget import Budget
    from burnerlab.bench.flue import FlueAnalysis
    from burnerlab.bench.flue_budget import FlueUncertainty
    from burnerlab.gas import Gas

PPM = 1e6


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
    result = stops_json(stops) | _result(analysis, flue_uncertainty(analysis), bool(stops))
    if as_json:
        print_json(result)
    else:
        print_stops(stops)
        click.echo(_text(analysis, result))
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


def _result(found: FlueAnalysis, sure: FlueUncertainty, is_stopped: bool) -> dict[str, Any]:
    """The JSON object; while a stop is open nothing is within a limit."""

    def percent(value: float | None) -> float | None:
        return None if value is None else 100.0 * value

    return {
        "gas": found.gas.name,
        "oxygen_percent": percent(found.oxygen),
        "carbon_dioxide_percent": percent(found.carbon_dioxide),
        "ultimate_CO2_percent": percent(found.ultimate_CO2),
        "excess_air_percent": percent(found.excess_air),
        "air_ratio": found.air_ratio,
        "air_free_CO_ppm": None if found.air_free_CO is None else found.air_free_CO * PPM,
        "air_free_CO_by_CO2_ppm": None
        if found.air_free_CO_by_CO2 is None
        else found.air_free_CO_by_CO2 * PPM,
        "flue_loss_gross_percent": percent(found.flue_loss_gross),
        "flue_loss_net_percent": percent(found.flue_loss_net),
        "relative_humidity_percent": percent(found.reading.humidity_of_air),
        "relative_humidity_is_read": found.reading.relative_humidity is not None,
        "dew_point_C": None if found.dew_point_K is None else found.dew_point_K - ZERO_C_K,
        "air_ratio_expanded_uncertainty": _expanded(sure.air_ratio, 1.0),
        "dew_point_expanded_uncertainty_K": _expanded(sure.dew_point_K, 1.0),
        "excess_air_expanded_uncertainty_percent": _expanded(sure.excess_air, 100.0),
        "air_free_CO_expanded_uncertainty_ppm": _expanded(sure.air_free_CO, PPM),
        "flue_loss_gross_expanded_uncertainty_percent": _expanded(sure.flue_loss_gross, 100.0),
        "flue_loss_net_expanded_uncertainty_percent": _expanded(sure.flue_loss_net, 100.0),
        "limits": [
            {
                "name": limit.name,
                "applies_to": limit.applies_to,
                "limit_ppm": limit.limit * PPM,
                "kind": limit.kind,
                "verdict": _verdict(limit.verdict, is_stopped),
                "in_force": limit == found.in_force,
                "known_by": limit.known_by,
                "source": limit.source,
                "provenance": limit.provenance,
            }
            for limit in found.limits
        ],
        "notes": found.notes,
        "cautions": cautions(),
    }


def _verdict(verdict: Verdict, is_stopped: bool) -> Verdict:
    """While a stop stands, only what is outside is said."""
    return Verdict.NOT_EVALUATED if is_stopped and verdict != Verdict.OUTSIDE else verdict


def _expanded(found: Budget | None, scale: float) -> float | None:
    """Expanded uncertainty (about 95 %), in the unit of the figure beside it."""
    return None if found is None else scale * found.expanded


def _text(found: FlueAnalysis, result: dict[str, Any]) -> str:
    def shown(key: str, unit: str) -> str:
        if result[key] is None:
            return "not evaluated"
        of, _, last = key.rpartition("_")
        sure = result.get(f"{of}_expanded_uncertainty_{'K' if last == 'C' else last}")
        margin = "" if sure is None else f" +-{number(sure, 2)}"
        return f"{number(result[key])}{margin} {unit}"

    pairs = [
        ("gas", f"{found.gas.title} ({found.gas.name})"),
        ("oxygen, dry", shown("oxygen_percent", "%")),
        (
            "carbon dioxide, dry",
            shown("carbon_dioxide_percent", f"% of at most {result['ultimate_CO2_percent']:.2f} %")
            if found.ultimate_CO2 > 0.0
            else "none: no carbon in this gas",
        ),
        ("excess air", shown("excess_air_percent", "%")),
        ("CO, air-free by O2", shown("air_free_CO_ppm", "ppm")),
        ("CO, air-free by CO2", shown("air_free_CO_by_CO2_ppm", "ppm")),
        ("flue loss, gross basis", shown("flue_loss_gross_percent", "%, latent heat counted")),
        ("flue loss, net basis", shown("flue_loss_net_percent", "%, sensible heat only")),
        ("dew point", shown("dew_point_C", "C")),
    ]
    text = facts(pairs)
    if found.limits:
        rows = [
            (limit["name"], f"{limit['limit_ppm']:.0f}", limit["verdict"], limit["known_by"])
            for limit in result["limits"]
        ]
        text += "\n\n" + table(("published limit, air-free CO", "ppm", "reading is", "limit known by"), rows)
    return text
