"""The table builder: same results by any executor, resumable, one bad flame or worker loses nothing else."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from burnerlab.flame.making import build, ladder
from burnerlab.flame.making.build import TABLE, assemble, units_of
from burnerlab.flame.making.plan import EQUIVALENCE_RATIOS, WorkUnit, first_units, second_units
from burnerlab.flame.solver import TooFarError
from burnerlab.tables import read_csv
from burnerlab.tables.problem import UserError

RUNGS = (1.0, 0.95, 0.9)


class Inline(Executor):
    """Runs each task at once in this process, or fails as a lost worker would."""

    def __init__(self, lost: str = "") -> None:
        self.lost, self.calls = lost, 0

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        future: Future[Any] = Future()
        self.calls += 1
        if self.lost and args[0].name.startswith(self.lost):
            future.set_exception(RuntimeError("the worker is gone"))
        else:
            future.set_result(fn(*args, **kwargs))
        return future


@pytest.fixture
def units(monkeypatch: pytest.MonkeyPatch) -> tuple[WorkUnit, ...]:
    """Two short hydrogen ladders, nine species: a second of work."""
    monkeypatch.setattr("burnerlab.flame.making.plan.LEAN", RUNGS)
    found = [unit for unit in (*first_units(), *second_units()) if unit.label == "hydrogen" and not unit.rich]
    return tuple(unit for unit in found if unit.pressure_Pa > 1e5 and unit.unburnt_temperature_K < 300.0)[:2]


def test_results_do_not_depend_on_the_executor(units: tuple[WorkUnit, ...], tmp_path: Path) -> None:
    assert build.run(units, Inline(), tmp_path / "one") == {}
    with ThreadPoolExecutor(1) as pool:
        assert build.run(units, pool, tmp_path / "two") == {}
    recipe = build.Recipe.here()
    for unit in units:
        one, two = (
            build.points_from_bytes(build.stored(tmp_path / k, unit, recipe).read_bytes())
            for k in ("one", "two")
        )
        assert [replace(point, seconds=0.0) for point in one] == [
            replace(point, seconds=0.0) for point in two
        ]
        assert [point.equivalence_ratio for point in one] == list(RUNGS)
        assert all(point.status == "solved" for point in one)


def test_a_stopped_build_goes_on_where_it_stopped(units: tuple[WorkUnit, ...], tmp_path: Path) -> None:
    seen: list[tuple[int, int]] = []
    first = Inline()
    build.run(units[:1], first, tmp_path)
    again = Inline()
    build.run(units, again, tmp_path, progress=lambda done, total, name: seen.append((done, total)))
    assert (first.calls, again.calls) == (1, len(units) - 1)
    assert seen == [(1, 2), (2, 2)]


def test_a_lost_worker_loses_only_its_unit(units: tuple[WorkUnit, ...], tmp_path: Path) -> None:
    lost = units[0].name
    failed = build.run(units, Inline(lost=lost), tmp_path)
    assert list(failed) == [lost]
    assert "the worker is gone" in failed[lost]
    assert build.stored(tmp_path, units[1], build.Recipe.here()).is_file()
    counts = assemble(tmp_path, tmp_path / "out")
    assert counts["units"] == 1
    rows = read_csv(tmp_path / "out" / TABLE)
    assert [float(row["equivalence_ratio"]) for row in rows] == sorted(RUNGS)


def test_a_build_adds_to_a_table_of_the_same_recipe_and_replaces_another(
    units: tuple[WorkUnit, ...], tmp_path: Path
) -> None:
    build.run(units[:1], Inline(), tmp_path / "first")
    build.run(units[1:], Inline(), tmp_path / "second")
    out = tmp_path / "out"
    assemble(tmp_path / "first", out)
    before = read_csv(out / TABLE)
    assemble(tmp_path / "second", out)
    rows = read_csv(out / TABLE)
    assert len(rows) == len(before) + len(RUNGS)
    assert all(row in rows for row in before)
    text = (out / TABLE).read_text(encoding="utf-8")
    (out / TABLE).write_text(text.replace("Cantera 3", "Cantera 2", 1), encoding="utf-8")
    assemble(tmp_path / "second", out)
    assert len(read_csv(out / TABLE)) == len(RUNGS)


def test_a_bad_flame_is_recorded_and_the_next_still_solved(
    units: tuple[WorkUnit, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = ladder._rung

    def failing(unit: WorkUnit, state: Any, *rest: Any) -> Any:
        if state.equivalence_ratio == RUNGS[1]:
            raise TooFarError
        return whole(unit, state, *rest)

    monkeypatch.setattr(ladder, "_rung", failing)
    build.run(units[:1], Inline(), tmp_path)
    points = build.points_from_bytes(build.stored(tmp_path, units[0], build.Recipe.here()).read_bytes())
    assert ["solved" if point.status == "solved" else "not" for point in points] == [
        "solved",
        "not",
        "solved",
    ]
    assert "did not converge" in points[1].status


def test_a_profile_survives_its_file(units: tuple[WorkUnit, ...]) -> None:
    done = ladder.climb(replace(units[0], wide=True))
    content = build.ladder_to_bytes(done)
    seed = build.seeds_from_bytes(content)[1.0]
    assert seed.state == done.seeds[1.0].state
    assert np.allclose(seed.temperature_K, done.seeds[1.0].temperature_K, rtol=1e-6)
    again = build.seed_from_bytes(build.seed_to_bytes(seed))
    assert again.species == seed.species


def test_units_are_named_once_and_chosen_by_gas() -> None:
    every = [*first_units(), *second_units()]
    assert len({unit.name for unit in every}) == len(every)
    assert {phi for unit in first_units() if unit.label == "methane" for phi in unit.ladder} == set(
        EQUIVALENCE_RATIOS
    )
    assert {unit.label for unit in units_of(every, ["propane"])} == {"propane"}
    with pytest.raises(UserError, match="accepted"):
        units_of(every, ["benzene"])
