"""The discharge coefficient: a number, or a law of bore and Reynolds number, and the range it can have."""

from __future__ import annotations

from typing import Protocol, overload

from burnerlab import tables
from burnerlab.orifice.nozzle import Array
from burnerlab.quantity import Problem, UserError, first_outside
from burnerlab.quantity.inputs import input_row

DEFAULT_SHAPE = "tapered"  # row of the table discharge for a hole whose shape nobody says
HANDBOOK_COEFFICIENT: float = next(
    float(row["coefficient"]) for row in tables.rows("discharge") if row["shape"] == DEFAULT_SHAPE
)
LOWEST_COEFFICIENT, HIGHEST_COEFFICIENT = input_row("coefficient").low, input_row("coefficient").high


class CoefficientLaw(Protocol):
    """A discharge coefficient that depends on the bore and on the Reynolds number of the ideal jet."""

    def __call__(self, diameter_m: float, reynolds: float) -> float:
        """The coefficient [-]; raises UserError outside the range of its source."""

    def unchecked(self, diameter_m: float, reynolds: float) -> float:
        """The same without the check of range, for a search that passes through bores it does not return."""


Coefficient = float | CoefficientLaw
"""A discharge coefficient [-], or the law of one."""


@overload
def check_coefficient(coefficient: float, key: str = "coefficient") -> float: ...
@overload
def check_coefficient(coefficient: Array, key: str = "coefficient") -> Array: ...
def check_coefficient(coefficient: float | Array, key: str = "coefficient") -> float | Array:
    """The coefficient, or an array of them, when a discharge coefficient can have that value.

    Raises UserError outside 0.5 to 1.0.

    >>> check_coefficient(0.9)
    0.9
    """
    wrong = first_outside(coefficient, LOWEST_COEFFICIENT, HIGHEST_COEFFICIENT)
    if wrong is not None:
        raise UserError(
            Problem(
                f"a discharge coefficient must lie in {input_row('coefficient').span}",
                value=f"{wrong:g}",
                key=key,
                accepted=input_row("coefficient").span,
                fix=f"{HANDBOOK_COEFFICIENT:.2f} is the handbook value of a {DEFAULT_SHAPE} orifice",
            )
        )
    return coefficient
