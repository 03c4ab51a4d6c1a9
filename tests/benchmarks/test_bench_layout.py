"""Heat map, one evaluation of the search and the search itself, each as a ratio to a named peer in the same run."""

from __future__ import annotations

from time import perf_counter
from typing import Any

import numpy as np
import pytest
from timing import best_s

from burnerlab.appliance import demonstration
from burnerlab.layout import search
from burnerlab.layout.constraints import LayoutLimits
from burnerlab.layout.cooking_surface import Cover, Emitter, Layout, Room, Surface, grid_over
from burnerlab.layout.heat_map import heat_map, pieces
from burnerlab.layout.layout_study import layout_of
from burnerlab.layout.placement import net_share
from burnerlab.layout.search import GRID, optimise

TUBES = 12


def shielded_tubes(count: int = TUBES, shield_m: float = 0.06) -> Layout:
    """Tubes 90 mm apart under shields in a box with a closed lid; shields wider than that lie over one another."""
    xs = (np.arange(count) - (count - 1) / 2) * 0.09
    surface = Surface(name="s", x_m=0.0, y_m=0.0, z_m=0.19, width_m=0.09 * count, depth_m=0.44)
    burners = tuple(
        Emitter(
            name=str(i), form="line", x_m=float(x), y_m=0.0, z_m=0.09, length_m=0.4, width_m=0.025,
            heat_input_W=3300.0, radiant=0.1, capture=0.3,
        )
        for i, x in enumerate(xs)
    )  # fmt: skip
    covers = tuple(
        Cover(
            name=str(i),
            x_m=float(x),
            y_m=0.0,
            z_m=0.125,
            length_m=0.42,
            width_m=shield_m,
            angle_rad=0.0,
            emissivity=0.8,
        )
        for i, x in enumerate(xs)
    )
    room = Room(x_m=0.0, y_m=0.0, width_m=0.09 * count + 0.02, depth_m=0.48, loss=0.3, lid_z_m=0.45)
    return Layout(surface=surface, burners=burners, covers=covers, room=room)


def test_map_of_twelve_tubes_with_shields(benchmark: Any) -> None:
    """Against numpy summing each tube's bare kernel at 64 points along it, without shields, box or hot gas."""
    layout = shielded_tubes()
    grid = grid_over(layout.surface, 200, 200)
    along = np.linspace(-0.2, 0.2, 64)

    def kernel() -> Any:
        total = np.zeros(grid.shape)
        for burner in layout.burners:
            across2 = (grid.x_m - burner.x_m) ** 2 + 0.01
            for t in along:
                total += across2 / (across2 + (grid.y_m - t) ** 2) ** 2
        return total

    benchmark(heat_map, layout, grid)
    most = 1 if benchmark.disabled else 5
    spent, peer = best_s(lambda: heat_map(layout, grid), most), best_s(kernel, min(most, 3))
    print(
        f"map 200 x 200, 12 tubes with shields: {spent:.3f} s of 0.25 s, {spent / peer:.2f} x the bare kernel sum"
    )


def test_map_of_sixteen_tubes_under_shields_that_overlap(benchmark: Any) -> None:
    """Against the same tubes under shields that lie apart."""
    apart, over = shielded_tubes(16), shielded_tubes(16, 0.2)
    grid = grid_over(apart.surface, 24, 16)
    benchmark(heat_map, over, grid)
    spent, peer = best_s(lambda: heat_map(over, grid), 3), best_s(lambda: heat_map(apart, grid), 3)
    print(
        f"map 24 x 16, 16 tubes, overlapping shields: {spent:.2f} s, {spent / peer:.1f} x that of shields apart"
    )


def test_one_evaluation_of_the_search(benchmark: Any) -> None:
    """Against one linear solve of the size of a fine radiosity of the box (400 patches)."""
    layout = layout_of(demonstration())
    grid = grid_over(layout.surface, *GRID)
    matrix = np.eye(400) + 0.001 * np.random.default_rng(1).random((400, 400))
    benchmark(pieces, layout, grid)
    most = 1 if benchmark.disabled else 50
    spent, peer = (
        best_s(lambda: pieces(layout, grid), most),
        best_s(lambda: np.linalg.solve(matrix, matrix[0]), min(most, 20)),
    )
    print(
        f"one evaluation, four burners in a box: {1e3 * spent:.2f} ms of 5 ms, {spent / peer:.2f} x a 400-patch solve"
    )


def test_search_of_the_demonstration(benchmark: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Against its evaluations alone; where nothing is measured a search of one generation."""
    if benchmark.disabled:
        monkeypatch.setattr(search, "GENERATIONS", 1)
        monkeypatch.setattr(search, "LOCAL_EVALUATIONS", 10)
    cart = demonstration()
    layout = layout_of(cart)
    assert cart.space is not None
    study, limits = cart.space.study, LayoutLimits(spacing_m=0.09, flame_clearance_m=0.01)
    from dataclasses import replace

    assert study.total_rate_W is not None
    study = replace(study, total_rate_W=study.total_rate_W * net_share(cart.supply.gas))
    start = perf_counter()
    found = benchmark.pedantic(optimise, (layout, study, limits), rounds=1, iterations=1)
    spent = perf_counter() - start
    grid = grid_over(layout.surface, *GRID)
    peer = found.evaluations * best_s(lambda: pieces(layout, grid), 1 if benchmark.disabled else 20)
    print(
        f"search, four designs: {spent:.1f} s of 20 s, {found.evaluations} evaluations, {spent / peer:.2f} x their time"
    )
