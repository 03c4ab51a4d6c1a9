"""The texts of a template of a page, each as the template that it is: what it prints at a place is named there."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from html import escape
from typing import TYPE_CHECKING

from burnerlab.tables.html_text import (
    FIRST_TOKEN,
    KEPT,
    SPOKEN_ATTRIBUTES,
    Element,
    Run,
    page_tree,
    runs,
    sentence,
)
from burnerlab.tables.literal import is_prose

if TYPE_CHECKING:
    from jinja2 import nodes

CUT = "\N{NULL}"  # where another branch of a template begins
FIRST_VALUE = 0xF8000  # behind the signs of elements: what stands for a value of the template
IN_TAG = re.compile(r"<[^>]*>")
SIGNS = re.compile(rf"[{chr(FIRST_TOKEN)}-\U000ffffd]")
TOKEN = rf"[{chr(FIRST_TOKEN)}-{chr(FIRST_VALUE - 1)}]"
BESIDE = re.compile(rf"^(?:{TOKEN}\s+)+|(?:\s+{TOKEN})+$")
SILENT_CALLS = frozenset(
    ("get", "having", "static", "handbook_of", "verdict", "query", "split", "units", "help", "pointed", "needed_with")
)  # fmt: skip
"""Calls whose texts name something."""
SILENT_ARGUMENTS = frozenset(("value",))  # what is sent
CLASSES = ("kind", "lang")  # blocks and macros that stand in a tag
SPEAKING_CALLS = frozenset(
    ("count", "onward", "act", "entry", "differences")
)  # a single small word in it is read as well


@dataclass(slots=True)
class _Flat:
    """A template as one text of HTML, every branch of it behind the other, with a sign for each value."""

    html: str = ""
    values: list[tuple[str, str]] = field(default_factory=list)  # what tells one from another, and its name
    texts: list[list[str]] = field(default_factory=list)  # of the code of each value
    also: list[str] = field(default_factory=list)  # of code that prints nothing where it stands


def template_texts(source: str) -> Iterator[str]:
    """The texts of a template, in their order: of elements, of attributes that are read, and of its code.

    >>> list(template_texts('<p title="A unit">Unit <b>{{ one.serial }}</b>{% if x %}, on {{ gas }}{% endif %}</p>'))
    ['A unit', 'Unit', 'on {gas}']
    >>> list(template_texts('<p>{{ "Go on" if x else "Not yet" }}</p>{{ field(a, "Read it now.") }}'))
    ['Go on', 'Not yet', 'Read it now.']
    """
    from jinja2 import Environment

    flat = _Flat()
    _flatten(Environment(trim_blocks=True, lstrip_blocks=True).parse(source).body, flat)
    html = IN_TAG.sub(lambda tag: tag[0].replace(CUT, ""), flat.html)
    found: dict[str, None] = {}
    for text in (*_of_element(page_tree(html), flat), *flat.also):
        found.setdefault(text)
    yield from found


def _flatten(body: Iterable[nodes.Node], flat: _Flat) -> None:
    from jinja2 import nodes

    for node in body:
        if isinstance(node, nodes.Output):
            for one in node.nodes:
                _output(one, flat)
        elif isinstance(node, (nodes.Macro, nodes.Block, nodes.CallBlock, nodes.With)):
            if getattr(node, "name", "") not in CLASSES:
                flat.html += CUT
                _flatten(node.body, flat)
                flat.html += CUT
        elif isinstance(node, nodes.If):
            flat.html += CUT
            _flatten(node.body, flat)
            for branch in node.elif_:
                flat.html += CUT
                _flatten([branch], flat)
            flat.html += CUT
            _flatten(node.else_, flat)
            flat.html += CUT
        elif isinstance(node, nodes.For):
            flat.also += _code_texts(node.iter, is_read=False)
            flat.html += CUT
            _flatten(node.body, flat)
            flat.html += CUT
            _flatten(node.else_, flat)
            flat.html += CUT
        elif isinstance(node, nodes.Assign):
            flat.also += _code_texts(node.node, is_read=False)


def _output(node: nodes.Node, flat: _Flat) -> None:
    from jinja2 import nodes

    if isinstance(node, nodes.TemplateData):
        flat.html += node.data
    elif isinstance(node, nodes.Const):
        flat.html += escape(str(node.value))
    elif isinstance(node, nodes.CondExpr) and (node.expr2 is None or node.expr2 == nodes.Const("")):
        flat.html += CUT  # printed or not: a branch of the text about it
        _output(node.expr1, flat)
        flat.html += CUT
    elif isinstance(node, nodes.Concat) and any(isinstance(one, nodes.Const) for one in node.nodes):
        for one in node.nodes:
            _output(one, flat)
    else:
        flat.html += chr(FIRST_VALUE + len(flat.values))
        flat.values.append((repr(node), _name(node)))
        flat.texts.append(list(_code_texts(node, is_read=True)))


def _code_texts(node: nodes.Node | None, *, is_read: bool) -> Iterator[str]:
    """Texts of the code of a template; is_read : a single small word is read as well"""
    from jinja2 import nodes

    if isinstance(node, nodes.Const):
        if isinstance(node.value, str) and is_prose(node.value, is_read=is_read):
            yield node.value.strip(" ,;:")
    elif isinstance(node, nodes.CondExpr):
        yield from _code_texts(node.expr1, is_read=True)
        yield from _code_texts(node.expr2, is_read=True)
    elif isinstance(node, nodes.Concat) and any(isinstance(one, nodes.Const) for one in node.nodes):
        flat = _Flat()
        _output(node, flat)
        if is_prose(SIGNS.sub("", flat.html), is_read=is_read):
            yield from (
                _template(part, flat) for part in flat.html.split(CUT) if is_prose(part, is_read=True)
            )
        yield from (text for texts in flat.texts for text in texts)
    elif isinstance(node, nodes.Call):
        called = _name(node)
        if called not in SILENT_CALLS:
            named = (each.value for each in node.kwargs if each.key not in SILENT_ARGUMENTS)
            for one in (*node.args, *named):
                yield from _code_texts(one, is_read=called in SPEAKING_CALLS)
    elif isinstance(node, (nodes.Filter, nodes.Getitem)):
        yield from _code_texts(node.node, is_read=is_read)
    elif isinstance(node, nodes.Dict):
        for pair in node.items:
            yield from _code_texts(pair.value, is_read=True)
    elif isinstance(node, (nodes.List, nodes.Tuple)):
        for one in node.items:
            yield from _code_texts(one, is_read=is_read)
    elif isinstance(node, nodes.Or):
        yield from _code_texts(node.right, is_read=True)


def _name(node: nodes.Node) -> str:
    """What a value of a template is called: its variable, attribute, key or macro."""
    from jinja2 import nodes

    while True:
        if isinstance(node, nodes.Name):
            return node.name
        if isinstance(node, nodes.Getattr):
            return node.attr
        if isinstance(node, nodes.Getitem):
            if isinstance(node.arg, nodes.Const) and isinstance(node.arg.value, str):
                return re.sub(r"\W", "_", node.arg.value)
            node = node.node
        elif isinstance(node, nodes.Call):
            if _name(node.node) == "get" and node.args and isinstance(node.args[0], nodes.Const):
                return re.sub(r"\W", "_", str(node.args[0].value))
            node = node.node
        elif isinstance(node, nodes.Filter) and node.node is not None:
            node = node.node
        elif isinstance(node, nodes.Concat):
            node = node.nodes[0]
        elif isinstance(node, (nodes.CondExpr, nodes.Or)):
            return "either"
        else:
            return "value"


def _of_element(element: Element, flat: _Flat) -> Iterator[str]:
    for name in SPOKEN_ATTRIBUTES:
        if name in element.attributes:
            yield from _of_text(element.attributes[name], flat)
    if element.tag in KEPT:
        return
    for one in runs(element):
        if isinstance(one, Element):
            yield from _of_element(one, flat)
        else:
            yield from _of_run(one, flat)


def _of_run(run: Run, flat: _Flat) -> Iterator[str]:
    yield from _of_text(sentence(run), flat, [one.tag for one in run if isinstance(one, Element)])
    for one in run:
        if isinstance(one, Element):
            yield from _of_element(one, flat)


def _of_text(text: str, flat: _Flat, tags: Iterable[str] = ()) -> Iterator[str]:
    for part in text.split(CUT):
        bare = BESIDE.sub("", part.strip().lstrip(",;:.)\N{MIDDLE DOT}").strip()).rstrip("(").strip()
        bare = re.sub(r"^\(([^()]*)\)$", r"\1", bare)
        if re.search(r"[^\W\d_]{2,}", SIGNS.sub("", bare)):
            yield _template(bare, flat, tags)
        for sign in SIGNS.findall(part):
            if ord(sign) >= FIRST_VALUE:
                yield from flat.texts[ord(sign) - FIRST_VALUE]


def _template(text: str, flat: _Flat, tags: Iterable[str] = ()) -> str:
    """A text with a {place} for each value and element; one name is one value."""
    known, own = dict[str, str](), [NAMES_OF_TAGS.get(tag, "mark") for tag in tags]

    def place(sign: re.Match[str]) -> str:
        number = ord(sign[0])
        key, name = (
            flat.values[number - FIRST_VALUE]
            if number >= FIRST_VALUE
            else (sign[0], own[number - FIRST_TOKEN])
        )
        if key not in known:
            count, made = 2, name
            while made in known.values():
                made, count = f"{name}{count}", count + 1
            known[key] = made
        return f"{{{known[key]}}}"

    return SIGNS.sub(place, text)


NAMES_OF_TAGS = {"a": "link", "button": "button", "strong": "strong", "select": "choice", "span": "part"}


SAY = re.compile(r'\bsay\("([^"]+)"')


def script_texts(source: str) -> Iterator[str]:
    """What a script of ours says: the first argument of each call of its ``say``.

    >>> list(script_texts('go.textContent = say("Timing {number}", { number });'))
    ['Timing {number}']
    """
    yield from dict.fromkeys(SAY.findall(source))
