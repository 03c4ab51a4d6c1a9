"""Chapter of the figures that a result holds: every declared output with its key, unit and meaning, by room.

What a key means stands in ``key_descriptions.csv``; the label of an output heads columns and stays short.
"""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
from collections.abc import Iterator, Mapping
from dataclasses import is_dataclass
from functools import cache

import burnerlab
from burnerlab.handbook.key_descriptions import descriptions
from burnerlab.handbook.markdown_text import anchor_of, code, escaped, sentence, table
from burnerlab.quantity.outputs import Column, columns

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
[json](json.md#keys). With a key with a band stand the keys of its low and high end."""


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


def description(cls: type, column: Column) -> str:
    """What a key of a result holds, with its condition and when it is null; "" where no row says it."""
    known = descriptions()
    return known.get((column.key, cls.__name__)) or known.get((column.key, ""), "")


@cache
def _names() -> frozenset[str]:
    """Of every result that has a section."""
    return frozenset(cls.__name__ for room in (*ROOMS, COMMANDS) for cls in _results(room))


def annotation(cls: type, name: str) -> str:
    """The type of a field, property or method, as it is written."""
    member = getattr(cls, name, None)
    returns = getattr(getattr(member, "fget", member), "__annotations__", {}).get("return", "")
    return str(next((own[name] for own in _annotations(cls) if name in own), returns))


def _annotations(cls: type) -> Iterator[Mapping[str, object]]:
    yield from (vars(one).get("__annotations__", {}) for one in cls.__mro__)


def _below(cls: type, column: Column) -> str:
    """Links to the results that stand below a key, or whose keys join this row."""
    within = [one for one in re.findall(r"\w+", annotation(cls, column.name)) if one in _names()]
    links = ", ".join(f"[{one}](#{anchor_of(one)})" for one in dict.fromkeys(within))
    if not column.declared.is_part:
        return f" ({links})" if links else ""
    return f"; no key of its own: those of {links or 'it'} stand in this row"


def _result(cls: type) -> str:
    about = (inspect.getdoc(cls) or "").split("\n\n")[0].replace("``", "")
    rows = [
        (
            ", ".join(map(code, (column.key, *column.ends))),
            escaped(column.unit),
            escaped(description(cls, column)) + _below(cls, column),
        )
        for column in columns(cls)
    ]
    return f"### {cls.__name__}\n\n{sentence(escaped(about))}\n\n{table(HEADS, rows)}"
