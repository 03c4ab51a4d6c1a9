"""The tables of a conversion as CSV: numbers as numbers, text that can never become a formula."""

from __future__ import annotations

import csv
import io
from typing import Any

from burnerlab.appliance.result import Conversion
from burnerlab.quantity.document import plain
from burnerlab.report.result_tables import ResultTable, burner_table, figures, other_tables
from burnerlab.report.wording import STATEMENT
from burnerlab.tables.cautions import cautions

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def text_cell(text: str) -> str:
    """Text a spreadsheet reads as text: one that starts like a formula gets a quote before it.

    >>> text_cell("=1+1"), text_cell("griddle tube"), text_cell("  @x")
    ("'=1+1", 'griddle tube', "'  @x")
    """
    first = text.lstrip(" \n\v\f\u00a0\ufeff")
    return "'" + text if first.startswith(FORMULA_STARTS) else text


def _cell(value: object) -> str | int | float:
    if isinstance(value, bool):
        return "yes" if value else "no"
    written = plain(value)
    if written is None:
        return ""
    return written if isinstance(written, int | float) else text_cell(str(written))


def csv_text(c: Conversion) -> str:
    """A row for each burner, the facts of the conversion, then every other table below its title; heads are keys.

    Volumes are at the reference state that stands among the facts. The statement and the cautions are rows of text.
    """
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")  # RFC 4180
    _write(writer, burner_table(c))
    writer.writerow([])
    for fact in figures(c):
        writer.writerow([fact.key, _cell(fact.value)])
    writer.writerow(["statement", STATEMENT])
    for table in other_tables(c):
        writer.writerow([])
        writer.writerow([table.title])
        _write(writer, table)
    writer.writerow([])
    for entry in c.not_evaluated:
        writer.writerow(["not evaluated", *(_cell(text) for text in (entry.topic, entry.burner, entry.why))])
    for caution in cautions():
        writer.writerow([caution.signal, caution.id, _cell(caution.text)])
    return stream.getvalue()


def _write(writer: Any, table: ResultTable) -> None:
    rows = table.figures()
    writer.writerow([figure.key for figure in rows[0]])
    for cells in rows:
        writer.writerow([_cell(figure.value) for figure in cells])
