"""Many mixtures at once: the same figures as one by one, and the row at fault named."""

from __future__ import annotations

import numpy as np
import pytest

from burnerlab.gas import Composition, MixtureArrays, mixture_arrays, properties
from burnerlab.gas.component import component_names
from burnerlab.quantity import PRESETS, UserError

NAMES = [name for name in component_names() if name != "water"]
FIELDS = [name for name in MixtureArrays.__dataclass_fields__ if name != "reference"]
DERIVED = [name for name in dir(MixtureArrays) if isinstance(getattr(MixtureArrays, name), property)]


@pytest.mark.parametrize("state", sorted(PRESETS))
def test_arrays_are_the_properties_one_by_one(state: str) -> None:
    x = np.random.default_rng(3).dirichlet(np.ones(len(NAMES)), 20)
    many = mixture_arrays(x, NAMES, PRESETS[state])
    for i, row in enumerate(x):
        one = properties(Composition.of(dict(zip(NAMES, row, strict=True)), per="mole"), PRESETS[state])
        for name in FIELDS + DERIVED:
            assert getattr(many, name)[i] == pytest.approx(getattr(one, name), rel=1e-12), name


def test_shape_is_kept_and_chunks_do_not_show() -> None:
    x = np.random.default_rng(4).dirichlet(np.ones(3), 10_000).reshape(100, 100, 3)
    names = ["CH4", "C2H6", "N2"]
    many = mixture_arrays(x, names, PRESETS["ISO_15_15"])
    assert many.gross_wobbe_J_per_m3.shape == (100, 100)
    last = mixture_arrays(x[99, 99], names, PRESETS["ISO_15_15"])
    assert last.gross_wobbe_J_per_m3.shape == ()
    assert many.gross_wobbe_J_per_m3[99, 99] == pytest.approx(float(last.gross_wobbe_J_per_m3), rel=1e-14)


def test_an_empty_array_is_no_trouble() -> None:
    assert mixture_arrays(np.empty((0, 2)), ["CH4", "N2"], PRESETS["ISO_15_15"]).relative_density.shape == (
        0,
    )


GOOD = [0.9, 0.1]


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ([0.9, 0.2], "row 5001: not a composition: fractions sum to 1.1"),
        ([1.1, -0.1], "row 5001: not a composition"),
        ([np.nan, 0.1], "row 5001: not a composition"),
        ([np.inf, 0.0], "row 5001: not a composition"),
        ([0.0, 1.0], "row 5001: this gas has no fuel"),
    ],
)
def test_the_row_at_fault_is_named(row: list[float], says: str) -> None:
    rows = [GOOD] * 5001 + [row] + [GOOD] * 10
    with pytest.raises(UserError, match=says):
        mixture_arrays(rows, ["CH4", "N2"], PRESETS["ISO_15_15"])


@pytest.mark.parametrize(
    ("names", "says"),
    [
        (["CH4", "methane"], "methane given twice"),
        (["CH4"], "2 entries for 1 component names"),
        (["CH4", "air"], "air is a mixture"),
        (["CH4", "C4H10"], "n-butane or isobutane"),
    ],
)
def test_wrong_columns_are_refused(names: list[str], says: str) -> None:
    with pytest.raises(UserError, match=says):
        mixture_arrays([GOOD], names, PRESETS["ISO_15_15"])
