"""Measures of the bench: meters, scales, flue gas, control charts, the statistics of calibration."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from burnerlab import tables
from burnerlab.bench.decision_rule import correction_factor
from burnerlab.bench.learning.discharge_coefficient import outlying
from burnerlab.bench.reading.flue import FlueReading, air_free_by_oxygen, analyse_flue, siegert_loss
from burnerlab.bench.reading.heat_input import billed_heat_content
from burnerlab.bench.reading.meter import (
    MeterReading,
    MeterState,
    clock,
    heat_input_W,
    metering_factor,
    volume_flow_m3_per_s,
)
from burnerlab.bench.reading.scale import mass_flow_kg_per_s
from burnerlab.bench.record.control_chart import (
    capability,
    control_limits,
    cp_interval,
    cpk_interval,
    drift,
    drift_rules,
    factors,
)
from burnerlab.bench.uncertainty import Budget, Quantity, budget, coverage_factor, monte_carlo, repeatability
from burnerlab.gas import Gas, load, mix
from burnerlab.gas.combustion_air import combustion_air
from burnerlab.quantity import Kind, from_unit, in_unit, read_heating_value

# Measures of the bench: clocking a meter, weighing, repeated readings, decisions.

HOUR_s = 3600.0


def _volume_m3(inputs: Mapping[str, Any]) -> float:
    return float(from_unit(inputs["volume"], Kind.VOLUME, inputs["volume_unit"]))


def _state(inputs: Mapping[str, Any], prefix: str) -> MeterState:
    """A state as a row of figures with their units: temperature, gauge and station pressure."""
    temperature = from_unit(inputs[f"{prefix}_temperature"], Kind.TEMPERATURE, inputs["temperature_unit"])
    unit = inputs["pressure_unit"]
    pressure = from_unit(inputs[f"{prefix}_pressure"], Kind.ABSOLUTE_PRESSURE, unit)
    gauge = from_unit(inputs.get(f"{prefix}_gauge", 0.0), Kind.PRESSURE_DIFFERENCE, unit)
    vapour = from_unit(
        inputs.get(f"{prefix}_vapour", 0.0), Kind.PRESSURE_DIFFERENCE, inputs.get("vapour_unit", unit)
    )
    return MeterState(temperature, pressure + gauge, vapour)


def metered_flow(inputs: Mapping[str, Any]) -> float:
    """Flow of a dial timed over whole revolutions, not corrected."""
    flow = volume_flow_m3_per_s(_volume_m3(inputs), inputs["seconds"]) * HOUR_s
    return float(in_unit(flow, Kind.VOLUME, inputs["flow_unit"]))


def standard_flow(inputs: Mapping[str, Any]) -> float:
    """Flow of a meter brought to a reference state."""
    flow = volume_flow_m3_per_s(_volume_m3(inputs), inputs["seconds"]) * HOUR_s
    factor = metering_factor(_state(inputs, "meter"), _state(inputs, "reference"))
    return float(in_unit(flow * factor, Kind.VOLUME, inputs["flow_unit"]))


def volume_factor(inputs: Mapping[str, Any]) -> float:
    """Factor that brings a metered volume to a reference state."""
    return float(metering_factor(_state(inputs, "meter"), _state(inputs, "reference")))


def clocked_input(inputs: Mapping[str, Any]) -> float:
    """Heat input by meter and watch, gross, at the state of the heating value."""
    value = read_heating_value(inputs["heating_value"]).value
    flow = volume_flow_m3_per_s(_volume_m3(inputs), inputs["seconds"])
    if "meter_temperature" in inputs:
        flow = flow * metering_factor(_state(inputs, "meter"), _state(inputs, "reference"))
    return float(in_unit(heat_input_W(flow, value), Kind.POWER, inputs["power_unit"]))


def clocked_net_input(inputs: Mapping[str, Any]) -> float:
    """Heat input by meter and watch, net, by the practice's gross over net."""
    heat = billed_heat_content(read_heating_value(inputs["heating_value"]), 1.0 / inputs["gross_over_net"])
    reading = MeterReading(
        dial_m3=_volume_m3(inputs),
        times_s=(inputs["seconds"],),
        gas_temperature_K=heat.reference.metering_temperature_K,
        gauge_pressure_Pa=0.0,
        ambient_pressure_Pa=heat.reference.pressure_Pa,
    )
    return clock(reading, heat, draws=0).heat_input_net_W / 1e3


def weighed_input(inputs: Mapping[str, Any]) -> float:
    """Heat input by mass lost over time."""
    mass = from_unit(inputs["mass"], Kind.MASS, inputs["mass_unit"])
    value = read_heating_value(inputs["heating_value"]).value
    heat = float(mass_flow_kg_per_s(mass, inputs["seconds"])) * value
    return float(in_unit(heat, Kind.POWER, inputs["power_unit"]))


def student_quantile(inputs: Mapping[str, Any]) -> float:
    """Coverage factor of Student's t."""
    return float(coverage_factor(inputs["degrees_of_freedom"], inputs["coverage"]))


def scatter_of_mean(inputs: Mapping[str, Any]) -> float:
    """Standard uncertainty of a mean of repeated readings."""
    return repeatability(inputs["values"], "x", "readings", "-").standard_uncertainty


def _additive(inputs: Mapping[str, Any]) -> tuple[Quantity, ...]:
    return tuple(
        Quantity(
            name=f"x{i}", words="", estimate=0.0, standard_uncertainty=1.0, unit="-", shape=inputs["shape"]
        )
        for i in range(inputs["inputs"])
    )


def _sum(x: Mapping[str, Any]) -> Any:
    return sum(x.values())


def additive_uncertainty(inputs: Mapping[str, Any]) -> float:
    """Standard uncertainty of a sum of equal quantities, by the linear budget."""
    return budget(_sum, _additive(inputs), "-").standard_uncertainty


def additive_interval(inputs: Mapping[str, Any]) -> float:
    """Upper end of the 95 % interval of a sum of equal quantities, by Monte Carlo."""
    quantities = _additive(inputs)
    return monte_carlo(_sum, quantities, budget(_sum, quantities, "-"), draws=1_000_000).high


def _product(inputs: Mapping[str, Any]) -> Budget:
    quantities = [
        Quantity(
            name=f"x{i}",
            words="",
            estimate=1.0,
            standard_uncertainty=u / 100.0,
            unit="-",
            shape="t",
            degrees_of_freedom=n - 1,
            kind="A",
        )
        for i, (u, n) in enumerate(zip(inputs["percent"], inputs["readings"], strict=True))
    ]
    return budget(lambda x: math.prod(x.values()), quantities, "-")


def product_uncertainty(inputs: Mapping[str, Any]) -> float:
    """Relative standard uncertainty of a product."""
    return 100.0 * _product(inputs).relative


def product_freedom(inputs: Mapping[str, Any]) -> float:
    """Effective degrees of freedom of a product."""
    return _product(inputs).degrees_of_freedom


def input_correction(inputs: Mapping[str, Any]) -> float:
    """Factor from the gas and pressure of a test to those of the rating."""
    return float(correction_factor(inputs["wobbe_ratio"], inputs["pressure_ratio"]))


_BENCH: dict[str, Callable[[Mapping[str, Any]], float]] = {
    "metered flow": metered_flow,
    "metered flow at reference": standard_flow,
    "metering factor": volume_factor,
    "clocked heat input": clocked_input,
    "clocked net heat input": clocked_net_input,
    "weighed heat input": weighed_input,
    "coverage factor": student_quantile,
    "scatter of a mean": scatter_of_mean,
    "uncertainty of a sum": additive_uncertainty,
    "interval of a sum": additive_interval,
    "uncertainty of a product": product_uncertainty,
    "effective degrees of freedom": product_freedom,
    "correction to the rating": input_correction,
}


# Printed figures of the statistics behind a calibration.


def outliers_named(inputs: Mapping[str, Any]) -> float:
    """How many of some figures stand apart from the others."""
    values = np.array(inputs["values"], dtype=np.float64)
    return float(outlying(values, np.arange(values.size), inputs["level"]).size)


CALIBRATION_MEASURES: dict[str, Callable[[Mapping[str, Any]], float]] = {"outliers named": outliers_named}


# Measures of flue gas: excess air, air-free carbon monoxide, losses.

ROOM_F = 70.0  # air of the tables of combustion efficiency


def _gas(inputs: Mapping[str, Any]) -> Gas:
    found = mix(inputs["mix"], per="mole") if "mix" in inputs else load(inputs["gas"])
    assert isinstance(found, Gas)
    return found


def _kelvin(fahrenheit: float) -> float:
    return (fahrenheit + 459.67) / 1.8


def air_free(inputs: Mapping[str, Any]) -> float:
    """Carbon monoxide free of air, by oxygen."""
    return float(air_free_by_oxygen(inputs["carbon_monoxide_ppm"], inputs["oxygen_percent"] / 100.0))


def excess_air(inputs: Mapping[str, Any]) -> float:
    """Excess air, long form."""
    return 100.0 * analyse_flue(_gas(inputs), FlueReading(oxygen=inputs["oxygen_percent"] / 100.0)).excess_air


def efficiency(inputs: Mapping[str, Any]) -> float:
    """Combustion efficiency on the gross heating value."""
    reading = FlueReading(
        oxygen=inputs["oxygen_percent"] / 100.0,
        flue_temperature_K=_kelvin(ROOM_F + inputs["rise_F"]),
        air_temperature_K=_kelvin(ROOM_F),
        relative_humidity=0.0,
    )
    loss = analyse_flue(_gas(inputs), reading).flue_loss_gross
    assert loss is not None
    return 100.0 * (1.0 - loss)


def siegert(inputs: Mapping[str, Any]) -> float:
    """Flue loss of the Siegert formula, net basis."""
    row = next(row for row in tables.rows("siegert") if row["fuel"] == inputs["fuel"])
    flue_K, air_K = inputs["flue_C"] + 273.15, inputs["air_C"] + 273.15
    return 100.0 * siegert_loss(
        flue_K, air_K, inputs["oxygen_percent"] / 100.0, float(row["A2"]), float(row["B"])
    )


def net_loss(inputs: Mapping[str, Any]) -> float:
    """Flue loss of the heat balance, net basis."""
    reading = FlueReading(
        oxygen=inputs["oxygen_percent"] / 100.0,
        flue_temperature_K=inputs["flue_C"] + 273.15,
        air_temperature_K=inputs["air_C"] + 273.15,
        relative_humidity=0.0,
    )
    loss = analyse_flue(_gas(inputs), reading).flue_loss_net
    assert loss is not None
    return 100.0 * loss


def dry_oxygen(inputs: Mapping[str, Any]) -> float:
    """Oxygen in the dry flue gas."""
    return 100.0 * combustion_air(_gas(inputs), inputs["air_ratio"]).dry_O2


def dry_carbon_dioxide(inputs: Mapping[str, Any]) -> float:
    """Carbon dioxide in the dry flue gas."""
    return 100.0 * combustion_air(_gas(inputs), inputs["air_ratio"]).dry_CO2


def wet_flue_gas(inputs: Mapping[str, Any]) -> float:
    """Share of the wet flue gas."""
    burnt = combustion_air(_gas(inputs), 1.0 + inputs["excess_percent"] / 100.0)
    return 100.0 * burnt.wet_composition[inputs["component"]]


FLUE_MEASURES: dict[str, Callable[[Mapping[str, Any]], float]] = {
    "air-free CO by oxygen": air_free,
    "excess air": excess_air,
    "combustion efficiency gross": efficiency,
    "siegert loss": siegert,
    "flue loss net": net_loss,
    "dry O2": dry_oxygen,
    "dry CO2": dry_carbon_dioxide,
    "wet flue gas": wet_flue_gas,
}


# Measures of the bench record: limits of a control chart, capability and its intervals.


def chart_limit(inputs: Mapping[str, Any]) -> float:
    """Chart of individuals: centre, limits, mean moving range."""
    return float(getattr(control_limits(inputs["values"]), inputs["of"]))


def chart_factor(inputs: Mapping[str, Any]) -> float:
    """Factor of a chart with moving ranges of two."""
    return factors()[inputs["name"]]


def mean_range_of_two(inputs: Mapping[str, Any]) -> float:
    """Mean range of two normal values over sigma, by quadrature."""

    z = np.linspace(0.0, inputs["upto"], inputs["points"])
    density = np.exp(-z * z / 4.0) / np.sqrt(np.pi)  # of the range of two: half normal with sigma sqrt 2
    step = z[1] - z[0]
    mean = float(np.sum(z * density) * step)  # the ends contribute nothing
    if inputs.get("of") == "D4":
        square = float(np.sum(z * z * density) * step)
        return 1.0 + 3.0 * float(np.sqrt(square - mean * mean)) / mean
    return mean


def capability_index(inputs: Mapping[str, Any]) -> float:
    """Capability index of a sample with a given mean and standard deviation."""
    mean, sigma = inputs["mean"], inputs["sigma"]
    # three values with exactly this mean and sample standard deviation
    found = capability([mean - sigma, mean, mean + sigma], inputs["low"], inputs["high"])
    value = getattr(found, inputs["of"])
    assert value is not None
    return float(value)


def cp_end(inputs: Mapping[str, Any]) -> float:
    """End of the confidence interval of Cp."""
    return float(getattr(cp_interval(inputs["cp"], inputs["count"], inputs["level"]), inputs["end"]))


def cpk_end(inputs: Mapping[str, Any]) -> float:
    """End of the confidence interval of Cpk."""
    return float(getattr(cpk_interval(inputs["cpk"], inputs["count"], inputs["level"]), inputs["end"]))


def sample_capability_end(inputs: Mapping[str, Any]) -> float:
    """Capability of measured values, or an end of its confidence interval."""
    found = capability(inputs["values"], inputs["low"], inputs["high"], inputs["level"])
    if inputs["of"] in ("cp", "cpk"):
        return float(getattr(found, inputs["of"]))
    return float(getattr(getattr(found, inputs["of"]), inputs["end"]))


def first_hit(inputs: Mapping[str, Any]) -> float:
    """Number of the value that completes a rule of drift, from 1."""
    rules = [rule for rule in drift_rules() if rule.name == inputs["rule"]]
    hits = drift(inputs["values"], 0.0, 1.0, rules)
    return float(hits[0].index + 1) if hits else 0.0


RECORD_MEASURES: dict[str, Callable[[Mapping[str, Any]], float]] = {
    "control chart of individuals": chart_limit,
    "control chart factor": chart_factor,
    "control chart factor by quadrature": mean_range_of_two,
    "capability index": capability_index,
    "Cp interval": cp_end,
    "Cpk interval": cpk_end,
    "capability of a sample": sample_capability_end,
    "rule of drift": first_hit,
}

MEASURES = _BENCH | CALIBRATION_MEASURES | FLUE_MEASURES | RECORD_MEASURES
