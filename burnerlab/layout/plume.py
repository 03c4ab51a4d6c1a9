"""Where the hot gas of a burner lands: a footprint of Gaussian shape, its whole share one; and plume figures.

The shape is the only thing taken from plume theory. How much heat it carries into the surface is a capture fraction
that has to be measured: correlations of fire plumes hold above the flame tip, and a grate sits at or below it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.layout.cooking_surface import Cover, CoverFrame, Emitter, PlumeShape, Surface, frame_of, turned

FloatArray = NDArray[np.float64]

STRETCHES = 24  # of a tube under a shield at an angle
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
    """Share of a burner's hot gas that lands on each square metre of the surface's plane [1/m2].

    Over all of the plane it is 1, less what the shields over a tube take up. A burner above the surface, or one that
    faces to a side, brings it none: its gas rises away.
    """
    if emitter.z_m >= surface.z_m or emitter.stands:
        return np.zeros(np.shape(x_m))
    if emitter.form == "ring":
        return _ring(emitter, x_m, y_m, half_width_m(emitter, surface, shape))
    u, v = turned(x_m - emitter.x_m, y_m - emitter.y_m, emitter.angle_rad)
    if emitter.form == "panel":
        b = half_width_m(emitter, surface, shape)
        return _bar(u, emitter.length_m, b) * _bar(v, emitter.width_m, b)
    total = np.zeros(np.shape(x_m))
    for part in gas_parts(emitter, covers):
        kept = 1.0 if part.cover is None else 1.0 - shape.shield_uptake
        b = half_width_m(emitter, surface, shape, None if part.cover is None else part.cover.z_m)
        middle, length = (part.start_m + part.end_m) / 2, part.end_m - part.start_m
        total = total + kept * part.share * _bar(u - middle, length, b) * _bell(v - part.across_m, b)
    return np.asarray(total)


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


# a tube's gas at the shields over it


@dataclass(frozen=True, slots=True, kw_only=True)
class GasPart:
    """Gas of a stretch of a tube that rises from one line: from the flame, or from an edge of the shield over it."""

    start_m: float  # along the tube
    end_m: float
    across_m: float
    share: float  # of the tube's gas [-]
    cover: Cover | None


def gas_parts(emitter: Emitter, covers: Sequence[Cover]) -> tuple[GasPart, ...]:
    """The gas of a tube after the shields over it, at any angle; the shares add to 1.

    Of the gas across the width of the flame, what a shield lies over goes to its two edges, the more to the nearer
    one; the rest rises free or to the next shield. So nothing jumps when a shield is moved or turned a little.
    """
    half, wide = emitter.length_m / 2, max(emitter.width_m, 1e-6)
    over = sorted((c for c in covers if c.z_m > emitter.z_m), key=lambda c: c.z_m)
    frames = [frame_of(c, emitter) for c in over]
    near = [(c, f) for c, f in zip(over, frames, strict=True) if _lies_over(f, half, wide / 2)]
    found: list[GasPart] = []
    ends = _stretches([f for _, f in near], half, wide / 2)
    for start, end in pairwise(ends):
        found += _parts_between(start, end, near, (wide, 2 * half))
    return tuple(found)


def _lies_over(frame: CoverFrame, half: float, half_wide: float) -> bool:
    reach = math.hypot(float(frame.half_length_m), float(frame.half_width_m))
    return abs(float(frame.along_m)) < half + reach and abs(float(frame.across_m)) < half_wide + reach


def _stretches(frames: Sequence[CoverFrame], half: float, half_wide: float) -> list[float]:
    """Ends of stretches of a tube in which the section of every shield changes little."""
    ends = {-half, half}
    for frame in frames:
        ends |= {u for u in frame.breaks(half_wide).tolist() if abs(u) < half}
    sorted_ends: list[float] = sorted(ends)
    if all(frame.is_square for frame in frames):
        return sorted_ends
    fine = [sorted_ends[0]]
    for end in sorted_ends[1:]:
        count = max(math.ceil((end - fine[-1]) / (2 * half) * STRETCHES), 1)
        fine += [fine[-1] + (end - fine[-1]) * k / count for k in range(1, count + 1)]
    return fine


def _parts_between(
    start: float, end: float, near: Sequence[tuple[Cover, CoverFrame]], size: tuple[float, float]
) -> Iterator[GasPart]:
    wide, length = size
    middle, share = (start + end) / 2, (end - start) / length
    if share < 1e-12:
        return
    free = [(-wide / 2, wide / 2)]
    for cover, frame in near:
        low, high = (float(one) for one in frame.section(middle))
        if high <= low:
            continue
        left: list[tuple[float, float]] = []
        for a, b in free:
            under = (max(a, low), min(b, high))
            if under[1] <= under[0]:
                left.append((a, b))
                continue
            hidden = share * (under[1] - under[0]) / wide
            to_right = (sum(under) / 2 - low) / (high - low)
            for edge, part in ((low, 1 - to_right), (high, to_right)):
                yield GasPart(start_m=start, end_m=end, across_m=edge, share=hidden * part, cover=cover)
            left += [piece for piece in ((a, under[0]), (under[1], b)) if piece[1] > piece[0]]
        free = left
    for a, b in free:
        yield GasPart(
            start_m=start, end_m=end, across_m=(a + b) / 2, share=share * (b - a) / wide, cover=None
        )


def cover_of(emitter: Emitter, covers: Sequence[Cover]) -> Cover | None:
    """The lowest shield over a tube's flame, None when it is free."""
    if emitter.form != "line":
        return None
    over = [part.cover for part in gas_parts(emitter, covers) if part.cover is not None]
    return min(over, key=lambda cover: cover.z_m, default=None)


def covered_shares(emitter: Emitter, covers: Sequence[Cover]) -> dict[int, float]:
    """Share of a tube's gas that each shield lies over, by its place among the shields [-]."""
    found: dict[int, float] = {}
    for part in gas_parts(emitter, covers) if emitter.form == "line" else ():
        if part.cover is not None:
            i = next(k for k, cover in enumerate(covers) if cover is part.cover)
            found[i] = found.get(i, 0.0) + part.share
    return found


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
