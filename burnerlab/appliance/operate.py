"""Run the burners of an appliance together: the pressure at every orifice, and the input of every burner."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.flowing import Flowing
from burnerlab.appliance.model import Appliance, Burner
from burnerlab.appliance.network import Array, Solution, Tap, solve, stream
from burnerlab.appliance.operating import report
from burnerlab.appliance.operation import Operation
from burnerlab.appliance.plant import Plant
from burnerlab.appliance.steps import law_of
from burnerlab.gas import DeclaredGas, Gas
from burnerlab.gas.dew_point import require_vapour
from burnerlab.gas.viscosity import viscosity
from burnerlab.orifice.flow import Conditions, flow
from burnerlab.supply.regulator import Regulator
from burnerlab.tables.problem import Problem, UserError, did_you_mean

ALL_ON = "all on"
MOST_ROUNDS = 6  # of a discharge coefficient that depends on the flow
COEFFICIENT_SETTLED = 1e-7


def operate(
    appliance: Appliance, gas: Gas | DeclaredGas | None = None, *, on: Sequence[str] | None = None
) -> Operation:
    """The appliance with some of its burners on: pressure at every orifice and input of every burner.

    appliance : from ``read_appliance`` or ``changed``; gas : in place of its own
    on : names of the burners that burn, None for all
    Returns an Operation, which also holds the worst of: all on, and each burner alone.
    Raises UserError for a burner it has not, a gas partly liquid, or a pipe beyond the range of its model.

    >>> from burnerlab.appliance import demonstration
    >>> cart = operate(demonstration(), on=["stock-pot ring"])
    >>> [burner.name for burner in cart.burners if burner.on]
    ['stock-pot ring']
    """
    if gas is not None:
        appliance = replace(appliance, supply=replace(appliance.supply, gas=gas))
    names = _chosen(appliance, on)
    plant = prepare(appliance)
    cases = cases_of(appliance, names)
    plant, solution = settled(plant, np.array([flags for _, flags in cases]))
    return report(plant, names, tuple(name for name, _ in cases), solution)


def cases_of(appliance: Appliance, names: Sequence[str]) -> list[tuple[str, list[bool]]]:
    """What is solved together: the burners asked for first, then all of them, and each alone."""
    burners = appliance.burners
    every = [True] * len(burners)
    cases = [(ALL_ON, every)]
    if len(names) < len(burners):
        cases.insert(0, (", ".join(names), [burner.name in names for burner in burners]))
    cases += [(f"{burner.name} alone", [other is burner for other in burners]) for burner in burners]
    return cases


def _chosen(appliance: Appliance, on: Sequence[str] | None) -> tuple[str, ...]:
    known = [burner.name for burner in appliance.burners]
    if on is None:
        return tuple(known)
    spelled = {name.casefold(): name for name in known}
    strange = [name for name in on if name.strip().casefold() not in spelled]
    if strange or not on:
        what = "is not a burner of this appliance" if strange else "names no burner"
        fix = did_you_mean(strange[0], known) if strange else f"write {known[0]}"
        given = strange[0] if strange else ""
        raise UserError(Problem(what, given, "on", accepted=", ".join(known), fix=fix))
    wanted = {spelled[name.strip().casefold()] for name in on}
    return tuple(name for name in known if name in wanted)


def prepare(appliance: Appliance) -> Plant:
    """The appliance with its regulator scaled to its pressure and gas, and its taps with nominal coefficients."""
    supply = appliance.supply
    gas = Flowing(supply.gas)
    regulator, notes = _scaled(appliance, gas)
    inlet = None if supply.train is None else supply.train.inlet_gauge_pressure_Pa
    tops = [supply.gauge_pressure_Pa]
    if regulator is not None:
        tops.append(regulator.lock_up_pressure_Pa)
    if inlet is not None and (
        regulator is None or (supply.train and supply.train.regulator and supply.train.regulator.last)
    ):
        tops.append(inlet)
    top = max(tops) + supply.ambient_pressure_Pa
    if isinstance(supply.gas, Gas):
        composition = supply.gas.composition
        require_vapour(composition.names, np.array(composition.fractions), supply.gas_temperature_K, top)
    mu = viscosity(supply.gas, supply.gas_temperature_K).value_Pa_s
    coefficients = tuple(
        _coefficient(appliance, gas, burner, supply.gauge_pressure_Pa) for burner in appliance.burners
    )
    return Plant(
        appliance=appliance,
        gas=gas,
        stream=stream(gas, supply.gas_temperature_K, supply.ambient_pressure_Pa, top, mu),
        taps=_taps(appliance, coefficients),
        coefficients=coefficients,
        regulator=regulator,
        runs=() if supply.train is None else supply.train.runs,
        inlet_gauge_Pa=inlet,
        notes=notes,
    )


def _coefficient(appliance: Appliance, gas: Flowing, burner: Burner, gauge_pressure_Pa: float) -> float:
    supply, law = appliance.supply, law_of(burner.orifice, appliance.tables)
    if isinstance(law, int | float):
        return float(law)
    at = Conditions(
        gauge_pressure_Pa=gauge_pressure_Pa,
        ambient_pressure_Pa=supply.ambient_pressure_Pa,
        gas_temperature_K=supply.gas_temperature_K,
    )
    return flow(gas, burner.orifice.diameter_m, at, law).coefficient


def _taps(appliance: Appliance, coefficients: Sequence[float]) -> tuple[Tap, ...]:
    train = appliance.supply.train
    manifold = None if train is None else train.manifold
    taps = []
    for i, (burner, k) in enumerate(zip(appliance.burners, coefficients, strict=True)):
        valve = burner.valve or (None if train is None else train.valve)
        tap = Tap(
            orifice_area_m2=k * burner.orifice.count * math.pi / 4.0 * burner.orifice.diameter_m**2,
            valve_area_m2=math.inf if valve is None else valve.effective_area_m2,
            count=burner.count,
        )
        if manifold is not None:
            length, bore, rough = manifold.spacings_m[i], manifold.diameter_m, manifold.roughness_m
            tap = replace(tap, length_m=length, diameter_m=bore, roughness_m=rough)
        taps.append(tap)
    return tuple(taps)


def _scaled(appliance: Appliance, gas: Flowing) -> tuple[Regulator | None, tuple[str, ...]]:
    """The regulator at this nominal pressure and with this gas.

    Another nominal pressure is taken as another spring: set point, droop and lock-up in proportion. Another gas flows
    through the same seat: mass flows in proportion to the square root of its density.
    """
    supply, train = appliance.supply, appliance.supply.train
    if train is None or train.regulator is None:
        return None, ()
    given = train.regulator
    at = supply.gauge_pressure_Pa / train.nominal_gauge_pressure_Pa
    density = float(
        gas.density_kg_per_m3(supply.gas_temperature_K, supply.gauge_pressure_Pa + supply.ambient_pressure_Pa)
    )
    flow = math.sqrt(density / train.gas_density_kg_per_m3)
    notes = []
    if abs(at - 1.0) > 1e-9:
        notes.append(
            f"the regulator is taken with a spring for {supply.gauge_pressure_Pa / 1e3:.4g} kPa: set point, droop and "
            f"lock-up in proportion; a regulator made for {supply.gas.name} at this pressure has to be fitted"
        )
    if abs(flow - 1.0) > 0.02:
        notes.append(
            f"the regulator passes {flow:.2f} times the mass of the file's gas, by the root of the density"
        )
    regulator = Regulator(
        set_point_Pa=given.set_point_Pa * at,
        droop_Pa=given.droop_Pa * at,
        lock_up_Pa=given.lock_up_Pa * at,
        rated_flow_kg_per_s=math.inf
        if given.rated_flow_kg_per_s is None
        else given.rated_flow_kg_per_s * flow,
        flow_limit_kg_per_s=math.inf
        if given.flow_limit_kg_per_s is None
        else given.flow_limit_kg_per_s * flow,
        minimum_inlet_Pa=(given.minimum_inlet_Pa or 0.0) + given.set_point_Pa * (at - 1.0),
        name=given.type,
    )
    return regulator, tuple(notes)


def settled(plant: Plant, on: NDArray[np.bool_]) -> tuple[Plant, Solution]:
    """The solution with discharge coefficients that belong to it: a coefficient that depends on the flow is renewed."""
    for _ in range(MOST_ROUNDS):
        solution = _solved(plant, on)
        laws = [law_of(burner.orifice, plant.appliance.tables) for burner in plant.appliance.burners]
        if all(isinstance(law, int | float) for law in laws):
            break
        gauge = solution.orifice_pressure_Pa[0] - plant.ambient_Pa
        new = tuple(
            _coefficient(plant.appliance, plant.gas, burner, p) if p > 1.0 else k
            for burner, p, k in zip(plant.appliance.burners, gauge.tolist(), plant.coefficients, strict=True)
        )
        still = (
            max(abs(a / b - 1.0) for a, b in zip(new, plant.coefficients, strict=True)) < COEFFICIENT_SETTLED
        )
        plant = replace(plant, coefficients=new, taps=_taps(plant.appliance, new))
        if still:
            break
    return plant, solution


def _solved(plant: Plant, on: NDArray[np.bool_]) -> Solution:
    deliver: Callable[[Array], Array] = lambda flow: plant.trunk_Pa(flow)[-1]  # noqa: E731
    still = np.full(on.shape[0], 1e-12)  # a flow too small to lose anything, but not the lock-up at no flow
    return solve(plant.stream, plant.taps, on, deliver, deliver(still))
