"""Read a project file: every problem at once, each with its line."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from burnerlab.appliance import lookups
from burnerlab.appliance.lines import index
from burnerlab.appliance.model import REGIONS, Appliance
from burnerlab.appliance.project import ProjectFile
from burnerlab.appliance.read_on import read_file
from burnerlab.appliance.syntax import Parsed, parse, parse_on
from burnerlab.appliance.textfile import read_text
from burnerlab.tables.problem import UserError


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
    make = partial(lookups.appliance, Path(name))
    return read_file(ProjectFile, parsed, name, make, _context(parsed.data))


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
