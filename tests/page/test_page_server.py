"""The command that serves the bench: its address, its stop, its complaints."""

from __future__ import annotations

import http.client
import json
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

LONGEST_s = 60


def started(folder: Path, *options: str) -> subprocess.Popen[str]:
    file = ("--file", str(folder / "bench.sqlite"))
    command = [sys.executable, "-m", "burnerlab", "bench", "--demo", "--port", "0", "--json", *file, *options]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def told(server: subprocess.Popen[str]) -> dict[str, Any]:
    """The object that the command prints when it is ready."""
    assert server.stdout is not None
    lines = []
    for line in server.stdout:
        lines.append(line)
        if line == "}\n":
            break
    found: dict[str, Any] = json.loads("".join(lines))
    return found


@pytest.fixture
def server(tmp_path: Path) -> Iterator[subprocess.Popen[str]]:
    made = started(tmp_path)
    yield made
    if made.poll() is None:
        made.kill()
    made.communicate(timeout=LONGEST_s)


def test_it_serves_and_stops_when_asked(server: subprocess.Popen[str], tmp_path: Path) -> None:
    ready = told(server)
    address = urlsplit(ready["address"])
    assert address.hostname == "127.0.0.1"
    assert ready["models"] == ["Lantern Square 6"]
    assert (tmp_path / "bench.sqlite").is_file()
    connection = http.client.HTTPConnection("127.0.0.1", address.port, timeout=10)
    connection.request("GET", "/")
    answer = connection.getresponse()
    assert answer.status == 200
    assert "server" not in {name.lower() for name, _ in answer.getheaders()}
    answer.read()
    server.send_signal(signal.SIGINT)
    _, complaints = server.communicate(timeout=LONGEST_s)
    assert (server.returncode, complaints) == (0, "")
    connection.close()


def test_a_rough_request_is_refused_and_the_next_is_answered(server: subprocess.Popen[str]) -> None:
    port = urlsplit(told(server)["address"]).port
    for rough in (
        b"nonsense\r\n\r\n",
        b"GET / HTTP/1.1\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n",
        b"GET /" + b"x" * 70_000 + b" HTTP/1.1\r\nHost: localhost\r\n\r\n",
        b"POST /save HTTP/1.1\r\nHost: localhost\r\nContent-Length: 999999999\r\n\r\n",
    ):
        with socket.create_connection(("127.0.0.1", port), timeout=10) as line:
            line.sendall(rough)
            assert line.recv(4096).split(b" ")[1] in (b"400", b"403", b"413", b"414")
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    connection.request("GET", "/")
    assert connection.getresponse().status == 200
    connection.close()


def complaint(folder: Path, *options: str) -> subprocess.CompletedProcess[str]:
    file = ("--file", str(folder / "bench.sqlite"))
    command = [sys.executable, "-m", "burnerlab", "bench", *file, *options]
    return subprocess.run(command, capture_output=True, text=True, timeout=LONGEST_s, check=False)


def test_a_port_in_use_is_said_in_a_sentence(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        found = complaint(tmp_path, "--demo", "--port", port)
    assert found.returncode == 2
    assert f'--port = "{port}": is in use by another program' in found.stderr
    assert "Traceback" not in found.stderr


def test_no_model_and_a_bad_model(tmp_path: Path) -> None:
    assert "no model to test" in complaint(tmp_path).stderr
    (tmp_path / "bad.toml").write_text("[appliance]\n", encoding="utf-8")
    found = complaint(tmp_path, str(tmp_path / "bad.toml"))
    assert found.returncode == 2
    assert "bad.toml" in found.stderr
    assert not (tmp_path / "bench.sqlite").exists()


def test_opening_it_to_others_warns_and_asks_for_a_key(tmp_path: Path) -> None:
    server = started(tmp_path, "--host", "0.0.0.0")
    try:
        address = urlsplit(told(server)["address"])
        assert address.query.startswith("key=")
        connection = http.client.HTTPConnection("127.0.0.1", address.port, timeout=10)
        connection.request("GET", "/record")
        answer = connection.getresponse()
        assert answer.status == 401
        answer.read()
        connection.request("GET", f"/?{address.query}")
        answer = connection.getresponse()
        assert answer.status == 303
        cookie = str(answer.getheader("set-cookie")).split(";")[0]
        answer.read()
        connection.request("GET", "/record", headers={"cookie": cookie})
        assert connection.getresponse().status == 200
        connection.close()
    finally:
        server.send_signal(signal.SIGTERM)
        _, complaints = server.communicate(timeout=LONGEST_s)
    assert "warning: other machines of this network can reach the bench" in complaints
