"""State of the gas upstream of an orifice: density, isentropic exponent, viscosity.

One virial equation, Z = 1 + B rho. At 15 C and 101.325 kPa B is set so that Z equals the standard's 1 - (sum
x s)^2;
away from there each pair of components follows the corresponding-states shape of the second virial
coefficient.

Pure gases from one published correlation, mixtures by Wilke's rule. A gas known only by heating value and
density is given the viscosity of the alkane of its molar mass, marked as an estimate.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Protocol, cast

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.gas.component import component_table, constant
from burnerlab.gas.composition import Composition
from burnerlab.gas.dew_point import critical_constants, terms
from burnerlab.gas.heat_capacity import GAS_CONSTANT, polynomials
from burnerlab.tables.problem import Problem, UserError

# The gas just upstream of an orifice: real density and isentropic exponent at its temperature and pressure.

FloatArray = NDArray[np.float64]

ANCHOR_K = 288.15  # iso6976-2016: the temperature of its s(15 C)
ANCHOR_Pa = 101325.0  # iso6976-2016: the pressure its s are for
COLDEST_K, HOTTEST_K = (
    220.0,
    380.0,
)  # measured against reference equations from 243 to 323 K, flagged wider than that
LOWEST_Pa, HIGHEST_Pa = 1e3, 1.1e6  # measured to 0.3 MPa; beyond it the missing third virial term grows


EXPONENTS = (0.0, 1.0, 2.0, 3.0, 8.0)  # tsonopoulos-1974: powers of 1/T in its f(0) and f(1)


@cache
def _pair_terms(names: tuple[str, ...]) -> FloatArray:
    """Second virial coefficient of every pair as a series in 1/T, coefficient [pair, pair, exponent].

    B = (R Tc/pc)(f0 + omega f1) with Tsonopoulos' f in Tc/T. Pair constants: Tc = sqrt(Tc_i Tc_j)(1 - k),
    cube-root
    mean critical volume, mean omega and Zc; k by Chueh and Prausnitz. Source: tsonopoulos-1974.
    """
    tc, pc, omega = critical_constants(names).T
    compress = 0.291 - 0.08 * omega  # Pitzer's critical compressibility
    root = np.cbrt(compress * GAS_CONSTANT * tc / pc)
    mean = (root[:, None] + root) / 2
    binary = 1 - (np.sqrt(np.outer(root, root)) / mean) ** 3
    pair_tc = np.sqrt(np.outer(tc, tc)) * (1 - binary)
    pair_omega = (omega[:, None] + omega) / 2
    scale = mean**3 / ((compress[:, None] + compress) / 2)  # R Tc/pc of the pair
    (f0, _), (f1, _) = terms("tsonopoulos f0"), terms("tsonopoulos f1")
    series = (f0 + pair_omega[..., None] * f1) * pair_tc[..., None] ** np.array(EXPONENTS)
    found: FloatArray = scale[..., None] * series
    found.flags.writeable = False
    return found


@dataclass(frozen=True, slots=True)
class _Columns:
    """What the equations need of some components, looked up once."""

    pairs: tuple[FloatArray, ...]  # second virial coefficients of pairs, one matrix per power of 1/T
    s: FloatArray
    mass: FloatArray
    heat: FloatArray  # coefficients of the ideal heat capacity below 1000 K


@cache
def _columns(names: tuple[str, ...]) -> _Columns:
    table, pairs = component_table(), _pair_terms(names)
    place = table.take(names)
    return _Columns(
        pairs=tuple(np.ascontiguousarray(pairs[..., k]) for k in range(len(EXPONENTS))),
        s=table.summation_factor["15C"][place],
        mass=table.molar_mass_kg_per_mol[place],
        heat=polynomials("component").at(names).low[:, :5],
    )


_ANCHOR_POWERS = ANCHOR_K ** -np.array(EXPONENTS)


@lru_cache(maxsize=256)
def _virial_terms_of(names: tuple[str, ...], fractions: tuple[float, ...]) -> FloatArray:
    """Of one composition, found once."""
    return _virial_terms(names, np.array(fractions))


def virial_terms(names: Sequence[str], fractions: ArrayLike) -> FloatArray:
    """Second virial coefficient of a gas as a series in 1/T, B = sum b_e T^-e, e of ``EXPONENTS`` [m3/mol K^e].

    fractions : mole fractions [-], [..., component]; returns [exponent, ...]. Anchored at the standard's Z at 15 C.

    >>> b = virial_terms(["propane"], [1.0])
    >>> float(1e6 * sum(one / 288.15**e for one, e in zip(b, EXPONENTS)))
    -419.4
    """
    return _virial_terms(tuple(names), np.asarray(fractions, dtype=float))


def heat_capacity_terms(names: Sequence[str], fractions: ArrayLike) -> FloatArray:
    """Ideal-gas heat capacity of a gas over R as a polynomial below 1000 K, sum a_i T^i, i from 0 [1/K^i].

    fractions : mole fractions [-], [..., component]; returns [..., i].

    >>> a = heat_capacity_terms(["methane"], [1.0])
    >>> float(sum(one * 288.15**i for i, one in enumerate(a)))
    4.249
    """
    mixed: FloatArray = np.asarray(fractions, dtype=float) @ _columns(tuple(names)).heat
    return mixed


def _virial_terms(names: tuple[str, ...], fractions: FloatArray) -> FloatArray:
    """Series in 1/T of the mixture's second virial coefficient [m3/mol K^e], anchored at the standard's Z."""
    columns = _columns(names)
    series = np.stack([np.einsum("...i,...i->...", fractions @ pair, fractions) for pair in columns.pairs])
    gap = (fractions @ columns.s) ** 2
    anchored = (
        -gap * (1 - gap) * GAS_CONSTANT * ANCHOR_K / ANCHOR_Pa
    )  # Z = 1 + B rho solved for B at Z = 1 - s^2
    series[0] += anchored - np.tensordot(_ANCHOR_POWERS, series, axes=1)
    return series


def _virial(
    names: Sequence[str], fractions: ArrayLike, temperature_K: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """B, T dB/dT and T^2 d2B/dT2 of a mixture [m3/mol]."""
    is_one = isinstance(fractions, tuple) and isinstance(fractions[0], float)
    if is_one and np.ndim(temperature_K) == 0:
        return _virial_at(tuple(names), cast(tuple[float, ...], fractions), float(np.asarray(temperature_K)))
    series = (
        _virial_terms_of(tuple(names), cast(tuple[float, ...], fractions))
        if is_one
        else _virial_terms(tuple(names), np.asarray(fractions, dtype=float))
    )
    return _virial_of(series, temperature_K)


@lru_cache(maxsize=256)
def _virial_at(
    names: tuple[str, ...], fractions: tuple[float, ...], temperature_K: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Of one composition at one temperature, found once."""
    return _virial_of(_virial_terms_of(names, fractions), temperature_K)


def _virial_of(series: FloatArray, temperature_K: ArrayLike) -> tuple[FloatArray, FloatArray, FloatArray]:
    inverse = 1.0 / np.asarray(temperature_K, dtype=float)
    square = inverse * inverse
    powers = (1.0, inverse, square, square * inverse, (square * square) ** 2)
    parts = [coefficient * power for coefficient, power in zip(series, powers, strict=True)]

    def total(weights: Sequence[float]) -> FloatArray:
        found: FloatArray = sum(w * part for w, part in zip(weights, parts, strict=True))
        return found

    return (
        total([1.0] * len(parts)),
        total([-e for e in EXPONENTS]),
        total([e * (e + 1.0) for e in EXPONENTS]),
    )


def _compression(second: FloatArray, temperature_K: ArrayLike, pressure_Pa: ArrayLike) -> FloatArray:
    """Z of Z = 1 + B rho, rho = p/(Z R T): the vapour root of Z^2 - Z - B p/(R T) = 0."""
    load = (
        second
        * np.asarray(pressure_Pa, dtype=float)
        / (GAS_CONSTANT * np.asarray(temperature_K, dtype=float))
    )
    if not np.all(load > -0.2):
        raise UserError(
            Problem(
                "too near its liquid for the equation of state",
                key="gas",
                fix="enter a lower pressure or a higher gas temperature",
            )
        )
    factor: FloatArray = (1 + np.sqrt(1 + 4 * load)) / 2
    return factor


def _ideal_cp_over_R(names: Sequence[str], fractions: ArrayLike, temperature_K: ArrayLike) -> FloatArray:
    """Ideal-gas heat capacity of the mixture over R, from the polynomials' range below 1000 K."""
    mixed = heat_capacity_terms(names, fractions)
    a, t = np.moveaxis(mixed, -1, 0), np.asarray(temperature_K, dtype=float)
    cp: FloatArray = a[0] + t * (a[1] + t * (a[2] + t * (a[3] + t * a[4])))
    return cp


def _within(temperature_K: ArrayLike, pressure_Pa: ArrayLike) -> None:
    temperature, pressure = np.asarray(temperature_K, dtype=float), np.asarray(pressure_Pa, dtype=float)
    problems = []
    if not np.all((temperature >= COLDEST_K) & (temperature <= HOTTEST_K)):
        accepted = f"{COLDEST_K - 273.15:.0f} to {HOTTEST_K - 273.15:.0f} C"
        problems.append(
            Problem("outside the range of the gas density", key="gas temperature", accepted=accepted)
        )
    if not np.all((pressure >= LOWEST_Pa) & (pressure <= HIGHEST_Pa)):
        accepted = f"{LOWEST_Pa / 1e3:g} to {HIGHEST_Pa / 1e3:g} kPa absolute"
        problems.append(
            Problem("outside the range of the gas density", key="absolute pressure", accepted=accepted)
        )
    if problems:
        raise UserError(problems)


def compression_factor(
    names: Sequence[str], fractions: ArrayLike, temperature_K: ArrayLike, pressure_Pa: ArrayLike
) -> FloatArray:
    """Compression factor of a gas, Z = 1 + B rho [-].

    fractions : mole fractions [-], [..., component]; temperature_K : [K]; pressure_Pa : absolute pressure
    [Pa].
    Raises UserError outside 220 to 380 K or 1 kPa to 1.1 MPa. Equal to iso6976-2016 at 15 C and 101.325 kPa.

    >>> float(compression_factor(["propane"], [1.0], 288.15, 101325.0))
    0.981937
    """
    _within(temperature_K, pressure_Pa)
    second, _, _ = _virial(names, fractions, temperature_K)
    return _compression(second, temperature_K, pressure_Pa)


def density_kg_per_m3(
    names: Sequence[str], fractions: ArrayLike, temperature_K: ArrayLike, pressure_Pa: ArrayLike
) -> FloatArray:
    """Density of a real gas, rho = p M/(Z R T) [kg/m3].

    fractions : mole fractions [-], [..., component]; temperature_K : [K]; pressure_Pa : absolute pressure
    [Pa].
    Raises UserError outside 220 to 380 K or 1 kPa to 1.1 MPa; that the gas is all vapour is asked of
    ``require_vapour``.
    Error against reference equations of state, -30 to 50 C and to 3 bar: 0.02 % natural gas, 0.15 % LPG,
    0.26 % hydrogen.
    Source: iso6976-2016 for the anchor, tsonopoulos-1974 for the shape.

    >>> float(density_kg_per_m3(["methane"], [1.0], 288.15, 101325.0))
    0.67982
    """
    mass = np.asarray(fractions, dtype=float) @ _columns(tuple(names)).mass
    factor = compression_factor(names, fractions, temperature_K, pressure_Pa)
    molar = np.asarray(pressure_Pa, dtype=float) / (
        factor * constant("R") * np.asarray(temperature_K, dtype=float)
    )
    density: FloatArray = molar * mass
    return density


def isentropic_exponent(
    names: Sequence[str], fractions: ArrayLike, temperature_K: ArrayLike, pressure_Pa: ArrayLike
) -> FloatArray:
    """Isentropic exponent of a real gas, kappa = -(v/p)(dp/dv)_s [-].

    kappa = [1 + 2 B rho + (1 + rho (B + T B'))^2 R/cv]/Z, cv = cp0 - R - R rho (2 T B' + T^2 B'').
    fractions : mole fractions [-], [..., component]; temperature_K : [K]; pressure_Pa : absolute pressure
    [Pa].
    Raises UserError outside 220 to 380 K or 1 kPa to 1.1 MPa.
    Error against reference equations of state, -30 to 50 C and to 3 bar: 0.1 % natural gas, 0.2 % LPG, 0.3 %
    hydrogen.

    >>> float(isentropic_exponent(["propane"], [1.0], 288.706, 102197.0))
    1.120
    """
    _within(temperature_K, pressure_Pa)
    second, slope, curve = _virial(names, fractions, temperature_K)
    factor = _compression(second, temperature_K, pressure_Pa)
    molar = np.asarray(pressure_Pa, dtype=float) / (
        factor * GAS_CONSTANT * np.asarray(temperature_K, dtype=float)
    )
    cv = _ideal_cp_over_R(names, fractions, temperature_K) - 1 - molar * (2 * slope + curve)
    kappa: FloatArray = (1 + 2 * second * molar + (1 + molar * (second + slope)) ** 2 / cv) / factor
    return kappa


# Viscosity of a fuel gas near room temperature, good enough for a Reynolds number.


class Dense(Protocol):
    """Anything with a density at a state."""

    def density_kg_per_m3(self, temperature_K: float, absolute_pressure_Pa: float) -> float | Array: ...


Array = NDArray[np.float64]

MOLAR_GAS_CONSTANT = 8.314462618  # J/(mol K), exact by the SI definition of 2019
ALKANE_LINE = ("methane", "ethane", "propane", "n-butane", "n-pentane")
MIXTURE = "Wilke's rule on the pure gases of the table"
ESTIMATE = "estimate: the alkane of the same molar mass"


@dataclass(frozen=True, slots=True, kw_only=True)
class Viscosity:
    """Dynamic viscosity and how it was come by."""

    value_Pa_s: float
    method: str

    @property
    def estimated(self) -> bool:
        return self.method == ESTIMATE


@cache
def viscosity_coefficients() -> dict[str, tuple[float, float, float, float]]:
    """A, B, C and D of ``pure_viscosity_Pa_s`` by component, of table ``viscosity``."""
    return {
        row["name"]: (float(row["A"]), float(row["B"]), float(row["C"]), float(row["D"]))
        for row in tables.rows("viscosity")
    }


def pure_viscosity_Pa_s(name: str, temperature_K: float) -> float:
    """Viscosity of a pure gas at low pressure: mu = A T^B/(1 + C/T + D/T^2).

    name : component as the component table names it; temperature_K : [K]
    Returns [Pa s]. Source: viscosity-perry. Range: the table's columns T_low_K, T_high_K.

    >>> pure_viscosity_Pa_s("methane", 288.15) * 1e6
    10.87
    """
    a, b, c, d = viscosity_coefficients()[name]
    return float(a * temperature_K**b / (1.0 + c / temperature_K + d / temperature_K**2))


def mixture_viscosity_Pa_s(
    fractions: NDArray[np.float64], viscosities_Pa_s: NDArray[np.float64], molar_masses: NDArray[np.float64]
) -> float:
    """Viscosity of a gas mixture by Wilke: sum of x_i mu_i / sum_j x_j phi_ij.

    fractions : mole [-]; viscosities_Pa_s : of the pure gases [Pa s]; molar_masses : in any one unit
    Returns [Pa s]. Source: viscosity-wilke.

    >>> mixture_viscosity_Pa_s(np.array([0.5, 0.5]), np.array([1e-5, 1e-5]), np.array([16.0, 16.0]))
    1e-05
    """
    mu, m = viscosities_Pa_s, molar_masses
    phi = (1.0 + np.sqrt(mu[:, None] / mu) * (m / m[:, None]) ** 0.25) ** 2 / np.sqrt(
        8.0 * (1.0 + m[:, None] / m)
    )
    return float(np.sum(fractions * mu / (phi @ fractions)))


def viscosity(gas: Dense, temperature_K: float) -> Viscosity:
    """Viscosity of a gas at a temperature and ordinary pressure.

    gas : of the library, a file, or declared by heating value and density; temperature_K : [K]
    Returns the value [Pa s] and the method. Range: below about 10 bar; a Reynolds number needs no more than
    5 %.
    """
    composition = _composition(gas)
    known = viscosity_coefficients()
    if composition is None or any(name not in known for name in composition.names):
        return Viscosity(value_Pa_s=_on_alkane_line(gas, temperature_K), method=ESTIMATE)
    names = composition.names
    components = component_table()
    mu = np.array([pure_viscosity_Pa_s(name, temperature_K) for name in names])
    mass = np.array([components.molar_mass_kg_per_mol[components.index[name]] for name in names])
    return Viscosity(
        value_Pa_s=mixture_viscosity_Pa_s(np.array(composition.fractions), mu, mass), method=MIXTURE
    )


def _composition(gas: Dense) -> Composition | None:
    """Of anything that has one; a declared gas refuses to tell."""
    try:
        found = getattr(gas, "composition", None)
    except UserError:
        return None
    return found if isinstance(found, Composition) else None


def _on_alkane_line(gas: Dense, temperature_K: float) -> float:
    pressure = 101325.0  # any low pressure gives the same molar mass within a per cent
    molar_mass = (
        gas.density_kg_per_m3(temperature_K, pressure) * MOLAR_GAS_CONSTANT * temperature_K / pressure
    )
    components = component_table()
    masses = [components.molar_mass_kg_per_mol[components.index[name]] for name in ALKANE_LINE]
    values = [pure_viscosity_Pa_s(name, temperature_K) for name in ALKANE_LINE]
    return float(np.interp(molar_mass, masses, values))
