"""The publications, data sets and libraries that tables cite."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from burnerlab.tables.folders import package_dir


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


def cite(source: str) -> str:
    """A source id as it is printed; a user's own table may name anything.

    >>> cite("bench 3 of the works")
    'bench 3 of the works'
    """
    known = sources().get(source)
    return known.cite() if known else source
