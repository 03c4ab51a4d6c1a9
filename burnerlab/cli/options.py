"""Options that several commands share, gathered into one argument each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import wraps
from typing import Any

import click

from burnerlab.cli.asked import GasAsked, SecondAsked
from burnerlab.cli.cautions import all_cautions_option
from burnerlab.quantity.error import UserError

Command = Callable[..., Any]
Adding = Callable[[str], Callable[[Command], Command]]
"""What adds one option or argument to a command, given the name of its parameter."""


WORDS = {"allow_high_pressure": "--allow-high-pressure", "allow overwriting": "add --overwrite"}


def in_words_of_options(error: UserError) -> UserError:
    """The same problems, their fixes told by the options of the command line."""
    told = []
    for problem in error.problems:
        fix = problem.fix
        for word, option in WORDS.items():
            fix = fix.replace(word, option)
        told.append(replace(problem, fix=fix))
    return UserError(told)


def json_option(command: Command) -> Command:
    """``--json``: one object on the output, its keys carrying units; beside it ``--all-cautions``."""
    about = "Print one JSON object instead of text; it carries every caution in full."
    return click.option("--json", "as_json", is_flag=True, help=about)(all_cautions_option(command))


def option(*flags: str, **settings: Any) -> Adding:
    """An option of a group; ``gathered`` names its parameter after the group and the field."""
    return lambda parameter: click.option(*flags, parameter, **settings)


def text_option(flag: str, metavar: str, about: str, default: str | None = None) -> Adding:
    """An option that takes a text; a default that says something is shown."""
    return option(flag, metavar=metavar, default=default, show_default=bool(default), help=about)


def gathered(name: str, thing: Callable[..., Any], options: dict[str, Adding], command: Command) -> Command:
    """Add options, by the fields of ``thing`` they fill, to a command and hand them over as one argument ``name``."""

    @wraps(command)
    def call(**given: Any) -> Any:
        mine = {field: given.pop(f"{name}_{field}") for field in options}
        return command(**given, **{name: thing(**mine)})

    made: Command = call
    for field, adding in reversed(list(options.items())):
        made = adding(f"{name}_{field}")(made)
    return made


def gas_options(command: Command, flag: str = "--gas") -> Command:
    """A gas: by ``flag``, or ``--mix``, or ``--heating-value`` with ``--relative-density``."""
    named = option(flag, metavar="NAME", help='Library name, TOML file, or "mix:methane=0.9,ethane=0.1".')
    return gathered("gas", _gas_asked(flag), {"name": named} | _mix_options(), command)


def new_gas_options(command: Command) -> Command:
    """The gas an appliance is changed to: ``--to``, with the other ways of naming a gas."""
    return gas_options(command, "--to")


def second_gas_options(command: Command) -> Command:
    """A gas beside that of the file, ``--to``, with its pressure."""
    pressure = text_option("--pressure", "P", 'Of the gas named by --to, gauge: "11 inH2O".')
    return new_gas_options(gathered("second", SecondAsked, {"pressure": pressure}, command))


def _gas_asked(option: str) -> Callable[..., GasAsked]:
    return lambda **given: GasAsked(option=option, **given)


def _mix_options() -> dict[str, Adding]:
    return {
        "mix": text_option("--mix", "LIST", 'Composition: "methane=0.9,C2H6=0.1" or percents.'),
        "per": text_option("--per", "BASIS", "Basis of --mix: mole (default), volume, mass, liquid-volume."),
        "normalize": option("--normalize", is_flag=True, help="Scale a --mix that does not add up to one."),
        "heating_value": text_option("--heating-value", "VALUE", 'As billed: "1037 Btu/ft3 gross at 60F".'),
        "net_heating_value": text_option("--net-heating-value", "VALUE", "Of the declared gas, where known."),
        "relative_density": option(
            "--relative-density",
            "--specific-gravity",
            metavar="NUMBER",
            help="Of the declared gas, air = 1.",
        ),
        "family": text_option("--family", "NAME", "Of the declared gas: its net value is estimated from it."),
    }
