"""Which share of the radiation that leaves one surface lands on another: closed forms, one function each.

All broadcast. A view factor that is exact for its geometry is exact here too; what is taken as thin says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
TWO_PI = 2.0 * np.pi


@dataclass(frozen=True, slots=True, kw_only=True)
class Rectangle:
    """Sides of a rectangle parallel to the axes of its plane [m]; each a float or an array."""

    x1: ArrayLike
    x2: ArrayLike
    y1: ArrayLike
    y2: ArrayLike

    @property
    def area_m2(self) -> FloatArray:
        return np.asarray((np.subtract(self.x2, self.x1)) * (np.subtract(self.y2, self.y1)))


def _floats(*values: ArrayLike) -> list[FloatArray]:
    return [np.asarray(value, dtype=np.float64) for value in values]


# rectangle to rectangle


def opposed_rectangles(length_m: ArrayLike, width_m: ArrayLike, gap_m: ArrayLike) -> FloatArray:
    """Equal rectangles facing each other squarely, X = a/c, Y = b/c [-].

    length_m, width_m : sides a and b [m]; gap_m : distance c [m]
    Source: howell-catalogue, C-11.

    >>> float(opposed_rectangles(1.0, 1.5, 0.5))
    0.475576
    """
    a, b, c = _floats(length_m, width_m, gap_m)
    X, Y = a / c, b / c
    X1, Y1 = np.hypot(1.0, X), np.hypot(1.0, Y)
    logs = 0.5 * (np.log1p(X**2) + np.log1p(Y**2) - np.log1p(X**2 + Y**2))
    sides = X * Y1 * np.arctan(X / Y1) + Y * X1 * np.arctan(Y / X1) - X * np.arctan(X) - Y * np.arctan(Y)
    return np.asarray(2.0 / (np.pi * X * Y) * (logs + sides))


def perpendicular_rectangles(base_m: ArrayLike, wall_m: ArrayLike, edge_m: ArrayLike) -> FloatArray:
    """From a base to a wall that stands square on its edge, W = w/l, H = h/l [-].

    base_m : depth w of the base [m]; wall_m : height h of the wall [m]; edge_m : common edge l [m]
    Source: howell-catalogue, C-14.

    >>> float(perpendicular_rectangles(1.0, 2.0, 1.0))
    0.2328526
    """
    w, h, edge = _floats(base_m, wall_m, edge_m)
    W2, H2 = (w / edge) ** 2, (h / edge) ** 2
    W, H, both = np.sqrt(W2), np.sqrt(H2), W2 + H2
    turns = W * np.arctan(1 / W) + H * np.arctan(1 / H) - np.sqrt(both) * np.arctan(1 / np.sqrt(both))
    logs = np.log1p(W2) + np.log1p(H2) - np.log1p(both)
    logs = logs + W2 * np.log(W2 * (1 + both) / ((1 + W2) * both))
    logs = logs + H2 * np.log(H2 * (1 + both) / ((1 + H2) * both))
    return np.asarray((turns + 0.25 * logs) / (np.pi * W))


def _sixteen(first: Rectangle, second: Rectangle, term: Any) -> FloatArray:
    """Sum over the corners of two rectangles with alternating signs."""
    total: Any = 0.0
    for i, x in enumerate(_floats(first.x1, first.x2)):
        for j, y in enumerate(_floats(first.y1, first.y2)):
            for k, xi in enumerate(_floats(second.x1, second.x2)):
                for n, eta in enumerate(_floats(second.y1, second.y2)):
                    total = total + (-1.0) ** (i + j + k + n) * term(x, y, xi, eta)
    return np.asarray(total)


def parallel_rectangles(first: Rectangle, second: Rectangle, gap_m: ArrayLike) -> FloatArray:
    """From one rectangle to another in a parallel plane, anywhere, sides parallel [-].

    gap_m : distance of the planes [m]
    Source: howell-catalogue, C-13.

    >>> tube_side = Rectangle(x1=0.0, x2=0.1, y1=0.0, y2=0.3)
    >>> float(parallel_rectangles(tube_side, Rectangle(x1=0.15, x2=0.25, y1=0.0, y2=0.3), 0.1))
    0.0701455171
    """
    (z,) = _floats(gap_m)

    def term(x: FloatArray, y: FloatArray, xi: FloatArray, eta: FloatArray) -> FloatArray:
        dx, dy = x - xi, y - eta
        across, along = np.hypot(dx, z), np.hypot(dy, z)
        turns = dy * across * np.arctan(dy / across) + dx * along * np.arctan(dx / along)
        return np.asarray(turns - 0.5 * z**2 * np.log(dx**2 + dy**2 + z**2))

    return _sixteen(first, second, term) / (TWO_PI * first.area_m2)


def standing_rectangles(base: Rectangle, wall: Rectangle) -> FloatArray:
    """From a rectangle to another that stands square to it, anywhere in front of it [-].

    base : x is its distance from the plane of the wall; y runs along the line where the planes meet
    wall : x is its height above the plane of the base; y as for the base
    Source: howell-catalogue, C-15.

    >>> base = Rectangle(x1=0.0, x2=1.0, y1=0.0, y2=1.0)
    >>> float(standing_rectangles(base, Rectangle(x1=0.0, x2=2.0, y1=0.0, y2=1.0)))
    0.2328526
    """

    def term(x: FloatArray, y: FloatArray, xi: FloatArray, eta: FloatArray) -> FloatArray:
        far2, dy = x**2 + xi**2, y - eta
        far = np.sqrt(far2)
        turn = np.where(far > 0, dy * far * np.arctan(dy / np.where(far > 0, far, 1.0)), 0.0)
        span = far2 + dy**2
        log = np.where(span > 0, np.log(np.where(span > 0, span, 1.0)), 0.0)
        return np.asarray(turn - 0.25 * (far2 - dy**2) * log)

    return _sixteen(base, wall, term) / (TWO_PI * base.area_m2)


# element to rectangle


def element_to_parallel(
    x1: ArrayLike, x2: ArrayLike, y1: ArrayLike, y2: ArrayLike, gap_m: ArrayLike
) -> FloatArray:
    """From a plane element to a rectangle parallel to it, sides seen from the element's normal [-].

    x1, x2, y1, y2 : sides of the rectangle from the foot of the normal [m]; gap_m : distance [m]
    Four corners added; each is odd in both of its sides, so that a foot outside the rectangle needs no other rule.
    Source: br187, Appendix A; howell-catalogue, B-3.

    >>> float(element_to_parallel(0.0, 0.3, 0.0, 0.2, 0.1))
    0.2175752061
    """
    (z,) = _floats(gap_m)

    def corner(a: FloatArray, b: FloatArray) -> FloatArray:
        far_a, far_b = np.hypot(a, z), np.hypot(b, z)
        return np.asarray(a / far_a * np.arctan(b / far_a) + b / far_b * np.arctan(a / far_b))

    a1, a2, b1, b2 = _floats(x1, x2, y1, y2)
    return (corner(a2, b2) - corner(a1, b2) - corner(a2, b1) + corner(a1, b1)) / TWO_PI


def element_to_standing(
    along1: ArrayLike, along2: ArrayLike, height1: ArrayLike, height2: ArrayLike, away_m: ArrayLike
) -> FloatArray:
    """From a plane element to a rectangle that stands square to it [-].

    along1, along2 : sides of the rectangle along its foot line, from the element [m]
    height1, height2 : lower and upper side above the plane of the element [m]; below it nothing is seen
    away_m : distance of the element from the plane of the rectangle, above 0 [m]
    Source: br187, Appendix A; howell-catalogue, B-4.

    >>> float(element_to_standing(0.0, 0.6, 0.0, 0.5, 1.0))
    0.01589600890991
    """
    (s,) = _floats(away_m)

    def strip(w: FloatArray, h: FloatArray) -> FloatArray:
        far = np.hypot(s, h)
        return np.asarray(np.arctan(w / s) - s / far * np.arctan(w / far))

    a, b, low, high = _floats(along1, along2, np.maximum(height1, 0.0), np.maximum(height2, 0.0))
    return (strip(b, high) - strip(a, high) - strip(b, low) + strip(a, low)) / TWO_PI


# element to tube


def tube_integrals(start: FloatArray, end: FloatArray, apart_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Integrals of dt/(d^2 + t^2)^2 [1/m3] and of t dt/(d^2 + t^2)^2 [1/m2] along a line.

    start, end : along the line from the point next to it [m]; apart_m : distance d of the line [m]
    """
    d2 = apart_m**2
    near, far = d2 + start**2, d2 + end**2
    turn = (np.arctan(end / apart_m) - np.arctan(start / apart_m)) / (2.0 * d2 * apart_m)
    even = (end / far - start / near) / (2.0 * d2) + turn
    return np.asarray(even), np.asarray(0.5 * (1.0 / near - 1.0 / far))


def element_to_tube(
    across_m: ArrayLike, along_m: ArrayLike, gap_m: ArrayLike, length_m: ArrayLike, radius_m: ArrayLike
) -> FloatArray:
    """From a plane element to a thin Lambertian tube that lies parallel to it [-].

    F = (2 r z d/pi)(g(l/2 - y) - g(-l/2 - y)), g(t) = t/(2d^2(d^2+t^2)) + atan(t/d)/(2d^3), d^2 = x^2 + z^2.
    across_m, along_m : element from the middle of the tube, square to it and along it [m]
    gap_m : height z of the tube over the plane of the element [m]; length_m, radius_m : of the tube [m]
    Range: radius small against the distance; the ends of the tube do not radiate. Source: layout-derived.

    >>> float(element_to_tube(0.1, 0.0, 0.1, 0.4, 0.0125))
    0.05676743
    """
    x, y, z, length, radius = _floats(across_m, along_m, gap_m, length_m, radius_m)
    apart = np.hypot(x, z)
    even, _ = tube_integrals(-length / 2 - y, length / 2 - y, apart)
    return np.asarray(2.0 * radius * z * apart / np.pi * even)


# infinite forms: limits of the above


def element_to_long_tube(across_m: ArrayLike, gap_m: ArrayLike, radius_m: ArrayLike) -> FloatArray:
    """From a strip element to an infinite tube parallel to it, r L/(L^2 + x^2) [-]; exact. Source: layout-derived.

    >>> float(element_to_long_tube(0.05, 0.1, 0.0125))
    0.1
    """
    x, L, r = _floats(across_m, gap_m, radius_m)
    return np.asarray(r * L / (L**2 + x**2))


def long_tube_to_strip(x1: ArrayLike, x2: ArrayLike, gap_m: ArrayLike) -> FloatArray:
    """From an infinite tube to a strip x1..x2 in a plane at a distance, (atan(x2/L) - atan(x1/L))/(2 pi) [-].

    Source: howell-catalogue, C-63.

    >>> float(long_tube_to_strip(0.0, 0.25, 0.1))
    0.18944053
    """
    a, b, L = _floats(x1, x2, gap_m)
    return (np.arctan(b / L) - np.arctan(a / L)) / TWO_PI


def strip_to_long_tube(x1: ArrayLike, x2: ArrayLike, gap_m: ArrayLike, radius_m: ArrayLike) -> FloatArray:
    """From an infinite strip x1..x2 to an infinite tube [-], by reciprocity with ``long_tube_to_strip``.

    >>> float(strip_to_long_tube(-0.25, 0.25, 0.1, 0.0125))
    0.0595145
    """
    a, b, r = _floats(x1, x2, radius_m)
    return long_tube_to_strip(a, b, gap_m) * TWO_PI * r / (b - a)


def opposed_strips(width_m: ArrayLike, gap_m: ArrayLike) -> FloatArray:
    """Infinite strips of equal width facing each other, sqrt(1 + (h/w)^2) - h/w [-]. Source: howell-catalogue, C-1.

    >>> float(opposed_strips(2.0, 1.0))
    0.6180339887
    """
    w, h = _floats(width_m, gap_m)
    return np.asarray(np.hypot(1.0, h / w) - h / w)


def hinged_strips(angle_rad: ArrayLike) -> FloatArray:
    """Infinite strips of equal width with a common edge, 1 - sin(angle/2) [-]. Source: howell-catalogue, C-2.

    >>> float(hinged_strips(np.pi / 2))
    0.2928932188
    """
    return np.asarray(1.0 - np.sin(np.asarray(angle_rad, dtype=np.float64) / 2))


def plane_to_tube_row(pitch_over_diameter: ArrayLike) -> FloatArray:
    """From an infinite plane to one row of infinite tubes, 1 - sqrt(1 - r^2) + r atan(sqrt(1/r^2 - 1)), r = D/S [-].

    Source: tube-row.

    >>> float(plane_to_tube_row(2.0))
    0.65757337
    """
    r = 1.0 / np.asarray(pitch_over_diameter, dtype=np.float64)
    return np.asarray(1.0 - np.sqrt(1.0 - r**2) + r * np.arctan(np.sqrt(1.0 / r**2 - 1.0)))


def parallel_long_tubes(spacing_m: ArrayLike, diameter_m: ArrayLike) -> FloatArray:
    """Between two infinite tubes of equal diameter, (sqrt(X^2 - 1) + asin(1/X) - X)/pi, X = S/D [-].

    spacing_m : between the axes [m]. Source: howell-catalogue, C-68 (crossed strings).

    >>> float(parallel_long_tubes(2.0, 1.0))
    0.0813758
    """
    S, D = _floats(spacing_m, diameter_m)
    X = S / D
    return np.asarray((np.sqrt(X**2 - 1.0) + np.arcsin(1.0 / X) - X) / np.pi)


def opposed_discs(first_radius_m: ArrayLike, second_radius_m: ArrayLike, gap_m: ArrayLike) -> FloatArray:
    """From a disc to another on the same axis, (S - sqrt(S^2 - 4 (r2/r1)^2))/2, S = 1 + (1 + R2^2)/R1^2 [-].

    Source: howell-catalogue, C-41.

    >>> float(opposed_discs(1.0, 1.0, 1.0))
    0.381966
    """
    r1, r2, h = _floats(first_radius_m, second_radius_m, gap_m)
    S = 1.0 + (1.0 + (r2 / h) ** 2) / (r1 / h) ** 2
    return np.asarray(0.5 * (S - np.sqrt(S**2 - 4.0 * (r2 / r1) ** 2)))


def ripple(height_over_pitch: ArrayLike) -> FloatArray:
    """Largest over smallest flux under an infinite row of equal long radiators, coth^2(pi H/P) [-].

    The sum of L/(L^2 + (x - iP)^2) over all i, at a tube and halfway between two. Source: layout-derived.

    >>> float(ripple(0.5))
    1.18882
    """
    return np.asarray(np.tanh(np.pi * np.asarray(height_over_pitch, dtype=np.float64)) ** -2)
