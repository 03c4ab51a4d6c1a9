"""``carryover``: which burner can light which."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from burnerlab.cli.common_inputs import APPLIANCE
from burnerlab.cli.gas_inputs import FurtherGases, further_gases
from burnerlab.cli.options import json_option, takes
from burnerlab.cli.output import number, print_cautions, print_json, print_notes, table, wrapped
from burnerlab.quantity.outputs import row
from burnerlab.quantity.quantity_text import millimetre

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.layout.carry_over import CarryOver


@click.command(short_help="Which burner can light which, and weak links.")
@takes(appliance=APPLIANCE, further=further_gases())
@json_option
def carryover_command(appliance: Appliance, further: FurtherGases | None, as_json: bool) -> None:
    """Graph of carry-over between the burners of FILE, at full rate and at about a third of it.

    Burners need a place with a height, ports, and igniter = "name" where one stands; [[carry_over]] describes a row of
    ports from one burner to another. With --to and --pressure, or --market, each gas is calculated in addition to
    that of FILE. A prompt to test.

    \b
    Examples:
      burnerlab carryover cart.toml
      burnerlab carryover cart.toml --to propane --pressure "11 inH2O" --json
      burnerlab carryover cart.toml --market A
    """
    from burnerlab.layout.carry_over import carry_over

    cases = [] if further is None else further.cases(appliance)
    answers = [(one.market, carry_over(appliance, one.appliance)) for one in cases] or [
        ("", carry_over(appliance))
    ]
    if as_json:
        made = [{"market": market} | row(found) for market, found in answers]
        print_json({"markets": made} if answers[0][0] else answers[0][1])
        return
    for market, found in answers:
        if market:
            click.echo(f"{market}\n")
        click.echo(_text(appliance.name, found))
        print_notes("Weak links", found.weak_links)
        print_notes("To test", found.prompts)
        print_notes("Notes", found.notes)
        if market:
            click.echo()
    print_cautions(*(one.gas for one in cases), appliance.supply.gas, is_apart=bool(cases))


def _text(name: str, carry_over: CarryOver) -> str:
    parts = [f"{name}: carry-over (evidence: {carry_over.evidence})", ""]
    rows: list[tuple[str, ...]]
    if carry_over.links:
        rows = [
            (
                f"{link.from_burner} > {link.to_burner}",
                link.by,
                millimetre(link.free_distance_m, ".1f", has_unit=False),
                "-"
                if link.likely_reach_m is None
                else millimetre(link.likely_reach_m, ".1f", has_unit=False),
                link.strength,
            )
            for link in carry_over.links
        ]
        parts.append(
            table(("from > to", "by", "free, mm", "likely up to, mm", "carry-over"), rows, left_columns=2)
        )
    else:
        nothing = (
            "no burner stands near enough to another, and the file describes no row of ports between them"
        )
        parts.append(wrapped(nothing))
    rows = [
        (
            f.burner,
            f.gas,
            f"{100 * f.load:.0f}",
            _mm(f.height_m),
            _mm(f.height_at_most_m),
            _mm(f.inner_cone_height_m),
        )
        for f in carry_over.flames
    ]
    parts += [
        "",
        table(("flame of", "gas", "rate, %", "flame, mm", "up to, mm", "cone, mm"), rows, left_columns=2),
    ]
    if carry_over.igniters:
        rows = [
            (one.igniter, ", ".join(one.out_of_reach) or "-", ", ".join(one.only_over_doubtful_links) or "-")
            for one in carry_over.when_an_igniter_fails
        ]
        heads = ("when it fails", "out of reach", "only over doubtful links")
        parts += ["", table(heads, rows, left_columns=3)]
    if carry_over.out_of_reach:
        parts += ["", f"out of reach of every igniter: {', '.join(carry_over.out_of_reach)}"]
    return "\n".join(parts)


def _mm(length_m: float | None) -> str:
    return "-" if length_m is None else number(1e3 * length_m, 2)
