"""Outer panels: the network against what can be solved by hand, and the limits beside it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from burnerlab import tables
from burnerlab.appliance import demonstration
from burnerlab.appliance.project.geometry import Panel, PanelSheet
from burnerlab.layout.hot_panels import (
    PanelSurroundings,
    cases,
    limits_beside,
    plate_W_per_m2K,
    skin_temperatures,
    skins,
)
from burnerlab.layout.radiation import STEFAN_BOLTZMANN
from burnerlab.quantity import UserError

STEEL = PanelSheet(
    thickness_m=0.001, conductivity_W_per_mK=15.0, emissivity=0.3, emissivity_low=0.2, emissivity_high=0.5
)


def panel(*sheets: PanelSheet, inside_K: float = 550.0, level: bool = False) -> Panel:
    return Panel(
        name="side", inside_K=inside_K, height_m=0.4, level=level, sheets=sheets or (STEEL,), material="metal"
    )


def around(*, sheets: int = 1, **changed: float) -> PanelSurroundings:
    given = {"inside_W_per_m2K": 10.0, "outside_factor": 1.0, "gap_factor": 1.0, "vent_share": 0.0} | changed
    return PanelSurroundings(emissivity=np.full(sheets, 0.3), **given)


def test_one_sheet_balances_inside_against_outside() -> None:
    found = skin_temperatures(panel(), around())
    inner, outer = found.faces_K
    inside = 10.0 * (550.0 - inner) + 0.3 * STEFAN_BOLTZMANN * (550.0**4 - inner**4)
    h = float(plate_W_per_m2K(outer, 298.15, panel()))
    outside = h * (outer - 298.15) + 0.3 * STEFAN_BOLTZMANN * (outer**4 - 298.15**4)
    assert inside == pytest.approx(outside, rel=1e-6)
    assert 15.0 / 0.001 * (inner - outer) == pytest.approx(outside, rel=1e-4)
    assert found.inside_W_per_m2 == pytest.approx(outside, rel=1e-6)


@pytest.mark.parametrize("vented", [False, True])
def test_heat_in_is_heat_out(vented: bool) -> None:
    outer = replace(STEEL, gap_m=0.02, vented=vented)
    found = skin_temperatures(panel(STEEL, outer), around(sheets=2, vent_share=0.5))
    assert found.inside_W_per_m2 == pytest.approx(
        float(found.outside_W_per_m2 + found.vented_W_per_m2), rel=1e-6
    )
    assert (float(found.vented_W_per_m2) > 0) is vented


def test_a_shield_a_vent_and_a_bright_face_cool_the_outside() -> None:
    second = replace(STEEL, gap_m=0.02)
    bare = skin_temperatures(panel(), around()).faces_K[-1]
    shielded = skin_temperatures(panel(STEEL, second), around(sheets=2)).faces_K[-1]
    vented = skin_temperatures(
        panel(STEEL, replace(second, vented=True)), around(sheets=2, vent_share=0.5)
    ).faces_K[-1]
    assert bare > shielded > vented > 298.15


def test_thick_insulation_approaches_the_room() -> None:
    wool = replace(STEEL, thickness_m=1.0, conductivity_W_per_mK=0.04)
    found = skin_temperatures(panel(wool), around())
    assert found.faces_K[-1] == pytest.approx(298.15, abs=3.0)
    assert found.faces_K[0] == pytest.approx(550.0, abs=1.0)


def test_every_face_lies_between_room_and_inside() -> None:
    sheets = (STEEL, replace(STEEL, gap_m=0.02, vented=True), replace(STEEL, gap_m=0.01))
    _, corners = cases(sheets)
    for hot in (320.0, 550.0, 900.0):
        found = skin_temperatures(panel(*sheets, inside_K=hot), corners).faces_K
        assert np.all(found > 298.15)
        assert np.all(found < hot)
        assert np.all(np.diff(found, axis=-1) <= 1e-9)


def test_one_case_and_many_agree() -> None:
    nominal, corners = cases((STEEL,))
    many = skin_temperatures(panel(), corners).faces_K
    for i in (0, 13, 31):
        one = PanelSurroundings(
            emissivity=corners.emissivity[i],
            **{
                name: float(np.asarray(getattr(corners, name))[i])
                for name in ("inside_W_per_m2K", "outside_factor", "gap_factor", "vent_share")
            },
        )
        assert skin_temperatures(panel(), one).faces_K == pytest.approx(many[i], rel=1e-9)
    middle = skin_temperatures(panel(), nominal).faces_K[-1]
    assert many[..., -1].min() < middle < many[..., -1].max()


def test_the_demonstration_says_above_in_the_band_and_below() -> None:
    found = skins(demonstration())
    lid = found.panels[0]
    assert lid.outer_temperature_low_K < lid.outer_temperature_K < lid.outer_temperature_high_K
    assert {limit.position for limit in lid.limits} <= {"calculated above", "in the band", "calculated below"}
    assert any("label their rows differently" in note for note in lid.disagreements)
    assert found.evidence == "estimate"


def test_a_hotter_room_lifts_rises_and_skins() -> None:
    cool, warm = skins(demonstration(), 288.15), skins(demonstration(), 308.15)
    assert warm.panels[0].outer_temperature_K > cool.panels[0].outer_temperature_K
    rise = [next(one for one in s.panels[0].limits if one.is_rise) for s in (cool, warm)]
    assert rise[1].temperature_K - rise[0].temperature_K == pytest.approx(20.0)


def test_limits_stand_beside_one_another_with_their_sources() -> None:
    found = limits_beside("metal", 330.0, 340.0, 298.15)
    assert [one.temperature_K for one in found] == sorted(one.temperature_K for one in found)
    assert all(one.source and one.provenance in tables.PROVENANCES for one in found)
    assert {one.kind for one in found} >= {"product limit", "burn threshold", "combustible"}
    knob = next(one for one in found if one.name == "range handles and knobs")
    assert knob.temperature_K - 273.15 == pytest.approx(55.0, abs=0.01)
    assert {one.material for one in limits_beside("glass", 330, 340, 298.15)} <= {
        "glass", "any", "skin contact", "wood nearby"
    }  # fmt: skip


def test_a_range_counts_as_met_only_beyond_its_far_end() -> None:
    touch = next(one for one in limits_beside("metal", 340.0, 341.0, 298.15) if one.name == "touch for 1 s")
    assert touch.position == "in the band"  # 65 to 70 C against 67 to 68 C


def test_files_without_panels_and_cold_insides_are_told() -> None:
    cart = demonstration()
    assert cart.space is not None
    with pytest.raises(UserError, match="describes no outer panel"):
        skins(replace(cart, space=replace(cart.space, panels=())))
    cold = replace(cart.space.panels[0], inside_K=290.0)
    with pytest.raises(UserError, match="is not above the room"):
        skins(replace(cart, space=replace(cart.space, panels=(cold,))))
