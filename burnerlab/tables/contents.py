"""What a table that a user may replace holds: which columns name a row, which hold numbers, which names are known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

FIGURE = ("value", "low", "high")
Own = Literal["stand in", "replace"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """The declaration of one replaceable table.

    Columns of the shipped table that are neither named in ``spare`` nor say where a row is from are needed in a
    user's; no other column is taken.
    """

    key: tuple[str, ...]  # columns that name a row together
    numbers: tuple[str, ...] = ()
    positive: tuple[str, ...] = ()  # of the numbers, those above zero
    unsigned: tuple[str, ...] = ()  # of the numbers, those of zero or more
    empty: tuple[str, ...] = ()  # columns whose cells may be empty
    spare: tuple[str, ...] = ()  # columns that may be left out
    former: tuple[str, ...] = ()  # columns of earlier versions: taken, and not used
    names: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Columns whose words are those of "table.column", after a word before it if any, or are the word itself."""
    complete: str = ""  # column of the key whose every shipped word each group of own rows must have
    own: Own = "replace"  # own rows stand in for ours of the same key, or replace the whole table


def _figures(table: str, *more: str, **rest: object) -> Contents:
    """A table of figures by name, each with its range; own rows stand in for ours."""
    names = {"name": (f"{table}.name", *more)}
    return Contents(key=("name",), numbers=FIGURE, names=names, own="stand in", **rest)  # type: ignore[arg-type]


def _words(table: str, *columns: str) -> dict[str, tuple[str, ...]]:
    return {column: (f"{table}.{column}",) for column in columns}


COMPONENT = "gas_components.name"
CONTENTS: Mapping[str, Contents] = {
    # [tables] of a project file
    "drill_tolerance": Contents(
        key=("up_to_mm",), numbers=("up_to_mm", "oversize_mm", "undersize_mm"), positive=("up_to_mm",),
        unsigned=("oversize_mm", "undersize_mm"),
    ),
    "discharge": Contents(
        key=("shape",),
        numbers=(
            "coefficient", "low", "high", "l_over_d_low", "l_over_d_high", "reynolds_low", "reynolds_high"
        ),
        positive=("coefficient", "low", "high"),
        empty=("l_over_d_low", "l_over_d_high", "reynolds_low", "reynolds_high", "correlation"),
        names=_words("discharge", "correlation"),
    ),
    "altitude_policies": Contents(
        key=("policy", "from_ft"),
        numbers=("from_ft", "to_ft", "counted_from_ft", "per_1000ft", "step"),
        empty=("from_ft", "to_ft", "beyond"),
        spare=("region",),
        names=_words("altitude_policies", "region"),
    ),
    "input_tolerances": Contents(
        key=("name",),
        numbers=("low_percent", "high_percent"),
        spare=("default_for",),
        names=_words("input_tolerances", "default_for"),
    ),
    "supply_pressures": Contents(
        key=("region", "category", "family", "reference_gas", "nominal_from", "unit", "couple"),
        numbers=("nominal_from", "nominal_to", "low", "high"),
        positive=("nominal_from", "nominal_to", "low", "high"),
        empty=("low", "high", "couple"),
        names=_words("supply_pressures", "unit"),
    ),
    "supply_limits": _figures("supply_limits"),
    "regulators": Contents(
        key=("regulator", "quantity"),
        numbers=FIGURE,
        names=_words("regulators", "quantity"),
        complete="quantity",
    ),
    "pipes": Contents(key=("name",), numbers=("bore_mm",), positive=("bore_mm",)),
    "fittings": Contents(key=("name",), numbers=FIGURE),
    "roughness": Contents(key=("material",), numbers=("value_m", "low_m", "high_m")),
    "burner_coefficients": _figures("burner_coefficients", positive=FIGURE, empty=("low", "high")),
    "port_limits": Contents(
        key=("name", "group"),
        numbers=("low", "high", "near_low", "near_high"),
        empty=("low", "high", "near_low", "near_high"),
        former=("trust",),
        names={"name": ("port_limits.name",), "group": ("port_limits.group", "other gas")},
        own="stand in",
    ),
    "tile_properties": _figures("tile_properties", f"ignition {COMPONENT}", f"offset {COMPONENT}"),
    "friction_formulas": Contents(
        key=("formula", "name"),
        numbers=("value",),
        spare=("low", "high"),
        names=_words("friction_formulas", "formula", "name"),
        own="stand in",
    ),
    "interchange": Contents(
        key=("method", "symbol", "item"),
        numbers=("value",),
        empty=("item",),
        names={**_words("interchange", "method", "symbol"), "item": ("interchange.item", COMPONENT)},
        own="stand in",
    ),
    # options of commands, and arguments of functions
    "bench_limits": Contents(
        key=("name",),
        numbers=("low", "high"),
        names=_words("bench_limits", "name"),
        empty=("what",),
        own="stand in",
    ),
    "causes": Contents(
        key=("cause",),
        numbers=("prior", "low", "high"),
        unsigned=("prior",),
        empty=("low", "high", "method", "needs"),
        spare=("group", "danger"),
        names={**_words("causes", "method", "group"), "danger": ("yes",)},
    ),
    "control_chart": Contents(
        key=("name",),
        numbers=("value",),
        spare=("words",),
        names=_words("control_chart", "name"),
        own="stand in",
    ),
    "cylinder_heat": _figures("cylinder_heat"),
    "cylinders": Contents(
        key=("name",),
        numbers=("water_capacity_L", "diameter_mm", "tare_kg", "nominal_kg"),
        positive=("water_capacity_L", "diameter_mm", "tare_kg"),
        spare=("nominal_kg",),
    ),
    "decision_rules": Contents(key=("name",), numbers=("guard",), unsigned=("guard",)),
    "drift_rules": Contents(
        key=("name",), numbers=("count", "window", "sigma"), names=_words("drift_rules", "kind")
    ),
    "flue_limits": Contents(
        key=("name",),
        numbers=("air_free_CO_ppm",),
        positive=("air_free_CO_ppm",),
        spare=("kind", "cooking"),
        names={"cooking": ("yes", "no")},
    ),
    "conversion_figures": _figures("conversion_figures"),
    "inputs": Contents(
        key=("name",),
        empty=("low", "high", "above", "label", "metric", "US", "record"),
        spare=("kind", "above", "example", "words", "label", "metric", "US", "record"),
        former=("note",),
        names=_words("inputs", "name"),
        own="stand in",
    ),
    "instrument_uncertainty": Contents(
        key=("name",),
        numbers=("half_width",),
        unsigned=("half_width",),
        names={**_words("instrument_uncertainty", "name"), "shape": ("normal", "uniform", "triangular")},
        empty=("words",),
        own="stand in",
    ),
    "kit_limits": Contents(
        key=("name",),
        numbers=("value",),
        spare=("words",),
        names=_words("kit_limits", "name"),
        own="stand in",
    ),
    "carryover": _figures("carryover"),
    "layout_coefficients": _figures("layout_coefficients"),
    "next_measurements": Contents(
        key=("measurement",),
        numbers=("standard_uncertainty", "minutes"),
        unsigned=("standard_uncertainty", "minutes"),
        empty=("needs",),
        spare=("gas", "hazard", "stop"),
        names=_words("next_measurements", "measurement", "gas", "hazard", "stop"),
    ),
    "tile_flame": Contents(
        key=("fuel", "equivalence_ratio", "mass_flux_kg_per_m2s"),
        numbers=("equivalence_ratio", "mass_flux_kg_per_m2s", "burned_gas_K", "solved_gas_K"),
        positive=("equivalence_ratio", "mass_flux_kg_per_m2s", "burned_gas_K"),
        spare=("solved_gas_K",),
        names=_words("tile_flame", "fuel"),
    ),
    "touch_limits": Contents(
        key=("name", "material", "contact", "kind"),
        numbers=("temperature_C", "temperature_high_C", "rise_K"),
        empty=("contact", "temperature_C", "temperature_high_C", "rise_K"),
    ),
    "wobbe_ranges": Contents(
        key=("family", "group"),
        numbers=("low_MJ_per_m3", "high_MJ_per_m3"),
        positive=("low_MJ_per_m3", "high_MJ_per_m3"),
        empty=("group",),
    ),
}  # fmt: skip
"""Every table of which a user may give his own, by name."""
