"""The handbook as plain files: every link inside it leads somewhere, and it opens without a server or script."""

from __future__ import annotations

from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from axe_findings import axe_findings
from command_runs import complaint, run

from burnerlab.handbook.contents import pages
from burnerlab.handbook.gallery import picture_files
from burnerlab.handbook.notebook_results import notebook_paths
from burnerlab.handbook.page_text import body_html
from burnerlab.handbook.site import STYLE, site_address

if TYPE_CHECKING:
    from playwright.sync_api import Browser

LOOKED_AT = ("index", "burner", "kit-list", "first-conversion", "gallery", "3-an-even-map")
TOPICS = [*(page.topic for page in pages()), *(path.stem for path in notebook_paths())]

WIDE = """() => [...document.querySelectorAll('.of-keys')].filter(one => one.scrollWidth > one.clientWidth).map(
    one => one.innerText.slice(0, 80))"""
TALL = """() => [...document.querySelectorAll('a[href], [tabindex="0"]')].filter(
    one => one.getBoundingClientRect().height > innerHeight).map(one => one.outerHTML.slice(0, 80))"""
"""What takes the keys and is taller than the window: TAB would show its middle, not its beginning."""


class Marks(HTMLParser):
    """Addresses, ids and elements of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.addresses: list[str] = []
        self.ids: list[str] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = dict(attrs)
        self.elements.append((tag, values))
        self.addresses += [str(values[name]) for name in ("href", "src") if name in values]
        self.ids += [str(values["id"])] if "id" in values else []


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("handbook") / "site"
    done = run("handbook", "--out", str(folder))
    assert done.exit_code == 0, done.output
    assert f"open {folder / 'index.html'}" in done.stdout
    return folder


@pytest.fixture(scope="module")
def marks(site: Path) -> dict[str, Marks]:
    return {path.name: Marks(path.read_text(encoding="utf-8")) for path in site.glob("*.html")}


def test_there_is_a_file_for_every_page_and_the_contents(site: Path, marks: dict[str, Marks]) -> None:
    assert set(marks) == {"index.html", *(f"{topic}.html" for topic in TOPICS)}
    assert all((site / name).is_file() for name in (*STYLE, *picture_files()))


def test_every_address_is_a_file_of_the_site_and_a_heading_of_it(site: Path, marks: dict[str, Marks]) -> None:
    lost = []
    for name, page in marks.items():
        assert len(set(page.ids)) == len(page.ids), name
        for address in page.addresses:
            file, _, anchor = address.partition("#")
            if address.startswith("https://doi.org/"):
                continue
            there = marks.get(file or name)
            if not (site / (file or name)).is_file() or (
                anchor and (there is None or anchor not in there.ids)
            ):
                lost.append(f"{name}: {address}")
    assert not lost


def test_pages_hold_no_script_and_no_picture_without_words(marks: dict[str, Marks]) -> None:
    for name, page in marks.items():
        for tag, values in page.elements:
            assert tag not in ("script", "iframe", "object", "form"), name
            assert tag != "img" or values.get("alt"), name
            assert not any(each.startswith("on") or each == "style" for each in values if tag != "th"), (
                name,
                tag,
            )


def test_the_pages_follow_one_another(marks: dict[str, Marks]) -> None:
    def following(name: str) -> Iterator[str]:
        while name:
            yield name
            after = [
                one["href"] for tag, one in marks[name].elements if tag == "a" and one.get("rel") == "next"
            ]
            name = str(after[0]) if after else ""

    assert list(following(f"{pages()[0].topic}.html")) == [f"{topic}.html" for topic in TOPICS]


def test_files_that_exist_stay_until_they_may_be_replaced(site: Path, tmp_path: Path) -> None:
    assert "--overwrite" in complaint("handbook", "--overwrite")
    (tmp_path / "gas.html").write_text("mine", encoding="utf-8")
    assert "will not overwrite" in complaint("handbook", "--out", str(tmp_path))
    assert [path.name for path in tmp_path.iterdir()] == ["gas.html"]
    assert run("handbook", "--out", str(tmp_path), "--overwrite").exit_code == 0
    first, second = (
        {
            path.name: path.read_bytes()
            for path in folder.iterdir()
            if path.suffix in (".html", ".css", ".ipynb")
        }
        for folder in (site, tmp_path)
    )
    assert first == second
    assert "leave it out" in complaint("handbook", "gas", "--out", str(tmp_path))


KEYS_AT = """() => {
    const kept = document.activeElement;
    if (!kept || kept === document.body) return null;
    for (let one = kept; one !== document.body; one = one.parentElement) {
        const look = getComputedStyle(one), at = one.getBoundingClientRect();
        if (look.outlineStyle !== "none" && parseFloat(look.outlineWidth) > 0)
            return at.bottom > 0 && at.top < innerHeight ? "" : "not on the screen: " + kept.outerHTML.slice(0, 80);
    }
    return "no outline: " + kept.outerHTML.slice(0, 80);
}"""
"""What is wrong with the place that has the keys; null once they have left the page."""
STOPS = """() => [...document.querySelectorAll('a[href], summary, [tabindex="0"]')].filter(
    one => one.checkVisibility() && !one.closest("details:not([open]) > :not(summary)")).length"""


@pytest.mark.browser
@pytest.mark.slow
@pytest.mark.parametrize(("name", "width"), [("bench-test", 390), ("gallery", 1280)])
def test_the_keys_come_to_every_place_and_leave_the_page(
    browser: Browser, site: Path, name: str, width: int
) -> None:
    page = browser.new_page(viewport={"width": width, "height": 900})
    page.goto((site / f"{name}.html").as_uri())
    stops = page.evaluate(STOPS)
    assert stops > 15
    wrong = []
    for _ in range(stops):
        page.keyboard.press("Tab")
        wrong.append(page.evaluate(KEYS_AT))
    assert wrong == [""] * stops
    page.keyboard.press("Tab")
    assert page.evaluate(KEYS_AT) is None  # no trap
    page.close()


@pytest.mark.browser
@pytest.mark.slow
@pytest.mark.parametrize("width", [390, 1280])
def test_a_browser_finds_nothing_to_complain_of(browser: Browser, site: Path, width: int) -> None:
    context = browser.new_context(viewport={"width": width, "height": 900})
    opened: list[str] = []
    context.on("request", lambda request: opened.append(request.url))
    page = context.new_page()
    for name in LOOKED_AT:
        page.goto((site / f"{name}.html").as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") <= width, name
        assert axe_findings(page) == []
        assert page.evaluate(TALL) == [], name
    page.goto((site / "json-keys.html").as_uri())
    assert page.evaluate(WIDE) == []
    assert all(url.startswith("file:") for url in opened)
    context.close()


def test_a_long_key_breaks_behind_its_underscores_and_copies_without_a_sign() -> None:
    text = "| key | unit |\n|---|---|\n| `heat_input_low_kW` | kW |\n"
    html = str(body_html(text, "json-keys", site_address, str))
    assert "<code>heat_<wbr>input_<wbr>low_<wbr>kW</code>" in html
    assert 'class="scroll of-keys"' in html
