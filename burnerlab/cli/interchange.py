"""``burnerlab interchange``: another gas at the same orifice, as each published method sees it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.common_inputs import own_table
from burnerlab.cli.gas_inputs import read_gas
from burnerlab.cli.options import json_option, takes
from burnerlab.cli.output import (
    facts,
    gas_fact,
    gas_notes,
    number,
    print_cautions,
    print_json,
    print_notes,
    table,
    wrapped,
)
from burnerlab.quantity.inputs import Input
from burnerlab.tables.problem import UserError

if TYPE_CHECKING:
    from burnerlab.gas import Gas
    from burnerlab.gas.interchangeability import IndexReading, Interchange


def read_composed_gas(text: Any, key: str) -> Gas:
    """A gas whose composition is known."""
    from burnerlab.gas.combustion_air import composition_of

    gas: Any = read_gas(text, key)
    try:
        composition_of(gas)
    except UserError as error:
        raise UserError([replace(problem, key=key) for problem in error.problems]) from None
    return gas  # type: ignore[no-any-return]


@click.command(short_help="What published methods predict for another gas at the same orifice.")
@takes(
    before=Input(
        name="adjustment", reader=read_composed_gas, metavar="GAS", is_argument=True, is_needed=True
    ),
    after=Input(
        name="substitute", reader=read_composed_gas, metavar="NEW_GAS", is_argument=True, is_needed=True
    ),
    own=own_table(
        "interchange",
        "CSV of your own with rows as in the table interchange, or LIBRARY:interchange.csv.",
    ),
)
@json_option
def interchange_command(before: Gas, after: Gas, own: Path | None, as_json: bool) -> None:
    """Indices of interchangeability: a burner adjusted on GAS burns NEW_GAS, nothing else changed.

    Each is a gas of the library, a pure component, a TOML file, or "mix:methane=0.9,ethane=0.1". The methods stand
    side by side with their limits; none of them decides alone. For a change of orifice use burnerlab convert.

    \b
    Examples:
      burnerlab interchange natural-gas-typical biomethane
      burnerlab interchange natural-gas-typical "mix:methane=0.8,hydrogen=0.2" \\
          --json
    """
    from burnerlab.gas.interchangeability import interchange

    found = interchange(before, after, own)
    notes = [*gas_notes(before), *gas_notes(after), *found.notes]
    if as_json:
        print_json(found, adjustment=before.name, substitute=after.name, notes=notes)
    else:
        click.echo(_text(found))
        print_notes("Notes", notes)
        print_cautions(before, after)


def _limits(reading: IndexReading) -> str:
    low, high = number(reading.low), number(reading.high)
    if reading.low is not None and reading.high is not None:
        return f"{low} to {high}"
    return (
        f"at least {low}"
        if reading.low is not None
        else f"at most {high}"
        if reading.high is not None
        else "-"
    )


def _text(interchange: Interchange) -> str:
    pairs = [
        ("adjustment gas", gas_fact(interchange.adjustment)),
        ("substitute gas", gas_fact(interchange.substitute)),
    ]
    rows = [
        (
            reading.method,
            reading.index,
            reading.meaning or reading.note,
            "-" if reading.value is None else number(reading.value),
            _limits(reading),
            reading.verdict,
        )
        for reading in interchange.readings
    ]
    heads = ("method", "index", "meaning", "value", "limits", "reading is")
    sources = dict.fromkeys(f"{reading.method}: {reading.source}" for reading in interchange.readings)
    return f"{facts(pairs)}\n\n{table(heads, rows, left_columns=3)}\n\n" + "\n".join(
        wrapped(one, subsequent="  ") for one in sources
    )
