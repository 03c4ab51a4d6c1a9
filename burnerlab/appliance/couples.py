"""Pressure couples: one orifice for two gases, sized on the reference gas; what both burn through it."""

from __future__ import annotations

from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.gasfacts import GasFacts, facts
from burnerlab.appliance.pressures import SupplyPressure, is_of_region, supply_pressures
from burnerlab.appliance.result import Couple, CoupleInput, Step
from burnerlab.appliance.steps import flow_through
from burnerlab.gas import load
from burnerlab.orifice.flow import OrificeFlow


def couple_in(job: Job, steps: tuple[Step, ...]) -> Couple | None:
    """The heat inputs of both gases of the job's couple; None where gas and pressure belong to none.

    job : from ``prepare``; steps : its burners, worked out
    """
    couple = job.couple
    if couple is None:
        return None
    on_reference = job.reference is None
    reference = (job.new.gas.name, job.target.gauge_pressure_Pa)
    other = (job.new.gas.name, job.target.gauge_pressure_Pa)
    if on_reference:
        second, row = facts(load(couple.other.reference_gas), job.target.reference), couple.other
        other = (second.gas.name, row.nominal_Pa)
    else:
        second, row = facts(load(couple.reference.reference_gas), job.target.reference), couple.reference
        reference = (second.gas.name, row.nominal_Pa)
    ratios = (job.new.net_to_gross, second.net_to_gross)[:: 1 if on_reference else -1]
    return Couple(
        nominal=couple.nominal,
        category=couple.category,
        reference_gas=reference[0],
        reference_gauge_pressure_Pa=reference[1],
        other_gas=other[0],
        other_gauge_pressure_Pa=other[1],
        reference_net_to_gross=ratios[0],
        other_net_to_gross=ratios[1],
        inputs=tuple(_input(job, step, second, row, on_reference=on_reference) for step in steps),
        source=couple.source,
    )


def unmatched(job: Job) -> str:
    """That no supply pressure of the category, or of the file's region, fits gas and pressure; "" where one does."""
    if job.supply is not None or not (job.target.category or job.appliance.region):
        return ""
    rows = supply_pressures(job.appliance.tables.supply_pressures)
    gas, at = job.new.gas.name, f"{job.target.gauge_pressure_Pa / 100:.3g} mbar"
    if job.target.category:
        category = job.target.category
        return f"Category {category} has no pressure for {gas} at {at}: no range and no couple of it is used here."
    region = job.appliance.region
    known = {row.nominal_Pa for row in rows if is_of_region(row, region) and row.family in job.new.families}
    if not known:
        return ""
    listed = ", ".join(f"{value / 100:.3g}" for value in sorted(known))
    return f"{at} is no supply pressure of {gas} in region {region} (known: {listed} mbar): no range is used here."


def _input(job: Job, step: Step, second: GasFacts, row: SupplyPressure, *, on_reference: bool) -> CoupleInput:
    here = step.choice.flow
    there = flow_through(
        job,
        second,
        step.choice.diameter_m,
        job.conditions(row.nominal_Pa),
        step.sized.law,
        step.burner.orifice.count,
    )
    reference, other = (here, there) if on_reference else (there, here)
    return CoupleInput(
        burner=step.burner.name,
        reference_gross_W=reference.heat_input_gross_W,
        reference_deviation=_deviation(job, step, reference),
        other_gross_W=other.heat_input_gross_W,
        other_deviation=_deviation(job, step, other),
    )


def _deviation(job: Job, step: Step, flow: OrificeFlow) -> float:
    return flow.heat_input_W(job.appliance.rating) / step.sized.heat_input_W - 1.0
