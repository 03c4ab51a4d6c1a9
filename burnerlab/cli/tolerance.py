"""``burnerlab tolerance``: how the heat input spreads as made and in use, and why."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import click

from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.common_inputs import APPLIANCE
from burnerlab.cli.options import json_option
from burnerlab.cli.output import facts, number, percent, print_json, print_notes, table
from burnerlab.cli.takes import takes
from burnerlab.cli.target import TARGET
from burnerlab.quantity.inputs import Input

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance, ConversionTarget
    from burnerlab.appliance.spreads import Stage, ToleranceResult


@click.command(short_help="Spread of the heat input at the end of the line and in the field.")
@takes(
    file=APPLIANCE,
    target=replace(TARGET, is_optional=True),
    draws=Input(name="draws", metavar="INTEGER", default="200000", help="Appliances drawn."),
    seed=Input(name="seed", metavar="INTEGER", default="1", help="Of the random numbers."),
)
@json_option
def tolerance_command(
    file: Appliance,
    target: ConversionTarget | None,
    draws: int,
    seed: int,
    as_json: bool,
) -> None:
    """Distribution of every burner's heat input, at the end of the line and in the field.

    At the end of the line stand drill, coefficient and the setting of the pressure; in the field pressure, gas and
    temperature of the place add to them.

    Without --to the appliance stays on its present gas and orifices; with --to and --pressure it is converted first.
    The spreads are those of FILE where it gives them, else common ones, each named with its source.

    \b
    Examples:
      burnerlab tolerance range.toml
      burnerlab tolerance range.toml --to propane --pressure "11 inH2O" --tolerance "5 %"
    """
    from burnerlab.appliance import tolerance

    result = tolerance(file, target, draws=draws, seed=seed)
    if as_json:
        print_json(result)
    else:
        click.echo(_text(result))
        print_notes("Notes", result.notes)
        spreads = dict.fromkeys(f"{c.cause}: {c.source}" for c in result.total.causes)
        print_notes("Sources of the spreads", list(spreads))
        print_cautions(file.supply.gas if target is None else target.gas)


def _text(result: ToleranceResult) -> str:
    band = f"{percent(result.tolerance_low)} to {percent(result.tolerance_high)}, {result.tolerance_source}"
    head = facts(
        [
            ("appliance", result.appliance),
            ("gas", f"{result.gas}, {number(result.gauge_pressure_Pa / 1e3)} kPa gauge"),
            ("band", band),
            ("drawn", f"{result.draws} appliances, seed {result.seed}"),
        ]
    )
    parts = [head, *(_block(stage) for stage in (result.end_of_line, result.in_the_field))]
    causes = [
        (
            c.cause,
            c.words,
            percent(c.relative_standard_deviation, 2).lstrip("+"),
            *(_share(s, c.cause) for s in (result.end_of_line, result.in_the_field)),
        )
        for c in result.total.causes
    ]
    heads = ("cause, whole appliance", "spread", "std. dev.", "line", "field")
    return "\n\n".join([*parts, table(heads, causes, left=2), NEITHER, "Heat inputs gross."])


NEITHER = (
    "Both follow from the spreads above, many of them estimates. A unit inside the band at the end of the line may be\n"
    "outside it in the field, with other gas and at another pressure, and the other way round."
)


def _share(stage: Stage, cause: str) -> str:
    """Of the variance of the whole appliance at a stage."""
    found = next((one.share for one in stage.total.causes if one.cause == cause), None)
    return "-" if found is None else percent(found, 0).lstrip("+")


def _block(stage: Stage) -> str:
    """The burners at one stage, and how many appliances have one outside the band."""
    rows = []
    for spread in (*stage.burners, stage.total):
        span = f"{number(spread.low_gross_W / 1e3, 3)} to {number(spread.high_gross_W / 1e3, 3)}"
        sd, outside = (
            percent(spread.standard_deviation_W / spread.mean_gross_W).lstrip("+"),
            percent(spread.share_outside).lstrip("+"),
        )
        rows.append(
            (spread.name, number(spread.aim_gross_W / 1e3, 3), span, sd, outside, spread.dominant_cause)
        )
    heads = ("burner", "aim kW", "95 % between, kW", "std. dev.", "outside band", "main cause")
    any_outside = percent(stage.share_any_outside).lstrip("+")
    error = percent(stage.standard_error, 2).lstrip("+")
    title = f"{stage.name[:1].upper()}{stage.name[1:]} ({', '.join(stage.causes)})"
    share = f"At least one burner outside the band, {stage.name}: {any_outside} of appliances (+- {error} by the draw)."
    return f"{title}\n\n{table(heads, rows)}\n\n{share}"
