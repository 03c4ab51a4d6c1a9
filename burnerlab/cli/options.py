"""Options that several commands share, gathered into one argument each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import wraps
from typing import Any

import click

from burnerlab.cli.asked import ConditionsAsked, FlameAsked, GasAsked, ReferenceAsked
from burnerlab.cli.holes import HoleAsked
from burnerlab.quantity.error import UserError

Command = Callable[..., Any]
SHAPES_HELP = (
    "Instead: tapered, sharp, rounded, tube, channel (with --length), thin plate, long-radius nozzle."
)


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
    """``--json``: one object on the output, its keys carrying units."""
    return click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of text.")(
        command
    )


def gathered(name: str, thing: Callable[..., Any], options: dict[str, Any], command: Command) -> Command:
    """Add ``options`` to a command and hand them over as one argument ``name``."""

    @wraps(command)
    def call(**given: Any) -> Any:
        mine = {field: given.pop(f"{name}_{field}") for field in options}
        return command(**given, **{name: thing(**mine)})

    for option in reversed(options.values()):
        call = option(call)
    return call


def gas_options(command: Command, flag: str = "--gas") -> Command:
    """A gas: by ``flag``, or ``--mix``, or ``--heating-value`` with ``--relative-density``."""
    named = click.option(
        flag, "gas_name", metavar="NAME", help='Library name, TOML file, or "mix:methane=0.9,ethane=0.1".'
    )
    return gathered("gas", _gas_asked(flag), {"name": named} | _mix_options(), command)


def new_gas_options(command: Command) -> Command:
    """The gas an appliance is changed to: ``--to``, with the other ways of naming a gas."""
    return gas_options(command, "--to")


def gas_argument(command: Command) -> Command:
    """A gas as the argument NAME, or ``--mix``, or declared."""
    named = click.argument("gas_name", metavar="[NAME]", required=False)
    return gathered("gas", _gas_asked("NAME"), {"name": named} | _mix_options(), command)


def _gas_asked(option: str) -> Callable[..., GasAsked]:
    return lambda **given: GasAsked(option=option, **given)


def _mix_options() -> dict[str, Any]:
    return {
        "mix": click.option(
            "--mix", "gas_mix", metavar="LIST", help='Composition: "methane=0.9,C2H6=0.1" or percents.'
        ),
        "per": click.option(
            "--per",
            "gas_per",
            metavar="BASIS",
            help="Basis of --mix: mole (default), volume, mass, liquid-volume.",
        ),
        "normalize": click.option(
            "--normalize", "gas_normalize", is_flag=True, help="Scale a --mix that does not add up to one."
        ),
        "heating_value": click.option(
            "--heating-value",
            "gas_heating_value",
            metavar="VALUE",
            help='As billed: "1037 Btu/ft3 gross at 60F".',
        ),
        "net_heating_value": click.option(
            "--net-heating-value",
            "gas_net_heating_value",
            metavar="VALUE",
            help="Of the declared gas, where known.",
        ),
        "relative_density": click.option(
            "--relative-density",
            "--specific-gravity",
            "gas_relative_density",
            metavar="NUMBER",
            help="Of the declared gas, air = 1.",
        ),
        "family": click.option(
            "--family",
            "gas_family",
            metavar="NAME",
            help="Of the declared gas: its net value is estimated from it.",
        ),
    }


def reference_options(command: Command) -> Command:
    """The reference state of volumes and heating values."""
    options = {
        "at": click.option(
            "--at",
            "reference_at",
            metavar="STATE",
            default="15C/15C",
            show_default=True,
            help='Combustion/metering temperature "25C/0C", one for both "60F", or a preset name.',
        ),
        "pressure": click.option(
            "--reference-pressure",
            "reference_pressure",
            metavar="P",
            help='Absolute, e.g. "14.73 psia" (101.325 kPa).',
        ),
        "saturated": click.option(
            "--saturated/--dry",
            "reference_saturated",
            default=None,
            help="Metered volume with water vapour, or dry.",
        ),
    }
    return gathered("reference", ReferenceAsked, options, command)


def conditions_options(command: Command) -> Command:
    """Pressure before the orifice and the surroundings."""
    options = {
        "pressure": click.option(
            "--pressure",
            "conditions_pressure",
            metavar="P",
            required=True,
            help='Gauge: "11 inH2O", "28 mbar".',
        ),
        "altitude": click.option(
            "--altitude", "conditions_altitude", metavar="H", help='"1500 m", "5000 ft".'
        ),
        "barometer": click.option(
            "--barometer", "conditions_barometer", metavar="P", help='Station pressure, absolute: "83.4 kPa".'
        ),
        "gas_temperature": click.option(
            "--gas-temperature",
            "conditions_gas_temperature",
            metavar="T",
            default="15 C",
            show_default=True,
            help="Of the gas before the orifice.",
        ),
    }
    return gathered("conditions", ConditionsAsked, options, command)


def hole_options(command: Command) -> Command:
    """Discharge of the hole and number of holes."""
    options = {
        "coefficient": click.option(
            "--coefficient",
            "hole_coefficient",
            metavar="CD",
            help="Discharge coefficient (0.90 unless --shape).",
        ),
        "shape": click.option("--shape", "hole_shape", metavar="SHAPE", help=SHAPES_HELP),
        "length": click.option("--length", "hole_length", metavar="L", help='Length of a channel: "3 mm".'),
        "count": click.option(
            "--count",
            "hole_count",
            type=click.IntRange(min=1),
            default=1,
            show_default=True,
            help="Number of holes.",
        ),
    }
    return gathered("hole", HoleAsked, options, command)


def flame_options(command: Command) -> Command:
    """At what the adiabatic flame temperature is stated."""
    options = {
        "aeration": click.option(
            "--aeration",
            "flame_aeration",
            metavar="SHARE",
            default="1",
            show_default=True,
            help='Air of the flame over stoichiometric air: "0.6", "60 %".',
        ),
        "air_temperature": click.option(
            "--air-temperature",
            "flame_air_temperature",
            metavar="T",
            default="25 C",
            show_default=True,
            help="Of that air.",
        ),
        "relative_humidity": click.option(
            "--relative-humidity",
            "flame_relative_humidity",
            metavar="SHARE",
            default="0 %",
            show_default=True,
            help="Of that air.",
        ),
        "altitude": click.option(
            "--altitude", "flame_altitude", metavar="H", help="For flame and dew point."
        ),
        "barometer": click.option(
            "--barometer", "flame_barometer", metavar="P", help="In place of the altitude."
        ),
    }
    return gathered("flame", FlameAsked, options, command)
