"""How much air the jet drags in: momentum balance of jet, mixing tube, ports and air shutter.

With r = air per gas by volume and sigma = relative density of the gas, the momentum flux of the mixture is that
of the jet times (1 + r)(1 + r/sigma). The balance

    (1 + r)(1 + r/sigma) (A_j/2) G + (r^2/sigma) (A_j/2) H = 1

holds the tube and ports in G and the air inlet in H. It is a quadratic of r with one root that is not negative
as long as the jet can drive the mixture at all, and rises with r since G + H is above zero for any geometry; so
the root is written down and needs no search. Gas pressure appears only through the jet's area.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from burnerlab.burner.arrays import Array, Numbers, array

SOURCE = "burner-momentum"


@dataclass(frozen=True, slots=True, kw_only=True)
class Jet:
    """The gas jet; each field a float or an array."""

    effective_area_m2: Numbers  # discharge coefficient times the area of the holes
    hole_area_m2: Numbers  # of the holes, drawn off the throat's area where the air comes in
    relative_density: Numbers  # of the gas, air = 1 [-]


@dataclass(frozen=True, slots=True, kw_only=True)
class MixingTube:
    """Throat, ports and air inlet; each field a float or an array."""

    throat_area_m2: Numbers
    port_area_m2: Numbers
    port_discharge: Numbers  # [-]
    loss: Numbers  # on the velocity head of the throat [-]
    temperature_ratio: Numbers = 1.0  # mixture in the ports over air [-]
    inlet_area_m2: Numbers | None = None  # open area of the shutter; None leaves the inlet out
    inlet_loss: Numbers = 1.0  # on the velocity head in that area [-]


def _root(group_factor: Numbers, inlet_factor: Numbers, relative_density: Numbers) -> Array:
    """Root r of (1 + r)(1 + r/sigma) g + (r^2/sigma) h = 1; 0 where the jet cannot drive the mixture."""
    g, h, sigma = array(group_factor), array(inlet_factor), array(relative_density)
    square, linear, rest = (g + h) / sigma, g * (1.0 + 1.0 / sigma), np.maximum(1.0 - g, 0.0)
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
    """G = (1 + C_L)/A_t + tau A_t/(Cd A_p)^2 [1/m2]."""
    throat = array(tube.throat_area_m2)
    outlet = array(tube.port_discharge) * tube.port_area_m2
    return (1.0 + array(tube.loss)) / throat + array(tube.temperature_ratio) * throat / outlet**2


def _annulus_term(jet: Jet, tube: MixingTube) -> Array:
    """The part of H that the air's own speed beside the jet makes [1/m2]."""
    throat = array(tube.throat_area_m2)
    annulus = throat - jet.hole_area_m2
    return throat / annulus**2 - 2.0 / annulus


def inlet_term(jet: Jet, tube: MixingTube) -> Array:
    """H = A_t/(A_t - A_0)^2 + K_i A_t/A_a^2 - 2/(A_t - A_0) [1/m2]; 0 when the inlet is left out."""
    if tube.inlet_area_m2 is None:
        return np.zeros(())
    with np.errstate(divide="ignore"):
        shutter = array(tube.inlet_loss) * tube.throat_area_m2 / array(tube.inlet_area_m2) ** 2
    return shutter + _annulus_term(jet, tube)


def air_per_gas(jet: Jet, tube: MixingTube) -> Array:
    """Primary air a burner draws, by volume of gas: (1 + r)(1 + r/sigma)(A_j/2) G + (r^2/sigma)(A_j/2) H = 1.

    Returns r [m3/m3]; 0 when the losses eat all the jet's momentum, or the shutter is closed. Range: jets
    below the speed of sound. Without an inlet area the air inlet is left out. Source: burner-momentum.

    >>> jet = Jet(effective_area_m2=1.4036, hole_area_m2=1.6513, relative_density=0.5539)
    >>> float(air_per_gas(jet, MixingTube(throat_area_m2=159.217, port_area_m2=200, port_discharge=0.65, loss=0.5)))
    5.699
    """
    half = array(jet.effective_area_m2) / 2.0
    inlet = inlet_term(jet, tube)
    closed = np.isinf(inlet)
    root = _root(half * tube_term(tube), half * np.where(closed, 0.0, inlet), jet.relative_density)
    return np.where(closed, 0.0, root)


def best_throat_area_m2(
    port_area_m2: Numbers, port_discharge: Numbers, loss: Numbers, temperature_ratio: Numbers = 1.0
) -> Any:
    """Throat that draws the most air into given ports: A_t = Cd A_p sqrt((1 + C_L)/tau).

    port_area_m2 : [m2]; port_discharge, loss, temperature_ratio : [-]. Returns [m2]. Source: burner-momentum.

    >>> float(best_throat_area_m2(300.0, 0.65, 0.5))
    238.825
    """
    return array(port_discharge) * port_area_m2 * np.sqrt((1.0 + array(loss)) / temperature_ratio)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShutterArea:
    """The open area of the air inlet that gives a wanted air per gas."""

    area_m2: Array  # the full area where that is not enough
    air_per_gas: Array  # with that area
    reached: NDArray[np.bool_]
    bound: NDArray[np.str_]  # "", or "shutter fully open": less air than wanted even so


def shutter_area(jet: Jet, tube: MixingTube, wanted_air_per_gas: Numbers) -> ShutterArea:
    """Open area of the inlet at which a burner draws the air wanted; the balance solved for A_a.

    tube : its inlet area is the area with the shutter fully open [m2], the upper bound of the answer
    wanted_air_per_gas : r [m3/m3], above 0. Source: burner-momentum.

    >>> jet = Jet(effective_area_m2=1.4036, hole_area_m2=1.6513, relative_density=0.5539)
    >>> tube = MixingTube(throat_area_m2=159.2, port_area_m2=200, port_discharge=0.65, loss=0.5, inlet_area_m2=400)
    >>> found = shutter_area(jet, tube, 5.0)
    >>> float(found.area_m2), bool(found.reached), str(shutter_area(jet, tube, 9.0).bound)
    (111.81, True, 'shutter fully open')
    """
    if tube.inlet_area_m2 is None:
        raise ValueError("the tube has no air inlet")
    r, half = array(wanted_air_per_gas), array(jet.effective_area_m2) / 2.0
    sigma = array(jet.relative_density)
    left = 1.0 - (1.0 + r) * (1.0 + r / sigma) * half * tube_term(tube)
    loss_term = left * sigma / (r * r * half) - _annulus_term(jet, tube)  # K_i A_t/A_a^2
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
