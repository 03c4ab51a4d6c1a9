"""Entries that the tests of the record share."""

from __future__ import annotations

from dataclasses import replace

from burnerlab.bench.record import BenchTest, Instrument, KitCheck, Observation, Reading, Result, Scan


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
            Instrument(name="M3", kind="manometer", calibrated_on="2024-05-01", due_on="2025-05-01"),
        ),
        readings=(
            Reading(
                quantity="manifold_pressure",
                value=2739.97,
                burner="griddle",
                standard_uncertainty=12.0,
                instrument="M3",
            ),
            Reading(quantity="ambient_pressure", value=100900.0),
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
            Observation(name="yellow-tips", answer="yes", burner="griddle"),
            Observation(name="soot", answer="not seen", burner="griddle"),
        ),
    )
    return replace(made, **other)  # type: ignore[arg-type]


def a_kit(**other: object) -> KitCheck:
    made = KitCheck(
        kit="K-77", title="propane kit", tester="R. Quill", mass_kg=0.798, window_low_kg=0.793, window_high_kg=0.803,
        verdict="within", serial="C-0001", scans=(Scan(part="orifice", reading="OR-54"), Scan(part="", reading="=1+1")),
    )  # fmt: skip
    return replace(made, **other)  # type: ignore[arg-type]
