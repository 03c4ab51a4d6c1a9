"""Runs of a unit that were recorded in less time than they last: entered later, or of another unit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import pairwise

from burnerlab.bench.record.entry import TestRecord
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import output

RUN = "timed"  # quantity of a run of the meter, or of the time between two readings of the scale


@dataclass(frozen=True, slots=True, kw_only=True)
class CloseRun:
    """An entry whose runs last longer than the time since the entry before it."""

    burner: str = field(metadata=output("burner"))
    entry: str = field(metadata=output("entry"))  # uid
    run_s: float = field(metadata=output("runs together", Kind.TIME))
    since_s: float = field(metadata=output("since the entry before", Kind.TIME))


def close_runs(entries: Sequence[TestRecord]) -> tuple[CloseRun, ...]:
    """Entries of a unit that were recorded sooner after the one before than their own runs last.

    entries : current ones of a unit, the newest first. A correction repeats its runs and counts for none
    """
    found = []
    for entry, before in pairwise(entries):
        run_s = sum(one.value for one in entry.test.readings if one.quantity == RUN)
        times = [datetime.fromisoformat(one.recorded_at) for one in (before, entry)]
        since_s = (times[1] - times[0]).total_seconds()
        if not entry.corrects and 0.0 <= since_s < run_s:
            burner = next((one.burner for one in entry.test.results), "")
            found.append(CloseRun(burner=burner, entry=entry.uid, run_s=run_s, since_s=since_s))
    return tuple(found)
