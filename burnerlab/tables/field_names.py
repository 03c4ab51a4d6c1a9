"""Names of the fields of a dataclass, for what goes over them again and again."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from functools import cache


@cache
def field_names(kind: type) -> tuple[str, ...]:
    """In their order, found once for each class; none of what is no dataclass.

    >>> from burnerlab.tables.figure import Figure
    >>> field_names(Figure)[0], field_names(float)
    ('name', ())
    """
    return tuple(one.name for one in fields(kind)) if is_dataclass(kind) else ()
