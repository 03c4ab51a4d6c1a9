"""A figure of a table: its value, its range, its source, and the evidence behind a result.

The words run from the strongest to the weakest. ``measured here``: fitted to readings of one's own, with an interval.
``entered``: what the user's file or options say. ``published``: read in a public copy, or exact by definition.
``recalled``: from memory of a named publication. ``estimate``: a habit of the trade, or a model or calculation of ours.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from pathlib import Path
from typing import Literal

from burnerlab.tables.csv_file import Row, meant
from burnerlab.tables.folders import package_dir
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.reader import CONTENTS, cache_by_file, read

# What a result rests on, in one word: the weakest of the figures behind it.


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
    evidence = OF_PROVENANCE.get(provenance, Evidence.ENTERED)  # a user's own table may say anything
    return Evidence.ENTERED if evidence == Evidence.MEASURED and not has_interval else evidence


def weakest(*evidence: Evidence) -> Evidence:
    """The weakest of several; of none at all, what the user entered.

    >>> weakest(Evidence.MEASURED, Evidence.RECALLED, Evidence.PUBLISHED).value
    'recalled'
    """
    return max(evidence, key=STRONGEST_FIRST.index, default=Evidence.ENTERED)


# The publications, data sets and libraries that tables cite.


@dataclass(frozen=True, slots=True)
class Source:
    """A publication, data set or library a figure was taken from."""

    id: str
    title: str
    edition: str = ""
    note: str = ""
    licence: str = ""
    """Of open data: the terms under which its figures may be copied. Empty: single figures are quoted."""

    def cite(self) -> str:
        """Title and edition in one line."""
        return f"{self.title}, {self.edition}" if self.edition else self.title


@cache
def sources() -> Mapping[str, Source]:
    """Every publication cited by a table, by id."""
    found: dict[str, Source] = {}
    for path in sorted((package_dir() / "tables" / "sources").glob("*.toml")):
        for key, entry in tomllib.loads(path.read_text(encoding="utf-8")).items():
            if key in found:
                raise ValueError(f"source {key!r} is described twice (again in {path.name})")
            found[key] = Source(id=key, **entry)
    return found


def cite(source: str) -> str:
    """A source id as it is printed; a user's own table may name anything.

    >>> cite("bench 3 of the works")
    'bench 3 of the works'
    """
    known = sources().get(source)
    return known.cite() if known else source


# A figure with its range and where it is from: what a row of a table means to an equation.

End = Literal["low", "value", "high"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A value with its range, unit, source, place in it and provenance."""

    name: str
    value: float
    low: float
    high: float
    unit: str = ""
    source: str = ""
    place: str = ""
    provenance: str = ""
    note: str = ""

    @property
    def evidence(self) -> Evidence:
        """What it rests on; measured without an interval it is only entered."""
        return evidence_of(self.provenance, has_interval=self.low < self.high)

    def at(self, end: End) -> float:
        """The value, or an end of its range."""
        return {"low": self.low, "value": self.value, "high": self.high}[end]

    def cite(self) -> str:
        """Source and provenance in one line.

        >>> figure("supply_limits", "laminar end").cite()
        'L. F. Moody, Friction factors for pipe flow, Transactions of the ASME 66, 1944 (memory)'
        """
        return f"{cite(self.source)} ({self.provenance})" if self.provenance else cite(self.source)


def figure_of(row: Row, name: str, columns: tuple[str, str, str] = ("value", "low", "high")) -> Figure:
    """The figure of a row; an end that is left empty is the value."""
    value, low, high = columns
    middle = row.number(value)
    words = {word: row.get(word, "") for word in ("unit", "source", "place", "provenance", "note")}
    return Figure(
        name=name, value=middle, low=row.number(low, middle), high=row.number(high, middle), **words
    )


@cache_by_file
def figures(table: str, own: Path | None = None, **only: str) -> Mapping[str, Figure]:
    """Every figure of a table by name, with the user's own; ``only`` those rows that have these words.

    The name stands in the last column of the table's key.

    >>> figures("regulators", regulator="lp single stage")["droop"].value
    0.1
    """
    column = CONTENTS[table].key[-1]
    chosen = [row for row in read(table, own) if all(row[key] == word for key, word in only.items())]
    return {row[column]: figure_of(row, row[column]) for row in chosen}


def figure(table: str, name: str, own: Path | None = None) -> Figure:
    """One figure of a table.

    >>> figure("supply_limits", "turbulent start").value
    4000.0
    """
    return figures(table, own)[name]


def unknown(what: str, word: str, known: list[str], key: str = "", fix: str = "") -> UserError:
    """A name that no table holds, with the nearest one or with a fix of its own."""
    fix = fix or meant(word, known) or (f'write "{known[0]}"' if known else "the table has no rows")
    return UserError(Problem(f"is not {what}", value=word, key=key, accepted=", ".join(known), fix=fix))
