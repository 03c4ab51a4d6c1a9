"""The serial number of a unit, however it is spelled, in a question to the record."""

from __future__ import annotations

CURRENT = "NOT EXISTS (SELECT 1 FROM tests c WHERE c.corrects = t.id)"
"""Of tests ``t`` those that no correction supersedes."""
OF_UNIT = "t.serial = ? COLLATE NOCASE"
"""A unit is the same however its serial number is spelled in small and capital letters, as for its stops."""


def of_units(count: int) -> str:
    """The same of several units.

    >>> of_units(2)
    't.serial COLLATE NOCASE IN (?, ?)'
    """
    return f"t.serial COLLATE NOCASE IN ({', '.join('?' * count)})"
