"""The burner that warms up, against closed forms, a general integrator and what must always hold."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from burnerlab.burner.hot_burner import (
    STEFAN_BOLTZMANN,
    BurnerBody,
    BurnerPlace,
    Metal,
    MixtureFlow,
    hot_burner,
    mixture_on_metal,
    pipe_body,
    port_way_m,
    steady_from_s,
)

ROOM_K, ZERO_C = 293.15, 273.15
ROOM = BurnerPlace(room_K=ROOM_K, gas_K=ROOM_K, surface_K=ROOM_K)
TUBE = pipe_body("steel", 1.3e-3, (0.4, 0.025), (0.15, 0.0175), port_way_m(1.6e-3, 3e-3, 180))
RING = pipe_body("cast iron", 4e-3, (0.69, 0.02), (0.15, 0.031), port_way_m(2e-3, 4e-3, 280), 2.5)
TUBE_FLOW = MixtureFlow(heat_capacity_W_per_K=0.73, conductivity_W_per_mK=0.027, inlet_K=ROOM_K)
RING_FLOW = replace(TUBE_FLOW, heat_capacity_W_per_K=1.9)
HEAD = "name,value,low,high\n"


def _place(gas_C: float, surface_C: float) -> BurnerPlace:
    return BurnerPlace(room_K=ROOM_K, gas_K=gas_C + ZERO_C, surface_K=surface_C + ZERO_C)


def _own(folder: Path, **rows: float) -> Path:
    file = folder / "own.csv"
    lines = (f"{name.replace('_', ' ')},{value},{value},{value}\n" for name, value in rows.items())
    file.write_text(HEAD + "".join(lines), encoding="utf-8")
    return file


def test_without_radiation_a_lumped_body_warms_by_the_exponential(tmp_path: Path) -> None:
    """Closed form of one heat capacity with a linear loss: T = T_a + (q/hA)(1 - exp(-hA t/mc))."""
    alone = replace(TUBE, conductance_W_per_K=0.0, head_way_m=0.0, port_way_m=0.0)
    own = _own(tmp_path, metal_emissivity=1e-12, metal_convection=10.0, rim_heat_share=0.02)
    times = (30.0, 60.0, 300.0, 900.0)
    loss, mass = 10.0 * np.asarray(TUBE.head_area_m2), np.asarray(TUBE.head_heat_capacity_J_per_K)
    # with nothing between, the mixture still passes the head without taking heat
    expected = ROOM_K + 0.02 * 3663.0 / loss * (1.0 - np.exp(-loss * np.array(times) / mass))
    found = hot_burner(alone, TUBE_FLOW, ROOM, 3663.0, times, own)
    np.testing.assert_allclose(found.head_K, expected, rtol=1e-9)
    np.testing.assert_allclose(found.tube_K, ROOM_K, rtol=1e-12)


@pytest.mark.parametrize(("gas_C", "surface_C"), [(20.0, 20.0), (200.0, 250.0), (500.0, 600.0)])
@pytest.mark.parametrize(("body", "flow", "heat_W"), [(TUBE, TUBE_FLOW, 3663.0), (RING, RING_FLOW, 7500.0)])
def test_a_general_integrator_finds_the_same_temperatures(
    body: BurnerBody, flow: MixtureFlow, heat_W: float, gas_C: float, surface_C: float
) -> None:
    """scipy's LSODA on the two equations, written out here a second time: within a thousandth of the rise."""
    place, times = _place(gas_C, surface_C), (60.0, 300.0, 900.0, 3600.0)
    C, T0, k = flow.heat_capacity_W_per_K, flow.inlet_K, flow.conductivity_W_per_mK
    phi, h, eps, inside, ports = 0.02, 8.0, 0.8, 9.0, 5.0

    def rates(_: float, T: np.ndarray) -> list[float]:
        head, tube = T
        one = tube - (tube - T0) * np.exp(-inside * k * body.tube_way_m / C)
        two = head - (head - one) * np.exp(-inside * k * body.head_way_m / C)
        three = head - (head - two) * np.exp(-ports * k * body.port_way_m / C)
        conducted = body.conductance_W_per_K * (head - tube)
        head_loss = h * (head - place.gas_K) + eps * STEFAN_BOLTZMANN * (head**4 - place.surface_K**4)
        tube_loss = h * (tube - ROOM_K) + eps * STEFAN_BOLTZMANN * (tube**4 - ROOM_K**4)
        gain = phi * heat_W - body.head_area_m2 * head_loss - C * (three - one) - conducted
        other = conducted - body.tube_area_m2 * tube_loss - C * (one - T0)
        return [gain / body.head_heat_capacity_J_per_K, other / body.tube_heat_capacity_J_per_K]

    peer = solve_ivp(rates, (0, 3600), [ROOM_K] * 2, "LSODA", times, rtol=1e-10, atol=1e-8)
    found = hot_burner(body, flow, place, heat_W, times)
    within = 1e-3 * float(peer.y[0, -1] - ROOM_K)
    np.testing.assert_allclose(found.head_K, peer.y[0], atol=within)
    np.testing.assert_allclose(found.tube_K, peer.y[1], atol=within)


@pytest.mark.parametrize(
    ("body", "flow", "heat_W", "phi", "gas_C", "surface_C", "expected_C"),
    [
        (TUBE, TUBE_FLOW, 3663.0, 0.02, 20, 20, (46, 95, 110)),
        (TUBE, TUBE_FLOW, 3663.0, 0.02, 200, 250, (96, 219, 239)),
        (TUBE, TUBE_FLOW, 3663.0, 0.02, 300, 400, (169, 355, 364)),
        (RING, RING_FLOW, 7500.0, 0.02, 20, 20, (27, 51, 91)),
        (RING, RING_FLOW, 7500.0, 0.04, 500, 600, (96, 346, 566)),
    ],
)
def test_a_second_calculation_gives_about_the_same_heads(
    tmp_path: Path,
    body: BurnerBody,
    flow: MixtureFlow,
    heat_W: float,
    phi: float,
    gas_C: float,
    surface_C: float,
    expected_C: tuple[float, ...],
) -> None:
    """Computed, not measured: heads at 60, 300, 900 s of a calculation whose bodies are stated only in words.

    The drawings here were chosen to come near it, so that this compares the equations and no more.
    """
    own = _own(tmp_path, mixture_Nusselt_number=4.0, rim_heat_share=phi)
    found = hot_burner(body, flow, _place(gas_C, surface_C), heat_W, own=own)
    np.testing.assert_allclose(found.head_K - ZERO_C, expected_C, atol=8.0)


@given(
    heat_W=st.floats(300, 20e3),
    gas_C=st.floats(0, 600),
    surface_C=st.floats(0, 700),
    capacity=st.floats(0.02, 5.0),
)
def test_the_steady_balance_closes(heat_W: float, gas_C: float, surface_C: float, capacity: float) -> None:
    flow = replace(TUBE_FLOW, heat_capacity_W_per_K=capacity)
    found = hot_burner(TUBE, flow, _place(gas_C, surface_C), heat_W, (60.0,))
    assert abs(float(found.steady_balance.rest_W)) < 1e-6 * heat_W


def test_no_heat_and_no_warmer_place_change_nothing(tmp_path: Path) -> None:
    found = hot_burner(TUBE, TUBE_FLOW, ROOM, 0.0)
    for warmth in (found.mixture, found.cool, found.warm, found.steady_mixture):
        np.testing.assert_allclose(warmth.port_exit_K, ROOM_K, rtol=1e-12)
        np.testing.assert_allclose(warmth.throat_ratio(ROOM_K), 1.0, rtol=1e-12)
        np.testing.assert_allclose(warmth.port_rise, 1.0, rtol=1e-12)


def test_more_mass_is_steady_later() -> None:
    times = tuple(np.geomspace(10.0, 7200.0, 60))
    later = []
    for mass in (1.0, 2.0, 4.0):
        heavy = replace(TUBE, head_heat_capacity_J_per_K=mass * np.asarray(TUBE.head_heat_capacity_J_per_K))
        found = hot_burner(heavy, TUBE_FLOW, ROOM, 3663.0, times)
        later.append(steady_from_s(found.time_s, found.mixture.head_ratio(ROOM_K),
                                   found.steady_mixture.head_ratio(ROOM_K)))  # fmt: skip
    assert later == sorted(later)
    assert later[0] < later[-1]


def test_the_metal_warms_all_the_time_and_the_mixture_along_its_way() -> None:
    found = hot_burner(TUBE, TUBE_FLOW, ROOM, 3663.0, tuple(np.geomspace(5.0, 3600.0, 30)))
    assert np.all(np.diff(found.head_K) > 0)
    assert np.all(found.head_K < found.steady_head_K)
    way = found.mixture
    assert np.all(way.inlet_K <= way.tube_end_K)
    assert np.all(way.tube_end_K <= way.before_ports_K)
    assert np.all(way.before_ports_K <= way.port_exit_K)
    assert np.all(way.port_exit_K <= found.head_K)
    assert np.all(found.head_cool_K < found.head_K)
    assert np.all(found.head_K < found.head_warm_K)


def test_burners_in_one_call_are_as_each_alone() -> None:
    heats, gas = np.array([1000.0, 3663.0, 9000.0]), np.array([20.0, 150.0, 300.0])
    together = hot_burner(
        TUBE, TUBE_FLOW, BurnerPlace(room_K=ROOM_K, gas_K=gas + ZERO_C, surface_K=ROOM_K), heats
    )
    for place, (heat, box) in enumerate(zip(heats, gas, strict=True)):
        alone = hot_burner(TUBE, TUBE_FLOW, _place(box, ROOM_K - ZERO_C), heat)
        np.testing.assert_allclose(together.head_K[place], alone.head_K, rtol=1e-12)
        np.testing.assert_allclose(together.warm.port_exit_K[place], alone.warm.port_exit_K, rtol=1e-12)
        assert float(together.steady_balance.rest_W[place]) == pytest.approx(0.0, abs=1e-6 * heat)


def test_turned_down_on_hot_metal_the_mixture_is_hotter() -> None:
    full = hot_burner(TUBE, TUBE_FLOW, ROOM, 3663.0)
    low = replace(TUBE_FLOW, heat_capacity_W_per_K=0.73 / 3.0)
    same = mixture_on_metal(TUBE, TUBE_FLOW, full.head_K, full.tube_K)
    after = mixture_on_metal(TUBE, low, full.head_K, full.tube_K)
    np.testing.assert_allclose(same.port_exit_K, full.mixture.port_exit_K, rtol=1e-12)
    assert np.all(after.port_exit_K > full.mixture.port_exit_K)
    assert np.all(after.port_exit_K < full.head_K)


def test_round_ports_and_square_slots_have_the_same_kind_of_way() -> None:
    """pi L N of a round port; a square slot of the same width 4 L N, by (l + w)^2/(l w)."""
    assert float(port_way_m(1e-3, 3e-3, 10)) == pytest.approx(np.pi * 0.03)
    assert float(port_way_m(1e-3, 3e-3, 10, 1e-3)) == pytest.approx(4 * 0.03)


def test_a_figure_that_never_settles_has_no_steady_time() -> None:
    assert np.isnan(steady_from_s(np.array([0.0, 60.0]), np.array([1.0, 1.1]), 1.5))
    assert steady_from_s(np.array([10.0, 60.0]), np.array([1.0, 1.0]), 1.01) == 10.0


def test_an_end_of_a_figure_joins_the_band_in_quadrature() -> None:
    """Each end calculated by itself, as the body or the place with that figure; the sum written out here."""
    heavy, light = (
        pipe_body("steel", wall, (0.4, 0.025), (0.15, 0.0175), TUBE.port_way_m) for wall in (1.17e-3, 1.43e-3)
    )
    warm, hot = _place(180.0, 250.0), _place(230.0, 250.0)
    place, times = _place(200.0, 250.0), (60.0, 900.0)
    plain = hot_burner(TUBE, TUBE_FLOW, place, 3663.0, times)
    joined = hot_burner(
        TUBE, TUBE_FLOW, place, 3663.0, times,
        ends=[(heavy, place), (light, place), (TUBE, warm), (TUBE, hot)],
    )  # fmt: skip
    np.testing.assert_allclose(joined.head_K, plain.head_K, rtol=1e-12)
    alone = [
        hot_burner(body, TUBE_FLOW, where, 3663.0, times).head_K - plain.head_K
        for body, where in ((heavy, place), (light, place), (TUBE, warm), (TUBE, hot))
    ]
    for own, before, after, pick in (
        (np.minimum, plain.head_cool_K, joined.head_cool_K, np.minimum),
        (np.maximum, plain.head_warm_K, joined.head_warm_K, np.maximum),
    ):
        wall, gas = (own(pick(low, high), 0.0) for low, high in (alone[:2], alone[2:]))
        expected = np.sqrt((before - plain.head_K) ** 2 + wall**2 + gas**2)
        np.testing.assert_allclose(np.abs(after - plain.head_K), expected, rtol=1e-9)


def test_each_property_of_a_metal_has_both_ends() -> None:
    assert Metal.of("cast iron") == (7500.0, 500.0, 50.0)
    assert [list(metal) for metal in Metal.ends("cast iron")] == [
        [7200.0, 500.0, 50.0], [7500.0, 500.0, 50.0],
        [7500.0, 450.0, 50.0], [7500.0, 560.0, 50.0],
        [7500.0, 500.0, 40.0], [7500.0, 500.0, 55.0],
    ]  # fmt: skip
