"""How a fuel moves flame lift, and how its carbon monoxide ranks, from strained flames of primary mixture against air.

A flame at the rim of a port is strained between the primary mixture and the room air. The strain that puts it out, over
that of methane at the same aeration, ranks fuels; it is nearly flat in aeration and gives no limit of its own. Carbon
monoxide is compared at one temperature and one strain: it ranks gases and settings, and is no figure of a burner.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from math import exp
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from burnerlab.flame.blend import Parts, parts_of, sorted_parts
from burnerlab.flame.making.counterflow import MIXTURES, OTHER_MIXTURES
from burnerlab.flame.profile import OXYGEN_DEMAND
from burnerlab.gas.combustion_air import composition_of
from burnerlab.quantity import Kind, Quantity, si
from burnerlab.tables import rows
from burnerlab.tables.figure import Figure, figure_of

FloatArray = NDArray[np.float64]

BASE_FUEL = "methane"
HYDROGEN_FAMILY = (BASE_FUEL, "methane hydrogen 0.2", "methane hydrogen 0.5")
"""Mixtures solved, in the order of their hydrogen."""
HEAVIER = "propane"
"""The hydrocarbon that every one above methane is taken as."""
SOLVED_MIXTURES = {**MIXTURES, **OTHER_MIXTURES}
TRACE = 1e-3  # mole fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class _Solved:
    """Logarithms of one mixture over methane at the same aeration, along the aerations solved."""

    aerations: FloatArray
    strain: FloatArray
    monoxide: FloatArray


def lift_fuel_factor(gas: Any, aeration: Quantity) -> Figure | None:
    """Wall gradient at flame lift of a gas over that of methane at the same primary aeration [-].

    gas : a gas or composition; aeration : primary air over stoichiometric air [-].
    None, not evaluated, outside the flames solved: aeration 0.40 to 0.65 at 25 C, up to half hydrogen among the
    fuels, up to a tenth inert gas, no carbon monoxide and no oxygen in the gas. The value is the ratio of the
    extinction strains; its range is a judgement on how far lift follows them, and no limit of lift follows from it.
    Raises UserError for a gas without composition or with parts no flame is known of. Source: counterflow-flames.

    >>> from burnerlab.gas import load
    >>> factor = lift_fuel_factor(load("propane"), "55 %")
    >>> round(factor.low, 1), round(factor.value, 1), round(factor.high, 1)
    (1.1, 1.3, 1.5)
    >>> lift_fuel_factor(load("propane"), 0.8) is None
    True
    """
    ratio = si(aeration, Kind.FRACTION, "aeration")
    placed = _placed(gas)
    found = _logarithm(placed, ratio)
    if found is None:
        return None
    followed, spread = _band("exponent of lift on extinction strain"), placed.spread
    ends = [exp(found * followed.low), exp(found * followed.high)]
    return Figure(
        name="lift fuel factor",
        value=exp(found * followed.value),
        low=min(ends) * (1.0 - spread),
        high=max(ends) * (1.0 + spread),
        unit="-",
        source="counterflow-flames",
        place="extinction strain over that of methane",
        provenance="computed",
    )


def carbon_monoxide_ranks(cases: Sequence[tuple[Any, Quantity]]) -> tuple[int | None, ...]:
    """Rank of each gas and aeration by the carbon monoxide of its strained flame, 1 the least.

    cases : gas or composition, and primary air over stoichiometric air [-]. Cases closer than the spread of the rule
    share a rank. None, not evaluated, where ``lift_fuel_factor`` is. The rank orders gases and settings of one burner;
    it is no concentration, and a cold pot or a closed box outweighs it. Raises UserError as ``lift_fuel_factor``.

    >>> from burnerlab.gas import load
    >>> carbon_monoxide_ranks([(load("G20"), 0.40), (load("G20"), 0.65), (load("G20"), 0.9)])
    (2, 1, None)
    """
    values = [
        _carbon_monoxide(_placed(gas), si(aeration, Kind.FRACTION, "aeration")) for gas, aeration in cases
    ]
    tie = 1.0 + _band("ranks of carbon monoxide").value
    order = sorted(value for value in values if value is not None)
    firsts: list[float] = []
    for value in order:
        if not firsts or value > tie * firsts[-1]:
            firsts.append(value)
    return tuple(None if value is None else sum(first <= value for first in firsts) for value in values)


class _Placed(NamedTuple):
    """A gas among the mixtures solved."""

    is_among_them: bool  # whether flames near to its mixtures were solved
    shares: tuple[tuple[_Solved, float], ...]
    spread: float  # of the lift factor [-]


def _placed(gas: Any) -> _Placed:
    names, fractions = composition_of(gas)
    return _placed_of(names, tuple(fractions.tolist()))


@lru_cache(maxsize=64)
def _placed_of(names: tuple[str, ...], fractions: tuple[float, ...]) -> _Placed:
    parts, _ = sorted_parts(dict(zip(names, fractions, strict=True)))
    return _Placed(_is_inside(parts), tuple(_shares(parts)), _spread(parts))


def _spread(parts: Parts) -> float:
    """What grid, fuels not solved and the rule between mixtures leave open of the lift factor [-]."""
    solved = (BASE_FUEL, HEAVIER)
    other = sum(OXYGEN_DEMAND[name] * x for name, x in parts.hydrocarbons.items() if name not in solved)
    mixed = _band("rule between mixtures").value if len(_fuels(parts)) > 1 else 0.0
    unsolved = _band("fuel not solved").value * other / parts.demand if other else 0.0
    return _band("grid of the strained flames").value + unsolved + mixed


@cache
def _band(name: str) -> Figure:
    (row,) = [row for row in rows("lift_fuel_factor") if row["name"] == name]
    return figure_of(row, name)


def _logarithm(placed: _Placed, aeration: float) -> float | None:
    """ln of the strain ratio; None outside the flames solved."""
    if not _is_solved(placed, aeration):
        return None
    return sum(
        share * float(np.interp(aeration, solved.aerations, solved.strain)) for solved, share in placed.shares
    )


def _carbon_monoxide(placed: _Placed, aeration: float) -> float | None:
    """Carbon monoxide over that of methane at aeration 0.55 [-]; None outside the flames solved."""
    if not _is_solved(placed, aeration):
        return None
    shift = sum(
        share * float(np.interp(aeration, solved.aerations, solved.monoxide))
        for solved, share in placed.shares
    )
    aerations, monoxide = _monoxide_of_methane()
    return exp(float(np.interp(aeration, aerations, monoxide)) + shift)


def _is_solved(placed: _Placed, aeration: float) -> bool:
    aerations = _solved()[BASE_FUEL].aerations
    return placed.is_among_them and float(aerations[0]) - 1e-9 <= aeration <= float(aerations[-1]) + 1e-9


def _is_inside(parts: Parts) -> bool:
    fuel = sum(parts.hydrocarbons.values()) + parts.hydrogen
    return (
        bool(parts.hydrocarbons)
        and parts.hydrogen <= 0.5 * fuel * (1 + 1e-9)
        and parts.carbon_monoxide <= TRACE
        and parts.oxygen <= TRACE
        and sum(parts.inerts.values()) <= _band("inert gas").value
    )


def _fuels(parts: Parts) -> list[str]:
    """Fuels of a gas, traces left out."""
    shares = {**parts.hydrocarbons, "hydrogen": parts.hydrogen}
    return [name for name, share in shares.items() if share > TRACE]


def _shares(parts: Parts) -> list[tuple[_Solved, float]]:
    """Mixtures solved, and how much of the logarithm of each counts: all by the oxygen that their fuels take."""
    solved = _solved()
    found = [(solved[HEAVIER], parts.heavier_share)]
    nodes = _light_shares()
    place = float(np.interp(parts.light_share, nodes, np.arange(nodes.size)))
    found += [
        (solved[name], 1.0 - abs(place - k)) for k, name in enumerate(HYDROGEN_FAMILY) if abs(place - k) < 1.0
    ]
    return [(mixture, share) for mixture, share in found if share > 0.0 and mixture is not solved[BASE_FUEL]]


@cache
def _light_shares() -> FloatArray:
    """Of the mixtures with hydrogen that were solved."""
    return np.array([parts_of(SOLVED_MIXTURES[name]).light_share for name in HYDROGEN_FAMILY])


@cache
def _solved() -> Mapping[str, _Solved]:
    """Every mixture of the table ``counterflow_extinction`` on the coarse grid."""
    columns = ("aeration", "extinction_strain_per_s", "carbon_monoxide_over_methane")
    points: dict[str, list[list[float]]] = {}
    for row in rows("counterflow_extinction"):
        if row["grid"] == "coarse":
            points.setdefault(row["gas"], []).append([float(row[key]) for key in columns])
    base = np.array(sorted(points[BASE_FUEL]))
    found = {}
    for name, own in points.items():
        aerations, strain, monoxide = np.array(sorted(own)).T
        found[name] = _Solved(
            aerations=aerations,
            strain=np.log(strain / np.interp(aerations, base[:, 0], base[:, 1])),
            monoxide=np.log(monoxide / np.interp(aerations, base[:, 0], base[:, 2])),
        )
    return found


@cache
def _monoxide_of_methane() -> tuple[FloatArray, FloatArray]:
    """Aerations, and the logarithm of the carbon monoxide of methane over that at aeration 0.55."""
    own = [
        row for row in rows("counterflow_extinction") if (row["gas"], row["grid"]) == (BASE_FUEL, "coarse")
    ]
    points = sorted((float(row["aeration"]), float(row["carbon_monoxide_over_methane"])) for row in own)
    aerations, monoxide = np.array(points).T
    return aerations, np.log(monoxide)
