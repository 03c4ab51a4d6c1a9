"""Every caution in the words of every region, one by one, on each page that it belongs to."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import replace
from html import unescape
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from desk_client import SMALL, DeskClient

from burnerlab.appliance import demonstration
from burnerlab.appliance.project.model import REGIONS
from burnerlab.bench.record import open_record
from burnerlab.page.bench_state import Bench
from burnerlab.page.desk_cautions import FIRST
from burnerlab.page.desk_state import Desk
from burnerlab.page.heat_input_test import models_of
from burnerlab.page.security import Gate
from burnerlab.tables.cautions import HIGH_PRESSURE, SPECIAL_GAS, Caution, cautions, closing_cautions

READINGS = {"supply_label": "natural-gas-typical", "leak_test": "fluid", "air": "yes", "model": "lantern-square-6",
            "serial": "C-0042", "burner": "stock-pot ring", "tester": "R. Quill", "dial": "50", "time1": "214",
            "time2": "213", "orifice_marks": "as printed"}  # fmt: skip
PARTS = ("short", "hazard", "consequence", "avoidance")
WORDED = Path(__file__).parent / "regional_cautions.csv"
MARKET = """
[[market]]
name   = "works"
supply = [{ gas = "G222", pressure = "250 mbar" }]
"""
ON_DESK = (
    "overfire",
    "gas-parts",
    "supply-pressure",
    "special-gas",
    "certificate",
)  # of that market, and those of FIRST


def worded() -> dict[tuple[str, str, str], str]:
    lines = [line for line in WORDED.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return {(row["region"], row["caution"], row["part"]): row["text"] for row in csv.DictReader(lines)}


def texts_of(notice: Caution, region: str) -> dict[str, str]:
    """The parts of a caution as a reader of a region has them."""
    own = worded()
    return {part: own.get((region, notice.id, part), str(getattr(notice, part))) for part in PARTS}


def read(html: str) -> str:
    bare = re.sub(r"<(style|script|svg)\b.*?</\1>", " ", html, flags=re.DOTALL)
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", bare)).replace("\N{NO-BREAK SPACE}", " ").split())


@pytest.fixture(scope="module", params=REGIONS)
def shown(request: Any, tmp_path_factory: pytest.TempPathFactory, client_of: Any) -> Iterator[Any]:
    """What is read on the desk, on a sheet made there and on a finding of the bench, for an appliance of a region."""
    region, folder = request.param, tmp_path_factory.mktemp("cautions")
    path = folder / "stove.toml"
    text = SMALL.replace("[appliance]\n", f'[appliance]\nregion = "{region}"\n', 1)
    text = text.replace("[supply]\n", "[supply]\nallow_high_pressure = true\n", 1)
    path.write_text(
        re.sub(r"\[\[market\]\].*?(?=\n\[\[burner)", MARKET, text, flags=re.DOTALL), encoding="utf-8"
    )
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("burnerlab.report.figures.sheet_figures.draw", lambda *_: {})  # they carry none
        desk = DeskClient(Desk(path))
        pages = {"desk": desk.look().text}
        assert desk.desk.newest_entry.problems == ()
        pages["sheet"] = desk.request("GET", f"/papers/{desk.desk.newest}/A/sheet").text
    open_record(folder / "bench.sqlite").close()
    models = models_of([replace(demonstration(), region=region)])
    bench = client_of(Bench(file=folder / "bench.sqlite", models=models, gate=Gate(host="127.0.0.1")))
    pages["finding"] = bench.get("/finding", params=READINGS).text
    return SimpleNamespace(region=region, **{name: read(page) for name, page in pages.items()})


@pytest.mark.parametrize("notice", cautions(), ids=lambda one: one.id)
def test_a_caution_stands_in_the_words_of_the_region(shown: Any, notice: Caution) -> None:
    """Its line and its full text on the desk where it belongs there, on a sheet, and behind a finding of the bench."""
    texts = texts_of(notice, shown.region)
    full = f"{texts['hazard']} {texts['consequence']} {texts['avoidance']}"
    places = {"finding": (texts["short"], full), "sheet": (full,)}
    if notice.id in (*FIRST, *ON_DESK):
        places["desk"] = (texts["short"], full)
    for place, wanted in places.items():
        page = getattr(shown, place)
        assert [text for text in wanted if text not in page] == [], place
        others = [str(getattr(notice, part)) for part in PARTS if texts[part] != getattr(notice, part)]
        assert [text for text in others if text in page] == [], place
        assert place != "desk" or [page.count(text) for text in wanted] == [1, 1]


def test_those_of_the_desk_are_those_of_a_conversion() -> None:
    """Of a gas with hydrogen at a pressure above that of low-pressure appliances."""
    own = closing_cautions("convert", HIGH_PRESSURE, SPECIAL_GAS)
    assert [one.id for one in own] == list(ON_DESK)
    assert {region for region, *_ in worded()} == set(REGIONS)
    assert {(one, part) for _, one, part in worded()} <= {
        (one.id, part) for one in cautions() for part in PARTS
    }
