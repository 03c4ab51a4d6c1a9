"""Compositions: names, bases, sums, and everything a user can get wrong."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.gas import Composition, properties
from burnerlab.gas.component import canonical_name, component_names, component_table
from burnerlab.quantity import PRESETS, UserError

ISO = PRESETS["ISO_15_15"]

MIXTURES = st.dictionaries(
    st.sampled_from([name for name in component_names() if name != "water"]),
    st.floats(min_value=0.01, max_value=1.0),
    min_size=1,
    max_size=12,
)


def mixture(parts: dict[str, float], per: str = "mole") -> Composition:
    return Composition.of(parts, per=per, normalize=True)


@pytest.mark.parametrize(
    ("given_name", "name"),
    [
        ("CH4", "methane"),
        ("ch4", "methane"),
        ("CH₄", "methane"),
        ("ＣＨ４", "methane"),
        ("Methane", "methane"),
        ("carbon dioxide", "carbon dioxide"),
        ("carbon-dioxide", "carbon dioxide"),
        ("carbon_dioxide", "carbon dioxide"),
        ("CO2", "carbon dioxide"),
        ("CO", "carbon monoxide"),
        ("n-butane", "n-butane"),
        ("nC4H10", "n-butane"),
        ("n-C4H10", "n-butane"),
        ("n‑C4H10", "n-butane"),
        ("i-C4H10", "isobutane"),
        ("isobutane", "isobutane"),
        ("iso-butane", "isobutane"),
        ("2-methylpropane", "isobutane"),
        ("propene", "propylene"),
        ("C3H6", "propylene"),
        ("ethene", "ethylene"),
        ("2,2-dimethylpropane", "neopentane"),
        ("1,3-butadiene", "1,3-butadiene"),
        ("trans-2-butene", "trans-2-butene"),
        ("hydrogen sulfide", "hydrogen sulphide"),
        ("H2S", "hydrogen sulphide"),
        ("air", "air"),
    ],
)
def test_names_and_formulas_are_both_understood(given_name: str, name: str) -> None:
    assert canonical_name(given_name) == name


@pytest.mark.parametrize("name", component_names())
def test_every_component_is_known_by_its_name(name: str) -> None:
    assert canonical_name(name.upper()) == name


@pytest.mark.parametrize(
    ("formula", "isomers"),
    [
        ("C4H10", ["n-butane", "isobutane"]),
        ("butane", ["n-butane", "isobutane"]),
        ("C5H12", ["n-pentane", "isopentane", "neopentane"]),
        ("C4H8", ["1-butene", "cis-2-butene", "trans-2-butene", "isobutylene"]),
    ],
)
def test_a_shared_formula_is_refused_naming_its_isomers(formula: str, isomers: list[str]) -> None:
    with pytest.raises(UserError) as refused:
        canonical_name(formula)
    assert all(name in str(refused.value) for name in isomers)


@pytest.mark.parametrize(
    ("wrong", "near"), [("metane", "methane"), ("proplene", "propylene"), ("nitrgen", "nitrogen")]
)
def test_an_unknown_name_gets_the_nearest(wrong: str, near: str) -> None:
    with pytest.raises(UserError, match=f"did you mean .*{near}"):
        canonical_name(wrong)


NAN, INF = math.nan, math.inf


@pytest.mark.parametrize(
    ("parts", "says"),
    [
        ({"CH4": 0.9, "methane": 0.1}, "methane given twice"),
        ({"CH4": 94.0, "C2H6": 0.03}, "methane = 94 but ethane = 0.03: percent and fraction mixed"),
        ({"CH4": 0.97}, "off by 0.03.*set normalize"),
        ({"CH4": 0.9, "C2H6": 0.07}, "off by 0.03.*set normalize"),
        ({"CH4": 90.0, "C2H6": 7.0}, "sum to 97, off by 3"),
        ({"CH4": 1.1, "N2": -0.1}, "nitrogen is negative"),
        ({"CH4": 1.2}, "methane is above 1"),
        ({"CH4": 1.2, "C2H6": 0.5}, "methane is above 1"),
        ({"CH4": NAN, "N2": 0.5}, "must be finite"),
        ({"CH4": INF}, "must be finite"),
        ({"CH4": True}, "must be a number"),
        ({"CH4": "0.9"}, "must be a number"),
        ({"CH4": 0.0}, "no component"),
        ({}, "no component"),
        ({"kryptonite": 1.0}, "unknown component"),
    ],
)
def test_a_wrong_composition_is_refused_with_its_reason(parts: dict[str, float], says: str) -> None:
    with pytest.raises(UserError, match=says):
        Composition.of(parts, per="mole")


def test_all_problems_are_named_at_once() -> None:
    with pytest.raises(UserError) as refused:
        Composition.of({"methan": 0.5, "N2": -0.1, "C4H10": 0.6}, per="mole")
    assert len(refused.value.problems) == 3


@pytest.mark.parametrize("per", ["", None, "weightvolume", "ppm"])
def test_the_basis_is_never_guessed(per: str | None) -> None:
    with pytest.raises(UserError, match=r"state mole or mass|unknown basis"):
        Composition.of({"CH4": 1.0}, per=per)  # type: ignore[arg-type]


def test_a_gas_without_fuel_is_refused() -> None:
    with pytest.raises(UserError, match="this gas has no fuel"):
        properties(Composition.of({"N2": 0.8, "CO2": 0.2}, per="mole"), ISO)
    with pytest.raises(UserError, match="this gas has no fuel"):
        properties(Composition.of({"N2": 0.9, "H2O": 0.1}, per="mole"), ISO)


def test_a_liquid_volume_without_a_density_is_refused() -> None:
    with pytest.raises(UserError, match="no liquid density is known for hydrogen"):
        Composition.of({"hydrogen": 0.5, "propane": 0.5}, per="liquid volume")


def test_any_order_gives_the_same_bits() -> None:
    parts = {"methane": 0.7, "ethane": 0.1, "propane": 0.1, "nitrogen": 0.07, "carbon dioxide": 0.03}
    found = {
        properties(Composition.of(dict(order), per=per), ISO).gross_wobbe_J_per_m3
        for per in ("volume",)
        for order in itertools.permutations(parts.items())
    }
    assert len(found) == 1


@settings(max_examples=50)
@given(MIXTURES, st.randoms(use_true_random=False), st.sampled_from(["mole", "volume", "mass"]))
def test_order_zero_and_percent_change_nothing(parts: dict[str, float], random: object, per: str) -> None:
    composition = mixture(parts, per)
    items = list(parts.items())
    random.shuffle(items)  # type: ignore[attr-defined]
    assert mixture(dict(items), per) == composition
    absent = next((name for name in component_names() if name not in parts), None)
    if absent:
        assert mixture({**parts, absent: 0.0}, per) == composition
    fractions = dict(zip(composition.names, composition.fractions, strict=True))
    percents = Composition.of({name: 100.0 * x for name, x in fractions.items()}, per="mole")
    assert percents.names == composition.names
    assert percents.fractions == pytest.approx(composition.fractions, rel=1e-14)


@settings(max_examples=50)
@given(MIXTURES, st.sampled_from(["mole", "volume", "mass"]))
def test_a_basis_read_back_is_the_one_given(parts: dict[str, float], per: str) -> None:
    total = math.fsum(parts.values())
    back = mixture(parts, per).in_terms_of(per)
    assert back == pytest.approx({name: part / total for name, part in parts.items()}, rel=1e-12)


def test_liquid_volume_follows_the_densities() -> None:
    half = Composition.of({"propane": 50.0, "n-butane": 50.0}, per="liquid volume")
    assert half["propane"] / half["n-butane"] == pytest.approx(
        36.391 / 31.801, rel=1e-5
    )  # GPA 2145-16, ft3/gal


def test_mass_follows_the_molar_masses() -> None:
    half = Composition.of({"methane": 0.5, "CO2": 0.5}, per="mass")
    masses = component_table().molar_mass_kg_per_mol[component_table().take(["methane", "carbon dioxide"])]
    assert half["methane"] / half["carbon dioxide"] == pytest.approx(masses[1] / masses[0], rel=1e-14)


def test_air_is_taken_apart_and_adds_to_what_is_there() -> None:
    gas = Composition.of({"propane": 0.5, "air": 0.4, "nitrogen": 0.1}, per="mole")
    assert gas["oxygen"] == pytest.approx(0.4 * 0.2095, rel=1e-12)
    assert gas["nitrogen"] == pytest.approx(0.4 * 0.7808 + 0.1, rel=1e-12)
    assert math.fsum(gas.fractions) == pytest.approx(1.0, abs=1e-15)
