"""The tables of a project file."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Any

from burnerlab.appliance.project import key_readers
from burnerlab.appliance.project import keys as key
from burnerlab.appliance.project.geometry import Box, Bridge, Grate, LayoutReach, Panel, Shield
from burnerlab.appliance.project.keys import Values, table
from burnerlab.appliance.project.model import (
    MOST_MARKETS,
    Appliance,
    Burner,
    Limits,
    Market,
    NewSupply,
    OwnTables,
    Spread,
    Supply,
    TemperatureSpread,
)

SPREAD = {"spread": "2 %"}


@table()
@dataclass(frozen=True, slots=True, kw_only=True)
class SpreadTable:
    """[tolerance]: how the causes of spread are distributed."""

    drill: Annotated[Spread | None, key.part(Spread, "Diameter of the hole", SPREAD)] = None
    setting: Annotated[Spread | None, key.part(Spread, "Pressure as set at the end of the line", SPREAD)] = (
        None
    )
    pressure: Annotated[Spread | None, key.part(Spread, "Supply pressure in use", SPREAD)] = None
    coefficient: Annotated[Spread | None, key.part(Spread, "Discharge coefficient", SPREAD)] = None
    wobbe: Annotated[Spread | None, key.part(Spread, "Wobbe index of the gas", SPREAD)] = None
    temperature: Annotated[
        Spread | None, key.part(TemperatureSpread, "Gas temperature", {"spread": "10 K"})
    ] = None


@table()
@dataclass(frozen=True, slots=True, kw_only=True)
class ProjectFile:
    """A whole project file, as it is read: things, and values of those that ``lookups`` completes."""

    appliance: Annotated[Values, key.part(Appliance, "The appliance", {"name": "cart", "rating": "gross"})]
    supply: Annotated[Values, key.part(Supply, "The present supply", {"pressure": "11 in w.c."})]
    new_supply: Annotated[
        Values | None,
        key.part(NewSupply, "The supply of the new gas", {"gas": "propane", "pressure": "11 in w.c."}),
    ] = None
    gas: Annotated[
        Any,
        key.text(
            {
                "gross_heating_value": "38 MJ/m3",
                "relative_density": 0.6,
                "reference": "15C/15C",
                "family": "natural gas",
            },
            "A gas of the user's own: the present one without supply.gas, or that of a market, by its name",
            "a table of keys",
            key_readers.own_gas,
            kind="gas table",
            hint="from the supply label",
        ),
    ] = None
    limits: Annotated[Values, key.part(Limits, "What results are held against", {"tolerance": "5 %"})] = (
        field(default_factory=dict)
    )
    tables: Annotated[
        Values, key.part(OwnTables, "Tables of the user's own", {"drill_tolerance": "own.csv"})
    ] = field(default_factory=dict)
    tolerance: Annotated[SpreadTable, key.part(SpreadTable, "How causes of spread are distributed")] = field(
        default_factory=SpreadTable
    )
    market: Annotated[
        tuple[Values, ...],
        key.parts(Market, MOST_MARKETS, "Where it is sold", {"name": "home"}, is_alone=False),
    ] = ()
    grate: Annotated[tuple[Grate, ...], key.parts(Grate, 20, "Cooking surfaces")] = ()
    shield: Annotated[tuple[Shield, ...], key.parts(Shield, 100, "Level sheets over burners")] = ()
    box: Annotated[tuple[Box, ...], key.parts(Box, 20, "What surrounds burners and cooking surface")] = ()
    panel: Annotated[tuple[Values, ...], key.parts(Panel, 50, "Outer panels")] = ()
    carry_over: Annotated[
        tuple[Bridge, ...], key.parts(Bridge, 200, "What carries the flame from burner to burner")
    ] = ()
    optimise: Annotated[
        LayoutReach | None, key.part(LayoutReach, "What a search for an even map may change")
    ] = None
    burner: Annotated[
        tuple[Values, ...], key.parts(Burner, 200, "The burners, in their order", is_alone=False, least=1)
    ]
