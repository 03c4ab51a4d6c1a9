"""The handbook on desk and bench: every page and link, the way back with what was typed, links of checks."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import httpx
import pytest
from axe_findings import axe_findings
from desk_client import DeskClient, written

from burnerlab.handbook.contents import page_of, pages
from burnerlab.handbook.gallery import picture_bytes, picture_files
from burnerlab.page.desk_state import Desk
from burnerlab.page.render import static_address

if TYPE_CHECKING:
    from playwright.sync_api import Browser

PROSE = [page.topic for page in pages() if not page.made_by]
SAMPLE = ("burner", "kit-list", "cautions")


def addresses(text: str) -> list[str]:
    return [unescape(one) for one in re.findall(r'href="([^"]+)"', text)]


def leads_somewhere(address: str) -> bool:
    """Whether an address of the handbook is a page and a heading of it."""
    path, _, anchor = address.partition("#")
    topic = path.partition("?")[0].removeprefix("/handbook").strip("/")
    found = page_of(topic) if topic else None
    return not topic or (
        found is not None and (not anchor or anchor in {one.anchor for one in found.headings})
    )


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> DeskClient:
    return DeskClient(Desk(written(tmp_path_factory.mktemp("desk"))))


def test_the_desk_has_every_page_of_prose_and_the_contents(desk: DeskClient) -> None:
    front = desk.request("GET", "/handbook")
    assert front.status_code == 200
    assert f'href="{static_address("handbook.css")}"' in front.text
    assert {f"/handbook/{page.topic}" for page in pages()} <= set(addresses(front.text))
    for topic in (*PROSE, *SAMPLE):
        answer = desk.request("GET", f"/handbook/{topic}")
        assert answer.status_code == 200, topic
        links = [one for one in addresses(answer.text) if one.startswith("/handbook") and "css" not in one]
        assert links
        assert all(map(leads_somewhere, links)), topic
        assert "<script" not in answer.text
        assert answer.headers["content-security-policy"] == desk.desk.gate.policy


def test_pictures_of_the_gallery_are_drawn_when_they_are_wanted(desk: DeskClient, client: Any) -> None:
    for reader in (lambda address: desk.request("GET", address), client.get):
        page = reader("/handbook/gallery").text
        assert re.findall(r'src="/handbook/pictures/([^"]+)"', page) == list(picture_files())
        answer = reader("/handbook/pictures/control-chart.svg")
        assert answer.status_code == 200
        assert answer.headers["content-type"] == "image/svg+xml"
        assert answer.content == picture_bytes("control-chart.svg")
        assert reader("/handbook/pictures/portrait.svg").status_code == 404


@pytest.mark.parametrize(
    "address", ["/handbook/nothing", "/handbook/Burner", "/handbook/burner.md", "/handbook/..%2fpage"]
)
def test_an_address_without_a_page_is_not_found(desk: DeskClient, address: str) -> None:
    assert desk.request("GET", address).status_code == 404


def test_checks_and_questions_of_the_desk_lead_to_their_paragraph(desk: DeskClient) -> None:
    text = desk.look("/").text
    links = [one for one in addresses(text) if one.startswith("/handbook/")]
    assert len(set(links)) > 10
    assert all(map(leads_somewhere, links))
    assert "/handbook" in addresses(text)
    look = text[text.index('id="look"') :].partition("</section>")[0]
    heads = re.findall(r'<th scope="row">(<a class="book"[^>]*>)?', look)
    assert heads
    assert all(heads)


def test_the_bench_keeps_what_was_typed_over_the_handbook(client: Any, readings: dict[str, str]) -> None:
    step = client.get("/finding", params=readings).text
    assert 'formaction="/handbook"' in step
    opened = client.get("/handbook", params=readings | {"step": "/finding"})
    assert opened.status_code == 200
    (topic,) = {one for one in addresses(opened.text) if one.startswith("/handbook/find-the-fault?")}
    text = client.get(topic).text
    back = [one for one in addresses(text) if one.startswith("/finding?")]
    assert back
    query = dict(httpx.QueryParams(back[0].partition("?")[2]).multi_items())
    assert {name: query[name] for name in readings} == readings
    assert client.get(back[0]).status_code == 200
    assert "STOP" in text


def test_a_question_is_answered_on_desk_and_bench_and_what_was_typed_stays(
    desk: DeskClient, client: Any, readings: dict[str, str]
) -> None:
    asked = {"words": "can I reuse the hose <b>"}
    query = str(httpx.QueryParams(asked))
    on_desk = desk.request("GET", f"/handbook?{query}").text
    assert "/handbook/convert-a-burner#hose-seals-and-valves" in addresses(on_desk)
    assert "<b>" not in on_desk.partition("<main")[2]
    on_bench = client.get("/handbook", params=readings | asked | {"step": "/finding"}).text
    (found,) = {one for one in addresses(on_bench) if one.endswith("#hose-seals-and-valves")}
    back = [one for one in addresses(client.get(found).text) if one.startswith("/finding?")]
    again = dict(httpx.QueryParams(back[0].partition("?")[2]).multi_items())
    assert {name: again[name] for name in readings} == readings
    form = on_bench.partition('role="search"')[2].partition("</form>")[0]
    assert all(f'name="{name}"' in form for name in (*readings, "step"))
    assert "No paragraph has these words." in desk.request("GET", "/handbook?words=qwxz").text


def test_the_finding_of_the_bench_leads_to_its_paragraphs(client: Any, readings: dict[str, str]) -> None:
    links = set(re.findall(r'formaction="(/handbook/[^"]+)"', client.get("/finding", params=readings).text))
    assert {one.partition("#")[0] for one in links} == {
        "/handbook/find-the-fault",
        "/handbook/bench-uncertainty",
        "/handbook/causes",
    }
    assert all(map(leads_somewhere, links))


def test_the_step_in_an_address_leads_to_no_other_place(client: Any, readings: dict[str, str]) -> None:
    for step in ("https://evil.example/", "//evil.example", "/record", "javascript:1"):
        text = client.get("/handbook/burner", params=readings | {"step": step}).text
        assert "evil" not in text
        assert "javascript:" not in text


@pytest.mark.browser
@pytest.mark.slow
@pytest.mark.parametrize("width", [390, 1280])
def test_a_browser_finds_nothing_to_complain_of(
    browser: Browser, served: tuple[str, Path], width: int
) -> None:
    page = browser.new_page(viewport={"width": width, "height": 900})
    for path in (
        "/handbook",
        "/handbook?words=one+turn+of+the+meter",
        "/handbook/burner",
        "/handbook/gallery",
    ):
        page.goto(served[0] + path)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert axe_findings(page) == []
    page.close()
