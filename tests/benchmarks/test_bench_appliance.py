"""How long a whole conversion and a Monte Carlo run take, against simple peers measured in the same run."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from time import process_time
from typing import Any

import numpy as np
from timing import best_s

from burnerlab.appliance import Appliance, convert, demonstration, tolerance
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.memory import REMEMBERED
from burnerlab.appliance.project.model import Burner


def fresh(times: int, work: Any) -> float:
    """Shortest processor time of several runs with nothing remembered [s]."""
    found = []
    for _ in range(times):
        REMEMBERED.forget()
        start = process_time()
        work()
        found.append(process_time() - start)
    return min(found)


def test_convert_the_demonstration(benchmark: Any) -> None:
    """Against itself remembered."""
    cart = demonstration()
    convert(cart, "propane", 2740.0)
    result = benchmark.pedantic(
        convert, (cart, "propane", 2740.0), setup=REMEMBERED.forget, rounds=10 if benchmark.enabled else 1
    )
    spent = fresh(10, lambda: convert(cart, "propane", 2740.0))
    again = best_s(lambda: convert(cart, "propane", 2740.0), 10)
    print(
        f"convert, six burners: {1e3 * spent:.1f} ms after import (wanted: 17 ms), {spent / again:.1f} x remembered"
    )
    assert len(result.burners) == 6


def test_evaluate_the_demonstration(benchmark: Any) -> None:
    """Against the conversion alone, which it evaluates; nothing remembered of either."""
    cart = demonstration()
    plain = convert(cart, "propane", 2740.0)
    evaluate_conversion(plain)
    rounds = 10 if benchmark.enabled else 1
    result = benchmark.pedantic(evaluate_conversion, (plain,), setup=REMEMBERED.forget, rounds=rounds)
    assert result.evaluation is not None
    assert len(result.evaluation.flames) == 6
    spent = fresh(rounds, lambda: evaluate_conversion(plain))
    peer = fresh(rounds, lambda: convert(cart, "propane", 2740.0))
    print(
        f"pressures, air, flames and tile of six burners on both gases, cold and hot: {1e3 * spent:.0f} ms"
        f" (wanted: 80 ms); convert alone {1e3 * peer:.1f} ms; ratio {spent / peer:.1f}"
    )


def edits(cart: Appliance) -> dict[str, Callable[[int], Appliance]]:
    """Edits of one burner or of the pressure, each other for each number."""

    def of_burner(n: int, change: Callable[[Burner, float], Burner]) -> Appliance:
        burners = list(cart.burners)
        burners[n % len(burners)] = change(burners[n % len(burners)], 1.01 + 0.001 * n)
        return replace(cart, burners=tuple(burners))

    def ports(burner: Burner, by: float) -> Burner:
        assert burner.ports is not None
        return replace(burner, ports=replace(burner.ports, diameter_m=by * burner.ports.diameter_m))

    pressure = cart.supply.gauge_pressure_Pa
    return {
        "rate": lambda n: of_burner(n, lambda burner, by: replace(burner, rate_W=by * burner.rate_W)),
        "ports": lambda n: of_burner(n, ports),
        "pressure": lambda n: replace(
            cart, supply=replace(cart.supply, gauge_pressure_Pa=pressure + 1.0 + n)
        ),
    }


def test_edits_of_the_demonstration(benchmark: Any) -> None:
    """Conversion and evaluation after an edit against the same with nothing remembered."""
    cart = demonstration()

    def whole(appliance: Appliance) -> None:
        evaluate_conversion(convert(appliance, "propane", 2740.0))

    rounds = 12 if benchmark.enabled else 1
    peer = fresh(min(rounds, 5), lambda: whole(cart))
    for name, edit in edits(cart).items():
        whole(cart)
        spent = []
        for n in range(rounds):
            appliance, start = edit(n), process_time()
            whole(appliance)
            spent.append(process_time() - start)
        middle = sorted(spent)[len(spent) // 2]
        print(
            f"edit of {name}: {1e3 * middle:.0f} ms, {middle / peer:.2f} of a fresh one ({1e3 * peer:.0f} ms)"
        )
    benchmark.pedantic(whole, (cart,), rounds=1)


def test_spread_of_the_demonstration(benchmark: Any) -> None:
    """Against the bare product of the same number of random draws, which no run can do without."""
    cart = demonstration()
    tolerance(cart)

    def bare() -> Any:
        random = np.random.default_rng(1)
        unit = np.sqrt(random.random(200_000)) * random.random(200_000) * random.random(200_000)
        return unit[:, None] * random.random((200_000, 6)) ** 2 * random.random((200_000, 6))

    result = benchmark(tolerance, cart)
    spent, peer = best_s(lambda: tolerance(cart), 5), best_s(bare, 5)
    print(
        f"tolerance, six burners, 200 000 draws: {spent:.3f} s, {spent / peer:.1f} x the bare product of the draws"
    )
    assert result.draws == 200_000
