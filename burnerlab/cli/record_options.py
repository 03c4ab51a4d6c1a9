"""Inputs that the commands of the bench record share."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from burnerlab.cli.takes import takes
from burnerlab.quantity.inputs import Input, as_written

if TYPE_CHECKING:
    from burnerlab.bench.record import Record


def text_input(name: str, metavar: str, help: str, **more: Any) -> Input:
    """An option that is taken as it is written."""
    return Input(name=name, reader=as_written, metavar=metavar, help=help, **more)


def day(text: str, key: str) -> str:
    """A day in ISO 8601; "" for every day."""
    from burnerlab.bench.record.vocabulary import read_date

    return read_date(text, key) if text else ""


RECORD = text_input("file", "FILE", "The record.", default="bench.sqlite")
OUT = text_input("out", "FILE", "The file to write.", is_needed=True)
OVERWRITE = Input(name="overwrite", is_flag=True, help="Replace FILE when it exists.")
LIMIT = Input(name="limit", of="lines", default="50", help="Most lines.")
file_option = takes(file=RECORD)


def to_read(file: str) -> Record:
    """A record that is there, only to be read."""
    from burnerlab.bench.record import open_record

    return open_record(Path(file), readonly=True)


def to_write(file: str, create: bool = False) -> Record:
    """A record to write into."""
    from burnerlab.bench.record import open_record

    return open_record(Path(file), create=create)
