"""Who may ask and how: host, origin, token, bounds, rate, headers, key."""

from __future__ import annotations

import re
from collections.abc import AsyncIterator, Callable
from html import escape
from typing import Any

import pytest

from burnerlab.bench.record import open_record
from burnerlab.bench.stop import stop_notice
from burnerlab.page.bench_state import Bench
from burnerlab.page.security import LARGEST_BODY, LONGEST_QUERY, MOST_AT_ONCE, Limiter

BASE = "http://127.0.0.1:8741"
FORM = {"content-type": "application/x-www-form-urlencoded"}
PAGES = ("/", "/measure", "/finding", "/record", "/chart", "/unit", "/sheet", "/entry", "/save", "/nothing")


@pytest.mark.parametrize("path", PAGES)
def test_every_answer_trusts_nobody(client: Any, path: str) -> None:
    headers = client.get(path).headers
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"
    assert headers["cache-control"] == "no-store"
    assert "set-cookie" not in headers
    assert "server" not in headers


@pytest.mark.parametrize("path", PAGES)
def test_no_script_or_style_inside_a_page(client: Any, readings: dict[str, str], path: str) -> None:
    text = client.get(path, params=readings).text
    assert " style=" not in text
    assert "<style" not in text
    assert " onclick" not in text
    assert set(re.findall(r"<script[^>]*?(?=\?)", text)) <= {
        f'<script src="/{name}' for name in ("stopwatch.js", "draft.js", "manifold.js")
    }
    assert text.count("<script") == text.count(" defer></script>")
    assert "http://" not in text
    assert "https://" not in text


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1.evil.example", "localhost.evil:8741", "", "10.0.0.7"]
)
def test_another_name_is_not_answered(client: Any, host: str) -> None:
    answer = client.get("/record", headers={"host": host})
    assert answer.status_code == 403
    assert "units" not in answer.text


@pytest.mark.parametrize("host", ["localhost:8741", "127.0.0.1", "[::1]:9000", "LOCALHOST"])
def test_this_machine_is_answered(client: Any, host: str) -> None:
    assert client.get("/", headers={"host": host}).status_code == 200


def counted(bench: Bench) -> int:
    with open_record(bench.file, readonly=True) as record:
        return int(record.connection.execute("SELECT count(*) FROM tests").fetchone()[0])


@pytest.fixture
def form(
    client: Any, readings: dict[str, str], form_of_page: Callable[[str], dict[str, str]]
) -> dict[str, str]:
    return form_of_page(client.get("/save", params=readings).text)


@pytest.mark.parametrize(
    ("headers", "changed", "status"),
    [
        ({}, {}, 403),  # no origin
        ({"origin": "null"}, {}, 403),
        ({"origin": "http://evil.example"}, {}, 403),
        ({"origin": "http://127.0.0.1:1"}, {}, 403),  # another program on this machine
        ({"origin": "https://127.0.0.1:8741"}, {}, 403),
        ({"origin": BASE, "sec-fetch-site": "cross-site"}, {}, 403),
        ({"origin": BASE}, {"token": ""}, 403),
        ({"origin": BASE}, {"token": "A" * 32}, 403),
        ({"origin": BASE, "content-type": "text/plain"}, {}, 415),
        ({"origin": BASE, "content-type": "multipart/form-data; boundary=x"}, {}, 415),
        ({"origin": BASE}, {"serial": ""}, 422),
        ({"origin": BASE}, {"model": "none"}, 422),
        ({"origin": BASE}, {"note": "x" * 601}, 422),
        ({"origin": BASE}, {"note": "x" * 2001}, 400),
        ({"origin": BASE}, {"note": "a\x00b"}, 400),
    ],
)
def test_a_form_that_is_not_ours_is_not_saved(
    client: Any,
    bench: Bench,
    form: dict[str, str],
    headers: dict[str, str],
    changed: dict[str, str],
    status: int,
) -> None:
    answer = client.post("/save", data=form | changed, headers=headers)
    assert answer.status_code == status
    assert counted(bench) == 0


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"serial=1&serial=2", 400),
        (b"&".join(b"a%d=1" % n for n in range(101)), 400),
        (b"serial=%ff%fe", 400),
        ("serial=\u00e9".encode(), 400),
        (b"x" * (LARGEST_BODY + 1), 413),
    ],
)
def test_a_body_that_is_no_form(client: Any, body: bytes, status: int) -> None:
    answer = client.post("/save", content=body, headers=FORM | {"origin": BASE})
    assert answer.status_code == status
    assert "<h1>" in answer.text


def test_a_body_without_a_length_is_counted(client: Any) -> None:
    async def parts() -> AsyncIterator[bytes]:
        for _ in range(100):
            yield b"x" * 1024

    answer = client.post("/save", content=parts(), headers=FORM | {"origin": BASE})
    assert answer.status_code == 413


def test_methods_are_few(client: Any) -> None:
    for method in ("PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"):
        answer = client.request(method, "/save")
        assert answer.status_code == 405
        assert "GET" in answer.headers["allow"]
    assert client.post("/record", headers={"origin": BASE} | FORM).status_code == 405
    assert client.request("HEAD", "/").status_code == 200


def test_a_long_address(client: Any) -> None:
    assert client.get("/?note=" + "x" * LONGEST_QUERY).status_code == 414


@pytest.mark.parametrize(
    "path", ["/page.css/../app.py", "/..%2f..%2fetc/passwd", "/templates/base.html.j2", "/record.", "/app.py"]
)
def test_no_path_reaches_a_file(client: Any, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 404
    assert "root:" not in answer.text


def test_too_many_at_once(make_client: Callable[..., Any]) -> None:
    client = make_client(reading=Limiter(burst=3.0, per_second=0.001))
    found = [client.get("/") for _ in range(5)]
    assert [answer.status_code for answer in found] == [200, 200, 200, 429, 429]
    assert int(found[-1].headers["retry-after"]) >= 1
    assert "Too many requests" in found[-1].text


def test_the_limiter_forgets_callers() -> None:
    limiter = Limiter(burst=1.0, per_second=1.0)
    for number in range(5000):
        limiter.wait_s(str(number), 0.0)
    assert len(limiter.buckets) <= 1000


def test_other_machines_need_the_key(make_client: Callable[..., Any]) -> None:
    client = make_client(key="a-key")
    for path in ("/record", "/stop?stop=odour", "/stop?stop=co-alarm"):  # STOP pressed on a page of before
        answer = client.get(path)
        assert answer.status_code == 401
        assert "nothing was recorded here, act now" in answer.text
        for name in ("odour", "co-alarm"):
            assert escape(stop_notice(name).do_first) in answer.text
            assert escape(stop_notice(name).then) in answer.text
    assert client.get("/record", params={"key": "wrong"}).status_code == 401
    let_in = client.get("/", params={"key": "a-key", "units": "US"})
    assert (let_in.status_code, let_in.headers["location"]) == (303, "/?units=US")
    assert "HttpOnly" in let_in.headers["set-cookie"]
    assert "SameSite=Strict" in let_in.headers["set-cookie"]
    assert "a-key" not in let_in.headers["set-cookie"]
    assert client.get("/record").status_code == 200
    assert "a-key" not in client.get("/").text
    client.cookies.clear()
    assert client.post("/save", headers={"origin": BASE} | FORM).status_code == 401


def test_too_many_pages_at_once_are_refused_to_those_let_in_only(make_client: Callable[..., Any]) -> None:
    client = make_client(key="a-key", answering=MOST_AT_ONCE)
    assert client.get("/record").status_code == 401
    assert client.get("/", params={"key": "a-key"}).status_code == 303
    busy = client.get("/record")
    assert (busy.status_code, busy.headers["retry-after"]) == (503, "1")
    assert "Wait a moment" in busy.text


def test_an_address_is_known_once_it_was_let_in(make_client: Callable[..., Any]) -> None:
    client = make_client(key="a-key")
    gate = client.app.gate
    client.get("/record")
    assert not gate.callers
    client.get("/", params={"key": "a-key"})
    assert client.get("/record").status_code == 200
    assert [gate.is_permitted_caller(caller) for caller in gate.callers] == [True]
    assert gate.answering == 0
