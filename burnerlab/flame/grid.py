"""Grid of a flat flame: points where the profiles bend, spacing that grows gently.

The upwind scheme of the flame solver is of first order, so that the burning velocity on one grid reads 2 to
4 %
high. Two grids, one with every second point of the other, remove that error by extrapolation.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

INTERVALS = 160  # of the fine grid; the coarse grid has half of them
RATIO_INTERVALS = 96  # where only the ratio of two flames is wanted: their errors cancel
UPSTREAM_THICKNESSES = 8.0
DOWNSTREAM_THICKNESSES = 40.0
GROWTH = 0.25  # largest change of spacing per spacing
CURVE_WEIGHT = 0.5  # a bend counts half as much as a rise
LARGEST_SPACING = 1 / 10  # of the domain
SIGNIFICANT = (
    1e-2  # mass fraction below which a species does not steer the grid; trace species would draw points
)


def thermal_thickness_m(grid_m: FloatArray, temperature_K: FloatArray, burnt_K: float) -> float:
    """Thermal thickness (T_b - T_u) / max dT/dx.

    grid_m : positions [m]
    temperature_K : temperatures [K]
    burnt_K : adiabatic flame temperature [K]
    Returns the thickness [m].

    >>> thermal_thickness_m(np.array([0.0, 1e-3, 2e-3]), np.array([300.0, 300.0, 2300.0]), 2300.0)
    0.001
    """
    steepest = float(np.max(np.diff(temperature_K) / np.diff(grid_m)))
    return (burnt_K - float(temperature_K[0])) / steepest


def anchor_m(grid_m: FloatArray, temperature_K: FloatArray) -> float:
    """Where the temperature has risen by a third of its whole rise [m]."""
    target = temperature_K[0] + (temperature_K.max() - temperature_K[0]) / 3
    after = int(np.argmax(temperature_K > target))
    low, high = temperature_K[after - 1], temperature_K[after]
    share = (target - low) / (high - low)
    return float(grid_m[after - 1] + share * (grid_m[after] - grid_m[after - 1]))


def _density(grid_m: FloatArray, fields: FloatArray) -> FloatArray:
    """Wanted points per metre in each interval: the steepest field, and half the sharpest bend."""
    step = np.diff(grid_m)
    reach = np.ptp(fields, axis=1)[:, None]
    slope = np.diff(fields, axis=1) / step
    bend = np.abs(np.diff(slope, axis=1)) / (0.5 * (step[1:] + step[:-1]))
    bend /= np.ptp(slope, axis=1)[:, None]
    at_points = np.pad(bend.max(axis=0), 1, mode="edge")
    return np.asarray(
        (np.abs(slope) / reach).max(axis=0) + CURVE_WEIGHT * 0.5 * (at_points[1:] + at_points[:-1])
    )


def _limit_growth(where_m: FloatArray, spacing_m: FloatArray) -> FloatArray:
    """Spacing lowered where it would change faster than GROWTH."""
    limited = spacing_m.copy()
    for k in range(1, limited.size):
        limited[k] = min(limited[k], limited[k - 1] + GROWTH * (where_m[k] - where_m[k - 1]))
    for k in range(limited.size - 2, -1, -1):
        limited[k] = min(limited[k], limited[k + 1] + GROWTH * (where_m[k + 1] - where_m[k]))
    return limited


def adapted(
    grid_m: FloatArray, fields: FloatArray, thickness_m: float, intervals: int = INTERVALS
) -> FloatArray:
    """Grid of a given number of intervals that follows the fields of a nearby solution.

    grid_m : positions of the nearby solution, anchor at 0 [m]
    fields : temperature and the mass fractions that matter, one row each
    thickness_m : thermal thickness of the flame to be solved [m]
    intervals : intervals of the new grid, even
    Returns the new positions [m].
    """
    low, high = -UPSTREAM_THICKNESSES * thickness_m, DOWNSTREAM_THICKNESSES * thickness_m
    fine = np.unique(np.r_[np.linspace(low, high, 2001), grid_m[(grid_m > low) & (grid_m < high)], 0.0])
    middle = 0.5 * (fine[1:] + fine[:-1])
    wanted = np.interp(middle, 0.5 * (grid_m[1:] + grid_m[:-1]), _density(grid_m, fields))
    span = high - low
    scale = intervals / float(np.sum(wanted * np.diff(fine)))
    for _ in range(60):
        spacing = np.minimum(1 / np.maximum(scale * wanted, 1e-300), LARGEST_SPACING * span)
        spacing = _limit_growth(middle, spacing)
        count = np.r_[0.0, np.cumsum(np.diff(fine) / spacing)]
        if abs(count[-1] / intervals - 1) < 1e-3:
            break
        scale *= intervals / count[-1]
    return np.asarray(np.interp(np.linspace(0, count[-1], intervals + 1), count, fine))
