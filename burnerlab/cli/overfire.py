"""What stands above an answer whose orifices overfire a burner; no option turns it off."""

from __future__ import annotations

from collections.abc import Sequence

import click

from burnerlab.cli.cautions import CAUTION_WIDTH


def print_overfire(lines: Sequence[str]) -> None:
    """The warning, before everything else; nothing where no burner overfires."""
    for line in lines:
        click.echo(click.wrap_text(line, width=CAUTION_WIDTH, subsequent_indent=" " * len("WARNING: ")))
    if lines:
        click.echo()
