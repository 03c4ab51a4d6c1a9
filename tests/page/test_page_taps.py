"""The shortest test of a unit by finger: how many taps, and that every one of them does what it should."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from burnerlab.bench.record import latest, open_record

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser
SECONDS = 220.4  # one revolution of 50 L at the rating of the stock-pot ring
FIRST = {"taps": 16, "characters": 9}  # with burner, tester, place and dial to enter
NEXT = {"taps": 10, "characters": 3}  # what was entered for the first unit stays


class Hand:
    """A finger that counts: taps, and characters typed where a field was tapped or has the focus."""

    def __init__(self, page: Page) -> None:
        self.page, self.taps, self.characters = page, 0, 0

    def tap(self, name: str, leads_to: str = "") -> None:
        self.taps += 1
        self.page.tap(name)
        if leads_to:
            self.page.wait_for_url(f"**{leads_to}?**")

    def write(self, name: str, text: str) -> None:
        if self.page.evaluate("document.activeElement.id") != name.removeprefix("#"):
            self.tap(name)
        self.page.fill(name, text)
        self.characters += len(text)

    def choose(self, name: str, text: str) -> None:
        self.taps += 2  # the list opens, an entry is taken
        self.page.select_option(name, text)


def a_unit(page: Page, serial: str, is_first: bool) -> dict[str, int]:
    """A unit from its serial number to its entry; returns what that took."""
    hand = Hand(page)
    page.wait_for_selector("#serial:focus")
    hand.write("#serial", serial)
    if is_first:
        hand.choose("#burner", "stock-pot ring")
        hand.write("#tester", "RQ")
        hand.write("#place", "B2")
    hand.tap("#supply_label input[value=natural-gas-typical]")
    hand.tap("#orifice_marks input[value='as printed']")
    hand.tap("#leak_test input[value=fluid]")
    if is_first:
        hand.tap("#air input[value=yes]")
    hand.tap("text=Next: readings", "/measure")
    if is_first:
        hand.write("#dial", "50")
    hand.tap("#watch-go")
    page.clock.run_for(1000 * SECONDS)
    hand.tap("#watch-go")
    hand.tap("text=Next: finding", "/finding")
    hand.tap("text=Next: flame", "/flame")
    hand.tap("text=Next: save", "/save")
    hand.tap("text=Save to the record", "/entry")
    return {"taps": hand.taps, "characters": hand.characters}


def test_the_shortest_test_by_finger(visit: Any, served: tuple[str, Path]) -> None:
    page: Page = visit("phone", touch=True).page
    page.clock.install(time="2026-01-01T08:00:00")
    page.goto(served[0])
    assert a_unit(page, "C-1", True) == FIRST
    page.tap("a.strong >> text=Next unit")
    page.wait_for_selector("#serial")
    assert a_unit(page, "C-2", False) == NEXT
    with open_record(served[1], readonly=True) as record:
        found = latest(record, "C-2")
    assert found is not None
    timed = [one.value for one in found.test.readings if one.quantity == "timed"]
    assert timed == pytest.approx([SECONDS], abs=0.5)
