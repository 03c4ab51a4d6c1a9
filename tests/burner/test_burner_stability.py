"""The flame's limits: composition variable, range of each form, trust, gases without a limit."""

from __future__ import annotations

import numpy as np
import pytest

from burnerlab.burner import stability
from burnerlab.burner.burner import BurnerGeometry, EvaluationOptions
from burnerlab.burner.evaluation import evaluate, fuel_with_flame
from burnerlab.burner.stability import Mixture
from burnerlab.gas import load, mix


def mixture(speed: float = 0.3787, alpha: float = 2.231e-5) -> Mixture:
    return Mixture(burning_velocity_m_per_s=np.asarray(speed), thermal_diffusivity_m2_per_s=np.asarray(alpha))


def test_the_composition_variable_is_not_the_equivalence_ratio() -> None:
    assert float(stability.gas_fraction(9.547, 0.5)) == pytest.approx(1.827, abs=5e-4)  # phi is 2
    assert float(stability.gas_fraction(9.547, 1.0)) == 1.0


def test_aeration_and_gas_fraction_go_both_ways() -> None:
    a = np.linspace(0.2, 1.4, 20)
    assert stability.aeration_of(23.87, stability.gas_fraction(23.87, a)) == pytest.approx(a)


def test_light_back_is_far_below_a_karlovitz_number_of_one() -> None:
    limit = stability.light_back_limit(mixture())
    assert float(limit.value) == pytest.approx(0.07 * 0.3787**2 / 2.231e-5)
    assert limit.evidence == "estimate"
    assert float(limit.low) < float(limit.value) < float(limit.high)


def test_light_back_scales_with_the_square_of_the_burning_velocity() -> None:
    doubled = float(stability.light_back_limit(mixture(0.7574)).value)
    assert doubled == pytest.approx(4 * float(stability.light_back_limit(mixture()).value))


def with_error(error: float, speed: float = 0.3787) -> Mixture:
    return Mixture(
        burning_velocity_m_per_s=np.asarray(speed),
        thermal_diffusivity_m2_per_s=np.asarray(2.231e-5),
        burning_velocity_error=np.asarray(error),
    )


@pytest.mark.parametrize("limit_of", ["light-back", "lift", "rich lift"])
def test_a_band_carries_the_error_of_the_burning_velocity_squared(limit_of: str) -> None:
    """Both gradients go with the square of the burning velocity: 5 % of it at k = 2 is a factor of 1.10 squared."""

    def limit(error: float) -> stability.Limit:
        if limit_of == "light-back":
            return stability.light_back_limit(with_error(error))
        return stability.lift_limit(
            1.7 if limit_of == "rich lift" else 1.0, with_error(error), with_error(error)
        )

    alone, both = limit(0.0), limit(0.05)
    assert float(both.value) == float(alone.value)
    for end in ("low", "high"):
        factor = abs(np.log(float(getattr(alone, end)) / float(alone.value)))
        carried = abs(np.log(float(getattr(both, end)) / float(both.value)))
        assert carried**2 - factor**2 == pytest.approx(np.log(1.10**2) ** 2)
    assert "k = 2" in both.note


def test_the_band_of_a_recalled_factor_alone_is_that_of_its_row() -> None:
    alone = stability.light_back_limit(with_error(0.0))
    assert float(alone.low / alone.value) == pytest.approx(0.058 / 0.07)
    assert float(alone.high / alone.value) == pytest.approx(0.085 / 0.07)


def test_a_burner_carries_the_error_its_gas_states_at_its_mixture(ring: BurnerGeometry) -> None:
    """Propane states 5 % near stoichiometric and 20 % where it is rich: the band of light-back widens by them."""
    fuel = fuel_with_flame(load("propane"))
    widths = {}
    for aeration in (1.0, 0.6):
        found = evaluate(
            ring, fuel, 2740.0, options=EvaluationOptions(aeration=aeration, band=False)
        ).at.light_back
        widths[aeration] = float(found.high / found.value)
    assert widths[1.0] == pytest.approx(np.exp(np.hypot(np.log(0.085 / 0.07), 2 * np.log(1.1002))), rel=1e-3)
    assert widths[0.6] == pytest.approx(np.exp(np.hypot(np.log(0.085 / 0.07), 2 * np.log(1.4))), rel=1e-3)


def test_reed_is_used_to_1p2_and_the_provisional_rule_beyond() -> None:
    fraction = np.array([0.9, 1.0, 1.1, 1.19, 1.21, 1.5])
    found = stability.lift_limit(fraction, mixture(), mixture())
    reed = stability.reed_gradient_per_s(fraction, mixture())
    rich = stability.rich_lift_gradient_per_s(fraction, mixture())
    assert found.value[:4] == pytest.approx(reed[:4])
    assert found.value[4:] == pytest.approx(rich[4:])
    assert "provisional" in found.note
    assert found.evidence == "estimate"
    assert (found.high / found.value)[4:] == pytest.approx(2.0)


def test_a_lean_mixture_is_lifted_without_the_help_of_secondary_air() -> None:
    assert float(stability.reed_gradient_per_s(0.8, mixture())) == pytest.approx(0.23 * 0.3787**2 / 2.231e-5)


def test_rich_lift_rises_with_richness_where_reed_would_fall() -> None:
    """With today's burning velocities Reed's own form calls every common burner lifted."""
    fraction, speed = np.array([1.2, 1.35, 1.5, 1.7]), np.array([0.32, 0.137, 0.09, 0.06])
    at = Mixture(burning_velocity_m_per_s=speed, thermal_diffusivity_m2_per_s=np.full(4, 2.24e-5))
    assert (np.diff(stability.reed_gradient_per_s(fraction, at)) < 0).all()
    assert (np.diff(stability.lift_limit(fraction * 1.001, at, mixture()).value) > 0).all()


def test_an_unknown_flame_leaves_an_unknown_limit() -> None:
    limit = stability.lift_limit(1.1, mixture(np.nan), mixture(np.nan))
    assert np.isnan(limit.value)
    assert np.isnan(stability.light_back_limit(mixture(np.nan)).value)


def test_a_rich_limit_needs_only_the_stoichiometric_flame() -> None:
    assert np.isfinite(stability.lift_limit(1.7, mixture(np.nan), mixture()).value)


def test_yellow_tip_of_a_blend_is_the_bulletin_factor_of_the_blend() -> None:
    from burnerlab.gas.interchangeability import bulletin_factors

    gas = load("natural-gas-typical")
    limit = stability.yellow_tip_limit(gas).limit  # type: ignore[arg-type]
    assert limit is not None
    assert float(limit.value) == pytest.approx(bulletin_factors(gas).Y)  # type: ignore[arg-type]
    assert float(limit.low) < float(limit.value) < float(limit.high)


def test_hydrogen_has_no_yellow_tips_and_an_odd_fuel_no_constants() -> None:
    hydrogen = stability.yellow_tip_limit(load("hydrogen"))  # type: ignore[arg-type]
    assert hydrogen.limit is None
    assert "yellow" in hydrogen.why_not
    odd = stability.yellow_tip_limit(mix({"acetylene": 1.0}, per="mole"))
    assert odd.limit is None
    assert "constant" in odd.why_not
