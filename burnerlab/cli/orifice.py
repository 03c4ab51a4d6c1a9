"""``flow`` and ``size``: how much comes through an orifice, and which orifice is needed."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import click

from burnerlab.cli.common_inputs import BORE, CONDITIONS, HOLE, RATE, REFERENCE, Hole, read_drills
from burnerlab.cli.gas_inputs import GAS
from burnerlab.cli.options import json_option, takes, written
from burnerlab.cli.output import (
    altitude_of,
    amount,
    bore_notes,
    facts,
    for_reader,
    gas_notes,
    kW,
    note_region_of_file,
    note_system_of_file,
    number,
    of_pressure,
    percent,
    pressure_notes,
    print_cautions,
    print_json,
    print_notes,
    reader_system,
    table,
    wrapped,
)
from burnerlab.cli.proposals import drill_lists
from burnerlab.cli.verbosity import print_hint
from burnerlab.quantity import Basis, Bore, Rate, ReferenceState, require_basis
from burnerlab.quantity.inputs import Group, Input
from burnerlab.quantity.outputs import output
from burnerlab.quantity.quantity_text import millimetre
from burnerlab.quantity.reference_state import STANDARD_PRESSURE_PA
from burnerlab.quantity.units import Kind

if TYPE_CHECKING:
    from burnerlab.gas import Composition, DeclaredGas, Gas
    from burnerlab.orifice import Conditions, Drill, OrificeChoice, OrificeFlow, SizedOrifice
    from burnerlab.orifice.coefficient_spread import BoreLeeway, InputLeeway
    from burnerlab.orifice.discharge_coefficient import Coefficient

# ``burnerlab flow``: what comes through a given orifice.


@click.command(short_help="Flow and heat input of an orifice.")
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
      burnerlab flow --gas G20 --pressure "20 mbar" --diameter "1.4 mm" \\
          --coefficient 0.9
      burnerlab flow --gas propane --pressure "11 inH2O" --drill "#54" \\
          --altitude "5000 ft"
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
        flow_to_sea_level=of_sea_level,
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
    flow_to_sea_level: float | None = field(metadata=output("flow over that at sea level", Kind.FRACTION))


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

    if answer.altitude_m is None or answer.flow_to_sea_level is None:
        return []
    share = f"{100.0 * answer.flow_to_sea_level:.1f} % of the flow of this bore at sea level"
    return [("altitude", f"{height_words(answer.altitude_m)}: {share}; no altitude policy acts on it")]


@dataclass(frozen=True, slots=True)
class _Inert:
    """A gas without fuel as ``flow`` needs it: air through an orifice is a question too, with no heat input."""

    name: str
    title: str
    composition: Composition

    def density_kg_per_m3(self, temperature_K: float, absolute_pressure_Pa: float) -> float:
        from burnerlab.gas import real_gas

        names, fractions = self.composition.names, self.composition.fractions
        return float(real_gas.density_kg_per_m3(names, fractions, temperature_K, absolute_pressure_Pa))

    def isentropic_exponent(self, temperature_K: float, absolute_pressure_Pa: float) -> float:
        from burnerlab.gas import real_gas

        names, fractions = self.composition.names, self.composition.fractions
        return float(real_gas.isentropic_exponent(names, fractions, temperature_K, absolute_pressure_Pa))

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
    pairs = [
        ("gas", f"{answer.gas_title} ({answer.gas})"),
        ("orifice", f"{holes}{amount(flow.diameter_m, Kind.DIAMETER)}{drill}"),
        ("discharge", f"{number(flow.coefficient, 3)}, {answer.coefficient_source}"),
        *_place(place),
        *_altitude(answer),
        ("", ""),
        ("heat input, gross", amount(flow.heat_input_gross_W, Kind.POWER)),
        ("heat input, net", amount(flow.heat_input_net_W, Kind.POWER)),
        ("mass flow", amount(flow.mass_flow_kg_per_s, Kind.MASS_FLOW)),
        ("volume flow", amount(answer.volume_flow_m3_per_s, Kind.REFERENCE_VOLUME_FLOW)),
        ("  at", answer.reference),
        ("choked", "yes" if flow.choked else "no"),
        ("expansibility", number(flow.expansibility)),
    ]
    return f"{facts(pairs)}\n\n{wrapped(for_reader(leeway_words(flow.coefficient, answer.leeway)))}"


def _place(place: Conditions) -> list[tuple[str, str]]:
    """Pressure before the orifice and outside, and the temperature of the gas."""
    outside = amount(place.ambient_pressure_Pa, Kind.ABSOLUTE_PRESSURE, 5)
    return [
        ("pressure", f"{amount(place.gauge_pressure_Pa, Kind.GAUGE_PRESSURE)} gauge, outside {outside}"),
        ("gas temperature", amount(place.gas_temperature_K, Kind.TEMPERATURE, 3)),
    ]


# ``burnerlab size``: the orifice for a heat input, and the drills that come nearest.

ALL_LISTS = "number,letter,fraction,metric"


def _drills(drills: tuple[Drill, ...] | None, region: str | None) -> OfferedDrills:
    """The drills that are named, else those of the region, else the four lists."""
    from burnerlab.appliance.project.model import DRILLS_OF_REGION, system_of_region

    if region is not None:
        note_system_of_file(system_of_region(region))
        note_region_of_file(region, ())
    lists = written("drills") or ",".join(DRILLS_OF_REGION.get(region or "", ())) or ALL_LISTS
    return OfferedDrills(drills=drills or read_drills(lists, "--drills"), lists=lists)


@dataclass(frozen=True, slots=True, kw_only=True)
class OfferedDrills:
    """Drills to choose from, and what their lists are called."""

    drills: tuple[Drill, ...]
    lists: str


DRILLS = Group(
    make=_drills,
    inputs=(
        Input(
            name="drills",
            reader=read_drills,
            proposals=drill_lists,
            metavar="LISTS",
            help=f"{ALL_LISTS} (those without it), hundredth (1/100 mm), drills of your own "
            '("#54,1.45 mm"), or a CSV file of them.',
        ),
        Input(
            name="region",
            choices=("us", "eu"),
            help="Drills, words and units of a shop there.",
        ),
    ),
)
EACH_SIDE = 3  # drills listed on either side of the exact diameter


@click.command(short_help="Orifice for a heat input, and the drills nearest to it.")
@takes(gas=GAS, rate=RATE, conditions=CONDITIONS, hole=HOLE, drills=DRILLS, reference=REFERENCE)
@json_option
def size_command(
    gas: Gas | DeclaredGas,
    rate: Rate,
    conditions: Conditions,
    hole: Hole,
    drills: OfferedDrills,
    reference: ReferenceState,
    as_json: bool,
) -> None:
    """Exact orifice diameter for a heat input, and what the drills around it would give.

    The rate is that of all --count holes together. Choices are listed by diameter: the drill nearest below and the
    one nearest above are always among them, each with its own heat input and the spread of its drill tolerance.

    \b
    Examples:
      burnerlab size --gas propane --rate "12 kBtu/h gross" \\
          --pressure "11 inH2O" --region us
      burnerlab size --gas G20 --rate "3.5 kW net" --pressure "20 mbar" \\
          --drills metric
      burnerlab size --heating-value "1037 Btu/ft3 gross at 60F" \\
          --relative-density 0.6 \\
          --rate "9 kBtu/h gross" --pressure "4 inH2O" --drills "#54,#53,1.55 mm"
    """
    from burnerlab.orifice import size as size_orifice

    sized = size_orifice(
        gas,
        rate.power_W,
        require_basis(rate.basis, written("rate")),
        conditions,
        hole.coefficient,
        hole.count,
        combustion_temperature_K=reference.combustion_temperature_K,
    )
    notes = (
        *sized.flow.notes,
        *gas_notes(sized.flow.gas),
        *pressure_notes(conditions.gauge_pressure_Pa, written("pressure")),
    )
    sized = replace(sized, flow=replace(sized.flow, notes=notes))
    answer = _size_answer(gas, sized, hole, drills, reference)
    if as_json:
        print_json(answer)
    else:
        click.echo(_size_text(answer))
        print_notes("Notes", [note for note in (answer.no_drill_meets, *notes) if note])
        if reader_system() == "US" and not (written("drills") or written("region")):
            print_hint("\nDrills of all four lists; --region us takes those of a US shop.")
        print_cautions(gas, occasions=of_pressure(conditions.gauge_pressure_Pa))


def _size_answer(
    gas: Gas | DeclaredGas,
    sized: SizedOrifice,
    hole: Hole,
    offered_drills: OfferedDrills,
    reference: ReferenceState,
) -> SizeAnswer:
    """The exact orifice with the drills around it, and the same at sea level."""
    from burnerlab.orifice import choices_near, nearest_choice, no_drill_meets
    from burnerlab.orifice.coefficient_spread import bore_leeway, input_leeway

    drills = offered_drills.drills
    offered = choices_near(sized, drills, each_side=EACH_SIDE)
    altitude_m, at_sea_level_m = _size_at_sea_level(
        sized, hole.coefficient, reference.combustion_temperature_K
    )
    return SizeAnswer(
        gas=gas.name,
        gas_title=gas.title,
        rate_W=sized.heat_input_W,
        rate_basis=sized.basis,
        flow=sized.flow,
        area_m2=sized.area_m2,
        coefficient_source=hole.source,
        input_leeway=input_leeway(hole.coefficient, sized.flow),
        bore_leeway=bore_leeway(hole.coefficient, sized, drills),
        altitude_m=altitude_m,
        sea_level_diameter_m=at_sea_level_m,
        drills=offered_drills.lists,
        choices=tuple(_choice(choice, sized) for choice in offered),
        nearest_drill=nearest_choice(sized, offered).drill,
        no_drill_meets=no_drill_meets(sized, drills),
        reference=reference.words(),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillRow:
    """One drill of the list, and what it would give."""

    drill: str = field(metadata=output("drill"))
    list: str = field(metadata=output("list of drills"))
    diameter_m: float = field(metadata=output("diameter", Kind.DIAMETER))
    side: str = field(metadata=output("side of the exact diameter"))
    heat_input_gross_W: float = field(metadata=output("heat input", Kind.POWER, basis="gross"))
    heat_input_net_W: float = field(metadata=output("heat input", Kind.POWER, basis="net"))
    deviation: float = field(metadata=output("deviation", Kind.FRACTION, is_change=True))
    drill_tolerance_low: float = field(
        metadata=output("deviation at the small end of the drill", Kind.FRACTION, is_change=True)
    )
    drill_tolerance_high: float = field(
        metadata=output("deviation at the large end of the drill", Kind.FRACTION, is_change=True)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeAnswer:
    """The orifice for a heat input, and the drills around it by rising diameter."""

    gas: str = field(metadata=output("gas"))
    gas_title: str = field(metadata=output("name of the gas"))
    rate_W: float = field(metadata=output("heat input wanted", Kind.POWER))
    rate_basis: Basis = field(metadata=output("basis of the heat input wanted"))
    flow: OrificeFlow = field(metadata=output("flow", is_part=True))
    area_m2: float = field(metadata=output("area", Kind.AREA))
    coefficient_source: str = field(metadata=output("source of the coefficient"))
    input_leeway: InputLeeway = field(metadata=output("spread of the coefficient", is_part=True))
    bore_leeway: BoreLeeway = field(metadata=output("bore at the ends of the coefficient", is_part=True))
    altitude_m: float | None = field(metadata=output("altitude", Kind.LENGTH, unit="m"))
    """None where altitude does nothing."""
    sea_level_diameter_m: float | None = field(metadata=output("diameter at sea level", Kind.DIAMETER))
    drills: str = field(metadata=output("lists of drills"))
    choices: tuple[DrillRow, ...] = field(metadata=output("drills by rising diameter"))
    nearest_drill: str = field(metadata=output("nearest drill"))
    no_drill_meets: str = field(metadata=output("no drill meets the tolerance"))
    reference: str = field(metadata=output("reference state"))


def _size_at_sea_level(
    sized: SizedOrifice, coefficient: Coefficient, combustion_temperature_K: float
) -> tuple[float | None, float | None]:
    """The altitude of the place, and the bore for the same rate at sea level; None where altitude does nothing."""
    from burnerlab.orifice import size as size_orifice

    flow = sized.flow
    place = altitude_of(flow.conditions.ambient_pressure_Pa)
    if place is None:
        return None, None
    at_sea = size_orifice(
        flow.gas,
        sized.heat_input_W,
        sized.basis,
        replace(flow.conditions, ambient_pressure_Pa=STANDARD_PRESSURE_PA),
        coefficient,
        flow.count,
        combustion_temperature_K=combustion_temperature_K,
    )
    return place, at_sea.diameter_m


def _size_altitude(answer: SizeAnswer) -> list[tuple[str, str]]:
    from burnerlab.orifice.altitude import height_words

    sea, here, place = answer.sea_level_diameter_m, answer.flow.diameter_m, answer.altitude_m
    if place is None or sea is None:
        return []
    word = "enlarged" if here > sea else "reduced"
    change = f"bore {word} from {amount(sea, Kind.DIAMETER)} to {amount(here, Kind.DIAMETER)}"
    return [
        ("altitude", f"{height_words(place)}: {change} for this rate there; no altitude policy acts on it")
    ]


def _choice(choice: OrificeChoice, sized: SizedOrifice) -> DrillRow:
    exact = choice.diameter_m == sized.diameter_m
    share = (1.0 + choice.deviation) / choice.heat_input_gross_W  # of the heat input wanted, on its basis
    return DrillRow(
        drill=choice.drill,
        list=choice.kind,
        diameter_m=choice.diameter_m,
        side="exact" if exact else "below" if choice.diameter_m < sized.diameter_m else "above",
        heat_input_gross_W=choice.heat_input_gross_W,
        heat_input_net_W=choice.heat_input_net_W,
        deviation=choice.deviation,
        drill_tolerance_low=choice.drill_tolerance_low_gross_W * share - 1.0,
        drill_tolerance_high=choice.drill_tolerance_high_gross_W * share - 1.0,
    )


def _size_text(answer: SizeAnswer) -> str:
    from burnerlab.orifice.coefficient_spread import leeway_words

    flow, place = answer.flow, answer.flow.conditions
    holes = f" each of {flow.count} holes" if flow.count > 1 else ""
    head = facts(
        [
            ("gas", f"{answer.gas_title} ({answer.gas})"),
            ("heat input", f"{amount(answer.rate_W, Kind.POWER)} {answer.rate_basis}"),
            *_place(place),
            ("discharge", f"{number(flow.coefficient, 3)}, {answer.coefficient_source}"),
            ("diameter", f"{amount(flow.diameter_m, Kind.DIAMETER)}{holes}"),
            *_size_altitude(answer),
        ]
    )
    is_gross = answer.rate_basis == "gross"
    rows = [
        (
            choice.drill,
            millimetre(choice.diameter_m, ".3f", has_unit=False),
            kW(choice.heat_input_gross_W if is_gross else choice.heat_input_net_W),
            percent(choice.deviation),
            f"{100.0 * choice.drill_tolerance_low:+.1f} to {100.0 * choice.drill_tolerance_high:+.1f} %",
            "nearest" if choice.drill == answer.nearest_drill else choice.side,
        )
        for choice in answer.choices
    ]
    heads = ("drill", "mm", f"kW {answer.rate_basis}", "deviation", "drill tolerance", "")
    words = wrapped(for_reader(leeway_words(flow.coefficient, answer.input_leeway, answer.bore_leeway)))
    return f"{head}\n\n{words}\n\n{table(heads, rows)}"
