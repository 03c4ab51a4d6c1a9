"""Pages from templates: everything is escaped, what is missing is an error."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from burnerlab import __version__
from burnerlab.bench.record.stop_display import not_recorded_words
from burnerlab.gas import fuels
from burnerlab.handbook.contents import handbook_dir
from burnerlab.page.page_language import in_language
from burnerlab.page.reader_language import Reader, caution_of_page, closing_of_page, stop_of_page
from burnerlab.page.reader_words import for_reader, own_words, regional
from burnerlab.page.result_text import STOPPED, in_units, lighting_facts, minus, unbroken, unit_words
from burnerlab.report.sheet.wording import SHAPES, STATEMENT
from burnerlab.tables.catalogue import gas_titles
from burnerlab.tables.handbook_link import handbook_of
from burnerlab.tables.phrase import Phrase

if TYPE_CHECKING:
    from jinja2 import Environment

FOLDER = Path(__file__).parent
TEMPLATES = FOLDER / "templates"
STATIC = {
    "page.css": "text/css; charset=utf-8",
    "desk_answer.css": "text/css; charset=utf-8",
    "stopwatch.js": "text/javascript; charset=utf-8",
    "draft.js": "text/javascript; charset=utf-8",
    "manifold.js": "text/javascript; charset=utf-8",
    "desk.js": "text/javascript; charset=utf-8",
    "handbook.css": "text/css; charset=utf-8",
    "mark.svg": "image/svg+xml",
}
ENGLISH_READER = Reader()
AS_WRITTEN = ("handbook",)  # it says of itself what each region calls a thing
OF_THE_HANDBOOK = "handbook.css"
STATUS_WORDS = {
    400: "This request cannot be read",
    401: "This bench needs its key",
    403: "Not from here",
    404: "There is no such page",
    405: "Not in this way",
    408: "The form did not arrive",
    409: "The file was changed outside this page",
    410: "Not known any more",
    413: "The form is too large",
    414: "The address is too long",
    415: "Not a form of this page",
    422: "Something entered cannot be used",
    429: "Too many requests",
    500: "A defect of this program",
    503: "The record cannot be used at the moment",
}


@cache
def static(name: str) -> bytes:
    """One of our own files, by a name of ``STATIC`` and no other."""
    if name not in STATIC:
        raise KeyError(name)
    folder = handbook_dir() if name == OF_THE_HANDBOOK else FOLDER
    return (folder / name).read_bytes()


@cache
def static_address(name: str) -> str:
    """Where a browser finds it; changes with its content."""
    return f"/{name}?{hashlib.sha256(static(name)).hexdigest()[:12]}"


@cache
def environment() -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    jinja = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    jinja.globals.update(
        shapes=SHAPES | {STOPPED: "octagon"},
        lighting_facts=lighting_facts,
        not_recorded_words=not_recorded_words,
        version=__version__,
        statement=STATEMENT,
        static=static_address,
        handbook_of=handbook_of,
    )
    jinja.filters["minus"] = minus
    jinja.filters["unbroken"] = unbroken
    jinja.filters["stop_text"] = stop_of_page
    jinja.filters["caution_text"] = caution_of_page
    jinja.filters["closing"] = closing_of_page
    jinja.filters["in_units"] = in_units
    jinja.filters["unit_words"] = unit_words
    return jinja


def page(name: str, **values: Any) -> str:
    """A page of ours; one of the bench in the words of its ``reader``."""
    made = environment().get_template(f"{name}.html.j2").render(**values)
    reader = values.get("reader")
    if not isinstance(reader, Reader):
        return made
    if reader.language.translations:
        names = [*values["names"], *fuels(), *own_words(values, is_typed=True)]
        names += [name[:1].upper() + name[1:] for name in names]
        names += map(Phrase, gas_titles())
        return in_language(made, reader.language, names, regional(reader.region, names))
    if name in AS_WRITTEN:
        return made
    return for_reader(made, reader.region, (*values["names"], *own_words(values)))


def error_page(
    status: int,
    sentence: str,
    name: str = "error",
    heading: str = "",
    own: Reader = ENGLISH_READER,
    names: Iterable[str] = (),
    **values: Any,
) -> bytes:
    """The page of a refusal: what happened, and the way back; ``name`` is that of its template.

    own : whose words it has; names : what people wrote
    """
    words = heading or STATUS_WORDS.get(status, "This does not work")
    made = page(name, status=status, words=words, sentence=sentence, **values)
    known = tuple(names)
    if own.language.translations:
        made = in_language(made, own.language, known, regional(own.region, known))
    elif own.region:
        made = for_reader(made, own.region, known)
    return made.encode("utf-8")
