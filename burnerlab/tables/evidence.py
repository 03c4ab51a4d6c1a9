"""What a result rests on, in one word: the weakest of the figures behind it.

The words run from the strongest to the weakest. ``measured here``: fitted to readings of one's own, with an interval.
``entered``: what the user's file or options say. ``published``: read in a public copy, or exact by definition.
``recalled``: from memory of a named publication. ``estimate``: a habit of the trade, or a model or calculation of ours.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

Evidence = Literal["measured here", "entered", "published", "recalled", "estimate"]

EVIDENCE: tuple[Evidence, ...] = ("measured here", "entered", "published", "recalled", "estimate")
"""Strongest first."""

OF_PROVENANCE: Mapping[str, Evidence] = {
    "measured here": "measured here",
    "seen": "published",
    "definition": "published",
    "memory": "recalled",
    "common practice": "estimate",
    "computed": "estimate",
}


def evidence_of(provenance: str, *, has_interval: bool = True) -> Evidence:
    """The evidence of a table row by its ``provenance``; a measured figure without its interval counts as entered.

    >>> evidence_of("memory"), evidence_of("measured here"), evidence_of("measured here", has_interval=False)
    ('recalled', 'measured here', 'entered')
    """
    found = OF_PROVENANCE.get(provenance, "entered")  # a user's own table may say anything
    return "entered" if found == "measured here" and not has_interval else found


def weakest(*found: Evidence) -> Evidence:
    """The weakest of several; of none at all, what the user entered.

    >>> weakest("measured here", "recalled", "published")
    'recalled'
    """
    return max(found, key=EVIDENCE.index, default="entered")
