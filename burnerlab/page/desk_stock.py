"""The stock of own orifices of a desk: which files beside the project file can be one, and the key that names it.

The page sends a bare name, which has to be one of those that are listed: no name of a file reaches the disk from a
browser.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from burnerlab.orifice.stock import stock_list
from burnerlab.page.desk_merge import STOCK_KEY
from burnerlab.page.desk_state import Desk, DeskEntry
from burnerlab.page.form import RefusedError
from burnerlab.tables.libraries import MARK
from burnerlab.tables.problem import UserError

UNUSABLE = 422
ENDING = ".csv"
MOST_FILES = 40  # of a folder that are looked at
LARGEST_FILE = 256 * 1024  # bytes
MOST_REASONS = 3  # of files that are no stock


@dataclass(frozen=True, slots=True)
class StockFile:
    """A file beside the project file: how many orifices it has, or why it is no stock."""

    name: str
    orifices: int = 0
    why_not: str = ""

    @property
    def words(self) -> str:
        return "1 orifice" if self.orifices == 1 else f"{self.orifices} orifices"


@dataclass(frozen=True, slots=True)
class StockChoice:
    """What the page offers as the stock of own orifices."""

    present: str  # as the file names it; "" for none
    of_desk: str  # of the option --stock, which stands before that of the file; "" without it
    files: tuple[StockFile, ...]
    refused: tuple[StockFile, ...]
    folder: str

    @property
    def is_other(self) -> bool:
        """Whether the file names a stock that is not among those listed: of a library, or in a folder below."""
        return self.present not in ("", *(one.name for one in self.files))


def stock_choice(desk: Desk, entry: DeskEntry) -> StockChoice:
    """The files that can be the stock of a desk, by name, and the one that it has."""
    found = tuple(_files(Path(desk.file)))
    return StockChoice(
        present=entry.text.values().get(STOCK_KEY, ""),
        of_desk="" if desk.stock is None else desk.stock.name,
        files=tuple(one for one in found if not one.why_not),
        refused=tuple(one for one in found if one.why_not)[:MOST_REASONS],
        folder=Path(desk.file).absolute().parent.name,
    )


def with_stock(desk: Desk, entry: DeskEntry, name: str, window: str = "") -> DeskEntry:
    """The text with a file of the list as its stock, or with none; ``window``: the one that it is chosen in.

    Raises RefusedError for any other name, and for a text that cannot be edited.
    """
    choice = stock_choice(desk, entry)
    if name == choice.present:
        return entry
    if name and name not in {one.name for one in choice.files}:
        raise RefusedError(
            UNUSABLE, "That file is not among the stocks beside the project file. Nothing was written."
        )
    try:
        text = entry.text.with_stock(name)
    except UserError as error:
        raise RefusedError(UNUSABLE, "; ".join(problem.text() for problem in error.problems)) from None
    return desk.add(entry, text, {STOCK_KEY: name}, window)


def _files(file: Path) -> Iterator[StockFile]:
    """The CSV files of the folder of a file, by name; those of another kind, links and large ones left out."""
    for path in sorted(_candidates(file.absolute().parent))[:MOST_FILES]:
        try:
            yield StockFile(path.name, len(stock_list(path)))
        except UserError as error:
            first = error.problems[0]
            if first.line > 1:  # its columns are those of a stock
                yield StockFile(path.name, why_not=f"line {first.line}: {first.what}")
            elif first.fix.endswith("?"):  # one of them with a slip in its letters
                yield StockFile(path.name, why_not=f"line 1: {first.value} {first.what}; {first.fix}")


def _candidates(folder: Path) -> Iterator[Path]:
    try:
        with os.scandir(folder) as entries:
            for one in entries:
                if not one.name.casefold().endswith(ENDING) or not _is_writable(one.name):
                    continue
                if one.is_file(follow_symlinks=False) and one.stat().st_size <= LARGEST_FILE:
                    yield Path(one.path)
    except OSError:  # a folder without rights, or on a disk that is gone, has none
        return


def _is_writable(name: str) -> bool:
    """Whether a key of the project file can name it; a colon would name a library."""
    return MARK not in name and name.isprintable()
