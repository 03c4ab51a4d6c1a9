"""The box around a cooking surface as an enclosure of patches: shields that glow, floor, walls and lid that send back.

Two halves, below and above the surface, each a linear system per watt that a burner radiates or leaves in its hot
gas. Floor or lid, each wall, the surface and the opening beside it are rectangles of patches, each with its own
radiosity; a shield has one on each face. View factors between rectangles are exact; what shields hide of them is their
shadow over both patches, and the enclosure is closed again by scaling symmetrically, so that nothing is lost and
reciprocity holds. Nothing has a temperature of its own here but a shield that is given one: everything is heat from
the burners, on top of what the surroundings exchange at one temperature.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.memory import Memory
from burnerlab.layout.cooking_surface import Cover, Emitter, Layout, Room, Surface
from burnerlab.layout.plume import covered_shares
from burnerlab.layout.radiation import black_W_per_m2, hidden_share, irradiance, wall_irradiance
from burnerlab.layout.view_factors import (
    Rectangle,
    element_to_parallel,
    element_to_standing,
    parallel_rectangles,
    standing_rectangles,
)

FloatArray = NDArray[np.float64]
Sides = tuple[float, float, float, float]
SHIELD_NODES = (12, 6)  # Gauss points along and across a shield
PATCHES, WALL_ROWS, SURFACE_PATCHES = (
    5,
    2,
    4,
)  # of floor and wall each way; of a wall in height; of the surface
PATCH_NODES = (3, 3)  # Gauss points on a patch
SPACING = 0.25  # of a coarse grid over the distance of the nearest glowing part
WORTH_A_SPLINE = 2000  # points below which every one is worked out
NEAREST = 1 / 12  # of the depth of the half: points nearer to a wall take what comes back so far from it
FEWEST = 14  # points each way of a coarse grid
CLOSURE_STEPS = 60
FLOOR, WALL, SURFACE, OPENING = range(4)  # what a patch belongs to


@dataclass(frozen=True, slots=True, kw_only=True)
class Patches:
    """Rectangles square to the axes: their corners, areas, and what each belongs to."""

    low: FloatArray  # x, y, z [patches, 3]
    high: FloatArray
    normal: NDArray[np.int64]  # axis 0, 1 or 2
    part: NDArray[np.int64]  # FLOOR, WALL, SURFACE or OPENING

    @property
    def area_m2(self) -> FloatArray:
        sides = np.maximum(self.high - self.low, 0.0)
        sides[np.arange(len(sides)), self.normal] = 1.0
        return np.asarray(sides.prod(axis=1))

    @property
    def middle(self) -> FloatArray:
        return (self.low + self.high) / 2

    def __len__(self) -> int:
        return len(self.part)


@dataclass(frozen=True, slots=True, kw_only=True)
class EnclosureHalf:
    """What bounds one half: shields, walls, and the floor or lid at a level."""

    covers: tuple[Cover, ...]
    room: Room | None  # None in the open: what misses surface and shields does not come back
    level_m: float
    patches: Patches


@dataclass(frozen=True, slots=True, kw_only=True)
class Half:
    """Radiosities below or above the surface per watt: columns are burners, first radiated, then left in the gas."""

    space: EnclosureHalf
    tops: FloatArray  # [shields, 2 burners], the side that faces the surface [1/m2]
    emitted: FloatArray  # of one face of each shield, as if black [shields, 2 burners]
    radiosity: FloatArray  # of the patches [patches, 2 burners]
    absorbed: FloatArray  # by the patches [patches, 2 burners], in all [-]
    warmed: FloatArray  # what the gas leaves in shields, per watt in it [burners]
    kept: FloatArray  # what shields of given temperature take up and do not send on [2 burners]

    @property
    def covers(self) -> tuple[Cover, ...]:
        return self.space.covers

    def share(self, part: int) -> FloatArray:
        """Absorbed by one part of the enclosure, per watt [2 burners]; what reaches the opening leaves."""
        return np.asarray(self.absorbed[self.space.patches.part == part].sum(axis=0))


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


def below(layout: Layout) -> Half:
    """The half below the surface."""
    covers = tuple(c for c in layout.covers if c.z_m < layout.surface.z_m)
    patches = _patches(_sides(layout.room), _within(layout), layout.surface.z_m, 0.0)
    return _half(layout, EnclosureHalf(covers=covers, room=layout.room, level_m=0.0, patches=patches))


def lid_acts(layout: Layout) -> bool:
    """Whether a closed lid sends heat to the surface: only where a burner stands above it."""
    closed = layout.room is not None and layout.room.lid_z_m is not None
    return closed and any(b.z_m >= layout.surface.z_m for b in layout.burners)


def above(layout: Layout) -> Half | None:
    """The half above the surface, None under an open lid or where no burner heats it."""
    room = layout.room
    if room is None or room.lid_z_m is None or not lid_acts(layout):
        return None
    patches = _patches(_sides(room), _within(layout), layout.surface.z_m, room.lid_z_m)
    return _half(layout, EnclosureHalf(covers=(), room=room, level_m=room.lid_z_m, patches=patches))


def _sides(room: Room | None) -> Sides | None:
    return None if room is None else room.sides


def _within(layout: Layout) -> Sides:
    """Sides of the surface as far as it lies in the box."""
    s = layout.surface.sides
    if layout.room is None:
        return s
    r = layout.room.sides
    return max(s[0], r[0]), min(s[1], r[1]), max(s[2], r[2]), min(s[3], r[3])


# the patches and their exact view factors, alike for every layout in one box


@lru_cache(maxsize=64)
def _patches(room: Sides | None, surface: Sides, z: float, level: float) -> Patches:
    """Floor or lid, four walls, the surface, and the opening beside it; of the surface alone in the open."""
    found = [_level(surface, z, SURFACE, counts=(SURFACE_PATCHES, SURFACE_PATCHES))]
    if room is not None:
        low, high = sorted((z, level))
        found = [_level(room, level, FLOOR, counts=(PATCHES, PATCHES))]
        edges = np.linspace(low, high, WALL_ROWS + 1)
        for axis in (0, 1):
            ends = np.linspace(room[2 - 2 * axis], room[3 - 2 * axis], PATCHES + 1)
            for at in room[2 * axis : 2 * axis + 2]:
                found.append(_wall(axis, at, ends, edges))
        found.append(_level(surface, z, SURFACE, counts=(SURFACE_PATCHES, SURFACE_PATCHES)))
        x1, x2, y1, y2 = surface
        for one in (
            (room[0], room[1], room[2], y1),
            (room[0], room[1], y2, room[3]),
            (room[0], x1, y1, y2),
            (x2, room[1], y1, y2),
        ):
            if one[1] - one[0] > 1e-9 and one[3] - one[2] > 1e-9:
                found.append(_level(one, z, OPENING, counts=(1, 1)))
    return Patches(
        low=np.concatenate([one.low for one in found]),
        high=np.concatenate([one.high for one in found]),
        normal=np.concatenate([one.normal for one in found]),
        part=np.concatenate([one.part for one in found]),
    )


def _level(sides: Sides, z: float, part: int, counts: tuple[int, int]) -> Patches:
    x, y = np.linspace(sides[0], sides[1], counts[0] + 1), np.linspace(sides[2], sides[3], counts[1] + 1)
    i, j = (one.ravel() for one in np.meshgrid(np.arange(counts[0]), np.arange(counts[1])))
    level, many = np.full(i.size, z), np.ones(i.size, dtype=np.int64)
    return Patches(
        low=np.stack([x[i], y[j], level], axis=-1), high=np.stack([x[i + 1], y[j + 1], level], axis=-1),
        normal=2 * many, part=part * many,
    )  # fmt: skip


def _wall(axis: int, at: float, ends: FloatArray, edges: FloatArray) -> Patches:
    i, j = (one.ravel() for one in np.meshgrid(np.arange(len(ends) - 1), np.arange(len(edges) - 1)))
    plane, many = np.full(i.size, at), np.ones(i.size, dtype=np.int64)

    def corner(by: int) -> FloatArray:
        columns = [ends[i + by], ends[i + by], edges[j + by]]
        columns[axis] = plane
        return np.stack(columns, axis=-1)

    return Patches(low=corner(0), high=corner(1), normal=axis * many, part=WALL * many)


@lru_cache(maxsize=64)
def _exchange_areas(room: Sides | None, surface: Sides, z: float, level: float) -> FloatArray:
    """A F between all patches, exact [patches, patches]."""
    p = _patches(room, surface, z, level)
    found = np.zeros((len(p), len(p)))
    for i, j in ((a, b) for a in range(3) for b in range(a, 3)):
        first, second = np.flatnonzero(p.normal == i), np.flatnonzero(p.normal == j)
        if first.size and second.size:
            block = _facing(p, first, second, i) if i == j else _square(p, first, second)
            found[np.ix_(first, second)] = block
            found[np.ix_(second, first)] = block.T
    return np.maximum(found, 0.0)


def _facing(p: Patches, first: NDArray[np.int64], second: NDArray[np.int64], axis: int) -> FloatArray:
    """A F between patches of parallel planes; none within one plane."""
    a, b = (k for k in range(3) if k != axis)
    gap = np.abs(p.low[first, axis][:, None] - p.low[second, axis][None, :])
    one = _rectangle(p, first, a, b, rows=True)
    other = _rectangle(p, second, a, b, rows=False)
    F = parallel_rectangles(one, other, np.maximum(gap, 1e-6))
    return np.where(gap > 1e-6, F * one.area_m2, 0.0)


def _rectangle(p: Patches, which: NDArray[np.int64], a: int, b: int, *, rows: bool) -> Rectangle:
    def side(values: FloatArray) -> FloatArray:
        return values[:, None] if rows else values[None, :]

    return Rectangle(
        x1=side(p.low[which, a]),
        x2=side(p.high[which, a]),
        y1=side(p.low[which, b]),
        y2=side(p.high[which, b]),
    )


def _square(p: Patches, first: NDArray[np.int64], second: NDArray[np.int64]) -> FloatArray:
    """A F between patches of planes that stand square: distances from the line where the planes meet."""
    i, j = int(p.normal[first[0]]), int(p.normal[second[0]])
    (along,) = (k for k in range(3) if k not in (i, j))

    def away(
        which: NDArray[np.int64], axis: int, plane: FloatArray, rows: bool
    ) -> tuple[FloatArray, FloatArray]:
        low, high = p.low[which, axis], p.high[which, axis]
        low, high = (low[:, None], high[:, None]) if rows else (low[None, :], high[None, :])
        ends = np.abs(low - plane), np.abs(high - plane)
        return np.minimum(*ends), np.maximum(*ends)

    base_x = away(first, j, p.low[second, j][None, :], rows=True)
    wall_x = away(second, i, p.low[first, i][:, None], rows=False)
    y1, y2 = p.low[first, along][:, None], p.high[first, along][:, None]
    base = Rectangle(x1=base_x[0], x2=base_x[1], y1=y1, y2=y2)
    wall = Rectangle(
        x1=wall_x[0], x2=wall_x[1], y1=p.low[second, along][None, :], y2=p.high[second, along][None, :]
    )
    return np.asarray(standing_rectangles(base, wall) * base.area_m2)


# what shields hide


def _columns(covers: Sequence[Cover]) -> FloatArray:
    """x, y, z, length, width, angle of shields, [6, shields, 1]."""
    rows = [(c.x_m, c.y_m, c.z_m, c.length_m, c.width_m, c.angle_rad) for c in covers]
    return np.asarray(np.array(rows, dtype=np.float64).reshape(-1, 6).T[:, :, None])


def _to_covers(x: FloatArray, y: FloatArray, z: FloatArray | float, covers: Sequence[Cover]) -> FloatArray:
    """View factors from level points to each shield [shields, points], as if nothing stood between."""
    cx, cy, cz, length, width, angle = _columns(covers)
    c, s, dx, dy = np.cos(angle), np.sin(angle), x - cx, y - cy
    u, v = c * dy - s * dx, c * dx + s * dy
    gap = np.maximum(np.abs(z - cz), 1e-6)
    return element_to_parallel(-length / 2 - u, length / 2 - u, -width / 2 - v, width / 2 - v, gap)


def _points_to_covers(x: FloatArray, y: FloatArray, z: float, covers: Sequence[Cover]) -> FloatArray:
    """View factors from points of the surface to each shield [shields, points] past the others."""
    found = _to_covers(x, y, z, covers)
    if len({cover.z_m for cover in covers}) < 2:
        return found
    start = np.stack([x, y, np.full_like(x, z)], axis=-1)
    for i, cover in enumerate(covers):
        others = [one for one in covers if one is not cover]
        end = np.array([cover.x_m, cover.y_m, cover.z_m])
        sizes = np.array([0.0, np.sqrt(cover.area_m2)])
        nearest = [
            np.clip(start[:, k] - end[k], -h, h) for k, h in ((0, cover.width_m / 2), (1, cover.length_m / 2))
        ]
        ends = end + np.stack([*nearest, np.zeros_like(x)], axis=-1) * 0.5
        found[i] = found[i] * (1 - hidden_share(start, ends, sizes, others))
    return found


# irradiance of points


def back_irradiance(half: Half, layout: Layout, x: FloatArray, y: FloatArray) -> FloatArray:
    """Irradiance of points of the surface from shields, floor or lid, and walls, per watt [2 burners, ...].

    A fine grid is filled in by a cubic spline over points a quarter of the nearest glowing part's distance apart,
    closer near the walls; that keeps the field to 0.2 %.
    """
    nearest = min(abs(layout.surface.z_m - z) for z in (*(c.z_m for c in half.covers), half.space.level_m))
    if layout.room is not None:  # patches next to a point would show their edges
        off = NEAREST * abs(layout.surface.z_m - half.space.level_m)
        x1, x2, y1, y2 = layout.room.sides
        x, y = np.clip(x, x1 + off, x2 - off), np.clip(y, y1 + off, y2 - off)
        nearest = min(nearest, off / SPACING)
    coarse = _coarse_axes(x, y, nearest * SPACING)
    if coarse is None:
        return _back_irradiance(half, layout.surface, x, y)
    from scipy.interpolate import RectBivariateSpline

    at_y, at_x = coarse
    gx, gy = np.meshgrid(at_x, at_y)
    found = _back_irradiance(half, layout.surface, gx, gy)
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
        count = max(FEWEST, int(np.ceil(1.3 * span / spacing_m)) + 1)
        turn = (1 - np.cos(np.pi * np.linspace(0, 1, count))) / 2
        axes.append(line[0] + (0.5 * turn + 0.5 * np.linspace(0, 1, count)) * (line[-1] - line[0]))
    worth = axes[0].size * axes[1].size < x.size / 2
    return (axes[0], axes[1]) if worth else None


def _back_irradiance(half: Half, surface: Surface, x: FloatArray, y: FloatArray) -> FloatArray:
    px, py = np.ravel(x), np.ravel(y)
    covers, space = half.covers, half.space
    found = np.zeros((half.tops.shape[1], px.size))
    seen = np.zeros(px.size)
    if covers:
        shields = _points_to_covers(px, py, surface.z_m, covers)
        shields = shields / np.maximum(shields.sum(axis=0), 1.0)
        found, seen = half.tops.T @ shields, shields.sum(axis=0)
    if space.room is not None:
        p = space.patches
        glowing = np.flatnonzero((p.part == FLOOR) | (p.part == WALL))
        key = (space.room.sides, _sides_of(p), surface.z_m, space.level_m)
        to = _points_to_patches(key, px.tobytes(), py.tobytes())
        if covers:
            start = np.stack([px, py, np.full_like(px, surface.z_m)], axis=-1)[:, None, :]
            sizes = np.stack([np.zeros(glowing.size), np.sqrt(p.area_m2[glowing])], axis=-1)
            to = to * (1 - hidden_share(start, p.middle[glowing][None], sizes[None], covers))
            to = to * (np.maximum(1 - seen, 0.0) / np.maximum(to.sum(axis=1), 1e-12))[:, None]
        found = found + half.radiosity[glowing].T @ to.T
    return np.asarray(found.reshape(-1, *np.shape(x)))


def _sides_of(p: Patches) -> Sides:
    """Sides of the surface's patches."""
    own = p.part == SURFACE
    low, high = p.low[own].min(axis=0), p.high[own].max(axis=0)
    return float(low[0]), float(high[0]), float(low[1]), float(high[1])


@lru_cache(maxsize=16)
def _points_to_patches(key: tuple[Sides, Sides, float, float], x: bytes, y: bytes) -> FloatArray:
    """View factors from points of the surface to floor or lid and walls [points, patches], as if without shields."""
    px, py = (np.frombuffer(one)[:, None] for one in (x, y))
    p = _patches(*key)
    z, found = key[2], []
    floor = p.part == FLOOR
    low, high = p.low[floor], p.high[floor]
    gap = abs(z - key[3])
    found.append(element_to_parallel(low[:, 0] - px, high[:, 0] - px, low[:, 1] - py, high[:, 1] - py, gap))
    for axis in (0, 1):
        for at in key[0][2 * axis : 2 * axis + 2]:
            own = (p.part == WALL) & (p.normal == axis) & (p.low[:, axis] == at)
            low, high, across = p.low[own], p.high[own], py if axis == 0 else px
            heights = np.sort(np.abs(np.stack([low[:, 2], high[:, 2]]) - z), axis=0)
            away = np.abs((px, py)[axis] - at)
            found.append(
                element_to_standing(
                    low[:, 1 - axis] - across, high[:, 1 - axis] - across, heights[0], heights[1],
                    np.maximum(away, 1e-9),
                )
            )  # fmt: skip
    return np.concatenate(found, axis=1)


# the linear system: shield bottoms, shield tops, patches


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
    M, takes = _sent_back(layout, space)
    own = np.zeros_like(landed)
    own[:n] = own[n : 2 * n] = e[:, None] * (warmed + fixed)
    J: FloatArray = np.asarray(np.linalg.solve(np.eye(M.shape[0]) - M @ F, M @ landed + own), dtype=float)
    H = F @ J + landed
    emitted = free * (H[:n] + H[n : 2 * n]) / 2 + warmed + fixed
    absorbed = (takes * area[2 * n :])[:, None] * H[2 * n :]
    into = e[:, None] * size * (H[:n] + H[n : 2 * n]) + power
    kept = (into - 2 * e[:, None] * size * emitted).sum(axis=0)
    return Half(
        space=space, tops=J[n : 2 * n], emitted=emitted, radiosity=J[2 * n :], absorbed=absorbed,
        warmed=power[:, len(layout.burners) :].sum(axis=0), kept=kept,
    )  # fmt: skip


def _sent_back(layout: Layout, space: EnclosureHalf) -> tuple[FloatArray, FloatArray]:
    """Share of its irradiation that every part sends back, shields by both faces, and what the patches take up."""
    covers, n = space.covers, len(space.covers)
    e = np.array([c.emissivity for c in covers])
    free = np.array([c.temperature_K is None for c in covers], dtype=float)
    loss = 1.0 if space.room is None else space.room.loss
    takes = np.array([loss, loss, layout.surface.absorptance, 1.0])[space.patches.part]
    M = np.diag(np.concatenate([1 - e, 1 - e, 1 - takes]))
    # a free shield emits half of what both its faces take up, and of what the gas leaves in it
    half = np.diag(e * free / 2)
    M[:n, :n] += half
    M[:n, n : 2 * n] += half
    M[n : 2 * n, :n] += half
    M[n : 2 * n, n : 2 * n] += half
    return M, takes


def own_loss(half: Half, layout: Layout) -> float:
    """Emissivity of the underside of the surface towards the surroundings: what it radiates and loses for good [-].

    Its own absorptance is its emissivity there; what walls and shields send back to it is not lost.
    """
    space, n = half.space, len(half.covers)
    F, area = _shares(layout, space)
    M, takes = _sent_back(layout, space)
    own = np.zeros(len(area))
    surface = 2 * n + np.flatnonzero(space.patches.part == SURFACE)
    own[surface] = layout.surface.absorptance
    J = np.linalg.solve(np.eye(len(area)) - M @ F, own)
    H = F @ J
    back = float((area * np.concatenate([np.zeros(2 * n), takes]) * H)[surface].sum())
    return layout.surface.absorptance - back / float(area[surface].sum())


def _shield_heat(layout: Layout, covers: Sequence[Cover]) -> tuple[FloatArray, FloatArray]:
    """Heat the gas leaves in each shield per watt [-], and the black emission of shields given a temperature.

    The latter belongs to the burners below by their gas that the shield lies over, spread over its heat at full rate.
    """
    count = len(layout.burners)
    power, fixed = np.zeros((len(covers), 2 * count)), np.zeros((len(covers), 2 * count))
    over = [covered_shares(burner, covers) for burner in layout.burners]
    for b, (burner, shares) in enumerate(zip(layout.burners, over, strict=True)):
        for i, share in shares.items():
            power[i, count + b] = layout.shape.shield_uptake * share
            given = covers[i].temperature_K
            if given is not None:
                gas_W = max(burner.heat_input_W * (1 - burner.radiant), 1e-9)
                part = share / sum(one.get(i, 0.0) for one in over)
                fixed[i, count + b] = float(black_W_per_m2(given)) / gas_W * part
    return power, fixed


def _shares(layout: Layout, space: EnclosureHalf) -> tuple[FloatArray, FloatArray]:
    """View factors between shield bottoms, tops and patches, and their areas; in the open rows fall short of 1."""
    covers, n, p = space.covers, len(space.covers), space.patches
    sizes = [c.area_m2 for c in covers]
    A = np.concatenate([sizes, sizes, p.area_m2])
    s = layout.surface
    exact = _exchange_areas(_sides(space.room), _within(layout), s.z_m, space.level_m)
    if not n:
        return exact / A[:, None], A
    G = np.zeros((len(A), len(A)))
    size = np.sqrt(p.area_m2)
    pair = np.stack(np.broadcast_arrays(size[:, None], size[None, :]), axis=-1)
    G[2 * n :, 2 * n :] = exact * (1 - hidden_share(p.middle[:, None, :], p.middle[None, :, :], pair, covers))
    for i, cover in enumerate(covers):
        rows = _from_shield(cover, covers, p)
        for face, row in enumerate(rows):
            G[face * n + i, 2 * n :] = row[n:] * cover.area_m2
        for k in range(n):  # the top of a lower shield sees the bottom of a higher one
            if covers[k].z_m > cover.z_m:
                G[n + i, k] = rows[1][k] * cover.area_m2
    G = np.maximum(G, G.T)
    if space.room is not None:
        G = _closed(G, A)
    F = G / A[:, None]
    return F / np.maximum(F.sum(axis=1, keepdims=True), 1.0), A


def _from_shield(cover: Cover, covers: Sequence[Cover], p: Patches) -> tuple[FloatArray, FloatArray]:
    """View factors of the bottom and the top of a shield to the others and to the patches [shields + patches]."""
    x, y, weights = nodes(
        (cover.x_m, cover.y_m), (cover.length_m, cover.width_m), SHIELD_NODES, cover.angle_rad
    )
    others = [one for one in covers if one is not cover]
    at = np.stack([x, y, np.full_like(x, cover.z_m)], axis=-1)
    to_covers = _to_covers(x, y, cover.z_m, covers) @ weights
    found = []
    for up in (False, True):
        row = np.zeros((x.size, len(p)))
        level = (p.normal == 2) & ((p.low[:, 2] > cover.z_m) == up)
        low, high, gap = p.low[level], p.high[level], np.abs(p.low[level, 2] - cover.z_m)
        row[:, level] = element_to_parallel(
            low[:, 0] - x[:, None],
            high[:, 0] - x[:, None],
            low[:, 1] - y[:, None],
            high[:, 1] - y[:, None],
            gap,
        )
        for axis in (0, 1):
            wall = p.normal == axis
            if not wall.any():
                continue
            low, high = p.low[wall], p.high[wall]
            across, away = (y if axis == 0 else x)[:, None], np.abs((x, y)[axis][:, None] - low[:, axis])
            ends = np.stack([low[:, 2], high[:, 2]]) - cover.z_m
            heights = np.sort(np.maximum(ends if up else -ends, 0.0), axis=0)
            row[:, wall] = element_to_standing(
                low[:, 1 - axis] - across,
                high[:, 1 - axis] - across,
                heights[0],
                heights[1],
                np.maximum(away, 1e-6),
            )
        if len({one.z_m for one in covers}) > 1:
            sizes = np.stack([np.zeros(len(p)), np.sqrt(p.area_m2)], axis=-1)
            row = row * (1 - hidden_share(at[:, None, :], p.middle[None], sizes[None], others))
        found.append(np.concatenate([to_covers, weights @ row]))
    return found[0], found[1]


def _over(cover: Cover) -> tuple[FloatArray, FloatArray, FloatArray]:
    return nodes((cover.x_m, cover.y_m), (cover.length_m, cover.width_m), SHIELD_NODES, cover.angle_rad)


def _closed(G: FloatArray, area: FloatArray) -> FloatArray:
    """Exchange areas scaled symmetrically until the row of every surface makes up its area: d_i G_ij d_j."""
    d = np.ones(len(area))
    for _ in range(CLOSURE_STEPS):
        d = np.sqrt(d * area / np.maximum(G @ d, 1e-300))
    return np.asarray(d[:, None] * G * d[None, :])


# straight from the burners


def _landed(layout: Layout, space: EnclosureHalf, area: FloatArray) -> FloatArray:
    """Irradiance of every part straight from the burners per watt radiated; in a box it makes up the watt."""
    s, covers, n, p = layout.surface, space.covers, len(space.covers), space.patches
    landed = np.zeros((2 * n + len(p), 2 * len(layout.burners)))
    down = space.level_m < s.z_m
    lit = [b for b, burner in enumerate(layout.burners) if (burner.z_m < s.z_m) == down]
    sheets, levels = [_over(cover) for cover in covers], sorted({cover.z_m for cover in covers})
    for b in lit:
        burner = layout.burners[b]
        for level in levels:
            here = [i for i in range(n) if covers[i].z_m == level]
            x, y = (np.stack([sheets[i][axis] for i in here]) for axis in (0, 1))
            others = [cover for cover in covers if cover.z_m != level]
            onto = irradiance(burner, x, y, level, others) @ sheets[here[0]][2]
            landed[np.array(here) + (0 if level > burner.z_m else n), b] = onto
        landed[2 * n :, b] = _remembered_on_patches(burner, p, covers)
        if space.room is not None:
            # what integration over patches leaves of the watt is spread over floor and walls
            back = 2 * n + np.flatnonzero((p.part == FLOOR) | (p.part == WALL))
            landed[back, b] += (1.0 - float(area @ landed[:, b])) / area[back].sum()
    return landed


_ON_PATCHES = Memory(256)  # of burners under their shields: other grids and edits of other burners leave them


def _remembered_on_patches(burner: Emitter, p: Patches, covers: tuple[Cover, ...]) -> FloatArray:
    """``_on_patches``, calculated once for a burner, its shields and its patches."""
    key = burner, covers, *(one.tobytes() for one in (p.low, p.high, p.normal))
    return _ON_PATCHES.recall(key, lambda: _on_patches(burner, p, covers))


def _on_patches(burner: Emitter, p: Patches, covers: Sequence[Cover]) -> FloatArray:
    """Irradiance of every patch per watt radiated [patches]."""
    found = np.zeros(len(p))
    (u, wu), (v, wv) = (gauss(count) for count in PATCH_NODES)
    weights = np.outer(wu, wv).ravel() / 4
    first, second = np.repeat(u, v.size), np.tile(v, u.size)
    half = (p.high - p.low) / 2
    for axis in range(3):
        own = p.normal == axis
        if not own.any():
            continue
        a, b = (k for k in range(3) if k != axis)
        at = np.repeat(p.middle[own][:, None, :], weights.size, axis=1)
        at[..., a] += first * half[own, a][:, None]
        at[..., b] += second * half[own, b][:, None]
        x, y, z = np.moveaxis(at, -1, 0)
        if axis < 2:
            middle = (p.low[p.normal == axis, axis].min() + p.low[p.normal == axis, axis].max()) / 2
            inward = np.where(p.low[own, axis] < middle, 1.0, -1.0)[:, None] * np.ones_like(x)
            found[own] = wall_irradiance(burner, axis, inward, (x, y, z), covers) @ weights
            continue
        for level in np.unique(p.low[own, 2]):
            if abs(burner.z_m - level) < 1e-6:
                continue
            here = z[:, 0] == level
            shown = irradiance(burner, x[here], y[here], level, covers) @ weights
            places = np.flatnonzero(own)[here]
            found[places] = shown
    return found
