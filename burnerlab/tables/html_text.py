"""The texts of a page as they are read: each sentence whole, with what stands inside it at its place."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from html import unescape
from html.parser import HTMLParser

VOID = frozenset(
    ("area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr")
)
INLINE = frozenset(
    (
        "a", "abbr", "b", "br", "button", "cite", "code", "em", "i", "img", "input", "kbd", "mark", "picture", "q",
        "select", "small", "span", "strong", "sub", "sup", "svg", "time", "var", "wbr",
    )
)  # fmt: skip
"""Elements that stand inside a sentence."""
APART = frozenset(("select", "svg", "picture"))  # in a sentence, but with texts of their own
KEPT = frozenset(("script", "style", "textarea", "code", "pre"))  # no text of these is prose
SPOKEN_ATTRIBUTES = ("aria-label", "placeholder", "title", "alt", "data-label", "label")
FIRST_TOKEN = 0xF0000  # of the fifteenth plane, for private use: what stands for an element in a sentence


@dataclass(slots=True)
class Element:
    """An element of a page; ``start`` and ``end`` are its tags as they are written."""

    tag: str = ""
    start: str = ""
    end: str = ""
    attributes: dict[str, str] = field(default_factory=dict)
    children: list[Element | str] = field(default_factory=list)  # a text as it is written

    @property
    def html(self) -> str:
        inner = "".join(one if isinstance(one, str) else one.html for one in self.children)
        return f"{self.start}{inner}{self.end}"


Run = list["Element | str"]
"""What is read as one: texts with the elements inside them."""


class _Parser(HTMLParser):
    """Each tag and text as it is written; a tag that closes nothing is left out."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=False)
        self.open = [Element()]

    def _add(self, text: str) -> None:
        own = self.open[-1].children
        if own and isinstance(own[-1], str):
            own[-1] += text
        else:
            own.append(text)

    def _element(self, tag: str, attrs: list[tuple[str, str | None]]) -> Element:
        values = {name: value or "" for name, value in attrs}
        made = Element(tag=tag, start=self.get_starttag_text() or "", attributes=values)
        self.open[-1].children.append(made)
        return made

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        made = self._element(tag, attrs)
        if tag not in VOID:
            self.open.append(made)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._element(tag, attrs)

    def handle_endtag(self, tag: str) -> None:
        at = next((at for at in range(len(self.open) - 1, 0, -1) if self.open[at].tag == tag), 0)
        if at:
            self.open[at].end = f"</{tag}>"
            del self.open[at:]

    def handle_data(self, data: str) -> None:
        self._add(data)

    def handle_entityref(self, name: str) -> None:
        self._add(f"&{name};")

    def handle_charref(self, name: str) -> None:
        self._add(f"&#{name};")

    def handle_comment(self, data: str) -> None:
        self._add(f"<!--{data}-->")

    def handle_decl(self, decl: str) -> None:
        self.open[-1].children.append(Element(start=f"<!{decl}>"))


def page_tree(html: str) -> Element:
    """A page, or a part of it, as a tree that can be written out again as it is.

    >>> page_tree("<p>3 &lt; 4 <b>kW</b></p>").html
    '<p>3 &lt; 4 <b>kW</b></p>'
    """
    parser = _Parser()
    parser.feed(html)
    parser.close()
    return parser.open[0]


def runs(element: Element) -> Iterator[Run | Element]:
    """What of an element is read as one, and its blocks, in their order."""
    run: Run = []
    for child in element.children:
        if isinstance(child, str) or child.tag in INLINE:
            run.append(child)
            continue
        if run:
            yield run
            run = []
        yield child
    if run:
        yield run


def sentence(run: Run) -> str:
    """A run as a sentence: a sign for private use in the place of each element.

    >>> sentence(next(runs(page_tree("Corrects <a>the one</a>\\n before")))).replace(chr(FIRST_TOKEN), "~")
    'Corrects ~ before'
    """
    parts, number = [], FIRST_TOKEN
    for one in run:
        if isinstance(one, str):
            parts.append(unescape(one))
        else:
            parts.append(chr(number))
            number += 1
    return re.sub(r"\s+", " ", "".join(parts))
