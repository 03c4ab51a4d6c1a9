"""``record add``, ``correct`` and ``import``: entries written to the bench record."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.bench_inputs import BUILT_FOR, as_built, limits_by_plan
from burnerlab.cli.errors import DIFFERS, OK
from burnerlab.cli.options import takes
from burnerlab.cli.output import (
    document_option,
    facts,
    print_cautions,
    print_json,
    print_notes,
    print_open_stops,
    reader_system,
    stops_json,
)
from burnerlab.cli.record_output import (
    OUT,
    OVERWRITE,
    RECORD,
    UID_SHOWN,
    answer_in_region_of,
    attention,
    counted,
    earlier_place,
    entry_answer,
    plans_of,
    text_input,
    to_read,
    to_write,
)
from burnerlab.cli.record_parts import (
    COVERAGE,
    INSTRUMENT_FORM,
    LEAK_FORM,
    READING_FORM,
    RESULT_FORM,
    SEEN_FORM,
    answers_of,
    instrument_of,
    leak_test_of,
    observation_of,
    parts_input,
    reading_of,
    record_instrument,
    result_of,
)
from burnerlab.quantity.inputs import Input
from burnerlab.quantity.outputs import row
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.bench.reading.readings import ManifoldRange
    from burnerlab.bench.record import (
        BenchReading,
        BenchTest,
        InputText,
        OpenStop,
        Record,
        Result,
        TestRecord,
        UnitStops,
    )
    from burnerlab.bench.stop import StopNotice

YES_OR_NO = ("yes", "no")
ROOMS = ("another room", "outdoors")  # those of ``bench.record.open_stops``, which takes long to import
PLATES = ("converted", "entry before wrong")  # those of ``bench.record.other_unit``
APART = ("apart_room", "apart_held", "apart_by")
TEST = {
    one.name: one
    for one in (
        text_input("model", "NAME", "Model of the unit; needed without --appliance."),
        text_input("appliance", "FILE", "Project file: gives model, its SHA-256 and the gas."),
        text_input("gas", "NAME", "Gas it was tested with."),
        *BUILT_FOR,
        Input(name="rating_basis", choices=("gross", "net"), help="Of the rating (that of --appliance)."),
        text_input("tester", "NAME", "Who tested."),
        text_input("tested_at", "TIME", '"2026-11-25 14:05", local (now).'),
        parts_input("reading", reading_of, f"{READING_FORM}; may be repeated."),
        parts_input("result", result_of, f"{RESULT_FORM}; may be repeated."),
        parts_input("seen", observation_of, f"{SEEN_FORM}: yes, no or not seen."),
        parts_input("instrument", instrument_of, INSTRUMENT_FORM),
        text_input(
            "mended",
            "TEXT",
            "What was mended since a reading that was outside its band; where it was nothing, "
            '"nothing, read again".',
        ),
        Input(
            name="plate",
            choices=PLATES,
            help="What the plate says of a unit that the record has as another model or on another gas.",
        ),
        text_input("note", "TEXT", "Anything else."),
        text_input(
            "supply_label",
            "GAS",
            'Before lighting: the gas read from the label of the supply, or "cannot be read"; another than that of '
            'the unit, or "another gas", stops the bench.',
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
            '"line 3, another supply: ring main B". After a stop of gas in a room no test has a verdict before the '
            "release, but at a place that the next three options state to be apart.",
        ),
        Input(name="apart_room", choices=ROOMS, help="Where that place on another supply is."),
        text_input("apart_held", "PLACE", "The stopped place, which is shut off and ventilated."),
        text_input("apart_by", "NAME", "Who states that."),
    )
}
"""What a test is made of."""


def statement_of(options: Mapping[str, Any], place: str) -> tuple[InputText, ...]:
    """What the options state of a place apart from a stop; empty where they state nothing.

    Raises UserError for half a statement, and for a place that is on no supply of its own.
    """
    from burnerlab.bench.record.checks import words_problem
    from burnerlab.bench.record.entry import now
    from burnerlab.bench.record.open_stops import BenchPlace, place_and_supply

    given = {name: (options[name] or "").strip() for name in APART}
    if not any(given.values()):
        return ()
    wrong = [Problem("is missing", key=_option(name)) for name, text in given.items() if not text]
    if why := words_problem(given["apart_by"], "leak_test_by"):
        wrong.append(Problem(why[:1].lower() + why[1:], value=given["apart_by"], key=_option("apart_by")))
    if not all(place_and_supply(place)):
        fix = 'name both, such as "line 3, another supply: ring main B"'
        wrong.append(Problem("is no place on another supply", value=place, key="--place", fix=fix))
    if wrong:
        raise UserError(wrong)
    return BenchPlace(place=place, apart_place=place, apart_at=now(), **given).statement


def _with_mended(test: BenchTest, mended: str | None) -> BenchTest:
    """The test with what was mended since the reading in whose place it stands; without a word as it is."""
    from burnerlab.bench.earlier_readings import MENDED
    from burnerlab.bench.record import InputText

    words = (mended or "").strip()
    if not words:
        return test
    kept = tuple(one for one in test.inputs if one.name != MENDED)
    return replace(test, inputs=(*kept, InputText(name=MENDED, text=words)))


def _with_plate(record: Record, test: BenchTest, answer: str | None) -> BenchTest:
    """The test with what the plate of its unit says.

    Raises UserError where the record has the unit as another model or on another gas and nobody looked at the plate. A
    test that is stopped is recorded whatever else it lacks.
    """
    from burnerlab.bench.figure_stops import analyser_stops
    from burnerlab.bench.record import InputText, history
    from burnerlab.bench.record.other_unit import PLATE, PLATE_ANSWERS, another_words, tested_as_another
    from burnerlab.bench.stop_rules import entry_stops

    if answer:
        return replace(test, inputs=(*test.inputs, InputText(name=PLATE, text=answer)))
    if test.stops or entry_stops(test) or analyser_stops(test):
        return test
    before = tested_as_another(history(record, test.serial), test.model, test.gas)
    if before is not None:
        accepted = "; ".join(f"{name} ({words})" for name, words in PLATE_ANSWERS.items())
        what, fix = another_words(before, before.gas), "look at the plate, then write --plate converted"
        raise UserError(Problem(what, value=test.serial, key="--plate", accepted=accepted, fix=fix))
    return test


def _check_mended(record: Record, test: BenchTest, file: str) -> None:
    """Raise UserError for a test in the place of a reading outside its band that says nothing of what was mended.

    None that is stopped: it is recorded whatever else it lacks.
    """
    from burnerlab.bench.earlier_readings import MENDED, MENDED_MISSING, NOTHING_MENDED, read_before
    from burnerlab.bench.figure_stops import analyser_stops
    from burnerlab.bench.record import TestRecord, history
    from burnerlab.bench.record.entry import now, read_time
    from burnerlab.bench.stop_rules import entry_stops

    is_stopped = test.stops or entry_stops(test) or analyser_stops(test)
    if is_stopped or any(one.name == MENDED for one in test.inputs):
        return
    at = read_time(test.tested_at, "tested") if test.tested_at else now()
    entries = [one for one in history(record, test.serial) if one.test.tested_at <= at]
    made = TestRecord(number=0, uid="", recorded_at=at, test=test)
    before = [one for one in read_before(entries, made, plans_of(entries, file)) if one.is_outside]
    if before:
        lines = "; ".join(earlier_place(one, reader_system()) for one in before)
        what = f"{MENDED_MISSING[:1].lower()}{MENDED_MISSING[1:]}. Read before, outside its band: {lines}"
        fix = f'write --mended "orifice exchanged", or --mended "{NOTHING_MENDED}"'
        raise UserError(Problem(what, key="--mended", fix=fix))


def _option(name: str) -> str:
    return f"--{name.replace('_', '-')}"


def _unit_of(options: Mapping[str, Any]) -> Appliance | None:
    """The appliance as the unit is built: of the project file, for a market of it, by a plan; None without a file.

    Raises UserError for a market or plan without the file that it is of.
    """
    if options["appliance"] is None:
        named = [name for name in ("market", "plan") if options[name] is not None]
        if named:
            fix = "add --appliance FILE"
            raise UserError(
                [Problem("is of no file", value=options[name], key=_option(name), fix=fix) for name in named]
            )
        return None
    from burnerlab.appliance import read_appliance

    return as_built(read_appliance(options["appliance"]), options["market"], options["plan"])


def _model_of(options: dict[str, Any]) -> dict[str, Any]:
    """Texts of the test that options or the project file give."""
    texts: dict[str, Any] = {}
    appliance = _unit_of(options)
    if appliance is not None:
        texts = {
            "model": appliance.model or appliance.name,
            "model_sha256": appliance.file_sha256,
            "gas": appliance.supply.gas.name,
            "rating_basis": appliance.rating,
            "region": appliance.region,
        }
    texts |= {
        name: options[name]
        for name in ("model", "gas", "rating_basis", "tester", "tested_at", "note", "serial")
        if options.get(name) is not None
    }
    return texts


def _show_entry(
    entry: TestRecord, stops: Sequence[OpenStop], past: UnitStops, as_json: bool, notes: Sequence[str] = ()
) -> int:
    """What was recorded, headed by the stops that stand for this unit; the exit status says whether one does."""

    answer_in_region_of([entry])
    if as_json:
        document = row(entry_answer(entry, stops, {entry.serial.casefold(): past})) | {"notes": list(notes)}
        print_json(stops_json(stops) | document)
        return status_of_stops(stops)
    print_open_stops(stops)
    as_stopped = " as stopped" if entry.test.stops else ""
    click.echo(f"recorded{as_stopped}: {entry.serial}, entry {entry.uid[:UID_SHOWN]}, number {entry.number}")
    print_notes("Not as required", attention(entry, past))
    print_notes("Notes", (), warnings=notes)
    print_cautions()
    return status_of_stops(stops)


def status_of_stops(stops: Sequence[OpenStop]) -> int:
    """Exit status for a line's script: 1 where the unit of what was recorded may not be lit."""
    return DIFFERS if stops else OK


@click.command(short_help="Record a test of a unit.")
@takes(
    serial=text_input("serial", "SERIAL", "Serial number of the unit.", is_needed=True),
    **TEST | {"tester": replace(TEST["tester"], is_needed=True)},
    file=RECORD,
)
@document_option
def add(file: str, as_json: bool, **options: Any) -> int:
    """Record a test; once it is acknowledged, it is on the disk.

    An uncertainty after +- is expanded (coverage factor 2), in the unit of the figure or in % of it. Words of
    readings, results and observations are listed when one is not known. What stops a test, such as a smell of gas,
    heads the answer; the test is recorded as stopped, without a verdict. The exit status is 1 where a stop is in force
    for the unit, raised here or before. A reading outside its band that is read again needs --mended. A unit that was
    converted is of a --plan or --market of the project file: its figures are held against that.

    \b
    Example:
      burnerlab record add --serial C-0412 --model "market cart range" \\
          --tester "R. Quill" \\
        --instrument "M3, manometer, calibrated 2026-05-01, due 2027-05-01" \\
        --reading "griddle: manifold pressure = 11 inH2O +- 0.2 inH2O with M3" \\
        --result "griddle: deviation = -2.1 % +- 1.5 % in -5 %..5 %" \\
          --seen "griddle: lift = no"
    """
    from burnerlab.bench.record import BenchTest, add_test, open_stops, unit_stops
    from burnerlab.bench.record.open_stops import BenchPlace

    texts = _model_of(options)
    missing = [name for name in ("model", "tester") if not texts.get(name, "").strip()]
    if missing:
        raise UserError([Problem("is missing", key=f"--{name}") for name in missing])
    answers = answers_of(options, None)
    statement = statement_of(options, answers.place if answers else "")
    test = BenchTest(**texts, before_lighting=answers, inputs=statement)
    with to_write(file, create=True) as record:
        made = _with_label(_with_mended(_with_parts(test, options, record), options["mended"]))
        made = _with_plate(record, made, options["plate"])
        _check_mended(record, made, file)
        entry = add_test(record, made)
        stops = open_stops(record, serial=entry.serial, place=BenchPlace.of(entry))
        past = unit_stops(record, entry.serial)
    return _show_entry(entry, stops, past, as_json, _limit_notes(made, _unit_of(options)))


def _with_parts(test: BenchTest, options: Mapping[str, Any], record: Record) -> BenchTest:
    """The test with the parts that were given: one of the same burner and name replaces the one there was.

    A manifold pressure or heat input that the project file does not allow stops the test.
    """
    from burnerlab.bench.earlier_readings import MENDED
    from burnerlab.bench.reading.flue import APPLIANCE_KIND
    from burnerlab.bench.record.open_stops import STATEMENTS

    options = _results_apart(options)
    new_parts = {
        **options,
        "instrument": tuple(record_instrument(one, record) for one in options["instrument"]),
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
        keys_of_new = {tuple(getattr(fact, key) for key in keys) for fact in new}
        kept = [
            fact
            for fact in getattr(test, many)
            if tuple(getattr(fact, key) for key in keys) not in keys_of_new
            and not (kind == "result" and _is_of_same_reading(fact, (*new, *new_parts["reading"])))
            and not (kind == "reading" and _stands_among(fact, new_parts["result"]))
        ]
        parts[many] = (*kept, *new)
    if options["reading"]:  # what a form had says another thing now, but of place, kind and repair
        kept_names = {*STATEMENTS, APPLIANCE_KIND, MENDED}
        parts["inputs"] = tuple(one for one in test.inputs if one.name in kept_names)
    unit = _unit_of(options)
    made = _with_kind(replace(test, **parts), unit)
    _check_gas(made, unit, is_converted=any(options[name] is not None for name in ("market", "plan")))
    if options["plan"] is not None:
        made = _with_plan(made, options["plan"], options["appliance"])
    return replace(made, stops=_file_stops(made, unit, options))


def _check_gas(test: BenchTest, unit: Appliance | None, *, is_converted: bool) -> None:
    """That a unit of a plan or market is not entered on another gas. Raises UserError: one of the two is wrong.

    A gas that was read on the supply itself is a stop, not a slip of this option.
    """
    if unit is None or not is_converted or not test.gas:
        return
    from burnerlab.bench.stop_rules import ANOTHER_GAS

    own = unit.supply.gas.name
    if test.gas.casefold() != own.casefold():
        raise UserError(
            Problem(
                f"is another gas than {own}, for which market or plan have the orifices",
                value=test.gas,
                key="--gas",
                fix=f'leave --gas out, or name another market; read on the supply: --supply-label "{ANOTHER_GAS}"',
            )
        )


def _with_label(test: BenchTest) -> BenchTest:
    """The test with the label of its supply as the bench keeps it; of another gas its name goes into the note.

    Raises UserError for a label that is neither the gas of the test nor one of the library.
    """
    from burnerlab.bench.stop_rules import ANOTHER_GAS, UNREAD_LABEL
    from burnerlab.gas import load

    before = test.before_lighting
    label = "" if before is None else before.supply_label
    if (
        before is None
        or label.casefold() in ("", ANOTHER_GAS, UNREAD_LABEL, test.gas.casefold())
        or not test.gas
    ):
        return test
    try:
        name = load(label).name
    except UserError:
        raise UserError(
            Problem(
                "is no gas that is known here",
                value=label,
                key="--supply-label",
                fix=f'{test.gas} where the label names that, else "{ANOTHER_GAS}"; "{UNREAD_LABEL}" if so',
            )
        ) from None
    if name.casefold() == test.gas.casefold():
        return replace(test, before_lighting=replace(before, supply_label=test.gas))
    note = f"{test.note}; " if test.note else ""
    return replace(
        test,
        before_lighting=replace(before, supply_label=ANOTHER_GAS),
        note=f"{note}label of the supply: {label}",
    )


def _stands_among(reading: BenchReading, results: Iterable[Result]) -> bool:
    """Whether a figure that once was entered as a reading is given as a result now."""
    return any((new.burner, new.quantity) == (reading.burner, reading.quantity) for new in results)


def _results_apart(options: Mapping[str, Any]) -> dict[str, Any]:
    """The options with what follows from readings, entered as a reading, among the results.

    There a heat input is held against its limits, and counts in reports, charts and constants.
    """
    from burnerlab.bench.record import BenchInstrument, Result
    from burnerlab.bench.record.entry import quantity_named

    moved = [one for one in options["reading"] if quantity_named(one.quantity).is_result]
    wrong = [
        Problem(
            f"{one.quantity} stands as a reading and as a result",
            value=one.burner,
            key="--reading",
            fix="leave one of the two out",
        )
        for one in moved
        if _stands_among(one, options["result"])
    ]
    if wrong:
        raise UserError(wrong)
    results = [
        Result(
            quantity=one.quantity,
            value=one.value,
            burner=one.burner,
            expanded_uncertainty=(
                None if one.standard_uncertainty is None else COVERAGE * one.standard_uncertainty
            ),
        )
        for one in moved
    ]
    named = {one.name for one in options["instrument"]}
    used = dict.fromkeys(one.instrument for one in moved if one.instrument not in {"", *named})
    return {
        **options,
        "reading": tuple(one for one in options["reading"] if one not in moved),
        "result": (*options["result"], *results),
        "instrument": (*options["instrument"], *(BenchInstrument(name=name) for name in used)),
    }


OF_A_READING = ("deviation", "heat_input_gross", "heat_input_net", "standard_volume_flow", "mass_flow")
"""Results that one reading of meter or scale gives together: one of them alone cannot change."""


def _is_of_same_reading(result: Result, corrected: Iterable[Result | BenchReading]) -> bool:
    """Whether a result would contradict a corrected figure of the same burner, since both follow from one reading."""
    if any((new.burner, new.quantity) == (result.burner, result.quantity) for new in corrected):
        return True
    name = result.quantity.removeprefix("low_rate_")
    rate = result.quantity.removesuffix(name)
    return name in OF_A_READING and any(
        new.burner == result.burner and new.quantity in {rate + other for other in OF_A_READING}
        for new in corrected
    )


def _file_stops(
    test: BenchTest, unit: Appliance | None, options: Mapping[str, Any]
) -> tuple[StopNotice, ...]:
    """Stops of the figures of a test by its unit as it is built; none without a project file."""
    if unit is None:
        return ()
    from burnerlab.bench.figure_stops import file_stops

    def limits_of(burner: str | None) -> ManifoldRange | None:
        return limits_by_plan(unit, options["plan"], burner, options["market"])

    return file_stops(test, unit, limits_of)


HELD_AGAINST_NOTHING = (
    "no limit is known: manifold pressure and heat input are held against nothing; name the project file by "
    "--appliance, of a converted unit with --plan or --market"
)
GAS_OF_NO_FILE = (
    "{gas} is not the gas of the file, {own}: its orifices and pressures are those of {own}; of a converted unit name "
    "--plan or --market"
)


def _limit_notes(test: BenchTest, unit: Appliance | None) -> tuple[str, ...]:
    """What a test is held against, where that is nothing, or a unit of another gas."""
    from burnerlab.bench.figure_stops import HEAT_INPUTS, PRESSURES

    figures = {one.quantity for one in test.readings} | {one.quantity for one in test.results}
    if figures.isdisjoint({*HEAT_INPUTS, *PRESSURES}):
        return ()
    if unit is None:
        return (HELD_AGAINST_NOTHING,)
    own = unit.supply.gas.name
    return (GAS_OF_NO_FILE.format(gas=test.gas, own=own),) if test.gas.casefold() != own.casefold() else ()


def _with_plan(test: BenchTest, plan: str, file: str) -> BenchTest:
    """The test with the number of the plan that its unit is built by: it tells which orifices were read."""
    from burnerlab.bench.plan_file import plan_named
    from burnerlab.bench.record import InputText

    number = plan_named(plan, Path(file).parent, Path()).number
    kept = tuple(one for one in test.inputs if one.name != "plan")
    return replace(test, inputs=(*kept, InputText(name="plan", text=number)))


def _with_kind(test: BenchTest, unit: Appliance | None) -> BenchTest:
    """The test with the kind of appliance that its project file names: its limit of carbon monoxide is in force."""
    from burnerlab.bench.reading.flue import APPLIANCE_KIND
    from burnerlab.bench.record import InputText

    if unit is None:
        return test
    kind = unit.kind
    kept = tuple(one for one in test.inputs if one.name != APPLIANCE_KIND)
    return replace(test, inputs=(*kept, InputText(name=APPLIANCE_KIND, text=kind))) if kind else test


@click.command(short_help="Supersede an entry by a corrected one.")
@takes(
    entry=text_input("entry", "ENTRY", "", is_needed=True, is_argument=True),
    reason=text_input("reason", "TEXT", "Why; it stays with the entry.", is_needed=True),
    serial=text_input("serial", "SERIAL", "When the serial number was wrong."),
    **TEST,
    file=RECORD,
)
@document_option
def correct(entry: str, reason: str, file: str, as_json: bool, **options: Any) -> int:
    """Record a corrected test in place of ENTRY (the first characters of its code; show and list print it).

    What is not written here stays as in the entry. Heat input, flow and deviation follow from one reading: where
    one is corrected, the others go unless they are given too. The old entry stays readable. A stop that it raised
    is in force until record release ends it, and the exit status is 1 as long as it does.

    \b
    Example:
      burnerlab record correct 3fa8c012 --reason "read the wrong dial" \\
        --result "griddle: deviation = 1.4 % in -5 %..5 %"
    """
    from burnerlab.bench.record import correct as supersede
    from burnerlab.bench.record import entry as entry_of
    from burnerlab.bench.record import open_stops, unit_stops
    from burnerlab.bench.record.open_stops import STATEMENTS, BenchPlace

    texts = _model_of(options)
    with to_write(file) as record:
        before = entry_of(record, entry)
        answers = answers_of(options, before.test.before_lighting)
        statement = statement_of(options, answers.place if answers else "")
        inputs = tuple(one for one in before.test.inputs if not (statement and one.name in STATEMENTS))
        test = replace(before.test, **texts, before_lighting=answers, inputs=(*inputs, *statement))
        made = _with_label(_with_mended(_with_parts(test, options, record), options["mended"]))
        new = supersede(record, before.uid, made, reason)
        stops = open_stops(record, serial=new.serial, place=BenchPlace.of(new))
        past = unit_stops(record, new.serial)
    return _show_entry(new, stops, past, as_json)


@click.command("import", short_help="Take in an exported file.")
@takes(source=text_input("source", "SOURCE", "", is_needed=True, is_argument=True), file=RECORD)
@document_option
def import_(source: str, file: str, as_json: bool) -> int:
    """Take in every entry of SOURCE, a CSV, XLSX or JSON file from burnerlab record export: all of them or none.

    A stop that its figures raise and no entry of it has is recorded as an entry of its own; the exit status is 1 then.

    Photographs are taken from the folder that the export made next to it.

    \b
    Example:
      burnerlab record import bench2.json
    """
    from burnerlab.bench.record import import_entries, open_stops, read_export
    from burnerlab.bench.record.photographs import copy_photographs

    entries = read_export(Path(source))  # every complaint before a file is made
    with to_write(file, create=True) as record:
        done = import_entries(record, entries)
        stops = open_stops(record) if done.stops_raised else ()
        named = [one.sha256 for each in entries.tests for one in each.test.photographs]
        copy_photographs(Path(source), Path(file), named)
    if as_json:
        print_json(stops_json(stops) | row(done) if stops else done)
    else:
        print_open_stops(stops)
        click.echo(
            f"taken in: {counted(done.tests, 'test')}, {counted(done.kit_checks, 'kit check')}, "
            f"{counted(done.releases, 'release')}; already in the record: {done.already_there}"
        )
        print_notes("One unit, spelled in two ways", done.spellings)
        print_cautions()
    return status_of_stops(stops)


@click.command(short_help="Is the record whole.")
@takes(
    upgrade=Input(
        name="upgrade", is_flag=True, help="First bring a file of an older burnerlab to this one's schema."
    ),
    file=RECORD,
)
@document_option
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
            (
                "damage",
                "no damage found in the file" if report.is_whole else counted(len(report.faults), "fault"),
            ),
        ]
        click.echo(facts(pairs))
        print_notes("Faults", report.faults)
        print_cautions()
    return 0 if report.is_whole else DIFFERS


@click.command(short_help="Copy the record while it is in use.")
@takes(out=OUT, overwrite=OVERWRITE, file=RECORD)
@document_option
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
            f"{made.path}: {counted(made.report.tests, 'test')}, {made.size_bytes} bytes, no damage found in the copy"
        )
        print_notes(
            "Shown and not recorded, beside the copy too",
            [f"{stop.notice.heading} {stop.words}" for stop in made.stops],
        )
        print_cautions()
