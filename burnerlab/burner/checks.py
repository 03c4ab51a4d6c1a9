"""What a burner evaluation finds: each check with its value, its range, a verdict and what it rests on."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Literal

import numpy as np

from burnerlab import tables
from burnerlab.burner.burner import mixture_temperatures
from burnerlab.burner.coefficients import coefficients
from burnerlab.burner.ports import WallGradient, primary_mixture
from burnerlab.burner.primary_air import NO_THROAT, tube_reynolds
from burnerlab.burner.stability import MEASURED, Limit
from burnerlab.burner.state import BurnerState
from burnerlab.flame.extinction import lift_fuel_factor
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.quantity.quantity_text import millimetre, quantity_text, quoted
from burnerlab.quantity.show import grouped, number
from burnerlab.tables.figure import Evidence, Figure, evidence_of, weakest
from burnerlab.tables.handbook_link import TILE, handbook_of
from burnerlab.tables.problem import UserError
from burnerlab.tables.verdict import Verdict

TABLE = "port_limits"
PROVENANCE_WORDS = {"memory": ", recalled", "measured here": ", measured here"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A design rule; beyond low or high is outside, beyond near_low or near_high is near."""

    name: str
    group: str  # of gases, or any
    low: float | None
    high: float | None
    near_low: float | None
    near_high: float | None
    unit: str
    source: str
    provenance: str

    def cite(self) -> str:
        return tables.cite(self.source) + PROVENANCE_WORDS.get(self.provenance, "")

    def verdict(self, value: float, worst: float | None = None, best: float | None = None) -> Verdict:
        """Of a value; near also when the least or the greatest it may be lies outside. nan is not evaluated."""
        if np.isnan(value):
            return Verdict.NOT_EVALUATED
        if self._beyond(value, self.low, self.high):
            return Verdict.OUTSIDE
        ends = [end for end in (worst, best) if end is not None]
        near = self._beyond(value, self.near_low, self.near_high)
        return (
            Verdict.NEAR
            if near or any(self._beyond(end, self.low, self.high) for end in ends)
            else Verdict.WITHIN
        )

    @staticmethod
    def _beyond(value: float, low: float | None, high: float | None) -> bool:
        return (low is not None and value < low) or (high is not None and value > high)


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerFinding:
    """One check of a burner."""

    topic: str = field(metadata=output("check"))
    verdict: Verdict = field(metadata=output("verdict"))
    text: str = field(metadata=output("finding"))
    value: float | None = field(default=None, metadata=output("value"))
    unit: str = field(default="", metadata=output("unit"))
    low: float | None = field(default=None, metadata=output("low end of the range"))
    high: float | None = field(default=None, metadata=output("high end of the range"))
    source: str = field(default="", metadata=output("range from"))
    evidence: Evidence | Literal[""] = field(default="", metadata=output("evidence"))
    # the ends of the value's own interval, where it states one
    value_low: float | None = field(default=None, metadata=output("low end of the value"))
    value_high: float | None = field(default=None, metadata=output("high end of the value"))
    of_tile: bool = False  # whether a tile has the check by a model of its own

    @property
    @computed_output("explained in the handbook")
    def handbook(self) -> str:
        """Page and heading of the handbook that explain the check."""
        return handbook_of(f"{TILE}{self.topic}" if self.of_tile else self.topic)


@tables.cache_by_file
def rules(own: Path | None = None) -> tuple[Rule, ...]:
    """The design rules; rows of ``own``, a CSV file of the same columns, stand in for ours of the same name and group.

    Raises UserError for a table that cannot be read.

    >>> rule_for("light-back margin", "natural gas").low
    1.5
    """
    return tuple(map(_rule, tables.read(TABLE, own)))


def _rule(row: tables.Row) -> Rule:
    def number(column: str) -> float | None:
        return row.number(column) if row[column] else None

    return Rule(
        name=row["name"],
        group=row["group"],
        low=number("low"),
        high=number("high"),
        near_low=number("near_low"),
        near_high=number("near_high"),
        unit=row["unit"],
        source=row["source"],
        provenance=row["provenance"],
    )


def rule_for(name: str, group: str, own: Path | None = None) -> Rule | None:
    """The rule of that name for a group of gases, else for any; None where there is none."""
    found = _by_name(own).get(name, {})
    return found.get(group) or found.get("any")


@tables.cache_by_file
def _by_name(own: Path | None = None) -> dict[str, dict[str, Rule]]:
    """The rules by name and group."""
    found: dict[str, dict[str, Rule]] = {}
    for rule in rules(own):
        found.setdefault(rule.name, {})[rule.group] = rule
    return found


def burner_checks(state: BurnerState, own_rules: Path | None = None) -> tuple[BurnerFinding, ...]:
    """Every check of one burner at one rate, the flame's limits first."""
    if np.ndim(state.port_loading_W_per_mm2 + state.primary_aeration) != 0:
        raise ValueError("one burner at a time")
    return (*flame_checks(state, own_rules), *_design_checks(state, own_rules), *_model_checks(state))


def _check(
    topic: str, state: BurnerState, value: float, text: str, own: Path | None, **details: Any
) -> Iterator[BurnerFinding]:
    """A finding against the rule of that name; none where no rule speaks of this gas.

    Unless told, its evidence is that of the rule: what is held against it follows from the file.
    """
    rule = rule_for(details.pop("rule", topic), state.fuel.group, own)
    if rule is None:
        return
    worst, best = details.pop("band", (None, None))
    ends = known_ends(worst, best)
    verdict = rule.verdict(value, worst, best)
    yield BurnerFinding(
        topic=topic,
        verdict=verdict,
        text=text,
        value=None if np.isnan(value) else value,
        value_low=ends[0],
        value_high=ends[1],
        unit=rule.unit,
        low=rule.low,
        high=rule.high,
        source=details.pop("source", rule.cite()),
        evidence=""
        if verdict == Verdict.NOT_EVALUATED
        else details.pop("evidence", evidence_of(rule.provenance)),
        **details,
    )


def known_ends(low: float | None, high: float | None) -> tuple[float | None, float | None]:
    """Ends of the interval of a value; neither where one of them is not known or has no bound.

    >>> known_ends(0.17, 5.0), known_ends(0.17, math.inf)
    ((0.17, 5.0), (None, None))
    """
    is_known = low is not None and high is not None and math.isfinite(low) and math.isfinite(high)
    return (low, high) if is_known else (None, None)


def _missing(topic: str, why: str) -> BurnerFinding:
    return BurnerFinding(topic=topic, verdict=Verdict.NOT_EVALUATED, text=why)


BEYOND = "the table of burning velocities does not reach this mixture at the temperature of the ports"


def _why_no_flame(state: BurnerState) -> str:
    """Why a limit of the flame is not told, or nothing."""
    least = coefficients(state.options.own)["least premixed aeration"].value
    is_raw = bool(float(state.primary_aeration) < least)
    raw = f"less than {100 * least:.0f} % primary air: the limits are of premixed flames"
    return state.air.why_not or state.fuel.no_burning or (raw if is_raw else "")


def _cited(limit: Limit) -> str:
    titles = dict.fromkeys(tables.cite(key) for key in limit.sources)
    return "; ".join(titles) + PROVENANCE_WORDS.get(limit.provenance, "")


def _why_no_lift(state: BurnerState) -> str:
    """Why lift is withheld, or nothing."""
    if not bool(state.lift_is_withheld):
        return ""
    least = coefficients(state.options.own)["least lift aeration"].value
    why = "yellow tips come first" if state.fuel.yellow_tip.limit is not None else "lift is far then"
    return f"less than {100 * least:.0f} % primary air: lift is withheld, {why}"


def fuel_factor(state: BurnerState) -> Figure | None:
    """Lift of the gas over that of methane at the same primary aeration, from strained flames; None where unknown.

    It stands beside the rule of lift and is not multiplied into it.
    """
    if np.isnan(state.primary_aeration):
        return None
    try:
        return lift_fuel_factor(state.fuel.gas, float(state.primary_aeration))
    except UserError:
        return None


def _factor_words(state: BurnerState) -> str:
    factor = fuel_factor(state)
    if factor is None or f"{factor.value:.1f}" == "1.0":
        return ""
    ends = f"{factor.low:.1f} to {factor.high:.1f}"
    strain = f"{factor.value:.1f} ({ends}) times the strain of methane's"
    return f"; not in this margin: flames of this gas bear {strain} at this air"


def _gradients(wall: WallGradient, limit: Limit, name: str) -> str:
    value, low, high = (_rounded(end, 2) for end in (limit.value, limit.low, limit.high))
    least = "of at least " if bool(wall.is_least) else ""  # its depth is not known, or its flow separates
    gradient = f"boundary velocity gradient {least}{_rounded(wall.gradient_per_s, 3)} 1/s against {name}"
    if bool(limit.is_more_than):
        return f"{gradient} at more than {value} 1/s"
    return f"{gradient} at about {value} 1/s ({low} to {high})"


def _rounded(value: Any, digits: int) -> str:
    """A figure to so many digits, without powers of ten.

    >>> _rounded(15013.0, 2), _rounded(9.69, 2)
    ('15 000', '9.7')
    """
    figure = float(f"{float(value):.{digits}g}")
    return grouped(figure, 0) if figure >= 10 ** (digits - 1) else f"{figure:g}"


def _band(ends: Any) -> tuple[float, float]:
    return float(ends[..., 0]), float(ends[..., 1])


LIMIT_TOPICS = ("lift", "light-back", "inner cone", "yellow tipping", "quenching")


def flame_checks(
    state: BurnerState, own: Path | None, topics: Sequence[str] = LIMIT_TOPICS
) -> Iterator[BurnerFinding]:
    """The flame's limits alone, or those of them named."""
    if "lift" in topics:
        yield from _lift(state, own)
    if "light-back" in topics:
        yield from _light_back(state, own)
    if "inner cone" in topics and np.isnan(state.inner_cone_height_m):
        slow = "the mixture burns slower than any flat flame believed here"
        why = slow if bool(state.at.light_back_is_bound) else _why_no_flame(state) or BEYOND
        yield _missing("inner cone", why)
    if "yellow tipping" in topics:
        yield from _yellow(state, own)
    if "quenching" in topics:
        yield from _quenching(state, own)


def _lift(state: BurnerState, own: Path | None) -> Iterator[BurnerFinding]:
    wall, at, lift = state.at.wall, state.at, float(state.lift_margin)
    if np.isnan(lift):
        why = _why_no_flame(state) or BEYOND
        yield _missing("lift", state.air.why_not or state.fuel.no_burning or _why_no_lift(state) or why)
    else:
        text = f"{_gradients(wall, at.lift, 'lift')}; {at.lift.note}{_factor_words(state)}"
        yield from _check("lift", state, lift, text, own, rule="lift margin", evidence=at.lift.evidence,
                          band=_band(state.lift_margin_band), source=_cited(at.lift))  # fmt: skip


def _light_back(state: BurnerState, own: Path | None) -> Iterator[BurnerFinding]:
    wall, at, back = state.at.wall, state.at, float(state.light_back_margin)
    if np.isnan(back):
        yield _missing("light-back", _why_no_flame(state) or BEYOND)
    else:
        text = f"{_gradients(wall, at.light_back, 'light-back')}; {at.light_back.note}"
        if bool(at.light_back_is_bound):
            text += "; the mixture burns slower than any flat flame believed here: the limit lies below this"
        yield from _check("light-back", state, back, text, own, rule="light-back margin",
                          evidence=at.light_back.evidence,
                          band=_band(state.light_back_margin_band), source=_cited(at.light_back))  # fmt: skip


def _quenching(state: BurnerState, own: Path | None) -> Iterator[BurnerFinding]:
    """Port width against the width that stops the flame of the stoichiometric mixture, as it passes at shut-off."""
    narrowest = float(state.least_quenching_width_m)
    if np.isnan(narrowest):
        yield _missing("quenching", state.fuel.no_burning or BEYOND)
        return
    width, table = float(np.asarray(state.geometry.port_width_m)), coefficients(state.options.own)
    peclet, ratio = table["quenching Peclet"], width / narrowest
    low, high = (
        millimetre(narrowest * end / peclet.value, ".2g", has_unit=False) for end in (peclet.low, peclet.high)
    )
    text = quantity_text(
        "ports {} wide; cold ports below about {} ({} to {}) stop the flame of a stoichiometric mixture of this gas;"
        " hot ones must be narrower",
        millimetre(width, ".3g"),
        millimetre(narrowest, ".2g"),
        low,
        high,
    )
    name = "port width over quenching width"
    yield from _check("quenching", state, ratio, text, own, rule=name, evidence=peclet.evidence)


PORT_DEPTH, PORT_PITCH = "port depth over diameter", "port pitch over diameter"
THROAT = "throat over port area"
"""Checks of a ratio, each named as its limit is: a bare figure must not read as a length."""
SPACING = ((PORT_PITCH, "pitch over diameter"), ("port rows", "rows of ports"))


def port_spacing(state: BurnerState) -> tuple[float, float]:
    """The least pitch of round ports over their diameter, and the rows; nan where not known, or for slots."""
    geometry = state.geometry
    rows = np.nan if geometry.port_rows is None else float(np.asarray(geometry.port_rows))
    if geometry.slot_length_m is not None or geometry.port_pitch_m is None:
        return np.nan, rows
    between = geometry.row_pitch_m if rows > 1 and geometry.row_pitch_m is not None else np.inf
    least = min(float(np.asarray(geometry.port_pitch_m)), float(np.asarray(between)))
    return least / float(np.asarray(geometry.port_width_m)), rows


def crowded_ports(state: BurnerState, own: Path | None = None) -> tuple[str, ...]:
    """Why the ports lack secondary air by their place; empty where they do not, or where it is not known."""
    reasons = {
        SPACING[0][0]: "ports close together: their flames join",
        SPACING[1][0]: "more than two rows: the inner ones lack secondary air",
    }
    found = []
    for (name, _), value in zip(SPACING, port_spacing(state), strict=True):
        rule = rule_for(name, state.fuel.group, own)
        if rule is not None and rule.verdict(value) in (Verdict.NEAR, Verdict.OUTSIDE):
            found.append(reasons[name])
    return tuple(found)


def _spacing(state: BurnerState, own: Path | None) -> Iterator[BurnerFinding]:
    """Pitch and rows against what the trade keeps to; what is not given is not evaluated."""
    values = port_spacing(state)
    missing = (
        "of slots no least pitch is known"
        if state.geometry.slot_length_m is not None
        else "the pitch of the ports is not given: whether flames join is not evaluated",
        "the rows of the ports are not given: whether inner ones lack air is not evaluated",
    )
    for (name, words), value, why in zip(SPACING, values, missing, strict=True):
        if np.isnan(value):
            yield _missing(name, why)
        else:
            yield from _check(name, state, value, f"{value:.3g} {words}", own)


def _yellow(state: BurnerState, own: Path | None) -> Iterator[BurnerFinding]:
    tip, aeration = state.fuel.yellow_tip, float(state.primary_aeration)
    if tip.limit is None:
        yield _missing("yellow tipping", tip.why_not)
    elif np.isnan(aeration):
        yield _missing("yellow tipping", state.air.why_not)
    else:
        text = (
            f"primary aeration {100 * aeration:.1f} % against at least {100 * float(tip.limit.value):.1f} %;"
        )
        crowded = crowded_ports(state, own)
        words = "; ".join((f"{text} {tip.limit.note}", *crowded))
        for finding in _check(
            "yellow tipping", state, float(state.yellow_tip_margin), words, own,
            rule="yellow-tip margin", band=_band(state.yellow_tip_margin_band), source=_cited(tip.limit),
            evidence=tip.limit.evidence,
        ):  # fmt: skip
            is_capped = bool(crowded) and finding.verdict == Verdict.WITHIN
            yield replace(finding, verdict=Verdict.NEAR) if is_capped else finding


TUBE_ROWS = ("entrainment theory", "throat loss")
"""Rows that stand for what the mixing tube loses; one of them measured here calibrates the primary air."""


def _evidence_of_air(state: BurnerState) -> Evidence:
    if state.air.origin == "given":
        return Evidence.ENTERED
    table = coefficients(state.options.own)
    used = [table[name].evidence for name in TUBE_ROWS]
    return MEASURED if MEASURED in used else weakest(*used)


def _design_checks(state: BurnerState, own: Path | None) -> Iterator[BurnerFinding]:
    geometry, aeration = state.geometry, float(state.primary_aeration)
    if np.isnan(aeration):
        yield _missing("primary aeration", state.air.why_not)
    else:
        low, high = (100 * float(end) for end in (state.air.low, state.air.high))
        text = (
            f"{100 * aeration:.0f} % of the stoichiometric air ({low:.0f} to {high:.0f}), {state.air.origin}"
        )
        yield from _check("primary aeration", state, aeration, text, own, evidence=_evidence_of_air(state))
    loading = float(state.port_loading_W_per_mm2)
    if float(np.asarray(state.options.load)) == 1.0:
        words = quoted(1e6 * loading, Kind.HEAT_FLUX, "W/mm2", ".3g") + " gross at full rate"
        yield from _check("port loading", state, loading, words, own)
    width = 1e3 * float(np.asarray(geometry.port_width_m))
    if geometry.slot_length_m is None:
        yield from _check("port diameter", state, width, millimetre(width / 1e3, ".3g"), own)
    if geometry.port_depth_m is None:
        yield _missing(PORT_DEPTH, "the depth of the ports is not given")
    else:
        depth = 1e3 * float(np.asarray(geometry.port_depth_m)) / width
        yield from _check(PORT_DEPTH, state, depth, f"{number(depth, 3)} times the width", own)
    yield from _spacing(state, own)
    if geometry.throat_m is not None:
        ratio = float(geometry.throat_area_m2 / geometry.port_area_m2)
        text = f"throat {ratio:.2f} of the port area"
        yield from _check(THROAT, state, ratio, text, own)


def _model_checks(state: BurnerState) -> Iterator[BurnerFinding]:
    """Where the models themselves are used outside what they were compared with."""
    wall = state.at.wall
    reynolds = float(wall.reynolds)
    if bool(wall.turbulent):
        text = f"Reynolds number {reynolds:.0f} in the ports: turbulent; the limits are of laminar ports"
        yield BurnerFinding(
            topic="port flow", verdict=Verdict.OUTSIDE, text=text, value=reynolds, evidence=Evidence.ESTIMATE
        )
    if state.air.origin == "given" or state.air.why_not == NO_THROAT or np.isnan(reynolds):
        return
    tube, held = throat_reynolds(state), coefficients(state.options.own)["entrainment theory Reynolds"]
    text = f"Reynolds number {tube:.0f} in the throat; the theory was compared at {held.low:.0f} to {held.high:.0f}"
    inside = held.low <= tube <= held.high
    yield BurnerFinding(
        topic="mixing tube", verdict=Verdict.WITHIN if inside else Verdict.OUTSIDE, text=text, value=tube,
        low=held.low, high=held.high, source=tables.cite(held.source), evidence=held.evidence,
    )  # fmt: skip


def throat_reynolds(state: BurnerState) -> float:
    """Reynolds number of the primary mixture in the throat of one burner at one rate [-]."""
    place, viscosity = state.surroundings, state.at.viscosity_m2_per_s
    warm = mixture_temperatures(state.geometry, place, state.options)
    cooler = np.asarray(warm.throat_ratio) / warm.exit_ratio
    if np.any(cooler != 1.0):  # the mixture of the throat is not as warm as that in the ports
        parts, r = state.fuel.gas.composition, state.primary_aeration * state.fuel.stoichiometric_air
        throat_K = np.asarray(place.air_temperature_K) * warm.throat_ratio
        mixture = primary_mixture(parts.names, parts.fractions, r, throat_K, place.ambient_pressure_Pa)
        viscosity = mixture.kinematic_viscosity_m2_per_s
    flow = state.at.velocity_m_per_s * state.geometry.port_area_m2 * cooler
    return float(tube_reynolds(flow, state.geometry.throat_area_m2, viscosity))
