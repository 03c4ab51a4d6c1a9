"""Chemical equilibrium of flame products at constant enthalpy and pressure, many states at once.

Ten reacting species (CO CO2 H2 H2O H OH O O2 N2 NO) and inert Ar and SO2. Given temperature and oxygen, the
balances of carbon, hydrogen and nitrogen are solved in closed form (at worst a quadratic each), which leaves
three unknowns per state: ln T, ln q with q = sqrt(p_O2/p0), and ln r with r = p/(p0 N), N moles of products.
Newton's method with the derivatives written out closes the balances of oxygen, moles and enthalpy. Amounts
are per mole of whatever the caller counts; every array holds one number per state, so that a step is a few
dozen array operations.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from burnerlab.gas.heat_capacity import polynomials

FloatArray = NDArray[np.float64]

SPECIES = ("CO", "CO2", "H2", "H2O", "H", "OH", "O", "O2", "N2", "NO", "Ar", "SO2")
CO, CO2, H2, H2O, H, OH, O, O2, N2, NO, AR, SO2 = range(12)  # noqa: E741
REACTIONS = ("CO2", "H2O", "O", "H", "OH", "NO")  # each formed from CO, H2, N2 and half-moles of O2, H2, N2
STANDARD_Pa = 101325.0  # gri-mech-3.0: pressure of its standard state
SPLIT_K = 1000.0  # gri-mech-3.0: where the two polynomials of its species meet
LOWEST_K, HIGHEST_K = 250.0, 4000.0  # bounds of the search
LARGEST_STEP = (0.25, 3.0, 0.4)  # of ln T, ln q and ln r in one iteration
CONVERGED = 1e-6  # of the last step; Newton's next error is its square
ITERATIONS = 60
TINY = 1e-300  # keeps a balance of an element that is absent from dividing by zero
CHUNK = 2048  # states at a time: the work arrays stay in the second-level cache


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """What burns: atoms and enthalpy of each state, per mole of whatever the caller counts."""

    carbon: FloatArray
    hydrogen: FloatArray
    oxygen: FloatArray
    nitrogen: FloatArray
    argon: FloatArray  # and helium
    sulphur: FloatArray
    enthalpy_over_R: FloatArray  # with heats of formation [K]
    pressure_Pa: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Equilibrium:
    """Temperature and amounts of each state [SPECIES, state], and whether and how fast the search closed."""

    temperature_K: FloatArray
    amounts: FloatArray
    converged: NDArray[np.bool_]
    iterations: int


@cache
def _thermo_matrix(high: bool) -> FloatArray:
    """Rows that turn the basis (1, T, T2, T3, T4, 1/T, ln T) into ln K, dlnK/dlnT, h/RT and cp/R."""
    gri, other = polynomials("gri"), polynomials("flame")
    part = "high" if high else "low"
    a = np.concatenate([getattr(gri.at(SPECIES[:-1]), part), getattr(other.at(["SO2"]), part)])
    zero = np.zeros((len(SPECIES), 1))
    heat = np.hstack([a[:, :5] / [1, 2, 3, 4, 5], a[:, 5:6], zero])
    capacity = np.hstack([a[:, :5], zero, zero])
    entropy = np.hstack([a[:, 6:7], a[:, 1:5] / [1, 2, 3, 4], zero, a[:, 0:1]])
    gibbs = heat - entropy
    change = np.zeros((len(REACTIONS), len(SPECIES)))
    parts = {CO2: {CO: 1, O2: 0.5}, H2O: {H2: 1, O2: 0.5}, O: {O2: 0.5}, H: {H2: 0.5}}
    parts |= {OH: {H2: 0.5, O2: 0.5}, NO: {N2: 0.5, O2: 0.5}}
    for i, name in enumerate(REACTIONS):
        product = SPECIES.index(name)
        change[i, product] = 1
        for reactant, count in parts[product].items():
            change[i, reactant] = -count
    return np.vstack([-change @ gibbs, change @ heat, heat, capacity])


def _basis(log_temperature: FloatArray) -> FloatArray:
    """Rows 1, T, T^2, T^3, T^4, 1/T, ln T."""
    temperature = np.exp(log_temperature)
    square = temperature * temperature
    one = np.ones_like(temperature)
    return np.stack(
        [one, temperature, square, square * temperature, square * square, 1 / temperature, log_temperature]
    )


def _amounts(K: FloatArray, q: FloatArray, r: FloatArray, charge: Charge) -> FloatArray:
    """Moles of every species: the balances of carbon, hydrogen and nitrogen closed at this oxygen."""
    n = np.empty((len(SPECIES), q.size))
    root = 1 / np.sqrt(r)
    oxidised = K[0] * q
    n[CO] = charge.carbon / (1 + oxidised)
    n[CO2] = n[CO] * oxidised
    molecules, atoms = 2 * (1 + K[1] * q), (K[3] + K[4] * q) * root
    u = 2 * charge.hydrogen / (atoms + np.sqrt(atoms * atoms + 4 * molecules * charge.hydrogen) + TINY)
    n[H2] = u * u
    n[H2O] = n[H2] * (K[1] * q)
    n[H] = u * (K[3] * root)
    n[OH] = u * (K[4] * q * root)
    n[O2] = q * q / r
    n[O] = K[2] * q / r
    oxide = K[5] * q * root
    v = 2 * charge.nitrogen / (oxide + np.sqrt(oxide * oxide + 8 * charge.nitrogen) + TINY)
    n[N2] = v * v
    n[NO] = v * oxide
    n[AR] = charge.argon
    n[SO2] = charge.sulphur
    return n


@dataclass(frozen=True, slots=True)
class _Response:
    """How sqrt(H2) (u) and sqrt(N2) (v) of the closed-form balances answer ln q, ln r and ln T."""

    burnt: FloatArray  # share of the carbon that is CO2
    u_q: FloatArray
    u_r: FloatArray
    u_T: FloatArray
    v_q: FloatArray
    v_r: FloatArray
    v_T: FloatArray


def _response(n: FloatArray, slope: FloatArray) -> _Response:
    hydrogen = 1 / (4 * (n[H2] + n[H2O]) + n[H] + n[OH] + TINY)
    nitrogen = 1 / (4 * n[N2] + n[NO] + TINY)
    return _Response(
        burnt=n[CO2] / (n[CO] + n[CO2] + TINY),
        u_q=-(2 * n[H2O] + n[OH]) * hydrogen,
        u_r=(n[H] + n[OH]) * (0.5 * hydrogen),
        u_T=-(2 * n[H2O] * slope[1] + n[H] * slope[3] + n[OH] * slope[4]) * hydrogen,
        v_q=-n[NO] * nitrogen,
        v_r=n[NO] * (0.5 * nitrogen),
        v_T=-n[NO] * slope[5] * nitrogen,
    )


def _sums(w: FloatArray, slope: FloatArray, by: _Response) -> FloatArray:
    """The sum of weighted amounts ``w`` and its derivatives by ln T, ln q and ln r, at fixed weights."""
    carbon = w[CO] + w[CO2]
    hydrogen = 2 * (w[H2] + w[H2O]) + w[H] + w[OH]
    nitrogen = 2 * w[N2] + w[NO]
    shift = w[CO2] - by.burnt * carbon
    odd = w[H] + w[OH] + w[NO]
    total = carbon + w[H2] + w[H2O] + odd + w[O] + w[O2] + w[N2]
    by_T = slope[0] * shift + by.u_T * hydrogen + by.v_T * nitrogen + slope[1] * w[H2O]
    by_T += slope[2] * w[O] + slope[3] * w[H] + slope[4] * w[OH] + slope[5] * w[NO]
    by_q = shift + by.u_q * hydrogen + by.v_q * nitrogen + w[H2O] + w[OH] + w[NO] + w[O] + 2 * w[O2]
    by_r = by.u_r * hydrogen + by.v_r * nitrogen - 0.5 * odd - w[O] - w[O2]
    return np.stack([total, by_T, by_q, by_r])


_OXYGEN = np.array([1.0, 2, 0, 1, 0, 1, 1, 2, 0, 1, 0, 0])[:, None]  # atoms of oxygen but SO2's


def _cramer(rows: FloatArray, right: FloatArray) -> FloatArray:
    """Solution of 3 x 3 systems written out; rows [equation, unknown, state], right [equation, state]."""
    (a1, b1, c1), (a2, b2, c2), (a3, b3, c3) = rows
    m1, m2, m3 = b2 * c3 - b3 * c2, b1 * c3 - b3 * c1, b1 * c2 - b2 * c1
    d1, d2, d3 = right
    scale = 1 / (a1 * m1 - a2 * m2 + a3 * m3)
    p, s, t = d2 * c3 - d3 * c2, d1 * c3 - d3 * c1, d1 * c2 - d2 * c1
    x = d1 * m1 - d2 * m2 + d3 * m3
    y = a1 * p - a2 * s + a3 * t
    z = a1 * (b2 * d3 - b3 * d2) - a2 * (b1 * d3 - b3 * d1) + a3 * (b1 * d2 - b2 * d1)
    return np.stack([x * scale, y * scale, z * scale])


def _step(matrix: FloatArray, x: FloatArray, charge: Charge) -> tuple[FloatArray, FloatArray]:
    """Newton's change of (ln T, ln q, ln r), and the amounts before it."""
    basis = _basis(x[0])
    thermo = matrix @ basis
    q, r = np.exp(x[1]), np.exp(x[2])
    slope, heat, capacity = thermo[6:12], thermo[12:24], thermo[24:36]
    n = _amounts(np.exp(thermo[:6]), q, r, charge)
    by = _response(n, slope)
    inert = charge.argon + charge.sulphur
    moles = charge.pressure_Pa / STANDARD_Pa / r
    weighted = heat * n
    oxygen, total, energy = _sums(_OXYGEN * n, slope, by), _sums(n, slope, by), _sums(weighted, slope, by)
    total[3] += moles
    energy[1] += np.einsum("ij,ij->j", capacity, n)
    right = np.stack(
        [
            charge.oxygen - 2 * charge.sulphur - oxygen[0],
            moles - inert - total[0],
            charge.enthalpy_over_R * basis[5] - weighted[AR] - weighted[SO2] - energy[0],
        ]
    )
    return _cramer(np.stack([oxygen[1:], total[1:], energy[1:]]), right), n


_START_K = 2000.0  # the heat balance of the first guess is taken along the tangent here


@cache
def _start_heat() -> tuple[FloatArray, FloatArray]:
    basis = _basis(np.array([np.log(_START_K)]))
    thermo = (_thermo_matrix(True) @ basis)[:, 0]
    return thermo[12:24] * _START_K, thermo[24:36]


def _start(charge: Charge) -> FloatArray:
    """First (ln T, ln q, ln r): complete combustion, less a loss to dissociation that grows above 1900 K."""
    surplus = charge.oxygen - 2 * (charge.carbon + charge.sulphur) - charge.hydrogen / 2
    steam = charge.hydrogen / 2
    fuel = charge.carbon + steam
    unburnt = np.clip(-surplus / fuel, 0.0, 1.0)
    left = np.maximum(surplus, 0.0) / 2
    inert = charge.argon + charge.sulphur
    moles = fuel + charge.nitrogen / 2 + inert + left
    parts = {CO: charge.carbon * unburnt, CO2: charge.carbon * (1 - unburnt)}
    parts |= {H2: steam * unburnt, H2O: steam * (1 - unburnt), N2: charge.nitrogen / 2, O2: left, AR: inert}
    heat, capacity = _start_heat()
    held = sum(n * heat[i] for i, n in parts.items())
    complete = _START_K + (charge.enthalpy_over_R - held) / sum(n * capacity[i] for i, n in parts.items())
    hot = np.maximum(complete - 1900.0, 0.0)
    log_T = np.log(np.clip(complete - 8.0 - (hot / 45.0) ** 2, 500.0, 3200.0))
    r = charge.pressure_Pa / STANDARD_Pa / moles
    K = np.exp((_thermo_matrix(True)[:2]) @ _basis(log_T))
    mean = (charge.carbon * K[0] + steam * K[1]) / fuel
    split = np.cbrt(r * fuel / 2 / mean)  # sqrt(p_O2) that dissociation alone would give
    lean = np.sqrt(left * r)
    q = np.where(
        surplus >= 0,
        lean + split * np.exp(-lean / split),
        np.minimum(split, (1 - unburnt) / (unburnt + 1e-9) / mean),
    )
    q = np.maximum(q, 1e-25)
    for _ in range(2):  # oxygen balance of the major species alone, rising in q
        short = charge.carbon / (1 + K[0] * q), steam / (1 + K[1] * q)
        gap = 2 * q * q / r - surplus - short[0] - short[1]
        rise = 4 * q * q / r + short[0] * K[0] * q / (1 + K[0] * q) + short[1] * K[1] * q / (1 + K[1] * q)
        q = q * np.exp(np.clip(-gap / rise, -2.0, 2.0))
    return np.stack([log_T, np.log(q), np.log(r)])


_LIMIT = np.array(LARGEST_STEP)[:, None]


def _part(charge: Charge, pick: slice | NDArray[np.intp]) -> Charge:
    return Charge(**{name: getattr(charge, name)[pick] for name in Charge.__dataclass_fields__})


def _close(charge: Charge, x: FloatArray, high: bool) -> tuple[FloatArray, NDArray[np.bool_], int]:
    """Iterate from ``x``; states that have closed drop out once they are the larger part."""
    matrix = _thermo_matrix(high)
    low, top = np.log(LOWEST_K), np.log(HIGHEST_K)
    x, done = x.copy(), np.zeros(x.shape[1], dtype=bool)
    active = np.arange(x.shape[1])
    current, here = charge, x
    for iteration in range(1, ITERATIONS + 1):
        change, _ = _step(matrix, here, current)
        here = here + np.clip(change, -_LIMIT, _LIMIT)
        here[0] = np.clip(here[0], low, top)
        closed = np.abs(change).max(axis=0) < CONVERGED
        if closed.all() or iteration == ITERATIONS:
            x[:, active], done[active] = here, closed
            return x, done, iteration
        if 2 * np.count_nonzero(closed) > closed.size:
            x[:, active], done[active] = here, closed
            keep = np.flatnonzero(~closed)
            active, here, current = active[keep], here[:, keep], _part(current, keep)
    raise AssertionError("unreachable")


def equilibrium(charge: Charge) -> Equilibrium:
    """Temperature and amounts at constant enthalpy and pressure, for one-dimensional arrays of states.

    Range: products without soot or methane, that is up to 2.5 times as much fuel as the air can burn.
    Source: equations of chemical equilibrium of ideal gases with the data of gri-mech-3.0.
    """
    size = charge.carbon.size
    temperature, converged = np.empty(size), np.empty(size, dtype=bool)
    amounts = np.empty((len(SPECIES), size))
    iterations = 0
    for first in range(0, size, CHUNK):
        block = slice(first, first + CHUNK)
        part = _part(charge, block)
        x, closed, count = _close(part, _start(part), high=True)
        cold = np.flatnonzero(np.exp(x[0]) < SPLIT_K)
        if cold.size:
            x[:, cold], closed[cold], more = _close(_part(part, cold), x[:, cold], high=False)
            count += more
        temperature[block], converged[block] = np.exp(x[0]), closed
        amounts[:, block] = _final_amounts(part, x, cold)
        iterations = max(iterations, count)
    return Equilibrium(temperature_K=temperature, amounts=amounts, converged=converged, iterations=iterations)


def _final_amounts(charge: Charge, x: FloatArray, cold: NDArray[np.intp]) -> FloatArray:
    basis, q, r = _basis(x[0]), np.exp(x[1]), np.exp(x[2])
    K = np.exp(_thermo_matrix(True)[:6] @ basis)
    if cold.size:
        K[:, cold] = np.exp(_thermo_matrix(False)[:6] @ basis[:, cold])
    return _amounts(K, q, r, charge)
