"""``burnerlab fuels``: the gases of the library."""

from __future__ import annotations

import click

from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.options import json_option
from burnerlab.cli.output import print_json, table
from burnerlab.quantity.outputs import row


def print_library(as_json: bool) -> None:
    """The library as a table, or as JSON: declared gases carry a heating value at a reference of their own."""
    from burnerlab.gas import fuels, load

    gases = [load(name) for name in fuels()]
    if as_json:
        print_json({"count": len(gases), "fuels": [row(gas) for gas in gases]})
        return
    heads = ("name", "given as", "gas")
    click.echo(table(heads, [(gas.name, gas.kind, gas.title) for gas in gases], left=3))
    click.echo(f"\n{len(gases)} gases; burnerlab gas NAME shows one.")
    print_cautions()


@click.command(short_help="List the gases of the library.")
@json_option
def fuels_command(as_json: bool) -> None:
    """List the gases of the library.

    "composition" gases have a full analysis; "declared" gases have only a heating value and a relative density,
    as on a bill or a rating plate, so air demand and flame are not evaluated for them.

    \b
    Examples:
      burnerlab fuels
      burnerlab fuels --json
    """
    print_library(as_json)
