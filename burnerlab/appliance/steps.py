"""One burner: its exact orifice for the new gas, the drills beside it, and what the one taken gives."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from burnerlab.appliance.aeration import Drawing, aeration_after
from burnerlab.appliance.conversion.headline import at_nominal
from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.gasfacts import GasFacts
from burnerlab.appliance.geometry import drawn_aeration
from burnerlab.appliance.model import Burner, Orifice, OwnTables, Tolerance
from burnerlab.appliance.result import BurnerConversion, DrillChoice, Step
from burnerlab.orifice.coefficient import Coefficient
from burnerlab.orifice.discharge import Discharge, ShapeLaw, own_coefficient, shape_named
from burnerlab.orifice.flow import Conditions, OrificeFlow, flow
from burnerlab.orifice.size import OrificeChoice, SizedOrifice, choices_near, no_drill_meets, size
from burnerlab.tables import cite, figure

EACH_SIDE = 2  # drills offered below and above the exact orifice


def law_of(orifice: Orifice, own: OwnTables) -> Coefficient:
    """The discharge coefficient of an orifice: the maker's own, the shape's constant, or the shape's law."""
    if orifice.coefficient is not None:
        return orifice.coefficient
    shape = shape_named(orifice.shape, own.discharge)
    return ShapeLaw(shape=shape, length_m=orifice.length_m) if shape.correlation else shape.coefficient


def discharge_of(orifice: Orifice, flow: OrificeFlow, given: float | None, own: OwnTables) -> Discharge:
    """The coefficient used by a flow, with its source, spread and notes."""
    if given is not None:
        return own_coefficient(given)
    if orifice.coefficient is not None:
        return own_coefficient(orifice.coefficient, "the project file")
    shape = shape_named(orifice.shape, own.discharge)
    return ShapeLaw(shape=shape, length_m=orifice.length_m).at(flow.diameter_m, flow.reynolds)


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerOrifice:
    """The exact orifice of one burner, the drills near it and the one taken."""

    sized: SizedOrifice
    offered: tuple[OrificeChoice, ...]
    choice: OrificeChoice


def bore_of(job: Job, burner: Burner) -> BurnerOrifice:
    """The orifice for the rating times the factor of the altitude policy, A = I/(n K eps H sqrt(2 rho1 dp)).

    Of the drills on both sides the one nearest in heat input is taken, one within the band before any other. The
    second gas of a pressure couple gets the orifice of the first, whatever it then burns.
    """
    if job.reference is not None:
        return _bore_of_couple(job, burner, bore_of(job.reference, burner))
    orifice, own = burner.orifice, job.appliance.tables
    sized = size(
        job.new.flowing,
        burner.rate_W * job.policy.factor,
        job.appliance.rating,
        job.new_conditions,
        law_of(orifice, own) if job.target.coefficient is None else job.target.coefficient,
        orifice.count,
        combustion_temperature_K=job.combustion_K,
    )
    offered = choices_near(sized, job.drills, each_side=EACH_SIDE, tolerances=own.drill_tolerance)
    return BurnerOrifice(
        sized=sized, offered=offered, choice=min(offered, key=lambda offer: _merit(offer, job.tolerance))
    )


def _bore_of_couple(job: Job, burner: Burner, reference: BurnerOrifice) -> BurnerOrifice:
    """The orifice of the couple's reference gas with what it passes of the other one."""
    diameter, law = reference.sized.diameter_m, reference.sized.law
    sized = replace(
        reference.sized,
        heat_input_W=burner.rate_W * job.policy.factor,
        flow=flow_through(job, job.new, diameter, job.new_conditions, law, burner.orifice.count),
    )
    own = job.appliance.tables
    offered = choices_near(sized, job.drills, each_side=EACH_SIDE, tolerances=own.drill_tolerance)
    taken = next(offer for offer in offered if offer.drill == reference.choice.drill)
    return BurnerOrifice(sized=sized, offered=offered, choice=taken)


def convert_burner(job: Job, burner: Burner) -> Step:
    """A burner of the job changed to the new gas, with the orifice of ``bore_of``."""
    orifice, own = burner.orifice, job.appliance.tables
    law, found = law_of(orifice, own), bore_of(job, burner)
    sized, offered, choice = found.sized, found.offered, found.choice
    discharge = discharge_of(orifice, choice.flow, job.target.coefficient, own)
    old_flow = flow_through(job, job.old, orifice.diameter_m, job.old_conditions, law, orifice.count)
    step = Step(
        burner=burner,
        discharge=discharge,
        old_flow=old_flow,
        sized=sized,
        choice=choice,
        result=_sizes(job, burner, old_flow, sized, choice, discharge),
    )
    return replace(step, result=_with_air(job, step, _with_range(job, step, offered)))


def flow_through(
    job: Job, gas: GasFacts, diameter_m: float, conditions: Conditions, law: Coefficient, count: int
) -> OrificeFlow:
    """Flow of one of the job's gases, with heating values at the job's combustion temperature."""
    return flow(gas.flowing, diameter_m, conditions, law, count, combustion_temperature_K=job.combustion_K)


def _merit(offer: OrificeChoice, band: Tolerance) -> tuple[bool, float, float]:
    """Within the band first, then nearest in heat input, then the smaller, which cannot overfire."""
    return not band.low <= offer.deviation <= band.high, abs(offer.deviation), offer.diameter_m


def offer_of(choice: OrificeChoice, to_gross: float) -> DrillChoice:
    """A drill choice with its band in gross; ``to_gross`` is gross over the basis of the rating [-]."""
    return DrillChoice(
        drill=choice.drill,
        diameter_m=choice.diameter_m,
        heat_input_gross_W=choice.heat_input_gross_W,
        heat_input_net_W=choice.heat_input_net_W,
        deviation=choice.deviation,
        drill_tolerance_low_gross_W=choice.low_W * to_gross,
        drill_tolerance_high_gross_W=choice.high_W * to_gross,
    )


def _sizes(
    job: Job,
    burner: Burner,
    old_flow: OrificeFlow,
    sized: SizedOrifice,
    choice: OrificeChoice,
    discharge: Discharge,
) -> BurnerConversion:
    """The figures that need only the flows at the nominal pressures."""
    basis, old_area = job.appliance.rating, old_flow.area_m2
    to_gross = job.new.used.gross_heating_value_J_per_kg / job.new.per_kg(basis)
    recalled = ", recalled" if discharge.provenance == "memory" else ""
    taken = offer_of(choice, to_gross)
    return BurnerConversion(
        name=burner.name,
        kind=burner.kind,
        count=burner.count,
        rate_gross_W=burner.rate_W * to_gross,
        rate_net_W=burner.rate_W * to_gross * job.new.net_to_gross,
        aim_gross_W=sized.heat_input_W * to_gross,
        turndown=burner.turndown,
        coefficient=choice.flow.coefficient,
        coefficient_source=f"{discharge.shape or 'own value'}: {cite(discharge.source)}{recalled}",
        from_orifice_m=burner.orifice.diameter_m,
        from_drill=burner.orifice.drill,
        from_predicted_gross_W=old_flow.heat_input_gross_W,
        from_rate_gross_W=burner.rate_W * job.old.used.gross_heating_value_J_per_kg / job.old.per_kg(basis),
        to_orifice_m=sized.diameter_m,
        choice=taken,
        choices=(taken,),
        no_drill_meets=_no_drill(job, sized, choice),
        exact_diameter_ratio=sized.diameter_m / burner.orifice.diameter_m,
        exact_area_ratio=sized.area_m2 / old_area,
        predicted_gross_W=choice.heat_input_gross_W,
        predicted_net_W=choice.heat_input_net_W,
        predicted_low_gross_W=None,
        predicted_high_gross_W=None,
        drill_deviation=choice.deviation,
        headline=at_nominal(job, sized.heat_input_W * to_gross, choice, discharge),
        from_air_m3_per_s=None,
        to_air_m3_per_s=None,
        from_air_kg_per_s=None,
        to_air_kg_per_s=None,
        air_to_gas_ratio_change=None,
        primary_air_change=None,
        mass_flow_kg_per_s=choice.flow.mass_flow_kg_per_s,
        volume_flow_m3_per_s=choice.flow.mass_flow_kg_per_s / job.new.used.dry_gas_kg_per_m3,
        choked=choice.flow.choked,
        orifice_count=burner.orifice.count,
    )


def _no_drill(job: Job, sized: SizedOrifice, choice: OrificeChoice) -> str:
    band = job.tolerance
    if band.low <= choice.deviation <= band.high or job.reference is not None:
        return ""
    tight = min(-band.low, band.high)  # below this no drill can be within an uneven band either
    return no_drill_meets(sized, job.drills, tight) or (
        f"no drill of the list comes within {100 * band.low:+g} to {100 * band.high:+g} %"
        f" ({choice.drill} gives {100 * choice.deviation:+.1f} %)"
    )


def _with_range(job: Job, step: Step, offered: tuple[OrificeChoice, ...]) -> BurnerConversion:
    """The same with every drill offered and the heat inputs at the ends of the supply pressure."""
    result, choice = step.result, step.choice
    to_gross = result.rate_gross_W / step.burner.rate_W

    def at(gauge_pressure_Pa: float | None) -> float | None:
        if gauge_pressure_Pa is None:
            return None
        law = step.sized.law
        conditions, count = job.conditions(gauge_pressure_Pa), step.burner.orifice.count
        return flow_through(job, job.new, choice.diameter_m, conditions, law, count).heat_input_gross_W

    return replace(
        result,
        choices=tuple(offer_of(offer, to_gross) for offer in offered),
        predicted_low_gross_W=at(job.pressures.low_Pa),
        predicted_high_gross_W=at(job.pressures.high_Pa),
    )


def _with_air(job: Job, step: Step, result: BurnerConversion) -> BurnerConversion:
    """The same with the air both gases need, where both have a composition."""
    old, new = job.old, job.new
    if old.air_kg_per_kg is None or new.air_kg_per_kg is None:
        return result
    from_kg = step.burner.rate_W / old.per_kg(job.appliance.rating) * old.air_kg_per_kg
    to_kg = result.mass_flow_kg_per_s * new.air_kg_per_kg
    old_volumes, new_volumes = old.used.stoichiometric_air_m3_per_m3, new.used.stoichiometric_air_m3_per_m3
    ratio = (new_volumes or math.nan) / (old_volumes or math.nan)
    before, after = _aerations(job, step)
    share = before or figure("conversion_figures", "primary_aeration").value
    return replace(
        result,
        from_air_kg_per_s=from_kg,
        to_air_kg_per_s=to_kg,
        from_air_m3_per_s=from_kg / old.air_density_kg_per_m3,
        to_air_m3_per_s=to_kg / new.air_density_kg_per_m3,
        air_to_gas_ratio_change=ratio,
        primary_aeration_before=before,
        primary_aeration_after=after,
        primary_air_change=share / after if after else None,
    )


def _aerations(job: Job, step: Step) -> tuple[float | None, float | None]:
    """Primary aeration before and after, the shutter untouched: both calculated, or the second from an assumed first.

    The assumed one rests on a burner whose air inlet loses nothing; a throttled inlet is felt only by the calculation.
    None is assumed of a tile, which draws all its air as primary air.
    """
    own, flow = job.appliance.tables, step.choice.flow
    present = discharge_of(step.burner.orifice, step.old_flow, None, own)
    before = drawn_aeration(step.burner, job.old, step.old_flow, present, own)
    after = drawn_aeration(step.burner, job.new, flow, step.discharge, own)
    if before and after:
        return before, after
    if step.old_flow.choked or flow.choked or step.burner.kind.traits.is_radiant:
        return None, None
    assumed = figure("conversion_figures", "primary_aeration").value
    drawn = aeration_after(assumed, drawing(job.old, step.old_flow), drawing(job.new, flow))
    return None, float(drawn)


def drawing(gas: GasFacts, flow: OrificeFlow) -> Drawing:
    """What the jet of a flow draws air in with."""
    return Drawing(
        stoichiometric_air=gas.used.stoichiometric_air_m3_per_m3 or math.nan,
        relative_density=gas.used.relative_density,
        jet_area_m2=flow.coefficient * flow.count * flow.area_m2,
    )
