"""A row of the table ``causes`` and its scenarios: arrays of one row per possibility, one column per burner."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.bench.reading.readings import Method
from burnerlab.bench.unit import UnitUnderTest
from burnerlab.orifice import nozzle

Array = NDArray[np.float64]
BY_BURNER = ("burner_flow", "low_flow", "hole_area", "mark_area")
ZERO = ("inlet_loss", "loss", "other_load", "rest_load")  # nothing of it unless a possibility says so
LIKE = {
    "low_flow": "burner_flow",
    "rest_load": "other_load",
    "by_mass": "by_volume",
}  # unless it says otherwise
STEPS = 121  # possibilities along a range that is not known in advance
KNOTS = 9  # pressures at which the density of a real gas is computed; between them p/rho is a straight line


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenarios:
    """Possibilities; everything is over what the file and the technician take it to be [-]."""

    burner_flow: Array  # [n, burner] heat input at full, before the losses below
    low_flow: Array  # [n, burner] heat input at the low rate, over the low rate
    neighbour_flow: Array  # [n] the same at full of a burner that is not under test and is touched as well
    hole_area: Array  # [n, burner] free area of the orifice
    mark_area: Array  # [n, burner] area by the mark of the orifice
    pressure: Array  # [n] gauge, at the manifold, before the losses below
    inlet_loss: Array  # [n] lost before the appliance inlet over what is left there, every burner on
    loss: Array  # [n] lost before the manifold over what is left there, every burner on; holds inlet_loss
    opening: Array  # [n] of the least open burner valve, share of the flow
    dial: Array  # [n] volume taken for a revolution over that of the dial
    revolutions: Array  # [n] revolutions taken over those that passed
    meter: Array  # [n] volume the meter counts over that which passed
    by_volume: Array  # [n] heating value used over the right one, per volume
    by_mass: Array  # [n] the same per mass
    state: Array  # [n] correction for pressure and temperature of the gas in the meter, used over right
    slip: Array  # [n] reading over what it would be, by a slip of no known kind
    other_load: (
        Array  # [n] of something else, burned or lost meanwhile, over the expected input of the burners
    )
    rest_load: Array  # [n] the same with every burner off
    other_gas: Array  # [n] 2 where another gas is connected, else 1
    other_regulator: Array  # [n] 2 where the regulator is that of another gas, else 1

    def pressure_share(self, load: float) -> Array:
        """Manifold pressure with part of the appliance's burners on, over nominal: p / (1 + loss load^2) [-]."""
        share: Array = self.pressure / (1.0 + self.loss * load**2)
        return share

    def inlet_share(self, load: float) -> Array:
        """Pressure at the appliance inlet, over what it is with nothing wrong [-]."""
        share: Array = 1.0 / (1.0 + self.inlet_loss * load**2)
        return share

    def burned(self, weights: Array, load: float, *, low: bool = False) -> Array:
        """Heat input of the burners that are on, over the expected one; weights are zero for the others [-]."""
        flow = (self.low_flow if low else self.burner_flow) @ (weights / weights.sum())
        pressure_share: Array = flow / np.sqrt(1.0 + self.loss * load**2)
        return pressure_share

    def repeated(self, weights: Array, load: float, method: Method, *, low: bool = False) -> Array:
        """What another person would read with the same meter or scale, over the expected heat input [-]."""
        beside = self.other_load / weights.sum()
        total = self.burned(weights, load, low=low) + beside
        if method == "scale":
            return total * self.by_mass  # type: ignore[no-any-return]
        return total * self.by_volume * self.state * self.meter  # type: ignore[no-any-return]

    def reading(self, weights: Array, load: float, method: Method, *, low: bool = False) -> Array:
        """The reading over the expected heat input [-].

        weights : part of the expected input of all burners under test that each burner on has, its turndown included
        load : expected input of the burners that are on over that of the whole appliance [-]
        """
        ratio = self.repeated(weights, load, method, low=low) * self.slip
        return ratio if method == "scale" else ratio * self.dial * self.revolutions

    @property
    def hottest(self) -> Array:
        """Heat input of the burner that is furthest above its own expected one [-]."""
        ratio: Array = np.max(self.burner_flow, axis=1)
        return ratio

    @property
    def hottest_of_all(self) -> Array:
        """The same, of burners that are not under test as well [-]."""
        ratio: Array = np.maximum(self.hottest, self.neighbour_flow)
        return ratio

    def __len__(self) -> int:
        return len(self.pressure)


def scenarios(count: int, burners: int, **changed: ArrayLike) -> Scenarios:
    """``count`` possibilities in which all is as taken, but for what is ``changed``."""
    columns: dict[str, Array] = {}
    for field in fields(Scenarios):
        name = field.name
        shape = (count, burners) if name in BY_BURNER else (count,)
        like = LIKE.get(name)
        if name in changed:
            value = np.asarray(changed[name], dtype=float)
        elif like in changed:
            value = np.asarray(changed[like], dtype=float)
        else:
            value = np.asarray(0.0 if name in ZERO else 1.0)
        columns[name] = np.broadcast_to(value, shape)
    return Scenarios(**columns)


def joined(parts: Sequence[Scenarios]) -> Scenarios:
    """The possibilities of all parts, one after another."""
    return Scenarios(
        **{f.name: np.concatenate([getattr(part, f.name) for part in parts]) for f in fields(Scenarios)}
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """One way in which a cause may show itself: possibilities of equal weight."""

    words: str
    weight: float  # among the variants of the cause, before normalising
    scenarios: Scenarios
    chance: float = 1.0  # of this variant beside others, by how it was measured
    gas: str = ""  # the other gas that flows in it
    group: str = ""  # what is to be done about it, where that differs from the group of its cause
    each: tuple[str, ...] = ()  # words of every possibility, where they differ

    def words_of(self, number: int) -> str:
        """Words of one of its possibilities."""
        return self.each[number] if self.each else self.words


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


def variant(unit: UnitUnderTest, words: str, weight: float = 1.0, **changed: ArrayLike) -> Variant:
    """A variant whose possibilities differ in what is ``changed``, arrays along possibilities."""
    sizes = [np.shape(value)[0] for value in changed.values() if np.ndim(value)]
    result = scenarios(max(sizes, default=1), len(unit.burners), **changed)
    return Variant(words=words, weight=weight, scenarios=result)


def for_burner(unit: UnitUnderTest, number: int, values: ArrayLike) -> Array:
    """Ones for every burner, and ``values`` in the column of one [possibility, burner]."""
    column = np.atleast_1d(np.asarray(values, dtype=float))
    factors = np.ones((len(column), len(unit.burners)))
    factors[:, number] = column
    return factors


def flux_W(unit: UnitUnderTest, gas: str, gauge_pressure_Pa: ArrayLike) -> Array:
    """Heat input of a hole of one millimetre without losses, gross [W]; ratios of it are those of any hole.

    gas : "" for that of the file, or the words of another supply; gauge_pressure_Pa : [Pa]
    """
    flowing = unit.gas if not gas else next(other.gas for other in unit.substitutes if other.words == gas)
    pressure = np.atleast_1d(np.asarray(gauge_pressure_Pa, dtype=float))
    at = unit.conditions
    T, ambient = at.gas_temperature_K, at.ambient_pressure_Pa
    knots = pressure if len(pressure) <= KNOTS else np.geomspace(pressure.min(), pressure.max(), KNOTS)
    volume = np.array([(p + ambient) / flowing.density_kg_per_m3(T, p + ambient) for p in knots])
    density = (pressure + ambient) / (volume if knots is pressure else np.interp(pressure, knots, volume))
    k = flowing.isentropic_exponent(T, at.absolute_pressure_Pa)
    mass = nozzle.mass_flow_kg_per_s(1e-3, pressure, ambient, density, k)
    power_W: Array = mass * flowing.heating_value_J_per_kg("gross")
    return power_W


def pressure_flow(unit: UnitUnderTest, gauge_pressure_Pa: ArrayLike) -> Array:
    """Heat input at other gauge pressures over the expected one; all burners alike [-]."""
    nominal = flux_W(unit, "", unit.conditions.gauge_pressure_Pa)
    ratio: Array = flux_W(unit, "", gauge_pressure_Pa) / nominal
    return ratio


def low_rate(area: ArrayLike, turndown: float) -> Array:
    """Flow at the low rate over its own, with another hole area behind a fixed bypass [-].

    Valve and orifice in series: 1/m^2 = (1/r^2 - 1) + 1/a^2, m over r. Source: equal losses add, incompressible.

    >>> float(low_rate(0.5, 1.0)), float(low_rate(0.5, 1 / 3))
    (0.5, 0.866)
    """
    a = np.asarray(area, dtype=float)
    opening: Array = 1.0 / np.sqrt(1.0 / turndown**2 - 1.0 + 1.0 / a**2) / turndown
    return opening


def low_rates(unit: UnitUnderTest, area: Array) -> Array:
    """``low_rate`` for every burner; a burner without a turndown follows its hole [possibility, burner]."""
    turndowns = [burner.turndown or 1.0 for burner in unit.burners]
    return np.stack([low_rate(area[:, i], r) for i, r in enumerate(turndowns)], axis=1)
