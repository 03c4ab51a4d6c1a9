"""Figures declared on a result for which sheet and terminal have no place of their own: no figure can be forgotten."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import is_dataclass
from typing import Any

from burnerlab.appliance.result import Conversion
from burnerlab.quantity import System
from burnerlab.quantity.outputs import Column as Declared
from burnerlab.quantity.outputs import columns
from burnerlab.report.numbers import Cell, declared_cell, head
from burnerlab.report.parts import Column, Fact, Table
from burnerlab.report.wording import name

OF_A_BURNER = frozenset((
    "name", "kind", "count", "rate_gross_W", "rate_net_W", "turndown", "coefficient", "coefficient_source",
    "from_orifice_m", "from_drill", "from_predicted_gross_W", "to_orifice_m", "choices", "no_drill_meets",
    "exact_diameter_ratio", "exact_area_ratio", "predicted_gross_W", "predicted_net_W", "predicted_low_gross_W",
    "predicted_high_gross_W", "drill_deviation", "headline", "from_air_m3_per_s", "to_air_m3_per_s",
    "from_air_kg_per_s", "to_air_kg_per_s", "air_to_gas_ratio_change", "primary_air_change", "mass_flow_kg_per_s",
    "volume_flow_m3_per_s", "choked", "aim_gross_W", "from_rate_gross_W", "orifice_count", "primary_aeration_after",
    "primary_aeration_before", "drill", "drill_diameter_m", "diameter_ratio", "area_ratio",
    "exact_predicted_gross_W", "all_predicted_gross_W", "low_rate_gross_W",
))  # fmt: skip
"""Figures of a burner that the tables of the sheet show, or that files alone hold."""

OF_ALL = frozenset((
    "appliance", "rating_basis", "file_sha256", "version", "reference", "from_gas", "to_gas",
    "from_gauge_pressure_Pa", "to_gauge_pressure_Pa", "to_gauge_pressure_low_Pa", "to_gauge_pressure_high_Pa",
    "pressure_range_source", "altitude_m", "ambient_pressure_Pa", "gas_temperature_K", "altitude_policy",
    "altitude_policy_factor", "tolerance", "tolerance_source", "drill_list", "burners", "headline",
    "total_rate_gross_W", "total_predicted_gross_W", "total_predicted_net_W", "total_mass_flow_kg_per_s",
    "total_volume_flow_m3_per_s", "findings", "not_evaluated", "prompts", "worked", "sources", "notes",
    "tolerance_low", "from_altitude_m", "from_ambient_pressure_Pa", "supply_of_new_gas", "category", "model",
    "region", "pressure_couple", "pressure_couples_beside", "altitude", "assumed_primary_aeration", "evaluation",
    "file_name", "total_deviation_from_rating",
))  # fmt: skip
"""Figures of a conversion that the sheet shows, or that files alone hold."""


def _unplaced(result: Any, placed: frozenset[str]) -> Iterator[Declared]:
    for column in columns(type(result)):
        if column.name not in placed and not is_dataclass(column.of(result)):
            yield column


def facts(c: Conversion, system: System) -> tuple[Fact, ...]:
    """Those of the conversion as a whole."""
    return tuple(
        Fact(label=head(column), cell=declared_cell(column, c, system)) for column in _unplaced(c, OF_ALL)
    )


def table(c: Conversion, system: System) -> tuple[Table, ...]:
    """Those of the burners, a column each; nothing where every figure has its place."""
    found = tuple(_unplaced(c.burners[0], OF_A_BURNER)) if c.burners else ()
    if not found:
        return ()
    heads = (Column(title="Burner"), *(Column(title=head(column), side="right") for column in found))
    rows = tuple(
        (Cell(text=name(b.name)), *(declared_cell(column, b, system) for column in found)) for b in c.burners
    )
    return (Table(caption="Other figures of one burner", columns=heads, rows=rows),)


def lines(c: Conversion, system: System) -> tuple[str, ...]:
    """The same for the terminal: a line for each figure."""
    said = [f"{fact.label}: {fact.cell.text}." for fact in facts(c, system)]
    for one in table(c, system):
        for place, column in enumerate(one.columns[1:], start=1):
            each = "; ".join(f"{row[0].text} {row[place].text}" for row in one.rows)
            said.append(f"{column.title}: {each}.")
    return tuple(said)
