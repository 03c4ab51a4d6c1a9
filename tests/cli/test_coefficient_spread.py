"""``size`` and ``flow`` state what the spread of the coefficient alone leaves open."""

from __future__ import annotations

import json
import math

import pytest
from click.testing import CliRunner

from burnerlab.cli import main

SIZE = ["size", "--gas", "propane", "--rate", "12 kBtu/h gross", "--pressure", "11 inH2O"]
FLOW = ["flow", "--gas", "propane", "--pressure", "11 inH2O", "--drill", "#54"]


def printed(*words: str) -> str:
    done = CliRunner().invoke(main, list(words))
    assert done.exit_code == 0, done.output
    return done.stdout


def test_size_says_input_bore_and_drill_at_both_ends() -> None:
    line = "Cd 0.90 recalled, 0.85 to 0.95: input ±5.6 %, bore 1.015 to 0.960 mm, drill #60 to #62"
    assert line in " ".join(printed(*SIZE).split())


@pytest.mark.parametrize(
    ("words", "line"),
    [
        ((), "Cd 0.90 recalled, 0.85 to 0.95: input ±5.6 %"),
        (("--shape", "sharp"), "Cd 0.62 published, 0.60 to 0.65: input -3.2 to +4.8 %"),
        (
            ("--coefficient", "0.9"),
            "Cd 0.90 entered, no interval stated: how far the input may be off is not known",
        ),
    ],
)
def test_flow_says_the_input_at_both_ends(words: tuple[str, ...], line: str) -> None:
    assert line in printed(*FLOW, *words).splitlines()


def test_the_bores_at_both_ends_pass_the_rate_with_that_coefficient() -> None:
    """Sized again with the coefficient of either end, the bore is the one stated, and its drill the nearest."""
    found = json.loads(printed(*SIZE, "--json"))
    for end, coefficient in (("low", "0.85"), ("high", "0.95")):
        again = json.loads(printed(*SIZE, "--coefficient", coefficient, "--json"))
        assert found[f"diameter_at_{end}_coefficient_mm"] == pytest.approx(again["diameter_mm"], rel=1e-9)
        assert found[f"drill_at_{end}_coefficient"] == again["nearest_drill"]
        assert again["coefficient_low"] is again["input_spread_low_percent"] is None
        moved = (again["diameter_mm"] / found["diameter_mm"]) ** -2 - 1
        assert found[f"input_spread_{end}_percent"] == pytest.approx(100 * moved, rel=1e-7)


def test_a_law_states_its_spread_at_the_bore_of_the_flow() -> None:
    found = json.loads(printed(*FLOW, "--shape", "drilled channel", "--length", "4 mm", "--json"))
    assert found["coefficient_evidence"] == "recalled"
    assert found["coefficient_low"] <= found["coefficient"] <= found["coefficient_high"]
    assert not math.isclose(found["coefficient_low"], found["coefficient_high"])
