"""Chapter of the figures that a result holds: every declared output with its key, unit and label, by room."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from collections.abc import Iterator
from dataclasses import is_dataclass

import burnerlab
from burnerlab.handbook.markdown_text import code, escaped, sentence, table
from burnerlab.quantity.outputs import columns

HEADS = ("key", "unit", "what it is")
ROOMS = (
    "quantity",
    "gas",
    "supply",
    "orifice",
    "flame",
    "burner",
    "appliance",
    "layout",
    "bench",
    "verify",
    "report",
)
COMMANDS = "cli"  # answers that a command puts together; a room below this one, read when the page is made
INTRODUCTION = """Keys of `--json`, CSV files, workbooks and data frames, as the program declares them, by the result
that holds them; in Python the field has the same name with the unit of SI. How keys are formed stands in
[json](json.md#keys). Beside a key with a band stand the keys of its low and high end."""


def json_keys() -> str:
    """Every declared output, by room and result."""
    parts = [INTRODUCTION]
    for room in (*ROOMS, COMMANDS):
        made = list(_results(room))
        if made:
            parts.append(f"## {room}")
            parts += [_result(cls) for cls in made]
    return "\n\n".join(parts)


def _results(room: str) -> Iterator[type]:
    """Every class of a room that declares outputs, without those of a workshop or of an extra that is not there."""
    package = importlib.import_module(f"burnerlab.{room}")
    places = [f"burnerlab.{room}"]
    places += [one.name for one in pkgutil.walk_packages(package.__path__, f"{burnerlab.__name__}.{room}.")]
    for place in places:
        if ".making" in place:
            continue
        try:
            module = importlib.import_module(place)
        except ImportError:
            continue
        for cls in vars(module).values():
            if inspect.isclass(cls) and cls.__module__ == place and not cls.__name__.startswith("_"):
                own: type = cls
                if is_dataclass(own) and columns(own):
                    yield own


def _result(cls: type) -> str:
    about = (inspect.getdoc(cls) or "").split("\n\n")[0]
    rows = [
        (
            ", ".join(map(code, (column.key, *column.ends))),
            escaped(column.unit),
            escaped(column.label) + (", of this result's parts" if column.declared.is_part else ""),
        )
        for column in columns(cls)
    ]
    return f"### {cls.__name__}\n\n{sentence(escaped(about))}\n\n{table(HEADS, rows)}"
