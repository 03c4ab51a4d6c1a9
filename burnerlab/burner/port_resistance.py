"""Resistance of a port, a slot or a tile's channel: entry, developing laminar friction, exit, creep and heating.

    dp = K_p rho_1 V_1^2/2, with V_1 the mean velocity and rho_1 the density of the mixture at the entry

    K_p = (1 - w) K_thin + w [1 + z_e + K_e + K_d Phi + 2 beta (tau - 1)] + c 12 pi/Re

A port of no depth is a hole in a sheet, K_thin. From one hydraulic diameter on the flow is attached (w = 1) and loses
its exit head, the loss z_e of a sharp entry, the excess K_e of the profile that develops, the friction K_d of the
developed one, and what the gas needs to speed up as it warms. Between the two is an interpolation. At low Reynolds
numbers the flow creeps into the hole: 12 pi/Re is the whole loss of a thin hole there (Sampson), c of it the entry's.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from burnerlab.burner.coefficients import Array, Coefficients, Numbers, array, coefficients
from burnerlab.burner.ports import Transport, friction_factors, mixture_viscosities_Pa_s
from burnerlab.tables import End

VISCOSITY_EXPONENT = 0.7
"""mu ~ T^0.7 along a channel; with V ~ T friction goes with T^1.7."""
NODES = 64  # of the mean over a channel's temperature
LEAST_REYNOLDS, NEVER_ZERO = (
    1e-6,
    1e-12,
)  # where nothing flows, or there is no depth, a quotient stays a number


@dataclass(frozen=True, slots=True, kw_only=True)
class PortHeating:
    """What a port's gas does as it warms on its way; 1 and 1 where it does not."""

    rise: Numbers = 1.0  # tau, absolute temperature at the exit over that at the entry [-]
    friction: Numbers = 1.0  # Phi, mean over the depth of (T/T_entry)^1.7 [-]


UNHEATED = PortHeating()
NO_FRICTION = np.zeros(())  # of a plain tube


def linear_heating(rise: Numbers) -> PortHeating:
    """Heating of a gas whose temperature rises evenly along the port: Phi = (tau^2.7 - 1)/(2.7 (tau - 1)).

    rise : tau, absolute temperature at the exit over that at the entry, above 0 [-]

    >>> float(linear_heating(423.15 / 288.15).friction)
    1.440
    """
    power, step = 2.0 + VISCOSITY_EXPONENT, array(rise) - 1.0
    is_small = np.abs(step) < 1e-5  # the quotient loses its digits there: two terms of its series
    safe = np.where(is_small, 1.0, step)
    exact = ((1.0 + safe) ** power - 1.0) / (power * safe)
    return PortHeating(rise=rise, friction=np.where(is_small, 1.0 + (power - 1.0) / 2.0 * step, exact))


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelTemperature:
    """T(x) = T_0 + (T_s - T_0) exp(-(L - x)/l) along a channel whose gas is as warm as its wall; arrays over cases."""

    entry_K: Array  # T(0), to which the Reynolds number and the head of its resistance belong
    heating: PortHeating


def channel_temperature(
    plenum_K: Numbers, face_K: Numbers, depth_m: Numbers, decay_length_m: Numbers
) -> ChannelTemperature:
    """Temperature along a tile's channel, and what it does to the gas.

    plenum_K : T_0, of the mixture far ahead [K]; face_K : T_s, at the exit [K]
    depth_m : L [m]; decay_length_m : l [m]. Range: L/l to about 40.

    >>> found = channel_temperature(293.15, 1020.0, 13e-3, 9.2e-3)
    >>> float(found.entry_K), float(found.heating.rise)
    (470.07, 2.17)
    """
    node, weight = _gauss_legendre()
    steep, gap = array(depth_m) / array(decay_length_m), array(face_K) - array(plenum_K)
    entry = array(plenum_K) + gap * np.exp(-steep)
    inner = array(plenum_K)[..., None] + gap[..., None] * np.exp(-steep[..., None] * (1.0 - node))
    mean = ((inner / entry[..., None]) ** (1.0 + VISCOSITY_EXPONENT)) @ weight
    return ChannelTemperature(entry_K=entry, heating=PortHeating(rise=array(face_K) / entry, friction=mean))


@cache
def _gauss_legendre() -> tuple[Array, Array]:
    """Nodes and weights on 0 to 1."""
    node, weight = np.polynomial.legendre.leggauss(NODES)
    return array((node + 1.0) / 2.0), array(weight / 2.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class PortLosses:
    """What a port loses beside its friction; floats or arrays."""

    thin_discharge: Numbers  # of a hole without depth: K_thin = 1/Cd^2 [-]
    deep_discharge: Numbers  # of an attached port as Re grows without end: 1 + z_e = 1/Cd^2 [-]
    creep: Numbers  # c, share of a thin hole's creeping loss [-]


def port_losses(end: End = "value", own: Path | None = None) -> PortLosses:
    """The losses of the table, or those at the end of their spread that resists less (low) or more (high).

    >>> losses = port_losses()
    >>> round(1 / losses.thin_discharge**2, 2), round(1 / losses.deep_discharge**2 - 1, 3), losses.creep
    (2.37, 0.4, 0.5)
    """
    opposite: dict[End, End] = {"low": "high", "value": "value", "high": "low"}
    table = coefficients(own)
    return PortLosses(
        thin_discharge=table["port discharge, thin"].at(opposite[end]),
        deep_discharge=table["port discharge, deep"].at(opposite[end]),
        creep=table["creeping entry"].at(end),
    )


class PortResistance(NamedTuple):
    """K_p of a port on the head at its entry, and its parts; arrays over the cases."""

    total: Array
    friction: Array  # w (K_e + K_d Phi)
    acceleration: Array  # w 2 beta (tau - 1)
    creep: Array  # c 12 pi/Re
    is_evaluated: NDArray[np.bool_]  # whether the Reynolds number lies in the range


def apparent_friction(x_plus: Numbers, slot: Numbers = False, own: Path | None = None) -> Array:
    """Apparent Fanning friction factor times Re of a profile that develops from a uniform entry, fRe_app [-].

    fRe_app = 3.44/sqrt(x+) + [fRe + K_inf/(4 x+) - 3.44/sqrt(x+)]/(1 + C/x+^2)

    x_plus : (L/D_h)/Re, above 0 [-]; slot : long slots in place of round ports
    Error against a boundary-layer march: 2.1 % for x+ from 3e-4 to 0.5. Source: burner-developing-flow.

    >>> float(apparent_friction(0.01)), float(apparent_friction(0.01, slot=True))
    (38.52, 39.40)
    """
    return _apparent_frictions(slot, coefficients(own))(array(x_plus))


def _apparent_frictions(slot: Numbers, table: Coefficients) -> Callable[[Array], Array]:
    entry = table["developing friction"].value
    developed, excess, constant = (
        _of_shape(name, slot, table)
        for name in ("developed friction", "entrance excess", "entrance constant")
    )

    def friction(x: Array) -> Array:
        start = entry / np.sqrt(x)
        return start + (developed + excess / (4.0 * x) - start) / (1.0 + constant / (x * x))

    return friction


def _of_shape(name: str, slot: Numbers, table: Coefficients) -> Array:
    """A coefficient of round ports or of long slots."""
    if isinstance(slot, bool):
        return array(table[f"{name}, {'slot' if slot else 'round'}"].value)
    return np.where(slot, table[f"{name}, slot"].value, table[f"{name}, round"].value)


def port_resistance(
    reynolds: Numbers,
    depth_over_diameter: Numbers,
    *,
    slot: Numbers = False,
    heating: PortHeating = UNHEATED,
    losses: PortLosses | None = None,
    own: Path | None = None,
) -> PortResistance:
    """Resistance K_p of a port on the velocity head at its entry, equation at the head of this module [-].

    reynolds : at the entry, with the hydraulic diameter (D round, 2 w of a long slot) [-]
    depth_over_diameter : depth over the hydraulic diameter, 0 for a hole in a thin sheet [-]
    Range: Re 5 to 2300, ``is_evaluated`` says where. Depths of 0 to 1 diameter are an interpolation. Long slots: their
    ends are left out. Source: burner-developing-flow, burner-duct-theory.

    >>> float(port_resistance(172.64, 3.0 / 1.6).total)
    3.126
    """
    law = port_resistances(depth_over_diameter, slot, heating, losses or port_losses(own=own), own)
    return law(array(reynolds))


def port_resistances(
    depth_over_diameter: Numbers, slot: Numbers, heating: PortHeating, losses: PortLosses, own: Path | None
) -> Callable[[Array], PortResistance]:
    """``port_resistance`` of one port for any Reynolds number: what the flow does not move is found once."""
    table, depth = coefficients(own), array(depth_over_diameter)
    attached, ends = np.minimum(depth, 1.0), table["port Reynolds"]
    apparent = _apparent_frictions(slot, table)
    developed, limit = (_of_shape(name, slot, table) for name in ("developed friction", "entrance excess"))
    flatter = _of_shape("momentum factor", slot, table) - 1.0
    head = (1.0 - attached) / array(losses.thin_discharge) ** 2 + attached / array(losses.deep_discharge) ** 2
    speeding, creeping = 2.0 * attached * (array(heating.rise) - 1.0), array(losses.creep) * 12.0 * np.pi
    is_heated = bool(np.any(speeding))

    def resistance(re: Array) -> PortResistance:
        x_plus = np.maximum(depth / re, NEVER_ZERO)
        excess = 4.0 * x_plus * (apparent(x_plus) - developed)
        friction = attached * (excess + 4.0 * developed * x_plus * heating.friction)
        profile = 1.0 + flatter * np.minimum(excess / limit, 1.0) if is_heated else 1.0
        acceleration, creep = speeding * profile, creeping / re
        return PortResistance(
            total=head + friction + acceleration + creep,
            friction=friction,
            acceleration=acceleration,
            creep=creep,
            is_evaluated=(re >= ends.low) & (re <= ends.high),
        )

    return resistance


@dataclass(frozen=True, slots=True, kw_only=True)
class PortDrop:
    """What the ports do to a flow; arrays over the cases."""

    reynolds: Array  # at the entry
    resistance: Array  # K_p, with the pressure from outside over the head at the entry where there is one
    pressure_Pa: Array  # the drop, without the pressure from outside
    tube_friction: Array  # 4 f L/D of the mixing tube beyond what its loss holds [-]
    is_evaluated: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class PortStream:
    """The ports of a burner, the gas that flows to them, and the air that may come with it; floats or arrays."""

    gas_flux_kg_per_m2s: Numbers  # of the gas alone, by the area of the ports
    relative_density: Numbers
    gas: Transport  # at the temperature before the ports
    air: Transport
    air_density_kg_per_m3: Numbers  # at that temperature
    hydraulic_diameter_m: Numbers
    depth_over_diameter: Numbers  # any where the discharge stands for all losses
    slot: Numbers
    heating: PortHeating
    losses: PortLosses
    discharge: Numbers | None = None  # of the ports as a whole, as the file or the table has it
    outer_pressure_Pa: Numbers = 0.0  # against the flow
    tube_over_port_diameter: Numbers = 1.0
    tube_over_port_area: Numbers = 1.0
    long_tube: Numbers = 0.0  # length over diameter beyond that of a plain tube
    own: Path | None = None

    def drop(self, air_per_gas: Numbers) -> PortDrop:
        """The drop of pressure in the ports with so much air.

        air_per_gas : r [m3/m3]
        """
        return self.drops()(array(air_per_gas))

    def drops(self) -> Callable[[Array], PortDrop]:
        """``drop`` for any air: what the air does not move is found once."""
        flow, resistance, tube_friction = self._flow(), self._resistance(), self._tube_friction()
        outer_Pa = array(self.outer_pressure_Pa)

        def drop(r: Array) -> PortDrop:
            reynolds, head_Pa = flow(r)
            reynolds = np.maximum(reynolds, LEAST_REYNOLDS)
            total, is_evaluated = resistance(reynolds)
            return PortDrop(
                reynolds=reynolds,
                resistance=np.maximum(total + outer_Pa / np.maximum(head_Pa, NEVER_ZERO), 0.0),
                pressure_Pa=total * head_Pa,
                tube_friction=tube_friction(reynolds),
                is_evaluated=is_evaluated,
            )

        return drop

    def _flow(self) -> Callable[[Array], tuple[Array, Array]]:
        """Reynolds number and head at the entry with so much air [-], [Pa]."""
        sigma, viscosity = array(self.relative_density), mixture_viscosities_Pa_s(self.gas, self.air)
        by_sum = array(self.gas_flux_kg_per_m2s) / sigma  # the flux over sigma + r
        of_head = by_sum * by_sum / (2.0 * array(self.air_density_kg_per_m3))
        of_reynolds = by_sum * self.hydraulic_diameter_m

        def flow(r: Array) -> tuple[Array, Array]:
            both = sigma + r
            return of_reynolds * both / viscosity(r), of_head * both * (1.0 + r)

        return flow

    def _resistance(self) -> Callable[[Array], tuple[Array, NDArray[np.bool_]]]:
        """K_p at a Reynolds number, and whether it lies in the range."""
        if self.discharge is not None:
            whole = array(self.heating.rise) / array(self.discharge) ** 2
            return lambda re: (whole + np.zeros(re.shape), np.ones(re.shape, dtype=bool))
        law = port_resistances(self.depth_over_diameter, self.slot, self.heating, self.losses, self.own)

        def resistance(re: Array) -> tuple[Array, NDArray[np.bool_]]:
            found = law(re)
            return found.total, found.is_evaluated

        return resistance

    def _tube_friction(self) -> Callable[[Array], Array]:
        """Friction of a long mixing tube by the Reynolds number of the ports."""
        if not np.any(self.long_tube):
            return lambda _: NO_FRICTION
        tube_over_port = array(self.tube_over_port_diameter) / self.tube_over_port_area
        length, factor = 4.0 * array(self.long_tube), friction_factors(own=self.own)
        return lambda re: factor(re * tube_over_port) * length
