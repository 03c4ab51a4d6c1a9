"""``burnerlab fuels``: the gases of the library."""

from __future__ import annotations

from typing import Any

import click

from burnerlab.cli.cautions import cautions, print_cautions
from burnerlab.cli.options import json_option
from burnerlab.cli.output import print_json, table


def library() -> list[dict[str, Any]]:
    """What the library holds, one line per gas: declared gases carry a heating value at a reference of their own."""
    from burnerlab.gas import DeclaredGas, fuels, load

    found = []
    for name in fuels():
        gas = load(name)
        found.append(
            {
                "name": name,
                "title": gas.title,
                "kind": "declared" if isinstance(gas, DeclaredGas) else "composition",
                "source": gas.source,
                "provenance": gas.provenance,
                "note": gas.note,
            }
        )
    return found


def print_library(as_json: bool) -> None:
    """The library as a table, or as JSON."""
    gases = library()
    if as_json:
        print_json({"count": len(gases), "fuels": gases, "cautions": cautions()})
        return
    click.echo(
        table(("name", "given as", "gas"), [(g["name"], g["kind"], g["title"]) for g in gases], left=3)
    )
    click.echo(f"\n{len(gases)} gases; burnerlab gas NAME shows one.")
    print_cautions()


@click.command(short_help="List the gases of the library.")
@json_option
def command(as_json: bool) -> None:
    """List the gases of the library.

    "composition" gases have a full analysis; "declared" gases have only a heating value and a relative density,
    as on a bill or a rating plate, so air demand and flame are not evaluated for them.

    \b
    Examples:
      burnerlab fuels
      burnerlab fuels --json
    """
    print_library(as_json)
