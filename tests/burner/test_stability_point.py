"""Points of the user beside the limits: the side they fall on, the band, and that nothing is learned from them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from burnerlab.burner.burner import BurnerFuel, BurnerGeometry, EvaluationOptions, Surroundings
from burnerlab.burner.evaluation import evaluate
from burnerlab.burner.stability_point import FlameObservation, StabilityPoint, stability_point


def seen(flame: str) -> FlameObservation:
    return FlameObservation(burner="ring", gas="methane", load=1.0, flame=flame)  # type: ignore[arg-type]


def placed(observation: FlameObservation, ring: BurnerGeometry, methane: BurnerFuel) -> StabilityPoint:
    return stability_point(observation, ring, methane, 1000.0, Surroundings(), EvaluationOptions())


@pytest.mark.parametrize(
    ("flame", "aeration", "load", "limit", "side", "comparison"),
    [
        ("lifts", 0.95, 1.0, "lift", "beyond", "as the model"),
        ("sits", 0.60, 0.6, "lift", "inside", "as the model"),
        ("lifts", 0.55, 1.0, "lift", "inside", "within the band of the limit"),
        ("sits", 0.95, 1.0, "lift", "beyond", "against the model"),
        ("lights back", 0.95, 0.02, "light-back", "beyond", "as the model"),
        ("lights back", 0.95, 1.0, "light-back", "inside", "against the model"),
        ("yellow tips", 0.15, 1.0, "yellow tipping", "beyond", "as the model"),
        ("yellow tips", 0.60, 1.0, "yellow tipping", "inside", "against the model"),
        ("lifts", 0.30, 1.0, "lift", "not evaluated", "not evaluated"),
    ],
)
def test_the_side_of_the_models_limit(
    flame: str,
    aeration: float,
    load: float,
    limit: str,
    side: str,
    comparison: str,
    ring: BurnerGeometry,
    methane: BurnerFuel,
) -> None:
    observation = replace(seen(flame), aeration=aeration, load=load)
    point = placed(observation, ring, methane)
    assert (point.limit, point.side, point.comparison) == (limit, side, comparison)
    assert point.aeration == pytest.approx(aeration)
    assert point.aeration_origin == "measured"


def test_a_point_takes_its_own_shutter_rate_and_pressure(ring: BurnerGeometry, methane: BurnerFuel) -> None:
    observation = replace(seen("sits"), opening=0.35, load=0.4, gauge_pressure_Pa=1300.0)
    point = placed(observation, ring, methane)
    state = evaluate(
        replace(ring, shutter_opening=0.35), methane, 1300.0, Surroundings(), EvaluationOptions(load=0.4)
    )
    assert point.aeration == pytest.approx(float(state.primary_aeration))
    assert point.aeration_origin == "calculated"
    assert point.port_loading_W_per_mm2 == pytest.approx(float(state.port_loading_W_per_mm2))


def test_nothing_is_learned_from_a_point(ring: BurnerGeometry, methane: BurnerFuel) -> None:
    """A point that contradicts the model leaves its limit where it is."""
    before = evaluate(ring, methane, 1000.0).lift_margin
    placed(replace(seen("sits"), aeration=0.95), ring, methane)
    assert evaluate(ring, methane, 1000.0).lift_margin == before
