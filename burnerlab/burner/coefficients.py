"""The coefficients of the burner model: each with its spread and source, each replaceable by the user's own."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

from burnerlab import tables
from burnerlab.quantity.error import Problem, UserError
from burnerlab.tables.evidence import Evidence, evidence_of

TABLE = "burner_coefficients"
End = Literal["low", "value", "high"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Coefficient:
    """One figure of the burner model; low and high span what the sources say."""

    name: str
    value: float
    low: float
    high: float
    unit: str
    source: str
    place: str
    provenance: str
    note: str = ""

    @property
    def evidence(self) -> Evidence:
        """What it rests on; measured without an interval it is only entered."""
        return evidence_of(self.provenance, has_interval=self.low < self.high)

    def at(self, end: End) -> float:
        """The value, or an end of its spread."""
        return {"low": self.low, "value": self.value, "high": self.high}[end]


Coefficients = Mapping[str, Coefficient]


@cache
def coefficients(own: Path | None = None) -> Coefficients:
    """Coefficients by name; rows of ``own``, a CSV file of the same columns, stand in for ours.

    Raises UserError for a row of the user's that is not a coefficient of the model, or whose value lies
    outside its own low and high.

    >>> coefficients()["throat loss"].value
    0.5
    """
    found = {row["name"]: _coefficient(row) for row in tables.rows(TABLE)}
    if own is None:
        return found
    problems: list[Problem] = []
    for number, row in enumerate(tables.read_csv(own), start=1):
        try:
            mine = _coefficient(row)
            _check(mine, found)
        except (KeyError, TypeError, ValueError) as error:
            problems += error.problems if isinstance(error, UserError) else [_unreadable(number)]
        else:
            found[mine.name] = mine
    if problems:
        raise UserError([_in_file(problem, own) for problem in problems])
    return found


def _coefficient(row: tables.Row) -> Coefficient:
    value = float(row["value"])
    return Coefficient(
        name=row["name"],
        value=value,
        low=float(row["low"] or value),
        high=float(row["high"] or value),
        unit=row["unit"],
        source=row["source"],
        place=row["place"],
        provenance=row["provenance"],
        note=row.get("note") or "",
    )


def _check(mine: Coefficient, known: Coefficients) -> None:
    if mine.name not in known:
        raise UserError(Problem("is not a coefficient", value=mine.name, accepted=", ".join(known)))
    if not (0.0 < mine.low <= mine.value <= mine.high < math.inf):
        accepted = "0 < low <= value <= high"
        given = f"{mine.low:g}, {mine.value:g}, {mine.high:g}"
        raise UserError(Problem("low, value and high are out of order", value=given, accepted=accepted))


def _unreadable(number: int) -> Problem:
    return Problem(f"row {number} cannot be read", accepted="the columns of the shipped table")


def _in_file(problem: Problem, own: Path) -> Problem:
    return Problem(
        problem.what, value=problem.value, file=own.name, accepted=problem.accepted, fix=problem.fix
    )
