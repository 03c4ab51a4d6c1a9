"""A whole test in Chromium, on a phone and at a desk, with and without JavaScript."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote, urlencode, urlsplit

import pytest
from axe_findings import axe_findings
from desk_client import process_of

from burnerlab.bench.record import latest, open_record

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser
SIZES = {"phone": (390, 844), "desk": (1280, 900)}
GRAVE = ("moderate", "serious", "critical")


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    """A bench that runs as a command of its own."""
    file = tmp_path_factory.mktemp("bench") / "bench.sqlite"
    yield from ((address, file) for address in process_of("bench", "--demo", "--file", str(file)))


def fits(page: Page) -> None:
    """Nothing sticks out at the right of the window."""
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def lit(page: Page) -> None:
    """Answer what is asked before lighting."""
    for name, answer in (
        ("supply_label", "natural-gas-typical"),
        ("leak_test", "fluid"),
        ("air", "yes"),
        ("orifice_marks", "as printed"),
    ):
        page.check(f"#{name} input[value='{answer}']")


# Enter in a field presses the first button of its form: one that goes on, and answers nothing.
FIRST_BUTTONS = """[...document.querySelectorAll('main form')]
    .filter(form => form.querySelector('input:not([type=hidden])'))
    .map(form => form.querySelector('button[type=submit]'))
    .filter(button => button && (button.name || button.hasAttribute('formaction')))
    .map(button => button.textContent)"""


def next_step(page: Page) -> None:
    page.locator("main form").last.locator("button[type=submit]:not(.plain, .quiet, .to-stop)").click()


@pytest.mark.parametrize(("size", "script"), [("phone", True), ("phone", False), ("desk", True)])
def test_a_whole_test(visit: Any, served: tuple[str, Path], tmp_path: Path, size: str, script: bool) -> None:
    address, file = served
    one, serial = visit(size, script), f"{size}-{'script' if script else 'plain'}"
    page: Page = one.page
    if script:
        _own_clock(page)
    page.goto(address)
    page.fill("#serial", serial)
    page.fill("#tester", "R. Quill")
    page.select_option("#burner", "stock-pot ring")
    lit(page)
    next_step(page)
    page.fill("#dial", "10")
    times = _time_it(page) if script else _type_it(page)
    next_step(page)
    assert page.locator(".result .verdict").inner_text() in ("within", "near", "outside")
    next_step(page)
    if script:
        assert not page.is_visible("#see-odour .at-once")
        page.check("#see-odour input[value=yes]")
        assert page.locator("#see-odour .at-once button").bounding_box() is not None
        assert not page.is_visible("#see-odour .if-yes")
        page.check("#see-odour input[value='']")
    page.check("#see-lift input[value=no]")
    page.check("#see-noise input[value=yes]")
    if script:
        page.check("#see-lift input[value=yes]")
        assert page.locator("#see-lift .at-once button").bounding_box() is not None
        page.check("#see-lights-all-ports-full input[value=yes]")
        assert not page.is_visible("#see-lights-all-ports-full .at-once")
        page.check("#see-lights-all-ports-full input[value=no]")
        assert page.is_visible("#see-lights-all-ports-full .at-once")
        page.check("#see-lights-all-ports-full input[value='']")
        page.check("#see-lift input[value=no]")
    page.fill("#oxygen", "5")
    page.fill("#carbon_monoxide", "87")
    next_step(page)
    assert "noise" in page.locator(".look-again").inner_text().lower()
    next_step(page)
    assert page.locator("[role=status]").inner_text().startswith(f"Unit {serial}")
    with open_record(file, readonly=True) as record:
        found = latest(record, serial)
    assert found is not None
    read = [reading.value for reading in found.test.readings if reading.quantity == "timed"]
    assert read == pytest.approx(times, abs=0.02)
    assert {seen.name: seen.answer for seen in found.test.observations} == {
        "lift": "no",
        "noise": "yes",
        "mark-differs": "no",
    }
    page.click("text=Test sheet of this unit")
    _prints(page, serial)
    assert {urlsplit(asked).netloc for asked in one.asked} == {urlsplit(address).netloc}
    assert one.said == []


def _own_clock(page: Page) -> None:
    """A clock of the page's own, so that a busy machine does not lengthen a timing."""
    page.clock.install(time="2026-01-01T08:00:00")


def _stop_clock(page: Page) -> None:
    """From here the clock moves only when it is turned."""
    page.clock.pause_at("2026-01-01T20:00:00")


def _time_it(page: Page) -> list[float]:
    """Two timings by the stopwatch, its clock turned by hand."""
    _stop_clock(page)
    page.click("#watch-go")
    page.clock.run_for(42_300)
    page.click("#watch-lap")
    page.clock.run_for(42_900)
    assert page.locator("#face").inner_text().startswith("42.")
    page.click("#watch-go")
    found = [float(page.input_value(f"#time{number}")) for number in (1, 2)]
    assert found == pytest.approx([42.3, 42.9], abs=0.11)
    assert page.locator("#watch-said").inner_text().startswith("Second timing: ")
    assert page.input_value("#time3") == ""
    return found


def _type_it(page: Page) -> list[float]:
    assert not page.locator("#watch").is_visible()
    page.fill("#time1", "42.3")
    page.fill("#time2", "42.9")
    return [42.3, 42.9]


def _prints(page: Page, serial: str) -> None:
    """The sheet on paper: one page, no navigation, the cautions on it."""
    made: bytes = page.pdf(format="A4")
    assert len(re.findall(rb"/Type\s*/Page\b", made)) == 1
    page.emulate_media(media="print")
    assert not page.locator("header.top").is_visible()
    assert page.locator(".cautions").is_visible()
    text = page.locator("main").inner_text()
    assert f"Unit {serial}" in text
    for part in ("WARNING", "stock-pot ring", "not tested", "Not to be signed: 1 of 6 burners tested"):
        assert part in text
    assert "Signature" not in text
    page.emulate_media(media="screen")


STEPS = {
    "unit": "/",
    "readings": "/measure?{q}",
    "finding": "/finding?{q}",
    "off": "/finding?{q}&time1=21",
    "flame": "/flame?{q}",
    "save": "/save?{q}&see-noise=yes&oxygen=5&carbon_monoxide=87",
    "scale": "/measure?{q}&method=scale",
    "wrong": "/finding?{q}&time1=soon&barometer=1",
    "comma": "/finding?{q}&time1=42,5&time2=42,6",
    "stop": "/finding?{q}&time1=69",
    "smell": "/stop?{q}&stop=odour",
    "slip": "/wrong?{q}&time1=34&slip=",
    "stands": "/measure?{q}&serial=held",
    "release": "/release?entry={held}",
    "stopped": "/entry?uid={held}&stopped=yes",
    "record": "/record",
    "search": "/record?q=axe",
    "history": "/unit?serial=axe",
    "sheet": "/sheet?serial=axe",
    "chart": "/chart",
    "none": "/nothing",
    "list": "/record?units=US",
    "manometer": "/measure?{q}&method=manometer",
    "pressure": "/finding?{q}&method=manometer&manifold=1.7+kPa",
}
LIT = "supply_label=natural-gas-typical&leak_test=fluid&air=yes&orifice_marks=as+printed"
Q = f"{LIT}&model=lantern-square-6&serial=axe&burner=stock-pot+ring&tester=R.+Quill&dial=10"


@pytest.fixture(scope="module")
def one_saved(browser: Browser, served_stopped: tuple[str, Path]) -> str:
    """The address of a bench with one test in its record."""
    page = browser.new_page()
    page.goto(f"{served_stopped[0]}/save?{Q}&time1=42&see-noise=yes")
    next_step(page)
    assert "entry" in page.url
    page.goto(f"{served_stopped[0]}/stop?{Q}&stop=soot".replace("serial=axe", "serial=held"))
    next_step(page)
    assert "entry" in page.url
    page.close()
    return served_stopped[0]


@pytest.fixture(scope="module")
def phone(browser: Browser) -> Iterator[Page]:
    page = browser.new_page()
    yield page
    page.close()


@pytest.mark.parametrize("name", STEPS)
def test_it_can_be_read_and_used_by_everyone(
    phone: Page,
    served_stopped: tuple[str, Path],
    one_saved: str,
    name: str,
    place_apart: Callable[[str, str], dict[str, str]],
) -> None:
    """axe-core finds nothing to complain of on a phone or at a desk, the page fits both and its scripts run."""
    errors: list[str] = []
    phone.on("pageerror", lambda error: errors.append(str(error)))
    with open_record(served_stopped[1], readonly=True) as record:
        held = latest(record, "held")
    assert held is not None
    own = Q.replace(
        "serial=axe", f"serial={quote(name)}"
    )  # a unit and a supply apart: some of the pages are stops
    unit = Q.replace("&serial=axe", "") if "serial=" in STEPS[name] else own
    unit += f"&{urlencode(place_apart(name, f'main {name}'))}"
    path = STEPS[name].format(q=unit if "time1" in STEPS[name] else f"{unit}&time1=42", held=held.uid)
    phone.goto(one_saved + path)
    phone.evaluate("document.querySelectorAll('details').forEach(e => e.open = true)")
    assert phone.evaluate(FIRST_BUTTONS) == []
    for width, height in SIZES.values():
        phone.set_viewport_size({"width": width, "height": height})
        fits(phone)
        assert [one for one in axe_findings(phone) if one[1] in GRAVE] == []
    assert errors == []


def test_the_keyboard_alone_is_enough(visit: Any, served: tuple[str, Path]) -> None:
    """Focus goes down the page in the order it is read; Enter goes on."""
    page: Page = visit("phone").page
    page.goto(served[0])
    assert page.evaluate("document.activeElement.id") == "serial"
    page.keyboard.type("keys-1")
    seen = []
    for _ in range(4):
        page.keyboard.press("Tab")
        seen.append(page.evaluate("document.activeElement.name"))
    assert seen == ["model", "burner", "method", "tester"]
    page.keyboard.type("R. Quill")
    for name in (
        "place",
        "plan",
        "supply_label",
        "orifice_marks",
        None,
        "leak_test",
        "air",
    ):  # None: one is otherwise
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.name ?? null") == name
        if name not in ("place", "plan", None):
            page.keyboard.press("Space")
    page.keyboard.press("Enter")
    page.wait_for_url("**/measure?**")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "manifold"  # read before any timing
    page.focus("#dial")
    page.keyboard.type("10")
    page.focus(".skip")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "STOP"  # the next after it, on every step
    page.focus("#watch-go")
    page.keyboard.press("Enter")
    assert page.locator("#watch-go").inner_text() == "End timing"
    page.wait_for_timeout(400)
    page.keyboard.press("Space")
    assert 0.4 <= float(page.input_value("#time1")) < 5.0


def test_another_site_cannot_post(browser: Browser, served: tuple[str, Path], tmp_path: Path) -> None:
    """A page from elsewhere that sends our form gets a refusal, and nothing is recorded."""
    address, file = served
    (tmp_path / "evil.html").write_text(
        f'<form method="post" action="{address}/save"><input name="serial" value="evil"><button>go</button></form>',
        encoding="utf-8",
    )
    page = browser.new_page()
    page.goto((tmp_path / "evil.html").as_uri())
    with page.expect_navigation():
        page.click("button")
    assert "Nothing was saved" in page.inner_text("main")
    with open_record(file, readonly=True) as record:
        assert latest(record, "evil") is None
    page.close()


def test_a_pressure_beyond_its_ends_stops_in_sight_before_anything_is_timed(
    visit: Any, served: tuple[str, Path]
) -> None:
    """16.1 to 18.5 mbar, at most 26.1: above it while it is typed, below it once the field is left, by finger."""
    page: Page = visit("phone", script=True, touch=True).page
    page.goto(f"{served[0]}/measure?{Q}".replace("serial=axe", "serial=no-pressure"))  # its STOP stands on
    seen = page.locator("#manifold-stops")
    for typed, left, words in (
        ("1", False, ""),  # the first digit of 17.4 is no low pressure
        ("17.4", False, ""),
        ("17.4", True, ""),
        ("18.9", False, "STOP. Manifold pressure as typed, above 18.5 mbar"),
        ("27", False, "highest allowed 26.1 mbar"),
        ("10", False, ""),
        ("10,0", False, "STOP. Manifold pressure as typed, below 16.1 mbar"),  # no digit more brings it there
        ("16,0", False, ""),  # 16.09 is in the band
        ("10", True, "STOP. Manifold pressure as typed, below 16.1 mbar"),
        ("0", True, "STOP. No manifold pressure: the flame is out."),
    ):
        page.fill("#manifold", "")
        page.type("#manifold", typed)
        if left:
            page.tap("#dial")
        shown = seen.inner_text().replace("\N{NO-BREAK SPACE}", " ")
        assert (words in shown) if words else not shown, (typed, left, shown)
    page.tap("#manifold-stops .to-stop")
    page.wait_for_url("**/finding?**")
    assert "No manifold pressure: the flame is out." in page.inner_text("main")


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without script"])
def test_stop_by_two_taps_with_what_was_typed(visit: Any, served: tuple[str, Path], script: bool) -> None:
    """A finger opens the list and takes a reason; it never covers what is below, and typed figures go along."""
    page: Page = visit("phone", script=script, touch=True).page
    page.goto(f"{served[0]}/measure?{Q}".replace("serial=axe", f"serial=stop-{script}"))
    page.fill("#time1", "42.7")
    page.tap(".halt-bar summary")
    page.tap("text=Lights late, with a puff")
    page.wait_for_url("**/stop?**")
    assert page.locator("h1").inner_text().endswith("STOP. Late lighting.")
    page.tap("text=Record as stopped")
    page.wait_for_url("**/entry?**")
    assert "42.7" in page.locator("main").inner_text()
    page.goto(f"{served[0]}/measure?{Q}".replace("serial=axe", f"serial=stop-{script}"))
    assert "Late lighting" in page.locator("h1").inner_text()
    assert page.locator("#time1").count() == 0


def test_the_units_change_and_nothing_typed_is_lost(visit: Any, served: tuple[str, Path]) -> None:
    """Without any script: the figures go along with the units they were typed in."""
    page: Page = visit("phone", script=False).page
    page.goto(f"{served[0]}/measure?{Q}")
    page.fill("#time1", "41.5")
    page.fill("#dial", "9")
    page.click(".units button")
    assert (page.input_value("#dial"), page.input_value("[name=dial-unit]")) == ("9", "L")
    assert (page.input_value("#time1"), page.input_value("[name=time1-unit]")) == ("41.5", "s")
    page.click(".way button >> text=Unit")
    assert page.input_value("#serial") == "axe"
    assert "time1=41.5" in page.url
