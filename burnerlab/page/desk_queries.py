"""A rate or a pressure that changed as a slip changes it: a query beside the field, which refuses nothing."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from functools import cache, lru_cache

from burnerlab.appliance.project.project_text import schema_fields
from burnerlab.quantity import Kind, read
from burnerlab.tables.problem import UserError

LEAST = 8.0  # times: a change that no other rating or gas of the same burner explains
NEAR = 0.03  # of a ratio of two units: a figure rounded anew is still this near
SAME = 0.05  # of a value: units that differ by less are no slip
PAIRS = {
    Kind.POWER: (("kW", "kBtu/h"), ("kcal/h", "kJ/h")),
    Kind.GAUGE_PRESSURE: (("psi", "kPa"),),
}
"""Units that are taken for each other although neither is a power of ten of the other."""
KINDS = {"heat input": Kind.POWER, Kind.GAUGE_PRESSURE.value: Kind.GAUGE_PRESSURE}
NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?")
MOST_KEYS = 10_000  # whose pattern is remembered
LIST_NUMBER = re.compile(r"\[\d+\]")


@lru_cache(maxsize=MOST_KEYS)
def pattern_of(key: str) -> str:
    """A key without the numbers of its entries.

    >>> pattern_of("burner[2].place[1].x")
    'burner[].place[].x'
    """
    return LIST_NUMBER.sub("[]", key)


@cache
def kinds_of_keys() -> Mapping[str, Kind]:
    """The keys of rates and pressures, by their pattern."""
    return {one.path: KINDS[one.kind] for one in schema_fields() if one.kind in KINDS and one.is_writable}


def kind_of(key: str) -> Kind | None:
    """What a key holds, where it is a rate or a pressure.

    >>> kind_of("burner[2].rate"), kind_of("burner[2].throat")
    (<Kind.POWER: 'power'>, None)
    """
    return kinds_of_keys().get(pattern_of(key))


@cache
def unit_slips(kind: Kind) -> tuple[tuple[float, str], ...]:
    """How many times one unit is another, with their words, of the units that are taken for each other."""
    return tuple(
        (float(read(f"1 {above}", kind)) / float(read(f"1 {below}", kind)), f"{above} and {below}")
        for above, below in PAIRS[kind]
    )


def query_of(kind: Kind, before: str, now: str) -> str:
    """The query of a value against the one before; "" where there is none, or either cannot be read.

    >>> query_of(Kind.POWER, "3.5 kW", "35 kW")
    '10 times the 3.5 kW before: is the decimal point, or the unit, meant?'
    >>> query_of(Kind.POWER, "12.5 kBtu/h", "12.5 kW")
    '3.41 times the 12.5 kBtu/h before, as if kW and kBtu/h were exchanged: is the unit right?'
    >>> query_of(Kind.POWER, "3.5 kW", "4.2 kW")
    ''
    """
    try:
        ratio = float(read(now, kind)) / float(read(before, kind))
    except (UserError, ZeroDivisionError):
        return ""
    if ratio <= 0.0:
        return ""
    size = max(ratio, 1.0 / ratio)
    times = f"{size:.0f}" if size >= 9.95 else f"{size:.2f}".rstrip("0").rstrip(".")
    many = f"{times} times {'the' if ratio > 1.0 else 'less than the'} {before} before"
    for slip, units in unit_slips(kind):
        if abs(size / slip - 1.0) <= NEAR:
            return f"{many}, as if {units} were exchanged: is the unit right?"
    if size >= LEAST:
        is_power = abs(size / 10.0 ** round(math.log10(size)) - 1.0) <= NEAR
        return f"{many}: is {'the decimal point, or the unit,' if is_power else 'that'} meant?"
    if size > 1.0 + SAME and _figure(before) == _figure(now) != "":
        return f"the figure of the {before} before in another unit: is the unit right?"
    return ""


def _figure(text: str) -> str:
    found = NUMBER.match(text.strip())
    return found[0] if found else ""


def queries_of(now: Mapping[str, str], before: Mapping[str, str]) -> dict[str, str]:
    """The queries of the rates and pressures of a text, by key; ``before``: of each key what it was, where it was.

    >>> queries_of({"supply.pressure": "200 mbar"}, {"supply.pressure": "20 mbar"})["supply.pressure"]
    '10 times the 20 mbar before: is the decimal point, or the unit, meant?'
    """
    found = {}
    for key, text in before.items():
        kind = kind_of(key)
        if kind is not None and text and now.get(key) not in (None, "", text):
            query = query_of(kind, text, now[key])
            if query:
                found[key] = query
    return found
