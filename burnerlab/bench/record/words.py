"""What goes wrong with a file that holds a record, said in words."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from burnerlab.bench.record.patience import LONGEST_s
from burnerlab.tables.problem import Problem, UserError

BUSY_SECONDS = 60.0
WHOLE = "nothing of this entry was kept, and what was recorded before is whole"
# error name of SQLite, up to its first part that fits -> what is wrong, one fix
SAID: dict[str, tuple[str, str]] = {
    "SQLITE_FULL": (f"the disk is full: {WHOLE}", "make room, then record it again"),
    "SQLITE_IOERR_WRITE": (f"the disk could not be written: {WHOLE}", "check the disk and the room on it"),
    "SQLITE_IOERR_FSYNC": (f"the disk did not confirm the write: {WHOLE}", "check the disk"),
    "SQLITE_IOERR": (f"the disk could not be read or written: {WHOLE}", "check the disk and the room on it"),
    "SQLITE_READONLY": (
        f"may be read but not written: {WHOLE}",
        "give this user the right to write the file and its folder",
    ),
    "SQLITE_BUSY": (
        f"another program has held the record for {BUSY_SECONDS:.0f} s: {WHOLE}",
        "close the other program, then repeat the command",
    ),
    "SQLITE_LOCKED": (f"the record is held by another part of this program: {WHOLE}", "repeat the command"),
    "SQLITE_INTERRUPT": (
        f"a question to it did not end within {LONGEST_s:.0f} s: a view or trigger of another program may loop",
        "burnerlab record check names what is not of the record; go back to a backup",
    ),
    "SQLITE_NOTADB": ("is not a bench record (not an SQLite file)", "name the file of a bench record"),
    "SQLITE_CORRUPT": (
        "is damaged",
        "keep a copy of it as it is, then go back to a backup; burnerlab record check says more",
    ),
    "SQLITE_CANTOPEN": ("cannot be opened", "check that its folder is there and may be written"),
    "SQLITE_PERM": ("may not be opened by this user", "give this user the right to read it"),
    "SQLITE_AUTH": ("may not be opened by this user", "give this user the right to read it"),
    "SQLITE_TOOBIG": (f"the entry is too large: {WHOLE}", "shorten the note"),
    "SQLITE_CONSTRAINT_TRIGGER": (
        "the record is append-only, entries are not changed or deleted",
        "record a correction",
    ),
}


OURS = ("syntax error", "incomplete input")  # what SQLite says of a statement that we wrote wrong


def damaged(what: str, path: Path | str) -> Problem:
    """What is wrong with a file that was changed by a fault of its disk or by another program."""
    return Problem(f"is damaged: {what}", file=str(path), fix=SAID["SQLITE_CORRUPT"][1])


def problem_of(error: sqlite3.Error, path: Path | str) -> Problem | None:
    """The trouble with a file in words; None for an error that is a defect of ours."""
    name = str(getattr(error, "sqlite_errorname", "") or "")
    while name.startswith("SQLITE"):
        if name in SAID:
            what, fix = SAID[name]
            return Problem(what, file=str(path), fix=fix)
        name = name.rpartition("_")[0]
    if isinstance(error, sqlite3.ProgrammingError | sqlite3.InterfaceError):
        return None
    said = str(error)
    return None if any(words in said for words in OURS) else damaged(said, path)


@contextmanager
def in_words(path: Path | str) -> Iterator[None]:
    """Turn what SQLite says of a file into a UserError."""
    try:
        yield
    except sqlite3.Error as error:
        problem = problem_of(error, path)
        if problem is None:
            raise
        raise UserError(problem) from error
    except UnicodeDecodeError as error:  # of what SQLite says, quoting a damaged name
        raise UserError(damaged("a name in it is no text", path)) from error
