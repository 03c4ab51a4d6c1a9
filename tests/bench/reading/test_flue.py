"""Flue gas: what must hold for every sample, and what is refused."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.bench.reading.flue import (
    FlueReading,
    air_free_by_CO2,
    air_free_by_oxygen,
    analyse_flue,
    limit_comparisons,
)
from burnerlab.cli.reading import flue_command
from burnerlab.gas import load
from burnerlab.quantity import UserError

GAS = load("natural-gas-us-mean")


@settings(max_examples=40)
@given(st.floats(1e-6, 5e-3), st.floats(0.0, 0.15), st.floats(0.0, 0.8))
def test_diluting_a_sample_leaves_air_free_CO(CO: float, oxygen: float, air: float) -> None:
    """Air of 20.9 % oxygen mixed into a sample: air-free CO and CO over CO2 stay, oxygen rises."""
    diluted = (1 - air) * oxygen + air * 0.209
    assert diluted >= oxygen
    once, twice = air_free_by_oxygen(CO, oxygen), air_free_by_oxygen((1 - air) * CO, diluted)
    assert float(twice) == pytest.approx(float(once), rel=1e-9)
    CO2 = 0.1
    assert float(air_free_by_CO2((1 - air) * CO, (1 - air) * CO2, 0.117)) == pytest.approx(
        float(air_free_by_CO2(CO, CO2, 0.117)), rel=1e-12
    )


@settings(max_examples=25)
@given(st.floats(0.0, 0.17))
def test_oxygen_and_its_carbon_dioxide_tell_the_same_air(oxygen: float) -> None:
    by_oxygen = analyse_flue(GAS, FlueReading(oxygen=oxygen))
    by_CO2 = analyse_flue(GAS, FlueReading(carbon_dioxide=by_oxygen.carbon_dioxide))
    assert by_CO2.air_ratio == pytest.approx(by_oxygen.air_ratio, rel=1e-9)
    assert by_CO2.oxygen == pytest.approx(oxygen, abs=1e-9)


def test_a_hotter_flue_loses_more_and_the_gross_basis_counts_the_latent_heat() -> None:
    cold, hot = (analyse_flue(GAS, FlueReading(oxygen=0.05, flue_temperature_K=T)) for T in (400.0, 500.0))
    assert hot.flue_loss_gross > cold.flue_loss_gross > cold.flue_loss_net
    at_room = analyse_flue(GAS, FlueReading(oxygen=0.05, flue_temperature_K=293.15))
    assert at_room.flue_loss_net == pytest.approx(0.0, abs=1e-12)
    assert at_room.flue_loss_gross == pytest.approx(0.0975, abs=0.003)  # latent heat alone, 9.9 % for methane


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        (FlueReading(oxygen=0.2086), "oxygen.*accepted: 0 to 0.2085"),
        (FlueReading(oxygen=-0.01), "oxygen.*accepted: 0 to 0.2085"),
        (FlueReading(oxygen=0.05, carbon_monoxide=0.2), "carbon monoxide.*accepted: 0 to 0.1"),
        (FlueReading(oxygen=0.05, flue_temperature_K=200.0), "flue temperature.*accepted: -20 C to 1727 C"),
        (FlueReading(oxygen=0.05, air_temperature_K=20.0), "air temperature.*accepted: -40 C to 80 C"),
        (FlueReading(oxygen=0.05, relative_humidity=50.0), "relative humidity.*accepted: 0 to 1"),
        (FlueReading(oxygen=0.05, pressure_Pa=1013.25), "barometer.*accepted: 50000 to 110000 Pa"),
        (FlueReading(carbon_dioxide=0.13), "cannot be of this gas"),
        (FlueReading(), "give the oxygen"),
    ],
)
def test_what_no_sample_can_be_is_refused(reading: FlueReading, words: str) -> None:
    with pytest.raises(UserError, match=words):
        analyse_flue(GAS, reading)


def test_a_declared_gas_is_refused() -> None:
    with pytest.raises(UserError, match="composition"):
        analyse_flue(load("trade-propane-2516"), FlueReading(oxygen=0.05))


def test_notes_say_what_was_not_read() -> None:
    assert any("18 %" in note for note in analyse_flue(GAS, FlueReading(oxygen=0.185)).notes)
    assert any("not evaluated" in note for note in analyse_flue(GAS, FlueReading(oxygen=0.05)).notes)
    both = analyse_flue(GAS, FlueReading(oxygen=0.05, carbon_dioxide=0.10))
    assert any("differ" in note for note in both.notes)


def test_limits_are_data() -> None:
    verdicts = {limit.name: limit.verdict for limit in limit_comparisons(350e-6)}
    assert verdicts["vented appliance"] == "near"
    assert verdicts["unvented room heater"] == "outside"
    assert verdicts["unvented gas oven"] == "within"


def test_command() -> None:
    asked = [
        "--gas",
        "propane",
        "--oxygen",
        "5 %",
        "--carbon-monoxide",
        "87 ppm",
        "--flue-temperature",
        "180 C",
        "--json",
    ]
    found = json.loads(CliRunner().invoke(flue_command, asked).output)
    assert found["air_free_CO_ppm"] == pytest.approx(114.36, abs=0.01)
    assert found["excess_air_percent"] == pytest.approx(28.7, abs=0.1)
    assert 0 < found["flue_loss_net_percent"] < found["flue_loss_gross_percent"] < 20
    assert found["cautions"]


def test_the_larger_air_free_figure_is_held_against_the_limits() -> None:
    """5 % oxygen says 114 ppm, the 5 % carbon dioxide read beside it 207: one of the two is wrong."""
    found = analyse_flue(GAS, FlueReading(oxygen=0.05, carbon_dioxide=0.05, carbon_monoxide=87e-6))
    heater = next(limit for limit in found.limits if limit.name == "unvented room heater")
    assert found.air_free_CO == pytest.approx(114e-6, abs=1e-6)
    assert found.air_free_CO_by_CO2 > heater.limit
    assert heater.verdict == "outside"
    assert any("larger" in note for note in found.notes)


def test_what_carbon_monoxide_says_of_the_rest_is_noted() -> None:
    rich = analyse_flue(GAS, FlueReading(oxygen=0.05, carbon_monoxide=0.01))
    assert any("read too high" in note for note in rich.notes)
    assert not any("read too high" in note for note in analyse_flue(GAS, FlueReading(oxygen=0.05)).notes)
    alien = analyse_flue(load("hydrogen"), FlueReading(oxygen=0.05, carbon_monoxide=87e-6))
    assert any("no carbon" in note for note in alien.notes)
    with pytest.raises(UserError, match="forms none"):
        analyse_flue(load("hydrogen"), FlueReading(carbon_dioxide=0.05))


def run(*args: str):
    return CliRunner().invoke(flue_command, ["--gas", "propane", "--oxygen", "5 %", *args])


def test_carbon_monoxide_above_its_limit_as_read_stops_before_the_refusal_of_the_rest() -> None:
    for asked, limit in (("5000 ppm", "limit 800"), ("790 ppm", "")):
        arguments = ["--gas", "propane", "--carbon-monoxide", asked, "--appliance-kind", "outdoor-cooking"]
        done = CliRunner().invoke(flue_command, arguments)
        assert done.exit_code != 0  # the air is still asked for
        assert ("STOP. CO at least 5000 ppm air-free" in done.output) is bool(limit)
        assert limit in done.output


def test_a_flue_colder_than_the_air_is_refused() -> None:
    done = run("--flue-temperature", "10 C", "--air-temperature", "20 C")
    assert done.exit_code != 0
    assert "colder than the combustion air" in str(done.exception)


def test_limits_of_ones_own_stand_in_for_ours(tmp_path: Path) -> None:
    own = tmp_path / "limits.csv"
    head = "name,applies_to,air_free_CO_ppm,source,place,provenance,note\n"
    own.write_text(head + "house limit,our grills,100,works rule 7,,seen,\n")
    done = run("--carbon-monoxide", "87 ppm", "--limits", str(own), "--json")
    (limit,) = json.loads(done.output)["limits"]
    assert (limit["name"], limit["verdict"], limit["source"]) == ("house limit", "outside", "works rule 7")
    own.write_text(head + "house limit,our grills,none,works rule 7,,seen,\n")
    assert 'limits.csv, line 2: air_free_CO_ppm = "none"' in str(
        run("--carbon-monoxide", "87 ppm", "--limits", str(own)).exception
    )
    assert "not a regular file" in str(run("--limits", str(tmp_path)).exception)


HOT = ("--flue-temperature", "180 C", "--json")


def budgets(*args: str) -> dict[str, float]:
    found: dict[str, float] = json.loads(run(*HOT, *args).output)
    return found


def expanded(found, figure: str) -> float:
    """Half the interval of a figure."""
    stem, ending = figure, ""
    for unit in ("_C", "_percent"):
        if figure.endswith(unit):
            stem, ending = figure.removesuffix(unit), unit
    low, high = (found["intervals"][f"{stem}_{end}{ending}"] for end in ("low", "high"))
    return (high - low) / 2


def test_a_humidity_that_was_not_read_is_anything_from_0_to_100_percent() -> None:
    """The half width of the interval that dry and saturated air at 20 C span, over sqrt 3, is in the budget."""
    dry, wet = budgets("--relative-humidity", "0 %"), budgets("--relative-humidity", "100 %")
    unread, half = budgets(), budgets("--relative-humidity", "50 %")
    for figure in ("dew_point_C", "flue_loss_net_percent", "flue_loss_gross_percent"):
        assert unread[figure] == half[figure]
        assert dry[figure] < unread[figure] < wet[figure]
        span = 1.96 * (wet[figure] - dry[figure]) / 2 / 3**0.5
        read = 1.96 * (wet[figure] - dry[figure]) * 0.05 / 3**0.5  # 5 points of a hygrometer
        added = expanded(unread, figure) ** 2 - expanded(half, figure) ** 2
        assert added == pytest.approx(span**2 - read**2, rel=0.05), figure


def test_humidity_leaves_the_air_ratio_of_a_dry_sample() -> None:
    dry, unread = budgets("--relative-humidity", "0 %"), budgets()
    assert expanded(unread, "air_ratio") == pytest.approx(expanded(dry, "air_ratio"))
    assert expanded(unread, "air_ratio") == pytest.approx(expanded(unread, "excess_air_percent") / 100)


def test_warm_air_leaves_more_in_doubt_than_cold_air() -> None:
    cold, warm = budgets("--air-temperature", "0 C"), budgets("--air-temperature", "35 C")
    assert expanded(warm, "dew_point_C") > 2 * expanded(cold, "dew_point_C")


def test_the_note_says_what_was_taken_for_the_humidity() -> None:
    assert "50 % taken, 0 to 100 % in the uncertainty" in run().output
    assert "humidity" not in run("--relative-humidity", "40 %").output
    found = json.loads(run("--relative-humidity", "40 %", "--json").output)
    assert found["reading"]["relative_humidity_percent"] == 40
    assert json.loads(run("--json").output)["reading"]["relative_humidity_percent"] is None
