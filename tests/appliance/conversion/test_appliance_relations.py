"""Relations that hold for any pair of gases, whatever the figures: there and back, two ways round, other units."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from appliance_cases import SMALL, rated_as_it_burns, target
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.appliance import Appliance, changed, convert_to, demonstration, read_appliance_text

WHOLE = rated_as_it_burns(demonstration())
CART = replace(WHOLE, burners=WHOLE.burners[2:4])  # a tube and the ring
GASES = (
    "natural-gas-typical",
    "propane",
    "G20",
    "G25",
    "G30",
    "G31",
    "hydrogen",
    "propane-hd5",
    "biomethane",
)
gases = st.sampled_from(GASES)
pressures = st.floats(600.0, 14_000.0)


def diameters(appliance: Appliance) -> list[float]:
    return [burner.orifice.diameter_m for burner in appliance.burners]


@given(gases, pressures)
@settings(max_examples=10)
def test_a_gas_changed_to_itself_keeps_its_orifices(gas: str, pressure: float) -> None:
    there = rated_as_it_burns(changed(CART, target(gas, pressure), exact=True))
    again = convert_to(there, target(gas, pressure))
    for burner in again.burners:
        assert burner.exact_diameter_ratio == pytest.approx(1.0, rel=1e-12)
        assert burner.exact_area_ratio == pytest.approx(1.0, rel=1e-12)
        assert burner.air_to_gas_ratio_change == pytest.approx(1.0)


def test_the_demonstration_changed_to_its_own_gas_keeps_its_drills() -> None:
    again = convert_to(WHOLE, target("natural-gas-typical", WHOLE.supply.gauge_pressure_Pa))
    assert [burner.choice.drill for burner in again.burners] == [
        burner.orifice.drill for burner in WHOLE.burners
    ]
    for burner in again.burners:
        assert burner.primary_aeration_after == pytest.approx(burner.primary_aeration_before, rel=1e-9)


@given(gases, pressures)
@settings(max_examples=10)
def test_there_and_back_returns_the_first_orifices(gas: str, pressure: float) -> None:
    there = changed(CART, target(gas, pressure), exact=True)
    back = changed(there, target("natural-gas-typical", CART.supply.gauge_pressure_Pa), exact=True)
    assert diameters(back) == pytest.approx(diameters(CART), rel=1e-10)


@given(gases, pressures, gases, pressures)
@settings(max_examples=10)
def test_two_steps_are_one(gas: str, pressure: float, last: str, last_pressure: float) -> None:
    round_about = changed(
        changed(CART, target(gas, pressure), exact=True), target(last, last_pressure), exact=True
    )
    straight = changed(CART, target(last, last_pressure), exact=True)
    assert diameters(round_about) == pytest.approx(diameters(straight), rel=1e-10)


@given(gases, pressures)
@settings(max_examples=10)
def test_swapped_gases_invert_the_ratio(gas: str, pressure: float) -> None:
    to = convert_to(CART, target(gas, pressure))
    there = changed(CART, target(gas, pressure), exact=True)
    back = convert_to(there, target("natural-gas-typical", CART.supply.gauge_pressure_Pa))
    for one, other in zip(to.burners, back.burners, strict=True):
        assert one.exact_diameter_ratio * other.exact_diameter_ratio == pytest.approx(1.0, rel=1e-12)
        assert one.exact_area_ratio * other.exact_area_ratio == pytest.approx(1.0, rel=1e-12)


def test_aeration_comes_back_when_the_gas_does() -> None:
    from burnerlab.appliance.conversion.burner_conversion import Drawing, aeration_after

    one = Drawing(stoichiometric_air=9.6, relative_density=0.6, jet_area_m2=1.6e-6)
    other = Drawing(stoichiometric_air=23.9, relative_density=1.55, jet_area_m2=0.8e-6)
    assert aeration_after(aeration_after(0.5, one, other), other, one) == pytest.approx(0.5, rel=1e-12)


def test_the_same_case_in_other_units_is_the_same() -> None:
    other = (
        SMALL.replace("11 in w.c.", "27.3997801 mbar")
        .replace("3.5 kW", "3500 W")
        .replace('drill = "#54"', 'diameter = "1.397 mm"')
    )
    one, two = (read_appliance_text(text) for text in (SMALL, other))
    first, second = (convert_to(appliance, target("G20", 2000.0)) for appliance in (one, two))
    assert first.burners[0].to_orifice_m == pytest.approx(second.burners[0].to_orifice_m, rel=1e-12)
    assert first.burners[0].from_predicted_gross_W == pytest.approx(
        second.burners[0].from_predicted_gross_W, rel=1e-8
    )


def test_n_equal_orifices_are_one_of_larger_diameter() -> None:
    cart = read_appliance_text(SMALL)
    burner = cart.burners[0]
    four = replace(cart, burners=(replace(burner, orifice=replace(burner.orifice, count=4)),))
    one, many = (convert_to(each, target("G20", 2000.0)).burners[0] for each in (cart, four))
    assert many.to_orifice_m == pytest.approx(one.to_orifice_m / 2, rel=1e-12)
    assert many.from_predicted_gross_W == pytest.approx(4 * one.from_predicted_gross_W, rel=1e-12)


def test_a_larger_rate_never_takes_a_smaller_drill() -> None:
    cart = read_appliance_text(SMALL)
    taken = []
    for kilowatts in (1.0, 1.5, 2.2, 3.0, 3.1, 3.2, 5.0, 9.0):
        rated = replace(cart, burners=(replace(cart.burners[0], rate_W=1000 * kilowatts),))
        taken.append(convert_to(rated, target("G20", 2000.0)).burners[0].choice.diameter_m)
    assert taken == sorted(taken)


def test_thin_air_lowers_a_fixed_orifice_by_the_root_of_the_pressure() -> None:
    cart = read_appliance_text(SMALL)
    high = replace(cart, supply=replace(cart.supply, altitude_m=1524.0, ambient_pressure_Pa=84_307.0))
    low, thin = (convert_to(each, target("propane", 2740.0)).burners[0] for each in (cart, high))
    ratio = thin.from_predicted_gross_W / low.from_predicted_gross_W
    assert ratio == pytest.approx(math.sqrt((84_307 + 2740) / (101_325 + 2740)), rel=6e-3)


def test_a_file_with_carriage_returns_gives_the_same_figures(tmp_path) -> None:  # type: ignore[no-untyped-def]
    from burnerlab.appliance import read_appliance

    (tmp_path / "a.toml").write_bytes(SMALL.encode())
    (tmp_path / "b.toml").write_bytes(SMALL.replace("\n", "\r\n").encode())
    one, two = (convert_to(read_appliance(tmp_path / n), target("G20", 2000.0)) for n in ("a.toml", "b.toml"))
    assert one.burners == two.burners
    assert one.file_sha256 != two.file_sha256
