"""A burner evaluated on a gas: primary air, ports, and the limits of its flame.

The ports and the limits are calculated three times: at the nominal aeration and at both ends of its band.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from burnerlab.burner import ports, stability
from burnerlab.burner.burner import (
    BurnerFuel,
    BurnerGeometry,
    EvaluationOptions,
    Fuel,
    FuelOfCases,
    GasCases,
    Surroundings,
    burner_fuel,
    joined_fuels,
    joined_geometry,
    mixture_temperatures,
    port_mixture_K,
)
from burnerlab.burner.coefficients import Array, Numbers, array, coefficients
from burnerlab.burner.ports import AIR, Transport, mixed_with_air, transport
from burnerlab.burner.primary_air import (
    COLD,
    MOST_TOGETHER,
    JetFlow,
    PrimaryAir,
    jet_of,
    primary_air,
)
from burnerlab.burner.stability import Burning, LiftMixture, Limit, Mixture
from burnerlab.burner.state import BurnerState, FlameLimits, PortFlame, part_of, span_where_stated
from burnerlab.flame.burning_velocity import RANGES, burning_velocity_errors, flame_states, prepared
from burnerlab.gas import Gas
from burnerlab.orifice import nozzle
from burnerlab.supply.root_search import rising_root
from burnerlab.tables import cache_by_file
from burnerlab.tables.field_names import field_names
from burnerlab.tables.problem import UserError

# The burning velocity of a gas as the stability limits ask for it, from the tables of the room of flames.


@dataclass(frozen=True, slots=True)
class Tabulated:
    """The burning velocity of one gas from the shipped tables."""

    gas: Gas
    richest: float  # equivalence ratio

    def __call__(
        self, equivalence_ratio: Numbers, unburnt_temperature_K: Numbers, pressure_Pa: Numbers
    ) -> Array:
        """Burning velocity [m/s]; nan outside the tables."""

        found: Array = flame_states(
            self.gas, equivalence_ratio, unburnt_temperature_K, pressure_Pa
        ).burning_velocity_m_per_s
        return found

    def relative_error(self, equivalence_ratio: Numbers, unburnt_temperature_K: Numbers) -> Array:
        """Standard error of the burning velocity, relative [-]; a hot mixture has one of its own."""

        found: Array = burning_velocity_errors(self.gas, equivalence_ratio, unburnt_temperature_K)
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class BurningLookup:
    """A burning velocity, or why there is none."""

    burning: Burning | None
    why_not: str = ""


def burning_of(gas: Gas) -> BurningLookup:
    """The tabulated burning velocity of a gas, or why it has none.

    >>> from burnerlab.gas import load
    >>> float(burning_of(load("propane")).burning(1.0, 298.15, 101325.0).round(2))
    0.4
    """

    try:
        prepared(gas)
    except UserError as error:
        why = "; ".join(" ".join(filter(None, (problem.value, problem.what))) for problem in error.problems)
        return BurningLookup(burning=None, why_not=why)
    return BurningLookup(burning=Tabulated(gas, RANGES["equivalence ratio"][1]))


def fuel_with_flame(gas: Gas, own: Path | None = None) -> BurnerFuel:
    """The figures of a gas that a burner asks for, with its burning velocity where the tables hold it.

    own : the user's own coefficients, for the limit of yellow tipping
    """
    known = burning_of(gas)
    return burner_fuel(gas, known.burning, known.why_not, own)


# One burner on one gas: air, ports, and where the flame sits. Everything broadcasts, one burner or a
# million.


def evaluate(
    geometry: BurnerGeometry,
    fuel: BurnerFuel,
    gauge_pressure_Pa: Numbers,
    surroundings: Surroundings | None = None,
    options: EvaluationOptions | None = None,
) -> BurnerState:
    """A burner as built on a gas: heat input, primary air, port flow and the margins to the flame's limits.

    gauge_pressure_Pa : before the orifice at full rate [Pa]
    Raises UserError for a pressure that is not above the surroundings. Range: see each function.
    Source: burner-momentum, burner-duct-theory, burner-lewis-von-elbe, burner-reed.

    >>> from burnerlab.burner.burner import burner_fuel
    >>> from burnerlab.gas import load
    >>> burner = BurnerGeometry(port_width_m=1.6e-3, port_count=120, orifice_diameter_m=1.4e-3, throat_m=14e-3)
    >>> found = evaluate(burner, burner_fuel(load("natural-gas-typical")), 1740.0)
    >>> float(found.primary_aeration), float(found.port_loading_W_per_mm2)
    (0.671, 15.22)
    """
    place, options = surroundings or Surroundings(), options or EvaluationOptions()
    return _evaluated(geometry, fuel, fuel, array(gauge_pressure_Pa), place, options)


def evaluate_each(
    burners: Sequence[tuple[BurnerGeometry, BurnerFuel]],
    gauge_pressure_Pa: Array,
    load: Array,
    surroundings: Surroundings,
    options: EvaluationOptions,
) -> tuple[BurnerState, ...]:
    """``evaluate`` of a row of cases, each a burner on a gas of its own, in one call.

    burners : geometry and gas of each case; all leave out the same parts of their geometry
    gauge_pressure_Pa, load : of each case; surroundings and the other options are those of all
    """
    geometries, fuels = zip(*burners, strict=True)
    row = _evaluated(
        joined_geometry(geometries),
        joined_fuels(fuels),
        fuels[0],
        gauge_pressure_Pa,
        surroundings,
        replace(options, load=load),
    )
    return row.each(burners)


def _evaluated(
    geometry: BurnerGeometry,
    fuel: Fuel,
    state_fuel: BurnerFuel,
    pressure: Array,
    place: Surroundings,
    options: EvaluationOptions,
) -> BurnerState:
    """state_fuel : what the state holds as its fuel, before it is split case by case."""
    flow = jet_flow(geometry, fuel, pressure, place, options)
    heat = flow.heat_input_gross_W
    air = primary_air(geometry, fuel, flow, place, options)
    loading = ports.loading_W_per_mm2(heat, geometry.port_area_m2)
    case = _case(geometry, fuel, place, options)
    flames = _flames(case, loading, air, _strongest(case))
    cold = _at_temperature(case, place.air_temperature_K)
    mixture = flames.mixture if cold is case else cold.mixture(air.aeration)
    gas_flow = heat / fuel.heating_value_J_per_m3 * _state(place)
    excess = coefficients(options.own)["secondary excess air"].value
    return BurnerState(
        geometry=geometry,
        fuel=state_fuel,
        gauge_pressure_Pa=pressure,
        surroundings=place,
        options=options,
        heat_input_gross_W=heat,
        flow=flow,
        air=air,
        port_loading_W_per_mm2=loading,
        at=flames.at,
        at_low=flames.low,
        at_high=flames.high,
        quenching_width_m=_quenching_width_m(cold, mixture),
        least_quenching_width_m=_least_quenching_width_m(cold),
        secondary_air_m3_per_s=ports.secondary_air_m3_per_s(
            gas_flow, fuel.stoichiometric_air, air.aeration, excess
        ),
        notes=_notes(geometry, options),
    )


def throttled_pressure_Pa(state: BurnerState) -> Array:
    """Gauge pressure before the orifice at the load of a state, throttled ahead of it to that share of the flow [Pa].

    The pressure with the valve open at full load; near p load^2 below it, found with the compressible flow.
    """
    open_Pa, load = state.gauge_pressure_Pa, np.asarray(state.options.load, dtype=np.float64)
    place = _at_orifice(state.geometry, state.surroundings, state.options)
    wanted = state.heat_input_gross_W

    def excess(pressure: Array) -> Array:
        return _heat_input_W(state.geometry, state.fuel, pressure, place) - wanted

    found: Array = rising_root(excess, 1e-6 * open_Pa, np.broadcast_to(open_Pa, load.shape)).value
    return np.asarray(np.where(load < 1.0, found, open_Pa))


def _state(place: Surroundings) -> Array:
    """Ideal volume at the surroundings over that at 15 C, 101.325 kPa."""
    warmer = array(place.air_temperature_K) / ports.REFERENCE_K
    return np.asarray(warmer * (ports.REFERENCE_Pa / np.asarray(place.ambient_pressure_Pa)))


def _at_orifice(geometry: BurnerGeometry, place: Surroundings, options: EvaluationOptions) -> Surroundings:
    """The surroundings with the gas as warm as it is at the orifice."""
    ratio = mixture_temperatures(geometry, place, options).gas_ratio
    return replace(place, gas_temperature_K=array(place.gas_temperature_K) * ratio)


THROTTLE_ROUNDS = 2  # that of a choked jet is met within one per cent, of others within 2e-5


def jet_flow(
    geometry: BurnerGeometry,
    fuel: Fuel,
    gauge_pressure_Pa: Numbers,
    place: Surroundings,
    options: EvaluationOptions,
) -> JetFlow:
    """The gas that flows through the orifice, at the load of the options.

    gauge_pressure_Pa : before the orifice at full rate [Pa]
    """
    there, open_Pa = _at_orifice(geometry, place, options), array(gauge_pressure_Pa)
    load = array(options.load)

    def heat_at(pressure: Array) -> Array:
        return _heat_input_W(geometry, fuel, pressure, there)

    full = heat_at(open_Pa)
    heat, throttled = array(full * load), open_Pa
    if np.any(load < 1.0):
        throttled = _throttled_Pa(heat_at, open_Pa, full, load)
    return jet_of(fuel, heat, throttled, there, options.own)


def _throttled_Pa(heat_at: Callable[[Array], Array], open_Pa: Array, full_W: Array, load: Array) -> Array:
    """Pressure before the orifice at a share of the flow [Pa]: the flow goes with a power of it, near to its root.

    heat_at : heat input at a pressure [W]; open_Pa, full_W : with the valve open
    """
    before, its_heat, pressure = open_Pa, full_W, open_Pa * load**2
    for _ in range(THROTTLE_ROUNDS):
        heat = heat_at(pressure)
        span = np.log(pressure / before)
        is_open = span == 0.0
        power = np.where(is_open, 0.5, np.log(heat / its_heat) / np.where(is_open, 1.0, span))
        before, its_heat = pressure, heat
        pressure = pressure * (full_W * load / heat) ** (1.0 / np.clip(power, 0.25, 1.0))
    return pressure


def _heat_input_W(geometry: BurnerGeometry, fuel: Fuel, pressure: Array, place: Surroundings) -> Array:
    """Gross heat input at full rate [W]."""
    absolute = pressure + place.ambient_pressure_Pa
    density = fuel.density_kg_per_m3(place.gas_temperature_K, absolute)
    exponent = fuel.isentropic_exponent(place.gas_temperature_K, absolute)
    flow = nozzle.mass_flow_kg_per_s(
        geometry.orifice_diameter_m,
        pressure,
        place.ambient_pressure_Pa,
        density,
        exponent,
        geometry.orifice_coefficient,
        geometry.orifice_count,
    )
    return flow * fuel.heating_value_J_per_kg


def _notes(geometry: BurnerGeometry, options: EvaluationOptions) -> tuple[str, ...]:
    notes = []
    if options.aeration is None and geometry.throat_m is not None:
        if geometry.shutter_area_m2 is None:
            notes.append(
                "the area of the air shutter is not given: the inlet is left out of the momentum balance"
            )
        if options.temperatures is not COLD:
            notes.append(_air_note(geometry, options))
    if options.temperatures is None and geometry.port_temperature_K is None:
        notes.append("ports as cold as the air: hot ports raise velocity and both flame limits")
    return tuple(notes)


def _air_note(geometry: BurnerGeometry, options: EvaluationOptions) -> str:
    """What the primary air rests on."""
    if options.hot_ratio is not None:
        return "primary air of the cold burner times your own ratio of hot to cold"
    if options.temperatures is not None:
        return "primary air with gas, air, tube and ports at the temperatures stated"
    if geometry.port_temperature_K is None:
        return "primary air as with cold ports"
    return "primary air with hot ports; heating of gas and tube, which takes more off, is not in it"


# ports and flame


@dataclass(frozen=True, slots=True)
class PortMixture:
    """The primary mixture in the ports; arrays over the cases."""

    flame: Mixture
    viscosity_m2_per_s: Array  # kinematic
    beyond: NDArray[np.bool_]  # richer than the table: the real flame is slower than this one

    def part(self, place: int) -> PortMixture:
        """At a place of the first axis."""
        flame = Mixture(
            burning_velocity_m_per_s=self.flame.burning_velocity_m_per_s[place],
            thermal_diffusivity_m2_per_s=self.flame.thermal_diffusivity_m2_per_s[place],
            burning_velocity_error=np.asarray(self.flame.burning_velocity_error)[place],
            hydrogen_share=self.flame.hydrogen_share,
        )
        return PortMixture(flame, self.viscosity_m2_per_s[place], self.beyond[place])


@dataclass(frozen=True, slots=True)
class _Case:
    geometry: BurnerGeometry
    fuel: Fuel
    place: Surroundings
    own: Path | None
    port_K: Numbers
    gas: Transport  # at the port's temperature
    air: Transport

    def mixture(self, aeration: Numbers) -> PortMixture:
        """The primary mixture at an aeration; beyond the rich end of the table with the flame of that end."""
        a, pressure = array(aeration), self.place.ambient_pressure_Pa
        flow = mixed_with_air(self.gas, self.air, a * self.fuel.stoichiometric_air, self.port_K, pressure)
        burning = self.fuel.burning
        if burning is None:
            speed, beyond = np.full(np.shape(a), np.nan), np.zeros(np.shape(a), dtype=bool)
            error = np.zeros(np.shape(a))
        else:
            with np.errstate(divide="ignore"):
                ratio = 1.0 / a
            beyond = ratio > burning.richest
            ratio = np.where(beyond, burning.richest, ratio)
            speed = burning(ratio, self.port_K, pressure)
            error = burning.relative_error(ratio, self.port_K)
        return PortMixture(
            flame=Mixture(
                burning_velocity_m_per_s=speed,
                thermal_diffusivity_m2_per_s=flow.thermal_diffusivity_m2_per_s,
                burning_velocity_error=error,
                hydrogen_share=self.fuel.hydrogen_share,
            ),
            viscosity_m2_per_s=flow.kinematic_viscosity_m2_per_s,
            beyond=beyond,
        )


def _case(geometry: BurnerGeometry, fuel: Fuel, place: Surroundings, options: EvaluationOptions) -> _Case:
    own, port_K = options.own, port_mixture_K(geometry, place, options)
    return _Case(
        geometry, fuel, place, own, port_K, fuel.transport(port_K, own), transport(*AIR, port_K, own)
    )


def _at_temperature(case: _Case, port_K: Numbers) -> _Case:
    """The same burner and gas with the mixture in its ports at another temperature."""
    if port_K is case.port_K or (np.ndim(port_K) == np.ndim(case.port_K) == 0 and port_K == case.port_K):
        return case
    gas = case.fuel.transport(port_K, case.own)
    return replace(case, port_K=port_K, gas=gas, air=transport(*AIR, port_K, case.own))


# the mixture that burns fastest for its diffusivity, on which lift rests

ANY_PORTS = BurnerGeometry(port_width_m=1e-3, port_count=1, orifice_diameter_m=1e-3)
ANY_SLOTS = replace(ANY_PORTS, slot_length_m=1e-3)
"""For figures of a gas that no geometry moves but the shape of its ports."""
STRONGEST_RATIOS = np.arange(0.7, 3.005, 0.01)  # equivalence ratios among which it is sought
MESH, PRESSURES = (
    17,
    5,
)  # temperatures and pressures at which it is sought where there are more cases than that


def _strongest(case: _Case) -> LiftMixture:
    """The greatest Su^2/alpha over all mixtures, at the temperature and pressure of each case.

    Many cases share a mesh of temperatures and pressures, between which its logarithm is interpolated: Su and alpha go
    nearly with powers of both, and the mesh departs from the direct search by less than 0.1 %.
    """
    temperature, pressure = (array(end) for end in (case.port_K, case.place.ambient_pressure_Pa))
    if isinstance(case.fuel, FuelOfCases):
        return _strongest_of_cases(case, case.fuel.cases)
    if case.fuel.burning is None:
        return LiftMixture(gas_fraction=np.asarray(np.nan), square_per_s=np.asarray(np.nan))
    if isinstance(case.fuel.burning, Tabulated) and temperature.ndim == pressure.ndim == 0:
        return _strongest_of(case.fuel.burning, float(temperature), float(pressure), case.own)
    if max(temperature.size, pressure.size) <= MESH:
        return _strongest_at(case, *np.broadcast_arrays(temperature, pressure))
    warm, heavy = (_mesh(end, count) for end, count in ((temperature, MESH), (pressure, PRESSURES)))
    on_mesh = _strongest_at(case, *np.meshgrid(warm, heavy, indexing="ij"))

    def between(values: Array) -> Array:
        return _interpolated(values, (warm, temperature), (np.log(heavy), np.log(pressure)))

    return LiftMixture(
        gas_fraction=between(on_mesh.gas_fraction),
        square_per_s=np.exp(between(np.log(on_mesh.square_per_s))),
        burning_velocity_error=between(np.asarray(on_mesh.burning_velocity_error)),
    )


def _strongest_of_cases(case: _Case, cases: GasCases) -> LiftMixture:
    """Of each case that of its gas, at the one temperature and pressure of them all."""
    found = {id(fuel): _strongest(_of_gas(case, fuel)) for fuel in cases.fuels}
    return LiftMixture(
        **{
            name: cases.of_each(lambda fuel, name=name: getattr(found[id(fuel)], name))
            for name in field_names(LiftMixture)
        }
    )


def _of_gas(case: _Case, fuel: BurnerFuel) -> _Case:
    """A gas among others at the temperature and pressure of them all."""
    gas = fuel.transport(case.port_K, case.own)
    return replace(
        case, geometry=ANY_PORTS if case.geometry.slot_length_m is None else ANY_SLOTS, fuel=fuel, gas=gas
    )


@cache_by_file
def _strongest_of(
    burning: Tabulated, temperature_K: float, pressure_Pa: float, own: Path | None
) -> LiftMixture:
    """Of one gas at one temperature and pressure, found once."""
    case = _any_case(burning, temperature_K, pressure_Pa, own)
    return _strongest_at(case, array(temperature_K), array(pressure_Pa))


def _any_case(burning: Tabulated, temperature_K: float, pressure_Pa: float, own: Path | None) -> _Case:
    """One gas at one temperature and pressure in ports of any geometry."""
    place = Surroundings(ambient_pressure_Pa=pressure_Pa, air_temperature_K=temperature_K)
    fuel = burner_fuel(burning.gas, burning, own=own)
    return _case(ANY_PORTS, fuel, place, EvaluationOptions(temperatures=COLD, own=own))


def _mesh(values: Array, count: int) -> Array:
    """So many values from the least to the greatest; one where they do not differ."""
    finite = values[np.isfinite(values)]
    if finite.size == 0:
        return np.array([np.nan])
    low, high = float(finite.min()), float(finite.max())
    return np.array([low]) if low == high else np.linspace(low, high, count)


def _interpolated(values: Array, rows: tuple[Array, Array], columns: tuple[Array, Array]) -> Array:
    """Bilinear between the places of a mesh; each axis its places and where it is wanted."""
    (places, at), (others, across) = rows, columns
    along = [np.interp(at, places, values[:, k]) for k in range(others.size)]
    if others.size == 1:
        return np.asarray(along[0])
    k = np.clip(np.searchsorted(others, across) - 1, 0, others.size - 2)
    share = (across - others[k]) / (others[k + 1] - others[k])
    stacked = np.stack(np.broadcast_arrays(*along, share)[:-1])
    k = np.broadcast_to(k, stacked.shape[1:])[None]
    lower, upper = (np.take_along_axis(stacked, k + step, axis=0)[0] for step in (0, 1))
    return np.asarray(lower + share * (upper - lower))


def _strongest_at(case: _Case, temperature_K: Array, pressure_Pa: Array) -> LiftMixture:
    """By search over equivalence ratios, at each temperature and pressure."""
    burning = case.fuel.burning
    assert burning is not None
    ratios = STRONGEST_RATIOS[STRONGEST_RATIOS <= burning.richest]
    ratios = ratios.reshape(-1, *([1] * np.ndim(temperature_K)))
    place = replace(case.place, ambient_pressure_Pa=pressure_Pa)
    flame = _at_temperature(replace(case, place=place), temperature_K).mixture(1.0 / ratios).flame
    squares = flame.burning_velocity_m_per_s**2 / flame.thermal_diffusivity_m2_per_s
    known = np.where(np.isnan(squares), -np.inf, squares)
    best = np.argmax(known, axis=0, keepdims=True)
    square = np.take_along_axis(known, best, axis=0)[0]
    errors = np.broadcast_to(np.asarray(flame.burning_velocity_error), squares.shape)
    ratio = np.take_along_axis(np.broadcast_to(ratios, squares.shape), best, axis=0)[0]
    return LiftMixture(
        gas_fraction=stability.gas_fraction(case.fuel.stoichiometric_air, 1.0 / ratio),
        square_per_s=np.where(np.isfinite(square), square, np.nan),
        burning_velocity_error=np.take_along_axis(errors, best, axis=0)[0],
    )


@cache_by_file
def gas_limits(
    burning: Tabulated, aerations: tuple[float, ...], port_K: float, pressure_Pa: float, own: Path | None
) -> FlameLimits:
    """``flame_limits`` of one gas whose mixture leaves the ports at a temperature: the same for all burners.

    port_K : [K]; pressure_Pa : absolute [Pa]
    """
    place = Surroundings(ambient_pressure_Pa=pressure_Pa, air_temperature_K=port_K)
    fuel = burner_fuel(burning.gas, burning, own=own)
    options = EvaluationOptions(temperatures=COLD, own=own)
    return flame_limits(ANY_PORTS, fuel, array(aerations), place, options)


def flame_limits(
    geometry: BurnerGeometry,
    fuel: BurnerFuel,
    aeration: Array,
    surroundings: Surroundings,
    options: EvaluationOptions,
) -> FlameLimits:
    """Limits of a burner's flame at each aeration [-]."""
    case = _case(geometry, fuel, surroundings, options)
    return _limits(case, aeration, case.mixture(aeration), _strongest(case))


class _Flames(NamedTuple):
    """Ports and limits at the aeration and at both ends of its band, and the mixture in the ports at the aeration."""

    at: PortFlame
    low: PortFlame
    high: PortFlame
    mixture: PortMixture


def _flames(case: _Case, loading: Array, air: PrimaryAir, strongest: LiftMixture) -> _Flames:
    if not air.has_band:
        mixture = case.mixture(air.aeration)
        at = _flame(case, loading, mixture, _limits(case, air.aeration, mixture, strongest))
        return _Flames(at, at, at, mixture)
    ends = _ends_of_air(case, loading, air)
    mixed = case.mixture(ends)
    if ends.size <= MOST_TOGETHER:
        together = _flame(case, loading, mixed, _limits(case, ends, mixed, strongest))
        at, low, high = (part_of(together, place, ends.shape) for place in range(3))
        return _Flames(at, low, high, mixed.part(0))
    parts = [mixed.part(place) for place in range(3)]
    at, low, high = (
        _flame(case, loading, part, _limits(case, end, part, strongest))
        for end, part in zip(ends, parts, strict=True)
    )
    return _Flames(at, low, high, parts[0])


def _ends_of_air(case: _Case, loading: Array, air: PrimaryAir) -> Array:
    """The aeration and both ends of its band along a new first axis; itself alone where it has none."""
    ends = (air.aeration, air.low, air.high) if air.has_band else (air.aeration,)
    return np.stack(np.broadcast_arrays(*ends, case.port_K, loading)[: len(ends)])


@dataclass(frozen=True, slots=True, kw_only=True)
class LightBackMargin:
    """Wall gradient over that of light-back with its band; arrays over the cases."""

    value: Array
    band: Array  # least and most, along the last axis
    is_at_least: NDArray[np.bool_]  # the flame burns slower than any flat flame believed


def light_back_margin(
    geometry: BurnerGeometry,
    fuel: Fuel,
    flow: JetFlow,
    air: PrimaryAir,
    place: Surroundings,
    options: EvaluationOptions,
) -> LightBackMargin:
    """The margin to light-back of a burner whose air is known: that of ``evaluate`` and none of its other limits.

    flow, air : of the same burner, place and options
    """
    case = _case(geometry, fuel, place, options)
    loading = ports.loading_W_per_mm2(flow.heat_input_gross_W, geometry.port_area_m2)
    ends = _ends_of_air(case, loading, air)
    mixture = case.mixture(ends)
    limit = _light_back(case, ends, mixture)
    wall = _wall(case, _velocity(case, loading, ends), mixture.viscosity_m2_per_s).gradient_per_s
    value = (wall / limit.limit.value)[0]
    return LightBackMargin(
        value=value,
        band=span_where_stated(value, [*(wall / limit.limit.low), *(wall / limit.limit.high)]),
        is_at_least=limit.is_bound[0],
    )


class _LightBack(NamedTuple):
    """The limit of light-back of a mixture, and whether it lies below: no flame of it is believed."""

    limit: Limit
    is_bound: NDArray[np.bool_]
    burning_velocity_m_per_s: Array  # nan where no limit is stated for want of premixed air


def _light_back(case: _Case, aeration: Array, mixture: PortMixture) -> _LightBack:
    table = coefficients(case.own)
    slowest = table["slowest flame"].value
    is_premixed = aeration >= table["least premixed aeration"].value
    speed = np.where(is_premixed, mixture.flame.burning_velocity_m_per_s, np.nan)
    is_bound = is_premixed & ((speed < slowest) | mixture.beyond)
    held = replace(mixture.flame, burning_velocity_m_per_s=np.maximum(speed, slowest))
    return _LightBack(stability.light_back_limit(held, case.own), is_bound, speed)


def _limits(case: _Case, aeration: Array, mixture: PortMixture, strongest: LiftMixture) -> FlameLimits:
    """Limits of a case at an aeration, whose mixture is given."""
    own = case.own
    fraction = stability.gas_fraction(case.fuel.stoichiometric_air, aeration)
    back = _light_back(case, aeration, mixture)
    lift = stability.lift_limit(fraction, mixture.flame, strongest, own)
    is_stated = aeration >= coefficients(own)["least lift aeration"].value
    return FlameLimits(
        aeration=aeration,
        gas_fraction=fraction,
        viscosity_m2_per_s=mixture.viscosity_m2_per_s,
        burning_velocity_m_per_s=np.where(back.is_bound, np.nan, back.burning_velocity_m_per_s),
        lift=replace(
            lift,
            value=np.where(is_stated, lift.value, np.nan),
            low=np.where(is_stated, lift.low, np.nan),
            high=np.where(is_stated, lift.high, np.nan),
            is_more_than=lift.is_more_than & is_stated,
        ),
        light_back=back.limit,
        light_back_is_bound=back.is_bound,
    )


def _quenching_width_m(cold: _Case, mixture: PortMixture) -> Array:
    """Port width that stops the flame of a mixture, at the temperature of the air: it does not grow with the port's."""
    flame = mixture.flame
    speed = flame.burning_velocity_m_per_s
    believed = np.where(speed < coefficients(cold.own)["slowest flame"].value, np.nan, speed)
    is_slot = cold.geometry.slot_length_m is not None
    return ports.quenching_width_m(flame.thermal_diffusivity_m2_per_s, believed, is_slot, cold.own)


def _least_quenching_width_m(cold: _Case) -> Array:
    """Of the stoichiometric mixture, which no burner moves."""
    if isinstance(cold.fuel, FuelOfCases):
        return cold.fuel.cases.of_each(lambda fuel: _least_quenching_width_m(_of_gas(cold, fuel)))
    temperature, pressure, burning = cold.port_K, cold.place.ambient_pressure_Pa, cold.fuel.burning
    if isinstance(burning, Tabulated) and np.ndim(temperature) == np.ndim(pressure) == 0:
        is_slot = cold.geometry.slot_length_m is not None
        return _least_quenching_of(burning, float(temperature), float(pressure), is_slot, cold.own)
    return _quenching_width_m(cold, cold.mixture(1.0))


@cache_by_file
def _least_quenching_of(
    burning: Tabulated, temperature_K: float, pressure_Pa: float, is_slot: bool, own: Path | None
) -> Array:
    """Of one gas at one temperature and pressure, found once."""
    case = _any_case(burning, temperature_K, pressure_Pa, own)
    return _quenching_width_m(replace(case, geometry=ANY_SLOTS if is_slot else ANY_PORTS), case.mixture(1.0))


def _flame(case: _Case, loading: Array, mixture: PortMixture, limits: FlameLimits) -> PortFlame:
    """Ports and limits of a case at the aeration of the limits."""
    velocity = _velocity(case, loading, limits.aeration)
    speed = limits.burning_velocity_m_per_s
    fast = np.where(speed > coefficients(case.own)["slowest inner cone"].value, speed, np.nan)
    return PortFlame(
        **{name: getattr(limits, name) for name in field_names(FlameLimits)},
        velocity_m_per_s=velocity,
        wall=_wall(case, velocity, limits.viscosity_m2_per_s),
        inner_cone_height_m=ports.inner_cone_height_m(velocity, fast, case.geometry.port_width_m),
    )


def _velocity(case: _Case, loading: Array, aeration: Array) -> Array:
    """Of the mixture in the ports [m/s]."""
    return ports.mixture_velocity_m_per_s(
        loading,
        case.fuel.heating_value_J_per_m3,
        aeration * case.fuel.stoichiometric_air,
        case.port_K,
        pressure_Pa=case.place.ambient_pressure_Pa,
    )


def _wall(case: _Case, velocity: Array, viscosity_m2_per_s: Array) -> ports.WallGradient:
    geometry = case.geometry
    return ports.wall_gradient(
        velocity,
        geometry.port_width_m,
        viscosity_m2_per_s,
        slot=geometry.slot_length_m is not None,
        depth_m=geometry.port_depth_m,
        own=case.own,
    )
