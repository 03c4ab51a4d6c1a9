"""Burning velocity of a mixture of gases, and the parts a gas is made of.

Hydrocarbons: mean weighted by the oxygen each part takes (their energy within 2 %). Hydrogen and carbon monoxide: the
logarithm moves from the hydrocarbons to them as it does on the tabulated axis from methane to hydrogen; carbon monoxide
burns by the hydrogen beside it, that bound in hydrocarbons included. What these rules miss is taken from probes, blends
that were solved. Inert gas: the logarithm falls with its share in the mixture, as tabulated for methane, propane,
hydrogen and two of their blends.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from burnerlab.flame.burning_velocity_table import (
    BASE_FLAMES,
    PHI,
    STATES,
    FlameTable,
    anchors,
    hydrogen_axis,
    towards_away,
)
from burnerlab.flame.making.plan import AWAY, HYDROGEN_IN_CARBON_MONOXIDE, INERTS, gases, probes
from burnerlab.flame.profile import AIR, OXYGEN_DEMAND
from burnerlab.gas.combustion_air import atoms, oxygen_demand
from burnerlab.tables import Row, rows
from burnerlab.tables.problem import Problem, UserError

# Burning velocity of a blend from those of its parts, at the same equivalence ratio.

FloatArray = NDArray[np.float64]

HYDROCARBONS = ("methane", "ethane", "ethylene", "propane", "propylene", "n-butane", "isobutane")
QUICK_PROBES = (
    "propane hydrogen",
    "methane water gas",
    "methane carbon monoxide",
    "propane carbon monoxide",
)
HEAVIER_PROBES, ETHYLENE_PROBES = "methane propane", "methane ethylene"
"""Families of blends that were solved; their flames tell what the rules miss."""
BETWEEN_PROBES = {"methane wet gas": 0.25, "methane dry gas": 0.75}
"""Families between those, by the share of carbon monoxide in what is quick: what is still missed there."""
HYDROGEN_LENT = 0.5
"""Of the hydrogen bound in hydrocarbons, what wets the carbon monoxide: with it the probes miss little, and evenly."""
TRACE = HYDROGEN_IN_CARBON_MONOXIDE[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """A gas sorted by how its parts burn; moles per mole of gas."""

    hydrocarbons: Mapping[str, float]
    hydrogen: float
    carbon_monoxide: float
    inerts: Mapping[str, float]
    oxygen: float

    @property
    def demand(self) -> float:
        """Oxygen its fuels take [mol/mol]."""
        return self.hydrocarbon_demand + 0.5 * self.light

    @property
    def hydrocarbon_demand(self) -> float:
        """Oxygen its hydrocarbons take [mol/mol]."""
        return sum(OXYGEN_DEMAND[name] * share for name, share in self.hydrocarbons.items())

    @property
    def light_share(self) -> float:
        """Share of the oxygen that hydrogen and carbon monoxide take [-]."""
        return 0.5 * self.light / self.demand

    @property
    def heavier_share(self) -> float:
        """Share of the oxygen of its hydrocarbons that those above methane take [-]."""
        methane = OXYGEN_DEMAND["methane"] * self.hydrocarbons.get("methane", 0.0)
        return 1.0 - methane / self.hydrocarbon_demand if self.hydrocarbons else 0.0

    @property
    def wetting(self) -> float:
        """Hydrogen that carbon monoxide burns by, free and lent by hydrocarbons [mol/mol]."""
        if not self.hydrocarbons:
            return self.hydrogen
        bound = atoms(tuple(self.hydrocarbons), np.array(list(self.hydrocarbons.values())))["H"] / 2
        return self.hydrogen + HYDROGEN_LENT * float(bound) * self.carbon_monoxide / self.light

    @property
    def light(self) -> float:
        """Hydrogen and carbon monoxide [mol/mol]."""
        return self.hydrogen + self.carbon_monoxide


def parts_of(gas: Mapping[str, float]) -> Parts:
    """The parts of a gas made of components the tables have flames of."""
    return Parts(
        hydrocarbons={name: gas[name] for name in HYDROCARBONS if gas.get(name, 0.0) > 0.0},
        hydrogen=gas.get("hydrogen", 0.0),
        carbon_monoxide=gas.get("carbon monoxide", 0.0),
        inerts={name: gas[name] for name in INERTS if gas.get(name, 0.0) > 0.0},
        oxygen=gas.get("oxygen", 0.0),
    )


def measured_over_computed(parts: Parts) -> float:
    """Anchor of a blend: that of its fuels, weighted by the oxygen they take [-].

    >>> measured_over_computed(Parts(hydrocarbons={"methane": 1.0}, hydrogen=0.0, carbon_monoxide=0.0, inerts={},
    ...     oxygen=0.0))
    1.0
    """
    factors = anchors()
    off = sum(
        OXYGEN_DEMAND[name] * share * (factors.get(name, 1.0) - 1.0)
        for name, share in parts.hydrocarbons.items()
    )
    return 1.0 + off / parts.demand


def air_per_gas(parts: Parts) -> FloatArray:
    """Air per mole of gas at every true equivalence ratio of the table [mol/mol]; oxygen in the gas counts as air's.

    The true ratio compares the fuel with all oxygen of the mixture.
    """
    return np.asarray(np.maximum(parts.demand / PHI - parts.oxygen, 0.0) / AIR["oxygen"])


def inert_shares(parts: Parts) -> FloatArray:
    """Mole fraction in the mixture of each gas of INERTS beyond what air brings along [inert, phi]."""
    total = 1.0 + air_per_gas(parts)
    moles = [parts.inerts.get(name, 0.0) for name in INERTS]
    moles[INERTS.index("nitrogen")] -= parts.oxygen * AIR["nitrogen"] / AIR["oxygen"]
    return np.array([amount / total for amount in moles])


def blended(parts: Parts, table: FlameTable) -> tuple[FloatArray, FloatArray]:
    """Logarithm of burning velocity and thermal thickness of a blend, each [state, phi]."""
    speed, product = _combustible(parts, table)
    if parts.hydrocarbons and parts.light > 0.0:
        missed = _missed_by_the_rule(parts, table)
        speed, product = speed + missed[0], product + missed[1]
    slower, thicker = _inert_effect(parts, table)
    return speed + slower, product - speed + thicker


def _inert_effect(parts: Parts, table: FlameTable) -> FloatArray:
    """Change of the logarithm of speed and thickness by inert gas [quantity, state, phi]."""
    weights, shares = _inert_weights(parts), inert_shares(parts)
    effect = table.inert_first + table.inert_bend * shares.sum(axis=0)
    elsewhere = 1.0 + np.einsum("sk,kqfip->sqfip", towards_away(), table.inert_elsewhere)
    return np.asarray(np.einsum("f,ip,qfip,sqfip->qsp", weights, shares, effect, elsewhere))


def _missed_by_the_rule(parts: Parts, table: FlameTable) -> FloatArray:
    """What the rule misses of a blend of hydrocarbons with hydrogen or carbon monoxide [quantity, state, phi]."""
    dry, missed = parts.carbon_monoxide / parts.light, _missed_at_first(parts, table)
    for family, place in BETWEEN_PROBES.items():
        near = 1.0 - abs(dry - place) / 0.25
        if near > 0.0:
            missed = missed + near * _along_probes(family, parts.light_share, table)
    return missed


def _missed_at_first(parts: Parts, table: FlameTable) -> FloatArray:
    """By the main families alone, linear between them in the share of carbon monoxide [quantity, state, phi]."""
    dry = parts.carbon_monoxide / parts.light
    wet, half, none, heavy = (_along_probes(family, parts.light_share, table) for family in QUICK_PROBES)
    carbon = (1.0 - abs(2.0 * dry - 1.0)) * half + max(2.0 * dry - 1.0, 0.0) * none
    return np.asarray(carbon + parts.heavier_share * ((1.0 - dry) * wet + dry * (heavy - none)))


def _along_probes(family: str, share: float, table: FlameTable) -> FloatArray:
    """What the rule misses at a share of the oxygen demand between the probes of a family [quantity, state, phi]."""
    nodes, missed = _missed_at_probes(family, table)
    base, *changes = along(nodes, missed, np.array([share]))[0]
    return np.asarray(base[:, None, :] + np.einsum("sk,kqp->qsp", towards_away(), np.array(changes)))


@cache
def _missed_at_probes(family: str, table: FlameTable) -> tuple[FloatArray, FloatArray]:
    """Places between 0 and 1, and what the rule misses there at the base state and how that changes towards each of
    AWAY [place, base and AWAY, quantity, phi]; nothing at the ends."""
    places, missed = [0.0], []
    at = [STATES.index(state) for state in (STATES[0], *AWAY)]
    for label, solved in table.probes.items():
        if not label.startswith(family):
            continue
        parts = parts_of(probes()[label])
        rule = np.array(_combustible(parts, table) if parts.light else _mean(parts, table))
        rule = (rule + _missed_at_first(parts, table) if family in BETWEEN_PROBES else rule)[:, at]
        anchored = solved[:, 0] + np.log(measured_over_computed(parts))
        gap = np.array([anchored, solved.sum(axis=1)]) - rule
        gap[:, 1:] -= gap[:, :1]
        places.append(parts.light_share if parts.light else parts.heavier_share)
        missed.append(np.apply_along_axis(_filled, -1, np.moveaxis(gap, 0, 1)))
    end = np.zeros_like(missed[0])
    return np.array([*places, 1.0]), np.array([end, *missed, end])


def _filled(values: FloatArray) -> FloatArray:
    """Values over PHI, linear between those known; the last one held outside them."""
    known = np.isfinite(values)
    return np.asarray(np.interp(PHI, PHI[known], values[known]))


def _combustible(parts: Parts, table: FlameTable) -> tuple[FloatArray, FloatArray]:
    """Logarithm of speed and of speed times thickness of the parts that burn, by the rules alone."""
    if not parts.hydrocarbons:
        return _hydrogen_and_carbon_monoxide(parts, table)
    heavy = _hydrocarbons(parts, table)
    if parts.light == 0.0:
        return heavy
    quick = _hydrogen_and_carbon_monoxide(parts, table)
    weight = _towards_hydrogen(parts.light_share, table)
    return (
        heavy[0] + weight[0] * (quick[0] - heavy[0]),
        heavy[1] + weight[1] * (quick[1] - heavy[1]),
    )


def _hydrocarbons(parts: Parts, table: FlameTable) -> tuple[FloatArray, FloatArray]:
    """Logarithm of speed and of speed times thickness of the hydrocarbons; no blend leaves the span of its parts."""
    speed, product = _mean(parts, table)
    if not 0.0 < parts.heavier_share < 1.0:
        return speed, product
    ethylene = OXYGEN_DEMAND["ethylene"] * parts.hydrocarbons.get("ethylene", 0.0)
    ethylene /= parts.heavier_share * parts.hydrocarbon_demand
    missed = (1.0 - ethylene) * _along_probes(HEAVIER_PROBES, parts.heavier_share, table)
    if ethylene > 0.0:
        missed = missed + ethylene * _along_probes(ETHYLENE_PROBES, parts.heavier_share, table)
    own = np.array([table.of(name)[0] for name in parts.hydrocarbons])
    return np.clip(speed + missed[0], own.min(axis=0), own.max(axis=0)), product + missed[1]


def _mean(parts: Parts, table: FlameTable) -> tuple[FloatArray, FloatArray]:
    """Means weighted by oxygen demand, of the speed and of speed times thickness."""
    logs = np.array([table.of(name) for name in parts.hydrocarbons])
    demand = np.array([OXYGEN_DEMAND[name] * share for name, share in parts.hydrocarbons.items()])
    weight = demand / demand.sum()
    speed = np.einsum("h,hsp->sp", weight, np.exp(logs[:, 0]))
    product = np.einsum("h,hsp->sp", weight, np.exp(logs.sum(axis=1)))
    return np.log(speed), np.log(product)


def _towards_hydrogen(share: float, table: FlameTable) -> tuple[FloatArray, FloatArray]:
    """How far the logarithms have moved from methane to hydrogen on the tabulated axis [state, phi].

    share : of the oxygen demand, that hydrogen and carbon monoxide take [-]
    """
    nodes = np.array([parts_of(gases()[name]).light_share for name in hydrogen_axis()])
    logs = [table.of(name) for name in hydrogen_axis()]
    speed = np.array([log_speed for log_speed, _ in logs])
    product = np.array([log_speed + log_thickness for log_speed, log_thickness in logs])
    return _moved(share, nodes, speed), _moved(share, nodes, product)


def _moved(share: float, nodes: FloatArray, values: FloatArray) -> FloatArray:
    here = along(nodes, values.reshape(nodes.size, -1), np.array([share]))[0].reshape(values.shape[1:])
    span = values[-1] - values[0]
    return np.asarray(np.where(np.abs(span) > 1e-3, (here - values[0]) / np.where(span == 0, 1, span), share))


def _hydrogen_and_carbon_monoxide(parts: Parts, table: FlameTable) -> tuple[FloatArray, FloatArray]:
    """Between the tabulated mixtures of carbon monoxide and hydrogen; dry carbon monoxide is taken with the trace."""
    share = max(parts.wetting / (parts.wetting + parts.carbon_monoxide), TRACE)
    nodes = np.array([*HYDROGEN_IN_CARBON_MONOXIDE, 1.0])
    names = [*(f"carbon monoxide hydrogen {value:g}" for value in HYDROGEN_IN_CARBON_MONOXIDE), "hydrogen"]
    logs = [table.of(name) for name in names]
    speed = np.array([log_speed for log_speed, _ in logs])
    product = np.array([log_speed + log_thickness for log_speed, log_thickness in logs])
    where = np.log(np.array([share]))
    shape = speed.shape[1:]
    return (
        along(np.log(nodes), speed.reshape(nodes.size, -1), where)[0].reshape(shape),
        along(np.log(nodes), product.reshape(nodes.size, -1), where)[0].reshape(shape),
    )


def _inert_weights(parts: Parts) -> FloatArray:
    """Weight of each flame of BASE_FLAMES, by oxygen demand: between neighbours on the axis to hydrogen, and propane
    for every hydrocarbon but methane."""
    axis = [label for label in BASE_FLAMES if label in hydrogen_axis()]
    nodes = np.array([parts_of(gases()[label]).light_share for label in axis])
    place = np.interp(parts.light_share, nodes, np.arange(nodes.size))
    weights = {label: max(0.0, 1.0 - abs(place - k)) for k, label in enumerate(axis)}
    heavier = weights["methane"] * parts.heavier_share
    weights |= {"methane": weights["methane"] - heavier, "propane": heavier}
    return np.array([weights[label] for label in BASE_FLAMES])


def along(nodes: FloatArray, values: FloatArray, where: FloatArray) -> FloatArray:
    """Cubic spline through nodes, not-a-knot at both ends.

    nodes : increasing [n]; values : [n, ...]; where : points between the first and the last node [m]
    Returns [m, ...].

    >>> along(np.array([0.0, 1.0, 2.0, 3.0, 4.0]), np.array([[0.0], [1.0], [8.0], [27.0], [64.0]]), np.array([2.5]))
    array([[15.625]])
    """
    step, flat = np.diff(nodes), values.reshape(nodes.size, -1)
    slope = np.diff(flat, axis=0) / step[:, None]
    matrix = np.zeros((nodes.size, nodes.size))
    right = np.zeros_like(flat)
    inner = np.arange(1, nodes.size - 1)
    matrix[inner, inner - 1], matrix[inner, inner + 1] = step[:-1], step[1:]
    matrix[inner, inner] = 2 * (step[:-1] + step[1:])
    right[1:-1] = 6 * np.diff(slope, axis=0)
    matrix[0, :3] = step[1], -(step[0] + step[1]), step[0]
    matrix[-1, -3:] = step[-1], -(step[-2] + step[-1]), step[-2]
    bend = np.linalg.solve(matrix, right)
    k = np.clip(np.searchsorted(nodes, where, side="right") - 1, 0, nodes.size - 2)
    t, h = (where - nodes[k])[:, None], step[k][:, None]
    rise = slope[k] - h * (2 * bend[k] + bend[k + 1]) / 6
    result = flat[k] + t * (rise + t * (bend[k] / 2 + t * (bend[k + 1] - bend[k]) / (6 * h)))
    return np.asarray(result.reshape(where.size, *values.shape[1:]))


# Sort a gas into what its flame is made of; rare components burn like a neighbour, within limits.

MENTIONED = 1e-3  # share from which a stand-in is worth a note


@cache
def _stand_ins() -> dict[str, Row]:
    return {row["component"]: row for row in rows("flame_stand_ins")}


def sorted_parts(gas: Mapping[str, float]) -> tuple[Parts, tuple[str, ...]]:
    """The parts of a gas, and notes on what burns like something else.

    gas : component -> mole fraction
    Raises UserError when nothing burns, or a component without flames of its own takes too large a share.

    >>> parts, notes = sorted_parts({"methane": 0.9, "n-pentane": 0.02, "nitrogen": 0.08})
    >>> round(parts.hydrocarbons["n-butane"], 4), notes
    (0.0246, ('n-pentane burns like n-butane',))
    """
    moles: dict[str, float] = {}
    notes, problems = [], []
    total = _whole_demand(gas)
    for name, share in gas.items():
        if share <= 0.0:
            continue
        if name not in _stand_ins():
            moles[name] = moles.get(name, 0.0) + share
            continue
        row = _stand_ins()[name]
        own = float(oxygen_demand([name], [1.0]))
        weight = share * own / total if own > 0 else share
        if weight > float(row["largest_share"]):
            problems.append(_too_much(name, weight, row))
        if weight > MENTIONED:
            notes.append(f"{name} burns like {row['burns_like']}")
        like = row["burns_like"]
        factor = own / OXYGEN_DEMAND[like] if own > 0 else 1.0
        moles[like] = moles.get(like, 0.0) + share * factor
    if problems:
        raise UserError(problems)
    return _parts(moles), tuple(notes)


def as_mixture(parts: Parts) -> dict[str, float]:
    """The parts as a composition again, mole fractions adding to one."""
    moles = {**parts.hydrocarbons, **parts.inerts}
    moles |= {"hydrogen": parts.hydrogen, "carbon monoxide": parts.carbon_monoxide, "oxygen": parts.oxygen}
    total = sum(moles.values())
    return {name: share / total for name, share in moles.items() if share > 0.0}


def _whole_demand(gas: Mapping[str, float]) -> float:
    burning = {name: share for name, share in gas.items() if name != "oxygen" and share > 0.0}
    total = sum(share * float(oxygen_demand([name], [1.0])) for name, share in burning.items())
    if total <= 0.0:
        what = "nothing in this gas burns"
        raise UserError(
            Problem(what, value=", ".join(gas), key="gas", fix="give a gas with a fuel component")
        )
    return total


def _too_much(name: str, share: float, row: Row) -> Problem:
    return Problem(
        f"no flames of {name} in the tables, and too much of it to burn like {row['burns_like']}",
        value=f"{share:.3g} of the oxygen demand",
        key="gas",
        accepted=f"up to {row['largest_share']}",
        fix="leave it out, or give the burning velocity yourself",
    )


def _parts(moles: Mapping[str, float]) -> Parts:
    known = {*HYDROCARBONS, *INERTS, "hydrogen", "carbon monoxide", "oxygen"}
    unknown = sorted(set(moles) - known)
    if unknown:
        raise UserError(
            Problem("no flames of this component in the tables", value=", ".join(unknown), key="gas")
        )
    return parts_of(moles)
