"""The conversion engine: a small pint registry of our own definitions; the sizes of listed units are a table."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Any

from burnerlab import tables

from .kind import SI, Kind


@dataclass(frozen=True, slots=True)
class Scale:
    """How a unit maps to SI: value_SI = value * factor + offset."""

    factor: float
    offset: float


def _pint() -> Any:
    """pint, without the array libraries it loads when they are installed: they cost more time than all the rest."""
    hidden = [name for name in ("dask", "xarray") if name not in sys.modules]
    sys.modules.update(dict.fromkeys(hidden))  # type: ignore[arg-type]  # None: as if not installed
    try:
        import pint
    finally:
        for name in hidden:
            del sys.modules[name]
    return pint


@cache
def registry() -> Any:
    """The registry behind every conversion, in exact fractions, from the table ``unit_definitions``."""
    pint = _pint()
    own: Any = pint.UnitRegistry(None, non_int_type=Fraction)
    for row in tables.rows("unit_definitions"):
        own.define(f"{row['name']} = {row['definition']}")
    return own


@cache
def _listed() -> Mapping[str, Scale]:
    """The units of the table ``unit_scales``: loading pint takes as long as a whole command."""
    return {
        row["unit"]: Scale(row.number("factor"), row.number("offset")) for row in tables.rows("unit_scales")
    }


@cache
def scale(unit: str, kind: Kind) -> Scale:
    """Factor and offset of a unit, correctly rounded.

    >>> scale("degF", Kind.TEMPERATURE)
    Scale(factor=0.5555555555555556, offset=255.3722222222222)
    """
    return _listed().get(unit) or computed_scale(unit, kind)


def computed_scale(unit: str, kind: Kind) -> Scale:
    """Factor and offset of any unit of the registry, one unit over another too, in exact fractions."""
    at = registry().Quantity
    zero = at(Fraction(0), unit).to(SI[kind]).magnitude
    one = at(Fraction(1), unit).to(SI[kind]).magnitude
    return Scale(float(one - zero), float(zero))


def is_quantity(given: object) -> bool:
    """Whether this is a pint quantity, of whatever registry (told without importing pint)."""
    return all(hasattr(given, name) for name in ("magnitude", "units", "dimensionality", "m_as"))


def magnitude_SI(quantity: Any, kind: Kind) -> float:
    """The SI number of a pint quantity of any registry, by that registry's own definitions.

    Raises ValueError with the reason in words when it cannot stand for the kind.
    """
    units = str(quantity.units)
    if kind is Kind.TEMPERATURE_DIFFERENCE and units in (
        "degree_Celsius",
        "degree_Fahrenheit",
        "degC",
        "degF",
    ):
        raise ValueError("is a point on a scale, and a difference is wanted")
    if kind is Kind.TEMPERATURE and units.startswith("delta_"):
        raise ValueError("is a temperature difference, and a temperature is wanted")
    try:
        plain = quantity.m_as(SI[kind])
    except Exception as error:  # pint's error types cannot be named without importing it
        raise ValueError(f"does not convert to {kind.value}") from error
    if getattr(plain, "shape", ()) != ():
        raise ValueError("must be one value, got an array")
    try:
        return float(plain)
    except (TypeError, ValueError, OverflowError) as error:
        raise ValueError("must be one real number") from error
