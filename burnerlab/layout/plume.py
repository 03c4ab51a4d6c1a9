"""Where the hot gas of a burner lands: a footprint of Gaussian shape, its whole share one; and plume figures.

The shape is the only thing taken from plume theory. How much heat it carries into the surface is a capture fraction
that has to be measured: correlations of fire plumes hold above the flame tip, and a grate sits at or below it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.layout.cooking_surface import Cover, Emitter, PlumeShape, Surface, quarter_turns, turned

FloatArray = NDArray[np.float64]

GRAVITY = 9.80665  # m/s2, conventional
AIR_DENSITY_x_K = 353.05  # density of dry air times its temperature at 101 325 Pa [kg K/m3], ideal gas
ENTRAINMENT, LAMBDA = 0.16, 0.9  # Lee and Emmons line plume as recalled, layout-derived


def half_width_m(
    emitter: Emitter, surface: Surface, shape: PlumeShape, start_z_m: float | None = None
) -> float:
    """Half width of the hot gas where it meets the surface: half the flame's width and its spread on the way [m].

    start_z_m : where it starts to rise free [m]; the burner's height unless given
    """
    rise = surface.z_m - (emitter.z_m if start_z_m is None else start_z_m)
    wide = emitter.width_m / 2 if emitter.form != "panel" else 0.0
    return (wide + shape.plume_spread * rise) * (shape.plate_spreading if surface.plate else 1.0)


def footprint(
    emitter: Emitter,
    surface: Surface,
    x_m: FloatArray,
    y_m: FloatArray,
    shape: PlumeShape,
    covers: Sequence[Cover] = (),
) -> FloatArray:
    """Share of a burner's hot gas that lands on each square metre of the surface's plane [1/m2]; over all of it 1.

    A burner above the surface, or one that faces to a side, brings it none: its gas rises away.
    """
    if emitter.z_m >= surface.z_m or emitter.stands:
        return np.zeros(np.shape(x_m))
    if emitter.form == "ring":
        return _ring(emitter, x_m, y_m, half_width_m(emitter, surface, shape))
    u, v = turned(x_m - emitter.x_m, y_m - emitter.y_m, emitter.angle_rad)
    if emitter.form == "panel":
        b = half_width_m(emitter, surface, shape)
        return _bar(u, emitter.length_m, b) * _bar(v, emitter.width_m, b)
    return _tube(emitter, surface, u, v, shape, covers)


def _bar(t: FloatArray, length_m: float, b: float) -> FloatArray:
    """A uniform bar smeared by a Gaussian of half width b, its integral 1 [1/m]."""
    from scipy.special import erf

    return np.asarray((erf((t + length_m / 2) / b) - erf((t - length_m / 2) / b)) / (2.0 * length_m))


def _bell(t: FloatArray, b: float) -> FloatArray:
    return np.asarray(np.exp(-((t / b) ** 2)) / (math.sqrt(math.pi) * b))


def _ring(e: Emitter, x: FloatArray, y: FloatArray, b: float) -> FloatArray:
    from scipy.special import i0e

    r = np.hypot(x - e.x_m, y - e.y_m)
    return np.asarray(
        np.exp(-(((r - e.radius_m) / b) ** 2)) * i0e(2 * r * e.radius_m / b**2) / (math.pi * b**2)
    )


def _tube(
    e: Emitter, surface: Surface, u: FloatArray, v: FloatArray, shape: PlumeShape, covers: Sequence[Cover]
) -> FloatArray:
    """A tube, its gas led to both edges of a shield where one lies over it."""
    over = cover_of(e, covers)
    b = half_width_m(e, surface, shape)
    if over is None:
        return _bar(u, e.length_m, b) * _bell(v, b)
    low, high, left, right = _covered(e, over)
    from_shield = half_width_m(e, surface, shape, over.z_m)
    share = (high - low) / e.length_m
    pair = 0.5 * (_bell(v - left, from_shield) + _bell(v - right, from_shield))
    total = share * _bar(u - (low + high) / 2, high - low, from_shield) * pair
    for start, end in ((-e.length_m / 2, low), (high, e.length_m / 2)):
        if end - start > 1e-9:
            free = (end - start) / e.length_m
            total = total + free * _bar(u - (start + end) / 2, end - start, b) * _bell(v, b)
    return np.asarray(total)


def cover_of(emitter: Emitter, covers: Sequence[Cover]) -> Cover | None:
    """The lowest shield over a tube's axis, None when it is free or the shield lies at an angle."""
    best = None
    for cover in covers:
        if cover.z_m <= emitter.z_m or quarter_turns(emitter.angle_rad, cover.angle_rad) is None:
            continue
        low, high, left, right = _covered(emitter, cover)
        if high > low and left < 0.0 < right and (best is None or cover.z_m < best.z_m):
            best = cover
    return best


def covered_share(emitter: Emitter, covers: Sequence[Cover]) -> float:
    """Share of a tube's length that a shield lies over [-]."""
    over = cover_of(emitter, covers) if emitter.form == "line" else None
    if over is None:
        return 0.0
    low, high, _, _ = _covered(emitter, over)
    return (high - low) / emitter.length_m


def _covered(e: Emitter, cover: Cover) -> tuple[float, float, float, float]:
    """From where to where along a tube a shield covers it, and the shield's edges across it."""
    us, vs = (float(one) for one in turned(cover.x_m - e.x_m, cover.y_m - e.y_m, e.angle_rad))
    hu, hv = cover.length_m / 2, cover.width_m / 2
    if quarter_turns(e.angle_rad, cover.angle_rad) == 1:
        hu, hv = hv, hu
    return max(us - hu, -e.length_m / 2), min(us + hu, e.length_m / 2), vs - hv, vs + hv


# figures of free plumes and flames, for comparison with measured data


def line_flame_height_m(
    heat_input_W_per_m: ArrayLike, coefficient: ArrayLike = 0.017, factor: ArrayLike = 1.0
) -> FloatArray:
    """Height of a line flame without primary air, L = 0.017 Q'^(2/3), Q' in kW/m [m].

    factor : of the gas against methane [-]. Range: wall line fires; an aerated flame is shorter.
    Source: cfast-guide.

    >>> float(line_flame_height_m(101.8e3))
    0.3706
    """
    return np.asarray(factor * np.asarray(coefficient) * (np.asarray(heat_input_W_per_m) / 1e3) ** (2 / 3))


def line_plume_rise_K(
    convective_W_per_m: ArrayLike, height_m: ArrayLike, origin_m: ArrayLike = 0.0, ambient_K: float = 293.15
) -> FloatArray:
    """Temperature rise on the axis of a free line plume, dT = c Q'^(2/3)/(z - z0) [K].

    c = T^(1/3) 2.579/(g^(1/3) (rho cp)^(2/3)) from entrainment 0.16 and lambda 0.9, Gaussian profiles.
    origin_m : height z0 of the virtual origin [m]. Range: far above the flame; never for a grate.
    Source: layout-derived.

    >>> float(line_plume_rise_K(10e3, 1.0))
    32.8
    """
    density, specific_heat = 1.2 * 293.15 / ambient_K, 1005.0
    a, lam = ENTRAINMENT, LAMBDA
    # momentum: d(w^2 b sqrt(pi/2))/dz = g (dT/T) lam b sqrt(pi); mass: d(w b sqrt(pi))/dz = 2 a w; heat is kept
    b = 2 * a / math.sqrt(math.pi)
    heat = np.asarray(convective_W_per_m) / (density * specific_heat)
    spread = math.sqrt(math.pi) * lam / math.sqrt(1 + lam**2) * b
    w = (GRAVITY * lam * math.sqrt(2) * heat / (ambient_K * spread)) ** (1 / 3)
    return np.asarray(heat / (spread * w * (np.asarray(height_m) - origin_m)))


def round_plume_rise_K(
    convective_W: ArrayLike, height_m: ArrayLike, origin_m: ArrayLike, ambient_K: float = 295.15
) -> FloatArray:
    """Temperature rise on the axis of a round fire plume, 9.1 (T/(g cp^2 rho^2))^(1/3) Qc^(2/3)/(z - z0)^(5/3) [K].

    Qc in kW, cp in kJ/(kg K). Range: above the flame. Source: cfast-guide.

    >>> float(round_plume_rise_K(747e3, 6.0, 0.083 * 1245**0.4 - 1.02 * 1.17))
    111.8
    """
    density = AIR_DENSITY_x_K / ambient_K
    scale = (ambient_K / (GRAVITY * density**2)) ** (1 / 3)
    return np.asarray(
        9.1
        * scale
        * (np.asarray(convective_W) / 1e3) ** (2 / 3)
        / (height_m - np.asarray(origin_m)) ** (5 / 3)
    )


def bell_ripple(half_width_over_pitch: ArrayLike) -> FloatArray:
    """Largest over smallest value of equal Gaussians exp(-x^2/b^2) in an endless row at pitch P [-].

    >>> float(bell_ripple(0.5))
    1.41
    """
    b = np.asarray(half_width_over_pitch, dtype=np.float64)[..., None]
    i = np.arange(-40, 41)
    top, between = np.exp(-((i / b) ** 2)).sum(-1), np.exp(-(((i + 0.5) / b) ** 2)).sum(-1)
    return np.asarray(top / between)
