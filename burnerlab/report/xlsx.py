"""The sheet as a workbook: numbers as numbers, ratios as live formulas, text that stays text."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import replace
from string import Formatter
from typing import Any

from burnerlab.appliance.conversion.result import BurnerConversion, Conversion
from burnerlab.quantity import Kind, System
from burnerlab.quantity.outputs import columns
from burnerlab.report.calculation import add_calculation
from burnerlab.report.formats import (
    ResultFigure,
    ResultTable,
    burner_table,
    figures,
    in_system,
    result_tables,
)
from burnerlab.report.sheet.blocks import BlockColumn, Cautions, Cell, Facts, Points, Steps, Table
from burnerlab.report.sheet.sections import Sheet
from burnerlab.report.sheet.terms import WordedText, caution_words_of, language_of, lists_in, whole_words_of
from burnerlab.report.sheet.units import texts_in
from burnerlab.report.sheet.wording import STATEMENT, clean
from burnerlab.report.workbook import HEAD_ROW, Workbook

# figures that stay live: key, and the formula over its row; {x} is the letter of the column with key x
FORMULAS = {
    "diameter_ratio": "={drill_diameter_mm}{r}/{from_orifice_mm}{r}",
    "area_ratio": "=({drill_diameter_mm}{r}/{from_orifice_mm}{r})^2",
    "exact_predicted_gross_kW": "={predicted_gross_kW}{r}*({to_orifice_mm}{r}/{drill_diameter_mm}{r})^2",
    "drill_deviation_percent": "=100*({predicted_gross_kW}{r}/{aim_gross_kW}{r}-1)",
    "deviation_percent": "=100*({heat_input_gross_kW}{r}/{aim_gross_kW}{r}-1)",
    "all_predicted_gross_kW": "={count}{r}*{predicted_gross_kW}{r}",
}
TOTALS = {
    burner.key: total.key
    for burner in columns(BurnerConversion)
    for total in columns(Conversion)
    if total.key == f"total_{burner.key}"
}
"""Figures of one burner, and that of all of them: sums over the rows, each times its count."""
AIR = (
    "name", "from_air_m3_per_h", "to_air_m3_per_h", "from_air_kg_per_h", "to_air_kg_per_h", "air_to_gas_ratio_change",
    "primary_air_change", "primary_aeration_before_percent", "primary_aeration_after_percent",
)  # fmt: skip
PATTERNS: dict[Kind | None, str] = {
    Kind.MASS_FLOW: "0.0000",
    Kind.REFERENCE_VOLUME_FLOW: "0.0000",
    Kind.FRACTION: "0.0",
    Kind.TEMPERATURE: "0.0",
    None: "0.0000",
}
US_PATTERNS = {
    "in w.c.": "0.00",
    "psia": "0.00",
    "in": "0.0000",
    "in2": "0.000000",
    "Btu/h": "#,##0",
    "Btu/h/ft2": "#,##0",
    "Btu/h/in2": "#,##0",
    "Btu/ft3": "0.0",
    "Btu/lb": "#,##0",
    "°F": "0",
    "ft": "#,##0",
}
"""Of the units that a reader in US units has in the place of ours, where another number of digits is usual."""
CHANGE = "+0.0;-0.0;0.0"
NARROW, WIDE, WIDEST = 12.0, 24.0, 46.0
LONG = 30  # letters from which a text takes a wide column


def xlsx_bytes(c: Conversion, sheet: Sheet, system: System = "metric") -> bytes:
    """The workbook: the page that calculates first, then every table of the sheet.

    system : of the units; those of the tables end their keys
    Raises ImportError without xlsxwriter.
    """
    stream = io.BytesIO()
    language = language_of(c)
    words = whole_words_of(c, language)
    c = texts_in(c, system)
    if language.translations:
        c = lists_in(c, words)
    statement = sheet.statement if language.translations else STATEMENT
    book = Workbook(stream, statement, words, words if language.translations else None)
    choices, *others = result_tables(c)
    add_calculation(book, c, system, caution_words_of(language, c.region))
    _burners(book, c, sheet, system)
    _table(book, choices, system)
    _air(book, c, system)
    for table in others:
        _table(book, table, system)
    _checks(book, sheet)
    _not_evaluated(book, sheet)
    _worked(book, sheet)
    _basis(book, sheet)
    _every_figure(book, c, system)
    _cautions(book, sheet)
    book.book.close()
    return stream.getvalue()


def _head(figure: ResultFigure) -> str:
    """Label and unit of a figure.

    >>> from burnerlab.appliance import convert, demonstration
    >>> from burnerlab.report.formats import burner_table
    >>> cells = burner_table(convert(demonstration(), "propane", 2740.0)).figures()[0]
    >>> [_head(cells[place]) for place in (0, 4)]
    ['Burner', 'Present orifice [mm]']
    """
    label = figure.label[:1].upper() + figure.label[1:]
    unit = figure.unit or ("-" if isinstance(figure.value, float) or figure.column.ends else "")
    return f"{label} [{unit}]" if unit else label


def _pattern(figure: ResultFigure) -> str:
    if isinstance(figure.value, int):
        return "0"
    declared = figure.column.declared
    if declared.is_change:
        return CHANGE
    return US_PATTERNS.get(figure.unit) or PATTERNS.get(declared.kind, "0.000")


def _live(key: str, letters: Mapping[str, str], row: int) -> str:
    """The formula of a figure over its row; "" where it has none, or the page lacks a column it takes.

    >>> _live("area_ratio", {"drill_diameter_mm": "G", "from_orifice_mm": "E"}, 5), _live("area_ratio", {}, 5)
    ('=(G5/E5)^2', '')
    """
    formula = FORMULAS.get(key, "")
    names = {name for _, name, _, _ in Formatter().parse(formula) if name}
    return formula.format(r=row, **letters) if names - {"r"} <= letters.keys() else ""


def _width(column: Sequence[ResultFigure], place: int) -> float:
    longest = max(len(one.value) if isinstance(one.value, str) else 0 for one in column)
    return WIDE if place == 0 else WIDEST if longest > LONG else NARROW


def _table(book: Workbook, table: ResultTable, system: System, keys: tuple[str, ...] = ()) -> Any:
    """A page of a table: the key of each figure in small, its head, then the rows; some keys alone, or all.

    The names in formulas, and ``keys``, are metric keys: a formula holds in the units of any reader.
    """
    names = [one.key for one in table.figures()[0]]
    places = [names.index(key) for key in keys if key in names] or range(len(names))
    names = [names[place] for place in places]
    rows = [[cells[place] for place in places] for cells in table.figures(system)]
    page = book.page(table.name, table.title, clean(table.lead))
    heads = [
        next((one for one in column if one.value is not None), column[0])
        for column in zip(*rows, strict=True)
    ]
    widths = [_width(column, place) for place, column in enumerate(zip(*rows, strict=True))]
    book.heads(page, [_head(one) for one in heads], widths)
    book.keys(page, [one.key for one in heads])
    letters = book.letters(names)
    for number, cells in enumerate(rows, start=HEAD_ROW + 1):
        for place, (key, one) in enumerate(zip(names, cells, strict=True)):
            text = _live(key, letters, number + 1)
            if text and one.value is not None:
                page.write_formula(number, place, text, book.number_format(_pattern(one)), one.value)
            else:
                missing = "" if one.is_end else table.missing
                book.cell(page, number, place, one.value, _pattern(one), missing)
    return page


def _burners(book: Workbook, c: Conversion, sheet: Sheet, system: System) -> None:
    table = replace(burner_table(c), title=sheet.title, lead=WordedText(f"{sheet.change}. {sheet.statement}"))
    page, cells = _table(book, table, system), table.figures(system)[0]
    names = [one.key for one in table.figures()[0]]
    letters = book.letters(names)
    first, last = HEAD_ROW + 2, HEAD_ROW + 1 + len(c.burners)
    page.write_string(last, 0, "All burners", book.bold)
    count = f"{letters['count']}{first}:{letters['count']}{last}"
    whole = {one.key: in_system(one, system).value for one in figures(c)}
    for place, (key, one) in enumerate(zip(names, cells, strict=True)):
        span = f"{letters[key]}{first}:{letters[key]}{last}"
        pattern = book.number_format(_pattern(one))
        if key == "count":
            page.write_formula(last, place, f"=SUM({span})", pattern, sum(b.count for b in c.burners))
        elif key in TOTALS:
            text = f"=SUMPRODUCT({count},{span})"
            page.write_formula(last, place, text, pattern, whole[TOTALS[key]])


def _air(book: Workbook, c: Conversion, system: System) -> None:
    lead = f"Stoichiometric dry air of one burner; volumes at: {c.reference}"
    table = replace(burner_table(c), name="Air", title="Air", lead=lead, missing="not evaluated")
    _table(book, table, system, AIR)


def _every_figure(book: Workbook, c: Conversion, system: System) -> None:
    """Every figure of the conversion that is not of one burner, by its key."""
    page = book.page("Every figure", "Every figure", "Of the conversion as a whole, by key.")
    book.heads(page, ("Key", "Figure", "Value", "Unit"), [40, 50, 40, 10])
    for number, one in enumerate((in_system(f, system) for f in figures(c)), start=HEAD_ROW + 1):
        for place, text in ((0, one.key), (1, one.label), (3, one.unit)):
            book.cell(page, number, place, text)
        book.cell(page, number, 2, one.value, _pattern(one))


def _checks(book: Workbook, sheet: Sheet) -> None:
    """What to look at first, row by row as on the sheet."""
    section = sheet.section("first")
    page = book.page("Checks", section.title, section.lead)
    heads = (
        "Check",
        "Burner",
        "Worst value",
        "Unit",
        "Where, and others",
        "Range",
        "Verdict",
        "Evidence",
    )
    book.heads(page, heads, [26, 22, 12, 12, 12, 46, 12, 13])
    rows: list[Sequence[str | float | None]] = []
    for block in section.blocks:
        if isinstance(block, Points):
            rows += [(item,) for item in block.items]
        if isinstance(block, Table):
            rows += [(WordedText(block.caption.upper()),), *(_flat(block.columns, row) for row in block.rows)]
    book.rows(page, rows, "0.0000")


def _flat(columns: Sequence[BlockColumn], row: Sequence[Cell]) -> list[str | float | None]:
    """Two lines of a cell in one, running text as sentences; a value beside its unit and what else is said of it."""
    flat: list[str | float | None] = []
    for column, cell in zip(columns, row, strict=True):
        if column.side == "right":
            flat += [cell.text or None if cell.value is None else cell.value, clean(cell.unit), cell.also]
        else:
            said = tuple(
                filter(None, (cell.text, cell.also[:1].upper() + cell.also[1:] if column.wide else cell.also))
            )
            flat.append(WordedText(" ".join(map(sentence, said)) if column.wide else ", ".join(said)))
    return flat


def sentence(text: str) -> str:
    """A text with its full stop, so that the next does not run into it.

    >>> sentence("at least 0.5 mm"), sentence("Test required.")
    ('at least 0.5 mm.', 'Test required.')
    """
    return text if text.endswith((".", ":", "!", "?")) else f"{text}."


def _not_evaluated(book: Workbook, sheet: Sheet) -> None:
    section = sheet.section("not_evaluated")
    page = book.page("Not evaluated", section.title, section.lead)
    book.heads(page, ("Question", "Burner", "Why, and what an answer needs"), [30, 24, 80])
    for block in section.blocks:
        if isinstance(block, Table):
            book.rows(page, [[cell.text for cell in row] for row in block.rows])


def _worked(book: Workbook, sheet: Sheet) -> None:
    section = sheet.section("worked")
    page = book.page("Worked", section.title, section.lead)
    book.heads(page, ("Step", "Formula", "With the numbers put in"), [30, 60, 80])
    for block in section.blocks:
        if isinstance(block, Steps):
            book.rows(page, [(step.what, step.formula, step.numbers) for step in block.rows])


def _basis(book: Workbook, sheet: Sheet) -> None:
    page = book.page(
        "Basis and sources", "Basis and sources", "On what the figures stand, and where they come from."
    )
    book.heads(
        page, ("Subject", "What", "In other units, or present gas", "Remark, or new gas"), [40, 40, 40, 50]
    )
    rows: list[tuple[str, ...]] = []
    for key in ("job", "basis", "prompts", "sources", "version"):
        section = sheet.section(key)
        rows.append((WordedText(section.title.upper()),))
        for block in section.blocks:
            if isinstance(block, Facts):
                rows += [(fact.label, fact.cell.text, fact.cell.also, fact.note) for fact in block.rows]
            if isinstance(block, Table):
                rows += [
                    (
                        row[0].text,
                        "",
                        *(WordedText(" = ".join(filter(None, (x.text, x.also)))) for x in row[1:]),
                    )
                    for row in block.rows
                ]
            if isinstance(block, Points):
                rows += [(f"{i}." if block.signed else "", item) for i, item in enumerate(block.items, 1)]
    book.rows(page, rows)


def _cautions(book: Workbook, sheet: Sheet) -> None:
    page = book.page("Cautions", "Cautions", book.statement)
    book.heads(page, ("Signal", "Caution"), [12, 140])
    rows = [
        (WordedText(one.word), WordedText(one.text))
        for block in sheet.section("cautions").blocks
        if isinstance(block, Cautions)
        for one in block.items
    ]
    book.rows(page, rows)
