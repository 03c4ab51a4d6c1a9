"""``burnerlab record list``, ``show``, ``search``, ``kits`` and ``export``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.options import json_option
from burnerlab.cli.output import facts, print_json, print_notes
from burnerlab.cli.record_options import LIMIT, OUT, OVERWRITE, RECORD, day, text_input, to_read
from burnerlab.cli.stops import print_open_stops, stops_json
from burnerlab.cli.takes import takes
from burnerlab.quantity.inputs import Input
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.bench.record import OpenStop, TestRecord, UnitStops


def _show_lines(
    found: Sequence[TestRecord],
    stops: Sequence[OpenStop],
    past: Mapping[str, UnitStops],
    as_json: bool,
    **more: Any,
) -> None:
    """Entries as lines, headed by the stops of the bench and of these units."""
    from burnerlab.cli.record_shown import entry_json, lines_text

    serials = {record.serial for record in found}
    stand = [one for one in stops if one.is_of_the_bench or one.serial in serials]
    if as_json:
        told = {"count": len(found), **more, "tests": [entry_json(record, stops, past) for record in found]}
        print_json(stops_json(stand) | told)
        return
    print_open_stops(stand)
    click.echo(lines_text(found, stops, past) if found else "no entry fits")
    unread = [f"{one.stops[0].entry.serial}: {told}" for one in past.values() for told in one.unread()]
    print_notes("Not as required", unread)
    if more:
        click.echo()
        click.echo(facts([(name.replace("_", " "), str(value)) for name, value in more.items()]))
    print_cautions()


@click.command("list", short_help="The newest test of each unit.")
@takes(
    model=text_input("model", "NAME", "Only this model.", default=""),
    since=Input(
        name="since", reader=day, metavar="DATE", default="", help='Tested on or after: "2026-11-01".'
    ),
    until=Input(name="until", reader=day, metavar="DATE", default="", help="Tested on or before this day."),
    limit=LIMIT,
    offset=Input(name="offset", of="lines_left_out", default="0", help="Leave out so many of the newest."),
    file=RECORD,
)
@json_option
def list_(model: str, since: str, until: str, limit: int, offset: int, file: str, as_json: bool) -> None:
    """The newest current test of each unit, newest first, and how much the record holds.

    \b
    Example:
      burnerlab record list --model "market cart range" --since 2026-11-01
    """
    from burnerlab.bench.record import open_stops, stops_of_units, summary, units

    with to_read(file) as record:
        found = units(record, model=model, since=since, until=until, limit=limit, offset=offset)
        held, stops = summary(record), open_stops(record)
        past = stops_of_units(record, (one.serial for one in found))
    more = {
        "units": held.units,
        "entries": held.tests,
        "corrections": held.corrections,
        "kit_checks": held.kit_checks,
    }
    _show_lines(found, stops, past, as_json, **more)


@click.command(short_help="A unit's newest test, or its whole history.")
@takes(
    serial=text_input("serial", "SERIAL", "", is_needed=True, is_argument=True),
    with_history=Input(name="history", is_flag=True, help="Every entry, superseded ones as well."),
    file=RECORD,
)
@json_option
def show(serial: str, with_history: bool, file: str, as_json: bool) -> None:
    """The newest current test of the unit SERIAL in full.

    \b
    Examples:
      burnerlab record show C-0412
      burnerlab record show C-0412 --history
    """
    from burnerlab.bench.record import UnitStops, history, latest, open_stops, stops_of_units
    from burnerlab.cli.record_shown import attention, entry_json, entry_text

    with to_read(file) as record:
        every = history(record, serial) if with_history else ()
        newest, stops = latest(record, serial), open_stops(record)
        past = stops_of_units(record, [serial])
    if newest is None and not every:
        fix = "burnerlab record search finds part of a serial number"
        raise UserError(Problem("no test of this unit", value=serial, key="SERIAL", fix=fix))
    if with_history:
        _show_lines(every, stops, past, as_json)
        return
    assert newest is not None
    stand = [one for one in stops if one.stands_for(newest.serial, newest.place)]
    if as_json:
        print_json(stops_json(stand) | entry_json(newest, stops, past))
        return
    print_open_stops(stand)
    own = past.get(newest.serial.casefold(), UnitStops())
    click.echo(entry_text(newest, stops, own))
    print_notes("Not as required", attention(newest, own))
    print_cautions()


@click.command(short_help="Entries that hold some words.")
@takes(
    words=text_input("words", "WORDS...", "", is_needed=True, is_many=True, is_argument=True),
    limit=LIMIT,
    file=RECORD,
)
@json_option
def search(words: tuple[str, ...], limit: int, file: str, as_json: bool) -> None:
    """Entries in which every one of WORDS stands: in serial, model, gas, tester, note, reason or entry.

    \b
    Example:
      burnerlab record search 0412
    """
    from burnerlab.bench.record import open_stops, stops_of_units
    from burnerlab.bench.record import search as find

    with to_read(file) as record:
        found, stops = find(record, " ".join(words), limit), open_stops(record)
        past = stops_of_units(record, (one.serial for one in found))
    _show_lines(found, stops, past, as_json)


@click.command(short_help="Weighings of kits.")
@takes(
    kit=text_input("kit", "KIT", "Only this kit.", default=""),
    serial=text_input("serial", "SERIAL", "Only for this unit.", default=""),
    limit=LIMIT,
    file=RECORD,
)
@json_option
def kits(kit: str, serial: str, limit: int, file: str, as_json: bool) -> None:
    """Kits weighed at the end of packing, newest first.

    \b
    Example:
      burnerlab record kits --kit K-77
    """
    from burnerlab.bench.record import kit_checks
    from burnerlab.cli.record_shown import kit_json, kits_text

    with to_read(file) as record:
        found = kit_checks(record, kit=kit, serial=serial, limit=limit)
    if as_json:
        print_json({"count": len(found), "kit_checks": [kit_json(one) for one in found]})
    else:
        click.echo(kits_text(found) if found else "no kit fits")
        print_cautions()


@click.command(short_help="The whole record as CSV, workbook or JSON.")
@takes(
    ending=Input(name="format", choices=("csv", "json", "xlsx"), help="From the name of FILE unless said."),
    out=OUT,
    overwrite=OVERWRITE,
    file=RECORD,
)
@json_option
def export(ending: str | None, out: str, overwrite: bool, file: str, as_json: bool) -> None:
    """Write every entry to FILE; burnerlab record import takes it in again, equal to the last digit.

    \b
    Example:
      burnerlab record export --out november.xlsx
    """
    from burnerlab.bench.record import exported, summary
    from burnerlab.bench.record.export import FORMATS, GET_WORKBOOKS
    from burnerlab.bench.record.files import whole_file

    chosen = ending or Path(out).suffix.lower().lstrip(".")
    if chosen not in FORMATS:
        raise UserError(Problem("no such format", value=chosen, key="--format", accepted=", ".join(FORMATS)))
    with to_read(file) as record, whole_file(Path(out), overwrite) as made:
        try:
            content = exported(record, chosen)
        except ImportError as error:
            raise UserError(Problem(f"needs {error.name}", key="--format", fix=GET_WORKBOOKS)) from None
        made.write_bytes(content)
        held = summary(record)
    result = {"file": out, "size_bytes": len(content), "tests": held.tests, "kit_checks": held.kit_checks}
    if as_json:
        print_json(result)
    else:
        click.echo(f"{out}: {held.tests} tests, {held.kit_checks} kit checks, {len(content)} bytes")
        print_cautions()
