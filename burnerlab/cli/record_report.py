"""``burnerlab record report``: a test plan with what the units of the record measured of it."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from burnerlab.cli.options import takes
from burnerlab.cli.output import (
    WIDTH,
    document_option,
    for_reader,
    in_words,
    note_region_of_file,
    note_system_of_file,
    paper_units,
    print_cautions,
    print_json,
    print_open_stops,
    print_stops_not_recorded,
    reader_system,
    wrapped,
)
from burnerlab.cli.record_output import OVERWRITE, RECORD, earlier_line, text_input, to_read
from burnerlab.cli.user_settings import paper_for_units
from burnerlab.cli.verbosity import print_hint
from burnerlab.quantity import System
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.bench.plan_results import PlanReport, UnitResults
    from burnerlab.bench.reading_plan import Plan
    from burnerlab.tables.languages import Language


@click.command("report", short_help="A test plan with what the units measured.")
@takes(
    plan=text_input(
        "plan",
        "PLAN",
        "Its JSON file, or its number where the file is here or in the folder of the record.",
        is_needed=True,
    ),
    serials=text_input(
        "serial", "SERIAL", "Only these units; all that have a test of the plan.", is_many=True
    ),
    out=text_input("out", "FILE", "Write it: .html, .pdf, .csv or .json."),
    texts=text_input(
        "texts",
        "FILE",
        "Texts of the language that the plan names: the report is printed in it, else in English.",
    ),
    overwrite=OVERWRITE,
    file=RECORD,
)
@document_option
def report_command(
    plan: str,
    serials: tuple[str, ...],
    out: str | None,
    texts: str | None,
    overwrite: bool,
    file: str,
    as_json: bool,
) -> None:
    """Expected, measured, uncertainty and verdict of every row of PLAN, by whom and with which instruments.

    Each unit has a table of its own; rows that are not done are named. The newest current reading of each row counts.

    \b
    Examples:
      burnerlab record report --plan 42b5f0a00434
      burnerlab record report --plan sheet/range-to-propane-plan.json \\
          --out report.pdf
    """
    from burnerlab.appliance.project.model import system_of_region
    from burnerlab.bench.plan_file import plan_named
    from burnerlab.bench.plan_results import plan_report
    from burnerlab.bench.record import open_stops
    from burnerlab.report.plan_export import report_bytes, report_document

    ending = None if out is None else _ending(out)
    folders = dict.fromkeys((Path(), Path(file).parent))
    with to_read(file) as record:
        report = plan_report(record, plan_named(plan, *folders), serials)
        note_system_of_file(system_of_region(report.plan.region))
        note_region_of_file(report.plan.region, _own_words(report.plan))
        stood = {unit.serial.casefold() for unit in report.units if unit.is_stopped}
        stops = [one for one in open_stops(record) if one.is_of_the_bench or one.serial.casefold() in stood]
    if out is not None and ending is not None:
        own = _language(report.plan, texts)
        pictures, system = _pictures(report, Path(file)), paper_units().of(report.plan.region)
        content = partial(
            report_bytes,
            report,
            ending,
            datetime.datetime.now(datetime.UTC).date().isoformat(),  # as the times of its readings
            system,
            pictures,
            own,
            paper_for_units(system),
        )
        _write(content, Path(out), overwrite)
    if as_json:
        print_json(report_document(report) | {"file": out})
        return
    print_open_stops(stops)
    print_stops_not_recorded(report.stops_not_recorded)
    click.echo(report_text(report, reader_system()))
    if out is not None:
        click.echo(f"\nwritten: {out}")
    print_cautions()


def _own_words(plan: Plan) -> tuple[str, ...]:
    """What the user of a plan named."""
    return (plan.appliance, plan.model, plan.gas, *(row.burner for row in plan.rows))


def _language(plan: Plan, texts: str | None) -> Language:
    """That of the plan where its texts are named; raises UserError for texts of a plan that is read in English."""
    from burnerlab.tables.languages import ENGLISH, ENGLISH_LANGUAGE, language

    is_english = plan.language in ("", ENGLISH)
    if texts is None:
        if not is_english:
            print_hint(f"The plan is read in {plan.language}; --texts FILE prints the report in it.")
        return ENGLISH_LANGUAGE
    if is_english:
        fix = 'write language = "es" under [appliance] of its file and make it anew'
        raise UserError(Problem("the plan is read in English", texts, "--texts", fix=fix))
    return language(plan.language, Path(texts))


def _ending(out: str) -> str:
    from burnerlab.report.plan_export import ENDINGS

    ending = Path(out).suffix.lower().lstrip(".")
    if ending not in ENDINGS:
        accepted = ", ".join(f".{one}" for one in ENDINGS)
        raise UserError(Problem("is not a format of the report", value=out, key="--out", accepted=accepted))
    return ending


def _pictures(report: PlanReport, file: Path) -> dict[str, bytes]:
    """The photographs of the report that are beside the record, by their hashes."""
    from burnerlab.bench.record.photographs import photograph_bytes

    hashes = [one.sha256 for unit in report.units for one in unit.photographs]
    found = {sha256: photograph_bytes(file, sha256) for sha256 in hashes}
    return {sha256: data for sha256, data in found.items() if data is not None}


def _write(make: Callable[[], bytes], path: Path, overwrite: bool) -> None:
    from burnerlab.bench.record.database import whole_file

    try:
        content = make()
    except ImportError as error:
        fix = 'pip install "burnerlab[sheet]"'
        raise UserError(Problem(f"needs {error.name}", key="--out", fix=fix)) from None
    with whole_file(path, overwrite) as made:
        made.write_bytes(content)


def _history_lines(report: PlanReport, unit: UnitResults, system: System) -> Iterator[str]:
    """Readings in whose place another stands, and those that are of no row of the plan."""
    from burnerlab.report.plan_report import beside_row

    for one in unit.earlier:
        line = earlier_line(one, system, report.plan.rated)
        yield wrapped(line, WIDTH, "  before: ", "    ")
    for other in unit.beside:
        _, words, value, verdict, by = beside_row(report.plan, unit, other, system)
        facts = ", ".join(filter(None, (value, verdict, by)))
        yield wrapped(f"{words}: {facts}", WIDTH, "  not in the plan: ", "    ")


def report_text(report: PlanReport, system: System) -> str:
    """The report as lines: the plan, then each unit with the readings that are done."""
    from burnerlab.bench.reading_plan import STATE_WORDS
    from burnerlab.bench.record.entry import quantity_words
    from burnerlab.report.plan_paper import ALL_TOGETHER, altered_words, band_text, value_text
    from burnerlab.report.plan_report import stop_facts, time_remarks
    from burnerlab.report.unit_answers import flame_lines

    plan = report.plan
    lines = [altered_words(plan)] if report.is_altered else []
    lines.append(f"plan {plan.number}: {plan.model} on {plan.gas}, {len(plan.rows)} rows")
    for unit in report.units:
        stopped = ", a stop is in force: nothing is judged" if unit.is_stopped else ""
        stopped += f"; the bench is held by a stop of unit {unit.held_by}" if unit.held_by else ""
        part = "part test, " if unit.is_part else ""
        read = f"{len(plan.rows) - len(unit.not_done)} of {len(plan.rows)} rows read"
        lines += ["", f"unit {unit.serial}: {part}{read}{stopped}"]
        for one in unit.results:
            share, wide = plan.rated_share(one.row), one.expanded_uncertainty
            row = one.with_limit(plan.rated_row(one.row))
            spread = value_text(row.quantity, None if wide is None else share * wide, system, "not stated")
            expected = value_text(row.quantity, row.predicted, system, "not predicted")
            lines += [
                f"  {row.id} {row.place or ALL_TOGETHER}, {STATE_WORDS[row.state]}: {quantity_words(row.quantity)}",
                f"     {value_text(row.quantity, share * one.measured, system)} +/- {spread}, expected {expected}",
                f"     {one.verdict.emphatic}: band {band_text(row, system, plan.highest_Pa)}",
            ]
        if unit.not_done:
            lines.append(f"  not done: {', '.join(unit.not_done)}")
        lines += list(_history_lines(report, unit, system))
        lines += [wrapped(words, WIDTH, "  ", "    ") for words in time_remarks(plan, unit)]
        lines += [wrapped(text, WIDTH, "  flame: ", "    ") for text in flame_lines(unit)]
        if not unit.has_leak_test:
            lines.append("  no leak test of the unit is recorded")
    ended = [stop_facts(stop) for stop in report.recorded_stops if stop.release is not None]
    if ended:
        lines += ["", "Stops that were released, as typed: burnerlab cannot check it"]
        lines += [wrapped(for_reader(text), WIDTH, "  - ", "    ") for text in ended]
    if not report.units:
        lines.append("no unit of this record has a test of this plan")
    return "\n".join(in_words(line) for line in lines)
