"""A map fitted to readings: exact readings give the truth, bands hold truths that the model does not have."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from burnerlab.layout.cooking_surface import Emitter, Grid, Layout, PlumeShape, Span, Surface, grid_over
from burnerlab.layout.fit_result import FitState, GridFit
from burnerlab.layout.grid_fit import fit_grid
from burnerlab.layout.heat_map import heat_map, map_band, pieces
from burnerlab.layout.layout_factors import with_factors
from burnerlab.layout.layout_prediction import (
    calibrated,
    fit_band,
)
from burnerlab.layout.measurement import Measurand, MeasuredGrid
from burnerlab.quantity import UserError

Floats = NDArray[np.float64]
SURFACE = Surface(name="plate", x_m=0.2, y_m=0.0, z_m=0.19, width_m=0.44, depth_m=0.42, plate=True)


def layout(*xs: float) -> Layout:
    """Tubes with the figures and spans that the table has for natural gas under a plate."""
    tubes = tuple(
        Emitter(
            name=f"tube {i}", form="line", x_m=x, y_m=0.0, z_m=0.09, length_m=0.36, width_m=0.025,
            heat_input_W=3000.0, radiant=0.1, radiant_span=Span(low=0.05, high=0.232), capture=0.4,
            capture_span=Span(low=0.2, high=0.6),
        )
        for i, x in enumerate(xs or (0.06, 0.2, 0.34))
    )  # fmt: skip
    return Layout(surface=SURFACE, burners=tubes, shape=PlumeShape(plume_span=Span(low=0.13, high=0.3)))


def cells(across: int = 10, deep: int = 8) -> Grid:
    grid = grid_over(SURFACE, across, deep)
    return Grid(x_m=grid.x_m.ravel(), y_m=grid.y_m.ravel())


def measured(values: Floats, measurand: Measurand) -> MeasuredGrid:
    grid = cells()
    return MeasuredGrid(measurand=measurand, x_m=grid.x_m, y_m=grid.y_m, values=values, file="r.csv")


def flux_of(truth: Layout, grid: Grid) -> Floats:
    return np.asarray(pieces(truth, grid)[0].flux(truth).sum(axis=0))


def readings(noise: float = 0.0, *, temperature: bool = False, seed: int = 3) -> MeasuredGrid:
    """A truth that the model has: radiated share 1.5 times, capture 0.7 times, footprint 1.6 times the table's."""
    flux = flux_of(with_factors(layout(), 1.0 if temperature else 1.5, 0.7, 1.6), cells())
    rng = np.random.default_rng(seed)
    if temperature:
        values = 380.0 + 140.0 * flux / flux.mean() + noise * rng.standard_normal(flux.size)
        return measured(values, "temperature")
    return measured(flux * (1 + noise * rng.standard_normal(flux.size)), "flux")


@cache
def exact_fit(*, temperature: bool = False) -> GridFit:
    return fit_grid(layout(), readings(temperature=temperature))


def test_exact_readings_give_the_truth_back() -> None:
    fit = exact_fit()
    assert [constant.value for constant in fit.constants] == pytest.approx([1.5, 0.7, 1.6], rel=1e-3)
    assert fit.explained == pytest.approx(1.0, abs=1e-6)
    assert (fit.state, fit.evidence, fit.is_per_burner) == (FitState.FITS, "measured here", False)


def test_stated_intervals_cover_the_truth() -> None:
    """Of 20 noisy grids the 95 % intervals hold the truth in 18 to 20 for each constant."""
    held = np.zeros(3)
    for seed in range(20):
        fit = fit_grid(layout(), readings(0.04, seed=seed))
        if not fit.is_per_burner:
            held += [c.low <= true <= c.high for c, true in zip(fit.constants, (1.5, 0.7, 1.6), strict=True)]
    assert np.all(held >= 18)


def test_temperatures_are_not_kilowatts() -> None:
    """A grid of temperatures of a hot or a lukewarm plate: pattern measured, mean heat and its band the table's."""
    grid = grid_over(SURFACE, 30, 20)
    table = map_band(heat_map(layout(), grid)).mean_W_per_m2
    for gain in (60.0, 300.0):
        flux = flux_of(with_factors(layout(), 1.0, 1.4, 1.3), cells())
        fit = fit_grid(layout(), measured(350 + gain * flux / flux.mean(), "temperature"))
        assert (fit.state, fit.evidence, fit.pattern_evidence) == ("fits", "estimate", "measured here")
        found = heat_map(calibrated(fit, layout()), grid)
        assert found.evenness.mean == pytest.approx(heat_map(layout(), grid).evenness.mean, rel=1e-3)
        band = fit_band(fit, layout(), found).mean_W_per_m2
        assert (band.low, band.high) == pytest.approx((table.low, table.high), rel=1e-9)
        true = flux_of(with_factors(layout(), 1.0, 1.4, 1.3), grid)
        assert found.flux_ratio == pytest.approx(true / true.mean(), rel=0.01)


def test_temperatures_fix_the_pattern_with_offset_and_gain() -> None:
    fit = fit_grid(layout(), readings(1.0, temperature=True))
    names = [constant.name for constant in fit.constants]
    assert names == ["capture", "footprint width", "offset", "gain"]
    truth = [0.7, 1.6, 380.0, 140.0]  # the table's span leaves the first one 30 % wide
    assert [c.value for c in fit.constants] == pytest.approx(truth, rel=0.3)
    assert [c.value for c in fit.constants[1:]] == pytest.approx(truth[1:], rel=0.02)
    assert all(c.low <= true <= c.high for c, true in zip(fit.constants, truth, strict=True))
    assert fit.rms_residual == pytest.approx(1.0, rel=0.25)


def test_factors_of_each_burner_where_the_readings_carry_them() -> None:
    """One tube 40 % down: told from the others by 80 readings, one factor for all by 12 noisy ones."""
    weak = with_factors(layout(), 1.0, (1.0, 0.6, 1.0), 1.0)
    rng = np.random.default_rng(4)
    values = flux_of(weak, cells()) * (1 + 0.02 * rng.standard_normal(80))
    fit = fit_grid(layout(), measured(values, "flux"))
    assert fit.is_per_burner
    found = {constant.name: constant for constant in fit.constants}
    ratio = found["capture of tube 1"].value / found["capture of tube 0"].value
    assert ratio == pytest.approx(0.6, abs=0.06)
    # a tube that was not there when the grid was measured takes the mean of the others
    more = calibrated(fit, layout(0.02, 0.14, 0.26, 0.38))
    assert more.burners[3].capture == pytest.approx(
        0.4 * np.exp(np.mean([np.log(found[f"capture of tube {i}"].value) for i in range(3)]))
    )
    few = grid_over(SURFACE, 4, 3)
    at = Grid(x_m=few.x_m.ravel(), y_m=few.y_m.ravel())
    values = flux_of(weak, at) * (1 + 0.25 * rng.standard_normal(12))
    noisy = MeasuredGrid(measurand="flux", x_m=at.x_m, y_m=at.y_m, values=values, file="r.csv")
    assert not fit_grid(layout(), noisy).is_per_burner


def test_a_fit_that_explains_nothing_does_not_replace_the_map() -> None:
    """Readings without any pattern, 15 times: none is taken for a fit, and the table's map and band stay."""
    for seed in range(15):
        noise = 1e4 * (1 + 0.3 * np.random.default_rng(seed).standard_normal(80))
        fit = fit_grid(layout(), measured(noise, "flux"))
        assert fit.state == FitState.DOES_NOT_FIT, seed
        assert calibrated(fit, layout()) == layout() == fit.layout
        made = heat_map(fit.layout, cells())
        assert fit_band(fit, layout(), made) == map_band(made)
        assert (fit.evidence, fit.pattern_evidence) == ("estimate", "estimate")
        assert "no better than their mean" in fit.not_fitted[0]


def test_a_factor_at_its_bound_is_said_and_not_used() -> None:
    """A footprint far wider than any factor allows, and no span to hold it: the width stays that of the table."""
    wide = layout()
    plain = replace(wide, shape=replace(wide.shape, plume_span=None))
    values = flux_of(with_factors(plain, 1.0, 1.0, 9.0), cells())
    fit = fit_grid(plain, measured(values, "flux"))
    stuck = [constant for constant in fit.constants if constant.is_at_bound]
    assert "footprint width" in [constant.name for constant in stuck]
    assert not any(constant.is_settled for constant in stuck)
    assert calibrated(fit, plain).shape.plume_spread == plain.shape.plume_spread
    assert any("at its bound" in note and "not used" in note for note in fit.not_fitted)


def test_what_cannot_be_fitted_is_said() -> None:
    """A slope from front to back, which no row of tubes gives."""
    tilted = readings(0.01)
    tilted = replace(tilted, values=tilted.values * (1 + 1.5 * tilted.y_m))
    told = " ".join(fit_grid(layout(), tilted).not_fitted)
    assert "to the back" in told


def test_a_picture_is_taken_by_one_reading_in_each_of_its_parts() -> None:
    """10 000 cells of an infrared picture settle what the same field does at 80 places."""
    truth = with_factors(layout(), 1.5, 0.7, 1.6)
    many = grid_over(SURFACE, 125, 80)
    at = Grid(x_m=many.x_m.ravel(), y_m=many.y_m.ravel())
    values = flux_of(truth, at)
    picture = MeasuredGrid(measurand="flux", x_m=at.x_m, y_m=at.y_m, values=values, file="r.csv")
    fit = fit_grid(layout(), picture)
    assert [constant.value for constant in fit.constants] == pytest.approx([1.5, 0.7, 1.6], rel=0.02)
    assert fit.readings == 10_000


def test_what_is_left_over_in_a_picture_is_that_of_the_fit_everywhere() -> None:
    """A picture finer over the middle tube: nothing is left over without noise, whatever the mean of the whole."""
    coarse, fine = grid_over(SURFACE, 16, 10), grid_over(replace(SURFACE, width_m=0.05), 20, 60)
    x, y = (np.concatenate([getattr(one, name).ravel() for one in (coarse, fine)]) for name in ("x_m", "y_m"))
    flux = flux_of(with_factors(layout(), 1.0, 0.7, 1.6), Grid(x_m=x, y_m=y))
    picture = MeasuredGrid(measurand="temperature", x_m=x, y_m=y, values=380 + 1.4e-2 * flux, file="r.csv")
    fit = fit_grid(layout(), picture)
    assert fit.rms_residual < 0.01
    assert fit.explained == pytest.approx(1.0, abs=1e-6)


def test_too_few_readings_are_refused() -> None:
    few = readings()
    few = replace(few, x_m=few.x_m[:5], y_m=few.y_m[:5], values=few.values[:5])
    with pytest.raises(UserError, match="too few readings"):
        fit_grid(layout(), few)
