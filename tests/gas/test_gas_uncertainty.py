"""Uncertainty: ISO 6976:2016, D.4 with its printed correlation matrix, and what must hold for any gas."""

from __future__ import annotations

import numpy as np
import pytest

from burnerlab.gas import Composition, gas_from_mapping, load, properties
from burnerlab.gas.properties import POWERS, normalised_correlation, relative_uncertainties
from burnerlab.quantity import PRESETS, ReferenceState, UserError

ISO = PRESETS["ISO_15_15"]

# ISO 6976:2016, D.4: eleven components, their standard uncertainties, and the correlation matrix of D.4.3.2
D4 = {
    "methane": (0.922393, 0.000348),
    "ethane": (0.025358, 0.000247),
    "propane": (0.015190, 0.000149),
    "n-butane": (0.000523, 0.000018),
    "isobutane": (0.001512, 0.000027),
    "n-pentane": (0.002846, 0.000007),
    "isopentane": (0.002832, 0.000009),
    "neopentane": (0.001015, 0.000004),
    "n-hexane": (0.002865, 0.000008),
    "nitrogen": (0.010230, 0.000195),
    "carbon dioxide": (0.015236, 0.000112),
}
PRINTED_UPPER = """
-0.657246 -0.377458 -0.041205 -0.056924  0.099228  0.061961  0.064295  0.080202 -0.512347 -0.265664
-0.035617 -0.007450 -0.013720 -0.085690 -0.063295 -0.054908 -0.074061 -0.030668 -0.038371
-0.004442 -0.007810 -0.039877 -0.029677 -0.025538 -0.034574 -0.024994 -0.023925
-0.000824 -0.000592 -0.000551 -0.000372 -0.000567 -0.005703 -0.003373
 0.002803  0.001827  0.001811  0.002303 -0.010740 -0.005392
 0.079557  0.071180  0.094670 -0.072794 -0.014019
 0.051085  0.067927 -0.053627 -0.010845
 0.060788 -0.046653 -0.008952
-0.062845 -0.012357
-0.028699
"""
FIELDS = (
    ("gross_heating_value_J_per_m3", 1e-6),
    ("net_heating_value_J_per_m3", 1e-6),
    ("density_kg_per_m3", 1.0),
    ("relative_density", 1.0),
    ("gross_wobbe_J_per_m3", 1e-6),
    ("net_wobbe_J_per_m3", 1e-6),
)
PRINTED = {
    ("15C/15C", "identity"): (0.026917, 0.024757, 0.000586, 0.000478, 0.021588, 0.020151),
    ("15C/15C", "matrix"): (0.016316, 0.015305, 0.000277, 0.000226, 0.019823, 0.018498),
    ("25C/0C", "identity"): (0.028425, 0.026164, 0.000619, 0.000479, 0.022783, 0.021278),
    ("25C/0C", "matrix"): (0.017241, 0.016181, 0.000293, 0.000227, 0.020914, 0.019528),
}


def example() -> tuple[Composition, dict[str, float]]:
    composition = Composition.of({name: x for name, (x, _) in D4.items()}, per="mole")
    return composition, {name: u for name, (_, u) in D4.items()}


def printed_matrix(composition: Composition) -> np.ndarray:
    """The printed upper triangle as a matrix, in the order of the composition."""
    matrix = np.eye(len(D4))
    for i, line in enumerate(PRINTED_UPPER.strip().splitlines()):
        matrix[i, i + 1 :] = matrix[i + 1 :, i] = [float(v) for v in line.split()]
    order = [list(D4).index(name) for name in composition.names]
    return matrix[np.ix_(order, order)]


@pytest.mark.parametrize(("state", "treatment"), PRINTED)
def test_d4_is_met_to_its_last_digit(state: str, treatment: str) -> None:
    composition, u = example()
    at = ReferenceState.read(state)
    matrix = printed_matrix(composition) if treatment == "matrix" else None
    relative = relative_uncertainties(composition, at, u, matrix)
    values = properties(composition, at)
    for (name, scale), printed in zip(FIELDS, PRINTED[state, treatment], strict=True):
        assert relative[name] * getattr(values, name) * scale == pytest.approx(printed, abs=6e-7), name


def test_the_printed_matrix_is_that_of_normalising() -> None:
    """The uncertainties are printed to two or three digits, which lets the correlations differ by 0.02."""
    composition, u = example()
    ours, printed = normalised_correlation(composition, u), printed_matrix(composition)
    well_known = [
        composition.names.index(name)
        for name in ("methane", "ethane", "propane", "nitrogen", "carbon dioxide")
    ]
    assert np.abs(ours - printed).max() < 0.025
    assert np.abs((ours - printed)[np.ix_(well_known, well_known)]).max() < 1.5e-3


def test_normalising_is_what_a_simulation_finds() -> None:
    rng = np.random.default_rng(1)
    before, u = np.array([0.85, 0.1, 0.05]), np.array([0.002, 0.001, 0.0005])
    draws = before + u * rng.standard_normal((200_000, 3))
    draws /= draws.sum(axis=1, keepdims=True)
    composition = Composition.of(
        dict(zip(("methane", "ethane", "nitrogen"), before, strict=True)), per="mole"
    )
    found = normalised_correlation(composition, dict(zip(composition.names, draws.std(axis=0), strict=True)))
    assert found == pytest.approx(np.corrcoef(draws.T), abs=0.01)


def test_first_order_agrees_with_a_simulation() -> None:
    """GUM linear propagation against 100 000 draws of an independent composition, on every real-gas property."""
    from burnerlab.gas import mixture_arrays

    rng = np.random.default_rng(2)
    composition, u = example()
    spread = np.array([u[name] for name in composition.names])
    draws = np.array(composition.fractions) + spread * rng.standard_normal((100_000, len(spread)))
    draws = np.abs(draws)
    draws /= draws.sum(axis=1, keepdims=True)
    many = mixture_arrays(draws, composition.names, ISO)
    normalised = dict(zip(composition.names, draws.std(axis=0), strict=True))
    table = relative_uncertainties(composition, ISO)
    both = relative_uncertainties(
        composition, ISO, normalised, normalised_correlation(composition, normalised)
    )
    for name, _ in FIELDS:
        array = getattr(many, name)
        linear = np.sqrt(both[name] ** 2 - table[name] ** 2)
        assert linear == pytest.approx(array.std() / array.mean(), rel=0.015), name


def test_all_uncertainties_scale_together() -> None:
    composition, u = example()
    table = relative_uncertainties(composition, ISO)
    one = relative_uncertainties(composition, ISO, u)
    three = relative_uncertainties(composition, ISO, {name: 3 * value for name, value in u.items()})
    for name in (*POWERS, "stoichiometric_air_m3_per_m3"):
        part_one, part_three = (np.sqrt(found[name] ** 2 - table[name] ** 2) for found in (one, three))
        assert part_three == pytest.approx(3 * part_one, rel=1e-9)


def test_certain_fractions_leave_the_table_alone() -> None:
    composition, u = example()
    zeros = dict.fromkeys(u, 0.0)
    assert relative_uncertainties(composition, ISO, zeros) == relative_uncertainties(composition, ISO)


def test_a_gas_says_what_its_uncertainty_covers() -> None:
    library = properties(load("natural-gas-us-mean"), ISO)  # type: ignore[arg-type]
    assert library.uncertainty_covers == "property table"
    assert library.expanded_percent("gross_wobbe_J_per_m3") == pytest.approx(0.038, abs=2e-3)
    measured = gas_from_mapping(
        {
            "composition": {k: x for k, (x, _) in D4.items()},
            "per": "mole",
            "uncertainty": {k: u for k, (_, u) in D4.items()},
        }
    )
    found = properties(measured, ISO)  # type: ignore[arg-type]
    assert found.uncertainty_covers == "property table and composition"
    assert found.uncertainty["gross_wobbe_J_per_m3"] * found.gross_wobbe_J_per_m3 == pytest.approx(
        21588, abs=1
    )
    assert all(0 < value < 0.01 for value in found.uncertainty.values())


@pytest.mark.parametrize(
    "matrix", [np.eye(2), np.array([[1, 0.5], [0.4, 1]]), 2 * np.eye(11), np.full((11, 11), np.nan)]
)
def test_what_is_no_correlation_is_refused(matrix: np.ndarray) -> None:
    composition, u = example()
    with pytest.raises(UserError, match="not a correlation matrix"):
        relative_uncertainties(composition, ISO, u, matrix)


def test_uncertainties_that_normalising_cannot_give_are_refused() -> None:
    two = Composition.of({"methane": 0.6, "nitrogen": 0.4}, per="mole")
    with pytest.raises(UserError, match="cannot come from normalising"):
        normalised_correlation(two, {"methane": 0.001, "nitrogen": 0.0})
