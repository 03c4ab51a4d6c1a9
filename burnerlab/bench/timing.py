"""How long to time a meter or a scale for an uncertainty that is wanted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from burnerlab.bench.uncertainty import Budget, coverage_factor
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import output
from burnerlab.tables.problem import Problem, UserError

TIMED = ("start and stop", "pointer", "repeats")  # contributions that a longer timing makes smaller


@dataclass(frozen=True, slots=True, kw_only=True)
class TimingPlan:
    """How long to time for an uncertainty that is wanted."""

    wanted: float = field(metadata=output("expanded uncertainty wanted", Kind.FRACTION))
    time_s: float | None = field(metadata=output("time", Kind.TIME))  # None: no timing is long enough
    revolutions: int | None = field(metadata=output("revolutions"))
    least: float = field(metadata=output("expanded uncertainty of an endless timing", Kind.FRACTION))
    dominated_by: str = field(metadata=output("largest part that time does not help"))


def timing_for(
    linear: Budget, time_s: float, revolutions: int, wanted: float, timed: Sequence[str] = TIMED
) -> TimingPlan:
    """How long to time for an expanded uncertainty: u(t)^2 = u_rest^2 + (u_time t0/t)^2.

    linear : budget of a timing of ``time_s`` [s] and so many ``revolutions`` [-]; wanted : expanded, of the value [-]
    timed : names of the contributions that fall with time
    Returns the time of whole revolutions, or None when the rest alone is more than wanted.
    Raises UserError for a wanted uncertainty that is not above 0.
    """
    if not 0.0 < wanted < 1.0:
        raise UserError(
            Problem("must be above 0 and below 1", f"{wanted:g}", "wanted", accepted="such as 2 %")
        )
    relative = [(one, one.contribution / abs(linear.value)) for one in linear.contributions]
    falls = math.sqrt(math.fsum(u * u for one, u in relative if one.quantity.name in timed))
    stays = math.sqrt(math.fsum(u * u for one, u in relative if one.quantity.name not in timed))
    k = float(coverage_factor(math.inf, linear.coverage))  # repeats will be enough when it is timed that long
    aim = wanted / k
    largest = max((one for one, _ in relative if one.quantity.name not in timed), key=lambda one: one.share)
    time, turns = None, None
    if aim > stays:
        exact = time_s * falls / math.sqrt(aim * aim - stays * stays)
        turns = max(1, math.ceil(exact / (time_s / revolutions) - 1e-9))
        time = turns * time_s / revolutions
    return TimingPlan(
        wanted=wanted,
        time_s=time,
        revolutions=turns,
        least=k * stays,
        dominated_by=largest.quantity.words,
    )
