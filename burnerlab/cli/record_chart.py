"""``burnerlab record chart``: the last units of a model, in the terminal or as a figure."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.options import json_option
from burnerlab.cli.output import facts, print_json, print_notes
from burnerlab.cli.record_options import RECORD, text_input, to_read
from burnerlab.cli.takes import takes
from burnerlab.quantity.inputs import Group, Input
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.bench.record import ChartAsked, UnitChart

WIDTH = 41  # characters of the drawing in the terminal
SERIAL_WIDTH = 16


def _chart(*, quantity: str, low: str | None, high: str | None, rules: str | None, **more: Any) -> ChartAsked:
    """What is charted; the ends of the band are read as the quantity is."""
    from burnerlab.bench.record import ChartAsked
    from burnerlab.bench.record.vocabulary import quantity_named
    from burnerlab.cli.record_facts import value_of

    of = quantity_named(quantity, "--quantity")
    ends = [
        None if text is None else value_of(text, of, key) for text, key in ((low, "--low"), (high, "--high"))
    ]
    own = None if rules is None else Path(rules)
    if own is not None and not own.is_file():
        raise UserError(Problem("not a regular file", key="--rules", file=str(own)))
    return ChartAsked(quantity=of.name, low=ends[0], high=ends[1], own_rules=own, **more)


CHART = Group(
    make=_chart,
    inputs=(
        text_input("model", "NAME", "Model of the units.", is_needed=True),
        text_input("burner", "NAME", "Burner; the whole unit unless said.", default=""),
        text_input("quantity", "NAME", "A result by name.", default="deviation"),
        Input(name="last", of="chart_units", default="50", help="So many units."),
        Input(name="baseline", of="baseline_units", help="Limits from so many of the oldest units shown."),
        Input(
            name="take",
            choices=("first", "last"),
            default="last",
            help="Which test of a unit tested more than once.",
        ),
        text_input("low", "VALUE", "Lower end of the band; from the results unless said."),
        text_input("high", "VALUE", "Upper end of the band."),
        text_input("rules", "FILE", "CSV of your own rules of drift."),
    ),
)


@click.command(short_help="Control chart and capability of a burner over the last units.")
@takes(
    asked=CHART,
    svg=text_input("svg", "FILE", "Also draw it."),
    overwrite=Input(name="overwrite", is_flag=True, help="Replace the drawing when it exists."),
    file=RECORD,
)
@json_option
def chart(asked: ChartAsked, file: str, svg: str | None, overwrite: bool, as_json: bool) -> None:
    """Individuals with moving ranges, rules of drift, and capability with its confidence intervals.

    One figure for each of the last units: limits are the mean and 3 sigma, sigma from the mean moving range. The
    band for the capability is the one that the results name.

    \b
    Examples:
      burnerlab record chart --model "market cart range" --burner griddle
      burnerlab record chart --model "market cart range" --burner griddle --baseline 25 --svg griddle.svg
    """
    from burnerlab.bench.record import unit_chart

    with to_read(file) as record:
        found = unit_chart(record, asked)
    if svg is not None:
        _write_svg(found, Path(svg), overwrite)
    if as_json:
        print_json(found, figure=svg)
        return
    click.echo(chart_text(found))
    print_notes("Notes", found.notes)
    print_cautions()


def _write_svg(found: UnitChart, path: Path, overwrite: bool) -> None:
    from burnerlab.bench.record.files import whole_file
    from burnerlab.report.chart_figure import chart_svg

    with whole_file(path, overwrite) as made:
        try:
            made.write_text(chart_svg(found), encoding="utf-8")
        except ImportError as error:
            fix = 'pip install "burnerlab[sheet]"'
            raise UserError(Problem(f"a figure needs {error.name}", key="--svg", fix=fix)) from None


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
