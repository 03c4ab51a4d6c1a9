"""``settings``: the units of texts and the paper size that are remembered."""

from __future__ import annotations

import click

from burnerlab.cli.options import json_option, takes
from burnerlab.cli.output import facts, print_cautions, print_json
from burnerlab.cli.proposals import setting_names, setting_words
from burnerlab.cli.user_settings import (
    FORGET,
    PLACE,
    PROPOSED,
    WORDS,
    read_paper,
    read_units,
    remember,
    remembered,
    settings_path,
    user_settings,
)
from burnerlab.quantity.inputs import Input, as_written
from burnerlab.tables.problem import Problem, UserError, did_you_mean

READERS = {"units": read_units, "paper": read_paper}


@click.command(short_help="Units of texts and paper size, remembered for you.")
@takes(
    name=Input(name="name", reader=as_written, metavar="[NAME]", is_argument=True, proposals=setting_names),
    value=Input(
        name="value", reader=as_written, metavar="[VALUE]", is_argument=True, proposals=setting_words
    ),
)
@json_option
def settings_command(name: str | None, value: str | None, as_json: bool) -> None:
    """Show the units and the paper that are remembered, or remember others.

    NAME is units (metric or us) or paper (a4 or letter). Nothing else is remembered: no setting changes a figure, a
    limit, a verdict or a caution, and files keep their keys and units. Without a word for paper it is A4, in US units
    Letter. An option of a command takes precedence. The file
    lies in the folder of your system for settings; the variable BURNERLAB_SETTINGS names another.

    \b
    Examples:
      burnerlab settings
      burnerlab settings units us
      burnerlab settings paper letter
      burnerlab settings forget paper
      burnerlab settings forget
    """
    path = settings_path()
    if name == FORGET:
        words = {} if value is None else remembered(path)
        if value is not None:
            words.pop(_setting(value), None)
        remember(path, words)
    elif name is not None:
        key = _setting(name)
        if value is None:
            raise UserError(Problem("its word is missing", key=key, accepted=", ".join(PROPOSED[key])))
        remember(path, remembered(path) | {key: READERS[key](value, key).lower()})
    held = user_settings()
    if as_json:
        print_json(
            {
                "units": held.units.word,
                "units_source": held.units.source,
                "paper": held.paper.word,
                "paper_source": held.paper.source,
                "file": str(path),
                "file_exists": path.is_file(),
            }
        )
        return
    there = "" if path.is_file() else " (not there yet)"
    click.echo(
        facts(
            [
                ("units", f"{held.units.word} ({held.units.source})"),
                ("paper", f"{held.paper.word} ({held.paper.source})"),
                ("file", f"{path}{there}, another by {PLACE}"),
            ]
        )
    )
    print_cautions()


def _setting(name: str) -> str:
    if name not in WORDS:
        accepted = ", ".join((*WORDS, FORGET))
        fix = did_you_mean(name, [*WORDS, FORGET]) or "e.g. burnerlab settings units us"
        raise UserError(Problem("no such setting", name, accepted=accepted, fix=fix))
    return name
