"""The gas jet as the momentum balance of a burner sees it, below and at the speed of sound.

The balance knows a jet by one figure, its effective area: that of a jet of the density the gas has in still air, with
the mass flow m and the momentum flux F of the real one,

    A_j = m^2/(rho F),    F = m w + (p_t - p_a) A_t

w and p_t are speed and pressure in the narrowest place. Below the speed of sound p_t is the ambient pressure p_a, and
the jet is a little wider than the hole, because the gas cools as it speeds up and is warmed again by the air. At the
speed of sound p_t stays above p_a, and its excess pushes as well: the jet goes on expanding behind the hole without
gaining momentum in the shocks it makes. More pressure then brings more gas, but hardly a faster jet, so that less air
comes with each cubic metre of gas.

A discharge coefficient narrows the stream: mass flow and momentum flux fall alike, and with them the area.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from burnerlab.burner.coefficients import Array, Numbers, array, coefficients
from burnerlab.orifice.nozzle import NEVER_ZERO, choked, critical_pressure_ratio
from burnerlab.tables import End


def throat_pressure_Pa(
    gauge_pressure_Pa: Numbers, ambient_pressure_Pa: Numbers, isentropic_exponent: Numbers
) -> Array:
    """Absolute pressure in the narrowest place: the ambient one, or the critical one where that is higher [Pa].

    gauge_pressure_Pa : before the hole over ambient [Pa]; ambient_pressure_Pa : absolute [Pa]
    isentropic_exponent : k [-]. Source: burner-gas-dynamics.

    >>> float(throat_pressure_Pa(2740.0, 101325.0, 1.4)), float(throat_pressure_Pa(2e5, 1e5, 1.4))
    (101325.0, 158484.536)
    """
    upstream = array(gauge_pressure_Pa) + ambient_pressure_Pa
    return np.maximum(ambient_pressure_Pa, critical_pressure_ratio(isentropic_exponent) * upstream)


def momentum_flux_Pa(
    gauge_pressure_Pa: Numbers, ambient_pressure_Pa: Numbers, isentropic_exponent: Numbers
) -> Array:
    """Momentum flux of a jet per area of its narrowest place: F/A = k p_t M^2 + p_t - p_a [Pa].

    M^2 = 2/(k-1) ((p_1/p_t)^((k-1)/k) - 1), which is 1 when choked
    gauge_pressure_Pa : before the hole over ambient [Pa]; ambient_pressure_Pa : absolute [Pa]
    isentropic_exponent : k [-]
    Tends to 2 dp as the pressure vanishes. Range: a converging hole, gas near an ideal one.
    Source: burner-gas-dynamics, thrust of a converging nozzle.

    >>> float(momentum_flux_Pa(1.0, 101325.0, 1.3)), float(momentum_flux_Pa(2e5, 1e5, 1.4))
    (2.0000, 280362.89)
    """
    throat = throat_pressure_Pa(gauge_pressure_Pa, ambient_pressure_Pa, isentropic_exponent)
    k_mach2, _ = _throat_state(
        array(gauge_pressure_Pa), array(ambient_pressure_Pa), array(isentropic_exponent)
    )
    flux: Array = throat * k_mach2 + (throat - ambient_pressure_Pa)
    return flux


def _throat_state(gauge_Pa: Array, ambient_Pa: Array, k: Array) -> tuple[Array, Array]:
    """k M^2 in the narrowest place, and the temperature before the hole over that there [-]."""
    throat = throat_pressure_Pa(gauge_Pa, ambient_Pa, k)
    # p_1/p_t as 1 + x keeps the digits of a few pascals
    rise = np.where(throat > ambient_Pa, gauge_Pa + ambient_Pa - throat, gauge_Pa) / throat
    c = (k - 1.0) / k + NEVER_ZERO
    warmer = np.expm1(c * np.log1p(rise))
    return 2.0 / c * warmer, 1.0 + warmer


def jet_area_ratio(
    gauge_pressure_Pa: Numbers, ambient_pressure_Pa: Numbers, isentropic_exponent: Numbers
) -> Array:
    """Effective area of a gas jet over discharge coefficient times hole: A_j/(Cd A) = m^2/(rho F Cd A) [-].

    gauge_pressure_Pa : before the hole over ambient [Pa]; ambient_pressure_Pa : absolute [Pa]
    isentropic_exponent : k [-]
    Returns 1 as the pressure vanishes, (k+1)/2 where the hole just chokes, and k (k+1)/2 P^2/((k+1) P - 1) beyond, with
    P the critical over the ambient pressure. Continuous. Range: as ``momentum_flux_Pa``; the gas of the jet back at its
    own temperature before the hole, and ideal: the area of propane is 3 % low at 20 psi and 5 % at 30.
    Source: burner-gas-dynamics, burner-pseudo-source.

    >>> float(jet_area_ratio(1e-3, 101325.0, 1.3)), float(jet_area_ratio(2e5, 1e5, 1.4))
    (1.0, 1.505)
    """
    ambient, k = array(ambient_pressure_Pa), array(isentropic_exponent)
    over = throat_pressure_Pa(gauge_pressure_Pa, ambient, k) / ambient
    k_mach2, warmer = _throat_state(array(gauge_pressure_Pa), ambient, k)
    ratio: Array = over**2 * k_mach2 * warmer / (over * k_mach2 + (over - 1.0))
    return ratio


def choked_jet_spread(
    gauge_pressure_Pa: Numbers,
    ambient_pressure_Pa: Numbers,
    isentropic_exponent: Numbers,
    end: End = "value",
    own: Path | None = None,
) -> Array:
    """Factor on the air of a choked jet at an end of its spread, growing from 1 where the hole just chokes [-].

    end : of the row "choked jet", which holds at ``choked jet full`` times the pressure that chokes
    own : the user's own coefficients
    A jet below the speed of sound keeps its factor of 1; the spread is a judgement, for no measured burner on a choked
    jet is known here.

    >>> float(choked_jet_spread(2740.0, 101325.0, 1.12, "low")), float(choked_jet_spread(2e5, 101325.0, 1.12, "low"))
    (1.0, 0.8)
    """
    table = coefficients(own)
    is_choked = choked(gauge_pressure_Pa, ambient_pressure_Pa, isentropic_exponent)
    over = throat_pressure_Pa(gauge_pressure_Pa, ambient_pressure_Pa, isentropic_exponent) / array(
        ambient_pressure_Pa
    )
    share = np.clip((over - 1.0) / (table["choked jet full"].value - 1.0), 0.0, 1.0)
    factor: Array = np.where(is_choked, 1.0 + (table["choked jet"].at(end) - 1.0) * share, 1.0)
    return factor
