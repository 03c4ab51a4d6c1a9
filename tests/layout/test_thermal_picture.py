"""An infrared picture becomes a grid: a picture made by a camera of known place gives its temperatures back."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from burnerlab.layout.cooking_surface import Surface
from burnerlab.layout.thermal_picture import (
    InfraredKey,
    images_of,
    projective_transformation,
    read_infrared,
)
from burnerlab.quantity import UserError

PLATE = Surface(name="plate", x_m=0.2, y_m=0.1, z_m=0.2, width_m=0.46, depth_m=0.36, plate=True)
COLUMNS, ROWS = 320, 240
COLD_K, HOT_K = 320.0, 620.0


def camera(points: Any) -> NDArray[np.float64]:
    """Pixels of points on the plate, by a pinhole camera before and above its front edge; y of pixels goes down."""
    p = np.asarray(points, dtype=np.float64)
    at = np.array([0.15, -0.45, 0.75])  # over the plate
    forward = np.array([0.2, 0.1, 0.0]) - at
    forward /= np.linalg.norm(forward)
    right = np.cross(forward, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    seen = np.column_stack([p, np.zeros(len(p))]) - at
    depth = seen @ forward
    return np.column_stack([160 + 380 * seen @ right / depth, 120 + 380 * seen @ down / depth])


def corners() -> NDArray[np.float64]:
    x1, x2, y1, y2 = PLATE.sides
    return camera([(x1, y1), (x2, y1), (x2, y2), (x1, y2)])


def truth(x: Any, y: Any) -> Any:
    """Two warm stripes and a slope [K]."""
    bumps = np.exp(-(((x - 0.1) / 0.05) ** 2)) + 0.8 * np.exp(-(((x - 0.3) / 0.06) ** 2))
    return 400 + 120 * bumps + 60 * (y - 0.1)


def picture() -> NDArray[np.float64]:
    """Temperatures of every pixel [K]; the ray of each is met with the plane by Newton steps."""
    u, v = np.meshgrid(np.arange(COLUMNS, dtype=float), np.arange(ROWS, dtype=float))
    want, places = np.column_stack([u.ravel(), v.ravel()]), np.tile([0.2, 0.1], (COLUMNS * ROWS, 1))
    for _ in range(25):
        step = 1e-6
        here = camera(places)
        jx = (camera(places + np.array([step, 0])) - here) / step
        jy = (camera(places + np.array([0, step])) - here) / step
        gap = want - here
        det = jx[:, 0] * jy[:, 1] - jx[:, 1] * jy[:, 0]
        dx = (gap[:, 0] * jy[:, 1] - gap[:, 1] * jy[:, 0]) / det
        dy = (gap[:, 1] * jx[:, 0] - gap[:, 0] * jx[:, 1]) / det
        places = np.clip(places + np.column_stack([dx, dy]), -0.6, 1.0)
    return np.asarray(truth(places[:, 0], places[:, 1])).reshape(ROWS, COLUMNS)


@pytest.fixture(scope="module")
def seen() -> NDArray[np.float64]:
    return picture()


def as_csv(folder: Path, kelvin: NDArray[np.float64]) -> Path:
    path = folder / "camera.csv"
    np.savetxt(path, kelvin - 273.15, fmt="%.2f", delimiter=",")
    return path


def as_png(folder: Path, shares: NDArray[np.float64], colours: Any = None) -> Path:
    """A PNG of shares 0 to 1, with its key down the right edge where it has colours."""
    from matplotlib.image import imsave

    path = folder / "camera.png"
    image = np.repeat(shares[:, :, None], 3, axis=2) if colours is None else colours(shares)
    if colours is not None:
        image[10:230, 310:318] = colours(np.linspace(1, 0, 220))[:, None, :]
    imsave(path, np.clip(image, 0, 1))
    return path


def left_over(found: Any) -> NDArray[np.float64]:
    grid = found.grid
    return np.asarray(grid.values - truth(grid.x_m, grid.y_m))


def test_the_transformation_is_that_of_the_camera_and_goes_back() -> None:
    x1, x2, y1, y2 = PLATE.sides
    H = projective_transformation([(x1, y1), (x2, y1), (x2, y2), (x1, y2)], corners())
    rng = np.random.default_rng(3)
    inside = rng.uniform((x1, y1), (x2, y2), (200, 2))
    assert images_of(H, inside) == pytest.approx(camera(inside), abs=1e-6)
    assert images_of(np.linalg.inv(H), camera(inside)) == pytest.approx(inside, abs=1e-9)


def test_temperatures_of_a_distorted_picture_come_back(tmp_path: Path, seen: NDArray[np.float64]) -> None:
    """Within 1 K of 150: the mean over a cell of 11 mm departs from its middle by curvature, 0.7 K here."""
    found = read_infrared(as_csv(tmp_path, seen), PLATE, corners(), emissivity=0.95, cells=40)
    assert found.grid.values.size >= 500
    assert found.cells_left_out == 0
    assert np.abs(left_over(found)).max() < 1.0
    assert any("0.95" in note for note in found.notes)


def test_a_corner_off_by_two_pixels_moves_the_pattern_by_no_more(
    tmp_path: Path, seen: NDArray[np.float64]
) -> None:
    moved = corners() + np.array([[2.0, 0.0], [0.0, 0.0], [0.0, 0.0], [0.0, 0.0]])
    found = read_infrared(as_csv(tmp_path, seen), PLATE, moved, emissivity=0.95, cells=40)
    assert 1.0 < np.abs(left_over(found)).max() < 20.0


def test_shades_of_grey_and_of_a_key_that_grows_lighter_are_read(
    tmp_path: Path, seen: NDArray[np.float64]
) -> None:
    shares = (seen - COLD_K) / (HOT_K - COLD_K)
    step = (HOT_K - COLD_K) / 255
    grey = read_infrared(
        as_png(tmp_path, shares),
        PLATE,
        corners(),
        emissivity=0.9,
        cells=40,
        key=InfraredKey(cold_K=COLD_K, hot_K=HOT_K),
    )
    assert np.abs(left_over(grey)).max() < 1.0 + step

    def warm(share: Any) -> Any:
        return np.stack([share**0.6, share, share**2], axis=-1)

    key = InfraredKey(cold_K=COLD_K, hot_K=HOT_K, cold_at=(314, 229), hot_at=(314, 10))
    coloured = read_infrared(
        as_png(tmp_path, shares, warm), PLATE, corners(), emissivity=0.9, cells=40, key=key
    )
    assert np.abs(left_over(coloured)).max() < 1.0 + 2 * step


def test_what_is_no_colour_of_the_key_or_at_its_ends_is_left_out(
    tmp_path: Path, seen: NDArray[np.float64]
) -> None:
    def warm(share: Any) -> Any:
        return np.stack([share**0.6, share, share**2], axis=-1)

    shares = np.clip((seen - COLD_K) / 160.0, 0, 1)  # the hot stripes are over the key
    image = warm(shares)
    image[100:110, 150:160] = (0.0, 0.2, 1.0)  # a cross of the camera
    from matplotlib.image import imsave

    image[10:230, 310:318] = warm(np.linspace(1, 0, 220))[:, None, :]
    path = tmp_path / "camera.png"
    imsave(path, image)
    key = InfraredKey(cold_K=COLD_K, hot_K=COLD_K + 160, cold_at=(314, 229), hot_at=(314, 10))
    found = read_infrared(path, PLATE, corners(), emissivity=0.9, cells=40, key=key)
    assert found.cells_left_out > 20
    assert found.grid.values.max() < COLD_K + 160
    assert np.abs(left_over(found)).max() < 1.5  # no cell that is read in part leans to one side
    assert any("left out" in note for note in found.notes)


@pytest.mark.parametrize(
    ("order", "words"),
    [
        ([1, 0, 3, 2], "the other way round"),
        ([0, 3, 2, 1], "the other way round"),
        ([0, 2, 1, 3], "cross or bend inwards"),
        ([0, 1, 3, 2], "cross or bend inwards"),
    ],
)
def test_corners_in_another_order_are_refused(
    order: list[int], words: str, tmp_path: Path, seen: NDArray[np.float64]
) -> None:
    path = as_csv(tmp_path, seen)
    with pytest.raises(UserError) as refused:
        read_infrared(path, PLATE, corners()[order], emissivity=0.95)
    problem = refused.value.problems[0]
    assert words.replace("the other way round", "go round the other way") in problem.what
    assert "front left, front right, back right, back left" in (problem.accepted or "")


def test_what_cannot_be_read_is_said(tmp_path: Path, seen: NDArray[np.float64]) -> None:
    from matplotlib import colormaps

    shares = (seen - COLD_K) / (HOT_K - COLD_K)
    ends = InfraredKey(cold_K=COLD_K, hot_K=HOT_K)
    placed = InfraredKey(cold_K=COLD_K, hot_K=HOT_K, cold_at=(314, 229), hot_at=(314, 10))

    def rainbow(share: Any) -> Any:
        return colormaps["jet"](share)[..., :3]  # darker at both ends

    png = as_png(tmp_path, shares, rainbow)
    for key, words in (
        (None, "needs its scale"),
        (ends, "is in colour"),
        (placed, "one shade stands for two"),
    ):
        with pytest.raises(UserError, match=words):
            read_infrared(png, PLATE, corners(), emissivity=0.95, key=key)
    with pytest.raises(UserError, match="no emissivity"):
        read_infrared(as_csv(tmp_path, seen), PLATE, corners(), emissivity=1.2)
    with pytest.raises(UserError, match="off the picture"):
        read_infrared(as_csv(tmp_path, seen), PLATE, corners() + 300, emissivity=0.95)
    (tmp_path / "words.csv").write_text("a,b\nc,d\n")
    with pytest.raises(UserError, match="no number"):
        read_infrared(tmp_path / "words.csv", PLATE, corners(), emissivity=0.95)
