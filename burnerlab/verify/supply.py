"""Pipes, regulators' pipes, LP vapour and cylinders against printed tables and other libraries.

Tables of the trade are in their own units, so the inputs of these rows are too.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from burnerlab.supply import lpg_vapour, pipe
from burnerlab.supply.cylinder import cylinder_named, heat_figure, steady_draw_W, wetted_area_m2
from burnerlab.supply.pipe import (
    CUBIC_FOOT_PER_HOUR_m3_per_s,
    FOOT_m,
    INCH_m,
    INCH_OF_WATER_Pa,
    Line,
    Pipe,
    PSI_Pa,
    capacity_kg_per_s,
    friction_factor,
    pressure_drop_Pa,
)
from burnerlab.supply.regulator import BAR_Pa, Valve, valve_drop_Pa, valve_of_Cv, valve_of_Kv
from burnerlab.supply.root_search import rising_root

Inputs = Mapping[str, Any]

BTU_PER_HOUR_W = 0.29307107017  # international table Btu
POUND_kg = 0.45359237  # definition
ATMOSPHERE_Pa = 101325.0
AIR_60F_kg_per_m3 = 1.2232  # dry air at 60 F and 14.696 psia


SIXTY_F_R = 519.67
ZERO_C_K = 273.15


def _fahrenheit(value: float) -> float:
    return (value + 459.67) / 1.8


def _line(inputs: Inputs) -> Line:
    return Line(
        length_m=inputs["length_ft"] * FOOT_m,
        diameter_m=inputs["bore_in"] * INCH_m,
        relative_density=inputs["relative_density"],
    )


def _gas_constants(inputs: Inputs) -> tuple[float, float]:
    """Cr and Y of the code for the gas the row names."""
    c = pipe.constants("code gas")
    return c[f"Cr {inputs['gas']}"], c[f"Y {inputs['gas']}"]


def _out(flow_m3_per_s: Any, inputs: Inputs) -> float:
    """In ft3/h, or in kBtu/h where the row gives a heating value."""
    flow = float(flow_m3_per_s) / CUBIC_FOOT_PER_HOUR_m3_per_s
    return (
        flow * float(inputs["heating_value_Btu_per_ft3"]) / 1e3
        if "heating_value_Btu_per_ft3" in inputs
        else flow
    )


def pipe_code_low(inputs: Inputs) -> float:
    """Flow of a pipe by the code's low-pressure formula"""
    cr, _ = _gas_constants(inputs)
    drop = inputs["drop_inwc"] * INCH_OF_WATER_Pa
    return _out(pipe.code_low_pressure_m3_per_s(_line(inputs), drop, cr), inputs)


def pipe_code_high(inputs: Inputs) -> float:
    """Flow of a pipe by the code's high-pressure formula"""
    cr, y = _gas_constants(inputs)
    inlet = inputs["inlet_psig"] * PSI_Pa + ATMOSPHERE_Pa
    flow = pipe.code_high_pressure_m3_per_s(_line(inputs), inlet, inputs["drop_psi"] * PSI_Pa, cr, y)
    return _out(flow, inputs)


def pipe_named(inputs: Inputs) -> float:
    """Flow of a pipe by a named low-pressure formula"""
    formula = pipe.LOW_PRESSURE[inputs["formula"]]
    return _out(formula(_line(inputs), inputs["drop_inwc"] * INCH_OF_WATER_Pa), inputs)


def gas_factor(inputs: Inputs) -> float:
    """Factor of the gas in the code's formulas"""
    return float(pipe.code_gas_factor(inputs["relative_density"], inputs["viscosity_centipoise"] * 1e-3))


def drop_multiplier(inputs: Inputs) -> float:
    """Flow by Spitzglass at a drop over that at 0.3 in w.c., or at a relative density over that at 0.60"""
    reference = {"length_ft": 50.0, "bore_in": 1.0, "relative_density": 0.60, "drop_inwc": 0.3}
    changed = reference | dict(inputs)
    flows = [
        pipe.spitzglass_m3_per_s(_line(case), case["drop_inwc"] * INCH_OF_WATER_Pa)
        for case in (changed, reference)
    ]
    return float(flows[0] / flows[1])


def darcy(inputs: Inputs) -> float:
    """Friction factor, Colebrook"""
    return float(friction_factor(inputs["reynolds"], inputs["relative_roughness"]))


def pipe_drop(inputs: Inputs) -> float:
    """Pressure lost in a pipe at a constant density"""
    return float(pressure_drop_Pa(**inputs))


def _through_valve_m3_per_s(
    valve: Valve, drop_Pa: float, inlet_Pa: float, base: float, there: float
) -> float:
    """Flow at the base density [kg/m3] that costs a drop in a valve, with the density at its inlet."""
    found = rising_root(
        lambda flow: valve_drop_Pa(flow, valve.effective_area_m2, there, inlet_Pa) - drop_Pa, 0.0, 1.0
    )
    return float(found.value) / base


def valve_by_Kv(inputs: Inputs) -> float:
    """Flow of a gas through a valve stated by Kv"""
    drop, outlet = inputs["drop_bar"] * BAR_Pa, inputs["outlet_bar"] * BAR_Pa
    base = inputs["normal_density"]
    there = base * (drop + outlet) / ATMOSPHERE_Pa * ZERO_C_K / inputs["temperature_K"]
    return 3600.0 * _through_valve_m3_per_s(valve_of_Kv(inputs["Kv"]), drop, drop + outlet, base, there)


def valve_by_Cv(inputs: Inputs) -> float:
    """Flow of a gas through a valve stated by Cv"""
    drop, inlet = inputs["drop_psi"] * PSI_Pa, inputs["inlet_psia"] * PSI_Pa
    base = inputs["relative_density"] * AIR_60F_kg_per_m3
    there = base * inlet / ATMOSPHERE_Pa * (SIXTY_F_R / inputs["temperature_R"])
    flow = _through_valve_m3_per_s(valve_of_Cv(inputs["Cv"]), drop, inlet, base, there)
    return flow / CUBIC_FOOT_PER_HOUR_m3_per_s


def pipe_capacity(inputs: Inputs) -> float:
    """Flow of a pipe by Darcy and Colebrook"""
    density = inputs["relative_density"] * AIR_60F_kg_per_m3
    pipe = Pipe(
        length_m=inputs["length_ft"] * FOOT_m,
        diameter_m=inputs["bore_in"] * INCH_m,
        roughness_m=inputs["roughness_um"] * 1e-6,
    )
    drop = inputs["drop_inwc"] * INCH_OF_WATER_Pa
    flow = capacity_kg_per_s(pipe, drop, ATMOSPHERE_Pa, density, inputs["viscosity_uPa_s"] * 1e-6)
    return _out(flow / density, inputs)


def pure_vapour(inputs: Inputs) -> float:
    """Vapour pressure of a pure liquid, gauge in psi where the row asks for it, else absolute in Pa"""
    temperature = inputs.get("temperature_K") or _fahrenheit(inputs["temperature_F"])
    pressure = float(lpg_vapour.pure_vapour_pressures_Pa([inputs["component"]], temperature)[0])
    return (pressure - ATMOSPHERE_Pa) / PSI_Pa if "temperature_F" in inputs else pressure


def mixed_vapour(inputs: Inputs) -> float:
    """Vapour pressure of a liquid mixture"""
    mix = inputs["mix"]
    over = lpg_vapour.vapour_over(tuple(mix), list(mix.values()), inputs["temperature_K"])
    return float(over.pressure_Pa)


def mixed_vapour_fraction(inputs: Inputs) -> float:
    """Share of a component in the vapour over a liquid mixture"""
    mix = inputs["mix"]
    over = lpg_vapour.vapour_over(tuple(mix), list(mix.values()), inputs["temperature_K"])
    return float(over.fractions[tuple(mix).index(inputs["component"])])


def evaporation(inputs: Inputs) -> float:
    """Heat of evaporation of a pure liquid"""
    return float(lpg_vapour.evaporation_heat_J_per_mol([inputs["component"]], [1.0], inputs["temperature_K"]))


def liquid_density(inputs: Inputs) -> float:
    """Molar density of a pure saturated liquid"""
    return float(lpg_vapour.liquid_density_mol_per_m3([inputs["component"]], [1.0], inputs["temperature_K"]))


def continuous_draw(inputs: Inputs) -> float:
    """Continuous draw of a propane cylinder whose liquid has chilled to its boiling point at no gauge pressure"""
    air = _fahrenheit(inputs["air_F"])
    cold = float(lpg_vapour.temperature_of_pressure_K(["propane"], [1.0], ATMOSPHERE_Pa))
    molar_mass = float(lpg_vapour.liquids(("propane",)).molar_mass_kg_per_mol[0])
    density = float(lpg_vapour.liquid_density_mol_per_m3(["propane"], [1.0], air)) * molar_mass
    cylinder = cylinder_named(inputs["size"])
    draw = steady_draw_W(
        heat_figure("heat transfer").value,
        wetted_area_m2(cylinder, inputs["left_lb"] * POUND_kg / density),
        air - cold,
        _propane_gross_J_per_kg(),
        np.asarray(lpg_vapour.evaporation_heat_J_per_mol(["propane"], [1.0], cold)) / molar_mass,
    )
    return float(draw) / BTU_PER_HOUR_W / 1e3


def _propane_gross_J_per_kg() -> float:
    from burnerlab.gas import load

    return float(load("propane").heating_value_J_per_kg("gross"))


MEASURES: dict[str, Callable[[Inputs], float]] = {
    "pipe flow, code low pressure": pipe_code_low,
    "pipe flow, code high pressure": pipe_code_high,
    "pipe flow, named formula": pipe_named,
    "pipe gas factor": gas_factor,
    "pipe table multiplier": drop_multiplier,
    "pipe friction factor": darcy,
    "pipe drop": pipe_drop,
    "valve flow by Kv": valve_by_Kv,
    "valve flow by Cv": valve_by_Cv,
    "pipe flow, Darcy": pipe_capacity,
    "vapour pressure, pure": pure_vapour,
    "vapour pressure, mixture": mixed_vapour,
    "vapour share": mixed_vapour_fraction,
    "heat of evaporation": evaporation,
    "liquid density": liquid_density,
    "cylinder continuous draw": continuous_draw,
}
