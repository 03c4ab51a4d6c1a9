"""Tables a user may put in place of the shipped ones: same columns, checked before they are used."""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from pathlib import Path

from burnerlab import tables
from burnerlab.quantity.error import Problem, UserError

MAY_LACK = ("note", "region")  # columns that a user's table need not have


def rows_of(name: str, own: Path | None, numbers: Sequence[str]) -> tuple[tables.Row, ...]:
    """Rows of the shipped table, or of the user's CSV of the same columns.

    name : of the shipped table; own : the user's file; numbers : columns that hold a number or nothing
    Raises UserError, with every problem, for a file that is not there, lacks a column or holds a word for a
    number.
    """
    shipped = tables.rows(name)
    if own is None:
        return shipped
    if not own.is_file():
        raise UserError(Problem("not a regular file", file=str(own)))
    try:
        found = tables.read_csv(own)
    except (UnicodeDecodeError, csv.Error):
        raise UserError(Problem("not a CSV in plain UTF-8", file=str(own))) from None
    wanted = [column for column in shipped[0] if column not in MAY_LACK]
    missing = [column for column in wanted if not found or column not in found[0]]
    if missing:
        what = f"the table needs the columns {', '.join(wanted)}"
        raise UserError(Problem(what, value=", ".join(missing), file=own.name, fix="add the column named"))
    wrong = [
        Problem("not a number", value=str(row[column]), key=f"row {number}, {column}", file=own.name)
        for number, row in enumerate(found, start=1)
        for column in numbers
        if row[column] and not _is_number(row[column])
    ]
    if wrong:
        raise UserError(wrong)
    return tuple(
        tables.Row({**row, **{column: row.get(column) or "" for column in MAY_LACK}}, row.file, row.line)
        for row in found
    )


def _is_number(text: str) -> bool:
    try:
        return math.isfinite(float(text))
    except ValueError:
        return False
