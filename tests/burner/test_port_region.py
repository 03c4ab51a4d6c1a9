"""The region of ports, throat and air inlet: each variant shown holds by itself, and what must always be so."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest

from burnerlab.burner.burner import BurnerGeometry, EvaluationOptions, MixtureTemperatures
from burnerlab.burner.checks import burner_checks, flame_checks, rule_for, rules
from burnerlab.burner.evaluation import evaluate, fuel_with_flame
from burnerlab.burner.port_region import (
    PortGas,
    PortRegion,
    PortSpace,
    PortTolerance,
    PortVariants,
    _sobol,
    geometries,
    port_region,
    port_variants,
)
from burnerlab.burner.primary_air import COLD
from burnerlab.gas import Gas, load
from burnerlab.orifice import Conditions, size
from burnerlab.tables.verdict import Verdict

RATE_W = 3663.0
HOT = MixtureTemperatures(head_ratio=1.15, port_rise=1.1)
BURNER = BurnerGeometry(
    port_width_m=1.6e-3, port_count=180, port_depth_m=3e-3, orifice_diameter_m=1.4e-3, throat_m=15.5e-3,
    shutter_area_m2=155e-6, shutter_opening=0.66,
)  # fmt: skip
SPACE = PortSpace(heat_input_gross_W=RATE_W, row_length_m=0.4)
SOME = 4096
# orifice, port and throat at either end of the default tolerance, written out
CORNERS = np.array(
    [(area**0.5, port, throat) for area in (0.98, 1.02) for port in (-3e-5, 3e-5) for throat in (-1e-4, 1e-4)]
)


def on(name: str, pressure_Pa: float, rate_W: float = RATE_W) -> PortGas:
    gas = load(name)
    assert isinstance(gas, Gas)
    sized = size(gas, rate_W, "gross", Conditions(gauge_pressure_Pa=pressure_Pa), 0.9)
    return PortGas(
        title=name, fuel=fuel_with_flame(gas), gauge_pressure_Pa=pressure_Pa, orifice_diameter_m=sized.diameter_m,
        orifice_coefficient=0.9, highest_gauge_pressure_Pa=1.15 * pressure_Pa,
        lowest_gauge_pressure_Pa=0.85 * pressure_Pa, turndown=1 / 3, hot_full=HOT, hot_low=HOT,
    )  # fmt: skip


@pytest.fixture(scope="module")
def gases() -> tuple[PortGas, ...]:
    return on("natural-gas-typical", 1740.0), on("propane", 2740.0)


@pytest.fixture(scope="module")
def region(gases: tuple[PortGas, ...]) -> PortRegion:
    return port_region(BURNER, gases, SPACE, variants=port_variants(SPACE, SOME))


def single(some: BurnerGeometry, shape: tuple[int, int], place: tuple[int, int]) -> BurnerGeometry:
    """One burner of a geometry of arrays, as one would write it."""
    values = {f.name: getattr(some, f.name) for f in fields(BurnerGeometry)}
    return BurnerGeometry(
        **{
            name: float(np.broadcast_to(value, shape)[place]) if isinstance(value, np.ndarray) else value
            for name, value in values.items()
        }
    )


def missed(burner: BurnerGeometry, gas: PortGas) -> list[str]:
    """Limits that the ordinary evaluation of one burner finds outside, cold and hot, at the pressures that bind."""
    cold = EvaluationOptions(temperatures=COLD, band=False)
    low = replace(cold, load=gas.turndown, temperatures=gas.hot_low)

    def state(pressure_Pa: float | None, options: EvaluationOptions):
        assert pressure_Pa is not None
        return evaluate(burner, gas.fuel, pressure_Pa, gas.surroundings, options)

    found = [
        *(one for one in burner_checks(state(gas.gauge_pressure_Pa, cold)) if one.topic in OF_THE_DRAWING),
        *flame_checks(state(gas.highest_gauge_pressure_Pa, cold), None, ("lift",)),
        *flame_checks(state(gas.lowest_gauge_pressure_Pa, low), None, ("light-back", "yellow tipping")),
        *flame_checks(
            state(gas.gauge_pressure_Pa, replace(cold, temperatures=gas.hot_full)), None, ("yellow tipping",)
        ),
    ]
    verdicts = {one.topic: one.verdict for one in found}
    assert {*OF_THE_DRAWING, "light-back", "yellow tipping"} <= set(verdicts)
    return [topic for topic, verdict in verdicts.items() if verdict == Verdict.OUTSIDE]


OF_THE_DRAWING = (
    "primary aeration",
    "port loading",
    "port diameter",
    "port depth over diameter",
    "throat over port area",
)


def figures(burner: BurnerGeometry, gas: PortGas) -> dict[str, np.ndarray]:
    """What the rules of ports and air are held against, by rule, from evaluations of one burner at its corners."""
    cold = EvaluationOptions(temperatures=COLD, band=False)
    low = replace(cold, load=gas.turndown, temperatures=gas.hot_low)
    place, usual, port = gas.surroundings, gas.gauge_pressure_Pa, np.asarray(burner.port_width_m)
    nominal = evaluate(burner, gas.fuel, usual, place, cold)
    highest = evaluate(burner, gas.fuel, gas.highest_gauge_pressure_Pa, place, cold)
    lowest = evaluate(burner, gas.fuel, gas.lowest_gauge_pressure_Pa, place, low)
    hot = evaluate(burner, gas.fuel, usual, place, replace(cold, temperatures=gas.hot_full))
    return {
        "primary aeration": nominal.primary_aeration,
        "port loading": nominal.port_loading_W_per_mm2,
        "port diameter": 1e3 * port,
        "port depth over diameter": burner.port_depth_m / port,
        "throat over port area": burner.throat_area_m2 / burner.port_area_m2,
        "lift margin": highest.lift_margin,
        "light-back margin": lowest.light_back_margin,
        "yellow-tip margin": np.minimum(lowest.yellow_tip_margin, hot.yellow_tip_margin),
    }


def test_every_variant_shown_holds_by_itself_at_every_corner(
    region: PortRegion, gases: tuple[PortGas, ...]
) -> None:
    """One variant at a time, each figure against its rule; the least of them is the slack that is shown."""
    holding = np.flatnonzero(region.holds)
    assert holding.size >= 40
    places = holding[np.linspace(0, holding.size - 1, 40).astype(int)]
    least = []
    for place in places:
        made = geometries(BURNER, region.variants.part(np.array([place])), SPACE, CORNERS)
        port = np.ravel(made.port_width_m)
        ends = [np.ravel(made.port_pitch_m) / port / SPACE.least_pitch - 1.0]
        one = replace(made, port_width_m=port, throat_m=np.ravel(made.throat_m))
        for gas in gases:
            orifice = gas.orifice_diameter_m * CORNERS[:, 0]
            fed = replace(one, orifice_diameter_m=orifice, orifice_coefficient=gas.orifice_coefficient)
            for name, values in figures(fed, gas).items():
                rule = rule_for(name, gas.fuel.group)
                verdicts = {rule.verdict(float(value)) for value in values}
                assert verdicts <= {Verdict.WITHIN, Verdict.NEAR}, (place, gas.title, name, values)
                ends += [] if rule.low is None else [values / rule.low - 1.0]
                ends += [] if rule.high is None else [1.0 - values / rule.high]
        least.append(float(np.min(ends)))
    np.testing.assert_allclose(
        np.minimum(least, region.slack[places]), region.corner_slack[places], atol=1e-9
    )


def corner_burners(region: PortRegion, count: int) -> Iterator[tuple[int, BurnerGeometry, float]]:
    """So many variants of the region at all eight corners: which, the burner, and its orifice over that of the rate."""
    holding = np.flatnonzero(region.holds)
    places = holding[np.linspace(0, holding.size - 1, count).astype(int)]
    made = geometries(BURNER, region.variants.part(places), SPACE, CORNERS)
    for k, place in enumerate(places):
        for corner, (ratio, _, _) in enumerate(CORNERS):
            yield int(place), single(made, (len(CORNERS), count), (corner, k)), float(ratio)


def test_no_check_that_burner_prints_is_outside(region: PortRegion, gases: tuple[PortGas, ...]) -> None:
    for place, burner, ratio in corner_burners(region, 3):
        for gas in gases:
            fed = replace(burner, orifice_diameter_m=gas.orifice_diameter_m * ratio, orifice_coefficient=0.9)
            assert not missed(fed, gas), (place, gas.title)


def test_a_variant_outside_the_region_misses_a_limit_by_itself(
    region: PortRegion, gases: tuple[PortGas, ...]
) -> None:
    """The other way round: what is grey or blank is not left out for nothing."""
    outside = np.flatnonzero(region.slack < 0.0)
    some = region.variants.part(outside[:: outside.size // 25])
    made = geometries(BURNER, some, SPACE)
    for k in range(len(some)):
        burner = single(made, (1, len(some)), (0, k))
        is_crowded = burner.port_pitch_m < SPACE.least_pitch * burner.port_width_m
        fed = [
            replace(burner, orifice_diameter_m=gas.orifice_diameter_m, orifice_coefficient=0.9)
            for gas in gases
        ]
        assert is_crowded or any(missed(one, gas) for one, gas in zip(fed, gases, strict=True))


def test_designs_hold_and_the_present_burner_is_the_one_given(region: PortRegion) -> None:
    assert 1 <= len(region.designs) <= 6
    for design in region.designs:
        assert design.holds
        assert design.slack >= design.corner_slack >= 0.0
        assert design.inlet_low_m2 <= design.inlet_area_m2 <= design.inlet_high_m2
    assert region.nearest_miss is None
    assert not region.relaxations
    assert (region.present.port_count, region.present.throat_diameter_m) == (180, 15.5e-3)
    assert region.present.inlet_area_m2 == pytest.approx(0.66 * 155e-6)
    nearest = next(one for one in region.designs if "nearest" in one.label)
    assert abs(np.log(nearest.throat_diameter_m / 15.5e-3)) < 0.2


# what must always be so


def holding(region: PortRegion) -> set[int]:
    return set(np.flatnonzero(region.holds))


def again(region: PortRegion, gases: Sequence[PortGas], space: PortSpace = SPACE, **more) -> set[int]:
    """The same variants with something else."""
    return holding(port_region(BURNER, gases, space, variants=region.variants, **more))


def test_corners_are_part_of_what_holds_at_nominal(region: PortRegion) -> None:
    assert np.all(region.slack[region.holds] >= region.corner_slack[region.holds])
    assert region.clear_fraction <= region.corners_fraction <= region.nominal_fraction


@pytest.mark.parametrize(
    "wider",
    [
        PortTolerance(orifice_area=0.05),
        PortTolerance(port_m=0.06e-3),
        PortTolerance(throat_m=0.3e-3),
    ],
)
def test_a_wider_tolerance_never_enlarges_the_region(
    region: PortRegion, gases: tuple[PortGas, ...], wider: PortTolerance
) -> None:
    """Seen on the corners: those of a wider tolerance lie further out on each limit."""
    assert again(region, gases, tolerance=wider) < holding(region)


def test_without_tolerance_the_region_is_what_holds_at_nominal(
    region: PortRegion, gases: tuple[PortGas, ...]
) -> None:
    exact = PortTolerance(orifice_area=0.0, port_m=0.0, throat_m=0.0)
    assert again(region, gases, tolerance=exact) == set(np.flatnonzero(region.slack >= 0.0))


def test_another_gas_never_enlarges_the_region(region: PortRegion, gases: tuple[PortGas, ...]) -> None:
    for gas in gases:
        assert holding(region) <= again(region, [gas])
    assert again(region, [*gases, on("G30", 2900.0)]) <= holding(region)


@pytest.mark.parametrize(
    "narrower",
    [
        replace(SPACE, row_length_m=0.3),
        replace(SPACE, rows=1),
        replace(SPACE, least_pitch=2.5),
        replace(SPACE, throat_m=(12e-3, 15e-3)),
    ],
)
def test_a_narrower_box_is_a_part_of_the_region(
    region: PortRegion, gases: tuple[PortGas, ...], narrower: PortSpace
) -> None:
    assert again(region, gases, narrower) < holding(region)


def test_a_stricter_rule_of_ones_own_never_enlarges_the_region(
    region: PortRegion, gases: tuple[PortGas, ...], tmp_path: Path
) -> None:
    own = tmp_path / "rules.csv"
    own.write_text(
        "name,group,low,high,near_low,near_high,unit,source,place,provenance,note\n"
        "lift margin,any,1.1,,1.3,,-,my own,bench,measured here,\n"
    )
    assert again(region, gases, own_rules=own) < holding(region)


def test_a_rule_of_ones_own_for_every_gas_is_held_against_each(
    region: PortRegion, gases: tuple[PortGas, ...], tmp_path: Path
) -> None:
    """Port loading of a gas at a higher rate, whichever gas is named first."""
    own = tmp_path / "rules.csv"
    own.write_text(
        "name,group,low,high,near_low,near_high,unit,source,place,provenance,note\n"
        "port loading,any,5,9,6,8,W/mm2,my own,bench,measured here,\n"
    )
    both = [gases[0], on("propane", 2740.0, 1.05 * RATE_W)]
    found = again(region, both, own_rules=own)
    assert found == again(region, both[::-1], own_rules=own)
    assert found < again(region, both[:1], own_rules=own)


def test_a_variant_is_the_same_alone_and_among_others(region: PortRegion, gases: tuple[PortGas, ...]) -> None:
    places = np.flatnonzero(region.holds)[:3]
    alone = [port_region(BURNER, gases, SPACE, variants=region.variants.part(np.array([k]))) for k in places]
    np.testing.assert_allclose(
        [float(one.corner_slack[0]) for one in alone], region.corner_slack[places], rtol=1e-9
    )


def test_every_rule_of_ports_and_air_is_looked_at(region: PortRegion) -> None:
    """One that is added to the table and not here would let variants through."""
    names = {rule.name for rule in rules() if rule.low is not None or rule.high is not None}
    known = {"lift margin": "lift", "light-back margin": "light-back", "yellow-tip margin": "yellow tipping"}
    limits = {known.get(name, name) for name in names - {"port loading for design"}}  # shown, not judged by
    assert limits | {"port pitch over diameter"} == {one.limit for one in region.limits}


# the variants


def test_the_points_of_variants_are_those_of_scipy() -> None:
    from scipy.stats import qmc

    assert np.array_equal(_sobol(4096), qmc.Sobol(4, scramble=False).random(4096))


def test_variants_lie_in_the_box_in_the_steps_of_a_drawing() -> None:
    some = port_variants(SPACE, 1024)
    assert np.all((some.port_m >= 1e-3) & (some.port_m <= 2.6e-3))
    for values, step in (
        (some.port_m, 1e-5),
        (some.throat_m, 1e-4),
        (some.inlet_m2, 1e-6),
        (some.count, 1.0),
    ):
        np.testing.assert_allclose(values / step, np.round(values / step), atol=1e-6)
    loading = RATE_W / (some.port_area_m2 * 1e6)
    many = some.count > 100  # a whole number of few ports misses its loading
    assert np.all((loading[many] > 4.9) & (loading[many] < 14.6))


def test_only_the_drills_named_are_taken() -> None:
    some = port_variants(replace(SPACE, drills_m=(1.5e-3, 1.3e-3, 1.8e-3)), 256)
    values, counts = np.unique(some.port_m, return_counts=True)
    assert values.tolist() == [1.3e-3, 1.5e-3, 1.8e-3]
    assert counts.max() - counts.min() <= 2


# where nothing holds


@pytest.fixture(scope="module")
def empty(gases: tuple[PortGas, ...]) -> PortRegion:
    """Methane and butane on a small burner: an opening with air enough for butane lifts on methane."""
    space = PortSpace(heat_input_gross_W=2640.0, row_length_m=0.4)
    both = (on("G20", 2000.0, 2640.0), on("G30", 2900.0, 2640.0))
    return port_region(BURNER, both, space)


def test_an_empty_region_says_what_binds_and_what_opens_it(empty: PortRegion) -> None:
    assert empty.corners_fraction == 0.0
    assert not empty.designs
    assert empty.nearest_miss.corner_slack < 0.0
    gas, limit = empty.nearest_miss.binding_gas, empty.nearest_miss.binding_limit
    assert (gas, limit) in {(one.gas, one.limit) for one in empty.limits if one.missed_fraction > 0.0}
    opened = {one.words: one.corners_fraction for one in empty.relaxations}
    assert opened["without G20"] > 0.0
    assert opened["without G30"] > 0.0
    assert opened["turned down half as far"] == 0.0


def test_what_misses_nothing_alone_may_still_bind(empty: PortRegion) -> None:
    for one in empty.limits:
        assert 0.0 <= one.missed_alone_fraction <= one.missed_fraction <= 1.0
    assert empty.limits[0].missed_fraction == max(one.missed_fraction for one in empty.limits)


def test_fractions_of_what_ends_a_region_are_of_all_variants(
    region: PortRegion, gases: tuple[PortGas, ...]
) -> None:
    """What misses one limit alone holds every other; in a wall too thin for any port, lift is missed as well."""
    thin = port_region(replace(BURNER, port_depth_m=1.4e-3), gases, SPACE, variants=region.variants)
    for found in (region, thin):
        for one in found.limits:
            others = [each.missed_fraction for each in found.limits if each is not one]
            assert one.missed_alone_fraction + max(others) <= 1.0
        alone = sum(one.missed_alone_fraction for one in found.limits)
        assert 0.0 < alone <= 1.0 - found.nominal_fraction
    missed = {(one.gas, one.limit): one.missed_fraction for one in thin.limits}
    assert missed["", "port depth over diameter"] == 1.0
    assert all(missed[gas.title, "lift"] > 0.3 for gas in gases)


@pytest.mark.parametrize(("pitch_m", "rows"), [(None, None), (3.0e-3, 2), (4.4e-3, 2)])
def test_the_pitch_of_the_present_ports_is_theirs_and_rows_are_not_invented(
    gases: tuple[PortGas, ...], pitch_m: float | None, rows: int | None
) -> None:
    """What ``evaluate`` does not judge, or not outside, binds no present burner; below 2.5 d it is near alone."""
    burner = replace(BURNER, port_pitch_m=pitch_m, port_rows=rows)
    space = replace(SPACE, rows=rows)
    found = port_region(burner, gases[:1], space, variants=port_variants(space, 64))
    assert found.present is not None
    assert found.present.port_pitch_m == pitch_m
    assert found.present.binding_limit != "port pitch over diameter"
    assert ("port pitch over diameter" in {one.limit for one in found.limits}) == (rows is not None)
    assert any("rows are not given" in one for one in found.not_evaluated) == (rows is None)


def test_rows_that_are_too_short_are_opened_by_longer_ones(gases: tuple[PortGas, ...]) -> None:
    space = replace(SPACE, rows=1, row_length_m=0.25)
    found = port_region(BURNER, gases, space)
    assert found.corners_fraction == 0.0
    assert -0.2 < found.nearest_miss.slack < 0.0
    assert found.nearest_miss.binding_limit == "port pitch over diameter"
    opened = {one.words: one.corners_fraction for one in found.relaxations}
    assert opened["2 rows of ports"] > 0.0
    assert np.all(found.slack <= found.nearest_miss.slack + 1e-12)


def test_no_variants_is_an_empty_region_and_no_error(gases: tuple[PortGas, ...]) -> None:
    none = PortVariants(port_m=np.zeros(0), count=np.zeros(0), throat_m=np.zeros(0), inlet_m2=np.zeros(0))
    found = port_region(BURNER, gases, SPACE, variants=none)
    assert (found.nominal_fraction, found.corners_fraction, found.designs, found.nearest_miss) == (
        0.0,
        0.0,
        (),
        None,
    )
    state = evaluate(geometries(BURNER, none, SPACE), gases[0].fuel, 1740.0)
    assert state.lift_margin_band.shape == (0, 2)


def test_a_gas_is_needed() -> None:
    with pytest.raises(ValueError, match="gas"):
        port_region(BURNER, [], SPACE)


def test_a_limit_that_is_not_known_is_listed_and_not_held_against(gases: tuple[PortGas, ...]) -> None:
    """Hydrogen has no yellow tips."""
    hydrogen = on("hydrogen", 2000.0)
    found = port_region(BURNER, [hydrogen], SPACE, variants=port_variants(SPACE, 64))
    assert any("yellow tipping" in line for line in found.not_evaluated)
    assert "yellow tipping" not in {one.limit for one in found.limits}
    assert rule_for("lift margin", hydrogen.fuel.group) is not None
