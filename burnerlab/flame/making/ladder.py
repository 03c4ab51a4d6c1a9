"""Compute one unit of work: a ladder of flames over the equivalence ratio, each rung started from the one before."""

from __future__ import annotations

import time
import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from burnerlab.flame.making.plan import WorkUnit
from burnerlab.flame.mechanism import narrow_cut, solution, wide_cut
from burnerlab.flame.profile import RATIO_INTERVALS, FlameState, Profile, solved_profile
from burnerlab.flame.solver import (
    TIME_STEPS,
    Clock,
    OutOfTimeError,
    SolvedFlame,
    TooFarError,
    approach,
    ends,
    finish,
    onward,
    result,
)

COLD_WIDTH_m = 0.03  # at 101.325 kPa
COLD_CRITERIA = {"ratio": 5.0, "slope": 0.2, "curve": 0.4}
POINT_LIMIT_s = 300.0
SEED_RATIOS = (0.7, 1.0, 1.3, 1.6, 2.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One flame of a table, or why there is none."""

    equivalence_ratio: float
    status: str  # "solved", or what went wrong in words
    burning_velocity_m_per_s: float = 0.0
    adiabatic_flame_temperature_K: float = 0.0
    thermal_thickness_m: float = 0.0
    grid_error: float = 0.0
    grid_points: int = 0
    species: int = 0
    seconds: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Ladder:
    """The results of one unit: its points, and the profiles kept to start others."""

    unit: WorkUnit
    points: tuple[Point, ...]
    seeds: Mapping[float, Profile]


def cold_start(gas: Any, state: FlameState, clock: Clock) -> Profile:
    """A first profile from nothing: Cantera's ramp on a fixed width, refined coarsely. Costs seconds.

    Raises TooFarError, OutOfTimeError.
    """
    import cantera

    final = ends(gas, state)
    gas.TPY = state.unburnt_temperature_K, state.pressure_Pa, final.unburnt_fractions
    flame: Any = cantera.FreeFlame(gas, width=COLD_WIDTH_m * 101325.0 / state.pressure_Pa)
    flame.transport_model = "mixture-averaged"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        flame.set_initial_guess()
    flame.set_refine_criteria(**COLD_CRITERIA)
    flame.set_interrupt(clock.on_evaluation)
    try:
        flame.solve(loglevel=0, refine_grid=True, auto=False)
    except cantera.CanteraError as error:
        raise TooFarError from error
    finally:
        flame.set_interrupt(None)
    return solved_profile(flame, state, final.burnt_K, tuple(gas.species_names))


def climb(unit: WorkUnit, seed: Profile | None = None, limit_s: float = POINT_LIMIT_s) -> Ladder:
    """Solve every rung of a unit; a rung that fails is recorded and left out, the next starts from the last good one.

    seed : profile to start from; None starts from nothing
    limit_s : wall-clock limit of each rung [s]
    """
    narrow = solution(narrow_cut(unit.gas))
    first = unit.state(unit.ladder[0])
    try:
        clock = Clock.of(limit_s)
        last = cold_start(narrow, first, clock) if seed is None else approach(narrow, seed, first, clock)[0]
    except (TooFarError, OutOfTimeError) as error:
        why = f"not started: {in_words(error)}"
        none = tuple(Point(equivalence_ratio=phi, status=why) for phi in unit.ladder)
        return Ladder(unit=unit, seeds={}, points=none)
    points: list[Point] = []
    seeds: dict[float, Profile] = {}
    before: Profile | None = None
    for phi in unit.ladder:
        started, clock = time.monotonic(), Clock.of(limit_s)
        try:
            (fine, coarse), last, before = _rung(unit, unit.state(phi), last, before, clock)
        except (TooFarError, OutOfTimeError) as error:
            seconds = time.monotonic() - started
            points.append(Point(equivalence_ratio=phi, status=in_words(error), seconds=seconds))
            continue
        points.append(_point(phi, result(fine, coarse, "", time.monotonic() - started), len(fine.species)))
        if unit.wide and phi in SEED_RATIOS:
            seeds[phi] = last
    return Ladder(unit=unit, points=tuple(points), seeds=seeds)


def _rung(
    unit: WorkUnit, state: FlameState, last: Profile, before: Profile | None, clock: Clock
) -> tuple[tuple[Profile, Profile], Profile, Profile | None]:
    """The two grids of one rung, the profile to go on from, and the one before it."""
    narrow = solution(narrow_cut(unit.gas))
    if not unit.wide:
        try:
            grids = finish(narrow, onward(before, last, state), state, clock, TIME_STEPS, RATIO_INTERVALS)
        except TooFarError:
            pass
        else:
            return grids, grids[1], last
    reached, before = approach(narrow, last, state, clock, before)
    if unit.wide:
        return finish(solution(wide_cut(unit.gas)), reached, state, clock), reached, before
    return finish(narrow, reached, state, clock, intervals=RATIO_INTERVALS), reached, before


def _point(phi: float, flame: SolvedFlame, species: int) -> Point:
    return Point(
        equivalence_ratio=phi,
        status="solved",
        burning_velocity_m_per_s=flame.burning_velocity_m_per_s,
        adiabatic_flame_temperature_K=flame.adiabatic_flame_temperature_K,
        thermal_thickness_m=flame.thermal_thickness_m,
        grid_error=flame.grid_error,
        grid_points=flame.grid_points,
        species=species,
        seconds=flame.seconds,
    )


def in_words(error: Exception) -> str:
    """What stopped a solve, for people."""
    if isinstance(error, OutOfTimeError):
        return "the time limit was reached"
    return "the solver did not converge, even in the shortest steps"


def packed(profile: Profile) -> dict[str, Any]:
    """A profile as plain arrays, for a file."""
    state = profile.state
    return {
        "grid_m": profile.grid_m.astype(np.float32),
        "temperature_K": profile.temperature_K.astype(np.float32),
        "velocity_m_per_s": profile.velocity_m_per_s.astype(np.float32),
        "mass_fractions": profile.mass_fractions.astype(np.float32),
        "species": np.array(profile.species),
        "adiabatic_flame_temperature_K": np.float64(profile.adiabatic_flame_temperature_K),
        "gas": np.array(list(state.gas)),
        "shares": np.array(list(state.gas.values()), dtype=np.float64),
        "state": np.array([state.equivalence_ratio, state.unburnt_temperature_K, state.pressure_Pa]),
    }


def unpacked(data: Mapping[str, Any]) -> Profile:
    """The profile a file holds."""
    phi, temperature_K, pressure_Pa = (float(value) for value in data["state"])
    shares = zip(data["gas"].tolist(), data["shares"].tolist(), strict=True)
    return Profile(
        state=FlameState(
            gas=dict(shares),
            equivalence_ratio=phi,
            unburnt_temperature_K=temperature_K,
            pressure_Pa=pressure_Pa,
        ),
        grid_m=np.asarray(data["grid_m"], dtype=np.float64),
        temperature_K=np.asarray(data["temperature_K"], dtype=np.float64),
        velocity_m_per_s=np.asarray(data["velocity_m_per_s"], dtype=np.float64),
        mass_fractions=np.asarray(data["mass_fractions"], dtype=np.float64),
        species=tuple(data["species"].tolist()),
        adiabatic_flame_temperature_K=float(data["adiabatic_flame_temperature_K"]),
    )
