"""``burnerlab cylinder``: how long an LP cylinder holds a heat input."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.asked import GasAsked, ambient_pressure_Pa, own_file, together
from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.holes import rate_of
from burnerlab.cli.options import gas_options, json_option
from burnerlab.cli.output import facts, number, print_json, print_notes, table
from burnerlab.quantity.error import Problem, UserError
from burnerlab.quantity.outputs import row

if TYPE_CHECKING:
    from burnerlab.gas import Gas
    from burnerlab.supply.cylinder import Cylinder, Draw
    from burnerlab.supply.withdrawal import Held

ROWS_SHOWN = 8
DEFAULT_REGULATOR = "lp single stage"


@click.command(short_help="How long an LP cylinder holds a heat input as it cools.")
@gas_options
@click.option("--size", metavar="NAME", help='Nominal size: "20 lb", "100 lb", "11 kg". Quote it.')
@click.option(
    "--water-capacity", metavar="V", help='In place of --size: "26.2 L", with --diameter and --tare.'
)
@click.option("--diameter", metavar="D", help="Outer, of a cylinder of your own.")
@click.option("--tare", metavar="M", help="Empty mass of a cylinder of your own.")
@click.option(
    "--fill",
    metavar="F",
    default="80 %",
    show_default=True,
    help='Liquid share of the water capacity, or a mass: "10 lb".',
)
@click.option("--air-temperature", metavar="T", required=True, help='Of the air around: "0 C".')
@click.option("--liquid-temperature", metavar="T", help="At the start; that of the air if none.")
@click.option("--rate", metavar="RATE", required=True, help='Heat input with its basis: "60 kBtu/h gross".')
@click.option(
    "--regulator", metavar="KIND", help="Typical regulator whose least inlet pressure ends the draw."
)
@click.option("--minimum-pressure", metavar="P", help='That pressure itself, gauge: "8 psi".')
@click.option("--altitude", metavar="H", help='"1500 m", "5000 ft".')
@click.option("--barometer", metavar="P", help="In place of the altitude.")
@click.option(
    "--time", "horizon", metavar="T", default="48 h", show_default=True, help="Longest time looked at."
)
@click.option(
    "--heat-table", metavar="FILE", help="CSV of your own with the columns of the table cylinder_heat."
)
@json_option
def command(as_json: bool, **asked: Any) -> None:
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

    own = own_file(asked["heat_table"], "--heat-table")
    draw, regulator = _draw(**asked)
    found = hold(draw, own)
    notes = (*found.notes, *_notes(draw))
    if as_json:
        print_json(found, minimum_pressure_from=regulator, notes=notes)
    else:
        click.echo(_text(found, regulator))
        print_notes("Notes", notes)
        print_cautions(draw.gas, occasions=("frost",) if found.below_freezing else ())


def _draw(gas: GasAsked, rate: str, **asked: Any) -> tuple[Draw, str]:
    from burnerlab.quantity import Kind, read
    from burnerlab.supply.cylinder import Draw

    def temperature(option: str) -> float | None:
        text = asked[option.replace("-", "_")]
        return None if text is None else read(text, Kind.TEMPERATURE, key=f"--{option}")

    liquid, cylinder, air_K, start_K, wanted, ambient_Pa, least, horizon_s = together(
        lambda: _liquid(gas),
        lambda: _cylinder(asked["size"], asked["water_capacity"], asked["diameter"], asked["tare"]),
        lambda: temperature("air-temperature"),
        lambda: temperature("liquid-temperature"),
        lambda: rate_of(rate),
        lambda: ambient_pressure_Pa(asked["altitude"], asked["barometer"]),
        lambda: _least(asked["regulator"], asked["minimum_pressure"]),
        lambda: read(asked["horizon"], Kind.TIME, key="--time", low=1.0, high=60 * 86400.0),
    )
    start = air_K if start_K is None else start_K
    draw = Draw(
        gas=liquid,
        cylinder=cylinder,
        fill=_fill(asked["fill"], liquid, cylinder, start),
        air_temperature_K=air_K,
        heat_input_W=wanted.power_W,
        basis=wanted.basis,
        minimum_inlet_Pa=least[0],
        ambient_pressure_Pa=ambient_Pa,
        start_temperature_K=start_K,
        horizon_s=horizon_s,
    )
    return draw, least[1]


def _liquid(gas: GasAsked) -> Gas:
    from burnerlab.gas import Gas
    from burnerlab.supply.vapour import liquids

    found = gas.read()
    if not isinstance(found, Gas):
        what = "a cylinder needs the composition of its liquid"
        raise UserError(
            Problem(what, value=found.name, key="--gas", fix="name propane, propane-hd5 or a --mix")
        )
    liquids(tuple(found.composition.names))
    return found


def _cylinder(size: str | None, capacity: str | None, diameter: str | None, tare: str | None) -> Cylinder:
    from burnerlab.quantity import Kind, read
    from burnerlab.supply.cylinder import Cylinder, cylinder_named, cylinders

    own = (capacity, diameter, tare)
    if size is not None and not any(own):
        return cylinder_named(size, key="--size")
    if size is not None or not all(own):
        what = "give a size, or water capacity, diameter and tare together"
        accepted = f"--size of {', '.join(cylinders())}"
        raise UserError(Problem(what, key="--size", accepted=accepted, fix='e.g. --size "20 lb"'))
    volume, bore, mass = together(
        lambda: read(str(capacity), Kind.VOLUME, key="--water-capacity", low=1e-4, high=5.0),
        lambda: read(str(diameter), Kind.LENGTH, key="--diameter", low=0.03, high=2.0),
        lambda: read(str(tare), Kind.MASS, key="--tare", low=0.05, high=2000.0),
    )
    return Cylinder(
        name="own", water_capacity_m3=volume, diameter_m=bore, tare_kg=mass, provenance="measured here"
    )


def _least(regulator: str | None, pressure: str | None) -> tuple[float, str]:
    """Least inlet pressure [Pa gauge] and where it is from."""
    from burnerlab.quantity import Kind, read
    from burnerlab.supply.regulator import typical

    if pressure is not None:
        if regulator is not None:
            raise UserError(Problem("give one of them, not both", key="--regulator and --minimum-pressure"))
        return read(pressure, Kind.GAUGE_PRESSURE, key="--minimum-pressure", low=0.0), "as given"
    kind = typical(regulator or DEFAULT_REGULATOR, key="--regulator")
    figure = kind.minimum_inlet_Pa
    return figure.value, f"{kind.name}: {figure.place} ({figure.provenance})"


def _fill(text: str, gas: Gas, cylinder: Cylinder, temperature_K: float) -> float:
    """Liquid share of the water capacity, from a share or a mass."""
    from burnerlab.quantity import Kind, read
    from burnerlab.supply.cylinder import fill_of_mass

    try:
        return read(text, Kind.FRACTION, key="--fill")
    except UserError as error:
        try:
            mass = read(text, Kind.MASS, key="--fill")
        except UserError:
            raise error from None
    return fill_of_mass(gas, cylinder, mass, temperature_K)


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
            ("gas", r["gas"]),
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
