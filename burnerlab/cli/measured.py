"""What ``clock`` and ``weigh`` share: how a measured heat input is shown, and the exit status it leads to."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

from burnerlab.cli.failure import DIFFERS, OK
from burnerlab.cli.output import facts, number, percent, table
from burnerlab.cli.units import W_PER_BTU_PER_H
from burnerlab.quantity.error import UserError
from burnerlab.tables.verdict import Verdict

if TYPE_CHECKING:
    from burnerlab.bench.budget import Budget
    from burnerlab.bench.decision import Comparison
    from burnerlab.bench.heat import InputMeasured
    from burnerlab.bench.stop import StopNotice
    from burnerlab.bench.timing import TimingPlan

Measured = TypeVar("Measured")
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
        told = [
            replace(p, key=f"--{p.key.replace(' ', '-')}") if p.key in ENGINE_KEYS else p
            for p in error.problems
        ]
        raise UserError(told) from None


def status_of(found: InputMeasured, stops: Sequence[StopNotice]) -> int:
    """Exit status for a line's script: 1 where a reading is outside its band, or a stop is raised."""
    is_outside = found.worst is not None and found.worst.verdict == Verdict.OUTSIDE
    return DIFFERS if is_outside or stops else OK


def plan_words(plan: TimingPlan) -> str:
    """How long to time, in a sentence."""
    if plan.time_s is None:
        return (
            f"timing longer cannot reach {100 * plan.wanted:g} %: {100 * plan.least:.2g} % remains,"
            f" most of it from: {plan.dominated_by}"
        )
    turns = "" if plan.revolutions is None else f" ({plan.revolutions} revolutions)"
    return f"{plan.time_s:.0f} s{turns} for {100 * plan.wanted:g} %"


def measured_text(
    found: InputMeasured,
    plan: TimingPlan | None,
    used: Sequence[tuple[str, str]] = (),
    stops: Sequence[StopNotice] = (),
) -> str:
    """A measured heat input as a person reads it in ten seconds, its budget below; ``used``: what went into it."""
    budget, held = found.budget, found.worst
    gross_kW = budget.value / 1e3
    estimate = ", estimated" if found.heat.net_is_estimate else ""
    k = f"k = {budget.coverage_factor:.2f}, {100 * budget.coverage:g} %"
    pairs = [
        ("heat input, gross", f"{number(gross_kW)} kW   {number(budget.value / W_PER_BTU_PER_H)} Btu/h"),
        ("heat input, net", f"{number(found.heat_input_net_W / 1e3)} kW{estimate}"),
        ("uncertainty", f"+-{100 * budget.relative_expanded:.1f} % ({k})"),
        ("interval, gross", f"{number(budget.low / 1e3)} to {number(budget.high / 1e3)} kW"),
    ]
    if found.standard_volume_flow_m3_per_s is not None:
        flow = number(found.standard_volume_flow_m3_per_s * 3600)
        pairs.append(("standard flow", f"{flow} m3/h at {found.heat.reference.words()}"))
    if found.mass_flow_kg_per_s is not None:
        pairs.append(("mass flow", f"{number(found.mass_flow_kg_per_s * 3600)} kg/h"))
    pairs += used
    if found.correction is not None:
        pairs.append(("to the rating's state", f"x {found.correction.factor:.4f} ({found.correction.words})"))
    if held is None:
        pairs.append(("against the rating", "not evaluated: no rating given"))
    else:
        pairs.append(("deviation", percent(held.deviation) + _of_two(found)))
        pairs.append((f"against the {held.rating.words}", held.text))
        if not stops:
            pairs.append(("probability inside", f"{100 * held.probability_inside:.0f} % within the band"))
    if plan is not None and not stops:
        pairs.append(("how long to time", plan_words(plan)))
    drawn = found.monte_carlo
    if drawn is not None and drawn.use_this_interval:
        span = f"{number(drawn.low / 1e3)} to {number(drawn.high / 1e3)} kW gross"
        apart = f"the other differs by {100 * drawn.departure:.0f} % of its half width"
        pairs.append(("by Monte Carlo", f"{span}; use this interval, {apart}"))
    return facts(pairs) + "\n\n" + _budget_table(budget)


def _of_two(found: InputMeasured) -> str:
    """The other rating, where the one of the command line is not that of the file."""
    named, file = found.comparison, found.file_comparison
    if named is None or file is None:
        return ""
    words = {
        id(named): f"--rating, {_rate(named)}",
        id(file): f"the file's {file.rating.words}, {_rate(file)}",
    }
    worst = found.worst
    other = named if worst is file else file
    return f" from {words[id(worst)]}; {percent(other.deviation)} from {words[id(other)]}"


def _rate(held: Comparison) -> str:
    from burnerlab.quantity import Kind, in_unit

    value = float(in_unit(held.rating.heat_input_W, Kind.POWER, held.rating.unit))
    return f"{value:.4g} {held.rating.unit} {held.rating.basis}"


def _budget_table(budget: Budget) -> str:
    rows = [
        (
            one.quantity.words,
            one.quantity.kind,
            f"{100 * one.relative:.2f}",
            f"{100 * one.share:.0f}",
        )
        for one in budget.contributions
        if one.share >= SHOWN_SHARE
    ]
    heads = ("where the uncertainty comes from", "type", "u, %", "share, %")
    return table(heads, rows, left=2)
