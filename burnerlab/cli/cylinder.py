"""``cylinder``: how long an LP cylinder holds a heat input as it cools."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.common_inputs import (
    APPLIANCE,
    RATE,
    SURROUNDINGS,
    market_head,
    market_keys,
    markets_of,
    own_table,
)
from burnerlab.cli.options import json_option, takes
from burnerlab.cli.output import (
    NO_BREAK,
    facts,
    number,
    print_cautions,
    print_json,
    print_notes,
    quantity,
    reader_system,
    table,
    title_and_name,
)
from burnerlab.cli.proposals import market_names
from burnerlab.cli.supply import OTHER_GAS
from burnerlab.quantity import Kind, Rate, in_unit, read, require_basis
from burnerlab.quantity.inputs import Group, Input, as_written
from burnerlab.quantity.outputs import row
from burnerlab.quantity.quantity_text import millimetre, quantity_text, quoted
from burnerlab.quantity.show import duration_text
from burnerlab.tables.figure import Evidence
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from pathlib import Path

    from burnerlab.appliance import Appliance, ConversionTarget
    from burnerlab.appliance.conversion.markets import MarketTarget
    from burnerlab.appliance.project.supply_train import Train
    from burnerlab.gas import DeclaredGas, Gas
    from burnerlab.supply.cylinder import Cylinder, Draw, HoldAtInlet, HoldInAir, HoldTime
    from burnerlab.supply.regulator import Typical

ROWS_SHOWN = 8


def _liquid(gas: Gas | DeclaredGas) -> Gas:
    from burnerlab.gas import Gas
    from burnerlab.supply.lpg_vapour import liquids

    if not isinstance(gas, Gas):
        what, fix = "a cylinder needs the composition of its liquid", "name propane, propane-hd5 or a --mix"
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
        Input(
            name="diameter",
            of="cylinder_diameter",
            metavar="D",
            help='Outer diameter of a cylinder of your own: "310 mm".',
        ),
        Input(name="tare", metavar="M", help='Empty mass of a cylinder of your own: "8 kg".'),
    ),
    rules=_size_or_own,
)
"""A cylinder by its nominal size, or of one's own: ``Cylinder``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeastInlet:
    """The least inlet pressure [Pa gauge] that ends a draw, where it is from, and the ends its kind's table names."""

    pressure_Pa: float
    source: str
    ends_Pa: tuple[float, ...] = ()
    note: str = ""  # what the table says of them


def _typical(text: str, key: str) -> Typical:
    from burnerlab.supply.regulator import typical

    return typical(text, key=key)


def _least(kind: Typical) -> LeastInlet:
    figure = kind.minimum_inlet_Pa
    source = f"{kind.name}: {figure.place} ({figure.provenance})"
    ends = (figure.low, figure.value, figure.high) if figure.low < figure.high else ()
    return LeastInlet(pressure_Pa=figure.value, source=source, ends_Pa=ends, note=figure.note)


def _named_least(regulator: Typical | None, minimum_pressure: float | None) -> LeastInlet | None:
    if minimum_pressure is not None:
        return LeastInlet(pressure_Pa=minimum_pressure, source="as entered")
    return None if regulator is None else _least(regulator)


LEAST_INLET = Group(
    make=_named_least,
    inputs=(
        Input(
            name="regulator",
            reader=_typical,
            metavar="KIND",
            help="Typical regulator whose least inlet pressure ends the draw; without it that of gas and region.",
        ),
        Input(
            name="minimum_pressure",
            of="minimum_inlet",
            metavar="P",
            help='Least inlet pressure, gauge, in place of --regulator: "8 psi".',
        ),
    ),
    not_both=(("regulator", "minimum_pressure"),),
)
"""What ends a draw: ``LeastInlet``; None where it follows from the gas and its region."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """How far a cylinder is filled: a share of its water capacity, or a mass."""

    share: float | None = None
    mass_kg: float | None = None


def _fill(text: str, key: str) -> Fill:

    try:
        return Fill(share=read(text, Kind.FRACTION, key=key))
    except UserError as error:
        try:
            return Fill(mass_kg=read(text, Kind.MASS, key=key))
        except UserError:
            raise error from None


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """A draw, what ends it, and the market of a file whose gas it is."""

    draw: Draw
    least: LeastInlet
    market: MarketTarget | None = None
    target: ConversionTarget | None = None


def _demands(
    file: Appliance | None,
    market: str | None,
    gas: Gas | DeclaredGas | None,
    rate: Rate | None,
    cylinder: Cylinder,
    ambient: float,
    least: LeastInlet | None,
    **at: Any,
) -> tuple[Demand, ...]:
    """One for each gas: of a market, else of the file, else the one named."""
    from burnerlab.supply.regulator import cylinder_regulator

    sold = markets_of(file, [market])[0] if file is not None and market is not None else None
    appliance = file if sold is None else sold.appliance
    heat = _rate_of(appliance) if rate is None and appliance is not None else rate
    assert heat is not None  # by the rules of the group
    region, made = "" if appliance is None else appliance.region, []
    for target in (None,) if sold is None else sold.targets:
        named = gas if target is None else target.gas
        burnt = named if named is not None or appliance is None else appliance.supply.gas
        assert burnt is not None  # by the rules of the group
        liquid = _liquid(burnt) if gas is not None else _liquid_of_file(burnt)
        pressure_Pa, train = None, None
        if target is not None and appliance is not None:
            pressure_Pa, train = target.gauge_pressure_Pa, _train_of(appliance, target)
        elif file is not None and liquid is file.supply.gas:
            pressure_Pa, train = file.supply.gauge_pressure_Pa, file.supply.train
        usual = cylinder_regulator(liquid, region, size=cylinder.name, gauge_pressure_Pa=pressure_Pa)
        ends = least or _of_train(train) or _least(usual)
        draw = _draw(liquid, cylinder, ambient, ends, heat, **at)
        made.append(Demand(draw=draw, least=ends, market=sold, target=target))
    return tuple(made)


LEAST_OF_CYLINDERS_Pa = 20e3  # regulators of an appliance need less, those of a cylinder more


def _train_of(appliance: Appliance, target: ConversionTarget) -> Train | None:
    """The train that the file describes for a market's gas; None for one that is reset for it."""
    from burnerlab.appliance.conversion.job import prepare

    found = prepare(appliance, target).new_train
    return None if found.evidence is Evidence.ESTIMATE else found.train


def _of_train(train: Train | None) -> LeastInlet | None:
    """What the regulator of a file needs, where it is one of a cylinder."""
    regulator = None if train is None else train.regulator
    if regulator is None or (regulator.minimum_inlet_Pa or 0.0) < LEAST_OF_CYLINDERS_Pa:
        return None
    assert regulator.minimum_inlet_Pa is not None
    source = regulator.minimum_inlet_source or "as entered in FILE"
    return LeastInlet(pressure_Pa=regulator.minimum_inlet_Pa, source=source)


def _liquid_of_file(gas: Gas | DeclaredGas) -> Gas:
    try:
        return _liquid(gas)
    except UserError as error:
        fix = "name the gas of the cylinder: --gas propane, or a market of FILE by --market"
        raise UserError([replace(each, key="FILE", fix=fix) for each in error.problems]) from None


def _rate_of(appliance: Appliance) -> Rate:
    """All burners of a file at their ratings."""
    from burnerlab.quantity import Rate

    total_W = sum(one.rate_W * one.count for one in appliance.burners)
    return Rate(power_W=total_W, basis=appliance.rating)


def _demand_rules(written: Mapping[str, Any]) -> Iterator[Problem]:
    has_gas = any(one.name in written for one in OTHER_GAS.all_inputs())
    if "market" in written:
        if "file" not in written:
            yield Problem("has a meaning with FILE only", value=written["market"], key="--market")
        if has_gas:
            yield Problem("stands alone: the gas is that of the market", key="--market")
    if "file" in written:
        return
    if not has_gas:
        fix = "e.g. --gas propane, or name an appliance file"
        yield Problem("the gas is missing", key="--gas", fix=fix)
    if "rate" not in written:
        fix = 'e.g. --rate "60 kBtu/h gross", or name an appliance file'
        yield Problem("the heat input is missing", key="--rate", fix=fix)


def _draw(gas: Gas, cylinder: Cylinder, ambient: float, least: LeastInlet, rate: Rate, **at: Any) -> Draw:
    from burnerlab.supply.cylinder import Draw, fill_of_mass, usual_fill

    air_K, start_K, fill = at["air_temperature"], at["liquid_temperature"], at["fill"]
    liquid_K = air_K if start_K is None else start_K
    if fill is None:
        share = usual_fill(gas, cylinder, liquid_K)
    elif fill.share is not None:
        share = fill.share
    else:
        assert fill.mass_kg is not None
        share = fill_of_mass(gas, cylinder, fill.mass_kg, liquid_K)
    return Draw(
        gas=gas,
        cylinder=cylinder,
        fill=share,
        air_temperature_K=air_K,
        heat_input_W=rate.power_W,
        basis=require_basis(rate.basis, "--rate"),
        minimum_inlet_Pa=least.pressure_Pa,
        ambient_pressure_Pa=ambient,
        start_temperature_K=start_K,
        horizon_s=at["time"],
    )


DEMAND = Group(
    make=_demands,
    parts={
        "gas": OTHER_GAS,
        "cylinder": CYLINDER,
        "least": LEAST_INLET,
        "ambient": SURROUNDINGS,
    },
    inputs=(
        replace(APPLIANCE, is_needed=False),
        Input(
            name="market",
            reader=as_written,
            metavar="NAME",
            help="The gases of a market of FILE, by name or letter, each for itself.",
            proposals=market_names,
        ),
        Input(
            name="fill",
            reader=_fill,
            metavar="F",
            help='Liquid at the start, of the water capacity: "80 %"; or its mass: "10 lb". Default: the mass of a '
            "--size in kg, else 80 %.",
        ),
        Input(
            name="air_temperature",
            of="cylinder_air_temperature",
            metavar="T",
            is_needed=True,
            help='Of the air around: "0 C".',
        ),
        Input(
            name="liquid_temperature",
            metavar="T",
            help='Of the liquid at the start: "5 C"; that of the air if none.',
        ),
        replace(
            RATE,
            is_needed=False,
            help='Heat input with its basis: "60 kBtu/h gross"; of FILE all burners without it.',
        ),
        Input(
            name="time", of="draw_time", metavar="T", default="48 h", help='Longest time calculated: "8 h".'
        ),
    ),
    rules=_demand_rules,
)
"""Steady draws from a cylinder, and the inlet pressure that ends each: ``Demand``."""


@click.command(short_help="How long an LP cylinder holds a heat input as it cools.")
@takes(demands=DEMAND, own=own_table("cylinder_heat"))
@json_option
def cylinder_command(demands: tuple[Demand, ...], own: Path | None, as_json: bool) -> None:
    """How long an LP cylinder holds a steady heat input, as evaporation cools it and the air warms it.

    The draw ends when the pressure falls to what the regulator needs, or the liquid is used up. The heat from the air
    is known within a factor of two: the result is an estimate, and its band is shown. Also printed are the times for
    every inlet pressure that the table of its kind of regulator names, and in still air, frost and wind.
    FILE gives the gas, the region and the heat input of all its burners; a --market of it gives the gas.

    \b
    Examples:
      burnerlab cylinder cart.toml --market A --size "20 lb" \\
          --air-temperature "20 F"
      burnerlab cylinder --gas propane --size "20 lb" --air-temperature "0 C" \\
          --rate "60 kBtu/h gross"
      burnerlab cylinder --gas butane-commercial --size "13 kg" \\
          --air-temperature "10 C" \\
          --rate "4 kW net" --regulator "butane 30 mbar"
      burnerlab cylinder --gas propane-hd5 --size "100 lb" --fill "40 lb" \\
          --air-temperature "20 F" \\
          --rate "90 kBtu/h gross" --json
    """
    answers = [_hold(one, own, as_json=as_json) for one in demands]
    if as_json:
        made = [one.as_json() for one in answers]
        print_json({"markets": made} if demands[0].market else made[0])
        return
    for place, one in enumerate(answers):
        if one.demand.market and one.demand.target:
            click.echo(("\n" if place else "") + market_head(one.demand.market, one.demand.target))
        click.echo(_cylinder_text(one.found, one.demand.least.source, one.at_inlets[-1:]))
        click.echo(_times_text(one.at_inlets, one.in_air))
        print_notes("Notes", one.notes)
    occasions = ("frost",) if any(one.found.below_freezing for one in answers) else ()
    print_cautions(*(one.draw.gas for one in demands), occasions=occasions)


@dataclass(frozen=True, slots=True, kw_only=True)
class CylinderAnswer:
    """How long a draw holds, at each inlet pressure and in each air beside it."""

    demand: Demand
    found: HoldTime
    at_inlets: Sequence[HoldAtInlet]
    in_air: Sequence[HoldInAir]
    notes: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        market, target = self.demand.market, self.demand.target
        keys = market_keys(market, target) if market and target else {}
        return (
            keys
            | row(self.found)
            | {
                "minimum_pressure_from": self.demand.least.source,
                "at_inlets": [row(one) for one in self.at_inlets],
                "in_air": [row(one) for one in self.in_air],
                "notes": self.notes,
            }
        )


def _hold(demand: Demand, own: Path | None, *, as_json: bool) -> CylinderAnswer:
    from burnerlab.supply.cylinder import hold, hold_at_inlets, hold_in_air

    draw, least = demand.draw, demand.least
    found = hold(draw, own)
    name = draw.cylinder.name if as_json else _size_name(draw.cylinder)
    return CylinderAnswer(
        demand=demand,
        found=found,
        at_inlets=hold_at_inlets(draw, least.ends_Pa, own),
        in_air=hold_in_air(draw, own),
        notes=(*found.notes, *([f"minimum inlet: {least.note}"] if least.note else []), *_notes(draw, name)),
    )


def _heavier_gas(draw: Draw, name: str) -> list[str]:
    """What a size in kilogrammes holds, where the gas is lighter than the liquid that its name is the mass of."""
    from burnerlab.supply.cylinder import mass_of_fill_kg, usual_fill

    cylinder, gas = draw.cylinder, draw.gas
    if cylinder.nominal_kg is None:
        return []
    most_kg = mass_of_fill_kg(gas, cylinder, usual_fill(gas, cylinder, draw.start_K), draw.start_K)
    if most_kg > cylinder.nominal_kg * (1.0 - LEAST_SHORT):
        return []
    return [
        f"{name} is what this size holds of a heavier gas, such as butane: of {gas.name} it takes "
        f"{most_kg:.3g} kg. A cylinder marked for butane is filled with no other gas"
    ]


LEAST_SHORT = 0.03  # of the mass in the name of a size: butanes of trade differ by less
FILLED_BY_MASS = (
    "without --fill a size in kg holds that mass of liquid, or what takes 85 % of the water capacity at 15 °C where"
    " that is less"
)


def _notes(draw: Draw, name: str) -> list[str]:
    """On the size, the filling and the method; name : of the size, as it is printed."""
    cylinder = draw.cylinder
    size = quantity_text(
        "{}: {}, {} wide, {} empty ({})",
        name,
        quoted(cylinder.water_capacity_m3, Kind.VOLUME, "L", ".3g"),
        millimetre(cylinder.diameter_m, ".0f"),
        quoted(cylinder.tare_kg, Kind.MASS, "kg", ".3g"),
        cylinder.provenance,
    )
    return [
        *_heavier_gas(draw, name),
        size,
        "the data stamped on the collar take precedence",
        *([FILLED_BY_MASS] if cylinder.nominal_kg is not None else ()),
        "upright, one temperature for liquid and wetted steel, vapour in the head space not counted",
        "pressures are gauge",
    ]


def _cylinder_text(withdrawal: HoldTime, regulator: str, highest: Sequence[HoldAtInlet]) -> str:
    r = row(withdrawal)
    low, high = r["hold_time_low_min"], r["hold_time_high_min"]
    head = facts(
        [
            ("gas", title_and_name(r["gas"]["title"], r["gas"]["name"])),
            ("cylinder", quantity_text("{}, filled to {} %: {} of liquid", *_filled(withdrawal.draw))),
            ("air", quoted(withdrawal.draw.air_temperature_K, Kind.TEMPERATURE, "C", ".0f")),
            ("heat input", quantity(1e3 * r["heat_input_kW"], Kind.POWER, "kW") + f" {r['basis']}"),
            ("regulator needs", _needs(1e3 * r["minimum_inlet_kPa"]) + f" gauge; {regulator}"),
            (
                "holds",
                f"{duration_text(60 * r['hold_time_min'])} (estimate: {_times(60 * low, 60 * high)})",
            ),
            *(
                (
                    "near rated flow",
                    f"{duration_text(at.hold_time_s)} ({_times(at.hold_time_low_s, at.hold_time_high_s)}) where the"
                    " regulator needs " + _needs(at.minimum_inlet_Pa),
                )
                for at in highest
                if at.minimum_inlet_Pa > withdrawal.draw.minimum_inlet_Pa
            ),
            ("then", r["ending_words"]),
        ]
    )
    course = r["series"]
    last = len(course["time_min"]) - 1
    picks = sorted({round(i * last / (ROWS_SHOWN - 1)) for i in range(ROWS_SHOWN)})
    rows = [
        (
            f"{course['time_min'][i]:.0f}",
            quoted(1e3 * course["gauge_pressure_kPa"][i], Kind.GAUGE_PRESSURE, "kPa", ".0f", has_unit=False),
            f"{course['temperature_C'][i]:.1f}",
            f"{course['liquid_mass_kg'][i]:.2f}",
            f"{course['liquid_level_percent'][i]:.0f}",
        )
        for i in picks
    ]
    return f"{head}\n\n{table(('min', 'kPa gauge', '°C', 'kg liquid', '% full'), rows, left_columns=0)}"


def _filled(draw: Draw) -> tuple[str, str, str]:
    """The size of a cylinder, how far it is filled, and with how much."""
    liquid = quantity(draw.liquid_kg, Kind.MASS, "kg", 3)
    return _size_name(draw.cylinder), f"{100.0 * draw.fill:.0f}", liquid


def _size_name(cylinder: Cylinder) -> str:
    """A size as its maker calls it, in any system of units; of one in kilogrammes its pounds beside it.

    The blank in it does not break, so that it is read as a name and not as a quantity to be converted.
    """
    name = cylinder.name.replace(" ", NO_BREAK)
    if reader_system() == "metric" or cylinder.nominal_kg is None:
        return name
    return f"{name} ({quantity(cylinder.nominal_kg, Kind.MASS, 'kg', 3)})"


def _needs(pressure_Pa: float) -> str:
    return quantity(pressure_Pa, Kind.GAUGE_PRESSURE, "kPa", 3)


def _times_text(at_inlets: Sequence[HoldAtInlet], in_air: Sequence[HoldInAir]) -> str:
    inlets = [
        (
            quantity(at.minimum_inlet_Pa, Kind.GAUGE_PRESSURE, "kPa", 3, has_unit=False),
            duration_text(at.hold_time_s),
            _times(at.hold_time_low_s, at.hold_time_high_s),
        )
        for at in at_inlets
    ]
    unit, per = _heat_transfer_unit()
    airs = [
        (
            at.air,
            number(per * at.heat_transfer_W_per_m2_K, 3),
            f"{number(per * at.heat_transfer_low_W_per_m2_K, 3)} to "
            f"{number(per * at.heat_transfer_high_W_per_m2_K, 3)}",
            duration_text(at.hold_time_s),
            _times(at.hold_time_low_s, at.hold_time_high_s),
        )
        for at in in_air
    ]
    heads = ("air", unit, "low to high", "holds", "low to high")
    parts = [table(heads, airs)]
    if inlets:
        parts.insert(0, table(("regulator needs kPa gauge", "holds", "low to high"), inlets, left_columns=0))
    return "\n" + "\n\n".join(parts)


def _heat_transfer_unit() -> tuple[str, float]:
    """Of the reader, and how many of it are one W/(m2 K)."""
    if reader_system() == "metric":
        return "W/(m2 K)", 1.0
    area, degree = in_unit(1.0, Kind.AREA, "ft2"), in_unit(1.0, Kind.TEMPERATURE_DIFFERENCE, "°F")
    return "Btu/(h ft2 °F)", in_unit(1.0, Kind.POWER, "Btu/h") / (area * degree)


def _times(low_s: float, high_s: float) -> str:
    return f"{duration_text(low_s)} to {duration_text(high_s)}"
