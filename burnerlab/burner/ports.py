"""Flow in the ports of a burner, and the mixture in them.

Gas and air are each mixed from their components once; the two are then mixed for every aeration, so that a
hundred thousand aerations of one gas cost as much as two components.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from burnerlab import tables
from burnerlab.burner.coefficients import Array, Numbers, array, coefficients
from burnerlab.gas.component import component_table
from burnerlab.gas.heat_capacity import GAS_CONSTANT, Polynomials, heat_capacity_over_R, polynomials
from burnerlab.gas.real_gas import viscosity_coefficients
from burnerlab.quantity.outputs import output

# What happens in the ports: loading, velocity, gradient at the wall, cone, quenching, secondary air.

SQUARE_MM_PER_SQUARE_M = 1e6
NEVER_ZERO = 1e-30
REFERENCE_K, REFERENCE_Pa = 288.15, 101325.0  # of a heating value by volume, unless the caller says otherwise


def port_area_m2(width_m: Numbers, count: Numbers, slot_length_m: Numbers | None = None) -> Array:
    """Area of all ports: round of a diameter, or slots of a width and a length [m2].

    >>> float(port_area_m2(1.6e-3, 100)) * 1e6
    201.06
    """
    width = array(width_m)
    one = np.pi / 4.0 * width**2 if slot_length_m is None else width * array(slot_length_m)
    return array(one * count)


def loading_W_per_mm2(heat_input_W: Numbers, area_m2: Numbers) -> Array:
    """Heat input over port area [W/mm2]; gross when the heat input is gross.

    >>> float(loading_W_per_mm2(2000.0, 200e-6))
    10.0
    """
    return array(heat_input_W) / (array(area_m2) * SQUARE_MM_PER_SQUARE_M)


def mixture_velocity_m_per_s(
    loading_W_per_mm2: Numbers,
    heating_value_J_per_m3: Numbers,
    air_per_gas: Numbers,
    port_temperature_K: Numbers = REFERENCE_K,
    *,
    pressure_Pa: Numbers = REFERENCE_Pa,
    reference_K: float = REFERENCE_K,
) -> Array:
    """Mean velocity of the mixture in the ports, V = (q/h)(1 + r)(T_port/T_ref)(p_ref/p) [m/s].

    loading_W_per_mm2 : q, on the basis of the heating value [W/mm2]
    heating_value_J_per_m3 : h of a cubic metre of ideal gas at the reference temperature, 101.325 kPa [J/m3]
    air_per_gas : r [m3/m3]; port_temperature_K : of the mixture [K]; pressure_Pa : absolute [Pa]
    Source: burner-duct-theory.

    >>> float(mixture_velocity_m_per_s(10.0, 37.63e6, 0.55 * 9.547))
    1.661
    """
    gas = array(loading_W_per_mm2) * SQUARE_MM_PER_SQUARE_M / heating_value_J_per_m3
    state = array(port_temperature_K) / reference_K * (REFERENCE_Pa / array(pressure_Pa))
    return array(gas * (1.0 + array(air_per_gas)) * state)


def friction_factor(reynolds: Numbers, developed: Numbers = 16.0, own: Path | None = None) -> Array:
    """Fanning friction factor of developed flow: fRe/Re laminar, 0.0791 Re^-0.25 turbulent, joined between [-].

    reynolds : with the hydraulic diameter, above 0 [-]; developed : fRe [-]
    The ends of the transition are the value and the high end of "laminar Reynolds"; between them the logarithm of the
    factor goes evenly with that of Re. Source: burner-duct-theory.

    >>> [float(friction_factor(re).round(5)) for re in (1000.0, 2300.0, 4000.0, 1e4)]
    [0.016, 0.00696, 0.00995, 0.00791]
    """
    return friction_factors(developed, own)(array(reynolds))


def friction_factors(developed: Numbers = 16.0, own: Path | None = None) -> Callable[[Array], Array]:
    """``friction_factor`` for any Reynolds number: what it does not move is found once."""
    turn, blasius = coefficients(own)["laminar Reynolds"], coefficients(own)["Blasius factor"].value
    of_laminar, span = array(developed), math.log(turn.high / turn.value)

    def factor(re: Array) -> Array:
        inside = np.log(np.minimum(np.maximum(re, turn.value), turn.high) / turn.value) / span
        laminar = of_laminar / np.minimum(re, turn.value)
        turbulent = blasius * np.maximum(re, turn.high) ** -0.25
        return array(laminar ** (1.0 - inside) * turbulent**inside)

    return factor


def laminar_gradient_per_s(velocity_m_per_s: Numbers, width_m: Numbers, slot: Numbers = False) -> Array:
    """Velocity gradient at the wall of a port with developed laminar flow: 8V/D round, 6V/w long slot [1/s].

    velocity_m_per_s : mean [m/s]; width_m : diameter, or width of the slot [m]
    Range: below the laminar Reynolds number; ``wall_gradient`` has the profile that still develops.
    Source: burner-duct-theory.

    >>> float(laminar_gradient_per_s(1.661, 1.6e-3)), float(laminar_gradient_per_s(1.0, 1e-3, slot=True))
    (8305.0, 6000.0)
    """
    return array(np.where(slot, 6.0, 8.0) * array(velocity_m_per_s) / width_m)


def turbulent_gradient_per_s(
    velocity_m_per_s: Numbers,
    hydraulic_diameter_m: Numbers,
    viscosity_m2_per_s: Numbers,
    own: Path | None = None,
) -> Array:
    """Velocity gradient at the wall of a port with turbulent flow: g = f V^2/(2 nu), f = 0.0791 Re^-0.25 [1/s].

    velocity_m_per_s : mean [m/s]; hydraulic_diameter_m : D, or 2w of a long slot [m]
    viscosity_m2_per_s : kinematic [m2/s]. Range: Re 4000 to 100 000. Source: burner-duct-theory.

    >>> float(turbulent_gradient_per_s(20.0, 5e-3, 1.6e-5))
    111203.0
    """
    v = array(velocity_m_per_s)
    reynolds = v * hydraulic_diameter_m / viscosity_m2_per_s
    friction = coefficients(own)["Blasius factor"].value * reynolds**-0.25
    return array(friction * v**2 / (2.0 * array(viscosity_m2_per_s)))


@cache
def _profile_table() -> tuple[Array, Array, Array]:
    """Logarithms of x+ and of the factor of round ports and of slots, x+ rising."""
    table = [
        [math.log(row.number(column)) for column in ("x_plus", "round", "slot")]
        for row in tables.rows("port_wall_gradient")
    ]
    x, of_round, of_slot = np.array(table).T
    return x, of_round, of_slot


def profile_factor(x_plus: Numbers, slot: Numbers = False) -> Array:
    """Gradient at the wall where a laminar profile has come from a uniform entry, over that of the developed one [-].

    x_plus : (L/D_h)/Re, above 0 [-]; slot : long slots in place of round ports
    Between the rows of table port_wall_gradient in logarithms of both; before them as 1/sqrt(x+), 1 after them.
    Source: burner-wall-march.

    >>> float(profile_factor(0.01)), float(profile_factor(0.01, slot=True)), float(profile_factor(1.0))
    (1.21, 1.02, 1.0)
    """
    x, *_ = _profile_table()
    at = np.log(array(x_plus))
    factor = _of_shape(slot, lambda of_x: np.interp(at, x, of_x, right=0.0))
    result: Array = np.exp(factor + 0.5 * np.maximum(x[0] - at, 0.0))
    return result


def _of_shape(slot: Numbers, figure: Callable[[Array], Array]) -> Array:
    """What follows from the column of round ports or of slots in the table of profiles."""
    _, of_round, of_slot = _profile_table()
    if np.ndim(slot) == 0:
        return figure(of_slot if slot else of_round)
    return np.where(slot, figure(of_slot), figure(of_round))


@dataclass(frozen=True, slots=True, kw_only=True)
class WallGradient:
    """Gradient at the port wall and what it rests on; arrays over the cases."""

    gradient_per_s: Array = field(metadata=output("gradient at the wall", unit="1/s"))
    reynolds: Array = field(metadata=output("Reynolds number"))
    turbulent: NDArray[np.bool_] = field(metadata=output("turbulent"))
    profile_factor: Array = field(metadata=output("over that of a developed profile"))
    is_least: NDArray[np.bool_] = field(metadata=output("the gradient may be steeper"))
    """The depth is not known, or the port is shallower than wide: its flow separates at the entry."""


def wall_gradient(
    velocity_m_per_s: Numbers,
    width_m: Numbers,
    viscosity_m2_per_s: Numbers,
    *,
    slot: Numbers = False,
    depth_m: Numbers | None = None,
    own: Path | None = None,
) -> WallGradient:
    """Gradient at the port wall at the port's end: of the developing laminar profile, or turbulent [1/s].

    g = G_f 8V/D of a round port, G_f 6V/w of a slot, with G_f of ``profile_factor``, to a Reynolds number of 2300;
    ``turbulent_gradient_per_s`` from 4000; between them the logarithm of g goes evenly with that of Re.
    velocity_m_per_s : mean [m/s]; width_m : diameter, or width of a slot [m]
    viscosity_m2_per_s : kinematic [m2/s]; depth_m : of the port [m], None for one not known: G_f = 1
    A port shallower than its hydraulic diameter has the factor of one diameter, a lower bound (``is_least``).
    Source: burner-duct-theory, burner-wall-march.

    >>> result = wall_gradient(1.661, 1.6e-3, 1.6e-5, depth_m=3e-3)
    >>> float(result.gradient_per_s), float(result.reynolds), float(result.profile_factor)
    (9867.2, 166.1, 1.188)
    """
    turn, v = coefficients(own)["laminar Reynolds"], array(velocity_m_per_s)
    hydraulic = np.where(slot, 2.0, 1.0) * array(width_m)
    reynolds = v * hydraulic / viscosity_m2_per_s
    depth = None if depth_m is None else array(depth_m) / hydraulic
    slow = np.clip(reynolds, NEVER_ZERO, turn.value)  # laminar at most
    factor = _factor_of_depth(depth, slow, slot)
    unit = array(viscosity_m2_per_s) / hydraulic  # velocity at a Reynolds number of 1
    gradient = factor * laminar_gradient_per_s(np.minimum(reynolds, turn.value) * unit, width_m, slot)
    turbulent = np.asarray(reynolds > turn.value)
    if turbulent.any():
        rough = turbulent_gradient_per_s(
            np.maximum(reynolds, turn.high) * unit, hydraulic, viscosity_m2_per_s, own
        )
        share = np.log(np.clip(reynolds, turn.value, turn.high) / turn.value) / math.log(
            turn.high / turn.value
        )
        gradient = np.where(turbulent, gradient ** (1.0 - share) * rough**share, gradient)
    return WallGradient(
        gradient_per_s=gradient,
        reynolds=array(reynolds),
        turbulent=turbulent,
        profile_factor=factor,
        is_least=np.asarray((reynolds < turn.high) & (True if depth is None else depth < 1.0)),
    )


def _factor_of_depth(depth_over_diameter: Array | None, reynolds: Array, slot: Numbers) -> Array:
    """The factor of the profile; 1 where the depth is not known, and that of one diameter for a shallower port."""
    if depth_over_diameter is None:
        return np.ones(np.shape(reynolds))
    return profile_factor(np.maximum(depth_over_diameter, 1.0) / reynolds, slot)


def inner_cone_height_m(
    velocity_m_per_s: Numbers, burning_velocity_m_per_s: Numbers, width_m: Numbers
) -> Array:
    """Height of the inner cone, or of a slot's wedge: h = (D/2) sqrt((V/Su)^2 - 1) [m].

    Returns 0 where the flame burns as fast as the mixture comes, and nan for an unknown burning velocity.
    Range: uniform velocity over the port; real cones are a little shorter and rounded. Source: geometry.

    >>> float(inner_cone_height_m(1.5, 0.3, 2e-3)) * 1e3
    4.899
    """
    ratio = array(velocity_m_per_s) / burning_velocity_m_per_s
    return array(array(width_m) / 2.0 * np.sqrt(np.maximum(ratio**2 - 1.0, 0.0)))


def quenching_distance_m(
    diffusivity_m2_per_s: Numbers, burning_velocity_m_per_s: Numbers, own: Path | None = None
) -> Array:
    """Distance of plates through which a flame does not pass: d_q = Pe alpha/Su, Pe = 33 [m].

    diffusivity_m2_per_s : of the cold mixture [m2/s]. Range: cold walls, no catalytic surface.
    Source: burner-quenching.

    >>> float(quenching_distance_m(2.276e-5, 0.3667)) * 1e3
    2.08
    """
    peclet = coefficients(own)["quenching Peclet"].value
    return array(peclet * array(diffusivity_m2_per_s) / burning_velocity_m_per_s)


def quenching_width_m(
    diffusivity_m2_per_s: Numbers,
    burning_velocity_m_per_s: Numbers,
    slot: Numbers = False,
    own: Path | None = None,
) -> Array:
    """Port diameter, or slot width, through which a flame does not pass: 1.5 d_q round, d_q slot [m]."""
    round_factor = coefficients(own)["quenching round over plates"].value
    plates = quenching_distance_m(diffusivity_m2_per_s, burning_velocity_m_per_s, own)
    return array(np.where(slot, 1.0, round_factor) * plates)


def secondary_air_m3_per_s(
    gas_flow_m3_per_s: Numbers, stoichiometric_air: Numbers, aeration: Numbers, excess_air: Numbers
) -> Array:
    """Air the flame must find beside the ports: Q A (1 + e - a) [m3/s], at the state of the gas flow.

    stoichiometric_air : A [m3/m3]; aeration : a, primary over stoichiometric [-]; excess_air : e, total [-].

    >>> round(float(secondary_air_m3_per_s(1.0, 9.547, 0.5, 0.4)), 3)
    8.592
    """
    wanted = 1.0 + array(excess_air) - array(aeration)
    return array(array(gas_flow_m3_per_s) * stoichiometric_air * np.maximum(wanted, 0.0))


def secondary_opening_m2(secondary_air_m3_per_s: Numbers, entry_velocity_m_per_s: Numbers = 0.3048) -> Array:
    """Opening that lets that air in at an entry velocity, 1 ft/s unless given (spread half to double) [m2].

    Source: burner-judgement; no published figure at burner level could be read.

    >>> round(float(secondary_opening_m2(1e-3)) * 1e6)
    3281
    """
    return array(array(secondary_air_m3_per_s) / array(entry_velocity_m_per_s))


def velocity_at_gradient_m_per_s(
    gradient_per_s: Numbers,
    width_m: Numbers,
    viscosity_m2_per_s: Numbers,
    *,
    slot: Numbers = False,
    depth_m: Numbers | None = None,
    own: Path | None = None,
) -> Array:
    """Mean velocity at which a port has a wall gradient: ``wall_gradient`` the other way round [m/s].

    >>> float(velocity_at_gradient_m_per_s(9900.0, 1.6e-3, 1.6e-5, depth_m=3e-3))
    1.666
    """
    turn, hydraulic = coefficients(own)["laminar Reynolds"], np.where(slot, 2.0, 1.0) * array(width_m)
    unit, wanted = array(viscosity_m2_per_s) / hydraulic, array(gradient_per_s)

    def at(reynolds: float) -> Array:
        return wall_gradient(
            reynolds * unit, width_m, viscosity_m2_per_s, slot=slot, depth_m=depth_m, own=own
        ).gradient_per_s

    # as if the profile were developed; the factor is then one of gradient D^2/nu alone
    plain = wanted / laminar_gradient_per_s(unit, width_m, slot)
    depth = None if depth_m is None else np.maximum(array(depth_m) / hydraulic, 1.0)
    laminar = plain if depth is None else depth / _x_plus_at(plain / depth, slot)
    first = at(turn.value)
    is_steep = np.asarray(wanted > first)
    if not is_steep.any():
        return array(laminar * unit)
    steep, least, most, per_re, wide = (
        np.broadcast_to(each, is_steep.shape)[is_steep]
        for each in (wanted, first, at(turn.high), unit, hydraulic)
    )
    turbulent = (2.0 * steep * wide / per_re / coefficients(own)["Blasius factor"].value) ** (1.0 / 1.75)
    share = np.log(np.minimum(steep, most) / least) / np.log(most / least)
    joined = turn.value * (turn.high / turn.value) ** share
    reynolds = np.array(np.broadcast_to(laminar, is_steep.shape))
    reynolds[is_steep] = np.where(steep < most, joined, turbulent)
    return array(reynolds * unit)


def _x_plus_at(group: Array, slot: Numbers) -> Array:
    """x+ at which profile_factor/x+ is a number; it falls with x+."""
    x, *_ = _profile_table()
    at = np.log(group)

    def inverse(factor: Array) -> Array:
        falling = factor - x
        inside = np.interp(-at, -falling, x)
        early = x[0] - (at - falling[0]) / 1.5
        return np.where(at > falling[0], early, np.where(at < -x[-1], -at, inside))

    return np.exp(_of_shape(slot, inverse))


def loading_at_velocity_W_per_mm2(
    velocity_m_per_s: Numbers,
    heating_value_J_per_m3: Numbers,
    air_per_gas: Numbers,
    port_temperature_K: Numbers = REFERENCE_K,
    *,
    pressure_Pa: Numbers = REFERENCE_Pa,
    reference_K: float = REFERENCE_K,
) -> Array:
    """Port loading at which the mixture has a velocity: ``mixture_velocity_m_per_s`` the other way round [W/mm2].

    >>> float(loading_at_velocity_W_per_mm2(1.661, 37.63e6, 0.55 * 9.547))
    10.0
    """
    one = mixture_velocity_m_per_s(
        1.0,
        heating_value_J_per_m3,
        air_per_gas,
        port_temperature_K,
        pressure_Pa=pressure_Pa,
        reference_K=reference_K,
    )
    return array(velocity_m_per_s) / one


# Viscosity and thermal diffusivity of gas and primary air mixed, near ambient pressure.

AIR = (("nitrogen", "oxygen", "argon"), (0.7809, 0.2095, 0.0096))  # table gas_air, carbon dioxide with argon


@dataclass(frozen=True, slots=True, kw_only=True)
class Transport:
    """What one gas brings into a mixture at a temperature; arrays over the cases."""

    viscosity_Pa_s: Array
    conductivity_W_per_mK: Array
    molar_mass_kg_per_mol: Array
    heat_capacity_J_per_molK: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class PrimaryMixture:
    """Gas and primary air as they leave the ports; arrays over the cases."""

    kinematic_viscosity_m2_per_s: Array
    thermal_diffusivity_m2_per_s: Array
    density_kg_per_m3: Array


def _wilke(viscosity: Array, mass: Array) -> Array:
    """Wilke's weights phi_ij, [..., i, j]."""
    mu_i, mu_j = viscosity[..., :, None], viscosity[..., None, :]
    m_i, m_j = mass[:, None], mass[None, :]
    return (1.0 + np.sqrt(mu_i / mu_j) * (m_j / m_i) ** 0.25) ** 2 / np.sqrt(8.0 * (1.0 + m_i / m_j))


def nearest_known(name: str) -> str:
    """The component itself, or the one of nearest molar mass whose viscosity is known.

    >>> nearest_known("methane"), nearest_known("neopentane")
    ('methane', 'n-pentane')
    """
    known, table = viscosity_coefficients(), component_table()
    if name in known:
        return name
    mass = table.molar_mass_kg_per_mol
    return min(known, key=lambda other: abs(mass[table.index[other]] - mass[table.index[name]]))


@cache
def _viscosity_columns(names: tuple[str, ...]) -> Array:
    """A, B, C, D of components, one row each."""
    return np.array([viscosity_coefficients()[nearest_known(name)] for name in names]).T


def pure_viscosities_Pa_s(names: Sequence[str], temperature_K: Numbers) -> Array:
    """Viscosity of each component at low pressure, mu = A T^B/(1 + C/T + D/T^2) [Pa s], [..., component].

    temperature_K : [K]. Source: viscosity-perry.

    >>> float(pure_viscosities_Pa_s(["methane"], 288.15)[0]) * 1e6
    10.87
    """
    t = array(temperature_K)[..., None]
    a, b, c, d = _viscosity_columns(tuple(names))
    found: Array = a * t**b / (1.0 + c / t + d / t**2)
    return found


@cache
def _transport_columns(names: tuple[str, ...]) -> tuple[Array, Polynomials]:
    """Molar mass [kg/mol] and polynomials of the heat capacity of components."""
    table = component_table()
    return table.molar_mass_kg_per_mol[table.take(names)], polynomials("component").at(names)


def transport(
    names: Sequence[str], fractions: Sequence[float] | Array, temperature_K: Numbers, own: Path | None = None
) -> Transport:
    """Viscosity, conductivity, molar mass and heat capacity of a gas mixture.

    Conductivity of a component k = (mu/M)(1.32 cv + 1.77 R); mixtures by Wilke's weights for both.

    fractions : mole fractions, [component]; temperature_K : [K], any shape.
    Error of the diffusivity of fuel and air against a kinetic-theory calculation at 298 K: 2 % methane and
    carbon monoxide, 1 % propane, 6 % hydrogen. Source: viscosity-wilke, eucken.
    """
    if isinstance(fractions, tuple) and np.ndim(temperature_K) == 0:
        return _transport_at(tuple(names), fractions, float(temperature_K), own)
    return _transport(tuple(names), array(fractions), array(temperature_K), own)


@tables.cache_by_file
def _transport_at(
    names: tuple[str, ...], fractions: tuple[float, ...], temperature_K: float, own: Path | None
) -> Transport:
    """Of one gas at one temperature, found once."""
    return _transport(names, array(fractions), array(temperature_K), own)


def _transport(names: tuple[str, ...], x: Array, temperature_K: Array, own: Path | None) -> Transport:
    mass, heats = _transport_columns(names)
    mu = pure_viscosities_Pa_s(names, temperature_K)
    heat = GAS_CONSTANT * heat_capacity_over_R(heats, temperature_K)
    table_of = coefficients(own)
    factor, constant = table_of["Eucken factor"].value, table_of["Eucken constant"].value
    k = mu / mass * (factor * (heat - GAS_CONSTANT) + constant * GAS_CONSTANT)
    weight = np.einsum("...ij,j->...i", _wilke(mu, mass), x)
    return Transport(
        viscosity_Pa_s=np.sum(x * mu / weight, axis=-1),
        conductivity_W_per_mK=np.sum(x * k / weight, axis=-1),
        molar_mass_kg_per_mol=array(x @ mass),
        heat_capacity_J_per_molK=np.sum(x * heat, axis=-1),
    )


def primary_mixture(
    names: Sequence[str],
    fractions: Sequence[float] | Array,
    air_per_gas: Numbers,
    temperature_K: Numbers,
    pressure_Pa: Numbers = 101325.0,
    own: Path | None = None,
) -> PrimaryMixture:
    """Viscosity, thermal diffusivity and density of gas mixed with air.

    nu = mu/rho, alpha = k/(rho cp)

    fractions : mole fractions of the gas, [component]; air_per_gas : [mol/mol]
    temperature_K : [K]; pressure_Pa : absolute [Pa]; all but the fractions of any shape.
    Source: viscosity-wilke, eucken; see ``transport`` for the error.

    >>> float(primary_mixture(["propane"], [1.0], 23.87, 298.15).thermal_diffusivity_m2_per_s) * 1e5
    2.06
    """
    fuel, air = transport(names, fractions, temperature_K, own), transport(*AIR, temperature_K, own)
    return mixed_with_air(fuel, air, air_per_gas, temperature_K, pressure_Pa)


def mixed_with_air(
    fuel: Transport, air: Transport, air_per_gas: Numbers, temperature_K: Numbers, pressure_Pa: Numbers
) -> PrimaryMixture:
    """The same as ``primary_mixture`` with what gas and air bring in already known at that temperature."""
    r = array(air_per_gas)
    x_fuel, x_air = 1.0 / (1.0 + r), r / (1.0 + r)
    of_fuel, of_air = x_fuel + x_air * _weight(fuel, air), x_air + x_fuel * _weight(air, fuel)

    def mixed(a: Array, b: Array) -> Array:
        return x_fuel * a / of_fuel + x_air * b / of_air

    mass = x_fuel * fuel.molar_mass_kg_per_mol + x_air * air.molar_mass_kg_per_mol
    heat = x_fuel * fuel.heat_capacity_J_per_molK + x_air * air.heat_capacity_J_per_molK
    molar = array(pressure_Pa) / (GAS_CONSTANT * np.asarray(temperature_K))
    return PrimaryMixture(
        kinematic_viscosity_m2_per_s=mixed(fuel.viscosity_Pa_s, air.viscosity_Pa_s) / (molar * mass),
        thermal_diffusivity_m2_per_s=mixed(fuel.conductivity_W_per_mK, air.conductivity_W_per_mK)
        / (molar * heat),
        density_kg_per_m3=molar * mass,
    )


def mixture_viscosity_Pa_s(fuel: Transport, air: Transport, air_per_gas: Numbers) -> Array:
    """Viscosity of gas mixed with air, both at the same temperature [Pa s].

    air_per_gas : [mol/mol]. Source: viscosity-wilke.

    >>> gas, air = transport(["methane"], [1.0], 288.15), transport(*AIR, 288.15)
    >>> float(mixture_viscosity_Pa_s(gas, air, np.array(5.0))) * 1e6
    16.84
    """
    return mixture_viscosities_Pa_s(fuel, air)(array(air_per_gas))


def mixture_viscosities_Pa_s(fuel: Transport, air: Transport) -> Callable[[Array], Array]:
    """``mixture_viscosity_Pa_s`` of one gas for any air: Wilke's weights, which the air does not move, found once."""
    in_air, in_fuel = _weight(fuel, air), _weight(air, fuel)
    of_fuel, of_air = fuel.viscosity_Pa_s, air.viscosity_Pa_s

    def viscosity(r: Array) -> Array:
        return of_fuel / (1.0 + r * in_air) + r * of_air / (r + in_fuel)

    return viscosity


def _weight(first: Transport, second: Transport) -> Array:
    """Wilke's weight of a second gas in the denominator of a first."""
    ratio = first.viscosity_Pa_s / second.viscosity_Pa_s
    masses = first.molar_mass_kg_per_mol / second.molar_mass_kg_per_mol
    weight: Array = (1.0 + np.sqrt(ratio) * masses**-0.25) ** 2 / np.sqrt(8.0 * (1.0 + masses))
    return weight
