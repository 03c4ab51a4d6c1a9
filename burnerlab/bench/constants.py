"""Constants a shop can learn from its bench: what is known before, what the record says, by which rules."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from statistics import NormalDist

from burnerlab import tables
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import output

RULES = "calibration_rules"
HERE = "measured here"


@cache
def rules() -> Mapping[str, float]:
    """Rules of learning by name, from the table ``calibration_rules``.

    >>> rules()["stated level"]
    0.95
    """
    return {row["name"]: float(row["value"]) for row in tables.rows(RULES)}


def normal_quantile(level: float) -> float:
    """Half width, in standard deviations, of the middle share of a normal distribution.

    >>> normal_quantile(0.95)
    1.960
    """
    return NormalDist().inv_cdf((1.0 + level) / 2.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """What is known of a constant before: lognormal about its value."""

    value: float
    low: float
    high: float

    @property
    def log_deviation(self) -> float:
        """Standard deviation of the logarithm; the wider side of an uneven spread counts for both.

        >>> Prior(value=0.9, low=0.85, high=0.95).log_deviation
        0.0347
        """
        wider = max(math.log(self.high / self.value), math.log(self.value / self.low))
        return wider / normal_quantile(rules()["spread level"])


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelConstant:
    """A constant before and after the record was read."""

    name: str = field(metadata=output("constant"))
    table: str = field(metadata=output("table"))  # discharge or burner_coefficients
    row: str = field(metadata=output("row"))  # of that table
    unit: str = field(metadata=output("unit"))
    prior: float = field(metadata=output("before"))
    prior_low: float = field(metadata=output("before from"))
    prior_high: float = field(metadata=output("before to"))
    value: float = field(metadata=output("now"))  # the prior's where the record does not tell
    low: float = field(metadata=output("now from"))  # interval at the stated level
    high: float = field(metadata=output("now to"))
    units: int = field(metadata=output("units"))
    readings: int = field(metadata=output("readings"))
    spread: float | None = field(
        metadata=output("spread", Kind.FRACTION)
    )  # relative standard deviation between units; None where it was not looked for
    outliers: tuple[str, ...] = field(metadata=output("outliers"))  # serial numbers left out
    is_learned: bool = field(metadata=output("told"))
    written: bool = field(
        metadata=output("written")
    )  # into the table: told, or part of a fit that tells them only together
    why: str = field(metadata=output("why"))  # what it rests on, or why the record does not tell

    @property
    def beyond_prior(self) -> bool:
        """Whether the whole interval lies outside what the shipped sources span."""
        return self.is_learned and not (self.low <= self.prior_high and self.prior_low <= self.high)
