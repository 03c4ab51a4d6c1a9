"""Lines of a TOML text: where each key stands, and which lines are no TOML.

The standard parser gives no lines for values and runs into Python's recursion limit on deep nesting, so this
scan goes over the text once, without recursion. It does not judge syntax: where it cannot follow, it stops
and leaves the complaint to the parser.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.toml_mistake import mistake

# On which line of a TOML text each key stands, and what must be refused before a parser sees the text.

KeyPath = tuple[str | int, ...]

DEEPEST_NESTING = 32
MOST_KEY_PARTS = 16
LONGEST_KEY = 200
LONGEST_NUMBER = 100
TEXTS = 8  # remembered: an edit, its check and its reading go over one text

OPENS = re.compile(r"^[ \t]*\[.*$", re.MULTILINE)
HEAD = re.compile(
    r"\s*(\[\[?)[ \t]*([A-Za-z0-9_-]+(?:\.[A-Za-z0-9_-]+)*)[ \t]*(\]\]?)[ \t]*(?:#[^\x00-\x1f\x7f]*)?"
)
BODIES = 512  # remembered: those of some texts as they are edited

TOKEN = re.compile(
    r"""[ \t\r]*(?:(?P<mark>[\[\]{},=.])|(?P<bare>[^\s\[\]{},=.\#"']+)|(?P<newline>\n)|(?P<comment>\#[^\n]*)
    |(?P<long>\"\"\"(?:[^\\]|\\.)*?\"\"\"|'''.*?''')
    |(?P<text>"(?:[^"\\\n]|\\.)*"|'[^'\n]*')|(?P<odd>.))""",
    re.VERBOSE | re.DOTALL,
)


@dataclass(frozen=True, slots=True)
class Header:
    """The head of a table, ``[supply]``, or of an entry of a list of tables, ``[[burner]]``."""

    path: KeyPath
    start: int  # character of its first bracket
    end: int  # character behind its last


@dataclass(frozen=True, slots=True)
class KeyIndex:
    """Where each key path of a TOML text stands, and what is wrong with its keys; characters count from 0."""

    lines: Mapping[KeyPath, int]
    problems: tuple[Problem, ...] = ()
    keys: Mapping[KeyPath, int] = field(default_factory=dict)  # first character of a key before its "="
    values: Mapping[KeyPath, tuple[int, int]] = field(default_factory=dict)  # of its value, from and to
    headers: tuple[Header, ...] = ()

    def line(self, path: KeyPath) -> int:
        """The line of ``path``, else of its nearest parent, else 0. A single table counts as a list of one.

        >>> index('[a]\\nb = 1').line(("a", "b", "gone")), index('[a]\\nb = 1').line(("a", 0, "b"))
        (2, 2)
        """
        while path:
            alone = (path[:i] + path[i + 1 :] for i, part in enumerate(path) if part == 0)
            for spelt in (path, *alone):
                if spelt in self.lines:
                    return self.lines[spelt]
            path = path[:-1]
        return 0


@dataclass(frozen=True, slots=True)
class Unread:
    """Key paths of a file that could not be read; what rests on them is left out."""

    paths: frozenset[KeyPath] = frozenset()

    def touch(self, path: KeyPath) -> bool:
        """Whether a key, something inside it or the table around it could not be read.

        >>> found = Unread(frozenset({("supply", "regulator", "set")}))
        >>> found.touch(("supply", "regulator")), found.touch(("supply", "regulator", "droop"))
        (True, False)
        """
        return any(path[: len(one)] == one or one[: len(path)] == path for one in self.paths)

    def name_of(self, table: str) -> bool:
        """Whether the name of any entry of a list of tables could not be read."""
        return any(one[0] == table and (len(one) < 3 or one[2] == "name") for one in self.paths)


def spell(path: KeyPath) -> str:
    """A key path as people write it; list entries count from 1.

    >>> spell(("burner", 0, "orifice", "drill"))
    'burner[1].orifice.drill'
    """
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text


@dataclass(slots=True)
class _Frame:
    """An open bracket: an array counts its entries, an inline table waits for keys."""

    path: KeyPath
    is_array: bool
    entry: int = 0


@dataclass(slots=True)
class _Scan:
    lines: dict[KeyPath, int] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    tables: dict[KeyPath, int] = field(default_factory=dict)
    counts: dict[KeyPath, int] = field(default_factory=dict)
    table: KeyPath = ()
    frames: list[_Frame] = field(default_factory=list)
    key: list[str] = field(default_factory=list)
    header: int = 0  # open brackets of a table header
    in_value: bool = False
    path: KeyPath = ()
    number: int = 0  # characters of the bare value so far
    line: int = 1
    stop: bool = False
    start: int = 0  # characters of the word at hand
    end: int = 0
    first: int = 0  # character of the key or header at hand
    keys: dict[KeyPath, int] = field(default_factory=dict)
    values: dict[KeyPath, tuple[int, int]] = field(default_factory=dict)
    headers: list[Header] = field(default_factory=list)

    def complain(self, what: str, path: KeyPath, *, accepted: str = "", fix: str = "") -> None:
        self.problems.append(
            Problem(what, key=spell(path)[:LONGEST_KEY], line=self.line, accepted=accepted, fix=fix)
        )

    def absolute(self, parts: list[str]) -> KeyPath:
        """``parts`` from the root, with the newest entry of every array of tables on the way."""
        path: KeyPath = ()
        for part in parts:
            path = (*path, part)
            if path in self.counts:
                path = (*path, self.counts[path] - 1)
        return path

    def note_key(self, base: KeyPath) -> None:
        """A key before ``=``: remember its line, refuse a second one."""
        path = base
        for part in self.key:
            path = (*path, part)
            self.lines.setdefault(path, self.line)
        if path in self.tables:
            self.complain(f"is given twice, first on line {self.tables[path]}", path, fix="keep one of them")
        self.tables[path] = self.line
        self.keys[path] = self.first
        self.path, self.key, self.in_value, self.number = path, [], True, 0

    def note_header(self) -> None:
        """A table header is complete."""
        parent = self.absolute(self.key[:-1])
        path = (*parent, self.key[-1])
        if self.header == 2:
            self.counts[path] = self.counts.get(path, 0) + 1
            self.lines.setdefault(path, self.line)
            path = (*path, self.counts[path] - 1)
        elif path in self.tables:
            self.complain(f"is given twice, first on line {self.tables[path]}", path, fix="keep one of them")
        self.lines.setdefault(path, self.line)
        self.tables[path] = self.line
        # the second bracket of a list is still to come
        self.headers.append(Header(path, self.first, self.end + (self.header == 2)))
        self.table, self.key, self.header = path, [], 0

    def add_key(self, text: str) -> None:
        if len(text) > LONGEST_KEY or len(self.key) >= MOST_KEY_PARTS:
            self.complain(
                "key is too long",
                (*self.key[:2], text[:20]),
                accepted=f"{MOST_KEY_PARTS} parts of {LONGEST_KEY} characters",
            )
            self.stop = True
        if not self.key and not self.header:
            self.first = self.start
        self.key.append(text)

    def extend_value(self) -> None:
        """The word at hand belongs to the value of the key at hand."""
        self.values[self.path] = self.values.get(self.path, (self.start, self.end))[0], self.end

    def open_frame(self, mark: str) -> None:
        self.lines.setdefault(self.path, self.line)
        self.extend_value()
        self.frames.append(_Frame(self.path, mark == "["))
        if len(self.frames) > DEEPEST_NESTING:
            self.complain("nested too deeply", self.path[:2], accepted=f"{DEEPEST_NESTING} levels")
            self.stop = True
        if mark == "[":
            self.path = (*self.path, 0)
        self.in_value, self.number = mark == "[", 0

    def value_mark(self, mark: str) -> None:
        """Punctuation inside a value."""
        top = self.frames[-1] if self.frames else None
        if mark in "[{":
            self.open_frame(mark)
        elif mark in "]}" and top:
            self.frames.pop()
            self.path, self.in_value = top.path, True
            self.extend_value()
        elif mark == "," and top:
            self.number, self.in_value = 0, top.is_array
            if top.is_array:
                top.entry += 1
                self.path = (*top.path, top.entry)
        elif mark not in ".,":
            self.stop = True
        elif mark == ".":
            self.extend_value()

    def key_mark(self, mark: str) -> None:
        """Punctuation where a key or a header is expected."""
        if mark == "=" and self.key and not self.header:
            self.note_key(self.frames[-1].path if self.frames else self.table)
        elif mark == "[" and not self.key and not self.frames and self.header < 2:
            self.first = self.first if self.header else self.start
            self.header += 1
        elif mark == "]" and self.header and self.key:
            self.note_header()
        elif mark == "}" and self.frames and not self.key:
            self.value_mark(mark)
        elif mark not in "]." or (mark == "." and not self.key):
            self.stop = True

    def take(self, kind: str, text: str) -> None:
        if self.in_value and kind in ("bare", "text", "long"):
            self.lines.setdefault(self.path, self.line)
            self.extend_value()
        if kind == "newline":
            if not self.frames:
                self.in_value, self.key, self.header = False, [], 0
        elif kind == "mark":
            (self.value_mark if self.in_value else self.key_mark)(text)
        elif kind in ("bare", "text") and not self.in_value:
            self.add_key(text[1:-1] if kind == "text" else text)
        elif kind == "bare":
            self.number += len(text)
            if self.number > LONGEST_NUMBER:
                self.complain("value is out of range: too many digits", self.path)
                self.stop = True
        elif kind == "odd":
            self.stop = True

    def add_body(self, base: KeyPath, body: _Scan, line: int, start: int) -> bool:
        """Take what stands under a head from a scan of it alone; False where a key of it stands before.

        line, start : of the text at its first character, less one; so many more characters stand before it
        """
        at = {path: (*base, *path) for path in body.lines}
        if any(at[path] in self.tables for path in body.tables):
            return False
        for path, number in body.lines.items():
            self.lines.setdefault(at[path], line + number)
        self.tables |= {at[path]: line + number for path, number in body.tables.items()}
        self.keys |= {at[path]: start + first for path, first in body.keys.items()}
        self.values |= {
            at[path]: (start + first, start + last) for path, (first, last) in body.values.items()
        }
        return True

    def run(self, text: str, start: int, end: int) -> None:
        """Go over a part of a text."""
        for match in TOKEN.finditer(text, start, end):
            kind = match.lastgroup or "odd"
            if kind != "comment":
                self.start, self.end = match.span(kind)
                self.take(kind, match[kind])
            if self.stop:
                break
            if kind in ("newline", "long"):
                self.line += match[kind].count("\n")

    def key_index(self) -> KeyIndex:
        return KeyIndex(
            lines=self.lines,
            problems=tuple(self.problems),
            keys=self.keys,
            values=self.values,
            headers=tuple(self.headers),
        )


@lru_cache(maxsize=TEXTS)
def index(text: str) -> KeyIndex:
    """Where the keys of a TOML text stand; of the texts used last it is remembered, to be read and not changed.

    >>> found = index('[[burner]]\\nname = "a"\\n[[burner]]\\nname = "b"\\norifice = { drill = "#54" }')
    >>> found.lines["burner", 1, "orifice", "drill"]
    5
    >>> index("a = 1\\na = 2").problems[0].text()
    'a: is given twice, first on line 1; keep one of them'
    """
    return _index_by_tables(text) or whole_index(text)


def whole_index(text: str) -> KeyIndex:
    """``index`` by one scan over all of a text, whatever of it stood in a text before."""
    scan = _Scan()
    scan.run(text, 0, len(text))
    return scan.key_index()


def _index_by_tables(text: str) -> KeyIndex | None:
    """The same from what stands under each head; None where that is not whole by itself, or something is wrong."""
    scan, at, line = _Scan(), 0, 0
    for head in (*OPENS.finditer(text), None):
        end = len(text) if head is None else head.start()
        body = _scanned_body(text[at:end])
        if body is None or not scan.add_body(scan.table, body, line, at):
            return None
        if head is not None:
            scan.line = line = line + body.line
            scan.run(text, end, head.end())
            if scan.stop or scan.header or scan.key or scan.in_value or scan.problems:
                return None
            at, line = head.end(), line - 1
    return scan.key_index()


@lru_cache(maxsize=BODIES)
def _scanned_body(text: str) -> _Scan | None:
    scan = _Scan()
    scan.run(text, 0, len(text))
    is_whole = not (scan.stop or scan.problems or scan.frames or scan.key or scan.header)
    return scan if is_whole else None


# Lines of a project file that are no TOML, left out so that the rest can be read too.

MOST_LINES = 50
TWICE = "is given twice"


Float = Callable[[str], Any]
"""What a number with a point or an exponent is read with."""


def loads(text: str, parse_float: Float = float) -> dict[str, Any]:
    """``tomllib.loads``, each table that stood in a text before remembered; to be read and not changed.

    >>> loads('a = 1.50\\n[[burner]]\\nname = "left"\\n[burner.ports]\\ncount = 72', str)
    {'a': '1.50', 'burner': [{'name': 'left', 'ports': {'count': 72}}]}
    """
    made = _by_tables(text, parse_float)
    return tomllib.loads(text, parse_float=parse_float) if made is None else made


def _by_tables(text: str, parse_float: Float) -> dict[str, Any] | None:
    """The tables of a text under plain heads; None where one is written in another way, or is no TOML by itself.

    A body that is whole TOML by itself ends where a table may begin, so that the next line is a head.
    """
    heads = list(OPENS.finditer(text))
    ends = [*(head.start() for head in heads), len(text)]
    try:
        root = dict(_body(text[: ends[0]], parse_float))
        own = {id(root)}  # tables and lists of tables that heads made
        for line, end in zip(heads, ends[1:], strict=True):
            head = HEAD.fullmatch(line[0])
            body = dict(_body(text[line.end() : end], parse_float))
            if head is None or len(head[1]) != len(head[3]) or not _put(root, own, head, body):
                return None
    except (tomllib.TOMLDecodeError, ValueError, RecursionError):
        return None
    return root


def _put(root: dict[str, Any], own: set[int], head: re.Match[str], body: dict[str, Any]) -> bool:
    """Put a table where its head says; False where it is for the parser to say whether it may stand there."""
    *above, name = head[2].split(".")
    table = root
    for part in above:
        if part not in table:
            table[part] = {}
            own.add(id(table[part]))
        inner = table[part]
        if id(inner) not in own:
            return False
        table = inner[-1] if isinstance(inner, list) else inner
    is_list = len(head[1]) == 2
    if is_list and name not in table:
        table[name] = []
        own.add(id(table[name]))
    elif name in table and not (is_list and isinstance(table[name], list) and id(table[name]) in own):
        return False
    own.add(id(body))
    if is_list:
        table[name].append(body)
    else:
        table[name] = body
    return True


@lru_cache(maxsize=BODIES)
def _body(text: str, parse_float: Float) -> dict[str, Any]:
    return tomllib.loads(text, parse_float=parse_float)


@dataclass(frozen=True, slots=True, kw_only=True)
class Parsed:
    """The keys and values of a text, without the lines that are none; ``unread`` are the keys on those."""

    data: dict[str, Any]
    text: str  # those lines left empty
    problems: tuple[Problem, ...] = ()
    unread: frozenset[KeyPath] = frozenset()


def parse(text: str, name: str) -> dict[str, Any]:
    """The keys and values of a text as TOML holds them, to be read. Raises UserError with the line that is none."""
    try:
        return loads(text)
    except (tomllib.TOMLDecodeError, ValueError) as error:
        what, line, fix = mistake(text, error)
        raise UserError(Problem(what, file=name, line=line, fix=fix)) from None
    except RecursionError:
        raise UserError(
            Problem("cannot read: nested too deeply", file=name, fix="flatten the file")
        ) from None


def parse_on(text: str, name: str) -> Parsed:
    """The same without lines that are wrong in themselves: a broken value, or a key that stands twice.

    Raises UserError where what is wrong cannot be left out, with what was found until then.
    """
    lines, problems, unread = text.split("\n"), list[Problem](), set[KeyPath]()
    for _ in range(MOST_LINES):
        text = "\n".join(lines)
        keys = index(text)
        if keys.problems:
            problem = keys.problems[0]
            problems.append(replace(problem, file=name))
            if not (problem.what.startswith(TWICE) and _is_assignment(lines[problem.line - 1])):
                raise UserError(problems)
            lines[problem.line - 1] = ""
            continue
        try:
            return Parsed(
                data=parse(text, name), text=text, problems=tuple(problems), unread=frozenset(unread)
            )
        except UserError as error:
            problem = error.problems[0]
            problems.append(problem)
            if not 0 < problem.line <= len(lines) or not _is_broken(lines[problem.line - 1]):
                break
            unread |= {path for path, line in keys.lines.items() if line == problem.line}
            lines[problem.line - 1] = ""
    raise UserError(problems)


def _is_assignment(line: str) -> bool:
    """Whether a line gives a key a whole value by itself."""
    try:
        return "=" in line and bool(tomllib.loads(line))
    except (tomllib.TOMLDecodeError, ValueError, RecursionError):
        return False


def _is_broken(line: str) -> bool:
    """Whether a line that gives a key a value is no TOML by itself; one that opens a bracket must close it."""
    key, equals, value = line.partition("=")
    value = value.partition("#")[0].strip()
    opens = value[:1] in ("[", "{")
    if not equals or not key.strip() or (opens and value[-1:] not in ("]", "}")):
        return False
    return not _is_assignment(line)
