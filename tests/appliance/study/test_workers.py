"""Workers of a sweep: none outlives a killed parent; a lost cluster ends in words, with every finished chunk kept."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import Any

import psutil
import pytest

from burnerlab.appliance.project.project_file import demonstration_path
from burnerlab.appliance.study import workers
from burnerlab.appliance.study.design import Study, read_study
from burnerlab.appliance.study.sweep import Encoded, encoded_chunk, sweep
from burnerlab.appliance.study.workers import cluster_executor
from burnerlab.quantity import UserError

pytestmark = pytest.mark.filterwarnings("ignore")  # of the cluster's library

CASES, CHUNK = 48, 4
LONGEST_s = 120.0  # for a process to start or to end on a busy machine


def study_file(folder: Path, cases: int) -> Path:
    """A study that goes case by case."""
    shutil.copy(demonstration_path(), folder / "cart.toml")
    path = folder / "study.toml"
    path.write_text(
        '[study]\nappliance = "cart.toml"\nto = "propane"\noutputs = ["burner.*.rate_net_W"]\n'
        f'[[vary]]\nparameter = "target.pressure"\nfrom = "9 in w.c."\nto = "12 in w.c."\nsteps = {cases}\n',
        encoding="utf-8",
    )
    return path


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return study_file(tmp_path, CASES)


def wait_until(holds: Callable[[], bool]) -> None:
    end = time.monotonic() + LONGEST_s
    while not holds():
        assert time.monotonic() < end
        time.sleep(0.05)


def command(*words: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", *words], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )


class StoppedError(Exception):
    pass


@pytest.mark.parametrize("name", ["SIGKILL", "SIGTERM"])
def test_no_worker_outlives_a_killed_sweep_and_its_chunks_are_kept(tmp_path: Path, name: str) -> None:
    file, out = study_file(tmp_path, 100_000), tmp_path / "out.csv"
    parent = command("burnerlab", "sweep", str(file), "--out", str(out), "--workers", "2", "--chunk", "5")
    parts = tmp_path / "out.csv.parts"
    wait_until(lambda: len(list(parts.glob("chunk-*.csv"))) > 1)
    family = psutil.Process(parent.pid).children(recursive=True)
    assert len(family) >= 2
    parent.send_signal(getattr(signal, name))
    parent.wait(LONGEST_s)
    assert not psutil.wait_procs(family, timeout=LONGEST_s)[1]
    kept = len(list(parts.glob("chunk-*.csv")))
    counts: list[int] = []

    def stop(done: int, _: int) -> None:
        counts.append(done)
        raise StoppedError

    with ThreadPoolExecutor(1) as thread, pytest.raises(StoppedError):
        sweep(read_study(file), out, executor=thread, chunk=5, progress=stop)
    assert counts == [5 * (kept + 1)]


@dataclass
class Cluster:
    """A scheduler and its workers, each a process that nothing starts again but ``alive``."""

    folder: Path
    processes: ExitStack
    scheduler: subprocess.Popen[bytes] | None = None
    address: str = ""
    workers: list[subprocess.Popen[bytes]] = field(default_factory=list)

    def alive(self, count: int) -> Cluster:
        """The cluster with its scheduler and so many workers: what was lost before is started anew."""
        if self.scheduler is None or self.scheduler.poll() is not None:
            self.processes.close()
            self.workers.clear()
            self.note.unlink(missing_ok=True)
            self.scheduler = self._start("scheduler", "--host", "127.0.0.1", "--port", "0")
            wait_until(self.note.exists)
            self.address = json.loads(self.note.read_text(encoding="utf-8"))["address"]
        self.workers = [each for each in self.workers if each.poll() is None]
        while len(self.workers) < count:
            self.workers.append(
                self._start("worker", "--nthreads", "1", "--no-nanny", "--death-timeout", "60")
            )
        return self

    @property
    def note(self) -> Path:
        return self.folder / "scheduler.json"

    def _start(self, kind: str, *words: str) -> subprocess.Popen[bytes]:
        process = command(
            f"distributed.cli.dask_{kind}", *words, "--scheduler-file", str(self.note), "--no-dashboard"
        )
        self.processes.callback(process.wait, LONGEST_s)
        self.processes.callback(process.kill)
        return process


@pytest.fixture(scope="module")
def cluster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    """One for all tests, since its processes take long to start; its workers can import ``dies_at``."""
    with ExitStack() as processes, pytest.MonkeyPatch.context() as patch:
        patch.setenv("PYTHONPATH", os.pathsep.join((str(Path(__file__).parent), *sys.path)))
        yield Cluster(tmp_path_factory.mktemp("cluster"), processes)


def test_a_frozen_scheduler_is_said_with_what_is_waited_for_and_the_sweep_goes_on_with_it(
    file: Path, monkeypatch: pytest.MonkeyPatch, cluster: Cluster
) -> None:
    """SIGSTOP leaves the connection open and every question without an answer.

    What was computed or answered before the stop may arrive after it: the chunk waited for is the first that is not
    there when the sentence comes, and the scheduler goes on with the first sentence that knows of its silence. A busy
    machine may be silent once more after it.
    """
    monkeypatch.setattr(workers, "PATIENCE_s", LONGEST_s)
    for name, value in (("LOOK_s", 0.1), ("ANSWER_s", 0.2)):
        monkeypatch.setattr(workers, name, value)
    notices: list[str] = []
    waited_for: list[int] = []
    out = file.with_name("out.csv")
    with cluster_executor(cluster.alive(1).address) as executor:
        scheduler = cluster.scheduler
        assert scheduler is not None

        def freeze(done: int, _: int) -> None:
            if done == 2 * CHUNK:
                monkeypatch.setattr("burnerlab.appliance.study.sweep.SILENCE_s", 1.0)
                scheduler.send_signal(signal.SIGSTOP)

        def thaw(words: str) -> None:
            notices.append(words)
            here = {int(one.stem.split("-")[1]) for one in out.with_name("out.csv.parts").glob("chunk-*.csv")}
            waited_for.append(next(start for start in range(0, CASES, CHUNK) if start not in here))
            if "has not answered" in words or len(notices) > LONGEST_s:
                scheduler.send_signal(signal.SIGCONT)

        found = sweep(
            read_study(file),
            out,
            executor=executor,
            chunk=CHUNK,
            progress=freeze,
            notice=thaw,
        )
    assert (found.cases, found.failed) == (CASES, 0)
    for words, start in zip(notices, waited_for, strict=True):
        assert f"waiting for cases {start + 1} to {start + CHUNK};" in words
        assert "Ctrl-C ends the sweep, finished cases are kept" in words
    assert any(f"the scheduler {cluster.address} has not answered" in words for words in notices)


def dies_at(fatal: tuple[int, ...], study: Study, start: int, stop: int, kind: str) -> Encoded:
    if start in fatal:
        os.kill(os.getpid(), signal.SIGKILL)
    return encoded_chunk(study, start, stop, kind)


def test_a_chunk_that_kills_workers_of_a_cluster_is_set_aside_and_the_others_are_kept(
    file: Path, monkeypatch: pytest.MonkeyPatch, cluster: Cluster
) -> None:
    study, out = read_study(file), file.with_name("out.csv")
    monkeypatch.setattr(workers, "PATIENCE_s", LONGEST_s)
    monkeypatch.setattr("burnerlab.appliance.study.sweep.encoded_chunk", partial(dies_at, (8,)))
    cluster.alive(3)  # one dies among others, one with the chunk alone
    with (
        allowed_failures(cluster.address, 0),
        cluster_executor(cluster.address) as executor,
        pytest.raises(UserError, match="died twice at cases 9 to 12"),
    ):
        sweep(study, out, executor=executor, chunk=CHUNK)
    monkeypatch.undo()
    assert sweep(study, out, workers=1, chunk=CHUNK).resumed == CASES - CHUNK


@contextmanager
def allowed_failures(address: str, count: int) -> Iterator[None]:
    """How many more workers a piece of work may kill before the scheduler gives it back."""
    from distributed import Client

    with Client(address) as client:

        def change(count: int, dask_scheduler: Any) -> int:
            before = int(dask_scheduler.allowed_failures)
            dask_scheduler.allowed_failures = count
            return before

        before = client.run_on_scheduler(change, count)
        yield
        client.run_on_scheduler(change, before)


def test_processes_set_aside_each_chunk_that_kills_them(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    study, out = read_study(file), file.with_name("out.csv")
    monkeypatch.setattr("burnerlab.appliance.study.sweep.encoded_chunk", partial(dies_at, (8, 32)))
    with pytest.raises(UserError, match="died twice at cases 9 to 12, 33 to 36"):
        sweep(study, out, workers=2, chunk=CHUNK)
    monkeypatch.undo()
    assert sweep(study, out, workers=1, chunk=CHUNK).resumed == CASES - 2 * CHUNK


def test_a_cluster_that_cannot_import_the_work_is_said_in_words(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, cluster: Cluster
) -> None:
    """As where burnerlab is not installed: the function of a chunk is known here alone."""
    (tmp_path / "known_here.py").write_text("def chunk(*_):\n    return None\n", encoding="utf-8")
    study = read_study(file)
    with cluster_executor(cluster.alive(1).address) as executor:
        monkeypatch.syspath_prepend(str(tmp_path))
        monkeypatch.setattr(
            "burnerlab.appliance.study.sweep.encoded_chunk", import_module("known_here").chunk
        )
        with pytest.raises(UserError, match="same version of burnerlab"):
            sweep(study, tmp_path / "out.csv", executor=executor, chunk=CHUNK)


@pytest.mark.parametrize(
    ("lost", "words"), [("worker", "no worker for"), ("scheduler", "connection to the scheduler")]
)
def test_a_lost_cluster_ends_in_words_and_the_sweep_goes_on_without_it(
    file: Path, monkeypatch: pytest.MonkeyPatch, cluster: Cluster, lost: str, words: str
) -> None:
    monkeypatch.setattr(workers, "PATIENCE_s", LONGEST_s)  # the worker has to start as well
    monkeypatch.setattr(workers, "LOOK_s", 0.25)
    study, out = read_study(file), file.with_name("out.csv")
    with cluster_executor(cluster.alive(1).address) as executor:
        assert cluster.scheduler is not None
        killed = [cluster.scheduler] if lost == "scheduler" else cluster.workers

        def kill(done: int, _: int) -> None:
            if done >= 2 * CHUNK:
                for process in killed:
                    process.kill()
                monkeypatch.setattr(workers, "PATIENCE_s", 1.0)

        with pytest.raises(UserError, match=words) as caught:
            sweep(study, out, executor=executor, chunk=CHUNK, progress=kill)
    (problem,) = caught.value.problems
    assert (problem.key, problem.value) == ("--cluster", cluster.address)
    assert "what is finished is kept" in problem.fix
    found = sweep(study, out, workers=1, chunk=CHUNK)
    assert 2 * CHUNK <= found.resumed < study.count
    assert (found.cases, found.failed) == (CASES, 0)
