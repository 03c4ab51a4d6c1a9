"""A unit is not tested by one of its burners, and a value in its band is not always shown to be there."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape
from typing import Any

from burnerlab.bench.decision_rule import NOT_SHOWN

EDGE = {"time1": "226", "time2": "226.5"}  # low in the band, its interval beyond
PAPERS = ("/unit", "/sheet")


def words(text: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).split())


def test_every_paper_says_that_being_in_the_band_is_not_shown(
    client: Any, save: Callable[..., Any], readings: dict[str, str]
) -> None:
    assert NOT_SHOWN in words(client.get("/finding", params=readings | EDGE).text)
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


def test_the_burner_stands_before_the_verdict_in_a_list(client: Any, save: Callable[..., Any]) -> None:
    save(time1="220", time2="221")
    heads = re.findall(r'<th scope="col"[^>]*>([^<]*)</th>', client.get("/record").text)
    assert heads[:3] == ["Serial number, burner", "From rating", "Band"]
