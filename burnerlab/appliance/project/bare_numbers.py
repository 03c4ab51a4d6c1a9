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
