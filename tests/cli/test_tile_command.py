"""``burnerlab tile``: a band below its ceiling, with what must be looked at."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import command_runs
import pytest

run = partial(command_runs.run, "tile")
answer = partial(command_runs.answer, "tile")

FIRED = ("--gas", "propane", "--rate", "2.4 kW gross", "--area", "150 mm x 100 mm", "--aeration", "1.1")
DENSITY = ("--gas", "propane", "--firing-density", "150 kW/m2", "--aeration", "1.1")


def test_a_tile_stays_below_its_ceiling_and_says_how_far_it_is_trusted() -> None:
    found = answer(*FIRED)
    low, high = found["surface_temperature_low_C"], found["surface_temperature_high_C"]
    assert low < found["surface_temperature_C"] < high <= found["surface_temperature_ceiling_C"]
    assert found["radiant_efficiency_net_percent"] < found["radiant_efficiency_ceiling_net_percent"]
    assert found["evidence"] == "estimate"
    assert found["cautions"]
    assert found["heat_input_gross_kW"] == pytest.approx(2.4)
    assert found["firing_density_gross_kW_per_m2"] == pytest.approx(160.0)
    assert {"within", "near", "outside", "not evaluated"} >= {f["verdict"] for f in found["findings"]}
    assert {"light-back, channel", "lift", "thermodynamic ceiling"} <= {f["topic"] for f in found["findings"]}


def test_the_face_may_be_given_in_any_unit() -> None:
    area = answer(*FIRED[:4], "--area", "150 cm2", "--aeration", "110 %")
    inches = answer(*FIRED[:4], "--area", "5.9055118 in x 3.9370079 in", "--aeration", "1.1")
    assert area["surface_temperature_C"] == pytest.approx(answer(*FIRED)["surface_temperature_C"])
    assert inches["surface_temperature_C"] == pytest.approx(area["surface_temperature_C"], abs=0.01)


def test_a_density_alone_gives_no_kilowatts() -> None:
    found = answer(*DENSITY)
    assert found["heat_input_net_kW"] is None
    assert found["radiated_kW"] is None
    assert found["firing_density_net_kW_per_m2"] == pytest.approx(150.0)
    assert any("taken as net" in note for note in found["notes"])
    gross = answer("--gas", "propane", "--firing-density", "150 kW/m2 gross", "--aeration", "1.1")
    assert gross["firing_density_gross_kW_per_m2"] == pytest.approx(150.0)
    assert not any("taken as net" in note for note in gross["notes"])


def test_a_bright_pot_raises_the_face() -> None:
    free = answer(*DENSITY)
    pot = answer(*DENSITY, "--view-factor", "0.7", "--target-emissivity", "0.22")
    assert free["to_target_efficiency_net_percent"] is None
    assert pot["to_target_efficiency_net_percent"] < pot["radiant_efficiency_net_percent"]
    assert pot["surface_temperature_C"] > free["surface_temperature_C"] + 50.0


def test_altitude_is_used() -> None:
    high = answer(*DENSITY, "--altitude", "2500 m")
    assert high["burned_gas_temperature_C"] > answer(*DENSITY)["burned_gas_temperature_C"] + 10.0


def test_the_page_says_it_in_words() -> None:
    text = run(*FIRED, "--channel", "1.2 mm").output
    for word in ("ceiling", "estimate", "982 °C", "CAUTION: Hot parts burn skin", "plane flame"):
        assert word in text


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("--gas", "propane", "--aeration", "1.1"), "--rate or --firing-density"),
        ((*DENSITY, "--rate", "2 kW net"), "--rate or --firing-density"),
        (("--gas", "propane", "--rate", "2.4 kW gross", "--aeration", "1.1"), "needs --area"),
        (("--gas", "propane", "--rate", "2.4 kW", "--area", "150 cm2", "--aeration", "1.1"), "gross"),
        (("--gas", "propane", "--firing-density", "150 kW", "--aeration", "1.1"), "--firing-density"),
        (("--gas", "propane", "--firing-density", "150 kW/m2", "--aeration", "0.5"), "aeration"),
        ((*DENSITY, "--target-emissivity", "0.5"), "needs --view-factor"),
        ((*DENSITY, "--view-factor", "1.5"), "--view-factor"),
        ((*DENSITY, "--emissivity", "0"), "emissivity"),
        (("--gas", "hydrogen", "--firing-density", "150 kW/m2", "--aeration", "1.1"), "too much hydrogen"),
        (("--gas", "trade-propane-2500", *DENSITY[2:]), "composition"),
        ((*FIRED[:4], "--area", "1 x 2 x 3", "--aeration", "1.1"), "--area"),
        ((*FIRED[:4], "--area", "150 mm x -100 mm", "--aeration", "1.1"), "--area"),
    ],
)
def test_what_makes_no_tile_is_refused(args: tuple[str, ...], said: str) -> None:
    result = run(*args)
    assert result.exit_code == 2
    assert said in result.stderr
    assert not result.stdout


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("--view-factor", "0.7", "--target-temperature", "2000 C"), '--target-temperature = "2000 C"'),
        (("--view-factor", "1.7"), "--view-factor"),
        (("--view-factor", "0.7", "--target-emissivity", "0"), "--target-emissivity"),
        (("--gas", "hydrogen"), "hydrogen in the fuel"),
        (("--channel", "50 mm"), '"50 mm"'),
        (("--thickness", "0.1 mm"), '"0.1 mm"'),
    ],
)
def test_what_is_refused_is_told_as_it_was_written(args: tuple[str, ...], words: str) -> None:
    done = run(*command_runs.instead(DENSITY, *args))
    assert done.exit_code == 2
    assert words in done.stderr


def test_properties_of_ones_own_stand_in_for_ours(tmp_path: Path) -> None:
    own = tmp_path / "tile.csv"
    head = "name,value,low,high,unit,source,place,provenance,note\n"
    own.write_text(head + "emissivity,0.4,0.35,0.45,-,works,bench 3,measured here,\n")
    ours, theirs = answer(*DENSITY), answer(*DENSITY, "--properties", str(own))
    assert theirs["surface_temperature_C"] > ours["surface_temperature_C"] + 20
    done = run(*DENSITY, "--properties", str(tmp_path))
    assert done.exit_code == 2
    assert "not a regular file" in done.stderr
