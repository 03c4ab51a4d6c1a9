"""An uncertainty budget: the law of propagation, the interval it gives, and Monte Carlo beside it.

A measurement is a model of named quantities, each with an estimate and a standard uncertainty. The same model
serves the linear budget (one case at a time) and Monte Carlo (arrays).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.appliance.study.monte_carlo import DIVISOR
from burnerlab.bench.decision_rule import bench_limit
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables import cite
from burnerlab.tables.problem import Problem, UserError

Array = NDArray[np.float64]
Model = Callable[[Mapping[str, Any]], Any]
COVERAGE = 0.95
DRAWS, SEED = 200_000, 1
FEWEST_DRAWS, MOST_DRAWS = 1000, 5_000_000
STANDARD_ERRORS = 4.0  # of the Monte Carlo interval that an agreement may miss
FEWEST_FOR_MONTE_CARLO = 4  # bench-gum-s1 6.4.9: a t distribution below 3 degrees of freedom has no deviation


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """One quantity of a measurement."""

    name: str = field(metadata=output("quantity"))
    words: str = field(metadata=output("where the uncertainty comes from"))
    estimate: float = field(metadata=output("estimate"))
    standard_uncertainty: float = field(metadata=output("standard uncertainty"))
    unit: str = field(metadata=output("unit"))
    shape: str = field(default="normal", metadata=output("shape"))  # normal, uniform, triangular, t
    degrees_of_freedom: float = field(default=math.inf, metadata=output("degrees of freedom"))
    kind: Literal["A", "B"] = field(default="B", metadata=output("type"))
    source: str = field(default="", metadata=output("source"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Contribution:
    """What one quantity adds to the uncertainty of the result."""

    quantity: Quantity = field(metadata=output("quantity", is_part=True))
    sensitivity: float = field(metadata=output("sensitivity"))  # of the result to the quantity
    contribution: float  # sensitivity times standard uncertainty, not negative
    relative: float = field(metadata=output("contribution over the result", Kind.FRACTION))
    variance_fraction: float = field(metadata=output("fraction of the variance", Kind.FRACTION))


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """A result with its uncertainty and where it comes from."""

    value: float
    unit: str
    standard_uncertainty: float
    degrees_of_freedom: float = field(metadata=output("effective degrees of freedom"))  # Welch-Satterthwaite
    coverage: float = field(metadata=output("coverage", Kind.FRACTION))
    coverage_factor: float = field(metadata=output("coverage factor"))
    contributions: tuple[Contribution, ...] = field(
        metadata=output("where the uncertainty comes from")
    )  # by falling share
    notes: tuple[str, ...] = ()

    @property
    def expanded(self) -> float:
        """Expanded uncertainty, in the unit of the value."""
        return self.coverage_factor * self.standard_uncertainty

    @property
    def low(self) -> float:
        """Lower end of the coverage interval."""
        return self.value - self.expanded

    @property
    def high(self) -> float:
        """Upper end of the coverage interval."""
        return self.value + self.expanded

    @property
    def relative(self) -> float:
        """Standard uncertainty over the value [-]."""
        return self.standard_uncertainty / abs(self.value) if self.value else math.inf

    @property
    def relative_expanded(self) -> float:
        """Expanded uncertainty over the value [-]."""
        return self.coverage_factor * self.relative


@dataclass(frozen=True, slots=True, kw_only=True)
class MonteCarlo:
    """The propagated distribution, and how it agrees with a linear budget."""

    draws: int = field(metadata=output("draws"))
    seed: int = field(metadata=output("seed"))
    mean: float
    standard_deviation: float
    low: float  # of the probabilistically symmetric interval
    high: float
    low_difference: float  # of the linear interval's lower end from this
    high_difference: float
    tolerance: float  # half the last of two digits of the uncertainty, and the scatter of the draws
    agrees: bool = field(metadata=output("agrees"))
    note: str = field(default="", metadata=output("note"))

    @property
    @computed_output("departure over the half width", Kind.FRACTION)
    def departure(self) -> float:
        """How far the linear interval's ends lie from these, over the half width [-]."""
        half = 0.5 * (self.high - self.low)
        return max(abs(self.low_difference), abs(self.high_difference)) / half if half > 0.0 else 0.0

    @property
    @computed_output("use this interval")
    def use_this_interval(self) -> bool:
        """Whether it says something else than the linear one."""
        return not self.agrees and self.departure > bench_limit("interval departure").high


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """How far a reading may be from what it reads."""

    name: str
    half_width: float  # standard deviation when normal
    unit: str
    shape: str
    words: str
    source: str

    @property
    def standard_uncertainty(self) -> float:
        """Half width over the divisor of the shape, in the unit of the instrument."""
        return self.half_width / DIVISOR[self.shape]

    def quantity(self, name: str, estimate: float, unit: str, scale: float = 1.0) -> Quantity:
        """A quantity read with it; ``scale`` turns its unit into that of the quantity."""
        return Quantity(
            name=name,
            words=self.words,
            estimate=estimate,
            standard_uncertainty=self.standard_uncertainty * abs(scale),
            unit=unit,
            shape=self.shape,
            source=self.source,
        )


def instruments(own: Path | None = None) -> Mapping[str, Instrument]:
    """Every instrument of the table ``instrument_uncertainty``; rows of ``own`` (same columns) go before.

    >>> instruments()["gas meter"].standard_uncertainty
    0.00577
    """
    return {
        row["name"]: Instrument(
            name=row["name"],
            half_width=row.number("half_width"),
            unit=row["unit"],
            shape=row["shape"],
            words=row["words"],
            source=f"{cite(row['source'])} ({row['provenance']})",
        )
        for row in tables.read("instrument_uncertainty", own)
    }


def repeatability(values: Sequence[float], name: str, words: str, unit: str) -> Quantity:
    """The scatter of the mean of repeated readings, s/sqrt(n) with n - 1 degrees of freedom, about zero.

    values : readings of one quantity [unit]
    Raises UserError for fewer than two: a single reading has no scatter. Source: bench-gum 4.2.

    >>> repeatability([10.0, 10.2, 9.8], "repeat", "repeated timings", "s").standard_uncertainty
    0.1155
    """
    n = len(values)
    if n < 2:
        what = "no standard deviation from one reading: need n >= 2; Type B u required"
        raise UserError(Problem(what, value=f"n = {n}", key="repeats", fix="repeat the reading"))
    return Quantity(
        name=name,
        words=words,
        estimate=0.0,
        standard_uncertainty=float(np.std(values, ddof=1)) / math.sqrt(n),
        unit=unit,
        shape="t",
        degrees_of_freedom=float(n - 1),
        kind="A",
        source=f"{n} readings",
    )


def coverage_factor(degrees_of_freedom: ArrayLike, coverage: float = COVERAGE) -> Any:
    """What expands a standard uncertainty: the quantile (1 + p)/2 of Student's t [-].

    >>> float(coverage_factor(float("inf"))), float(coverage_factor(2.0))
    (1.95996, 4.30265)
    """
    from scipy.special import ndtri, stdtrit

    if not 0.0 < coverage < 1.0:
        raise UserError(Problem("a coverage lies between 0 and 1", f"{coverage:g}", "coverage"))
    freedom = np.asarray(degrees_of_freedom, dtype=float)
    p = (1.0 + coverage) / 2.0
    finite = np.where(np.isfinite(freedom), freedom, 1.0)
    return np.where(np.isfinite(freedom), stdtrit(finite, p), ndtri(p))


def budget(
    model: Model,
    quantities: Sequence[Quantity],
    unit: str,
    coverage: float = COVERAGE,
    notes: Sequence[str] = (),
) -> Budget:
    """Law of propagation: u^2 = sum (c_i u_i)^2, with c_i u_i = [f(x_i + u_i) - f(x_i - u_i)]/2.

    model : result [unit] of the quantities by name; they are taken as independent
    Effective degrees of freedom by Welch and Satterthwaite. Source: bench-gum 5.1 and annex G.

    >>> length = Quantity(name="a", words="", estimate=3.0, standard_uncertainty=0.03, unit="m")
    >>> width = Quantity(name="b", words="", estimate=2.0, standard_uncertainty=0.02, unit="m")
    >>> budget(lambda x: x["a"] * x["b"], [length, width], "m2").standard_uncertainty
    0.0849
    """
    centre = {q.name: q.estimate for q in quantities}
    value = float(model(centre))
    moved = [_moved(model, centre, q, value) for q in quantities]
    variance = math.fsum(c * c for c in moved)
    root = math.sqrt(variance)
    contributions = [
        Contribution(
            quantity=q,
            sensitivity=c / q.standard_uncertainty if q.standard_uncertainty else 0.0,
            contribution=abs(c),
            relative=abs(c / value) if value else math.inf,
            variance_fraction=c * c / variance if variance else 0.0,
        )
        for q, c in zip(quantities, moved, strict=True)
    ]
    freedom = _effective(root, contributions)
    return Budget(
        value=value,
        unit=unit,
        standard_uncertainty=root,
        degrees_of_freedom=freedom,
        coverage=coverage,
        coverage_factor=float(coverage_factor(freedom, coverage)),
        contributions=tuple(sorted(contributions, key=lambda part: -part.variance_fraction)),
        notes=tuple(notes),
    )


def _moved(model: Model, centre: Mapping[str, float], q: Quantity, value: float) -> float:
    """Half the change of the result between both sides; from one side where the model ends at the other."""
    u = q.standard_uncertainty
    if not u:
        return 0.0
    sides = []
    for sign in (1.0, -1.0):
        try:
            moved = float(model({**centre, q.name: q.estimate + sign * u}))
        except UserError:
            continue
        if math.isfinite(moved):
            sides.append((moved - value) * sign)
    if not sides:
        what = "the result cannot be computed within the uncertainty of this quantity"
        raise UserError(Problem(what, value=q.words or q.name, key="uncertainty"))
    return math.fsum(sides) / len(sides)


def _effective(root: float, contributions: Sequence[Contribution]) -> float:
    below = math.fsum(
        contribution.contribution**4 / contribution.quantity.degrees_of_freedom
        for contribution in contributions
        if math.isfinite(contribution.quantity.degrees_of_freedom)
    )
    return root**4 / below if below > 0.0 else math.inf


def draw(q: Quantity, draws: int, random: np.random.Generator) -> Array:
    """Random values of a quantity in its shape; a type A one is a scaled and shifted t."""
    u = q.standard_uncertainty
    if q.shape == "t":
        return q.estimate + u * random.standard_t(q.degrees_of_freedom, draws)
    if q.shape == "normal":
        return q.estimate + u * random.standard_normal(draws)
    half = u * DIVISOR[q.shape]
    if q.shape == "triangular":
        return q.estimate + half * (random.random(draws) - random.random(draws))
    return q.estimate + half * (2.0 * random.random(draws) - 1.0)


def monte_carlo(
    model: Model, quantities: Sequence[Quantity], linear: Budget, draws: int = DRAWS, seed: int = SEED
) -> MonteCarlo:
    """Propagation of distributions, and whether the interval of the linear budget agrees with its interval.

    They agree when both ends differ by no more than half the last of two digits of the standard uncertainty, and
    four standard errors of the drawn quantile. Source: bench-gum-s1, clauses 7 and 8.
    """
    if not FEWEST_DRAWS <= draws <= MOST_DRAWS:
        accepted = f"{FEWEST_DRAWS} to {MOST_DRAWS}"
        raise UserError(Problem("number of draws cannot be used", str(draws), "draws", accepted=accepted))
    random = np.random.default_rng(seed)
    values = np.asarray(model({q.name: draw(q, draws, random) for q in quantities}), dtype=float)
    tail = (1.0 - linear.coverage) / 2.0
    off = math.sqrt(tail * (1.0 - tail) / draws)
    low, low_a, low_b, high, high_a, high_b = np.quantile(
        values, (tail, tail - off, tail + off, 1 - tail, 1 - tail - off, 1 - tail + off)
    )
    scatter = STANDARD_ERRORS * max(low_b - low_a, high_b - high_a) / 2.0
    tolerance = last_digit(linear.standard_uncertainty) + float(scatter)
    d_low, d_high = linear.low - float(low), linear.high - float(high)
    few = [q for q in quantities if q.kind == "A" and q.degrees_of_freedom < FEWEST_FOR_MONTE_CARLO - 1]
    return MonteCarlo(
        draws=draws,
        seed=seed,
        mean=float(np.mean(values)),
        standard_deviation=float(np.std(values, ddof=1)),
        low=float(low),
        high=float(high),
        low_difference=d_low,
        high_difference=d_high,
        tolerance=tolerance,
        agrees=max(abs(d_low), abs(d_high)) <= tolerance,
        note="fewer than four repeats: the simulated deviation is not finite, only the interval is"
        if few
        else "",
    )


def last_digit(uncertainty: float) -> float:
    """Half a unit of the second significant digit of an uncertainty. Source: bench-gum-s1, 7.9.2.

    >>> last_digit(0.0345), last_digit(12.0)
    (0.0005, 0.5)
    """
    if not uncertainty > 0.0:
        return 0.0
    return 0.5 * 10.0 ** (math.floor(math.log10(uncertainty)) - 1)
