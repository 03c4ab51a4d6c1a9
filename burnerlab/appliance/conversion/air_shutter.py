"""Openings of the air shutter of each burner after a change of gas, and those that serve the present gas too."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from burnerlab.appliance.conversion.evaluation_result import ShutterSetting
from burnerlab.appliance.conversion.flame_stability import BurnerStability, gas_case
from burnerlab.appliance.conversion.result import SHUTTER, Finding
from burnerlab.appliance.memory import REMEMBERED, InputKey, Same, file_key
from burnerlab.appliance.operation.supply_pressures import same_pressure
from burnerlab.appliance.project.model import Appliance, Burner
from burnerlab.burner.shutter_setting import (
    NO_OPENING,
    OrificeOption,
    ShutterWindow,
    Stretch,
    TriedGas,
    shutter_windows,
    stretches_of,
)
from burnerlab.orifice.drill import hole_name
from burnerlab.tables.figure import Evidence
from burnerlab.tables.verdict import Verdict

# The unit that is converted burns the new gas alone: its limits decide. A product of which one setting is to serve
# both gases finds the openings for both beside them.

EDGE = 0.1  # of the openings that hold: a setting nearer to an end is near
SETTING = 0.02  # of the opening, to which a shutter can be set: further from an end than this is not near


def shutter_settings(
    sides: tuple[Appliance, Appliance],
    pairs: Sequence[tuple[Burner, Burner]],
    states: Sequence[tuple[BurnerStability, BurnerStability]],
) -> list[ShutterSetting | None]:
    """Openings that hold the limits on the new gas with the drill, and those that hold on the present one too.

    sides : the appliance before and after
    pairs, states : of each burner on both gases; None for one without a shutter, that glows, or not evaluated
    """
    settings: list[ShutterSetting | None] = [None] * len(pairs)
    searches, openings = {}, {}
    for place, (burners, found) in enumerate(zip(pairs, states, strict=True)):
        shutter, new = burners[0].shutter, found[1].case
        if shutter is None or burners[0].kind.traits.is_radiant or new is None:
            continue
        cases = [
            gas_case(side, one, (_drilled(one),), state)
            for side, one, state in zip(sides, burners, found, strict=True)
            if state.case is not None
        ]
        geometry = (found[0].case or new).geometry  # its orifice is not used: one for every new gas
        searches[place], openings[place] = (geometry, cases), shutter.opening
    rules = sides[0].tables.port_limits
    together = shutter_windows(list(searches.values()), rules, _stretches_at)
    alone = shutter_windows([(at, cases[-1:]) for at, cases in searches.values()], rules, _stretches_at)
    for place, window, shared in zip(searches, alone, together, strict=True):
        settings[place] = _with_present(_setting(window, openings[place]), shared, sides)
    return settings


def _with_present(
    setting: ShutterSetting, shared: ShutterWindow, sides: tuple[Appliance, Appliance]
) -> ShutterSetting:
    """The setting with the openings that serve the present gas too, where that is another and evaluated."""
    here, there = (side.supply for side in sides)
    is_same = here.gas == there.gas and same_pressure(here.gauge_pressure_Pa, there.gauge_pressure_Pa)
    if is_same or len(shared.stretches) < len(sides):
        return setting
    ends = None if shared.low is None or shared.high is None else (shared.low, shared.high)
    return replace(setting, with_present=ends, is_present_evaluated=True)


def _stretches_at(tried: Sequence[TriedGas], own_rules: Path | None) -> list[tuple[Stretch, ...]]:
    """The stretches of burners on gases, each remembered by itself: often one gas moves alone."""
    rules = file_key(own_rules)
    keys = [
        InputKey(
            stretches_of,
            rules,
            geometry,
            case.title,
            Same(case.fuel),
            case.orifices,
            (case.gauge_pressure_Pa, case.low_gauge_pressure_Pa, case.high_gauge_pressure_Pa),
            (case.turndown, case.hot_shares),
            (case.surroundings, case.options, file_key(case.options.own)),
        )
        for geometry, case in tried
    ]
    return REMEMBERED.recall_each(keys, lambda places: stretches_of([tried[k] for k in places], own_rules))


def _drilled(burner: Burner) -> OrificeOption:
    orifice = burner.orifice
    return OrificeOption(name=hole_name(orifice.drill, orifice.diameter_m), diameter_m=orifice.diameter_m)


def _setting(window: ShutterWindow, opening: float) -> ShutterSetting:
    unknown = any(stretch.not_evaluated for stretch in window.stretches) or not window.stretches
    binding = dict.fromkeys(name for stretch in window.stretches for name in stretch.binding)
    is_ruled_out = window.low is None and bool(binding)  # by a limit that is known, whatever the others say
    is_inside = window.low is not None and window.low <= opening <= (window.high or 0.0)
    holds = None if unknown or (is_inside and not window.is_evaluated_at(opening)) else is_inside
    holds = False if is_ruled_out else holds
    return ShutterSetting(
        opening=opening,
        low=window.low,
        high=window.high,
        holds=holds,
        binding=tuple(binding),
        words=window.words,
    )


def shutter_of_couple(own: ShutterSetting, other: ShutterSetting | None) -> ShutterSetting:
    """One opening serves both gases of a couple: what both ranges share, or none."""
    if other is None:
        return replace(
            own, low=None, high=None, holds=False if own.holds is False else None,
            words=f"the other gas of the couple is not evaluated; {own.words}",
            with_present=None, is_present_evaluated=False,
        )  # fmt: skip
    low = high = None
    if own.low is not None and other.low is not None and own.high is not None and other.high is not None:
        low, high = max(own.low, other.low), min(own.high, other.high)
        low, high = (low, high) if low <= high else (None, None)
    # why, each gas once; no range of one gas alone beside that
    parts = dict.fromkeys(part for one in (own, other) if one.low is None for part in one.words.split("; "))
    parts.pop(NO_OPENING, None)
    words = "; ".join(("no one opening of the shutter serves both gases of the couple", *parts))
    if low is not None and high is not None:
        words = (
            f"shutter {100 * low:.3g} to {100 * high:.3g} % open serves both gases of the couple (estimate)"
        )
        open_ones = dict.fromkeys(one.words.partition("; not evaluated: ")[2] for one in (own, other))
        words = "; not evaluated: ".join((words, *filter(None, open_ones)))
    holds = None if None in (own.holds, other.holds) else own.holds and other.holds
    with_present = None
    if own.with_present is not None and other.with_present is not None:
        ends = zip(own.with_present, other.with_present, strict=True)
        least, most = (pick(pair) for pick, pair in zip((max, min), ends, strict=True))
        with_present = (least, most) if least <= most else None
    return replace(
        own,
        with_present=with_present,
        is_present_evaluated=own.is_present_evaluated and other.is_present_evaluated,
        low=low,
        high=high,
        holds=False if False in (own.holds, other.holds) else holds,
        binding=tuple(dict.fromkeys((*own.binding, *other.binding))),
        words=words,
    )


def shutter_finding(shutter: ShutterSetting, name: str) -> Finding:
    """Where the opening of the file lies among those that hold; what serves the present gas too stands in its text."""
    opening, low, high = shutter.opening or 0.0, shutter.low, shutter.high
    words = "; ".join(filter(None, (shutter.words, shutter.present_too)))
    verdict: Verdict = Verdict.OUTSIDE
    if shutter.holds is None:
        verdict = Verdict.NOT_EVALUATED
    elif shutter.holds and low is not None and high is not None:
        near = min(opening - low, high - opening) < min(EDGE * (high - low), SETTING)
        verdict = Verdict.NEAR if near else Verdict.WITHIN
    return Finding(
        topic=SHUTTER,
        verdict=verdict,
        text=f"now {100 * opening:.0f} % open; {words}",
        burner=name,
        value=100 * opening,
        unit="%",
        low=None if low is None else 100 * low,
        high=None if high is None else 100 * high,
        evidence=Evidence.ESTIMATE,
    )
