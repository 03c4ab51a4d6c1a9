"""The command that serves the bench: its address, its stop, its complaints."""

from __future__ import annotations

import contextlib
import http.client
import json
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from threading import Thread
from typing import Any
from urllib.parse import urlsplit

import pytest
import segno
import uvicorn
from click.testing import CliRunner, Result

from burnerlab.cli import main
from burnerlab.page import app, connections
from burnerlab.page.app import application, best_address, listen, served
from burnerlab.page.bench_state import Bench

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


def _server(folder: Path) -> Iterator[subprocess.Popen[str]]:
    made = started(folder)
    yield made
    if made.poll() is None:
        made.kill()
    made.communicate(timeout=LONGEST_s)


@pytest.fixture
def server(tmp_path: Path) -> Iterator[subprocess.Popen[str]]:
    yield from _server(tmp_path)


@pytest.fixture(scope="module")
def running_port(tmp_path_factory: pytest.TempPathFactory) -> Iterator[int | None]:
    """The port of a bench that rough requests and half-open connections are tried on."""
    for made in _server(tmp_path_factory.mktemp("rough")):
        yield urlsplit(told(made)["address"]).port


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


def test_a_rough_request_is_refused_and_the_next_is_answered(running_port: int) -> None:
    for rough in (
        b"nonsense\r\n\r\n",
        b"GET / HTTP/1.1\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n",
        b"GET /" + b"x" * 70_000 + b" HTTP/1.1\r\nHost: localhost\r\n\r\n",
        b"POST /save HTTP/1.1\r\nHost: localhost\r\nContent-Length: 999999999\r\n\r\n",
    ):
        with socket.create_connection(("127.0.0.1", running_port), timeout=10) as line:
            line.sendall(rough)
            assert line.recv(4096).split(b" ")[1] in (b"400", b"403", b"413", b"414")
    connection = http.client.HTTPConnection("127.0.0.1", running_port, timeout=10)
    connection.request("GET", "/")
    assert connection.getresponse().status == 200
    connection.close()


HALF_HEADS = (b"", b"GET / HTTP/1.1\r\nHost: localhost\r\nX-Slow: ")


def half_open(port: int, count: int) -> list[socket.socket]:
    """Connections that never finish a request."""
    held = []
    for number in range(count):
        line = socket.create_connection(("127.0.0.1", port), timeout=10)
        line.sendall(HALF_HEADS[number % 2])
        held.append(line)
    return held


def test_half_open_connections_keep_nobody_out(running_port: int) -> None:
    """At 101 of them every page was answered with 503, for as long as they were held."""
    phone = http.client.HTTPConnection("127.0.0.1", running_port, timeout=10)
    phone.request("GET", "/")
    answer = phone.getresponse()
    assert (answer.status, bool(answer.read())) == (200, True)
    held = half_open(running_port, 150)
    try:
        for way in range(12):
            if way % 3 == 0:  # now and then the phone connects anew
                phone.close()
            phone.request("GET", "/record")
            answer = phone.getresponse()
            assert (answer.status, bool(answer.read())) == (200, True)
            held += half_open(running_port, 10)
    finally:
        phone.close()
        for line in held:
            line.close()


def test_a_connection_without_a_request_is_closed(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """In bounded time: one that says nothing, one that drips a head, one that fell silent after its first answer."""
    monkeypatch.setattr(connections, "HEAD_SECONDS", 0.5)
    listening = listen(bench.gate, 0)
    port = urlsplit(listening.address).port
    config = served(application(bench))
    runner = uvicorn.Server(config)
    thread = Thread(target=runner.run, kwargs={"sockets": [listening.socket]}, daemon=True)
    thread.start()
    try:
        silent, dripping, once = (socket.create_connection(("127.0.0.1", port), timeout=10) for _ in range(3))
        once.sendall(b"GET /bench.css HTTP/1.1\r\nHost: localhost\r\n\r\nGET / HTT")
        ends = time.monotonic() + 5.0
        dripping.settimeout(0.1)
        closed = False
        while not closed and time.monotonic() < ends:
            try:
                dripping.sendall(b"G")
                closed = dripping.recv(1) == b""
            except TimeoutError:
                continue
            except ConnectionError:
                closed = True
        assert closed
        for line in (silent, once):
            with contextlib.suppress(ConnectionError):
                while line.recv(65536):
                    pass
        for line in (silent, dripping, once):
            line.close()
    finally:
        runner.should_exit = True
        thread.join(timeout=LONGEST_s)
        listening.socket.close()
    assert not thread.is_alive()


def complaint(folder: Path, *options: str) -> Result:
    return CliRunner().invoke(main, ["bench", "--file", str(folder / "bench.sqlite"), *options])


def test_a_port_in_use_is_said_in_a_sentence(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        found = complaint(tmp_path, "--demo", "--port", port)
    assert found.exit_code == 2
    assert f'--port = "{port}": is in use by another program' in found.stderr
    assert "Traceback" not in found.stderr


@pytest.mark.parametrize("host", ["\u2028", "no.such.host.invalid", "x" * 300, ""])
def test_a_host_that_is_none_is_said_in_a_sentence(tmp_path: Path, host: str) -> None:
    found = complaint(tmp_path, "--demo", "--port", "0", "--host", host)
    assert found.exit_code == 2
    assert "--host" in found.stderr
    assert "internal error" not in found.stderr


def test_no_model_and_a_bad_model(tmp_path: Path) -> None:
    assert "no model to test" in complaint(tmp_path).stderr
    (tmp_path / "bad.toml").write_text("[appliance]\n", encoding="utf-8")
    found = complaint(tmp_path, str(tmp_path / "bad.toml"))
    assert found.exit_code == 2
    assert "bad.toml" in found.stderr
    assert not (tmp_path / "bench.sqlite").exists()


@pytest.mark.parametrize(
    ("found", "best"),
    [
        (["127.0.0.1"], ""),
        (["0.0.0.0", "127.0.1.1", "169.254.7.7"], ""),
        (["172.17.0.1"], "172.17.0.1"),  # a bridge, and no better one
        (["172.17.0.1", "192.168.1.20"], "192.168.1.20"),
        (["127.0.1.1", "10.1.2.3", "192.168.1.20"], "10.1.2.3"),  # the way out comes first
        (["172.17.0.1", "198.51.100.7"], "198.51.100.7"),  # RFC 5737, as a public one
        ([], ""),
    ],
)
def test_the_address_is_one_a_phone_can_open(found: list[str], best: str) -> None:
    assert best_address(found) == best


def test_every_address_is_printed_as_one_that_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(app, "own_addresses", lambda: ["127.0.0.1", "172.17.0.1", "192.168.1.20"])
    assert [app.host_to_print(host) for host in ("0.0.0.0", "::", "10.0.0.7")] == [
        "192.168.1.20",
        "192.168.1.20",
        "10.0.0.7",
    ]
    monkeypatch.setattr(app, "own_addresses", list)
    assert app.host_to_print("0.0.0.0") == "127.0.0.1"


def test_the_code_holds_the_address_on_dark_and_light_terminals() -> None:
    """Half blocks are light modules, read back module by module and compared with the library's matrix."""
    address = "http://192.168.1.20:8741/?key=OBrmocqSBgutMgTTjzm0uXRv"
    drawn = app.code_of(address, on_screen=True).splitlines()
    assert all(line.startswith("\x1b[97;40m") and line.endswith("\x1b[0m") for line in drawn)
    assert max(map(len, app.code_of(address, on_screen=False).splitlines())) <= 60
    halves = {" ": (1, 1), "\u2580": (0, 1), "\u2584": (1, 0), "\u2588": (0, 0)}
    plain = app.code_of(address, on_screen=False).splitlines()
    rows = [[halves[c][half] for c in line] for line in plain for half in (0, 1)]
    matrix = [
        list(map(int, row)) for row in segno.make(address, error="l", micro=False).matrix_iter(border=4)
    ]
    assert rows[: len(matrix)] == matrix


def _asks_for_its_key(connection: http.client.HTTPConnection, query: str) -> str:
    """Refuses whoever has no key; returns the cookie of one who has, with which it answers."""
    connection.request("GET", "/record")
    answer = connection.getresponse()
    assert answer.status == 401
    answer.read()
    connection.request("GET", f"/?{query}")
    answer = connection.getresponse()
    assert answer.status == 303
    cookie = str(answer.getheader("set-cookie")).split(";")[0]
    answer.read()
    connection.request("GET", "/record", headers={"cookie": cookie})
    answer = connection.getresponse()
    assert answer.status == 200
    answer.read()
    return cookie


def test_a_bench_open_to_others_warns_and_asks_for_a_key_that_outlives_a_restart_only_where_it_is_kept(
    tmp_path: Path,
) -> None:
    keys, answers = [], []
    kept = tmp_path / "bench.key"
    cookie = ""
    for options in ((), (), ("--key-file", str(kept)), ("--key-file", str(kept))):
        server = started(tmp_path, "--host", "0.0.0.0", *options)
        try:
            address = urlsplit(told(server)["address"])
            assert address.hostname != "0.0.0.0"
            assert address.query.startswith("key=")
            keys.append(address.query)
            connection = http.client.HTTPConnection("127.0.0.1", address.port, timeout=10)
            if cookie:  # a phone that was let in before the restart
                connection.request("GET", "/record", headers={"cookie": cookie})
                answers.append(connection.getresponse().status)
            else:
                own = _asks_for_its_key(connection, address.query)
                cookie = own if options else ""
            connection.close()
        finally:
            server.send_signal(signal.SIGTERM)
            _, complaints = server.communicate(timeout=LONGEST_s)
        assert "warning: other machines of this network can reach the bench" in complaints
    assert len(set(keys)) == 3
    assert keys[2] == keys[3] == f"key={kept.read_text().strip()}"
    assert (answers, kept.stat().st_mode & 0o777) == ([200], 0o600)


@pytest.mark.parametrize(
    ("text", "mode", "said"),
    [
        ("a" * 30, 0o644, "may be read by others"),
        ("short", 0o600, "holds no key"),
        ("a" * 30 + "\n" + "b" * 30, 0o600, "holds no key"),
        ("x" * 5000, 0o600, "is not a file with a key"),
    ],
)
def test_a_key_file_that_cannot_be_trusted_is_refused(
    tmp_path: Path, text: str, mode: int, said: str
) -> None:
    file = tmp_path / "bench.key"
    file.write_text(text)
    file.chmod(mode)
    found = CliRunner().invoke(
        main,
        [
            "bench",
            "--demo",
            "--port",
            "0",
            "--host",
            "0.0.0.0",
            "--key-file",
            str(file),
            "--file",
            str(tmp_path / "b"),
        ],
    )
    assert (found.exit_code, found.stdout) == (2, "")
    assert said in found.stderr
    assert not (tmp_path / "b").exists()


def test_a_bench_that_does_not_start_writes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "no-record").mkdir()
    for options in (
        ("--host", "no.such.host.invalid"),
        ("--key-file", "bench.key"),
        ("--host", "0.0.0.0", "--key-file", "bench.key", "--file", "no-record"),
        ("--host", "0.0.0.0", "--key-file", "missing/bench.key"),
    ):
        found = CliRunner().invoke(main, ["bench", "--demo", "--port", "0", *options])
        assert found.exit_code == 2, found.output
        assert [path.name for path in tmp_path.iterdir()] == ["no-record"]
