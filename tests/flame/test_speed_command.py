"""``burnerlab flame`` on the command line."""

from __future__ import annotations

from functools import partial
from typing import Any

import command_runs
import pytest
from click.testing import CliRunner

from burnerlab.cli import main

run = partial(command_runs.run, "flame")
asked = partial(command_runs.answer, "flame")


def test_the_answer_has_its_keys() -> None:
    found = asked("--gas", "propane", "--aeration", "0.8")
    assert {
        "burning_velocity_m_per_s",
        "adiabatic_flame_temperature_C",
        "thermal_thickness_mm",
        "model",
        "evidence",
        "burning_velocity_error_percent",
        "burning_velocity_error_coverage_factor",
        "cautions",
    } <= set(found)
    assert found["equivalence_ratio"] == pytest.approx(1.25)
    assert 0.25 < found["burning_velocity_m_per_s"] < 0.45


def test_aeration_and_equivalence_ratio_are_inverse() -> None:
    by_air, by_ratio = (
        asked("--gas", "methane", "--aeration", "50 %"),
        asked("--gas", "methane", "--phi", "2"),
    )
    assert by_air["burning_velocity_m_per_s"] == pytest.approx(by_ratio["burning_velocity_m_per_s"])
    assert by_air["evidence"] == "estimate"


def test_altitude_and_temperature_count() -> None:
    low = asked("--gas", "methane", "--phi", "1.0")
    high = asked("--gas", "methane", "--phi", "1.0", "--altitude", "2500 m")
    warm = asked("--gas", "methane", "--phi", "1.0", "--unburnt-temperature", "100 C")
    assert high["burning_velocity_m_per_s"] > low["burning_velocity_m_per_s"]
    assert warm["burning_velocity_m_per_s"] > low["burning_velocity_m_per_s"]


def test_a_direct_solve_meets_the_table() -> None:
    mix = ("--mix", "hydrogen=1", "--phi", "0.87")
    table, direct = asked(*mix), asked(*mix, "--direct")
    assert direct["burning_velocity_m_per_s"] == pytest.approx(table["burning_velocity_m_per_s"], rel=0.01)
    assert "Cantera" in direct["model"]


def test_the_text_reads() -> None:
    text = run("--gas", "propane", "--phi", "1.0").output
    assert "Burning velocity" in text
    assert "cm/s" in text
    assert "Evidence" in text


def test_the_stated_error_says_its_coverage_factor() -> None:
    assert "standard error 6.0 % (k = 1)" in run("--gas", "n-butane", "--phi", "1.0").output
    assert asked("--gas", "n-butane", "--phi", "1.0")["burning_velocity_error_coverage_factor"] == 1
    assert "coverage factor k = 1" in " ".join(run("--help").output.split())


@pytest.mark.parametrize(
    ("args", "word"),
    [
        (("--gas", "propane"), "--aeration or --phi"),
        (("--gas", "propane", "--phi", "1", "--aeration", "1"), "not both"),
        (("--gas", "propane", "--phi", "nan"), "--phi"),
        (("--gas", "propane", "--phi", "9"), "--phi"),
        (("--gas", "propane", "--phi", "1", "--unburnt-temperature", "900 C"), "--unburnt-temperature"),
        (("--gas", "propane", "--phi", "1", "--unburnt-temperature", "20"), "--unburnt-temperature"),
        (("--phi", "1"), "--gas"),
        (("--gas", "trade-propane-2500", "--phi", "1"), "composition"),
        (("build", "--only", "benzene"), "--only"),
    ],
)
def test_bad_input_is_refused_in_words(
    args: tuple[str, ...], word: str, tmp_path: Any, monkeypatch: Any
) -> None:
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(main, ["flame", *args])
    assert done.exit_code == 2
    assert word in done.output + (done.stderr or "")
    assert "Traceback" not in done.output
    assert not list(tmp_path.iterdir())


def test_help_shows_examples() -> None:
    assert "burnerlab flame --gas propane --aeration 0.55" in run("--help").output
    assert "goes on where it stopped" in " ".join(run("build", "--help").output.split())
