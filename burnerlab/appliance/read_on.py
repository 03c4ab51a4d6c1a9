"""Reading on past what is wrong in a project file, so that one round tells everything that is wrong with it.

What could not be read is left out, or stands as an example where the file must have it. Checks that rest on it are not
told: neither those of the same key, nor those of the table around it.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Generic, TypeVar, cast

from burnerlab.appliance.examples import FAR_m, example, first_key
from burnerlab.appliance.keys import key_at, listed, validator
from burnerlab.appliance.lines import KeyPath, Unread, index
from burnerlab.appliance.problems import FileProblems, Problems
from burnerlab.appliance.syntax import Parsed
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails

MOST_ROUNDS = 12
STANDING = ("grate", "shield", "box")
DID_YOU_MEAN = re.compile(r"did you mean (\w+)\?")
T = TypeVar("T")
R = TypeVar("R")


@dataclass(slots=True)
class PartialFile(Generic[T]):
    """A file as far as it could be read."""

    file: T | None
    wrong: list[ErrorDetails] = field(default_factory=list)
    unread: Unread = field(default_factory=Unread)


def read_file(
    root: type[T],
    parsed: Parsed,
    name: str,
    make: Callable[[T, Problems], R | None],
    context: Mapping[str, Any] = MappingProxyType({}),
) -> R:
    """What a file of declared keys describes.

    root : its tables; name : printed in complaints; context : what the reading of one value must know of another
    make : the thing, from the tables as they were read; what is wrong between them goes into the Problems
    Raises UserError with every problem of the file.
    """
    file = FileProblems(root=root, name=name, lines=index(parsed.text), data=parsed.data)
    reading = read_on(root, parsed.data, context, parsed.unread)
    problems = [*parsed.problems, *(one for detail in reading.wrong for one in file.said(detail))]
    found = Problems(data=parsed.data, unread=reading.unread)
    made = None
    if reading.file is not None:
        made = make(reading.file, found)
        problems += [
            file.placed(problem, path) for path, problem in found.problems if not reading.unread.touch(path)
        ]
    if made is not None and not problems:
        return made
    problems = _without_slips(problems)
    unique = {(problem.file, problem.line, problem.text()): problem for problem in problems}
    raise UserError([unique[key] for key in sorted(unique, key=lambda key: (key[0] != name, *key))])


def _without_slips(problems: list[Problem]) -> list[Problem]:
    """The problems without those keys that are missing only because they are there under a name spelt wrong."""
    meant = {
        f"{problem.key.rpartition('.')[0]}.{slip[1]}"
        for problem in problems
        if problem.what.startswith("unknown key") and (slip := DID_YOU_MEAN.fullmatch(problem.fix))
    }
    return [one for one in problems if not (one.fix.startswith("add ") and one.key in meant)]


def read_on(
    root: type[T], data: Mapping[str, Any], context: Mapping[str, Any], unread: frozenset[KeyPath]
) -> PartialFile[T]:
    """The words of a file with everything left out that they do not allow, and every complaint on the way.

    root : the tables of the file; data : as TOML holds it; context : what the reading of one value must know of another
    unread : keys on lines that are no TOML
    """
    from pydantic_core import ValidationError

    found, rest = PartialFile[T](file=None, unread=Unread(unread)), listed(root, data)
    reader = validator(cast(type, root))
    for _ in range(MOST_ROUNDS):
        try:
            found.file = reader.validate_python(rest, context=context)
            return found
        except ValidationError as error:
            details = error.errors(include_url=False)
        before, places = found.unread, set[KeyPath]()
        for detail in details:
            path = tuple(detail["loc"])
            if not before.touch(path):
                found.wrong.append(detail)
            places |= {
                _mend(root, rest, place, detail["type"] == "missing") for place in _places(detail, path)
            }
        found.unread = Unread(before.paths | places)
    return found


def _places(detail: ErrorDetails, path: KeyPath) -> list[KeyPath]:
    """The keys a complaint is about: of a table's own check, those it names."""
    cause = detail.get("ctx", {}).get("error")
    given = detail["input"]
    if isinstance(cause, UserError) and isinstance(given, dict):
        named = [problem.key for problem in cause.problems if problem.key in given]
        if named:
            return [(*path, key) for key in dict.fromkeys(named)]
    return [path]


def _mend(root: type, data: dict[str, Any], path: KeyPath, missing: bool) -> KeyPath:
    """Leave a key out; where the file must have it, an example stands in its place the next time.

    Returns what is not read of it: the key, or the one that makes a table whole whose own check fails.
    """
    parent = _inside(data, path[:-1])
    key = path[-1]
    if parent is None:
        return path
    if path[0] in STANDING and len(path) > 1 and isinstance(path[1], int):
        _aside(data, path)
    if isinstance(parent, list):
        if isinstance(key, int) and key < len(parent):
            parent[key] = _whole(path, parent[key])
        return path
    if not missing and key in parent:
        whole = first_key(path, root)
        if whole and isinstance(parent[key], dict) and whole[0] not in parent[key]:
            parent[key] = {**parent[key], whole[0]: whole[1]}
            return (*path, whole[0])
        del parent[key]
        return path
    declared, value = key_at(path, root), example(path, data, root)[0] or {}
    is_list = declared is not None and declared.key.is_list
    parent[key] = copy.deepcopy([value] if is_list else value)
    return path


def _whole(path: KeyPath, entry: Any) -> Any:
    """An entry of a list whose own check failed, or that is no table: without what it holds."""
    return {} if path[0] != "burner" or not isinstance(entry, dict) else {"name": entry.get("name", "")}


def _aside(data: dict[str, Any], path: KeyPath) -> None:
    """Move a thing that is not whole away from all others, so that its place says nothing of them."""
    entry = _inside(data, path[:2])
    if isinstance(entry, dict) and isinstance(path[1], int):
        entry["x"] = f"{-FAR_m + 0.1 * path[1]:g} m"
        entry["y"] = f"{FAR_m - STANDING.index(str(path[0])):g} m"


def _inside(data: Any, path: KeyPath) -> Any:
    """What stands at a path, None where nothing does."""
    for part in path:
        try:
            data = data[part]
        except (KeyError, IndexError, TypeError):
            return None
    return data
