"""Entries with figures that cannot be, as a record may hold them: every page shows them, and they can be corrected."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl, urlsplit

import pytest

from burnerlab.bench.record import (
    BenchReading,
    BenchTest,
    Observation,
    Result,
    add_test,
    open_record,
    quantities,
    units,
)
from burnerlab.page.bench_state import Bench
from burnerlab.page.result_text import figure
from burnerlab.report.sheet.blocks import digits, fixed, percent

MADE_BY_0_1_0 = Path(__file__).parents[1] / "bench" / "made_by_0_1_0"
HUGE = 1.7e308
VALUES = [100.05, -100.05, 1e6, HUGE, -HUGE, 5e-324, 0.0]


def absurd(value: float) -> BenchTest:
    """A test of which every figure is ``value``, as any tool that writes to the record could have made it."""
    results = tuple(
        Result(
            quantity=name,
            value=value,
            burner="stock-pot ring",
            expanded_uncertainty=abs(value),
            low=-0.05 if name == "deviation" else None,
            high=0.05 if name == "deviation" else None,
            verdict="outside" if name == "deviation" else "",
        )
        for name in quantities()
    )
    return BenchTest(
        serial="odd",
        model="Lantern Square 6",
        tester="R. Quill",
        readings=tuple(
            BenchReading(quantity=name, value=value, burner="stock-pot ring") for name in quantities()
        ),
        results=results,
        observations=(Observation(name="noise", answer="yes", burner="stock-pot ring"),),
    )


@pytest.mark.parametrize(
    ("value", "units"),
    [(100.05, "metric"), (-100.05, "US"), (HUGE, "metric"), (-HUGE, "US"), (5e-324, "metric")],
)
def test_every_page_shows_it(client: Any, bench: Bench, value: float, units: str) -> None:
    with open_record(bench.file) as record:
        uid = add_test(record, absurd(value)).uid
        add_test(record, absurd(0.01))
    of = {"of": "Lantern Square 6", "at": "stock-pot ring"}
    pages: list[tuple[str, dict[str, str]]] = [
        ("/record", {}),
        ("/record", {"q": "odd"}),
        ("/unit", {"serial": "odd"}),
        ("/entry", {"uid": uid}),
        ("/sheet", {"serial": "odd"}),
        ("/chart", of),
        ("/chart.svg", of),
        ("/record.csv", {}),
        ("/record.json", {}),
        ("/record.xlsx", {}),
    ]
    for path, asked in pages:
        answer = client.get(path, params=asked | {"units": units})
        assert answer.status_code == 200, (path, answer.text[:300])


def words(text: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", text).split())


def test_it_can_be_corrected(
    client: Any, bench: Bench, form_of_page: Callable[[str], dict[str, str]]
) -> None:
    with open_record(bench.file) as record:
        uid = add_test(record, absurd(HUGE)).uid
    entry = client.get("/entry", params={"uid": uid})
    address = unescape(re.findall(r'href="(/measure[^"]*)">Correct this entry', entry.text)[0])
    shown = client.get(address)
    assert shown.status_code == 200
    assert "correcting entry" in shown.text
    right = {
        "dial": "50",
        "time1": "220",
        "meter_pressure": "",
        "ambient_pressure": "",
        "manifold": "",
        "barometer": "",
    }
    empty = dict.fromkeys(
        ("other_load", "gas_temperature", "oxygen", "carbon_dioxide", "carbon_monoxide"), ""
    )
    more = dict.fromkeys(
        (
            *("flue_temperature", "air_temperature", "first", "last", "burned", "method"),
            *("meter_factor", "scale_factor"),
        ),
        "",
    )
    asked = dict(parse_qsl(urlsplit(address).query)) | right | empty | more
    page = client.get("/save", params=asked)
    assert page.status_code == 200, words(page.text)
    assert "stopped" in words(page.text)  # what it said when it was recorded stands until a release
    form = form_of_page(page.text) | {"reason": "figures of another program"}
    assert client.post("/save", data=form, headers={"origin": "http://127.0.0.1:8741"}).status_code == 303


@pytest.mark.parametrize("value", [*VALUES, 1e12, 9999.996, 99999.96, -0.00001])
def test_any_finite_figure_is_a_text(value: float) -> None:
    for name in quantities():
        for system in ("metric", "US"):
            assert "nan" not in figure(name, value, system)
    for text in (fixed(value, 1), digits(value, 3), percent(value)):
        assert re.search(r"\d", text)
        assert len(text) < 30


@pytest.mark.parametrize(
    ("ratio", "text"),
    [
        (100.05, "+10 005.0 %"),
        (-100.0, "-10 000.0 %"),
        (0.0123, "+1.2 %"),
        (-0.00001, "0.0 %"),
        (1e20, "+1e+22 %"),
    ],
)
def test_percents_beyond_ten_thousand(ratio: float, text: str) -> None:
    assert percent(ratio) == text


def test_a_record_made_by_0_1_0_is_shown_and_can_be_corrected(bench: Bench, client: Any) -> None:
    """Its entries say "not recorded" where a newer answer is missing, and no page asks how they were lit."""
    shutil.copy(MADE_BY_0_1_0 / "record.sqlite", bench.file)
    open_record(bench.file).close()
    with open_record(bench.file, readonly=True) as record:
        found = units(record, limit=50, offset=0)
    assert found
    for one in found:
        entry = client.get("/entry", params={"uid": one.uid})
        assert "Not recorded." in entry.text
        for path in ("/unit", "/sheet"):
            assert client.get(path, params={"serial": one.serial}).status_code == 200
        for address in re.findall(r'href="(/measure[^"]*)">Correct this entry', entry.text):
            assert client.get(unescape(address)).status_code == 200
    for path in ("/record", "/chart", "/record.csv", "/record.json", "/record.xlsx"):
        assert client.get(path).status_code == 200
