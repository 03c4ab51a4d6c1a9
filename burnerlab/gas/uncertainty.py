"""How sure a property is: standard uncertainties after Annex B of ISO 6976:2016, first order (GUM).

Every property is a product of powers, Y = H^h Z^z M^m R^r M_air^a Z_air^b, so its relative uncertainty is

    u^2 = c u r u c [composition] + h^2 u(H)^2 + z^2 u(Z)^2 + m^2 u(M)^2 + r^2 u(R)^2 + ... [tables],
all u relative, with c_i = h H_i/H + z Z_i/Z + m M_i/M,  Z_i = -2 (p/p0) S s_i,  S = sum x s.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np

from burnerlab.gas.component import Array, component_table, constant, constant_u
from burnerlab.gas.composition import Composition
from burnerlab.gas.state import StateConstants, constants_of, gross_J_per_mol, net_J_per_mol
from burnerlab.quantity import Problem, ReferenceState, UserError

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
