"""What is off at a burner: its drill, its place, its hole, its valve."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import combinations

import numpy as np

from burnerlab.appliance.model import Burner
from burnerlab.bench.faults.cause import Cause, Variant, for_one, low_rates, variant
from burnerlab.bench.supply_causes import loss_of
from burnerlab.bench.unit import UnitUnderTest
from burnerlab.orifice.drill import Drill, drill_list


def _drills(unit: UnitUnderTest, burner: Burner) -> tuple[Drill, ...]:
    """The list in which a drill may be off by one: number drills, or those of the drawer beyond their range."""
    drills = drill_list("number")
    inside = drills[0].diameter_m < burner.orifice.diameter_m < drills[-1].diameter_m
    return drills if inside else unit.drills


def _sizes_off(unit: UnitUnderTest, first: int, last: int) -> Iterator[Variant]:
    """A burner with a drill so many sizes smaller or larger; the further off the less likely, as 1 over sizes."""
    for i, burner in enumerate(unit.burners):
        bore, own = (
            burner.orifice.diameter_m,
            burner.orifice.drill or f"{1e3 * burner.orifice.diameter_m:.3f} mm",
        )
        drills = _drills(unit, burner)
        smaller = [one for one in drills if one.diameter_m < bore * (1.0 - 1e-6)][::-1]
        larger = [one for one in drills if one.diameter_m > bore * (1.0 + 1e-6)]
        for off in range(first, last + 1):
            for side in (smaller, larger):
                if len(side) >= off:
                    drill = side[off - 1]
                    words = f"{drill.name} for {own} in {burner.name}"
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
    bores = {one.name: one.orifice.diameter_m for one in unit.appliance.burners}
    under = {one.name: i for i, one in enumerate(unit.burners)}
    for one, two in combinations(bores, 2):
        ratio = (bores[two] / bores[one]) ** 2
        areas = {under[name]: value for name, value in ((one, ratio), (two, 1.0 / ratio)) if name in under}
        if areas and ratio != 1.0:
            yield _bored(unit, f"orifices of {one} and {two} interchanged", 1.0, areas)


def _part_blockage(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    left, n = cause.spaced, len(unit.burners)
    for i, burner in enumerate(unit.burners):
        free = for_one(unit, i, left)
        words = f"the hole of {burner.name} is partly closed"
        low = low_rates(unit, free)
        yield variant(unit, words, 1.0 / n, burner_flow=free, low_flow=low, hole_area=free)
    loss = loss_of(unit, left**2)
    line = variant(unit, "hose, pipe or line valve is partly closed", loss=loss, inlet_loss=loss)
    yield Variant(words=line.words, weight=1.0, scenarios=line.scenarios, group="regulator")


def _not_fully_open(unit: UnitUnderTest, cause: Cause) -> Iterator[Variant]:
    left, n = cause.spaced, len(unit.burners)
    for i, burner in enumerate(unit.burners):
        flow = for_one(unit, i, left)
        words = f"the valve of {burner.name} is not fully open"
        yield variant(unit, words, 1.0 / n, burner_flow=flow, low_flow=1.0, opening=left)


BURNERS: dict[str, Callable[[UnitUnderTest, Cause], Iterator[Variant]]] = {
    "neighbouring drill": _neighbouring_drill,
    "drill off by two or more": _several_drills,
    "orifices interchanged": _interchanged,
    "part blockage": _part_blockage,
    "burner not fully open": _not_fully_open,
}
"""Cause by name: what it predicts."""
