"""The air outside: the standard atmosphere at an altitude, or the word of a barometer.

Altitude is height above sea level. The standard's altitude is geopotential; a surveyed height differs from it
by less than 0.05 % below 3 km, and the weather moves the barometer by about 3 %.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any, overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.quantity import Kind, Quantities, Quantity, si_numbers
from burnerlab.tables.problem import Problem, UserError

Array = NDArray[np.float64]

LOWEST_m, HIGHEST_m = -1000.0, 11000.0
"""Lower than any dry land; the top of the layer whose temperature falls linearly."""

WEATHER_SPREAD = 0.10
"""Twice the widest swing of the barometer that a place sees: 95 to 105 kPa at sea level and a little more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StandardAtmosphere:
    """Constants of the standard atmosphere's lowest layer."""

    pressure_Pa: float
    temperature_K: float
    gradient_K_per_m: float
    gravity_m_per_s2: float
    gas_constant_J_per_kg_K: float

    @property
    def exponent(self) -> float:
        """Of the pressure ratio: g/(R a), 5.2559."""
        return -self.gravity_m_per_s2 / (self.gas_constant_J_per_kg_K * self.gradient_K_per_m)


@cache
def standard_atmosphere() -> StandardAtmosphere:
    """The constants as the table ``atmosphere`` holds them.

    >>> standard_atmosphere().exponent
    5.25588
    """
    value = {row["name"]: float(row["value"]) for row in tables.rows("atmosphere")}
    return StandardAtmosphere(
        pressure_Pa=value["sea level pressure"],
        temperature_K=value["sea level temperature"],
        gradient_K_per_m=value["temperature gradient"],
        gravity_m_per_s2=value["gravity"],
        gas_constant_J_per_kg_K=value["specific gas constant"],
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Ambient:
    """The pressure outside the appliance and how it is known."""

    pressure_Pa: float
    altitude_m: float | None
    note: str


def _checked(altitude_m: ArrayLike) -> Array:
    height = np.asarray(altitude_m, dtype=np.float64)
    if not bool(np.all((height >= LOWEST_m) & (height <= HIGHEST_m))):
        wrong = height[~((height >= LOWEST_m) & (height <= HIGHEST_m))].flat[0]
        raise UserError(
            Problem(
                "outside the layer of the standard atmosphere that is computed here",
                value=f"{wrong:g} m",
                key="altitude",
                accepted=f"{LOWEST_m:g} to {HIGHEST_m:g} m",
                fix="give the station barometer instead",
            )
        )
    return height


def _plain(values: Any) -> Any:
    return float(values) if np.ndim(values) == 0 else values


@overload
def temperature_at_altitude_K(altitude_m: float) -> float: ...
@overload
def temperature_at_altitude_K(altitude_m: Array) -> Array: ...
def temperature_at_altitude_K(altitude_m: float | Array) -> float | Array:
    """Temperature of the standard atmosphere: T = T0 + a h.

    altitude_m : above sea level [m]
    Returns [K]. Raises UserError outside -1 to 11 km. Source: iso2533-1975.

    >>> temperature_at_altitude_K(1000.0)
    281.65
    """
    standard = standard_atmosphere()
    result: float | Array = _plain(standard.temperature_K + standard.gradient_K_per_m * _checked(altitude_m))
    return result


@overload
def pressure_at_altitude_Pa(  # type: ignore[overload-overlap]  # one is among one or many
    altitude_m: Quantity,
) -> float: ...
@overload
def pressure_at_altitude_Pa(altitude_m: Quantities) -> Array: ...
def pressure_at_altitude_Pa(altitude_m: Quantities) -> float | Array:
    """Pressure of the standard atmosphere: p = p0 (1 + a h/T0)^(-g/(R a)).

    altitude_m : above sea level [m], one or many
    Returns [Pa]. Raises UserError outside -1 to 11 km. Source: iso2533-1975.

    >>> pressure_at_altitude_Pa(1524.0) / pressure_at_altitude_Pa(0.0)
    0.83205
    """
    height = _checked(si_numbers(altitude_m, Kind.LENGTH, "altitude_m"))
    standard = standard_atmosphere()
    ratio = 1.0 + standard.gradient_K_per_m * height / standard.temperature_K
    result: float | Array = _plain(standard.pressure_Pa * ratio**standard.exponent)
    return result


@overload
def air_density_at_altitude_kg_per_m3(altitude_m: float) -> float: ...
@overload
def air_density_at_altitude_kg_per_m3(altitude_m: Array) -> Array: ...
def air_density_at_altitude_kg_per_m3(altitude_m: float | Array) -> float | Array:
    """Density of the dry air of the standard atmosphere: rho = p/(R T).

    altitude_m : above sea level [m]
    Returns [kg/m3]. Raises UserError outside -1 to 11 km. Source: iso2533-1975.

    >>> air_density_at_altitude_kg_per_m3(0.0)
    1.2250
    """
    gas_constant = standard_atmosphere().gas_constant_J_per_kg_K
    height = _checked(altitude_m)
    return pressure_at_altitude_Pa(height) / (gas_constant * temperature_at_altitude_K(height))


@overload
def altitude_at_pressure_m(pressure_Pa: float) -> float: ...
@overload
def altitude_at_pressure_m(pressure_Pa: Array) -> Array: ...
def altitude_at_pressure_m(pressure_Pa: float | Array) -> float | Array:
    """Altitude at which the standard atmosphere has a pressure: h = (T0/a)((p/p0)^(-R a/g) - 1).

    pressure_Pa : absolute [Pa]
    Returns [m]. Raises UserError for a pressure not found between -1 and 11 km. Source: iso2533-1975.

    >>> altitude_at_pressure_m(84556.0)
    1500.0
    """
    standard = standard_atmosphere()
    pressure = np.asarray(pressure_Pa, dtype=np.float64)
    low, high = (pressure_at_altitude_Pa(height) for height in (HIGHEST_m, LOWEST_m))
    if not bool(np.all((pressure >= low) & (pressure <= high))):
        wrong = pressure[~((pressure >= low) & (pressure <= high))].flat[0]
        raise UserError(
            Problem(
                "no altitude of the standard atmosphere has this pressure",
                value=f"{wrong:g} Pa",
                key="ambient pressure",
                accepted=f"{low:.0f} to {high:.0f} Pa absolute",
                fix="give the station pressure, absolute, not a gauge pressure",
            )
        )
    ratio = (pressure / standard.pressure_Pa) ** (1.0 / standard.exponent)
    result: float | Array = _plain(standard.temperature_K / standard.gradient_K_per_m * (ratio - 1.0))
    return result


def ambient(altitude_m: float | None = None, station_barometer_Pa: float | None = None) -> Ambient:
    """The ambient pressure of a place: its barometer when read, else the standard atmosphere, else sea level.

    altitude_m : above sea level [m]; station_barometer_Pa : absolute, as read at the place [Pa]
    Returns an Ambient. Raises UserError for a barometer more than a tenth from the standard pressure of the
    altitude: it is usually a weather report reduced to sea level.

    >>> ambient(1500.0).pressure_Pa, ambient().pressure_Pa
    (84556.0, 101325.0)
    """
    if station_barometer_Pa is None:
        height = 0.0 if altitude_m is None else altitude_m
        note = (
            "sea level, standard atmosphere" if altitude_m is None else "standard atmosphere at the altitude"
        )
        return Ambient(pressure_Pa=pressure_at_altitude_Pa(height), altitude_m=altitude_m, note=note)
    expected = None if altitude_m is None else pressure_at_altitude_Pa(altitude_m)
    altitude_at_pressure_m(station_barometer_Pa)  # refuses a pressure no place has
    if expected is not None and abs(station_barometer_Pa / expected - 1.0) > WEATHER_SPREAD:
        raise UserError(
            Problem(
                f"does not belong to this altitude, where the standard pressure is {expected / 1000:.1f} kPa",
                value=f"{station_barometer_Pa / 1000:.2f} kPa",
                key="barometer",
                accepted=f"within {100 * WEATHER_SPREAD:.0f} % of it",
                fix="a weather report is reduced to sea level: convert it to the station's own pressure",
            )
        )
    return Ambient(pressure_Pa=station_barometer_Pa, altitude_m=altitude_m, note="station barometer")
