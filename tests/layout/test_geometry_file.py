"""The geometry of a project file: what is read, and how overlap and nonsense are told."""

from __future__ import annotations

from dataclasses import replace

import pytest

from burnerlab.appliance import Appliance, demonstration
from burnerlab.appliance.conversion.tiles import hot_tile_firing
from burnerlab.appliance.project.geometry_checks import Footprint, inside, overlap
from burnerlab.appliance.project.project_file import read_appliance_text
from burnerlab.burner.tile import Firing, TileBurner
from burnerlab.burner.tile_evaluation import Band, evaluate_tile
from burnerlab.gas import Gas, load
from burnerlab.layout.layout_study import grate_named, layout_of
from burnerlab.quantity import UserError

BASE = """\
[appliance]
name = "trial"
rating = "net"
[supply]
gas = "natural-gas-typical"
pressure = "7 in w.c."
[grate]
x = "200 mm"
y = "0 mm"
width = "400 mm"
depth = "400 mm"
height = "190 mm"
[box]
x = "200 mm"
y = "0 mm"
width = "440 mm"
depth = "440 mm"
lid = "closed"
lid_height = "400 mm"
[[shield]]
x = "100 mm"
y = "0 mm"
length = "300 mm"
width = "60 mm"
height = "130 mm"
[[burner]]
name = "left"
rate = "3 kW"
orifice = { drill = "#54" }
throat = "16 mm"
place = { x = "100 mm", y = "0 mm", length = "300 mm", height = "90 mm" }
[[burner]]
name = "right"
rate = "3 kW"
orifice = { drill = "#54" }
throat = "16 mm"
place = { x = "300 mm", y = "0 mm", length = "300 mm", height = "90 mm" }
"""


def trial() -> Appliance:
    return read_appliance_text(BASE, "trial.toml")


def refused(old: str, new: str) -> str:
    assert old in BASE
    with pytest.raises(UserError) as caught:
        read_appliance_text(BASE.replace(old, new, 1), "trial.toml")
    return str(caught.value)


def test_the_layout_of_a_file() -> None:
    layout = layout_of(trial())
    assert [burner.name for burner in layout.burners] == ["left", "right"]
    assert [burner.heat_input_W for burner in layout.burners] == [3000.0, 3000.0]
    assert (layout.surface.width_m, layout.surface.z_m) == (0.4, 0.19)
    assert layout.room is not None
    assert layout.room.lid_z_m is None  # no burner above: the closed lid is not in this map
    assert any("the lid of" in note for note in layout.notes)
    assert [cover.width_m for cover in layout.covers] == [0.06]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('x = "300 mm", y', 'x = "105 mm", y', ["line 37", "overlaps left"]),
        ('height = "130 mm"', 'height = "80 mm"', ["line 25", "is not above left at 90 mm"]),
        ('height = "130 mm"', 'height = "200 mm"', ["line 25", "is not below cooking surface"]),
        ('lid_height = "400 mm"', 'lid_height = "150 mm"', ["line 19", "is not above cooking surface"]),
        ('lid_height = "400 mm"\n', "", ["lid_height is not given"]),
        ('width = "440 mm"', 'width = "300 mm"', ["is cut by cooking surface"]),
        ('height = "90 mm" }', 'height = "190 mm" }', ["stands in the plane of cooking surface"]),
        ('height = "90 mm" }', 'height = "300 mm" }', ["faces up from above", 'facing = "down"']),
        ('height = "90 mm" }', 'height = "90 mm", facing = "upp" }', ["is not a facing", "did you mean up?"]),
        ('depth = "400 mm"', 'dept = "400 mm"', ["unknown key dept", "did you mean depth?"]),
        ('lid = "closed"', 'lid = "shut"', ["is not open or closed"]),
        ('width = "60 mm"', 'width = "6"', ["unit"]),
        ('height = "190 mm"', 'height = "19 m"', ["height"]),
        ('width = "400 mm"', "width = true", ["boolean"]),
        ('x = "200 mm"', "x = nan", ["must be finite"]),
        ("[[shield]]\nx = \"100 mm\"", "[[shield]]\nx = \"-900 mm\"", ["lies under no cooking surface"]),
        ('length = "300 mm"\nwidth', 'length = "500 mm"\nwidth', ["reaches through the wall of box"]),
    ],
)  # fmt: skip
def test_nonsense_is_told_at_its_line(old: str, new: str, words: list[str]) -> None:
    told = refused(old, new)
    assert all(word in told for word in words), told


def test_every_problem_at_once() -> None:
    text = BASE.replace('lid_height = "400 mm"', 'lid_height = "150 mm"').replace(
        'x = "300 mm", y', 'x = "105 mm", y'
    )
    with pytest.raises(UserError) as caught:
        read_appliance_text(text, "trial.toml")
    assert len(caught.value.problems) == 2


def test_a_file_without_geometry_still_reads_and_is_told_what_it_lacks() -> None:
    bare = BASE.partition("[grate]")[0] + "[[burner]]" + BASE.partition("[[burner]]")[2]
    appliance = read_appliance_text(bare, "bare.toml")
    with pytest.raises(UserError, match=r"gives no cooking surface.*add \[grate\]"):
        layout_of(appliance)


def test_an_unknown_surface_is_told_the_known() -> None:
    with pytest.raises(UserError, match="griddle, stock-pot stand, broiler grate"):
        grate_named(demonstration(), "gridle")


def test_several_burners_at_one_place_are_refused() -> None:
    text = BASE.replace('name = "right"', 'name = "right"\ncount = 2')
    with pytest.raises(UserError, match="gives one place for 2 burners"):
        layout_of(read_appliance_text(text, "trial.toml"))


def test_the_gas_changes_the_radiated_share_only_where_nothing_is_known() -> None:
    cart = demonstration()
    natural, propane = layout_of(cart), layout_of(cart, gas=load("propane"))
    assert natural.burners[0].radiant < propane.burners[0].radiant
    given = read_appliance_text(
        BASE.replace('throat = "16 mm"', 'throat = "16 mm"\nheat = { radiant = "15 %" }'), "t.toml"
    )
    assert layout_of(given, gas=load("propane")).burners[0].radiant == pytest.approx(0.15)


def _share_of_the_tile(cart: Appliance, firing: Firing | None) -> Band:
    """Radiated over net heat input of the broiler at its rate, by the balance of its face."""
    assert firing is not None
    burner = next(b for b in cart.burners if b.name == "tile broiler")
    place, gas = burner.places[0], cart.supply.gas
    assert isinstance(gas, Gas)
    tile = TileBurner(area_m2=(place.length_m or 0.0) * (place.width_m or 0.0))
    return evaluate_tile(tile, gas, burner.rate_W, "gross", firing).radiant_efficiency_net


def test_a_tile_takes_its_share_from_the_balance_of_its_face_or_its_temperature() -> None:
    cart = demonstration()
    tile = next(b for b in layout_of(cart, "broiler grate").burners if b.name == "tile broiler")
    assert tile.form == "panel"
    assert tile.radiant_span is not None
    assert tile.radiant_span.low < tile.radiant < tile.radiant_span.high < 0.63
    burner = next(b for b in cart.burners if b.name == "tile broiler")
    share = _share_of_the_tile(cart, hot_tile_firing(cart, burner))
    assert (tile.radiant, tile.radiant_span.low, tile.radiant_span.high) == pytest.approx(
        (share.value, share.low, share.high)
    )
    bare = replace(cart, burners=tuple(replace(b, throat_m=None) if b is burner else b for b in cart.burners))
    assert hot_tile_firing(bare, next(b for b in bare.burners if b.name == burner.name)) is None
    assumed = layout_of(bare, "broiler grate")
    unknown = next(b for b in assumed.burners if b.name == "tile broiler")
    assert unknown.radiant == pytest.approx(_share_of_the_tile(cart, Firing(aeration=1.1)).value)
    assert any("assumed" in note for note in assumed.notes if note.startswith("tile broiler: "))


def test_rates_of_a_gross_file_are_made_net() -> None:
    cart = demonstration()
    gross = cart.burners[0].rate_W
    net = layout_of(cart).burners[0].heat_input_W
    assert net / gross == pytest.approx(0.90, abs=0.01)


# footprints


def test_footprints_that_touch_do_not_overlap() -> None:
    a = Footprint(x_m=0.0, y_m=0.0, u_m=0.4, v_m=0.1)
    assert not overlap(a, Footprint(x_m=0.1, y_m=0.0, u_m=0.4, v_m=0.1))
    assert overlap(a, Footprint(x_m=0.09, y_m=0.0, u_m=0.4, v_m=0.1))


def test_turned_and_round_footprints() -> None:
    a = Footprint(x_m=0.0, y_m=0.0, u_m=0.4, v_m=0.02)
    turned = Footprint(x_m=0.15, y_m=0.0, u_m=0.4, v_m=0.02, angle_rad=1.5707963)
    assert overlap(a, turned)
    disc = Footprint(x_m=0.12, y_m=0.0, u_m=0.2, v_m=0.2, disc=True)
    assert not overlap(a, disc)
    assert overlap(a, Footprint(x_m=0.10, y_m=0.0, u_m=0.2, v_m=0.2, disc=True))
    corner = Footprint(x_m=0.085, y_m=0.275, u_m=0.2, v_m=0.2, disc=True)
    assert not overlap(a, corner)  # nearer than a square of its size, yet clear
    assert inside(disc, Footprint(x_m=0.0, y_m=0.0, u_m=1.0, v_m=1.0))
