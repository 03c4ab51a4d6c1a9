"""Every kilowatt is somewhere, and where rays say it is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from burnerlab.layout.cooking_surface import Layout, grid_over
from burnerlab.layout.heat_balance import balance_rows, heat_balance
from burnerlab.layout.heat_map import cell_band, heat_map
from tests.layout.test_heat_map import layouts, stacked
from tests.layout.test_ray_trace import BOX, CASES, SURFACE, TUBE, traced

WHOLE = layouts()
CASES_OF_LAYOUTS = {
    "box and lid": WHOLE,
    "open lid": replace(WHOLE, room=replace(WHOLE.room, lid_z_m=None)),  # type: ignore[type-var]
    "open": replace(WHOLE, room=None),
    "at an angle": layouts(0.3),
    "stacked": stacked(WHOLE),
    "without shields": replace(WHOLE, covers=()),
    "given temperature": replace(WHOLE, covers=tuple(replace(c, temperature_K=700.0) for c in WHOLE.covers)),
}


@pytest.mark.parametrize("name", CASES_OF_LAYOUTS)
def test_the_balance_closes(name: str) -> None:
    """To 1e-6 of the heat input; map and enclosure, two ways of integrating the surface, agree to 0.5 %."""
    found = heat_balance(heat_map(CASES_OF_LAYOUTS[name]))
    assert found.sum_W == pytest.approx(found.heat_input_net_W, rel=1e-6)
    assert abs(found.integration_difference) < 0.005
    for part in ("surface_radiation_W", "surface_gas_W", "walls_W", "lid_W", "opening_W", "gas_W"):
        assert getattr(found, part) >= 0.0, part
    assert abs(found.shields_W) < 1e-6 or name == "given temperature"


def test_the_surface_of_the_balance_is_that_of_the_map() -> None:
    found = heat_map(WHOLE)
    balance = heat_balance(found)
    taken = balance.surface_radiation_W + balance.surface_gas_W
    assert taken == pytest.approx(found.uptake * balance.heat_input_net_W, rel=1e-9)


@pytest.mark.parametrize("name", CASES)
def test_floor_walls_and_opening_take_what_rays_bring_them(name: str) -> None:
    rays, lost = traced(CASES[name])
    layout = Layout(surface=SURFACE, burners=(replace(TUBE, radiant=0.9999),), covers=CASES[name], room=BOX)
    balance = heat_balance(heat_map(layout))
    assert balance.surface_radiation_W == pytest.approx(rays.sum(), abs=0.01)
    assert balance.walls_W == pytest.approx(lost["walls"], abs=0.01)
    assert balance.opening_W == pytest.approx(lost["opening"], abs=0.01)


def test_walls_that_keep_nothing_and_a_surface_over_the_whole_box_leave_only_gas() -> None:
    room = replace(WHOLE.room, loss=0.0, lid_z_m=None)  # type: ignore[type-var]
    surface = replace(WHOLE.surface, x_m=room.x_m, y_m=room.y_m, width_m=room.width_m, depth_m=room.depth_m)
    layout = replace(WHOLE, room=room, surface=surface, burners=WHOLE.burners[:2])
    balance = heat_balance(heat_map(layout))
    radiated = sum(b.heat_input_W * b.radiant for b in layout.burners)
    assert balance.walls_W == pytest.approx(0.0, abs=1e-6)
    assert balance.opening_W < 0.01 * radiated
    assert {label for label, _ in balance_rows([balance])} >= {"surface, as radiation", "hot gas that leaves"}


def test_the_map_of_finer_and_finer_grids_settles() -> None:
    """Mean and most of the map of 12, 24, 48 and 96 cells: each step changes less than the one before."""
    found = [heat_map(WHOLE, grid_over(WHOLE.surface, n, n)).evenness for n in (12, 24, 48, 96)]
    for values in ([one.mean for one in found], [one.maximum for one in found]):
        steps = np.abs(np.diff(values)) / values[-1]
        assert steps[2] < 0.01
        assert steps[2] <= max(steps[0], 1e-3)


def test_every_place_lies_in_its_band() -> None:
    from tests.layout.test_grid_fit import layout

    made = heat_map(layout(), grid_over(layout().surface, 20, 16))
    band = cell_band(made)
    assert np.all(band.flux_low_W_per_m2 <= made.flux_W_per_m2)
    assert np.all(made.flux_W_per_m2 <= band.flux_high_W_per_m2)
    known = heat_map(replace(WHOLE, covers=()), grid_over(WHOLE.surface, 6, 4))
    assert cell_band(known).flux_high_W_per_m2 == pytest.approx(known.flux_W_per_m2)  # no spans, no band
