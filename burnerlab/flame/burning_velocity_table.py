"""The shipped flames as arrays: at the base state on the wide list, their change with temperature and pressure on
the narrow one.

The logarithm of the burning velocity over its value at 298.15 K and 101.325 kPa is
a1 x + a2 x^2 + a3 x^3 + a4 x^4 + b1 y + b2 y^2 + c1 x y + c2 x^2 y with x = ln(T/298.15 K), y = ln(p/101325 Pa); the
eight coefficients follow exactly from the eight other states solved at each equivalence ratio. A gas that is not solved
at the hottest of them has no fourth power and keeps to the range of the others.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.flame.making.plan import (
    AWAY,
    BASE_ONLY,
    BASE_TEMPERATURE_K,
    CORRECTED,
    CORRECTED_STATES,
    DILUTED,
    EQUIVALENCE_RATIOS,
    EXTENDED,
    HYDROGEN_IN_METHANE,
    INERTS,
    OTHER_STATES,
    BASE_PRESSURE_Pa,
    correction_rungs,
    gases,
    probes,
)
from burnerlab.flame.profile import AIR, OXYGEN_DEMAND
from burnerlab.tables import Row, rows

FloatArray = NDArray[np.float64]

PHI = np.array(EQUIVALENCE_RATIOS)
STATES = ((BASE_TEMPERATURE_K, BASE_PRESSURE_Pa), *OTHER_STATES)
BASE_FLAMES = tuple(DILUTED)
"""Flames whose dilution is tabulated."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FlameTable:
    """Logarithms at every state of ``STATES`` and every equivalence ratio of ``PHI``; itself its only equal."""

    labels: tuple[str, ...]
    log_speed: FloatArray  # [label, state, phi], of m/s
    log_thickness: FloatArray  # [label, state, phi], of m
    inert_first: (
        FloatArray  # [quantity, fuel, inert, phi]: d ln / d(mole fraction in the mixture), of a first trace
    )
    inert_bend: FloatArray  # [quantity, fuel, inert, phi]: what is added to it per mole fraction
    inert_elsewhere: FloatArray  # [state of AWAY, quantity, fuel, inert, phi]: relative change of the effect
    probes: dict[
        str, FloatArray
    ]  # blend -> logarithms [quantity, phi] at the base state, anchored by nothing
    filled: int  # nodes without a flame of their own, interpolated from their neighbours

    def of(self, label: str) -> tuple[FloatArray, FloatArray]:
        """Logarithm of speed and thickness of one gas, each [state, phi]."""
        k = self.labels.index(label)
        return self.log_speed[k], self.log_thickness[k]


def monomials(unburnt_temperature_K: ArrayLike, pressure_Pa: ArrayLike) -> list[FloatArray]:
    """x, x^2, x^3, x^4, y, y^2, x y, x^2 y of a state [-]."""
    x = np.log(np.asarray(unburnt_temperature_K, dtype=float) / BASE_TEMPERATURE_K)
    y = np.log(np.asarray(pressure_Pa, dtype=float) / BASE_PRESSURE_Pa)
    square = x * x
    return [x, square, square * x, square * square, y, y * y, x * y, square * y]


FOURTH_POWER = 3  # place of x^4 among the monomials


@cache
def _inverse() -> FloatArray:
    matrix = np.array([monomials(*state) for state in OTHER_STATES])
    return np.linalg.inv(matrix)


def coefficients(log_values: FloatArray) -> FloatArray:
    """The eight coefficients of the change from the base state.

    log_values : logarithms [..., state of STATES, phi]
    Returns [..., 8, phi].
    """
    change = log_values[..., 1:, :] - log_values[..., :1, :]
    return np.asarray(np.einsum("ks,...sp->...kp", _inverse(), change))


@cache
def flame_table() -> FlameTable:
    """The table of all gases with an axis of their own, anchored where the table ``flame_anchor`` says so."""
    flames = _by_state()
    labels = tuple(gases())
    speed, thickness, filled = [], [], 0
    for label in labels:
        values, count = _gas_values(label, flames)
        filled += count
        speed.append(values[0])
        thickness.append(values[1])
    log_speed, log_thickness = np.array(speed), np.array(thickness)
    _complete_blends(labels, log_speed)
    _complete_blends(labels, log_thickness)
    for name, factor in anchors().items():
        k = labels.index(name)
        log_speed[k] += np.log(factor)
        log_thickness[k] -= np.log(factor)
    first, bend, elsewhere = _inerts(flames)
    return FlameTable(
        labels=labels,
        log_speed=log_speed,
        log_thickness=log_thickness,
        inert_first=first,
        inert_bend=bend,
        inert_elsewhere=elsewhere,
        probes={label: _probe(label, flames) for label in probes()},
        filled=filled,
    )


@cache
def anchors() -> dict[str, float]:
    """Measured over computed burning velocity, of the fuels whose flames need it; the thickness goes the other way."""
    return {row["component"]: float(row["measured_over_computed"]) for row in rows("flame_anchor")}


Key = tuple[str, str, float, float]
LOGGED = ("burning_velocity_m_per_s", "thermal_thickness_m")


def _by_state() -> dict[Key, dict[float, Row]]:
    flames: dict[Key, dict[float, Row]] = {}
    for row in rows("flame_speed"):
        if row["status"] == "solved":
            key = (row["gas"], row["list"], float(row["unburnt_temperature_K"]), float(row["pressure_Pa"]))
            flames.setdefault(key, {})[float(row["equivalence_ratio"])] = row
    return flames


def _logs(points: dict[float, Row]) -> tuple[FloatArray, int]:
    """Logarithm of speed and thickness on PHI; a missing node is interpolated linearly in the logarithm."""
    have = np.array(sorted(points))
    values = np.array([[np.log(float(points[phi][name])) for phi in have] for name in LOGGED])
    return np.array([np.interp(PHI, have, row) for row in values]), PHI.size - have.size


def _gas_values(label: str, flames: dict[Key, dict[float, Row]]) -> tuple[FloatArray, int]:
    """[speed or thickness, state, phi]: the base on the wide list, the changes on the narrow one added."""
    base, filled = _logs(flames[(label, "wide", *STATES[0])])
    values = np.repeat(base[:, None, :], len(STATES), axis=1)
    if label in BASE_ONLY:
        return values, filled
    narrow, count = _logs(flames[(label, "narrow", *STATES[0])])
    filled += count
    last = len(STATES) - (label not in EXTENDED)
    for k, state in enumerate(STATES[1:last], start=1):
        there, count = _logs(flames[(label, "narrow", *state)])
        values[:, k] += there - narrow
        filled += count
    if label in CORRECTED:
        values[:, :last] += _correction(label, flames, values)[:, :last]
    if label not in EXTENDED:
        values[:, -1] = _carried_on(values)
    return values, filled


def _carried_on(values: FloatArray) -> FloatArray:
    """Logarithms at the hottest state of a gas not solved there, so that its polynomial has no fourth power of x.

    values : logarithms [speed or thickness, state, phi]; the answer [speed or thickness, phi] is no flame of a table.
    """
    terms = np.delete(np.array([monomials(*state) for state in STATES[1:]]), FOURTH_POWER, axis=1)
    weights = terms[-1] @ np.linalg.inv(terms[:-1])
    change = values[:, 1:-1] - values[:, :1]
    return np.asarray(values[:, 0] + np.einsum("s,qsp->qp", weights, change))


def _correction(label: str, flames: dict[Key, dict[float, Row]], values: FloatArray) -> FloatArray:
    """What the narrow list misses of the change with the state [speed or thickness, state, phi].

    Solved at three states and some equivalence ratios; between them linear in x, y and x y. At the hottest state what
    was solved there, if it was.
    """
    missed = [_missed(label, flames, values, state) for state in CORRECTED_STATES]
    if any(gap is None for gap in missed[:-1]):
        return np.zeros_like(values)
    terms = np.array([_bilinear(*state) for state in CORRECTED_STATES[:-1]])
    weights = np.array([_bilinear(*state) for state in STATES]) @ np.linalg.inv(terms)
    correction = np.asarray(np.einsum("sk,kqp->qsp", weights, np.array(missed[:-1])))
    if missed[-1] is not None:
        correction[:, -1] = missed[-1]
    return correction


def _missed(
    label: str, flames: dict[Key, dict[float, Row]], values: FloatArray, state: tuple[float, float]
) -> FloatArray | None:
    """What the narrow list misses at one state [speed or thickness, phi]; None where too little was solved."""
    points = flames.get((label, "wide", *state), {})
    have = sorted(phi for side in correction_rungs(label, state) for phi in side if phi in points)
    if len(have) < 2:
        return None
    nodes = [EQUIVALENCE_RATIOS.index(phi) for phi in have]
    solved = np.array([[np.log(float(points[phi][name])) for phi in have] for name in LOGGED])
    gap = solved - values[:, STATES.index(state)][:, nodes]
    return np.array([np.interp(PHI, have, row) for row in gap])


def _bilinear(temperature_K: float, pressure_Pa: float) -> list[float]:
    """x, y, x y."""
    terms = monomials(temperature_K, pressure_Pa)
    return [float(terms[k]) for k in (0, 4, 6)]


def _complete_blends(labels: tuple[str, ...], values: FloatArray) -> None:
    """Changes with temperature and pressure of the blends solved at the base state only, from their neighbours."""
    shares = np.array([0.0, *HYDROGEN_IN_METHANE, 1.0])
    axis = [labels.index(name) for name in hydrogen_axis()]
    change = values[axis][:, 1:] - values[axis][:, :1]
    have = [k for k, label in enumerate(hydrogen_axis()) if label not in BASE_ONLY]
    for k, place in enumerate(axis):
        if k not in have:
            above = next(j for j in have if j > k)
            below = have[have.index(above) - 1]
            part = (shares[k] - shares[below]) / (shares[above] - shares[below])
            values[place, 1:] = values[place, :1] + (1 - part) * change[below] + part * change[above]


def hydrogen_axis() -> tuple[str, ...]:
    """Gases from methane to hydrogen in the order of their hydrogen."""
    return ("methane", *(f"methane hydrogen {share:g}" for share in HYDROGEN_IN_METHANE), "hydrogen")


def _probe(label: str, flames: dict[Key, dict[float, Row]]) -> FloatArray:
    """Logarithms of a probe [base and AWAY, quantity, phi]; nan where it was not solved."""
    logs = np.full((1 + len(AWAY), len(LOGGED), PHI.size), np.nan)
    for k, state in enumerate((STATES[0], *AWAY)):
        for phi, row in flames.get((label, "wide", *state), {}).items():
            logs[k, :, EQUIVALENCE_RATIOS.index(phi)] = [np.log(float(row[name])) for name in LOGGED]
    return logs


def towards_away() -> FloatArray:
    """How far each of STATES is on the way, in the logarithm, to each of AWAY [state, away]."""
    terms = np.array([monomials(*state) for state in STATES])
    ends = np.array([monomials(*state) for state in AWAY])
    return np.asarray(terms[:, [0, 4]] / np.diagonal(ends[:, [0, 4]]))


def _inerts(flames: dict[Key, dict[float, Row]]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """First effect and bend of each inert gas on each flame of BASE_FLAMES [quantity, fuel, inert, phi], and the
    relative change of the effect at the states of AWAY.

    The change of the logarithm is z (first + bend z), z being the mole fraction of inert gas in the mixture.
    """
    much, less, *others = (
        np.moveaxis(np.array([_inert_effects(fuel, flames, *which) for fuel in BASE_FLAMES]), 2, 0)
        for which in ((False, STATES[0]), (True, STATES[0]), *((False, state) for state in AWAY))
    )
    at = np.array([[inert_fraction(fuel, share) for share in DILUTED[fuel]] for fuel in BASE_FLAMES])
    far, near = at[:, 0, None, :], at[:, 1, None, :]
    bend = (much - less) / (far - near)
    return much - bend * far, bend, np.array(others) / much - 1.0


def _inert_effects(
    fuel: str, flames: dict[Key, dict[float, Row]], less: bool, state: tuple[float, float]
) -> FloatArray:
    """Change of the logarithms per mole fraction of inert gas in the mixture [inert, quantity, phi]."""
    pure, _ = _logs(flames[(fuel, "narrow", *state)])
    word = "with less" if less else "with"
    there = np.array([_logs(flames[(f"{fuel} {word} {inert}", "narrow", *state)])[0] for inert in INERTS])
    return np.asarray((there - pure) / inert_fraction(fuel, DILUTED[fuel][less]))


def inert_fraction(fuel: str, share: float) -> FloatArray:
    """Mole fraction of inert gas in the mixture of a gas that holds this share of fuel [phi]."""
    demand = sum(OXYGEN_DEMAND[name] * part for name, part in gases()[fuel].items())
    return np.asarray((1 - share) / (1 + demand * share / AIR["oxygen"] / PHI))
