"""After a release: the papers of the unit still tell the stop, and what it asked to be read again is said first."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape
from typing import Any

import pytest

from burnerlab.bench.record import all_releases, latest, open_record, open_stops, release
from burnerlab.page.bench_state import Bench

ORIGIN = {"origin": "http://127.0.0.1:8741"}
WITHIN = {"time1": "220", "time2": "221"}
FLUE = {"oxygen": "5", "carbon_monoxide": "9000"}
BY = {
    "name": "K. Moss",
    "qualification": "gas engineer, licence 1234",
    "cause": "spider web in the venturi",
    "repair": "venturi brushed, air shutter set",
    "joints_searched": "fluid",
    "gas_at_joints": "no",
}
CO_UNREAD = "not read since the release of STOP. CO 11 830 ppm air-free"


def words(text: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).split())


@pytest.fixture
def stop(
    client: Any, readings: dict[str, str], form_of_page: Callable[[str], dict[str, str]]
) -> Callable[..., str]:
    """Record a test as stopped; the uid of its entry."""

    def made(**changed: str) -> str:
        shown = client.get("/save", params=readings | WITHIN | changed)
        done = client.post("/stop", data=form_of_page(shown.text), headers=ORIGIN)
        assert done.status_code == 303
        return re.findall("[0-9a-f]{32}", done.headers["location"])[0]

    return made


def end_all(bench: Bench) -> None:
    with open_record(bench.file) as record:
        release(record, [one.uid for one in open_stops(record)], **BY)


def papers(client: Any) -> dict[str, str]:
    asked = {"serial": "C-0042"}
    return {path: words(client.get(path, params=asked).text) for path in ("/unit", "/sheet", "/record")}


def test_stop_and_release_stay_on_every_paper_of_the_unit_when_the_entry_was_superseded(
    client: Any,
    bench: Bench,
    readings: dict[str, str],
    stop: Callable[..., str],
    form_of_page: Callable[[str], dict[str, str]],
) -> None:
    uid = stop(**FLUE)
    shown = client.get("/save", params=readings | WITHIN | {"corrects": uid})
    done = client.post("/save", data=form_of_page(shown.text) | {"reason": "dial read again"}, headers=ORIGIN)
    assert done.status_code == 303
    end_all(bench)
    with open_record(bench.file, readonly=True) as record:
        newest = latest(record, "C-0042")
        assert newest is not None
        assert (newest.corrects, newest.test.stops) == (uid, ())
        made = next(iter(all_releases(record)))
    told = papers(client)
    entry = words(client.get("/entry", params={"uid": newest.uid}).text)
    for text in (told["/unit"], told["/sheet"], entry):
        assert "WARNING: STOP. CO 11 830 ppm air-free" in text
        assert "Carbon monoxide is 14.8 times its limit" in text
        for typed in BY.values():
            assert typed in text
        assert f"Released {made.recorded_at[:10]}" in text
    assert "stopped, released" in told["/record"]


def test_what_the_released_stop_asks_for_is_said_first_until_it_is_read(
    client: Any, bench: Bench, save: Callable[..., Any], readings: dict[str, str], stop: Callable[..., str]
) -> None:
    stop(**FLUE)
    end_all(bench)
    asked = client.get("/save", params=readings | WITHIN).text
    first = re.findall(r"<h2[^>]*>Not as required</h2>\s*<ul><li>(.*?)</li>", asked, re.DOTALL)
    assert CO_UNREAD in words(first[0])
    assert "carbon monoxide free of air" in words(first[0]).split(":")[-1]
    timed = client.get(save(**WITHIN).headers["location"].split("&saved")[0])
    told = papers(client)
    for text in (words(timed.text), *told.values()):
        assert CO_UNREAD in text
    save(**WITHIN, oxygen="5", carbon_monoxide="87")
    assert all(CO_UNREAD not in text for text in papers(client).values())
    assert CO_UNREAD in words(client.get(timed.url).text)  # that test did not read it


@pytest.mark.parametrize(
    ("seen", "unread", "answer"),
    [
        ({"see-soot": "yes"}, "soot on what the flame touches", {"see-soot": "no"}),
        ({"see-lights-late": "yes"}, "lights late", {"see-lights-late": "no"}),
        ({"see-lift-low": "yes"}, "flame lifts from the ports", {"see-lift": "no", "see-lift-low": "no"}),
        (
            {"see-yellow-tips": "yes"},
            "yellow tips",
            {"see-yellow-tips": "no", "oxygen": "5", "carbon_monoxide": "87"},
        ),
        ({"see-flame-outside": "yes"}, "flame comes out of the burner box", {"see-flame-outside": "no"}),
        ({"manifold": "30"}, "manifold pressure", {"manifold": "18"}),
        ({"manifold": "0"}, "manifold pressure", {"manifold": "18"}),
    ],
)
def test_each_stop_asks_for_what_it_was_raised_by(
    client: Any,
    bench: Bench,
    readings: dict[str, str],
    stop: Callable[..., str],
    seen: dict[str, str],
    unread: str,
    answer: dict[str, str],
) -> None:
    stop(**seen)
    end_all(bench)
    left = words(client.get("/save", params=readings | WITHIN).text)
    assert "not read since the release of STOP." in left
    assert unread in left[left.index("not read since") :]
    done = words(client.get("/save", params=readings | WITHIN | answer).text)
    assert "not read since the release" not in done


def test_the_burner_that_was_stopped_is_the_one_to_read(
    client: Any, bench: Bench, save: Callable[..., Any], stop: Callable[..., str]
) -> None:
    stop(**FLUE)
    end_all(bench)
    save(burner="tile broiler", time1="391", time2="", oxygen="5", carbon_monoxide="87")
    assert CO_UNREAD in papers(client)["/sheet"]
