"""Pressure couples on terminal and sheet: one orifice, and what each of the two gases burns through it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from burnerlab.appliance.couples import unmatched
from burnerlab.report.basis import basis_of
from burnerlab.report.numbers import POWER, Cell, digits, percent
from burnerlab.report.parts import BlockColumn, Section, Table
from burnerlab.report.wording import clean, name

if TYPE_CHECKING:
    from rich.table import Table as RichTable

    from burnerlab.appliance.result import Conversion, Couple, CoupleInput
    from burnerlab.quantity import System


def couple_head(c: Conversion) -> tuple[str, ...]:
    """That the orifice serves two gases and which of them it is sized on; nothing where there is no couple."""
    found = c.pressure_couple
    if found is None:
        return _other_ways(c)
    reference, other = _gases(found)
    text = f"Pressure couple {found.nominal} mbar ({clean(found.category)}, {found.source.rpartition(', ')[2]}): one"
    text += f" orifice for both gases, sized on {reference}. {other} burns what it then gives: never enlarge for it."
    return (text,)


def _other_ways(c: Conversion) -> tuple[str, ...]:
    """Couples the gas is sold in too, where no category was named; that category or region has no such pressure."""
    gas = name(c.to_gas.title)
    if c.job is not None and (said := unmatched(c.job)):
        return (clean(said),)
    return tuple(
        f"{gas} belongs to {words} too. These orifices are sized on this gas alone; "
        f"for that category add --category {words.rpartition('(')[2].rstrip(')')}: one other orifice then serves both."
        for words in c.pressure_couples_beside
    )


def beside(c: Conversion) -> str:
    """Couples in which the new gas is sold at this pressure too; "" where there is none, or a category was named."""
    if not c.pressure_couples_beside:
        return ""
    words = " and ".join(c.pressure_couples_beside)
    return f"sold as {words} too: name that category, and one orifice serves both gases"


def _gases(found: Couple) -> tuple[str, str]:
    return (
        f"{clean(found.reference_gas)} at {found.reference_gauge_pressure_Pa / 100:.3g} mbar",
        f"{clean(found.other_gas)} at {found.other_gauge_pressure_Pa / 100:.3g} mbar",
    )


def _inputs(
    c: Conversion, found: Couple, one: CoupleInput
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Heat input [W] of both gases on the basis of the ratings, each with its deviation [-]."""
    is_net = c.rating_basis == "net"
    reference, other = (found.reference_net_to_gross, found.other_net_to_gross) if is_net else (1.0, 1.0)
    return (
        (one.reference_gross_W * reference, one.reference_deviation),
        (one.other_gross_W * other, one.other_deviation),
    )


def couple_table(c: Conversion, system: System) -> RichTable | None:
    """The heat inputs of both gases, a line for each burner."""
    from rich import box
    from rich.table import Table as Lines
    from rich.text import Text

    found = c.pressure_couple
    if found is None:
        return None
    scale, lines = (
        POWER.scale(system),
        Lines(
            box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0), header_style="bold"
        ),
    )
    lines.add_column("burner", ratio=1, min_width=12, overflow="fold")
    for gas in _gases(found):
        lines.add_column(f"{gas},\n{scale.unit} {basis_of(c).word}", justify="right", no_wrap=True)
    for one in found.inputs:
        ends = _inputs(c, found, one)
        cells = (f"{digits(scale.of(power), 3)} ({percent(off)})" for power, off in ends)
        lines.add_row(Text(name(one.burner)), *(Text(cell) for cell in cells))
    return lines


def couple_sections(c: Conversion, system: System) -> tuple[Section, ...]:
    """The same on the sheet."""
    found = c.pressure_couple
    if found is None:
        return ()
    columns = (
        BlockColumn(title="Burner"),
        *(BlockColumn(title=f"{gas}, {basis_of(c).word}", side="right") for gas in _gases(found)),
    )
    rows = tuple(
        (
            Cell(text=name(one.burner)),
            *(_cell(power, off, system) for power, off in _inputs(c, found, one)),
        )
        for one in found.inputs
    )
    made = Table(caption="Heat input of both gases, deviation from the rating", columns=columns, rows=rows)
    lead = f"{couple_head(c)[0]} Source: {clean(found.source)}."
    return (Section(key="couple", title="Pressure couple", lead=lead, blocks=(made,)),)


def _cell(power_W: float, off: float, system: System) -> Cell:
    return Cell(text=f"{POWER.inline(power_W, system)}, {percent(off)}", value=power_W)
