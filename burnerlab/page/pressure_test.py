"""A test by the manometer alone: the manifold pressure against its band, and what it may hide."""

from __future__ import annotations

from dataclasses import dataclass, replace

from burnerlab.bench.faults.explanation import Explanation, explain
from burnerlab.bench.reading.manifold import (
    ManifoldCheck,
    expected_input,
    highest_pressure_Pa,
    is_low_lock_up_Pa,
    lock_up_low_Pa,
    lock_up_Pa,
    manifold_check,
)
from burnerlab.bench.reading.readings import ManifoldRange, Reading
from burnerlab.page.form import MANIFOLD_FIELD, NO_MANIFOLD, SCALE_METHOD, Form, FormValues
from burnerlab.page.heat_input_test import ALL_BURNERS, FIELD_OF, Model, air_of_bench
from burnerlab.tables.problem import UserError
from burnerlab.tables.verdict import Verdict

PRESSURE_FIRST = "Read the manifold pressure first, or say why it is not read"
TIMED = ("meter", SCALE_METHOD)


def asks_for_pressure(model: Model, form: Form) -> bool:
    """Whether a heat input waits for the manifold pressure: its plan has a band for it, and the burner is on full."""
    plan = model.plan_of(form)
    if plan is None or form.method not in TIMED or form.is_low or form.get("corrects"):
        return False
    row = plan.pressure_row("" if form.get("burner") == ALL_BURNERS else form.get("burner"))
    return row is not None and row.high is not None


def pressure_errors(model: Model, form: Form) -> dict[str, str]:
    """Why a heat input is not read yet: its pressure is asked for, not read, and no reason is answered."""
    is_answered = form.get(MANIFOLD_FIELD) or form.get("no_manifold") in NO_MANIFOLD
    return {} if is_answered or not asks_for_pressure(model, form) else {"no_manifold": PRESSURE_FIRST}


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureTest:
    """The manifold pressure of one burner, of all together, or with every burner off, without a heat input."""

    model: Model
    burner: str  # "" for all together, and for every one off
    check: ManifoldCheck
    expected_Pa: (
        float | None
    )  # by the supply of the file, in this state; None for a lock-up of no known regulator
    explanation: Explanation | None
    is_lock_up: bool = False  # read with every burner off: held against the highest of the supply alone
    low_Pa: float | None = None  # below which a lock-up is too low; None of any other

    @property
    def is_low(self) -> bool:
        """Whether a lock-up lies below what the regulator of the file should hold, or shows nothing."""
        return self.is_lock_up and is_low_lock_up_Pa(self.check.measured_pressure_Pa, self.low_Pa)


def pressure_test(model: Model, values: FormValues) -> PressureTest | None:
    """What the manometer says, also before anything is timed or weighed; None where it was not read.

    Raises UserError with the field in each key.
    """
    pressure_Pa = values.get("manifold")
    if pressure_Pa is None:
        return None
    if values.get("lock_up"):
        return _lock_up(model, pressure_Pa)
    try:
        burner = model.burner(values.form.get("burner"))
        name = None if burner is None else burner.name
        unit = air_of_bench(model, values, name).appliance
        limits = model.pressure_limits(values.form)
        check = manifold_check(unit, pressure_Pa, name, limits=limits)
        expected_Pa = expected_input(unit, name).manifold_Pa
    except UserError as error:
        raise UserError([replace(p, key=FIELD_OF.get(p.key, "manifold")) for p in error.problems]) from None
    try:
        ratio, is_low = pressure_Pa / expected_Pa, values.form.is_low
        reading = Reading(pressure_ratio=ratio, is_low_rate=is_low, limits=limits)
        explanation = explain(unit, reading, name)
    except UserError:  # no listed cause gives such a pressure: it stands against its band alone
        explanation = None
    return PressureTest(
        model=model, burner=name or "", check=check, expected_Pa=expected_Pa, explanation=explanation
    )


HIGHEST_OF_SUPPLY = "the highest of the supply"


def _lock_up(model: Model, pressure_Pa: float) -> PressureTest:
    """The manifold pressure with every burner off: no band of burners that are on holds for it."""
    highest_Pa = highest_pressure_Pa(model.appliance)
    limits = ManifoldRange(low_Pa=0.0, high_Pa=highest_Pa, source=HIGHEST_OF_SUPPLY)
    try:
        check = manifold_check(model.appliance, pressure_Pa or highest_Pa, limits=limits)
    except UserError as error:
        raise UserError([replace(p, key=FIELD_OF.get(p.key, "manifold")) for p in error.problems]) from None
    low_Pa = lock_up_low_Pa(model.appliance)
    if is_low_lock_up_Pa(pressure_Pa, low_Pa):
        check = replace(check, measured_pressure_Pa=pressure_Pa, pressure_verdict=Verdict.OUTSIDE)
    return PressureTest(
        model=model,
        burner="",
        low_Pa=low_Pa,
        check=check,
        expected_Pa=lock_up_Pa(model.appliance),
        explanation=None,
        is_lock_up=True,
    )
