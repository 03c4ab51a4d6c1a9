"""What is printed reads back as the value, within the rounding that was printed."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab import tables
from burnerlab.quantity import Kind, UserError, from_unit, in_unit, number, read, read_at_reference, show
from burnerlab.quantity.units import ABOVE_ZERO, NOT_BELOW_ZERO, Unit, spellings

SEARCH = settings(max_examples=300)
TRIED = 60  # values of each kind and unit
AT_REFERENCE = (Kind.REFERENCE_VOLUME, Kind.REFERENCE_VOLUME_FLOW)
PLAIN_KINDS = [kind for kind in Kind if kind not in AT_REFERENCE]
UNITS = [unit for kind in Kind for unit in dict.fromkeys(spellings(kind).exact.values())]


def back(text: str, kind: Kind) -> float:
    if kind in AT_REFERENCE:
        return read_at_reference(f"{text} at 15C/15C", kind).value
    return read(text, kind)


SIZES = {Kind[row["kind"]]: (float(row["low"]), float(row["high"])) for row in tables.rows("quantity_ranges")}


def of_size(kind: Kind, size: float) -> float:
    """A value that a quantity of this kind can have: the smallest at 0, the largest at 1."""
    low, high = SIZES[kind]
    return float(1.1 * low * (high / low / 1.21) ** size)


def printed_step(text: str) -> float:
    """Half of the last digit printed."""
    mantissa, _, exponent = text.partition("e")
    decimals = len(mantissa.partition(".")[2])
    return 0.5000001 * 10.0 ** (int(exponent or 0) - decimals)


def shown_then_read(kind: Kind, system: str, size: float, sign: int, digits: int) -> None:
    if kind in ABOVE_ZERO or kind in NOT_BELOW_ZERO:
        sign = 1
    value = sign * of_size(kind, size)
    if kind is Kind.TEMPERATURE:
        value = 200.0 + 5400.0 * size
    text = show(value, kind, system=system, digits=digits)  # type: ignore[arg-type]
    unit = text.lstrip("-0123456789e+. ")
    shown = text[: len(text) - len(unit)].replace(" ", "")
    step = printed_step(shown) * in_unit_slope(kind, unit)
    if kind in ABOVE_ZERO and float(shown) == 0:
        return
    assert abs(back(text, kind) - value) <= step + 1e-12 * abs(value)


SYSTEMS = ["metric", "US"]
KIND_NAMES = {"ids": lambda kind: kind.name}
UNIT_NAMES = {"ids": lambda unit: f"{unit.kind.name}-{unit.spelling}"}


def sizes() -> list[float]:
    """Sizes of the values that every kind and unit is tried with, the smallest and the largest among them."""
    return [0.0, 1.0, *np.random.default_rng(60).uniform(size=TRIED - 2)]


def refused(check: Callable[[float], None], values: Iterable[float]) -> list[tuple[float, str]]:
    """Each value that a check does not hold for, and why."""
    found = []
    for value in values:
        try:
            check(value)
        except (AssertionError, UserError) as error:
            found.append((value, str(error)))
    return found


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("kind", Kind, **KIND_NAMES)
def test_shown_then_read(kind: Kind, system: str) -> None:
    places = {size: place for place, size in enumerate(sizes())}
    assert len(places) == TRIED

    def check(size: float) -> None:
        place = places[size]
        shown_then_read(kind, system, size, sign=(1, -1)[place % 2], digits=2 + place % 8)

    assert not refused(check, places)


@SEARCH
@given(
    kind=st.sampled_from(Kind),
    system=st.sampled_from(SYSTEMS),
    size=st.floats(0.0, 1.0),
    sign=st.sampled_from([1, -1]),
    digits=st.integers(2, 9),
)
def test_anything_shown_then_read(kind: Kind, system: str, size: float, sign: int, digits: int) -> None:
    shown_then_read(kind, system, size, sign, digits)


def in_unit_slope(kind: Kind, unit: str) -> float:
    """SI size of one of the unit."""
    return float(from_unit(1.0, kind, unit) - from_unit(0.0, kind, unit))


def there_and_back(unit: Unit, value: float) -> None:
    there = in_unit(value, unit.kind, unit.spelling)
    again = from_unit(there, unit.kind, unit.spelling)
    scale = max(value, abs(unit.scale.offset))  # a temperature scale cannot beat the step of its zero point
    assert abs(again - value) <= 4 * math.ulp(scale)


@pytest.mark.parametrize("unit", UNITS, **UNIT_NAMES)
def test_round_trip_through_every_unit(unit: Unit) -> None:
    assert not refused(lambda size: there_and_back(unit, 1e-6 * 1e15**size), sizes())


@SEARCH
@given(unit=st.sampled_from(UNITS), value=st.floats(1e-6, 1e9))
def test_round_trip_through_any_unit(unit: Unit, value: float) -> None:
    there_and_back(unit, value)


def as_text_and_back(unit: Unit, size: float) -> None:
    value = float(in_unit(of_size(unit.kind, size), unit.kind, unit.spelling))
    there = back(f"{value!r} {unit.spelling}", unit.kind)
    again = in_unit(there, unit.kind, unit.spelling)
    zero = abs(unit.scale.offset / unit.scale.factor)
    assert abs(again - value) <= 4 * math.ulp(max(value, zero))


@pytest.mark.parametrize("unit", UNITS, **UNIT_NAMES)
def test_text_round_trip_in_every_unit(unit: Unit) -> None:
    assert not refused(lambda size: as_text_and_back(unit, size), sizes())


@SEARCH
@given(unit=st.sampled_from(UNITS), size=st.floats(0.0, 1.0))
def test_text_round_trip_in_any_unit(unit: Unit, size: float) -> None:
    as_text_and_back(unit, size)


def test_arrays_convert_like_floats() -> None:
    pressures = np.array([1000.0, 2740.0, 3700.0])
    inches = in_unit(pressures, Kind.GAUGE_PRESSURE, "in w.c.")
    assert inches == pytest.approx([p / 249.08891 for p in pressures])
    assert from_unit(inches, Kind.GAUGE_PRESSURE, "in w.c.") == pytest.approx(pressures, rel=1e-15)


@pytest.mark.parametrize(
    ("value", "kind", "options", "text"),
    [
        (2739.978, Kind.GAUGE_PRESSURE, {"unit": "in w.c."}, "11.00 in w.c."),
        (2739.978, Kind.GAUGE_PRESSURE, {}, "27.40 mbar"),
        (2739.978, Kind.GAUGE_PRESSURE, {"system": "US"}, "11.00 in w.c."),
        (3516.85284, Kind.POWER, {"system": "US"}, "12 000 Btu/h"),
        (3516.85284, Kind.POWER, {}, "3.517 kW"),
        (0.0014, Kind.DIAMETER, {"digits": 3}, "1.40 mm"),
        (293.15, Kind.TEMPERATURE, {"digits": 3}, "20.0 °C"),
        (0.05, Kind.FRACTION, {"digits": 2}, "5.0 %"),
        (0.0, Kind.GAUGE_PRESSURE, {"unit": "kPa"}, "0 kPa"),
        (101325.0, Kind.ABSOLUTE_PRESSURE, {}, "101.325 kPa"),
        (38.6e6, Kind.HEATING_VALUE_VOLUME, {"system": "US"}, "1036.0 Btu/ft3"),
        (9.99996e-4, Kind.DIAMETER, {"digits": 4}, "1.000 mm"),
    ],
)
def test_as_printed(value: float, kind: Kind, options: dict[str, object], text: str) -> None:
    assert show(value, kind, **options) == text  # type: ignore[arg-type]


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_nothing_not_finite_is_printed(value: float) -> None:
    with pytest.raises(ValueError, match="not finite"):
        show(value, Kind.POWER)


def test_wrong_unit_or_system_is_our_own_slip() -> None:
    with pytest.raises(ValueError, match="no unit of power"):
        show(1.0, Kind.POWER, unit="mm")
    with pytest.raises(ValueError, match="metric or US"):
        show(1.0, Kind.POWER, system="imperial")  # type: ignore[arg-type]


def test_numbers() -> None:
    assert number(1234.5) == "1234"
    assert number(-15000.4) == "-15 000"
    assert number(1.5e18, 3) == "1.50e+18"
    assert number(9.9999, 3) == "10.0"
