"""The data of the stability diagram: primary aeration across, port loading up. Nothing is drawn here.

Limits are turned from wall gradients into port loadings of one burner on one gas, so that operating points at any
rate and pressure can be set among them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from burnerlab.burner import ports
from burnerlab.burner.burner import (
    BurnerFuel,
    BurnerGeometry,
    EvaluationOptions,
    Surroundings,
    port_mixture_K,
)
from burnerlab.burner.checks import Rule, rule_for
from burnerlab.burner.coefficients import Array
from burnerlab.burner.evaluation import Tabulated, evaluate, evaluate_each, flame_limits, gas_limits
from burnerlab.burner.stability_point import StabilityPoint
from burnerlab.burner.state import BurnerState, FlameLimits
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import output
from burnerlab.tables.figure import Evidence

LEAST_AERATION, MOST_AERATION, STEPS = 0.10, 1.30, 241


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitCurve:
    """A limit as port loading over primary aeration, with its band."""

    limit: str  # lift or light-back
    gas: str
    aeration: Array
    loading_W_per_mm2: Array
    low_W_per_mm2: Array
    high_W_per_mm2: Array
    provisional: bool  # drawn so that nobody takes it for the rest
    note: str
    is_more_than: bool = False  # the limit lies above this line, by how much is not known

    def loading_at(self, aeration: float) -> float | None:
        """Port loading of the limit at an aeration [W/mm2]; None beside its ends."""
        if not self.aeration[0] <= aeration <= self.aeration[-1]:
            return None
        return float(np.interp(aeration, self.aeration, self.loading_W_per_mm2))


@dataclass(frozen=True, slots=True, kw_only=True)
class YellowLine:
    """The least primary aeration without yellow tips: an upright line with its band."""

    gas: str
    aeration: float
    low: float
    high: float
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingPoint:
    """Where a burner works, with the band of its primary aeration."""

    gas: str = field(metadata=output("gas"))
    label: str = field(metadata=output("rate"))  # full rate, turndown, lowest pressure, highest pressure
    aeration: float = field(metadata=output("primary aeration"))
    aeration_low: float = field(metadata=output("primary aeration, low end"))
    aeration_high: float = field(metadata=output("primary aeration, high end"))
    loading_W_per_mm2: float = field(metadata=output("port loading", unit="W/mm2"))
    gauge_pressure_Pa: float = field(metadata=output("pressure", Kind.GAUGE_PRESSURE))
    state: BurnerState


@dataclass(frozen=True, slots=True, kw_only=True)
class HotPoint:
    """Where a burner works 15 min after a cold start: as much gas as cold, mostly less primary air."""

    gas: str = field(metadata=output("gas"))
    label: str = field(metadata=output("rate"))  # full rate or the lowest one, hot
    aeration: float = field(metadata=output("primary aeration"))
    aeration_low: float = field(metadata=output("primary aeration, low end"))
    aeration_high: float = field(metadata=output("primary aeration, high end"))
    loading_W_per_mm2: float = field(metadata=output("port loading", unit="W/mm2"))
    gauge_pressure_Pa: float = field(metadata=output("pressure", Kind.GAUGE_PRESSURE))


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrow:
    """What the conversion does: from the present gas at full rate to the new one."""

    start: OperatingPoint
    end: OperatingPoint


@dataclass(frozen=True, slots=True, kw_only=True)
class DiagramRate:
    """A rate at which a burner is shown."""

    label: str
    gauge_pressure_Pa: float  # before the orifice with the valve open
    load: float = 1.0  # share of that rate, throttled ahead of the orifice


@dataclass(frozen=True, slots=True, kw_only=True)
class OnGas:
    """One burner on one gas: geometry with the orifice of that gas, and the rates to be shown; the first is full."""

    title: str
    geometry: BurnerGeometry
    fuel: BurnerFuel
    surroundings: Surroundings
    rates: tuple[DiagramRate, ...]
    options: EvaluationOptions = field(default_factory=EvaluationOptions)  # load is that of each rate


@dataclass(frozen=True, slots=True, kw_only=True)
class StabilityDiagram:
    """Curves, lines, points and the arrow of one burner on one gas, or before and after a conversion."""

    burner: str
    gases: tuple[str, ...]
    curves: tuple[LimitCurve, ...]
    yellow_tips: tuple[YellowLine, ...]
    points: tuple[OperatingPoint, ...]
    arrow: Arrow | None
    loading_rules: tuple[tuple[str, Rule], ...]  # by gas: range of port loading in practice
    missing: tuple[str, ...]  # limits that are not shown, and why
    observations: tuple[StabilityPoint, ...] = ()  # what the user's own flames did, beside the limits
    hot_points: tuple[HotPoint, ...] = ()  # beside the cold ones; the limits are those of cold ports


def states_of(case: OnGas) -> tuple[BurnerState, ...]:
    """The burner at each of its rates."""
    pressure = np.array([rate.gauge_pressure_Pa for rate in case.rates])
    options = replace(case.options, load=np.array([rate.load for rate in case.rates]))
    return evaluate(case.geometry, case.fuel, pressure, case.surroundings, options).each()


def states_of_all(cases: Sequence[OnGas]) -> list[tuple[BurnerState, ...]]:
    """Every burner at each of its rates, as ``states_of`` one by one; burners alike in one call.

    Alike are those in one place that leave out the same parts of their geometry, whatever gas they burn.
    """
    alike: dict[tuple[object, ...], list[int]] = {}
    for place, case in enumerate(cases):
        key = repr(case.surroundings), repr(case.options), case.geometry.pattern
        alike.setdefault(key, []).append(place)
    result: list[tuple[BurnerState, ...]] = [()] * len(cases)
    for places in alike.values():
        rated = [(cases[place], rate) for place in places for rate in cases[place].rates]
        first = cases[places[0]]
        states = iter(
            evaluate_each(
                [(case.geometry, case.fuel) for case, _ in rated],
                np.array([rate.gauge_pressure_Pa for _, rate in rated]),
                np.array([rate.load for _, rate in rated]),
                first.surroundings,
                first.options,
            )
        )
        for place in places:
            result[place] = tuple(next(states) for _ in cases[place].rates)
    return result


def diagram_of(
    burner: str,
    cases: Sequence[OnGas],
    own_rules: Path | None = None,
    states: Sequence[Sequence[BurnerState]] | None = None,
    observations: Sequence[StabilityPoint] = (),
    curves: Sequence[Sequence[LimitCurve]] | None = None,
) -> StabilityDiagram:
    """The diagram's data for a burner on one gas, or on the present and the new one in that order.

    cases : each with its own orifice; the arrow goes from the first's full rate to the last's
    states, curves : of each case at its rates, and its limits, where they are known already
    observations : the user's own, each with the title of its case as its gas
    """
    limits = [limit_curves(case) for case in cases] if curves is None else curves
    missing: list[str] = []
    for case, found in zip(cases, limits, strict=True):
        shown = {curve.limit for curve in found}
        why = case.fuel.no_burning or "the table of burning velocities does not reach it"
        missing += [f"{name} on {case.title}: {why}" for name in ("lift", "light-back") if name not in shown]
        if case.fuel.yellow_tip.limit is None:
            missing.append(f"yellow tipping on {case.title}: {case.fuel.yellow_tip.why_not}")
    known = [states_of(case) for case in cases] if states is None else states
    points = [operating_points(case, found) for case, found in zip(cases, known, strict=True)]
    missing += [
        f"operating points on {case.title}: the primary air is not known"
        for case, found in zip(cases, points, strict=True)
        if not found
    ]
    full = [found[0] for found in points if found]
    return StabilityDiagram(
        burner=burner,
        gases=tuple(case.title for case in cases),
        curves=tuple(curve for found in limits for curve in found),
        yellow_tips=tuple(line for case in cases for line in _yellow(case)),
        points=tuple(point for found in points for point in found),
        arrow=Arrow(start=full[0], end=full[-1]) if len(full) > 1 else None,
        loading_rules=tuple(
            (case.title, rule)
            for case in cases
            if (rule := rule_for("port loading", case.fuel.group, own_rules))
        ),
        missing=tuple(missing),
        observations=tuple(observations),
    )


def operating_points(case: OnGas, states: Sequence[BurnerState]) -> tuple[OperatingPoint, ...]:
    """Every rate of a case whose primary air is known."""
    return tuple(
        OperatingPoint(
            gas=case.title,
            label=rate.label,
            aeration=float(state.air.aeration),
            aeration_low=float(state.air.low),
            aeration_high=float(state.air.high),
            loading_W_per_mm2=float(state.port_loading_W_per_mm2),
            gauge_pressure_Pa=rate.gauge_pressure_Pa,
            state=state,
        )
        for rate, state in zip(case.rates, states, strict=True)
        if not np.isnan(state.primary_aeration)
    )


def _yellow(case: OnGas) -> tuple[YellowLine, ...]:
    limit = case.fuel.yellow_tip.limit
    if limit is None:
        return ()
    value, low, high = (float(end) for end in (limit.value, limit.low, limit.high))
    return (YellowLine(gas=case.title, aeration=value, low=low, high=high, note=limit.note),)


def limit_curves(case: OnGas) -> tuple[LimitCurve, ...]:
    """Lift and light-back of a case; lift has a piece of its own where it is only more than its cap."""
    flame = _limits_of(case)
    aeration = flame.aeration
    limits = [getattr(one, end) for one in (flame.lift, flame.light_back) for end in ("value", "low", "high")]
    lift, back = np.split(_loading(case, flame, np.stack(limits)), 2)
    capped = flame.lift.is_more_than
    joined = capped.copy()
    joined[1:] |= capped[:-1]  # the pieces touch
    estimate = flame.lift.evidence is not Evidence.MEASURED
    pieces = (
        _Piece("lift", lift, ~capped, estimate, flame.lift.note, False),
        _Piece("lift", lift, joined, estimate, flame.lift.note, True),
        _Piece("light-back", back, ~flame.light_back_is_bound, False, flame.light_back.note, False),
    )
    curves = (_curve(case.title, aeration, piece) for piece in pieces)
    return tuple(curve for curve in curves if curve is not None)


AERATIONS = tuple(np.linspace(LEAST_AERATION, MOST_AERATION, STEPS).tolist())


def _limits_of(case: OnGas) -> FlameLimits:
    """Limits over the aerations shown; of a tabulated gas found once for all burners."""
    place, options = case.surroundings, case.options
    port_K, pressure = port_mixture_K(case.geometry, place, options), np.asarray(place.ambient_pressure_Pa)
    if isinstance(case.fuel.burning, Tabulated) and port_K.ndim == pressure.ndim == 0:
        return gas_limits(case.fuel.burning, AERATIONS, float(port_K), float(pressure), options.own)
    return flame_limits(case.geometry, case.fuel, np.array(AERATIONS), place, options)


class _Piece(NamedTuple):
    """A piece of a limit: its loadings (value, low, high) at every aeration, and where it holds."""

    limit: str
    loading: Array
    where: NDArray[np.bool_]
    provisional: bool
    note: str
    is_more_than: bool


def _curve(gas: str, aeration: Array, piece: _Piece) -> LimitCurve | None:
    shown = piece.where & np.isfinite(piece.loading[0])
    if np.count_nonzero(shown) < 2:
        return None
    loading, aeration = piece.loading[:, shown], aeration[shown]
    for array in (loading, aeration):
        array.flags.writeable = False  # a remembered curve is shared
    value, low, high = loading
    return LimitCurve(
        limit=piece.limit,
        gas=gas,
        aeration=aeration,
        loading_W_per_mm2=value,
        low_W_per_mm2=low,
        high_W_per_mm2=high,
        provisional=piece.provisional,
        note=piece.note,
        is_more_than=piece.is_more_than,
    )


def _loading(case: OnGas, flame: FlameLimits, gradient_per_s: Array) -> Array:
    """Port loading at which the burner has a wall gradient, aeration by aeration."""
    geometry, fuel, place = case.geometry, case.fuel, case.surroundings
    port_K = port_mixture_K(geometry, place, case.options)
    air = flame.aeration * fuel.stoichiometric_air
    velocity = ports.velocity_at_gradient_m_per_s(
        gradient_per_s,
        geometry.port_width_m,
        flame.viscosity_m2_per_s,
        slot=geometry.slot_length_m is not None,
        depth_m=geometry.port_depth_m,
        own=case.options.own,
    )
    return ports.loading_at_velocity_W_per_mm2(
        velocity, fuel.heating_value_J_per_m3, air, port_K, pressure_Pa=place.ambient_pressure_Pa
    )
