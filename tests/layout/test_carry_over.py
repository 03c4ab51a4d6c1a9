"""Who lights whom: distances, rows of ports, igniters that fail."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest

from burnerlab.appliance import Appliance, demonstration
from burnerlab.appliance.project.geometry_checks import Footprint
from burnerlab.appliance.project.project_file import read_appliance_text
from burnerlab.layout.carry_over import carry_over, distance_m, reached
from burnerlab.quantity import UserError

HEAD = """\
[appliance]
name = "row"
rating = "gross"
[supply]
gas = "natural-gas-typical"
pressure = "7 in w.c."
"""


def row(
    xs_mm: Sequence[float],
    *,
    igniters: Sequence[str] = (),
    heights: Sequence[float] = (),
    more: str = "",
    ports: str = 'diameter = "2 mm", count = 100',
) -> Appliance:
    """Equal tubes 20 mm wide with 2 mm ports, side by side."""
    text = HEAD + more
    for i, x in enumerate(xs_mm):
        text += f'[[burner]]\nname = "t{i}"\nrate = "12 kBtu/h"\norifice = {{ drill = "#54" }}\nthroat = "20 mm"\n'
        text += f"ports = {{ {ports} }}\n"
        if i < len(igniters) and igniters[i]:
            text += f'igniter = "{igniters[i]}"\n'
        high = heights[i] if heights else 90
        text += f'place = {{ x = "{x} mm", y = "0 mm", length = "400 mm", height = "{high} mm" }}\n'
    return read_appliance_text(text, "row.toml")


def strengths(appliance: Appliance) -> dict[tuple[str, str], str]:
    return {(link.from_burner, link.to_burner): link.strength for link in carry_over(appliance).links}


FEW = 'diameter = "2 mm", count = 30'  # taller flames


def test_near_likely_further_doubtful_far_none() -> None:
    """2 mm ports: likely to 6 mm free, where the flame of a third surely is as high; beyond its high end nothing."""
    appliance = row([0, 21, 46, 81])  # 1, 5 and 15 mm between the bodies
    third = next(flame for flame in carry_over(appliance).flames if flame.load < 1.0)
    assert third.height_at_least_m is not None
    assert third.height_at_most_m is not None
    assert 0.001 < third.height_at_least_m < 0.005 < third.height_at_most_m < 0.015
    found = strengths(appliance)
    assert found["t0", "t1"] == found["t1", "t0"] == "likely"
    assert found["t1", "t2"] == "doubtful"
    assert ("t2", "t3") not in found


def test_a_flame_does_not_light_what_lies_well_below_or_above_its_tip() -> None:
    assert strengths(row([0, 21], heights=[90, 103], ports=FEW)) == {("t0", "t1"): "doubtful"}
    assert strengths(row([0, 21], heights=[90, 180], ports=FEW)) == {}


def test_at_a_third_the_flame_is_a_third_as_high_and_reaches_less() -> None:
    """A neighbour 15 mm away is within reach at full rate and beyond it at a third: no link."""
    found = carry_over(row([0, 21]))
    full, third = (flame for flame in found.flames if flame.burner == "t0")
    assert full.height_m is not None
    assert third.height_m == pytest.approx(full.height_m * 0.333, rel=0.05)
    assert full.height_at_most_m is not None
    assert third.height_at_most_m is not None
    assert third.height_at_most_m < 0.015 < full.height_at_most_m
    assert ("t0", "t1") not in strengths(row([0, 35]))
    assert strengths(row([0, 26]))["t0", "t1"] == "doubtful"


def test_flame_heights_know_gas_air_and_the_shape_of_the_ports() -> None:
    """A line law that knew only the rate gave 68 mm here; a port flame of 35 W stands at 7 mm, its cone at 10 mm."""
    drilled = carry_over(row([0, 21])).flames[0]
    assert drilled.height_m == drilled.inner_cone_height_m == pytest.approx(0.010, abs=0.001)
    slots = carry_over(row([0, 21], ports='width = "1 mm", length = "8 mm", count = 40')).flames[0]
    assert slots.height_m is None
    assert slots.height_at_most_m is not None
    assert slots.height_at_most_m > 5 * drilled.height_m
    assert slots.note.startswith("the closed form holds for round and square ports")


def test_every_igniter_fails_once() -> None:
    found = carry_over(row([0, 21, 42], igniters=["left", "", "right"]))
    assert found.every_burner_reached_when_any_igniter_fails is True
    assert all(one.out_of_reach == one.only_over_doubtful_links == () for one in found.when_an_igniter_fails)
    broken = carry_over(row([0, 21, 90], igniters=["left", "", ""]))
    assert broken.every_burner_reached_when_any_igniter_fails is False
    assert broken.out_of_reach == ("t2",)
    assert broken.when_an_igniter_fails[0].out_of_reach == ("t0", "t1", "t2")


def test_weak_links_are_named() -> None:
    found = carry_over(row([0, 21, 46], igniters=["left", "", ""]))
    told = " | ".join(found.weak_links)
    assert "t1 - t2: doubtful (5.0 mm free, side by side, likely up to 6.0 mm)" in told
    assert "t0 - t1: the only way to t1, t2" in told


def test_a_row_of_ports_joins_burners_that_stand_apart() -> None:
    bridge = '[[carry_over]]\nfrom = "t0"\nto = "t1"\nport = "1.5 mm"\nspacing = "5 mm"\n'
    assert strengths(row([0, 140], more=bridge)) == {("t0", "t1"): "likely", ("t1", "t0"): "likely"}
    wide = bridge.replace('5 mm"\n', '12 mm"\n').replace('port = "12 mm"', 'port = "1.5 mm"')
    assert set(strengths(row([0, 140], more=wide)).values()) == {"doubtful"}


def test_without_ports_a_near_link_is_not_evaluated() -> None:
    text = HEAD
    for i, x in enumerate((0, 25)):
        text += f'[[burner]]\nname = "t{i}"\nrate = "12 kBtu/h"\norifice = {{ drill = "#54" }}\nthroat = "20 mm"\n'
        text += f'place = {{ x = "{x} mm", y = "0 mm", length = "400 mm", height = "90 mm" }}\n'
    found = carry_over(read_appliance_text(text, "row.toml"))
    assert {link.strength for link in found.links} == {"not evaluated"}


def test_the_demonstration_has_its_weak_place() -> None:
    found = carry_over(demonstration())
    assert any("griddle tube middle - griddle tube right: doubtful" in one for one in found.weak_links)
    assert found.evidence == "estimate"
    assert any("Test required" in prompt for prompt in found.prompts)
    (provoked,) = [prompt for prompt in found.prompts if "out of action" in prompt]
    assert provoked.startswith("Test rig only, by a qualified person, shut-off within reach")


def test_a_file_without_places_is_told() -> None:
    text = HEAD + '[[burner]]\nname = "a"\nrate = "12 kBtu/h"\norifice = { drill = "#54" }\n'
    with pytest.raises(UserError, match="no burner has a place with a height"):
        carry_over(read_appliance_text(text, "row.toml"))


def test_reach_grows_along_links_one_way() -> None:
    found = carry_over(row([0, 21], heights=[90, 103], ports=FEW))
    assert reached(["t0"], found.links, ("doubtful",)) == {"t0", "t1"}
    assert reached(["t1"], found.links, ("doubtful",)) == {"t1"}


def test_distances_between_footprints() -> None:
    tube = Footprint(x_m=0.0, y_m=0.0, u_m=0.4, v_m=0.02)
    assert distance_m(tube, Footprint(x_m=0.14, y_m=0.0, u_m=0.4, v_m=0.02)) == pytest.approx(0.12)
    assert distance_m(tube, tube) == 0.0
    ring = Footprint(x_m=0.3, y_m=0.0, u_m=0.2, v_m=0.2, disc=True)
    assert distance_m(tube, ring) == pytest.approx(0.19, abs=1e-3)
    square = Footprint(x_m=0.11, y_m=0.3, u_m=0.1, v_m=0.1)
    assert distance_m(tube, square) == pytest.approx(math.hypot(0.05, 0.05), rel=1e-9)
