"""``burnerlab convert``: an appliance file changed to another gas."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import click

from burnerlab.cli.common_inputs import APPLIANCE
from burnerlab.cli.options import json_option
from burnerlab.cli.sheets import SHEET, SheetWanted, show_conversion
from burnerlab.cli.takes import takes
from burnerlab.cli.target import TARGET, TRAIN

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance, ConversionTarget
    from burnerlab.appliance.target import TrainChoice


@click.command(short_help="Change an appliance file to another gas.")
@takes(file=APPLIANCE, target=TARGET, train=TRAIN, sheet=SHEET)
@json_option
def convert_command(
    file: Appliance,
    target: ConversionTarget,
    train: TrainChoice | None,
    sheet: SheetWanted,
    as_json: bool,
) -> None:
    """New orifices for every burner of FILE, what each will give, and what must be looked at.

    FILE describes the appliance (TOML; burnerlab demo writes one to start from). What is not given here is taken from
    it. --train says which supply serves the new gas. With --out the sheet is written as well: HTML, PDF, workbook, CSV
    and JSON.

    \b
    Examples:
      burnerlab convert range.toml --to propane --pressure "11 inH2O"
      burnerlab convert range.toml --to G31 --pressure "37 mbar" --pressure-range "25..45 mbar"
      burnerlab convert range.toml --to propane --pressure "11 inH2O" --altitude "5000 ft" --out sheet
      burnerlab convert range.toml --to "mix:methane=0.9,ethane=0.1" --pressure "20 mbar" --json
    """
    from burnerlab.appliance import convert_to

    show_conversion(convert_to(file, replace(target, train=train or "")), sheet, as_json)
