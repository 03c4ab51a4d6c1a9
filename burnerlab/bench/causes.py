"""Why a reading is off: every cause of the table ``causes`` as the possibilities it predicts for an appliance."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from burnerlab import tables
from burnerlab.bench.burner_causes import BURNERS
from burnerlab.bench.faults.cause import Cause, Variant
from burnerlab.bench.reading_causes import READINGS
from burnerlab.bench.supply_causes import SUPPLY
from burnerlab.bench.unit import UnitUnderTest
from burnerlab.tables import cite
from burnerlab.tables.problem import Problem, UserError

PREDICTIONS: Mapping[str, Callable[[UnitUnderTest, Cause], Iterator[Variant]]] = SUPPLY | BURNERS | READINGS
"""Cause by name: what it predicts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseGroup:
    """Causes that ask for one action."""

    name: str
    title: str
    action: str


def groups() -> dict[str, CauseGroup]:
    """Rows of the table ``cause_groups`` by name.

    >>> list(groups())[:3]
    ['gas', 'regulator', 'orifices']
    """
    return {
        row["group"]: CauseGroup(name=row["group"], title=row["title"], action=row["action"])
        for row in tables.rows("cause_groups")
    }


def causes(own: Path | None = None) -> tuple[Cause, ...]:
    """Every cause of the table, priors scaled to add up to one.

    own : a CSV of the same columns; group and danger may be left out and are then those of the shipped table

    >>> round(sum(cause.prior for cause in causes()), 12)
    1.0
    """
    rows = tables.read("causes", own)
    if not rows:
        raise UserError(Problem("the table of causes has no rows", file=own.name if own else ""))
    unknown = [row for row in rows if row["cause"] not in PREDICTIONS]
    if unknown:
        what, known = "no prediction for this cause", list(PREDICTIONS)
        raise UserError(
            [
                row.problem("cause", what, accepted=", ".join(known), fix=tables.meant(row["cause"], known))
                for row in unknown
            ]
        )
    total = sum(float(row["prior"]) for row in rows)
    return tuple(
        Cause(
            name=row["cause"],
            title=row["title"],
            prior=float(row["prior"]) / total,
            low=float(row["low"] or "nan"),
            high=float(row["high"] or "nan"),
            method=row["method"],
            needs=row["needs"],
            group=row["group"],
            danger=row["danger"] == "yes",
            source=f"{cite(row['source'])} ({row['provenance']})",
        )
        for row in rows
    )


def possibilities(unit: UnitUnderTest, cause: Cause) -> tuple[Variant, ...]:
    """The ways in which a cause may show itself here; none when it does not apply."""
    if cause.method != "any" and cause.method not in unit.methods:
        return ()
    least = {"several": 2, "three": 3}.get(cause.needs, 1)
    if len(unit.burners) < least:
        return ()
    return tuple(PREDICTIONS[cause.name](unit, cause))
