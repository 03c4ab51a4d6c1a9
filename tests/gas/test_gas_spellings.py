"""Names and lists as people write them: read where one thing is meant, else refused with what may be meant."""

from __future__ import annotations

import pytest

from burnerlab import tables
from burnerlab.gas import fuels, load, read_mix
from burnerlab.gas.composition import read_per
from burnerlab.quantity import UserError


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("G 20", "G20"),
        ("g 25.3", "G25.3"),
        ("propane HD-5", "propane-hd5"),
        ("Natural_Gas_Typical", "natural-gas-typical"),
        ("lpg 50/50".replace("/", "-"), "lpg-50-50"),
    ],
)
def test_blanks_hyphens_and_capitals_do_not_matter(written: str, name: str) -> None:
    assert load(written) is load(name)


def test_no_two_names_differ_only_by_them() -> None:
    squeezed = {"".join(c for c in name.casefold() if c not in "-_ ") for name in fuels()}
    assert len(squeezed) == len(fuels())


@pytest.mark.parametrize("row", tables.rows("gas_words"), ids=lambda row: row["word"])
def test_a_word_of_daily_use_is_not_guessed_but_answered(row: tables.Row) -> None:
    with pytest.raises(UserError) as caught:
        load(row["word"])
    fix = caught.value.problems[0].fix
    for name in row["meant"].split("|"):
        assert name in fuels()
        assert name in fix


@pytest.mark.parametrize("text", ["CH4:90,C2H6:10", "CH4=90; C2H6=10", "CH4 : 90 %, C2H6 : 10 %"])
def test_a_colon_will_do_in_a_list(text: str) -> None:
    found = read_mix(text, per="mole").composition
    assert found.as_dict() == pytest.approx({"methane": 0.9, "ethane": 0.1})


def test_a_decimal_comma_is_not_read_beside_a_colon() -> None:
    with pytest.raises(UserError, match="decimal mark"):
        read_mix("CH4:0,9,C2H6:0,1", per="mole")


@pytest.mark.parametrize(
    ("written", "per"),
    [
        ("mol%", "mole"),
        ("mol %", "mole"),
        ("moles", "mole"),
        ("mole fraction", "mole"),
        ("vol.%", "volume"),
        ("wt%", "mass"),
        ("wt", "mass"),
        ("weight percent", "mass"),
        ("liquid-volume", "liquid volume"),
    ],
)
def test_bases_as_laboratories_write_them(written: str, per: str) -> None:
    assert read_per(written, "mix") == per


@pytest.mark.parametrize("written", ["", "percent", "%", "molality", "volume of liquid gas"])
def test_a_basis_that_is_not_one_is_refused(written: str) -> None:
    with pytest.raises(UserError, match="mole, volume, mass, liquid volume"):
        read_per(written, "mix")


def test_a_component_that_several_gases_hold_is_answered_with_the_gases_first() -> None:
    with pytest.raises(UserError) as caught:
        load("butane")
    fix = caught.value.problems[0].fix
    assert 0 <= fix.index("butane-n") < fix.index("mix:")
