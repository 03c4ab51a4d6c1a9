"""A CSV file as rows that know their line: encoding, quotes, lengths and the head are checked here, once for all."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from difflib import get_close_matches
from pathlib import Path
from typing import NoReturn

from burnerlab.tables.problem import Problem, UserError

MOST_BYTES = 20_000_000  # of a file; the largest shipped table has 2 MB
SAVE_AS = 'save it as "CSV UTF-8 (comma delimited)"'


class Row(dict[str, str]):
    """One row of a table by column; it knows its file, its line and that of the head, so that a complaint can."""

    __slots__ = ("file", "head", "line")

    def __init__(self, cells: dict[str, str], file: str, line: int, head: int = 1) -> None:
        super().__init__(cells)
        self.file, self.line, self.head = file, line, head

    def number(self, column: str, otherwise: float | None = None) -> float:
        """The number in a column; ``otherwise`` where the cell is empty. Raises UserError for a text."""
        text = self.get(column, "")
        if not text and otherwise is not None:
            return otherwise
        try:
            return float(text)
        except ValueError:
            raise UserError(self.problem(column, "is not a number")) from None

    def problem(self, column: str, what: str, *, accepted: str = "", fix: str = "") -> Problem:
        """A complaint about one cell of this row."""
        return Problem(
            what,
            value=self.get(column, ""),
            key=column,
            file=self.file,
            line=self.line,
            accepted=accepted,
            fix=fix,
        )


def read_csv(path: Path, *, has_sizes: bool = False, has_semicolons: bool = False) -> tuple[Row, ...]:
    """Rows of a CSV file with a head; lines that start with # are comments, empty rows are left out.

    has_sizes : a line may start with a size such as #54; a comment then needs a blank after its sign
    has_semicolons : semicolons may stand between the cells, as spreadsheets of many countries write them
    Raises UserError, with file and line, for a file that is no CSV in UTF-8, or without a head.
    """
    return parse(text_of(path), path.name, has_sizes=has_sizes, has_semicolons=has_semicolons)


def parse(text: str, name: str, *, has_sizes: bool = False, has_semicolons: bool = False) -> tuple[Row, ...]:
    """Rows of the text of a CSV file; ``name`` is printed in complaints.

    >>> parse("# mine\\nname,value\\nlift,1\\n", "own.csv")[0].line
    3
    """
    separator = separator_of(text) if has_semicolons else ","
    found = records(text, name, is_remark if has_sizes else _is_comment, separator)
    head, columns = next(found, (1, []))
    columns = [column.strip() for column in columns]
    if not any(columns):
        raise UserError(Problem("is empty", file=name, line=1, fix="start with a line of column names"))
    if len(columns) == 1 and ";" in columns[0]:
        fix = "write commas between the cells and a point in numbers"
        raise UserError(Problem("has semicolons between the cells", file=name, line=head, fix=fix))
    twice = [column for column in dict.fromkeys(columns) if columns.count(column) > 1]
    if twice:
        what = "column is named twice" if twice[0] else "a column has no name"
        raise UserError(Problem(what, value=twice[0], file=name, line=head))
    rows, problems = [], []
    for line, cells in found:
        if len(cells) > len(columns) and not any(cells[len(columns) :]):
            cells = cells[: len(columns)]
        if len(cells) != len(columns):
            what = f"has {len(cells)} cells under {len(columns)} columns"
            fix = (
                'put a text that holds a comma in "quotes"' if len(cells) > len(columns) else "add the cells"
            )
            problems.append(Problem(what, file=name, line=line, fix=fix))
            continue
        rows.append(Row(dict(zip(columns, cells, strict=True)), name, line, head))
    if problems and not rows:
        what, fix = f"names {len(columns)} columns, which no row below fits", "name every column, once"
        raise UserError(Problem(what, file=name, line=head, fix=fix))
    if problems:
        raise UserError(problems)
    return tuple(rows)


def text_of(path: Path) -> str:
    """The text of a file in UTF-8, with or without a byte order mark; UserError for anything else."""
    try:
        if path.stat().st_size > MOST_BYTES:
            _refuse(path, f"is larger than {MOST_BYTES // 1_000_000} MB")
        data = path.read_bytes()
    except OSError as error:
        raise UserError(Problem(f"cannot be read: {error.strerror}", file=str(path))) from None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        _refuse(path, "is not text in UTF-8", data[: error.start].count(b"\n") + 1)
    if "\0" in text:
        _refuse(path, "is not text in UTF-8", text[: text.index("\0")].count("\n") + 1)
    return text


def _refuse(path: Path, what: str, line: int = 0) -> NoReturn:
    raise UserError(Problem(what, file=path.name, line=line, accepted="a CSV in UTF-8", fix=SAVE_AS))


def _is_comment(line: str) -> bool:
    return line.startswith("#")


def is_remark(line: str) -> bool:
    """Whether a line is a comment where #54 is a size: a comment has a blank after its sign.

    >>> is_remark("# ours"), is_remark("#54")
    (True, False)
    """
    return line.startswith("# ") or line.strip() == "#"


def separator_of(text: str) -> str:
    """What stands between the cells of the head: semicolons where it has more of them than commas.

    >>> separator_of("part;size;price")
    ';'
    """
    head = next((line for line in text.splitlines() if line.strip() and not _is_comment(line)), "")
    return ";" if head.count(";") > head.count(",") else ","


def records(
    text: str, name: str, is_comment: Callable[[str], bool] = _is_comment, separator: str = ","
) -> Iterator[tuple[int, list[str]]]:
    """Every row that holds something, with the line it starts on; UserError where quotes are broken."""
    at = 0

    def lines() -> Iterator[str]:
        nonlocal at
        for at, line in enumerate(io.StringIO(text, newline=""), start=1):  # noqa: B007
            if not is_comment(line):
                yield line

    reader, start = csv.reader(lines(), strict=True, delimiter=separator), 0
    try:
        for cells in reader:
            start = at - "".join(cells).count("\n")
            if any(cells):
                yield start, cells
    except csv.Error as error:
        at_fault = start + 1 if "unexpected end" in str(error) else at
        what, fix = (
            "cannot be read as CSV: a quote is not closed, or stands inside a cell",
            'write "" for a quote',
        )
        raise UserError(Problem(what, file=name, line=at_fault, fix=fix)) from None


def meant(word: str, known: list[str], least: float = 0.6) -> str:
    """The nearest spelling as a fix, or nothing.

    least : of the letters that both have alike, from 0 to 1

    >>> meant("emisivity", ["emissivity", "recovery"])
    'did you mean emissivity?'
    """
    lower = {name.lower(): name for name in known}
    near = get_close_matches(word.strip().lower(), list(lower), n=1, cutoff=least)
    return f"did you mean {lower[near[0]]}?" if near else ""
