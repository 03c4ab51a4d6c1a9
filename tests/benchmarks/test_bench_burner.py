"""How fast are burner evaluations: many variants at once against the same one at a time."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
from pytest_benchmark.fixture import BenchmarkFixture

from burnerlab.burner.burner import BurnerGeometry
from burnerlab.burner.evaluation import evaluate, fuel_with_flame
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
