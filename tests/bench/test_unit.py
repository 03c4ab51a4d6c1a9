"""What the bench says of a unit by its file: when the air of a burner lit from cold is steady."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from burnerlab.appliance import demonstration, demonstration_path
from burnerlab.appliance.project.model import Appliance
from burnerlab.appliance.project.project_file import read_appliance, read_appliance_text
from burnerlab.bench import Reading, explain
from burnerlab.bench.reading.manifold import gauge_uncertainty_Pa
from burnerlab.bench.unit import heat_of, orifices_of, steady_note, wait_note
from burnerlab.cli import main

CART = demonstration()


def _without_bodies() -> Appliance:
    return replace(CART, burners=tuple(replace(burner, body=None) for burner in CART.burners))


def test_a_burner_with_a_body_has_its_metal_air_and_time_in_words() -> None:
    note = steady_note(CART, "griddle tube left")
    for words in (
        "griddle tube left",
        "% in 15 min",
        "metal at the ports",
        "°C",
        "change of its heat input is not evaluated",
        "hot_gas_temperature",
    ):
        assert words in note
    text = demonstration_path().read_text(encoding="utf-8")
    known = read_appliance_text(
        text.replace('drill = "#54"', 'drill = "#54", hot_gas_temperature = "45 C"'), "t.toml"
    )
    assert "Heat input -4.9 % (-6.2 to -3.5 %)" in steady_note(known, "griddle tube left")


def test_all_burners_together_name_the_one_whose_air_changes_most() -> None:
    each = {burner.name: steady_note(CART, burner.name) for burner in CART.burners if burner.kind != "tile"}
    assert steady_note(CART, None) in each.values()


@pytest.mark.parametrize(("appliance", "burner"), [(_without_bodies(), None), (CART, "tile broiler")])
def test_what_is_not_known_is_not_said(appliance: Appliance, burner: str | None) -> None:
    assert steady_note(appliance, burner) == ""


def test_clock_says_it_where_the_file_is_known() -> None:
    reading = ("--volume", "50 L", "--time", "514 s")
    by_file = CliRunner().invoke(
        main, ["clock", str(demonstration_path()), "--burner", "griddle tube left", *reading]
    )
    assert "lit from cold" in by_file.output
    without = CliRunner().invoke(main, ["clock", "--gas", "natural-gas-typical", *reading])
    assert "lit from cold" not in without.output


def test_the_bench_says_how_long_to_wait_and_names_no_key_of_a_file() -> None:
    waits = [wait_note(CART, burner.name) for burner in CART.burners if burner.kind != "tile"]
    assert all(re.search(r"wait (1[5-9]|[2-9]\d|\d{3}) min|over two hours", one) for one in waits)
    assert not any("_" in one or "%" in one for one in waits)
    declared = [one for one in CART.burners if one.kind == "tile"]
    assert [wait_note(CART, one.name) for one in declared] == [""] * len(declared)


def test_causes_name_the_orifices_of_the_own_stock(tmp_path: Path) -> None:
    """A drawer of three sizes: what may stand in a burner by mistake is the next part, not the next drill."""
    stock = tmp_path / "stock.csv"
    stock.write_text(
        "part,size,thread\nP-47,#47,M6\nP-44,#44,M6\nP-40,#40,M6\nP-42,#42,M8\n", encoding="utf-8"
    )
    of_stock = replace(CART, tables=replace(CART.tables, stock=stock))
    assert [drill.part for drill in orifices_of(of_stock)] == ["P-47", "P-44", "P-42", "P-40"]
    names = {cause.words for cause in explain(of_stock, Reading(ratio=1.30), "stock-pot ring").causes}
    assert any("#42 (P-42) for #44 in stock-pot ring" in words for words in names)
    threaded = tuple(replace(one, orifice=replace(one.orifice, thread="M6")) for one in CART.burners)
    found = explain(replace(of_stock, burners=threaded), Reading(ratio=1.30), "stock-pot ring").causes
    assert any("#40 (P-40) for #44 in stock-pot ring" in cause.words for cause in found)


def test_limits_of_error_of_the_file_hold_in_every_reading_of_a_test(tmp_path: Path) -> None:
    """[tables] instrument_uncertainty: as --instruments does for one reading."""
    own = tmp_path / "own.csv"
    own.write_text(
        "name,half_width,unit,shape,words\n"
        "gas meter,0.02,relative,uniform,meter of the line\n"
        "manifold pressure,250,Pa,uniform,gauge of the line\n"
        "heating value declared,0.03,relative,uniform,gas of the day\n"
        "heating value library,0.03,relative,uniform,gas of the day\n"
    )
    text = demonstration_path().read_text(encoding="utf-8")
    file = tmp_path / "cart.toml"
    file.write_text(f'{text}\n[tables]\ninstrument_uncertainty = "own.csv"\n', encoding="utf-8")
    of_file, shipped = read_appliance(file), CART
    assert gauge_uncertainty_Pa(of_file) == pytest.approx(10.0 * gauge_uncertainty_Pa(shipped))
    assert heat_of(of_file).instrument.half_width == 0.03
    line = ["--burner", "griddle tube left", "--volume", "50 L", "--time", "535 s", "--json"]
    answers = {
        name: json.loads(CliRunner().invoke(main, ["clock", *words, *line]).output)
        for name, words in {
            "file": [str(file)],
            "option": [str(demonstration_path()), "--instruments", str(own)],
            "neither": [str(demonstration_path())],
        }.items()
    }
    assert answers["file"] == answers["option"] != answers["neither"]
    assert {tuple(one) for one in answers.values()} == {tuple(answers["neither"])}
    assert answers["neither"]["heat_input_gross_kW"] == pytest.approx(3.67, abs=0.01)
