"""Photographs of a test from the phone: the page that takes them, the body they come in, and each by its hash."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from burnerlab.bench.record.entry import PHOTOGRAPH_SUBJECTS
from burnerlab.bench.record.photographs import (
    ACCEPTED,
    keep_photograph,
    photograph_bytes,
    photographs_of,
    photographs_text,
)
from burnerlab.page.bench_state import Bench
from burnerlab.page.form import LONGEST_FIELD, MOST_FIELDS, Form, RefusedError, words
from burnerlab.page.progress import UNUSABLE, common, form_of
from burnerlab.page.render import page
from burnerlab.page.stop_pages import halted
from burnerlab.tables.problem import UserError

MOST_PHOTOGRAPHS = 6  # of one test
BOUNDARY = re.compile(r"multipart/form-data;\s*boundary=\"?([0-9A-Za-z'()+_,./:=?-]{1,70})\"?", re.IGNORECASE)
NAME = re.compile(rb"\bname=\"([a-z0-9_-]{1,40})\"")
LONGEST_PART_HEAD = 1024
FILE_FIELD, SUBJECT = "photograph", "subject"
NO_SUBJECT = "Choose what it shows, and take it again."
NO_FORM = "The photograph did not come in a form of this bench. Nothing was saved."


@dataclass(slots=True)
class PhotographForm:
    """What came with a photograph: the texts of the form, and the picture."""

    texts: dict[str, str] = field(default_factory=dict)
    picture: bytes = b""


def read_body(body: bytes, content_type: str) -> PhotographForm:
    """The parts of a multipart body (RFC 7578). The name that a client gives its file is never read.

    Raises RefusedError for a body that is not a form of ours: too many parts, a part twice, a text that is too long.
    """
    kind = BOUNDARY.match(content_type)
    if kind is None:
        raise RefusedError(400, NO_FORM)
    mark = b"\r\n--" + kind[1].encode("ascii")
    pieces = (b"\r\n" + body).split(mark, MOST_FIELDS + 2)
    if pieces[0] or len(pieces) > MOST_FIELDS + 2 or not pieces[-1].startswith(b"--"):
        raise RefusedError(400, NO_FORM)
    made = PhotographForm()
    for piece in pieces[1:-1]:
        _take(made, piece)
    return made


def _take(made: PhotographForm, piece: bytes) -> None:
    head, blank, content = piece[: LONGEST_PART_HEAD + 4].partition(b"\r\n\r\n")
    name = NAME.search(head)
    if not blank or name is None:
        raise RefusedError(400, NO_FORM)
    key, content = name[1].decode("ascii"), piece[len(head) + len(blank) :]
    if key == FILE_FIELD:
        if made.picture:
            raise RefusedError(400, NO_FORM)
        made.picture = content
        return
    if key in made.texts or len(content) > LONGEST_FIELD:
        raise RefusedError(400, NO_FORM)
    try:
        made.texts[key] = content.decode("utf-8").replace("\r\n", "\n")
    except UnicodeDecodeError:
        raise RefusedError(400, NO_FORM) from None


def show_photographs(bench: Bench, request: Request) -> Response:
    """The photographs of the test so far, and the form for another."""
    form = form_of(bench, request)
    return halted(bench, form, "unit", "measure", "flame") or _photograph_page(bench, form)


def _photograph_page(bench: Bench, form: Form, status: int = 200, trouble: str = "") -> HTMLResponse:
    taken = photographs_of(form.get("photographs"))
    context = common(bench, form, "/photographs", "flame") | {
        "taken": taken,
        "without": [
            (one.subject, form.having(photographs=photographs_text(o for o in taken if o != one)).query())
            for one in taken
        ],
        "subjects": PHOTOGRAPH_SUBJECTS,
        "preset": "flame",  # of the page that leads here
        "is_full": len(taken) >= MOST_PHOTOGRAPHS,
        "accepted": ACCEPTED,
        "token": bench.gate.token,
        "trouble": trouble,
    }
    return HTMLResponse(page("photographs", **context), status)


def take_photograph(bench: Bench, body: bytes, content_type: str) -> Response:
    """Keep a photograph for the test whose form comes with it, and lead back to the page."""
    came = read_body(body, content_type)
    if not bench.gate.is_token(came.texts.get("token", "")):
        raise RefusedError(403, "This page was made before the bench was started again. Nothing was saved.")
    form = Form.of(came.texts, bench.system)
    stopped = halted(bench, form, "unit", "measure", "flame")
    if stopped is not None:
        return stopped
    taken = photographs_of(form.get("photographs"))
    if len(taken) >= MOST_PHOTOGRAPHS:
        return _photograph_page(
            bench, form, UNUSABLE, f"A test holds at most {MOST_PHOTOGRAPHS} photographs."
        )
    if not came.texts.get(SUBJECT):
        return _photograph_page(bench, form, UNUSABLE, NO_SUBJECT)
    try:
        made = keep_photograph(bench.file, came.picture, came.texts.get(SUBJECT, ""))
    except UserError as error:
        return _photograph_page(
            bench, form, UNUSABLE, "; ".join(words(problem) for problem in error.problems)
        )
    more = form.having(photographs=photographs_text(dict.fromkeys((*taken, made))))
    return RedirectResponse(f"/photographs?{more.query()}", 303)


def show_photograph(bench: Bench, request: Request) -> Response:
    """One picture by its hash."""
    data = photograph_bytes(bench.file, request.query_params.get("sha256", ""))
    if data is None:
        raise RefusedError(404, "There is no such photograph with the record.")
    kept = {"cache-control": "private, max-age=31536000, immutable", "content-disposition": "inline"}
    return Response(data, media_type="image/jpeg", headers=kept)
