"""A shop with known constants: tests its bench would record, to see whether ``calibrate`` finds the constants again.

The same errors as on a real bench: a meter and an analyser that are wrong for every unit alike, a drill of the whole
shop off its nominal size, and a scatter from unit to unit, part of which a unit keeps through its tests.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from burnerlab.appliance.project.model import Appliance, Burner
from burnerlab.bench.learning.flame_limits import RAISES, sightings
from burnerlab.bench.learning.primary_air import PrimaryAirFit, aerations, batches, usable
from burnerlab.bench.learning.samples import (
    CalibrationSetup,
    Fuels,
    Sample,
    ideal_input_W,
    rules,
    shipped_fuels,
)
from burnerlab.bench.record.entry import BenchReading, BenchTest, Observation, Result
from burnerlab.burner.coefficients import Array, coefficients
from burnerlab.orifice.discharge_coefficient import HANDBOOK_COEFFICIENT
from burnerlab.orifice.drill import Drill, tolerance_band


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """The constants of a shop and how its bench errs; standard deviations are relative."""

    discharge: Mapping[str, float] = field(default_factory=dict)  # by shape
    coefficients: Mapping[str, float] = field(default_factory=dict)  # rows of the burner table
    input_scatter: float = 0.015
    air_scatter: float = 0.05
    flame_scatter: float = 0.10
    meter: float = 0.01
    analyser: float = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What is tested: each unit at every pressure and shutter opening."""

    units: int = 30
    gauge_pressures_Pa: Sequence[float] = (1740.0,)
    openings: Sequence[float] = ()  # of the shutter [-]; as in the project file when empty
    watched: Sequence[str] = ()  # observations looked for
    with_air: bool = False


def simulate_shop(
    truth: Truth,
    appliance: Appliance,
    plan: Plan,
    random: np.random.Generator,
    fuels: Fuels | None = None,
) -> tuple[BenchTest, ...]:
    """Tests of a shop whose burners follow the models with the constants of ``truth``."""
    fuel = fuels or shipped_fuels(appliance.tables.burner_coefficients)
    states = [
        (unit, pressure, opening)
        for unit in range(plan.units)
        for pressure in plan.gauge_pressures_Pa
        for opening in (plan.openings or (None,))
    ]
    places = [(state, burner) for state in states for burner in appliance.burners]
    samples = [_sample(appliance, burner, *state) for state, burner in places]
    owner = np.array([state[0] * len(appliance.burners) + appliance.burners.index(b) for state, b in places])
    heat = _heat_inputs(truth, samples, owner, random)
    setup = CalibrationSetup(appliance=appliance, fuel=fuel, coefficient=truth.discharge)
    air, seen = _air_and_flames(truth, plan, samples, owner, setup, random)
    tests = []
    for number, state in enumerate(states):
        here = range(number * len(appliance.burners), (number + 1) * len(appliance.burners))
        found = [(samples[k], float(heat[k]), air[k], seen[k]) for k in here]
        tests.append(_test(state, found, truth, appliance))
    return tuple(tests)


def _sample(
    appliance: Appliance, burner: Burner, unit: int, gauge_pressure_Pa: float, opening: float | None
) -> Sample:
    supply, shutter = appliance.supply, burner.shutter
    if opening is not None and shutter is not None:
        burner = replace(burner, shutter=replace(shutter, opening=opening))
    return Sample(
        serial=f"S-{unit:04d}",
        tested_at="",
        burner=burner,
        gas=supply.gas,
        gauge_pressure_Pa=gauge_pressure_Pa,
        ambient_pressure_Pa=supply.ambient_pressure_Pa,
        gas_temperature_K=supply.gas_temperature_K,
        air_temperature_K=supply.gas_temperature_K,
    )


def _scatter(deviation: float, owner: Array, random: np.random.Generator) -> Array:
    """Errors of which a unit keeps its share."""
    share = rules()["unit share"]
    kept = random.standard_normal(int(owner.max()) + 1)[owner.astype(int)]
    found: Array = deviation * (
        np.sqrt(share) * kept + np.sqrt(1.0 - share) * random.standard_normal(owner.size)
    )
    return found


def _heat_inputs(truth: Truth, samples: Sequence[Sample], owner: Array, random: np.random.Generator) -> Array:
    """What the meter reads [W]."""
    drilled = {}
    for bore in dict.fromkeys(s.burner.orifice.diameter_m for s in samples):
        band = tolerance_band(Drill(name="", kind="", diameter_m=bore, source=""))
        drilled[bore] = 2.0 * np.log(random.uniform(band.low_m, band.high_m) / bore)
    log = np.array([drilled[s.burner.orifice.diameter_m] for s in samples])
    log = log + np.log([truth.discharge.get(s.burner.orifice.shape, HANDBOOK_COEFFICIENT) for s in samples])
    log = log + truth.meter * random.standard_normal() + _scatter(truth.input_scatter, owner, random)
    found: Array = ideal_input_W(samples) * np.exp(log)
    return found


def _air_and_flames(
    truth: Truth,
    plan: Plan,
    samples: Sequence[Sample],
    owner: Array,
    setup: CalibrationSetup,
    random: np.random.Generator,
) -> tuple[list[float | None], list[dict[str, bool]]]:
    """What the analyser reads, where it is used, and what is seen."""
    air: list[float | None] = [None] * len(samples)
    seen: list[dict[str, bool]] = [{} for _ in samples]
    table, fit = coefficients(setup.own), usable(samples)
    moved = {name: float(np.log(value / table[name].value)) for name, value in truth.coefficients.items()}
    if plan.with_air and len(fit) == len(samples):
        true = aerations(batches(samples, setup), moved)
        errs = truth.analyser * random.standard_normal() + _scatter(truth.air_scatter, owner, random)
        air = [float(a) for a in true * np.exp(errs)]
    if plan.watched:
        asked = [
            replace(s, serial=str(k), seen=dict.fromkeys(plan.watched, False)) for k, s in enumerate(samples)
        ]
        found, _ = sightings(asked, setup, exactly(moved))
        by_place = {(int(one.sample.serial), one.name): one for one in found}
        for name in plan.watched:
            noise = _scatter(truth.flame_scatter, owner, random)
            for k in range(len(samples)):
                one = by_place.get((k, name))
                if one is not None:
                    shift = moved.get(one.row, 0.0)
                    seen[k][name] = bool(np.log(one.margin) + RAISES[one.row] * shift + noise[k] < 0.0)
    return air, seen


def exactly(moved: Mapping[str, float]) -> PrimaryAirFit:
    """Primary air without any doubt."""
    return PrimaryAirFit(constants=(), moved=moved, names=(), value=np.zeros(1), covariance=np.zeros((1, 1)))


def _test(
    state: tuple[int, float, float | None],
    found: Sequence[tuple[Sample, float, float | None, dict[str, bool]]],
    truth: Truth,
    appliance: Appliance,
) -> BenchTest:
    """One test as it would stand in the record."""
    unit, pressure, opening = state
    readings = [BenchReading(quantity="manifold_pressure", value=pressure)]
    results, observations = [], []
    for sample, heat, air, seen in found:
        name = sample.burner.name
        results.append(
            Result(
                quantity="heat_input_gross",
                value=heat,
                burner=name,
                expanded_uncertainty=2.0 * truth.meter * heat,
            )
        )
        if opening is not None and sample.burner.shutter is not None:
            readings.append(BenchReading(quantity="shutter_open", value=opening, burner=name))
        if air is not None:
            wrong = truth.analyser * air
            readings.append(
                BenchReading(quantity="primary_aeration", value=air, burner=name, standard_uncertainty=wrong)
            )
        for what, was_seen in seen.items():
            observations.append(Observation(name=what, answer="yes" if was_seen else "no", burner=name))
    return BenchTest(
        serial=f"S-{unit:04d}",
        model=appliance.model or appliance.name,
        tester="simulated bench",
        gas=appliance.supply.gas.name,
        tested_at="2026-11-25T09:00:00.000Z",
        readings=tuple(readings),
        results=tuple(results),
        observations=tuple(observations),
    )
