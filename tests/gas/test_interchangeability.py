"""Interchange: a gas is exchangeable with itself, and a conversion is refused."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.gas import Gas, load, mix
from burnerlab.gas.interchangeability import (
    bulletin_indices,
    equivalent_mixture,
    interchange,
    verdict,
    weaver_factors,
    weaver_indices,
)
from burnerlab.quantity import UserError


def natural(ethane: float, nitrogen: float) -> Gas:
    return mix({"methane": 1.0 - ethane - nitrogen, "ethane": ethane, "nitrogen": nitrogen}, per="mole")


SHARE = st.floats(0.0, 0.1)


@settings(max_examples=25)
@given(SHARE, SHARE)
def test_a_gas_exchanges_exactly_with_itself(ethane: float, nitrogen: float) -> None:
    gas = natural(ethane, nitrogen)
    indices = {**bulletin_indices(gas, gas), **weaver_indices(gas, gas)}
    exact = {"I_L": 1, "I_Y": 1, "J_H": 1, "J_A": 1, "J_L": 1, "J_F": 0, "J_Y": 0, "J_I": 0}
    for name, value in exact.items():
        assert indices[name] == pytest.approx(value, abs=1e-12)


@settings(max_examples=25)
@given(st.floats(0.01, 0.3))
def test_air_mixed_into_a_gas_leaves_its_flame_speed_factor(air: float) -> None:
    # 18.8 = 5 x 3.76: the constants are recalled, and this is what supports them
    dry = weaver_factors(mix({"methane": 1.0}, per="mole")).S
    shares = {"methane": 1 - air, "oxygen": 0.21 * air, "nitrogen": 0.79 * air}
    assert weaver_factors(mix(shares, per="mole")).S == pytest.approx(dry, rel=0.01)


@settings(max_examples=15)
@given(SHARE, SHARE)
def test_equivalent_mixture_adds_up(ethane: float, nitrogen: float) -> None:
    equal = equivalent_mixture(natural(ethane, nitrogen))
    assert equal.methane + equal.propane + equal.nitrogen == pytest.approx(100.0)
    assert equal.nitrogen >= 0.0


def test_methods_stand_side_by_side_and_disagree() -> None:
    blend = mix({"methane": 0.85, "ethane": 0.05, "hydrogen": 0.10}, per="mole")
    found = interchange(natural(0.05, 0.0), blend)
    assert {reading.method for reading in found.readings} == {"AGA36", "Weaver", "Dutton", "guideline"}
    verdicts = {reading.index: reading.verdict for reading in found.readings}
    assert verdicts["J_F"] == "outside"
    assert verdicts["I_F"] == "within"


def test_a_conversion_is_refused() -> None:
    with pytest.raises(UserError, match="the orifice changes"):
        interchange(load("natural-gas-typical"), load("propane"))


def test_a_component_without_constants_is_said() -> None:
    with_propylene = mix({"methane": 0.95, "propylene": 0.05}, per="mole")
    found = interchange(natural(0.02, 0.0), with_propylene)
    silent = [reading for reading in found.readings if reading.verdict == "not evaluated"]
    assert any("propylene" in reading.note for reading in silent)


@pytest.mark.parametrize(
    ("value", "expected"),
    [(1.0, "within"), (1.047, "within"), (1.05, "near"), (1.06, "near"), (1.0601, "outside")],
)
def test_verdict_at_its_edges(value: float, expected: str) -> None:
    assert verdict(value, 1.0, None, 1.06) == expected
