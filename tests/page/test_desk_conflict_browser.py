"""A file that two desks wrote, joined in Chromium: by keyboard at a desk, by finger on a phone."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from axe_findings import axe_findings
from desk_client import SMALL, served, written

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser
LEFT, RIGHT, THROAT = "burner[1].rate", "burner[2].rate", "burner[1].throat"
MOST_TABS = 150


@pytest.fixture
def desks(tmp_path: Path) -> Iterator[tuple[Path, str, str]]:
    """One file, and the addresses of two desks on it."""
    path = written(tmp_path)
    for first in served(path):
        yield from ((path, first, second) for second in served(path))


def tab_to(page: Page, found: str) -> None:
    """The focus, by Tab alone, at what the expression finds."""
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        if page.evaluate(f"(() => {{ const at = document.activeElement; return {found}; }})()"):
            return
    raise AssertionError(f"no way to {found}")


def type_in(page: Page, name: str, text: str) -> None:
    tab_to(page, f"at.name === '{name}'")
    page.keyboard.press("ControlOrMeta+A")
    page.keyboard.type(text)
    page.wait_for_selector(f'[name="{name}"].changed')
    page.wait_for_selector("#desk:not(.waits)")


def press(page: Page, words: str) -> None:
    tab_to(page, f"at.textContent.trim() === '{words}'")
    page.keyboard.press("Enter")


def other_window_saves(visit: Any, address: str) -> None:
    page = visit("desk").page
    page.goto(address)
    for name, text in ((RIGHT, "15 kBtu/h"), (THROAT, "16 mm")):
        page.locator(f'[name="{name}"]').fill(text)
    page.wait_for_selector(f'[name="{THROAT}"].changed')
    page.get_by_role("button", name="Save").click()
    page.wait_for_selector("text=Saved.")


def test_two_windows_are_joined_by_keyboard_and_the_file_holds_both(
    visit: Any, desks: tuple[Path, str, str]
) -> None:
    path, first, second = desks
    page = visit("desk").page
    page.goto(first)
    type_in(page, LEFT, "13 kBtu/h")
    type_in(page, THROAT, "17 mm")
    other_window_saves(visit, second)
    press(page, "Save")
    page.wait_for_selector("text=Not saved: stove.toml was changed outside this page")
    assert axe_findings(page) == []
    tab_to(page, f"at.name === 'choose {THROAT}'")
    page.keyboard.press("Space")
    assert page.evaluate("document.activeElement.value") == "page"
    press(page, "Take both into the page")
    page.wait_for_selector("#news")
    assert "17 mm" not in path.read_text(encoding="utf-8"), "written before Save"
    press(page, "Save")
    page.wait_for_selector("text=Saved.")
    both = SMALL.replace("12.5 kBtu/h", "13 kBtu/h").replace("14.5 kBtu/h", "15 kBtu/h")
    assert path.read_text(encoding="utf-8") == both.replace("15.5 mm", "17 mm")


def test_two_windows_are_joined_by_finger(visit: Any, desks: tuple[Path, str, str]) -> None:
    path, first, second = desks
    page = visit("phone", touch=True).page
    page.goto(first)
    page.locator("#burner-1 summary").tap()
    for name, text in ((LEFT, "13 kBtu/h"), (THROAT, "17 mm")):
        page.locator(f'[name="{name}"]').fill(text)
    page.wait_for_selector(f'[name="{THROAT}"].changed')
    other_window_saves(visit, second)
    page.get_by_role("button", name="Save").tap()
    page.get_by_text("in the file now: 16 mm").tap()
    page.get_by_role("button", name="Take both into the page").tap()
    page.wait_for_selector("#news")
    page.get_by_role("button", name="Save").tap()
    page.wait_for_selector("text=Saved.")
    both = SMALL.replace("12.5 kBtu/h", "13 kBtu/h").replace("14.5 kBtu/h", "15 kBtu/h")
    assert path.read_text(encoding="utf-8") == both.replace("15.5 mm", "16 mm")


def test_back_to_the_page_before_the_file_was_opened_anew_saves_nothing_over_it(
    visit: Any, desks: tuple[Path, str, str]
) -> None:
    path, first, second = desks
    page = visit("desk").page
    page.goto(first)
    page.locator(f'[name="{LEFT}"]').fill("13 kBtu/h")
    page.wait_for_selector(f'[name="{LEFT}"].changed')
    other_window_saves(visit, second)
    saved = path.read_text(encoding="utf-8")
    page.get_by_role("button", name="Save").click()
    page.get_by_role("link", name="Open the file as it is now").click()
    page.locator('[name="burner[2].throat"]').fill("14 mm")
    page.wait_for_selector('[name="burner[2].throat"].changed')
    page.evaluate("history.go(-2)")
    page.wait_for_selector("text=as it was before another program wrote it")
    page.get_by_role("button", name="Save").click()
    page.wait_for_selector("text=Not saved: stove.toml was changed outside this page")
    assert path.read_text(encoding="utf-8") == saved
