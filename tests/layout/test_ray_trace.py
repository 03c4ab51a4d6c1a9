"""The radiated map against rays: straight lines, cosines and chance, and nothing of the closed forms."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from burnerlab.layout.cooking_surface import Cover, Emitter, Layout, Room, Surface, grid_over
from burnerlab.layout.heat_map import pieces

Floats = NDArray[np.float64]
RAYS, BOUNCES = 300_000, 60
BINS = (8, 6)
SURFACE = Surface(name="plate", x_m=0.0, y_m=0.0, z_m=0.19, width_m=0.4, depth_m=0.36, absorptance=0.85)
BOX = Room(x_m=0.0, y_m=0.0, width_m=0.46, depth_m=0.42, loss=0.25)
TUBE = Emitter(
    name="tube", form="line", x_m=-0.12, y_m=0.01, z_m=0.08, length_m=0.32, width_m=0.025, heat_input_W=1.0,
    radiant=0.999, capture=0.0,
)  # fmt: skip
SHIELD = Cover(
    name="s", x_m=-0.12, y_m=0.02, z_m=0.12, length_m=0.26, width_m=0.07, angle_rad=0.0, emissivity=0.8
)
UPPER = replace(SHIELD, name="u", x_m=-0.1, z_m=0.15, width_m=0.09, length_m=0.2)


def scattered(normal: Floats, rng: np.random.Generator) -> Floats:
    """Directions over each normal, by the cosine."""
    up, turn = np.sqrt(rng.random(len(normal))), 2 * np.pi * rng.random(len(normal))
    flat = np.sqrt(1 - up**2)
    first = np.cross(normal, np.where(np.abs(normal[:, [2]]) > 0.5, [[1.0, 0, 0]], [[0, 0, 1.0]]))
    second = np.cross(normal, first)
    return (
        flat[:, None] * (np.cos(turn)[:, None] * first + np.sin(turn)[:, None] * second)
        + up[:, None] * normal
    )


def first_rays(rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Rays from the side of the tube: a thin Lambertian cylinder sends the sine of the angle to its axis.

    They start anywhere across the width of the flame, as the shadow of a shield is worked out.
    """
    along = rng.uniform(-TUBE.length_m / 2, TUBE.length_m / 2, RAYS)
    across = rng.uniform(-TUBE.width_m / 2, TUBE.width_m / 2, RAYS)
    at = np.column_stack([TUBE.x_m + across, TUBE.y_m + along, np.full(RAYS, TUBE.z_m)])
    turn = 2 * np.pi * rng.random(RAYS)
    cosine = np.empty(0)  # density of the cosine is sqrt(1 - c^2)
    while cosine.size < RAYS:
        c, keep = rng.uniform(-1, 1, 2 * RAYS), rng.random(2 * RAYS)
        cosine = np.concatenate([cosine, c[keep < np.sqrt(1 - c**2)]])
    cosine = cosine[:RAYS]
    sine = np.sqrt(1 - cosine**2)
    return at, np.column_stack([sine * np.cos(turn), cosine, sine * np.sin(turn)])


def first_hit(
    at: Floats, to: Floats, planes: list[tuple[int, float]], covers: tuple[Cover, ...]
) -> tuple[Floats, NDArray[np.int64]]:
    """Distance to the nearest wall, floor, plane of the surface or shield, and which it is."""
    with np.errstate(divide="ignore", invalid="ignore"):
        ways = [np.where((d := (value - at[:, k]) / to[:, k]) > 1e-9, d, np.inf) for k, value in planes]
        for cover in covers:
            d = (cover.z_m - at[:, 2]) / to[:, 2]
            x, y = at[:, 0] + d * to[:, 0] - cover.x_m, at[:, 1] + d * to[:, 1] - cover.y_m
            c, s = math.cos(cover.angle_rad), math.sin(cover.angle_rad)
            on = (np.abs(c * y - s * x) < cover.length_m / 2) & (np.abs(c * x + s * y) < cover.width_m / 2)
            ways.append(np.where((d > 1e-9) & on, d, np.inf))
    ways_found = np.array(ways)
    return ways_found.min(axis=0), ways_found.argmin(axis=0)


def traced(covers: tuple[Cover, ...], seed: int = 1) -> tuple[Floats, dict[str, float]]:
    """Absorbed by each part of the surface per watt [rows, columns], and where the rest goes."""
    rng = np.random.default_rng(seed)
    at, to = first_rays(rng)
    x1, x2, y1, y2 = BOX.sides
    planes = [(0, x1), (0, x2), (1, y1), (1, y2), (2, 0.0), (2, SURFACE.z_m)]
    normals = np.array([[1.0, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 1], [0, 0, -1]])
    landed: list[Floats] = []
    lost = {"walls": 0, "opening": 0}
    a1, a2, b1, b2 = SURFACE.sides
    for _ in range(BOUNCES):
        far, what = first_hit(at, to, planes, covers)
        at = at + far[:, None] * to
        chance = rng.random(len(at))
        on = (at[:, 0] > a1) & (at[:, 0] < a2) & (at[:, 1] > b1) & (at[:, 1] < b2)
        opening = (what == 5) & ~on
        taken = (what == 5) & on & (chance < SURFACE.absorptance)
        kept = (what < 5) & (chance < BOX.loss)
        landed.append(at[taken, :2])
        lost["walls"] += int(kept.sum())
        lost["opening"] += int(opening.sum())
        stays = ~(opening | taken | kept)
        at, what, to, chance = at[stays], what[stays], to[stays], chance[stays]
        side = np.zeros((len(at), 3))
        plain = what < 6
        side[plain] = normals[what[plain]]
        if (~plain).any():  # a shield sends half of what it takes up from each face, the rest back
            back = -np.sign(to[~plain, 2])
            shield = np.array([cover.emissivity for cover in covers])[what[~plain] - 6]
            other = (chance[~plain] < shield) & (rng.random(int((~plain).sum())) < 0.5)
            side[~plain, 2] = np.where(other, -back, back)
        to = scattered(side, rng)
        if not len(at):
            break
    assert len(at) < 1e-3 * RAYS
    found = np.concatenate(landed)
    counts, _, _ = np.histogram2d(found[:, 1], found[:, 0], bins=BINS[::-1], range=[[b1, b2], [a1, a2]])
    return counts / RAYS, {name: count / RAYS for name, count in lost.items()}


CASES = {
    "bare": (),
    "a shield": (SHIELD,),
    "two stacked": (SHIELD, UPPER),
    "at an angle": (replace(SHIELD, angle_rad=0.4), replace(UPPER, angle_rad=-0.3)),
}


@pytest.mark.parametrize("name", CASES)
def test_radiation_of_one_burner_in_a_box_is_that_of_its_rays(name: str) -> None:
    """48 parts of the surface: the total to 1.5 %, each part to 6 % of the mean and three standard errors."""
    covers = CASES[name]
    rays, _ = traced(covers)
    layout = Layout(surface=SURFACE, burners=(TUBE,), covers=covers, room=BOX)
    across, deep = 10 * BINS[0], 10 * BINS[1]
    maps, _ = pieces(layout, grid_over(SURFACE, across, deep))
    cell = SURFACE.area_m2 / (across * deep)
    ours = maps.radiated[0].reshape(BINS[1], 10, BINS[0], 10).sum(axis=(1, 3)) * cell
    assert ours.sum() == pytest.approx(rays.sum(), rel=0.015)
    error = np.sqrt(rays / RAYS)
    assert np.all(np.abs(ours - rays) < 0.06 * rays.mean() + 3.5 * error)
