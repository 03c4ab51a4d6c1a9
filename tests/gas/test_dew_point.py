"""Vapour pressures and dew points."""

from __future__ import annotations

import numpy as np
import pytest

from burnerlab.gas import dew_point
from burnerlab.tables import rows
from burnerlab.tables.problem import UserError


def test_saturation_and_dew_point_undo_each_other() -> None:
    temperature = np.linspace(273.2, 450.0, 60)
    pressure = dew_point.water_saturation_pressure_Pa(temperature)
    np.testing.assert_allclose(dew_point.water_dew_point_K(pressure), temperature, rtol=1e-9)


def test_ice_and_water_meet_at_the_triple_point() -> None:
    just_below, just_above = dew_point.water_saturation_pressure_Pa([273.1499, 273.15])
    assert just_below == pytest.approx(just_above, rel=2e-4)
    assert just_below < just_above


@pytest.mark.parametrize("temperature", [100.0, 700.0, float("nan")])
def test_water_outside_its_range_is_refused(temperature: float) -> None:
    with pytest.raises(UserError, match="190 to 647"):
        dew_point.water_saturation_pressure_Pa(temperature)


def test_a_mixture_condenses_between_its_parts() -> None:
    x = np.linspace(0, 1, 11)
    dew = dew_point.dew_pressure_Pa(["propane", "n-butane"], np.stack([x, 1 - x], axis=-1), 273.15)
    assert np.all(np.diff(dew) > 0.0)
    ends = dew_point.vapour_pressure_Pa(["n-butane", "propane"], 273.15)
    np.testing.assert_allclose(dew[[0, -1]], ends, rtol=1e-12)


def test_inert_gas_thins_the_vapour_and_raises_the_dew_pressure() -> None:
    pure, half = (
        float(dew_point.dew_pressure_Pa(["n-butane", "nitrogen"], [x, 1 - x], 263.15)) for x in (1.0, 0.5)
    )
    assert half == pytest.approx(2 * pure, rel=1e-12)


def test_natural_gas_and_hydrogen_never_condense_here() -> None:
    assert float(dew_point.dew_pressure_Pa(["methane", "nitrogen"], [0.9, 0.1], 243.15)) >= 1e6
    assert np.isinf(dew_point.dew_pressure_Pa(["hydrogen"], [1.0], 243.15))


@pytest.mark.parametrize(
    ("component", "temperature", "gauge_psi", "liquid"),
    [
        ("n-butane", 288.706, 2.0, False),  # orifice_compressible: a vapour at 60 F
        ("n-butane", 288.706, 15.0, True),  # and not a vapour at 60 F at these
        ("n-butane", 288.706, 30.0, True),
        ("propane", 288.706, 10.0, False),
        ("propane", 233.15, 10.0, True),
    ],
)
def test_lpg_is_told_from_its_liquid(
    component: str, temperature: float, gauge_psi: float, liquid: bool
) -> None:
    pressure = 101325.0 + gauge_psi * 6894.757
    assert bool(pressure > dew_point.dew_pressure_Pa([component], [1.0], temperature)) is liquid
    if liquid:
        with pytest.raises(UserError, match=f"not all vapour at {temperature - 273.15:.1f} C"):
            dew_point.require_vapour([component], [1.0], temperature, pressure)
    else:
        dew_point.require_vapour([component], [1.0], temperature, pressure)


def test_one_liquid_state_among_many_is_found() -> None:
    temperature = np.array([300.0, 290.0, 268.0, 310.0])
    with pytest.raises(UserError, match=r"-5\.1 C"):
        dew_point.require_vapour(["n-butane"], [1.0], temperature, 105e3)
    dew_point.require_vapour(["n-butane"], [1.0], temperature[[0, 1, 3]], 105e3)


def test_critical_constants_are_those_of_the_library_named() -> None:
    chemicals = pytest.importorskip("chemicals")
    for row in rows("critical"):
        cas = row["place"].split("CAS ")[1].split(";")[0]
        assert float(row["critical_temperature_K"]) == pytest.approx(chemicals.Tc(cas), rel=1e-3), row[
            "component"
        ]
        assert float(row["critical_pressure_Pa"]) == pytest.approx(chemicals.Pc(cas), rel=5e-3), row[
            "component"
        ]
        assert float(row["acentric_factor"]) == pytest.approx(chemicals.omega(cas), abs=2e-3), row[
            "component"
        ]
