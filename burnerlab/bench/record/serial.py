"""The serial number of a unit, however it is spelled, in a question to the record."""

from __future__ import annotations

CURRENT = "NOT EXISTS (SELECT 1 FROM tests c WHERE c.corrects = t.id)"
"""Of tests ``t`` those that no correction supersedes."""
SPELLED = "(t.serial = ? COLLATE NOCASE OR t.serial IN (?, ?))"
"""A unit is the same however its serial number is spelled in small and capital letters, as for its stops."""


def spelled(serial: str) -> tuple[str, str, str]:
    """A serial number for ``SPELLED``, whose small and capital letters are those of ASCII alone.

    >>> spelled(" rg5-1 ")
    ('rg5-1', 'rg5-1', 'RG5-1')
    """
    text = serial.strip()
    return text, text.lower(), text.upper()
