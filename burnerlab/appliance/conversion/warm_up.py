"""Burners of an appliance from a cold start: how hot they get, the air that takes off, each limit where it bites.

Lift is hardest on the cold burner at the highest pressure. Yellow tips come when it is hot and draws less air, at full
and at the lowest rate; light-back at the lowest rate while the metal still has the temperature of the full one. What is
known of the hot side, the strongest first: the ratio of hot to cold air measured on such burners, the temperature in
the ports that the file states, the thermal model of the body, a band on the cold air.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from burnerlab.appliance.conversion.evaluation_result import NOT_COMPARABLE, HotBasis, WarmUp
from burnerlab.appliance.conversion.result import Finding
from burnerlab.appliance.project.geometry import Box
from burnerlab.appliance.project.geometry_checks import box_footprint, burner_footprint, overlap
from burnerlab.appliance.project.model import Appliance, Burner
from burnerlab.burner.burner import (
    BurnerGeometry,
    EvaluationOptions,
    Fuel,
    MixtureTemperatures,
    Surroundings,
    joined_fuels,
)
from burnerlab.burner.checks import known_ends, rule_for
from burnerlab.burner.coefficients import Array, Numbers, array, coefficients
from burnerlab.burner.evaluation import LightBackMargin, jet_flow, light_back_margin
from burnerlab.burner.hot_burner import (
    BODY_WALL,
    BOX_RISE,
    BurnerBody,
    BurnerPlace,
    HOT_s,
    HotBurner,
    Metal,
    MixtureFlow,
    MixtureWarmth,
    TIMES_s,
    hot_burner,
    mixture_flow,
    mixture_on_metal,
    pipe_body,
    port_way_m,
    steady_from_s,
    warmed_mixture,
)
from burnerlab.burner.primary_air import JetFlow, PrimaryAir, joined_flow, primary_air
from burnerlab.burner.stability_diagram import OnGas
from burnerlab.burner.state import BurnerState, yellow_tip_margins
from burnerlab.burner.tile_evaluation import Band
from burnerlab.quantity.show import number
from burnerlab.tables.field_names import field_names
from burnerlab.tables.figure import Evidence
from burnerlab.tables.literal import Key

HISTORY_s = (
    15.0,
    30.0,
    45.0,
    90.0,
    120.0,
    180.0,
    240.0,
    420.0,
    600.0,
    1200.0,
    1800.0,
    2700.0,
    3600.0,
    7200.0,
)
"""Times of the air besides those shown, for the time from which it is steady."""
RATIO: Key = "hot factor"
NO_BODY: Key = "hot air without a body"
GAS_RISE: Key = "orifice gas rise"
RATIOS = ("gas_ratio", "throat_ratio", "head_ratio", "port_rise")
NO_PORT_TEMPERATURE = "needs the temperature of hot ports: describe the body of the burner"
UNORDERED = (
    f"light-back, cold to hot: {NOT_COMPARABLE}. A mixture that burns slower than any flat flame believed leaves only"
    " a lower bound of its margin, and the bound moves with temperature where the margin need not"
)
BEYOND = "the table of burning velocities does not reach this mixture at the temperature of the hot ports"


@dataclass(frozen=True, slots=True, kw_only=True)
class ColdBurner:
    """One burner on a gas with its cold states: at full rate, at its lowest rate, and those that lift is judged at."""

    burner: Burner
    case: OnGas
    full: BurnerState
    low: BurnerState
    lowest_rate: str
    lift: Mapping[str, BurnerState]
    hot_ratio: float | None  # the user's own ratio of hot to cold air
    box: Box | None  # whose hot gas stands round it

    @property
    def is_gas_known(self) -> bool:
        """Whether the temperature of what stands round it is known."""
        return self.box is None or self.box.gas_temperature_K is not None

    @property
    def air_K(self) -> float:
        return float(np.asarray(self.case.surroundings.air_temperature_K))


def box_around(appliance: Appliance, burner: Burner) -> Box | None:
    """The box whose hot gas stands round a burner: a closed one, or an open one with a temperature of its gas."""
    for box in () if appliance.space is None else appliance.space.boxes:
        around = box_footprint(box)
        stands = any(overlap(burner_footprint(burner, place), around) for place in burner.places)
        if stands and (box.lid == "closed" or box.gas_temperature_K is not None):
            return box
    return None


def no_box_gas(box: Box) -> str:
    """Why the hot side of a burner in a closed box is not evaluated."""
    return (
        f"the temperature of the gas in {box.name}, whose lid is closed, is not given: measure it round the burners"
        " and add gas_temperature to the box"
    )


def body_of(burner: Burner, metal: Metal | None = None, wall_share: Numbers = 1.0) -> BurnerBody | None:
    """The metal of a burner as the thermal model takes it; None where the file does not describe it.

    The length of what carries the ports is that of its place, of a ring the circle; a mixing tube has the throat's
    bore. Ports without a depth are as deep as the wall.
    metal : in place of that of the file; wall_share : wall over that of the file [-]
    """
    body, ports, throat, tube = burner.body, burner.ports, burner.throat_m, burner.tube_length_m
    length = None if body is None else body.length_m
    if length is None and burner.places:
        place = burner.places[0]
        length = place.length_m if place.diameter_m is None else math.pi * place.diameter_m
    if body is None or ports is None or throat is None or tube is None or length is None:
        return None
    wall = body.wall_m * wall_share
    depth = wall if ports.depth_m is None else ports.depth_m
    return pipe_body(
        body.material if metal is None else metal,
        wall,
        (length, body.diameter_m),
        (tube, throat + 2.0 * wall),
        port_way_m(ports.diameter_m, depth, ports.count, ports.slot_length_m),
        body.mass_kg,
    )


def own_ratio(options: EvaluationOptions, entered: Numbers | None = None) -> float | None:
    """The user's own ratio of hot to cold air: the one entered, or that of an own table of coefficients."""
    if entered is not None:
        return float(np.asarray(entered))
    if options.own is None:
        return None
    row = coefficients(options.own)[RATIO]
    return row.value if row.evidence in (Evidence.MEASURED, Evidence.ENTERED) else None


def warm_ups(burners: Sequence[ColdBurner]) -> tuple[WarmUp, ...]:
    """What each burner is after a cold start; model, air and flame of all that stand in one place in one call each.

    burners : on any gases, without those that glow
    """
    alike: dict[tuple[object, ...], list[int]] = {}
    for place, cold in enumerate(burners):
        alike.setdefault((repr(cold.case.surroundings), cold.case.options.own), []).append(place)
    found = {
        place: warm
        for places in alike.values()
        for place, warm in zip(places, _warm_ups([burners[place] for place in places]), strict=True)
    }
    return tuple(found[place] for place in range(len(burners)))


def _warm_ups(burners: Sequence[ColdBurner]) -> list[WarmUp]:
    """Of burners in one place."""
    results = [_cold_side(cold, _basis(cold)) for cold in burners]
    modelled = [
        place
        for place, (cold, result) in enumerate(zip(burners, results, strict=True))
        if result.basis in (HotBasis.MODEL, HotBasis.RATIO)
        and body_of(cold.burner) is not None
        and cold.is_gas_known
    ]
    runs = dict(zip(modelled, _runs([burners[place] for place in modelled]), strict=True))
    places = []
    for place, (cold, result) in enumerate(zip(burners, results, strict=True)):
        if result.basis == HotBasis.NO_BODY:
            results[place] = _by_band(cold, result)
        elif result.basis != HotBasis.UNKNOWN:
            places.append(place)
            results[place] = _with_heads(result, runs[place]) if place in runs else result
    sides = [_HotSide.of(burners[place], runs.get(place)) for place in places]
    for place, hot in zip(places, _hot_figures(sides), strict=True):
        results[place] = replace(results[place], **hot)
    return results


def _basis(cold: ColdBurner) -> HotBasis:
    ports = cold.burner.ports
    if cold.hot_ratio is not None:
        return HotBasis.RATIO
    if ports is not None and ports.temperature_K is not None:
        return HotBasis.PORTS
    if not cold.is_gas_known:
        return HotBasis.UNKNOWN
    return HotBasis.NO_BODY if body_of(cold.burner) is None else HotBasis.MODEL


# the thermal model, all burners in one call


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    """A burner from a cold start.

    ends : the mixture as calculated, and at the warm and the cool end of the band; each at full rate, at the lowest
        rate, and at the lowest rate on the metal of the full one
    """

    hot: HotBurner  # at full rate
    ends: MixtureWarmth
    steady_s: float


def _surroundings(cold: ColdBurner) -> tuple[float, float, float]:
    """Room, gas and surfaces round a burner [K]; at the lowest rate as hot as at full, the worse case."""
    box = cold.box
    if box is None or box.gas_temperature_K is None:
        return cold.air_K, cold.air_K, cold.air_K
    gas = box.gas_temperature_K
    return cold.air_K, gas, gas if box.wall_temperature_K is None else box.wall_temperature_K


def _runs(burners: Sequence[ColdBurner]) -> list[_Run]:
    """Every burner at full and lowest rate; the second pass has the flow that the hot burner draws."""
    if not burners:
        return []
    body = _bodies([body_of(cold.burner) for cold in burners])
    room, gas, surface = np.array([_surroundings(cold) for cold in burners]).T[:, :, None]
    place = BurnerPlace(room_K=room, gas_K=gas, surface_K=surface)
    states = [(cold.full, cold.low) for cold in burners]
    heat = np.array([[float(state.heat_input_gross_W) for state in pair] for pair in states])
    aeration = _filled(np.array([[float(state.primary_aeration) for state in pair] for pair in states]))
    fuel, own = joined_fuels([cold.case.fuel for cold in burners], rates=2), burners[0].case.options.own
    now = warmed_mixture(body, mixture_flow(fuel, heat, aeration, room, own=own), place, heat, own=own)
    flow = mixture_flow(fuel, heat, _filled(_air(burners, states, now)), room, now.before_ports_K, own)
    ends = _ends_of(burners, body, place, own)
    hot = hot_burner(body, flow, place, heat, (*TIMES_s, *HISTORY_s), own, ends)
    after = _followed(_part(hot.mixture, slice(None), 0), _part(hot.steady_mixture, slice(None), slice(0, 1)))
    history = _air(burners, [[cold.full] * (len(hot.time_s) + 1) for cold in burners], after)
    steady_s = [
        steady_from_s(np.array([0.0, *hot.time_s]), np.array([start, *air[:-1]]), air[-1])
        for start, air in zip(aeration[:, 0], history, strict=True)
    ]
    hot_ends = _hot_ends(hot, body, flow, own)
    return [_run(k, hot, _part(hot_ends, slice(None), k), steady_s[k]) for k in range(len(burners))]


def _bodies(bodies: Sequence[BurnerBody | None]) -> BurnerBody:
    """Bodies of burners as one; [burner, rate]."""
    return BurnerBody(
        **{
            name: np.array([[np.asarray(getattr(each, name))] * 2 for each in bodies])
            for name in field_names(BurnerBody)
        }
    )


def _ends_of(
    burners: Sequence[ColdBurner], body: BurnerBody, place: BurnerPlace, own: Path | None
) -> list[tuple[BurnerBody, BurnerPlace]]:
    """The burners with one figure of the file at the low, then at the high end of its spread.

    Properties of the metal, wall, gas and surfaces of the box round them; where no box is, its ends change nothing.
    """
    table = coefficients(own)
    walls = (table[BODY_WALL].low, table[BODY_WALL].high)
    bodies = _moved_bodies([cold.burner for cold in burners], walls)
    rises = (table[BOX_RISE].low, table[BOX_RISE].high)
    room, gas, surface = (array(each) for each in (place.room_K, place.gas_K, place.surface_K))
    places = [
        *(replace(place, gas_K=room + share * (gas - room)) for share in rises),
        *(replace(place, surface_K=room + share * (surface - room)) for share in rises),
    ]
    return [*((each, place) for each in bodies), *((body, each) for each in places)]


def _moved_bodies(burners: Sequence[Burner], walls: tuple[float, float]) -> list[BurnerBody]:
    """Bodies with each property of their metal, then their wall, at the low and at the high end; [burner, rate]."""
    moved = []
    for burner in burners:
        if burner.body is not None:
            metal, ends = Metal.of(burner.body.material), list(Metal.ends(burner.body.material))
            columns = np.array([*ends, metal, metal]).T
            moved.append(body_of(burner, Metal(*columns), np.array([1.0] * len(ends) + [*walls])))
    count = 2 * len(Metal._fields) + len(walls)
    every = {name: np.empty((len(moved), count)) for name in field_names(BurnerBody)}
    for name, figures in every.items():
        for row, each in enumerate(moved):
            figures[row] = getattr(each, name)
    return [
        BurnerBody(**{name: np.repeat(figures[:, end, None], 2, axis=1) for name, figures in every.items()})
        for end in range(count)
    ]


def _filled(aeration: Array) -> Array:
    """Where the air of the lowest rate is not evaluated, the mixture warms as one with the air of full rate."""
    return np.where(np.isnan(aeration), aeration[:, :1], aeration)


def _hot_ends(run: HotBurner, body: BurnerBody, flow: MixtureFlow, own: Path | None) -> MixtureWarmth:
    """The mixture of every burner 15 min after a cold start; [end and rate as in ``_Run``, burner]."""
    at, every = run.place_of(HOT_s), slice(None)
    metal = replace(body, **{name: getattr(body, name)[:, 0] for name in field_names(BurnerBody)})
    shape = np.shape(flow.heat_capacity_W_per_K)
    low = replace(
        flow, **{name: np.broadcast_to(getattr(flow, name), shape)[:, 1] for name in field_names(MixtureFlow)}
    )
    ends = []
    for warmth, head in (
        (run.mixture, run.head_K),
        (run.warm, run.head_warm_K),
        (run.cool, run.head_cool_K),
    ):
        turned = mixture_on_metal(metal, low, head[:, 0, at], run.tube_K[:, 0, at], own)
        ends += [_part(warmth, every, 0, at), _part(warmth, every, 1, at), turned]
    return _joined_warmth(ends)


def _run(k: int, run: HotBurner, ends: MixtureWarmth, steady_s: float) -> _Run:
    """The part of one burner; ends : its own."""
    return _Run(
        hot=replace(
            run,
            head_K=run.head_K[k, 0],
            head_cool_K=run.head_cool_K[k, 0],
            head_warm_K=run.head_warm_K[k, 0],
            mixture=_part(run.mixture, k, 0),
            cool=_part(run.cool, k, 0),
            warm=_part(run.warm, k, 0),
        ),
        ends=ends,
        steady_s=steady_s,
    )


def _followed(warmth: MixtureWarmth, last: MixtureWarmth) -> MixtureWarmth:
    """Over time, and then steady, on the last axis."""
    return MixtureWarmth(
        **{
            name: np.concatenate([getattr(warmth, name), getattr(last, name)], axis=-1)
            for name in field_names(MixtureWarmth)
        }
    )


def _joined_warmth(each: Sequence[MixtureWarmth]) -> MixtureWarmth:
    return MixtureWarmth(
        **{name: np.array([getattr(w, name) for w in each]) for name in field_names(MixtureWarmth)}
    )


def _part(warmth: MixtureWarmth, *places: int | slice | list[int]) -> MixtureWarmth:
    return MixtureWarmth(**{name: getattr(warmth, name)[places] for name in field_names(MixtureWarmth)})


def _temperatures(warmth: MixtureWarmth, air_K: float) -> MixtureTemperatures:
    return MixtureTemperatures(
        throat_ratio=warmth.throat_ratio(air_K),
        head_ratio=warmth.head_ratio(air_K),
        port_rise=warmth.port_rise,
    )


# burners in one array: what is left out of the geometry of one is left out of all that go together


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cases:
    """Burners in one place at some rates each, flattened, with the gas that flows to them."""

    fuel: Fuel
    geometry: BurnerGeometry
    flow: JetFlow
    options: EvaluationOptions


def _patterns(burners: Sequence[ColdBurner]) -> list[list[int]]:
    """Places of the burners that go together."""
    known: dict[tuple[bool, ...], list[int]] = {}
    for place, cold in enumerate(burners):
        known.setdefault((*cold.case.geometry.pattern, cold.hot_ratio is None), []).append(place)
    return list(known.values())


def _cases(
    burners: Sequence[ColdBurner],
    rates: Sequence[Sequence[BurnerState]],
    temperatures: MixtureTemperatures,
    *,
    has_band: bool,
) -> _Cases:
    """rates : states whose flow of gas is taken, as many for each; temperatures : [burner, rate]."""
    first, count = burners[0], len(rates[0])
    shape = len(burners), count

    def repeated(name: str) -> Array | None:
        each = [getattr(cold.case.geometry, name) for cold in burners]
        return None if each[0] is None else np.repeat([float(np.asarray(value)) for value in each], count)

    ratio = None if first.hot_ratio is None else np.repeat([cold.hot_ratio or 1.0 for cold in burners], count)
    states = [state for each in rates for state in each]
    at = MixtureTemperatures(
        **{name: np.ravel(np.broadcast_to(getattr(temperatures, name), shape)) for name in RATIOS}
    )
    geometry = BurnerGeometry(**{name: repeated(name) for name in field_names(BurnerGeometry)})  # type: ignore[arg-type]  # None stays None
    options = replace(first.case.options, temperatures=at, hot_ratio=ratio, band=has_band)
    fuel = joined_fuels([cold.case.fuel for cold in burners for _ in range(count)])
    flow = _flow(geometry, fuel, first.case.surroundings, states, options)
    return _Cases(fuel=fuel, geometry=geometry, flow=flow, options=options)


def _flow(
    geometry: BurnerGeometry,
    fuel: Fuel,
    place: Surroundings,
    states: Sequence[BurnerState],
    options: EvaluationOptions,
) -> JetFlow:
    """Gas of each state: as cold, but where its temperature at the orifice is another."""
    warm = options.temperatures
    if warm is not None and np.any(array(warm.gas_ratio) != 1.0):
        pressure = np.array([float(state.gauge_pressure_Pa) for state in states])
        load = np.array([float(np.asarray(state.options.load)) for state in states])
        return jet_flow(geometry, fuel, pressure, place, replace(options, load=load))
    return joined_flow([state.flow for state in states])


def _air(
    burners: Sequence[ColdBurner], rates: Sequence[Sequence[BurnerState]], warmth: MixtureWarmth
) -> Array:
    """Primary aeration at temperatures of the mixture, by the momentum balance alone; [burner, rate]."""
    result = np.empty((len(burners), len(rates[0])))
    for places in _patterns(burners):
        some, place = [burners[k] for k in places], burners[0].case.surroundings
        temperatures = _temperatures(_part(warmth, places), some[0].air_K)
        cases = _cases(some, [rates[k] for k in places], temperatures, has_band=False)
        air = primary_air(cases.geometry, cases.fuel, cases.flow, place, cases.options)
        result[places] = np.reshape(air.aeration, (len(places), -1))
    return result


# what it does to the flame


def _cold_side(cold: ColdBurner, basis: HotBasis) -> WarmUp:
    """The cold figures, and why there is no hot side where there is none."""
    full, low = cold.full, cold.low
    lift = {
        label: band_of(state.lift_margin, state.lift_margin_band)
        for label, state in cold.lift.items()
        if not np.isnan(state.lift_margin)
    }
    hardest = min(lift, key=lambda label: float(cold.lift[label].lift_margin), default="")
    warm_up = WarmUp(
        basis=basis,
        lowest_rate=cold.lowest_rate,
        lift_rate=hardest,
        cold_lift_margin=lift.get(hardest),
        cold_primary_aeration=band_of(full.primary_aeration, full.primary_aeration_band),
        cold_light_back_margin=band_of(low.light_back_margin, low.light_back_margin_band),
        cold_light_back_is_at_least=bool(low.at.light_back_is_bound),
        cold_lift_is_at_least=hardest != "" and bool(cold.lift[hardest].at.lift.is_more_than),
        cold_yellow_tip_margin=band_of(full.yellow_tip_margin, full.yellow_tip_margin_band),
        heat_input_gross_W=float(full.heat_input_gross_W),
        hot_heat_input_gross_W=_hot_rate(cold),
    )
    if basis == HotBasis.UNKNOWN and cold.box is not None:
        return replace(warm_up, why_not=no_box_gas(cold.box))
    if warm_up.cold_primary_aeration is None:
        return replace(warm_up, basis=HotBasis.UNKNOWN, why_not=full.air.why_not)
    return warm_up


def _gas_ratios(cold: ColdBurner) -> Array:
    """Temperature of the gas at the hot orifice over the cold one, with the least and the greatest rise [-].

    1 where the file does not give it: the rate is then as cold.
    """
    hot, row = cold.burner.orifice.hot_gas_temperature_K, coefficients(cold.case.options.own)[GAS_RISE]
    gas_K = float(np.asarray(cold.case.surroundings.gas_temperature_K))
    rise = 0.0 if hot is None else hot / gas_K - 1.0
    return 1.0 + rise * np.array([row.value, row.low, row.high])


def _hot_rate(cold: ColdBurner) -> Band | None:
    """Gross heat input at full rate with the gas of the hot orifice; None where its temperature is not known."""
    if cold.burner.orifice.hot_gas_temperature_K is None:
        return None
    case, full = cold.case, cold.full
    options = replace(case.options, load=1.0, temperatures=MixtureTemperatures(gas_ratio=_gas_ratios(cold)))
    flow = jet_flow(case.geometry, case.fuel, full.gauge_pressure_Pa, case.surroundings, options)
    rates = np.asarray(flow.heat_input_gross_W)
    return Band(value=float(rates[0]), low=float(rates.min()), high=float(rates.max()))


def band_of(value: Array, ends: Array) -> Band | None:
    """A figure with its band; None where it is not known."""
    return None if np.isnan(value) else Band.of(value, ends)


def _with_heads(warm_up: WarmUp, run: _Run) -> WarmUp:
    hot = run.hot
    ends = (hot.head_K, hot.head_cool_K, hot.head_warm_K)
    heads = [_ends([head[hot.place_of(time)] for head in ends]) for time in TIMES_s]
    last = hot.place_of(HOT_s)
    return replace(
        warm_up,
        head_temperature_1_min_K=heads[0],
        head_temperature_5_min_K=heads[1],
        head_temperature_15_min_K=heads[2],
        mixture_temperature_K=_ends([w.port_exit_K[last] for w in (hot.mixture, hot.cool, hot.warm)]),
        steady_s=None if math.isnan(run.steady_s) else run.steady_s,
    )


def _ends(figures: Sequence[Array]) -> Band:
    """A band from its value, low and high end."""
    value, low, high = (float(figure) for figure in figures)
    return Band(value=value, low=low, high=high)


def _by_band(cold: ColdBurner, warm_up: WarmUp) -> WarmUp:
    """Hot air within a band of the cold air, for a burner whose body the file does not describe."""
    row = coefficients(cold.case.options.own)[NO_BODY]
    ratios = np.array([row.value, row.low, row.high])

    def hot(value: Array, ends: Array) -> Band | None:
        return band_of(value * row.value, _joined(value * ratios, ends * row.value))

    return replace(
        warm_up,
        hot_primary_aeration=hot(cold.full.primary_aeration, cold.full.primary_aeration_band),
        hot_lowest_rate_primary_aeration=hot(cold.low.primary_aeration, cold.low.primary_aeration_band),
        hot_yellow_tip_margin=hot(cold.full.yellow_tip_margin, cold.full.yellow_tip_margin_band),
        hot_lowest_rate_yellow_tip_margin=hot(cold.low.yellow_tip_margin, cold.low.yellow_tip_margin_band),
        why_not=NO_PORT_TEMPERATURE,
    )


RATES, ENDS = 3, 3  # full, lowest, lowest on hot metal; value, warm and cool end


@dataclass(frozen=True, slots=True, kw_only=True)
class _HotSide:
    """A burner whose hot side is evaluated with temperatures, with a ratio of its air, or with both."""

    cold: ColdBurner
    warmth: MixtureWarmth  # [9], as ``_Run`` has it
    has_ports: bool  # whether the temperature in the ports is known

    @classmethod
    def of(cls, cold: ColdBurner, run: _Run | None) -> _HotSide:
        """Of a run of the model; without one with the ports of the file, or with none."""
        if run is not None:
            return cls(cold=cold, warmth=run.ends, has_ports=True)
        entered = None if cold.burner.ports is None else cold.burner.ports.temperature_K
        air = np.full(RATES * ENDS, cold.air_K)
        ports = air if entered is None else np.full(RATES * ENDS, entered)
        warmth = MixtureWarmth(inlet_K=air, tube_end_K=air, before_ports_K=air, port_exit_K=ports)
        return cls(cold=cold, warmth=warmth, has_ports=entered is not None)


def hot_mixture(cold: ColdBurner) -> tuple[MixtureTemperatures, MixtureTemperatures] | None:
    """Temperatures of a burner's mixture 15 min after a cold start: at full rate, and just after it is turned down.

    None where neither its body nor its ports say how hot they are, or the gas round them in a closed box is not known
    """
    basis = _basis(cold)
    has_model = basis in (HotBasis.MODEL, HotBasis.RATIO) and body_of(cold.burner) is not None
    run = _runs([cold])[0] if has_model and cold.is_gas_known else None
    if run is None and basis != HotBasis.PORTS:
        return None
    gas, warmth = _gas_ratios(cold)[0], _HotSide.of(cold, run).warmth
    full, turned = (
        replace(_temperatures(_part(warmth, rate), cold.air_K), gas_ratio=gas) for rate in (0, RATES - 1)
    )
    return full, turned


def _hot_figures(sides: Sequence[_HotSide]) -> list[dict[str, Any]]:
    """Figures of ``WarmUp`` of the hot burners, evaluated at three rates and with both ends of their temperatures."""
    results: list[dict[str, Any]] = [{} for _ in sides]
    for places in _patterns([side.cold for side in sides]):
        some = [sides[k] for k in places]
        first = some[0].cold
        rates = [[side.cold.full, side.cold.low, side.cold.low] * ENDS for side in some]
        # less air where metal is hotter and gas colder: the ends of both go together
        gas = np.array([np.repeat(_gas_ratios(side.cold), RATES) for side in some])
        warmth = _joined_warmth([side.warmth for side in some])
        temperatures = replace(_temperatures(warmth, first.air_K), gas_ratio=gas)
        cases = _cases([side.cold for side in some], rates, temperatures, has_band=True)
        around = first.case.surroundings
        air = primary_air(cases.geometry, cases.fuel, cases.flow, around, cases.options)
        back = light_back_margin(cases.geometry, cases.fuel, cases.flow, air, around, cases.options)
        for row, place in enumerate(places):
            start = row * RATES * ENDS
            rows = slice(start, start + RATES * ENDS)
            results[place] = _figures(some[row], air, back, rows)
    return results


def _figures(side: _HotSide, air: PrimaryAir, back: LightBackMargin, cases: slice) -> dict[str, Any]:
    """The hot figures of one burner among all cases."""
    own = replace(air, aeration=air.aeration[cases], low=air.low[cases], high=air.high[cases])
    has_ports = side.has_ports

    def at(rate: int, values: Array, ends: Array) -> Band | None:
        some = values[rate::RATES]
        return None if np.any(np.isnan(some)) else band_of(some[0], _joined(some, ends[rate]))

    aeration = own.aeration, np.stack([own.low, own.high], axis=-1)
    yellow = yellow_tip_margins(side.cold.case.fuel, own)
    light_back = at(2, back.value[cases], back.band[cases]) if has_ports else None
    return {
        "hot_primary_aeration": at(0, *aeration),
        "hot_lowest_rate_primary_aeration": at(1, *aeration),
        "hot_yellow_tip_margin": at(0, *yellow),
        "hot_lowest_rate_yellow_tip_margin": at(1, *yellow),
        "hot_light_back_margin": light_back,
        "light_back_is_at_least": bool(back.is_at_least[cases][2]),
        "why_not": "" if light_back is not None else BEYOND if has_ports else NO_PORT_TEMPERATURE,
    }


def _joined(values: Array, ends: Array) -> Array:
    """Ends of the band of a figure: its own added, in quadrature of logarithms, to what its temperatures leave.

    values : the figure, then with the warm and the cool end of the temperatures where there are such; ends : its own
    """
    value = values[0]
    if not value > 0.0:  # no air: nothing to take a logarithm of
        return np.array([min(*values, ends[0]), max(*values, ends[1])])
    with np.errstate(divide="ignore", invalid="ignore"):
        low = np.hypot(np.log(value / ends[0]), np.log(value / np.min(values)))
        high = np.hypot(np.log(ends[1] / value), np.log(np.max(values) / value))
    return np.array([value * np.exp(-low), value * np.exp(high)])


# what it is called: findings, and a note


def hot_findings(cold: ColdBurner, warm: WarmUp, own: Path | None = None) -> Iterator[Finding]:
    """Yellow tips hot, at the worse of both rates, and light-back turned down on hot metal; none where not evaluated.

    own : the user's own rules of ports
    """
    yellow = [
        (margin, rate, air)
        for margin, rate, air in (
            (warm.hot_yellow_tip_margin, "full rate", warm.hot_primary_aeration),
            (warm.hot_lowest_rate_yellow_tip_margin, warm.lowest_rate, warm.hot_lowest_rate_primary_aeration),
        )
        if margin is not None and air is not None
    ]
    limit = cold.case.fuel.yellow_tip.limit
    if yellow and limit is not None and warm.cold_primary_aeration is not None:
        margin, rate, air = min(yellow, key=lambda each: each[0].value)
        text = (
            f"primary aeration {100 * air.value:.1f} % 15 min after a cold start at {rate}, cold"
            f" {100 * warm.cold_primary_aeration.value:.1f} % at full rate, against at least"
            f" {100 * float(limit.value):.1f} %"
        )
        yield from _finding(
            cold, "yellow tipping", margin, "; ".join((text, limit.note)), limit.evidence, own
        )
    back = warm.hot_light_back_margin
    if back is not None:
        when = "" if warm.lowest_rate == "full rate" else f" at {warm.lowest_rate}"
        hot = "" if warm.mixture_temperature_K is None else ", hot metal"
        parts = [
            f"{_times(back)} the gradient of light-back{when or ' at full rate'}{hot}",
            cold.low.at.light_back.note,
        ]
        if warm.light_back_is_at_least:
            parts += ["the mixture burns slower than any flat flame believed here: the limit lies below this"]
        yield from _finding(
            cold, "light-back" + when, back, "; ".join(parts), cold.low.at.light_back.evidence, own
        )


def _times(band: Band) -> str:
    return f"boundary velocity gradient {number(band.value, 2)} times ({number(band.low, 2)} to {number(band.high, 2)})"


def _finding(
    cold: ColdBurner, topic: str, margin: Band, text: str, evidence: Evidence, own: Path | None
) -> Iterator[Finding]:
    """Against the rule of that limit; none where no rule speaks of this gas. The evidence is that of the limit."""
    name = "yellow-tip margin" if topic == "yellow tipping" else "light-back margin"
    rule = rule_for(name, cold.case.fuel.group, own)
    low, high = known_ends(margin.low, margin.high)
    if rule is not None:
        yield Finding(
            topic=topic, verdict=rule.verdict(margin.value, margin.low, margin.high), text=text,
            burner=cold.burner.name, value=margin.value, unit=rule.unit, low=rule.low, high=rule.high,
            source=rule.cite(), evidence=evidence, value_low=low, value_high=high,
        )  # fmt: skip


def warm_up_notes(warm: WarmUp) -> Iterator[str]:
    """What the hot side rests on, where it is not the model of a body in a known place; margins without an order."""
    words: dict[HotBasis, str] = {
        HotBasis.RATIO: "hot primary air by your own ratio of hot to cold",
        HotBasis.PORTS: "hot primary air with the mixture in the ports at the temperature of the file;"
        " a warm tube, which takes more, is not in it",
        HotBasis.NO_BODY: "the body of the burner is not described: hot primary air between 85 and 100 % of the"
        " cold; a hot box takes more",
    }
    if warm.basis in words:
        yield words[warm.basis]
    if warm.light_back_order:
        yield UNORDERED
