"""One burner worked through: each formula, and the same with the numbers put in."""

from __future__ import annotations

from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.result import Step, WorkedStep

Line = tuple[str, str, str]


def worked(job: Job, step: Step) -> tuple[WorkedStep, ...]:
    """The steps from the rating to the drill of one burner."""
    lines = (*_sizing(job, step), *_drilled(job, step), *_rule(job, step), *_air(job, step))
    return tuple(
        WorkedStep(what=f"{step.burner.name}: {what}" if i == 0 else what, formula=formula, numbers=numbers)
        for i, (what, formula, numbers) in enumerate(lines)
    )


def _sizing(job: Job, step: Step) -> tuple[Line, ...]:
    flow, basis = step.sized.flow, job.appliance.rating
    state = flow.conditions
    upstream, ambient, gauge = state.absolute_pressure_Pa, state.ambient_pressure_Pa, state.gauge_pressure_Pa
    rate, aim, heat = step.burner.rate_W, step.sized.heat_input_W, job.new.per_kg(basis)
    ratio = ambient / upstream
    k, eps, rho = flow.isentropic_exponent, flow.expansibility, flow.upstream_density_kg_per_m3
    area = step.sized.area_m2 * flow.count
    return (
        (
            "heat input the orifice is sized for",
            "I = rating × factor of the altitude policy",
            f"I = {rate:.5g} W × {job.policy.factor:.4f} = {aim:.5g} W {basis}",
        ),
        (
            "state ahead of the orifice",
            "p1 = p + p_ambient; τ = p_ambient / p1",
            f"p1 = {gauge:.5g} Pa + {ambient:.6g} Pa = {upstream:.6g} Pa; τ = {ratio:.5f}",
        ),
        (
            "density and isentropic exponent of the gas there",
            "ρ1 and κ at p1 and T",
            f"T = {state.gas_temperature_K:.2f} K: ρ1 = {rho:.5g} kg/m³, κ = {k:.4f}",
        ),
        (
            "expansibility of a converging nozzle",
            "ε² = τ^(2/κ) · κ/(κ−1) · (1 − τ^((κ−1)/κ)) / (1 − τ)"
            + (", with τ held at the critical ratio above the line" if flow.choked else ""),
            f"ε = {eps:.5f}",
        ),
        (
            "area of the holes together",
            "A = I / (K ε H √(2 ρ1 p))",
            f"A = {aim:.5g} / ({flow.coefficient:.4g} × {eps:.5f} × {heat:.5g} J/kg"
            f" × √(2 × {rho:.5g} × {gauge:.5g}))"
            f" = {1e6 * area:.4f} mm²",
        ),
        (
            "exact diameter",
            "d = √(4 A / (π n))",
            f"d = √(4 × {1e6 * area:.4f} / (π × {flow.count})) = {1e3 * step.sized.diameter_m:.4f} mm",
        ),
    )


def _drilled(job: Job, step: Step) -> tuple[Line, ...]:
    flow, choice, basis = step.choice.flow, step.choice, job.appliance.rating
    heat = choice.heat_input_gross_W if basis == "gross" else choice.heat_input_net_W
    return (
        (
            f"mass flow through {choice.drill}",
            "m = n K ε (π/4) d² √(2 ρ1 p)",
            f"m = {flow.count} × {flow.coefficient:.4g} × {flow.expansibility:.5f} × π/4"
            f" × ({1e3 * choice.diameter_m:.4f} mm)²"
            f" × √(2 × {flow.upstream_density_kg_per_m3:.5g} × {flow.conditions.gauge_pressure_Pa:.5g})"
            f" = {3.6e6 * flow.mass_flow_kg_per_s:.4g} g/h",
        ),
        (
            "heat input with this drill",
            "I = m H",
            f"I = {flow.mass_flow_kg_per_s:.5g} kg/s × {job.new.per_kg(basis):.5g} J/kg"
            f" = {heat:.5g} W {basis}",
        ),
        (
            "deviation",
            "I / I_aim − 1",
            f"{heat:.5g} / {step.sized.heat_input_W:.5g} − 1 = {100 * choice.deviation:+.2f} %",
        ),
    )


def _rule(job: Job, step: Step) -> tuple[Line, ...]:
    """The trade's conversion rule from the Wobbe indices, as a check on the orifice ratio."""
    old, new = job.old.used, job.new.used
    gross = job.appliance.rating == "gross"
    w1, w2 = (
        (old.gross_wobbe_J_per_m3, new.gross_wobbe_J_per_m3)
        if gross
        else (old.net_wobbe_J_per_m3, new.net_wobbe_J_per_m3)
    )
    p1, p2 = job.appliance.supply.gauge_pressure_Pa, job.target.gauge_pressure_Pa
    rule = (w1 / w2) ** 0.5 * (p1 / p2) ** 0.25
    makes = step.old_flow.heat_input_W(job.appliance.rating) / step.sized.heat_input_W
    return (
        (
            "conversion rule, as a check",
            "d2/d1 = √((W1/W2) √(p1/p2))",
            f"√({w1 / 1e6:.4g}/{w2 / 1e6:.4g} × √({p1:.5g}/{p2:.5g})) = {rule:.4f};"
            f" for the same heat input as now this sheet has {step.result.exact_diameter_ratio * makes**0.5:.4f}",
        ),
    )


def _air(job: Job, step: Step) -> tuple[Line, ...]:
    air = job.new.air_kg_per_kg
    if air is None or step.result.to_air_m3_per_s is None:
        return ()
    mass, density = step.result.mass_flow_kg_per_s, job.new.air_density_kg_per_m3
    return (
        (
            "air for complete combustion",
            "V = m a / ρ_air",
            f"V = {3600 * mass:.4g} kg/h × {air:.4g} kg/kg / {density:.4f} kg/m³"
            f" = {3600 * step.result.to_air_m3_per_s:.4g} m³/h",
        ),
    )
