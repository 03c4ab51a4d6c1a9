"""A plate against closed solutions of the fin and the lumped body, and what must follow."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

from burnerlab import tables
from burnerlab.appliance.project.geometry import PlateMaterial
from burnerlab.layout import plate as module
from burnerlab.layout.cooking_surface import Layout, PlateSheet, Room, Surface
from burnerlab.layout.enclosure import below, own_loss
from burnerlab.layout.layout_study import plate_case
from burnerlab.layout.plate import PlateCase, PlateLoss, plate_loss, plate_state
from tests.layout.test_heat_map import layouts

SHEET = PlateSheet(
    material="carbon steel", thickness_m=0.006, conductivity_W_per_mK=50.0, density_kg_per_m3=7850.0,
    specific_heat_J_per_kgK=500.0, emissivity=0.8,
)  # fmt: skip
CASE = PlateCase()


def griddle(**changed: float) -> Layout:
    layout = layouts()
    sheet = replace(SHEET, **changed)
    return replace(layout, surface=replace(layout.surface, plate=True, sheet=sheet), covers=())


def linear(length_m: float = 0.4, **changed: float) -> module._Plate:
    """A plate that loses by convection alone, so that its solutions are closed."""
    surface = Surface(name="p", x_m=0, y_m=0, z_m=0.2, width_m=length_m, depth_m=0.3, plate=True)
    sheet = replace(SHEET, emissivity=0.0, **changed)
    loss = PlateLoss(convection_W_per_m2K=40.0, radiates=0.0)
    return module._Plate(Layout(surface=surface, burners=()), sheet, CASE, loss)


@pytest.mark.parametrize("waves", [1, 2, 3])
def test_a_wave_of_heat_is_flattened_as_in_a_fin(waves: int) -> None:
    """q0 + q1 cos(n pi x/L) gives q0/h + q1 cos(n pi x/L)/(h + k t (n pi/L)^2): the fin equation, any textbook."""
    plate, x = linear(), (np.arange(24) + 0.5) / 24
    wave = np.cos(waves * math.pi * x)
    flux = np.broadcast_to(10_000 + 4_000 * wave, (16, 24))
    rise = plate.steady(flux) - CASE.ambient_K
    expected = 10_000 / 40 + 4_000 * wave / (40 + 50 * 0.006 * (waves * math.pi / 0.4) ** 2)
    assert rise == pytest.approx(np.broadcast_to(expected, rise.shape), rel=0.004)


def test_an_even_flux_heats_as_a_lumped_body() -> None:
    """T - Ta = (q/h)(1 - exp(-h t/(rho c thickness)))."""
    plate = linear()
    course = plate.heating(np.full((16, 24), 15_000.0))
    time = 7850 * 500 * 0.006 / 40 * -math.log(1 - (CASE.preheat_K - CASE.ambient_K) * 40 / 15_000)
    assert course.reaches(CASE.preheat_K) == pytest.approx(time, rel=0.03)
    assert course.is_even_after(0.0) is not None or course.variation.max() < 1e-9


def test_what_comes_in_is_given_off() -> None:
    layout = griddle()
    state = plate_state(layout, CASE)
    assert state is not None
    plate = module._Plate(layout, SHEET, CASE, plate_loss(layout, SHEET, CASE))
    from burnerlab.layout.cooking_surface import grid_over
    from burnerlab.layout.heat_map import pieces

    flux = pieces(layout, grid_over(layout.surface, *module.CELLS))[0].flux(layout).sum(axis=0)
    assert plate.loss(state.steady_K).mean() == pytest.approx(flux.mean(), rel=1e-6)


def test_conduction_evens_out_and_a_thicker_plate_more_and_slower() -> None:
    thin, thick = (plate_state(griddle(thickness_m=t), CASE) for t in (0.004, 0.012))
    bad = plate_state(griddle(conductivity_W_per_mK=16.0), CASE)
    same = plate_state(griddle(), CASE)
    assert thin is not None
    assert thick is not None
    assert bad is not None
    assert same is not None
    for one in (thin, thick, bad, same):
        assert one.given_off_variation < one.flux_variation
        assert one.steady_min_K < one.steady_mean_K < one.steady_max_K
    assert thick.rise_variation < thin.rise_variation
    assert same.rise_variation < bad.rise_variation
    assert thin.preheat_s is not None
    assert thick.preheat_s is not None
    assert thick.preheat_s == pytest.approx(3 * thin.preheat_s, rel=0.05)  # three times the mass
    assert thick.spread_length_m > thin.spread_length_m


def test_finer_cells_change_little(monkeypatch: pytest.MonkeyPatch) -> None:
    coarse = plate_state(griddle(), CASE)
    monkeypatch.setattr(module, "CELLS", (48, 32))
    fine = plate_state(griddle(), CASE)
    assert coarse is not None
    assert fine is not None
    assert coarse.steady_mean_K == pytest.approx(fine.steady_mean_K, rel=2e-3)
    assert coarse.rise_variation == pytest.approx(fine.rise_variation, rel=0.03)
    assert coarse.preheat_s == pytest.approx(fine.preheat_s, rel=0.01)


def test_more_heat_is_faster_and_the_band_says_so() -> None:
    state = plate_state(griddle(), CASE, (0.5, 1.5))
    assert state is not None
    assert state.preheat_s is not None
    assert state.preheat_low_s is not None
    assert state.preheat_low_s < state.preheat_s < (state.preheat_high_s or math.inf)
    weak = replace(griddle(), burners=tuple(replace(b, heat_input_W=100.0) for b in griddle().burners))
    cold = plate_state(weak, CASE)
    assert cold is not None
    assert (cold.preheat_s, cold.food_drop_K) == (None, None)


def test_cold_food_takes_the_heat_it_holds() -> None:
    """More food or better contact pulls the plate lower; none at all leaves it as it is."""
    drops = []
    for food, contact in ((0.01, 250.0), (5.0, 250.0), (10.0, 250.0), (10.0, 500.0)):
        state = plate_state(griddle(), replace(CASE, food_kg_per_m2=food, food_contact_W_per_m2K=contact))
        assert state is not None
        assert state.food_drop_K is not None
        drops.append(state.food_drop_K)
    assert drops == sorted(drops)
    assert drops[0] < 2.0


def test_what_the_underside_radiates_and_loses() -> None:
    """In the open all of it; in a box that loses nothing and that the surface closes, none."""
    layout = griddle()
    alone = replace(layout, room=None)
    assert own_loss(below(alone), alone) == pytest.approx(layout.surface.absorptance)
    s = layout.surface
    room = Room(x_m=s.x_m, y_m=s.y_m, width_m=s.width_m, depth_m=s.depth_m, loss=0.0)
    closed = replace(layout, room=room)
    assert own_loss(below(closed), closed) == pytest.approx(0.0, abs=1e-6)
    between = replace(layout, room=replace(room, loss=0.3))
    assert 0.0 < own_loss(below(between), between) < layout.surface.absorptance


def test_an_open_grate_has_no_plate() -> None:
    assert plate_state(layouts(), CASE) is None


def test_the_key_names_the_materials_of_the_table() -> None:
    assert [row["material"] for row in tables.rows("plate_materials")] == list(get_args(PlateMaterial))


def test_the_preheat_temperature_is_that_of_the_griddle_test() -> None:
    """ASTM F1275: from room temperature to 365 F, seen on a public page."""
    assert plate_case().preheat_K == pytest.approx((365 - 32) / 1.8 + 273.15)
