"""A bench to test: the demonstration appliance, a record in a folder of its own, a client that is a page of ours."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterator
from functools import cache
from html import unescape
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import httpx
import pytest
from desk_client import answer_of, thread_of

from burnerlab.appliance import demonstration
from burnerlab.bench.record import open_record
from burnerlab.bench.record.entry import now
from burnerlab.bench.record.open_stops import on_another_supply
from burnerlab.page.app import application
from burnerlab.page.bench_state import Bench
from burnerlab.page.heat_input_test import Model, models_of
from burnerlab.page.security import Gate

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

BASE = "http://127.0.0.1:8741"
MODEL = "lantern-square-6"
SIZES = {"phone": (390, 844), "desk": (1280, 900)}
LIT = {
    "supply_label": "natural-gas-typical",
    "leak_test": "fluid",
    "air": "yes",
    "orifice_marks": "as printed",
}
READINGS = LIT | {
    "model": MODEL,
    "serial": "C-0042",
    "burner": "stock-pot ring",
    "tester": "R. Quill",
    "dial": "50",
    "time1": "214",
    "time2": "213",
}


@cache
def _models() -> dict[str, Model]:
    return models_of([demonstration()])


def _bench(folder: Path, **gate: Any) -> Bench:
    file = folder / "bench.sqlite"
    open_record(file).close()
    return Bench(file=file, models=_models(), gate=Gate(host="127.0.0.1", **gate))


def apart(place: str, supply: str) -> dict[str, str]:
    """The fields of a place that is stated now to be apart from whatever is held."""
    words = on_another_supply(place, supply)
    stated = {"apart_place": words, "apart_room": "outdoors", "apart_held": "Bench 2", "apart_by": "R. Quill"}
    return {"place": words} | stated | {"apart_at": now()}


@pytest.fixture(scope="session")
def place_apart() -> Callable[[str, str], dict[str, str]]:
    return apart


class Client:
    """Asks the application of a bench without a network, one question after another; keeps cookies."""

    def __init__(self, bench: Bench) -> None:
        self.app = application(bench)
        self.cookies = httpx.Cookies()

    def request(self, method: str, address: str, **asked: Any) -> httpx.Response:
        return answer_of(self._ask(method, address, asked))

    async def _ask(self, method: str, address: str, asked: dict[str, Any]) -> httpx.Response:
        transport = httpx.ASGITransport(app=self.app, raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=transport, base_url=BASE, cookies=self.cookies) as asker:
            if asked.get("params") is not None:
                address = str(httpx.URL(address).copy_merge_params(asked.pop("params")))
            answer = await asker.request(method, address, **asked)
            self.cookies = asker.cookies
        return answer

    def get(self, address: str, **asked: Any) -> httpx.Response:
        return self.request("GET", address, **asked)

    def post(self, address: str, **asked: Any) -> httpx.Response:
        return self.request("POST", address, **asked)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return _bench(tmp_path)


@pytest.fixture
def client(bench: Bench) -> Client:
    return Client(bench)


@pytest.fixture(scope="session")
def client_of() -> Callable[[Bench], Client]:
    return Client


@pytest.fixture
def make_client(tmp_path: Path) -> Callable[..., Client]:
    return lambda **gate: Client(_bench(tmp_path, **gate))


@pytest.fixture
def readings() -> dict[str, str]:
    return dict(READINGS)


def hidden_fields(text: str) -> dict[str, str]:
    """The hidden fields of the last form of a page."""
    form = text[text.rindex("<form") :]
    found = re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)">', form)
    return {name: unescape(value) for name, value in found}


@pytest.fixture
def save(client: Client, readings: dict[str, str]) -> Callable[..., Any]:
    """Save a test through the pages; returns the answer to the form."""

    def saved(**changed: str) -> Any:
        shown = client.get("/save", params=readings | changed)
        assert shown.status_code == 200, shown.text
        return client.post("/save", data=hidden_fields(shown.text), headers={"origin": BASE})

    return saved


@pytest.fixture(scope="session")
def form_of_page() -> Callable[[str], dict[str, str]]:
    return hidden_fields


def _serve(bench: Bench) -> Iterator[tuple[str, Path]]:
    """The address and the record of a bench that runs beside the test."""
    yield from ((address, bench.file) for address in thread_of(application(bench)))


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    """A bench of a file of tests: each unit has a serial number of its own."""
    yield from _serve(_bench(tmp_path_factory.mktemp("bench")))


@pytest.fixture(scope="module")
def served_stopped(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    """Another bench, whose pages may show stops: one of the whole bench stands wherever no supply is named."""
    yield from _serve(_bench(tmp_path_factory.mktemp("stopped")))


How = tuple[str, bool, bool]  # size, script, touch


def _new_page(browser: Browser, how: How) -> Page:
    size, script, touch = how
    width, height = SIZES[size]
    context = browser.new_context(
        viewport={"width": width, "height": height},
        java_script_enabled=script,
        has_touch=touch,
        is_mobile=touch,
    )
    return context.new_page()


class Visit:
    """A page that remembers what it asked for and what went wrong."""

    def __init__(self, page: Page, how: How) -> None:
        self.page, self.how, self.context = page, how, page.context
        self.asked: list[str] = []
        self.said: list[str] = []
        self._listeners: list[tuple[Any, Callable[[Any], None]]] = [
            ("request", lambda request: self.asked.append(request.url)),
            ("console", lambda message: self.said.append(message.text)),
            ("pageerror", lambda error: self.said.append(str(error))),
            ("dialog", lambda dialog: self.said.append(dialog.message)),
        ]
        for event, remember in self._listeners:
            self.page.on(event, remember)

    def cleared(self) -> bool:
        """Whether the page is as new again: one with a clock of its own cannot be."""
        for event, remember in self._listeners:
            self.page.remove_listener(event, remember)
        if self.page.is_closed() or len(self.context.pages) != 1:
            return False
        self.page.unroute_all(behavior="ignoreErrors")
        if self.page.evaluate("'__pwClock' in globalThis"):
            return False
        for site in {f"{one.scheme}://{one.netloc}" for one in map(urlsplit, self.asked) if one.netloc}:
            self.page.goto(f"{site}/page.css")  # a page without a script of its own
            self.page.evaluate("sessionStorage.clear()")
        self.context.clear_cookies()
        width, height = SIZES[self.how[0]]
        self.page.set_viewport_size({"width": width, "height": height})
        self.page.mouse.move(0, 0)
        return True


@pytest.fixture(scope="module")
def idle_pages(browser: Browser) -> Iterator[dict[How, list[Page]]]:
    """Pages that a test has left as new: to open one takes longer than most of what is tried on it."""
    idle: dict[How, list[Page]] = defaultdict(list)
    yield idle
    for page in chain.from_iterable(idle.values()):
        page.context.close()


@pytest.fixture
def visit(browser: Browser, idle_pages: dict[How, list[Page]]) -> Iterator[Any]:
    from playwright.sync_api import Error

    made: list[Visit] = []

    def start(size: str, script: bool = True, touch: bool = False) -> Visit:
        how = (size, script, touch)
        idle = idle_pages[how]
        made.append(Visit(idle.pop() if idle else _new_page(browser, how), how))
        return made[-1]

    yield start
    for one in made:
        try:
            is_clear = one.cleared()
        except Error:  # what it asked has ended
            is_clear = False
        if is_clear:
            idle_pages[one.how].append(one.page)
        else:
            one.context.close()
