"""A row of the table ``causes``, and the parts from which its possibilities are made."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.bench.unit import Bench
from burnerlab.bench.worlds import Variant, worlds
from burnerlab.orifice import nozzle

Array = NDArray[np.float64]
STEPS = 121  # possibilities along a range that is not known in advance
KNOTS = 9  # pressures at which the density of a real gas is computed; between them p/rho is a straight line


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """A row of the table of causes."""

    name: str
    title: str
    prior: float
    low: float
    high: float
    method: str  # any, meter, scale
    needs: str
    group: str  # of causes that ask for one action
    danger: bool  # listed among the first, however unlikely beside others
    source: str

    @property
    def spaced(self) -> Array:
        """The range, evenly."""
        return np.linspace(self.low, self.high, STEPS)

    @property
    def log_spaced(self) -> Array:
        """The range, evenly in its logarithm."""
        return np.geomspace(self.low, self.high, 2 * STEPS)


def variant(bench: Bench, words: str, weight: float = 1.0, **changed: ArrayLike) -> Variant:
    """A variant whose possibilities differ in what is ``changed``, arrays along possibilities."""
    sizes = [np.shape(value)[0] for value in changed.values() if np.ndim(value)]
    made = worlds(max(sizes, default=1), len(bench.burners), **changed)
    return Variant(words=words, weight=weight, worlds=made)


def for_one(bench: Bench, number: int, values: ArrayLike) -> Array:
    """Ones for every burner, and ``values`` in the column of one [possibility, burner]."""
    column = np.atleast_1d(np.asarray(values, dtype=float))
    found = np.ones((len(column), len(bench.burners)))
    found[:, number] = column
    return found


def flux_W(bench: Bench, gas: str, gauge_pressure_Pa: ArrayLike) -> Array:
    """Heat input of a hole of one millimetre without losses, gross [W]; ratios of it are those of any hole.

    gas : "" for that of the file, or the words of another supply; gauge_pressure_Pa : [Pa]
    """
    flowing = bench.gas if not gas else next(one.gas for one in bench.others if one.words == gas)
    pressure = np.atleast_1d(np.asarray(gauge_pressure_Pa, dtype=float))
    at = bench.conditions
    T, ambient = at.gas_temperature_K, at.ambient_pressure_Pa
    knots = pressure if len(pressure) <= KNOTS else np.geomspace(pressure.min(), pressure.max(), KNOTS)
    volume = np.array([(p + ambient) / flowing.density_kg_per_m3(T, p + ambient) for p in knots])
    density = (pressure + ambient) / (volume if knots is pressure else np.interp(pressure, knots, volume))
    k = flowing.isentropic_exponent(T, at.absolute_pressure_Pa)
    mass = nozzle.mass_flow_kg_per_s(1e-3, pressure, ambient, density, k)
    found: Array = mass * flowing.heating_value_J_per_kg("gross")
    return found


def pressure_flow(bench: Bench, gauge_pressure_Pa: ArrayLike) -> Array:
    """Heat input at other gauge pressures over the expected one; all burners alike [-]."""
    nominal = flux_W(bench, "", bench.conditions.gauge_pressure_Pa)
    found: Array = flux_W(bench, "", gauge_pressure_Pa) / nominal
    return found


def low_rate(area: ArrayLike, turndown: float) -> Array:
    """Flow at the low rate over its own, with another hole area behind a fixed bypass [-].

    Valve and orifice in series: 1/m^2 = (1/r^2 - 1) + 1/a^2, m over r. Source: equal losses add, incompressible.

    >>> float(low_rate(0.5, 1.0)), float(low_rate(0.5, 1 / 3))
    (0.5, 0.866)
    """
    a = np.asarray(area, dtype=float)
    found: Array = 1.0 / np.sqrt(1.0 / turndown**2 - 1.0 + 1.0 / a**2) / turndown
    return found


def low_rates(bench: Bench, area: Array) -> Array:
    """``low_rate`` for every burner; a burner without a turndown follows its hole [possibility, burner]."""
    turndowns = [one.turndown or 1.0 for one in bench.burners]
    return np.stack([low_rate(area[:, i], r) for i, r in enumerate(turndowns)], axis=1)
