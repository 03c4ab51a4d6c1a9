"""Run the burners of an appliance together: pressure at every orifice, input of every burner."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.conversion.burner_conversion import law_of
from burnerlab.appliance.conversion.evaluation_result import PressureAt, Pressures, Which
from burnerlab.appliance.conversion.gas_facts import GasStates
from burnerlab.appliance.conversion.result import Finding, NotEvaluated
from burnerlab.appliance.conversion.target import NewTrain
from burnerlab.appliance.memory import REMEMBERED, InputKey, appliance_key, of_network
from burnerlab.appliance.operation.network import Plant, Solution, Tap, joined, solve, stream
from burnerlab.appliance.operation.result import Operation
from burnerlab.appliance.operation.solution import report
from burnerlab.appliance.project.model import Appliance, Burner
from burnerlab.burner.coefficients import Array
from burnerlab.gas import DeclaredGas, Gas
from burnerlab.gas.dew_point import require_vapour
from burnerlab.gas.real_gas import viscosity
from burnerlab.orifice.flow import Conditions, flow
from burnerlab.quantity.show import number
from burnerlab.supply.regulator import Regulator
from burnerlab.tables.figure import weakest
from burnerlab.tables.problem import Problem, UserError, did_you_mean

# Run the burners of an appliance together: the pressure at every orifice, and the input of every burner.

ALL_ON = "all on"
MOST_ROUNDS = 6  # of a discharge coefficient that depends on the flow
COEFFICIENT_SETTLED = 1e-7


def operate(
    appliance: Appliance, gas: Gas | DeclaredGas | None = None, *, on: Sequence[str] | None = None
) -> Operation:
    """The appliance with some of its burners on: pressure at every orifice and input of every burner.

    appliance : from ``read_appliance`` or ``changed``; gas : in place of its own
    on : names of the burners that burn, None for all
    Returns an Operation, which also holds the worst of: all on, and all of each kind on.
    Raises UserError for a burner it has not, a gas partly liquid, or a pipe beyond the range of its model.

    >>> from burnerlab.appliance import demonstration
    >>> cart = operate(demonstration(), on=["stock-pot ring"])
    >>> [burner.name for burner in cart.burners if burner.on]
    ['stock-pot ring']
    """
    if gas is not None:
        appliance = replace(appliance, supply=replace(appliance.supply, gas=gas))
    names = burners_on(appliance, on)
    cases = cases_of(appliance, names)
    plant, solution = _network(appliance, tuple(tuple(flags) for _, flags in cases))
    return report(plant, names, tuple(name for name, _ in cases), solution)


def _network(appliance: Appliance, on: tuple[tuple[bool, ...], ...]) -> tuple[Plant, Solution]:
    """The network of an appliance solved for sets of burners; remembered by what moves its pressures."""
    bare = _without_rates(of_network(appliance))
    plant, solution = REMEMBERED.recall(_network_key(bare, on), lambda: settled(prepare(bare), np.array(on)))
    return replace(plant, appliance=appliance), solution


def _without_rates(bare: Appliance) -> Appliance:
    return replace(bare, burners=tuple(replace(burner, rate_W=0.0) for burner in bare.burners))


def _network_key(bare: Appliance, on: tuple[tuple[bool, ...], ...]) -> InputKey:
    return InputKey(settled, appliance_key(bare), bare.burners, on)


def solve_supplies(appliances: Sequence[Appliance]) -> None:
    """Solve the networks of appliances with a supply that are not remembered in one call, for ``operate`` to find.

    One that cannot be solved is left for ``operate`` to refuse.
    """
    missing: dict[InputKey, tuple[Plant, NDArray[np.bool_]]] = {}
    for appliance in appliances:
        if appliance.supply.train is None:
            continue
        bare, names = _without_rates(of_network(appliance)), burners_on(appliance, None)
        on = tuple(tuple(flags) for _, flags in cases_of(appliance, names))
        key = _network_key(bare, on)
        if key not in REMEMBERED:
            with suppress(UserError):
                missing[key] = prepare(bare), np.array(on)
    keys = list(missing)
    REMEMBERED.recall_each(keys, lambda places: settled_each([missing[keys[place]] for place in places]))


def cases_of(appliance: Appliance, names: Sequence[str]) -> list[tuple[str, list[bool]]]:
    """Combinations solved together: the burners in operation first, then all of them, and each kind, all of it on."""
    burners = appliance.burners
    every = [True] * len(burners)
    cases = [(ALL_ON, every)]
    if len(names) < len(burners):
        cases.insert(0, (", ".join(names), [burner.name in names for burner in burners]))
    for burner in burners:
        case = f"{burner.name}, all {burner.count} on" if burner.count > 1 else f"{burner.name} alone"
        cases.append((case, [other is burner for other in burners]))
    return cases


def burners_on(appliance: Appliance, on: Sequence[str] | None) -> tuple[str, ...]:
    """The names of the burners that burn, in the order of the file. Raises UserError for a name it has not.

    >>> from burnerlab.appliance import demonstration
    >>> burners_on(demonstration(), ["Rear burner"])
    ('rear burner',)
    """
    known = [burner.name for burner in appliance.burners]
    if on is None:
        return tuple(known)
    spelled = {name.casefold(): name for name in known}
    strange = [name for name in on if name.strip().casefold() not in spelled]
    if strange or not on:
        what = "is not a burner of this appliance" if strange else "names no burner"
        fix = did_you_mean(strange[0], known) if strange else f"write {known[0]}"
        value = strange[0] if strange else ""
        raise UserError(Problem(what, value, "on", accepted=", ".join(known), fix=fix))
    names = {spelled[name.strip().casefold()] for name in on}
    return tuple(name for name in known if name in names)


def prepare(appliance: Appliance) -> Plant:
    """The appliance with its regulator scaled to its pressure and gas, and its taps with nominal coefficients."""
    supply = appliance.supply
    gas = GasStates(supply.gas)
    regulator, notes = _scaled(appliance, gas)
    inlet = None if supply.train is None else supply.train.inlet_gauge_pressure_Pa
    tops = [supply.gauge_pressure_Pa]
    if regulator is not None:
        tops.append(regulator.lock_up_pressure_Pa + max(float(regulator.inlet_shift_Pa(inlet)), 0.0))
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


def _coefficient(appliance: Appliance, gas: GasStates, burner: Burner, gauge_pressure_Pa: float) -> float:
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


def _scaled(appliance: Appliance, gas: GasStates) -> tuple[Regulator | None, tuple[str, ...]]:
    """The regulator at this nominal pressure and with this gas.

    Another nominal pressure is taken as another spring: set point, droop and lock-up in proportion. Another gas flows
    through the same seat: mass flows in proportion to the square root of its density.
    """
    supply, train = appliance.supply, appliance.supply.train
    if train is None or train.regulator is None:
        return None, ()
    fitting = train.regulator
    at = supply.gauge_pressure_Pa / train.nominal_gauge_pressure_Pa
    density = float(
        gas.density_kg_per_m3(supply.gas_temperature_K, supply.gauge_pressure_Pa + supply.ambient_pressure_Pa)
    )
    flow = math.sqrt(density / train.gas_density_kg_per_m3)
    inlet, notes = train.inlet_gauge_pressure_Pa, []
    is_as_stated = abs(at - 1.0) <= 1e-9
    if not is_as_stated:
        notes.append(
            f"the regulator is taken with a spring for {number(supply.gauge_pressure_Pa / 1e2)} mbar: set point, droop "
            f"and lock-up in proportion; a regulator made for {supply.gas.words} at this pressure has to be fitted"
        )
    if abs(flow - 1.0) > 0.02:
        notes.append(
            f"the regulator passes {flow:.2f} times the mass of the file's gas, by the root of the density"
        )
    regulator = Regulator(
        set_point_Pa=fitting.set_point_Pa * at,
        droop_Pa=fitting.droop_Pa * at,
        lock_up_Pa=fitting.lock_up_Pa * at,
        rated_flow_kg_per_s=math.inf
        if fitting.rated_flow_kg_per_s is None
        else fitting.rated_flow_kg_per_s * flow,
        flow_limit_kg_per_s=math.inf
        if fitting.flow_limit_kg_per_s is None
        else fitting.flow_limit_kg_per_s * flow,
        minimum_inlet_Pa=(fitting.minimum_inlet_Pa or 0.0) + fitting.set_point_Pa * (at - 1.0),
        name=fitting.type,
        lock_up_zone=fitting.lock_up_zone,
        inlet_effect=fitting.inlet_effect,
        stated_inlet_Pa=inlet
        if fitting.stated_inlet_Pa is None or not is_as_stated
        else fitting.stated_inlet_Pa,
    )
    return regulator, tuple(notes)


def settled(plant: Plant, on: NDArray[np.bool_]) -> tuple[Plant, Solution]:
    """The solution with discharge coefficients that belong to it: a coefficient that depends on the flow is renewed."""
    return settled_each([(plant, on)])[0]


def settled_each(plants: Sequence[tuple[Plant, NDArray[np.bool_]]]) -> list[tuple[Plant, Solution]]:
    """The same of several plants, as one by one."""
    results: dict[int, tuple[Plant, Solution]] = {}
    left = dict(enumerate(plants))
    for _ in range(MOST_ROUNDS):
        for place, solution in zip(left, _solved(list(left.values())), strict=True):
            results[place] = left[place][0], solution
        renewed = {place: _renewed(*results[place]) for place in left}
        results |= {place: (plant, results[place][1]) for place, (plant, _) in renewed.items()}
        left = {
            place: (plant, left[place][1]) for place, (plant, is_still) in renewed.items() if not is_still
        }
        if not left:
            break
    return [results[place] for place in range(len(plants))]


def _renewed(plant: Plant, solution: Solution) -> tuple[Plant, bool]:
    """The plant with the coefficients of its flows, and whether they have settled."""
    laws = [law_of(burner.orifice, plant.appliance.tables) for burner in plant.appliance.burners]
    if all(isinstance(law, int | float) for law in laws):
        return plant, True
    gauge = solution.orifice_pressure_Pa[0] - plant.ambient_Pa
    new = tuple(
        _coefficient(plant.appliance, plant.gas, burner, p) if p > 1.0 else k
        for burner, p, k in zip(plant.appliance.burners, gauge.tolist(), plant.coefficients, strict=True)
    )
    change = max(abs(a / b - 1.0) for a, b in zip(new, plant.coefficients, strict=True))
    is_still = change < COEFFICIENT_SETTLED
    return replace(plant, coefficients=new, taps=_taps(plant.appliance, new)), is_still


def _solved(plants: Sequence[tuple[Plant, NDArray[np.bool_]]]) -> list[Solution]:
    """The solution of each plant; those whose taps have the same pattern in one call."""
    alike: dict[tuple[tuple[bool, bool], ...], list[int]] = {}
    for place, (plant, _) in enumerate(plants):
        alike.setdefault(tuple(tap.pattern for tap in plant.taps), []).append(place)
    results: dict[int, Solution] = {}
    for places in alike.values():
        some = [plants[place] for place in places]
        ends = np.cumsum([0, *(on.shape[0] for _, on in some)]).tolist()
        rows = [slice(first, last) for first, last in pairwise(ends)]
        network = joined(
            [plant.stream for plant, _ in some],
            [plant.taps for plant, _ in some],
            [len(on) for _, on in some],
        )

        def deliver(flow: Array, some: Any = some, rows: Any = rows) -> Array:
            each = [plant.trunk_Pa(flow[part])[-1] for (plant, _), part in zip(some, rows, strict=True)]
            return np.concatenate(each)

        on = np.concatenate([on for _, on in some])
        solution = solve(network.stream, network.taps, on, deliver, deliver(np.zeros(len(on))))
        results |= {place: solution.part(part) for place, part in zip(places, rows, strict=True)}
    return [results[place] for place in range(len(plants))]


# What reaches the orifices of an appliance for many sets of burners at once: figures alone, no report.


@dataclass(frozen=True, slots=True, kw_only=True)
class Reached:
    """Pressures and heat inputs, one set of burners a row; pressures are gauge."""

    manifold_Pa: Array  # [set]
    orifice_Pa: Array  # [set, kind of burner]
    gross_W: Array  # [set, kind of burner] of one burner of the kind; 0 where it is off
    starved: NDArray[np.bool_]  # [set] the supply gives these burners no pressure


def reached(appliance: Appliance, on: Sequence[Sequence[bool]]) -> Reached:
    """Solve the supply of an appliance, manifold and valves for sets of burners.

    on : [set, kind of burner], whether the burners of a kind are on; the model is that of ``operate``
    Raises UserError for a gas partly liquid.

    >>> from burnerlab.appliance import demonstration
    >>> found = reached(demonstration(), [[True] * 6])
    >>> round(float(found.manifold_Pa[0]))
    1698
    """
    plant, solution = settled(prepare(appliance), np.array(on, dtype=bool))
    return Reached(
        manifold_Pa=solution.manifold_pressure_Pa - plant.ambient_Pa,
        orifice_Pa=solution.orifice_pressure_Pa - plant.ambient_Pa,
        gross_W=solution.flow_kg_per_s * plant.gas.heating_value_J_per_kg("gross"),
        starved=solution.starved,
    )


def solved_inputs_gross_W(appliance: Appliance) -> list[tuple[float, float]] | None:
    """Gross heat input of one burner of each kind, with every burner on and with its kind alone [W].

    None where its supply is not solved with every burner on. The network is the one that an evaluation of the
    appliance remembers.

    >>> from burnerlab.appliance import demonstration
    >>> [(round(together), round(alone)) for together, alone in solved_inputs_gross_W(demonstration())[:2]]
    [(3604, 3668), (4214, 4287)]
    """
    cases = cases_of(appliance, burners_on(appliance, None))
    try:
        plant, solution = _network(appliance, tuple(tuple(flags) for _, flags in cases))
    except UserError:  # partly liquid, or beyond the range of a model: the evaluation says which
        return None
    if solution.starved[0]:
        return None
    heat_J_per_kg = plant.gas.heating_value_J_per_kg("gross")
    flows = solution.flow_kg_per_s * heat_J_per_kg
    return [
        (float(flows[0][place]), float(flows[place + 1][place])) for place in range(len(appliance.burners))
    ]


def at_manifold_pressure(appliance: Appliance, manifold_gauge_Pa: float) -> Appliance:
    """The appliance with this pressure at the inlet of its manifold, whatever stands before it."""
    supply, train = appliance.supply, appliance.supply.train
    if train is not None:
        train = replace(train, regulator=None, runs=(), inlet_gauge_pressure_Pa=None)
    return replace(appliance, supply=replace(supply, gauge_pressure_Pa=manifold_gauge_Pa, train=train))


def single_burners(appliance: Appliance) -> Appliance:
    """The appliance with a single burner of every kind."""
    return replace(appliance, burners=tuple(replace(one, count=1) for one in appliance.burners))


# The supply before and after a change of gas: what pressure really reaches each burner.

TOPIC = "supply pressure drop"
IN_OPERATION = "heat input in operation"


@dataclass(frozen=True, slots=True, kw_only=True)
class SolvedSupply:
    """Pressures on both gases, with what they find and what stays open."""

    pressures: tuple[Pressures, ...] = ()
    findings: tuple[Finding, ...] = ()
    open: tuple[NotEvaluated, ...] = ()


def supplied_pressures(before: Appliance, after: Appliance, train: NewTrain) -> SolvedSupply:
    """The supply of the present appliance and of the changed one, all burners on and all of each kind on.

    after : with the train that was chosen for the new gas. Nothing of a gas before whose burners nothing stands.
    """
    pressures: list[Pressures] = []
    findings: list[Finding] = []
    topic = "inlet pressure of the new supply" if train.train is not None else f"{TOPIC}, new gas"
    left = [NotEvaluated(topic=topic, why=train.open)] if train.open else []
    cases: tuple[tuple[Which, Appliance], ...] = (("present", before), ("new", after))
    solve_supplies([before, after])
    for which, appliance in cases:
        if appliance.supply.train is None:
            continue
        try:
            bare = of_network(appliance)
            found = REMEMBERED.recall(
                InputKey(operate, appliance_key(bare), bare.burners), partial(operate, bare)
            )
        except UserError as error:
            words = "; ".join(problem.text() for problem in error.problems)
            left.append(NotEvaluated(topic=f"{TOPIC}, {which} gas", why=words))
            continue
        notes = (f"supply of the new gas: {train.words}", train.open) if which == "new" else ()
        one = _pressures(which, found, (*filter(None, notes), *_ends_note(appliance)))
        if which == "new":
            one = replace(one, evidence=weakest(one.evidence, train.evidence))
        pressures.append(one)
        findings += _findings(which, found)
    return SolvedSupply(pressures=tuple(pressures), findings=tuple(findings), open=tuple(left))


def _ends_note(appliance: Appliance) -> tuple[str, ...]:
    """That the range of a supply is put on the burners themselves, though a regulator holds part of it off them."""
    supply = appliance.supply
    if supply.train is None or supply.train.regulator is None or supply.high_gauge_pressure_Pa is None:
        return ()
    return (
        "the lowest and the highest pressure are taken at the manifold, as if the regulator passed them on: while it"
        " works, the pressure at the burners moves less",
    )


def _pressures(which: Which, operation: Operation, more: tuple[str, ...]) -> Pressures:
    alone = {one.burner: one for one in operation.alone}
    dearest = next((one for one in operation.elements if one.name == operation.binding_element), None)
    return Pressures(
        which_gas=which,
        gas=operation.gas,
        nominal_gauge_pressure_Pa=operation.nominal_gauge_pressure_Pa,
        manifold_gauge_pressure_Pa=operation.manifold_gauge_pressure_Pa,
        burners=tuple(
            PressureAt(
                burner=burner.name,
                gauge_pressure_all_on_Pa=burner.gauge_pressure_Pa,
                gauge_pressure_alone_Pa=alone[burner.name].gauge_pressure_Pa
                if burner.name in alone
                else None,
                heat_input_all_on_gross_W=burner.heat_input_gross_W,
                heat_input_alone_gross_W=alone[burner.name].heat_input_gross_W
                if burner.name in alone
                else None,
                all_on_from_nominal=burner.from_nominal or 0.0,
                alone_from_nominal=alone[burner.name].heat_input_gross_W / burner.nominal_gross_W - 1.0
                if burner.name in alone
                else None,
            )
            for burner in operation.burners
        ),
        binding=operation.binding_element,
        binding_drop_Pa=dearest.drop_Pa if dearest else None,
        notes=(*more, *operation.notes),
        evidence=operation.evidence,
    )


def _findings(which: Which, operation: Operation) -> Iterator[Finding]:
    for finding in operation.findings:
        if not (which == "new" and finding.topic == IN_OPERATION):  # the headline of each burner says it
            yield replace(finding, which_gas=which)
