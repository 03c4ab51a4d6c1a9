"""Test report as a file: its rows for CSV and JSON, its paper as HTML and PDF."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from burnerlab.bench.plan_results import PlanReport, RowResult, UnitResults, units_in_bands
from burnerlab.bench.reading_plan import PlanRow
from burnerlab.bench.record.document import defused
from burnerlab.bench.record.query import PastStop
from burnerlab.quantity import System, outputs
from burnerlab.report.paper_size import paper_size
from burnerlab.report.plan_paper import paper_html, paper_pdf, report_paper, stop_facts
from burnerlab.tables.languages import ENGLISH_LANGUAGE, Language


def report_rows(report: PlanReport) -> Iterator[dict[str, Any]]:
    """A row for each unit and row of the plan; one that is not done has no measured value."""
    for unit in report.units:
        stops = " | ".join(stop_facts(stop) for stop in report.recorded_stops if _concerns(stop, unit))
        for row in report.plan.rows:
            yield _figures(unit, report.plan.band_of(row), unit.result_of(row)) | {"stops": stops}


def _concerns(stop: PastStop, unit: UnitResults) -> bool:
    """Whether a stop is one of this unit, or holds the bench."""
    of_bench = stop.notice.scope == "bench" and stop.release is None
    return of_bench or stop.record.serial.strip().casefold() == unit.serial.strip().casefold()


def _figures(unit: UnitResults, row: PlanRow, result: RowResult | None) -> dict[str, Any]:
    return {
        "serial": unit.serial,
        "row": row.id,
        "burner": row.burner,
        "which": row.which_words,
        "state": row.state,
        "quantity": row.quantity,
        "unit": row.unit,
        "expected": row.predicted,
        "low": row.low,
        "high": row.high,
        "band_from": row.source,
        "measured": None if result is None else result.measured,
        "expanded_uncertainty": None if result is None else result.expanded_uncertainty,
        "verdict": "not done" if result is None else result.verdict.value,
        "tester": "" if result is None else result.tester,
        "tested_at": "" if result is None else result.tested_at,
        "instruments": "" if result is None else result.instruments,
        "entry": "" if result is None else result.entry,
        "unit_test": "part test" if unit.is_part else "whole",
    }


def report_csv(report: PlanReport) -> str:
    """The rows as CSV (RFC 4180), the plan's number in each; no cell can become a formula."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    lines = [{"plan": report.plan.number} | line for line in report_rows(report)]
    heads: Sequence[str] = tuple(lines[0]) if lines else ("plan", "serial", "row")
    writer.writerow(heads)
    for line in lines:
        cells = (line[name] for name in heads)
        writer.writerow(
            ["" if one is None else defused(one) if isinstance(one, str) else repr(one) for one in cells]
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
