"""A desk to try: a small appliance in a folder of its own, and a client that is a page of it."""

from __future__ import annotations

import asyncio
import json
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Coroutine, Iterator
from functools import cache
from html import unescape
from pathlib import Path
from typing import Any

import httpx
import uvicorn

from burnerlab.page.app import listen
from burnerlab.page.app import served as config_of
from burnerlab.page.desk_answers import Answers
from burnerlab.page.desk_app import desk_application
from burnerlab.page.desk_state import Desk
from burnerlab.page.security import Guard

BASE = "http://127.0.0.1:8742"
NO_BREAK = "\u00a0".encode()
SMALL = """\
# two tubes, small enough to be worked out at every turn
[appliance]
name   = "camp stove"
rating = "gross"                     # the basis of every rate

[supply]
gas      = "natural-gas-typical"
pressure = "7 in w.c."

[[market]]                           # where it is sold
name   = "propane, North America"
supply = [{ gas = "propane", pressure = "11 in w.c." }]

[[burner]]
name     = "left tube"
rate     = "12.5 kBtu/h"
orifice  = { drill = "#54" }         # as marked
ports    = { diameter = "1.6 mm", count = 180 }
throat   = "15.5 mm"
shutter  = { opening = "66 %", area = "155 mm2" }

[[burner]]
name     = "right tube"
rate     = "14.5 kBtu/h"
orifice  = { drill = "#53" }

[[carry_over]]
from    = "left tube"
to      = "right tube"
port    = "1.6 mm"
spacing = "5 mm"
"""
HIDDEN = re.compile(r'<input type="hidden" name="([^"]*)" value="([^"]*)">')
FIELD = re.compile(r'<input id="([^"]*)" name="[^"]*" value="([^"]*)" data-key')


def written(folder: Path) -> Path:
    """A small appliance as a file."""
    path = folder / "stove.toml"
    path.write_text(SMALL, encoding="utf-8")
    return path


def served(path: Path, record: Path | None = None) -> Iterator[str]:
    """The address of a desk that runs beside the test."""
    desk = Desk(path, record=record)
    yield from thread_of(desk_application(desk, Answers(desk)))
    desk.draft.flush()


def thread_of(pages: Guard) -> Iterator[str]:
    """The address of pages that a thread of this process serves: no libraries are loaded, no model is read again."""
    listening = listen(pages.gate, 0)
    server = uvicorn.Server(config_of(pages))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening.socket]}, daemon=True)
    thread.start()
    yield listening.address.rstrip("/")
    server.should_exit = True
    thread.join(timeout=60)
    listening.socket.close()
    assert not thread.is_alive()


def process_of(*words: str) -> Iterator[str]:
    """The address of a command that serves pages, as a process of its own."""
    command = [sys.executable, "-m", "burnerlab", *words, "--port", "0", "--json"]
    server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert server.stdout is not None
    lines = []
    for line in server.stdout:
        lines.append(line)
        if line == "}\n":
            break
    yield json.loads("".join(lines))["address"].rstrip("/")
    server.send_signal(signal.SIGINT)
    server.communicate(timeout=60)


@cache
def _loop() -> asyncio.AbstractEventLoop:
    """One loop for every question, in a thread of its own: that of a browser may run in this one."""
    loop = asyncio.new_event_loop()
    threading.Thread(target=loop.run_forever, daemon=True).start()
    return loop


def answer_of(question: Coroutine[Any, Any, httpx.Response]) -> httpx.Response:
    return asyncio.run_coroutine_threadsafe(question, _loop()).result()


def page_of(pages: Guard, address: str, port: int = 8742, **headers: str) -> httpx.Response:
    """A page that is asked for without a network, as a reader sees it."""

    async def asked() -> httpx.Response:
        transport = httpx.ASGITransport(app=pages, raise_app_exceptions=False)
        base = f"http://127.0.0.1:{port}"
        async with httpx.AsyncClient(transport=transport, base_url=base, follow_redirects=True) as asker:
            return await asker.get(address, headers=headers)

    answer = answer_of(asked())
    if "text/html" in answer.headers.get("content-type", ""):
        answer._content = answer.content.replace(NO_BREAK, b" ")
    return answer


class DeskClient:
    """Asks the application of a desk without a network; fills and sends the form of the page it saw last."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.answers = Answers(desk)
        self.app = desk_application(desk, self.answers)
        self.form: dict[str, str] = {}
        self.fields: dict[str, str] = {}

    def request(self, method: str, address: str, **asked: Any) -> httpx.Response:
        return answer_of(self._ask(method, address, asked))

    async def _ask(self, method: str, address: str, asked: dict[str, Any]) -> httpx.Response:
        transport = httpx.ASGITransport(app=self.app, raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=transport, base_url=BASE, follow_redirects=True) as asker:
            answer = await asker.request(method, address, **asked)
        if "text/html" in answer.headers.get("content-type", "") or "json" in answer.headers.get(
            "content-type", ""
        ):
            answer._content = answer.content.replace(NO_BREAK, b" ")  # a reader sees a blank
        return answer

    def look(self, address: str = "/") -> httpx.Response:
        """A page, whose form is the one to fill from here on."""
        return self._seen(self.request("GET", address))

    def send(self, path: str = "/edit", **fields: str) -> httpx.Response:
        """The whole form as a browser without script sends it."""
        data = self.form | self.fields | fields
        return self._seen(self.request("POST", path, data=data, headers={"origin": BASE}))

    def type(self, **fields: str) -> dict[str, Any]:
        """The changed fields alone, as the script sends them; the next ones are based on the answer."""
        headers = {"origin": BASE, "accept": "application/json"}
        answer = self.request("POST", "/edit", data=self.form | fields, headers=headers)
        found: dict[str, Any] = answer.json() | {"status": answer.status_code}
        self.form["base"] = found.get("digest", self.form["base"])
        return found

    def _seen(self, answer: httpx.Response) -> httpx.Response:
        if 'id="desk"' in answer.text:
            self.form = {name: unescape(value) for name, value in HIDDEN.findall(answer.text)}
            self.fields = {name: unescape(value) for name, value in FIELD.findall(answer.text)}
        return answer
