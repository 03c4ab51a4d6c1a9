"""Nothing acknowledged is lost: writers killed at random moments, and many writers at once."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from burnerlab.bench.record import all_releases, check, open_record, open_stops, summary

ROOT = Path(__file__).parents[3]
TRIALS = int(os.environ.get("BURNERLAB_KILLS", "50"))
WRITERS, ENTRIES = 8, 100
LONGEST_LIFE_s = 0.1

# forks a writer per trial, so that a trial costs milliseconds; each prints a uid once it is acknowledged, and is killed
# after a processor time of its own, so that it has written on a busy machine too
KILLED = """
import os, random, signal, sys, time
from pathlib import Path
from burnerlab.bench.record import BeforeLighting, BenchReading, BenchTest, Observation, add_test, open_record, release
BY = dict(name="K. Moss", qualification="gas engineer", cause="nut loose",
    repair="tightened", joints_searched="fluid", gas_at_joints="no", test_pressure_start="11 in w.c.",
    test_pressure_end="11 in w.c.", test_minutes="10", meter_dial="1 ft3",
    meter_minutes="10", meter_moved="no", stop_began="2024-11-25 08:10")
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
                smell = "yes" if number % 3 == 1 else "no"
                made = add_test(record, BenchTest(
                    serial=f"T{trial}-{number}", model="range", tester="t", note="n" * moments.randrange(1, 1500),
                    readings=(BenchReading(quantity="oxygen", value=0.05),) * moments.randrange(1, 30),
                    observations=(Observation(name="odour", answer=smell),),
                    before_lighting=BeforeLighting(supply_label="propane", place=f"line {trial}")))
                os.write(1, made.uid.encode() + b"\\n")
                if smell == "yes":
                    ended = release(record, made.uid, **BY)
                    os.write(1, b"release " + ended.uid.encode() + b" of " + made.uid.encode() + b"\\n")
                number += 1
    os.read(ready, 1)
    os.close(ready); os.close(told)
    life, spent = moments.uniform(0.0, longest), Path(f"/proc/{child}/schedstat")
    while int(spent.read_text().split()[0]) < 1e9 * life:
        time.sleep(0.001)
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

# forks a process per writer once the library is loaded; each opens the record itself
WRITING = """
import os, sys
from pathlib import Path
from burnerlab.bench.record import BenchTest, Result, add_test, open_record
path, writers, count = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
def write(name):
    with open_record(path) as record:
        for number in range(count):
            add_test(record, BenchTest(serial=f"{name}-{number}", model="range", tester=name,
                                       results=(Result(quantity="deviation", value=number / 1e4),)))
    os.write(1, b"done\\n")
children = []
for writer in range(writers):
    child = os.fork()
    if child == 0:
        write(f"W{writer}")
        os._exit(0)
    children.append(child)
for child in children:
    os.waitpid(child, 0)
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
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    acknowledged = [line for line in lines if len(line) == 32]
    ended = {
        line.split()[1]: line.split()[3] for line in lines if line.startswith("release ") and len(line) == 76
    }
    with open_record(path) as record:
        held = {row[0] for row in record.connection.execute("SELECT uid FROM tests")}
        releases = {one.uid: one.release.stops for one in all_releases(record)}
        stand = {one.entry for one in open_stops(record)}
        report = check(record)
    assert not set(acknowledged) - held
    assert not set(ended) - set(releases)
    assert all(releases[uid] == (f"{entry}-odour",) for uid, entry in ended.items())
    assert not stand & set(ended.values())
    assert len(ended) > TRIALS // 8
    assert report.releases == len(releases)
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
    command = [sys.executable, "-c", WRITING, str(path), str(WRITERS), str(ENTRIES)]
    done = subprocess.run(
        command, capture_output=True, text=True, env=environment(), timeout=180, check=False
    )
    assert done.stdout.splitlines() == ["done"] * WRITERS, done.stderr
    with open_record(path) as record:
        assert summary(record).tests == WRITERS * ENTRIES == summary(record).units
        report = check(record)
        per_writer = record.connection.execute(
            "SELECT tester, count(*) FROM tests GROUP BY tester"
        ).fetchall()
    assert report.is_whole, report.faults
    assert dict(per_writer) == {f"W{n}": ENTRIES for n in range(WRITERS)}
