"""A page of the handbook in a terminal of 80 columns; without colours where the output is no terminal."""

from __future__ import annotations

import re
from io import StringIO
from typing import ClassVar

from markdown_it.token import Token
from rich.console import Console, ConsoleOptions, RenderResult
from rich.markdown import CodeBlock, Heading, Markdown, MarkdownElement, TableElement
from rich.table import Table
from rich.text import Text

from burnerlab.handbook.markdown_text import address_of, code_blocks, tokens

WIDTH = 80
CODE_PLACE = "\N{OBJECT REPLACEMENT CHARACTER}"  # where a block of code stands, before its lines are put in
LINES = {"h1": "=", "h2": "-", "h3": "~"}  # below a heading


class LeftHeading(Heading):
    """A heading at the left, the title underlined with a line of its own."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        text = self.text.copy()
        text.justify = "left"
        text.stylize("bold")
        yield text
        if line := LINES.get(self.tag):
            yield Text(line * min(text.cell_len, options.max_width))


class FoldedTable(TableElement):
    """A table whose long words fold, so that nothing is cut off; those of the first column stay whole, to be copied."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        for made in super().__rich_console__(console, options):
            if isinstance(made, Table):
                for column in made.columns:
                    column.overflow = "fold"
                _keep_names_whole(made, options.max_width)
            yield made


def _keep_names_whole(made: Table, width: int) -> None:
    """Give the first column the width of its longest word, where an even share of the line would cut it."""
    first = made.columns[0]
    longest = max((len(word) for cell in first.cells for word in str(cell).split()), default=0)
    if longest + 2 > width // len(made.columns):
        first.width = min(longest, width // 2)


class PlaceOfCode(CodeBlock):
    """The line at which a block of code is put in, whole: what is copied from a terminal must be what is saved."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        yield Text(CODE_PLACE)


class TerminalMarkdown(Markdown):
    """Markdown whose links are addresses that ``burnerlab handbook`` takes."""

    elements: ClassVar[dict[str, type[MarkdownElement]]] = {
        **Markdown.elements,
        "heading_open": LeftHeading,
        "table_open": FoldedTable,
        "fence": PlaceOfCode,
        "code_block": PlaceOfCode,
    }

    def __init__(self, text: str, topic: str) -> None:
        super().__init__("", hyperlinks=False)
        self.parsed = [_without_links(token, topic) for token in tokens(text)]


def _without_links(token: Token, topic: str) -> Token:
    """The token with the address of a link in brackets behind its words."""
    if not token.children:
        return token
    children: list[Token] = []
    target = words = ""
    for child in token.children:
        if child.type == "link_open":
            target, words = address_of(str(child.attrGet("href")), topic), ""
        elif child.type == "link_close":
            if target != words:
                children.append(Token("text", "", 0, content=f" ({target})"))
            target = ""
        elif child.type == "image":
            children.append(Token("text", "", 0, content=f"[picture: {child.content}]"))
        else:
            words += child.content
            children.append(child)
    return token.copy(children=children)


def terminal_text(text: str, topic: str = "", *, is_terminal: bool = False) -> str:
    """Markdown as lines of at most 80 columns, code as it is written; bold and italic where the output is a terminal.

    >>> print(terminal_text("# Gas\\n\\nSee [the hose](supply.md#hose)."), end="")
    Gas
    ===
    <BLANKLINE>
    See the hose (supply#hose).
    """
    stream = StringIO()
    console = Console(
        file=stream,
        width=WIDTH,
        force_terminal=is_terminal,
        color_system="standard" if is_terminal else None,
        highlight=False,
    )
    console.print(TerminalMarkdown(text, topic))
    lines = stream.getvalue().strip("\n").split("\n")
    printed = "\n".join(line if is_terminal else line.rstrip() for line in lines)
    blocks = (one.text.rstrip("\n") for one in code_blocks(text))
    whole = re.sub(f".*{CODE_PLACE}.*", lambda _: next(blocks), re.sub(r"\n{3,}", "\n\n", printed))
    return f"{whole}\n"
