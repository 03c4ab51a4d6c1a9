"""The figure of a test that a row of a plan asks for, and its verdict by the band of the row."""

from __future__ import annotations

from burnerlab.appliance.conversion.result import verdict_of, verdict_of_interval
from burnerlab.bench.reading_plan import PlanRow
from burnerlab.bench.record.entry import BenchReading, Result, TestRecord
from burnerlab.tables.verdict import Verdict

COVERAGE = 2.0  # of an expanded uncertainty, as the record keeps it


def figure_of(entry: TestRecord, row: PlanRow) -> Result | BenchReading | None:
    """The figure of a test that a row of a plan asks for: of a heat input that at the place of the plan."""
    figures: tuple[Result | BenchReading, ...] = (*entry.test.results, *entry.test.readings)
    for quantity in (f"{row.quantity}_at_place", row.quantity):
        fitting = (one for one in figures if (one.quantity, one.burner) == (quantity, row.burner))
        if (found := next(fitting, None)) is not None:
            return found
    return None


def expanded_of(figure: Result | BenchReading) -> float | None:
    """The uncertainty of a figure, k = 2; None where it is not stated.

    >>> expanded_of(BenchReading(quantity="manifold_pressure", value=2740.0, standard_uncertainty=12.0))
    24.0
    """
    if isinstance(figure, Result):
        return figure.expanded_uncertainty
    standard = figure.standard_uncertainty
    return None if standard is None else COVERAGE * standard


def row_verdict(row: PlanRow, value: float, expanded: float | None) -> Verdict:
    """The verdict on a reading by the band of its row; ``not evaluated`` where the row has none.

    expanded : uncertainty of the value, k = 2; None where it is not stated
    """
    if expanded is None:
        return verdict_of(value, row.low, row.high)
    return verdict_of_interval(value, (value - expanded, value + expanded), row.low, row.high)
