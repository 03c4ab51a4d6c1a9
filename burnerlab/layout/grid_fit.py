"""A heat map fitted to a measured grid: its free factors with intervals, whether it fits, a changed layout.

Readings of flux fix factors on the radiated share, on the capture of the hot gas and on the width of its footprint.
Readings of temperature fix the pattern, never the kilowatts: factors on capture over radiation and on the width, with
an offset and a gain, a place being the hotter the more heat it takes up. Where the plate is known its temperatures
are those after conduction sideways and its own loss, ``conduction``, with a factor on the loss. Mean heat then stays
that of the table with the table's band. What is known of a factor before is its span in the table; the readings narrow
it. Intervals hold noise and the departure of the model, ``model_error``.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.memory import Memory, Same
from burnerlab.layout.conduction import ConductingPlate, Conduction, LossCurve, conducting_plate, points
from burnerlab.layout.cooking_surface import Emitter, Grid, Layout, PlateSheet, Span, grid_over
from burnerlab.layout.heat_map import (
    CellBand,
    Evenness,
    HeatMap,
    MapBand,
    Pieces,
    cell_band,
    check_layout,
    evenness,
    footprints,
    map_band,
    pieces,
)
from burnerlab.layout.measurement import Measurand, MeasuredGrid
from burnerlab.layout.model_error import Departures, ModelError, Places, left_by_conduction, model_error
from burnerlab.layout.plate import PlateCase, plate_loss
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables.figure import Evidence
from burnerlab.tables.problem import Problem, UserError

FloatArray = NDArray[np.float64]

RADIANT, CAPTURE, WIDTH, LOSS = "radiant share", "capture", "footprint width", "plate loss"
OF = "capture of "  # a burner
FACTORS = {RADIANT: (0.1, 8.0), CAPTURE: (0.05, 3.0), WIDTH: (0.4, 4.0), LOSS: (0.2, 5.0)}
"""How far each factor on the table's figure may go; one that ends there is said and not used."""
MOST_RADIANT = 0.95  # of a radiated share with its factor
VAGUE = 4.0  # high over low end of a 95 % interval beyond which a factor counts as not determined
UNKNOWN = 1.5  # standard uncertainty of the logarithm of a factor without a span
SPARE_READINGS = 3
ROUNDS = 4  # of model error, and of the plate made linear about its temperatures
MOST_PLACES = 225  # readings beyond which a picture is taken by one in each of its parts
DRAWS = 160
BAND_GRID = (36, 24)
WIDER = 1.25  # of the band of a plate's temperatures; without it 53 of 60, at 450 K over its surroundings
COUNTED_K = 450.0  # mean rise up to which bands of a plate were counted
SURE = 1e-3  # standard uncertainty of the gain of a plate, at least, over the gain
LEAST_PATTERN = 0.01  # of a plate over its mean, that sets how far a gain may go
EMPTY_PLATE = PlateCase()
BASE = 0.8  # of the size of a departure where the model brings no heat
CLEAR_t = 3.0  # a slope of the residuals this many standard errors from none is told
HANGS_TOGETHER = 0.5  # correlation of neighbouring residuals that is told
CHANCE = 0.01  # of an F-test above which a model explains nothing
PARTS = 3  # each way: of the surface, predicted from the rest
BETTER = 0.97  # error of the left-out parts over that of the simpler model, below which factors of each burner count
MOST_CONDITION = 100.0  # of the scaled columns of the factors, above which they cannot be told apart


class FitState(StrEnum):
    """How a map stands to readings."""

    NOT_FITTED = "not fitted"
    FITS = "fits"
    DOES_NOT_FIT = "does not fit"


@dataclass(frozen=True, slots=True, kw_only=True)
class Constant:
    """One fitted constant with its standard uncertainty and 95 % interval."""

    name: str = field(metadata=output("fitted"))
    value: float = field(metadata=output("value", digits=3))
    standard_uncertainty: float = field(metadata=output("standard uncertainty", digits=2))
    low: float = field(metadata=output("95 % interval from", digits=3))
    high: float = field(metadata=output("to", digits=3))
    determined: bool = field(metadata=output("determined"))
    """Whether the readings tell it apart."""
    at_bound: bool = field(metadata=output("at its bound"))
    """Then it is not used: the table's figure stays."""


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
        settled = all(constant.determined for constant in self.constants) and self.explained > 0.5
        return Evidence.MEASURED if settled and self.state == FitState.FITS else Evidence.ESTIMATE


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


@dataclass(frozen=True, slots=True)
class _Model:
    """Predicted readings from the logarithms of named factors; geometry is worked out once."""

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
        burners, each = self.layout.burners, _capture_factors(self.layout, factors)
        Q, chi, eta = np.array([(b.heat_input_W, b.radiant, b.capture) for b in burners]).T
        chi = np.minimum(factors.get(RADIANT, 1.0) * chi, MOST_RADIANT)
        carried = self._carried(factors.get(WIDTH, 1.0)).reshape(len(burners), -1)
        radiated, reheated = (
            one.reshape(len(burners), -1) for one in (self.base.radiated, self.base.reheated)
        )
        found = (Q * chi) @ radiated + (Q * (1 - chi)) @ reheated + (Q * (1 - chi) * eta * each) @ carried
        return np.asarray(found.reshape(self.grid.shape))

    def _carried(self, width: float) -> FloatArray:
        """Footprints of the gas of every burner [burners, ...], the last width kept."""
        if width not in self.footprints:
            self.footprints.clear()
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
        mean = self.mean(theta) if mean is None else mean
        return np.asarray(theta[-2] + theta[-1] * self.flux(theta[: len(self.names)]) / mean)

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

    def about(self, theta: FloatArray) -> _Model:
        """The plate made linear about its temperatures."""
        if self.plate is None:
            return self
        log_loss, heat = float(self.of_loss(theta)), self.heat(theta)
        plate = self.plate.with_loss(log_loss)
        return replace(self, conduction=plate.about(plate.temperature_K(heat), heat), log_loss=log_loss)

    def size(self, theta: FloatArray) -> FloatArray:
        """Flux at the points over its root mean square at the readings."""
        pattern = self.flux(theta[: len(self.names)])
        return _size(pattern, self.at_readings(pattern))

    def places(self, theta: FloatArray) -> Places:
        """Points with their size, and what a plate conducts between them."""
        at = np.stack([self.grid.x_m.ravel(), self.grid.y_m.ravel()], axis=-1)
        return Places(at_m=at, size=self.size(theta), conduction=self.conduction)

    def spreads(self) -> FloatArray:
        """Standard uncertainty of the logarithm of each factor before the readings; none of offset and gain."""
        found = [self.loss_spread if name == LOSS else _before(self.layout, name) for name in self.names]
        if not self.is_flux:  # capture over radiated share
            radiant = _before(self.layout, RADIANT)
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
class _Readings:
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

    def model(self, layout: Layout, places: Grid, names: tuple[str, ...]) -> _Model:
        """Of readings at places over a layout."""
        is_flux, sheet = self.measured.measurand == "flux", layout.surface.sheet
        if not self.has_plate or sheet is None:
            return _Model(layout, places, pieces(layout, places)[0], is_flux, names)
        curve = self.curve(layout, sheet)
        plate = conducting_plate(layout.surface, _length_m(sheet, curve), places, curve)
        grid = points(layout.surface, places)
        even = np.full(grid.x_m.size, curve.at_K)
        return _Model(
            layout, grid, pieces(layout, grid)[0], is_flux, names, plate, plate.about(even, even),
            loss_spread=_log_spread(self.case.loss, self.case.loss_span), before_K=self.offset_K(curve),
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


def _size(flux: FloatArray, at_readings: FloatArray) -> FloatArray:
    return np.asarray((BASE + flux / math.sqrt(float(np.mean(at_readings**2)))) / (1 + BASE))


def _before(layout: Layout, name: str) -> float:
    """Standard uncertainty of the logarithm of a factor by the span of its figure, taken as 95 %."""
    if name == WIDTH:
        return _log_spread(layout.shape.plume_spread, layout.shape.plume_span)
    if name == RADIANT:
        return max(_log_spread(b.radiant, b.radiant_span) for b in layout.burners)
    burners = [b for b in layout.burners if name in (CAPTURE, OF + b.name)]
    return max(_log_spread(b.capture, b.capture_span) for b in burners)


def _log_spread(value: float, span: Span | None) -> float:
    if span is None or not (0 < span.low < span.high and value > 0):
        return UNKNOWN
    return max(math.log(value / span.low), math.log(span.high / value)) / 2


def with_factors(layout: Layout, radiant: float, capture: float | Sequence[float], width: float) -> Layout:
    """A layout with factors on its radiated shares, its capture and the width of its footprints; no spans left.

    capture : one factor, or one for each burner
    """
    each = [capture] * len(layout.burners) if isinstance(capture, int | float) else list(capture)
    burners = tuple(
        replace(
            b,
            radiant=min(radiant * b.radiant, MOST_RADIANT),
            capture=factor * b.capture,
            radiant_span=None,
            capture_span=None,
        )
        for b, factor in zip(layout.burners, each, strict=True)
    )
    shape = replace(layout.shape, plume_spread=width * layout.shape.plume_spread, plume_span=None)
    return replace(layout, burners=burners, shape=shape)


def with_named(layout: Layout, factors: Mapping[str, float]) -> Layout:
    """A layout with factors by name; a burner without one of its own takes the mean of the others."""
    capture = _capture_factors(layout, factors)
    return with_factors(layout, factors.get(RADIANT, 1.0), capture, factors.get(WIDTH, 1.0))


def _capture_factors(layout: Layout, factors: Mapping[str, float]) -> list[float]:
    each = [value for name, value in factors.items() if name.startswith(OF)]
    common = factors.get(CAPTURE, math.exp(float(np.mean(np.log(each)))) if each else 1.0)
    return [factors.get(OF + b.name, common) for b in layout.burners]


# the fit


def fit_grid(layout: Layout, measured: MeasuredGrid, case: PlateCase = EMPTY_PLATE) -> GridFit:
    """Fit a layout to readings over its surface.

    case : surroundings of a plate of known material; its readings of temperature are of the empty plate, steady

    A factor for each burner where the readings carry them: they can be told apart, and parts of the surface that were
    left out are predicted the better. One that follows no more than the mean of the readings does not replace the map.
    Raises UserError when there are too few readings for the constants.

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.layout.layout_study import layout_of
    >>> from burnerlab.layout.heat_map import heat_map
    >>> griddle = layout_of(demonstration(), "griddle")
    >>> grid = grid_over(griddle.surface, 6, 4)
    >>> flux = 1.1 * heat_map(griddle, grid).flux_W_per_m2.ravel()  # as if a tenth more had been measured
    >>> x, y = grid.x_m.ravel(), grid.y_m.ravel()
    >>> fit_grid(griddle, MeasuredGrid(measurand="flux", x_m=x, y_m=y, values=flux, file="")).state
    <FitState.FITS: 'fits'>
    """
    check_layout(layout)
    places, values = _places(measured)
    is_flux, read = measured.measurand == "flux", _Readings(layout, measured, case)
    model = read.model(layout, Grid(x_m=places[:, 0], y_m=places[:, 1]), read.names)
    if values.size < model.count + SPARE_READINGS:
        accepted = f"at least {model.count + SPARE_READINGS}"
        raise UserError(Problem("too few readings for the constants", str(values.size), accepted=accepted))
    model, solution, error, stuck = _best(model, values)
    left = [name for name in solution.names if name not in [one.name for one in stuck]]
    state = _state(solution, values) if left or not is_flux else FitState.DOES_NOT_FIT
    residual, at = _all_residuals(model, solution, read)
    worst = int(np.argmax(np.abs(residual)))
    notes = [f"{one.name} ends at its bound of {one.value:.3g} and is not used" for one in stuck]
    if state == FitState.DOES_NOT_FIT:
        notes.insert(
            0, "the model follows the readings no better than their mean does: the table's map stays"
        )
    fitted = layout
    if state == FitState.FITS:
        fitted = _fitted(layout, measured, _named(solution, solution.theta))
    return GridFit(
        given=layout,
        layout=fitted,
        measured=measured,
        state=state,
        constants=(*_constants(solution, is_flux)[: None if left or not is_flux else 0], *stuck),
        readings=measured.values.size,
        rms_residual=float(np.sqrt(np.mean(residual**2))),
        largest_residual=float(residual[worst]),
        largest_at_m=(float(at.x_m[worst]), float(at.y_m[worst])),
        explained=float(1 - residual.var() / measured.values.var()),
        left_out_explained=1 - _left_out(solution) ** 2 / _left_out_mean(places, values) ** 2,
        not_fitted=(*notes, *read.left_out, *_not_fitted(residual, at, is_flux)),
        spread_length_m=read.length_m,
        error=error,
        solution=solution,
        case=case,
    )


def _places(measured: MeasuredGrid) -> tuple[FloatArray, FloatArray]:
    """Places and readings; of a picture the reading in the middle of each of its parts.

    A mean over a part would smear what the model has sharp.
    """
    places = np.stack([measured.x_m, measured.y_m], axis=-1)
    if measured.values.size <= MOST_PLACES:
        return places, measured.values
    low, span = places.min(axis=0), np.maximum(np.ptp(places, axis=0), 1e-9)
    each = int(math.sqrt(MOST_PLACES))
    share = (places - low) / span * each
    cell = np.minimum(share, each - 1).astype(int)
    far = ((share - cell - 0.5) ** 2).sum(axis=-1)
    order = np.argsort(far, kind="stable")
    _, first = np.unique((cell[:, 0] * each + cell[:, 1])[order], return_index=True)
    chosen = order[first]
    return places[chosen], measured.values[chosen]


def _all_residuals(model: _Model, solution: FactorSolution, read: _Readings) -> tuple[FloatArray, Grid]:
    """Readings less model at every reading; of a picture too, with the mean of the readings that were chosen."""
    measured = read.measured
    grid = Grid(x_m=measured.x_m, y_m=measured.y_m)
    if measured.values.size == len(solution.residual):
        return solution.residual, grid
    whole = read.model(model.layout, grid, solution.names)
    if model.is_flux:
        return np.asarray(measured.values - whole(solution.theta)), grid
    return np.asarray(measured.values - whole.temperature_K(solution.theta, model.mean(solution.theta))), grid


def _best(
    model: _Model, values: FloatArray
) -> tuple[_Model, FactorSolution, ModelError, tuple[Constant, ...]]:
    """The simplest model that the readings carry, without factors that end at their bound."""
    found = _within_bounds(model, values)
    burners = [b.name for i, b in enumerate(model.layout.burners) if _brings_gas(model, i)]
    names = (*(one for one in model.names if one != CAPTURE), *(OF + name for name in burners))
    each = replace(model, names=names)
    if len(burners) < 2 or CAPTURE not in found[0].names or values.size < each.count + SPARE_READINGS:
        return found
    other = _within_bounds(each, values)
    better = _left_out(other[1]) < BETTER * _left_out(found[1])
    gained = _chance(found[1], other[1]) < CHANCE
    if better and gained and not other[3] and _condition(other[1]) < MOST_CONDITION:
        return other
    return found


def _brings_gas(model: _Model, i: int) -> bool:
    burner = model.layout.burners[i]
    return burner.z_m < model.layout.surface.z_m and not burner.stands and burner.capture > 0


def _within_bounds(
    model: _Model, values: FloatArray
) -> tuple[_Model, FactorSolution, ModelError, tuple[Constant, ...]]:
    """A solution with its model error; a factor at its bound goes back to the table's figure and is named."""
    stuck: list[Constant] = []
    while True:
        model, solution, error = _solved(model, values)
        low, high = _bounds(model.names)
        logs = solution.theta[: len(model.names)]
        ends = [i for i, one in enumerate(logs) if min(one - low[i], high[i] - one) < 1e-3]
        if not ends:
            return model, solution, error, tuple(stuck)
        i = ends[0]
        value = math.exp(float(logs[i]))
        stuck.append(
            Constant(
                name=model.names[i], value=value, standard_uncertainty=0.0, low=value, high=value,
                determined=False, at_bound=True,
            )
        )  # fmt: skip
        if model.count == 1:
            return model, solution, error, tuple(stuck)
        model = replace(model, names=tuple(one for one in model.names if one != model.names[i]))


def _bounds(names: Sequence[str]) -> tuple[FloatArray, FloatArray]:
    ends = np.log([FACTORS[CAPTURE if name.startswith(OF) else name] for name in names]).reshape(-1, 2)
    return np.asarray(ends[:, 0]), np.asarray(ends[:, 1])


def _solved(model: _Model, values: FloatArray) -> tuple[_Model, FactorSolution, ModelError]:
    """Generalised least squares with what is known before, model error and temperatures of a plate in turn."""
    from scipy.optimize import least_squares

    scatter, count = float(np.std(values)), len(model.names)
    error = ModelError(noise=0.05 * scatter, departure=0.0, lengths_m=(1.0, 1.0))
    theta, low, high = _start(model, values)
    sized = model.places(theta)
    before = model.spreads()
    for _ in range(ROUNDS if model.plate else ROUNDS - 1):
        whitening: FloatArray = np.linalg.inv(error.root(sized)).astype(np.float64)

        def gap(at: FloatArray, model: _Model = model, whitening: FloatArray = whitening) -> FloatArray:
            known = at[:count] / before
            if model.plate is not None:
                known = np.append(known, (at[-2] - model.before_K[0]) / model.before_K[1])
            return np.concatenate([whitening @ (model(at) - values), known])

        theta = least_squares(gap, theta, bounds=(low, high), x_scale="jac", max_nfev=100).x
        model = model.about(theta)
        residual, jacobian = values - model(theta), model.jacobian(theta)
        sized = model.places(theta)
        error = model_error(sized, residual, jacobian, scatter, model.is_flux)
    white = np.linalg.solve(error.root(sized), jacobian)
    known = np.concatenate([1 / before**2, np.zeros(len(theta) - count)])
    if not model.is_flux:
        known[-2] = 1 / model.before_K[1] ** 2
    scale = np.sqrt(np.diag(white.T @ white) + known)
    inner = (white.T @ white + np.diag(known)) / np.outer(scale, scale)
    covariance = np.linalg.pinv(inner, rcond=1e-12, hermitian=True) / np.outer(scale, scale)
    found = FactorSolution(
        names=model.names, theta=theta, covariance=covariance, residual=residual, jacobian=jacobian,
        places=sized,
    )  # fmt: skip
    return model, found, error


def _start(model: _Model, values: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """First guess and bounds; offset and gain of temperatures by a straight line."""
    low, high = _bounds(model.names)
    start = np.zeros(len(model.names))
    if model.is_flux:
        return start, low, high
    pattern = model.evened(model.flux(start) / model.mean(start))
    gain, offset = np.polyfit(pattern, values, 1) if np.ptp(pattern) > 1e-9 else (1.0, values.mean())
    width = 20 * float(np.ptp(values)) + 1.0
    if model.conduction is not None:  # the more even the plate, the larger the gain for what is read
        width /= min(max(float(np.ptp(pattern)), LEAST_PATTERN), 1.0)
    middle = float(values.mean())
    offset = min(max(float(offset), middle - 0.9 * width), middle + 0.9 * width)
    return (
        np.concatenate([start, [offset, min(max(gain, 1e-3), width * 0.9)]]),
        np.concatenate([low, [middle - width, 0.0]]),
        np.concatenate([high, [middle + width, width]]),
    )


# whether it fits


def _state(solution: FactorSolution, values: FloatArray) -> FitState:
    """Against the mean of the readings: an F-test, and parts of the surface that were left out."""
    from scipy.stats import f

    squares = float(solution.residual @ solution.residual)
    whole = float(((values - values.mean()) ** 2).sum())
    more = max(len(solution.theta) - 1, 1)
    ratio = (whole - squares) / more / max(squares / solution.freedom, 1e-300)
    left_out = _left_out(solution) < _left_out_mean(solution.places.read_at_m, values)
    explains = ratio > 0 and float(f.sf(ratio, more, solution.freedom)) < CHANCE
    return FitState.FITS if explains and left_out else FitState.DOES_NOT_FIT


def _chance(simple: FactorSolution, more: FactorSolution) -> float:
    """Probability of a gain like that of more constants if they explained nothing: F-test."""
    from scipy.stats import f

    squares = [float(one.residual @ one.residual) for one in (simple, more)]
    added = max(len(more.theta) - len(simple.theta), 1)
    ratio = (squares[0] - squares[1]) / added / max(squares[1] / more.freedom, 1e-300)
    return float(f.sf(max(ratio, 0.0), added, more.freedom))


def _parts(places: FloatArray) -> NDArray[np.int64]:
    """The part of the surface that each reading lies in."""
    low, span = places.min(axis=0), np.maximum(np.ptp(places, axis=0), 1e-9)
    cell = np.minimum((places - low) / span * PARTS, PARTS - 1).astype(np.int64)
    return np.asarray(cell[:, 0] * PARTS + cell[:, 1])


def _left_out_of(places: FloatArray, residual: FloatArray, jacobian: FloatArray) -> float:
    """Root mean square error of readings predicted without those of their part of the surface, linearised.

    e' = (I - H)^-1 e for the part's own block of the hat matrix H: a model that only follows its readings does badly.
    """
    U, s, _ = np.linalg.svd(jacobian, full_matrices=False)
    U = U[:, s > 1e-9 * max(float(s[0]), 1e-300)]
    parts, total = _parts(places), 0.0
    for part in np.unique(parts):
        own = parts == part
        block = np.eye(int(own.sum())) - U[own] @ U[own].T
        found = np.linalg.lstsq(block, residual[own], rcond=1e-6)[0]
        total += float(found @ found)
    return math.sqrt(total / len(residual))


def _left_out(solution: FactorSolution) -> float:
    scale = np.linalg.norm(solution.jacobian, axis=0)
    return _left_out_of(
        solution.places.read_at_m, solution.residual, solution.jacobian / np.where(scale > 0, scale, 1.0)
    )


def _left_out_mean(places: FloatArray, values: FloatArray) -> float:
    return _left_out_of(places, values - values.mean(), np.ones((len(values), 1)))


def _condition(solution: FactorSolution) -> float:
    """Of the columns of the constants, each scaled to its length."""
    scale = np.linalg.norm(solution.jacobian, axis=0)
    return float(np.linalg.cond(solution.jacobian / np.where(scale > 0, scale, 1.0)))


def _constants(solution: FactorSolution, is_flux: bool) -> tuple[Constant, ...]:
    from scipy.stats import t

    reach = float(t.ppf(0.975, solution.freedom))
    made = []
    labels = (*solution.names, *(() if is_flux else ("offset", "gain")))
    for i, (name, value) in enumerate(zip(labels, solution.theta, strict=True)):
        u = float(np.sqrt(solution.covariance[i, i]))
        if i >= len(solution.names):
            low, high = float(value) - reach * u, float(value) + reach * u
            made.append(
                Constant(
                    name=name, value=float(value), standard_uncertainty=u, low=low, high=high,
                    determined=low > 0 or name == "offset", at_bound=False,
                )
            )  # fmt: skip
            continue
        factor, wide = math.exp(float(value)), min(reach * u, 50.0)
        made.append(
            Constant(
                name=name,
                value=factor,
                standard_uncertainty=factor * u,
                low=factor * math.exp(-wide),
                high=factor * math.exp(wide),
                determined=2 * wide < math.log(VAGUE),
                at_bound=False,
            )
        )
    return tuple(made)


def _not_fitted(residual: FloatArray, grid: Grid, is_flux: bool) -> tuple[str, ...]:
    """Slopes and patches in what is left over, in words."""
    notes = []
    unit, size = ("kW/m2", 1e3) if is_flux else ("K", 1.0)
    columns = np.stack(
        [np.ones(residual.size), grid.x_m - grid.x_m.mean(), grid.y_m - grid.y_m.mean()], axis=-1
    )
    found, *_ = np.linalg.lstsq(columns, residual, rcond=None)
    left = residual - columns @ found
    errors = np.sqrt(np.diag(np.linalg.pinv(columns.T @ columns)) * (left @ left) / max(residual.size - 3, 1))
    for i, way in ((1, "to the right"), (2, "to the back")):
        if errors[i] > 0 and abs(found[i]) > CLEAR_t * errors[i]:
            notes.append(
                f"what is left over rises by {found[i] * 0.1 / size:+.3g} {unit} per 100 mm {way}, which no symmetric "
                "layout gives: look at level, draught, gas distribution, one rate off"
            )
    linked = _neighbours(residual, grid)
    if linked > HANGS_TOGETHER:
        notes.append(
            f"neighbouring residuals hang together (correlation {linked:.2f}): the shape itself is not met everywhere"
        )
    return tuple(notes)


def _neighbours(residual: FloatArray, grid: Grid) -> float:
    """Correlation of each residual with that of its nearest neighbour [-]."""
    from scipy.spatial import cKDTree

    points = np.stack([grid.x_m, grid.y_m], axis=-1)
    _, nearest = cKDTree(points).query(points, k=2)
    beside = residual[np.asarray(nearest)[:, 1]]
    if residual.std() == 0 or beside.std() == 0:
        return 0.0
    return float(np.corrcoef(residual, beside)[0, 1])


# a changed layout


def _at(solution: FactorSolution) -> Grid:
    """Places of the readings."""
    x, y = solution.places.read_at_m.T
    return Grid(x_m=x, y_m=y)


def _named(solution: FactorSolution, theta: FloatArray) -> dict[str, float]:
    logs = theta[: len(solution.names)]
    return {name: float(value) for name, value in zip(solution.names, np.exp(logs), strict=True)}


def _fitted(layout: Layout, measured: MeasuredGrid, factors: Mapping[str, float]) -> Layout:
    """A layout with factors; those of temperatures scaled so that the mean heat is that of the table."""
    changed = with_named(layout, factors)
    if measured.measurand == "flux":
        return changed
    grid = grid_over(layout.surface, *BAND_GRID)
    table = float(pieces(layout, grid)[0].flux(layout).sum(axis=0).mean())
    maps = pieces(changed, grid)[0]

    def mean(scale: float) -> float:
        return float(maps.flux(_scaled(changed, scale)).sum(axis=0).mean())

    low, high = 0.0, 1.0
    while mean(high) < table and high < 64.0:
        low, high = high, 2 * high
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if mean(middle) < table else (low, middle)
    return _scaled(changed, 0.5 * (low + high))


def _scaled(layout: Layout, scale: float) -> Layout:
    def scaled(b: Emitter) -> Emitter:
        return replace(b, radiant=min(scale * b.radiant, MOST_RADIANT), capture=min(scale * b.capture, 1.0))

    return replace(layout, burners=tuple(scaled(b) for b in layout.burners))


def calibrated(fit: GridFit, changed: Layout) -> Layout:
    """Another layout with the constants of a fit, unchanged where the model does not fit.

    changed : as read from its file, with the table's figures
    """
    if fit.state != FitState.FITS:
        return changed
    return _fitted(changed, fit.measured, _named(fit.solution, fit.solution.theta))


@dataclass(frozen=True, slots=True)
class _Draws:
    """Maps over what a fit leaves open [DRAWS, points], and the constants of each."""

    maps: FloatArray  # W/m2, or relative to the mean of the fitted layout at the readings
    bare: FloatArray | None  # the same without departures, of a plate that conducts
    temperature_K: FloatArray | None  # none of readings of flux

    @property
    def sets(self) -> list[FloatArray]:
        """Maps whose bands count together: what is left over on a plate may be of its heat, or of how it was read."""
        return [self.maps] if self.bare is None else [self.maps, self.bare]


_DRAWN = Memory(4)  # of a fit and a layout, for its bands of heat, of cells and of temperature


def _draws(fit: GridFit, changed: Layout, grid: Grid, seed: int) -> _Draws:
    """Maps of a layout over what the fit leaves open; drawn once for all bands of one fit.

    grid : that of ``BAND_GRID`` over the surface of the layout
    """
    return _DRAWN.recall((Same(fit), changed, seed), lambda: _new_draws(fit, changed, grid, seed))


def _new_draws(fit: GridFit, changed: Layout, grid: Grid, seed: int) -> _Draws:
    """Constants by their covariance with Student's t, the departure by its own.

    Where the layout is the measured one the readings say where it departs.
    """
    rng = np.random.default_rng(seed)
    solution, is_flux = fit.solution, fit.measurand == "flux"
    values, vectors = np.linalg.eigh(fit.solution.covariance)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    student = np.sqrt(solution.freedom / rng.chisquare(solution.freedom, DRAWS))[:, None]
    moves = student * (rng.standard_normal((DRAWS, len(values))) @ root.T)
    count = len(solution.names)
    low, high = _bounds(solution.names)
    theta = solution.theta + moves
    theta[:, :count] = np.clip(theta[:, :count], low, high)
    if not is_flux:
        theta[:, -1] = np.maximum(theta[:, -1], 0.1 * solution.theta[-1])
    read = _Readings(fit.given, fit.measured, fit.case)
    model, there = (
        read.model(one, at, solution.names) for one, at in ((changed, grid), (fit.given, _at(solution)))
    )
    maps = np.stack([model.flux(one[:count]).ravel() for one in theta])
    size = _size(
        model.flux(solution.theta[:count]).ravel(), there.at_readings(there.flux(solution.theta[:count]))
    )
    targets = Places(at_m=np.stack([model.grid.x_m.ravel(), model.grid.y_m.ravel()], axis=-1), size=size)
    departures = Departures(
        error=fit.error, places=solution.places, targets=targets, is_measured=changed == fit.given
    )
    left = solution.residual - (theta - solution.theta) @ solution.jacobian.T
    beside = departures.draws(left, rng)
    temperature_K = None
    if not is_flux:
        mean, gain = np.array([there.mean(one) for one in theta])[:, None], theta[:, -1:]
        maps, beside = maps / mean, beside / gain
        heat = theta[:, -2:-1] + gain * (maps + beside)
        temperature_K = heat
        if model.plate is not None:
            temperature_K = model.at_readings(model.plate.temperature_K(heat.T, model.of_loss(theta))).T
    bare = None if fit.solution.places.conduction is None else model.at_readings(maps.T).T
    draws = _Draws(model.at_readings((maps + beside).T).T, bare, temperature_K)
    for each in (draws.maps, draws.bare, draws.temperature_K):
        if each is not None:
            each.flags.writeable = False  # shared by every band
    return draws


def fit_band(fit: GridFit, changed: Layout, seed: int = 1) -> MapBand:
    """Measures of a layout over draws from what the fit leaves open, the middle 95 %.

    The mean heat of readings of temperature keeps the table's band. Where the model does not fit all are the table's.
    changed : as read from its file, with the table's figures
    """
    table = map_band(changed)
    if fit.state != FitState.FITS:
        return table
    grid = grid_over(changed.surface, *BAND_GRID)
    found = [[evenness(one) for one in maps] for maps in _draws(fit, changed, grid, seed).sets]
    layout = calibrated(fit, changed)
    at = evenness(pieces(layout, grid)[0].flux(layout).sum(axis=0))

    def middle(name: str) -> Span:
        ends = np.percentile([[getattr(one, name) for one in maps] for maps in found], [2.5, 97.5], axis=1)
        value = float(getattr(at, name))
        return Span(low=min(float(ends[0].min()), value), high=max(float(ends[1].max()), value))

    return MapBand(
        mean_W_per_m2=middle("mean") if fit.measurand == "flux" else table.mean_W_per_m2,
        spread=middle("spread"),
        coefficient_of_variation=middle("coefficient_of_variation"),
        corners=DRAWS,
    )


def fitted_cell_band(fit: GridFit, changed: Layout, heat_map: HeatMap, seed: int = 1) -> CellBand:
    """Lowest and highest heat at each place over draws from what the fit leaves open, the middle 95 %.

    heat_map : of the layout with the constants of the fit. Kilowatts of readings of temperature keep the width of the
    table's mean. Where the model does not fit the band is the table's.
    """
    from scipy.interpolate import RectBivariateSpline

    if fit.state != FitState.FITS:
        return cell_band(heat_map)
    grid = grid_over(changed.surface, *BAND_GRID)
    sets = _draws(fit, changed, grid, seed).sets
    layout = calibrated(fit, changed)
    at = pieces(layout, grid)[0].flux(layout).sum(axis=0)
    mean = np.ones(2)
    if fit.measurand == "temperature":
        sets = [maps / maps.mean(axis=1, keepdims=True) * float(at.mean()) for maps in sets]
        span = map_band(changed).mean_W_per_m2
        mean = np.array([span.low, span.high]) / float(at.mean())
    each = np.array([np.percentile(maps, [2.5, 97.5], axis=0) for maps in sets])
    ends = np.stack([each[:, 0].min(axis=0), each[:, 1].max(axis=0)]).reshape(2, *grid.shape)
    x, y = heat_map.grid.x_m, heat_map.grid.y_m
    x, y = np.clip(x, grid.x_m.min(), grid.x_m.max()), np.clip(y, grid.y_m.min(), grid.y_m.max())
    flux = heat_map.flux_W_per_m2
    off = [RectBivariateSpline(grid.y_m[:, 0], grid.x_m[0], end - at, kx=1, ky=1).ev(y, x) for end in ends]
    return CellBand(
        flux_low_W_per_m2=np.maximum(np.minimum((flux + off[0]) * mean[0], flux), 0.0),
        flux_high_W_per_m2=np.maximum((flux + off[1]) * mean[1], flux),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PredictedTemperature:
    """Temperatures that a layout would read on the same sensors, with their 95 % bands."""

    mean_temperature_K: float = field(metadata=output("mean temperature", Kind.TEMPERATURE))
    mean_temperature_low_K: float = field(metadata=output("mean temperature, lowest", Kind.TEMPERATURE))
    mean_temperature_high_K: float = field(metadata=output("mean temperature, highest", Kind.TEMPERATURE))
    most_temperature_K: float = field(metadata=output("highest temperature", Kind.TEMPERATURE))
    most_temperature_low_K: float = field(metadata=output("highest temperature, from", Kind.TEMPERATURE))
    most_temperature_high_K: float = field(metadata=output("highest temperature, to", Kind.TEMPERATURE))
    least_temperature_K: float = field(metadata=output("lowest temperature", Kind.TEMPERATURE))
    least_temperature_low_K: float = field(metadata=output("lowest temperature, from", Kind.TEMPERATURE))
    least_temperature_high_K: float = field(metadata=output("lowest temperature, to", Kind.TEMPERATURE))


def predicted_temperature_K(fit: GridFit, changed: Layout, grid: Grid) -> FloatArray:
    """Temperatures of a layout at points from the factors, offset and gain of a fit [K].

    changed : as read from its file, with the table's figures
    Raises UserError for a fit to fluxes, or one that does not fit.
    """
    if fit.measurand == "flux":
        raise UserError(Problem("readings of flux give no temperatures", value=fit.file))
    if fit.state != FitState.FITS:
        raise UserError(Problem("readings that the model does not follow give no temperatures", fit.file))
    solution = fit.solution
    read = _Readings(fit.given, fit.measured, fit.case)
    mean = read.model(fit.given, _at(solution), solution.names).mean(solution.theta)
    found = read.model(changed, grid, solution.names).temperature_K(solution.theta, mean)
    return np.asarray(found.reshape(grid.shape))


def predicted_temperature(fit: GridFit, changed: Layout, seed: int = 1) -> PredictedTemperature:
    """Mean, highest and lowest temperature over a surface, with bands of what the fit leaves open.

    Raises UserError as ``predicted_temperature_K``.
    """
    grid = grid_over(changed.surface, *BAND_GRID)
    at = _extremes(evenness(predicted_temperature_K(fit, changed, grid)))
    draws = _draws(fit, changed, grid, seed).temperature_K
    assert draws is not None  # readings of flux were refused above
    drawn = np.array([_extremes(evenness(one)) for one in draws])
    low, high = np.percentile(drawn, [2.5, 97.5], axis=0)
    if fit.spread_length_m is not None:
        low, high = at + WIDER * (low - at), at + WIDER * (high - at)
    ends = {
        f"{name}_temperature{ending}_K": float(values[i])
        for i, name in enumerate(("mean", "most", "least"))
        for ending, values in (("", at), ("_low", np.minimum(low, at)), ("_high", np.maximum(high, at)))
    }
    return PredictedTemperature(**ends)


def _extremes(evenness: Evenness) -> FloatArray:
    return np.array([evenness.mean, evenness.maximum, evenness.minimum])
