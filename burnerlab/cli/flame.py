"""``burnerlab flame``: how a gas burns in a given mixture; ``burnerlab flame build``: the tables behind it."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.asked import GasAsked, ambient_pressure_Pa, together
from burnerlab.cli.cautions import cautions, print_cautions
from burnerlab.cli.cluster import cluster_executor
from burnerlab.cli.options import gas_options, json_option
from burnerlab.cli.output import facts, number, print_json, print_notes
from burnerlab.quantity.error import Problem, UserError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from concurrent.futures import Executor

    from burnerlab.flame.asked import FlameAnswer
    from burnerlab.flame.build import Progress

LOWEST_AERATION, HIGHEST_AERATION = 0.4, 2.0  # as far as a direct solve reaches


@click.group(invoke_without_command=True, short_help="Burning velocity, flame temperature and thickness.")
@gas_options
@click.option("--aeration", metavar="SHARE", help='Air over stoichiometric air: "0.55" or "55 %".')
@click.option("--phi", metavar="RATIO", help="Equivalence ratio instead, 1/aeration.")
@click.option(
    "--unburnt-temperature", metavar="T", default="25 C", show_default=True, help="Of the unburnt mixture."
)
@click.option("--altitude", metavar="H", help='Of the place: "1200 m".')
@click.option("--barometer", metavar="P", help='Station pressure instead: "90 kPa".')
@click.option(
    "--direct", is_flag=True, help="Solve the flame with Cantera instead of the tables: seconds to minutes."
)
@click.option(
    "--limit", metavar="TIME", default="120 s", show_default=True, help="Longest a direct solve may take."
)
@json_option
def command(gas: GasAsked, direct: bool, as_json: bool, **given: str | None) -> None:
    """Burning velocity, adiabatic flame temperature and thermal thickness of a gas with air.

    From tables of flat flames with complete chemistry, with the stated error and what it rests on; --direct solves
    the very flame. The flame is flat, adiabatic and at rest: no port, no wall, no room air.
    The stated error is a standard error, coverage factor k = 1: about a third of measurements lie outside it.

    \b
    Examples:
      burnerlab flame --gas propane --aeration 0.55
      burnerlab flame --gas natural-gas-typical --phi 1.0 --unburnt-temperature "80 C" --altitude "1500 m"
      burnerlab flame --mix "methane=0.8,hydrogen=0.2" --phi 0.9 --direct --json
      burnerlab flame build --out tables
    """
    if click.get_current_context().invoked_subcommand is not None:
        return
    from burnerlab.flame.asked import from_tables, solved

    found, phi, temperature_K, pressure_Pa, limit_s = together(
        gas.read,
        lambda: _equivalence_ratio(given["aeration"], given["phi"]),
        lambda: _temperature_K(str(given["unburnt_temperature"])),
        lambda: ambient_pressure_Pa(given["altitude"], given["barometer"]),
        lambda: _limit_s(str(given["limit"])),
    )
    if direct:
        answer = solved(found, phi, temperature_K, pressure_Pa, limit_s)
    else:
        answer = from_tables(found, phi, temperature_K, pressure_Pa)
    if as_json:
        print_json({"gas": found.name, **_result(answer), "cautions": cautions()})
    else:
        click.echo(_text(found.name, answer))
        print_notes("Notes", answer.notes)
        print_cautions(found)


def _equivalence_ratio(aeration: str | None, phi: str | None) -> float:
    from burnerlab.quantity import Kind, read

    if (aeration is None) == (phi is None):
        what = "give one of them, not both" if aeration is not None else "how much air is mixed in?"
        raise UserError(Problem(what, key="--aeration or --phi", fix="e.g. --aeration 0.55, or --phi 1.0"))
    low, high = LOWEST_AERATION, HIGHEST_AERATION
    if aeration is not None:
        return 1.0 / read(aeration, Kind.FRACTION, key="--aeration", low=low, high=high)
    return read(str(phi), Kind.FRACTION, key="--phi", low=1 / high, high=1 / low)


def _temperature_K(text: str) -> float:
    from burnerlab.quantity import Kind, read

    return read(text, Kind.TEMPERATURE, key="--unburnt-temperature")


def _limit_s(text: str) -> float:
    from burnerlab.quantity import Kind, read

    return read(text, Kind.TIME, key="--limit", low=1.0, high=86400.0)


def _result(answer: FlameAnswer) -> dict[str, Any]:
    from burnerlab.flame.accuracy import COVERAGE_FACTOR

    return {
        "aeration": 1.0 / answer.equivalence_ratio,
        "equivalence_ratio": answer.equivalence_ratio,
        "unburnt_temperature_K": answer.unburnt_temperature_K,
        "pressure_kPa": answer.pressure_Pa / 1e3,
        "burning_velocity_cm_per_s": 100.0 * answer.burning_velocity_m_per_s,
        "burning_velocity_error_percent": 100.0 * answer.relative_error,
        "burning_velocity_error_coverage_factor": COVERAGE_FACTOR,
        "adiabatic_flame_temperature_K": answer.adiabatic_flame_temperature_K,
        "thermal_thickness_mm": 1e3 * answer.thermal_thickness_m,
        "measured_over_computed": answer.measured_over_computed,
        "model": answer.model,
        "evidence": answer.evidence,
        "error_terms": answer.error_terms,
        "notes": answer.notes,
    }


def _text(name: str, answer: FlameAnswer) -> str:
    from burnerlab.flame.accuracy import COVERAGE_FACTOR

    result = _result(answer)
    error = f"{number(result['burning_velocity_error_percent'], 2)} % (k = {COVERAGE_FACTOR})"
    return facts(
        [
            ("Gas", name),
            (
                "Equivalence ratio",
                f"{number(answer.equivalence_ratio)} (aeration {number(result['aeration'])})",
            ),
            (
                "Unburnt mixture",
                f"{number(answer.unburnt_temperature_K)} K, {number(result['pressure_kPa'])} kPa absolute",
            ),
            (
                "Burning velocity",
                f"{number(result['burning_velocity_cm_per_s'], 3)} cm/s, standard error {error}",
            ),
            ("Adiabatic flame temperature", f"{number(answer.adiabatic_flame_temperature_K)} K"),
            ("Thermal thickness", f"{number(result['thermal_thickness_mm'], 3)} mm"),
            ("Model", answer.model),
            ("Evidence", answer.evidence),
        ]
    )


@command.command(short_help="Compute the flame tables anew.")
@click.option("--out", metavar="DIR", default="flame-tables", show_default=True, help="Where the tables go.")
@click.option(
    "--work", metavar="DIR", help="Where finished units are kept, DIR/work of --out when not given."
)
@click.option("--only", metavar="GAS", multiple=True, help="Only these gases of the plan; may be repeated.")
@click.option(
    "--workers", type=click.IntRange(1, 256), metavar="N", help="Local processes; all cores when not given."
)
@click.option("--cluster", metavar="ADDRESS", help="Scheduler of a running dask cluster: tcp://host:port.")
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
    from burnerlab.flame.assemble import assemble
    from burnerlab.flame.run import run_plan

    target = Path(out)
    folder = Path(work) if work else target / "work"
    with _executor(workers, cluster) as executor, _bar(quiet=as_json) as progress:
        failed = run_plan(executor, folder, tuple(only), progress)
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
    if cluster is None:
        from concurrent.futures import ProcessPoolExecutor
        from multiprocessing import get_context

        with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
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
