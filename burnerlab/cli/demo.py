"""``burnerlab demo``: the whole job on an invented appliance."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from burnerlab.cli.options import json_option
from burnerlab.cli.sheets import SheetAsked, show_conversion

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

    wanted = SheetAsked(out=folder, overwrite=overwrite, units=units).read()
    wanted = replace(wanted, beside={FILE_NAME: demonstration_path().read_bytes()})
    file = Path(folder) / FILE_NAME
    appliance = replace(read_appliance(demonstration_path()), file=str(file))
    conversion = convert(appliance, TO_GAS, read(PRESSURE, Kind.GAUGE_PRESSURE))
    again = f'again by hand: burnerlab convert {file} --to {TO_GAS} --pressure "{PRESSURE}"'
    show_conversion(conversion, wanted, as_json, last=(f"appliance file: {file}", again))
