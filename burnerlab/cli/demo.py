"""``burnerlab demo``: the whole job on an invented appliance."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from burnerlab.cli.options import json_option
from burnerlab.cli.sheets import SheetAsked, refuse_taken, show_conversion

TO_GAS, PRESSURE = "propane", "11 in w.c."
FILE_NAME = "market-cart-range.toml"


@click.command(short_help="Convert a demonstration appliance and write its sheet.")
@click.argument("folder", metavar="[DIR]", default="burnerlab-demo")
@click.option("--units", default="metric", show_default=True, help="metric or us.")
@click.option("--overwrite", is_flag=True, help="Replace files that exist.")
@json_option
def command(folder: str, units: str, overwrite: bool, as_json: bool) -> None:
    """Write a demonstration appliance, change it from natural gas to propane, and write the sheet.

    The appliance is an invented cooking cart with six burners. Its file, a start for one of your own, and the
    sheet as HTML, PDF, workbook, CSV and JSON go into DIR (burnerlab-demo). Files that are there already stay, and
    nothing is written, unless --overwrite is given.

    \b
    Examples:
      burnerlab demo
      burnerlab demo my-folder --units us
    """
    from burnerlab.appliance import convert, demonstration_path, read_appliance
    from burnerlab.quantity import Kind, read
    from burnerlab.report.write import write_whole

    wanted = SheetAsked(out=folder, overwrite=overwrite, units=units).read()
    place = Path(folder)
    file = place / FILE_NAME
    appliance = replace(read_appliance(demonstration_path()), file=str(file))
    conversion = convert(appliance, TO_GAS, read(PRESSURE, Kind.GAUGE_PRESSURE))
    refuse_taken(conversion, wanted, file)
    made_folder(folder)
    write_whole(file, demonstration_path().read_bytes(), overwrite)
    again = f'again by hand: burnerlab convert {file} --to {TO_GAS} --pressure "{PRESSURE}"'
    show_conversion(conversion, wanted, as_json, last=(f"appliance file: {file}", again))


def made_folder(text: str) -> Path:
    """The folder, made when missing. Raises UserError for a path that is or cannot be a folder."""
    from burnerlab.quantity.error import Problem, UserError

    path = Path(text)
    try:
        path.mkdir(parents=True, exist_ok=True)
    except FileExistsError:
        raise UserError(
            Problem("is a file, not a folder", value=text, key="DIR", fix="name another")
        ) from None
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        raise UserError(
            Problem(f"cannot be made: {why}", value=text, key="DIR", fix="name another")
        ) from None
    return path
