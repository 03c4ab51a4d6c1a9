"""Figures declared on a result for which sheet and terminal have no place of their own: no figure can be forgotten."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import is_dataclass
from typing import Any

from burnerlab.appliance.conversion.evaluation_result import FlameAt, PressureAt, TileAt
from burnerlab.appliance.result import BurnerConversion, Conversion
from burnerlab.quantity import System
from burnerlab.quantity.outputs import Column as Declared
from burnerlab.quantity.outputs import columns
from burnerlab.report.numbers import Cell, declared_cell, head
from burnerlab.report.parts import BlockColumn, Fact, Table
from burnerlab.report.wording import name

PLACED: Mapping[type, frozenset[str]] = {
    Conversion: frozenset((
        "appliance", "rating_basis", "file_sha256", "version", "reference", "from_gas", "to_gas",
        "from_gauge_pressure_Pa", "to_gauge_pressure_Pa", "to_gauge_pressure_low_Pa", "to_gauge_pressure_high_Pa",
        "pressure_range_source", "altitude_m", "ambient_pressure_Pa", "gas_temperature_K", "altitude_policy",
        "altitude_policy_factor", "tolerance", "tolerance_source", "drill_list", "burners", "headline",
        "total_rate_gross_W", "total_predicted_gross_W", "total_predicted_net_W", "total_mass_flow_kg_per_s",
        "total_volume_flow_m3_per_s", "findings", "not_evaluated", "prompts", "worked", "sources", "notes",
        "tolerance_low", "from_altitude_m", "from_ambient_pressure_Pa", "supply_of_new_gas", "category", "model",
        "region", "pressure_couple", "pressure_couples_beside", "altitude", "assumed_primary_aeration",
        "evaluation", "file_name", "total_deviation_from_rating",
    )),
    BurnerConversion: frozenset((
        "name", "kind", "count", "rate_gross_W", "rate_net_W", "turndown", "coefficient", "coefficient_source",
        "from_orifice_m", "from_drill", "from_predicted_gross_W", "to_orifice_m", "choices", "no_drill_meets",
        "exact_diameter_ratio", "exact_area_ratio", "predicted_gross_W", "predicted_net_W", "predicted_low_gross_W",
        "predicted_high_gross_W", "drill_deviation", "headline", "from_air_m3_per_s", "to_air_m3_per_s",
        "from_air_kg_per_s", "to_air_kg_per_s", "air_to_gas_ratio_change", "primary_air_change",
        "mass_flow_kg_per_s", "volume_flow_m3_per_s", "choked", "aim_gross_W", "from_rate_gross_W", "orifice_count",
        "primary_aeration_after", "primary_aeration_before", "drill", "drill_diameter_m", "diameter_ratio",
        "area_ratio", "exact_predicted_gross_W", "all_predicted_gross_W", "low_rate_gross_W",
    )),
    PressureAt: frozenset((
        "burner", "gauge_pressure_all_on_Pa", "gauge_pressure_alone_Pa", "heat_input_all_on_gross_W",
        "heat_input_alone_gross_W", "all_on_from_nominal", "alone_from_nominal",
    )),
    FlameAt: frozenset((
        "which_gas", "gas", "rate", "gauge_pressure_Pa", "heat_input_gross_W", "primary_aeration",
        "port_loading_W_per_mm2", "wall_gradient_per_s", "lift_margin", "light_back_margin",
        "light_back_is_at_least", "yellow_tip_margin", "inner_cone_height_m",
    )),
    TileAt: frozenset((
        "burner", "which_gas", "gas", "primary_aeration", "firing_density_net_W_per_m2", "face_temperature_K",
        "face_ceiling_temperature_K", "radiant_efficiency_net", "ceiling_efficiency_net",
        "plenum_side_temperature_K", "lift_margin", "radiated_W", "evidence",
    )),
}  # fmt: skip
"""Of each result the figures that sheet and terminal show in a place of their own, or that files alone hold."""


def _unplaced(result: Any) -> tuple[Declared, ...]:
    placed = next(PLACED[each] for each in type(result).__mro__ if each in PLACED)
    return tuple(
        column
        for column in columns(type(result))
        if column.name not in placed and not (is_dataclass(column.of(result)) and not column.ends)
    )


def facts(c: Conversion, system: System) -> tuple[Fact, ...]:
    """Those of the conversion as a whole."""
    return tuple(Fact(label=head(each), cell=declared_cell(each, c, system)) for each in _unplaced(c))


def table(results: Sequence[tuple[str, Any]], caption: str, system: System) -> tuple[Table, ...]:
    """Those of results of one kind, each by its name, a column a figure; nothing where every figure has its place."""
    found = _unplaced(results[0][1]) if results else ()
    if not found:
        return ()
    heads = (BlockColumn(title="Burner"), *(BlockColumn(title=head(each), side="right") for each in found))
    rows = tuple(
        (Cell(text=name(called)), *(declared_cell(each, one, system) for each in found))
        for called, one in results
    )
    return (Table(caption=caption, columns=heads, rows=rows),)


def of_burners(c: Conversion, system: System) -> tuple[Table, ...]:
    """Those of the burners."""
    return table([(b.name, b) for b in c.burners], "Other figures of one burner", system)


def lines(c: Conversion, system: System) -> tuple[str, ...]:
    """Those of the conversion and its burners for the terminal: a line for each figure."""
    said = [f"{fact.label}: {fact.cell.text}." for fact in facts(c, system)]
    for one in of_burners(c, system):
        for place, column in enumerate(one.columns[1:], start=1):
            each = "; ".join(f"{row[0].text} {row[place].text}" for row in one.rows)
            said.append(f"{column.title}: {each}.")
    return tuple(said)
