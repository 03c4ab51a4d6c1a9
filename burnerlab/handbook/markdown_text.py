"""Markdown of the handbook: headings with their anchors, links, blocks of code. Tables are read, HTML is not."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from markdown_it import MarkdownIt
    from markdown_it.token import Token


@cache
def parser() -> MarkdownIt:
    """CommonMark with tables; HTML in a page is text."""
    from markdown_it import MarkdownIt

    return MarkdownIt("commonmark", {"html": False}).enable("table")


def tokens(text: str) -> list[Token]:
    """What a page consists of."""
    return parser().parse(text)


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading: level 1 to 6, words, the anchor that links name, its line from 0."""

    level: int
    title: str
    anchor: str
    line: int


@dataclass(frozen=True, slots=True)
class CodeBlock:
    """A block of code: its language, text, line from 1, and the file that it is saved as, "" where it is none."""

    language: str
    text: str
    line: int
    file: str = ""


def anchor_of(title: str) -> str:
    """The anchor of a heading: its letters and digits in lower case, hyphens between the words.

    >>> anchor_of("Light-back, cold and hot (recalled)"), anchor_of("`supply.pressure`")
    ('light-back-cold-and-hot-recalled', 'supplypressure')
    """
    return re.sub(r"\s", "-", re.sub(r"[^\w\s-]", "", title.lower()).strip())


def plain(token: Token) -> str:
    """The words of an inline token without their marks."""
    return "".join(
        " " if child.type in ("softbreak", "hardbreak") else child.content
        for child in token.children or ()
        if child.type in ("text", "code_inline", "softbreak", "hardbreak")
    )


HEADING, FENCE, MARKED = (
    re.compile(r"(#{1,6}) (.*)"),
    re.compile(r"```+|~~~+"),
    re.compile(r"[*\[<&!]|(?<!\\)_"),
)


@cache
def headings(text: str) -> tuple[Heading, ...]:
    """The headings of a page; the second of equal ones has -1 after its anchor, the third -2.

    Found line by line: a search reads those of every page, and the whole grammar takes ten times as long.

    >>> [one.anchor for one in headings("# Gas\\n\\n## Wobbe index\\n\\n## Wobbe index\\n")]
    ['gas', 'wobbe-index', 'wobbe-index-1']
    """
    made: list[Heading] = []
    count: dict[str, int] = {}
    fence = ""
    for number, line in enumerate(text.split("\n")):
        if mark := FENCE.match(line):
            fence = "" if fence and line.startswith(fence) else fence or mark[0]
        elif not fence and (found := HEADING.match(line)):
            title = _title(found[2].strip())
            base = anchor_of(title)
            before = count.get(base, 0)
            count[base] = before + 1
            anchor = f"{base}-{before}" if before else base
            made.append(Heading(len(found[1]), title, anchor, number))
    return tuple(made)


def _title(text: str) -> str:
    """The words of a heading without their marks."""
    return plain(parser().parseInline(text)[0]) if MARKED.search(text) else re.sub(r"`|\\(?=\W|_)", "", text)


def code_blocks(text: str) -> Iterator[CodeBlock]:
    """Blocks of code in order; one that is only indented has no language. A second word names the file it is saved as.

    >>> [(one.language, one.line, one.file) for one in code_blocks("# A\\n\\n```csv stock.csv\\n1,1\\n```\\n")]
    [('csv', 3, 'stock.csv')]
    """
    for token in _walk(tokens(text)):
        if token.type in ("fence", "code_block"):
            language, _, file = token.info.strip().partition(" ")
            yield CodeBlock(language, token.content, (token.map or [0])[0] + 1, file.strip())


def links(text: str) -> Iterator[str]:
    """Targets of links and pictures of a page, as they are written.

    >>> list(links("See [gas](gas.md#wobbe-index) and ![map](heat.png)."))
    ['gas.md#wobbe-index', 'heat.png']
    """
    for token in _walk(tokens(text)):
        target = token.attrGet("href") if token.type == "link_open" else token.attrGet("src")
        if target is not None and token.type in ("link_open", "image"):
            yield str(target)


def _walk(every: Sequence[Token]) -> Iterator[Token]:
    for token in every:
        yield token
        yield from _walk(token.children or ())


def address_of(target: str, topic: str) -> str:
    """A link of a page as the address that ``burnerlab handbook`` takes; one that leads elsewhere as it is.

    >>> address_of("gas.md#wobbe-index", "supply"), address_of("#hose", "supply"), address_of("gas.md", "supply")
    ('gas#wobbe-index', 'supply#hose', 'gas')
    """
    if target.startswith("#"):
        return f"{topic}{target}"
    page, mark, anchor = target.partition("#")
    return f"{page.removesuffix('.md')}{mark}{anchor}" if page.endswith(".md") else target


# Markdown of the generated chapters.


def escaped(text: str) -> str:
    """A text in which no sign is a mark of Markdown.

    >>> escaped("2*x_1 < [3]")
    '2\\\\*x\\\\_1 \\\\< \\\\[3\\\\]'
    """
    return re.sub(r"([\\`*_<>\[\]#|])", r"\\\1", text)


def code(text: str) -> str:
    """A text as code; nothing of nothing.

    >>> code("burner[].name"), code("")
    ('`burner[].name`', '')
    """
    return f"`{text.replace('`', chr(39)).replace('|', chr(92) + '|')}`" if text else ""


def table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table; cells are Markdown, without line breaks.

    >>> print(table(("key", "unit"), [("`x_mm`", "mm")]))
    | key | unit |
    |---|---|
    | `x_mm` | mm |
    """
    lines = [heads, ["---"] * len(heads), *rows]
    first, rule, *others = (f"| {' | '.join(' '.join(cell.split()) for cell in row)} |" for row in lines)
    return "\n".join([first, rule.replace(" ", ""), *others])


def sentence(text: str) -> str:
    """A text with a capital letter at its start and a full stop.

    >>> sentence("when a test stops")
    'When a test stops.'
    """
    text = text.strip()
    return text and text[0].upper() + text[1:] + ("" if text.endswith((".", ":", "?", "!")) else ".")
