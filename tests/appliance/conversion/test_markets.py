"""The markets of a file: each is the conversion that its gas, pressure and place give on the command line."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from burnerlab.appliance import convert, convert_to, demonstration, read_appliance, read_appliance_text
from burnerlab.appliance.conversion.convert import other_of_couple
from burnerlab.appliance.conversion.markets import convert_market, market_named, targets_of
from burnerlab.appliance.project.model import Appliance
from burnerlab.appliance.project.project_text import ProjectText
from burnerlab.quantity import UserError

FILE = """
[appliance]
name = "cart"
rating = "gross"

[supply]
gas = "G20"
pressure = "20 mbar"
"""
BURNER = """
[[burner]]
name = "ring"
rate = "3.5 kW"
orifice = { diameter = "1.2 mm" }
"""


def appliance(market: str) -> Appliance:
    return read_appliance_text(f"{FILE}\n[[market]]\n{market}\n{BURNER}")


@pytest.fixture(scope="module")
def demo() -> Appliance:
    return demonstration()


def test_a_market_is_the_conversion_of_its_gas_and_pressure(demo: Appliance) -> None:
    (propane,) = convert_market(market_named(demo, "A"))
    assert propane == convert(demo, "propane", "11 in w.c.")


def test_a_couple_is_the_conversion_of_its_category(demo: Appliance) -> None:
    butane, propane = convert_market(market_named(demo, "B"))
    eu = replace(demo, region="eu")
    assert butane == convert(eu, "G30", "29 mbar", category="I3+")
    assert propane == convert(eu, "G31", "37 mbar", category="I3+")
    assert [b.to_orifice_m for b in butane.burners] == [b.to_orifice_m for b in propane.burners]


def test_gases_that_no_category_couples_get_the_orifice_of_the_first() -> None:
    file = appliance(
        'name = "two"\nsupply = [{ gas = "propane", pressure = "28 mbar" }, { gas = "G20", pressure = "20 mbar" }]'
    )
    (market,) = targets_of(file)
    first, second = convert_market(market)
    assert first.burners[0].choice.diameter_m == second.burners[0].choice.diameter_m
    assert first.burners[0].to_orifice_m == convert(file, "propane", "28 mbar").burners[0].to_orifice_m
    inputs = first.pressure_couple.inputs[0]
    assert inputs == second.pressure_couple.inputs[0]
    assert inputs.other_gross_W == pytest.approx(second.burners[0].choice.heat_input_gross_W)
    assert "the project file" in first.pressure_couple.source


def test_a_market_takes_gases_of_a_file_and_of_a_folder_and_both_as_a_couple(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second gas of a couple is that of the file, which no library has; a form of the desk writes neither."""
    batch = 'composition = {{ propane = {}, "n-butane" = {} }}\nper = "volume"\nsource = "shop"\nprovenance = "seen"\n'
    (tmp_path / "works").mkdir()
    (tmp_path / "works" / "about.toml").write_text('source = "shop"\n', encoding="utf-8")
    gases = '["batch 8"]\n' + batch.format(0.15, 0.85)
    (tmp_path / "works" / "gases.toml").write_text(gases, encoding="utf-8")
    (tmp_path / "seven.toml").write_text('name = "batch 7"\n' + batch.format(0.95, 0.05), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    supply = '{ gas = "works:batch 8", pressure = "29 mbar" }, { gas = "seven.toml", pressure = "37 mbar" }'
    file = appliance(f'name = "shop"\nsupply = [{supply}]')
    butane, propane = convert_market(targets_of(file)[0])
    assert propane.to_gas.name == "batch 7"
    assert butane.pressure_couple == propane.pressure_couple
    assert butane.pressure_couple.other_gas == "batch 7"
    other = other_of_couple(butane)
    assert other is not None
    assert other.burners == propane.burners
    assert butane.burners[0].choice.drill == convert(file, "works:batch 8", "29 mbar").burners[0].choice.drill
    monkeypatch.chdir("/")  # a path counts from the folder of the file
    (tmp_path / "car.toml").write_text(
        f"{FILE}\n{BURNER}\n" + f'[[market]]\nname = "shop"\nsupply = [{supply}]\n'
    )
    again, _ = convert_market(targets_of(read_appliance(tmp_path / "car.toml"))[0])
    assert [one.to_orifice_m for one in again.burners] == [one.to_orifice_m for one in butane.burners]
    text = ProjectText.blank()
    for gas in ("works:batch 8", "seven.toml"):
        with pytest.raises(UserError, match="names a file of the disk"):
            text.with_values({"market[1].supply[1].gas": gas})


def test_place_policy_and_band_are_those_of_the_market() -> None:
    file = appliance(
        'name = "high"\nregion = "us"\nsupply = { gas = "propane", pressure = "11 in w.c." }\naltitude = "1500 m"\n'
        'altitude_policy = "none"\ngas_temperature = "30 C"'
    )
    (conversion,) = convert_market(targets_of(file)[0])
    assert conversion.altitude_m == 1500.0
    assert conversion.altitude_policy == "none"
    assert conversion.gas_temperature_K == pytest.approx(303.15)
    assert conversion.region == "us"
    us = read_appliance_text((FILE + BURNER).replace('"gross"', '"gross"\nregion = "us"'))
    assert conversion.tolerance_source == convert(us, "propane", "11 in w.c.").tolerance_source


def test_what_cannot_be_used_names_the_key_of_the_market() -> None:
    file = appliance('name = "odd"\nsupply = { gas = "propane", pressure = "11 in w.c." }')
    (market,) = targets_of(file)
    wrong = replace(market, targets=(replace(market.target, altitude_m=9000.0, gauge_pressure_Pa=90_000.0),))
    with pytest.raises(UserError) as refused:
        convert_market(wrong)
    assert {problem.key for problem in refused.value.problems} == {
        "market[1].altitude",
        "market[1].supply[1].pressure",
    }


def test_a_market_needs_a_gas_and_a_name_of_its_own() -> None:
    with pytest.raises(UserError) as refused:
        appliance('name = "a"\nsupply = []')
    assert refused.value.problems[0].key == "market[1].supply"
    with pytest.raises(UserError, match=r"write \[\[market\]\] for each"):
        read_appliance_text(FILE + BURNER + '[market]\nname = "alone"\n')
    with pytest.raises(UserError, match="no market of the file"):
        market_named(appliance('name = "a"\nsupply = { gas = "G31", pressure = "37 mbar" }'), "b")


def test_a_file_without_markets_is_as_before() -> None:
    plain = read_appliance_text(FILE + BURNER)
    assert targets_of(plain) == ()
    with pytest.raises(UserError, match="no market"):
        market_named(plain, "A")
    market = appliance('name = "a"\nsupply = { gas = "G31", pressure = "37 mbar" }')
    (target,) = (one.target for one in targets_of(market))
    assert convert_to(plain, target).burners == convert_to(market, target).burners


@pytest.mark.parametrize(
    ("supply", "rate", "us", "eu"),
    [
        ('gas = "G25", pressure = "25 mbar"', "3.6 kW", "#54", "1.39 mm"),
        ('gas = "propane", pressure = "37 mbar"', "3.5 kW", "#64", "0.91 mm"),
        (
            'gas = "propane", pressure = "37 mbar"',
            "4 kW",
            "#62",
            "0.98 mm",
        ),  # a metric drill gives 4.9 % too much
    ],
)
def test_a_market_is_offered_the_drills_of_its_region(supply: str, rate: str, us: str, eu: str) -> None:
    """Number, letter and fraction in the United States, 1/100 mm in Europe, unless the file names its own."""
    for region, drill in (("us", us), ("eu", eu)):
        for drills in ("", '[limits]\ndrills = ["number"]\n'):
            market = f'[[market]]\nname = "a"\nregion = "{region}"\nsupply = {{ {supply} }}\n'
            file = read_appliance_text(FILE + drills + market + BURNER.replace("3.5 kW", rate))
            choice = convert_market(market_named(file, "a"))[0].burners[0].choice
            assert choice.drill == (us if drills else drill)
            assert abs(choice.deviation) <= 0.05
