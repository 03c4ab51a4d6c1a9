"""The burners of an appliance on a gas: primary air, ports and the flame's limits, at each rate that matters.

This maps a burner of the project file to the geometry the room of burners works on, and its findings to those of
the appliance; the physics is all there.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal, NamedTuple

import numpy as np

from burnerlab.appliance.conversion.burner_conversion import NO_PORTS, discharge_of, geometry, law_of
from burnerlab.appliance.conversion.convert import changed, convert_to
from burnerlab.appliance.conversion.evaluation_result import HotBasis, WarmUp, Which
from burnerlab.appliance.conversion.gas_facts import AnyGas, GasStates
from burnerlab.appliance.conversion.own_stability_points import own_observations, stability_points
from burnerlab.appliance.conversion.result import Finding, NotEvaluated
from burnerlab.appliance.conversion.target import ConversionTarget
from burnerlab.appliance.conversion.warm_up import (
    ColdBurner,
    box_around,
    hot_findings,
    own_ratio,
    warm_up_notes,
    warm_ups,
)
from burnerlab.appliance.memory import REMEMBERED, InputKey, Same, file_key
from burnerlab.appliance.project.burner_kind import BurnerKind
from burnerlab.appliance.project.model import Appliance, Burner
from burnerlab.burner.burner import BurnerFuel, BurnerGeometry, EvaluationOptions, Surroundings
from burnerlab.burner.checks import (
    PORT_PITCH,
    THROAT,
    BurnerFinding,
    burner_checks,
    flame_checks,
    fuel_factor,
    throat_reynolds,
)
from burnerlab.burner.coefficients import coefficients
from burnerlab.burner.evaluation import fuel_with_flame, throttled_pressure_Pa
from burnerlab.burner.flame_height import flame_height_of
from burnerlab.burner.ports import secondary_opening_m2
from burnerlab.burner.primary_air import COLD
from burnerlab.burner.shutter_setting import GasCase, OrificeOption, ShutterWindow, shutter_window
from burnerlab.burner.stability import Limit
from burnerlab.burner.stability_diagram import (
    DiagramRate,
    HotPoint,
    LimitCurve,
    OnGas,
    StabilityDiagram,
    diagram_of,
    limit_curves,
    states_of_all,
)
from burnerlab.burner.stability_point import FlameObservation, StabilityPoint
from burnerlab.burner.state import BurnerState
from burnerlab.burner.tile_evaluation import Band
from burnerlab.gas import DeclaredGas
from burnerlab.orifice.drill import hole_name
from burnerlab.orifice.flow import Conditions, OrificeFlow, flow, through_bore
from burnerlab.quantity import Kind, Quantity
from burnerlab.quantity.outputs import computed_output
from burnerlab.quantity.quantity_text import millibar
from burnerlab.tables.verdict import Verdict

FULL, TURNDOWN, LOWEST, HIGHEST = "full rate", "turndown", "lowest pressure", "highest pressure"
NO_COMPOSITION = "the gas is known only by its heating value and relative density"
HOT_SIDE = "hot burner"
TILE = "the flame of a tile sits in its face: see the tile"
PORT_TOPICS = (
    "primary aeration",
    "port loading",
    "port diameter",
    "port flow",
    PORT_PITCH,
    "port rows",
    "quenching",
    THROAT,
    "yellow tipping",
)
"""Checks that are rules of open ports and not of a tile."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RatedState:
    """A burner at one of its rates."""

    label: str
    gauge_pressure_Pa: float
    load: float
    state: BurnerState

    @property
    @computed_output("rate")
    def rate(self) -> str:
        """Which of its rates."""
        return self.label

    @property
    @computed_output("pressure before the orifice", Kind.GAUGE_PRESSURE)
    def orifice_gauge_pressure_Pa(self) -> float:
        """Throttled ahead of the orifice at part load."""
        return float(throttled_pressure_Pa(self.state))

    @property
    @computed_output("heat input", Kind.POWER, basis="gross")
    def heat_input_gross_W(self) -> float:
        return float(self.state.heat_input_gross_W)

    @property
    @computed_output("primary air", Kind.FRACTION, is_band=True)
    def primary_aeration(self) -> Band:
        """Primary over stoichiometric air [-]."""
        return Band.of(self.state.primary_aeration, self.state.primary_aeration_band)

    @property
    @computed_output("fuel fraction of the mixture over its stoichiometric one")
    def gas_fraction(self) -> float:
        return float(self.state.at.gas_fraction)

    @property
    @computed_output("port loading", unit="W/mm2")
    def port_loading_W_per_mm2(self) -> float:
        return float(self.state.port_loading_W_per_mm2)

    @property
    @computed_output("velocity in the ports", Kind.VELOCITY)
    def port_velocity_m_per_s(self) -> float:
        return float(self.state.at.velocity_m_per_s)

    @property
    @computed_output("Reynolds number in the ports")
    def port_reynolds(self) -> float:
        return float(self.state.at.wall.reynolds)

    @property
    @computed_output("boundary velocity gradient", unit="1/s")
    def wall_gradient_per_s(self) -> float:
        return float(self.state.wall_gradient_per_s)

    @property
    @computed_output("burning velocity", Kind.VELOCITY)
    def burning_velocity_m_per_s(self) -> float:
        return float(self.state.at.burning_velocity_m_per_s)

    @property
    @computed_output("gradient of lift", unit="1/s")
    def lift_gradient_per_s(self) -> Limit:
        return self.state.at.lift

    @property
    @computed_output("lift of this gas over methane at this air, beside the rule", is_band=True)
    def lift_fuel_factor(self) -> Band | None:
        """Ratio of extinction strains; it is in no limit. None where no strained flame was solved."""
        factor = fuel_factor(self.state)
        return None if factor is None else Band(value=factor.value, low=factor.low, high=factor.high)

    @property
    @computed_output("gradient of light-back", unit="1/s")
    def light_back_gradient_per_s(self) -> Limit:
        return self.state.at.light_back

    @property
    @computed_output("light-back lies below its gradient")
    def light_back_is_upper_bound(self) -> bool:
        return bool(self.state.at.light_back_is_bound)

    @property
    @computed_output("least aeration without yellow tips")
    def yellow_tip_aeration(self) -> Limit | None:
        return self.state.fuel.yellow_tip.limit

    @property
    @computed_output("lift margin", is_band=True)
    def lift_margin(self) -> Band:
        return Band.of(self.state.lift_margin, self.state.lift_margin_band)

    @property
    @computed_output("light-back margin", is_band=True)
    def light_back_margin(self) -> Band:
        return Band.of(self.state.light_back_margin, self.state.light_back_margin_band)

    @property
    @computed_output("yellow-tip margin", is_band=True)
    def yellow_tip_margin(self) -> Band:
        return Band.of(self.state.yellow_tip_margin, self.state.yellow_tip_margin_band)

    @property
    @computed_output("flame height", Kind.LENGTH, is_band=True)
    def flame_height_m(self) -> Band:
        """Over the ports; its high end holds flames that join."""
        height = flame_height_of(self.state)
        return Band(value=float(height.height_m), low=float(height.low_m), high=float(height.high_m))

    @property
    @computed_output("inner cone", Kind.LENGTH)
    def inner_cone_height_m(self) -> float:
        return float(self.state.inner_cone_height_m)

    @property
    @computed_output("quenching width", Kind.LENGTH)
    def quenching_width_m(self) -> float:
        return float(self.state.quenching_width_m)

    @property
    @computed_output("least quenching width", Kind.LENGTH)
    def least_quenching_width_m(self) -> float:
        """Of the stoichiometric mixture."""
        return float(self.state.least_quenching_width_m)

    @property
    @computed_output("secondary air", Kind.VOLUME_FLOW)
    def secondary_air_m3_per_s(self) -> float:
        return float(self.state.secondary_air_m3_per_s)

    @property
    @computed_output("opening for secondary air", Kind.AREA)
    def secondary_opening_m2(self) -> float:
        return float(secondary_opening_m2(self.state.secondary_air_m3_per_s))


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerStability:
    """One burner of an appliance on one gas; figures are for one burner of the kind."""

    name: str
    kind: BurnerKind
    count: int
    gas: str
    case: OnGas | None  # as the room of burners takes it; None when nothing could be evaluated
    rates: tuple[RatedState, ...]  # full rate first; empty then
    findings: tuple[Finding, ...]
    not_evaluated: tuple[NotEvaluated, ...]
    notes: tuple[str, ...]
    warm_up: WarmUp | None = None  # None for a burner that glows, and where nothing could be evaluated

    @property
    def full(self) -> BurnerState | None:
        return self.rates[0].state if self.rates else None

    def at(self, label: str) -> BurnerState | None:
        """The state at a rate by its label, None where there is none."""
        return next((rate.state for rate in self.rates if rate.label == label), None)


def burner_stability(
    appliance: Appliance,
    burner: Burner,
    *,
    fuel: BurnerFuel | None = None,
    gauge_pressure_Pa: float | None = None,
    options: EvaluationOptions | None = None,
) -> BurnerStability:
    """One burner on the appliance's gas at its pressures, cold and from a cold start to hot.

    fuel : of the appliance's gas, when it is already known
    gauge_pressure_Pa : before the orifice, nominal unless given
    options : how it is evaluated; the loads and the user's own coefficients are those of the appliance, a ratio of hot
        to cold air is that of the hot side
    """
    return stabilities_of([BurnerOnGas(appliance, burner, fuel)], gauge_pressure_Pa, options)[0]


def stabilities(
    appliance: Appliance,
    *,
    names: Sequence[str] | None = None,
    fuel: BurnerFuel | None = None,
    options: EvaluationOptions | None = None,
) -> tuple[BurnerStability, ...]:
    """Every burner of an appliance, or those named, on its own gas; see ``burner_stability``.

    names : of the burners, None for all; a name that no burner has finds nothing
    fuel : of that gas, where it is known already; options : of the evaluation
    Returns a BurnerStability for each, in the order of the file.

    >>> from burnerlab.appliance import demonstration
    >>> [found.name for found in stabilities(demonstration(), names=["rear burner"])]
    ['rear burner']
    """
    gas = appliance.supply.gas
    own = appliance.tables.burner_coefficients
    known = fuel if fuel is not None or isinstance(gas, DeclaredGas) else fuel_with_flame(gas, own)
    burners = [burner for burner in appliance.burners if names is None or burner.name in names]
    return stabilities_of([BurnerOnGas(appliance, burner, known) for burner in burners], None, options)


class BurnerOnGas(NamedTuple):
    """A burner of an appliance on its gas."""

    appliance: Appliance
    burner: Burner
    fuel: BurnerFuel | None  # of that gas, where it is known already

    @property
    def why_not(self) -> str:
        """Why nothing can be evaluated, or nothing."""
        if isinstance(self.appliance.supply.gas, DeclaredGas):
            return NO_COMPOSITION
        return NO_PORTS if self.burner.ports is None else ""


def stabilities_of(
    burners: Sequence[BurnerOnGas],
    gauge_pressure_Pa: float | None = None,
    options: EvaluationOptions | None = None,
) -> tuple[BurnerStability, ...]:
    """Burners of appliances on their gases, as ``burner_stability`` one by one; those alike in one call.

    burners : of the present appliance and of the changed one, as many as are to be evaluated
    """
    cold = _cold_stabilities(burners, gauge_pressure_Pa, options)
    return _with_warm_ups(burners, cold, options)


def _cold_stabilities(
    burners: Sequence[BurnerOnGas], gauge_pressure_Pa: float | None, options: EvaluationOptions | None
) -> list[BurnerStability]:
    """Every burner cold; those alike are evaluated in one call."""
    cases: dict[int, OnGas] = {}
    passing: dict[int, OrificeFlow] = {}
    for place, (appliance, burner, known) in enumerate(burners):
        if not burners[place].why_not:
            fuel = known or _fuel(appliance.supply.gas, appliance.tables.burner_coefficients)
            stream = passing.get(id(appliance)) or passing_gas(appliance)
            passing[id(appliance)] = stream
            cases[place] = _on_gas(appliance, burner, fuel, gauge_pressure_Pa, options, stream)
    states = dict(zip(cases, states_of_all(list(cases.values())), strict=True))
    return [
        _cold_stability(one.appliance, one.burner, cases[place], states[place])
        if place in cases
        else _nothing(one.burner, one.appliance.supply.gas.name, one.why_not)
        for place, one in enumerate(burners)
    ]


def _cold_stability(
    appliance: Appliance, burner: Burner, case: OnGas, states: Sequence[BurnerState]
) -> BurnerStability:
    supply = appliance.supply
    rates = tuple(
        RatedState(label=rate.label, gauge_pressure_Pa=rate.gauge_pressure_Pa, load=rate.load, state=state)
        for rate, state in zip(case.rates, states, strict=True)
    )
    found = tuple(_findings(appliance, burner, rates))
    evaluated = [finding for finding in found if finding.verdict != Verdict.NOT_EVALUATED]
    missing = [finding for finding in found if finding.verdict == Verdict.NOT_EVALUATED]
    return BurnerStability(
        name=burner.name,
        kind=burner.kind,
        count=burner.count,
        gas=supply.gas.name,
        case=case,
        rates=rates,
        findings=tuple(evaluated),
        not_evaluated=tuple(
            NotEvaluated(topic=finding.topic, why=finding.text, burner=burner.name) for finding in missing
        ),
        notes=(*rates[0].state.notes, *_turned_down(rates)),
    )


def _with_warm_ups(
    burners: Sequence[BurnerOnGas], states: Sequence[BurnerStability], options: EvaluationOptions | None
) -> tuple[BurnerStability, ...]:
    """The same with the hot side of each burner, all in one call of the thermal model."""
    ratio = None if options is None else options.hot_ratio
    places, cold = [], []
    for place, ((appliance, burner, _), one) in enumerate(zip(burners, states, strict=True)):
        if one.case is not None and one.full is not None and not burner.kind.traits.is_radiant:
            lowest = next((rate for rate in one.rates if rate.label in (TURNDOWN, LOWEST)), one.rates[0])
            lift = {rate.label: rate.state for rate in one.rates if rate.label in (FULL, HIGHEST)}
            places.append(place)
            cold.append(
                ColdBurner(
                    burner=burner, case=one.case, full=one.full, low=lowest.state,
                    lowest_rate=lowest.label, lift=lift, hot_ratio=own_ratio(one.case.options, ratio),
                    box=box_around(appliance, burner),
                )
            )  # fmt: skip
    results = list(states)
    for place, case, warm in zip(places, cold, warm_ups(cold), strict=True):
        own = burners[place].appliance.tables.port_limits
        results[place] = _with_hot_checks(results[place], case, warm, own)
    return tuple(results)


def _with_hot_checks(
    stability: BurnerStability, cold: ColdBurner, warm: WarmUp, own: Path | None
) -> BurnerStability:
    """The hot checks in place of the cold ones of the same limit, and once why a hot side is not evaluated."""
    hot = tuple(hot_findings(cold, warm, own))
    limits = {finding.topic.split(" at ")[0] for finding in hot}
    missing = [one for one in stability.not_evaluated if one.topic not in limits]
    if warm.basis == HotBasis.UNKNOWN and warm.cold_primary_aeration is not None:
        missing.append(NotEvaluated(topic=HOT_SIDE, why=warm.why_not))  # of all burners in the box
    elif warm.hot_light_back_margin is None and warm.cold_light_back_margin is not None:
        missing.append(NotEvaluated(topic=f"light-back, {HOT_SIDE}", why=warm.why_not, burner=stability.name))
    return replace(
        stability,
        warm_up=warm,
        findings=(*(one for one in stability.findings if one.topic.split(" at ")[0] not in limits), *hot),
        not_evaluated=tuple(missing),
        notes=(*stability.notes, *warm_up_notes(warm)),
    )


def on_gas(
    appliance: Appliance,
    burner: Burner,
    *,
    fuel: BurnerFuel | None = None,
    gauge_pressure_Pa: float | None = None,
    options: EvaluationOptions | None = None,
) -> OnGas:
    """One burner of an appliance as the room of burners takes it, with the rates that matter."""
    gas = appliance.supply.gas
    known = fuel or _fuel(gas, appliance.tables.burner_coefficients)
    return _on_gas(appliance, burner, known, gauge_pressure_Pa, options, passing_gas(appliance))


def _on_gas(
    appliance: Appliance,
    burner: Burner,
    known: BurnerFuel,
    gauge_pressure_Pa: float | None,
    options: EvaluationOptions | None,
    passing: OrificeFlow,
) -> OnGas:
    """passing : the appliance's gas, which several burners share, through any bore."""
    supply = appliance.supply
    nominal = supply.gauge_pressure_Pa if gauge_pressure_Pa is None else gauge_pressure_Pa
    if burner.kind.traits.is_radiant:
        known = replace(known, burning=None, no_burning=TILE)
    return OnGas(
        title=supply.gas.name,
        geometry=geometry_of(appliance, burner, passing),
        fuel=known,
        surroundings=Surroundings(
            ambient_pressure_Pa=supply.ambient_pressure_Pa,
            gas_temperature_K=supply.gas_temperature_K,
            air_temperature_K=supply.gas_temperature_K,
        ),
        rates=_rates(appliance, burner, nominal),
        options=replace(
            options or EvaluationOptions(),
            temperatures=COLD,  #  what the file says of hot ports is for the hot side
            hot_ratio=None,
            own=appliance.tables.burner_coefficients,
        ),
    )


def _rates(appliance: Appliance, burner: Burner, nominal_Pa: float) -> tuple[DiagramRate, ...]:
    supply = appliance.supply
    rates = [DiagramRate(label=FULL, gauge_pressure_Pa=nominal_Pa)]
    if burner.turndown is not None:
        rates.append(DiagramRate(label=TURNDOWN, gauge_pressure_Pa=nominal_Pa, load=burner.turndown))
    for label, end in ((LOWEST, supply.low_gauge_pressure_Pa), (HIGHEST, supply.high_gauge_pressure_Pa)):
        if end is not None and end != nominal_Pa:
            rates.append(DiagramRate(label=label, gauge_pressure_Pa=end))
    return tuple(rates)


def passing_gas(appliance: Appliance) -> OrificeFlow:
    """The gas of an appliance at its pressure through a hole of 1 mm without losses: that of any hole follows."""
    supply = appliance.supply
    conditions = Conditions(
        gauge_pressure_Pa=supply.gauge_pressure_Pa,
        ambient_pressure_Pa=supply.ambient_pressure_Pa,
        gas_temperature_K=supply.gas_temperature_K,
    )
    return flow(GasStates(supply.gas), 1e-3, conditions, 1.0)


def geometry_of(appliance: Appliance, burner: Burner, passing: OrificeFlow | None = None) -> BurnerGeometry:
    """The geometry of a burner, its orifice with the discharge coefficient it has at the appliance's pressure.

    passing : of ``passing_gas``, which several burners share
    """
    orifice, law = burner.orifice, law_of(burner.orifice, appliance.tables)
    stream = through_bore(passing or passing_gas(appliance), orifice.diameter_m, law, orifice.count)
    discharge = discharge_of(orifice, stream, None, appliance.tables)
    return geometry(burner, stream, discharge)


def stability_diagram(before: Appliance, after: Appliance | None, name: str) -> StabilityDiagram | None:
    """The stability diagram of a burner: on the present gas, and on the new one where there is one.

    Working points cold, and 15 min after a cold start where that is known; the limits are those of cold ports.
    after : what ``changed`` makes of the appliance. None where the ports or a composition are not given.

    >>> from burnerlab.appliance import demonstration
    >>> found = stability_diagram(demonstration(), None, "stock-pot ring")
    >>> sorted({curve.limit for curve in found.curves})
    ['lift', 'light-back']
    """
    states = [
        burner_stability(appliance, burner)
        for appliance in (before, after)
        if appliance is not None
        for burner in appliance.burners
        if burner.name == name
    ]
    return diagram_of_states(before, states)


def diagram_of_states(before: Appliance, states: Sequence[BurnerStability]) -> StabilityDiagram | None:
    """The stability diagram of a burner evaluated on one gas, or on the present and the new one in that order.

    before : the appliance on the present gas, with the user's own points. None where nothing was evaluated.
    """
    known = [(state, state.case) for state in states if state.case is not None]
    if not known:
        return None
    cases, name = [case for _, case in known], known[0][0].name
    diagram = diagram_of(
        name,
        cases,
        before.tables.port_limits,
        [[rate.state for rate in state.rates] for state, _ in known],
        own_points(before, name, cases),
        [_limits_of(case) for case in cases],
    )
    return replace(diagram, hot_points=tuple(point for one in known for point in _hot_points(*one)))


def _limits_of(case: OnGas) -> tuple[LimitCurve, ...]:
    """The limits of a case, remembered by its gas and its ports: no orifice, throat or rate moves them."""
    ports, own = case.geometry, case.options.own
    if case.fuel.burning is None or case.options.temperatures is not COLD:
        return limit_curves(case)
    bare = replace(
        case,
        geometry=BurnerGeometry(
            port_width_m=ports.port_width_m,
            port_depth_m=ports.port_depth_m,
            slot_length_m=ports.slot_length_m,
            port_count=1,
            orifice_diameter_m=ports.port_width_m,
        ),
        rates=(),
        options=EvaluationOptions(temperatures=COLD, own=own),
    )
    key = InputKey(limit_curves, bare.title, bare.geometry, bare.surroundings, Same(bare.fuel), file_key(own))
    return REMEMBERED.recall(key, lambda: limit_curves(bare))


def _hot_points(stability: BurnerStability, case: OnGas) -> Iterator[HotPoint]:
    """Full and lowest rate 15 min after a cold start, where the air of both is known."""
    warm = stability.warm_up
    if warm is None:
        return
    rates = {rate.label: rate for rate in stability.rates}
    airs = {FULL: warm.hot_primary_aeration, warm.lowest_rate: warm.hot_lowest_rate_primary_aeration}
    for label, air in airs.items():
        if air is not None and label in rates:
            at = rates[label]
            yield HotPoint(
                gas=case.title,
                label=f"{label}, hot",
                aeration=air.value,
                aeration_low=air.low,
                aeration_high=air.high,
                loading_W_per_mm2=at.port_loading_W_per_mm2,
                gauge_pressure_Pa=at.gauge_pressure_Pa,
            )


def own_points(
    appliance: Appliance, name: str, cases: Sequence[OnGas], more: Sequence[FlameObservation] = ()
) -> tuple[StabilityPoint, ...]:
    """What the user's own flames did on one burner, placed by the model, each with the title of its case as its gas.

    more : observations beside those of the file's table, as from a bench record
    """
    seen = (*own_observations(appliance), *more)
    return tuple(
        replace(point, gas=case.title) for case in cases for point in stability_points(seen, case, name)
    )


def shutter_search(
    appliance: Appliance, name: str, targets: Sequence[tuple[AnyGas, Quantity]]
) -> ShutterWindow | None:
    """A shutter setting of a burner for its present gas with its present orifice and for other gases with a drill each.

    targets : each a gas and its gauge pressure [Pa]; the drills tried are those a conversion offers within its band
    None where the ports or a composition are not given. Raises UserError for a gas or pressure that cannot be used.

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.gas import load
    >>> shutter_search(demonstration(), "stock-pot ring", [(load("propane"), "11 in w.c.")]).words
    'shutter 56.5 to 90.5 % open keeps ...'
    """
    place = [burner.name for burner in appliance.burners].index(name)
    burner = appliance.burners[place]
    gases = [appliance.supply.gas, *(gas for gas, _ in targets)]
    if burner.ports is None or any(isinstance(gas, DeclaredGas) for gas in gases):
        return None
    present = OrificeOption(name=hole_name(burner.orifice.drill, burner.orifice.diameter_m),
                      diameter_m=burner.orifice.diameter_m)  # fmt: skip
    here = burner_stability(appliance, burner)
    cases = [gas_case(appliance, burner, (present,), here)]
    for gas, gauge_pressure_Pa in targets:
        target = ConversionTarget(gas=gas, gauge_pressure_Pa=gauge_pressure_Pa)
        conversion = convert_to(replace(appliance, burners=(burner,)), target)
        result, band = conversion.burners[0], appliance.limits.tolerance
        offered = [choice for choice in result.choices if band.low <= choice.deviation <= band.high]
        drills = tuple(
            OrificeOption(name=choice.drill, diameter_m=choice.diameter_m)
            for choice in offered or [result.choice]
        )
        there = changed(appliance, target)
        cases.append(gas_case(there, burner, drills, burner_stability(there, burner)))
    named = [_with_pressure(case, cases) for case in cases]
    return shutter_window(geometry_of(appliance, burner), named, appliance.tables.port_limits)


def _with_pressure(case: GasCase, cases: Sequence[GasCase]) -> GasCase:
    """A case whose gas comes at several pressures, named with its own."""
    pressures = {one.gauge_pressure_Pa for one in cases if one.title == case.title}
    if len(pressures) == 1:
        return case
    return replace(case, title=f"{case.title} at {millibar(case.gauge_pressure_Pa, '.4g')}")


def gas_case(
    appliance: Appliance, burner: Burner, orifices: tuple[OrificeOption, ...], stability: BurnerStability
) -> GasCase:
    """A burner on the appliance's gas with orifices to choose from, as the search for a shutter setting takes it.

    stability : of the burner on that gas, its own orifice not used. Raises ValueError where nothing was evaluated
    """
    supply, case = appliance.supply, stability.case
    if case is None:
        raise ValueError(NO_PORTS)
    return GasCase(
        title=case.title,
        fuel=case.fuel,
        gauge_pressure_Pa=supply.gauge_pressure_Pa,
        orifices=orifices,
        surroundings=case.surroundings,
        high_gauge_pressure_Pa=supply.high_gauge_pressure_Pa,
        low_gauge_pressure_Pa=supply.low_gauge_pressure_Pa,
        turndown=burner.turndown or 1.0,
        hot_shares=_hot_shares(stability),
        options=case.options,
    )


def _hot_shares(stability: BurnerStability) -> tuple[float, float]:
    """Hot over cold primary air at full rate and at turndown; 1 where it is not evaluated."""
    warm, low = stability.warm_up, stability.at(TURNDOWN)
    if warm is None or warm.hot_primary_aeration is None or stability.full is None:
        return 1.0, 1.0
    full = warm.hot_primary_aeration.value / float(stability.full.primary_aeration)
    turned = warm.hot_lowest_rate_primary_aeration
    if low is None or turned is None:
        return full, full
    return full, turned.value / float(low.primary_aeration)


def _fuel(gas: AnyGas, own: Path | None) -> BurnerFuel:
    if isinstance(gas, DeclaredGas):
        raise ValueError(NO_COMPOSITION)
    return fuel_with_flame(gas, own)


def _nothing(burner: Burner, gas: str, why: str) -> BurnerStability:
    topics = ("primary aeration", "lift", "light-back", "yellow tipping", "port loading")
    return BurnerStability(
        name=burner.name,
        kind=burner.kind,
        count=burner.count,
        gas=gas,
        case=None,
        rates=(),
        findings=(),
        not_evaluated=tuple(NotEvaluated(topic=topic, why=why, burner=burner.name) for topic in topics),
        notes=(),
    )


def _findings(appliance: Appliance, burner: Burner, rates: Sequence[RatedState]) -> Iterator[Finding]:
    """Everything at full rate; of the other rates only the limits each of them is hardest on.

    Where the air of such a rate alone is not evaluated, its flame is not either; the finding stands once.
    """
    own = appliance.tables.port_limits
    hardest = {
        TURNDOWN: ("light-back", "yellow tipping"),  # less flow, and with it less air
        LOWEST: ("light-back",),
        HIGHEST: ("lift",),
    }
    is_known_at_full = any(rate.label == FULL and not rate.state.air.why_not for rate in rates)
    for rate in rates:
        if rate.label != FULL and is_known_at_full and rate.state.air.why_not:
            yield Finding(
                topic=f"flame at {rate.label}",
                verdict=Verdict.NOT_EVALUATED,
                text=rate.state.air.why_not,
                burner=burner.name,
            )
            continue
        for finding in (
            burner_checks(rate.state, own)
            if rate.label == FULL
            else flame_checks(rate.state, own, hardest[rate.label])
        ):
            if burner.kind.traits.is_radiant and finding.topic in PORT_TOPICS:
                continue
            if rate.label == FULL:
                yield appliance_finding(finding, burner.name, finding.topic)
            elif finding.verdict != Verdict.NOT_EVALUATED:
                yield appliance_finding(finding, burner.name, f"{finding.topic} at {rate.label}")


def _turned_down(rates: Sequence[RatedState]) -> Iterator[str]:
    """That the balance of momentum is carried below the Reynolds numbers it was compared at."""
    low = next((rate.state for rate in rates if rate.label == TURNDOWN), None)
    if low is None or low.air.origin == "given" or np.isnan(low.primary_aeration):
        return
    least = coefficients(low.options.own)["entrainment theory Reynolds"].low
    if throat_reynolds(low) < least:
        yield (
            f"at turndown the Reynolds number in the throat is below {least:.0f}, where the theory of the primary air"
            " was not compared: less air is likely"
        )


def appliance_finding(
    finding: BurnerFinding, burner: str, topic: str, which: Which | Literal[""] = ""
) -> Finding:
    """A finding of a burner as one of the appliance, under a topic of its own."""
    return Finding(
        topic=topic,
        verdict=finding.verdict,
        text=finding.text,
        burner=burner,
        value=finding.value,
        unit=finding.unit,
        low=finding.low,
        high=finding.high,
        source=finding.source,
        evidence=finding.evidence,
        value_low=finding.value_low,
        value_high=finding.value_high,
        which_gas=which,
    )
