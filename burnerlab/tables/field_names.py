"""Names of the fields of a dataclass, for what goes over them again and again."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from typing import Any

_NAMES: dict[type[Any], tuple[str, ...]] = {}


def field_names(kind: type[Any]) -> tuple[str, ...]:
    """In their order, looked up once for each class; none of what is no dataclass.

    >>> from burnerlab.tables.figure import Figure
    >>> field_names(Figure)[0], field_names(float)
    ('name', ())
    """
    names = _NAMES.get(kind)
    if names is None:
        names = tuple(one.name for one in fields(kind)) if is_dataclass(kind) else ()
        _NAMES[kind] = names
    return names
