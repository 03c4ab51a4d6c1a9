"""Rate against the setting of a regulator, outlet against its inlet: gas dynamics, relations, what stays open."""

from __future__ import annotations

import math

import numpy as np
import pytest

from burnerlab.appliance import Appliance, demonstration, read_appliance_text
from burnerlab.appliance.operation.regulator_curves import at_setting, regulator_curves
from burnerlab.tables.problem import UserError

PSI_Pa, AIR_Pa = 6894.757, 101325.0
RING = """
[appliance]
name   = "one ring"
rating = "gross"

[supply]
gas      = "{gas}"
pressure = "10 psig"
allow_high_pressure = true
{supply}

[[burner]]
name    = "ring"
rate    = "20 kW"
orifice = {{ diameter = "1.2 mm", coefficient = 0.9 }}
ports   = {{ diameter = "3.0 mm", count = 300, depth = "6 mm" }}
throat  = "40 mm"
"""
HIGH = """inlet = "60 psi"
[supply.regulator]
type = "lp high pressure"
set = "10 psig"
"""
PRESSURES = tuple(PSI_Pa * psi for psi in (2.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0))


def ring(supply: str = HIGH, gas: str = "propane") -> Appliance:
    return read_appliance_text(RING.format(gas=gas, supply=supply))


def test_a_choked_orifice_passes_gas_in_proportion_to_the_absolute_pressure() -> None:
    """m = Cd A p_1 sqrt(k/(R T)) (2/(k + 1))^((k + 1)/(2 (k - 1))): isentropic flow (Shapiro 1953, memory).

    Methane as an ideal gas, k 1.308 at 15 C and 518.3 J/(kg K): within 0.6 %, its compressibility of 0.995 left out.
    """
    curves = regulator_curves(ring("", "G20"), settings_Pa=PRESSURES)
    assert any("at the manifold" in note for note in curves.notes)
    choked = [row.burners[0] for row in curves.settings if row.burners[0].choked]
    assert [burner.burner for burner in choked] == ["ring"] * 4  # above 12.3 psi
    k, area = 1.308, 0.9 * math.pi / 4 * 0.0012**2
    per_pressure = area * math.sqrt(k / (518.3 * 288.15)) * (2 / (k + 1)) ** ((k + 1) / (2 * (k - 1)))
    for burner in choked:
        p1 = burner.gauge_pressure_Pa + AIR_Pa
        # 55.6 MJ/kg gross, ISO 6976
        assert burner.heat_input_gross_W == pytest.approx(per_pressure * p1 * 55.57e6, rel=6e-3)


@pytest.mark.parametrize("gas", ["propane", "G20"])
def test_the_rate_rises_with_the_setting_and_lies_within_its_band(gas: str) -> None:
    curves = regulator_curves(ring(gas=gas), settings_Pa=PRESSURES)
    heats = [row.burners[0].heat_input_gross_W for row in curves.settings]
    assert np.all(np.diff(heats) > 0.0)
    for row in curves.settings:
        burner = row.burners[0]
        assert burner.heat_input_low_gross_W < burner.heat_input_gross_W < burner.heat_input_high_gross_W
        assert row.total_heat_input_gross_W == pytest.approx(burner.heat_input_gross_W)
        assert row.lock_up_gauge_pressure_Pa is not None
        assert row.lock_up_gauge_pressure_Pa > row.setting_gauge_pressure_Pa > burner.gauge_pressure_Pa
    flags = [row.burners[0].choked for row in curves.settings]
    assert flags == sorted(flags)  # once choked, choked at every higher setting


def test_one_spring_keeps_droop_and_lock_up_in_pascals_and_another_spring_does_not() -> None:
    adjustable = ring()
    low, high = (at_setting(adjustable, p).supply.train.regulator for p in (3e4, 2e5))  # type: ignore[union-attr]
    assert low is not None
    assert high is not None
    assert (low.droop_Pa, low.lock_up_Pa) == (high.droop_Pa, high.lock_up_Pa)
    cart = demonstration()
    half = at_setting(cart, 0.5 * 1768.5).supply.train.regulator  # type: ignore[union-attr]
    whole = at_setting(cart, 1768.5).supply.train.regulator  # type: ignore[union-attr]
    assert half is not None
    assert whole is not None
    assert half.droop_Pa == pytest.approx(whole.droop_Pa / 2)


def test_the_settings_of_an_adjustable_kind_go_to_30_psi() -> None:
    curves = regulator_curves(ring())
    psi = [row.setting_gauge_pressure_Pa / PSI_Pa for row in curves.settings]
    assert psi == pytest.approx([5, 10, 15, 20, 25, 30], rel=1e-3)
    needs = [row.least_inlet_gauge_pressure_Pa for row in curves.settings]
    assert needs == pytest.approx([(p + 5) * PSI_Pa for p in psi], rel=1e-3)  # 5 psi above the set point
    assert curves.warnings[0].startswith("WARNING: Possible overfire: ring from a setting of")


def test_the_outlet_moves_with_the_inlet_by_the_sign_of_its_effect() -> None:
    inlets = tuple(PSI_Pa * p for p in (25.0, 60.0, 120.0))
    for effect, sign in ((0.01, 1), (-0.01, -1)):
        curves = regulator_curves(ring(HIGH + f"inlet_effect = {effect}\n"), inlets_Pa=inlets)
        outlets = np.array([row.outlet_gauge_pressure_Pa for row in curves.inlets])
        assert np.all(sign * np.diff(outlets) > 0.0)
        lock_ups = np.diff([row.lock_up_gauge_pressure_Pa for row in curves.inlets])
        assert lock_ups == pytest.approx(effect * np.diff(inlets))
    unknown = regulator_curves(ring(), inlets_Pa=inlets)
    for row in unknown.inlets:
        assert row.outlet_gauge_pressure_low_Pa <= row.outlet_gauge_pressure_Pa
        assert row.outlet_gauge_pressure_Pa <= row.outlet_gauge_pressure_high_Pa
        assert row.lock_up_gauge_pressure_Pa >= row.outlet_gauge_pressure_Pa
    at_60 = unknown.inlets[1]  # where it was set nothing is open
    assert at_60.outlet_gauge_pressure_low_Pa == pytest.approx(at_60.outlet_gauge_pressure_high_Pa)


def test_an_inlet_below_what_it_needs_is_marked_and_is_all_there_is() -> None:
    row = regulator_curves(ring(), inlets_Pa=[8 * PSI_Pa]).inlets[0]
    assert row.inlet_suffices is False
    assert row.lock_up_gauge_pressure_Pa <= 8 * PSI_Pa
    assert row.outlet_gauge_pressure_Pa <= 8 * PSI_Pa


def test_what_cannot_be_computed_is_left_out_and_said() -> None:
    cold = regulator_curves(ring(gas="butane-n"), settings_Pa=(0.5 * PSI_Pa, 30 * PSI_Pa))
    assert len(cold.settings) == 1
    assert any("left out" in note for note in cold.notes)
    with pytest.raises(UserError, match="no setting"):
        regulator_curves(ring(gas="butane-n"), settings_Pa=(30 * PSI_Pa,))
    nothing_known = ring(HIGH.replace('inlet = "60 psi"\n', ""))
    curves = regulator_curves(nothing_known)
    assert curves.inlets == ()
    assert any("not evaluated" in note for note in curves.notes)
    assert all(row.inlet_suffices is None for row in curves.settings)


def test_why_a_burner_has_no_air_is_said() -> None:
    text = RING.format(gas="propane", supply=HIGH).replace('throat  = "40 mm"', "")
    burner = regulator_curves(read_appliance_text(text), settings_Pa=[5 * PSI_Pa]).settings[0].burners[0]
    assert burner.primary_aeration is None
    assert "throat" in burner.why_no_air
    assert burner.flame == ""


@pytest.mark.parametrize("gas", ["propane", "G20"])
def test_the_air_of_a_choked_jet_goes_on_without_a_step_falls_and_is_known_less(gas: str) -> None:
    """More pressure brings more gas but hardly a faster jet: k (k + 1)/2 P^2/((k + 1) P - 1) of ``jet_momentum``."""
    chokes = {"propane": 73.0, "G20": 84.8}[gas]  # kPa, 10.6 and 12.3 psi at sea level
    settings = [chokes * share * 1e3 for share in (0.97, 0.99, 1.02, 1.04, 1.3, 1.8, 2.5)]
    rows = [row.burners[0] for row in regulator_curves(ring("", gas), settings_Pa=settings).settings]
    assert [row.choked for row in rows] == [False, False, True, True, True, True, True]
    air = [row.primary_aeration or math.nan for row in rows]
    assert abs(air[2] / air[1] - 1.0) < 0.01
    assert np.all(np.diff(air[2:]) < 0.0)
    width = [
        ((row.primary_aeration_high or 0.0) - (row.primary_aeration_low or 0.0)) / a
        for row, a in zip(rows, air, strict=True)
    ]
    assert np.all(np.diff(width[1:]) > -1e-3)
    assert width[-1] > 1.3 * width[0]
    assert all(row.flame for row in rows)
