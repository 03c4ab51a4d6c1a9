"""The map's radiation against direct numerical integration, with and without what hides it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from burnerlab.layout import radiation
from burnerlab.layout.cooking_surface import Cover, Emitter, frame_of
from burnerlab.layout.radiation import irradiance, wall_irradiance

LENGTH, RADIUS = 0.4, 0.00005


def tube(**changed: float) -> Emitter:
    given = {"x_m": 0.0, "y_m": 0.0, "z_m": 0.0, "length_m": LENGTH, "width_m": 0.025} | changed
    return Emitter(name="tube", form="line", heat_input_W=1.0, radiant=1.0, capture=0.0, **given)


def cover(**changed: float) -> Cover:
    given = {"x_m": 0.0, "y_m": 0.0, "z_m": 0.04, "length_m": 0.3, "width_m": 0.06, "angle_rad": 0.0}
    return Cover(name="shield", emissivity=0.8, **(given | changed))


def by_cylinder(x: float, y: float, z: float) -> float:
    """Every patch of a real cylinder's side that faces the point, cosines at both ends: nothing of the formula."""
    turn = 2 * np.pi * (np.arange(720) + 0.5) / 720
    nodes, weights = np.polynomial.legendre.leggauss(160)
    along = nodes * LENGTH / 2
    normal = np.stack([np.cos(turn), np.zeros_like(turn), np.sin(turn)], axis=-1)[:, None, :]
    patch = RADIUS * normal + np.stack([np.zeros_like(along), along, np.zeros_like(along)], axis=-1)[None]
    ray = np.array([x, y, z]) - patch
    far = np.linalg.norm(ray, axis=-1)
    leaving, landing = (ray * normal).sum(-1) / far, ray[..., 2] / far
    kernel = np.maximum(leaving, 0) * np.maximum(landing, 0) / (np.pi * far**2)
    # emitted per area is 1/(2 pi r l) for one watt
    patch_area = RADIUS * 2 * np.pi / 720 * LENGTH / 2
    return float((kernel * weights).sum() * patch_area / (2 * np.pi * RADIUS * LENGTH))


@pytest.mark.parametrize("place", [(0.0, 0.0), (0.1, 0.0), (0.05, 0.17), (-0.2, 0.25), (0.3, -0.1)])
def test_a_tube_radiates_as_its_surface_does(place: tuple[float, float]) -> None:
    """Against the side of a thin cylinder, patch by patch."""
    ours = float(irradiance(tube(), *place, 0.1))
    assert ours == pytest.approx(by_cylinder(*place, 0.1), rel=2e-4)


def test_half_of_a_tube_lands_on_an_endless_plane() -> None:
    x = np.sinh(np.linspace(-11, 11, 1101)) * 0.01
    gx, gy = np.meshgrid(x, x)
    flux = irradiance(tube(), gx, gy, 0.1)
    assert np.trapezoid(np.trapezoid(flux, x, axis=1), x) == pytest.approx(0.5, rel=1e-3)


@pytest.mark.parametrize("angle", [0.0, math.pi / 2])
def test_shadow_of_a_shield_is_that_of_its_rays(angle: float) -> None:
    """A tube as wide as its flame, sampled over length and width, each ray tested against the shield."""
    shield = cover(x_m=0.02, y_m=0.05, angle_rad=angle)
    rng = np.random.default_rng(7)
    x, y = rng.uniform(-0.25, 0.25, (2, 60))
    ours = irradiance(tube(), x, y, 0.1, [shield])
    across = (np.arange(25) + 0.5) / 25 * 0.025 - 0.0125
    nodes, weights = np.polynomial.legendre.leggauss(300)
    total = np.zeros_like(x)
    for offset in across:
        sy = nodes[:, None] * LENGTH / 2
        at_x, at_y = x + (offset - x) * 0.6, y + (sy - y) * 0.6
        half = (0.15, 0.03) if angle == 0.0 else (0.03, 0.15)
        blocked = (np.abs(at_x - 0.02) < half[1]) & (np.abs(at_y - 0.05) < half[0])
        # the tube's own distance is kept at its axis, as the formula takes it
        far2 = x**2 + (y - sy) ** 2 + 0.1**2
        part = 0.1 * np.sqrt(x**2 + 0.1**2) / (math.pi**2 * far2**2) * weights[:, None] / 2
        total += np.where(blocked, 0.0, part).sum(axis=0) / across.size
    whole = irradiance(tube(), x, y, 0.1)
    assert np.abs(ours - total).max() < 0.03 * whole.max()
    assert np.abs(ours - total).mean() < 0.004 * whole.max()


def test_a_shield_at_an_angle_goes_over_into_a_straight_one() -> None:
    """The two ways of hiding agree where both apply."""
    x, y = np.meshgrid(
        np.linspace(-0.297, 0.303, 25), np.linspace(-0.297, 0.303, 25)
    )  # off the shadow's edge
    straight = irradiance(tube(width_m=1e-4), x, y, 0.1, [cover()])
    tilted = irradiance(tube(width_m=1e-4), x, y, 0.1, [cover(angle_rad=1e-4)])
    assert np.abs(straight - tilted).mean() < 0.01 * straight.max()


def behind_a_shield(
    point: tuple[float, float], across: np.ndarray, along: np.ndarray, covers: list[Cover]
) -> np.ndarray:
    """Whether a shield stands between a point of the surface at 0.1 m and points of a burner at 0 m."""
    x, y = point
    found = np.zeros(along.size, dtype=bool)
    for one in covers:
        t = one.z_m / 0.1
        dx, dy = across + (x - across) * t - one.x_m, along + (y - along) * t - one.y_m
        c, s = math.cos(one.angle_rad), math.sin(one.angle_rad)
        found |= (np.abs(c * dy - s * dx) < one.length_m / 2) & (np.abs(c * dx + s * dy) < one.width_m / 2)
    return found


def sampled(points: np.ndarray, covers: list[Cover]) -> np.ndarray:
    """Irradiance by points of the tube over length and width of its flame, each ray tested against the shields."""
    along, across = (
        one.ravel()
        for one in np.meshgrid(
            ((np.arange(1200) + 0.5) / 1200 - 0.5) * LENGTH, ((np.arange(60) + 0.5) / 60 - 0.5) * 0.025
        )
    )
    found = []
    for x, y in points:
        # the tube's own distance is kept at its axis, as the formula takes it
        part = 0.1 * np.sqrt(x**2 + 0.01) / (math.pi**2 * (x**2 + (y - along) ** 2 + 0.01) ** 2)
        found.append(float((part * ~behind_a_shield((x, y), across, along, covers)).mean()))
    return np.array(found)


SLANTED = cover(angle_rad=0.5, x_m=0.01, y_m=0.02)
HIGHER = cover(angle_rad=-0.3, z_m=0.06, width_m=0.05, length_m=0.2)
ACROSS = cover(angle_rad=math.pi / 2, x_m=0.02, z_m=0.06, width_m=0.05, length_m=0.2)


@pytest.mark.parametrize(
    "covers",
    [
        [SLANTED],
        [cover(), HIGHER],
        [cover(), SLANTED, HIGHER],
        [cover(), ACROSS],
        [cover(), ACROSS, cover(x_m=0.03)],
    ],
)
def test_shadows_at_any_angle_and_height_are_those_of_rays(covers: list[Cover]) -> None:
    """What several shields hide is hidden once."""
    points = np.random.default_rng(1).uniform(-0.2, 0.2, (30, 2))
    ours = irradiance(tube(), points[:, 0], points[:, 1], 0.1, covers)
    rays = sampled(points, covers)
    assert np.abs(ours - rays).max() < 0.01 * rays.max()


@pytest.mark.parametrize("seed", range(4))
def test_stacked_shields_of_closed_form_are_those_of_sections(seed: int) -> None:
    """Square shields over one another, two heights: ends of shadows against the general sections of any angle."""
    chance = np.random.default_rng(seed)
    tube = Emitter(name="t", form="line", x_m=0.1, y_m=0.0, z_m=0.0, length_m=0.4, width_m=0.03, heat_input_W=1,
                   radiant=1, capture=0)  # fmt: skip
    covers = [
        cover(x_m=0.1 + 0.1 * chance.normal(), y_m=0.1 * chance.normal(), z_m=0.03 + 0.02 * (n % 2),
              length_m=0.3 * chance.random(), width_m=0.15 * chance.random(), angle_rad=math.pi / 2 * (n % 3))
        for n in range(5)
    ]  # fmt: skip
    frames = [frame_of(one, tube) for one in covers]
    points = (0.3 * chance.normal(size=40), 0.2 * chance.normal(size=40), 0.01 + chance.random(40))
    k = 1.0 + 2.0 * chance.random((40, 5))
    kernel = (chance.normal(size=40), chance.normal(size=40))
    boxes = radiation._hidden_by_stacked_boxes(tube, frames, k, points, kernel)
    sections = radiation._hidden_by_sections(tube, frames, k, points, kernel)
    assert np.abs(sections).max() > 0.01
    assert boxes == pytest.approx(sections, rel=1e-6, abs=1e-7 * np.abs(sections).max())


def test_the_same_shield_twice_shades_once() -> None:
    x, y = np.meshgrid(np.linspace(-0.3, 0.3, 20), np.linspace(-0.3, 0.3, 20))
    for burner in (tube(), panel("up"), ring()):
        once = irradiance(burner, x, y, 0.1, [cover()])
        twice = irradiance(burner, x, y, 0.1, [cover(), cover(z_m=0.04 + 1e-7)])
        assert twice == pytest.approx(once, abs=1e-4 * once.max())


def test_a_panel_behind_slanted_shields_by_quadrature() -> None:
    tile, covers = panel("up"), [SLANTED, HIGHER]
    rng = np.random.default_rng(3)
    across, along = rng.uniform(-0.065, 0.065, 80_000), rng.uniform(-0.095, 0.095, 80_000)
    for x, y in ((0.0, 0.0), (0.05, 0.03), (-0.04, -0.06)):
        part = 0.01 / (math.pi * ((x - across) ** 2 + (y - along) ** 2 + 0.01) ** 2)
        assert float(irradiance(tile, x, y, 0.1, covers)) == pytest.approx(
            float((part * ~behind_a_shield((x, y), across, along, covers)).mean()), abs=0.25
        )


@pytest.mark.parametrize("place", [(0.23, 0.05, 0.12), (0.23, -0.2, 0.02), (0.23, 0.3, 0.3)])
def test_a_wall_sees_the_side_of_a_tube(place: tuple[float, float, float]) -> None:
    """Against the side of a thin cylinder, patch by patch, its end towards the wall for one turned to it."""
    at = tuple(np.array([one]) for one in place)
    for angle in (0.0, 0.6):
        leaning = tube(angle_rad=angle)
        turn = 2 * np.pi * (np.arange(720) + 0.5) / 720
        nodes, weights = np.polynomial.legendre.leggauss(160)
        ey = np.array([*leaning.along, 0.0])
        ex = np.array([math.cos(angle), math.sin(angle), 0.0])
        normal = np.cos(turn)[:, None] * ex + np.sin(turn)[:, None] * np.array([0.0, 0.0, 1.0])
        patch = RADIUS * normal[:, None] + (nodes * LENGTH / 2)[None, :, None] * ey
        ray = np.array(place) - patch
        far = np.linalg.norm(ray, axis=-1)
        leaving = (ray * normal[:, None]).sum(-1) / far
        kernel = np.maximum(leaving, 0) * np.maximum(ray[..., 0] / far, 0) / (np.pi * far**2)
        expected = float((kernel * weights).sum() * RADIUS * 2 * np.pi / 720 * LENGTH / 2)
        expected /= 2 * np.pi * RADIUS * LENGTH
        ours = wall_irradiance(leaning, 0, np.array([-1.0]), at)  # type: ignore[arg-type]
        assert float(ours[0]) == pytest.approx(expected, rel=1e-3)


def test_shields_on_either_side_do_not_hide() -> None:
    plain = irradiance(tube(), 0.1, 0.0, 0.1)
    assert irradiance(tube(), 0.1, 0.0, 0.1, [cover(z_m=-0.02), cover(z_m=0.15)]) == plain


def ring() -> Emitter:
    return Emitter(
        name="ring",
        form="ring",
        x_m=0.0,
        y_m=0.0,
        z_m=0.0,
        radius_m=0.11,
        heat_input_W=1,
        radiant=1,
        capture=0,
    )


def test_a_ring_is_many_short_tubes() -> None:
    turn = 2 * math.pi * (np.arange(180) + 0.5) / 180
    parts = [
        tube(x_m=0.11 * math.cos(t), y_m=0.11 * math.sin(t), angle_rad=t, length_m=2 * math.pi * 0.11 / 180)
        for t in turn
    ]
    x, y = np.array([0.0, 0.05, 0.11, 0.2]), np.array([0.0, 0.02, 0.0, 0.1])
    pieces = sum(irradiance(part, x, y, 0.07) for part in parts) / 180
    assert irradiance(ring(), x, y, 0.07) == pytest.approx(pieces, rel=2e-4)


def panel(facing: str, **changed: float) -> Emitter:
    given = {"x_m": 0.0, "y_m": 0.0, "z_m": 0.0, "length_m": 0.19, "width_m": 0.13} | changed
    return Emitter(
        name="tile",
        form="panel",
        facing=facing,
        heat_input_W=1.0,
        radiant=1.0,
        capture=0.0,
        **given,  # type: ignore[arg-type]
    )


def test_a_panel_with_its_middle_hidden_is_two_panels() -> None:
    shield = cover(z_m=0.05, length_m=0.5, width_m=0.02)
    x, y = np.array([0.0, 0.03]), np.array([0.0, 0.02])
    ours = irradiance(panel("up"), x, y, 0.1, [shield])
    # seen from the point at x = 0 the shield hides the middle 40 mm: two strips of 45 mm are left
    left = irradiance(panel("up", x_m=-0.0425, width_m=0.045), x, y, 0.1) * 0.045 / 0.13
    right = irradiance(panel("up", x_m=0.0425, width_m=0.045), x, y, 0.1) * 0.045 / 0.13
    assert ours[0] == pytest.approx((left + right)[0], rel=1e-9)


def test_an_upright_panel_by_quadrature() -> None:
    rear = panel("front", y_m=0.2, z_m=0.3, length_m=0.3, width_m=0.06)
    n, w = np.polynomial.legendre.leggauss(24)
    px, pz = np.meshgrid(n * 0.15, 0.3 + n * 0.03)
    x, y, z = 0.04, -0.05, 0.19
    far2 = (px - x) ** 2 + (0.2 - y) ** 2 + (pz - z) ** 2
    kernel = (0.2 - y) * (pz - z) / (math.pi * far2**2)
    assert float(irradiance(rear, x, y, z)) == pytest.approx(
        float((kernel * np.outer(w, w)).sum() / 4), rel=1e-9
    )
    assert float(irradiance(rear, x, 0.3, z)) == 0.0  # behind it


def test_a_panel_that_faces_down_heats_only_below() -> None:
    assert float(irradiance(panel("down"), 0.0, 0.0, 0.1)) == 0.0
    assert float(irradiance(panel("down"), 0.0, 0.0, -0.1)) > 0.0
