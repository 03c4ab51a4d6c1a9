"""``burnerlab interchange``: every method beside the others, no verdict of its own."""

from __future__ import annotations

import json
from functools import partial
from pathlib import Path

import command_runs
import pytest

run = partial(command_runs.run, "interchange")
answer = partial(command_runs.answer, "interchange")

METHODS = {"AGA36", "Weaver", "Dutton", "guideline"}
READING = {"method", "index", "meaning", "value", "low", "high", "verdict", "source", "note"}


def test_every_method_reads_and_none_decides_alone() -> None:
    found = answer("natural-gas-typical", "biomethane")
    assert (found["adjustment"], found["substitute"]) == ("natural-gas-typical", "biomethane")
    assert {reading["method"] for reading in found["readings"]} == METHODS
    assert all(set(reading) >= READING for reading in found["readings"])
    assert "verdict" not in found
    assert any("none of them decides alone" in note for note in found["notes"])
    assert found["cautions"]


def test_a_gas_against_itself_is_exact_and_within() -> None:
    readings = answer("G20", "G20")["readings"]
    exact = [reading for reading in readings if reading["exact"] is not None]
    judged = [reading for reading in readings if reading["method"] in ("AGA36", "Weaver")]
    assert exact
    assert {reading["method"] for reading in judged} == {"AGA36", "Weaver"}
    for reading in exact:
        assert reading["value"] == pytest.approx(reading["exact"], abs=1e-9)
    assert {reading["verdict"] for reading in judged} == {"within"}


def test_every_verdict_follows_from_its_limits() -> None:
    for substitute in (
        "biomethane",
        "mix:methane=0.8,hydrogen=0.2",
        "mix:methane=0.88,ethane=0.085,propane=0.035",
    ):
        readings = answer("natural-gas-typical", substitute)["readings"]
        assert readings
        for reading in readings:
            value, low, high = reading["value"], reading["low"], reading["high"]
            if value is None:
                assert reading["verdict"] == "not evaluated"
                assert reading["note"]
                continue
            outside = (low is not None and value < low) or (high is not None and value > high)
            assert (reading["verdict"] == "outside") == outside


def test_a_mix_is_the_same_gas_however_it_is_written() -> None:
    first = answer("mix:methane=0.9,ethane=0.1", "methane")["readings"]
    second = answer("mix:methane=90 %, C2H6=10 %", "CH4")["readings"]
    assert [reading["value"] for reading in first] == pytest.approx([reading["value"] for reading in second])


def test_hydrogen_is_said_to_be_outside_what_dutton_made() -> None:
    notes = answer("natural-gas-typical", "mix:methane=0.9,hydrogen=0.1")["notes"]
    assert any("hydrogen" in note for note in notes)


def test_the_page_shows_limits_and_sources() -> None:
    text = run("natural-gas-typical", "biomethane").output
    for word in ("yellow tips", "limits", "Weaver", "recalled", "NOTICE"):
        assert word in text
    assert "is safe" not in text.lower()


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("natural-gas-typical", "propane"), "use convert for a change of family"),
        (("natural-gas-typical", "trade-natural-1000"), "composition"),
        (("natural-gas-typical", "proprane"), "did you mean propane"),
        (("mix:methane=0.9", "G20"), "0.1"),
        (("G20",), "NEW_GAS"),
    ],
)
def test_what_cannot_be_compared_is_refused(args: tuple[str, ...], said: str) -> None:
    result = run(*args)
    assert result.exit_code == 2
    assert said in result.stderr
    assert not result.stdout


def test_both_gases_are_complained_of_at_once() -> None:
    result = run("proprane", "butan", "--json")
    assert result.exit_code == 2
    assert len(json.loads(result.stderr)["error"]["problems"]) == 2


def test_methods_made_for_natural_gas_say_nothing_of_liquefied_petroleum_gas() -> None:
    by_method: dict[str, set[str]] = {}
    for reading in answer("propane", "butane-n")["readings"]:
        by_method.setdefault(reading["method"], set()).add(reading["verdict"])
        if reading["verdict"] == "not evaluated":
            assert "natural gas" in reading["note"]
    assert by_method["AGA36"] == by_method["Dutton"] == by_method["guideline"] == {"not evaluated"}
    assert by_method["Weaver"] & {"within", "near", "outside"}


def test_an_index_that_a_gas_does_not_have_is_named_and_not_left_out() -> None:
    readings = answer("natural-gas-typical", "hydrogen")["readings"]
    (incomplete,) = [reading for reading in readings if reading["index"] == "J_I"]
    assert incomplete["verdict"] == "not evaluated"
    assert "hydrocarbons" in incomplete["note"]


def test_constants_of_ones_own_stand_in_for_ours(tmp_path: Path) -> None:
    own = tmp_path / "limits.csv"
    head = "method,symbol,item,value,unit,source,place,provenance,note\n"
    own.write_text(head + "Weaver,J_F max,,0.01,-,works,rule 7,seen,\n")
    pair = ("natural-gas-typical", "biomethane")
    by_index = {reading["index"]: reading for reading in answer(*pair, "--constants", str(own))["readings"]}
    assert by_index["J_F"]["high"] == 0.01
    assert by_index["J_F"]["verdict"] == "outside"
    assert by_index["J_L"]["verdict"] == "within"
    other = tmp_path / "other.csv"
    other.write_text(head + "Weaver,J_F max,,little,-,works,rule 7,seen,\n")
    refused = run(*pair, "--constants", str(other))
    assert refused.exit_code == 2
    assert 'other.csv, line 2: value = "little": is not a number' in refused.stderr
