"""A timing is of minutes and seconds as a watch shows them; a correction shows the units that were typed in."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from html import unescape
from typing import Any

import command_runs
import pytest

from burnerlab.page.form import fields
from burnerlab.quantity import Kind, read
from burnerlab.tables.problem import UserError


@pytest.mark.parametrize(
    ("typed", "seconds"),
    [
        ("1 min 47 s", 107.0),
        ("1min47s", 107.0),
        ("1:47", 107.0),
        ("1:47.5", 107.5),
        ("2 min", 120.0),
        ("107", 107.0),
    ],
)
def test_a_timing_of_minutes_and_seconds(typed: str, seconds: float) -> None:
    assert fields()["time1"].read(typed, "metric") == pytest.approx(seconds, rel=1e-12)


@pytest.mark.parametrize(("typed", "seconds"), [("3 min 41 s", 221.0), ("3:41", 221.0), ("3:55,2", 235.2)])
def test_clock_and_weigh_read_a_timing_as_pages_and_papers_print_it(typed: str, seconds: float) -> None:
    clocked = command_runs.answer("clock", "--gas", "propane", "--volume", "10 L", "--time", typed)
    assert clocked["time_s"] == pytest.approx(seconds)
    weighed = command_runs.run("weigh", "--gas", "propane", "--mass-loss", "250 g", "--time", typed, "--json")
    if ":" in typed:  # of hours it might be
        assert weighed.exit_code == 2
    else:
        assert json.loads(weighed.stdout)["time_s"] == pytest.approx(seconds)


@pytest.mark.parametrize("typed", ["1 min 77 s", "1:77", "0.03 h", "1 d", "1 year", "1 h 2 min", "1:02:03"])
def test_no_other_timing_is_guessed(client: Any, readings: dict[str, str], typed: str) -> None:
    answer = client.get("/finding", params=readings | {"time1": typed})
    assert answer.status_code == 422
    wrong = re.search(r'id="time1-wrong">([^<]*)<', answer.text)
    assert wrong is not None
    assert "is no timing in seconds or minutes" in wrong[1].casefold()
    assert "did you mean" not in wrong[1]


def test_no_command_proposes_the_minutes_without_the_seconds() -> None:
    with pytest.raises(UserError) as refused:
        read("1 min 47 s", Kind.TIME, key="--time")
    assert "did you mean" not in refused.value.problems[0].text()


def test_a_correction_shows_the_units_that_were_typed(
    client: Any, save: Callable[..., Any], readings: dict[str, str]
) -> None:
    typed = {"dial": "10", "time1": "44", "time2": "44.2", "manifold": "18", "barometer": "98.5",
             "oxygen": "5", "carbon_monoxide": "87", "meter_factor": "1.012"}  # fmt: skip
    entry = client.get(save(**typed).headers["location"]).text
    address = unescape(re.findall(r'href="(/measure\?[^"]*corrects[^"]*)"', entry)[0])
    for page, names in ((address, ("dial", "manifold", "barometer", "meter_factor")),
                        (address.replace("/measure", "/flame"), ("oxygen", "carbon_monoxide"))):  # fmt: skip
        text = client.get(page).text
        for name in names:
            shown = re.findall(rf'<input id="{name}" name="{name}" value="([^"]*)"', text)
            assert shown == [typed[name]]


def test_the_finding_says_in_plain_words_what_its_terms_mean(client: Any, readings: dict[str, str]) -> None:
    text = unescape(re.sub(r"<[^>]+>", " ", client.get("/finding", params=readings | {"time2": ""}).text))
    text = " ".join(text.split())
    for plain, term in (
        ("take a second, how far timings differ is not evaluated", "type B only"),
        ("the figure itself against the band", "simple acceptance"),
        ("holds 95 % of such readings", "k = 1.96"),
    ):
        assert text.index(plain) < text.index(term)
