"""How the heat inputs spread: as made at the end of the line, and in use in the field, apart."""

from __future__ import annotations

from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.appliance.memory import Memory, Same, tables_key
from burnerlab.appliance.study.monte_carlo import DRAWS, OF_RANGE, InputSpread, ToleranceResult, tolerance
from burnerlab.report.sheet.blocks import BlockColumn, Cell, Section, Table, percent
from burnerlab.report.sheet.burners import band_words
from burnerlab.report.sheet.wording import name
from burnerlab.tables.problem import UserError


def section(c: Conversion) -> Section | None:
    """The spread of every burner on the new gas; None for a conversion put together by hand."""
    found = None if c.job is None else _tolerance(c.job)
    if found is None:
        return None
    columns = (
        BlockColumn(title="Burner"),
        *(
            BlockColumn(title=f"{stage}: {head}", side="right")
            for stage in ("Factory", "Field")
            for head in ("95 % lie within", "outside the band")
        ),
        BlockColumn(title="Main cause in the field"),
    )
    pairs = zip(
        (*found.end_of_line.burners, found.end_of_line.total),
        (*found.in_the_field.burners, found.in_the_field.total),
        strict=True,
    )
    *rows, total = (
        (
            Cell(text=name(made.name)),
            *_spread(made),
            *_spread(used),
            Cell(text=used.dominant_cause or "none"),
        )
        for made, used in pairs
    )
    any_made, any_used = (
        f"{100 * stage.any_outside_fraction:.1f} %" for stage in (found.end_of_line, found.in_the_field)
    )
    words = (
        "Factory: drill, coefficient and setting of the pressure. Field: pressure, gas and temperature of the place "
        "add to them. All about the nominal pressure: what the supply of the file takes off is not among them. "
        f"Band {band_words(c)}; units with a burner outside: factory {any_made}, field {any_used}. "
        "These follow from the spreads of the file, else common ones: they count no unit that was measured. They are "
        f"of the new gas, {DRAWS} draws. The "
        "interval as made of the orifices adds how well the coefficient of the shape is known."
    )
    lead = f"{words}{_pressure_words(found)}"
    table = Table(
        caption="Spread of the heat input, against the aim", columns=columns, rows=tuple(rows), total=total
    )
    return Section(key="tolerance", title="Tolerance", lead=lead, blocks=(table,), place="supply")


def _pressure_words(spread: ToleranceResult) -> str:
    """Over which range the pressure spreads where the gas table gives it, as of a couple."""
    cause = next((one for one in spread.total.causes if one.cause == "pressure"), None)
    return (
        f" Pressure {cause.words}: {cause.source}." if cause is not None and OF_RANGE in cause.words else ""
    )


SPREADS = Memory(16)
"""Of the jobs printed last: several formats ask for the same conversion."""


def _tolerance(job: Job) -> ToleranceResult | None:
    """By as many draws as the command takes, so that both print the same figures."""
    key = Same(job.appliance), tables_key(job.appliance.tables), Same(job.target)

    def spread_of_units() -> ToleranceResult | None:
        try:
            return tolerance(job.appliance, job.target, draws=DRAWS)
        except UserError:  # a spread of the file that leaves no heat input
            return None

    return SPREADS.recall(key, spread_of_units)


def _spread(spread: InputSpread) -> tuple[Cell, Cell]:
    low, high = (end / spread.aim_gross_W - 1.0 for end in (spread.low_gross_W, spread.high_gross_W))
    outside = 100.0 * spread.outside_fraction
    return (
        Cell(text=f"{percent(low)} to {percent(high)}"),
        Cell(text=f"{outside:.1f} %", value=outside, unit="%"),
    )
