"""What the figures of a tile mean: light-back, lift, firing, and whether they are plausible at all."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from burnerlab.burner.checks import BurnerFinding
from burnerlab.burner.ports import quenching_width_m
from burnerlab.gas.combustion_air import composition_of
from burnerlab.tables import Figure, figure, figures
from burnerlab.tables.evidence import Evidence
from burnerlab.tables.verdict import Verdict

LIMITS_TABLE = "tile_properties"
ZERO_C_K = 273.15  # definition of the Celsius scale
IGNITION = "ignition "


@dataclass(frozen=True, slots=True, kw_only=True)
class TileFacts:
    """What the findings look at; triples are low, expected, high."""

    gas: Any
    aeration: float
    density_W_per_m2: float  # net
    face_K: tuple[float, float, float]
    plenum_side_K: tuple[float, float, float]
    efficiency: tuple[float, float, float]
    gas_above_face_K: float
    lift_margin: float | None
    burning_velocity_m_per_s: float | None
    diffusivity_m2_per_s: float
    channel_diameter_m: float | None


def _celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8


def _band_verdict(low: float, value: float, high: float, limits: tuple[float, float]) -> Verdict:
    """Outside when the expected value is, near when only an end of its band is."""
    if not limits[0] <= value <= limits[1]:
        return Verdict.OUTSIDE
    return Verdict.WITHIN if limits[0] <= low and high <= limits[1] else Verdict.NEAR


def _firing(facts: TileFacts, own: Path | None) -> BurnerFinding:
    usual, value = figure(LIMITS_TABLE, "firing density", own), facts.density_W_per_m2 / 1e3
    low, high = usual.low, usual.high
    if value < low:
        verdict: Verdict = Verdict.NEAR if value >= low / 2.0 else Verdict.OUTSIDE
        text = "below the usual firing: the flame sinks into the channels and the face glows unevenly; test light-back"
    elif value > high:
        verdict = Verdict.NEAR if value <= 1.5 * high else Verdict.OUTSIDE
        text = "above the usual firing: the flame stands off the face and radiates less; test lift and carbon monoxide"
    else:
        verdict, text = Verdict.WITHIN, "within the usual firing of ceramic tiles"
    return BurnerFinding(
        topic="firing density",
        verdict=verdict,
        text=f"{value:.0f} kW/m2 net is {text}",
        value=value,
        unit="kW/m2",
        low=low,
        high=high,
        source=usual.cite(),
        evidence=usual.evidence,
    )


def _aeration(facts: TileFacts, own: Path | None) -> BurnerFinding:
    usual, value = figure(LIMITS_TABLE, "aeration", own), facts.aeration
    within = usual.low <= value <= usual.high
    verdict: Verdict = Verdict.WITHIN if within else Verdict.OUTSIDE if value < 1.0 else Verdict.NEAR
    text = f"{100 * value:.0f} % of the stoichiometric air before the flame"
    if value < 1.0:
        text += ": the rest must come from outside, which a glowing face gives badly; carbon monoxide to be measured"
    return BurnerFinding(
        topic="aeration",
        verdict=verdict,
        text=text,
        value=value,
        unit="-",
        low=usual.low,
        high=usual.high,
        source=usual.cite(),
    )


def _lift(facts: TileFacts, own: Path | None) -> BurnerFinding:
    limit, margin = figure(LIMITS_TABLE, "lift margin", own), facts.lift_margin
    if margin is None:
        text = "the table of flames ends before this flame leaves the face: far from lift"
        return BurnerFinding(
            topic="lift", verdict=Verdict.WITHIN, text=text, low=limit.low, source=limit.cite()
        )
    verdict: Verdict = (
        Verdict.OUTSIDE if margin < limit.low else Verdict.NEAR if margin < limit.high else Verdict.WITHIN
    )
    text = f"the flame would leave the face at {margin:.2f} times this mass flux"
    return BurnerFinding(
        topic="lift", verdict=verdict, text=text, value=margin, unit="-", low=limit.low, source=limit.cite()
    )


def _channel(facts: TileFacts, own: Path | None) -> BurnerFinding:
    hot, topic = figure(LIMITS_TABLE, "hot channel", own), "light-back, channel"
    if facts.channel_diameter_m is None or facts.burning_velocity_m_per_s is None:
        missing = (
            "the channel diameter"
            if facts.channel_diameter_m is None
            else "a burning velocity of this mixture"
        )
        return BurnerFinding(topic=topic, verdict=Verdict.NOT_EVALUATED, text=f"needs {missing}")
    cold = float(quenching_width_m(facts.diffusivity_m2_per_s, facts.burning_velocity_m_per_s))
    width = facts.channel_diameter_m
    verdict: Verdict = (
        Verdict.WITHIN
        if width <= hot.low * cold
        else Verdict.NEAR
        if width <= hot.value * cold
        else Verdict.OUTSIDE
    )
    text = (
        f"channels of {1e3 * width:.2f} mm against {1e3 * cold:.2f} mm that stop this flame in a cold tube, "
        f"{1e3 * hot.low * cold:.2f} to {1e3 * hot.value * cold:.2f} mm allowed for a hot one; a crack or a leaking "
        "edge lets the flame through whatever the channels are"
    )
    return BurnerFinding(
        topic=topic,
        verdict=verdict,
        text=text,
        value=1e3 * width,
        unit="mm",
        high=1e3 * hot.value * cold,
        source=hot.cite(),
    )


def _ignition(gas: Any, own: Path | None) -> tuple[str, Figure] | None:
    """The component of the gas that ignites first, of those whose figure is known."""
    known = figures(LIMITS_TABLE, own)
    names, x = composition_of(gas)
    found = [
        (name, known[IGNITION + name])
        for name, share in zip(names, x, strict=True)
        if share > 0.01 and IGNITION + name in known
    ]
    return min(found, key=lambda item: item[1].low) if found else None


def _plenum(facts: TileFacts, own: Path | None) -> BurnerFinding:
    topic, first = "light-back, plenum side", _ignition(facts.gas, own)
    if first is None:
        return BurnerFinding(
            topic=topic, verdict=Verdict.NOT_EVALUATED, text="no ignition temperature is known for this gas"
        )
    low, value, high = (T - ZERO_C_K for T in facts.plenum_side_K)
    limit = first[1].low
    text = (
        f"the plenum side of the tile comes to about {value:.0f} C ({low:.0f} to {high:.0f} C) against "
        f"{limit:.0f} C at which {first[0]} ignites; it is hottest at low fire"
    )
    return BurnerFinding(
        topic=topic,
        verdict=Verdict.OUTSIDE if value >= limit else Verdict.NEAR if high >= limit else Verdict.WITHIN,
        text=text,
        value=value,
        unit="°C",
        high=limit,
        source=first[1].cite(),
    )


def _face(facts: TileFacts, own: Path | None) -> BurnerFinding:
    mark, grill = (
        figure(LIMITS_TABLE, "high-intensity face", own),
        figure(LIMITS_TABLE, "grill tile face", own),
    )
    low, value, high = (T - ZERO_C_K for T in facts.face_K)
    top, glow = _celsius(mark.high), _celsius(grill.low)
    text = (
        f"{value:.0f} C ({low:.0f} to {high:.0f} C); the trade speaks of up to {mark.high:.0f} F ({top:.0f} C) on a "
        f"high-intensity face and more than {grill.low:.0f} F ({glow:.0f} C) on a grill tile (common practice)"
    )
    return BurnerFinding(
        topic="face temperature, plausibility",
        verdict=_band_verdict(low, value, high, (glow, top)),
        text=text,
        value=value,
        unit="°C",
        low=glow,
        high=top,
        source=mark.cite(),
    )


def _efficiency(facts: TileFacts, own: Path | None) -> BurnerFinding:
    mark, (low, value, high) = figure(LIMITS_TABLE, "radiant efficiency", own), facts.efficiency
    text = (
        f"{100 * value:.0f} % of the net input ({100 * low:.0f} to {100 * high:.0f} %); published faces lie from about "
        f"{100 * mark.low:.0f} to {100 * mark.high:.0f} %"
    )
    return BurnerFinding(
        topic="radiant efficiency, plausibility",
        verdict=_band_verdict(low, value, high, (mark.low, mark.high)),
        text=text,
        value=value,
        unit="-",
        low=mark.low,
        high=mark.high,
        source=mark.cite(),
    )


def _ceiling(facts: TileFacts, own: Path | None) -> BurnerFinding:
    gap = facts.gas_above_face_K
    verdict: Verdict = Verdict.WITHIN if gap > 0.0 else Verdict.NEAR
    text = (
        f"the gas leaves {gap:.0f} K hotter than the face"
        if gap > 0.0
        else "the face is as hot as the gas that leaves it: it cannot become hotter at this firing"
    )
    return BurnerFinding(
        topic="thermodynamic ceiling",
        verdict=verdict,
        text=text,
        value=gap,
        unit="K",
        low=0.0,
        source="balance of enthalpy",
    )


CHECKS: tuple[Callable[[TileFacts, Path | None], BurnerFinding], ...] = (
    _firing,
    _aeration,
    _lift,
    _channel,
    _plenum,
    _face,
    _efficiency,
    _ceiling,
)


def findings(facts: TileFacts, own: Path | None = None) -> tuple[BurnerFinding, ...]:
    """Every finding on a tile, in the order a person asks; ``own`` is a CSV of the columns of ``tile_properties``.

    The balance of the face is a model of ours: what follows from it is an estimate.
    """
    return tuple(_with_evidence(check(facts, own)) for check in CHECKS)


def _with_evidence(found: BurnerFinding) -> BurnerFinding:
    has_its_own = found.verdict == Verdict.NOT_EVALUATED or found.evidence
    return found if has_its_own else replace(found, evidence=Evidence.ESTIMATE)
