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
from burnerlab.tables import figures, folder, read_csv

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
    """A printed figure and how closely it must be met.

    One of kind "shown" has no tolerance: the model does not produce it, or nobody stated enough of the test to compare.
    It stands beside the model's figure, where there is one, and is counted as no agreement.
    """

    id: str = field(metadata=output("id"))
    topic: str = field(metadata=output("topic"))
    measure: str = field(metadata=output("measure"))
    arguments: Mapping[str, Any]  # of the measure, by names that carry the unit of the source
    printed: float = field(metadata=output("printed"))
    unit: str = field(metadata=output("unit"))
    tolerance: float | None = field(metadata=output("tolerance"))
    kind: Literal["rel", "abs", "shown"]
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
        """Relative to the printed figure, absolute, in its unit, or none where it is only shown."""
        return {"rel": "relative", "abs": "absolute", "shown": "none"}[self.kind]


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckResult:
    """A printed figure and ours."""

    check: Check = field(metadata=output("check", is_part=True))
    quantity: str = field(metadata=output("quantity"))
    ours: float | None = field(metadata=output("ours"))
    """None where the model has no such figure."""

    @property
    @computed_output("difference")
    def difference(self) -> float | None:
        """Ours less printed: relative to the printed figure when the tolerance is relative, else in its unit."""
        if self.ours is None:
            return None
        gap = self.ours - self.check.printed
        return gap / abs(self.check.printed) if self.check.kind == "rel" else gap

    @property
    @computed_output("agrees")
    def agrees(self) -> bool | None:
        """Whether the difference is within the tolerance; None for a figure that is only shown."""
        if self.check.tolerance is None or self.difference is None:
            return None
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
    kind = row["kind"]
    if kind not in ("rel", "abs", "shown") or row["provenance"] not in KNOWN_BY or not row["source"]:
        raise ValueError(f"shared/{topic}.csv: row {row['id']!r} needs a kind, a provenance and a source")
    if (kind == "shown") != (not row["tolerance"]) or (not row["measure"] and kind != "shown"):
        raise ValueError(
            f"shared/{topic}.csv: row {row['id']!r} needs a tolerance, or the kind shown without one"
        )
    return Check(
        id=row["id"],
        topic=topic,
        measure=row["measure"],
        arguments=json.loads(row["inputs"] or "{}"),
        printed=float(row["printed"]),
        unit=row["unit"],
        tolerance=float(row["tolerance"]) if row["tolerance"] else None,
        kind="shown" if kind == "shown" else "rel" if kind == "rel" else "abs",
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
    if not check.measure:
        return CheckResult(check=check, quantity=check.id.capitalize(), ours=None)
    measure = measures()[check.measure]
    quantity = (measure.__doc__ or check.measure).strip().splitlines()[0].rstrip(".")
    return CheckResult(check=check, quantity=quantity, ours=float(measure(check.arguments)))


def run(names: Iterable[str] | None = None) -> tuple[CheckResult, ...]:
    """Our figure for every check row of the topics ``names`` (all when None)."""
    return tuple(evaluate(check) for check in checks(names))


KNOWN_BY: Mapping[str, str] = {
    "measured": "measured by others, read in public texts",
    "seen": "published, read in public texts",
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


TABLES_OF_BANDS = ("burner_coefficients", "tile_properties", "layout_coefficients", "cylinder_heat")
CHECKED_BANDS = (
    "thermal diffusivity",  # mixture-averaged transport of another library
    "thermal diffusivity of hydrogen",
    "quenching Peclet",  # recalled quenching distances
    "entrainment theory",  # accuracy that its paper states
    "burned gas error",  # direct solutions of tile flames
    "blend error",
    "offset ethane",
    "offset propylene",
    "offset n-butane",
    "offset isobutane",
)
"""Rows of these tables whose spread a test counts against values that the row was not read off, or that are stated."""


def unchecked_bands() -> tuple[str, ...]:
    """Rows with a spread that no value of others, and no second calculation, is counted against, by table and name.

    >>> "burner_coefficients: lift exponent" in unchecked_bands()
    True
    """
    return tuple(
        f"{table}: {name}"
        for table in TABLES_OF_BANDS
        for name, row in figures(table).items()
        if row.low < row.high and name not in CHECKED_BANDS
    )


def summary(results: Sequence[CheckResult]) -> tuple[str, ...]:
    """Figures within and outside their tolerance, a line for each way they are known.

    A figure that we computed proves arithmetic, not burners: no sum is made over kinds of evidence.
    """
    lines = []
    for place, some in (
        ("within its tolerance", [one for one in results if one.agrees]),
        ("outside its tolerance", [one for one in results if one.agrees is False]),
        ("shown beside the model, not compared", [one for one in results if one.agrees is None]),
    ):
        lines += [f"{place}: {count} {KNOWN_BY[key]}" for key, count in by_provenance(some).items()]
    if not any(one.agrees is False for one in results):
        lines.append("outside its tolerance: none")
    loose = sum(one.check.kind == "rel" and (one.check.tolerance or 0.0) > LOOSE for one in results)
    return (
        *lines,
        f"relative tolerance over {100 * LOOSE:.0f} %: {loose}",
        f"bands that nothing checks: {len(unchecked_bands())}, by name in the handbook (bands) and with --json",
    )
