"""Change an appliance to another gas: an orifice for every burner, and what follows from it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Unpack

import burnerlab
from burnerlab.appliance.conversion.burner_conversion import flow_through, worked
from burnerlab.appliance.conversion.checks import (
    by_other_burners,
    cited_rows,
    findings,
    not_evaluated,
    prompts,
)
from burnerlab.appliance.conversion.gas_facts import AnyGas, GasFacts, facts
from burnerlab.appliance.conversion.headline import total
from burnerlab.appliance.conversion.job import Job, prepare, second_target
from burnerlab.appliance.conversion.orifice_choice import changed_by, steps_of
from burnerlab.appliance.conversion.result import (
    Altitude,
    BurnerConversion,
    Conversion,
    Couple,
    CoupleInput,
    PolicyBore,
    PolicyRow,
    Step,
)
from burnerlab.appliance.conversion.target import ConversionTarget, Options
from burnerlab.appliance.operation.supply_pressures import (
    SupplyPressure,
    couples_beside,
    is_for_gas,
    is_of_region,
    same_pressure,
    supply_pressures,
)
from burnerlab.appliance.project.model import Appliance
from burnerlab.gas.library import gas_of
from burnerlab.orifice.altitude import (
    PolicyFactor,
    height_words,
    policy_factor,
    policy_names,
    sea_level_bore_factor,
)
from burnerlab.orifice.flow import OrificeFlow
from burnerlab.orifice.size import size_from
from burnerlab.quantity import Quantity
from burnerlab.quantity.quantity_text import millibar, quantity_text
from burnerlab.tables import cite, figure
from burnerlab.tables.phrase import Phrase
from burnerlab.tables.problem import UserError

# Pressure couples: one orifice for two gases, sized on the reference gas; what both burn through it.


def couple_in(job: Job, steps: tuple[Step, ...]) -> Couple | None:
    """The heat inputs of both gases of the job's couple; None where gas and pressure belong to none.

    job : from ``prepare``; steps : its burners with their figures
    """
    couple = job.couple
    if couple is None:
        return None
    on_reference = job.reference is None
    reference = (job.new.gas.name, job.target.gauge_pressure_Pa)
    other = (job.new.gas.name, job.target.gauge_pressure_Pa)
    if on_reference:
        second, row = facts(couple.gas_of(couple.other), job.target.reference), couple.other
        other = (second.gas.name, row.nominal_Pa)
    else:
        second, row = facts(couple.gas_of(couple.reference), job.target.reference), couple.reference
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
    """That no supply pressure of the category, or of the file's region, fits gas and pressure; "" where one does.

    Where a regulator stands between, as of 4 in w.c. behind 7 in w.c., it is the inlet that has to be one.
    """
    if job.supply is not None or not (job.target.category or job.appliance.region):
        return ""
    rows = supply_pressures(job.appliance.tables.supply_pressures)
    gas, at = job.new.gas.words, millibar(job.target.gauge_pressure_Pa, ".3g")
    if job.target.category:
        return quantity_text(
            "Category {} has no pressure for {} at {}: no range and no couple of it is used here.",
            job.target.category,
            gas,
            at,
        )
    region = job.appliance.region
    known = {
        row.nominal_Pa
        for row in rows
        if is_of_region(row, region)
        and row.family in job.new.families
        and is_for_gas(row, job.target.gas.name)
    }
    train = job.new_train.train
    inlet_Pa = None if train is None else train.inlet_gauge_pressure_Pa
    if not known or (inlet_Pa is not None and any(same_pressure(inlet_Pa, nominal) for nominal in known)):
        return ""
    listed = quantity_text(
        ", ".join("{}" for _ in known), *(millibar(value, ".3g") for value in sorted(known))
    )
    return quantity_text(
        "{} is no supply pressure of {} in region {} (known: {}): no range is used here.",
        at,
        gas,
        region,
        listed,
    )


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
    low_m, high_m = bores_of_both(job, step, here, there)
    return CoupleInput(
        burner=step.burner.name,
        reference_gross_W=reference.heat_input_gross_W,
        reference_deviation=_deviation(job, step, reference),
        other_gross_W=other.heat_input_gross_W,
        other_deviation=_deviation(job, step, other),
        low_bore_m=low_m if low_m <= high_m else None,
        high_bore_m=high_m if low_m <= high_m else None,
    )


def bores_of_both(job: Job, step: Step, *flows: OrificeFlow) -> tuple[float, float]:
    """The least and the largest bore with which every gas gives an input in the band [m]; the first larger: none does.

    flows : through one orifice of the burner, on each of the gases at its nominal pressure
    """
    aim_W, band, count = step.burner.rate_W * job.policy.factor, job.tolerance, step.burner.orifice.count

    def bore_m(passing: OrificeFlow, share: float) -> float:
        rating = job.appliance.rating
        return size_from(passing, share * aim_W, rating, step.sized.law, count).diameter_m

    return (
        max(bore_m(each, 1.0 + band.low) for each in flows),
        min(bore_m(each, 1.0 + band.high) for each in flows),
    )


def _deviation(job: Job, step: Step, flow: OrificeFlow) -> float:
    return flow.heat_input_W(job.appliance.rating) / (step.burner.rate_W * job.policy.factor) - 1.0


# What each altitude policy makes of every orifice at the place of a conversion.

LEAST_EFFECT = 0.005  # of the heat input, below which altitude is not worth a word


def altitude_of(job: Job, steps: tuple[Step, ...]) -> Altitude | None:
    """The bores for sea level beside those of every policy, or of the policy chosen; None where altitude does nothing.

    job : from ``prepare``; steps : its burners with their figures
    """
    site, gauge = job.new_site, job.target.gauge_pressure_Pa
    kept = float(sea_level_bore_factor(job.new.gas, gauge, site.ambient_pressure_Pa, site.gas_temperature_K))
    if 1.0 - kept < LEAST_EFFECT and job.policy.factor == 1.0:
        return None
    height = site.pressure_altitude_m
    if job.policy.policy:
        sea_level = _row(job.under(None))
        return Altitude(
            altitude_m=height, policy=job.policy.policy, sea_level=sea_level, rows=(_policy_row(job, steps),)
        )
    return Altitude(
        altitude_m=height,
        policy=None,
        sea_level=_policy_row(job, steps),
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
    return _policy_row(job, steps_of(job))


def _policy_row(job: Job, steps: tuple[Step, ...]) -> PolicyRow:
    """The row of the policy of a job, with the bores of its burners."""
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


# Put the burners of a conversion together: totals, findings, words and sources.


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
        is_category_given=bool(job.target.category),
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
        couple_factor=job.couple_factor,
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
        calculation=worked(*_sized(job, steps[0])),
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
    return job.reference, next(one for one in steps_of(job.reference) if one.burner == step.burner)


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
        *(table.words() for table in job.appliance.tables.of_libraries),
    ]
    return tuple(dict.fromkeys(cited))


def notes(job: Job, steps: tuple[Step, ...]) -> tuple[str, ...]:
    """Remarks of the models on their own figures."""
    notes = [nearest_words(step, job) for step in steps if step.nearest is not None]
    notes += [*filter(None, [unmatched(job), low_altitude(job)]), *job.old.notes, *job.new.notes]
    notes += by_other_burners(steps)
    notes += [note for step in steps for note in (*step.choice.flow.notes, *step.discharge.notes)]
    return tuple(dict.fromkeys(notes))


LEAST_ALTITUDE_m = 3.1  # 10 ft: a place below it is written as sea level, 0; "6.000 ft" is no 6000 ft


def low_altitude(job: Job) -> str:
    """That an altitude of a few feet or metres may be thousands, written with a point; "" for any other."""
    height_m = job.new_site.altitude_m
    if height_m is None or not 0.0 < height_m < LEAST_ALTITUDE_m:
        return ""
    return Phrase(
        "Altitude {place}: were thousands meant? A point is a decimal mark. Orifices for sea level can overfire where "
        "a rule lowers the rating.",
        place=height_words(height_m),
    )


def nearest_words(step: Step, job: Job | None) -> str:
    """Why the orifice of a burner is not the nearest to its aim: the supply, or the other gas of its couple."""
    assert step.nearest is not None
    why = Phrase("leaves the band on the supply")
    if job is not None and job.couple is not None:
        why = (
            Phrase("leaves the band on the other gas of the couple")
            if job.new_train.train is None
            else Phrase("leaves the band on the other gas of the couple or on the supply")
        )
    return Phrase(
        "{burner}: {orifice} is taken. {nearest} is nearer to the aim ({deviation} %), but {why}.",
        burner=step.burner.name,
        orifice=step.choice.drill,
        nearest=step.nearest.drill,
        deviation=f"{100.0 * step.nearest.deviation:+.1f}",
        why=why,
    )


# Change an appliance to another gas: an orifice for every burner, and what follows from it.


def convert(
    appliance: Appliance, to_gas: AnyGas | str, gauge_pressure_Pa: Quantity, **options: Unpack[Options]
) -> Conversion:
    """Change an appliance to another gas and pressure; see ``convert_to``.

    appliance : from ``read_appliance``
    to_gas : a gas, or the name of one in the library
    gauge_pressure_Pa : nominal, at the manifold [Pa]
    options : the other fields of a ``ConversionTarget``
    Returns a Conversion. Raises UserError.

    >>> from burnerlab.appliance import demonstration
    >>> cart = convert(demonstration(), "propane", 2740.0)
    >>> all(-0.05 <= burner.deviation <= 0.05 for burner in cart.burners)
    True
    """
    return convert_to(
        appliance, ConversionTarget(gas=gas_of(to_gas), gauge_pressure_Pa=gauge_pressure_Pa, **options)
    )


def convert_to(appliance: Appliance, target: ConversionTarget) -> Conversion:
    """Change an appliance to what a ``ConversionTarget`` says.

    Each burner's orifice is sized for its rating times the factor of the altitude policy,
    A = I/(n K eps H sqrt(2 rho1 dp)). The drill nearest in heat input is taken that holds the band, at the nominal
    pressure and on the supply as it is described, with every burner on and with its kind alone.

    Returns a Conversion. Raises UserError for a pressure, altitude, gas, drill or policy that cannot be used.
    """
    job = prepare(appliance, target)
    return assemble(job, steps_of(job), burnerlab.__version__)


def other_of_couple(c: Conversion) -> Conversion | None:
    """The same appliance with the same orifices on the other gas of its pressure couple; None where there is none.

    >>> from burnerlab.appliance import demonstration
    >>> on_g31 = convert(demonstration(), "G31", "37 mbar", category="I3+")
    >>> other = other_of_couple(on_g31)
    >>> other.to_gas.name, [b.choice.drill for b in other.burners] == [b.choice.drill for b in on_g31.burners]
    ('G30', True)
    """
    job = c.job
    if job is None or job.couple is None:
        return None
    if job.reference is not None:
        return convert_to(job.appliance, job.reference.target)
    target = second_target(job)
    return None if target is None else convert_to(job.appliance, target)


def changed(appliance: Appliance, target: ConversionTarget, *, exact: bool = False) -> Appliance:
    """The appliance after the change: new gas, pressure and site, and the drills taken (or the exact orifices).

    Its rates are the rates of the file on the file's basis; its own range of supply pressure is the target's.

    >>> from burnerlab.appliance import demonstration, supplied
    >>> propane = ConversionTarget(gas=supplied("propane", 2740.0).gas, gauge_pressure_Pa=2740.0)
    >>> changed(demonstration(), propane).burners[0].orifice.drill
    '1.00 mm'
    """
    job = prepare(appliance, target)
    return changed_by(job, steps_of(job), exact=exact)


def built_for(appliance: Appliance, target: ConversionTarget) -> Appliance:
    """The appliance as a unit for the target is built: ``changed``, its rates those at the place of the target.

    A unit for 5000 ft under a rule of 4 % for 1000 ft is rated at 80 % of the file's rate: at the bench it is that
    rating that its heat input is held against.

    >>> from burnerlab.appliance import demonstration
    >>> gas = demonstration().supply.gas
    >>> high = ConversionTarget(gas=gas, gauge_pressure_Pa=1743.6, altitude_m=1524.0,
    ...                         altitude_policy="4-percent-from-sea-level")
    >>> built_for(demonstration(), high).burners[0].rate_W / demonstration().burners[0].rate_W
    0.8
    """
    job = prepare(appliance, target)
    return rated_at_place(job, changed_by(job, steps_of(job)))


def rated_at_place(job: Job, built: Appliance) -> Appliance:
    """A unit built by a job with the rates that its altitude rule, or its bore for sea level, leaves of the file's."""
    share, built = job.aim_factor, replace(built, as_in_file=job.appliance)
    if share == 1.0:
        return built
    burners = tuple(replace(burner, rate_W=burner.rate_W * share) for burner in built.burners)
    limits = replace(built.limits, rating_share=job.policy.factor, couple_factor=job.couple_factor)
    return replace(built, burners=burners, limits=limits)
