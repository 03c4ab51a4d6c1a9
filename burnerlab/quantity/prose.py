"""Running text and columns of printed figures in the units of a reader: each figure by the unit that stands with it.

A text that quotes its quantities (``quantity_text``) is exact; here a figure keeps as many digits as it was printed
with, three at least. What a drill is called, ``1.40 mm``, is a name and stays.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache, partial

from burnerlab import tables
from burnerlab.quantity.drill_size import MARK_HINT
from burnerlab.quantity.examples import us_example
from burnerlab.quantity.inputs import NEEDS_UNIT
from burnerlab.quantity.quantity_text import QuantityText, QuotedQuantity, has_places, in_places, text_in
from burnerlab.quantity.show import (
    BORE_PLACES,
    System,
    display_unit,
    from_unit,
    in_unit,
    number,
    unit_named,
)
from burnerlab.quantity.units import Kind
from burnerlab.tables.phrase import applied
from burnerlab.tables.problem import Problem

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
MARGIN = r" ?± ?"
SINGLE = rf"{START}(?P<low>{FIGURE})(?:(?P<to> to |-|\.\.|{MARGIN})(?P<high>{FIGURE}))? (?P<unit>{UNIT})(?![\w/²³])"
"""A figure, two ends, or a figure and what it is uncertain by, which of a temperature is a difference."""
BOTH = rf"(?P<metric>(?:{FIGURE}) (?:{UNIT})) \((?P<US>[^()]*?(?:{US_UNIT}))\)"
STATE = (
    r"[\d.]+ °?[CF] / [\d.]+ °?[CF], [\d.]+ k?[A-Za-z]+(?:, (?:dry|saturated))?"
    r"(?: \([\d.]+ °?[CF] / [\d.]+ °?[CF]\))?"
)
"""A reference state, as ``ReferenceState.words`` prints it, or with its name in brackets as ``state_in`` makes it."""
STATE_PARTS = re.compile(
    r"(?P<pair>(?P<first>[\d.]+) °?(?P<degree>[CF]) / (?P<second>[\d.]+) °?(?P<other>[CF])), "
    r"(?P<pressure>[\d.]+) (?P<unit>kPa|Pa|psia|inHg)(?P<humidity>, (?:dry|saturated))?(?! \()"
)
METRIC_FIRST = re.compile(rf"{START}((?:{FIGURE}) (?:{UNIT})) \(((?:about )?(?:{FIGURE}) (?:{US_UNIT}))\)")
US_FIRST = re.compile(rf"{START}((?:{FIGURE}) (?:{US_UNIT})) \(((?:about )?(?:{FIGURE}) (?:{UNIT}))\)")
POWER = re.compile(r"(?<![\w.])(m|cm|mm|ft|in)([23])(?![\w.])")
DEGREE = re.compile(r"(?<![\w#])(\d[\d.]* )([CF])(?![\w°-])")
OF_HEAD = re.compile(rf"(?<![\w/.°(])(?<!\(m2 )({UNIT})(?![\w/(²³])")
SENTENCE_END = re.compile(r"w\.c\.\.(?!\.)")
NUMBER = re.compile(rf"(?<![\w.#])(?:{FIGURE})(?!\s*%)")


def prose_in(system: System, names: Iterable[str] = ()) -> Callable[[str], str]:
    """What turns the figures of a running text into the units of the reader; names, as of drills, stay.

    Of a figure in both systems the reader's stands first. As many digits are printed as were, three at least.

    >>> words = prose_in("US", names=("1.00 mm",))
    >>> words("1.00 mm at 2.74 kPa (11.00 in w.c.), 542 to 872 C, 12 %")
    '1.00 mm at 11.00 in w.c. (2.74 kPa), 1010 to 1600 °F, 12 %'
    """
    if system == "metric":
        return partial(applied, partial(state_in, system="metric"))
    pattern = _pattern_beside(tuple(names))

    def word(hit: re.Match[str]) -> str:
        if hit["metric"]:
            return f"{hit['US']} ({hit['metric']})"
        if hit["unit"] is None:
            return state_in(hit[0], "US")
        ends = [end for end in (hit["low"], hit["high"]) if end is not None]
        kind, unit = KINDS[hit["unit"]], hit["unit"]
        has_margin = re.fullmatch(MARGIN, hit["to"] or "") is not None
        if kind is Kind.GAUGE_PRESSURE and hit.string.startswith(" absolute", hit.end()):
            kind = Kind.ABSOLUTE_PRESSURE
        largest = max((_value(end) for end in (ends[:1] if has_margin else ends)), key=abs)
        chosen, _ = display_unit(from_unit(largest, kind, unit), kind, system)
        if has_margin:
            margin = _margin(ends[1], kind, unit, chosen)
            return f"{_converted(ends[0], kind, unit, chosen)}{hit['to']}{margin} {chosen}"
        return f"{(hit['to'] or '').join(_converted(end, kind, unit, chosen) for end in ends)} {chosen}"

    def changed(text: str) -> str:
        return SENTENCE_END.sub("w.c.", pattern.sub(word, text))

    return partial(applied, changed)


@lru_cache(maxsize=64)
def _pattern_beside(names: tuple[str, ...]) -> re.Pattern[str]:
    """What is to be changed in a text, the names that stay before it."""
    kept = sorted({name for name in names if re.search(rf"\d (?:{UNIT})\b", name)}, key=len, reverse=True)
    first = "|".join((STATE, *(rf"{START}{re.escape(name)}" for name in kept)))
    return re.compile(f"{first}|{START}{BOTH}|{SINGLE}")


def state_in(text: str, system: System) -> str:
    """A text with its reference states in the units of the reader, the temperatures that name one in brackets.

    >>> state_in("at 15 °C / 15 °C, 101.325 kPa, dry", "US")
    'at 59 °F / 59 °F, 14.696 psia, dry (15 °C / 15 °C)'
    >>> state_in("at 60 °F / 60 °F, 14.73 psia, dry", "metric")
    'at 15.56 °C / 15.56 °C, 101.560 kPa, dry (60 °F / 60 °F)'
    """
    own, pressure = ("F", "psia") if system == "US" else ("C", "kPa")

    def word(hit: re.Match[str]) -> str:
        written = ((hit["first"], hit["degree"]), (hit["second"], hit["other"]))
        kelvin = [from_unit(float(text), Kind.TEMPERATURE, f"°{degree}") for text, degree in written]
        pair = " / ".join(f"{round(in_unit(one, Kind.TEMPERATURE, f'°{own}'), 2):g} °{own}" for one in kelvin)
        absolute = from_unit(float(hit["pressure"]), Kind.ABSOLUTE_PRESSURE, hit["unit"])
        at = f"{hit['pressure']} {hit['unit']}"
        if hit["unit"] != pressure:
            at = f"{in_unit(absolute, Kind.ABSOLUTE_PRESSURE, pressure):.3f} {pressure}"
        name = "" if {hit["degree"], hit["other"]} == {own} else f" ({hit['pair']})"
        return f"{pair}, {at}{hit['humidity'] or ''}{name}"

    return STATE_PARTS.sub(word, text)


def in_reader_units(text: str, system: System, names: Iterable[str] | None = None) -> str:
    """A sentence in the units of one reader alone: of a figure in both systems the other is left out.

    names : what stays as it is, as of drills; without it those of the shipped metric lists

    >>> in_reader_units("17.4 mbar (7.00 in w.c.) through 1.40 mm, 3.4 mm apart", "US")
    '7.00 in w.c. through 1.40 mm, 0.134 in apart'
    >>> in_reader_units("5000 ft (1524 m): 17.4 mbar (7.00 in w.c.)", "metric")
    '1524 m: 17.4 mbar'
    """
    reader, other = (1, 2) if system == "metric" else (2, 1)

    def alone(text: str) -> str:
        return METRIC_FIRST.sub(rf"\{reader}", US_FIRST.sub(rf"\{other}", text))

    return prose_in(system, drill_names() if names is None else names)(applied(alone, text_in(text, system)))


QUOTED = re.compile(r'("[^"]*")')
WITHOUT_UNIT = (
    *("a bare number", "a number without a unit", "a drill or a diameter?", "the unit is missing"),
    NEEDS_UNIT,
)
"""How the problem of a number without a unit begins."""
PROPOSED = re.compile(r'write "')
METRIC_VALUE = re.compile(rf"\d ?(?:{UNIT}|bar)(?![\w/])")


def problem_in(problem: Problem, system: System) -> Problem:
    """A problem in the units of a reader, examples to copy by their twins; as it is where the user wrote metric units.

    To a reader in US units no mark of an injector in hundredths of a millimetre is proposed.

    >>> wrong = Problem("above 150 mbar", value="11 psi", fix="write #54 or 1.397 mm; an injector marked 54 is 0.54 mm")
    >>> made = problem_in(wrong, "US")
    >>> made.what, made.fix
    ('above 2.18 psi', 'write #54 or 0.05500 in')
    """
    if system == "metric" or METRIC_VALUE.search(problem.value):
        return problem

    def text_in_units(text: str) -> str:
        parts = QUOTED.split(MARK_HINT.sub("", text))
        return "".join(
            f'"{us_example(part[1:-1])}"' if part.startswith('"') else in_reader_units(part, system)
            for part in parts
        )

    what, accepted, fix = map(text_in_units, (problem.what, problem.accepted, problem.fix))
    if problem.what.startswith(WITHOUT_UNIT) and PROPOSED.match(problem.fix):
        fix = problem.fix  # what the number typed may mean, no examples
    return replace(problem, what=what, accepted=accepted, fix=fix)


@cache
def drill_names() -> tuple[str, ...]:
    """What the shipped drills of metric sizes are called; any other length is quoted, or printed otherwise."""
    return tuple(row["size"] for row in tables.rows("drills") if row["kind"] in ("metric", "hundredth"))


def in_print(text: str) -> str:
    """A text for people: powers of lengths and degrees as they are set in print. Keys and files keep ``m3`` and ``C``.

    >>> in_print("1.03 m3/h at 15 C/15 C through 73 mm2, volume_m3")
    '1.03 m³/h at 15 °C/15 °C through 73 mm², volume_m3'
    """
    text = DEGREE.sub(r"\1°\2", text)
    return POWER.sub(lambda hit: hit[1] + "²³"[int(hit[2]) - 2], text)


def column_in(system: System, head: str, cells: Sequence[str]) -> tuple[str, Sequence[str]]:
    """A column of a table in the units of the reader, where its head names a unit.

    A cell that quotes its quantities (``quantity_text``, without their unit) is exact; of any other its printed
    figures are taken. A column of so many decimals in each row stays one: no coarser than it was, of bores as on every
    paper.

    >>> column_in("US", "kW gross", ["3.604", "26.1 (25.9 to 26.3)", "-"])
    ('Btu/h gross', ['12 300', '89 100 (88 400 to 89 700)', '-'])
    >>> column_in("US", "bore, mm", ["0.950", "1.000"])
    ('bore, in', ['0.0374', '0.0394'])
    """
    named = OF_HEAD.search(head)
    if system == "metric" or named is None:
        return head, cells
    unit, kind = named[1], KINDS[named[1]]
    figures = [part for cell in cells for part in _figures(cell, kind, unit) if isinstance(part, _Figure)]
    chosen, _ = display_unit(max((one.value_SI for one in figures), key=abs, default=0.0), kind, system)
    decimals = _decimals(figures, kind, unit, chosen)

    def cell_in(cell: str) -> str:
        parts = _figures(cell, kind, unit)
        return "".join(
            part.text(kind, chosen, decimals) if isinstance(part, _Figure) else part for part in parts
        )

    def of_cell(cell: str) -> str:
        return in_places(of_cell, cell) if has_places(cell) else applied(cell_in, cell)

    own_head = applied(lambda text: OF_HEAD.sub(chosen, text, count=1), head)
    return own_head, [of_cell(cell) for cell in cells]


@dataclass(frozen=True, slots=True)
class _Figure:
    """A figure of a column: its value, and how it was printed in the unit of the head."""

    value_SI: float
    printed: str

    def text(self, kind: Kind, unit: str, decimals: int | None) -> str:
        value = float(in_unit(self.value_SI, kind, unit))
        sign = "+" if self.printed.startswith("+") and value >= 0.0 else ""
        if decimals is None:
            digits = _digits(self.printed)
            return sign + number(float(f"{value:.{digits}g}"), digits)
        return sign + f"{value:.{decimals}f}"


def _figures(cell: str, kind: Kind, unit: str) -> Iterator[str | _Figure]:
    """The text and the figures of a cell, in turn."""
    for part in cell.parts if isinstance(cell, QuantityText) else (cell,):
        if isinstance(part, QuotedQuantity):
            yield _Figure(part.value_SI, part.text())
            continue
        end = 0
        for hit in NUMBER.finditer(part):
            yield part[end : hit.start()]
            yield _Figure(float(from_unit(_value(hit[0]), kind, unit)), hit[0])
            end = hit.end()
        yield part[end:]


def _decimals(figures: Sequence[_Figure], kind: Kind, unit: str, reader_unit: str) -> int | None:
    """Of every figure of a column that was printed with so many each; None where each keeps its own digits."""
    printed = {len(one.printed.partition(".")[2]) for one in figures}
    if len(printed) != 1:
        return None
    places = printed.pop()
    if kind is Kind.DIAMETER and places == BORE_PLACES.get(unit) and reader_unit in BORE_PLACES:
        return BORE_PLACES[reader_unit]
    step = unit_named(unit, kind).scale.factor / unit_named(reader_unit, kind).scale.factor / 10**places
    after = math.ceil(-math.log10(step))
    return after if after > 0 else None


def _value(text: str) -> float:
    return float(text.replace(" ", ""))


def _converted(text: str, kind: Kind, unit: str, own: str) -> str:
    """A printed figure in another unit, with as many digits and its sign."""
    return _Figure(from_unit(_value(text), kind, unit), text).text(kind, own, None)


def _margin(text: str, kind: Kind, unit: str, own: str) -> str:
    """A printed uncertainty in another unit, with as many digits as it was printed with."""
    ratio = unit_named(unit, kind).scale.factor / unit_named(own, kind).scale.factor
    digits = _printed_digits(text)
    return number(float(f"{_value(text) * ratio:.{digits}g}"), digits)


def _digits(printed: str) -> int:
    return max(_printed_digits(printed), LEAST_DIGITS)


def _printed_digits(printed: str) -> int:
    return max(len(printed.replace(" ", "").replace(".", "").lstrip("-+0")), 1)
