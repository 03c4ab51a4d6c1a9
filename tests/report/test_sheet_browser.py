"""The page in a browser: fits a phone and a desk, asks for nothing, prints on both papers."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from burnerlab.appliance.conversion.result import Conversion
from burnerlab.report import build_sheet
from burnerlab.report.html import html_text

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module", params=["plain", "hostile"])
def address(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> str:
    name, drawn = {"plain": ("conversion", "figures"), "hostile": ("hostile", "hostile_figures")}[
        request.param
    ]
    sheet = build_sheet(request.getfixturevalue(name), date="25 November 2026")
    path: Path = tmp_path_factory.mktemp("sheet") / "s.html"
    path.write_text(html_text(sheet, request.getfixturevalue(drawn)), encoding="utf-8")
    return path.as_uri()


@pytest.fixture(scope="module")
def plain(conversion: Conversion, figures: dict[str, str], tmp_path_factory: pytest.TempPathFactory) -> str:
    """The address of the page of ``conversion``."""
    path: Path = tmp_path_factory.mktemp("plain") / "s.html"
    path.write_text(html_text(build_sheet(conversion), figures), encoding="utf-8")
    return path.as_uri()


@pytest.mark.parametrize("width", [390, 900, 1000, 1280])
def test_it_fits_and_is_quiet(browser: Browser, address: str, width: int) -> None:
    page = browser.new_page(viewport={"width": width, "height": 900})
    said: list[str] = []
    asked: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("dialog", lambda dialog: said.append(dialog.message))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(address)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    wide = page.evaluate(
        """() => [...document.querySelectorAll('main *, header *')].filter(e => {
            if (e.closest('svg, .scroll, .drawing, thead')) return false;
            const box = e.getBoundingClientRect();
            return box.right > document.documentElement.clientWidth + 1 && box.width > 0;
        }).map(e => e.tagName + '.' + e.className + ': ' + e.textContent.slice(0, 40))"""
    )
    assert wide == []
    assert said == []
    assert asked == [address]
    page.close()


@pytest.mark.parametrize("width", [390, 880, 1280])
def test_the_verdict_of_each_burner_is_seen_without_scrolling(
    browser: Browser, evaluated_page: tuple[Conversion, str], width: int
) -> None:
    """With a supply described the first table holds both cases and the worse; its last columns are what it is for."""
    job, page_address = evaluated_page
    page = browser.new_page(viewport={"width": width, "height": 900})
    page.goto(page_address)
    right = page.evaluate(
        """() => [...document.querySelectorAll('#burners table tbody tr')]
            .map(row => row.lastElementChild.getBoundingClientRect().right)"""
    )
    assert len(right) == len(job.burners)
    assert max(right) <= width
    page.close()


def test_text_stands_out_from_its_ground(browser: Browser, address: str) -> None:
    """WCAG contrast of every text on white is at least 4.5."""
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.goto(address)
    colors = page.evaluate(
        """() => [...new Set([...document.querySelectorAll('body *')]
            .filter(e => !e.closest('svg') && e.textContent.trim()).map(e => getComputedStyle(e).color))]"""
    )
    assert colors
    for color in colors:
        red, green, blue = (int(part) / 255 for part in re.findall(r"\d+", color)[:3])
        linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in (red, green, blue)]
        light = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
        assert 1.05 / (light + 0.05) >= 4.5, color
    page.close()


@pytest.mark.parametrize(("paper", "size"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_it_prints(browser: Browser, plain: str, paper: str, size: tuple[int, int]) -> None:
    page: Any = browser.new_page()
    page.goto(plain)
    made: bytes = page.pdf(format=paper)
    pages = len(re.findall(rb"/Type\s*/Page\b", made))
    assert 4 <= pages <= 10  # card, answer and annex: nothing is evaluated here
    boxes = re.findall(rb"/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]", made)
    assert boxes
    assert all(abs(float(w) - size[0]) < 2 and abs(float(h) - size[1]) < 2 for w, h in boxes)
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.querySelector('thead')).display") == "table-header-group"
    assert page.evaluate("getComputedStyle(document.querySelector('tr')).breakInside") == "avoid"
    page.close()


def test_the_address_of_a_caution_leads_to_it(browser: Browser, plain: str) -> None:
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.goto(plain)
    page.click(".brief a[href='#cautions']")
    box = page.locator("#head-cautions").bounding_box()
    assert box is not None
    assert -2 <= box["y"] < 900
    page.close()
