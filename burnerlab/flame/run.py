"""The whole plan of the flame tables through one executor, in its two rounds."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from pathlib import Path

from burnerlab.flame.build import Progress, run, starts
from burnerlab.flame.making.plan import WorkUnit, first_units, gases, second_units
from burnerlab.tables.problem import Problem, UserError


def chosen(units: Sequence[WorkUnit], only: Sequence[str]) -> tuple[WorkUnit, ...]:
    """The units of some gases; all when none is named.

    Raises UserError for a gas the plan does not hold.

    >>> len(chosen(first_units(), ["methane"]))
    2
    """
    known = {unit.label for unit in (*first_units(), *second_units())}
    for name in only:
        if name not in known:
            raise UserError(
                Problem("no flames of this gas in the plan", name, "--only", accepted=", ".join(gases()))
            )
    return tuple(unit for unit in units if not only or unit.label in only)


def run_plan(executor: Executor, folder: Path, only: Sequence[str], progress: Progress) -> dict[str, str]:
    """Both rounds of the plan: the flames at the base state, then those at other states started from their profiles.

    Returns name -> what went wrong, for units lost as a whole.
    """
    first, second = chosen(first_units(), only), chosen(second_units(), only)
    total = len(first) + len(second)
    failed = run(first, executor, folder, progress=lambda done, _, name: progress(done, total, name))
    seeds = starts(folder, first_units())
    for unit in second:  # a diluted gas starts from the undiluted one
        pure = seeds.get(unit.label.split(" with ")[0])
        if unit.label not in seeds and pure is not None:
            seeds[unit.label] = pure
    later = run(
        second, executor, folder, seeds, lambda done, _, name: progress(len(first) + done, total, name)
    )
    return failed | later
