"""Combustion air and products: balances and relations that hold for any gas."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.gas import combustion_air
from burnerlab.gas.combustion_air import air_ratio_from_O2
from burnerlab.gas.component import component_table
from burnerlab.gas.composition import Composition
from burnerlab.tables.problem import UserError

FUELS = (
    "methane",
    "ethane",
    "propane",
    "n-butane",
    "ethylene",
    "hydrogen",
    "carbon monoxide",
    "hydrogen sulphide",
)
DILUENTS = ("nitrogen", "carbon dioxide", "oxygen", "argon", "helium", "water")
NAMES = FUELS + DILUENTS
mixtures = st.lists(st.floats(0.01, 1.0), min_size=len(NAMES), max_size=len(NAMES)).map(
    lambda parts: (
        np.array(parts) / sum(parts) * np.where(np.arange(len(NAMES)) == NAMES.index("oxygen"), 0.1, 1.0)
    )
)
few = settings(max_examples=30)


def mass_of(names: tuple[str, ...], moles: np.ndarray) -> float:
    table = component_table()
    known = {"sulphur dioxide": 0.0640638}  # iso6976-2016 atomic masses
    return sum(
        n
        * known.get(
            name, float(table.molar_mass_kg_per_mol[table.index[name]]) if name in table.index else 0.0
        )
        for name, n in zip(names, moles, strict=True)
    )


@few
@given(mixtures, st.floats(1.0, 3.0), st.floats(0.0, 0.05))
def test_mass_in_is_mass_out(x: np.ndarray, ratio: float, humidity: float) -> None:
    dry = float(combustion_air.air_demand(NAMES, x)) * ratio
    supply = (
        mass_of(NAMES, x)
        + dry * combustion_air.dry_air().molar_mass_kg_per_mol
        + mass_of(("water",), [dry * humidity])
    )
    flue = combustion_air.products(NAMES, x, ratio, humidity)
    # the air's carbon dioxide is counted with argon: 4 g per mole of it heavier than it is booked
    booked = (
        dry * combustion_air.dry_air().carbon_dioxide * (mass_of(("carbon dioxide", "argon"), [1.0, -1.0]))
    )
    assert mass_of(combustion_air.PRODUCTS, flue) + booked == pytest.approx(supply, rel=2e-6)


@few
@given(mixtures)
def test_oxygen_demand_is_linear_in_the_mixture(x: np.ndarray) -> None:
    apart = sum(
        part * float(combustion_air.oxygen_demand([name], [1.0])) for name, part in zip(NAMES, x, strict=True)
    )
    assert float(combustion_air.oxygen_demand(NAMES, x)) == pytest.approx(apart, rel=1e-12)


@few
@given(mixtures, st.floats(1.0, 4.0))
def test_excess_air_comes_back_from_the_oxygen_it_leaves(x: np.ndarray, ratio: float) -> None:
    flue = combustion_air.products(NAMES, x, ratio)
    dry = flue.sum() - flue[combustion_air.PRODUCTS.index("water")]
    oxygen = flue[combustion_air.PRODUCTS.index("oxygen")] / dry
    assert float(combustion_air.air_ratio_from_O2(NAMES, x, oxygen)) == pytest.approx(ratio, rel=1e-10)


def test_many_mixtures_in_one_call_equal_each_alone() -> None:
    rng = np.random.default_rng(1)
    x = rng.dirichlet(np.ones(len(NAMES)), size=50) * np.where(np.array(NAMES) == "oxygen", 0.1, 1.0)
    ratio, humidity = rng.uniform(1, 2, 50), rng.uniform(0, 0.04, 50)
    together = combustion_air.dew_point_K(NAMES, x, ratio, humidity, 9e4)
    alone = [float(combustion_air.dew_point_K(NAMES, x[i], ratio[i], humidity[i], 9e4)) for i in range(50)]
    np.testing.assert_allclose(together, alone, rtol=1e-12)


def test_sulphur_burns_to_its_dioxide() -> None:
    # H2S + 3/2 O2 = H2O + SO2
    flue = dict(
        zip(combustion_air.PRODUCTS, combustion_air.products(["hydrogen sulphide"], [1.0]), strict=True)
    )
    assert float(combustion_air.air_demand(["hydrogen sulphide"], [1.0])) == pytest.approx(
        1.5 / 0.2095, rel=1e-12
    )
    assert (flue["water"], flue["sulphur dioxide"], flue["carbon dioxide"]) == (1.0, 1.0, 0.0)


def test_oxygen_in_the_gas_is_taken_off_its_air() -> None:
    pure = float(combustion_air.air_demand(["propane"], [1.0]))
    mixed = float(
        combustion_air.air_demand(["propane", "nitrogen", "oxygen"], [0.6, 0.4 * 0.7905, 0.4 * 0.2095])
    )
    assert mixed == pytest.approx(0.6 * pure - 0.4, rel=1e-12)


def test_flue_gas_condenses_at_a_lower_temperature_at_altitude_and_with_more_air() -> None:
    dew = combustion_air.dew_point_K(["methane"], [1.0], [1.0, 1.0, 1.4], 0.0, [101325.0, 80000.0, 101325.0])
    assert dew[1] < dew[0] - 4.0
    assert dew[2] < dew[0] - 5.0


def test_one_gas_gets_the_same_figures_by_name() -> None:
    gas = Composition.of({"methane": 0.95, "CO2": 0.05}, per="mole")
    found = combustion_air.combustion_air(gas, air_ratio=1.2, humidity=0.01)
    assert found.stoichiometric_air_mol_per_mol == combustion_air.stoichiometric_air(gas)
    assert sum(found.wet_composition.values()) == pytest.approx(1.0, abs=1e-12)
    assert found.dry_CO2 == pytest.approx(1.0 / found.dry_products_mol_per_mol, rel=1e-12)
    water = found.wet_products_mol_per_mol - found.dry_products_mol_per_mol
    assert water == pytest.approx(2 * 0.95 + 0.01 * found.air_mol_per_mol, rel=1e-12)
    assert found.notes == ()


def test_a_dry_flue_gas_has_no_dew_point_and_says_so() -> None:
    found = combustion_air.combustion_air(Composition.of({"CO": 1.0}, per="mole"))
    assert found.dew_point_K is None
    assert found.notes == ("the flue gas is too dry for water to condense above 0 C",)
    with pytest.raises(UserError, match="dew point"):
        combustion_air.dew_point_K(["carbon monoxide"], [1.0])


def test_sulphur_in_the_gas_is_noted() -> None:
    found = combustion_air.combustion_air(Composition.of({"methane": 0.99, "H2S": 0.01}, per="mole"))
    assert "acid dew point" in found.notes[0]


def test_humidity_by_mass_of_a_summer_day() -> None:
    # 30 C and 60 %: 16.0 g/kg on any psychrometric chart
    molar = combustion_air.humidity_from_relative(0.6, 303.15)
    table = component_table()
    water = float(table.molar_mass_kg_per_mol[table.index["water"]])
    by_mass = float(molar) * water / combustion_air.dry_air().molar_mass_kg_per_mol
    assert by_mass == pytest.approx(0.0160, abs=1e-4)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: combustion_air.air_demand(["nitrogen"], [1.0]), "nothing in this gas needs air"),
        (
            lambda: combustion_air.air_demand(["methane", "nitrogen"], [[1.0, 0.0], [0.0, 1.0]]),
            "one of these gases",
        ),
        (lambda: combustion_air.products(["methane"], [1.0], 0.9), "not complete"),
        (lambda: combustion_air.products(["methane"], [1.0], float("nan")), "not complete"),
        (lambda: combustion_air.air_ratio_from_O2(["methane"], [1.0], 0.21), "0 to below 0.2095"),
        (lambda: combustion_air.humidity_from_relative(60.0, 293.15), "write 60 % as 0.6"),
        (lambda: combustion_air.humidity_from_relative(float("nan"), 293.15), "not a relative humidity"),
        (lambda: combustion_air.humidity_from_relative(1.0, 380.0), "water boils"),
        (lambda: combustion_air.combustion_air("declared"), "give its composition"),
    ],
)
def test_what_cannot_be_computed_is_refused_with_the_reason(call, says: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(UserError, match=says):
        call()


def test_a_sample_that_is_air_gives_no_air_ratio() -> None:
    with pytest.raises(UserError, match="is not a dry flue gas"):
        air_ratio_from_O2(["methane"], [1.0], 0.2095)
