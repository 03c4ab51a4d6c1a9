"""The headlines of a conversion once its supply is solved: what each burner will burn, and all together."""

from __future__ import annotations

from dataclasses import replace

from burnerlab.appliance.assemble import summed
from burnerlab.appliance.conversion.evaluation_result import PressureAt, Pressures
from burnerlab.appliance.conversion.headline import as_supplied, total
from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.findings import HEAT_INPUT, TOTAL, of_headline
from burnerlab.appliance.result import Conversion, Finding, Headline, Step


def with_headlines(c: Conversion, supplied: Pressures | None) -> Conversion:
    """The conversion with the headline of every burner, and of all together, at the pressures that reach them.

    Its findings on the heat input follow; without pressures it is returned as it is.
    """
    job = c.job
    if supplied is None or job is None:
        return c
    at = {one.burner: one for one in supplied.burners}
    steps = tuple(_headed(job, step, at[step.burner.name], supplied) for step in c.steps)
    heads = {step.burner.name: step.result.headline for step in steps}
    whole = total(job, steps, supplied)
    burners = tuple(step.result for step in steps)
    return replace(
        c,
        burners=burners,
        total_mass_flow_kg_per_s=summed(burners, lambda burner: burner.mass_flow_kg_per_s),
        total_volume_flow_m3_per_s=summed(burners, lambda burner: burner.volume_flow_m3_per_s),
        headline=whole,
        steps=steps,
        findings=tuple(_headline_finding(job, found, heads, whole, at) for found in c.findings),
    )


def _headed(job: Job, step: Step, at: PressureAt, supplied: Pressures) -> Step:
    """The burner at the pressures that reach it: gas and air are what it takes with every burner on."""
    found, moved = step.result, 1.0 + at.all_on_from_nominal

    def times(value: float | None) -> float | None:
        return None if value is None else value * moved

    return replace(
        step,
        result=replace(
            found,
            headline=as_supplied(job, step, at, supplied.evidence),
            mass_flow_kg_per_s=found.mass_flow_kg_per_s * moved,
            volume_flow_m3_per_s=found.volume_flow_m3_per_s * moved,
            to_air_kg_per_s=times(found.to_air_kg_per_s),
            to_air_m3_per_s=times(found.to_air_m3_per_s),
        ),
    )


def _headline_finding(
    job: Job, found: Finding, heads: dict[str, Headline], whole: Headline, at: dict[str, PressureAt]
) -> Finding:
    """The finding of a heat input as supplied; any other as it is."""
    if found.topic == TOTAL:
        text = (
            f"every burner on: {whole.heat_input_gross_W / 1e3:.4g} kW gross, {100 * whole.deviation:+.1f} %"
        )
        return of_headline(TOTAL, whole, job, text)
    if found.topic != HEAT_INPUT or not found.burner:
        return found
    head = heads[found.burner]
    return of_headline(HEAT_INPUT, head, job, _words(head, at[found.burner]), burner=found.burner)


def _words(head: Headline, at: PressureAt) -> str:
    """Both cases with the pressure before the orifice."""
    all_on, alone = head.deviation_all_on or 0.0, head.deviation_alone
    together = f"every burner on {100 * all_on:+.1f} % at {at.gauge_pressure_all_on_Pa / 1e3:.3g} kPa"
    if alone is None or at.gauge_pressure_alone_Pa is None:
        return f"{together}; alone not evaluated"
    return f"{together}, alone {100 * alone:+.1f} % at {at.gauge_pressure_alone_Pa / 1e3:.3g} kPa"
