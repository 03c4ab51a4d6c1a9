"""``burnerlab tile``: how hot a ceramic tile glows and what it radiates."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

import click

from burnerlab.cli.common_inputs import (
    ALTITUDE,
    BAROMETER,
    ONE_PLACE,
    ambient_pressure_Pa,
    own_table,
    read_rate,
)
from burnerlab.cli.gas_inputs import GAS
from burnerlab.cli.options import json_option, takes, written
from burnerlab.cli.output import (
    facts,
    for_reader,
    gas_notes,
    number,
    print_cautions,
    print_json,
    print_look_up,
    print_notes,
    temperature,
    wrapped,
)
from burnerlab.quantity import Basis, Kind, Rate
from burnerlab.quantity.inputs import Group, Input, input_row
from burnerlab.quantity.outputs import columns, row
from burnerlab.tables.cautions import LACK_OF_AIR
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.verdict import Verdict

if TYPE_CHECKING:
    from burnerlab.burner.tile import Before, Firing
    from burnerlab.burner.tile_evaluation import Band, TileState
    from burnerlab.gas import DeclaredGas, Gas

SIDES = re.compile(r"\s+[xX×]\s+|(?<=[a-z])\s*×\s*")
TARGET_OPTIONS = ("target_emissivity", "target_temperature", "target_area")


def read_area(text: Any, key: str) -> float:
    """A face as one area, or as two sides with an x between [m2]."""
    sides = SIDES.split(text.strip())
    if len(sides) == 1:
        return float(input_row("tile_area").read(text, key))
    if len(sides) != 2:
        fix = 'e.g. "150 mm x 100 mm" or "150 cm2"'
        raise UserError(Problem("needs two sides, or one area", value=text, key=key, fix=fix))
    first, second = (float(input_row("tile_side").read(side, key)) for side in sides)
    return first * second


def read_density(text: Any, key: str) -> tuple[float, Basis]:
    """A firing density and its basis, net where none follows [W/m2]."""
    words = text.split()
    said = words[-1].lower() if words else ""
    for basis in get_args(Basis):
        if said == basis:
            return input_row("firing_density").read(" ".join(words[:-1]), key), basis
    return input_row("firing_density").read(text, key), "net"


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatInput:
    """Heat input of a face and its area; by square metre where the area is not known."""

    heat_input_W: float
    basis: Basis
    area_m2: float | None


def _heat_input(
    rate: Rate | None, area: float | None, firing_density: tuple[float, Basis] | None
) -> HeatInput:
    if firing_density is not None:
        density, basis = firing_density
        return HeatInput(heat_input_W=density * (area or 1.0), basis=basis, area_m2=area)
    assert rate is not None  # by the rules of the group
    assert rate.basis is not None
    return HeatInput(heat_input_W=rate.power_W, basis=rate.basis, area_m2=area)


def _rate_or_density(written: Mapping[str, Any]) -> Iterator[Problem]:
    if ("rate" in written) == ("firing_density" in written):
        fix = 'e.g. --rate "2.4 kW gross" --area "150 mm x 100 mm", or --firing-density "150 kW/m2"'
        yield Problem("give one of them", key="--rate or --firing-density", fix=fix)
    elif "rate" in written and "area" not in written:
        fix = 'e.g. --area "150 cm2"'
        yield Problem("needs --area beside it", value=written["rate"], key="--rate", fix=fix)


HEAT_INPUT = Group(
    make=_heat_input,
    inputs=(
        Input(
            name="rate",
            reader=read_rate,
            metavar="Q",
            help='Heat input with its basis: "4.8 kW gross". Needs --area.',
        ),
        Input(
            name="area",
            reader=read_area,
            metavar="A",
            help='Plain area of the glowing face: "150 mm x 100 mm", "150 cm2".',
        ),
        Input(
            name="firing_density",
            reader=read_density,
            metavar="Q",
            help='Instead of --rate: "150 kW/m2"; net, unless "gross" follows.',
        ),
    ),
    rules=_rate_or_density,
)


def _fired(
    aeration: float,
    air_temperature: float,
    altitude: float | None,
    barometer: float | None,
    **target: float | None,
) -> tuple[Firing, Before]:
    from burnerlab.burner.tile import Firing, pot

    pressure_Pa = ambient_pressure_Pa(altitude, barometer)
    known = {TARGET[name]: value for name, value in target.items() if value is not None}
    return (
        Firing(aeration=aeration, mixture_K=air_temperature, pressure_Pa=pressure_Pa),
        pot(surroundings_K=air_temperature, **known),
    )


def _target_with_view(written: Mapping[str, Any]) -> Iterator[Problem]:
    if "view_factor" not in written:
        for name in TARGET_OPTIONS:
            if name in written:
                yield Problem("needs --view-factor beside it", key="--" + name.replace("_", "-"))


TARGET = {
    "view_factor": "view_factor",
    "target_emissivity": "target_emissivity",
    "target_temperature": "target_K",
    "target_area": "target_area_ratio",
}
"""What ``Before`` calls each option."""
FIRED = Group(
    make=_fired,
    inputs=(
        Input(
            name="aeration",
            of="tile_aeration",
            metavar="PERCENT",
            help='All air over stoichiometric: "1.1", "110 %".',
            is_needed=True,
        ),
        Input(
            name="air_temperature",
            of="mixture_temperature",
            metavar="T",
            default="20 C",
            help='Of mixture and room: "20 C".',
        ),
        Input(
            name="view_factor",
            of="share",
            metavar="PERCENT",
            help='From the face to a pot, a grate or a lid before it: "0.6".',
        ),
        Input(name="target_emissivity", metavar="NUMBER", help="Of that pot, grate or lid (0.8)."),
        Input(
            name="target_temperature",
            metavar="T",
            help='Of that pot, grate or lid: "180 C" (a pot of boiling water).',
        ),
        Input(
            name="target_area",
            metavar="NUMBER",
            help="Its area over that of the face (1).",
        ),
        replace(ALTITUDE, help='"1200 m".'),
        replace(BAROMETER, help='Station pressure instead: "90 kPa".'),
    ),
    not_both=ONE_PLACE,
    rules=_target_with_view,
)


def _tile(**figures: float | None) -> dict[str, float]:
    """Figures of ``TileBurner`` by its own names, those that were written."""
    return {TILE[name]: value for name, value in figures.items() if value is not None}


TILE = {
    "emissivity": "emissivity",
    "area_factor": "area_factor",
    "recovery": "recovery",
    "channel": "channel_diameter_m",
    "thickness": "thickness_m",
}
"""What ``TileBurner`` calls each option."""
FACE = Group(
    make=_tile,
    inputs=(
        Input(
            name="emissivity",
            of="tile_emissivity",
            metavar="PERCENT",
            help='Emissivity of the material of the face: "0.85".',
        ),
        Input(
            name="area_factor",
            metavar="NUMBER",
            help="Developed over plain area of the face, 1 for a flat one.",
        ),
        Input(
            name="recovery",
            metavar="PERCENT",
            help='Part of the difference between flame and face temperature that the face recovers: "30 %".',
        ),
        Input(name="channel", of="tile_channel", metavar="D", help='Diameter of the channels: "1.2 mm".'),
        Input(name="thickness", of="tile_thickness", metavar="L", help='Of the tile: "13 mm".'),
    ),
)


@click.command(short_help="Face temperature and radiant efficiency of a ceramic tile burner.")
@takes(
    gas=GAS,
    heat=HEAT_INPUT,
    fired=FIRED,
    face=FACE,
    own=own_table(
        "tile_properties",
        "CSV of your own with the columns of the table tile_properties, or LIBRARY:tile_properties.csv.",
    ),
)
@json_option
def tile_command(
    gas: Gas | DeclaredGas,
    heat: HeatInput,
    fired: tuple[Firing, Before],
    face: dict[str, float],
    own: Path | None,
    as_json: bool,
) -> None:
    """Face temperature, radiant efficiency and findings of a ceramic tile burner.

    A balance of heat with a table of flat flames. The answer is a band: the plane flame is its cool end, and the gas
    cannot leave cooler than the face. Without an option its usual figure is used, with its spread.

    \b
    Examples:
      burnerlab tile --gas propane --rate "2.4 kW gross" \\
          --area "150 mm x 100 mm" --aeration 1.1
      burnerlab tile --gas G20 --firing-density "150 kW/m2" --aeration 1.15 \\
          --emissivity 0.9 --area-factor 1
      burnerlab tile --gas propane --firing-density "150 kW/m2" --aeration 1.1 \\
          --view-factor 0.7 --target-emissivity 0.2
    """
    from burnerlab.burner.tile import TileBurner
    from burnerlab.burner.tile_evaluation import evaluate_tile

    tile = TileBurner(area_m2=heat.area_m2 or 1.0, **face)
    state = evaluate_tile(tile, gas, heat.heat_input_W, heat.basis, *fired, own)
    notes = [*gas_notes(gas), *_basis_note(written("firing_density")), *state.notes]
    if as_json:
        print_json(row(state) | ({} if heat.area_m2 else _unknown(state)), notes=notes)
    else:
        click.echo(_text(state))
        print_notes("Notes", notes)
        print_look_up(one.handbook for one in state.findings if one.verdict != Verdict.WITHIN)
        lacks_air = any(one.topic == "aeration" and one.verdict == Verdict.OUTSIDE for one in state.findings)
        print_cautions(gas, occasions=(LACK_OF_AIR,) if lacks_air else ())


def _basis_note(density: str) -> list[str]:
    if not density or density.lower().rstrip().endswith(get_args(Basis)):
        return []
    return ["The firing density was taken as net; write gross or net behind it."]


def _unknown(state: TileState) -> dict[str, None]:
    """The figures of the whole face, which needs its area."""
    whole = (Kind.POWER, Kind.AREA)
    return {column.key: None for column in columns(type(state)) if column.declared.kind in whole}


def _span(band: Band) -> str:
    return f"{temperature(band.low, has_unit=False)} to {temperature(band.high)}"


def _text(state: TileState) -> str:
    lift, share, face = state.lift_margin, state.radiant_efficiency_net, state.surface_temperature_K
    target, plenum = state.to_target_efficiency_net, state.plenum_side_temperature_K
    pairs = [
        ("gas", f"{state.gas}, {100 * state.aeration:.4g} % of the stoichiometric air"),
        (
            "firing density",
            f"{number(state.firing_density_net_W_per_m2 / 1e3)} kW/m2 net, "
            f"{number(state.firing_density_gross_W_per_m2 / 1e3)} kW/m2 gross",
        ),
        (
            "face",
            f"{temperature(face.value)} (band {_span(face)}, "
            f"ceiling {temperature(state.surface_temperature_ceiling_K)})",
        ),
        (
            "radiant efficiency, net",
            f"{100 * share.value:.0f} % (band {100 * share.low:.0f} to {100 * share.high:.0f} %, "
            f"ceiling {100 * state.radiant_efficiency_ceiling_net:.0f} %)",
        ),
        ("radiated", f"{number(state.radiated_W_per_m2 / 1e3)} kW/m2"),
        (
            "of it to the target",
            "no target" if target is None else f"{100 * target.value:.0f} % of the net input",
        ),
        ("gas leaves at", temperature(state.gas_leaving_temperature_K)),
        (
            "plenum side of the tile",
            f"{temperature(plenum.value)} (band {_span(plenum)})",
        ),
        ("mass flux at which it lifts", "beyond the table" if lift is None else f"{lift:.2f} times this one"),
        ("evidence", state.evidence),
    ]
    checks = [
        f"  {one.topic}: {one.verdict}\n"
        + wrapped(for_reader(one.text), initial="      ", subsequent="      ")
        for one in state.findings
    ]
    return facts(pairs) + "\n\nFindings\n" + "\n".join(checks)
