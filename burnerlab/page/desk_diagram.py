"""The stability diagram of a burner on every market, as lines of a small picture: primary air across, port loading up.

Limits are lines with their bands, a market is its letter, its ink and its dashes; the air a shutter can give is a line
through the point at full rate. The frame is fitted to the points: a limit beyond it stands in the figures below it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.memory import REMEMBERED, InputKey, Same
from burnerlab.burner.primary_air import primary_air
from burnerlab.burner.stability_diagram import LimitCurve, OperatingPoint, YellowLine
from burnerlab.burner.state import BurnerState
from burnerlab.quantity import Kind, System, from_unit

Array = NDArray[np.float64]
WIDTH, HEIGHT = 460.0, 330.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 452.0, 10.0, 290.0
INKS = ("#1f2a30", "#8a2f14", "#1d5a4a", "#5a3b7a")
"""Of the markets, in their order; a fifth has the first again, with its own letter."""
DASHES = ("", "7 3", "2 3", "9 3 2 3")
OPENINGS = np.array([0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0])
INCH_mm = 25.4  # definition of the international inch
MOST_TICKS = 6
DIGIT = 8.0  # width of a digit of 12, at most
KNOTS = 18  # of a curve
ROW = 15.0  # of the names of limits
RING = 19.0  # between the middles of two letters, so that both are read
FAR_ABOVE, FAR_BELOW = 5.0, 5.0  # how many times beyond the points a limit still is in the frame


@dataclass(frozen=True, slots=True, kw_only=True)
class MarketFlame:
    """A burner on one market: its points, its limits, and its air hot."""

    letter: str
    place: int  # among the markets, from 0
    points: tuple[OperatingPoint, ...]  # cold, full rate first
    hot: tuple[tuple[str, float, float], ...]  # rate, air and loading on the hot burner
    curves: tuple[LimitCurve, ...]
    yellow_tips: tuple[YellowLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SvgPath:
    """A line or an area of the picture."""

    d: str
    stroke: str = "none"
    fill: str = "none"
    width: str = "1"
    dash: str = ""
    opacity: str = "1"


@dataclass(frozen=True, slots=True, kw_only=True)
class SvgText:
    """A word of the picture."""

    x: str
    y: str
    text: str
    anchor: str = "start"
    ink: str = INKS[0]
    size: str = "12"


@dataclass(frozen=True, slots=True, kw_only=True)
class SvgPoint:
    """A point of the picture: a ring with its letter, a full disc where the burner is hot, a square at another rate."""

    x: str
    y: str
    ink: str
    shape: str
    letter: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DiagramPicture:
    """What a template draws."""

    areas: tuple[SvgPath, ...]
    lines: tuple[SvgPath, ...]
    points: tuple[SvgPoint, ...]
    texts: tuple[SvgText, ...]


class _Frame(NamedTuple):
    """The part of the diagram that is seen: air in per cent, loading in W/mm2."""

    x: tuple[float, float]
    y: tuple[float, float]

    def across(self, air: float | Array) -> Array:
        x1, x2 = self.x
        return np.asarray(LEFT + (RIGHT - LEFT) * (100.0 * np.asarray(air) - x1) / (x2 - x1))

    def up(self, loading: float | Array) -> Array:
        low, high = self.y
        share = np.log(np.asarray(loading) / low) / math.log(high / low)
        return np.asarray(BOTTOM - (BOTTOM - TOP) * share)


def shutter_airs(state: BurnerState) -> Array:
    """Primary air [-] at the openings of the shutter that are calculated; empty where the burner has none.

    state : of the burner at full rate
    """
    if state.geometry.shutter_area_m2 is None or state.options.aeration is not None:
        return np.empty(0)

    def airs() -> Array:
        tried = replace(state.geometry, shutter_opening=OPENINGS)
        options = replace(state.options, band=False)
        found = primary_air(tried, state.fuel, state.flow, state.surroundings, options).aeration
        return np.asarray(found[np.isfinite(found)])

    return REMEMBERED.recall(InputKey(shutter_airs, Same(state)), airs)


def diagram_picture(flames: Sequence[MarketFlame], system: System) -> DiagramPicture:
    """Every market's points and limits in one frame.

    flames : each with at least one point
    """
    frame = _frame(flames)
    areas = [area for flame in flames for area in _bands(flame, frame)]
    lines = [line for flame in flames for line in _limits(flame, frame)]
    lines += [line for flame in flames for line in _shutter(flame, frame)]
    points = [point for flame in flames for point in _points(flame, frame)]
    rings, leaders = _rings(flames, frame)
    axes, words = _axes(frame, system)
    words += [word for flame in flames for word in _limit_names(flame, frame, len(flames))]
    words += _yellow_names(flames, frame, [*points, *rings])
    return DiagramPicture(
        areas=tuple(areas), lines=(*axes, *lines, *leaders), points=(*points, *rings), texts=tuple(words)
    )


def _frame(flames: Sequence[MarketFlame]) -> _Frame:
    airs = [p.aeration for flame in flames for p in flame.points]
    airs += [air for flame in flames for _, air, _ in flame.hot]
    wide = max((float(a.max()) for f in flames if (a := shutter_airs(f.points[0].state)).size), default=0.0)
    airs += [min(wide, 1.3)]
    airs += [end for flame in flames for line in flame.yellow_tips for end in (line.low, line.high)]
    loads = [p.loading_W_per_mm2 for flame in flames for p in flame.points]
    low, high = min(loads), max(loads)
    ends = [low / 1.5, high * 1.6]
    for flame in flames:
        for curve in flame.curves:
            inside = [v for p in flame.points if (v := curve.loading_at(p.aeration)) is not None]
            ends += [1.25 * v for v in inside if high < v < FAR_ABOVE * high]
            ends += [v / 1.25 for v in inside if low / FAR_BELOW < v < low]
    left = max(10.0 * math.floor(10.0 * min(air for air in airs if air > 0.0)), 0.0)
    return _Frame((left, 10.0 * math.ceil(10.0 * max(airs))), (min(ends), max(ends)))


def _ink(flame: MarketFlame) -> str:
    return INKS[flame.place % len(INKS)]


def _dash(flame: MarketFlame) -> str:
    return DASHES[flame.place % len(DASHES)]


def _inside(curve: LimitCurve, frame: _Frame) -> NDArray[np.intp]:
    """Places of a curve between the sides of the frame, as many as a smooth line needs."""
    across = 100.0 * curve.aeration
    places = np.flatnonzero((across >= frame.x[0]) & (across <= frame.x[1]))
    return np.unique(np.concatenate([places[:: max(places.size // KNOTS, 1)], places[-1:]]))


def _bands(flame: MarketFlame, frame: _Frame) -> Iterator[SvgPath]:
    for curve in flame.curves:
        k = _inside(curve, frame)
        if k.size < 2:
            continue
        x = frame.across(curve.aeration[k])
        low, high = (
            frame.up(np.clip(end[k], *frame.y)) for end in (curve.low_W_per_mm2, curve.high_W_per_mm2)
        )
        d = _path(np.concatenate([x, x[::-1]]), np.concatenate([high, low[::-1]])) + "Z"
        yield SvgPath(d=d, fill=_ink(flame), opacity="0.07")
    for line in flame.yellow_tips:
        x1, x2 = (float(frame.across(end)) for end in (line.low, line.high))
        d = f"M{x1:.1f} {TOP:.1f}H{x2:.1f}V{BOTTOM:.1f}H{x1:.1f}Z"
        yield SvgPath(d=d, fill=_ink(flame), opacity="0.07")


def _limits(flame: MarketFlame, frame: _Frame) -> Iterator[SvgPath]:
    for curve in flame.curves:
        k = _inside(curve, frame)
        value = curve.loading_W_per_mm2[k]
        seen = (value >= frame.y[0]) & (value <= frame.y[1])
        for run in np.split(np.flatnonzero(seen), np.flatnonzero(np.diff(np.flatnonzero(seen)) > 1) + 1):
            if run.size > 1:
                d = _path(frame.across(curve.aeration[k][run]), frame.up(value[run]))
                yield SvgPath(d=d, stroke=_ink(flame), width="1.6", dash=_dash(flame))
    for line in flame.yellow_tips:
        d = f"M{float(frame.across(line.aeration)):.1f} {TOP:.1f}V{BOTTOM:.1f}"
        yield SvgPath(d=d, stroke=_ink(flame), width="1.2", dash=_dash(flame))


def _path(x: Array, y: Array) -> str:
    return "M" + "L".join(f"{a:.0f} {b:.0f}" for a, b in zip(x.tolist(), y.tolist(), strict=True))


def _shutter(flame: MarketFlame, frame: _Frame) -> Iterator[SvgPath]:
    """The air from the shutter nearly shut to fully open, at full rate; an end beyond the frame has no tick."""
    airs = shutter_airs(flame.points[0].state)
    if airs.size < 2:
        return
    y = float(frame.up(flame.points[0].loading_W_per_mm2))
    ends = [float(frame.across(air)) for air in (airs.min(), airs.max())]
    x1, x2 = (min(max(end, LEFT), RIGHT) for end in ends)
    ticks = "".join(f"M{end:.1f} {y - 4:.1f}v8" for end in ends if LEFT <= end <= RIGHT)
    d = f"M{x1:.1f} {y:.1f}H{x2:.1f}{ticks}"
    yield SvgPath(d=d, stroke=_ink(flame), width="0.8")


def _points(flame: MarketFlame, frame: _Frame) -> Iterator[SvgPoint]:
    """Other rates cold, then the hot burner."""
    ink = _ink(flame)
    cold = [("square", p.aeration, p.loading_W_per_mm2) for p in flame.points[1:]]
    for shape, air, loading in [*cold, *(("disc", air, loading) for _, air, loading in flame.hot)]:
        x, y = float(frame.across(air)), float(frame.up(loading))
        yield SvgPoint(x=f"{x:.1f}", y=f"{y:.1f}", ink=ink, shape=shape)


def _rings(flames: Sequence[MarketFlame], frame: _Frame) -> tuple[list[SvgPoint], list[SvgPath]]:
    """The letter of each market at full rate, cold; one that would lie on another is raised above its point."""
    rings: list[SvgPoint] = []
    leaders: list[SvgPath] = []
    places: list[tuple[float, float]] = []
    for flame in flames:
        full, ink = flame.points[0], _ink(flame)
        x, y = float(frame.across(full.aeration)), float(frame.up(full.loading_W_per_mm2))
        at = y
        while any(math.hypot(x - a, at - b) < RING for a, b in places):
            at -= 4.0
        if at < y:
            leaders.append(SvgPath(d=f"M{x:.1f} {y:.1f}V{at:.1f}", stroke=ink))
            rings.append(SvgPoint(x=f"{x:.1f}", y=f"{y:.1f}", ink=ink, shape="dot"))
        places.append((x, at))
        rings.append(SvgPoint(x=f"{x:.1f}", y=f"{at:.1f}", ink=ink, shape="ring", letter=flame.letter))
    return rings, leaders


def _limit_names(flame: MarketFlame, frame: _Frame, count: int) -> Iterator[SvgText]:
    """Each limit named on its own line, those of several markets at different places."""
    share = (flame.place + 0.5) / max(count, 1)
    for curve in flame.curves:
        k = _inside(curve, frame)
        value = curve.loading_W_per_mm2[k]
        seen = np.flatnonzero((value >= frame.y[0]) & (value <= frame.y[1]))
        if seen.size < 3 or curve.is_more_than:
            continue
        at = k[seen[int(share * (seen.size - 1))]]
        x, y = float(frame.across(curve.aeration[at])), float(frame.up(curve.loading_W_per_mm2[at]))
        text = f"{flame.letter} {curve.limit}"
        yield SvgText(x=f"{x + 5:.1f}", y=f"{max(y - 4, TOP + 11):.1f}", text=text, ink=_ink(flame))


def _yellow_names(
    flames: Sequence[MarketFlame], frame: _Frame, points: Sequence[SvgPoint]
) -> Iterator[SvgText]:
    """Each limit of yellow tips named beside its line, on the lowest row where no point and no other name stands."""
    places = [(float(point.x), float(point.y)) for point in points]
    written: list[tuple[float, float, float]] = []  # left, right, row
    rows = [BOTTOM - 8 - ROW * n for n in range(int((BOTTOM - TOP) / ROW) - 1)]
    for flame in flames:
        for line in flame.yellow_tips:
            text = f"{flame.letter} yellow tips"
            left = float(frame.across(line.aeration)) + 4
            right = left + 0.8 * DIGIT * len(text)

            def is_free(row: float, left: float = left, right: float = right) -> bool:
                near = (left - 5 < x < right + 5 and row - ROW < y < row + 5 for x, y in places)
                return not any(near) and not any(
                    row == other and left < end and start < right for start, end, other in written
                )

            row = next(filter(is_free, rows), rows[0])
            written.append((left, right, row))
            yield SvgText(x=f"{left:.1f}", y=f"{row:.1f}", text=text, ink=_ink(flame))


def _axes(frame: _Frame, system: System) -> tuple[list[SvgPath], list[SvgText]]:
    """Two rules, their figures, and what they are of."""
    ink = INKS[0]
    rules = [SvgPath(d=f"M{LEFT} {TOP}V{BOTTOM}H{RIGHT}", stroke=ink)]
    words = []
    step = 10 if frame.x[1] - frame.x[0] <= 60 else 20
    for air in range(math.ceil(frame.x[0] / step) * step, int(frame.x[1]) + 1, step):
        x = float(frame.across(air / 100.0))
        rules.append(SvgPath(d=f"M{x:.1f} {BOTTOM}v4", stroke=ink))
        is_cut = x + DIGIT * len(f"{air}") / 2 > WIDTH  # in the middle below its tick
        at, anchor = (WIDTH - 1, "end") if is_cut else (x, "middle")
        words.append(SvgText(x=f"{at:.1f}", y=f"{BOTTOM + 17:.1f}", text=f"{air}", anchor=anchor))
    size = loading_unit(system)[0]
    for tick in _ticks(frame.y[0] / size, frame.y[1] / size):
        y = float(frame.up(tick * size))
        rules.append(SvgPath(d=f"M{LEFT} {y:.1f}h-4", stroke=ink))
        words.append(SvgText(x=f"{LEFT - 7}", y=f"{y + 4:.1f}", text=f"{tick:.3g}", anchor="end"))
    foot = f"primary air, % of the stoichiometric; up: port loading, {loading_unit(system)[1]}"
    words.append(SvgText(x=f"{RIGHT}", y=f"{HEIGHT - 6:.1f}", text=foot, anchor="end"))
    return rules, words


def loading_unit(system: System) -> tuple[float, str]:
    """A unit of port loading in W/mm2, and its name.

    >>> loading_unit("metric")
    (1.0, 'W/mm²')
    """
    if system == "metric":
        return 1.0, "W/mm²"
    return float(from_unit(1e3, Kind.POWER, "Btu/h")) / INCH_mm**2, "kBtu/h/in²"


def _ticks(low: float, high: float) -> list[float]:
    """Round figures of a logarithmic scale, as many as have room.

    >>> _ticks(2.0, 40.0)
    [2.0, 3.0, 5.0, 10.0, 20.0, 30.0]
    """
    first, last = math.floor(math.log10(low)), math.ceil(math.log10(high))
    for heads in ((1, 2, 3, 5), (1, 2, 5), (1, 3), (1,)):
        ticks = [h * 10.0**e for e in range(first, last + 1) for h in heads if low <= h * 10.0**e <= high]
        if len(ticks) <= MOST_TICKS:
            return ticks
    return ticks
