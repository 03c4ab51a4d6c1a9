"""An infrared picture of a cooking surface as a measured grid: four corners, temperatures at the ends of its key.

The surface is a plane, so pixels and places on it go over into one another by a projective transformation, which four
corners fix. A CSV of temperatures needs no more; a PNG needs the temperatures at the ends of its key as well, and where
the key lies when the picture is in colour. The emissivity set at the camera is said by the user; nothing is corrected.
"""

from __future__ import annotations

import csv
import os
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.appliance.project.project_file import read_text
from burnerlab.layout.cooking_surface import Surface, grid_over
from burnerlab.layout.measurement import MeasuredGrid, check_grid
from burnerlab.quantity.outputs import output
from burnerlab.tables.problem import Problem, UserError

FloatArray = NDArray[np.float64]
CORNERS = ("front left", "front right", "back right", "back left")
ORDER = ", ".join(CORNERS)
LEAST_PIXELS = 20  # between neighbouring corners
CELLS, PIXELS_EACH = 16, 2.0  # cells along the longer side; pixels along each side of a cell at least
SAMPLES = 4  # each way within a cell
KEY_STEPS = 256
GREY_REACH = 6.0  # of 255: how far the channels of a grey may differ
COLOUR_REACH = 24.0  # of 255: how far a pixel may lie from the colours of the key
LEAST_STEP = 0.5  # of 255: how much lightness must change over a hundredth of the key
LEAST_CONTRAST = 60.0  # of 255: of lightness over the whole key
LUMA = (0.2126, 0.7152, 0.0722)  # ITU-R BT.709, memory
LEFT_OUT_MOST = 0.5  # share of the cells that may be left out


@dataclass(frozen=True, slots=True, kw_only=True)
class InfraredKey:
    """Temperatures at the ends of the key, and the pixels (x, y) of its cold and hot end; white is hot without them."""

    cold_K: float
    hot_K: float
    cold_at: tuple[float, float] | None = None
    hot_at: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class InfraredPicture:
    """What was read of a picture."""

    grid: MeasuredGrid
    cells_left_out: int = field(metadata=output("cells left out"))
    emissivity: float = field(metadata=output("emissivity set at the camera"))
    """As said by the user; no reading is corrected with it [-]."""
    notes: tuple[str, ...] = field(metadata=output("notes"))


def projective_transformation(points: ArrayLike, images: ArrayLike) -> FloatArray:
    """Matrix [3, 3] that takes plane points to their images, by least squares over four or more pairs [n, 2].

    (u, v) = (h1 x + h2 y + h3, h4 x + h5 y + h6) / (h7 x + h8 y + 1), linear in h once multiplied out; both sides are
    brought to unit size about their middles first. Source: a plane seen by a pinhole camera, textbook, memory.

    >>> square = [(0, 0), (1, 0), (1, 1), (0, 1)]
    >>> H = projective_transformation(square, [(0, 0), (2, 0), (2, 2), (0, 2)])
    >>> images_of(H, [(0.5, 0.25)]).round(6)
    array([[1. , 0.5]])
    """
    p, q = np.asarray(points, dtype=np.float64), np.asarray(images, dtype=np.float64)
    before, after = _to_unit(p), _to_unit(q)
    (x, y), (u, v) = images_of(before, p).T, images_of(after, q).T
    zero, unit = np.zeros_like(x), np.ones_like(x)
    rows = np.concatenate(
        [
            np.stack([x, y, unit, zero, zero, zero, -u * x, -u * y], axis=-1),
            np.stack([zero, zero, zero, x, y, unit, -v * x, -v * y], axis=-1),
        ]
    )
    h, *_ = np.linalg.lstsq(rows, np.concatenate([u, v]), rcond=None)
    found = np.linalg.inv(after) @ np.append(h, 1.0).reshape(3, 3) @ before
    return np.asarray(found / found[2, 2])


def _to_unit(points: FloatArray) -> FloatArray:
    middle = points.mean(axis=0)
    size = float(np.abs(points - middle).max())
    return np.array([[1 / size, 0, -middle[0] / size], [0, 1 / size, -middle[1] / size], [0, 0, 1.0]])


def images_of(H: FloatArray, points: ArrayLike) -> FloatArray:
    """Images [n, 2] of plane points under a projective transformation."""
    p = np.asarray(points, dtype=np.float64)
    out = np.column_stack([p, np.ones(len(p))]) @ H.T
    return np.asarray(out[:, :2] / out[:, 2:])


def read_infrared(
    path: str | os.PathLike[str],
    surface: Surface,
    corners: ArrayLike,
    *,
    emissivity: float,
    key: InfraredKey | None = None,
    cells: int = CELLS,
) -> InfraredPicture:
    """A measured grid of temperatures from an infrared picture of a cooking surface.

    path : a CSV of temperatures in °C, a row for each line of pixels, or a PNG
    corners : pixels (x to the right, y down) of the surface's front left, front right, back right and back left corner
    emissivity : as set at the camera, for the record: no reading is corrected with it [-]
    key : of a PNG; cells : along the longer side of the surface at most, their means are the readings
    Raises UserError for corners in another order, a key that is not monotone, and what cannot be read.
    """
    name = Path(path).name
    if not 0.0 < emissivity <= 1.0:
        raise UserError(Problem("is no emissivity", f"{emissivity:g}", "emissivity", accepted="above 0 to 1"))
    if name.lower().endswith(".png"):
        temperature_K, notes = _of_png(path, name, key)
    else:
        temperature_K, notes = _of_csv(path, name), []
    pixels = _checked_corners(np.asarray(corners, dtype=np.float64), temperature_K.shape, name)
    x1, x2, y1, y2 = surface.sides
    H = projective_transformation([(x1, y1), (x2, y1), (x2, y2), (x1, y2)], pixels)
    grid, left_out = _resampled(temperature_K, H, surface, (pixels, cells), name)
    notes += [
        f"temperatures of {name} stand as the camera gave them at an emissivity of {emissivity:g}; neither that of the "
        "surface nor what it mirrors is corrected: bare bright metal reads far too cold",
        "a picture does not say which corner is which: check that the hot side is where it should be",
    ]
    if left_out:
        notes.append(
            f"{left_out} cells are left out: off the picture, off the colours of the key, or at its ends"
        )
    if not surface.plate:
        notes.append(
            f"{surface.name} is an open grate: a camera sees burners and flames through it; lay a sheet on it"
        )
    return InfraredPicture(
        grid=check_grid(grid, surface), cells_left_out=left_out, emissivity=emissivity, notes=tuple(notes)
    )


def _checked_corners(pixels: FloatArray, shape: tuple[int, ...], name: str) -> FloatArray:
    """Refuse corners off the picture, too near, crossed, or the other way round."""
    words = " ".join(f"{x:g},{y:g}" for x, y in np.reshape(pixels, (-1, 2)))

    def refused(what: str, fix: str = "") -> UserError:
        return UserError(Problem(what, words, "corners", file=name, accepted=f"x,y of {ORDER}", fix=fix))

    if pixels.shape != (4, 2):
        raise refused("needs four corners")
    rows, columns = shape
    if not np.all((pixels >= -0.5) & (pixels <= (columns - 0.5, rows - 0.5))):
        raise refused(f"a corner lies off the picture of {columns} by {rows} pixels")
    steps = np.roll(pixels, -1, axis=0) - pixels
    if np.hypot(*steps.T).min() < LEAST_PIXELS:
        raise refused(f"two corners lie less than {LEAST_PIXELS} pixels apart", "go nearer with the camera")
    after = np.roll(steps, -1, axis=0)
    turns = np.sign(steps[:, 0] * after[:, 1] - steps[:, 1] * after[:, 0])
    if abs(turns.sum()) != 4:
        raise refused("the sides between the corners cross or bend inwards", "go round the surface")
    if turns[0] > 0:
        raise refused(
            "the corners go round the other way",
            "start at the front left corner and go on to the front right",
        )
    return pixels


def _of_csv(path: str | os.PathLike[str], name: str) -> FloatArray:
    """Temperatures [rows, columns] in K of a CSV in °C."""
    rows = [
        [cell.strip() for cell in row]
        for row in csv.reader(read_text(path).text.splitlines())
        if row and not row[0].lstrip().startswith("#")
    ]
    if len({len(row) for row in rows}) != 1 or len(rows) < 2:
        fix = "export the temperatures of all pixels, a row for each line"
        raise UserError(Problem("is no picture of temperatures", file=name, fix=fix))
    try:
        found = np.array(rows, dtype=np.float64)
    except ValueError:
        fix = "numbers in °C with a decimal point, nothing else"
        raise UserError(Problem("holds what is no number", file=name, fix=fix)) from None
    return np.where(np.isfinite(found), found, np.nan) + 273.15


def _of_png(path: str | os.PathLike[str], name: str, key: InfraredKey | None) -> tuple[FloatArray, list[str]]:
    """Temperatures [rows, columns] in K by the lightness of each pixel along the key; what is off it is NaN."""
    if key is None:
        fix = "give the temperatures at both ends of its key, or export the temperatures as CSV"
        raise UserError(Problem("a picture in shades needs its scale", file=name, key="scale", fix=fix))
    if not key.cold_K < key.hot_K:
        value = f"{key.cold_K - 273.15:g} C, {key.hot_K - 273.15:g} C"
        raise UserError(Problem("the cold end is not below the hot end", value, "scale", file=name))
    shades = _pixels(path, name)
    light = shades @ np.array(LUMA)
    if key.cold_at is None or key.hot_at is None:
        if float(np.ptp(shades, axis=-1).max()) > GREY_REACH:
            fix = "say where its key lies: the pixels of the cold and of the hot end"
            raise UserError(
                Problem("is in colour: it does not say which is hotter", file=name, key="key", fix=fix)
            )
        share = light / 255.0
        read = np.ones(light.shape, dtype=bool)
        notes = [f"{name}: black is taken as the cold end of the key, white as the hot end"]
    else:
        share, read = _along_key(shades, light, _key_colours(shades, key, name))
        notes = []
    clipped = (share <= 1.0 / 255) | (share >= 1 - 1.0 / 255)
    share = np.where(read & ~clipped, share, np.nan)
    notes.append(f"the key of {name} tells {(key.hot_K - key.cold_K) / 255:.2g} K at best")
    return key.cold_K + share * (key.hot_K - key.cold_K), notes


def _pixels(path: str | os.PathLike[str], name: str) -> FloatArray:
    """Red, green and blue [rows, columns, 3], 0 to 255."""
    try:
        from matplotlib.image import imread
    except ImportError:
        fix = "install the plotting library, or export the temperatures as CSV"
        raise UserError(Problem("a PNG cannot be read", file=name, fix=fix)) from None
    try:
        found = np.asarray(imread(os.fspath(path), format="png"), dtype=np.float64)
    except FileNotFoundError:
        raise UserError(Problem("there is no such file", file=name)) from None
    except (OSError, SyntaxError, ValueError):
        raise UserError(Problem("is no PNG", file=name)) from None
    if found.ndim == 2:
        found = np.repeat(found[:, :, None], 3, axis=2)
    return 255.0 * found[:, :, :3]


def _key_colours(shades: FloatArray, key: InfraredKey, name: str) -> FloatArray:
    """Colours [steps, 3] along the key, cold to hot. Raises UserError where its lightness is not monotone."""
    rows, columns, _ = shades.shape
    ends = np.array([key.cold_at, key.hot_at], dtype=np.float64)
    if not np.all((ends >= 0) & (ends <= (columns - 1, rows - 1))):
        raise UserError(Problem("an end of the key lies off the picture", file=name, key="key"))
    line = ends[0] + np.linspace(0, 1, KEY_STEPS)[:, None] * (ends[1] - ends[0])
    at = np.rint(line).astype(int)
    colours = shades[at[:, 1], at[:, 0]]
    light = colours @ np.array(LUMA)
    steps = np.diff(light) * np.sign(light[-1] - light[0])
    if abs(light[-1] - light[0]) < LEAST_CONTRAST or steps.min() < -LEAST_STEP:
        what = "the key does not grow lighter or darker all the way: one shade stands for two temperatures"
        fix = "choose a grey palette at the camera, or export the temperatures as CSV"
        raise UserError(Problem(what, file=name, key="key", fix=fix))
    return np.asarray(colours)


def _along_key(
    shades: FloatArray, light: FloatArray, colours: FloatArray
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Place of each pixel along the key by its lightness [-], and whether its colour is one of the key."""
    known = colours @ np.array(LUMA)
    way = np.linspace(0, 1, len(known))
    if known[-1] < known[0]:
        known, way, colours = known[::-1], way[::-1], colours[::-1]
    share = np.interp(light, known, way)
    expected = np.stack([np.interp(light, known, colours[:, k]) for k in range(3)], axis=-1)
    return share, np.abs(shades - expected).max(axis=-1) <= COLOUR_REACH


def _resampled(
    temperature_K: FloatArray, H: FloatArray, surface: Surface, size: tuple[FloatArray, int], name: str
) -> tuple[MeasuredGrid, int]:
    """Means over equal cells of the surface, each from bilinear samples; cells that can hardly be read are left out."""
    from scipy.ndimage import map_coordinates

    pixels, most = size
    sides = np.hypot(*(np.roll(pixels, -1, axis=0) - pixels).T)
    longer = max(surface.width_m, surface.depth_m)
    counts = [
        int(np.clip(min(sides[i], sides[i + 2]) / PIXELS_EACH, 4, max(4, round(most * side / longer))))
        for i, side in ((0, surface.width_m), (1, surface.depth_m))
    ]
    fine = grid_over(surface, counts[0] * SAMPLES, counts[1] * SAMPLES)
    at = images_of(H, np.column_stack([fine.x_m.ravel(), fine.y_m.ravel()]))
    rows, columns = temperature_K.shape
    at = np.clip(at, 0.0, (columns - 1.0, rows - 1.0))
    samples = map_coordinates(temperature_K, at.T[::-1], order=1).reshape(
        counts[1], SAMPLES, counts[0], SAMPLES
    )
    read = np.isfinite(samples)
    kept = read.all(axis=(1, 3))  # the mean of a cell that is read in part leans to one side
    if kept.mean() < 1 - LEFT_OUT_MOST:
        fix = "look at corners, scale and key"
        raise UserError(
            Problem(f"only {100 * kept.mean():.0f} % of the surface can be read", file=name, fix=fix)
        )
    middles = grid_over(surface, counts[0], counts[1])
    values = samples.mean(axis=(1, 3))[kept]
    grid = MeasuredGrid(
        measurand="temperature", x_m=middles.x_m[kept], y_m=middles.y_m[kept], values=values, file=name
    )
    return grid, int((~kept).sum())
