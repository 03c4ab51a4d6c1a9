"""Natural convection in air from plates and across gaps, laminar to turbulent; and the air it happens in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
GRAVITY = 9.80665  # m/s2, conventional
SPECIFIC_GAS_CONSTANT = 287.05  # of dry air [J/(kg K)]
PRANDTL = 0.71  # of air from 250 to 700 K, within 3 %


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """Air at a film temperature."""

    temperature_K: FloatArray
    conductivity_W_per_mK: FloatArray
    kinematic_viscosity_m2_per_s: FloatArray

    def rayleigh(self, difference_K: ArrayLike, length_m: ArrayLike) -> FloatArray:
        """g dT L^3/(T nu alpha) [-]."""
        size = np.abs(np.asarray(difference_K, dtype=np.float64)) * np.asarray(length_m) ** 3
        return np.asarray(
            GRAVITY * size * PRANDTL / (self.temperature_K * self.kinematic_viscosity_m2_per_s**2)
        )


def air(temperature_K: ArrayLike, pressure_Pa: ArrayLike = 101325.0) -> Air:
    """Air by Sutherland's forms, within 3 % from 250 to 700 K. Source: natural-convection.

    >>> found = air(300.0)
    >>> float(found.conductivity_W_per_mK), 1e6 * float(found.kinematic_viscosity_m2_per_s)
    (0.0263, 15.7)
    """
    T = np.asarray(temperature_K, dtype=np.float64)
    viscosity = 1.716e-5 * (T / 273.15) ** 1.5 * (273.15 + 110.4) / (T + 110.4)
    conductivity = 0.0241 * (T / 273.15) ** 1.5 * (273.15 + 194.0) / (T + 194.0)
    density = np.asarray(pressure_Pa) / (SPECIFIC_GAS_CONSTANT * T)
    return Air(
        temperature_K=T, conductivity_W_per_mK=conductivity, kinematic_viscosity_m2_per_s=viscosity / density
    )


def upright_plate_nusselt(rayleigh: ArrayLike) -> FloatArray:
    """Upright plate by its height, {0.825 + 0.387 Ra^(1/6)/[1 + (0.492/Pr)^(9/16)]^(8/27)}^2 [-].

    Churchill and Chu; any Ra up to 1e12. Source: natural-convection.

    >>> float(upright_plate_nusselt(1e8))
    61.07
    """
    Ra = np.asarray(rayleigh, dtype=np.float64)
    scale = (1 + (0.492 / PRANDTL) ** (9 / 16)) ** (8 / 27)
    return np.asarray((0.825 + 0.387 * Ra ** (1 / 6) / scale) ** 2)


def level_plate_nusselt(rayleigh: ArrayLike) -> FloatArray:
    """Hot level plate facing up by area over edge, 0.54 Ra^(1/4), from about 2e7 on 0.15 Ra^(1/3) [-].

    McAdams; the larger of the two. Source: natural-convection.

    >>> float(level_plate_nusselt(1e9))
    150.0
    """
    Ra = np.asarray(rayleigh, dtype=np.float64)
    return np.asarray(np.maximum(np.maximum(0.54 * Ra**0.25, 0.15 * Ra ** (1 / 3)), 1.0))


def level_gap_nusselt(rayleigh: ArrayLike) -> FloatArray:
    """Level gap heated from below by its width, 1 + 1.44 [1 - 1708/Ra]+ + [(Ra/5830)^(1/3) - 1]+ [-].

    Hollands and others; Ra up to 1e8. Source: natural-convection.

    >>> float(level_gap_nusselt(1000.0)), float(level_gap_nusselt(1e6))
    (1.0, 6.99)
    """
    Ra = np.maximum(np.asarray(rayleigh, dtype=np.float64), 1e-12)
    return np.asarray(1 + 1.44 * np.maximum(1 - 1708 / Ra, 0) + np.maximum((Ra / 5830) ** (1 / 3) - 1, 0))


def upright_gap_nusselt(rayleigh: ArrayLike, height_over_gap: ArrayLike) -> FloatArray:
    """Upright gap by its width, the largest of three forms [-].

    0.0605 Ra^(1/3); {1 + [0.104 Ra^0.293/(1 + (6310/Ra)^1.36)]^3}^(1/3); 0.242 (Ra/A)^0.272. ElSherbiny and others;
    height over gap A from 5 to 110. Source: natural-convection.

    >>> float(upright_gap_nusselt(1e4, 20.0))
    1.312
    """
    Ra = np.maximum(np.asarray(rayleigh, dtype=np.float64), 1e-12)
    first = 0.0605 * Ra ** (1 / 3)
    second = (1 + (0.104 * Ra**0.293 / (1 + (6310 / Ra) ** 1.36)) ** 3) ** (1 / 3)
    third = 0.242 * (Ra / np.asarray(height_over_gap)) ** 0.272
    return np.asarray(np.maximum(np.maximum(first, second), third))
