"""How much gas comes through: flow through orifices, bores for a heat input, drills and altitude policies.

>>> from burnerlab.gas import load
>>> propane, supply = load("propane"), Conditions(gauge_pressure_Pa=2740.0)
>>> flow(propane, 1.397e-3, supply, coefficient=0.9).heat_input_gross_W
7058.5
>>> nearest_choice(sized := size(propane, 3500.0, "gross", supply), choices_near(sized)).drill
'#61'
"""

from __future__ import annotations

from burnerlab.gas.real_gas import Viscosity, viscosity
from burnerlab.orifice.discharge_coefficient import (
    CORRELATIONS,
    DISCHARGE,
    HANDBOOK_COEFFICIENT,
    Discharge,
    Shape,
    ShapeLaw,
    check_coefficient,
    coefficient_for,
    law,
    own_coefficient,
    shapes,
)
from burnerlab.orifice.drill import (
    KINDS,
    Drill,
    Neighbours,
    ToleranceBand,
    area_step,
    beyond,
    drill_list,
    nearest_drill,
    neighbours,
    tolerance_band,
)
from burnerlab.orifice.low_pressure_formula import (
    LowPressureCheck,
    LowPressureConstant,
    low_pressure_check,
    low_pressure_constant,
    low_pressure_constants,
    low_pressure_volume_flow_m3_per_s,
)

from .altitude import (
    EquivalentDrill,
    PolicyFactor,
    double_derate,
    equivalent_diameter_m,
    equivalent_drill,
    natural_derate,
    policy_factor,
    policy_names,
)
from .flow import Conditions, OrificeFlow, OrificeGas, flow
from .nozzle import (
    choked,
    critical_pressure_ratio,
    expansibility,
    mass_flow_kg_per_s,
    plate_expansibility,
    throat_velocity_m_per_s,
)
from .size import (
    OrificeChoice,
    SizedOrifice,
    choices,
    choices_near,
    diameter_ratio,
    nearest_choice,
    no_drill_meets,
    size,
)

__all__ = [
    "CORRELATIONS",
    "DISCHARGE",
    "HANDBOOK_COEFFICIENT",
    "KINDS",
    "Conditions",
    "Discharge",
    "Drill",
    "EquivalentDrill",
    "LowPressureCheck",
    "LowPressureConstant",
    "Neighbours",
    "OrificeChoice",
    "OrificeFlow",
    "OrificeGas",
    "PolicyFactor",
    "Shape",
    "ShapeLaw",
    "SizedOrifice",
    "ToleranceBand",
    "Viscosity",
    "area_step",
    "beyond",
    "check_coefficient",
    "choices",
    "choices_near",
    "choked",
    "coefficient_for",
    "critical_pressure_ratio",
    "diameter_ratio",
    "double_derate",
    "drill_list",
    "equivalent_diameter_m",
    "equivalent_drill",
    "expansibility",
    "flow",
    "law",
    "low_pressure_check",
    "low_pressure_constant",
    "low_pressure_constants",
    "low_pressure_volume_flow_m3_per_s",
    "mass_flow_kg_per_s",
    "natural_derate",
    "nearest_choice",
    "nearest_drill",
    "neighbours",
    "no_drill_meets",
    "own_coefficient",
    "plate_expansibility",
    "policy_factor",
    "policy_names",
    "shapes",
    "size",
    "throat_velocity_m_per_s",
    "tolerance_band",
    "viscosity",
]
