"""What the pages say: every caution of the one table."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape
from typing import TYPE_CHECKING, Any

from burnerlab.tables.cautions import cautions

if TYPE_CHECKING:
    from .conftest import Client

STYLE = re.compile(r"<(style|script|svg).*?</\1>", re.DOTALL)


def said(answer: Any) -> list[str]:
    """The texts of a page, a piece for each element."""
    assert answer.status_code == 200, answer.text
    return [unescape(text) for text in re.split(r"<[^>]*>", STYLE.sub(" ", answer.text)) if text.strip()]


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
