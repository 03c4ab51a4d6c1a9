"""How a result is shown: one sheet, rendered for the terminal, as HTML, PDF, workbook, CSV and JSON."""

from burnerlab.report.formats import to_json
from burnerlab.report.sheet.sections import Sheet, build_sheet
from burnerlab.report.terminal import terminal
from burnerlab.report.write import FORMATS, SheetFiles, SheetOptions, write_sheet

__all__ = [
    "FORMATS",
    "Sheet",
    "SheetFiles",
    "SheetOptions",
    "build_sheet",
    "terminal",
    "to_json",
    "write_sheet",
]
