"""STOP before everything: how the notices of a result head what a command prints."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.output import WIDTH

if TYPE_CHECKING:
    from burnerlab.bench.stop import StopNotice


def print_stops(stops: Sequence[StopNotice]) -> None:
    """The notices, worst first, above everything else; nothing where there are none."""
    for one in stops:
        for line in one.lines():
            click.echo(click.wrap_text(line, width=WIDTH))
        click.echo()


def stops_json(stops: Sequence[StopNotice]) -> dict[str, Any]:
    """``stop``, the worst or null, and ``stops``, all of them.

    >>> stops_json(())
    {'stop': None, 'stops': []}
    """
    told = [one.as_json() for one in stops]
    return {"stop": told[0] if told else None, "stops": told}
