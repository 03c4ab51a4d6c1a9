"""An SI number becomes text with its unit; what is printed reads back as the value, within the rounding."""

from __future__ import annotations

import math
from functools import cache
from typing import Any, Literal

from burnerlab import tables
from burnerlab.quantity import units
from burnerlab.quantity.units import Kind

System = Literal["metric", "US"]
DEFAULT_DIGITS = 4  # significant; the input of a burner is not known to more
PAPER_DIGITS = 3  # significant, of a pressure or a calculated heat input on every paper
BORE_PLACES = {"mm": 3, "in": 4}  # of an orifice's bore on every paper
SECONDS_ALONE_s = 60.0  # below it a timing needs no minutes
LONG_TIMING_s = 600.0  # from here on nobody reads it in seconds
LONGEST_TIMING_s = 1e9


def unit_named(unit: str, kind: Kind) -> units.Unit:
    """The unit of this spelling; a spelling of ours that is not in the table is a ValueError."""
    found = units.find(unit, kind)
    if found is None:
        raise ValueError(f"{unit!r} is no unit of {kind.value}")
    return found


def in_unit(value_SI: Any, kind: Kind, unit: str) -> Any:
    """A value, or an array of them, in a unit of the alias table.

    >>> in_unit(2740.0, Kind.GAUGE_PRESSURE, "mbar")
    27.4
    """
    scale = unit_named(unit, kind).scale
    return (value_SI - scale.offset) / scale.factor


def from_unit(value: Any, kind: Kind, unit: str) -> Any:
    """A value, or an array of them, given in a unit of the alias table, in SI.

    >>> from_unit(27.4, Kind.GAUGE_PRESSURE, "mbar")
    2740.0
    """
    scale = unit_named(unit, kind).scale
    return value * scale.factor + scale.offset


@cache
def _display(kind: Kind, system: str) -> tuple[tuple[float, str, int], ...]:
    rows = [
        row for row in tables.rows("display_units") if (row["kind"], row["system"]) == (kind.name, system)
    ]
    if not rows:
        raise ValueError(f"no unit is set to print {kind.value} in the system {system!r} (metric or US)")
    return tuple(sorted((float(row["from_SI"]), row["unit"], int(row["digits"])) for row in rows))


def display_unit(value_SI: float, kind: Kind, system: System = "metric") -> tuple[str, int]:
    """The unit a value of this size is printed in, and its significant digits."""
    choices = _display(kind, system)
    fitting = [choice for choice in choices if abs(value_SI) >= choice[0]]
    _, unit, digits = fitting[-1] if fitting else choices[0]
    return unit, digits


def show(
    value_SI: float,
    kind: Kind,
    *,
    unit: str | None = None,
    system: System = "metric",
    digits: int | None = None,
) -> str:
    """The value as text with its unit.

    unit : a spelling of the alias table, printed as given; else the unit of the system for this kind and size
    digits : significant digits
    Raises ValueError for a value that is not finite or a unit that is not of the kind.

    >>> show(2739.978, Kind.GAUGE_PRESSURE, unit="in w.c.")
    '11.00 in w.c.'
    >>> show(3516.85, Kind.POWER, system="US")
    '12 000 Btu/h'
    """
    if not math.isfinite(value_SI):
        raise ValueError(f"a {kind.value} that is not finite cannot be shown")
    chosen, usual = display_unit(value_SI, kind, system)
    if unit is not None:
        chosen, usual = unit, DEFAULT_DIGITS if unit != chosen else usual
    return f"{number(float(in_unit(value_SI, kind, chosen)), digits or usual)} {chosen}"


def number(value: float, digits: int = DEFAULT_DIGITS) -> str:
    """A number to so many significant digits, whole digits never cut, thousands apart from 10 000.

    >>> number(15000.4), number(0.055), number(1.4)
    ('15 000', '0.05500', '1.400')
    """
    if value == 0:
        return "0"
    size = abs(value)
    if not 1e-6 <= size < 1e15:
        return f"{value:.{digits - 1}e}"
    exponent = int(f"{size:.{digits - 1}e}".partition("e")[2])  # after rounding: 9.9999 prints as 10.0
    after = max(0, digits - 1 - exponent)
    return grouped(value, after)


def grouped(value: float, places: int) -> str:
    """A number with so many places, its thousands apart by a blank from 10 000, in every text in either system.

    A comma divides none: half of the readers take it for the decimal mark, and a figure that is typed back is read.

    >>> grouped(14000.0, 0), grouped(8860.0, 0), grouped(-12345.67, 1)
    ('14 000', '8860', '-12 345.7')
    """
    text = f"{value:.{places}f}"
    return f"{value:,.{places}f}".replace(",", " ") if abs(float(text)) >= 1e4 else text


def duration_text(seconds: float) -> str:
    """A calculated time: seconds up to 100, minutes with tens of seconds up to ten, then minutes, hours with minutes.

    >>> duration_text(48.4), duration_text(198.0), duration_text(1080.0), duration_text(7140.0)
    ('48 s', '3 min 20 s', '18 min', '1 h 59 min')
    """
    if seconds < 99.5:
        return f"{seconds:.0f} s"
    if seconds < 595.0:
        minutes, rest = divmod(round(seconds / 10.0) * 10, 60)
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"
    hours, minutes = divmod(round(seconds / 60.0), 60)
    if not hours:
        return f"{minutes} min"
    return f"{hours} h {minutes} min" if minutes else f"{hours} h"


def timing_text(seconds: float) -> str:
    """A timing as the stopwatch shows it, from a minute on with minutes beside it, a long one in minutes and seconds.

    >>> timing_text(37.24), timing_text(468.3), timing_text(2700.0)
    ('37.24 s', '468.3 s (7 min 48.3 s)', '45 min 0 s')
    """
    if not 0.0 <= seconds < LONGEST_TIMING_s:  # of a record that others wrote
        return f"{seconds:.4g} s"
    if seconds < SECONDS_ALONE_s:
        return f"{number(seconds, 4)} s"
    minutes, rest = divmod(round(10.0 * seconds), 600)
    in_minutes = f"{number(minutes, 1)} min {rest / 10:g} s"
    return in_minutes if round(seconds, 1) >= LONG_TIMING_s else f"{seconds:.1f} s ({in_minutes})"
