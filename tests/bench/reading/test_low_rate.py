"""A reading at the low rate by meter or scale; a rating beside the file's; a pressure read without the nominal."""

from __future__ import annotations

import json
from typing import Any

import pytest
from click.testing import CliRunner, Result

from burnerlab.appliance import demonstration, demonstration_path
from burnerlab.bench.faults.explanation import explain
from burnerlab.bench.reading.manifold import expected_input
from burnerlab.bench.reading.readings import Reading
from burnerlab.cli import main

CART = demonstration()
DEMO = str(demonstration_path())
LEFT, RING = "griddle tube left", "stock-pot ring"
TUBE = ("clock", DEMO, "--burner", LEFT, "--volume", "1 ft3")
AT_LOW = ("--time", "855 s")  # three times as long as the full rate takes: turndown 1:3


def run(*args: str) -> Result:
    return CliRunner().invoke(main, args)


def answer(*args: str) -> dict[str, Any]:
    done = run(*args, "--json")
    assert done.exit_code in (0, 1), done.output
    told: dict[str, Any] = json.loads(done.stdout)
    return told


def stops(found: dict[str, Any]) -> list[str]:
    return [one["id"] for one in found["stops"]]


def test_a_reading_at_low_is_held_against_the_low_rate_and_not_stopped() -> None:
    found = answer(*TUBE, *AT_LOW, "--low-rate")
    assert stops(found) == []
    full_kW = next(one.rate_W for one in CART.burners if one.name == LEFT) / 1e3
    assert found["comparison"]["rating"]["heat_input_kW"] == pytest.approx(full_kW / 3.0)
    assert "from the low rate" in found["comparison"]["text"]
    assert found["comparison"]["rating"]["tolerance"]["high_percent"] == pytest.approx(10.0)
    assert not any("read at low?" in note for note in found["notes"])


def test_without_the_option_the_stop_stands_and_the_note_says_how_to_read_at_low() -> None:
    found = answer(*TUBE, *AT_LOW)
    assert "wrong-gas" in stops(found)
    assert "near the low rate of the file, 1.22 kW (4170 Btu/h) gross" in found["notes"][0]
    assert "--low-rate" in found["notes"][0]
    assert not any("read at low?" in note for note in answer(*TUBE, "--time", "285 s")["notes"])


def test_weigh_reads_at_low_too() -> None:
    """0.5 g/s of propane is about 25 kW: a cylinder is weighed of the LP unit, never of one for mains gas."""
    line = ("weigh", DEMO, "--burner", RING, "--mass-loss", "40 g", "--time", "20 min")
    for gas in ((), ("--gas", "propane")):
        with pytest.raises(AssertionError):
            answer(*line, *gas, "--low-rate")
    found = answer(*line, "--market", "bottled propane", "--low-rate")
    assert found["comparison"]["rating"]["heat_input_kW"] == pytest.approx(0.2 * 8.79213, rel=1e-4)
    assert stops(found) == []


@pytest.mark.parametrize("burner", [one.name for one in CART.burners if one.turndown is not None])
@pytest.mark.parametrize("share", [0.9, 1.0, 1.1])
def test_a_low_rate_as_drawn_is_not_stopped(burner: str, share: float) -> None:
    assert explain(CART, Reading(ratio=share, burner=burner, is_low_rate=True)).stops == ()


def test_a_low_rate_far_above_its_own_is_stopped() -> None:
    assert "overfire" in [
        one.id for one in explain(CART, Reading(ratio=1.5, burner=RING, is_low_rate=True)).stops
    ]


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (("clock", DEMO, "--burner", "tile broiler", "--volume", "1 ft3", *AT_LOW), "names no low rate"),
        (("clock", "--gas", "G20", "--volume", "1 ft3", *AT_LOW), "needs the project file"),
    ],
)
def test_a_low_rate_that_no_file_names_is_refused(more: tuple[str, ...], words: str) -> None:
    done = run(*more, "--low-rate")
    assert done.exit_code == 2
    assert words in done.stderr


def test_explain_reads_the_first_reading_at_low() -> None:
    low_kW = expected_input(CART, LEFT).gross_W / 3e3
    line = ("explain", DEMO, "--burner", LEFT, "--measured", f"{low_kW:.4f} kW gross")
    found = answer(*line, "--low-rate")
    assert found["stops"] == []
    assert found["readings"][0]["is_low_rate"] is True
    assert found["readings"][0]["ratio"] == pytest.approx(1.0, abs=1e-3)
    plain = answer(*line)
    assert plain["stops"] != []
    assert "--low-rate" in plain["notes"][0]


def test_a_rating_beside_that_of_the_file_is_said_and_the_worse_heads() -> None:
    line = (*TUBE, "--time", "285 s", "--rating", "14 kBtu/h gross")
    found = answer(*line)
    assert found["deviation_percent"] == pytest.approx(6.5, abs=0.1)
    assert found["comparison"]["rating"]["heat_input_kW"] == pytest.approx(14 * 0.29307107, rel=1e-5)
    assert found["file_comparison"]["rating"]["heat_input_kW"] == pytest.approx(12.5 * 0.29307107, rel=1e-5)
    assert found["verdict"] == "outside"
    done = run(*line)
    assert done.exit_code == 1
    text = " ".join(done.stdout.split())
    assert "+6.5 % from the file's rating, 12.5 kBtu/h gross; -4.9 % from --rating, 14 kBtu/h gross" in text
    assert answer(*TUBE, "--time", "285 s", "--rating", "3.66 kW gross")["file_comparison"] is None


def test_a_manifold_pressure_alone_corrects_nothing_and_shows_the_rate_at_the_pressure_of_the_file() -> None:
    """The file's pressure is 7 in w.c.: by sqrt(7/6.5) as ``--rated-pressure`` corrects, beside the verdict."""
    unread = answer(*TUBE, "--time", "300 s")
    alone = answer(*TUBE, "--time", "300 s", "--manifold-pressure", "6.5 inH2O")
    rated = answer(
        *TUBE, "--time", "300 s", "--manifold-pressure", "6.5 inH2O", "--rated-pressure", "7 inH2O"
    )
    assert alone["correction"] is None
    assert alone["deviation_percent"] == unread["deviation_percent"]
    assert rated["correction"]["factor"] == pytest.approx((7 / 6.5) ** 0.5)
    there = alone["at_file_pressure"]
    assert there["deviation_percent"] == pytest.approx(rated["deviation_percent"])
    assert there["heat_input_gross_kW"] == pytest.approx(alone["heat_input_gross_kW"] * (7 / 6.5) ** 0.5)
    assert rated["at_file_pressure"] is None  # the verdict itself is at that pressure
    text = " ".join(run(*TUBE, "--time", "300 s", "--manifold-pressure", "6.5 inH2O").stdout.split())
    assert "at 17.4 mbar of the file, 16.2 mbar read: " in text
    assert "of orifice or gas" in text


def test_at_the_pressure_of_the_file_there_is_no_second_figure() -> None:
    assert answer(*TUBE, "--time", "300 s", "--manifold-pressure", "7 inH2O")["at_file_pressure"] is None
