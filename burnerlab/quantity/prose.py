"""Running text and columns of printed figures in the units of a reader: each figure by the unit that stands with it.

A text that quotes its quantities (``quantity_text``) is exact; here a figure keeps as many digits as it was printed
with, three at least. What a drill is called, ``1.40 mm``, is a name and stays.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from functools import cache, partial

from burnerlab import tables
from burnerlab.quantity.quantity_text import text_in
from burnerlab.quantity.show import System, display_unit, from_unit, in_unit, number
from burnerlab.quantity.units import Kind
from burnerlab.tables.phrase import applied

KINDS = {
    "mbar": Kind.GAUGE_PRESSURE,
    "kPa": Kind.GAUGE_PRESSURE,
    "Pa": Kind.GAUGE_PRESSURE,
    "mm": Kind.DIAMETER,
    "m": Kind.LENGTH,
    "mm2": Kind.AREA,
    "cm2": Kind.AREA,
    "W": Kind.POWER,
    "kW": Kind.POWER,
    "kW/m2": Kind.HEAT_FLUX,
    "W/mm2": Kind.HEAT_FLUX,
    "MJ/m3": Kind.HEATING_VALUE_VOLUME,
    "MJ/kg": Kind.HEATING_VALUE_MASS,
    "kg/m3": Kind.DENSITY,
    "kg/h": Kind.MASS_FLOW,
    "g/h": Kind.MASS_FLOW,
    "m3/h": Kind.VOLUME_FLOW,
    "L/h": Kind.VOLUME_FLOW,
    "L": Kind.VOLUME,
    "kg": Kind.MASS,
    "g": Kind.MASS,
    "m/s": Kind.VELOCITY,
    "cm/s": Kind.VELOCITY,
    "°C": Kind.TEMPERATURE,
    "C": Kind.TEMPERATURE,
    "K": Kind.TEMPERATURE_DIFFERENCE,
}
"""What the units that checks, notes and tables are written in are of."""
LEAST_DIGITS = 3
FIGURE = r"[-+]?\d[\d ]*\d(?:\.\d+)?(?![\d.])|[-+]?\d+(?:\.\d+)?(?![\d.])"
UNIT = "|".join(re.escape(unit) for unit in sorted(KINDS, key=len, reverse=True))
US_UNIT = r"in w\.c\.|inHg|psi[ag]?|k?Btu/h|Btu/(?:ft3|lb|h/in2|h/ft2)|ft3/h|ft3|ft/s|ft|in2?|°F|lb/h|lb|oz"
FIRST_UNIT = re.compile(rf"({UNIT})(?![\w/])")
"""That of a value, before what else is said of it: ``kPa`` of ``kPa gauge``."""
START = r"(?<![\w.#/])"  # the second of 15 C/15 C stays with the first
SINGLE = rf"{START}(?P<low>{FIGURE})(?:(?P<to> to |-|\.\.)(?P<high>{FIGURE}))? (?P<unit>{UNIT})(?![\w/²³])"
BOTH = rf"(?P<metric>(?:{FIGURE}) (?:{UNIT})) \((?P<US>[^()]*?(?:{US_UNIT}))\)"
STATE = r"[\d.]+ °?[CF] / [\d.]+ °?[CF], [\d.]+ k?[A-Za-z]+"
"""A reference state: a name, whatever its units."""
METRIC_FIRST = re.compile(rf"{START}((?:{FIGURE}) (?:{UNIT})) \(((?:about )?(?:{FIGURE}) (?:{US_UNIT}))\)")
US_FIRST = re.compile(rf"{START}((?:{FIGURE}) (?:{US_UNIT})) \(((?:about )?(?:{FIGURE}) (?:{UNIT}))\)")
POWER = re.compile(r"(?<![\w.])(m|cm|mm|ft|in)([23])(?![\w.])")
DEGREE = re.compile(r"(?<![\w#])(\d[\d.]* )([CF])(?![\w°-])")
OF_HEAD = re.compile(rf"(?<![\w/.°(])(?<!\(m2 )({UNIT})(?![\w/(²³])")
NUMBER = re.compile(rf"(?<![\w.#])(?:{FIGURE})(?!\s*%)")


def prose_in(system: System, names: Iterable[str] = ()) -> Callable[[str], str]:
    """What turns the figures of a running text into the units of the reader; names, as of drills, stay.

    Of a figure in both systems the reader's stands first. As many digits are printed as were, three at least.

    >>> words = prose_in("US", names=("1.00 mm",))
    >>> words("1.00 mm at 2.74 kPa (11.00 in w.c.), 542 to 872 C, 12 %")
    '1.00 mm at 11.00 in w.c. (2.74 kPa), 1010 to 1600 °F, 12 %'
    """
    if system == "metric":
        return lambda text: text
    kept = sorted({name for name in names if re.search(rf"\d (?:{UNIT})\b", name)}, key=len, reverse=True)
    names = "|".join((STATE, *(rf"{START}{re.escape(name)}" for name in kept)))
    pattern = re.compile(f"{names}|{START}{BOTH}|{SINGLE}")

    def word(hit: re.Match[str]) -> str:
        if hit["metric"]:
            return f"{hit['US']} ({hit['metric']})"
        if hit["unit"] is None:
            return hit[0]
        ends = [end for end in (hit["low"], hit["high"]) if end is not None]
        kind, unit = KINDS[hit["unit"]], hit["unit"]
        if kind is Kind.GAUGE_PRESSURE and hit.string.startswith(" absolute", hit.end()):
            kind = Kind.ABSOLUTE_PRESSURE
        largest = max((_value(end) for end in ends), key=abs)
        chosen, _ = display_unit(from_unit(largest, kind, unit), kind, system)
        return f"{(hit['to'] or '').join(_converted(end, kind, unit, chosen) for end in ends)} {chosen}"

    return partial(applied, partial(pattern.sub, word))


def in_reader_units(text: str, system: System) -> str:
    """A sentence in the units of one reader alone: of a figure in both systems the other is left out.

    >>> in_reader_units("17.4 mbar (7.00 in w.c.) through 1.40 mm, 3.4 mm apart", "US")
    '7.00 in w.c. through 1.40 mm, 0.134 in apart'
    >>> in_reader_units("5000 ft (1524 m): 17.4 mbar (7.00 in w.c.)", "metric")
    '1524 m: 17.4 mbar'
    """
    reader, other = (1, 2) if system == "metric" else (2, 1)

    def alone(text: str) -> str:
        return METRIC_FIRST.sub(rf"\{reader}", US_FIRST.sub(rf"\{other}", text))

    return prose_in(system, drill_names())(applied(alone, text_in(text, system)))


@cache
def drill_names() -> tuple[str, ...]:
    """What the drills of the shipped metric list are called."""
    return tuple(row["size"] for row in tables.rows("drills") if row["kind"] == "metric")


def in_print(text: str) -> str:
    """A text for people: powers of lengths and degrees as they are set in print. Keys and files keep ``m3`` and ``C``.

    >>> in_print("1.03 m3/h at 15 C/15 C through 73 mm2, volume_m3")
    '1.03 m³/h at 15 °C/15 °C through 73 mm², volume_m3'
    """
    text = DEGREE.sub(r"\1°\2", text)
    return POWER.sub(lambda hit: hit[1] + "²³"[int(hit[2]) - 2], text)


def column_in(system: System, head: str, cells: Sequence[str]) -> tuple[str, Sequence[str]]:
    """A column of a table in the units of the reader, where its head names a unit.

    >>> column_in("US", "kW gross", ["3.604", "26.1 (25.9 to 26.3)", "-"])
    ('Btu/h gross', ['12 300', '89 100 (88 400 to 89 700)', '-'])
    """
    named = OF_HEAD.search(head)
    if system == "metric" or named is None:
        return head, cells
    unit, kind = named[1], KINDS[named[1]]
    values = [from_unit(_value(hit), kind, unit) for cell in cells for hit in NUMBER.findall(cell)]
    chosen, _ = display_unit(max(values, key=abs, default=0.0), kind, system)

    def cell_in(cell: str) -> str:
        return NUMBER.sub(lambda hit: _converted(hit[0], kind, unit, chosen), cell)

    own_head = applied(lambda text: OF_HEAD.sub(chosen, text, count=1), head)
    return own_head, [applied(cell_in, cell) for cell in cells]


def _value(text: str) -> float:
    return float(text.replace(" ", ""))


def _converted(text: str, kind: Kind, unit: str, own: str) -> str:
    """A printed figure in another unit, with as many digits and its sign."""
    digits = max(len(text.replace(" ", "").replace(".", "").lstrip("-+0")), LEAST_DIGITS)
    value = float(f"{in_unit(from_unit(_value(text), kind, unit), kind, own):.{digits}g}")
    sign = "+" if text.startswith("+") and value >= 0.0 else ""
    return sign + number(value, digits)
