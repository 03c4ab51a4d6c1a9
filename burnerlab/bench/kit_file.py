"""Read the parts list of a conversion kit (TOML): every problem at once, each with its line."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

from burnerlab.appliance.problems import Problems
from burnerlab.appliance.read_on import read_file
from burnerlab.appliance.syntax import parse_on
from burnerlab.appliance.textfile import read_text
from burnerlab.bench.kit import Kit


def read_kit(path: str | os.PathLike[str]) -> Kit:
    """The kit that a parts list describes.

    Raises UserError with every problem of the file.
    """
    file = read_text(path)
    return replace(read_kit_text(file.text, Path(path).name), sha256=file.sha256)


def read_kit_text(text: str, file: str = "text") -> Kit:
    """The kit that the text of a parts list describes; ``file`` is printed in complaints.

    >>> kit = read_kit_text('''
    ... name = "propane kit"
    ... scale = { resolution = "1 g", repeatability = "0.5 g" }
    ... [[part]]
    ... name = "regulator"
    ... mass = "310 g"
    ... scatter = "1.5 g"
    ... ''')
    >>> kit.parts[0].mass_kg
    0.31
    """
    return read_file(Kit, parse_on(text, file), file, _each_part_once)


def _each_part_once(kit: Kit, found: Problems) -> Kit:
    """Two parts of one name, or of one label, cannot be told apart."""
    for name in ("name", "code"):
        values = [getattr(part, name) for part in kit.parts]
        for place, value in enumerate(values):
            if value and value in values[:place]:
                found.add(("part", place, name), "is given twice", value=value, fix="use count")
    return kit
