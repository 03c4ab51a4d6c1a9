"""How long a command takes to answer: processor time of a process of its own, beside a bare interpreter.

The peer is ``python -c "import click"``: what any command built on it must spend.
"""

from __future__ import annotations

import resource
import subprocess
import sys

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

ROUNDS = 5
CASES = {
    "help": ("--help",),
    "size": ("size", "--gas", "propane", "--rate", "12 kBtu/h gross", "--pressure", "11 inH2O"),
    "flow": ("flow", "--gas", "propane", "--pressure", "11 inH2O", "--drill", "#54"),
    "size-json": ("size", "--gas", "G20", "--rate", "3.5 kW net", "--pressure", "20 mbar", "--json"),
}


def processor_time_s(*command: str) -> float:
    """User and system time of a child process."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, *command], check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime


@pytest.mark.parametrize("name", CASES)
def test_startup(name: str, benchmark: BenchmarkFixture) -> None:
    command = ("-m", "burnerlab", *CASES[name])
    benchmark.pedantic(
        subprocess.run, ([sys.executable, *command],), {"capture_output": True, "check": True}, rounds=2
    )
    rounds = 1 if benchmark.disabled else ROUNDS
    ours = min(processor_time_s(*command) for _ in range(rounds))
    peer = min(processor_time_s("-c", "import click") for _ in range(rounds))
    print(
        f"\nburnerlab {name}: {ours:.3f} s of processor time; import click alone {peer:.3f} s; ratio {ours / peer:.1f}"
    )
