"""Radiation of burners on level points, and the exchange between grey surfaces.

J = eps E + (1 - eps) F J; a re-radiating surface sends back what it receives, J = F J. The net flux is J - F J.

Exact for a thin tube, a ring and rectangles. Shields that lie parallel or square to the burner hide exactly their
shadow: of a tube as wide as the burner's flame, of a panel its part behind the shield. Shadows of shields of different
heights that cover one another are taken off twice, to no less than nothing; a shield at another angle is tested ray by
ray.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.layout.cooking_surface import NORMALS, Cover, Emitter, quarter_turns, turned
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


def exchange_factors(view_factors: ArrayLike, emissivity: ArrayLike) -> FloatArray:
    """Share of what each surface emits that each absorbs, reflections counted: B = F eps + F (1 - eps) B [-].

    Gebhart's factors: rows of a closed enclosure add to 1, eps_i A_i B_ij = eps_j A_j B_ji. Source: layout-textbook.

    >>> exchange_factors([[0, 1], [1, 0]], [0.8, 0.5]).sum(axis=-1)
    array([1., 1.])
    """
    F, e = np.asarray(view_factors, dtype=np.float64), np.asarray(emissivity, dtype=np.float64)
    matrix = np.eye(F.shape[-1]) - F * (1.0 - e)[..., None, :]
    return np.asarray(np.linalg.solve(matrix, F * e[..., None, :]))


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

LINE_RAYS = 48  # along a tube under a shield that lies at an angle
PANEL_RAYS = 12  # each way over a panel
RING_SEGMENTS = 24


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
    turns = [quarter_turns(emitter.angle_rad, cover.angle_rad) for cover in hiding]
    if emitter.form == "ring" or None in turns:
        return _by_rays(emitter, x, y, z, hiding)
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
        hidden = _hidden_of_tube(e, covers, (np.ravel(u), np.ravel(v), np.ravel(apart2)), float(z.flat[0]))
        seen = np.maximum(seen - hidden.reshape(x.shape), 0.0)
    return np.asarray(gap * np.sqrt(apart2) / (math.pi**2 * e.length_m) * seen)


def _hidden_of_tube(
    e: Emitter, covers: Sequence[Cover], points: tuple[FloatArray, FloatArray, FloatArray], z: float
) -> FloatArray:
    """What shields hide of a tube; only pairs of a point and a shield that can throw its shadow there are looked at."""
    u, v, apart2 = points
    places = np.array([(c.x_m - e.x_m, c.y_m - e.y_m) for c in covers])
    us, vs = turned(places[:, 0], places[:, 1], e.angle_rad)
    hu, hv = np.array([_half_sides(c, e.angle_rad) for c in covers]).T
    k = np.array(
        [(z - e.z_m) / (z - c.z_m) for c in covers]
    )  # how much larger a shield seems in the tube's plane
    w, half = max(e.width_m, 1e-6), e.length_m / 2
    middle, reach = vs * k / (k - 1), (k * hv + w / 2) / (k - 1)
    shield, point = np.nonzero(np.abs(v - middle[:, None]) < reach[:, None])
    pu, pv, pk = u[point], v[point], k[shield]
    centre_v, half_v = pv + (vs[shield] - pv) * pk, pk * hv[shield]
    share = np.minimum(centre_v + half_v, w / 2) - np.maximum(centre_v - half_v, -w / 2)
    centre_u, half_u = pu + (us[shield] - pu) * pk, pk * hu[shield]
    low, high = np.maximum(centre_u - half_u, -half), np.minimum(centre_u + half_u, half)
    covered = _tube_even(low - pu, np.maximum(high, low) - pu, apart2[point])
    hidden = np.bincount(point, np.maximum(share, 0.0) / w * covered, minlength=v.size)
    return np.asarray(hidden, dtype=np.float64)


def _half_sides(cover: Cover, angle_rad: float) -> tuple[float, float]:
    """Half sides of a shield along and across a burner."""
    sides = (cover.length_m / 2, cover.width_m / 2)
    return sides[::-1] if quarter_turns(angle_rad, cover.angle_rad) == 1 else sides


def _level_panel(
    e: Emitter, x: FloatArray, y: FloatArray, z: FloatArray, covers: Sequence[Cover]
) -> FloatArray:
    u, v = turned(x - e.x_m, y - e.y_m, e.angle_rad)
    gap, half_u, half_v = np.abs(z - e.z_m), e.length_m / 2, e.width_m / 2
    seen = element_to_parallel(-half_u - u, half_u - u, -half_v - v, half_v - v, gap)
    for cover in covers:
        us, vs = turned(cover.x_m - e.x_m, cover.y_m - e.y_m, e.angle_rad)
        hu, hv = _half_sides(cover, e.angle_rad)
        k = (z - e.z_m) / (z - cover.z_m)
        cu, cv = u + (us - u) * k, v + (vs - v) * k
        u1, u2 = np.clip(cu - k * hu, -half_u, half_u), np.clip(cu + k * hu, -half_u, half_u)
        v1, v2 = np.clip(cv - k * hv, -half_v, half_v), np.clip(cv + k * hv, -half_v, half_v)
        seen = seen - element_to_parallel(u1 - u, u2 - u, v1 - v, v2 - v, gap)
    return np.maximum(seen, 0.0) / (e.length_m * e.width_m)


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


# ray by ray


def _rays(e: Emitter, nearest_m: float) -> tuple[FloatArray, FloatArray, FloatArray, bool]:
    """Points of a burner in plan [n, 2], their weights and directions, and whether they radiate as thin tubes."""
    if e.form == "ring":
        n = max(RING_SEGMENTS, math.ceil(4 * math.pi * e.radius_m / max(nearest_m, 1e-3)))
        turn = 2 * math.pi * (np.arange(n) + 0.5) / n
        place = np.stack([np.cos(turn), np.sin(turn)], axis=-1) * e.radius_m + [e.x_m, e.y_m]
        return place, np.full(n, 1.0 / n), np.stack([-np.sin(turn), np.cos(turn)], axis=-1), True
    along, across = np.array(e.along), np.array([math.cos(e.angle_rad), math.sin(e.angle_rad)])
    if e.form == "line":
        nodes, weights = np.polynomial.legendre.leggauss(LINE_RAYS)
        place = np.array([e.x_m, e.y_m]) + nodes[:, None] * e.length_m / 2 * along
        return place, weights / 2, np.broadcast_to(along, place.shape), True
    nodes, weights = np.polynomial.legendre.leggauss(PANEL_RAYS)
    gu, gv = np.meshgrid(nodes * e.length_m / 2, nodes * e.width_m / 2)
    place = np.array([e.x_m, e.y_m]) + gu.reshape(-1, 1) * along + gv.reshape(-1, 1) * across
    return place, (np.outer(weights, weights) / 4).ravel(), np.zeros_like(place), False


def _by_rays(e: Emitter, x: FloatArray, y: FloatArray, z: FloatArray, covers: Sequence[Cover]) -> FloatArray:
    px, py, pz = np.ravel(x), np.ravel(y), np.ravel(z)
    gap2 = (pz - e.z_m) ** 2
    place, weights, along, thin = _rays(e, float(np.sqrt(gap2.min())))
    total = np.zeros(px.size)
    for (qx, qy), weight, (ax, ay) in zip(place, weights, along, strict=True):
        dx, dy = qx - px, qy - py
        far2 = dx**2 + dy**2 + gap2
        # a thin tube gives E 2r dl sin(psi)/pi to the side; a panel E dA cos/pi
        part = np.sqrt(gap2 / far2)
        if thin:
            aside = np.sqrt(np.maximum(1.0 - (dx * ax + dy * ay) ** 2 / far2, 0.0))
            part = part * aside / (math.pi**2 * far2)
        else:
            part = part * part / (math.pi * far2)
        total += weight * np.where(_hidden((px, py, pz), (qx, qy, e.z_m), covers), 0.0, part)
    return total.reshape(x.shape)


def _hidden(
    points: tuple[FloatArray, FloatArray, FloatArray],
    source: tuple[float, float, float],
    covers: Sequence[Cover],
) -> NDArray[np.bool_]:
    """Whether a shield lies on the straight way from each point to a source."""
    px, py, pz = points
    hidden = np.zeros(px.size, dtype=bool)
    for cover in covers:
        t = (cover.z_m - pz) / (source[2] - pz)
        u, v = turned(
            px + (source[0] - px) * t - cover.x_m, py + (source[1] - py) * t - cover.y_m, cover.angle_rad
        )
        hidden |= (np.abs(u) < cover.length_m / 2) & (np.abs(v) < cover.width_m / 2)
    return hidden
