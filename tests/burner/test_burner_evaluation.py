"""One burner, or many, on a gas: relations of the whole chain, band, hot burners, what is not known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from burnerlab.burner.burner import (
    BurnerFuel,
    BurnerGeometry,
    EvaluationOptions,
    MixtureTemperatures,
    Surroundings,
    burner_fuel,
)
from burnerlab.burner.checks import burner_checks
from burnerlab.burner.coefficients import coefficients
from burnerlab.burner.evaluation import evaluate, light_back_margin, throttled_pressure_Pa
from burnerlab.burner.primary_air import (
    CAUSES,
    Move,
    air_per_gas,
    best_throat,
    best_throat_area_m2,
    burner_system,
    entrainment,
    moved_system,
    shutter_for,
)
from burnerlab.burner.stability_diagram import DiagramRate, OnGas, states_of, states_of_all
from burnerlab.gas import load


def test_aeration_and_loading_rise_with_pressure(ring: BurnerGeometry, methane: BurnerFuel) -> None:
    """The direction of the air as measured: Namkhat and Jugjai, Energy 35 (2010) 1701-1708, abstract."""
    found = evaluate(ring, methane, np.array([500.0, 1000.0, 2000.0]))
    assert (np.diff(found.primary_aeration) > 0).all()
    assert float(found.primary_aeration[2] / found.primary_aeration[0]) < 1.1
    assert (np.diff(found.port_loading_W_per_mm2) > 0).all()
    assert found.heat_input_gross_W[2] / found.heat_input_gross_W[0] == pytest.approx(2.0, rel=0.01)


def test_turndown_lowers_loading_and_air(ring: BurnerGeometry, methane: BurnerFuel) -> None:
    full, third = (
        evaluate(ring, methane, 1000.0, options=EvaluationOptions(load=load)) for load in (1.0, 1 / 3)
    )
    assert 0.85 < float(third.primary_aeration / full.primary_aeration) < 1.0
    assert float(third.port_loading_W_per_mm2) == pytest.approx(float(full.port_loading_W_per_mm2) / 3)
    assert float(third.wall_gradient_per_s) < float(full.wall_gradient_per_s) / 3
    assert float(third.lift_margin) > 3 * float(full.lift_margin)


def test_opening_the_shutter_brings_lift_nearer_and_takes_yellow_tips_away(ring, methane) -> None:
    found = evaluate(replace(ring, shutter_opening=np.linspace(0.2, 1.0, 17)), methane, 1000.0)
    assert (np.diff(found.primary_aeration) > 0).all()
    assert (np.diff(found.yellow_tip_margin) > 0).all()
    rich = found.at.gas_fraction > 1.2
    assert (np.diff(found.lift_margin[rich]) < 0).all()


def mixed(system, moved, cause):
    """The system with what one cause moves as in the other."""
    part, name = {
        "orifice": ("jet", "effective_area_m2"),
        "tube": ("tube", "loss"),
        "inlet": ("tube", "inlet_loss"),
        "ports": ("ports", "losses"),
        "outer": ("ports", "outer_pressure_Pa"),
        "theory": ("", "factor"),
    }[cause]
    if not part:
        return replace(system, **{name: getattr(moved, name)})
    new = getattr(getattr(moved, part), name)
    return replace(system, **{part: replace(getattr(system, part), **{name: new})})


def test_the_band_holds_the_value_and_lies_within_the_worst_case(ring, methane) -> None:
    found = evaluate(ring, methane, 1000.0)
    low, high = found.primary_aeration_band
    assert low < float(found.primary_aeration) < high
    place, asked = Surroundings(), EvaluationOptions()

    nominal = burner_system(ring, methane, found.flow, place, asked)
    for side, end in (("low", low), ("high", high)):
        together, alone = nominal, []
        for cause in CAUSES:
            if cause == "choked jet":  # of none here
                continue
            moves = [Move(cause=cause, side=side)]
            alone.append(float(entrainment(moved_system(nominal, moves, ring, asked, 0)).air_per_gas))
            together = mixed(together, moved_system(nominal, moves, ring, asked, 0), cause)
        worst = float(entrainment(together).air_per_gas)
        air = methane.stoichiometric_air
        assert abs(worst / air - float(found.primary_aeration)) > abs(end - float(found.primary_aeration))
        assert all(
            abs(r / air - float(found.primary_aeration)) <= abs(end - float(found.primary_aeration))
            for r in alone
        )


def test_what_the_file_gives_has_no_spread(ring, methane) -> None:
    known = replace(ring, orifice_coefficient_low=0.85, orifice_coefficient_high=0.85)
    sure = replace(known, tube_loss=0.5, port_discharge=0.7, inlet_loss=1.0)
    found = evaluate(sure, methane, 1000.0)
    theory = coefficients()["entrainment theory"]
    band = found.primary_aeration_band / found.primary_aeration
    assert band == pytest.approx([theory.low, theory.high], abs=0.002)  # but for the pressure from outside
    assert band[0] < theory.low
    assert band[1] > theory.high


def test_a_measured_ratio_of_hot_to_cold_air_is_the_ratio_printed(ring, methane) -> None:
    cold = evaluate(ring, methane, 1000.0)
    hot = evaluate(ring, methane, 1000.0, options=EvaluationOptions(hot_ratio=0.8))
    assert float(hot.primary_aeration / cold.primary_aeration) == pytest.approx(0.8)
    warm = evaluate(
        replace(ring, port_temperature_K=450.0), methane, 1000.0, options=EvaluationOptions(hot_ratio=0.8)
    )
    assert float(warm.primary_aeration) == pytest.approx(float(hot.primary_aeration))  # not taken off twice


@pytest.mark.parametrize("name", ["inlet_ratio", "throat_ratio", "head_ratio", "port_rise"])
def test_each_temperature_takes_air_off_but_that_of_the_gas_at_the_orifice(ring, methane, name) -> None:
    def air(**ratios):
        options = EvaluationOptions(temperatures=MixtureTemperatures(**ratios))
        return evaluate(ring, methane, 1000.0, options=options).primary_aeration

    ring = replace(ring, shutter_opening=0.35)  # the shutter rules its inlet, not the air's own speed
    drawn = air(**{name: np.array([1.0, 1.1, 1.3, 2.0])})
    assert float(drawn[0]) == pytest.approx(float(evaluate(ring, methane, 1000.0).primary_aeration))
    assert (np.diff(drawn) < 0).all()
    assert (np.diff(air(gas_ratio=np.array([1.0, 1.1, 1.3]))) > 0).all()


def test_the_port_temperature_of_the_file_and_of_the_options_are_one(ring, methane) -> None:
    file = evaluate(replace(ring, port_temperature_K=288.15 * 1.4), methane, 1000.0)
    options = EvaluationOptions(temperatures=MixtureTemperatures(port_rise=1.4))
    told = evaluate(ring, methane, 1000.0, options=options)
    assert float(told.primary_aeration) == pytest.approx(float(file.primary_aeration), rel=1e-12)
    assert float(told.at.light_back.value) == pytest.approx(float(file.at.light_back.value), rel=1e-12)


def test_hot_ports_alone_take_off_far_less_than_was_measured(ring, methane) -> None:
    """On one burner: 37 % less (Namkhat and Jugjai, Energy 35 (2010) 1701-1708, abstract)."""
    drawn = evaluate(
        replace(ring, port_temperature_K=np.array([288.15, 450.0])), methane, 1000.0
    ).primary_aeration
    assert 0.75 < drawn[1] / drawn[0] < 1.0


def test_hot_ports_raise_velocity_and_both_limits(ring, methane) -> None:
    given = EvaluationOptions(aeration=0.75)
    found = evaluate(
        replace(ring, port_temperature_K=np.array([300.0, 400.0, 460.0])), methane, 1000.0, options=given
    )
    assert (np.diff(found.wall_gradient_per_s) > 0).all()
    assert (np.diff(found.at.lift.value) > 0).all()
    assert (np.diff(found.at.light_back.value) > 0).all()


def test_thin_air_raises_the_velocity_at_the_same_heat(ring, methane) -> None:
    here, high = (
        evaluate(ring, methane, 1000.0, Surroundings(ambient_pressure_Pa=p), EvaluationOptions(aeration=0.6))
        for p in (101325.0, 75000.0)
    )
    per_heat = [float(f.at.velocity_m_per_s / f.heat_input_gross_W) for f in (here, high)]
    assert per_heat[1] / per_heat[0] == pytest.approx(101325.0 / 75000.0, rel=1e-9)


def test_a_choked_jet_draws_air_by_its_momentum_without_a_step(ring, methane) -> None:
    """Methane chokes at 12.3 psi (84.8 kPa). Past it the jet widens, and each cubic metre of gas brings less air."""
    wide = replace(
        ring, port_count=1200, throat_m=0.04
    )  # so that the ports stay within their Reynolds numbers
    pressures = np.array([84.0e3, 84.7e3, 84.8e3, 84.9e3, 86.0e3, 150e3, 200e3])
    found = evaluate(wide, methane, pressures)
    air = found.primary_aeration
    assert np.isfinite(air).all()
    assert np.abs(np.diff(air[:5])).max() < 0.01 * air[0]
    assert np.all(np.diff(air[4:]) < 0.0)
    band = found.primary_aeration_band / air[:, None]
    assert np.all(np.diff(band[:, 1] - band[:, 0]) > -1e-6)  # and what is known of it grows less
    assert band[-1, 1] - band[-1, 0] > 1.15 * (band[0, 1] - band[0, 0])
    assert np.isfinite(found.lift_margin).all()


def test_turned_down_ahead_of_the_orifice_a_choked_jet_is_the_jet_of_the_pressure_left(ring, methane) -> None:
    wide = replace(ring, port_count=1200, throat_m=0.04)
    third = evaluate(wide, methane, 150e3, options=EvaluationOptions(load=0.4))
    direct = evaluate(wide, methane, throttled_pressure_Pa(third))
    assert float(third.heat_input_gross_W) == pytest.approx(float(direct.heat_input_gross_W), rel=1e-6)
    assert float(third.primary_aeration) == pytest.approx(float(direct.primary_aeration), rel=2e-3)


def test_without_a_throat_there_is_no_air_and_with_a_measured_aeration_there_is(ring, methane) -> None:
    blind = replace(ring, throat_m=None)
    found = evaluate(blind, methane, 1000.0)
    assert np.isnan(found.primary_aeration)
    assert "throat" in found.air.why_not
    measured = evaluate(blind, methane, 1000.0, options=EvaluationOptions(aeration=0.55))
    assert float(measured.primary_aeration) == 0.55
    assert np.isfinite(measured.lift_margin)


def test_a_slow_flame_gives_a_bound_of_light_back_and_no_cone(ring, methane) -> None:
    found = evaluate(ring, methane, 1000.0, options=EvaluationOptions(aeration=np.array([0.3, 0.52, 0.9])))
    assert found.at.light_back_is_bound.tolist() == [True, True, False]
    assert np.isnan(found.inner_cone_height_m[:2]).all()
    assert found.inner_cone_height_m[2] > 0
    slowest = coefficients()["slowest flame"].value
    assert found.at.light_back.value[1] == pytest.approx(0.07 * slowest**2 / 2.23e-5, rel=0.05)


def test_the_band_of_light_back_is_of_the_ends_that_have_a_premixed_flame(ring, methane) -> None:
    """At its least air this ring burns as a diffusion flame: the band of its margin stays a pair of numbers."""
    starved = replace(ring, shutter_opening=0.045)
    found = evaluate(starved, methane, 1000.0)
    least = coefficients()["least premixed aeration"].value
    assert found.air.low < least <= found.primary_aeration
    low, high = found.light_back_margin_band
    assert low < found.light_back_margin < high
    alone = light_back_margin(starved, methane, found.flow, found.air, found.surroundings, found.options)
    assert alone.band == pytest.approx(found.light_back_margin_band)
    none = evaluate(replace(ring, shutter_opening=0.02), methane, 1000.0)
    assert np.isnan([none.light_back_margin, *none.light_back_margin_band]).all()


def test_many_burners_are_the_same_as_one_at_a_time(ring, propane) -> None:
    bores = np.array([0.9e-3, 1.0e-3, 1.1e-3])
    openings = np.array([0.3, 0.6, 1.0])
    many = evaluate(
        replace(ring, orifice_diameter_m=bores[:, None], shutter_opening=openings), propane, 2740.0
    )
    assert many.lift_margin.shape == (3, 3)
    for i, bore in enumerate(bores):
        for j, opening in enumerate(openings):
            one = evaluate(replace(ring, orifice_diameter_m=bore, shutter_opening=opening), propane, 2740.0)
            for name in (
                "primary_aeration",
                "lift_margin",
                "light_back_margin",
                "yellow_tip_margin",
                "inner_cone_height_m",
            ):
                assert getattr(many, name)[i, j] == pytest.approx(float(getattr(one, name)), nan_ok=True)


def test_equal_heat_and_area_give_equal_loading_for_slots_and_round_ports(ring, methane) -> None:
    slots = replace(ring, port_width_m=0.6e-3, slot_length_m=8e-3, port_count=130 * np.pi / 4 * 1.6**2 / 4.8)
    round_ports, slotted = evaluate(ring, methane, 1000.0), evaluate(slots, methane, 1000.0)
    assert float(slotted.port_loading_W_per_mm2) == pytest.approx(float(round_ports.port_loading_W_per_mm2))
    velocity = float(slotted.at.velocity_m_per_s)
    wall = slotted.at.wall
    assert float(slotted.wall_gradient_per_s) == pytest.approx(6 * velocity / 0.6e-3 * wall.profile_factor)
    assert 1.0 < float(wall.profile_factor) < float(round_ports.at.wall.profile_factor)  # 2 against 1.6 deep


def test_a_gas_without_a_flame_table_says_so(ring) -> None:
    fuel = burner_fuel(load("propane"))  # type: ignore[arg-type]
    found = evaluate(ring, fuel, 2740.0)
    assert np.isnan(found.lift_margin)
    assert fuel.no_burning
    assert np.isfinite(found.yellow_tip_margin)


def test_secondary_air_makes_up_what_the_primary_leaves(ring, methane) -> None:
    found = evaluate(ring, methane, 1000.0)
    gas = float(found.heat_input_gross_W) / methane.heating_value_J_per_m3
    total = (
        float(found.secondary_air_m3_per_s) + gas * float(found.primary_aeration) * methane.stoichiometric_air
    )
    assert total == pytest.approx(1.4 * gas * methane.stoichiometric_air)


def test_the_pressure_left_at_the_orifice_gives_the_throttled_flow(ring, methane) -> None:
    turned = evaluate(ring, methane, 2000.0, options=EvaluationOptions(load=0.3))
    left = float(throttled_pressure_Pa(turned))
    assert left == pytest.approx(0.09 * 2000.0, rel=0.01)
    opened = evaluate(ring, methane, left)
    assert float(opened.heat_input_gross_W) == pytest.approx(float(turned.heat_input_gross_W), rel=1e-9)
    assert float(throttled_pressure_Pa(evaluate(ring, methane, 2000.0))) == 2000.0


def test_the_shutter_set_for_an_aeration_draws_it(ring, propane) -> None:
    place, asked = Surroundings(), EvaluationOptions()
    flow = evaluate(ring, propane, 2740.0).flow
    found = shutter_for(ring, propane, flow, place, asked, 0.4)
    assert bool(found.reached)
    share = float(found.area_m2) / ring.shutter_area_m2
    drawn = evaluate(replace(ring, shutter_opening=share), propane, 2740.0)
    assert float(drawn.primary_aeration) == pytest.approx(0.4, rel=1e-9)
    hot = shutter_for(ring, propane, flow, place, EvaluationOptions(hot_ratio=0.8), 0.3)
    assert float(hot.area_m2) > float(shutter_for(ring, propane, flow, place, asked, 0.3).area_m2)
    assert not bool(shutter_for(ring, propane, flow, place, asked, 2.0).reached)


@pytest.mark.parametrize("opening", [None, 0.3, 0.6, 1.0])
def test_no_throat_draws_more_than_the_best_one(ring, methane, opening) -> None:
    """The shutter is in the balance and in its optimum."""
    shutter = {"shutter_area_m2": None} if opening is None else {"shutter_opening": opening}
    burner = replace(ring, **shutter)
    flow = evaluate(burner, methane, 1000.0).flow
    best = best_throat(burner, methane, flow, Surroundings(), EvaluationOptions())
    air = [
        float(evaluate(replace(burner, throat_m=best.diameter_m * share), methane, 1000.0).primary_aeration)
        for share in (0.6, 0.95, 1.0, 1.05, 1.6)
    ]
    assert air[2] == max(air)
    assert air[2] == pytest.approx(best.aeration, rel=1e-9)
    assert best.aeration >= float(evaluate(burner, methane, 1000.0).primary_aeration)


def test_without_a_shutter_the_best_throat_is_the_closed_form(ring, methane) -> None:
    """And the resistance of the ports does not depend on the flow."""
    bare = replace(ring, shutter_area_m2=None, port_discharge=0.7)
    flow = evaluate(bare, methane, 1000.0).flow
    tube = burner_system(bare, methane, flow, Surroundings(), EvaluationOptions()).tube
    closed = best_throat_area_m2(tube.port_area_m2, 0.7**-2, tube.loss)
    found = best_throat(bare, methane, flow, Surroundings(), EvaluationOptions())
    assert np.pi / 4 * found.diameter_m**2 == pytest.approx(float(closed), rel=1e-3)


def test_each_of_a_row_is_judged_as_if_it_had_been_evaluated_alone(ring, propane) -> None:
    """The last is choked: what it cannot tell must not be said of the others."""
    pressures, loads = np.array([2740.0, 2740.0, 4500.0, 150_000.0]), np.array([1.0, 0.25, 1.0, 1.0])
    drilled = replace(ring, orifice_diameter_m=1.0e-3, port_temperature_K=380.0)
    row = evaluate(drilled, propane, pressures, options=EvaluationOptions(load=loads)).each()
    for state, pressure, load_ in zip(row, pressures, loads, strict=True):
        alone = evaluate(drilled, propane, float(pressure), options=EvaluationOptions(load=float(load_)))
        assert state.air.why_not == alone.air.why_not
        assert float(state.gauge_pressure_Pa) == pressure
        told, expected = burner_checks(state), burner_checks(alone)
        assert [(one.topic, one.verdict, one.text, one.evidence) for one in told] == [
            (one.topic, one.verdict, one.text, one.evidence) for one in expected
        ]
        for one, other in zip(told, expected, strict=True):
            assert (one.value is None) == (other.value is None)
            assert (one.value or 0.0) == pytest.approx(other.value or 0.0, rel=1e-12)
        assert state.lift_margin_band == pytest.approx(alone.lift_margin_band, rel=1e-12, nan_ok=True)


def test_without_the_band_the_figures_stay_and_the_ends_are_the_value(ring, propane) -> None:
    full, bare = (
        evaluate(ring, propane, 2740.0, options=EvaluationOptions(band=band)) for band in (True, False)
    )
    assert float(bare.lift_margin) == pytest.approx(float(full.lift_margin), rel=1e-12)
    assert bare.primary_aeration_band == pytest.approx(float(full.primary_aeration), rel=1e-12)
    assert full.primary_aeration_band[0] < float(full.primary_aeration)


PORTS_DEEP = np.array([1.6e-3, 3e-3, 6e-3, 12e-3, 30e-3])


def test_deeper_ports_draw_less_and_a_long_tube_too(ring, methane) -> None:
    drawn = evaluate(replace(ring, port_depth_m=PORTS_DEEP), methane, 1000.0).primary_aeration
    assert (np.diff(drawn) < 0).all()
    tube = evaluate(replace(ring, tube_length_m=np.array([0.05, 0.0852, 0.2, 1.0])), methane, 1000.0)
    assert float(tube.primary_aeration[0]) == float(evaluate(ring, methane, 1000.0).primary_aeration)
    assert tube.primary_aeration[1] == tube.primary_aeration[0]  # six diameters
    assert (np.diff(tube.primary_aeration[1:]) < 0).all()


def test_at_one_velocity_a_shorter_port_never_has_more_lift_margin(ring, methane) -> None:
    options = EvaluationOptions(aeration=0.55)
    found = evaluate(replace(ring, port_depth_m=PORTS_DEEP), methane, 1000.0, options=options)
    assert (np.diff(found.lift_margin) > 0).all()
    thin = evaluate(replace(ring, port_depth_m=0.4e-3), methane, 1000.0, options=options)
    assert float(thin.lift_margin) == float(found.lift_margin[0])


def test_air_goes_smoothly_with_the_rate(ring, methane) -> None:
    """No step over 5 % for each percent of the flow, nor any fall."""
    load = np.exp(np.arange(np.log(0.3), 0.0, np.log(1.01)))
    drawn = evaluate(ring, methane, 1000.0, options=EvaluationOptions(load=load)).primary_aeration
    assert np.isfinite(drawn).all()
    assert (np.diff(drawn) > 0).all()
    assert (drawn[1:] / drawn[:-1]).max() < 1.01


def test_a_constant_discharge_gives_the_closed_root_back(ring, methane) -> None:
    """The old rule, K_p = 1/Cd^2 and nothing warm: the quadratic by hand."""
    burner = replace(ring, port_discharge=0.72)
    found = evaluate(burner, methane, 1000.0)
    system = burner_system(burner, methane, found.flow, Surroundings(), EvaluationOptions())
    closed = air_per_gas(system.jet, replace(system.tube, port_resistance=0.72**-2))
    assert float(found.primary_aeration) * methane.stoichiometric_air == pytest.approx(
        float(closed), rel=1e-9
    )


def test_pressure_from_outside_widens_the_band_as_the_rate_falls(ring, methane) -> None:
    options = EvaluationOptions(load=np.array([1.0, 0.6, 0.4]))
    found = evaluate(ring, methane, 1000.0, options=options)
    width = np.diff(found.primary_aeration_band, axis=-1)[:, 0] / found.primary_aeration
    assert (np.diff(width) > 0).all()


def test_burners_in_one_call_are_as_each_by_itself(ring, methane, propane) -> None:
    rates = (
        DiagramRate(label="full rate", gauge_pressure_Pa=1000.0),
        DiagramRate(label="turndown", gauge_pressure_Pa=1000.0, load=0.4),
    )
    geometries = (ring, replace(ring, port_count=150), replace(ring, port_depth_m=None), ring)
    cases = [
        OnGas(
            title="gas", geometry=geometry, fuel=fuel, surroundings=Surroundings(), rates=rates[: k + 1 or 2]
        )
        for k, (geometry, fuel) in enumerate(
            zip(geometries, (methane, methane, methane, propane), strict=True)
        )
    ]
    for case, together in zip(cases, states_of_all(cases), strict=True):
        alone = states_of(case)
        assert len(together) == len(alone) == len(case.rates)
        for one, other in zip(together, alone, strict=True):
            assert one.geometry == case.geometry
            assert float(one.heat_input_gross_W) == pytest.approx(float(other.heat_input_gross_W), rel=1e-12)
            assert one.primary_aeration_band == pytest.approx(other.primary_aeration_band, rel=1e-9)
            assert one.lift_margin_band == pytest.approx(other.lift_margin_band, rel=1e-8, nan_ok=True)
            assert one.air.why_not == other.air.why_not
