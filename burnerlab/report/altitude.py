"""Altitude and its policies on terminal and sheet: what is enlarged, and what each policy would ask for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from burnerlab.orifice.altitude import height_words
from burnerlab.report.numbers import Cell
from burnerlab.report.parts import BlockColumn, Points, Section, Table
from burnerlab.report.wording import clean, name

if TYPE_CHECKING:
    from rich.table import Table as RichTable

    from burnerlab.appliance.result import Altitude, Conversion, PolicyBore, PolicyRow

CHOOSE = 'Choose one: --policy NAME, or altitude_policy = "NAME" under [limits] of the file.'
FROM = "Deviations are from that."
SEA_LEVEL = "(bore for sea level)"


def altitude_head(c: Conversion) -> tuple[str, ...]:
    """What altitude does to the bores below, in a line or two; nothing where it does nothing."""
    found = c.altitude
    if found is None:
        return ()
    place = height_words(found.altitude_m)
    if found.policy is None:
        kept = f"{100 * (found.sea_level.factor or 1.0):.1f} % of the rating"
        text = f"Altitude {place}: no altitude policy is chosen. No bore is enlarged:"
        return (f"{text} each is the one for sea level and gives {kept} here. {FROM}",)
    row = found.rows[0]
    share = "the full rating" if row.factor == 1.0 else f"{100 * (row.factor or 1.0):.1f} % of the rating"
    text = f"Altitude {place}, policy {clean(found.policy)}: {share}."
    text += f" {FROM}" if row.factor != 1.0 else ""
    return (text, *_changes(found))


def _changes(found: Altitude) -> tuple[str, ...]:
    """Bores that differ from those for sea level, equal changes together."""
    feet = height_words(found.altitude_m).partition(" (")[0]
    grouped: dict[str, list[str]] = {}
    for sea, here in found.changes():
        if sea.drill != here.drill:
            word = "enlarged" if here.drill_diameter_m > sea.drill_diameter_m else "reduced"
            change = f"bore {word} from {_from_to(bore_words(sea), bore_words(here))} for {feet}"
            grouped.setdefault(change, []).append(name(here.burner))
    return tuple(f"{change} ({', '.join(who)})" for change, who in grouped.items()) or (
        "No drill differs from the one for sea level.",
    )


def _from_to(sea: str, here: str) -> str:
    """Two bores, their common unit once.

    >>> _from_to("1.00 mm", "1.05 mm"), _from_to("#57 (1.092 mm)", "1.15 mm")
    ('1.00 to 1.05 mm', '#57 (1.092 mm) to 1.15 mm')
    """
    return f"{sea.removesuffix(' mm') if here.endswith(' mm') else sea} to {here}"


def bore_words(bore: PolicyBore) -> str:
    """A drill with its bore where its name does not say it.

    >>> from burnerlab.appliance.result import PolicyBore
    >>> made = PolicyBore(burner="a", diameter_m=1e-3, drill="#60", drill_diameter_m=1.016e-3, deviation=0.0)
    >>> bore_words(made)
    '#60 (1.016 mm)'
    """
    drill = clean(bore.drill, 12)
    return drill if drill.endswith("mm") else f"{drill} ({1e3 * bore.drill_diameter_m:.3f} mm)"


def _every(found: Altitude) -> tuple[PolicyRow, ...]:
    return (found.sea_level, *found.rows)


def _label(row: PolicyRow) -> str:
    return clean(row.policy) if row.policy else SEA_LEVEL


def altitude_table(c: Conversion) -> RichTable | None:
    """A line for each policy where none is chosen: the share of the rating and the drill of every burner."""
    from rich import box
    from rich.table import Table as Lines
    from rich.text import Text

    found = c.altitude
    if found is None or found.policy is not None:
        return None
    lines = Lines(
        box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0), header_style="bold"
    )
    lines.add_column(f"altitude policy,\n{height_words(found.altitude_m)}", no_wrap=True)
    lines.add_column("rating\n%", justify="right", no_wrap=True)
    lines.add_column("drills, burners in the order above", ratio=1, overflow="fold")
    for row in _every(found):
        share = "-" if row.factor is None else f"{100 * row.factor:.1f}"
        lines.add_row(Text(_label(row)), Text(share), Text(_drills(row)))
    return lines


def altitude_sections(c: Conversion) -> tuple[Section, ...]:
    """The same on the sheet, with the source of each policy."""
    found = c.altitude
    if found is None:
        return ()
    columns = (
        BlockColumn(title="Altitude policy"),
        BlockColumn(title="Of the rating", side="right"),
        BlockColumn(title="Drills, burners in the order above", wide=True),
        BlockColumn(title="Source", wide=True),
    )
    rows = tuple(
        (
            Cell(text=_label(row)),
            Cell(text="-" if row.factor is None else f"{100 * row.factor:.1f} %", value=row.factor),
            Cell(text=_drills(row)),
            Cell(text=clean(row.source)),
        )
        for row in _every(found)
    )
    lead = " ".join(line.rstrip(".") + "." for line in altitude_head(c))
    items = () if found.policy is not None else (Points(items=(CHOOSE,)),)
    made = Table(caption="Drills by altitude policy", columns=columns, rows=rows)
    return (Section(key="altitude", title="Altitude", lead=lead, blocks=(made, *items)),)


def _drills(row: PolicyRow) -> str:
    """Its drills, or why it has none."""
    return ", ".join(clean(bore.drill, 12) for bore in row.bores) or clean(row.why)
