"""Run a study: chunks of cases through any executor, stored as they finish, resumed where they stopped.

A chunk is plain data in and the bytes of its rows out, so that any ``concurrent.futures.Executor`` runs it, results
do not depend on which one did, and the process that waits has only files to write. What the array form of a
conversion takes goes through it; the rest case by case.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from pathlib import Path

from burnerlab.appliance.columns import Encoded, encoded_chunk, join, output_columns, require_kind
from burnerlab.appliance.study import Study
from burnerlab.quantity.outputs import output
from burnerlab.tables.problem import Problem, UserError

CHUNK = 20_000  # cases: some tens of milliseconds of the array form, a few megabytes
SLOW_CHUNK = 200  # cases of a study that goes case by case
AHEAD = 3  # chunks waiting per worker, so that memory stays bounded
TRIES = 4  # rounds on end in which a worker died before any chunk was done

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepResult:
    """Where the results of a sweep are, and how many cases failed."""

    file: Path = field(metadata=output("file"))
    cases: int = field(metadata=output("cases"))
    failed: int = field(metadata=output("failed"))
    resumed: int = field(metadata=output("resumed"))
    """Cases found from an earlier run."""


def sweep(
    study: Study,
    out: Path,
    *,
    executor: Executor | None = None,
    workers: int | None = None,
    progress: Progress | None = None,
    chunk: int | None = None,
) -> SweepResult:
    """Every case of a study, written to a Parquet or CSV file.

    study : from ``read_study``; out : file ending in .parquet or .csv
    executor : any ``concurrent.futures.Executor``; None starts ``workers`` local processes
    progress : called with cases done and in all; chunk : cases of one unit of work
    Returns a SweepResult. Raises UserError for an output that cannot be used; a failing case is a row with its error.

    >>> from concurrent.futures import ThreadPoolExecutor
    >>> from tempfile import TemporaryDirectory
    >>> from burnerlab.appliance.demonstration import demonstration_path
    >>> from burnerlab.appliance.study import read_study
    >>> text = f'''[study]
    ... appliance = "{demonstration_path().as_posix()}"
    ... to = "propane"
    ... pressure = "11 in w.c."
    ... design = "grid"
    ... [[vary]]
    ... parameter = "target.altitude"
    ... values = ["0 m", "1500 m"]
    ... '''
    >>> with TemporaryDirectory() as folder, ThreadPoolExecutor(1) as worker:
    ...     file = Path(folder) / "study.toml"
    ...     _ = file.write_text(text, encoding="utf-8")
    ...     found = sweep(read_study(file), Path(folder) / "cases.csv", executor=worker)
    >>> found.cases, found.failed
    (2, 0)
    """
    from burnerlab.appliance.chunk import takes_arrays

    size = chunk or (CHUNK if takes_arrays(study) else SLOW_CHUNK)
    require_kind(out.suffix)
    folder = _parts(study, out, size)
    kept = _finished(folder)
    todo = [start for start in range(0, study.count, size) if start not in kept]
    resumed = study.count - sum(min(size, study.count - start) for start in todo)
    done = resumed
    for start, encoded in _computed(study, todo, size, executor, workers, out.suffix):
        _store(folder, start, encoded)
        done += encoded.cases
        if progress is not None:
            progress(done, study.count)
    finished = _finished(folder)
    join([finished[start].path for start in sorted(finished)], output_columns(study), out)
    shutil.rmtree(folder)
    failed = sum(part.failed for part in finished.values())
    return SweepResult(file=out, cases=study.count, failed=failed, resumed=resumed)


def _parts(study: Study, out: Path, size: int) -> Path:
    """The folder of finished chunks; one left by another study is refused."""
    folder = out.with_name(out.name + ".parts")
    folder.mkdir(parents=True, exist_ok=True)
    mark = {"study": study.fingerprint, "cases": study.count, "chunk": size, "kind": out.suffix}
    note = folder / "study.json"
    if note.exists():
        if json.loads(note.read_text(encoding="utf-8")) != mark:
            fix = "give another --out, or remove that folder"
            raise UserError(
                Problem("holds the unfinished results of another study", str(folder), "out", fix=fix)
            )
    else:
        _write(note, json.dumps(mark).encode())
    return folder


@dataclass(frozen=True, slots=True)
class _Part:
    """A finished chunk on disk; its name says where it starts and how many of its cases failed."""

    path: Path
    failed: int


def _finished(folder: Path) -> dict[int, _Part]:
    parts = (path for path in folder.iterdir() if path.name.startswith("chunk-") and path.suffix != ".draft")
    found = {}
    for path in parts:
        _, start, failed = path.stem.split("-")
        found[int(start)] = _Part(path, int(failed))
    return found


def _write(path: Path, data: bytes) -> None:
    """Write so that a file is there whole or not at all."""
    draft = path.with_name(path.name + ".draft")
    draft.write_bytes(data)
    draft.replace(path)


def _store(folder: Path, start: int, encoded: Encoded) -> None:
    _write(folder / f"chunk-{start:012d}-{encoded.failed}{encoded.kind}", encoded.data)


def _computed(
    study: Study, todo: list[int], size: int, executor: Executor | None, workers: int | None, kind: str
) -> Iterator[tuple[int, Encoded]]:
    if executor is not None:
        yield from _through(executor, study, todo, size, 2 * AHEAD, kind)
        return
    yield from _through_processes(study, todo, size, workers, kind)


def _through_processes(
    study: Study, todo: list[int], size: int, workers: int | None, kind: str
) -> Iterator[tuple[int, Encoded]]:
    """Through local processes; when one dies, what was under way goes last, so that one bad chunk holds up no other."""
    left, tries = list(todo), 0
    while left:
        ahead = 1 if tries > 1 else AHEAD * (workers or 4)  # alone, the chunk that kills is known
        with ProcessPoolExecutor(max_workers=workers or None) as pool:
            try:
                for start, encoded in _through(pool, study, left, size, ahead, kind):
                    left, tries = [other for other in left if other != start], 0
                    yield start, encoded
            except BrokenProcessPool:
                tries += 1
                if tries >= TRIES:
                    stop = min(left[0] + size, study.count)
                    what = f"workers died again and again, last at cases {left[0] + 1} to {stop}"
                    raise UserError(
                        Problem(what, key="sweep", fix="run it again: finished chunks are kept")
                    ) from None
                left = left[ahead:] + left[:ahead]


def _through(
    executor: Executor, study: Study, todo: list[int], size: int, ahead: int, kind: str
) -> Iterator[tuple[int, Encoded]]:
    """Chunks as they finish, with a bounded number under way."""
    waiting = iter(list(todo))
    running: dict[Future[Encoded], int] = {}
    while True:
        for start in waiting:
            stop = min(start + size, study.count)
            running[executor.submit(encoded_chunk, study, start, stop, kind)] = start
            if len(running) >= ahead:
                break
        if not running:
            return
        finished, _ = wait(running, return_when=FIRST_COMPLETED)
        for future in finished:
            yield running.pop(future), future.result()
