"""Figures of the supply train with their spread and where each is from; a user's own table goes before."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from burnerlab import tables
from burnerlab.quantity.error import Problem, UserError
from burnerlab.tables.evidence import Evidence, evidence_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A value, its spread, and where it is from."""

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
        """What it rests on."""
        return evidence_of(self.provenance)

    def cite(self) -> str:
        """Source, place and provenance in one line.

        >>> supply_figure("laminar end").cite()
        'L. F. Moody, Friction factors for pipe flow, Transactions of the ASME 66, 1944 (memory)'
        """
        known = tables.sources().get(self.source)
        return f"{known.cite() if known else self.source} ({self.provenance})"


@cache
def figures(table: str, key: str = "name", own: Path | None = None) -> dict[str, Figure]:
    """Every figure of a table by the column ``key``, or of a user's file with the same columns."""
    found = {}
    for row in tables.read_csv(own) if own else tables.rows(table):
        try:
            value, low, high = (float(row[column]) for column in ("value", "low", "high"))
        except (KeyError, TypeError, ValueError):
            what = "needs the columns value, low and high with plain numbers"
            raise UserError(Problem(what, value=str(row.get(key, "")), file=str(own or table))) from None
        words = {name: row.get(name) or "" for name in ("unit", "source", "place", "provenance", "note")}
        found[row[key]] = Figure(name=row[key], value=value, low=low, high=high, **words)
    return found


def figure(table: str, name: str, own: Path | None = None) -> Figure:
    """One figure of a table; the shipped one when the user's file leaves it out."""
    if own is not None and name in figures(table, own=own):
        return figures(table, own=own)[name]
    return figures(table)[name]


def supply_figure(name: str, own: Path | None = None) -> Figure:
    """One row of the table ``supply_limits``.

    >>> supply_figure("turbulent start").value
    4000.0
    """
    return figure("supply_limits", name, own)


def unknown(what: str, given: str, known: list[str], key: str = "") -> UserError:
    """A name that no table holds, with the nearest one."""
    from difflib import get_close_matches

    near = get_close_matches(given.strip().lower(), [name.lower() for name in known], n=1, cutoff=0.5)
    fix = f"did you mean {near[0]}?" if near else f'write "{known[0]}"'
    return UserError(Problem(f"is not {what}", value=given, key=key, accepted=", ".join(known), fix=fix))
