"""From a solved network to burners, elements and the worst combinations."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from burnerlab.appliance.conversion.gas_facts import AnyGas
from burnerlab.appliance.conversion.headline import drill_band, rests_on, unit_spread
from burnerlab.appliance.conversion.result import Finding
from burnerlab.appliance.operation import checks
from burnerlab.appliance.operation.network import LEAST_RISE_Pa, Plant, Solution, Tap, jet_kg_per_s
from burnerlab.appliance.operation.result import (
    ALONE,
    KIND_ALONE,
    Alone,
    BurnerOperation,
    ElementDrop,
    Operation,
    RatedInput,
    Worst,
    aims_gross_W,
    rated_burner,
    rated_together,
)
from burnerlab.appliance.project.basis import rated_basis
from burnerlab.appliance.project.model import Burner
from burnerlab.burner.coefficients import Array
from burnerlab.gas import DeclaredGas
from burnerlab.gas.properties import property_values
from burnerlab.orifice import nozzle
from burnerlab.orifice.discharge_coefficient import Discharge, own_coefficient, shape_named
from burnerlab.quantity import PRESETS
from burnerlab.supply import pipe
from burnerlab.supply.pipe import (
    TRANSITION,
    Line,
    PipeFlow,
    constants,
    low_pressure_flows,
    pipe_flow,
    regime_of,
)
from burnerlab.supply.supply_limits import supply_figure
from burnerlab.tables.figure import Evidence, weakest
from burnerlab.tables.problem import Problem, UserError

# A hose or pipe of the supply beside the pipe formulas of the trade; Darcy and Colebrook stay what is used.

BASE = "US_60F_14p696_dry"  # reference state of the volumes these formulas are printed for


def beside_formulas(
    passing: PipeFlow, gas: AnyGas, gauge_pressure_Pa: float, own: Path | None = None
) -> tuple[tuple[str, float], ...]:
    """What each formula lets through at the friction of a run, over the flow that is there; by name [-].

    passing : the run at its flow; its fittings are left out, for the formulas know none
    gauge_pressure_Pa : at its inlet; nothing above the range of the low-pressure formulas, or without flow
    own : file of their constants in place of the table ``friction_formulas``
    """
    pipe = passing.pipe
    if (
        passing.drop_Pa <= 0.0
        or not gauge_pressure_Pa < constants("code low pressure", own)["highest pressure"]
    ):
        return ()
    density, relative_density = _densities(gas)
    along = passing.friction_factor * pipe.length_m / pipe.diameter_m
    friction_Pa = passing.drop_Pa * along / (along + pipe.loss_coefficient)
    line = Line(
        length_m=pipe.length_m,
        diameter_m=pipe.diameter_m,
        relative_density=relative_density,
        viscosity_Pa_s=passing.viscosity_Pa_s,
    )
    there = passing.mass_flow_kg_per_s / density
    flows = low_pressure_flows(line, friction_Pa, gauge_pressure_Pa, own).flows_m3_per_s
    return tuple((name, flow / there) for name, flow in flows.items())


def _densities(gas: AnyGas) -> tuple[float, float]:
    """Density of the gas at the state of the formulas [kg/m3], and relative to air [-]."""
    if isinstance(gas, DeclaredGas):
        declared = gas.properties(PRESETS[BASE])
        return declared.density_kg_per_m3, declared.relative_density
    found = property_values(gas, PRESETS[BASE])
    return found["density_kg_per_m3"], found["relative_density"]


# From a solved network to its result: burners, elements, the worst combinations, findings.

FIRST = 0  # row of a solution: the burners in operation, see ``operate.cases_of``
STARVED = "the supply gives these burners no pressure"


def report(plant: Plant, on: tuple[str, ...], cases: tuple[str, ...], solution: Solution) -> Operation:
    """The operation of a solved network. Raises UserError where the burners in operation get no pressure."""
    if bool(solution.starved[FIRST]):
        fix = "enter a wider hose or pipe, a larger regulator, or fewer burners"
        raise UserError(Problem(STARVED, ", ".join(on), "supply", fix=fix))
    nominal, aims = _at_nominal(plant), list(aims_gross_W(plant.appliance).values())
    burners = tuple(_burner(plant, solution, on, j, (nominal[j], aims[j])) for j in range(len(plant.taps)))
    elements = _elements(plant, solution, burners)
    lowest, highest, skipped = _worst(plant, cases, solution, (nominal, aims))
    notes = (*plant.notes, *_assumed(plant), *skipped)
    alone = _alone(plant, cases, solution)
    return Operation(
        appliance=plant.appliance.name,
        gas=plant.appliance.supply.gas.name,
        on=on,
        nominal_gauge_pressure_Pa=plant.nominal_Pa,
        manifold_gauge_pressure_Pa=float(solution.manifold_pressure_Pa[FIRST]) - plant.ambient_Pa,
        ambient_pressure_Pa=plant.ambient_Pa,
        gas_temperature_K=plant.appliance.supply.gas_temperature_K,
        mass_flow_kg_per_s=float(solution.trunk_flow_kg_per_s[FIRST]),
        heat_input_gross_W=sum(b.heat_input_gross_W * b.count for b in burners),
        heat_input_net_W=sum(b.heat_input_net_W * b.count for b in burners),
        burners=_beside_alone(burners, alone),
        elements=elements,
        binding_element=_binding(elements),
        lowest=lowest,
        highest=highest,
        findings=tuple(_findings(plant, burners, elements, lowest, highest, solution)),
        evidence=_evidence(plant, elements),
        notes=notes,
        gas_words=plant.appliance.supply.gas.words,
        rated=rated_basis(plant.appliance),
        inputs=_inputs(plant, burners, alone),
        alone=alone,
    )


def _heat(plant: Plant, basis: str) -> float:
    return plant.gas.heating_value_J_per_kg(basis)


def _at_nominal(plant: Plant) -> list[float]:
    """Gross heat input of one burner of each kind with the nominal pressure before its orifice [W]."""
    pressure = np.array([plant.nominal_Pa + plant.ambient_Pa])
    return [
        float(jet_kg_per_s(plant.stream, tap.orifice_area_m2, pressure)[0]) * _heat(plant, "gross")
        for tap in plant.taps
    ]


def _burner(
    plant: Plant, solution: Solution, on: tuple[str, ...], j: int, nominal_and_aim_W: tuple[float, float]
) -> BurnerOperation:
    nominal, aim = nominal_and_aim_W
    burner: Burner = plant.appliance.burners[j]
    burns = burner.name in on
    flow = float(solution.flow_kg_per_s[FIRST, j])
    gross, per_rating = (
        flow * _heat(plant, "gross"),
        _heat(plant, "gross") / _heat(plant, plant.appliance.rating),
    )
    rate = burner.rate_W * per_rating
    absolute = float(solution.orifice_pressure_Pa[FIRST, j])
    k = float(plant.stream.exponent_at(np.asarray(absolute)))
    return BurnerOperation(
        name=burner.name,
        index=j,
        count=burner.count,
        on=burns,
        gauge_pressure_Pa=absolute - plant.ambient_Pa,
        tap_gauge_pressure_Pa=float(solution.tap_pressure_Pa[FIRST, j]) - plant.ambient_Pa,
        mass_flow_kg_per_s=flow,
        heat_input_gross_W=gross,
        heat_input_net_W=flow * _heat(plant, "net"),
        rate_gross_W=rate,
        deviation=gross / aim - 1.0 if burns else None,
        nominal_gross_W=nominal,
        from_nominal=gross / nominal - 1.0 if burns else None,
        choked=burns and bool(nozzle.choked(absolute - plant.ambient_Pa, plant.ambient_Pa, k)),
    )


def _beside_alone(
    burners: tuple[BurnerOperation, ...], alone: tuple[Alone, ...]
) -> tuple[BurnerOperation, ...]:
    """Each burner with its deviation when every other one is off, where it is on and that is known."""
    heat_W = {one.burner: one.heat_input_gross_W for one in alone}
    return tuple(
        replace(
            burner,
            deviation_alone=(1.0 + burner.deviation) * heat_W[burner.name] / burner.heat_input_gross_W - 1.0,
        )
        if burner.name in heat_W and burner.deviation is not None and burner.heat_input_gross_W > 0.0
        else burner
        for burner in burners
    )


def _elements(
    plant: Plant, solution: Solution, burners: tuple[BurnerOperation, ...]
) -> tuple[ElementDrop, ...]:
    """The trunk in the order the gas flows, then the manifold and the dearest valve."""
    if plant.train is None:
        return ()
    flow = float(solution.trunk_flow_kg_per_s[FIRST])
    along = [float(p[0]) for p in plant.trunk_Pa(np.array([flow]))]
    found: list[ElementDrop] = []
    if plant.regulator is not None and not plant.regulator_is_last:
        found.append(_regulator(plant, plant.inlet_gauge_Pa, along[0] - plant.ambient_Pa, flow))
    for run, before in zip(plant.runs, along, strict=False):
        density = float(plant.stream.density_kg_per_m3(np.asarray(before)))
        own = plant.appliance.tables
        viscosity_Pa_s = float(plant.stream.viscosity_Pa_s)
        passing = pipe_flow(run.pipe, flow, before, density, viscosity_Pa_s, own.supply_limits)
        gauge = before - plant.ambient_Pa
        beside = beside_formulas(passing, plant.appliance.supply.gas, gauge, own.friction_formulas)
        found.append(
            replace(_run(passing, run.kind, plant.ambient_Pa), flow_by_formula_over_this=dict(beside))
        )
    if plant.regulator is not None and plant.regulator_is_last:
        found.append(_regulator(plant, along[-2] - plant.ambient_Pa, along[-1] - plant.ambient_Pa, flow))
    found += [*_manifold(plant, solution, burners), *_valve(plant, burners)]
    return _with_shares(found)


def _regulator(plant: Plant, inlet_Pa: float | None, outlet_Pa: float, flow: float) -> ElementDrop:
    return ElementDrop(
        name=f"regulator ({plant.regulator.name})"
        if plant.regulator and plant.regulator.name
        else "regulator",
        kind="regulator",
        inlet_gauge_pressure_Pa=inlet_Pa,
        outlet_gauge_pressure_Pa=outlet_Pa,
        drop_Pa=None if inlet_Pa is None else inlet_Pa - outlet_Pa,
        mass_flow_kg_per_s=flow,
        reynolds=None,
        regime="",
        velocity_m_per_s=None,
        drop_fraction=None,
    )


def _run(passing: PipeFlow, kind: str, ambient_Pa: float) -> ElementDrop:
    gauge = passing.inlet_pressure_Pa - ambient_Pa
    return ElementDrop(
        name=kind,
        kind=kind,
        inlet_gauge_pressure_Pa=gauge,
        outlet_gauge_pressure_Pa=gauge - passing.drop_Pa,
        drop_Pa=passing.drop_Pa,
        mass_flow_kg_per_s=passing.mass_flow_kg_per_s,
        reynolds=passing.reynolds,
        regime=passing.regime,
        velocity_m_per_s=passing.velocity_m_per_s,
        drop_fraction=None,
        notes=passing.notes,
    )


def _manifold(plant: Plant, solution: Solution, burners: tuple[BurnerOperation, ...]) -> list[ElementDrop]:
    """From the inlet of the manifold to the last burner that is on."""
    lit = [b for b in burners if b.on]
    last = lit[-1]
    if not any(tap.length_m for tap in plant.taps[: last.index + 1]):
        return []
    inlet = float(solution.manifold_pressure_Pa[FIRST])
    flow = float(solution.trunk_flow_kg_per_s[FIRST])
    tap: Tap = plant.taps[0]
    re = float(pipe.reynolds(flow, tap.diameter_m, plant.stream.viscosity_Pa_s))
    density = float(plant.stream.density_kg_per_m3(np.asarray(inlet)))
    gauge = inlet - plant.ambient_Pa
    own = plant.appliance.tables.supply_limits
    regime, spread = regime_of(re, own), supply_figure("transition spread", own)
    return [
        ElementDrop(
            name="manifold",
            kind="manifold",
            inlet_gauge_pressure_Pa=gauge,
            outlet_gauge_pressure_Pa=last.tap_gauge_pressure_Pa,
            drop_Pa=gauge - last.tap_gauge_pressure_Pa,
            mass_flow_kg_per_s=flow,
            reynolds=re,
            regime=regime,
            velocity_m_per_s=flow / (density * np.pi / 4.0 * float(tap.diameter_m) ** 2),
            drop_fraction=None,
            notes=(f"between laminar and turbulent: friction uncertain by {100 * spread.value:.0f} %",)
            if regime == TRANSITION
            else (),
        )
    ]


def _valve(plant: Plant, burners: tuple[BurnerOperation, ...]) -> list[ElementDrop]:
    """The valve that takes most of the pressure."""
    lit = [b for b in burners if b.on and np.isfinite(plant.taps[b.index].valve_area_m2)]
    if not lit:
        return []
    dearest = max(lit, key=lambda b: b.tap_gauge_pressure_Pa - b.gauge_pressure_Pa)
    return [
        ElementDrop(
            name=f"valve of {dearest.name}",
            kind="valve",
            inlet_gauge_pressure_Pa=dearest.tap_gauge_pressure_Pa,
            outlet_gauge_pressure_Pa=dearest.gauge_pressure_Pa,
            drop_Pa=dearest.tap_gauge_pressure_Pa - dearest.gauge_pressure_Pa,
            mass_flow_kg_per_s=dearest.mass_flow_kg_per_s,
            reynolds=None,
            regime="",
            velocity_m_per_s=None,
            drop_fraction=None,
        )
    ]


def _with_shares(elements: list[ElementDrop]) -> tuple[ElementDrop, ...]:
    counted = [e for e in elements if e.kind != "regulator" and e.drop_Pa is not None]
    total = sum(e.drop_Pa for e in counted if e.drop_Pa is not None)
    return tuple(
        replace(e, drop_fraction=e.drop_Pa / total)
        if e in counted and e.drop_Pa is not None and total > 0.0
        else e
        for e in elements
    )


def _binding(elements: tuple[ElementDrop, ...]) -> str:
    """The element besides the regulator that takes most of the pressure."""
    counted = [e for e in elements if e.drop_fraction is not None]
    return max(counted, key=lambda e: e.drop_fraction or 0.0).name if counted else ""


def _worst(
    plant: Plant,
    cases: tuple[str, ...],
    solution: Solution,
    nominal_and_aims_W: tuple[list[float], list[float]],
) -> tuple[Worst, Worst, tuple[str, ...]]:
    """Burner and combination with the least and the most of its nominal input."""
    names, (nominal, aims) = [burner.name for burner in plant.appliance.burners], nominal_and_aims_W
    beyond = _beyond(plant, solution)
    gross: Array = solution.flow_kg_per_s * _heat(plant, "gross")
    found = [
        Worst(
            case=case,
            burner=names[j],
            gauge_pressure_Pa=float(solution.orifice_pressure_Pa[i, j]) - plant.ambient_Pa,
            heat_input_gross_W=float(gross[i, j]),
            from_nominal=float(gross[i, j]) / nominal[j] - 1.0,
            deviation=float(gross[i, j]) / aims[j] - 1.0,
        )
        for i, case in enumerate(cases)
        if not beyond[i]
        for j in range(len(names))
        if gross[i, j] > 0.0
    ]
    skipped = tuple(
        f"{case}: left out, beyond what the supply can pass"
        for case, out in zip(cases, beyond, strict=True)
        if out
    )
    return min(found, key=lambda w: w.from_nominal), max(found, key=lambda w: w.from_nominal), skipped


def _alone(plant: Plant, cases: tuple[str, ...], solution: Solution) -> tuple[Alone, ...]:
    """Each kind of burner by itself: the last cases, in the order of the file."""
    count = len(plant.taps)
    beyond, first = _beyond(plant, solution), len(cases) - count
    return tuple(
        Alone(
            burner=burner.name,
            gauge_pressure_Pa=float(solution.orifice_pressure_Pa[first + j, j]) - plant.ambient_Pa,
            heat_input_gross_W=float(solution.flow_kg_per_s[first + j, j]) * _heat(plant, "gross"),
        )
        for j, burner in enumerate(plant.appliance.burners)
        if not beyond[first + j]
    )


def _inputs(
    plant: Plant, burners: tuple[BurnerOperation, ...], alone: tuple[Alone, ...]
) -> tuple[RatedInput, ...]:
    """Every burner that is on, all of them together, and all of each kind on."""
    used = dict(zip((burner.name for burner in plant.appliance.burners), _discharges(plant), strict=True))
    known = {burner.name: burner for burner in plant.appliance.burners}
    on = [(known[b.name], b.heat_input_gross_W, used[b.name]) for b in burners if b.on]
    lit, aims = {burner.name for burner, _, _ in on}, aims_gross_W(plant.appliance)
    by_itself = (
        rated_burner(
            plant.appliance,
            known[one.burner],
            ALONE if known[one.burner].count == 1 else KIND_ALONE,
            (one.heat_input_gross_W, aims[one.burner]),
            used[one.burner],
        )
        for one in alone
        if one.burner in lit
    )
    return (*rated_together(plant.appliance, on), *by_itself)


def _beyond(plant: Plant, solution: Solution) -> list[bool]:
    """Cases in which the supply starves or a pipe loses more than its model describes."""
    most = supply_figure("largest drop share", plant.appliance.tables.supply_limits).value
    along = plant.trunk_Pa(solution.trunk_flow_kg_per_s)
    out = solution.starved | (solution.manifold_pressure_Pa - plant.ambient_Pa <= 2 * LEAST_RISE_Pa)
    for _, before, behind in zip(plant.runs, along, along[1:], strict=False):
        out = out | (before - behind > most * before)
    return [bool(one) for one in out]


def _assumed(plant: Plant) -> tuple[str, ...]:
    """Figures that the file leaves to tables, each with the element it belongs to."""
    train = plant.train
    if train is None:
        return ()
    parts = [(run.kind, run.assumed) for run in plant.runs]
    if train.regulator is not None:
        parts.insert(0, ("regulator", train.regulator.assumed))
    if train.manifold is not None:
        parts.append(("manifold", train.manifold.assumed))
    return tuple(f"{name}: {text}" for name, texts in parts for text in texts)


def _evidence(plant: Plant, elements: tuple[ElementDrop, ...]) -> Evidence:
    """The weakest part of the supply; a flow between laminar and turbulent, or past a regulator's limit, is a guess."""
    train = plant.train
    if train is None:
        return Evidence.ENTERED
    guessed = any(element.regime == TRANSITION for element in elements) or (
        plant.regulator is not None and elements[0].mass_flow_kg_per_s > plant.regulator.flow_limit_kg_per_s
    )
    parts = (train.regulator, *train.runs, train.manifold)
    known = [part.evidence for part in parts if part is not None]
    return weakest(Evidence.ENTERED, *known, *((Evidence.ESTIMATE,) if guessed else ()))


def _discharges(plant: Plant) -> Iterator[Discharge]:
    """The discharge coefficient of each orifice as it was solved, with its spread."""
    for burner, used in zip(plant.appliance.burners, plant.coefficients, strict=True):
        if burner.orifice.coefficient is not None:
            yield own_coefficient(used, "the project file", burner.orifice.coefficient_interval)
        else:
            yield shape_named(burner.orifice.shape, plant.appliance.tables.discharge).around(used)


def _findings(
    plant: Plant,
    burners: tuple[BurnerOperation, ...],
    elements: tuple[ElementDrop, ...],
    lowest: Worst,
    highest: Worst,
    solution: Solution,
) -> list[Finding]:
    band, own = plant.appliance.limits.tolerance, plant.appliance.tables.supply_limits
    discharges, supply = tuple(_discharges(plant)), _evidence(plant, elements)
    found: list[Finding] = []
    for burner, discharge in zip(burners, discharges, strict=True):
        orifice = plant.appliance.burners[burner.index].orifice
        spread = unit_spread(discharge, drill_band(orifice, plant.appliance.tables), orifice.diameter_m)
        evidence = rests_on([discharge], supply)
        found += checks.of_burner(burner, band, spread, evidence, plant.appliance.rating)
    if plant.train is None:
        return [*found, checks.no_train()]
    found += checks.of_piping(elements, plant.nominal_Pa, own)
    if plant.regulator is not None:
        inlet = next(e.inlet_gauge_pressure_Pa for e in elements if e.kind == "regulator")
        flow = float(solution.trunk_flow_kg_per_s[FIRST])
        regulator, table = plant.train.regulator, plant.appliance.tables.regulators
        assert regulator is not None
        found += checks.of_regulator(plant.regulator, regulator, flow, inlet, table)
        found += checks.of_lock_up(
            plant.regulator, plant.train, plant.appliance.supply.high_gauge_pressure_Pa
        )
    found += checks.of_worst(lowest, highest, band, rests_on(discharges, supply))
    return found
