"""Vapour pressures of water and of fuel-gas components, and the dew points that follow."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache, lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.tables import rows
from burnerlab.tables.problem import Problem, UserError

FloatArray = NDArray[np.float64]

ICE_POINT_K = 273.15
TRIPLE_POINT_K = 273.16  # iapws-r14-08
TRIPLE_POINT_Pa = 611.657  # iapws-r14-08
COLDEST_AIR_K = 190.0  # lower end of the sublimation equation used here with margin; iapws-r14-08 gives 50 K
DRIEST_Pa = 611.213  # iapws-if97: lower end of the saturation line, 0 C
HOTTEST_WATER_K = 647.096  # critical point, upper end of iapws-if97 region 4


@cache
def terms(equation: str) -> tuple[FloatArray, FloatArray]:
    """Coefficients and exponents of one equation of table ``vapour_correlations``."""
    found = [row for row in rows("vapour_correlations") if row["equation"] == equation]
    coefficients = np.array([float(row["coefficient"]) for row in found])
    return coefficients, np.array([float(row["exponent"] or "nan") for row in found])


@cache
def critical_constants(names: tuple[str, ...]) -> FloatArray:
    """Critical temperature [K], critical pressure [Pa] and acentric factor [-], one row per component."""
    found = {row["component"]: row for row in rows("critical")}
    keys = ("critical_temperature_K", "critical_pressure_Pa", "acentric_factor")
    return np.array([[float(found[name][key]) for key in keys] for name in names])


def water_saturation_pressure_Pa(temperature_K: ArrayLike) -> FloatArray:
    """Saturation pressure of water [Pa]: over liquid above the ice point, over ice below it.

    Liquid: p = [2C / (-B + sqrt(B^2 - 4AC))]^4 MPa with A, B, C quadratic in T + n9/(T - n10).
    Ice: ln(p/p_t) = (1/theta) sum a_i theta^b_i, theta = T/273.16 K.
    temperature_K : temperature [K], 190 to 647.096.
    Raises UserError outside that range. Source: iapws-if97 region 4; iapws-r14-08 section 4.

    >>> float(water_saturation_pressure_Pa(300.0))
    3536.59
    """
    temperature = np.asarray(temperature_K, dtype=float)
    if not np.all((temperature >= COLDEST_AIR_K) & (temperature <= HOTTEST_WATER_K)):
        bad = temperature[~((temperature >= COLDEST_AIR_K) & (temperature <= HOTTEST_WATER_K))].flat[0]
        accepted = f"{COLDEST_AIR_K:g} to {HOTTEST_WATER_K:g} K"
        raise UserError(Problem("water has no saturation pressure here", f"{bad:g} K", accepted=accepted))
    n, _ = terms("water saturation")
    warm = np.maximum(temperature, ICE_POINT_K)
    v = warm + n[8] / (warm - n[9])
    a, b, c = (v * v + n[0] * v + n[1]), (n[2] * v * v + n[3] * v + n[4]), (n[5] * v * v + n[6] * v + n[7])
    liquid = 1e6 * (2 * c / (-b + np.sqrt(b * b - 4 * a * c))) ** 4
    coefficient, exponent = terms("ice sublimation")
    theta = np.minimum(temperature, TRIPLE_POINT_K)[..., None] / TRIPLE_POINT_K
    ice = TRIPLE_POINT_Pa * np.exp(np.sum(coefficient * theta**exponent, axis=-1) / theta[..., 0])
    pressure: FloatArray = np.where(temperature >= ICE_POINT_K, liquid, ice)
    return pressure


def water_dew_point_K(vapour_pressure_Pa: ArrayLike) -> FloatArray:
    """Temperature at which water vapour of this partial pressure condenses [K].

    T = [n10 + D - sqrt((n10 + D)^2 - 4 (n9 + n10 D))] / 2 with D from beta = (p/MPa)^(1/4).
    vapour_pressure_Pa : partial pressure of the water vapour [Pa], 611.2 to 1 MPa (dew points below 0 C are
    withheld).
    Raises UserError outside that range. Source: iapws-if97 region 4, backward equation.

    >>> float(water_dew_point_K(3536.59))
    300.0
    """
    pressure = np.asarray(vapour_pressure_Pa, dtype=float)
    low, high = DRIEST_Pa, 1e6
    if not np.all((pressure >= low) & (pressure <= high)):
        bad = pressure[~((pressure >= low) & (pressure <= high))].flat[0]
        raise UserError(
            Problem(
                "dew point below 0 C or far above boiling",
                f"{bad:g} Pa of water vapour",
                accepted="611.213 Pa to 1 MPa",
            )
        )
    n, _ = terms("water saturation")
    beta = (pressure / 1e6) ** 0.25
    e, f = beta * beta + n[2] * beta + n[5], n[0] * beta * beta + n[3] * beta + n[6]
    g = n[1] * beta * beta + n[4] * beta + n[7]
    d = 2 * g / (-f - np.sqrt(f * f - 4 * e * g))
    dew: FloatArray = (n[9] + d - np.sqrt((n[9] + d) ** 2 - 4 * (n[8] + n[9] * d))) / 2
    return dew


def vapour_pressure_terms(names: Sequence[str]) -> FloatArray:
    """Coefficients A of ln(p/pc) = (Tc/T)(A0 tau + A1 tau^1.5 + A2 tau^2.5 + A3 tau^5), tau = 1 - T/Tc, by component.

    Returns [component, 4]. Source: ambrose-walton-1989.

    >>> [round(float(one), 3) for one in vapour_pressure_terms(["propane"])[0]]
    [-6.757, 1.524, -1.526, -2.129]
    """
    _, _, omega = critical_constants(tuple(names)).T
    found: FloatArray = np.stack([omega**order for order in range(3)], axis=-1) @ np.stack(
        [terms(f"ambrose-walton f{order}")[0] for order in range(3)]
    )
    return found


def vapour_pressure_Pa(names: Sequence[str], temperature_K: ArrayLike) -> FloatArray:
    """Vapour pressure of each component [Pa], infinite above its critical temperature.

    ln(p/pc) = f0 + omega f1 + omega^2 f2, f = (a tau + b tau^1.5 + c tau^2.5 + d tau^5)/Tr, tau = 1 - Tr.
    temperature_K : temperature [K]; returns [..., component].
    Range: Tr 0.5 to 1; within 1.2 % of reference equations for the LPG components there. Source:
    ambrose-walton-1989.

    >>> float(vapour_pressure_Pa(["propane"], 288.15)[0]) / 1e5
    7.3
    """
    tc, pc, omega = critical_constants(tuple(names)).T
    reduced = np.asarray(temperature_K, dtype=float)[..., None] / tc
    below = reduced < 1.0
    tau = np.where(below, 1.0 - reduced, 0.0)
    logarithm = np.zeros_like(reduced)
    powers = np.stack([tau, tau**1.5, tau**2.5, tau**5])
    for order in range(3):
        coefficient, _ = terms(f"ambrose-walton f{order}")
        logarithm += omega**order * np.tensordot(coefficient, powers, axes=1) / reduced
    return np.where(below, pc * np.exp(logarithm), np.inf)


def dew_pressure_Pa(names: Sequence[str], fractions: ArrayLike, temperature_K: ArrayLike) -> FloatArray:
    """Pressure at which a fuel gas starts to condense [Pa], by Raoult's law: 1/p = sum x_i/p_i(T).

    fractions : mole fractions [-], [..., component]; temperature_K : temperature [K].
    Water in the gas is left out (it condenses alone and hardly changes the gas). Infinite for a gas of light
    components.

    >>> float(dew_pressure_Pa(["n-butane"], [1.0], 273.15)) / 1e5
    1.03
    """
    x = np.asarray(fractions, dtype=float)
    part = x * np.array([name != "water" for name in names])
    with np.errstate(divide="ignore"):
        pressure: FloatArray = 1.0 / np.sum(part / vapour_pressure_Pa(names, temperature_K), axis=-1)
    return pressure


@lru_cache(maxsize=256)
def _dew_of(names: tuple[str, ...], fractions: tuple[float, ...], temperature_K: float) -> FloatArray:
    """Of one composition at one temperature, found once."""
    return dew_pressure_Pa(names, fractions, temperature_K)


def require_vapour(
    names: Sequence[str], fractions: ArrayLike, temperature_K: ArrayLike, pressure_Pa: ArrayLike
) -> None:
    """Refuse a gas that would be partly liquid at this temperature and absolute pressure.

    Raises UserError that names the dew pressure and the temperature, for the first state at fault.
    """
    pressure, temperature = np.asarray(pressure_Pa, dtype=float), np.asarray(temperature_K, dtype=float)
    if not (pressure.size and temperature.size):
        return
    least = float(np.min(temperature))  # the dew pressure rises with temperature
    coldest = (
        _dew_of(tuple(names), fractions, least)
        if isinstance(fractions, tuple) and isinstance(fractions[0], float)
        else dew_pressure_Pa(names, fractions, least)
    )
    if np.all(pressure <= coldest):
        return
    x = np.asarray(fractions, dtype=float)
    shape = np.broadcast_shapes(pressure.shape, temperature.shape, x.shape[:-1])
    pressure, temperature = (
        np.broadcast_to(pressure, shape).reshape(-1),
        np.broadcast_to(temperature, shape).reshape(-1),
    )
    dew = np.broadcast_to(dew_pressure_Pa(names, x, temperature_K), shape).reshape(-1)
    if not np.any(pressure > dew):
        return
    i = int(np.argmax(pressure > dew))
    p, limit, t = pressure[i] / 1e5, dew[i] / 1e5, temperature[i]
    what = f"not all vapour at {t - 273.15:.1f} C ({t * 1.8 - 459.67:.0f} F) and {p:.3f} bar absolute"
    accepted = f"below about {limit:.3f} bar absolute at this temperature, where it starts to condense"
    raise UserError(
        Problem(what, key="gas", accepted=accepted, fix="enter a lower pressure or a higher gas temperature")
    )
