"""Resistance of ports: an independent march of the flow, exact limits, and relations that always hold."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import solve_banded

from burnerlab.burner.port_resistance import (
    PortHeating,
    apparent_friction,
    channel_temperature,
    linear_heating,
    port_losses,
    port_resistance,
)
from burnerlab.burner.ports import profile_factor

few = settings(max_examples=60)
reynolds = st.floats(5.0, 2300.0)
depths = st.floats(0.0, 60.0)


@cache
def march(slot: bool, nodes: int = 160, steps: int = 900) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """x+, fRe_app and the wall gradient over the developed one of a flow that enters a port evenly.

    Boundary-layer equations u u_x + v u_y = -p_x + (y^m u_y)_y/y^m of a round port (m = 1) or a long slot (m = 0) in
    hydraulic diameters and mean velocity, x over Re; implicit in u, the pressure from the flow that stays. Nodes lie
    dense at the wall and steps begin short, where the profile is steep. Written for this test alone.
    """
    half, m = (0.25, 0) if slot else (0.5, 1)
    face = half * (1.0 - (1.0 - np.linspace(0.0, 1.0, nodes + 1)) ** 2)
    y = (face[1:] + face[:-1]) / 2.0
    area, ring = face**m, np.diff(face ** (m + 1)) / (m + 1)
    total = half ** (m + 1) / (m + 1)
    gap = np.diff(y)
    wall = area[-1] / (half - y[-1])
    u, flow_across, p, x = np.ones(nodes), np.zeros(nodes + 1), 0.0, 0.0
    out = []
    for h in np.diff(np.geomspace(1e-7, 1.0, steps)):
        between = area[1:-1] / gap
        up = np.append(between, 0.0)
        down = np.insert(between, 0, 0.0)
        # v u_y as the flow across the faces times u, the mean of both sides: it conserves momentum
        right, left = flow_across[1:].copy(), flow_across[:-1].copy()
        right[-1] = 0.0
        middle = ring * u / h + up + down + (right - left) / 2.0 - (right - left)
        middle[-1] += wall
        bands = np.zeros((3, nodes))
        bands[0, 1:] = -up[:-1] + right[:-1] / 2.0
        bands[1] = middle
        bands[2, :-1] = -down[1:] - left[1:] / 2.0
        base, push = solve_banded((1, 1), bands, np.stack([ring * u**2 / h, ring], axis=1)).T
        slope = (total - ring @ base) / (ring @ push)  # -dp/dx
        new = base + slope * push
        flow_across[1:] = -np.cumsum(ring * (new - u)) / h
        flow_across[-1] = 0.0
        u, p, x = new, p + slope * h, x + h
        out.append((x, p / (2.0 * x), u[-1] / (half - y[-1]) / (12.0 if slot else 8.0)))
    x_plus, friction, gradient = np.array(out).T
    return x_plus, friction, gradient


@pytest.mark.parametrize("slot", [False, True])
def test_friction_of_a_developing_profile_is_that_of_a_march_of_its_own(slot: bool) -> None:
    """Against the equations themselves; the closed form (Shah 1978, recalled) has an error of 2.1 %."""
    x, friction, _ = march(slot)
    inside = (x > 3e-4) & (x < 0.5)
    assert apparent_friction(x[inside], slot) == pytest.approx(friction[inside], rel=0.03)


@pytest.mark.parametrize("slot", [False, True])
def test_the_wall_gradient_of_a_developing_profile_is_that_of_the_march(slot: bool) -> None:
    x, _, gradient = march(slot)
    inside = (x > 3e-4) & (x < 0.5)
    assert profile_factor(x[inside], slot) == pytest.approx(gradient[inside], rel=0.03)


@pytest.mark.parametrize(("slot", "developed", "excess"), [(False, 16.0, 1.25), (True, 24.0, 0.674)])
def test_the_march_itself_ends_in_the_exact_profile(slot: bool, developed: float, excess: float) -> None:
    """Poiseuille's friction is exact; K_inf is recalled (Shah and London 1978)."""
    x, friction, gradient = march(slot)
    assert gradient[-1] == pytest.approx(1.0, rel=0.01)
    k_inf = 4.0 * x[-1] * (friction[-1] - developed)
    assert k_inf == pytest.approx(excess, rel=0.04)


def test_a_port_without_depth_is_a_thin_hole_and_creeps_as_one() -> None:
    """dp = 3 mu Q/a^3 (Sampson 1891, recalled): 12 pi/Re on the velocity head, of which a half is counted."""
    losses = port_losses()
    fast, slow = port_resistance(1e9, 0.0), port_resistance(5.0, 0.0, losses=replace(losses, creep=1.0))
    assert float(fast.total) == pytest.approx(1.0 / 0.65**2)
    mu, a, flow, rho = 1.8e-5, 0.8e-3, 1e-8, 1.2
    velocity = flow / (np.pi * a**2)
    sampson = 3.0 * mu * flow / a**3 / (rho * velocity**2 / 2.0)
    assert float(slow.creep) == pytest.approx(12.0 * np.pi / 5.0)
    assert sampson == pytest.approx(12.0 * np.pi / (rho * velocity * 2.0 * a / mu), rel=1e-12)


def test_an_attached_port_ends_at_its_entry_and_exit_loss_as_the_flow_grows() -> None:
    assert float(port_resistance(1e12, 1.0).total) == pytest.approx(1.40, abs=1e-4)


@pytest.mark.parametrize(("slot", "slope"), [(False, 64.0), (True, 96.0)])
def test_a_long_port_has_the_slope_of_developed_flow(slot: bool, slope: float) -> None:
    """4 f L/D = 64/Re a diameter of a round port, 96/Re of a long slot: exact."""
    re = 200.0
    longer, shorter = (float(port_resistance(re, depth, slot=slot).total) for depth in (400.0, 300.0))
    assert (longer - shorter) / 100.0 == pytest.approx(slope / re, rel=1e-3)


@few
@given(reynolds, depths, st.booleans(), st.floats(1.0, 3.0))
def test_drop_rises_with_velocity_depth_and_exit_temperature(
    re: float, depth: float, slot: bool, rise: float
) -> None:
    def drop(re: float, depth: float, rise: float) -> float:
        return float(port_resistance(re, depth, slot=slot, heating=linear_heating(rise)).total) * re**2

    here = drop(re, depth, rise)
    assert drop(1.02 * re, depth, rise) > here
    if depth >= 1.0:
        assert drop(re, 1.05 * depth, rise) > here
        assert drop(re, depth, 1.05 * rise) > here


@few
@given(reynolds, st.booleans())
def test_resistance_goes_smoothly_with_depth_and_flow(re: float, slot: bool) -> None:
    depth = np.linspace(0.0, 20.0, 4001)
    along = port_resistance(re, depth, slot=slot).total
    assert np.abs(np.diff(along)).max() < 0.05 * along.max()
    flow = np.exp(np.arange(np.log(5.0), np.log(2300.0), np.log(1.01)))
    for length in (0.5, 1.0, 5.0, 20.0):
        total = port_resistance(flow, length, slot=slot).total
        step = total[1:] / total[:-1]
        assert step.max() < 1.05
        assert step.min() > 1 / 1.05


def test_range_is_said() -> None:
    found = port_resistance(np.array([4.9, 5.0, 2300.0, 2301.0]), 2.0)
    assert found.is_evaluated.tolist() == [False, True, True, False]


def test_channel_heating_is_the_mean_over_its_profile() -> None:
    """Against the mean of a fine grid; a steep profile as in a tile at low fire."""
    for decay in (2.0, 9.2, 100.0):
        found = channel_temperature(293.15, 1020.0, 13.0, decay)
        x = np.linspace(0.0, 13.0, 400_001)
        inner = 293.15 + (1020.0 - 293.15) * np.exp(-(13.0 - x) / decay)
        mean = np.mean((inner / inner[0]) ** 1.7)
        assert float(found.heating.friction) == pytest.approx(mean, rel=1e-4)
        assert float(found.entry_K) == pytest.approx(inner[0], rel=1e-12)


def test_even_heating_meets_no_heating() -> None:
    tiny = linear_heating(np.array([1.0, 1.0 + 1e-7, 1.0 + 1e-4, 1.3]))
    assert tiny.friction[:3] == pytest.approx(1.0 + 0.85 * np.array([0.0, 1e-7, 1e-4]), abs=1e-8)
    x = np.linspace(1.0, 1.3, 100_001)
    assert float(tiny.friction[3]) == pytest.approx(np.mean(x**1.7), rel=1e-6)
    assert PortHeating().friction == 1.0
