"""Nothing half made: what a missing file, a full disk, a looping view or a network leaves behind, and says."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from record_samples import a_kit, a_stopped_test, a_test

from burnerlab.bench.record import add_kit_check, add_test, check, database, exported, open_record, summary
from burnerlab.bench.record.database import NETWORK, check_mount, mount_of, mounts
from burnerlab.cli import main
from burnerlab.quantity import UserError

UNIT = ("--serial", "C-0001", "--model", "market cart range", "--tester", "R. Quill")
ENDLESS = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n)"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    file = tmp_path / "bench.sqlite"
    with open_record(file) as record:
        add_test(record, a_test())
        add_test(record, a_stopped_test("C-0002"))
        add_kit_check(record, a_kit())
    return file


def run(*args: str, file: Path) -> Result:
    return CliRunner().invoke(main, ("record", *args, "--file", str(file)))


@pytest.mark.parametrize("source", ["gone.json", "altered.json", "text.csv", "gone.txt"])
def test_an_import_that_takes_nothing_leaves_nothing(path: Path, tmp_path: Path, source: str) -> None:
    with open_record(path) as record:
        whole = exported(record, "json").decode()
    (tmp_path / "altered.json").write_text(whole.replace("R. Quill", "R. Quail"))
    (tmp_path / "text.csv").write_text("shopping, list\n")
    target = tmp_path / "target" / "bench.sqlite"
    target.parent.mkdir()
    done = run("import", str(tmp_path / source), file=target)
    assert done.exit_code == 2
    assert list(target.parent.iterdir()) == []


def filled(disk: Path, left: int = 0) -> None:
    """The disk full but for so many bytes."""
    ballast = os.open(disk / "ballast", os.O_WRONLY | os.O_CREAT)
    size = 0
    with suppress(OSError):
        while True:
            size += os.write(ballast, b"\0" * 4096)
    os.ftruncate(ballast, max(size - left, 0))
    os.close(ballast)


@pytest.mark.parametrize("left", [0, 8192, 40_960])
def test_a_record_made_on_a_full_disk_is_not_there(small_disk: Path, left: int) -> None:
    filled(small_disk, left)
    target = small_disk / "bench.sqlite"
    done = run("add", *UNIT, file=target)
    assert done.exit_code == 2, done.stderr
    assert "disk" in done.stderr
    assert [one.name for one in small_disk.iterdir()] == ["ballast"]


@pytest.mark.parametrize("ending", ["json", "csv"])
def test_an_export_to_a_full_disk_says_so_and_leaves_nothing(
    path: Path, small_disk: Path, ending: str
) -> None:
    filled(small_disk)
    done = run("export", "--out", str(small_disk / f"out.{ending}"), file=path)
    assert done.exit_code == 2
    assert "the disk is full: nothing was written" in done.stderr
    assert [one.name for one in small_disk.iterdir()] == ["ballast"]


# forks four once the library is loaded, so that they come to the file together; each opens it itself
MAKERS = """
import os, sys
from burnerlab.bench.record import BenchTest, add_test, open_record
def make(serial):
    with open_record(sys.argv[1]) as record:
        add_test(record, BenchTest(serial=serial, model="m", tester="t"))
go, waiting = os.pipe()
children = []
for n in range(4):
    child = os.fork()
    if child == 0:
        status = 1
        try:
            os.close(waiting)
            os.read(go, 1)
            make(f"C-{n}")
            status = 0
        finally:
            os._exit(status)
    children.append(child)
os.close(waiting)
sys.exit(any(os.waitpid(child, 0)[1] for child in children))
"""


def test_programs_that_make_one_record_at_once_share_it(tmp_path: Path) -> None:
    """Each makes a file beside the name; one gets the name, and no entry of another is lost with the rest."""
    file = tmp_path / "bench.sqlite"
    done = subprocess.run([sys.executable, "-c", MAKERS, str(file)], timeout=60, check=False)
    assert done.returncode == 0
    with open_record(file) as record:
        assert summary(record).tests == 4
        assert check(record).is_whole
    assert [one.name for one in tmp_path.iterdir() if one.name.startswith(".making")] == []


def by_another_program(path: Path, *statements: str) -> None:
    with sqlite3.connect(path) as other:
        for statement in statements:
            other.execute(statement)
    other.close()


@pytest.mark.parametrize("table", ["tests", "results", "kit_checks", "stops", "released_stops"])
def test_a_table_that_became_an_endless_view_is_refused_at_once(path: Path, table: str) -> None:
    by_another_program(
        path,
        f"ALTER TABLE {table} RENAME TO {table}_before",
        f"CREATE VIEW {table} AS {ENDLESS} SELECT i AS id, 'x' AS uid, 'x' AS serial, 'x' AS model FROM n",
    )
    began = time.monotonic()
    for command in (("check",), ("list",), ("stops",), ("export", "--out", str(path.with_name("o.json")))):
        done = run(*command, file=path)
        assert done.exit_code == 2
        assert f"{table} is no table in it" in done.stderr
    assert time.monotonic() - began < 20.0
    assert not path.with_name("o.json").exists()


def test_a_view_beside_the_tables_is_named_and_hinders_nothing(path: Path) -> None:
    by_another_program(path, f"CREATE VIEW endless AS {ENDLESS} SELECT i FROM n")
    checked = run("check", file=path)
    assert checked.exit_code == 1
    assert "not of the record: endless" in checked.output
    assert run("list", file=path).exit_code == 0
    assert run("export", "--out", str(path.with_name("o.csv")), file=path).exit_code == 0


def test_a_question_that_never_ends_is_stopped_in_words(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    by_another_program(
        path,
        "CREATE TABLE sink (i INTEGER)",
        f"CREATE TRIGGER loop AFTER INSERT ON tests BEGIN INSERT INTO sink {ENDLESS} SELECT i FROM n WHERE i < 0; END",
    )
    monkeypatch.setattr(database, "LONGEST_s", 0.3)
    with open_record(path) as record:
        before = summary(record)
        with pytest.raises(UserError, match="did not end within"):
            add_test(record, a_test("C-0003"))
        assert summary(record) == before
    assert "not of the record: loop" in run("check", file=path).output


def test_time_in_which_rows_are_used_does_not_count(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(database, "LONGEST_s", 0.6)
    monkeypatch.setattr(database, "LONGEST_STEP_s", 0.002)
    with open_record(path, readonly=True) as record:
        rows = record.connection.execute(f"{ENDLESS} SELECT i FROM n LIMIT 400000")
        for number, _ in enumerate(rows):
            if number % 100_000 == 0:
                time.sleep(0.2)
        assert number == 399_999


TABLE = r"""22 1 8:1 / / rw,relatime - ext4 /dev/sda1 rw
40 22 0:50 / /mnt/works\040share rw,relatime shared:9 - cifs //server/tests rw
41 22 0:51 / /mnt/nas rw - nfs4 nas:/tests rw
42 41 0:52 / /mnt/nas/scratch rw - ext4 /dev/sdb1 rw
43 22 0:53 / /home/quill/bench rw,nosuid - fuse.sshfs quill@server: rw
44 22 0:54 / /mnt/host rw - 9p drive rw
no line of a table
"""


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/home/quill/bench.sqlite", "ext4"),
        ("/mnt/works share/bench.sqlite", "cifs"),
        ("/mnt/nas/line 2/bench.sqlite", "nfs4"),
        ("/mnt/nas/scratch/bench.sqlite", "ext4"),
        ("/mnt/nasty/bench.sqlite", "ext4"),
        ("/home/quill/bench/a.sqlite", "fuse.sshfs"),
        ("/mnt/host/a.sqlite", "9p"),
    ],
)
def test_a_network_file_system_is_recognised_and_refused(path: str, kind: str) -> None:
    found = mount_of(Path(path), TABLE)
    assert found is not None
    assert found.kind == kind
    if kind not in NETWORK:
        check_mount(Path(path), TABLE)
        return
    with pytest.raises(UserError, match=rf"network file system \({kind} at .*many phones") as refused:
        check_mount(Path(path), TABLE)
    assert "burnerlab bench" in str(refused.value)


def test_the_record_asks_the_table_of_mounts_of_this_machine(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = tmp_path / "mountinfo"
    table.write_text(f"1 0 8:1 / / rw - ext4 /dev/sda1 rw\n2 1 0:9 / {tmp_path} rw - nfs4 nas:/tests rw\n")
    monkeypatch.setattr("burnerlab.bench.record.database.MOUNTS", table)
    for args in (("add", *UNIT), ("list",), ("check",)):
        done = run(*args, file=tmp_path / "bench.sqlite")
        assert done.exit_code == 2
        assert ("network file system" in done.stderr) or args != ("add", *UNIT)
    assert sorted(one.name for one in tmp_path.iterdir()) == ["mountinfo"]
    monkeypatch.setattr("burnerlab.bench.record.database.MOUNTS", tmp_path / "gone")
    assert run("add", *UNIT, file=tmp_path / "bench.sqlite").exit_code == 0  # nothing known, nothing refused
    assert mounts("") == ()
