"""Where a burner lifts, lights back or tips yellow: factors on the flame's limits from what was seen and not seen."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from burnerlab.bench.bench_samples import FULL, WATCHED, Sample
from burnerlab.bench.conditions import (
    CalibrationSetup,
    by_burner_and_gas,
    column,
    geometry_of,
    surroundings_of,
)
from burnerlab.bench.constants import ModelConstant, rules
from burnerlab.bench.learn_discharge import narrowed, not_narrowed
from burnerlab.bench.learning.primary_air import (
    TABLE,
    PrimaryAirFit,
    SharedErrors,
    aerations,
    batches,
    usable,
)
from burnerlab.bench.sighting_fit import Sightings, Threshold, threshold
from burnerlab.burner.arrays import Array
from burnerlab.burner.burner import EvaluationOptions
from burnerlab.burner.coefficients import coefficients
from burnerlab.burner.evaluate import evaluate
from burnerlab.burner.stability import is_rich
from burnerlab.burner.state import BurnerState

REED, RICH, BACK, YELLOW = "Reed factor", "rich lift spread", "light-back factor", "yellow tip scale"
BY_LOAD: Mapping[str, float] = {"lift": -1.0, "light-back": 1.0, "yellow tips": 0.0}
"""Power with which each margin goes with the flow through the ports."""
NUDGE = 1e-3  # relative change of the primary air, for a slope
RAISES: Mapping[str, float] = {REED: 1.0, RICH: 1.0, BACK: -1.0, YELLOW: -1.0}
"""Sign with which a larger factor moves the margin: a higher lift limit is better, the others worse."""


@dataclass(frozen=True, slots=True)
class Sighting:
    """One thing looked for at one margin."""

    sample: Sample
    name: str  # of the observation
    row: str  # of the table of coefficients
    margin: float  # above 1 on the good side, with the table in use and what the record told before
    shared: Array  # what the margin's log is wrong by with each independent shared error of one standard deviation
    seen: bool


def limit_constants(
    samples: Sequence[Sample], setup: CalibrationSetup, air: PrimaryAirFit, only: frozenset[str]
) -> tuple[list[ModelConstant], list[str]]:
    """Factors on the limits of the flame, and why sightings were left out.

    air : what is known of the primary air by now; only : names to learn, all when empty
    """
    found, notes = sightings(samples, setup, air)
    constants: list[ModelConstant] = []
    shift = 0.0
    for row in (REED, RICH, BACK, YELLOW):
        mine = [one for one in found if one.row == row]
        if not mine or (only and row not in only):
            continue
        if row == RICH:  # the rich rule starts from Reed's factor
            mine = [replace(one, margin=one.margin * np.exp(shift)) for one in mine]
        constant = _constant(row, mine, setup)
        if row == REED and constant.is_learned:
            shift = float(np.log(constant.value / coefficients(setup.own)[REED].value))
        constants.append(constant)
    return constants, notes


def sightings(
    samples: Sequence[Sample], setup: CalibrationSetup, known: PrimaryAirFit
) -> tuple[list[Sighting], list[str]]:
    """Every observation with the margin of the model at its state.

    The primary air is the calculated one, also where a sample was taken: a single reading's error would pass for
    scatter of the flame and pull the limit towards it.
    """
    watched = [s for s in usable(samples) if s.seen and not s.burner.kind.traits.is_radiant]
    found: list[Sighting] = []
    lost: dict[str, int] = {}
    if watched:
        air = aerations(batches(watched, setup), len(watched), known.moved)
        shared = known.shared(watched, setup)
        for places in by_burner_and_gas(watched).values():
            part = _Kind([watched[k] for k in places], air[places], shared.at(places), setup, {})
            for name in WATCHED:
                if any(name in s.seen for s in part.samples):
                    found += _of_one_kind(name, part, lost)
    unseen = sum(1 for s in samples if s.seen) - len(watched)
    if unseen:
        lost["observations of tiles, or of burners without ports, throat or a gas composition"] = unseen
    return found, [f"{why}: {count} left out" for why, count in lost.items()]


@dataclass(frozen=True, slots=True)
class _Kind:
    """Samples of one kind of burner on one gas, with what is known of their air; each state is evaluated once."""

    samples: Sequence[Sample]
    aeration: Array
    shared: SharedErrors
    setup: CalibrationSetup
    known: dict[tuple[float, float], BurnerState]

    def state(self, load: float, factor: float) -> BurnerState:
        """The state at a load with the primary air times a factor."""
        if (load, factor) not in self.known:
            self.known[load, factor] = evaluate(
                geometry_of(self.samples, self.setup),
                self.setup.fuel_of(self.samples[0]),
                column(self.samples, lambda s: s.gauge_pressure_Pa),
                surroundings_of(self.samples),
                EvaluationOptions(
                    load=load, aeration=self.aeration * factor, own=self.setup.own, hot=self.setup.hot
                ),
            )
        return self.known[load, factor]

    def log_margin(self, name: str, load: float, factor: float = 1.0) -> Array:
        found: Array = np.log(_margins(name, self.state(load, factor), len(self.samples))[0])
        return found

    def slopes(self, name: str, load: float) -> Array:
        """Change of the log margin with the log of the air; the flatter side where the law breaks."""
        here = self.log_margin(name, load)
        below = (here - self.log_margin(name, load, float(np.exp(-NUDGE)))) / NUDGE
        above = (self.log_margin(name, load, float(np.exp(NUDGE))) - here) / NUDGE
        found: Array = np.nan_to_num(np.where(np.abs(below) < np.abs(above), below, above))
        return found


def _of_one_kind(name: str, part: _Kind, lost: dict[str, int]) -> Iterator[Sighting]:
    """One observation of samples of one kind of burner on one gas."""
    (limit, rate), burner = WATCHED[name], part.samples[0].burner
    load = 1.0 if rate == FULL else burner.turndown
    if load is None:
        why = f"{name}: the smallest rate of {burner.name} is not given"
        lost[why] = sum(name in s.seen for s in part.samples)
        return
    margins, rows = _margins(name, part.state(load, 1.0), len(part.samples))
    errors = BY_LOAD[limit] * part.shared.of_jet
    if np.any(part.shared.of_air):
        errors = errors + part.slopes(name, load)[:, None] * part.shared.of_air
    for sample, margin, error, row in zip(part.samples, margins, errors, rows, strict=True):
        if name not in sample.seen:
            continue
        if not (np.isfinite(margin) and margin > 0.0):
            why = f"{name} of {burner.name}: the limit is not known at this state"
            lost[why] = lost.get(why, 0) + 1
            continue
        yield Sighting(sample, name, row, float(margin), error, sample.seen[name])


def _margins(name: str, state: BurnerState, count: int) -> tuple[Array, list[str]]:
    """Margins of an observation, and the row its limit rests on."""
    if name.startswith("lift"):
        rich = np.broadcast_to(is_rich(state.at.gas_fraction, state.options.own), (count,))
        return np.broadcast_to(state.lift_margin, (count,)), [RICH if r else REED for r in rich]
    if name == "light-back":
        bound = np.broadcast_to(state.at.light_back_is_bound, (count,))
        margin = np.where(bound, np.nan, state.light_back_margin)
        return np.broadcast_to(margin, (count,)), [BACK] * count
    return np.broadcast_to(state.yellow_tip_margin, (count,)), [YELLOW] * count


def _constant(row: str, sightings: Sequence[Sighting], setup: CalibrationSetup) -> ModelConstant:
    prior, used, sign = setup.prior(row), coefficients(setup.own)[row].value, RAISES[row]
    serials = list(dict.fromkeys(one.sample.serial for one in sightings))
    units = len(serials)
    constant = ModelConstant(
        name=row,
        table=TABLE,
        row=row,
        unit="-",
        prior=prior.value,
        prior_low=prior.low,
        prior_high=prior.high,
        value=used,
        low=coefficients(setup.own)[row].low,
        high=coefficients(setup.own)[row].high,
        units=units,
        readings=len(sightings),
        spread=None,
        outliers=(),
        is_learned=False,
        written=False,
        why=f"{units} units do not show their spread",
    )
    if units < rules()["fewest units"]:
        return constant
    result = _threshold(sightings, serials, sign, float(np.log(prior.value / used)), prior.log_deviation)
    outliers = tuple(serials[k] for k in result.outliers)
    ratio = result.deviation / prior.log_deviation
    seen = sum(one.seen for one in sightings)
    sides = f"seen {seen} times of {len(sightings)}"
    constant = replace(
        constant, outliers=outliers, units=units - len(outliers), spread=result.scatter,
        why=f"{sides}; {not_narrowed(ratio)}",
    )  # fmt: skip
    if ratio > rules()["told ratio"]:
        return constant
    value, low, high = (float(used * np.exp(x)) for x in (result.median, result.low, result.high))
    return replace(
        constant,
        value=value,
        low=low,
        high=high,
        is_learned=True,
        written=True,
        why=f"{sides}; {narrowed(ratio)}",
    )


def _threshold(
    found: Sequence[Sighting], serials: Sequence[str], sign: float, mean: float, deviation: float
) -> Threshold:
    """The log factor; a factor that raises the margin counts with its sign turned, and is turned back."""
    data = Sightings(
        log_margin=np.log([one.margin for one in found]),
        seen=np.array([one.seen for one in found]),
        unit=np.array([serials.index(one.sample.serial) for one in found], dtype=np.intp),
        shared=np.array([one.shared for one in found]),
    )
    told = threshold(data, -sign * mean, deviation)
    if sign < 0.0:
        return told
    return replace(told, median=-told.median, low=-told.high, high=-told.low)
