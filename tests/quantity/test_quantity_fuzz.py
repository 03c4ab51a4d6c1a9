"""Whatever is typed: a value, or a complaint that helps; never another error and never a wait."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from burnerlab.quantity import (
    Kind,
    ReferenceState,
    UserError,
    check_low_pressure,
    check_orifice_diameter,
    read,
    read_at_reference,
    read_bore,
    read_heating_value,
    read_rate,
)
from burnerlab.quantity.read import EXAMPLES
from burnerlab.quantity.units import spellings

QUICK = settings(max_examples=150)
WORDS = sorted({text for kind in Kind for text in spellings(kind).exact})
PIECES = st.sampled_from(
    [
        *WORDS,
        "1",
        "15 000",
        "1e3",
        "1/16",
        "-",
        ".",
        ",",
        "#54",
        " at ",
        "60F",
        " gross",
        "(",
        ")",
        "/",
        "**",
        "µ",
    ]
)
ANYTHING = st.one_of(
    st.text(max_size=60),
    st.lists(PIECES, max_size=6).map("".join),
    st.lists(PIECES, max_size=6).map(" ".join),
    st.floats().map(repr),
    st.tuples(st.floats(), st.sampled_from(WORDS)).map(lambda pair: f"{pair[0]!r} {pair[1]}"),
)
READERS: list[Callable[[Any], Any]] = [
    lambda text: [outcome(lambda given, kind=kind: read(given, kind), text) for kind in PLAIN],
    lambda text: [
        outcome(lambda given, kind=kind: read_at_reference(given, kind).value, text) for kind in AT
    ],
    lambda text: outcome(lambda given: read_rate(given).power_W, text),
    lambda text: outcome(lambda given: read_heating_value(given).value, text),
    lambda text: outcome(lambda given: read_bore(given).diameter_m, text),
    lambda text: outcome(lambda given: ReferenceState.read(given).pressure_Pa, text),
    lambda text: outcome(lambda given: check_low_pressure(1e6, given) or 0.0, text),
    lambda text: outcome(lambda given: check_orifice_diameter(1.0, given) or 0.0, text),
]
AT = (Kind.REFERENCE_VOLUME, Kind.REFERENCE_VOLUME_FLOW)
PLAIN = [kind for kind in Kind if kind not in AT]


def outcome(reader: Callable[[Any], float], given: object) -> float | None:
    try:
        value = reader(given)
    except UserError:
        return None
    assert math.isfinite(value)
    return value


@pytest.mark.parametrize(
    "reader", READERS, ids=["read", "at", "rate", "heat", "bore", "state", "low", "orifice"]
)
@QUICK
@given(text=ANYTHING)
@example(text="1 kPa\n")
@example(text="\x00")
@example(text="1/16/2 in")
@example(text="²")
@example(text="#²")
@example(text="1e999999 kPa")
@example(text="\ud800 kPa")
def test_any_text(reader: Callable[[Any], Any], text: str) -> None:
    reader(text)


@pytest.mark.parametrize(
    "reader", READERS, ids=["read", "at", "rate", "heat", "bore", "state", "low", "orifice"]
)
@pytest.mark.parametrize(
    "given",
    [None, True, 3, 2.5, math.nan, 10**400, b"1", [], {}, object(), Kind.POWER],
    ids=lambda value: f"{type(value).__name__}",
)
def test_any_object(reader: Callable[[Any], Any], given: object) -> None:
    reader(given)


@pytest.mark.parametrize(
    "text",
    [
        "10**10**8 kPa",
        "1" * 1_000_000 + " kPa",
        " 1" * 500_000,
        "1 000" * 200_000,
        "(" * 100_000,
        "1 kPa" + " " * 1_000_000 + "x",
        "1/" * 300_000,
        "1 at " * 200_000,
        "1 per " * 200_000,
        "a " * 500_000 + "!",
    ],
    ids=range(10),
)
def test_long_or_nasty_text_is_refused_at_once(text: str) -> None:
    start = time.process_time()
    for reader in READERS:
        reader(text)
    assert time.process_time() - start < 5.0  # a quadratic pattern would take minutes


@pytest.mark.parametrize("kind", PLAIN, ids=lambda kind: kind.name)
@pytest.mark.parametrize("number", ["1e308", "-1e308", "1e-308", "1e30", "1e-30", "9" * 60])
def test_a_size_that_nothing_has_is_refused_with_the_range(kind: Kind, number: str) -> None:
    unit = EXAMPLES[kind].split(" ", 1)[1]
    if kind is Kind.TEMPERATURE:
        unit = "K"  # 1e-308 C is as good as 0 C
    with pytest.raises(UserError, match=r"has this size|must not be negative|must be above"):
        read(f"{number} {unit}".strip(), kind)
