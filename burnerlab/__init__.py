"""Gas-appliance combustion and orifice-sizing workbench.

The public names load on first use, so that ``import burnerlab`` stays light. They are those of the commands where a
command has one: ``flow`` and ``size``, ``convert``, ``injectors``, ``tolerance``; ``gas`` and ``verify`` are rooms.

>>> import burnerlab as bl
>>> bl.__version__
'0.1.0'
>>> propane = bl.load("propane")
>>> bl.properties(propane, bl.ReferenceState.read("15C/15C")).gross_wobbe_J_per_m3 / 1e6
76.85
>>> supply = bl.Conditions(gauge_pressure_Pa=bl.read("11 in w.c.", bl.Kind.GAUGE_PRESSURE))
>>> bl.flow(propane, bl.read_bore("#54").diameter_m, supply).heat_input_gross_W
7058.

Where a parameter holds an SI number, a pint quantity or a text with its unit does as well:

>>> bl.flow(propane, "1.397 mm", bl.Conditions(gauge_pressure_Pa="11 in w.c.")).heat_input_gross_W
7058.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

__version__ = "0.1.0"

# public name -> the room it lives in, with the name it has there where that is another
_PUBLIC: dict[str, str] = {
    "read": "burnerlab.quantity",
    "read_rate": "burnerlab.quantity",
    "read_heating_value": "burnerlab.quantity",
    "read_bore": "burnerlab.quantity",
    "show": "burnerlab.quantity",
    "Kind": "burnerlab.quantity",
    "ReferenceState": "burnerlab.quantity",
    "PRESETS": "burnerlab.quantity",
    "Problem": "burnerlab.quantity",
    "UserError": "burnerlab.quantity",
    "cautions": "burnerlab.tables.cautions",
    "load": "burnerlab.gas",
    "fuels": "burnerlab.gas:library_names",
    "mix": "burnerlab.gas",
    "read_mix": "burnerlab.gas",
    "blend": "burnerlab.gas",
    "properties": "burnerlab.gas",
    "mixture_arrays": "burnerlab.gas",
    "Composition": "burnerlab.gas",
    "Gas": "burnerlab.gas",
    "DeclaredGas": "burnerlab.gas",
    "combustion_air": "burnerlab.gas.air",
    "adiabatic_flame_temperature_K": "burnerlab.flame.equilibrium",
    "Conditions": "burnerlab.orifice",
    "flow": "burnerlab.orifice:jet",
    "jet": "burnerlab.orifice",
    "size": "burnerlab.orifice",
    "choices_near": "burnerlab.orifice",
    "drill_list": "burnerlab.orifice",
    "coefficient_for": "burnerlab.orifice",
    "Appliance": "burnerlab.appliance",
    "ConversionTarget": "burnerlab.appliance",
    "read_appliance": "burnerlab.appliance",
    "demonstration": "burnerlab.appliance",
    "convert": "burnerlab.appliance",
    "changed": "burnerlab.appliance",
    "evaluate_conversion": "burnerlab.appliance.evaluation",
    "stabilities": "burnerlab.appliance.stability",
    "stability_diagram": "burnerlab.appliance.stability:diagram",
    "shutter_search": "burnerlab.appliance.stability",
    "operate": "burnerlab.appliance",
    "supplied": "burnerlab.appliance",
    "category_supplies": "burnerlab.appliance",
    "country_supplies": "burnerlab.appliance",
    "read_tolerance": "burnerlab.appliance",
    "default_spreads": "burnerlab.appliance",
    "Spread": "burnerlab.appliance",
    "convert_to": "burnerlab.appliance",
    "injectors": "burnerlab.appliance:injector_table",
    "injector_table": "burnerlab.appliance",
    "tolerance": "burnerlab.appliance",
    "pressure_at_altitude_Pa": "burnerlab.supply.atmosphere",
    "Cylinder": "burnerlab.supply.cylinder",
    "cylinder_named": "burnerlab.supply.cylinder",
    "Draw": "burnerlab.supply.cylinder",
    "hold": "burnerlab.supply.withdrawal",
    "layout_of": "burnerlab.layout.from_appliance",
    "grid_over": "burnerlab.layout.geometry",
    "heat_map": "burnerlab.layout.heatmap",
    "study_layout": "burnerlab.layout.study",
    "optimise": "burnerlab.layout.optimise",
    "LayoutLimits": "burnerlab.layout.design:Limits",
    "LayoutReach": "burnerlab.appliance.space:Study",
    "write_sheet": "burnerlab.report",
    "to_json": "burnerlab.report",
    "to_frame": "burnerlab.report.frames",
    "figure_style": "burnerlab.report.notebook",
    "drill_chart": "burnerlab.report.notebook",
    "inputs_chart": "burnerlab.report.notebook",
    "heat_map_chart": "burnerlab.report.notebook",
    "plan_chart": "burnerlab.report.notebook",
}

__all__ = ["__version__"]


def __getattr__(name: str) -> Any:
    if name in _PUBLIC:
        from burnerlab.quantity.door import at_the_door

        room, _, there = _PUBLIC[name].partition(":")
        return at_the_door(getattr(import_module(room), there or name))
    raise AttributeError(f"module 'burnerlab' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*__all__, *_PUBLIC])
