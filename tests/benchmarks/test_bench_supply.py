"""The supply against named peers in one run: a six-burner network, friction factors, a draw from a cylinder."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from timing import best_s

from burnerlab.appliance import demonstration, operate
from burnerlab.appliance.operation.network import jet_kg_per_s
from burnerlab.appliance.operation.operate import prepare
from burnerlab.gas import load
from burnerlab.supply.cylinder import Draw, cylinder_named, hold, withdraw
from burnerlab.supply.pipe import friction_factor, pressure_drop_Pa
from burnerlab.supply.regulator import valve_drop_Pa


@pytest.mark.benchmark(group="supply")
def test_six_burner_network(benchmark: Any) -> None:
    optimize = pytest.importorskip("scipy.optimize")
    cart = demonstration()
    plant = prepare(cart)
    gas, taps = plant.stream, plant.taps

    def residual(scaled: np.ndarray) -> np.ndarray:
        flows, out = np.maximum(scaled, 0.0) * 1e-4, []
        p = float(plant.trunk_Pa(np.array([flows.sum()]))[-1][0])
        for j, tap in enumerate(taps):
            rho = float(gas.density_kg_per_m3(np.array(p)))
            total = float(flows[j:].sum())
            p -= float(
                pressure_drop_Pa(
                    total, tap.length_m, tap.diameter_m, tap.roughness_m, rho, gas.viscosity_Pa_s
                )
            )
            behind = p - float(valve_drop_Pa(flows[j], tap.valve_area_m2, rho, p))
            out.append(float(jet_kg_per_s(gas, tap.orifice_area_m2, np.array(behind))) * 1e4 - scaled[j])
        return np.array(out)

    found = benchmark(lambda: operate(cart))
    flows = np.array([b.mass_flow_kg_per_s for b in found.burners]) * 1e4
    peer = optimize.root(residual, np.ones(6), tol=1e-10)
    np.testing.assert_allclose(peer.x, flows, rtol=1e-5)
    rounds = 7 if benchmark.enabled else 1
    ours = best_s(lambda: operate(cart), rounds)
    theirs = best_s(lambda: optimize.root(residual, np.ones(6), tol=1e-10), rounds)
    print(
        f"\nsix burners all on and each alone, with findings: {ours * 1e3:.1f} ms (wanted: under 20 ms);"
        f" scipy hybr on all on alone {theirs * 1e3:.1f} ms; ratio {ours / theirs:.2f}"
    )


@pytest.mark.benchmark(group="supply")
def test_a_million_friction_factors(benchmark: Any) -> None:
    fluids = pytest.importorskip("fluids.friction")
    count = 1_000_000 if benchmark.enabled else 1000
    rng = np.random.default_rng(3)
    re, rough = 10 ** rng.uniform(3.7, 7.0, count), 10 ** rng.uniform(-6, -2, count)
    ours = benchmark.pedantic(friction_factor, (re, rough), rounds=1)
    some = slice(0, 2000 if benchmark.enabled else 50)

    def peer() -> list[float]:
        return [fluids.Clamond(r, e) for r, e in zip(re[some], rough[some], strict=True)]

    np.testing.assert_allclose(ours[some], peer(), rtol=1e-11)
    rounds = 5 if benchmark.enabled else 1
    mine = best_s(lambda: friction_factor(re, rough), rounds) / count
    theirs = best_s(peer, rounds) / (some.stop - some.start)
    print(
        f"\n{count} friction factors: {mine * count:.3f} s, {mine * 1e9:.0f} ns each;"
        f" fluids Clamond one by one {theirs * 1e9:.0f} ns each; ratio {mine / theirs:.3f}"
    )


@pytest.mark.benchmark(group="supply")
def test_a_draw_from_a_cylinder(benchmark: Any) -> None:
    draw = Draw(
        gas=load("propane-hd5"),
        cylinder=cylinder_named("20 lb"),
        fill=0.8,
        air_temperature_K=273.15,
        heat_input_W=17584.0,
    )
    found = benchmark(lambda: hold(draw))
    rounds = 5 if benchmark.enabled else 1

    def euler(step_s: float = 1.0) -> float:
        """The same balance for pure propane with constant properties, one step a second."""
        mass, t, clock, cp, latent, heat = 9.1, 273.15, 0.0, 2450.0, 385e3, 50.36e6
        while t > 241.4 and mass > 0.1:
            area = 4 * mass / 520.0 / 0.31 + 0.0755
            t += step_s * (11.0 * area * (273.15 - t) - 17584.0 / heat * latent) / (mass * cp + 6500.0 * area)
            mass -= step_s * 17584.0 / heat
            clock += step_s
        return clock

    assert euler() == pytest.approx(withdraw(draw).hold_time_s, rel=0.1)
    ours, theirs = best_s(lambda: withdraw(draw), rounds), best_s(euler, rounds)
    print(
        f"\na draw of {found.nominal.hold_time_s / 60:.0f} min: {ours * 1e3:.1f} ms;"
        f" a plain loop of one-second steps with constant properties {theirs * 1e3:.1f} ms; ratio {ours / theirs:.1f}"
    )
