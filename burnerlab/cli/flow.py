"""``burnerlab flow``: what comes through a given orifice."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.asked import altitude_m, bore_notes, gas_notes, pressure_notes
from burnerlab.cli.cautions import cautions, of_pressure, print_cautions
from burnerlab.cli.inputs import BORE, CONDITIONS, GAS, HOLE, REFERENCE, Hole
from burnerlab.cli.options import json_option
from burnerlab.cli.output import facts, number, print_json, print_notes
from burnerlab.cli.spread import spread_of, spread_words
from burnerlab.cli.takes import takes, written
from burnerlab.cli.units import M3_PER_FT3, W_PER_BTU_PER_H, ZERO_C_K
from burnerlab.quantity.reference import STANDARD_PRESSURE_PA

if TYPE_CHECKING:
    from burnerlab.gas import Composition, DeclaredGas, Gas
    from burnerlab.orifice import Conditions, OrificeFlow
    from burnerlab.orifice.coefficient import Coefficient
    from burnerlab.quantity import Bore, ReferenceState


@click.command(short_help="Flow and heat input of a given orifice.")
@takes(gas=GAS, conditions=CONDITIONS, bore=BORE, hole=HOLE, reference=REFERENCE)
@json_option
def command(
    gas: Gas | DeclaredGas,
    conditions: Conditions,
    bore: Bore,
    hole: Hole,
    reference: ReferenceState,
    as_json: bool,
) -> None:
    """Flow and heat input of an orifice at a gauge pressure.

    Compressible flow through a converging orifice from the real density of the gas, choked where it chokes. Volume
    flows are stated at the reference state of --at.

    \b
    Examples:
      burnerlab flow --gas propane --pressure "11 inH2O" --drill "#54"
      burnerlab flow --gas G20 --pressure "20 mbar" --diameter "1.4 mm" --coefficient 0.9
      burnerlab flow --gas propane --pressure "11 inH2O" --drill "#54" --altitude "5000 ft"
    """
    from burnerlab import orifice

    flow = orifice.flow(
        _burning_or_not(gas),
        bore.diameter_m,
        conditions,
        hole.coefficient,
        hole.count,
        combustion_temperature_K=reference.combustion_temperature_K,
    )
    result = (
        {"gas": gas.name, "gas_title": gas.title}
        | _result(flow, reference)
        | {
            "drill": bore.drill,
            "coefficient_source": hole.source,
            **spread_of(hole.coefficient, flow),
            **_at_sea_level(flow, hole.coefficient),
            "cautions": cautions(),
        }
    )
    result["notes"] += pressure_notes(conditions.gauge_pressure_Pa, written("pressure"))
    result["notes"] += bore_notes(bore.diameter_m, written("drill") or written("diameter"))
    if as_json:
        print_json(result)
    else:
        click.echo(_text(result))
        print_notes("Notes", result["notes"])
        print_cautions(gas, occasions=of_pressure(conditions.gauge_pressure_Pa))


def _result(flow: OrificeFlow, reference: ReferenceState) -> dict[str, Any]:
    volume_m3_per_s = flow.volume_flow_m3_per_s(reference)
    at = flow.conditions
    return {
        "diameter_mm": flow.diameter_m * 1e3,
        "count": flow.count,
        "pressure_kPa": at.gauge_pressure_Pa / 1e3,
        "ambient_pressure_kPa": at.ambient_pressure_Pa / 1e3,
        "gas_temperature_C": at.gas_temperature_K - ZERO_C_K,
        "coefficient": flow.coefficient,
        "heat_input_gross_kW": flow.heat_input_gross_W / 1e3,
        "heat_input_net_kW": flow.heat_input_net_W / 1e3,
        "heat_input_gross_Btu_per_h": flow.heat_input_gross_W / W_PER_BTU_PER_H,
        "heat_input_net_Btu_per_h": flow.heat_input_net_W / W_PER_BTU_PER_H,
        "mass_flow_kg_per_h": flow.mass_flow_kg_per_s * 3600.0,
        "volume_flow_m3_per_h": volume_m3_per_s * 3600.0,
        "volume_flow_ft3_per_h": volume_m3_per_s * 3600.0 / M3_PER_FT3,
        "reference": reference.words(),
        "choked": flow.choked,
        "expansibility": flow.expansibility,
        "critical_pressure_ratio": flow.critical_pressure_ratio,
        "upstream_density_kg_per_m3": flow.upstream_density_kg_per_m3,
        "isentropic_exponent": flow.isentropic_exponent,
        "velocity_m_per_s": flow.velocity_m_per_s,
        "reynolds": flow.reynolds,
        "notes": (*flow.notes, *gas_notes(flow.gas)),
    }


def _at_sea_level(flow: OrificeFlow, coefficient: Coefficient) -> dict[str, float | None]:
    """The altitude of the place, and the flow there over that at sea level; null where altitude does nothing."""
    from burnerlab import orifice

    place = altitude_m(flow.conditions.ambient_pressure_Pa)
    if place is None:
        return {"altitude_m": None, "of_sea_level_percent": None}
    sea = replace(flow.conditions, ambient_pressure_Pa=STANDARD_PRESSURE_PA)
    there = orifice.flow(flow.gas, flow.diameter_m, sea, coefficient, flow.count)
    return {
        "altitude_m": place,
        "of_sea_level_percent": 100.0 * flow.mass_flow_kg_per_s / there.mass_flow_kg_per_s,
    }


def _altitude(result: dict[str, Any]) -> list[tuple[str, str]]:
    from burnerlab.orifice.altitude import height_words

    if result["altitude_m"] is None:
        return []
    share = f"{result['of_sea_level_percent']:.1f} % of the flow of this bore at sea level"
    return [("altitude", f"{height_words(result['altitude_m'])}: {share}; no altitude policy acts on it")]


@dataclass(frozen=True, slots=True)
class _Inert:
    """A gas without fuel as ``flow`` needs it: air through an orifice is a question too, with no heat input."""

    name: str
    title: str
    composition: Composition

    def density_kg_per_m3(self, temperature_K: float, absolute_pressure_Pa: float) -> float:
        from burnerlab.gas import upstream

        names, fractions = self.composition.names, self.composition.fractions
        return float(upstream.density_kg_per_m3(names, fractions, temperature_K, absolute_pressure_Pa))

    def isentropic_exponent(self, temperature_K: float, absolute_pressure_Pa: float) -> float:
        from burnerlab.gas import upstream

        names, fractions = self.composition.names, self.composition.fractions
        return float(upstream.isentropic_exponent(names, fractions, temperature_K, absolute_pressure_Pa))

    def heating_value_J_per_kg(self, basis: str, combustion_temperature_K: float = 288.15) -> float:
        return 0.0

    def standard_density_kg_per_m3(self, reference: ReferenceState) -> float:
        return self.density_kg_per_m3(reference.metering_temperature_K, reference.pressure_Pa)


def _burning_or_not(gas: Gas | DeclaredGas) -> Gas | DeclaredGas | _Inert:
    from burnerlab.gas import DeclaredGas
    from burnerlab.gas.components import component_table

    if isinstance(gas, DeclaredGas):
        return gas
    table = component_table()
    burns = table.gross_J_per_mol["15C"][table.take(gas.composition.names)] > 0.0
    return gas if burns.any() else _Inert(gas.name, gas.title, gas.composition)


def _text(result: dict[str, Any]) -> str:
    holes = f"{result['count']} x " if result["count"] > 1 else ""
    drill = f" ({result['drill']})" if result["drill"] else ""
    pairs = [
        ("gas", f"{result['gas_title']} ({result['gas']})"),
        ("orifice", f"{holes}{number(result['diameter_mm'])} mm{drill}"),
        ("discharge", f"{number(result['coefficient'], 3)}, {result['coefficient_source']}"),
        (
            "pressure",
            f"{number(result['pressure_kPa'])} kPa gauge, outside {number(result['ambient_pressure_kPa'], 5)} kPa",
        ),
        ("gas temperature", f"{result['gas_temperature_C']:.1f} C"),
        *_altitude(result),
        ("", ""),
        (
            "heat input, gross",
            f"{number(result['heat_input_gross_kW'])} kW, {result['heat_input_gross_Btu_per_h']:.0f} Btu/h",
        ),
        (
            "heat input, net",
            f"{number(result['heat_input_net_kW'])} kW, {result['heat_input_net_Btu_per_h']:.0f} Btu/h",
        ),
        ("mass flow", f"{number(result['mass_flow_kg_per_h'])} kg/h"),
        (
            "volume flow",
            f"{number(result['volume_flow_m3_per_h'])} m3/h, {number(result['volume_flow_ft3_per_h'])} ft3/h",
        ),
        ("  at", result["reference"]),
        ("choked", "yes" if result["choked"] else "no"),
        ("expansibility", number(result["expansibility"])),
    ]
    return f"{facts(pairs)}\n\n{spread_words(result)}"
