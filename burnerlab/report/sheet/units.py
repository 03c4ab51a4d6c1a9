"""The units of a reader in what an appliance's checks found: values by their kind."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

from burnerlab.appliance.conversion.result import Conversion, Finding
from burnerlab.quantity import Kind, System, from_unit, in_unit
from burnerlab.quantity.prose import FIRST_UNIT, KINDS, in_reader_units, prose_in
from burnerlab.quantity.quantity_text import QuantityText, text_in
from burnerlab.quantity.show import display_unit

BASE = re.compile(r"(?<=at )(\d+) C/(\d+) C")


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


def texts_in(c: Conversion, system: System) -> Conversion:
    """A conversion whose steps, notes, open questions and supply are in the units of the reader, for CSV and workbook.

    Its figures and checks stay: a table converts those cell by cell.
    """
    if system == "metric":
        return replace(c, prompts=tuple(in_reader_units(one, system) for one in c.prompts))
    prose = prose_in(system, drill_names(c))

    def words(text: str) -> str:
        return text_in(text, system) if isinstance(text, QuantityText) else prose(text)

    return replace(
        c,
        prompts=tuple(in_reader_units(one, system, drill_names(c)) for one in c.prompts),
        notes=tuple(map(words, c.notes)),
        reference=words(c.reference),
        not_evaluated=tuple(replace(one, why=words(one.why)) for one in c.not_evaluated),
        supply_of_new_gas=words(c.supply_of_new_gas),
    )


def finding_in(finding: Finding, system: System) -> Finding:
    """A check in the units of the reader: its text, its value, its range and its unit.

    >>> from burnerlab.tables.verdict import Verdict
    >>> hole = Finding(topic="bore", verdict=Verdict.WITHIN, text="", value=1.27, unit="mm", low=0.254)
    >>> made = finding_in(hole, "US")
    >>> round(made.value, 6), round(made.low, 6), made.unit
    (0.05, 0.01, 'in')
    >>> wobbe = replace(hole, value=50.0, low=None, unit="MJ/m3 gross Wobbe at 15 C/15 C")
    >>> finding_in(wobbe, "US").unit
    'Btu/ft3 gross Wobbe at 59 °F/59 °F'
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
    rest = BASE.sub(_base_in_fahrenheit, finding.unit[len(unit) :])
    return replace(finding, text=text, unit=chosen + rest, **ends)


def _base_in_fahrenheit(hit: re.Match[str]) -> str:
    """The temperatures of a reference state as they are read on a page in US units: 15 C/15 C is 59 °F/59 °F."""
    ends = (_converted(float(celsius), Kind.TEMPERATURE, "°C", "°F") for celsius in hit.groups())
    return "/".join(f"{end:g} °F" for end in ends)


def drill_names(c: Conversion) -> tuple[str, ...]:
    """What drills and present orifices are called: ``1.00 mm`` is a name, and stays in US units."""
    policies = () if c.altitude is None else (c.altitude.sea_level, *c.altitude.rows)
    of_policies = (bore.drill for policy in policies for bore in policy.bores)
    of_burners = (n for b in c.burners for n in (b.from_drill, *(d.drill for d in b.choices)))
    return tuple(dict.fromkeys((*of_burners, *of_policies)))


def _converted(value: float, kind: Kind, unit: str, own: str) -> float:
    return float(f"{in_unit(from_unit(value, kind, unit), kind, own):.12g}")  # 1000 °F, not 999.9999999999998
