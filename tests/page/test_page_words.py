"""What the pages say: nothing forbidden, and every caution of the one table."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape
from typing import TYPE_CHECKING, Any

from forbidden_words import claims

from burnerlab import tables
from burnerlab.tables.cautions import cautions

if TYPE_CHECKING:
    from .conftest import Client

STYLE = re.compile(r"<(style|script|svg).*?</\1>", re.DOTALL)
ODD = {
    "seen_yellow-tips": "yes",
    "seen_noise": "yes",
    "seen_even-flame": "yes",
    "carbon_monoxide": "87",
    "oxygen": "5",
}


def said(answer: Any) -> list[str]:
    """The texts of a page, a piece for each element."""
    assert answer.status_code == 200, answer.text
    return [unescape(text) for text in re.split(r"<[^>]*>", STYLE.sub(" ", answer.text)) if text.strip()]


def test_no_page_claims_or_endangers(
    client: Client, readings: dict[str, str], save: Callable[..., Any]
) -> None:
    assert save(**ODD).status_code < 400
    pages = [(path, readings | ODD) for path in ("/", "/measure", "/finding", "/flame", "/save")]
    pages += [(path, {"serial": readings["serial"]}) for path in ("/unit", "/sheet")]
    pages += [("/record", {}), ("/chart", {}), ("/finding", readings | {"time1": "100", "time2": "100"})]
    seen = dict.fromkeys(row["stop"] for row in tables.rows("observations") if row["stop"])
    pages += [("/stop", readings | {"stop": one}) for one in seen]
    for path, asked in pages:
        for text in said(client.get(path, params=asked)):
            assert not claims(text), path


def test_the_finding_carries_every_caution_in_full_and_the_paper_every_line(
    client: Client, readings: dict[str, str], save: Callable[..., Any]
) -> None:
    finding = [text.strip() for text in said(client.get("/finding", params=readings))]
    places = [finding.index(one.text) for one in cautions()]
    assert places == sorted(places)
    assert save().status_code < 400
    paper = [text.strip() for text in said(client.get("/sheet", params={"serial": readings["serial"]}))]
    places = [paper.index(one.line.partition(": ")[2]) for one in cautions()]
    assert places == sorted(places)
