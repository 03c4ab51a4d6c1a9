"""How causes of spread are distributed, and what a Monte Carlo run says of the heat inputs.

Two stages: at the end of the line stands the unit as made (drill, coefficient, pressure setting); in the field gas and
place add to it. Neither is a share of units to be thrown away: both follow from assumed spreads.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from math import sqrt
from typing import get_args

import numpy as np
from numpy.typing import NDArray

from burnerlab import tables
from burnerlab.appliance.model import Spread, SpreadShape
from burnerlab.quantity.kind import Kind
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.quantity.summary import Summary, WithSummary, figure
from burnerlab.tables import cite
from burnerlab.tables.problem import Problem, UserError

Array = NDArray[np.float64]

DIVISOR: Mapping[str, float] = {"uniform": sqrt(3), "triangular": sqrt(6), "normal": 1.0}
"""Half width over standard deviation, JCGM 101:2008 table 1."""
WIDEST_NORMAL = 0.15  # relative standard deviation: beyond it a draw may reach zero
SHAPES: Mapping[str, SpreadShape] = {shape: shape for shape in get_args(SpreadShape)}


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseShare:
    """What one cause alone does to a heat input."""

    cause: str = field(metadata=output("cause"))
    words: str = field(metadata=output("spread"))
    relative_standard_deviation: float = field(metadata=output("standard deviation", Kind.FRACTION))
    """Of the heat input with only this cause at work [-]."""
    share: float = field(metadata=output("share", Kind.FRACTION))
    """Of the sum of such variances [-]."""
    source: str = field(metadata=output("source"))


@dataclass(frozen=True, slots=True, kw_only=True)
class InputSpread:
    """The distribution of one heat input, gross: of one burner of a kind, or of the whole unit."""

    name: str = field(metadata=output("burner"))
    count: int = field(metadata=output("burners of the kind"))
    aim_gross_W: float = field(metadata=output("aim", Kind.POWER, basis="gross"))
    nominal_gross_W: float = field(metadata=output("nominal", Kind.POWER, basis="gross"))
    mean_gross_W: float = field(metadata=output("mean", Kind.POWER, basis="gross"))
    standard_deviation_W: float = field(metadata=output("standard deviation", Kind.POWER))
    linear_standard_deviation_W: float = field(metadata=output("linear standard deviation", Kind.POWER))
    """From the linear budget."""
    low_gross_W: float = field(metadata=output("2.5 % lie below", Kind.POWER, basis="gross"))
    high_gross_W: float = field(metadata=output("2.5 % lie above", Kind.POWER, basis="gross"))
    share_below: float = field(metadata=output("below the band", Kind.FRACTION))
    """Of the draws [-]."""
    share_above: float = field(metadata=output("above the band", Kind.FRACTION))
    causes: tuple[CauseShare, ...] = field(metadata=output("causes"))
    bin_edges_W: tuple[float, ...] = field(metadata=output("edges of the bins", Kind.POWER))
    bin_counts: tuple[int, ...] = field(metadata=output("draws in the bins"))

    @property
    @computed_output("outside the band", Kind.FRACTION)
    def share_outside(self) -> float:
        """Share of the draws outside the band [-]."""
        return self.share_below + self.share_above

    @property
    @computed_output("main cause")
    def dominant_cause(self) -> str:
        """The cause with the largest share; "" when nothing varies."""
        largest = max(self.causes, key=lambda cause: cause.share)
        return largest.cause if largest.share > 0 else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """The heat inputs with some of the causes at work."""

    name: str = field(metadata=output("stage"))
    """At the end of the line, in the field."""
    causes: tuple[str, ...] = field(metadata=output("causes at work"))
    share_any_outside: float = field(metadata=output("a burner outside the band", Kind.FRACTION))
    """Units with at least one burner outside [-]."""
    standard_error: float = field(metadata=output("standard error of that share", Kind.FRACTION))
    """From the number of draws [-]."""
    burners: tuple[InputSpread, ...] = field(metadata=output("burners"))
    total: InputSpread = field(metadata=output("all burners"))


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class ToleranceResult(WithSummary):
    """How the heat inputs of an appliance spread: as made, and in use."""

    appliance: str = field(metadata=output("appliance"))
    file: str
    file_sha256: str = field(metadata=output("SHA-256 of the file"))
    gas: str = field(metadata=output("gas"))
    gauge_pressure_Pa: float = field(metadata=output("gauge pressure", Kind.GAUGE_PRESSURE))
    draws: int = field(metadata=output("appliances drawn"))
    seed: int = field(metadata=output("seed"))
    tolerance_low: float = field(metadata=output("low end of the band", Kind.FRACTION, is_change=True))
    tolerance_high: float = field(metadata=output("high end of the band", Kind.FRACTION, is_change=True))
    tolerance_source: str = field(metadata=output("source of the band"))
    end_of_line: Stage = field(metadata=output("at the end of the line"))
    in_the_field: Stage = field(metadata=output("in the field"))
    """With every cause at work."""
    notes: tuple[str, ...] = field(metadata=output("notes"))

    def summary(self) -> Summary:
        table = (
            ("burner", "mean", "95 % of units", "outside the band"),
            *(
                (
                    b.name,
                    figure(b.mean_gross_W, Kind.POWER),
                    f"{figure(b.low_gross_W, Kind.POWER)} to {figure(b.high_gross_W, Kind.POWER)}",
                    f"{100.0 * b.share_outside:.1f} %",
                )
                for b in (*self.in_the_field.burners, self.in_the_field.total)
            ),
        )
        shares = " and ".join(
            f"{100.0 * s.share_any_outside:.1f} % {s.name}" for s in (self.end_of_line, self.in_the_field)
        )
        return Summary(
            f"{self.appliance} on {self.gas}, {self.draws} units: a burner outside its band in {shares}",
            table,
        )

    @property
    def burners(self) -> tuple[InputSpread, ...]:
        """Of every kind of burner, in the field."""
        return self.in_the_field.burners

    @property
    def total(self) -> InputSpread:
        """Of all burners together, in the field."""
        return self.in_the_field.total

    @property
    def share_any_outside(self) -> float:
        """Units with at least one burner outside the band, in the field [-]."""
        return self.in_the_field.share_any_outside

    @property
    def standard_error(self) -> float:
        """Of that share, from the number of draws [-]."""
        return self.in_the_field.standard_error


@cache
def default_spreads() -> Mapping[str, Spread]:
    """Spreads of the table ``input_spreads`` by cause; the drill's stand in the table of drill tolerances.

    >>> default_spreads()["wobbe"].half_width
    0.02
    """
    return {
        row["cause"]: Spread(
            shape=SHAPES[row["shape"]],
            half_width=float(row["half_width"]),
            source=f"{row['what']}: {cite(row['source'])} ({row['provenance']})",
        )
        for row in tables.rows("input_spreads")
    }


def check_spread(cause: str, spread: Spread) -> None:
    """Refuse a spread that would draw figures below zero, or that is none."""
    low, high = (0.0, 60.0) if cause == "temperature" else (0.0, 0.5)
    if cause != "temperature" and spread.shape == "normal":
        high = WIDEST_NORMAL
    if not low <= spread.half_width <= high:
        unit = " K" if cause == "temperature" else " (relative)"
        accepted = f"{low:g} to {high:g}{unit}"
        what = f"a {spread.shape} spread of this width cannot be drawn"
        raise UserError(
            Problem(what, f"{spread.half_width:g}", f"tolerance.{cause}", accepted=accepted, fix="narrow it")
        )


def draw(spread: Spread, draws: int, random: np.random.Generator) -> Array:
    """Deviations from nominal [-] or [K]."""
    width = spread.half_width
    if width == 0:
        return np.zeros(draws)
    if spread.shape == "normal":
        return random.standard_normal(draws) * width
    if spread.shape == "triangular":
        return (random.random(draws) - random.random(draws)) * width
    return (2 * random.random(draws) - 1) * width


def words(cause: str, spread: Spread) -> str:
    """A spread in words.

    >>> words("pressure", default_spreads()["pressure"])
    'uniform, ±5 %'
    """
    size = f"{spread.half_width:g} K" if cause == "temperature" else f"{100 * spread.half_width:.3g} %"
    return f"normal, standard deviation {size}" if spread.shape == "normal" else f"{spread.shape}, ±{size}"
