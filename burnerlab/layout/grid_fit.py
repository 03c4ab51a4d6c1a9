"""A heat map fitted to a measured grid: the simplest model whose free factors the readings carry.

Readings of flux fix factors on the radiated share, on the capture of the hot gas and on the width of its footprint.
Readings of temperature fix the pattern, never the kilowatts: factors on capture over radiation and on the width, with
an offset and a gain, a place being the hotter the more heat it takes up. Where the plate is known its temperatures
are those after conduction sideways and its own loss, ``conduction``, with a factor on the loss. Mean heat then stays
that of the table with the table's band. What is known of a factor before is its span in the table; the readings narrow
it. Intervals hold noise and the departure of the model, ``model_error``.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from burnerlab.layout.cooking_surface import Grid, Layout
from burnerlab.layout.fit_result import Constant, FactorSolution, FitState, GridFit
from burnerlab.layout.goodness_of_fit import (
    CHANCE,
    chance_of_gain,
    condition_number,
    fit_state,
    left_out_error,
    mean_left_out_error,
    unexplained,
)
from burnerlab.layout.heat_map import check_layout
from burnerlab.layout.layout_factors import CAPTURE, OF, layout_with_constants, log_bounds
from burnerlab.layout.measurement import MeasuredGrid
from burnerlab.layout.model_error import ModelError, model_error
from burnerlab.layout.plate import PlateCase
from burnerlab.layout.reading_model import MeasuredLayout, ReadingModel
from burnerlab.tables.problem import Problem, UserError

FloatArray = NDArray[np.float64]
VAGUE = 4.0  # high over low end of a 95 % interval beyond which a factor counts as not determined
SPARE_READINGS = 3
ROUNDS = 4  # of model error, and of the plate made linear about its temperatures
MOST_PLACES = 225  # readings beyond which a picture is taken by one in each of its parts
LEAST_PATTERN = 0.01  # of a plate over its mean, that sets how far a gain may go
EMPTY_PLATE = PlateCase()
BETTER = 0.97  # error of the left-out parts over that of the simpler model, below which factors of each burner count
MOST_CONDITION = 100.0  # of the scaled columns of the factors, above which they cannot be told apart


def fit_grid(layout: Layout, measured: MeasuredGrid, case: PlateCase = EMPTY_PLATE) -> GridFit:
    """Fit a layout to readings over its surface.

    case : surroundings of a plate of known material; its readings of temperature are of the empty plate, steady

    A factor for each burner where the readings carry them: they can be told apart, and parts of the surface that were
    left out are predicted the better. One that follows no more than the mean of the readings does not replace the map.
    Raises UserError when there are too few readings for the constants.

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.layout.cooking_surface import grid_over
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
    is_flux, read = measured.measurand == "flux", MeasuredLayout(layout, measured, case)
    model = read.model(layout, Grid(x_m=places[:, 0], y_m=places[:, 1]), read.names)
    if values.size < model.count + SPARE_READINGS:
        accepted = f"at least {model.count + SPARE_READINGS}"
        raise UserError(Problem("too few readings for the constants", str(values.size), accepted=accepted))
    model, solution, error, stuck = _best(model, values)
    left = [name for name in solution.names if name not in [one.name for one in stuck]]
    state = fit_state(solution, values) if left or not is_flux else FitState.DOES_NOT_FIT
    residual, at = _all_residuals(model, solution, read)
    worst = int(np.argmax(np.abs(residual)))
    notes = [f"{one.name} ends at its bound of {one.value:.3g} and is not used" for one in stuck]
    if state == FitState.DOES_NOT_FIT:
        notes.insert(
            0, "the model follows the readings no better than their mean does: the table's map stays"
        )
    fitted = layout
    if state == FitState.FITS:
        fitted = layout_with_constants(layout, measured.measurand, solution.factors)
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
        left_out_explained=1 - left_out_error(solution) ** 2 / mean_left_out_error(places, values) ** 2,
        not_fitted=(*notes, *read.left_out, *unexplained(residual, at, is_flux)),
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


def _all_residuals(
    model: ReadingModel, solution: FactorSolution, read: MeasuredLayout
) -> tuple[FloatArray, Grid]:
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
    model: ReadingModel, values: FloatArray
) -> tuple[ReadingModel, FactorSolution, ModelError, tuple[Constant, ...]]:
    """The simplest model that the readings carry, without factors that end at their bound."""
    found = _within_bounds(model, values)
    burners = [b.name for i, b in enumerate(model.layout.burners) if _brings_gas(model, i)]
    names = (*(one for one in model.names if one != CAPTURE), *(OF + name for name in burners))
    each = replace(model, names=names)
    if len(burners) < 2 or CAPTURE not in found[0].names or values.size < each.count + SPARE_READINGS:
        return found
    other = _within_bounds(each, values)
    better = left_out_error(other[1]) < BETTER * left_out_error(found[1])
    gained = chance_of_gain(found[1], other[1]) < CHANCE
    if better and gained and not other[3] and condition_number(other[1]) < MOST_CONDITION:
        return other
    return found


def _brings_gas(model: ReadingModel, i: int) -> bool:
    burner = model.layout.burners[i]
    return burner.z_m < model.layout.surface.z_m and not burner.stands and burner.capture > 0


def _within_bounds(
    model: ReadingModel, values: FloatArray
) -> tuple[ReadingModel, FactorSolution, ModelError, tuple[Constant, ...]]:
    """A solution with its model error; a factor at its bound goes back to the table's figure and is named."""
    stuck: list[Constant] = []
    while True:
        model, solution, error = _solved(model, values)
        low, high = log_bounds(model.names)
        logs = solution.theta[: len(model.names)]
        ends = [i for i, one in enumerate(logs) if min(one - low[i], high[i] - one) < 1e-3]
        if not ends:
            return model, solution, error, tuple(stuck)
        i = ends[0]
        value = math.exp(float(logs[i]))
        stuck.append(
            Constant(
                name=model.names[i], value=value, standard_uncertainty=0.0, low=value, high=value,
                is_settled=False, is_at_bound=True,
            )
        )  # fmt: skip
        if model.count == 1:
            return model, solution, error, tuple(stuck)
        model = replace(model, names=tuple(one for one in model.names if one != model.names[i]))


def _solved(model: ReadingModel, values: FloatArray) -> tuple[ReadingModel, FactorSolution, ModelError]:
    """Generalised least squares with what is known before, model error and temperatures of a plate in turn."""
    from scipy.optimize import least_squares

    scatter, count = float(np.std(values)), len(model.names)
    error = ModelError(noise=0.05 * scatter, departure=0.0, lengths_m=(1.0, 1.0))
    theta, low, high = _start(model, values)
    sized = model.places(theta)
    before = model.spreads()
    for _ in range(ROUNDS if model.plate else ROUNDS - 1):
        whitening: FloatArray = np.linalg.inv(error.root(sized)).astype(np.float64)

        def gap(at: FloatArray, model: ReadingModel = model, whitening: FloatArray = whitening) -> FloatArray:
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


def _start(model: ReadingModel, values: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """First guess and bounds; offset and gain of temperatures by a straight line."""
    low, high = log_bounds(model.names)
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


def _constants(solution: FactorSolution, is_flux: bool) -> tuple[Constant, ...]:
    from scipy.special import stdtrit  # Student's t below which a share lies

    reach = float(stdtrit(solution.freedom, 0.975))
    made = []
    labels = (*solution.names, *(() if is_flux else ("offset", "gain")))
    for i, (name, value) in enumerate(zip(labels, solution.theta, strict=True)):
        u = float(np.sqrt(solution.covariance[i, i]))
        if i >= len(solution.names):
            low, high = float(value) - reach * u, float(value) + reach * u
            made.append(
                Constant(
                    name=name, value=float(value), standard_uncertainty=u, low=low, high=high,
                    is_settled=low > 0 or name == "offset", is_at_bound=False,
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
                is_settled=2 * wide < math.log(VAGUE),
                is_at_bound=False,
            )
        )
    return tuple(made)
