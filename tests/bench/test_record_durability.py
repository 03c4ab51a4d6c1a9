"""Nothing acknowledged is lost: writers killed at random moments, and many writers at once."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from burnerlab.bench.record import check, open_record, summary

ROOT = Path(__file__).parents[2]
TRIALS = 200
WRITERS, ENTRIES = 8, 500
LONGEST_LIFE_s = 0.1

# forks a writer per trial, so that a trial costs milliseconds; each prints a uid once it is acknowledged
KILLED = """
import os, random, signal, sys, time
from pathlib import Path
from burnerlab.bench.record import BenchTest, Observation, Reading, add_test, open_record
path, trials, longest = Path(sys.argv[1]), int(sys.argv[2]), float(sys.argv[3])
moments = random.Random(20)
for trial in range(trials):
    ready, told = os.pipe()
    child = os.fork()
    if child == 0:
        os.write(told, b"x")
        with open_record(path) as record:
            number = 0
            while True:
                made = add_test(record, BenchTest(
                    serial=f"T{trial}-{number}", model="range", tester="t", note="n" * moments.randrange(1, 1500),
                    readings=(Reading(quantity="oxygen", value=0.05),) * moments.randrange(1, 30),
                    observations=(Observation(name="lift", answer="no"),)))
                os.write(1, made.uid.encode() + b"\\n")
                number += 1
    os.read(ready, 1)
    os.close(ready); os.close(told)
    time.sleep(moments.uniform(0.0, longest))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
"""

# forks one that makes a new file per trial, and kills it while it does so
KILLED_AT_FIRST = """
import os, random, signal, sys, time
from pathlib import Path
from burnerlab.bench.record import open_record
folder, moments = Path(sys.argv[1]), random.Random(3)
for trial in range(int(sys.argv[2])):
    ready, told = os.pipe()
    child = os.fork()
    if child == 0:
        os.write(told, b"x")
        open_record(folder / f"bench{trial}.sqlite")
        time.sleep(10)
    os.read(ready, 1)
    os.close(ready); os.close(told)
    time.sleep(moments.uniform(0.0, 0.02))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
"""

WRITER = """
import sys
from pathlib import Path
from burnerlab.bench.record import BenchTest, Result, add_test, open_record
path, name, count = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
with open_record(path) as record:
    for number in range(count):
        add_test(record, BenchTest(serial=f"{name}-{number}", model="range", tester=name,
                                   results=(Result(quantity="deviation", value=number / 1e4),)))
print("done")
"""


def environment() -> dict[str, str]:
    return os.environ | {"PYTHONPATH": str(ROOT)}


@pytest.mark.slow
def test_what_was_acknowledged_survives_kill_at_any_moment(tmp_path: Path) -> None:
    path = tmp_path / "bench.sqlite"
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(path), str(TRIALS), str(LONGEST_LIFE_s)],
        capture_output=True,
        text=True,
        env=environment(),
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    acknowledged = [line for line in done.stdout.splitlines() if len(line) == 32]
    with open_record(path) as record:
        held = {row[0] for row in record.connection.execute("SELECT uid FROM tests")}
        report = check(record)
    assert not set(acknowledged) - held
    assert len(acknowledged) > TRIALS // 4  # the writers did write, on a slow machine too
    assert report.is_whole, report.faults
    assert report.tests == len(held)
    # at most the one entry in flight at each kill was recorded without its acknowledgement
    assert len(held) - len(acknowledged) <= TRIALS


def test_a_killed_first_opening_leaves_a_file_that_opens(tmp_path: Path) -> None:
    """A kill while the file is being made: the next one to open it finds nothing or everything of its schema."""
    trials = 30
    command = [sys.executable, "-c", KILLED_AT_FIRST, str(tmp_path), str(trials)]
    done = subprocess.run(command, capture_output=True, text=True, env=environment(), timeout=60, check=False)
    assert done.returncode == 0, done.stderr
    for trial in range(trials):
        with open_record(tmp_path / f"bench{trial}.sqlite") as record:
            assert check(record).is_whole


@pytest.mark.slow
def test_eight_writers_at_once_keep_every_entry(tmp_path: Path) -> None:
    path = tmp_path / "bench.sqlite"
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path), f"W{n}", str(ENTRIES)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=environment(),
        )
        for n in range(WRITERS)
    ]
    told = [writer.communicate(timeout=180) for writer in writers]
    assert [out.strip() for out, _ in told] == ["done"] * WRITERS, "\n".join(err for _, err in told)
    with open_record(path) as record:
        assert summary(record).tests == WRITERS * ENTRIES == summary(record).units
        report = check(record)
        per_writer = record.connection.execute(
            "SELECT tester, count(*) FROM tests GROUP BY tester"
        ).fetchall()
    assert report.is_whole, report.faults
    assert dict(per_writer) == {f"W{n}": ENTRIES for n in range(WRITERS)}
