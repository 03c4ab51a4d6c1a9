"""All burners together: project file, conversion to another gas, injector table, tolerance."""

from __future__ import annotations

from burnerlab.appliance.conversion.convert import changed, convert, convert_to
from burnerlab.appliance.conversion.gas_facts import GasUsed
from burnerlab.appliance.conversion.result import (
    BurnerConversion,
    Conversion,
    DrillChoice,
    Finding,
    NotEvaluated,
)
from burnerlab.appliance.conversion.target import ConversionTarget, Options
from burnerlab.appliance.operation.operate import operate
from burnerlab.appliance.operation.result import BurnerOperation, ElementDrop, Operation, Worst
from burnerlab.appliance.operation.supply_pressures import (
    for_country,
    match_pressure,
    pressures_of,
    split_category,
    supply_pressures,
)
from burnerlab.appliance.project.burner_kind import BurnerKind
from burnerlab.appliance.project.lookups import read_tolerance
from burnerlab.appliance.project.model import (
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
from burnerlab.appliance.project.project_file import (
    demonstration,
    demonstration_path,
    read_appliance,
    read_appliance_text,
)
from burnerlab.appliance.project.supply_train import Manifold, Run, Train, TrainRegulator
from burnerlab.appliance.study.injector_table import (
    InjectorRow,
    InjectorTable,
    Supplied,
    category_supplies,
    country_supplies,
    injectors,
    supplied,
)
from burnerlab.appliance.study.monte_carlo import (
    CauseContribution,
    InputSpread,
    ToleranceResult,
    default_spreads,
    tolerance,
)

__all__ = [
    "Appliance",
    "Burner",
    "BurnerConversion",
    "BurnerKind",
    "BurnerOperation",
    "CauseContribution",
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
