"""A notebook user writes quantities of pint, or texts with a unit, and gets what SI floats give."""

from __future__ import annotations

import inspect
import pickle
import re
from dataclasses import fields, replace

import pint
import pytest

import burnerlab as bl
from burnerlab.orifice import Conditions
from burnerlab.quantity.door import KINDS, at_the_door

UNIT_ENDINGS = re.compile(r"_(Pa|K|m|m2|m3|W|s|kg|J|per_m3|per_kg|per_s)$")


@pytest.fixture(scope="module")
def unit() -> pint.UnitRegistry:
    return pint.UnitRegistry()


def test_the_flow_of_pint_is_that_of_floats(unit: pint.UnitRegistry) -> None:
    propane = bl.load("propane")
    outside = bl.Conditions(
        gauge_pressure_Pa=27.4 * unit.mbar,
        ambient_pressure_Pa=unit.Quantity(1, "atm"),
        gas_temperature_K=unit.Quantity(59, "degF"),
    )
    assert outside.gas_temperature_K == pytest.approx(288.15)
    plain = bl.Conditions(gauge_pressure_Pa=2740.0)
    found = bl.flow(propane, 1.397 * unit.mm, outside)
    assert found.heat_input_gross_W == pytest.approx(
        bl.flow(propane, 1.397e-3, plain).heat_input_gross_W, rel=1e-9
    )


def test_size_and_convert_take_pint(unit: pint.UnitRegistry) -> None:
    propane, supply = bl.load("propane"), bl.Conditions(gauge_pressure_Pa="11 in w.c.")
    rate = 12_000 * unit.Btu / unit.hour
    by_pint, by_float = (bl.size(propane, each, "gross", supply) for each in (rate, 3516.85))
    assert by_pint.diameter_m == pytest.approx(by_float.diameter_m, rel=1e-5)
    cart, pressure = bl.demonstration(), 2739.978 * unit.pascal
    high = bl.convert(cart, "propane", pressure, altitude_m=5000 * unit.foot)
    assert high.altitude_m == pytest.approx(1524.0)
    plain = bl.convert(cart, "propane", 2739.978, altitude_m=1524.0)
    assert [one.to_orifice_m for one in high.burners] == pytest.approx(
        [one.to_orifice_m for one in plain.burners]
    )


def test_several_altitudes_in_their_own_units(unit: pint.UnitRegistry) -> None:
    table = bl.injector_table(
        bl.demonstration(), [bl.supplied("G31", 37 * unit.mbar)], altitudes_m=["0 m", 5000 * unit.foot]
    )
    assert sorted({row.altitude_m for row in table.rows}) == pytest.approx([0.0, 1524.0])


@pytest.mark.parametrize(
    ("pressure", "said"),
    [
        ("11", "the unit is missing"),
        ("11 mm", "water or mercury"),
        ("1,5 kPa", "point"),
        ("-3 kPa", "outside 0.5 to 15 kPa"),
    ],
)
def test_a_text_that_cannot_be_a_pressure_is_refused(pressure: str, said: str) -> None:
    with pytest.raises(bl.UserError, match=said):
        bl.convert(bl.demonstration(), "propane", pressure)


def test_a_quantity_of_the_wrong_kind_is_refused(unit: pint.UnitRegistry) -> None:
    propane, supply = bl.load("propane"), bl.Conditions(gauge_pressure_Pa=2740.0)
    with pytest.raises(bl.UserError, match="does not convert to diameter"):
        bl.flow(propane, 3 * unit.kilowatt, supply)
    with pytest.raises(bl.UserError, match="must be one value, got an array"):
        bl.flow(propane, [1.0, 2.0] * unit.mm, supply)
    with pytest.raises(bl.UserError, match="is a temperature difference"):
        bl.Conditions(gauge_pressure_Pa=2740.0, gas_temperature_K=unit.Quantity(5, "delta_degC"))


def test_a_class_at_the_door_is_the_class_behind_it() -> None:
    made = bl.Conditions(gauge_pressure_Pa="27.4 mbar")
    assert type(made) is Conditions
    assert isinstance(made, bl.Conditions)
    assert not isinstance(2740.0, bl.Conditions)
    assert [field.name for field in fields(bl.Conditions)] == [field.name for field in fields(Conditions)]
    assert pickle.loads(pickle.dumps(made)) == replace(made)
    assert bl.Conditions is bl.Conditions
    assert bl.ReferenceState.read("15C/15C").name == "ISO_15_15"
    assert inspect.signature(bl.flow) == inspect.signature(bl.jet)


def test_what_holds_no_unit_is_left_as_it_is() -> None:
    assert at_the_door(len) is len
    assert at_the_door(bl.load) is bl.load
    assert bl.load("propane").name == "propane"


def test_every_public_parameter_with_a_unit_is_read_by_its_name() -> None:
    missing = set()
    for name in dir(bl):
        public = getattr(bl, name)
        if callable(public):
            try:
                parameters = inspect.signature(public).parameters
            except ValueError:
                continue
            missing |= {one for one in parameters if UNIT_ENDINGS.search(one) and one not in KINDS}
    assert not missing
