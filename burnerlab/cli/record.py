"""``burnerlab record``: the bench record."""

from __future__ import annotations

import click

from burnerlab.cli.record_chart import chart
from burnerlab.cli.record_read import export, kits, list_, search, show
from burnerlab.cli.record_stops import release, stops
from burnerlab.cli.record_write import add, backup, check, correct, import_


@click.group(short_help="The bench record: tests of units, kits, charts, copies.", no_args_is_help=True)
def record_command() -> None:
    """What was found on every unit, kept in one file: tests, corrections, kits, charts, copies.

    Entries are never changed or deleted: a correction is a new entry that supersedes the old one, and both stay
    readable. Every command takes --file (bench.sqlite unless said) and --json; burnerlab record COMMAND --help says
    more.

    \b
    Examples:
      burnerlab record add --serial C-0412 --model "market cart range" --tester "R. Quill" \\
        --result "griddle: deviation = -2.1 % in -5 %..5 %" --seen "griddle: lift = no"
      burnerlab record show C-0412
      burnerlab record chart --model "market cart range" --burner griddle
      burnerlab record backup --out copy.sqlite
    """


for each in (add, correct, list_, show, search, stops, release, chart, kits, export, import_, check, backup):
    record_command.add_command(each)
