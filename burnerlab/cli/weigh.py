"""``burnerlab weigh``: heat input by scale and watch."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.asked import GasAsked, together
from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.clock import above_zero, factor_of, wanted_of, with_other_load
from burnerlab.cli.measured import by_option, measured_text, status_of
from burnerlab.cli.measured_options import (
    BasisAsked,
    ModelAsked,
    RatingAsked,
    basis_options,
    model_options,
    rating_options,
)
from burnerlab.cli.options import gas_options, json_option
from burnerlab.cli.output import print_json, print_notes
from burnerlab.cli.stops import print_stops, stops_json
from burnerlab.quantity.error import Problem, UserError
from burnerlab.quantity.outputs import row

if TYPE_CHECKING:
    from burnerlab.bench.weigh import WeighReading

IN = re.compile(r"(?P<mass>.+?)\s+in\s+(?P<time>.+)", re.ASCII)


@click.command(short_help="Heat input by scale and watch, with its uncertainty.")
@model_options
@gas_options
@click.option("--mass-loss", metavar="M", help='What the cylinder lost: "250 g".')
@click.option("--from", "first", metavar="M", help="Or the first reading of the scale ...")
@click.option("--to", "last", metavar="M", help="... and the last.")
@click.option("--time", metavar="T", required=True, help='Over which it was lost: "30 min".')
@click.option("--repeat", metavar="LIST", multiple=True, help='Another weighing: "248 g in 30 min".')
@click.option("--resolution", metavar="M", help='Last digit of the scale: "1 g".')
@click.option("--drift", metavar="M", help='Largest shift of the scale over the test: "2 g".')
@click.option("--scale-factor", metavar="F", help='Of its certificate, true over shown mass: "1.002".')
@click.option("--scale-factor-uncertainty", metavar="SHARE", help='Of that factor, expanded (95 %): "0.1 %".')
@click.option("--other-load", metavar="RATE", help='Other load meanwhile: "1 kBtu/h gross".')
@click.option("--wanted", metavar="SHARE", help='Expanded uncertainty wanted: "2 %". Says how long to weigh.')
@basis_options
@rating_options
@json_option
def command(
    model: ModelAsked, gas: GasAsked, basis: BasisAsked, rated: RatingAsked, as_json: bool, **given: Any
) -> int:
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

    appliance = model.read()
    heat, reading, rating, state, wanted = together(
        lambda: basis.heat(gas, appliance),
        lambda: _reading(given),
        lambda: rated.read(appliance, model.burner, low=model.low),
        lambda: rated.state(appliance),
        lambda: wanted_of(given["wanted"]),
    )
    reading = with_other_load(reading, given["other_load"], heat)
    found = by_option(lambda: weigh(reading, heat, rating, state, own=basis.own()))
    plan = None
    if wanted is not None:
        from dataclasses import replace

        plan = replace(
            timing_for(found.budget, found.time_s, max(1, round(found.time_s)), wanted, TIMED),
            revolutions=None,
        )
    found = model.held(found, appliance)
    stops = model.stops(found, appliance, state)
    if stops:
        found = found.withheld()
    if as_json:
        print_json(stops_json(stops) | row(found), reading=reading, timing=plan)
        return status_of(found, stops)
    print_stops(stops)
    click.echo(measured_text(found, plan, stops=stops))
    print_notes("Notes", found.notes)
    print_cautions(found.heat.gas)
    return status_of(found, stops)


def _reading(given: dict[str, Any]) -> WeighReading:
    from burnerlab.bench.weigh import WeighReading
    from burnerlab.quantity import Kind, read

    def mass(name: str) -> float | None:
        return None if given[name] is None else read(given[name], Kind.MASS, key=f"--{name}", high=1000.0)

    loss, time, resolution, drift, repeats, factor = together(
        lambda: _loss(given),
        lambda: above_zero(given["time"], Kind.TIME, "--time"),
        lambda: mass("resolution"),
        lambda: mass("drift"),
        lambda: _repeats(given["repeat"]),
        lambda: factor_of(given, "scale_factor"),
    )
    return WeighReading(
        mass_losses_kg=(loss, *repeats[::2]),
        times_s=(time, *repeats[1::2]),
        resolution_kg=resolution,
        drift_kg=drift or 0.0,
        scale_factor=factor[0],
        scale_factor_uncertainty=factor[1],
    )


def _repeats(texts: tuple[str, ...]) -> list[float]:
    """Mass and time of every other weighing, in turn."""
    from burnerlab.quantity import Kind

    found: list[float] = []
    for text in texts:
        match = IN.fullmatch(text.strip())
        if match is None:
            fix = 'write it as "248 g in 30 min"'
            raise UserError(Problem("mass and time of another weighing", text, "--repeat", fix=fix))
        found.append(above_zero(match["mass"], Kind.MASS, "--repeat"))
        found.append(above_zero(match["time"], Kind.TIME, "--repeat"))
    return found


def _loss(given: dict[str, Any]) -> float:
    from burnerlab.quantity import Kind, read

    ends = (given["first"], given["last"])
    if (given["mass_loss"] is None) == (None in ends) or (given["mass_loss"] and any(ends)):
        what = "give the loss, or the first and the last reading"
        raise UserError(Problem(what, key="--mass-loss, or --from and --to"))
    if given["mass_loss"] is not None:
        return above_zero(given["mass_loss"], Kind.MASS, "--mass-loss", high=1000.0)
    first, last = together(
        lambda: read(given["first"], Kind.MASS, key="--from"),
        lambda: read(given["last"], Kind.MASS, key="--to"),
    )
    if not first > last:
        raise UserError(
            Problem("the cylinder must have lost mass", str(given["last"]), "--to", accepted="below --from")
        )
    return float(first - last)
