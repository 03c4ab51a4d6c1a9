"""Primary air: what the jet of the orifice draws into a mixing tube.

With r = air per gas by volume and sigma = relative density of the gas, the momentum flux of the mixture is that
of the jet times (1 + r)(1 + r/sigma). The balance

    (1 + r)(1 + r/sigma) (A_j/2) G/theta_g + (r^2/sigma) (A_j/2) H/theta_g = 1

holds the tube and ports in G and the air inlet in H; theta are absolute temperatures over that of the air round the
burner (``MixtureTemperatures``): warm mixture and warm air need more head for the same flow, warm gas brings more.
It is a quadratic of r with one root that is not negative as long as the jet can drive the mixture at all, and rises
with r since G + H is above zero for any geometry, where the mixture in the tube is about as warm as the air that
enters; so the root is written down. The resistance K_p of the ports, in G, depends on the flow: the root is found
again with the K_p of the flow it gives, until both agree. Friction weighs more the slower the flow, so that a burner
turned down draws less of its air, and one at higher pressure more.

For the band each coefficient is moved alone to the end of its spread that gives less, or more, air; the changes are
added in quadrature, as of independent causes. A burner with all of them at their worst lies outside it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from burnerlab.burner.burner import (
    BurnerFuel,
    BurnerGeometry,
    EvaluationOptions,
    Fuel,
    MixtureTemperatures,
    Surroundings,
    mixture_temperatures,
)
from burnerlab.burner.coefficients import Array, Coefficient, Numbers, array, coefficients
from burnerlab.burner.jet_momentum import choked_jet_spread, jet_area_ratio
from burnerlab.burner.port_resistance import (
    VISCOSITY_EXPONENT,
    PortDrop,
    PortLosses,
    PortStream,
    linear_heating,
    port_losses,
)
from burnerlab.burner.ports import AIR, transport
from burnerlab.gas.heat_capacity import GAS_CONSTANT
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import output
from burnerlab.tables import End
from burnerlab.tables.field_names import field_names

# How much air the jet drags in: momentum balance of jet, mixing tube, ports and air shutter.

SOURCE = "burner-momentum"
COLD = MixtureTemperatures()


@dataclass(frozen=True, slots=True, kw_only=True)
class Jet:
    """The gas jet; each field a float or an array."""

    effective_area_m2: Numbers  # discharge coefficient times the area of the holes
    hole_area_m2: Numbers  # of the holes, which the throat's area lacks where the air comes in
    relative_density: Numbers  # of the gas, air = 1 [-]


@dataclass(frozen=True, slots=True, kw_only=True)
class MixingTube:
    """Throat, ports and air inlet; each field a float or an array."""

    throat_area_m2: Numbers
    port_area_m2: Numbers
    port_resistance: Numbers  # K_p, on the velocity head of the mixture before the ports [-]
    loss: Numbers  # on the velocity head of the throat [-]
    temperatures: MixtureTemperatures = COLD
    inlet_area_m2: Numbers | None = None  # open area of the shutter; None leaves the inlet out
    inlet_loss: Numbers = 1.0  # on the velocity head in that area [-]


def _root(group_factor: Numbers, inlet_factor: Numbers, relative_density: Numbers) -> Array:
    """Root r of (1 + r)(1 + r/sigma) g + (r^2/sigma) h = 1; 0 where the jet cannot drive the mixture.

    nan where g + h is not above 0: a mixture far colder than the air that goes into it.
    """
    g, h, sigma = array(group_factor), array(inlet_factor), array(relative_density)
    both = g + h
    square = np.where(both > 0.0, both, np.nan) / sigma
    linear, rest = g * (1.0 + 1.0 / sigma), np.maximum(1.0 - g, 0.0)
    return 2.0 * rest / (linear + np.sqrt(linear * linear + 4.0 * square * rest))


def free_tube(jet: Jet, throat_area_m2: Numbers) -> Array:
    """Air per gas of a tube without losses that discharges freely: (1 + r)(1 + r/sigma) = A_t/A_j.

    throat_area_m2 : [m2]. Returns r [m3/m3]; 0 when the throat is no wider than the jet.
    Source: burner-momentum.

    >>> float(free_tube(Jet(effective_area_m2=0.9295, hole_area_m2=1.0936, relative_density=0.5539), 278.629))
    12.110
    """
    return _root(array(jet.effective_area_m2) / throat_area_m2, 0.0, jet.relative_density)


def tube_term(tube: MixingTube) -> Array:
    """G = theta_t (1 + C_L)/A_t + theta_h K_p A_t/A_p^2 [1/m2]."""
    of_tube, of_ports = _tube_parts(tube)
    return of_tube * (1.0 + array(tube.loss)) + of_ports * array(tube.port_resistance)


def _tube_parts(tube: MixingTube) -> tuple[Array, Array]:
    """What 1 + C_L and K_p are multiplied with in G [1/m2]."""
    throat, warm = array(tube.throat_area_m2), tube.temperatures
    return array(warm.throat_ratio) / throat, array(warm.head_ratio) * throat / array(tube.port_area_m2) ** 2


def _annulus_term(jet: Jet, tube: MixingTube) -> Array:
    """The part of H/theta_a that the air's own speed beside the jet makes [1/m2]."""
    throat = array(tube.throat_area_m2)
    annulus = throat - jet.hole_area_m2
    return throat / annulus**2 - 2.0 / annulus


def inlet_term(jet: Jet, tube: MixingTube) -> Array:
    """H = theta_a [A_t/(A_t - A_0)^2 + K_i A_t/A_a^2 - 2/(A_t - A_0)] [1/m2]; 0 when the inlet is left out."""
    if tube.inlet_area_m2 is None:
        return np.zeros(())
    with np.errstate(divide="ignore"):
        shutter = array(tube.inlet_loss) * tube.throat_area_m2 / array(tube.inlet_area_m2) ** 2
    return array(tube.temperatures.inlet_ratio) * (shutter + _annulus_term(jet, tube))


def _jet_factor(jet: Jet, tube: MixingTube) -> Array:
    """(A_j/2)/theta_g [m2]: what the terms of the balance are multiplied with."""
    return array(jet.effective_area_m2) / 2.0 / array(tube.temperatures.gas_ratio)


def air_per_gas(jet: Jet, tube: MixingTube) -> Array:
    """Primary air a burner draws, by volume of gas: [(1 + r)(1 + r/sigma) G + (r^2/sigma) H] A_j/(2 theta_g) = 1.

    Returns r [m3/m3]; 0 when the losses eat all the jet's momentum, or the shutter is closed. Range: air at
    the inlet no hotter than (1 + C_L) theta_t (nan beyond). A choked jet counts by the area of its momentum.
    Without an inlet area the air inlet is left out. Source: burner-momentum.

    >>> jet = Jet(effective_area_m2=1.4036, hole_area_m2=1.6513, relative_density=0.5539)
    >>> tube = MixingTube(throat_area_m2=159.217, port_area_m2=200, port_resistance=1 / 0.65**2, loss=0.5)
    >>> float(air_per_gas(jet, tube))
    5.699
    """
    return _Balance.of(jet, tube).air_per_gas(tube_term(tube))


class _Balance(NamedTuple):
    """What of the balance does not move with the flow."""

    half: Array  # (A_j/2)/theta_g
    inlet: Array  # H times that
    is_closed: NDArray[np.bool_]  # the shutter
    relative_density: Numbers

    @classmethod
    def of(cls, jet: Jet, tube: MixingTube) -> _Balance:
        half, inlet = _jet_factor(jet, tube), inlet_term(jet, tube)
        is_closed = np.isinf(inlet)
        return cls(half, half * np.where(is_closed, 0.0, inlet), is_closed, jet.relative_density)

    def air_per_gas(self, tube_term: Array) -> Array:
        """r of a tube of this G."""
        root = _root(self.half * tube_term, self.inlet, self.relative_density)
        return np.where(self.is_closed, 0.0, root)


def best_throat_area_m2(
    port_area_m2: Numbers, port_resistance: Numbers, loss: Numbers, head_over_throat: Numbers = 1.0
) -> Array:
    """Throat of most air for ports of a constant resistance, without a shutter: A_t = A_p sqrt((1 + C_L)/(K_p tau)).

    port_area_m2 : [m2]; port_resistance, loss : on the velocity heads [-]
    head_over_throat : tau = theta_h/theta_t, absolute temperature before the ports over that in the tube [-]
    Returns [m2]. Range: no shutter, and a resistance that does not change with the flow; ``best_throat`` has both.
    Source: burner-momentum.

    >>> float(best_throat_area_m2(300.0, 1 / 0.65**2, 0.5))
    238.825
    """
    return port_area_m2 * np.sqrt((1.0 + array(loss)) / (array(port_resistance) * head_over_throat))


@dataclass(frozen=True, slots=True, kw_only=True)
class ShutterArea:
    """The open area of the air inlet that gives a wanted air per gas."""

    area_m2: Array  # the full area where that is not enough
    air_per_gas: Array  # with that area
    reached: NDArray[np.bool_]
    bound: NDArray[np.str_]  # "", or "shutter fully open": less air than wanted even so


def shutter_area(jet: Jet, tube: MixingTube, target_air_per_gas: Numbers) -> ShutterArea:
    """Open area of the inlet at which a burner draws the air wanted; the balance solved for A_a.

    tube : its inlet area is the area with the shutter fully open [m2], the upper bound of the answer
    target_air_per_gas : r [m3/m3], above 0. Source: burner-momentum.

    >>> jet = Jet(effective_area_m2=1.4036, hole_area_m2=1.6513, relative_density=0.5539)
    >>> ports = {"port_area_m2": 200, "port_resistance": 1 / 0.65**2}
    >>> tube = MixingTube(throat_area_m2=159.2, **ports, loss=0.5, inlet_area_m2=400)
    >>> found = shutter_area(jet, tube, 5.0)
    >>> float(found.area_m2), bool(found.reached), str(shutter_area(jet, tube, 9.0).bound)
    (111.81, True, 'shutter fully open')
    """
    if tube.inlet_area_m2 is None:
        raise ValueError("the tube has no air inlet")
    r, half = array(target_air_per_gas), _jet_factor(jet, tube)
    sigma, warm = array(jet.relative_density), array(tube.temperatures.inlet_ratio)
    left = 1.0 - (1.0 + r) * (1.0 + r / sigma) * half * tube_term(tube)
    loss_term = left * sigma / (r * r * half * warm) - _annulus_term(jet, tube)  # K_i A_t/A_a^2
    full = array(tube.inlet_area_m2)
    with np.errstate(divide="ignore", invalid="ignore"):
        needed = np.sqrt(tube.inlet_loss * array(tube.throat_area_m2) / loss_term)
    reached = (loss_term > 0.0) & (needed <= full)
    area = np.where(reached, needed, full)
    with_area = replace(tube, inlet_area_m2=area)
    bound = np.where(reached, "", "shutter fully open")
    return ShutterArea(area_m2=area, air_per_gas=air_per_gas(jet, with_area), reached=reached, bound=bound)


def tube_reynolds(
    mixture_volume_flow_m3_per_s: Numbers, throat_area_m2: Numbers, viscosity_m2_per_s: Numbers
) -> Array:
    """Reynolds number of the mixture in the throat, Re = V d/nu with the diameter of a round throat [-].

    mixture_volume_flow_m3_per_s : [m3/s]; throat_area_m2 : [m2]; viscosity_m2_per_s : kinematic [m2/s].

    >>> float(tube_reynolds(5e-4, 2e-4, 1.6e-5))
    2493.4
    """
    area = array(throat_area_m2)
    diameter = np.sqrt(4.0 * area / np.pi)
    found: Array = array(mixture_volume_flow_m3_per_s) / area * diameter / viscosity_m2_per_s
    return found


# Primary air of a burner as built, with the band its coefficients leave.

ENDS: tuple[End, End] = ("low", "high")
OPPOSITE: dict[End, End] = {"low": "high", "value": "value", "high": "low"}
OUTER_SIGN = {"low": 1.0, "value": 0.0, "high": -1.0}  # of a pressure against the flow

CAUSES = ("orifice", "tube", "ports", "inlet", "theory", "outer", "choked jet")
"""What the band of the primary air comes from; outer is pressure at the ports from outside, flame and buoyancy."""

LEAST_THROAT = 2.0  # times the holes, where a mixing tube begins to draw
MOST_THROAT = 3.0  # times the ports: the best throat without a shutter is below sqrt((1 + C_L)/K_p) of them

NO_THROAT = "the throat of the mixing tube is not given"
NO_RESISTANCE = (
    "the flow through the ports is too slow or too fast for what is known of their friction "
    "(Reynolds number {low:.0f} to {high:.0f})"
)
FAINT = "the ports take less than {least:g} Pa: flame and buoyancy, which the balance leaves out, are of that size"


@dataclass(frozen=True, slots=True, kw_only=True)
class PrimaryAir:
    """Primary aeration, primary over stoichiometric air, with its band; arrays over the cases."""

    aeration: Array = field(metadata=output("primary aeration"))
    low: Array = field(metadata=output("low end"))
    high: Array = field(metadata=output("high end"))
    origin: str = field(metadata=output("origin"))  # how it was come by
    reason: NDArray[np.int_]  # why it is nan, where it is: a place of ``reasons``, 0 where it is known
    reasons: tuple[str, ...] = ("",)

    @property
    def has_band(self) -> bool:
        """Whether its spread was calculated; without it the ends are the value itself."""
        return self.low is not self.aeration or self.high is not self.aeration

    @property
    def why_not(self) -> str:
        """Why it is nan, in one line."""
        if np.ndim(self.reason) == 0:
            return self.reasons[int(self.reason)]
        return "; ".join(self.reasons[place] for place in np.unique(self.reason) if place)


@dataclass(frozen=True, slots=True, kw_only=True)
class JetFlow:
    """The gas that flows to a burner; arrays over the cases."""

    heat_input_gross_W: Array
    area_ratio: Numbers = 1.0  # of the jet over discharge coefficient times hole, ``jet_area_ratio`` [-]
    choked_low: Numbers = 1.0  # factor on the air at the low end of what a choked jet leaves open [-]
    choked_high: Numbers = 1.0


def joined_flow(flows: Sequence[JetFlow]) -> JetFlow:
    """The flows of several cases as one, each field an array over them."""
    return JetFlow(
        **{name: np.array([float(getattr(flow, name)) for flow in flows]) for name in field_names(JetFlow)}
    )


def jet_of(
    fuel: Fuel,
    heat_input_gross_W: Numbers,
    gauge_pressure_Pa: Numbers,
    place: Surroundings,
    own: Path | None = None,
) -> JetFlow:
    """A flow of gas with the momentum of its jet.

    gauge_pressure_Pa : before the orifice at this flow [Pa]; place : with the temperature the gas has there
    """
    ambient = array(place.ambient_pressure_Pa)
    exponent = fuel.isentropic_exponent(place.gas_temperature_K, array(gauge_pressure_Pa) + ambient)
    at = array(gauge_pressure_Pa), ambient, array(exponent)
    return JetFlow(
        heat_input_gross_W=array(heat_input_gross_W),
        area_ratio=jet_area_ratio(*at),
        choked_low=choked_jet_spread(*at, "low", own),
        choked_high=choked_jet_spread(*at, "high", own),
    )


KNOWN_AIR = np.zeros((), dtype=np.int_)


def primary_air(
    geometry: BurnerGeometry,
    fuel: Fuel,
    flow: JetFlow,
    place: Surroundings,
    options: EvaluationOptions,
) -> PrimaryAir:
    """Primary aeration of a burner: given, or from the momentum balance with its band.

    nan where the resistance of the ports is not known, and where the ports take so little pressure that flame and
    buoyancy outside them decide. A choked jet counts by its momentum (``jet_momentum``), with a wider band.
    Source: burner-momentum, burner-lawn for the spread of the theory.
    """
    if options.aeration is not None:
        given = array(options.aeration)
        return PrimaryAir(aeration=given, low=given, high=given, origin="given", reason=KNOWN_AIR)
    if geometry.throat_m is None:
        unknown = array(np.nan)
        return PrimaryAir(
            aeration=unknown,
            low=unknown,
            high=unknown,
            origin="not evaluated",
            reason=KNOWN_AIR + 1,
            reasons=("", NO_THROAT),
        )
    system = burner_system(geometry, fuel, flow, place, options)
    result, low, high = (
        _with_band(system, geometry, options) if options.band else (entrainment(system), None, None)
    )
    reason, reasons = _reason(result, options)
    is_known = reason == 0

    def aeration(air: Array) -> Array:
        return np.where(is_known, air, np.nan) / fuel.stoichiometric_air

    value = aeration(result.air_per_gas)
    return PrimaryAir(
        aeration=value,
        low=value if low is None else aeration(low),
        high=value if high is None else aeration(high),
        origin="momentum balance",
        reason=reason,
        reasons=reasons,
    )


def _reason(result: Entrainment, options: EvaluationOptions) -> tuple[NDArray[np.int_], tuple[str, ...]]:
    """Why no air is told, case by case, and the words of it."""
    table = coefficients(options.own)
    ends, least = table["port Reynolds"], table["outer pressure"].value
    unknown = NO_RESISTANCE.format(low=ends.low, high=ends.high)
    is_faint = ~(result.drop.pressure_Pa >= least)
    reason = np.where(~result.drop.is_evaluated, 1, np.where(is_faint, 2, 0))
    return np.asarray(reason), ("", unknown, FAINT.format(least=least))


MOST_TOGETHER = 2000  # cases whose causes are solved in one array; more are as fast one cause at a time


def _with_band(
    system: BurnerSystem, geometry: BurnerGeometry, options: EvaluationOptions
) -> tuple[Entrainment, Array, Array]:
    """The air per gas with the ends of its band."""
    moves, shape = [Move(cause=cause, side=side) for side in ENDS for cause in CAUSES], system.shape
    if math.prod(shape) <= MOST_TOGETHER:
        every = entrainment(moved_system(system, [NO_MOVE, *moves], geometry, options, len(shape)))
        result, value = every.part(0), every.air_per_gas[0]
        changes = (every.air_per_gas[1:] - value) ** 2
        squares = np.sum(changes.reshape(len(ENDS), len(CAUSES), *value.shape), axis=1)
    else:
        result = entrainment(system)
        value = result.air_per_gas
        squares = np.zeros((len(ENDS), *value.shape))
        for move in moves:
            moved = moved_system(system, [move], geometry, options, 0)
            change = entrainment(moved, value, NEAR_OF_BAND).air_per_gas - value
            squares[ENDS.index(move.side)] += change**2
    less, more = np.sqrt(squares)
    return result, np.maximum(value - less, 0.0), value + more


# The balance of jet, tube and ports, solved together.


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerSystem:
    """Jet, mixing tube and ports of a burner, whose resistance depends on the flow."""

    jet: Jet
    tube: MixingTube  # its port resistance is any
    ports: PortStream
    flow: JetFlow
    factor: Array  # on the air of the balance: spread of the theory, ratio measured on the hot burner [-]

    @property
    def shape(self) -> tuple[int, ...]:
        """Of the cases."""
        ports = self.ports
        parts = (self.jet, self.tube, self.tube.temperatures, ports, ports.gas, ports.air, ports.heating)
        every = (getattr(part, name) for part in parts for name in field_names(type(part)))
        arrays = (figure for figure in (*every, self.factor) if isinstance(figure, np.ndarray))
        return np.broadcast_shapes(*(figure.shape for figure in arrays))


@dataclass(frozen=True, slots=True, kw_only=True)
class Entrainment:
    """The air a burner draws and what its ports do at that flow; arrays over the cases."""

    air_per_gas: Array
    drop: PortDrop

    def part(self, place: int) -> Entrainment:
        """At a place of the first axis."""
        shape = self.air_per_gas.shape
        drop = {
            name: np.broadcast_to(getattr(self.drop, name), shape)[place] for name in field_names(PortDrop)
        }
        return Entrainment(air_per_gas=self.air_per_gas[place], drop=PortDrop(**drop))


NEAR, NEAR_OF_BAND, MOST_ROUNDS = 1e-6, 1e-4, 60
"""Relative excess after which one more chord leaves its square, and how often a burner is tried."""
STEEPEST, FLATTEST = -3.0, -0.1  # of R(r) - r by r, outside which a step by the chord is not trusted


def entrainment(system: BurnerSystem, start: Array | None = None, near: float = NEAR) -> Entrainment:
    """Air per gas whose flow meets the very resistance that lets it through [m3/m3].

    r = R(K_p(r)), by chords of R(r) - r, or from r to R where a chord is steep or flat; to about 1e-11. R falls with
    K_p and K_p with the flow, each slowly, so that the root is one.
    start : a first guess, of the shape of the cases or less; near : relative excess that the last chord starts from
    """
    excess_at = _excesses(system)
    before = array(FIRST_GUESS if start is None else start)
    drop, its_excess = excess_at(before)
    r = before + its_excess
    result, is_done = r, np.zeros(r.shape, dtype=bool)
    for _ in range(MOST_ROUNDS):
        here = r
        drop, excess = excess_at(here)
        span = here - before
        slope = (excess - its_excess) / np.where(span == 0.0, 1.0, span)
        is_chord = (slope > STEEPEST) & (slope < FLATTEST) & (span != 0.0)
        r = np.maximum(here - excess / np.where(is_chord, slope, -1.0), 0.0)
        result = np.where(is_done, result, r)  # a case ends by itself, whatever cases stand beside it
        is_done = is_done | (np.abs(excess) <= near * here)
        if is_done.all():
            break
        before, its_excess = here, excess
    return Entrainment(air_per_gas=result * system.factor, drop=drop)


FIRST_GUESS = 5.0  # air per gas


def _excesses(system: BurnerSystem) -> Callable[[Array], tuple[PortDrop, Array]]:
    """What the ports do with an air per gas, and by how much more air their resistance lets through."""
    balance, drop_at = _Balance.of(system.jet, system.tube), system.ports.drops()
    of_tube, of_ports = _tube_parts(system.tube)
    lost = 1.0 + array(system.tube.loss)

    def excess(r: Array) -> tuple[PortDrop, Array]:
        drop = drop_at(r)
        term = of_tube * (lost + drop.tube_friction) + of_ports * drop.resistance
        return drop, balance.air_per_gas(term) - r

    return excess


def _at_drop(system: BurnerSystem, drop: PortDrop) -> MixingTube:
    """The tube with the losses that tube and ports have at a flow."""
    return replace(
        system.tube, port_resistance=drop.resistance, loss=array(system.tube.loss) + drop.tube_friction
    )


def shutter_for(
    geometry: BurnerGeometry,
    fuel: BurnerFuel,
    flow: JetFlow,
    place: Surroundings,
    options: EvaluationOptions,
    aeration: Numbers,
) -> ShutterArea:
    """Open area of the shutter at which a burner draws a primary aeration; the full area where that is not enough.

    geometry : with the area of the shutter fully open; aeration : wanted primary aeration, above 0 [-]
    The coefficients stand at their nominal values: a setting to start from, found again on the bench by the flame.
    Source: burner-momentum.
    """
    system = burner_system(replace(geometry, shutter_opening=1.0), fuel, flow, place, options)
    target = array(aeration) * fuel.stoichiometric_air / system.factor
    needed = shutter_area(system.jet, _at_drop(system, system.ports.drop(target)), target)
    with_area = replace(system, tube=replace(system.tube, inlet_area_m2=needed.area_m2))
    return replace(needed, air_per_gas=entrainment(with_area).air_per_gas)


@dataclass(frozen=True, slots=True, kw_only=True)
class BestThroat:
    """The throat that draws the most air into a burner's ports through its shutter, and what it draws."""

    diameter_m: float = field(metadata=output("throat of most air", Kind.LENGTH))
    aeration: float = field(
        metadata=output("its air", Kind.FRACTION)
    )  # primary air over stoichiometric air [-]


THROATS, NARROWINGS = 17, 8  # tried together, and how often between the neighbours of the best


def best_throat(
    geometry: BurnerGeometry, fuel: BurnerFuel, flow: JetFlow, place: Surroundings, options: EvaluationOptions
) -> BestThroat:
    """Throat of most air by the whole momentum balance: tube, ports, and the shutter as far open as the geometry says.

    geometry : of one burner, its throat a start that is not used
    The curve is flat at its top: a tenth of the diameter costs about a point. Source: burner-momentum.
    """
    holes = float(np.asarray(geometry.hole_area_m2))
    ports = float(np.asarray(geometry.port_area_m2))
    low, high = math.log(LEAST_THROAT * holes), math.log(MOST_THROAT * max(ports, holes))

    def air(log_areas: Array) -> Array:
        tried = replace(geometry, throat_m=np.sqrt(4.0 / np.pi * np.exp(log_areas)))
        return entrainment(burner_system(tried, fuel, flow, place, options)).air_per_gas

    for _ in range(NARROWINGS):
        tried = np.linspace(low, high, THROATS)
        peak = int(np.argmax(air(tried)))
        low, high = float(tried[max(peak - 1, 0)]), float(tried[min(peak + 1, THROATS - 1)])
    best = (low + high) / 2.0
    return BestThroat(
        diameter_m=math.sqrt(4.0 / math.pi * math.exp(best)),
        aeration=float(air(array(best))) / float(np.asarray(fuel.stoichiometric_air)),
    )


def burner_system(
    geometry: BurnerGeometry,
    fuel: Fuel,
    flow: JetFlow,
    place: Surroundings,
    options: EvaluationOptions,
) -> BurnerSystem:
    """Jet, mixing tube and ports of a burner, its coefficients at their values.

    A measured ratio of hot to cold air is on the air of the cold burner: with it the burner counts as cold.
    """
    table = coefficients(options.own)
    warm = COLD if options.hot_ratio is not None else mixture_temperatures(geometry, place, options)
    gas = array(warm.gas_ratio) * array(place.gas_temperature_K) / array(place.air_temperature_K)
    jet = Jet(
        effective_area_m2=array(geometry.orifice_coefficient) * geometry.hole_area_m2 * flow.area_ratio,
        hole_area_m2=geometry.hole_area_m2,
        relative_density=fuel.relative_density,
    )
    shutter = geometry.shutter_area_m2
    tube = MixingTube(
        throat_area_m2=geometry.throat_area_m2,
        port_area_m2=geometry.port_area_m2,
        port_resistance=np.nan,
        loss=_coefficient(geometry.tube_loss, table["throat loss"].value),
        temperatures=replace(warm, gas_ratio=gas),
        inlet_area_m2=None if shutter is None else array(shutter) * array(geometry.shutter_opening),
        inlet_loss=_coefficient(geometry.inlet_loss, table["inlet loss"].value),
    )
    ratio = 1.0 if options.hot_ratio is None else array(options.hot_ratio)
    return BurnerSystem(
        jet=jet,
        tube=tube,
        ports=port_stream(geometry, fuel, flow, place, warm, options.own),
        flow=flow,
        factor=array(table["entrainment theory"].value * ratio),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One cause of the band, moved to the side on which the burner draws less air (low) or more (high)."""

    cause: str
    side: End


NO_MOVE = Move(cause="", side="value")


def moved_system(
    system: BurnerSystem,
    moves: Sequence[Move],
    geometry: BurnerGeometry,
    options: EvaluationOptions,
    case_axes: int,
) -> BurnerSystem:
    """A burner with coefficients at the ends of their spread: each move by itself, along a new first axis.

    case_axes : of the arrays of the cases, which come after the new one; with one move and 0 there is no new axis
    """
    table, ends = coefficients(options.own), partial(_at_moves, moves, case_axes)
    spread, jet, tube = table["injector discharge spread"], system.jet, system.tube
    losses = {side: port_losses(OPPOSITE[side], options.own) for side in OPPOSITE}
    discharge = _port_discharge(geometry, options.own)
    choked = {"low": system.flow.choked_low, "value": 1.0, "high": system.flow.choked_high}
    return replace(
        system,
        jet=replace(
            jet,
            effective_area_m2=geometry.hole_area_m2
            * array(system.flow.area_ratio)
            * ends("orifice", lambda side: _orifice_coefficient(geometry, spread, OPPOSITE[side])),
        ),
        tube=replace(
            tube,
            loss=ends(
                "tube", lambda side: _coefficient(geometry.tube_loss, table["throat loss"].at(OPPOSITE[side]))
            ),
            inlet_loss=ends(
                "inlet",
                lambda side: _coefficient(geometry.inlet_loss, table["inlet loss"].at(OPPOSITE[side])),
            ),
        ),
        ports=replace(
            system.ports,
            losses=PortLosses(
                thin_discharge=ends("ports", lambda side: losses[side].thin_discharge),
                deep_discharge=ends("ports", lambda side: losses[side].deep_discharge),
                creep=ends("ports", lambda side: losses[side].creep),
            ),
            discharge=None if discharge is None else ends("ports", discharge),
            outer_pressure_Pa=ends("outer", lambda side: OUTER_SIGN[side] * table["outer pressure"].value),
        ),
        factor=system.factor
        / table["entrainment theory"].value
        * ends("theory", lambda side: table["entrainment theory"].at(side))
        * ends("choked jet", lambda side: choked[side]),
    )


def _at_moves(moves: Sequence[Move], case_axes: int, cause: str, at: Callable[[End], Numbers]) -> Array:
    """A coefficient for each move: at its end where the move is of that cause."""
    usual = array(at("value"))
    there = {place: array(at(move.side)) for place, move in enumerate(moves) if move.cause == cause}
    if len(moves) == 1 and case_axes == 0:
        return there.get(0, usual)
    shape = np.broadcast_shapes(usual.shape, *(value.shape for value in there.values()))
    each = np.empty((len(moves), *(1,) * (case_axes - len(shape)), *shape))
    each[...] = usual
    for place, value in there.items():
        each[place] = value
    return each


def port_stream(
    geometry: BurnerGeometry,
    fuel: Fuel,
    flow: JetFlow,
    place: Surroundings,
    warm: MixtureTemperatures,
    own: Path | None = None,
) -> PortStream:
    """What flows through the ports of a burner, with the losses of the table."""
    slot = geometry.slot_length_m is not None
    entry_K = array(place.air_temperature_K) * array(warm.head_ratio)
    air = transport(*AIR, entry_K, own)
    hydraulic = array(geometry.port_width_m) * (2.0 if slot else 1.0)
    mass_flow = array(flow.heat_input_gross_W) / fuel.heating_value_J_per_kg
    depth, plain = geometry.port_depth_m, coefficients(own)["plain tube"].value
    discharge = _port_discharge(geometry, own)
    throat = np.sqrt(4.0 / np.pi * geometry.throat_area_m2)
    tube_length = 0.0 if geometry.tube_length_m is None else array(geometry.tube_length_m) / throat
    warmer = (array(warm.throat_ratio) / array(warm.head_ratio)) ** VISCOSITY_EXPONENT
    return PortStream(
        gas_flux_kg_per_m2s=mass_flow / geometry.port_area_m2,
        relative_density=fuel.relative_density,
        gas=fuel.transport(entry_K, own),
        air=air,
        air_density_kg_per_m3=array(place.ambient_pressure_Pa)
        * air.molar_mass_kg_per_mol
        / (GAS_CONSTANT * entry_K),
        hydraulic_diameter_m=hydraulic,
        depth_over_diameter=np.nan if depth is None else array(depth) / hydraulic,
        slot=slot,
        heating=linear_heating(warm.port_rise),
        losses=port_losses(own=own),
        discharge=None if discharge is None else discharge("value"),
        tube_over_port_diameter=throat / hydraulic,
        tube_over_port_area=geometry.throat_area_m2 / geometry.port_area_m2 * warmer,
        long_tube=np.maximum(tube_length - plain, 0.0),
        own=own,
    )


def _coefficient(entry: Numbers | None, usual: float) -> Array:
    """The entry of the geometry, without a spread, or the table's."""
    return array(usual if entry is None else entry)


def _orifice_coefficient(geometry: BurnerGeometry, spread: Coefficient, end: End) -> Array:
    nominal = array(geometry.orifice_coefficient)
    ends = {"low": geometry.orifice_coefficient_low, "high": geometry.orifice_coefficient_high, "value": None}
    found = ends[end]
    return nominal * spread.at(end) if found is None else array(found)


def _port_discharge(geometry: BurnerGeometry, own: Path | None) -> Callable[[End], Numbers] | None:
    """Discharge of the ports as a whole: the file's own, or the table's for an unknown depth; else None."""
    entry = geometry.port_discharge
    if entry is not None:
        return lambda _: entry
    if geometry.port_depth_m is None:
        return coefficients(own)["port discharge, unknown depth"].at
    return None
