"""Figures of heat maps: one or two maps on one scale, and the difference of two layouts. Readable without colour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from burnerlab.layout.comparison import LayoutComparison
from burnerlab.layout.cooking_surface import Layout, grid_over
from burnerlab.layout.heat_map import heat_map
from burnerlab.layout.layout_study import LayoutStudy
from burnerlab.quantity import Kind, System, from_unit
from burnerlab.quantity.show import number
from burnerlab.report.figures.plan import MM, SHIELD_LINE, halo, outline, shield, styled
from burnerlab.report.figures.style import GREY, INK, Placer, WIDTH_in, new_figure, svg_of
from burnerlab.report.sheet.blocks import digits
from burnerlab.report.sheet.layout_change import comparison_rows, signed
from burnerlab.report.sheet.wording import clean

LEVELS = 8
FINE = 110  # cells across that a drawing needs
HEAT = (
    "#fff9e3",
    "#fddc9a",
    "#f7a65a",
    "#e0663a",
    "#b5362d",
    "#7d1a2c",
)  # lighter to darker: grey tells it too
LESS_NONE_MORE = ("#1f4e79", "#8fb6d6", "#ffffff", "#e9a987", "#94311c")
LEFT_in, GAP_in, RIGHT_in, FOOT_in, HEAD_in = 0.62, 0.45, 0.78, 0.5, 0.52
KEY_in, BAR_in, BAR_GAP_in = 0.26, 0.14, 0.12
TABLE_GAP_in = 1.12  # from the key of the difference to the figures beside it
PAPER = {"boxstyle": "square,pad=0.12", "fc": "white", "ec": "none", "alpha": 0.9}
LABELS_EACH = 2  # figures on the lines of one level


def svg(figure: Any, key: str, title: str, description: str) -> str:
    """A figure as SVG text for a page."""
    return svg_of(figure, key, title, description)


def png(figure: Any) -> bytes:
    """A figure as the bytes of a PNG."""
    import io

    stream = io.BytesIO()
    figure.savefig(stream, format="png", metadata={"Software": None})
    return stream.getvalue()


@dataclass(frozen=True, slots=True, kw_only=True)
class MapUnits:
    """In what a map is labelled; it is drawn in millimetres."""

    flux_W_per_m2: float  # one unit of heat flux
    flux: str
    length_mm: float
    length: str


METRIC = MapUnits(flux_W_per_m2=1e3, flux="kW/m²", length_mm=1.0, length="mm")
US = MapUnits(
    flux_W_per_m2=float(from_unit(1.0, Kind.HEAT_FLUX, "Btu/h/in2")),
    flux="Btu/h/in²",
    length_mm=25.4,
    length="in",
)
NEAR_MARK, EDGE_ROOM = 0.35, 0.12  # of the height of a map
MOST_TICKS = 7  # of an axis in inches


@dataclass(frozen=True, slots=True, kw_only=True)
class MapPanel:
    """What one pair of axes shows: values over the surface of a layout, and how they are written."""

    layout: Layout
    x_mm: Any
    y_mm: Any
    values: Any  # in the units of flux
    title: str
    most: tuple[float, float, float]  # x, y in mm and the value, of the cells that the figures are of
    least: tuple[float, float, float]
    is_change: bool = False
    units: MapUnits = METRIC

    def text(self, value: float) -> str:
        return signed(value, 3) if self.is_change else digits(value, 3)


TWO = 2  # maps beside each other whose headings have room for a band


def heat_map_figure(studies: Sequence[LayoutStudy], system: System = "metric") -> Any:
    """The map of one gas, or of several side by side on one scale."""
    units = METRIC if system == "metric" else US
    with styled():
        is_short = len(studies) > TWO
        return _side_by_side([_field(study, _heading(study, units, is_short), units) for study in studies])


def comparison_figure(comparison: LayoutComparison, system: System = "metric") -> Any:
    """Two layouts side by side on one scale; below them what the second has more or less, on a scale of its own."""
    studies = (comparison.first, comparison.second)
    units = METRIC if system == "metric" else US
    with styled():
        fields = [
            _field(study, f"{label}: {_heading(study, units)}", units)
            for label, study in zip("AB", studies, strict=True)
        ]
        if comparison.difference_W_per_m2 is None:
            return _side_by_side(fields)
        figure = _side_by_side(fields, _difference(comparison, fields))
        _figures_of(comparison, figure, system)
        return figure


def _figures_of(comparison: LayoutComparison, figure: Any, system: System) -> None:
    """Both figures of each measure and the change, in the free quarter next to the map of the difference."""
    place = figure.axes[3].get_position()
    left, top = (place.x0 * WIDTH_in + place.width * WIDTH_in + TABLE_GAP_in) / WIDTH_in, place.y1
    line = 0.2 / figure.get_figheight()
    columns = (left, left + 1.62 / WIDTH_in, left + 2.06 / WIDTH_in, 1 - 0.1 / WIDTH_in)
    rows = [
        ("", "A", "B", "change"),
        *(row[:4] for row in comparison_rows(comparison, short=True, system=system)),
    ]
    for k, row in enumerate(rows):
        for at, text in zip(columns, row, strict=True):
            style = {"ha": "left" if at == left else "right", "color": GREY if k == 0 else INK}
            figure.text(at, top - k * line, text, va="top", fontsize=7.5, **style)


def _side_by_side(fields: Sequence[MapPanel], change: MapPanel | None = None) -> Any:
    """One row of maps with their scale, and below it a map of the change with its own."""
    count = len(fields)
    wide = (WIDTH_in - LEFT_in - RIGHT_in - GAP_in * (count - 1)) / count
    wide = min(wide, 5.0 if count == 1 else wide)
    deep = wide * max(one.layout.surface.depth_m / one.layout.surface.width_m for one in fields)
    if deep > 5.5:
        wide, deep = wide * 5.5 / deep, 5.5
    row = HEAD_in + deep + FOOT_in
    height = row * (2 if change is not None else 1) + KEY_in
    figure = new_figure(height)
    levels = _levels([one.values for one in fields])
    shades = _shades("heat", HEAT)

    def place(left: float, row_from_top: int, size: tuple[float, float]) -> Any:
        bottom = height - row * row_from_top - HEAD_in - deep
        return figure.add_axes((left / WIDTH_in, bottom / height, size[0] / WIDTH_in, size[1] / height))

    for i, one in enumerate(fields):
        axes = place(LEFT_in + i * (wide + GAP_in), 0, (wide, deep))
        drawn = _map(axes, one, (levels, shades), first=i == 0)
    bar = place(LEFT_in + count * wide + (count - 1) * GAP_in + BAR_GAP_in, 0, (BAR_in, deep))
    _scale(bar, drawn, levels, f"heat taken up, {fields[0].units.flux}")
    if change is not None:
        ends = _even_levels(change.values)
        axes = place(LEFT_in, 1, (wide, deep))
        drawn = _map(axes, change, (ends, _shades("change", LESS_NONE_MORE)), first=True)
        bar = place(LEFT_in + wide + BAR_GAP_in, 1, (BAR_in, deep))
        _scale(bar, drawn, ends, "", zero="0, no change")
    _key(figure, [*fields, *([change] if change is not None else [])], height)
    return figure


def _heading(study: LayoutStudy, units: MapUnits, is_short: bool = False) -> str:
    """Surface, gas, mean and variation; short where maps are narrow: the band of the mean stands in the table."""
    measured, band, one = study.map.evenness, study.band.mean_W_per_m2, units.flux_W_per_m2
    mean, low, high = (number(value / one, 3) for value in (measured.mean, band.low, band.high))
    band_text = "" if is_short else f" (band {low} to {high})"
    return (
        f"{clean(study.map.layout.surface.name, 24)}, {clean(study.gas, 28)}\n"
        f"mean {mean} {units.flux}{band_text},\n"
        f"coefficient of variation {100 * measured.coefficient_of_variation:.0f} %"
    )


def _field(study: LayoutStudy, title: str, units: MapUnits) -> MapPanel:
    """The map on a finer grid where it is coarse, carried on to the edges of the surface."""
    layout, surface = study.map.layout, study.map.layout.surface
    rows, columns = study.map.grid.shape
    if columns < FINE:
        columns, rows = FINE, max(24, round(FINE * surface.depth_m / surface.width_m))
    fine = heat_map(layout, grid_over(surface, columns, rows))
    found, grid, one = study.map.flux_W_per_m2, study.map.grid, units.flux_W_per_m2

    def cell(at: np.intp) -> tuple[float, float, float]:
        return float(grid.x_m.flat[at]) * MM, float(grid.y_m.flat[at]) * MM, float(found.flat[at]) / one

    x1, x2, y1, y2 = (side * MM for side in surface.sides)
    return MapPanel(
        layout=layout,
        x_mm=np.concatenate([[x1], fine.grid.x_m[0] * MM, [x2]]),
        y_mm=np.concatenate([[y1], fine.grid.y_m[:, 0] * MM, [y2]]),
        values=np.pad(fine.flux_W_per_m2 / one, 1, mode="edge"),
        title=title,
        units=units,
        most=cell(found.argmax()),
        least=cell(found.argmin()),
    )


def _difference(comparison: LayoutComparison, fields: Sequence[MapPanel]) -> MapPanel:
    first, second = fields
    cells, units, one = comparison.cells, first.units, first.units.flux_W_per_m2
    assert cells is not None  # there is a map of the difference
    (x1, y1), (x2, y2) = cells.most_gained_at_m, cells.most_lost_at_m
    points = 100 * comparison.coefficient_of_variation_change
    return MapPanel(
        layout=second.layout,
        x_mm=second.x_mm,
        y_mm=second.y_mm,
        values=second.values - first.values,
        title=f"B less A, {units.flux}\nmean {signed(comparison.mean_change_W_per_m2 / one, 2)} {units.flux},\n"
        f"coefficient of variation {signed(points, 2)} points",
        most=(x1 * MM, y1 * MM, cells.most_gained_W_per_m2 / one),
        least=(x2 * MM, y2 * MM, cells.most_lost_W_per_m2 / one),
        units=units,
        is_change=True,
    )


def _shades(name: str, colours: Sequence[str]) -> Any:
    from matplotlib.colors import LinearSegmentedColormap

    return LinearSegmentedColormap.from_list(name, colours)


def _levels(maps: Sequence[Any]) -> Any:
    """Round levels, in the units of the maps, that span all of them."""
    from matplotlib.ticker import MaxNLocator

    low, high = min(m.min() for m in maps), max(m.max() for m in maps)
    if not high > low * (1 + 1e-9):
        return np.array([low * 0.99, low * 1.01 + 1e-9])
    return MaxNLocator(nbins=LEVELS, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)


def _even_levels(change: Any) -> Any:
    """Round levels, as many below zero as above, zero among them."""
    from matplotlib.ticker import MaxNLocator

    most = max(float(np.abs(change).max()), 1e-6)
    ends = MaxNLocator(nbins=LEVELS, steps=[1, 2, 2.5, 5, 10], symmetric=True).tick_values(-most, most)
    step = float(ends[1] - ends[0])
    half = int(np.ceil(most / step - 1e-9))
    return step * np.arange(-half, half + 1)


# the map


def _map(axes: Any, field: MapPanel, scale: tuple[Any, Any], *, first: bool) -> Any:
    """Shades and lines of a field with the burners and shields under it; returns the shades for their key."""
    levels, shades = scale
    surface = field.layout.surface
    drawn = axes.contourf(field.x_mm, field.y_mm, field.values, levels=levels, cmap=shades, zorder=1)
    widths = [1.3 if field.is_change and abs(level) < 1e-9 else 0.5 for level in levels]
    lines = axes.contour(
        field.x_mm, field.y_mm, field.values, levels=levels, colors=INK, linewidths=widths, zorder=2,
        negative_linestyles="dashed",
    )  # fmt: skip
    x1, x2, y1, y2 = (side * MM for side in surface.sides)
    axes.set(xlim=(x1, x2), ylim=(y1, y2), aspect="equal")
    for burner in field.layout.burners:
        outline(axes, burner, fill=False)
    for cover in field.layout.covers:
        shield(axes, cover, hatched=False)
    placer = Placer(axes, axes.figure.canvas.get_renderer())
    _marks(axes, field, placer)
    _line_labels(axes, field, lines, placer)
    _length_axes(axes, field.units)
    if first:
        axes.set_ylabel(f"y, {field.units.length}, front below")
    for side in ("top", "right"):
        axes.spines[side].set_visible(True)
    axes.set_title(field.title, fontsize=8, loc="left")
    return drawn


def _length_axes(axes: Any, units: MapUnits) -> None:
    """Labels along the axes; in inches their marks stand at whole inches."""
    from matplotlib.ticker import MultipleLocator

    axes.set_xlabel(f"x, {units.length}")
    if units.length_mm == 1.0:
        return
    for axis, (low, high) in ((axes.xaxis, axes.get_xlim()), (axes.yaxis, axes.get_ylim())):
        across = (high - low) / units.length_mm
        step = next((each for each in (1, 2, 5, 10, 20, 50) if across / each <= MOST_TICKS), 100)
        axis.set_major_locator(MultipleLocator(step * units.length_mm))
        axis.set_major_formatter(lambda value, _: f"{value / units.length_mm:g}")


def _marks(axes: Any, field: MapPanel, placer: Placer) -> None:
    """Where most and least stands, each with its figure."""
    words = ("most gained", "most lost") if field.is_change else ("most", "least")
    middle = (float(field.x_mm.mean()), float(field.y_mm.mean()))
    both = (field.most, field.least)
    for place, marker, word in zip(both, "^v", words, strict=True):
        x, y, value = place
        if field.is_change and (value <= 0 if marker == "^" else value >= 0):
            continue
        axes.scatter(
            x, y, marker=marker, s=34, facecolors="white", edgecolors=INK, linewidths=1.0, zorder=8, clip_on=False
        )  # fmt: skip
        placer.block(x, y, 8)
        side, up = (
            (1 if x < middle[0] else -1),
            _label_side(y, both[marker == "^"][1], marker == "^", axes.get_ylim()),
        )
        placer.place(x, y, f"{word} {field.text(value)}", side, up, fontsize=7.5, bbox=PAPER)


def _label_side(y: float, other: float, is_first: bool, ends: tuple[float, float]) -> int:
    """Above a mark (1) or below it (-1): away from the other mark where that is near, else towards the middle."""
    low, high = ends
    away = 1 if y > other or (y == other and is_first) else -1
    room = high - y if away > 0 else y - low
    if abs(y - other) < NEAR_MARK * (high - low) and room > EDGE_ROOM * (high - low):
        return away
    return 1 if y < (low + high) / 2 else -1


def _line_labels(axes: Any, field: MapPanel, lines: Any, placer: Placer) -> None:
    """Figures upon the lines, level, where none lies upon another; a line without room has its figure in the key."""
    for level, paths in zip(lines.levels, lines.allsegs, strict=True):
        spots: list[tuple[float, float]] = []
        for path in sorted((p for p in paths if len(p) > 4), key=len, reverse=True)[:LABELS_EACH]:
            spots += [tuple(path[int(share * (len(path) - 1))]) for share in (0.5, 0.3, 0.7, 0.12, 0.88)]
        written = 0
        for x, y in spots:
            if written == LABELS_EACH:
                break
            words = f"{level:g}" if not field.is_change else "0" if abs(level) < 1e-9 else field.text(level)
            written += placer.centre(float(x), float(y), words, fontsize=7, path_effects=halo(2.4, 1.0))


def _scale(axes: Any, filled: Any, levels: Any, words: str, zero: str = "") -> None:
    """The key of the shades: each level with its figure, zero with its name."""
    bar = axes.figure.colorbar(filled, cax=axes, ticks=levels)
    texts = [
        f"{level:g}" if not zero else zero if abs(level) < 1e-9 else signed(level, 3) for level in levels
    ]
    bar.ax.set_yticklabels(texts, fontsize=7)
    bar.set_label(words, fontsize=7.5)
    bar.outline.set_linewidth(0.5)


def _key(figure: Any, fields: Sequence[MapPanel], height_in: float) -> None:
    """What the lines and marks are: one key for each kind that is drawn."""
    from matplotlib.lines import Line2D

    line: dict[str, Any] = {"color": INK}
    keys = [Line2D([], [], linestyle=(0, (4, 2)), linewidth=1.1, label="burner", **line)]
    if any(one.layout.covers for one in fields):
        keys.append(Line2D([], [], linewidth=SHIELD_LINE, label="shield", **line))
    keys.append(Line2D([], [], linewidth=0.5, label="line of equal heat", **line))
    if any(one.is_change for one in fields):
        keys.append(Line2D([], [], linewidth=0.5, linestyle="--", label="line of equal loss", **line))
    for marker, words in (("^", "most"), ("v", "least")):
        keys.append(
            Line2D([], [], linestyle="none", marker=marker, markersize=5.5, markerfacecolor="white",
                   markeredgecolor=INK, label=words)
        )  # fmt: skip
    figure.legend(handles=keys, loc="lower left", bbox_to_anchor=(LEFT_in / WIDTH_in, 0.04 / height_in),
                  ncols=len(keys), frameon=False, fontsize=7.5, handlelength=2.4, columnspacing=1.4, borderaxespad=0.0,
                  labelcolor=GREY)  # fmt: skip
