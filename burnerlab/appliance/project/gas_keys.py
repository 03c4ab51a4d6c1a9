"""Keys of a [gas] table, as ``burnerlab.gas`` reads them."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from burnerlab.appliance.project.keys import Form, Key
from burnerlab.gas.gas import declared_families
from burnerlab.tables import PROVENANCES


def _key(help: str, example: Any, form: Form = "text", choices: tuple[str, ...] = ()) -> Key:
    kind = {"number": "number", "switch": "switch"}.get(form, "word" if choices else "text")
    return Key(help=help, kind=kind, example=example, accepted=", ".join(choices), form=form, choices=choices)


PER = ("mole", "volume", "mass", "liquid volume")

GAS_KEYS: Mapping[str, Key] = MappingProxyType(
    {
        "name": _key("Name to print", "pipeline gas"),
        "title": _key("What it is", "gas of the grid, March"),
        "gross_heating_value": _key("Gross heating value of a volume", "38 MJ/m3"),
        "net_heating_value": _key("Net heating value of a volume", "34.2 MJ/m3"),
        "relative_density": _key("Density over that of dry air at the same state", 0.6, "number"),
        "family": _key("Family of gases it is of", "natural gas", choices=tuple(declared_families())),
        "reference": _key("Reference state of its volumes", "15C/15C"),
        "reference_pressure": _key("Pressure of that state", "101.325 kPa"),
        "saturated": _key("Whether its volumes are saturated with water", False, "switch"),
        "ideal": _key("Whether its figures are those of an ideal gas", False, "switch"),
        "composition": _key("Fraction of each component", {"methane": 0.95, "ethane": 0.05}, "table"),
        "blend": _key(
            "Fraction of each gas of the library, component, or air", {"G20": 0.8, "H2": 0.2}, "table"
        ),
        "per": _key("What the fractions are of", PER[0], choices=PER),
        "normalize": _key("Whether fractions are brought to a sum of one", False, "switch"),
        "uncertainty": _key("Standard uncertainty of each mole fraction", {"methane": 0.0003}, "table"),
        "printed": _key("Figures printed for it, kept beside ours", {"Hs": 37.78}, "table"),
        "source": _key("Where its figures are from", "supplier's analysis"),
        "place": _key("Where in the source", "page 2"),
        "provenance": _key("How they are known", PROVENANCES[0], choices=tuple(PROVENANCES)),
        "note": _key("A note", "sampled in the morning"),
    }
)
"""Each key of a [gas] table: what it means, how it is written, an example."""
