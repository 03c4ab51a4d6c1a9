"""``burnerlab calibrate``: constants of the models from the bench record, as tables of your own."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from burnerlab.cli.common_inputs import APPLIANCE
from burnerlab.cli.options import json_option, takes, written
from burnerlab.cli.output import facts, number, print_cautions, print_json, print_notes, table
from burnerlab.cli.record_output import RECORD, counted, text_input, to_read
from burnerlab.quantity.inputs import Group, Input, as_written

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.bench.learning.calibration import Calibration, RecordSource
    from burnerlab.bench.learning.samples import ModelConstant

DAY = 10  # characters of a date
NONE_COUNTS = "no test of this model counts: why stands below"
NOTHING = "the record determines no constant better than it was known: no table is written"


@dataclass(frozen=True, slots=True, kw_only=True)
class Learning:
    """Which constants are learned, of how many units."""

    only: tuple[str, ...]  # burner coefficients; () for all
    hot: bool  # whether primary air was sampled from hot burners
    last: int  # newest units used


LEARNING = Group(
    make=Learning,
    inputs=(
        Input(
            name="only",
            reader=as_written,
            is_many=True,
            metavar="NAME",
            help="Learn this burner coefficient, the others unchanged.",
        ),
        Input(name="hot", is_flag=True, help="Primary air was sampled from hot burners."),
        Input(name="last", of="units_used", metavar="INTEGER", default="200", help="Newest units to use."),
    ),
)
"""What is learned: ``Learning``."""
MODEL = replace(APPLIANCE, name="model_file")


@click.command("calibrate")
@takes(
    appliance=MODEL,
    learning=LEARNING,
    file=RECORD,
    out=text_input("out", "DIR", "Write the tables into this folder; without it they are only printed."),
    overwrite=Input(name="overwrite", is_flag=True, help="Replace tables that exist."),
)
@json_option
def calibrate_command(
    appliance: Appliance, learning: Learning, file: str, out: str | None, overwrite: bool, as_json: bool
) -> None:
    """Learn the constants of your own units from the bench record; FILE is the project file of their model.

    \b
    Each reading needs a manifold pressure. Which reading fits which constant:
      heat input            discharge coefficient of the orifice's shape
      primary aeration      losses of mixing tube, ports and shutter;
                            read it at several openings of the shutter
      lift, light-back,     factors on the limits of the flame; seen and not
      yellow tips           seen both count, near the limit most of all

    A test counts where its orifice is known: its bore was read there, its plan is one of FILE, or gas and manifold
    pressure are those of FILE. The others are counted below, with the reason.

    Before: the shipped table, its low and high holding 90 % of what is thought likely. After: 95 % intervals. A
    constant that the record hardly narrows is not printed. The tables are used by every command once the project
    file names them under [tables].

    \b
    Examples:
      burnerlab calibrate range.toml --file units.sqlite
      burnerlab calibrate range.toml --file units.sqlite --out calibrated
    """
    from burnerlab.bench.learning.calibration import (
        RecordSource,
        calibrate,
        last_link,
        recorded_tests,
        write_tables,
    )
    from burnerlab.bench.learning.known_orifices import built_by_plans

    model_file = Path(written("model_file"))
    with to_read(file) as record:
        tests = recorded_tests(record, appliance.model or appliance.name, learning.last)
        named = RecordSource(file=file, sha256=last_link(record))
    folders = (model_file.resolve().parent, Path(file).resolve().parent)
    plans = built_by_plans(tests, appliance, folders)
    found = calibrate(tests, appliance, plans=plans, only=learning.only, hot=learning.hot)
    files: tuple[Path, ...] = ()
    if out is not None and found.written:
        files = write_tables(found, named, appliance.tables, Path(out), overwrite)
    nothing = () if found.written else (NOTHING,)
    more = (*nothing, *found.cautions, *_where(files, model_file))
    if as_json:
        print_json(found, record=named, files=[str(path) for path in files], notes=more)
        return
    click.echo(_text(found, named, appliance))
    _show_files(found, files, model_file)
    print_notes("Notes", more)
    print_cautions()


def _where(written: tuple[Path, ...], model_file: Path) -> tuple[str, ...]:
    """Own tables must lie in the folder of the project file."""
    home = model_file.resolve().parent
    if all(path.resolve().is_relative_to(home) for path in written):
        return ()
    return (
        f"put the tables into the folder of {model_file.name}: a project file names tables in its own folder",
    )


def _text(calibration: Calibration, record: RecordSource, appliance: Appliance) -> str:
    first, last = (at[:DAY] for at in (calibration.first_tested_at, calibration.last_tested_at))
    of_units = (
        f"{counted(calibration.units, 'unit')}, {first} to {last}" if calibration.units else NONE_COUNTS
    )
    pairs = [
        ("model", f"{calibration.model} ({appliance.file})"),
        ("record", f"{record.file}, {of_units}"),
        ("burners", ", ".join(calibration.burners) or "none with a pressure and another reading"),
    ]
    if not calibration.constants:
        return facts(pairs)
    heads = (
        *("constant", "before", "low 90 %", "high 90 %", "now", "low 95 %", "high 95 %"),
        *("units", "spread read", "spread counted", "learned"),
    )
    return facts(pairs) + "\n\n" + table(heads, [_row(constant) for constant in calibration.constants])


def _row(constant: ModelConstant) -> tuple[str, ...]:
    before = (constant.prior, constant.prior_low, constant.prior_high)
    now = (constant.value, constant.low, constant.high) if constant.is_in_table else (None, None, None)
    spreads = tuple(
        "-" if one is None else f"{100.0 * one:.2f} %" for one in (constant.spread_read, constant.spread)
    )
    learned = "yes" if constant.is_learned else "together" if constant.is_in_table else "no"
    return (constant.name, *(number(v, 3) for v in (*before, *now)), str(constant.units), *spreads, learned)


def _show_files(calibration: Calibration, files: tuple[Path, ...], model_file: Path) -> None:
    reasons = [text for one in calibration.constants for text in (f"{one.name}: {one.why}", *one.steps)]
    print_notes("What it rests on", reasons)
    if not files:
        return
    home = model_file.resolve().parent
    click.echo("\nwritten: " + ", ".join(str(path) for path in files))
    click.echo(f"use them in {model_file.name}:\n\n[tables]")
    for path in files:
        full = path.resolve()
        name = full.relative_to(home).as_posix() if full.is_relative_to(home) else path.name
        click.echo(f'{path.stem} = "{name}"')
