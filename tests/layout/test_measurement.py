"""Readings over a surface: read strictly, fitted with uncertainty, carried to a changed layout."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from burnerlab.layout.cooking_surface import Emitter, Grid, Layout, Surface, grid_over
from burnerlab.layout.heat_map import heat_map, pieces
from burnerlab.layout.measurement import (
    MeasuredGrid,
    calibrated,
    fit_band,
    fit_grid,
    predicted_temperature_K,
    read_grid,
    with_factors,
)
from burnerlab.quantity import UserError

SURFACE = Surface(name="plate", x_m=0.2, y_m=0.0, z_m=0.19, width_m=0.4, depth_m=0.4, plate=True)


def layout(*xs: float) -> Layout:
    tubes = tuple(
        Emitter(
            name=f"tube {i}", form="line", x_m=x, y_m=0.0, z_m=0.09, length_m=0.36, width_m=0.025,
            heat_input_W=3000.0, radiant=0.1, capture=0.4,
        )
        for i, x in enumerate(xs or (0.08, 0.2, 0.32))
    )  # fmt: skip
    return Layout(surface=SURFACE, burners=tubes)


def readings(noise: float = 0.0, *, temperature: bool = False, seed: int = 3) -> MeasuredGrid:
    """A shop with known truth: radiated share 1.5 times, capture 0.7 times, footprint 1.6 times the table's."""
    truth = with_factors(layout(), 1.0 if temperature else 1.5, 0.7, 1.6)
    cells = grid_over(SURFACE, 10, 8)
    grid = Grid(x_m=cells.x_m.ravel(), y_m=cells.y_m.ravel())
    flux = pieces(truth, grid)[0].flux(truth).sum(axis=0)
    rng = np.random.default_rng(seed)
    if temperature:
        values = 380.0 + 140.0 * flux / flux.mean() + noise * rng.standard_normal(flux.size)
    else:
        values = flux * (1 + noise * rng.standard_normal(flux.size))
    return MeasuredGrid(
        measurand="temperature" if temperature else "flux",
        x_m=grid.x_m,
        y_m=grid.y_m,
        values=values,
        file="r.csv",
    )


def test_exact_readings_give_the_truth_back() -> None:
    fit = fit_grid(layout(), readings())
    assert [constant.value for constant in fit.constants] == pytest.approx([1.5, 0.7, 1.6], rel=1e-3)
    assert fit.explained == pytest.approx(1.0, abs=1e-6)
    assert fit.evidence == "measured here"


def test_stated_intervals_cover_the_truth() -> None:
    """Of 40 noisy shops the 95 % intervals hold the truth in 34 to 40 for each constant."""
    held = np.zeros(3)
    for seed in range(40):
        fit = fit_grid(layout(), readings(0.04, seed=seed))
        held += [c.low <= true <= c.high for c, true in zip(fit.constants, (1.5, 0.7, 1.6), strict=True)]
    assert np.all(held >= 34)


def test_temperatures_fix_the_pattern_with_offset_and_gain() -> None:
    fit = fit_grid(layout(), readings(1.0, temperature=True))
    names = [constant.name for constant in fit.constants]
    assert names == ["capture", "footprint width", "offset", "gain"]
    assert [c.value for c in fit.constants] == pytest.approx([0.7, 1.6, 380.0, 140.0], rel=0.1)
    assert fit.rms_residual == pytest.approx(1.0, rel=0.25)


def test_a_changed_layout_is_predicted_with_the_fitted_constants() -> None:
    fit = fit_grid(layout(), readings(0.02))
    changed = layout(0.05, 0.2, 0.35)
    truth = heat_map(with_factors(changed, 1.5, 0.7, 1.6)).evenness
    ours = heat_map(calibrated(fit, changed)).evenness
    assert ours.coefficient_of_variation == pytest.approx(truth.coefficient_of_variation, rel=0.03)
    band = fit_band(fit, changed)
    assert (
        band.coefficient_of_variation.low
        <= truth.coefficient_of_variation
        <= band.coefficient_of_variation.high
    )
    assert fit_band(fit, changed) == band  # the same draws every time


def test_predicted_temperatures_follow_the_fit() -> None:
    fit = fit_grid(layout(), readings(temperature=True))
    assert float(predicted_temperature_K(fit, np.array([1.0]), 1.0)[0]) == pytest.approx(520.0, rel=1e-3)
    with pytest.raises(UserError, match="give no temperatures"):
        predicted_temperature_K(fit_grid(layout(), readings()), np.array([1.0]), 1.0)


def test_what_cannot_be_fitted_is_said() -> None:
    """A slope from left to right, which no symmetric layout gives."""
    tilted = readings(0.01)
    tilted = replace(tilted, values=tilted.values * (1 + 1.5 * (tilted.x_m - 0.2)))
    told = " ".join(fit_grid(layout(), tilted).not_fitted)
    assert "to the right" in told


def test_readings_that_tell_nothing_are_not_called_calibrated() -> None:
    noise = readings()
    rng = np.random.default_rng(5)
    noise = replace(noise, values=1e4 * (1 + 0.3 * rng.standard_normal(noise.values.size)))
    fit = fit_grid(layout(), noise)
    assert fit.evidence == "estimate"
    assert not all(constant.determined for constant in fit.constants)


def test_too_few_readings_are_refused() -> None:
    few = readings()
    few = replace(few, x_m=few.x_m[:5], y_m=few.y_m[:5], values=few.values[:5])
    with pytest.raises(UserError, match="too few readings"):
        fit_grid(layout(), few)


# files


def written(folder: Path, text: str) -> Path:
    path = folder / "readings.csv"
    path.write_text(text, encoding="utf-8")
    return path


LIST = "x_mm,y_mm,temperature_C\n" + "\n".join(
    f"{x},{y},{200 + x / 10}" for x in (50, 150, 250, 350) for y in (-100, 0, 100)
)


def test_a_list_a_table_and_a_picture_say_the_same(tmp_path: Path) -> None:
    xs, ys = (50, 150, 250, 350), (150, 50, -50, -150)
    table = "temperature_C," + ",".join(map(str, xs)) + "\n"
    table += "\n".join(f"{y}," + ",".join(str(200 + x / 10 + y / 20) for x in xs) for y in ys)
    rows = [f"{x},{y},{200 + x / 10 + y / 20}" for y in ys for x in xs]
    as_list = read_grid(written(tmp_path, "x_mm,y_mm,temperature_C\n" + "\n".join(rows)), SURFACE)
    as_table = read_grid(written(tmp_path, "# infrared, 12 min\n" + table), SURFACE)
    bare = "\n".join(",".join(str(200 + x / 10 + y / 20) for x in xs) for y in ys)
    picture = read_grid(written(tmp_path, bare), SURFACE, "temperature_C")
    for other in (as_table, picture):
        assert other.values == pytest.approx(as_list.values)
        assert other.x_m == pytest.approx(as_list.x_m)
        assert other.y_m == pytest.approx(as_list.y_m)
    assert as_list.values[0] == pytest.approx(273.15 + 200 + 5 + 7.5)


def test_fahrenheit_and_inches(tmp_path: Path) -> None:
    text = LIST.replace("x_mm", "x_in").replace("y_mm", "y_in").replace("temperature_C", "temperature_F")
    text = "\n".join(
        [
            "x_in,y_in,temperature_F",
            *(f"{x},{y},400" if x else f"{x},{y},410" for x in (0, 5, 10, 15) for y in (-3, 3)),
        ]
    )
    found = read_grid(written(tmp_path, text), SURFACE)
    assert found.values[-1] == pytest.approx((400 - 32) / 1.8 + 273.15)
    assert found.x_m[-1] == pytest.approx(0.381)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (LIST.replace("205.0", "hot", 1), "line 2"),
        (LIST.replace("205.0", "nan", 1), "is not a plain number"),
        (LIST.replace("205.0", "0x10", 1), "is not a plain number"),
        (LIST.replace("50,-100", "900,-100", 1), "lies off plate"),
        (LIST.replace("x_mm", "x"), "needs x, y and one reading"),
        (LIST.replace("50,-100,205.0", "50,-100", 1), "line 2"),
        ("x_mm,y_mm,temperature_C\n50,0,200", "too few or too many readings"),
        ("", "holds no readings"),
        ("1,2\n3,4", "is no grid of readings"),
        (LIST.replace("205.0", "5000", 1), "outside -73 to 1727 C"),
    ],
)
def test_readings_that_cannot_be_used(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(UserError, match=words):
        read_grid(written(tmp_path, text), SURFACE)


def test_equal_readings_teach_nothing(tmp_path: Path) -> None:
    text = "\n".join(
        ["x_mm,y_mm,temperature_C", *(f"{x},{y},200" for x in (50, 150, 250) for y in (-1, 0, 1))]
    )
    with pytest.raises(UserError, match="nothing can be learnt"):
        read_grid(written(tmp_path, text), SURFACE)


def test_a_missing_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="there is no such file"):
        read_grid(tmp_path / "gone.csv", SURFACE)
