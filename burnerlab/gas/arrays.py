"""The property equations on many compositions at once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from burnerlab.gas.component import AIR, Array, canonical_name, component_table
from burnerlab.gas.composition import SUM_TOLERANCE
from burnerlab.gas.properties import MixtureArrays
from burnerlab.gas.state import StateConstants, constants_of
from burnerlab.gas.summation import property_columns
from burnerlab.quantity import Problem, ReferenceState, UserError

CHUNK = 4096  # rows at a time: the work arrays stay in the second-level cache
OUTPUTS = tuple(name for name in MixtureArrays.__dataclass_fields__ if name != "reference")


def mixture_arrays(
    fractions: ArrayLike, component_names: Sequence[str], reference: ReferenceState
) -> MixtureArrays:
    """Properties of many mixtures, the equations of ``properties`` on arrays.

    fractions : mole fractions [-], shape [..., n], each row summing to 1
    component_names : the n components, by any name or formula
    Raises UserError naming the first row that is no composition or has no fuel.

    >>> from burnerlab.quantity import ReferenceState
    >>> many = mixture_arrays([[1.0, 0.0], [0.86, 0.14]], ["CH4", "N2"], ReferenceState.read("15C/15C"))
    >>> many.gross_wobbe_J_per_m3 / 1e6
    array([50.72, 41.50])
    """
    x = np.asarray(fractions, dtype=np.float64)
    index = _indices(component_names, x)
    rows = np.ascontiguousarray(x.reshape(-1, x.shape[-1]))
    state = constants_of(reference)
    columns = np.concatenate([property_columns(state)[index], np.ones((len(index), 1))], axis=1)
    out = {name: np.empty(len(rows)) for name in OUTPUTS}
    for start in range(0, len(rows), CHUNK):
        part = rows[start : start + CHUNK]
        with np.errstate(invalid="ignore"):  # an infinite fraction is refused below, by its row
            sums = (part @ columns).T
        _check(part, sums, start)
        _fill(
            {name: values[start : start + CHUNK] for name, values in out.items()},
            np.ascontiguousarray(sums),
            state,
        )
    shape = x.shape[:-1]
    return MixtureArrays(reference=reference, **{name: values.reshape(shape) for name, values in out.items()})


def _indices(component_names: Sequence[str], x: Array) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
    names = [canonical_name(name) for name in component_names]
    for name in names:
        if names.count(name) > 1:
            raise UserError(
                Problem(f"{name} given twice", key="component_names", fix="give each component once")
            )
    if AIR in names:
        raise UserError(
            Problem("air is a mixture", key="component_names", fix="give nitrogen, oxygen and argon")
        )
    if x.ndim == 0 or x.shape[-1] != len(names):
        problem = f"the last axis has {x.shape[-1] if x.ndim else 0} entries for {len(names)} component names"
        raise UserError(Problem(problem, key="fractions", fix="give one column per component"))
    return component_table().take(names)


def _check(part: Array, sums: Array, start: int) -> None:
    """Refuse rows that are no composition; written so that nan fails."""
    total = sums[4]
    if part.size and not (
        part.min() >= 0.0 and np.abs(total - 1.0).max() <= SUM_TOLERANCE and sums[3].min() > 0.0
    ):
        good = (part >= 0.0).all(axis=1) & (np.abs(total - 1.0) <= SUM_TOLERANCE)
        row = int(np.argmin(good & (sums[3] > 0.0)))
        what = (
            "this gas has no fuel" if good[row] else f"not a composition: fractions sum to {total[row]:.6g}"
        )
        value = ", ".join(f"{v:g}" for v in part[row])
        fix = "give rows of fractions, 0 or more, that sum to 1"
        raise UserError(Problem(f"row {start + row}: {what}", value=value, key="fractions", fix=fix))


def _fill(out: dict[str, Array], sums: Array, state: StateConstants) -> None:
    """The property equations on one chunk, in place in the output arrays."""
    mass, s, gross, net, _ = sums
    M, Z, d = out["molar_mass_kg_per_mol"], out["compression_factor"], out["relative_density"]
    table = component_table()
    dry = 1.0 - state.water
    np.multiply(mass, dry, out=M)
    M += state.water * table.molar_mass_kg_per_mol[table.index["water"]]
    np.multiply(s, s, out=Z)
    Z *= -state.pressure_ratio
    Z += 1.0
    per_volume = np.divide(dry / state.ideal_molar_volume_m3_per_mol, Z, out=s)
    rho = np.multiply(M, per_volume, out=out["density_kg_per_m3"])
    rho /= dry
    np.multiply(rho, state.ideal_molar_volume_m3_per_mol * state.Z_air / state.M_air_kg_per_mol, out=d)
    root = np.sqrt(d, out=mass)
    for basis, sum_ in (("gross", gross), ("net", net)):
        value = np.multiply(sum_, per_volume, out=out[f"{basis}_heating_value_J_per_m3"])
        np.divide(value, root, out=out[f"{basis}_wobbe_J_per_m3"])
