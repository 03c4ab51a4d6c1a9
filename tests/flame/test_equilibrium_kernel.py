"""The batched equilibrium kernel: conservation, mass action and independence of how states are grouped."""

from __future__ import annotations

import numpy as np
import pytest

from burnerlab.flame import equilibrium_kernel
from burnerlab.flame.equilibrium_kernel import CHUNK, SPECIES, Charge, equilibrium
from burnerlab.gas.heat_capacity import enthalpy_over_R, entropy_over_R, polynomials


def charges(size: int, seed: int = 0) -> Charge:
    """Random atoms of fuel and air with the enthalpy of formation of methane burning hotter or colder."""
    rng = np.random.default_rng(seed)
    carbon, hydrogen = rng.uniform(0.1, 1, size), rng.uniform(0.1, 4, size)
    demand = carbon + hydrogen / 4
    air = demand / 0.21 / rng.uniform(0.4, 2.0, size)
    return Charge(
        carbon=carbon,
        hydrogen=hydrogen,
        oxygen=0.42 * air,
        nitrogen=1.56 * air,
        argon=0.01 * air,
        sulphur=np.zeros(size),
        enthalpy_over_R=rng.uniform(-9e3, 6e3, size) * carbon + rng.uniform(0, 1e3, size) * hydrogen,
        pressure_Pa=rng.uniform(6e4, 1.2e5, size),
    )


def test_atoms_and_enthalpy_are_conserved() -> None:
    charge = charges(3000)
    found = equilibrium(charge)
    assert found.converged.all()
    gri = polynomials("gri").at(SPECIES[:-1])
    atoms = gri.atoms.T @ found.amounts[:-1]
    for row, want in zip(
        atoms[:4], (charge.carbon, charge.hydrogen, charge.nitrogen, charge.oxygen), strict=True
    ):
        np.testing.assert_allclose(row, want, rtol=1e-10)
    held = np.einsum("ij,ji->j", found.amounts[:-1], enthalpy_over_R(gri, found.temperature_K))
    np.testing.assert_allclose(held, charge.enthalpy_over_R, atol=1e-6 * 2000)


@pytest.mark.parametrize(
    ("products", "reactants"),
    [
        ({"CO2": 1}, {"CO": 1, "O2": 0.5}),
        ({"CO": 1, "H2O": 1}, {"CO2": 1, "H2": 1}),
        ({"OH": 2}, {"O2": 1, "H2": 1}),
        ({"H": 2}, {"H2": 1}),
        ({"O": 2}, {"O2": 1}),
        ({"NO": 2}, {"N2": 1, "O2": 1}),
    ],
)
def test_mass_action_holds(products: dict[str, float], reactants: dict[str, float]) -> None:
    charge = charges(400, seed=3)
    found = equilibrium(charge)
    gri = polynomials("gri").at(SPECIES[:-1])
    gibbs = enthalpy_over_R(gri, found.temperature_K) / found.temperature_K[:, None]
    gibbs = gibbs - entropy_over_R(gri, found.temperature_K)
    moles = found.amounts.sum(axis=0)
    logarithm = np.log(found.amounts[:-1] / moles * charge.pressure_Pa / equilibrium_kernel.STANDARD_Pa)
    change, activity = np.zeros(400), np.zeros(400)
    for sign, side in ((1, products), (-1, reactants)):
        for name, count in side.items():
            change += sign * count * gibbs[:, SPECIES.index(name)]
            activity += sign * count * logarithm[SPECIES.index(name)]
    np.testing.assert_allclose(activity, -change, atol=1e-8)


def test_how_states_are_grouped_does_not_matter() -> None:
    whole = charges(CHUNK + 17, seed=4)
    together = equilibrium(whole).temperature_K
    for i in (0, 5, CHUNK - 1, CHUNK, CHUNK + 16):
        alone = Charge(**{name: getattr(whole, name)[i : i + 1] for name in Charge.__dataclass_fields__})
        assert equilibrium(alone).temperature_K[0] == pytest.approx(together[i], abs=1e-6)


def test_it_closes_in_few_iterations() -> None:
    found = equilibrium(charges(4000, seed=5))
    assert found.converged.all()
    assert found.iterations <= 12


def test_a_charge_that_cannot_be_balanced_says_so() -> None:
    good = charges(2, seed=6)
    hot = Charge(
        **{name: getattr(good, name) for name in Charge.__dataclass_fields__}
        | {"enthalpy_over_R": np.array([0.0, 1e9])}
    )
    found = equilibrium(hot)
    assert found.converged.tolist() == [True, False]
    assert found.temperature_K[1] == pytest.approx(equilibrium_kernel.HIGHEST_K)
