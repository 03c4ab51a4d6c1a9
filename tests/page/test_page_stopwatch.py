"""The stopwatch by finger, pen, mouse and keyboard: one press acts once, at the moment of pressing."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser
LIT = "supply_label=natural-gas-typical&leak_test=fluid&air=yes&orifice_marks=as+printed"
Q = f"{LIT}&model=lantern-square-6&serial=watch&burner=stock-pot+ring&tester=R.+Quill&dial=10"

BOUNCE_ms = 250.0  # of the page's script: a second press so soon is the same finger
LONG_PRESS_ms = 700.0


def place_of(page: Page, name: str) -> list[float]:
    """The middle of a button, brought to the middle of the window."""
    page.locator(name).evaluate("one => one.scrollIntoView({ block: 'center' })")
    box = page.locator(name).bounding_box()
    assert box is not None
    return [box["x"] + box["width"] / 2, box["y"] + box["height"] / 2]


class Device:
    """What a finger, pen, mouse or key does, by the events that a real one makes, each at a stated moment.

    The page has the moment of an event from the event: nothing is waited for, and a busy machine lengthens nothing.
    """

    def __init__(self, page: Page) -> None:
        self.page, self.line, self.now = page, page.context.new_cdp_session(page), time.time()

    def wait(self, seconds: float) -> None:
        self.now += seconds

    def send(self, kind: str, **event: Any) -> None:
        self.line.send(f"Input.dispatch{kind}Event", {"timestamp": self.now, **event})

    def down(self, name: str) -> None:
        self.at = place_of(self.page, name)
        self._touch("touchStart", [{"x": self.at[0], "y": self.at[1]}])

    def move(self, x: float, y: float) -> None:
        self.at = [self.at[0] + x, self.at[1] + y]
        self._touch("touchMove", [{"x": self.at[0], "y": self.at[1]}])

    def up(self) -> None:
        self._touch("touchEnd", [])

    def tap(self, name: str) -> None:
        self.down(name)
        self.wait(0.02)
        self.up()

    def _touch(self, kind: str, points: list[dict[str, float]]) -> None:
        self.send("Touch", type=kind, touchPoints=points)

    def long_press(self, name: str) -> None:
        self.down(name)
        self.page.wait_for_timeout(LONG_PRESS_ms)  # the browser has its own clock for what it makes of it
        self.wait(LONG_PRESS_ms / 1000)
        self.up()

    def click(self, name: str, pointer: str) -> None:
        x, y = place_of(self.page, name)
        at = {"x": x, "y": y, "button": "left", "clickCount": 1, "pointerType": pointer}
        for kind in ("mousePressed", "mouseReleased"):
            self.send("Mouse", type=kind, **at)

    def key(self, name: str, key: str) -> None:
        self.page.focus(name)
        code, number, text = KEYS[key]
        event = {"key": key, "code": code, "windowsVirtualKeyCode": number}
        self.send("Key", type="keyDown", text=text, **event)
        self.send("Key", type="keyUp", **event)


KEYS = {"Enter": ("Enter", 13, "\r"), " ": ("Space", 32, " ")}
WAYS: dict[str, Callable[[Device, str], None]] = {
    "finger": Device.tap,
    "long press": Device.long_press,
    "pen": lambda device, name: device.click(name, "pen"),
    "mouse": lambda device, name: device.click(name, "mouse"),
    "enter": lambda device, name: device.key(name, "Enter"),
    "space": lambda device, name: device.key(name, " "),
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
    """Start, lap, stop: two timings, each from press to press, and the field holds what is said."""
    page: Page = readings_page(way in ("finger", "long press"))
    device, press = Device(page), WAYS[way]
    press(device, "#watch-go")
    assert page.locator("#watch-go").inner_text() == "End timing"
    for name in ("#watch-lap", "#watch-go"):
        device.wait(0.62)
        press(device, name)
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
    finger = Device(page)
    finger.down("#watch-go")
    before = page.evaluate("scrollY")
    for _ in range(10):
        finger.wait(0.016)
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
    finger = Device(page)
    finger.tap("#watch-go")
    finger.wait(0.6)
    finger.down("#watch-go")
    before = page.evaluate("scrollY")
    for _ in range(10):
        finger.wait(0.016)
        finger.move(3, -20)
        page.wait_for_timeout(16)
    finger.up()
    assert page.evaluate("scrollY") == before
    assert page.locator("#watch-go").inner_text() == "Start"
    first_ms, second_ms = page.evaluate("presses")
    assert float(page.input_value("#time1")) == pytest.approx((second_ms - first_ms) / 1e3, abs=0.006)
    assert second_ms - first_ms >= 600


def test_a_second_touch_at_once_is_the_same_finger(readings_page: Any) -> None:
    page: Page = readings_page()
    finger = Device(page)
    finger.tap("#watch-go")
    finger.wait(0.06)
    finger.tap("#watch-go")
    first_ms, second_ms = page.evaluate("presses")
    assert second_ms - first_ms < BOUNCE_ms
    assert page.locator("#watch-go").inner_text() == "End timing"
    assert page.input_value("#time1") == ""


def test_a_timing_runs_on_over_a_reload(readings_page: Any) -> None:
    page: Page = readings_page()
    finger = Device(page)
    finger.tap("#watch-go")
    page.reload()
    assert page.locator("#watch-go").inner_text() == "End timing"
    finger.wait(60.0)
    finger.tap("#watch-go")
    assert float(page.input_value("#time1")) == pytest.approx(60.02, abs=0.05)  # by the clock of the day
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
    finger = Device(page)
    finger.tap("#watch-go")
    page.evaluate(
        """() => {
            const now = Date.now;
            Date.now = () => now.call(Date) + 60000;
            Object.defineProperty(document, "hidden", { value: true, configurable: true });
            document.dispatchEvent(new Event("visibilitychange"));
        }"""
    )
    finger.wait(0.3)
    finger.tap("#watch-go")
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
    keyboard = Device(page)
    for seconds, is_asked in ((0.6, True), (2.3, False)):
        keyboard.key("#watch-go", "Enter")
        keyboard.wait(seconds)
        keyboard.key("#watch-go", "Enter")
        assert ("Too short to time by hand" in page.inner_text("#watch-said")) is is_asked
        keyboard.wait(BOUNCE_ms / 1000)


def test_a_press_is_undone_and_the_timing_runs_on(readings_page: Any) -> None:
    """End pressed too early: after Undo the timing counts from its own start. A cleared field is filled first."""
    page = readings_page(touch=True)
    page.clock.install(time="2026-01-01T08:00:00")
    page.reload()
    page.clock.pause_at("2026-01-01T20:00:00")
    page.tap("#watch-go")
    page.clock.run_for(90_000)
    page.tap("#watch-go")
    page.clock.run_for(10_000)
    page.tap("#watch-undo")
    assert page.input_value("#time1") == ""
    page.clock.run_for(100_000)
    page.tap("#watch-go")
    assert float(page.input_value("#time1")) == pytest.approx(200.0, abs=0.5)
    page.fill("#time1", "")
    page.clock.run_for(1_000)
    page.tap("#watch-go")
    page.tap("#watch-undo")
    assert (page.inner_text("#watch-go"), page.input_value("#time1")) == ("Start", "")
    page.clock.run_for(1_000)
    page.tap("#watch-go")
    page.clock.run_for(30_000)
    page.tap("#watch-go")
    assert float(page.input_value("#time1")) == pytest.approx(30.0, abs=0.5)
    assert page.input_value("#time2") == ""
