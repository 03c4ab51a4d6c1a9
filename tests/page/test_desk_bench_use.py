"""The desk where a misreading hurts: whose orifice a number is, what is off the screen, what is not sent yet."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import desk_client
import pytest
from desk_client import SMALL, DeskClient

from burnerlab.page.desk_state import Desk

OTHERS = """
[[market]]
name   = "continent"
supply = [{ gas = "G20", pressure = "20 mbar" }]

[[market]]
name   = "islands"
supply = [{ gas = "G31", pressure = "37 mbar" }]

[[market]]
name   = "mountains"
supply = [{ gas = "butane-commercial", pressure = "11 in w.c." }]
"""
FOUR = SMALL.replace("\n[[burner]]", OTHERS + "\n[[burner]]", 1)
TAG = re.compile(r"<[^>]*>")


def written(folder: Path) -> Path:
    path = folder / "stove.toml"
    path.write_text(FOUR, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> DeskClient:
    return DeskClient(Desk(written(tmp_path_factory.mktemp("desk"))))


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    yield from desk_client.served(written(tmp_path_factory.mktemp("served")))


def test_each_orifice_stands_with_its_market_and_its_gas(client: DeskClient) -> None:
    """A drill for propane is a hazard on natural gas: no cell leaves open which of them it is for."""
    text = client.look().text
    for letter, name, gas in (
        ("A", "propane, North America", "11 in"),
        ("B", "continent", "G20"),
        ("C", "islands", "G31"),
    ):
        cell = text.split(f'id="orifice-1-{letter}"', 1)[1].split("<b ", 1)[0]
        words = " ".join(TAG.sub(" ", cell.partition(">")[2]).split())
        assert words.startswith(f"{letter} {name}: "), words
        assert gas in words or (letter == "A" and "ropane" in words)


@pytest.mark.browser
def test_a_phone_without_script_shows_the_market_before_each_orifice(visit: Any, served: str) -> None:
    page = visit("phone", script=False).page
    page.goto(f"{served}/file")
    for letter, gas in (("B", "G20"), ("C", "G31")):
        line = page.locator(f"#orifice-2-{letter} .for")
        assert line.is_visible()
        assert gas in line.inner_text()
        assert line.bounding_box()["y"] < page.locator(f"#orifice-2-{letter}-mark").bounding_box()["y"]


@pytest.mark.browser
def test_markets_off_the_screen_are_named(visit: Any, served: str) -> None:
    page = visit("desk").page
    page.set_viewport_size({"width": 960, "height": 900})
    page.goto(f"{served}/file")
    line = page.locator("#beyond")
    assert re.match(r"Markets further to the right: (B, )?(C, )?D\.", line.inner_text())
    frame = page.locator(".burners .scroll")
    assert ("OUTSIDE" in line.inner_text()) == page.evaluate(
        """() => { const end = document.querySelector('.burners .scroll').getBoundingClientRect().right + 1;
        return [...document.querySelectorAll('.burners td.answer')].some(one =>
        one.getBoundingClientRect().right > end && one.querySelector('.is-triangle')) }"""
    )
    first = page.locator("#burner-1 th").bounding_box()["x"]
    frame.evaluate("one => one.scrollLeft = 5000")
    line.wait_for(state="hidden")
    assert page.locator("#burner-1 th").bounding_box()["x"] == first


@pytest.mark.browser
def test_what_is_not_sent_is_not_called_saved(visit: Any, served: str) -> None:
    """Without an answer nothing reads as saved; as soon as the desk answers the entry goes there by itself."""
    page = visit("desk").page
    page.clock.install()  # it goes on by itself, and is put forward to when the page sends again
    page.goto(f"{served}/file")
    page.route("**/edit", lambda route: route.abort())
    page.locator('[name="burner[1].rate"]').fill("13.25 kBtu/h")
    page.wait_for_selector("#lost:not([hidden])")
    assert page.locator(".kept").inner_text() == "not saved, not sent: no answer"
    assert page.get_by_role("button", name="Save").is_disabled()
    page.unroute("**/edit")
    page.clock.fast_forward(6000)
    page.wait_for_selector("input.changed", timeout=6000)
    assert page.get_by_role("button", name="Save").is_enabled()
    assert page.locator("#lost").is_hidden()
