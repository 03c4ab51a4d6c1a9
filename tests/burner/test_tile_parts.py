"""The parts of the tile's balance: enthalpies against Cantera, radiation by hand, flames solved again."""

from __future__ import annotations

from time import process_time
from types import SimpleNamespace

import numpy as np
import pytest

from burnerlab.burner.tile import STEFAN_BOLTZMANN, Before, apparent_emissivity, radiated_W_per_m2
from burnerlab.burner.tile_flame import (
    BURNED,
    burned_amounts,
    burned_enthalpy_J_per_kg,
    burned_gas,
    burned_temperature_K,
    flame_table,
    fuel_shares,
    mixture,
    mixture_enthalpy_J_per_kg,
)
from burnerlab.flame import adiabatic_flame_temperature_K
from burnerlab.gas import load, mix
from burnerlab.quantity import UserError

METHANE = mix({"methane": 1.0}, per="mole")
GRI = {"carbon dioxide": "CO2", "water": "H2O", "oxygen": "O2", "carbon monoxide": "CO", "hydrogen": "H2"}


@pytest.mark.parametrize("aeration", [0.8, 1.0, 1.25])
@pytest.mark.parametrize("temperature_K", [900.0, 1300.0, 1700.0])
def test_heat_given_up_is_that_of_cantera_s_equilibrium(aeration: float, temperature_K: float) -> None:
    cantera = pytest.importorskip("cantera")
    gas = cantera.Solution("gri30.yaml")
    mixed = mixture(METHANE, aeration)
    air = float(mixed.air_mol_per_mol)
    parts = {"CH4": 1.0, "O2": 0.2095 * air, "N2": 0.7809 * air, "AR": 0.0096 * air}
    gas.TPX = 298.15, 101325.0, parts
    start = gas.enthalpy_mass
    gas.TP = temperature_K, 101325.0
    gas.equilibrate("TP")
    ours = mixture_enthalpy_J_per_kg(mixed, 298.15) - burned_enthalpy_J_per_kg(mixed, temperature_K)
    whole = start - _cold(cantera, parts)
    assert float(ours) == pytest.approx(start - gas.enthalpy_mass, abs=0.01 * whole)


def _cold(cantera, parts):  # type: ignore[no-untyped-def]
    gas = cantera.Solution("gri30.yaml")
    gas.TPX = 400.0, 101325.0, parts
    gas.equilibrate("TP")
    return gas.enthalpy_mass


@pytest.mark.parametrize("name", ["propane", "natural-gas-typical", "G25", "hydrogen-blend-20"])
@pytest.mark.parametrize("aeration", [0.7, 0.95, 1.0, 1.3])
def test_no_atom_is_lost(name: str, aeration: float) -> None:
    mixed = mixture(load(name), aeration)
    n = dict(zip(BURNED, np.moveaxis(burned_amounts(mixed, 1400.0), -1, 0), strict=True))
    assert n["carbon dioxide"] + n["carbon monoxide"] == pytest.approx(mixed.carbon, rel=1e-12)
    assert 2 * (n["water"] + n["hydrogen"]) == pytest.approx(mixed.hydrogen, rel=1e-12)
    oxygen = 2 * n["carbon dioxide"] + n["carbon monoxide"] + n["water"] + 2 * n["oxygen"]
    assert oxygen == pytest.approx(mixed.oxygen, rel=1e-9)
    assert all(amount >= -1e-12 for amount in n.values())


def test_burned_out_gas_is_a_little_hotter_than_a_dissociated_flame() -> None:
    mixed = mixture(METHANE, 1 / np.array([0.6, 0.7, 0.8]))
    ours = burned_temperature_K(mixed, mixture_enthalpy_J_per_kg(mixed, 298.15))
    full = adiabatic_flame_temperature_K(METHANE, np.array([0.6, 0.7, 0.8])).temperature_K
    assert np.all(ours > full)
    assert np.all(ours - full < 25.0)


def test_water_in_the_air_cools_the_burned_gas() -> None:
    dry, damp = mixture(METHANE, 1.1), mixture(METHANE, 1.1, 0.03)
    flame = [float(burned_temperature_K(m, mixture_enthalpy_J_per_kg(m, 298.15))) for m in (dry, damp)]
    assert 20.0 < flame[0] - flame[1] < 80.0


def test_a_face_alone_radiates_as_a_grey_body() -> None:
    found = radiated_W_per_m2(1100.0, 0.85, Before(surroundings_K=300.0))
    assert float(found.from_face) == pytest.approx(
        0.85 * STEFAN_BOLTZMANN * (1100.0**4 - 300.0**4), rel=1e-12
    )


def test_a_target_as_hot_as_the_surroundings_and_black_is_not_noticed() -> None:
    black = Before(surroundings_K=300.0, view_factor=0.6, target_emissivity=1.0, target_K=300.0)
    alone = Before(surroundings_K=300.0)
    assert float(radiated_W_per_m2(1100.0, 0.8, black).from_face) == pytest.approx(
        float(radiated_W_per_m2(1100.0, 0.8, alone).from_face), rel=1e-12
    )


def test_in_balance_nothing_flows() -> None:
    same = Before(surroundings_K=700.0, view_factor=0.4, target_emissivity=0.3, target_K=700.0)
    found = radiated_W_per_m2(700.0, 0.6, same)
    assert float(found.from_face) == pytest.approx(0.0, abs=1e-9)
    assert float(found.to_target) == pytest.approx(0.0, abs=1e-9)


def test_a_wide_target_takes_what_the_same_view_gives() -> None:
    equal = Before(view_factor=0.6, target_emissivity=1.0, target_K=293.15, target_area_ratio=1.0)
    wide = Before(view_factor=0.6, target_emissivity=1.0, target_K=293.15, target_area_ratio=3.0)
    assert float(radiated_W_per_m2(1100.0, 0.8, wide).from_face) == pytest.approx(
        float(radiated_W_per_m2(1100.0, 0.8, equal).from_face), rel=1e-12
    )


def test_hollows_make_a_face_blacker_and_never_more_than_black() -> None:
    found = apparent_emissivity(0.6, np.array([1.0, 2.0, 5.0, 1e9]))
    assert float(found[0]) == pytest.approx(0.6)
    assert np.all(np.diff(found) > 0)
    assert float(found[-1]) == pytest.approx(1.0)


@pytest.mark.parametrize(
    "given",
    [
        {"view_factor": 1.2},
        {"view_factor": float("nan")},
        {"target_emissivity": 0.0},
        {"view_factor": 0.8, "target_area_ratio": 0.5},
    ],
)
def test_an_enclosure_that_cannot_be_is_refused(given: dict[str, float]) -> None:
    with pytest.raises(UserError):
        Before(**given)


def test_the_table_is_met_at_its_own_points() -> None:
    table = flame_table()
    for i, fuel in enumerate(table.fuels[:2]):
        for j in (1, 4, 6):
            phi = table.equivalence_ratios[j]
            found = burned_gas(mix({fuel: 1.0}, per="mole"), 1 / phi, table.mass_fluxes).temperature_K
            np.testing.assert_allclose(found, 1 / table.inverse_K[i, j], rtol=1e-9)


def test_the_gas_is_hotter_the_more_of_it_comes_and_cooler_the_leaner_it_is() -> None:
    flux = np.geomspace(0.02, 0.4, 60)
    assert np.all(np.diff(burned_gas(METHANE, 1.2, flux).temperature_K) > 0)
    assert np.all(np.diff(burned_gas(METHANE, np.linspace(1.02, 1.6, 30), 0.06).temperature_K) < 0)


def test_between_its_points_the_table_does_not_ripple() -> None:
    """Leave every second mass flux out: the rest gives it back within 4 K."""
    table = flame_table()
    nodes, T = np.log(table.mass_fluxes), 1 / table.inverse_K
    for k in range(2, nodes.size - 2, 2):
        near = [k - 2, k - 1, k + 1, k + 2]
        weights = [
            np.prod([(nodes[k] - nodes[j]) / (nodes[i] - nodes[j]) for j in near if j != i]) for i in near
        ]
        guess = 1 / sum(w * table.inverse_K[..., i] for w, i in zip(weights, near, strict=True))
        assert np.max(np.abs(guess - T[..., k])) < 8.0


def test_blends_lie_between_and_pure_fuels_are_exact() -> None:
    half = mix({"methane": 0.5, "propane": 0.5}, per="mole")
    ends = [
        float(burned_gas(mix({name: 1.0}, per="mole"), 1.1, 0.06).temperature_K)
        for name in ("methane", "propane")
    ]
    assert min(ends) <= float(burned_gas(half, 1.1, 0.06).temperature_K) <= max(ends)
    assert fuel_shares(METHANE).exact
    assert not fuel_shares(half).exact


def test_hydrogen_takes_more_of_the_heat_out_of_its_gas() -> None:
    shares = (0.0, 0.1, 0.2, 0.4)
    gases = [mix({"methane": 1 - h, "hydrogen": h}, per="mole") if h else METHANE for h in shares]
    assert np.all(np.diff([float(burned_gas(gas, 1.1, 0.06).temperature_K) for gas in gases]) < 0)


DIRECT = {
    "n-butane": ({"n-butane": 1.0}, 1600.8, 8.0),
    "LPG 70/30": ({"propane": 0.7, "n-butane": 0.3}, 1597.3, 8.0),
    "ethane": ({"ethane": 1.0}, 1540.3, 8.0),
    "natural gas": ({"methane": 0.9, "ethane": 0.05, "propane": 0.02, "nitrogen": 0.03}, 1603.9, 8.0),
    "20 % hydrogen": ({"methane": 0.8, "hydrogen": 0.2}, 1594.3, 8.0),
    "biogas": ({"methane": 0.6, "carbon dioxide": 0.4}, 1606.3, 18.0),
}


@pytest.mark.golden
@pytest.mark.parametrize("name", DIRECT)
def test_other_fuels_are_within_the_stated_error_of_their_direct_solution(name: str) -> None:
    parts, solved_K, error_K = DIRECT[name]
    found = burned_gas(mix(parts, per="mole"), 1 / 0.9, 0.04).temperature_K
    assert float(found) == pytest.approx(solved_K, abs=error_K)


@pytest.mark.slow
def test_a_flame_solved_again_is_the_one_of_the_table(monkeypatch: pytest.MonkeyPatch) -> None:
    """The limit of a point is counted in processor time here, whatever else the machine does."""
    from burnerlab.burner import tile_flame_solver
    from burnerlab.burner.tile_flame_solver import new_flame, solve_point

    monkeypatch.setattr(tile_flame_solver, "time", SimpleNamespace(monotonic=process_time))
    parts = {"methane": 1.0}
    for aeration, flux in ((1 / 0.85, 0.06), (1 / 0.95, 0.12)):  # off the grid
        found = solve_point(new_flame(parts, 1 / aeration), parts, 1 / aeration, flux)
        assert found is not None
        table_K = float(burned_gas(METHANE, aeration, flux).temperature_K)
        assert table_K == pytest.approx(found.burned_gas_K, abs=6.0)
