"""From the words of a project file to the appliance: gases, bands, drills and files that stand behind the words."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from burnerlab.appliance import model
from burnerlab.appliance.lines import KeyPath, spell
from burnerlab.appliance.ranges import limit
from burnerlab.quantity import Kind, read
from burnerlab.quantity.error import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import schema
    from burnerlab.gas import DeclaredGas, Gas

USER = "the project file"


@dataclass(slots=True)
class Found:
    """Problems met while building, each with the key path it belongs to."""

    problems: list[tuple[KeyPath, Problem]] = field(default_factory=list)

    @contextmanager
    def at(self, *path: str | int) -> Iterator[None]:
        """Catch what goes wrong inside and note it for ``path``."""
        try:
            yield
        except UserError as error:
            self.problems += [(path, problem) for problem in error.problems]

    def add(self, path: KeyPath, what: str, *, value: str = "", accepted: str = "", fix: str = "") -> None:
        self.problems.append((path, Problem(what, value=value, key=spell(path), accepted=accepted, fix=fix)))


def build(text: schema.ProjectText, file: Path, found: Found) -> model.Appliance | None:
    """The appliance of a project file, or None when ``found`` now holds problems."""
    tables = _tables(text.tables, file.parent, found)
    limits = _limits(text.limits, tables, found)
    supply = _supply(text, found)
    burners = _burners(text.burner, tables, found)
    spreads = _spreads(text.tolerance, found)
    if found.problems or limits is None or supply is None:
        return None
    return model.Appliance(
        name=text.appliance.name,
        model=text.appliance.model or "",
        rating="gross" if text.appliance.rating == "gross" else "net",
        supply=supply,
        burners=burners,
        limits=limits,
        tables=tables,
        spreads=spreads,
        file=str(file),
    )


def _tables(text: schema.TablesText, folder: Path, found: Found) -> model.OwnTables:
    """Own tables must be readable files inside the folder of the project file."""
    named = {key: value for key, value in text if value is not None}
    paths: dict[str, Path] = {}
    for key, name in named.items():
        path = (folder / name).resolve()
        where = ("tables", key)
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
    return model.OwnTables(**paths)


def _limits(text: schema.LimitsText, tables: model.OwnTables, found: Found) -> model.Limits | None:
    from burnerlab.appliance.tolerances import read_tolerance
    from burnerlab.orifice.altitude import policy_factor

    band = None
    with found.at("limits", "tolerance"):
        band = read_tolerance(text.tolerance or "default", tables.input_tolerances)
    policy = text.altitude_policy or "none"
    with found.at("limits", "altitude_policy"):
        policy_factor(policy, 0.0, tables.altitude_policies)
    if band is None:
        return None
    limits = model.Limits(tolerance=band, altitude_policy=policy)
    return replace(limits, drills=text.drills) if text.drills else limits


def _supply(text: schema.ProjectText, found: Found) -> model.Supply | None:
    from burnerlab.supply.atmosphere import pressure_at_altitude_Pa

    supply = text.supply
    gas = _gas(text, found)
    if supply.pressure_low is not None and not supply.pressure_low <= supply.pressure:
        found.add(
            ("supply", "pressure_low"), "is above supply.pressure", fix="give the lowest supply pressure"
        )
    if supply.pressure_high is not None and not supply.pressure_high >= supply.pressure:
        found.add(
            ("supply", "pressure_high"), "is below supply.pressure", fix="give the highest supply pressure"
        )
    if supply.altitude is not None and supply.barometer is not None:
        found.add(("supply", "barometer"), "is given beside supply.altitude", fix="give one of the two")
    altitude = None if supply.barometer is not None else supply.altitude or 0.0
    if gas is None:
        return None
    return model.Supply(
        gas=gas,
        gauge_pressure_Pa=supply.pressure,
        low_gauge_pressure_Pa=supply.pressure_low,
        high_gauge_pressure_Pa=supply.pressure_high,
        altitude_m=altitude,
        ambient_pressure_Pa=supply.barometer if altitude is None else pressure_at_altitude_Pa(altitude),
        gas_temperature_K=supply.gas_temperature,
        allow_high_pressure=supply.allow_high_pressure,
    )


def _gas(text: schema.ProjectText, found: Found) -> Gas | DeclaredGas | None:
    """The library gas that supply.gas names, or the gas of the [gas] table."""
    from burnerlab.gas import gas_from_mapping, load

    own, named = text.gas, text.supply.gas
    if own is not None:
        if named is not None and named != own.get("name"):
            found.add(
                ("supply", "gas"), "is named beside a [gas] table", value=named, fix="keep one of the two"
            )
        with found.at("gas"):
            gas = gas_from_mapping({"name": "gas of the file", **own})
            gas.heating_value_J_per_kg("net")  # refuses a declared gas whose net value nothing tells
            return gas
    elif named is None:
        found.add(
            ("supply", "gas"),
            "is missing",
            accepted="a gas of the library, or a [gas] table",
            fix='add gas = "propane"',
        )
    else:
        with found.at("supply", "gas"):
            return load(named)
    return None


def _burners(
    texts: list[schema.BurnerText], tables: model.OwnTables, found: Found
) -> tuple[model.Burner, ...]:
    burners = []
    seen: dict[str, int] = {}
    for i, text in enumerate(texts):
        if text.name in seen:
            fix = "give each kind of burner its own name, or raise count"
            found.add(
                ("burner", i, "name"),
                f"is also the name of burner {seen[text.name] + 1}",
                value=text.name,
                fix=fix,
            )
        seen.setdefault(text.name, i)
        orifice = _orifice(text.orifice, i, tables, found)
        places = text.place or []
        if places and len(places) not in (1, text.count):
            what = f"gives {len(places)} places for {text.count} burners"
            found.add(
                ("burner", i, "place"), what, accepted=f"1 or {text.count}", fix="give one place for each"
            )
        if orifice is not None:
            burners.append(_burner(text, orifice))
    return tuple(burners)


def _burner(text: schema.BurnerText, orifice: model.Orifice) -> model.Burner:
    ports, shutter = text.ports, text.shutter
    kind = next(kind for kind in model.BURNER_KINDS if kind == text.kind)
    return model.Burner(
        name=text.name,
        kind=kind,
        rate_W=text.rate,
        count=text.count,
        turndown=text.turndown,
        orifice=orifice,
        throat_m=text.throat,
        ports=ports
        and model.Ports(
            diameter_m=ports.diameter, count=ports.count, depth_m=ports.depth, slot_length_m=ports.length
        ),
        places=tuple(_place(place) for place in text.place or ()),
        shutter=shutter and model.Shutter(opening=shutter.opening, full_area_m2=shutter.area),
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
    )


def _orifice(text: schema.OrificeText, i: int, tables: model.OwnTables, found: Found) -> model.Orifice | None:
    from burnerlab.orifice.discharge import shape_named

    where = ("burner", i, "orifice")
    if (text.drill is None) == (text.diameter is None):
        what = "needs a drill or a diameter" if text.drill is None else "has both a drill and a diameter"
        found.add(where, what, accepted='drill = "#54", or diameter = "1.40 mm"', fix="give one of the two")
        return None
    diameter, drill = text.drill if text.drill is not None else (text.diameter or 0.0, "")
    if text.coefficient is None:
        with found.at(*where, "shape"):
            shape_named(text.shape, tables.discharge)
    return model.Orifice(
        diameter_m=diameter,
        drill=drill,
        shape=text.shape,
        coefficient=text.coefficient,
        count=text.count,
        length_m=text.length,
    )


def _spreads(text: schema.ToleranceText, found: Found) -> dict[str, model.Spread]:
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
        held = limit("temperature_half_width" if cause == "temperature" else "half_width")
        with found.at("tolerance", cause, "spread"):
            width = read(given.spread, kind, low=held.low, high=held.high)
            spreads[cause] = model.Spread(
                shape=shapes[given.shape], half_width=width, source=given.source or USER
            )
    return spreads
