"""``burnerlab record stops`` and ``release``: which stops stand, and who ends one."""

from __future__ import annotations

from typing import Any

import click

from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.options import json_option
from burnerlab.cli.output import print_json
from burnerlab.cli.record_options import RECORD, text_input, to_read, to_write
from burnerlab.cli.stops import print_open_stops, stops_json
from burnerlab.cli.takes import takes

UNCHECKED = "Name and qualification stand as typed: burnerlab cannot check them."


@click.command(short_help="Stops that no release has ended.")
@takes(
    serial=text_input("serial", "SERIAL", "Only those that stand for this unit, the bench's among them."),
    place=text_input("place", "PLACE", "Of the bench: leaves out those of other places.", default=""),
    file=RECORD,
)
@json_option
def stops(serial: str | None, place: str, file: str, as_json: bool) -> None:
    """The stops of the record that no release has ended, the worst first, and for whom each stands.

    A stop of the whole bench stands for every unit on that supply. The first characters of its entry, a hyphen and
    its name are what record release takes.

    \b
    Example:
      burnerlab record stops --serial C-0412
    """
    from burnerlab.bench.record import open_stops

    with to_read(file) as record:
        found = open_stops(record, serial=serial, place=place)
    if as_json:
        print_json(stops_json(found))
        return
    print_open_stops(found)
    if not found:
        click.echo("no stop stands")
    print_cautions()


@click.command(short_help="A qualified person ends a stop.")
@takes(
    names=text_input("names", "STOP...", "", is_needed=True, is_many=True, is_argument=True),
    name=text_input("name", "NAME", "Who releases.", is_needed=True),
    qualification=text_input(
        "qualification", "TEXT", "By which this person may work on gas parts.", is_needed=True
    ),
    cause=text_input("cause", "TEXT", "What was found.", is_needed=True),
    repair=text_input("repair", "TEXT", "How it was corrected.", is_needed=True),
    leak_test=text_input("leak_test", "TEXT", "After the repair: method and finding.", is_needed=True),
    file=RECORD,
)
@json_option
def release(names: tuple[str, ...], file: str, as_json: bool, **given: str) -> None:
    """End each STOP, named as record stops prints it. Only a qualified person releases.

    The release is an entry of its own: it is never changed or deleted. The unit has no verdict until its next test.

    \b
    Example:
      burnerlab record release 3fa8c012-odour --name "K. Moss" --qualification "gas engineer, licence 1234" \\
        --cause "union nut loose" --repair "new seal, tightened" --leak-test "detection fluid, every joint: none found"
    """
    from burnerlab.bench.record import open_stops
    from burnerlab.bench.record import release as end

    with to_write(file) as record:
        made = end(record, names, **given)
        left = open_stops(record)
    told: dict[str, Any] = {
        "uid": made.uid,
        "number": made.number,
        "recorded_at": made.recorded_at,
        "released": made.release.stops,
        **{name: getattr(made.release, name) for name in given},
    }
    if as_json:
        print_json(stops_json(left) | told | {"note": UNCHECKED})
        return
    print_open_stops(left)
    click.echo(f"recorded: release {made.uid[:8]} by {made.release.name}, {made.release.qualification}")
    for uid in made.release.stops:
        entry, _, name = uid.partition("-")
        click.echo(f"  ends {entry[:8]}-{name}")
    click.echo(UNCHECKED)
    print_cautions()
