"""Options that the commands of the bench record share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from burnerlab.bench.record import Record

DEFAULT_FILE = "bench.sqlite"
Command = Callable[..., Any]


def file_option(command: Command) -> Command:
    """``--file``: where the record lies."""
    return click.option(
        "--file", "file", metavar="FILE", default=DEFAULT_FILE, show_default=True, help="The record."
    )(command)


def out_options(command: Command) -> Command:
    """``--out`` and ``--overwrite``."""
    command = click.option("--overwrite", is_flag=True, help="Replace FILE when it exists.")(command)
    return click.option("--out", metavar="FILE", required=True, help="The file to write.")(command)


def to_read(file: str) -> Record:
    """A record that is there, only to be read."""
    from burnerlab.bench.record import open_record

    return open_record(Path(file), readonly=True)


def to_write(file: str, create: bool = False) -> Record:
    """A record to write into."""
    from burnerlab.bench.record import open_record

    return open_record(Path(file), create=create)
