"""Gas through a small converging hole fed from a still volume: isentropic equations on floats and arrays.

All functions broadcast; pressures are gauge and ambient because the quotient dp/p1 keeps its digits at a few
pascals, where p2/p1 does not.
"""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.tables.problem import Problem, UserError

Array = NDArray[np.float64]

BLOCK = 8192
"""Cases worked on at a time: the scratch arrays of a block stay in the processor's cache."""

SURELY_SUBCRITICAL = 0.30
"""dp/p1 below which no gas with an isentropic exponent above 0.65 is choked, so that the critical ratio is
not needed there: 1 - (2/(k+1))^(k/(k-1)) is 0.305 at k = 0.65 and grows with k."""

READ: tuple[Literal["readonly"], ...] = ("readonly",)
MADE: tuple[Literal["writeonly", "allocate"], ...] = ("writeonly", "allocate")

NEVER_ZERO = 1e-200
"""Added to (k-1)/k: leaves every other value as it is and turns the case k = 1 into its limit."""


def critical_pressure_ratio(isentropic_exponent: ArrayLike) -> Array:
    """Outlet over upstream absolute pressure at which the hole chokes: (2/(k+1))^(k/(k-1)).

    isentropic_exponent : k of the gas at the upstream state [-]
    Returns the ratio p2/p1 [-]; k = 1 gives exp(-1/2). Range: k above 0.65.

    >>> float(critical_pressure_ratio(1.4))
    0.528282
    >>> float(critical_pressure_ratio(1.0))
    0.606531
    """
    k = np.asarray(isentropic_exponent, dtype=np.float64)
    half = 0.5 * (k - 1.0) + NEVER_ZERO
    ratio: Array = np.exp(-0.5 * k * np.log1p(half) / half)
    return ratio


def choked(
    gauge_pressure_Pa: ArrayLike, ambient_pressure_Pa: ArrayLike, isentropic_exponent: ArrayLike
) -> Any:
    """Whether the outlet pressure no longer matters: p2/p1 at or below the critical ratio.

    gauge_pressure_Pa : upstream over ambient pressure [Pa]
    ambient_pressure_Pa : absolute pressure outside the hole [Pa]
    isentropic_exponent : k of the gas at the upstream state [-]
    Returns a boolean, or an array of them [-].

    >>> bool(choked(74.5e3, 101325.0, 1.136)), bool(choked(74.0e3, 101325.0, 1.136))
    (True, False)
    """
    upstream = np.add(gauge_pressure_Pa, ambient_pressure_Pa)
    return np.asarray(ambient_pressure_Pa) <= critical_pressure_ratio(isentropic_exponent) * upstream


def flow_function_squared(drop_ratio: ArrayLike, isentropic_exponent: ArrayLike) -> Array:
    """Square of the flow function psi, in which mass flux = psi sqrt(2 rho1 p1).

    psi^2 = t^(2/k) k/(k-1) (1 - t^((k-1)/k)), t = p2/p1, held at the critical ratio when choked

    drop_ratio : dp/p1 = 1 - p2/p1 [-]
    isentropic_exponent : k of the gas at the upstream state [-]
    Returns psi squared [-]; it tends to dp/p1 as the drop vanishes, without loss of digits.
    Source: isentropic flow of a gas from rest through a converging nozzle.

    >>> float(flow_function_squared(1e-12, 1.3) / 1e-12)
    1.0
    """
    k = np.asarray(isentropic_exponent, dtype=np.float64)
    if isinstance(drop_ratio, np.ndarray) and drop_ratio.shape == k.shape != ():
        held, out = drop_ratio.astype(np.float64), np.empty_like(k)
        _hold_at_critical(held, k)
        _flow_function_squared(held, k, np.empty_like(k), out)
        return out
    shape = np.broadcast(drop_ratio, k).shape
    held = np.empty(shape or (1,))
    held[...] = drop_ratio
    _hold_at_critical(held, k)
    out = np.empty_like(held)
    _flow_function_squared(held, k, np.empty_like(held), out)
    return out.reshape(shape)[()]


def _hold_at_critical(drop_ratio: Array, k: Array) -> None:
    if drop_ratio.max(initial=0.0) > SURELY_SUBCRITICAL:
        np.minimum(drop_ratio, 1.0 - critical_pressure_ratio(k), out=drop_ratio)


def _flow_function_squared(x: Array, k: Array, c: Array, out: Array) -> None:
    """One logarithm and one exponential: with c = (k-1)/k and E = t^c - 1, psi^2 = (t/(1+E))^2 (-E/c).

    Each factor keeps its relative accuracy for any drop and any k, k = 1 included. Overwrites x and c.
    """
    np.subtract(k, 1.0, out=c)
    np.divide(c, k, out=c)
    np.add(c, NEVER_ZERO, out=c)
    np.negative(x, out=x)
    np.log1p(x, out=out)
    np.multiply(out, c, out=out)
    np.expm1(out, out=out)
    np.add(x, 1.0, out=x)
    np.divide(out, c, out=c)  # now E/c
    np.add(out, 1.0, out=out)
    np.divide(x, out, out=out)
    np.multiply(out, out, out=out)
    np.multiply(out, c, out=out)
    np.negative(out, out=out)


def expansibility(
    gauge_pressure_Pa: ArrayLike, ambient_pressure_Pa: ArrayLike, isentropic_exponent: ArrayLike
) -> Array:
    """Expansibility of a converging nozzle in a large chamber, eps in m = K eps A sqrt(2 rho1 dp).

    eps^2 = t^(2/k) k/(k-1) (1 - t^((k-1)/k))/(1 - t), t = p2/p1; once choked the numerator is held at the
    critical t, so that the equation with the actual dp still gives the mass flow.

    gauge_pressure_Pa : upstream over ambient pressure [Pa]
    ambient_pressure_Pa : absolute pressure outside the hole [Pa]
    isentropic_exponent : k of the gas at the upstream state [-]
    Returns eps [-]. Raises UserError for a pressure that is not above the outlet pressure.
    Source: ISO 5167-3 nozzle form with the diameter ratio going to zero.

    >>> float(expansibility(2740.0, 101325.0, 1.1205))
    0.98229
    """
    require_pressure(gauge_pressure_Pa)
    x = np.divide(gauge_pressure_Pa, np.add(gauge_pressure_Pa, ambient_pressure_Pa))
    eps: Array = np.sqrt(flow_function_squared(x, isentropic_exponent) / x)
    return eps


PLATE_LOWEST_RATIO = 0.75  # iso5167-2, range of the expansibility of orifice plates in p2/p1


def plate_expansibility(
    gauge_pressure_Pa: ArrayLike, ambient_pressure_Pa: ArrayLike, isentropic_exponent: ArrayLike
) -> Array:
    """Expansibility of a thin plate in a wide chamber: eps = 1 - 0.351 (1 - t^(1/k)), t = p2/p1.

    A plate does not follow the nozzle: at the same drop it has less than half of its loss. ``flow`` uses the
    nozzle.

    gauge_pressure_Pa : upstream over ambient pressure [Pa]
    ambient_pressure_Pa : absolute pressure outside the hole [Pa]
    isentropic_exponent : k of the gas at the upstream state [-]
    Returns eps [-]. Range: p2/p1 >= 0.75; UserError below it: the correlation does not describe a choked
    plate.
    Source: discharge-iso5167-2 with the diameter ratio going to zero.

    >>> float(plate_expansibility(2740.0, 101325.0, 1.1205))
    0.9917
    """
    require_pressure(gauge_pressure_Pa)
    x = np.divide(gauge_pressure_Pa, np.add(gauge_pressure_Pa, ambient_pressure_Pa))
    if float(np.max(x)) > 1.0 - PLATE_LOWEST_RATIO + 1e-12:
        raise UserError(
            Problem(
                "outside the range of the expansibility of a plate",
                value=f"p2/p1 = {1.0 - float(np.max(x)):.3f}",
                accepted=f"p2/p1 of {PLATE_LOWEST_RATIO} or more",
                fix="the nozzle form holds at any pressure",
            )
        )
    eps: Array = 1.0 + 0.351 * np.expm1(np.log1p(-x) / np.asarray(isentropic_exponent, dtype=np.float64))
    return eps


def mass_flow_kg_per_s(
    diameter_m: ArrayLike,
    gauge_pressure_Pa: ArrayLike,
    ambient_pressure_Pa: ArrayLike,
    density_kg_per_m3: ArrayLike,
    isentropic_exponent: ArrayLike,
    coefficient: ArrayLike = 1.0,
    count: ArrayLike = 1,
) -> Array:
    """Mass flow through equal holes: m = n K A psi sqrt(2 rho1 p1) = n K eps A sqrt(2 rho1 dp).

    diameter_m : hole [m]
    gauge_pressure_Pa : upstream over ambient pressure [Pa]
    ambient_pressure_Pa : absolute pressure outside the hole [Pa]
    density_kg_per_m3 : of the gas at the upstream temperature and absolute pressure [kg/m3]
    isentropic_exponent : k of the gas at the upstream state [-]
    coefficient : discharge coefficient K [-]
    count : number of holes [-]
    Returns the mass flow of all holes together [kg/s]. All arguments broadcast.
    Raises UserError for a pressure that is not above the outlet pressure.

    >>> float(mass_flow_kg_per_s(1.397e-3, 2740.0, 101325.0, 1.93, 1.12, 0.9)) * 3600
    0.50168
    """
    require_pressure(gauge_pressure_Pa)
    operands = (
        diameter_m,
        gauge_pressure_Pa,
        ambient_pressure_Pa,
        density_kg_per_m3,
        isentropic_exponent,
        coefficient,
        np.multiply(count, np.pi / 4.0),
    )
    blocks = np.nditer(
        [*(np.asarray(one) for one in operands), None],
        flags=["buffered", "external_loop", "zerosize_ok"],
        op_flags=(*[READ] * len(operands), MADE),
        op_dtypes=[np.dtype(np.float64)] * (len(operands) + 1),
        casting="same_kind",
        buffersize=BLOCK,
    )
    scratch = np.empty((3, BLOCK))
    with blocks:
        for d, gauge, ambient, rho, k, kd, per_square, out in blocks:
            upstream, x, c = scratch[:, : out.size]
            np.add(gauge, ambient, out=upstream)
            np.divide(gauge, upstream, out=x)
            _hold_at_critical(x, k)
            _flow_function_squared(x, k, c, out)
            np.multiply(out, upstream, out=out)
            np.multiply(out, rho, out=out)
            np.add(out, out, out=out)
            np.sqrt(out, out=out)
            np.multiply(out, d, out=out)
            np.multiply(out, d, out=out)
            np.multiply(out, kd, out=out)
            np.multiply(out, per_square, out=out)
        flow: Array = blocks.operands[-1]
    return flow[()]


def throat_velocity_m_per_s(
    gauge_pressure_Pa: ArrayLike,
    ambient_pressure_Pa: ArrayLike,
    density_kg_per_m3: ArrayLike,
    isentropic_exponent: ArrayLike,
) -> Array:
    """Speed of the gas in the narrowest place without losses: w = sqrt(2 k/(k-1) p1/rho1 (1 - t^((k-1)/k))).

    Held at the critical ratio, where it is the speed of sound, when choked.

    gauge_pressure_Pa : upstream over ambient pressure [Pa]
    ambient_pressure_Pa : absolute pressure outside the hole [Pa]
    density_kg_per_m3 : upstream [kg/m3]
    isentropic_exponent : k of the gas at the upstream state [-]
    Returns the speed [m/s].

    >>> float(throat_velocity_m_per_s(1e6, 101325.0, 13.0, 1.4))
    314.383
    """
    upstream = np.add(gauge_pressure_Pa, ambient_pressure_Pa)
    k = np.asarray(isentropic_exponent, dtype=np.float64)
    x = np.minimum(np.divide(gauge_pressure_Pa, upstream), 1.0 - critical_pressure_ratio(k))
    c = (k - 1.0) / k + NEVER_ZERO
    speed: Array = np.sqrt(-2.0 * np.expm1(c * np.log1p(-x)) / c * upstream / np.asarray(density_kg_per_m3))
    return speed


def require_pressure(gauge_pressure_Pa: ArrayLike) -> None:
    """Refuse a supply that pushes nothing out, naming the first such case."""
    gauge = np.asarray(gauge_pressure_Pa, dtype=np.float64)
    if gauge.size == 0 or (gauge.min() > 0.0 and np.isfinite(gauge.max())):
        return
    wrong = float(gauge[~((gauge > 0.0) & np.isfinite(gauge))][0])
    what = (
        "supply pressure must be above the outlet pressure" if wrong <= 0.0 else "must be a finite pressure"
    )
    raise UserError(
        Problem(
            what,
            value=f"{wrong:g} Pa gauge",
            accepted="a gauge pressure above 0",
            fix="give it over ambient",
        )
    )
