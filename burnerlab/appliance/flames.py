"""Air and flame of every burner before and after a change of gas, and the shutter setting that serves both."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from burnerlab.appliance.conversion.evaluation_result import BurnerFlames, FlameAt, ShutterSetting, Which
from burnerlab.appliance.conversion.flame_stability import (
    TILE,
    BurnerStability,
    RatedState,
    burner_stability,
    gas_case,
)
from burnerlab.appliance.model import Appliance, Burner
from burnerlab.appliance.result import Finding, NotEvaluated
from burnerlab.burner.burner import BurnerFuel, burner_fuel
from burnerlab.burner.burning import burning_of
from burnerlab.burner.shutter_setting import Drilled, ShutterWindow, shutter_window
from burnerlab.burner.stability_diagram import StabilityDiagram, diagram_of
from burnerlab.burner.tile_evaluate import Band
from burnerlab.gas import DeclaredGas, Gas
from burnerlab.tables.evidence import Evidence
from burnerlab.tables.verdict import Verdict

AS_BUILT = ("port diameter", "port depth", "throat")  # checks that do not depend on the gas but by their rule
OF_THE_FLAME = ("lift", "light-back", "yellow tipping", "primary aeration", "port loading")
EDGE = 0.1  # of the openings that hold: a setting nearer to an end is near


@dataclass(frozen=True, slots=True, kw_only=True)
class BothGases:
    """The appliance before and after, with what burners must know of its gases; None for a declared gas."""

    before: Appliance
    after: Appliance
    fuels: tuple[BurnerFuel | None, BurnerFuel | None]

    @property
    def sides(self) -> tuple[tuple[Which, Appliance, BurnerFuel | None], ...]:
        return (("present", self.before, self.fuels[0]), ("new", self.after, self.fuels[1]))


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerFound:
    """One burner on both gases, with what it finds and what stays open."""

    flames: BurnerFlames | None
    stability: tuple[BurnerStability, BurnerStability]  # present, new
    diagram: StabilityDiagram | None
    findings: tuple[Finding, ...]
    open: tuple[NotEvaluated, ...]


def both_gases(before: Appliance, after: Appliance) -> BothGases:
    """An appliance and what a conversion makes of it, each gas looked at once."""
    first, second, own = before.supply.gas, after.supply.gas, before.tables.burner_coefficients
    fuel = None if isinstance(first, DeclaredGas) else _fuel(first, own)
    if second == first:
        return BothGases(before=before, after=after, fuels=(fuel, fuel))
    return BothGases(
        before=before,
        after=after,
        fuels=(fuel, None if isinstance(second, DeclaredGas) else _fuel(second, own)),
    )


def _fuel(gas: Gas, own: Path | None) -> BurnerFuel:
    """What burners ask of a gas, with its burning velocity where known and the user's own coefficients."""
    known = burning_of(gas)
    return burner_fuel(gas, known.burning, known.why_not, own)


def burner_found(both: BothGases, place: int) -> BurnerFound:
    """Primary air, ports, limits of the flame and shutter of one burner on both gases.

    place : of the burner in the file
    """
    burners = both.before.burners[place], both.after.burners[place]
    states = tuple(
        burner_stability(side, burner, fuel=fuel)
        for (_, side, fuel), burner in zip(both.sides, burners, strict=True)
    )
    shutter = _shutter(both, burners, states)
    rates = tuple(
        _flame(which, found.gas, rate)
        for (which, _, _), found in zip(both.sides, states, strict=True)
        for rate in found.rates
    )
    flames = None
    if rates:
        notes = dict.fromkeys(note for found in states for note in found.notes)
        flames = BurnerFlames(
            burner=burners[0].name, kind=burners[0].kind, rates=rates, shutter=shutter, notes=tuple(notes)
        )
    return BurnerFound(
        flames=flames,
        stability=(states[0], states[1]),
        diagram=_diagram(both, states),
        findings=tuple(_findings(states, shutter, burners[0].name)),
        open=tuple(_open(states)),
    )


def _diagram(both: BothGases, states: tuple[BurnerStability, ...]) -> StabilityDiagram | None:
    known = [
        (replace(found.case, title=f"{which} gas"), [rate.state for rate in found.rates])
        for (which, _, _), found in zip(both.sides, states, strict=True)
        if found.case is not None
    ]
    if not known:
        return None
    cases, rated = zip(*known, strict=True)
    return diagram_of(states[0].name, cases, both.before.tables.port_limits, rated)


def _flame(which: Which, gas: str, rate: RatedState) -> FlameAt:
    state = rate.state
    wall, cone = float(state.wall_gradient_per_s), float(state.inner_cone_height_m)
    return FlameAt(
        which_gas=which,
        gas=gas,
        rate=rate.label,
        gauge_pressure_Pa=rate.gauge_pressure_Pa,
        heat_input_gross_W=float(state.heat_input_gross_W),
        primary_aeration=_band(state.primary_aeration, state.primary_aeration_band),
        port_loading_W_per_mm2=float(state.port_loading_W_per_mm2),
        wall_gradient_per_s=None if np.isnan(wall) else wall,
        lift_margin=_band(state.lift_margin, state.lift_margin_band),
        light_back_margin=_band(state.light_back_margin, state.light_back_margin_band),
        light_back_is_at_least=bool(state.at.light_back_is_bound),
        yellow_tip_margin=_band(state.yellow_tip_margin, state.yellow_tip_margin_band),
        inner_cone_height_m=None if np.isnan(cone) else cone,
    )


def _band(value: np.ndarray, ends: np.ndarray) -> Band | None:
    """None where the value is not known."""
    if np.isnan(value):
        return None
    low, high = (float(end) for end in ends)
    return Band(value=float(value), low=low, high=high)


# the shutter


def _shutter(
    both: BothGases, burners: tuple[Burner, Burner], states: tuple[BurnerStability, ...]
) -> ShutterSetting | None:
    """Openings that hold the limits on the present gas with the present orifice and on the new one with the drill."""
    shutter, known = burners[0].shutter, [found.case for found in states if found.case is not None]
    if shutter is None or burners[0].kind.traits.is_radiant or len(known) < 2:
        return None
    cases = [
        gas_case(side, one, (_drilled(one),), case)
        for (_, side, _), one, case in zip(both.sides, burners, known, strict=True)
    ]
    window = shutter_window(known[0].geometry, cases, both.before.tables.port_limits)
    return _setting(window, shutter.opening)


def _drilled(burner: Burner) -> Drilled:
    orifice = burner.orifice
    return Drilled(name=orifice.drill or f"{1e3 * orifice.diameter_m:.3g} mm", diameter_m=orifice.diameter_m)


def _setting(window: ShutterWindow, opening: float) -> ShutterSetting:
    unknown = any(stretch.not_evaluated for stretch in window.stretches) or not window.stretches
    binding = dict.fromkeys(name for stretch in window.stretches for name in stretch.binding)
    is_ruled_out = window.low is None and bool(binding)  # by a limit that is known, whatever the others say
    holds = None if unknown else window.low is not None and window.low <= opening <= (window.high or 0.0)
    holds = False if is_ruled_out else holds
    return ShutterSetting(
        opening=opening,
        low=window.low,
        high=window.high,
        holds=holds,
        binding=tuple(binding),
        words=window.words,
    )


# what is found, and what stays open


def _findings(
    states: tuple[BurnerStability, ...], shutter: ShutterSetting | None, name: str
) -> Iterator[Finding]:
    sides: tuple[tuple[Which, BurnerStability], ...] = (("new", states[1]), ("present", states[0]))
    for which, found in sides:
        for finding in found.findings:
            if finding.topic in AS_BUILT:
                if which == "new":
                    yield finding
            elif which == "new" or finding.topic.split(" at ")[0] in OF_THE_FLAME:
                yield replace(finding, which_gas=which)
    if shutter is not None:
        yield _of_shutter(shutter, name)


def _of_shutter(shutter: ShutterSetting, name: str) -> Finding:
    opening, low, high = shutter.opening or 0.0, shutter.low, shutter.high
    verdict: Verdict = Verdict.OUTSIDE
    if shutter.holds is None:
        verdict = Verdict.NOT_EVALUATED
    elif shutter.holds and low is not None and high is not None:
        near = min(opening - low, high - opening) < EDGE * (high - low)
        verdict = Verdict.NEAR if near else Verdict.WITHIN
    return Finding(
        topic="air shutter",
        verdict=verdict,
        text=f"now {100 * opening:.0f} % open; {shutter.words}",
        burner=name,
        value=100 * opening,
        unit="%",
        low=None if low is None else 100 * low,
        high=None if high is None else 100 * high,
        evidence=Evidence.ESTIMATE,
    )


def _open(states: tuple[BurnerStability, ...]) -> Iterator[NotEvaluated]:
    """What neither gas tells, once; what only one does not tell, with its name. A tile's flame is told elsewhere."""
    by_gas = [{missing.topic: missing for missing in found.not_evaluated} for found in states]
    for which, here, there in zip(("present", "new"), by_gas, reversed(by_gas), strict=True):
        for topic, missing in here.items():
            same = topic in there and there[topic].why == missing.why
            if missing.why == TILE or (same and which == "new"):
                continue
            yield missing if same else replace(missing, topic=f"{topic}, {which} gas")
