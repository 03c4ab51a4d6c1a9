"""Read the parts list of a conversion kit (TOML): every problem at once, each with its line."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from burnerlab.appliance.key_readers import name
from burnerlab.appliance.lines import KeyIndex, KeyPath, index, spell
from burnerlab.appliance.textfile import read_text
from burnerlab.bench.kit import Kit, KitPart, KitScale, limits
from burnerlab.quantity import Kind, read
from burnerlab.quantity.error import Problem, UserError, did_you_mean
from burnerlab.quantity.inputs import complaint, text_with_unit

MOST_PARTS = 200
MOST_PIECES = 10_000
HEAVIEST_kg = 1000.0
KIT_KEYS = ("name", "false_alarm", "detection", "scale", "part")
SCALE_KEYS = ("resolution", "repeatability")
PART_KEYS = ("name", "count", "mass", "scatter", "code")
EXAMPLE = '[[part]] with name = "orifice #54", count = 6, mass = "4.20 g", scatter = "0.04 g"'
Reader = Callable[[Any], Any]


def _mass(least_kg: float, what: str) -> Reader:
    def reader(value: Any) -> float:
        found = float(read(text_with_unit(value, "a quantity", what), Kind.MASS))
        if not least_kg <= found <= HEAVIEST_kg:
            least = f"at least {least_kg * 1e6:g} mg" if least_kg else "0"
            accepted = f"{least} to 1000 kg, such as {what}"
            raise complaint("is no mass of a kit", accepted=accepted, fix="check the unit")
        return found

    return reader


def _pieces(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= MOST_PIECES:
        raise complaint(
            "must be a whole number of pieces", accepted=f"1 to {MOST_PIECES}", fix="write count = 6"
        )
    return value


def _share(value: Any) -> float:
    if not isinstance(value, str):
        raise complaint("must be a share", accepted='such as "95 %"', fix='write "95 %"')
    found = float(read(value, Kind.FRACTION))
    if not 1e-9 <= found <= 1.0 - 1e-9:
        raise complaint("must lie between 0 and 100 %", accepted='such as "95 %"', fix="check the figure")
    return found


READERS: dict[str, Reader] = {
    "name": name,
    "code": name,
    "count": _pieces,
    "mass": _mass(1e-9, "4.20 g"),
    "scatter": _mass(0.0, "0.04 g"),
    "resolution": _mass(1e-9, "1 g"),
    "repeatability": _mass(0.0, "0.5 g"),
    "false_alarm": _share,
    "detection": _share,
}


@dataclass(slots=True)
class _Found:
    """Problems of one file, with the lines they stand on."""

    file: str
    lines: KeyIndex
    problems: list[Problem] = field(default_factory=list)

    def add(self, problem: Problem, path: KeyPath, value: Any = None) -> None:
        shown = (
            value
            if isinstance(value, str)
            else ""
            if value is None or isinstance(value, dict | list)
            else str(value)
        )
        self.problems.append(
            replace(problem, file=self.file, line=self.lines.line(path), key=spell(path), value=shown)
        )

    def table(self, data: Any, path: KeyPath, known: Iterable[str], needed: Iterable[str]) -> dict[str, Any]:
        """The values of one table read; a value that cannot be read is left out and complained of."""
        listed = tuple(known)
        if not isinstance(data, Mapping):
            self.add(Problem("must be a table", fix=EXAMPLE), path)
            return {}
        values = {}
        for key, value in data.items():
            if key not in listed:
                fix = did_you_mean(key, listed)
                self.add(Problem(f"unknown key {key}", accepted=", ".join(listed), fix=fix), (*path, key))
            elif key in READERS:
                try:
                    values[key] = READERS[key](value)
                except UserError as error:
                    for problem in error.problems:
                        self.add(problem, (*path, key), value)
        for key in needed:
            if key not in data:
                self.add(Problem("is missing", fix=EXAMPLE if path else "add it"), (*path, key))
        return values


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
    lines = index(text)
    if lines.problems:
        raise UserError([replace(problem, file=file) for problem in lines.problems])
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, ValueError, RecursionError) as error:
        what = f"is not TOML: {error}"
        raise UserError(Problem(what, file=file, fix="check quotes and brackets")) from None
    found = _Found(file, lines)
    head = found.table(data, (), KIT_KEYS, ("name", "scale", "part"))
    scale = found.table(data.get("scale", {}), ("scale",), SCALE_KEYS, SCALE_KEYS if "scale" in data else ())
    parts = _parts(found, data.get("part", []))
    if found.problems:
        raise UserError(sorted(found.problems, key=lambda problem: problem.line))
    asked = limits()
    return Kit(
        name=head["name"],
        parts=parts,
        scale=KitScale(resolution_kg=scale["resolution"], repeatability_kg=scale["repeatability"]),
        false_alarm=head.get("false_alarm", asked["false_alarm"]),
        detection=head.get("detection", asked["detection"]),
    )


def _parts(found: _Found, data: Any) -> tuple[KitPart, ...]:
    if not isinstance(data, list) or not 1 <= len(data) <= MOST_PARTS:
        found.add(Problem(f"must list 1 to {MOST_PARTS} parts", fix=EXAMPLE), ("part",))
        return ()
    parts: list[KitPart] = []
    taken: dict[str, set[str]] = {"name": set(), "code": set()}
    for place, entry in enumerate(data):
        values = found.table(entry, ("part", place), PART_KEYS, ("name", "mass", "scatter"))
        for key, seen in taken.items():
            if key in values and values[key] in seen:
                found.add(Problem("is given twice", fix="use count"), ("part", place, key), values[key])
            seen.add(values.get(key, ""))
        if {"name", "mass", "scatter"} <= set(values):
            parts.append(
                KitPart(
                    name=values["name"],
                    mass_kg=values["mass"],
                    scatter_kg=values["scatter"],
                    count=values.get("count", 1),
                    code=values.get("code", ""),
                )
            )
    return tuple(parts)
