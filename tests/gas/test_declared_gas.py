"""A gas from a bill or a rating plate: what it gives, and what it refuses."""

from __future__ import annotations

import math

import pytest

from burnerlab.gas import DeclaredGas, Gas, gas_from_mapping, load, properties
from burnerlab.quantity import PRESETS, ReferenceState, UserError

US = PRESETS["US_60F_14p696_dry"]
BILL = {"name": "bill", "gross_heating_value": "1037 Btu/ft3 gross at 60F", "relative_density": 0.6}


def declared(**more: object) -> DeclaredGas:
    gas = gas_from_mapping({**BILL, **more})
    assert isinstance(gas, DeclaredGas)
    return gas


def test_heating_value_and_density_meet_on_one_state() -> None:
    found = declared().properties()
    assert found.reference == ReferenceState.read("60F")
    assert found.gross_wobbe_J_per_m3 == pytest.approx(1037 * 37258.9458 / math.sqrt(0.6), rel=1e-8)
    assert found.net_heating_value_J_per_m3 is None
    assert found.net_wobbe_J_per_m3 is None


@pytest.mark.parametrize("name", ["natural-gas-us-mean", "propane", "butane-n", "hydrogen"])
@pytest.mark.parametrize("ideal", [False, True])
def test_a_gas_declared_by_its_own_figures_flows_like_itself(name: str, ideal: bool) -> None:
    """Mass, density and heating value per kilogram follow from two figures and their state alone."""
    gas = load(name)
    assert isinstance(gas, Gas)
    p = properties(gas, US)
    copy = DeclaredGas(
        name="copy",
        title="",
        gross_heating_value_J_per_m3=p.ideal_gross_heating_value_J_per_m3
        if ideal
        else p.gross_heating_value_J_per_m3,
        relative_density=p.ideal_relative_density if ideal else p.relative_density,
        reference=US,
        ideal=ideal,
        source="",
        provenance="computed",
    )
    assert copy.heating_value_J_per_kg("gross") == pytest.approx(p.gross_heating_value_J_per_kg, rel=1e-12)
    expected = p.ideal_density_kg_per_m3 if ideal else p.density_kg_per_m3
    assert copy.standard_density_kg_per_m3(US) == pytest.approx(expected, rel=1e-12)
    assert copy.density_kg_per_m3(288.7056, 101325.354) == pytest.approx(expected, rel=1e-6)
    warm = copy.density_kg_per_m3(2 * 288.7056, 101325.354)
    assert warm == pytest.approx(expected / 2, rel=1e-6)
    exponent = float(gas.isentropic_exponent(288.15, 101325.0))
    if name != "hydrogen":  # estimated among paraffins
        assert copy.isentropic_exponent(288.15, 101325.0) == pytest.approx(exponent, rel=0.01)


def test_net_is_given_estimated_or_refused() -> None:
    with pytest.raises(UserError, match="net heating value is not declared and no family"):
        declared().heating_value_J_per_kg("net")
    estimated = declared(family="natural gas")
    assert estimated.net_is_estimate()
    assert estimated.net_to_gross() == pytest.approx(0.902, abs=5e-4)
    assert any("estimated" in note for note in estimated.properties().notes)
    given = declared(net_heating_value="935 Btu/ft3")
    assert not given.net_is_estimate()
    assert given.properties().notes == ()
    assert given.heating_value_J_per_kg("net") / given.heating_value_J_per_kg("gross") == pytest.approx(
        935 / 1037
    )


def test_another_state_is_reached_with_a_warning() -> None:
    gas = load("natural-gas-us-mean")
    assert isinstance(gas, Gas)
    p = properties(gas, US)
    copy = declared(
        gross_heating_value=f"{p.gross_heating_value_J_per_m3 / 1e6} MJ/m3", reference="US_60F_14p696_dry"
    )
    for name in ("ISO_15_15", "DIN_25_0", "US_60F_30inHg_sat", "RU_25_20"):
        found = copy.properties(PRESETS[name])
        assert "0.3 %" in found.notes[0]
        truth = properties(gas, PRESETS[name]).gross_heating_value_J_per_m3
        assert found.gross_heating_value_J_per_m3 == pytest.approx(truth, rel=3e-3)


def test_what_needs_a_composition_is_refused() -> None:
    gas = declared()
    with pytest.raises(UserError, match="needs a composition"):
        _ = gas.composition
    with pytest.raises(UserError, match="needs a composition"):
        properties(gas, US)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"gross_heating_value": "1037 Btu/ft3"}, "needs the reference state"),
        ({"gross_heating_value": "1037 Btu/ft3 net at 60F"}, "is stated net, the key is gross"),
        ({"gross_heating_value": "50 MJ/kg"}, "heating value of a volume"),
        ({"gross_heating_value": "1037"}, "unit"),
        ({"relative_density": None}, "relative density is missing or wrong"),
        ({"relative_density": 0.0}, "relative density is missing or wrong"),
        ({"relative_density": math.nan}, "relative density is missing or wrong"),
        ({"relative_density": True}, "relative density is missing or wrong"),
        ({"net_heating_value": "1100 Btu/ft3"}, "must lie below the gross one"),
        ({"family": "naturel gas"}, "unknown family"),
        ({"reference": "17C/15C"}, "no combustion temperature"),
    ],
)
def test_a_wrong_declaration_is_refused(more: dict[str, object], says: str) -> None:
    with pytest.raises(UserError, match=says):
        declared(**more)


def test_the_trade_pair_of_propane_is_an_ideal_one() -> None:
    pair, gas = load("trade-propane-2516"), load("propane")
    assert isinstance(pair, DeclaredGas)
    assert isinstance(gas, Gas)
    p = properties(gas, US)
    assert pair.ideal
    assert pair.gross_heating_value_J_per_m3 == pytest.approx(p.ideal_gross_heating_value_J_per_m3, rel=2e-4)
    assert pair.relative_density == pytest.approx(p.ideal_relative_density, rel=2e-3)
    assert pair.properties().gross_wobbe_J_per_m3 == pytest.approx(p.ideal_gross_wobbe_J_per_m3, rel=1e-3)


@pytest.mark.parametrize("gauge_pressure_Pa", [500.0, 2740.0, 150e3])
def test_equal_wobbe_gives_equal_heat_input(gauge_pressure_Pa: float) -> None:
    """Four times the density and twice the heating value of a volume: the same Wobbe index, the same input."""
    from burnerlab.orifice import Conditions, flow

    light = declared(family="natural gas", relative_density=0.5)
    heavy = declared(
        family="natural gas", relative_density=2.0, gross_heating_value="2074 Btu/ft3 gross at 60F"
    )
    wobbes = [gas.properties().gross_wobbe_J_per_m3 for gas in (light, heavy)]
    assert wobbes[0] == pytest.approx(wobbes[1], rel=1e-14)
    conditions = Conditions(gauge_pressure_Pa=gauge_pressure_Pa)
    inputs = [flow(gas, 1.4e-3, conditions).heat_input_gross_W for gas in (light, heavy)]
    assert inputs[0] == pytest.approx(inputs[1], rel=1e-12)
