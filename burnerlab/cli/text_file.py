"""A text that another program reads: alone on the output, so that it can be piped, or in a file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from burnerlab.cli.common_inputs import OVERWRITE, only_with_out
from burnerlab.cli.output import caution_lines, print_cautions, print_json
from burnerlab.quantity.inputs import Group, Input, as_written
from burnerlab.tables.problem import UserError


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputFile:
    """The file a text goes into; None: the output."""

    path: str | None
    overwrite: bool


OUTPUT_FILE = Group(
    make=lambda out, overwrite: OutputFile(path=out, overwrite=overwrite),
    inputs=(Input(name="out", reader=as_written, metavar="FILE", help="Write into this file."), OVERWRITE),
    rules=only_with_out("overwrite"),
)
"""``--out FILE`` and ``--overwrite``."""


def give_text(
    text: str, to: OutputFile, as_json: bool, *, comment: str = "", opening: str = "", **document: Any
) -> None:
    """Print a text alone on the output, or write it, or give it as JSON.

    comment : sign of a comment in the text: its cautions are its first lines, else they go to the error stream
    opening : beginning of a first line that its reader looks for there alone: the cautions stand below that line
    document : what ``--json`` prints
    """
    if comment:
        cautions = "".join(f"{comment} {line}\n" for line in caution_lines())
        end = text.index("\n") + 1 if opening and text.startswith(opening) else 0
        text = text[:end] + cautions + text[end:]
    if to.path is not None:
        from burnerlab.report.write import conflict, write_together

        path = Path(to.path)
        if problems := conflict(path, to.overwrite):
            raise UserError(problems)
        write_together({path: text.encode("utf-8")}, to.overwrite)
    if as_json:
        print_json(document | ({"file": to.path} if to.path is not None else {}))
        return
    click.echo(f"written: {to.path}" if to.path is not None else text, nl=to.path is not None)
    if to.path is not None or not comment:
        print_cautions(on_error_stream=to.path is None)
