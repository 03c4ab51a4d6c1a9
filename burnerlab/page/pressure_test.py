"""A test by the manometer alone: the manifold pressure against its band, and what it may hide."""

from __future__ import annotations

from dataclasses import dataclass, replace

from burnerlab.bench.faults.explanation import Explanation, explain
from burnerlab.bench.reading.manifold import ManifoldCheck, expected_input, manifold_check
from burnerlab.bench.reading.readings import Reading
from burnerlab.page.form import MANOMETER, FormValues
from burnerlab.page.heat_input_test import FIELD_OF, Model
from burnerlab.tables.problem import UserError


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureTest:
    """The manifold pressure of one burner, or of all together, without a heat input."""

    model: Model
    burner: str  # "" for all together
    check: ManifoldCheck
    expected_Pa: float  # by the supply of the file, with these burners on
    explanation: Explanation | None


def pressure_test(model: Model, values: FormValues) -> PressureTest | None:
    """What the manometer says; None for a test with a timing or a weighing, or where nothing was read.

    Raises UserError with the field in each key.
    """
    pressure_Pa = values.get("manifold")
    if values.form.method != MANOMETER or pressure_Pa is None:
        return None
    try:
        burner = model.burner(values.form.get("burner"))
        name = None if burner is None else burner.name
        check = manifold_check(model.appliance, pressure_Pa, name, limits=model.pressure_limits(values.form))
        expected_Pa = expected_input(model.appliance, name).manifold_Pa
    except UserError as error:
        raise UserError([replace(p, key=FIELD_OF.get(p.key, "manifold")) for p in error.problems]) from None
    try:
        explanation = explain(model.appliance, Reading(pressure_ratio=pressure_Pa / expected_Pa), name)
    except UserError:  # no listed cause gives such a pressure: it stands against its band alone
        explanation = None
    return PressureTest(
        model=model, burner=name or "", check=check, expected_Pa=expected_Pa, explanation=explanation
    )
