"""Calibrated constants as tables of the same columns as the shipped ones, ready for ``[tables]`` of a project file."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from burnerlab import __version__, tables
from burnerlab.appliance.model import OwnTables
from burnerlab.bench.calibrate import Calibration
from burnerlab.bench.constants import HERE, ModelConstant
from burnerlab.bench.record.files import whole_file
from burnerlab.bench.record.rows import defused
from burnerlab.quantity.outputs import output
from burnerlab.tables.problem import Problem, UserError

KEYS = {"discharge": "shape", "burner_coefficients": "name"}
HASH_SHOWN = 16
DAY = 10  # characters of a date


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordSource:
    """The record a calibration is from."""

    file: str = field(metadata=output("record"))
    sha256: str = field(metadata=output("sha256"))  # newest link of its chain: of every test in it


def source_line(calibration: Calibration, record: RecordSource) -> str:
    """Where the constants are from, for the column ``source``."""
    first, last = calibration.first_tested_at[:DAY], calibration.last_tested_at[:DAY]
    return (
        f"bench record {Path(record.file).name}, sha256 {record.sha256[:HASH_SHOWN]}, {calibration.units} units of "
        f"{calibration.model}, {first} to {last}, burnerlab {__version__}"
    )


def _rows_in_use(table: str, own: OwnTables) -> list[dict[str, str]]:
    """Rows the new table starts from: an own table's, else all of the discharge table, which is replaced whole."""
    path: Path | None = getattr(own, table)
    if path is not None:
        return [dict(row) for row in tables.read_csv(path)]
    return [dict(row) for row in tables.rows(table)] if table == "discharge" else []


def _replaced(row: Mapping[str, str], constant: ModelConstant, source: str, place: str) -> dict[str, str]:
    figures = {"low": f"{constant.low:.5g}", "high": f"{constant.high:.5g}"}
    if constant.table == "discharge":
        figures |= {"coefficient": f"{constant.value:.5g}", "correlation": ""}
    else:
        figures["value"] = f"{constant.value:.5g}"
    spread = "" if constant.spread is None else f"; spread between units {100 * constant.spread:.1f} %"
    out = f"; left out: {' '.join(constant.outliers)}" if constant.outliers else ""
    note = f"low and high are its 95 % interval; {constant.units} units{spread}{out}; {constant.why}"
    return {
        **row,
        **figures,
        KEYS[constant.table]: constant.row,
        "source": source,
        "place": place,
        "provenance": HERE,
        "note": note,
    }


def table_text(table: str, calibration: Calibration, source: str, own: OwnTables) -> str:
    """A table with the calibrated rows in place, as CSV; "" when none of its rows was told."""
    told = {constant.row: constant for constant in calibration.written if constant.table == table}
    if not told:
        return ""
    key = KEYS[table]
    shipped = {row[key]: row for row in tables.rows(table)}
    rows = {row[key]: row for row in _rows_in_use(table, own)}
    for name, constant in told.items():
        rows[name] = _replaced(
            rows.get(name, dict(shipped.get(name, {}))), constant, source, _place(calibration)
        )
    made = io.StringIO()
    made.write("# calibrated from a bench record; rows fitted together belong together\n")
    columns = list(tables.rows(table)[0])
    writer = csv.DictWriter(made, columns, lineterminator="\n", extrasaction="ignore", restval="")
    writer.writeheader()
    writer.writerows(rows.values())
    return made.getvalue()


def _place(calibration: Calibration) -> str:
    text = f"{', '.join(calibration.burners)} on {', '.join(calibration.gases)}"
    if calibration.gauge_pressures_Pa is not None:
        low, high = calibration.gauge_pressures_Pa
        text += f" at {low:.0f} to {high:.0f} Pa"
    return defused(text)


def write_tables(
    calibration: Calibration, record: RecordSource, own: OwnTables, folder: Path, overwrite: bool = False
) -> tuple[Path, ...]:
    """The tables that hold a constant the record told, in ``folder``, each whole or not at all.

    Raises UserError when the record told nothing: no table is written then.
    """
    source = source_line(calibration, record)
    texts = {table: table_text(table, calibration, source, own) for table in KEYS}
    paths = {folder / f"{table}.csv": text for table, text in texts.items() if text}
    if not paths:
        raise UserError(Problem("the record tells no constant better than it was known; no table is written"))
    taken = [path for path in paths if path.exists() and not overwrite]
    if taken:
        fix = "name another folder or allow overwriting"
        raise UserError([Problem("exists, will not overwrite it", file=str(p), fix=fix) for p in taken])
    if not folder.is_dir():
        try:
            folder.mkdir()
        except OSError as error:
            raise UserError(Problem(f"cannot be made: {error.strerror}", file=str(folder))) from None
    for path, text in paths.items():
        with whole_file(path, overwrite) as made:
            made.write_text(text, encoding="utf-8", newline="")
    return tuple(paths)
