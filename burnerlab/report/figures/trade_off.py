"""Figure of a search for an even map: what evenness costs, and where the tubes then stand. Readable without colour."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from burnerlab.layout.cooking_surface import Layout
from burnerlab.layout.placement import MapBasis
from burnerlab.layout.search import Design, TradeOff, letter, movers_of
from burnerlab.quantity import Kind, System, from_unit, in_unit
from burnerlab.report.figures.heat_map import METRIC, US
from burnerlab.report.figures.plan import MM, corners_of, outline, shield, styled
from burnerlab.report.figures.style import GREY, INK, NEW, Placer, WIDTH_in, new_figure
from burnerlab.report.sheet.blocks import digits

SHAPES = ("o", "s", "^", "D", "v", "p", "h", "<", ">", "8")  # by number of tubes, in turn
CHART_in, TRADE_OFF_LEFT_in, TRADE_OFF_RIGHT_in, TRADE_OFF_FOOT_in = 3.3, 0.62, 0.15, 0.5
EDGE_in, LINE_in, KEYS = 0.12, 0.19, 6  # above the chart: lines of the legend, and keys in each
ACROSS, TRADE_OFF_GAP_in, TITLE_in, TICKS_in = 4, 0.3, 0.42, 0.34  # of the plans below
FEW = 4  # tubes in a plan whose places stand side by side
NET = MapBasis("net", 1.0)
MARGIN = 0.12  # of each span, for the labels
STATES = (
    ("on the front", INK, ""),
    ("holds, another is better", "white", ""),
    ("does not hold", "white", "x"),
)


def trade_off_figure(trade_off: TradeOff, system: System = "metric", basis: MapBasis = NET) -> Any:
    """Evenness against heat input for each number of tubes, and below it the plan of every design on the front.

    basis : on which heat inputs are shown
    """
    with styled():
        plans = [("present", trade_off.present)]
        plans += [(letter(k), one) for k, one in enumerate(trade_off.designs) if one.is_on_front]
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
        _chart(figure.add_axes(_share(box, height)), trade_off, system, basis)
        for k, (name, one) in enumerate(plans):
            row, column = divmod(k, ACROSS)
            corner = (
                TRADE_OFF_LEFT_in + column * (wide + TRADE_OFF_GAP_in),
                below - (row + 1) * each + TICKS_in,
            )
            axes = figure.add_axes(_share((*corner, wide, deep), height))
            _trade_off_plan(axes, name, one, sides, system, basis)
            if column == 0:
                unit, length = _power(system)[0], "mm" if system == "metric" else "inches"
                axes.set_ylabel(f"{unit} on each tube, x in {length}", fontsize=6.5)
        return figure


def _share(box: tuple[float, float, float, float], height_in: float) -> tuple[float, float, float, float]:
    """A box in inches as shares of the figure."""
    x, y, wide, deep = box
    return x / WIDTH_in, y / height_in, wide / WIDTH_in, deep / height_in


# what evenness costs


def _chart(axes: Any, trade_off: TradeOff, system: System, basis: MapBasis) -> None:
    spots = [_spot(one, system, basis) for one in (trade_off.present, *trade_off.designs)]
    low, high = min(x for x, _ in spots), max(x for x, _ in spots)
    room = MARGIN * ((high - low) or high)
    top = max(y for _, y in spots)
    axes.set(xlim=(low - room, high + 2.4 * room), ylim=(0.0, (1 + MARGIN) * top))
    axes.set_xlabel(f"heat input of all burners, {basis.word}, {_power(system)[0]}")
    axes.set_ylabel("coefficient of variation, %, lower is more even")
    axes.grid(axis="y", color="#e4e2dc", linewidth=0.6)
    placer = Placer(axes, axes.figure.canvas.get_renderer())
    for x, y in spots:
        placer.block(x, y, 8)
    for tubes, shape in _shapes(trade_off):
        _series(axes, [one for one in trade_off.designs if one.tubes == tubes], shape, system, basis)
    here = _spot(trade_off.present, system, basis)
    axes.scatter(*here, marker="*", s=110, facecolors="white", edgecolors=NEW, linewidths=1.2, zorder=5)
    for k, one in enumerate(trade_off.designs):
        placer.place(*_spot(one, system, basis), letter(k), 1, fontsize=8)
    placer.place(*here, f"present, {_tubes(trade_off.present.tubes)}", 1, fontsize=7.5, color=NEW)
    _legend(axes, trade_off)


def _series(axes: Any, designs: Sequence[Design], shape: str, system: System, basis: MapBasis) -> None:
    """Designs with one number of tubes: a line through them, the face of each marker telling how it stands."""
    ordered = sorted(designs, key=lambda design: design.heat_input_net_W)
    axes.plot(
        *zip(*(_spot(one, system, basis) for one in ordered), strict=True),
        color=GREY,
        linewidth=0.7,
        zorder=2,
    )
    for one in ordered:
        _, face, cross = STATES[_state(one)]
        spot = _spot(one, system, basis)
        axes.scatter(*spot, marker=shape, s=52, facecolors=face, edgecolors=INK, linewidths=1.0, zorder=4)
        if cross:
            axes.scatter(*spot, marker=cross, s=26, c=INK, linewidths=0.9, zorder=4.5)


def _legend(axes: Any, trade_off: TradeOff) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    def key(shape: str, face: str, label: str) -> Any:
        return Line2D([], [], linestyle="none", marker=shape, markersize=6.5, markerfacecolor=face,
                      markeredgecolor=INK, markeredgewidth=1.0, label=label)  # fmt: skip

    keys: list[Any] = [key(shape, "white", _tubes(tubes)) for tubes, shape in _shapes(trade_off)]
    for label, face, cross in STATES:  # a field, since every shape stands for a number of tubes
        field = Patch(facecolor=face, edgecolor=INK, linewidth=1.0, label=label)
        keys.append(key(cross, "white", f"{label} (crossed)") if cross else field)
    axes.legend(handles=keys, loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=min(len(keys), KEYS), frameon=False,
                fontsize=7.5, handlelength=1.4, handletextpad=0.3, columnspacing=1.1, borderaxespad=0.0)  # fmt: skip


def _shapes(trade_off: TradeOff) -> Iterator[tuple[int, str]]:
    for place, tubes in enumerate(dict.fromkeys(one.tubes for one in trade_off.designs)):
        yield tubes, SHAPES[place % len(SHAPES)]


def _power(system: System) -> tuple[str, float]:
    """Unit of heat inputs and its size [W]."""
    unit = "kW" if system == "metric" else "kBtu/h"
    return unit, float(from_unit(1.0, Kind.POWER, unit))


def _spot(design: Design, system: System, basis: MapBasis) -> tuple[float, float]:
    heat = design.heat_input_net_W * basis.of_net / _power(system)[1]
    return heat, 100 * design.evenness.coefficient_of_variation


def _state(design: Design) -> int:
    return 0 if design.is_on_front else 1 if design.holds else 2


def _tubes(count: int) -> str:
    return f"{count} tube" if count == 1 else f"{count} tubes"


# where the tubes stand


def _across(x_m: float, system: System) -> str:
    return f"{MM * x_m:.0f}" if system == "metric" else f"{in_unit(x_m, Kind.LENGTH, 'in'):.1f}"


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
    axes: Any,
    name: str,
    design: Design,
    sides: tuple[float, float, float, float],
    system: System,
    basis: MapBasis,
) -> None:
    """A design in plan, its heat inputs in the tubes."""
    from matplotlib.patches import Rectangle

    (unit, size), (flux, places) = _power(system), (METRIC, 2) if system == "metric" else (US, 1)
    axes.set(xlim=sides[:2], ylim=sides[2:], aspect="equal")
    x1, x2, y1, y2 = (MM * side for side in design.layout.surface.sides)
    frame = Rectangle((x1, y1), x2 - x1, y2 - y1, facecolor="none", edgecolor=INK, linewidth=0.9)
    axes.add_patch(frame)
    tubes = [design.layout.burners[i] for i in movers_of(design.layout)]
    for cover in design.layout.covers:
        shield(axes, cover)
    for tube in tubes:
        outline(axes, tube, fill=True)
        heat = f"{tube.heat_input_W * basis.of_net / size:.{places}f}"
        axes.text(MM * tube.x_m, MM * tube.y_m, heat, rotation=90, fontsize=6.5, ha="center", va="center", zorder=6,
                  bbox={"boxstyle": "square,pad=0.15", "fc": "white", "ec": "none"})  # fmt: skip
    axes.set_xticks([MM * tube.x_m for tube in tubes], [_across(tube.x_m, system) for tube in tubes])
    axes.tick_params(axis="x", labelsize=6.5, labelrotation=0 if len(tubes) <= FEW else 90, pad=1.5)
    axes.set_yticks([])
    axes.spines[:].set_visible(False)
    even = design.evenness
    heat = f"{digits(design.heat_input_net_W * basis.of_net / size, 3)} {unit}"
    axes.set_title(
        f"{name}: {_tubes(design.tubes)}, {heat}\n"
        f"{100 * even.coefficient_of_variation:.0f} %, mean {digits(even.mean / flux.flux_W_per_m2, 3)} {flux.flux}",
        fontsize=7, loc="left",
    )  # fmt: skip
