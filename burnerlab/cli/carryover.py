"""``burnerlab carryover``: which burner can light which."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.asked import GasAsked, SecondAsked, together
from burnerlab.cli.cautions import cautions, print_cautions
from burnerlab.cli.options import in_words_of_options, json_option, second_gas_options
from burnerlab.cli.output import number, print_json, print_notes, table
from burnerlab.quantity.error import UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.layout.carryover import CarryOver, Link


@click.command(short_help="Which burner can light which, and weak links.")
@click.argument("file")
@second_gas_options
@json_option
def command(file: str, gas: GasAsked, second: SecondAsked, as_json: bool) -> None:
    """Graph of carry-over between the burners of FILE, at full rate and at about a third of it.

    Burners need a place with a height, ports, and igniter = "name" where one stands; [[carry_over]] describes a row of
    ports from one burner to another. With --to and --pressure both gases are looked at. A prompt to test.

    \b
    Examples:
      burnerlab carryover cart.toml
      burnerlab carryover cart.toml --to propane --pressure "11 inH2O" --json
    """
    from burnerlab.appliance import read_appliance
    from burnerlab.layout.carryover import carry_over

    appliance, other = together(lambda: read_appliance(file), lambda: second.read(gas))
    found = carry_over(appliance, None if other is None else _changed(appliance, *other))
    result = _result(found)
    if as_json:
        print_json(result)
        return
    click.echo(_text(appliance.name, found))
    print_notes("Weak links", found.weak)
    print_notes("To test", found.prompts)
    print_notes("Notes", found.notes)
    print_cautions(appliance.supply.gas)


def _changed(appliance: Appliance, gas: Any, gauge_Pa: float) -> Appliance:
    from burnerlab.appliance.convert import changed
    from burnerlab.appliance.target import ConversionTarget

    try:
        return changed(appliance, ConversionTarget(gas=gas, gauge_pressure_Pa=gauge_Pa))
    except UserError as error:
        raise in_words_of_options(error) from None


def _result(found: CarryOver) -> dict[str, Any]:
    return {
        "burners": found.burners,
        "links": [_link(link) for link in found.links],
        "flames": [
            {
                "burner": f.burner,
                "gas": f.gas,
                "load": f.load,
                "height_at_most_mm": None if f.height_at_most_m is None else 1e3 * f.height_at_most_m,
                "inner_cone_height_mm": None if f.inner_cone_m is None else 1e3 * f.inner_cone_m,
            }
            for f in found.flames
        ],
        "igniters": [{"name": name, "burners": burners} for name, burners in found.igniters.items()],
        "out_of_reach": found.out_of_reach,
        "every_burner_reached_when_any_igniter_fails": found.reached_when_any_igniter_fails,
        "when_an_igniter_fails": [
            {
                "igniter": one.igniter,
                "lights": one.lights,
                "out_of_reach": one.out_of_reach,
                "only_over_doubtful_links": one.over_doubtful,
            }
            for one in found.lost
        ],
        "weak_links": found.weak,
        "prompts": found.prompts,
        "notes": found.notes,
        "evidence": found.evidence,
        "cautions": cautions(),
    }


def _link(link: Link) -> dict[str, Any]:
    return {
        "from": link.start,
        "to": link.end,
        "by": link.by,
        "free_distance_mm": 1e3 * link.free_distance_m,
        "rise_mm": 1e3 * link.rise_m,
        "likely_reach_mm": None if link.likely_reach_m is None else 1e3 * link.likely_reach_m,
        "strength": link.strength,
        "conditions": [{"gas": c.gas, "load": c.load, "strength": c.strength} for c in link.conditions],
        "why": link.why,
    }


def _text(name: str, found: CarryOver) -> str:
    parts = [f"{name}: carry-over (evidence: {found.evidence})", ""]
    rows: list[tuple[str, ...]]
    if found.links:
        rows = [
            (
                f"{link.start} > {link.end}",
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
        (f.burner, f.gas, f"{100 * f.load:.0f}", _mm(f.height_at_most_m), _mm(f.inner_cone_m))
        for f in found.flames
    ]
    parts += ["", table(("flame of", "gas", "rate, %", "height up to, mm", "inner cone, mm"), rows, left=2)]
    if found.igniters:
        rows = [
            (one.igniter, ", ".join(one.out_of_reach) or "-", ", ".join(one.over_doubtful) or "-")
            for one in found.lost
        ]
        heads = ("when it fails", "out of reach", "only over doubtful links")
        parts += ["", table(heads, rows, left=3)]
    if found.out_of_reach:
        parts += ["", f"out of reach of every igniter: {', '.join(found.out_of_reach)}"]
    return "\n".join(parts)


def _mm(length_m: float | None) -> str:
    return "not evaluated" if length_m is None else number(1e3 * length_m, 2)
