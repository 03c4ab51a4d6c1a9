"""Slips of the unit: values that read well and are far from any domestic appliance."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from burnerlab import tables
from burnerlab.quantity import units
from burnerlab.quantity.grammar import WrittenQuantity, refuse, split
from burnerlab.quantity.units import Kind
from burnerlab.tables.problem import UserError

from .inputs import input_row
from .read import read
from .show import number, show

PROBABLY_ABSOLUTE_PA = 60e3  # a plain pressure above this may be an absolute one; common practice


def _range(name: str, own: Path | None) -> tuple[float, float, str]:
    """Low and high end [SI] of a row of ``inputs``, and what it is; a user's ends may be written with their unit."""
    shipped = input_row(name)
    if own is None:
        return shipped.low, shipped.high, shipped.words
    row = next(row for row in tables.read("inputs", own) if row["name"] == name)
    assert isinstance(shipped.kind, Kind)
    ends = [
        row.number(end) if tables.NUMBER.fullmatch(row[end]) else read(row[end], shipped.kind)
        for end in ("low", "high")
    ]
    return ends[0], ends[1], row.get("words") or shipped.words


def _written(text: str) -> WrittenQuantity | None:
    try:
        return split(text.strip(" "), "", "")
    except UserError:
        return None


def check_low_pressure(
    gauge_pressure_Pa: float,
    entry: object,
    *,
    key: str = "",
    allow_high: bool = False,
    own: Path | None = None,
) -> None:
    """Refuse a supply pressure no domestic low-pressure appliance has, naming the likely reading.

    gauge_pressure_Pa : as read [Pa]; entry : as written, text or a pint quantity
    allow_high : the user confirms a pressure outside the range; own : rows instead of those of ``inputs``
    Raises UserError.

    >>> check_low_pressure(2740.0, "11 in w.c.")
    """
    low, high, words = _range("low_pressure", own)
    if allow_high or low <= gauge_pressure_Pa <= high:
        return
    text = str(entry)
    span = f"{low / 100:g} to {high / 100:g} mbar"
    mbar = f"{number(gauge_pressure_Pa / 100, 3)} mbar"
    reading = f"{text} ({mbar})" if not text.strip().lower().endswith("mbar") else text
    meant = _meant_pressure(text, low, high)
    fix = f"write {meant} if it is, or confirm with allow_high_pressure"
    fix = fix if meant else "check the unit, or confirm with allow_high_pressure"
    if gauge_pressure_Pa > PROBABLY_ABSOLUTE_PA and "g" not in text.lower():
        gauge = _as_gauge(text)
        fix += "; a gauge pressure is wanted: "
        fix += f'write "{gauge}" if gauge' if gauge else "take the barometer off an absolute one"
    raise refuse(f"{reading} is outside {span} for {words}", text, key, accepted=span, fix=fix)


def is_low_pressure(gauge_pressure_Pa: float, own: Path | None = None) -> bool:
    """Whether a gauge pressure [Pa] is not above that of low-pressure appliances.

    >>> is_low_pressure(3700.0), is_low_pressure(75842.0)
    (True, False)
    """
    return gauge_pressure_Pa <= _range("low_pressure", own)[1]


def _as_gauge(text: str) -> str:
    """A pressure with the gauge spelling of its unit; "" for a unit that has none."""
    written = _written(text)
    has_one = written is not None and units.find(f"{written.unit}g", Kind.GAUGE_PRESSURE) is not None
    return f"{text.strip()}g" if has_one else ""


def _meant_pressure(text: str, low_Pa: float, high_Pa: float) -> str:
    written = _written(text)
    unit = units.find(written.unit, Kind.GAUGE_PRESSURE) if written else None
    if written is None or unit is None:
        return ""
    first = ("in w.c.", "mbar") if unit.system == "US" else ("mbar", "in w.c.")
    for other in (*first, "kPa", "psi"):
        value = written.number * _factor(other)
        if other != unit.spelling and low_Pa <= value <= high_Pa:
            beside = "" if other == "mbar" else f" ({number(value / 100, 3)} mbar)"
            return f"{written.number:g} {other}{beside}"
    return ""


def _factor(unit: str) -> float:
    return read(f"1 {unit}", Kind.GAUGE_PRESSURE)


def first_outside(value: Any, low: float, high: float) -> float | None:
    """The first of a number or an array that is not within a range (NaN is not), None where all are.

    >>> first_outside(2.0, 1.0, 3.0), first_outside(4.0, 1.0, 3.0)
    (None, 4.0)
    """
    if isinstance(value, float | int):
        return None if low <= value <= high else value
    outside = value[~((value >= low) & (value <= high))]
    return float(outside.flat[0]) if outside.size else None


def check_gas_orifice(diameter_m: Any) -> None:
    """Refuse a hole that is an orifice of no gas appliance, one or any of an array: a slip of unit.

    diameter_m : [m]. Raises UserError. Wider than ``check_orifice_diameter``, which knows the appliance.

    >>> check_gas_orifice(0.0014)
    """
    low, high, words = _range("gas_orifice", None)
    wrong = first_outside(diameter_m, low, high)
    if wrong is not None:
        span = f"{low * 1000:g} to {high * 1000:g} mm"
        what = f"is outside {span} for {words}"
        raise refuse(what, f"{wrong * 1000:.6g} mm", "diameter", accepted=span, fix="check the unit")


def check_orifice_diameter(
    diameter_m: float,
    entry: object,
    *,
    key: str = "",
    allow_outside: bool = False,
    own: Path | None = None,
) -> None:
    """Refuse an orifice diameter outside the range of domestic burners, naming the drill it may have been.

    diameter_m : as read [m]; entry : as written, text or a pint quantity
    allow_outside : the user confirms it; own : rows instead of those of ``inputs``
    Raises UserError.

    >>> check_orifice_diameter(0.0014, "1.40 mm")
    """
    low, high, words = _range("orifice_diameter", own)
    if allow_outside or low <= diameter_m <= high:
        return
    text = str(entry)
    span = f"{low * 1000:g} to {high * 1000:g} mm"
    fix = _meant_diameter(text, low, high) or "check the unit and the mark on the orifice"
    what = f"{show(diameter_m, Kind.DIAMETER, unit='mm')} is outside {span} for {words}"
    raise refuse(what, text, key, accepted=span, fix=fix)


def _meant_diameter(text: str, low_m: float, high_m: float) -> str:
    written = _written(text)
    if written is None:
        return ""
    drills = {row["size"]: float(row["diameter_mm"]) for row in tables.rows("drills")}
    value = written.number
    name = f"#{value:.0f}"
    if (
        written.unit.lower() in ("", "mm")
        and value == int(value)
        and name in drills
        and drills[name] >= low_m * 1000
    ):
        return f"write {name} or {drills[name]:.3f} mm"
    near = ((value, "mm"), (value / 100, "mm"))  # injector marks are in hundredths of a millimetre
    return next((f"is {v:g} {u} meant?" for v, u in near if low_m * 1000 <= v <= high_m * 1000), "")
