"""Direct solves: within their time limit, in words when they fail, and the judge of the tables."""

from __future__ import annotations

import time

import numpy as np
import pytest

from burnerlab.flame.blend import measured_over_computed, sorted_parts
from burnerlab.flame.direct_solution import direct, seeds
from burnerlab.flame.flame import from_tables, solved
from burnerlab.flame.mechanism import FUELS, SPECIES, mechanism_hash, narrow_cut, solution, wide_cut
from burnerlab.flame.profile import FlameState, adapted, between, thermal_thickness_m
from burnerlab.flame.solver import strides
from burnerlab.gas import Composition
from burnerlab.tables import package_dir, rows
from burnerlab.tables.problem import UserError

LIMIT_s = 200.0


def test_the_tables_name_the_mechanism_they_were_computed_with() -> None:
    head = (package_dir() / "tables" / "data" / "flame_speed.csv").read_text(encoding="utf-8")[:600]
    assert mechanism_hash() in head
    assert "Cantera 3." in head


def test_the_cut_carries_transport_data_for_every_species() -> None:
    kept = {row["species"] for row in rows("flame_species")}
    assert kept == {row["species"] for row in rows("flame_transport")}
    assert set(SPECIES.values()) <= kept
    assert len(wide_cut(["isobutane"]).species) == 92
    assert len(narrow_cut(["n-butane"]).species) == 56


def test_a_fuel_takes_only_the_species_it_needs() -> None:
    sizes = [
        solution(narrow_cut([name])).n_species for name in ("hydrogen", "methane", "propane", "isobutane")
    ]
    assert sizes == sorted(sizes)
    assert sizes[0] == 9
    assert solution(wide_cut(["hydrogen"])).n_reactions > 20


def test_a_component_without_chemistry_is_refused() -> None:
    with pytest.raises(UserError, match="n-hexane"):
        wide_cut(["methane", "n-hexane"])
    with pytest.raises(UserError, match="nothing"):
        narrow_cut(["nitrogen"])


def test_there_is_a_seed_for_every_fuel() -> None:
    fuels = {name for seed in seeds() for name in seed.state.gas}
    assert set(FUELS) - {"ethylene"} <= fuels
    for seed in seeds():
        assert seed.mass_fractions.sum(axis=0) == pytest.approx(1.0, abs=1e-3)
        assert 0.003 < seed.burning_velocity_m_per_s < 4.0


def test_a_solve_stops_at_its_limit_and_says_so() -> None:
    solution(wide_cut(["propane"]))
    started = time.monotonic()
    with pytest.raises(UserError, match=r"not solved within 0\.2 s"):
        direct({"propane": 1.0}, 1.9, 400.0, 60e3, limit_s=0.2)
    assert time.monotonic() - started < 10.0


def test_a_solve_outside_its_range_is_refused() -> None:
    with pytest.raises(UserError, match="equivalence ratio") as caught:
        direct({"methane": 1.0}, 9.0, 900.0)
    assert len(caught.value.problems) == 2


def test_hydrogen_solved_meets_the_table() -> None:
    hydrogen = Composition.of({"hydrogen": 1.0}, per="mole")
    for phi, temperature_K, pressure_Pa in ((0.83, 330.0, 90e3), (1.37, 430.0, 65e3)):
        table = from_tables(hydrogen, phi, temperature_K, pressure_Pa)
        own = solved(hydrogen, phi, temperature_K, pressure_Pa, LIMIT_s)
        assert table.burning_velocity_m_per_s == pytest.approx(own.burning_velocity_m_per_s, rel=0.01)
        assert table.thermal_thickness_m == pytest.approx(own.thermal_thickness_m, rel=0.03)


OFF_THE_GRID = {
    "isobutane": {"isobutane": 1.0},
    "natural gas": {"methane": 0.92, "ethane": 0.05, "propane": 0.02, "nitrogen": 0.01},
    "methane with hydrogen": {"methane": 0.77, "hydrogen": 0.23},
    "carbon monoxide in methane": {"methane": 0.3, "hydrogen": 0.2, "carbon monoxide": 0.5},
    "LPG": {"propane": 0.93, "n-butane": 0.04, "propylene": 0.03},
}
KEPT = {
    "isobutane": 0.0765327170,
    "natural gas": 0.1864688194,
    "carbon monoxide in methane": 0.5888324056,
    "LPG": 0.1460043625,
}
"""Burning velocities of direct solves at the states below [m/s], by ``direct`` with Cantera 3.2.0 (computed).

Methane with hydrogen is solved in each run. With another mechanism these are solved anew:
``direct(OFF_THE_GRID[name], *state_of(name))``.
"""
KEPT_MECHANISM = "f13709ed65b3b743"


def state_of(name: str) -> tuple[float, float, float]:
    rng = np.random.default_rng([*name.encode()])
    return rng.uniform(0.65, 1.9), rng.uniform(256.0, 470.0), rng.uniform(55e3, 109e3)


def test_the_flames_kept_are_of_the_mechanism_in_use() -> None:
    assert mechanism_hash() == KEPT_MECHANISM


@pytest.mark.slow
@pytest.mark.parametrize("name", OFF_THE_GRID)
def test_a_random_state_off_the_grid_meets_its_direct_solve(name: str) -> None:
    """Computed flames against interpolated ones, both our own; burning velocities measured elsewhere are in shared/."""
    gas, state = Composition.of(OFF_THE_GRID[name], per="mole"), state_of(name)
    if name in KEPT:  # what ``solved`` makes of it
        own = KEPT[name] * measured_over_computed(sorted_parts(OFF_THE_GRID[name])[0])
    else:
        own = solved(gas, *state, LIMIT_s).burning_velocity_m_per_s
    assert from_tables(gas, *state).burning_velocity_m_per_s == pytest.approx(own, rel=0.01), state


def test_the_grid_follows_the_flame_and_grows_gently() -> None:
    seed = next(seed for seed in seeds() if seed.state.gas == {"methane": 1.0})
    grid = adapted(seed.grid_m, seed.fields(), seed.thermal_thickness_m, 96)
    steps = np.diff(grid)
    assert grid.size == 97
    assert np.all(steps > 0)
    assert np.max(steps[1:] / steps[:-1]) < 1.4
    assert np.min(steps) < 0.05 * seed.thermal_thickness_m
    rise = np.interp(grid, seed.grid_m, seed.temperature_K)
    assert thermal_thickness_m(grid, rise, seed.adiabatic_flame_temperature_K) == pytest.approx(
        seed.thermal_thickness_m, rel=0.1
    )


def test_states_on_the_way() -> None:
    start = FlameState(
        gas={"methane": 1.0}, equivalence_ratio=0.8, unburnt_temperature_K=300.0, pressure_Pa=1e5
    )
    end = FlameState(
        gas={"hydrogen": 1.0}, equivalence_ratio=1.25, unburnt_temperature_K=300.0, pressure_Pa=1e5
    )
    middle = between(start, end, 0.5)
    assert middle.gas == {"methane": 0.5, "hydrogen": 0.5}
    assert middle.equivalence_ratio == pytest.approx(1.0)
    assert strides(start, middle, end) is None
