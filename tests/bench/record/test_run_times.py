"""Tests of a unit that were recorded in less time than their runs last."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from record_samples import a_test

from burnerlab.bench.record import BenchReading, add_test, correct, open_record
from burnerlab.bench.record.query import history
from burnerlab.bench.run_times import close_runs


@pytest.mark.parametrize(("since_s", "count"), [(20, 1), (210, 1), (212, 0), (3600, 0)])
def test_two_runs_of_211_s_together_are_not_recorded_sooner(tmp_path: Path, since_s: int, count: int) -> None:
    runs = tuple(BenchReading(quantity="timed", value=value, burner="griddle") for value in (105.0, 106.0))
    with open_record(tmp_path / "bench.sqlite", create=True) as record:
        for _ in range(2):
            add_test(record, a_test(readings=runs))
        then, first = history(record, "C-0001")
    first = replace(first, recorded_at="2026-11-24T10:00:00.000Z")
    moment = f"2026-11-24T{10 + since_s // 3600}:{since_s % 3600 // 60:02d}:{since_s % 60:02d}.000Z"
    found = close_runs((replace(then, recorded_at=moment), first))
    assert [(one.burner, one.run_s, one.since_s) for one in found] == [("griddle", 211.0, since_s)] * count
    assert close_runs((first,)) == close_runs(()) == ()


def test_a_correction_repeats_its_runs(tmp_path: Path) -> None:
    runs = (BenchReading(quantity="timed", value=105.0, burner="griddle"),)
    with open_record(tmp_path / "bench.sqlite", create=True) as record:
        entry = add_test(record, a_test(readings=runs))
        correct(record, entry.uid, a_test(readings=runs, note="again"), "read again")
        assert close_runs(history(record, "C-0001")) == ()
        current = [one for one in history(record, "C-0001") if one.is_current]
        assert close_runs((current[0], entry)) == ()
