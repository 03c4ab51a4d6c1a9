"""The commands on real input: what they print, with the keys that others may build on."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from command_runs import answer, complaint, run

from burnerlab.appliance import demonstration_path
from burnerlab.orifice import DISCHARGE

CART = str(demonstration_path())
PROPANE = ("--to", "propane", "--pressure", "11 inH2O")
GAS_KEYS = (
    "gross_wobbe_MJ_per_m3",
    "net_wobbe_MJ_per_m3",
    "gross_heating_value_MJ_per_m3",
    "net_heating_value_MJ_per_m3",
    "relative_density",
    "density_kg_per_m3",
    "compression_factor",
    "molar_mass_kg_per_kmol",
    "stoichiometric_air_m3_per_m3",
    "ultimate_CO2_percent",
)
FLOW_KEYS = {
    "heat_input_gross_kW",
    "heat_input_net_kW",
    "mass_flow_kg_per_h",
    "volume_flow_m3_per_h",
    "choked",
    "expansibility",
    "reference",
}
BURNER_KEYS = {
    "name",
    "from_orifice_mm",
    "to_orifice_mm",
    "drill",
    "area_ratio",
    "rate_gross_kW",
    "predicted_gross_kW",
    "deviation_percent",
    "to_air_m3_per_h",
}


def test_gas_has_every_headline_value_with_its_uncertainty() -> None:
    propane = answer("gas", "propane")
    for key in GAS_KEYS:
        assert propane[key] > 0.0
        assert 0.0 < propane[f"{key}_uncertainty_percent"] < 1.0, key
    assert propane["coverage_factor"] == 2.0
    assert propane["reference"].startswith("15 °C / 15 °C, 101.325 kPa, dry")
    assert "3P" in propane["EN_437"]


def test_a_gas_far_from_natural_gas_is_given_no_family_by_its_wobbe_index() -> None:
    hydrogen = answer("gas", "hydrogen")
    assert hydrogen["EN_437"] == []
    assert "2H" in hydrogen["EN_437_by_wobbe_index_alone"]
    (line,) = [one for one in run("gas", "hydrogen").stdout.splitlines() if one.startswith("EN 437")]
    assert line.split(maxsplit=2)[2].startswith("Not a second-family gas:")


def test_gas_agrees_with_the_printed_value_of_the_test_gas() -> None:
    g20 = answer("gas", "g20")
    assert g20["gross_wobbe_MJ_per_m3"] == pytest.approx(50.72, rel=5e-4)
    assert g20["printed_by_source"]["Ws"] == 50.72
    assert g20["ultimate_CO2_percent"] == pytest.approx(11.7, abs=0.05)


@pytest.mark.parametrize("name", ["CO", "carbon monoxide", "mix:CO=1", "mix:carbon monoxide=100 %"])
def test_names_formulas_and_mixes_mean_the_same_gas(name: str) -> None:
    assert answer("gas", name)["composition_mole_fraction"] == {"carbon monoxide": 1.0}


def test_a_component_is_a_gas_of_its_own_name() -> None:
    assert answer("flow", "--gas", "n-C4H10", "--pressure", "28 mbar", "--drill", "#54")["gas"] == "n-butane"
    assert "butane-n" in complaint("flow", "--gas", "butane", "--pressure", "28 mbar", "--drill", "#54")


def test_reference_words_and_options_say_the_same_state() -> None:
    by_name = answer("gas", "propane", "--at", "US_60F_14p73_dry")
    by_option = answer("gas", "propane", "--at", "60F", "--reference-pressure", "14.73 psia", "--dry")
    assert by_name["reference"] == by_option["reference"]
    assert by_name["gross_heating_value_MJ_per_m3"] == by_option["gross_heating_value_MJ_per_m3"]
    wet = answer("gas", "propane", "--at", "60F", "--saturated")["gross_heating_value_MJ_per_m3"]
    assert wet / answer("gas", "propane", "--at", "60F")["gross_heating_value_MJ_per_m3"] == pytest.approx(
        0.9826, abs=5e-4
    )


def test_uncertainty_of_the_composition_is_carried_through() -> None:
    mix = ("gas", "--mix", "CH4=0.9, N2=0.1")
    bare = answer(*mix)
    known = answer(*mix, "--uncertainty", "nitrogen=0.001, methane=0.001")
    tied = answer(*mix, "--uncertainty", "nitrogen=0.001, methane=0.001", "--correlated")
    key = "gross_heating_value_MJ_per_m3_uncertainty_percent"
    assert bare[key] < known[key] == pytest.approx(100 * 2 * 0.001 / 0.9, rel=0.05)
    assert (
        tied["adiabatic_flame_temperature_uncertainty_percent"]
        > bare["adiabatic_flame_temperature_uncertainty_percent"]
    )


def test_a_declared_gas_says_what_it_cannot_know() -> None:
    gas = answer(
        "gas", "--heating-value", "1037 Btu/ft3 gross at 60F", "--relative-density", "0.6", "--at", "60F"
    )
    assert gas["gross_heating_value_MJ_per_m3"] == pytest.approx(
        1037 * 1.05505585262e-3 / 0.028316846592, rel=1e-6
    )
    assert gas["adiabatic_flame_temperature_C"] is None
    assert "adiabatic flame temperature" in {entry["topic"] for entry in gas["not_evaluated"]}


def test_a_gas_of_the_users_own_is_read_from_a_file(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(
        'title = "Mine"\nper = "mole"\ncomposition = { CH4 = 0.9, CO2 = 0.1 }\n', encoding="utf-8"
    )
    assert answer("gas", str(file))["title"] == "Mine"


def test_fuels_and_gas_list_are_the_same_library() -> None:
    fuels = answer("fuels")
    assert fuels["count"] == len(fuels["fuels"]) > 50
    listed = answer("gas", "--list")
    assert listed == fuels | {name: listed[name] for name in ("schema", "engines")}


def test_flow_has_its_keys_and_agrees_with_the_formula_of_the_trade() -> None:
    flow = answer(
        "flow", "--gas", "propane", "--pressure", "11 inH2O", "--drill", "#54", "--coefficient", "0.9"
    )
    assert FLOW_KEYS <= set(flow)
    Btu_per_h = flow["heat_input_gross_kW"] / 2.9307107e-4
    assert Btu_per_h == pytest.approx(24_039, rel=3e-3)  # published worked case
    assert flow["choked"] is False


def test_drill_and_diameter_of_the_same_bore_agree() -> None:
    line = ("flow", "--gas", "G20", "--pressure", "20 mbar")
    assert (
        answer(*line, "--drill", "#54")["mass_flow_kg_per_h"]
        == answer(*line, "--diameter", "0.055 in")["mass_flow_kg_per_h"]
    )


def test_flow_chokes_and_says_that_the_pressure_is_high() -> None:
    flow = answer("flow", "--gas", "propane", "--pressure", "30 psi", "--diameter", "1.4 mm")
    assert flow["choked"] is True
    assert "outside 5 to 150 mbar" in " ".join(flow["notes"])


def test_air_flows_without_heat() -> None:
    air = answer(
        "flow",
        "--mix",
        "N2=0.79,O2=0.21",
        "--pressure",
        "20 psi",
        "--diameter",
        "1/8 in",
        "--coefficient",
        "1",
    )
    assert air["heat_input_gross_kW"] == 0.0
    assert air["mass_flow_kg_per_h"] > 0.0


def test_temperature_altitude_and_count_move_the_flow_the_right_way() -> None:
    line = ("flow", "--gas", "propane", "--pressure", "11 inH2O", "--drill", "#54")
    base = answer(*line)["heat_input_gross_kW"]
    assert answer(*line, "--gas-temperature", "-10C")["heat_input_gross_kW"] > base
    high = answer(*line, "--altitude", "5000 ft")["heat_input_gross_kW"]
    assert high / base == pytest.approx(0.912, abs=0.01)  # sqrt of the pressure ratio
    assert answer(*line, "--count", "3")["heat_input_gross_kW"] == pytest.approx(3 * base)


@pytest.mark.parametrize("shape", ["tapered", "sharp", "rounded", "tube", "thin plate", "long-radius nozzle"])
def test_every_shape_of_the_help_is_known(shape: str) -> None:
    assert shape in DISCHARGE
    assert (
        answer("flow", "--gas", "G20", "--pressure", "20 mbar", "--drill", "#54", "--shape", shape)[
            "coefficient"
        ]
        > 0.5
    )


def test_a_channel_takes_its_length() -> None:
    line = (
        "flow",
        "--gas",
        "propane",
        "--pressure",
        "11 inH2O",
        "--diameter",
        "1.4 mm",
        "--shape",
        "channel",
    )
    assert answer(*line, "--length", "4 mm")["coefficient"] == pytest.approx(0.8, abs=0.02)
    assert "length" in complaint(*line)


def test_size_gives_back_what_flow_was_asked() -> None:
    line = ("--gas", "propane", "--pressure", "11 inH2O")
    rate = answer("flow", *line, "--diameter", "1.234 mm")["heat_input_net_kW"]
    sized = answer("size", *line, "--rate", f"{rate} kW net")
    assert sized["diameter_mm"] == pytest.approx(1.234, rel=1e-9)


def test_size_offers_the_nearest_drills_below_and_above() -> None:
    sized = answer("size", "--gas", "propane", "--rate", "12 kBtu/h gross", "--pressure", "11 inH2O")
    choices = sized["choices"]
    assert {"drill", "diameter_mm", "heat_input_gross_kW", "deviation_percent"} <= set(choices[0])
    diameters = [choice["diameter_mm"] for choice in choices]
    assert diameters == sorted(diameters)
    assert diameters[0] < sized["diameter_mm"] < diameters[-1]
    best = min(choices, key=lambda choice: abs(choice["diameter_mm"] - sized["diameter_mm"]))
    assert sized["nearest_drill"] == best["drill"]


def test_size_of_a_region_has_the_drills_of_its_shops() -> None:
    """Number, letter and fraction in North America; metric and hundredths in Europe (common practice)."""
    kinds = {"us": {"number", "letter", "fraction"}, "eu": {"metric", "hundredth"}}
    for region, named in kinds.items():
        line = (
            "size",
            "--gas",
            "propane",
            "--rate",
            "12 kBtu/h gross",
            "--pressure",
            "11 inH2O",
            "--region",
            region,
        )
        assert {choice["list"] for choice in answer(*line)["choices"]} <= named
    assert "gross Btu/h" not in run(*line).stdout
    assert "Btu/h gross" in run(*line[:-1], "us").stdout


def test_size_keeps_to_the_drills_named() -> None:
    sized = answer(
        "size", "--gas", "propane", "--rate", "3 kW net", "--pressure", "28 mbar", "--drills", "#60,1.45 mm"
    )
    assert {choice["drill"] for choice in sized["choices"]} == {"#60", "1.45 mm"}
    assert "no drill of the list comes within" in sized["no_drill_meets"]


def test_stoichiometric_air_beside_volumes_is_volumes() -> None:
    """Propane needs 23.87 mol of air a mole: 24.3 m3 a real m3, and so say the flows of a conversion."""
    gas = answer("gas", "propane")
    assert gas["stoichiometric_air_mol_per_mol"] == pytest.approx(23.866, rel=1e-4)
    assert gas["stoichiometric_air_m3_per_m3"] == pytest.approx(24.30, rel=1e-3)
    job = answer("convert", CART, *PROPANE)
    burner = job["burners"][0]
    ratio = burner["to_air_m3_per_h"] / burner["volume_flow_m3_per_h"]
    assert job["to_gas"]["stoichiometric_air_m3_per_m3"] == pytest.approx(ratio, rel=1e-9)
    assert gas["stoichiometric_air_m3_per_m3"] == pytest.approx(ratio, rel=1e-9)
    lines = run("gas", "propane").stdout.splitlines()
    assert any("24.296" in line and "m³/m³" in line for line in lines)
    assert any("23.866" in line and "mol/mol" in line for line in lines)


def test_a_billed_gas_can_be_sized_and_its_net_value_is_called_an_estimate() -> None:
    billed = ("--heating-value", "1037 Btu/ft3 gross at 60F", "--specific-gravity", "0.6")
    sized = answer("size", *billed, "--rate", "9 kBtu/h gross", "--pressure", "4 inH2O")
    assert sized["diameter_mm"] == pytest.approx(1.36, abs=0.02)
    assert "estimate" in " ".join(sized["notes"])


def test_convert_has_its_keys() -> None:
    found = answer("convert", CART, *PROPANE)
    for burner in found["burners"]:
        assert BURNER_KEYS <= set(burner)
        assert abs(burner["deviation_percent"]) < 5.0
    assert {"topic", "verdict", "value", "low", "high", "source"} <= set(found["findings"][0])
    assert {finding["verdict"] for finding in found["findings"]} <= {
        "within",
        "near",
        "outside",
        "not evaluated",
    }
    assert found["not_evaluated"]
    assert found["cautions"]


def test_convert_follows_its_options() -> None:
    plain, high = (
        answer("convert", CART, *PROPANE),
        answer("convert", CART, *PROPANE, "--altitude", "5000 ft", "--policy", "none"),
    )
    assert high["burners"][0]["to_orifice_mm"] > plain["burners"][0]["to_orifice_mm"]
    ruled = answer("convert", CART, *PROPANE, "--altitude", "5000 ft", "--policy", "4-percent-from-sea-level")
    assert ruled["altitude_policy_factor"] == pytest.approx(0.8)
    metric = answer("convert", CART, *PROPANE, "--drills", "metric", "--tolerance", "3 %")
    assert all(burner["drill"].endswith("mm") for burner in metric["burners"])
    assert metric["tolerance_percent"] == pytest.approx(3.0)
    ranged = answer("convert", CART, *PROPANE, "--pressure-range", "25..35 mbar")
    assert (ranged["to_gauge_pressure_low_mbar"], ranged["to_gauge_pressure_high_mbar"]) == pytest.approx(
        (25, 35)
    )


def test_convert_prints_the_burners_and_what_to_heed() -> None:
    text = run("convert", CART, *PROPANE, "--units", "us").stdout
    assert "griddle tube left" in text
    assert "WARNING: Gas parts: gas off, cool, qualified person; then leak test by code." in text


def test_convert_writes_the_sheet_and_does_not_overwrite_it(tmp_path: Path) -> None:
    line = ("convert", CART, *PROPANE, "--out", str(tmp_path / "sheet"), "--formats", "json,csv")
    files = answer(*line)["files"]
    assert sorted(Path(file).suffix for file in files) == [".csv", ".json"]
    assert "exists, will not overwrite it" in complaint(*line)
    assert "--overwrite" in complaint(*line)
    assert answer(*line, "--overwrite")["files"] == files


def test_injectors_list_every_burner_for_every_gas() -> None:
    table = answer(
        "injectors", CART, "--supply", "G31@37 mbar", "--supply", "propane @ 11 inH2O", "--altitude", "0 m"
    )
    assert len(table["rows"]) == 12
    row = table["rows"][0]
    assert row["injector_mark"] == pytest.approx(row["orifice_diameter_mm"] * 100, abs=0.5)
    assert abs(row["deviation_percent"]) < 2.0
    assert {row["gas"] for row in answer("injectors", CART, "--country", "DE")["rows"]} >= {"G20", "G31"}
    assert "mark" in run("injectors", CART).stdout


def test_tolerance_says_what_spreads_the_input() -> None:
    spread = answer("tolerance", CART, *PROPANE, "--draws", "20000")
    assert spread["end_of_line"]["causes"] == ["drill", "coefficient", "setting"]
    line, field = (spread[stage]["any_outside_fraction_percent"] for stage in ("end_of_line", "in_the_field"))
    assert line < field
    total = spread["in_the_field"]["total"]
    assert total["low_gross_kW"] < total["mean_gross_kW"] < total["high_gross_kW"]
    assert sum(cause["variance_fraction_percent"] for cause in total["causes"]) == pytest.approx(100.0)
    assert answer("tolerance", CART, "--draws", "20000")["gas"] == "natural-gas-typical"
    text = run("tolerance", CART, "--draws", "2000").stdout
    assert text.index("At the end of the line (drill, coefficient, setting)") < text.index("In the field (")
    assert "main cause" in text
    assert "scrap" not in text


def test_verify_shows_printed_and_ours() -> None:
    found = answer("verify", "--topic", "conversion")
    assert sum(found["within_by_provenance"].values()) == len(found["checks"]) > 0
    assert found["outside_by_provenance"] == found["shown_by_provenance"] == {}
    assert "count" not in found
    text = run("verify", "--topic", "conversion").stdout
    assert "agrees" in text
    assert "outside its tolerance: none" in text


def test_verify_adds_no_evidence_of_different_kinds_into_one_sum() -> None:
    found = answer("verify")
    kinds = found["within_by_provenance"]
    known = ("measured", "seen", "memory", "computed", "definition")
    assert list(kinds) == [kind for kind in known if kind in kinds]
    assert list(found["shown_by_provenance"]) == ["measured"]
    text = run("verify", "--differing").stdout
    for kind, words in (
        ("measured", "measured by others"),
        ("seen", "published, read in public texts"),
        ("memory", "recalled"),
        ("computed", "computed by another"),
    ):
        assert f"{kinds[kind]} {words}" in text
    assert "shown beside the model, not compared" in text
    assert not re.search(rf"\b{len(found['checks'])}\b", text)
    assert not re.search(rf"\b{sum(kinds.values())}\b", text)


def test_verify_writes_a_page_once(tmp_path: Path) -> None:
    page = tmp_path / "checks.html"
    assert run("verify", "--topic", "conversion", "--html", str(page)).exit_code == 0
    html = page.read_text(encoding="utf-8")
    assert html.startswith("<!doctype html>")
    assert "http" not in html.split("<table>")[0]
    assert "will not overwrite" in complaint("verify", "--topic", "conversion", "--html", str(page))


def test_verify_knows_its_topics() -> None:
    assert "did you mean conversion?" in complaint("verify", "--topic", "conversoin")


@pytest.mark.parametrize(
    ("region", "offered", "not_offered"),
    [("us", "canada-10-percent", "\0"), ("eu", "accepted: none)", "canada"), ("", "canada-10-percent", "\0")],
)
def test_a_wrong_policy_is_answered_with_those_of_the_region(
    tmp_path: Path, region: str, offered: str, not_offered: str
) -> None:
    file = tmp_path / "range.toml"
    text = Path(CART).read_text(encoding="utf-8")
    line = '# region = "us" '
    assert line in text
    file.write_text(text.replace(line, f'region = "{region}" #' if region else line), encoding="utf-8")
    said = complaint("convert", str(file), *PROPANE, "--policy", "percent-of-nothing")
    assert offered in said
    assert not_offered not in said
