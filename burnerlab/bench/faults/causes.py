"""Causes of a reading that is off, each as the scenarios it predicts for an appliance."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from operator import itemgetter
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from burnerlab import tables
from burnerlab.appliance.project.model import Burner, Orifice
from burnerlab.bench.decision_rule import bench_limit
from burnerlab.bench.faults.cause import (
    STEPS,
    Cause,
    Variant,
    flux_W,
    for_burner,
    low_rates,
    pressure_flow,
    scenarios,
    variant,
)
from burnerlab.bench.stop import pressure_words
from burnerlab.bench.unit import SubstituteSupply, UnitUnderTest, is_LP, orifices_in_file
from burnerlab.gas import Gas
from burnerlab.gas.dew_point import dew_pressure_Pa
from burnerlab.gas.summation import constants_of
from burnerlab.orifice.drill import Drill, drill_list, hole_name, nearest_drill
from burnerlab.quantity import PRESETS
from burnerlab.supply.atmosphere import pressure_at_altitude_Pa
from burnerlab.tables import cite
from burnerlab.tables.problem import Problem, UserError

# What is off in the reading: a leak or another load, the meter, the dial, the figures; and what nobody
# listed.

AT_REST = 0.7  # of leaks that a meter at rest shows; the others are behind a burner valve
MOST_REVOLUTIONS = 10  # timed at once
FAR_DIAL = 0.15  # weight of a dial of a quarter or four times beside one of half or double


def _sound_unit(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    yield variant(unit, "a unit without a fault, within its scatter")


def _leak(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    lost = cause.log_spaced
    yield variant(unit, "gas is lost before the burner valves", AT_REST, other_load=lost, rest_load=lost)
    behind = "gas is lost behind an open burner valve: the meter at rest does not show it"
    yield variant(unit, behind, 1.0 - AT_REST, other_load=lost, rest_load=0.0)


def _second_appliance(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    yield variant(unit, "another appliance burns on the meter", other_load=cause.log_spaced)


def _dial(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    for factor, words in ((cause.low, "half"), (cause.high, "double")):
        yield variant(unit, f"the volume taken is {words} of what a revolution is", dial=factor)
    for factor, words in ((cause.low**2, "a quarter"), (cause.high**2, "four times")):
        yield variant(unit, f"the volume taken is {words} of what a revolution is", FAR_DIAL, dial=factor)


def _count(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    """One revolution too many or too few was counted of those entered; of so many where they are not known."""
    entered = sorted({entry.revolutions for entry in unit.entries if entry.revolutions is not None})
    counts = [(taken, taken - off) for taken in entered for off in (1, -1) if taken > off]
    for passed in range(2, 1 if entered else MOST_REVOLUTIONS + 1):
        counts += [(passed + 1, passed), (passed - 1, passed)]
    for taken, passed in counts:
        off = "more" if taken > passed else "less"
        words = f"{taken} revolutions taken, {passed} passed: one {off}"
        if taken == 1:
            words = "1 revolution taken, 2 passed: one less"
        yield variant(unit, words, 1.0 / passed, revolutions=taken / passed)


def _meter_error(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    yield variant(unit, "the meter counts too much or too little", meter=cause.spaced)


def _altitude(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    """Left out where the file and no barometer names a place, or where a barometer names that of the file."""
    thin = np.asarray(pressure_at_altitude_Pa(cause.spaced)) / float(pressure_at_altitude_Pa(0.0))
    of_file = unit.conditions.ambient_pressure_Pa
    entered = {entry.ambient_pressure_Pa for entry in unit.entries} - {None}
    for ambient_Pa in entered:
        there = (ambient_Pa or of_file) / of_file
        if abs(there - 1.0) > 1.0 - thin.max():
            words = "the file is for another altitude than that of the barometer"
            yield variant(unit, words, burner_flow=np.sqrt(np.full((1, 1), there)))
    if entered or abs(of_file / float(pressure_at_altitude_Pa(0.0)) - 1.0) > 1.0 - thin.max():
        return
    yield variant(unit, "the expected figure is for sea level", burner_flow=np.sqrt(thin)[:, None])
    if "meter" in unit.methods:
        yield variant(unit, "the reading was not corrected for the barometer", state=1.0 / thin)


def _temperature(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    if any(entry.has_temperature for entry in unit.entries):
        return
    ratio = cause.spaced / unit.conditions.gas_temperature_K
    flow = 1.0 / np.sqrt(ratio)[:, None]
    yield variant(unit, "the gas is colder or warmer than taken", burner_flow=flow, state=ratio)


def _meter_pressure(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    if any(entry.has_pressure for entry in unit.entries):
        return
    ambient = unit.conditions.ambient_pressure_Pa
    taken = max((entry.gauge_pressure_Pa for entry in unit.entries), default=0.0)
    words = "taken as the nominal pressure" if taken else "taken as 0 gauge"
    yield variant(unit, words, state=(ambient + taken) / (ambient + cause.spaced))


def _gross_net(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    ratio = unit.gas.heating_value_J_per_kg("net") / unit.gas.heating_value_J_per_kg("gross")
    yield variant(unit, "a net reading against a gross figure", by_volume=ratio)
    yield variant(unit, "a gross reading against a net figure", by_volume=1.0 / ratio)


def _saturated(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:

    dry = 1.0 - constants_of(PRESETS["US_60F_30inHg_sat"]).water
    yield variant(unit, "a saturated heating value for dry gas", by_volume=dry, by_mass=1.0)
    yield variant(unit, "a dry heating value for saturated gas", by_volume=1.0 / dry, by_mass=1.0)


def _heating_value(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    yield variant(unit, "another heating value", by_volume=cause.spaced)


def _none(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    yield variant(unit, "an unknown fault of the appliance", burner_flow=cause.log_spaced[:, None])
    yield variant(unit, "an unknown slip of the reading", slip=cause.log_spaced)


READINGS: dict[str, Callable[[UnitUnderTest, Cause], Iterator[Variant]]] = {
    "as it should be": _sound_unit,
    "leak": _leak,
    "other appliance": _second_appliance,
    "dial misread": _dial,
    "revolutions miscounted": _count,
    "meter error": _meter_error,
    "altitude forgotten": _altitude,
    "temperature forgotten": _temperature,
    "meter pressure forgotten": _meter_pressure,
    "gross and net mixed": _gross_net,
    "saturated and dry mixed": _saturated,
    "wrong heating value": _heating_value,
    "none of these": _none,
}
"""Cause by name: what it predicts."""


# Gas, regulator and orifices of the other supply in every mixture, and a manifold pressure that is off.

Array = NDArray[np.float64]
MOST_SUBSETS = 120  # of burners with orifices of the other supply that are looked at
MOST_NAMED = 12  # burners of which subsets are made
PIPED_BY_SCALE = (
    0.002  # of a gas of the mains where a cylinder is weighed: a test cylinder is rare (judgement)
)
AS_BOUGHT = (
    0.95,
    1.0,
    1.05,
)  # area of an orifice of the other supply over the drill nearest to the calculated one
AS_MARKED = (0.98, 1.0, 1.02)  # the same of one that the file itself names: what its drill leaves (judgement)
ALIKE_AREA = 1e-3  # below it two orifices are one
BELOW_DEW = 0.95  # of the dew pressure: gas that arrives as vapour
Prediction = Callable[[UnitUnderTest, Cause], Iterator[Variant]]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fitted:
    """What the parts of another supply do here."""

    supply: SubstituteSupply
    flow: Mapping[tuple[bool, bool], float]  # (gas, regulator) of it: heat input through the same hole [-]
    area: Array  # [burner] of its orifice over that of the file
    drills: tuple[str, ...]
    by_volume: float  # heating value of the file's gas over that of this one
    by_mass: float
    made: tuple[float, ...]  # areas of its orifices as they may be, over ``area``
    is_own_gas: (
        bool  # the gas of the unit at another pressure: its regulator and orifices are others, it is not
    )

    @property
    def gas(self) -> str:
        """What its orifices are for: the gas, of the unit's own that at its pressure."""
        return self.supply.words if self.is_own_gas else self.supply.gas.gas.words

    def differs_in(self, members: tuple[int, ...]) -> bool:
        """Whether its orifice is another than the present one in any of these; the gases of a couple have the same."""
        return bool(np.any(np.abs(self.area[list(members)] - 1.0) > ALIKE_AREA))


def _fitted(unit: UnitUnderTest) -> tuple[_Fitted, ...]:
    if "fitted" not in unit.cache:
        unit.cache["fitted"] = tuple(_fit(unit, supply) for supply in unit.substitutes)
    fits: tuple[_Fitted, ...] = unit.cache["fitted"]
    return fits


def _fit(unit: UnitUnderTest, substitute: SubstituteSupply) -> _Fitted:
    nominal, iso = unit.conditions.gauge_pressure_Pa, PRESETS["ISO_15_15"]
    own_case, substitute_case = ("", nominal), (substitute.words, substitute.gauge_pressure_Pa)
    base = float(flux_W(unit, *own_case)[0])
    flow = {
        (gas, regulator): float(
            flux_W(
                unit,
                (substitute_case if gas else own_case)[0],
                (substitute_case if regulator else own_case)[1],
            )[0]
        )
        / base
        for gas in (False, True)
        for regulator in (False, True)
    }
    # the area that gives the rating with that gas at that pressure, and the drill nearest to it
    scale = unit.rated_gross_W / unit.nominal_W / flow[True, True]
    exact = [
        burner.orifice.diameter_m * float(a) ** 0.5 for burner, a in zip(unit.burners, scale, strict=True)
    ]
    by_number = (
        unit.appliance.region == "us" and unit.appliance.tables.stock is None
    )  # as card and kit name them there
    in_file = orifices_in_file(unit.appliance, substitute)
    holes = [
        _hole(in_file[burner.name], unit.drills)
        if burner.name in in_file
        else nearest_drill(d, drill_list("number") if by_number else unit.drills)
        for burner, d in zip(unit.burners, exact, strict=True)
    ]
    area = [
        (hole.diameter_m / burner.orifice.diameter_m) ** 2
        for hole, burner in zip(holes, unit.burners, strict=True)
    ]
    by_mass = unit.gas.heating_value_J_per_kg("gross") / substitute.gas.heating_value_J_per_kg("gross")
    density = unit.gas.standard_density_kg_per_m3(iso) / substitute.gas.standard_density_kg_per_m3(iso)
    return _Fitted(
        supply=substitute,
        flow=flow,
        area=np.array(area),
        drills=tuple(hole.mark for hole in holes),
        by_volume=by_mass * density,
        by_mass=by_mass,
        made=AS_MARKED if all(one.name in in_file for one in unit.burners) else AS_BOUGHT,
        is_own_gas=substitute.gas.gas.name == unit.gas.gas.name,
    )


def _hole(orifice: Orifice, drills: Sequence[Drill]) -> Drill:
    """An orifice of the file as the drill it is marked with, its part number where the stock has it."""
    known = nearest_drill(orifice.diameter_m, drills)
    if math.isclose(known.diameter_m, orifice.diameter_m, rel_tol=1e-4):
        return known
    return Drill(name=_marked(orifice), kind="own", diameter_m=orifice.diameter_m)


def _marked(orifice: Orifice) -> str:
    """What is marked on an orifice of the file, else its bore."""
    return hole_name(orifice.drill, orifice.diameter_m)


def _some(count: int) -> list[tuple[int, ...]]:
    """Two or more burners, not all."""
    sets = [members for k in range(2, count) for members in combinations(range(min(count, MOST_NAMED)), k)]
    return sets[:: max(1, len(sets) // MOST_SUBSETS)]


def _parts(
    unit: UnitUnderTest, fitted: _Fitted, gas: bool, regulator: bool, sets: Sequence[tuple[int, ...]]
) -> Variant:
    """Possibilities with gas and regulator of the other supply or not, and its orifices in some burners."""
    bought = fitted.made if any(sets) else (1.0,)
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
            if gas and fitted.is_own_gas:
                continue
            for members in kinds[sets]:
                if differing := [one for one in members if not one or fitted.differs_in(one)]:
                    yield _parts(unit, fitted, gas, regulator, differing)

    return predicted


def _no_regulator(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    limit = bench_limit("unregulated LP" if unit.is_LP else "unregulated natural")
    low = max(limit.low, 1.5 * unit.conditions.gauge_pressure_Pa)
    high = max(min(limit.high, _highest_vapour_Pa(unit)), low)
    pressure = np.geomspace(low, high, STEPS)
    yield _at_pressure(unit, f"{pressure_words(low)} to {pressure_words(high)} at the manifold", pressure)


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


def loss_of(unit: UnitUnderTest, pressure_share: Array) -> Array:
    """What leaves this part of the manifold pressure with the burners under test on: p (1 + loss load^2) = 1 [-]."""
    loss: Array = (1.0 / pressure_share - 1.0) / unit.highest_load**2
    return loss


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


# What is off at a burner: its drill, its place, its hole, its valve.

LOW_STOP = "low-rate stop"


def _drills(unit: UnitUnderTest, burner: Burner) -> tuple[Drill, ...]:
    """The list in which a drill may be off by one: the maker's own stock in the thread of the burner, in Europe the
    drills of the limits or every 0.05 mm, elsewhere number drills, or those of the limits beyond these."""
    if unit.appliance.tables.stock is not None:
        threads = (burner.orifice.thread,) if burner.orifice.thread else ()
        by_bore = {drill.diameter_m: drill for drill in unit.drills if drill.fits(threads)}
        return tuple(by_bore.values())
    by_number = unit.appliance.region != "eu" or burner.orifice.drill.startswith("#")
    if not by_number and unit.appliance.limits.drills:
        return unit.drills
    drills = drill_list("number" if by_number else "metric")
    inside = drills[0].diameter_m < burner.orifice.diameter_m < drills[-1].diameter_m
    return drills if inside else unit.drills


def _sizes_off(unit: UnitUnderTest, first: int, last: int) -> Iterator[Variant]:
    """A burner with a drill so many sizes smaller or larger; the further off the less likely, as 1 over sizes."""
    for i, burner in enumerate(unit.burners):
        bore, own = burner.orifice.diameter_m, _marked(burner.orifice)
        drills = _drills(unit, burner)
        smaller = [one for one in drills if one.diameter_m < bore * (1.0 - 1e-6)][::-1]
        larger = [one for one in drills if one.diameter_m > bore * (1.0 + 1e-6)]
        for off in range(first, last + 1):
            for side in (smaller, larger):
                if len(side) >= off:
                    drill = side[off - 1]
                    words = f"{drill.mark} for {own} in {burner.name}"
                    yield _bored(unit, words, 1.0 / off, {i: (drill.diameter_m / bore) ** 2})


def _bored(unit: UnitUnderTest, words: str, weight: float, areas: dict[int, float]) -> Variant:
    area = np.ones((1, len(unit.burners)))
    for number, value in areas.items():
        area[0, number] = value
    return variant(
        unit,
        words,
        weight,
        burner_flow=area,
        low_flow=low_rates(unit, area),
        hole_area=area,
        mark_area=area,
    )


def _neighbouring_drill(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    yield from _sizes_off(unit, 1, 1)


def _several_drills(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    yield from _sizes_off(unit, int(cause.low), int(cause.high))


def _interchanged(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    """Two burners of the appliance with each other's orifice; one of them at least is under test."""
    bores = {burner.name: burner.orifice.diameter_m for burner in unit.appliance.burners}
    under = {burner.name: i for i, burner in enumerate(unit.burners)}
    for burner, two in combinations(bores, 2):
        ratio = (bores[two] / bores[burner]) ** 2
        shares = {burner: ratio, two: 1.0 / ratio}
        areas = {under[name]: value for name, value in shares.items() if name in under}
        if areas and ratio != 1.0:
            hotter, share = max(shares.items(), key=itemgetter(1))
            words = f"orifices of {burner} and {two} interchanged"
            if share > bench_limit("overfire").high:
                words += f"; {hotter} then burns about {100.0 * (share - 1.0):.0f} % above its rate: do not light it"
            made = _bored(unit, words, 1.0, areas)
            beside = np.array([1.0 if hotter in under else share])
            yield replace(made, scenarios=replace(made.scenarios, neighbour_flow=beside))


def _part_blockage(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    flow_share, n = cause.spaced, len(unit.burners)
    for i, burner in enumerate(unit.burners):
        free = for_burner(unit, i, flow_share)
        words = f"the hole of {burner.name} is partly closed"
        low = low_rates(unit, free)
        yield variant(unit, words, 1.0 / n, burner_flow=free, low_flow=low, hole_area=free)
    loss = loss_of(unit, flow_share**2)
    line = variant(unit, "hose, pipe or line valve is partly closed", loss=loss, inlet_loss=loss)
    yield Variant(words=line.words, weight=1.0, scenarios=line.scenarios, group="regulator")


def _not_fully_open(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    flow_share, n = cause.spaced, len(unit.burners)
    for i, burner in enumerate(unit.burners):
        flow = for_burner(unit, i, flow_share)
        words = f"the valve of {burner.name} is not fully open"
        yield variant(unit, words, 1.0 / n, burner_flow=flow, low_flow=1.0, opening=flow_share)


def _low_stop(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    """The bypass of a valve: its low rate is off and its full rate is not; at most it passes the full rate."""
    for i, burner in enumerate(unit.burners):
        if burner.turndown is None:
            continue
        share = np.geomspace(cause.low, max(min(cause.high, 1.0 / burner.turndown), cause.low), 2 * STEPS)
        words = f"the low-rate stop of {burner.name} is out of adjustment"
        low = for_burner(unit, i, share)
        yield variant(unit, words, 1.0, burner_flow=np.ones_like(low), low_flow=low)


BURNERS: dict[str, Callable[[UnitUnderTest, Cause], Iterator[Variant]]] = {
    "neighbouring drill": _neighbouring_drill,
    "drill off by two or more": _several_drills,
    "orifices interchanged": _interchanged,
    "part blockage": _part_blockage,
    "burner not fully open": _not_fully_open,
    LOW_STOP: _low_stop,
}
"""Cause by name: what it predicts."""


# Why a reading is off: every cause of the table ``causes`` as the possibilities it predicts for an
# appliance.

PREDICTIONS: Mapping[str, Callable[[UnitUnderTest, Cause], Iterator[Variant]]] = SUPPLY | BURNERS | READINGS
"""Cause by name: what it predicts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseGroup:
    """Causes that ask for one action."""

    name: str
    title: str
    action: str


def groups() -> dict[str, CauseGroup]:
    """Rows of the table ``cause_groups`` by name.

    >>> list(groups())[:3]
    ['gas', 'regulator', 'orifices']
    """
    return {
        row["group"]: CauseGroup(name=row["group"], title=row["title"], action=row["action"])
        for row in tables.rows("cause_groups")
    }


def causes(own: Path | None = None) -> tuple[Cause, ...]:
    """Every cause of the table, priors scaled to add up to one.

    own : a CSV of the same columns; group and danger may be left out and are then those of the shipped table

    >>> round(sum(cause.prior for cause in causes()), 12)
    1.0
    """
    rows = tables.read("causes", own)
    if not rows:
        raise UserError(Problem("the table of causes has no rows", file=own.name if own else ""))
    unknown = [row for row in rows if row["cause"] not in PREDICTIONS]
    if unknown:
        what, known = "no prediction for this cause", list(PREDICTIONS)
        raise UserError(
            [
                row.problem("cause", what, accepted=", ".join(known), fix=tables.meant(row["cause"], known))
                for row in unknown
            ]
        )
    total = sum(float(row["prior"]) for row in rows)
    return tuple(
        Cause(
            name=row["cause"],
            title=row["title"],
            prior=float(row["prior"]) / total,
            low=float(row["low"] or "nan"),
            high=float(row["high"] or "nan"),
            method=row["method"],
            needs=row["needs"],
            group=row["group"],
            danger=row["danger"] == "yes",
            source=f"{cite(row['source'])} ({row['provenance']})",
        )
        for row in rows
    )


def possibilities(unit: UnitUnderTest, cause: Cause) -> tuple[Variant, ...]:
    """The ways in which a cause may show itself here; none when it does not apply."""
    if cause.method != "any" and cause.method not in unit.methods:
        return ()
    least = {"several": 2, "three": 3}.get(cause.needs, 1)
    if len(unit.burners) < least or (cause.needs == "low" and not any(firing.low for firing in unit.firings)):
        return ()
    return tuple(PREDICTIONS[cause.name](unit, cause))
