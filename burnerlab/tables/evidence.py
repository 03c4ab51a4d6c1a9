"""What a result rests on, in one word: the weakest of the figures behind it.

The words run from the strongest to the weakest. ``measured here``: fitted to readings of one's own, with an interval.
``entered``: what the user's file or options say. ``published``: read in a public copy, or exact by definition.
``recalled``: from memory of a named publication. ``estimate``: a habit of the trade, or a model or calculation of ours.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum


class Evidence(StrEnum):
    """What a result rests on, strongest first."""

    MEASURED = "measured here"
    ENTERED = "entered"
    PUBLISHED = "published"
    RECALLED = "recalled"
    ESTIMATE = "estimate"


STRONGEST_FIRST = tuple(Evidence)
OF_PROVENANCE: Mapping[str, Evidence] = {
    "measured here": Evidence.MEASURED,
    "seen": Evidence.PUBLISHED,
    "definition": Evidence.PUBLISHED,
    "memory": Evidence.RECALLED,
    "common practice": Evidence.ESTIMATE,
    "computed": Evidence.ESTIMATE,
}


def evidence_of(provenance: str, *, has_interval: bool = True) -> Evidence:
    """The evidence of a table row by its ``provenance``; a measured figure without its interval counts as entered.

    >>> evidence_of("memory").value, evidence_of("measured here", has_interval=False).value
    ('recalled', 'entered')
    """
    found = OF_PROVENANCE.get(provenance, Evidence.ENTERED)  # a user's own table may say anything
    return Evidence.ENTERED if found == Evidence.MEASURED and not has_interval else found


def weakest(*found: Evidence) -> Evidence:
    """The weakest of several; of none at all, what the user entered.

    >>> weakest(Evidence.MEASURED, Evidence.RECALLED, Evidence.PUBLISHED).value
    'recalled'
    """
    return max(found, key=STRONGEST_FIRST.index, default=Evidence.ENTERED)
