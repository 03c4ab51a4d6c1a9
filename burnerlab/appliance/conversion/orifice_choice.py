"""The orifice of every burner: the nearest that holds the band at the nominal pressure and on the supply.

The supply couples the burners: what one passes takes pressure from all. Each starts with the orifice nearest at the
nominal pressure. Where the supply, solved with these, leaves a burner outside its band, the bores that would hold it
follow from the solution (heat input goes with the area), and the nearest orifice among them is taken; then the supply
is solved anew. A burner for which there is none keeps the nearest, which is then refused (``refusal``).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from typing import NamedTuple

from burnerlab.appliance.conversion.burner_conversion import (
    Mark,
    choices_between,
    convert_burners,
    mark_of,
    merit,
)
from burnerlab.appliance.conversion.job import Job, prepare, second_target
from burnerlab.appliance.conversion.result import Step
from burnerlab.appliance.memory import REMEMBERED, InputKey, appliance_key, gas_key, of_orifices
from burnerlab.appliance.operation.operate import solved_inputs_gross_W
from burnerlab.appliance.project.model import Appliance, Orifice
from burnerlab.orifice.drill import OWN, Drill, hole_name
from burnerlab.tables.problem import UserError

MOST_ROUNDS = 6  # of orifices and supply; each takes orifices for burners that the one before left outside


class BoreRange(NamedTuple):
    """Bores of a burner, from the least to the largest [m]; the first larger: none."""

    low_m: float
    high_m: float

    def both(self, other: BoreRange) -> BoreRange:
        """The bores in this range and in another."""
        return BoreRange(max(self.low_m, other.low_m), min(self.high_m, other.high_m))


def steps_of(job: Job) -> tuple[Step, ...]:
    """Every burner of a job changed, in the order of the file; the same inputs are remembered."""
    return _steps(job, _other_marks(job.reference or job))


def _steps(job: Job, marks: Mapping[str, Mark]) -> tuple[Step, ...]:
    """The burners with the nearest orifice each, or that which is taken."""
    bare, burners = of_orifices(job.appliance), job.appliance.burners
    shared, each = _key(job), [marks.get(burner.name) for burner in burners]
    return tuple(
        REMEMBERED.recall_each(
            [
                InputKey(convert_burners, shared, burner, mark)
                for burner, mark in zip(burners, each, strict=True)
            ],
            lambda places: convert_burners(
                job.of(bare), [burners[place] for place in places], [each[place] for place in places]
            ),
        )
    )


def as_built_steps(job: Job, steps: Sequence[Step]) -> tuple[Step, ...]:
    """The steps of a job with the orifices that stand in the file; a burner without one keeps that of its step."""
    own = {
        step.burner.name: own_drill(step.burner.orifice)
        for step in steps
        if not step.burner.orifice.is_calculated
    }
    burners = [step.burner for step in steps if step.burner.name in own]
    marks = [(own[burner.name].name, "") for burner in burners]
    built = {one.burner.name: one for one in convert_burners(_offering(job, own.values()), burners, marks)}
    return tuple(built.get(step.burner.name, step) for step in steps)


def own_drill(orifice: Orifice) -> Drill:
    """The orifice of a burner as a drill among others: by the name of its drill, else by its diameter.

    >>> own_drill(Orifice(diameter_m=0.823e-3)).name
    '0.823 mm'
    """
    name = hole_name(orifice.drill, orifice.diameter_m)
    return Drill(name=name, kind=OWN, diameter_m=orifice.diameter_m, source="the project file")


def _offering(job: Job, drills: Iterable[Drill]) -> Job:
    """A job, and that of the first gas of its couple, with drills among the orifices it takes from."""
    marks = {(one.name, one.part): one for one in (*job.drills, *drills)}
    offered = tuple(sorted(marks.values(), key=lambda drill: drill.diameter_m))
    reference = None if job.reference is None else _offering(job.reference, drills)
    return replace(job, drills=offered, reference=reference)


def _key(job: Job) -> InputKey:
    return InputKey(
        job.target, job.policy, gas_key(job.target.gas), appliance_key(of_orifices(job.appliance))
    )


def _other_marks(job: Job) -> Mapping[str, Mark]:
    """The orifices of a job that are not the nearest, by the names of their burners; remembered."""
    return REMEMBERED.recall(InputKey(_other_marks, _key(job), job.appliance.burners), lambda: _solved(job))


def _solved(job: Job) -> Mapping[str, Mark]:
    jobs = (job, *_second(job))
    marks: dict[str, Mark] = {}
    for _ in range(MOST_ROUNDS):
        made = [_steps(each, marks) for each in jobs]
        held = bores_on_supply(jobs, made)
        for each, steps in zip(jobs[1:], made[1:], strict=True):
            held = [one.both(_on_second(each, step)) for one, step in zip(held, steps, strict=True)]
        others = {
            step.burner.name: _nearest(job, step, bores) for step, bores in zip(made[0], held, strict=True)
        }
        changes = {name: mark for name, mark in others.items() if mark is not None}
        if not changes:
            break
        marks |= changes
    return marks


def _second(job: Job) -> tuple[Job, ...]:
    """The same on the second gas of a pressure couple, which burns through the same orifices."""
    target = second_target(job)
    with suppress(UserError):  # the conversion to the second gas names what cannot be used on it
        if target is not None:
            second, policy = prepare(job.appliance, target), job.policy.policy
            return (second if second.policy.policy == policy else second.under(policy or None),)
    return ()


def _nearest(job: Job, step: Step, bores: BoreRange) -> Mark | None:
    """The best orifice that holds the band with these bores; None where the one taken does, or there is none."""
    if bores.low_m <= step.choice.diameter_m <= bores.high_m:
        return None
    offers = choices_between(job, step.burner, step.sized, *bores)
    best = min(offers, key=lambda offer: merit(offer, job), default=None)
    return None if best is None else mark_of(best)


def bores_on_supply(jobs: Sequence[Job], made: Sequence[tuple[Step, ...]]) -> list[BoreRange]:
    """The bores of each burner that hold its band on the supply, the orifices of the others as they are.

    jobs : of one market, first gas first; made : the burners of each, all with the same orifices
    With every burner on the first gas stays in its band, with its kind alone below its high end. The second gas of a
    pressure couple may give less than its aim, but no more than the band above it.
    """
    found = [BoreRange(0.0, math.inf)] * len(made[0])
    for job, steps in zip(jobs, made, strict=True):
        each = _on_supply(job, steps, is_second=job is not jobs[0])
        found = [one.both(other) for one, other in zip(found, each, strict=True)]
    return found


def _on_supply(job: Job, steps: Sequence[Step], *, is_second: bool) -> list[BoreRange]:
    solved, band = solved_inputs_gross_W(changed_by(job, steps)), job.tolerance
    if solved is None:
        return [BoreRange(0.0, math.inf)] * len(steps)
    return [
        BoreRange(
            low_m=0.0 if is_second else _bore_m(step, (1.0 + band.low) * step.result.aim_gross_W, together_W),
            high_m=_bore_m(step, (1.0 + band.high) * step.result.aim_gross_W, max(together_W, alone_W)),
        )
        for step, (together_W, alone_W) in zip(steps, solved, strict=True)
    ]


def _on_second(job: Job, step: Step) -> BoreRange:
    """At the nominal pressure of the second gas, against the rating where its orifice gives less than that."""
    share = (1.0 + step.choice.deviation) * job.couple_factor
    return BoreRange(0.0, _bore_m(step, 1.0 + job.tolerance.high, share))


def _bore_m(step: Step, target_W: float, heat_W: float) -> float:
    """The bore for a heat input from that of the orifice taken; infinite where nothing comes through."""
    return step.choice.diameter_m * math.sqrt(target_W / heat_W) if heat_W > 0.0 else math.inf


def changed_by(job: Job, steps: Sequence[Step], *, exact: bool = False) -> Appliance:
    """The appliance after a job from the burners it has."""
    appliance, target, site = job.appliance, job.target, job.new_site
    burners = []
    for step in steps:
        burner, diameter, drill = step.burner, step.choice.diameter_m, step.choice.drill
        if exact:
            diameter, drill = step.sized.diameter_m, ""
        orifice = replace(burner.orifice, diameter_m=diameter, drill=drill, is_calculated=False)
        if target.coefficient is not None:
            orifice = replace(
                orifice, coefficient=target.coefficient, coefficient_low=None, coefficient_high=None
            )
        burners.append(replace(burner, orifice=orifice))
    supply = replace(
        appliance.supply,
        gas=target.gas,
        gauge_pressure_Pa=target.gauge_pressure_Pa,
        low_gauge_pressure_Pa=job.pressures.low_Pa,
        high_gauge_pressure_Pa=job.pressures.high_Pa,
        altitude_m=site.altitude_m,
        ambient_pressure_Pa=site.ambient_pressure_Pa,
        gas_temperature_K=site.gas_temperature_K,
        allow_high_pressure=appliance.supply.allow_high_pressure or target.allow_high_pressure,
        train=job.new_train.train,
    )
    limits = replace(
        appliance.limits,
        altitude_policy=job.policy.policy or None,
        couple_factor=job.couple_factor,
        tolerance=job.tolerance,
        drills=target.drills or appliance.limits.drills,
    )
    tables = appliance.tables if target.drills is None else replace(appliance.tables, stock=None)
    return replace(appliance, supply=supply, burners=tuple(burners), limits=limits, tables=tables)
