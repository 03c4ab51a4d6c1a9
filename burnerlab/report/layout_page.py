"""A layout study and a search for an even map as pages with figures, and as CSV."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from burnerlab import __version__
from burnerlab.appliance import Appliance
from burnerlab.layout.comparison import LayoutComparison
from burnerlab.layout.fit_result import GridFit
from burnerlab.layout.heat_balance import balance_rows
from burnerlab.layout.heat_map import standard_measures
from burnerlab.layout.layout_study import LayoutStudy
from burnerlab.layout.placement import MapBasis, map_basis
from burnerlab.layout.search import Design, TradeOff, letter
from burnerlab.quantity import Problem, System, UserError
from burnerlab.quantity.outputs import flat, texts
from burnerlab.quantity.prose import column_in, in_print, in_reader_units
from burnerlab.quantity.quantity_text import kilowatt, millimetre
from burnerlab.report.figures.heat_map import METRIC, US
from burnerlab.report.formats import text_cell
from burnerlab.report.html import NAMESPACE, _environment, page_style
from burnerlab.report.sheet.blocks import Picture, digits
from burnerlab.report.sheet.layout_change import comparison_rows, signed
from burnerlab.report.sheet.terms import reworded
from burnerlab.report.sheet.wording import STATEMENT, CautionLabels, clean
from burnerlab.report.write import GET_IT, SheetFiles, conflict, stem, write_together
from burnerlab.tables.cautions import cautions
from burnerlab.tables.figure import Evidence
from burnerlab.tables.languages import ENGLISH
from burnerlab.tables.phrase import Phrase
from burnerlab.tables.region import in_terms_of

# A layout study as a page with its figures, and the map as a CSV.


@dataclass(frozen=True, slots=True, kw_only=True)
class PlainTable:
    """A table of texts; the first column names the row."""

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    words: bool = False  # running text, set to the left
    system: System | None = None  # its units, where it is of one market; else those of its paper


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperLabels(CautionLabels):
    """What stands on every paper of tables."""

    note: str = Phrase("Note")
    of_signal: str = Phrase("Signal")
    caution: str = Phrase("Caution")
    figures: str = Phrase("Figures")
    file_version: str = Phrase("input")
    explained: str = Phrase("Explained:")


PER_AREA = "kW per square metre"
MAP = Picture(
    key="heat-map",
    title="Heat taken up",
    caption=f"Darker is more, in {PER_AREA}; dashes are the burners, solid frames the shields.",
    description="Contour map of the heat flux over the cooking surface.",
)
PLAN = Picture(
    key="plan",
    title="Plan and section",
    caption="To scale, burners numbered; a closed lid is drawn where it sends heat to this surface.",
    description="Plan of burners, shields and cooking surface, and a section from the front.",
)


def write_layout(
    appliance: Appliance,
    studies: Sequence[LayoutStudy],
    folder: Path | str,
    *,
    overwrite: bool = False,
    fit: GridFit | None = None,
    size: str = "",
    system: System = "metric",
) -> SheetFiles:
    """Write page, figures and map of a layout study into a folder; one study, or one for each of two gases.

    size : of the paper on which the page is printed, "" is that of the printer; system : of the units of page and
    figures, those of the map as CSV stay
    Raises UserError for a file that exists already, or a folder that is none.
    """
    surface = studies[0].map.layout.surface.name
    targets = targets_in(folder, f"{appliance.name[:40]} {surface[:30]} layout", LAYOUT_ENDINGS, overwrite)
    figures, missing = _figures(studies, system)
    page = layout_html(appliance, studies, figures, fit, size=size, system=system)
    return write_study(targets, {"page": page, "map": map_csv(studies)} | figures, missing, overwrite)


def targets_in(
    folder: Path | str, words: str, endings: Mapping[str, str], overwrite: bool
) -> dict[str, Path]:
    """Where each file of a study goes, by key. Raises UserError for a file that exists, or a folder that is none."""
    home, name = Path(folder), stem(words)
    if "\0" in str(home) or (home.exists() and not home.is_dir()):
        raise UserError(
            Problem("not a folder", value=str(home), fix="name a folder, it is made when missing")
        )
    targets = {key: home.resolve() / f"{name}{ending}" for key, ending in endings.items()}
    problems = [problem for path in targets.values() for problem in conflict(path, overwrite)]
    if problems:
        raise UserError(problems)
    return targets


def write_study(
    targets: Mapping[str, Path], contents: Mapping[str, str | bytes], missing: Sequence[str], overwrite: bool
) -> SheetFiles:
    """Write every text and picture that was made to its target: all of them or none."""
    made = {key: one.encode() if isinstance(one, str) else one for key, one in contents.items()}
    write_together({targets[key]: content for key, content in made.items()}, overwrite)
    return SheetFiles(files=tuple(targets[key] for key in contents), missing=tuple(missing))


PNG = "-png"
LAYOUT_ENDINGS = {
    "page": ".html",
    "map": ".csv",
    "heat-map": "-map.svg",
    "heat-map-png": "-map.png",
    "plan": "-plan.svg",
    "plan-png": "-plan.png",
}


def _figures(studies: Sequence[LayoutStudy], system: System) -> tuple[dict[str, str | bytes], list[str]]:
    try:
        from burnerlab.report.figures.heat_map import heat_map_figure
        from burnerlab.report.figures.plan import plan_figure

        drawn = _twice(heat_map_figure(studies, system), MAP)
        drawn |= _twice(plan_figure(studies[0].map.layout, system), PLAN)
    except ImportError as error:
        return {}, [f"The figures were not drawn: {error.name or 'matplotlib'} is not installed; {GET_IT}"]
    return drawn, []


def _twice(figure: Any, picture: Picture) -> dict[str, str | bytes]:
    """A figure as SVG for the page and as PNG for a message or a report of one's own."""
    from burnerlab.report.figures.heat_map import png, svg

    return {
        picture.key: svg(figure, picture.key, picture.title, picture.description),
        f"{picture.key}{PNG}": png(figure),
    }


def map_csv(studies: Sequence[LayoutStudy]) -> str:
    """Every cell of the map: place and flux on each gas."""
    grid = studies[0].map.grid
    heads, columns = ["x_mm", "y_mm"], [1e3 * grid.x_m.ravel(), 1e3 * grid.y_m.ravel()]
    for k, study in enumerate(studies, start=1):
        heads += [f"flux_kW_per_m2_{k}", f"flux_ratio_{k}"]
        columns += [study.map.flux_W_per_m2.ravel() / 1e3, study.map.flux_ratio.ravel()]
        heads += [f"flux_low_kW_per_m2_{k}", f"flux_high_kW_per_m2_{k}"]
        columns += [study.cells.flux_low_W_per_m2.ravel() / 1e3, study.cells.flux_high_W_per_m2.ravel() / 1e3]
        if study.temperature_K is not None:
            heads.append(f"temperature_C_{k}")
            columns.append(study.temperature_K.ravel() - 273.15)
    gases = "".join(f"# flux_kW_per_m2_{k + 1}: {clean(study.gas)}\n" for k, study in enumerate(studies))
    lines = [",".join(f"{value:.6g}" for value in row) for row in zip(*columns, strict=True)]
    return gases + "\n".join([",".join(heads), *lines]) + "\n"


def layout_html(
    appliance: Appliance,
    studies: Sequence[LayoutStudy],
    figures: Mapping[str, str | bytes],
    fit: GridFit | None = None,
    *,
    size: str = "",
    system: System = "metric",
) -> str:
    """The page of a layout study; ``figures`` by key, a missing one is told in words."""
    first = studies[0]
    measured = first.map.evenness
    headline = (
        ("Mean heat taken up", f"{_flux_digits(measured.mean, system)} kW/m²"),
        ("(max − min)/mean", digits(measured.spread, 3)),
        ("Coefficient of variation", f"{100 * measured.coefficient_of_variation:.0f} %"),
        ("Area within 10 % of the mean", f"{100 * measured.within_10_percent:.0f} %"),
        ("Evidence of the heat flux", first.evidence),
        ("Evidence of the pattern", f"{first.pattern_evidence}; measured grid: {first.fit_state}"),
    )
    return study_html(
        appliance,
        figures,
        size=size,
        system=system,
        kind="Layout study",
        title=f"{clean(appliance.name)}: {clean(first.map.layout.surface.name)}",
        subtitle=" and ".join(clean(study.gas) for study in studies),
        headline=headline,
        pictures=(MAP, PLAN),
        tables=_tables(studies, fit, system, map_basis(appliance)),
        notes=[
            *(clean(contact.text, 300) for study in studies for contact in study.flame_contacts),
            *(clean(note, 300) for note in first.notes),
        ],
    )


def study_html(
    appliance: Appliance, figures: Mapping[str, str | bytes], system: System, **fields: Any
) -> str:
    """The page of a study of one appliance in the units of its reader and the words of its region.

    fields : as of ``study_page``
    """
    named = (appliance.name, *(burner.name for burner in appliance.burners))
    words = in_terms_of(appliance.region, named)

    def text(value: str) -> str:
        return words(in_print(in_reader_units(_flux_text(value, system), system)))

    own = {
        "headline": tuple((words(label), text(value)) for label, value in fields["headline"]),
        "tables": tuple(_table_for(table, system, words) for table in fields["tables"]),
        "notes": [text(note) for note in fields["notes"]],
        "pictures": tuple(
            replace(one, title=words(one.title), caption=_caption(one, system, words))
            for one in fields["pictures"]
        ),
        "cautions": reworded(cautions(), in_terms_of(appliance.region)),
    }
    return study_page(appliance.file_sha256, figures, **fields | own)


def _flux_text(text: str, system: System) -> str:
    """A text with its heat fluxes in one unit, that of the map."""
    if system == "metric":
        return text
    return FLUX.sub(lambda hit: f"{_flux(hit['figure'])} {US.flux}", text)


def _flux_digits(value_W_per_m2: float, system: System) -> str:
    """A heat flux in kW/m2 for a page, with digits to spare where it is printed in another unit."""
    return digits(value_W_per_m2 / METRIC.flux_W_per_m2, 3 if system == "metric" else 6)


def _flux(figure: str) -> str:
    """A printed heat flux of kW/m2 in the unit of maps in US units."""
    value = float(figure.replace(" ", "").replace("\N{MINUS SIGN}", "-"))
    shown = digits(abs(value) * METRIC.flux_W_per_m2 / US.flux_W_per_m2, 3)
    return figure[0] + shown if figure[0] in "+-\N{MINUS SIGN}" else shown


def _flux_column(head: str, cells: Sequence[str], system: System) -> tuple[str, Sequence[str]]:
    """A head and its cells, as ``column_in``; heat fluxes in the unit of the map."""
    if system == "metric" or PER_m2 not in head:
        return column_in(system, head, cells)
    return head.replace(PER_m2, US.flux), [NUMBER.sub(lambda hit: _flux(hit[0]), cell) for cell in cells]


PER_m2 = "kW/m²"
NUMBER = re.compile(r"[-+\N{MINUS SIGN}]?\d[\d ]*(?:\.\d+)?")
FLUX = re.compile(rf"(?P<figure>{NUMBER.pattern}) {PER_m2}")


def _caption(picture: Picture, system: System, words: Callable[[str], str]) -> str:
    unit = "Btu per hour and square inch" if system == "US" else PER_AREA
    return words(picture.caption.replace(PER_AREA, unit))


def _table_for(table: PlainTable, system: System, words: Callable[[str], str]) -> PlainTable:
    """A table whose units stand in the head of a column, of a row, or beside the figure."""
    rows = table.rows
    columns = [
        _flux_column(head, [row[place] for row in rows], system) for place, head in enumerate(table.heads)
    ]
    made = [[cells[place] for _, cells in columns] for place in range(len(rows))]
    for row in made:
        label, cells = _flux_column(row[0], row[1:], system)
        figures = (in_reader_units(_flux_text(cell, system), system) for cell in cells)
        row[:] = [words(in_print(label)), *map(in_print, figures)]
    return replace(
        table,
        caption=words(table.caption),
        heads=tuple(words(in_print(head)) for head, _ in columns),
        rows=tuple(map(tuple, made)),
    )


def study_page(input_sha256: str, figures: Mapping[str, str | bytes], **fields: Any) -> str:
    """The page of a study: ``fields`` are its kind, title, subtitle, headline, pictures, tables and notes."""
    from markupsafe import Markup

    css = page_style(fields.pop("size", ""), ("sheet.css",))
    values: dict[str, Any] = {
        "date": "",
        "css": Markup(css),  # our own file
        "figures": {  # drawn by us
            key: Markup(svg.replace(NAMESPACE, "")) for key, svg in figures.items() if isinstance(svg, str)
        },
        "statement": STATEMENT,
        "labels": PaperLabels(),
        "language": ENGLISH,
        "warnings": (),
        "stops": (),
        "cautions": cautions(),
        "footer": f"burnerlab {__version__}, input {input_sha256[:12]}",
    }
    return _environment().get_template("study.html.j2").render(values | fields)


def _tables(
    studies: Sequence[LayoutStudy], fit: GridFit | None, system: System, basis: MapBasis
) -> tuple[PlainTable, ...]:
    tables = [_measures(studies, system), _balance(studies), _burners(studies[0], system, basis)]
    if all(study.plate is not None for study in studies):
        tables.insert(2, _plate(studies))
    if studies[0].map.shields:
        shields = tuple(
            (
                clean(one.name),
                f"{one.temperature_K - 273.15:.0f}",
                "as entered" if one.is_entered else "calculated",
            )
            for one in studies[0].map.shields
        )
        tables.append(PlainTable(caption="Shields", heads=("Shield", "°C", "Temperature"), rows=shields))
    if fit is not None:
        tables.append(_fitted(fit))
    rows = tuple((one.standard, one.appliance, one.measure, one.provenance) for one in standard_measures())
    heads = ("Standard", "Appliance", "What it measures", "Known by")
    tables.append(
        PlainTable(caption="What standards measure; none sets a limit", heads=heads, rows=rows, words=True)
    )
    return tuple(tables)


def _measures(studies: Sequence[LayoutStudy], system: System) -> PlainTable:
    def flux(value_W_per_m2: float) -> str:
        return _flux_digits(value_W_per_m2, system)

    def line(label: str, of: Any) -> tuple[str, ...]:
        return (label, *(of(study) for study in studies))

    def band(span: Any, figure: Callable[[float], str] = lambda value: digits(value, 3)) -> str:
        return f"{figure(span.low)} to {figure(span.high)}"

    rows = (
        line("Mean, kW/m²", lambda s: flux(s.map.evenness.mean)),
        line("Band of the mean, kW/m²", lambda s: band(s.band.mean_W_per_m2, flux)),
        line("Most, kW/m²", lambda s: flux(s.map.evenness.maximum)),
        line("Least, kW/m²", lambda s: flux(s.map.evenness.minimum)),
        line("(max − min)/mean", lambda s: digits(s.map.evenness.spread, 3)),
        line("Band of it", lambda s: band(s.band.spread)),
        line("Coefficient of variation, %", lambda s: f"{100 * s.map.evenness.coefficient_of_variation:.0f}"),
        line("Area within 10 % of the mean, %", lambda s: f"{100 * s.map.evenness.within_10_percent:.0f}"),
        line("Cells", lambda s: str(s.map.evenness.points)),
        line("Heat input, gross, kW", lambda s: digits(s.heat_input_gross_W / 1e3, 3)),
        line("Heat taken up, % of net input", lambda s: f"{100 * s.map.uptake:.0f}"),
        line("Heat input from below over area, gross, kW/m²", lambda s: flux(s.gross_W_per_m2)),
        line("Rule of thumb, no source, kW/m²", lambda s: flux(s.trade_W_per_m2.value)),
    )
    heads = ("Measure", *(clean(study.gas, 40) for study in studies))
    return PlainTable(caption="Measures, no pass mark", heads=heads, rows=rows)


def _balance(studies: Sequence[LayoutStudy]) -> PlainTable:
    rows = tuple(
        (label, *(f"{digits(watts / 1e3, 3)} ({100 * watts / whole:.1f} %)" for watts, whole in cells))
        for label, cells in balance_rows([study.balance for study in studies])
    )
    heads = ("Part", *(f"{clean(study.gas, 40)}, kW (of net heat input)" for study in studies))
    return PlainTable(caption="Where the heat goes", heads=heads, rows=rows)


def _plate(studies: Sequence[LayoutStudy]) -> PlainTable:
    """Every figure of a closed plate, as it is declared."""
    found = [dict(texts(study.plate)) for study in studies if study.plate is not None]
    rows = tuple((label, *(one[label] for one in found)) for label in found[0])
    heads = ("Plate", *(clean(study.gas, 40) for study in studies))
    return PlainTable(caption="The plate: conduction, own loss, times", heads=heads, rows=rows)


def _burners(study: LayoutStudy, system: System, basis: MapBasis, caption: str = "Burners") -> PlainTable:
    rows = tuple(
        (
            clean(part.name),
            f"{100 * part.heat_fraction:.1f}",
            kilowatt(part.heat_input_net_W * basis.of_net, ".3g", has_unit=False),
            "–" if part.flame_height_m is None else f"{1e3 * part.flame_height_m:.0f}",
            "–" if part.without is None else _flux_digits(part.without.mean, system),
            "–" if part.without is None else digits(part.without.spread, 3),
        )
        for part in study.parts
    )
    heads = (
        "Burner",
        "Share, %",
        f"kW {basis.word}",
        "Flame up to, mm",
        "Mean when off, kW/m²",
        "Spread when off",
    )
    return PlainTable(caption=caption, heads=heads, rows=rows)


def _fitted(fit: GridFit) -> PlainTable:
    rows = tuple(
        (
            constant.name,
            *constant.texts(),
            "no: at its bound, not used" if constant.is_at_bound else "yes" if constant.is_settled else "no",
        )
        for constant in fit.constants
    )
    plate = "" if fit.spread_length_m is None else ", after conduction in the plate"
    followed = f"{100 * fit.explained:.0f} % of their variance followed"
    caption = f"Fitted to {fit.readings} readings{plate}, {followed}: {fit.state}"
    return PlainTable(
        caption=caption, heads=("Constant", "Value", "Std. unc.", "95 % interval", "Determined"), rows=rows
    )


# Two layouts side by side as a page with figures, and both maps with their difference as a CSV.

COMPARISON = Picture(
    key="comparison",
    title="Both layouts on one scale, and the difference",
    caption="Below, red cells take up more with B, blue ones less; the thick line is no change. Dashes are the "
    "burners, solid frames the shields; in the map of the difference those of B.",
    description="Two contour maps of the heat flux on one scale of shades, and a map of the second less the first.",
)
PLAN_A, PLAN_B = (
    replace(PLAN, key=f"plan-{letter.lower()}", title=f"Plan and section of {letter}") for letter in "AB"
)
COMPARISON_ENDINGS = {
    "page": ".html",
    "map": ".csv",
    "comparison": ".svg",
    "comparison-png": ".png",
    "plan-a": "-plan-a.svg",
    "plan-a-png": "-plan-a.png",
    "plan-b": "-plan-b.svg",
    "plan-b-png": "-plan-b.png",
}


def write_comparison(
    appliances: tuple[Appliance, Appliance],
    comparison: LayoutComparison,
    folder: Path | str,
    *,
    overwrite: bool = False,
    size: str = "",
    system: System = "metric",
) -> SheetFiles:
    """Write page, figures and maps of two layouts side by side into a folder; size, system : as of ``write_layout``.

    Raises UserError for a file that exists already, or a folder that is none.
    """
    words = f"{appliances[0].name[:40]} {comparison.first.surface[:30]} comparison"
    targets = targets_in(folder, words, COMPARISON_ENDINGS, overwrite)
    figures, missing = _comparison_figures(comparison, system)
    page = comparison_html(appliances, comparison, figures, size=size, system=system)
    made = {"page": page, "map": comparison_csv(appliances, comparison)} | figures
    return write_study(targets, made, missing, overwrite)


def _comparison_figures(
    comparison: LayoutComparison, system: System
) -> tuple[dict[str, str | bytes], list[str]]:
    try:
        from burnerlab.report.figures.heat_map import comparison_figure
        from burnerlab.report.figures.plan import plan_figure

        drawn = _twice(comparison_figure(comparison, system), COMPARISON)
        for study, picture in ((comparison.first, PLAN_A), (comparison.second, PLAN_B)):
            drawn |= _twice(plan_figure(study.map.layout, system), picture)
    except ImportError as error:
        return {}, [f"The figures were not drawn: {error.name or 'matplotlib'} is not installed; {GET_IT}"]
    return drawn, []


def comparison_html(
    appliances: tuple[Appliance, Appliance],
    comparison: LayoutComparison,
    figures: Mapping[str, str | bytes],
    *,
    size: str = "",
    system: System = "metric",
) -> str:
    """The page of two layouts side by side; a missing figure is told in words."""
    first, second = comparison.first, comparison.second
    points = 100 * comparison.coefficient_of_variation_change
    headline = (
        ("Mean heat, B less A", f"{signed(comparison.mean_change_W_per_m2 / 1e3, 3)} kW/m²"),
        ("Coefficient of variation", f"{signed(points, 2)} points"),
        ("(max − min)/mean", signed(comparison.spread_change, 3)),
        ("Evidence of the heat flux", second.evidence),
    )
    names = [
        f"{letter}: {clean(one.name, 40)}, {clean(Path(one.file).name, 40)}"
        for letter, one in zip("AB", appliances, strict=True)
    ]
    rows = tuple(comparison_rows(comparison, system=system))
    heads = ("Measure", "A", "B", "Change", "Band of the change")
    why = comparison.why_no_difference
    return study_html(
        appliances[0],
        figures,
        size=size,
        system=system,
        kind="Two layouts",
        title=f"{clean(appliances[0].name)}: {clean(first.map.layout.surface.name)}",
        subtitle="; ".join(names),
        headline=headline,
        pictures=(COMPARISON, PLAN_A, PLAN_B),
        tables=(
            PlainTable(caption="Measures of both and the change, no pass mark", heads=heads, rows=rows),
            _burners(first, system, map_basis(appliances[0]), "A: burners"),
            _burners(second, system, map_basis(appliances[1]), "B: burners"),
        ),
        notes=[
            *([f"No map of the difference: {why}."] if why else []),
            *(
                clean(f"{letter}: {contact.text}", 300)
                for letter, study in zip("AB", (first, second), strict=True)
                for contact in study.flame_contacts
            ),
            "The shares of heat are one unknown of both layouts: the band of a change takes the same corner of them in "
            "both, and is no likely spread.",
            *dict.fromkeys(clean(note, 300) for note in (*first.notes, *second.notes)),
        ],
    )


def comparison_csv(appliances: tuple[Appliance, Appliance], comparison: LayoutComparison) -> str:
    """Every cell of the surface: place on that of A, heat on both and the change where there is a map of it."""
    change = comparison.difference_W_per_m2
    maps = [comparison.first.map] if change is None else [comparison.first.map, comparison.second.map]
    heads = ["x_mm", "y_mm", "flux_kW_per_m2_a", *([] if change is None else ["flux_kW_per_m2_b"])]
    columns: list[Any] = [1e3 * maps[0].x_m.ravel(), 1e3 * maps[0].y_m.ravel()]
    columns += [one.flux_W_per_m2.ravel() / 1e3 for one in maps]
    if change is not None:
        heads.append("change_kW_per_m2")
        columns.append(change.ravel() / 1e3)
    names = "".join(
        f"# {letter}: {clean(one.name)}, {clean(Path(one.file).name)}\n"
        for letter, one in zip("ab", appliances, strict=True)
    )
    lines = [",".join(f"{value:.6g}" for value in row) for row in zip(*columns, strict=True)]
    return names + "\n".join([",".join(heads), *lines]) + "\n"


# A search for an even map as a page with its figure, and the designs as a CSV.

TRADE_OFF_ENDINGS = {"page": ".html", "designs": ".csv", "trade-off": ".svg", "trade-off-png": ".png"}
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
    trade_off: TradeOff,
    notes: Sequence[str],
    targets: Mapping[str, Path],
    *,
    overwrite: bool = False,
    size: str = "",
    system: System = "metric",
) -> SheetFiles:
    """Write page, figure and designs of a search; size, system : as of ``write_layout``."""
    figures, missing = _trade_off_figures(trade_off, system, map_basis(appliance))
    page = trade_off_html(appliance, trade_off, notes, figures, size=size, system=system)
    texts = {"page": page, "designs": designs_csv(trade_off)}
    return write_study(targets, texts | figures, missing, overwrite)


def _trade_off_figures(
    trade_off: TradeOff, system: System, basis: MapBasis
) -> tuple[dict[str, str | bytes], list[str]]:
    try:
        from burnerlab.report.figures.trade_off import trade_off_figure

        drawn = _twice(trade_off_figure(trade_off, system, basis), TRADE_OFF)
    except ImportError as error:
        return {}, [f"The figure was not drawn: {error.name or 'matplotlib'} is not installed; {GET_IT}"]
    return drawn, []


def trade_off_html(
    appliance: Appliance,
    trade_off: TradeOff,
    notes: Sequence[str],
    figures: Mapping[str, str | bytes],
    *,
    size: str = "",
    system: System = "metric",
) -> str:
    """The page of a search; a missing figure is told in words."""
    evenest = min(trade_off.front, key=_variation, default=None)
    headline = (
        ("Variation at present", _percent(trade_off.present)),
        ("Least variation on the front", "no design holds" if evenest is None else _percent(evenest)),
        ("Designs", str(len(trade_off.designs))),
        ("On the front", str(len(trade_off.front))),
        ("Evidence", Evidence.ESTIMATE),
    )
    return study_html(
        appliance,
        figures,
        size=size,
        system=system,
        kind="Search for an even map",
        title=f"{clean(appliance.name)}: {clean(trade_off.present.layout.surface.name)}",
        subtitle=f"What evenness costs, seed {trade_off.seed}: a trade-off, not an answer",
        headline=headline,
        pictures=(TRADE_OFF,),
        tables=(
            _designs(trade_off, system, map_basis(appliance)),
            *_misses(trade_off),
            _tubes(trade_off, map_basis(appliance)),
        ),
        notes=[clean(note, 300) for note in notes],
    )


def _named(trade_off: TradeOff) -> list[tuple[str, Design]]:
    return [("present", trade_off.present), *((letter(k), one) for k, one in enumerate(trade_off.designs))]


def _variation(design: Design) -> float:
    return design.evenness.coefficient_of_variation


def _percent(design: Design) -> str:
    return f"{100 * _variation(design):.0f} %"


def state_of(name: str, design: Design) -> str:
    """How a design stands, in words; the present layout is no design of the search."""
    if name == "present":
        return ""
    return "front" if design.is_on_front else "holds" if design.holds else "does not hold"


def _designs(trade_off: TradeOff, system: System, basis: MapBasis) -> PlainTable:
    rows = tuple(
        (
            name,
            str(one.tubes),
            kilowatt(one.heat_input_net_W * basis.of_net, ".3g", has_unit=False),
            f"{100 * _variation(one):.0f}",
            digits(one.evenness.spread, 3),
            _flux_digits(one.evenness.mean, system),
            state_of(name, one) or "–",
            ", ".join(one.binding) or "–",
        )
        for name, one in _named(trade_off)
    )
    heads = (
        "Design",
        "Tubes",
        f"kW {basis.word}",
        "Variation, %",
        "(max − min)/mean",
        "Mean, kW/m²",
        "State",
        "At its edge",
    )
    return PlainTable(caption="Designs", heads=heads, rows=rows)


def _misses(trade_off: TradeOff) -> tuple[PlainTable, ...]:
    """What each design does not hold, where one misses anything."""
    rows = tuple(
        (
            f"{name}: {miss.name}",
            clean(miss.where, 60) or "–",
            f"{digits(miss.value, 3)} {miss.unit}",
            miss.bound,
            f"{digits(miss.missing, 3)} {miss.unit}",
        )
        for name, one in _named(trade_off)
        for miss in one.misses
    )
    heads = ("Constraint", "Of", "Value", "Bound", "Misses by")
    return (PlainTable(caption="Bounds that are not held", heads=heads, rows=rows),) if rows else ()


def _tubes(trade_off: TradeOff, basis: MapBasis) -> PlainTable:
    rows = tuple(
        (
            f"{name}: {clean(tube.name, 40)}",
            *(
                millimetre(length_m, ".0f", has_unit=False)
                for length_m in (tube.x_m, tube.y_m, tube.z_m, tube.length_m)
            ),
            kilowatt(tube.heat_input_W * basis.of_net, ".3g", has_unit=False),
        )
        for name, one in _named(trade_off)
        if one.is_on_front or one is trade_off.present
        for tube in one.burners
    )
    heads = ("Tube", "x, mm", "y, mm", "Height, mm", "Length, mm", f"kW {basis.word}")
    return PlainTable(caption="Tubes at present and of the designs on the front", heads=heads, rows=rows)


def designs_csv(trade_off: TradeOff) -> str:
    """A row for each tube of each design, also of those that do not hold."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    designs = [
        ({"design": name, "state": state_of(name, one)} | flat(one), one) for name, one in _named(trade_off)
    ]
    writer.writerow([*designs[0][0], "tube", *(f"tube_{key}" for key in TUBE)])
    for head, one in designs:
        for tube in one.burners:
            values = flat(tube)
            cells = [*head.values(), *(values[key] for key in TUBE)]
            plain = [f"{value:.6g}" if isinstance(value, float) else value for value in cells]
            writer.writerow([*plain[: len(head)], text_cell(clean(tube.name)), *plain[len(head) :]])
    return stream.getvalue()
