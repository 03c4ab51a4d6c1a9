"""What was read at the bench, one after another: heat inputs, pressures, the meter at rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import output
from burnerlab.tables.problem import Problem, UserError

Method = Literal["meter", "scale"]
READING_U = 0.02  # relative standard uncertainty of a reading where none is stated: an expanded one of 4 %
POSSIBLE_RATIO = (1e-3, 1e3)
MOST_READINGS = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One reading at the bench, over what was expected; at least one of ratio, pressure and meter at rest."""

    ratio: float | None = field(default=None, metadata=output("measured over expected heat input"))
    relative_uncertainty: float = field(
        default=READING_U, metadata=output("standard uncertainty", Kind.FRACTION)
    )  # of the ratio
    pressure_ratio: float | None = field(
        default=None, metadata=output("manifold pressure over the expected one")
    )  # with these burners on
    pressure_uncertainty: float | None = field(
        default=None, metadata=output("standard uncertainty of the pressure", Kind.FRACTION)
    )  # relative; None takes that of a manometer
    burner: str | None = field(
        default=None, metadata=output("burner")
    )  # that was on; None: the burner of the question, or all
    low: bool = field(default=False, metadata=output("low rate"))
    method: Method | None = field(default=None, metadata=output("method"))  # None: that of the question
    at_rest: Literal["", "still", "moves"] = field(
        default="", metadata=output("meter at rest")
    )  # with every burner off

    def check(self) -> None:
        """Refuse a ratio that no reading gives, and an uncertainty that is none."""
        low, high = POSSIBLE_RATIO
        problems = []
        for key, value in (
            ("measured over expected", self.ratio),
            ("manifold pressure over expected", self.pressure_ratio),
        ):
            if value is not None and not low <= value <= high:
                accepted = f"{low:g} to {high:g}"
                problems.append(Problem("cannot be: check the unit", f"{value:.3g}", key, accepted=accepted))
        for key, u in (
            ("uncertainty", self.relative_uncertainty),
            ("uncertainty of the pressure", self.pressure_uncertainty),
        ):
            if u is not None and not 0.0 < u <= 0.5:
                problems.append(Problem("must be above 0 and at most 50 %", f"{100 * u:g} %", key))
        if self.ratio is None and self.pressure_ratio is None and not self.at_rest:
            problems.append(Problem("nothing was read", key="reading", fix="give a heat input or a pressure"))
        if problems:
            raise UserError(problems)


def readings_of(readings: Reading | Sequence[Reading]) -> tuple[Reading, ...]:
    """One reading or several, each checked; every problem at once.

    >>> len(readings_of(Reading(ratio=0.9)))
    1
    """
    found = (readings,) if isinstance(readings, Reading) else tuple(readings)
    if not 1 <= len(found) <= MOST_READINGS:
        accepted = f"1 to {MOST_READINGS}"
        raise UserError(Problem("number of readings", str(len(found)), "readings", accepted=accepted))
    problems: list[Problem] = []
    for one in found:
        try:
            one.check()
        except UserError as error:
            problems += error.problems
    if problems:
        raise UserError(problems)
    return found
