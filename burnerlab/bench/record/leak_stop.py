"""A leak that the answers of a release find: a stop of its own in the record, which no other answer takes back."""

from __future__ import annotations

from collections.abc import Mapping

from burnerlab.bench.record.database import Record
from burnerlab.bench.record.entry import LONGEST_NAME, BeforeLighting, BenchTest
from burnerlab.bench.record.open_stops import STATEMENTS, open_stops
from burnerlab.bench.record.query import entry, history
from burnerlab.bench.record.release_statements import leak_words
from burnerlab.bench.record.store import add_test
from burnerlab.bench.stop import stop_notice

LAST_ENTRIES = 200  # of a unit, among which its pressure is looked for
LEAK_OF_RELEASE = "in the leak test before a release: {words}"


def leak_of_release(record: Record, stop: str, statements: Mapping[str, str]) -> str:
    """Record the leak that the answers of a release found, as a stop of its own; the uid of its entry, "" for none.

    It is of the unit and the place of the stop that was to end, and holds the bench until a release of its own. No
    other answer takes it back. While it stands, the same leak answered again is not recorded twice.
    stop : uid of a stop that was to end, or its first characters
    """
    words = leak_words(statements)
    if not words:
        return ""
    stopped = entry(record, stop.partition("-")[0])
    why = LEAK_OF_RELEASE.format(words=words)
    for one in open_stops(record):
        if (one.notice.id, one.serial, one.notice.why) == ("odour", stopped.serial, why):
            return one.entry
    test, before = stopped.test, stopped.test.before_lighting
    made = BenchTest(
        serial=test.serial,
        model=test.model,
        tester=" ".join(statements.get("name", "").split())[:LONGEST_NAME] or test.tester,
        gas=test.gas,
        model_sha256=test.model_sha256,
        rating_basis=test.rating_basis,
        region=test.region,
        before_lighting=BeforeLighting(leak_test="leak found", place="" if before is None else before.place),
        stops=(stop_notice("odour", why=why),),
        inputs=tuple(one for one in test.inputs if one.name in STATEMENTS),
    )
    return add_test(record, made).uid


def recorded_working_Pa(record: Record, uid: str) -> float | None:
    """The pressure that a unit worked at, gauge, by the record [Pa]; None where no test of it says one.

    It is the highest manifold pressure that its tests on the same gas read inside the band stated with it, or that of
    their meter, if higher. A pressure outside its band, or without one, says nothing of what the unit works at.
    uid : of the entry that stopped it
    """
    stopped = entry(record, uid)
    tests = [one.test for one in history(record, stopped.serial, LAST_ENTRIES) if one.is_current]
    of_gas = [test for test in tests if test.gas == stopped.test.gas]
    held = [
        result.value
        for test in of_gas
        for result in test.results
        if result.quantity == "manifold_pressure"
        and result.low is not None
        and result.high is not None
        and result.low <= result.value <= result.high
    ]
    at_meter = [one.value for test in of_gas for one in test.readings if one.quantity == "meter_pressure"]
    return max((*held, *at_meter)) if held else None
