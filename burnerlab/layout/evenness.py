"""How even is a map: mean, extremes, spread, scatter, share of the area near the mean. Measures, no pass mark.

Standards of cooking appliances measure and report how even a surface is; those that could be read set no limit.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from burnerlab import tables
from burnerlab.quantity.kind import Kind
from burnerlab.quantity.outputs import computed_output, output

NEAR_THE_MEAN = 0.10  # the band whose share of the area is reported


@dataclass(frozen=True, slots=True, kw_only=True)
class Evenness:
    """Measures of one map over equal cells."""

    points: int = field(metadata=output("points"))
    mean: float
    maximum: float
    minimum: float
    standard_deviation: float  # over all cells
    within_10_percent: float  # share of the area within 10 % of the mean [-]

    @property
    @computed_output("mean", Kind.HEAT_FLUX)
    def mean_W_per_m2(self) -> float:
        """Of a map of heat."""
        return self.mean

    @property
    @computed_output("most", Kind.HEAT_FLUX)
    def max_W_per_m2(self) -> float:
        """Of a map of heat."""
        return self.maximum

    @property
    @computed_output("least", Kind.HEAT_FLUX)
    def min_W_per_m2(self) -> float:
        """Of a map of heat."""
        return self.minimum

    @property
    @computed_output("standard deviation", Kind.HEAT_FLUX)
    def standard_deviation_W_per_m2(self) -> float:
        """Of a map of heat."""
        return self.standard_deviation

    @property
    @computed_output("area within 10 % of the mean", Kind.FRACTION)
    def area_near_the_mean(self) -> float:
        """Share of it [-]."""
        return self.within_10_percent

    @property
    @computed_output("(max - min)/mean", digits=3)
    def spread(self) -> float:
        """(max - min)/mean [-]."""
        return (self.maximum - self.minimum) / self.mean

    @property
    @computed_output("coefficient of variation", Kind.FRACTION)
    def coefficient_of_variation(self) -> float:
        """Standard deviation over mean [-]."""
        return self.standard_deviation / self.mean

    @property
    def max_over_min(self) -> float:
        return self.maximum / self.minimum if self.minimum > 0 else float("inf")


@dataclass(frozen=True, slots=True, kw_only=True)
class StandardMeasure:
    """What one standard measures of a cooking surface."""

    standard: str = field(metadata=output("standard"))
    appliance: str = field(metadata=output("appliance"))
    measure: str = field(metadata=output("measure"))
    source: str = field(metadata=output("source"))
    provenance: str = field(metadata=output("provenance"))


def standard_measures() -> tuple[StandardMeasure, ...]:
    """What standards measure of evenness; none that could be read sets a limit.

    >>> standard_measures()[0].standard
    'ASTM F1275'
    """
    known = tables.sources()
    return tuple(
        StandardMeasure(
            standard=row["standard"],
            appliance=row["appliance"],
            measure=row["measure"],
            source=known[row["source"]].cite(),
            provenance=row["provenance"],
        )
        for row in tables.rows("uniformity_measures")
    )


def evenness(values: ArrayLike) -> Evenness:
    """Measures of a map whose cells are equal; cells that hold no number are left out.

    >>> found = evenness([[1.0, 1.0], [1.0, 1.4]])
    >>> round(found.spread, 4), round(found.coefficient_of_variation, 4), found.within_10_percent
    (0.3636, 0.1575, 0.75)
    """
    flat = np.ravel(np.asarray(values, dtype=np.float64))
    flat = flat[np.isfinite(flat)]
    mean = float(flat.mean())
    return Evenness(
        points=int(flat.size),
        mean=mean,
        maximum=float(flat.max()),
        minimum=float(flat.min()),
        standard_deviation=float(flat.std()),
        within_10_percent=float(np.mean(np.abs(flat - mean) <= NEAR_THE_MEAN * mean)),
    )
