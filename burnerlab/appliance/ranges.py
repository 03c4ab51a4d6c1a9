"""Ranges a project file must keep to, from the table ``appliance_limits``."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from burnerlab.tables import rows

INCH_OF_WATER_PA = 249.08891  # 0.0254 m x 1000 kg/m3 x 9.80665 m/s2, conventional inch of water
MBAR_PA = 100.0  # definition


@dataclass(frozen=True, slots=True)
class Range:
    """Lowest and highest value of something, in SI."""

    what: str
    low: float
    high: float
    unit: str


@cache
def limits() -> dict[str, Range]:
    """Every range by name."""
    return {
        row["name"]: Range(row["what"], float(row["low"]), float(row["high"]), row["unit"])
        for row in rows("appliance_limits")
    }


def limit(name: str) -> Range:
    """The range called ``name``.

    >>> limit("coefficient").high
    1.0
    """
    return limits()[name]


def figure(name: str) -> float:
    """A single figure kept beside the ranges (its low and high are equal).

    >>> figure("near_share")
    0.2
    """
    return limits()[name].low
