"""Showing a conversion: the summary, the JSON object, and the files of the sheet."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.options import Command, gathered, in_words_of_options, option, text_option
from burnerlab.cli.output import print_json
from burnerlab.quantity.error import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Conversion
    from burnerlab.quantity import System
    from burnerlab.report import Written

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


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetAsked:
    """The texts of the options behind a ``SheetWanted``."""

    out: str | None = None
    formats: str | None = None
    overwrite: bool = False
    units: str = "metric"
    date: str | None = None
    paper: str = "A4"

    def read(self) -> SheetWanted:
        from burnerlab.report import FORMATS

        problems = []
        if self.units.lower() not in SYSTEMS:
            problems.append(
                Problem("not a system of units", value=self.units, key="--units", accepted="metric, us")
            )
        if self.paper.lower() not in PAPERS:
            problems.append(
                Problem("not a paper size", value=self.paper, key="--paper", accepted="A4, Letter")
            )
        formats = tuple((self.formats or ",".join(FORMATS)).lower().replace(" ", "").split(","))
        problems += [
            Problem("not a format of the sheet", value=text, key="--formats", accepted=", ".join(FORMATS))
            for text in formats
            if text not in FORMATS
        ]
        if self.out is None and (self.formats is not None or self.overwrite):
            problems.append(
                Problem("has a meaning with --out only", key="--formats or --overwrite", fix="add --out DIR")
            )
        if problems:
            raise UserError(problems)
        return SheetWanted(
            out=self.out,
            formats=formats,
            overwrite=self.overwrite,
            system=SYSTEMS[self.units.lower()],
            date=date.today().isoformat() if self.date is None else self.date,
            paper=PAPERS[self.paper.lower()],
        )


def sheet_options(command: Command) -> Command:
    """Where and how the sheet is written."""
    options = {
        "out": text_option("--out", "DIR", "Write the sheet into this folder."),
        "formats": text_option("--formats", "LIST", "html,pdf,xlsx,csv,json (all)."),
        "overwrite": option("--overwrite", is_flag=True, help="Replace files that exist."),
        "units": option("--units", default="metric", show_default=True, help="metric or us."),
        "date": text_option("--date", "TEXT", "Printed in the header (today)."),
        "paper": option("--paper", default="A4", show_default=True, help="A4 or Letter."),
    }
    return gathered("sheet", SheetAsked, options, command)


def write(conversion: Conversion, wanted: SheetWanted) -> Written | None:
    """The files of the sheet, when a folder was named; what could not be made is said on the error stream."""
    from burnerlab.report import Options, write_sheet

    if wanted.out is None:
        return None
    options = Options(
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
