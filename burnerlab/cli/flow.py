"""``burnerlab flow``: what comes through a given orifice."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import click

from burnerlab.cli.cautions import of_pressure, print_cautions
from burnerlab.cli.common_inputs import BORE, CONDITIONS, GAS, HOLE, REFERENCE, Hole
from burnerlab.cli.notes import altitude_of, bore_notes, gas_notes, pressure_notes
from burnerlab.cli.options import json_option
from burnerlab.cli.output import facts, number, print_json, print_notes
from burnerlab.cli.takes import takes, written
from burnerlab.cli.units import M3_PER_FT3, W_PER_BTU_PER_H, ZERO_C_K
from burnerlab.quantity.kind import Kind
from burnerlab.quantity.outputs import output
from burnerlab.quantity.reference import STANDARD_PRESSURE_PA

if TYPE_CHECKING:
    from burnerlab.gas import Composition, DeclaredGas, Gas
    from burnerlab.orifice import Conditions, OrificeFlow
    from burnerlab.orifice.coefficient import Coefficient
    from burnerlab.orifice.coefficient_spread import InputLeeway
    from burnerlab.quantity import Bore, ReferenceState


@click.command(short_help="Flow and heat input of a given orifice.")
@takes(gas=GAS, conditions=CONDITIONS, bore=BORE, hole=HOLE, reference=REFERENCE)
@json_option
def flow_command(
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
    from burnerlab.orifice.coefficient_spread import input_leeway

    flow = orifice.flow(
        _burning_or_not(gas),
        bore.diameter_m,
        conditions,
        hole.coefficient,
        hole.count,
        combustion_temperature_K=reference.combustion_temperature_K,
    )
    notes = (
        *flow.notes,
        *gas_notes(flow.gas),
        *pressure_notes(conditions.gauge_pressure_Pa, written("pressure")),
        *bore_notes(bore.diameter_m, written("drill") or written("diameter")),
    )
    altitude_m, of_sea_level = _at_sea_level(flow, hole.coefficient)
    answer = FlowAnswer(
        gas=gas.name,
        gas_title=gas.title,
        flow=replace(flow, notes=notes),
        volume_flow_m3_per_s=flow.volume_flow_m3_per_s(reference),
        reference=reference.words(),
        drill=bore.drill,
        coefficient_source=hole.source,
        leeway=input_leeway(hole.coefficient, flow),
        altitude_m=altitude_m,
        of_sea_level=of_sea_level,
    )
    if as_json:
        print_json(answer)
    else:
        click.echo(_text(answer))
        print_notes("Notes", notes)
        print_cautions(gas, occasions=of_pressure(conditions.gauge_pressure_Pa))


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowAnswer:
    """What comes through an orifice, and what that rests on."""

    gas: str = field(metadata=output("gas"))
    gas_title: str = field(metadata=output("name of the gas"))
    flow: OrificeFlow = field(metadata=output("flow", is_part=True))
    volume_flow_m3_per_s: float = field(metadata=output("volume flow", Kind.REFERENCE_VOLUME_FLOW))
    reference: str = field(metadata=output("reference state of the volume flow"))
    drill: str = field(metadata=output("drill"))
    coefficient_source: str = field(metadata=output("source of the coefficient"))
    leeway: InputLeeway = field(metadata=output("spread of the coefficient", is_part=True))
    altitude_m: float | None = field(metadata=output("altitude", Kind.LENGTH, unit="m"))
    """None where altitude does nothing."""
    of_sea_level: float | None = field(metadata=output("flow over that at sea level", Kind.FRACTION))


def _at_sea_level(flow: OrificeFlow, coefficient: Coefficient) -> tuple[float | None, float | None]:
    """The altitude of the place, and the flow there over that at sea level; None where altitude does nothing."""
    from burnerlab import orifice

    place = altitude_of(flow.conditions.ambient_pressure_Pa)
    if place is None:
        return None, None
    sea = replace(flow.conditions, ambient_pressure_Pa=STANDARD_PRESSURE_PA)
    there = orifice.flow(flow.gas, flow.diameter_m, sea, coefficient, flow.count)
    return place, flow.mass_flow_kg_per_s / there.mass_flow_kg_per_s


def _altitude(answer: FlowAnswer) -> list[tuple[str, str]]:
    from burnerlab.orifice.altitude import height_words

    if answer.altitude_m is None or answer.of_sea_level is None:
        return []
    share = f"{100.0 * answer.of_sea_level:.1f} % of the flow of this bore at sea level"
    return [("altitude", f"{height_words(answer.altitude_m)}: {share}; no altitude policy acts on it")]


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
    from burnerlab.gas.component import component_table

    if isinstance(gas, DeclaredGas):
        return gas
    table = component_table()
    burns = table.gross_J_per_mol["15C"][table.take(gas.composition.names)] > 0.0
    return gas if burns.any() else _Inert(gas.name, gas.title, gas.composition)


def _text(answer: FlowAnswer) -> str:
    from burnerlab.orifice.coefficient_spread import leeway_words

    flow, place = answer.flow, answer.flow.conditions
    holes = f"{flow.count} x " if flow.count > 1 else ""
    drill = f" ({answer.drill})" if answer.drill else ""
    volume = 3600.0 * answer.volume_flow_m3_per_s
    ambient = number(place.ambient_pressure_Pa / 1e3, 5)
    pairs = [
        ("gas", f"{answer.gas_title} ({answer.gas})"),
        ("orifice", f"{holes}{number(flow.diameter_m * 1e3)} mm{drill}"),
        ("discharge", f"{number(flow.coefficient, 3)}, {answer.coefficient_source}"),
        ("pressure", f"{number(place.gauge_pressure_Pa / 1e3)} kPa gauge, outside {ambient} kPa"),
        ("gas temperature", f"{place.gas_temperature_K - ZERO_C_K:.1f} C"),
        *_altitude(answer),
        ("", ""),
        ("heat input, gross", _heat(flow.heat_input_gross_W)),
        ("heat input, net", _heat(flow.heat_input_net_W)),
        ("mass flow", f"{number(flow.mass_flow_kg_per_s * 3600.0)} kg/h"),
        ("volume flow", f"{number(volume)} m3/h, {number(volume / M3_PER_FT3)} ft3/h"),
        ("  at", answer.reference),
        ("choked", "yes" if flow.choked else "no"),
        ("expansibility", number(flow.expansibility)),
    ]
    return f"{facts(pairs)}\n\n{leeway_words(flow.coefficient, answer.leeway)}"


def _heat(power_W: float) -> str:
    return f"{number(power_W / 1e3)} kW, {power_W / W_PER_BTU_PER_H:.0f} Btu/h"
