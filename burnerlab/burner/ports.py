"""What happens in the ports: loading, velocity, gradient at the wall, cone, quenching, secondary air."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.burner.coefficients import coefficients

Array = NDArray[np.float64]

SQUARE_MM_PER_SQUARE_M = 1e6
REFERENCE_K, REFERENCE_Pa = 288.15, 101325.0  # of a heating value by volume, unless the caller says otherwise


def _array(value: ArrayLike) -> Array:
    return np.asarray(value, dtype=np.float64)


def port_area_m2(width_m: ArrayLike, count: ArrayLike, slot_length_m: ArrayLike | None = None) -> Array:
    """Area of all ports: round of a diameter, or slots of a width and a length [m2].

    >>> float(port_area_m2(1.6e-3, 100)) * 1e6
    201.06
    """
    width = _array(width_m)
    one = np.pi / 4.0 * width**2 if slot_length_m is None else width * _array(slot_length_m)
    return _array(one * count)


def loading_W_per_mm2(heat_input_W: ArrayLike, area_m2: ArrayLike) -> Array:
    """Heat input over port area [W/mm2]; gross when the heat input is gross.

    >>> float(loading_W_per_mm2(2000.0, 200e-6))
    10.0
    """
    return _array(heat_input_W) / (_array(area_m2) * SQUARE_MM_PER_SQUARE_M)


def mixture_velocity_m_per_s(
    loading_W_per_mm2: ArrayLike,
    heating_value_J_per_m3: ArrayLike,
    air_per_gas: ArrayLike,
    port_temperature_K: ArrayLike = REFERENCE_K,
    *,
    pressure_Pa: ArrayLike = REFERENCE_Pa,
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
    gas = _array(loading_W_per_mm2) * SQUARE_MM_PER_SQUARE_M / heating_value_J_per_m3
    state = _array(port_temperature_K) / reference_K * (REFERENCE_Pa / _array(pressure_Pa))
    return _array(gas * (1.0 + _array(air_per_gas)) * state)


def laminar_gradient_per_s(velocity_m_per_s: ArrayLike, width_m: ArrayLike, slot: ArrayLike = False) -> Array:
    """Velocity gradient at the wall of a port with developed laminar flow: 8V/D round, 6V/w long slot [1/s].

    velocity_m_per_s : mean [m/s]; width_m : diameter, or width of the slot [m]
    Range: below the laminar Reynolds number, and past the development length. Source: burner-duct-theory.

    >>> float(laminar_gradient_per_s(1.661, 1.6e-3)), float(laminar_gradient_per_s(1.0, 1e-3, slot=True))
    (8305.0, 6000.0)
    """
    return _array(np.where(slot, 6.0, 8.0) * _array(velocity_m_per_s) / width_m)


def turbulent_gradient_per_s(
    velocity_m_per_s: ArrayLike, hydraulic_diameter_m: ArrayLike, viscosity_m2_per_s: ArrayLike
) -> Array:
    """Velocity gradient at the wall of a port with turbulent flow: g = f V^2/(2 nu), f = 0.0791 Re^-0.25 [1/s].

    velocity_m_per_s : mean [m/s]; hydraulic_diameter_m : D, or 2w of a long slot [m]
    viscosity_m2_per_s : kinematic [m2/s]. Range: Re 4000 to 100 000. Source: burner-duct-theory.

    >>> float(turbulent_gradient_per_s(20.0, 5e-3, 1.6e-5))
    111203.0
    """
    v = _array(velocity_m_per_s)
    reynolds = v * hydraulic_diameter_m / viscosity_m2_per_s
    friction = coefficients()["Blasius factor"].value * reynolds**-0.25
    return _array(friction * v**2 / (2.0 * _array(viscosity_m2_per_s)))


@dataclass(frozen=True, slots=True, kw_only=True)
class WallGradient:
    """Gradient at the port wall and what it rests on; arrays over the cases."""

    gradient_per_s: Array
    reynolds: Array
    turbulent: NDArray[np.bool_]
    depth_over_diameter: Array | None  # hydraulic diameter; None when the depth is not known
    development_over_diameter: Array  # depth the profile needs to develop, laminar

    @property
    def short(self) -> NDArray[np.bool_] | None:
        """Whether the port is too short for its profile: the real gradient is then steeper than this one."""
        if self.depth_over_diameter is None:
            return None
        return ~self.turbulent & (self.depth_over_diameter < self.development_over_diameter)


def wall_gradient(
    velocity_m_per_s: ArrayLike,
    width_m: ArrayLike,
    viscosity_m2_per_s: ArrayLike,
    *,
    slot: ArrayLike = False,
    depth_m: ArrayLike | None = None,
) -> WallGradient:
    """Gradient at the port wall, laminar below Re 2300 and turbulent above, with its development length.

    velocity_m_per_s : mean [m/s]; width_m : diameter, or width of a slot [m]
    viscosity_m2_per_s : kinematic [m2/s]; depth_m : of the port [m]
    The steeper of both laws is taken above the transition, so that the gradient does not fall there.
    Source: burner-duct-theory.

    >>> found = wall_gradient(1.661, 1.6e-3, 1.6e-5, depth_m=2.5e-3)
    >>> float(found.gradient_per_s), float(found.reynolds), bool(found.short)
    (8305.0, 166.1, True)
    """
    table = coefficients()
    v, hydraulic = _array(velocity_m_per_s), np.where(slot, 2.0, 1.0) * _array(width_m)
    reynolds = v * hydraulic / viscosity_m2_per_s
    turbulent = reynolds > table["laminar Reynolds"].value
    laminar = laminar_gradient_per_s(v, width_m, slot)
    rough = np.where(turbulent, reynolds, 4000.0)  # any number where the turbulent law is not asked
    steep = turbulent_gradient_per_s(rough * viscosity_m2_per_s / hydraulic, hydraulic, viscosity_m2_per_s)
    return WallGradient(
        gradient_per_s=np.where(turbulent, np.maximum(steep, laminar), laminar),
        reynolds=_array(reynolds),
        turbulent=np.asarray(turbulent),
        depth_over_diameter=None if depth_m is None else _array(_array(depth_m) / hydraulic),
        development_over_diameter=_array(table["development length"].value * reynolds),
    )


def inner_cone_height_m(
    velocity_m_per_s: ArrayLike, burning_velocity_m_per_s: ArrayLike, width_m: ArrayLike
) -> Array:
    """Height of the inner cone, or of a slot's wedge: h = (D/2) sqrt((V/Su)^2 - 1) [m].

    Returns 0 where the flame burns as fast as the mixture comes, and nan for an unknown burning velocity.
    Range: uniform velocity over the port; real cones are a little shorter and rounded. Source: geometry.

    >>> float(inner_cone_height_m(1.5, 0.3, 2e-3)) * 1e3
    4.899
    """
    ratio = _array(velocity_m_per_s) / burning_velocity_m_per_s
    return _array(_array(width_m) / 2.0 * np.sqrt(np.maximum(ratio**2 - 1.0, 0.0)))


def quenching_distance_m(diffusivity_m2_per_s: ArrayLike, burning_velocity_m_per_s: ArrayLike) -> Array:
    """Distance of plates through which a flame does not pass: d_q = Pe alpha/Su, Pe = 35 [m].

    diffusivity_m2_per_s : of the cold mixture [m2/s]. Range: cold walls, no catalytic surface.
    Source: burner-quenching, indicative.

    >>> float(quenching_distance_m(2.23e-5, 0.379)) * 1e3
    2.06
    """
    peclet = coefficients()["quenching Peclet"].value
    return _array(peclet * _array(diffusivity_m2_per_s) / burning_velocity_m_per_s)


def quenching_width_m(
    diffusivity_m2_per_s: ArrayLike, burning_velocity_m_per_s: ArrayLike, slot: ArrayLike = False
) -> Array:
    """Port diameter, or slot width, through which a flame does not pass: 1.5 d_q round, d_q slot [m]."""
    round_factor = coefficients()["quenching round over plates"].value
    plates = quenching_distance_m(diffusivity_m2_per_s, burning_velocity_m_per_s)
    return _array(np.where(slot, 1.0, round_factor) * plates)


def secondary_air_m3_per_s(
    gas_flow_m3_per_s: ArrayLike, stoichiometric_air: ArrayLike, aeration: ArrayLike, excess_air: ArrayLike
) -> Array:
    """Air the flame must find beside the ports: Q A (1 + e - a) [m3/s], at the state of the gas flow.

    stoichiometric_air : A [m3/m3]; aeration : a, primary over stoichiometric [-]; excess_air : e, total [-].

    >>> round(float(secondary_air_m3_per_s(1.0, 9.547, 0.5, 0.4)), 3)
    8.592
    """
    wanted = 1.0 + _array(excess_air) - _array(aeration)
    return _array(_array(gas_flow_m3_per_s) * stoichiometric_air * np.maximum(wanted, 0.0))


def secondary_opening_m2(
    secondary_air_m3_per_s: ArrayLike, entry_velocity_m_per_s: ArrayLike | None = None
) -> Array:
    """Opening that lets that air in at an entry velocity, 1 ft/s unless given [m2].

    Source: burner-judgement; no published figure at burner level could be read.

    >>> round(float(secondary_opening_m2(1e-3)) * 1e6)
    3281
    """
    usual = coefficients()["secondary entry velocity"].value
    return _array(
        _array(secondary_air_m3_per_s)
        / _array(usual if entry_velocity_m_per_s is None else entry_velocity_m_per_s)
    )
