"""A design of the search: what may change in it, what it must hold, how it is judged."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.space import LayoutReach
from burnerlab.layout.cooking_surface import Cover, Emitter, Grid, Layout
from burnerlab.layout.evenness import Evenness, evenness
from burnerlab.layout.heatmap import pieces
from burnerlab.layout.plume import cover_of, line_flame_height_m
from burnerlab.quantity import Kind, take_SI
from burnerlab.tables.problem import Problem, UserError

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutLimits:
    """What every design must hold.

    >>> LayoutLimits(spacing_m="80 mm").spacing_m
    0.08
    """

    spacing_m: float = field(default=0.0, metadata={"kind": Kind.LENGTH})  # between axes
    flame_clearance_m: float = field(default=0.0, metadata={"kind": Kind.LENGTH})
    mean_W_per_m2: float = field(default=0.0, metadata={"kind": Kind.HEAT_FLUX})
    flame_coefficient: float = 0.017
    flame_factor: float = 1.0  # of the taller gas against methane
    rate_windows: tuple[
        tuple[float, float], ...
    ] = ()  # factor on each present tube's rate that keeps the flame

    def __post_init__(self) -> None:
        take_SI(self)


@dataclass(slots=True)
class Task:
    """One search: so many tubes at so much input."""

    base: Layout  # tubes in their starting places
    movers: tuple[int, ...]
    study: LayoutReach
    limits: LayoutLimits
    total_W: float  # of the movers
    grid: Grid
    lengths: tuple[float, ...]
    window: bool
    evaluations: int = 0
    covers: dict[int, int] = field(default_factory=dict)  # mover -> its shield

    def bounds(self) -> list[tuple[float, float]]:
        s, found = self.study, []
        for reach in (s.across_m, s.along_m, s.height_m, s.rate):
            if reach > 0:
                found += [(-reach, reach)] * len(self.movers)
        if s.shield_width_m > 0 and self.covers:
            found.append((-s.shield_width_m, s.shield_width_m))
        if len(self.lengths) > 1:
            found.append((0.0, len(self.lengths) - 1.0))
        return found

    def build(self, x: FloatArray) -> Layout:
        """The layout of a vector of changes."""
        n, s, at = len(self.movers), self.study, 0
        steps = {}
        for name, reach in (("x", s.across_m), ("y", s.along_m), ("z", s.height_m), ("rate", s.rate)):
            steps[name] = np.zeros(n)
            if reach > 0:
                steps[name], at = x[at : at + n], at + n
        wider = 0.0
        if s.shield_width_m > 0 and self.covers:
            wider, at = float(x[at]), at + 1
        length = (
            self.lengths[round(float(x[at]))]
            if len(self.lengths) > 1
            else self.lengths[0]
            if self.lengths
            else None
        )
        return self._moved(steps, wider, length)

    def _moved(self, steps: dict[str, FloatArray], wider: float, length: float | None) -> Layout:
        burners, covers = list(self.base.burners), list(self.base.covers)
        parts = np.array([self.base.burners[i].heat_input_W for i in self.movers]) * (1 + steps["rate"])
        rates = parts / parts.sum() * self.total_W
        for k, i in enumerate(self.movers):
            b = burners[i]
            dx, dy, dz = (float(steps[axis][k]) for axis in "xyz")
            burners[i] = replace(
                b,
                x_m=b.x_m + dx,
                y_m=b.y_m + dy,
                z_m=b.z_m + dz,
                heat_input_W=float(rates[k]),
                length_m=length or b.length_m,
            )
            if i in self.covers:
                c = covers[self.covers[i]]
                covers[self.covers[i]] = replace(
                    c, x_m=c.x_m + dx, y_m=c.y_m + dy, z_m=c.z_m + dz, width_m=max(c.width_m + wider, 0.005)
                )
        return replace(self.base, burners=tuple(burners), covers=tuple(covers))

    def score(self, x: FloatArray) -> float:
        """Coefficient of variation, and more for every constraint that is broken."""
        self.evaluations += 1
        layout = self.build(x)
        found, slacks = self.judge(layout)
        return found.coefficient_of_variation + sum(
            10 * -slack + 0.5 for slack in slacks.values() if slack < 0
        )

    def judge(self, layout: Layout) -> tuple[Evenness, dict[str, float]]:
        maps, _ = pieces(layout, self.grid)
        found = evenness(maps.flux(layout).sum(axis=0))
        return found, self.slacks(layout, found)

    def slacks(self, layout: Layout, found: Evenness) -> dict[str, float]:
        """What is left of each constraint, over its own size; below 0 it is broken."""
        tubes = [layout.burners[i] for i in self.movers]
        slack = {
            "mean heat": found.mean / self.limits.mean_W_per_m2 - 1 if self.limits.mean_W_per_m2 else 1.0
        }
        slack["spacing"] = min(
            (_gap(a, b, self.limits.spacing_m) for i, a in enumerate(tubes) for b in tubes[:i]), default=1.0
        )
        slack["flame clearance"] = min(self._room_for_flame(tube, layout) for tube in tubes)
        slack["box"] = min(_inside(tube, layout) for tube in tubes)
        if self.window and self.limits.rate_windows:
            present = [self.base.burners[i].heat_input_W for i in self.movers]
            factors = [tube.heat_input_W / rate for tube, rate in zip(tubes, present, strict=True)]
            slack["flame stability"] = min(
                min(f - low, high - f)
                for f, (low, high) in zip(factors, self.limits.rate_windows, strict=True)
            )
        return slack

    def _room_for_flame(self, tube: Emitter, layout: Layout) -> float:
        """Free height over the flame of the taller gas, less the clearance, over the gap."""
        over = cover_of(tube, layout.covers)
        gap = (layout.surface.z_m if over is None else over.z_m) - tube.z_m
        flame = float(
            line_flame_height_m(
                tube.heat_input_W / tube.length_m, self.limits.flame_coefficient, self.limits.flame_factor
            )
        )
        return (gap - flame - self.limits.flame_clearance_m) / max(gap, 1e-3)


def _gap(a: Emitter, b: Emitter, spacing_m: float) -> float:
    apart = abs((a.x_m - b.x_m) * math.cos(a.angle_rad) + (a.y_m - b.y_m) * math.sin(a.angle_rad))
    least = max(spacing_m, (a.width_m + b.width_m) / 2)
    return apart / least - 1


def _inside(tube: Emitter, layout: Layout) -> float:
    """How far a tube stays off the walls, over the half width; of the surface where there is no box."""
    x1, x2, y1, y2 = (layout.room or layout.surface).sides
    ax, ay = (abs(one) for one in tube.along)
    half_x = tube.length_m / 2 * ax + tube.width_m / 2 * ay
    half_y = tube.length_m / 2 * ay + tube.width_m / 2 * ax
    left = min(tube.x_m - half_x - x1, x2 - tube.x_m - half_x, tube.y_m - half_y - y1, y2 - tube.y_m - half_y)
    return left / ((x2 - x1) / 2)


def movers_of(layout: Layout) -> tuple[int, ...]:
    """Tubes below the surface: what a search may move. Raises UserError where there is none."""
    found = tuple(i for i, b in enumerate(layout.burners) if b.form == "line" and b.z_m < layout.surface.z_m)
    if not found:
        raise UserError(
            Problem("no tube lies below this surface: nothing to move", value=layout.surface.name)
        )
    return found


def with_tubes(layout: Layout, tubes: int) -> Layout:
    """The layout with another number of equal tubes, evenly spaced over the surface, each under a shield as before."""
    movers = movers_of(layout)
    first = layout.burners[movers[0]]
    total = sum(layout.burners[i].heat_input_W for i in movers)
    s = layout.surface
    width = s.width_m if abs(first.along[1]) > 0.5 else s.depth_m
    places = (np.arange(tubes) - (tubes - 1) / 2) * width / (tubes + 0.15)
    over = cover_of(first, layout.covers)
    mine = [cover_of(layout.burners[i], layout.covers) for i in movers]
    ax, ay = math.cos(first.angle_rad), math.sin(first.angle_rad)
    made, shields = [], []
    for k, place in enumerate(places):
        x, y = s.x_m + ax * float(place), s.y_m + ay * float(place)
        made.append(replace(first, name=f"tube {k + 1}", x_m=x, y_m=y, heat_input_W=total / tubes))
        if over is not None:
            shields.append(
                replace(
                    over, name=f"shield {k + 1}", x_m=x + over.x_m - first.x_m, y_m=y + over.y_m - first.y_m
                )
            )
    others = tuple(b for i, b in enumerate(layout.burners) if i not in movers)
    left: tuple[Cover, ...] = tuple(c for c in layout.covers if c not in mine)
    return replace(layout, burners=(*made, *others), covers=(*left, *shields))
