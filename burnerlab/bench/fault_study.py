"""How often the true cause is named: simulated faults drawn from the list, read with noise, explained, counted."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.model import Appliance
from burnerlab.bench.decision import bench_limit
from burnerlab.bench.explain import NONE
from burnerlab.bench.hypotheses import Hypotheses, by_cause, hypotheses, log_shares, normalised
from burnerlab.bench.unit import Method, bench_of
from burnerlab.quantity.error import Problem, UserError

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
FAULTS, SEED = 1000, 1
MOST_FAULTS = 100_000
BLOCK = 500  # faults held in memory at once
NO_FAULT = ("as it should be", NONE)  # not faults of the list


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultRow:
    """What became of the simulated faults of one true cause."""

    cause: str
    faults: int
    named_first: int
    in_first_three: int
    told_apart: int
    told_apart_in_first_three: int
    named: tuple[int, ...]  # how often each cause, in the order of the study, was named first


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultStudy:
    """Simulated faults, the cause named first for each, and how often the true one is among the first three."""

    appliance: str
    burner: str
    faults: int
    seed: int
    reading_uncertainty: float  # relative standard, of the reading [-]
    unit_scatter: float
    apart: float  # standard deviations between two predicted readings that count as apart [-]
    causes: tuple[str, ...]
    rows: tuple[FaultRow, ...]

    @property
    def in_first_three(self) -> float:
        """Share of all faults [-]."""
        return sum(row.in_first_three for row in self.rows) / self.faults

    @property
    def told_apart(self) -> int:
        """Faults that can be told apart at all."""
        return sum(row.told_apart for row in self.rows)

    @property
    def told_apart_in_first_three(self) -> float:
        """Share of those whose true cause is among the first three [-]; NaN when none can be told apart."""
        found = sum(row.told_apart_in_first_three for row in self.rows)
        return found / self.told_apart if self.told_apart else math.nan


@dataclass(frozen=True, slots=True)
class _Counted:
    """Per fault: its cause, the cause named first, whether the true one is among three, whether it can be told."""

    true: NDArray[np.int64]
    first: NDArray[np.int64]
    three: Flags
    apart: Flags


def simulate_faults(
    appliance: Appliance,
    burner: str | None = None,
    *,
    faults: int = FAULTS,
    reading_uncertainty: float = 0.02,
    method: Method = "meter",
    seed: int = SEED,
    own_causes: Path | None = None,
) -> FaultStudy:
    """Draw faults from the list, every cause equally often, read each with noise, and explain the reading.

    A fault can be told apart when its predicted reading differs from every possible reading of every cause that is
    more likely beforehand (of larger prior share) by more than so many standard deviations of the noise as the
    table ``bench_limits`` says under told_apart. The noise is that of the reading and of unit to unit.
    Raises UserError for a number of faults or an uncertainty that cannot be used.
    """
    if not 1 <= faults <= MOST_FAULTS:
        raise UserError(Problem("number of faults", str(faults), "faults", accepted=f"1 to {MOST_FAULTS}"))
    if not 0.0 < reading_uncertainty <= 0.5:
        raise UserError(
            Problem("must be above 0 and at most 50 %", f"{reading_uncertainty:g}", "uncertainty")
        )
    h = hypotheses(bench_of(appliance, burner, method), own_causes)
    scatter = math.hypot(reading_uncertainty, h.unit_scatter)
    limit = bench_limit("told_apart").high
    random = np.random.default_rng(seed)
    drawn = _draw(h, faults, random)
    apart = _told_apart(h, limit * scatter)[drawn]
    counted = _explained(h, drawn, apart, scatter, random)
    names = tuple(cause.name for cause in h.causes)
    return FaultStudy(
        appliance=appliance.name,
        burner=h.bench.burners[0].name if burner else "",
        faults=faults,
        seed=seed,
        reading_uncertainty=reading_uncertainty,
        unit_scatter=h.unit_scatter,
        apart=limit,
        causes=names,
        rows=tuple(
            _row(counted, i, name, len(names)) for i, name in enumerate(names) if name not in NO_FAULT
        ),
    )


def _draw(h: Hypotheses, faults: int, random: np.random.Generator) -> NDArray[np.int64]:
    """Possibilities drawn: causes in turn, then a possibility of the cause by its weight."""
    can = [i for i, cause in enumerate(h.causes) if cause.name not in NO_FAULT]
    drawn = np.empty(faults, dtype=np.int64)
    for order, i in enumerate(can):
        places = np.arange(order, faults, len(can))
        mine = np.flatnonzero(h.cause_of == i)
        weight = np.exp(h.log_prior[mine])
        drawn[places] = random.choice(mine, size=len(places), p=weight / weight.sum())
    return drawn


def _told_apart(h: Hypotheses, noise: float) -> Flags:
    """For every possibility whether each likelier cause predicts only readings further away than the noise."""
    priors, apart = h.priors, np.ones(len(h.log_reading), dtype=bool)
    for i in range(len(h.causes)):
        rivals = np.sort(h.log_reading[h.cause_of == i])
        below = np.searchsorted(rivals, h.log_reading)
        left = h.log_reading - rivals[np.maximum(below - 1, 0)]
        right = rivals[np.minimum(below, len(rivals) - 1)] - h.log_reading
        near = np.minimum(np.abs(left), np.abs(right)) <= noise
        apart &= ~(near & (priors[i] > priors[h.cause_of]))
    return apart


def _explained(
    h: Hypotheses, drawn: NDArray[np.int64], apart: Flags, scatter: float, random: np.random.Generator
) -> _Counted:
    readings = h.log_reading[drawn] + scatter * random.standard_normal(len(drawn))
    true = h.cause_of[drawn]
    first = np.empty_like(true)
    three = np.empty(len(drawn), dtype=bool)
    for start in range(0, len(drawn), BLOCK):  # blocks of faults, to bound the memory
        part = slice(start, start + BLOCK)
        shares = by_cause(h, normalised(log_shares(h, readings[part], scatter)))
        ranked = np.argsort(-shares, axis=1)[:, :3]
        first[part] = ranked[:, 0]
        three[part] = (ranked == true[part, None]).any(axis=1)
    return _Counted(true, first, three, apart)


def _row(counted: _Counted, i: int, name: str, causes: int) -> FaultRow:
    mine = counted.true == i
    return FaultRow(
        cause=name,
        faults=int(mine.sum()),
        named_first=int((counted.first[mine] == i).sum()),
        in_first_three=int(counted.three[mine].sum()),
        told_apart=int(counted.apart[mine].sum()),
        told_apart_in_first_three=int((counted.three & counted.apart)[mine].sum()),
        named=tuple(np.bincount(counted.first[mine], minlength=causes).tolist()),
    )
