"""A million flame states from the tables against a warm direct solve; the build on two workers against one."""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context
from time import perf_counter
from typing import Any

import numpy as np

from burnerlab.flame.burning_velocity import flame_states
from burnerlab.flame.direct_solution import seeds
from burnerlab.flame.making.build import compute
from burnerlab.flame.making.plan import WorkUnit, second_units
from burnerlab.flame.mechanism import solution, wide_cut
from burnerlab.flame.solver import Clock, finish, result
from burnerlab.gas import load

COUNT = 1_000_000


def states(count: int = COUNT) -> tuple[np.ndarray, ...]:
    rng = np.random.default_rng(3)
    return rng.uniform(0.6, 2.2, count), rng.uniform(255.0, 470.0, count), rng.uniform(55e3, 110e3, count)


def warm_solve_s() -> float:
    """Seconds of a propane flame 0.01 in equivalence ratio from the last one, mechanism built, on the wide list."""
    gas = solution(wide_cut(["propane"]))
    seed = next(s for s in seeds() if s.state.gas == {"propane": 1.0} and s.state.equivalence_ratio == 1.0)
    clock = Clock.of(300.0)
    last, _ = finish(gas, seed, seed.state, clock)
    near = replace(seed.state, equivalence_ratio=1.01)
    start = perf_counter()
    fine, coarse = finish(gas, last, near, clock)
    seconds = perf_counter() - start
    assert result(fine, coarse, "", seconds).burning_velocity_m_per_s > 0
    return seconds


def test_look_up_of_a_million_states(benchmark: Any) -> None:
    gas, asked = load("propane"), states()
    flame_states(gas, 1.0)
    found = benchmark(flame_states, gas, *asked)
    assert found.inside.all()
    if benchmark.enabled:
        look_up, direct = benchmark.stats.stats.median, warm_solve_s()
        print(
            f"\nlook-up of {COUNT} states {look_up:.3f} s, {look_up / COUNT * 1e9:.0f} ns a state; "
            f"warm direct solve {direct:.2f} s, ratio {direct / (look_up / COUNT):.3g}"
        )


def small_units() -> list[WorkUnit]:
    """Four equal ladders, small enough for a benchmark."""
    return [unit for unit in second_units() if unit.label == "hydrogen" and not unit.rich][:4]


def built(workers: int) -> float:
    """Seconds for the four ladders on warmed workers."""
    units = small_units()
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        list(pool.map(compute, units[:workers], [None] * workers))
        start = perf_counter()
        done = list(pool.map(compute, units * 2, [None] * len(units) * 2))
        assert len(done) == 2 * len(units)
        return perf_counter() - start


def test_build_speeds_up_with_a_second_worker(benchmark: Any) -> None:
    if benchmark.disabled:
        benchmark(lambda: len(small_units()))
        return
    alone = built(1)
    together = benchmark.pedantic(built, args=(2,), rounds=1, iterations=1)
    print(
        f"\nbuild of eight ladders: one worker {alone:.1f} s, two {together:.1f} s, speed-up {alone / together:.2f}"
    )
