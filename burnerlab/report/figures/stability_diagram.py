"""The stability diagram: where each burner works between lift, light-back and yellow tips, on both gases."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from burnerlab.appliance.conversion.result import Conversion
from burnerlab.quantity import Kind, System, from_unit
from burnerlab.report.figures.style import FAINT, GREY, INK, NEW, PALE, PRESENT, Placer, new_figure
from burnerlab.report.sheet.wording import clean, name

if TYPE_CHECKING:
    from burnerlab.burner.stability_diagram import LimitCurve, OperatingPoint, StabilityDiagram
    from burnerlab.burner.stability_point import StabilityPoint

INCH_mm = 25.4  # definition of the international inch
PANEL_in = 2.75  # height of a panel
HEAD_in, FOOT_in, TITLE_in, GAP_in = 0.68, 0.42, 0.26, 0.26
LEAST_AERATION, MOST_AERATION = 20.0, 118.0  # %
SHAPES: dict[str, Any] = {"full rate": "o", "turndown": "D", "lowest pressure": 11, "highest pressure": 10}
"""Matplotlib's markers; 10 and 11 are triangles that stand on the point and hang from it."""
OBSERVED: dict[str, Any] = {"sits": "s", "lifts": "^", "lights back": "v", "yellow tips": "*"}
"""Matplotlib's markers of what a flame was seen to do."""
HOT: dict[str, Any] = {
    "linestyle": "none", "marker": "x", "markersize": 4.6, "markeredgewidth": 1.3,
}  # fmt: skip
COLOURS = {"present gas": PRESENT, "new gas": NEW}
PROVISIONAL = (4.5, 2.2)
LEAST_ARROW_pt = 14.0
LONGEST = 44  # characters of a gas above the panels
Span = tuple[float, float]
Panel = tuple[tuple[str, ...], "StabilityDiagram"]


def panels(c: Conversion) -> tuple[Panel, ...]:
    """The diagrams to draw with the burners each stands for: equal burners share one, a tile has none."""
    if c.evaluation is None:
        return ()
    tiles = {b.name for b in c.burners if b.kind.traits.is_radiant}
    found: dict[tuple[tuple[float, ...], ...], list[StabilityDiagram]] = {}
    for diagram in c.evaluation.diagrams:
        if diagram.burner not in tiles and diagram.points:
            places = tuple((round(p.aeration, 6), round(p.loading_W_per_mm2, 6)) for p in diagram.points)
            places += tuple((round(x, 6), round(y, 6)) for _, x, y in _observed(diagram))
            found.setdefault(places, []).append(diagram)
    return tuple((tuple(name(one.burner) for one in same), same[0]) for same in found.values())


def stability_chart(c: Conversion, system: System) -> Any:
    """A panel for each burner: aeration across, port loading up, limits with their spread, both gases."""
    shown = panels(c)
    across = 2 if len(shown) > 1 else 1
    down = math.ceil(len(shown) / across)
    height = HEAD_in + FOOT_in + (PANEL_in + TITLE_in) * down + GAP_in * (down - 1)
    figure = new_figure(height)
    spans = [_loadings(diagram) for _, diagram in shown]
    y = (min(low for low, _ in spans), max(high for _, high in spans))
    for place, (names, diagram) in enumerate(shown):
        row, column = divmod(place, across)
        last = place + across >= len(shown)
        _panel(
            figure.add_axes(_frame(row, column, across, height)),
            names,
            diagram,
            y,
            (_unit(system) if column == 0 else "", last),
        )
        _scale(figure.axes[-1], y, system)
    _legend(figure, c, height)
    return figure


def _frame(row: int, column: int, across: int, height: float) -> tuple[float, float, float, float]:
    wide = (0.925 - 0.055 * (across - 1)) / across
    left = 0.07 + column * (wide + 0.055)
    bottom = height - HEAD_in - (PANEL_in + TITLE_in) * (row + 1) - GAP_in * row
    return (left, bottom / height, wide, PANEL_in / height)


def _loadings(diagram: StabilityDiagram) -> Span:
    """Loadings that hold the points, the top of light-back, and lift where the burner works."""
    points = [p.loading_W_per_mm2 for p in diagram.points] + [load for _, _, load in _observed(diagram)]
    tops = [float(curve.loading_W_per_mm2.max()) for curve in diagram.curves if curve.limit == "light-back"]
    lifts = [
        curve.loading_at(p.aeration)
        for curve in diagram.curves
        for p in diagram.points
        if curve.limit == "lift"
    ]
    low = min([0.6 * min(points), *(0.22 * top for top in tops)])
    high = max([2.2 * max(points), *(2.0 * lift for lift in lifts if lift is not None)])
    return low, min(high, 60 * max(points))


# a panel


def _panel(
    axes: Any, names: tuple[str, ...], diagram: StabilityDiagram, y: Span, edge: tuple[str, bool]
) -> None:
    axes.set(yscale="log", xlim=(LEAST_AERATION, MOST_AERATION), ylim=y)
    _labels(axes, edge)
    axes.set_title(_title(names), fontsize=8, loc="left", pad=5, fontweight="bold", color=INK)
    placer = Placer(axes, axes.figure.canvas.get_renderer())
    _regions(axes, diagram, y)
    _block(placer, diagram, y)
    _points(axes, placer, diagram)
    _hot_points(axes, placer, diagram)
    _own_points(axes, placer, diagram)
    _words(axes, placer, diagram)
    _tags(placer, diagram, y)


def _title(names: Sequence[str]) -> str:
    if len(names) > 2:
        return f"{clean(names[0], 26)} and {len(names) - 1} like it"
    return ", ".join(clean(one, 26) for one in names)


def _unit(system: System) -> str:
    return "W/mm²" if system == "metric" else "kBtu/h/in²"


def _scale(axes: Any, y: Span, system: System) -> None:
    """Round loadings in the reader's unit."""
    from matplotlib.ticker import FixedLocator, NullFormatter, NullLocator

    size = 1.0 if system == "metric" else from_unit(1e3, Kind.POWER, "Btu/h") / INCH_mm**2
    ticks = [s * size * 10.0**e for e in range(-4, 5) for s in (1, 3) if y[0] <= s * size * 10.0**e <= y[1]]
    axes.yaxis.set_major_locator(FixedLocator(ticks))
    axes.yaxis.set_major_formatter(lambda v, _: f"{v / size:.3g}")
    axes.yaxis.set_minor_locator(NullLocator())
    axes.yaxis.set_minor_formatter(NullFormatter())


def _labels(axes: Any, edge: tuple[str, bool]) -> None:
    from matplotlib.ticker import FixedLocator, NullLocator

    axes.xaxis.set_major_locator(FixedLocator([20, 40, 60, 80, 100]))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.axvline(100, color=FAINT, linewidth=0.5, zorder=0.6)
    if edge[0]:
        axes.set_ylabel(f"port loading, gross, {edge[0]}", labelpad=3)
    if edge[1]:
        axes.set_xlabel("primary air, % of the stoichiometric", labelpad=3)


def _regions(axes: Any, diagram: StabilityDiagram, y: Span) -> None:
    """Limits with their spread: of the new gas as areas, of the present one as lines."""
    newest = diagram.gases[-1]
    for curve in diagram.curves:
        x, value = 100 * curve.aeration, curve.loading_W_per_mm2
        new = curve.gas == newest
        if new:
            axes.fill_between(x, curve.low_W_per_mm2, curve.high_W_per_mm2, color=PALE, lw=0, zorder=0.8)
        axes.plot(x, value, zorder=2.5, **_line(curve.gas, curve.provisional))
    for limit, hatch in (("lift", "////"), ("light-back", "\\\\\\\\")):
        across, top = _whole(
            [curve for curve in diagram.curves if curve.gas == newest and curve.limit == limit]
        )
        beyond = (top, y[1]) if limit == "lift" else (y[0], top)
        axes.fill_between(across, *beyond, facecolor="none", edgecolor=FAINT, lw=0, zorder=1, hatch=hatch)
    for line in diagram.yellow_tips:
        at = 100 * line.aeration
        if line.gas == newest:
            axes.axvspan(100 * line.low, 100 * line.high, color=PALE, lw=0, zorder=0.7)
            axes.axvspan(0, at, facecolor="none", edgecolor=FAINT, lw=0, hatch="..", zorder=0.9)
        axes.axvline(at, zorder=2.4, **_line(line.gas, True))


def _whole(curves: Sequence[LimitCurve]) -> tuple[list[float], list[float]]:
    """The pieces of a limit one after the other."""
    places = sorted(
        (100 * float(a), float(q))
        for curve in curves
        for a, q in zip(curve.aeration, curve.loading_W_per_mm2, strict=True)
    )
    return [x for x, _ in places], [value for _, value in places]


def _line(gas: str, provisional: bool) -> dict[str, Any]:
    """Thick is the new gas, thin the present one; broken is a provisional limit."""
    style: dict[str, Any] = {
        "color": COLOURS.get(gas, INK),
        "linewidth": 1.5 if gas == "new gas" else 0.8,
    }
    return style | ({"dashes": PROVISIONAL} if provisional else {})


def _block(placer: Placer, diagram: StabilityDiagram, y: Span) -> None:
    for curve in diagram.curves:
        inside = (curve.loading_W_per_mm2 > y[0]) & (curve.loading_W_per_mm2 < y[1])
        if inside.any():
            placer.block_line(
                (100 * curve.aeration[inside]).tolist(), curve.loading_W_per_mm2[inside].tolist()
            )
    steps = [y[0] * (y[1] / y[0]) ** (i / 60) for i in range(61)]
    for line in diagram.yellow_tips:
        placer.block_line([100 * line.aeration] * len(steps), steps)


def _points(axes: Any, placer: Placer, diagram: StabilityDiagram) -> None:
    """Operating points with the band of their air, and above them the arrow of the conversion."""
    for gas in diagram.gases:
        own = [p for p in diagram.points if p.gas == gas]
        colour = COLOURS.get(gas, INK)
        if not own:
            continue
        full = own[0]
        xs = [100 * p.aeration for p in own]
        loads = [p.loading_W_per_mm2 for p in own]
        axes.plot([min(xs), max(xs)], [min(loads), max(loads)], color=colour, linewidth=0.6, zorder=3)
        steps = [min(loads) * (max(loads) / min(loads)) ** (i / 20) for i in range(21)]
        placer.block_line([sum(xs) / len(xs)] * len(steps), steps)
        ends = [100 * full.aeration_low, 100 * full.aeration_high]
        axes.plot(ends, [full.loading_W_per_mm2] * 2, color=colour, linewidth=0.9, zorder=3,
                  linestyle="-" if gas == "new gas" else (0, (1, 1)), marker="|", markersize=4)  # fmt: skip
        placer.block_line(
            [ends[0] + i * (ends[1] - ends[0]) / 20 for i in range(21)], [full.loading_W_per_mm2] * 21
        )
        for p in own:
            face = colour if gas == "new gas" else "white"
            first = p is full
            axes.plot([100 * p.aeration], [p.loading_W_per_mm2], linestyle="none", zorder=5.5 if first else 5,
                      marker=SHAPES.get(p.label, "s"), markersize=5 if first else 4.4,
                      markerfacecolor=face, markeredgecolor=colour, markeredgewidth=0.9)  # fmt: skip
            placer.block(100 * p.aeration, p.loading_W_per_mm2, 7)
    if diagram.arrow is not None:
        top = max(p.loading_W_per_mm2 for p in diagram.points) / diagram.arrow.start.loading_W_per_mm2
        _arrow(axes, placer, diagram.arrow.start, diagram.arrow.end, 1.65 * top)


def _hot_points(axes: Any, placer: Placer, diagram: StabilityDiagram) -> None:
    """A cross of the gas's colour at the air of the hot burner, beside the mark of the cold one at the same rate."""
    for point in diagram.hot_points:
        place = 100 * point.aeration, point.loading_W_per_mm2
        colour = COLOURS.get(point.gas, INK)
        axes.plot(*[[end] for end in place], **HOT | {"color": colour}, zorder=5.8)
        placer.block(*place, 6)


def _observed(diagram: StabilityDiagram) -> list[tuple[StabilityPoint, float, float]]:
    """The user's own points that have a place: with primary aeration [-] and port loading [W/mm2]."""
    return [
        (point, point.aeration, point.port_loading_W_per_mm2)
        for point in diagram.observations
        if point.aeration is not None and point.port_loading_W_per_mm2 is not None
    ]


def _own_points(axes: Any, placer: Placer, diagram: StabilityDiagram) -> None:
    """What the user's own flames did: the shape says what, the colour on which gas."""
    for point, aeration, loading in _observed(diagram):
        colour = COLOURS.get(point.gas, INK)
        axes.plot([100 * aeration], [loading], linestyle="none", zorder=6, marker=OBSERVED[point.flame],
                  markersize=6.5, markerfacecolor="white" if point.gas != "new gas" else colour,
                  markeredgecolor=INK, markeredgewidth=1.1)  # fmt: skip
        placer.block(100 * aeration, loading, 8)


def _arrow(axes: Any, placer: Placer, start: OperatingPoint, end: OperatingPoint, raised: float) -> None:
    """From full rate to full rate, raised above the points so that it is seen where they lie close."""
    style = {
        "arrowstyle": "-|>,head_length=0.4,head_width=0.2",
        "color": INK,
        "lw": 1.0,
        "shrinkA": 0,
        "shrinkB": 0,
    }
    places = [(100 * p.aeration, p.loading_W_per_mm2 * raised) for p in (start, end)]
    places = _long_enough(axes, places)
    axes.annotate("", places[1], places[0], arrowprops=style, zorder=4)
    placer.block_line([x for x, _ in places], [load for _, load in places], half_width=4)


def _long_enough(axes: Any, places: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """An arrow that is all head drawn out about its middle, so that its direction is seen."""

    first, last = axes.transData.transform(places)
    along = np.hypot(*(last - first))
    least = LEAST_ARROW_pt * axes.figure.dpi / 72
    if not 0.0 < along < least:
        return list(places)
    half = (last - first) / along * least / 2
    middle = (first + last) / 2
    ends = axes.transData.inverted().transform([middle - half, middle + half])
    return [(float(x), float(y)) for x, y in ends]


def _words(axes: Any, placer: Placer, diagram: StabilityDiagram) -> None:
    """What happens in each region, once."""
    shown = {curve.limit for curve in diagram.curves}
    style = {"transform": axes.transAxes, "fontsize": 8, "style": "italic", "color": GREY, "zorder": 6}
    made = []
    if "lift" in shown:
        made.append(axes.text(0.985, 0.965, "flame lifts", ha="right", va="top", **style))
    if "light-back" in shown:
        made.append(axes.text(0.985, 0.03, "lights back", ha="right", va="bottom", **style))
    if diagram.yellow_tips:
        wide = 100 * diagram.yellow_tips[-1].aeration > LEAST_AERATION + 18
        turned = {} if wide else {"rotation": 90}
        made.append(
            axes.text(0.02 if wide else 0.004, 0.03, "yellow tips", ha="left", va="bottom", **style, **turned)
        )
    if not shown:
        words = "lift and light-back: not evaluated"
        made.append(axes.text(0.985, 0.965, words, ha="right", va="top", **style))
    for text in made:
        _halo(text)
        placer.keep(text)


def _tags(placer: Placer, diagram: StabilityDiagram, y: Span) -> None:
    """Each limit named on its own line: which gas; broken lines say what is provisional."""
    for curve in diagram.curves:
        anchors = _anchors(curve, y)
        if anchors:
            gas_name = curve.gas.removesuffix(" gas") + (" (at least)" if curve.is_more_than else "")
            up = _outward(diagram, curve, anchors[0][0])
            side = (
                up if curve.limit == "lift" else -up
            )  # lift falls to the right: its free side is there, above
            style = {"fontsize": 6.5, "color": COLOURS.get(curve.gas, INK), "step": 3.0}
            _halo(placer.place_first(anchors, gas_name, side, up, **style))
    for place, line in enumerate(diagram.yellow_tips):
        height = y[0] * (y[1] / y[0]) ** (0.30 - 0.10 * place)
        gas_name = line.gas.removesuffix(" gas")
        _halo(
            placer.place(
                100 * line.aeration,
                height,
                gas_name,
                1,
                fontsize=6.5,
                color=COLOURS.get(line.gas, INK),
                step=3.0,
            )
        )


def _outward(diagram: StabilityDiagram, curve: LimitCurve, aeration: float) -> int:
    """1 above and -1 below a curve: away from that of the other gas, so that a name stands beside its own line."""
    own = curve.loading_at(aeration / 100)
    others = [
        value
        for other in diagram.curves
        if other.limit == curve.limit and other.gas != curve.gas
        if (value := other.loading_at(aeration / 100)) is not None
    ]
    if own is None or not others:
        return 1 if (curve.limit == "lift") == (curve.gas == diagram.gases[-1]) else -1
    return 1 if own >= max(others) else -1


def _anchors(curve: LimitCurve, y: Span) -> list[tuple[float, float]]:
    """Where a limit may be named, best first: a lift limit where it comes into view, light-back at its top."""
    inside = [
        (100 * float(a), float(q))
        for a, q in zip(curve.aeration, curve.loading_W_per_mm2, strict=True)
        if y[0] < q < y[1] and LEAST_AERATION < 100 * a < MOST_AERATION
    ]
    if len(inside) < 2:
        return []
    if curve.limit == "light-back":
        return [max(inside, key=lambda place: place[1])]
    return [inside[int(share * (len(inside) - 1))] for share in (0.33, 0.6, 0.75, 0.15, 0.87, 0.94)]


def _halo(text: Any) -> None:
    """A white edge, so that letters stand clear of a hatch."""
    from matplotlib.patheffects import withStroke

    text.set_path_effects([withStroke(linewidth=2.2, foreground="white")])


# above the panels


def _legend(figure: Any, c: Conversion, height: float) -> None:
    from matplotlib.lines import Line2D

    def spot(shape: str, label: str, face: str, colour: str) -> Any:
        return Line2D([], [], linestyle="none", marker=shape, markersize=5, markerfacecolor=face,
                      markeredgecolor=colour, markeredgewidth=1.0, label=label)  # fmt: skip

    now, new = clean(c.from_gas.title, LONGEST), clean(c.to_gas.title, LONGEST)
    gases = [
        Line2D([], [], color=PRESENT, linewidth=0.8, marker="o", markersize=5, markerfacecolor="white",
               label=f"present: {now}"),
        Line2D([], [], color=NEW, linewidth=1.5, marker="o", markersize=5, label=f"new: {new}"),
    ]  # fmt: skip
    shapes = [spot(SHAPES[label], label, GREY, GREY) for label in _rates(c)]
    seen = {point.flame for _, diagram in panels(c) for point, _, _ in _observed(diagram)}
    own = [spot(shape, f"your own: {what}", "white", INK) for what, shape in OBSERVED.items() if what in seen]
    dashed = Line2D(
        [], [], color=INK, linewidth=1.0, dashes=PROVISIONAL, label="provisional limit, an estimate"
    )
    notes = [dashed]
    if any(diagram.hot_points for _, diagram in panels(c)):
        notes.append(Line2D([], [], color=INK, label="hot, after 15 min; limits of cold ports", **HOT))
    left, right = 0.055, 0.62  # of the width
    rows = (
        (0.0, gases, 1, left),
        (0.0, notes, 1, right),
        (0.33, shapes, len(shapes), left),
        (0.5, own, len(own), left),
    )
    for top, handles, across, edge in (row for row in rows if row[1]):
        made = figure.legend(
            handles=handles, loc="upper left", bbox_to_anchor=(edge, 1 - (0.02 + top) / height), ncols=across,
            frameon=False, fontsize=7.5, handletextpad=0.4, columnspacing=1.6, borderpad=0.1, labelspacing=0.35,
        )  # fmt: skip
        figure.add_artist(made)


def _rates(c: Conversion) -> Iterator[str]:
    """Rates that are shown, in the order of the shapes."""
    labels = {p.label for _, diagram in panels(c) for p in diagram.points}
    return (label for label in SHAPES if label in labels)
