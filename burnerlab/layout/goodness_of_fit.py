"""Whether a model follows readings: against their mean, against more constants, and slopes and patches left over."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from burnerlab.layout.cooking_surface import Grid
from burnerlab.layout.fit_result import FactorSolution, FitState

FloatArray = NDArray[np.float64]
CLEAR_t = 3.0  # a slope of the residuals this many standard errors from none is reported
HANGS_TOGETHER = 0.5  # correlation of neighbouring residuals that is reported
CHANCE = 0.01  # of an F-test above which a model explains nothing
PARTS = 3  # each way: of the surface, predicted from the rest


def fit_state(solution: FactorSolution, values: FloatArray) -> FitState:
    """Against the mean of the readings: an F-test, and parts of the surface that were left out."""
    from scipy.special import fdtrc  # the F distribution above a value; scipy.stats takes a second to import

    squares = float(solution.residual @ solution.residual)
    whole = float(((values - values.mean()) ** 2).sum())
    more = max(len(solution.theta) - 1, 1)
    ratio = (whole - squares) / more / max(squares / solution.freedom, 1e-300)
    left_out = left_out_error(solution) < mean_left_out_error(solution.places.read_at_m, values)
    explains = ratio > 0 and float(fdtrc(more, solution.freedom, ratio)) < CHANCE
    return FitState.FITS if explains and left_out else FitState.DOES_NOT_FIT


def chance_of_gain(simple: FactorSolution, more: FactorSolution) -> float:
    """Probability of a gain like that of more constants if they explained nothing: F-test."""
    from scipy.special import fdtrc

    squares = [float(one.residual @ one.residual) for one in (simple, more)]
    added = max(len(more.theta) - len(simple.theta), 1)
    ratio = (squares[0] - squares[1]) / added / max(squares[1] / more.freedom, 1e-300)
    return float(fdtrc(added, more.freedom, max(ratio, 0.0)))


def left_out_error(solution: FactorSolution) -> float:
    """Root mean square error of readings predicted from those of the other parts of the surface."""
    scale = np.linalg.norm(solution.jacobian, axis=0)
    return _left_out_of(
        solution.places.read_at_m, solution.residual, solution.jacobian / np.where(scale > 0, scale, 1.0)
    )


def mean_left_out_error(places: FloatArray, values: FloatArray) -> float:
    """The same of the mean of the readings in place of a model."""
    return _left_out_of(places, values - values.mean(), np.ones((len(values), 1)))


def _left_out_of(places: FloatArray, residual: FloatArray, jacobian: FloatArray) -> float:
    """The error of a linear model.

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


def _parts(places: FloatArray) -> NDArray[np.int64]:
    """The part of the surface that each reading lies in."""
    low, span = places.min(axis=0), np.maximum(np.ptp(places, axis=0), 1e-9)
    cell = np.minimum((places - low) / span * PARTS, PARTS - 1).astype(np.int64)
    return np.asarray(cell[:, 0] * PARTS + cell[:, 1])


def condition_number(solution: FactorSolution) -> float:
    """Of the columns of the constants, each scaled to its length."""
    scale = np.linalg.norm(solution.jacobian, axis=0)
    return float(np.linalg.cond(solution.jacobian / np.where(scale > 0, scale, 1.0)))


def unexplained(residual: FloatArray, grid: Grid, is_flux: bool) -> tuple[str, ...]:
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
