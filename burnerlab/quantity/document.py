"""The JSON document of a result: one envelope, one rounding and one spelling of nothing for every command and file."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Mapping
from dataclasses import is_dataclass
from os import PathLike
from typing import Any

from burnerlab import __version__
from burnerlab.tables.cautions import cautions

from .outputs import columns, row

SIGNIFICANT = 12  # digits kept: beyond them a number is the noise of its machine
EDITION = 1  # of the convention; raised when a key changes its meaning
ENGINES = ("cantera", "numpy", "pint", "scipy")


def schema(name: str) -> str:
    """The id of what a document holds.

    >>> schema("record chart")
    'burnerlab/record-chart/1'
    """
    return f"burnerlab/{name.replace(' ', '-')}/{EDITION}"


def engines() -> dict[str, str]:
    """The version of each engine that this answer was computed with: those that were loaded for it."""
    return {name: str(sys.modules[name].__version__) for name in ENGINES if name in sys.modules}


def envelope(name: str) -> dict[str, Any]:
    """What heads every document: its schema and what computed it."""
    return {"schema": schema(name), "burnerlab": __version__, "engines": engines()}


def document(name: str, result: Any, **more: Any) -> dict[str, Any]:
    """A result as the JSON object of a command: its envelope, its figures by key, and every caution in full.

    name : of the command; result : a mapping of figures, or a result that declares its outputs; more : further keys
    """
    figures: dict[str, Any] = {**plain(result), **plain(more)}
    head = envelope(name)
    twice = head.keys() & figures.keys()
    if twice:
        raise ValueError(f"{name}: keys of the envelope: {', '.join(sorted(twice))}")
    return head | figures | {"cautions": plain(cautions())}


def json_text(name: str, result: Any, **more: Any) -> str:
    """The text of a document, with the line end."""
    return json.dumps(document(name, result, **more), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def plain(value: Any) -> Any:
    """As JSON can hold it: floats of twelve significant digits, null where there is no finite number.

    >>> plain({"a": (1.0, float("nan")), "b": 1 / 3})
    {'a': [1.0, None], 'b': 0.333333333333}
    """
    if value is None or isinstance(value, bool | str | int):
        return value
    if isinstance(value, float):
        return float(f"{value:.{SIGNIFICANT}g}") if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(key): plain(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [plain(entry) for entry in value]
    if isinstance(value, PathLike):
        return str(value)
    if hasattr(value, "as_json"):
        return plain(value.as_json())
    if is_dataclass(value) and columns(type(value)):
        return plain(row(value))
    return plain(value.tolist() if hasattr(value, "tolist") else float(value))
