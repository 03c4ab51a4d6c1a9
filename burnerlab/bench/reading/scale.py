"""Weighing a cylinder: mass lost over time, with scale, drift and watch in the budget."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.bench.decision_rule import Rating, bench_limit
from burnerlab.bench.reading.heat_input import (
    HeatContent,
    InputMeasured,
    RatingState,
    compared,
    correction_of,
    factor_problems,
    factor_quantity,
)
from burnerlab.bench.reading.readings import (
    NO_REPEAT,
    agreement_notes,
    doubts,
    refuse_impossible,
    repeats_of,
    timing_problems,
)
from burnerlab.bench.uncertainty import (
    DRAWS,
    Instrument,
    Quantity,
    budget,
    instruments,
    monte_carlo,
)
from burnerlab.quantity import Kind
from burnerlab.quantity.inputs import input_row
from burnerlab.quantity.outputs import output
from burnerlab.tables.phrase import Phrase
from burnerlab.tables.problem import Problem, UserError

Array = NDArray[np.float64]
SCALE_SLIPS = "check the unit of the scale, the time and the heating value"
TIMED = ("first reading", "last reading", "drift", "start and stop", "repeats")
SMALL_LOSS = 20.0  # digits of the scale


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighReading:
    """What the scale and the watch read."""

    mass_losses_kg: tuple[float, ...] = field(metadata=output("mass losses", Kind.MASS))
    times_s: tuple[float, ...] = field(metadata=output("times", Kind.TIME))  # one for each loss
    resolution_kg: float | None = field(
        default=None, metadata=output("resolution", Kind.MASS, unit="g")
    )  # None: the last digit of the table's bench scale, or that of a coarser reading
    written_digit_kg: float | None = field(
        default=None, metadata=output("last digit of the readings", Kind.MASS)
    )  # as they were written; None: not known
    drift_kg: float = field(
        default=0.0, metadata=output("drift", Kind.MASS, unit="g")
    )  # largest change of the empty scale over the test
    other_load_gross_W: float = field(default=0.0, metadata=output("other load", Kind.POWER, basis="gross"))
    scale_factor: float | None = field(
        default=None, metadata=output("scale factor")
    )  # mass over mass shown [-]; None: no certificate
    scale_factor_uncertainty: float | None = field(
        default=None, metadata=output("standard uncertainty of the scale factor", Kind.FRACTION)
    )  # relative; None: that of the table of instruments

    def check(self) -> None:
        """Refuse what no scale reads; every problem at once."""
        problems = []
        if not self.mass_losses_kg or len(self.mass_losses_kg) != len(self.times_s):
            problems.append(Problem("a mass loss and a time are needed for each reading", key="mass loss"))
        problems += [
            problem
            for name, key, value in (
                *(("mass_loss", "mass loss", mass) for mass in self.mass_losses_kg),
                *(("weighing_time", "time", time) for time in self.times_s),
                ("scale_digit", "resolution", self.resolution_kg),
                ("scale_drift", "drift", self.drift_kg),
            )
            for problem in input_row(name).problems(value, key)
        ]
        if not problems:
            rates = [mass / time for mass, time in zip(self.mass_losses_kg, self.times_s, strict=True)]
            problems += timing_problems(self.times_s, rates, "mass")
        if not 0.0 <= self.other_load_gross_W < math.inf:
            problems.append(Problem("must not be negative", f"{self.other_load_gross_W:g} W", "other load"))
        problems += factor_problems("scale factor", self.scale_factor, self.scale_factor_uncertainty)
        if problems:
            raise UserError(problems)


def written_digit_kg(readings: Iterable[tuple[str, float]]) -> float | None:
    """The last digit of the coarsest reading as it was written [kg]; None where no reading shows one.

    ``readings`` are texts with their masses [kg].

    >>> written_digit_kg([("35.0 lb", 15.875733), ("34.4 lb", 15.603577)])
    0.0453592
    >>> written_digit_kg([("250 g", 0.25)])
    0.001
    """
    digits = []
    for text, mass_kg in readings:
        number = re.match(r"\s*(\d+)(?:\.(\d+))?", text)
        if number is not None and float(number[0]) > 0.0:
            digits.append(mass_kg / float(number[0]) * 10.0 ** -len(number[2] or ""))
    return max(digits, default=None)


def mass_flow_kg_per_s(mass_loss_kg: ArrayLike, time_s: ArrayLike) -> Array:
    """Mass lost over time [kg/s].

    >>> float(mass_flow_kg_per_s(0.25, 1800.0)) * 3600
    0.5
    """
    flow: Array = np.divide(np.asarray(mass_loss_kg, dtype=float), time_s)
    return flow


def weigh(
    reading: WeighReading,
    heat: HeatContent,
    rating: Rating | None = None,
    state: RatingState | None = None,
    *,
    own: Path | None = None,
    draws: int = DRAWS,
) -> InputMeasured:
    """Heat input by scale and watch: I = dm/dt H, its uncertainty, and where it stands against the rating.

    Arguments as ``clock``. Raises UserError for readings that cannot be.

    >>> from burnerlab.bench.reading.heat_input import heat_content
    >>> from burnerlab.gas import load
    >>> from burnerlab.quantity import PRESETS
    >>> propane = heat_content(load("propane"), PRESETS["ISO_15_15"])
    >>> weigh(WeighReading(mass_losses_kg=(0.25,), times_s=(1800.0,)), propane).heat_input_gross_W
    6995.84
    """
    reading.check()
    by_name = instruments(own)
    quantities = _quantities(reading, heat, by_name)
    several = len(reading.times_s) > 1
    linear = budget(_model, quantities, "W", notes=() if several else (NO_REPEAT,))
    if not linear.value > 0.0:
        raise UserError(Problem("the other load is as large as the whole reading", key="other load"))
    flow = linear.value / heat.quantity("mass").estimate
    per_m3 = heat.gross_J_per_m3
    correction = (
        None if state is None else correction_of(heat, state, rating.basis if rating else "gross", own)
    )
    simulated = monte_carlo(_model, quantities, linear, draws) if draws else None
    refuse_impossible(linear, simulated, "mass loss")
    comparison = compared(linear, heat, rating, correction, SCALE_SLIPS)
    return InputMeasured(
        method="scale",
        heat=heat,
        budget=linear,
        monte_carlo=simulated,
        heat_input_net_W=linear.value * heat.net_to_gross,
        mass_flow_kg_per_s=flow,
        standard_volume_flow_m3_per_s=None if per_m3 is None else linear.value / per_m3,
        time_s=float(np.mean(reading.times_s)),
        correction=correction,
        comparison=comparison,
        notes=(
            *_notes(reading, heat, by_name),
            *linear.notes,
            *(comparison.notes if comparison else ()),
            *doubts(comparison, "scale", "mass loss"),
        ),
    )


def _model(x: Mapping[str, Any]) -> Array:
    mass = np.multiply(x["mass loss"] + x["first reading"] + x["last reading"] + x["drift"], x["scale"])
    time = x["time"] + x["start and stop"]
    heat: Array = (mass_flow_kg_per_s(mass, time) + x["repeats"]) * x["heating value"] - x["other load"]
    return heat


def _quantities(
    reading: WeighReading, heat: HeatContent, instruments: Mapping[str, Instrument]
) -> tuple[Quantity, ...]:
    losses, times = np.array(reading.mass_losses_kg), np.array(reading.times_s)
    n, rates = len(times), losses / times
    time = float(np.mean(times))
    mass = float(np.mean(rates)) * time  # so that the quotient is the mean of the rates
    digit = instruments["scale resolution"]
    half = 0.5 * _digit_kg(reading, instruments)
    scale = half / digit.half_width / math.sqrt(n)
    drift = Quantity(
        name="drift",
        words="drift of the scale",
        estimate=0.0,
        standard_uncertainty=reading.drift_kg / math.sqrt(3.0),
        unit="kg",
        shape="uniform",
        source="entered by the user" if reading.drift_kg else "",
    )
    load = reading.other_load_gross_W
    return (
        Quantity(name="mass loss", words="mass lost", estimate=mass, standard_uncertainty=0.0, unit="kg"),
        Quantity(name="time", words="time read", estimate=time, standard_uncertainty=0.0, unit="s"),
        *(
            replace(
                digit.quantity(name, 0.0, "kg", scale=scale),
                words=Phrase("{digit}, {reading}", digit=digit.words, reading=name),
            )
            for name in ("first reading", "last reading")
        ),
        drift,
        factor_quantity(instruments, "scale", reading.scale_factor, reading.scale_factor_uncertainty),
        instruments["start and stop"].quantity("start and stop", 0.0, "s", scale=1.0 / math.sqrt(n)),
        repeats_of(rates.tolist(), "repeated weighings", "kg/s"),
        heat.quantity("mass"),
        instruments["other load"].quantity("other load", load, "W", scale=load),
    )


def least_weighing_min(loss_kg_per_s: float, digit_kg: float | None = None) -> int:
    """Minutes that a cylinder is weighed at least: until it has lost ``SMALL_LOSS`` times the last digit of the scale.

    digit_kg : None takes that of the table of instruments

    >>> least_weighing_min(0.1 / 3600.0, 0.001), least_weighing_min(0.1 / 3600.0, 0.01)
    (12, 120)
    """
    digit = instruments()["scale resolution"].half_width if digit_kg is None else digit_kg
    return math.ceil(max(SMALL_LOSS * digit / loss_kg_per_s, bench_limit("timing").low) / 60.0 - 1e-9)


def _digit_kg(reading: WeighReading, instruments: Mapping[str, Instrument]) -> float:
    """Last digit of the scale [kg]: stated, else the coarser of the table's and that of the readings."""
    if reading.resolution_kg is not None:
        return reading.resolution_kg
    return max(instruments["scale resolution"].half_width, reading.written_digit_kg or 0.0)


def _notes(
    reading: WeighReading, heat: HeatContent, instruments: Mapping[str, Instrument]
) -> tuple[str, ...]:
    notes = list(heat.notes)
    if reading.scale_factor is not None:
        notes.append(f"scale factor {reading.scale_factor:g}: mass over mass shown")
    digit = _digit_kg(reading, instruments)
    if reading.resolution_kg is None:
        is_coarse = digit > instruments["scale resolution"].half_width
        of = ", the last digit of the readings" if is_coarse else ""
        notes.append(f"resolution of the scale not given: taken as {1e3 * digit:.3g} g{of}")
    least = min(reading.mass_losses_kg)
    if digit and least < SMALL_LOSS * digit:
        slowest = min(loss / time for loss, time in zip(reading.mass_losses_kg, reading.times_s, strict=True))
        minutes = least_weighing_min(slowest, digit)
        seen = f"the loss is only {least / digit:.3g} digits of the scale"
        notes.append(f"{seen}: weigh over a longer time, {minutes} min at least")
    timing = bench_limit("timing")
    if min(reading.times_s) < timing.low:
        notes.append(f"weighed over less than {timing.low:g} s")
    rates = np.array(reading.mass_losses_kg) / np.array(reading.times_s)
    notes += agreement_notes(rates.tolist())
    notes.append("vapour drawn from a cylinder of mixed LP gas is lighter than its liquid at first")
    return tuple(notes)
