"""Run a study in chunks, store each as it finishes, resume where it stopped.

A chunk is plain data in and the bytes of its rows out, so that any ``concurrent.futures.Executor`` runs it, results
do not depend on which one did, and the process that waits has only files to write. What the array form of a
conversion takes goes through it; the rest case by case.
"""

from __future__ import annotations

import csv
import io
import json
import shutil
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from burnerlab.appliance.study.cases import Columns, Head, heads, run_chunk
from burnerlab.appliance.study.design import Study
from burnerlab.appliance.study.workers import DEATHS, ClusterExecutor, local_pool
from burnerlab.quantity.outputs import output, plain
from burnerlab.tables.file_replacement import replace_file
from burnerlab.tables.problem import Problem, UserError

# Rows of a sweep as the bytes of a CSV or Parquet file, made where they are computed and joined at the end.

KINDS = (".parquet", ".csv")


@dataclass(frozen=True, slots=True, kw_only=True)
class Encoded:
    """A chunk of rows, ready to be stored."""

    kind: str
    data: bytes
    cases: int
    failed: int


def require_kind(kind: str) -> None:
    """Refuse a kind of file that cannot be written here."""
    if kind not in KINDS:
        raise UserError(Problem("unknown kind of file", kind, "out", accepted=", ".join(KINDS)))
    if kind == ".parquet":
        try:
            import pyarrow.parquet
        except ImportError:
            fix = 'pip install "burnerlab[sweep]", or write .csv'
            raise UserError(Problem("Parquet needs pyarrow", key="out", fix=fix)) from None
        del pyarrow


MOST_ROWS = 1000  # that a document gives; a larger sweep is read from its file


def metric_rows(study: Study, file: Path) -> list[dict[str, Any]] | None:
    """The rows of a finished sweep below metric heads, whatever the units of its file; None for over ``MOST_ROWS``.

    study : that the file is of, with its system; file : as ``sweep`` wrote it
    """
    if study.count > MOST_ROWS:
        return None
    pairs = list(zip(heads(study).values(), heads(replace(study, system="metric")).values(), strict=True))
    metric = {here.key: (here, there) for here, there in pairs}
    return [
        {
            metric[name][1].key if name in metric else name: _metric(value, *metric.get(name, SAME))
            for name, value in one.items()
        }
        for one in _stored_rows(file)
    ]


SAME = (Head(""), Head(""))


def _metric(value: Any, here: Head, there: Head) -> Any:
    if value == "":
        return None
    if here == there or not isinstance(value, float):
        return value
    return plain((value * here.factor + here.offset - there.offset) / there.factor)


def _stored_rows(file: Path) -> list[dict[str, Any]]:
    if file.suffix == ".parquet":
        import pyarrow.parquet as pq

        rows: list[dict[str, Any]] = pq.read_table(file).to_pylist()
        return rows
    with file.open(encoding="utf-8", newline="") as stream:
        return [{name: _typed(text, name) for name, text in one.items()} for one in csv.DictReader(stream)]


def _typed(text: str, name: str) -> Any:
    """A cell of a CSV as the value that was written: a number where it reads as one."""
    if not text:
        return None
    if name == "case":
        return int(text)
    try:
        return float(text)
    except ValueError:
        return text


def output_columns(study: Study) -> list[str]:
    """Heads in order: case, parameters, outputs, error."""
    return list(dict.fromkeys(["case", *(head.key for head in heads(study).values()), "error"]))


def in_files(study: Study, columns: Columns) -> Columns:
    """Columns of a chunk below the heads of files, in their units and to their digits."""
    of, found = heads(study), {}
    for name, values in columns.items():
        head = of.get(name, Head(name))
        found[head.key] = [_in_unit(value, head) for value in values]
    return found


def _in_unit(value: Any, head: Head) -> Any:
    return plain((value - head.offset) / head.factor) if isinstance(value, float) else value


def encoded_chunk(study: Study, start: int, stop: int, kind: str) -> Encoded:
    """Cases ``start`` to ``stop`` of a study as the bytes of their rows; CSV rows are without their heads."""
    columns = in_files(study, run_chunk(study, start, stop))
    data = _parquet(columns) if kind == ".parquet" else _csv(columns)
    failed = sum(1 for error in columns["error"] if error)
    return Encoded(kind=kind, data=data, cases=stop - start, failed=failed)


def _csv(columns: Columns) -> bytes:
    stream = io.StringIO(newline="")
    csv.writer(stream, lineterminator="\n").writerows(zip(*columns.values(), strict=True))
    return stream.getvalue().encode()


def _parquet(columns: Columns) -> bytes:
    import pyarrow as pa
    import pyarrow.parquet as pq

    table = pa.table({name: pa.array(values) for name, values in columns.items()})
    stream = io.BytesIO()
    pq.write_table(table, stream)
    return stream.getvalue()


def join(parts: Sequence[Path], names: Sequence[str], out: Path) -> None:
    """One file from stored chunks, in the order given."""
    out.parent.mkdir(parents=True, exist_ok=True)
    draft = out.with_name(out.name + ".draft")
    if out.suffix == ".parquet":
        _join_parquet(parts, draft)
    else:
        _join_csv(parts, names, draft)
    replace_file(draft, out)


def _join_csv(parts: Sequence[Path], names: Sequence[str], out: Path) -> None:
    heads = io.StringIO(newline="")
    csv.writer(heads, lineterminator="\n").writerow(names)
    with out.open("wb") as stream:
        stream.write(heads.getvalue().encode())
        for path in parts:
            stream.write(path.read_bytes())


def _join_parquet(parts: Sequence[Path], out: Path) -> None:
    """Chunks as row groups; a column that is empty in one chunk takes the type it has in another."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    kinds: dict[str, Any] = {}
    for path in parts:
        for column in pq.read_schema(path):
            if column.name not in kinds or pa.types.is_null(kinds[column.name]):
                kinds[column.name] = column.type
    schema = pa.schema(
        [(name, pa.string() if pa.types.is_null(kind) else kind) for name, kind in kinds.items()]
    )
    with pq.ParquetWriter(out, schema) as writer:
        for path in parts:
            writer.write_table(pq.read_table(path).cast(schema))


# Run a study: chunks of cases through any executor, stored as they finish, resumed where they stopped.

CHUNK = 20_000  # cases: some tens of milliseconds of the array form, a few megabytes
SLOW_CHUNK = 200  # cases of a study that goes case by case
AHEAD = 3  # chunks waiting per worker, so that memory stays bounded
TRIES = 4  # rounds on end without a chunk, and chunks that workers die of, before a sweep gives up

SILENCE_s = 60.0  # without a finished chunk before a word is said, and between words

Progress = Callable[[int, int], None]
Notice = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepResult:
    """Where the results of a sweep are, and how many cases failed."""

    file: Path = field(metadata=output("file"))
    design: str = field(metadata=output("design"))
    """How its cases were chosen: ``list``, ``grid`` or ``random``."""
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
    notice: Notice | None = None,
) -> SweepResult:
    """Every case of a study, written to a Parquet or CSV file.

    study : from ``read_study``; out : file ending in .parquet or .csv
    executor : any ``concurrent.futures.Executor``; None starts ``workers`` local processes
    progress : called with cases done and in all; chunk : cases of one unit of work
    notice : called with a sentence where nothing has finished for ``SILENCE_s``: what is waited for, how to end it
    Returns a SweepResult. Raises UserError for an output that cannot be used; a failing case is a row with its error.

    >>> from concurrent.futures import ThreadPoolExecutor
    >>> from tempfile import TemporaryDirectory
    >>> from burnerlab.appliance.project.project_file import demonstration_path
    >>> from burnerlab.appliance.study.design import read_study
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
    from burnerlab.appliance.study.cases import has_array_outputs

    size = chunk or (CHUNK if has_array_outputs(study) else SLOW_CHUNK)
    require_kind(out.suffix)
    folder = _parts(study, out, size)
    kept = _finished(folder)
    todo = [start for start in range(0, study.count, size) if start not in kept]
    resumed = study.count - sum(min(size, study.count - start) for start in todo)
    done = resumed
    work = _Work(study=study, size=size, kind=out.suffix, notice=notice)
    for start, encoded in _computed(work, todo, executor, workers):
        _store(folder, start, encoded)
        done += encoded.cases
        if progress is not None:
            progress(done, study.count)
    finished = _finished(folder)
    join([finished[start].path for start in sorted(finished)], output_columns(study), out)
    shutil.rmtree(
        folder, ignore_errors=True
    )  # Windows keeps what a scanner reads; a later run resumes from it
    failed = sum(part.failed for part in finished.values())
    return SweepResult(file=out, design=study.design, cases=study.count, failed=failed, resumed=resumed)


def _parts(study: Study, out: Path, size: int) -> Path:
    """The folder of finished chunks; one left by another study is refused."""
    folder = out.with_name(out.name + ".parts")
    folder.mkdir(parents=True, exist_ok=True)
    mark: dict[str, Any] = {
        "study": study.fingerprint,
        "cases": study.count,
        "chunk": size,
        "kind": out.suffix,
    }
    mark |= {"heads": output_columns(study)}  # of the version that wrote the chunks
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
    replace_file(draft, path)


def _store(folder: Path, start: int, encoded: Encoded) -> None:
    _write(folder / f"chunk-{start:012d}-{encoded.failed}{encoded.kind}", encoded.data)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Work:
    """What is cut into chunks, and who has the notice when none finishes."""

    study: Study
    size: int  # cases of a chunk
    kind: str
    notice: Notice | None

    def span(self, start: int) -> str:
        """The cases of a chunk as a person counts them."""
        return f"{start + 1} to {min(start + self.size, self.study.count)}"

    def wait(self, running: Mapping[Future[Encoded], int], executor: Executor) -> set[Future[Encoded]]:
        """The chunks that finished; while none does, a sentence every ``SILENCE_s``."""
        silent_s = 0.0
        while True:
            finished, _ = wait(running, timeout=SILENCE_s, return_when=FIRST_COMPLETED)
            if finished:
                return finished
            silent_s += SILENCE_s
            if self.notice is not None:
                self.notice(self._words(silent_s, min(running.values()), executor))

    def _words(self, silent_s: float, first: int, executor: Executor) -> str:
        state = executor.state() if isinstance(executor, ClusterExecutor) else ""
        return (
            f"nothing has finished for {silent_s:.0f} s: waiting for cases {self.span(first)}"
            f"{f'; {state}' if state else ''}; Ctrl-C ends the sweep, finished cases are kept"
        )


def _computed(
    work: _Work, todo: list[int], executor: Executor | None, workers: int | None
) -> Iterator[tuple[int, Encoded]]:
    """Chunks as they finish; one that a worker died with goes last and alone, so that it holds up no other."""
    ahead = AHEAD * (2 if executor else workers or 4)
    left, suspects, barren = deque(todo), list[int](), 0
    while left and barren < TRIES:
        barren += 1
        with _pool(executor, workers) as pool:
            for found in _through(pool, work, left, ahead, suspects):
                barren = 0
                yield found
    yield from _alone(work, [*suspects, *left], executor)


def _alone(work: _Work, suspects: list[int], executor: Executor | None) -> Iterator[tuple[int, Encoded]]:
    """Each chunk by itself, so that the one that kills is known; raises UserError that names those."""
    fatal: list[int] = []
    lost: tuple[Problem, ...] = ()
    try:
        for start in suspects:
            with _pool(executor, 1) as pool:
                yield from _through(pool, work, deque([start]), 1, fatal)
            if len(fatal) == TRIES:
                break  # nothing is computed here at all, or next to nothing
    except UserError as error:  # the cluster, perhaps with its last worker
        lost = error.problems
    if fatal:
        cases = ", ".join(map(work.span, sorted(fatal)))
        fix = "give workers more memory or leave these cases out, and run it again: finished chunks are kept"
        lost = (Problem(f"workers died twice at cases {cases}", key="sweep", fix=fix), *lost)
    if lost:
        raise UserError(lost)


def _pool(executor: Executor | None, workers: int | None) -> AbstractContextManager[Executor]:
    return local_pool(workers) if executor is None else nullcontext(executor)


def _through(
    executor: Executor, work: _Work, left: deque[int], ahead: int, died: list[int]
) -> Iterator[tuple[int, Encoded]]:
    """Chunks of ``left`` as they finish, a bounded number under way; those that a worker died with go to ``died``.

    Processes of this machine are all lost with one of them: then ``left`` keeps what was not begun.
    """
    running: dict[Future[Encoded], int] = {}
    while True:
        try:
            while left and len(running) < ahead:
                start, stop = left[0], min(left[0] + work.size, work.study.count)
                running[executor.submit(encoded_chunk, work.study, start, stop, work.kind)] = start
                left.popleft()
        except BrokenProcessPool:
            died.extend(running.values())
            return
        if not running:
            return
        for future in work.wait(running, executor):
            start = running.pop(future)
            try:
                encoded = future.result()
            except DEATHS:
                died.append(start)
            else:
                yield start, encoded
