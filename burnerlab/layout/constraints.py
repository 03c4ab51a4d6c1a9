"""Constraints on a layout, each with its value, its bound and by how much it is missed.

A search for a more even map keeps to bounds of three kinds: how far each tube may move and its rate may change, what a
layout needs (spacing, room for the flame, walls, mean heat, total heat input, stable flames), and what can be bought.
Every one is worked out from the finished layout, not from the variables of the search.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.project.geometry import LayoutReach
from burnerlab.layout.cooking_surface import Emitter, Layout
from burnerlab.layout.flame_size import any_line_flame_m
from burnerlab.layout.plume import cover_of
from burnerlab.quantity import Kind, take_SI
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.quantity.show import number

FloatArray = NDArray[np.float64]
ROUNDING = 1e-9  # of a figure over its own scale: what floating point leaves, no tolerance on a bound
EDGE = 0.02  # slack over its own scale below which a bound counts as one that limits the design


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutLimits:
    """What every design must hold; 0 or () holds nothing.

    spacing_m : least distance between axes; flame_clearance_m : least from flame tip to surface or shield [m]
    mean_W_per_m2 : least mean heat that the surface takes up [W/m2]
    rate_windows : of each present tube, the factors on its rate, low and high, that keep its flame [-]
    Raises UserError for a text that is no such quantity.

    >>> LayoutLimits(spacing_m="80 mm").spacing_m
    0.08
    """

    spacing_m: float = field(default=0.0, metadata={"kind": Kind.LENGTH})
    flame_clearance_m: float = field(default=0.0, metadata={"kind": Kind.LENGTH})
    mean_W_per_m2: float = field(default=0.0, metadata={"kind": Kind.HEAT_FLUX})
    rate_windows: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        take_SI(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Constraint:
    """One bound of a design and how it is kept.

    >>> one = Constraint(name="spacing", where="tube 1, tube 2", value=74.0, low=80.0, unit="mm", scale=80.0)
    >>> one.holds, one.missing, one.text
    (False, 6.0, 'spacing (tube 1, tube 2): 74.0 mm, at least 80.0 mm; misses by 6.00 mm')
    """

    name: str = field(metadata=output("constraint"))
    where: str = field(default="", metadata=output("of"))
    value: float = field(metadata=output("value"))
    low: float | None = field(default=None, metadata=output("at least"))
    high: float | None = field(default=None, metadata=output("at most"))
    unit: str = field(metadata=output("unit"))
    scale: float  # of the same unit: what a miss is compared with when different constraints are weighed
    is_set: bool = False  # the design sets the value at its bound; the search cannot leave it

    @property
    def slack(self) -> float:
        """What is left to the nearer end over the scale; below 0 the bound is missed [-]."""
        left = [self.value - self.low] if self.low is not None else []
        left += [self.high - self.value] if self.high is not None else []
        return min(left, default=math.inf) / self.scale

    @property
    @computed_output("holds")
    def holds(self) -> bool:
        return self.slack >= -ROUNDING

    @property
    @computed_output("misses by")
    def missing(self) -> float:
        """In the unit of the value, 0 where it holds."""
        return 0.0 if self.holds else -self.slack * self.scale

    @property
    def binds(self) -> bool:
        """Whether it is missed, or so near that it limits the search."""
        return not self.holds or (self.slack < EDGE and not self.is_set)

    @property
    def bound(self) -> str:
        """The bound in words."""
        low, high = (None if end is None else number(end, 3) for end in (self.low, self.high))
        if low is None or high is None:
            return f"at most {high} {self.unit}" if low is None else f"at least {low} {self.unit}"
        return f"{low} to {high} {self.unit}"

    @property
    def text(self) -> str:
        """Name, value and bound, and by how much it is missed."""
        head = f"{self.name} ({self.where})" if self.where else self.name
        words = f"{head}: {number(self.value, 3)} {self.unit}, {self.bound}"
        return words if self.holds else f"{words}; misses by {number(self.missing, 3)} {self.unit}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """What a design may differ from and what it must hold.

    base, movers : the layout it starts from and which of its burners move; rate factors are on ``base_rates_W``
    most_W : heat input of all burners, net; lengths_m : those that can be bought, any when empty
    windows : whether the rate windows of the limits are those of these tubes
    """

    base: Layout
    movers: tuple[int, ...]
    base_rates_W: FloatArray
    reach: LayoutReach
    limits: LayoutLimits
    most_W: float
    lengths_m: tuple[float, ...] = ()
    windows: bool = False


def constraints(layout: Layout, mean_W_per_m2: float, bounds: Bounds) -> tuple[Constraint, ...]:
    """Every constraint of a design; of those that each tube or pair has, the one nearest to its bound.

    mean_W_per_m2 : mean heat that the surface takes up
    """
    tubes = [layout.burners[i] for i in bounds.movers]
    groups = [
        *_moves(tubes, bounds),
        list(_shield_widths(layout, bounds)),
        list(_rates(tubes, bounds)),
        list(_lengths(tubes, bounds.lengths_m)),
        list(_spacings(tubes, bounds.limits.spacing_m)),
        [_flame_room(tube, layout, bounds.limits.flame_clearance_m) for tube in tubes],
        [_edge(tube, layout) for tube in tubes],
        [_total(layout, bounds.most_W)],
        list(_mean(mean_W_per_m2, bounds.limits.mean_W_per_m2)),
    ]
    if bounds.windows:
        groups.append(list(_flames(tubes, bounds)))
    return tuple(min(group, key=lambda bound: bound.slack) for group in groups if group)


def _moves(tubes: Sequence[Emitter], bounds: Bounds) -> Iterator[list[Constraint]]:
    """How far each tube has moved from its place."""
    reach = bounds.reach
    axes = (
        ("left and right", "x_m", reach.across_m),
        ("front and back", "y_m", reach.along_m),
        ("height", "z_m", reach.height_m),
    )
    for name, axis, most in axes:
        if most <= 0:
            continue
        yield [
            Constraint(
                name=name,
                where=tube.name,
                value=1e3 * (getattr(tube, axis) - getattr(bounds.base.burners[i], axis)),
                low=-1e3 * most,
                high=1e3 * most,
                unit="mm",
                scale=1e3 * most,
            )
            for i, tube in zip(bounds.movers, tubes, strict=True)
        ]


def _shield_widths(layout: Layout, bounds: Bounds) -> Iterator[Constraint]:
    most = bounds.reach.shield_width_m
    if most <= 0:
        return
    for before, after in zip(bounds.base.covers, layout.covers, strict=True):
        yield Constraint(
            name="shield width",
            where=after.name,
            value=1e3 * (after.width_m - before.width_m),
            low=-1e3 * most,
            high=1e3 * most,
            unit="mm",
            scale=1e3 * most,
        )


def _rates(tubes: Sequence[Emitter], bounds: Bounds) -> Iterator[Constraint]:
    """Change of each rate; without a reach the split stays and only the total changes."""
    most = bounds.reach.rate
    if most <= 0:
        return
    for tube, rate in zip(tubes, bounds.base_rates_W, strict=True):
        yield Constraint(
            name="rate",
            where=tube.name,
            value=100 * (tube.heat_input_W / float(rate) - 1),
            low=-100 * most,
            high=100 * most,
            unit="%",
            scale=100.0,
        )


def _lengths(tubes: Sequence[Emitter], lengths_m: Sequence[float]) -> Iterator[Constraint]:
    for tube in tubes if lengths_m else ():
        nearest = 1e3 * min(lengths_m, key=lambda length: abs(length - tube.length_m))
        yield Constraint(
            name="length from the list",
            where=tube.name,
            value=1e3 * tube.length_m,
            low=nearest,
            high=nearest,
            unit="mm",
            scale=nearest,
            is_set=True,
        )


def _spacings(tubes: Sequence[Emitter], least_m: float) -> Iterator[Constraint]:
    """Distance of each pair of axes in plan; at least so much that the tubes do not lie in one another."""
    for k, one in enumerate(tubes):
        for other in tubes[:k]:
            least = max(least_m, (one.width_m + other.width_m) / 2)
            yield Constraint(
                name="spacing",
                where=f"{other.name}, {one.name}",
                value=1e3 * axis_distance_m(one, other),
                low=1e3 * least,
                unit="mm",
                scale=1e3 * least,
            )


def axis_distance_m(a: Emitter, b: Emitter) -> float:
    """Least distance between the axes of two tubes in plan [m], 0 where they cross.

    >>> left = Emitter(name="l", form="line", x_m=0.0, y_m=0.0, z_m=0.0, length_m=0.4, heat_input_W=3e3, radiant=0.2,
    ...                capture=0.3)
    >>> from dataclasses import replace
    >>> axis_distance_m(left, replace(left, x_m=0.1)), axis_distance_m(left, replace(left, y_m=0.5)).__round__(3)
    (0.1, 0.1)
    """
    p, q = _ends(a), _ends(b)
    sides = [_turn(p[0], p[1], end) for end in q] + [_turn(q[0], q[1], end) for end in p]
    if sides[0] * sides[1] < 0 and sides[2] * sides[3] < 0:
        return 0.0
    return min([_from_segment(end, p) for end in q] + [_from_segment(end, q) for end in p])


def _ends(tube: Emitter) -> FloatArray:
    middle, along = np.array([tube.x_m, tube.y_m]), np.array(tube.along)
    return np.array([middle - tube.length_m / 2 * along, middle + tube.length_m / 2 * along])


def _turn(a: FloatArray, b: FloatArray, c: FloatArray) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


def _from_segment(point: FloatArray, segment: FloatArray) -> float:
    run = segment[1] - segment[0]
    at = float(np.clip((point - segment[0]) @ run / (run @ run), 0.0, 1.0))
    return float(np.hypot(*(point - segment[0] - at * run)))


def _flame_room(tube: Emitter, layout: Layout, clearance_m: float) -> Constraint:
    """Free height over the tallest flame of a tube, to the shield or the surface over it."""
    over = cover_of(tube, layout.covers)
    gap = (layout.surface.z_m if over is None else over.z_m) - tube.z_m
    flame = tube.flame_height_m
    if flame is None:
        flame = any_line_flame_m(tube.heat_input_W / tube.length_m)
    return Constraint(
        name="flame clearance",
        where=tube.name,
        value=1e3 * (gap - flame),
        low=1e3 * clearance_m,
        unit="mm",
        scale=1e3 * max(gap, 1e-3),
    )


def _edge(tube: Emitter, layout: Layout) -> Constraint:
    """Free distance of a tube from the walls of its box; from the edges of the surface where there is none."""
    x1, x2, y1, y2 = (layout.room or layout.surface).sides
    ax, ay = (abs(one) for one in tube.along)
    half_x = tube.length_m / 2 * ax + tube.width_m / 2 * ay
    half_y = tube.length_m / 2 * ay + tube.width_m / 2 * ax
    left = min(tube.x_m - half_x - x1, x2 - tube.x_m - half_x, tube.y_m - half_y - y1, y2 - tube.y_m - half_y)
    return Constraint(
        name="edges of the surface" if layout.room is None else "walls of the box",
        where=tube.name,
        value=1e3 * left,
        low=0.0,
        unit="mm",
        scale=1e3 * (x2 - x1) / 2,
    )


def _total(layout: Layout, most_W: float) -> Constraint:
    total = layout.heat_input_W
    return Constraint(
        name="total heat input, net",
        value=total / 1e3,
        high=most_W / 1e3,
        unit="kW",
        scale=most_W / 1e3,
        is_set=True,
    )


def _mean(mean_W_per_m2: float, least_W_per_m2: float) -> Iterator[Constraint]:
    if least_W_per_m2 > 0:
        least = least_W_per_m2 / 1e3
        yield Constraint(name="mean heat", value=mean_W_per_m2 / 1e3, low=least, unit="kW/m2", scale=least)


def _flames(tubes: Sequence[Emitter], bounds: Bounds) -> Iterator[Constraint]:
    """Change of each rate against what keeps its flame on the gases looked at."""
    if not bounds.limits.rate_windows:
        return
    for tube, rate, (low, high) in zip(tubes, bounds.base_rates_W, bounds.limits.rate_windows, strict=True):
        yield Constraint(
            name="flame stability, rate",
            where=tube.name,
            value=100 * (tube.heat_input_W / float(rate) - 1),
            low=100 * (low - 1),
            high=100 * (high - 1),
            unit="%",
            scale=100.0,
        )


def rate_factors(
    wish: FloatArray, rates_W: FloatArray, ends: tuple[FloatArray, FloatArray], total_W: float
) -> FloatArray:
    """Factors on the rates that give a total and keep to their ends, each as near to its wish as one shift allows [-].

    wish, rates_W, ends : for each tube; total_W : of all
    Where no factors within the ends give the total, all lie beyond the same end by the same amount: the least miss.

    >>> low, high = np.array([0.8, 0.8]), np.array([1.2, 1.2])
    >>> rate_factors(np.array([1.2, 0.8]), np.array([1e3, 1e3]), (low, high), 2.2e3)
    array([1.2, 1. ])
    >>> rate_factors(np.array([1.0, 1.0]), np.array([1e3, 1e3]), (low, high), 1.5e3)
    array([0.75, 0.75])
    """
    low, high = ends
    for end, side in ((low, -1.0), (high, 1.0)):
        over = side * (total_W - float(rates_W @ end)) / float(rates_W.sum())
        if over >= 0:
            return np.asarray(end + side * over)
    from scipy.optimize import brentq

    def left(shift: float) -> float:
        return float(rates_W @ np.clip(wish + shift, low, high)) / total_W - 1

    reach = float(np.max(high) - np.min(low)) + float(np.max(np.abs(wish - 1))) + 1
    shift = brentq(left, -reach, reach, xtol=1e-15)
    return np.asarray(np.clip(wish + shift, low, high))
