"""What a number without a unit may mean at a key of a file: the likeliest first, each a text that reads there."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping

from burnerlab.appliance.project.keys import Key
from burnerlab.appliance.project.model import REGIONS, system_of_region
from burnerlab.quantity import Kind
from burnerlab.quantity.inputs import input_row
from burnerlab.quantity.read import read
from burnerlab.quantity.show import System, display_unit
from burnerlab.tables.problem import UserError

NUMBER = re.compile(r"\d+(?:\.\d*)?|\.\d+|(?:\d+[ -])?\d+/\d+", re.ASCII)
MARK = re.compile(r"\d{2,3}", re.ASCII)
RATE_UNIT = re.compile(r"[A-Za-z][A-Za-z/]*\Z")
DRILL = "drill"  # kind of the key of an orifice
UNITS_OF_SIZE: Mapping[str, Mapping[System, tuple[str, ...]]] = {
    Kind.LENGTH.value: {"US": ("in",), "metric": ("mm",)},
    Kind.DIAMETER.value: {"US": ("in",), "metric": ("mm",)},
    DRILL: {"US": ("in",), "metric": ("mm",)},
    Kind.AREA.value: {"US": ("in2",), "metric": ("mm2", "cm2")},
}
"""Units that people leave out, where a size can be meant in more than that of the key's example."""
UNITS_OF_REACH: Mapping[System, tuple[str, ...]] = {"US": ("ft", "in"), "metric": ("m", "mm")}
"""Of a length whose example is in metres."""
LEFT_OUT = (*UNITS_OF_SIZE, Kind.TEMPERATURE.value, Kind.MASS.value, Kind.TEMPERATURE_DIFFERENCE.value)
"""Kinds of key for which units of both systems are proposed."""
FAR = 20.0  # times the usual size of a key: not proposed where another reading is nearer
OTHER_SYSTEM = 3.0  # how many times nearer to the usual size a unit of the other system must be
AS_BESIDE = 8.0  # the same of a unit that the file uses for its like


def units_of(key: Key) -> tuple[str, str]:
    """The units that a quantity is usually written in, metric and US; "" where there is none."""
    if key.source and (row := input_row(key.source)).metric:
        return row.metric, row.US
    kind = Kind.POWER if key.kind == "heat input" else next((k for k in Kind if k.value == key.kind), None)
    if kind is None or not isinstance(key.example, str):
        return "", ""
    try:
        value = float(read(key.example, kind))
    except UserError:
        return "", ""
    return display_unit(value, kind, "metric")[0], display_unit(value, kind, "US")[0]


def readings(number: object, key: Key, region: str, beside: Iterable[str] = ()) -> tuple[str, ...]:
    """The texts that a bare number may stand for at a key of sizes or temperatures; none for any other key.

    region : us, eu or ""; beside : what the file writes at the same key elsewhere

    >>> from burnerlab.appliance.project.project_text import declared_key
    >>> port = declared_key(("burner", 0, "ports", "diameter")).key
    >>> readings("17", port, "us"), readings("1.6", port, "eu"), readings("1/16", port, "us")
    (('#17', '17 mm'), ('1.6 mm',), ('1/16 in',))
    >>> orifice = declared_key(("burner", 0, "orifice", "drill")).key
    >>> readings("54", orifice, "us"), readings("54", orifice, "eu")
    (('#54',), ('0.54 mm', '#54'))
    """
    text = str(number).strip()
    if NUMBER.fullmatch(text) is None or key.kind not in LEFT_OUT:
        return ()
    usual = _size(key, str(key.example))
    found: dict[
        str, tuple[float, float]
    ] = {}  # distance from the usual size, and with what else speaks for it
    for order, (words, system) in enumerate(_candidates(text, key, region)):
        size = _size(key, words)
        if size is None:
            continue
        is_sized = usual and size > 0.0 and key.kind in UNITS_OF_SIZE
        distance = abs(math.log(size / usual)) if usual and is_sized else 0.0
        score = distance + 1e-9 * order
        if system is not None and system != system_of_region(region) and region in REGIONS:
            score += math.log(OTHER_SYSTEM)
        if any(_unit(one) == _unit(words) for one in beside):
            score -= math.log(AS_BESIDE)
        found[words] = (distance, score)
    nearest = min((distance for distance, _ in found.values()), default=0.0)
    near = {
        words: score for words, (distance, score) in found.items() if distance <= max(math.log(FAR), nearest)
    }
    return tuple(sorted(near, key=near.__getitem__))


def list_readings(entries: Iterable[str], key: Key, region: str) -> tuple[str, ...]:
    """What a list may be whose bare numbers are meant in one unit; an entry that is none stays as it is.

    key : of one entry; region : us, eu or ""

    >>> from burnerlab.appliance.project.project_text import declared_key
    >>> orifice = declared_key(("burner", 0, "orifice", "drill")).key
    >>> list_readings(["1.4", "1.45"], orifice, "eu"), list_readings(["54", "letter"], orifice, "us")
    (('1.4 mm, 1.45 mm',), ('#54, letter',))
    """
    meant = [(one, {_unit(each): each for each in readings(one, key, region)[::-1]}) for one in entries]
    units = dict.fromkeys(unit for _, found in meant for unit in reversed(found))
    bare = [(one, found) for one, found in meant if found]
    return tuple(
        ", ".join(found.get(unit, one) for one, found in meant)
        for unit in units
        if all(unit in found for _, found in bare)
    )


MOST_RATIO = 10.0  # a larger number of a turndown is rather a percentage


def turndown_readings(number: str, rate: str) -> tuple[str, ...]:
    """What a bare number, or a fraction, may mean as a turndown; rate : the full rate beside it, with its unit.

    >>> turndown_readings("3", "12 kBtu/h"), turndown_readings("0.3", ""), turndown_readings("1/3", "")
    (('1:3',), ('30 %',), ('1:3',))
    >>> turndown_readings("30", "3.5 kW"), turndown_readings("4000", "12 000 Btu/h")
    (('30 %',), ('4000 Btu/h',))
    >>> turndown_readings("800", "3.5 kW")
    ('800 W', '800 kW')
    """
    text = number.strip()
    if NUMBER.fullmatch(text) is None:
        return ()
    if text.startswith("1/"):
        return (f"1:{text[2:]}",)
    if "/" in text:
        return ()
    value, unit = float(text), RATE_UNIT.search(rate)
    if 0.0 < value < 1.0:
        found = [f"{100.0 * value:g} %"]
    elif value <= 100.0:
        found = [f"1:{text}"] if value <= MOST_RATIO else [f"{text} %"]
    else:
        found = [f"{text} {one}" for one in (unit[0].removeprefix("k"), unit[0])] if unit else []
    return tuple(dict.fromkeys(found))


def _candidates(text: str, key: Key, region: str) -> Iterator[tuple[str, System | None]]:
    """Texts with the number, each with the system of units that it is one of; None for none."""
    is_whole = text.isdigit()
    if is_whole and (key.kind == DRILL or key.or_drill):
        yield f"#{int(text)}", "US" if region == REGIONS[1] else None
    if key.kind == DRILL and MARK.fullmatch(text) and (region != REGIONS[0] or int(text) > 97):
        yield f"{int(text) / 100:.2f} mm", "metric"  # hundredths of a millimetre, as injectors are marked
    metric, US = units_of(key)
    units = UNITS_OF_SIZE.get(key.kind, {"US": (US,), "metric": (metric,)})
    if str(key.example).endswith(" m"):
        units = UNITS_OF_REACH
    systems: tuple[System, System] = ("US", "metric") if region == REGIONS[0] else ("metric", "US")
    for system in systems:
        for unit in units[system] if "/" not in text or system == "US" else ():
            yield f"{text} {unit.replace('°', '')}", system


def _size(key: Key, text: str) -> float | None:
    """A text in SI as the key reads it; None where it does not."""
    if key.reader is None:
        return None
    try:
        value = key.reader(text)
    except UserError:
        return None
    value = value[0] if isinstance(value, tuple) else value
    return float(value) if isinstance(value, int | float) else None


def _unit(text: str) -> str:
    """What stands behind the number of a text; # for a number drill."""
    return "#" if text.startswith("#") else NUMBER.sub("", text, count=1).strip()
