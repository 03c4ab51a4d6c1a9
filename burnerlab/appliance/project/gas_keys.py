"""Keys of a [gas] table, as ``burnerlab.gas`` reads them."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from burnerlab.appliance.project.keys import Form, Key
from burnerlab.gas.composition import PER
from burnerlab.gas.gas import declared_families
from burnerlab.gas.library import DENSITIES
from burnerlab.quantity.inputs import input_row
from burnerlab.quantity.reference_state import presets
from burnerlab.quantity.units import Kind
from burnerlab.tables import PROVENANCES

HEATING_VALUE, STATE, FRACTIONS = Kind.HEATING_VALUE_VOLUME.value, "reference state", "table of numbers"

PRESSURE = "reference_pressure"  # row of its range


def _key(
    help: str,
    example: Any,
    form: Form = "text",
    choices: tuple[str, ...] = (),
    kind: str = "",
    accepted: str = "",
    source: str = "",
) -> Key:
    usual = {"number": "number", "switch": "switch"}.get(form, "word" if choices else "text")
    words = accepted or {"switch": "true, false"}.get(form, ", ".join(choices))
    return Key(
        help=help,
        kind=kind or usual,
        example=example,
        accepted=words,
        form=form,
        choices=choices,
        source=source,
    )


def _heating_value(help: str, example: str, accepted: str) -> Key:
    return _key(help, example, kind=HEATING_VALUE, accepted=accepted)


def _fractions(help: str, example: Mapping[str, float], accepted: str) -> Key:
    return _key(help, example, "table", kind=FRACTIONS, accepted=accepted)


def _pressure_span() -> str:
    row = input_row(PRESSURE)
    return f"{row.low / 1e3:g} kPa to {row.high / 1e3:g} kPa"


GAS_KEYS: Mapping[str, Key] = MappingProxyType(
    {
        "name": _key("Name to print", "pipeline gas"),
        "title": _key("What it is", "gas of the grid, March"),
        "gross_heating_value": _heating_value(
            "Gross heating value of a volume", "38 MJ/m3", "above 0; MJ/m3, kWh/m3, Btu/ft3"
        ),
        "net_heating_value": _heating_value(
            "Net heating value of a volume", "34.2 MJ/m3", "70 % to 100 % of the gross heating value"
        ),
        "relative_density": _key(
            "Density over that of dry air at the same state",
            0.6,
            "number",
            accepted=f"above {DENSITIES[0]:g}, below {DENSITIES[1]:g}",
        ),
        "family": _key("Family of gases it is of", "natural gas", choices=tuple(declared_families())),
        "reference": _key(
            "Reference state of its volumes: temperature of combustion / of metering",
            "15C/15C",
            kind=STATE,
            accepted=f"two temperatures of 0, 15, 20, 25 °C, 60 °F; or {', '.join(presets())}",
        ),
        "reference_pressure": _key(
            "Pressure of that state, next to reference",
            "101.325 kPa",
            kind=Kind.ABSOLUTE_PRESSURE.value,
            accepted=_pressure_span(),
            source=PRESSURE,
        ),
        "saturated": _key("Whether its volumes are saturated with water, next to reference", False, "switch"),
        "ideal": _key("Whether its figures are those of an ideal gas", False, "switch"),
        "composition": _fractions(
            "Fraction of each component",
            {"methane": 0.95, "ethane": 0.05},
            "0 to 1, or per cent; sum 1 or 100",
        ),
        "blend": _fractions(
            "Fraction of each gas of the library, component, or air",
            {"G20": 0.8, "H2": 0.2},
            "0 to 1, or per cent; sum 1 or 100",
        ),
        "per": _key("What the fractions are of", PER[0], choices=PER),
        "normalize": _key("Whether fractions are brought to a sum of one", False, "switch"),
        "uncertainty": _fractions(
            "Standard uncertainty of each mole fraction", {"methane": 0.0003}, "0 to below 1"
        ),
        "printed": _key(
            "Figures printed for it, kept for comparison with ours",
            {"Hs": 37.78},
            "table",
            kind="table",
            accepted="numbers and texts",
        ),
        "source": _key("Where its figures are from", "supplier's analysis"),
        "place": _key("Where in the source", "page 2"),
        "provenance": _key("How they are known", PROVENANCES[0], choices=tuple(PROVENANCES)),
        "note": _key("A note", "sampled in the morning"),
    }
)
"""Each key of a [gas] table: what it means, how it is written, an example."""

WHEN_NEEDED: Mapping[str, str] = MappingProxyType(
    {
        "gross_heating_value": "unless composition or blend is written",
        "relative_density": "next to gross_heating_value",
        "reference": 'next to gross_heating_value, unless that names its state ("38 MJ/m3 at 15C/15C")',
        "per": "next to composition or blend",
    }
)
"""The keys that one of the others needs."""
