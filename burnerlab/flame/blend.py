"""Burning velocity of a blend from those of its parts, at the same equivalence ratio.

Hydrocarbons: mean weighted by the oxygen each part takes (their energy within 2 %). Hydrogen and carbon monoxide: the
logarithm moves from the hydrocarbons to them as it does on the tabulated axis from methane to hydrogen. Inert gas:
the logarithm falls with its share in the mixture, as tabulated for methane, propane and hydrogen.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from burnerlab.flame.plan import HYDROGEN_IN_CARBON_MONOXIDE, HYDROGEN_IN_METHANE, INERTS
from burnerlab.flame.profile import AIR, OXYGEN_DEMAND
from burnerlab.flame.speed_table import PHI, FlameTable, anchors, hydrogen_axis

FloatArray = NDArray[np.float64]

HYDROCARBONS = ("methane", "ethane", "ethylene", "propane", "propylene", "n-butane", "isobutane")
TRACE = HYDROGEN_IN_CARBON_MONOXIDE[0]
# Fitted to flames solved directly; what they leave is stated in the table flame_accuracy.
INERT_BEND = 0.15  # effect per share of a first trace of inert gas, below that at the tabulated share
HEAVIER = 1.18  # a hydrocarbon above methane holds hydrogen back more than its oxygen demand says
HYDROGEN_LENT = 0.25  # share of the hydrogen held by hydrocarbons that wets carbon monoxide
CARBON_MONOXIDE_COUNTS = 1.0  # mole of hydrogen per mole, on the way from methane to hydrogen
HYDROGEN_HELD = {
    "methane": 2.0,
    "ethane": 3.0,
    "ethylene": 2.0,
    "propane": 4.0,
    "propylene": 3.0,
    "n-butane": 5.0,
    "isobutane": 5.0,
}  # [mol H2/mol], from the formulas


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
        own = sum(OXYGEN_DEMAND[name] * share for name, share in self.hydrocarbons.items())
        return own + 0.5 * (self.hydrogen + self.carbon_monoxide)


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


def blended(
    parts: Parts, table: FlameTable, flame_temperature_K: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Logarithm of burning velocity and thermal thickness of a blend, each [state, phi].

    flame_temperature_K : of the blend at every state and equivalence ratio [K]; a hotter flame minds inert gas less
    """
    speed, product = _combustible(parts, table)
    weights, shares = _inert_weights(parts), inert_shares(parts)
    solved_at = np.einsum("f,fp->p", weights, table.inert_solved_at)
    bend = 1.0 - INERT_BEND * (1.0 - shares.sum(axis=0) / solved_at)
    cooled = bend * (flame_temperature_K[:1] / flame_temperature_K) ** 2
    slower = np.einsum("f,fip,ip->p", weights, table.inert_on_speed, shares) * cooled
    thicker = np.einsum("f,fip,ip->p", weights, table.inert_on_thickness, shares) * cooled
    return speed + slower, product - speed + thicker


def _combustible(parts: Parts, table: FlameTable) -> tuple[FloatArray, FloatArray]:
    """Logarithm of speed and of speed times thickness of the parts that burn."""
    light = parts.hydrogen + CARBON_MONOXIDE_COUNTS * parts.carbon_monoxide
    if not parts.hydrocarbons:
        return _hydrogen_and_carbon_monoxide(parts, table)
    demand = {name: OXYGEN_DEMAND[name] * share for name, share in parts.hydrocarbons.items()}
    heavy = _mean(demand, table)
    if light == 0.0:
        return heavy
    quick = _hydrogen_and_carbon_monoxide(parts, table)
    held = sum(amount * (1.0 if name == "methane" else HEAVIER) for name, amount in demand.items())
    weight = _towards_hydrogen(0.5 * light, held, table)
    return (
        heavy[0] + weight[0] * (quick[0] - heavy[0]),
        heavy[1] + weight[1] * (quick[1] - heavy[1]),
    )


def _mean(demand: Mapping[str, float], table: FlameTable) -> tuple[FloatArray, FloatArray]:
    """Means weighted by oxygen demand, of the speed and of speed times thickness."""
    total = sum(demand.values())
    speed = product = np.zeros_like(table.log_speed[0])
    for name, amount in demand.items():
        log_speed, log_thickness = table.of(name)
        speed = speed + amount / total * np.exp(log_speed)
        product = product + amount / total * np.exp(log_speed + log_thickness)
    return np.log(speed), np.log(product)


def _towards_hydrogen(light: float, heavy: float, table: FlameTable) -> tuple[FloatArray, FloatArray]:
    """How far the logarithms have moved from methane to hydrogen on the tabulated axis [state, phi].

    light, heavy : oxygen demand of hydrogen and of the hydrocarbons; the place on the axis is their share.
    """
    moles = np.array([0.0, *HYDROGEN_IN_METHANE, 1.0])
    nodes = 0.5 * moles / (0.5 * moles + OXYGEN_DEMAND["methane"] * (1 - moles))
    logs = [table.of(name) for name in hydrogen_axis()]
    speed = np.array([log_speed for log_speed, _ in logs])
    product = np.array([log_speed + log_thickness for log_speed, log_thickness in logs])
    share = light / (light + heavy)
    return _moved(share, nodes, speed), _moved(share, nodes, product)


def _moved(share: float, nodes: FloatArray, values: FloatArray) -> FloatArray:
    here = along(nodes, values.reshape(nodes.size, -1), np.array([share]))[0].reshape(values.shape[1:])
    span = values[-1] - values[0]
    return np.asarray(np.where(np.abs(span) > 1e-3, (here - values[0]) / np.where(span == 0, 1, span), share))


def _hydrogen_and_carbon_monoxide(parts: Parts, table: FlameTable) -> tuple[FloatArray, FloatArray]:
    """Between the tabulated mixtures of carbon monoxide and hydrogen; dry carbon monoxide is taken with the trace."""
    lent = HYDROGEN_LENT * sum(HYDROGEN_HELD[name] * share for name, share in parts.hydrocarbons.items())
    wet = parts.hydrogen + (lent if parts.carbon_monoxide > 0.0 else 0.0)
    share = max(wet / (wet + parts.carbon_monoxide), TRACE)
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
    """Share of methane, of the other hydrocarbons and of hydrogen and carbon monoxide, by oxygen demand."""
    methane = OXYGEN_DEMAND["methane"] * parts.hydrocarbons.get("methane", 0.0)
    light = 0.5 * (parts.hydrogen + parts.carbon_monoxide)
    return np.array([methane, parts.demand - methane - light, light]) / parts.demand


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
