"""What the pages say: nothing forbidden, and every caution of the one table."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from html import unescape
from typing import TYPE_CHECKING, Any

import pytest
from forbidden_words import claims
from markupsafe import escape

from burnerlab import tables
from burnerlab.appliance import demonstration
from burnerlab.page.bench_state import Bench
from burnerlab.page.heat_input_test import models_of
from burnerlab.page.reader_words import NO_BREAK
from burnerlab.tables.cautions import cautions, cautions_on

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


def test_findings_and_papers_carry_every_caution_as_a_line_with_its_full_text_behind(
    client: Client, readings: dict[str, str], save: Callable[..., Any]
) -> None:
    entry = save().headers["location"]
    manometer = readings | {"method": "manometer", "manifold": "17.4"}
    for path, asked in (
        ("/finding", readings), ("/finding", manometer), ("/save", readings), (entry, None),
        ("/sheet", {"serial": readings["serial"]}),
    ):  # fmt: skip
        page = client.get(path, params=asked)
        texts = [text.strip().replace(NO_BREAK, " ") for text in said(page)]
        # the sheet has those of the gas of its unit
        shown = cautions_on("sheet", "bench", "clock", "explain") if path == "/sheet" else cautions()
        lines = [texts.index(one.line.partition(": ")[2]) for one in shown]
        full = [texts.index(one.text) for one in shown]
        assert [place for both in zip(lines, full, strict=True) for place in both] == sorted([*lines, *full])
        assert page.text.count("<li><details><summary><strong") == len(shown)


REGIONS = [
    ("eu", {"Burner pressure", "injector", "Tightness test"}, ("anifold pressure", "orifice")),
    ("us", {"Input", "Flashback"}, ("ight-back", "eat input")),
]


@pytest.mark.parametrize(("region", "own", "house"), REGIONS)
def test_the_pages_have_the_words_of_the_region_and_leave_those_of_the_user(
    bench: Bench,
    client_of: Callable[[Bench], Any],
    readings: dict[str, str],
    form_of_page: Callable[[str], dict[str, str]],
    region: str,
    own: set[str],
    house: tuple[str, ...],
) -> None:
    """Terms of table ``regional_terms``; a note, a place and a burner are as they were typed."""
    ring = "orifice light-back ring"
    demo = demonstration()
    burners = tuple(replace(one, name=ring) if one.name == "stock-pot ring" else one for one in demo.burners)
    regional = replace(demo, region=region, burners=burners)
    client = client_of(Bench(file=bench.file, models=models_of([regional]), gate=bench.gate))
    note = "Heat input: orifice at 5 mm, manifold pressure & light-back seen by <E>"
    typed = readings | {"burner": ring, "note": note, "manifold": "17.4", "time1": "190", "time2": ""}
    form = form_of_page(client.get("/save", params=typed | {"time1": "220"}).text)
    assert form["note"] == note
    entry = client.post("/save", data=form, headers={"origin": "http://127.0.0.1:8741"}).headers["location"]
    assert f">{escape(note)}</textarea>" in client.get("/flame", params=typed | {"time1": "220"}).text
    pages = [(path, typed | {"serial": "C-9"}) for path in ("/", "/measure", "/finding")]
    pages += [(path, typed | {"time1": "220"}) for path in ("/finding", "/flame", "/save")]
    pages += [(entry, {}), ("/record", {}), ("/unit", {"serial": "C-0042"}), ("/sheet", {"serial": "C-0042"})]
    every = ""
    for path, asked in pages:
        shown = said(client.get(path, params=asked))
        text = " ".join(" ".join(shown).split())
        if "Note" in text and path != "/flame":
            assert note in text, path
        for mine in (note, ring):
            text = text.replace(mine, "")
        for word in house:
            assert word not in text, (path, word)
        every += text
    assert {word for word in own if word in every} == own
