"""``burnerlab sweep``: one appliance, many cases."""

from __future__ import annotations

import sys
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

import click

from burnerlab.cli.cautions import print_cautions
from burnerlab.cli.cluster import cluster_executor
from burnerlab.cli.options import json_option
from burnerlab.cli.output import facts, print_json
from burnerlab.cli.takes import takes
from burnerlab.quantity.inputs import Input, as_written
from burnerlab.quantity.outputs import texts

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


@click.command(short_help="Vary any parameter of an appliance over a grid, a list or at random.")
@takes(
    file=Input(name="file", reader=as_written, metavar="FILE", is_argument=True, is_needed=True),
    out=Input(
        name="out",
        reader=as_written,
        metavar="FILE",
        help="Results, .parquet or .csv; beside the study when not given.",
    ),
    workers=Input(name="workers", metavar="N", help="Local processes; all cores when not given."),
    cluster=Input(
        name="cluster",
        reader=as_written,
        metavar="ADDRESS",
        help="Scheduler of a running dask cluster: tcp://host:port.",
    ),
    chunk=Input(name="chunk", metavar="N", help="Cases of one unit of work."),
)
@json_option
def sweep_command(
    file: str, out: str | None, workers: int | None, cluster: str | None, chunk: int | None, as_json: bool
) -> None:
    """Run the study FILE: an appliance converted once for every case, one row of results each.

    A study names the appliance and what varies: a key of the project file, the rate of a burner, or the gas, pressure,
    altitude, gas temperature or coefficient of the target. An interrupted sweep goes on where it stopped.
    Heat inputs and deviations of a sweep are those at the nominal pressure: it solves no supply.

    \b
    Examples:
      burnerlab sweep study.toml
      burnerlab sweep study.toml --out results.csv --workers 2

    \b
    A study:
      [study]
      appliance = "market-cart-range.toml"
      to        = "propane"
      design    = "grid"                       # or list, random
      outputs   = ["burner.*.deviation", "total_predicted_gross_W"]
      [[vary]]
      parameter = "target.pressure"
      from = "8 in w.c."
      to   = "13 in w.c."
      steps = 11
      [[vary]]
      parameter = "burner.stock-pot ring.orifice.shape"
      values = ["tapered", "sharp"]
    """
    from burnerlab.appliance.study import read_study
    from burnerlab.appliance.sweep import sweep

    study = read_study(file)
    target = Path(out) if out else Path(file).with_suffix(".parquet")
    workers_of = cluster_executor(cluster) if cluster else nullcontext()
    with workers_of as executor, _bar(study.count, quiet=as_json) as progress:
        found = sweep(study, target, executor=executor, workers=workers, progress=progress, chunk=chunk)
    if as_json:
        print_json(found)
        return
    click.echo(facts(texts(found)))
    print_cautions()


@contextmanager
def _bar(total: int, quiet: bool) -> Iterator[Callable[[int, int], None] | None]:
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True)) as bar:
        task = bar.add_task("cases", total=total)
        yield lambda done, _: bar.update(task, completed=done)
