"""``burnerlab size``: the orifice for a heat input, and the drills that come nearest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.asked import altitude_m, gas_notes, pressure_notes
from burnerlab.cli.cautions import cautions, of_pressure, print_cautions
from burnerlab.cli.holes import read_drills
from burnerlab.cli.inputs import CONDITIONS, GAS, HOLE, RATE, REFERENCE, Hole
from burnerlab.cli.options import json_option
from burnerlab.cli.output import facts, number, percent, print_json, print_notes, table
from burnerlab.cli.spread import bore_spread_of, spread_of, spread_words
from burnerlab.cli.takes import takes, written
from burnerlab.cli.units import M_PER_IN, W_PER_BTU_PER_H, ZERO_C_K
from burnerlab.quantity.inputs import Input
from burnerlab.quantity.reference import STANDARD_PRESSURE_PA

if TYPE_CHECKING:
    from burnerlab.gas import DeclaredGas, Gas
    from burnerlab.orifice import Conditions, Drill, OrificeChoice, SizedOrifice
    from burnerlab.orifice.coefficient import Coefficient
    from burnerlab.quantity import Rate, ReferenceState

ORDER = "by rising diameter; the nearest drill below and above the exact diameter are among them"
DRILLS = Input(
    name="drills",
    reader=read_drills,
    metavar="LISTS",
    default="number,letter,fraction,metric",
    help='Any of these lists, drills of your own ("#54,1.45 mm"), or a CSV file of them.',
)
EACH_SIDE = 3  # drills listed on either side of the exact diameter


@click.command(short_help="Orifice for a given heat input, and the drills nearest to it.")
@takes(gas=GAS, rate=RATE, conditions=CONDITIONS, hole=HOLE, drills=DRILLS, reference=REFERENCE)
@json_option
def command(
    gas: Gas | DeclaredGas,
    rate: Rate,
    conditions: Conditions,
    hole: Hole,
    drills: tuple[Drill, ...],
    reference: ReferenceState,
    as_json: bool,
) -> None:
    """Exact orifice diameter for a heat input, and what the drills around it would give.

    The rate is that of all --count holes together. Choices are listed by diameter: the drill nearest below and the
    one nearest above are always among them, each with its own heat input and the spread of its drill tolerance.

    \b
    Examples:
      burnerlab size --gas propane --rate "12 kBtu/h gross" --pressure "11 inH2O"
      burnerlab size --gas G20 --rate "3.5 kW net" --pressure "20 mbar" --drills metric
      burnerlab size --heating-value "1037 Btu/ft3 gross at 60F" --relative-density 0.6 \\
          --rate "9 kBtu/h gross" --pressure "4 inH2O" --drills "#54,#53,1.55 mm"
    """
    from burnerlab.orifice import choices_near, nearest_choice, no_drill_meets
    from burnerlab.orifice import size as size_orifice
    from burnerlab.quantity import said_basis

    sized = size_orifice(
        gas,
        rate.power_W,
        said_basis(rate.basis, written("rate")),
        conditions,
        hole.coefficient,
        hole.count,
        combustion_temperature_K=reference.combustion_temperature_K,
    )
    offered = choices_near(sized, drills, each_side=EACH_SIDE)
    result = (
        {"gas": gas.name, "gas_title": gas.title}
        | _result(sized, offered)
        | {
            "nearest_drill": nearest_choice(sized, offered).drill,
            "coefficient_source": hole.source,
            **spread_of(hole.coefficient, sized.flow),
            **bore_spread_of(hole.coefficient, sized, drills),
            **_at_sea_level(sized, hole.coefficient, reference.combustion_temperature_K),
            "drills": written("drills") or DRILLS.default,
            "no_drill_meets": no_drill_meets(sized, drills) or None,
            "reference": reference.words(),
            "cautions": cautions(),
        }
    )
    result["notes"] += pressure_notes(conditions.gauge_pressure_Pa, written("pressure"))
    if as_json:
        print_json(result)
    else:
        click.echo(_text(result))
        print_notes("Notes", [note for note in (result["no_drill_meets"], *result["notes"]) if note])
        print_cautions(gas, occasions=of_pressure(conditions.gauge_pressure_Pa))


def _result(sized: SizedOrifice, offered: Sequence[OrificeChoice]) -> dict[str, Any]:
    flow = sized.flow
    return {
        "rate_kW": sized.heat_input_W / 1e3,
        "rate_basis": sized.basis,
        "pressure_kPa": flow.conditions.gauge_pressure_Pa / 1e3,
        "ambient_pressure_kPa": flow.conditions.ambient_pressure_Pa / 1e3,
        "gas_temperature_C": flow.conditions.gas_temperature_K - ZERO_C_K,
        "coefficient": flow.coefficient,
        "count": flow.count,
        "diameter_mm": sized.diameter_m * 1e3,
        "diameter_in": sized.diameter_m / M_PER_IN,
        "area_mm2": sized.area_m2 * 1e6,
        "heat_input_gross_kW": flow.heat_input_gross_W / 1e3,
        "heat_input_net_kW": flow.heat_input_net_W / 1e3,
        "mass_flow_kg_per_h": flow.mass_flow_kg_per_s * 3600.0,
        "choked": flow.choked,
        "expansibility": flow.expansibility,
        "choices_order": ORDER,
        "choices": [_choice(choice, sized) for choice in offered],
        "notes": (*flow.notes, *gas_notes(flow.gas)),
    }


def _at_sea_level(
    sized: SizedOrifice, coefficient: Coefficient, combustion_temperature_K: float
) -> dict[str, float | None]:
    """The altitude of the place, and the bore for the same rate at sea level; null where altitude does nothing."""
    from burnerlab.orifice import size as size_orifice

    flow = sized.flow
    place = altitude_m(flow.conditions.ambient_pressure_Pa)
    if place is None:
        return {"altitude_m": None, "sea_level_diameter_mm": None}
    sea = replace(flow.conditions, ambient_pressure_Pa=STANDARD_PRESSURE_PA)
    found = size_orifice(
        flow.gas,
        sized.heat_input_W,
        sized.basis,
        sea,
        coefficient,
        flow.count,
        combustion_temperature_K=combustion_temperature_K,
    )
    return {"altitude_m": place, "sea_level_diameter_mm": found.diameter_m * 1e3}


def _altitude(result: dict[str, Any]) -> str:
    from burnerlab.orifice.altitude import height_words

    sea, here, place = result["sea_level_diameter_mm"], result["diameter_mm"], result["altitude_m"]
    word = "enlarged" if here > sea else "reduced"
    change = f"bore {word} from {number(sea)} to {number(here)} mm"
    return f"{height_words(place)}: {change} for this rate there; no altitude policy acts on it"


def _choice(choice: OrificeChoice, sized: SizedOrifice) -> dict[str, Any]:
    exact = choice.diameter_m == sized.diameter_m
    return {
        "drill": choice.drill,
        "list": choice.kind,
        "diameter_mm": choice.diameter_m * 1e3,
        "side": "exact" if exact else "below" if choice.diameter_m < sized.diameter_m else "above",
        "heat_input_gross_kW": choice.heat_input_gross_W / 1e3,
        "heat_input_net_kW": choice.heat_input_net_W / 1e3,
        "heat_input_gross_Btu_per_h": choice.heat_input_gross_W / W_PER_BTU_PER_H,
        "deviation_percent": 100.0 * choice.deviation,
        "drill_tolerance_low_percent": 100.0 * (choice.low_W / sized.heat_input_W - 1.0),
        "drill_tolerance_high_percent": 100.0 * (choice.high_W / sized.heat_input_W - 1.0),
    }


def _text(result: dict[str, Any]) -> str:
    pressure = (
        f"{number(result['pressure_kPa'])} kPa gauge, outside {number(result['ambient_pressure_kPa'], 5)} kPa"
    )
    holes = f" each of {result['count']} holes" if result["count"] > 1 else ""
    head = facts(
        [
            ("gas", f"{result['gas_title']} ({result['gas']})"),
            ("heat input", f"{number(result['rate_kW'])} kW {result['rate_basis']}"),
            ("pressure", pressure),
            ("gas temperature", f"{result['gas_temperature_C']:.1f} C"),
            ("discharge", f"{number(result['coefficient'], 3)}, {result['coefficient_source']}"),
            ("diameter", f"{number(result['diameter_mm'])} mm ({result['diameter_in']:.4f} in){holes}"),
            *([("altitude", _altitude(result))] if result["altitude_m"] is not None else []),
        ]
    )
    rows = []
    for choice in result["choices"]:
        band = (
            f"{choice['drill_tolerance_low_percent']:+.1f} to {choice['drill_tolerance_high_percent']:+.1f} %"
        )
        gross, Btu = number(choice["heat_input_gross_kW"]), f"{choice['heat_input_gross_Btu_per_h']:.0f}"
        off = percent(choice["deviation_percent"] / 100.0)
        mark = "nearest" if choice["drill"] == result["nearest_drill"] else choice["side"]
        rows.append((choice["drill"], f"{choice['diameter_mm']:.3f}", gross, Btu, off, band, mark))
    heads = ("drill", "mm", "kW gross", "Btu/h gross", "deviation", "drill tolerance", "")
    return f"{head}\n\n{spread_words(result)}\n\n{table(heads, rows)}"
