"""Ranges that what a user enters must keep to, in a file, a command or on the page: table ``appliance_limits``."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from burnerlab.quantity.error import Problem
from burnerlab.quantity.kind import Kind
from burnerlab.quantity.read import read
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


def read_within(text: str, kind: Kind, name: str, *, key: str = "") -> float:
    """A quantity as written [SI], held to the range called ``name``. Raises UserError.

    >>> read_within("98.5 kPa", Kind.ABSOLUTE_PRESSURE, "barometer")
    98500.0
    """
    held = limit(name)
    return read(text, kind, key=key, low=held.low, high=held.high)


def outside(name: str, value: float | None, key: str) -> list[Problem]:
    """What to say of a value [SI] outside the range called ``name``; nothing of one within it, or of None.

    >>> outside("altitude", 9000.0, "altitude")[0].accepted
    '-430 to 5500 m'
    """
    held = limit(name)
    if value is None or held.low <= value <= held.high:
        return []
    span = f"{held.low:g} to {held.high:g} {held.unit}"
    given = f"{value:g} {held.unit}"
    return [Problem("is outside the accepted range", given, key, accepted=span, fix="check the unit")]


def figure(name: str) -> float:
    """A single figure kept beside the ranges (its low and high are equal).

    >>> figure("near_share")
    0.2
    """
    return limits()[name].low
