"""Readings over a surface: read strictly, in three forms of file."""

from __future__ import annotations

from pathlib import Path

import pytest

from burnerlab.layout.cooking_surface import Surface
from burnerlab.layout.measurement import read_grid
from burnerlab.quantity import UserError

SURFACE = Surface(name="plate", x_m=0.2, y_m=0.0, z_m=0.19, width_m=0.4, depth_m=0.4, plate=True)


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
