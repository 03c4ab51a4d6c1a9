"""The time of a call, for benchmarks that compare two in one run."""

from __future__ import annotations

import time
from collections.abc import Callable
from statistics import median


def times_s(work: Callable[[], object], rounds: int) -> list[float]:
    """Of some calls, one after the other [s]."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return times


def median_s(work: Callable[[], object], rounds: int) -> float:
    """Median of some calls [s]."""
    return median(times_s(work, rounds))


def best_s(work: Callable[[], object], rounds: int = 7) -> float:
    """Shortest of some calls [s]."""
    return min(times_s(work, rounds))
