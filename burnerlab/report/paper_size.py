"""The size of paper: of readers in US units Letter, of all others A4, where no other is named."""

from __future__ import annotations

from burnerlab.quantity import System

PAPERS = {"A4": "a4", "Letter": "us-letter"}
"""Each size, by what typst calls it."""
PRINTED = {"A4": "A4", "Letter": "letter"}
"""Each size, by what a style sheet calls it."""


def paper_size(system: System, size: str = "") -> str:
    """The size that is named, else that of readers in a system of units.

    >>> paper_size("US"), paper_size("metric"), paper_size("US", "A4")
    ('Letter', 'A4', 'A4')
    """
    return size or ("Letter" if system == "US" else "A4")


def page_rule(size: str, *, is_broadside: bool = False) -> str:
    """The rule of a style sheet by which a page is printed on that paper; none for ``""``.

    >>> page_rule("Letter"), page_rule("")
    ('@page { size: letter; }', '')
    """
    if not size:
        return ""
    return f"@page {{ size: {PRINTED[size]}{' landscape' if is_broadside else ''}; }}"
