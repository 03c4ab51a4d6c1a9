"""A unit is not tested by one of its burners, and a value in its band is not always shown to be there."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from html import unescape
from typing import Any

import pytest

from burnerlab.appliance import convert, demonstration
from burnerlab.bench.decision_rule import NOT_SHOWN
from burnerlab.bench.reading_plan import plan_of
from burnerlab.bench.record import (
    BenchTest,
    Observation,
    Result,
    UnitStops,
    add_test,
    history,
    open_record,
)
from burnerlab.page.bench_state import Bench
from burnerlab.page.unit_coverage import unit_findings

ORIGIN = {"origin": "http://127.0.0.1:8741"}
NO_BREAK = "\N{NO-BREAK SPACE}"

WITHIN = Result(quantity="deviation", value=-0.01, burner="griddle", low=-0.05, high=0.05, verdict="within")
FREE = Result(quantity="air_free_carbon_monoxide", value=8e-5, burner="griddle", high=8e-4, verdict="within")
EDGE = {"time1": "226", "time2": "226.5"}  # low in the band, its interval beyond
PAPERS = ("/unit", "/sheet")


def words(text: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).split())


def test_every_paper_says_that_being_in_the_band_is_not_shown(
    client: Any, save: Callable[..., Any], readings: dict[str, str]
) -> None:
    assert NOT_SHOWN in words(client.get("/finding", params=readings | EDGE).text).lower()
    headline = "near, not proven within the band"
    assert headline in words(client.get("/finding", params=readings | EDGE).text).replace(" ,", ",")
    entry = save(**EDGE).headers["location"]
    assert headline in words(client.get(entry).text).replace(" ,", ",")
    for path in (entry, *PAPERS, "/record"):
        text = words(client.get(path, params=None if path == entry else {"serial": "C-0042"}).text)
        assert NOT_SHOWN in text.lower()


def test_a_partial_unit_names_what_was_not_tested_and_is_not_signed(
    client: Any, save: Callable[..., Any]
) -> None:
    save(time1="220", time2="221")
    for path in PAPERS:
        text = words(client.get(path, params={"serial": "C-0042"}).text)
        found = re.search(r"1 of (\d+) burners tested; not tested: ([^.]+)\.", text)
        assert found is not None
        assert len(found[2].split(", ")) == int(found[1]) - 1
        assert "tile broiler" in found[2]
        assert "stock-pot ring" not in found[2]
    assert "Signature" not in text
    assert "Not to be signed: 1 of" in text


def test_carbon_monoxide_that_is_not_read_makes_a_part_test_also_without_a_plan(
    client: Any, save: Callable[..., Any]
) -> None:
    save(burner="all burners together", time1="75", time2="75")
    text = words(client.get("/sheet", params={"serial": "C-0042"}).text)
    assert "Unit test sheet: part test" in text
    assert "Part test: carbon monoxide not read: all burners together." in text
    assert "Part test: carbon monoxide not read Date" in text


def of_plan(bench: Bench, client: Any, form_of_page: Callable[[str], dict[str, str]]) -> Callable[..., str]:
    """Save a test by a plan of the demonstration as it is; the words of the sheet then."""
    file = demonstration()
    plan = plan_of(convert(file, file.supply.gas.name, file.supply.gauge_pressure_Pa))
    bench.take_plans({plan.number: plan}, {})

    def saved(**typed: str) -> str:
        shown = client.get("/save", params=typed | {"plan": plan.number})
        assert shown.status_code == 200, words(shown.text)
        done = client.post("/save", data=form_of_page(shown.text), headers=ORIGIN)
        assert done.status_code == 303, words(done.text)
        return words(client.get("/sheet", params={"serial": typed["serial"]}).text).replace(NO_BREAK, " ")

    return saved


def test_the_signed_sheet_names_plan_rows_read_and_one_word(
    client: Any, bench: Bench, readings: dict[str, str], form_of_page: Callable[[str], dict[str, str]]
) -> None:
    """The worst stands first: outside, the flame, what is not read; each carbon monoxide with rate and limit."""
    save, (plan,) = of_plan(bench, client, form_of_page), bench.plans.values()
    rows = len(plan.rows)
    hot = readings | {"plan_state": "hot", "manifold": "17.4", "oxygen": "9"}
    sheet = save(**hot, carbon_monoxide="60")
    assert f"Plan {plan.number}: 3 of {rows} rows read. not all read" in sheet
    assert "hot, after 15 min" in sheet
    assert "full 105 ppm, limit 800 ppm" in sheet.replace("full 106", "full 105")
    low = readings | {"plan_state": "low", "method": "flame", "burner": "all burners together"}
    save(**low, carbon_monoxide="40", oxygen="9")
    low |= {"burner": "tile broiler", "carbon_monoxide": "40", "oxygen": "9", "see-noise": "yes"}
    sheet = save(**low)
    assert f"5 of {rows} rows read. flame not as required Answers not as required, below: 1." in sheet
    sheet = save(**hot | {"burner": "tile broiler", "time1": "432", "time2": "432"})
    assert re.search(r"rows read\. outside Beyond its band: row \d\d \(tile broiler, hot", sheet)
    assert "low 7" in sheet[sheet.index("tile broiler, hot") :]
    assert "passed" not in sheet.lower()


def test_the_sheet_asks_again_for_carbon_monoxide_that_was_typed_anew(
    client: Any, bench: Bench, readings: dict[str, str], form_of_page: Callable[[str], dict[str, str]]
) -> None:
    save = of_plan(bench, client, form_of_page)
    slip = '[["co-high", "STOP. CO 2116 ppm", "Carbon monoxide: 1610 ppm", "161 not 1610"]]'
    flame = readings | {"method": "flame", "plan_state": "hot", "carbon_monoxide": "61", "oxygen": "9"}
    save(**readings, plan_state="hot", no_manifold="no gauge")
    asked = "Stock-pot ring: CO above its limit was shown and its figure typed anew: read the carbon monoxide again"
    assert asked in save(**flame, slips=slip)
    assert asked not in save(**flame)


def test_the_burner_stands_before_the_verdict_in_a_list(client: Any, save: Callable[..., Any]) -> None:
    save(time1="220", time2="221")
    heads = re.findall(r'<th scope="col"[^>]*>([^<]*)</th>', client.get("/record").text)
    assert heads[:3] == ["Serial number, burner", "From rating", "Band"]


READ = "Every figure that was read lies in its band. No plan says what else a test reads."
NOT_READ = "What is not read is named below."


@pytest.mark.parametrize(
    ("results", "word", "sentence"),
    [
        ((WITHIN, FREE), "within", READ),
        (
            (WITHIN, replace(FREE, verdict="", high=None)),
            "not evaluated",
            "Not judged: griddle, carbon monoxide free of air.",
        ),
        (
            (replace(WITHIN, verdict="", low=None, high=None),),
            "not all read",
            "Not judged: griddle, heat input against the rating.",
        ),
        ((Result(quantity="excess_air", value=0.4, burner="griddle"),), "not all read", NOT_READ),
    ],
)
def test_a_figure_without_a_band_is_not_within_one(
    bench: Bench, results: tuple[Result, ...], word: str, sentence: str
) -> None:
    """Of a unit whose model the bench has not: nothing is known of what else its test reads."""
    with open_record(bench.file) as record:
        add_test(record, BenchTest(serial="X-1", model="another", tester="R. Quill", results=results))
        (found,) = unit_findings(bench, history(record, "X-1"), UnitStops(), is_stopped=False)
    assert (found.word, found.sentences[-1]) == (word, sentence)


def test_a_unit_of_which_flames_alone_were_seen_is_not_within_a_band(bench: Bench) -> None:
    """No question of the flame has a band."""
    with open_record(bench.file) as record:
        seen = (Observation(name="lift", answer="no", burner=""),)
        lit = BenchTest(serial="X-2", model="another", tester="R. Quill", observations=seen)
        add_test(record, lit)
        (found,) = unit_findings(bench, history(record, "X-2"), UnitStops(), is_stopped=False)
    assert "within" not in (found.word, *found.sentences)
