"""``burnerlab carryover``: which burner can light which."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.common_inputs import APPLIANCE, SECOND_GAS
from burnerlab.cli.options import in_words_of_options, json_option
from burnerlab.cli.output import number, print_json, print_notes, table
from burnerlab.cli.takes import takes
from burnerlab.tables.problem import UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.gas import DeclaredGas, Gas
    from burnerlab.layout.carry_over import CarryOver


@click.command(short_help="Which burner can light which, and weak links.")
@takes(appliance=APPLIANCE, second=SECOND_GAS)
@json_option
def carryover_command(
    appliance: Appliance, second: tuple[Gas | DeclaredGas, float] | None, as_json: bool
) -> None:
    """Graph of carry-over between the burners of FILE, at full rate and at about a third of it.

    Burners need a place with a height, ports, and igniter = "name" where one stands; [[carry_over]] describes a row of
    ports from one burner to another. With --to and --pressure both gases are looked at. A prompt to test.

    \b
    Examples:
      burnerlab carryover cart.toml
      burnerlab carryover cart.toml --to propane --pressure "11 inH2O" --json
    """
    from burnerlab.layout.carry_over import carry_over

    found = carry_over(appliance, None if second is None else _changed(appliance, *second))
    if as_json:
        print_json(found)
        return
    click.echo(_text(appliance.name, found))
    print_notes("Weak links", found.weak_links)
    print_notes("To test", found.prompts)
    print_notes("Notes", found.notes)
    print_cautions(appliance.supply.gas)


def _changed(appliance: Appliance, gas: Gas | DeclaredGas, gauge_Pa: float) -> Appliance:
    from burnerlab.appliance.convert import changed
    from burnerlab.appliance.target import ConversionTarget

    try:
        return changed(appliance, ConversionTarget(gas=gas, gauge_pressure_Pa=gauge_Pa))
    except UserError as error:
        raise in_words_of_options(error) from None


def _text(name: str, found: CarryOver) -> str:
    parts = [f"{name}: carry-over (evidence: {found.evidence})", ""]
    rows: list[tuple[str, ...]]
    if found.links:
        rows = [
            (
                f"{link.from_burner} > {link.to_burner}",
                link.by,
                f"{1e3 * link.free_distance_m:.1f}",
                "-" if link.likely_reach_m is None else f"{1e3 * link.likely_reach_m:.1f}",
                link.strength,
            )
            for link in found.links
        ]
        parts.append(table(("from > to", "by", "free, mm", "likely up to, mm", "carry-over"), rows, left=2))
    else:
        parts.append(
            "no burner stands near enough to another, and the file describes no row of ports between them"
        )
    rows = [
        (f.burner, f.gas, f"{100 * f.load:.0f}", _mm(f.height_at_most_m), _mm(f.inner_cone_height_m))
        for f in found.flames
    ]
    parts += ["", table(("flame of", "gas", "rate, %", "height up to, mm", "inner cone, mm"), rows, left=2)]
    if found.igniters:
        rows = [
            (one.igniter, ", ".join(one.out_of_reach) or "-", ", ".join(one.only_over_doubtful_links) or "-")
            for one in found.when_an_igniter_fails
        ]
        heads = ("when it fails", "out of reach", "only over doubtful links")
        parts += ["", table(heads, rows, left=3)]
    if found.out_of_reach:
        parts += ["", f"out of reach of every igniter: {', '.join(found.out_of_reach)}"]
    return "\n".join(parts)


def _mm(length_m: float | None) -> str:
    return "not evaluated" if length_m is None else number(1e3 * length_m, 2)
