"""``burnerlab record chart``: the last units of a model, in the terminal or as a figure."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.cautions import cautions, print_cautions
from burnerlab.cli.options import json_option
from burnerlab.cli.output import facts, print_json, print_notes
from burnerlab.cli.record_options import file_option, to_read
from burnerlab.quantity.error import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.bench.record import UnitChart

WIDTH = 41  # characters of the drawing in the terminal
SERIAL_WIDTH = 16


@click.command(short_help="Control chart and capability of a burner over the last units.")
@click.option("--model", metavar="NAME", required=True, help="Model of the units.")
@click.option("--burner", metavar="NAME", default="", help="Burner; the whole unit unless said.")
@click.option("--quantity", metavar="NAME", default="deviation", show_default=True, help="A result by name.")
@click.option("--last", type=click.IntRange(1, 1000), default=50, show_default=True, help="So many units.")
@click.option("--baseline", type=click.IntRange(min=1), help="Limits from so many of the oldest units shown.")
@click.option(
    "--take",
    type=click.Choice(["first", "last"]),
    default="last",
    show_default=True,
    help="Which test of a unit tested more than once.",
)
@click.option("--low", metavar="VALUE", help="Lower end of the band; from the results unless said.")
@click.option("--high", metavar="VALUE", help="Upper end of the band.")
@click.option("--rules", metavar="FILE", help="CSV of your own rules of drift.")
@click.option("--svg", metavar="FILE", help="Also draw it.")
@click.option("--overwrite", is_flag=True, help="Replace the drawing when it exists.")
@file_option
@json_option
def chart(file: str, svg: str | None, overwrite: bool, as_json: bool, **given: Any) -> None:
    """Individuals with moving ranges, rules of drift, and capability with its confidence intervals.

    One figure for each of the last units: limits are the mean and 3 sigma, sigma from the mean moving range. The
    band for the capability is the one that the results name.

    \b
    Examples:
      burnerlab record chart --model "market cart range" --burner griddle
      burnerlab record chart --model "market cart range" --burner griddle --baseline 25 --svg griddle.svg
    """
    from burnerlab.bench.record import unit_chart

    asked = _asked(given)
    with to_read(file) as record:
        found = unit_chart(record, asked)
    if svg is not None:
        _write_svg(found, Path(svg), overwrite)
    if as_json:
        print_json(chart_json(found) | {"figure": svg, "cautions": cautions()})
        return
    click.echo(chart_text(found))
    print_notes("Notes", found.notes)
    print_cautions()


def _asked(given: dict[str, Any]) -> Any:
    from burnerlab.bench.record import ChartAsked
    from burnerlab.bench.record.vocabulary import quantity_named
    from burnerlab.cli.record_facts import value_of

    quantity = quantity_named(given["quantity"], "--quantity")
    ends: dict[str, Any] = {
        end: None if given[end] is None else value_of(given[end], quantity, f"--{end}")
        for end in ("low", "high")
    }
    rules = None if given["rules"] is None else Path(given["rules"])
    if rules is not None and not rules.is_file():
        raise UserError(Problem("not a regular file", key="--rules", file=str(rules)))
    return ChartAsked(
        model=given["model"],
        burner=given["burner"],
        quantity=quantity.name,
        last=given["last"],
        baseline=given["baseline"],
        take=given["take"],
        own_rules=rules,
        **ends,
    )


def _write_svg(found: UnitChart, path: Path, overwrite: bool) -> None:
    from burnerlab.bench.record.files import whole_file
    from burnerlab.report.chart_figure import chart_svg

    with whole_file(path, overwrite) as made:
        try:
            made.write_text(chart_svg(found), encoding="utf-8")
        except ImportError as error:
            fix = 'pip install "burnerlab[sheet]"'
            raise UserError(Problem(f"a figure needs {error.name}", key="--svg", fix=fix)) from None


def chart_json(found: UnitChart) -> dict[str, Any]:
    """A chart as JSON, figures in SI."""
    held = found.capability
    return {
        "model": found.model,
        "burner": found.burner,
        "quantity": found.quantity,
        "unit": found.unit,
        "baseline": found.baseline,
        "points": [asdict(point) for point in found.points],
        "limits": None if found.limits is None else asdict(found.limits),
        "drift": [
            {
                "rule": hit.rule.name,
                "words": hit.rule.words,
                "serial": found.points[hit.index].serial,
                "index": hit.index,
                "source": hit.rule.source,
                "provenance": hit.rule.provenance,
            }
            for hit in found.hits
        ],
        "capability": None if held is None else asdict(held),
        "notes": found.notes,
    }


def chart_text(found: UnitChart) -> str:
    """The chart as lines, one unit each, oldest first; letters name the rules met."""
    from burnerlab.report.chart_figure import (
        capability_words,
        chart_title,
        chart_unit,
        marks,
        rule_letters,
    )

    unit, flagged = chart_unit(found), marks(found)
    values = [unit.of(point.value) for point in found.points]
    ends = list(values)
    if found.limits is not None:
        ends += [unit.of(found.limits.low), unit.of(found.limits.high)]
    scale = _Scale(min(ends), max(ends))
    rails = "" if found.limits is None else scale.rails(*(unit.of(v) for v in _three(found)))
    lines = [chart_title(found), ""]
    for number, (point, value) in enumerate(zip(found.points, values, strict=True)):
        drawn = scale.line(rails, value, "o" if number not in flagged else "#")
        shown = unit.text(point.value).replace("\N{MINUS SIGN}", "-")
        lines.append(
            f"{point.serial[:SERIAL_WIDTH]:<{SERIAL_WIDTH}} {point.tested_at[:10]} {shown:>8} {unit.name}  "
            f"{drawn} {flagged.get(number, '')}".rstrip()
        )
    words = {hit.rule.name: hit.rule.words for hit in found.hits}
    pairs = [(f"rule {letter}", words[name]) for name, letter in rule_letters(found).items()]
    if found.limits is not None:
        low, centre, high = (unit.text(v).replace("\N{MINUS SIGN}", "-") for v in _three(found))
        pairs.append(("centre", f"{centre} {unit.name}, limits {low} to {high} {unit.name} (marked | : |)"))
        if not found.hits and found.limits.sigma > 0.0:
            pairs.append(("drift", "no rule is met"))
    pairs += [("capability", line.replace("\N{MINUS SIGN}", "-")) for line in capability_words(found)]
    return "\n".join(lines) + "\n\n" + facts(pairs)


def _three(found: UnitChart) -> tuple[float, float, float]:
    assert found.limits is not None
    return found.limits.low, found.limits.centre, found.limits.high


class _Scale:
    """Where a figure stands in a line of characters."""

    def __init__(self, low: float, high: float) -> None:
        self.low, self.reach = low, (high - low) or 1.0

    def at(self, value: float) -> int:
        return round((value - self.low) / self.reach * (WIDTH - 1))

    def rails(self, low: float, centre: float, high: float) -> str:
        places = {self.at(centre): ":", self.at(low): "|", self.at(high): "|"}
        return "".join(places.get(n, " ") for n in range(WIDTH))

    def line(self, rails: str, value: float, mark: str) -> str:
        drawn = list(rails or " " * WIDTH)
        drawn[self.at(value)] = mark
        return "".join(drawn)
