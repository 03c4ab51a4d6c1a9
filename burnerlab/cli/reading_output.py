"""What ``clock`` and ``weigh`` share: how a measured heat input is shown, and the exit status it leads to."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

import click

from burnerlab.cli.errors import DIFFERS, OK
from burnerlab.cli.output import (
    CAUTION_WIDTH,
    amount,
    facts,
    figure,
    for_reader,
    percent,
    quantity,
    table,
    wrapped,
)
from burnerlab.quantity import Kind, in_unit
from burnerlab.quantity.quantity_text import quantity_text
from burnerlab.quantity.show import number
from burnerlab.tables.problem import UserError
from burnerlab.tables.verdict import Verdict

if TYPE_CHECKING:
    from burnerlab.bench.bench_air import InputAtPlace
    from burnerlab.bench.decision_rule import Comparison
    from burnerlab.bench.reading.heat_input import InputMeasured
    from burnerlab.bench.reading.meter import TimingPlan
    from burnerlab.bench.stop import StopNotice
    from burnerlab.bench.uncertainty import Budget

Measured = TypeVar("Measured")
DIGITS = 3  # of a heat input
SHOWN_SHARE = 0.005  # of the variance: contributions below it are left out of the text, not of the JSON


ENGINE_KEYS = (
    "volume",
    "time",
    "revolutions",
    "other load",
    "mass loss",
    "resolution",
    "drift",
    "heating value",
)


def by_option(reader: Callable[[], Measured]) -> Measured:
    """What ``reader`` measures; the problems of the engine under the names of their options."""
    try:
        return reader()
    except UserError as error:
        problems = [
            replace(p, key=f"--{p.key.replace(' ', '-')}") if p.key in ENGINE_KEYS else p
            for p in error.problems
        ]
        raise UserError(problems) from None


def status_of(measured: InputMeasured, stops: Sequence[StopNotice]) -> int:
    """Exit status for a line's script: 1 where a reading is outside its band, or a stop is raised."""
    is_outside = measured.worst is not None and measured.worst.verdict == Verdict.OUTSIDE
    return DIFFERS if is_outside or stops else OK


def print_act_first(measured: InputMeasured, stops: Sequence[StopNotice]) -> None:
    """What to do before all else with a reading outside its band, as at the bench; nothing where a stop says so."""
    from burnerlab.bench.decision_rule import act_first

    worst = measured.worst
    if stops or worst is None or worst.verdict != Verdict.OUTSIDE:
        return
    if words := act_first(worst.deviation, worst.rating.tolerance):
        click.echo(f"{wrapped(f'WARNING: {words}', CAUTION_WIDTH)}\n")


def plan_words(plan: TimingPlan) -> str:
    """How long to time, in a sentence."""
    if plan.time_s is None:
        return (
            f"timing longer cannot reach {100 * plan.wanted:g} %: {number(100 * plan.least, 2)} % remains,"
            f" most of it from: {plan.dominated_by}"
        )
    turns = "" if plan.revolutions is None else f" ({plan.revolutions} revolutions)"
    return f"{plan.time_s:.0f} s{turns} for {100 * plan.wanted:g} %"


def measured_text(
    measured: InputMeasured,
    plan: TimingPlan | None,
    head: Sequence[tuple[str, str]],
    used: Sequence[tuple[str, str]] = (),
    stops: Sequence[StopNotice] = (),
    at_place: InputAtPlace | None = None,
) -> str:
    """A measured heat input as a person reads it in ten seconds, its budget below.

    head : the gas and the burner it is of; used : what else went into it; at_place : of file or plan, in other air
    """
    budget, comparison = measured.budget, measured.worst
    (gross, _), (net, _) = (figure(measured, f"heat_input_{basis}_W") for basis in ("gross", "net"))
    estimate = ", estimated" if measured.heat.net_is_estimate else ""
    k = f"k = {budget.coverage_factor:.2f}, {100 * budget.coverage:g} %"
    pairs = [
        *head,
        (gross, _power(measured.heat_input_gross_W)),
        (net, _power(measured.heat_input_net_W) + estimate),
        ("uncertainty", f"±{100 * budget.relative_expanded:.1f} % of the reading ({k})"),
        ("interval, gross", quantity_text("{} to {}", _power(budget.low), _power(budget.high))),
    ]
    if measured.standard_volume_flow_m3_per_s is not None:
        label, flow = figure(measured, "standard_volume_flow_m3_per_s")
        pairs.append((label, f"{flow} at {measured.heat.reference_state}"))
    if measured.mass_flow_kg_per_s is not None:
        pairs.append(figure(measured, "mass_flow_kg_per_s"))
    pairs += used
    if measured.correction is not None:
        pairs.append(
            ("to the rating's state", f"x {measured.correction.factor:.4f} ({measured.correction.words})")
        )
    if measured.at_file_pressure is not None:
        pairs.append(("with the file's pressure", measured.at_file_pressure.text))
    if at_place is not None:
        pairs.append(("air of the bench", for_reader(at_place.text)))
    if comparison is None:
        pairs.append(("against the rating", "not evaluated: without a rating"))
    else:
        pairs.append(("deviation", percent(comparison.deviation) + _of_two(measured)))
        against = (f"against the {comparison.rating.words}", comparison.text)
        if comparison.verdict.is_evaluated or stops:
            pairs.append(against)
        else:  # what withholds the verdict is said before every figure
            pairs.insert(0, against)
        if not stops and comparison.verdict.is_evaluated:
            pairs.append(
                (
                    "probability",
                    f"{100 * comparison.probability_inside:.0f} % that it is within the band",
                )
            )
    if plan is not None and not stops:
        pairs.append(("how long to time", plan_words(plan)))
    monte_carlo = measured.monte_carlo
    if monte_carlo is not None and monte_carlo.use_this_interval:
        span = f"{amount(monte_carlo.low, Kind.POWER)} to {amount(monte_carlo.high, Kind.POWER)} gross"
        apart = f"the other differs by {100 * monte_carlo.departure:.0f} % of its half width"
        pairs.append(("by Monte Carlo", f"{span}; use this interval, {apart}"))
    return facts(pairs) + "\n\n" + _budget_table(budget)


def _power(heat_input_W: float) -> str:
    """A heat input to the digits that a stop and the record print."""
    return quantity(heat_input_W, Kind.POWER, "kW", DIGITS)


def _of_two(measured: InputMeasured) -> str:
    """The other rating, where the one of the command line is not that of the file."""
    named, file = measured.comparison, measured.file_comparison
    if named is None or file is None:
        return ""
    words = {
        id(named): f"--rating, {_rate(named)}",
        id(file): f"the file's {file.rating.words}, {_rate(file)}",
    }
    worst = measured.worst
    other = named if worst is file else file
    return f" from {words[id(worst)]}; {percent(other.deviation)} from {words[id(other)]}"


def _rate(comparison: Comparison) -> str:

    value = float(in_unit(comparison.rating.heat_input_W, Kind.POWER, comparison.rating.unit))
    return f"{value:.4g} {comparison.rating.unit} {comparison.rating.basis}"


def _budget_table(budget: Budget) -> str:
    rows = [
        (
            one.quantity.words,
            one.quantity.kind,
            f"{100 * one.relative:.2f}",
            f"{100 * one.variance_fraction:.0f}",
        )
        for one in budget.contributions
        if one.variance_fraction >= SHOWN_SHARE
    ]
    heads = ("where the uncertainty of the reading comes from", "type", "u, %", "variance, %")
    return table(heads, rows, left_columns=2)
