"""The ceramic tile: its balance closes, nothing comes above the ceiling, and it moves the way a tile does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.burner.tile import (
    Before,
    Face,
    Firing,
    TileBurner,
    ceiling,
    corner_faces,
    efficiency_bound,
    face_balance,
    free_burning_mass_flux,
    mass_flux_kg_per_m2s,
    pot,
)
from burnerlab.burner.tile_evaluation import TileState, evaluate_tile, plenum_rise_K
from burnerlab.burner.tile_flame import (
    burned_enthalpy_J_per_kg,
    burned_gas,
    mixture,
    mixture_enthalpy_J_per_kg,
)
from burnerlab.gas import load, mix
from burnerlab.quantity import UserError

METHANE = mix({"methane": 1.0}, per="mole")
PROPANE = mix({"propane": 1.0}, per="mole")
TILE = TileBurner(area_m2=0.015)
SETTINGS = settings(max_examples=20)


def at(
    density_kW: float, aeration: float = 1.1, before: Before | None = None, tile: TileBurner = TILE
) -> TileState:
    return evaluate_tile(
        tile, PROPANE, density_kW * 1e3 * tile.area_m2, "net", Firing(aeration=aeration), before
    )


@SETTINGS
@given(
    density=st.floats(70.0, 400.0),
    aeration=st.floats(0.9, 1.3),
    emissivity=st.floats(0.3, 1.0),
    recovery=st.floats(0.0, 1.0),
    view=st.floats(0.0, 1.0),
    bright=st.floats(0.05, 1.0),
)
def test_nothing_comes_above_the_ceiling(
    density: float, aeration: float, emissivity: float, recovery: float, view: float, bright: float
) -> None:
    tile = TileBurner(area_m2=1.0, emissivity=emissivity, area_factor=1.0, recovery=recovery)
    before = Before(view_factor=view, target_emissivity=bright)
    found = at(density, aeration, before, tile)
    assert found.gas_leaving_temperature_K >= found.surface_temperature_K.value - 1e-4
    assert found.surface_temperature_K.high <= found.surface_temperature_ceiling_K * (1 + 1e-6)
    assert found.radiant_efficiency_net.high <= found.radiant_efficiency_ceiling_net * (1 + 1e-6)
    assert (
        found.radiant_efficiency_net.value
        <= found.radiant_efficiency_ceiling_at_surface_temperature_net * (1 + 1e-3)
    )


@SETTINGS
@given(density=st.floats(70.0, 400.0), recovery=st.floats(0.0, 1.0), loss=st.floats(0.0, 30.0))
def test_heat_in_is_heat_out(density: float, recovery: float, loss: float) -> None:
    mixed = mixture(METHANE, 1.1)
    flux = mass_flux_kg_per_m2s(METHANE, mixed, density * 1e3)
    burned = burned_gas(METHANE, 1.1, flux).temperature_K
    face = Face(emissivity=0.9, recovery=recovery, loss_W_per_m2K=loss)
    found = face_balance(mixed, flux, burned, face, Before())
    taken = flux * (
        mixture_enthalpy_J_per_kg(mixed, 293.15) - burned_enthalpy_J_per_kg(mixed, found.gas_out_K)
    )
    assert float(found.radiated_W_per_m2 + found.loss_W_per_m2) == pytest.approx(float(taken), rel=1e-5)


def test_a_face_that_recovers_everything_without_loss_is_at_the_ceiling() -> None:
    tile = TileBurner(area_m2=1.0, emissivity=0.9, area_factor=1.0, recovery=1.0, loss_W_per_m2K=0.0)
    found = at(150.0, tile=tile)
    assert found.surface_temperature_K.value == pytest.approx(found.surface_temperature_ceiling_K, abs=1e-3)
    assert found.at_ceiling
    assert next(f for f in found.findings if f.topic == "thermodynamic ceiling").verdict == "near"


def test_a_face_that_cannot_radiate_stops_at_the_temperature_of_its_gas() -> None:
    mirror = Before(view_factor=1.0, target_emissivity=0.001, target_K=293.15)
    mixed = mixture(METHANE, 1.1)
    flux = mass_flux_kg_per_m2s(METHANE, mixed, 100e3)
    burned = burned_gas(METHANE, 1.1, flux).temperature_K
    found = face_balance(mixed, flux, burned, Face(emissivity=0.9), mirror)
    assert bool(found.at_ceiling)
    assert float(found.face_K) > float(burned)
    assert float(found.face_K) == pytest.approx(float(ceiling(mixed, flux, 0.9, mirror).face_K), abs=1e-3)


def test_more_firing_radiates_more_and_a_smaller_share() -> None:
    states = [at(density) for density in (60.0, 100.0, 150.0, 250.0)]
    assert np.all(np.diff([state.surface_temperature_K.value for state in states]) > 0)
    assert np.all(np.diff([state.radiant_efficiency_net.value for state in states]) < 0)
    assert np.all(np.diff([state.radiated_W for state in states]) > 0)


def test_a_plane_face_cools_again_when_the_flame_stands_off() -> None:
    flat = TileBurner(area_m2=1.0, emissivity=0.9, area_factor=1.0, recovery=0.0, loss_W_per_m2K=0.0)
    faces = [at(density, 1 / 0.9, tile=flat).surface_temperature_K.value for density in (200.0, 400.0, 650.0)]
    assert faces[1] == max(faces)


def test_less_air_than_needed_or_much_more_cools_the_face() -> None:
    faces = [at(150.0, aeration).surface_temperature_K.value for aeration in (0.85, 1.05, 1.4)]
    assert faces[1] == max(faces)


@pytest.mark.parametrize("recovery", [0.0, 0.3])
def test_a_bright_pot_close_to_the_tile_raises_it_and_takes_less(recovery: float) -> None:
    tile = replace(TILE, recovery=recovery)
    dark = at(150.0, before=pot(view_factor=0.7, target_emissivity=0.72), tile=tile)
    bright = at(150.0, before=pot(view_factor=0.7, target_emissivity=0.22), tile=tile)
    assert bright.surface_temperature_K.value > dark.surface_temperature_K.value + 30.0
    assert bright.to_target_efficiency_net.value < dark.to_target_efficiency_net.value


def test_one_kilowatt_gross_is_less_than_one_net() -> None:
    gross = evaluate_tile(TILE, PROPANE, 2400.0, "gross", Firing(aeration=1.1))
    net = evaluate_tile(TILE, PROPANE, gross.heat_input_net_W, "net", Firing(aeration=1.1))
    assert gross.heat_input_net_W == pytest.approx(2400.0 * 46.33 / 50.33, rel=2e-3)
    assert net.surface_temperature_K.value == pytest.approx(gross.surface_temperature_K.value, abs=1e-6)
    assert gross.radiant_efficiency_gross.value < gross.radiant_efficiency_net.value


def test_scale_changes_watts_alone() -> None:
    small, large = at(150.0), at(150.0, tile=replace(TILE, area_m2=0.06))
    assert large.radiated_W == pytest.approx(4.0 * small.radiated_W, rel=1e-9)
    assert large.surface_temperature_K == small.surface_temperature_K


def test_a_given_figure_has_no_spread() -> None:
    certain = replace(TILE, emissivity=0.9, area_factor=1.0, recovery=0.2, loss_W_per_m2K=5.0)
    wide, narrow = at(150.0), at(150.0, tile=certain)
    assert narrow.surface_temperature_K.high - narrow.surface_temperature_K.low < 0.2 * (
        wide.surface_temperature_K.high - wide.surface_temperature_K.low
    )
    assert (
        wide.surface_temperature_K.low <= wide.surface_temperature_K.value <= wide.surface_temperature_K.high
    )


def test_own_table_stands_in_for_ours(tmp_path) -> None:  # type: ignore[no-untyped-def]
    own = tmp_path / "mine.csv"
    own.write_text(
        "name,value,low,high,unit,source,place,provenance,note\nrecovery,0.1,0.1,0.1,-,us,bench,measured here,\n"
    )
    mine = evaluate_tile(TILE, PROPANE, 2250.0, "net", Firing(aeration=1.1), own=own)
    assert mine.surface_temperature_K.value == pytest.approx(
        at(150.0, tile=replace(TILE, recovery=0.1)).surface_temperature_K.value, abs=1e-6
    )
    assert float(np.asarray(corner_faces(TILE, own)[0].recovery)) == 0.1


def test_a_million_faces_are_one_call() -> None:
    flux = np.linspace(0.03, 0.2, 1000)
    mixed = mixture(METHANE, 1.1)
    many = face_balance(
        mixed, flux, burned_gas(METHANE, 1.1, flux).temperature_K, Face(emissivity=0.9), Before()
    )
    for k in (0, 400, 999):
        gas = burned_gas(METHANE, 1.1, flux[k]).temperature_K
        one = face_balance(mixed, flux[k], gas, Face(emissivity=0.9), Before())
        assert float(many.face_K[k]) == pytest.approx(float(one.face_K), abs=1e-4)


def test_the_flame_leaves_a_face_fired_too_hard() -> None:
    with pytest.raises(UserError, match="the flame leaves the face") as error:
        evaluate_tile(TILE, METHANE, 400e3 * TILE.area_m2, "net", Firing(aeration=1.5))
    assert "below" in error.value.problems[0].accepted


@pytest.mark.parametrize(
    ("gas", "density", "aeration", "match"),
    [
        (PROPANE, 5.0, 1.1, "firing density"),
        (PROPANE, 5000.0, 1.1, "firing density"),
        (PROPANE, 150.0, 0.7, "aeration"),
        (PROPANE, 150.0, 5.0, "aeration"),
        (mix({"hydrogen": 1.0}, per="mole"), 150.0, 1.1, "too much hydrogen"),
        (load("trade-natural-1000"), 150.0, 1.1, "composition"),
    ],
)
def test_outside_the_table_nothing_is_extrapolated(
    gas: object, density: float, aeration: float, match: str
) -> None:
    with pytest.raises(UserError, match=match):
        evaluate_tile(TILE, gas, density * 1e3 * TILE.area_m2, "net", Firing(aeration=aeration))


def test_arrays_hold_nan_where_no_flame_heats_the_face() -> None:
    mixed = mixture(METHANE, 1.5)
    flux = np.array([0.05, 0.3, 5.0])  # a flame, one that lifted, one outside the table
    found = face_balance(
        mixed, flux, burned_gas(METHANE, 1.5, flux).temperature_K, Face(emissivity=0.9), Before()
    )
    assert np.isfinite(found.face_K).tolist() == [True, False, False]
    assert found.lifted.tolist() == [False, True, False]


def test_wrong_tiles_are_refused_all_at_once() -> None:
    with pytest.raises(UserError) as error:
        TileBurner(area_m2=0.0, emissivity=1.5, recovery=float("nan"))
    assert [problem.key for problem in error.value.problems] == ["tile area", "emissivity", "recovery"]


def test_the_plenum_side_is_hottest_at_low_fire() -> None:
    assert plenum_rise_K(700.0, 20.0, 0.013, 0.5) > plenum_rise_K(800.0, 66.0, 0.013, 0.5)
    low, full = at(50.0), at(150.0)
    assert low.plenum_side_temperature_K.value > full.plenum_side_temperature_K.value
    wide = {f.topic: f.verdict for f in low.findings}
    assert wide["light-back, plenum side"] == "near"
    assert wide["firing density"] == "outside"


def test_findings_speak_of_light_back_and_the_trade_figure() -> None:
    fine = {f.topic: f for f in at(150.0, tile=replace(TILE, channel_diameter_m=1.1e-3)).findings}
    wide = {f.topic: f for f in at(150.0, tile=replace(TILE, channel_diameter_m=4e-3)).findings}
    bare = {f.topic: f for f in at(150.0).findings}
    assert fine["light-back, channel"].verdict == "within"
    assert wide["light-back, channel"].verdict == "outside"
    assert bare["light-back, channel"].verdict == "not evaluated"
    face = fine["face temperature, plausibility"]
    assert face.high == pytest.approx(982.2, abs=0.1)
    assert "common practice" in face.text
    assert {f.evidence for f in fine.values()} <= {"estimate", "recalled", "published"}


def test_a_rich_flame_is_told_to_need_air() -> None:
    found = {f.topic: f for f in at(150.0, 0.9).findings}
    assert found["aeration"].verdict == "outside"
    assert "carbon monoxide" in found["aeration"].text


def test_altitude_lowers_the_free_burning_flux() -> None:
    mixed = mixture(METHANE, 1.2)
    sea = free_burning_mass_flux(METHANE, mixed, Firing(aeration=1.2))
    high = free_burning_mass_flux(METHANE, mixed, Firing(aeration=1.2, pressure_Pa=80e3))
    assert float(high / sea) == pytest.approx((80e3 / 101325.0) ** 0.65, rel=1e-3)


def test_the_bound_falls_with_the_face() -> None:
    faces = np.array([800.0, 1000.0, 1200.0])
    bound = efficiency_bound(METHANE, mixture(METHANE, 1.1), faces)
    assert np.all(np.diff(bound) < 0)


@pytest.mark.parametrize("density_kW", [150.0, 230.0])
def test_the_ends_of_its_air_widen_the_band_of_the_face_in_quadrature(density_kW: float) -> None:
    """Each end calculated as a tile of that air; the sum written out here."""
    heat_W = density_kW * 1e3 * TILE.area_m2

    def state(aeration: float, low: float | None = None, high: float | None = None) -> TileState:
        firing = Firing(aeration=aeration, aeration_low=low, aeration_high=high)
        return evaluate_tile(TILE, PROPANE, heat_W, "net", firing)

    alone, whole, ends = state(1.15), state(1.15, 1.02, 1.3), [state(1.02), state(1.3)]
    for name in ("surface_temperature_K", "radiant_efficiency_net"):
        before, after = getattr(alone, name), getattr(whole, name)
        changes = [0.0, *(getattr(end, name).value - before.value for end in ends)]
        assert after.value == before.value
        assert after.value - after.low == pytest.approx(np.hypot(before.value - before.low, min(changes)))
        assert after.high - after.value == pytest.approx(np.hypot(before.high - before.value, max(changes)))
    assert whole.surface_temperature_K.low < alone.surface_temperature_K.low
    assert whole.plenum_side_temperature_K.low < alone.plenum_side_temperature_K.low


def test_an_air_beyond_the_table_of_flames_counts_as_its_end() -> None:
    firing = Firing(aeration=1.15, aeration_low=0.3, aeration_high=9.0)
    found = evaluate_tile(TILE, PROPANE, 150e3 * TILE.area_m2, "net", firing).surface_temperature_K
    assert found.low < found.value < found.high


@pytest.mark.parametrize("basis", ["Net", "brutto", ""])
def test_a_rate_on_no_known_basis_is_refused(basis: str) -> None:
    with pytest.raises(UserError, match="basis"):
        evaluate_tile(TILE, METHANE, 2400.0, basis, Firing(aeration=1.1))  # type: ignore[arg-type]
