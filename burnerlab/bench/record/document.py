"""An entry as plain data, and back: what is hashed, exported and imported is this and nothing else."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any

from burnerlab.bench.record.entry import (
    PARTS,
    BeforeLighting,
    BenchInstrument,
    BenchTest,
    KitCheck,
    KitRecord,
    Release,
    ReleaseRecord,
    Scan,
    TestRecord,
)
from burnerlab.tables.problem import Problem, UserError

Document = dict[str, Any]
LISTS: dict[str, type] = {"instruments": BenchInstrument, **PARTS, "scans": Scan}
NEWER = ("before_lighting", "stops", "earlier_stops", "inputs")
"""Parts of newer schemas, left out of an entry that has none of them: one made before them keeps its SHA-256."""
FIGURES = frozenset(
    [
        "value",
        "standard_uncertainty",
        "expanded_uncertainty",
        "low",
        "high",
        "mass_kg",
        "window_low_kg",
        "window_high_kg",
    ]
)
OF_A_TEST = ("uid", "recorded_at", "corrects", "reason")
OF_A_KIT = ("uid", "recorded_at")


@cache
def _names(kind: type) -> tuple[str, ...]:
    return tuple(field.name for field in fields(kind))


def _plain(thing: Any) -> Any:
    """A frozen thing as a mapping, tuples as lists; quicker than ``dataclasses.asdict``, which copies every leaf."""
    if isinstance(thing, tuple):
        return [_plain(each) for each in thing]
    kind: type = type(thing)
    if is_dataclass(kind):
        return {name: _plain(getattr(thing, name)) for name in _names(kind)}
    return thing


def as_document(record: TestRecord) -> Document:
    """A test as it is hashed and exported; who corrected it later is not part of it."""
    document: Document = {key: getattr(record, key) for key in OF_A_TEST} | _plain(record.test)
    for name in NEWER:
        if not document[name]:
            del document[name]
    return document


def kit_as_document(record: KitRecord) -> Document:
    """A weighing as it is hashed and exported."""
    document: Document = {key: getattr(record, key) for key in OF_A_KIT} | _plain(record.check)
    return document


def release_as_document(record: ReleaseRecord) -> Document:
    """A release as it is hashed and exported."""
    document: Document = {key: getattr(record, key) for key in OF_A_KIT} | _plain(record.release)
    return document


def sha256_of(document: Mapping[str, Any]) -> str:
    """The SHA-256 of an entry: of its data in JSON with sorted keys.

    >>> sha256_of({"a": 1})[:8]
    '015abd7f'
    """
    told = json.dumps(document, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False)
    return hashlib.sha256(told.encode("ascii")).hexdigest()


def chained(before: str, sha256: str) -> str:
    """The link of an entry to the one before it: an entry taken out or put between breaks the chain.

    >>> chained("", "0")[:8]
    '5feceb66'
    """
    return hashlib.sha256((before + sha256).encode("ascii")).hexdigest()


def _refuse(what: str, key: str, value: str = "") -> UserError:
    return UserError(Problem(what, key=key, value=value, fix="import a file as burnerlab wrote it"))


def _made(kind: type, data: Any, where: str) -> Any:
    """A frozen thing from a mapping of exactly its fields."""
    if not isinstance(data, Mapping):
        raise _refuse("must be a table of values", where)
    known = {field.name for field in fields(kind)}
    for name in data:
        if name not in known:
            raise _refuse("unknown key", f"{where}.{name}"[:100])
    newer = set(NEWER) if kind is BenchTest else set()
    for name in known - set(data) - newer:
        raise _refuse("is missing", f"{where}.{name}")
    values: dict[str, Any] = {}
    for name, value in data.items():
        if name == "before_lighting":
            values[name] = _made(BeforeLighting, value, f"{where}.{name}")
        elif name == "stops" and kind is Release:
            values[name] = _uids(value, f"{where}.{name}")
        elif name in LISTS:
            if not isinstance(value, list | tuple):
                raise _refuse("must be a list", f"{where}.{name}")
            values[name] = tuple(_made(LISTS[name], each, f"{where}.{name}") for each in value)
        elif name in FIGURES:
            if value is not None and (isinstance(value, bool) or not isinstance(value, int | float)):
                raise _refuse("must be a number", f"{where}.{name}", str(value))
            values[name] = value if value is None else float(value)
        else:
            if not isinstance(value, str):
                raise _refuse("must be a text", f"{where}.{name}", str(value))
            values[name] = value
    return kind(**values)


def _uids(value: Any, where: str) -> tuple[str, ...]:
    if not isinstance(value, list | tuple) or not all(isinstance(each, str) for each in value):
        raise _refuse("must be a list of texts", where)
    return tuple(value)


def _split(
    document: Mapping[str, Any], keys: tuple[str, ...], where: str
) -> tuple[dict[str, str], dict[str, Any]]:
    """What the record itself adds to an entry, and the rest."""
    head = {key: document.get(key, "") for key in (*keys, "sha256")}
    for key, value in head.items():
        if not isinstance(value, str):
            raise _refuse("must be a text", f"{where}.{key}", str(value))
    return head, {key: value for key, value in document.items() if key not in head}


def read_test(document: Mapping[str, Any], where: str = "test") -> TestRecord:
    """The test a document describes. Raises UserError for anything that is not one."""
    head, rest = _split(document, OF_A_TEST, where)
    return TestRecord(number=0, test=_made(BenchTest, rest, where), **head)


def read_kit(document: Mapping[str, Any], where: str = "kit check") -> KitRecord:
    """The weighing a document describes. Raises UserError for anything that is not one."""
    head, rest = _split(document, OF_A_KIT, where)
    return KitRecord(number=0, check=_made(KitCheck, rest, where), **head)


def read_release(document: Mapping[str, Any], where: str = "release") -> ReleaseRecord:
    """The release a document describes. Raises UserError for anything that is not one."""
    head, rest = _split(document, OF_A_KIT, where)
    return ReleaseRecord(number=0, release=_made(Release, rest, where), **head)
