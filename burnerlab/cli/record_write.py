"""``burnerlab record add``, ``correct``, ``import``, ``check`` and ``backup``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.errors import DIFFERS
from burnerlab.cli.options import json_option
from burnerlab.cli.output import facts, print_json, print_notes
from burnerlab.cli.record_facts import (
    INSTRUMENT_FORM,
    LEAK_FORM,
    READING_FORM,
    RESULT_FORM,
    SEEN_FORM,
    answers_of,
    instrument_of,
    known_instrument,
    leak_test_of,
    observation_of,
    parts_input,
    reading_of,
    result_of,
)
from burnerlab.cli.record_options import OUT, OVERWRITE, RECORD, text_input, to_read, to_write
from burnerlab.cli.stops import print_open_stops, stops_json
from burnerlab.cli.takes import takes
from burnerlab.quantity.inputs import Input
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.bench.record import BenchTest, OpenStop, Record, TestRecord, UnitStops
    from burnerlab.bench.stop import StopNotice


YES_OR_NO = ("yes", "no")
TEST = {
    one.name: one
    for one in (
        text_input("model", "NAME", "Model of the unit; from --appliance unless said."),
        text_input("appliance", "FILE", "Project file: gives model, its SHA-256 and the gas."),
        text_input("gas", "NAME", "Gas it was tested with."),
        text_input("tester", "NAME", "Who tested."),
        text_input("tested_at", "TIME", '"2026-11-25 14:05", local; now unless said.'),
        parts_input("reading", reading_of, f"{READING_FORM}; may be repeated."),
        parts_input("result", result_of, f"{RESULT_FORM}; may be repeated."),
        parts_input("seen", observation_of, f"{SEEN_FORM}: yes, no or not seen."),
        parts_input("instrument", instrument_of, INSTRUMENT_FORM),
        text_input("note", "TEXT", "Anything else."),
        text_input(
            "supply_label",
            "GAS",
            "Before lighting: the gas read from the supply's label; of another than the model's, "
            '"another gas", which stops the bench.',
        ),
        Input(
            name="leak_test",
            reader=leak_test_of,
            metavar="TEXT",
            help=f"Of this unit, before lighting: {LEAK_FORM}.",
        ),
        Input(name="extraction", choices=YES_OR_NO, help="Extraction was running."),
        Input(name="co_alarm", choices=YES_OR_NO, help="A carbon monoxide alarm was on."),
        text_input(
            "place",
            "PLACE",
            'Of the bench: "line 3"; while a bench is stopped, one on another supply: '
            '"line 3, another supply: ring main B".',
        ),
    )
}
"""What a test is made of."""


def _model_of(given: dict[str, Any]) -> dict[str, Any]:
    """Texts of the test that options or the project file give."""
    told: dict[str, Any] = {}
    if given["appliance"] is not None:
        from burnerlab.appliance import read_appliance

        appliance = read_appliance(given["appliance"])
        told = {
            "model": appliance.model or appliance.name,
            "model_sha256": appliance.file_sha256,
            "gas": appliance.supply.gas.name,
        }
    told |= {
        name: given[name]
        for name in ("model", "gas", "tester", "tested_at", "note", "serial")
        if given.get(name) is not None
    }
    return told


def _show_entry(made: TestRecord, stops: Sequence[OpenStop], past: UnitStops, as_json: bool) -> None:
    """What was recorded, headed by the stops that stand for this unit."""
    from burnerlab.cli.record_shown import UID_SHOWN, attention, entry_json

    if as_json:
        told = entry_json(made, stops, {made.serial.casefold(): past})
        print_json(stops_json(stops) | told)
        return
    print_open_stops(stops)
    as_stopped = " as stopped" if made.test.stops else ""
    click.echo(f"recorded{as_stopped}: {made.serial}, entry {made.uid[:UID_SHOWN]}, number {made.number}")
    print_notes("Not as required", attention(made, past))
    print_cautions()


@click.command(short_help="Record a test of a unit.")
@takes(
    serial=text_input("serial", "SERIAL", "Serial number of the unit.", is_needed=True), **TEST, file=RECORD
)
@json_option
def add(file: str, as_json: bool, **given: Any) -> None:
    """Record a test; what is acknowledged is on the disk.

    An uncertainty after +- is expanded (coverage factor 2), in the unit of the figure or in % of it. Words of
    readings, results and observations are listed when one is not known. What stops a test, such as a smell of gas,
    heads the answer; the test is recorded as stopped, without a verdict.

    \b
    Example:
      burnerlab record add --serial C-0412 --model "market cart range" --tester "R. Quill" \\
        --instrument "M3, manometer, calibrated 2026-05-01, due 2027-05-01" \\
        --reading "griddle: manifold pressure = 11 inH2O +- 0.2 inH2O with M3" \\
        --result "griddle: deviation = -2.1 % +- 1.5 % in -5 %..5 %" --seen "griddle: lift = no"
    """
    from burnerlab.bench.record import BenchTest, add_test, open_stops, unit_stops

    told = _model_of(given)
    missing = [name for name in ("model", "tester") if not told.get(name, "").strip()]
    if missing:
        raise UserError([Problem("is missing", key=f"--{name}") for name in missing])
    test = BenchTest(**told, before_lighting=answers_of(given, None))
    with to_write(file, create=True) as record:
        made = add_test(record, _with_parts(test, given, record))
        stops = open_stops(record, serial=made.serial, place=made.place)
        past = unit_stops(record, made.serial)
    _show_entry(made, stops, past, as_json)


def _with_parts(test: BenchTest, given: Mapping[str, Any], record: Record) -> BenchTest:
    """The test with the parts that were given: one of the same burner and name replaces the one there was.

    A manifold pressure above the highest of the range in the project file stops the test.
    """
    new_parts = {
        **given,
        "instrument": tuple(known_instrument(one, record) for one in given["instrument"]),
    }
    names = (
        ("readings", "reading", ("burner", "quantity")),
        ("results", "result", ("burner", "quantity")),
        ("observations", "seen", ("burner", "name")),
        ("instruments", "instrument", ("name",)),
    )
    parts: dict[str, Any] = {}
    for many, kind, keys in names:
        new = new_parts[kind]
        taken = {tuple(getattr(fact, key) for key in keys) for fact in new}
        kept = [
            fact for fact in getattr(test, many) if tuple(getattr(fact, key) for key in keys) not in taken
        ]
        parts[many] = (*kept, *new)
    if given["reading"]:  # what was entered in a form says another thing now
        parts["inputs"] = ()
    made = replace(test, **parts)
    return replace(made, stops=_pressure_stops(made, given["appliance"]))


def _pressure_stops(test: BenchTest, file: str | None) -> tuple[StopNotice, ...]:
    if file is None:
        return ()
    from burnerlab.appliance import read_appliance
    from burnerlab.bench.manifold import manifold_check
    from burnerlab.bench.stop_rules import stops_of

    read = [one.value for one in test.readings if one.quantity == "manifold_pressure" and one.value > 0.0]
    return stops_of(manifold=manifold_check(read_appliance(file), max(read))) if read else ()


@click.command(short_help="Supersede an entry by a corrected one.")
@takes(
    entry=text_input("entry", "ENTRY", "", is_needed=True, is_argument=True),
    reason=text_input("reason", "TEXT", "Why; it stays beside the entry.", is_needed=True),
    serial=text_input("serial", "SERIAL", "When the serial number was wrong."),
    **TEST,
    file=RECORD,
)
@json_option
def correct(entry: str, reason: str, file: str, as_json: bool, **given: Any) -> None:
    """Record a corrected test in place of ENTRY (the first characters of its code; show and list print it).

    What is not given here is taken over from the entry. The old entry stays readable. A stop that it raised stands
    until record release ends it.

    \b
    Example:
      burnerlab record correct 3fa8c012 --reason "read the wrong dial" \\
        --result "griddle: deviation = 1.4 % in -5 %..5 %"
    """
    from burnerlab.bench.record import correct as supersede
    from burnerlab.bench.record import entry as entry_of
    from burnerlab.bench.record import open_stops, unit_stops

    told = _model_of(given)
    with to_write(file) as record:
        before = entry_of(record, entry)
        answers = answers_of(given, before.test.before_lighting)
        test = replace(before.test, **told, before_lighting=answers)
        made = supersede(record, before.uid, _with_parts(test, given, record), reason)
        stops = open_stops(record, serial=made.serial, place=made.place)
        past = unit_stops(record, made.serial)
    _show_entry(made, stops, past, as_json)


@click.command("import", short_help="Take in an exported file.")
@takes(source=text_input("source", "SOURCE", "", is_needed=True, is_argument=True), file=RECORD)
@json_option
def import_(source: str, file: str, as_json: bool) -> None:
    """Take in every entry of SOURCE, a CSV, XLSX or JSON file from burnerlab record export: all of them or none.

    \b
    Example:
      burnerlab record import bench2.json
    """
    from burnerlab.bench.record import import_entries, read_export

    entries = read_export(Path(source))  # every complaint before a file is made
    with to_write(file, create=True) as record:
        done = import_entries(record, entries)
    if as_json:
        print_json(done)
    else:
        click.echo(
            f"{done.tests} tests, {done.kit_checks} kit checks and {done.releases} releases taken in, "
            f"{done.already_there} were there"
        )
        print_cautions()


@click.command(short_help="Is the record whole.")
@takes(
    upgrade=Input(
        name="upgrade", is_flag=True, help="First bring a file of an older burnerlab to this one's schema."
    ),
    file=RECORD,
)
@json_option
def check(upgrade: bool, file: str, as_json: bool) -> int:
    """Check the pages of the file, its references and triggers, and every entry against its own hash and its chain.

    The exit status is 1 when something is wrong. The last link of the chain, noted elsewhere, shows later whether
    entries were taken from the end.

    \b
    Example:
      burnerlab record check
    """
    from burnerlab.bench.record import check as check_record

    if upgrade:
        to_write(file).close()
    with to_read(file) as record:
        report = check_record(record)
    if as_json:
        print_json(report)
    else:
        pairs = [
            ("tests", str(report.tests)),
            ("kit checks", str(report.kit_checks)),
            ("releases", str(report.releases)),
            ("schema", str(report.record_schema)),
            ("last link", report.last_chain[:16] or "-"),
            ("found", "no damage found in the file" if report.is_whole else f"{len(report.faults)} faults"),
        ]
        click.echo(facts(pairs))
        print_notes("Faults", report.faults)
        print_cautions()
    return 0 if report.is_whole else DIFFERS


@click.command(short_help="Copy the record while it is in use.")
@takes(out=OUT, overwrite=OVERWRITE, file=RECORD)
@json_option
def backup(out: str, overwrite: bool, file: str, as_json: bool) -> None:
    """Copy the record into one file while others write, and check the copy.

    \b
    Example:
      burnerlab record backup --out /media/stick/bench-2026-11-25.sqlite
    """
    from burnerlab.bench.record import backup as copy_record

    with to_read(file) as record:
        made = copy_record(record, Path(out), overwrite)
    if as_json:
        print_json(made.report, file=str(made.path), size_bytes=made.size_bytes)
    else:
        click.echo(
            f"{made.path}: {made.report.tests} tests, {made.size_bytes} bytes, no damage found in the copy"
        )
        print_cautions()
