"""Gases of the user's own: mixes in one line, blends of blends, gas files."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.gas import Composition, Gas, blend, gas_from_mapping, load, mix, read_mix
from burnerlab.quantity import UserError


def composition(gas: object) -> dict[str, float]:
    assert isinstance(gas, Gas)
    return gas.composition.as_dict()


@pytest.mark.parametrize(
    "text",
    [
        "methane=0.9,ethane=0.1",
        "methane = 0.9, ethane = 0.1",
        "CH4=90,C2H6=10",
        "CH4=90%; C2H6=10 %",
        "ethane=.1,methane=9e-1",
        "methane=0.9,ethane=0.1,propane=0",
    ],
)
def test_one_line_is_read(text: str) -> None:
    assert composition(read_mix(text, per="mole")) == pytest.approx(
        {"methane": 0.9, "ethane": 0.1}, rel=1e-14
    )


def test_a_comma_inside_a_name_is_part_of_it() -> None:
    assert composition(read_mix("1,3-butadiene=0.5,propane=0.5", per="mole"))["1,3-butadiene"] == 0.5


def test_a_mix_may_name_gases_of_the_library_and_air() -> None:
    found = composition(read_mix("natural-gas-typical=0.8,hydrogen=0.2", per="volume"))
    assert found == pytest.approx(composition(load("hydrogen-blend-20")), rel=1e-12)
    assert composition(read_mix("propane=60,air=40", per="volume")) == composition(load("propane-air-60-40"))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "cannot read"),
        ("methane", "cannot read"),
        ("methane=", "cannot read"),
        ("methane=0,9,ethane=0,1", "point as decimal mark"),
        ("methane=1_000", "cannot read"),
        ("methane=0x1", "cannot read"),
        ("methane=nan", "cannot read"),
        ("methane=0.9;;ethane=0.1", "cannot read"),
        ("methane=0.9,,ethane=0.1", "cannot read"),
        ("methane=0.9 ethane=0.1", "cannot read"),
        ("methane=0.5,CH4=0.5", "methane given twice"),
        ("CH4=94,C2H6=0.03", "percent and fraction mixed"),
        ("CH4=94%,C2H6=0.06", "percent and fraction mixed"),
        ("CH4=0.97", "off by 0.03"),
        ("CH4=-0.1,N2=1.1", "negative|cannot read"),
        ("C4H10=1", "n-butane or isobutane"),
        ("trade-natural-1000=1", "cannot be blended"),
        ("metane=1", "did you mean methane"),
        ("methane=1" * 3000, "cannot read"),
    ],
)
def test_what_is_no_mix_is_refused_with_its_reason(text: str, says: str) -> None:
    with pytest.raises(UserError, match=says):
        read_mix(text, per="mole")


def test_a_mix_states_its_basis() -> None:
    with pytest.raises(UserError, match="state mole or mass"):
        read_mix("methane=1", per="")


NAMES = ["G20", "G25", "propane", "G30", "hydrogen", "air", "nitrogen"]
weights = st.lists(st.floats(min_value=0.05, max_value=1.0), min_size=3, max_size=3)


@settings(max_examples=40)
@given(st.lists(st.sampled_from(NAMES), min_size=3, max_size=3, unique=True), weights, st.floats(0.1, 0.9))
def test_a_blend_of_blends_is_the_blend_of_all(names: list[str], parts: list[float], share: float) -> None:
    a, b, c = (part / sum(parts) for part in parts)
    inner = blend({names[0]: a / (a + b), names[1]: b / (a + b)}, per="mole", name="inner")
    nested = blend({inner: a + b, names[2]: c}, per="mole")
    flat = blend(dict(zip(names, (a, b, c), strict=True)), per="mole")
    assert composition(nested) == pytest.approx(composition(flat), rel=1e-12)


@pytest.mark.parametrize("per", ["mole", "volume", "mass", "liquid volume"])
def test_half_and_half_of_one_gas_is_that_gas(per: str) -> None:
    gas = load("lpg-50-50")
    assert isinstance(gas, Gas)
    twin = gas_from_mapping({"name": "twin", "composition": gas.composition.as_dict(), "per": "mole"})
    assert isinstance(twin, Gas)
    found = blend({gas: 0.3, twin: 0.7}, per=per)
    assert composition(found) == pytest.approx(composition(gas), rel=1e-12)


def test_the_same_part_twice_is_refused() -> None:
    with pytest.raises(UserError, match="methane given twice"):
        blend({"CH4": 0.5, "methane": 0.5}, per="mole")


def test_mass_blends_weigh_right() -> None:
    found = mix({"propane": 30, "n-butane": 70}, per="mass").composition
    assert found.in_terms_of("mass") == pytest.approx({"propane": 0.3, "n-butane": 0.7}, rel=1e-14)


OWN = """
[gas]
name = "field gas"
title = "Gas of our field"
per = "volume"
composition = { CH4 = 88.0, C2H6 = 7.0, N2 = 5.0 }
uncertainty = { CH4 = 0.001 }
source = "our chromatograph"
provenance = "measured here"
"""


def test_a_gas_file_of_ones_own(tmp_path: Path) -> None:
    path = tmp_path / "field.toml"
    path.write_text("\ufeff" + OWN, encoding="utf-8")
    gas = load(str(path))
    assert isinstance(gas, Gas)
    assert (gas.name, gas.source) == ("field gas", "our chromatograph")
    assert gas.uncertainty == {"methane": 0.001}
    assert gas.composition == Composition.of({"CH4": 88.0, "C2H6": 7.0, "N2": 5.0}, per="volume")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("composition = { CH4 = 1.0 }", "state mole or mass"),
        ('per = "mole"\ncomposition = { CH4 = 1.0 }\ntitel = "x"', "unknown key titel.*did you mean title"),
        ('per = "mole"\ncomposition = { CH4 = nan }', "own.toml.*composition.CH4.*must be finite"),
        ('per = "mole"\ncomposition = "methane"', "must be a table"),
        ('per = "mole"', "a gas is one of"),
        ('per = "mole"\ncomposition = { CH4 = 1.0 }\nblend = { G20 = 1.0 }', "give exactly one"),
        ('per = "mole"\ncomposition = { CH4 = 1.0 }\nnormalize = "yes"', "true or false"),
        (
            'per = "mole"\ncomposition = { CH4 = 1.0 }\nuncertainty = { N2 = 0.1 }',
            "nitrogen is not in the composition",
        ),
        ('per = "mole"\ncomposition = { CH4 = 1.0 }\nuncertainty = { CH4 = -0.1 }', "not an uncertainty"),
        ('per = "mole"\ncomposition = { CH4 = 1.0 }\nprovenance = "somewhere"', "unknown provenance"),
        ("a = 1\na = 2", "is not TOML"),
        ("x = " + "[" * 5000 + "]" * 5000, "nested too deeply|cannot read|unknown key x"),
    ],
)
def test_a_wrong_gas_file_is_refused_with_its_reason(tmp_path: Path, text: str, says: str) -> None:
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(UserError, match=says):
        load(str(path))


def test_a_path_that_is_no_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "folder.toml").mkdir()
    (tmp_path / "large.toml").write_text("#" * (1 << 20) + "\n\n")
    for name, says in (
        ("folder", "not a regular file"),
        ("none", "not a regular file"),
        ("large", "larger than 1 MiB"),
    ):
        with pytest.raises(UserError, match=says):
            load(str(tmp_path / f"{name}.toml"))


def test_two_blends_of_one_name_are_two_parts() -> None:
    lean, rich = (
        blend({"methane": 0.9, "nitrogen": 0.1}, "mole"),
        blend({"propane": 0.5, "methane": 0.5}, "mole"),
    )
    both = blend({lean: 0.5, rich: 0.5}, "mole")
    assert both.composition.as_dict() == pytest.approx({"methane": 0.7, "nitrogen": 0.05, "propane": 0.25})
    assert both.title == "blend 0.5, blend no. 2 0.5 (per mole)"
    with pytest.raises(UserError, match="propane given twice"):
        blend({"propane": 0.5, "C3H8": 0.5}, "mole")
