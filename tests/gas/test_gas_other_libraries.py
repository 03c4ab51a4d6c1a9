"""Direct comparison with general libraries at random compositions: CoolProp mixtures, GERG-2008 and AGA8 DETAIL."""

from __future__ import annotations

import numpy as np
import pytest

from burnerlab.gas import Composition, mixture_arrays
from burnerlab.gas.properties import relative_uncertainties
from burnerlab.quantity import PRESETS, ReferenceState

COOLPROP = {
    "methane": "Methane",
    "ethane": "Ethane",
    "propane": "Propane",
    "n-butane": "n-Butane",
    "isobutane": "IsoButane",
    "nitrogen": "Nitrogen",
    "carbon dioxide": "CarbonDioxide",
}
PYAGA8 = {
    "methane": "methane",
    "ethane": "ethane",
    "propane": "propane",
    "n-butane": "n_butane",
    "isobutane": "isobutane",
    "nitrogen": "nitrogen",
    "carbon dioxide": "carbon_dioxide",
}
NAMES = list(COOLPROP)
NATURAL = np.array([85.0, 6.0, 2.0, 0.3, 0.3, 4.0, 2.0])


def compositions(count: int, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    parts = NATURAL * rng.uniform(0.2, 1.8, (count, len(NATURAL)))
    return parts / parts.sum(axis=1, keepdims=True)


def table_u(x: np.ndarray, state: ReferenceState) -> np.ndarray:
    """Relative standard uncertainty of Z that the property table states for itself."""
    gases = [Composition.of(dict(zip(NAMES, row, strict=True)), per="mole") for row in x]
    return np.array([relative_uncertainties(gas, state)["compression_factor"] for gas in gases])


def assert_within_stated_uncertainty(ours: np.ndarray, theirs: np.ndarray, u: np.ndarray) -> None:
    """The differences are those of a standard uncertainty u: one u in the mean, none beyond 3.5 u."""
    gap = np.abs(ours / theirs - 1.0) / u
    assert gap.mean() < 1.0
    assert gap.max() < 3.5


@pytest.mark.parametrize("temperature_K", [273.15, 288.15, 293.15])
def test_compression_factor_of_natural_gases_agrees_with_coolprop(temperature_K: float) -> None:
    import CoolProp

    x = compositions(12, 5)
    at = ReferenceState(288.15, temperature_K)
    ours = mixture_arrays(x, NAMES, at)
    fluid = CoolProp.AbstractState("HEOS", "&".join(COOLPROP.values()))
    fluid.specify_phase(CoolProp.iphase_gas)
    theirs = []
    for fractions in x:
        fluid.set_mole_fractions([float(v) for v in fractions])
        fluid.update(CoolProp.PT_INPUTS, 101325.0, temperature_K)
        theirs.append((fluid.compressibility_factor(), fluid.rhomass()))
    Z, density = np.array(theirs).T
    assert_within_stated_uncertainty(ours.compression_factor, Z, table_u(x, at))
    assert ours.density_kg_per_m3 == pytest.approx(density, rel=2e-4)


@pytest.mark.parametrize("model", ["gerg", "detail"])
def test_compression_factor_of_natural_gases_agrees_with_aga8(model: str) -> None:
    import pyaga8

    x = compositions(40, 6)
    ours = mixture_arrays(x, NAMES, PRESETS["ISO_15_15"])
    theirs = []
    for fractions in x:
        state = pyaga8.Gerg2008() if model == "gerg" else pyaga8.Detail()
        mix = pyaga8.Composition()
        for name, value in zip(NAMES, fractions, strict=True):
            setattr(mix, PYAGA8[name], float(value))
        state.set_composition(mix)
        state.calc_molar_mass()
        state.pressure, state.temperature = 101.325, 288.15
        if model == "gerg":
            state.calc_density(0)
        else:
            state.calc_density()
        state.calc_properties()
        theirs.append((state.z, state.mm))
    Z, mass = np.array(theirs).T
    assert_within_stated_uncertainty(ours.compression_factor, Z, table_u(x, PRESETS["ISO_15_15"]))
    assert ours.molar_mass_kg_per_mol * 1e3 == pytest.approx(mass, rel=5e-5)  # older atomic weights there


@pytest.mark.parametrize(
    ("name", "within"), [("propane", 3e-5), ("n-butane", 3e-5), ("isobutane", 3e-5), ("methane", 3e-6)]
)
def test_compression_factor_of_pure_gases_agrees_with_their_reference_equations(
    name: str, within: float
) -> None:
    import CoolProp.CoolProp as CP  # noqa: N817

    ours = mixture_arrays([[1.0]], [name], PRESETS["ISO_15_15"]).compression_factor[0]
    theirs = CP.PropsSI("Z", "T|gas", 288.15, "P", 101325.0, COOLPROP[name])
    assert ours == pytest.approx(theirs, abs=within)
