"""How long a whole conversion and a Monte Carlo run take, against simple peers measured in the same run."""

from __future__ import annotations

from time import perf_counter
from typing import Any

import numpy as np

from burnerlab.appliance import convert, demonstration, tolerance
from burnerlab.appliance.conversion.evaluation import evaluate_conversion


def best_of(times: int, work: Any) -> float:
    """Shortest of several runs [s]."""
    found = []
    for _ in range(times):
        start = perf_counter()
        work()
        found.append(perf_counter() - start)
    return min(found)


def test_convert_the_demonstration(benchmark: Any) -> None:
    cart = demonstration()
    convert(cart, "propane", 2740.0)
    result = benchmark(convert, cart, "propane", 2740.0)
    spent = best_of(10, lambda: convert(cart, "propane", 2740.0))
    print(f"convert, six burners: {1e3 * spent:.1f} ms after import, {spent / 50e-3:.2f} of 50 ms")
    assert len(result.burners) == 6


def test_evaluate_the_demonstration(benchmark: Any) -> None:
    """Against the conversion alone, which it evaluates."""
    cart = demonstration()
    plain = convert(cart, "propane", 2740.0)
    evaluate_conversion(plain)
    result = benchmark(evaluate_conversion, plain)
    assert result.evaluation is not None
    assert len(result.evaluation.flames) == 6
    rounds = 10 if benchmark.enabled else 1
    spent = best_of(rounds, lambda: evaluate_conversion(plain))
    peer = best_of(rounds, lambda: convert(cart, "propane", 2740.0))
    print(
        f"pressures, air, flames and tile of six burners on both gases: {1e3 * spent:.0f} ms (wanted: under 100 ms);"
        f" convert alone {1e3 * peer:.1f} ms; ratio {spent / peer:.1f}"
    )


def test_spread_of_the_demonstration(benchmark: Any) -> None:
    """Against the bare product of the same number of random draws, which no run can do without."""
    cart = demonstration()
    tolerance(cart)

    def bare() -> Any:
        random = np.random.default_rng(1)
        unit = np.sqrt(random.random(200_000)) * random.random(200_000) * random.random(200_000)
        return unit[:, None] * random.random((200_000, 6)) ** 2 * random.random((200_000, 6))

    result = benchmark(tolerance, cart)
    spent, peer = best_of(5, lambda: tolerance(cart)), best_of(5, bare)
    print(
        f"tolerance, six burners, 200 000 draws: {spent:.3f} s, {spent / peer:.1f} x the bare product of the draws"
    )
    assert result.draws == 200_000
