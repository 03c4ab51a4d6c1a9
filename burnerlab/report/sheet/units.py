"""The units of a reader in what an appliance's checks found: values by their kind, prose by its figures."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

from burnerlab.appliance.conversion.result import Conversion, Finding
from burnerlab.quantity import Kind, System, from_unit, in_unit
from burnerlab.quantity.quantity_text import text_in
from burnerlab.quantity.show import display_unit
from burnerlab.report.sheet.blocks import digits

KINDS = {
    "mbar": Kind.GAUGE_PRESSURE,
    "kPa": Kind.GAUGE_PRESSURE,
    "Pa": Kind.GAUGE_PRESSURE,
    "mm": Kind.DIAMETER,
    "kW": Kind.POWER,
    "kW/m2": Kind.HEAT_FLUX,
    "W/mm2": Kind.HEAT_FLUX,
    "MJ/m3": Kind.HEATING_VALUE_VOLUME,
    "kg/h": Kind.MASS_FLOW,
    "m3/h": Kind.VOLUME_FLOW,
    "°C": Kind.TEMPERATURE,
    "C": Kind.TEMPERATURE,
    "K": Kind.TEMPERATURE_DIFFERENCE,
}
"""What the units that checks and notes are written in are of."""
FIGURE = r"-?\d[\d ]*\d(?:\.\d+)?(?![\d.])|-?\d+(?:\.\d+)?(?![\d.])"
UNIT = "|".join(re.escape(unit) for unit in sorted(KINDS, key=len, reverse=True))
FIRST_UNIT = re.compile(rf"({UNIT})(?![\w/])")
"""That of a value, before what else is said of it: ``kPa`` of ``kPa gauge``."""


def conversion_in(c: Conversion, system: System) -> Conversion:
    """A conversion whose checks and open questions are told in the units of the reader."""
    if system == "metric":
        return c
    return replace(
        c,
        findings=tuple(finding_in(found, system) for found in c.findings),
        not_evaluated=tuple(replace(one, why=text_in(one.why, system)) for one in c.not_evaluated),
        supply_of_new_gas=text_in(c.supply_of_new_gas, system),
    )


def finding_in(finding: Finding, system: System) -> Finding:
    """A check in the units of the reader: its text, its value, its range and its unit.

    >>> from burnerlab.tables.verdict import Verdict
    >>> hole = Finding(topic="bore", verdict=Verdict.WITHIN, text="", value=1.27, unit="mm", low=0.254)
    >>> made = finding_in(hole, "US")
    >>> round(made.value, 6), round(made.low, 6), made.unit
    (0.05, 0.01, 'in')
    """
    if system == "metric":
        return finding
    text, first = text_in(finding.text, system), FIRST_UNIT.match(finding.unit or "")
    if finding.value is None or first is None:
        return replace(finding, text=text)
    unit, kind = first[1], KINDS[first[1]]
    chosen, _ = display_unit(from_unit(finding.value, kind, unit), kind, system)
    ends: dict[str, Any] = {
        name: None if (value := getattr(finding, name)) is None else _converted(value, kind, unit, chosen)
        for name in ("value", "low", "high", "value_low", "value_high")
    }
    return replace(finding, text=text, unit=chosen + finding.unit[len(unit) :], **ends)


def drill_names(c: Conversion) -> tuple[str, ...]:
    """What drills and present orifices are called: ``1.00 mm`` is a name, and stays in US units."""
    return tuple(dict.fromkeys(n for b in c.burners for n in (b.from_drill, *(d.drill for d in b.choices))))


def _converted(value: float, kind: Kind, unit: str, own: str) -> float:
    return float(f"{in_unit(from_unit(value, kind, unit), kind, own):.12g}")  # 1000 °F, not 999.9999999999998


def prose_in(system: System, names: Iterable[str] = ()) -> Callable[[str], str]:
    """What turns the figures of a running text into the units of the reader; names, as of drills, stay.

    Of a figure in both systems the reader's stands first. As many digits are printed as were, three at least.

    >>> words = prose_in("US", names=("1.00 mm",))
    >>> words("1.00 mm at 2.74 kPa (11.00 in w.c.), 542 to 872 C, 12 %")
    '1.00 mm at 11.00 in w.c. (2.74 kPa), 1010 to 1600 °F, 12 %'
    """
    if system == "metric":
        return str
    kept = sorted({name for name in names if re.search(rf"\d (?:{UNIT})\b", name)}, key=len, reverse=True)
    both = rf"(?P<metric>(?:{FIGURE}) (?:{UNIT})) \((?P<US>[^()]*?(?:in w\.c\.|inHg|psi|Btu/h|in|°F|ft3?|lb/h))\)"
    single = rf"(?P<low>{FIGURE})(?: to (?P<high>{FIGURE}))? (?P<unit>{UNIT})(?![\w/])"
    start = r"(?<![\w.#/])"  # the second of 15 C/15 C stays with the first
    pattern = re.compile("|".join((*map(re.escape, kept), f"{start}{both}", f"{start}{single}")))

    def word(hit: re.Match[str]) -> str:
        if hit["metric"]:
            return f"{hit['US']} ({hit['metric']})"
        if hit["unit"] is None:
            return hit[0]
        kind, unit = KINDS[hit["unit"]], hit["unit"]
        ends = [end for end in (hit["low"], hit["high"]) if end is not None]
        values = [float(end.replace(" ", "")) for end in ends]
        chosen, _ = display_unit(from_unit(max(values, key=abs), kind, unit), kind, system)
        shown = [
            digits(_converted(value, kind, unit, chosen), max(_significant(end), 3))
            for value, end in zip(values, ends, strict=True)
        ]
        return f"{' to '.join(shown)} {chosen}"

    return lambda text: pattern.sub(word, text)


def _significant(figure: str) -> int:
    return len(figure.replace(" ", "").replace(".", "").lstrip("-0"))
