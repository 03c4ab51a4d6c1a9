"""A hundred thousand tiles in one call against SciPy's brentq one by one, and one flame against Cantera."""

from __future__ import annotations

from time import perf_counter
from typing import Any

import numpy as np

from burnerlab.burner.tile import Before, Face, face_balance, radiated_W_per_m2
from burnerlab.burner.tile_flame import (
    burned_enthalpy_J_per_kg,
    burned_gas,
    mixture,
    mixture_enthalpy_J_per_kg,
)
from burnerlab.gas import mix

PROPANE = mix({"propane": 1.0}, per="mole")
STATES, JUDGED = 100_000, 100


def cases(size: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(7)
    return rng.uniform(0.9, 1.4, size), rng.uniform(0.03, 0.15, size), rng.uniform(0.5, 1.0, size)


def faces(aeration: np.ndarray, flux: np.ndarray, emissivity: np.ndarray) -> np.ndarray:
    burned = burned_gas(PROPANE, aeration, flux).temperature_K
    return face_balance(
        mixture(PROPANE, aeration), flux, burned, Face(emissivity=emissivity, recovery=0.3), Before()
    ).face_K


def by_brentq(aeration: float, flux: float, emissivity: float) -> float:
    from scipy.optimize import brentq

    mixed, burned = mixture(PROPANE, aeration), float(burned_gas(PROPANE, aeration, flux).temperature_K)
    brought = float(mixture_enthalpy_J_per_kg(mixed, 293.15))

    def surplus(T: float) -> float:
        gas = max(burned - 0.3 * (burned - T), T)
        given = float(radiated_W_per_m2(T, emissivity, Before()).from_face)
        return given - flux * (brought - float(burned_enthalpy_J_per_kg(mixed, gas)))

    return float(brentq(surplus, 293.15, 2300.0, xtol=1e-6))


def test_many_faces_against_one_by_one(benchmark: Any) -> None:
    given = cases(STATES)
    ours = benchmark.pedantic(faces, args=given, rounds=2, warmup_rounds=1)
    start = perf_counter()
    faces(*given)
    own = (perf_counter() - start) / STATES
    start = perf_counter()
    judge = [by_brentq(*(float(axis[k]) for axis in given)) for k in range(JUDGED)]
    peer = (perf_counter() - start) / JUDGED
    gap = float(np.max(np.abs(ours[:JUDGED] - judge)))
    print(
        f"\n{STATES} tile faces: {own * 1e6:.1f} us each, scipy brentq {peer * 1e6:.0f} us: {peer / own:.0f} x faster"
    )
    print(f"largest difference of {JUDGED} faces {gap:.2e} K")
    assert gap < 1e-3


def test_table_against_a_direct_flame(benchmark: Any) -> None:
    from burnerlab.burner.tile_flame_solver import new_flame, solve_point

    parts = {"methane": 1.0}
    methane, flux = mix(parts, per="mole"), np.full(STATES, 0.08)
    ours = benchmark.pedantic(burned_gas, args=(methane, 1.1, flux), rounds=3, warmup_rounds=1)
    start = perf_counter()
    burned_gas(methane, 1.1, flux)
    own = (perf_counter() - start) / STATES
    flame = new_flame(parts, 1 / 1.1)
    solve_point(flame, parts, 1 / 1.1, 0.07)
    start = perf_counter()
    solved = solve_point(flame, parts, 1 / 1.1, 0.08)
    peer = perf_counter() - start
    assert solved is not None
    gap = float(ours.temperature_K[0]) - solved.burned_gas_K
    print(
        f"\nburned gas from the table {own * 1e6:.2f} us, warm Cantera flame {peer:.2f} s: {peer / own:.0f} x faster"
    )
    print(f"difference {gap:+.1f} K")
    assert abs(gap) < 8.0
