"""What raises a stop: observations, answers before lighting, flue gas, pressure, heat input, and what explains it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from burnerlab import tables
from burnerlab.appliance import Appliance
from burnerlab.bench.decision_rule import bench_limit
from burnerlab.bench.faults.explanation import Explanation, explain
from burnerlab.bench.reading.flue import FlueAnalysis, LimitComparison, limit_comparisons, limit_in_force
from burnerlab.bench.reading.heat_input import InputMeasured
from burnerlab.bench.reading.manifold import ManifoldCheck, expected_input, manifold_check, pressure_stops
from burnerlab.bench.reading.readings import Method, Reading
from burnerlab.bench.stop import DIGITS, StopNotice, power_words, stop_notice, worst_first
from burnerlab.bench.unit import turndown_of
from burnerlab.quantity.show import number
from burnerlab.tables.problem import UserError

if TYPE_CHECKING:
    from burnerlab.bench.record.entry import BeforeLighting, BenchTest, Observation

PPM = 1e6
LEAK_FOUND = "leak found"
ANOTHER_GAS = "another gas"  # answer to the label of the supply


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatInputs:
    """A measured heat input beside what it should be, all on one basis [W]."""

    measured_W: float
    expected_W: float | None = None  # by orifices and pressure of the file
    rated_W: float | None = None  # on the plate
    basis: str = "gross"

    @property
    def ratio(self) -> float | None:
        """Measured over the smaller of expected and rated [-]."""
        references = [
            reference
            for reference in (self.expected_W, self.rated_W)
            if reference is not None and reference > 0.0
        ]
        return self.measured_W / min(references) if references else None


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
    return worst_first(notices)


@cache
def _raised_by() -> dict[str, tuple[str, str, str]]:
    """Observation to the answer wanted, the stop that another raises, and its words."""
    return {
        row["name"]: (row["wanted"], row["stop"], f"{row['words']} ({row['at']})")
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
            notices.append(stop_notice(stop, why=f"{observation.burner or 'unit'}: {words}"))
    return worst_first(notices)


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
    """The stop of a reading above the limit ``overfire`` of what is expected, or of the rating.

    >>> heat_input_stops(HeatInputs(measured_W=11500.0, rated_W=10000.0))[0].heading
    'STOP. Possible overfire, about 15 % above rating: turn the burner off.'
    """
    if heat.ratio is None:
        return ()
    read = power_words(heat.measured_W, heat.basis)
    against = {heat.expected_W: "expected input", heat.rated_W: "rating"}
    least = min(reference for reference in against if reference is not None and reference > 0.0)
    return _overfire(heat.ratio, read, against[least])


def _overfire(ratio: float, read: str, against: str) -> tuple[StopNotice, ...]:
    if not ratio > bench_limit("overfire").high:
        return ()
    percent = f"{number(100.0 * (ratio - 1.0), 2)} %"
    why = f"the reading is {percent} above {against}"
    true, burner = read or f"{percent} more", "the burner"
    notice = stop_notice(
        "overfire", percent=percent, against=against, read=read or why, burner=burner, true=true, why=why
    )
    return (notice,)


def carbon_monoxide_stops(air_free_CO: float, limit: LimitComparison) -> tuple[StopNotice, ...]:
    """The stop of carbon monoxide above the limit in force.

    air_free_CO : [mol/mol]; limit : the one in force for the kind of appliance

    >>> carbon_monoxide_stops(0.01183, limit_in_force(limit_comparisons(0.01183, kind="outdoor-cooking")))[0].heading
    'STOP. CO 11 830 ppm air-free, limit 800 (outdoor cooking gas appliance, recalled).'
    """
    if not air_free_CO > limit.limit:
        return ()
    notice = stop_notice(
        "co-high",
        read=number(PPM * air_free_CO, 4),
        limit=number(PPM * limit.limit, DIGITS),
        kind=limit.words,
        provenance=limit.known_by,
        why=f"carbon monoxide is {number(air_free_CO / limit.limit, 2)} times its limit",
    )
    return (notice,)


def measured_stops(
    measured: InputMeasured,
    appliance: Appliance | None = None,
    burner: str | None = None,
    gauge_pressure_Pa: float | None = None,
    *,
    low: bool = False,
) -> tuple[StopNotice, ...]:
    """Stops of a heat input by meter or scale: against its rating, and with the unit's file against its causes.

    appliance : of the project file, None when only the rating is known; burner : the one that was on, None for all
    gauge_pressure_Pa : manifold pressure read at the test, None when not read; low : read at the low rate
    """
    rated = None if low else _against_rating(measured)
    if appliance is None:
        return stops_of(heat=rated)
    expected = expected_input(appliance, burner)
    rates = [turndown_of(one) if low else 1.0 for one in expected.burners]
    expected_W = float(expected.each_W @ rates)
    check = None if gauge_pressure_Pa is None else manifold_check(appliance, gauge_pressure_Pa, burner)
    ratio = None if gauge_pressure_Pa is None else gauge_pressure_Pa / expected.manifold_Pa
    reading = Reading(
        ratio=measured.heat_input_gross_W / expected_W,
        relative_uncertainty=measured.budget.relative,
        pressure_ratio=ratio,
        low=low,
    )
    method: Method = "meter" if measured.method == "meter" else "scale"
    try:
        explanation = explain(appliance, reading, burner, method=method)
    except UserError:  # a reading that no cause can explain is held against the rating and the pressure alone
        return stops_of(heat=rated, manifold=check)
    return stops_of(heat=rated, manifold=check, explanation=explanation)


def _against_rating(measured: InputMeasured) -> HeatInputs | None:
    """The larger of what burned and what would burn at the gas and pressure of the rating, beside the rating."""
    worst, correction = measured.worst, measured.correction
    if worst is None:
        return None
    burned_W = worst.value_W if correction is None else worst.value_W / correction.factor
    rating = worst.rating
    return HeatInputs(
        measured_W=max(worst.value_W, burned_W), rated_W=rating.heat_input_W, basis=rating.basis
    )


def entry_stops(test: BenchTest) -> tuple[StopNotice, ...]:
    """Stops that an entry raises by what stands in it alone: observations, answers, deviation, carbon monoxide."""
    notices = [*observation_stops(test.observations), *answer_stops(test.before_lighting)]
    powers = {result.burner: result.value for result in test.results if result.quantity == "heat_input_gross"}
    for result in test.results:
        if result.quantity == "deviation":
            power = powers.get(result.burner)
            read = "" if power is None else power_words(power)
            notices += _overfire(1.0 + result.value, read, "rating")
        elif result.quantity == "air_free_carbon_monoxide":
            limit = limit_in_force(limit_comparisons(result.value))
            notices += () if limit is None else carbon_monoxide_stops(result.value, limit)
    return worst_first(notices)
