"""What a measured grid says of a layout: constants with intervals, what is left over, whether it fits."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from burnerlab.layout.cooking_surface import Grid, Layout
from burnerlab.layout.layout_factors import OF
from burnerlab.layout.measurement import Measurand, MeasuredGrid
from burnerlab.layout.model_error import ModelError, Places, left_by_conduction
from burnerlab.layout.plate import PlateCase
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.quantity.quantity_text import quantity_text, quoted
from burnerlab.quantity.show import number
from burnerlab.tables.figure import Evidence

FloatArray = NDArray[np.float64]


class FitState(StrEnum):
    """How a map stands to readings."""

    NOT_FITTED = "not fitted"
    FITS = "fits"
    DOES_NOT_FIT = "does not fit"


OF_TEMPERATURE = {"offset": Kind.TEMPERATURE, "gain": Kind.TEMPERATURE_DIFFERENCE}
"""Constants of a fit that are no factors: the temperature without heat, and how much the mean heat is over it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Constant:
    """One fitted constant with its standard uncertainty and 95 % interval."""

    name: str = field(metadata=output("fitted"))
    value: float = field(metadata=output("value", digits=3))
    standard_uncertainty: float = field(metadata=output("standard uncertainty", digits=2))
    low: float = field(metadata=output("95 % interval from", digits=3))
    high: float = field(metadata=output("to", digits=3))

    is_settled: bool = field(metadata=output("settled"))
    """Whether the readings tell it apart."""
    is_at_bound: bool = field(metadata=output("at its bound"))
    """Then it is not used: the table's figure stays."""

    @property
    @computed_output("unit")
    def unit(self) -> str | None:
        """Of value, uncertainty and interval; None of a factor."""
        return "K" if self.name in OF_TEMPERATURE else None

    def texts(self) -> tuple[str, str, str]:
        """Value, standard uncertainty and interval with their unit: a temperature has one.

        >>> Constant(name="offset", value=403.15, standard_uncertainty=4.0, low=395.15, high=411.15, is_settled=True,
        ...          is_at_bound=False).texts()
        ('130 C', '4.0 K', '122 C to 138 C')
        """
        kind = OF_TEMPERATURE.get(self.name)
        if kind is None:
            ends = (f"{number(self.low, 3)} to {number(self.high, 3)}",)
            return number(self.value, 3), number(self.standard_uncertainty, 2), *ends
        unit = "C" if kind is Kind.TEMPERATURE else "K"
        value, low, high = (
            quoted(round(one, 6), kind, unit, ".0f") for one in (self.value, self.low, self.high)
        )
        spread = quoted(self.standard_uncertainty, Kind.TEMPERATURE_DIFFERENCE, "K", ".1f")
        return value, spread, quantity_text("{} to {}", low, high)


@dataclass(frozen=True, slots=True, kw_only=True)
class FactorSolution:
    """Factors that readings settle, as logarithms; offset and gain of temperatures behind them."""

    names: tuple[str, ...]  # of the factors
    theta: FloatArray
    covariance: FloatArray
    residual: FloatArray  # readings less model
    jacobian: FloatArray  # of the model
    places: Places  # of the readings

    @property
    def freedom(self) -> int:
        return len(self.residual) - len(self.theta)

    @property
    def factors(self) -> dict[str, float]:
        """By name."""
        logs = self.theta[: len(self.names)]
        return {name: float(value) for name, value in zip(self.names, np.exp(logs), strict=True)}

    @property
    def read_at(self) -> Grid:
        """Places of the readings."""
        x, y = self.places.read_at_m.T
        return Grid(x_m=x, y_m=y)


@dataclass(frozen=True, slots=True, kw_only=True)
class GridFit:
    """What a measured grid says of a layout."""

    given: Layout  # that was measured, with the table's figures
    layout: Layout  # with the fitted constants; the table's where the state is not "fits"
    measured: MeasuredGrid
    state: FitState = field(metadata=output("state of the fit"))
    constants: tuple[Constant, ...] = field(metadata=output("constants"))
    readings: int = field(metadata=output("readings"))
    rms_residual: float  # K or W/m2
    largest_residual: float  # measured less fitted
    largest_at_m: tuple[float, float] = field(metadata=output("largest at x, y", Kind.LENGTH))
    explained: float = field(metadata=output("variance followed", Kind.FRACTION))
    """Share of the readings' variance [-]."""
    left_out_explained: float = field(
        metadata=output("variance followed where the readings were left out", Kind.FRACTION)
    )
    """The same, each part of the surface predicted from the readings of the others [-]."""
    not_fitted: tuple[str, ...] = field(metadata=output("not fitted"))
    """What the model has no way to follow."""
    spread_length_m: float | None = field(metadata=output("conduction evens out over", Kind.LENGTH))
    """sqrt(k t/h) of the plate at the mean reading; None where the fit is without conduction."""
    error: ModelError
    solution: FactorSolution
    case: PlateCase  # surroundings of the plate

    @property
    @computed_output("file")
    def file(self) -> str:
        """Of the readings."""
        return self.measured.file

    @property
    @computed_output("measurand")
    def measurand(self) -> Measurand:
        """What was read: flux or temperature."""
        return self.measured.measurand

    @property
    @computed_output("left over, rms", Kind.HEAT_FLUX)
    def rms_residual_W_per_m2(self) -> float | None:
        """Of readings of flux."""
        return self.rms_residual if self.measurand == "flux" else None

    @property
    @computed_output("left over, rms", Kind.TEMPERATURE_DIFFERENCE)
    def rms_residual_K(self) -> float | None:
        """Of readings of temperature."""
        return None if self.measurand == "flux" else self.rms_residual

    @property
    @computed_output("left over, at most", Kind.HEAT_FLUX)
    def largest_residual_W_per_m2(self) -> float | None:
        """Of readings of flux, measured less fitted."""
        return self.largest_residual if self.measurand == "flux" else None

    @property
    @computed_output("left over, at most", Kind.TEMPERATURE_DIFFERENCE)
    def largest_residual_K(self) -> float | None:
        """Of readings of temperature, measured less fitted."""
        return None if self.measurand == "flux" else self.largest_residual

    @property
    @computed_output("departure of the model", Kind.HEAT_FLUX)
    def departure_W_per_m2(self) -> float | None:
        """Standard deviation of what neighbouring readings of flux share beyond the model."""
        return self.error.departure if self.measurand == "flux" else None

    @property
    @computed_output("departure of the model", Kind.TEMPERATURE_DIFFERENCE)
    def departure_K(self) -> float | None:
        """Standard deviation of what neighbouring temperatures share beyond the model."""
        if self.measurand == "flux":
            return None
        places = self.solution.places
        if places.conduction is None:
            return self.error.departure
        return math.sqrt(left_by_conduction(places, self.error.of_readings(places)))

    @property
    @computed_output("factors of each burner")
    def is_per_burner(self) -> bool:
        """Whether the readings carry a factor for each burner."""
        return any(name.startswith(OF) for name in self.solution.names)

    @property
    @computed_output("evidence")
    def evidence(self) -> Evidence:
        """Of the kilowatts: measured here once readings of flux settle every constant; temperatures never do."""
        return self.pattern_evidence if self.measurand == "flux" else Evidence.ESTIMATE

    @property
    @computed_output("evidence of the pattern")
    def pattern_evidence(self) -> Evidence:
        """Of the relative map: measured here once the readings settle every constant and most of what was read."""
        settled = all(constant.is_settled for constant in self.constants) and self.explained > 0.5
        return Evidence.MEASURED if settled and self.state == FitState.FITS else Evidence.ESTIMATE
