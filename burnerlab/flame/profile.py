"""The profile of a flat flame on its grid.

The upwind scheme of the flame solver is of first order, so that the burning velocity on one grid reads 2 to
4 %
high. Two grids, one with every second point of the other, remove that error by extrapolation.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

# Grid of a flat flame: points where the profiles bend, spacing that grows gently.

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


# One solved flat flame as numbers: what the solver hands on and what the shipped seeds hold.

AIR = {"oxygen": 0.21, "nitrogen": 0.79}
"""Dry air without argon. With argon counted as oxygen's share lost and no heat taken up the flame is 0.6 K hotter;
21/79 is what the measured burning velocities were taken with."""
OXYGEN_DEMAND = {
    "methane": 2.0,
    "ethane": 3.5,
    "ethylene": 3.0,
    "propane": 5.0,
    "propylene": 4.5,
    "n-butane": 6.5,
    "isobutane": 6.5,
    "hydrogen": 0.5,
    "carbon monoxide": 0.5,
    "oxygen": -1.0,
}  # [mol O2/mol], from the formulas


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameState:
    """A mixture about to burn: the gas by mole fractions, its air, its temperature and pressure."""

    gas: Mapping[str, float]  # component -> mole fraction
    equivalence_ratio: float
    unburnt_temperature_K: float
    pressure_Pa: float

    def mixture(self) -> dict[str, float]:
        """Moles of each component per mole of gas, air added."""
        demand = sum(OXYGEN_DEMAND.get(name, 0.0) * share for name, share in self.gas.items())
        moles = dict(self.gas)
        air = demand / AIR["oxygen"] / self.equivalence_ratio
        for name, share in AIR.items():
            moles[name] = moles.get(name, 0.0) + air * share
        return moles


def between(start: FlameState, end: FlameState, share: float) -> FlameState:
    """The state a share of the way from start to end: linear in composition, geometric in the others."""

    def geometric(low: float, high: float) -> float:
        return float(low * (high / low) ** share)

    names = dict.fromkeys([*start.gas, *end.gas])
    gas = {name: (1 - share) * start.gas.get(name, 0.0) + share * end.gas.get(name, 0.0) for name in names}
    return FlameState(
        gas={name: value for name, value in gas.items() if value > 0},
        equivalence_ratio=geometric(start.equivalence_ratio, end.equivalence_ratio),
        unburnt_temperature_K=geometric(start.unburnt_temperature_K, end.unburnt_temperature_K),
        pressure_Pa=geometric(start.pressure_Pa, end.pressure_Pa),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """Profiles of one flame; the anchor (a third of the temperature rise) is at 0."""

    state: FlameState
    grid_m: FloatArray
    temperature_K: FloatArray
    velocity_m_per_s: FloatArray
    mass_fractions: FloatArray  # [species, point]
    species: tuple[str, ...]
    adiabatic_flame_temperature_K: float

    @property
    def burning_velocity_m_per_s(self) -> float:
        """Velocity of the unburnt mixture into the flame."""
        return float(self.velocity_m_per_s[0])

    @property
    def thermal_thickness_m(self) -> float:
        """(T_ad - T_u) / max dT/dx."""
        return thermal_thickness_m(self.grid_m, self.temperature_K, self.adiabatic_flame_temperature_K)

    def fields(self) -> FloatArray:
        """Temperature and the mass fractions that matter, for the grid."""
        peak = self.mass_fractions.max(axis=1)
        return np.vstack([self.temperature_K, self.mass_fractions[peak > SIGNIFICANT]])


def solved_profile(flame: Any, state: FlameState, adiabatic_K: float, species: Sequence[str]) -> Profile:
    """Profile of a solved Cantera flame, moved so that its anchor is at 0."""
    grid, temperature = np.array(flame.grid), np.array(flame.T)
    return Profile(
        state=state,
        grid_m=grid - anchor_m(grid, temperature),
        temperature_K=temperature,
        velocity_m_per_s=np.array(flame.velocity),
        mass_fractions=np.array(flame.Y),
        species=tuple(species),
        adiabatic_flame_temperature_K=adiabatic_K,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameEnds:
    """The two ends of a flame: the unburnt mixture and its equilibrium products."""

    unburnt_K: float
    unburnt_fractions: FloatArray  # by mass, in the order of the mechanism
    unburnt_density_kg_per_m3: float
    burnt_K: float
    burnt_fractions: FloatArray


def fitted(
    profile: Profile, grid_m: FloatArray, old: FlameEnds, new: FlameEnds
) -> tuple[FloatArray, FloatArray]:
    """Guess for another state on another grid: temperature [K] and mass fractions, their ends moved to the new ones."""
    progress = (profile.temperature_K - old.unburnt_K) / (old.burnt_K - old.unburnt_K)
    progress = np.interp(grid_m, profile.grid_m, np.clip(progress, 0.0, 1.0))
    fractions = np.array([np.interp(grid_m, profile.grid_m, row) for row in profile.mass_fractions])
    fractions += (new.unburnt_fractions - old.unburnt_fractions)[:, None] * (1 - progress)
    fractions += (new.burnt_fractions - old.burnt_fractions)[:, None] * progress
    fractions = np.maximum(fractions, 0.0)
    temperature = new.unburnt_K + (new.burnt_K - new.unburnt_K) * progress
    return temperature, fractions / fractions.sum(axis=0)


def predicted(before: Profile, last: Profile, state: FlameState, ratio: float) -> Profile:
    """Profile extrapolated from two solved ones to a state ``ratio`` times their distance further on.

    Both are laid over each other by their thickness; the result is a guess, not a solution.
    """
    wide, narrow = last.thermal_thickness_m, before.thermal_thickness_m
    where = last.grid_m * (narrow / wide)

    def onward(now: FloatArray, then: FloatArray) -> FloatArray:
        return np.asarray(now + ratio * (now - np.interp(where, before.grid_m, then)))

    fractions = np.array(
        [onward(now, then) for now, then in zip(last.mass_fractions, before.mass_fractions, strict=True)]
    )
    temperature = onward(last.temperature_K, before.temperature_K)
    speed = (
        last.burning_velocity_m_per_s
        * (last.burning_velocity_m_per_s / before.burning_velocity_m_per_s) ** ratio
    )
    return Profile(
        state=state,
        grid_m=last.grid_m * (wide / narrow) ** ratio,
        temperature_K=np.clip(temperature, last.temperature_K[0] - 50, last.temperature_K.max() + 100),
        velocity_m_per_s=last.velocity_m_per_s * (speed / last.burning_velocity_m_per_s),
        mass_fractions=np.maximum(fractions, 0.0),
        species=last.species,
        adiabatic_flame_temperature_K=last.adiabatic_flame_temperature_K
        + ratio * (last.adiabatic_flame_temperature_K - before.adiabatic_flame_temperature_K),
    )
