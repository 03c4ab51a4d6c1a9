"""Read a project file: every problem at once, each with its line."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import replace
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

from burnerlab.appliance.examples import example, first_key, with_unit, written
from burnerlab.appliance.keys import table_keys
from burnerlab.appliance.lines import KeyIndex, KeyPath, index, spell
from burnerlab.appliance.model import REGIONS, Appliance
from burnerlab.appliance.project import ProjectFile, table_at
from burnerlab.appliance.syntax import Parsed, parse, parse_on
from burnerlab.appliance.textfile import read_text
from burnerlab.quantity.error import Problem, UserError, did_you_mean
from burnerlab.quantity.inputs import NEEDS_UNIT, words_of

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails

DID_YOU_MEAN = re.compile(r"did you mean (\w+)\?")
OTHER_WORDS = {
    "bore": "diameter",
    "size": "drill",
    "power": "rate",
    "input": "rate",
}  # for keys


def read_appliance(path: str | os.PathLike[str]) -> Appliance:
    """The appliance that a project file (TOML) describes.

    path : file name
    Returns the Appliance in SI.
    Raises UserError with every problem of the file: its line, key, value, what is accepted and one fix.

    >>> from burnerlab.tables import package_dir
    >>> cart = read_appliance(package_dir() / "appliance" / "demo.toml")
    >>> cart.name, len(cart.burners)
    ('market cart range', 6)
    """
    name = os.fspath(path)
    file = read_text(path)
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
    return parse(text, name)


def appliance_of(data: dict[str, Any], name: str, text: str = "") -> Appliance:
    """The appliance that the keys and values of a project file describe; ``text`` gives complaints their lines."""
    return _appliance(Parsed(data=data, text=text.removeprefix("\ufeff")), name)


def _appliance(parsed: Parsed, name: str) -> Appliance:
    """The appliance, or every problem of the file in one error."""
    from burnerlab.appliance import lookups
    from burnerlab.appliance.problems import Problems
    from burnerlab.appliance.read_on import read_on

    lines, data = index(parsed.text), parsed.data
    reading = read_on(data, _context(data), parsed.unread)
    problems = list(parsed.problems)
    problems += [one for detail in reading.wrong for one in _problems(detail, name, lines, data)]
    found = Problems(data=data, unread=reading.unread)
    appliance = None
    if reading.file is not None:
        appliance = lookups.appliance(reading.file, Path(name), found)
        problems += [
            _placed(problem, path, data, name, lines)
            for path, problem in found.problems
            if not reading.unread.touch(path)
        ]
    if appliance is not None and not problems:
        return appliance
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
    }


def _problems(detail: ErrorDetails, name: str, lines: KeyIndex, data: Mapping[str, Any]) -> list[Problem]:
    """One complaint of pydantic in our words."""
    path: KeyPath = tuple(detail["loc"])
    base = Problem("", key=spell(path), file=name, line=lines.line(path), value=_shown(detail["input"]))
    cause = detail.get("ctx", {}).get("error")
    if isinstance(cause, UserError):
        problems = [_of_value(problem, base, path, lines) for problem in cause.problems]
        return [_with_unit(problem, path, data, detail["input"]) for problem in problems]
    kind = detail["type"]
    if kind == "extra_forbidden":
        known = _known_keys(path)
        fix = _unknown_key_fix(path, known)
        return [replace(base, what=f"unknown key {path[-1]}", accepted=", ".join(known), fix=fix)]
    if kind == "missing":
        what, fix = _missing(path, data)
        return [replace(base, what=what, value="", fix=fix)]
    if kind == "dict_type":
        what = f"must be a table, got {words_of(detail['input'])}"
        keys = _known_keys((*path, ""))
        part = first_key(path) or (keys[0], example((*path, keys[0]), data)[0] or "...")
        if path[-1] == "orifice" and isinstance(detail["input"], str):
            part = (part[0], detail["input"])
        fix = f"write {path[-1]} = {written(dict([part]))}"
        if isinstance(path[-1], int):
            fix = (
                f"write {written(dict([part]))}"
                if len(path) > 2
                else f"write [[{path[0]}]] with its keys below"
            )
        elif len(path) == 1:
            fix = f"write [{base.key}] with its keys below"
        return [replace(base, what=what, accepted=f"a table of {', '.join(keys)}", fix=fix)]
    if kind == "list_type":
        what = f"must be a list, got {words_of(detail['input'])}"
        value = example(path, data)[0]
        fix = f"write {path[-1]} = {written(value)}" if value else f"write [[{base.key}]] for each"
        return [replace(base, what=what, accepted="a list", fix=fix)]
    if kind in ("too_short", "too_long"):
        return [
            replace(
                base, what="needs 1 to 200 entries", value="", fix="describe each burner under [[burner]]"
            )
        ]
    return [replace(base, what=f"cannot be used: {detail['msg'][:80]}", fix="see the demonstration file")]


def _of_value(problem: Problem, base: Problem, path: KeyPath, lines: KeyIndex) -> Problem:
    """A complaint about a value, or about one key inside a table, at its full key path."""
    inner = tuple(problem.key.split(".")) if problem.key else ()
    return replace(
        problem,
        key=".".join((base.key, *inner)),
        file=base.file,
        line=lines.line((*path, *inner)),
        value=base.value or problem.value,
    )


def _with_unit(problem: Problem, path: KeyPath, data: Mapping[str, Any], given: Any) -> Problem:
    """For a number without a unit, the unit that the file uses for its like."""
    if not (problem.what == NEEDS_UNIT or problem.what.startswith("a bare number")):
        return problem
    if path[-1] == "altitude":
        return replace(problem, accepted="m, ft", fix=f'write "{given} m" or "{given} ft"')
    meant = with_unit(path, data, given)
    return replace(problem, fix=f'write "{meant}" if that is its unit') if meant else problem


def _missing(path: KeyPath, data: Mapping[str, Any]) -> tuple[str, str]:
    """What to say of a key that is not there, with a value to copy."""
    if path == ("appliance", "rating"):
        return "rating basis missing: gross or net", 'add rating = "gross" or rating = "net"'
    if path == ("burner",):
        return "is missing: an appliance needs a burner", "add [[burner]] with name, rate and orifice"
    if len(path) == 1:
        needed = [key for key, one in table_keys(table_at(path) or ProjectFile).items() if one.is_needed]
        keys = ", ".join(f"{key} = {written(example((*path, key), data)[0])}" for key in needed)
        return "is missing", f"add [{path[0]}] with {keys}"
    value, hint = example(path, data)
    return "is missing", f"add {path[-1]} = {written(value)}{', ' + hint if hint else ''}"


def _unknown_key_fix(path: KeyPath, known: list[str]) -> str:
    """The key that was meant, or the table where this one belongs."""
    if get_close_matches(str(path[-1]), known, n=1, cutoff=0.6):
        return did_you_mean(path[-1], known)
    if OTHER_WORDS.get(str(path[-1])) in known:
        return f"did you mean {OTHER_WORDS[str(path[-1])]}?"
    top = table_keys(ProjectFile)
    if path[-1] in top:
        return f"it is a table of its own: {_header(str(path[-1]))}"
    homes = [table for table in ("burner", "supply", "appliance") if path[-1] in _known_keys((table, ""))]
    return f"it belongs in {_header(homes[0])}" if homes else "leave it out, or write one of these"


def _header(table: str) -> str:
    """How the file writes the head of a table."""
    return f"[[{table}]]" if table_keys(ProjectFile)[table].key.is_list else f"[{table}]"


def _known_keys(path: KeyPath) -> list[str]:
    """Keys that the table around an unknown key may hold."""
    return list(table_keys(table_at(path[:-1]) or ProjectFile))


def _shown(value: Any) -> str:
    if isinstance(value, dict | list):
        return ""
    return ("true" if value else "false") if isinstance(value, bool) else str(value)


def _placed(problem: Problem, path: KeyPath, data: Any, name: str, lines: KeyIndex) -> Problem:
    """A problem met while building, with the line and value of its key; one in another file keeps its place there."""
    if problem.file:
        return problem
    value = data
    for part in path:
        try:
            value = value[part]
        except (KeyError, IndexError, TypeError):
            value = ""
            break
    inside = problem.key and problem.key.startswith(spell(path))
    key = problem.key if inside else spell(path)
    own_line = lines.line((*path, *problem.key[len(spell(path)) + 1 :].split("."))) if inside else 0
    return replace(
        problem,
        key=key,
        file=name,
        line=own_line or lines.line(path),
        value=problem.value or _shown(value),
    )
