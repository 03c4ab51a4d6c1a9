"""A phone at the bench while others hold connections and never ask.

``python tests/benchmarks/half_open.py 150 --seconds 30`` starts a bench on this machine, loads its pages for
so many seconds without and with the held connections, which are opened again as soon as the server closes them, and
prints statuses and times.
"""

from __future__ import annotations

import argparse
import collections
import http.client
import json
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from urllib.parse import urlsplit

PAUSE_s = 0.1  # between two pages of the phone


def started(*words: str) -> tuple[subprocess.Popen[str], str]:
    """A command that serves pages, as a process of its own, and its address."""
    command = [sys.executable, "-m", "burnerlab", *words, "--port", "0", "--json"]
    server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert server.stdout is not None
    lines = []
    for line in server.stdout:
        lines.append(line)
        if line == "}\n":
            break
    return server, json.loads("".join(lines))["address"]


def held(port: int, count: int, stop: threading.Event, opened: list[int]) -> None:
    """Keep so many connections open that never finish a request."""
    lines: list[socket.socket] = []
    while not stop.is_set():
        for line in list(lines):
            try:
                closed = line.recv(1) == b""
            except BlockingIOError:
                closed = False
            except OSError:
                closed = True
            if closed:
                line.close()
                lines.remove(line)
        while len(lines) < count:
            line = socket.create_connection(("127.0.0.1", port), timeout=10)
            line.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\nX: " if opened[0] % 2 else b"")
            line.setblocking(False)
            lines.append(line)
            opened[0] += 1
        stop.wait(0.05)
    for line in lines:
        line.close()


def phone(port: int, seconds: float) -> tuple[collections.Counter[str], list[float]]:
    """Statuses of the pages it asked for, and how long each took [s]."""
    statuses, took = collections.Counter[str](), []
    ends, number = time.monotonic() + seconds, 0
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    while time.monotonic() < ends:
        if number % 5 == 0:
            line.close()  # a phone connects anew now and then
        began = time.monotonic()
        try:
            line.request("GET", ("/", "/record", "/chart")[number % 3])
            answer = line.getresponse()
            answer.read()
            statuses[str(answer.status)] += 1
        except (OSError, http.client.HTTPException) as error:
            statuses[type(error).__name__] += 1
            line.close()
        took.append(time.monotonic() - began)
        number += 1
        time.sleep(PAUSE_s)
    line.close()
    return statuses, took


def told(words: str, statuses: collections.Counter[str], took: list[float]) -> None:
    last = sorted(took)[int(0.99 * (len(took) - 1))]
    print(
        f"{words}: {dict(statuses)}, median {1e3 * statistics.median(took):.0f} ms, 99 % {1e3 * last:.0f} ms"
    )


def program() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("count", type=int)
    asked.add_argument("--seconds", type=float, default=30.0)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        file = str(Path(folder) / "bench.sqlite")
        server, address = started("bench", "--demo", "--file", file)
        port = urlsplit(address).port or 0
        try:
            told("nobody else", *phone(port, given.seconds / 3))
            stop, opened = threading.Event(), [0]
            holder = threading.Thread(target=held, args=(port, given.count, stop, opened))
            holder.start()
            time.sleep(1.0)
            told(f"{given.count} half-open connections held", *phone(port, given.seconds))
            stop.set()
            holder.join()
            print(f"{opened[0]} were opened in all")
        finally:
            server.send_signal(signal.SIGINT)
            server.communicate(timeout=30)


if __name__ == "__main__":
    program()
