"""Flames that reach a shield or the surface are a finding; others are not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from burnerlab.appliance import demonstration
from burnerlab.layout.cooking_surface import Cover, Emitter, Layout, Surface
from burnerlab.layout.flame_contact import flame_contacts
from burnerlab.layout.layout_study import layout_of, study_layout

TUBE = Emitter(
    name="tube", form="line", x_m=0.0, y_m=0.0, z_m=0.09, length_m=0.3, width_m=0.025, heat_input_W=3e3,
    radiant=0.1, capture=0.3,
)  # fmt: skip
RING = replace(TUBE, name="ring", form="ring", x_m=0.1, radius_m=0.05)
SHIELD = Cover(
    name="shield", x_m=0.0, y_m=0.0, z_m=0.13, length_m=0.3, width_m=0.06, angle_rad=0.0, emissivity=0.8
)
SURFACE = Surface(name="grate", x_m=0.0, y_m=0.0, z_m=0.19, width_m=0.4, depth_m=0.4)


@pytest.mark.parametrize(
    ("flame_m", "touched"),
    [(None, []), (0.039, []), (0.04, ["shield"]), (0.099, ["shield"]), (0.1, ["grate", "shield"])],
)
def test_a_flame_touches_what_is_no_higher_than_it_is_tall(flame_m: float | None, touched: list[str]) -> None:
    layout = Layout(surface=SURFACE, burners=(replace(TUBE, flame_height_m=flame_m),), covers=(SHIELD,))
    found = flame_contacts(layout)
    assert sorted(contact.touches for contact in found) == touched
    assert all(contact.verdict == "near" and "carbon monoxide" in contact.text for contact in found)


@pytest.mark.parametrize("burner", [TUBE, RING], ids=lambda burner: burner.form)
def test_a_shield_beside_a_flame_is_not_touched(burner: Emitter) -> None:
    away = replace(SHIELD, x_m=-0.2)
    tall = replace(burner, flame_height_m=0.06)
    assert flame_contacts(Layout(surface=SURFACE, burners=(tall,), covers=(away,))) == ()
    over = replace(SHIELD, x_m=burner.x_m, width_m=0.12)
    assert len(flame_contacts(Layout(surface=SURFACE, burners=(tall,), covers=(over,)))) == 1


def test_a_closed_lid_acts_or_is_not_drawn() -> None:
    """The demonstration's rear burner heats under the lid; without it the lid is out of the map, and that is said."""
    cart = demonstration()
    assert layout_of(cart, "griddle").room.lid_z_m is not None  # type: ignore[union-attr]
    flat = replace(cart, burners=tuple(b for b in cart.burners if b.name != "rear burner"))
    study = study_layout(flat, "griddle", grid=(6, 4))
    assert study.map.layout.room.lid_z_m is None  # type: ignore[union-attr]
    assert any("the lid" in note and "not in this map" in note for note in study.notes)
