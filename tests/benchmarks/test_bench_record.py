"""How quick is a record of 100 000 units: lists, charts and searches, as shares of the 200 ms they may take."""

from __future__ import annotations

import sqlite3
import time
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from burnerlab.bench.record import (
    BenchReading,
    BenchTest,
    ChartQuery,
    Observation,
    Record,
    Result,
    TestRecord,
    add_test,
    open_record,
    search,
    summary,
    unit_chart,
    units,
    units_beside,
)
from burnerlab.bench.record.checks import checked_test
from burnerlab.bench.record.database import transaction
from burnerlab.bench.record.store import insert_test

ALLOWED_ms = 200.0
MANY, FEW = 112_000, 300  # tests: a tenth of them are second tests, so that 100 800 units remain


def median_ms(work: Callable[[], object], rounds: int) -> float:
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(1e3 * (time.perf_counter() - start))
    return float(np.median(times))


def filled(path: Path, count: int) -> Record:
    """A shop's years: two burners a unit, every tenth unit tested twice."""
    rng, record = np.random.default_rng(4), open_record(path)
    with transaction(record.connection):
        for number in range(count):
            unit, again = (number - 1, True) if number % 10 == 9 else (number, False)
            moment = np.datetime64("2018-01-01T06:00:00.000") + np.timedelta64(25 * number, "m")
            off = rng.normal(0.0, 0.012, 2)
            test = BenchTest(
                serial=f"C-{unit:06d}",
                model="market cart range" if unit % 3 else "stock pot ring",
                tester="R. Quill",
                gas="propane",
                tested_at=f"{moment}Z",
                note="retest after cleaning" if again else "",
                readings=(BenchReading(quantity="manifold_pressure", value=2740.0, burner="griddle"),),
                results=tuple(
                    Result(quantity="deviation", value=float(value), burner=burner, low=-0.05, high=0.05)
                    for burner, value in zip(("griddle", "ring"), off, strict=True)
                ),
                observations=(Observation(name="lift", answer="no", burner="griddle"),),
            )
            made = TestRecord(
                number=0, uid=uuid.uuid4().hex, recorded_at=f"{moment}Z", test=checked_test(test)
            )
            insert_test(record.connection, made)
    return record


@pytest.fixture(scope="module")
def record(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Record]:
    asked = request.config.getoption
    enabled = asked("benchmark_enable") or not asked("benchmark_disable")
    with filled(tmp_path_factory.mktemp("record") / "bench.sqlite", MANY if enabled else FEW) as made:
        yield made


CHART = ChartQuery(model="market cart range", burner="griddle")
QUESTIONS: dict[str, Callable[[Record], object]] = {
    "list of 50 units": lambda record: units(record, limit=50),
    "list of 50 units of a model": lambda record: units(record, model="stock pot ring", limit=50),
    "page of the oldest units": lambda record: units_beside(record, None, older=False, limit=50),
    "chart of 50 units": lambda record: unit_chart(record, CHART),
    "chart of 1000 units": lambda record: unit_chart(
        record, ChartQuery(model=CHART.model, burner="ring", last=1000)
    ),
    "search of a serial number": lambda record: search(record, "c-000123"),
    "search of words": lambda record: search(record, "retest cleaning"),
    "search that finds nothing": lambda record: search(record, "no such words"),
    "counts": summary,
}


@pytest.mark.parametrize("question", QUESTIONS)
def test_a_question_against_what_it_may_take(
    benchmark: BenchmarkFixture, record: Record, question: str
) -> None:
    ask = QUESTIONS[question]
    took = median_ms(lambda: ask(record), 7 if benchmark.enabled else 1)
    benchmark.pedantic(ask, (record,), rounds=1)
    if benchmark.enabled:
        held = summary(record)
        print(
            f"\n{question}, {held.tests} tests of {held.units} units: {took:.1f} ms, {took / ALLOWED_ms:.2f} of 200 ms"
        )


def test_recording_against_a_bare_insert(benchmark: BenchmarkFixture, tmp_path: Path) -> None:
    test = BenchTest(
        serial="C-1", model="range", tester="t", results=(Result(quantity="deviation", value=0.01),)
    )
    rounds = 200 if benchmark.enabled else 2
    bare = sqlite3.connect(tmp_path / "bare.sqlite", isolation_level=None)
    bare.execute("PRAGMA journal_mode = WAL")
    bare.execute("PRAGMA synchronous = FULL")
    bare.execute("CREATE TABLE t (a INTEGER PRIMARY KEY, b TEXT)")
    with open_record(tmp_path / "bench.sqlite") as ours:
        ms = median_ms(lambda: add_test(ours, test), rounds)
        peer = median_ms(lambda: bare.execute("INSERT INTO t (b) VALUES (?)", ("x" * 200,)), rounds)
        benchmark.pedantic(add_test, (ours, test), rounds=1)
    bare.close()
    if benchmark.enabled:
        print(f"\none test recorded: {ms:.2f} ms, {ms / peer:.1f} x a bare durable insert of SQLite")
