"""What is said beside a figure: of its gas, of a pressure or a bore that is unusual, of the altitude."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from burnerlab.tables.problem import UserError

LEAST_CHANGE = 0.005  # of a heat input by altitude, below which it is not worth a word


def gas_notes(gas: Any) -> tuple[str, ...]:
    """What must be said of a gas beside any figure of it."""
    from burnerlab.gas import DeclaredGas

    if isinstance(gas, DeclaredGas) and gas.net_is_estimate():
        return (f"net values are estimates: {gas.net_to_gross():.3f} of gross, typical of {gas.family}",)
    return ()


def pressure_notes(gauge_pressure_Pa: float, text: str) -> tuple[str, ...]:
    """A note when a gauge pressure is not one of a low-pressure appliance; else nothing.

    gauge_pressure_Pa : pressure before the orifice [Pa]
    text : the same as the user wrote it

    >>> pressure_notes(75842.0, "11 psi")[0]
    '11 psi (75.8 kPa) is outside 0.5 to 15 kPa for a domestic low-pressure appliance: check the unit'
    """
    from burnerlab.quantity import check_low_pressure

    return _doubt(lambda: check_low_pressure(gauge_pressure_Pa, text))


def bore_notes(diameter_m: float, text: str) -> tuple[str, ...]:
    """A note when a diameter is not one of a domestic burner's orifice; else nothing.

    diameter_m : of the hole [m]
    text : the same as the user wrote it

    >>> bore_notes(0.0254, "1 in")[0]
    '25.40 mm is outside 0.2 to 6 mm for an orifice of a domestic burner: check the unit'
    """
    from burnerlab.quantity import check_orifice_diameter

    return _doubt(lambda: check_orifice_diameter(diameter_m, text))


def _doubt(check: Callable[[], object]) -> tuple[str, ...]:
    try:
        check()
    except UserError as error:
        return tuple(f"{problem.what}: check the unit" for problem in error.problems)
    return ()


def altitude_of(ambient_Pa: float) -> float | None:
    """The altitude of a station pressure; None where it changes no heat input by more than half a percent."""
    from burnerlab.quantity.reference import STANDARD_PRESSURE_PA
    from burnerlab.supply.atmosphere import altitude_at_pressure_m

    if abs(ambient_Pa / STANDARD_PRESSURE_PA - 1.0) < 2.0 * LEAST_CHANGE:  # the flow goes with the root
        return None
    return float(altitude_at_pressure_m(ambient_Pa))
