"""All burners together: the project file, the conversion to another gas, the injector table and the tolerance."""

from __future__ import annotations

from burnerlab.appliance.convert import convert, convert_to
from burnerlab.appliance.demonstration import demonstration, demonstration_path
from burnerlab.appliance.model import (
    Appliance,
    Burner,
    Limits,
    Orifice,
    OwnTables,
    Place,
    Ports,
    Shutter,
    Spread,
    Supply,
    Tolerance,
)
from burnerlab.appliance.pressures import (
    for_country,
    match_pressure,
    pressures_of,
    split_category,
    supply_pressures,
)
from burnerlab.appliance.read import read_appliance, read_appliance_text
from burnerlab.appliance.result import (
    BurnerConversion,
    Conversion,
    DrillChoice,
    Finding,
    GasUsed,
    NotEvaluated,
)
from burnerlab.appliance.target import ConversionTarget
from burnerlab.appliance.tolerances import read_tolerance

__all__ = [
    "Appliance",
    "Burner",
    "BurnerConversion",
    "Conversion",
    "ConversionTarget",
    "DrillChoice",
    "Finding",
    "GasUsed",
    "Limits",
    "NotEvaluated",
    "Orifice",
    "OwnTables",
    "Place",
    "Ports",
    "Shutter",
    "Spread",
    "Supply",
    "Tolerance",
    "convert",
    "convert_to",
    "demonstration",
    "demonstration_path",
    "for_country",
    "match_pressure",
    "pressures_of",
    "read_appliance",
    "read_appliance_text",
    "read_tolerance",
    "split_category",
    "supply_pressures",
]
