"""Gas, regulator and orifices of the other supply in every mixture, and a manifold pressure that is off."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from burnerlab.bench.decision_rule import bench_limit
from burnerlab.bench.faults.cause import (
    STEPS,
    Cause,
    Variant,
    flux_W,
    low_rates,
    pressure_flow,
    scenarios,
    variant,
)
from burnerlab.bench.unit import OtherSupply, UnitUnderTest, is_LP
from burnerlab.gas import Gas
from burnerlab.gas.dew_point import dew_pressure_Pa
from burnerlab.orifice.drill import nearest_drill
from burnerlab.quantity import PRESETS

Array = NDArray[np.float64]
MOST_SUBSETS = 120  # of burners with orifices of the other supply that are looked at
MOST_NAMED = 12  # burners of which subsets are made
PIPED_BY_SCALE = (
    0.02  # of a gas that comes by pipe, where a cylinder is weighed: a test cylinder of it is rare
)
AS_BOUGHT = (
    0.95,
    1.0,
    1.05,
)  # area of an orifice of the other supply over the drill nearest to the calculated one
BELOW_DEW = 0.95  # of the dew pressure: gas that arrives as vapour
Prediction = Callable[[UnitUnderTest, Cause], Iterator[Variant]]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fitted:
    """What the parts of another supply do here."""

    supply: OtherSupply
    flow: Mapping[tuple[bool, bool], float]  # (gas, regulator) of it: heat input through the same hole [-]
    area: Array  # [burner] of its orifice over that of the file
    drills: tuple[str, ...]
    by_volume: float  # heating value of the file's gas over that of this one
    by_mass: float

    @property
    def gas(self) -> str:
        return self.supply.words.split(" at ")[0]


def _fitted(unit: UnitUnderTest) -> tuple[_Fitted, ...]:
    if "fitted" not in unit.known:
        unit.known["fitted"] = tuple(_fit(unit, other) for other in unit.others)
    found: tuple[_Fitted, ...] = unit.known["fitted"]
    return found


def _fit(unit: UnitUnderTest, other: OtherSupply) -> _Fitted:
    nominal, iso = unit.conditions.gauge_pressure_Pa, PRESETS["ISO_15_15"]
    here, there = ("", nominal), (other.words, other.gauge_pressure_Pa)
    base = float(flux_W(unit, *here)[0])
    flow = {
        (gas, regulator): float(
            flux_W(unit, (there if gas else here)[0], (there if regulator else here)[1])[0]
        )
        / base
        for gas in (False, True)
        for regulator in (False, True)
    }
    # the area that gives the rating with that gas at that pressure, and the drill nearest to it
    wanted = unit.rated_gross_W / unit.nominal_W / flow[True, True]
    exact = [
        burner.orifice.diameter_m * float(a) ** 0.5 for burner, a in zip(unit.burners, wanted, strict=True)
    ]
    drills = [nearest_drill(d, unit.drills) for d in exact]
    area = [
        (drill.diameter_m / burner.orifice.diameter_m) ** 2
        for drill, burner in zip(drills, unit.burners, strict=True)
    ]
    by_mass = unit.gas.heating_value_J_per_kg("gross") / other.gas.heating_value_J_per_kg("gross")
    density = unit.gas.standard_density_kg_per_m3(iso) / other.gas.standard_density_kg_per_m3(iso)
    return _Fitted(
        supply=other,
        flow=flow,
        area=np.array(area),
        drills=tuple(drill.name for drill in drills),
        by_volume=by_mass * density,
        by_mass=by_mass,
    )


def _some(count: int) -> list[tuple[int, ...]]:
    """Two or more burners, not all."""
    sets = [members for k in range(2, count) for members in combinations(range(min(count, MOST_NAMED)), k)]
    return sets[:: max(1, len(sets) // MOST_SUBSETS)]


def _parts(
    unit: UnitUnderTest, fitted: _Fitted, gas: bool, regulator: bool, sets: Sequence[tuple[int, ...]]
) -> Variant:
    """Possibilities with gas and regulator of the other supply or not, and its orifices in some burners."""
    bought = AS_BOUGHT if any(sets) else (1.0,)
    chosen = np.zeros((len(sets) * len(bought), len(unit.burners)), dtype=bool)
    for i, members in enumerate(sets):
        chosen[i :: len(sets), list(members)] = True
    wide = np.repeat(bought, len(sets))[:, None]
    area, flow = np.where(chosen, fitted.area * wide, 1.0), fitted.flow[gas, regulator]
    shift = fitted.supply.gauge_pressure_Pa / unit.conditions.gauge_pressure_Pa
    piped = gas and "meter" not in unit.methods and not is_LP(fitted.supply.gas)
    made = scenarios(
        len(chosen),
        len(unit.burners),
        burner_flow=flow * area,
        low_flow=flow * low_rates(unit, area),
        hole_area=area,
        mark_area=area,
        pressure=shift if regulator else 1.0,
        by_volume=fitted.by_volume if gas else 1.0,
        by_mass=fitted.by_mass if gas else 1.0,
        other_gas=2.0 if gas else 1.0,
        other_regulator=2.0 if regulator else 1.0,
    )
    return Variant(
        words=_words(unit, fitted, gas, regulator, sets[0]),
        weight=1.0,
        scenarios=made,
        chance=PIPED_BY_SCALE if piped else 1.0,
        gas=fitted.gas if gas else "",
        each=tuple(_words(unit, fitted, gas, regulator, members) for members in sets) * len(bought),
    )


def _words(unit: UnitUnderTest, fitted: _Fitted, gas: bool, regulator: bool, members: tuple[int, ...]) -> str:
    parts = []
    if gas:
        parts.append(f"{fitted.gas} is connected" + (" with its own regulator" if regulator else ""))
    elif regulator:
        parts.append(f"regulator for {fitted.supply.words}")
    if members:
        every = len(members) == len(unit.burners) > 1
        named = {unit.burners[i].name: fitted.drills[i] for i in members}
        where = "all burners" if every else ", ".join(f"{name} ({drill})" for name, drill in named.items())
        parts.append(f"orifices for {fitted.gas} in {where}")
    return "; ".join(parts)


def _with(gas: bool, regulator: bool, sets: str) -> Prediction:
    """A prediction: gas and regulator of the other supply or not, its orifices in none, one, some, all, any, part."""

    def predicted(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
        n = len(unit.burners)
        one: list[tuple[int, ...]] = [(i,) for i in range(n)]
        some = _some(n)
        every: list[tuple[int, ...]] = [tuple(range(n))]
        none: list[tuple[int, ...]] = [()]
        everywhere = [every, one, some] if n > 1 else [every]
        kinds = {
            "none": [none],
            "one": [one],
            "some": [some],
            "all": [every],
            "any": everywhere,
            "part": [one, some],
        }
        for fitted in _fitted(unit):
            for members in kinds[sets]:
                if members:
                    yield _parts(unit, fitted, gas, regulator, members)

    return predicted


def _no_regulator(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    held = bench_limit("unregulated LP" if unit.is_LP else "unregulated natural")
    low = max(held.low, 1.5 * unit.conditions.gauge_pressure_Pa)
    high = max(min(held.high, _highest_vapour_Pa(unit)), low)
    pressure = np.geomspace(low, high, STEPS)
    yield _at_pressure(unit, f"{low / 1e3:.3g} to {high / 1e3:.3g} kPa at the manifold", pressure)


def _highest_vapour_Pa(unit: UnitUnderTest) -> float:
    """Gauge pressure at which the gas begins to condense, less a margin; what a cylinder can give at most."""
    gas, at = unit.gas.gas, unit.conditions
    if not isinstance(gas, Gas):
        return np.inf
    dew = float(dew_pressure_Pa(gas.composition.names, gas.composition.fractions, at.gas_temperature_K))
    return BELOW_DEW * dew - at.ambient_pressure_Pa


def _at_pressure(unit: UnitUnderTest, words: str, gauge_pressure_Pa: Array) -> Variant:
    flow = pressure_flow(unit, gauge_pressure_Pa)
    nominal = unit.conditions.gauge_pressure_Pa
    return variant(unit, words, burner_flow=flow[:, None], pressure=gauge_pressure_Pa / nominal)


def _pressure_low(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    nominal = unit.conditions.gauge_pressure_Pa
    yield _at_pressure(unit, "regulator set low or worn", nominal * cause.spaced)
    loss = loss_of(unit, cause.spaced)
    yield variant(unit, "inlet starved: supply or hose too small, cylinder cold", loss=loss, inlet_loss=loss)
    yield variant(unit, "regulator droops: too small for the burners on", loss=loss)


def loss_of(unit: UnitUnderTest, left: Array) -> Array:
    """What leaves this part of the manifold pressure with the burners under test on: p (1 + loss load^2) = 1 [-]."""
    found: Array = (1.0 / left - 1.0) / unit.highest_load**2
    return found


def _pressure_high(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    nominal = unit.conditions.gauge_pressure_Pa
    yield _at_pressure(unit, "regulator set high, or its vent is blocked", nominal * cause.spaced)


SUPPLY: dict[str, Prediction] = {
    "other gas's orifice in one burner": _with(False, False, "one"),
    "other gas's orifice in all burners": _with(False, False, "all"),
    "other gas's orifice in some burners": _with(False, False, "some"),
    "regulator of the other gas": _with(False, True, "none"),
    "other regulator and orifices": _with(False, True, "any"),
    "other gas connected": _with(True, False, "none"),
    "other gas and its orifices": _with(True, False, "any"),
    "other supply as a whole": _with(True, True, "none"),
    "converted in part": _with(True, True, "part"),
    "converted in full": _with(True, True, "all"),
    "no regulator": _no_regulator,
    "manifold pressure low": _pressure_low,
    "manifold pressure high": _pressure_high,
}
"""Cause by name: what it predicts."""
