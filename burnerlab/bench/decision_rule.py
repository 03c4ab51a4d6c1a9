"""A measured heat input against its rating: the band, the rule of decision, and the correction to the rating's gas."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.appliance.conversion.result import verdict_of
from burnerlab.appliance.project.model import Tolerance
from burnerlab.quantity import Basis, Kind, in_unit
from burnerlab.quantity.outputs import output
from burnerlab.quantity.show import number
from burnerlab.tables import cite
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.verdict import Verdict

Array = NDArray[np.float64]


STOPPED = "not evaluated: STOP"
NOT_SHOWN = "the interval reaches beyond the band: the true value may be outside it"
"""Of a value in the band whose uncertainty is not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionRule:
    """How the uncertainty enters a verdict."""

    name: str = field(metadata=output("rule"))
    title: str = field(metadata=output("title"))
    guard: float = field(metadata=output("guard over the expanded uncertainty"))  # the band is narrowed by it
    source: str = field(metadata=output("source"))


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchLimit:
    """Between what a reading raises no doubt."""

    low: float
    high: float
    what: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Rating:
    """What the plate says, the band around it and the rule of decision."""

    heat_input_W: float = field(metadata=output("rated heat input", Kind.POWER))  # on its basis
    basis: Basis = field(metadata=output("basis"))
    tolerance: Tolerance = field(metadata=output("band"))
    rule: DecisionRule = field(metadata=output("rule of decision"))
    unit: str = "kBtu/h"  # in which sentences print it
    words: str = field(default="rating", metadata=output("what it is"))  # the rating, or the low rate


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A heat input held against its rating."""

    rating: Rating = field(metadata=output("rating"))
    value_W: float = field(
        metadata=output("heat input on the basis of the rating", Kind.POWER)
    )  # and corrected
    expanded_W: float = field(metadata=output("expanded uncertainty", Kind.POWER))
    deviation: float = field(metadata=output("deviation", Kind.FRACTION, is_change=True))
    low_W: float = field(metadata=output("band from", Kind.POWER))
    high_W: float = field(metadata=output("band to", Kind.POWER))
    accept_low_W: float = field(metadata=output("band after the guard from", Kind.POWER))
    accept_high_W: float = field(metadata=output("band after the guard to", Kind.POWER))
    probability_inside: float = field(metadata=output("probability inside", Kind.FRACTION))  # of the value
    verdict: Verdict = field(metadata=output("verdict"))
    text: str = field(metadata=output("against the rating"))
    notes: tuple[str, ...]

    def withheld(self, text: str = STOPPED) -> Comparison:
        """The figures without a verdict, with the reason: while a stop is open nothing is within a band."""
        return replace(self, verdict=Verdict.NOT_EVALUATED, probability_inside=math.nan, text=text)

    def until_barometer(self, sea_level_ratio: float | None) -> Comparison:
        """Without a verdict where this reading would be overfire at a bench at sea level, and not where it was taken.

        sea_level_ratio : heat input of the reading at sea level over that at the place of the file [-];
        None where the barometer was read or the file's place lies no higher
        """
        if sea_level_ratio is None or self.verdict is Verdict.NOT_EVALUATED:
            return self
        most, there = bench_limit("overfire").high, 1.0 + self.deviation
        if there > most or there * sea_level_ratio <= most:
            return self
        at_sea_level = 100.0 * (there * sea_level_ratio - 1.0)
        return self.withheld(
            f"not evaluated: read the barometer first. {100.0 * self.deviation:+.1f} % from the {self.rating.words} "
            f"at the place in the project file; at a bench at sea level {at_sea_level:+.1f} %, which is overfire"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """From the gas and pressure of the test to those of the rating."""

    factor: float = field(metadata=output("factor"))
    wobbe_ratio: float = field(metadata=output("Wobbe index of rating over test"))
    pressure_ratio: float = field(metadata=output("pressure of rating over test"))
    relative_uncertainty: float = field(
        metadata=output("standard uncertainty", Kind.FRACTION)
    )  # of the pressure alone
    words: str = field(metadata=output("how"))


def bench_limit(name: str, own: Path | None = None) -> BenchLimit:
    """A row of the table ``bench_limits``; ``own`` is a CSV of the same columns.

    >>> bench_limit("timing").low
    60.0
    """
    return _bench_limits(own)[name]


@tables.cache_by_file
def _bench_limits(own: Path | None) -> dict[str, BenchLimit]:
    return {
        row["name"]: BenchLimit(
            low=float(row["low"]),
            high=float(row["high"]),
            what=row["what"],
            source=f"{cite(row['source'])} ({row['provenance']})",
        )
        for row in tables.read("bench_limits", own)
    }


def decision_rule(name: str = "simple", own: Path | None = None) -> DecisionRule:
    """A rule of the table ``decision_rules``. Raises UserError with the names there are.

    >>> decision_rule("guard").guard
    1.0
    """
    found = {row["name"]: row for row in tables.read("decision_rules", own)}
    if name not in found:
        raise UserError(Problem("no rule of that name", name, "rule", accepted=", ".join(found)))
    row = found[name]
    recalled = ", recalled" if row["provenance"] == "memory" else ""
    return DecisionRule(
        name=name,
        title=row["title"],
        guard=float(row["guard"]),
        source=f"{cite(row['source'])}, {row['place']}{recalled}",
    )


def correction_factor(wobbe_ratio: ArrayLike, pressure_ratio: ArrayLike) -> Array:
    """Heat input at the rating over that of the test: (W_r/W_t) sqrt(p_r/p_t) [-].

    wobbe_ratio : Wobbe index of the rating's gas over that of the test gas, same basis and state [-]
    pressure_ratio : gauge pressure of the rating over that of the test [-]
    Range: pressures low enough that the gas does not expand much, to about 15 kPa.
    Raises UserError unless both are above zero. Source: equal orifice, incompressible flow.

    >>> float(correction_factor(1.0, 4.0))
    2.0
    """
    wobbe, pressure = np.asarray(wobbe_ratio, dtype=float), np.asarray(pressure_ratio, dtype=float)
    if not (np.all(wobbe > 0.0) and np.all(pressure > 0.0)):
        raise UserError(Problem("Wobbe index and pressure must be above 0", key="correction"))
    factor: Array = wobbe * np.sqrt(pressure)
    return factor


def normal_share(low: ArrayLike, high: ArrayLike, mean: ArrayLike, deviation: ArrayLike) -> Array:
    """Share of a normal distribution between two limits [-].

    >>> float(normal_share(-1.96, 1.96, 0.0, 1.0))
    0.95
    """
    from scipy.special import ndtr

    u = np.maximum(np.asarray(deviation, dtype=float), 1e-300)
    share: Array = ndtr((high - np.asarray(mean)) / u) - ndtr((low - np.asarray(mean)) / u)
    return share


def compare(
    value_W: float, standard_W: float, expanded_W: float, rating: Rating, words: str = ""
) -> Comparison:
    """A heat input with its uncertainty against the rating, by the four words.

    value_W : on the rating's basis [W]; standard_W, expanded_W : its uncertainty [W]; words : what was read wrong
    when the ratio is not to be believed
    Outside: the value lies beyond the band. Simple acceptance: within, or near in the last fifth of the band. Guard
    band: within the band narrowed by the guard, near between the two, not evaluated when nothing of the band is left.
    """
    band = rating.tolerance
    low, high = rating.heat_input_W * (1.0 + band.low), rating.heat_input_W * (1.0 + band.high)
    guard_W = rating.rule.guard * expanded_W
    accept_low, accept_high = low + guard_W, high - guard_W
    deviation = value_W / rating.heat_input_W - 1.0
    verdict = _verdict(deviation, (value_W, accept_low, accept_high), band, rating.rule)
    inside = float(normal_share(low, high, value_W, standard_W))
    return Comparison(
        rating=rating,
        value_W=value_W,
        expanded_W=expanded_W,
        deviation=deviation,
        low_W=low,
        high_W=high,
        accept_low_W=accept_low,
        accept_high_W=accept_high,
        probability_inside=inside,
        verdict=verdict,
        text=_text(deviation, expanded_W / rating.heat_input_W, rating, verdict),
        notes=_notes(value_W, expanded_W, (low, high), rating, words),
    )


def _verdict(
    deviation: float, accepted: tuple[float, float, float], band: Tolerance, rule: DecisionRule
) -> Verdict:
    value, low, high = accepted
    if not band.low <= deviation <= band.high:
        return Verdict.OUTSIDE
    if not rule.guard:
        return verdict_of(deviation, band.low, band.high)
    if not low < high:
        return Verdict.NOT_EVALUATED
    return Verdict.WITHIN if low <= value <= high else Verdict.NEAR


def _text(deviation: float, expanded: float, rating: Rating, verdict: Verdict) -> str:
    """Place of the figure, and of its interval where that crosses an end of the band; the rule stands last."""
    band, rule = rating.tolerance, rating.rule
    if verdict == Verdict.NOT_EVALUATED:
        return "the uncertainty leaves nothing of the band: measure longer or with less uncertainty"
    span = f"{100 * band.low:+g} to {100 * band.high:+g} %"
    place = "near the end of" if verdict == Verdict.NEAR else verdict
    first = f"{100 * deviation:+.1f} % from the {rating.words}"
    if any(deviation - expanded < end < deviation + expanded for end in (band.low, band.high)):
        return (
            f"{first}: the figure alone {place} the band of {span}; its interval of {100 * expanded:.1f} % of the "
            f"{rating.words} to either side crosses the band's end. Rule of decision: {rule.title}"
        )
    return f"{first}: {place} the band of {span}, by {rule.title}"


def _notes(
    value_W: float, expanded_W: float, band_W: tuple[float, float], rating: Rating, words: str
) -> tuple[str, ...]:
    low, high = band_W
    notes = []
    doubtful = implausible(value_W, rating.heat_input_W, words, rating.unit)
    if doubtful:
        notes.append(doubtful)
    reaches_out = value_W - expanded_W < low or value_W + expanded_W > high
    reaches_in = value_W + expanded_W >= low and value_W - expanded_W <= high
    is_inside = low <= value_W <= high
    if is_inside and reaches_out:
        notes.append(NOT_SHOWN)
    if not is_inside and reaches_in:
        notes.append("the coverage interval reaches into the band: being outside is not shown")
    return tuple(notes)


READING_HIGH = "Reading high. Turn the burner off and find the cause."
LOW_ON_ITS_GAS = "Reading low, by the label on its own gas. Burner off until the cause is found."
READING_LOW = "Reading low. Burner off. It can hide the wrong gas: read the supply label."


def act_first(deviation: float, band: Tolerance) -> str:
    """What to do first with a heat input outside its band; "" for one in it.

    deviation : from the rating [-]

    >>> band = Tolerance(low=-0.05, high=0.05, source="")
    >>> [act_first(deviation, band) for deviation in (0.078, -0.078, 0.05)]
    ['Reading high. Turn the burner off and find the cause.', 'Reading low. Burner off. It can hide the wrong gas: \
read the supply label.', '']
    """
    if deviation > band.high:
        return READING_HIGH
    return READING_LOW if deviation < band.low else ""


METER_SLIPS = "check the volume of one revolution and the heating value"


def rounded_power(power_W: float, unit: str) -> str:
    """A heat input to three digits in this unit, for a sentence.

    >>> rounded_power(13188.0, "kBtu/h"), rounded_power(52753.0, "Btu/h")
    ('45.0 kBtu/h', '180 000 Btu/h')
    """
    return f"{number(float(f'{in_unit(power_W, Kind.POWER, unit):.3g}'), 3)} {unit}"


def implausible(measured_W: float, rated_W: float, words: str = "", unit: str = "kBtu/h") -> str:
    """The sentence for a reading that a slip explains sooner than a burner; "" for any other.

    measured_W, rated_W : on one basis [W]; words : what to check; unit : of the figures printed

    >>> implausible(52753.0, 13188.0)
    'measured 180 kBtu/h against a rating of 45.0 kBtu/h: check the volume of one revolution and the heating value'
    """
    plausible = bench_limit("plausible_ratio")
    ratio = measured_W / rated_W
    if plausible.low <= ratio <= plausible.high or not math.isfinite(ratio):
        return ""
    measured, rated = (rounded_power(value, unit) for value in (measured_W, rated_W))
    return f"measured {measured} against a rating of {rated}: {words or METER_SLIPS}"
