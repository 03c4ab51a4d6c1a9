"""Lines of a project file that are no TOML, left out so that the rest can be read too."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, replace
from typing import Any

from burnerlab.appliance.lines import KeyPath, index
from burnerlab.tables.problem import Problem, UserError

AT_LINE = re.compile(r"\s*\(at line (\d+), column \d+\)|\s*\(at end of document\)")
MOST_LINES = 50
TWICE = "is given twice"


@dataclass(frozen=True, slots=True, kw_only=True)
class Parsed:
    """The keys and values of a text, without the lines that are none; ``unread`` are the keys on those."""

    data: dict[str, Any]
    text: str  # those lines left empty
    problems: tuple[Problem, ...] = ()
    unread: frozenset[KeyPath] = frozenset()


def parse(text: str, name: str) -> dict[str, Any]:
    """The keys and values of a text as TOML holds them. Raises UserError with the line that is none."""
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, ValueError) as error:
        match = AT_LINE.search(str(error))
        line = int(match[1]) if match and match[1] else text.count("\n") + 1
        what = "is not TOML: " + AT_LINE.sub("", str(error)).strip()
        problem = Problem(what, file=name, line=line, fix="check quotes and brackets on this line")
        raise UserError(problem) from None
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
