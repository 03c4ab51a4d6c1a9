"""Both ends of a band as they are printed: rounded into it, so that what is printed as within it is within it."""

from __future__ import annotations

import math
from typing import Literal

from burnerlab.quantity.show import System, display_unit, in_unit, number
from burnerlab.quantity.units import Kind

BandEnd = Literal["low", "high"]
EXACT = 1e-5  # relative: how far a figure may lie from a rounded one that it is, as one of six digits does
PRESSURE_DIGITS = 3  # significant ones of a gauge pressure
HIGH_PRESSURE_DIGITS = {"metric": 4, "US": 3}  # of one that is read in psi
MOST_DIGITS = 6


def into_band(value: float, digits: int, end: BandEnd) -> float:
    """A figure to so many significant digits, the low end of its band upwards, the high end downwards.

    >>> into_band(16.09, 3, "low"), into_band(18.57, 3, "high"), into_band(34.999999, 3, "high")
    (16.1, 18.5, 35.0)
    """
    if value == 0.0 or not math.isfinite(value):
        return value
    step = 10.0 ** (math.floor(math.log10(abs(value) * (1.0 + EXACT))) - digits + 1)
    nearest = round(value / step)
    if abs(nearest * step - value) <= EXACT * abs(value):
        whole = nearest
    else:
        whole = math.ceil(value / step) if end == "low" else math.floor(value / step)
    return float(f"{whole * step:.{digits - 1}e}")


def pressure_scale(gauge_Pa: float, system: System) -> tuple[str, int]:
    """The unit that a gauge pressure of this size is printed in, and its significant digits: psi where inches end.

    >>> pressure_scale(2740.0, "US"), pressure_scale(13800.0, "metric")
    (('in w.c.', 3), ('mbar', 4))
    """
    unit, _ = display_unit(gauge_Pa, Kind.GAUGE_PRESSURE, "US")
    digits = HIGH_PRESSURE_DIGITS[system] if unit == "psi" else PRESSURE_DIGITS
    return (unit if system == "US" else "mbar"), digits


def pressure_end(gauge_Pa: float, end: BandEnd, system: System) -> str:
    """One end of a band of gauge pressures with its unit, as every paper, page and notice prints it.

    >>> pressure_end(1857.0, "high", "metric"), pressure_end(1857.0, "high", "US")
    ('18.5 mbar', '7.45 in w.c.')
    """
    unit, digits = pressure_scale(gauge_Pa, system)
    return f"{_end(gauge_Pa, end, unit, digits)} {unit}"


def pressure_ends(low_Pa: float, high_Pa: float, system: System) -> tuple[str, str]:
    """Both ends without their unit, then that of both behind the second; with more digits where it is narrow.

    >>> pressure_ends(2490.9, 2960.0, "US"), pressure_ends(2891.0, 2899.0, "metric")
    (('10.0', '11.8 in w.c.'), ('28.91', '28.99 mbar'))
    """
    unit, digits = pressure_scale(high_Pa, system)
    texts = ("", "")
    for more in range(digits, MOST_DIGITS + 1):
        ends = [_rounded(value, end, unit, more) for value, end in ((low_Pa, "low"), (high_Pa, "high"))]
        texts = number(ends[0], more), number(ends[1], more)
        if ends[0] <= ends[1]:
            break
    return texts[0], f"{texts[1]} {unit}"


def _rounded(gauge_Pa: float, end: str, unit: str, digits: int) -> float:
    return into_band(
        float(in_unit(gauge_Pa, Kind.GAUGE_PRESSURE, unit)), digits, "low" if end == "low" else "high"
    )


def _end(gauge_Pa: float, end: BandEnd, unit: str, digits: int) -> str:
    return number(_rounded(gauge_Pa, end, unit, digits), digits)
