"""Radiation of burners on level points, and the exchange between grey surfaces.

J = eps E + (1 - eps) F J; a re-radiating surface sends back what it receives, J = F J. The net flux is J - F J.

Exact for a thin tube and rectangles, a ring as short tubes. Shields at any angle hide their shadow: of a tube as wide
as the burner's flame the share of it behind the shield, of a panel its part behind the shield. What several shields
hide is hidden once. Nothing jumps when a shield is moved or turned a little.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.layout.cooking_surface import NORMALS, Cover, CoverFrame, Emitter, frame_of, turned
from burnerlab.layout.view_factors import element_to_parallel, element_to_standing
from burnerlab.tables.problem import Problem, UserError

# Exchange of radiation between grey surfaces: a small linear system, one or many at once.

FloatArray = NDArray[np.float64]

STEFAN_BOLTZMANN = 5.670374419e-8  # [W/(m2 K4)] SI 2019, from exact constants


@dataclass(frozen=True, slots=True, kw_only=True)
class RadiationExchange:
    """Radiosities and net fluxes of an enclosure; surfaces along the last axis."""

    radiosity_W_per_m2: FloatArray
    irradiation_W_per_m2: FloatArray

    @property
    def net_W_per_m2(self) -> FloatArray:
        """Flux that leaves each surface for good."""
        return np.asarray(self.radiosity_W_per_m2 - self.irradiation_W_per_m2)


def black_W_per_m2(temperature_K: ArrayLike) -> FloatArray:
    """Emissive power of a black surface, sigma T^4 [W/m2].

    >>> float(black_W_per_m2(1000.0))
    56703.7
    """
    return np.asarray(STEFAN_BOLTZMANN * np.asarray(temperature_K, dtype=np.float64) ** 4)


def exchange(
    view_factors: ArrayLike, emissivity: ArrayLike, temperature_K: ArrayLike, reradiating: ArrayLike = False
) -> RadiationExchange:
    """Radiosities of grey surfaces at given temperatures or re-radiating ones.

    view_factors : F [..., n, n], from the row's surface to the column's; rows that fall short of 1 see a cold outside
    emissivity : [..., n]; temperature_K : [..., n], not looked at where reradiating : [..., n]
    Raises UserError for view factors that cannot be.

    >>> found = exchange([[0, 1], [1, 0]], [0.8, 0.5], [1000.0, 500.0])
    >>> float(found.net_W_per_m2[0])
    23626.56
    """
    F = np.asarray(view_factors, dtype=np.float64)
    rows = F.sum(axis=-1)
    if not (np.all(F >= -1e-9) and np.all(rows <= 1.0 + 1e-6)):
        accepted = "0 to 1 each, at most 1 in a row"
        raise UserError(Problem("view factors that no enclosure has", f"{rows.max():g}", accepted=accepted))
    e, T = np.broadcast_arrays(
        np.asarray(emissivity, dtype=np.float64), np.asarray(temperature_K, dtype=np.float64)
    )
    e = np.where(np.asarray(reradiating, dtype=bool), 0.0, e)
    emission_W_per_m2 = np.where(e > 0, e * black_W_per_m2(T), 0.0)
    matrix = np.eye(F.shape[-1]) - (1.0 - e)[..., None] * F
    J: FloatArray = np.asarray(
        np.linalg.solve(matrix, emission_W_per_m2[..., None])[..., 0], dtype=np.float64
    )
    return RadiationExchange(radiosity_W_per_m2=J, irradiation_W_per_m2=np.einsum("...ij,...j->...i", F, J))


def between_plates_W_per_m2(
    hot_K: ArrayLike,
    cold_K: ArrayLike,
    hot_emissivity: ArrayLike,
    cold_emissivity: ArrayLike,
    shields: ArrayLike = (),
) -> FloatArray:
    """Flux between wide plates with thin shields in between, sigma (T1^4 - T2^4)/(1/e1 + 1/e2 - 1 + sum(2/es - 1)).

    shields : emissivity of each shield, alike on both faces. Source: layout-textbook.

    >>> float(between_plates_W_per_m2(1000.0, 500.0, 0.8, 0.5, [0.1]))
    2501.636
    """
    e1, e2 = np.asarray(hot_emissivity, dtype=np.float64), np.asarray(cold_emissivity, dtype=np.float64)
    between = (2.0 / np.asarray(shields, dtype=np.float64) - 1.0).sum() if np.size(shields) else 0.0
    return np.asarray((black_W_per_m2(hot_K) - black_W_per_m2(cold_K)) / (1 / e1 + 1 / e2 - 1 + between))


# Radiation of a burner on level points, per watt it radiates, with what shields hide.

RING_SEGMENTS = 24
PANEL_NODES = 6  # Gauss points over each stretch of a panel behind shields
WALL_NODES = 5  # Gauss points each way of a panel before a wall
INSIDE = 1e-9  # of a stretch: so far within its ends a section is taken


def irradiance(
    emitter: Emitter, x_m: ArrayLike, y_m: ArrayLike, z_m: ArrayLike, covers: Sequence[Cover] = ()
) -> FloatArray:
    """Radiation that lands on level points on the side that faces a burner, over the power it radiates [1/m2].

    x_m, y_m, z_m : points [m], arrays that broadcast; covers : shields; those not between hide nothing.

    >>> tube = Emitter(name="t", form="line", x_m=0, y_m=0, z_m=0, length_m=0.4, heat_input_W=1, radiant=1, capture=0)
    >>> float(irradiance(tube, 0.1, 0.0, 0.1))
    1.807
    """
    x, y, z = np.broadcast_arrays(*(np.asarray(one, dtype=np.float64) for one in (x_m, y_m, z_m)))
    if emitter.stands:
        return _upright(emitter, x, y, z)
    if emitter.form == "panel":
        before = z > emitter.z_m if emitter.facing == "up" else z < emitter.z_m
        if not np.all(before):
            z = np.where(before, z, emitter.z_m + 1.0)
            return np.where(before, _level_panel(emitter, x, y, z, ()), 0.0)
    hiding = [cover for cover in covers if _between(cover, emitter, z)]
    if emitter.form == "ring":
        return _ring(emitter, x, y, z, hiding)
    if emitter.form == "line":
        return _line(emitter, x, y, z, hiding)
    return _level_panel(emitter, x, y, z, hiding)


def _between(cover: Cover, emitter: Emitter, z: FloatArray) -> bool:
    low, high = sorted((emitter.z_m, float(z.flat[0])))
    return low < cover.z_m < high


def _tube_even(start: FloatArray, end: FloatArray, apart2: FloatArray) -> FloatArray:
    """The integral of dt/(d^2 + t^2)^2 with one arc tangent, d squared given [1/m3]."""
    apart = np.sqrt(apart2)
    turn = np.arctan2(apart * (end - start), apart2 + start * end) / apart
    return np.asarray((end / (apart2 + end**2) - start / (apart2 + start**2) + turn) / (2.0 * apart2))


def _line(e: Emitter, x: FloatArray, y: FloatArray, z: FloatArray, covers: Sequence[Cover]) -> FloatArray:
    u, v = turned(x - e.x_m, y - e.y_m, e.angle_rad)
    gap = np.abs(z - e.z_m)
    apart2, half = v**2 + gap**2, e.length_m / 2
    seen = _tube_even(-half - u, half - u, apart2)
    if covers:
        points = (np.ravel(u), np.ravel(v), np.ravel(apart2))
        hidden = _hidden_of_tube(e, covers, _scales(e, covers, float(z.flat[0])), points)
        seen = np.maximum(seen - hidden.reshape(x.shape), 0.0)
    return np.asarray(gap * np.sqrt(apart2) / (math.pi**2 * e.length_m) * seen)


def _scales(e: Emitter, covers: Sequence[Cover], z: float) -> FloatArray:
    """How much larger each shield seems in the plane of the burner, seen from a height."""
    return np.array([(z - e.z_m) / (z - c.z_m) for c in covers])


def _may_overlap(covers: Sequence[Cover]) -> bool:
    """Whether shadows of two shields can cover one another: at different heights, or one over the other."""
    if len({cover.z_m for cover in covers}) > 1:
        return True
    boxes = []
    for c in covers:
        s, t = abs(math.sin(c.angle_rad)), abs(math.cos(c.angle_rad))
        boxes.append(
            (c.x_m, c.y_m, (t * c.width_m + s * c.length_m) / 2, (s * c.width_m + t * c.length_m) / 2)
        )
    return any(
        abs(a[0] - b[0]) < a[2] + b[2] - 1e-9 and abs(a[1] - b[1]) < a[3] + b[3] - 1e-9
        for i, a in enumerate(boxes)
        for b in boxes[:i]
    )


def _hidden_of_tube(
    e: Emitter,
    covers: Sequence[Cover],
    k: FloatArray,
    points: tuple[FloatArray, FloatArray, FloatArray],
    kernel: tuple[FloatArray | float, FloatArray | float] = (1.0, 0.0),
) -> FloatArray:
    """What shields hide of a tube from points, nothing twice: (a + b t) dt/(d^2 + t^2)^2 behind them.

    k : scales of the shields, for all points or each [points, shields]; kernel : a and b, for all points or each
    Boxes where shields lie square and their shadows apart; sections where not.
    """
    frames = [frame_of(cover, e) for cover in covers]
    if not all(frame.is_square for frame in frames):
        return _hidden_by_sections(e, frames, k, points, kernel)
    hidden, hits = _hidden_by_boxes(e, frames, k, points, kernel)
    rows = np.flatnonzero(hits > 1) if _may_overlap(covers) else np.empty(0, dtype=np.int64)
    if rows.size:
        some = tuple(np.broadcast_to(one, points[0].shape)[rows] for one in kernel)
        at = (points[0][rows], points[1][rows], points[2][rows])
        hidden[rows] = _hidden_by_stacked_boxes(
            e, frames, k if k.ndim == 1 else k[rows], at, (some[0], some[1])
        )
    return hidden


MOST_PARTS = 2_000_000  # points times stretches times shields in one array


def _hidden_by_stacked_boxes(
    e: Emitter,
    frames: Sequence[CoverFrame],
    k: FloatArray,
    points: tuple[FloatArray, FloatArray, FloatArray],
    kernel: tuple[FloatArray, FloatArray],
) -> FloatArray:
    """What level shields square to a tube hide of it where their shadows may lie over one another, nothing twice.

    Between the ends of the shadows along the tube the share of its width behind them is constant.
    """
    count = len(points[0])
    together = max(1, MOST_PARTS // (len(frames) * (2 * len(frames) + 1)))
    hidden = np.empty(count)
    for first in range(0, count, together):
        part = slice(first, first + together)
        scales = k if k.ndim == 1 else k[part]
        boxes = _boxes(frames, scales, points[0][part], points[1][part])
        (u, _, apart2), (a, b) = (tuple(one[part] for one in each) for each in (points, kernel))
        hidden[part] = _behind_boxes(e, boxes, (u, apart2), (a, b))
    return hidden


def _boxes(
    frames: Sequence[CoverFrame], k: FloatArray, u: FloatArray, v: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Ends along and across a tube of the shadows of square shields [points, shields]."""
    us, vs = np.array([(f.along_m, f.across_m) for f in frames]).T
    crossed = np.array([f.cos == 0 for f in frames])
    hl, hw = np.array([(f.half_length_m, f.half_width_m) for f in frames]).T
    hu, hv = k * np.where(crossed, hw, hl), k * np.where(crossed, hl, hw)
    pu, pv = u[:, None], v[:, None]
    middle_u, middle_v = pu + (us - pu) * k, pv + (vs - pv) * k
    return middle_u - hu, middle_u + hu, middle_v - hv, middle_v + hv


def _behind_boxes(
    e: Emitter,
    boxes: tuple[FloatArray, FloatArray, FloatArray, FloatArray],
    points: tuple[FloatArray, FloatArray],
    kernel: tuple[FloatArray, FloatArray],
) -> FloatArray:
    half, half_wide = e.length_m / 2, max(e.width_m, 1e-6) / 2
    u1, u2 = (np.clip(one, -half, half) for one in boxes[:2])
    v1, v2 = (np.clip(one, -half_wide, half_wide) for one in boxes[2:])
    (u, apart2), (a, b) = ((one[:, None] for one in each) for each in (points, kernel))
    ends = np.sort(np.concatenate([u1, u2], axis=-1), axis=-1)
    start, end = ends[:, :-1], ends[:, 1:]
    middle = ((start + end) / 2)[..., None]
    is_behind = (u1[:, None] < middle) & (middle < u2[:, None])
    low = np.where(is_behind, v1[:, None], half_wide)
    high = np.where(is_behind, v2[:, None], half_wide)
    order = np.argsort(low, axis=-1)
    low, high = np.take_along_axis(low, order, -1), np.take_along_axis(high, order, -1)
    low[..., 1:] = np.maximum(low[..., 1:], np.maximum.accumulate(high, axis=-1)[..., :-1])
    share = np.maximum(high - low, 0.0).sum(axis=-1) / (2 * half_wide)
    t1, t2 = start - u, end - u
    even = _tube_even(t1, t2, apart2)
    odd = 0.5 * (1 / (apart2 + t1**2) - 1 / (apart2 + t2**2))
    return np.asarray((share * (a * even + b * odd)).sum(axis=-1))


def _hidden_by_boxes(
    e: Emitter,
    frames: Sequence[CoverFrame],
    k: FloatArray,
    points: tuple[FloatArray, FloatArray, FloatArray],
    kernel: tuple[FloatArray | float, FloatArray | float],
) -> tuple[FloatArray, NDArray[np.int64]]:
    """What level shields square to a tube hide of it, each alone, and how many throw a shadow on each point.

    Only pairs of a point and a shield that can throw its shadow there are looked at.
    """
    u, v, apart2 = points
    us, vs = np.array([(f.along_m, f.across_m) for f in frames]).T
    crossed = np.array([f.cos == 0 for f in frames])
    hu, hv = np.array([(f.half_length_m, f.half_width_m) for f in frames]).T
    hu, hv = np.where(crossed, hv, hu), np.where(crossed, hu, hv)
    w, half = max(e.width_m, 1e-6), e.length_m / 2
    by_shield = k[:, None] if k.ndim == 1 else k.T
    off = (vs[:, None] - v) * by_shield + v
    pairs = np.flatnonzero(np.abs(off) < by_shield * hv[:, None] + w / 2)
    shield, point = np.divmod(pairs, v.size)
    pu, pk = u[point], k[shield] if k.ndim == 1 else k[point, shield]
    centre_v, half_v = off.ravel()[pairs], pk * hv[shield]
    share = np.minimum(centre_v + half_v, w / 2) - np.maximum(centre_v - half_v, -w / 2)
    centre_u, half_u = pu + (us[shield] - pu) * pk, pk * hu[shield]
    low, high = np.maximum(centre_u - half_u, -half), np.minimum(centre_u + half_u, half)
    t1, t2, d2 = low - pu, np.maximum(high, low) - pu, apart2[point]
    a, b = (np.broadcast_to(one, u.shape)[point] for one in kernel)
    covered = a * _tube_even(t1, t2, d2)
    if np.any(b):
        covered = covered + b * 0.5 * (1 / (d2 + t1**2) - 1 / (d2 + t2**2))
    share = np.maximum(share, 0.0) / w
    hidden = np.bincount(point, share * covered, minlength=v.size)
    hits = np.bincount(point[(share > 0) & (high > low)], minlength=v.size)
    return np.asarray(hidden, dtype=np.float64), np.asarray(hits)


def _projected(frames: Sequence[CoverFrame], k: FloatArray, u: FloatArray, v: FloatArray) -> CoverFrame:
    """Shields as points see them in the plane of a burner [points, shields]."""
    us, vs, hl, hw, c, s = np.array(
        [(f.along_m, f.across_m, f.half_length_m, f.half_width_m, f.cos, f.sin) for f in frames],
        dtype=np.float64,
    ).T
    pu, pv = u[:, None], v[:, None]
    one = np.ones_like(pu)
    return CoverFrame(
        along_m=pu + (us - pu) * k, across_m=pv + (vs - pv) * k, half_length_m=one * k * hl,
        half_width_m=one * k * hw, cos=one * c, sin=one * s,
    )  # fmt: skip


def _stretches(seen: CoverFrame, half: float, half_wide: float, more: FloatArray | None = None) -> FloatArray:
    """Ends of the stretches of a burner in which nothing bends, for each point."""
    breaks = seen.breaks(half_wide)
    found = [
        breaks.reshape(len(breaks), -1),
        np.full((len(breaks), 1), -half),
        np.full((len(breaks), 1), half),
    ]
    if more is not None:
        found.append(more)
    return np.sort(np.clip(np.concatenate(found, axis=-1), -half, half), axis=-1)


def _sections(seen: CoverFrame, at: FloatArray, half_wide: float) -> tuple[FloatArray, FloatArray]:
    """Low and high ends of each shield across a burner at places [points, places], within its width."""
    lifted = CoverFrame(
        **{name: np.asarray(getattr(seen, name))[:, None, :] for name in CoverFrame.__dataclass_fields__}
    )
    low, high = lifted.section(at[..., None])
    low, high = np.clip(low, -half_wide, half_wide), np.clip(high, -half_wide, half_wide)
    return low, np.maximum(high, low)


def _intervals(seen: CoverFrame, at: FloatArray, half_wide: float) -> tuple[FloatArray, FloatArray]:
    """Parts of a burner's width behind shields at places [points, places], none twice [points, places, shields]."""
    low, high = _sections(seen, at, half_wide)
    order = np.argsort(low, axis=-1)
    low, high = np.take_along_axis(low, order, -1), np.take_along_axis(high, order, -1)
    reached = np.maximum.accumulate(high, axis=-1)[..., :-1]
    low[..., 1:] = np.maximum(low[..., 1:], reached)
    return low, np.maximum(high, low)


def _covered(seen: CoverFrame, at: FloatArray, half_wide: float) -> FloatArray:
    """Width of a burner behind shields at places [points, places], none twice.

    From the first low end to the last high one, less the gaps: behind the i-th high end and before the next low one,
    each sorted by itself, no shield is open.
    """
    low, high = _sections(seen, at, half_wide)
    if low.shape[-1] == 1:
        return np.asarray((high - low)[..., 0])
    low.sort(axis=-1)
    high.sort(axis=-1)
    gaps = np.maximum(low[..., 1:] - high[..., :-1], 0.0).sum(axis=-1)
    return np.asarray(high[..., -1] - low[..., 0] - gaps)


def _near(seen: CoverFrame, half: float, half_wide: float) -> NDArray[np.bool_]:
    """Shields that may hide something from a point [points, shields]: those whose upright box meets the burner's."""
    hl, hw, c, s = seen.half_length_m, seen.half_width_m, np.abs(seen.cos), np.abs(seen.sin)
    along, across = np.abs(seen.along_m), np.abs(seen.across_m)
    return np.asarray((along < half + hl * c + hw * s) & (across < half_wide + hl * s + hw * c))


def _by_count(
    seen: CoverFrame, half: float, half_wide: float
) -> Iterator[tuple[NDArray[np.int64], CoverFrame]]:
    """Points from which one shield may hide something, two, and so on, each with those alone."""
    near = _near(seen, half, half_wide)
    counts, first = near.sum(axis=-1), np.argsort(~near, axis=-1, kind="stable")
    for count in np.unique(counts[counts > 0]).tolist():
        rows = np.flatnonzero(counts == count)
        some = rows[:, None], first[rows, :count]
        parts = {name: np.asarray(getattr(seen, name))[some] for name in CoverFrame.__dataclass_fields__}
        yield rows, CoverFrame(**parts)


def _hidden_by_sections(
    e: Emitter,
    frames: Sequence[CoverFrame],
    k: FloatArray,
    points: tuple[FloatArray, FloatArray, FloatArray],
    kernel: tuple[FloatArray | float, FloatArray | float],
) -> FloatArray:
    """What shields at any angle and height hide of a tube, nothing twice.

    The share of the width behind shields is linear along each stretch; its integral with the kernel is closed.
    """
    u, v, apart2 = points
    half, half_wide = e.length_m / 2, max(e.width_m, 1e-6) / 2
    hidden = np.zeros_like(u)
    a, b = (np.broadcast_to(one, u.shape) for one in kernel)
    for rows, seen in _by_count(_projected(frames, k, u, v), half, half_wide):
        part = (one[rows][:, None] for one in (u, apart2, a, b))
        hidden[rows] = _behind_sections(seen, (half, half_wide), *part)
    return hidden


def _behind_sections(
    seen: CoverFrame,
    halves: tuple[float, float],
    pu: FloatArray,
    d2: FloatArray,
    a: FloatArray,
    b: FloatArray,
) -> FloatArray:
    """The integral of (a + b t) dt/(d^2 + t^2)^2 over what shields hide of a tube from points.

    halves : half length and half width of the tube; pu : foot of each point along it; d2 : its distance squared
    """
    half, half_wide = halves
    ends = _stretches(seen, half, half_wide)
    if np.shape(seen.along_m)[-1] > 1:  # sides of two shields may cross in between
        ends = np.sort(np.concatenate([ends, (ends[:, 1:] + ends[:, :-1]) / 2], axis=-1), axis=-1)
    start, end = ends[:, :-1], ends[:, 1:]
    long = end - start
    inner = start + INSIDE * long, end - INSIDE * long
    shares = [_covered(seen, at, half_wide) / (2 * half_wide) for at in inner]
    slope = np.where(long > 1e-12, (shares[1] - shares[0]) / np.maximum(long, 1e-12), 0.0)
    level = shares[0] + slope * (pu - start)  # of the share, at the foot of the point
    t1, t2 = start - pu, end - pu
    even = _tube_even(t1, t2, d2)
    odd = 0.5 * (1 / (d2 + t1**2) - 1 / (d2 + t2**2))
    total = level * a * even + (level * b + slope * a) * odd
    if np.any(b):
        d = np.sqrt(d2)
        turn = np.arctan2(d * (t2 - t1), d2 + t1 * t2) / d
        total = total + slope * b * 0.5 * (turn - t2 / (d2 + t2**2) + t1 / (d2 + t1**2))
    return np.asarray(total.sum(axis=-1))


def _level_panel(
    e: Emitter, x: FloatArray, y: FloatArray, z: FloatArray, covers: Sequence[Cover]
) -> FloatArray:
    u, v = turned(x - e.x_m, y - e.y_m, e.angle_rad)
    gap, half_u, half_v = np.abs(z - e.z_m), e.length_m / 2, e.width_m / 2
    seen = element_to_parallel(-half_u - u, half_u - u, -half_v - v, half_v - v, gap)
    if covers:
        points, frames = (np.ravel(u), np.ravel(v)), [frame_of(cover, e) for cover in covers]
        scales = _scales(e, covers, float(z.flat[0]))
        simple = all(frame.is_square for frame in frames) and not _may_overlap(covers)
        hidden = (_boxes_before_panel if simple else _sections_before_panel)(
            e, frames, scales, points, float(gap.flat[0])
        )
        seen = np.maximum(seen - hidden.reshape(x.shape), 0.0)
    return np.asarray(seen / (e.length_m * e.width_m))


def _boxes_before_panel(
    e: Emitter, frames: Sequence[CoverFrame], k: FloatArray, points: tuple[FloatArray, FloatArray], gap: float
) -> FloatArray:
    """What shields square to a level panel hide of it, none over another."""
    u, v = points
    half_u, half_v, hidden = e.length_m / 2, e.width_m / 2, np.zeros_like(u)
    for frame, scale in zip(frames, k, strict=True):
        hu, hv = frame.half_length_m, frame.half_width_m
        hu, hv = (hv, hu) if frame.cos == 0 else (hu, hv)
        cu, cv = u + (frame.along_m - u) * scale, v + (frame.across_m - v) * scale
        u1, u2 = (np.clip(cu + one * scale * hu, -half_u, half_u) for one in (-1, 1))
        v1, v2 = (np.clip(cv + one * scale * hv, -half_v, half_v) for one in (-1, 1))
        hidden = hidden + element_to_parallel(u1 - u, u2 - u, v1 - v, v2 - v, gap)
    return hidden


def _sections_before_panel(
    e: Emitter, frames: Sequence[CoverFrame], k: FloatArray, points: tuple[FloatArray, FloatArray], gap: float
) -> FloatArray:
    """What shields hide of a level panel: strips across it in closed form, Gauss along each stretch."""
    u, v = points
    half, half_wide = e.length_m / 2, e.width_m / 2
    hidden = np.zeros_like(u)
    for rows, seen in _by_count(_projected(frames, k, u, v), half, half_wide):
        pu, pv = u[rows], v[rows]
        near = pu[:, None] + gap * np.array([-3.0, -1.0, 0.0, 1.0, 3.0])
        ends = _stretches(seen, half, half_wide, near)
        start, long = ends[:, :-1], np.diff(ends, axis=-1)
        for node, weight in zip(*np.polynomial.legendre.leggauss(PANEL_NODES), strict=True):
            at = start + long * (node + 1) / 2
            low, high = _intervals(seen, at, half_wide)
            d2 = ((at - pu[:, None]) ** 2 + gap**2)[..., None]
            strip = _tube_even(low - pv[:, None, None], high - pv[:, None, None], d2).sum(axis=-1)
            hidden[rows] += (weight / 2 * long * gap**2 / math.pi * strip).sum(axis=-1)
    return hidden


def _upright(e: Emitter, x: FloatArray, y: FloatArray, z: FloatArray) -> FloatArray:
    """An upright panel seen from level points before it, on both their sides."""
    nx, ny = NORMALS[e.facing]
    away = nx * (x - e.x_m) + ny * (y - e.y_m)
    aside = np.abs(ny) * (x - e.x_m) + np.abs(nx) * (y - e.y_m)
    low, high, half = e.z_m - e.width_m / 2 - z, e.z_m + e.width_m / 2 - z, e.length_m / 2
    front = away > 0
    s = np.where(front, away, 1.0)
    seen = element_to_standing(-half - aside, half - aside, low, high, s)
    seen = seen + element_to_standing(-half - aside, half - aside, -high, -low, s)
    return np.where(front, seen, 0.0) / (e.length_m * e.width_m)


def _ring(e: Emitter, x: FloatArray, y: FloatArray, z: FloatArray, covers: Sequence[Cover]) -> FloatArray:
    """A ring as short straight tubes; without shields as the middles of them."""
    nearest = max(float(np.abs(z - e.z_m).min()), 1e-3)
    count = max(RING_SEGMENTS, math.ceil(4 * math.pi * e.radius_m / nearest))
    if covers:
        return np.asarray(sum(_line(part, x, y, z, covers) for part in _ring_parts(e, count)) / count)
    turn = 2 * math.pi * (np.arange(count) + 0.5) / count
    gap2, total = (z - e.z_m) ** 2, np.zeros(x.shape)
    for c, s in zip(np.cos(turn), np.sin(turn), strict=True):
        dx, dy = e.x_m + e.radius_m * c - x, e.y_m + e.radius_m * s - y
        far2 = dx**2 + dy**2 + gap2
        # a thin tube gives E 2r dl sin(psi)/pi to the side
        aside = np.sqrt(np.maximum(1.0 - (dy * c - dx * s) ** 2 / far2, 0.0))
        total += np.sqrt(gap2 / far2) * aside / (math.pi**2 * far2)
    return np.asarray(total / count)


def _ring_parts(e: Emitter, count: int) -> list[Emitter]:
    """A ring as short straight tubes."""
    length = 2 * math.pi * e.radius_m / count
    return [
        replace(
            e, form="line", x_m=e.x_m + e.radius_m * math.cos(t), y_m=e.y_m + e.radius_m * math.sin(t),
            length_m=length, angle_rad=t,
        )
        for t in (2 * math.pi * (np.arange(count) + 0.5) / count).tolist()
    ]  # fmt: skip


# on upright walls, and between patches


def hidden_share(
    start: FloatArray, end: FloatArray, sizes: FloatArray, covers: Sequence[Cover]
) -> FloatArray:
    """Share of bundles of rays between places that shields hide [...]; nothing jumps.

    start, end : middles of patches, or points [..., 3]; sizes : of each bundle at both its ends [..., 2]
    The bundle has a square section at the height of a shield, which covers a share of it.
    """
    clear = np.ones(np.broadcast_shapes(start.shape, end.shape)[:-1])
    for z in sorted({cover.z_m for cover in covers}):
        rise = end[..., 2] - start[..., 2]
        part = np.where(np.abs(rise) > 1e-9, (z - start[..., 2]) / np.where(rise == 0, 1.0, rise), -1.0)
        between = (part > 0) & (part < 1)
        size = np.maximum((1 - part) * sizes[..., 0] + part * sizes[..., 1], 1e-4)
        x, y = (
            (start[..., i] + part * (end[..., i] - start[..., i]))[between] for i in (0, 1)
        )  # where the bundles pass that height
        hidden = _covered_share(
            x, y, np.broadcast_to(size, clear.shape)[between], [c for c in covers if c.z_m == z]
        )
        clear[between] *= 1 - np.minimum(hidden, 1.0)
    return np.asarray(1 - clear)


def _covered_share(x: FloatArray, y: FloatArray, size: FloatArray, covers: Sequence[Cover]) -> FloatArray:
    """Sum of the shares of bundles of rays that shields of one height cover [bundles]."""
    hidden, reach = np.zeros(x.shape), size / math.sqrt(2.0)
    most, frames = float(reach.max(initial=0.0)), {}
    for cover in covers:
        angle = cover.angle_rad
        if angle not in frames:
            along, across = turned(x, y, angle)
            order = np.argsort(across)
            frames[angle] = along, across, order, across[order]
        along, across, order, rising = frames[angle]
        middle_u, middle_v = (float(one) for one in turned(cover.x_m, cover.y_m, angle))
        wide = cover.width_m / 2 + most
        first, last = np.searchsorted(rising, (middle_v - wide, middle_v + wide))
        some = order[first:last]
        off_u, off_v, far = along[some] - middle_u, across[some] - middle_v, reach[some]
        near = (np.abs(off_u) < cover.length_m / 2 + far) & (np.abs(off_v) < cover.width_m / 2 + far)
        some, off_u, off_v, own = some[near], off_u[near], off_v[near], size[some[near]]
        hidden[some] += _overlap(off_u, own, cover.length_m) * _overlap(off_v, own, cover.width_m)
    return hidden


def _overlap(off: FloatArray, size: FloatArray, side: float) -> FloatArray:
    """Share of a bundle of rays of some size, its middle off that of a side, that lies on it.

    The bundle is dense in its middle and thin at its ends, with the spread of a uniform one of that size.
    """
    reach = size / np.sqrt(2.0)
    ends = (np.clip((one - off) / reach, -1.0, 1.0) for one in (side / 2, -side / 2))
    high, low = (t - 0.5 * t * np.abs(t) for t in ends)
    return np.asarray(high - low)


def wall_irradiance(
    emitter: Emitter,
    axis: int,
    inward: FloatArray,
    points: tuple[FloatArray, FloatArray, FloatArray],
    covers: Sequence[Cover] = (),
) -> FloatArray:
    """Radiation that lands on points of walls square to an axis, over the power it radiates [1/m2].

    axis : 0 or 1, of the walls' normals; inward : +1 or -1, their sign [...]; points : x, y, z [m]
    Exact for a tube with its shadows; a ring by short tubes, panels by Gauss points.
    """
    x, y, z = points
    if emitter.form == "line":
        return _tube_on_wall(emitter, axis, inward, points, covers)
    if emitter.form == "ring":
        parts = _ring_parts(emitter, RING_SEGMENTS)
        return np.asarray(sum(_tube_on_wall(one, axis, inward, points, covers) for one in parts) / len(parts))
    nodes, weights = np.polynomial.legendre.leggauss(WALL_NODES)
    along, across = np.repeat(nodes, nodes.size) / 2, np.tile(nodes, nodes.size) / 2
    ends = _panel_points(emitter, along * emitter.length_m, across * emitter.width_m)
    normal = np.array([*NORMALS.get(emitter.facing, (0.0, 0.0)), 0.0])
    if not emitter.stands:
        normal[2] = 1.0 if emitter.facing == "up" else -1.0
    ways = np.stack([np.ravel(one) for one in (x, y, z)], axis=-1)[None] - ends[:, None]  # [nodes, points, 3]
    far2 = np.maximum((ways**2).sum(axis=-1), 1e-8)
    leaving = np.maximum(ways @ normal, 0.0)
    landing = np.maximum(-np.ravel(inward) * ways[..., axis], 0.0)
    part = np.outer(weights, weights).ravel()[:, None] / 4 * leaving * landing / (math.pi * far2**2)
    if covers:
        size = np.array([math.sqrt(emitter.length_m * emitter.width_m) / WALL_NODES, 0.0])
        part = part * (1 - hidden_share(ends[:, None], ends[:, None] + ways, size, covers))
    return np.asarray(part.sum(axis=0).reshape(x.shape))


def _panel_points(e: Emitter, along: FloatArray, across: FloatArray) -> FloatArray:
    """Points of a panel [n, 3]; the width of an upright one is its height."""
    u = np.array(e.along)
    v = np.array([math.cos(e.angle_rad), math.sin(e.angle_rad)])
    if e.stands:
        nx, ny = NORMALS[e.facing]
        plan = np.array([e.x_m, e.y_m]) + along[:, None] * np.array([abs(ny), abs(nx)])
        return np.column_stack([plan, e.z_m + across])
    plan = np.array([e.x_m, e.y_m]) + along[:, None] * u + across[:, None] * v
    return np.column_stack([plan, np.full(len(along), e.z_m)])


def _tube_on_wall(
    e: Emitter,
    axis: int,
    inward: FloatArray,
    points: tuple[FloatArray, FloatArray, FloatArray],
    covers: Sequence[Cover],
) -> FloatArray:
    """A thin tube: d/(pi^2 l) times the integral of n r dt/(d^2 + t^2)^2, its part before the wall's plane."""
    x, y, z = points
    ex, ey = e.along
    rx, ry = e.x_m - x, e.y_m - y
    middle = rx * ex + ry * ey  # of the tube, along it from the foot of the point
    d2 = np.maximum((rx - middle * ex) ** 2 + (ry - middle * ey) ** 2 + (e.z_m - z) ** 2, 1e-8)
    d, half = np.sqrt(d2), e.length_m / 2
    start, end = middle - half, middle + half
    off = inward * ((rx - middle * ex), (ry - middle * ey))[axis]  # before the wall, at the foot
    slope = inward * (ex, ey)[axis]
    cut = np.where(np.abs(slope) > 1e-12, -off / np.where(slope == 0, 1.0, slope), -np.inf)
    start = np.where(slope > 1e-12, np.maximum(start, np.minimum(cut, end)), start)
    end = np.where(slope < -1e-12, np.minimum(end, np.maximum(cut, start)), end)
    even = _tube_even(start, end, d2)
    odd = 0.5 * (1 / (d2 + start**2) - 1 / (d2 + end**2))
    seen = np.maximum(off * even + slope * odd, 0.0)
    between = [c for c in covers if c.z_m > min(e.z_m, float(z.min())) and c.z_m < max(e.z_m, float(z.max()))]
    if between:
        level = np.array([c.z_m for c in between])
        rise = z.ravel()[:, None] - level
        on_the_way = (level - e.z_m) * rise > 0
        k = np.where(on_the_way, (z.ravel()[:, None] - e.z_m) / np.where(rise == 0, 1.0, rise), 0.0)
        across = turned(x - e.x_m, y - e.y_m, e.angle_rad)[1]
        at = (np.ravel(-middle), np.ravel(across), np.ravel(d2))
        weights = (np.ravel(off), np.ravel(slope))
        hidden = _hidden_of_tube(e, between, k, at, weights)
        seen = np.maximum(seen - hidden.reshape(seen.shape), 0.0)
    return np.asarray(d / (math.pi**2 * e.length_m) * seen)
