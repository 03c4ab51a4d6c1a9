"""All burners together: project file, conversion to another gas, injector table, tolerance."""

from __future__ import annotations

from burnerlab.appliance.burner_kind import BurnerKind
from burnerlab.appliance.convert import changed, convert, convert_to
from burnerlab.appliance.demonstration import demonstration, demonstration_path
from burnerlab.appliance.gasfacts import GasUsed
from burnerlab.appliance.injectors import (
    InjectorRow,
    InjectorTable,
    Supplied,
    category_supplies,
    country_supplies,
    injectors,
    supplied,
)
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
from burnerlab.appliance.montecarlo import tolerance
from burnerlab.appliance.operate import operate
from burnerlab.appliance.operation import BurnerOperation, ElementDrop, Operation, Worst
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
    NotEvaluated,
)
from burnerlab.appliance.spreads import CauseShare, InputSpread, ToleranceResult, default_spreads
from burnerlab.appliance.target import ConversionTarget, Options
from burnerlab.appliance.tolerances import read_tolerance
from burnerlab.appliance.train import Manifold, Run, Train, TrainRegulator

__all__ = [
    "Appliance",
    "Burner",
    "BurnerConversion",
    "BurnerKind",
    "BurnerOperation",
    "CauseShare",
    "Conversion",
    "ConversionTarget",
    "DrillChoice",
    "ElementDrop",
    "Finding",
    "GasUsed",
    "InjectorRow",
    "InjectorTable",
    "InputSpread",
    "Limits",
    "Manifold",
    "NotEvaluated",
    "Operation",
    "Options",
    "Orifice",
    "OwnTables",
    "Place",
    "Ports",
    "Run",
    "Shutter",
    "Spread",
    "Supplied",
    "Supply",
    "Tolerance",
    "ToleranceResult",
    "Train",
    "TrainRegulator",
    "Worst",
    "category_supplies",
    "changed",
    "convert",
    "convert_to",
    "country_supplies",
    "default_spreads",
    "demonstration",
    "demonstration_path",
    "for_country",
    "injectors",
    "match_pressure",
    "operate",
    "pressures_of",
    "read_appliance",
    "read_appliance_text",
    "read_tolerance",
    "split_category",
    "supplied",
    "supply_pressures",
    "tolerance",
]
