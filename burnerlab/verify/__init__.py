"""Does it agree with what others printed: every row of ``shared/`` against our own figure.

A row names a ``measure``, one of the functions that the files of this room collect in ``MEASURES``; the tests and
``burnerlab verify`` walk the same rows, so a figure cannot be checked in one place and shown differently in another.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib import import_module
from pkgutil import iter_modules
from typing import Any, Literal

from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables import PROVENANCES, folder, read_csv

Measure = Callable[[Mapping[str, Any]], float]

COLUMNS = (
    "id",
    "measure",
    "inputs",
    "printed",
    "unit",
    "tolerance",
    "kind",
    "source",
    "place",
    "provenance",
    "note",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """A printed figure and how closely it must be met."""

    id: str = field(metadata=output("id"))
    topic: str = field(metadata=output("topic"))
    measure: str = field(metadata=output("measure"))
    arguments: Mapping[str, Any]  # of the measure, by names that carry the unit of the source
    printed: float = field(metadata=output("printed"))
    unit: str = field(metadata=output("unit"))
    tolerance: float = field(metadata=output("tolerance"))
    kind: Literal["rel", "abs"]
    source: str = field(metadata=output("source"))
    place: str = field(metadata=output("place"))
    provenance: str = field(metadata=output("provenance"))
    note: str = field(metadata=output("note"))

    @property
    @computed_output("inputs")
    def inputs(self) -> str:
        """The arguments in words, as the source states them: US units stand in texts, never in a key."""
        return "; ".join(f"{name} = {json.dumps(value)}" for name, value in self.arguments.items())

    @property
    @computed_output("kind of tolerance")
    def tolerance_kind(self) -> str:
        """Relative to the printed figure, or absolute, in its unit."""
        return "relative" if self.kind == "rel" else "absolute"


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckResult:
    """A printed figure beside ours."""

    check: Check = field(metadata=output("check", is_part=True))
    quantity: str = field(metadata=output("quantity"))
    ours: float = field(metadata=output("ours"))

    @property
    @computed_output("difference")
    def difference(self) -> float:
        """Ours less printed: relative to the printed figure when the tolerance is relative, else in its unit."""
        gap = self.ours - self.check.printed
        return gap / abs(self.check.printed) if self.check.kind == "rel" else gap

    @property
    @computed_output("agrees")
    def agrees(self) -> bool:
        """Whether the difference is within the tolerance."""
        return abs(self.difference) <= self.check.tolerance


@cache
def measures() -> Mapping[str, Measure]:
    """Every measure of this room by name."""
    found: dict[str, Measure] = {}
    for module in iter_modules(__path__):
        for name, measure in import_module(f"{__name__}.{module.name}").MEASURES.items():
            if name in found:
                raise ValueError(f"measure {name!r} is described twice")
            found[name] = measure
    return found


def _check(topic: str, row: Mapping[str, str]) -> Check:
    if tuple(row) != COLUMNS:
        raise ValueError(f"shared/{topic}.csv: columns must be {', '.join(COLUMNS)}")
    if row["kind"] not in ("rel", "abs") or row["provenance"] not in PROVENANCES or not row["source"]:
        raise ValueError(f"shared/{topic}.csv: row {row['id']!r} needs a kind, a provenance and a source")
    return Check(
        id=row["id"],
        topic=topic,
        measure=row["measure"],
        arguments=json.loads(row["inputs"] or "{}"),
        printed=float(row["printed"]),
        unit=row["unit"],
        tolerance=float(row["tolerance"]),
        kind="rel" if row["kind"] == "rel" else "abs",
        source=row["source"],
        place=row["place"],
        provenance=row["provenance"],
        note=row["note"],
    )


def topics() -> tuple[str, ...]:
    """Topics that have check rows: the file names of ``shared/``."""
    return tuple(sorted(path.stem for path in folder("shared").glob("*.csv")))


def checks(names: Iterable[str] | None = None) -> tuple[Check, ...]:
    """Check rows of the topics ``names`` (all when None)."""
    chosen = topics() if names is None else tuple(names)
    return tuple(
        _check(topic, row) for topic in chosen for row in read_csv(folder("shared") / f"{topic}.csv")
    )


def evaluate(check: Check) -> CheckResult:
    """Our figure for one check row."""
    measure = measures()[check.measure]
    quantity = (measure.__doc__ or check.measure).strip().splitlines()[0].rstrip(".")
    return CheckResult(check=check, quantity=quantity, ours=float(measure(check.arguments)))


def run(names: Iterable[str] | None = None) -> tuple[CheckResult, ...]:
    """Our figure for every check row of the topics ``names`` (all when None)."""
    return tuple(evaluate(check) for check in checks(names))


KNOWN_BY: Mapping[str, str] = {
    "seen": "read in public texts",
    "memory": "recalled, not checked in the publication",
    "computed": "computed by another library or a second calculation",
    "measured here": "measured by the user",
    "common practice": "habit of the trade",
    "definition": "by definition",
}
"""How a figure came here, in the words of a summary, strongest evidence first; never added into one sum."""
LOOSE = 0.10  # a relative tolerance above it says little


def by_provenance(results: Sequence[CheckResult]) -> dict[str, int]:
    """How many figures of each provenance, in the order of ``KNOWN_BY``."""
    counts = {key: sum(one.check.provenance == key for one in results) for key in KNOWN_BY}
    return {key: count for key, count in counts.items() if count}


def summary(results: Sequence[CheckResult]) -> tuple[str, ...]:
    """Figures within and outside their tolerance, a line for each way they are known.

    A figure that we computed proves arithmetic, not burners: no sum is made over kinds of evidence.
    """
    lines = []
    for place, some in (
        ("within", [one for one in results if one.agrees]),
        ("outside", [one for one in results if not one.agrees]),
    ):
        lines += [
            f"{place} its tolerance: {count} {KNOWN_BY[key]}" for key, count in by_provenance(some).items()
        ]
    if all(one.agrees for one in results):
        lines.append("outside its tolerance: none")
    loose = sum(one.check.kind == "rel" and one.check.tolerance > LOOSE for one in results)
    return (*lines, f"relative tolerance over {100 * LOOSE:.0f} %: {loose}")
