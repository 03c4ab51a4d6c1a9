"""What a record says that flames did, as stability points."""

from __future__ import annotations

from dataclasses import replace

from burnerlab.appliance import demonstration
from burnerlab.bench.learning.flame_observations import flame_observations
from burnerlab.bench.learning.samples import Sample


def sample(**seen: bool) -> Sample:
    cart = demonstration()
    return Sample(
        serial="C-0007",
        tested_at="2026-03-02T09:00:00+00:00",
        burner=cart.burners[0],
        gas=cart.supply.gas,
        gauge_pressure_Pa=1700.0,
        ambient_pressure_Pa=101325.0,
        gas_temperature_K=288.15,
        air_temperature_K=288.15,
        aeration=0.52,
        seen={name.replace("_", "-"): answer for name, answer in seen.items()},
    )


def test_a_limit_seen_crossed_is_a_point_and_a_flame_without_one_sits() -> None:
    points = flame_observations([sample(lift=True, yellow_tips=False), sample(lift=False, light_back=False)])
    assert [(point.flame, point.load) for point in points] == [("lifts", 1.0), ("sits", 1.0), ("sits", 1 / 3)]
    first = points[0]
    assert (first.opening, first.aeration, first.gauge_pressure_Pa) == (0.66, 0.52, 1700.0)
    assert first.source == "record, unit C-0007, 2026-03-02"
    assert first.gas == "natural-gas-typical"


def test_a_low_rate_that_is_not_stated_has_no_place() -> None:
    one = sample(light_back=True)
    assert flame_observations([replace(one, burner=replace(one.burner, turndown=None))]) == ()
    assert [point.flame for point in flame_observations([one])] == ["lights back"]


def test_what_was_not_looked_at_is_no_point() -> None:
    assert flame_observations([sample()]) == ()
