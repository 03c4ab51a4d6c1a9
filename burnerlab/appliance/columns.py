"""Rows of a sweep as the bytes of a CSV or Parquet file, made where they are computed and joined at the end."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from burnerlab.appliance.chunk import Columns, output_names, run_chunk
from burnerlab.appliance.study import Study
from burnerlab.tables.problem import Problem, UserError

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


def output_columns(study: Study) -> list[str]:
    """Column names in order: case, parameters, outputs, error."""
    return ["case", *(vary.parameter for vary in study.varies), *output_names(study), "error"]


def encoded_chunk(study: Study, start: int, stop: int, kind: str) -> Encoded:
    """Cases ``start`` to ``stop`` of a study as the bytes of their rows; CSV rows are without their heads."""
    columns = run_chunk(study, start, stop)
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
    draft.replace(out)


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
