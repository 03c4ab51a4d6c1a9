"""A layout predicted from a fit: bands hold truths that the model does not have, of this layout and of another."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from burnerlab.layout.cooking_surface import Grid, grid_over
from burnerlab.layout.fit_result import GridFit
from burnerlab.layout.grid_fit import fit_grid
from burnerlab.layout.heat_map import evenness, heat_map, map_band
from burnerlab.layout.layout_factors import with_factors
from burnerlab.layout.layout_prediction import (
    calibrated,
    fit_band,
    fitted_cell_band,
    predicted_temperature,
    predicted_temperature_K,
)
from burnerlab.layout.measurement import Measurand
from burnerlab.quantity import UserError
from tests.layout.test_grid_fit import SURFACE, cells, exact_fit, flux_of, layout, measured, readings

Floats = NDArray[np.float64]


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


SEEDS = range(100, 120)  # of the truths


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
        made = heat_map(calibrated(fit, layout()), fine)
        band, true = fit_band(fit, layout(), made), evenness(everywhere)
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
            t, hot = predicted_temperature(fit, layout(), fine), evenness(380 + 140 * everywhere / mean)
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
    """20 truths each: every band holds at least 95 % of them; half of its width would not hold 95 %."""
    names, found = trials(measurand)
    true, low, high = np.moveaxis(found, -1, 0)
    held = ((low <= true) & (true <= high)).mean(axis=0)
    off = np.abs(true - (low + high) / 2) / ((high - low) / 2)
    needed = np.quantile(off, 0.95, axis=0)
    said = {name: (float(h), float(n)) for name, h, n in zip(names, held, needed, strict=True)}
    assert np.all(held >= 0.95), said
    assert np.all(needed >= 0.5), said


def test_a_changed_layout_is_predicted_with_the_fitted_constants() -> None:
    fit = fit_grid(layout(), readings(0.02))
    changed = layout(0.05, 0.2, 0.35)
    truth = heat_map(with_factors(changed, 1.5, 0.7, 1.6)).evenness
    made = heat_map(calibrated(fit, changed))
    ours = made.evenness
    assert ours.coefficient_of_variation == pytest.approx(truth.coefficient_of_variation, rel=0.03)
    band = fit_band(fit, changed, made).coefficient_of_variation
    assert band.low <= truth.coefficient_of_variation <= band.high
    assert fit_band(fit, changed, made).coefficient_of_variation == band  # the same draws every time


def test_a_changed_layout_is_less_sure_than_the_measured_one() -> None:
    """The readings say where the model departs under the layout that was measured, not under another."""
    fit, _ = fit_to_truth("flux", SEEDS[1])
    widths = []
    for one in (layout(), layout(0.061, 0.2, 0.34)):
        span = fit_band(fit, one, heat_map(calibrated(fit, one), grid_over(SURFACE, 20, 15))).mean_W_per_m2
        widths.append(span.high - span.low)
    assert widths[1] > widths[0]


def test_predicted_temperatures_follow_the_fit() -> None:
    fit = exact_fit(temperature=True)
    assert predicted_temperature_K(fit, layout(), cells()) == pytest.approx(fit.measured.values, rel=1e-3)
    with pytest.raises(UserError, match="give no temperatures"):
        predicted_temperature_K(exact_fit(), layout(), cells())


@pytest.mark.parametrize("measurand", ["flux", "temperature"])
def test_the_band_of_each_place_holds_most_of_the_truth(measurand: Measurand) -> None:
    """Four truths outside the model: at least 90 % of the places lie within their own band of 95 %."""
    grid, held = grid_over(SURFACE, 20, 15), []
    for seed in SEEDS[:4]:
        everywhere, (fit, _) = perturbed_truth(seed)(grid), fit_to_truth(measurand, seed)
        band = fitted_cell_band(fit, layout(), heat_map(calibrated(fit, layout()), grid))
        held.append((band.flux_low_W_per_m2 <= everywhere) & (everywhere <= band.flux_high_W_per_m2))
    assert np.mean(held) >= 0.9


@pytest.mark.parametrize("measurand", ["flux", "temperature"])
def test_every_measure_lies_within_its_own_band_whatever_the_grid(measurand: Measurand) -> None:
    """The extremes of few places are not those of many: value and band are of the same places."""
    fit, _ = fit_to_truth(measurand, SEEDS[0])
    for across, deep in ((4, 3), (9, 7), (20, 16), (70, 50)):
        grid = grid_over(SURFACE, across, deep)
        plain, made = heat_map(layout(), grid), heat_map(calibrated(fit, layout()), grid)
        for band, at in (
            (map_band(plain), plain.evenness),
            (map_band(made), made.evenness),  # without spans
            (fit_band(fit, layout(), made), made.evenness),
        ):
            assert band.mean_W_per_m2.low <= at.mean <= band.mean_W_per_m2.high
            assert band.spread.low <= at.spread <= band.spread.high
            variation = band.coefficient_of_variation
            assert variation.low <= at.coefficient_of_variation <= variation.high
        if measurand == "temperature":
            t = predicted_temperature(fit, layout(), grid)
            assert t.most_temperature_K == predicted_temperature_K(fit, layout(), grid).max()
            assert t.most_temperature_low_K <= t.most_temperature_K <= t.most_temperature_high_K
            assert t.least_temperature_low_K <= t.least_temperature_K <= t.least_temperature_high_K
