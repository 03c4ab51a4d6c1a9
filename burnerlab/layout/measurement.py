"""A measured grid over a cooking surface: thermocouples, discs or an infrared picture, read from a CSV file.

Every cell that cannot be read is named with its line.
"""

from __future__ import annotations

import csv
import math
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.project.project_file import read_text
from burnerlab.layout.cooking_surface import Surface
from burnerlab.quantity import Kind, from_unit
from burnerlab.tables.problem import Problem, UserError

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
    return check_grid(found, surface)


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


def check_grid(grid: MeasuredGrid, surface: Surface) -> MeasuredGrid:
    """The grid itself where its readings can be used. Raises UserError: too few, off the surface, no temperature."""
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
