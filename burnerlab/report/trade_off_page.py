"""A search for an even map as a page with its figure, and the designs as a CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from burnerlab.layout.optimise import Design, TradeOff, letter
from burnerlab.quantity.outputs import flat
from burnerlab.report.csv_out import text_cell
from burnerlab.report.layout_page import PlainTable, study_html, targets_in, write_study
from burnerlab.report.numbers import digits
from burnerlab.report.parts import Picture
from burnerlab.report.wording import clean
from burnerlab.report.write import GET_IT, SheetFiles
from burnerlab.tables.evidence import Evidence

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance

TRADE_OFF_ENDINGS = {"page": ".html", "designs": ".csv", "trade-off": ".svg"}
TRADE_OFF = Picture(
    key="trade-off",
    title="What evenness costs",
    caption="Each design by its letter; the star is the present layout. Filled: no other design is as even with as few "
    "tubes and as little input. Crossed: a constraint does not hold. Below, the tubes of the filled ones in plan.",
    description="Coefficient of variation of the heat against heat input for each number of tubes, and plans.",
)
TUBE = ("x_mm", "y_mm", "z_mm", "length_mm", "heat_input_net_kW")
"""Columns of the table of designs that say where a tube lies, "tube_" before them."""


def trade_off_targets(
    appliance: Appliance, surface: str, folder: Path | str, overwrite: bool
) -> dict[str, Path]:
    """Where page, figure and designs go, asked before the search. Raises UserError for a file that exists."""
    return targets_in(folder, f"{appliance.name[:40]} {surface[:30]} trade-off", TRADE_OFF_ENDINGS, overwrite)


def write_trade_off(
    appliance: Appliance,
    found: TradeOff,
    notes: Sequence[str],
    targets: Mapping[str, Path],
    overwrite: bool = False,
) -> SheetFiles:
    """Write page, figure and designs of a search."""
    figures, missing = _trade_off_figures(found)
    made = {"page": trade_off_html(appliance, found, notes, figures), "designs": designs_csv(found)}
    return write_study(targets, made | figures, missing, overwrite)


def _trade_off_figures(found: TradeOff) -> tuple[dict[str, str], list[str]]:
    try:
        from burnerlab.report.layout_figures import svg
        from burnerlab.report.trade_off_figure import trade_off_figure

        drawn = svg(trade_off_figure(found), TRADE_OFF.key, TRADE_OFF.title, TRADE_OFF.description)
    except ImportError as error:
        return {}, [f"The figure was not drawn: {error.name or 'matplotlib'} is not installed; {GET_IT}"]
    return {TRADE_OFF.key: drawn}, []


def trade_off_html(
    appliance: Appliance, found: TradeOff, notes: Sequence[str], figures: Mapping[str, str]
) -> str:
    """The page of a search; a missing figure is told in words."""
    evenest = min(found.front, key=_variation, default=None)
    headline = (
        ("Variation at present", _percent(found.present)),
        ("Least variation on the front", "no design holds" if evenest is None else _percent(evenest)),
        ("Designs", str(len(found.designs))),
        ("On the front", str(len(found.front))),
        ("Evidence", Evidence.ESTIMATE),
    )
    return study_html(
        appliance,
        figures,
        kind="Search for an even map",
        title=f"{clean(appliance.name)}: {clean(found.present.layout.surface.name)}",
        subtitle=f"What evenness costs, seed {found.seed}: a trade-off, not an answer",
        headline=headline,
        pictures=(TRADE_OFF,),
        tables=(_designs(found), _tubes(found)),
        notes=[clean(note, 300) for note in notes],
    )


def _named(found: TradeOff) -> list[tuple[str, Design]]:
    return [("present", found.present), *((letter(k), one) for k, one in enumerate(found.designs))]


def _variation(one: Design) -> float:
    return one.evenness.coefficient_of_variation


def _percent(one: Design) -> str:
    return f"{100 * _variation(one):.0f} %"


def state_of(name: str, one: Design) -> str:
    """How a design stands, in words; the present layout is no design of the search."""
    if name == "present":
        return ""
    return "front" if one.best else "holds" if one.holds else "does not hold"


def _designs(found: TradeOff) -> PlainTable:
    rows = tuple(
        (
            name,
            str(one.tubes),
            digits(one.heat_input_net_W / 1e3, 3),
            f"{100 * _variation(one):.0f}",
            digits(one.evenness.spread, 3),
            digits(one.evenness.mean / 1e3, 3),
            state_of(name, one) or "–",
            ", ".join(one.binding) or "–",
        )
        for name, one in _named(found)
    )
    heads = (
        "Design",
        "Tubes",
        "Net kW",
        "Variation, %",
        "(max − min)/mean",
        "Mean, kW/m²",
        "State",
        "At its edge",
    )
    return PlainTable(caption="Designs", heads=heads, rows=rows)


def _tubes(found: TradeOff) -> PlainTable:
    rows = tuple(
        (f"{name}: {clean(str(row[0]), 40)}", *(f"{value:.0f}" for value in row[1:5]), digits(row[5], 3))
        for name, one in _named(found)
        if one.best or one is found.present
        for row in _places(one)
    )
    heads = ("Tube", "x, mm", "y, mm", "Height, mm", "Length, mm", "Net kW")
    return PlainTable(caption="Tubes at present and of the designs on the front", heads=heads, rows=rows)


def _places(one: Design) -> list[tuple[str, float, float, float, float, float]]:
    return [
        (b.name, 1e3 * b.x_m, 1e3 * b.y_m, 1e3 * b.z_m, 1e3 * b.length_m, b.heat_input_W / 1e3)
        for b in one.burners
    ]


def designs_csv(found: TradeOff) -> str:
    """A row for each tube of each design, also of those that do not hold."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    designs = [
        ({"design": name, "state": state_of(name, one)} | flat(one), one) for name, one in _named(found)
    ]
    writer.writerow([*designs[0][0], "tube", *(f"tube_{key}" for key in TUBE)])
    for head, one in designs:
        for tube in one.burners:
            values = flat(tube)
            cells = [*head.values(), *(values[key] for key in TUBE)]
            plain = [f"{value:.6g}" if isinstance(value, float) else value for value in cells]
            writer.writerow([*plain[: len(head)], text_cell(clean(tube.name)), *plain[len(head) :]])
    return stream.getvalue()
