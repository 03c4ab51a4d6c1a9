"""The desk as a web application: its routes behind the guard of the bench, and two evaluations at once at most."""

from __future__ import annotations

import gc
import sys
import traceback
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any

from burnerlab.page import desk_pages, desk_study_pages
from burnerlab.page.app import static_routes
from burnerlab.page.desk_answers import Answers
from burnerlab.page.desk_language import language_of
from burnerlab.page.desk_state import LARGEST_FORM, Desk
from burnerlab.page.form import RefusedError, words
from burnerlab.page.handbook_pages import desk_handbook, handbook_picture
from burnerlab.page.reader_language import Reader
from burnerlab.page.render import error_page
from burnerlab.page.security import Guard
from burnerlab.page.steps import body_of
from burnerlab.tables.problem import UserError

if TYPE_CHECKING:
    from anyio import CapacityLimiter
    from starlette.requests import Request
    from starlette.responses import Response

AT_ONCE = 2  # evaluations
SEARCHES = 50_000, 10, 100  # for garbage by themselves: after so many new things, as several edits leave
DROPPED = 204  # the page has sent a newer request by now
LIVE = "application/json"
View = Callable[[Desk, Answers, "Request"], "Response"]
FormView = Callable[[dict[str, str], bool], "Response"]


def desk_error(desk: Desk, status: int, sentence: str) -> bytes:
    """The page of a refusal, with the ways back."""
    heading = "The file cannot be used at the moment" if status == 503 else ""
    own = language_of(desk, desk.newest_entry)
    credits = Reader(language=own.language)
    made = error_page(status, sentence, "desk_error", heading, credits, own.names, credits=credits)
    return own.regional(made.decode()).encode()


def desk_application(desk: Desk, answers: Answers) -> Guard:
    """The pages of a desk behind their guard."""
    from anyio import CapacityLimiter
    from starlette.applications import Starlette
    from starlette.exceptions import HTTPException
    from starlette.routing import Route

    turns = CapacityLimiter(AT_ONCE)

    def look(path: str, view: View) -> Route:
        return Route(path, _in_turn(turns, lambda request: view(desk, answers, request)), methods=["GET"])

    def form(path: str, view: FormView, *methods: str) -> Route:
        return Route(path, _posted(desk, turns, view), methods=["POST"])

    pages = {
        "/": desk_pages.home,
        "/file": desk_pages.read_file,
        "/at/{digest}": desk_pages.at,
        "/answer/{digest}": _rest,
        "/newest/{digest}": desk_pages.newest,
        "/map/{digest}/{picture}.png": desk_pages.heat_map,
        "/compare": desk_pages.compare,
        "/papers/{digest}/{market}/{kind}": desk_pages.paper,
        "/units/{digest}": desk_study_pages.units,
        "/ports/{digest}/{burner}": desk_study_pages.ports,
        "/ports/{digest}/{burner}/{panel}.svg": desk_study_pages.ports_picture,
        "/draft": desk_pages.draft_page,
        "/handbook": _handbook,
        "/handbook/{topic}": _handbook,
        "/handbook/pictures/{file}": _picture,
    }
    forms: dict[str, FormView] = {
        "/take-draft": lambda pairs, _: desk_pages.decide_draft(desk, pairs),
        "/edit": lambda pairs, live: desk_pages.edit(desk, answers, pairs, live),
        "/take-ports": lambda pairs, _: desk_study_pages.take_ports(desk, answers, pairs),
        "/take-both": lambda pairs, _: desk_pages.take_both(desk, answers, pairs),
        "/save": lambda pairs, _: desk_pages.save(desk, answers, pairs),
        "/download": lambda pairs, _: desk_pages.download(desk, pairs),
    }
    routes = [look(path, view) for path, view in pages.items()]
    routes += [form(path, view) for path, view in forms.items()]
    handlers: dict[Any, Any] = {
        RefusedError: partial(_refused, desk),
        HTTPException: partial(_missing_page, desk),
        UserError: partial(_trouble, desk),
        OSError: partial(_disk_page, desk),
        Exception: partial(_defect_page, desk),
    }
    application = Starlette(routes=[*routes, *static_routes()], exception_handlers=handlers)
    return Guard(application, desk.gate, partial(desk_error, desk))


def _handbook(desk: Desk, answers: Answers, request: Request) -> Response:
    return desk_handbook(desk, request)


def _picture(desk: Desk, answers: Answers, request: Request) -> Response:
    return handbook_picture(request, desk.system)


def _rest(desk: Desk, answers: Answers, request: Request) -> Response:
    from starlette.background import BackgroundTask

    response = desk_pages.rest(desk, answers, request)
    response.background = BackgroundTask(tidy_up)
    return response


def warm_up(desk: Desk, answers: Answers) -> None:
    """Make the first page once, so that neither it nor the first edit waits for templates and what they show.

    What stands then stands as long as the desk runs: no later search for garbage, for which an edit would have to
    wait, looks at it again. The search among what an edit leaves comes after its answer: ``tidy_up``.
    """
    desk_pages.desk_page(desk, answers, desk.newest_entry, desk_pages.first_look(desk))
    gc.collect()
    gc.freeze()
    gc.set_threshold(*SEARCHES)


def tidy_up() -> None:
    """Search for garbage among what an answer left, once it is sent: the next edit need not wait for that."""
    gc.collect(1)


def _in_turn(turns: CapacityLimiter, view: Callable[[Request], Response]) -> Any:
    """A page that is made when it is its turn, unless its request was dropped by then."""
    from anyio.to_thread import run_sync
    from starlette.responses import Response

    async def endpoint(request: Request) -> Response:
        async with turns:
            if await request.is_disconnected():
                return Response(status_code=DROPPED)
            return await run_sync(view, request)

    return endpoint


def _posted(desk: Desk, turns: CapacityLimiter, view: FormView) -> Any:
    """A form, with whether a script or a browser sent it."""
    from anyio.to_thread import run_sync

    async def endpoint(request: Request) -> Response:
        body = await body_of(request, LARGEST_FORM)
        live = request.headers.get("accept", "") == LIVE
        async with turns:
            return await run_sync(lambda: view(desk_pages.posted(desk, body), live))

    return endpoint


def _page(desk: Desk, status: int, sentence: str, headers: dict[str, str] | None = None) -> Response:
    from starlette.responses import HTMLResponse

    return HTMLResponse(desk_error(desk, status, sentence), status, headers)


async def _refused(desk: Desk, request: Request, error: RefusedError) -> Response:
    return _page(desk, error.status, error.sentence)


async def _missing_page(desk: Desk, request: Request, error: Any) -> Response:
    if error.status_code == 405:
        return _page(
            desk, 405, "This page can only be read, or only be written to.", dict(error.headers or {})
        )
    return _page(desk, 404, "Nothing of this desk is at this address.")


async def _trouble(desk: Desk, request: Request, error: UserError) -> Response:
    return _page(desk, 503, ". ".join(words(problem) for problem in error.problems) + ".")


def _whereabouts(desk: Desk) -> str:
    """Where the newest text is, as far as the disk says: a file may have been written before something failed."""
    try:
        return desk.whereabouts
    except Exception:  # whatever it was that failed may fail here too
        return "Look at the file and at its draft for what they hold before you go on."


async def _disk_page(desk: Desk, request: Request, error: OSError) -> Response:
    """What is shown where a file or its folder cannot be used: locked, on a disk that is gone, without rights."""
    why = error.strerror or type(error).__name__
    return _page(desk, 503, f"A file or its folder cannot be used now: {why}. {_whereabouts(desk)}")


async def _defect_page(desk: Desk, request: Request, error: Exception) -> Response:
    """What is shown where the program fails."""
    traceback.print_exception(error, file=sys.stderr)
    sentence = (
        f"The terminal in which the desk was started shows the cause. {_whereabouts(desk)} "
        "An entry may be missing."
    )
    return _page(desk, 500, sentence)
