"""A finished file takes the place of another: in one step, also where Windows holds the other open for a moment.

POSIX replaces a file that is open. Windows refuses it while any program has it open without leave to delete: for
moments a virus scanner or an index of search, for long a spreadsheet.
"""

from __future__ import annotations

import time
from pathlib import Path

from burnerlab.tables.problem import Problem, UserError

HELD = (
    5,
    32,
    33,
)  # ERROR_ACCESS_DENIED, _SHARING_VIOLATION, _LOCK_VIOLATION of Windows' system error codes (memory)
PAUSES_s = (0.05, 0.1, 0.2, 0.4, 0.8)


def replace_file(made: Path, path: Path) -> None:
    """Give a finished file the name of another, which it replaces.

    made : beside ``path``; path : of the file that is replaced, or of none
    Raises UserError where another program keeps the file open, OSError for anything else.

    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     made, path = Path(folder, "made"), Path(folder, "papers.csv")
    ...     _ = made.write_text("new"), path.write_text("old")
    ...     replace_file(made, path)
    ...     path.read_text()
    'new'
    """
    for pause_s in (*PAUSES_s, None):
        try:
            made.replace(path)
        except PermissionError as error:
            if getattr(error, "winerror", None) not in HELD:
                raise
            if pause_s is None:
                what = "is open in another program, or may not be replaced by this user"
                fix = "close it there, then repeat the command"
                raise UserError(Problem(what, file=str(path), fix=fix)) from error
            time.sleep(pause_s)
        else:
            return
