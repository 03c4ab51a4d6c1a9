"""The demonstration appliance, for the tests of this room."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from burnerlab import tables
from burnerlab.appliance import Appliance, demonstration


@pytest.fixture(scope="session")
def cart() -> Appliance:
    return demonstration()


@pytest.fixture
def own_table(tmp_path: Path) -> Callable[[str, str, str], Path]:
    """A copy of a shipped table with one text in it replaced, as a user would make his own."""

    def made(name: str, old: str, new: str) -> Path:
        text = (tables.package_dir() / "tables" / "data" / f"{name}.csv").read_text(encoding="utf-8")
        assert text.count(old) == 1
        path = tmp_path / f"{name}.csv"
        path.write_text(text.replace(old, new), encoding="utf-8")
        return path

    return made
