"""Columns of a table within the width of the screen: heads and texts in several lines, then columns below."""

from __future__ import annotations

import re
import shutil
import sys
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

SCREEN = 80  # columns of a terminal where none is known, and of a text that a file or another program reads
MOST_COLUMNS = 200  # of a wide terminal
GAP = 2
LEAST_TEXT, LEAST_NAME = (
    12,
    24,
)  # columns below which a text, and that of the first column, is not broken any further
NO_BREAK = "\N{NO-BREAK SPACE}"
BEFORE_UNIT = re.compile(r"(?<=\d) ")
FIGURE = re.compile(r"[-+±<>(]?\d")


def screen_width() -> int:
    """Columns of the terminal that shows the output, 80 at least; 80 where it is no terminal."""
    if not sys.stdout.isatty():
        return SCREEN
    return max(SCREEN, min(shutil.get_terminal_size((SCREEN, 24)).columns, MOST_COLUMNS))


@dataclass(frozen=True, slots=True)
class _Column:
    """A head and its cells."""

    head: str
    cells: tuple[str, ...]
    place: int
    is_left: bool

    @property
    def natural(self) -> int:
        return max(map(len, (self.head, *self.cells)))

    @property
    def with_broken_head(self) -> int:
        return max(_longest_piece(self.head), *map(len, self.cells), 1)

    @property
    def with_broken_texts(self) -> int:
        pieces = (
            len(cell) if FIGURE.match(cell) and ";" not in cell else _longest_piece(cell)
            for cell in self.cells
        )
        least = max(_longest_piece(self.head), *pieces, 1)
        return min(max(least, LEAST_TEXT if self.place else LEAST_NAME), self.with_broken_head)


def laid_out(heads: Sequence[str], rows: Sequence[Sequence[str]], left_columns: int, width: int) -> str:
    """Aligned columns within a width; the first ``left_columns`` to the left, the others to the right.

    Heads that are wider than their cells are broken first, then texts of several words. Columns that still do not fit
    stand below, with the first again. A figure stays with its unit.

    >>> print(laid_out(("burner", "heat input, kW"), (("griddle tube left", "3.66"),), 1, 26))
    burner                heat
                        input,
                            kW
    --------------------------
    griddle tube left     3.66
    """
    columns = [
        _Column(head, tuple(row[place] for row in rows), place, place < left_columns)
        for place, head in enumerate(heads)
    ]
    widths = [column.natural for column in columns]
    for least in (
        [column.with_broken_head for column in columns],
        [column.with_broken_texts for column in columns],
    ):
        widths = _narrowed(widths, least, width)
    if _total(widths) <= width:
        return "\n".join(_lines(columns, widths))
    return "\n\n".join("\n".join(_lines(*block)) for block in _blocks(columns, left_columns, width))


def _total(widths: Sequence[int]) -> int:
    return sum(widths) + GAP * (len(widths) - 1)


def _narrowed(widths: Sequence[int], least: Sequence[int], width: int) -> list[int]:
    """The widths with the column that has most to spare made narrower until all fit or none has."""
    found = list(widths)
    while _total(found) > width:
        spare = [now - end for now, end in zip(found, least, strict=True)]
        place = max(range(len(found)), key=spare.__getitem__)
        if spare[place] <= 0:
            break
        found[place] -= 1
    return found


def _blocks(
    columns: Sequence[_Column], left_columns: int, width: int
) -> list[tuple[list[_Column], list[int]]]:
    """The columns in as few tables as hold them, each with the first."""
    repeated = list(columns[: max(left_columns, 1)])
    if _total([one.with_broken_head for one in repeated]) > width // 2:  # then the first alone
        repeated = repeated[:1]
    blocks: list[list[_Column]] = [list(repeated)]
    for column in columns[len(repeated) :]:
        least = [one.with_broken_head for one in (*blocks[-1], column)]
        if _total(least) > width and len(blocks[-1]) > len(repeated):
            blocks.append(list(repeated))
        blocks[-1].append(column)
    made = []
    for block in blocks:
        widths = _narrowed([one.natural for one in block], [one.with_broken_head for one in block], width)
        made.append((block, _narrowed(widths, [one.with_broken_texts for one in block], width)))
    return made


def _lines(columns: Sequence[_Column], widths: Sequence[int]) -> list[str]:
    table = [[column.head for column in columns], *zip(*(column.cells for column in columns), strict=True)]
    lines = []
    for row in table:
        cells = [_broken(cell, width) for cell, width in zip(row, widths, strict=True)]
        for place in range(max(map(len, cells))):
            parts = [
                (cell[place] if place < len(cell) else "").ljust(width)
                if column.is_left
                else (cell[place] if place < len(cell) else "").rjust(width)
                for column, cell, width in zip(columns, cells, widths, strict=True)
            ]
            lines.append((" " * GAP).join(parts).rstrip())
        if row is table[0]:
            lines.append("-" * _total(widths))
    return lines


def _longest_piece(text: str) -> int:
    return max(map(len, BEFORE_UNIT.sub(NO_BREAK, text).split(" ")))


def _broken(text: str, width: int) -> list[str]:
    if len(text) <= width:
        return [text]
    indent = " " * (len(text) - len(text.lstrip()))
    lines = textwrap.wrap(
        BEFORE_UNIT.sub(NO_BREAK, text),
        width,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace(NO_BREAK, " ") for line in lines] or [""]
