"""The draw from an LP cylinder: balances, relations, endings, refusals."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from burnerlab.gas import load
from burnerlab.supply.cylinder import (
    COLD,
    EMPTY,
    HORIZON,
    NEVER_ENOUGH,
    PRESSURE,
    Draw,
    cylinder_named,
    cylinders,
    fill_of_mass,
    heat_figure,
    hold,
    hold_at_inlets,
    hold_in_air,
    wetted_area_m2,
    withdraw,
)
from burnerlab.supply.lpg_vapour import (
    evaporation_heat_J_per_mol,
    liquid_heat_capacity_J_per_mol_K,
    vapour_over,
)
from burnerlab.supply.regulator import typical
from burnerlab.tables.problem import UserError

STALL = Draw(
    gas=load("propane"),
    cylinder=cylinder_named("20 lb"),
    fill=0.8,
    air_temperature_K=273.15,
    heat_input_W=17.584e3,
)
M_PROPANE = 0.0440956


def test_the_gas_drawn_is_the_heat_drawn() -> None:
    found = withdraw(STALL)
    used = found.series.liquid_mass_kg[0] - found.series.liquid_mass_kg[-1]
    heat = STALL.heat_input_W * found.hold_time_s
    assert used * load("propane").heating_value_J_per_kg("gross") == pytest.approx(heat, rel=1e-6)


def test_without_heat_from_the_air_the_liquid_pays_for_its_own_vapour() -> None:
    found = withdraw(replace(STALL, horizon_s=1800.0), heat_transfer_W_per_m2_K=0.0)
    series, cylinder = found.series, STALL.cylinder
    moles = series.liquid_mass_kg / M_PROPANE
    middle = 0.5 * (series.temperature_K[1:] + series.temperature_K[:-1])
    volume = series.liquid_level * cylinder.water_capacity_m3
    steel = heat_figure("steel heat capacity").value * cylinder.tare_kg / cylinder.shell_area_m2
    area = 0.5 * (wetted_area_m2(cylinder, volume[1:]) + wetted_area_m2(cylinder, volume[:-1]))
    heat_capacity = np.array([float(liquid_heat_capacity_J_per_mol_K(["propane"], [1.0], t)) for t in middle])
    latent = np.array([float(evaporation_heat_J_per_mol(["propane"], [1.0], t)) for t in middle])
    stored = (0.5 * (moles[1:] + moles[:-1]) * heat_capacity + steel * area) * -np.diff(series.temperature_K)
    spent = latent * -np.diff(moles)
    assert np.sum(stored) == pytest.approx(np.sum(spent), rel=1e-4)


def test_pressure_is_that_of_the_liquid_at_its_temperature_all_along() -> None:
    series = withdraw(replace(STALL, gas=load("lpg-50-50"))).series
    names = load("lpg-50-50").composition.names
    over = vapour_over(names, series.liquid_fractions, series.temperature_K)
    np.testing.assert_allclose(series.gauge_pressure_Pa, over.pressure_Pa - 101325.0, rtol=1e-12)


def test_the_lighter_part_leaves_first() -> None:
    mild = replace(STALL, gas=load("lpg-50-50"), air_temperature_K=288.15, heat_input_W=6e3)
    fractions = withdraw(mild).series.liquid_fractions
    light = load("lpg-50-50").composition.names.index("propane")
    assert np.all(np.diff(fractions[:, light]) < 0.0)
    assert fractions[0, light] - fractions[-1, light] > 0.02


@pytest.mark.parametrize(
    ("change", "longer"),
    [
        ({"heat_input_W": 12e3}, True),
        ({"air_temperature_K": 283.15}, True),
        ({"cylinder": cylinder_named("40 lb")}, True),
        ({"minimum_inlet_Pa": 100e3}, False),
        ({"fill": 0.4}, False),
        ({"ambient_pressure_Pa": 80e3}, True),  # a gauge pressure lasts longer where the air is thin
        ({"basis": "net"}, False),  # the same rate net is more gas
    ],
)
def test_what_makes_it_last(change: dict[str, object], longer: bool) -> None:
    usual, other = withdraw(STALL).hold_time_s, withdraw(replace(STALL, **change)).hold_time_s  # type: ignore[arg-type]
    assert (other > usual) is longer


def test_each_ending_is_said() -> None:
    assert withdraw(STALL).ending == PRESSURE
    assert withdraw(STALL).final_gauge_pressure_Pa == pytest.approx(STALL.minimum_inlet_Pa, rel=1e-4)
    warm = replace(STALL, air_temperature_K=303.15, heat_input_W=3e3)
    empty = withdraw(warm)
    assert empty.ending == EMPTY
    assert empty.series.liquid_level[-1] == pytest.approx(heat_figure("empty share").value, rel=1e-3)
    assert withdraw(replace(warm, horizon_s=3600.0)).ending == HORIZON
    icy = replace(
        STALL, air_temperature_K=233.15, minimum_inlet_Pa=0.0, heat_input_W=40e3, ambient_pressure_Pa=60e3
    )
    assert withdraw(icy).ending in (COLD, PRESSURE)


def test_butane_in_the_cold_holds_nothing_and_says_so() -> None:
    frost = replace(STALL, gas=load("butane-n"), air_temperature_K=272.15, minimum_inlet_Pa=30e3)
    found = hold(frost)
    assert found.nominal.hold_time_s == 0.0
    assert found.nominal.ending == PRESSURE
    assert found.nominal.ending_words == NEVER_ENOUGH
    assert found.nominal.final_gauge_pressure_Pa < 30e3


def test_the_band_holds_the_nominal_and_the_notes_speak_of_frost() -> None:
    found = hold(STALL)
    assert found.low.hold_time_s < found.nominal.hold_time_s < found.high.hold_time_s
    words = " ".join(found.notes)
    assert "An estimate" in words
    assert "frost" in words
    assert found.below_freezing
    assert not hold(replace(STALL, heat_input_W=500.0, air_temperature_K=303.15)).below_freezing


def test_a_higher_inlet_shortens_the_time_and_its_band_goes_with_it() -> None:
    """Both ends that the table of single-stage regulators names, 5 and 25 psi, beside its value of 8 psi."""
    inlets = typical("lp single stage").minimum_inlet_Pa
    rows = hold_at_inlets(STALL, (inlets.high, inlets.low, inlets.value))
    assert [row.minimum_inlet_Pa for row in rows] == [inlets.low, inlets.value, inlets.high]
    for end in ("hold_time_s", "hold_time_low_s", "hold_time_high_s"):
        times = [getattr(row, end) for row in rows]
        assert times == sorted(times, reverse=True)
    for row in rows:
        assert row.hold_time_low_s < row.hold_time_s < row.hold_time_high_s
    assert rows[1].hold_time_s == hold(STALL).nominal.hold_time_s


def test_wind_lengthens_the_time_and_frost_shortens_it() -> None:
    rows = {row.air: row for row in hold_in_air(STALL)}
    order = [rows[air].hold_time_s for air in ("frost in still air", "still air", "light air", "breeze")]
    assert order == sorted(order)
    assert all(row.hold_time_low_s < row.hold_time_s < row.hold_time_high_s for row in rows.values())
    warm = hold_in_air(replace(STALL, heat_input_W=1e3, air_temperature_K=298.15))
    assert [row.air for row in warm] == ["still air", "light air", "breeze"]  # no frost above 0 C


def _coefficient(
    air_K: float, colder_K: float, wetted_m: float, wind_m_per_s: float, emissivity: float
) -> float:
    """Churchill and Chu (1975), Churchill and Bernstein (1977), both from memory; radiation; air of the ideal gas."""
    wall_K = air_K - colder_K
    film_K = 0.5 * (air_K + wall_K)
    viscosity = 1.458e-6 * film_K**1.5 / (film_K + 110.4) / (101325.0 / (287.05 * film_K))
    conductivity, prandtl, diameter = 0.0241 * (film_K / 273.15) ** 0.82, 0.715, 0.31
    rayleigh = 9.80665 / film_K * colder_K * wetted_m**3 / viscosity**2 * prandtl
    root = 0.825 + 0.387 * rayleigh ** (1 / 6) / (1 + (0.492 / prandtl) ** (9 / 16)) ** (8 / 27)
    free = root**2 * conductivity / wetted_m
    re = wind_m_per_s * diameter / viscosity
    forced = 0.62 * re**0.5 * prandtl ** (1 / 3) / (1 + (0.4 / prandtl) ** (2 / 3)) ** 0.25
    forced = (
        (0.3 + forced * (1 + (re / 282000) ** 0.625) ** 0.8) * conductivity / diameter
        if wind_m_per_s
        else 0.0
    )
    radiation = emissivity * 5.670374e-8 * (air_K**2 + wall_K**2) * (air_K + wall_K)
    return (free**3 + forced**3) ** (1 / 3) + radiation


@pytest.mark.parametrize(
    ("air", "winds"),
    [("still air", (0.0, 0.0, 0.0)), ("light air", (0.5, 1.0, 1.5)), ("breeze", (1.5, 3.0, 5.0))],
)
def test_the_coefficients_are_those_of_the_correlations(air: str, winds: tuple[float, float, float]) -> None:
    """A computed table proves its arithmetic, no cylinder."""
    found, (low, wind, high) = heat_figure(air), winds
    assert found.value == pytest.approx(_coefficient(273.15, 15.0, 0.3, wind, 0.9), abs=0.06)
    cases = [
        _coefficient(air_K, colder, wetted, end, emissivity)
        for air_K in (258.15, 273.15, 293.15)
        for colder in (5.0, 15.0, 25.0)
        for wetted in (0.15, 0.45)
        for emissivity in (0.8, 0.95)
        for end in (low, high)
    ]
    assert (found.low, found.high) == pytest.approx((min(cases), max(cases)), abs=0.06)


def test_the_value_is_light_air_and_its_band_reaches_from_still_air_to_a_wind_of_2_5_m_per_s() -> None:
    usual = heat_figure("heat transfer")
    assert usual.value == pytest.approx(_coefficient(273.15, 15.0, 0.3, 1.0, 0.9), abs=0.3)
    assert usual.low == heat_figure("still air").low
    assert usual.high == pytest.approx(_coefficient(273.15, 15.0, 0.3, 2.5, 0.9), abs=0.3)
    frost = heat_figure("frost in still air")
    still = _coefficient(273.15, 15.0, 0.3, 0.0, 0.9)
    ends = [1.0 / (1.0 / still + depth / k) for depth, k in ((3e-3, 0.15), (10e-3, 0.1), (1e-3, 0.4))]
    assert (frost.value, frost.low, frost.high) == pytest.approx(ends, abs=0.06)


def test_a_draw_that_the_air_pays_for_settles() -> None:
    gentle = withdraw(replace(STALL, heat_input_W=1.5e3, air_temperature_K=293.15, horizon_s=14 * 3600.0))
    area = float(
        wetted_area_m2(STALL.cylinder, gentle.series.liquid_level[-1] * STALL.cylinder.water_capacity_m3)
    )
    t = gentle.final_temperature_K
    latent = float(evaporation_heat_J_per_mol(["propane"], [1.0], t)) / M_PROPANE
    spent = 1.5e3 / load("propane").heating_value_J_per_kg("gross") * latent
    assert gentle.heat_transfer_W_per_m2_K * area * (293.15 - t) == pytest.approx(spent, rel=0.03)


def test_a_mass_is_a_fill() -> None:
    assert fill_of_mass(load("propane"), cylinder_named("20 lb"), 9.07, 288.71) == pytest.approx(
        0.829, abs=1e-3
    )


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"fill": 0.95}, "fill"),
        ({"fill": 0.0}, "fill"),
        ({"fill": float("nan")}, "fill"),
        ({"air_temperature_K": 343.15}, "-45 to 50 C"),
        ({"heat_input_W": 0.0}, "rate"),
        ({"heat_input_W": float("inf")}, "rate"),
        ({"heat_input_W": 3e8}, "rate"),
        ({"minimum_inlet_Pa": -5.0}, "minimum"),
        ({"horizon_s": 0.0}, "time"),
        ({"gas": load("natural-gas-typical")}, "stay liquid"),
    ],
)
def test_what_cannot_be_computed_is_refused(change: dict[str, object], word: str) -> None:
    with pytest.raises(UserError, match=word):
        withdraw(replace(STALL, **change))  # type: ignore[arg-type]


def test_a_heat_table_of_ones_own_goes_before(tmp_path: Path) -> None:
    own = tmp_path / "heat.csv"
    own.write_text("name,value,low,high,source\nheat transfer,20,18,22,my shed\n", encoding="utf-8")
    assert hold(STALL, own).nominal.heat_transfer_W_per_m2_K == 20.0
    assert withdraw(STALL, own=own).hold_time_s > withdraw(STALL).hold_time_s


def test_sizes_hold_about_what_their_names_say() -> None:
    for name, cylinder in cylinders().items():
        nominal = float(name.split()[0]) * (0.45359237 if name.endswith("lb") else 1.0)
        full = 0.85 * cylinder.water_capacity_m3 * 560.0  # a butane-propane liquid at 15 C
        assert 0.85 < full / nominal < 1.35, name
    with pytest.raises(UserError, match="did you mean"):
        cylinder_named("20 lbs")
