"""Altitude: the rules as data, kept apart from the physics."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from burnerlab.gas import load
from burnerlab.orifice import (
    Conditions,
    double_derate,
    drill_list,
    equivalent_diameter_m,
    equivalent_drill,
    flow,
    natural_derate,
    policy_factor,
    policy_names,
    size,
)
from burnerlab.supply.atmosphere import pressure_at_altitude_Pa
from burnerlab.tables.problem import UserError

FOOT = 0.3048


def factor(policy: str, feet: float) -> float:
    return policy_factor(policy, feet * FOOT).factor


def test_every_policy_has_its_source_and_leaves_low_places_alone() -> None:
    assert policy_names()
    for name in policy_names():
        at_sea = policy_factor(name, 0.0)
        assert at_sea.factor == 1.0
        assert at_sea.source
        assert factor(name, 2000.0 - 1e-6) == 1.0


def test_the_two_ways_to_count_four_percent_differ_by_a_tenth() -> None:
    sea, two = factor("4-percent-from-sea-level", 6035.0), factor("4-percent-from-2000-ft", 6035.0)
    assert sea == pytest.approx(1 - 0.04 * 6.035)
    assert two == pytest.approx(1 - 0.04 * 4.035)
    assert two / sea - 1 == pytest.approx(0.10, abs=0.01)


def test_the_band_rules_hold_in_their_band() -> None:
    assert factor("canada-10-percent", 2001.0) == factor("canada-10-percent", 4500.0) == 0.9
    assert factor("canada-5-percent", 3000.0) == 0.95
    assert factor("2-percent-from-sea-level", 5000.0) == pytest.approx(0.9)
    assert factor("none", 12000.0) == 1.0


@pytest.mark.parametrize("policy", ["canada-10-percent", "canada-5-percent"])
def test_above_the_band_the_authority_is_named(policy: str) -> None:
    with pytest.raises(UserError, match="above 4500 ft: authority having jurisdiction"):
        policy_factor(policy, 4501 * FOOT)


def test_a_rule_that_leaves_nothing_is_refused() -> None:
    with pytest.raises(UserError, match="has no figure here"):
        policy_factor("4-percent-from-sea-level", 25001 * FOOT)
    with pytest.raises(UserError, match="no altitude policy"):
        policy_factor("5-percent", 0.0)
    with pytest.raises(UserError, match="finite"):
        policy_factor("none", math.nan)


def test_a_policy_of_ones_own(tmp_path: Path) -> None:
    path = tmp_path / "town.csv"
    path.write_text(
        "policy,title,from_ft,to_ft,counted_from_ft,per_1000ft,step,beyond,source,place,provenance,note\n"
        "town,3 % per 1000 ft,,8000,0,0.03,0,above 8000 ft: ask the town,by-law,art. 4,seen,\n",
        encoding="utf-8",
    )
    assert policy_factor("town", 4000 * FOOT, path).factor == pytest.approx(0.88)
    with pytest.raises(UserError, match="ask the town"):
        policy_factor("town", 9000 * FOOT, path)


def test_the_physics_does_not_know_the_policy() -> None:
    """A fixed orifice gives sqrt(p/p0) by itself; sizing for the reduced rating at the place reduces it once."""
    propane, height, rating = load("propane"), 5000 * FOOT, 4000.0
    here = Conditions(gauge_pressure_Pa=2740.0, ambient_pressure_Pa=pressure_at_altitude_Pa(height))
    sea = Conditions(gauge_pressure_Pa=2740.0)
    fixed = size(propane, rating, "gross", sea).diameter_m
    assert flow(propane, fixed, here).heat_input_gross_W / rating == pytest.approx(
        natural_derate(height), rel=0.005
    )
    rule = policy_factor("4-percent-from-sea-level", height)
    sized = size(propane, rating * rule.factor, "gross", here)
    assert sized.flow.heat_input_gross_W == pytest.approx(0.8 * rating)
    change_of_area = (sized.diameter_m / fixed) ** 2
    assert change_of_area == pytest.approx(rule.factor / natural_derate(height), rel=0.005)
    warning = double_derate(rule)
    assert "-20.0 %" in warning
    assert "-8.8 %" in warning
    assert "-27.0 %" in warning
    assert "-12.3 %" in warning


def test_the_equivalent_bore_is_the_rule_at_the_place() -> None:
    """At sea level nothing changes; the higher the smaller."""
    assert equivalent_diameter_m(1e-3, 0.0) == pytest.approx(1e-3)
    sizes = [equivalent_diameter_m(1e-3, feet * FOOT) for feet in range(0, 11000, 1000)]
    assert sizes == sorted(sizes, reverse=True)
    with pytest.raises(UserError, match="leaves nothing"):
        equivalent_diameter_m(1e-3, 26000 * FOOT)
    names = {drill.name: drill for drill in drill_list("number")}
    assert equivalent_drill(names["#54"], 9000 * FOOT).drill.name == "#56"
