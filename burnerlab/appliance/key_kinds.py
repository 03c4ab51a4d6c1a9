"""What a key of the project file can be: a quantity, a number, a name, a word out of a few, a table ..."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from burnerlab.appliance import key_readers
from burnerlab.appliance.keys import Key, Reader
from burnerlab.quantity.inputs import input_row
from burnerlab.quantity.kind import Kind
from burnerlab.quantity.read import range_words


def quantity(of: str, help: str, example: Any = None, **more: Any) -> Key:
    """A figure within a row of ``inputs``: text with a unit, a bare number where the row has no unit."""
    row = input_row(of)
    shown = row.example if example is None else example
    if isinstance(row.kind, Kind):
        kind, accepted = row.kind.value, range_words(shown, row.kind, row.low, row.high)
        reader: Reader = key_readers.quantity(of, shown)
    else:
        shown = float(row.example) if example is None else example
        kind, accepted = "whole number" if row.kind == "COUNT" else "number", row.span
        reader = row.number
    return Key(help=help, kind=kind, example=shown, accepted=accepted, source=of, **{"reader": reader} | more)


def length(help: str, example: str, of: str = "size", **more: Any) -> Key:
    """A dimension."""
    return quantity(of, help, example, **more)


def angle(help: str) -> Key:
    """An angle; any will do."""
    reader = key_readers.angle
    return text("90 deg", help, "any", reader, kind=Kind.ANGLE.value)


def heat_input(help: str, of: str = "heat_input", **more: Any) -> Key:
    """A heat input on the basis of the file."""
    row = input_row(of)
    return Key(
        help=help,
        kind="heat input",
        example="12 kBtu/h",
        accepted=f"{row.low / 1e3:g} to {row.high / 1e3:g} kW",
        source=of,
        reader_in_file=lambda value, _, file: key_readers.rate(value, str(file.get("basis", "")), of),
        **more,
    )


def gauge_pressure(help: str, **more: Any) -> Key:
    """A gauge pressure of a low-pressure appliance, or any above zero where the file allows it."""
    row = input_row("low_pressure")
    return Key(
        help=help,
        kind=Kind.GAUGE_PRESSURE.value,
        example=row.example,
        accepted=f"{row.low / 1e3:g} to {row.high / 1e3:g} kPa",
        source="low_pressure",
        reader_in_file=lambda value, _, file: key_readers.gauge_pressure(value, bool(file.get("allow_high"))),
        **more,
    )


def name(example: str, help: str, **more: Any) -> Key:
    """A text to print, or the name of a row of a table."""
    return text(example, help, "1 to 80 characters", key_readers.name, kind="name", **more)


def text(example: Any, help: str, accepted: str, reader: Reader, *, kind: str = "text", **more: Any) -> Key:
    """A value with a reader of its own."""
    return Key(help=help, kind=kind, example=example, accepted=accepted, reader=reader, **more)


def choice(words: Sequence[str], what: str, help: str, **more: Any) -> Key:
    """One word out of a few; ``what`` names it in a complaint: is not ``what``."""
    more = {"example": words[0]} | more
    return Key(
        help=help, kind="word", accepted=", ".join(words), reader=key_readers.choice(words, what), **more
    )


def switch(help: str, **more: Any) -> Key:
    """true or false."""
    return Key(
        help=help, kind="switch", example=True, accepted="true, false", reader=key_readers.switch, **more
    )


def table_file(help: str) -> Key:
    """A CSV of the user's own in the folder of the project file."""
    return text("own.csv", help, "a CSV in the file's folder", key_readers.file_name, kind="file name")


def part(table: type, help: str, example: Mapping[str, Any] | None = None, **more: Any) -> Key:
    """A table within a table; ``example`` holds the key that makes it whole."""
    return Key(help=help, kind="table", example=example, accepted="a table", table=table, **more)


def parts(table: type, most: int, help: str, example: Mapping[str, Any] | None = None, **more: Any) -> Key:
    """A list of tables; one alone counts as a list of one."""
    more = {"is_alone": True} | more
    accepted = f"{more.get('least', 0)} to {most} tables"
    return Key(help=help, kind="tables", example=example, accepted=accepted, table=table, most=most, **more)


def inline(table: type) -> Key:
    """A thing whose keys stand in the table around it."""
    return Key(help="", kind="", example=None, accepted="", table=table, is_inline=True)


def orifice_range() -> str:
    """Diameters of orifices, as their check prints them."""
    row = input_row("orifice_diameter")
    return f"{row.low * 1e3:g} to {row.high * 1e3:g} mm"
