"""Reading one quantity, beside pint's own parser on its default registry (which also accepts the traps)."""

from __future__ import annotations

from timeit import repeat

import pint
from pytest_benchmark.fixture import BenchmarkFixture

from burnerlab.quantity import Kind, read

TIMES = 2000


def test_reading_a_pressure(benchmark: BenchmarkFixture) -> None:
    pint_registry = pint.UnitRegistry()
    value = benchmark(read, "11 inH2O", Kind.GAUGE_PRESSURE)
    ours = min(repeat(lambda: read("11 inH2O", Kind.GAUGE_PRESSURE), number=TIMES, repeat=3)) / TIMES
    peer = min(repeat(lambda: pint_registry("11 inH2O").m_as("Pa"), number=TIMES, repeat=3)) / TIMES
    print(f"\nread: {ours * 1e6:.1f} us; pint parse and convert {peer * 1e6:.1f} us; ratio {peer / ours:.0f}")
    assert abs(value - 2739.97801) < 1e-9
