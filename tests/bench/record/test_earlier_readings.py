"""Which reading stands in the place of which: the same quantity, burner and state."""

from __future__ import annotations

from pathlib import Path

import pytest
from record_samples import a_test

from burnerlab.bench.earlier_readings import earlier_readings
from burnerlab.bench.record import InputText, Result, add_test, open_record
from burnerlab.bench.record.query import UnitStops, history

CARBON_MONOXIDE = Result(
    quantity="air_free_carbon_monoxide", value=60e-6, burner="griddle", high=800e-6, verdict="within"
)


@pytest.mark.parametrize(
    ("states", "replaced"),
    [
        (("cold", "hot"), 0),
        (("hot", "cold"), 0),
        (("hot", "hot"), 1),
        (("cold", "cold"), 1),
        (("", "hot"), 1),
    ],
)
def test_carbon_monoxide_of_the_cold_test_is_none_of_the_hot_one(
    tmp_path: Path, states: tuple[str, str], replaced: int
) -> None:
    """Where no state is recorded it is that of its row in a plan, the hot one."""
    with open_record(tmp_path / "bench.sqlite", create=True) as record:
        for place, state in enumerate(states):
            add_test(
                record,
                a_test(
                    tested_at=f"2024-11-24T1{place}:15:00Z",
                    readings=(),
                    results=(CARBON_MONOXIDE,),
                    inputs=(InputText(name="plan_state", text=state),) if state else (),
                ),
            )
        entries = history(record, "C-0001")
    found = earlier_readings(entries, UnitStops())
    assert [(one.quantity, one.value) for one in found] == [("air_free_carbon_monoxide", 60e-6)] * replaced
