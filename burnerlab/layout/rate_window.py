"""How far a burner's rate may go before its flame lifts or lights back, on every gas looked at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.model import Appliance
from burnerlab.burner.arrays import Array
from burnerlab.gas import DeclaredGas
from burnerlab.tables.problem import UserError

STEPS = 41
MARGIN = 1.0  # of lift and light-back: the limit itself


@dataclass(frozen=True, slots=True, kw_only=True)
class RateWindow:
    """Factors on a burner's rate that keep its flame, by a larger or smaller orifice; None where it cannot be told."""

    burner: str
    low: float | None
    high: float | None
    why_not: str = ""


def rate_window(cases: Sequence[Appliance], name: str, reach: float) -> RateWindow:
    """The window of one burner around its present rate.

    cases : the appliance on each gas; name : of the burner; reach : how far a rate may change, share each way
    Lift is looked at with full rate, light-back at turndown. An estimate, as the limits of the flame are.
    """
    factors = np.linspace(1 - reach, 1 + reach, STEPS)
    keeps = np.ones(STEPS, dtype=bool)
    for case in cases:
        held = _keeps(case, name, factors)
        if isinstance(held, str):
            return RateWindow(burner=name, low=None, high=None, why_not=held)
        keeps &= held
    here = STEPS // 2
    if not keeps[here]:
        return RateWindow(
            burner=name, low=None, high=None, why_not="outside a limit of its flame at the present rate"
        )
    low = high = here
    while low > 0 and keeps[low - 1]:
        low -= 1
    while high < STEPS - 1 and keeps[high + 1]:
        high += 1
    return RateWindow(burner=name, low=float(factors[low]), high=float(factors[high]))


def _keeps(case: Appliance, name: str, factors: Array) -> NDArray[np.bool_] | str:
    """Where the flame keeps to its limits on one gas, or why that cannot be told."""
    from burnerlab.appliance.conversion.flame_stability import on_gas
    from burnerlab.burner.evaluate import evaluate

    burner = next(b for b in case.burners if b.name == name)
    if burner.ports is None or burner.throat_m is None:
        return "its ports and throat are not given"
    if isinstance(case.supply.gas, DeclaredGas):
        return "the gas is known only by its heating value and relative density"
    known = on_gas(case, burner)
    size = np.asarray(known.geometry.orifice_diameter_m) * np.sqrt(factors)
    geometry = replace(known.geometry, orifice_diameter_m=size)
    pressure = case.supply.gauge_pressure_Pa
    try:
        loads = np.array([1.0, burner.turndown or 1.0])[:, None]
        asked = replace(known.options, load=loads, band=False)
        state = evaluate(geometry, known.fuel, pressure, known.surroundings, asked)
    except UserError as error:
        return error.problems[0].what
    margins = np.stack([state.lift_margin[0], state.light_back_margin[1]])
    if not np.all(np.isfinite(margins)):
        return known.fuel.no_burning or "lift or light-back cannot be told"
    return np.asarray((margins >= MARGIN).all(axis=0))
