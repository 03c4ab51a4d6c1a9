"""Does one thing stand where another does: rectangles and discs in plan, turned by any angle."""

from __future__ import annotations

import math
from dataclasses import dataclass

TOUCH_m = 1e-6  # things that only touch do not overlap


@dataclass(frozen=True, slots=True, kw_only=True)
class Footprint:
    """A rectangle in plan; u runs from front to back before it is turned, v to the right."""

    x_m: float
    y_m: float
    u_m: float  # full length
    v_m: float  # full width
    angle_rad: float = 0.0
    disc: bool = False  # a disc of diameter u

    def corners(self, grown_m: float = 0.0) -> tuple[tuple[float, float], ...]:
        """The four corners, or points round a disc."""
        if self.disc:
            radius = self.u_m / 2 + grown_m
            turns = [math.pi * k / 12 for k in range(24)]
            return tuple((self.x_m + radius * math.cos(t), self.y_m + radius * math.sin(t)) for t in turns)
        along, across = axes(self.angle_rad)
        half_u, half_v = self.u_m / 2 + grown_m, self.v_m / 2 + grown_m
        return tuple(
            (
                self.x_m + su * half_u * along[0] + sv * half_v * across[0],
                self.y_m + su * half_u * along[1] + sv * half_v * across[1],
            )
            for su, sv in ((-1, -1), (-1, 1), (1, 1), (1, -1))
        )

    def reach_m(self, direction: tuple[float, float]) -> tuple[float, float]:
        """Lowest and highest extent along a direction."""
        middle = self.x_m * direction[0] + self.y_m * direction[1]
        if self.disc:
            return middle - self.u_m / 2, middle + self.u_m / 2
        along, across = axes(self.angle_rad)
        half = self.u_m / 2 * abs(_dot(along, direction)) + self.v_m / 2 * abs(_dot(across, direction))
        return middle - half, middle + half


def axes(angle_rad: float) -> tuple[tuple[float, float], tuple[float, float]]:
    """Directions of the length and of the width of a thing turned by an angle.

    >>> axes(0.0)
    ((0.0, 1.0), (1.0, 0.0))
    """
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    return (0.0 - s, c), (c, s)


def _dot(a: tuple[float, float], b: tuple[float, float]) -> float:
    return a[0] * b[0] + a[1] * b[1]


def overlap(first: Footprint, second: Footprint) -> bool:
    """Whether two footprints cover common ground; touching does not count.

    >>> tube = Footprint(x_m=0.0, y_m=0.0, u_m=0.4, v_m=0.03)
    >>> overlap(tube, Footprint(x_m=0.14, y_m=0.0, u_m=0.4, v_m=0.03))
    False
    """
    if first.disc or second.disc:
        disc, other = (first, second) if first.disc else (second, first)
        return _to_middle(disc, other) < disc.u_m / 2 - TOUCH_m
    for direction in (*axes(first.angle_rad), *axes(second.angle_rad)):
        (a, b), (c, d) = first.reach_m(direction), second.reach_m(direction)
        if min(b, d) - max(a, c) <= TOUCH_m:
            return False
    return True


def _to_middle(disc: Footprint, other: Footprint) -> float:
    """Distance from the middle of a disc to the ground another footprint covers."""
    apart = (disc.x_m - other.x_m, disc.y_m - other.y_m)
    if other.disc:
        return math.hypot(*apart) - other.u_m / 2
    along, across = axes(other.angle_rad)
    off_u = max(abs(_dot(apart, along)) - other.u_m / 2, 0.0)
    off_v = max(abs(_dot(apart, across)) - other.v_m / 2, 0.0)
    return math.hypot(off_u, off_v)


def inside(inner: Footprint, outer: Footprint) -> bool:
    """Whether all of a footprint stands on an upright rectangle (angle 0).

    >>> box = Footprint(x_m=0.0, y_m=0.0, u_m=0.5, v_m=0.5)
    >>> inside(Footprint(x_m=0.0, y_m=0.0, u_m=0.4, v_m=0.03), box)
    True
    """
    return all(
        outer.reach_m(direction)[0] - TOUCH_m <= inner.reach_m(direction)[0]
        and inner.reach_m(direction)[1] <= outer.reach_m(direction)[1] + TOUCH_m
        for direction in axes(0.0)
    )
