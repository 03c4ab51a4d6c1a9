"""Where is this number from: data rows with their source, place and provenance.

A table is a CSV in ``tables/data``; each row names its ``source`` (an id of ``tables/sources/*.toml``), the ``place``
in it and its ``provenance``. The gas files of ``fuels/`` and the check values of ``shared/`` are found here too.
"""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path

PROVENANCES = ("seen", "computed", "memory", "common practice", "measured here", "definition")
"""How a figure came here: read in a public copy; calculated with the library named; recalled from the named
publication and not seen; a habit of the trade without a source; measured by the user; exact by definition."""

Row = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Source:
    """A publication, data set or library a figure was taken from."""

    id: str
    title: str
    edition: str = ""
    note: str = ""

    def cite(self) -> str:
        """Title and edition in one line."""
        return f"{self.title}, {self.edition}" if self.edition else self.title


def package_dir() -> Path:
    return Path(str(files("burnerlab")))


def folder(name: str) -> Path:
    """The folder ``fuels`` or ``shared``: inside an installed package, else beside it in a checkout.

    >>> folder("fuels").name
    'fuels'
    """
    shipped = package_dir() / "_data" / name
    return shipped if shipped.is_dir() else package_dir().parent / name


def read_csv(path: Path) -> tuple[Row, ...]:
    """Rows of a CSV file; lines that start with # are comments."""
    with path.open(encoding="utf-8-sig", newline="") as stream:
        return tuple(csv.DictReader(line for line in stream if not line.startswith("#")))


@cache
def rows(name: str) -> tuple[Row, ...]:
    """All rows of the shipped table ``name``, in file order."""
    return read_csv(package_dir() / "tables" / "data" / f"{name}.csv")


def names() -> tuple[str, ...]:
    """Names of all shipped tables."""
    return tuple(sorted(path.stem for path in (package_dir() / "tables" / "data").glob("*.csv")))


@cache
def sources() -> Mapping[str, Source]:
    """Every publication cited by a table, by id."""
    found: dict[str, Source] = {}
    for path in sorted((package_dir() / "tables" / "sources").glob("*.toml")):
        for key, entry in tomllib.loads(path.read_text(encoding="utf-8")).items():
            if key in found:
                raise ValueError(f"source {key!r} is described twice (again in {path.name})")
            found[key] = Source(id=key, **entry)
    return found
