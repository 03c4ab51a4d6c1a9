"""What stands above an answer whose orifices overfire a burner; no option turns it off."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.cautions import WIDTH

if TYPE_CHECKING:
    from burnerlab.appliance.rated import RatedInput


def print_overfire(lines: Sequence[str]) -> None:
    """The warning, before everything else; nothing where no burner overfires."""
    for line in lines:
        click.echo(click.wrap_text(line, width=WIDTH, subsequent_indent=" " * len("WARNING: ")))
    if lines:
        click.echo()


def input_json(one: RatedInput) -> dict[str, Any]:
    """The input of a burner against its aim."""
    return {
        "burner": one.burner,
        "case": one.case or "with the others that are on",
        "heat_input_gross_kW": one.heat_input_gross_W / 1e3,
        "aim_gross_kW": one.aim_gross_W / 1e3,
        "deviation_percent": 100.0 * one.deviation,
        "verdict": one.verdict,
        "possible_overfire": one.possible_overfire,
    }
