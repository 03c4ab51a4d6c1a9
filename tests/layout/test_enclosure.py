"""Radiosity and the box: what cannot be lost is not lost, and shields end up where a balance by hand puts them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from burnerlab.layout.cooking_surface import Cover, Emitter, Layout, Room, Surface, grid_over
from burnerlab.layout.enclosure import back_irradiance, below, nodes
from burnerlab.layout.heat_map import heat_map, pieces
from burnerlab.layout.radiation import STEFAN_BOLTZMANN, between_plates_W_per_m2, exchange
from burnerlab.layout.view_factors import opposed_rectangles
from burnerlab.quantity import UserError

WHOLE = Surface(
    name="plate", x_m=0.0, y_m=0.0, z_m=0.19, width_m=0.46, depth_m=0.44, plate=True, absorptance=0.8
)
BOX = Room(x_m=0.0, y_m=0.0, width_m=0.46, depth_m=0.44, loss=0.0)


def tubes(count: int = 3) -> tuple[Emitter, ...]:
    xs = (np.arange(count) - (count - 1) / 2) * 0.14
    return tuple(
        Emitter(
            name=f"tube {i}", form="line", x_m=float(x), y_m=0.0, z_m=0.09, length_m=0.4, width_m=0.025,
            heat_input_W=3500.0, radiant=0.1, capture=0.3,
        )
        for i, x in enumerate(xs)
    )  # fmt: skip


def shields(count: int = 3, **changed: float) -> tuple[Cover, ...]:
    return tuple(
        Cover(
            name=f"shield {i}", x_m=tube.x_m, y_m=0.0, z_m=0.125, length_m=0.4, width_m=0.06, angle_rad=0.0,
            emissivity=0.8, **changed,
        )
        for i, tube in enumerate(tubes(count))
    )  # fmt: skip


def landed(layout: Layout, maps: np.ndarray) -> np.ndarray:
    """Power that the maps bring to the surface."""
    return maps.reshape(len(layout.burners), -1).mean(axis=1) * layout.surface.area_m2


@pytest.mark.parametrize("covers", [(), shields()], ids=["bare", "shields"])
def test_a_box_that_loses_nothing_brings_all_radiation_to_the_surface(covers: tuple[Cover, ...]) -> None:
    layout = Layout(surface=WHOLE, burners=tubes(), covers=covers, room=BOX)
    maps, _ = pieces(layout, grid_over(WHOLE, 120, 120))
    assert landed(layout, maps.radiated) == pytest.approx(np.ones(3), abs=0.01)


def test_what_the_gas_leaves_in_a_shield_is_radiated_to_the_surface() -> None:
    layout = Layout(surface=WHOLE, burners=tubes(), covers=shields(), room=BOX)
    maps, _ = pieces(layout, grid_over(WHOLE, 120, 120))
    assert landed(layout, maps.reheated) == pytest.approx(np.full(3, layout.shape.shield_uptake), rel=0.01)


def test_walls_that_lose_bring_less() -> None:
    maps = [
        pieces(
            Layout(surface=WHOLE, burners=tubes(), room=replace(BOX, loss=loss)), grid_over(WHOLE, 30, 30)
        )[0]
        for loss in (0.0, 0.3, 1.0)
    ]
    sums = [one.radiated.sum() for one in maps]
    assert sums[0] > sums[1] > sums[2]


def test_heat_in_the_gas_is_shared_once() -> None:
    """Footprint over a surface much larger than the plume, and the shield's uptake, make up the whole."""
    wide = replace(WHOLE, width_m=3.0, depth_m=3.0, plate=False)
    layout = Layout(surface=wide, burners=tubes(), covers=shields())
    maps, _ = pieces(layout, grid_over(wide, 300, 300))
    assert landed(layout, maps.carried) == pytest.approx(np.full(3, 1 - layout.shape.shield_uptake), rel=1e-4)


def test_a_shield_alone_settles_where_its_two_faces_balance() -> None:
    """One shield in the open: it emits from both faces what lands on its underside and what the gas leaves in it."""
    (tube,) = tubes(1)
    (shield,) = shields(1)
    layout = Layout(surface=replace(WHOLE, absorptance=1.0), burners=(tube,), covers=(shield,))
    x, y, weights = nodes((0.0, 0.0), (0.4, 0.06), (40, 20))
    from burnerlab.layout.radiation import irradiance

    onto = float(weights @ irradiance(tube, x, y, 0.125))
    radiated, gas = 3500.0 * 0.1, 3500.0 * 0.9
    power = radiated * onto / 2 + gas * layout.shape.shield_uptake / (2 * 0.8 * shield.area_m2)
    expected = (power / STEFAN_BOLTZMANN + 293.15**4) ** 0.25
    found = heat_map(layout).shields[0]
    assert found.temperature_K == pytest.approx(expected, rel=2e-3)


def test_a_shield_given_a_temperature_glows_with_it() -> None:
    layout = Layout(surface=WHOLE, burners=tubes(), covers=shields(temperature_K=900.0), room=BOX)
    found = heat_map(layout)
    assert [state.temperature_K for state in found.shields] == [900.0] * 3
    hotter = heat_map(replace(layout, covers=shields(temperature_K=1000.0)))
    assert hotter.evenness.mean > found.evenness.mean


def test_the_spline_between_coarse_points_keeps_the_field() -> None:
    layout = Layout(surface=WHOLE, burners=tubes(), covers=shields(), room=replace(BOX, loss=0.3))
    grid = grid_over(WHOLE, 100, 90)
    half = below(layout)
    fine = back_irradiance(half, layout, grid.x_m, grid.y_m)
    exact = back_irradiance(half, layout, grid.x_m.ravel(), grid.y_m.ravel()).reshape(fine.shape)
    assert np.abs(fine - exact).max() <= 2e-3 * np.abs(exact).max()


# exchange of grey surfaces


def opposed_plates() -> np.ndarray:
    F = float(opposed_rectangles(1.0, 1.0, 1.0))
    return np.array([[0.0, F, 1 - F], [F, 0.0, 1 - F], [0.0, 0.0, 0.0]])


def test_two_plates_open_to_a_room() -> None:
    """The worked numbers of the physics notes, computed there with another program."""
    F = opposed_plates()
    found = exchange(F, [0.8, 0.5, 1.0], [1000.0, 500.0, 300.0])
    assert found.radiosity_W_per_m2[:2] == pytest.approx([45_697.130, 6_521.465], rel=1e-7)
    assert found.net_W_per_m2[:2] == pytest.approx([44_026.458, -2_977.481], rel=3e-7)


def test_many_enclosures_at_once_are_each_alone() -> None:
    F = np.stack([opposed_plates()] * 3)
    T = np.array([[1000.0, 500.0, 300.0], [900.0, 400.0, 300.0], [800.0, 500.0, 290.0]])
    together = exchange(F, [0.8, 0.5, 1.0], T).net_W_per_m2
    alone = [exchange(F[0], [0.8, 0.5, 1.0], row).net_W_per_m2 for row in T]
    assert together == pytest.approx(np.array(alone), rel=1e-12)


def test_a_reradiating_wall_keeps_no_heat() -> None:
    F = np.array([[0, 0.5, 0.5], [0.5, 0, 0.5], [0.5, 0.5, 0]])
    found = exchange(F, [0.8, 0.5, 0.5], [1000.0, 500.0, 300.0], [False, False, True])
    assert found.net_W_per_m2[2] == pytest.approx(0.0, abs=1e-9)
    assert found.net_W_per_m2.sum() == pytest.approx(0.0, abs=1e-8)


def test_exchange_by_gebharts_factors() -> None:
    F = np.array([[0, 0.5, 0.5], [0.25, 0.25, 0.5], [0.25, 0.5, 0.25]])
    A, e = np.array([1.0, 2.0, 2.0]), np.array([0.8, 0.5, 0.3])
    # Gebhart's factors, B = F eps + F (1 - eps) B: what each surface absorbs of what another emits (layout-textbook)
    B = np.linalg.solve(np.eye(3) - F * (1.0 - e), F * e)
    assert B.sum(axis=1) == pytest.approx(np.ones(3), rel=1e-12)
    assert e * A * B.T == pytest.approx((e * A * B.T).T, rel=1e-12)
    T = np.array([1000.0, 500.0, 300.0])
    net = exchange(F, e, T).net_W_per_m2
    power = (e * A)[:, None] * B * STEFAN_BOLTZMANN * (T[:, None] ** 4 - T[None, :] ** 4)
    assert power.sum(axis=1) == pytest.approx(A * net, rel=1e-10)


def test_a_shield_between_plates() -> None:
    assert float(between_plates_W_per_m2(1000, 500, 0.8, 0.5)) == pytest.approx(23_626.56, abs=0.01)
    F = np.array([[0, 1, 0, 0], [1, 0, 0, 0], [0, 0, 0, 1], [0, 0, 1, 0]], dtype=float)
    # the shield's two faces as surfaces at one temperature; found where their fluxes cancel
    from scipy.optimize import brentq

    def surplus(T: float) -> float:
        net = exchange(F, [0.8, 0.1, 0.1, 0.5], [1000.0, T, T, 500.0]).net_W_per_m2
        return float(net[1] + net[2])

    T = brentq(surplus, 500, 1000)
    flux = exchange(F, [0.8, 0.1, 0.1, 0.5], [1000.0, T, T, 500.0]).net_W_per_m2[0]
    assert float(between_plates_W_per_m2(1000, 500, 0.8, 0.5, [0.1])) == pytest.approx(float(flux), rel=1e-9)


def test_impossible_view_factors_are_refused() -> None:
    with pytest.raises(UserError, match="view factors"):
        exchange([[0.6, 0.6], [0.5, 0.5]], [0.5, 0.5], [300.0, 400.0])
