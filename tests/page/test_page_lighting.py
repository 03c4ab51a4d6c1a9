"""What is answered before a unit is lit: without it no readings, and what is remembered of it."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from burnerlab.page import bench_state
from burnerlab.page.bench_state import Bench

STEPS = ("/measure", "/finding", "/flame", "/save")
ANSWERS = ("supply_label", "leak_test", "air")


def checked(text: str, name: str) -> list[str]:
    """The answers to a question that stand chosen."""
    return re.findall(rf'name="{name}" value="([^"]*)"[^>]* checked', text)


@pytest.mark.parametrize(
    ("changed", "field", "said"),
    [
        ({"supply_label": ""}, "supply_label", "Read the label of the supply"),
        ({"supply_label": "unread"}, "supply_label", "Do not light"),
        ({"leak_test": ""}, "leak_test", "the leak test of this unit"),
        ({"leak_test": "elsewhere"}, "leak_test_by", "without it no reading"),
        ({"leak_test": "elsewhere", "leak_test_by": "A. Vole"}, "leak_test_when", "without it no reading"),
        ({"air": ""}, "air", "look at both"),
        ({"air": "no"}, "air", "Do not light"),
    ],
)
def test_without_an_answer_there_are_no_readings(
    client: Any, readings: dict[str, str], changed: dict[str, str], field: str, said: str
) -> None:
    for path in STEPS:
        answer = client.get(path, params=readings | changed)
        assert answer.status_code == 422
        assert "Before lighting" in answer.text
        at = answer.text.index(f'id="{field}-wrong"')
        assert said in answer.text[at : at + 200]
        assert 'name="time1" value="214"' in answer.text  # and what was read is not lost


@pytest.mark.parametrize(
    "changed", [{"supply_label": "another"}, {"supply_label": "propane"}, {"leak_test": "leak"}]
)
def test_a_leak_and_another_gas_stop_the_test(
    client: Any, readings: dict[str, str], changed: dict[str, str]
) -> None:
    for path in STEPS:
        text = client.get(path, params=readings | changed).text
        assert "STOP." in text
        assert "Record as stopped" in text
        assert "<input id=" not in text


def test_a_leak_test_made_elsewhere_by_a_name_and_a_day(
    client: Any, save: Any, readings: dict[str, str]
) -> None:
    told = {
        "leak_test": "elsewhere",
        "leak_test_by": "A. Vole",
        "leak_test_when": "2026-11-02 8:10",
    }
    assert client.get("/measure", params=readings | told).status_code == 200
    uid = re.search(r"uid=([0-9a-f]{32})", save(**told).headers["location"])
    assert uid is not None
    shown = client.get("/entry", params={"uid": uid[1]}).text
    assert "not done here, A. Vole, 2026-11-02 08:10" in shown


@pytest.mark.parametrize(
    ("name", "typed", "said"),
    [
        ("leak_test_by", "x", "words are needed, such as K. Moss"),
        ("leak_test_by", "?", "words are needed"),
        ("leak_test_when", "x", "is not a date and time"),
        ("leak_test_when", "some day", "is not a date and time"),
        ("leak_test_when", "2026-13-02", "is not a date and time"),
        ("leak_test_when", "2999-01-01 08:00", "lies in the future"),
    ],
)
def test_a_leak_test_made_elsewhere_names_a_person_and_a_moment(
    client: Any, readings: dict[str, str], name: str, typed: str, said: str
) -> None:
    told = {"leak_test": "elsewhere", "leak_test_by": "A. Vole", "leak_test_when": "2026-11-02"}
    answer = client.get("/measure", params=readings | told | {name: typed})
    assert answer.status_code == 422
    assert f'id="{name}-wrong"' in answer.text
    assert said.casefold() in answer.text.casefold()


def test_no_answer_is_given_in_advance(client: Any, readings: dict[str, str]) -> None:
    """Not on a fresh page, not on the way back to it, not for the next unit."""
    for asked in ({}, readings, readings | {"place": "Bench 2"}):
        text = client.get("/", params=asked).text
        assert [checked(text, name) for name in ANSWERS] == [[], [], []]
    wrong = client.get("/measure", params=readings | {"tester": ""}).text  # but an error elsewhere loses none
    assert [checked(wrong, name) for name in ANSWERS] == [["natural-gas-typical"], ["fluid"], ["yes"]]


def test_what_to_do_at_a_smell_of_gas_stands_before_the_questions(client: Any) -> None:
    text = client.get("/").text
    places = [
        text.index(part) for part in ("At a smell of gas: no flame", 'name="supply_label"', "Next: readings")
    ]
    assert places == sorted(places)


def test_the_air_is_remembered_for_the_day_and_the_place(
    client: Any, readings: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    later = {name: text for name, text in readings.items() if name != "air"}
    here = {"place": "Bench 2"}
    assert client.get("/measure", params=later | here).status_code == 422
    assert client.get("/measure", params=readings | here).status_code == 200
    again = client.get("/measure", params=later | {"place": "bench 2", "serial": "C-0043"})
    assert again.status_code == 200
    assert 'name="air" value="yes"' in again.text  # and goes along with this unit
    assert "answered as on today" in client.get("/", params=here).text
    assert client.get("/measure", params=later | {"place": "Bench 3"}).status_code == 422
    assert client.get("/measure", params=later).status_code == 422
    for name in ("supply_label", "leak_test"):
        unit = {"serial": "C-0044", name: ""}
        assert client.get("/measure", params=later | here | unit).status_code == 422

    class Tomorrow(date):
        @classmethod
        def today(cls) -> date:
            return date(2099, 1, 1)

    monkeypatch.setattr(bench_state, "date", Tomorrow)
    assert client.get("/measure", params=later | here).status_code == 422


def test_no_place_is_not_remembered(client: Any, readings: dict[str, str]) -> None:
    assert client.get("/measure", params=readings).status_code == 200
    assert client.get("/measure", params=readings | {"air": ""}).status_code == 422


def test_a_correction_lights_nothing(client: Any, save: Callable[..., Any]) -> None:
    entry = client.get(save().headers["location"]).text
    address = re.findall(r'href="(/measure[^"]*)">Correct this entry', entry)[0].replace("&amp;", "&")
    assert not any(f"{name}=" in address for name in ANSWERS)
    assert client.get(address).status_code == 200


@pytest.mark.parametrize("changed", [{"air": "no"}, {"supply_label": "unread"}])
def test_do_not_light_is_no_correction(
    client: Any, readings: dict[str, str], changed: dict[str, str]
) -> None:
    text = client.get("/measure", params=readings | changed).text
    assert "Correct 1 entry" not in text
    assert re.search(r"<h1>.*WARNING.*Do not light\.</h1>", text)
    both = client.get("/measure", params=readings | changed | {"tester": ""}).text
    assert "Correct 1 entry" in both  # the name, and nothing else


def test_the_answer_of_the_day_is_taken_back_by_one_tap(client: Any, readings: dict[str, str]) -> None:
    later = {name: text for name, text in readings.items() if name != "air"} | {"place": "Bench 2"}
    client.get("/measure", params=later | {"air": "yes"})
    button = re.findall(r'name="air" value="no">No longer so', client.get("/", params=later).text)
    assert len(button) == 1
    assert "Do not light.</h1>" in client.get("/measure", params=later | {"air": "no"}).text
    assert client.get("/measure", params=later).status_code == 422
    assert "answered as on today" not in client.get("/", params=later).text


def test_who_leak_tested_elsewhere_is_not_optional(client: Any) -> None:
    label = re.findall(r'<label for="leak_test_by">(.*?)</label>', client.get("/").text)
    assert label == ["Leak tested by"]


def _without_leak_test(readings: dict[str, str], **more: str) -> dict[str, str]:
    return {name: text for name, text in readings.items() if name != "leak_test"} | more


def test_a_leak_test_is_asked_once_for_a_serial_number_and_day(client: Any, readings: dict[str, str]) -> None:
    """The other burners of the unit need no second one; another unit does."""
    assert client.get("/measure", params=_without_leak_test(readings)).status_code == 422
    assert client.get("/measure", params=readings).status_code == 200
    next_burner = _without_leak_test(readings, burner="rear burner")
    shown = client.get("/measure", params=next_burner)
    assert shown.status_code == 200
    assert 'name="leak_test" value="fluid"' in shown.text  # goes into the record of this burner too
    assert "answered today, no leak found" in client.get("/", params=next_burner).text
    other = client.get("/measure", params=_without_leak_test(readings, serial="C-0043"))
    assert other.status_code == 422
    assert 'id="leak_test-wrong"' in other.text


@pytest.mark.parametrize("answer", ["anew", "leak"])
def test_another_answer_ends_what_is_known_of_the_leak_test(
    client: Any, bench: Bench, readings: dict[str, str], answer: str
) -> None:
    client.get("/measure", params=readings)
    assert bench.leak_tests
    client.get("/measure", params=readings | {"leak_test": answer})
    assert not bench.leak_tests


def test_the_leak_test_of_yesterday_is_none(client: Any, bench: Bench, readings: dict[str, str]) -> None:
    client.get("/measure", params=readings)
    (serial,) = bench.leak_tests
    bench.leak_tests[serial] = replace(bench.leak_tests[serial], day="2001-01-01")
    assert 'id="leak_test-wrong"' in client.get("/measure", params=_without_leak_test(readings)).text


@pytest.mark.parametrize("stop", ["light-back", "odour"])
def test_a_stop_ends_what_is_known_of_the_leak_test(
    client: Any, bench: Bench, readings: dict[str, str], stop: str
) -> None:
    """Gas work follows a stop: the leak test of its unit is asked again, after one of the bench that of every unit."""
    other = readings | {"serial": "C-0043"}
    for unit in (readings, other):
        client.get("/measure", params=unit)
    assert set(bench.leak_tests) == {"c-0042", "c-0043"}
    client.get("/stop", params=readings | {"stop": stop})
    assert set(bench.leak_tests) == ({"c-0043"} if stop == "light-back" else set())


def test_a_reading_outside_its_band_ends_what_is_known_of_the_leak_test(
    client: Any, bench: Bench, readings: dict[str, str], save: Callable[..., Any]
) -> None:
    """Its repair may open a gas part: the next burner of the unit is lit after another leak test."""
    client.get("/measure", params=readings)
    within = save()
    assert within.status_code == 303
    assert bench.leak_tests
    outside = save(time1="236", time2="236", time3="236")
    assert outside.status_code == 303
    assert "outside" in client.get(outside.headers["location"]).text
    assert not bench.leak_tests
    again = client.get("/measure", params=_without_leak_test(readings))
    assert (again.status_code, 'id="leak_test-wrong"' in again.text) == (422, True)
