"""A burner of an appliance as the search for its ports takes it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from burnerlab.appliance import ConversionTarget, changed, demonstration
from burnerlab.appliance.conversion.convert import convert_to
from burnerlab.appliance.conversion.flame_stability import stabilities
from burnerlab.appliance.study.port_study import PortCase, plain_port_case, port_case
from burnerlab.burner.burner import EvaluationOptions
from burnerlab.burner.evaluation import evaluate
from burnerlab.burner.port_region import port_region, port_variants
from burnerlab.burner.primary_air import COLD
from burnerlab.gas import load
from burnerlab.quantity import UserError

NAME = "griddle tube left"
PROPANE = (load("propane"), 2740.0)


@pytest.fixture(scope="module")
def case() -> PortCase:
    return port_case(demonstration(), NAME, [PROPANE])


def test_every_gas_has_the_drill_that_a_conversion_fits(case: PortCase) -> None:
    """The drill list of the file has it, and the heat input is the rate, 12.5 kBtu/h gross, within its 5 %."""
    own = ConversionTarget(
        gas=demonstration().supply.gas,
        gauge_pressure_Pa=demonstration().supply.gauge_pressure_Pa,
        train="none",
    )
    new = replace(own, gas=PROPANE[0], gauge_pressure_Pa=PROPANE[1])
    fitted = [convert_to(demonstration(), target).burners[0].choice.drill for target in (own, new)]
    assert [gas.drill for gas in case.gases] == fitted
    for gas in case.gases:
        burner = case.template
        fed = evaluate(
            type(burner)(
                port_width_m=burner.port_width_m, port_count=burner.port_count,
                orifice_diameter_m=gas.orifice_diameter_m, orifice_coefficient=gas.orifice_coefficient,
            ),
            gas.fuel, gas.gauge_pressure_Pa, gas.surroundings,
        )  # fmt: skip
        assert float(fed.heat_input_gross_W) == pytest.approx(12.5e3 * 0.293071, rel=0.05)


def test_what_is_hot_is_what_the_warm_up_of_the_burner_says(case: PortCase) -> None:
    """Light-back turned down on hot metal, of the present burner with the drill that is fitted."""
    appliance = changed(
        demonstration(),
        ConversionTarget(gas=PROPANE[0], gauge_pressure_Pa=PROPANE[1], train="none"),
    )
    warm = stabilities(appliance, names=[NAME])[0].warm_up
    gas, burner = case.gases[1], case.template
    fed = type(burner)(
        port_width_m=burner.port_width_m, port_count=burner.port_count, port_depth_m=burner.port_depth_m,
        throat_m=burner.throat_m, shutter_area_m2=burner.shutter_area_m2, shutter_opening=burner.shutter_opening,
        tube_length_m=burner.tube_length_m, orifice_diameter_m=gas.orifice_diameter_m,
        orifice_coefficient=gas.orifice_coefficient,
    )  # fmt: skip

    def margins(hot, load):
        options = EvaluationOptions(load=load, temperatures=hot, band=False)
        return evaluate(fed, gas.fuel, gas.gauge_pressure_Pa, gas.surroundings, options)

    assert float(margins(gas.hot_low, gas.turndown).light_back_margin) == pytest.approx(
        warm.hot_light_back_margin.value, rel=1e-6
    )
    assert float(margins(gas.hot_full, 1.0).yellow_tip_margin) == pytest.approx(
        warm.hot_yellow_tip_margin.value, rel=1e-6
    )


def test_each_altitude_of_a_gas_is_tried_in_any_order() -> None:
    """A region on two markets is what holds on both: no larger than on either, whichever is named first."""
    propane = ConversionTarget(gas=PROPANE[0], gauge_pressure_Pa=2740.0, train="none")
    low, high = replace(propane, altitude_m=0.0), replace(propane, altitude_m=1500.0)

    def holding(*targets: ConversionTarget) -> set[int]:
        case = port_case(demonstration(), NAME, targets)
        variants = port_variants(replace(case.space, port_diameter_m=(1.5e-3, 2.2e-3)), 8192)
        return set(
            np.flatnonzero(port_region(case.template, case.gases, case.space, variants=variants).slack >= 0.0)
        )

    on_low, on_high = holding(low), holding(high)
    assert on_low - on_high, "nothing holds at sea level that does not at 1500 m"
    assert holding(low, high) == holding(high, low) == on_low & on_high
    assert [gas.title for gas in port_case(demonstration(), NAME, [low, high, low]).gases[1:]] == [
        "propane (sea level)",
        "propane (altitude 1500 m)",
    ]


def test_a_gas_is_titled_by_what_tells_it_from_others_of_its_name() -> None:
    """Pressure first; the ends of the supply where nothing else differs."""
    propane = ConversionTarget(gas=PROPANE[0], gauge_pressure_Pa=2740.0, train="none")
    wide = replace(propane, low_gauge_pressure_Pa=2000.0, high_gauge_pressure_Pa=3500.0)
    gases = port_case(
        demonstration(), NAME, [propane, wide, replace(propane, gauge_pressure_Pa=3700.0)]
    ).gases
    titles = [gas.title for gas in gases[1:]]
    assert titles[1:] == ["propane (27.40 mbar, supply 20.00 mbar to 35.00 mbar)", "propane (37.00 mbar)"]
    assert len(set(titles)) == 3
    two = plain_port_case(3663.0, "gross", [PROPANE, (PROPANE[0], 3700.0)]).gases
    assert [gas.title for gas in two] == ["propane (27.40 mbar)", "propane (37.00 mbar)"]


def test_supply_ends_and_rows_are_those_of_the_file_and_of_the_new_gas(case: PortCase) -> None:
    assert (case.space.rows, case.space.row_length_m) == (2, 0.4)
    for gas in case.gases:
        assert gas.lowest_gauge_pressure_Pa < gas.gauge_pressure_Pa < gas.highest_gauge_pressure_Pa
        assert gas.turndown == pytest.approx(1 / 3)
    ring = port_case(demonstration(), "stock-pot ring", [])
    assert ring.space.row_length_m == pytest.approx(np.pi * 0.22)


@pytest.mark.parametrize("name", ["tile broiler"])
def test_a_burner_without_open_ports_is_refused(name: str) -> None:
    with pytest.raises(UserError, match="radiant tile"):
        port_case(demonstration(), name, [PROPANE])


def test_a_burner_of_options_alone() -> None:
    case = plain_port_case(3663.0, "gross", [PROPANE], turndown=0.4, pressure_spread=0.1)
    gas = case.gases[0]
    assert (gas.lowest_gauge_pressure_Pa, gas.highest_gauge_pressure_Pa) == pytest.approx((2466.0, 3014.0))
    assert float(np.asarray(gas.hot_low.port_rise)) == pytest.approx(373.15 / 288.15)
    assert gas.hot_low is not COLD
    net = plain_port_case(3663.0, "net", [PROPANE])
    assert net.space.heat_input_gross_W == pytest.approx(
        3663.0 * 1.0862, rel=2e-3
    )  # propane, ISO 6976: 50.33/46.34


def test_a_gas_is_needed() -> None:
    with pytest.raises(UserError, match="gas is missing"):
        plain_port_case(3663.0, "gross", [])
