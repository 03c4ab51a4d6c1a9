"""The Monte Carlo run against the linear budget, and what it says of production."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from appliance_cases import SMALL, target

from burnerlab.appliance import Appliance, Spread, demonstration, read_appliance_text, tolerance
from burnerlab.appliance.conversion.markets import market_named
from burnerlab.appliance.project.model import AS_MADE, CAUSES, IN_USE
from burnerlab.appliance.study.monte_carlo import default_spreads
from burnerlab.quantity import UserError

NOTHING = {cause: Spread(shape="uniform", half_width=0.0, source="none") for cause in CAUSES}
DRAWS = 50_000


def only(cause: str, half_width: float, shape: str = "uniform") -> dict[str, Spread]:
    return {**NOTHING, cause: Spread(shape=shape, half_width=half_width, source="test")}  # type: ignore[arg-type]


def test_the_linear_budget_is_met(cart: Appliance) -> None:
    result = tolerance(cart, draws=200_000)
    for spread in (*result.burners, result.total):
        # four standard errors of a standard deviation, and the second-order terms of the product
        assert spread.standard_deviation_W == pytest.approx(
            spread.linear_standard_deviation_W, rel=4 / math.sqrt(2 * 200_000) + 2e-3
        )


def test_no_spread_in_is_no_spread_out(cart: Appliance) -> None:
    result = tolerance(cart, draws=1000, spreads=NOTHING)
    for spread in result.burners:
        assert spread.standard_deviation_W == pytest.approx(0.0, abs=1e-9)
        assert spread.mean_gross_W == pytest.approx(spread.nominal_gross_W, rel=1e-12)
        assert spread.dominant_cause == ""


@pytest.mark.parametrize(
    ("cause", "half_width", "power"),
    [("drill", 0.005, 2.0), ("pressure", 0.02, 0.5), ("coefficient", 0.02, 1.0), ("wobbe", 0.02, 1.0)],
)
def test_one_cause_alone_gives_its_power_of_the_spread(
    cart: Appliance, cause: str, half_width: float, power: float
) -> None:
    spread = tolerance(cart, draws=DRAWS, spreads=only(cause, half_width)).burners[0]
    expected = power * half_width / math.sqrt(3)
    assert spread.standard_deviation_W / spread.nominal_gross_W == pytest.approx(expected, rel=0.02)
    assert spread.dominant_cause == cause
    assert next(c.variance_fraction for c in spread.causes if c.cause == cause) == pytest.approx(1.0)


def test_temperature_acts_by_the_root_of_the_density(cart: Appliance) -> None:
    spread = tolerance(cart, draws=DRAWS, spreads=only("temperature", 10.0)).burners[0]
    assert spread.standard_deviation_W / spread.nominal_gross_W == pytest.approx(
        0.5 * 10 / math.sqrt(3) / 288.15, rel=0.03
    )


@pytest.mark.parametrize(
    ("shape", "divisor"), [("uniform", math.sqrt(3)), ("triangular", math.sqrt(6)), ("normal", 1.0)]
)
def test_each_shape_has_its_standard_deviation(cart: Appliance, shape: str, divisor: float) -> None:
    spread = tolerance(cart, draws=DRAWS, spreads=only("wobbe", 0.02, shape)).burners[0]
    assert spread.standard_deviation_W / spread.nominal_gross_W == pytest.approx(0.02 / divisor, rel=0.02)


def test_twice_the_spread_is_twice_the_result(cart: Appliance) -> None:
    once = tolerance(cart, draws=DRAWS, spreads=only("pressure", 0.01)).burners[0]
    twice = tolerance(cart, draws=DRAWS, spreads=only("pressure", 0.02)).burners[0]
    assert twice.standard_deviation_W == pytest.approx(2 * once.standard_deviation_W, rel=0.01)


def test_shared_causes_do_not_average_out_and_holes_do(cart: Appliance) -> None:
    shared = tolerance(cart, draws=DRAWS, spreads=only("pressure", 0.05))
    own = tolerance(cart, draws=DRAWS, spreads=only("coefficient", 0.05))
    one = shared.burners[0].standard_deviation_W / shared.burners[0].nominal_gross_W
    assert shared.total.standard_deviation_W / shared.total.nominal_gross_W == pytest.approx(one, rel=1e-3)
    weights = [spread.nominal_gross_W / own.total.nominal_gross_W for spread in own.burners]
    expected = 0.05 / math.sqrt(3) * math.sqrt(sum(w**2 for w in weights))
    assert own.total.standard_deviation_W / own.total.nominal_gross_W == pytest.approx(expected, rel=0.02)


def test_copies_of_a_burner_average_like_burners() -> None:
    appliance = read_appliance_text(SMALL)
    four = replace(appliance, burners=(replace(appliance.burners[0], count=4),))
    result = tolerance(four, draws=DRAWS, spreads=only("coefficient", 0.05))
    assert result.total.nominal_gross_W == pytest.approx(4 * result.burners[0].nominal_gross_W)
    relative = result.total.standard_deviation_W / result.total.nominal_gross_W
    assert relative == pytest.approx(0.05 / math.sqrt(3) / 2, rel=0.02)


def test_the_same_seed_is_the_same_result_and_another_is_not(cart: Appliance) -> None:
    one, same, other = (tolerance(cart, draws=2000, seed=seed) for seed in (3, 3, 4))
    assert one == same
    assert one.burners[0].mean_gross_W != other.burners[0].mean_gross_W


def test_shares_outside_the_band(cart: Appliance) -> None:
    result = tolerance(cart, draws=DRAWS)
    worst = max(spread.outside_fraction for spread in result.burners)
    assert worst <= result.any_outside_fraction <= sum(spread.outside_fraction for spread in result.burners)
    assert result.standard_error == pytest.approx(
        math.sqrt(result.any_outside_fraction * (1 - result.any_outside_fraction) / DRAWS)
    )
    wide = replace(
        cart, limits=replace(cart.limits, tolerance=replace(cart.limits.tolerance, low=-0.5, high=0.5))
    )
    assert tolerance(wide, draws=2000).any_outside_fraction == 0.0


def test_a_uniform_spread_lies_outside_by_its_geometry() -> None:
    from appliance_cases import rated_as_it_burns

    appliance = rated_as_it_burns(read_appliance_text(SMALL))
    spread = tolerance(appliance, draws=200_000, spreads=only("wobbe", 0.10)).burners[0]
    assert spread.below_fraction == pytest.approx(0.25, abs=4 * math.sqrt(0.25 * 0.75 / 200_000))
    assert spread.above_fraction == pytest.approx(0.25, abs=4 * math.sqrt(0.25 * 0.75 / 200_000))
    low, high = spread.low_gross_W / spread.nominal_gross_W, spread.high_gross_W / spread.nominal_gross_W
    assert (low, high) == pytest.approx((0.905, 1.095), abs=1e-3)


def test_histograms_hold_every_draw(cart: Appliance) -> None:
    result = tolerance(cart, draws=3000)
    for spread in (*result.burners, result.total):
        assert sum(spread.bin_counts) == 3000
        assert len(spread.bin_edges_W) == len(spread.bin_counts) + 1
        assert (
            spread.bin_edges_W[0]
            <= spread.low_gross_W
            <= spread.mean_gross_W
            <= spread.high_gross_W
            <= spread.bin_edges_W[-1]
        )


def test_a_changed_appliance_spreads_about_its_new_drills(cart: Appliance) -> None:
    new = tolerance(cart, target("propane", 2740.0), draws=2000)
    assert new.gas == "propane"
    assert new.burners[0].nominal_gross_W == pytest.approx(3617.0, rel=1e-2)


def test_the_files_own_spreads_are_used() -> None:
    text = SMALL + '[tolerance]\npressure = { shape = "normal", spread = "10 %", source = "our bench" }\n'
    result = tolerance(read_appliance_text(text), draws=2000)
    pressure = next(c for c in result.burners[0].causes if c.cause == "pressure")
    assert pressure.words == "normal, standard deviation 10 %"
    assert pressure.source == "our bench"
    assert result.burners[0].dominant_cause == "pressure"


@pytest.mark.parametrize(
    ("spreads", "draws", "words"),
    [
        (
            {"pressure": Spread(shape="normal", half_width=0.4, source="x")},
            2000,
            "too wide for a random draw",
        ),
        ({"wind": Spread(shape="normal", half_width=0.1, source="x")}, 2000, "unknown cause"),
        (
            {"wobbe": Spread(shape="uniform", half_width=math.nan, source="x")},
            2000,
            "too wide for a random draw",
        ),
        ({}, 10, "number of draws"),
        ({}, 10**9, "number of draws"),
    ],
)
def test_what_cannot_be_drawn_is_refused(
    cart: Appliance, spreads: dict[str, Spread], draws: int, words: str
) -> None:
    with pytest.raises(UserError, match=words):
        tolerance(cart, draws=draws, spreads=spreads)


def test_shipped_spreads_name_their_source() -> None:
    assert set(default_spreads()) == {"setting", "pressure", "coefficient", "wobbe", "temperature"}
    for spread in default_spreads().values():
        assert "(" in spread.source


def test_the_unit_as_made_is_kept_apart_from_gas_and_place(cart: Appliance) -> None:
    result = tolerance(cart, target("propane", 2740.0), draws=DRAWS)
    assert (result.end_of_line.name, result.in_the_field.name) == ("at the end of the line", "in the field")
    assert set(result.end_of_line.causes) == set(AS_MADE) == {"drill", "coefficient", "setting"}
    assert set(result.in_the_field.causes) == set(CAUSES)
    assert set(IN_USE) == set(CAUSES) - set(AS_MADE)
    for line, field in zip(result.end_of_line.burners, result.in_the_field.burners, strict=True):
        assert line.standard_deviation_W < field.standard_deviation_W
        assert sum(cause.variance_fraction for cause in line.causes) == pytest.approx(1.0)
    assert result.end_of_line.any_outside_fraction < result.in_the_field.any_outside_fraction


@pytest.mark.parametrize("cause", IN_USE)
def test_what_gas_and_place_do_never_reaches_the_end_of_the_line(cart: Appliance, cause: str) -> None:
    wide = 20.0 if cause == "temperature" else 0.05
    result = tolerance(cart, draws=2000, spreads=only(cause, wide))
    for line, field in zip(result.end_of_line.burners, result.in_the_field.burners, strict=True):
        assert line.standard_deviation_W == pytest.approx(0.0, abs=1e-9)
        assert field.standard_deviation_W > 0.01 * field.nominal_gross_W


@pytest.mark.parametrize("cause", AS_MADE)
def test_what_the_unit_is_made_with_is_the_same_at_both_stages(cart: Appliance, cause: str) -> None:
    result = tolerance(cart, draws=2000, spreads=only(cause, 0.01))
    for line, field in zip(result.end_of_line.burners, result.in_the_field.burners, strict=True):
        assert line.standard_deviation_W == pytest.approx(field.standard_deviation_W, rel=1e-9)
        assert line.standard_deviation_W > 0.0


def test_the_setting_acts_as_the_root_of_the_pressure(cart: Appliance) -> None:
    spread = tolerance(cart, draws=DRAWS, spreads=only("setting", 0.02)).end_of_line.burners[0]
    assert spread.standard_deviation_W / spread.nominal_gross_W == pytest.approx(
        0.5 * 0.02 / math.sqrt(3), rel=0.02
    )
    assert spread.standard_deviation_W == pytest.approx(spread.linear_standard_deviation_W, rel=0.02)


def test_the_demonstration_shows_every_key_of_its_spreads(cart: Appliance) -> None:
    assert set(cart.spreads) == set(CAUSES) - {"drill"}  # its drills have the tolerance of their table


def test_the_pressure_of_a_couple_spreads_over_the_range_of_the_gas_table() -> None:
    """G30 at 28 to 30 mbar of a couple is tested from 20 to 35 mbar (EN 437, recalled); the flow goes with the root."""
    market = market_named(demonstration(), "B")
    causes = {
        name: next(one for one in result.burners[0].causes if one.cause == "pressure")
        for name, result in (
            ("table", tolerance(replace(market.appliance, spreads={}), market.targets[0], draws=DRAWS)),
            ("file", tolerance(market.appliance, market.targets[0], draws=1000)),
        )
    }
    low, high = 20.0 / 29.0, 35.0 / 29.0
    mean = (high**1.5 - low**1.5) / (high - low) / 1.5
    expected = math.sqrt((high + low) / 2.0 - mean**2)
    assert causes["table"].relative_standard_deviation == pytest.approx(expected, rel=0.02)
    assert causes["table"].words == "uniform, -31 to +21 % of the nominal, the range of the gas table"
    assert causes["file"].words == "uniform, ±5 %"
