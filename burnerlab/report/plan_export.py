"""Test report as a file: its rows for CSV and JSON, its paper as HTML and PDF."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from burnerlab.bench.earlier_readings import EarlierReading
from burnerlab.bench.plan_results import PlanReport, ReadingBeside, RowResult, UnitResults, units_in_bands
from burnerlab.bench.reading_plan import PlanRow
from burnerlab.bench.record.document import defused
from burnerlab.bench.record.entry import quantities
from burnerlab.bench.record.query import PastStop
from burnerlab.quantity import Kind, System, in_unit, outputs
from burnerlab.quantity.outputs import handy_units
from burnerlab.report.paper_size import paper_size
from burnerlab.report.plan_paper_files import paper_html, paper_pdf
from burnerlab.report.plan_report import earlier_done, early_hot_remark, report_paper, stop_facts
from burnerlab.tables.languages import ENGLISH_LANGUAGE, Language
from burnerlab.tables.verdict import Verdict

DIGITS = 12  # significant, of a figure in a file


Row = dict[str, Any]
READ_AGAIN, BESIDE = "read before", "not in the plan"  # readings of a unit beside the newest of each row


def report_rows(report: PlanReport) -> Iterator[Row]:
    """A row for each unit and row of the plan, then for each reading in whose place another stands or of no row.

    A row of the plan that is not done has no measured value.
    """
    for unit in report.units:
        stops = " | ".join(stop_facts(stop) for stop in report.recorded_stops if _concerns(stop, unit))
        of_unit = {
            "unit_test": "part test" if unit.is_part else "whole",
            "flames_not_looked_at": "; ".join(str(one.place) for one in unit.flames_not_seen),
            "stops": stops,
        }
        bands = {row.id: report.plan.band_of(row) for row in report.plan.rows}
        early = {row: {"remark": str(early_hot_remark(minutes))} for row, minutes in unit.early_hot}
        made = [
            _figures(bands[row.id], unit.result_of(row)) | early.get(row.id, {}) for row in report.plan.rows
        ]
        made += [_earlier(bands.get(one.row), one) for one in unit.earlier]
        made += [_beside(one) for one in unit.beside]
        for one in made:
            yield {"serial": unit.serial, **NOTHING, **one, **of_unit}


def _concerns(stop: PastStop, unit: UnitResults) -> bool:
    """Whether a stop is one of this unit, or holds the bench."""
    of_bench = stop.notice.scope == "bench" and stop.stands
    return of_bench or stop.record.serial.strip().casefold() == unit.serial.strip().casefold()


NOTHING: Row = {
    "row": "", "reading": "", "burner": "", "which": "", "state": "", "quantity": "", "unit": "", "expected": None,
    "low": None, "high": None, "band_from": "", "measured": None, "expanded_uncertainty": None, "verdict": "",
    "tester": "", "tested_at": "", "instruments": "", "entry": "", "what_was_done": "", "entry_in_its_place": "",
    "remark": "",
}  # fmt: skip
"""What a row holds of which nothing is known, in the order of the columns."""


def _in_files(quantity: str, value: float | None) -> float | None:
    """A figure of the record in its unit of files."""
    known = quantities().get(quantity)
    if value is None or known is None:
        return value
    if known.kind is Kind.FRACTION:
        return value * FRACTION_SCALES.get(known.display_unit, 1.0)
    return float(in_unit(value, known.kind, handy_units()[known.kind].unit))


FRACTION_SCALES = {"ppm": 1e6, "%": 100.0}


def unit_in_files(quantity: str) -> str:
    """The unit of a quantity of the record in the files of a report.

    >>> unit_in_files("heat_input_gross"), unit_in_files("air_free_carbon_monoxide"), unit_in_files("deviation")
    ('kW', 'ppm', '%')
    """
    known = quantities().get(quantity)
    if known is None:
        return ""
    return known.display_unit if known.kind is Kind.FRACTION else handy_units()[known.kind].unit


def _of_row(row: PlanRow) -> Row:
    """What a row of the plan says of a reading of it."""
    figures = {"expected": row.predicted, "low": row.low, "high": row.high}
    return {
        "row": row.id,
        "burner": row.burner,
        "which": row.which_words,
        "state": row.state,
        "quantity": row.quantity,
        "unit": unit_in_files(row.quantity),
        **{name: _in_files(row.quantity, value) for name, value in figures.items()},
        "band_from": row.source,
    }


def _figures(row: PlanRow, result: RowResult | None) -> Row:
    if result is None:
        return _of_row(row) | {"verdict": "not done"}
    return _of_row(result.with_limit(row)) | {
        "reading": "newest",
        "measured": _in_files(row.quantity, result.measured),
        "expanded_uncertainty": _in_files(row.quantity, result.expanded_uncertainty),
        "verdict": result.verdict.value,
        "tester": result.tester,
        "tested_at": result.tested_at,
        "instruments": result.instruments,
        "entry": result.entry,
    }


def _earlier(row: PlanRow | None, earlier: EarlierReading) -> Row:
    """A reading that does not count any more, with what was done since."""
    place = {
        "burner": earlier.burner,
        "which": earlier.which,
        "state": earlier.state,
        "quantity": earlier.quantity,
        "unit": unit_in_files(earlier.quantity),
    }
    return (place if row is None else _of_row(row)) | {
        "reading": READ_AGAIN,
        "measured": _in_files(earlier.quantity, earlier.value),
        "verdict": Verdict.OUTSIDE.value if earlier.is_outside else "not outside",
        "tester": earlier.tester,
        "tested_at": earlier.tested_at,
        "entry": earlier.entry,
        "what_was_done": earlier_done(earlier),
        "entry_in_its_place": earlier.by_entry,
    }


def _beside(reading: ReadingBeside) -> Row:
    """What a test of the unit read that is no row of the plan."""
    return {
        "reading": BESIDE,
        "burner": reading.burner,
        "quantity": reading.quantity,
        "unit": unit_in_files(reading.quantity),
        "measured": _in_files(reading.quantity, reading.value),
        "verdict": reading.verdict,
        "tester": reading.tester,
        "tested_at": reading.tested_at,
        "entry": reading.entry,
    }


def report_csv(report: PlanReport) -> str:
    """The rows as CSV (RFC 4180), the plan's number in each; no cell can become a formula."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    lines: list[Row] = [{"plan": report.plan.number} | line for line in report_rows(report)]
    heads: Sequence[str] = tuple(lines[0]) if lines else ("plan", "serial", "row")
    writer.writerow(heads)
    for line in lines:
        cells = (line[name] for name in heads)
        writer.writerow(
            [
                "" if one is None else defused(one) if isinstance(one, str) else f"{one:.{DIGITS}g}"
                for one in cells
            ]
        )
    return stream.getvalue()


def report_document(report: PlanReport) -> dict[str, Any]:
    """The report for JSON: the plan, its units and stops, a row for each reading, and the burners of the model."""
    made = outputs.row(report)
    units = [{key: value for key, value in one.items() if key != "results"} for one in made["units"]]
    readings = [
        {key: None if value == "" else value for key, value in one.items()} for one in report_rows(report)
    ]
    burners = [outputs.row(place) for place in units_in_bands(report)]
    return {**made, "units": units, "readings": readings, "burners": burners}


ENDINGS = ("html", "pdf", "csv", "json")


def report_bytes(
    report: PlanReport,
    ending: str,
    date: str,
    system: System,
    pictures: Mapping[str, bytes] | None = None,
    language: Language = ENGLISH_LANGUAGE,
    size: str = "",
) -> bytes:
    """The report in one of ``ENDINGS``. Raises ImportError for PDF without typst.

    pictures : JPEG of each photograph by its hash; in PDF reduced in size
    language : in which it is read; CSV and JSON have none
    size : of its paper; without one Letter for US units, else A4
    """
    from burnerlab.quantity.outputs import json_text

    if ending == "csv":
        return report_csv(report).encode("utf-8-sig")
    if ending == "json":
        return json_text("record report", report_document(report)).encode("utf-8")
    paper = report_paper(report, date, system, pictures, language)
    size = paper_size(system, size)
    return paper_pdf(paper, size=size) if ending == "pdf" else paper_html(paper, size=size).encode("utf-8")
