"""Measures of the bench: clocking a meter, weighing, repeated readings, decisions."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

from burnerlab.bench.clock import (
    MeterReading,
    MeterState,
    clock,
    heat_input_W,
    metering_factor,
    volume_flow_m3_per_s,
)
from burnerlab.bench.decision_rule import correction_factor
from burnerlab.bench.heat import billed_heat_content
from burnerlab.bench.uncertainty import Budget, Quantity, budget, coverage_factor, monte_carlo, repeatability
from burnerlab.bench.weigh import mass_flow_kg_per_s
from burnerlab.quantity import Kind, from_unit, in_unit, read_heating_value

HOUR_s = 3600.0


def _volume_m3(given: Mapping[str, Any]) -> float:
    return float(from_unit(given["volume"], Kind.VOLUME, given["volume_unit"]))


def _state(given: Mapping[str, Any], who: str) -> MeterState:
    """A state as a row of figures with their units: temperature, gauge and station pressure."""
    temperature = from_unit(given[f"{who}_temperature"], Kind.TEMPERATURE, given["temperature_unit"])
    unit = given["pressure_unit"]
    pressure = from_unit(given[f"{who}_pressure"], Kind.ABSOLUTE_PRESSURE, unit)
    gauge = from_unit(given.get(f"{who}_gauge", 0.0), Kind.PRESSURE_DIFFERENCE, unit)
    vapour = from_unit(
        given.get(f"{who}_vapour", 0.0), Kind.PRESSURE_DIFFERENCE, given.get("vapour_unit", unit)
    )
    return MeterState(temperature, pressure + gauge, vapour)


def metered_flow(given: Mapping[str, Any]) -> float:
    """Flow of a dial timed over whole revolutions, not corrected."""
    flow = volume_flow_m3_per_s(_volume_m3(given), given["seconds"]) * HOUR_s
    return float(in_unit(flow, Kind.VOLUME, given["flow_unit"]))


def standard_flow(given: Mapping[str, Any]) -> float:
    """Flow of a meter brought to a reference state."""
    flow = volume_flow_m3_per_s(_volume_m3(given), given["seconds"]) * HOUR_s
    factor = metering_factor(_state(given, "meter"), _state(given, "reference"))
    return float(in_unit(flow * factor, Kind.VOLUME, given["flow_unit"]))


def volume_factor(given: Mapping[str, Any]) -> float:
    """Factor that brings a metered volume to a reference state."""
    return float(metering_factor(_state(given, "meter"), _state(given, "reference")))


def clocked_input(given: Mapping[str, Any]) -> float:
    """Heat input by meter and watch, gross, at the state of the heating value."""
    value = read_heating_value(given["heating_value"]).value
    flow = volume_flow_m3_per_s(_volume_m3(given), given["seconds"])
    if "meter_temperature" in given:
        flow = flow * metering_factor(_state(given, "meter"), _state(given, "reference"))
    return float(in_unit(heat_input_W(flow, value), Kind.POWER, given["power_unit"]))


def clocked_net_input(given: Mapping[str, Any]) -> float:
    """Heat input by meter and watch, net, by the practice's gross over net."""
    heat = billed_heat_content(read_heating_value(given["heating_value"]), 1.0 / given["gross_over_net"])
    reading = MeterReading(
        dial_m3=_volume_m3(given),
        times_s=(given["seconds"],),
        gas_temperature_K=heat.reference.metering_temperature_K,
        gauge_pressure_Pa=0.0,
        ambient_pressure_Pa=heat.reference.pressure_Pa,
    )
    return clock(reading, heat, draws=0).heat_input_net_W / 1e3


def weighed_input(given: Mapping[str, Any]) -> float:
    """Heat input by mass lost over time."""
    mass = from_unit(given["mass"], Kind.MASS, given["mass_unit"])
    value = read_heating_value(given["heating_value"]).value
    heat = float(mass_flow_kg_per_s(mass, given["seconds"])) * value
    return float(in_unit(heat, Kind.POWER, given["power_unit"]))


def student_quantile(given: Mapping[str, Any]) -> float:
    """Coverage factor of Student's t."""
    return float(coverage_factor(given["degrees_of_freedom"], given["coverage"]))


def scatter_of_mean(given: Mapping[str, Any]) -> float:
    """Standard uncertainty of a mean of repeated readings."""
    return repeatability(given["values"], "x", "readings", "-").standard_uncertainty


def _additive(given: Mapping[str, Any]) -> tuple[Quantity, ...]:
    return tuple(
        Quantity(
            name=f"x{i}", words="", estimate=0.0, standard_uncertainty=1.0, unit="-", shape=given["shape"]
        )
        for i in range(given["inputs"])
    )


def _sum(x: Mapping[str, Any]) -> Any:
    return sum(x.values())


def additive_uncertainty(given: Mapping[str, Any]) -> float:
    """Standard uncertainty of a sum of equal quantities, by the linear budget."""
    return budget(_sum, _additive(given), "-").standard_uncertainty


def additive_interval(given: Mapping[str, Any]) -> float:
    """Upper end of the 95 % interval of a sum of equal quantities, by Monte Carlo."""
    quantities = _additive(given)
    return monte_carlo(_sum, quantities, budget(_sum, quantities, "-"), draws=1_000_000).high


def _product(given: Mapping[str, Any]) -> Budget:
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
        for i, (u, n) in enumerate(zip(given["percent"], given["readings"], strict=True))
    ]
    return budget(lambda x: math.prod(x.values()), quantities, "-")


def product_uncertainty(given: Mapping[str, Any]) -> float:
    """Relative standard uncertainty of a product."""
    return 100.0 * _product(given).relative


def product_freedom(given: Mapping[str, Any]) -> float:
    """Effective degrees of freedom of a product."""
    return _product(given).degrees_of_freedom


def input_correction(given: Mapping[str, Any]) -> float:
    """Factor from the gas and pressure of a test to those of the rating."""
    return float(correction_factor(given["wobbe_ratio"], given["pressure_ratio"]))


MEASURES: dict[str, Callable[[Mapping[str, Any]], float]] = {
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
