"""Entries that the tests of the record share."""

from __future__ import annotations

import shutil
import sqlite3
from dataclasses import replace
from pathlib import Path

from burnerlab.bench.record import (
    BeforeLighting,
    BenchInstrument,
    BenchReading,
    BenchTest,
    EarlierStop,
    InputText,
    KitCheck,
    Observation,
    Result,
    Scan,
)


def a_test(serial: str = "C-0001", deviation: float = -0.021, **other: object) -> BenchTest:
    made = BenchTest(
        serial=serial,
        model="market cart range",
        tester="R. Quill",
        gas="propane",
        model_sha256="ab" * 32,
        tested_at="2024-11-24T10:15:00Z",
        note="first of the batch",
        instruments=(
            BenchInstrument(name="M3", kind="manometer", calibrated_on="2024-05-01", due_on="2025-05-01"),
        ),
        readings=(
            BenchReading(
                quantity="manifold_pressure",
                value=2739.97,
                burner="griddle",
                standard_uncertainty=12.0,
                instrument="M3",
            ),
            BenchReading(quantity="ambient_pressure", value=100900.0),
        ),
        results=(
            Result(
                quantity="deviation",
                value=deviation,
                burner="griddle",
                expanded_uncertainty=0.015,
                low=-0.05,
                high=0.05,
                verdict="within",
            ),
        ),
        observations=(
            Observation(name="lift", answer="no", burner="griddle"),
            Observation(name="noise", answer="yes", burner="griddle"),
            Observation(name="soot", answer="not seen", burner="griddle"),
        ),
    )
    return replace(made, **other)  # type: ignore[arg-type]


ANSWERS = BeforeLighting(
    supply_label="propane", leak_test="none found", leak_test_method="leak detection fluid",
    extraction="yes", co_alarm="yes", place="line 2",
)  # fmt: skip
WRITTEN = (InputText(name="dial", text="10 L"), InputText(name="rule", text="=guard"))
A_RELEASE = {
    "name": "K. Moss",
    "qualification": "gas engineer, licence 1234",
    "cause": "union nut loose",
    "repair": "tightened",
    "joints_searched": "fluid",
    "gas_at_joints": "no",
    "test_pressure_start": "27.4 mbar",
    "test_pressure_end": "27.4 mbar",
    "test_minutes": "10",
    "meter_dial": "1 ft3",
    "meter_minutes": "10",
    "meter_moved": "no",
    "stop_began": "2024-11-25 08:10",
}


def a_stopped_test(serial: str = "C-0001", **other: object) -> BenchTest:
    """A smell of gas at the bench, after a pressure that was read at the wrong tap."""
    smell = (Observation(name="odour", answer="yes", burner="griddle"),)
    slip = EarlierStop(stop="pressure", why="27 mbar", reading="-27 mbar", reason="'wrong tap")
    more = {"observations": smell, "before_lighting": ANSWERS, "earlier_stops": (slip,), "inputs": WRITTEN}
    more |= other
    return a_test(serial, **more)


def a_kit(**other: object) -> KitCheck:
    made = KitCheck(
        kit="K-77", title="propane kit", tester="R. Quill", mass_kg=0.798, window_low_kg=0.793, window_high_kg=0.803,
        verdict="within", serial="C-0001", scans=(Scan(part="orifice", reading="OR-54"), Scan(part="", reading="=1+1")),
    )  # fmt: skip
    return replace(made, **other)  # type: ignore[arg-type]


def tampered(path: Path, copy: Path, *changes: str) -> None:
    """A copy changed by somebody who takes the triggers away first."""
    shutil.copy(path, copy)
    with sqlite3.connect(copy) as other:
        for (name,) in other.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'").fetchall():
            other.execute(f"DROP TRIGGER {name}")
        for change in changes:
            other.execute(change)
    other.close()
