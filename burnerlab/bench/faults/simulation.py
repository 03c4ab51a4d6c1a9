"""Units with a fault and what a technician would read of them, by plain formulas kept apart from those of ``explain``.

Heat input of a hole: K A sqrt(2 p/rho) H, with H per volume and rho at the manifold; above SLOW of the outside pressure
the isentropic nozzle, choked where it chokes. A meter counts volume, a scale weighs, and both are multiplied by the
heating value of the gas of the file. Nothing here knows what ``explain`` predicts (``tests/bench`` walks the imports).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.project.model import Appliance
from burnerlab.gas import DeclaredGas, Gas
from burnerlab.orifice.drill import drill_list
from burnerlab.quantity import PRESETS

Array = NDArray[np.float64]
SLOW = 0.05  # of the outside pressure: below it a gas that leaves a hole is as dense as before it
STATE = PRESETS["ISO_15_15"]
# spread of sound units and of what reads them, as half widths (common practice, as the shipped tables of spreads)
REGULATOR, COEFFICIENT, WOBBE, MANOMETER_Pa = 0.05, 0.02, 0.02, 25.0
DRILLED = 0.015  # standard deviation of an orifice of the other gas about its calculated area


@dataclass(frozen=True, slots=True, kw_only=True)
class GasAtPressure:
    """A gas and the pressure it comes at, as figures."""

    density_kg_per_m3: float  # at 15 C and 101.325 kPa
    heat_J_per_m3: float  # gross
    exponent: float
    gauge_pressure_Pa: float

    @staticmethod
    def of(gas: Gas | DeclaredGas, gauge_pressure_Pa: float) -> GasAtPressure:
        """Figures of a gas of the library or of a bill."""
        density = float(gas.standard_density_kg_per_m3(STATE))
        return GasAtPressure(
            density_kg_per_m3=density,
            heat_J_per_m3=density * float(gas.heating_value_J_per_kg("gross")),
            exponent=float(gas.isentropic_exponent(288.15, 101_325.0 + gauge_pressure_Pa)),
            gauge_pressure_Pa=gauge_pressure_Pa,
        )


def heat_W(area_m2: float, gas: GasAtPressure, gauge_pressure_Pa: float, outside_Pa: float) -> float:
    """Heat input of a hole without losses, gross [W].

    >>> methane = GasAtPressure(density_kg_per_m3=0.68, heat_J_per_m3=37.8e6, exponent=1.3, gauge_pressure_Pa=2000.0)
    >>> round(heat_W(1e-6, methane, 2000.0, 101_325.0))
    2928
    """
    p, a = gauge_pressure_Pa, outside_Pa
    rho = gas.density_kg_per_m3 * (p + a) / 101_325.0
    if p < SLOW * a:
        mass = area_m2 * math.sqrt(2.0 * rho * p)
    else:
        k = gas.exponent
        r = max(a / (p + a), (2.0 / (k + 1.0)) ** (k / (k - 1.0)))
        mass = area_m2 * math.sqrt(
            2.0 * k / (k - 1.0) * rho * (p + a) * (r ** (2.0 / k) - r ** ((k + 1.0) / k))
        )
    return mass / gas.density_kg_per_m3 * gas.heat_J_per_m3


@dataclass(slots=True, kw_only=True)
class SimulatedUnit:
    """One unit at the test: what it has, and what of it is misread; a fault changes these."""

    areas_m2: Array  # of every burner of the appliance
    gas: GasAtPressure
    pressure_Pa: float  # held before the losses of the line
    open: Array  # share of the flow that each valve lets through
    line_loss: float = 0.0  # over the manifold pressure, every burner on
    beside: float = 0.0  # other load over the expected input of the burners on
    volume_read: float = 1.0  # volume taken over that which passed
    figure_used: float = 1.0  # heating value and state used, over right
    group: str = ""  # what is to be done, where that differs from the group of the cause


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedUnits:
    """Many units with what was read of them."""

    causes: tuple[str, ...]  # of every unit
    groups: tuple[str, ...]  # of every unit, "" for that of its cause
    ratio: Array  # heat input read over expected [-]
    pressure_ratio: Array  # manifold pressure read over nominal [-]
    hottest: Array  # true heat input of the burner furthest above its expected one [-]
    other_gas: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Shop:
    """What is built and tested: the appliance in figures, the other supply, the burners that are on."""

    own: GasAtPressure
    other: GasAtPressure
    areas_m2: Array
    names: tuple[str, ...]
    on: NDArray[np.bool_]
    outside_Pa: float
    method: Literal["meter", "scale"]
    random: np.random.Generator = field(repr=False)

    def pick(self) -> int:
        """A burner that is on."""
        return int(self.random.choice(np.flatnonzero(self.on)))

    def converted(self) -> Array:
        """Orifices of the other supply for the same rating, as calculated by Wobbe index and root of pressure."""
        own_flux = self.own.heat_J_per_m3 * math.sqrt(self.own.gauge_pressure_Pa / self.own.density_kg_per_m3)
        its = self.other.heat_J_per_m3 * math.sqrt(
            self.other.gauge_pressure_Pa / self.other.density_kg_per_m3
        )
        drilled: Array = (
            self.areas_m2 * own_flux / its * (1.0 + DRILLED * self.random.standard_normal(len(self.areas_m2)))
        )
        return drilled

    def some(self) -> list[int]:
        """One to all but one of the burners that are on."""
        on = np.flatnonzero(self.on)
        size = int(self.random.integers(1, len(on)))
        return list(self.random.choice(on, size=size, replace=False))


def shop_of(
    appliance: Appliance,
    burner: str | None,
    substitute: tuple[Gas | DeclaredGas, float],
    method: Literal["meter", "scale"],
    random: np.random.Generator,
) -> Shop:
    """The appliance in figures; burner None: all are on; other : gas and gauge pressure [Pa] of the other supply."""
    kinds = [one for one in appliance.burners for _ in range(one.count)]
    on = np.array([burner is None or one.name == burner for one in kinds])
    if burner is not None:  # one of the kind
        on &= np.cumsum(on) == 1
    supply = appliance.supply
    return Shop(
        GasAtPressure.of(supply.gas, supply.gauge_pressure_Pa),
        GasAtPressure.of(*substitute),
        np.array([math.pi / 4.0 * one.orifice.diameter_m**2 * one.orifice.count for one in kinds]),
        tuple(one.name for one in kinds),
        on,
        supply.ambient_pressure_Pa,
        method,
        random,
    )


def simulate(shop: Shop, causes: list[str], reading_uncertainty: float) -> SimulatedUnits:
    """A unit for every cause named, with the spread of sound units, read with noise.

    reading_uncertainty : relative standard, of the heat input [-]
    """
    rows = [_read(shop, cause, reading_uncertainty) for cause in causes]
    ratio, pressure, hottest, wrong_gas = (np.array([row[i] for row in rows]) for i in range(4))
    return SimulatedUnits(
        causes=tuple(causes),
        groups=tuple(row[4] for row in rows),
        ratio=ratio,
        pressure_ratio=pressure,
        hottest=hottest,
        other_gas=wrong_gas.astype(bool),
    )


def _read(shop: Shop, cause: str, u: float) -> tuple[float, float, float, bool, str]:
    random, own, n = shop.random, shop.own, len(shop.areas_m2)
    unit = SimulatedUnit(
        areas_m2=shop.areas_m2.copy(), gas=own, pressure_Pa=own.gauge_pressure_Pa, open=np.ones(n)
    )
    FAULTS[cause](shop, unit)
    nominal = np.array([heat_W(a, own, own.gauge_pressure_Pa, shop.outside_Pa) for a in shop.areas_m2])
    load = nominal[shop.on].sum() / nominal.sum()
    set_pressure_Pa = unit.pressure_Pa * (1.0 + REGULATOR * random.uniform(-1.0, 1.0))
    manifold = set_pressure_Pa / (1.0 + unit.line_loss * load**2)
    coefficient = 1.0 + COEFFICIENT * random.uniform(-1.0, 1.0, n)
    day = 1.0 + WOBBE * random.uniform(-1.0, 1.0)
    through = np.array([heat_W(a, unit.gas, manifold, shop.outside_Pa) for a in unit.areas_m2])
    true_W = through * unit.open * coefficient * day
    expected = float(nominal[shop.on].sum())
    passed = (
        true_W[shop.on].sum() + unit.beside * expected
    )  # heat; volume and mass are those of the gas that flows
    volume = passed / unit.gas.heat_J_per_m3
    if shop.method == "meter":
        read = volume * own.heat_J_per_m3 * unit.volume_read
    else:
        read = volume * unit.gas.density_kg_per_m3 * own.heat_J_per_m3 / own.density_kg_per_m3
    ratio = read * unit.figure_used * math.exp(u * random.standard_normal()) / expected
    displayed_Pa = manifold + MANOMETER_Pa * random.uniform(-1.0, 1.0)
    hottest = float((true_W / nominal)[shop.on].max())
    return ratio, displayed_Pa / own.gauge_pressure_Pa, hottest, unit.gas is shop.other, unit.group


def _with(gas: bool, regulator: bool, orifices: str) -> Callable[[Shop, SimulatedUnit], None]:
    def fault(shop: Shop, unit: SimulatedUnit) -> None:
        if gas:
            unit.gas = shop.other
        if regulator:
            unit.pressure_Pa = shop.other.gauge_pressure_Pa
        on = [int(i) for i in np.flatnonzero(shop.on)]
        sets: dict[str, list[int]] = {"none": [], "one": [shop.pick()], "all": on}
        if orifices == "some":
            size = int(shop.random.integers(2, len(on)))
            sets["some"] = list(shop.random.choice(on, size=size, replace=False))
        elif orifices == "part":
            sets["part"] = shop.some()
        elif orifices == "any":
            sets["any"] = on if len(on) < 2 or shop.random.random() < 0.5 else shop.some()
        changed = shop.converted()
        for i in sets[orifices]:
            unit.areas_m2[i] = changed[i]

    return fault


def _drill(shop: Shop, unit: SimulatedUnit, sizes: int) -> None:
    i, side = shop.pick(), 1 if shop.random.random() < 0.5 else -1
    bores = np.array([drill.diameter_m for drill in drill_list("number")])
    own = math.sqrt(4.0 * shop.areas_m2[i] / math.pi)
    at = int(np.argmin(np.abs(bores - own)))
    if (
        abs(bores[at] - own) > 1e-6
    ):  # a bore between two number drills: the next one on that side is one size off
        at = int(np.searchsorted(bores, own)) - (1 if side > 0 else 0)
    unit.areas_m2[i] = math.pi / 4.0 * bores[at + side * sizes] ** 2


def _interchanged(shop: Shop, unit: SimulatedUnit) -> None:
    i = shop.pick()
    differing = np.flatnonzero(np.abs(shop.areas_m2 / shop.areas_m2[i] - 1.0) > 1e-6)
    j = int(shop.random.choice(differing)) if len(differing) else i
    unit.areas_m2[[i, j]] = shop.areas_m2[[j, i]]


def _pressure(low: float, high: float) -> Callable[[Shop, SimulatedUnit], None]:
    def fault(shop: Shop, unit: SimulatedUnit) -> None:
        unit.pressure_Pa *= shop.random.uniform(low, high)

    return fault


def _pressure_low(shop: Shop, unit: SimulatedUnit) -> None:
    share = shop.random.uniform(0.5, 0.93)
    if shop.random.random() < 0.5:
        unit.pressure_Pa *= share
    else:
        _line(shop, unit, share)


def _line(shop: Shop, unit: SimulatedUnit, share: float) -> None:
    """A line that leaves this part of the pressure with the burners on that are on."""
    load = shop.areas_m2[shop.on].sum() / shop.areas_m2.sum()
    unit.line_loss = (1.0 / share - 1.0) / load**2


def _no_regulator(shop: Shop, unit: SimulatedUnit) -> None:
    low, high = (5000.0, 500_000.0) if shop.own.density_kg_per_m3 > 1.2255 else (3500.0, 14_000.0)
    unit.pressure_Pa = math.exp(shop.random.uniform(math.log(low), math.log(high)))


def _blocked(shop: Shop, unit: SimulatedUnit) -> None:
    share = shop.random.uniform(0.35, 0.93)
    if shop.random.random() < 0.5:
        unit.areas_m2[shop.pick()] *= share
    else:
        _line(shop, unit, share**2)
        unit.group = "regulator"


def _shut(shop: Shop, unit: SimulatedUnit) -> None:
    unit.open[shop.pick()] = shop.random.uniform(0.35, 0.93)


def _beside(low: float, high: float) -> Callable[[Shop, SimulatedUnit], None]:
    def fault(shop: Shop, unit: SimulatedUnit) -> None:
        unit.beside = math.exp(shop.random.uniform(math.log(low), math.log(high)))

    return fault


def _volume(*factors: float) -> Callable[[Shop, SimulatedUnit], None]:
    def fault(shop: Shop, unit: SimulatedUnit) -> None:
        unit.volume_read = float(shop.random.choice(factors))

    return fault


def _count(shop: Shop, unit: SimulatedUnit) -> None:
    turns = int(shop.random.integers(2, 9))
    unit.volume_read = (turns + (1 if shop.random.random() < 0.5 else -1)) / turns


def _meter_error(shop: Shop, unit: SimulatedUnit) -> None:
    unit.volume_read = 1.0 + shop.random.uniform(0.03, 0.1) * (1 if shop.random.random() < 0.5 else -1)


def _figure(*ranges: tuple[float, float]) -> Callable[[Shop, SimulatedUnit], None]:
    def fault(shop: Shop, unit: SimulatedUnit) -> None:
        low, high = ranges[int(shop.random.integers(len(ranges)))]
        unit.figure_used = shop.random.uniform(low, high)

    return fault


def _altitude(shop: Shop, unit: SimulatedUnit) -> None:
    thin = math.exp(-shop.random.uniform(300.0, 3000.0) / 8300.0)  # of an isothermal atmosphere
    if shop.random.random() < 0.5 or shop.method == "scale":
        unit.open *= math.sqrt(thin)
    else:
        unit.figure_used = 1.0 / thin


def _temperature(shop: Shop, unit: SimulatedUnit) -> None:
    warm = shop.random.uniform(263.0, 313.0) / 288.15
    unit.open /= math.sqrt(warm)
    if shop.method == "meter":
        unit.figure_used = warm


FAULTS: dict[str, Callable[[Shop, SimulatedUnit], None]] = {
    "as it should be": lambda shop, unit: None,
    "other supply as a whole": _with(True, True, "none"),
    "other gas connected": _with(True, False, "none"),
    "converted in part": _with(True, True, "part"),
    "converted in full": _with(True, True, "all"),
    "other gas and its orifices": _with(True, False, "any"),
    "neighbouring drill": lambda shop, unit: _drill(shop, unit, 1),
    "drill off by two or more": lambda shop, unit: _drill(shop, unit, int(shop.random.integers(2, 5))),
    "orifices interchanged": _interchanged,
    "other gas's orifice in one burner": _with(False, False, "one"),
    "other gas's orifice in all burners": _with(False, False, "all"),
    "other gas's orifice in some burners": _with(False, False, "some"),
    "other regulator and orifices": _with(False, True, "any"),
    "regulator of the other gas": _with(False, True, "none"),
    "no regulator": _no_regulator,
    "manifold pressure low": _pressure_low,
    "manifold pressure high": _pressure(1.08, 1.7),
    "part blockage": _blocked,
    "burner not fully open": _shut,
    "leak": _beside(0.05, 1.0),
    "other appliance": _beside(0.05, 3.0),
    "dial misread": _volume(0.5, 2.0, 0.5, 2.0, 0.25, 4.0),
    "revolutions miscounted": _count,
    "meter error": _meter_error,
    "gross and net mixed": _figure((0.9, 0.905), (1.105, 1.111)),
    "wrong heating value": _figure((0.9, 0.97), (1.03, 1.1)),
    "altitude forgotten": _altitude,
    "meter pressure forgotten": _figure((0.88, 0.983)),
    "temperature forgotten": _temperature,
    "saturated and dry mixed": _figure((0.982, 0.984), (1.016, 1.018)),
}
"""Cause by name: what it does to a unit or to its reading."""
