"""What a complaint proposes is what the file needs: by size and pressure before the likeness of words, and one fix."""

from __future__ import annotations

import pytest

from burnerlab.appliance import convert, demonstration_path, read_appliance_text
from burnerlab.quantity import Kind, read
from burnerlab.report.terminal import terminal_text
from burnerlab.tables.problem import UserError

DEMO = demonstration_path().read_text(encoding="utf-8")
EU = (
    DEMO.replace('# region = "us"', 'region = "eu"')
    .replace('"natural-gas-typical"', '"G31"', 1)
    .replace('pressure        = "7 in w.c."', 'pressure        = "37 mbar"')
    .replace('inlet           = "10 in w.c."', 'inlet           = "100 mbar"')
    .replace('"natural appliance"', '"propane 37 mbar"')
    .replace('"7.1 in w.c."', '"37 mbar"')
)

# (what the European file says, what it says by mistake, the key complained of, the fix)
SLIPS = [
    ('pressure        = "37 mbar"', 'presure = "10 inH2O"', "supply.presure", "did you mean pressure?"),
    ('"propane 37 mbar"', '"lp third stage"', "supply.regulator.type",
     'write "propane 37 mbar" if that is what holds 37 mbar here'),
    ('"propane 37 mbar"', '"propan 37 mbar"', "supply.regulator.type", "did you mean propane 37 mbar?"),
    ('# altitude_policy = "4-percent-from-sea-level"', 'altitude_policy = "5-percent"', "limits.altitude_policy",
     "write one of these"),
    ('"1/2 in hose"', '"5/8 in hoze"', "supply.hose.size", 'write bore = "15.88 mm" in place of size'),
    ('"1/2 in hose"', '"1/2 in hoze"', "supply.hose.size", "did you mean 1/2 in hose?"),
    ('"3/4 in schedule 40"', '"3/4 in scedule 40"', "supply.pipe.size", "did you mean 3/4 in schedule 40?"),
    ('altitude        = "0 m"', 'altitude = "1500"', "supply.altitude", 'write "1500 m" or "1500 ft"'),
    ('tolerance       = "5 %"', 'tolerance = "5"', "limits.tolerance", 'write "5 %"'),
    ('orifice  = { drill = "#53", shape = "tapered" }', 'orifice = { bore = "1.4 mm" }', "burner[2].orifice.bore",
     "did you mean diameter?"),
]  # fmt: skip


@pytest.mark.parametrize(("right", "wrong", "key", "fix"), SLIPS, ids=[slip[1] for slip in SLIPS])
def test_one_fix_is_proposed_and_it_is_the_one_that_fits(right: str, wrong: str, key: str, fix: str) -> None:
    assert EU.count(right) >= 1
    with pytest.raises(UserError) as caught:
        read_appliance_text(EU.replace(right, wrong, 1), "eu.toml")
    assert [(problem.key, problem.fix) for problem in caught.value.problems] == [(key, fix)]
    assert caught.value.problems[0].line > 0


def test_the_file_behind_the_slips_has_none() -> None:
    assert read_appliance_text(EU, "eu.toml").region == "eu"


def test_only_policies_of_the_region_are_offered() -> None:
    text = EU.replace('# altitude_policy = "4-percent-from-sea-level"', 'altitude_policy = "5-percent"')
    with pytest.raises(UserError) as caught:
        read_appliance_text(text, "eu.toml")
    assert caught.value.problems[0].accepted == "none"


def test_a_couple_is_no_mixed_number() -> None:
    with pytest.raises(UserError, match="give one pressure; a pressure couple is named by its category"):
        read("28-30/37 mbar", Kind.GAUGE_PRESSURE)
    with pytest.raises(UserError, match="write 1 1/16 in"):
        read("1-1/16 in", Kind.DIAMETER)


def test_a_pressure_the_region_does_not_supply_is_said() -> None:
    cart = read_appliance_text(EU, "eu.toml")
    strange = convert(cart, "G31", 2490.9)
    words = "24.9 mbar is no supply pressure of G31 in region eu"
    assert any(words in note for note in strange.notes)
    assert words in " ".join(terminal_text(strange).split()).partition("new drill")[0]
    assert not any("no supply pressure" in note for note in convert(cart, "G31", 3700.0).notes)
