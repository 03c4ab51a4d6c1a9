"""Readings by the factors of a layout: flux, or temperatures with offset, gain and a plate that conducts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from burnerlab.layout.conduction import ConductingPlate, Conduction, LossCurve, conducting_plate, points
from burnerlab.layout.cooking_surface import Grid, Layout, PlateSheet
from burnerlab.layout.heat_map import Pieces, footprints, pieces
from burnerlab.layout.layout_factors import (
    CAPTURE,
    LOSS,
    MOST_RADIANT,
    RADIANT,
    WIDTH,
    capture_factors,
    log_spread,
    log_uncertainty,
)
from burnerlab.layout.measurement import MeasuredGrid
from burnerlab.layout.model_error import Places
from burnerlab.layout.plate import PlateCase, plate_loss

FloatArray = NDArray[np.float64]
COUNTED_K = 450.0  # mean rise up to which bands of a plate were counted
SURE = 1e-3  # standard uncertainty of the gain of a plate, at least, over the gain
BASE = 0.8  # of the size of a departure where the model brings no heat


@dataclass(frozen=True, slots=True)
class ReadingModel:
    """Predicted readings from the logarithms of named factors; geometry is calculated once."""

    layout: Layout
    grid: Grid
    base: Pieces
    is_flux: bool
    names: tuple[str, ...]
    plate: ConductingPlate | None = None  # between the grid and the last of its points
    conduction: Conduction | None = None  # the plate, linear about temperatures
    log_loss: float = 0.0  # logarithm of the factor on the loss, there
    loss_spread: float = 0.0  # its standard uncertainty before the readings
    before_K: tuple[float, float] = (
        0.0,
        math.inf,
    )  # the offset and its standard uncertainty, before the readings
    footprints: dict[float, FloatArray] = field(default_factory=dict, compare=False)

    @property
    def count(self) -> int:
        return len(self.names) + (0 if self.is_flux else 2)

    def flux(self, logs: Sequence[float] | FloatArray) -> FloatArray:
        """At the points of the grid, of all burners [W/m2]."""
        factors = dict(zip(self.names, (float(one) for one in np.exp(logs)), strict=True))
        burners, each = self.layout.burners, capture_factors(self.layout, factors)
        Q, chi, eta = np.array([(b.heat_input_W, b.radiant, b.capture) for b in burners]).T
        chi = np.minimum(factors.get(RADIANT, 1.0) * chi, MOST_RADIANT)
        carried = self._carried(factors.get(WIDTH, 1.0)).reshape(len(burners), -1)
        radiated, reheated = (
            one.reshape(len(burners), -1) for one in (self.base.radiated, self.base.reheated)
        )
        passed_on = Q * (1 - chi)
        found = (Q * chi) @ radiated + passed_on @ reheated + (passed_on * eta * each) @ carried
        return np.asarray(found.reshape(self.grid.shape))

    def _carried(self, width: float) -> FloatArray:
        """Footprints of the gas of every burner [burners, ...], the last two widths kept: of a place and a step."""
        if width not in self.footprints:
            if len(self.footprints) > 1:
                del self.footprints[next(iter(self.footprints))]
            shape = replace(self.layout.shape, plume_spread=width * self.layout.shape.plume_spread)
            self.footprints[width] = footprints(replace(self.layout, shape=shape), self.grid)
        return self.footprints[width]

    def evened(self, heat: FloatArray) -> FloatArray:
        """What heat adds at the readings after conduction in a plate; the heat itself without one."""
        return heat if self.conduction is None else self.conduction(heat)

    def at_readings(self, flux: FloatArray) -> FloatArray:
        """The heat at the readings."""
        return flux if self.plate is None else flux[self.plate.cells :]

    def heat(self, theta: FloatArray, mean: float | None = None) -> FloatArray:
        """Of temperatures, at the points [K]: offset, and gain times the flux over its mean at the readings."""
        flux = self.flux(theta[: len(self.names)])
        mean = float(self.at_readings(flux).mean()) if mean is None else mean
        return np.asarray(theta[-2] + theta[-1] * flux / mean)

    def mean(self, theta: FloatArray) -> float:
        """Of the flux at the readings, behind the gain [W/m2]."""
        return float(self.at_readings(self.flux(theta[: len(self.names)])).mean())

    def of_loss(self, theta: FloatArray) -> FloatArray:
        """Logarithm of the factor on the loss of the plate, of one or of many rows of constants."""
        if LOSS not in self.names:
            return np.zeros(theta.shape[:-1])
        return np.asarray(theta[..., self.names.index(LOSS)])

    def __call__(self, theta: FloatArray) -> FloatArray:
        if self.is_flux:
            return self.flux(theta[: len(self.names)])
        heat = self.heat(theta)
        if self.conduction is None:
            return heat
        loss = float(self.of_loss(theta)) - self.log_loss
        return np.asarray(self.conduction(heat) + self.conduction.rest_K + loss * self.conduction.by_loss_K)

    def temperature_K(self, theta: FloatArray, mean: float) -> FloatArray:
        """At the readings, the plate as it is; mean : flux behind the gain."""
        heat = self.heat(theta, mean)
        if self.plate is None:
            return heat
        return self.at_readings(self.plate.temperature_K(heat, float(self.of_loss(theta))))

    def about(self, theta: FloatArray) -> ReadingModel:
        """The plate made linear about its temperatures."""
        if self.plate is None:
            return self
        log_loss, heat = float(self.of_loss(theta)), self.heat(theta)
        plate = self.plate.with_loss(log_loss)
        return replace(self, conduction=plate.about(plate.temperature_K(heat), heat), log_loss=log_loss)

    def size(self, theta: FloatArray) -> FloatArray:
        """Flux at the points over its root mean square at the readings."""
        pattern = self.flux(theta[: len(self.names)])
        return relative_size(pattern, self.at_readings(pattern))

    def places(self, theta: FloatArray) -> Places:
        """Points with their size, and what a plate conducts between them."""
        at = np.stack([self.grid.x_m.ravel(), self.grid.y_m.ravel()], axis=-1)
        return Places(at_m=at, size=self.size(theta), conduction=self.conduction)

    def spreads(self) -> FloatArray:
        """Standard uncertainty of the logarithm of each factor before the readings; none of offset and gain."""
        found = [
            self.loss_spread if name == LOSS else log_uncertainty(self.layout, name) for name in self.names
        ]
        if not self.is_flux:  # capture over radiated share
            radiant = log_uncertainty(self.layout, RADIANT)
            found = [
                one if name in (WIDTH, LOSS) else math.hypot(one, radiant)
                for name, one in zip(self.names, found, strict=True)
            ]
        return np.array(found)

    def jacobian(self, theta: FloatArray) -> FloatArray:
        """Central differences [readings, constants]."""
        columns = []
        for i, value in enumerate(theta):
            step = 1e-4 if i < len(self.names) else 1e-3 * max(abs(value), 1.0)
            ends = [np.array(theta) for _ in (0, 1)]
            ends[0][i], ends[1][i] = value - step, value + step
            columns.append((self(ends[1]) - self(ends[0])) / (2 * step))
        return np.stack(columns, axis=-1)


@dataclass(frozen=True, slots=True)
class MeasuredLayout:
    """What was measured, on which layout, in which surroundings."""

    given: Layout
    measured: MeasuredGrid
    case: PlateCase

    @property
    def has_plate(self) -> bool:
        """Whether temperatures are those of a plate that is known."""
        sheet = self.given.surface.sheet
        return self.measured.measurand == "temperature" and sheet is not None and sheet.is_stated

    @property
    def left_out(self) -> tuple[str, ...]:
        """That a closed plate is fitted without its conduction, or hotter than its bands were counted, in words."""
        if self.measured.measurand == "flux" or not self.given.surface.plate:
            return ()
        if self.has_plate:
            rise_K = float(np.mean(self.measured.values)) - self.case.ambient_K
            hotter = f"mean reading {rise_K:.0f} K over the surroundings, bands are counted up to {COUNTED_K:.0f} K"
            return (hotter,) if rise_K > 1.05 * COUNTED_K else ()
        return (
            "conduction in the plate, since its file gives no thickness: the map comes out more even than it is; "
            'add thickness = "6 mm" to its [[grate]]',
        )

    @property
    def length_m(self) -> float | None:
        """Over which conduction evens out at the mean reading."""
        sheet = self.given.surface.sheet
        if not self.has_plate or sheet is None:
            return None
        return _length_m(sheet, self.curve(self.given, sheet))

    @property
    def names(self) -> tuple[str, ...]:
        """Of the factors."""
        if self.measured.measurand == "flux":
            return RADIANT, CAPTURE, WIDTH
        return (CAPTURE, WIDTH, LOSS) if self.has_plate else (CAPTURE, WIDTH)

    def model(self, layout: Layout, places: Grid, names: tuple[str, ...]) -> ReadingModel:
        """Of readings at places over a layout."""
        is_flux, sheet = self.measured.measurand == "flux", layout.surface.sheet
        if not self.has_plate or sheet is None:
            return ReadingModel(layout, places, pieces(layout, places)[0], is_flux, names)
        curve = self.curve(layout, sheet)
        plate = conducting_plate(layout.surface, _length_m(sheet, curve), places, curve)
        grid = points(layout.surface, places)
        even = np.full(grid.x_m.size, curve.at_K)
        return ReadingModel(
            layout, grid, pieces(layout, grid)[0], is_flux, names, plate, plate.about(even, even),
            loss_spread=log_spread(self.case.loss, self.case.loss_span), before_K=self.offset_K(curve),
        )  # fmt: skip

    def offset_K(self, curve: LossCurve) -> tuple[float, float]:
        """Temperature without heat on the straight line through the mean reading, and its standard uncertainty [K].

        A plate gives off at its mean what it takes up: loss over slope, the share of it that the table has.
        """
        whole, span = float(curve.loss(np.array(curve.at_K))) / curve.W_per_m2K, self.case.gain_span
        return curve.at_K - self.case.gain * whole, max(0.25 * (span.high - span.low), SURE) * abs(whole)

    def curve(self, layout: Layout, sheet: PlateSheet) -> LossCurve:
        """Loss of a layout's plate in kelvins of that which was measured, about its mean reading."""
        measured = self.given.surface.sheet
        reference = None if measured is None else plate_loss(self.given, measured, self.case)
        loss = plate_loss(layout, sheet, self.case)
        return LossCurve(loss=loss, at_K=float(np.mean(self.measured.values)), reference=reference)


def _length_m(sheet: PlateSheet, curve: LossCurve) -> float:
    return math.sqrt(sheet.conductivity_W_per_mK * sheet.thickness_m / curve.W_per_m2K)


def relative_size(flux: FloatArray, at_readings: FloatArray) -> FloatArray:
    """Size of a departure by the flux there, over its root mean square at the readings."""
    return np.asarray((BASE + flux / math.sqrt(float(np.mean(at_readings**2)))) / (1 + BASE))
