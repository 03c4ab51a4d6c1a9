"""What raises a stop: observations, answers before lighting, flue gas, pressure, heat input, and what explains it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from burnerlab import tables
from burnerlab.bench.decision import bench_limit
from burnerlab.bench.flue import FlueAnalysis, LimitRead, limit_in_force, limits_read
from burnerlab.bench.manifold import ManifoldCheck
from burnerlab.bench.stop import StopNotice, stop_notice, worst_first
from burnerlab.quantity import Kind, System, show
from burnerlab.quantity.show import number

if TYPE_CHECKING:
    from burnerlab.bench.explain import Explanation
    from burnerlab.bench.record.entry import BeforeLighting, BenchTest, Observation

PPM = 1e6
DIGITS = 3  # of a figure in a notice
LEAK_FOUND = "leak found"


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatInputs:
    """A measured heat input beside what it should be, all on one basis [W]."""

    measured_W: float
    expected_W: float | None = None  # by orifices and pressure of the file
    rated_W: float | None = None  # on the plate

    @property
    def ratio(self) -> float | None:
        """Measured over the smaller of expected and rated [-]."""
        given = [one for one in (self.expected_W, self.rated_W) if one is not None and one > 0.0]
        return self.measured_W / min(given) if given else None


def stops_of(
    *,
    observations: Iterable[Observation] = (),
    before_lighting: BeforeLighting | None = None,
    heat: HeatInputs | None = None,
    flue: FlueAnalysis | None = None,
    manifold: ManifoldCheck | None = None,
    explanation: Explanation | None = None,
    system: System = "metric",
) -> tuple[StopNotice, ...]:
    """Every stop that a test raises, the worst first, each once; none for a unit in which nothing was met.

    observations, before_lighting : what was seen and answered; flue : analysed with the kind of appliance chosen
    heat, manifold, explanation : what was measured, and its causes; system : of the units in the sentences
    """
    found: list[StopNotice] = [*observation_stops(observations), *answer_stops(before_lighting)]
    if explanation is not None:
        found += getattr(explanation, "stops", ())
    if heat is not None:
        found += heat_input_stops(heat, system)
    if manifold is not None:
        found += pressure_stops(manifold, system)
    if flue is not None and flue.in_force is not None and flue.air_free_CO is not None:
        found += carbon_monoxide_stops(max(flue.air_free_CO, flue.air_free_CO_by_CO2 or 0.0), flue.in_force)
    return worst_first(found)


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
    found = []
    for one in observations:
        wanted, stop, words = _raised_by().get(one.name, ("", "", ""))
        if stop and one.answer not in (wanted, "not seen"):
            found.append(stop_notice(stop, why=f"{one.burner or 'unit'}: {words}"))
    return worst_first(found)


def answer_stops(answers: BeforeLighting | None) -> tuple[StopNotice, ...]:
    """The stop of a leak found before lighting."""
    if answers is None or answers.leak_test != LEAK_FOUND:
        return ()
    return (stop_notice("odour", why="the leak test of this unit found a leak"),)


def heat_input_stops(heat: HeatInputs, system: System = "metric") -> tuple[StopNotice, ...]:
    """The stop of a reading above the limit ``overfire`` of what is expected, or of the rating.

    >>> heat_input_stops(HeatInputs(measured_W=11500.0, rated_W=10000.0))[0].heading
    'STOP. Possible overfire, about 15 % above rating: turn the burner off.'
    """
    if heat.ratio is None:
        return ()
    read = show(heat.measured_W, Kind.POWER, system=system, digits=DIGITS)
    against = {heat.expected_W: "the expected heat input", heat.rated_W: "the rated heat input"}
    least = min(one for one in against if one is not None and one > 0.0)
    return _overfire(heat.ratio, read, against[least])


def _overfire(ratio: float, read: str, against: str) -> tuple[StopNotice, ...]:
    if not ratio > bench_limit("overfire").high:
        return ()
    percent = f"{number(100.0 * (ratio - 1.0), 2)} %"
    why = f"the reading is {percent} above {against}"
    return (
        stop_notice("overfire", percent=percent, read=read or why, true=read or f"{percent} more", why=why),
    )


def pressure_stops(check: ManifoldCheck, system: System = "metric") -> tuple[StopNotice, ...]:
    """The stop of a manifold pressure above the highest of its range; none where no range is known."""
    highest = check.pressure_high_Pa
    if highest is None or not check.measured_pressure_Pa > highest:
        return ()
    read, limit = (
        show(pressure, Kind.GAUGE_PRESSURE, system=system, digits=DIGITS)
        for pressure in (check.measured_pressure_Pa, highest)
    )
    return (stop_notice("pressure", read=read, limit=limit, why=f"the manifold pressure read is {read}"),)


def carbon_monoxide_stops(air_free_CO: float, limit: LimitRead) -> tuple[StopNotice, ...]:
    """The stop of carbon monoxide above the limit in force.

    air_free_CO : [mol/mol]; limit : the one in force for the kind of appliance

    >>> carbon_monoxide_stops(0.01183, limit_in_force(limits_read(0.01183, kind="outdoor-cooking")))[0].heading
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


def entry_stops(test: BenchTest) -> tuple[StopNotice, ...]:
    """Stops that an entry raises by what stands in it alone: observations, answers, deviation, carbon monoxide."""
    found = [*observation_stops(test.observations), *answer_stops(test.before_lighting)]
    powers = {one.burner: one.value for one in test.results if one.quantity == "heat_input_gross"}
    for one in test.results:
        if one.quantity == "deviation":
            power = powers.get(one.burner)
            read = "" if power is None else show(power, Kind.POWER, digits=DIGITS)
            found += _overfire(1.0 + one.value, read, "the rated heat input")
        elif one.quantity == "air_free_carbon_monoxide":
            limit = limit_in_force(limits_read(one.value))
            found += () if limit is None else carbon_monoxide_stops(one.value, limit)
    return worst_first(found)
