"""What one burner will burn against its aim, and how far that may be off as made: what a sheet is read for first.

The deviation is at the pressure that reaches the orifice: the worse of all burners on and all of its kind on, where
the file describes a supply; at the nominal pressure where it does not. Around it stands the interval of the unit as
made: the tolerance of the drill and the spread of the discharge coefficient, both taken as k = 2, the ends of each
side added as the root of the sum of their squares.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from burnerlab.appliance.conversion.evaluation_result import PressureAt, Pressures
from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.conversion.result import Case, Headline, Step, verdict_of_interval
from burnerlab.appliance.project.model import Orifice, OwnTables, Tolerance
from burnerlab.orifice.discharge_coefficient import Discharge
from burnerlab.orifice.drill import OWN, Drill, ToleranceBand, tolerance_band
from burnerlab.orifice.size import OrificeChoice
from burnerlab.tables.figure import Evidence, weakest
from burnerlab.tables.verdict import Verdict

NOMINAL: Case = "nominal pressure"


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitSpread:
    """How far drill and coefficient may take the heat input of a unit as made; relative changes, k = 2."""

    low: float  # [-], negative
    high: float  # [-]

    def around(self, deviation: float) -> tuple[float, float]:
        """The ends of a deviation [-].

        >>> UnitSpread(low=-0.06, high=0.05).around(-0.01)
        (-0.0694, 0.0395)
        """
        return (1.0 + deviation) * (1.0 + self.low) - 1.0, (1.0 + deviation) * (1.0 + self.high) - 1.0


def unit_spread(discharge: Discharge, drill: ToleranceBand, diameter_m: float) -> UnitSpread | None:
    """The spread of one orifice as made; None where the coefficient states no interval.

    low = -sqrt((1 - Cd_low/Cd)^2 + (1 - A_low/A)^2), and the same on the high side

    >>> from burnerlab.orifice import coefficient_for
    >>> exact = ToleranceBand(low_m=1e-3, high_m=1e-3, source="", provenance="")
    >>> unit_spread(coefficient_for("tapered"), exact, 1e-3)
    UnitSpread(low=-0.0556, high=0.0556)
    """
    if not discharge.low < discharge.high:
        return None
    low, high = (end / discharge.coefficient - 1.0 for end in (discharge.low, discharge.high))
    return UnitSpread(
        low=-math.hypot(low, min(drill.area_change_low(diameter_m), 0.0)),
        high=math.hypot(high, max(drill.area_change_high(diameter_m), 0.0)),
    )


def in_percent(ends: tuple[float, float]) -> tuple[float, float]:
    """Both ends in per cent."""
    return 100.0 * ends[0], 100.0 * ends[1]


def drill_band(orifice: Orifice, own: OwnTables) -> ToleranceBand:
    """The diameters an orifice may have that was made with a drill of its size."""
    drill = Drill(name=orifice.drill or OWN, kind=OWN, diameter_m=orifice.diameter_m)
    return tolerance_band(drill, own.drill_tolerance)


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """One kind of burner in the sum of all: what it adds, and what moves it."""

    heat_input_W: float  # of all burners of the kind together
    count: int
    discharge: Discharge
    drill: ToleranceBand
    diameter_m: float


def total_spread(shares: Sequence[Share]) -> UnitSpread | None:
    """The spread of the sum: a coefficient moves every orifice of its shape alike, each drill its own hole.

    None where a coefficient states no interval.
    """
    whole = sum(share.heat_input_W for share in shares)
    if any(not share.discharge.low < share.discharge.high for share in shares) or not whole > 0.0:
        return None
    sides = []
    for end in ("low", "high"):
        shapes: dict[tuple[str, str], float] = {}
        holes = 0.0
        for share in shares:
            weight, used = share.heat_input_W / whole, share.discharge
            moved = weight * (getattr(used, end) / used.coefficient - 1.0)
            key = (used.shape, used.source)
            shapes[key] = shapes.get(key, 0.0) + moved
            area = getattr(share.drill, f"area_change_{end}")(share.diameter_m)
            area = min(area, 0.0) if end == "low" else max(area, 0.0)
            holes += (weight * area) ** 2 / share.count
        sides.append(math.sqrt(sum(moved**2 for moved in shapes.values()) + holes))
    return UnitSpread(low=-sides[0], high=sides[1])


def headline(
    case: Case,
    heat_input_W: float,
    aim_W: float,
    spread: UnitSpread | None,
    band: Tolerance,
    evidence: Evidence,
) -> Headline:
    """Verdict of one case in the band over its whole interval; within it only where that is known."""
    deviation = heat_input_W / aim_W - 1.0
    ends = None if spread is None else spread.around(deviation)
    return Headline(
        deviation_case=case,
        heat_input_gross_W=heat_input_W,
        deviation=deviation,
        deviation_low=None if ends is None else ends[0],
        deviation_high=None if ends is None else ends[1],
        verdict=verdict_of_interval(deviation, ends, band.low, band.high),
        evidence=evidence,
    )


def at_nominal(job: Job, aim_W: float, choice: OrificeChoice, discharge: Discharge) -> Headline:
    """The drill taken at the nominal pressure: the answer where no supply is described, else not yet one."""
    spread = unit_spread(discharge, choice.tolerance, choice.diameter_m)
    found = headline(NOMINAL, choice.heat_input_gross_W, aim_W, spread, job.tolerance, discharge.evidence)
    return found if job.new_train.train is None else replace(found, verdict=Verdict.NOT_EVALUATED)


def as_supplied(job: Job, step: Step, at: PressureAt, supply: Evidence) -> Headline:
    """The worse of every burner on and all of its kind on, at the pressure that reaches its orifice.

    at : of the new gas; supply : what the supply of the new gas rests on
    """
    result, choice = step.result, step.choice
    spread = unit_spread(step.discharge, choice.tolerance, choice.diameter_m)
    evidence = rests_on([step.discharge], supply)
    nominal_W = result.predicted_gross_W

    def case(which: Case, from_nominal: float) -> Headline:
        heat_W = nominal_W * (1.0 + from_nominal)
        return headline(which, heat_W, result.aim_gross_W, spread, job.tolerance, evidence)

    together = case("all on", at.all_on_from_nominal)
    if at.alone_from_nominal is None:
        return replace(together, deviation_all_on=together.deviation)
    alone = case("alone" if step.burner.count == 1 else "all of its kind on", at.alone_from_nominal)
    found = worse(together, alone, job.tolerance)
    return replace(found, deviation_all_on=together.deviation, deviation_alone=alone.deviation)


def total(job: Job, steps: Sequence[Step], supplied: Pressures | None = None) -> Headline:
    """All burners together, every one on; ``supplied`` are the pressures of the new gas.

    Without them the nominal pressure counts, which is no answer yet where a supply is described.
    """
    moved = {} if supplied is None else {at.burner: at.all_on_from_nominal for at in supplied.burners}
    each = [step.result.predicted_gross_W * (1.0 + moved.get(step.burner.name, 0.0)) for step in steps]
    counts = [step.result.count for step in steps]
    spread = total_spread(
        [
            Share(
                heat_input_W=heat * count,
                count=count,
                discharge=step.discharge,
                drill=step.choice.tolerance,
                diameter_m=step.choice.diameter_m,
            )
            for heat, count, step in zip(each, counts, steps, strict=True)
        ]
    )
    aim = sum(step.result.aim_gross_W * step.result.count for step in steps)
    heat = sum(heat * count for heat, count in zip(each, counts, strict=True))
    evidence = rests_on([step.discharge for step in steps], None if supplied is None else supplied.evidence)
    case: Case = NOMINAL if supplied is None else "all on"
    found = headline(case, heat, aim, spread, job.tolerance, evidence)
    if supplied is not None:
        return replace(found, deviation_all_on=found.deviation)
    is_open = job.new_train.train is not None
    return replace(found, verdict=Verdict.NOT_EVALUATED) if is_open else found


def worse(first: Headline, second: Headline, band: Tolerance) -> Headline:
    """The one with the worse verdict, then the one nearer to leaving the band or farther beyond it."""

    def room(headline: Headline) -> float:
        return min(headline.deviation - band.low, band.high - headline.deviation)

    return min(first, second, key=lambda headline: (headline.verdict.rank, room(headline)))


def rests_on(discharges: Sequence[Discharge], supply: Evidence | None) -> Evidence:
    """The weakest of the discharge coefficients and of the supply, where one is described.

    The gas and the pressure are those of the job; the coefficient is what a heat input has to be believed for.

    >>> from burnerlab.orifice import coefficient_for
    >>> tapered = [coefficient_for("tapered")]
    >>> rests_on(tapered, None).value, rests_on(tapered, Evidence.ESTIMATE).value
    ('recalled', 'estimate')
    """
    found = [discharge.evidence for discharge in discharges]
    return weakest(*found, *(() if supply is None else (supply,)))
