"""The bench record over time: a figure of the last units with its limits, its band and what drifted."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from textwrap import wrap
from typing import Any

from burnerlab.bench.record import UnitChart, quantities
from burnerlab.quantity import Kind, System, in_unit
from burnerlab.quantity.show import display_unit
from burnerlab.report.figures.style import FAINT, GREY, INK, NEW, PALE, PRESENT, RC, spread, svg_of
from burnerlab.report.sheet.blocks import fixed
from burnerlab.report.sheet.wording import clean

TOP_in, RANGE_in, HEAD_in, LINE_in = 2.35, 0.75, 0.55, 0.16
ALIKE = 0.1  # of the end of the band: units that differ less are nearly equal
MOST_BARS = 120  # more uncertainty bars than this are one grey mass
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartSize:
    """How wide a chart is drawn, so that its letters can be read where it is shown."""

    width_in: float
    left: float  # of the width
    right: float
    letters: int  # of a line of running text
    serials: int  # named at most


WIDE = ChartSize(width_in=7.2, left=0.085, right=0.745, letters=200, serials=8)
NARROW = ChartSize(width_in=3.9, left=0.12, right=0.68, letters=58, serials=4)  # of a phone held upright


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartUnit:
    """The unit a chart is drawn and printed in."""

    name: str
    of: Callable[[Any], Any]  # a figure in SI
    step: Callable[[Any], Any]  # a difference in SI
    places: int  # after the point, so that a hundredth of the spread shows

    def text(self, value: float) -> str:
        """A figure in this unit, with a true minus sign."""
        return self.text_of(self.of(value))

    def text_of(self, value: float) -> str:
        """The text of a figure [this unit]."""
        return fixed(value, self.places).replace("-", "\N{MINUS SIGN}")


def chart_unit(chart: UnitChart, system: System = "metric") -> ChartUnit:
    """The unit in which the figures of a chart are of a handy size."""
    kind = quantities()[chart.quantity].kind
    if kind is Kind.REFERENCE_VOLUME_FLOW:
        kind = Kind.VOLUME_FLOW
    largest = max(abs(point.value) for point in chart.points)
    if kind is Kind.FRACTION and chart.quantity != "air_free_carbon_monoxide":
        name = "%"
    else:
        name, _ = display_unit(largest, kind, system)
    ends = [in_unit(point.value, kind, name) for point in chart.points]
    reach = max(ends) - min(ends) or abs(ends[0]) or 1.0
    return ChartUnit(
        name=name,
        places=max(0, 2 - math.floor(math.log10(reach))),
        of=lambda value: in_unit(value, kind, name),
        step=lambda value: in_unit(value, kind, name) - in_unit(0.0, kind, name),
    )


def chart_title(chart: UnitChart) -> str:
    """What a chart shows, in one line."""
    words = quantities()[chart.quantity].words
    burner = f"{clean(chart.burner, 30)}, " if chart.burner else ""
    return f"{clean(chart.model, 40)}: {burner}{words}, last {len(chart.points)} units"


def rule_letters(chart: UnitChart) -> dict[str, str]:
    """A letter for each rule that was met, in the order they were."""
    met = dict.fromkeys(hit.rule.name for hit in chart.hits)
    return dict(zip(met, LETTERS, strict=False))


def marks(chart: UnitChart) -> dict[int, str]:
    """The letters of the rules met at each point."""
    letters, found = rule_letters(chart), dict[int, str]()
    for hit in chart.hits:
        found[hit.index] = found.get(hit.index, "") + letters[hit.rule.name]
    return found


def capability_words(chart: UnitChart) -> list[str]:
    """Capability with its intervals, a line each."""
    capability = chart.capability
    if capability is None:
        return ["capability: not evaluated"]
    lines = []
    for name, value, span in (
        ("Cp", capability.cp, capability.cp_interval),
        ("Cpk", capability.cpk, capability.cpk_interval),
    ):
        if value is not None and span is not None:
            lines.append(
                f"{name} {value:.2f}, {100 * span.level:g} % interval {span.low:.2f} to {span.high:.2f}"
            )
    return [line.replace("-", "\N{MINUS SIGN}") for line in lines]


def description(chart: UnitChart, unit: ChartUnit) -> str:
    """The figure in words, for whoever does not see it."""
    parts = [f"{len(chart.points)} units, oldest left"]
    if chart.limits is not None:
        low, centre, high = (unit.text(v) for v in (chart.limits.low, chart.limits.centre, chart.limits.high))
        parts.append(f"centre {centre} {unit.name}, limits {low} and {high} {unit.name}")
    for index, letters in marks(chart).items():
        point = chart.points[index]
        parts.append(
            f"{clean(point.serial, 30)} at {unit.text(point.value)} {unit.name} meets rule {letters}"
        )
    return "; ".join([*parts, *capability_words(chart)]) + "."


def chart_svg(chart: UnitChart, system: System = "metric", size: ChartSize = WIDE) -> str:
    """The chart as an SVG element. Raises ImportError without matplotlib."""
    import matplotlib as mpl

    unit = chart_unit(chart, system)
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(RC)  # type: ignore[arg-type]
        return svg_of(_draw(chart, unit, size), "bench_chart", chart_title(chart), description(chart, unit))


def _draw(chart: UnitChart, unit: ChartUnit, size: ChartSize) -> Any:
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    words = [part for line in _foot(chart) for part in wrap(line, size.letters)]
    title = wrap(chart_title(chart), size.letters * 3 // 4)
    has_uncertainty = any(point.expanded_uncertainty is not None for point in chart.points)
    bars = "; grey bars: expanded uncertainty" if has_uncertainty and len(chart.points) <= MOST_BARS else ""
    lead = wrap(f"{unit.name}, one unit each, oldest left{bars}", size.letters)
    head = HEAD_in + LINE_in * (len(title) + len(lead) - 2)
    foot = 0.47 + LINE_in * len(words)
    height = head + TOP_in + 0.12 + RANGE_in + foot
    figure = Figure(figsize=(size.width_in, height), dpi=144)
    left, width = size.left, size.right - size.left
    FigureCanvasAgg(figure)
    ranges = figure.add_axes((left, foot / height, width, RANGE_in / height))
    values = figure.add_axes((left, (foot + RANGE_in + 0.12) / height, width, TOP_in / height), sharex=ranges)
    lines = [(line, 9.0, INK, "bold") for line in title] + [(line, 7.5, GREY, "normal") for line in lead]
    for number, (line, points, color, weight) in enumerate(lines):
        y = 1 - (0.17 + (0.03 if weight == "normal" else 0.0) + LINE_in * number) / height
        figure.text(left, y, line, fontsize=points, va="top", color=color, weight=weight)
    _values(values, chart, unit)
    _ranges(ranges, chart, unit, size.serials)
    for number, line in enumerate(words):
        y = (foot - 0.39 - LINE_in * number) / height
        figure.text(
            left,
            y,
            line,
            fontsize=7.5,
            va="top",
            color=GREY if line.startswith(("Cp", "capability")) else INK,
        )
    return figure


def _foot(chart: UnitChart) -> list[str]:
    words = {hit.rule.name: hit.rule.words for hit in chart.hits}
    lines = [f"{letter}  {words[name]}" for name, letter in rule_letters(chart).items()]
    if chart.limits is not None and not lines:
        lines = ["no rule of drift is met"]
    return [*lines, *capability_words(chart)]


def _values(axes: Any, chart: UnitChart, unit: ChartUnit) -> None:
    count = len(chart.points)
    xs, ys = list(range(1, count + 1)), [unit.of(point.value) for point in chart.points]
    low, high = _span(axes, chart, unit, ys)
    axes.set(xlim=(0.2, count + 0.8), ylim=(low, high))
    axes.tick_params(labelbottom=False, bottom=False)
    axes.spines["bottom"].set_visible(False)
    axes.plot(xs, ys, color=FAINT, linewidth=0.7, zorder=2)
    if count <= MOST_BARS:
        for x, y, point in zip(xs, ys, chart.points, strict=True):
            if point.expanded_uncertainty is not None:
                reach = unit.step(point.expanded_uncertainty)
                axes.plot(
                    [x, x],
                    [y - reach, y + reach],
                    color=FAINT,
                    linewidth=1.6,
                    zorder=1.8,
                    solid_capstyle="butt",
                )
    flagged = marks(chart)
    stopped = [n for n, mark in enumerate(chart.stopped) if mark]
    flagged = {n: letters for n, letters in flagged.items() if n not in stopped}
    plain = [n for n in range(count) if n not in flagged and n not in stopped]
    size = 16 if count <= 60 else 8
    axes.scatter(
        [xs[n] for n in plain], [ys[n] for n in plain], s=size, color=PRESENT, zorder=4, linewidths=0
    )
    axes.scatter(
        [xs[n] for n in flagged],
        [ys[n] for n in flagged],
        s=size * 2.2,
        marker="^",
        color=NEW,
        zorder=5,
        linewidths=0,
    )
    at = [xs[n] for n in stopped], [ys[n] for n in stopped]
    axes.scatter(*at, s=size * 2.2, marker="s", color=NEW, zorder=5, linewidths=0)
    for n, letters in (flagged | {n: chart.stopped[n] for n in stopped}).items():
        up = chart.limits is None or chart.points[n].value >= chart.limits.centre
        axes.annotate(
            letters,
            (xs[n], ys[n]),
            xytext=(0, 5 if up else -5),
            textcoords="offset points",
            ha="center",
            va="bottom" if up else "top",
            fontsize=7,
            color=NEW,
            zorder=6,
        )
    _lines(axes, chart, unit, (low, high))


def _span(axes: Any, chart: UnitChart, unit: ChartUnit, ys: Sequence[float]) -> tuple[float, float]:
    """The range of the axis: points, limits, and the band when it does not dwarf them."""
    ends = list(ys)
    if chart.limits is not None:
        ends += [unit.of(chart.limits.low), unit.of(chart.limits.high)]
    own = max(ends) - min(ends)
    for end in _band(chart):
        if end is None:
            continue
        near = own > 0 and min(abs(unit.of(end) - e) for e in ends) < 1.5 * own
        if near or own < ALIKE * abs(unit.of(end)):  # nearly equal units are shown in their band
            ends.append(unit.of(end))
    low, high = min(ends), max(ends)
    pad = 0.10 * (high - low) or 0.05 * abs(high) or 1.0
    return low - pad, high + pad


def _band(chart: UnitChart) -> tuple[float | None, float | None]:
    if chart.capability is not None:
        return chart.capability.low, chart.capability.high
    bands = {(point.low, point.high) for point in chart.points}
    return bands.pop() if len(bands) == 1 else (None, None)


def _lines(axes: Any, chart: UnitChart, unit: ChartUnit, span: tuple[float, float]) -> None:
    """Centre, limits and band across the figure, named at the right."""
    named: list[tuple[float, str, str]] = []
    low, high = (None if end is None else unit.of(end) for end in _band(chart))
    if low is not None or high is not None:
        inside = (
            max(low if low is not None else span[0], span[0]),
            min(high if high is not None else span[1], span[1]),
        )
        axes.axhspan(*inside, color=PALE, alpha=0.55, lw=0, zorder=0)
        for end, word in ((high, "band, upper"), (low, "band, lower")):
            if end is not None and span[0] < end < span[1]:
                axes.axhline(end, color=GREY, linewidth=0.6, zorder=1)
                named.append((end, word, GREY))
    if chart.limits is not None:
        limits = chart.limits
        for value, word, dashes in (
            (limits.high, "upper limit", (4, 2)),
            (limits.centre, "centre", None),
            (limits.low, "lower limit", (4, 2)),
        ):
            style = {"dashes": dashes} if dashes else {}
            axes.axhline(unit.of(value), color=INK, linewidth=0.8, zorder=1.5, **style)
            named.append((unit.of(value), word, INK))
        if chart.baseline < len(chart.points):
            axes.axvline(chart.baseline + 0.5, color=GREY, linewidth=0.7, dashes=(1, 2), zorder=1)
            axes.annotate(
                f"limits from these {chart.baseline}",
                (chart.baseline + 0.5, 1.0),
                xycoords=("data", "axes fraction"),
                xytext=(-3, -1),
                textcoords="offset points",
                ha="right",
                va="top",
                fontsize=7,
                color=GREY,
            )
    _name_lines(axes, sorted(named), span, unit)


def _name_lines(
    axes: Any, named: Sequence[tuple[float, str, str]], span: tuple[float, float], unit: ChartUnit
) -> None:
    reach = span[1] - span[0]
    heights = [(value - span[0]) / reach for value, _, _ in named]
    places = spread(heights, 0.085, 0.02, 0.98)
    for (value, word, color), at, put in zip(named, heights, places, strict=True):
        axes.plot([1.0, 1.03], [at, put], transform=axes.transAxes, color=GREY, linewidth=0.5, clip_on=False)
        axes.text(
            1.04,
            put,
            f"{word} {unit.text_of(value)}",
            transform=axes.transAxes,
            va="center",
            fontsize=7.5,
            color=color,
        )


def _ranges(axes: Any, chart: UnitChart, unit: ChartUnit, serials: int) -> None:
    """Moving ranges below, with their mean and upper limit."""
    ys = [unit.of(point.value) for point in chart.points]
    ranges = [abs(after - before) for before, after in pairwise(ys)]
    xs = list(range(2, len(ys) + 1))
    axes.plot(xs, ranges, color=GREY, linewidth=0.7, zorder=2)
    top = max(ranges, default=1.0)
    named: list[tuple[float, str, str]] = []
    if chart.limits is not None:
        high, mean = unit.step(chart.limits.range_high), unit.step(chart.limits.mean_range)
        above = [(x, r) for x, r in zip(xs, ranges, strict=True) if r > high > 0.0]
        axes.scatter(
            [x for x, _ in above], [r for _, r in above], s=22, marker="^", color=NEW, zorder=4, linewidths=0
        )
        axes.axhline(high, color=INK, linewidth=0.8, dashes=(4, 2), zorder=1.5)
        axes.axhline(mean, color=INK, linewidth=0.8, zorder=1.5)
        top = max(top, high)
        named = [(mean, "mean range", INK), (high, "upper limit", INK)]
    top = 1.15 * top or 1.0
    axes.set(ylim=(0.0, top))
    axes.set_ylabel("range", fontsize=7.5)
    axes.yaxis.set_major_locator(_few())
    every = max(1, -(-len(ys) // serials))
    shown = list(range(0, len(ys), every))
    axes.set_xticks([n + 1 for n in shown], [clean(chart.points[n].serial, 14) for n in shown])
    axes.tick_params(axis="x", labelsize=7)
    reach = (0.0, top)
    places = spread([value / top for value, _, _ in named], 0.26, 0.05, 0.95)
    for (value, word, color), put in zip(named, places, strict=True):
        text = f"{word} {unit.text_of(value)}"
        axes.plot(
            [1.0, 1.03],
            [value / reach[1], put],
            transform=axes.transAxes,
            color=GREY,
            linewidth=0.5,
            clip_on=False,
        )
        axes.text(1.04, put, text, transform=axes.transAxes, va="center", fontsize=7.5, color=color)


def _few() -> Any:
    from matplotlib.ticker import MaxNLocator

    return MaxNLocator(nbins=2)
