"""A hundred thousand tiles in one call against SciPy's brentq one by one, and one flame against Cantera.

Hot tiles with their air as well, against the same balance of momentum solved by brentq.
"""

from __future__ import annotations

from dataclasses import replace
from time import perf_counter
from typing import Any

import numpy as np

from burnerlab.burner.burner import BurnerGeometry, EvaluationOptions, Surroundings, burner_fuel
from burnerlab.burner.primary_air import JetFlow, air_per_gas, burner_system
from burnerlab.burner.tile import Before, Face, TileBurner, face_balance, radiated_W_per_m2
from burnerlab.burner.tile_channel import HotTile, channel_stream, tile_air
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
    if benchmark.disabled:
        return  # tests/burner/test_tile_parts.py holds the table against two flames, more narrowly
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


HOT_TILES, HOT_JUDGED = 20_000, 20
FACE_m2, CHANNEL_m = 0.0304, 1.3e-3
TILE = TileBurner(area_m2=FACE_m2)
PLACE, OPTIONS = Surroundings(), EvaluationOptions(band=False)
FLOW = JetFlow(heat_input_gross_W=np.asarray(4700.0))


def tiles(shares: Any, throats_m: Any) -> BurnerGeometry:
    return BurnerGeometry(
        port_width_m=CHANNEL_m,
        port_count=shares * FACE_m2 / (np.pi / 4.0 * CHANNEL_m**2),
        orifice_diameter_m=1.15e-3,
        throat_m=throats_m,
        port_depth_m=13e-3,
    )


def hot_air(shares: np.ndarray, throats_m: np.ndarray) -> np.ndarray:
    fuel = burner_fuel(PROPANE)
    return tile_air(tiles(shares, throats_m), fuel, FLOW, PLACE, OPTIONS, TILE).air.aeration


def hot_air_by_brentq(share: float, throat_m: float) -> float:
    """One tile: the same resistance of the channels in a search of its own."""
    from scipy.optimize import brentq

    fuel, built = burner_fuel(PROPANE), tiles(share, throat_m)
    system = burner_system(built, fuel, FLOW, PLACE, OPTIONS)
    face = Face(emissivity=1 / (1 + (1 / 0.85 - 1) / 1.5), recovery=0.3, loss_W_per_m2K=5.0)
    tile = HotTile(area_m2=FACE_m2, face=face, conductivity_W_per_mK=0.5, before=Before())
    ports = channel_stream(system.ports, built, fuel, PLACE, tile, 13e-3)

    def excess(r: float) -> float:
        tube = replace(system.tube, port_resistance=ports.drop(r).resistance)
        return float(air_per_gas(system.jet, tube)) - r

    return float(brentq(excess, 10.0, 50.0, xtol=1e-10)) / fuel.stoichiometric_air


def test_many_hot_tiles_against_one_by_one(benchmark: Any) -> None:
    rng = np.random.default_rng(11)
    given = rng.uniform(0.2, 0.45, HOT_TILES), rng.uniform(20e-3, 26e-3, HOT_TILES)
    ours = benchmark.pedantic(hot_air, args=given, rounds=1, warmup_rounds=1)
    start = perf_counter()
    hot_air(*given)
    own = (perf_counter() - start) / HOT_TILES
    start = perf_counter()
    judge = [hot_air_by_brentq(*(float(axis[k]) for axis in given)) for k in range(HOT_JUDGED)]
    peer = (perf_counter() - start) / HOT_JUDGED
    gap = float(np.max(np.abs(ours[:HOT_JUDGED] - judge)))
    print(
        f"\n{HOT_TILES} hot tiles: {own * 1e6:.1f} us each, scipy brentq {peer * 1e6:.0f} us: {peer / own:.0f} x faster"
    )
    print(f"largest difference of {HOT_JUDGED} aerations {gap:.2e}")
    assert gap < 1e-7
