"""``burnerlab demo``: the whole job on an invented appliance."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from burnerlab.cli.common_inputs import OVERWRITE
from burnerlab.cli.options import json_option
from burnerlab.cli.sheets import UNITS, sheet, show_conversion
from burnerlab.cli.takes import takes
from burnerlab.quantity.inputs import Input, as_written

if TYPE_CHECKING:
    from burnerlab.quantity import System

TO_GAS, TO_PRESSURE = "propane", "11 in w.c."
FILE_NAME = "market-cart-range.toml"


@click.command(short_help="Convert a demonstration appliance and write its sheet.")
@takes(
    folder=Input(
        name="folder", reader=as_written, metavar="[DIR]", is_argument=True, default="burnerlab-demo"
    ),
    units=UNITS,
    overwrite=OVERWRITE,
)
@json_option
def demo_command(folder: str, units: System, overwrite: bool, as_json: bool) -> None:
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

    wanted = sheet(out=folder, overwrite=overwrite, units=units)
    wanted = replace(wanted, beside={FILE_NAME: demonstration_path().read_bytes()})
    file = Path(folder) / FILE_NAME
    appliance = replace(read_appliance(demonstration_path()), file=str(file))
    conversion = convert(appliance, TO_GAS, TO_PRESSURE)
    again = f'again by hand: burnerlab convert {file} --to {TO_GAS} --pressure "{TO_PRESSURE}"'
    show_conversion(conversion, wanted, as_json, last=(f"appliance file: {file}", again))
