"""The desk of several models: a start page, a desk for each on a port of its own, the product line of all."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import httpx
import pytest
from axe_findings import axe_findings
from command_runs import complaint
from desk_client import SMALL, page_of, process_of

from burnerlab.page.desk_answers import Answers
from burnerlab.page.desk_app import desk_application
from burnerlab.page.desk_models import ModelDesk, ModelGuards, models_application
from burnerlab.page.desk_state import Desk
from burnerlab.page.security import Guard

HOT = SMALL.replace("camp stove", "hot plate").replace('"#54" }         #', '"#44" }         #')
SIZES = ("phone", "desk")
FIRST_PORT = 8743


def models_of(folder: Path, **texts: str) -> list[ModelDesk]:
    """A desk for each text."""
    made = []
    for place, (name, text) in enumerate(texts.items()):
        path = folder / f"{name}.toml"
        path.write_text(text, encoding="utf-8")
        desk = Desk(path, models="http://127.0.0.1:8742/")
        made.append(ModelDesk(desk, Answers(desk), f"http://127.0.0.1:{FIRST_PORT + place}/"))
    return made


def guards(models: list[ModelDesk]) -> Guard:
    desks = {FIRST_PORT + place: desk_application(one.desk, one.answers) for place, one in enumerate(models)}
    return ModelGuards(models_application(models, "metric"), desks)


def text_of(page: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", page)).split())


@pytest.fixture(scope="module")
def models(tmp_path_factory: pytest.TempPathFactory) -> list[ModelDesk]:
    return models_of(tmp_path_factory.mktemp("models"), stove=SMALL, plate=HOT)


def test_the_model_with_the_worst_signal_stands_first_with_the_way_to_its_desk(
    models: list[ModelDesk],
) -> None:
    page = page_of(guards(models), "/").text
    assert re.findall(r'<h2 id="model-\d"><a href="([^"]*)">([^<]*)<', page) == [
        (models[1].address, "hot plate"),
        (models[0].address, "camp stove"),
    ]
    assert f'<a href="{models[1].address}#look">What to look at first</a>' in page
    assert f'<a href="{models[1].address}#market-1"><span class="letter">A</span>' in page
    hot = models[1]
    entry = hot.desk.newest_entry
    state = hot.answers.whole(entry, "metric").html["state"]
    assert "Possible overfire" in state
    assert text_of(state) in text_of(page)
    assert f"{hot.address}papers/{entry.digest}/all/kit" in page
    assert len(re.findall(r' id="[^"]*"', page)) == len(set(re.findall(r' id="[^"]*"', page)))


def test_the_desk_of_a_model_knows_the_start_page_and_no_other_file(models: list[ModelDesk]) -> None:
    page = page_of(guards(models), "/", FIRST_PORT).text
    assert '<a href="http://127.0.0.1:8742/">Models</a>' in page
    assert "stove.toml" in page
    assert "plate.toml" not in page
    assert "hot plate" not in page
    assert "hot plate" in page_of(guards(models), "/", FIRST_PORT + 1).text
    assert page_of(guards(models), "/at/0", FIRST_PORT).status_code == 410


def test_the_product_line_is_that_of_the_newest_texts(models: list[ModelDesk]) -> None:
    pages = guards(models)
    page = text_of(page_of(pages, "/line").text)
    assert "Different orifices: 2; burners and markets: 4" in page
    assert "draft" not in page
    stove = models[0].desk
    stove.add(stove.newest_entry, stove.newest_entry.text.with_values({"burner[1].rate": "11 kBtu/h"}))
    try:
        draft = text_of(page_of(pages, "/line?apart=0.02+mm&low=-30+%25&high=30+%25").text)
    finally:
        stove.read_file()
    assert "Different orifices: 3; burners and markets: 4" in draft
    assert "draft, not saved" in draft
    assert page_of(pages, "/line?format=-csv").headers["content-type"].startswith("text/csv")


def test_what_to_buy_is_said_beside_a_stock(tmp_path: Path) -> None:
    """The stock of one file holds none of its orifices: they are bought, and the page asks from which list."""
    (tmp_path / "stock.csv").write_text("part,size\nP-300,3.00 mm\n", encoding="utf-8")
    own = SMALL + '\n[tables]\nstock = "stock.csv"\n'
    pages = guards(
        models_of(
            tmp_path, stove=own, plate=HOT.replace("[[carry", '[tables]\nstock = "stock.csv"\n\n[[carry')
        )
    )
    assert 'name="buy"' in page_of(pages, "/").text
    assert "Served by no orifice 4" in text_of(page_of(pages, "/line").text)
    assert "To buy" in text_of(page_of(pages, "/line?buy=metric").text)


@pytest.mark.parametrize(
    ("query", "status", "said"),
    [
        ("low=x&apart=5", 422, "the unit is missing"),
        ("low=5+%25&high=25+%25", 422, "0 % between them"),
        ("at_most=1", 422, "2 or more"),
        ("format=txt", 404, "no such paper"),
    ],
)
def test_a_choice_that_cannot_be_is_said(models: list[ModelDesk], query: str, status: int, said: str) -> None:
    answer = page_of(guards(models), f"/line?{query}")
    assert answer.status_code == status
    assert said in text_of(answer.text)


def test_a_text_that_does_not_read_stands_first_and_no_line_is_made_of_it(tmp_path: Path) -> None:
    models = models_of(tmp_path, stove=SMALL, plate=SMALL.replace('"14.5 kBtu/h"', '"x"'))
    page = page_of(guards(models), "/").text
    assert page.index("Its entries do not read") < page.index("stove.toml")
    answer = page_of(guards(models), "/line")
    assert answer.status_code == 422
    assert "plate.toml" in answer.text
    assert "stove.toml" not in answer.text


def test_the_guard_of_the_desk_stands_before_the_start_page(models: list[ModelDesk]) -> None:
    pages = guards(models)
    assert page_of(pages, "/", host="evil.example").status_code == 403
    headers = page_of(pages, "/").headers
    assert "default-src 'none'" in headers["content-security-policy"]
    assert headers["x-frame-options"] == "DENY"


def test_units_and_words_are_those_on_which_the_models_agree(tmp_path: Path) -> None:
    texts = {
        name: SMALL.replace("[appliance]\n", f'[appliance]\nregion = "{name}"\n', 1) for name in ("us", "eu")
    }
    texts["eu"] = texts["eu"].replace("gross", "net")
    for name, text in texts.items():
        own = models_of(tmp_path, **{f"{name}1": text, f"{name}2": text.replace("camp", "camp 2")})
        start, paper = (text_of(page_of(guards(own), at).text) for at in ("/", "/line"))
        if name == "us":
            assert "0.001 in" in start
            assert re.search(r"Bore, in\b", paper)
        else:
            assert "fewest different injectors" in start
            assert "orifice" not in start.replace("injector", "").lower()
            assert "Bore, mm" in paper


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("-",), "standard input"),
        (("stove.toml", "gone.toml"), "there is no such file"),
        ((".",), "no appliance"),
    ],
)
def test_what_no_desk_can_edit_is_refused(
    words: tuple[str, ...], said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    if "stove.toml" in words:
        (tmp_path / "stove.toml").write_text(SMALL, encoding="utf-8")
    assert said in complaint("desk", *words, "--port", "0")


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The start page of a folder, as the command serves it."""
    folder = tmp_path_factory.mktemp("folder")
    (folder / "stove.toml").write_text(SMALL, encoding="utf-8")
    (folder / "plate.toml").write_text(HOT, encoding="utf-8")
    yield from process_of("desk", str(folder))


@pytest.mark.browser
@pytest.mark.parametrize("size", SIZES)
def test_the_start_page_leads_to_each_desk_and_to_the_line(visit: Any, address: str, size: str) -> None:
    page = visit(size, script=size == "desk").page
    page.goto(f"{address}/")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth") or size == "desk"
    if size == "desk":
        assert axe_findings(page) == []
    page.get_by_role("link", name="hot plate").click()
    assert page.locator(".top .file").inner_text() == "plate.toml"
    page.get_by_role("link", name="Models").click()
    page.get_by_label("At most so many").fill("3")
    page.get_by_role("button", name="page").click()
    assert "burners and markets: 4" in page.content()
    assert httpx.get(f"{address}/").status_code == 200
