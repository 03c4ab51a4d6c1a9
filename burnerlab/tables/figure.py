"""A figure with its range and where it is from: what a row of a table means to an equation."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from burnerlab.tables.contents import CONTENTS
from burnerlab.tables.csv_file import Row, meant
from burnerlab.tables.evidence import Evidence, evidence_of
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.reader import cache_by_file, read
from burnerlab.tables.source import cite

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
