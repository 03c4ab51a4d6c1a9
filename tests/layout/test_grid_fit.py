"""A map fitted to readings: exact readings give the truth, bands hold truths that the model does not have."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from burnerlab.layout.cooking_surface import Emitter, Grid, Layout, PlumeShape, Span, Surface, grid_over
from burnerlab.layout.grid_fit import (
    FitState,
    GridFit,
    calibrated,
    fit_band,
    fit_grid,
    fitted_cell_band,
    predicted_temperature,
    predicted_temperature_K,
    with_factors,
)
from burnerlab.layout.heat_map import evenness, heat_map, map_band, pieces
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


def perturbed_truth(seed: int) -> Callable[[Grid], Floats]:
    """Heat over a plate that the model cannot have: shape of the footprint, places, heights, rates, a tilt.

    Shares of heat and spread of the gas lie anywhere in the spans of the table.
    """
    rng = np.random.default_rng(seed)
    moved = replace(
        layout(),
        burners=tuple(
            replace(
                b,
                x_m=b.x_m + 0.004 * rng.standard_normal(),
                z_m=b.z_m + 0.004 * rng.standard_normal(),
                heat_input_W=b.heat_input_W * (1 + 0.05 * rng.standard_normal()),
            )
            for b in layout().burners
        ),
    )
    radiant, capture = rng.uniform(0.5, 2.32), rng.uniform(0.5, 1.5)
    width, share = rng.uniform(0.13, 0.3) / 0.18, rng.uniform(-0.2, 0.4)
    narrow = with_factors(moved, radiant, capture, width * (1 - 0.25 * share))
    wide = with_factors(moved, radiant, capture, 1.5 * width)
    tilt = 0.07 * rng.standard_normal(2)

    def flux(grid: Grid) -> Floats:
        slope = 1 + tilt[0] * (grid.x_m - 0.2) / 0.2 + tilt[1] * grid.y_m / 0.2
        both = (1 - share) * flux_of(narrow, grid) + share * flux_of(wide, grid)
        return np.asarray(np.maximum(both, 0.0) * slope)

    return flux


SEEDS = range(100, 130)  # of the truths


@cache
def fit_to_truth(measurand: Measurand, seed: int) -> tuple[GridFit, float]:
    """The fit to noisy readings of one truth, and the mean heat at their places."""
    at = perturbed_truth(seed)(cells())
    noise = np.random.default_rng(1000 + seed).standard_normal(at.size)
    values = (
        380 + 140 * at / at.mean() + 1.5 * noise if measurand == "temperature" else at * (1 + 0.03 * noise)
    )
    return fit_grid(layout(), measured(values, measurand)), float(at.mean())


def trials(measurand: Measurand) -> tuple[list[str], Floats]:
    """Truth, low and high end [trials, figures, 3] of every band that is printed for a measured grid."""
    rows, fine = [], grid_over(SURFACE, 60, 40)
    for seed in SEEDS:
        everywhere = perturbed_truth(seed)(fine)
        fit, mean = fit_to_truth(measurand, seed)
        band, true = fit_band(fit, layout()), evenness(everywhere)
        row = {
            "mean heat": (true.mean, band.mean_W_per_m2.low, band.mean_W_per_m2.high),
            "spread": (true.spread, band.spread.low, band.spread.high),
            "variation": (
                true.coefficient_of_variation,
                band.coefficient_of_variation.low,
                band.coefficient_of_variation.high,
            ),
        }
        if measurand == "temperature":
            t, hot = predicted_temperature(fit, layout()), evenness(380 + 140 * everywhere / mean)
            row |= {
                "mean temperature": (hot.mean, t.mean_temperature_low_K, t.mean_temperature_high_K),
                "highest": (hot.maximum, t.most_temperature_low_K, t.most_temperature_high_K),
                "lowest": (hot.minimum, t.least_temperature_low_K, t.least_temperature_high_K),
            }
        rows.append(list(row.values()))
    return list(row), np.array(rows)


@pytest.mark.slow
@pytest.mark.parametrize("measurand", ["flux", "temperature"])
def test_printed_bands_hold_truths_outside_the_model_and_are_no_wider_than_twice_what_is_needed(
    measurand: Measurand,
) -> None:
    """30 truths each: every band holds at least 95 % of them; half of its width would not hold 95 %."""
    names, found = trials(measurand)
    true, low, high = np.moveaxis(found, -1, 0)
    held = ((low <= true) & (true <= high)).mean(axis=0)
    off = np.abs(true - (low + high) / 2) / ((high - low) / 2)
    needed = np.quantile(off, 0.95, axis=0)
    said = {name: (float(h), float(n)) for name, h, n in zip(names, held, needed, strict=True)}
    assert np.all(held >= 0.95), said
    assert np.all(needed >= 0.5), said


def test_temperatures_are_not_kilowatts() -> None:
    """A grid of temperatures of a hot or a lukewarm plate: pattern measured, mean heat and its band the table's."""
    grid = grid_over(SURFACE, 30, 20)
    table = map_band(layout()).mean_W_per_m2
    for gain in (60.0, 300.0):
        flux = flux_of(with_factors(layout(), 1.0, 1.4, 1.3), cells())
        fit = fit_grid(layout(), measured(350 + gain * flux / flux.mean(), "temperature"))
        assert (fit.state, fit.evidence, fit.pattern_evidence) == ("fits", "estimate", "measured here")
        found = heat_map(calibrated(fit, layout()), grid)
        assert found.evenness.mean == pytest.approx(heat_map(layout(), grid).evenness.mean, rel=1e-3)
        assert fit_band(fit, layout()).mean_W_per_m2 == table
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
    """Readings without any pattern, 30 times: at most one is taken for a fit, and the table's map and band stay."""
    states = []
    for seed in range(30):
        noise = 1e4 * (1 + 0.3 * np.random.default_rng(seed).standard_normal(80))
        fit = fit_grid(layout(), measured(noise, "flux"))
        states.append(fit.state)
        if fit.state == FitState.DOES_NOT_FIT:
            assert calibrated(fit, layout()) == layout() == fit.layout
            assert fit_band(fit, layout()) == map_band(layout())
            assert (fit.evidence, fit.pattern_evidence) == ("estimate", "estimate")
            assert "no better than their mean" in fit.not_fitted[0]
    assert states.count(FitState.FITS) <= 1


def test_a_factor_at_its_bound_is_said_and_not_used() -> None:
    """A footprint far wider than any factor allows, and no span to hold it: the width stays that of the table."""
    wide = layout()
    plain = replace(wide, shape=replace(wide.shape, plume_span=None))
    values = flux_of(with_factors(plain, 1.0, 1.0, 9.0), cells())
    fit = fit_grid(plain, measured(values, "flux"))
    stuck = [constant for constant in fit.constants if constant.at_bound]
    assert "footprint width" in [constant.name for constant in stuck]
    assert not any(constant.determined for constant in stuck)
    assert calibrated(fit, plain).shape.plume_spread == plain.shape.plume_spread
    assert any("at its bound" in note and "not used" in note for note in fit.not_fitted)


def test_a_changed_layout_is_predicted_with_the_fitted_constants() -> None:
    fit = fit_grid(layout(), readings(0.02))
    changed = layout(0.05, 0.2, 0.35)
    truth = heat_map(with_factors(changed, 1.5, 0.7, 1.6)).evenness
    ours = heat_map(calibrated(fit, changed)).evenness
    assert ours.coefficient_of_variation == pytest.approx(truth.coefficient_of_variation, rel=0.03)
    band = fit_band(fit, changed).coefficient_of_variation
    assert band.low <= truth.coefficient_of_variation <= band.high
    assert fit_band(fit, changed).coefficient_of_variation == band  # the same draws every time


def test_a_changed_layout_is_less_sure_than_the_measured_one() -> None:
    """The readings say where the model departs under the layout that was measured, not under another."""
    fit, _ = fit_to_truth("flux", SEEDS[1])
    widths = []
    for one in (layout(), layout(0.061, 0.2, 0.34)):
        span = fit_band(fit, one).mean_W_per_m2
        widths.append(span.high - span.low)
    assert widths[1] > widths[0]


def test_predicted_temperatures_follow_the_fit() -> None:
    fit = exact_fit(temperature=True)
    assert predicted_temperature_K(fit, layout(), cells()) == pytest.approx(fit.measured.values, rel=1e-3)
    with pytest.raises(UserError, match="give no temperatures"):
        predicted_temperature_K(exact_fit(), layout(), cells())


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


@pytest.mark.parametrize("measurand", ["flux", "temperature"])
def test_the_band_of_each_place_holds_most_of_the_truth(measurand: Measurand) -> None:
    """Four truths outside the model: at least 90 % of the places lie within their own band of 95 %."""
    grid, held = grid_over(SURFACE, 20, 15), []
    for seed in SEEDS[:4]:
        everywhere, (fit, _) = perturbed_truth(seed)(grid), fit_to_truth(measurand, seed)
        band = fitted_cell_band(fit, layout(), heat_map(calibrated(fit, layout()), grid))
        held.append((band.flux_low_W_per_m2 <= everywhere) & (everywhere <= band.flux_high_W_per_m2))
    assert np.mean(held) >= 0.9
