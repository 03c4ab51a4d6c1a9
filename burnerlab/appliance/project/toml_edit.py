"""A TOML text with one value changed, added or taken out; every other character of it stays.

The text is changed at the characters where ``toml_lines.index`` finds the value, so that comments, order, spacing and
line breaks are kept by construction and no state is kept between two edits. Comments are never taken out, except with
the entry of a list of tables that they stand at.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from burnerlab.appliance.project.toml_lines import TOKEN, Header, KeyIndex, KeyPath, index, spell
from burnerlab.tables.problem import Problem, UserError

# Values as TOML writes them.

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_NUMBER = re.compile(r"[+-]?(0|[1-9][0-9]{0,30})(\.[0-9]{1,30})?([eE][+-]?[0-9]{1,3})?")
_COMMENT = re.compile(r"([ \t]+)(#[^\n]*)?(?=\n|\Z)")


def text_literal(text: str) -> str:
    """A text in quotes.

    >>> text_literal('1/2 in "x"')
    '"1/2 in \\\\"x\\\\""'
    """
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def number_literal(text: str) -> str:
    """A number as it is written, or a text in quotes where it is none.

    >>> number_literal("0.60"), number_literal("many")
    ('0.60', '"many"')
    """
    return text if _NUMBER.fullmatch(text) else text_literal(text)


def key_literal(name: str) -> str:
    """A key, in quotes where TOML needs them.

    >>> key_literal("elbow"), key_literal("plug cock")
    ('elbow', '"plug cock"')
    """
    return name if _BARE_KEY.fullmatch(name) else text_literal(name)


def table_literal(entries: Sequence[tuple[str, str]]) -> str:
    """A table on one line, of keys and values as TOML writes them."""
    return f"{{ {', '.join(f'{key_literal(name)} = {value}' for name, value in entries)} }}"


# One value changed or added.


@dataclass(frozen=True, slots=True)
class Tables:
    """What an edit must know of the tables of a file: their order, and which of a list may stand alone."""

    order: Sequence[str]  # names of the tables at the top of the file
    alone: frozenset[tuple[str, ...]]  # names from the top to a list that may be written as one table


@dataclass(frozen=True, slots=True)
class Edit:
    """A text with one value changed, or with one key more."""

    text: str
    is_added: bool


def with_value(text: str, path: KeyPath, literal: str, tables: Tables) -> Edit:
    """The text with ``literal`` as the value at ``path``, which is added where it is not there.

    path : keys and numbers of entries, from 0; a number of a table that stands alone is 0
    Raises UserError where an entry before it is missing.
    """
    text = _with_last_line(text)
    keys = index(text)
    spelt = next((one for one in _spellings(path) if one in keys.values), None)
    if spelt is not None:
        return Edit(_replaced(text, keys, *keys.values[spelt], literal), is_added=False)
    return Edit(_with_key(text, keys, path, literal, tables), is_added=True)


def _with_last_line(text: str) -> str:
    return text if not text or text.endswith("\n") else text + "\n"


def _spellings(path: KeyPath) -> Iterator[KeyPath]:
    """A path as it is, and without the number of any table that may stand alone."""
    firsts = [i for i, part in enumerate(path) if part == 0]
    for many in range(len(firsts) + 1):
        for left_out in combinations(firsts, many):
            yield tuple(part for i, part in enumerate(path) if i not in left_out)


def _replaced(text: str, keys: KeyIndex, start: int, end: int, literal: str) -> str:
    """New characters from ``start`` to ``end``; a comment behind keeps its column where there is room."""
    if "\n" in text[start:end]:
        return _with_comments(text, keys, start, end, text[:start] + literal + text[end:])
    line_end = _line_end(text, end)
    outer = max((to for a, to in keys.values.values() if a <= start and to <= line_end), default=end)
    behind = _COMMENT.match(text, outer) if outer >= end else None
    if behind is None or not behind[2] or "\n" in literal:
        return text[:start] + literal + text[end:]
    room = max(1, len(behind[1]) - (len(literal) - (end - start)))
    return text[:start] + literal + text[end:outer] + " " * room + text[behind.end(1) :]


def _with_comments(text: str, keys: KeyIndex, start: int, end: int, edited: str) -> str:
    """The edited text with the comments that stood between the two characters above the key they stood in."""
    comments = [match["comment"] for match in TOKEN.finditer(text, start, end) if match["comment"]]
    outer = [
        at
        for path, at in keys.keys.items()
        if at <= start and not any(path[:m] in keys.values for m in range(1, len(path)))
    ]
    place = text.rfind("\n", 0, max(outer, default=start)) + 1
    return edited[:place] + "".join(f"{comment}\n" for comment in comments) + edited[place:]


def _with_key(text: str, keys: KeyIndex, path: KeyPath, literal: str, tables: Tables) -> str:
    """The text with a key that is not there: in its table as that is written, or with a table of its own."""
    parent, name = path[:-1], str(path[-1])
    for spelt in _spellings(parent):
        span = keys.values.get(spelt)
        if span is not None and text[span[0]] == "{":
            return _into_inline(text, keys, spelt, f"{key_literal(name)} = {literal}")
        header = _header(keys, spelt)
        if header is not None:
            return _below(text, keys, header, name, literal)
        dotted = [one for one in keys.keys if one[: len(spelt)] == spelt and spelt]
        if dotted and not any(one.path[: len(spelt)] == spelt for one in keys.headers):
            beside = _header_before(keys, keys.keys[dotted[-1]])
            inside = spelt[len(beside.path) :] if beside is not None else spelt
            key = ".".join(key_literal(str(part)) for part in (*inside, name))
            return _line_after(text, keys.values[dotted[-1]][1], keys.keys[dotted[-1]], key, literal)
    entry = f"{key_literal(name)} = {literal}\n"
    if len(parent) == 1:
        return _with_section(text, keys, str(parent[0]), f"[{parent[0]}]\n{entry}", tables)
    if isinstance(parent[-1], int):
        return _with_entry(text, keys, parent, table_literal([(name, literal)]), entry, tables)
    return _with_key(text, keys, parent, table_literal([(name, literal)]), tables)


def _with_entry(text: str, keys: KeyIndex, entry: KeyPath, inline: str, lines: str, tables: Tables) -> str:
    """The text with one more entry of a list of tables, inline or under a head of its own."""
    *above, number = entry
    path: KeyPath = tuple(above)
    present = _entries(keys, path)
    if number != len(present):
        what = f"is entry {int(number) + 1} of a list that has {len(present)}"
        raise UserError(Problem(what, key=spell(entry), fix=f"add entry {len(present) + 1} first"))
    heads = [one for one in keys.headers if one.path[: len(path)] == path]
    if heads:
        return _with_last_entry(text, keys, path, heads, lines)
    for spelt in _spellings(path):
        span = keys.values.get(spelt)
        if span is None:
            continue
        if text[span[0]] == "[":
            return _into_inline(text, keys, spelt, inline)
        return text[: span[0]] + f"[{text[slice(*span)]}, {inline}]" + text[span[1] :]
    if len(path) == 1:
        return with_block(text, path, lines, tables)
    names = tuple(part for part in path if isinstance(part, str))
    return _with_key(text, keys, path, inline if names in tables.alone else f"[{inline}]", tables)


def _with_last_entry(text: str, keys: KeyIndex, path: KeyPath, heads: Sequence[Header], lines: str) -> str:
    """An entry below those of [[a.b]]; a table that stood alone becomes the first of a list."""
    end = _comments_to(text, _section_end(text, keys, heads[-1])[1])
    name = ".".join(key_literal(part) for part in path if isinstance(part, str))
    text = f"{text[:end]}\n[[{name}]]\n{lines}{text[end:]}"
    alone = next((one for one in heads if one.path == path), None)
    if alone is None:
        return text
    return f"{text[: alone.start]}[{text[alone.start : alone.end]}]{text[alone.end :]}"


def _entries(keys: KeyIndex, path: KeyPath) -> list[KeyPath]:
    """The entries of a list of tables; one table alone is one entry."""
    length = len(path) + 1
    numbered = dict.fromkeys(
        one[:length]
        for one in (*keys.values, *(header.path for header in keys.headers))
        if len(one) >= length and one[: length - 1] == path and isinstance(one[length - 1], int)
    )
    alone = any(one[: length - 1] == path for one in keys.keys)
    return list(numbered) or ([path] if alone else [])


def _header(keys: KeyIndex, path: KeyPath) -> Header | None:
    return next((one for one in keys.headers if one.path == path), None)


def _header_before(keys: KeyIndex, character: int) -> Header | None:
    return next((one for one in reversed(keys.headers) if one.start <= character), None)


def _section_end(text: str, keys: KeyIndex, header: Header) -> tuple[int, int]:
    """Where the last key under a header starts and its value ends; 0 and the end of the header without one."""
    following = next((one.start for one in keys.headers if one.start > header.start), len(text))
    own = [
        (start, keys.values[one][1])
        for one, start in keys.keys.items()
        if header.start < start < following and not any(one[:m] in keys.values for m in range(1, len(one)))
    ]
    return max(own, default=(0, header.end))


def _below(text: str, keys: KeyIndex, header: Header, name: str, literal: str) -> str:
    """A line for a new key below the last one of its table."""
    start, end = _section_end(text, keys, header)
    return _line_after(text, end, start, key_literal(name), literal)


def _line_after(text: str, end: int, like: int, key: str, literal: str) -> str:
    """A line after the one on which a value ends; its equals sign stands where that of the key at ``like`` does."""
    before = text[text.rfind("\n", 0, like) + 1 : like] if like else ""
    width = text.find("=", like) - like - 1 if like else 0
    line = f"{before if not before.strip() else ''}{key:<{min(max(width, 0), 40)}} = {literal}\n"
    place = _line_end(text, end)
    return text[:place] + "\n" + line.rstrip("\n") + text[place:]


def _line_end(text: str, place: int) -> int:
    end = text.find("\n", place)
    return len(text) if end < 0 else end


def _into_inline(text: str, keys: KeyIndex, path: KeyPath, entry: str) -> str:
    """An entry at the end of a table or list on one line, or on several."""
    start, end = keys.values[path]
    inside = _inside_inline(keys, path)
    if not inside:
        blank = " " if text[start] == "{" else ""
        return text[: start + 1] + f"{blank}{entry}{blank}" + text[end - 1 :]
    first, last = inside[0], inside[-1]
    is_many_lines = "\n" in text[start : first[0]]
    gap = text[start + 1 : first[0]].rpartition("\n")[2] if is_many_lines else ""
    behind = "\n" + gap if is_many_lines and not gap.strip() else " "
    return text[: last[1]] + f",{behind}{entry}" + text[last[1] :]


def _inside_inline(keys: KeyIndex, path: KeyPath) -> list[tuple[int, int]]:
    """From where to where each entry of an inline table or list stands."""
    n = len(path)
    found = []
    for one, (start, end) in keys.values.items():
        if len(one) <= n or one[:n] != path or any(one[:m] in keys.values for m in range(n + 1, len(one))):
            continue
        found.append((keys.keys.get(one, start), end))
    return sorted(found)


# One value taken out.


def without_value(text: str, path: KeyPath) -> str:
    """The text without a key, and without the table or list that it leaves empty; a comment beside it stays."""
    text = _with_last_line(text)
    keys = index(text)
    spelt = next((one for one in _spellings(path) if one in keys.values), None)
    return text if spelt is None else _without(text, keys, spelt)


def _without(text: str, keys: KeyIndex, path: KeyPath) -> str:
    start, end = keys.values[path]
    start = keys.keys.get(path, start)
    around = next((path[:m] for m in range(len(path) - 1, 0, -1) if path[:m] in keys.values), None)
    if around is None:
        return _without_line(text, keys, start, end)
    inside = _inside_inline(keys, around)
    if len(inside) == 1:
        return _without(text, keys, around)
    place = inside.index((start, end))
    start, end = (inside[place - 1][1], end) if place else (start, inside[1][0])
    return _with_comments(text, keys, start, end, text[:start] + text[end:])


def _without_line(text: str, keys: KeyIndex, start: int, end: int) -> str:
    """Without the line of a key; the head of a table goes with its last key."""
    header = _header_before(keys, start)
    text, gone = _with_comments(text, keys, start, end, _cut(text, start, end)), end - start
    if header is None:
        return text
    following = next((one for one in keys.headers if one.start > header.start), None)
    beyond = following.start if following is not None else len(text) + gone
    others = [key for key in keys.keys.values() if header.start < key < beyond and not start <= key < end]
    has_tables = following is not None and following.path[: len(header.path)] == header.path
    return text if others or has_tables else _cut(text, header.start, header.end)


def _cut(text: str, start: int, end: int) -> str:
    """Without the characters from ``start`` to ``end`` and their line, unless a comment stands on it."""
    line_start, line_end = text.rfind("\n", 0, start) + 1, _line_end(text, end)
    rest = text[end:line_end].strip()
    return text[:line_start] + (f"{text[line_start:start]}{rest}\n" if rest else "") + text[line_end + 1 :]


# Entries of a list of tables, each with its comments: [[burner]].


def blocks(text: str, name: str) -> list[tuple[int, int]]:
    """From where to where each [[name]] stands, with the comments at it.

    >>> blocks("# a\\n\\n# the left one\\n[[burner]]\\nrate = 1\\n\\n[x]\\n", "burner")
    [(5, 40)]
    """
    keys = index(text)
    found = []
    for i, header in enumerate(keys.headers):
        if len(header.path) != 2 or header.path[0] != name or not isinstance(header.path[1], int):
            continue
        last = header
        for one in keys.headers[i + 1 :]:
            if one.path[:2] != header.path:
                break
            last = one
        found.append(
            (_comments_from(text, header.start), _comments_to(text, _section_end(text, keys, last)[1]))
        )
    return found


def _comments_from(text: str, place: int) -> int:
    """The start of the line at ``place``, or of the comments that stand on it."""
    start = text.rfind("\n", 0, place) + 1
    while start > 0:
        before = text.rfind("\n", 0, start - 1) + 1
        if not text[before:start].lstrip().startswith("#"):
            break
        start = before
    return start


def _comments_to(text: str, place: int) -> int:
    """The end of the line at ``place``, or of the comments under it that stand at nothing below them."""
    end = min(_line_end(text, place) + 1, len(text))
    below = end
    while below < len(text):
        after = min(_line_end(text, below) + 1, len(text))
        if not text[below:after].lstrip().startswith("#"):
            break
        below = after
    return below if below >= len(text) or not text[below : _line_end(text, below)].strip() else end


def with_block(text: str, path: KeyPath, lines: str, tables: Tables, place: int | None = None) -> str:
    """The text with one more [[name]] of these lines: before entry ``place``, or after the last."""
    name, text = str(path[0]), _with_last_line(text)
    block = lines if lines.lstrip().startswith(("[[", "#")) else f"[[{name}]]\n{lines}"
    present = blocks(text, name)
    if not present:
        return _with_section(text, index(text), name, block, tables)
    if place is not None and place < len(present):
        start = present[place][0]
        return text[:start] + block + "\n" + text[start:]
    end = present[-1][1]
    return text[:end] + "\n" + block + text[end:]


def without_block(text: str, name: str, number: int) -> str:
    """The text without an entry of [[name]], its comments and the blank line below it."""
    start, end = blocks(_with_last_line(text), name)[number]
    text = _with_last_line(text)
    below = _line_end(text, end)
    return text[:start] + (text[below + 1 :] if not text[end:below].strip() else text[end:])


def _with_section(text: str, keys: KeyIndex, name: str, section: str, tables: Tables) -> str:
    """A table of its own, before the first that comes after it in the order of the file."""
    order = list(tables.order)
    later = set(order[order.index(name) + 1 :])
    head = next((one for one in keys.headers if one.path[0] in later), None)
    if head is None:
        return text + ("\n" if text.strip() else "") + section
    start = _comments_from(text, head.start)
    return text[:start] + section + "\n" + text[start:]


def plain(value: Any) -> str:
    """A value as the user reads and writes it: texts as they are, lists with commas, tables as name = value.

    >>> plain(["#54", "1.40 mm"]), plain({"elbow": 2}), plain(True), plain(0.6)
    ('#54, 1.40 mm', 'elbow = 2', 'true', '0.6')
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return ", ".join(f"{name} = {plain(one)}" for name, one in value.items())
    if isinstance(value, list):
        return ", ".join(map(plain, value))
    return str(value)
