"""Which cause explains readings that are off, and what stops the test.

A notice rests on the probability of what would be burning, never on the rank of a cause: a low reading may come from
a burner that fires at twice its rating.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.appliance.project.model import Appliance, Tolerance
from burnerlab.bench.decision_rule import act_first, bench_limit, decision_rule
from burnerlab.bench.faults.causes import LOW_STOP, groups
from burnerlab.bench.faults.next_measurement import (
    LITTLE,
    RELEASE,
    SLIPS,
    NextMeasurement,
    doubt_of,
    least_minutes,
    measurements,
    offered,
    outcomes_of,
    ranked,
    settled_by,
    settling_measurements,
    without_gas,
)
from burnerlab.bench.faults.scenarios import (
    NONE,
    Hypotheses,
    by_cause,
    fit_of,
    hypotheses,
    member_of_groups,
    normalised,
    posterior,
)
from burnerlab.bench.reading.manifold import (
    CalculatedInput,
    ManifoldCheck,
    calculated_input,
    limits_turned_low,
    manifold_check,
    pressure_stops,
)
from burnerlab.bench.reading.readings import Method, Reading, readings_of
from burnerlab.bench.stop import (
    BELOW,
    CALCULATED,
    LOW_RATE,
    RATED,
    StopNotice,
    consistent_stops,
    misread,
    pressure_words,
    share_words,
    stop_notice,
    worst_first,
)
from burnerlab.bench.unit import FiringState, SubstituteSupply, rating_of, unit_under_test
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables.cautions import Signal
from burnerlab.tables.handbook_link import handbook_of

# What a reading may hide: another gas, a burner above its rating, a pressure above its range, as notices to
# stop.

Array = NDArray[np.float64]
BY_PRESSURE = (
    "not ruled out while the manifold pressure is above its range: a valve half open or a turn missed makes a heat "
    "input look low"
)
NEAR_READING = 0.9  # of a reading, what a cause that explains it gives at least
AS_DRAWN, NO_FAULT = "as it should be", "none"  # rows of the tables of causes and of their groups


@dataclass(frozen=True, slots=True, kw_only=True)
class Danger:
    """What may be burning, after the readings."""

    other_gas: float  # probability that another gas than that of the file flows [-]
    sound: float  # that the unit is as drawn [-]
    overfire: float  # probability that a burner burns beyond its ``overfire_limit_W`` [-]
    highest_reading: float | None  # largest at full over calculated, or beyond a low rate's own limit [-]
    reads_above: bool  # whether it is above its limit, see ``calculated_input``
    highest_W: float  # of that reading, gross, beside its rating and calculated input; 0 where there is none
    rated_W: float
    calculated_W: float
    calculated: str  # what the latter is
    burner: str  # that was on then, "" for all
    read: str  # the reading it rests on, in words
    moves: bool = False  # the meter moves with every burner off
    together: bool = True  # whether any listed cause explains all readings together
    is_piped: bool = False  # whether that gas is one of the mains, and what was read a weighed cylinder
    is_low: bool = False  # whether that reading is of the low rate, and what it is held against
    in_bands: bool = False  # whether every heat input is in the band of its rating, and none above its limit

    @property
    def stops_gas(self) -> bool:
        """Whether another gas is likely enough to stop the test, and likelier than a unit as drawn.

        A weighed cylinder holds no gas of the mains but a test gas: beside an overfire that one stops where it is
        suspected.
        """
        is_suspected = self.other_gas > bench_limit("suspected gas").high
        is_hardly = self.is_piped and self.reads_above and not is_suspected
        return bool(gas_stops(self.other_gas, self.sound)) and not is_hardly

    @property
    def stops_overfire(self) -> bool:
        """Whether a burner may well be above its rating, by the reading or by a fault that it would not show.

        Not by a probability alone where every figure is in its printed band: see ``stops_of``.
        """
        return self.reads_above or bool(self.overfire > bench_limit("stop_overfire").high)


def gas_stops(other_gas: ArrayLike, sound: ArrayLike) -> Any:
    """Whether these probabilities of another gas and of a unit as drawn stop a test; one case or many.

    The limit ``stop_wrong_gas`` is far below one in twenty, since what is missed burns at up to twice its rating: of
    24 000 readings of simulated units on another gas, six seeds of the study, 66 are below 2 %, the least likely at
    0.21 % of a unit that burns at 2.0 of its rating. No unit as drawn is above it. Above the limit
    ``suspected gas`` the notice holds the bench, up to it the gas is ``not ruled out`` and the unit alone held.

    >>> [bool(gas_stops(share, 0.0)) for share in (0.0009, 0.0011)], bool(gas_stops(0.3, 0.6))
    ([False, True], False)
    """
    return np.greater(other_gas, bench_limit("stop_wrong_gas").high) & np.greater(other_gas, sound)


def danger_of(h: Hypotheses, weights: Array, readings: Sequence[Reading], fit: float = 1.0) -> Danger:
    """Probabilities of what stops a test; weights of the possibilities add up to one, fit as of ``fit_of``."""
    w = h.scenarios
    read = _heats(h, readings)
    at_low = bench_limit("overfire at low").high
    heats = [one for one in read if not one.firing.low or one.over > at_low]
    highest = max(heats, key=lambda heat: (heat.is_above, heat.over), default=None)
    is_above = highest is not None and highest.is_above
    heat_W = highest.value_W if highest is not None and is_above else read[0].value_W if read else None
    pressures = [
        one.pressure_ratio * firing.expected.manifold_Pa
        for one, firing in zip(readings, h.unit.firings, strict=True)
        if one.pressure_ratio is not None
    ]
    nominal = h.unit.conditions.gauge_pressure_Pa
    words = (
        h.unit.power_words(heat_W) if heat_W is not None else pressure_words(max(pressures, default=nominal))
    )
    return Danger(
        other_gas=float(weights[w.other_gas > 1.0].sum()),
        sound=float(weights[h.is_sound].sum()),
        overfire=float(weights[h.overfires].sum()),
        highest_reading=None if highest is None else highest.over,
        reads_above=is_above,
        highest_W=0.0 if highest is None else highest.value_W,
        rated_W=0.0 if highest is None else highest.rated_W,
        calculated_W=0.0 if highest is None else highest.calculated.value_W,
        calculated="" if highest is None else highest.calculated.words,
        burner="" if highest is None else highest.firing.burner,
        read=words,
        moves=any(one.at_rest == "moves" for one in readings),
        together=not fit < bench_limit("readings together").low,
        is_piped=_is_piped(h, weights),
        is_low=highest is not None and highest.firing.low,
        in_bands=all(one.is_in_band(h.unit.appliance) for one in read),
    )


class _Heat(NamedTuple):
    """A heat input that was read, gross, and what the file calculates for it."""

    value_W: float
    firing: FiringState
    calculated: CalculatedInput
    rated_W: float

    @property
    def over(self) -> float:
        return self.value_W / self.calculated.value_W

    @property
    def is_above(self) -> bool:
        """Whether it is above its limit: of what the file calculates, and at full of the rating."""
        over_rated = bench_limit("overfire").high * self.rated_W
        return self.value_W > self.calculated.most_W or (not self.firing.low and self.value_W > over_rated)

    def is_in_band(self, appliance: Appliance) -> bool:
        """Whether it is in the band of the rating and not above its limit; a low rate has no say in this."""
        band = appliance.limits.tolerance
        is_in_band = band.low <= self.value_W / self.rated_W - 1.0 <= band.high
        return is_in_band and not self.is_above and not self.firing.low


def _is_piped(h: Hypotheses, weights: Array) -> bool:
    """Whether the likeliest other gas is one of the mains, where a cylinder was weighed."""
    others = h.scenarios.other_gas > 1.0
    return bool(others.any()) and h.variants[int(h.variant_of[_likeliest_gas(h, weights)[0]])].chance < 1.0


def _heats(h: Hypotheses, readings: Sequence[Reading]) -> list[_Heat]:
    heats = []
    for one, firing in zip(readings, h.unit.firings, strict=True):
        if one.ratio is None:
            continue
        share = one.pressure_ratio
        read_Pa = None if share is None else share * firing.expected.manifold_Pa
        burner = firing.burner or None
        calculated = calculated_input(h.unit.appliance, burner, read_Pa, one.limits, low=firing.low)
        heats.append(_Heat(one.ratio * firing.expected_W, firing, calculated, _rated_W(h, firing)))
    return heats


def _rated_W(h: Hypotheses, firing: FiringState) -> float:
    """Rated heat input of what was on in a reading, gross, at its rate."""
    return float(firing.weights * np.sum(h.unit.expected_W) / h.unit.expected_W @ h.unit.rated_gross_W)


STANDS_OUT = 0.25  # probability of a cause that the stop of a pressure names; 1 in 4, chosen here


def stops_of(
    h: Hypotheses, weights: Array, danger: Danger, checks: Sequence[ManifoldCheck]
) -> tuple[StopNotice, ...]:
    """The notices that readings raise, worst first: what was read or is likely before what is only not ruled out.

    A manifold pressure above its range leaves the other gas open whatever the meter shows: a valve half open or a turn
    missed makes its heat input look low. A reading with every figure in its printed band raises no overfire by its
    probability, and no other gas where the manifold pressure was read too: what it may hide is a warning of the
    explanation. Without that pressure propane at its own shows the meter a right flow.
    """
    stops = [*_leak(h, weights, danger)]
    if danger.moves:
        why = "the meter moves with every burner off: treat it as a leak until another load explains it"
        stops.append(stop_notice("odour", why=why))
    above_range = any(check.above_range for check in checks)
    of_pressure = [
        stop if stop.why else replace(stop, why=_cause_of_pressure(h, weights))
        for check in checks
        for stop in pressure_stops(check)
    ]
    is_in_bands = danger.in_bands and not of_pressure
    stops_gas = danger.stops_gas and not (is_in_bands and checks)
    if stops_gas or (above_range and bool((h.scenarios.other_gas > 1.0).any())):
        stops.append(_other_gas(h, weights, danger))
    if danger.stops_overfire and not is_in_bands:
        stops.append(_overfire(h, weights, danger))
    stops += of_pressure
    return consistent_stops(worst_first(stops))


def _likeliest(h: Hypotheses, weights: Array, among: NDArray[np.bool_]) -> int:
    places = np.flatnonzero(among)
    return int(places[np.argmax(weights[places])])


def _likeliest_cause(h: Hypotheses, weights: Array) -> tuple[int, float]:
    """The likeliest possibility of the likeliest cause that is a fault, and the probability of that cause."""
    shares = np.bincount(h.cause_of, weights=np.where(h.is_sound, 0.0, weights))
    cause = int(np.argmax(shares))
    return _likeliest(h, weights, h.cause_of == cause), float(shares[cause])


def _cause_of_pressure(h: Hypotheses, weights: Array) -> str:
    """The likeliest fault behind a pressure outside its band, with its probability; "" where none stands out."""
    cause, share = _likeliest_cause(h, weights)
    return f"likeliest, probability {share_words(share)}: {h.words_of(cause)}" if share >= STANDS_OUT else ""


def _likeliest_gas(h: Hypotheses, weights: Array) -> tuple[int, float]:
    """The likeliest possibility of the likeliest cause with another gas, and the probability of that cause."""
    is_other = h.scenarios.other_gas > 1.0
    shares = np.bincount(h.cause_of, weights=np.where(is_other, weights, 0.0))
    cause = int(np.argmax(np.where(np.bincount(h.cause_of, weights=is_other) > 0, shares, -1.0)))
    return _likeliest(h, weights, is_other & (h.cause_of == cause)), float(shares[cause])


def _gas_words(h: Hypotheses, place: int, share: float, danger: Danger) -> str:
    """That cause with its own probability, and with that of another gas in any way where that is more."""
    words, whole = share_words(share), share_words(danger.other_gas)
    every = "" if words == whole else f" ({whole} of another gas in any way)"
    return f"{h.words_of(place)}, probability {words}{every}"


def _other_gas(h: Hypotheses, weights: Array, danger: Danger) -> StopNotice:
    likeliest, of_cause = _likeliest_gas(h, weights)
    true_W = float(h.scenarios.burner_flow[likeliest] @ h.unit.expected_W)
    over = true_W / float(np.sum(h.unit.rated_gross_W)) - 1.0
    why = f"{h.words_of(likeliest)}, {BY_PRESSURE}"
    if danger.stops_gas:
        why = _gas_words(h, likeliest, of_cause, danger)
    likelier, share = _likeliest_cause(h, weights)
    if likelier != likeliest and share > danger.other_gas:
        why += f"; likelier, probability {share_words(share)}: {h.words_of(likelier)}"
    return stop_notice(
        "wrong-gas" if danger.other_gas > bench_limit("suspected gas").high else "gas-not-ruled-out",
        gas=h.variants[int(h.variant_of[likeliest])].gas,
        read=danger.read,
        burner=h.unit.burners[0].name if len(h.unit.burners) == 1 else "all burners together",
        true=h.unit.power_words(true_W),
        percent=f"{100 * abs(over):.0f} % {'above' if over >= 0.0 else BELOW}",
        why=why,
    )


def _overfire(h: Hypotheses, weights: Array, danger: Danger) -> StopNotice:
    w = h.scenarios
    likeliest = _likeliest(h, weights, h.overfires if h.overfires.any() else w.hottest > 1.0)
    heat_W = w.burner_flow[likeliest] * h.unit.expected_W
    place = int(np.argmax(heat_W / h.unit.overfire_limit_W))
    true_W = float(heat_W[place])
    rated_W, expected_W = float(h.unit.rated_gross_W[place]), float(h.unit.alone_W[place])
    against, over = _above(true_W, rated_W, expected_W, CALCULATED)
    burner = f"{h.unit.burners[place].name}, rated {h.unit.power_words(rated_W)},"
    true_words, cause = h.unit.power_words(true_W), h.words_of(likeliest)
    true = f"; {burner} would fire at {true_words} if the cause is: {cause}"
    if danger.stops_gas and not w.other_gas[likeliest] > 1.0:  # beside the stop of that gas: why both stand
        true = f"; if the label names the gas of the unit, {burner} would fire at {true_words}, the cause then: {cause}"
    why = f"probability {share_words(danger.overfire)} that a burner is over its rated heat input"
    if not danger.together:
        why += ", among the causes of the list, none of which fits these readings well"
    if danger.reads_above:
        rated = LOW_RATE if danger.is_low else RATED
        read_against, read = _above(
            danger.highest_W, danger.rated_W, danger.calculated_W, danger.calculated, rated
        )
        why = f"the reading is {100 * read:.0f} % above {read_against}"
        if read <= over:
            why += f", the likeliest cause that overfires a burner {100 * over:.0f} % above {against}"
        if read > over:  # the reading itself is the worst that is known
            against, over, true = read_against, read, ""
        elif danger.burner:  # of one burner the figure that was read stands first, a guess behind it
            against, over = read_against, read
        share = float(weights[h.cause_of == h.cause_of[likeliest]].sum())
        if share > bench_limit("none_fits").high:
            why += f"; probability {share_words(share)} of one cause: {cause}"
        likelier, of_cause = _likeliest_cause(h, weights)
        if h.causes[int(h.cause_of[likelier])].name == LOW_STOP and of_cause > share:
            why += f"; likelier, probability {share_words(of_cause)}: {h.words_of(likelier)}"
        if not (share > bench_limit("none_fits").high and true_W > NEAR_READING * danger.highest_W):
            true = misread(1.0 + read) or true  # what a cause explains is no slip
    return stop_notice(
        "overfire",
        percent=f"{100 * over:.0f} %",
        against=against,
        read=danger.read if against in (RATED, LOW_RATE) or not danger.rated_W else _with_rating(h, danger),
        true=true,
        why=why,
    )


def _with_rating(h: Hypotheses, danger: Danger) -> str:
    """The reading beside the rating of the plate, or the low rate of the file, where it is held against another."""
    power_words = h.unit.power_words(danger.rated_W)
    return (
        f"{danger.read}, {LOW_RATE} {power_words}"
        if danger.is_low
        else f"{danger.read}, the rating {power_words}"
    )


def _leak(h: Hypotheses, weights: Array, danger: Danger) -> tuple[StopNotice, ...]:
    """The stop of a reading above its limit where gas may be lost or burn elsewhere; none where that is not likely."""
    shares = np.asarray(weights @ member_of_groups(h)[:, : len(h.groups)], dtype=float)
    lost = float(shares[list(h.groups).index("leak")]) if "leak" in h.groups else 0.0
    least = bench_limit("leak among the likeliest").high * float(shares.max())
    if not danger.reads_above or not lost > least:
        return ()
    metered = "meter" in h.unit.methods
    notice = stop_notice(
        "leak-suspected",
        what="Leak or another load" if metered else "Leak",
        share=f"probability {share_words(lost)}",
        where="a leak downstream of the meter, or another load" if metered else "a leak",
        by_meter=", by the meter as well, which must stand still with every burner off" if metered else "",
        why=f"a leak{' or another load' if metered else ''} is among the likeliest causes of a reading this high",
    )
    return (notice,)


def _above(
    value_W: float, rated_W: float, expected_W: float, expected: str, rated: str = RATED
) -> tuple[str, float]:
    """What a heat input is held against, the smaller of rated and calculated, and how far above."""
    nearest = min((rated, rated_W), (expected, expected_W), key=lambda reference: reference[1])
    return nearest[0], value_W / nearest[1] - 1.0


def danger_first(
    probability: ArrayLike, danger: ArrayLike, *, likeliest_first: bool = True
) -> NDArray[np.int64]:
    """Places by falling probability, those that endanger before the rest of the list but not before its first.

    probability : along the last axis [..., cause]; danger : the part of it that endangers [..., cause]
    likeliest_first : False where what endangers goes before even that one
    What endangers is moved up when that part is above the limit ``said_first``.

    >>> danger_first([0.5, 0.3, 0.15, 0.05], [0.0, 0.0, 0.0, 0.05]).tolist()
    [0, 3, 1, 2]
    """
    p = np.asarray(probability, dtype=float)
    raised = np.asarray(danger) > bench_limit("said_first").high
    likeliest = p == p.max(axis=-1, keepdims=True)
    places: NDArray[np.int64] = np.argsort(
        -(p + np.where(raised, 1.0, 0.0) + np.where(likeliest & likeliest_first, 4.0, 0.0)), axis=-1
    )
    return places


# Which cause explains readings that are off: Bayes' rule, what stops the test, and the measurement to take
# next.


@dataclass(frozen=True, slots=True, kw_only=True)
class RankedCause:
    """One cause and how well it explains the readings."""

    cause: str = field(metadata=output("cause"))
    title: str = field(metadata=output("title"))
    group: str = field(metadata=output("group"))  # of causes that ask for one action
    words: str = field(metadata=output("if so"))  # the likeliest way in which it shows itself
    predicted_ratio: float = field(metadata=output("would read"))  # there: first reading over expected [-]
    predicted_low_ratio: float = field(metadata=output("would read from"))  # over all its ways
    predicted_high_ratio: float = field(metadata=output("would read to"))
    predicted_gross_W: float = field(metadata=output("would read", Kind.POWER, basis="gross"))
    prior: float = field(metadata=output("prior", Kind.FRACTION))
    probability: float = field(metadata=output("probability", Kind.FRACTION))  # after the readings
    danger: bool = field(metadata=output("danger"))  # whether it is said among the first
    overfire: bool = field(
        metadata=output("overfire")
    )  # whether it can drive a burner beyond what is expected
    hottest_burner_ratio: float = field(
        metadata=output("hottest burner")
    )  # its heat input over its expected one, in that way [-]
    true_input_ratio: float = field(
        metadata=output("true input")
    )  # what all burners under test really burn there, over expected [-]
    next_measurement: str = field(
        metadata=output("decided by")
    )  # that would best confirm or rule out this cause
    after_release: str = field(
        metadata=output("after a release")
    )  # while a stop is open: where only one with gas does, after a qualified person's release
    source: str = field(metadata=output("source"))

    @property
    @computed_output("explained in the handbook")
    def handbook(self) -> str:
        """Page and heading of the handbook that explain the cause."""
        return handbook_of(self.cause, "cause")


@dataclass(frozen=True, slots=True, kw_only=True)
class RankedGroup:
    """Causes that ask for one action, together."""

    group: str = field(metadata=output("group"))
    title: str = field(metadata=output("look at"))
    action: str = field(metadata=output("what to do"))
    probability: float = field(metadata=output("probability", Kind.FRACTION))


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """Causes of readings, the likeliest first and what endangers next, what stops the test, what to measure next."""

    appliance: str = field(metadata=output("appliance"))
    burner: str = field(metadata=output("burner"))  # of the first reading, "" for all burners together
    method: Method = field(metadata=output("method"))  # of the first reading
    stops: tuple[StopNotice, ...] = field(
        metadata=output("stops")
    )  # worst first; while one is open nothing is measured with gas
    act_first: str = field(metadata=output("act first"))  # of a reading outside its band; "" for none
    overfire_warning: str = field(
        metadata=output("may be above its rating")
    )  # what no stop says yet: a burner above its rating, and how that is found; "" for none
    readings: tuple[Reading, ...] = field(metadata=output("readings"))
    expected_gross_W: float = field(
        metadata=output("expected heat input", Kind.POWER, basis="gross")
    )  # of the first reading
    expected_from: str = field(metadata=output("expected from"))  # at which pressure, and where it comes from
    expected_each_gross_W: tuple[float, ...] = field(
        metadata=output("expected of each reading", Kind.POWER, basis="gross")
    )
    fit_probability: float = field(
        metadata=output("fit", Kind.FRACTION)
    )  # of readings at least as far from the cause that fits them best
    scatter: float = field(
        metadata=output("scatter", Kind.FRACTION)
    )  # relative standard deviation of first reading and unit together
    causes: tuple[RankedCause, ...] = field(metadata=output("causes"))
    groups: tuple[RankedGroup, ...] = field(metadata=output("groups"))
    measurements: tuple[NextMeasurement, ...] = field(
        metadata=output("measurements")
    )  # in the order to take them
    after_release: tuple[NextMeasurement, ...] = field(
        metadata=output("after a release")
    )  # while a stop is open: what may follow a qualified person's release
    uncertain_bit: float = field(
        metadata=output("doubt", unit="bit")
    )  # entropy of what the next measurement is to settle
    fits: bool = field(metadata=output("a cause fits"))  # whether one of the list explains the readings
    overfire_probability: float = field(
        metadata=output("overfire", Kind.FRACTION)
    )  # of the possibilities in which a burner burns more than a tenth above its own
    other_gas_probability: float = field(
        metadata=output("another gas", Kind.FRACTION)
    )  # of those in which another gas flows
    manifold: ManifoldCheck | None = field(metadata=output("manifold pressure"))
    notes: tuple[str, ...] = field(metadata=output("notes"))

    @property
    def reading(self) -> Reading:
        """The first of them."""
        return self.readings[0]

    @property
    @computed_output("burners under test")
    def burners(self) -> tuple[str, ...]:
        """Every burner that was read, in the order of the readings."""
        read = [one for one in self.readings if one.ratio is not None or one.pressure_ratio is not None]
        names = [one.burner if one.burner is not None else self.burner for one in read or self.readings]
        return tuple(dict.fromkeys(name or "all burners together" for name in names))

    @property
    @computed_output("cause")
    def finding(self) -> str:
        """The likeliest cause in a sentence, or why there is none."""
        first = self.causes[0]
        if not self.readings_fit_together:
            return (
                "these readings do not fit together: no cause of the list explains them all (so far apart in "
                f"{share_words(self.fit_probability)} of sets at most)"
            )
        if not self.fits:
            return "none of these fits: read again from the start"
        return f"{first.title} ({first.words}): {whole_percent(first.probability)}"

    @property
    @computed_output("readings fit together")
    def readings_fit_together(self) -> bool:
        """Whether several readings fit any one cause of the list."""
        return not self.fit_probability < bench_limit("readings together").low

    @property
    @computed_output("stop")
    def stop(self) -> StopNotice | None:
        """The worst of the notices to stop; None when there is none."""
        return self.stops[0] if self.stops else None

    @property
    def may_be_other_gas(self) -> bool:
        """Whether a reading that stops nothing leaves another gas likely enough to be looked for first."""
        return not self.stops and self.other_gas_probability > bench_limit("suspected gas").high

    @property
    def warnings_first(self) -> tuple[str, ...]:
        """What is said before all else where no stop says so, on page and terminal alike; none in an ordinary reading.

        A reading outside its band, then another gas or a burner that may overfire.
        """
        if self.stops or not (self.act_first or self.may_be_other_gas):
            return ()
        return tuple(filter(None, (self.act_first, self.overfire_warning)))

    @property
    @computed_output("measure next")
    def next_measurement(self) -> NextMeasurement | None:
        """The one to take now; None when nothing that is left settles much of the doubt."""
        if not self.measurements:
            return None
        own = SLIPS.get(self.causes[0].cause, "") if self.causes and not self.stops else ""
        for one in (
            self.measurements if own else ()
        ):  # a likely slip is read again before anything is looked for
            if one.measurement == own:
                return one
        first = self.measurements[0]
        return first if self.stops or first.settles > LITTLE else None

    @property
    def overfire(self) -> tuple[RankedCause, ...]:
        """Causes that can overfire a burner, whatever their share."""
        return tuple(cause for cause in self.causes if cause.overfire)

    @property
    @computed_output("causes that can overfire")
    def overfire_causes(self) -> tuple[str, ...]:
        """Their names."""
        return tuple(cause.cause for cause in self.overfire)


def whole_percent(share: float) -> str:
    """A probability as a technician reads it.

    >>> whole_percent(0.004), whole_percent(0.274)
    ('under 1 %', '27 %')
    """
    return "under 1 %" if share < 0.01 else f"{100 * share:.0f} %"


def explain(
    appliance: Appliance,
    reading: Reading | Sequence[Reading],
    burner: str | None = None,
    *,
    method: Method = "meter",
    substitute: SubstituteSupply | None = None,
    own_causes: Path | None = None,
    own_measurements: Path | None = None,
) -> Explanation:
    """Rank the causes of one reading or of several together, and say what stops the test or what to measure next.

    appliance : as its file describes it; reading : measured over expected, with its uncertainty
    burner, method : of readings that name none; burner None for all; other : the other gas and its pressure
    own_causes, own_measurements : CSV files of the shipped tables' columns
    Probability: prior times likelihood over all possibilities of a cause, Bayes' rule; readings scatter together.
    Raises UserError for a burner the appliance has not, and a ratio that cannot be.

    >>> from burnerlab.appliance import demonstration
    >>> found = explain(demonstration(), Reading(ratio=0.77), "stock-pot ring")
    >>> found.causes[0].cause, found.stop.id
    ('other supply as a whole', 'wrong-gas')
    """
    read = readings_of(reading)
    h = hypotheses(unit_under_test(appliance, burner, method, substitute, read), own_causes)
    log_weights, layout = posterior(h, read)
    weights = normalised(log_weights)
    checks = _manifolds(appliance, h, read)
    fit = fit_of(h, layout, read)
    danger = danger_of(h, weights, read, fit)
    stops, act = stops_of(h, weights, danger, checks), _act_first(h, read)
    doubt = doubt_of(h, weights)
    open_to, least_min = _measurements_open(h, read, stops, own_measurements), least_minutes(h, read)
    ranking = _ranked_causes(h, log_weights, weights, open_to.settling, danger, bool(stops))
    causes = _causes_in_order(ranking, bool(stops or act))
    return Explanation(
        appliance=appliance.name,
        burner=h.unit.firings[0].burner,
        method=h.unit.firings[0].method,
        readings=read,
        expected_gross_W=h.unit.firings[0].expected_W,
        expected_from=h.unit.firings[0].expected.words,
        expected_each_gross_W=tuple(firing.expected_W for firing in h.unit.firings),
        fit_probability=fit,
        scatter=layout.scatter,
        causes=causes,
        groups=_groups(h, weights, bool(stops or act)),
        measurements=_next_steps(measurements(open_to.now, doubt, least_min), bool(stops)),
        after_release=measurements(open_to.later, doubt, least_min),
        uncertain_bit=doubt.bit,
        fits=_fits(causes),
        overfire_probability=danger.overfire,
        other_gas_probability=danger.other_gas,
        stops=stops,
        act_first=act,
        overfire_warning=""
        if stops
        else _gas_warning(h, weights, danger)
        or _overfire_warning(h, danger, causes)
        or _neighbour_warning(causes),
        manifold=checks[0] if checks else None,
        notes=_notes(h, layout.scatter),
    )


Outcomes = Sequence[tuple[tables.Row, Array, float]]
"""Measurements, each with what it would find and how that scatters."""


class _MeasurementsOpen(NamedTuple):
    """What may be measured: at once, by the qualified person of a release, and what settles a cause."""

    now: Outcomes
    later: Outcomes
    settling: Outcomes


def _measurements_open(
    h: Hypotheses, readings: Sequence[Reading], stops: Sequence[StopNotice], own: Path | None
) -> _MeasurementsOpen:
    """Every measurement without a stop; with one those without gas, and none where everybody leaves."""
    rows = [] if any(one.signal == Signal.DANGER for one in stops) else offered(h, readings, own)
    if not stops:
        outcomes = outcomes_of(h, rows)
        return _MeasurementsOpen(now=outcomes, later=(), settling=outcomes)
    return _MeasurementsOpen(
        now=outcomes_of(h, [row for row in rows if row["stop"] == "gas off"]),
        later=outcomes_of(h, [row for row in rows if row["stop"] in RELEASE]),
        settling=outcomes_of(h, settling_measurements(rows)),
    )


def _ranked_causes(
    h: Hypotheses,
    log_weights: Array,
    weights: Array,
    outcomes: Sequence[tuple[tables.Row, Array, float]],
    danger: Danger,
    is_stopped: bool,
) -> tuple[RankedCause, ...]:
    firing, limit = h.unit.firings[0], bench_limit("overfire").high
    ratio, hottest = (
        h.scenarios.reading(firing.weights, firing.load, firing.method, low=firing.low),
        h.scenarios.hottest_of_all,
    )
    burned = h.scenarios.burned(firing.weights, firing.load, low=firing.low)
    shares, priors = by_cause(h, weights), h.priors
    causes = []
    endangers = shares * [cause.danger for cause in h.causes]
    for i in danger_first(shares, endangers, likeliest_first=not danger.moves):
        cause, members = h.causes[i], np.flatnonzero(h.cause_of == i)
        best = members[np.argmax(log_weights[members])]
        now, later = settled_by(h, log_weights, int(i), outcomes, is_stopped)
        causes.append(
            RankedCause(
                cause=cause.name,
                title=cause.title,
                group=h.groups[int(h.group_of[best])],
                words=h.words_of(best),
                predicted_ratio=float(ratio[best]),
                predicted_low_ratio=float(ratio[members].min()),
                predicted_high_ratio=float(ratio[members].max()),
                predicted_gross_W=float(ratio[best]) * firing.expected_W,
                prior=float(priors[i]),
                probability=float(shares[i]),
                danger=cause.danger,
                overfire=bool(hottest[members].max() > limit),
                hottest_burner_ratio=float(hottest[best]),
                true_input_ratio=float(burned[best]),
                next_measurement=now,
                after_release=later,
                source=cause.source,
            )
        )
    return tuple(causes)


def _groups(h: Hypotheses, weights: Array, is_off: bool) -> tuple[RankedGroup, ...]:
    known = groups()
    shares, danger = np.split(weights @ member_of_groups(h), 2)
    order = danger_first(shares, danger)
    first = _fault_first([float(shares[i]) for i in order], [h.groups[i] == NO_FAULT for i in order], is_off)
    return tuple(
        RankedGroup(
            group=h.groups[i],
            title=known[h.groups[i]].title,
            action=known[h.groups[i]].action,
            probability=float(shares[i]),
        )
        for i in order[first]
    )


def _manifolds(appliance: Appliance, h: Hypotheses, readings: Sequence[Reading]) -> tuple[ManifoldCheck, ...]:
    """Each pressure that was read, with the heat input read at it: those outside their band first, then the highest."""
    checks = []
    for reading, firing in zip(readings, h.unit.firings, strict=True):
        if reading.pressure_ratio is None:
            continue
        measured_W = None if reading.ratio is None or firing.low else reading.ratio * firing.expected_W
        limits = limits_turned_low(appliance, reading.limits) if firing.low else reading.limits
        checks.append(
            manifold_check(
                appliance,
                reading.pressure_ratio * firing.expected.manifold_Pa,
                firing.burner or None,
                measured_W,
                measured_uncertainty=reading.relative_uncertainty,
                limits=limits,
            )
        )
    return tuple(sorted(checks, key=lambda check: (not pressure_stops(check), -check.measured_pressure_Pa)))


def _act_first(h: Hypotheses, readings: Sequence[Reading]) -> str:
    """What to do first with the readings, by the one farthest from its rating; "" where each is in its band."""
    far = [
        (one.ratio * firing.expected_W / rated_W - 1.0, band)
        for one, firing in zip(readings, h.unit.firings, strict=True)
        if one.ratio is not None
        for rated_W, band in [_rating_gross(h, firing)]
    ]
    found = [act_first(*one) for one in sorted(far, key=lambda deviation: -deviation[0])]
    return next(filter(None, found), "")


def _rating_gross(h: Hypotheses, firing: FiringState) -> tuple[float, Tolerance]:
    """Rating of what was on in a reading, gross, at its rate [W], and its band."""
    rating = rating_of(h.unit.appliance, firing.burner or None, decision_rule(), low=firing.low)
    heat = h.unit.gas.heating_value_J_per_kg
    return rating.heat_input_W * heat("gross") / heat(rating.basis), rating.tolerance


def _causes_in_order(causes: Sequence[RankedCause], is_off: bool) -> tuple[RankedCause, ...]:
    """The causes by share, "as drawn" never first where the burner is to be turned off."""
    shares, as_drawn = [one.probability for one in causes], [one.cause == AS_DRAWN for one in causes]
    return tuple(causes[i] for i in _fault_first(shares, as_drawn, is_off))


def _next_steps(steps: Sequence[NextMeasurement], is_stopped: bool) -> tuple[NextMeasurement, ...]:
    """What to measure next in order; after a stop without gas alone."""
    return without_gas(steps) if is_stopped else ranked(steps)


def _fits(causes: Sequence[RankedCause]) -> bool:
    """Whether a listed cause gives the readings: the share of none of them is small."""
    share = next((one.probability for one in causes if one.cause == NONE), 0.0)
    return share <= bench_limit("none_fits").high


def _fault_first(shares: Sequence[float], no_fault: Sequence[bool], is_off: bool) -> list[int]:
    """Places of a list with "no fault" never first where the reading asks for the burner to be turned off."""
    places = list(range(len(shares)))
    if is_off and len(places) > 1 and no_fault[0]:
        likeliest = 1 + int(np.argmax(shares[1:]))
        places.insert(0, places.pop(likeliest))
    return places


def _gas_warning(h: Hypotheses, weights: Array, danger: Danger) -> str:
    """Another gas that may be connected where no stop says so: a reading in its band does not rule it out."""
    if not danger.other_gas > bench_limit("suspected gas").high:
        return ""
    likeliest, _ = _likeliest_gas(h, weights)
    share, hottest = share_words(danger.other_gas), float(h.scenarios.burner_flow[likeliest].max())
    return (
        f"Another gas may be connected (probability {share}): {h.words_of(likeliest)}; a burner then fires at "
        f"{hottest:.2f} of its calculated heat input. Burner off: read the supply label first."
    )


def _overfire_warning(h: Hypotheses, danger: Danger, causes: Sequence[RankedCause]) -> str:
    """A burner that may be above its rating where no stop says so; of burners read together, how far one may be."""
    least = bench_limit("told_overfire").high
    if not danger.overfire > least:
        return ""
    chance = f"probability {100 * danger.overfire:.0f} %"
    if len(h.unit.burners) == 1 or any(firing.burner for firing in h.unit.firings):
        return f"A burner may be above its rating ({chance}): read its orifice mark, gas off and cool."
    worst = max(causes, key=lambda cause: cause.hottest_burner_ratio if cause.probability > least else 0.0)
    words = "One burner may fire well above its rating while all together read near theirs"
    if worst.probability > least and worst.hottest_burner_ratio > bench_limit("overfire").high:
        words += f", as with {worst.words}: {worst.hottest_burner_ratio:.2f} of what that burner should"
    return f"{words} ({chance}). Once the meter stands still at rest, clock each burner alone."


def _neighbour_warning(causes: Sequence[RankedCause]) -> str:
    """A burner beside the one under test that may be above its rating: of interchanged orifices it has the larger."""
    least, limit = bench_limit("told_overfire").high, bench_limit("overfire").high
    for cause in causes:
        if cause.probability > least and cause.hottest_burner_ratio > limit:
            chance = f"probability {100 * cause.probability:.0f} %"
            return f"Another burner may be above its rating ({chance}): {cause.words}."
    return ""


def _notes(h: Hypotheses, scatter: float) -> tuple[str, ...]:
    notes = [
        "probabilities follow from the priors of the table of causes, which are a judgement, not a count",
        f"readings and units without a fault are taken to scatter by {100 * scatter:.1f} % (one standard deviation)",
        "faults of gas, regulator and orifices are considered together; any other two at once can look like a third",
    ]
    if not h.unit.substitutes:
        notes.append(
            "no other gas is known at a pressure of this region: its orifices and regulator are left out"
        )
    return tuple(notes)
