"""How fast are burner evaluations and warming up: many at once against one at a time."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
from pytest_benchmark.fixture import BenchmarkFixture
from scipy.integrate import solve_ivp

from burnerlab.burner.burner import BurnerGeometry
from burnerlab.burner.evaluation import evaluate, fuel_with_flame
from burnerlab.burner.hot_burner import (
    STEFAN_BOLTZMANN,
    BurnerPlace,
    MixtureFlow,
    hot_burner,
    pipe_body,
    port_way_m,
)
from burnerlab.burner.port_region import PortGas, PortSpace, limit_slacks, port_region, port_variants
from burnerlab.burner.state import BurnerState
from burnerlab.gas import Gas, load

BURNER = BurnerGeometry(
    port_width_m=1.6e-3,
    port_count=180,
    port_depth_m=3e-3,
    orifice_diameter_m=1.4e-3,
    throat_m=15.5e-3,
    shutter_area_m2=155e-6,
)


def margins(state: BurnerState) -> tuple[object, ...]:
    """Everything a sweep asks of a state, bands included."""
    return (
        state.lift_margin_band, state.light_back_margin_band, state.yellow_tip_margin_band, state.primary_aeration_band,
        state.inner_cone_height_m, state.wall_gradient_per_s,
    )  # fmt: skip


def test_a_hundred_thousand_variants_against_one_at_a_time(benchmark: BenchmarkFixture) -> None:
    rng = np.random.default_rng(0)
    count = 100_000 if benchmark.enabled else 100
    gas = load("natural-gas-typical")
    assert isinstance(gas, Gas)
    fuel = fuel_with_flame(gas)
    variants = replace(
        BURNER,
        orifice_diameter_m=rng.uniform(1.2e-3, 1.7e-3, count),
        throat_m=rng.uniform(12e-3, 20e-3, count),
        shutter_opening=rng.uniform(0.3, 1.0, count),
        port_temperature_K=rng.uniform(300.0, 450.0, count),
    )
    pressure = rng.uniform(1000.0, 2500.0, count)
    start = time.perf_counter()
    few = 20
    for _ in range(few):
        margins(evaluate(replace(BURNER, shutter_opening=0.6), fuel, 1740.0))
    alone = (time.perf_counter() - start) / few
    start = time.perf_counter()
    found = benchmark.pedantic(lambda: margins(evaluate(variants, fuel, pressure)), rounds=1)
    together = time.perf_counter() - start
    assert all(np.shape(part)[0] == count for part in found)
    if benchmark.enabled:
        print(
            f"\n{count} variants {together:.2f} s; one at a time {1e3 * alone:.2f} ms each:"
            f" {alone * count / together:.0f} x"
        )


def test_a_region_of_ports_against_its_variants_one_at_a_time(benchmark: BenchmarkFixture) -> None:
    """Two gases, every limit, all corners of what holds, the designs shown; the peer is one burner at its limits."""
    count = 2**15 if benchmark.enabled else 64
    gases = []
    for name, pressure_Pa, orifice_m in (
        ("natural-gas-typical", 1740.0, 1.398e-3),
        ("propane", 2740.0, 1.006e-3),
    ):
        gas = load(name)
        assert isinstance(gas, Gas)
        gases.append(PortGas(title=name, fuel=fuel_with_flame(gas), gauge_pressure_Pa=pressure_Pa,
                             orifice_diameter_m=orifice_m, orifice_coefficient=0.9, turndown=1 / 3,
                             highest_gauge_pressure_Pa=1.15 * pressure_Pa,
                             lowest_gauge_pressure_Pa=0.85 * pressure_Pa))  # fmt: skip
    space = PortSpace(heat_input_gross_W=3663.0, row_length_m=0.4)
    variants = port_variants(space, count)
    alone = replace(BURNER, port_width_m=np.array(1.6e-3), port_pitch_m=np.array(4.4e-3))
    limit_slacks(alone, gases, space)
    start, few = time.process_time(), 20
    for _ in range(few):
        limit_slacks(alone, gases, space)
    each = (time.process_time() - start) / few
    start = time.process_time()
    found = benchmark.pedantic(lambda: port_region(BURNER, gases, space, variants=variants), rounds=1)
    together = time.process_time() - start
    assert found.count == count
    if benchmark.enabled:
        print(
            f"\n{count} variants with corners of what holds ({100 * found.corners_fraction:.1f} %) {together:.2f} s of"
            f" processor time; one at its limits {1e3 * each:.2f} ms: {each * count / together:.0f} x, corners left out"
        )


def test_warming_up_against_a_general_integrator(benchmark: BenchmarkFixture) -> None:
    """The two nodes of metal of many burners in one call against scipy's LSODA, one burner at a time."""
    count = 1000 if benchmark.enabled else 10
    rng = np.random.default_rng(0)
    heat = rng.uniform(1000.0, 9000.0, count)
    body = pipe_body("steel", 1.2e-3, (0.4, 0.030), (0.15, 0.0179), port_way_m(1.6e-3, 3e-3, 180))
    flow = MixtureFlow(heat_capacity_W_per_K=2e-4 * heat, conductivity_W_per_mK=0.027, inlet_K=293.15)
    place = BurnerPlace(room_K=293.15, gas_K=473.15, surface_K=523.15)

    def lumped(_: float, head: np.ndarray, power_W: float) -> np.ndarray:
        """The head alone, with its two losses and the mixture's share of both ways."""
        passes = np.exp(-(9.0 * body.head_way_m + 5.0 * body.port_way_m) * 0.027 / (2e-4 * power_W))
        loss = 8.0 * (head - 473.15) + 0.8 * STEFAN_BOLTZMANN * (head**4 - 523.15**4)
        gain = 0.02 * power_W - body.head_area_m2 * loss - 2e-4 * power_W * (head - 293.15) * (1.0 - passes)
        return np.asarray(gain / body.head_heat_capacity_J_per_K)

    start = time.perf_counter()
    few = 20
    peer = [
        solve_ivp(lumped, (0.0, 900.0), [293.15], "LSODA", (60.0, 300.0, 900.0), args=(power,), rtol=1e-5).y[
            0
        ]
        for power in heat[:few]
    ]
    alone = (time.perf_counter() - start) / len(peer)
    start = time.perf_counter()
    found = benchmark.pedantic(lambda: hot_burner(body, flow, place, heat), rounds=1)
    together = time.perf_counter() - start
    np.testing.assert_allclose(
        found.head_K[: len(peer)], peer, atol=2.0
    )  # the peer has no tube to conduct to
    if benchmark.enabled:
        print(
            f"\n{count} burners with their bands {together:.2f} s; LSODA, one node, no band, {1e3 * alone:.2f} ms each:"
            f" {alone * count / together:.0f} x"
        )
