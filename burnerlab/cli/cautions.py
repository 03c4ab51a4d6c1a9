"""The lines that close every answer of the command line; no option turns one off."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from burnerlab.quantity import is_low_pressure
from burnerlab.tables.cautions import (
    HIGH_PRESSURE,
    SPECIAL_GAS,
    Caution,
    cautions,
    closing_cautions,
)

if TYPE_CHECKING:
    from burnerlab.gas import DeclaredGas, Gas

ALL_CAUTIONS = "all_cautions"
CAUTION_WIDTH = 80


def all_cautions_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """``--all-cautions``: the whole set in full, above the lines that close the answer."""

    def keep(context: click.Context, _: click.Parameter, value: bool) -> None:
        context.meta[ALL_CAUTIONS] = value

    return click.option(
        "--all-cautions",
        is_flag=True,
        expose_value=False,
        callback=keep,
        help="Print every caution in full before the lines that close the answer.",
    )(command)


def print_cautions(*gases: Gas | DeclaredGas | None, occasions: tuple[str, ...] = ()) -> None:
    """Last on the output: the one to three lines that fit the running command, worst first.

    gases : those the answer is about
    occasions : what else the answer shows, such as "frost"
    """
    context = click.get_current_context()
    if context.meta.get(ALL_CAUTIONS):
        for caution in cautions():
            click.echo("\n" + full_text(caution))
    click.echo()
    for caution in closing_cautions(_command_name(context), *occasions, *_of_gases(gases)):
        click.echo(caution.line)


def of_pressure(gauge_pressure_Pa: float) -> tuple[str, ...]:
    """The occasion of a supply above that of low-pressure appliances."""
    return () if is_low_pressure(gauge_pressure_Pa) else (HIGH_PRESSURE,)


def full_text(caution: Caution) -> str:
    """A caution in full, its lines indented below the signal word."""
    head = f"{caution.signal}: "
    return click.wrap_text(head + caution.text, width=CAUTION_WIDTH, subsequent_indent=" " * len(head))


def _command_name(context: click.Context) -> str:
    """The name of the running command, of its group where it has one."""
    while context.parent is not None and context.parent.parent is not None:
        context = context.parent
    return context.info_name or ""


def _of_gases(gases: tuple[Gas | DeclaredGas | None, ...]) -> tuple[str, ...]:
    return (SPECIAL_GAS,) if any(gas is not None and gas.is_special for gas in gases) else ()
