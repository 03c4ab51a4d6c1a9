"""A layout, measured or changed, with the constants of a fit: bands of its heat, of each place, of its temperatures."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.memory import Memory, Same
from burnerlab.layout.cooking_surface import Grid, Layout, Span, grid_over
from burnerlab.layout.fit_result import FitState, GridFit
from burnerlab.layout.heat_map import (
    CellBand,
    Evenness,
    HeatMap,
    MapBand,
    cell_band,
    evenness,
    map_band,
    pieces,
)
from burnerlab.layout.layout_factors import BAND_GRID, layout_with_constants, log_bounds
from burnerlab.layout.model_error import Departures, Places
from burnerlab.layout.reading_model import MeasuredLayout, relative_size
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import output
from burnerlab.tables.problem import Problem, UserError

FloatArray = NDArray[np.float64]
DRAWS = 160
WIDER = np.array(
    [1.25, 1.25, 1.0]
)  # of the bands of a plate's mean, highest, lowest; without it 43, 45, 46 of 46


@dataclass(frozen=True, slots=True, kw_only=True)
class PredictedTemperature:
    """Temperatures that a layout would read on the same sensors, with their 95 % bands."""

    at_places_K: FloatArray = field(compare=False)
    mean_temperature_K: float = field(metadata=output("mean temperature", Kind.TEMPERATURE))
    mean_temperature_low_K: float = field(metadata=output("mean temperature, lowest", Kind.TEMPERATURE))
    mean_temperature_high_K: float = field(metadata=output("mean temperature, highest", Kind.TEMPERATURE))
    most_temperature_K: float = field(metadata=output("highest temperature", Kind.TEMPERATURE))
    most_temperature_low_K: float = field(metadata=output("highest temperature, from", Kind.TEMPERATURE))
    most_temperature_high_K: float = field(metadata=output("highest temperature, to", Kind.TEMPERATURE))
    least_temperature_K: float = field(metadata=output("lowest temperature", Kind.TEMPERATURE))
    least_temperature_low_K: float = field(metadata=output("lowest temperature, from", Kind.TEMPERATURE))
    least_temperature_high_K: float = field(metadata=output("lowest temperature, to", Kind.TEMPERATURE))


def calibrated(fit: GridFit, changed: Layout) -> Layout:
    """Another layout with the constants of a fit, unchanged where the model does not fit.

    changed : as read from its file, with the table's figures
    """
    if fit.state != FitState.FITS:
        return changed
    return layout_with_constants(changed, fit.measurand, fit.solution.factors)


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
    low, high = log_bounds(solution.names)
    theta = solution.theta + moves
    theta[:, :count] = np.clip(theta[:, :count], low, high)
    if not is_flux:
        theta[:, -1] = np.maximum(theta[:, -1], 0.1 * solution.theta[-1])
    read = MeasuredLayout(fit.given, fit.measured, fit.case)
    model, there = (
        read.model(one, at, solution.names) for one, at in ((changed, grid), (fit.given, solution.read_at))
    )
    maps = np.stack([model.flux(one[:count]).ravel() for one in theta])
    size = relative_size(
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


def fit_band(fit: GridFit, changed: Layout, heat_map: HeatMap, seed: int = 1) -> MapBand:
    """Measures of a layout over draws from what the fit leaves open, the middle 95 %; over the places of its map.

    The mean heat of readings of temperature keeps the table's band. Where the model does not fit all are the table's.
    changed : as read from its file, with the table's figures; heat_map : of it with the constants of the fit
    """
    if fit.state != FitState.FITS:
        return map_band(heat_map)
    at, sets = _heat(fit, changed, seed)
    flux = heat_map.flux_W_per_m2
    found = [[evenness(flux + one) for one in _onto(changed, maps - at, heat_map.grid)] for maps in sets]

    def middle(name: str) -> Span:
        ends = np.percentile([[getattr(one, name) for one in maps] for maps in found], [2.5, 97.5], axis=1)
        value = float(getattr(heat_map.evenness, name))
        return Span(low=min(float(ends[0].min()), value), high=max(float(ends[1].max()), value))

    is_flux = fit.measurand == "flux"
    return MapBand(
        mean_W_per_m2=middle("mean") if is_flux else map_band(heat_map, changed).mean_W_per_m2,
        spread=middle("spread"),
        coefficient_of_variation=middle("coefficient_of_variation"),
        corners=DRAWS,
    )


def fitted_cell_band(fit: GridFit, changed: Layout, heat_map: HeatMap, seed: int = 1) -> CellBand:
    """Lowest and highest heat at each place over draws from what the fit leaves open, the middle 95 %.

    heat_map : of the layout with the constants of the fit. Kilowatts of readings of temperature keep the width of the
    table's mean. Where the model does not fit the band is the table's.
    """
    if fit.state != FitState.FITS:
        return cell_band(heat_map)
    at, sets = _heat(fit, changed, seed)
    flux, mean = heat_map.flux_W_per_m2, np.ones(2)
    if fit.measurand == "temperature":
        span = map_band(heat_map, changed).mean_W_per_m2
        mean = np.array([span.low, span.high]) / float(flux.mean())
    each = np.array([np.percentile(maps, [2.5, 97.5], axis=0) for maps in sets])
    off = _onto(changed, np.stack([each[:, 0].min(axis=0), each[:, 1].max(axis=0)]) - at, heat_map.grid)
    return CellBand(
        flux_low_W_per_m2=np.maximum(np.minimum((flux + off[0]) * mean[0], flux), 0.0),
        flux_high_W_per_m2=np.maximum((flux + off[1]) * mean[1], flux),
    )


def _heat(fit: GridFit, changed: Layout, seed: int) -> tuple[FloatArray, list[FloatArray]]:
    """Heat of a layout with the constants of a fit [points of ``BAND_GRID``], and its sets of draws [DRAWS, points].

    Draws of readings of temperature, which fix the pattern, have its mean [W/m2].
    """
    grid = grid_over(changed.surface, *BAND_GRID)
    layout, sets = calibrated(fit, changed), _draws(fit, changed, grid, seed).sets
    at = pieces(layout, grid)[0].flux(layout).sum(axis=0).ravel()
    if fit.measurand == "temperature":
        sets = [maps / maps.mean(axis=1, keepdims=True) * float(at.mean()) for maps in sets]
    return at, sets


def _onto(changed: Layout, fields: FloatArray, places: Grid) -> FloatArray:
    """Fields over a layout [n, points of ``BAND_GRID``] at other places [n, ...], linear between their points.

    What a draw differs by is smooth, where a map itself may be sharp.
    """
    from scipy.interpolate import RegularGridInterpolator

    grid = grid_over(changed.surface, *BAND_GRID)
    x, y = grid.x_m[0], grid.y_m[:, 0]
    between = RegularGridInterpolator((y, x), np.moveaxis(fields.reshape(-1, *grid.shape), 0, -1))
    found = between((np.clip(places.y_m, y[0], y[-1]), np.clip(places.x_m, x[0], x[-1])))
    return np.moveaxis(found, -1, 0)


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
    read = MeasuredLayout(fit.given, fit.measured, fit.case)
    mean = read.model(fit.given, solution.read_at, solution.names).mean(solution.theta)
    found = read.model(changed, grid, solution.names).temperature_K(solution.theta, mean)
    return np.asarray(found.reshape(grid.shape))


def predicted_temperature(fit: GridFit, changed: Layout, places: Grid, seed: int = 1) -> PredictedTemperature:
    """Temperature at places of a surface, its mean, highest and lowest with bands of what the fit leaves open.

    Raises UserError as ``predicted_temperature_K``.
    """
    grid = grid_over(changed.surface, *BAND_GRID)
    found = predicted_temperature_K(fit, changed, places)
    at, middle = _extremes(evenness(found)), predicted_temperature_K(fit, changed, grid).ravel()
    draws = _draws(fit, changed, grid, seed).temperature_K
    assert draws is not None  # readings of flux were refused above
    drawn = np.array([_extremes(evenness(found + one)) for one in _onto(changed, draws - middle, places)])
    low, high = np.percentile(drawn, [2.5, 97.5], axis=0)
    if fit.spread_length_m is not None:
        low, high = at + WIDER * (low - at), at + WIDER * (high - at)
    ends = {
        f"{name}_temperature{ending}_K": float(values[i])
        for i, name in enumerate(("mean", "most", "least"))
        for ending, values in (("", at), ("_low", np.minimum(low, at)), ("_high", np.maximum(high, at)))
    }
    return PredictedTemperature(at_places_K=found, **ends)


def _extremes(evenness: Evenness) -> FloatArray:
    return np.array([evenness.mean, evenness.maximum, evenness.minimum])
