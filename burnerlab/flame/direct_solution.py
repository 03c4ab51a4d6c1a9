"""A flame solved on request, started from the nearest shipped profile."""

from __future__ import annotations

import time
from collections.abc import Mapping
from functools import cache

import numpy as np

from burnerlab.flame.making.ladder import unpacked
from burnerlab.flame.making.plan import BASE_TEMPERATURE_K, BASE_PRESSURE_Pa
from burnerlab.flame.mechanism import narrow_cut, solution, wide_cut
from burnerlab.flame.profile import FlameState, Profile
from burnerlab.flame.solver import (
    Clock,
    OutOfTimeError,
    SolvedFlame,
    TooFarError,
    approach,
    finish,
    result,
    steps_between,
)
from burnerlab.tables import package_dir
from burnerlab.tables.problem import Problem, UserError

LIMIT_s = 120.0
RANGES = {
    "equivalence ratio": (0.5, 2.5, ""),
    "unburnt temperature": (250.0, 700.0, " K"),
    "pressure": (40e3, 200e3, " Pa absolute"),
}
"""Where a direct solve is offered; the model has no rich limit of its own."""


@cache
def seeds() -> tuple[Profile, ...]:
    """The shipped seed profiles."""
    with np.load(package_dir() / "tables" / "data" / "flame_seeds.npz") as data:
        names = sorted({key.rsplit("/", 1)[0] for key in data.files if "/" in key})
        return tuple(
            unpacked(
                {key.rsplit("/", 1)[1]: data[key] for key in data.files if key.rsplit("/", 1)[0] == name}
            )
            for name in names
        )


def direct(
    gas: Mapping[str, float],
    equivalence_ratio: float,
    unburnt_temperature_K: float = BASE_TEMPERATURE_K,
    pressure_Pa: float = BASE_PRESSURE_Pa,
    limit_s: float = LIMIT_s,
) -> SolvedFlame:
    """Solve one flat flame with Cantera within a wall-clock limit.

    gas : component -> mole fraction; equivalence_ratio [-]; unburnt_temperature_K [K]; pressure_Pa : absolute [Pa];
    limit_s : wall-clock limit [s].
    Steps on the narrow list of species from the nearest profile, the result on the wide one. One solve at a time in
    a process: the gas object is shared.
    Raises UserError outside the range, for a component without chemistry, when the limit is reached or the solver
    does not converge. Source: nuig-n-hexane-2015.
    """
    state = _checked(gas, equivalence_ratio, unburnt_temperature_K, pressure_Pa)
    narrow, wide = narrow_cut(state.gas), wide_cut(state.gas)
    start = min(seeds(), key=lambda seed: steps_between(seed.state, state))
    started, clock = time.monotonic(), Clock.of(limit_s)
    try:
        reached, _ = approach(solution(narrow), start, state, clock)
        fine, coarse = finish(solution(wide), reached, state, clock)
    except OutOfTimeError:
        fix = "use the tables (without --direct), or a longer limit"
        what = f"the flame was not solved within {limit_s:g} s"
        raise UserError(Problem(what, key="direct solve", fix=fix)) from None
    except TooFarError:
        fix = "use the tables (without --direct), or a mixture nearer to stoichiometric"
        what = "the flame solver did not converge, even in its shortest steps"
        raise UserError(Problem(what, key="direct solve", fix=fix)) from None
    return result(fine, coarse, f"{wide.name}: {len(wide.species)} species", time.monotonic() - started)


def _checked(gas: Mapping[str, float], phi: float, temperature_K: float, pressure_Pa: float) -> FlameState:
    problems = []
    for value, (key, (low, high, unit)) in zip(
        (phi, temperature_K, pressure_Pa), RANGES.items(), strict=True
    ):
        if not low <= value <= high:
            accepted = f"{low:g} to {high:g}{unit}"
            problems.append(
                Problem("outside the range of a direct solve", f"{value:g}", key=key, accepted=accepted)
            )
    if problems:
        raise UserError(problems)
    kept = {name: float(share) for name, share in gas.items() if share > 0}
    total = sum(kept.values())
    return FlameState(
        gas={name: share / total for name, share in kept.items()},
        equivalence_ratio=float(phi),
        unburnt_temperature_K=float(temperature_K),
        pressure_Pa=float(pressure_Pa),
    )
