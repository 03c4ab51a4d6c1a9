"""The stopwatch by finger, pen, mouse and keyboard: one press acts once, at the moment of pressing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser
LIT = "supply_label=natural-gas-typical&leak_test=fluid&air=yes"
Q = f"{LIT}&model=lantern-square-6&serial=watch&burner=stock-pot+ring&tester=R.+Quill&dial=10"

BOUNCE_ms = 250.0  # of the page's script: a second press so soon is the same finger


def place_of(page: Page, name: str) -> list[float]:
    """The middle of a button, brought to the middle of the window."""
    page.locator(name).evaluate("one => one.scrollIntoView({ block: 'center' })")
    box = page.locator(name).bounding_box()
    assert box is not None
    return [box["x"] + box["width"] / 2, box["y"] + box["height"] / 2]


class Finger:
    """One finger on the screen, by the events that a real one makes."""

    def __init__(self, page: Page) -> None:
        self.page, self.line = page, page.context.new_cdp_session(page)

    def down(self, name: str) -> None:
        self.at = place_of(self.page, name)
        self._send("touchStart", [{"x": self.at[0], "y": self.at[1]}])

    def move(self, x: float, y: float) -> None:
        self.at = [self.at[0] + x, self.at[1] + y]
        self._send("touchMove", [{"x": self.at[0], "y": self.at[1]}])

    def up(self) -> None:
        self._send("touchEnd", [])

    def _send(self, kind: str, points: list[dict[str, float]]) -> None:
        self.line.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})


def by_finger(page: Page) -> Callable[[str], None]:
    return page.tap


def by_long_press(page: Page) -> Callable[[str], None]:
    finger = Finger(page)

    def press(name: str) -> None:
        finger.down(name)
        page.wait_for_timeout(700)
        finger.up()

    return press


def by_pen(page: Page) -> Callable[[str], None]:
    line = page.context.new_cdp_session(page)

    def press(name: str) -> None:
        x, y = place_of(page, name)
        at = {"x": x, "y": y, "button": "left", "clickCount": 1, "pointerType": "pen"}
        for kind in ("mousePressed", "mouseReleased"):
            line.send("Input.dispatchMouseEvent", {"type": kind, **at})

    return press


def by_mouse(page: Page) -> Callable[[str], None]:
    return page.click


def by_key(key: str) -> Callable[[Page], Callable[[str], None]]:
    return lambda page: lambda name: page.press(name, key)


WAYS: dict[str, Callable[[Page], Callable[[str], None]]] = {
    "finger": by_finger,
    "long press": by_long_press,
    "pen": by_pen,
    "mouse": by_mouse,
    "enter": by_key("Enter"),
    "space": by_key("Space"),
}


@pytest.fixture
def readings_page(visit: Any, served: tuple[str, Path]) -> Callable[..., Page]:
    def opened(touch: bool = True) -> Page:
        page: Page = visit("phone", touch=touch).page
        page.goto(f"{served[0]}/measure?{Q}")
        page.evaluate(
            """() => {
                window.presses = [];
                for (const kind of ["pointerdown", "keydown"])
                    addEventListener(kind, (e) => presses.push(e.timeStamp), { capture: true });
            }"""
        )
        return page

    return opened


@pytest.mark.parametrize("way", WAYS)
def test_one_press_acts_once(readings_page: Any, way: str) -> None:
    """Start, wait, lap, wait, stop: two timings, each from press to press, and the field holds what is said."""
    page: Page = readings_page(way in ("finger", "long press"))
    press = WAYS[way](page)
    press("#watch-go")
    assert page.locator("#watch-go").inner_text() == "End timing"
    for name in ("#watch-lap", "#watch-go"):
        page.wait_for_timeout(600)
        press(name)
    assert page.locator("#watch-go").inner_text() == "Start"
    moments = page.evaluate("presses")
    assert len(moments) == 3
    wanted = [(moments[n + 1] - moments[n]) / 1000 for n in range(2)]
    assert all(time >= 0.6 for time in wanted)
    found = [page.input_value(f"#time{n}") for n in (1, 2, 3)]
    assert [float(text) for text in found[:2]] == pytest.approx(wanted, abs=0.006)
    assert found[2] == ""
    assert f"{found[1]} s" in page.locator("#watch-said").inner_text()
    assert float(page.locator("#face").inner_text().split()[0]) == pytest.approx(wanted[1], abs=0.051)


def test_the_whole_way_by_finger(visit: Any, served: tuple[str, Path]) -> None:
    """A timing by finger leads to a finding and to no refusal."""
    page: Page = visit("phone", touch=True).page
    page.clock.install(time="2026-01-01T08:00:00")
    page.goto(f"{served[0]}/measure?{Q}")
    page.clock.pause_at("2026-01-01T20:00:00")
    page.tap("#watch-go")
    page.clock.run_for(42_000)
    page.tap("#watch-go")
    seconds = page.input_value("#time1")
    assert float(seconds) == pytest.approx(42.0, abs=0.05)
    page.tap("text=Next: finding")
    page.wait_for_url("**/finding?**")
    assert f"time1={seconds}" in page.url
    assert page.locator(".result").is_visible()


def test_a_scroll_over_start_does_not_start_it(readings_page: Any) -> None:
    page: Page = readings_page()
    finger = Finger(page)
    finger.down("#watch-go")
    before = page.evaluate("scrollY")
    for _ in range(10):
        finger.move(0, -20)
        page.wait_for_timeout(16)
    finger.up()
    page.wait_for_timeout(100)
    assert page.evaluate("scrollY") > before
    assert page.locator("#watch-go").inner_text() == "Start"
    assert page.input_value("#time1") == ""
    assert page.evaluate("sessionStorage.getItem('watch')") is None


def test_a_glove_that_slides_while_it_stops_the_watch(readings_page: Any) -> None:
    """Once it runs, a slide over the button neither scrolls the page nor takes the press back."""
    page: Page = readings_page()
    start_ms = page.evaluate("performance.now()")
    page.tap("#watch-go")
    page.wait_for_timeout(600)
    finger = Finger(page)
    finger.down("#watch-go")
    longest_s = (
        page.evaluate("performance.now()") - start_ms
    ) / 1e3  # a loaded machine waits longer than asked
    before = page.evaluate("scrollY")
    for _ in range(10):
        finger.move(3, -20)
        page.wait_for_timeout(16)
    finger.up()
    assert page.evaluate("scrollY") == before
    assert page.locator("#watch-go").inner_text() == "Start"
    assert 0.5 <= float(page.input_value("#time1")) <= longest_s + 0.1


def test_a_second_touch_at_once_is_the_same_finger(readings_page: Any) -> None:
    page: Page = readings_page()
    x, y = place_of(page, "#watch-go")
    taps = {"x": x, "y": y, "tapCount": 2, "duration": 20, "gestureSourceType": "touch"}
    page.context.new_cdp_session(page).send("Input.synthesizeTapGesture", taps)
    first_ms, second_ms = page.evaluate("presses")
    assert second_ms - first_ms < BOUNCE_ms
    assert page.locator("#watch-go").inner_text() == "End timing"
    assert page.input_value("#time1") == ""


def test_a_timing_runs_on_over_a_reload(readings_page: Any) -> None:
    page: Page = readings_page()
    page.tap("#watch-go")
    page.wait_for_timeout(400)
    page.reload()
    assert page.locator("#watch-go").inner_text() == "End timing"
    page.wait_for_timeout(400)
    page.tap("#watch-go")
    assert 0.8 <= float(page.input_value("#time1")) < 5.0
    page.reload()
    assert page.locator("#watch-go").inner_text() == "Start"


def test_the_timing_of_another_unit_is_not_taken_up(readings_page: Any) -> None:
    page: Page = readings_page()
    page.tap("#watch-go")
    page.goto(page.url.replace("serial=watch", "serial=other"))
    assert page.locator("#watch-go").inner_text() == "Start"


def test_a_phone_that_slept_counts_by_the_clock_of_the_day(readings_page: Any) -> None:
    """The clock of the page may stand while the screen is off; that of the day does not."""
    page: Page = readings_page()
    page.tap("#watch-go")
    page.evaluate(
        """() => {
            const now = Date.now;
            Date.now = () => now.call(Date) + 60000;
            Object.defineProperty(document, "hidden", { value: true, configurable: true });
            document.dispatchEvent(new Event("visibilitychange"));
        }"""
    )
    page.wait_for_timeout(300)
    page.tap("#watch-go")
    first_ms, second_ms = page.evaluate("presses")
    assert float(page.input_value("#time1")) == pytest.approx(60.0 + (second_ms - first_ms) / 1e3, abs=0.3)


def test_the_stopwatch_fills_three_timings_and_no_more(visit: Any, served: tuple[str, Path]) -> None:
    page: Page = visit("phone").page
    page.clock.install(time="2026-01-01T08:00:00")
    page.goto(f"{served[0]}/measure?{Q}")
    page.clock.pause_at("2026-01-01T20:00:00")
    page.click("#watch-go")
    for _ in range(2):
        page.clock.run_for(60_000)
        page.click("#watch-lap")
    assert page.locator("#watch-lap").is_disabled()
    page.clock.run_for(60_000)
    page.click("#watch-go")
    for number in (1, 2, 3):
        assert float(page.input_value(f"#time{number}")) == pytest.approx(60.0, abs=0.5)
    page.fill("#time2", "")
    page.clock.run_for(1_000)
    page.click("#watch-go")
    page.clock.run_for(30_000)
    page.click("#watch-go")
    assert float(page.input_value("#time2")) == pytest.approx(30.0, abs=0.5)
    assert float(page.input_value("#time1")) == pytest.approx(60.0, abs=0.5)


def test_a_press_on_the_watch_counts_from_the_press(visit: Any, served: tuple[str, Path]) -> None:
    """A finger held on the button does not lengthen the timing."""
    page: Page = visit("phone").page
    page.clock.install(time="2026-01-01T08:00:00")
    page.goto(f"{served[0]}/measure?{Q}")
    page.clock.pause_at("2026-01-01T20:00:00")
    page.hover("#watch-go")
    page.mouse.down()
    page.clock.run_for(2_000)
    page.mouse.up()
    page.clock.run_for(8_000)
    page.mouse.down()
    page.clock.run_for(3_000)
    page.mouse.up()
    assert float(page.input_value("#time1")) == pytest.approx(10.0, abs=0.5)
    assert page.locator("#watch-go").inner_text() == "Start"


def test_an_extra_press_is_asked_about_at_once(readings_page: Any) -> None:
    """A timing below 2 s is refused by the form; the watch says so when it fills it in, and of a longer one not."""
    page = readings_page(touch=False)
    for wait_ms, is_asked in ((600, True), (2300, False)):
        page.press("#watch-go", "Enter")
        page.wait_for_timeout(wait_ms)
        page.press("#watch-go", "Enter")
        assert ("Too short to time by hand" in page.inner_text("#watch-said")) is is_asked
        page.wait_for_timeout(BOUNCE_ms)


def test_a_press_is_undone_and_the_timing_runs_on(readings_page: Any) -> None:
    """End pressed too early: after Undo the timing counts from its own start. A cleared field is filled first."""
    page = readings_page(touch=True)
    page.clock.install(time="2026-01-01T08:00:00")
    page.reload()
    page.tap("#watch-go")
    page.clock.run_for(90_000)
    page.tap("#watch-go")
    page.clock.run_for(10_000)
    page.tap("#watch-undo")
    assert page.input_value("#time1") == ""
    page.clock.run_for(100_000)
    page.tap("#watch-go")
    assert float(page.input_value("#time1")) == pytest.approx(200.0, abs=1.0)
    page.fill("#time1", "")
    page.clock.run_for(1_000)
    page.tap("#watch-go")
    page.tap("#watch-undo")
    assert (page.inner_text("#watch-go"), page.input_value("#time1")) == ("Start", "")
    page.clock.run_for(1_000)
    page.tap("#watch-go")
    page.clock.run_for(30_000)
    page.tap("#watch-go")
    assert float(page.input_value("#time1")) == pytest.approx(30.0, abs=1.0)
    assert page.input_value("#time2") == ""
