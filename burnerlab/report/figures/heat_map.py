"""Figures of a layout: heat map, plan, section, and the trade-off of a search."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from burnerlab.layout.cooking_surface import NORMALS, Cover, Emitter, Layout, grid_over
from burnerlab.layout.heat_map import heat_map
from burnerlab.layout.layout_study import LayoutStudy
from burnerlab.layout.search import Design, TradeOff, letter, movers_of
from burnerlab.report.figures.style import GREY, INK, NEW, PALE, RC, Placer, svg_of
from burnerlab.report.sheet.blocks import digits
from burnerlab.report.sheet.wording import clean

# Figures of a layout study: the heat map, and plan and section to scale. Readable without colour.

WIDTH_in = 7.2
MM = 1e3
LEVELS = 8
FINE = 110  # cells across that a drawing needs
SHADES = ("#ffffff", "#55534e")  # from least to most heat: ink stays readable on the darkest
LEFT_in, GAP_in, RIGHT_in, FOOT_in, HEAD_in = 0.62, 0.5, 0.15, 0.5, 0.5


def svg(figure: Any, key: str, title: str, description: str) -> str:
    """A figure as SVG text for a page."""
    return svg_of(figure, key, title, description)


def heat_map_figure(studies: Sequence[LayoutStudy]) -> Any:
    """The map of one gas, or of two side by side on one scale."""
    with styled():
        surface = studies[0].map.layout.surface
        count = len(studies)
        wide = (WIDTH_in - LEFT_in - RIGHT_in - GAP_in * (count - 1)) / count
        wide = min(wide, 5.2 if count == 1 else wide)
        deep = wide * surface.depth_m / surface.width_m
        if deep > 5.5:
            wide, deep = wide * 5.5 / deep, 5.5
        height = FOOT_in + deep + HEAD_in
        figure = new_figure(height)
        levels = _levels([study.map.flux_W_per_m2 / 1e3 for study in studies])
        for i, study in enumerate(studies):
            left = LEFT_in + i * (wide + GAP_in)
            box = (left / WIDTH_in, FOOT_in / height, wide / WIDTH_in, deep / height)
            _map(figure.add_axes(box), study, levels, first=i == 0)
        return figure


def plan_figure(layout: Layout) -> Any:
    """Plan above, section from the front below, on one scale, burners numbered."""
    with styled():
        x1, x2, y1, y2, top = _extent(layout)
        span, deep = x2 - x1, y2 - y1
        room = WIDTH_in - LEFT_in - 2.15
        scale = min(room / span, 6.5 / (deep + top))
        height = FOOT_in + (deep + top) * scale + GAP_in + 0.32
        figure = new_figure(height)
        wide = span * scale / WIDTH_in
        section = figure.add_axes((LEFT_in / WIDTH_in, FOOT_in / height, wide, top * scale / height))
        plan = figure.add_axes(
            (LEFT_in / WIDTH_in, (FOOT_in + top * scale + GAP_in) / height, wide, deep * scale / height)
        )
        _plan(plan, layout, (x1, x2, y1, y2))
        _section(section, layout, (x1, x2, top))
        _key(figure, layout, (LEFT_in + span * scale + 0.2) / WIDTH_in, height)
        return figure


def styled() -> Any:
    """Within it figures look as those of a study do."""
    import matplotlib as mpl

    return mpl.rc_context(RC)  # type: ignore[arg-type]


def new_figure(height_in: float) -> Any:
    """An empty figure of the width of a page."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_in, height_in), dpi=144)
    FigureCanvasAgg(figure)
    return figure


def _levels(maps: Sequence[Any]) -> Any:
    """Round levels in kW/m2 that span all maps."""
    from matplotlib.ticker import MaxNLocator

    low, high = min(m.min() for m in maps), max(m.max() for m in maps)
    if not high > low * (1 + 1e-9):
        return np.array([low * 0.99, low * 1.01 + 1e-9])
    return MaxNLocator(nbins=LEVELS, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)


# the map


def _map(axes: Any, study: LayoutStudy, levels: Any, *, first: bool) -> None:
    from matplotlib.colors import LinearSegmentedColormap

    found, surface = study.map, study.map.layout.surface
    x, y, flux = _fine_map(study)
    shades = LinearSegmentedColormap.from_list("heat", SHADES)
    axes.contourf(x, y, flux, levels=levels, cmap=shades, zorder=1)
    lines = axes.contour(x, y, flux, levels=levels, colors=INK, linewidths=0.7, zorder=2)
    for label in axes.clabel(lines, fmt="%g", fontsize=7.5, inline=True, inline_spacing=3):
        label.set_bbox({"boxstyle": "square,pad=0.1", "fc": "white", "ec": "none", "alpha": 0.85})
    x1, x2, y1, y2 = (side * MM for side in surface.sides)
    axes.set(xlim=(x1, x2), ylim=(y1, y2), aspect="equal")
    for burner in found.layout.burners:
        outline(axes, burner, fill=False)
    for cover in found.layout.covers:
        sheet(axes, cover)
    _marks(axes, found.grid.x_m * MM, found.grid.y_m * MM, found.flux_W_per_m2 / 1e3)
    axes.set_xlabel("x, mm")
    if first:
        axes.set_ylabel("y, mm, front below")
    for side in ("top", "right"):
        axes.spines[side].set_visible(True)
    measured = found.evenness
    axes.set_title(
        f"{clean(study.gas, 34)}: mean {measured.mean / 1e3:.3g} kW/m², spread {measured.spread:.2f},\n"
        f"coefficient of variation {100 * measured.coefficient_of_variation:.0f} %; lines in kW/m²",
        fontsize=8,
        loc="left",
    )


def _fine_map(study: LayoutStudy) -> tuple[Any, Any, Any]:
    """The map on a finer grid where it is coarse, carried on to the edges of the surface."""
    found, surface = study.map, study.map.layout.surface
    rows, columns = found.grid.shape
    if columns < FINE:
        columns, rows = FINE, max(24, round(FINE * surface.depth_m / surface.width_m))
    fine = heat_map(found.layout, grid_over(surface, columns, rows))
    x1, x2, y1, y2 = (side * MM for side in surface.sides)
    x = np.concatenate([[x1], fine.grid.x_m[0] * MM, [x2]])
    y = np.concatenate([[y1], fine.grid.y_m[:, 0] * MM, [y2]])
    return x, y, np.pad(fine.flux_W_per_m2 / 1e3, 1, mode="edge")


def _marks(axes: Any, x: Any, y: Any, flux: Any) -> None:
    """Where most and least heat lands."""
    for at, marker, words in ((flux.argmax(), "^", "most"), (flux.argmin(), "v", "least")):
        row, column = np.unravel_index(at, flux.shape)
        spot = (x[row, column], y[row, column])
        axes.scatter(*spot, marker=marker, s=34, facecolors="white", edgecolors=INK, linewidths=1.0, zorder=6)
        inward = (10 if column < flux.shape[1] / 2 else -10, 9 if row < flux.shape[0] / 2 else -9)
        axes.annotate(
            f"{words} {flux[row, column]:.3g}",
            spot,
            xytext=inward,
            textcoords="offset points",
            ha="left" if inward[0] > 0 else "right",
            va="center",
            fontsize=7.5,
            zorder=6,
            bbox={"boxstyle": "square,pad=0.15", "fc": "white", "ec": "none", "alpha": 0.9},
        )


# plan and section


def _extent(layout: Layout) -> tuple[float, float, float, float, float]:
    """Sides of everything that stands there, and the highest level, with a margin."""
    boxes = [layout.surface.sides]
    if layout.room is not None:
        boxes.append(layout.room.sides)
    for burner in layout.burners:
        corners = corners_of(burner)
        boxes.append((corners[:, 0].min(), corners[:, 0].max(), corners[:, 1].min(), corners[:, 1].max()))
    x1, x2 = min(b[0] for b in boxes), max(b[1] for b in boxes)
    y1, y2 = min(b[2] for b in boxes), max(b[3] for b in boxes)
    heights = [layout.surface.z_m, *(b.z_m for b in layout.burners)]
    if layout.room is not None and layout.room.lid_z_m is not None:
        heights.append(layout.room.lid_z_m)
    margin = 0.04 * (x2 - x1)
    return x1 - margin, x2 + margin, y1 - margin, y2 + margin, max(heights) + 1.5 * margin


def corners_of(burner: Emitter) -> Any:
    """Corners of a burner in plan, metres."""
    along = np.array(burner.along)
    across = np.array([math.cos(burner.angle_rad), math.sin(burner.angle_rad)])
    middle = np.array([burner.x_m, burner.y_m])
    if burner.form == "ring":
        r = burner.radius_m + burner.width_m / 2
        return middle + r * np.array([[-1, -1], [-1, 1], [1, 1], [1, -1]])
    half_u, half_v = burner.length_m / 2, (0.006 if burner.stands else burner.width_m / 2)
    signs = ((-1, -1), (-1, 1), (1, 1), (1, -1))
    return np.array([middle + a * half_u * along + b * half_v * across for a, b in signs])


def outline(axes: Any, burner: Emitter, *, fill: bool) -> None:
    """A burner in plan."""
    from matplotlib.patches import Circle, Polygon

    style: dict[str, Any] = {
        "facecolor": PALE if fill else "none",
        "edgecolor": NEW,
        "linewidth": 1.1,
        "zorder": 4,
    }
    if not fill:
        style["linestyle"] = (0, (4, 2))
    if burner.form == "ring":
        for r in (burner.radius_m - burner.width_m / 2, burner.radius_m + burner.width_m / 2):
            axes.add_patch(
                Circle((burner.x_m * MM, burner.y_m * MM), r * MM, **(style | {"facecolor": "none"}))
            )
        return
    hatch = "....." if burner.form == "panel" and fill else None
    axes.add_patch(Polygon(corners_of(burner) * MM, closed=True, hatch=hatch, **style))
    if burner.stands and fill:
        nx, ny = NORMALS[burner.facing]
        start = (burner.x_m * MM, burner.y_m * MM)
        tip = (start[0] + 35 * nx, start[1] + 35 * ny)
        axes.annotate("", tip, start, arrowprops={"arrowstyle": "->", "color": NEW, "lw": 1.0}, zorder=5)


def sheet(axes: Any, cover: Cover) -> None:
    """A shield in plan."""
    from matplotlib.patches import Polygon

    along = np.array([-math.sin(cover.angle_rad), math.cos(cover.angle_rad)])
    across = np.array([math.cos(cover.angle_rad), math.sin(cover.angle_rad)])
    middle, (u, v) = np.array([cover.x_m, cover.y_m]), (cover.length_m / 2, cover.width_m / 2)
    corners = [middle + a * u * along + b * v * across for a, b in ((-1, -1), (-1, 1), (1, 1), (1, -1))]
    axes.add_patch(
        Polygon(
            np.array(corners) * MM, closed=True, facecolor="none", edgecolor=GREY, linewidth=0.8, zorder=4
        )
    )


def _plan(axes: Any, layout: Layout, sides: tuple[float, float, float, float]) -> None:
    from matplotlib.patches import Rectangle

    axes.set(xlim=(sides[0] * MM, sides[1] * MM), ylim=(sides[2] * MM, sides[3] * MM), aspect="equal")
    if layout.room is not None:
        x1, x2, y1, y2 = (side * MM for side in layout.room.sides)
        axes.add_patch(Rectangle((x1, y1), x2 - x1, y2 - y1, facecolor="none", edgecolor=INK, linewidth=1.6))
    x1, x2, y1, y2 = (side * MM for side in layout.surface.sides)
    axes.add_patch(
        Rectangle(
            (x1, y1), x2 - x1, y2 - y1, facecolor="none", edgecolor=INK, linewidth=0.9, linestyle=(0, (6, 2))
        )
    )
    for number, burner in enumerate(layout.burners, start=1):
        outline(axes, burner, fill=True)
        _number(axes, number, burner.x_m * MM, burner.y_m * MM)
    for cover in layout.covers:
        sheet(axes, cover)
    axes.set_title("Plan", fontsize=8.5, loc="left")
    axes.set_ylabel("y, mm")
    axes.tick_params(labelbottom=False)


def _section(axes: Any, layout: Layout, sides: tuple[float, float, float]) -> None:
    axes.set(xlim=(sides[0] * MM, sides[1] * MM), ylim=(0.0, sides[2] * MM), aspect="equal")
    x1, x2, _, _ = (side * MM for side in layout.surface.sides)
    z = layout.surface.z_m * MM
    axes.plot([x1, x2], [z, z], color=INK, linewidth=2.6 if layout.surface.plate else 1.4, zorder=3,
              linestyle="-" if layout.surface.plate else (0, (1, 1)))  # fmt: skip
    words = f"{clean(layout.surface.name, 24)}, {z:.0f} mm"
    axes.annotate(
        words, (x1, z), xytext=(4, 3), textcoords="offset points", va="bottom", fontsize=7, color=GREY
    )
    if layout.room is not None:
        _walls(axes, layout)
    for number, burner in enumerate(layout.burners, start=1):
        _elevation(axes, burner)
        inside = burner.form != "line" and burner.stands
        _number(axes, number, burner.x_m * MM, burner.z_m * MM, dy=0 if inside else -13)
    for cover in layout.covers:
        half = (
            cover.width_m * abs(math.cos(cover.angle_rad)) + cover.length_m * abs(math.sin(cover.angle_rad))
        ) / 2
        ends = [(cover.x_m - half) * MM, (cover.x_m + half) * MM]
        axes.plot(ends, [cover.z_m * MM] * 2, color=GREY, linewidth=1.8, zorder=4, solid_capstyle="butt")
    axes.set_title("Section, from the front", fontsize=8.5, loc="left")
    axes.set_xlabel("x, mm")
    axes.set_ylabel("height, mm")


def _walls(axes: Any, layout: Layout) -> None:
    room = layout.room
    assert room is not None
    x1, x2, _, _ = (side * MM for side in room.sides)
    top = (room.lid_z_m or layout.surface.z_m) * MM
    axes.plot([x1, x1, x2, x2], [top, 0, 0, top], color=INK, linewidth=1.6, zorder=2)
    if room.lid_z_m is not None:
        axes.plot([x1, x2], [top, top], color=INK, linewidth=1.6, zorder=2)


def _elevation(axes: Any, burner: Emitter) -> None:
    """A burner seen from the front."""
    from matplotlib.patches import Circle, Rectangle

    style: dict[str, Any] = {"facecolor": PALE, "edgecolor": NEW, "linewidth": 1.1, "zorder": 4}
    x, z = burner.x_m * MM, burner.z_m * MM
    corners = corners_of(burner) * MM
    x1, x2 = corners[:, 0].min(), corners[:, 0].max()
    if burner.form == "line" and abs(math.cos(burner.angle_rad)) > 0.99:
        axes.add_patch(Circle((x, z), burner.width_m / 2 * MM, **style))
        return
    high = burner.width_m * MM if burner.stands or burner.form == "line" else 12.0
    low = z - high / 2 if burner.stands or burner.form == "line" else z - high if burner.facing == "up" else z
    axes.add_patch(Rectangle((x1, low), x2 - x1, high, **style))


def _number(axes: Any, number: int, x: float, y: float, dy: float = 0.0) -> None:
    axes.annotate(
        str(number), (x, y), xytext=(0, dy), textcoords="offset points", ha="center", va="center", fontsize=7.5,
        zorder=7, bbox={"boxstyle": "circle,pad=0.18", "fc": "white", "ec": INK, "lw": 0.6},
    )  # fmt: skip


def _key(figure: Any, layout: Layout, left: float, height_in: float) -> None:
    """Names beside the numbers, and what the lines mean."""
    lines = [f"{n}  {clean(b.name, 26)}" for n, b in enumerate(layout.burners, start=1)]
    lines += ["", f"{'thick line' if layout.surface.plate else 'dashes'}: {clean(layout.surface.name, 24)}"]
    if layout.room is not None:
        lines.append("solid frame: box" + (", lid closed" if layout.room.lid_z_m else ""))
    if layout.covers:
        lines.append("grey: shields")
    figure.text(
        left, 1 - 0.36 / height_in, "\n".join(lines), va="top", ha="left", fontsize=7.5, linespacing=1.5
    )


# The figure of a search for an even map: what evenness costs, and where the tubes then stand. Without
# colour too.

SHAPES = ("o", "s", "^", "D", "v", "p", "h", "<", ">", "8")  # by number of tubes, in turn
CHART_in, TRADE_OFF_LEFT_in, TRADE_OFF_RIGHT_in, TRADE_OFF_FOOT_in = 3.3, 0.62, 0.15, 0.5
EDGE_in, LINE_in, KEYS = 0.12, 0.19, 6  # above the chart: lines of the legend, and keys in each
ACROSS, TRADE_OFF_GAP_in, TITLE_in, TICKS_in = 4, 0.3, 0.42, 0.34  # of the plans below
FEW = 4  # tubes in a plan whose places stand side by side
MARGIN = 0.12  # of each span, for the labels
STATES = (
    ("on the front", INK, ""),
    ("holds, another is better", "white", ""),
    ("does not hold", "white", "x"),
)


def trade_off_figure(trade_off: TradeOff) -> Any:
    """Evenness against heat input for each number of tubes, and below it the plan of every design on the front."""
    with styled():
        plans = [("present", trade_off.present)]
        plans += [(letter(k), one) for k, one in enumerate(trade_off.designs) if one.best]
        sides = _trade_off_extent([one.layout for _, one in plans])
        wide = (WIDTH_in - TRADE_OFF_LEFT_in - TRADE_OFF_RIGHT_in - TRADE_OFF_GAP_in * (ACROSS - 1)) / ACROSS
        deep = wide * (sides[3] - sides[2]) / (sides[1] - sides[0])
        each = TITLE_in + deep + TICKS_in
        below = each * math.ceil(len(plans) / ACROSS)
        keys = len(STATES) + len(dict(_shapes(trade_off)))
        height = EDGE_in + LINE_in * math.ceil(keys / KEYS) + CHART_in + TRADE_OFF_FOOT_in + below
        figure = new_figure(height)
        box = (
            TRADE_OFF_LEFT_in,
            below + TRADE_OFF_FOOT_in,
            WIDTH_in - TRADE_OFF_LEFT_in - TRADE_OFF_RIGHT_in,
            CHART_in,
        )
        _chart(figure.add_axes(_share(box, height)), trade_off)
        for k, (name, one) in enumerate(plans):
            row, column = divmod(k, ACROSS)
            corner = (
                TRADE_OFF_LEFT_in + column * (wide + TRADE_OFF_GAP_in),
                below - (row + 1) * each + TICKS_in,
            )
            axes = figure.add_axes(_share((*corner, wide, deep), height))
            _trade_off_plan(axes, name, one, sides, first=column == 0)
        return figure


def _share(box: tuple[float, float, float, float], height_in: float) -> tuple[float, float, float, float]:
    """A box in inches as shares of the figure."""
    x, y, wide, deep = box
    return x / WIDTH_in, y / height_in, wide / WIDTH_in, deep / height_in


# what evenness costs


def _chart(axes: Any, trade_off: TradeOff) -> None:
    spots = [_spot(one) for one in (trade_off.present, *trade_off.designs)]
    low, high = min(x for x, _ in spots), max(x for x, _ in spots)
    room = MARGIN * ((high - low) or high)
    top = max(y for _, y in spots)
    axes.set(xlim=(low - room, high + 2.4 * room), ylim=(0.0, (1 + MARGIN) * top))
    axes.set_xlabel("heat input of all burners, net, kW")
    axes.set_ylabel("coefficient of variation, %, lower is more even")
    axes.grid(axis="y", color="#e4e2dc", linewidth=0.6)
    placer = Placer(axes, axes.figure.canvas.get_renderer())
    for x, y in spots:
        placer.block(x, y, 8)
    for tubes, shape in _shapes(trade_off):
        _series(axes, [one for one in trade_off.designs if one.tubes == tubes], tubes, shape)
    here = _spot(trade_off.present)
    axes.scatter(*here, marker="*", s=110, facecolors="white", edgecolors=NEW, linewidths=1.2, zorder=5)
    for k, one in enumerate(trade_off.designs):
        placer.place(*_spot(one), letter(k), 1, fontsize=8)
    placer.place(*here, f"present, {_tubes(trade_off.present.tubes)}", 1, fontsize=7.5, color=NEW)
    _legend(axes, trade_off)


def _series(axes: Any, designs: Sequence[Design], tubes: int, shape: str) -> None:
    """Designs with one number of tubes: a line through them, the face of each marker telling how it stands."""
    ordered = sorted(designs, key=lambda design: design.heat_input_net_W)
    axes.plot(*zip(*map(_spot, ordered), strict=True), color=GREY, linewidth=0.7, zorder=2)
    for one in ordered:
        _, face, cross = STATES[_state(one)]
        spot = _spot(one)
        axes.scatter(*spot, marker=shape, s=52, facecolors=face, edgecolors=INK, linewidths=1.0, zorder=4)
        if cross:
            axes.scatter(*spot, marker=cross, s=26, c=INK, linewidths=0.9, zorder=4.5)


def _legend(axes: Any, trade_off: TradeOff) -> None:
    from matplotlib.lines import Line2D

    def key(shape: str, face: str, label: str) -> Any:
        return Line2D([], [], linestyle="none", marker=shape, markersize=6.5, markerfacecolor=face,
                      markeredgecolor=INK, markeredgewidth=1.0, label=label)  # fmt: skip

    keys = [key(shape, "white", _tubes(tubes)) for tubes, shape in _shapes(trade_off)]
    for label, face, cross in STATES:
        keys.append(key(cross or "o", face, f"{label} (crossed)" if cross else label))
    axes.legend(handles=keys, loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=min(len(keys), KEYS), frameon=False,
                fontsize=7.5, handletextpad=0.2, columnspacing=1.1, borderaxespad=0.0)  # fmt: skip


def _shapes(trade_off: TradeOff) -> Iterator[tuple[int, str]]:
    for place, tubes in enumerate(dict.fromkeys(one.tubes for one in trade_off.designs)):
        yield tubes, SHAPES[place % len(SHAPES)]


def _spot(design: Design) -> tuple[float, float]:
    return design.heat_input_net_W / 1e3, 100 * design.evenness.coefficient_of_variation


def _state(design: Design) -> int:
    return 0 if design.best else 1 if design.holds else 2


def _tubes(count: int) -> str:
    return f"{count} tube" if count == 1 else f"{count} tubes"


# where the tubes stand


def _trade_off_extent(layouts: Sequence[Layout]) -> tuple[float, float, float, float]:
    """Sides of the surface and of every tube of every design, with a margin, in mm."""
    boxes = [layout.surface.sides for layout in layouts]
    for layout in layouts:
        for i in movers_of(layout):
            found = corners_of(layout.burners[i])
            boxes.append((found[:, 0].min(), found[:, 0].max(), found[:, 1].min(), found[:, 1].max()))
    x1, x2 = min(b[0] for b in boxes), max(b[1] for b in boxes)
    y1, y2 = min(b[2] for b in boxes), max(b[3] for b in boxes)
    margin = 0.03 * (x2 - x1)
    return MM * (x1 - margin), MM * (x2 + margin), MM * (y1 - margin), MM * (y2 + margin)


def _trade_off_plan(
    axes: Any, name: str, design: Design, sides: tuple[float, float, float, float], *, first: bool
) -> None:
    from matplotlib.patches import Rectangle

    axes.set(xlim=sides[:2], ylim=sides[2:], aspect="equal")
    x1, x2, y1, y2 = (MM * side for side in design.layout.surface.sides)
    frame = Rectangle((x1, y1), x2 - x1, y2 - y1, facecolor="none", edgecolor=INK, linewidth=0.9)
    axes.add_patch(frame)
    tubes = [design.layout.burners[i] for i in movers_of(design.layout)]
    for cover in design.layout.covers:
        sheet(axes, cover)
    for tube in tubes:
        outline(axes, tube, fill=True)
        axes.text(MM * tube.x_m, MM * tube.y_m, f"{tube.heat_input_W / 1e3:.2f}", rotation=90, fontsize=6.5,
                  ha="center", va="center", zorder=6,
                  bbox={"boxstyle": "square,pad=0.15", "fc": "white", "ec": "none"})  # fmt: skip
    axes.set_xticks([MM * tube.x_m for tube in tubes], [f"{MM * tube.x_m:.0f}" for tube in tubes])
    axes.tick_params(axis="x", labelsize=6.5, labelrotation=0 if len(tubes) <= FEW else 90, pad=1.5)
    axes.set_yticks([])
    axes.spines[:].set_visible(False)
    even = design.evenness
    axes.set_title(
        f"{name}: {_tubes(design.tubes)}, {digits(design.heat_input_net_W / 1e3, 3)} kW\n"
        f"{100 * even.coefficient_of_variation:.0f} %, mean {digits(even.mean / 1e3, 3)} kW/m²",
        fontsize=7, loc="left",
    )  # fmt: skip
    if first:
        axes.set_ylabel("kW on each tube, x in mm", fontsize=6.5)
