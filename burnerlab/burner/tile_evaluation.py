"""A ceramic tile evaluated on a gas: its state, its checks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from math import exp, hypot, isfinite
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from burnerlab.burner.checks import BurnerFinding
from burnerlab.burner.coefficients import array
from burnerlab.burner.ports import primary_mixture, quenching_width_m
from burnerlab.burner.tile import (
    TILE_TABLE,
    Balance,
    Before,
    Face,
    Firing,
    TileBurner,
    ceiling,
    corner_faces,
    effective_conductivity,
    efficiency_bound,
    face_balance,
    free_burning_mass_flux,
    mass_flux_kg_per_m2s,
)
from burnerlab.burner.tile_flame import (
    TileMixture,
    burned_gas,
    flame_table,
    flux_ends,
    fuel_shares,
    mixture,
    mixture_enthalpy_J_per_kg,
)
from burnerlab.gas.combustion_air import composition_of
from burnerlab.quantity import Basis, Kind, Quantity, si
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.quantity.quantity_text import QuantityText, celsius, millimetre, quantity_text, quoted
from burnerlab.tables import Figure, figure, figures
from burnerlab.tables.figure import Evidence
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.verdict import Verdict

# What the figures of a tile mean: light-back, lift, firing, and whether they are plausible at all.

LIMITS_TABLE = "tile_properties"
ZERO_C_K = 273.15  # definition of the Celsius scale
IGNITION = "ignition "


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """An expected value with the ends of its band, over the spread of every coefficient not given."""

    value: float
    low: float
    high: float

    @classmethod
    def of(cls, value: ArrayLike, ends: ArrayLike) -> Band:
        """From a value and the two ends along the last axis of an array."""
        low, high = np.asarray(ends)
        return cls(value=float(np.asarray(value)), low=float(low), high=float(high))


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
        text=_flux(facts.density_W_per_m2) + f" net is {text}",
        value=value,
        unit="kW/m2",
        low=low,
        high=high,
        source=usual.cite(),
        evidence=usual.evidence,
    )


def _aeration(facts: TileFacts, own: Path | None) -> BurnerFinding:
    value = facts.aeration
    return aeration_finding(Band(value=value, low=value, high=value), None, own)


def aeration_finding(hot: Band, cold: Band | None = None, own: Path | None = None) -> BurnerFinding:
    """The air of a hot tile over its whole band: outside as soon as its low end is below the air the gas needs.

    hot : primary aeration of the hot tile [-]; cold : of the cold one, which is only told; own : CSV of the columns of
    ``tile_properties``. Source: table ``tile_properties``, common practice.

    >>> aeration_finding(Band(value=1.04, low=0.97, high=1.11)).verdict.value
    'outside'
    """
    usual = figure(LIMITS_TABLE, "aeration", own)
    text = f"{_percent(hot)} of the stoichiometric air before the flame"
    if cold is not None:
        text = f"hot tile {text}, cold {_percent(cold)}"
    if hot.low < 1.0:
        text += (
            ": what is lacking must come from outside, which a glowing face gives badly, and carbon monoxide forms; "
            "never in a closed or half-closed place, and carbon monoxide to be measured on the hot tile at full and "
            "low rate"
        )
    elif hot.high > usual.high:
        text += ": much air cools the face and takes it towards lift"
    return BurnerFinding(
        topic="aeration",
        verdict=Verdict.OUTSIDE
        if hot.low < 1.0
        else Verdict.WITHIN
        if usual.low <= hot.low and hot.high <= usual.high
        else Verdict.NEAR,
        text=text,
        value=hot.value,
        unit="-",
        low=usual.low,
        high=usual.high,
        source=usual.cite(),
        evidence=Evidence.ESTIMATE,
    )


def _flux(value_W_per_m2: float) -> QuantityText:
    return quoted(value_W_per_m2, Kind.HEAT_FLUX, "kW/m2", ".0f")


def _temperature(ends_K: tuple[float, float, float]) -> QuantityText:
    """A temperature with its band."""
    low, value, high = ends_K
    return quantity_text("{} ({} to {})", celsius(value), celsius(low, has_unit=False), celsius(high))


def _percent(band: Band) -> str:
    """An air with its band, where it has one."""
    ends = "" if band.low == band.high else f" ({100 * band.low:.0f} to {100 * band.high:.0f} %)"
    return f"{100 * band.value:.0f} %{ends}"


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
    text = quantity_text(
        "channels of {} against {} that stop this flame in a cold tube, {} to {} allowed for a hot one",
        millimetre(width, ".2f"),
        millimetre(cold, ".2f"),
        millimetre(hot.low * cold, ".2f", has_unit=False),
        millimetre(hot.value * cold, ".2f"),
    )
    text += "; "
    text += "a crack or a leaking edge lets the flame through whatever the channels are"
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
    _, value, high = (T - ZERO_C_K for T in facts.plenum_side_K)
    limit = first[1].low
    text = quantity_text(
        "the plenum side of the tile comes to about {} against {} at which {} ignites",
        _temperature(facts.plenum_side_K),
        celsius(limit + ZERO_C_K),
        first[0],
    )
    text += "; "
    text += "it is hottest at low fire"
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
    share = facts.efficiency[1]
    text = quantity_text(
        "{}, which radiates {}, {} % of {} net",
        _temperature(facts.face_K),
        _flux(share * facts.density_W_per_m2),
        f"{100 * share:.0f}",
        _flux(facts.density_W_per_m2),
    )
    text += "; "
    text += quantity_text(
        "common practice is up to {} on a high-intensity face and more than {} on a grill tile, no firing "
        "density stated",
        celsius(top + ZERO_C_K),
        celsius(glow + ZERO_C_K),
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
    share = f"{100 * value:.0f} % of the net input ({100 * low:.0f} to {100 * high:.0f} %)"
    published = f"published faces lie from about {100 * mark.low:.0f} to {100 * mark.high:.0f} %"
    return BurnerFinding(
        topic="radiant efficiency, plausibility",
        verdict=_band_verdict(low, value, high, (mark.low, mark.high)),
        text="; ".join((share, published)),
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
        quantity_text(
            "the gas leaves {} hotter than the face", quoted(gap, Kind.TEMPERATURE_DIFFERENCE, "K", ".0f")
        )
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


def _with_evidence(finding: BurnerFinding) -> BurnerFinding:
    has_its_own = finding.verdict == Verdict.NOT_EVALUATED or finding.evidence
    return replace(finding, evidence=finding.evidence if has_its_own else Evidence.ESTIMATE, of_tile=True)


# One tile burner on one gas: face temperature, radiant efficiency, ceiling, band, and what must be looked
# at.

NOTES = (
    "No measured curve of face temperature against firing could be read: the plane flame is the lower bound, gas that "
    "leaves as hot as the face the upper one, and the value between them rests on an assumed recovery.",
    "Carbon monoxide, even heating over the face and the life of the tile are not evaluated: test required.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TileState:
    """A tile burner on a gas. Everything by area is by the plain area of the face."""

    tile: TileBurner
    firing: Firing
    before: Before
    gas: str = field(metadata=output("gas"))
    heat_input_gross_W: float = field(metadata=output("heat input", Kind.POWER, basis="gross"))
    heat_input_net_W: float = field(metadata=output("heat input", Kind.POWER, basis="net"))
    firing_density_net_W_per_m2: float = field(metadata=output("firing density", Kind.HEAT_FLUX, basis="net"))
    surface_temperature_K: Band = field(metadata=output("face", Kind.TEMPERATURE, is_band=True))
    surface_temperature_ceiling_K: float = field(metadata=output("ceiling of the face", Kind.TEMPERATURE))
    """The gas leaves as hot as the face and nothing is lost; most over the emissivity's spread."""
    radiant_efficiency_net: Band = field(
        metadata=output("radiant efficiency", Kind.FRACTION, basis="net", is_band=True)
    )
    radiant_efficiency_gross: Band = field(
        metadata=output("radiant efficiency", Kind.FRACTION, basis="gross", is_band=True)
    )
    radiant_efficiency_ceiling_net: float = field(
        metadata=output("ceiling of the radiant efficiency", Kind.FRACTION, basis="net")
    )
    """The same as of the face."""
    radiant_efficiency_ceiling_at_surface_temperature_net: float = field(
        metadata=output("ceiling at the expected temperature of the face", Kind.FRACTION, basis="net")
    )
    to_target_efficiency_net: Band | None = field(
        metadata=output("to the target", Kind.FRACTION, basis="net", is_band=True)
    )
    """Radiation the target takes, over the net heat input; None without a target."""
    radiated_W: float = field(metadata=output("radiated", Kind.POWER))
    loss_W: float = field(metadata=output("lost", Kind.POWER))
    burned_gas_temperature_K: float = field(metadata=output("burned gas", Kind.TEMPERATURE))
    """Where the face takes nothing back from it beyond the plane flame."""
    gas_leaving_temperature_K: float = field(metadata=output("gas leaves at", Kind.TEMPERATURE))
    plenum_side_temperature_K: Band = field(
        metadata=output("plenum side of the tile", Kind.TEMPERATURE, is_band=True)
    )
    apparent_emissivity: float = field(metadata=output("emissivity seen from outside"))
    mass_flux_kg_per_m2s: float = field(metadata=output("mass flux", unit="kg/m2s"))
    at_ceiling: bool = field(metadata=output("at the ceiling"))
    lift_margin: float | None = field(metadata=output("mass flux at which it lifts"))
    """Free-burning over actual mass flux; None where the table ends before."""
    findings: tuple[BurnerFinding, ...] = field(metadata=output("findings"))
    notes: tuple[str, ...] = field(metadata=output("notes"))
    evidence: Evidence = field(default=Evidence.ESTIMATE, metadata=output("evidence"))

    @property
    @computed_output("aeration")
    def aeration(self) -> float:
        """All air over stoichiometric air [-]."""
        return float(np.asarray(self.firing.aeration))

    @property
    @computed_output("area", Kind.AREA)
    def area_m2(self) -> float:
        """Plain area of the face."""
        return self.tile.area_m2

    @property
    @computed_output("firing density", Kind.HEAT_FLUX, basis="gross")
    def firing_density_gross_W_per_m2(self) -> float:
        """Heat input by area of the face."""
        return self.heat_input_gross_W / self.tile.area_m2

    @property
    @computed_output("radiated", Kind.HEAT_FLUX)
    def radiated_W_per_m2(self) -> float:
        """By area of the face."""
        return self.radiated_W / self.tile.area_m2


@dataclass(frozen=True, slots=True, kw_only=True)
class _Solved:
    """Everything the balance gives, before it is put into words."""

    mixed: TileMixture
    net_W: float
    net_to_gross: float
    density_W_per_m2: float
    flux: float
    free_flux: float | None
    burned_K: float
    face: Face
    expected: Balance
    spread: Balance  # at every corner of the coefficients' spread
    best: Balance  # the ceiling, over the spread of the emissivity


def plenum_rise_K(
    face_rise_K: float, flux_heat_W_per_m2K: float, thickness_m: float, conductivity: float
) -> float:
    """Rise of the tile's plenum side over the mixture, (Ts - T0) exp(-m cp L/k) [K].

    face_rise_K : Ts - T0 [K]; flux_heat_W_per_m2K : m cp of the mixture; thickness_m : L [m]; conductivity [W/(m K)].
    Range: tile and mixture of one temperature; the conductivity holds the radiation in the channels
    (``effective_conductivity``). Source: conduction against a flow.

    >>> plenum_rise_K(800.0, 66.0, 0.013, 0.5)
    143.8
    """
    return face_rise_K * exp(-flux_heat_W_per_m2K * thickness_m / conductivity)


def evaluate_tile(
    tile: TileBurner,
    gas: Any,
    heat_input_W: Quantity,
    basis: Basis,
    firing: Firing,
    before: Before | None = None,
    own: Path | None = None,
) -> TileState:
    """A tile burner on a gas at a rate: face temperature, radiant efficiency, ceiling and findings.

    gas : with a composition; heat_input_W : [W] on the basis gross or net; firing : aeration with the ends of its band,
    mixture temperature, pressure; before : what the face sees, free-standing when left out; own : CSV of the columns of
    ``tile_properties``. The ends of the air widen the bands of face and efficiency, in quadrature.
    Raises UserError where the flame leaves the face or the table of flames ends.

    >>> from burnerlab.gas import load
    >>> found = evaluate_tile(TileBurner(area_m2=0.015), load("propane"), 2400.0, "net", Firing(aeration=1.1))
    >>> face = found.surface_temperature_K
    >>> face.low < face.value < face.high <= found.surface_temperature_ceiling_K
    True
    """
    heat = si(heat_input_W, Kind.POWER, "heat_input_W")
    if basis not in ("gross", "net"):
        what = "is no basis of a heat input"
        raise UserError(Problem(what, str(basis), "basis", accepted="gross or net"))
    if any(np.ndim(one) for one in (firing.aeration, firing.mixture_K, firing.pressure_Pa)):
        fix = "go through the cases one by one"
        raise UserError(Problem("takes one firing, got an array", key="firing", fix=fix))
    around = before or Before()
    solved = _solve(tile, gas, (heat, basis), firing, around, own)
    airs = _at_ends_of_air(tile, gas, solved, firing, around, own)
    return _state(tile, gas, solved, airs, firing, around, own)


def _state(
    tile: TileBurner,
    gas: Any,
    solved: _Solved,
    airs: Sequence[Balance],
    firing: Firing,
    around: Before,
    own: Path | None,
) -> TileState:
    """The solved tile with its bands and findings; airs : its face at the ends of its air."""
    expected, spread, density = solved.expected, solved.spread, solved.density_W_per_m2
    face = _with_air(_band(expected.face_K, spread.face_K), [end.face_K for end in airs])
    share = _band(expected.radiated_W_per_m2 / density, spread.radiated_W_per_m2 / density)
    share = _with_air(share, [end.radiated_W_per_m2 / density for end in airs])
    plenum = _plenum_side(tile, solved, face, firing, own)
    scale = solved.net_to_gross
    return TileState(
        tile=tile,
        gas=str(getattr(gas, "name", "composition")),
        firing=firing,
        before=around,
        heat_input_net_W=solved.net_W,
        heat_input_gross_W=solved.net_W / scale,
        firing_density_net_W_per_m2=density,
        mass_flux_kg_per_m2s=solved.flux,
        burned_gas_temperature_K=solved.burned_K,
        gas_leaving_temperature_K=float(expected.gas_out_K),
        surface_temperature_K=face,
        radiant_efficiency_net=share,
        radiant_efficiency_gross=Band(
            value=share.value * scale, low=share.low * scale, high=share.high * scale
        ),
        to_target_efficiency_net=_with_air(
            _band(expected.to_target_W_per_m2 / density, spread.to_target_W_per_m2 / density),
            [end.to_target_W_per_m2 / density for end in airs],
        )
        if np.any(around.view_factor)
        else None,
        radiated_W=float(expected.radiated_W_per_m2) * tile.area_m2,
        loss_W=float(expected.loss_W_per_m2) * tile.area_m2,
        apparent_emissivity=float(np.asarray(solved.face.emissivity)),
        surface_temperature_ceiling_K=float(np.max(solved.best.face_K)),
        radiant_efficiency_ceiling_net=float(np.max(solved.best.radiated_W_per_m2)) / density,
        radiant_efficiency_ceiling_at_surface_temperature_net=float(
            efficiency_bound(gas, solved.mixed, face.value, firing.mixture_K)
        ),
        at_ceiling=bool(expected.at_ceiling),
        lift_margin=None if solved.free_flux is None else solved.free_flux / solved.flux,
        plenum_side_temperature_K=plenum,
        findings=findings(_facts(tile, gas, solved, firing, (face, plenum, share)), own),
        notes=_notes(gas, own),
    )


def _solve(
    tile: TileBurner,
    gas: Any,
    rate: tuple[float, Basis],
    firing: Firing,
    around: Before,
    own: Path | None,
) -> _Solved:
    mixed = mixture(gas, firing.aeration)
    net_to_gross = gas.heating_value_J_per_kg("net") / gas.heating_value_J_per_kg("gross")
    net = rate[0] * (1.0 if rate[1] == "net" else net_to_gross)
    flux = float(mass_flux_kg_per_m2s(gas, mixed, net / tile.area_m2))
    free = float(free_burning_mass_flux(gas, mixed, firing, own))
    burned = _burned_K(gas, mixed, firing, flux, own)
    expected_face, corners = corner_faces(tile, own)
    spread = face_balance(mixed, flux, burned, corners, around, firing.mixture_K)
    expected = spread.at(-1)
    if bool(expected.lifted) or not np.isfinite(expected.face_K):
        most = f"below {_density(gas, mixed, free):.4g} kW/m2 net" if isfinite(free) else ""
        what = "the mixture comes faster than it burns at this aeration: the flame leaves the face"
        given = f"{net / tile.area_m2 / 1e3:.4g} kW/m2 net"
        fix = "take a larger face, less heat input or an aeration nearer to 1"
        raise UserError(Problem(what, value=given, key="firing density", accepted=most, fix=fix))
    return _Solved(
        mixed=mixed,
        net_W=net,
        net_to_gross=net_to_gross,
        density_W_per_m2=net / tile.area_m2,
        flux=flux,
        free_flux=free if isfinite(free) else None,
        burned_K=burned,
        face=expected_face,
        expected=expected,
        spread=spread,
        best=ceiling(mixed, flux, corners.emissivity, around, mixture_K=firing.mixture_K),
    )


def _density(gas: Any, mixed: TileMixture, flux: float) -> float:
    """Firing density of a mass flux, net [kW/m2]."""
    return float(flux * mixed.gas_mass_share * gas.heating_value_J_per_kg("net") / 1e3)


def _burned_K(gas: Any, mixed: TileMixture, firing: Firing, flux: float, own: Path | None) -> float:
    """Burned-gas temperature, or what the table of flames accepts instead."""
    found = burned_gas(gas, firing.aeration, flux, firing.pressure_Pa, own)
    if bool(found.inside):
        return float(found.temperature_K)
    ratios = flame_table().equivalence_ratios
    low, high = float(1.0 / ratios[-1]), float(1.0 / ratios[0])
    aeration = float(np.asarray(firing.aeration))
    if not low * (1 - 1e-9) <= aeration <= high * (1 + 1e-9):
        accepted = f"{100 * low:.1f} to {100 * high:.1f} %"  # as fine as shows which side of an end it is on
        what = "outside the table of tile flames"
        raise UserError(Problem(what, value=f"{100 * aeration:.1f} %", key="aeration", accepted=accepted))
    ends = [_density(gas, mixed, float(end)) for end in flux_ends(firing.pressure_Pa, own)]
    raise UserError(
        Problem(
            "outside the table of tile flames",
            value=f"{_density(gas, mixed, flux):.4g} kW/m2 net",
            key="firing density",
            accepted=f"{ends[0]:.3g} to {ends[1]:.3g} kW/m2 net at this aeration",
            fix="check the area of the glowing face and the heat input",
        )
    )


def _band(expected: Any, spread: Any) -> Band:
    """Over the corners that hold a flame; a corner whose flame leaves the face has no temperature."""
    ends = np.append(spread, expected)
    return Band(value=float(expected), low=float(np.nanmin(ends)), high=float(np.nanmax(ends)))


def _at_ends_of_air(
    tile: TileBurner, gas: Any, solved: _Solved, firing: Firing, around: Before, own: Path | None
) -> list[Balance]:
    """The face at the ends of the band of its air; beyond the table of flames at its leanest or richest.

    An end at which the flame leaves the face, or whose mass flux the table does not reach, has no temperature.
    """
    ends = [end for end in (firing.aeration_low, firing.aeration_high) if end is not None]
    if not ends:
        return []
    ratios = flame_table().equivalence_ratios
    aeration = np.clip(np.array(ends, dtype=float), 1.0 / ratios[-1], 1.0 / ratios[0])
    mixed = mixture(gas, aeration)
    flux = mass_flux_kg_per_m2s(gas, mixed, solved.density_W_per_m2)
    burned = burned_gas(gas, aeration, flux, firing.pressure_Pa, own)
    found = face_balance(mixed, flux, burned.temperature_K, solved.face, around, firing.mixture_K)
    return [found.at(k) for k in range(len(ends)) if bool(burned.inside[k]) and not bool(found.lifted[k])]


def _with_air(band: Band, at_ends: Sequence[Any]) -> Band:
    """A band with the change that the ends of the air make, in quadrature on either side."""
    changes = [0.0, *(float(end) - band.value for end in at_ends if np.isfinite(end))]
    return Band(
        value=band.value,
        low=band.value - hypot(band.value - band.low, min(changes)),
        high=band.value + hypot(band.high - band.value, max(changes)),
    )


def _plenum_side(tile: TileBurner, solved: _Solved, face: Band, firing: Firing, own: Path | None) -> Band:
    T0 = float(np.asarray(firing.mixture_K))
    gained = mixture_enthalpy_J_per_kg(solved.mixed, face.value) - mixture_enthalpy_J_per_kg(solved.mixed, T0)
    flux_heat = solved.flux * float(gained) / (face.value - T0)
    L, k = tile.figure("channel thickness", own), tile.figure("conductivity", own)

    def side(face_K: float, thickness_mm: float, conductivity: float) -> float:
        along = float(
            effective_conductivity(
                conductivity, tile.open_share or 0.0, tile.channel_diameter_m or 0.0, face_K
            )
        )
        return T0 + plenum_rise_K(face_K - T0, flux_heat, thickness_mm / 1e3, along)

    return Band(
        value=side(face.value, L.value, k.value),
        low=side(face.low, L.high, k.low),
        high=side(face.high, L.low, k.high),
    )


def _facts(
    tile: TileBurner, gas: Any, solved: _Solved, firing: Firing, bands: tuple[Band, Band, Band]
) -> TileFacts:
    face, plenum, share = bands
    density = primary_mixture(
        *composition_of(gas),
        solved.mixed.air_mol_per_mol,
        array(firing.mixture_K),
        array(firing.pressure_Pa),
    )
    speed = None if solved.free_flux is None else solved.free_flux / float(density.density_kg_per_m3)
    return TileFacts(
        gas=gas,
        aeration=float(np.asarray(firing.aeration)),
        density_W_per_m2=solved.density_W_per_m2,
        face_K=(face.low, face.value, face.high),
        plenum_side_K=(plenum.low, plenum.value, plenum.high),
        efficiency=(share.low, share.value, share.high),
        gas_above_face_K=float(solved.expected.gas_out_K - solved.expected.face_K),
        lift_margin=None if solved.free_flux is None else solved.free_flux / solved.flux,
        burning_velocity_m_per_s=speed,
        diffusivity_m2_per_s=float(density.thermal_diffusivity_m2_per_s),
        channel_diameter_m=tile.channel_diameter_m,
    )


def _notes(gas: Any, own: Path | None) -> tuple[str, ...]:
    if fuel_shares(gas, own).exact:
        return NOTES
    error = figure(TILE_TABLE, "blend error", own)
    return (
        *NOTES,
        f"This gas is not in the table of flames: its burned gas is a blend of methane's, propane's and hydrogen's, "
        f"{error.low:+g} to {error.high:+g} K against direct solutions.",
    )
