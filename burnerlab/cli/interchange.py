"""``burnerlab interchange``: another gas at the same orifice, as each published method sees it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.asked import GasAsked, gas_notes, own_file, together
from burnerlab.cli.cautions import cautions, print_cautions
from burnerlab.cli.options import json_option
from burnerlab.cli.output import facts, number, print_json, print_notes, table
from burnerlab.quantity.error import UserError

if TYPE_CHECKING:
    from burnerlab.gas import Gas
    from burnerlab.gas.interchange import IndexReading, Interchange


@click.command(short_help="What published methods say of another gas at the same orifice.")
@click.argument("adjustment", metavar="GAS")
@click.argument("substitute", metavar="NEW_GAS")
@click.option("--constants", metavar="FILE", help="CSV of your own with rows as in the table interchange.")
@json_option
def command(adjustment: str, substitute: str, constants: str | None, as_json: bool) -> None:
    """Indices of interchangeability: a burner set on GAS is sent NEW_GAS, nothing else changed.

    Each is a gas of the library, a pure component, a TOML file, or "mix:methane=0.9,ethane=0.1". The methods stand
    side by side with their limits; none of them decides alone. For a change of orifice use burnerlab convert.

    \b
    Examples:
      burnerlab interchange natural-gas-typical biomethane
      burnerlab interchange natural-gas-typical "mix:methane=0.8,hydrogen=0.2" --json
    """
    from burnerlab.gas.interchange import interchange

    before, after, own = together(
        lambda: _composed(adjustment, "GAS"),
        lambda: _composed(substitute, "NEW_GAS"),
        lambda: own_file(constants, "--constants"),
    )
    found = interchange(before, after, own)
    result = _result(found)
    if as_json:
        print_json(result)
    else:
        click.echo(_text(found))
        print_notes("Notes", result["notes"])
        print_cautions(before, after)


def _composed(text: str, option: str) -> Gas:
    from dataclasses import replace

    from burnerlab.gas.air import composition_of

    found: Any = GasAsked(option=option, name=text).read()
    try:
        composition_of(found)
    except UserError as error:
        raise UserError([replace(problem, key=option) for problem in error.problems]) from None
    return found  # type: ignore[no-any-return]


def _result(found: Interchange) -> dict[str, Any]:
    return {
        "adjustment": found.adjustment.name,
        "substitute": found.substitute.name,
        "readings": [
            {
                "method": reading.method,
                "index": reading.index,
                "meaning": reading.meaning,
                "value": reading.value,
                "exact": reading.exact,
                "low": reading.low,
                "high": reading.high,
                "verdict": reading.verdict,
                "source": reading.source,
                "note": reading.note,
            }
            for reading in found.readings
        ],
        "notes": [*gas_notes(found.adjustment), *gas_notes(found.substitute), *found.notes],
        "cautions": cautions(),
    }


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


def _text(found: Interchange) -> str:
    pairs = [
        ("adjustment gas", f"{found.adjustment.title} ({found.adjustment.name})"),
        ("substitute gas", f"{found.substitute.title} ({found.substitute.name})"),
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
        for reading in found.readings
    ]
    heads = ("method", "index", "what it tells", "value", "limits", "reading is")
    sources = dict.fromkeys(f"{reading.method}: {reading.source}" for reading in found.readings)
    return f"{facts(pairs)}\n\n{table(heads, rows, left=3)}\n\n" + "\n".join(sources)
