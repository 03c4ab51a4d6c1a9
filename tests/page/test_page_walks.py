"""A stop that was shown cannot be walked away from: it is recorded, or its entry was wrong and both stay."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote, urlencode

import pytest

from burnerlab.bench.record import latest, open_record, open_stops
from burnerlab.page.bench_state import Bench

if TYPE_CHECKING:
    from playwright.sync_api import Page

ORIGIN = {"origin": "http://127.0.0.1:8741"}
HIGH = {"time1": "170", "time2": "170.5"}
WITHIN = {"time1": "220", "time2": "221"}
WALKS = (  # what raised the stop, at which page, and what is answered after the way back
    ("overfire", "/finding", HIGH, WITHIN),
    ("odour", "/measure", {"leak_test": "leak"}, {"leak_test": "fluid"}),
    ("light-back", "/save", {"see-light-back": "yes"}, {"see-light-back": ""}),
    ("odour", "/stop", {"stop": "odour"}, {"stop": ""}),
)


def heading(text: str) -> str:
    found = re.search(r"<h1>(.*?)</h1>", text, re.S)
    assert found is not None
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", found[1])).split())


@pytest.mark.parametrize(("id", "path", "raises", "after"), WALKS)
def test_the_way_back_leads_to_the_stop_again(
    client: Any,
    bench: Bench,
    readings: dict[str, str],
    form_of_page: Callable[[str], dict[str, str]],
    id: str,
    path: str,
    raises: dict[str, str],
    after: dict[str, str],
) -> None:
    form = form_of_page(client.get("/save", params=readings | WITHIN).text)
    shown = client.get(path, params=readings | WITHIN | raises)
    assert "Record as stopped" in shown.text
    said = heading(shown.text)
    assert "STOP." in said
    for step in ("/", "/measure", "/finding", "/flame", "/save"):
        again = client.get(step, params=readings | WITHIN | after)
        assert heading(again.text) == said
        assert "Record as stopped" in again.text
        assert ("An entry was wrong" in again.text) == (id != "odour")
    saved = client.post("/save", data=form, headers=ORIGIN)
    assert (saved.status_code, heading(saved.text)) == (409, said)
    with open_record(bench.file, readonly=True) as record:
        assert latest(record, "C-0042") is None
    done = client.post("/stop", data=form_of_page(saved.text), headers=ORIGIN)
    assert done.status_code == 303
    with open_record(bench.file, readonly=True) as record:
        assert id in {one.notice.id for one in open_stops(record)}
    assert bench.unrecorded.stops == {}


def test_a_reason_goes_into_the_record_or_is_asked_again(
    client: Any, bench: Bench, readings: dict[str, str], form_of_page: Callable[[str], dict[str, str]]
) -> None:
    client.get("/finding", params=readings | HIGH)
    back = client.get("/save", params=readings | WITHIN).text
    wrong = unescape(re.findall(r'href="(/wrong[^"]*)"', back)[0])
    again = client.get(wrong, params={"slip": "wrong dial read"}).headers["location"]
    assert "STOP." in heading(client.get("/save", params=readings | WITHIN).text)  # back beyond the reason
    right = client.get(again.replace("/measure", "/save"), params=WITHIN).text
    assert "Save to the record" in right
    assert client.post("/save", data=form_of_page(right), headers=ORIGIN).status_code == 303
    with open_record(bench.file, readonly=True) as record:
        found = latest(record, "C-0042")
    assert found is not None
    assert [(one.stop, one.reason) for one in found.test.earlier_stops] == [("overfire", "wrong dial read")]
    assert bench.unrecorded.stops == {}


def test_a_stop_of_the_bench_stands_for_everybody_at_its_place(
    client: Any, readings: dict[str, str], place_apart: Callable[[str, str], dict[str, str]]
) -> None:
    client.get("/stop", params=readings | {"place": "Bench 2", "stop": "odour"})
    other = readings | {"serial": "C-0099"}
    assert "STOP." in heading(client.get("/measure", params=other | {"place": "bench 2"}).text)
    apart = other | place_apart("Bench 3", "ring main B")
    assert "STOP." in heading(client.get("/measure", params=other | {"place": apart["place"]}).text)
    assert "STOP." not in heading(client.get("/measure", params=apart).text)
    assert "Work at another place" in client.get("/").text  # where no place was chosen yet


def test_a_stop_of_a_unit_leaves_the_others(client: Any, readings: dict[str, str]) -> None:
    client.get("/finding", params=readings | HIGH)
    assert "STOP." not in heading(
        client.get("/finding", params=readings | {"serial": "C-0043"} | WITHIN).text
    )
    assert "STOP." in heading(client.get("/finding", params=readings | {"serial": "c-0042"} | WITHIN).text)


def test_a_stop_without_a_serial_number_stands_for_its_place(client: Any, readings: dict[str, str]) -> None:
    client.get("/stop", params={"model": readings["model"], "place": "Bench 2", "stop": "light-back"})
    assert "STOP." in heading(client.get("/measure", params=readings | {"place": "Bench 2"}).text)
    assert "STOP." not in heading(client.get("/measure", params=readings | {"place": "Bench 3"}).text)


def test_a_smell_before_lighting_is_of_its_place_and_of_no_burner(
    client: Any, bench: Bench, form_of_page: Callable[[str], dict[str, str]]
) -> None:
    asked = {"model": "lantern-square-6", "burner": "stock-pot ring", "place": "Bench 2", "stop": "odour"}
    shown = client.get("/stop", params=asked)
    assert "Because: smell of unburnt gas or sharp fumes." in shown.text
    form = form_of_page(shown.text) | {"serial": "C-0042", "tester": "R. Quill"}
    assert client.post("/stop", data=form, headers=ORIGIN).status_code == 303
    with open_record(bench.file, readonly=True) as record:
        assert [one.place for one in open_stops(record)] == ["Bench 2"]


def test_stop_stands_on_the_pages_of_the_record(client: Any, save: Callable[..., Any]) -> None:
    assert save().status_code == 303
    for path in ("/record", "/chart", "/unit?serial=C-0042", "/sheet?serial=C-0042"):
        assert client.get(path).text.count("<summary>STOP</summary>") == 1


def test_nothing_is_said_to_be_in_the_record_before_it_is(client: Any, readings: dict[str, str]) -> None:
    wrong = client.get("/wrong", params=readings | HIGH)
    again = client.get("/wrong", params=readings | HIGH | {"slip": "wrong dial read"}).headers["location"]
    for text in (wrong.text, client.get(again).text):
        assert "stays in the record" not in text
        assert "Both are kept with the test when it is saved or recorded as stopped." in text


def test_the_stopwatch_does_not_say_stop(client: Any, readings: dict[str, str]) -> None:
    text = client.get("/measure", params=readings).text
    assert "End timing fills in the last one" in text
    assert '"Stop"' not in client.get("/stopwatch.js").text


def test_a_correction_of_a_stopped_unit_is_headed_by_its_stop(
    client: Any, readings: dict[str, str], form_of_page: Callable[[str], dict[str, str]]
) -> None:
    shown = client.get("/finding", params=readings | HIGH)
    entry = client.post("/stop", data=form_of_page(shown.text), headers=ORIGIN).headers["location"]
    address = unescape(re.findall(r'href="(/measure[^"]*)">Correct this entry', client.get(entry).text)[0])
    for path in ("/measure", "/finding", "/flame", "/save"):
        text = client.get(address.replace("/measure", path), params=WITHIN).text
        assert "STOP. Possible overfire" in heading(text)
        assert "No gas is needed for it" in text
        for gone in ("this burner on full: time", "look at the flame", "Watch the flame"):
            assert gone not in text


@pytest.mark.parametrize("is_recorded", [False, True])
def test_an_entry_is_corrected_under_a_stop_of_the_bench_by_another_unit(
    client: Any,
    readings: dict[str, str],
    save: Callable[..., Any],
    form_of_page: Callable[[str], dict[str, str]],
    *,
    is_recorded: bool,
) -> None:
    """Shown or recorded, the stop heads each step by its unit, nothing leads to lighting, and saving leads back."""
    entry = save(time1="245", time2="246").headers["location"].split("&saved")[0]
    stopped = client.get("/stop", params=readings | {"serial": "PG-0002", "stop": "odour"})
    if is_recorded:
        assert client.post("/stop", data=form_of_page(stopped.text), headers=ORIGIN).status_code == 303
    shown = client.get(entry)
    address = unescape(re.findall(r'href="(/measure[^"]*)">Correct this entry', shown.text)[0])
    for path in ("/measure", "/finding", "/flame", "/save"):
        text = client.get(address.replace("/measure", path)).text
        assert "STOP. Gas can explode" in heading(text)
        assert "PG-0002" in text
        assert "No gas is needed for it" in text
        assert "A stop of this unit" not in text
        for gone in (
            "this burner on full", "look at the flame", "Watch the flame", "Manifold pressure first", "Stopwatch",
            "stopwatch.js", "Next: flame", "Measure next", "Next measurement", "Test the next",
        ):  # fmt: skip
            assert gone not in text
    form = form_of_page(text) | {"reason": "dial misread"}
    after = client.get(client.post("/save", data=form, headers=ORIGIN).headers["location"]).text
    assert "Saved. Light nothing: a stop is in force." in heading(after)
    assert "Back to the stop" in after
    assert ">Next unit<" not in after
    assert "PG-0002" in client.get("/chart").text


def test_a_cause_warns_of_overfire_only_in_a_way_that_overfires(
    client: Any, readings: dict[str, str]
) -> None:
    """A hole smaller than the drawn one fires low: its line carries no warning, and no empty way to tell."""
    text = client.get("/finding", params=readings | {"time1": "245", "time2": "246", "manifold": "16.5"}).text
    lines = re.findall(r"<li(?: class=\"over\")?>\s*<p class=\"cause\">.*?</li>", text, re.S)
    assert lines
    assert "Next measurement: ." not in text
    assert any("Another way of this cause can overfire" in one for one in lines)
    for one in lines:
        assert ("Can overfire the burner" in one) == ('class="over"' in one)


@pytest.mark.browser
def test_what_records_a_stop_is_in_the_first_screen(
    visit: Any,
    served: tuple[str, Path],
    readings: dict[str, str],
    place_apart: Callable[[str, str], dict[str, str]],
) -> None:
    page: Page = visit("phone", touch=True).page
    asked = "&".join(
        f"{name}={quote(text)}"
        for name, text in (readings | HIGH | {"serial": "S-1"} | place_apart("S", "main S")).items()
    )
    for path, key in (("/finding", "text=Record as stopped"), ("/wrong", "#slip")):
        page.goto(f"{served[0]}{path}?{asked}")
        box = page.locator(key).bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= 785, path  # above the bar of STOP


def _to_readings(page: Page, serial: str, *, leak: str = "fluid") -> None:
    page.fill("#serial", serial)
    page.select_option("#burner", "stock-pot ring")
    page.fill("#tester", "RQ")
    page.tap("#supply_label input[value=natural-gas-typical]")
    page.tap("#orifice_marks input[value='as printed']")
    page.tap(f"#leak_test input[value={leak}]")
    page.tap("#air input[value=yes]")
    page.tap("text=Next: readings")
    page.wait_for_url("**/measure?**")


def _overfire(page: Page) -> None:
    _to_readings(page, "W-1")
    page.fill("#dial", "50")
    page.fill("#time1", "170")
    page.tap("text=Next: finding")
    page.wait_for_selector("text=Record as stopped")


def _leak(page: Page) -> None:
    _to_readings(page, "W-2", leak="leak")
    page.wait_for_selector("text=Record as stopped")


def _light_back(page: Page) -> None:
    _to_readings(page, "W-3")
    page.fill("#dial", "50")
    page.fill("#time1", "220")
    page.tap("text=Next: finding")
    page.tap("text=Next: flame")
    page.tap("#see-light-back input[value=yes]")
    page.tap("text=Next: save")
    page.wait_for_selector("text=Record as stopped")


def _smell(page: Page) -> None:
    _to_readings(page, "W-4")
    page.tap(".halt-bar summary")
    page.tap(".halt-bar button[value=odour]")
    page.wait_for_selector("text=Record as stopped")


@pytest.mark.browser
@pytest.mark.parametrize("walk", [_overfire, _leak, _light_back, _smell])
def test_walks_by_tap(
    visit: Any,
    served: tuple[str, Path],
    walk: Callable[[Page], None],
    place_apart: Callable[[str, str], dict[str, str]],
) -> None:
    """Back is asked of the bench again, and the bench leads nowhere but to the stop."""
    page: Page = visit("phone", touch=True).page
    place = place_apart(walk.__name__, f"main {walk.__name__}")  # apart from the walks before
    page.goto(f"{served[0]}/?{urlencode(place)}")
    walk(page)
    page.wait_for_selector("text=Record as stopped")
    left = page.url
    page.go_back()
    page.wait_for_url(lambda url: url != left)
    page.reload()
    assert "STOP." in page.inner_text(".halt h1")
    assert page.locator("text=Record as stopped").count() == 1
