"""Primary air: what the jet of the orifice draws into a mixing tube.

With r = air per gas by volume and sigma = relative density of the gas, the momentum flux of the mixture is that
of the jet times (1 + r)(1 + r/sigma). The balance

    (1 + r)(1 + r/sigma) (A_j/2) G/theta_g + (r^2/sigma) (A_j/2) H/theta_g = 1

holds the tube and ports in G and the air inlet in H; theta are absolute temperatures over that of the air round the
burner (``MixtureTemperatures``): warm mixture and warm air need more head for the same flow, warm gas brings more.
It is a quadratic of r with one root that is not negative as long as the jet can drive the mixture at all, and rises
with r since G + H is above zero for any geometry, where the mixture in the tube is about as warm as the air that
enters; so the root is written down and needs no search. Gas pressure appears only through the jet's area.

For the band each coefficient is moved alone to the end of its spread that gives less, or more, air; the changes are
added in quadrature, as of independent causes. A burner with all of them at their worst lies outside it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from burnerlab.burner.burner import (
    BurnerFuel,
    BurnerGeometry,
    EvaluationOptions,
    MixtureTemperatures,
    Surroundings,
    mixture_temperatures,
)
from burnerlab.burner.coefficients import Array, Coefficient, Numbers, array, coefficients
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import output
from burnerlab.tables import End

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
    square = np.where(g + h > 0.0, g + h, np.nan) / sigma
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
    throat, warm = array(tube.throat_area_m2), tube.temperatures
    ports = array(tube.port_resistance) * throat / array(tube.port_area_m2) ** 2
    return array(warm.throat_ratio) * (1.0 + array(tube.loss)) / throat + array(warm.head_ratio) * ports


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

    Returns r [m3/m3]; 0 when the losses eat all the jet's momentum, or the shutter is closed. Range: jets
    below the speed of sound, and air at the inlet no hotter than (1 + C_L) theta_t (nan beyond).
    Without an inlet area the air inlet is left out. Source: burner-momentum.

    >>> jet = Jet(effective_area_m2=1.4036, hole_area_m2=1.6513, relative_density=0.5539)
    >>> tube = MixingTube(throat_area_m2=159.217, port_area_m2=200, port_resistance=1 / 0.65**2, loss=0.5)
    >>> float(air_per_gas(jet, tube))
    5.699
    """
    half = _jet_factor(jet, tube)
    inlet = inlet_term(jet, tube)
    closed = np.isinf(inlet)
    root = _root(half * tube_term(tube), half * np.where(closed, 0.0, inlet), jet.relative_density)
    return np.where(closed, 0.0, root)


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

OPPOSITE: dict[End, End] = {"low": "high", "value": "value", "high": "low"}

CAUSES = ("orifice", "tube", "ports", "inlet", "theory")
"""What the band of the primary air comes from."""

LEAST_THROAT = 2.0  # times the holes, where a mixing tube begins to draw
MOST_THROAT = 3.0  # times the ports: the best throat without a shutter is below Cd sqrt(1 + C_L) of them

NO_THROAT = "the throat of the mixing tube is not given"
CHOKED = "the momentum balance holds for jets below the speed of sound"


@dataclass(frozen=True, slots=True, kw_only=True)
class PrimaryAir:
    """Primary aeration, primary over stoichiometric air, with its band; arrays over the cases."""

    aeration: Array = field(metadata=output("primary aeration"))
    low: Array = field(metadata=output("low end"))
    high: Array = field(metadata=output("high end"))
    origin: str = field(metadata=output("origin"))  # how it was come by
    why_not: str = ""  # why it is nan, where it is


def primary_air(
    geometry: BurnerGeometry,
    fuel: BurnerFuel,
    place: Surroundings,
    options: EvaluationOptions,
    choked: NDArray[np.bool_],
) -> PrimaryAir:
    """Primary aeration of a burner: given, or from the momentum balance with its worst-case band.

    choked : where the jet is at the speed of sound, and no air is told
    Source: burner-momentum, burner-lawn for the spread of the theory.
    """
    if options.aeration is not None:
        given = array(options.aeration)
        return PrimaryAir(aeration=given, low=given, high=given, origin="given")
    if geometry.throat_m is None:
        unknown = array(np.nan)
        return PrimaryAir(
            aeration=unknown, low=unknown, high=unknown, origin="not evaluated", why_not=NO_THROAT
        )
    drawn = entrained_air_per_gas(geometry, fuel.relative_density, place, options)
    ends = _band(drawn, geometry, fuel.relative_density, place, options) if options.band else ()
    value, *band = (np.where(choked, np.nan, end) / fuel.stoichiometric_air for end in (drawn, *ends))
    low, high = band or (value, value)
    why = CHOKED if bool(np.any(choked)) else ""
    return PrimaryAir(aeration=value, low=low, high=high, origin="momentum balance", why_not=why)


def _band(
    value: Array,
    geometry: BurnerGeometry,
    relative_density: Numbers,
    place: Surroundings,
    options: EvaluationOptions,
) -> tuple[Array, Array]:
    """Ends of the band of the air per gas."""

    def change(side: End) -> Array:
        moved = (
            entrained_air_per_gas(geometry, relative_density, place, options, {cause: side}) - value
            for cause in CAUSES
        )
        return np.sqrt(sum(one**2 for one in moved))

    return np.maximum(value - change("low"), 0.0), np.maximum(value + change("high"), 0.0)


def entrained_air_per_gas(
    geometry: BurnerGeometry,
    relative_density: Numbers,
    place: Surroundings,
    options: EvaluationOptions,
    moved: Mapping[str, End] = MappingProxyType({}),
) -> Array:
    """Air per gas [m3/m3].

    relative_density : of the gas [-]
    moved : causes of CAUSES and the side of the air, low or high, they are moved to
    """
    table = coefficients(options.own)
    jet, tube = jet_and_tube(geometry, relative_density, place, options, moved)
    theory = table["entrainment theory"].at(moved.get("theory", "value"))
    return air_per_gas(jet, tube) * theory * _hot_ratio(options)


def _hot_ratio(options: EvaluationOptions) -> Array:
    return array(1.0 if options.hot_ratio is None else options.hot_ratio)


def shutter_for(
    geometry: BurnerGeometry,
    fuel: BurnerFuel,
    place: Surroundings,
    options: EvaluationOptions,
    aeration: Numbers,
) -> ShutterArea:
    """Open area of the shutter at which a burner draws a primary aeration; the full area where that is not enough.

    geometry : with the area of the shutter fully open; aeration : wanted primary aeration, above 0 [-]
    The coefficients stand at their nominal values: a setting to start from, found again on the bench by the flame.
    Source: burner-momentum.
    """
    table = coefficients(options.own)
    jet, tube = jet_and_tube(replace(geometry, shutter_opening=1.0), fuel.relative_density, place, options)
    corrected = table["entrainment theory"].value * _hot_ratio(options)
    return shutter_area(jet, tube, array(aeration) * fuel.stoichiometric_air / corrected)


@dataclass(frozen=True, slots=True, kw_only=True)
class BestThroat:
    """The throat that draws the most air into a burner's ports through its shutter, and what it draws."""

    diameter_m: float = field(metadata=output("throat of most air", Kind.LENGTH))
    aeration: float = field(
        metadata=output("its air", Kind.FRACTION)
    )  # primary air over stoichiometric air [-]


def best_throat(
    geometry: BurnerGeometry, fuel: BurnerFuel, place: Surroundings, options: EvaluationOptions
) -> BestThroat:
    """Throat of most air by the whole momentum balance: tube, ports, and the shutter as far open as the geometry says.

    geometry : of one burner, its throat a start that is not used
    The curve is flat at its top: a tenth of the diameter costs about a point. Source: burner-momentum.
    """
    from scipy.optimize import minimize_scalar

    holes = float(np.asarray(geometry.hole_area_m2))
    ports = float(np.asarray(geometry.port_area_m2))
    span = math.log(LEAST_THROAT * holes), math.log(MOST_THROAT * max(ports, holes))

    def less_air(log_area: float) -> float:
        throat = math.sqrt(4.0 / math.pi * math.exp(log_area))
        tried = replace(geometry, throat_m=throat)
        return -float(entrained_air_per_gas(tried, fuel.relative_density, place, options))

    found = minimize_scalar(less_air, bounds=span, method="bounded", options={"xatol": 1e-5})
    return BestThroat(
        diameter_m=math.sqrt(4.0 / math.pi * math.exp(float(found.x))),
        aeration=-float(found.fun) / float(np.asarray(fuel.stoichiometric_air)),
    )


def jet_and_tube(
    geometry: BurnerGeometry,
    relative_density: Numbers,
    place: Surroundings,
    options: EvaluationOptions,
    moved: Mapping[str, End] = MappingProxyType({}),
) -> tuple[Jet, MixingTube]:
    """Jet and mixing tube of a burner.

    A measured ratio of hot to cold air is on the air of the cold burner: with it the burner counts as cold.
    """
    table = coefficients(options.own)
    end = {cause: moved.get(cause, "value") for cause in CAUSES}
    warm = COLD if options.hot_ratio is not None else mixture_temperatures(geometry, place, options)
    gas = array(warm.gas_ratio) * array(place.gas_temperature_K) / array(place.air_temperature_K)
    jet = Jet(
        effective_area_m2=_orifice_coefficient(
            geometry, table["injector discharge spread"], OPPOSITE[end["orifice"]]
        )
        * geometry.hole_area_m2,
        hole_area_m2=geometry.hole_area_m2,
        relative_density=relative_density,
    )
    shutter = geometry.shutter_area_m2
    tube = MixingTube(
        throat_area_m2=geometry.throat_area_m2,
        port_area_m2=geometry.port_area_m2,
        port_resistance=array(warm.port_rise) / _port_discharge(geometry, end["ports"], options.own) ** 2,
        loss=_coefficient(geometry.tube_loss, table["throat loss"], OPPOSITE[end["tube"]]),
        temperatures=replace(warm, gas_ratio=gas),
        inlet_area_m2=None if shutter is None else array(shutter) * array(geometry.shutter_opening),
        inlet_loss=_coefficient(geometry.inlet_loss, table["inlet loss"], OPPOSITE[end["inlet"]]),
    )
    return jet, tube


def _coefficient(entry: Numbers | None, usual: Coefficient, end: End) -> Array:
    """The entry of the geometry, without a spread, or the table's."""
    return array(usual.at(end) if entry is None else entry)


def _orifice_coefficient(geometry: BurnerGeometry, spread: Coefficient, end: End) -> Array:
    nominal = array(geometry.orifice_coefficient)
    ends = {"low": geometry.orifice_coefficient_low, "high": geometry.orifice_coefficient_high, "value": None}
    found = ends[end]
    return nominal * spread.at(end) if found is None else array(found)


def _port_discharge(geometry: BurnerGeometry, end: End, own: Path | None) -> Array:
    """Discharge of the ports: given, or between that of thin and of deep ones by their depth."""
    if geometry.port_discharge is not None:
        return array(geometry.port_discharge)
    table = coefficients(own)
    if geometry.port_depth_m is None:
        return array(table["port discharge, unknown depth"].at(end))
    thin, deep = table["port discharge, thin"].at(end), table["port discharge, deep"].at(end)
    begins, ends = table["deep port"].low, table["deep port"].high
    depth = array(geometry.port_depth_m) / array(geometry.port_width_m)
    return thin + (deep - thin) * np.clip((depth - begins) / (ends - begins), 0.0, 1.0)
