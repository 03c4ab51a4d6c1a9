"""How often the true part is said first: units with simulated faults, read with noise, explained, counted.

The faults are made by ``simulated_faults``, whose formulas are not those of ``explain``; priors were fixed before.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.project.model import Appliance
from burnerlab.bench.decision_rule import bench_limit
from burnerlab.bench.faults.explanation import danger_first, gas_stops
from burnerlab.bench.faults.scenarios import (
    NONE,
    SOUND,
    Hypotheses,
    figure_layout,
    hypotheses,
    log_shares,
    member_of_groups,
    normalised,
)
from burnerlab.bench.faults.simulation import FAULTS, Shop, SimulatedUnits, shop_of, simulate
from burnerlab.bench.reading.manifold import calculated_input, highest_pressure_Pa, manifold_range
from burnerlab.bench.reading.readings import Method, Reading
from burnerlab.bench.unit import unit_under_test
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables.problem import Problem, UserError

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Sampling = Literal["by the priors", "evenly"]
UNITS, SEED = 1000, 1
MOST_UNITS = 100_000
BLOCK = 250  # units held in memory at once
FIRST = 3  # places of a list that somebody reads


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultRow:
    """What became of the simulated units of one true cause, by groups of causes that ask for one action."""

    cause: str = field(metadata=output("true cause"))
    group: str = field(metadata=output("group"))
    units: int = field(metadata=output("units"))
    true_group_first: int = field(metadata=output("first"))
    in_first_three: int = field(metadata=output("three"))
    stopped: int = field(metadata=output("stopped"))
    three_or_stopped: int = field(metadata=output("three or stopped"))
    first_by_group: tuple[int, ...] = field(
        metadata=output("ranked first, by group")
    )  # how often each group, in the order of the study, was said first


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultTable:
    """Units drawn in one way and read in one way."""

    sampling: Sampling = field(metadata=output("simulated units"))
    pressure_read: bool = field(metadata=output("pressure read"))
    causes: tuple[FaultRow, ...] = field(metadata=output("by cause"))

    @property
    @computed_output("units")
    def units(self) -> int:
        return sum(row.units for row in self.causes)

    @property
    @computed_output("ranked first", Kind.FRACTION)
    def first(self) -> float:
        """Part of all units whose true group is said first [-]."""
        return sum(row.true_group_first for row in self.causes) / self.units

    @property
    @computed_output("in first three", Kind.FRACTION)
    def in_first_three(self) -> float:
        """Part of all units whose true group is among the first three [-]."""
        return sum(row.in_first_three for row in self.causes) / self.units


@dataclass(frozen=True, slots=True, kw_only=True)
class StopCounts:
    """How often a test stops: on units without a fault, and on units that ought to stop."""

    pressure_read: bool = field(metadata=output("pressure read"))
    sound: int = field(metadata=output("without a fault"))
    sound_stopped: int = field(metadata=output("without a fault, stopped"))
    sound_by_band: int = field(
        metadata=output("without a fault, stopped by the band of the pressure")
    )  # among those: a setting or a gauge at the end of what it is allowed
    other_gas: int = field(metadata=output("other gas"))
    other_gas_missed: int = field(metadata=output("other gas, not stopped"))  # without any stop
    overfired: int = field(
        metadata=output("overfired")
    )  # units with a burner more than a tenth above its expected input
    overfired_missed: int = field(metadata=output("overfired, not stopped"))


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultStudy:
    """SimulatedUnits units, the group said first for each, and whether the test was stopped."""

    appliance: str = field(metadata=output("appliance"))
    burner: str = field(metadata=output("burner"))
    method: Method = field(metadata=output("method"))
    units: int = field(metadata=output("units"))  # of every table
    seed: int = field(metadata=output("seed"))
    reading_uncertainty: float = field(
        metadata=output("noise of a reading", Kind.FRACTION)
    )  # relative standard, of the reading [-]
    groups: tuple[str, ...] = field(metadata=output("groups"))
    tables: tuple[FaultTable, ...] = field(
        metadata=output("tables")
    )  # drawn by the priors and evenly, each read without and with the pressure
    stops: tuple[StopCounts, ...] = field(metadata=output("stops"))  # without and with the pressure

    def table(self, sampling: Sampling, *, pressure_read: bool) -> FaultTable:
        """One of the tables."""
        return next(
            table
            for table in self.tables
            if (table.sampling, table.pressure_read) == (sampling, pressure_read)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitFindings:
    """What ``explain`` says of many simulated units."""

    ranks: NDArray[np.int64]  # [unit, place] groups in the order they are said
    other_gas: Array  # probability [unit]
    overfire: Array
    stopped: Flags  # by any notice
    stopped_by_band: Flags  # by the band of the manifold pressure


def simulate_faults(
    appliance: Appliance,
    burner: str | None = None,
    *,
    faults: int = UNITS,
    reading_uncertainty: float = 0.02,
    method: Method = "meter",
    seed: int = SEED,
    own_causes: Path | None = None,
) -> FaultStudy:
    """Build units with faults drawn by the priors and evenly, read each with noise, explain the readings, count.

    burner : the one that is on, None for all together; faults : units of each table
    reading_uncertainty : relative standard, of the heat input [-]
    A unit counts as found when the group of its true cause is said first, or among the first three.
    Raises UserError for a number of units or an uncertainty that cannot be used.
    """
    if not 1 <= faults <= MOST_UNITS:
        raise UserError(Problem("number of faults", str(faults), "faults", accepted=f"1 to {MOST_UNITS}"))
    if not 0.0 < reading_uncertainty <= 0.5:
        raise UserError(
            Problem("must be above 0 and at most 50 %", f"{reading_uncertainty:g}", "uncertainty")
        )
    h = hypotheses(unit_under_test(appliance, burner, method), own_causes)
    shop = shop_for(h, burner, seed)
    counted, stops = [], []
    built = {
        sampling: simulate(shop, _causes_of_units(h, faults, sampling, shop), reading_uncertainty)
        for sampling in SAMPLINGS
    }
    sound = simulate(shop, [SOUND] * faults, reading_uncertainty)
    for pressure_read in (False, True):
        findings = {
            sampling: explain_units(h, units, reading_uncertainty, pressure_read)
            for sampling, units in built.items()
        }
        counted += [
            _table(h, built[sampling], findings[sampling], sampling, pressure_read) for sampling in SAMPLINGS
        ]
        quiet = explain_units(h, sound, reading_uncertainty, pressure_read)
        stops.append(_stops(built["evenly"], findings["evenly"], quiet, pressure_read))
    return FaultStudy(
        appliance=appliance.name,
        burner=h.unit.firings[0].burner,
        method=method,
        units=faults,
        seed=seed,
        reading_uncertainty=reading_uncertainty,
        groups=h.groups,
        tables=tuple(counted),
        stops=tuple(stops),
    )


SAMPLINGS: tuple[Sampling, ...] = ("by the priors", "evenly")


def shop_for(h: Hypotheses, burner: str | None, seed: int) -> Shop:
    """The shop that builds units of this appliance, with the first of the other supplies of its region."""
    if not h.unit.substitutes:
        raise UserError(Problem("no other gas is known at a pressure of this region", key="faults"))
    substitute, firing = h.unit.substitutes[0], h.unit.firings[0]
    random = np.random.default_rng(seed)
    name = firing.burner or None
    return shop_of(
        h.unit.appliance, name, (substitute.gas.gas, substitute.gauge_pressure_Pa), firing.method, random
    )


def _causes_of_units(h: Hypotheses, faults: int, sampling: Sampling, shop: Shop) -> list[str]:
    """Causes of so many units; what nobody listed cannot be built."""
    priors = {cause.name: p for cause, p in zip(h.causes, h.priors, strict=True) if cause.name != NONE}
    names = [name for name in priors if name in FAULTS]
    if sampling == "evenly":
        return [names[i % len(names)] for i in range(faults)]
    p = np.array([priors[name] for name in names])
    return list(shop.random.choice(names, size=faults, p=p / p.sum()))


def explain_units(h: Hypotheses, units: SimulatedUnits, u: float, pressure_read: bool) -> UnitFindings:
    """What ``explain`` says of simulated units, a heat input of each read alone or with the manifold pressure."""
    reading = Reading(ratio=1.0, relative_uncertainty=u, pressure_ratio=1.0 if pressure_read else None)
    layout = figure_layout(h.unit, [reading])
    figures = np.log(np.stack([units.ratio, units.pressure_ratio], axis=1)[:, : 2 if pressure_read else 1])
    flags = [h.scenarios.other_gas > 1.0, h.overfires, h.is_sound]
    columns = np.concatenate([member_of_groups(h), np.stack(flags, axis=1)], axis=1)
    summed = np.concatenate(
        [
            normalised(log_shares(h, layout, figures[start : start + BLOCK])) @ columns
            for start in range(0, len(figures), BLOCK)
        ]
    )
    shares, danger = np.split(summed[:, : -len(flags)], 2, axis=1)
    other_gas, overfire, sound = summed[:, -len(flags) :].T
    above, in_band = _heat_inputs(h, units, pressure_read=pressure_read)
    by_band = _beyond_pressure_band(h, units) if pressure_read else np.zeros(len(above), dtype=bool)
    in_bands = in_band & ~by_band
    likely = (overfire > bench_limit("stop_overfire").high) & ~in_bands
    gas = gas_stops(other_gas, sound) & ~(in_bands & pressure_read)
    return UnitFindings(
        ranks=danger_first(shares, danger),
        other_gas=other_gas,
        overfire=overfire,
        stopped=gas | likely | above | by_band,
        stopped_by_band=by_band,
    )


def _heat_inputs(h: Hypotheses, units: SimulatedUnits, *, pressure_read: bool) -> tuple[Flags, Flags]:
    """Whether the heat input of each unit is above its limit, and whether it is in the band of the rating."""
    firing, appliance = h.unit.firings[0], h.unit.appliance
    read_W = units.ratio * firing.expected_W
    rated_W = sum(one.rate_W for one in firing.expected.burners) / h.unit.rated.of_gross
    band = appliance.limits.tolerance
    if pressure_read:
        limit_W = bench_limit("overfire").high * firing.expected_W * np.sqrt(units.pressure_ratio)
    else:
        limit_W = np.full(len(read_W), calculated_input(appliance, firing.burner or None, None).most_W)
    rated_limit_W = bench_limit("overfire").high * rated_W
    above = (read_W > limit_W) | (read_W > rated_limit_W)
    share = read_W / rated_W - 1.0
    return above, (band.low <= share) & (share <= band.high) & ~above


def _beyond_pressure_band(h: Hypotheses, units: SimulatedUnits) -> Flags:
    """Whether the manifold pressure of each unit is outside what its regulator should hold, or above the highest."""
    held, appliance = manifold_range(h.unit.appliance), h.unit.appliance
    read_Pa = units.pressure_ratio * h.unit.firings[0].expected.manifold_Pa
    return (read_Pa < held.low_Pa) | (read_Pa > min(held.high_Pa, highest_pressure_Pa(appliance)))


def _table(
    h: Hypotheses, units: SimulatedUnits, findings: UnitFindings, sampling: Sampling, pressure_read: bool
) -> FaultTable:
    of = {cause.name: cause.group for cause in h.causes}
    groups = [group or of[cause] for cause, group in zip(units.causes, units.groups, strict=True)]
    true = np.array([h.groups.index(group) for group in groups])
    first, three = findings.ranks[:, 0] == true, (findings.ranks[:, :FIRST] == true[:, None]).any(axis=1)
    names = np.array(units.causes)
    rows = []
    for cause in dict.fromkeys(cause.name for cause in h.causes if cause.name in set(units.causes)):
        members = names == cause
        rows.append(
            FaultRow(
                cause=cause,
                group=of[cause],
                units=int(members.sum()),
                true_group_first=int(first[members].sum()),
                in_first_three=int(three[members].sum()),
                stopped=int(findings.stopped[members].sum()),
                three_or_stopped=int((three | findings.stopped)[members].sum()),
                first_by_group=tuple(
                    np.bincount(findings.ranks[members, 0], minlength=len(h.groups)).tolist()
                ),
            )
        )
    return FaultTable(sampling=sampling, pressure_read=pressure_read, causes=tuple(rows))


def _stops(
    units: SimulatedUnits, findings: UnitFindings, sound: UnitFindings, pressure_read: bool
) -> StopCounts:
    hot = units.hottest > bench_limit("overfire").high
    return StopCounts(
        pressure_read=pressure_read,
        sound=len(sound.stopped),
        sound_stopped=int(sound.stopped.sum()),
        sound_by_band=int(sound.stopped_by_band.sum()),
        other_gas=int(units.other_gas.sum()),
        other_gas_missed=int((units.other_gas & ~findings.stopped).sum()),
        overfired=int(hot.sum()),
        overfired_missed=int((hot & ~findings.stopped).sum()),
    )
