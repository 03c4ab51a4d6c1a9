"""The box around a cooking surface as a small enclosure: shields that glow, floor, walls and lid that send back.

Two halves, below and above the surface, each a linear system per watt that a burner radiates or leaves in its hot
gas. Nothing has a temperature of its own here but a shield that is given one: everything is heat from the burners,
on top of what the surroundings exchange at one temperature.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray

from burnerlab.layout.cooking_surface import Cover, Layout, Room
from burnerlab.layout.plume import cover_of, covered_share
from burnerlab.layout.radiation import black_W_per_m2, irradiance
from burnerlab.layout.view_factors import Rectangle, element_to_parallel, parallel_rectangles

FloatArray = NDArray[np.float64]
Sides = tuple[float, float, float, float]
SHIELD_NODES = (12, 6)  # Gauss points along and across a shield
SPACING = 0.25  # of a coarse grid over the distance of the nearest glowing part
WORTH_A_SPLINE = 2000  # points below which every one is worked out
FEWEST = 12  # points each way of a coarse grid
LEVEL_NODES = (8, 8)  # on the cooking surface and the floor


@dataclass(frozen=True, slots=True, kw_only=True)
class EnclosureHalf:
    """What bounds one half: shields, walls, and the floor or lid at a level."""

    covers: tuple[Cover, ...]
    room: Room
    level_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Half:
    """Radiosities below or above the surface per watt: columns are burners, first radiated, then left in the gas."""

    space: EnclosureHalf
    tops: FloatArray  # [shields, 2 burners], the side that faces the surface [1/m2]
    emitted: FloatArray  # of one face of each shield, as if black [shields, 2 burners]
    opposite: FloatArray  # of floor or lid [2 burners]
    walls: FloatArray  # [2 burners]

    @property
    def covers(self) -> tuple[Cover, ...]:
        return self.space.covers


def nodes(
    middle: tuple[float, float], sides: tuple[float, float], counts: tuple[int, int], angle_rad: float = 0.0
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Gauss points x, y over a level rectangle of some length and width, and their weights, which add to 1."""
    (u, wu), (v, wv) = (gauss(n) for n in counts)
    along, across = np.repeat(u, v.size) * sides[0] / 2, np.tile(v, u.size) * sides[1] / 2
    c, s = np.cos(angle_rad), np.sin(angle_rad)
    x, y = middle[0] - s * along + c * across, middle[1] + c * along + s * across
    return x, y, np.outer(wu, wv).ravel() / 4


@cache
def gauss(count: int) -> tuple[FloatArray, FloatArray]:
    """Nodes and weights of Gauss and Legendre from -1 to 1."""
    at, weights = np.polynomial.legendre.leggauss(count)
    return np.asarray(at), np.asarray(weights)


def surroundings(layout: Layout) -> Room:
    """The box, or the open as one that sends nothing back."""
    s = layout.surface
    return layout.room or Room(x_m=s.x_m, y_m=s.y_m, width_m=s.width_m, depth_m=s.depth_m, loss=1.0)


def below(layout: Layout) -> Half:
    """The half below the surface."""
    covers = tuple(c for c in layout.covers if c.z_m < layout.surface.z_m)
    return _half(layout, EnclosureHalf(covers=covers, room=surroundings(layout), level_m=0.0))


def above(layout: Layout) -> Half | None:
    """The half above the surface, None under an open lid or where no burner heats it."""
    room = layout.room
    if room is None or room.lid_z_m is None or all(b.z_m < layout.surface.z_m for b in layout.burners):
        return None
    return _half(layout, EnclosureHalf(covers=(), room=room, level_m=room.lid_z_m))


def back_irradiance(half: Half, layout: Layout, x: FloatArray, y: FloatArray) -> FloatArray:
    """Irradiance of points of the surface from shields, floor or lid, and walls, per watt [2 burners, ...].

    A fine grid is filled in by a cubic spline over points a quarter of the nearest glowing part's distance apart; that
    keeps the field to 0.2 %.
    """
    nearest = min(abs(layout.surface.z_m - z) for z in (*(c.z_m for c in half.covers), half.space.level_m))
    coarse = _coarse_axes(x, y, nearest * SPACING)
    if coarse is None:
        return _back_irradiance(half, layout.surface.z_m, x, y)
    from scipy.interpolate import RectBivariateSpline

    at_y, at_x = coarse
    gx, gy = np.meshgrid(at_x, at_y)
    found = _back_irradiance(half, layout.surface.z_m, gx, gy)
    return np.stack([RectBivariateSpline(at_y, at_x, one)(y[:, 0], x[0]) for one in found])


def _coarse_axes(x: FloatArray, y: FloatArray, spacing_m: float) -> tuple[FloatArray, FloatArray] | None:
    """Axes of fewer points over a grid of rows and columns; None when the grid is no finer, or no such grid."""
    if (
        x.ndim != 2
        or x.size < WORTH_A_SPLINE
        or min(x.shape) < FEWEST
        or not (np.all(x == x[0]) and np.all(y == y[:, :1]))
    ):
        return None
    axes = []
    for line in (y[:, 0], x[0]):
        span = float(abs(line[-1] - line[0]))
        axes.append(np.linspace(line[0], line[-1], max(FEWEST, int(np.ceil(span / spacing_m)) + 1)))
    worth = axes[0].size * axes[1].size < x.size / 2
    return (axes[0], axes[1]) if worth else None


def _back_irradiance(half: Half, z: float, x: FloatArray, y: FloatArray) -> FloatArray:
    px, py = np.ravel(x), np.ravel(y)
    shields = _to_covers(px, py, z, half.covers)
    floor = _to_opposite(half.space, z, px, py)
    walls = np.clip(1.0 - floor - shields.sum(axis=0), 0.0, 1.0)
    found = np.outer(half.opposite, floor) + np.outer(half.walls, walls) + half.tops.T @ shields
    return np.asarray(found.reshape(-1, *np.shape(x)))


def _columns(covers: Sequence[Cover]) -> FloatArray:
    """x, y, z, length, width, angle of shields, [6, shields, 1]."""
    rows = [(c.x_m, c.y_m, c.z_m, c.length_m, c.width_m, c.angle_rad) for c in covers]
    return np.asarray(np.array(rows, dtype=np.float64).reshape(-1, 6).T[:, :, None])


def _to_covers(x: FloatArray, y: FloatArray, z: float, covers: Sequence[Cover]) -> FloatArray:
    """View factors from points of the surface to each shield [shields, points]."""
    cx, cy, cz, length, width, angle = _columns(covers)
    c, s, dx, dy = np.cos(angle), np.sin(angle), x - cx, y - cy
    u, v = c * dy - s * dx, c * dx + s * dy
    return element_to_parallel(-length / 2 - u, length / 2 - u, -width / 2 - v, width / 2 - v, np.abs(z - cz))


def _to_opposite(space: EnclosureHalf, z: float, x: FloatArray, y: FloatArray) -> FloatArray:
    """View factor from points of the surface to floor or lid past the shields."""
    x1, x2, y1, y2 = space.room.sides
    gap = abs(z - space.level_m)
    seen = element_to_parallel(x1 - x, x2 - x, y1 - y, y2 - y, gap)
    if not space.covers:
        return seen
    mx, my, mz, length, width, angle = _columns(space.covers)
    k = (z - space.level_m) / (z - mz)
    s, t = np.abs(np.sin(angle)), np.abs(np.cos(angle))
    hx = k * (s * length + t * width) / 2  # of a shield at an angle: the upright rectangle around it
    hy = k * (t * length + s * width) / 2
    cx, cy = x + (mx - x) * k, y + (my - y) * k
    a1, a2 = np.clip(cx - hx, x1, x2), np.clip(cx + hx, x1, x2)
    b1, b2 = np.clip(cy - hy, y1, y2), np.clip(cy + hy, y1, y2)
    filled = k**2 * length * width / (4 * hx * hy)
    hidden = filled * element_to_parallel(a1 - x, a2 - x, b1 - y, b2 - y, gap)
    return np.asarray(np.maximum(seen - hidden.sum(axis=0), 0.0))


# the linear system: shield bottoms, shield tops, floor or lid, walls, cooking surface


def _half(layout: Layout, space: EnclosureHalf) -> Half:
    """J = M (F J + landed) + own, solved for every column."""
    covers, n = space.covers, len(space.covers)
    F, area = _shares(layout, space)
    landed = _landed(layout, space, area)
    power, fixed = _shield_heat(layout, covers)
    e = np.array([c.emissivity for c in covers])
    size = np.array([[c.area_m2] for c in covers]).reshape(n, 1)
    free = np.array([c.temperature_K is None for c in covers], dtype=float).reshape(n, 1)
    warmed = power * free / (2 * e[:, None] * size)
    loss, absorbs = space.room.loss, layout.surface.absorptance
    M = np.diag(np.concatenate([1 - e, 1 - e, [1 - loss, 1 - loss, 1 - absorbs]]))
    # a free shield emits half of what both its faces take up, and of what the gas leaves in it
    half = np.diag(e * free[:, 0] / 2)
    M[:n, :n] += half
    M[:n, n : 2 * n] += half
    M[n : 2 * n, :n] += half
    M[n : 2 * n, n : 2 * n] += half
    own = np.zeros_like(landed)
    own[:n] = own[n : 2 * n] = e[:, None] * (warmed + fixed)
    J: FloatArray = np.asarray(np.linalg.solve(np.eye(M.shape[0]) - M @ F, M @ landed + own), dtype=float)
    H = F @ J + landed
    emitted = free * (H[:n] + H[n : 2 * n]) / 2 + warmed + fixed
    return Half(space=space, tops=J[n : 2 * n], emitted=emitted, opposite=J[2 * n], walls=J[2 * n + 1])


def _shield_heat(layout: Layout, covers: Sequence[Cover]) -> tuple[FloatArray, FloatArray]:
    """Heat the gas leaves in each shield per watt [-], and the black emission of shields given a temperature.

    The latter belongs to the burners below, spread over the heat in their gas at full rate.
    """
    count = len(layout.burners)
    power, fixed = np.zeros((len(covers), 2 * count)), np.zeros((len(covers), 2 * count))
    over = [cover_of(b, covers) if b.form == "line" else None for b in layout.burners]
    for b, (burner, cover) in enumerate(zip(layout.burners, over, strict=True)):
        if cover is None:
            continue
        i, column = covers.index(cover), count + b
        power[i, column] = layout.shape.shield_uptake * covered_share(burner, covers)
        if cover.temperature_K is not None:
            gas_W = max(burner.heat_input_W * (1 - burner.radiant), 1e-9)
            fixed[i, column] = float(black_W_per_m2(cover.temperature_K)) / gas_W / over.count(cover)
    return power, fixed


def _shares(layout: Layout, space: EnclosureHalf) -> tuple[FloatArray, FloatArray]:
    """View factors between the parts of a half, and their areas; what is missing in a row leaves it for good."""
    s, room, covers, n = layout.surface, space.room, space.covers, len(space.covers)
    gap, o, w, g = abs(s.z_m - space.level_m), 2 * n, 2 * n + 1, 2 * n + 2
    A = np.array([c.area_m2 for c in covers] * 2 + [room.width_m * room.depth_m, 0.0, s.area_m2])
    A[w] = 2 * (room.width_m + room.depth_m) * gap
    F = np.zeros((2 * n + 3, 2 * n + 3))
    past = np.zeros(n)  # from a shield's top past the cooking surface
    if n:
        x, y, z, weights = _sheets(covers)
        F[:n, o] = _to_sides(x, y, room.sides, z - space.level_m) @ weights
        F[n : 2 * n, g] = _to_sides(x, y, s.sides, s.z_m - z) @ weights
        whole = _to_sides(x, y, room.sides, s.z_m - z) @ weights
        past = np.maximum(whole - F[n : 2 * n, g], 0.0)
        F[:n, w], F[n : 2 * n, w] = 1 - F[:n, o], np.maximum(1 - whole, 0.0)
    F[o, :n], F[g, n : 2 * n] = F[:n, o] * A[:n] / A[o], F[n : 2 * n, g] * A[:n] / A[g]
    x, y, weights = nodes((s.x_m, s.y_m), (s.depth_m, s.width_m), LEVEL_NODES)
    F[g, o] = weights @ _to_opposite(space, s.z_m, x, y)
    F[o, g] = F[g, o] * A[g] / A[o]
    by_the_side = max(_facing(room.sides, room.sides, gap) - _facing(room.sides, s.sides, gap), 0.0)
    F[g, w] = max(1 - F[g].sum(), 0.0)
    F[o, w] = max(1 - F[o].sum() - by_the_side, 0.0)
    F[w, :] = F[:, w] * A / A[w]
    opening = max(A[o] - A[g], 0.0) - A[o] * by_the_side - float(A[:n] @ past)
    F[w, w] = np.clip(1 - F[w].sum() - max(opening, 0.0) / A[w], 0.0, 1.0)
    return F, A


@lru_cache(maxsize=256)
def _facing(first: Sides, second: Sides, gap: float) -> float:
    """View factor between level rectangles; a search asks for the same ones again and again."""
    a, b = (Rectangle(x1=s[0], x2=s[1], y1=s[2], y2=s[3]) for s in (first, second))
    return float(parallel_rectangles(a, b, gap))


def _to_sides(x: FloatArray, y: FloatArray, sides: Sides, gap: FloatArray) -> FloatArray:
    x1, x2, y1, y2 = sides
    return element_to_parallel(x1 - x, x2 - x, y1 - y, y2 - y, np.maximum(gap, 1e-6))


def _sheets(covers: Sequence[Cover]) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Points x, y, z [shields, points] over all shields, and the weights of one."""
    found = [nodes((c.x_m, c.y_m), (c.length_m, c.width_m), SHIELD_NODES, c.angle_rad) for c in covers]
    x, y = (np.stack([one[k] for one in found]) for k in (0, 1))
    return x, y, np.array([[c.z_m] for c in covers]), found[0][2]


def _landed(layout: Layout, space: EnclosureHalf, area: FloatArray) -> FloatArray:
    """Irradiance of every part straight from the burners per watt radiated; the walls take what nothing else does."""
    s, room, covers, n = layout.surface, space.room, space.covers, len(space.covers)
    landed = np.zeros((2 * n + 3, 2 * len(layout.burners)))
    down = space.level_m < s.z_m
    surface = nodes((s.x_m, s.y_m), (s.depth_m, s.width_m), LEVEL_NODES)
    whole = nodes((room.x_m, room.y_m), (room.depth_m, room.width_m), LEVEL_NODES)
    sheets = _sheets(covers) if covers else None
    for b, burner in enumerate(layout.burners):
        if (burner.z_m < s.z_m) != down:
            continue
        if sheets is not None:
            x, y, z, weights = sheets
            onto, rows = irradiance(burner, x, y, z) @ weights, np.arange(n)
            landed[np.where(z[:, 0] > burner.z_m, rows, n + rows), b] = onto
        if abs(burner.z_m - space.level_m) > 1e-6:
            landed[2 * n, b] = whole[2] @ irradiance(burner, whole[0], whole[1], space.level_m, covers)
        landed[2 * n + 2, b] = surface[2] @ irradiance(burner, surface[0], surface[1], s.z_m, covers)
        plane = landed[2 * n + 2, b]
        if layout.room is not None:
            plane = whole[2] @ irradiance(burner, whole[0], whole[1], s.z_m, covers)
        beside = max(float(plane * area[2 * n] - area[2 * n + 2] * landed[2 * n + 2, b]), 0.0)
        spent = float(area @ landed[:, b]) + beside
        landed[2 * n + 1, b] = max(1.0 - spent, 0.0) / area[2 * n + 1]
    return landed
