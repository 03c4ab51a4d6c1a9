"""One burner converted: exact orifice, drills beside it, primary air, and the formulas worked through.

The jet drags air in by its momentum. With r = air per gas by volume and sigma = relative density of the gas,
the momentum balance of the mixing tube is (1 + r)(1 + r/sigma) A_jet G = 1, where G holds only throat, ports,
losses and their temperatures. G stays when the gas changes, so (1 + r)(1 + r/sigma) A_jet stays, whatever the
burner looks like; only the primary aeration before the change has to be assumed. A throttled air inlet breaks
this: where throat, ports and shutter are known, ``burner_aerations`` calculates both instead.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from burnerlab.appliance.conversion.gas_facts import GasFacts
from burnerlab.appliance.conversion.headline import at_nominal
from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.conversion.result import BurnerConversion, DrillChoice, Step, WorkedStep
from burnerlab.appliance.memory import REMEMBERED, InputKey, gas_key, tables_key
from burnerlab.appliance.project.model import Burner, Orifice, OwnTables
from burnerlab.burner.burner import (
    BurnerFuel,
    BurnerGeometry,
    EvaluationOptions,
    Surroundings,
    burner_fuel,
    joined_fuels,
    joined_geometry,
)
from burnerlab.burner.coefficients import Numbers
from burnerlab.burner.primary_air import PrimaryAir, jet_of, primary_air
from burnerlab.gas import DeclaredGas, Gas
from burnerlab.orifice.discharge_coefficient import (
    Coefficient,
    Discharge,
    ShapeLaw,
    own_coefficient,
    shape_named,
)
from burnerlab.orifice.drill import Drill
from burnerlab.orifice.flow import Conditions, OrificeFlow, through_bore
from burnerlab.orifice.size import (
    OrificeChoice,
    SizedOrifice,
    choice_of,
    choices_near,
    no_drill_meets,
    size_from,
)
from burnerlab.tables import cite, figure
from burnerlab.tables.problem import Problem, UserError

# What a change of gas and orifice does to the primary air of a burner that is otherwise left as it is.


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """What decides how much air a jet draws into a given burner; each field a float or an array."""

    stoichiometric_air: ArrayLike  # volume per volume of gas
    relative_density: ArrayLike
    jet_area_m2: ArrayLike  # discharge coefficient times the area of the holes


def aeration_after(aeration: ArrayLike, before: Drawing, after: Drawing) -> Any:
    """Primary aeration once the gas and orifice are changed and nothing else is.

    (1 + r2)(1 + r2/sigma2) = (1 + r1)(1 + r1/sigma1) A1/A2, r = a A_stoich

    aeration : primary air over stoichiometric air before [-]
    Returns the same ratio after [-]; 0 when the new jet draws no air. Range: subcritical jets.
    Source: appliance-entrainment.

    >>> natural = Drawing(stoichiometric_air=9.6, relative_density=0.6, jet_area_m2=1.60**2)
    >>> propane = Drawing(stoichiometric_air=23.87, relative_density=1.55, jet_area_m2=1.0145**2)
    >>> float(aeration_after(0.637, natural, propane))
    0.68
    """
    r = np.multiply(aeration, before.stoichiometric_air)
    group = (1 + r) * (1 + r / np.asarray(before.relative_density))
    group = group * np.asarray(before.jet_area_m2) / np.asarray(after.jet_area_m2)
    sigma = np.asarray(after.relative_density)
    root = np.sqrt((1 + sigma) ** 2 + 4 * sigma * np.maximum(group - 1, 0))
    return (root - (1 + sigma)) / 2 / np.asarray(after.stoichiometric_air)


# A burner of the project file as the geometry the room of burners works on.

NO_PORTS = "the ports of the burner are not given"


def geometry(burner: Burner, flow: OrificeFlow, discharge: Discharge) -> BurnerGeometry:
    """The geometry of a burner with the orifice of a flow, whose coefficient and its spread ``discharge`` holds.

    Raises ValueError for a burner without ports.
    """
    made = geometry_with(burner, flow.diameter_m, flow.count, flow.coefficient)
    return replace(made, orifice_coefficient_low=discharge.low, orifice_coefficient_high=discharge.high)


def geometry_with(
    burner: Burner, orifice_diameter_m: Numbers, orifice_count: Numbers, orifice_coefficient: Numbers
) -> BurnerGeometry:
    """The geometry of a burner with another orifice, or with several as arrays [m, -, -].

    Raises ValueError for a burner without ports.
    """
    ports, shutter = burner.ports, burner.shutter
    if ports is None:
        raise ValueError(NO_PORTS)
    return BurnerGeometry(
        port_width_m=ports.diameter_m,
        port_count=ports.count,
        port_depth_m=ports.depth_m,
        slot_length_m=ports.slot_length_m,
        port_pitch_m=ports.pitch_m,
        port_rows=ports.rows,
        row_pitch_m=ports.row_pitch_m,
        port_discharge=ports.discharge,
        port_temperature_K=ports.temperature_K,
        orifice_diameter_m=orifice_diameter_m,
        orifice_count=orifice_count,
        orifice_coefficient=orifice_coefficient,
        throat_m=burner.throat_m,
        tube_loss=burner.tube_loss,
        tube_length_m=burner.tube_length_m,
        shutter_area_m2=None if shutter is None else shutter.full_area_m2,
        shutter_opening=1.0 if shutter is None else shutter.opening,
        inlet_loss=None if shutter is None else shutter.loss,
    )


@lru_cache(maxsize=64)
def air_figures(gas: Gas) -> BurnerFuel:
    """The figures of a gas that its primary air needs, found once."""
    return burner_fuel(gas)


class BurnerFlow(NamedTuple):
    """A burner on a gas with the flow through its orifice and the coefficient of that flow."""

    burner: Burner
    gas: GasFacts
    flow: OrificeFlow
    discharge: Discharge


def burner_aerations(cases: Sequence[BurnerFlow], own: OwnTables) -> list[float | None]:
    """Primary aeration that burners draw as built, shutter as in the file [-]; burners alike in one call.

    None where throat or ports are not given, for a gas without composition, and where ``primary_air`` tells none.
    """
    results: list[float | None] = [None] * len(cases)
    geometries = {
        place: geometry(case.burner, case.flow, case.discharge)
        for place, case in enumerate(cases)
        if case.burner.ports is not None
        and case.burner.throat_m is not None
        and not isinstance(case.gas.gas, DeclaredGas)
    }
    alike: dict[tuple[object, ...], list[int]] = {}
    for place, each in geometries.items():
        at = cases[place].flow.conditions
        key = at.ambient_pressure_Pa, at.gas_temperature_K, each.pattern
        alike.setdefault(key, []).append(place)
    for places in alike.values():
        air = _air_of([geometries[place] for place in places], [cases[place] for place in places], own)
        for place, aeration in zip(places, air.aeration.tolist(), strict=True):
            results[place] = None if math.isnan(aeration) else aeration
    return results


def _air_of(geometries: Sequence[BurnerGeometry], cases: Sequence[BurnerFlow], own: OwnTables) -> PrimaryAir:
    """Primary air of burners in one place that leave out the same parts."""
    at, table = cases[0].flow.conditions, own.burner_coefficients
    place = Surroundings(
        ambient_pressure_Pa=at.ambient_pressure_Pa,
        gas_temperature_K=at.gas_temperature_K,
        air_temperature_K=at.gas_temperature_K,
    )
    heat_W = np.array([case.flow.heat_input_gross_W for case in cases])
    gauge_Pa = np.array([case.flow.conditions.gauge_pressure_Pa for case in cases])
    fuel = joined_fuels([air_figures(case.gas.gas) for case in cases])
    return primary_air(
        joined_geometry(geometries),
        fuel,
        jet_of(fuel, heat_W, gauge_Pa, place, table),
        place,
        EvaluationOptions(own=table, band=False),
    )


# One burner: its exact orifice for the new gas, the drills beside it, and what the one taken gives.

MILLIMETRES = " mm"  # end of the name of a metric drill
WIDEST = 0.5  # of a bore from the exact one, beyond which no band of a heat input reaches
EACH_SIDE = 2  # drills offered below and above the exact orifice
Mark = tuple[str, str]
"""A drill and its part number, by which an orifice is known in its list."""


def law_of(orifice: Orifice, own: OwnTables) -> Coefficient:
    """The discharge coefficient of an orifice: the maker's own, the shape's constant, or the shape's law."""
    if orifice.coefficient is not None:
        return orifice.coefficient
    shape = shape_named(orifice.shape, own.discharge)
    return ShapeLaw(shape=shape, length_m=orifice.length_m) if shape.correlation else shape.coefficient


def discharge_of(orifice: Orifice, flow: OrificeFlow, coefficient: float | None, own: OwnTables) -> Discharge:
    """The coefficient used by a flow, with its source, spread and notes."""
    if coefficient is not None:
        return own_coefficient(coefficient)
    if orifice.coefficient is not None:
        return own_coefficient(orifice.coefficient, "the project file", orifice.coefficient_interval)
    shape = shape_named(orifice.shape, own.discharge)
    return ShapeLaw(shape=shape, length_m=orifice.length_m).at(flow.diameter_m, flow.reynolds)


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerOrifice:
    """The exact orifice of one burner, the drills near it and the one taken."""

    sized: SizedOrifice
    offered: tuple[OrificeChoice, ...]
    choice: OrificeChoice


def bore_of(job: Job, burner: Burner, mark: Mark | None = None) -> BurnerOrifice:
    """The orifice for the rating times the factor of the altitude policy, A = I/(n K eps H sqrt(2 rho1 dp)).

    Of the drills on both sides the one nearest in heat input is taken, one within the band before any other, or that
    of ``mark``. The second gas of a pressure couple gets the orifice of the first, whatever it then burns.
    """
    if job.reference is not None:
        return _bore_of_couple(job, burner, bore_of(job.reference, burner, mark))
    orifice, own = burner.orifice, job.appliance.tables
    sized = size_from(
        job.new.flowing.passing(job.new_conditions, job.combustion_K),
        burner.rate_W * job.policy.factor,
        job.appliance.rating,
        law_of(orifice, own) if job.target.coefficient is None else job.target.coefficient,
        orifice.count,
    )
    drills = _drills(job, burner)
    offered = choices_near(sized, drills, each_side=EACH_SIDE, tolerances=own.drill_tolerance)
    if mark is not None:
        return _with_choice(sized, offered, mark, drills, own)
    return BurnerOrifice(
        sized=sized, offered=offered, choice=min(offered, key=lambda offer: merit(offer, job))
    )


def _with_choice(
    sized: SizedOrifice,
    offered: tuple[OrificeChoice, ...],
    mark: Mark,
    drills: Sequence[Drill],
    own: OwnTables,
) -> BurnerOrifice:
    """The orifice taken, beside those on both sides of the exact bore, by rising diameter."""
    choice = next((offer for offer in offered if mark_of(offer) == mark), None)
    if choice is None:
        drill = next(each for each in drills if (each.name, each.part) == mark)
        choice = choice_of(sized, drill, own.drill_tolerance)
        offered = tuple(sorted((*offered, choice), key=lambda offer: offer.diameter_m))
    return BurnerOrifice(sized=sized, offered=offered, choice=choice)


def mark_of(choice: OrificeChoice) -> Mark:
    """By what an orifice is known in its list."""
    return choice.drill, choice.part


def choices_between(
    job: Job, burner: Burner, sized: SizedOrifice, low_m: float, high_m: float
) -> Iterator[OrificeChoice]:
    """The orifices offered with bores from one to another that hold the band at the nominal pressure."""
    band, own = job.tolerance, job.appliance.tables
    for drill in _drills(job, burner):
        if low_m <= drill.diameter_m <= high_m and _is_near(drill, sized):
            offer = choice_of(sized, drill, own.drill_tolerance)
            if band.low <= offer.deviation <= band.high:
                yield offer


def _is_near(drill: Drill, sized: SizedOrifice) -> bool:
    return abs(drill.diameter_m / sized.diameter_m - 1.0) < WIDEST


def _bore_of_couple(job: Job, burner: Burner, reference: BurnerOrifice) -> BurnerOrifice:
    """The orifice of the couple's reference gas with what it passes of the other one."""
    diameter, law = reference.sized.diameter_m, reference.sized.law
    sized = replace(
        reference.sized,
        heat_input_W=burner.rate_W * job.aim_factor,
        flow=flow_through(job, job.new, diameter, job.new_conditions, law, burner.orifice.count),
    )
    own = job.appliance.tables
    drills = _drills(job, burner)
    offered = choices_near(sized, drills, each_side=EACH_SIDE, tolerances=own.drill_tolerance)
    return _with_choice(sized, offered, mark_of(reference.choice), drills, own)


def _drills(job: Job, burner: Burner) -> tuple[Drill, ...]:
    """The orifices offered that have the burner's thread. Raises UserError where none has it."""
    thread = burner.orifice.thread
    if not thread and job.drills:
        return job.drills
    fitting = tuple(drill for drill in job.drills if drill.fits((thread,) if thread else ()))
    if not fitting:
        known = ", ".join(sorted({drill.thread for drill in job.drills}))
        key = f"burner {burner.name}, thread"
        raise UserError(Problem("no orifice of the stock has this thread", thread, key, accepted=known))
    return fitting


def convert_burners(job: Job, burners: Sequence[Burner], marks: Sequence[Mark | None]) -> list[Step]:
    """Burners of the job changed to the new gas, with the orifices of ``bore_of``; their air in one call a gas.

    marks : of each burner the orifice to take in place of the nearest, None for that
    """
    shared = _key_of_bores(job)
    sized = [_sized_step(job, burner, shared, mark) for burner, mark in zip(burners, marks, strict=True)]
    return [
        replace(step, result=_with_air(job, step, before, after))
        for step, (before, after) in zip(sized, _aerations(job, sized), strict=True)
    ]


def _key_of_bores(job: Job) -> InputKey:
    """What every orifice of a job depends on; the present gas and its supply are none of it."""
    target, appliance = job.target, job.appliance
    return InputKey(
        target,
        gas_key(target.gas),
        job.new_site,
        job.policy,
        job.tolerance,
        appliance.rating,
        appliance.region,
        appliance.limits,
        appliance.tables,
        tables_key(appliance.tables),
        None if job.reference is None else _key_of_bores(job.reference),
    )


def _sized_step(job: Job, burner: Burner, shared: InputKey, mark: Mark | None) -> Step:
    """A burner changed to the new gas, without its air; shared : of ``_key_of_bores``."""
    orifice, own = burner.orifice, job.appliance.tables
    sought = Burner(name=burner.name, kind=burner.kind, count=1, rate_W=burner.rate_W, orifice=orifice)

    def bore_with(other: Mark | None) -> BurnerOrifice:
        key = InputKey(bore_of, shared, sought, other)
        return REMEMBERED.recall(key, lambda: bore_of(job, sought, other))

    found = bore_with(mark)
    law = law_of(orifice, own)
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
        nearest=None if mark is None else bore_with(None).choice,
    )
    return replace(step, result=_with_range(job, step, offered))


def flow_through(
    job: Job, gas: GasFacts, diameter_m: float, conditions: Conditions, law: Coefficient, count: int
) -> OrificeFlow:
    """Flow of one of the job's gases, with heating values at the job's combustion temperature."""
    return through_bore(gas.flowing.passing(conditions, job.combustion_K), diameter_m, law, count)


def merit(offer: OrificeChoice, job: Job) -> tuple[bool, bool, float, float]:
    """By rising figure: within the band, of the region's series, nearest in heat input, the smaller.

    The smaller cannot overfire. In Europe a drill in millimetres goes before a number, letter or fraction where it
    holds the band with its tolerance and gives at most half of what the band allows above the rating.
    """
    low, high = job.tolerance.low, job.tolerance.high
    is_outside = not low <= offer.deviation <= high
    ends = (offer.drill_tolerance_low_gross_W, offer.drill_tolerance_high_gross_W)
    at_ends = [(1.0 + offer.deviation) * end / offer.heat_input_gross_W - 1.0 for end in ends]
    is_first = (
        job.appliance.region == "eu"
        and offer.drill.endswith(MILLIMETRES)
        and low <= min(at_ends)
        and max(*at_ends, 2.0 * offer.deviation) <= high
    )
    return is_outside, not is_first, abs(offer.deviation), offer.diameter_m


def offer_of(choice: OrificeChoice) -> DrillChoice:
    """A drill choice of the room of orifices as a row of a conversion."""
    return DrillChoice(
        drill=choice.drill,
        part=choice.part,
        diameter_m=choice.diameter_m,
        heat_input_gross_W=choice.heat_input_gross_W,
        heat_input_net_W=choice.heat_input_net_W,
        deviation=choice.deviation,
        drill_tolerance_low_gross_W=choice.drill_tolerance_low_gross_W,
        drill_tolerance_high_gross_W=choice.drill_tolerance_high_gross_W,
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
    basis, is_given = job.appliance.rating, not burner.orifice.is_calculated
    to_gross = job.new.used.gross_heating_value_J_per_kg / job.new.per_kg(basis)
    recalled = ", recalled" if discharge.provenance == "memory" else ""
    offer = offer_of(choice)
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
        from_orifice_m=burner.orifice.diameter_m if is_given else None,
        from_drill=burner.orifice.drill,
        from_predicted_gross_W=old_flow.heat_input_gross_W if is_given else None,
        from_rate_gross_W=burner.rate_W * job.old.used.gross_heating_value_J_per_kg / job.old.per_kg(basis),
        to_orifice_m=sized.diameter_m,
        choice=offer,
        choices=(offer,),
        no_drill_meets=_no_drill(job, sized, choice),
        exact_diameter_ratio=sized.diameter_m / burner.orifice.diameter_m if is_given else None,
        exact_area_ratio=sized.area_m2 / old_flow.area_m2 if is_given else None,
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


def _drill_lists(job: Job) -> tuple[str, ...]:
    """The lists of drills that the file or the job names: no other is proposed."""
    return job.appliance.drills if job.target.drills is None else job.target.drills


def _no_drill(job: Job, sized: SizedOrifice, choice: OrificeChoice) -> str:
    band = job.tolerance
    if band.low <= choice.deviation <= band.high or job.reference is not None:
        return ""
    tight = min(-band.low, band.high)  # below this no drill can be within an uneven band either
    return no_drill_meets(sized, job.drills, tight, _drill_lists(job)) or (
        f"no drill of the list comes within {100 * band.low:+g} to {100 * band.high:+g} %"
        f" ({choice.drill} gives {100 * choice.deviation:+.1f} %)"
    )


def _with_range(job: Job, step: Step, offered: tuple[OrificeChoice, ...]) -> BurnerConversion:
    """The same with every drill offered and the heat inputs at the ends of the supply pressure."""
    result, choice = step.result, step.choice

    def at(gauge_pressure_Pa: float | None) -> float | None:
        if gauge_pressure_Pa is None:
            return None
        law = step.sized.law
        conditions, count = job.conditions(gauge_pressure_Pa), step.burner.orifice.count
        return flow_through(job, job.new, choice.diameter_m, conditions, law, count).heat_input_gross_W

    return replace(
        result,
        choices=tuple(offer_of(offer) for offer in offered),
        predicted_low_gross_W=at(job.pressures.low_Pa),
        predicted_high_gross_W=at(job.pressures.high_Pa),
    )


def _with_air(job: Job, step: Step, before: float | None, after: float | None) -> BurnerConversion:
    """The same with the air both gases need, where both have a composition; before, after : primary aeration [-]."""
    old, new, result = job.old, job.new, step.result
    if old.air_kg_per_kg is None or new.air_kg_per_kg is None:
        return result
    from_kg = step.burner.rate_W / old.per_kg(job.appliance.rating) * old.air_kg_per_kg
    to_kg = result.mass_flow_kg_per_s * new.air_kg_per_kg
    old_volumes, new_volumes = old.used.stoichiometric_air_m3_per_m3, new.used.stoichiometric_air_m3_per_m3
    ratio = (new_volumes or math.nan) / (old_volumes or math.nan)
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
        primary_air_change=None if after is None else after / share,
    )


def _aerations(job: Job, steps: Sequence[Step]) -> list[tuple[float | None, float | None]]:
    """Primary aeration before and after, the shutter untouched: both calculated, or the second from an assumed first.

    The assumed one rests on a burner whose air inlet loses nothing; a throttled inlet is felt only by the calculation.
    None is assumed of a tile, which draws all its air as primary air.
    """
    if job.old.air_kg_per_kg is None or job.new.air_kg_per_kg is None:
        return [(None, None)] * len(steps)
    own, count = job.appliance.tables, len(steps)
    present = [
        BurnerFlow(
            step.burner, job.old, step.old_flow, discharge_of(step.burner.orifice, step.old_flow, None, own)
        )
        for step in steps
    ]
    new = [BurnerFlow(step.burner, job.new, step.choice.flow, step.discharge) for step in steps]
    each = burner_aerations([*present, *new], own)
    found = zip(steps, each[:count], each[count:], strict=True)
    return [(before, after) if before and after else _assumed(job, step) for step, before, after in found]


def _assumed(job: Job, step: Step) -> tuple[float | None, float | None]:
    """The aeration after from the one usually assumed before."""
    flow = step.choice.flow
    if step.old_flow.choked or flow.choked or step.burner.kind.traits.is_radiant:
        return None, None
    assumed = figure("conversion_figures", "primary_aeration").value
    aeration = aeration_after(assumed, drawing(job.old, step.old_flow), drawing(job.new, flow))
    return None, float(aeration)


def drawing(gas: GasFacts, flow: OrificeFlow) -> Drawing:
    """What the jet of a flow draws air in with."""
    return Drawing(
        stoichiometric_air=gas.used.stoichiometric_air_m3_per_m3 or math.nan,
        relative_density=gas.used.relative_density,
        jet_area_m2=flow.coefficient * flow.count * flow.area_m2,
    )


# One burner worked through: each formula, and the same with the numbers put in.

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
    if step.result.exact_diameter_ratio is None:
        return ()
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
