"""How sure a flue analysis is: the errors of the analyser and thermometers carried to what follows from them."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from burnerlab.bench.flue import FlueAnalysis, FlueReading, analyse_flue
from burnerlab.bench.uncertainty import Budget, Instrument, Quantity, budget, instruments
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import output

ZERO_C_K = 273.15  # definition of the degree Celsius
FIELDS: Mapping[str, tuple[str, str]] = {
    "flue oxygen": ("oxygen", "mol/mol"),
    "flue carbon dioxide": ("carbon_dioxide", "mol/mol"),
    "flue carbon monoxide": ("carbon_monoxide", "mol/mol"),
    "flue temperature": ("flue_temperature_K", "K"),
    "air temperature": ("air_temperature_K", "K"),
    "air humidity": ("relative_humidity", "-"),
}
"""Row of the table of instruments by the field of the reading, and its unit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlueUncertainty:
    """Budgets of what a flue analysis found; None where the figure itself was not evaluated."""

    excess_air: Budget = field(metadata=output("excess air", Kind.FRACTION, is_band=True))
    air_ratio: Budget = field(
        metadata=output("air ratio", is_band=True)
    )  # on dry flue gas the humidity of the air leaves it as it is
    dew_point_K: Budget | None = field(metadata=output("dew point", Kind.TEMPERATURE, is_band=True))
    air_free_CO: Budget | None = field(
        metadata=output("CO, air-free by O2", Kind.FRACTION, unit="ppm", is_band=True)
    )
    flue_loss_gross: Budget | None = field(
        metadata=output("flue loss", Kind.FRACTION, basis="gross", is_band=True)
    )
    flue_loss_net: Budget | None = field(
        metadata=output("flue loss", Kind.FRACTION, basis="net", is_band=True)
    )


def flue_uncertainty(analysis: FlueAnalysis, own: Path | None = None) -> FlueUncertainty:
    """Uncertainty budgets of excess air, air-free carbon monoxide, dew point and flue losses.

    A humidity of the air that was not read is anything from 0 to 100 %, at the temperature of the air.

    analysis : from ``analyse_flue``; own : a CSV of the columns of ``instrument_uncertainty``
    The composition of the gas is taken as known. Source: bench-gum.

    >>> from burnerlab.gas import load
    >>> reading = FlueReading(oxygen=0.05, carbon_monoxide=87e-6)
    >>> 1e6 * flue_uncertainty(analyse_flue(load("propane"), reading)).air_free_CO.expanded
    29.85
    """
    quantities = _quantities(analysis.reading, instruments(own))

    def of(name: str, unit: str) -> Budget:
        return budget(_model(analysis, name), quantities, unit)

    return FlueUncertainty(
        excess_air=of("excess_air", "-"),
        air_ratio=of("air_ratio", "-"),
        dew_point_K=None if analysis.dew_point_K is None else of("dew_point_K", "K"),
        air_free_CO=None if analysis.air_free_CO is None else of("air_free_CO", "mol/mol"),
        flue_loss_gross=None if analysis.flue_loss_gross is None else of("flue_loss_gross", "-"),
        flue_loss_net=None if analysis.flue_loss_net is None else of("flue_loss_net", "-"),
    )


def _model(analysis: FlueAnalysis, name: str) -> Callable[[Mapping[str, Any]], float]:
    """One figure of the analysis as a function of the readings; all else stays."""

    def value(x: Mapping[str, Any]) -> float:
        there = getattr(analyse_flue(analysis.gas, replace(analysis.reading, **x)), name)
        return math.nan if there is None else float(there)

    return value


def _quantities(reading: FlueReading, known: Mapping[str, Instrument]) -> tuple[Quantity, ...]:
    found = []
    for row, (name, unit) in FIELDS.items():
        estimate = getattr(reading, name)
        if name == "relative_humidity" and estimate is None:
            found.append(known["air humidity not read"].quantity(name, reading.humidity_of_air, unit))
            continue
        if estimate is None or (name == "carbon_dioxide" and reading.oxygen is not None):
            continue  # with both read the oxygen tells the air, and the carbon dioxide only checks it
        by_width = known[row].quantity(name, estimate, unit)
        share = known.get(f"{row} share")
        if share is not None:
            scale = estimate - ZERO_C_K if unit == "K" else estimate
            by_width = max(
                by_width,
                share.quantity(name, estimate, unit, scale=scale),
                key=lambda q: q.standard_uncertainty,
            )
        found.append(by_width)
    return tuple(found)
