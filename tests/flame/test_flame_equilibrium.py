"""Adiabatic flame temperature against Cantera with the full mechanism, and relations any flame obeys."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.flame import (
    adiabatic_flame_temperature_K,
    equilibrium_by_cantera,
    flame_arrays,
)
from burnerlab.gas.combustion_air import humidity_from_relative
from burnerlab.gas.composition import Composition
from burnerlab.tables.problem import UserError

FUELS = ("methane", "ethane", "propane", "ethylene", "hydrogen", "carbon monoxide")
few = settings(max_examples=20)


def gas(mix: dict[str, float]) -> Composition:
    return Composition.of(mix, per="mole", normalize=True)


def ours_and_judge(mix: dict[str, float], *state: float) -> tuple[float, float]:
    found = gas(mix)
    return float(adiabatic_flame_temperature_K(found, *state).temperature_K), equilibrium_by_cantera(
        found, *state
    )


def test_random_flames_are_within_0_05_K_of_the_full_mechanism() -> None:
    """The stated range: phi 0.4 to 2, air 250 to 600 K, 60 to 110 kPa, humid air, blends of GRI-Mech fuels."""
    rng = np.random.default_rng(7)
    worst = 0.0
    for _ in range(120):
        mix = dict(zip(FUELS, rng.dirichlet(np.full(6, 0.3)), strict=True))
        phi, fuel, air = rng.uniform(0.4, 2.0), rng.uniform(250, 400), rng.uniform(250, 600)
        pressure, humidity = rng.uniform(6e4, 1.1e5), rng.uniform(0, 0.03)
        ours, judge = ours_and_judge(mix, phi, fuel, air, pressure, humidity)
        worst = max(worst, abs(ours - judge))
    assert worst < 0.02


@pytest.mark.parametrize("fuel", FUELS)
@pytest.mark.parametrize("phi", [0.4, 1.0, 2.0])
def test_corners_of_the_range_are_within_0_05_K(fuel: str, phi: float) -> None:
    for air, pressure in ((250.0, 6e4), (600.0, 1.1e5)):
        ours, judge = ours_and_judge({fuel: 1.0}, phi, 298.15, air, pressure, 0.0)
        assert ours == pytest.approx(judge, abs=0.05)


@pytest.mark.parametrize(
    "mix",
    [
        {"propylene": 1.0},
        {"n-butane": 0.5, "isobutane": 0.5},
        {"1-butene": 0.3, "cis-2-butene": 0.2, "trans-2-butene": 0.2, "isobutylene": 0.3},
        {"n-pentane": 0.4, "isopentane": 0.3, "neopentane": 0.1, "n-hexane": 0.2},
        {"1,3-butadiene": 1.0},
        {"methane": 0.6, "CO2": 0.3, "helium": 0.1},
        {"propane": 0.5, "air": 0.5},
        {"methane": 0.996, "H2S": 0.004},
    ],
    ids=lambda mix: "+".join(mix),
)
def test_fuels_outside_the_mechanism_join_with_their_own_enthalpy(mix: dict[str, float]) -> None:
    for phi in (0.5, 1.0, 1.3):
        ours, judge = ours_and_judge(mix, phi)
        assert ours == pytest.approx(judge, abs=0.06)


def test_a_very_lean_and_a_very_rich_flame_stay_within_what_is_said_of_them() -> None:
    for phi in (0.2, 0.3, 2.25, 2.5):  # below 1000 K at 0.2: the other range of the polynomials
        ours, judge = ours_and_judge({"methane": 1.0}, phi)
        assert ours == pytest.approx(judge, abs=0.03 if phi < 2 else 0.25)


def test_products_are_those_of_the_full_mechanism() -> None:
    cantera = pytest.importorskip("cantera")
    phase = cantera.Solution("gri30.yaml")
    air = {"O2": 0.2095, "N2": 0.7808, "AR": 0.0093, "CO2": 0.0004}
    for phi in (0.7, 1.0, 1.6):
        found = adiabatic_flame_temperature_K(gas({"propane": 1.0}), phi)
        phase.set_equivalence_ratio(phi, "C3H8", air)
        phase.TP = 298.15, 101325.0
        phase.equilibrate("HP")
        for name in ("CO", "CO2", "H2", "H2O", "OH", "O2", "N2", "NO"):
            assert float(found.fraction(name)) == pytest.approx(
                float(phase[name].X[0]), rel=2e-3, abs=1e-8
            ), (name, phi)


@few
@given(
    st.lists(st.floats(0.02, 1.0), min_size=6, max_size=6),
    st.floats(0.3, 2.0),
    st.floats(250.0, 600.0),
    st.floats(0.0, 0.04),
)
def test_atoms_and_energy_are_conserved(parts: list[float], phi: float, air: float, humidity: float) -> None:
    flame = adiabatic_flame_temperature_K(
        gas(dict(zip(FUELS, parts, strict=True))), phi, 298.15, air, 9e4, humidity
    )
    assert flame.element_residual < 1e-10
    assert flame.enthalpy_residual_J_per_kg < 1e-9 * 1e6  # 1e-9 MJ/kg
    assert float(flame.mole_fractions.sum()) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize(("fuel", "at"), [("methane", 1.025), ("propane", 1.05)])
def test_there_is_one_hottest_flame_just_rich_of_1(fuel: str, at: float) -> None:
    phi = np.linspace(0.3, 2.0, 341)
    temperature = adiabatic_flame_temperature_K(gas({fuel: 1.0}), phi).temperature_K
    peak = int(np.argmax(temperature))
    assert phi[peak] == pytest.approx(at, abs=0.011)
    assert np.all(np.diff(temperature[: peak + 1]) > 0.0)
    assert np.all(np.diff(temperature[peak:]) < 0.0)


@few
@given(st.floats(0.4, 2.0), st.floats(260.0, 500.0))
def test_warm_air_heats_and_moist_air_and_thin_air_cool_the_flame(phi: float, air: float) -> None:
    methane = gas({"methane": 1.0})
    base = float(adiabatic_flame_temperature_K(methane, phi, air_temperature_K=air).temperature_K)
    warmer = float(adiabatic_flame_temperature_K(methane, phi, air_temperature_K=air + 20).temperature_K)
    moist = float(
        adiabatic_flame_temperature_K(methane, phi, air_temperature_K=air, humidity=0.02).temperature_K
    )
    thin = float(
        adiabatic_flame_temperature_K(methane, phi, air_temperature_K=air, pressure_Pa=7e4).temperature_K
    )
    assert base + 3.0 < warmer < base + 20.0
    assert moist < base - 10.0
    assert thin < base + 1e-3  # dissociation only ever costs; none is left in cold or rich flames


def test_inert_gas_cools_the_flame_and_the_order_of_parts_does_not_matter() -> None:
    x = np.array([[1.0, 0.0], [0.8, 0.2], [0.5, 0.5]])
    temperature = flame_arrays(["methane", "nitrogen"], x).temperature_K
    assert np.all(np.diff(temperature) < 0.0)
    np.testing.assert_allclose(
        flame_arrays(["nitrogen", "methane"], x[:, ::-1]).temperature_K, temperature, rtol=1e-12
    )


def test_air_in_the_gas_is_air_all_the_same() -> None:
    # propane with air mixed in at one equivalence ratio of the remaining demand burns as propane does at the total
    pure = adiabatic_flame_temperature_K(gas({"propane": 1.0}), 1.0)
    mixed = adiabatic_flame_temperature_K(gas({"propane": 0.4, "air": 0.6}), 1.0)
    assert float(mixed.temperature_K) == pytest.approx(float(pure.temperature_K), abs=1e-3)


def test_all_inputs_broadcast_together() -> None:
    phi, air = np.linspace(0.6, 1.4, 5)[:, None], np.array([280.0, 320.0, 400.0])
    found = adiabatic_flame_temperature_K(gas({"methane": 0.9, "H2": 0.1}), phi, 298.15, air)
    assert found.temperature_K.shape == (5, 3)
    assert found.mole_fractions.shape == (5, 3, len(found.species))
    alone = adiabatic_flame_temperature_K(gas({"methane": 0.9, "H2": 0.1}), phi[2, 0], 298.15, air[1])
    assert found.temperature_K[2, 1] == pytest.approx(float(alone.temperature_K), abs=1e-7)
    assert alone.temperature_K.shape == ()


def test_humid_air_of_a_wet_summer_day() -> None:
    humidity = humidity_from_relative(0.8, 308.15)
    ours, judge = ours_and_judge({"methane": 1.0}, 1.0, 308.15, 308.15, 101325.0, float(humidity))
    assert ours == pytest.approx(judge, abs=0.05)


@pytest.mark.parametrize(
    ("mix", "state", "says"),
    [
        ({"methane": 1.0}, {"equivalence_ratio": 3.0}, "equivalence ratio"),
        ({"methane": 1.0}, {"equivalence_ratio": float("nan")}, "equivalence ratio"),
        ({"methane": 1.0}, {"air_temperature_K": 25.0}, "air temperature"),
        ({"methane": 1.0}, {"pressure_Pa": 101.325}, "pressure"),
        ({"methane": 1.0}, {"humidity": 60.0}, "humidity"),
        ({"nitrogen": 1.0}, {}, "needs air"),
        ({"methane": 0.1, "N2": 0.9}, {"equivalence_ratio": 2.5}, "methane and soot"),
        ({"methane": 0.9, "H2S": 0.1}, {}, "hydrogen sulphide"),
        ({"methane": 0.999, "H2S": 0.001}, {"equivalence_ratio": 1.5}, "hydrogen sulphide"),
    ],
)
def test_what_is_not_computed_is_refused(mix: dict[str, float], state: dict[str, Any], says: str) -> None:
    with pytest.raises(UserError, match=says):
        adiabatic_flame_temperature_K(gas(mix), **state)


def test_two_wrong_inputs_are_told_at_once() -> None:
    with pytest.raises(UserError) as error:
        adiabatic_flame_temperature_K(gas({"methane": 1.0}), 9.0, pressure_Pa=-1.0)
    assert [problem.key for problem in error.value.problems] == ["equivalence ratio", "pressure"]


def test_a_gas_known_by_its_rating_plate_has_no_flame_temperature() -> None:
    with pytest.raises(UserError, match="composition"):
        adiabatic_flame_temperature_K("trade gas")


def test_a_trace_of_sulphur_is_noted() -> None:
    flame = adiabatic_flame_temperature_K(gas({"methane": 0.999, "H2S": 0.001}))
    assert flame.notes == ("all sulphur is taken to become SO2",)
    assert float(flame.fraction("SO2") * flame.products_per_mole_gas) == pytest.approx(0.001, rel=1e-9)
