"""A record file that is old, new, foreign, read-only, full, damaged or altered: said in words, and nothing lost."""

from __future__ import annotations

import json
import os
import re
import sqlite3
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path

import pytest
from record_samples import a_kit, a_test, tampered

from burnerlab.bench.record import (
    Record,
    TestRecord,
    add_kit_check,
    add_test,
    backup,
    check,
    entry,
    latest,
    open_record,
    summary,
)
from burnerlab.bench.record.checks import checked_test
from burnerlab.bench.record.database import check_sqlite, migrate, schema_of
from burnerlab.bench.record.entry import now
from burnerlab.bench.record.migrations import VERSION
from burnerlab.bench.record.stop_display import state_file, stops_not_recorded
from burnerlab.bench.record.store import insert_test
from burnerlab.bench.stop import stop_notice
from burnerlab.quantity import UserError


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "bench.sqlite"


def test_an_old_sqlite_is_refused() -> None:
    with pytest.raises(UserError, match=r"3\.36\.0 is too old .*3\.37\.0 or newer"):
        check_sqlite((3, 36, 0))


def test_a_newer_schema_is_refused_and_left_alone(path: Path) -> None:
    open_record(path).close()
    with sqlite3.connect(path) as other:
        other.execute(f"PRAGMA user_version = {VERSION + 1}")
    other.close()
    before = path.read_bytes()
    for readonly in (False, True):
        said = rf"newer burnerlab .schema {VERSION + 1}; this one knows up to {VERSION}"
        with pytest.raises(UserError, match=said):
            open_record(path, readonly=readonly)
    assert path.read_bytes() == before


def test_an_older_schema_is_brought_forward_with_its_tests(path: Path) -> None:
    connection = sqlite3.connect(path, isolation_level=None)
    migrate(connection, path, upto=1)
    connection.execute("PRAGMA foreign_keys = ON")
    made = TestRecord(number=0, uid="5" * 32, recorded_at=now(), test=checked_test(a_test()))
    made = insert_test(connection, made)
    connection.close()
    with pytest.raises(UserError, match="older burnerlab"):
        open_record(path, readonly=True)
    with open_record(path) as record:
        assert schema_of(record.connection) == VERSION
        assert latest(record, "C-0001") == made
        add_kit_check(record, a_kit())
        assert check(record).is_whole


def test_a_failed_migration_leaves_the_file_as_it_was(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    connection = sqlite3.connect(path, isolation_level=None)
    migrate(connection, path, upto=1)
    connection.close()
    from burnerlab.bench.record import database

    broken = (database.MIGRATIONS[0], (*database.MIGRATIONS[1][:2], "CREATE TABLE nonsense ("))
    monkeypatch.setattr(database, "MIGRATIONS", broken)
    with pytest.raises(sqlite3.OperationalError):
        open_record(path)
    monkeypatch.undo()
    with sqlite3.connect(path) as other:
        assert schema_of(other) == 1
        assert not other.execute("SELECT 1 FROM sqlite_schema WHERE name = 'kit_checks'").fetchall()
    other.close()


def test_other_files_are_refused(path: Path, tmp_path: Path) -> None:
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE holiday (day TEXT)")
    other.close()
    with pytest.raises(UserError, match="something else"):
        open_record(path)
    text = tmp_path / "text.sqlite"
    text.write_text("serial,model\n" * 100)
    with pytest.raises(UserError, match="not a bench record"):
        open_record(text)
    for wrong, words in (
        (tmp_path, "a folder"),
        (tmp_path / "none" / "a.sqlite", "folder is not there"),
        ("a\0b", "NUL"),
    ):
        with pytest.raises(UserError, match=words):
            open_record(wrong)
    with pytest.raises(UserError, match="no such record"):
        open_record(tmp_path / "gone.sqlite", create=False)
    with pytest.raises(UserError, match="no such record"):
        open_record(tmp_path / "gone.sqlite", readonly=True)
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(UserError, match="device or a pipe"):
        open_record(tmp_path / "pipe")


def test_a_name_is_never_an_address(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for name in (":memory:", "a?mode=memory", "b#c", "file:d?mode=memory", "e%20f"):
        with open_record(name) as record:
            add_test(record, a_test())
        if name.startswith("file:"):
            assert (tmp_path / name).is_file()
        assert (tmp_path / name).is_file(), name
        with open_record(name, readonly=True) as record:
            assert summary(record).tests == 1


@contextmanager
def somebody() -> Iterator[None]:
    """A user without rights of root, to whom a read-only file is one."""
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.fixture
def shop() -> Iterator[Path]:
    """A folder that every user may enter; pytest keeps its own to itself."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o777)
        yield folder
        folder.chmod(0o700)


@pytest.mark.parametrize("folder_mode", [0o777, 0o555])
def test_a_read_only_file_is_read_and_not_written(shop: Path, folder_mode: int) -> None:
    path = shop / "bench.sqlite"
    with open_record(path) as record:
        add_test(record, a_test())
    path.chmod(0o444)
    shop.chmod(folder_mode)
    with somebody():
        with open_record(path, readonly=True) as record:
            assert summary(record).tests == 1
        with (
            pytest.raises(UserError, match=r"may be read but not written|cannot be opened"),
            open_record(path) as record,
        ):
            add_test(record, a_test())
    shop.chmod(0o700)
    with open_record(path, readonly=True) as record:
        assert summary(record).tests == 1


def test_a_reader_cannot_write(path: Path) -> None:
    open_record(path).close()
    with (
        open_record(path, readonly=True) as record,
        pytest.raises(UserError, match="may be read but not written"),
    ):
        add_test(record, a_test())


def fill(record: Record, most: int) -> tuple[list[str], str]:
    """Record until the disk refuses: what was acknowledged, and what was said."""
    acknowledged: list[str] = []
    for number in range(most):
        try:
            acknowledged.append(add_test(record, a_test(f"D-{number:04d}", note="x" * 1500)).uid)
        except UserError as error:
            return acknowledged, str(error)
    return acknowledged, "never full"


def test_full_by_its_own_limit_says_so_and_keeps_what_there_was(path: Path) -> None:
    with open_record(path) as record:
        made = add_test(record, a_test())
        pages = record.connection.execute("PRAGMA page_count").fetchone()[0]
        record.connection.execute(f"PRAGMA max_page_count = {pages}")
        acknowledged, said = fill(record, 200)
        assert "the disk is full: nothing of this entry was kept" in said
        record.connection.execute("PRAGMA max_page_count = 100000")
        assert summary(record).tests == 1 + len(acknowledged)
        assert latest(record, "C-0001") == made
        add_test(record, a_test("E-0001"))
        assert check(record).is_whole


def test_a_disk_that_really_is_full(small_disk: Path) -> None:
    path = small_disk / "bench.sqlite"
    with open_record(path) as record:
        acknowledged, said = fill(record, 5000)
        assert re.search(r"disk (is full|could not be)", said), said
        with pytest.raises(UserError, match=r"disk (is full|could not be)"):
            backup(record, small_disk / "copy.sqlite")
    assert not list(small_disk.glob(".writing-*"))
    with open_record(path, readonly=True) as record:
        report = check(record)
        assert report.is_whole
        assert report.tests == len(acknowledged) > 10
        assert all(entry(record, uid) for uid in acknowledged)


def test_check_finds_what_another_tool_did(path: Path) -> None:
    with open_record(path) as record:
        for n in range(6):
            add_test(record, a_test(f"C-{n:04d}"))
        add_kit_check(record, a_kit())
        assert check(record).is_whole
    for change, words in (
        ("UPDATE results SET value = 0.0 WHERE test_id = 3", "test 3 .* was altered"),
        ("UPDATE kit_checks SET mass_kg = 0.8", "kit check 1 .* was altered"),
        ("DELETE FROM observations WHERE test_id = 2", "test 2 .* was altered"),
    ):
        copy = path.with_name("altered.sqlite")
        tampered(path, copy, change)
        with open_record(copy) as record:
            report = check(record)
            assert not report.is_whole
            found = "\n".join(report.faults)
            assert re.search(words, found), found
            assert "triggers missing" in found  # the trigger that was in the way
        copy.unlink()


def test_check_finds_an_entry_that_was_taken_out(path: Path) -> None:
    with open_record(path) as record:
        for n in range(6):
            add_test(record, a_test(f"C-{n:04d}"))
    copy = path.with_name("shorter.sqlite")
    parts = [
        f"DELETE FROM {table} WHERE test_id = 4"
        for table in ("readings", "results", "observations", "test_instruments")
    ]
    tampered(path, copy, *parts, "DELETE FROM tests WHERE id = 4")
    with open_record(copy) as record:
        assert any("test 5: an entry before it was taken out" in fault for fault in check(record).faults)


def test_check_finds_damaged_pages(path: Path) -> None:
    with open_record(path) as record:
        for n in range(60):
            add_test(record, a_test(f"C-{n:04d}"))
    whole = path.read_bytes()
    for start in range(4096, len(whole) - 4096, 5 * 4096):  # a page here and there
        damaged = bytearray(whole)
        damaged[start : start + 4096] = b"\xa5" * 4096
        path.write_bytes(damaged)
        assert said_by_check(path), f"damage at byte {start} was not found"


def said_by_check(path: Path) -> str:
    """Faults, or the complaint when the file is so damaged that it cannot be opened or walked."""
    try:
        with open_record(path, readonly=True) as record:
            return "\n".join(check(record).faults)
    except UserError as error:
        return "\n".join(problem.text() for problem in error.problems if "damaged" in problem.what)


def test_backup_while_another_writes(path: Path, tmp_path: Path) -> None:
    stop, written = threading.Event(), []

    def write() -> None:
        with open_record(path) as mine:
            while not stop.is_set():
                written.append(add_test(mine, a_test(f"W-{len(written):05d}")).uid)

    open_record(path).close()
    writer = threading.Thread(target=write)
    writer.start()
    try:
        while len(written) < 30:
            pass
        with open_record(path, readonly=True) as record:
            before = len(written)
            made = backup(record, tmp_path / "copy.sqlite")
    finally:
        stop.set()
        writer.join()
    assert before <= made.report.tests <= len(written)
    assert made.report.is_whole
    assert made.size_bytes == made.path.stat().st_size
    with open_record(made.path, readonly=True) as copy:
        assert all(entry(copy, uid) for uid in written[:before])
    assert sorted(p.name for p in tmp_path.iterdir() if not p.name.startswith("bench")) == ["copy.sqlite"]
    with open_record(path) as record, pytest.raises(UserError, match="will not overwrite"):
        backup(record, made.path)
    with open_record(path) as record, pytest.raises(UserError, match="is the record itself"):
        backup(record, path, overwrite=True)
    with open_record(path) as record:
        shown = {
            "notice": asdict(stop_notice("co-alarm", why="answered yes")),
            "form": {"serial": "U-1", "tester": "R. Quill"},
            "has_reason": False,
        }
        state = {"air": {"bench 2": "2026-12-01"}, "stops": [shown]}
        state_file(path).write_text(json.dumps(state), encoding="utf-8")
        assert [one.serial for one in backup(record, made.path, overwrite=True).stops] == ["U-1"]
        assert [one.notice.id for one in stops_not_recorded(made.path)] == ["co-alarm"]
        assert json.loads(state_file(made.path).read_text(encoding="utf-8"))["air"] == {}
        state_file(path).unlink()
        assert backup(record, made.path, overwrite=True).report.tests == len(written)
        assert stops_not_recorded(made.path) == ()
