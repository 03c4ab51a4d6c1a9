"""The record keeps what it acknowledged, as it was written, and says in words what it cannot do."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest
from record_samples import A_RELEASE, a_kit, a_stopped_test, a_test

from burnerlab import __version__
from burnerlab.bench.record import (
    BenchInstrument,
    BenchReading,
    BenchTest,
    Observation,
    Photograph,
    PlanEntry,
    Result,
    add_kit_check,
    add_test,
    adverse_observations,
    correct,
    entry,
    history,
    instrument_named,
    kit_checks,
    latest,
    open_record,
    release,
    search,
    summary,
    units,
)
from burnerlab.bench.record.migrations import APPLICATION_ID
from burnerlab.quantity import UserError

TABLES = (
    "tests",
    "readings",
    "results",
    "observations",
    "instruments",
    "test_instruments",
    "kit_checks",
    "kit_scans",
    "before_lighting",
    "stops",
    "earlier_stops",
    "releases",
    "released_stops",
    "inputs",
    "photographs",
    "plan_entries",
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "bench.sqlite"


def test_what_was_recorded_is_read_back(path: Path) -> None:
    with open_record(path) as record:
        made = add_test(record, a_test())
    with open_record(path, readonly=True) as record:
        found = latest(record, "C-0001")
        assert found == made
        assert entry(record, made.uid[:8]) == made
    assert found is not None
    assert found.test == replace(
        a_test(),
        tested_at="2024-11-24T10:15:00.000Z",
        results=(replace(a_test().results[0], version=__version__),),
    )
    assert [one.name for one in adverse_observations(found.test)] == ["noise"]
    assert not found.overdue


def test_the_file_is_as_durable_as_it_should_be(path: Path) -> None:
    with open_record(path) as record:
        ask = lambda name: record.connection.execute(f"PRAGMA {name}").fetchone()[0]  # noqa: E731
        assert ask("journal_mode") == "wal"
        assert ask("synchronous") == 2
        assert ask("foreign_keys") == 1
        assert ask("application_id") == APPLICATION_ID
        tables = record.connection.execute(
            "SELECT name, strict FROM pragma_table_list WHERE type = 'table'"
        ).fetchall()
        assert {name for name, strict in tables if strict} == set(TABLES)


def test_a_correction_supersedes_and_both_stay_readable(path: Path) -> None:
    with open_record(path) as record:
        first = add_test(record, a_test())
        second = correct(record, first.uid[:10], a_test(deviation=0.014), "read the wrong dial")
        assert latest(record, "C-0001") == second
        old, new = sorted(history(record, "C-0001"), key=lambda each: each.number)
        assert (old.corrected_by, new.corrects, new.reason) == (second.uid, first.uid, "read the wrong dial")
        assert old.test == first.test
        assert not old.is_current
        with pytest.raises(UserError, match="superseded already"):
            correct(record, first.uid, a_test(), "again")
        assert units(record) == (new,)
        third = correct(record, second.uid, a_test(serial="C-0002"), "wrong unit")
        assert latest(record, "C-0001") is None
        assert units(record) == (third,)
        assert summary(record).corrections == 2


@pytest.mark.parametrize("table", TABLES)
def test_no_row_can_be_changed_or_deleted(path: Path, table: str) -> None:
    with open_record(path) as record:
        row = PlanEntry(plan="cd" * 32, plan_row="row 1")
        picture = Photograph(sha256="ef" * 32, subject="flame")
        made = add_test(record, a_stopped_test(plan_entries=(row,), photographs=(picture,)))
        add_kit_check(record, a_kit())
        release(record, made.uid, **A_RELEASE)
        column = record.connection.execute(
            f"SELECT name FROM pragma_table_info('{table}') LIMIT 1 OFFSET 1"
        ).fetchone()[0]
        for change in (
            f"UPDATE {table} SET {column} = {column}",
            f"DELETE FROM {table}",
            f"REPLACE INTO {table} SELECT * FROM {table}",
        ):
            with pytest.raises(sqlite3.IntegrityError, match="append-only"):
                record.connection.execute(change)
    with sqlite3.connect(path) as other, pytest.raises(sqlite3.IntegrityError, match="append-only"):
        other.execute(f"REPLACE INTO {table} SELECT * FROM {table}")
    other.close()


def test_a_kit_and_its_scans_are_kept(path: Path) -> None:
    with open_record(path) as record:
        made = add_kit_check(record, a_kit())
        again = add_kit_check(record, a_kit(mass_kg=0.7))
        assert kit_checks(record, kit="K-77") == (again, made) or kit_checks(record, kit="K-77")[1] == made
        assert kit_checks(record, serial="C-0001")[-1].check.scans == a_kit().scans
        assert kit_checks(record, kit="K-78") == ()


def test_overdue_instruments_are_flagged_and_the_newest_calibration_is_found(path: Path) -> None:
    late = BenchInstrument(name="M3", kind="manometer", calibrated_on="2023-05-01", due_on="2024-05-01")
    with open_record(path) as record:
        made = add_test(record, a_test(instruments=(late,)))
        assert made.overdue == (late,)
        add_test(record, a_test(serial="C-0002"))
        found = instrument_named(record, "M3")
        assert found is not None
        assert found.calibrated_on == "2024-05-01"
        assert instrument_named(record, "M9") is None
        rows = record.connection.execute("SELECT count(*) FROM instruments").fetchone()[0]
        add_test(record, a_test(serial="C-0003"))
        assert record.connection.execute("SELECT count(*) FROM instruments").fetchone()[0] == rows


def test_lists_pages_and_searches(path: Path) -> None:
    with open_record(path) as record:
        for n in range(12):
            add_test(
                record,
                a_test(
                    f"C-{n:04d}", model="ring" if n % 2 else "range", tested_at=f"2024-11-{10 + n}T08:00Z"
                ),
            )
        add_test(
            record,
            a_test(
                "C-0003",
                model="ring",
                tested_at="2024-11-23T08:00Z",
                note="Größer als üblich: 100 % _sicher_",
            ),
        )
        names = lambda found: [each.serial for each in found]  # noqa: E731
        assert names(units(record, limit=3)) == ["C-0003", "C-0011", "C-0010"]
        assert names(units(record, limit=3, offset=3)) == ["C-0009", "C-0008", "C-0007"]
        assert names(units(record, model="range", since="2024-11-14", until="2024-11-16")) == [
            "C-0006",
            "C-0004",
        ]
        assert names(units(record, since="2024-11-21", until="2024-11-21")) == ["C-0011"]
        assert names(search(record, "GRÖSSER 100")) == ["C-0003"]
        assert names(search(record, "_sicher_")) == ["C-0003"]
        assert names(search(record, "% RANGE")) == []
        assert names(search(record, "c-0011")) == ["C-0011"]
        assert len(search(record, "quill")) == 13
        assert len(history(record, "C-0003")) == 2
        for wrong in ("", "   ", "x" * 200):
            with pytest.raises(UserError, match="nothing to search for"):
                search(record, wrong)
        with pytest.raises(UserError, match="1 to 1000"):
            units(record, limit=0)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"serial": "  "}, "serial: is missing"),
        ({"serial": "x" * 81}, "longer than 80"),
        ({"tester": "a\x1b[31m"}, "cannot be printed"),
        ({"note": "\ud800"}, "cannot be printed"),
        ({"tested_at": "yesterday"}, "not a date and time"),
        ({"tested_at": "2031-01-01"}, "future"),
        ({"model_sha256": "xyz"}, "SHA-256"),
        ({"readings": (BenchReading(quantity="manifold_presure", value=1.0),)}, "did you mean manifold_pressure"),
        ({"readings": (BenchReading(quantity="oxygen", value=float("nan")),)}, "finite"),
        ({"readings": (BenchReading(quantity="oxygen", value=0.1, standard_uncertainty=-1.0),)}, "not be below 0"),
        ({"readings": (BenchReading(quantity="oxygen", value=0.1, instrument="A1"),)}, "not among the instruments"),
        ({"results": (Result(quantity="deviation", value=0.0, low=0.1, high=-0.1),)}, "lower end"),
        ({"results": (Result(quantity="deviation", value=0.0, verdict="passed"),)}, "not one of its answers"),
        ({"results": (Result(quantity="deviation", value=0.0),) * 2}, "given twice"),
        ({"observations": (Observation(name="lifting", answer="no"),)}, "did you mean lift"),
        ({"observations": (Observation(name="lift", answer="maybe"),)}, "yes, no, not seen"),  # type: ignore[arg-type]
        ({"observations": (Observation(name="lift", answer="no"),) * 2}, "answered twice"),
        ({"instruments": (BenchInstrument(name="M", calibrated_on="2024-05-01", due_on="2024-01-01"),)},
         "due before it"),
        ({"instruments": (BenchInstrument(name="M3", due_on="1 May"),)}, "not a date"),
        ({"readings": (BenchReading(quantity="oxygen", value=0.1),) * 501}, "more than 500"),
    ],
)  # fmt: skip
def test_what_the_record_does_not_take(path: Path, change: dict[str, object], words: str) -> None:
    with open_record(path) as record:
        with pytest.raises(UserError, match=words):
            add_test(record, a_test(**{"instruments": (), "readings": (), **change}))
        assert summary(record).tests == 0


def test_every_complaint_is_told_at_once(path: Path) -> None:
    with open_record(path) as record, pytest.raises(UserError) as caught:
        add_test(
            record,
            BenchTest(serial="", model="", tester="", observations=(Observation(name="x", answer="no"),)),
        )
    assert len(caught.value.problems) == 4


def test_a_unit_is_the_same_in_small_and_capital_letters(tmp_path: Path) -> None:
    """A phone begins with a small letter: the entry is of the unit of the record, whatever asks for it."""
    with open_record(tmp_path / "bench.sqlite") as record:
        first = add_test(record, a_test("RG5-0001"))
        second = add_test(record, a_test("rg5-0001", tested_at="2024-11-25T10:15:00Z"))
        assert (second.serial, second.sha256 != first.sha256) == ("RG5-0001", True)
        assert [one.uid for one in history(record, "Rg5-0001")] == [second.uid, first.uid]
        assert latest(record, "rg5-0001") == second
        assert summary(record).units == 1
        third = correct(record, second.uid, a_test("RG6-1"), "of another unit")
        assert third.serial == "RG6-1"
        fourth = correct(record, third.uid, a_test("Rg6-1"), "as on the plate")
        assert fourth.serial == "Rg6-1"  # of a unit with no other entry
