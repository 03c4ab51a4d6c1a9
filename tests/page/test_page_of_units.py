"""The pages of the record one after another: every unit once, from the newest to the oldest and back."""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import pytest

from burnerlab.appliance import Appliance, ConversionTarget, demonstration
from burnerlab.appliance.conversion.convert import built_for
from burnerlab.bench.record import BenchTest, EntryPlace, add_test, correct, open_record, units, units_beside
from burnerlab.page.bench_state import Bench
from burnerlab.page.record_pages import _rating_notes

UNITS = 130
LINK = re.compile(r'href="(/record\?[^"]*)">(Newest|Newer|Older|Oldest)</a>')


@pytest.fixture
def full(bench: Bench) -> Bench:
    """Units of which many were tested at the same moment, one was tested again and one corrected to another serial."""
    with open_record(bench.file) as record:
        for number in range(UNITS):
            moment = f"2026-01-{1 + number // 20:02d}T08:00:00Z"
            made = add_test(
                record, BenchTest(serial=f"C-{number:03d}", model="range", tester="t", tested_at=moment)
            )
        correct(
            record,
            made.uid,
            BenchTest(serial="C-999", model="range", tester="t", tested_at=moment),
            "misread",
        )
        add_test(
            record, BenchTest(serial="C-003", model="range", tester="t", tested_at="2026-01-03T09:00:00Z")
        )
    return bench


def serials(text: str) -> list[str]:
    return re.findall(r"[?&;]serial=(C-\d+)", text)


def walk(client: Any, address: str, step: str) -> list[list[str]]:
    pages = []
    while address:
        text = client.get(address).text
        pages.append(list(dict.fromkeys(serials(text))))
        address = {words: link.replace("&amp;", "&") for link, words in LINK.findall(text)}.get(step, "")
        assert len(pages) < 10
    return pages


def test_every_unit_stands_on_one_page_both_ways(client: Any, full: Bench) -> None:
    with open_record(full.file, readonly=True) as record:
        every = [one.serial for one in units(record, limit=1000)]
    assert len(every) == UNITS
    down = walk(client, "/record", "Older")
    assert [serial for page in down for serial in page] == every
    up = walk(client, "/record?oldest=yes", "Newer")
    assert [serial for page in reversed(up) for serial in page] == every


@pytest.mark.parametrize(
    "text", ["", "x", "2026-01-01T08:00:00.000Z", "2026-01-01T08:00:00.000Z.x", "." * 40]
)
def test_what_is_no_place_is_none(text: str, client: Any) -> None:
    assert EntryPlace.read(text) is None
    assert client.get("/record", params={"older": text, "newer": text}).status_code == 200


def test_beside_a_place_is_what_the_offset_gives(full: Bench) -> None:
    with open_record(full.file, readonly=True) as record:
        whole = units(record, limit=1000)
        place = EntryPlace.of(whole[69])
        assert units_beside(record, place, older=True, limit=20) == units(record, limit=20, offset=70)
        assert units_beside(record, place, older=False, limit=20) == whole[49:69]
        assert units_beside(record, None, older=False, limit=20) == whole[-20:]


def test_the_sheet_says_what_its_ratings_are_where_they_are_not_those_of_the_file() -> None:
    cart = demonstration()
    high = ConversionTarget(
        gas=cart.supply.gas,
        gauge_pressure_Pa=1743.6,
        altitude_m=1524.0,
        altitude_policy="4-percent-from-sea-level",
    )
    lowered = replace(cart, limits=replace(cart.limits, couple_factor=0.88))
    test = BenchTest(serial="1", model="m", tester="t")

    def notes(built: Appliance) -> tuple[str, ...]:
        model = SimpleNamespace(appliance=built)
        return _rating_notes(cast(Bench, SimpleNamespace(model_of=lambda _: model)), test)

    assert notes(cart) == ()
    assert notes(built_for(cart, high)) == (
        "Ratings at the altitude of the unit: 80.0 % of those of the file.",
    )
    assert notes(lowered) == (
        "Ratings on this gas, by the orifices of the first: 88.0 % of those of the file.",
    )
