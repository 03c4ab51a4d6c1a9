"""The paper of a study: tables with what they rest on and every caution, as page, PDF, workbook and CSV."""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, fields, replace
from pathlib import Path
from typing import Any

from burnerlab import __version__
from burnerlab.quantity import System
from burnerlab.quantity.prose import column_in, in_reader_units
from burnerlab.quantity.quantity_text import QuantityText, has_bare_figures
from burnerlab.report.formats import rows_csv_text
from burnerlab.report.layout_page import PaperLabels, PlainTable, study_page, targets_in
from burnerlab.report.sheet.terms import in_words_of, reworded, template_words_of, translation_notes
from burnerlab.report.sheet.wording import STATEMENT
from burnerlab.report.write import GET_IT, SheetFiles, write_together
from burnerlab.tables.cautions import Caution, caution, cautions
from burnerlab.tables.languages import ENGLISH, ENGLISH_LANGUAGE, Language
from burnerlab.tables.phrase import Phrase

ENDINGS = {"html": ".html", "pdf": ".pdf", "xlsx": ".xlsx", "csv": ".csv"}
HASH_SHOWN = 12
FIRST = ("gas-leak", "overfire")  # cautions whose lines stand above the first table, worst first
LEAST_WIDTH, MOST_WIDTH = 8, 60  # of a column of the workbook [characters]


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyPaper:
    """What a paper prints: tables of texts, the same as rows of figures, and what they rest on."""

    kind: str
    title: str
    subtitle: str
    headline: tuple[tuple[str, str], ...]
    tables: tuple[PlainTable, ...]
    notes: tuple[str, ...]
    rows: tuple[Mapping[str, Any], ...]  # by key, for CSV and workbook
    input_sha256: str
    labels: PaperLabels = field(default_factory=PaperLabels)
    statement: str = STATEMENT
    warnings: tuple[Caution, ...] = field(default_factory=lambda: tuple(caution(id) for id in FIRST))
    """Those whose lines stand on the first page of every paper, before anything a fitter can act on."""
    cautions: tuple[Caution, ...] = field(default_factory=cautions)
    language: str = ENGLISH
    file_kind: str = ""  # its kind in English, in names of files
    stops: tuple[str, ...] = ()  # what nobody may fit or pack, before everything else

    @property
    def footer(self) -> str:
        return f"burnerlab {__version__}, {self.labels.file_version} {self.input_sha256[:HASH_SHOWN]}"


def paper_for(
    paper: StudyPaper,
    system: System | None = None,
    region: str = "",
    names: Sequence[str] = (),
    language: Language = ENGLISH_LANGUAGE,
) -> StudyPaper:
    """A paper in the language and units of its reader and the words of a region; names stay, and figures of rows.

    system : None where the paper has units of its own; a table that has its own keeps those
    names : that a user chose, such as those of burners; a head of a column that is no phrase is one
    """
    heads = (head for table in paper.tables for head in table.heads if not isinstance(head, Phrase))
    words = in_words_of(language, region, (paper.title, *names, *heads))
    of_phrase = template_words_of(language, region)  # of what holds names of burners, gases and publications

    of_region = template_words_of(ENGLISH_LANGUAGE, region)

    def regional(value: Any) -> Any:
        return of_region(units(value)) if isinstance(value, (Phrase, QuantityText)) else value

    def units(text: str) -> str:
        return text if system is None else in_reader_units(text, system)

    def cell_words(text: str) -> str:
        return of_phrase(text) if isinstance(text, Phrase) else text

    def table_for(table: PlainTable) -> PlainTable:
        own = table.system or system

        def own_units(text: str) -> str:
            return text if own is None else in_reader_units(text, own)

        def cell_units(text: str) -> str:
            return text if has_bare_figures(text) else own_units(text)

        columns = [
            column_in(own or "metric", head, [cell_units(row[place]) for row in table.rows])
            for place, head in enumerate(table.heads)
        ]
        return replace(
            table,
            caption=of_phrase(own_units(table.caption)),
            heads=tuple(words(head) for head, _ in columns),
            rows=tuple(
                tuple(cell_words(cells[place]) for _, cells in columns) for place in range(len(table.rows))
            ),
        )

    return replace(
        paper,
        kind=words(paper.kind),
        subtitle=of_phrase(units(paper.subtitle)),
        stops=tuple(of_phrase(units(text)) for text in paper.stops),
        headline=tuple((words(label), of_phrase(units(text))) for label, text in paper.headline),
        tables=tuple(map(table_for, paper.tables)),
        rows=tuple({key: regional(value) for key, value in row.items()} for row in paper.rows),
        notes=(*(words(units(note)) for note in paper.notes), *translation_notes(language)),
        language=language.tag,
        file_kind="" if words(paper.kind) == paper.kind else str(paper.kind),
        **{name: reworded(getattr(paper, name), words) for name in ON_EVERY_PAPER},
    )


ON_EVERY_PAPER = ("labels", "statement", "warnings", "cautions")


def write_paper(
    paper: StudyPaper,
    folder: Path | str,
    *,
    overwrite: bool = False,
    beside: Mapping[str, bytes] | None = None,
    size: str = "A4",
) -> SheetFiles:
    """Write a paper as HTML, PDF, workbook and CSV into a folder, and the files that go with it by name.

    Returns the files, and a sentence for each that needs a library which is not installed.
    Raises UserError for a file that exists already, or a folder that is none.
    """
    others = {name: Path(name) for name in beside or {}}
    endings = ENDINGS | {name: f"-{path.name}" for name, path in others.items()}
    targets = targets_in(folder, f"{paper.title[:48]} {paper.file_kind or paper.kind}", endings, overwrite)
    contents = dict(beside or {})
    missing = []
    for key, make in _makers(paper, size).items():
        try:
            contents[key] = make()
        except ImportError as error:
            missing.append(f"The {key} file was not written: {error.name} is not installed; {GET_IT}")
    write_together({targets[key]: made for key, made in contents.items()}, overwrite)
    return SheetFiles(files=tuple(targets[key] for key in endings if key in contents), missing=tuple(missing))


def _makers(paper: StudyPaper, size: str) -> dict[str, Callable[[], bytes]]:
    return {
        "html": lambda: paper_html(paper, size=size).encode("utf-8"),
        "pdf": lambda: paper_pdf(paper, size=size),
        "xlsx": lambda: paper_xlsx(paper),
        "csv": lambda: paper_csv(paper).encode("utf-8"),
    }


def paper_html(paper: StudyPaper, *, size: str = "") -> str:
    """The page."""
    values = {one.name: getattr(paper, one.name) for one in fields(paper) if one.name != "rows"}
    return study_page(values.pop("input_sha256"), {}, pictures=(), footer=paper.footer, size=size, **values)


def paper_csv(paper: StudyPaper) -> str:
    """The rows where there are any, and below them every caution in full."""
    said = [{"signal": one.word, "caution": one.text} for one in paper.cautions]
    of_rows = f"{rows_csv_text(paper.rows)}\r\n" if paper.rows else ""
    return f"{of_rows}{rows_csv_text(said)}"


def paper_xlsx(paper: StudyPaper) -> bytes:
    """A page for each table, one of all figures, one of the notes and one of the cautions."""
    from burnerlab.report.workbook import HEAD_ROW, Workbook, tab_of

    stream = io.BytesIO()
    book = Workbook(stream, paper.statement)
    labels = paper.labels
    for number, table in enumerate(paper.tables, start=1):
        lead = " ".join((*paper.stops, paper.statement))
        page = book.page(tab_of(number, table.caption), f"{paper.title}: {table.caption}", lead)
        book.heads(page, table.heads, _widths(table.heads, table.rows))
        for place, row in enumerate(table.rows, start=HEAD_ROW + 1):
            for column, text in enumerate(row):
                value, pattern = (text, "") if column == 0 else printed_figure(text)
                book.cell(page, place, column, value, pattern)
    if paper.rows:  # of a line that no orifice serves there are none
        keys = list(paper.rows[0])
        cells = [[_plain(row[key]) for key in keys] for row in paper.rows]
        page = book.page(labels.figures, f"{paper.title}: {labels.figures}", paper.statement)
        book.heads(page, keys, _widths(keys, cells))
        book.rows(page, cells)
    page = book.page(labels.notes, labels.notes, paper.footer)
    book.heads(page, (labels.note,), [140])
    book.rows(page, [(note,) for note in paper.notes])
    page = book.page(labels.cautions, labels.cautions, paper.statement)
    book.heads(page, (labels.of_signal, labels.caution), [12, 140])
    book.rows(page, [(one.word, one.text) for one in paper.cautions])
    book.book.close()
    return stream.getvalue()


FIGURE = re.compile(
    r"(?P<sign>[-+\N{MINUS SIGN}]?)(?P<whole>\d{1,3}(?:[ \N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}]\d{3})+|\d+)"
    r"(?P<decimals>\.\d+)?(?P<percent>[ \N{NO-BREAK SPACE}]?%)?"
)
"""A figure as a table prints it."""


def printed_figure(text: str) -> tuple[str | float, str]:
    r"""The figure that a cell prints, with the pattern that prints it so; any other text as it is, without a pattern.

    >>> printed_figure("11 100"), printed_figure("-1.2 %"), printed_figure("0.05315"), printed_figure("1/16 in")
    ((11100.0, '#\\ ##0'), (-0.012, '0.0 %'), (0.05315, '0.00000'), ('1/16 in', ''))
    """
    hit = FIGURE.fullmatch(text.strip())
    if hit is None:
        return text, ""
    whole = re.sub(r"\D", "", hit["whole"])
    value = float(f"{whole}{hit['decimals'] or ''}") * (1.0 if hit["sign"] in ("", "+") else -1.0)
    zeros = "0" if len(whole) == len(hit["whole"]) else "#\\ ##0"
    pattern = zeros + (f".{'0' * (len(hit['decimals']) - 1)}" if hit["decimals"] else "")
    if hit["percent"]:
        return value / 100.0, f"{pattern} %"
    return (value, f"+{pattern};-{pattern}") if hit["sign"] == "+" else (value, pattern)


def _plain(value: Any) -> str | float | None:
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, (list, tuple)):
        return ", ".join(f"{each:.6g}" if isinstance(each, float) else str(each) for each in value)
    return float(value)


def _widths(heads: Sequence[str], rows: Sequence[Sequence[Any]]) -> list[float]:
    longest = [max(len(str(row[i])) for row in (heads, *rows)) for i in range(len(heads))]
    return [float(min(max(each + 2, LEAST_WIDTH), MOST_WIDTH)) for each in longest]


def paper_pdf(paper: StudyPaper, *, size: str = "A4") -> bytes:
    """The PDF. Raises ImportError without typst."""
    from burnerlab.report.pdf import study_pdf_bytes

    values = asdict(replace(paper, rows=())) | {
        "cautions": [{"word": one.word, "text": one.text} for one in paper.cautions],
    }
    return study_pdf_bytes(values, paper.footer, paper=size)
