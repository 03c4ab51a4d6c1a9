"""Run a study: chunks of cases through any executor, stored as they finish, resumed where they stopped.

A chunk is plain data in, plain columns out, so that any ``concurrent.futures.Executor`` runs it and results do not
depend on which one did. What the array form of a conversion takes goes through it; the rest case by case.
"""

from __future__ import annotations

import csv
import json
import shutil
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from burnerlab.appliance.chunk import Columns, run_chunk
from burnerlab.appliance.study import Study
from burnerlab.quantity.error import Problem, UserError

CHUNK = 20_000  # cases: some tens of milliseconds of the array form, a few megabytes
SLOW_CHUNK = 200  # cases of a study that goes case by case
AHEAD = 3  # chunks waiting per worker, so that memory stays bounded
TRIES = 4  # of a chunk whose worker died

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepResult:
    """Where the results of a sweep are, and how many cases failed."""

    file: Path
    cases: int
    failed: int
    resumed: int  # cases found from an earlier run


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
    """
    if out.suffix not in (".parquet", ".csv"):
        raise UserError(Problem("unknown kind of file", str(out), "out", accepted=".parquet, .csv"))
    from burnerlab.appliance.chunk import takes_arrays

    size = chunk or (CHUNK if takes_arrays(study) else SLOW_CHUNK)
    starts = range(0, study.count, size)
    parts = _parts(study, out, size)
    todo = [start for start in starts if not _part(parts, start).exists()]
    resumed = sum(min(size, study.count - start) for start in starts if start not in set(todo))
    done = resumed
    for start, columns in _computed(study, todo, size, executor, workers):
        _store(_part(parts, start), columns)
        done += len(columns["case"])
        if progress is not None:
            progress(done, study.count)
    failed = _join([_part(parts, start) for start in starts], out)
    shutil.rmtree(parts)
    return SweepResult(file=out, cases=study.count, failed=failed, resumed=resumed)


def _parts(study: Study, out: Path, size: int) -> Path:
    """The folder of finished chunks; one left by another study is refused."""
    folder = out.with_name(out.name + ".parts")
    folder.mkdir(parents=True, exist_ok=True)
    mark = {"study": study.fingerprint, "cases": study.count, "chunk": size}
    note = folder / "study.json"
    if note.exists():
        if json.loads(note.read_text(encoding="utf-8")) != mark:
            fix = "give another --out, or remove that folder"
            raise UserError(
                Problem("holds the unfinished results of another study", str(folder), "out", fix=fix)
            )
    else:
        _write_text(note, json.dumps(mark))
    return folder


def _part(folder: Path, start: int) -> Path:
    return folder / f"{start:012d}.json"


def _write_text(path: Path, text: str) -> None:
    """Write so that a file is there whole or not at all."""
    draft = path.with_suffix(".draft")
    draft.write_text(text, encoding="utf-8")
    draft.replace(path)


def _store(path: Path, columns: Columns) -> None:
    _write_text(path, json.dumps(columns, allow_nan=True, separators=(",", ":")))


def _computed(
    study: Study, todo: list[int], size: int, executor: Executor | None, workers: int | None
) -> Iterator[tuple[int, Columns]]:
    if executor is not None:
        yield from _through(executor, study, todo, size, 2 * AHEAD)
        return
    left, tries = list(todo), 0
    while left:
        count = workers or None
        with ProcessPoolExecutor(max_workers=count) as pool:
            ahead = AHEAD * (count or 4)
            try:
                for start, columns in _through(pool, study, left, size, ahead):
                    left = [other for other in left if other != start]
                    yield start, columns
            except BrokenProcessPool:
                tries += 1
                if tries >= TRIES:
                    what = "workers died again and again"
                    raise UserError(
                        Problem(what, key="sweep", fix="run it again: finished chunks are kept")
                    ) from None


def _through(
    executor: Executor, study: Study, todo: list[int], size: int, ahead: int
) -> Iterator[tuple[int, Columns]]:
    """Chunks as they finish, with a bounded number under way."""
    waiting = iter(list(todo))
    running: dict[Future[Columns], int] = {}
    while True:
        for start in waiting:
            stop = min(start + size, study.count)
            running[executor.submit(run_chunk, study, start, stop)] = start
            if len(running) >= ahead:
                break
        if not running:
            return
        finished, _ = wait(running, return_when=FIRST_COMPLETED)
        for future in finished:
            yield running.pop(future), future.result()


def _join(parts: list[Path], out: Path) -> int:
    """One file from the chunks, in order of the cases; returns how many cases failed."""
    out.parent.mkdir(parents=True, exist_ok=True)
    draft = out.with_name(out.name + ".draft")
    failed = (_join_parquet if out.suffix == ".parquet" else _join_csv)(parts, draft)
    draft.replace(out)
    return failed


def _read(path: Path) -> Mapping[str, list[Any]]:
    found: Mapping[str, list[Any]] = json.loads(path.read_text(encoding="utf-8"))
    return found


def _join_csv(parts: list[Path], out: Path) -> int:
    failed = 0
    with out.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        for number, path in enumerate(parts):
            columns = _read(path)
            if number == 0:
                writer.writerow(columns)
            writer.writerows(zip(*columns.values(), strict=True))
            failed += sum(1 for error in columns["error"] if error)
    return failed


def _join_parquet(parts: list[Path], out: Path) -> int:
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError:
        fix = 'pip install "burnerlab[sweep]", or write .csv'
        raise UserError(Problem("Parquet needs pyarrow", key="out", fix=fix)) from None
    failed, writer = 0, None
    try:
        for path in parts:
            columns = _read(path)
            table = pa.table({name: pa.array(values, _kind(pa, values)) for name, values in columns.items()})
            writer = writer or pq.ParquetWriter(out, table.schema)
            writer.write_table(table.cast(writer.schema))
            failed += sum(1 for error in columns["error"] if error)
    finally:
        if writer is not None:
            writer.close()
    return failed


def _kind(pa: Any, values: list[Any]) -> Any:
    first = next((value for value in values if value is not None), None)
    if isinstance(first, str):
        return pa.string()
    return pa.bool_() if isinstance(first, bool) else pa.int64() if isinstance(first, int) else pa.float64()
