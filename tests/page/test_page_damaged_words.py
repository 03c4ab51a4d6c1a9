"""An entry whose words a fault of the disk changed is shown as it is, on every page that shows it."""

from __future__ import annotations

import sqlite3
from typing import Any

import pytest

from burnerlab.bench.record import BenchReading, BenchTest, Observation, Result, add_test, open_record
from burnerlab.page.bench_state import Bench

ENTRY = BenchTest(
    serial="C-0042",
    model="Lantern Square 6",
    tester="R. Quill",
    readings=(BenchReading(quantity="timed", value=61.0, burner="rear burner"),),
    results=(Result(quantity="deviation", value=0.01, burner="rear burner", verdict="within"),),
    observations=(Observation(name="lift", answer="no", burner="rear burner"),),
)


@pytest.mark.parametrize(
    "change",
    [
        "results SET verdict = 'w#thin'",
        "results SET quantity = 'deviat!on'",
        "readings SET quantity = 't!med'",
        "observations SET name = 'lyft'",
        "tests SET tested_at = '2o26-!1-25T14:05:10.000Z'",
        "tests SET serial = CAST(x'432d30303432ff' AS TEXT)",
    ],
)
def test_it_is_shown_as_it_is(bench: Bench, client: Any, change: str) -> None:
    with open_record(bench.file) as record:
        uid = add_test(record, ENTRY).uid
    with sqlite3.connect(bench.file) as other:
        for (name,) in other.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'").fetchall():
            other.execute(f"DROP TRIGGER {name}")
        other.execute(f"UPDATE {change}")
    other.close()
    addresses = ["/record", f"/entry?uid={uid}", "/record.json"]
    if "serial" not in change:
        addresses += ["/unit?serial=C-0042", "/sheet?serial=C-0042"]
    for address in addresses:
        assert client.get(address).status_code == 200, address
