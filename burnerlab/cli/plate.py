"""``plate``: the figures of rating plates and conversion labels."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

import click

from burnerlab.cli.common_inputs import (
    APPLIANCE,
    MARKETS,
    STOCK,
    Destination,
    destination,
    language_of,
    with_stock,
    write_files,
)
from burnerlab.cli.options import json_option, takes
from burnerlab.cli.output import for_reader, print_cautions, print_json, print_notes, table, wrapped
from burnerlab.quantity.inputs import Input

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.appliance.study.plate_fields import PlateField


@click.command(short_help="Figures for the rating plate of each market and gas.")
@takes(
    file=APPLIANCE,
    market=MARKETS,
    region=Input(
        name="region",
        choices=("us", "eu", "au", "nz"),
        is_many=True,
        help="Plate of a region; repeatable. Without it that of the market: us, eu, or both.",
    ),
    stock=STOCK,
    to=destination("the fields as page, PDF, workbook and CSV"),
)
@json_option
def plate_command(
    file: Appliance,
    market: Sequence[str],
    region: Sequence[str],
    stock: Path | None,
    to: Destination,
    as_json: bool,
) -> None:
    """Fields of the rating plate or conversion label for every market of FILE and each of its gases.

    Heat inputs and consumption are the ratings of FILE on its basis after the altitude rule, the calculated ones next
    to them; pressures and orifice marks are those of the conversion, in the units of the region: us or eu, both where
    FILE names none, au and nz by --region. Serial number, marks and the figures of a certificate are never filled. A
    conversion label is added; the first plate stays readable.

    \b
    Examples:
      burnerlab plate range.toml
      burnerlab plate range.toml --market B --out labels
      burnerlab plate range.toml --market A --region au --region nz
      burnerlab plate range.toml --stock orifices.csv --json
    """
    from burnerlab.appliance.study.plate_fields import REGIONS, rating_plate
    from burnerlab.report.plate_paper import plate_paper

    found = rating_plate(with_stock(file, stock), market, region)
    files = write_files(
        to,
        lambda _: plate_paper(found, file.file_sha256),
        regions={one.region if one.region in REGIONS else "" for one in found.fields},
        language=language_of(file, market),
        has_units=True,
    )
    if as_json:
        print_json(found, files=files)
        return
    heads = (*found.stops, *found.altitude_warnings, *found.altitude_only)
    warned = (wrapped(for_reader(words)) for words in heads)
    click.echo("\n\n".join((*warned, *_tables(found.fields))))
    print_notes("Notes", found.notes)
    print_notes("Written", files)
    print_cautions(file.supply.gas, *(each.gas for one in file.markets for each in one.supply))


def _tables(fields: Sequence[PlateField]) -> Iterator[str]:
    """Fields of each market and gas."""
    for place, several in groupby(fields, key=lambda entry: entry.place):
        rows: list[tuple[str, ...]] = [
            (f"  {one.label}", one.text, one.calculated_text or "-", one.check, one.provenance)
            for one in several
        ]
        heads: tuple[str, ...] = (
            "  field",
            "for the label",
            "calculated, to compare",
            "checked by",
            "field known from",
        )
        if len({one.provenance for one in fields}) == 1:  # which the notes say of all of them
            heads, rows = heads[:-1], [line[:-1] for line in rows]
        yield f"{place}\n{table(heads, rows, left_columns=len(heads), as_written=True)}"
