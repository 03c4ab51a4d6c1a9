"""The commands supply, regulator and cylinder: their keys, their text, what they refuse."""

from __future__ import annotations

from pathlib import Path

import pytest
from command_runs import answer, complaint, run

from burnerlab.appliance import demonstration, demonstration_path

CART = str(demonstration_path())
COLD = ("cylinder", "--gas", "propane", "--size", "20 lb", "--fill", "80 %", "--air-temperature", "0 C")
COLD += ("--rate", "60 kBtu/h gross")


def test_supply_lists_every_burner_with_pressure_and_input() -> None:
    found = answer("supply", CART)
    assert {"burners", "elements", "lowest", "highest", "findings", "cautions", "evidence"} <= set(found)
    assert len(found["burners"]) == 6
    for burner in found["burners"]:
        assert {"name", "gauge_pressure_mbar", "heat_input_gross_kW", "deviation_percent"} <= set(burner)
        assert 15.0 < burner["gauge_pressure_mbar"] < 18.0
    assert found["heat_input_gross_kW"] == pytest.approx(
        sum(b["heat_input_gross_kW"] * b["count"] for b in found["burners"])
    )
    assert {f["verdict"] for f in found["findings"]} <= {"within", "near", "outside", "not evaluated"}


def test_supply_with_some_burners_on() -> None:
    one = answer("supply", CART, "--on", "stock-pot ring")
    two = answer("supply", CART, "--on", " Stock-Pot Ring , rear burner ")
    assert one["on"] == ["stock-pot ring"]
    assert two["on"] == ["stock-pot ring", "rear burner"]
    assert two["manifold_gauge_pressure_mbar"] < one["manifold_gauge_pressure_mbar"]


def test_supply_with_another_gas_and_pressure() -> None:
    other = answer("supply", CART, "--gas", "propane", "--pressure", "8 in w.c.")
    assert other["gas"] == "propane"
    assert any("spring" in note for note in other["notes"])


def test_supply_prints_a_summary_with_its_cautions() -> None:
    text = run("supply", CART).stdout
    for word in (
        "kW gross",
        "regulator (natural appliance)",
        "least by the supply",
        "qualified person",
    ):
        assert word in text


def test_regulator_shows_rate_air_and_flame_at_each_setting(tmp_path: Path) -> None:
    words = ("regulator", CART, "--setting", "6 inH2O", "--setting", "8 inH2O", "--on", "stock-pot ring")
    found = answer(*words, "--inlet", "9 inH2O")
    low, high = (row["burners"][0] for row in found["settings"])
    assert low["heat_input_gross_kW"] < high["heat_input_gross_kW"]
    assert low["primary_aeration_low_percent"] < low["primary_aeration_percent"]
    assert [row["inlet_gauge_pressure_mbar"] for row in found["inlets"]] == pytest.approx([22.418], rel=1e-4)
    file = tmp_path / "settings.csv"
    text = run(*words, "--out", str(file)).stdout
    assert text.startswith("WARNING: Possible overfire: stock-pot ring")
    assert max(len(line) for line in text.splitlines()) <= 100
    rows = file.read_text(encoding="utf-8").splitlines()
    assert len(rows) == 3
    assert rows[0].split(",")[0] == "setting_gauge_pressure_mbar"
    assert float(rows[1].split(",")[0]) == pytest.approx(14.945, rel=1e-4)
    assert "will not overwrite" in complaint(*words, "--out", str(file))


def test_the_orifice_of_a_market_is_fixed_while_the_pressure_changes() -> None:
    """Heat input by the square root of the pressure at the orifice (incompressible flow through a fixed hole)."""
    words = ("regulator", CART, "--market", "A", "--setting", "8 inH2O", "--setting", "13 inH2O")
    low, high = (row["burners"][0] for row in answer(*words)["settings"])
    assert high["gauge_pressure_mbar"] > 1.5 * low["gauge_pressure_mbar"]
    by_pressure = (high["gauge_pressure_mbar"] / low["gauge_pressure_mbar"]) ** 0.5
    assert high["heat_input_gross_kW"] / low["heat_input_gross_kW"] == pytest.approx(by_pressure, rel=0.01)
    assert "is no market of the file" in complaint(*words[:3], "nowhere")


def test_supply_refuses_in_words(tmp_path: Path) -> None:
    assert "did you mean stock-pot ring" in complaint("supply", CART, "--on", "stock-pot rink")
    assert "no such file" in complaint("supply", str(tmp_path / "gone.toml"))
    assert "outlet pressure" in complaint("supply", CART, "--pressure", "0 Pa")
    assert complaint("supply", CART, "--gas", "propain", "--pressure", "1,5 kPa").count("error:") == 2


def test_cylinder_says_how_long_and_how_sure() -> None:
    found = answer(*COLD)
    keys = {
        "hold_time_min",
        "final_temperature_C",
        "final_gauge_pressure_kPa",
        "series",
        "evidence",
        "cautions",
    }
    assert keys <= set(found)
    assert found["evidence"] == "estimate"
    assert found["hold_time_low_min"] < found["hold_time_min"] < found["hold_time_high_min"]
    assert found["final_gauge_pressure_kPa"] == pytest.approx(found["minimum_inlet_kPa"], rel=1e-3)
    series = found["series"]
    lengths = {len(value) for value in (*series.values(), *found["liquid_mole_fractions"].values())}
    assert lengths == {121}
    assert series["time_min"][-1] == found["hold_time_min"]
    assert any("frost" in note for note in found["notes"])


def test_cylinder_shows_the_times_at_every_inlet_its_table_names_and_in_every_air() -> None:
    """At 25 psi a regulator near its rated flow ends the draw in half the time of 8 psi."""
    found = answer(*COLD)
    assert [round(row["minimum_inlet_kPa"]) for row in found["at_inlets"]] == [34, 55, 172]
    assert [round(row["hold_time_min"]) for row in found["at_inlets"]] == [136, 121, 59]
    assert found["at_inlets"][1]["hold_time_min"] == found["hold_time_min"]
    assert [row["air"] for row in found["in_air"]] == [
        "frost in still air",
        "still air",
        "light air",
        "breeze",
    ]
    assert any("chart" in note for note in found["notes"])
    text = run(*COLD).stdout
    assert "near rated flow" in text
    assert "breeze" in text
    alone = answer(*COLD, "--minimum-pressure", "8 psi")
    assert alone["at_inlets"] == []


def test_cylinder_by_mass_by_own_size_and_by_regulator() -> None:
    by_mass = answer(*COLD[:5], "--fill", "20 lb", *COLD[7:])
    assert by_mass["fill_percent"] == pytest.approx(79.5, abs=1.0)
    for air in (
        "-10 C",
        "0 C",
        "35 C",
    ):  # common practice, no source: filled on a scale, whatever the weather
        sold = answer(
            "cylinder", "--gas", "G31", "--size", "11 kg", "--air-temperature", air, "--rate", "5 kW net"
        )
        assert sold["series"]["liquid_mass_kg"][0] == pytest.approx(11.0, rel=1e-6), air
    heavier = (
        "cylinder",
        "--size",
        "13 kg",
        "--air-temperature",
        "15 C",
        "--rate",
        "4 kW net",
        "--time",
        "1 h",
    )
    of_propane, of_butane = (run(*heavier, "--gas", gas).stdout for gas in ("propane", "butane-commercial"))
    named = "A cylinder marked for butane is filled with no other gas"
    assert "13 kg, filled to 85 %: 11.3 kg of liquid" in of_propane  # 26.2 L x 0.85 x 507 kg/m3 (memory)
    assert named in " ".join(of_propane.split())
    assert named not in " ".join(of_butane.split())
    in_US = " ".join(
        run(*heavier, "--gas", "propane", "--units", "us").stdout.split()
    )  # 13 kg / 0.45359237 kg/lb
    assert "cylinder 13 kg (28.7 lb), filled to 85 %: 24.9 lb of liquid" in in_US
    assert "13 kg (28.7 lb) is what this size holds" in in_US
    wrong = run(*heavier, "--gas", "propane", "--fill", "13 kg").stderr
    assert "13 kg of propane" in wrong
    assert "of the water capacity, here 11.3 kg" in wrong
    own = ("--water-capacity", "21.6 L", "--diameter", "310 mm", "--tare", "8 kg")
    same = answer(*COLD[:3], *own, *COLD[5:])
    assert same["hold_time_min"] == pytest.approx(answer(*COLD)["hold_time_min"], rel=1e-9)
    gentle = answer(*COLD, "--regulator", "butane 30 mbar")
    assert gentle["minimum_inlet_kPa"] == 30.0
    assert gentle["hold_time_min"] > answer(*COLD)["hold_time_min"]


def test_a_cylinder_has_the_regulator_of_its_gas_and_region() -> None:
    """Least inlets of EN 16129 (memory): 0.3 bar of butane, 1 bar of propane; of the US 8 psi, as quoted."""
    at = ("--air-temperature", "10 C", "--rate", "4 kW net", "--time", "1 h")
    cases = {
        ("G30", "13 kg"): 30.0,
        ("G31", "11 kg"): 100.0,
        ("propane", "20 lb"): 55.158,
    }
    for (gas, size), least_kPa in cases.items():
        found = answer("cylinder", "--gas", gas, "--size", size, *at)
        assert found["minimum_inlet_kPa"] == pytest.approx(least_kPa), gas
    of_file = answer(
        "cylinder", CART, "--market", "B", "--size", "11 kg", "--air-temperature", "20 C", "--time", "1 h"
    )
    couple = of_file["markets"]
    assert [one["gas_name"] for one in couple] == ["G30", "G31"]
    ratings = sum(1e-3 * one.rate_W * one.count for one in demonstration().burners)
    assert all(one["heat_input_kW"] == pytest.approx(ratings) for one in couple)


def test_a_cylinder_of_a_market_has_its_regulator(tmp_path: Path) -> None:
    """By the pressure of the market, 50 mbar of G31 too; what [new_supply] says of its regulator takes precedence."""
    file, at = tmp_path / "cart.toml", ("--size", "11 kg", "--air-temperature", "20 C", "--time", "1 h")
    both = ", ".join(f'{{ gas = "{gas}", pressure = "50 mbar" }}' for gas in ("G30", "G31"))
    couple = f'[[market]]\nname = "50"\nregion = "eu"\nsupply = [{both}]\n'
    train = (
        '[new_supply]\ngas = "G30"\npressure = "50 mbar"\n'
        'regulator = { type = "lp 50 mbar", minimum_inlet = "0.7 bar" }\n'
    )
    text = demonstration_path().read_text(encoding="utf-8") + couple
    for more, least_kPa in (("", 30.0), (train, 70.0)):
        file.write_text(text + more, encoding="utf-8")
        found = answer("cylinder", str(file), "--market", "50", *at)["markets"]
        assert [one["minimum_inlet_kPa"] for one in found] == pytest.approx([least_kPa, least_kPa])
    assert (
        "lp 50 mbar"
        in run("cylinder", "--gas", "G31", "--rate", "4 kW net", *at, "--regulator", "lp 50 mbar").stdout
    )


def test_butane_in_frost_holds_nothing() -> None:
    found = answer(*COLD[:2], "butane-n", *COLD[3:])
    assert found["hold_time_min"] == 0.0
    assert found["ending"] == "pressure"


@pytest.mark.parametrize(
    ("args", "word"),
    [
        ((*COLD[:4], "19 lb", *COLD[5:]), "did you mean 10 lb|did you mean"),
        ((*COLD[:3], *COLD[5:]), "give a size"),
        ((*COLD, "--tare", "8 kg"), "give a size"),
        ((*COLD[:6], "95 %", *COLD[7:]), "full cylinder"),
        ((*COLD[:6], "much", *COLD[7:]), "--fill"),
        ((*COLD[:2], "natural-gas-typical", *COLD[3:]), "does not stay liquid"),
        ((*COLD[:2], "trade-propane-2500", *COLD[3:]), "composition"),
        ((*COLD[:8], "90 C", *COLD[9:]), "-45 to 50 C"),
        ((*COLD[:10], "60 kBtu/h"), "gross or net"),
        ((*COLD, "--regulator", "lp singel stage"), "did you mean lp single stage"),
        ((*COLD, "--regulator", "lp single stage", "--minimum-pressure", "8 psi"), "not both"),
        ((*COLD, "--heat-table", "gone.csv"), "not a regular file"),
        ((*COLD[:1], *COLD[3:]), "the gas is missing"),
        (COLD[:9], "the heat input is missing"),
        ((*COLD, "--market", "A"), "has a meaning with FILE only"),
        (("cylinder", CART, *COLD[3:]), "--gas propane, or a market of FILE"),
        ((*COLD, "--time", "0 s"), "--time"),
    ],
)
def test_cylinder_refuses_in_words(args: tuple[str, ...], word: str) -> None:
    import re

    assert re.search(word, complaint(*args))


def test_a_rate_too_large_or_too_small_ends_cleanly() -> None:
    assert answer(*COLD[:10], "400 kBtu/h gross")["hold_time_min"] < 30
    assert answer(*COLD[:10], "0.1 kBtu/h gross", "--time", "2 h")["ending"] == "time"
    assert "outside the range" in complaint(*COLD[:10], "400 MMBtu/h gross")


def test_a_burner_whose_name_holds_a_comma_can_be_asked_for(tmp_path: Path) -> None:
    file = tmp_path / "cart.toml"
    file.write_text(Path(CART).read_text().replace('"stock-pot ring"', '"ring, right"'))
    assert answer("supply", str(file), "--on", "Ring, right")["on"] == ["ring, right"]


def test_hose_and_pipe_stand_beside_the_named_formulas() -> None:
    elements = {element["kind"]: element for element in answer("supply", CART)["elements"]}
    for kind in ("hose", "pipe"):
        assert set(elements[kind]["flow_by_formula_over_this"]) == {"code", "Mueller", "IGT", "Spitzglass"}
    assert elements["manifold"]["flow_by_formula_over_this"] == {}
    assert "beside the trade's formulas" in run("supply", CART).output
