"""The library: every gas loads, says where it is from, and agrees with what is printed of it."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from burnerlab import tables
from burnerlab.appliance.conversion.gas_facts import facts
from burnerlab.cli.gas import family_codes
from burnerlab.gas import DeclaredGas, Gas, fuels, library, load, properties
from burnerlab.gas.gas_family import wobbe_family
from burnerlab.quantity import PRESETS, UserError

ISO = PRESETS["ISO_15_15"]
AGREED = [
    "natural-gas-typical",
    "natural-gas-us-mean",
    "propane",
    "propane-hd5",
    "propane-commercial",
    "butane-n",
    "butane-iso",
    "butane-commercial",
    "autogas-summer",
    "autogas-winter",
    "propane-air-60-40",
    "biomethane",
    "hydrogen",
    "hydrogen-blend-5",
    "hydrogen-blend-10",
    "hydrogen-blend-20",
    "hydrogen-blend-30",
    "hydrogen-blend-50",
    "town-gas",
    "G20",
    "G21",
    "G23",
    "G25",
    "G30",
    "G31",
    "trade-natural-1000",
    "trade-propane-2500",
    "trade-propane-2516",
    "trade-butane-3280",
]
COMPOSED = [name for name in fuels() if isinstance(load(name), Gas)]


@pytest.mark.parametrize("name", AGREED)
def test_the_agreed_gases_are_there(name: str) -> None:
    assert load(name).name == name


@pytest.mark.parametrize("name", fuels())
def test_every_gas_says_where_it_is_from(name: str) -> None:
    gas = load(name)
    assert gas.title
    assert gas.source
    assert gas.provenance in tables.PROVENANCES


@pytest.mark.parametrize("key", ["source", "provenance"])
@pytest.mark.parametrize("line", ["", '{key} = ""', '{key} = " "'])
def test_a_gas_of_ours_without_its_origin_is_refused_and_one_of_a_user_is_not(
    key: str, line: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A user's gas without a source is the user's own; the same words on a gas of ours would be untrue."""
    said = {"source": 'source = "a book"', "provenance": 'provenance = "memory"'}
    said[key] = line.format(key=key)
    table = "\n".join(["[new-gas]", 'per = "mole"', "composition = { methane = 1.0 }", *said.values()])
    (tmp_path / "new.toml").write_text(table, encoding="utf-8")
    with monkeypatch.context() as patched:
        patched.setattr(tables, "folder", lambda name: tmp_path)
        with pytest.raises(ValueError, match=f"gas 'new-gas' of new.toml states no {key}"):
            library._entries.__wrapped__()
    own = tmp_path / "own.toml"
    own.write_text('per = "mole"\ncomposition = { methane = 1.0 }\n', encoding="utf-8")
    gas = load(str(own))
    assert (gas.source, gas.provenance) == ("entered by the user", "entered")


@pytest.mark.parametrize("name", COMPOSED)
def test_every_composition_burns(name: str) -> None:
    gas = load(name)
    assert isinstance(gas, Gas)
    found = properties(gas, ISO)
    assert 15e6 < found.gross_wobbe_J_per_m3 < 95e6
    assert not found.notes


EN437 = tomllib.loads((tables.folder("fuels") / "en437.toml").read_text())
PRINTED = [
    (name, key)
    for name, entry in EN437.items()
    for key in ("Wi", "Hi", "Ws", "Hs", "d")
    if key in entry.get("printed", {})
]
FIELD = {"Wi": "net_wobbe_J_per_m3", "Hi": "net_heating_value_J_per_m3", "Ws": "gross_wobbe_J_per_m3"}
FIELD |= {"Hs": "gross_heating_value_J_per_m3", "d": "relative_density"}


@pytest.mark.parametrize(("name", "key"), PRINTED)
def test_the_printed_value_stands_beside_the_computed_one(name: str, key: str) -> None:
    gas = load(name)
    assert isinstance(gas, Gas)
    assert gas.printed is not None
    printed = float(gas.printed[key])
    ours = getattr(properties(gas, ISO), FIELD[key]) / (1.0 if key == "d" else 1e6)
    rounding = 0.5e-3 if key == "d" else 0.5e-2
    assert abs(ours - printed) <= 0.0005 * printed + rounding


def test_every_test_gas_of_the_reference_list_is_there() -> None:
    listed = [
        "G110",
        "G112",
        "G20",
        "G21",
        "G222",
        "G23",
        "G24",
        "G25",
        "G26",
        "G27",
        "G231",
        "G271",
        "G30",
        "G31",
        "G32",
        "G120",
        "G25.1",
        "G25.3",
        "G2.350",
        "G130",
    ]
    assert set(listed) <= set(EN437)


@pytest.mark.parametrize(
    "given", ["g20", "G20", " G20 ", "NATURAL-GAS-TYPICAL", "natural gas typical", "Propane"]
)
def test_capitals_and_blanks_do_not_matter(given: str) -> None:
    assert load(given).name.casefold() == given.strip().casefold().replace(" ", "-")


@pytest.mark.parametrize(
    ("given", "near"),
    [
        ("natural-gas-tipical", "natural-gas-typical"),
        ("propan", "propane"),
        ("G2O", "G20"),
        ("butane", "butane-n"),
        ("hydrogen-blend", "hydrogen-blend-"),
        ("trade-propane", "trade-propane-2516"),
    ],
)
def test_an_unknown_gas_gets_the_nearest_names(given: str, near: str) -> None:
    with pytest.raises(UserError, match=f"did you mean .*{near}"):
        load(given)


def test_a_component_that_is_no_gas_of_the_library_is_explained() -> None:
    with pytest.raises(UserError, match='write "mix:ethane=1"'):
        load("ethane")


@pytest.mark.parametrize(
    ("name", "groups"),
    [
        ("G110", {"1", "1a"}),
        ("G20", {"2", "2H", "2E"}),
        ("G21", {"2", "2H", "2E"}),
        ("G25", {"2", "2L", "2E"}),
        ("G231", {"2", "2L", "2E"}),
        ("G30", {"3", "3B/P", "3B"}),
        ("G31", {"3", "3B/P", "3P"}),
        ("natural-gas-groningen", {"2", "2L", "2E"}),
        ("natural-gas-typical", {"2", "2H", "2E"}),
        ("coke-oven-gas", set()),
    ],
)
def test_family_and_group_follow_from_the_wobbe_index(name: str, groups: set[str]) -> None:
    gas = load(name)
    assert isinstance(gas, Gas)
    found = wobbe_family(properties(gas, ISO).gross_wobbe_J_per_m3)
    assert {group.code for group in found} - {"1a"} == groups - {"1a"}


def test_the_ranges_can_be_replaced(tmp_path: Path) -> None:
    own = tmp_path / "ranges.csv"
    own.write_text(
        "family,group,low_MJ_per_m3,high_MJ_per_m3,source,place,provenance\n2,GB,47.2,51.41,uk,x,seen\n"
    )
    assert [group.code for group in wobbe_family(50.72e6, own)] == ["2GB"]
    assert wobbe_family(46.0e6, own) == []


@pytest.mark.parametrize(
    ("name", "wobbe_Btu", "heating_value_Btu"),
    [
        ("propane-air-natural", 1335, 1538),
        ("propane-air-1400", 1229, 1400),
        ("propane-air-525", None, 525),
        ("butane-air-1400", None, 1400),
    ],
)
def test_air_mixes_are_what_their_names_say(
    name: str, wobbe_Btu: float | None, heating_value_Btu: float
) -> None:
    gas = load(name)
    assert isinstance(gas, Gas)
    found = properties(gas, PRESETS["US_60F_14p696_dry"])
    Btu_per_ft3 = 37258.945808  # J/m3
    assert found.gross_heating_value_J_per_m3 / Btu_per_ft3 == pytest.approx(heating_value_Btu, rel=1e-3)
    if wobbe_Btu:
        assert found.gross_wobbe_J_per_m3 / Btu_per_ft3 == pytest.approx(wobbe_Btu, rel=1e-3)


def test_hydrogen_blends_are_by_volume() -> None:
    gas = load("hydrogen-blend-20")
    assert isinstance(gas, Gas)
    assert gas.composition["hydrogen"] == pytest.approx(0.2, abs=1e-3)
    assert (
        gas.composition["hydrogen"] < 0.2
    )  # a cubic metre of hydrogen holds fewer moles than one of natural gas


def test_trade_presets_are_declared_on_a_stated_basis() -> None:
    presets = [load(name) for name in fuels() if name.startswith("trade-")]
    assert len(presets) > 10
    assert all(isinstance(gas, DeclaredGas) and gas.family for gas in presets)


def test_a_test_gas_is_called_by_its_gas() -> None:
    """A title heads sheets and stands in instructions: the limit a test gas is for is a note of its own."""
    for name, words in (
        ("G20", "methane"),
        ("G30", "butane"),
        ("G31", "propane"),
        ("G25", "methane-nitrogen"),
    ):
        gas = load(name)
        assert gas.title == f"{name}, {words} test gas"
        assert "EN 437" in gas.note
    assert "flame-lift limit" in load("G31").note


@pytest.mark.parametrize(("name", "foreign"), [
    ("G20", ""), ("G222", ""), ("G24", ""), ("G30", ""), ("G31", ""), ("G110", ""), ("lng-rich", ""),
    ("propane-hd5-limit", ""),
    ("hydrogen", "second"), ("hydrogen-blend-50", "second"), ("propane-air-60-40", "second"), ("biogas-60", "first"),
])  # fmt: skip
def test_a_wobbe_index_alone_makes_no_gas_of_a_family(name: str, foreign: str) -> None:
    found = facts(load(name), PRESETS["ISO_15_15"])
    if foreign:
        assert found.used.family.startswith("Wobbe index in the range of EN 437 family")
        assert f"not a {foreign}-family gas: " in found.used.family
    else:
        assert found.used.family.startswith("EN 437 family")
    codes, why = family_codes(load(name))
    assert codes == list(found.families)
    assert bool(why) == bool(foreign)
