"""The handbook on desk and bench, behind their guard: contents, a page, and the way back with what was typed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qsl, urlencode

from starlette.responses import HTMLResponse, Response

from burnerlab.handbook.contents import HandbookPage, Search, page_of, search
from burnerlab.handbook.gallery import picture_bytes
from burnerlab.handbook.page_text import Address, article_html, contents_html
from burnerlab.page.bench_state import Bench
from burnerlab.page.desk_language import language_of
from burnerlab.page.form import RefusedError
from burnerlab.page.progress import WAY, common, form_of, stop_keys
from burnerlab.page.render import page

if TYPE_CHECKING:
    from starlette.requests import Request

    from burnerlab.page.desk_state import Desk
    from burnerlab.quantity import System

FRONT = "/handbook"
PICTURES = f"{FRONT}/pictures"
CONTENTS = "Handbook"
WORDS = "words"  # in the address: what is looked for
LONGEST_WORDS, MOST_ANSWERS = 100, 8
STEP = "step"  # in the address: where the bench was when the handbook was opened


def address_with(query: str = "") -> Address:
    """Addresses of the handbook on a page; ``query`` goes along.

    >>> address_with("serial=7")("gas#wobbe-index"), address_with()("")
    ('/handbook/gas?serial=7#wobbe-index', '/handbook')
    """

    def address(at: str) -> str:
        topic, mark, anchor = at.partition("#")
        path = f"{FRONT}/{topic}" if topic else FRONT
        return path + (f"?{query}" if query else "") + mark + anchor

    return address


def picture_address(file: str) -> str:
    """Where a picture of the gallery is found.

    >>> picture_address("heat-map.svg")
    '/handbook/pictures/heat-map.svg'
    """
    return f"{PICTURES}/{file}"


def handbook_picture(request: Request, system: System) -> Response:
    """A picture of the gallery in the reader's units, drawn when it is first wanted.

    Raises RefusedError for one that there is not.
    """
    try:
        made = picture_bytes(request.path_params["file"], system)
    except ImportError:
        made = None
    if made is None:
        raise RefusedError(404, "The handbook has no such picture.")
    return Response(made, media_type="image/svg+xml")


def _topic(request: Request, system: System) -> HandbookPage | None:
    """The page that is asked for; None for the contents. Raises RefusedError for a topic that there is not."""
    topic = request.path_params.get("topic", "")
    found = page_of(topic) if topic else None
    if topic and (found is None or found.topic != topic):
        raise RefusedError(404, "The handbook has no such page.")
    return found.in_units(system) if found is not None else None


def _content(topic_page: HandbookPage | None, address: Address, words: str) -> dict[str, Any]:
    """A page, or the contents below the field that looks for words and what it finds."""
    if topic_page is None:
        found = search(words) if words else Search(())
        shown = {"title": CONTENTS, "content": contents_html(address), "has_search": True}
        return shown | {"words": words, "found": found, "address": address, "most": MOST_ANSWERS}
    content = article_html(topic_page, address, picture_address)
    return {"title": topic_page.title, "content": content, "has_search": False}


def _typed(request: Request) -> dict[str, str]:
    """What the address says beside the fields of the bench."""
    return dict(parse_qsl(request.scope["query_string"].decode("latin-1")))


def _words(request: Request) -> str:
    return " ".join(_typed(request).get(WORDS, "").split())[:LONGEST_WORDS]


def desk_handbook(desk: Desk, request: Request) -> Response:
    """The contents or a page, on the desk."""
    shown = _content(_topic(request, desk.system), address_with(), _words(request))
    return HTMLResponse(language_of(desk, desk.newest_entry).page("desk_handbook", **shown))


def bench_handbook(bench: Bench, request: Request) -> Response:
    """The same on the bench; what was typed goes along in the address, back to the step it was typed on."""
    form = form_of(bench, request)
    step = _typed(request).get(STEP, "")
    back = next((one.path for one in WAY if one.path == step), "/")
    query = form.query()
    with_step = f"{query}&{urlencode({STEP: step})}" if back == step else query
    context = common(bench, form, request.url.path) | {"stop_keys": stop_keys(), "back": f"{back}?{query}"}
    context["step"] = step if back == step else ""
    shown = _content(_topic(request, bench.system), address_with(with_step), _words(request))
    return HTMLResponse(page("handbook", **context, **shown))


def bench_picture(bench: Bench, request: Request) -> Response:
    """A picture of the gallery, on the bench."""
    return handbook_picture(request, bench.system)
