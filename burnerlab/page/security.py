"""Access to the pages: this machine unless stated otherwise, with a key that survives a restart."""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
import os
import re
import secrets
import stat
import time
from collections import OrderedDict
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock
from typing import Any
from urllib.parse import parse_qs, urlencode

from burnerlab.tables.problem import Problem, UserError

# The key of a bench in a file of its own, so that phones find the bench again after a restart.

KEY = re.compile(r"[A-Za-z0-9_-]{24,200}")  # 144 bits and more, nothing that an address would change
LARGEST = 1000  # bytes
OPTION = "--key-file"


def new_key() -> str:
    """A key that nobody can guess."""
    return secrets.token_urlsafe(18)


def word_from(key: str, use: str) -> str:
    """A secret word of its own for each use, the same for the same key: HMAC-SHA-256, FIPS 198-1."""
    return hmac.new(key.encode(), use.encode(), hashlib.sha256).hexdigest()


def key_of_file(path: Path) -> tuple[str, bool]:
    """The key in a file, and whether the file was made for it: for this user alone (mode 0600).

    Raises UserError for a file that others may read, that holds no key, or that cannot be made.
    """
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return _read(path), False
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        raise UserError(
            Problem(f"cannot be made: {why}", str(path), OPTION, fix="name a file in a folder that is there")
        ) from None
    key = new_key()
    with os.fdopen(handle, "w", encoding="ascii") as stream:
        stream.write(key + "\n")
    return key, True


def _read(path: Path) -> str:
    try:
        kind = path.stat()
        if not stat.S_ISREG(kind.st_mode) or kind.st_size > LARGEST:
            raise UserError(Problem("is not a file with a key", str(path), OPTION, fix="name another file"))
        if os.name == "posix" and kind.st_mode & 0o077:
            fix = f"run chmod 600 {path}, or name another file"
            raise UserError(
                Problem("may be read by others", str(path), OPTION, accepted="mode 0600", fix=fix)
            )
        text = path.read_bytes().decode("ascii", "replace").strip()
    except OSError as error:
        raise UserError(Problem(f"cannot be read: {error.strerror}", str(path), OPTION)) from None
    if not KEY.fullmatch(text):
        raise UserError(
            Problem(
                "holds no key of a bench", str(path), OPTION, fix="name another file, it is made when missing"
            )
        )
    return text


# Who may ask: this machine unless told otherwise, our own pages only, in bounds and not too fast.

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Any]]
Send = Callable[[Any], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]
ErrorPage = Callable[[int, str], bytes]

BUSY = "Too many pages are being made at once. Wait a moment, then load the page again."
METHODS = ("GET", "HEAD", "POST")
LONGEST_QUERY = 8192  # characters
LONGEST_PATH = 200
TYPED = "/edit"  # the address of the form that is sent while somebody types
LARGEST_BODY = 32 * 1024  # bytes; the form is a few hundred
BODY_SECONDS = 10.0
FORM_TYPE = "application/x-www-form-urlencoded"
PHOTOGRAPH_PATH, PHOTOGRAPH_TYPE = (
    "/photograph",
    "multipart/form-data",
)  # the one other form, of a bench alone
LARGEST_PHOTOGRAPH_BODY = (12 << 20) + 64 * 1024  # bytes: the picture, and the form around it
PHOTOGRAPH_SECONDS = 60.0
COOKIE = "bench"  # only where the bench is opened to other machines
PAGE_POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; form-action 'self'; "
    "frame-ancestors 'none'; base-uri 'none'"
)
LIVE_POLICY = PAGE_POLICY + "; connect-src 'self'"  # a script of ours may ask this server again
DRAWING_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; sandbox"  # an SVG of ours holds its own style
)
HEADERS = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",  # with no-referrer a browser would send our own forms with an Origin of null
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
    "x-frame-options": "DENY",
}
MOST_CALLERS = 1000
MOST_AT_ONCE = 100  # requests of those let in that are answered at the same time


@dataclass(slots=True)
class Bucket:
    """Requests a caller may still make, and when that was so."""

    left: float
    at: float


@dataclass(slots=True)
class Limiter:
    """So many requests at once, and so many a second after that, for each caller."""

    burst: float
    per_second: float
    buckets: OrderedDict[str, Bucket] = field(default_factory=OrderedDict)
    lock: Lock = field(default_factory=Lock)

    def wait_s(self, caller: str, now: float) -> float:
        """0 when the request may go ahead, else how long to wait [s].

        >>> limiter = Limiter(burst=1, per_second=2)
        >>> [limiter.wait_s("a", now) for now in (0.0, 0.0, 0.5)]
        [0.0, 0.5, 0.0]
        """
        with self.lock:
            bucket = self.buckets.pop(caller, None) or Bucket(self.burst, now)
            bucket.left = min(self.burst, bucket.left + (now - bucket.at) * self.per_second)
            bucket.at = now
            self.buckets[caller] = bucket
            while len(self.buckets) > MOST_CALLERS:
                self.buckets.popitem(last=False)
            if bucket.left >= 1.0:
                bucket.left -= 1.0
                return 0.0
            return (1.0 - bucket.left) / self.per_second


@dataclass(slots=True, kw_only=True)
class Gate:
    """What a request must bring along."""

    host: str  # the address served on
    token: str = field(default_factory=lambda: secrets.token_urlsafe(24))  # in every form of ours
    key: str = ""  # in the address, once, when other machines may ask; "" on this machine alone
    session: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    site: str = "bench"  # the word for it in what refuses a request
    policy: str = PAGE_POLICY
    largest_body: int = LARGEST_BODY  # bytes
    takes_photographs: bool = False  # set where their pages are served
    typing: Limiter | None = None  # of the one form that is sent while somebody types
    reading: Limiter = field(default_factory=lambda: Limiter(burst=600.0, per_second=400.0))
    saving: Limiter = field(default_factory=lambda: Limiter(burst=60.0, per_second=10.0))
    callers: OrderedDict[str, None] = field(default_factory=OrderedDict)  # addresses that were let in
    answering: int = 0  # requests of those let in

    def keep(self, key: str) -> None:
        """Take a key that outlives a restart; session and token follow from it, so that open pages stay so."""
        self.key, self.session, self.token = key, word_from(key, "session"), word_from(key, "token")

    def let_in(self, caller: str) -> None:
        """Remember an address that brought key or session."""
        self.callers[caller] = None
        self.callers.move_to_end(caller)
        while len(self.callers) > MOST_CALLERS:
            self.callers.popitem(last=False)

    def is_permitted_caller(self, caller: str) -> bool:
        return caller in self.callers

    def is_own_host(self, header: str) -> bool:
        """Whether a Host header names this server: a name of its own, or an address, which no DNS answer can be.

        >>> Gate(host="127.0.0.1").is_own_host("localhost:8741"), Gate(host="127.0.0.1").is_own_host("evil.example")
        (True, False)
        """
        name = host_name(header)
        if is_loopback(self.host):
            return is_loopback(name)
        return name == self.host.lower() or is_loopback(name) or _is_address(name)

    def is_token(self, token: str) -> bool:
        return hmac.compare_digest(token.encode(), self.token.encode())


def host_name(header: str) -> str:
    """The name in a Host header, without its port.

    >>> host_name("[::1]:80"), host_name("Localhost:8741"), host_name("")
    ('::1', 'localhost', '')
    """
    text = header.strip().lower()
    if text.startswith("["):
        return text[1:].partition("]")[0]
    return text.partition(":")[0]


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def is_loopback(name: str) -> bool:
    """Whether a name or address can only be this machine.

    >>> is_loopback("127.0.0.1"), is_loopback("localhost"), is_loopback("0.0.0.0")
    (True, True, False)
    """
    return name == "localhost" or (_is_address(name) and ipaddress.ip_address(name).is_loopback)


class Guard:
    """Stands before every page: refuses what is not ours to answer, and puts the headers on what is."""

    def __init__(self, app: App, gate: Gate, page: ErrorPage) -> None:
        self.app, self.gate, self.page = app, gate, page

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return  # no web socket is ours; there is nothing to start or stop
        sender = _with_headers(send, self.gate.policy)
        headers = {name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]}
        refused = self._refused(scope, headers)
        if refused is not None:
            status, sentence, more = refused
            await _answer(sender, status, self.page(status, sentence), more)
            return
        if self.gate.key and not self._is_let_in(headers):
            await self._exchange_key(scope, sender)
            return
        if self.gate.answering >= MOST_AT_ONCE:
            await _answer(sender, 503, self.page(503, BUSY), {"retry-after": "1"})
            return
        self.gate.let_in(_caller(scope))
        self.gate.answering += 1
        try:
            await self.app(scope, receive, sender)
        finally:
            self.gate.answering -= 1

    def _refused(self, scope: Scope, headers: dict[str, str]) -> tuple[int, str, dict[str, str]] | None:
        """Status, sentence and headers of a refusal; None for a request to answer."""
        host, method, site = headers.get("host", ""), scope["method"], self.gate.site
        if not self.gate.is_own_host(host):
            return 403, f"This {site} answers to the address it was started with, and to no other name.", {}
        if method not in METHODS:
            return (
                405,
                f"This {site} only shows pages and takes its own forms.",
                {"allow": ", ".join(METHODS)},
            )
        if len(scope["query_string"]) > LONGEST_QUERY or len(scope["path"]) > LONGEST_PATH:
            return 414, "The address is too long.", {}
        limiter = self.gate.saving if method == "POST" else self.gate.reading
        if self.gate.typing is not None and method == "POST" and scope["path"] == TYPED:
            limiter = self.gate.typing
        wait = limiter.wait_s(_caller(scope), time.monotonic())
        if wait > 0.0:
            return (
                429,
                "Too many requests at once. Wait a moment, then load the page again.",
                {"retry-after": str(max(1, round(wait)))},
            )
        return self._refused_form(host, headers, scope["path"]) if method == "POST" else None

    def _refused_form(
        self, host: str, headers: dict[str, str], path: str
    ) -> tuple[int, str, dict[str, str]] | None:
        is_photograph = self.gate.takes_photographs and path == PHOTOGRAPH_PATH
        kind = PHOTOGRAPH_TYPE if is_photograph else FORM_TYPE
        largest = LARGEST_PHOTOGRAPH_BODY if is_photograph else self.gate.largest_body
        if headers.get("origin", "") != f"http://{host}":
            return 403, f"This form was not sent from a page of this {self.gate.site}. Nothing was saved.", {}
        if headers.get("sec-fetch-site", "same-origin") != "same-origin":
            return 403, "This form was sent from another site. Nothing was saved.", {}
        if headers.get("content-type", "").partition(";")[0].strip().lower() != kind:
            return 415, f"Only the forms of this {self.gate.site} are taken. Nothing was saved.", {}
        length = headers.get("content-length", "")
        if length.isdigit() and int(length) > largest:
            return (
                413,
                f"The form is larger than {largest // 1024} kB. Nothing was saved.",
                {"connection": "close"},
            )
        return None

    def _is_let_in(self, headers: dict[str, str]) -> bool:
        for part in headers.get("cookie", "").split(";"):
            name, _, value = part.strip().partition("=")
            if name == COOKIE and hmac.compare_digest(value.encode(), self.gate.session.encode()):
                return True
        return False

    async def _exchange_key(self, scope: Scope, send: Send) -> None:
        """Exchange the key of the address for a cookie, so that it stands in no page's address any more."""
        query = parse_qs(scope["query_string"].decode("latin-1"), keep_blank_values=True)
        key = query.pop("key", [""])[0]
        if scope["method"] == "POST" or not hmac.compare_digest(key.encode(), self.gate.key.encode()):
            sentence = "Open the address that was printed when the bench was started: it holds the key."
            await _answer(send, 401, self.page(401, sentence), {})
            return
        rest = urlencode(query, doseq=True)
        more = {
            "location": "/" + (f"?{rest}" if rest else ""),
            "set-cookie": f"{COOKIE}={self.gate.session}; Path=/; HttpOnly; SameSite=Strict",
        }
        await _answer(send, 303, b"", more)


def _caller(scope: Scope) -> str:
    """The address a request comes from."""
    return str((scope.get("client") or ("",))[0])


def _with_headers(send: Send, policy: str) -> Send:
    """Every answer with the headers of a page that trusts nobody; an answer's own go before."""

    async def sender(message: Any) -> None:
        if message["type"] == "http.response.start":
            own = {name.lower(): value for name, value in message.get("headers", [])}
            usual = HEADERS | {"cache-control": "no-store", "content-security-policy": policy}
            headers = {name.encode(): value.encode() for name, value in usual.items()} | own
            message = {**message, "headers": list(headers.items())}
        await send(message)

    return sender


async def _answer(send: Send, status: int, body: bytes, more: dict[str, str]) -> None:
    headers = {"content-type": "text/html; charset=utf-8", "content-length": str(len(body))} | more
    told = [(name.encode("latin-1"), value.encode("latin-1")) for name, value in headers.items()]
    await send({"type": "http.response.start", "status": status, "headers": told})
    await send({"type": "http.response.body", "body": body})
