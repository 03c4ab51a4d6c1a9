"""Readings at the bench, each checked; those that no appliance gives are refused."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from burnerlab import tables
from burnerlab.bench.decision_rule import Comparison, bench_limit, rounded_power
from burnerlab.bench.uncertainty import Budget, MonteCarlo, Quantity, repeatability
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import output
from burnerlab.quantity.show import number
from burnerlab.tables.problem import Problem, UserError

# Readings that no appliance gives: refused, with the slip that would explain them.

NO_REPEAT = "one timing: take a second, how far timings differ is not evaluated (type B only, need n >= 2)"
ALIKE = 0.15  # natural logarithm: how near a known factor must be to be named; readings scatter by less


def likely_slip(ratio: float, method: str) -> str:
    """The slip whose factor is nearest to a measured over a rated heat input [-]; "" when none is near.

    method : meter or scale

    >>> likely_slip(30.0, "meter"), likely_slip(1.3, "meter")
    ('litres of the dial entered as cubic feet', '')
    """
    if not (ratio > 0.0 and math.isfinite(ratio)):
        return ""
    rows = [row for row in tables.rows("reading_slips") if row["method"] in (method, "any")]
    apart = [(abs(math.log(ratio / float(row["factor"]))), row["what"]) for row in rows]
    nearest, what = min(apart)
    return what if nearest <= ALIKE else ""


def timing_problems(times_s: Sequence[float], rates: Sequence[float], once: str) -> list[Problem]:
    """What is wrong with timings above 0: too short for a hand, or too far apart to be of one thing.

    times_s : as read [s]; rates : gas over time of each, in any unit; once : what one timing may hold twice
    """
    hand, apart = bench_limit("hand timing"), bench_limit("repeat ratio").high
    span = f"{hand.low:g} to {hand.high:g} s"
    problems = []
    for time in times_s:
        if time < hand.low:
            fix = f"write {time:g} min if minutes were read; else time more {once}"
            problems.append(
                Problem("too short to time by hand", f"{time:g} s", "time", accepted=span, fix=fix)
            )
        elif time > hand.high:
            problems.append(Problem("longer than any timing", f"{time:g} s", "time", accepted=span))
    ratio = max(rates) / min(rates) if len(rates) > 1 and not problems else 1.0
    if ratio > apart:
        whole = round(ratio)
        slip = f"one timing may hold {_times(whole)} the {once}" if abs(ratio - whole) < 0.1 * whole else ""
        what = f"repeats differ by a factor of {number(ratio, 2)}" + (f": {slip}" if slip else "")
        times = ", ".join(f"{time:g} s" for time in times_s)
        problems.append(Problem(what, times, "time", accepted=f"up to {apart:g}", fix="time each again"))
    return problems


def _times(count: int) -> str:
    return {2: "twice", 3: "three times"}.get(count, f"{count} times")


def repeats_of(values: Sequence[float], words: str, unit: str) -> Quantity:
    """The scatter of repeated readings; of a single one none, which ``NO_REPEAT`` says beside the budget.

    >>> repeats_of([120.0], "repeated timings", "s").words
    'repeated timings: one only'
    """
    if len(values) > 1:
        return repeatability(values, "repeats", words, unit)
    return Quantity(
        name="repeats", words=f"{words}: one only", estimate=0.0, standard_uncertainty=0.0, unit=unit
    )


def agreement_notes(values: Sequence[float], cause: str = "") -> tuple[str, ...]:
    """The note of repeats further apart than is usual, over their mean; cause : what may be behind it.

    >>> agreement_notes([1.0, 1.001])
    ()
    """
    usual = bench_limit("agreement").high
    spread = (max(values) - min(values)) / (math.fsum(values) / len(values))
    if spread <= usual:
        return ()
    return (f"repeats differ by {100 * spread:.1f} %: more than the usual {100 * usual:g} %{cause}",)


def refuse_impossible(linear: Budget, simulated: MonteCarlo | None, key: str) -> None:
    """Refuse a heat input that no appliance has, and one whose interval would include less than nothing.

    key : of the reading that is doubted. Raises UserError.
    """
    limit = bench_limit("heat input")
    if not limit.low <= linear.value <= limit.high:
        value = f"{number(linear.value / 1e3, 3)} kW"
        span = f"{limit.low:g} W to {limit.high / 1e3:g} kW"
        fix = "check the volume or mass and its unit, the time and the heating value"
        raise UserError(Problem("no appliance has this heat input", value, key, accepted=span, fix=fix))
    if linear.low > 0.0 and (simulated is None or simulated.low > 0.0):
        return
    worst = linear.contributions[0].quantity
    share = f"{100.0 * linear.relative_expanded:.0f} %"
    what = f"the uncertainty is as large as the reading ({share}), most of it from: {worst.words}"
    fix = "check the reading, and repeat it over a longer time"
    named = "other load" if worst.name == "other load" else key
    raise UserError(Problem(what, f"{number(linear.value / 1e3, 3)} kW", named, fix=fix))


def doubts(comparison: Comparison | None, method: str, key: str) -> tuple[str, ...]:
    """The likely slip behind a reading far from its rating. Raises UserError for one that nothing gives.

    key : of the reading that is doubted
    """
    if comparison is None:
        return ()
    ratio, possible = 1.0 + comparison.deviation, bench_limit("possible ratio")
    slip = likely_slip(ratio, method)
    if not possible.low <= ratio <= possible.high:
        unit = comparison.rating.unit
        measured, rated = (
            rounded_power(value, unit) for value in (comparison.value_W, comparison.rating.heat_input_W)
        )
        what = f"{ratio:.3g} times the rating of {rated}: no burner reads so"
        fix = (
            f"likely slip: {slip}"
            if slip
            else "check the volume or mass and its unit, the time and the rating"
        )
        raise UserError(Problem(what, measured, key, fix=fix))
    plausible = bench_limit("plausible_ratio")
    if plausible.low <= ratio <= plausible.high or not slip:
        return ()
    return (f"likely slip: {slip}",)


# What was read at the bench, one after another: heat inputs, pressures, the meter at rest.

Method = Literal["meter", "scale"]
READING_U = 0.02  # relative standard uncertainty of a reading where none is stated: an expanded one of 4 %
POSSIBLE_RATIO = (1e-3, 1e3)
MOST_READINGS = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterEntry:
    """What stood beside the timings of a meter: a cause speaks of it, and none says that it was left out."""

    revolutions: int | None = None  # None where their number is not known
    ambient_pressure_Pa: float | None = None  # of a barometer or an altitude; None where neither was entered
    has_pressure: bool = False  # the pressure of the gas in the meter, entered or of the project file
    has_temperature: bool = False  # the temperature of the gas in the meter was entered
    gauge_pressure_Pa: float = 0.0  # what the pressure of the gas in the meter was taken as


@dataclass(frozen=True, slots=True, kw_only=True)
class ManifoldRange:
    """The manifold pressure that a regulator in its place should hold with a burner on, gauge."""

    low_Pa: float
    high_Pa: float
    source: str
    no_band: str = ""  # why a plan has no band: then no pressure is within


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One reading at the bench, over what was expected; at least one of ratio, pressure and meter at rest."""

    ratio: float | None = field(default=None, metadata=output("measured over expected heat input"))
    relative_uncertainty: float = field(
        default=READING_U, metadata=output("standard uncertainty", Kind.FRACTION)
    )  # of the ratio
    pressure_ratio: float | None = field(
        default=None, metadata=output("manifold pressure over the expected one")
    )  # with these burners on
    pressure_uncertainty: float | None = field(
        default=None, metadata=output("standard uncertainty of the pressure", Kind.FRACTION)
    )  # relative; None takes that of a manometer
    burner: str | None = field(
        default=None, metadata=output("burner")
    )  # that was on; None: the burner of the question, or all
    is_low_rate: bool = field(default=False, metadata=output("low rate"))
    method: Method | None = field(default=None, metadata=output("method"))  # None: that of the question
    at_rest: Literal["", "still", "moves"] = field(
        default="", metadata=output("meter at rest")
    )  # with every burner off
    meter: MeterEntry | None = None  # of a heat input by meter, where its entry is known
    scale_digit_kg: float | None = None  # last digit of the scale, of a heat input by it; None: the usual
    limits: ManifoldRange | None = (
        None  # of the pressure, as of a test plan; None: what the regulator should hold
    )

    def check(self) -> None:
        """Refuse a ratio that no reading gives, and an uncertainty that is none."""
        low, high = POSSIBLE_RATIO
        problems = []
        for key, value in (
            ("measured over expected", self.ratio),
            ("manifold pressure over expected", self.pressure_ratio),
        ):
            if value is not None and not low <= value <= high:
                accepted = f"{low:g} to {high:g}"
                problems.append(Problem("cannot be: check the unit", f"{value:.3g}", key, accepted=accepted))
        for key, u in (
            ("uncertainty", self.relative_uncertainty),
            ("uncertainty of the pressure", self.pressure_uncertainty),
        ):
            if u is not None and not 0.0 < u <= 0.5:
                problems.append(Problem("must be above 0 and at most 50 %", f"{100 * u:g} %", key))
        if self.ratio is None and self.pressure_ratio is None and not self.at_rest:
            problems.append(Problem("nothing was read", key="reading", fix="give a heat input or a pressure"))
        if problems:
            raise UserError(problems)


def readings_of(readings: Reading | Sequence[Reading]) -> tuple[Reading, ...]:
    """One reading or several, each checked; every problem at once.

    >>> len(readings_of(Reading(ratio=0.9)))
    1
    """
    parts = (readings,) if isinstance(readings, Reading) else tuple(readings)
    if not 1 <= len(parts) <= MOST_READINGS:
        accepted = f"1 to {MOST_READINGS}"
        raise UserError(Problem("number of readings", str(len(parts)), "readings", accepted=accepted))
    problems: list[Problem] = []
    for reading in parts:
        try:
            reading.check()
        except UserError as error:
            problems += error.problems
    if problems:
        raise UserError(problems)
    return parts
