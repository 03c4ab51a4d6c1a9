"""Read a project file: every problem at once, each with its line."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from burnerlab.appliance import lookups
from burnerlab.appliance.lines import index
from burnerlab.appliance.model import REGIONS, Appliance
from burnerlab.appliance.problems import FileProblems, Problems
from burnerlab.appliance.project import ProjectFile
from burnerlab.appliance.read_on import read_on
from burnerlab.appliance.syntax import Parsed, parse, parse_on
from burnerlab.appliance.textfile import read_text
from burnerlab.quantity.error import Problem, UserError

DID_YOU_MEAN = re.compile(r"did you mean (\w+)\?")


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
    data = parsed.data
    file = FileProblems(root=ProjectFile, name=name, lines=index(parsed.text), data=data)
    reading = read_on(ProjectFile, data, _context(data), parsed.unread)
    problems = [*parsed.problems, *(one for detail in reading.wrong for one in file.said(detail))]
    found = Problems(data=data, unread=reading.unread)
    appliance = None
    if reading.file is not None:
        appliance = lookups.appliance(reading.file, Path(name), found)
        problems += [
            file.placed(problem, path) for path, problem in found.problems if not reading.unread.touch(path)
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
