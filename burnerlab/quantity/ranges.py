"""A quantity held to its row of table ``inputs``, by commands that do not declare their inputs yet."""

from __future__ import annotations

from burnerlab.quantity.inputs import input_row
from burnerlab.quantity.kind import Kind


def read_within(text: str, kind: Kind, name: str, *, key: str = "") -> float:
    """A quantity as written [SI], held to the range called ``name``. Raises UserError.

    >>> read_within("98.5 kPa", Kind.ABSOLUTE_PRESSURE, "barometer")
    98500.0
    """
    return float(input_row(name).read(text, key))
