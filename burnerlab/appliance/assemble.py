"""Put the burners of a conversion together: totals, findings, words and sources."""

from __future__ import annotations

from collections.abc import Callable

from burnerlab.appliance.altitude_policies import altitude_of
from burnerlab.appliance.conversion.headline import total
from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.couples import couple_in, unmatched
from burnerlab.appliance.findings import findings
from burnerlab.appliance.pressures import couples_beside
from burnerlab.appliance.prompts import cited_rows, not_evaluated, prompts
from burnerlab.appliance.result import BurnerConversion, Conversion, Step
from burnerlab.appliance.steps import convert_burner
from burnerlab.appliance.worked import worked
from burnerlab.tables import cite, figure


def assemble(job: Job, steps: tuple[Step, ...], version: str) -> Conversion:
    """The conversion of a job from its steps."""
    appliance, site = job.appliance, job.new_site
    burners = tuple(step.result for step in steps)
    return Conversion(
        appliance=appliance.name,
        model=appliance.model,
        rating_basis=appliance.rating,
        file=appliance.file,
        file_sha256=appliance.file_sha256,
        version=version,
        reference=job.target.reference.words(),
        from_gas=job.old.used,
        to_gas=job.new.used,
        from_gauge_pressure_Pa=appliance.supply.gauge_pressure_Pa,
        to_gauge_pressure_Pa=job.target.gauge_pressure_Pa,
        to_gauge_pressure_low_Pa=job.pressures.low_Pa,
        to_gauge_pressure_high_Pa=job.pressures.high_Pa,
        pressure_range_source=job.pressures.source,
        category=job.supply.category if job.supply else "",
        altitude_m=site.altitude_m,
        ambient_pressure_Pa=site.ambient_pressure_Pa,
        from_altitude_m=job.old_site.altitude_m,
        from_ambient_pressure_Pa=job.old_site.ambient_pressure_Pa,
        gas_temperature_K=site.gas_temperature_K,
        altitude_policy=job.policy.policy or None,
        altitude=altitude_of(job, steps),
        pressure_couple=couple_in(job, steps),
        pressure_couples_beside=()
        if job.target.category
        else couples_beside(job.supply, job.new.families, appliance.tables.supply_pressures),
        region=appliance.region,
        altitude_policy_factor=job.policy.factor,
        tolerance=job.tolerance.high,
        tolerance_low=job.tolerance.low,
        tolerance_source=job.tolerance.source,
        drill_list=job.drill_words,
        supply_of_new_gas=job.new_train.words,
        burners=burners,
        headline=total(job, steps),
        total_rate_gross_W=summed(burners, lambda burner: burner.rate_gross_W),
        total_predicted_gross_W=summed(burners, lambda burner: burner.predicted_gross_W),
        total_predicted_net_W=summed(burners, lambda burner: burner.predicted_net_W),
        total_mass_flow_kg_per_s=summed(burners, lambda burner: burner.mass_flow_kg_per_s),
        total_volume_flow_m3_per_s=summed(burners, lambda burner: burner.volume_flow_m3_per_s),
        findings=findings(job, steps),
        not_evaluated=not_evaluated(job, steps),
        prompts=prompts(job, steps),
        worked=worked(*_sized(job, steps[0])),
        sources=sources(job, steps),
        notes=notes(job, steps),
        assumed_primary_aeration=figure("conversion_figures", "primary_aeration").value,
        job=job,
        steps=steps,
    )


def _sized(job: Job, step: Step) -> tuple[Job, Step]:
    """The job and the burner its orifice was sized in: of a pressure couple on the reference gas."""
    if job.reference is None:
        return job, step
    return job.reference, convert_burner(job.reference, step.burner)


def summed(burners: tuple[BurnerConversion, ...], of: Callable[[BurnerConversion], float]) -> float:
    """A figure of one burner, summed over all of them."""
    return sum(of(burner) * burner.count for burner in burners)


def sources(job: Job, steps: tuple[Step, ...]) -> tuple[str, ...]:
    """Every publication and table cited in the result, one line each."""
    flows = [step.choice for step in steps]
    cited = [
        *(
            f"{facts.gas.name}: {cite(facts.gas.source)} ({facts.gas.provenance})"
            for facts in (job.old, job.new)
        ),
        f"heat input band: {job.tolerance.source}",
        *(f"discharge coefficient: {step.result.coefficient_source}" for step in steps),
        *(f"supply pressure: {job.pressures.source}" for _ in (1,) if job.pressures.source),
        *(f"pressure couple: {job.couple.source}" for _ in (1,) if job.couple),
        *(
            f"drill tolerance: {cite(choice.tolerance.source)} ({choice.tolerance.provenance})"
            for choice in flows
        ),
        f"altitude policy {job.policy.policy or 'not chosen'}: {cite(job.policy.source)} ({job.policy.provenance})",
        *(f"gas family: {cite(group.source)} ({group.provenance})" for group in job.new.groups[:1]),
        f"primary air: {cite('appliance-entrainment')}",
        *(f"what else to look at: {cite(source)}" for source in cited_rows()),
    ]
    return tuple(dict.fromkeys(cited))


def notes(job: Job, steps: tuple[Step, ...]) -> tuple[str, ...]:
    """Remarks of the models on their own figures."""
    said = [*filter(None, [unmatched(job)]), *job.old.notes, *job.new.notes]
    said += [note for step in steps for note in (*step.choice.flow.notes, *step.discharge.notes)]
    return tuple(dict.fromkeys(said))
