"""Properties of a gas by ISO 6976: heating values, density, Wobbe index, and their uncertainty.

Every property is a product of powers, Y = H^h Z^z M^m R^r M_air^a Z_air^b, so its relative uncertainty is

    u^2 = c u r u c [composition] + h^2 u(H)^2 + z^2 u(Z)^2 + m^2 u(M)^2 + r^2 u(R)^2 + ... [tables],
all u relative, with c_i = h H_i/H + z Z_i/Z + m M_i/M,  Z_i = -2 (p/p0) S s_i,  S = sum x s.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from burnerlab.gas.component import AIR, Array, canonical_name, component_table, constant, constant_u
from burnerlab.gas.composition import SUM_TOLERANCE, Composition
from burnerlab.gas.gas import Gas
from burnerlab.gas.summation import (
    StateConstants,
    constants_of,
    from_sums,
    gross_J_per_mol,
    net_J_per_mol,
    no_fuel,
    property_columns,
    read_basis,
    sums,
)
from burnerlab.quantity import Kind, Problem, ReferenceState, UserError
from burnerlab.quantity.outputs import columns, computed_output, output
from burnerlab.quantity.summary import Summary, WithSummary, figure

# How sure a property is: standard uncertainties after Annex B of ISO 6976:2016, first order (GUM).

COVERAGE_FACTOR = 2.0
"""What expands a standard uncertainty to about 95 % coverage."""


@dataclass(frozen=True, slots=True)
class Powers:
    """Exponents of a property in heating value, Z, M, R, M_air and Z_air."""

    h: float = 0.0
    z: float = 0.0
    m: float = 0.0
    r: float = 0.0
    m_air: float = 0.0
    z_air: float = 0.0
    net: bool = False


def _powers() -> dict[str, Powers]:
    half = 0.5
    found = {
        "molar_mass_kg_per_mol": Powers(m=1),
        "compression_factor": Powers(z=1),
        "molar_volume_m3_per_mol": Powers(z=1, r=1),
        "density_kg_per_m3": Powers(m=1, z=-1, r=-1),
        "relative_density": Powers(m=1, z=-1, m_air=-1, z_air=1),
        "ideal_density_kg_per_m3": Powers(m=1, r=-1),
        "ideal_relative_density": Powers(m=1, m_air=-1),
    }
    for basis in ("gross", "net"):
        net = basis == "net"
        found[f"{basis}_heating_value_J_per_mol"] = Powers(h=1, net=net)
        found[f"{basis}_heating_value_J_per_kg"] = Powers(h=1, m=-1, net=net)
        found[f"{basis}_heating_value_J_per_m3"] = Powers(h=1, z=-1, r=-1, net=net)
        found[f"ideal_{basis}_heating_value_J_per_m3"] = Powers(h=1, r=-1, net=net)
        found[f"ideal_{basis}_wobbe_J_per_m3"] = Powers(h=1, m=-half, r=-1, m_air=half, net=net)
        found[f"{basis}_wobbe_J_per_m3"] = Powers(
            h=1, z=-half, m=-half, r=-1, m_air=half, z_air=-half, net=net
        )
    return found


POWERS = _powers()


@dataclass(frozen=True, slots=True)
class _Terms:
    """Relative sensitivities to the mole fractions, and relative table variances, of one gas at one state."""

    x: Array
    h: dict[bool, Array]  # by net
    z: Array
    m: Array
    var_h: dict[bool, float]
    var_z: float
    var_m: float
    var_r: float
    var_m_air: float
    var_z_air: float


def relative_uncertainties(
    composition: Composition,
    reference: ReferenceState,
    fraction_u: Mapping[str, float] | None = None,
    correlation: Array | None = None,
) -> dict[str, float]:
    """Relative standard uncertainty (k = 1) of every property, and of the stoichiometric air.

    fraction_u : standard uncertainties of mole fractions by component [mol/mol]; None: table data only
    correlation : of the mole fractions, in the order of ``composition.names``; None is the identity, which
        overestimates; ``normalised_correlation`` gives the one that normalising to 1 brings about
    Raises UserError for a correlation of the wrong shape. Source: iso6976-2016, Annex B.

    >>> from burnerlab.quantity import ReferenceState
    >>> propane = Composition.of({"propane": 1.0}, per="mole")
    >>> 100 * relative_uncertainties(propane, ReferenceState.read("15C/15C"))["gross_heating_value_J_per_m3"]
    0.049
    """
    terms = _terms(composition, constants_of(reference))
    u = np.array([(fraction_u or {}).get(name, 0.0) for name in composition.names])
    covariance = np.outer(u, u) * (
        np.eye(len(u)) if correlation is None else _checked(correlation, composition)
    )
    found = {name: _relative(powers, terms, covariance) for name, powers in POWERS.items()}
    air = _air_sensitivity(composition) - terms.z
    found["stoichiometric_air_m3_per_m3"] = float(
        np.sqrt(air @ covariance @ air + terms.var_z + terms.var_z_air)
    )
    return found


def normalised_correlation(composition: Composition, fraction_u: Mapping[str, float]) -> Array:
    """Correlation of mole fractions that were measured independently and then normalised to a sum of 1.

    x = x'/sum x', so cov = J diag(v) J^T with J = I - x 1^T; the variances v before normalising follow from
    the given ones, u_i^2 = v_i (1 - 2 x_i) + x_i^2 sum v. Raises UserError where no such v exist (one of the
    fractions is known too well beside the others).

    >>> two = Composition.of({"methane": 0.9, "nitrogen": 0.1}, per="mole")
    >>> normalised_correlation(two, {"methane": 0.001, "nitrogen": 0.001})
    array([[ 1., -1.],
           [-1.,  1.]])
    """
    x = np.array(composition.fractions)
    u = np.array([fraction_u.get(name, 0.0) for name in composition.names])
    system = np.diag(1.0 - 2.0 * x) + np.outer(x * x, np.ones_like(x))
    before = np.linalg.lstsq(system, u * u, rcond=None)[0]
    reached = np.allclose(system @ before, u * u, rtol=1e-6, atol=1e-9 * np.max(u * u))
    if not reached or not np.all(before >= -1e-12 * np.max(u * u)):
        problem = "these uncertainties cannot come from normalising independent measurements"
        fix = "give the correlation itself, or none"
        raise UserError(Problem(problem, key="uncertainty", fix=fix))
    jacobian = np.eye(len(x)) - x[:, None]
    covariance = jacobian @ np.diag(np.maximum(before, 0.0)) @ jacobian.T
    scale = np.sqrt(np.diag(covariance))
    scale = np.where(scale > 0.0, scale, 1.0)
    correlation: Array = covariance / np.outer(scale, scale)
    np.fill_diagonal(correlation, 1.0)
    return correlation


def _checked(correlation: Array, composition: Composition) -> Array:
    n = len(composition.names)
    good = np.shape(correlation) == (n, n) and np.allclose(correlation, np.transpose(correlation))
    if not good or not np.allclose(np.diag(correlation), 1.0) or np.abs(correlation).max() > 1.0 + 1e-9:
        accepted = f"a symmetric {n} by {n} matrix with ones on its diagonal, in the order of the components"
        raise UserError(Problem("not a correlation matrix", key="correlation", accepted=accepted))
    return np.asarray(correlation, dtype=float)


def _terms(composition: Composition, state: StateConstants) -> _Terms:
    table = component_table()
    index = table.take(composition.names)
    x = np.array(composition.fractions)
    s = table.summation_factor[state.metering_column][index]
    total = float(x @ s)
    Z = 1.0 - state.pressure_ratio * total**2
    masses = table.molar_mass_kg_per_mol[index]
    dry = 1.0 - state.water
    M = dry * float(x @ masses) + state.water * float(table.molar_mass_kg_per_mol[table.index["water"]])
    column = state.combustion_column
    gross, net = gross_J_per_mol(column)[index], net_J_per_mol(column)[index]
    u_gross = float(np.sum((x * table.u_gross_J_per_mol[index]) ** 2))
    water = float(x @ table.atoms[index, 1]) / 2.0  # moles formed
    latent = (water * constant_u(f"L0_water_{column}") * 1e3) ** 2
    return _Terms(
        x=x,
        h={False: gross / (x @ gross), True: net / (x @ net)},
        z=-2.0 * state.pressure_ratio * total * s / Z,
        m=dry * masses / M,
        var_h={False: u_gross / float(x @ gross) ** 2, True: (u_gross + latent) / float(x @ net) ** 2},
        var_z=float(
            4 * (state.pressure_ratio * total / Z) ** 2 * np.sum((x * table.u_summation_factor[index]) ** 2)
        ),
        var_m=float(np.sum((dry * (x @ table.atoms[index]) * _atomic_u_kg_per_mol()) ** 2)) / M**2,
        var_r=(constant_u("R") / constant("R")) ** 2,
        var_m_air=(constant_u("M_air") / constant("M_air")) ** 2,
        var_z_air=(constant_u(f"Z_air_{state.metering_column}") / constant(f"Z_air_{state.metering_column}"))
        ** 2,
    )


@cache
def _atomic_u_kg_per_mol() -> Array:
    """Standard uncertainties of the atomic weights, in the order of ELEMENTS; Ar and He have none."""
    return np.array([*(constant_u(f"atomic_weight_{e}") * 1e-3 for e in "CHNOS"), 0.0, 0.0])


def _relative(powers: Powers, terms: _Terms, covariance: Array) -> float:
    c = powers.h * terms.h[powers.net] + powers.z * terms.z + powers.m * terms.m
    variance = float(c @ covariance @ c)
    variance += powers.h**2 * terms.var_h[powers.net] + powers.z**2 * terms.var_z + powers.m**2 * terms.var_m
    variance += (
        powers.r**2 * terms.var_r + powers.m_air**2 * terms.var_m_air + powers.z_air**2 * terms.var_z_air
    )
    return float(np.sqrt(variance))


def _air_sensitivity(composition: Composition) -> Array:
    """Oxygen each component needs over that of the gas, C + H/4 + S - O/2."""
    table = component_table()
    atoms = table.atoms[table.take(composition.names)]
    need = atoms @ np.array([1.0, 0.25, 0.0, -0.5, 1.0, 0.0, 0.0])
    total = float(need @ np.array(composition.fractions))
    share: Array = need / total if total > 0.0 else np.zeros_like(need)
    return share


# Heating values, density, compression factor and Wobbe index at a reference state (ISO 6976:2016).

LOWEST_Z = 0.9  # iso6976-2016, clause 5: range of the summation method


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class GasProperties(WithSummary):
    """Properties of one gas at one reference state; plain names are real gas, ``ideal_`` ones ideal gas.

    At a saturated state volumes, moles and masses count the water vapour, heating values the dry gas in them.
    """

    reference: ReferenceState
    composition: Composition
    molar_mass_kg_per_mol: float
    compression_factor: float = field(metadata=output("compression factor"))
    molar_volume_m3_per_mol: float = field(metadata=output("molar volume", unit="m3/mol"))
    gross_heating_value_J_per_mol: float = field(
        metadata=output("heating value", Kind.HEATING_VALUE_MOLE, basis="gross")
    )
    net_heating_value_J_per_mol: float = field(
        metadata=output("heating value", Kind.HEATING_VALUE_MOLE, basis="net")
    )
    gross_heating_value_J_per_kg: float = field(
        metadata=output("heating value", Kind.HEATING_VALUE_MASS, basis="gross")
    )
    net_heating_value_J_per_kg: float = field(
        metadata=output("heating value", Kind.HEATING_VALUE_MASS, basis="net")
    )
    gross_heating_value_J_per_m3: float = field(
        metadata=output("heating value", Kind.HEATING_VALUE_VOLUME, basis="gross")
    )
    net_heating_value_J_per_m3: float = field(
        metadata=output("heating value", Kind.HEATING_VALUE_VOLUME, basis="net")
    )
    density_kg_per_m3: float = field(metadata=output("density", Kind.DENSITY))
    relative_density: float = field(metadata=output("relative density"))
    gross_wobbe_J_per_m3: float = field(
        metadata=output("Wobbe index", Kind.HEATING_VALUE_VOLUME, basis="gross")
    )
    net_wobbe_J_per_m3: float = field(metadata=output("Wobbe index", Kind.HEATING_VALUE_VOLUME, basis="net"))
    ideal_gross_heating_value_J_per_m3: float = field(
        metadata=output("heating value, ideal gas", Kind.HEATING_VALUE_VOLUME, basis="gross")
    )
    ideal_net_heating_value_J_per_m3: float = field(
        metadata=output("heating value, ideal gas", Kind.HEATING_VALUE_VOLUME, basis="net")
    )
    ideal_density_kg_per_m3: float = field(metadata=output("density, ideal gas", Kind.DENSITY))
    ideal_relative_density: float = field(metadata=output("relative density, ideal gas"))
    ideal_gross_wobbe_J_per_m3: float = field(
        metadata=output("Wobbe index, ideal gas", Kind.HEATING_VALUE_VOLUME, basis="gross")
    )
    ideal_net_wobbe_J_per_m3: float = field(
        metadata=output("Wobbe index, ideal gas", Kind.HEATING_VALUE_VOLUME, basis="net")
    )
    uncertainty: Mapping[str, float]  # relative standard uncertainty (k = 1) of each property by name
    uncertainty_covers: str  # what it covers: the property table, with the composition where its own is known
    notes: tuple[str, ...] = ()

    @property
    @computed_output("molar mass", unit="kg/kmol")
    def molar_mass_kg_per_kmol(self) -> float:
        """As tables print it."""
        return 1e3 * self.molar_mass_kg_per_mol

    def summary(self) -> Summary:
        heat = figure(self.gross_heating_value_J_per_m3, Kind.HEATING_VALUE_VOLUME)
        wobbe = figure(self.gross_wobbe_J_per_m3, Kind.HEATING_VALUE_VOLUME)
        words = f"{heat} gross at {self.reference.words()}, gross Wobbe index {wobbe}"
        rows = []
        for column in columns(type(self)):
            name = "molar_mass_kg_per_mol" if column.name == "molar_mass_kg_per_kmol" else column.name
            rows.append((column.label, column.text(self), f"{self.expanded_percent(name):.2g} %"))
        return Summary(words, (("", "value", "± (k = 2)"), *rows), self.notes)

    def expanded_percent(self, name: str) -> float:
        """Expanded uncertainty (k = 2, about 95 %) of a property [% of its value]."""
        return 100.0 * COVERAGE_FACTOR * self.uncertainty[name]

    def heating_value_J_per_m3(self, basis: str) -> float:
        """Real-gas heating value of a cubic metre; basis is ``gross`` or ``net``."""
        return (
            self.gross_heating_value_J_per_m3
            if read_basis(basis) == "gross"
            else self.net_heating_value_J_per_m3
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class MixtureArrays:
    """Properties of many mixtures at one reference state, one array element per mixture."""

    reference: ReferenceState
    molar_mass_kg_per_mol: Array
    compression_factor: Array
    gross_heating_value_J_per_m3: Array
    net_heating_value_J_per_m3: Array
    density_kg_per_m3: Array
    relative_density: Array
    gross_wobbe_J_per_m3: Array
    net_wobbe_J_per_m3: Array

    @property
    def molar_volume_m3_per_mol(self) -> Array:
        """Real-gas molar volume."""
        return self.compression_factor * constants_of(self.reference).ideal_molar_volume_m3_per_mol

    @property
    def gross_heating_value_J_per_mol(self) -> Array:
        return self.gross_heating_value_J_per_m3 * self.molar_volume_m3_per_mol

    @property
    def net_heating_value_J_per_mol(self) -> Array:
        return self.net_heating_value_J_per_m3 * self.molar_volume_m3_per_mol

    @property
    def gross_heating_value_J_per_kg(self) -> Array:
        return self.gross_heating_value_J_per_m3 / self.density_kg_per_m3

    @property
    def net_heating_value_J_per_kg(self) -> Array:
        return self.net_heating_value_J_per_m3 / self.density_kg_per_m3


def properties(gas: Gas | Composition, reference: ReferenceState) -> GasProperties:
    """All properties of a gas at a reference state.

    Z = 1 - (p/p0) (sum x s)^2, V = Z R T / p, Hv = sum x Hc / V, d = M Z_air / (M_air Z), W = Hv / sqrt(d).
    Raises UserError outside the standard's range and for a gas without fuel. Source: iso6976-2016.

    >>> from burnerlab.quantity import Kind, ReferenceState
    >>> methane = Composition.of({"methane": 1.0}, per="mole")
    >>> properties(methane, ReferenceState.read("15C/15C")).gross_wobbe_J_per_m3 / 1e6
    50.73
    """
    composition = gas if isinstance(gas, Composition) else gas.composition
    found: dict[str, Any] = {**property_values(gas, reference)}
    notes = (
        ()
        if found["compression_factor"] > LOWEST_Z
        else (f"Z is below {LOWEST_Z}: outside the property standard",)
    )
    fraction_u = None if isinstance(gas, Composition) else gas.uncertainty
    found["uncertainty"] = relative_uncertainties(composition, reference, fraction_u)
    found["uncertainty_covers"] = "property table" + (" and composition" if fraction_u else "")
    return GasProperties(reference=reference, composition=composition, notes=notes, **found)


def property_values(gas: Gas | Composition, reference: ReferenceState) -> dict[str, float]:
    """The figures of ``properties`` by name, without their uncertainty, which takes ten times as long.

    >>> from burnerlab.quantity import ReferenceState
    >>> methane = Composition.of({"methane": 1.0}, per="mole")
    >>> property_values(methane, ReferenceState.read("15C/15C"))["ideal_relative_density"]
    0.5538
    """
    composition = gas if isinstance(gas, Composition) else gas.composition
    state = constants_of(reference)
    mass, s, gross, net = sums(composition, state)
    if not gross > 0.0 or not net > 0.0:
        raise no_fuel(composition)
    return from_sums(mass, s, gross, net, state)


# The property equations on many compositions at once.

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
