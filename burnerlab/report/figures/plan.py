"""Plan and section of a layout, to scale: burners numbered, shields hatched, a key that names what is drawn."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Any

import numpy as np

from burnerlab.layout.cooking_surface import NORMALS, Cover, Emitter, Layout
from burnerlab.layout.enclosure import lid_acts
from burnerlab.quantity import System
from burnerlab.quantity.prose import in_reader_units
from burnerlab.report.figures.style import GREY, INK, NEW, PALE, RC, WIDTH_in, new_figure
from burnerlab.report.sheet.wording import clean

MM = 1e3
LEFT_in, GAP_in, FOOT_in, KEY_in = 0.62, 0.5, 0.5, 2.15
NUMBER_in = 0.2  # room for a number in its circle
BURNER_LINE, SHIELD_LINE = 1.1, 1.3
INCH_mm, MOST_TICKS = 25.4, 7  # of an axis in inches
MM_ALONE = re.compile(r", mm(?=,|$)")  # the unit of an axis
SHIELD_HATCH, FACE_HATCH = "//////", "..."


def styled() -> Any:
    """Within it figures look as those of a study do."""
    import matplotlib as mpl

    return mpl.rc_context(RC | {"hatch.linewidth": 0.6})  # type: ignore[arg-type]


def plan_figure(layout: Layout, system: System = "metric") -> Any:
    """Plan above, section from the front below, on one scale, burners numbered; a closed lid where it acts."""
    with styled():
        x1, x2, y1, y2, top = _extent(layout)
        span, deep = x2 - x1, y2 - y1
        scale = min((WIDTH_in - LEFT_in - KEY_in) / span, 6.5 / (deep + top))
        height = max(FOOT_in + (deep + top) * scale + GAP_in + 0.32, 0.8 + 0.18 * (len(layout.burners) + 7))
        figure = new_figure(height)
        wide, above_in = span * scale / WIDTH_in, height - 0.32 - deep * scale
        section = figure.add_axes(
            (LEFT_in / WIDTH_in, (above_in - GAP_in - top * scale) / height, wide, top * scale / height)
        )
        plan = figure.add_axes((LEFT_in / WIDTH_in, above_in / height, wide, deep * scale / height))
        _plan(plan, layout, (x1, x2, y1, y2), scale)
        _section(section, layout, (x1, x2, top), scale)
        _key(figure, layout, (LEFT_in + span * scale + 0.15) / WIDTH_in, height)
        in_inches(figure, system)
        return figure


def in_inches(figure: Any, system: System) -> None:
    """Axes in millimetres of a figure labelled in inches, and its texts in the units of the reader."""
    from matplotlib.text import Text
    from matplotlib.ticker import MultipleLocator

    if system == "metric":
        return
    for axes in figure.axes:
        for axis, (low, high) in ((axes.xaxis, axes.get_xlim()), (axes.yaxis, axes.get_ylim())):
            if not any(MM_ALONE.search(each.get_label_text()) for each in (axes.xaxis, axes.yaxis)):
                continue
            across = (high - low) / INCH_mm
            step = next((each for each in (1, 2, 5, 10, 20, 50) if across / each <= MOST_TICKS), 100)
            axis.set_major_locator(MultipleLocator(step * INCH_mm))
            axis.set_major_formatter(lambda value, _: f"{value / INCH_mm:g}".replace("-", "\N{MINUS SIGN}"))
    for text in figure.findobj(Text):
        words = text.get_text()
        text.set_text(
            MM_ALONE.sub(", in", words) if MM_ALONE.search(words) else in_reader_units(words, system)
        )


def _extent(layout: Layout) -> tuple[float, float, float, float, float]:
    """Sides of everything that stands there, and the highest level, with a margin."""
    boxes = [layout.surface.sides]
    if layout.room is not None:
        boxes.append(layout.room.sides)
    things: tuple[Emitter | Cover, ...] = (*layout.burners, *layout.covers)
    for thing in things:
        corners = corners_of(thing)
        boxes.append((corners[:, 0].min(), corners[:, 0].max(), corners[:, 1].min(), corners[:, 1].max()))
    x1, x2 = min(b[0] for b in boxes), max(b[1] for b in boxes)
    y1, y2 = min(b[2] for b in boxes), max(b[3] for b in boxes)
    heights = [layout.surface.z_m, *(b.z_m for b in layout.burners), *(c.z_m for c in layout.covers)]
    heights += [b.z_m + b.width_m / 2 for b in layout.burners if b.stands]
    if layout.room is not None and layout.room.lid_z_m is not None and lid_acts(layout):
        heights.append(layout.room.lid_z_m)
    margin = 0.04 * (x2 - x1)
    return x1 - margin, x2 + margin, y1 - margin, y2 + margin, max(heights) + 1.5 * margin


def corners_of(thing: Emitter | Cover) -> Any:
    """Corners of a burner or a shield in plan, metres."""
    along = np.array([-math.sin(thing.angle_rad), math.cos(thing.angle_rad)])
    across = np.array([math.cos(thing.angle_rad), math.sin(thing.angle_rad)])
    middle = np.array([thing.x_m, thing.y_m])
    signs = ((-1, -1), (-1, 1), (1, 1), (1, -1))
    half_u, half_v = thing.length_m / 2, thing.width_m / 2
    if isinstance(thing, Emitter):
        if thing.form == "ring":
            r = thing.radius_m + thing.width_m / 2
            return middle + r * np.array(signs)
        half_v = 0.006 if thing.stands else half_v
    return np.array([middle + a * half_u * along + b * half_v * across for a, b in signs])


def outline(axes: Any, burner: Emitter, *, fill: bool) -> None:
    """A burner in plan: filled, or as dashes that stay visible on a map."""
    from matplotlib.patches import Circle, Polygon

    style: dict[str, Any] = {"facecolor": PALE if fill else "none", "edgecolor": NEW, "linewidth": 1.1}
    if not fill:
        style |= {"edgecolor": INK, "linestyle": (0, (4, 2)), "path_effects": halo(2.4)}
    if burner.form == "ring":
        from matplotlib.patches import Annulus

        centre, outer = (burner.x_m * MM, burner.y_m * MM), (burner.radius_m + burner.width_m / 2) * MM
        if fill:
            axes.add_patch(Annulus(centre, outer, burner.width_m * MM, zorder=4, **style))
            return
        for r in (outer - burner.width_m * MM, outer):
            axes.add_patch(Circle(centre, r, zorder=4, **style))
        return
    hatch = FACE_HATCH if burner.form == "panel" and fill else None
    axes.add_patch(Polygon(corners_of(burner) * MM, closed=True, hatch=hatch, zorder=4, **style))
    if burner.stands and fill:
        nx, ny = NORMALS[burner.facing]
        start = (burner.x_m * MM, burner.y_m * MM)
        tip = (start[0] + 35 * nx, start[1] + 35 * ny)
        axes.annotate("", tip, start, arrowprops={"arrowstyle": "->", "color": NEW, "lw": 1.0}, zorder=6)


def halo(width: float, alpha: float = 0.85) -> list[Any]:
    """A white rim that keeps a line or a text readable on any ground."""
    from matplotlib.patheffects import withStroke

    return [withStroke(linewidth=width, foreground="white", alpha=alpha)]


def shield(axes: Any, cover: Cover, *, hatched: bool = True) -> None:
    """A shield in plan: a strong frame, hatched in a plan, with a white rim on a map."""
    from matplotlib.patches import Polygon

    style: dict[str, Any] = {"hatch": SHIELD_HATCH} if hatched else {"path_effects": halo(2.6)}
    axes.add_patch(
        Polygon(
            corners_of(cover) * MM, closed=True, facecolor="none", edgecolor=GREY if hatched else INK,
            linewidth=SHIELD_LINE, zorder=4.5, **style,
        )
    )  # fmt: skip


def _plan(axes: Any, layout: Layout, sides: tuple[float, float, float, float], scale: float) -> None:
    from matplotlib.patches import Rectangle

    axes.set(xlim=(sides[0] * MM, sides[1] * MM), ylim=(sides[2] * MM, sides[3] * MM), aspect="equal")
    if layout.room is not None:
        x1, x2, y1, y2 = (side * MM for side in layout.room.sides)
        axes.add_patch(Rectangle((x1, y1), x2 - x1, y2 - y1, facecolor="none", edgecolor=INK, linewidth=1.6))
    x1, x2, y1, y2 = (side * MM for side in layout.surface.sides)
    axes.add_patch(
        Rectangle(
            (x1, y1), x2 - x1, y2 - y1, facecolor="none", edgecolor=INK, linewidth=0.9, linestyle=(0, (6, 2)),
            zorder=3,
        )
    )  # fmt: skip
    for burner in layout.burners:
        outline(axes, burner, fill=True)
    for cover in layout.covers:
        shield(axes, cover)
    for number, (x, y) in enumerate(number_places(layout.burners, scale), start=1):
        _number(axes, number, MM * x, MM * y)
    axes.set_title("Plan", fontsize=8.5, loc="left")
    axes.set_ylabel("y, mm, front below")
    axes.tick_params(labelbottom=False)


def number_places(burners: Sequence[Emitter], scale_in_per_m: float) -> list[tuple[float, float]]:
    """Where the number of each burner stands in plan, so that no two lie on each other where there is room [m]."""
    apart = NUMBER_in / scale_in_per_m
    taken: list[tuple[float, float]] = []
    for burner in burners:
        ax, ay = burner.along
        start = -0.3 if burner.stands else 0.0  # beside the arrow that shows where it faces
        steps = (start, 0.14, -0.14, 0.28, -0.28, 0.42, -0.42)
        tries = [
            (burner.x_m + k * burner.length_m * ax, burner.y_m + k * burner.length_m * ay) for k in steps
        ]
        free = (p for p in tries if all(math.dist(p, other) >= apart for other in taken))
        taken.append(next(free, tries[0]))
    return taken


def _section(axes: Any, layout: Layout, sides: tuple[float, float, float], scale: float) -> None:
    axes.set(xlim=(sides[0] * MM, sides[1] * MM), ylim=(0.0, sides[2] * MM), aspect="equal")
    x1, x2, _, _ = (side * MM for side in layout.surface.sides)
    z = layout.surface.z_m * MM
    axes.plot([x1, x2], [z, z], color=INK, linewidth=2.6 if layout.surface.plate else 1.8, zorder=3,
              linestyle="-" if layout.surface.plate else (0, (1, 1)))  # fmt: skip
    words = f"{clean(layout.surface.name, 24)}, {z:.0f} mm"
    axes.annotate(
        words, (x1, z), xytext=(4, 3), textcoords="offset points", va="bottom", fontsize=7, color=GREY,
        zorder=6, path_effects=halo(2.0),
    )  # fmt: skip
    if layout.room is not None:
        _walls(axes, layout)
    for burner in layout.burners:
        _elevation(axes, burner)
    for cover in layout.covers:
        ends = MM * corners_of(cover)[:, 0]
        axes.plot(
            [ends.min(), ends.max()], [cover.z_m * MM] * 2, color=GREY, linewidth=3.2, zorder=4,
            solid_capstyle="butt",
        )  # fmt: skip
    _section_numbers(axes, layout, scale)
    axes.set_title("Section, from the front", fontsize=8.5, loc="left")
    axes.set_xlabel("x, mm")
    axes.set_ylabel("height, mm")


def _section_numbers(axes: Any, layout: Layout, scale: float) -> None:
    """Below each burner, in as many rows as keep them apart; upon an upright panel."""
    apart = NUMBER_in / scale
    ends: list[tuple[float, float]] = []  # of the last number of each row, at about one height
    numbered = sorted(enumerate(layout.burners, start=1), key=lambda numbered: numbered[1].x_m)
    for number, burner in numbered:
        if burner.stands:
            _number(axes, number, burner.x_m * MM, burner.z_m * MM)
            continue
        row = next(
            (
                k
                for k, (x, z) in enumerate(ends)
                if burner.x_m - x >= apart or abs(burner.z_m - z) > 3 * apart
            ),
            len(ends),
        )
        ends[row : row + 1] = [(burner.x_m, burner.z_m)]
        _number(axes, number, burner.x_m * MM, burner.z_m * MM, dy=-13 - 14 * row)


def _walls(axes: Any, layout: Layout) -> None:
    room = layout.room
    assert room is not None
    x1, x2, _, _ = (side * MM for side in room.sides)
    acts = room.lid_z_m is not None and lid_acts(layout)
    top = (room.lid_z_m if room.lid_z_m is not None and acts else layout.surface.z_m) * MM
    axes.plot([x1, x1, x2, x2], [top, 0, 0, top], color=INK, linewidth=1.6, zorder=2)
    if acts:
        axes.plot([x1, x2], [top, top], color=INK, linewidth=1.6, zorder=2)


def _elevation(axes: Any, burner: Emitter) -> None:
    """A burner seen from the front."""
    from matplotlib.patches import Circle, Rectangle

    style: dict[str, Any] = {"facecolor": PALE, "edgecolor": NEW, "linewidth": BURNER_LINE, "zorder": 4}
    x, z = burner.x_m * MM, burner.z_m * MM
    corners = corners_of(burner) * MM
    x1, x2 = corners[:, 0].min(), corners[:, 0].max()
    if burner.form == "line" and abs(math.cos(burner.angle_rad)) > 0.99:
        axes.add_patch(Circle((x, z), burner.width_m / 2 * MM, **style))
        return
    high = burner.width_m * MM if burner.stands or burner.form == "line" else 12.0
    low = z - high / 2 if burner.stands or burner.form == "line" else z - high if burner.facing == "up" else z
    hatch = FACE_HATCH if burner.form == "panel" else None
    if burner.form == "ring":  # cut through its middle: the two sides of the ring
        wide = burner.width_m * MM
        for left in (x1, x2 - wide):
            axes.add_patch(Rectangle((left, low), wide, high, **style))
        return
    axes.add_patch(Rectangle((x1, low), x2 - x1, high, hatch=hatch, **style))


def _number(axes: Any, number: int, x: float, y: float, dy: float = 0.0) -> None:
    axes.annotate(
        str(number), (x, y), xytext=(0, dy), textcoords="offset points", ha="center", va="center", fontsize=7.5,
        zorder=7, bbox={"boxstyle": "circle,pad=0.18", "fc": "white", "ec": INK, "lw": 0.6},
    )  # fmt: skip


def _key(figure: Any, layout: Layout, left: float, height_in: float) -> None:
    """Names beside the numbers, and below them what each kind of line is."""
    lines = [f"{n}  {clean(b.name, 26)}" for n, b in enumerate(layout.burners, start=1)]
    figure.text(
        left, 1 - 0.36 / height_in, "\n".join(lines), va="top", ha="left", fontsize=7.5, linespacing=1.5
    )
    legend = figure.legend(
        handles=_handles(layout), loc="upper left", frameon=False, fontsize=7.5, handlelength=2.0,
        bbox_to_anchor=(left - 0.008, 1 - (0.42 + 0.163 * len(lines)) / height_in), borderaxespad=0.3,
    )  # fmt: skip
    legend.set_zorder(8)


def _handles(layout: Layout) -> list[Any]:
    """One key for each kind of thing that is drawn, and for nothing else."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    surface = layout.surface
    forms = {burner.form for burner in layout.burners}
    keys: list[Any] = []
    if forms - {"panel"}:
        keys.append(Patch(facecolor=PALE, edgecolor=NEW, linewidth=BURNER_LINE, label="burner"))
    if "panel" in forms:
        keys.append(
            Patch(
                facecolor=PALE, edgecolor=NEW, linewidth=BURNER_LINE, hatch=FACE_HATCH, label="radiant face"
            )
        )
    if layout.covers:
        heights = sorted({round(MM * cover.z_m) for cover in layout.covers})
        words = f"{heights[0]} mm" if len(heights) == 1 else f"{heights[0]} to {heights[-1]} mm"
        keys.append(
            Patch(
                facecolor="none", edgecolor=GREY, linewidth=SHIELD_LINE, hatch=SHIELD_HATCH,
                label=f"shield, {words} high",
            )
        )  # fmt: skip
    keys.append(
        Line2D(
            [],
            [],
            color=INK,
            linewidth=0.9,
            linestyle=(0, (6, 2)),
            label=f"edge of {clean(surface.name, 18)}",
        )
    )
    keys.append(
        Line2D(
            [], [], color=INK, linewidth=2.6 if surface.plate else 1.8,
            linestyle="-" if surface.plate else (0, (1, 1)),
            label="plate in section" if surface.plate else "open grate in section",
        )
    )  # fmt: skip
    if layout.room is not None:
        words = "box"
        if layout.room.lid_z_m is not None:
            words = (
                "box with closed lid" if lid_acts(layout) else "box; its lid sends\nnothing to this surface"
            )
        keys.append(Line2D([], [], color=INK, linewidth=1.6, label=words))
    return keys
