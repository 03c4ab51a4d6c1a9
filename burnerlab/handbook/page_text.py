"""Pages of the handbook as HTML: for the site of plain files, the desk and the bench."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from itertools import groupby
from typing import TYPE_CHECKING, Any

from burnerlab.handbook.contents import HandbookPage, pages
from burnerlab.handbook.markdown_text import address_of, headings, parser
from burnerlab.handbook.notebooks import NotebookPage
from burnerlab.tables import package_dir

if TYPE_CHECKING:
    from jinja2 import Environment
    from markdown_it import MarkdownIt
    from markdown_it.token import Token
    from markupsafe import Markup

AnyPage = HandbookPage | NotebookPage
Address = Callable[[str], str]
"""Where a page, TOPIC or TOPIC#HEADING, is found; "" is the contents."""
OF_KEYS = ["key", "unit"]  # heads of a table that fits a narrow page once its keys break
FEW_HEADINGS = 3  # of a page, that need no list above it


@cache
def templates() -> Environment:
    """What puts a page together; everything is escaped, what is missing is an error."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(
        loader=FileSystemLoader(package_dir() / "handbook"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )


def article_html(
    page: AnyPage, address: Address, picture: Address, more: Sequence[NotebookPage] = ()
) -> Markup:
    """A page with its part, the list of its headings, and the pages before and after it; more : that follow ours."""
    every: tuple[AnyPage, ...] = (*pages(), *more)
    place = [one.topic for one in every].index(page.topic)
    around = {
        "before": every[place - 1] if place else None,
        "after": every[place + 1] if place + 1 < len(every) else None,
    }
    below = [one for one in page.headings if one.level == 2]
    return _made(
        "article",
        page=page,
        body=body_html(page.text, page.topic, address, picture),
        below=below if len(below) > FEW_HEADINGS else [],
        address=address,
        **around,
    )


def contents_html(address: Address, more: Sequence[NotebookPage] = ()) -> Markup:
    """The contents by part, every page a link; more : pages that follow ours."""
    every: tuple[AnyPage, ...] = (*pages(), *more)
    parts = [(part, list(its)) for part, its in groupby(every, key=lambda page: page.part)]
    return _made("contents_list", parts=parts, address=address)


def _made(template: str, **values: Any) -> Markup:
    from markupsafe import Markup

    return Markup(templates().get_template(f"{template}.html.j2").render(**values))


def body_html(text: str, topic: str, address: Address, picture: Address) -> Markup:
    """Markdown as HTML: headings have their anchors, links lead where ``address`` says, wide things scroll.

    >>> str(body_html("See [hose](supply.md#hose).", "gas", lambda at: f"/handbook/{at}", str))
    '<p>See <a href="/handbook/supply#hose">hose</a>.</p>\\n'
    """
    from markupsafe import Markup

    reader = _writer()
    tokens = reader.parse(text)
    anchors = iter(headings(text))
    for place, token in enumerate(tokens):
        if token.type == "heading_open":
            token.attrSet("id", next(anchors).anchor)
        elif token.type == "th_open" and tokens[place + 1].content:
            token.attrSet("scope", "col")
        elif token.type == "th_open":  # heads nothing: a cell
            token.tag = tokens[place + 2].tag = "td"
        if token.type == "th_open" and tokens[place - 2].type == "thead_open":
            token.attrSet(
                "tabindex", "0"
            )  # not the table: a browser puts the middle of what has the keys in view
        for child in token.children or ():
            _lead(child, topic, address, picture)
    return Markup(reader.renderer.render(tokens, reader.options, {}))


@cache
def _writer() -> MarkdownIt:
    """The reader of pages with our own way to write tables and code."""
    made = parser()
    made.add_render_rule("table_open", _table_open)
    made.add_render_rule("table_close", _table_close)
    made.add_render_rule("fence", _code)
    made.add_render_rule("code_block", _code)
    made.add_render_rule("code_inline", _name)
    made.add_render_rule("image", _image)
    return made


def _name(writer: Any, tokens: Sequence[Token], place: int, options: Any, env: Any) -> str:
    """A word of code, which a narrow page may break behind an underscore; what is copied has no sign of it."""
    from html import escape

    return f"<code>{escape(tokens[place].content).replace('_', '_<wbr>')}</code>"


def _lead(token: Token, topic: str, address: Address, picture: Address) -> None:
    """Point a link or a picture to where it is found."""
    if token.type == "link_open":
        target = str(token.attrGet("href"))
        at = address_of(target, topic)
        token.attrSet("href", target if "://" in target else address(at))
    elif token.type == "image":
        file = str(token.attrGet("src"))
        token.attrSet("src", picture(file))
        if (
            picture(file) != file
        ):  # drawn once it is looked at; a file that came late would move what has the keys
            token.attrSet("loading", "lazy")


def _table_open(writer: Any, tokens: Sequence[Token], place: int, options: Any, env: Any) -> str:
    heads = []
    for token in tokens[place:]:
        if token.type == "thead_close":
            break
        if token.type == "inline":
            heads.append(token.content.replace("`", ""))
    from html import escape

    label = escape(f"Table: {', '.join(filter(None, heads))}")
    kind = "scroll of-keys" if heads[:2] == OF_KEYS else "scroll"
    return f'<div class="{kind}" role="group" aria-label="{label}"><table>\n'


def _table_close(writer: Any, tokens: Sequence[Token], place: int, options: Any, env: Any) -> str:
    return "</table></div>\n"


def _code(writer: Any, tokens: Sequence[Token], place: int, options: Any, env: Any) -> str:
    from html import escape

    token = tokens[place]
    kind = escape(token.info.strip().partition(" ")[0] or "text")
    start = '<span tabindex="0" role="group" aria-label="Code"></span>'  # as with a table: not all of it
    return f'<pre class="code {kind}">{start}<code>{escape(token.content, quote=False)}</code></pre>\n'


def _image(writer: Any, tokens: Sequence[Token], place: int, options: Any, env: Any) -> str:
    """A picture with its words, in a frame that scrolls where the page is narrower than its letters need."""
    from html import escape

    token = tokens[place]
    words, source = escape(token.content), escape(str(token.attrGet("src")))
    late = ' loading="lazy"' if token.attrGet("loading") else ""
    start = '<span tabindex="0" role="group" aria-label="Picture"></span>'  # as with a table: not all of it
    return f'<span class="picture">{start}<img src="{source}" alt="{words}"{late}></span>'
