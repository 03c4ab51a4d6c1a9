"""The burners of a sheet as CSV: numbers as numbers, text that can never become a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from burnerlab.appliance.result import Conversion
from burnerlab.report.json_evaluated import evaluation_json
from burnerlab.report.json_out import to_json
from burnerlab.report.wording import STATEMENT, file_name
from burnerlab.tables.cautions import cautions

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
COLUMNS = (
    "name",
    "kind",
    "count",
    "rate_gross_kW",
    "low_rate_gross_kW",
    "aim_gross_kW",
    "from_drill",
    "from_orifice_mm",
    "from_predicted_gross_kW",
    "to_orifice_mm",
    "drill",
    "drill_diameter_mm",
    "area_ratio",
    "predicted_gross_kW",
    "predicted_net_kW",
    "predicted_low_gross_kW",
    "predicted_high_gross_kW",
    "drill_deviation_percent",
    "heat_input_gross_kW",
    "deviation_case",
    "deviation_all_on_percent",
    "deviation_alone_percent",
    "deviation_percent",
    "deviation_low_percent",
    "deviation_high_percent",
    "stoichiometric_air_m3_per_h",
    "mass_flow_kg_per_h",
    "volume_flow_m3_per_h",
    "coefficient",
    "verdict",
    "evidence",
)


def text_cell(text: str) -> str:
    """Text a spreadsheet reads as text: one that starts like a formula gets a quote before it.

    >>> text_cell("=1+1"), text_cell("griddle tube"), text_cell("  @x")
    ("'=1+1", 'griddle tube', "'  @x")
    """
    first = text.lstrip(" \n\v\f\u00a0\ufeff")
    return "'" + text if first.startswith(FORMULA_STARTS) else text


def _cell(value: object) -> str | int | float:
    if value is None:
        return ""
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return value
    return text_cell(str(value))


FLAME_COLUMNS = (
    "which_gas", "rate", "orifice_pressure_gauge_mbar", "heat_input_gross_kW", "primary_aeration",
    "port_loading_W_per_mm2", "wall_gradient_per_s", "lift_margin", "light_back_margin", "yellow_tip_margin",
)  # fmt: skip
TILE_COLUMNS = (
    "which_gas", "primary_aeration", "firing_density_net_kW_per_m2", "surface_temperature_C", "radiant_efficiency_net",
)  # fmt: skip
PRESSURE_COLUMNS = ("pressure_all_on_gauge_mbar", "pressure_alone_gauge_mbar", "heat_input_all_on_gross_kW")


def evaluated_rows(c: Conversion) -> Iterator[list[object]]:
    """Pressure, flame and tile below the burners, each block with its own head; nothing where not evaluated."""
    found = evaluation_json(c.evaluation)
    if found.get("supply"):
        yield ["pressure at each burner", "which_gas", *PRESSURE_COLUMNS]
        for one in found["supply"]:
            for at in one["burners"]:
                yield [at["name"], one["which_gas"], *(at[column] for column in PRESSURE_COLUMNS)]
    if found.get("flames"):
        yield ["primary air and flame", *FLAME_COLUMNS]
        for burner in found["flames"]:
            for rate in burner["rates"]:
                yield [burner["name"], *(rate[column] for column in FLAME_COLUMNS)]
    if found.get("tiles"):
        yield ["tile", *TILE_COLUMNS]
        for tile in found["tiles"]:
            yield [tile["name"], *(tile[column] for column in TILE_COLUMNS)]


def csv_text(c: Conversion) -> str:
    """One row per burner with units in the heads, then the statement and the cautions as rows of text.

    Basis: heat inputs gross unless the head says net; volumes at the reference state named below the rows.
    """
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")  # RFC 4180
    writer.writerow(COLUMNS)
    rows = to_json(c)["burners"]
    for row in rows:
        writer.writerow([_cell(row[column]) for column in COLUMNS])
    writer.writerow([])
    facts = (
        ("appliance", c.appliance),
        ("from gas", c.from_gas.title),
        ("to gas", c.to_gas.title),
        ("from pressure, gauge, mbar", c.from_pressure_Pa / 100),
        ("to pressure, gauge, mbar", c.to_pressure_Pa / 100),
        ("supply of the new gas", c.new_train),
        ("reference state", c.reference),
        ("file", file_name(c.file)),
        ("SHA-256", c.file_sha256),
        ("version", c.version),
        ("statement", STATEMENT),
    )
    for label, value in facts:
        writer.writerow([label, _cell(value)])
    for line in evaluated_rows(c):
        writer.writerow([_cell(value) for value in line])
    for entry in c.not_evaluated:
        writer.writerow(["not evaluated", *(_cell(text) for text in (entry.topic, entry.burner, entry.why))])
    for caution in cautions():
        writer.writerow([caution.signal, caution.id, _cell(caution.text)])
    return stream.getvalue()
