"""STOP before everything: how the notices of a result head what a command prints."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.cautions import CAUTION_WIDTH

if TYPE_CHECKING:
    from burnerlab.bench.record import OpenStop
    from burnerlab.bench.stop import StopNotice

UID_SHOWN = 8
MINUTE = 16  # characters of an ISO 8601 moment to the minute


def print_stops(stops: Sequence[StopNotice]) -> None:
    """The notices, worst first, above everything else; nothing where there are none."""
    for one in stops:
        for line in one.lines():
            click.echo(click.wrap_text(line, width=CAUTION_WIDTH))
        click.echo()


def stops_json(stops: Sequence[StopNotice | OpenStop]) -> dict[str, Any]:
    """``stop``, the worst or null, and ``stops``, all of them; those of a record with their entry and place.

    >>> stops_json(())
    {'stop': None, 'stops': ()}
    """
    return {"stop": stops[0] if stops else None, "stops": stops}


def print_open_stops(stops: Sequence[OpenStop]) -> None:
    """The notices of the stops that stand in a record, each once, and below them for whom each stands."""
    from burnerlab.bench.record import notices

    print_stops(notices(stops))
    if not stops:
        return
    click.echo("Stops without a release")
    for one in stops:
        for_whom = "the whole bench" if one.is_of_the_bench else f"unit {one.serial}"
        where = f" at {one.place}" if one.place else ""
        line = (
            f"{one.uid[:UID_SHOWN]}-{one.notice.id}: {for_whom}{where}; raised on {one.serial}, "
            f"{one.recorded_at[:MINUTE].replace('T', ' ')} UTC by {one.tester}"
        )
        click.echo(click.wrap_text(line, CAUTION_WIDTH, initial_indent="  - ", subsequent_indent="    "))
    click.echo()
