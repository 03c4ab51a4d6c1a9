"""Direct solution of a flat flame with Cantera: from a nearby profile, on a fixed pair of grids, within a time limit.

Never Cantera's automatic start: it costs 2 to 7 times as much and may not return. A state far from the
profile is
reached in steps on the coarse grid; a step that does not converge is halved. The burning velocity of the
fine grid
and of its every second point are extrapolated to spacing zero, which removes the first-order error of the
scheme.
"""

from __future__ import annotations

import time
import warnings
from dataclasses import dataclass, replace
from math import ceil, log
from typing import Any

import numpy as np
from numpy.typing import NDArray

from burnerlab.flame.mechanism import SPECIES
from burnerlab.flame.profile import (
    DOWNSTREAM_THICKNESSES,
    INTERVALS,
    RATIO_INTERVALS,
    UPSTREAM_THICKNESSES,
    FlameEnds,
    FlameState,
    Profile,
    adapted,
    between,
    fitted,
    predicted,
    solved_profile,
)

FloatArray = NDArray[np.float64]

TIME_STEPS = 30  # pseudo-time steps a solve may take before its step is halved
SMALLEST_STEP = 1 / 200  # of the way
CRITERIA = (
    f"mixture-averaged transport without thermal diffusion, {INTERVALS} and {INTERVALS // 2} intervals adapted to the "
    f"solution, {UPSTREAM_THICKNESSES:g} thicknesses upstream and {DOWNSTREAM_THICKNESSES:g} downstream, "
    f"extrapolated to spacing zero; ratios on {RATIO_INTERVALS} and {RATIO_INTERVALS // 2}"
)


class TooFarError(Exception):
    """The guess is too far from the solution for Newton's method."""


class OutOfTimeError(Exception):
    """The wall-clock limit was reached."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SolvedFlame:
    """A flame solved directly, with what it was computed from."""

    burning_velocity_m_per_s: float
    adiabatic_flame_temperature_K: float
    thermal_thickness_m: float
    grid_error: float  # fine grid over the extrapolated value, less 1
    grid_points: int
    seconds: float
    mechanism: str
    state: FlameState
    profile: Profile
    criteria: str = CRITERIA


@dataclass(slots=True)
class Clock:
    """Stops a solve at the wall-clock limit, or after too many pseudo-time steps."""

    deadline: float
    steps_left: int = TIME_STEPS

    @classmethod
    def of(cls, seconds: float) -> Clock:
        return cls(deadline=time.monotonic() + seconds)

    def on_evaluation(self, _: float) -> float:
        """Called by Cantera at every evaluation of the residual."""
        if time.monotonic() > self.deadline:
            raise OutOfTimeError
        return 0.0

    def on_time_step(self, _: float) -> float:
        """Called by Cantera after every pseudo-time step."""
        self.steps_left -= 1
        if self.steps_left < 0:
            raise TooFarError
        return 0.0

    def patient(self, steps: int) -> Clock:
        """The same limit with its own number of pseudo-time steps."""
        return Clock(deadline=self.deadline, steps_left=steps)


def ends(gas: Any, state: FlameState) -> FlameEnds:
    """Unburnt mixture and equilibrium products of a state, by Cantera."""
    mixture = {SPECIES[name]: moles for name, moles in state.mixture().items() if moles > 0}
    gas.TPX = state.unburnt_temperature_K, state.pressure_Pa, mixture
    unburnt, density = np.array(gas.Y), float(gas.density)
    with warnings.catch_warnings():  # the start of the equilibrium solver may leave the range of the data
        warnings.simplefilter("ignore")
        gas.equilibrate("HP")
    return FlameEnds(
        unburnt_K=state.unburnt_temperature_K,
        unburnt_fractions=unburnt,
        unburnt_density_kg_per_m3=density,
        burnt_K=float(gas.T),
        burnt_fractions=np.array(gas.Y),
    )


def in_order(profile: Profile, species: tuple[str, ...]) -> Profile:
    """The profile with the species of another cut; those it lacks are absent."""
    if profile.species == species:
        return profile
    place = {name: k for k, name in enumerate(profile.species)}
    empty = np.zeros_like(profile.temperature_K)
    fractions = [profile.mass_fractions[place[name]] if name in place else empty for name in species]
    return replace(profile, species=species, mass_fractions=np.array(fractions))


def relax(gas: Any, state: FlameState, guess: Profile, grid_m: FloatArray, clock: Clock) -> Profile:
    """Solve one state on one grid from the profile of another; no refinement.

    Raises TooFarError, OutOfTimeError.
    """
    import cantera

    species = tuple(gas.species_names)
    guess = in_order(guess, species)
    old, new = ends(gas, guess.state), ends(gas, state)
    temperature, fractions = fitted(guess, grid_m, old, new)
    gas.TPY = new.unburnt_K, state.pressure_Pa, new.unburnt_fractions
    flame = cantera.FreeFlame(gas, grid=grid_m - grid_m[0])
    flame.transport_model = "mixture-averaged"
    # marks the flame as started, or solve() would replace the profiles set below by its own ramp and add a point
    cantera.onedim.FlameBase.set_initial_guess(flame)
    place = (grid_m - grid_m[0]) / (grid_m[-1] - grid_m[0])
    rate = guess.burning_velocity_m_per_s * new.unburnt_density_kg_per_m3
    gas.TPY = new.unburnt_K, state.pressure_Pa, new.unburnt_fractions
    weight = np.array(1 / gas.molecular_weights) @ fractions
    velocity = guess.burning_velocity_m_per_s * (temperature * weight) / (temperature[0] * weight[0])
    flame.inlet.mdot = rate
    flow: Any = flame.flame
    put: Any = flow.set_profile if hasattr(flow, "set_profile") else flame.set_profile  # moved in Cantera 3.2
    put("velocity", place, velocity)
    put("T", place, temperature)
    for name, row in zip(species, fractions, strict=True):
        put(name, place, row)
    flame.fixed_temperature = float(temperature[int(np.argmin(np.abs(grid_m)))])
    _guarded(flame, clock)
    if float(np.max(flame.T)) < new.unburnt_K + 0.5 * (new.burnt_K - new.unburnt_K):
        raise TooFarError  # extinguished
    return solved_profile(flame, state, new.burnt_K, species)


def _guarded(flame: Any, clock: Clock) -> None:
    import cantera

    flame.set_interrupt(clock.on_evaluation)
    flame.set_time_step_callback(clock.on_time_step)
    try:
        flame.solve(loglevel=0, refine_grid=False, auto=False)
    except (TooFarError, OutOfTimeError):
        raise
    except cantera.CanteraError as error:
        if time.monotonic() > clock.deadline:
            raise OutOfTimeError from error
        raise TooFarError from error
    finally:
        flame.set_interrupt(None)
        flame.set_time_step_callback(None)


LARGEST_STEPS = {"equivalence ratio": 0.08, "temperature": 0.25, "pressure": 0.35, "composition": 0.1}
"""Change in one step: of the logarithm, of the mole fraction for a composition."""
LONGEST_EXTRAPOLATION = 2.5  # strides
PATIENCE = 200  # pseudo-time steps where no shorter step is left to try


def steps_between(start: FlameState, end: FlameState) -> int:
    """Steps in which a state is reached from another."""
    shares = set(start.gas) | set(end.gas)
    change = max(abs(start.gas.get(name, 0.0) - end.gas.get(name, 0.0)) for name in shares)
    far = (
        abs(log(end.equivalence_ratio / start.equivalence_ratio)) / LARGEST_STEPS["equivalence ratio"],
        abs(log(end.unburnt_temperature_K / start.unburnt_temperature_K)) / LARGEST_STEPS["temperature"],
        abs(log(end.pressure_Pa / start.pressure_Pa)) / LARGEST_STEPS["pressure"],
        change / LARGEST_STEPS["composition"],
    )
    return max(1, ceil(max(far) - 1e-9))


def approach(
    gas: Any, start: Profile, target: FlameState, clock: Clock, before: Profile | None = None
) -> tuple[Profile, Profile | None]:
    """Walk from a solved profile to another state on the coarse grid; a step that does not converge is halved.

    before : profile solved before ``start``, to extrapolate from; None if there is none
    Returns the profile reached and the one solved before it. Raises OutOfTimeError, and TooFarError when the
    shortest step does not converge.
    """
    reached, step, last = 0.0, 1.0 / steps_between(start.state, target), start
    while reached < 1.0 - 1e-12:
        share = min(1.0, reached + step)
        state = target if share == 1.0 else between(start.state, target, share)
        try:
            solved = rung(gas, last, state, clock.patient(TIME_STEPS), before)
        except TooFarError:
            if step < SMALLEST_STEP:
                raise
            step, before = step / 2, None
            continue
        before, last, reached = last, solved, share
        step = min(1.5 * step, 1.0)
    return last, before


def rung(gas: Any, last: Profile, state: FlameState, clock: Clock, before: Profile | None = None) -> Profile:
    """One state on the coarse grid from the last profile, or from what the last two point to."""
    guess = onward(before, last, state)
    grid = adapted(guess.grid_m, guess.fields(), guess.thermal_thickness_m, INTERVALS // 2)
    return relax(gas, state, guess, grid, clock)


def onward(before: Profile | None, last: Profile, state: FlameState) -> Profile:
    """The guess for a state: extrapolated if two profiles lie on the way to it, else the last profile."""
    if before is None or before.species != last.species or before.state.gas != last.state.gas:
        return last
    ratio = strides(before.state, last.state, state)
    return last if ratio is None else predicted(before, last, state, ratio)


def strides(first: FlameState, second: FlameState, third: FlameState) -> float | None:
    """How many times the way from first to second lies between second and third; None if they are not on one line.

    >>> one, two, three = (FlameState(gas={"methane": 1.0}, equivalence_ratio=phi, unburnt_temperature_K=298.15,
    ...     pressure_Pa=101325.0) for phi in (1.0, 1.1, 1.21))
    >>> strides(one, two, three)
    1.0
    """
    names = ("equivalence_ratio", "unburnt_temperature_K", "pressure_Pa")
    here = [log(getattr(second, name) / getattr(first, name)) for name in names]
    there = [log(getattr(third, name) / getattr(second, name)) for name in names]
    moving = [k for k in range(len(names)) if here[k] or there[k]]
    if len(moving) != 1 or third.gas != second.gas or not here[moving[0]]:
        return None
    ratio = there[moving[0]] / here[moving[0]]
    return ratio if 0 < ratio <= LONGEST_EXTRAPOLATION else None


def finish(
    gas: Any,
    guess: Profile,
    state: FlameState,
    clock: Clock,
    steps: int = PATIENCE,
    intervals: int = INTERVALS,
) -> tuple[Profile, Profile]:
    """The fine grid and its every second point, from a profile of the same or a neighbouring state."""
    grid = adapted(guess.grid_m, guess.fields(), guess.thermal_thickness_m, intervals)
    fine = relax(gas, state, guess, grid, clock.patient(steps))
    coarse = relax(gas, state, fine, fine.grid_m[::2], clock.patient(PATIENCE))
    return fine, coarse


def result(fine: Profile, coarse: Profile, mechanism: str, seconds: float) -> SolvedFlame:
    """Extrapolate two grids to spacing zero: twice the fine value less the coarse one."""
    speed = 2 * fine.burning_velocity_m_per_s - coarse.burning_velocity_m_per_s
    return SolvedFlame(
        burning_velocity_m_per_s=speed,
        adiabatic_flame_temperature_K=fine.adiabatic_flame_temperature_K,
        thermal_thickness_m=2 * fine.thermal_thickness_m - coarse.thermal_thickness_m,
        grid_error=fine.burning_velocity_m_per_s / speed - 1,
        grid_points=fine.grid_m.size,
        seconds=seconds,
        mechanism=mechanism,
        state=fine.state,
        profile=fine,
    )
