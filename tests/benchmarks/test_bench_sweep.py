"""Sweeps: conversions of the array form beside single ones, and two workers beside one."""

from __future__ import annotations

import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np

from burnerlab.appliance import convert, demonstration
from burnerlab.appliance.conversion.job import prepare
from burnerlab.appliance.conversion.target import ConversionTarget
from burnerlab.appliance.project.project_file import demonstration_path
from burnerlab.appliance.study.cases import Cases, convert_many
from burnerlab.appliance.study.design import Study, Vary
from burnerlab.appliance.study.sweep import CHUNK, sweep
from burnerlab.gas import load


def test_many_conversions_beside_one(benchmark: Any) -> None:
    cart, count = demonstration(), 100_000
    job = prepare(cart, ConversionTarget(gas=load("propane"), gauge_pressure_Pa=2740.0))
    cases = Cases(count=count, gauge_pressure_Pa=np.linspace(2000.0, 3200.0, count))
    benchmark(convert_many, job, cases)
    convert(cart, "propane", 2740.0)
    start = time.perf_counter()
    for _ in range(20):
        convert(cart, "propane", 2740.0)
    single = (time.perf_counter() - start) / 20
    if benchmark.stats:
        each = benchmark.stats["min"] / count
        print(
            f"\narray form {each * 1e6:.2f} us a conversion, convert {single * 1e3:.1f} ms: {single / each:.0f} x"
        )


def test_two_workers_beside_one(benchmark: Any, tmp_path: Path) -> None:
    cases = 50 * CHUNK if benchmark.enabled else 2 * CHUNK
    study = Study(
        project_text=demonstration_path().read_text(encoding="utf-8"),
        project_name="cart.toml",
        to="propane",
        pressure="11 in w.c.",
        design="grid",
        varies=(
            Vary(parameter="target.pressure", values=tuple(np.linspace(2000.0, 3200.0, cases).tolist())),
        ),
        points=0,
        seed=1,
        outputs=("total_predicted_gross_W", "burner.*.deviation"),
    )

    def seconds(workers: int) -> float:
        with ProcessPoolExecutor(workers) as pool:
            list(pool.map(abs, range(workers)))
            start = time.perf_counter()
            sweep(study, tmp_path / f"{workers}.csv", executor=pool)
            return time.perf_counter() - start

    one = seconds(1)
    two = benchmark.pedantic(seconds, args=(2,), rounds=1)
    print(f"\n{study.count} conversions: one worker {one:.1f} s, two {two:.1f} s: {one / two:.2f} x")
