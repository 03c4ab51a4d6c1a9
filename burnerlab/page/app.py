"""The bench as a web application, its server, and the address that a phone can open."""

from __future__ import annotations

import errno
import io
import ipaddress
import signal
import socket
import sys
import threading
import traceback
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from burnerlab.page.bench_state import Bench
from burnerlab.page.form import Form, RefusedError, words
from burnerlab.page.render import STATIC, error_page, static
from burnerlab.page.security import Gate, Guard, is_loopback
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from types import FrameType

    import uvicorn
    from starlette.requests import Request
    from starlette.responses import Response

# The address that a phone on the same network can open, as text and as a code to point the phone at.

EVERY_ADDRESS = ("0.0.0.0", "::", "")
ROUTES = (
    "192.0.2.1",
    "192.168.255.254",
    "10.255.255.254",
    "172.31.255.254",
)  # RFC 5737 and RFC 1918; nothing is sent
HOUSE = tuple(
    ipaddress.ip_network(net) for net in ("192.168.0.0/16", "10.0.0.0/8")
)  # RFC 1918, as routers give them
BRIDGES = ipaddress.ip_network("172.16.0.0/12")  # RFC 1918 too, and where bridges of containers usually are
ON_SCREEN = "\x1b[97;40m{}\x1b[0m"  # white on black, whatever the colours of the terminal


def best_address(addresses: Iterable[str]) -> str:
    """The address of this machine that a phone most likely reaches; "" where there is none.

    Those of house and works networks go before others, and the usual ones of bridges between containers come last.

    >>> best_address(["127.0.0.1", "172.17.0.1", "192.168.1.20"]), best_address(["127.0.1.1"])
    ('192.168.1.20', '')
    """
    parsed = [ipaddress.ip_address(text) for text in addresses]
    usable = [a for a in parsed if not (a.is_loopback or a.is_unspecified or a.is_link_local)]

    def order(address: ipaddress.IPv4Address | ipaddress.IPv6Address) -> int:
        if any(address in net for net in HOUSE):
            return 0
        return 2 if address in BRIDGES else 1

    return str(min(usable, key=order)) if usable else ""


def own_addresses() -> list[str]:
    """IPv4 addresses of this machine: those its routes lead out by, then those of its name."""
    addresses = []
    for route in ROUTES:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as line:
            try:
                line.connect((route, 9))  # chooses the route; a datagram socket sends nothing by it
            except OSError:
                continue
            addresses.append(str(line.getsockname()[0]))
    try:
        named = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
    except OSError:
        named = []
    return list(dict.fromkeys([*addresses, *(str(info[4][0]) for info in named)]))


def host_to_print(host: str) -> str:
    """The host to print for one that is served on: one a phone can open where every address is."""
    return (best_address(own_addresses()) or "127.0.0.1") if host in EVERY_ADDRESS else host


def can_draw(encoding: str | None) -> bool:
    """Whether a terminal of this encoding has half blocks.

    >>> can_draw("utf-8"), can_draw("ascii"), can_draw(None)
    (True, False, False)
    """
    try:
        return bool("\N{UPPER HALF BLOCK}".encode(encoding or "ascii"))
    except (UnicodeEncodeError, LookupError):
        return False


def code_of(address: str, on_screen: bool) -> str:
    """The address as a QR code in half blocks; ``on_screen`` sets its colours, which a light terminal needs."""

    import segno

    drawing = io.StringIO()
    segno.make(address, error="l", micro=False).terminal(drawing, compact=True)
    lines = drawing.getvalue().splitlines()
    return "\n".join(ON_SCREEN.format(line) if on_screen else line for line in lines)


# The bench as a web application, and the server that runs it until it is stopped.

ENDINGS = tuple(getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name))
SECONDS_TO_FINISH = 5  # for answers on their way when the bench is stopped
BACKLOG = 1024  # connections that arrive while another is taken
LARGEST_HEAD = 32 * 1024  # bytes of an address and its headers
MOST_PHOTOGRAPHS_AT_ONCE = 4  # in memory
View = Callable[[Bench, Any], Any]
DEFECT = (
    "The terminal in which the bench was started shows the cause. Whether it was saved stands in the record: "
    "look there before testing again."
)


def application(bench: Bench) -> Guard:
    """The pages of a bench behind their guard."""
    from starlette.applications import Starlette
    from starlette.exceptions import HTTPException
    from starlette.routing import Route

    from burnerlab.page import handbook_pages, photograph_pages, record_pages, steps, stop_pages

    def route(path: str, view: View) -> Any:
        def endpoint(request: Request) -> Response:
            answer: Response = view(bench, request)
            return answer

        return Route(path, endpoint, methods=["GET"])

    pages = {
        "/": steps.unit,
        "/measure": steps.measure,
        "/finding": steps.finding,
        "/flame": steps.flame,
        "/place": stop_pages.another_place,
        "/wrong": stop_pages.wrong_entry,
        "/record": record_pages.show_record,
        "/unit": record_pages.show_unit,
        "/entry": record_pages.show_entry,
        "/sheet": record_pages.show_sheet,
        "/photographs": photograph_pages.show_photographs,
        "/chart": record_pages.show_chart,
        "/chart.svg": record_pages.show_drawing,
        "/record.{ending}": record_pages.download,
        "/handbook": handbook_pages.bench_handbook,
        "/handbook/{topic}": handbook_pages.bench_handbook,
        "/handbook/pictures/{file}": handbook_pages.bench_picture,
    }
    routes = [route(path, view) for path, view in pages.items()]
    forms = {
        "/save": (steps.save, steps.keep),
        "/stop": (stop_pages.stop, stop_pages.keep_stop),
        "/release": (stop_pages.release_page, stop_pages.keep_release),
    }
    routes += [Route(path, _form_page(bench, *both), methods=["GET", "POST"]) for path, both in forms.items()]
    routes.append(Route("/photograph", _photograph_page(bench), methods=["GET", "POST"]))
    routes += static_routes()
    bench.gate.takes_photographs = True
    own_page = partial(_error_page, bench)
    handlers: dict[Any, Any] = {
        RefusedError: partial(_refused, own_page),
        HTTPException: partial(_missing_page, own_page),
        UserError: partial(_trouble, own_page),
        Exception: partial(_defect, own_page),
    }
    refusal = partial(_error_page, bench, is_named=False)
    return Guard(Starlette(routes=routes, exception_handlers=handlers), bench.gate, refusal)


def _form_page(bench: Bench, show: View, keep: View) -> Callable[[Request], Any]:
    """A page with a form, and what is done with the form when it comes back."""
    from starlette.concurrency import run_in_threadpool

    from burnerlab.page import steps

    async def endpoint(request: Request) -> Response:
        if request.method == "POST":
            body = await steps.body_of(request)
            answer: Response = await run_in_threadpool(keep, bench, body)
        else:
            answer = await run_in_threadpool(show, bench, request)
        return answer

    return endpoint


def _photograph_page(bench: Bench) -> Callable[[Request], Any]:
    """A photograph by its hash, and the one form that is larger than the others."""
    import anyio
    from starlette.concurrency import run_in_threadpool

    from burnerlab.page import photograph_pages, steps
    from burnerlab.page.security import LARGEST_PHOTOGRAPH_BODY, PHOTOGRAPH_SECONDS

    taking = anyio.Semaphore(MOST_PHOTOGRAPHS_AT_ONCE)

    async def endpoint(request: Request) -> Response:
        if request.method != "POST":
            shown: Response = await run_in_threadpool(photograph_pages.show_photograph, bench, request)
            return shown
        async with taking:
            body = await steps.bytes_of(request, LARGEST_PHOTOGRAPH_BODY, PHOTOGRAPH_SECONDS)
            kind = request.headers.get("content-type", "")
            return await run_in_threadpool(photograph_pages.take_photograph, bench, body, kind)

    return endpoint


def static_routes() -> list[Any]:
    """Our own style, scripts and mark."""
    from starlette.routing import Route

    return [Route(f"/{name}", _static(name), methods=["GET"]) for name in STATIC]


def _static(name: str) -> Callable[[Request], Response]:
    from starlette.responses import Response

    def endpoint(request: Request) -> Response:
        kind = {"cache-control": "private, max-age=31536000, immutable"}  # its address changes with it
        return Response(static(name), media_type=STATIC[name], headers=kind)

    return endpoint


ErrorPage = Callable[[int, str], bytes]


def _error_page(bench: Bench, status: int, sentence: str, *, is_named: bool = True) -> bytes:
    """A refusal in the language on which all models of the bench agree, below the stops that hold a room.

    is_named : whether the sender may read of places and units
    """
    from burnerlab.bench.record.checks import NEVER_A_SLIP
    from burnerlab.bench.stop import stop_notice
    from burnerlab.page.progress import reader_of
    from burnerlab.page.reader_language import stop_text
    from burnerlab.page.stop_names import room_stops

    form = Form.of({}, bench.system)
    try:
        stops = room_stops(bench, form)
    except UserError:  # the record cannot be read: those that were shown stand without it
        stops = room_stops(bench, form, is_recorded=False)
    names = [text for one in stops for text in (one.place, one.serial, one.tester) if text]
    reader = reader_of(bench)
    dangers = [  # what somebody may have pressed STOP for
        stop_text(stop_notice(name), bench.system, reader.language, tuple(names)) for name in NEVER_A_SLIP
    ]
    more: dict[str, Any] = {
        "room_stops": stops,
        "system": bench.system,
        "is_named": is_named,
        "dangers": dangers,
    }
    return error_page(status, sentence, own=reader, names=names, **more)


def _page(own: ErrorPage, status: int, sentence: str, headers: dict[str, str] | None = None) -> Response:
    from starlette.responses import HTMLResponse

    return HTMLResponse(own(status, sentence), status, headers)


async def _refused(own: ErrorPage, request: Request, error: RefusedError) -> Response:
    return _page(own, error.status, error.sentence)


async def _missing_page(own: ErrorPage, request: Request, error: Any) -> Response:
    if error.status_code == 405:
        return _page(own, 405, "This page can only be read.", dict(error.headers or {}))
    return _page(own, 404, "Nothing of this bench is at this address.")


async def _trouble(own: ErrorPage, request: Request, error: UserError) -> Response:
    """The record cannot be read or written: in words, without the folders of this machine."""
    return _page(own, 503, ". ".join(words(problem) for problem in error.problems) + ".")


async def _defect(own: ErrorPage, request: Request, error: Exception) -> Response:
    traceback.print_exception(error, file=sys.stderr)
    uid = request.query_params.get("uid", "")
    if request.url.path == "/entry" and uid:  # where saving a test leads
        return _page(own, 500, f"{DEFECT} The entry of this page is {uid[:8]}.")
    return _page(own, 500, DEFECT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Listening:
    """A bench that has its port, and the address that leads to it."""

    socket: socket.socket
    gate: Gate

    @property
    def host(self) -> str:
        """The one to print: of every address served on, one that a phone can open."""
        return host_to_print(self.gate.host)

    @property
    def address(self) -> str:
        """With the key, where other machines may ask."""
        host = self.host
        host_part = f"[{host}]" if ":" in host else host
        key = f"?key={self.gate.key}" if self.gate.key else ""
        return f"http://{host_part}:{self.socket.getsockname()[1]}/{key}"


def listen(gate: Gate, port: int) -> Listening:
    """Take the port. Raises UserError when it cannot be had."""
    host = gate.host
    if not host.strip():
        raise _no_port(ValueError("the address is empty"), host, port)
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # the protocol is named so that asyncio sends at once and does not wait 40 ms to fill a packet
    sock = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        sock.setsockopt(socket.SOL_SOCKET, _port_option(), 1)
        sock.bind((host, port))
        sock.listen(BACKLOG)
    except (OSError, TypeError, ValueError) as error:  # the last two: a host that is no name at all
        sock.close()
        raise _no_port(error, host, port) from None
    return Listening(socket=sock, gate=gate)


def _port_option() -> int:
    """That a port is free at once after its server ended, and never shared with another.

    On Windows the option of the first would let two servers take one port, and a reading go to the bench of another.
    """
    exclusive: int | None = getattr(socket, "SO_EXCLUSIVEADDRUSE", None)  # of Windows alone
    return socket.SO_REUSEADDR if exclusive is None else exclusive


def _no_port(error: Exception, host: str, port: int) -> UserError:
    number = getattr(error, "errno", None)
    if number == errno.EADDRINUSE:
        fix = "stop the other program, or name another: --port 0 takes a free one"
        return UserError(Problem("is in use by another program", value=str(port), key="--port", fix=fix))
    if number in (errno.EACCES, errno.EPERM):
        return UserError(
            Problem("may not be taken by this user", value=str(port), key="--port", accepted="1024 to 65535")
        )
    what = f"cannot be listened on: {getattr(error, 'strerror', None) or error}"
    return UserError(Problem(what, value=host, key="--host", fix="name an address of this machine"))


def served(pages: Guard) -> uvicorn.Config:
    """How pages are served: bounds of time and size, and nothing said of the server."""
    import uvicorn

    from burnerlab.page.connections import patient_protocol

    return uvicorn.Config(
        pages,
        log_level="warning",
        access_log=False,
        lifespan="off",
        http=patient_protocol(pages.gate.is_permitted_caller),
        ws="none",
        server_header=False,
        date_header=True,
        proxy_headers=False,
        timeout_keep_alive=10,
        timeout_graceful_shutdown=SECONDS_TO_FINISH,
        h11_max_incomplete_event_size=LARGEST_HEAD,
    )


def serve(pages: Guard, *listening: Listening) -> None:
    """Answer until stopped; answers on their way are finished first, and whoever calls finishes what is not written.

    A system that shuts down and a terminal that is closed stop it as Ctrl+C does.
    """
    import uvicorn

    is_main = threading.current_thread() is threading.main_thread()
    handlers = {each: signal.getsignal(each) for each in ENDINGS if is_main}
    before = {each: one for each, one in handlers.items() if one not in (None, signal.SIG_IGN)}  # of nohup
    for each in before:
        signal.signal(each, _interrupt if each is signal.SIGTERM else _end)
    try:
        uvicorn.Server(served(pages)).run(sockets=[one.socket for one in listening])
    except KeyboardInterrupt:
        return  # asked to stop, and stopped
    finally:
        for one in listening:
            one.socket.close()
        for each, handler in before.items():
            signal.signal(each, handler)


def _interrupt(number: int, frame: FrameType | None) -> None:
    """The server raises its signal anew after its last answer: whoever called it goes on to its end."""
    raise KeyboardInterrupt


def _end(number: int, frame: FrameType | None) -> None:
    signal.raise_signal(signal.SIGTERM)


def is_on_network(host: str) -> bool:
    """Whether other machines can reach an address."""
    return not is_loopback(host)
