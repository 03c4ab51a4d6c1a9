"""Primary air from the momentum balance: relations, bounds, and the balance itself solved another way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from burnerlab.burner.burner import MixtureTemperatures
from burnerlab.burner.primary_air import (
    Jet,
    MixingTube,
    air_per_gas,
    best_throat_area_m2,
    free_tube,
    inlet_term,
    shutter_area,
    tube_term,
)

jets = st.builds(
    Jet,
    effective_area_m2=st.floats(0.3e-6, 5e-6),
    hole_area_m2=st.floats(0.4e-6, 6e-6),
    relative_density=st.floats(0.07, 2.1),
)
tubes = st.builds(
    MixingTube,
    throat_area_m2=st.floats(60e-6, 600e-6),
    port_area_m2=st.floats(100e-6, 1200e-6),
    port_resistance=st.floats(1.2, 4.0),
    loss=st.floats(0.0, 2.0),
    temperatures=st.builds(
        lambda gas, air, tube, head: MixtureTemperatures(
            gas_ratio=gas, inlet_ratio=air, throat_ratio=air * tube, head_ratio=air * tube * head
        ),
        st.floats(0.9, 1.5),
        st.floats(1.0, 2.0),
        st.floats(1.0, 2.0),  # the mixture warms on its way: no tube colder than its air
        st.floats(1.0, 2.0),
    ),
    inlet_area_m2=st.floats(20e-6, 900e-6),
    inlet_loss=st.floats(0.3, 2.0),
)
few = settings(max_examples=80)


def warmer(tube: MixingTube, name: str, factor: float) -> MixingTube:
    """The tube with one of its temperatures raised."""
    ratio = factor * getattr(tube.temperatures, name)
    return replace(tube, temperatures=replace(tube.temperatures, **{name: ratio}))


def balance(r: float, jet: Jet, tube: MixingTube) -> float:
    """Left side of the balance less one, written out from its parts."""
    sigma, half = jet.relative_density, jet.effective_area_m2 / 2 / tube.temperatures.gas_ratio
    mixture = (1 + r) * (1 + r / sigma) * half * float(tube_term(tube))
    return mixture + r**2 / sigma * half * float(inlet_term(jet, tube)) - 1


@few
@given(jets, tubes)
def test_the_root_is_the_one_a_bracketing_solver_finds(jet: Jet, tube: MixingTube) -> None:
    found = float(air_per_gas(jet, tube))
    if balance(0.0, jet, tube) >= 0.0:
        assert found == 0.0  # the jet cannot drive the mixture
    else:
        high = 1.0
        while balance(high, jet, tube) < 0:
            high *= 2
        assert found == pytest.approx(brentq(balance, 0.0, high, args=(jet, tube)), rel=1e-9)


@few
@given(jets, tubes)
def test_the_balance_rises_with_the_air_so_there_is_one_root(jet: Jet, tube: MixingTube) -> None:
    r = np.linspace(0, 60, 400)
    assert (np.diff([balance(x, jet, tube) for x in r]) > 0).all()


@few
@given(jets, tubes, st.floats(1.05, 3.0))
def test_more_shutter_draws_more_air(jet: Jet, tube: MixingTube, factor: float) -> None:
    wider = replace(tube, inlet_area_m2=tube.inlet_area_m2 * factor)
    before, after = float(air_per_gas(jet, tube)), float(air_per_gas(jet, wider))
    assert after > before or before == 0.0


@few
@given(jets, tubes, st.floats(1.05, 2.0))
def test_more_of_any_loss_or_a_bigger_jet_draws_less(jet: Jet, tube: MixingTube, factor: float) -> None:
    before = float(air_per_gas(jet, tube))
    worse = (
        (jet, replace(tube, loss=tube.loss + factor)),
        (jet, replace(tube, inlet_loss=tube.inlet_loss * factor)),
        (jet, replace(tube, port_resistance=tube.port_resistance * factor)),
        *((jet, warmer(tube, name, factor)) for name in ("throat_ratio", "head_ratio")),
        (
            jet,
            warmer(warmer(warmer(tube, "inlet_ratio", factor), "throat_ratio", factor), "head_ratio", factor),
        ),
        (replace(jet, effective_area_m2=jet.effective_area_m2 * factor), tube),
    )
    for other_jet, other_tube in worse:
        assert float(air_per_gas(other_jet, other_tube)) < before or before == 0.0


@few
@given(jets, tubes, st.floats(1.05, 2.0))
def test_warmer_gas_at_the_orifice_draws_more(jet: Jet, tube: MixingTube, factor: float) -> None:
    before = float(air_per_gas(jet, tube))
    assert float(air_per_gas(jet, warmer(tube, "gas_ratio", factor))) > before or before == 0.0


def test_the_throat_is_best_at_its_optimum_and_the_curve_is_flat_there() -> None:
    jet = Jet(effective_area_m2=1.4e-6, hole_area_m2=1.65e-6, relative_density=0.5539)
    tube = MixingTube(throat_area_m2=1.0, port_area_m2=300e-6, port_resistance=0.65**-2, loss=0.5)
    best = float(best_throat_area_m2(300e-6, 0.65**-2, 0.5))
    throats = best * np.linspace(0.4, 2.0, 321)
    drawn = air_per_gas(jet, replace(tube, throat_area_m2=throats))
    peak = int(np.argmax(drawn))
    assert throats[peak] == pytest.approx(best, rel=0.006)
    assert (np.diff(drawn[: peak + 1]) > 0).all()
    assert (np.diff(drawn[peak:]) < 0).all()
    half = float(air_per_gas(jet, replace(tube, throat_area_m2=best / 2)))
    assert half / drawn.max() == pytest.approx(0.88, abs=0.01)  # 12 % less air at half the best throat


def test_equal_heat_on_one_burner_draws_more_of_its_air_on_propane() -> None:
    """Natural gas at 1.0 kPa through 1.60 mm, propane at 2.74 kPa through 1.0145 mm: 63.7 and 69.8 %."""
    throat = np.pi / 4 * 14e-3**2
    tube = MixingTube(throat_area_m2=throat, port_area_m2=300e-6, port_resistance=0.65**-2, loss=0.5)
    aeration = {}
    for name, sigma, air, bore in (
        ("natural", 0.5539, 9.547, 1.60e-3),
        ("propane", 1.5225, 23.866, 1.0145e-3),
    ):
        hole = np.pi / 4 * bore**2
        jet = Jet(effective_area_m2=0.85 * hole, hole_area_m2=hole, relative_density=sigma)
        aeration[name] = float(air_per_gas(jet, tube)) / air
    assert aeration == {"natural": pytest.approx(0.637, abs=5e-4), "propane": pytest.approx(0.698, abs=5e-4)}


def test_air_far_hotter_than_the_mixture_it_makes_has_no_answer() -> None:
    jet = Jet(effective_area_m2=1.4e-6, hole_area_m2=1.65e-6, relative_density=0.5539)
    tube = MixingTube(
        throat_area_m2=159e-6,
        port_area_m2=1.0,
        port_resistance=1.4,
        loss=0.0,
        inlet_area_m2=1.0,
        temperatures=MixtureTemperatures(inlet_ratio=np.array([1.0, 3.0])),
    )
    assert np.isfinite(air_per_gas(jet, tube)).tolist() == [True, False]


def test_a_jet_as_wide_as_the_throat_draws_nothing() -> None:
    jet = Jet(effective_area_m2=np.array([100e-6, 1e-6]), hole_area_m2=100e-6, relative_density=0.6)
    assert free_tube(jet, 50e-6).tolist()[0] == 0.0
    assert free_tube(jet, 50e-6)[1] > 0


def test_a_closed_shutter_draws_nothing() -> None:
    jet = Jet(effective_area_m2=1.4e-6, hole_area_m2=1.65e-6, relative_density=0.5539)
    tube = MixingTube(
        throat_area_m2=159e-6,
        port_area_m2=200e-6,
        port_resistance=0.65**-2,
        loss=0.5,
        inlet_area_m2=np.array([0.0, 200e-6]),
    )
    drawn = air_per_gas(jet, tube)
    assert drawn[0] == 0.0
    assert drawn[1] > 0.0


@few
@given(jets, tubes, st.floats(0.1, 0.999))
def test_the_shutter_that_restores_an_aeration_gives_it_back(
    jet: Jet, tube: MixingTube, share: float
) -> None:
    most = float(air_per_gas(jet, tube))
    if most == 0.0:
        return
    found = shutter_area(jet, tube, share * most)
    assert bool(found.reached)
    assert str(found.bound) == ""
    assert float(found.area_m2) <= tube.inlet_area_m2
    assert float(found.air_per_gas) == pytest.approx(share * most, rel=1e-6)


def test_more_air_than_the_open_shutter_gives_says_so() -> None:
    jet = Jet(effective_area_m2=1.4e-6, hole_area_m2=1.65e-6, relative_density=0.5539)
    tube = MixingTube(
        throat_area_m2=159e-6, port_area_m2=200e-6, port_resistance=0.65**-2, loss=0.5, inlet_area_m2=200e-6
    )
    wanted = np.array([0.5, 1.5]) * float(air_per_gas(jet, tube))
    found = shutter_area(jet, tube, wanted)
    assert found.reached.tolist() == [True, False]
    assert found.bound.tolist() == ["", "shutter fully open"]
    assert found.area_m2[1] == pytest.approx(200e-6)
    assert found.air_per_gas[1] == pytest.approx(float(air_per_gas(jet, tube)))


def test_a_shutter_cannot_be_sized_without_an_inlet() -> None:
    jet = Jet(effective_area_m2=1.4e-6, hole_area_m2=1.65e-6, relative_density=0.5539)
    tube = MixingTube(throat_area_m2=159e-6, port_area_m2=200e-6, port_resistance=0.65**-2, loss=0.5)
    with pytest.raises(ValueError, match="no air inlet"):
        shutter_area(jet, tube, 5.0)
