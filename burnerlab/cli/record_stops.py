"""``burnerlab record stops`` and ``release``: which stops stand, and who ends one."""

from __future__ import annotations

from typing import Any

import click

from burnerlab.cli.cautions import cautions, print_cautions
from burnerlab.cli.options import json_option
from burnerlab.cli.output import print_json
from burnerlab.cli.record_options import file_option, to_read, to_write
from burnerlab.cli.stops import open_stops_json, print_open_stops

UNCHECKED = "Name and qualification stand as typed: burnerlab cannot check them."


@click.command(short_help="Stops that no release has ended.")
@click.option(
    "--serial", metavar="SERIAL", help="Only those that stand for this unit, the bench's among them."
)
@click.option("--place", metavar="PLACE", default="", help="Of the bench: leaves out those of other places.")
@file_option
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
        print_json(open_stops_json(found) | {"cautions": cautions()})
        return
    print_open_stops(found)
    if not found:
        click.echo("no stop stands")
    print_cautions()


@click.command(short_help="A qualified person ends a stop.")
@click.argument("names", metavar="STOP...", nargs=-1, required=True)
@click.option("--name", metavar="NAME", required=True, help="Who releases.")
@click.option(
    "--qualification", metavar="TEXT", required=True, help="By which this person may work on gas parts."
)
@click.option("--cause", metavar="TEXT", required=True, help="What was found.")
@click.option("--repair", metavar="TEXT", required=True, help="How it was corrected.")
@click.option("--leak-test", metavar="TEXT", required=True, help="After the repair: method and finding.")
@file_option
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
        print_json(open_stops_json(left) | told | {"note": UNCHECKED, "cautions": cautions()})
        return
    print_open_stops(left)
    click.echo(f"recorded: release {made.uid[:8]} by {made.release.name}, {made.release.qualification}")
    for uid in made.release.stops:
        entry, _, name = uid.partition("-")
        click.echo(f"  ends {entry[:8]}-{name}")
    click.echo(UNCHECKED)
    print_cautions()
