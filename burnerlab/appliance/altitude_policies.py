"""What each altitude policy makes of every orifice at the place of a conversion."""

from __future__ import annotations

from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.result import Altitude, PolicyBore, PolicyRow, Step
from burnerlab.appliance.steps import bore_of
from burnerlab.orifice.altitude import (
    PolicyFactor,
    policy_factor,
    policy_names,
    sea_level_bore_factor,
)
from burnerlab.tables import cite
from burnerlab.tables.problem import UserError

LEAST_EFFECT = 0.005  # of the heat input, below which altitude is not worth a word


def altitude_of(job: Job, steps: tuple[Step, ...]) -> Altitude | None:
    """The bores for sea level beside those of every policy, or of the policy chosen; None where altitude does nothing.

    job : from ``prepare``; steps : its burners, worked out
    """
    site, gauge = job.new_site, job.target.gauge_pressure_Pa
    kept = float(sea_level_bore_factor(job.new.gas, gauge, site.ambient_pressure_Pa, site.gas_temperature_K))
    if 1.0 - kept < LEAST_EFFECT and job.policy.factor == 1.0:
        return None
    height = site.pressure_altitude_m
    if job.policy.policy:
        sea_level = _row(job.under(None))
        return Altitude(
            altitude_m=height, policy=job.policy.policy, sea_level=sea_level, rows=(_taken(job, steps),)
        )
    return Altitude(
        altitude_m=height,
        policy=None,
        sea_level=_taken(job, steps),
        rows=tuple(
            _named(job, name)
            for name in policy_names(job.appliance.tables.altitude_policies, job.appliance.region)
        ),
    )


def _named(job: Job, name: str) -> PolicyRow:
    """A policy of the table, which may say nothing at this altitude."""
    own = job.appliance.tables.altitude_policies
    try:
        return _row(job.under(name))
    except UserError as error:
        at_sea = policy_factor(name, 0.0, own)
        why = error.problems[0].what.partition("here: ")[2]
        return PolicyRow(
            policy=name, title=at_sea.title, factor=None, why=why, source=_source(at_sea), bores=()
        )


def _row(job: Job) -> PolicyRow:
    bores = []
    for burner in job.appliance.burners:
        found = bore_of(job, burner)
        bores.append(
            PolicyBore(
                burner=burner.name,
                diameter_m=found.sized.diameter_m,
                drill=found.choice.drill,
                drill_diameter_m=found.choice.diameter_m,
                deviation=found.choice.deviation,
            )
        )
    return _with(job.policy, tuple(bores))


def _taken(job: Job, steps: tuple[Step, ...]) -> PolicyRow:
    """The row of the job's own policy, with the bores it has."""
    bores = tuple(
        PolicyBore(
            burner=step.burner.name,
            diameter_m=step.sized.diameter_m,
            drill=step.choice.drill,
            drill_diameter_m=step.choice.diameter_m,
            deviation=step.choice.deviation,
        )
        for step in steps
    )
    return _with(job.policy, bores)


def _with(policy: PolicyFactor, bores: tuple[PolicyBore, ...]) -> PolicyRow:
    return PolicyRow(
        policy=policy.policy,
        title=policy.title,
        factor=policy.factor,
        why="",
        source=_source(policy),
        bores=bores,
    )


def _source(policy: PolicyFactor) -> str:
    recalled = ", recalled" if policy.provenance == "memory" else ""
    return f"{cite(policy.source)}{recalled}"
