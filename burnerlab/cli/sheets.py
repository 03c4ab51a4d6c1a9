"""Showing a conversion: the summary, the JSON object, and the files of the sheet."""

from __future__ import annotations

import datetime
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.common_inputs import OVERWRITE, only_with_out
from burnerlab.cli.options import in_words_of_options
from burnerlab.cli.output import print_json
from burnerlab.quantity.inputs import Group, Input, as_written
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Conversion
    from burnerlab.quantity import System
    from burnerlab.report import SheetFiles

Word = TypeVar("Word")
SYSTEMS: dict[str, System] = {"metric": "metric", "si": "metric", "us": "US", "imperial": "US"}
PAPERS = {"a4": "A4", "letter": "Letter"}


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetWanted:
    """Which files of the sheet, where, and in which units."""

    out: str | None
    formats: tuple[str, ...]
    overwrite: bool
    system: System
    date: str
    paper: str
    beside: Mapping[str, bytes] = field(default_factory=dict)  # files that go with them, by name


def _word(known: Mapping[str, Word], what: str, accepted: str) -> Callable[[str, str], Word]:
    """A reader of one word, in any case."""

    def reader(text: str, key: str) -> Word:
        if text.lower() not in known:
            raise UserError(Problem(f"not a {what}", value=text, key=key, accepted=accepted))
        return known[text.lower()]

    return reader


def _formats(text: str, key: str) -> tuple[str, ...]:
    from burnerlab.report import FORMATS

    formats = tuple(text.lower().replace(" ", "").split(","))
    problems = [
        Problem("not a format of the sheet", value=text, key=key, accepted=", ".join(FORMATS))
        for text in formats
        if text not in FORMATS
    ]
    if problems:
        raise UserError(problems)
    return formats


def sheet(
    out: str | None,
    formats: tuple[str, ...] | None = None,
    overwrite: bool = False,
    units: System = "metric",
    date: str | None = None,
    paper: str = "A4",
) -> SheetWanted:
    """The files of a sheet: all formats and today's date where nothing else is wanted."""
    from burnerlab.report import FORMATS

    today = datetime.date.today().isoformat()
    return SheetWanted(
        out=out,
        formats=formats or tuple(FORMATS),
        overwrite=overwrite,
        system=units,
        date=today if date is None else date,
        paper=paper,
    )


UNITS = Input(
    name="units",
    reader=_word(SYSTEMS, "system of units", "metric, us"),
    default="metric",
    metavar="TEXT",
    help="metric or us.",
)
SHEET = Group(
    make=sheet,
    inputs=(
        Input(name="out", reader=as_written, metavar="DIR", help="Write the sheet into this folder."),
        Input(name="formats", reader=_formats, metavar="LIST", help="html,pdf,xlsx,csv,json (all)."),
        OVERWRITE,
        UNITS,
        Input(name="date", reader=as_written, metavar="TEXT", help="Printed in the header (today)."),
        Input(
            name="paper",
            reader=_word(PAPERS, "paper size", "A4, Letter"),
            default="A4",
            metavar="TEXT",
            help="A4 or Letter.",
        ),
    ),
    rules=only_with_out("formats", "overwrite"),
)
"""Where and how the sheet is written: ``SheetWanted``."""


def write(conversion: Conversion, wanted: SheetWanted) -> SheetFiles | None:
    """The files of the sheet, when a folder was named; what could not be made is said on the error stream."""
    from burnerlab.report import SheetOptions, write_sheet

    if wanted.out is None:
        return None
    options = SheetOptions(
        overwrite=wanted.overwrite,
        date=wanted.date,
        system=wanted.system,
        paper=wanted.paper,
        beside=wanted.beside,
    )
    try:
        written = write_sheet(conversion, wanted.out, wanted.formats, options)
    except UserError as error:
        raise in_words_of_options(error) from None
    for sentence in written.missing:
        click.echo(sentence, err=True)
    return written


def show_conversion(
    conversion: Conversion, wanted: SheetWanted, as_json: bool, last: Sequence[str] = ()
) -> None:
    """Evaluate it, write the sheet, then print the JSON object, or the summary, what was written and the cautions.

    last : lines to print below the names of the files
    """
    from burnerlab.appliance.evaluation import evaluate_conversion
    from burnerlab.report import to_json
    from burnerlab.report.terminal import summary, summary_text
    from burnerlab.report.wording import occasions

    conversion = evaluate_conversion(conversion)
    written = write(conversion, wanted)
    files = [str(Path(wanted.out or "") / path.name) for path in written.files] if written else []
    if as_json:
        print_json(to_json(conversion) | {"files": files})
        return
    if sys.stdout.isatty():
        summary(conversion, system=wanted.system, has_sheet=bool(files))
    else:
        click.echo(summary_text(conversion, system=wanted.system, has_sheet=bool(files)).strip("\n"))
        click.echo()
    for line in (*(f"written: {path}" for path in files), *last):
        click.echo(line)
    print_cautions(occasions=occasions(conversion))
