"""Supply and orifices solved together: a trunk, a manifold, valves and orifices at its taps.

Shooting from the far end: a pressure there gives the flow of the last burner, that flow the pressure one tap
upstream, and so to the inlet of the manifold, whose pressure rises with the one assumed. What the trunk delivers falls
with the flow, so there is one root, bracketed by no flow and no loss. Arrays have one entry per case, so that many
cases (burners on, pressures) are solved at once.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from typing import Any, NamedTuple, Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from burnerlab.appliance.conversion.gas_facts import GasStates
from burnerlab.appliance.project.model import Appliance
from burnerlab.appliance.project.supply_train import Run, Train
from burnerlab.burner.coefficients import Array, Numbers, array
from burnerlab.orifice.nozzle import flow_function_squared
from burnerlab.supply.pipe import expanding_drop_Pa, pressure_drop_Pa
from burnerlab.supply.regulator import Regulator, outlet_pressure_Pa
from burnerlab.supply.root_search import rising_root

# The supply and the orifices solved together: a trunk, a manifold, and a valve and orifice at each tap of
# it.

Flags = NDArray[np.bool_]
T = TypeVar("T", "Stream", "Tap")

MOST_SWEEPS = 60  # of the pressure between valve and orifice; two or three are usual
SETTLED = 1e-11  # relative change of that pressure, about 1e-6 Pa
ROOT_SHARE = 1e-11  # of the bracket
LEAST_RISE_Pa = 1e-3  # gauge pressure below which a burner counts as without supply


class DenseGas(Protocol):
    """A gas with a density and an isentropic exponent at a state."""

    def density_kg_per_m3(self, temperature_K: float, absolute_pressure_Pa: float) -> Any: ...
    def isentropic_exponent(self, temperature_K: float, absolute_pressure_Pa: float) -> Any: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Stream:
    """A gas at one temperature, cheap to ask at many pressures: p = c rho (1 + b rho) through two of its states.

    Each field a float, or an array over cases of several gases.
    """

    ambient_pressure_Pa: Numbers
    viscosity_Pa_s: Numbers
    linear: Numbers  # c
    quadratic: Numbers  # c b
    exponent: Numbers  # at ambient pressure
    exponent_slope_per_Pa: Numbers

    def density_kg_per_m3(self, pressure_Pa: Array) -> Array:
        """At an absolute pressure [kg/m3]."""
        root = np.sqrt(self.linear * self.linear + 4.0 * self.quadratic * pressure_Pa)
        return 2.0 * pressure_Pa / (self.linear + root)

    def exponent_at(self, pressure_Pa: Array) -> Array:
        exponent: Array = self.exponent + self.exponent_slope_per_Pa * (
            pressure_Pa - self.ambient_pressure_Pa
        )
        return exponent


def stream(
    gas: DenseGas,
    temperature_K: float,
    ambient_pressure_Pa: float,
    top_pressure_Pa: float,
    viscosity_Pa_s: float,
) -> Stream:
    """The gas between ambient and the highest absolute pressure of a network.

    Exact for a virial equation of two terms and for an ideal gas, which are the two that gases here have.
    """
    low, high = ambient_pressure_Pa, max(top_pressure_Pa, 1.001 * ambient_pressure_Pa)
    rho1, rho2 = (float(gas.density_kg_per_m3(temperature_K, p)) for p in (low, high))
    k1, k2 = (float(gas.isentropic_exponent(temperature_K, p)) for p in (low, high))
    quadratic = (high / rho2 - low / rho1) / (rho2 - rho1)
    return Stream(
        ambient_pressure_Pa=ambient_pressure_Pa,
        viscosity_Pa_s=viscosity_Pa_s,
        linear=low / rho1 - quadratic * rho1,
        quadratic=quadratic,
        exponent=k1,
        exponent_slope_per_Pa=(k2 - k1) / (high - low),
    )


def _first(figure: Numbers) -> float:
    """Of the first case."""
    return float(figure.flat[0]) if isinstance(figure, np.ndarray) else figure


@dataclass(frozen=True, slots=True, kw_only=True)
class Tap:
    """Equal burners that branch off at one point of the manifold; each field a number, or an array over the cases."""

    orifice_area_m2: Numbers  # discharge coefficient times area, of all orifices of one burner
    valve_area_m2: Numbers = np.inf  # effective area, infinite without a valve
    count: Numbers = 1
    length_m: Numbers = 0.0  # of the manifold before this tap
    diameter_m: Numbers = 1.0
    roughness_m: Numbers = 0.0

    @property
    def pattern(self) -> tuple[bool, bool]:
        """Whether a valve and a length of manifold stand before it; the same in all cases."""
        return math.isfinite(_first(self.valve_area_m2)), _first(self.length_m) > 0.0


class Network(NamedTuple):
    """A gas and the taps it flows to."""

    stream: Stream
    taps: tuple[Tap, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """Pressures are absolute, one row per case; flows are those of one burner of a tap."""

    trunk_flow_kg_per_s: Array  # [case]
    manifold_pressure_Pa: Array  # [case]
    tap_pressure_Pa: Array  # [case, tap]
    orifice_pressure_Pa: Array  # [case, tap]
    flow_kg_per_s: Array  # [case, tap]
    starved: Flags  # [case]: the trunk delivers nothing

    def part(self, cases: slice) -> Solution:
        """Some of the cases."""
        return Solution(**{f.name: getattr(self, f.name)[cases] for f in fields(self)})


def jet_kg_per_s(stream: Stream, area_m2: Numbers, pressure_Pa: Array) -> Array:
    """Flow of an orifice from an absolute pressure: m = Cd A psi sqrt(2 rho p) [kg/s]."""
    flow: Array = area_m2 * np.sqrt(_jet_flux_squared(stream, pressure_Pa))
    return flow


def _jet_flux_squared(stream: Stream, pressure_Pa: Array) -> Array:
    """Square of the flow of an orifice by its effective area, 2 psi^2 rho p [kg2/(m4 s2)]."""
    drop = np.maximum(1.0 - stream.ambient_pressure_Pa / pressure_Pa, 0.0)
    psi2 = flow_function_squared(drop, stream.exponent_at(pressure_Pa))
    flux: Array = 2.0 * psi2 * stream.density_kg_per_m3(pressure_Pa) * pressure_Pa
    return flux


def behind_valve_Pa(stream: Stream, tap: Tap, pressure_Pa: Array) -> tuple[Array, Array]:
    """Absolute pressure between valve and orifice, from that before the valve, and the flow there [kg/s].

    The share s of p^2 - p_amb^2 that the orifice takes hardly changes with the pressure, so that
    p_o^2 = p_amb^2 + s(p_o)(p^2 - p_amb^2) settles in a few sweeps.
    """
    if not tap.pattern[0]:
        return pressure_Pa, jet_kg_per_s(stream, tap.orifice_area_m2, pressure_Pa)
    ambient2 = np.square(stream.ambient_pressure_Pa)
    whole = np.maximum(pressure_Pa * pressure_Pa - ambient2, 0.0)
    areas2 = np.square(tap.orifice_area_m2 / array(tap.valve_area_m2))
    per_flux2 = areas2 * pressure_Pa / stream.density_kg_per_m3(pressure_Pa)
    behind = np.sqrt(ambient2 + whole / (1.0 + areas2))  # as a liquid would
    result, carried, is_done = behind, np.zeros_like(behind), np.zeros(behind.shape, dtype=bool)
    step = np.zeros_like(behind)
    for _ in range(MOST_SWEEPS):
        flux2 = _jet_flux_squared(stream, behind)
        kept = np.maximum(behind * behind - ambient2, 0.0)
        total = kept + per_flux2 * flux2
        moved = np.divide(whole, total, out=np.ones_like(total), where=total > 0.0)
        new = np.sqrt(ambient2 + kept * moved)
        # the flow of this sweep, carried on to its pressure: it goes with the root of p_o^2 - p_amb^2
        result, carried = np.where(is_done, result, new), np.where(is_done, carried, flux2 * moved)
        # steps shrink by one ratio, which foretells the next: a case ends by itself where that is too small
        step, before = np.abs(new - behind), step
        is_done = is_done | (step * step <= SETTLED * new * before)
        if is_done.all():
            break
        behind = new
    return result, tap.orifice_area_m2 * np.sqrt(carried)


def _upstream_Pa(stream: Stream, tap: Tap, pressure_Pa: Array, flow_kg_per_s: Array) -> Array:
    """Absolute pressure before a length of manifold, from that behind it: p1^2 = p2^2 + 2 p2 dp0(rho2)."""
    if not tap.pattern[1]:
        return pressure_Pa
    lost = pressure_drop_Pa(
        flow_kg_per_s, tap.length_m, tap.diameter_m, tap.roughness_m,
        stream.density_kg_per_m3(pressure_Pa), stream.viscosity_Pa_s,
    )  # fmt: skip
    before: Array = np.sqrt(pressure_Pa * pressure_Pa + 2.0 * pressure_Pa * lost)
    return before


def march(stream: Stream, taps: tuple[Tap, ...], on: Flags, end_pressure_Pa: Array) -> Solution:
    """Everything downstream of the trunk, from the absolute pressure at the last tap.

    on : [case, tap], whether the burners of a tap burn; end_pressure_Pa : [case]
    """
    pressure, total = end_pressure_Pa, np.zeros_like(end_pressure_Pa)
    at_tap, behind, flows = (np.empty(on.shape) for _ in range(3))
    for j in reversed(range(len(taps))):
        at_tap[:, j] = pressure
        after_valve, flow = behind_valve_Pa(stream, taps[j], pressure)
        flows[:, j] = np.where(on[:, j], flow, 0.0)
        behind[:, j] = np.where(on[:, j], after_valve, pressure)
        total = total + taps[j].count * flows[:, j]
        pressure = _upstream_Pa(stream, taps[j], pressure, total)
    return Solution(
        trunk_flow_kg_per_s=total,
        manifold_pressure_Pa=pressure,
        tap_pressure_Pa=at_tap,
        orifice_pressure_Pa=behind,
        flow_kg_per_s=flows,
        starved=np.zeros(on.shape[0], dtype=np.bool_),
    )


def solve(
    stream: Stream,
    taps: tuple[Tap, ...],
    on: Flags,
    delivered_Pa: Callable[[Array], Array],
    highest_Pa: Array,
) -> Solution:
    """Pressures and flows of a trunk with its burners, for many cases at once.

    on : [case, tap]; delivered_Pa : absolute pressure the trunk gives at a total flow [kg/s], never rising
    highest_Pa : [case], absolute, what it gives at no flow [Pa]
    Returns a Solution; a case whose trunk gives no pressure above ambient is starved.
    """
    floor = stream.ambient_pressure_Pa + LEAST_RISE_Pa

    marched: list[Solution] = []

    def excess(end_pressure_Pa: Array) -> Array:
        found = march(stream, taps, on, end_pressure_Pa)
        marched[:] = [found]
        return found.manifold_pressure_Pa - delivered_Pa(found.trunk_flow_kg_per_s)

    low = np.full(on.shape[0], floor)
    root = rising_root(excess, low, np.maximum(highest_Pa, floor + LEAST_RISE_Pa), ROOT_SHARE)
    found = marched[-1]  # at the root, or nearer to it than its tolerance
    starved: Flags = root.at_low
    return Solution(
        trunk_flow_kg_per_s=np.where(starved, 0.0, found.trunk_flow_kg_per_s),
        manifold_pressure_Pa=found.manifold_pressure_Pa,
        tap_pressure_Pa=found.tap_pressure_Pa,
        orifice_pressure_Pa=found.orifice_pressure_Pa,
        flow_kg_per_s=np.where(starved[:, None], 0.0, found.flow_kg_per_s),
        starved=starved,
    )


def joined(streams: Sequence[Stream], networks: Sequence[tuple[Tap, ...]], cases: Sequence[int]) -> Network:
    """Networks whose taps have the same pattern as one, each field an array over their cases.

    cases : so many of each network
    """

    def over_cases(kind: type[T], each: Sequence[T]) -> T:
        columns: dict[str, Any] = {
            f.name: np.repeat(np.array([getattr(one, f.name) for one in each], dtype=np.float64), cases)
            for f in fields(kind)
        }
        return kind(**columns)

    taps = tuple(over_cases(Tap, each) for each in zip(*networks, strict=True))
    return Network(stream=over_cases(Stream, streams), taps=taps)


# An appliance ready to be solved: the pressures along the trunk to its manifold at any flow.


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """An appliance ready to be solved: its gas, taps and trunk, the figures scaled to its pressure and gas."""

    appliance: Appliance
    gas: GasStates
    stream: Stream
    taps: tuple[Tap, ...]
    coefficients: tuple[float, ...]
    regulator: Regulator | None
    runs: tuple[Run, ...]
    inlet_gauge_Pa: float | None
    notes: tuple[str, ...]

    @property
    def ambient_Pa(self) -> float:
        return self.appliance.supply.ambient_pressure_Pa

    @property
    def nominal_Pa(self) -> float:
        """Gauge [Pa]."""
        return self.appliance.supply.gauge_pressure_Pa

    @property
    def train(self) -> Train | None:
        return self.appliance.supply.train

    def run_outlet_Pa(self, run: Run, flow_kg_per_s: Array, inlet_Pa: Array) -> Array:
        """Absolute pressure behind a hose or pipe, at least zero."""
        pipe, inlet = run.pipe, np.maximum(inlet_Pa, 1.0)
        constant = pressure_drop_Pa(
            flow_kg_per_s, pipe.length_m, pipe.diameter_m, pipe.roughness_m,
            self.stream.density_kg_per_m3(inlet), self.stream.viscosity_Pa_s, pipe.loss_coefficient,
        )  # fmt: skip
        outlet: Array = inlet - expanding_drop_Pa(constant, inlet)
        return outlet

    def trunk_Pa(self, flow_kg_per_s: Array) -> list[Array]:
        """Absolute pressures along the trunk at a total flow: where it begins, and behind each element."""
        first = self.regulator is not None and not self.regulator_is_last
        inlet = self.inlet_gauge_Pa
        if first:
            along = [self._regulated(flow_kg_per_s, None if inlet is None else np.asarray(inlet))]
        else:
            start = self.nominal_Pa if inlet is None else inlet
            along = [np.full_like(flow_kg_per_s, start + self.ambient_Pa)]
        for run in self.runs:
            along.append(self.run_outlet_Pa(run, flow_kg_per_s, along[-1]))
        if self.regulator is not None and not first:
            along.append(self._regulated(flow_kg_per_s, along[-1] - self.ambient_Pa))
        return along

    @property
    def regulator_is_last(self) -> bool:
        train = self.train
        return train is not None and train.regulator is not None and train.regulator.last

    def _regulated(self, flow_kg_per_s: Array, inlet_gauge_Pa: Array | None) -> Array:
        assert self.regulator is not None
        gauge = outlet_pressure_Pa(self.regulator, flow_kg_per_s, inlet_gauge_Pa, self.ambient_Pa)
        absolute: Array = gauge + self.ambient_Pa
        return absolute
