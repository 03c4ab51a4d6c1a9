"""A measured grid of readings, and the model fitted to it.

Readings of flux fix three constants: factors on the radiated share, on the capture of the hot gas and on the width of
its footprint. Readings of temperature fix four: an offset, a gain, and the last two factors; they fix the pattern, not
the kilowatts, and take a place to be hotter in proportion to the heat it takes up.
"""

from __future__ import annotations

import csv
import math
import os
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.project.project_file import read_text
from burnerlab.layout.cooking_surface import Grid, Layout, Span, Surface, grid_over
from burnerlab.layout.heat_map import MapBand, Pieces, check_layout, evenness, pieces
from burnerlab.layout.plume import covered_share, footprint
from burnerlab.quantity import Kind, from_unit
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables.figure import Evidence
from burnerlab.tables.problem import Problem, UserError

# A measured grid: thermocouples, discs or an infrared picture, read from a CSV file with strict complaints.

FloatArray = NDArray[np.float64]
Measurand = Literal["temperature", "flux"]

COLUMNS = {
    "temperature_C": ("temperature", Kind.TEMPERATURE, "C"),
    "temperature_F": ("temperature", Kind.TEMPERATURE, "F"),
    "temperature_K": ("temperature", Kind.TEMPERATURE, "K"),
    "flux_kW_per_m2": ("flux", Kind.HEAT_FLUX, "kW/m2"),
}
LENGTHS = {"mm": 1e-3, "cm": 1e-2, "in": 0.0254}  # definitions
FEWEST, MOST = 8, 40_000
ACCEPTED = (
    "columns x_mm, y_mm and temperature_C, temperature_F, temperature_K or flux_kW_per_m2; or a table with that "
    "word in its first cell, x_mm along the top and y_mm down the side; or bare numbers of a picture with --measured-as"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredGrid:
    """Readings over a cooking surface."""

    measurand: Measurand
    x_m: FloatArray
    y_m: FloatArray
    values: FloatArray  # K or W/m2
    file: str


def read_grid(path: str | os.PathLike[str], surface: Surface, measured_as: str = "") -> MeasuredGrid:
    """Readings of a CSV file.

    surface : a picture without coordinates is spread over it, first row at the back
    measured_as : what the bare numbers of a picture are, such as temperature_C
    Raises UserError with the line of everything that cannot be read.

    >>> from tempfile import TemporaryDirectory
    >>> plate = Surface(name="plate", x_m=0.2, y_m=0.2, z_m=0.1, width_m=0.4, depth_m=0.4)
    >>> table = "temperature_C,100,200,300\\n100,210,240,205\\n200,220,260,215\\n300,200,230,190\\n"
    >>> with TemporaryDirectory() as folder:
    ...     file = Path(folder) / "grid.csv"
    ...     _ = file.write_text(table, encoding="utf-8")
    ...     float(read_grid(file, plate).values.max())
    533.15
    """
    name = Path(path).name
    rows = _rows(path, name)
    head = [cell.strip() for cell in rows[0][1]]
    if any(cell in COLUMNS for cell in head[1:]) or head[0].startswith(("x_", "y_")):
        found = _list(rows, head, name)
    elif head[0] in COLUMNS:
        found = _table(rows, head[0], name)
    elif measured_as:
        found = _picture(rows, measured_as, surface, name)
    else:
        raise UserError(
            Problem("is no grid of readings", value=",".join(head), file=name, line=1, accepted=ACCEPTED)
        )
    return _checked(found, surface)


def _rows(path: str | os.PathLike[str], name: str) -> list[tuple[int, list[str]]]:
    """Rows with their line numbers, comments and empty lines left out."""
    try:
        read = list(csv.reader(read_text(path).text.splitlines()))
    except csv.Error:
        raise UserError(Problem("is not a CSV in plain UTF-8", file=name)) from None
    kept = [
        (i, row)
        for i, row in enumerate(read, start=1)
        if row and not row[0].lstrip().startswith("#") and any(row)
    ]
    if len(kept) < 2:
        raise UserError(Problem("holds no readings", file=name, accepted=ACCEPTED))
    return kept


def _number(text: str, name: str, line: int, key: str) -> float | Problem:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    plain = text.strip().lstrip("+-").replace(".", "", 1).replace("e", "", 1).replace("-", "", 1)
    if not math.isfinite(value) or not plain.isascii() or not plain.isdigit():
        return Problem(
            "is not a plain number",
            value=text,
            key=key,
            file=name,
            line=line,
            fix="use a point as decimal mark",
        )
    return value


def _numbers(cells: list[tuple[str, int, str]], name: str) -> list[float]:
    read = [_number(text, name, line, key) for text, line, key in cells]
    problems = [one for one in read if isinstance(one, Problem)]
    if problems:
        raise UserError(problems[:20])
    return [one for one in read if isinstance(one, float)]


def _list(rows: list[tuple[int, list[str]]], head: list[str], name: str) -> MeasuredGrid:
    words = {cell: i for i, cell in enumerate(head)}
    values = [cell for cell in head if cell in COLUMNS]
    axes = [cell for cell in head if cell[:2] in ("x_", "y_") and cell[2:] in LENGTHS]
    if len(values) != 1 or sorted(cell[0] for cell in axes) != ["x", "y"]:
        raise UserError(
            Problem("needs x, y and one reading", value=",".join(head), file=name, line=1, accepted=ACCEPTED)
        )
    columns = [*sorted(axes), values[0]]
    short = [line for line, row in rows[1:] if len(row) != len(head)]
    if short:
        what = f"does not have the {len(head)} cells of the first line"
        raise UserError(Problem(what, file=name, line=short[0], fix="fill or remove the line"))
    cells = [(row[words[column]], line, column) for line, row in rows[1:] for column in columns]
    found = np.array(_numbers(cells, name)).reshape(-1, 3)
    return _grid(
        found[:, 2],
        found[:, 0] * LENGTHS[columns[0][2:]],
        found[:, 1] * LENGTHS[columns[1][2:]],
        values[0],
        name,
    )


def _table(rows: list[tuple[int, list[str]]], word: str, name: str) -> MeasuredGrid:
    width = len(rows[0][1])
    uneven = [line for line, row in rows if len(row) != width]
    if uneven:
        raise UserError(
            Problem(f"does not have {width} cells", file=name, line=uneven[0], fix="fill the line")
        )
    x = np.array(_numbers([(cell, rows[0][0], "x_mm") for cell in rows[0][1][1:]], name)) / 1e3
    body = np.array(_numbers([(cell, line, word) for line, row in rows[1:] for cell in row], name)).reshape(
        -1, width
    )
    gx, gy = np.meshgrid(x, body[:, 0] / 1e3)
    return _grid(body[:, 1:].ravel(), gx.ravel(), gy.ravel(), word, name)


def _picture(rows: list[tuple[int, list[str]]], word: str, surface: Surface, name: str) -> MeasuredGrid:
    if word not in COLUMNS:
        raise UserError(
            Problem("is no reading", value=word, key="--measured-as", accepted=", ".join(COLUMNS))
        )
    width = len(rows[0][1])
    uneven = [line for line, row in rows if len(row) != width]
    if uneven:
        raise UserError(
            Problem(f"does not have {width} cells", file=name, line=uneven[0], fix="fill the line")
        )
    body = np.array(_numbers([(cell, line, word) for line, row in rows for cell in row], name)).reshape(
        -1, width
    )
    x1, x2, y1, y2 = surface.sides
    x = x1 + (x2 - x1) * (np.arange(width) + 0.5) / width
    y = y2 - (y2 - y1) * (np.arange(len(rows)) + 0.5) / len(rows)
    gx, gy = np.meshgrid(x, y)
    return _grid(body.ravel(), gx.ravel(), gy.ravel(), word, name)


def _grid(values: FloatArray, x: FloatArray, y: FloatArray, word: str, name: str) -> MeasuredGrid:
    measurand, kind, unit = COLUMNS[word]
    return MeasuredGrid(
        measurand="flux" if measurand == "flux" else "temperature",
        x_m=x,
        y_m=y,
        values=np.asarray(from_unit(values, kind, unit)),
        file=name,
    )


def _checked(grid: MeasuredGrid, surface: Surface) -> MeasuredGrid:
    count = grid.values.size
    if not FEWEST <= count <= MOST:
        raise UserError(
            Problem(
                "too few or too many readings",
                value=str(count),
                file=grid.file,
                accepted=f"{FEWEST} to {MOST}",
            )
        )
    x1, x2, y1, y2 = surface.sides
    edge = 1e-6
    inside = (
        (grid.x_m >= x1 - edge) & (grid.x_m <= x2 + edge) & (grid.y_m >= y1 - edge) & (grid.y_m <= y2 + edge)
    )
    if not np.all(inside):
        i = int(np.flatnonzero(~inside)[0])
        accepted = f"x {1e3 * x1:g} to {1e3 * x2:g} mm, y {1e3 * y1:g} to {1e3 * y2:g} mm"
        where = f"x {1e3 * grid.x_m[i]:g} mm, y {1e3 * grid.y_m[i]:g} mm"
        raise UserError(
            Problem(f"a reading lies off {surface.name}", where, file=grid.file, accepted=accepted)
        )
    if grid.measurand == "temperature" and not np.all((grid.values > 200.0) & (grid.values < 2000.0)):
        raise UserError(
            Problem("a temperature is outside -73 to 1727 C", file=grid.file, fix="check the unit")
        )
    if float(np.ptp(grid.values)) <= 1e-9 * abs(float(grid.values.mean())):
        raise UserError(Problem("all readings are equal: nothing can be learnt from them", file=grid.file))
    return grid


# Fit the few free constants of a heat map to a measured grid, say how well, and predict a changed layout.

FACTORS = {"radiant share": (0.1, 8.0), "capture": (0.05, 3.0), "footprint width": (0.4, 4.0)}
"""How far each factor on the table's figure may go; a fit that ends there says so."""
VAGUE = 4.0  # high over low end of a 95 % interval beyond which a factor counts as not determined
SPARE_READINGS = 3
DRAWS = 80
CLEAR_t = 3.0  # a slope of the residuals this many standard errors from none is told
HANGS_TOGETHER = 0.5  # correlation of neighbouring residuals that is told


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


@dataclass(frozen=True, slots=True, kw_only=True)
class GridFit:
    """What a measured grid says of a layout."""

    layout: Layout  # with the fitted constants
    measured: MeasuredGrid
    constants: tuple[Constant, ...] = field(metadata=output("constants"))
    readings: int = field(metadata=output("readings"))
    rms_residual: float  # K or W/m2
    largest_residual: float  # measured less fitted
    largest_at_m: tuple[float, float] = field(metadata=output("largest at x, y", Kind.LENGTH))
    explained: float = field(metadata=output("variance followed", Kind.FRACTION))
    """Share of the readings' variance [-]."""
    not_fitted: tuple[str, ...] = field(metadata=output("not fitted"))
    """What the model has no way to follow."""
    theta: FloatArray
    covariance: FloatArray

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
    @computed_output("evidence")
    def evidence(self) -> Evidence:
        """Measured here once the readings settle every constant and explain most of what was read."""
        settled = all(constant.determined for constant in self.constants) and self.explained > 0.5
        return Evidence.MEASURED if settled else Evidence.ESTIMATE


@dataclass(frozen=True, slots=True)
class _Model:
    """Predicted readings from factors; geometry is worked out once."""

    layout: Layout
    grid: Grid
    base: Pieces
    is_flux: bool

    def flux(self, radiant: float, capture: float, width: float) -> FloatArray:
        changed = with_factors(self.layout, radiant, capture, width)
        carried = np.stack([_carried(changed, i, self.grid) for i in range(len(changed.burners))])
        return np.asarray(replace(self.base, carried=carried).flux(changed).sum(axis=0))

    def __call__(self, theta: FloatArray) -> FloatArray:
        if self.is_flux:
            radiant, capture, width = np.exp(theta)
            return self.flux(radiant, capture, width)
        capture, width = np.exp(theta[:2])
        pattern = self.flux(1.0, capture, width)
        return np.asarray(theta[2] + theta[3] * pattern / pattern.mean())


def _carried(layout: Layout, i: int, grid: Grid) -> FloatArray:
    burner = layout.burners[i]
    covers = tuple(c for c in layout.covers if c.z_m < layout.surface.z_m)
    kept = 1 - layout.shape.shield_uptake * covered_share(burner, covers)
    return kept * footprint(burner, layout.surface, grid.x_m, grid.y_m, layout.shape, covers)


def with_factors(layout: Layout, radiant: float, capture: float, width: float) -> Layout:
    """A layout with factors on its radiated shares, its capture and the width of its footprints; no spans left."""
    burners = tuple(
        replace(
            b,
            radiant=min(radiant * b.radiant, 0.95),
            capture=capture * b.capture,
            radiant_span=None,
            capture_span=None,
        )
        for b in layout.burners
    )
    shape = replace(layout.shape, plume_spread=width * layout.shape.plume_spread, plume_span=None)
    return replace(layout, burners=burners, shape=shape)


def fit_grid(layout: Layout, measured: MeasuredGrid) -> GridFit:
    """Fit a layout to readings over its surface by least squares.

    Raises UserError when there are too few readings for the constants, or when they do not tell any of them.

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.layout.layout_study import layout_of
    >>> from burnerlab.layout.heat_map import heat_map
    >>> griddle = layout_of(demonstration(), "griddle")
    >>> grid = grid_over(griddle.surface, 6, 4)
    >>> flux = 1.1 * heat_map(griddle, grid).flux_W_per_m2.ravel()  # as if a tenth more had been measured
    >>> x, y = grid.x_m.ravel(), grid.y_m.ravel()
    >>> fit_grid(griddle, MeasuredGrid(measurand="flux", x_m=x, y_m=y, values=flux, file="")).explained
    1.00
    """
    from scipy.optimize import least_squares

    check_layout(layout)
    grid = Grid(x_m=measured.x_m, y_m=measured.y_m)
    is_flux = measured.measurand == "flux"
    names = ["radiant share", "capture", "footprint width"] if is_flux else ["capture", "footprint width"]
    count = len(names) + (0 if is_flux else 2)
    if measured.values.size < count + SPARE_READINGS:
        accepted = f"at least {count + SPARE_READINGS}"
        raise UserError(
            Problem("too few readings for the constants", str(measured.values.size), accepted=accepted)
        )
    model = _Model(layout, grid, pieces(layout, grid)[0], is_flux)
    start, low, high = _start(model, measured.values, names)
    scale = float(np.std(measured.values))

    def gap(theta: FloatArray) -> FloatArray:
        return np.asarray((model(theta) - measured.values) / scale)

    found = least_squares(gap, start, bounds=(low, high), x_scale="jac", max_nfev=200)
    residual = measured.values - model(found.x)
    covariance = _covariance(found.jac, residual / scale, count)
    constants = _constants(found.x, covariance, (names, low, high), measured.values.size - count)
    worst = int(np.argmax(np.abs(residual)))
    factors = np.exp(found.x[: len(names)])
    fitted = with_factors(layout, *(factors if is_flux else (1.0, *factors)))
    return GridFit(
        layout=fitted,
        measured=measured,
        constants=constants,
        readings=measured.values.size,
        rms_residual=float(np.sqrt(np.mean(residual**2))),
        largest_residual=float(residual[worst]),
        largest_at_m=(float(grid.x_m[worst]), float(grid.y_m[worst])),
        explained=float(1 - residual.var() / measured.values.var()),
        not_fitted=_not_fitted(residual, grid, is_flux),
        theta=found.x,
        covariance=covariance,
    )


def _start(model: _Model, values: FloatArray, names: list[str]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """First guess and bounds; offset and gain of temperatures by a straight line."""
    low, high = (np.log([FACTORS[name][end] for name in names]) for end in (0, 1))
    start = np.zeros(len(names))
    if model.is_flux:
        return start, low, high
    pattern = model.flux(1.0, 1.0, 1.0)
    pattern = pattern / pattern.mean()
    gain, offset = np.polyfit(pattern, values, 1) if np.ptp(pattern) > 1e-9 else (1.0, values.mean())
    width = 20 * float(np.ptp(values)) + 1.0
    ends = np.array([values.mean(), width])
    start = np.concatenate([start, [offset, min(max(gain, 1e-3), width * 0.9)]])
    return (
        start,
        np.concatenate([low, [ends[0] - width, 0.0]]),
        np.concatenate([high, [ends[0] + width, width]]),
    )


def _covariance(jacobian: Any, residual: FloatArray, count: int) -> FloatArray:
    """s^2 (J^T J)^-1; directions the readings do not see get a very large variance."""
    J = np.asarray(jacobian, dtype=np.float64)
    variance = float(residual @ residual) / (residual.size - count)
    _, s, vt = np.linalg.svd(J, full_matrices=False)
    seen = np.maximum(s, 1e-9 * max(s[0], 1e-30))
    return np.asarray((vt.T / seen**2) @ vt * variance)


def _constants(
    theta: FloatArray, covariance: FloatArray, bounds: tuple[list[str], FloatArray, FloatArray], freedom: int
) -> tuple[Constant, ...]:
    from scipy.stats import t

    names, low, high = bounds
    reach = float(t.ppf(0.975, freedom))
    made = []
    for i, value in enumerate(theta):
        u = float(np.sqrt(covariance[i, i]))
        if i >= len(names):
            name = "offset" if i == len(names) else "gain"
            ends = (value - reach * u, value + reach * u)
            made.append(
                Constant(
                    name=name, value=float(value), standard_uncertainty=u, low=ends[0], high=ends[1],
                    determined=bool(ends[0] > 0 or name == "offset"), at_bound=False,
                )
            )  # fmt: skip
            continue
        stuck = bool(min(value - low[i], high[i] - value) < 1e-3)
        factor, wide = math.exp(value), min(reach * u, 50.0)
        made.append(
            Constant(
                name=names[i],
                value=factor,
                standard_uncertainty=factor * u,
                low=factor * math.exp(-wide),
                high=factor * math.exp(wide),
                determined=not stuck and 2 * wide < math.log(VAGUE),
                at_bound=stuck,
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


def calibrated(fit: GridFit, changed: Layout) -> Layout:
    """Another layout with the constants of a fit.

    changed : as read from its file, with the table's figures
    """
    radiant, capture, width = _factors(fit, fit.theta)
    return with_factors(changed, radiant, capture, width)


def _factors(fit: GridFit, theta: FloatArray) -> tuple[float, float, float]:
    values = [float(one) for one in np.exp(theta[: 3 if fit.measured.measurand == "flux" else 2])]
    return (values[0], values[1], values[2]) if len(values) == 3 else (1.0, values[0], values[1])


def fit_band(fit: GridFit, changed: Layout, seed: int = 1) -> MapBand:
    """Measures of a layout over draws from the fit's uncertainty, the middle 95 %.

    changed : as read from its file, with the table's figures
    """
    grid = grid_over(changed.surface, 30, 20)
    rng = np.random.default_rng(seed)
    names = ["radiant share", "capture", "footprint width"]
    names = names if fit.measured.measurand == "flux" else names[1:]
    low, high = (np.log([FACTORS[name][end] for name in names]) for end in (0, 1))
    base, found = pieces(changed, grid)[0], []
    root = np.linalg.cholesky(fit.covariance + 1e-12 * np.eye(fit.theta.size))
    model = _Model(changed, grid, base, True)
    for _ in range(DRAWS):
        theta = fit.theta + root @ rng.standard_normal(fit.theta.size)
        theta[: len(names)] = np.clip(theta[: len(names)], low, high)
        found.append(evenness(model.flux(*_factors(fit, theta))))

    def middle(values: list[float]) -> Span:
        ends = np.percentile(values, [2.5, 97.5])
        return Span(low=float(ends[0]), high=float(ends[1]))

    return MapBand(
        mean_W_per_m2=middle([one.mean for one in found]),
        spread=middle([one.spread for one in found]),
        coefficient_of_variation=middle([one.coefficient_of_variation for one in found]),
        corners=DRAWS,
    )


def predicted_temperature_K(
    fit: GridFit, flux_W_per_m2: FloatArray, fitted_mean_W_per_m2: float
) -> FloatArray:
    """Temperatures of a changed layout from its flux and the fit's offset and gain [K].

    fitted_mean_W_per_m2 : mean flux of the fitted layout at its readings
    Raises UserError for a fit to fluxes.
    """
    if fit.measured.measurand == "flux":
        raise UserError(Problem("readings of flux give no temperatures", value=fit.measured.file))
    return np.asarray(fit.theta[2] + fit.theta[3] * flux_W_per_m2 / fitted_mean_W_per_m2)
