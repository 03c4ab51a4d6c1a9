"""The writer of a workbook: text that stays text, formulas with their values beside them, locked but for the inputs."""

from __future__ import annotations

import datetime
import io
import math
import re
from collections.abc import Callable, Sequence
from typing import Any

from burnerlab.report.sheet.terms import WordedText
from burnerlab.report.sheet.wording import STATEMENT, clean
from burnerlab.tables.verdict import Verdict

MADE = datetime.datetime(2000, 1, 1)  # fixed, so that the same sheet gives the same file
HEAD_ROW = 3
KEY_ROW = HEAD_ROW - 1
NOT_EVALUATED = Verdict.NOT_EVALUATED.value
START = "Start"
BELONGS = "These figures belong to "
CHANGED = "Calculation has been changed: they do not hold for it."
STALE = f'IF(changes=0,""," {CHANGED}")'
Value = str | float | None
YELLOW = "#fff2b3"  # of a cell to write in


STORED_DIGITS = (
    12  # of a figure in a cell: more are of the conversion of its unit, and show in the formula bar
)


def stored(value: float) -> float:
    """A figure as a cell holds it, without what a conversion of its unit left behind.

    >>> stored(58.99999999999994), stored(0.05950000000000001)
    (59.0, 0.0595)
    """
    return float(f"{value:.{STORED_DIGITS}g}")


def cell_name(row: int, column: int) -> str:
    """The name of a cell, absolute, such as $B$5."""
    from xlsxwriter.utility import xl_rowcol_to_cell

    return str(xl_rowcol_to_cell(row, column, row_abs=True, col_abs=True))


TEXT_IN_FORMULA = re.compile(r'"((?:[^"]|"")*)"')
PAGE_IN_FORMULA = re.compile(r"(?:'([^']+)'|\b([A-Za-z][A-Za-z ]*))!(?=\$?[A-Z])")
MESSAGES = {"error_title": 32, "error_message": 255}  # most characters that a spreadsheet shows
NOT_IN_TABS = re.compile(r"[\[\]:*?/\\]|^'|'$")
LONGEST_TAB = 31  # characters of the name of a page


def tab_of(number: int, caption: str) -> str:
    """The name of the page of a table: its number, which keeps it apart, and the words of its caption that have room.

    >>> tab_of(2, "Kit: range, natural gas. Orifices: 6 pieces"), tab_of(3, "What one orifice more or fewer does")
    ('2 Kit range, natural gas', '3 What one orifice more or')
    """
    name = " ".join(f"{number} {NOT_IN_TABS.sub(' ', caption)}".split())
    if len(name) > LONGEST_TAB:
        name = name[: LONGEST_TAB + 1].rpartition(" ")[0]
    return name.partition(". ")[0].rstrip(" ,.;'")


class Workbook:
    """A workbook in which every text is written as text."""

    def __init__(
        self,
        stream: io.BytesIO,
        statement: str = STATEMENT,
        words: Callable[[str], str] = str,
        of_formulas: Callable[[str], str] | None = None,
    ) -> None:
        """words : what turns a text into those of its reader; of_formulas : the same in formulas and names of pages.

        A word that a formula gives is compared by others: they have it from one function.
        """
        import xlsxwriter
        from xlsxwriter.worksheet import Worksheet

        book = self

        class WordedSheet(Worksheet):  # type: ignore[misc]  # the library has no types
            """A page whose texts are in the words of a reader; keys stay."""

            def write_string(self, row: int, col: int, string: str, cell_format: Any = None) -> int:
                text = string if cell_format is book.key else words(string)
                return int(super().write_string(row, col, text, cell_format))

            def write_formula(
                self, row: int, col: int, formula: str, cell_format: Any = None, value: float | str = 0
            ) -> int:
                shown = book.of_formulas(value) if isinstance(value, str) and book.of_formulas else value
                return int(super().write_formula(row, col, book.worded(formula), cell_format, shown))

            def data_validation(self, *cells: Any) -> int:
                *places, options = cells
                texts = {
                    key: words(options[key])[:longest] for key, longest in MESSAGES.items() if key in options
                }
                return int(super().data_validation(*places, options | texts))

        options = {
            "in_memory": True,
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
        }
        self.book = xlsxwriter.Workbook(stream, options)
        self.statement, self.sheet_class = statement, WordedSheet
        self.words, self.of_formulas = words, of_formulas
        self.tabs: dict[str, str] = {}  # names of pages by those in the program
        self.book.set_properties(
            {
                "title": words("Conversion sheet"),
                "author": "burnerlab",
                "comments": statement,
                "created": MADE,
            }
        )
        self._add_formats()
        self.entries: list[
            tuple[str, tuple[int, int], Value]
        ] = []  # yellow cells: page, cell, value at the start
        self.belongs = ""
        self.is_followed = False  # whether the cells "changes" and "belongs_to" stand in the workbook

    def _add_formats(self) -> None:
        """The formats of texts; those of numbers are made when first used."""
        self.key = self.book.add_format({"font_size": 7, "font_color": "#6b6a66", "text_wrap": True})
        self.head = self.book.add_format({"bold": True, "text_wrap": True, "valign": "bottom", "bottom": 1})
        self.wrap = self.book.add_format({"text_wrap": True, "valign": "top"})
        self.bold = self.book.add_format({"bold": True, "text_wrap": True, "valign": "top"})
        self.head_right = self.book.add_format(
            {"bold": True, "text_wrap": True, "valign": "bottom", "bottom": 1, "align": "right"}
        )
        self.unit = self.book.add_format({"indent": 1, "valign": "top"})
        self.line = self.book.add_format({"bold": True, "font_color": "#8a1f11"})
        self.title = self.book.add_format({"bold": True, "font_size": 13})
        self.formats: dict[tuple[str, bool, bool], Any] = {}

    def number_format(self, pattern: str, is_input: bool = False, is_bold: bool = False) -> Any:
        """A format of numbers; that of an input is yellow, framed and not locked."""
        key = (pattern, is_input, is_bold)
        if key not in self.formats:
            wanted: dict[str, Any] = {
                "num_format": pattern,
                "valign": "top",
                "bold": is_bold,
                "align": "right",
            }
            if is_input:
                wanted |= {"locked": False, "bg_color": YELLOW, "border": 1, "border_color": "#8a7a3a"}
            self.formats[key] = self.book.add_format(wanted)
        return self.formats[key]

    def formula(self, sheet: Any, cell: tuple[int, int], text: str, value: float | str, style: Any) -> None:
        """A formula with the value it has here beside it, for viewers that recalculate nothing."""
        sheet.write_formula(*cell, text, style, value)

    def entry(self, sheet: Any, cell: tuple[int, int], value: str | float | None, pattern: str) -> None:
        """A yellow cell that is not locked."""
        style = self.number_format(pattern, is_input=True)
        value = value if isinstance(value, str) or value is None else stored(value)
        self.entries.append((sheet.get_name(), cell, clean(value) if isinstance(value, str) else value))
        if value is None:
            sheet.write_blank(*cell, None, style)
        elif isinstance(value, str):
            sheet.write_string(*cell, clean(value), style)
        else:
            sheet.write_number(*cell, value, style)

    def follow(self, belongs_to: str) -> None:
        """A page of the yellow cells as they were filled; every page after it says whether they were changed."""
        page = self.page(
            START, START, "The yellow cells as the program filled them, and which were changed since."
        )
        self.heads(page, ("Cell", "At the start", "Changed", "Figures belong to"), [30, 16, 10, 60])
        for row, (sheet, cell, value) in enumerate(self.entries, start=HEAD_ROW + 1):
            at = f"'{sheet}'!{cell_name(*cell)}"
            self.cell(page, row, 0, f"{sheet} {cell_name(*cell)}")
            self.cell(page, row, 1, value)
            self.formula(page, (row, 2), f"=IF({at}=B{row + 1},0,1)", 0, self.number_format("0"))
        last = HEAD_ROW + len(self.entries) + 1
        self.formula(page, (0, 2), f"=SUM(C{HEAD_ROW + 2}:C{last})", 0, self.number_format("0"))
        self.name("changes", START, (0, 2))
        self.cell(page, HEAD_ROW + 1, 3, belongs_to)
        self.name("belongs_to", START, (HEAD_ROW + 1, 3))
        self.belongs = WordedText(f"{self._of_formulas(BELONGS)}{self.words(clean(belongs_to))}.")
        self.is_followed = True

    def name(
        self, name: str, sheet: str, first: tuple[int, int], last: tuple[int, int] | None = None
    ) -> None:
        """A name for a cell, or for the cells from one to another."""
        places = [cell_name(*cell) for cell in (first, last) if cell]
        self.book.define_name(name, f"='{self.tab(sheet)}'!{':'.join(places)}")

    def tab(self, name: str) -> str:
        """The name of a page as its reader sees it, each once."""
        if name not in self.tabs:
            shown = NOT_IN_TABS.sub(" ", self._of_formulas(name))[:LONGEST_TAB]
            is_free = shown.lower() not in {each.lower() for each in self.tabs.values()}
            self.tabs[name] = shown if is_free else NOT_IN_TABS.sub(" ", name)[:LONGEST_TAB]
        return self.tabs[name]

    def worded(self, formula: str) -> str:
        """A formula with its texts, and the pages that it reads, in the words of its reader."""
        if self.of_formulas is None:
            return formula
        parts = TEXT_IN_FORMULA.split(formula)
        parts[1::2] = [self.of_formulas(text) if text else text for text in parts[1::2]]
        parts[::2] = [PAGE_IN_FORMULA.sub(self._page_in_formula, part) for part in parts[::2]]
        return '"'.join(parts)

    def _page_in_formula(self, hit: re.Match[str]) -> str:
        name = hit[1] or hit[2]
        return f"'{name if name in self.tabs.values() else self.tab(name)}'!"

    def _of_formulas(self, text: str) -> str:
        return text if self.of_formulas is None else self.of_formulas(text)

    def page(self, name: str, title: str, lead: str, landscape: bool = True) -> Any:
        sheet = self.book.add_worksheet(self.tab(name), self.sheet_class)
        if self.is_followed:
            self.formula(sheet, (0, 0), f'="{BELONGS}"&belongs_to&"."&{STALE}', self.belongs, self.line)
            lead = WordedText(f"{self.words(title)}. {self.words(lead)}") if lead else title
        else:
            sheet.write_string(0, 0, title, self.title)
        sheet.write_string(1, 0, lead)
        if landscape:
            sheet.set_landscape()
        sheet.fit_to_pages(1, 0)
        sheet.protect(
            "", {"format_columns": True, "format_rows": True}
        )  # no password: against a slip, not a person
        sheet.set_footer("&L" + self.statement.replace("&", "&&")[:200] + "&R&P / &N")
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
                self.cell(sheet, number, column, value, pattern)

    def cell(
        self,
        sheet: Any,
        number: int,
        column: int,
        value: str | float | bool | None,
        pattern: str = "General",
        missing: str = "",
    ) -> None:
        """A figure, a word, or what is said where there is none."""
        if isinstance(value, bool):
            value = "yes" if value else "no"
        if value is None or (isinstance(value, float) and not math.isfinite(value)):
            value = missing or None
        if value is None:
            return
        if isinstance(value, str):
            sheet.write_string(number, column, clean(value), self.bold if column == 0 else self.wrap)
        else:
            sheet.write_number(number, column, stored(value), self.number_format(pattern))

    def letters(self, keys: Sequence[str]) -> dict[str, str]:
        """The letter of each column by its key."""
        from xlsxwriter.utility import xl_col_to_name

        return {key: xl_col_to_name(place) for place, key in enumerate(keys)}

    def keys(self, sheet: Any, keys: Sequence[str]) -> dict[str, str]:
        """The key of each column in small above its head."""
        for column, key in enumerate(keys):
            sheet.write_string(KEY_ROW, column, key, self.key)
        return self.letters(keys)
