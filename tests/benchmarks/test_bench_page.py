"""The bench under load: 200 requests a second over 8 connections on loopback, every answer as it should be.

The suite runs a second of it, over the pages of three tests. The figures of half a minute:
``python tests/benchmarks/test_bench_page.py 30``.
The peer is a bare application of the same server library that answers one constant sentence under the same load.
"""

from __future__ import annotations

import http.client
import json
import re
import signal
import subprocess
import sys
import threading
import time
from dataclasses import dataclass, field
from html import unescape
from pathlib import Path
from tempfile import TemporaryDirectory
from urllib.parse import urlencode, urlsplit

RATE, CONNECTIONS = 200, 8
SECONDS = 1  # in the suite
TESTS, TESTS_IN_SUITE = 40, 3  # whose pages are asked for
UNITS = 200  # in the record before it begins
SAVES = 100  # every so many-th request saves a test
LIT = "supply_label=natural-gas-typical&leak_test=fluid&air=yes&orifice_marks=as+printed"  # the answers before lighting
Q = f"{LIT}&model=lantern-square-6&burner=stock-pot+ring&tester=R.+Quill&dial=10&serial=L-"
PEER = """
import sys, uvicorn
from starlette.applications import Starlette
from starlette.responses import HTMLResponse
from starlette.routing import Route
def hello(request): return HTMLResponse("<p>constant</p>")
app = Starlette(routes=[Route("/", hello)])
config = uvicorn.Config(app, port=0, log_level="error", access_log=False, lifespan="off", http="h11")
server = uvicorn.Server(config)
import socket
taken = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
taken.bind(("127.0.0.1", 0)); taken.listen(100)
print(taken.getsockname()[1], flush=True)
try: server.run(sockets=[taken])
except KeyboardInterrupt: pass
"""


def addresses(tests_open: int) -> list[str]:
    """What a busy bench asks for: steps of so many tests, findings, record, chart, files."""
    tests = [f"{Q}{n}&time1={41 + n % 20 / 10}" for n in range(tests_open)]
    found = ["/", "/record", "/chart", "/record?q=L-1", "/unit?serial=L-3", "/sheet?serial=L-5", "/page.css"]
    for test in tests:
        found += [f"/measure?{test}", f"/finding?{test}", f"/flame?{test}", f"/save?{test}&see-lift=no"]
    return found


@dataclass(slots=True)
class Load:
    """What came of it."""

    seconds: list[float] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    saved: int = 0

    def percentile_ms(self, share: float) -> float:
        ordered = sorted(self.seconds)
        return 1e3 * ordered[min(int(share * len(ordered)), len(ordered) - 1)]


class Asker(threading.Thread):
    """One connection that asks at its rate, however long the answers take."""

    def __init__(
        self, port: int, number: int, until_s: float, paths: list[str], form: dict[str, str]
    ) -> None:
        super().__init__()
        self.port, self.number, self.until_s, self.paths, self.form = port, number, until_s, paths, form
        self.load = Load()

    def run(self) -> None:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        start, every = time.perf_counter() + self.number / RATE, CONNECTIONS / RATE
        for turn in range(round(self.until_s / every)):
            due = start + turn * every
            time.sleep(max(0.0, due - time.perf_counter()))
            place = turn * CONNECTIONS + self.number
            try:
                if self.form and place % SAVES == 0:
                    self._save(connection, place)
                else:
                    self._look(connection, self.paths[(place * 7) % len(self.paths)])
            except OSError as error:
                self.load.wrong.append(f"{type(error).__name__}: {error}")
                connection.close()
        connection.close()

    def _look(self, connection: http.client.HTTPConnection, path: str) -> None:
        began = time.perf_counter()
        connection.request("GET", path)
        answer = connection.getresponse()
        answer.read()
        self.load.seconds.append(time.perf_counter() - began)
        if answer.status != 200:
            self.load.wrong.append(f"{answer.status} {path}")

    def _save(self, connection: http.client.HTTPConnection, place: int) -> None:
        body = urlencode(self.form | {"serial": f"S-{place}", "once": f"load-{place}"})
        headers = {
            "content-type": "application/x-www-form-urlencoded",
            "origin": f"http://127.0.0.1:{self.port}",
        }
        began = time.perf_counter()
        connection.request("POST", "/save", body, headers)
        answer = connection.getresponse()
        answer.read()
        self.load.seconds.append(time.perf_counter() - began)
        if answer.status != 303:
            self.load.wrong.append(f"{answer.status} save")
        self.load.saved += 1


def under_load(port: int, seconds: float, paths: list[str], form: dict[str, str]) -> Load:
    askers = [Asker(port, number, seconds, paths, form) for number in range(CONNECTIONS)]
    for one in askers:
        one.start()
    for one in askers:
        one.join()
    whole = Load()
    for one in askers:
        whole.seconds += one.load.seconds
        whole.wrong += one.load.wrong
        whole.saved += one.load.saved
    return whole


def form_of(port: int) -> dict[str, str]:
    """The form that the page hands out to save a test."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    connection.request("GET", f"/save?{Q}1&time1=42")
    text = connection.getresponse().read().decode("utf-8")
    connection.close()
    form = text[text.rindex("<form") :]
    return {n: unescape(v) for n, v in re.findall(r'type="hidden" name="([^"]*)" value="([^"]*)"', form)}


def memory_MB(pid: int) -> tuple[float, float]:
    """Resident memory now and at its highest."""
    text = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    now, most = (re.search(rf"{name}:\s+(\d+) kB", text) for name in ("VmRSS", "VmHWM"))
    assert now is not None
    assert most is not None
    return int(now[1]) / 1024, int(most[1]) / 1024


def fill(file: Path) -> None:
    """A record with units in it."""
    from burnerlab.bench.record import BenchTest, Result, add_test, open_record

    with open_record(file) as record:
        for n in range(UNITS):
            off = 0.03 * ((n * 7919) % 100 / 50.0 - 1.0)
            one = Result(quantity="deviation", value=off, burner="stock-pot ring", low=-0.05, high=0.05)
            test = BenchTest(serial=f"L-{n}", model="Lantern Square 6", tester="R. Quill", results=(one,))
            add_test(record, test)


def measure(seconds: float, tests_open: int = TESTS) -> tuple[Load, Load, str]:
    """The bench and its peer under the same load, and what is to be told of them."""
    with TemporaryDirectory() as folder:
        file = Path(folder) / "bench.sqlite"
        fill(file)
        command = [sys.executable, "-m", "burnerlab", "bench", "--demo", "--port", "0", "--json", "--file"]
        server = subprocess.Popen([*command, str(file)], stdout=subprocess.PIPE, text=True)
        peer = subprocess.Popen([sys.executable, "-c", PEER], stdout=subprocess.PIPE, text=True)
        assert server.stdout is not None
        assert peer.stdout is not None
        try:
            lines = []
            for line in server.stdout:
                lines.append(line)
                if line == "}\n":
                    break
            port = urlsplit(json.loads("".join(lines))["address"]).port
            assert port is not None
            form, paths = form_of(port), addresses(tests_open)
            first = under_load(port, max(1.0, len(paths) / RATE), paths, {})  # every page computed once
            before, _ = memory_MB(server.pid)
            ours = under_load(port, seconds, paths, form)
            after, most = memory_MB(server.pid)
            theirs = under_load(int(peer.stdout.readline()), seconds, ["/"], {})
        finally:
            for one in (server, peer):
                one.send_signal(signal.SIGINT)
                one.communicate(timeout=60)
    told = (
        f"{len(ours.seconds)} requests in {seconds:g} s over {CONNECTIONS} connections, {ours.saved} of them saved; "
        f"{len(ours.wrong)} errors; median {ours.percentile_ms(0.5):.1f} ms, 99th percentile "
        f"{ours.percentile_ms(0.99):.1f} ms, longest {ours.percentile_ms(1.0):.0f} ms "
        f"(each page asked for the first time: 99th percentile {first.percentile_ms(0.99):.0f} ms); "
        f"memory {before:.0f} to {after:.0f} MB, at most {most:.0f} MB. A constant answer by the same server: median "
        f"{theirs.percentile_ms(0.5):.1f} ms, 99th percentile {theirs.percentile_ms(0.99):.1f} ms; "
        f"ratio of the medians {ours.percentile_ms(0.5) / theirs.percentile_ms(0.5):.1f}"
    )
    return ours, first, told


def test_two_hundred_requests_a_second() -> None:
    ours, first, told = measure(SECONDS, TESTS_IN_SUITE)
    print("\n" + told)
    assert ours.wrong == []
    assert first.wrong == []
    assert len(ours.seconds) == SECONDS * RATE
    assert ours.saved == SECONDS * RATE // SAVES


if __name__ == "__main__":
    print(measure(float(sys.argv[1]) if len(sys.argv) > 1 else 30.0)[2])
