"""A project file read to an appliance: every problem at once, each with its line.

What could not be read is left out, or stands as an example where the file must have it. Checks that rest on it are left
out: those of the same key and those of the table around it.
"""

from __future__ import annotations

import copy
import hashlib
import os
import re
import stat
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Generic, TypeVar, cast

from burnerlab.appliance.project import lookups
from burnerlab.appliance.project.file_tables import ProjectFile
from burnerlab.appliance.project.keys import key_at, listed, validator
from burnerlab.appliance.project.model import REGIONS, Appliance, system_of_region
from burnerlab.appliance.project.problems import FAR_m, FileProblems, Problems, example, first_key
from burnerlab.appliance.project.toml_lines import KeyPath, Parsed, Unread, index, parse, parse_on
from burnerlab.quantity.prose import problem_in
from burnerlab.tables import package_dir
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails

# Read a small text file that a user named, and complain clearly about everything that is not one.

STANDARD_INPUT = "-"  # in place of a file name
LARGEST_BYTES = 1024 * 1024  # 1 MiB: a project file is a few KiB, and parsing time grows with the size


@dataclass(frozen=True, slots=True)
class TextFile:
    """The text of a file and the SHA-256 of its bytes."""

    text: str
    sha256: str


def _refuse(what: str, name: str, fix: str = "") -> UserError:
    return UserError(Problem(what, value=name, key="file", fix=fix))


def _read_bytes(name: str) -> bytes:
    if "\0" in name:
        raise _refuse("a file name cannot hold a NUL character", name, "write the name without it")
    try:
        # without O_NONBLOCK opening a fifo would wait for a writer for ever
        handle = os.open(name, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except FileNotFoundError:
        raise _refuse("there is no such file", name, "check the name") from None
    except PermissionError:
        what = "is a folder, not a regular file" if Path(name).is_dir() else "may not be read by this user"
        raise _refuse(what, name, "name a project file that you may read") from None
    except OSError as error:
        raise _refuse(f"cannot be opened: {error.strerror or error}", name, "check the name") from None
    with os.fdopen(handle, "rb") as stream:
        status = os.fstat(stream.fileno())
        if not stat.S_ISREG(status.st_mode):
            kind = "a folder" if stat.S_ISDIR(status.st_mode) else "a device or a pipe"
            raise _refuse(f"is {kind}, not a regular file", name, "name a project file (TOML)")
        data = stream.read(LARGEST_BYTES + 1)
    if len(data) > LARGEST_BYTES:
        raise _refuse(
            "file is larger than 1 MiB", name, "a project file holds text only; move data elsewhere"
        )
    return data


def read_text(path: str | os.PathLike[str]) -> TextFile:
    """The text of a regular UTF-8 file of at most 1 MiB; a UTF-8 byte order mark is accepted.

    path : file name
    Returns the text with its hash.
    Raises UserError for a folder, a device, a missing or unreadable file, a file too large or not UTF-8.

    >>> read_text("gone.toml")
    Traceback (most recent call last):
    burnerlab.tables.problem.UserError: file = "gone.toml": there is no such file; check the name
    """
    name = os.fspath(path)
    try:
        data = _read_bytes(name)
    except (ValueError, IsADirectoryError) as error:
        if isinstance(error, UserError):
            raise
        raise _refuse("is not a regular file", name, "name a project file (TOML)") from None
    return _text_of(data, name)


def read_input(path: str | os.PathLike[str]) -> tuple[TextFile, str]:
    """The text of a file as ``read_text`` reads it, or of the standard input for "-", and what complaints call it."""
    name = os.fspath(path)
    if name != STANDARD_INPUT:
        return read_text(path), name
    data = sys.stdin.buffer.read(LARGEST_BYTES + 1)
    if len(data) > LARGEST_BYTES:
        raise _refuse("input is larger than 1 MiB", name, "a project file holds text only")
    return _text_of(data, "standard input"), "standard input"


def _text_of(data: bytes, name: str) -> TextFile:
    """The text of UTF-8 bytes. Raises UserError with the line that is not."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        what = "is not plain UTF-8 text"
        if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
            what += " (it starts with a UTF-16 byte order mark)"
        raise UserError(Problem(what, file=name, line=line, fix="save the file as UTF-8")) from None
    return TextFile(text.replace("\r\n", "\n"), hashlib.sha256(data).hexdigest())


# Reading on past what is wrong in a project file, so that one round tells everything that is wrong with it.

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


def _region_of(data: Mapping[str, Any]) -> str:
    """That the keys of a file name, before they are looked into; "" where they name none, or wrongly."""
    table = data.get("appliance")
    region = table.get("region") if isinstance(table, Mapping) else None
    return region.strip().lower() if isinstance(region, str) else ""


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
    problems = [*parsed.problems, *(one for detail in reading.wrong for one in file.problems_of(detail))]
    found = Problems(data=parsed.data, unread=reading.unread)
    result = None
    if reading.file is not None:
        result = make(reading.file, found)
        problems += [
            file.placed(problem, path) for path, problem in found.problems if not reading.unread.touch(path)
        ]
    if result is not None and not problems:
        return result
    system = system_of_region(_region_of(parsed.data)) or "metric"
    problems = [problem_in(problem, system) for problem in _without_slips(problems)]
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
    value = detail["input"]
    if isinstance(cause, UserError) and isinstance(value, dict):
        named = [problem.key for problem in cause.problems if problem.key in value]
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


# Read a project file: every problem at once, each with its line.


def read_appliance(path: str | os.PathLike[str]) -> Appliance:
    """The appliance that a project file (TOML) describes.

    path : file name, "-" for the standard input
    Returns the Appliance in SI.
    Raises UserError with every problem of the file: its line, key, value, what is accepted and one fix.

    >>> from burnerlab.tables import package_dir
    >>> cart = read_appliance(package_dir() / "appliance" / "demo.toml")
    >>> cart.name, len(cart.burners)
    ('market cart range', 6)
    """
    file, name = read_input(path)
    return replace(read_appliance_text(file.text, name), file_sha256=file.sha256)


def read_appliance_text(text: str, name: str = "text") -> Appliance:
    """The appliance that the text of a project file describes; ``name`` is printed in complaints."""
    return _appliance(parse_on(text.removeprefix("\ufeff"), name), name)


def project_data(text: str, name: str = "text") -> dict[str, Any]:
    """The keys and values of a project file as TOML holds them, not yet looked into."""
    text = text.removeprefix("\ufeff")
    lines = index(text)
    if lines.problems:
        raise UserError([replace(problem, file=name) for problem in lines.problems])
    return copy.deepcopy(parse(text, name))  # those who vary a file write into it


def appliance_of(data: dict[str, Any], name: str, text: str = "") -> Appliance:
    """The appliance that the keys and values of a project file describe; ``text`` gives complaints their lines."""
    return _appliance(Parsed(data=data, text=text.removeprefix("\ufeff")), name)


def _appliance(parsed: Parsed, name: str) -> Appliance:
    make = partial(lookups.appliance, Path(name))
    context = _context(parsed.data) | {"folder": Path(name).parent}
    return read_file(ProjectFile, parsed, name, make, context)


def _context(data: Mapping[str, Any]) -> dict[str, Any]:
    """What the reading of one value must know of another."""
    names = ("appliance", "supply", "tables")
    appliance, supply, own = (part if isinstance(part, dict) else {} for part in map(data.get, names))
    basis = appliance.get("rating")
    return {
        "region": appliance.get("region") if appliance.get("region") in REGIONS else "",
        "basis": basis if basis in ("gross", "net") else "",
        "allow_high": supply.get("allow_high_pressure") is True,
        "own_tables": tuple(own),
        "own_gas": data.get("gas"),
    }


# The appliance files of a folder: kits, studies and drafts of the desk may lie beside them.

DRAFT_ENDING = ".draft.toml"
APPLIANCE_TABLE = re.compile(r"^\s*\[\s*appliance\s*\]", re.MULTILINE)


def is_folder(text: str) -> bool:
    """Whether a user named a folder."""
    return "\0" not in text and Path(text).is_dir()


def files_of_folder(text: str, key: str) -> tuple[Path, ...]:
    """The appliance files of a folder, in the order of their names. Raises UserError where it has none."""
    files = tuple(one for one in sorted(Path(text).glob("*.toml")) if _is_appliance(one))
    if not files:
        raise UserError(Problem("the folder has no appliance file", value=text, key=key))
    return files


def _is_appliance(path: Path) -> bool:
    if path.name.endswith(DRAFT_ENDING) or not path.is_file():
        return False
    return APPLIANCE_TABLE.search(path.read_text(encoding="utf-8", errors="replace")) is not None


# The demonstration: an invented cooking cart for market stalls, shipped with the package.


def demonstration_path() -> Path:
    """The project file of the demonstration."""
    return package_dir() / "appliance" / "demo.toml"


def demonstration() -> Appliance:
    """The demonstration appliance: six burners on natural gas at 7 in w.c., at sea level.

    >>> demonstration().supply.gas.name
    'natural-gas-typical'
    """
    return read_appliance(demonstration_path())
