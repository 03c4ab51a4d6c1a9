"""How a command prints: one JSON object, or plain aligned text."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import click

from burnerlab.quantity.document import json_text
from burnerlab.quantity.outputs import columns

WIDTH = 100  # columns of running text


def print_json(result: Any, **more: Any) -> None:
    """The running command's answer as one JSON document, the cautions with it.

    result : figures by key, or a result that declares its outputs; more : keys that it does not hold
    """
    click.echo(json_text(_command(), result, **more), nl=False)


def _command() -> str:
    """The running command with its group, as ``record chart``."""
    context: click.Context | None = click.get_current_context()
    words: list[str] = []
    while context is not None and context.parent is not None:
        words.insert(0, context.info_name or "")
        context = context.parent
    return " ".join(words)


def number(value: float | None, digits: int = 4) -> str:
    """A number of so many significant digits for a table, never in powers of ten.

    >>> number(0.00123456), number(24039.4), number(3.0), number(None)
    ('0.001235', '24039', '3.000', '-')
    """
    if value is None or not math.isfinite(value):
        return "-"
    if value == 0:
        return "0"
    after = digits - 1 - math.floor(math.log10(abs(value)))
    return f"{value:.{max(after, 0)}f}"


def figure(result: Any, name: str, digits: int = 4) -> tuple[str, str]:
    """Label and text of one declared output of a result, in its unit; "not evaluated" where it has no value.

    name : of the field or property that declares it
    """
    column = next(one for one in columns(type(result)) if one.name == name)
    value = column.value(result)
    shown = "not evaluated" if value is None else f"{number(value, digits)} {column.unit}".rstrip()
    return column.label, shown


def percent(fraction: float | None, decimals: int = 1) -> str:
    """A fraction as a signed percentage.

    >>> percent(-0.0123), percent(0.05)
    ('-1.2 %', '+5.0 %')
    """
    return "-" if fraction is None or not math.isfinite(fraction) else f"{100 * fraction:+.{decimals}f} %"


def table(heads: Sequence[str], rows: Sequence[Sequence[str]], left: int = 1) -> str:
    """Aligned columns; the first ``left`` to the left, the others to the right.

    >>> print(table(("drill", "mm"), (("#54", "1.397"), ("F", "6.5"))))
    drill     mm
    ------------
    #54    1.397
    F        6.5
    """
    widths = [max(len(row[i]) for row in (heads, *rows)) for i in range(len(heads))]
    lines = []
    for row in (heads, *rows):
        cells = (
            c.ljust(w) if i < left else c.rjust(w) for i, (c, w) in enumerate(zip(row, widths, strict=True))
        )
        lines.append("  ".join(cells).rstrip())
    lines.insert(1, "-" * (sum(widths) + 2 * (len(widths) - 1)))
    return "\n".join(lines)


def facts(pairs: Sequence[tuple[str, str]]) -> str:
    """Names and values below each other.

    >>> print(facts([("gas", "propane"), ("pressure", "11 in w.c.")]))
    gas       propane
    pressure  11 in w.c.
    """
    indent = 2 + max(len(name) for name, _ in pairs)
    return "\n".join(
        click.wrap_text(value, WIDTH, name.ljust(indent), " " * indent) if value else name
        for name, value in pairs
    )


def provenance_words(provenance: str) -> str:
    """How a figure came here, as a reader takes it.

    >>> provenance_words("memory")
    'recalled, not checked in the publication'
    """
    return "recalled, not checked in the publication" if provenance == "memory" else provenance


def print_notes(title: str, notes: Sequence[str]) -> None:
    """A short list under a heading, wrapped; nothing when there are none."""
    if not notes:
        return
    click.echo(f"\n{title}")
    for note in notes:
        click.echo(click.wrap_text(note, width=WIDTH, initial_indent="  - ", subsequent_indent="    "))
