"""The trade's equation as a cross-check: its base, and how far it is from the engine."""

from __future__ import annotations

import pytest

from burnerlab.gas import load
from burnerlab.orifice import (
    Conditions,
    flow,
    low_pressure_check,
    low_pressure_constant,
    low_pressure_constants,
)
from burnerlab.tables.problem import UserError

SIXTY_F = 288.7055555555556
INCH = 249.08891
SATURATED = 0.9826 * (1.2264 / 1.2184) ** 0.5  # dry share, and air at 60 F and 30 inHg dry over saturated


@pytest.mark.parametrize("name", list(low_pressure_constants()))
def test_every_constant_says_its_base(name: str) -> None:
    constant = low_pressure_constant(name)
    assert constant.basis
    assert 1.18 < constant.implied_air_density_kg_per_m3 < 1.30


def test_one_constant_in_two_unit_systems() -> None:
    assert low_pressure_constant("1658.5").to_SI == pytest.approx(
        low_pressure_constant("0.04612").to_SI, rel=1e-4
    )
    course, ours = low_pressure_constant("0.0467"), low_pressure_constant("0.04600")
    assert course.to_SI / ours.to_SI - 1 == pytest.approx(0.015, abs=5e-4)


@pytest.mark.parametrize(
    ("gas", "relative_density", "inches"),
    [("G20", 0.5548, 4.0), ("G20", 0.5548, 7.0), ("propane", 1.5498, 11.0)],
)
def test_at_domestic_pressure_it_is_what_water_vapour_takes_below_the_engine(
    gas: str, relative_density: float, inches: float
) -> None:
    """Its gas flows saturated, ours dry and is only counted as saturated."""
    supply = Conditions(gauge_pressure_Pa=inches * INCH, gas_temperature_K=SIXTY_F)
    check = low_pressure_check(flow(load(gas), 1.397e-3, supply, 0.9, 2), relative_density)
    assert check.constant.name == "1658.5"
    assert check.difference == pytest.approx(SATURATED - 1, abs=0.006)


def test_at_ten_psi_it_is_high_by_what_expansibility_leaves_out() -> None:
    supply = Conditions(gauge_pressure_Pa=10 * 6894.757, gas_temperature_K=SIXTY_F)
    check = low_pressure_check(flow(load("propane"), 1e-3, supply, 0.9), 1.5498)
    assert check.difference == pytest.approx(SATURATED / 0.9143 - 1, abs=0.006)


def test_a_constant_without_a_base_is_not_compared() -> None:
    stream = flow(load("propane"), 1e-3, Conditions(gauge_pressure_Pa=2740.0))
    with pytest.raises(UserError, match="no base state"):
        low_pressure_check(stream, 1.55, low_pressure_constant("0.0467"))
    with pytest.raises(UserError, match=r"1658\.5"):
        low_pressure_constant("1660")
