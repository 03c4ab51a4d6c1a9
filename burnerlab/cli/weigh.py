"""``burnerlab weigh``: heat input by scale and watch."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.bench_inputs import (
    BASIS,
    ReadingBasis,
    factor_inputs,
    gross_W,
    other_load_input,
    wanted_input,
)
from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.options import json_option
from burnerlab.cli.output import print_json, print_notes
from burnerlab.cli.reading_output import by_option, measured_text, status_of
from burnerlab.cli.stops import print_stops, stops_json
from burnerlab.cli.takes import takes, written
from burnerlab.quantity.inputs import Group, Input, input_row, together
from burnerlab.quantity.outputs import row
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.bench.weigh import WeighReading
    from burnerlab.quantity import Rate

IN = re.compile(r"(?P<mass>.+?)\s+in\s+(?P<time>.+)", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """What scale and watch read, and what else burned meanwhile."""

    reading: WeighReading
    other_load: Rate | None

    def on(self, basis: ReadingBasis) -> WeighReading:
        """The reading, with the other load on the gross basis."""
        return replace(self.reading, other_load_gross_W=gross_W(self.other_load, basis.heat))


def _weighing(
    mass_loss: float | None,
    first: float | None,
    last: float | None,
    time: float,
    repeat: tuple[tuple[float, float], ...],
    other_load: Rate | None,
    **figures: Any,
) -> Weighing:
    from burnerlab.bench.weigh import WeighReading

    if first is not None and last is not None:
        if not first > last:
            what = "the cylinder must have lost mass"
            raise UserError(Problem(what, written("last"), "--to", accepted="below --from"))
        mass_loss = first - last
    assert mass_loss is not None  # a rule of the inputs
    reading = WeighReading(
        mass_losses_kg=(mass_loss, *(mass for mass, _ in repeat)),
        times_s=(time, *(seconds for _, seconds in repeat)),
        resolution_kg=figures["resolution"],
        drift_kg=figures["drift"] or 0.0,
        scale_factor=figures["scale_factor"],
        scale_factor_uncertainty=figures["scale_factor_uncertainty"],
    )
    return Weighing(reading=reading, other_load=other_load)


def _one_loss(written: Mapping[str, Any]) -> Iterator[Problem]:
    """The loss, or both ends of it."""
    ends = len({"first", "last"} & written.keys())
    if ends != (0 if "mass_loss" in written else 2):
        what = "give the loss, or the first and the last reading"
        yield Problem(what, key="--mass-loss, or --from and --to")


def _another_weighing(text: str, key: str) -> tuple[float, float]:
    """Mass and time such as "248 g in 30 min"."""
    match = IN.fullmatch(text.strip())
    if match is None:
        fix = 'write it as "248 g in 30 min"'
        raise UserError(Problem("mass and time of another weighing", text, key, fix=fix))
    mass, time = together(
        lambda: input_row("mass_loss").read(match["mass"], key),
        lambda: input_row("weighing_time").read(match["time"], key),
    )
    return mass, time


WEIGHING = Group(
    make=_weighing,
    inputs=(
        Input(name="mass_loss", metavar="M", help='What the cylinder lost: "250 g".'),
        Input(
            name="first",
            of="cylinder_mass",
            flags=("--from",),
            metavar="M",
            help="Or the first reading of the scale ...",
        ),
        Input(name="last", of="cylinder_mass", flags=("--to",), metavar="M", help="... and the last."),
        Input(
            name="time",
            of="weighing_time",
            metavar="T",
            is_needed=True,
            example="30 min",
            help='Over which it was lost: "30 min".',
        ),
        Input(
            name="repeat",
            reader=_another_weighing,
            metavar="LIST",
            is_many=True,
            help='Another weighing: "248 g in 30 min".',
        ),
        Input(name="resolution", of="scale_digit", metavar="M", help='Last digit of the scale: "1 g".'),
        Input(
            name="drift",
            of="scale_drift",
            metavar="M",
            help='Largest shift of the scale over the test: "2 g".',
        ),
        *factor_inputs("scale", 'Of its certificate, true over shown mass: "1.002".', "0.1 %"),
        other_load_input('Other load meanwhile: "1 kBtu/h gross".'),
    ),
    rules=_one_loss,
)
"""What scale and watch read: ``Weighing``."""


@click.command(short_help="Heat input by scale and watch, with its uncertainty.")
@takes(
    basis=BASIS,
    weighing=WEIGHING,
    wanted=wanted_input('Expanded uncertainty wanted: "2 %". Says how long to weigh.'),
)
@json_option
def weigh_command(basis: ReadingBasis, weighing: Weighing, wanted: float | None, as_json: bool) -> int:
    """Heat input by the mass a cylinder loses, with its uncertainty and where it stands against the rating.

    Support hose and regulator so that they neither pull nor push, and keep the wind off the scale.
    FILE is the project file of the unit: its gas, rating and band hold where no option says another.

    Exit status: 1 where the reading is outside the band of the rating or a stop is raised, 0 where it is not
    or no rating is given, 2 for wrong input.

    \b
    Examples:
      burnerlab weigh --gas propane --mass-loss "250 g" --time "30 min" --resolution "1 g"
      burnerlab weigh --gas propane --from "18.412 kg" --to "18.160 kg" --time "30 min" --rating "7 kW gross"
    """
    from burnerlab.bench.timing import timing_for
    from burnerlab.bench.weigh import TIMED, weigh

    reading, state = weighing.on(basis), basis.state
    measured = by_option(lambda: weigh(reading, basis.heat, basis.rating, state, own=basis.instruments))
    plan = None
    if wanted is not None:
        seconds = max(1, round(measured.time_s))
        plan = replace(timing_for(measured.budget, measured.time_s, seconds, wanted, TIMED), revolutions=None)
    measured = basis.unit.compared(measured)
    stops = basis.unit.stops(measured, state)
    if stops:
        measured = measured.withheld()
    if as_json:
        print_json(stops_json(stops) | row(measured), reading=reading, timing=plan)
        return status_of(measured, stops)
    print_stops(stops)
    click.echo(measured_text(measured, plan, stops=stops))
    print_notes("Notes", measured.notes)
    print_cautions(measured.heat.gas)
    return status_of(measured, stops)
