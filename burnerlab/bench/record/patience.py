"""A statement on a record that never ends is stopped: a view or a trigger of another program may loop for ever."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterable
from typing import Any

LONGEST_s = 60.0  # that SQLite may work on one statement
STEPS = 50_000  # of its machine between two looks at the clock, some milliseconds
LONGEST_STEP_s = 0.02  # more between two looks is time in which the rows were used, not sought


class PatientConnection(sqlite3.Connection):
    """A connection that interrupts a statement SQLite has worked on for ``LONGEST_s``.

    The time between two rows, in which somebody uses the first, does not count.
    """

    worked_s = 0.0
    looked_at = 0.0

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self.set_progress_handler(self._look, STEPS)

    def _look(self) -> int:
        now = time.monotonic()
        self.worked_s += min(now - self.looked_at, LONGEST_STEP_s)
        self.looked_at = now
        return int(self.worked_s > LONGEST_s)

    def _begin(self) -> None:
        self.worked_s, self.looked_at = 0.0, time.monotonic()

    def execute(self, *asked: Any) -> sqlite3.Cursor:
        self._begin()
        return super().execute(*asked)

    def executemany(self, sql: str, rows: Iterable[Any], /) -> sqlite3.Cursor:
        self._begin()
        return super().executemany(sql, rows)
