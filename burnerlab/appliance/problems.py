"""The problems of a project file, gathered so that all are said at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from burnerlab.appliance.lines import KeyPath, Unread, spell
from burnerlab.quantity.error import Problem, UserError


@dataclass(slots=True)
class Problems:
    """Problems met while building, each with the key path it belongs to."""

    problems: list[tuple[KeyPath, Problem]] = field(default_factory=list)
    data: Mapping[str, Any] = field(default_factory=dict)  # the file as TOML holds it
    unread: Unread = field(default_factory=Unread)  # what could not be read of it
    lost: set[str] = field(default_factory=set)  # own tables that are not there: names may be theirs

    @contextmanager
    def at(self, *path: str | int, of: str = "") -> Iterator[None]:
        """Catch what goes wrong inside and note it for ``path``; ``of`` is the table whose names are looked up."""
        try:
            yield
        except UserError as error:
            if of not in self.lost:
                self.problems += [(path, problem) for problem in error.problems]

    def add(self, path: KeyPath, what: str, *, value: str = "", accepted: str = "", fix: str = "") -> None:
        self.problems.append((path, Problem(what, value=value, key=spell(path), accepted=accepted, fix=fix)))
