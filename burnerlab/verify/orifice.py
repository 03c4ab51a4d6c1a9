"""Orifices and altitude against printed tables and independent computations.

Tables of the trade are in their own units, so the inputs of these rows are too.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

from burnerlab.gas import Composition, DeclaredGas, Gas
from burnerlab.orifice import (
    Conditions,
    Drill,
    area_step,
    coefficient_for,
    diameter_ratio,
    drill_list,
    equivalent_drill,
    expansibility,
    flow,
    low_pressure_constant,
    low_pressure_volume_flow_m3_per_s,
    natural_derate,
    plate_expansibility,
    policy_factor,
)
from burnerlab.orifice.low_pressure_formula import SECONDS_PER_HOUR, CUBIC_FOOT_m3, INCH_OF_WATER_Pa
from burnerlab.orifice.nozzle import critical_pressure_ratio, mass_flow_kg_per_s
from burnerlab.quantity import Kind, ReferenceState, read
from burnerlab.quantity.reference_state import STANDARD_PRESSURE_PA
from burnerlab.supply.atmosphere import (
    air_density_at_altitude_kg_per_m3,
    pressure_at_altitude_Pa,
    standard_atmosphere,
)
from burnerlab.supply.pipe import FOOT_m, INCH_m, PSI_Pa

Inputs = Mapping[str, Any]

BTU_PER_HOUR_W = 0.29307107017  # international table Btu
BASE_TEMPERATURE_K = 288.7055555555556  # 60 F


def _fahrenheit(value: float) -> float:
    return (value + 459.67) / 1.8


def _pure(name: str) -> Gas:
    return Gas(
        name=name,
        title=name,
        composition=Composition.of({name: 1.0}, per="mole"),
        source="a pure gas",
        provenance="definition",
    )


def _number_drill(name: str) -> Drill:
    return {drill.name: drill for drill in drill_list("number", "fraction")}[name]


def low_pressure_volume(inputs: Inputs) -> float:
    """Volume flow by the low-pressure equation with 1658.5 (with a known offset of the table where one is given)"""
    flow = low_pressure_volume_flow_m3_per_s(
        inputs["diameter_in"] * INCH_m,
        inputs["pressure_inwc"] * INCH_OF_WATER_Pa,
        inputs["relative_density"],
        inputs["coefficient"],
        low_pressure_constant("1658.5"),
    )
    offset: float = 1.0 + inputs.get("known_offset_percent", 0.0) / 100.0
    return float(flow) * SECONDS_PER_HOUR / CUBIC_FOOT_m3 * offset


def low_pressure_heat(inputs: Inputs) -> float:
    """Heat input by the low-pressure equation with 1658.5"""
    return low_pressure_volume(inputs) * float(inputs["heating_value_Btu_per_ft3"])


def relative_density_multiplier(inputs: Inputs) -> float:
    """Flow at a relative density over flow at 0.60, same orifice and pressure"""
    reference = {"diameter_in": 0.05, "pressure_inwc": 4.0, "coefficient": 0.9}
    there = low_pressure_volume({**reference, "relative_density": inputs["relative_density"]})
    return there / low_pressure_volume({**reference, "relative_density": 0.60})


def low_pressure_constant_SI(inputs: Inputs) -> float:
    """Constant of the low-pressure equation in m3/h, mm2 and mbar for a density of air"""
    return float((2.0 / inputs["air_density_kg_per_m3"]) ** 0.5 * SECONDS_PER_HOUR * 1e-6 * 100.0**0.5)


def low_pressure_implied_air(inputs: Inputs) -> float:
    """Density of air that a constant of the low-pressure equation implies"""
    return low_pressure_constant(str(inputs["constant"])).implied_air_density_kg_per_m3


def low_pressure_in_SI(inputs: Inputs) -> float:
    """The constant 1658.5 written in m3/h, mm2 and mbar"""
    return float(low_pressure_constant(str(inputs["constant"])).to_SI * SECONDS_PER_HOUR * 1e-6 * 100.0**0.5)


def _gauge_from_ratio(ratio: float) -> float:
    return STANDARD_PRESSURE_PA / ratio - STANDARD_PRESSURE_PA


def nozzle_expansibility(inputs: Inputs) -> float:
    """Expansibility of a converging nozzle"""
    return float(
        expansibility(
            _gauge_from_ratio(inputs["pressure_ratio"]), STANDARD_PRESSURE_PA, inputs["isentropic_exponent"]
        )
    )


def thin_plate_expansibility(inputs: Inputs) -> float:
    """Expansibility of a thin plate"""
    gauge = _gauge_from_ratio(inputs["pressure_ratio"])
    return float(plate_expansibility(gauge, STANDARD_PRESSURE_PA, inputs["isentropic_exponent"]))


def true_over_low_pressure(inputs: Inputs) -> float:
    """Compressible flow over the low-pressure equation, at 60 F and sea level"""
    gas = _pure(inputs["gas"])
    gauge = (
        inputs["gauge_psi"] * PSI_Pa if "gauge_psi" in inputs else _gauge_from_ratio(inputs["pressure_ratio"])
    )
    upstream = gauge + STANDARD_PRESSURE_PA
    k = inputs.get("isentropic_exponent") or gas.isentropic_exponent(BASE_TEMPERATURE_K, upstream)
    eps = expansibility(gauge, STANDARD_PRESSURE_PA, k)
    density = gas.density_kg_per_m3(BASE_TEMPERATURE_K, upstream)
    return float(eps * (density / gas.density_kg_per_m3(BASE_TEMPERATURE_K, STANDARD_PRESSURE_PA)) ** 0.5)


def air_through_hole(inputs: Inputs) -> float:
    """Free air, a perfect gas of k = 1.4, through a hole at a coefficient of 1"""
    gauge, temperature = inputs["gauge_psi"] * PSI_Pa, _fahrenheit(inputs["temperature_F"])
    free = STANDARD_PRESSURE_PA / (standard_atmosphere().gas_constant_J_per_kg_K * temperature)
    upstream = free * (1.0 + gauge / STANDARD_PRESSURE_PA)
    flow = mass_flow_kg_per_s(inputs["diameter_in"] * INCH_m, gauge, STANDARD_PRESSURE_PA, upstream, 1.4)
    return float(flow) / free / CUBIC_FOOT_m3 * 60.0


def real_gas_flow(inputs: Inputs) -> float:
    """Mass flow per area through an ideal nozzle at 15 C, real gas"""
    gas = _pure(inputs["gas"])
    gauge = float(inputs["gauge_Pa"])
    density = gas.density_kg_per_m3(288.15, gauge + STANDARD_PRESSURE_PA)
    k = gas.isentropic_exponent(288.15, gauge + STANDARD_PRESSURE_PA)
    return float(mass_flow_kg_per_s(1.0, gauge, STANDARD_PRESSURE_PA, density, k)) * 4.0 / math.pi


def choking_gauge(inputs: Inputs) -> float:
    """Gauge pressure at which a hole chokes at sea level"""
    k = inputs.get("isentropic_exponent")
    if k is None:
        k = _pure(inputs["gas"]).isentropic_exponent(BASE_TEMPERATURE_K, STANDARD_PRESSURE_PA)
    return STANDARD_PRESSURE_PA * (1.0 / float(critical_pressure_ratio(k)) - 1.0) / 1000.0


def critical_ratio(inputs: Inputs) -> float:
    """Critical pressure ratio"""
    return float(critical_pressure_ratio(inputs["isentropic_exponent"]))


def temperature_factor(inputs: Inputs) -> float:
    """Heat input of a fixed orifice at a gas temperature over that at 60 F"""
    gas = _pure(inputs["gas"])

    def heat(temperature_F: float) -> float:
        supply = Conditions(gauge_pressure_Pa=996.0, gas_temperature_K=_fahrenheit(temperature_F))
        return flow(gas, 1e-3, supply).heat_input_gross_W

    return heat(inputs["temperature_F"]) / heat(60.0)


def jet_heat(inputs: Inputs) -> float:
    """Gross heat input of a pure gas through a drill at 60 F and sea level"""
    supply = Conditions(
        gauge_pressure_Pa=inputs["pressure_inwc"] * INCH_OF_WATER_Pa, gas_temperature_K=BASE_TEMPERATURE_K
    )
    bore = _number_drill(inputs["drill"]).diameter_m
    return flow(_pure(inputs["gas"]), bore, supply, inputs["coefficient"]).heat_input_gross_W / BTU_PER_HOUR_W


def declared_jet_heat(inputs: Inputs) -> float:
    """Gross heat input of a gas as billed (60 F, 14.696 psia, dry) through a drill at sea level"""
    gas = DeclaredGas(
        name="as billed",
        title="as billed",
        gross_heating_value_J_per_m3=read(
            f"{inputs['heating_value_Btu_per_ft3']} Btu/ft3", Kind.HEATING_VALUE_VOLUME
        ),
        relative_density=inputs["relative_density"],
        reference=ReferenceState.read("60F"),
        ideal=False,
        source="the printed table",
        provenance="seen",
        family=inputs["family"],
    )
    supply = Conditions(
        gauge_pressure_Pa=inputs["pressure_inwc"] * INCH_OF_WATER_Pa, gas_temperature_K=BASE_TEMPERATURE_K
    )
    bore = _number_drill(inputs["drill"]).diameter_m
    return flow(gas, bore, supply, inputs["coefficient"]).heat_input_gross_W / BTU_PER_HOUR_W


def throat_reynolds(inputs: Inputs) -> float:
    """Reynolds number of the ideal jet in the hole"""
    bore = (
        inputs["diameter_mm"] / 1000.0
        if "diameter_mm" in inputs
        else _number_drill(inputs["drill"]).diameter_m
    )
    gauge = (
        inputs["gauge_psi"] * PSI_Pa if "gauge_psi" in inputs else inputs["pressure_inwc"] * INCH_OF_WATER_Pa
    )
    return float(flow(_pure(inputs["gas"]), bore, Conditions(gauge_pressure_Pa=gauge)).reynolds)


def conversion_diameter(inputs: Inputs) -> float:
    """New bore over old by the conversion rule"""
    from_wobbe = (
        inputs.get("from_wobbe") or inputs["from_heating_value"] / inputs["from_relative_density"] ** 0.5
    )
    to_wobbe = inputs.get("to_wobbe") or inputs["to_heating_value"] / inputs["to_relative_density"] ** 0.5
    return float(diameter_ratio(from_wobbe, to_wobbe, inputs["from_pressure"], inputs["to_pressure"]))


def conversion_area(inputs: Inputs) -> float:
    """New area over old by the conversion rule"""
    return float(conversion_diameter(inputs) ** 2)


def drill_area_step(inputs: Inputs) -> float:
    """Step of area between two drills"""
    return 100.0 * area_step(_number_drill(inputs["smaller"]), _number_drill(inputs["larger"]))


def undersize_area(inputs: Inputs) -> float:
    """Change of area of a drill that is too small by a length"""
    bore: float = _number_drill(inputs["drill"]).diameter_m / INCH_m
    return float(100.0 * (((bore - inputs["undersize_in"]) / bore) ** 2 - 1.0))


def standard_pressure_ratio(inputs: Inputs) -> float:
    """Pressure of the standard atmosphere over that at sea level"""
    return pressure_at_altitude_Pa(float(inputs["altitude_ft"]) * FOOT_m) / pressure_at_altitude_Pa(0.0)


def standard_pressure(inputs: Inputs) -> float:
    """Pressure of the standard atmosphere"""
    return pressure_at_altitude_Pa(float(inputs["altitude_m"]))


def standard_air_density(inputs: Inputs) -> float:
    """Density of the standard atmosphere"""
    return air_density_at_altitude_kg_per_m3(float(inputs["altitude_m"]))


def fixed_orifice_derate(inputs: Inputs) -> float:
    """Flow of a fixed orifice at altitude over that at sea level"""
    return natural_derate(float(inputs["altitude_ft"]) * FOOT_m)


def altitude_drill(inputs: Inputs) -> float:
    """Number drill that takes the place of another at altitude"""
    found = equivalent_drill(_number_drill(inputs["drill"]), inputs["altitude_ft"] * FOOT_m)
    return float(found.drill.name.removeprefix("#"))


def altitude_policy(inputs: Inputs) -> float:
    """Factor of an altitude policy on the rating"""
    return policy_factor(inputs["policy"], inputs["altitude_ft"] * FOOT_m).factor


def discharge_of_shape(inputs: Inputs) -> float:
    """Discharge coefficient of a shape"""
    return coefficient_for(
        inputs["shape"],
        reynolds=inputs.get("reynolds"),
        length_over_diameter=inputs.get("length_over_diameter"),
    ).coefficient


MEASURES: dict[str, Callable[[Mapping[str, Any]], float]] = {
    measure.__name__: measure
    for measure in (
        low_pressure_volume,
        low_pressure_heat,
        relative_density_multiplier,
        low_pressure_constant_SI,
        low_pressure_implied_air,
        low_pressure_in_SI,
        nozzle_expansibility,
        thin_plate_expansibility,
        true_over_low_pressure,
        air_through_hole,
        real_gas_flow,
        choking_gauge,
        critical_ratio,
        temperature_factor,
        jet_heat,
        declared_jet_heat,
        throat_reynolds,
        conversion_diameter,
        conversion_area,
        drill_area_step,
        undersize_area,
        standard_pressure_ratio,
        standard_pressure,
        standard_air_density,
        fixed_orifice_derate,
        altitude_drill,
        altitude_policy,
        discharge_of_shape,
    )
}
