"""How far off a tabulated burning velocity may be: stated error, evidence, and the reasons in words."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab.flame.blend import Parts
from burnerlab.flame.profile import AIR, OXYGEN_DEMAND
from burnerlab.tables import rows
from burnerlab.tables.evidence import Evidence
from burnerlab.tables.problem import Problem, UserError

FloatArray = NDArray[np.float64]

SLOW_m_per_s = 0.05  # below it real flames are ruled by heat loss and buoyancy, which the model leaves out
TRACE = 1e-3  # share of the oxygen demand below which a part of a blend is not counted
COVERAGE_FACTOR = 1  # of every stated error: that of the rows of flame_accuracy
RICH = 1.4  # beyond it the measured sets themselves differ by a third


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """Standard error of a burning velocity, relative, and its evidence.

    The error is a root mean square (coverage factor 1), not a largest: about a third of measurements lie outside it.
    """

    relative_error: float
    evidence: Evidence  # published chemistry; an estimate beyond what it was compared with
    terms: tuple[str, ...]
    reasons: tuple[str, ...]  # why it is only an estimate


def flammable_ratios(parts: Parts) -> tuple[float, float] | None:
    """Equivalence ratios between which the gas burns in air at room temperature: Le Chatelier's rule, inert left out.

    None when the gas has no fuel with a published limit.

    >>> low, high = flammable_ratios(Parts(hydrocarbons={"methane": 1.0}, hydrogen=0.0, carbon_monoxide=0.0,
    ...     inerts={}, oxygen=0.0))
    >>> round(low, 3), round(high, 2)
    (0.501, 1.68)
    """
    fuels = fuel_shares(parts)
    table = {row["component"]: row for row in rows("flame_limits")}
    known = {name: share for name, share in fuels.items() if name in table}
    total = sum(known.values())
    if total <= 0.0:
        return None
    demand = sum(OXYGEN_DEMAND[name] * share for name, share in known.items()) / total / AIR["oxygen"]

    def ratio(column: str) -> float:
        percent = total / sum(share / float(table[name][column]) for name, share in known.items())
        return demand * (percent / 100) / (1 - percent / 100)

    return ratio("lower_percent"), ratio("upper_percent")


def fuel_shares(parts: Parts) -> dict[str, float]:
    """Everything that burns [mol/mol]."""
    light = {"hydrogen": parts.hydrogen, "carbon monoxide": parts.carbon_monoxide}
    return {name: share for name, share in {**parts.hydrocarbons, **light}.items() if share > 0.0}


def judged(
    parts: Parts,
    equivalence_ratio: float,
    burning_velocity_m_per_s: float,
    stand_ins: bool,
    tabulated: bool = True,
) -> Accuracy:
    """Stated error and evidence of a tabulated burning velocity.

    parts : the gas; equivalence_ratio : on all oxygen [-]; burning_velocity_m_per_s [m/s];
    stand_ins : whether parts of the gas burn like something else; tabulated : from the tables and blending rules,
    not solved.
    """
    terms = _applying(parts, stand_ins, tabulated)
    reasons = _reasons(parts, equivalence_ratio, burning_velocity_m_per_s)
    return Accuracy(
        relative_error=_error(terms, equivalence_ratio),
        evidence=Evidence.ESTIMATE if reasons else Evidence.PUBLISHED,
        terms=tuple(_term(name, equivalence_ratio)[1] for name in terms),
        reasons=reasons,
    )


def relative_errors(parts: Parts, equivalence_ratio: ArrayLike, stand_ins: bool) -> FloatArray:
    """Standard error of tabulated burning velocities, relative, one for each equivalence ratio [-].

    parts : the gas; equivalence_ratio : on all oxygen [-]; stand_ins : whether parts burn like something else.
    The figure of ``judged``, for arrays.
    """
    edges, errors = _steps(_applying(parts, stand_ins, tabulated=True))
    ratio = np.asarray(equivalence_ratio, dtype=float)
    return np.asarray(errors[np.searchsorted(edges, ratio, "left") + np.searchsorted(edges, ratio, "right")])


@cache
def _steps(terms: tuple[str, ...]) -> tuple[FloatArray, FloatArray]:
    """Ratios at which a row of these terms ends, and the error below the first, at it, between it and the next ..."""
    edges = np.unique([end for name in terms for row in _rows_of(name) for end in row[:2]])
    between = (edges[:-1] + edges[1:]) / 2
    places = np.empty(2 * edges.size + 1)
    places[0], places[-1] = edges[0] - 1.0, edges[-1] + 1.0
    places[1:-1:2], places[2:-1:2] = edges, between
    return edges, np.array([_error(terms, float(place)) for place in places])


def _error(terms: tuple[str, ...], equivalence_ratio: float) -> float:
    return sqrt(sum(_term(name, equivalence_ratio)[0] ** 2 for name in terms))


def _applying(parts: Parts, stand_ins: bool, tabulated: bool) -> tuple[str, ...]:
    weights = {name: OXYGEN_DEMAND[name] * share / parts.demand for name, share in fuel_shares(parts).items()}
    weights = {name: weight for name, weight in weights.items() if weight > TRACE}
    main = max(weights, key=lambda name: weights[name])
    heavy = [name for name in weights if name not in ("hydrogen", "carbon monoxide")]
    rule = ["stand-ins"] if stand_ins else []
    if not tabulated:
        return (main, *rule)
    found = [main, "table", *rule]
    if len(heavy) > 1:
        found.append("blend of hydrocarbons")
    if heavy and "hydrogen" in weights:
        found.append("hydrogen in methane" if heavy == ["methane"] else "hydrogen in other hydrocarbons")
    if "carbon monoxide" in weights and len(weights) > 1:
        found.append("carbon monoxide in a blend" if heavy else "carbon monoxide and hydrogen")
    if parts.inerts:
        found.append("inert gas")
    return tuple(found)


@cache
def _rows_of(term: str) -> tuple[tuple[float, float, float, str], ...]:
    """Lowest and highest equivalence ratio, error and words of each row of a term."""
    found = tuple(
        (float(row["lowest_ratio"]), float(row["highest_ratio"]), float(row["relative_error"]), row["what"])
        for row in rows("flame_accuracy")
        if row["term"] == term
    )
    if not found:
        raise UserError(Problem("no stated error in the table", value=term, key="flame_accuracy"))
    return found


def _term(name: str, equivalence_ratio: float) -> tuple[float, str]:
    """Error of a term and its words: of the row that holds there, the larger where two meet, the largest beyond all."""
    every = _rows_of(name)
    holding = [row for row in every if row[0] <= equivalence_ratio <= row[1]]
    _, _, error, what = max(holding or every, key=lambda row: row[2])
    return error, f"{what}: {100 * error:g} %"


def _reasons(parts: Parts, equivalence_ratio: float, speed: float) -> tuple[str, ...]:
    found = []
    limits = flammable_ratios(parts)
    if limits is not None and not limits[0] <= equivalence_ratio <= limits[1]:
        found.append(
            f"outside the flammable range in air (equivalence ratio {limits[0]:.2f} to {limits[1]:.2f}): "
            "the model has no heat loss and burns on"
        )
    if speed < SLOW_m_per_s:
        slow = f"slower than {100 * SLOW_m_per_s:g} cm/s"
        found.append(f"{slow}: heat loss and buoyancy, left out here, rule such flames")
    if equivalence_ratio > RICH and parts.hydrocarbons:
        found.append(f"richer than {RICH:g}: measured burning velocities differ by a third from each other")
    if parts.carbon_monoxide > 0.0 and parts.hydrogen < TRACE:
        found.append("carbon monoxide burns only with a trace of hydrogen or water: 1.5 % hydrogen is taken")
    return tuple(found)
