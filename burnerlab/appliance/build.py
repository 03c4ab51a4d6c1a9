"""From the words of a project file to the appliance: the gases, bands, drills and files behind them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from burnerlab.appliance import model
from burnerlab.appliance.burner_kind import BurnerKind
from burnerlab.appliance.problems import Problems
from burnerlab.appliance.space import FACINGS
from burnerlab.appliance.space_build import heat_of, space_of
from burnerlab.appliance.train_build import train_of, valve
from burnerlab.gas import load
from burnerlab.quantity import Kind, read
from burnerlab.quantity.inputs import input_row

if TYPE_CHECKING:
    from burnerlab.appliance import schema

USER = "the project file"
STAND_IN_GAS = "propane"
NATURAL_Pa = 2300.0  # up to here a usual pressure is one of natural gas: 7 in w.c., 20 mbar


def build(text: schema.ProjectText, file: Path, found: Problems) -> model.Appliance | None:
    """The appliance of a project file, or None when ``found`` now holds problems."""
    tables = _tables(text.tables, file.parent, found)
    limits = _limits(text.limits, text.appliance.region or "", tables, found)
    supply = _supply(text, found)
    supply = replace(supply, train=train_of(text, "supply", supply, tables, found))
    new_supply = _new_supply(text, supply, tables, found)
    burners = _burners(text.burner, tables, found)
    spreads = _spreads(text.tolerance, found)
    space = space_of(text, burners, found)
    if found.problems:
        return None
    return model.Appliance(
        name=text.appliance.name,
        model=text.appliance.model or "",
        region=text.appliance.region or "",
        rating="gross" if text.appliance.rating == "gross" else "net",
        supply=supply,
        burners=burners,
        limits=limits,
        tables=tables,
        spreads=spreads,
        new_supply=new_supply,
        space=space,
        file=file.name,
    )


def _tables(text: schema.TablesText, folder: Path, found: Problems) -> model.OwnTables:
    """Own tables: readable files inside the folder of the project file, each checked before any physics asks for it."""
    from burnerlab.tables import check

    named = {key: value for key, value in text if value is not None}
    paths: dict[str, Path] = {}
    for key, name in named.items():
        path = (folder / name).resolve()
        where = ("tables", key)
        found.lost.add(key)
        if not path.is_relative_to(folder.resolve()):
            found.add(
                where,
                "must stay inside the folder of the project file",
                value=name,
                fix="copy the table there",
            )
        elif not path.is_file():
            found.add(
                where,
                "is not a regular file in the folder of the project file",
                value=name,
                fix="check the name",
            )
        else:
            paths[key] = path
            found.lost.discard(key)
            with found.at(*where):
                check(key, path)
    return model.OwnTables(**paths)


def _limits(text: schema.LimitsText, region: str, tables: model.OwnTables, found: Problems) -> model.Limits:
    from burnerlab.appliance.tolerances import read_tolerance, region_tolerance
    from burnerlab.orifice.altitude import policy_factor

    limits = model.Limits(tolerance=read_tolerance("default"), altitude_policy=text.altitude_policy)
    with found.at("limits", "tolerance", of="input_tolerances"):
        own = tables.input_tolerances
        band = (
            region_tolerance(region, own) if text.tolerance is None else read_tolerance(text.tolerance, own)
        )
        limits = replace(limits, tolerance=band)
    if text.altitude_policy is not None:
        with found.at("limits", "altitude_policy", of="altitude_policies"):
            policy_factor(text.altitude_policy, 0.0, tables.altitude_policies)
    return replace(limits, drills=text.drills) if text.drills else limits


def _supply(text: schema.ProjectText, found: Problems) -> model.Supply:
    from burnerlab.supply.atmosphere import pressure_at_altitude_Pa

    supply, own = text.supply, text.gas
    if own is not None and supply.gas is not None:
        found.add(("supply", "gas"), "is named beside a [gas] table", fix="keep one of the two")
    elif own is None and supply.gas is None:
        accepted = "a gas of the library, or a [gas] table"
        usual = STAND_IN_GAS if supply.pressure > NATURAL_Pa else "natural-gas-typical"
        fix = f'add gas = "{usual}", from the supply label'
        found.add(("supply", "gas"), "is missing", accepted=accepted, fix=fix)
    altitude = None if supply.barometer is not None else supply.altitude or 0.0
    gas = supply.gas if own is None else own
    return model.Supply(
        gas=load(STAND_IN_GAS) if gas is None else gas,  # that none is named is among the problems
        gauge_pressure_Pa=supply.pressure,
        low_gauge_pressure_Pa=supply.pressure_low,
        high_gauge_pressure_Pa=supply.pressure_high,
        altitude_m=altitude,
        ambient_pressure_Pa=supply.barometer or pressure_at_altitude_Pa(altitude or 0.0),
        gas_temperature_K=supply.gas_temperature,
        allow_high_pressure=supply.allow_high_pressure,
    )


def _new_supply(
    text: schema.ProjectText, supply: model.Supply, tables: model.OwnTables, found: Problems
) -> model.NewSupply | None:
    """The supply of the new gas; manifold and valves are the present ones unless it has its own."""
    own = text.new_supply
    if own is None:
        return None
    there = replace(supply, gas=own.gas, gauge_pressure_Pa=own.pressure, train=None)
    train = train_of(text, "new_supply", there, tables, found)
    return model.NewSupply(gas=own.gas, gauge_pressure_Pa=own.pressure, train=train)


def _burners(
    texts: list[schema.BurnerText], tables: model.OwnTables, found: Problems
) -> tuple[model.Burner, ...]:
    from burnerlab.orifice.discharge import shape_named

    seen: dict[str, int] = {}
    for i, text in enumerate(texts):
        name = text.name.casefold()  # commands take names without regard to case
        if name in seen:
            what = f"is also the name of burner {seen[name] + 1}"
            fix = "give each kind of burner its own name, or raise count"
            found.add(("burner", i, "name"), what, value=text.name, fix=fix)
        seen.setdefault(name, i)
        with found.at("burner", i, "orifice", "shape", of="discharge"):
            shape_named(text.orifice.shape, tables.discharge)
    return tuple(_burner(text, i, tables, found) for i, text in enumerate(texts))


def _burner(text: schema.BurnerText, i: int, tables: model.OwnTables, found: Problems) -> model.Burner:
    own_valve = None
    if text.valve is not None:
        with found.at("burner", i, "valve", "bore"):
            own_valve = valve(text.valve, tables)
    return model.Burner(
        name=text.name,
        kind=BurnerKind(text.kind),
        rate_W=text.rate,
        count=text.count,
        turndown=text.turndown,
        orifice=_orifice(text.orifice),
        throat_m=text.throat,
        tube_loss=text.tube_loss,
        ports=None if text.ports is None else _ports(text.ports),
        places=tuple(_place(place) for place in text.place or ()),
        valve=own_valve,
        heat=heat_of(text.heat),
        igniter=text.igniter or "",
        shutter=None
        if text.shutter is None
        else model.Shutter(
            opening=text.shutter.opening, full_area_m2=text.shutter.area, loss=text.shutter.loss
        ),
    )


def _ports(text: schema.PortsText) -> model.Ports:
    return model.Ports(
        diameter_m=text.diameter or text.width or 0.0,
        count=text.count,
        depth_m=text.depth,
        slot_length_m=text.length,
        discharge=text.discharge,
        temperature_K=text.temperature,
    )


def _place(text: schema.PlaceText) -> model.Place:
    return model.Place(
        x_m=text.x,
        y_m=text.y,
        height_m=text.height,
        length_m=text.length,
        width_m=text.width,
        diameter_m=text.diameter,
        angle_rad=text.angle,
        facing=next((facing for facing in FACINGS if facing == text.facing), None),
    )


def _orifice(text: schema.OrificeText) -> model.Orifice:
    diameter, drill = text.drill if text.drill is not None else (text.diameter or 0.0, "")
    return model.Orifice(
        diameter_m=diameter,
        drill=drill,
        shape=text.shape,
        coefficient=text.coefficient,
        count=text.count,
        length_m=text.length,
    )


def _spreads(text: schema.ToleranceText, found: Problems) -> dict[str, model.Spread]:
    """Own spreads by cause; the drill's and the shares are relative, the temperature's is in kelvin."""
    spreads: dict[str, model.Spread] = {}
    shapes: dict[str, model.SpreadShape] = {
        "uniform": "uniform", "normal": "normal", "triangular": "triangular"
    }  # fmt: skip
    for cause in model.CAUSES:
        given = getattr(text, cause)
        if given is None:
            continue
        kind = Kind.TEMPERATURE_DIFFERENCE if cause == "temperature" else Kind.FRACTION
        held = input_row("temperature_half_width" if cause == "temperature" else "half_width")
        with found.at("tolerance", cause, "spread"):
            width = read(given.spread, kind, low=held.low, high=held.high)
            spreads[cause] = model.Spread(
                shape=shapes[given.shape], half_width=width, source=given.source or USER
            )
    return spreads
