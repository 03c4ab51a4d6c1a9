"""Stops of figures that an entry brings with it, by the rules that the pages of the bench hold their readings to."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from typing import TYPE_CHECKING

from burnerlab.appliance.project.basis import rated_basis
from burnerlab.appliance.project.model import Appliance
from burnerlab.bench.decision_rule import decision_rule
from burnerlab.bench.reading.flue import (
    APPLIANCE_KIND,
    FlueReading,
    air_free_by_oxygen,
    analyse_flue,
    kind_named,
    limit_comparisons,
    limit_in_force,
)
from burnerlab.bench.reading.manifold import expected_input, limits_turned_low, manifold_check
from burnerlab.bench.reading.readings import ManifoldRange
from burnerlab.bench.stop import StopNotice, worst_first
from burnerlab.bench.stop_rules import (
    HeatInputs,
    carbon_monoxide_stops,
    heat_input_stops,
    stops_of,
    undiluted_stops,
)
from burnerlab.bench.unit import heat_of, rating_of
from burnerlab.gas import DeclaredGas, Gas
from burnerlab.gas.library import load
from burnerlab.tables.problem import UserError

if TYPE_CHECKING:
    from burnerlab.bench.record.entry import BenchReading, BenchTest, Result

AT_TEST = ("heat_input_gross", "heat_input_net")
HEAT_INPUTS = (*AT_TEST, "corrected_heat_input_gross", "heat_input_gross_at_place")
MOST_CARBON_DIOXIDE = (
    "G30"  # of the gases of a family, so that carbon monoxide is never taken as less than it is
)
AIR_FREE = "air_free_carbon_monoxide"
LOW_RATE = "low_rate_"  # begins what was read with the burner turned low
PRESSURES = ("manifold_pressure", "lock_up_pressure")
AnyGas = Gas | DeclaredGas
Figures = Mapping[tuple[str, str], float]


def figures_of(test: BenchTest) -> Figures:
    """Readings and results of an entry by burner and quantity, SI; a result goes before a reading of its name."""
    parts: tuple[BenchReading | Result, ...] = (*test.readings, *test.results)
    return {(one.burner, one.quantity): one.value for one in parts}


def analyser_stops(test: BenchTest, burned: AnyGas | None = None) -> tuple[StopNotice, ...]:
    """Stops of carbon monoxide as an analyser read it, where the entry of a burner has no figure free of air.

    It is freed of air by the oxygen and by the carbon dioxide read with it, and the higher counts; without either it is
    taken as read, below which no figure free of air lies. The limit is that of the kind of appliance of the entry.
    burned : the gas of the test; None for that of its name in the library
    """
    figures, notices = figures_of(test), list[StopNotice]()
    kind = kind_named(test.input_text(APPLIANCE_KIND))
    for (burner, quantity), value in figures.items():
        is_read = quantity == "carbon_monoxide" and (burner, AIR_FREE) not in figures
        if is_read or quantity == AIR_FREE:
            free = _air_free(value, figures, burner, burned or _gas_named(test.gas)) if is_read else value
            limit = limit_in_force(limit_comparisons(free, kind=kind))
            is_bare = is_read and not {(burner, "oxygen"), (burner, "carbon_dioxide")} & figures.keys()
            if limit is not None:
                notices += undiluted_stops(free, limit) if is_bare else carbon_monoxide_stops(free, limit)
    return worst_first(notices)


def _gas_named(name: str) -> AnyGas:
    """A gas of the library; of any other name that of the highest carbon dioxide in its flue gas."""
    try:
        return load(name)
    except UserError:
        return load(MOST_CARBON_DIOXIDE)


def _air_free(carbon_monoxide: float, figures: Figures, burner: str, burned: AnyGas) -> float:
    """Carbon monoxide free of air, by whichever of oxygen and carbon dioxide gives more [mol/mol]."""
    oxygen, dioxide = (figures.get((burner, name)) for name in ("oxygen", "carbon_dioxide"))
    free = [carbon_monoxide]
    with suppress(UserError):  # a sample of air says nothing of the flame
        free += [] if oxygen is None else [float(air_free_by_oxygen(carbon_monoxide, oxygen))]
    with suppress(UserError):  # of no carbon dioxide, or more than this gas gives
        if dioxide is not None and isinstance(burned, Gas):
            reading = FlueReading(carbon_dioxide=dioxide, carbon_monoxide=carbon_monoxide)
            found = analyse_flue(burned, reading)
            free += [one for one in (found.air_free_CO, found.air_free_CO_by_CO2) if one is not None]
    return max(free)


LimitsOf = Callable[[str | None], ManifoldRange | None]
"""The band of the manifold pressure of a burner, None for all together; None where no plan has one."""


def file_stops(
    test: BenchTest, appliance: Appliance, limits_of: LimitsOf = lambda burner: None
) -> tuple[StopNotice, ...]:
    """Stops of manifold pressures, heat inputs and carbon monoxide of an entry by the project file of its unit.

    limits_of : the bands of the plan that the unit is built by; without it what the regulator of the file should hold

    What the file expects holds on its own gas; on another gas a heat input is held against its rating alone, and a
    pressure against the highest of the supply alone. So is the upper end of a pressure read beside a low-rate input.
    Raises UserError for a heat input of a burner that the file has not: nothing could be held against it.
    """
    is_own_gas = test.gas == appliance.supply.gas.name
    names = {one.name.casefold() for one in appliance.burners}
    notices = list(analyser_stops(test, appliance.supply.gas if is_own_gas else None))
    for (burner, quantity), value in figures_of(test).items():
        if quantity in PRESSURES and value > 0.0:
            known = burner if burner.strip().casefold() in names else None
            limits = limits_of(known)
            limits = limits_turned_low(appliance, limits) if _is_turned_low(test, burner) else limits
            raised = stops_of(manifold=manifold_check(appliance, value, known, limits=limits))
            is_band = is_own_gas and quantity == "manifold_pressure"
            notices += [one for one in raised if is_band or one.id == "pressure"]
        elif quantity in HEAT_INPUTS:
            notices += _heat_input(appliance, burner.strip(), quantity, value, is_own_gas=is_own_gas)
    return worst_first(notices)


def _is_turned_low(test: BenchTest, burner: str) -> bool:
    """Whether a pressure of an entry was read with the burner turned low: beside a heat input of the low rate alone."""
    beside = {quantity for each, quantity in figures_of(test) if each == burner}
    return any(one.startswith(LOW_RATE) for one in beside) and beside.isdisjoint(HEAT_INPUTS)


def _heat_input(
    appliance: Appliance, burner: str, quantity: str, value_W: float, *, is_own_gas: bool
) -> Iterator[StopNotice]:
    """The stop of a heat input above its rating, and on the file's own gas above what the file expects."""
    basis, to_net = rated_basis(appliance).word, heat_of(appliance).net_to_gross
    rated = rating_of(appliance, burner or None, decision_rule())
    gross_W = value_W / (to_net if quantity == "heat_input_net" else 1.0)
    to_basis = to_net if basis == "net" else 1.0
    is_at_test = is_own_gas and quantity in AT_TEST
    expected_W = expected_input(appliance, burner or None).gross_W if is_at_test else None
    yield from heat_input_stops(
        HeatInputs(
            measured_W=gross_W * to_basis,
            expected_W=None if expected_W is None else expected_W * to_basis,
            rated_W=rated.heat_input_W,
            basis=basis,
        )
    )
