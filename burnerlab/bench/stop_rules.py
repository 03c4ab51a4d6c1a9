"""What raises a stop: observations, answers before lighting, flue gas, pressure, heat input, and what explains it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from typing import TYPE_CHECKING

from burnerlab import tables
from burnerlab.appliance import Appliance
from burnerlab.bench.decision_rule import bench_limit
from burnerlab.bench.faults.explanation import Explanation, explain
from burnerlab.bench.reading.flue import (
    ANOTHER_PUBLICATION,
    APPLIANCE_KIND,
    FlueAnalysis,
    LimitComparison,
    kind_named,
    limit_comparisons,
    limit_in_force,
)
from burnerlab.bench.reading.heat_input import InputMeasured
from burnerlab.bench.reading.manifold import (
    CalculatedInput,
    ManifoldCheck,
    band_stops,
    calculated_input,
    expected_input,
    limits_turned_low,
    manifold_check,
    pressure_stops,
)
from burnerlab.bench.reading.readings import ManifoldRange, Method, Reading
from burnerlab.bench.stop import (
    CALCULATED,
    DIGITS,
    RATED,
    StopNotice,
    consistent_stops,
    misread,
    power_words,
    stop_notice,
    worst_first,
)
from burnerlab.bench.unit import turndown_of
from burnerlab.quantity.show import number
from burnerlab.tables.phrase import Phrase
from burnerlab.tables.problem import UserError

if TYPE_CHECKING:
    from burnerlab.bench.record.entry import BeforeLighting, BenchTest, Observation

PPM = 1e6
LEAK_FOUND = "leak found"
ANOTHER_GAS, UNREAD_LABEL = "another gas", "cannot be read"  # answers to the label of the supply


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatInputs:
    """A measured heat input beside what it should be, all on one basis [W]."""

    measured_W: float  # as burnt at the test
    expected_W: float | None = (
        None  # by the orifices of the file, at the pressure read, else at that of the file
    )
    most_over_expected: float = (
        0.0  # limit of it where it is above the limit ``overfire``: see ``calculated_input``
    )
    expected_words: str = CALCULATED
    rated_W: float | None = None  # on the plate
    basis: str = "gross"
    cases: Mapping[str, float] = field(default_factory=dict)
    """The same burner under another condition, in words, and its heat input there: compared with the rating alone,
    since the expected input is that of the test."""
    most_of_cases: Mapping[str, float] = field(default_factory=dict)
    """Limit of a case over the rating where that is above the others: what the file itself gives there."""

    @property
    def ratios(self) -> tuple[OverReference, ...]:
        """As burnt over the smaller of expected and rated, one that is above its limit first, then each case over the
        rating."""
        references = (
            (self.expected_words, self.expected_W, self.most_over_expected),
            (RATED, self.rated_W, 0.0),
        )
        known = [
            OverReference(case="", value_W=self.measured_W, reference_W=value, reference=words, most=most)
            for words, value, most in references
            if value is not None and value > 0.0
        ]
        if not known:
            return ()
        as_burnt = max(known, key=lambda over: (over.is_over, over.ratio))
        return as_burnt, *(
            OverReference(
                case=case,
                value_W=value,
                reference_W=self.rated_W,
                reference=RATED,
                most=self.most_of_cases.get(case, 0.0),
            )
            for case, value in self.cases.items()
            if self.rated_W
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class OverReference:
    """A heat input in one case beside what it is compared with, on one basis [W]."""

    case: str  # "" as burnt at the test
    value_W: float
    reference_W: float
    reference: str
    most: float = 0.0  # its limit where that is above the limit ``overfire`` [-]

    @property
    def ratio(self) -> float:
        """One over the other [-]."""
        return self.value_W / self.reference_W

    @property
    def is_over(self) -> bool:
        """Whether it stops the test."""
        return self.ratio > max(self.most, bench_limit("overfire").high)


def stops_of(
    *,
    observations: Iterable[Observation] = (),
    before_lighting: BeforeLighting | None = None,
    heat: HeatInputs | None = None,
    flue: FlueAnalysis | None = None,
    manifold: ManifoldCheck | None = None,
    explanation: Explanation | None = None,
) -> tuple[StopNotice, ...]:
    """Every stop that a test raises, the worst first, each once; none for a unit in which nothing was met.

    observations, before_lighting : what was seen and answered; flue : analysed with the kind of appliance chosen
    heat, manifold, explanation : what was measured, and its causes
    """
    notices: list[StopNotice] = [*observation_stops(observations), *answer_stops(before_lighting)]
    if explanation is not None:
        notices += explanation.stops
    if heat is not None:
        notices += heat_input_stops(heat)
    if manifold is not None:
        notices += pressure_stops(manifold)
    if flue is not None and flue.in_force is not None and flue.air_free_CO is not None:
        notices += carbon_monoxide_stops(max(flue.air_free_CO, flue.air_free_CO_by_CO2 or 0.0), flue.in_force)
    return consistent_stops(worst_first(notices))


_AT_WORDS = {"low": ", turned low", "when turned off": ", when turned off"}  # at full rate nothing is added


@cache
def _raised_by() -> dict[str, tuple[str, str, str]]:
    """Observation to the answer wanted, the stop that another raises, and its words."""
    return {
        row["name"]: (row["wanted"], row["stop"], f"{row['words']}{_AT_WORDS.get(row['at'], '')}")
        for row in tables.rows("observations")
        if row["stop"]
    }


def observation_stops(observations: Iterable[Observation]) -> tuple[StopNotice, ...]:
    """Stops of what was seen; "not seen" raises none.

    >>> from burnerlab.bench.record import Observation
    >>> [one.id for one in observation_stops([Observation(name="odour", answer="yes")])]
    ['odour']
    """
    notices = []
    for observation in observations:
        expected, stop, words = _raised_by().get(observation.name, ("", "", ""))
        if stop and observation.answer not in (expected, "not seen"):
            at = f", at {observation.burner}" if observation.burner else ""
            notices.append(stop_notice(stop, why=f"{words}{at}"))
    return worst_first(notices)


def meter_at_rest_stop() -> StopNotice:
    """The stop of a meter that turns with every burner off: gas is lost downstream of it, or burns elsewhere.

    >>> meter_at_rest_stop().heading
    'STOP. Leak or another load suspected (the meter turns with every burner off): close the supply.'
    """
    return stop_notice(
        "leak-suspected",
        what="Leak or another load",
        share="the meter turns with every burner off",
        where="a leak downstream of the meter, or another load",
        by_meter=", by the meter as well, which must stand still with every burner off",
        why="the meter turned with every burner off",
    )


def seen_pressure_stop(limit: str = "") -> StopNotice:
    """The stop of a manifold pressure that somebody sees above its limit, no figure typed.

    limit : the highest of the supply, in words; "" where no model is known

    >>> seen_pressure_stop("26.2 mbar").heading
    'STOP. Manifold pressure above its limit, highest allowed 26.2 mbar.'
    """
    return stop_notice(
        "pressure",
        read=Phrase("above its limit"),
        limit=limit or Phrase("as on job card and test plan"),
        why="somebody saw the manifold pressure above its limit",
    )


def lost_pressure_stop() -> StopNotice:
    """The stop of a manifold pressure of 0 with the burner on: its flame is out, and gas that returns flows unlit.

    >>> lost_pressure_stop().do_first
    'Close the burner valve, then the supply valve. No flame, switch or ignition.'
    """
    why = "the manifold pressure reads 0 with the burner on: its flame is out, and gas that returns would flow unlit"
    return stop_notice("pressure-lost", why=why)


def answer_stops(answers: BeforeLighting | None) -> tuple[StopNotice, ...]:
    """Stops of the answers before lighting: a leak found, a supply that is labelled for another gas."""
    notices = []
    if answers is not None and answers.leak_test == LEAK_FOUND:
        notices.append(stop_notice("odour", why="the leak test of this unit found a leak"))
    if answers is not None and answers.supply_label == ANOTHER_GAS:
        notices.append(
            stop_notice("other-gas", why="the label of the supply names another gas than the model's")
        )
    return tuple(notices)


def heat_input_stops(heat: HeatInputs) -> tuple[StopNotice, ...]:
    """The stop of a heat input above the limit ``overfire`` of what is expected, or of the rating.

    It stands where the reading is above the limit, or any of its cases; the reason names the case. The heading has the
    reading where that alone is above the limit.

    >>> heat_input_stops(HeatInputs(measured_W=11500.0, rated_W=10000.0))[0].heading
    'STOP. Possible overfire, about 15 % above the rated heat input: turn the burner off.'
    >>> heat_input_stops(HeatInputs(measured_W=10500.0, rated_W=10000.0, cases={AT_RATING: 12600.0}))[0].why
    'at the gas and pressure of the rating, it is 26 % above the rated heat input; as read +5.0 % from it'
    """
    if not heat.ratios:
        return ()
    as_burnt, worst = heat.ratios[0], max(heat.ratios, key=lambda over: (over.is_over, over.ratio))
    if not worst.is_over:
        return ()
    read, true = (power_words(value, heat.basis) for value in (heat.measured_W, worst.value_W))
    burning = f"; {worst.case} it would be {true}" if worst.case else ""
    if as_burnt.is_over:  # what was read stands first, a worse case behind it
        more = f"{number(100.0 * (worst.ratio - 1.0), 2)} % above {worst.reference}"
        why = (
            f"the reading is {{}} above {as_burnt.reference}; {worst.case}, it is {more}"
            if worst.case
            else ""
        )
        return _overfire(as_burnt.ratio, read, as_burnt.reference, true=burning, why=why)
    as_read = 100.0 * (heat.measured_W / worst.reference_W - 1.0)
    why = (
        f"{worst.case}, it is {{}} above {worst.reference}; as read {as_read:+.1f} % from it"
        if worst.case
        else ""
    )
    return _overfire(worst.ratio, read, worst.reference, true=burning, why=why)


def _overfire(
    ratio: float, read: str, against: str, *, true: str = "", why: str = ""
) -> tuple[StopNotice, ...]:
    """The stop of a ratio above its limit; true : what it stands for; why : with ``{}`` for the per cent."""
    percent = f"{number(100.0 * (ratio - 1.0), 2)} %"
    why = (why or f"the reading is {{}} above {against}").format(percent)
    true, read = misread(ratio) or true, read or f"{percent} above {against}"
    notice = stop_notice("overfire", percent=percent, against=against, read=read, true=true, why=why)
    return (notice,)


def undiluted_stops(carbon_monoxide: float, limit: LimitComparison | None) -> tuple[StopNotice, ...]:
    """The stop of carbon monoxide as read, without oxygen or carbon dioxide: free of air it is never less.

    carbon_monoxide : of the dry flue gas [mol/mol]; limit : the one in force, None for none

    >>> limit = limit_in_force(limit_comparisons(0.0009, kind="outdoor-cooking"))
    >>> undiluted_stops(0.0009, limit)[0].heading
    'STOP. CO at least 900 ppm air-free, limit 800 (outdoor cooking gas appliance, recalled).'
    >>> undiluted_stops(0.0008, limit)
    ()
    """
    if limit is None:
        return ()
    why = "as read, without oxygen or carbon dioxide, and free of air it is never less; note the oxygen that was read"
    read = number(PPM * carbon_monoxide, 4).removesuffix(".0")
    stops = carbon_monoxide_stops(carbon_monoxide, limit, read=f"at least {read}")
    return tuple(replace(one, why=f"{one.why} {why}") for one in stops)


NOT_THE_STANDARD = "read in another publication, not in the standard"


def carbon_monoxide_stops(
    air_free_CO: float, limit: LimitComparison, *, read: str = ""
) -> tuple[StopNotice, ...]:
    """The stop of carbon monoxide above the limit in force.

    air_free_CO : [mol/mol]; limit : the one in force for the kind of appliance; read : in ppm, where not that figure

    >>> carbon_monoxide_stops(0.01183, limit_in_force(limit_comparisons(0.01183, kind="outdoor-cooking")))[0].heading
    'STOP. CO 11 830 ppm air-free, limit 800 (outdoor cooking gas appliance, recalled).'
    """
    if not air_free_CO > limit.limit:
        return ()
    notice = stop_notice(
        "co-high",
        read=read or number(PPM * air_free_CO, 4),
        limit=number(PPM * limit.limit, DIGITS),
        kind=limit.words,
        provenance=NOT_THE_STANDARD if limit.known_by == ANOTHER_PUBLICATION else limit.known_by,
        why=f"carbon monoxide is {number(air_free_CO / limit.limit, DIGITS)} times its limit",
    )
    return (notice,)


def measured_stops(
    measured: InputMeasured,
    appliance: Appliance | None = None,
    burner: str | None = None,
    gauge_pressure_Pa: float | None = None,
    *,
    low: bool = False,
    limits: ManifoldRange | None = None,
) -> tuple[StopNotice, ...]:
    """Stops of a heat input by meter or scale: against its rating, and with the unit's file against its causes.

    appliance : of the project file, None when only the rating is known; burner : the one that was on, None for all
    gauge_pressure_Pa : manifold pressure read at the test, None when not read; low : read at the low rate
    limits : of that pressure by a test plan; None for what the regulator should hold
    """
    if appliance is None:
        return stops_of(heat=None if low else heat_inputs(measured))
    if low:
        limits = limits_turned_low(appliance, limits)
    expected = expected_input(appliance, burner)
    rates = [turndown_of(one) if low else 1.0 for one in expected.burners]
    expected_W = float(expected.each_W @ rates)
    calculated = calculated_input(appliance, burner, gauge_pressure_Pa, limits)
    rated = None if low else heat_inputs(measured, calculated)
    check = (
        None
        if gauge_pressure_Pa is None
        else manifold_check(appliance, gauge_pressure_Pa, burner, limits=limits)
    )
    ratio = None if gauge_pressure_Pa is None else gauge_pressure_Pa / expected.manifold_Pa
    reading = Reading(
        ratio=measured.heat_input_gross_W / expected_W,
        relative_uncertainty=measured.budget.relative,
        pressure_ratio=ratio,
        is_low_rate=low,
        meter=measured.meter,
        limits=limits,
    )
    method: Method = "meter" if measured.method == "meter" else "scale"
    try:
        explanation = explain(appliance, reading, burner, method=method)
    except UserError:  # a reading that no cause can explain is held against the rating and the pressure alone
        return stops_of(heat=rated, manifold=check)
    return stops_of(heat=rated, manifold=check, explanation=explanation)


AT_RATING = "at the gas and pressure of the rating"
AT_FILE_PRESSURE = "at the manifold pressure of the file"


def heat_inputs(measured: InputMeasured, calculated: CalculatedInput | None = None) -> HeatInputs | None:
    """What burned, and what would burn in each case that the reading leaves open, beside rating and expected input.

    Cases: gas and pressure of the rating, the manifold pressure of the file. A bench at sea level is none: where the
    barometer was not read there is no verdict, see ``Comparison.until_barometer``.
    calculated : by the orifices of the file; None where no file is known
    None where there is no rating.
    """
    worst, correction = measured.worst, measured.correction
    if worst is None:
        return None
    basis, gross_W = worst.rating.basis, measured.heat_input_gross_W
    burned_W = worst.value_W if correction is None else worst.value_W / correction.factor
    cases = {} if correction is None else {AT_RATING: worst.value_W}
    most_of_cases: dict[str, float] = {}
    to_basis = 1.0 if basis == "gross" else measured.heat.net_to_gross
    if (at_file := measured.at_file_pressure) is not None:
        reaches_Pa = at_file.gauge_pressure_Pa if calculated is None else calculated.manifold_Pa
        less = (
            min(1.0, reaches_Pa / at_file.gauge_pressure_Pa) ** 0.5
        )  # of it reaches the burners that are on
        more = less * at_file.heat_input_gross_W / gross_W
        cases[AT_FILE_PRESSURE] = more * burned_W
        if (
            calculated is not None
        ):  # of a burner as the file has it this is what the reading itself is held to
            most_of_cases[AT_FILE_PRESSURE] = more * calculated.most_W * to_basis / worst.rating.heat_input_W
    return HeatInputs(
        measured_W=burned_W,
        expected_W=None if calculated is None else calculated.value_W * to_basis,
        most_over_expected=0.0 if calculated is None else calculated.most_over_value,
        expected_words=CALCULATED if calculated is None else calculated.words,
        rated_W=worst.rating.heat_input_W,
        basis=basis,
        cases=cases,
        most_of_cases=most_of_cases,
    )


def entry_stops(test: BenchTest) -> tuple[StopNotice, ...]:
    """Stops that an entry raises by what stands in it alone: observations, answers, pressure, deviation, CO.

    The limit of carbon monoxide is that of the kind of appliance which the entry names.
    """
    kind = kind_named(test.input_text(APPLIANCE_KIND))
    notices = [*observation_stops(test.observations), *answer_stops(test.before_lighting)]
    figures = {(one.quantity, one.value) for one in test.readings}
    if ("manifold_pressure", 0.0) in figures | {(one.quantity, one.value) for one in test.results}:
        notices.append(lost_pressure_stop())
    by_id = {one.id for one in (*test.stops, *notices)}
    powers = {result.burner: result.value for result in test.results if result.quantity == "heat_input_gross"}
    for result in test.results:
        if result.quantity == "deviation":
            power = powers.get(result.burner)
            read = "" if power is None else power_words(power)
            if 1.0 + result.value > bench_limit("overfire").high:
                notices += _overfire(1.0 + result.value, read, RATED)
        elif result.quantity == "manifold_pressure" and by_id.isdisjoint(("pressure", "pressure-lost")):
            notices += band_stops(result.value, result.low, result.high)
        elif result.quantity == "air_free_carbon_monoxide":
            limit = limit_in_force(limit_comparisons(result.value, kind=kind))
            notices += () if limit is None else carbon_monoxide_stops(result.value, limit)
    return worst_first(notices)
