"""``burnerlab cylinder``: how long an LP cylinder holds a heat input."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.common_inputs import GAS, RATE, SURROUNDINGS, own_table
from burnerlab.cli.options import json_option
from burnerlab.cli.output import facts, number, print_json, print_notes, table
from burnerlab.cli.takes import takes
from burnerlab.quantity.inputs import Group, Input
from burnerlab.quantity.outputs import row
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from pathlib import Path

    from burnerlab.gas import DeclaredGas, Gas
    from burnerlab.quantity import Rate
    from burnerlab.supply.cylinder import Cylinder, Draw
    from burnerlab.supply.regulator import Typical
    from burnerlab.supply.withdrawal import Held

ROWS_SHOWN = 8
DEFAULT_REGULATOR = "lp single stage"


def _liquid(gas: Gas | DeclaredGas) -> Gas:
    from burnerlab.gas import Gas
    from burnerlab.supply.lpg_vapour import liquids

    if not isinstance(gas, Gas):
        what = "a cylinder needs the composition of its liquid"
        fix = "name propane, propane-hd5 or a --mix"
        raise UserError(Problem(what, value=gas.name, key="--gas", fix=fix))
    liquids(tuple(gas.composition.names))
    return gas


def _named(text: str, key: str) -> Cylinder:
    from burnerlab.supply.cylinder import cylinder_named

    return cylinder_named(text, key=key)


def _cylinder(
    size: Cylinder | None, water_capacity: float | None, diameter: float | None, tare: float | None
) -> Cylinder:
    from burnerlab.supply.cylinder import Cylinder

    if size is not None:
        return size
    assert water_capacity is not None
    assert diameter is not None
    assert tare is not None
    return Cylinder(
        name="own",
        water_capacity_m3=water_capacity,
        diameter_m=diameter,
        tare_kg=tare,
        provenance="measured here",
    )


def _size_or_own(written: Mapping[str, Any]) -> Iterator[Problem]:
    from burnerlab.supply.cylinder import cylinders

    own = [name in written for name in ("water_capacity", "diameter", "tare")]
    if any(own) if "size" in written else not all(own):
        what = "give a size, or water capacity, diameter and tare together"
        accepted = f"--size of {', '.join(cylinders())}"
        yield Problem(what, key="--size", accepted=accepted, fix='e.g. --size "20 lb"')


CYLINDER = Group(
    make=_cylinder,
    inputs=(
        Input(
            name="size",
            reader=_named,
            metavar="NAME",
            help='Nominal size: "20 lb", "100 lb", "11 kg". Quote it.',
        ),
        Input(
            name="water_capacity",
            metavar="V",
            help='In place of --size: "26.2 L", with --diameter and --tare.',
        ),
        Input(name="diameter", of="cylinder_diameter", metavar="D", help="Outer, of a cylinder of your own."),
        Input(name="tare", metavar="M", help="Empty mass of a cylinder of your own."),
    ),
    rules=_size_or_own,
)
"""A cylinder by its nominal size, or of one's own: ``Cylinder``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeastInlet:
    """The least inlet pressure [Pa gauge] that ends a draw, and where it is from."""

    pressure_Pa: float
    source: str


def _typical(text: str, key: str) -> Typical:
    from burnerlab.supply.regulator import typical

    return typical(text, key=key)


def _least(regulator: Typical | None, minimum_pressure: float | None) -> LeastInlet:
    if minimum_pressure is not None:
        return LeastInlet(pressure_Pa=minimum_pressure, source="as given")
    kind = regulator or _typical(DEFAULT_REGULATOR, "--regulator")
    figure = kind.minimum_inlet_Pa
    source = f"{kind.name}: {figure.place} ({figure.provenance})"
    return LeastInlet(pressure_Pa=figure.value, source=source)


LEAST_INLET = Group(
    make=_least,
    inputs=(
        Input(
            name="regulator",
            reader=_typical,
            metavar="KIND",
            help="Typical regulator whose least inlet pressure ends the draw.",
        ),
        Input(
            name="minimum_pressure",
            of="minimum_inlet",
            metavar="P",
            help='That pressure itself, gauge: "8 psi".',
        ),
    ),
    not_both=(("regulator", "minimum_pressure"),),
)
"""What ends a draw: ``LeastInlet``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """How far a cylinder is filled: a share of its water capacity, or a mass."""

    share: float | None = None
    mass_kg: float | None = None


def _fill(text: str, key: str) -> Fill:
    from burnerlab.quantity import Kind, read

    try:
        return Fill(share=read(text, Kind.FRACTION, key=key))
    except UserError as error:
        try:
            return Fill(mass_kg=read(text, Kind.MASS, key=key))
        except UserError:
            raise error from None


def _draw(
    gas: Gas, cylinder: Cylinder, ambient: float, least: LeastInlet, fill: Fill, rate: Rate, **at: Any
) -> tuple[Draw, str]:
    from burnerlab.quantity import said_basis
    from burnerlab.supply.cylinder import Draw, fill_of_mass

    air_K, start_K = at["air_temperature"], at["liquid_temperature"]
    share = fill.share
    if share is None:
        assert fill.mass_kg is not None
        share = fill_of_mass(gas, cylinder, fill.mass_kg, air_K if start_K is None else start_K)
    draw = Draw(
        gas=gas,
        cylinder=cylinder,
        fill=share,
        air_temperature_K=air_K,
        heat_input_W=rate.power_W,
        basis=said_basis(rate.basis, "--rate"),
        minimum_inlet_Pa=least.pressure_Pa,
        ambient_pressure_Pa=ambient,
        start_temperature_K=start_K,
        horizon_s=at["time"],
    )
    return draw, least.source


DRAW = Group(
    make=_draw,
    parts={
        "gas": Group(make=_liquid, parts={"gas": GAS}),
        "cylinder": CYLINDER,
        "least": LEAST_INLET,
        "ambient": SURROUNDINGS,
    },
    inputs=(
        Input(
            name="fill",
            reader=_fill,
            metavar="F",
            default="80 %",
            help='Liquid share of the water capacity, or a mass: "10 lb".',
        ),
        Input(
            name="air_temperature",
            of="cylinder_air_temperature",
            metavar="T",
            is_needed=True,
            help='Of the air around: "0 C".',
        ),
        Input(name="liquid_temperature", metavar="T", help="At the start; that of the air if none."),
        replace(RATE, help='Heat input with its basis: "60 kBtu/h gross".'),
        Input(name="time", of="draw_time", metavar="T", default="48 h", help="Longest time looked at."),
    ),
)
"""A steady draw from a cylinder, and where the pressure that ends it is from: ``Draw`` and a text."""


@click.command(short_help="How long an LP cylinder holds a heat input as it cools.")
@takes(wanted=DRAW, own=own_table("heat_table", "cylinder_heat"))
@json_option
def cylinder_command(wanted: tuple[Draw, str], own: Path | None, as_json: bool) -> None:
    """How long an LP cylinder holds a steady heat input, as evaporation cools it and the air warms it.

    The draw ends when the pressure falls to what the regulator needs, or the liquid is used up. The heat from the air
    is known within a factor of two: the result is an estimate, and its band is shown.

    \b
    Examples:
      burnerlab cylinder --gas propane --size "20 lb" --air-temperature "0 C" --rate "60 kBtu/h gross"
      burnerlab cylinder --gas butane-commercial --size "13 kg" --air-temperature "10 C" \\
          --rate "4 kW net" --regulator "butane 30 mbar"
      burnerlab cylinder --gas propane-hd5 --size "100 lb" --fill "40 lb" --air-temperature "20 F" \\
          --rate "90 kBtu/h gross" --json
    """
    from burnerlab.supply.withdrawal import hold

    draw, regulator = wanted
    found = hold(draw, own)
    notes = (*found.notes, *_notes(draw))
    if as_json:
        print_json(found, minimum_pressure_from=regulator, notes=notes)
    else:
        click.echo(_text(found, regulator))
        print_notes("Notes", notes)
        print_cautions(draw.gas, occasions=("frost",) if found.below_freezing else ())


def _notes(draw: Draw) -> list[str]:
    cylinder = draw.cylinder
    size = f"{cylinder.name}: {cylinder.water_capacity_m3 * 1e3:.3g} L, {cylinder.diameter_m * 1e3:.0f} mm wide, "
    return [
        f"{size}{cylinder.tare_kg:.3g} kg empty ({cylinder.provenance})",
        "the data stamped on the collar take precedence",
        "upright, one temperature for liquid and wetted steel, vapour in the head space not counted",
        "pressures are gauge",
    ]


def _text(found: Held, regulator: str) -> str:
    r = row(found)
    low, high = r["hold_time_low_min"], r["hold_time_high_min"]
    head = facts(
        [
            ("gas", r["gas"]["name"]),
            ("cylinder", f"{r['cylinder']['name']}, filled to {r['fill_percent']:.0f} %"),
            ("air", f"{r['air_temperature_C']:.0f} C"),
            ("heat input", f"{number(r['heat_input_kW'])} kW {r['basis']}"),
            ("regulator needs", f"{r['minimum_inlet_kPa']:.3g} kPa gauge; {regulator}"),
            ("holds", f"{r['hold_time_min']:.0f} min (estimate: {low:.0f} to {high:.0f} min)"),
            ("then", r["ending_words"]),
        ]
    )
    course = r["series"]
    last = len(course["time_min"]) - 1
    picks = sorted({round(i * last / (ROWS_SHOWN - 1)) for i in range(ROWS_SHOWN)})
    rows = [
        (
            f"{course['time_min'][i]:.0f}",
            f"{course['gauge_pressure_kPa'][i]:.0f}",
            f"{course['temperature_C'][i]:.1f}",
            f"{course['liquid_mass_kg'][i]:.2f}",
            f"{course['liquid_level_percent'][i]:.0f}",
        )
        for i in picks
    ]
    return f"{head}\n\n{table(('min', 'kPa gauge', 'C', 'kg liquid', '% full'), rows, left=0)}"
