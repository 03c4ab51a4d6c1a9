"""The serial number of a unit, however it is spelled, in a question to the record."""

from __future__ import annotations

CURRENT = "NOT EXISTS (SELECT 1 FROM tests c WHERE c.corrects = t.id)"
"""Of tests ``t`` those that no correction supersedes."""
SPELLED = ("t.serial IN (?, ?, ?)", "t.serial = ? COLLATE NOCASE")
"""A unit is the same however its serial number is spelled in small and capital letters, as for its stops.

As typed, in small or in capital letters it is found by its index; only where none of them is in the record, all are
looked through.
"""


def spelled(serial: str) -> tuple[tuple[str, ...], ...]:
    """A serial number for each of ``SPELLED``.

    >>> spelled(" Rg5-1 ")
    (('Rg5-1', 'rg5-1', 'RG5-1'), ('Rg5-1',))
    """
    text = serial.strip()
    return (text, text.lower(), text.upper()), (text,)
