"""The desk in Chromium, on a phone and at a desk: with and without script, by keyboard and by touch."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from threading import Event
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import pytest
from axe_findings import axe_findings
from desk_client import SMALL, process_of, served, written

from burnerlab.appliance import demonstration_path
from burnerlab.tables.cautions import cautions

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, Route

pytestmark = pytest.mark.browser
SIZES = {"phone": (390, 844), "desk": (1280, 900)}
GRAVE = ("moderate", "serious", "critical")
RATE = "burner[1].rate"
MARK = "#orifice-1-A-mark"
LONGEST_PAGE = 4000  # pixels on a phone
LARGEST_BAR = 120


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    path = written(tmp_path_factory.mktemp("desk"))
    yield from ((address, path) for address in served(path))


@pytest.fixture(scope="module")
def cart(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    """The six burners of the demonstration, on a desk that runs as a command of its own."""
    path = tmp_path_factory.mktemp("cart") / "cart.toml"
    path.write_bytes(demonstration_path().read_bytes())
    yield from ((address, path) for address in process_of("desk", str(path)))


@pytest.fixture
def start(visit: Any, desk: tuple[str, Path]) -> Any:
    """Opens the page of the file, as it was at first."""

    def opened(size: str, **more: Any) -> Page:
        desk[1].write_text(SMALL, encoding="utf-8")
        one = visit(size, **more)
        page: Page = one.page
        page.goto(f"{desk[0]}/file")
        return page

    return opened


def field(page: Page, name: str) -> Any:
    return page.locator(f'[name="{name}"]')


def settled(page: Page) -> None:
    """Both answers of the last edit are in the page."""
    page.wait_for_selector("#desk:not(.waits)")


def mark_is(page: Page, text: str) -> None:
    from playwright.sync_api import expect

    expect(page.locator(MARK)).to_have_text(text)


def fits(page: Page) -> None:
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def unfold(page: Page) -> None:
    page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without script"])
@pytest.mark.parametrize("size", SIZES)
def test_an_edit_is_seen_undone_and_saved(
    start: Any, desk: tuple[str, Path], size: str, script: bool
) -> None:
    from playwright.sync_api import expect

    page = start(size, script=script, touch=size == "phone")
    mark_is_now = page.locator(MARK).inner_text()
    rate = field(page, RATE)
    if size == "phone":
        page.locator("#burner-1 summary").tap()
        rate.tap()
    rate.fill("16 kBtu/h")
    if not script:
        page.get_by_role("button", name="Calculate", exact=True).click()
    expect(page.locator(MARK)).not_to_have_text(mark_is_now)
    assert field(page, "burner[2].rate").input_value() == "14.5 kBtu/h"
    assert page.locator("input.changed").count() == 1
    changed = page.locator(MARK).inner_text()
    page.get_by_role("button", name="Undo").click()
    mark_is(page, mark_is_now)
    page.get_by_role("button", name="Redo").click()
    mark_is(page, changed)
    page.get_by_role("button", name="Save").click()
    page.wait_for_selector("text=Saved.")
    assert desk[1].read_text(encoding="utf-8") == SMALL.replace("12.5 kBtu/h", "16 kBtu/h")
    fits(page)


def test_the_focus_stays_and_what_is_typed_on_is_kept(start: Any) -> None:
    page = start("desk")
    rate = field(page, RATE)
    rate.click()
    page.keyboard.press("ControlOrMeta+A")
    page.keyboard.type("16 kBtu/h", delay=60)
    page.wait_for_selector("input.changed")
    settled(page)
    assert page.evaluate("document.activeElement.name") == RATE
    both = "[document.querySelector('#papers a')?.href, document.querySelector('[name=base]').value]"
    for _ in range(100):  # the page's policy forbids an expression that the browser evaluates by itself
        link, base = page.evaluate(both)
        if link and f"/papers/{base}/" in link:
            break
        page.wait_for_timeout(50)
    assert link, "no paper is offered"
    assert f"/papers/{base}/" in link  # both change with one answer
    page.keyboard.type("x")
    page.wait_for_selector(f'[name="{RATE}"][aria-invalid]:focus')
    assert rate.input_value() == "16 kBtu/hx"


def test_what_has_the_focus_follows_an_edit_too(start: Any) -> None:
    """A link that somebody has gone to leads to the text as it is now, and keeps the focus."""
    page = start("desk")
    field(page, RATE).fill("16 kBtu/h")
    page.locator("#papers a").first.focus()
    settled(page)
    page.wait_for_selector("input.changed")
    settled(page)
    link, base = page.evaluate(
        "[document.activeElement.getAttribute('href'), document.querySelector('[name=base]').value]"
    )
    assert link is not None
    assert f"/papers/{base}/" in link


def test_a_late_answer_is_dropped(start: Any) -> None:
    """The answer to the first entry arrives after that to the second, and is not shown."""
    from playwright.sync_api import Error as PlaywrightError

    page = start("desk")
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)
        if len(held) > 1:
            route.continue_()

    page.route("**/edit", hold)
    field(page, RATE).fill("30 kBtu/h")
    page.wait_for_timeout(300)
    field(page, RATE).fill("13 kBtu/h")
    page.wait_for_selector("input.changed")
    settled(page)
    shown = page.locator(MARK).inner_text()
    with suppress(PlaywrightError):  # the script has given it up
        held[0].continue_()
    page.wait_for_timeout(200)
    assert page.locator(MARK).inner_text() == shown
    assert field(page, RATE).input_value() == "13 kBtu/h"


def test_a_value_that_does_not_read_stands_with_its_word(start: Any) -> None:
    page = start("desk")
    before = page.locator(MARK).inner_text()
    field(page, RATE).fill("soon")
    page.wait_for_selector("#desk.stale")
    note = page.locator(f'[id="note-{RATE}"]')
    assert "not a quantity" in note.inner_text()
    assert field(page, RATE).get_attribute("aria-describedby") == f"note-{RATE}"
    assert page.locator(MARK).inner_text() == before
    assert "of the entry before" in page.locator("main").inner_text()
    field(page, RATE).fill("12.5 kBtu/h")
    page.wait_for_selector("#desk:not(.stale)")
    assert note.inner_text() == ""


COVERED = """names => names.filter(name => {
  const one = document.getElementsByName(name)[0];
  one.scrollIntoView({block: "center"});
  const box = one.getBoundingClientRect();
  return one !== document.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2);
})"""
BESIDE = ("supply.pressure", "supply.altitude", "market[1].supply[1].pressure", "market[1].supply[2].gas",
          "burner[1].count", RATE, "burner[1].ports.count", "burner[1].ports.diameter")  # fmt: skip


@pytest.mark.parametrize("size", SIZES)
def test_a_note_covers_no_field(start: Any, size: str) -> None:
    """With several notes on the page each field still takes the mouse or the finger in its middle."""
    page = start(size, touch=size == "phone")
    unfold(page)
    for key, text in ((RATE, "soon"), ("supply.pressure", "7 in"), ("market[1].supply[1].pressure", "11")):
        field(page, key).fill(text)
        page.wait_for_selector(f'[id="note-{key}"]:not(:empty)')
    assert 'write "11 in w.c."' in page.locator('[id="note-market[1].supply[1].pressure"]').inner_text()
    unfold(page)
    assert page.evaluate(COVERED, [one for one in BESIDE if field(page, one).is_visible()]) == []
    last = field(page, BESIDE[-1])
    last.tap() if size == "phone" else last.click()
    fits(page)


def test_a_lost_connection_is_said_and_nothing_typed_is_lost(start: Any) -> None:
    page = start("desk")
    page.route("**/edit", lambda route: route.abort())
    field(page, RATE).fill("13.25 kBtu/h")
    page.wait_for_selector("#lost:not([hidden])")
    page.unroute("**/edit")
    page.reload()
    page.wait_for_selector("input.changed")
    assert field(page, RATE).input_value() == "13.25 kBtu/h"


def test_the_keyboard_alone_is_enough(start: Any, desk: tuple[str, Path]) -> None:
    """Enter works out and never saves; Tab goes through a burner in the order it is read."""
    page = start("desk")
    field(page, RATE).focus()
    seen = [page.evaluate("document.activeElement.name")]
    for _ in range(8):
        page.keyboard.press("Tab")
        seen.append(page.evaluate("document.activeElement.name"))
    rest = (
        "rate",
        "count",
        "kind",
        "orifice.drill",
        "throat",
        "shutter.opening",
        "shutter.area",
        "ports.count",
        "ports.diameter",
    )
    assert seen == [f"burner[1].{one}" for one in rest]
    for _ in range(3):
        page.keyboard.press("Shift+Tab")
    page.keyboard.press("ControlOrMeta+A")
    page.keyboard.type("70 %")
    page.keyboard.press("Enter")
    page.wait_for_selector("input.changed")
    assert field(page, "burner[1].shutter.opening").input_value() == "70 %"
    assert desk[1].read_text(encoding="utf-8") == SMALL


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without script"])
def test_a_comma_is_read_by_one_tap(start: Any, script: bool) -> None:
    from playwright.sync_api import expect

    page = start("phone", script=script, touch=True)
    page.locator("#burner-1 summary").tap()
    field(page, RATE).fill("13,5 kBtu/h")
    if not script:
        page.get_by_role("button", name="Calculate", exact=True).tap()
    page.get_by_role("button", name="Read as 13.5 kBtu/h").tap()
    expect(field(page, RATE)).to_have_value("13.5 kBtu/h")
    expect(page.locator(f'[id="note-{RATE}"]')).to_have_text("")
    expect(page.locator("#line-burner-1")).to_contain_text("13.5")
    fits(page)
    if script:  # corrected by hand, the focus goes on to the next entry and is not lost with the button
        field(page, RATE).fill("13,6 kBtu/h")
        expect(page.get_by_role("button", name="Read as 13.6 kBtu/h")).to_be_visible()
        field(page, RATE).fill("13.6 kBtu/h")
        field(page, RATE).press("Tab")
        expect(field(page, "burner[1].count")).to_be_focused()
        expect(page.locator(f'[id="note-{RATE}"]')).to_have_text("")
        expect(field(page, "burner[1].count")).to_be_focused()


def test_what_stood_open_stands_open_on_the_way_back(start: Any) -> None:
    """A burner opened on a phone, and a table of the file, after another page and the first address of the desk."""
    page = start("phone", touch=True)
    page.locator("#burner-2 .more summary").tap()
    page.locator("summary", has_text="11 tables").tap()
    page.get_by_role("button", name="supply", exact=True).tap()
    page.wait_for_selector("#opened")
    page.goto(page.url.partition("/at/")[0] + "/handbook")
    page.goto(page.url.partition("/handbook")[0] + "/")
    assert page.locator("#opened").count() == 1
    assert page.locator("#burner-2 .more").get_attribute("open") is not None
    assert page.locator("#burner-1 .more").get_attribute("open") is None
    field(page, "burner[2].rate").fill("14 kBtu/h")
    page.get_by_role("button", name="Save", exact=True).tap()
    page.wait_for_selector("#news")
    assert page.locator("#burner-2 .more").get_attribute("open") is None


@pytest.mark.parametrize("script", [True, False])
def test_a_table_that_is_opened_stands_below_the_bar(start: Any, script: bool) -> None:
    """So do the fields that TAB goes back to."""
    page = start("desk", script=script)
    page.get_by_role("button", name="supply", exact=True).click()
    page.wait_for_selector("#opened")
    first = page.locator("#opened label").first
    bar = page.locator(".desk-state").bounding_box()
    assert first.bounding_box()["y"] >= bar["y"] + bar["height"]
    page.locator("#papers a").last.focus()
    page.evaluate("scrollTo(0, document.body.scrollHeight)")
    add = page.get_by_role("button", name="Add a market")
    add.focus()
    assert add.bounding_box()["y"] >= bar["height"]


def test_without_script_what_is_typed_is_saved_at_once(start: Any, desk: tuple[str, Path]) -> None:
    page = start("desk", script=False)
    field(page, RATE).fill("13 kBtu/h")
    page.get_by_role("button", name="Save", exact=True).click()
    page.wait_for_selector("#news")
    assert "13 kBtu/h" in desk[1].read_text(encoding="utf-8")


def test_the_region_of_a_blank_page_leaves_its_fields_open(visit: Any, tmp_path: Path) -> None:
    """On a phone the page is made again in the units of the region: what stood open stands open."""
    for address in served(tmp_path / "new.toml"):
        page = visit("phone", touch=True).page
        page.goto(address)
        page.locator('[name="appliance.rating"]').select_option("gross")
        page.locator('[name="appliance.region"]').select_option("us")
        page.wait_for_url("**units=US**")
        assert field(page, "supply.gas").is_visible()


def late(route: Route) -> None:
    route.request.frame.page.wait_for_timeout(150)
    route.continue_()


def test_what_is_typed_while_the_page_of_a_region_comes_stays_in_its_field(
    visit: Any, tmp_path: Path
) -> None:
    """Units, examples and rules of the region come late, and no key waits for them."""
    entries = {"appliance.rating": "gross", "appliance.region": "us", "supply.gas": "propane"}
    entries |= {"supply.pressure": "11 in w.c.", "supply.altitude": "200 ft"}
    for address in served(tmp_path / "new.toml"):
        page = visit("desk").page
        page.goto(address)
        page.route("**/at/*", late)
        field(page, "appliance.rating").focus()
        for text in entries.values():
            page.keyboard.press("ControlOrMeta+A")
            page.keyboard.type(text, delay=10)
            page.keyboard.press("Tab")
        page.wait_for_selector("text=metric units instead")
        settled(page)
        assert {name: field(page, name).input_value() for name in entries} == entries
        assert page.evaluate("document.activeElement.name") == "limits.altitude_policy"
        page.unroute("**/at/*")


def test_a_field_half_typed_outlives_the_exchange_of_its_page(visit: Any, tmp_path: Path) -> None:
    """The page of the other region takes the place of this one below the fingers; the caret stays where it is."""
    from playwright.sync_api import Error as PlaywrightError

    typed = {
        "appliance.name": "Patio",
        "appliance.model": "M1",
        "appliance.rating": "gross",
        "appliance.region": "us",
        "supply.gas": "propane",
        "supply.pressure": "11 in w.c.",
        "supply.altitude": "200 ft",
    }
    held: list[Route] = []
    released = Event()

    def go_on(route: Route) -> None:
        with suppress(PlaywrightError):  # the script has given it up
            route.continue_()

    def hold(route: Route) -> None:
        """Keeps it until they are released; one whose turn comes only then is kept no more."""
        if released.is_set():
            go_on(route)
        else:
            held.append(route)

    for address in served(tmp_path / "new.toml"):
        page = visit("desk").page
        page.goto(address)
        page.route("**/at/**", hold)
        field(page, "appliance.name").select_text()
        for name, text in typed.items():
            page.wait_for_selector(f'[name="{name}"]:focus')
            page.keyboard.type(text)
            if name == "supply.gas":
                page.keyboard.type("x")
                released.set()
                for one in held:
                    go_on(one)
                page.unroute("**/at/**")
                page.get_by_role("button", name="metric units instead").wait_for()
                page.keyboard.press("Backspace")
            if name != "supply.altitude":
                page.keyboard.press("Tab")
        settled(page)
        assert {name: field(page, name).input_value() for name in typed} == typed
        assert page.evaluate("document.activeElement.name") == "supply.altitude"
        ids = page.locator("[id]").evaluate_all("all => all.map(one => one.id)")
        assert len(ids) == len(set(ids))


def test_the_next_burner_and_the_next_market_are_a_key_away(start: Any) -> None:
    """Control and Enter in a field of one adds the next, whose name has the focus."""
    page = start("desk")
    for kind, number in (("burner[1].rate", "burner[3].name"), ("market[1].altitude", "market[2].name")):
        field(page, kind).focus()
        page.keyboard.press("Control+Enter")
        page.wait_for_selector(f'[name="{number}"]:focus')


def test_a_copied_market_has_the_focus(start: Any) -> None:
    """A browser that goes to a place of a page takes the focus away once the page is loaded."""
    from playwright.sync_api import expect

    page = start("desk")
    page.get_by_role("button", name="Copy market A").click()
    page.wait_for_url("**#market-2*")
    expect(field(page, "market[2].name")).to_be_focused()
    page.keyboard.type("Alps")  # in place of the name it was given
    assert field(page, "market[2].name").input_value() == "Alps"


def test_burners_and_markets_are_added_by_touch(start: Any) -> None:
    page = start("phone", touch=True)
    page.locator(".markets summary").first.tap()
    page.get_by_role("button", name="Add a market").tap()
    page.wait_for_selector("text=market 2")
    page.get_by_role("button", name="Add a burner").tap()
    page.wait_for_selector('[name="burner[3].name"]')
    assert field(page, "burner[3].name").input_value() == "burner 3"
    small = page.evaluate(
        "[...document.querySelectorAll('main input:not([type=hidden]), main button, main select, summary')]"
        ".filter(one => one.checkVisibility()).map(one => [one.name || one.textContent, one.offsetHeight])"
        ".filter(([, height]) => height < 42)"
    )
    assert small == []
    fits(page)


PAGES = {
    "page": "/at/{at}?file={file}",
    "US": "/at/{at}?file={file}&units=US",
    "burner": "/at/{at}?file={file}&open=burner%5B1%5D",
    "table": "/at/{at}?file={file}&open=carry_over",
    "wrong": "/at/{wrong}?file={file}",
    "compare": "/compare?a={at}&b={wrong}&file={file}",
    "gone": "/at/0000000000000000",
}


@pytest.fixture(scope="module")
def texts(browser: Browser, desk: tuple[str, Path]) -> dict[str, str]:
    """Addresses of a text that reads and of one that does not."""
    page = browser.new_page()
    desk[1].write_text(SMALL, encoding="utf-8")
    page.goto(f"{desk[0]}/file")
    found = {"at": urlsplit(page.url).path[4:], "file": page.locator('#desk [name="file"]').input_value()}
    field(page, RATE).fill("soon")
    page.get_by_role("button", name="Calculate", exact=True).click()
    page.wait_for_selector("#desk.stale")
    found["wrong"] = urlsplit(page.url).path[4:]
    page.close()
    return found


@pytest.fixture(scope="module")
def reader(browser: Browser) -> Iterator[Page]:
    page = browser.new_page()
    yield page
    page.close()


@pytest.mark.parametrize("name", PAGES)
def test_it_can_be_read_and_used_by_everyone(
    reader: Page, desk: tuple[str, Path], texts: dict[str, str], name: str
) -> None:
    """axe-core finds nothing to complain of on a phone or at a desk, and the page fits both."""
    reader.goto(desk[0] + PAGES[name].format(**texts))
    unfold(reader)
    for width, height in SIZES.values():
        reader.set_viewport_size({"width": width, "height": height})
        fits(reader)
        assert [one for one in axe_findings(reader) if one[1] in GRAVE] == []


@pytest.mark.parametrize("units", ["metric", "US"])
def test_the_first_orifice_stands_on_the_first_screen_at_a_desk(
    visit: Any, cart: tuple[str, Path], units: str
) -> None:
    """With two markets and every field open."""
    one = visit("desk")
    one.page.goto(f"{cart[0]}?units={units}")
    assert (
        one.page.evaluate(f"document.querySelector('{MARK}').getBoundingClientRect().bottom")
        < SIZES["desk"][1]
    )


def test_the_cart_fits_a_phone(visit: Any, cart: tuple[str, Path]) -> None:
    """The first orifice stands on the first screen, the whole page within its length, nothing sticks out."""
    one = visit("phone", touch=True)
    one.page.goto(cart[0])
    top = one.page.evaluate(f"document.querySelector('{MARK}').getBoundingClientRect().bottom")
    assert top < SIZES["phone"][1]
    assert one.page.evaluate("document.documentElement.scrollHeight") < LONGEST_PAGE
    fits(one.page)
    warnings = one.page.locator(".warnings > ul > li")
    assert [each.split(".")[0] for each in warnings.all_inner_texts()] == [
        "WARNING A tile may lack air (B)",
        "WARNING Leaking gas can explode",
        "WARNING A wrong gas, orifice or pressure can overfire a burner: fire, CO",
    ]
    one.page.locator(".warnings summary").tap()
    assert one.page.locator(".warnings details li").count() == 2
    assert one.page.locator(".warnings details li").first.is_visible()
    one.page.evaluate("scrollTo(0, 1500)")
    bar = one.page.locator("#acts").bounding_box()
    assert bar["y"] == pytest.approx(0, abs=1)  # it stays
    assert bar["height"] <= LARGEST_BAR
    assert {urlsplit(asked).netloc for asked in one.asked} == {urlsplit(cart[0]).netloc}
    one.page.goto(f"{one.page.url.partition('?')[0]}?units=US")
    assert "Btu/h" in one.page.locator("main").inner_text()
    assert one.page.evaluate("document.documentElement.scrollHeight") < LONGEST_PAGE
    assert one.said == []


def test_a_cart_with_much_outside_fits_the_first_screen_of_a_phone(visit: Any, tmp_path: Path) -> None:
    """Three markets, four hazards, nine values behind them: one line for each caution, and the first orifice."""
    text = demonstration_path().read_text(encoding="utf-8")
    hill = 'name = "hill towns"\naltitude = "1800 m"\nsupply = { gas = "propane", pressure = "50 mbar" }\n'
    text = text.replace("[[burner]]", f"[[market]]\n{hill}\n[[burner]]", 1)
    for now, then in (
        ('rate     = "30 kBtu/h"', 'rate     = "18 kBtu/h"'),
        ('throat   = "15.5 mm"', 'throat   = "11 mm"'),
        ("count = 280", "count = 80"),
        ("count = 200", "count = 120"),
    ):
        assert now in text
        text = text.replace(now, then)
    path = tmp_path / "cart.toml"
    path.write_text(text, encoding="utf-8")
    one = visit("phone", touch=True)
    for address in served(path):
        one.page.goto(address)
        lines = one.page.locator(".warnings > ul > li").all_inner_texts()
        assert lines[0].startswith(
            "WARNING Possible overfire (now). "
        )  # of the gas that burns in it, before all else
        assert any(line.startswith("WARNING A tile may lack air (B). ") for line in lines[1:])
        shorts = [each.short for each in cautions() if any(each.short in line for line in lines)]
        assert len(lines) == len(shorts) == 4
        head = one.page.locator("main").inner_text().rpartition("Papers")[0]
        assert [head.count(each) for each in shorts] == [1] * 4
        top = one.page.evaluate(f"document.querySelector('{MARK}').getBoundingClientRect().bottom")
        assert top < SIZES["phone"][1]
        fits(one.page)


def test_the_cart_at_a_desk(visit: Any, cart: tuple[str, Path]) -> None:
    """Six burners and their markets beside one another: the table scrolls in itself, the page does not."""
    one = visit("desk")
    one.page.goto(cart[0])
    assert one.page.locator(".warnings li").first.is_visible()
    assert one.page.locator('#gases option[value="G31"]').text_content() == "G31, propane test gas"
    fits(one.page)
    assert len(re.findall(r"orifice-\d-A-mark", one.page.content())) >= 6
    small = one.page.evaluate(
        "[...document.querySelectorAll('main input:not([type=hidden]), main button, main select, summary, main a')]"
        ".filter(one => one.checkVisibility()).map(one => [one.name || one.textContent, one.offsetHeight])"
        ".filter(([, height]) => height < 24)"
    )
    assert small == []
