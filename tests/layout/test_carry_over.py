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
    xs_mm: Sequence[float], *, igniters: Sequence[str] = (), heights: Sequence[float] = (), more: str = ""
) -> Appliance:
    """Equal tubes 20 mm wide with 2 mm ports, side by side."""
    text = HEAD + more
    for i, x in enumerate(xs_mm):
        text += f'[[burner]]\nname = "t{i}"\nrate = "12 kBtu/h"\norifice = {{ drill = "#54" }}\nthroat = "20 mm"\n'
        text += 'ports = { diameter = "2 mm", count = 100 }\n'
        if i < len(igniters) and igniters[i]:
            text += f'igniter = "{igniters[i]}"\n'
        high = heights[i] if heights else 90
        text += f'place = {{ x = "{x} mm", y = "0 mm", length = "400 mm", height = "{high} mm" }}\n'
    return read_appliance_text(text, "row.toml")


def strengths(appliance: Appliance) -> dict[tuple[str, str], str]:
    return {(link.from_burner, link.to_burner): link.strength for link in carry_over(appliance).links}


def test_near_likely_further_doubtful_far_none() -> None:
    """2 mm ports: likely to 6 mm free, lost beyond 20 mm."""
    found = strengths(row([0, 25, 60, 120]))  # 5, 15 and 40 mm between the bodies
    assert found["t0", "t1"] == found["t1", "t0"] == "likely"
    assert found["t1", "t2"] == "doubtful"
    assert ("t2", "t3") not in found


def test_a_flame_does_not_light_what_lies_well_below_or_above_its_tip() -> None:
    assert strengths(row([0, 25], heights=[90, 120]))["t0", "t1"] == "likely"
    assert ("t1", "t0") not in strengths(row([0, 25], heights=[90, 120]))
    assert strengths(row([0, 25], heights=[90, 180])) == {}


def test_at_a_third_the_flame_is_shorter_and_reaches_less() -> None:
    """A neighbour 45 mm higher is below the tip at full rate and above it at a third: no link."""
    found = carry_over(row([0, 25], heights=[90, 110]))
    heights = {flame.load: flame.height_at_most_m for flame in found.flames if flame.burner == "t0"}
    full, third = heights[1.0], heights[0.333]
    assert full is not None
    assert third == pytest.approx(full * 0.333 ** (2 / 3), rel=1e-9)
    assert third < 0.045 < full
    assert ("t0", "t1") in strengths(row([0, 25], heights=[90, 110]))
    assert ("t0", "t1") not in strengths(row([0, 25], heights=[90, 135]))


def test_every_igniter_fails_once() -> None:
    found = carry_over(row([0, 25, 50], igniters=["left", "", "right"]))
    assert found.every_burner_reached_when_any_igniter_fails is True
    assert all(one.out_of_reach == one.only_over_doubtful_links == () for one in found.when_an_igniter_fails)
    broken = carry_over(row([0, 25, 90], igniters=["left", "", ""]))
    assert broken.every_burner_reached_when_any_igniter_fails is False
    assert broken.out_of_reach == ("t2",)
    assert broken.when_an_igniter_fails[0].out_of_reach == ("t0", "t1", "t2")


def test_weak_links_are_named() -> None:
    found = carry_over(row([0, 25, 60], igniters=["left", "", ""]))
    told = " | ".join(found.weak_links)
    assert "t1 - t2: doubtful (15.0 mm free, side by side, likely up to 6.0 mm)" in told
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
    found = carry_over(row([0, 25], heights=[90, 120]))
    assert reached(["t0"], found.links, ("likely",)) == {"t0", "t1"}
    assert reached(["t1"], found.links, ("likely",)) == {"t1"}


def test_distances_between_footprints() -> None:
    tube = Footprint(x_m=0.0, y_m=0.0, u_m=0.4, v_m=0.02)
    assert distance_m(tube, Footprint(x_m=0.14, y_m=0.0, u_m=0.4, v_m=0.02)) == pytest.approx(0.12)
    assert distance_m(tube, tube) == 0.0
    ring = Footprint(x_m=0.3, y_m=0.0, u_m=0.2, v_m=0.2, disc=True)
    assert distance_m(tube, ring) == pytest.approx(0.19, abs=1e-3)
    square = Footprint(x_m=0.11, y_m=0.3, u_m=0.1, v_m=0.1)
    assert distance_m(tube, square) == pytest.approx(math.hypot(0.05, 0.05), rel=1e-9)
