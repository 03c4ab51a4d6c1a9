"""``burnerlab flame``: how a gas burns in a given mixture; ``burnerlab flame build``: the tables behind it."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.common_inputs import ALTITUDE, BAROMETER, SURROUNDINGS
from burnerlab.cli.gas_inputs import GAS
from burnerlab.cli.options import json_option, takes
from burnerlab.cli.output import amount, facts, number, print_cautions, print_json, print_notes, temperature
from burnerlab.cli.verbosity import is_quiet
from burnerlab.quantity import Kind
from burnerlab.quantity.inputs import Group, Input, as_written
from burnerlab.tables.problem import Problem

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from burnerlab.flame.flame import FlameAnswer
    from burnerlab.flame.making.build import Progress
    from burnerlab.gas import DeclaredGas, Gas


def _equivalence_ratio(aeration: float | None, phi: float | None) -> float:
    if aeration is not None:
        return 1.0 / aeration
    assert phi is not None  # by the rule of the group
    return phi


def _aeration_or_phi(written: Mapping[str, Any]) -> Iterator[Problem]:
    if len(written) != 1:
        what = "give one of them, not both" if written else "how much air is mixed in?"
        yield Problem(what, key="--aeration or --phi", fix="e.g. --aeration 0.55, or --phi 1.0")


MIXTURE = Group(
    make=_equivalence_ratio,
    inputs=(
        Input(
            name="aeration",
            of="flame_aeration",
            metavar="PERCENT",
            help='Air over stoichiometric air: "0.55" or "55 %".',
        ),
        Input(
            name="phi", of="equivalence_ratio", metavar="RATIO", help="Equivalence ratio instead, 1/aeration."
        ),
    ),
    rules=_aeration_or_phi,
)
"""Equivalence ratio of the mixture [-]."""


@click.group(invoke_without_command=True, short_help="Burning velocity, flame temperature and thickness.")
@takes(
    gas=GAS,
    phi=MIXTURE,
    temperature_K=Input(
        name="unburnt_temperature",
        metavar="T",
        default="25 C",
        help='Of the mixture before the flame: "80 C".',
    ),
    pressure_Pa=replace(
        SURROUNDINGS,
        inputs=(
            replace(ALTITUDE, help='Of the place: "1200 m".'),
            replace(BAROMETER, help='Station pressure instead: "90 kPa".'),
        ),
    ),
    direct=Input(
        name="direct",
        is_flag=True,
        help="Solve the flame with Cantera instead of the tables: seconds to minutes.",
    ),
    limit_s=Input(
        name="limit",
        of="solve_time",
        metavar="TIME",
        default="120 s",
        help='Longest time of a direct solve: "5 min".',
    ),
)
@json_option
def flame_command(
    gas: Gas | DeclaredGas,
    phi: float,
    temperature_K: float,
    pressure_Pa: float,
    direct: bool,
    limit_s: float,
    as_json: bool,
) -> None:
    """Burning velocity, adiabatic flame temperature and thermal thickness of a gas with air.

    From tables of flat flames with complete chemistry, with the stated error and what it rests on; --direct solves
    the very flame. The flame is flat, adiabatic and at rest: no port, no wall, no room air.
    The stated error is a standard error, coverage factor k = 1: about a third of measurements lie outside it.

    \b
    Examples:
      burnerlab flame --gas propane --aeration 0.55
      burnerlab flame --gas natural-gas-typical --phi 1.0 \\
          --unburnt-temperature "80 C" --altitude "1500 m"
      burnerlab flame --mix "methane=0.8,hydrogen=0.2" --phi 0.9 --direct --json
      burnerlab flame build --out tables
    """
    from burnerlab.flame.flame import from_tables, solved

    if direct:
        answer = solved(gas, phi, temperature_K, pressure_Pa, limit_s)
    else:
        answer = from_tables(gas, phi, temperature_K, pressure_Pa)
    if as_json:
        print_json(answer, gas=gas.name)
    else:
        click.echo(_text(gas.name, answer))
        print_notes("Notes", answer.notes)
        print_cautions(gas)


def _text(name: str, answer: FlameAnswer) -> str:
    factor = answer.burning_velocity_error_coverage_factor
    error = f"{number(100.0 * answer.burning_velocity_error, 2)} % (k = {factor})"
    return facts(
        [
            ("Gas", name),
            ("Equivalence ratio", f"{number(answer.equivalence_ratio)} (aeration {number(answer.aeration)})"),
            (
                "Unburnt mixture",
                f"{amount(answer.unburnt_temperature_K, Kind.TEMPERATURE, 3)}, "
                f"{amount(answer.pressure_Pa, Kind.ABSOLUTE_PRESSURE, 4)} absolute",
            ),
            (
                "Burning velocity",
                f"{number(100.0 * answer.burning_velocity_m_per_s, 3)} cm/s, standard error {error}",
            ),
            ("Adiabatic flame temperature", temperature(answer.adiabatic_flame_temperature_K)),
            ("Thermal thickness", f"{number(1e3 * answer.thermal_thickness_m, 3)} mm"),
            ("Model", answer.model),
            ("Evidence", answer.evidence),
        ]
    )


@flame_command.command(short_help="Compute the flame tables anew.")
@takes(
    out=Input(
        name="out",
        reader=as_written,
        metavar="DIR",
        default="flame-tables",
        help="Where the tables go.",
    ),
    work=Input(
        name="work",
        reader=as_written,
        metavar="DIR",
        help="Where finished units are kept, DIR/work of --out when not given.",
    ),
    only=Input(
        name="only",
        reader=as_written,
        metavar="GAS",
        help="Only these gases of the plan; may be repeated.",
        is_many=True,
    ),
    workers=Input(name="workers", metavar="N", help="Local processes; all cores without it."),
    cluster=Input(
        name="cluster",
        reader=as_written,
        metavar="ADDRESS",
        help="Scheduler of a running dask cluster: tcp://host:port.",
    ),
)
@json_option
def build(
    out: str, work: str | None, only: tuple[str, ...], workers: int | None, cluster: str | None, as_json: bool
) -> None:
    """Compute the flame tables anew, on fixed grids and criteria: some seven core hours.

    Finished units of work are kept: a build that was stopped goes on where it stopped, and a flame that cannot be
    solved is recorded and left out. The tables name the mechanism's hash, the criteria and the version of Cantera.

    \b
    Examples:
      burnerlab flame build --out tables
      burnerlab flame build --only methane --only hydrogen --workers 2
      burnerlab flame build --cluster tcp://scheduler:8786
    """
    from burnerlab.flame.making.build import assemble, run_plan

    target = Path(out)
    folder = Path(work) if work else target / "work"
    with _executor(workers, cluster) as executor, _bar(quiet=as_json or is_quiet()) as progress:
        failed = run_plan(executor, folder, only, progress)
    counts = assemble(folder, target)
    if as_json:
        print_json(
            {
                "folder": str(target),
                **{key.replace(" ", "_"): n for key, n in counts.items()},
                "failed": failed,
            }
        )
    else:
        click.echo(facts([("folder", str(target)), *((key, str(count)) for key, count in counts.items())]))
        print_notes("Not computed", [f"{name}: {why}" for name, why in failed.items()])


@contextmanager
def _executor(workers: int | None, cluster: str | None) -> Iterator[Executor]:
    from multiprocessing import get_context

    from burnerlab.appliance.study.workers import cluster_executor, local_pool

    if cluster is None:
        with local_pool(workers, get_context("spawn")) as pool:
            yield pool
        return
    with cluster_executor(cluster) as executor:
        yield executor


@contextmanager
def _bar(quiet: bool) -> Iterator[Progress]:
    if quiet or not sys.stderr.isatty():
        yield lambda done, total, name: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True)) as bar:
        task = bar.add_task("flames", total=None)

        def show(done: int, total: int, name: str) -> None:
            bar.update(task, completed=done, total=total, description=name or "flames")

        yield show
