"""A public function takes numbers in SI, texts with a unit, quantities of pint, and arrays where it says so."""

from __future__ import annotations

import pickle
from dataclasses import replace
from typing import Any

import numpy as np
import pint
import pytest

import burnerlab as bl
from burnerlab.burner.burner import BurnerGeometry
from burnerlab.burner.evaluation import evaluate, fuel_with_flame
from burnerlab.layout.cooking_surface import Grid
from burnerlab.orifice import Conditions, law
from burnerlab.quantity import Kind, si, si_numbers


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
    table = bl.injectors(
        bl.demonstration(), [bl.supplied("G31", 37 * unit.mbar)], altitudes_m=["0 m", 5000 * unit.foot]
    )
    assert sorted({row.altitude_m for row in table.rows}) == pytest.approx([0.0, 1524.0])


@pytest.mark.parametrize(
    ("pressure", "said"),
    [
        ("11", "the unit is missing"),
        ("11 mm", "water or mercury"),
        ("1,5 kPa", "point"),
        ("-3 kPa", "outside 5 to 150 mbar"),
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
        bl.size(propane, 3e3, "gross", supply, combustion_temperature_K=[288.15, 298.15] * unit.kelvin)
    with pytest.raises(bl.UserError, match="is a temperature difference"):
        bl.Conditions(gauge_pressure_Pa=2740.0, gas_temperature_K=unit.Quantity(5, "delta_degC"))


def test_a_public_class_is_the_class_of_its_room() -> None:
    supply = bl.Conditions(gauge_pressure_Pa="27.4 mbar")
    assert bl.Conditions is Conditions
    assert type(supply) is Conditions
    assert replace(supply, gauge_pressure_Pa="28 mbar").gauge_pressure_Pa == 2800.0  # type: ignore[arg-type]
    assert pickle.loads(pickle.dumps(supply)) == replace(supply)


@pytest.mark.parametrize(
    ("make", "field", "expected"),
    [
        (lambda: bl.ConversionTarget(gas=bl.load("G31"), gauge_pressure_Pa=1e3, altitude_m="1 km"), "altitude_m", 1e3),
        (lambda: bl.cylinder_named("20 lb"), "water_capacity_m3", 0.0216),
        (lambda: replace(bl.cylinder_named("20 lb"), tare_kg="8 kg"), "tare_kg", 8.0),  # type: ignore[arg-type]
        (lambda: bl.ReferenceState("15 C", "60 F"), "metering_temperature_K", 288.7055556),  # type: ignore[arg-type]
        (lambda: bl.TileBurner(area_m2="150 cm2", thickness_m="13 mm"), "area_m2", 0.015),
        (lambda: bl.Firing(aeration=1.1, mixture_K="20 C"), "mixture_K", 293.15),
        (lambda: bl.LayoutLimits(mean_W_per_m2="10 kW/m2"), "mean_W_per_m2", 10e3),  # type: ignore[arg-type]
        (lambda: replace(bl.demonstration().space.study, lengths_m=["350 mm"]), "lengths_m", (0.35,)),  # type: ignore
    ],
)  # fmt: skip
def test_a_field_is_in_si_however_it_is_written(make: Any, field: str, expected: Any) -> None:
    assert getattr(make(), field) == pytest.approx(expected)


def test_one_value_is_one_value() -> None:
    assert si(np.float32(2.0), Kind.LENGTH, "x") == 2.0  # type: ignore[arg-type]
    assert si(np.int64(2), Kind.LENGTH, "x") == 2.0  # type: ignore[arg-type]
    for wrong in (np.array([1.0, 2.0]), [1.0], None, object(), np.array("1 mm")):
        with pytest.raises(bl.UserError, match="must be one value"):
            si(wrong, Kind.LENGTH, "x")  # type: ignore[arg-type]
    for wrong in (["x"], [[1.0], [1.0, 2.0]], [None], np.array(["1", "x"])):
        with pytest.raises(bl.UserError):
            si_numbers(wrong, Kind.LENGTH, "x")  # type: ignore[arg-type]


# arrays


def test_an_array_of_holes_is_the_holes_one_by_one(unit: pint.UnitRegistry) -> None:
    propane, supply = bl.load("propane"), bl.Conditions(gauge_pressure_Pa="11 in w.c.")
    holes = np.linspace(0.5e-3, 3e-3, 6).reshape(2, 3)
    many = bl.flow(propane, holes, supply)
    for place, hole in np.ndenumerate(holes):
        one = bl.flow(propane, float(hole), supply)
        for name in ("heat_input_gross_W", "heat_input_net_W", "mass_flow_kg_per_s", "reynolds", "area_m2",
                     "velocity_m_per_s", "choked", "coefficient", "viscosity_Pa_s"):  # fmt: skip
            assert np.broadcast_to(getattr(many, name), holes.shape)[place] == pytest.approx(
                getattr(one, name), rel=1e-13
            )
    by_pint = bl.flow(propane, holes * 1e3 * unit.mm, supply)
    np.testing.assert_allclose(by_pint.heat_input_gross_W, many.heat_input_gross_W, rtol=1e-12)
    named = bl.flow(propane, ["#54", "1.4 mm"], supply)
    assert named.diameter_m.tolist() == pytest.approx([1.397e-3, 1.4e-3])


def test_pressures_temperatures_and_laws_broadcast(unit: pint.UnitRegistry) -> None:
    gas, channel = bl.load("natural-gas-typical"), law("drilled channel", 4e-3)
    supply = bl.Conditions(
        gauge_pressure_Pa=np.array([[17.4], [2000.0]]) * unit.mbar, gas_temperature_K=["0 C", "40 C"]
    )
    many = bl.flow(gas, 1.2e-3, supply, law("drilled channel", 4e-3, extrapolate=True))
    assert many.choked.tolist() == [[False, False], [True, True]]  # type: ignore[attr-defined]
    assert any("choked" in note for note in many.notes)
    assert any("subcritical" in note for note in many.notes)
    for (row, column), heat in np.ndenumerate(many.heat_input_gross_W):
        alone = bl.Conditions(
            gauge_pressure_Pa=(1740.0, 200e3)[row], gas_temperature_K=(273.15, 313.15)[column]
        )
        one = bl.flow(gas, 1.2e-3, alone, law("drilled channel", 4e-3, extrapolate=True))
        assert heat == pytest.approx(one.heat_input_gross_W, rel=1e-13)
    sized = bl.size(gas, ["3 kW", "5 kW"], "gross", bl.Conditions(gauge_pressure_Pa=1740.0), channel)
    for bore, rate in zip(sized.diameter_m, (3e3, 5e3), strict=True):
        one_size = bl.size(gas, rate, "gross", bl.Conditions(gauge_pressure_Pa=1740.0), channel)
        assert bore == pytest.approx(one_size.diameter_m, rel=1e-12)


def test_size_of_what_flows_is_the_hole() -> None:
    """Both ways round, over arrays of hole, altitude and coefficient at once."""
    gas, K = bl.load("propane"), np.array([0.8, 0.9, 0.95])
    ambient = bl.pressure_at_altitude_Pa(["0 m", "1500 m", "3000 m"])
    supply = bl.Conditions(gauge_pressure_Pa=2740.0, ambient_pressure_Pa=ambient)
    through = bl.flow(gas, [1e-3, 1.5e-3, 2e-3], supply, K, 2)
    back = bl.size(gas, through.heat_input_net_W, "net", supply, K, 2)
    assert back.diameter_m.tolist() == pytest.approx([1e-3, 1.5e-3, 2e-3], rel=1e-12)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (
            lambda p, s: bl.flow(p, [1e-3, 2e-3], bl.Conditions(gauge_pressure_Pa=[1e3, 2e3, 3e3])),
            "do not fit",
        ),
        (lambda p, s: bl.flow(p, np.array([1e-3, -1.0]), s), "above 0"),
        (lambda p, s: bl.flow(p, np.array([1e-3, np.nan]), s), "above 0"),
        (lambda p, s: bl.flow(p, ["1 mm", "2"], s), "drill or a diameter"),
        (lambda p, s: bl.flow(p, np.array(["a", "b"]), s), "no array of numbers"),
        (
            lambda p, s: bl.flow(p, [1e-3, 2e-3], bl.Conditions(gauge_pressure_Pa=[2740.0, -1.0])),
            "above the outlet",
        ),
        (lambda p, s: bl.flow(p, 1e-3, s, np.array([0.9, 1.2])), "0.5 to 1"),
        (lambda p, s: bl.flow(p, 1e-3, s, 0.9, np.array([1, 2])), "1 or more"),
        (lambda p, s: bl.size(p, np.array([1e3, 0.0]), "gross", s), "above 0"),
        (lambda p, s: bl.choices_near(bl.size(p, [1e3, 2e3], "gross", s)), "one orifice"),
        (
            lambda p, s: bl.convert(bl.demonstration(), "propane", np.array([2740.0, 3700.0])),
            "must be one value",
        ),
        (
            lambda p, s: bl.convert(bl.demonstration(), "propane", 2740.0, altitude_m=[0.0, 1e3]),
            "must be one value",
        ),
        (lambda p, s: bl.flow(p, 1.0, s), "0.05 to 50 mm"),
        (lambda p, s: bl.flow(p, [1e-3, 1.0], s), "0.05 to 50 mm"),
        (lambda p, s: bl.size(p, "300 MW", "gross", s), "0.05 to 50 mm"),
    ],
)
def test_what_cannot_be_is_refused_in_words(call: Any, words: str) -> None:
    with pytest.raises(bl.UserError, match=words):
        call(bl.load("propane"), bl.Conditions(gauge_pressure_Pa=2740.0))


def test_an_empty_array_gives_an_empty_one() -> None:
    propane, supply = bl.load("propane"), bl.Conditions(gauge_pressure_Pa=2740.0)
    assert bl.flow(propane, [], supply).heat_input_gross_W.shape == (0,)
    assert bl.size(propane, np.array([]), "gross", supply).diameter_m.shape == (0,)
    assert bl.pressure_at_altitude_Pa([]).shape == (0,)
    burner = BurnerGeometry(port_width_m=1.6e-3, port_count=120, orifice_diameter_m=1.4e-3, throat_m=14e-3)
    assert evaluate(burner, fuel_with_flame(propane), np.array([])).lift_margin.shape == (0,)
    with pytest.raises(bl.UserError, match="grid without points"):
        bl.heat_map(bl.layout_of(bl.demonstration()), Grid(x_m=np.array([]), y_m=np.array([])))
    with pytest.raises(bl.UserError, match="takes one firing"):
        bl.evaluate_tile(bl.TileBurner(area_m2=0.015), propane, 2400.0, "net", bl.Firing(aeration=[1.1, 1.2]))


NONSENSE: list[Any] = [
    None, "x", "", "1 mm", "2 kW", [], [1.0], ["1 mm", None], np.array([]), np.array([1e-3, 2e-3]), np.array(1e-3),
    -1.0, float("nan"), float("inf"), 0, True, object(), {"a": 1}, np.array(["a"]), np.array([None]), 1 + 2j, b"1 mm",
    10**400,
]  # fmt: skip
DOORS: dict[str, Any] = {
    "hole": lambda p, s, x: bl.flow(p, x, s),
    "coefficient": lambda p, s, x: bl.flow(p, 1e-3, s, x),
    "count": lambda p, s, x: bl.flow(p, 1e-3, s, 0.9, x),
    "combustion": lambda p, s, x: bl.flow(p, 1e-3, s, combustion_temperature_K=x),
    "gas": lambda p, s, x: bl.flow(x, 1e-3, s),
    "conditions": lambda p, s, x: bl.flow(p, 1e-3, x),
    "pressure": lambda p, s, x: bl.flow(p, 1e-3, bl.Conditions(gauge_pressure_Pa=x)),
    "ambient": lambda p, s, x: bl.flow(p, 1e-3, replace(s, ambient_pressure_Pa=x)),
    "temperature": lambda p, s, x: bl.flow(p, 1e-3, replace(s, gas_temperature_K=x)),
    "rate": lambda p, s, x: bl.size(p, x, "gross", s),
    "basis": lambda p, s, x: bl.size(p, 3e3, x, s),
    "coefficient of size": lambda p, s, x: bl.size(p, 3e3, "gross", s, x),
    "pressure of convert": lambda p, s, x: bl.convert(bl.demonstration(), p, x),
    "gas of convert": lambda p, s, x: bl.convert(bl.demonstration(), x, 2740.0),
    "altitude of convert": lambda p, s, x: bl.convert(bl.demonstration(), p, 2740.0, altitude_m=x),
    "coefficient of convert": lambda p, s, x: bl.convert(bl.demonstration(), p, 2740.0, coefficient=x),
    "altitude": lambda p, s, x: bl.pressure_at_altitude_Pa(x),
    "supplied": lambda p, s, x: bl.supplied(p, x),
    "flame": lambda p, s, x: bl.flame_state(p, x),
}


@pytest.mark.filterwarnings("ignore::numpy.exceptions.ComplexWarning")
@pytest.mark.parametrize("door", DOORS)
def test_nonsense_is_an_answer_or_a_user_error_and_never_a_raw_one(door: str) -> None:
    propane, supply = bl.load("propane"), bl.Conditions(gauge_pressure_Pa=2740.0)
    refused = 0
    for value in NONSENSE:
        try:
            DOORS[door](propane, supply, value)
        except bl.UserError:
            refused += 1
    assert refused >= len(NONSENSE) // 3


def test_a_gas_of_the_library_goes_by_its_name() -> None:
    supply = bl.Conditions(gauge_pressure_Pa=2740.0)
    assert bl.flow("propane", 1e-3, supply) == bl.flow(bl.load("propane"), 1e-3, supply)
    assert bl.flow("propane", 1e-3, supply, "90 %") == bl.flow("propane", 1e-3, supply, 0.9)  # type: ignore[call-overload]
