"""How fast are gas properties, as ratios to named peers measured in the same run."""

from __future__ import annotations

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from timing import median_s

from burnerlab.gas import load, mixture_arrays, properties
from burnerlab.quantity import PRESETS

ISO = PRESETS["ISO_15_15"]
NAMES = ["methane", "ethane", "propane", "n-butane", "isobutane", "n-pentane", "isopentane", "n-hexane"]
NAMES += ["nitrogen", "CO2", "hydrogen", "oxygen"]
PYAGA8 = {"methane": "methane", "ethane": "ethane", "propane": "propane", "nitrogen": "nitrogen"}


def test_a_million_mixtures_against_two_bare_products(benchmark: BenchmarkFixture) -> None:
    rng = np.random.default_rng(0)
    count = 1_000_000 if benchmark.enabled else 1000
    x = rng.dirichlet(np.ones(len(NAMES)), count)
    heat, mass = rng.random(len(NAMES)), rng.random(len(NAMES))
    rounds = 7 if benchmark.enabled else 1
    bare = median_s(lambda: x @ heat / (x @ mass), rounds)
    ours = median_s(lambda: mixture_arrays(x, NAMES, ISO), rounds)
    benchmark.pedantic(mixture_arrays, (x, NAMES, ISO), rounds=1)
    if benchmark.enabled:
        print(
            f"\n{count} twelve-component mixtures: {ours:.3f} s, {ours / bare:.1f} x the bare x @ H / (x @ M)"
        )


def test_per_state_against_gerg_density(benchmark: BenchmarkFixture) -> None:
    pyaga8 = pytest.importorskip("pyaga8")
    names = list(PYAGA8)
    count = 20_000 if benchmark.enabled else 100
    x = np.random.default_rng(1).dirichlet([90, 5, 2, 3], count)
    mix = pyaga8.Composition()
    for name, value in zip(names, x[0], strict=True):
        setattr(mix, PYAGA8[name], float(value))
    gerg = pyaga8.Gerg2008()
    gerg.set_composition(mix)
    gerg.calc_molar_mass()
    gerg.pressure, gerg.temperature = 101.325, 288.15
    peer = median_s(lambda: gerg.calc_density(0), 200 if benchmark.enabled else 1)
    ours = median_s(lambda: mixture_arrays(x, names, ISO), 7 if benchmark.enabled else 1) / count
    benchmark.pedantic(mixture_arrays, (x, names, ISO), rounds=1)
    if benchmark.enabled:
        print(f"\none state: {ours * 1e9:.0f} ns, {peer / ours:.0f} x faster than pyaga8 GERG-2008 density")


def test_one_gas_with_its_uncertainties(benchmark: BenchmarkFixture) -> None:
    found = benchmark(properties, load("natural-gas-us-mean"), ISO)
    assert found.uncertainty
