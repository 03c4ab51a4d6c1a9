"""How fast are bench readings, as ratios to named peers measured in the same run."""

from __future__ import annotations

import numpy as np
from pytest_benchmark.fixture import BenchmarkFixture
from timing import median_s

from burnerlab.appliance import demonstration
from burnerlab.bench import MeterReading, MeterState, Reading, clock, explain, heat_content, metering_factor
from burnerlab.bench.faults.fault_study import simulate_faults
from burnerlab.gas import load
from burnerlab.quantity import PRESETS

READ = MeterReading(
    dial_m3=0.01,
    times_s=(61.2, 61.5, 61.1, 61.4),
    gas_temperature_K=290.0,
    gauge_pressure_Pa=2000.0,
    ambient_pressure_Pa=100_000.0,
)


def test_a_million_metering_factors_against_numpy_sqrt(benchmark: BenchmarkFixture) -> None:
    count, rounds = (1_000_000, 7) if benchmark.enabled else (1000, 1)
    random = np.random.default_rng(0)
    T, p = 270 + 40 * random.random(count), 90e3 + 2e4 * random.random(count)
    reference = MeterState.of(PRESETS["ISO_15_15"])
    ours = median_s(lambda: metering_factor(MeterState(T, p), reference), rounds)
    peer = median_s(lambda: np.sqrt(p / T), rounds)
    benchmark.pedantic(metering_factor, (MeterState(T, p), reference), rounds=1)
    if benchmark.enabled:
        print(f"\n{count} metering factors: {1e3 * ours:.1f} ms, {ours / peer:.1f} x numpy sqrt(p/T)")


def test_a_clocking_with_monte_carlo_against_its_draws(benchmark: BenchmarkFixture) -> None:
    heat = heat_content(load("natural-gas-typical"), PRESETS["ISO_15_15"])
    rounds = 7 if benchmark.enabled else 1
    plain = median_s(lambda: clock(READ, heat, draws=0), rounds)
    full = median_s(lambda: clock(READ, heat), rounds)
    bare = median_s(lambda: np.random.default_rng(0).standard_normal((12, 200_000)), rounds)
    benchmark.pedantic(clock, (READ, heat), rounds=1)
    if benchmark.enabled:
        print(
            f"\none clocking: budget {1e3 * plain:.2f} ms, with 200 000 draws {1e3 * full:.0f} ms,"
            f" {full / bare:.1f} x drawing twelve normal quantities alone"
        )


def test_an_explanation_and_a_thousand_faults(benchmark: BenchmarkFixture) -> None:
    cart, rounds = demonstration(), 5 if benchmark.enabled else 1
    one = median_s(lambda: explain(cart, Reading(ratio=0.5), "stock-pot ring"), rounds)
    study = median_s(lambda: simulate_faults(cart, "stock-pot ring"), rounds)
    benchmark.pedantic(explain, (cart, Reading(ratio=0.5), "stock-pot ring"), rounds=1)
    if benchmark.enabled:
        print(
            f"\none explanation {1e3 * one:.0f} ms; 1000 simulated faults {1e3 * study:.0f} ms, {study / one:.1f} x one"
        )
