"""The sheet as a workbook: numbers as numbers, ratios as live formulas, text that stays text."""

from __future__ import annotations

import datetime
import io
from collections.abc import Sequence
from typing import Any

from burnerlab.appliance.result import BurnerConversion, Conversion
from burnerlab.report import xlsx_evaluated
from burnerlab.report.checks import finding_range
from burnerlab.report.numbers import Cell
from burnerlab.report.parts import Column, Facts, Points, Steps, Table
from burnerlab.report.sheet import Sheet
from burnerlab.report.wording import STATEMENT, clean
from burnerlab.tables.cautions import cautions

MADE = datetime.datetime(2000, 1, 1)  # fixed, so that the same sheet gives the same file
HEAD_ROW = 3
# head, field of a burner or formula over its row; {x} is the letter of the column with key x
BURNER_COLUMNS: tuple[tuple[str, str, str, str], ...] = (
    ("name", "Burner", "", ""),
    ("kind", "Kind", "", ""),
    ("count", "Count", "", "0"),
    ("rate", "Rating, gross [kW]", "", "0.000"),
    ("low_rate", "Low rate, gross [kW]", "", "0.000"),
    ("aim", "Aim after the altitude rule, gross [kW]", "", "0.000"),
    ("from_drill", "Present drill", "", ""),
    ("from_d", "Present orifice [mm]", "", "0.000"),
    ("now", "Calculated, present gas, gross [kW]", "", "0.000"),
    ("exact", "New orifice, exact [mm]", "", "0.000"),
    ("drill", "Drill taken", "", ""),
    ("d", "Drill diameter [mm]", "", "0.000"),
    ("d_ratio", "Diameter, new / present [-]", "={d}{r}/{from_d}{r}", "0.0000"),
    ("a_ratio", "Area, new / present [-]", "=({d}{r}/{from_d}{r})^2", "0.0000"),
    ("at_exact", "Calculated at the exact diameter, gross [kW]", "={new}{r}*({exact}{r}/{d}{r})^2", "0.000"),
    ("new", "Calculated, new gas, gross [kW]", "", "0.000"),
    ("net", "Calculated, new gas, net [kW]", "", "0.000"),
    ("off", "Drill at the nominal pressure, against aim [%]", "=100*({new}{r}/{aim}{r}-1)", "+0.0;-0.0;0.0"),
    ("burns", "Heat input, the worse case, gross [kW]", "", "0.000"),
    ("case", "Worse case", "", ""),
    ("all_on", "All on, against aim [%]", "", "+0.0;-0.0;0.0"),
    ("alone", "Alone, against aim [%]", "", "+0.0;-0.0;0.0"),
    ("deviation", "Deviation, the worse, against aim [%]", "=100*({burns}{r}/{aim}{r}-1)", "+0.0;-0.0;0.0"),
    ("made_low", "As made, low end [%]", "", "+0.0;-0.0;0.0"),
    ("made_high", "As made, high end [%]", "", "+0.0;-0.0;0.0"),
    ("low", "At lowest pressure, gross [kW]", "", "0.000"),
    ("high", "At highest pressure, gross [kW]", "", "0.000"),
    ("all", "Calculated, all of the kind, gross [kW]", "={count}{r}*{new}{r}", "0.000"),
    ("mass", "Gas, one burner, all on [kg/h]", "", "0.0000"),
    ("volume", "Gas, one burner, all on, at the reference state [m3/h]", "", "0.0000"),
    ("verdict", "Verdict", "", ""),
    ("evidence", "Evidence", "", ""),
)


class _Book:
    """A workbook in which every text is written as text."""

    def __init__(self, stream: io.BytesIO) -> None:
        import xlsxwriter

        options = {
            "in_memory": True,
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
        }
        self.book = xlsxwriter.Workbook(stream, options)
        self.book.set_properties(
            {"title": "Conversion sheet", "author": "burnerlab", "comments": STATEMENT, "created": MADE}
        )
        self.head = self.book.add_format({"bold": True, "text_wrap": True, "valign": "bottom", "bottom": 1})
        self.wrap = self.book.add_format({"text_wrap": True, "valign": "top"})
        self.bold = self.book.add_format({"bold": True, "text_wrap": True, "valign": "top"})
        self.title = self.book.add_format({"bold": True, "font_size": 13})
        self.formats: dict[str, Any] = {}

    def number_format(self, pattern: str) -> Any:
        if pattern not in self.formats:
            self.formats[pattern] = self.book.add_format({"num_format": pattern, "valign": "top"})
        return self.formats[pattern]

    def page(self, name: str, title: str, lead: str, landscape: bool = True) -> Any:
        sheet = self.book.add_worksheet(name)
        sheet.write_string(0, 0, title, self.title)
        sheet.write_string(1, 0, lead)
        if landscape:
            sheet.set_landscape()
        sheet.fit_to_pages(1, 0)
        sheet.set_footer("&L" + STATEMENT.replace("&", "&&")[:200] + "&R&P / &N")
        return sheet

    def heads(self, sheet: Any, titles: Sequence[str], widths: Sequence[float]) -> None:
        for column, (text, width) in enumerate(zip(titles, widths, strict=True)):
            sheet.set_column(column, column, width)
            sheet.write_string(HEAD_ROW, column, text, self.head)
        sheet.freeze_panes(HEAD_ROW + 1, 1)
        sheet.repeat_rows(HEAD_ROW)

    def rows(
        self, sheet: Any, rows: Sequence[Sequence[str | float | None]], pattern: str = "General"
    ) -> None:
        for number, row in enumerate(rows, start=HEAD_ROW + 1):
            for column, value in enumerate(row):
                if isinstance(value, str):
                    sheet.write_string(number, column, value, self.wrap)
                elif value is not None:
                    sheet.write_number(number, column, value, self.number_format(pattern))


def xlsx_bytes(c: Conversion, sheet: Sheet) -> bytes:
    """The workbook. Raises ImportError without xlsxwriter."""
    stream = io.BytesIO()
    book = _Book(stream)
    _burners(book, c, sheet)
    _choices(book, c)
    _air(book, c)
    xlsx_evaluated.pages(book, c.evaluation)
    _checks(book, sheet)
    _not_evaluated(book, sheet)
    _worked(book, sheet)
    _every_check(book, c, sheet)
    _basis(book, sheet)
    _cautions(book)
    book.book.close()
    return stream.getvalue()


def _percent(value: float | None) -> float | None:
    return None if value is None else 100 * value


def _values(b: BurnerConversion) -> dict[str, str | float | None]:
    def kilo(value: float | None) -> float | None:
        return None if value is None else value / 1e3

    at = b.headline
    return {
        "name": clean(b.name),
        "kind": clean(b.kind),
        "count": b.count,
        "rate": kilo(b.rate_gross_W),
        "low_rate": kilo(b.low_rate_gross_W),
        "aim": kilo(b.aim_gross_W),
        "from_drill": clean(b.from_drill),
        "from_d": b.from_orifice_m * 1e3,
        "now": kilo(b.from_predicted_gross_W),
        "exact": b.to_orifice_m * 1e3,
        "drill": clean(b.choice.drill),
        "d": b.choice.diameter_m * 1e3,
        "d_ratio": b.choice.diameter_m / b.from_orifice_m,
        "a_ratio": b.taken_area_ratio,
        "at_exact": kilo(b.predicted_gross_W * (b.to_orifice_m / b.choice.diameter_m) ** 2),
        "new": kilo(b.predicted_gross_W),
        "net": kilo(b.predicted_net_W),
        "off": 100 * (b.predicted_gross_W / b.aim_gross_W - 1),
        "low": kilo(b.predicted_low_W),
        "high": kilo(b.predicted_high_W),
        "all": kilo(b.count * b.predicted_gross_W),
        "mass": b.mass_flow_kg_per_s * 3600,
        "volume": b.volume_flow_m3_per_s * 3600,
        "burns": kilo(at.heat_input_gross_W),
        "case": at.case,
        "all_on": _percent(at.all_on),
        "alone": _percent(at.alone),
        "deviation": _percent(at.deviation),
        "made_low": _percent(at.low),
        "made_high": _percent(at.high),
        "verdict": at.verdict,
        "evidence": at.evidence,
    }


def _burners(book: _Book, c: Conversion, sheet: Sheet) -> None:
    from xlsxwriter.utility import xl_col_to_name

    page = book.page("Burners", sheet.title, f"{sheet.change}. {STATEMENT}")
    book.heads(
        page,
        [title for _, title, _, _ in BURNER_COLUMNS],
        [24, 8, 7, *([12] * (len(BURNER_COLUMNS) - 5)), 14, 14],
    )
    letters = {key: xl_col_to_name(i) for i, (key, *_) in enumerate(BURNER_COLUMNS)}
    first, last = HEAD_ROW + 2, HEAD_ROW + 1 + len(c.burners)
    for number, burner in enumerate(c.burners, start=HEAD_ROW + 1):
        values = _values(burner)
        for column, (key, _, formula, pattern) in enumerate(BURNER_COLUMNS):
            value = values[key]
            if formula:
                page.write_formula(
                    number,
                    column,
                    formula.format(r=number + 1, **letters),
                    book.number_format(pattern),
                    value,
                )
            elif isinstance(value, str):
                page.write_string(number, column, value, book.bold if column == 0 else book.wrap)
            elif value is not None:
                page.write_number(number, column, value, book.number_format(pattern))
    page.write_string(last, 0, "All burners", book.bold)
    totals = {
        "count": sum(b.count for b in c.burners),
        "rate": c.total_rate_gross_W / 1e3,
        "new": c.total_predicted_gross_W / 1e3,
        "net": c.total_predicted_net_W / 1e3,
        "mass": c.total_mass_flow_kg_per_s * 3600,
        "volume": c.total_volume_flow_m3_per_s * 3600,
    }
    count = f"{letters['count']}{first}:{letters['count']}{last}"
    for column, (key, _, _, pattern) in enumerate(BURNER_COLUMNS):
        if key in totals:
            span = f"{letters[key]}{first}:{letters[key]}{last}"
            text = f"=SUM({span})" if key == "count" else f"=SUMPRODUCT({count},{span})"
            page.write_formula(last, column, text, book.number_format(pattern), totals[key])


def _choices(book: _Book, c: Conversion) -> None:
    page = book.page(
        "Choices", "Drills near the exact diameter", "Gross heat input of one burner with the new gas."
    )
    ends = ("Small end of the drill's tolerance, gross [kW]", "Large end, gross [kW]")
    first = ("Burner", "Drill", "Diameter [mm]", "Calculated, gross [kW]", "Against aim [%]")
    titles = (*first, *ends, "Aim, gross [kW]", "Taken")
    book.heads(page, titles, [24, 10, 12, 12, 12, 16, 12, 12, 8])
    number = HEAD_ROW + 1
    kw, percent = book.number_format("0.000"), book.number_format("+0.0;-0.0;0.0")
    for b in c.burners:
        for d in b.choices:
            page.write_string(number, 0, clean(b.name), book.wrap)
            page.write_string(number, 1, clean(d.drill), book.wrap)
            page.write_number(number, 2, d.diameter_m * 1e3, kw)
            page.write_number(number, 3, d.heat_input_gross_W / 1e3, kw)
            off = 100 * (d.heat_input_gross_W / b.aim_gross_W - 1)
            page.write_formula(number, 4, f"=100*(D{number + 1}/H{number + 1}-1)", percent, off)
            page.write_number(number, 5, d.low_W / 1e3, kw)
            page.write_number(number, 6, d.high_W / 1e3, kw)
            page.write_number(number, 7, b.aim_gross_W / 1e3, kw)
            page.write_string(number, 8, "taken" if d.drill == b.choice.drill else "", book.wrap)
            number += 1


def _air(book: _Book, c: Conversion) -> None:
    lead = f"Stoichiometric dry air of one burner; volumes at: {clean(c.reference)}"
    page = book.page("Air", "Air", lead)
    titles = (
        "Burner",
        *(f"Air, {gas} gas [{unit}]" for unit in ("m3/h", "kg/h") for gas in ("present", "new")),
        "Air per gas volume, new / present [-]",
        "Primary air drawn in, new / present [-]",
        "Primary aeration after, shutter untouched [-]",
    )
    book.heads(page, titles, [24, *([15] * 7)])

    def hourly(value: float | None) -> float | str:
        return "not evaluated" if value is None else value * 3600

    def plain(value: float | None) -> float | str:
        return "not evaluated" if value is None else value

    rows = [
        (clean(b.name), hourly(b.from_air_m3_per_s), hourly(b.to_air_m3_per_s), hourly(b.from_air_kg_per_s),
         hourly(b.to_air_kg_per_s), plain(b.air_to_gas_ratio_change), plain(b.primary_air_change),
         plain(b.primary_aeration_after))
        for b in c.burners
    ]  # fmt: skip
    book.rows(page, rows, "0.000")


def _checks(book: _Book, sheet: Sheet) -> None:
    """What to look at first, then what is within, row by row as on the sheet."""
    section = sheet.section("checks")
    page = book.page("Checks", section.title, section.lead)
    heads = (
        "Check",
        "Burner",
        "Worst value",
        "Unit",
        "Others",
        "Why, or where",
        "Range",
        "Verdict",
        "Evidence",
    )
    book.heads(page, heads, [26, 22, 12, 12, 12, 60, 46, 12, 13])
    rows: list[Sequence[str | float | None]] = []
    for block in section.blocks:
        if isinstance(block, Points):
            rows += [(item,) for item in block.items]
        if isinstance(block, Table):
            rows += [(block.caption.upper(),), *(_flat(block.columns, row) for row in block.rows)]
    book.rows(page, rows, "0.0000")


def _flat(columns: Sequence[Column], row: Sequence[Cell]) -> list[str | float | None]:
    """Two lines of a cell in one; a value beside its unit and what else is said of it."""
    flat: list[str | float | None] = []
    for column, cell in zip(columns, row, strict=True):
        if column.side == "right":
            flat += [cell.text or None if cell.value is None else cell.value, clean(cell.unit), cell.also]
        else:
            flat.append("\n".join(filter(None, (cell.text, cell.also))))
    return flat


def _every_check(book: _Book, c: Conversion, sheet: Sheet) -> None:
    section = sheet.section("every_check")
    page = book.page("Checks in full", section.title, "Each value against its range; the verdict is a word.")
    titles = (
        "Check",
        "Burner",
        "Found",
        "Value",
        "Unit",
        "Low",
        "High",
        "Range",
        "Verdict",
        "Evidence",
        "Range from",
        "Gas",
    )
    book.heads(page, titles, [20, 22, 46, 12, 8, 10, 10, 20, 14, 13, 36, 9])
    rows = [
        (clean(f.topic), clean(f.burner), clean(f.text), f.value, clean(f.unit), f.low, f.high, finding_range(f),
         f.verdict, f.evidence, clean(f.source), f.which)
        for f in c.findings
    ]  # fmt: skip
    book.rows(page, rows, "0.0000")


def _not_evaluated(book: _Book, sheet: Sheet) -> None:
    section = sheet.section("not_evaluated")
    page = book.page("Not evaluated", section.title, section.lead)
    book.heads(page, ("Question", "Burner", "Why, and what an answer needs"), [30, 24, 80])
    for block in section.blocks:
        if isinstance(block, Table):
            book.rows(page, [[cell.text for cell in row] for row in block.rows])


def _worked(book: _Book, sheet: Sheet) -> None:
    section = sheet.section("worked")
    page = book.page("Worked", section.title, section.lead)
    book.heads(page, ("Step", "Formula", "With the numbers put in"), [30, 60, 80])
    for block in section.blocks:
        if isinstance(block, Steps):
            book.rows(page, [(step.what, step.formula, step.numbers) for step in block.rows])


def _basis(book: _Book, sheet: Sheet) -> None:
    page = book.page(
        "Basis and sources", "Basis and sources", "On what the figures stand, and where they come from."
    )
    book.heads(
        page, ("Subject", "What", "In other units, or present gas", "Remark, or new gas"), [40, 40, 40, 50]
    )
    rows: list[tuple[str, ...]] = []
    for key in ("job", "basis", "prompts", "sources", "version"):
        section = sheet.section(key)
        rows.append((section.title.upper(),))
        for block in section.blocks:
            if isinstance(block, Facts):
                rows += [(fact.label, fact.cell.text, fact.cell.also, fact.note) for fact in block.rows]
            if isinstance(block, Table):
                rows += [
                    (row[0].text, "", *(" = ".join(filter(None, (x.text, x.also))) for x in row[1:]))
                    for row in block.rows
                ]
            if isinstance(block, Points):
                rows += [(f"{i}." if block.signed else "", item) for i, item in enumerate(block.items, 1)]
    book.rows(page, rows)


def _cautions(book: _Book) -> None:
    page = book.page("Cautions", "Cautions", STATEMENT)
    book.heads(page, ("Signal", "Caution"), [12, 140])
    book.rows(page, [(one.signal, one.text) for one in cautions()])
