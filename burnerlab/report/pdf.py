"""The sheet as PDF by typst: fonts inside, no network, the same bytes for the same sheet."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from burnerlab.report.html import kind_of, pretty
from burnerlab.report.paper_size import PAPERS
from burnerlab.report.sheet.blocks import BlockColumn, Cell, Table
from burnerlab.report.sheet.job_card import JobCard
from burnerlab.report.sheet.sections import Sheet
from burnerlab.report.sheet.terms import EnglishText
from burnerlab.report.sheet.wording import SHAPES

TEMPLATES = Path(__file__).parent / "templates"
LONG_WORD = re.compile(r"(?<!\S)(?![0-9a-f]{64}(?!\S))\S{27,}")
STROKE_UNIT = re.compile(r"(?<=\d) (k?Btu|k?W|MJ|kg|lb|m³|ft³|g|L|m)/(h|s|m²|m³|kg|ft³|mm²|in²|lb)(?!\w)")
PLAIN_UNIT = re.compile(r"(?<=\d) (?=(?:%|mm|mbar|kPa|psi|in w\.c\.|k?W|ppm|°[CF])(?!\w))")
WIDEST = 40.0  # characters: a longer text breaks into lines
FIGURES = 1.9  # for each character of a value beside running text: it must not break
BOLD, UNBROKEN = 1.12, 26  # the width of a bold character; a longer word breaks
GAP = 3.0  # between columns, in characters
CROWDED, MANY = 24.0, 7  # of a column beside running text or in a table of that many columns
USUAL = 0.85  # of the cells of a column stand on one line
PAGE = 138.0  # characters of a table's size across the narrower paper
STEP, MOST_MOVES = 2.0, 60  # characters that one column gives another at a time, and how often
FILLED = 0.9  # of a line, whose last word goes to the next
STUDY_PAGE = 122.0  # of the larger type of a study
ENGLISH_SIGN = (
    "\u2063"  # before a text that stays English, in another language; common.typ sets it as English
)
OTHER_SCRIPT = re.compile("[\u0530-\u1fff\u2e80-\U0010ffff]")  # not in the fonts inside typst


def sheet_data(sheet: Sheet, figures: Mapping[str, str], paper: str) -> dict[str, Any]:
    """The sheet as plain data: typst shows every string of it as text, none of it as markup."""
    data = printed(asdict(sheet))
    for section, made in zip(data["sections"], sheet.sections, strict=True):
        for block, one in zip(section["blocks"], made.blocks, strict=True):
            block["type"] = kind_of(one)
            if isinstance(one, Table):
                block["widths"] = widths(one)
    more = {"figures": dict(figures), "shapes": SHAPES, "sheet": data}
    del data["card"]
    return (
        more
        | _common(data["title"], data["footer"], card_data(sheet.card), paper)
        | {"language": sheet.language}
    )


def _common(title: str, footer: str, card: Any, paper: str) -> dict[str, Any]:
    return {"title": title, "footer": footer, "card": card, "paper": PAPERS[paper]}


def widths(table: Table) -> list[float]:
    """Relative widths of the columns: what stands in them; a text may break between its words, no word is cut.

    >>> from burnerlab.report.sheet.blocks import BlockColumn
    >>> rows = ((Cell(text="thermodynamic ceiling"), Cell(text="a line of many words " * 9)),) * 2
    >>> wide = BlockColumn(title="Found", wide=True), BlockColumn(title="Source", wide=True)
    >>> columns = (BlockColumn(title="Check"), *wide)
    >>> first, *_ = widths(Table(caption="", columns=columns, rows=tuple((*row, row[1]) for row in rows)))
    >>> first > len("thermodynamic")
    True
    """
    found, least = [], []
    crowded = len(table.columns) >= MANY or any(column.wide for column in table.columns)
    for place, column in enumerate(table.columns):
        words = [len(word) for word in column.title.split()]
        cells = [row[place] for row in (*table.rows, *([table.total] if table.total else []))]
        body = [
            max(len(cell.text), 0.9 * len(cell.also), len(cell.verdict) + 9 if cell.verdict else 0)
            for cell in cells
        ]
        most = WIDEST * (1.7 if column.wide else 1.0 if column.side == "left" else 0.5)
        if crowded and not column.wide:
            most = min(most, CROWDED)
        beside = column.side == "right" and any(one.wide for one in table.columns)
        needed = [one * (FIGURES if beside else 1.0) for one in body]
        found.append(min(max([*words, 0.4 * len(column.title), *needed]) + GAP, most))
        least.append(min(_longest_word(cells, column, is_first=place == 0) + GAP, found[-1]))
    made = _across(found, least)
    return _shortest(table, made, least) if sum(column.wide for column in table.columns) > 1 else made


def _shortest(table: Table, widths: list[float], least: list[float]) -> list[float]:
    """The same paper divided among several columns of texts such that the table has the fewest lines."""
    texts = np.array([[(len(cell.text), 0.9 * len(cell.also)) for cell in row] for row in table.rows])
    made, low = np.array(widths), np.array(least)
    pairs = [(i, j) for i in range(len(made)) for j in range(len(made)) if i != j]
    moves = np.array([[STEP * ((place == i) - (place == j)) for place in range(len(made))] for i, j in pairs])

    def lines(tried: NDArray[np.float64]) -> NDArray[np.float64]:
        room = np.maximum(tried - GAP, 1.0)[:, np.newaxis, :, np.newaxis]
        every: NDArray[np.float64] = (
            np.ceil(texts[np.newaxis] / (FILLED * room)).sum(axis=3).max(axis=2).sum(axis=1)
        )
        return every

    best = float(lines(made[np.newaxis])[0])
    for _ in range(MOST_MOVES):
        tried = made + moves
        many = np.where((tried >= low).all(axis=1), lines(tried), np.inf)
        if not many.min() < best:
            break
        best, made = float(many.min()), tried[int(many.argmin())]
    return [float(width) for width in made]


def _longest_word(cells: Sequence[Cell], column: BlockColumn, *, is_first: bool) -> float:
    """Characters of the longest word of a column; a verdict stands beside its mark, the first column is bold."""
    texts = [column.title, *(text for cell in cells for text in (cell.text, cell.also))]
    word = max((len(word) for text in texts for word in text.split()), default=0)
    verdict = max((len(max(cell.verdict.split(), key=len)) + 3 for cell in cells if cell.verdict), default=0)
    return max(BOLD * min(word, UNBROKEN) if is_first else min(word, UNBROKEN), verdict)


def _across(widths: list[float], least: list[float], page: float = PAGE) -> list[float]:
    """Widths that fit the paper: what is too much is taken from what may break, in proportion."""
    spare = sum(widths) - sum(least)
    if sum(widths) <= page or spare <= 0.0:
        return widths
    kept = max(page - sum(least), 0.0) / spare
    return [low + kept * (high - low) for high, low in zip(widths, least, strict=True)]


def plain_widths(heads: Sequence[str], rows: Sequence[Sequence[str]], page: float = PAGE) -> list[float]:
    """Relative widths of a table of texts: no word is cut, nor a figure parted from its unit.

    A few cells longer than the others break into lines.

    >>> plain_widths(("Burner", "Found"), [("ring", "a line of many words " * 9)])
    [9.72, 43.0]
    """
    found, least = [], []
    for place, head in enumerate(heads):
        bold = BOLD if place == 0 else 1.0
        title, *cells = (
            re.sub(f"[\u2060{ENGLISH_SIGN}]", "", text) for text in (head, *(row[place] for row in rows))
        )
        word = max(bold * min(len(one), UNBROKEN) for text in (title, *cells) for one in text.split(" "))
        lengths = sorted(bold * len(text) for text in cells) or [0.0]
        usual = lengths[math.ceil(USUAL * (len(lengths) - 1))]
        found.append(min(max(0.5 * len(title), usual, word), WIDEST) + GAP)
        least.append(word + GAP)
    return _across(found, least, page)


def printed(value: Any) -> Any:
    """Plain data with every text as typst sets it, behind a sign where it stays English in another language."""
    if isinstance(value, dict):
        return {key: printed(entry) for key, entry in value.items()}
    if isinstance(value, (list, tuple)):
        return [printed(entry) for entry in value]
    if not isinstance(value, str):
        return value
    sign = ENGLISH_SIGN if isinstance(value, EnglishText) and value else ""
    return sign + whole_units(breakable(pretty(value)))


def whole_units(text: str) -> str:
    r"""A text whose figures stay with their units: typst breaks after a stroke unless a word joiner follows.

    >>> whole_units("95 000 Btu/h") == "95 000\u00a0Btu/\u2060h", whole_units("and/or")
    (True, 'and/or')
    >>> whole_units("1.60 mm +1.8 %") == "1.60\u00a0mm +1.8\u00a0%"
    True
    """
    tied = STROKE_UNIT.sub(lambda unit: f"\u00a0{unit[1]}/\u2060{unit[2]}", text)
    return PLAIN_UNIT.sub("\u00a0", tied).replace("in w.c.", "in\u00a0w.c.")


def breakable(text: str) -> str:
    r"""A text whose longest words may break: typst breaks at a zero-width space. A hash is left whole.

    >>> breakable("x" * 30).count("\u200b"), breakable("0f" * 32).count("\u200b"), breakable("a plain line")
    (2, 0, 'a plain line')
    """
    return LONG_WORD.sub(lambda word: "\u200b".join(re.findall(".{1,12}", word[0])), text)


def pdf_bytes(sheet: Sheet, figures: Mapping[str, str], *, paper: str = "A4") -> bytes:
    """The PDF: the job card, three pages and the annex. Raises ImportError without typst.

    The fonts are those inside typst, so that every machine makes the same file; only a text in another script
    than Latin, Greek or Cyrillic looks for a font of the machine.
    """
    return compiled(("common", "card", "sheet"), sheet_data(sheet, figures, paper))


def card_pdf_bytes(card: JobCard, *, paper: str = "A4") -> bytes:
    """The job card alone as PDF, one page. Raises ImportError without typst."""
    data = card_data(card)
    title = f"{data['title']}: {data['labels']['kind']}"
    return compiled(
        ("common", "card"), _common(title, data["footer"], data, paper) | {"language": card.language}
    )


def card_data(card: JobCard) -> dict[str, Any]:
    """The job card as plain data, with the first words of each step's caution."""
    steps = [{"text": one.text, "signal": one.signal, "hazard": one.hazard} for one in card.steps]
    data: dict[str, Any] = printed(asdict(card) | {"steps": steps})
    return data


def study_pdf_bytes(study: Mapping[str, Any], footer: str, *, paper: str = "A4") -> bytes:
    """The paper of a study as PDF, from its fields and the cautions. Raises ImportError without typst."""
    data = printed(dict(study))
    for table in data["tables"]:
        table["widths"] = plain_widths(table["heads"], table["rows"], STUDY_PAGE)
    more = {"study": data, "language": data["language"]}
    return compiled(("common", "study"), _common(data["title"], footer, None, paper) | more)


def compiled(sources: Sequence[str], data: Mapping[str, Any]) -> bytes:
    """The PDF of some sources, joined, with their data. Raises ImportError without typst."""
    import typst

    text = json.dumps(data, ensure_ascii=False, allow_nan=False)
    made: bytes = typst.compile(
        b"\n".join((TEMPLATES / f"{name}.typ").read_bytes() for name in sources),
        format="pdf",
        ignore_system_fonts=OTHER_SCRIPT.search(text) is None,
        sys_inputs={"sheet": text},
        timestamp=0,
    )
    return made
